"""Exposure and orientation as a picture states them: the TIFF directories of EXIF, read by hand.

Only numbers that bear on density or on which way is up are taken; makers' names are left alone.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

# Tags of Exif 2.3 (CIPA DC-008-2012, 4.6).
EXIF_DIRECTORY = 0x8769
_TAGS = {
    0x0112: "orientation",
    0x0132: "changed_at",
    0x829A: "exposure_s",
    0x829D: "f_number",
    0x8827: "iso",
    0x9003: "taken_at",
    0x9201: "shutter_apex",
    0xA001: "colour_space",
    0xA401: "rendered",
}
# Types by the same, and the bytes that one value of each takes.
_BYTE, _ASCII, SHORT, LONG, RATIONAL, _UNDEFINED, _SLONG, _SRATIONAL = 1, 2, 3, 4, 5, 7, 9, 10
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 9: 4, 10: 8}
_LETTERS = {_BYTE: "B", SHORT: "H", LONG: "I", _SLONG: "i"}
# An entry: its bytes, those of its value where that lies within it; and where the first directory is told.
_ENTRY_BYTES, _VALUE_BYTES, _FIRST_DIRECTORY = 12, 4, 4
# Orientations are one to eight.
_ORIENTATIONS = range(1, 9)
# More entries, and more bytes of one of them, than any camera writes of what is looked for; and a shutter of a billionth of a second.
_MOST_ENTRIES, _MOST_VALUE_BYTES, _MOST_APEX = 512, 4096, 30


@dataclass(frozen=True)
class Exposure:
    """What EXIF says; None where it says nothing usable."""

    exposure_s: float | None = None
    f_number: float | None = None
    iso: float | None = None
    orientation: int = 1
    taken_at: str = ""
    colour_space: int | None = None
    rendered: int = 0
    """What the device did to the picture beyond the usual, by the number of EXIF; 0 for nothing."""


def read_exif(data: bytes | memoryview) -> Exposure:
    """Exposure from a TIFF structure (an EXIF block without its name, or the head of a TIFF file).

    Damaged entries are passed over: EXIF is a hint, never a reason to refuse a picture.
    """
    try:
        order = {b"II": "<", b"MM": ">"}[bytes(data[:2])]
        found = _directory(data, order, struct.unpack_from(order + "I", data, _FIRST_DIRECTORY)[0])
        if EXIF_DIRECTORY in found:
            found = found | _directory(data, order, int(found[EXIF_DIRECTORY] or 0))
    except (KeyError, struct.error, ValueError, OverflowError):
        return Exposure()
    named = {_TAGS[tag]: value for tag, value in found.items() if tag in _TAGS}
    time = _positive(named.get("exposure_s"))
    apex = named.get("shutter_apex")
    if time is None and isinstance(apex, float) and abs(apex) < _MOST_APEX:
        time = 2.0**-apex
    orientation, space = named.get("orientation", 1), named.get("colour_space")
    rendered = named.get("rendered")
    return Exposure(
        exposure_s=time,
        f_number=_positive(named.get("f_number")),
        iso=_positive(named.get("iso")),
        orientation=int(orientation) if isinstance(orientation, int) and orientation in _ORIENTATIONS else 1,
        taken_at=str(named.get("taken_at") or named.get("changed_at") or ""),
        colour_space=int(space) if isinstance(space, (int, float)) else None,
        rendered=int(rendered) if isinstance(rendered, int) else 0,
    )


def _positive(value: object) -> float | None:
    return float(value) if isinstance(value, (int, float)) and 0 < value < 1e6 else None


def _directory(data: bytes | memoryview, order: str, offset: int) -> dict[int, str | float | None]:
    (count,) = struct.unpack_from(order + "H", data, offset)
    found: dict[int, str | float | None] = {}
    for entry in range(min(count, _MOST_ENTRIES)):
        place = offset + 2 + _ENTRY_BYTES * entry
        tag, kind, number = struct.unpack_from(order + "HHI", data, place)
        if (tag != EXIF_DIRECTORY and tag not in _TAGS) or kind not in _SIZES:
            continue
        size = _SIZES[kind] * number
        where = place + 8 if size <= _VALUE_BYTES else struct.unpack_from(order + "I", data, place + 8)[0]
        if number == 0 or size > _MOST_VALUE_BYTES or where + size > len(data):
            continue
        found[tag] = _value(data, order, kind, number, where)
    return found


def _value(data: bytes | memoryview, order: str, kind: int, number: int, where: int) -> str | float | None:
    if kind in (_ASCII, _UNDEFINED):
        return bytes(data[where : where + number]).split(b"\0")[0].decode("ascii", "replace")
    if kind in (RATIONAL, _SRATIONAL):
        upper, lower = struct.unpack_from(order + ("II" if kind == RATIONAL else "ii"), data, where)
        return float(upper / lower) if lower else None
    number_there: int = struct.unpack_from(order + _LETTERS[kind], data, where)[0]
    return number_there
