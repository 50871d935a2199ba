"""A folder that a person can hand over when a strip was not read well: pictures and reading without what is personal."""

from __future__ import annotations

import io
import json
import re
import struct
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import tifffile

from obverse.capture.headers import APP1, CHUNK_BYTES, COLOURS, COMMENT, SCAN, kind_of
from obverse.capture.loading import load_picture
from obverse.capture.profiles import bare_profile
from obverse.capture.saving import bare_exif, png_chunk
from obverse.foundation import InputError
from obverse.imaging import Picture

# Bytes at the front that tell what a file is.
_HEAD = 4096
# Marks of a JPEG (ITU-T T.81, table B.1): of a mark, the last of descriptions, and that of the transform, without which colours
# are wrong.
_MARK, _LAST_APP, _TRANSFORM_APP, _END = 0xFF, 0xEF, 0xEE, 0xD9
# Within a scan a byte of all ones is followed by none, or begins a restart.
_NEXT_MARK = re.compile(rb"\xff[^\x00\xd0-\xd7]")
_MARK_BYTES, _RGB, _FULL = 4, 3, 65535
# The first of descriptions tells the grain of the picture, and may hold a small one that was made before it was cut.
_GRAIN_APP, _GRAIN_BYTES = 0xE0, 18
_PROFILE_NAME = b"ICC_PROFILE\0"  # of a JPEG's segment (ICC.1:2022, annex B.4)
_PNG_KEPT = (b"IHDR", b"PLTE", b"IDAT", b"IEND", b"gAMA", b"sRGB", b"cHRM", b"sBIT", b"pHYs")
# What is left out, in words.
_PROFILE = "all that the colour profile says but its tone curve"
_JPEG_LEFT = {
    0xE0: "a thumbnail",
    0xE1: "EXIF or XMP (place, time, maker, serial number, thumbnail)",
    0xED: "captions",
    0xFE: "comments",
}
_UNREAD = "all of it: what cannot be read cannot be cleared of what is personal"


@dataclass(frozen=True)
class Report:
    """What was packed.

    Parameters
    ----------
    folder : str
        Its name.
    files : tuple of str
        In it.
    left_out : tuple of str
        What was in the pictures and is not in the report.
    """

    folder: str
    files: tuple[str, ...]
    left_out: tuple[str, ...]


def without_personal(data: bytes, name: str) -> tuple[bytes, str, tuple[str, ...]]:
    """A picture's bytes without place, time, names and serial numbers.

    Returns
    -------
    data, ending : bytes, str
        JPEG and PNG keep their very pixels as they were compressed; every other kind becomes a plain TIFF of its codes.
    left_out : tuple of str

    Raises
    ------
    InputError
        If it is no picture.
    """
    return _cleared(data, name, load_picture(data, name=name))


def _cleared(data: bytes, name: str, picture: Picture) -> tuple[bytes, str, tuple[str, ...]]:
    kind = kind_of(data[:_HEAD], name)
    if kind == "jpeg":
        bare, left = _bare_jpeg(data, picture)
        return bare, "jpg", left
    if kind == "png":
        bare, left = _bare_png(data, picture)
        return bare, "png", left
    curve = " and its tone curve" if picture.table is not None else ""
    return (
        _plain_tiff(picture),
        "tif",
        (f"all that the {kind.upper() if kind != 'unknown' else 'RAW'} file says but its codes{curve}",),
    )


def _said_of(picture: Picture) -> bytes:
    """Of what EXIF says, the exposure time and which way is up; empty where it says neither."""
    orientation = int(str(picture.metadata.get("orientation", 1)))
    return bare_exif(picture.exposure_s, orientation) if picture.exposure_s or orientation != 1 else b""


def _bare_jpeg(data: bytes, picture: Picture) -> tuple[bytes, tuple[str, ...]]:
    kept, left, place = [data[:2]], [], 2
    profiled = False
    if said := _said_of(picture):
        body = b"Exif\0\0" + said
        kept.append(struct.pack(">BBH", _MARK, APP1, len(body) + 2) + body)
    while place + 1 < len(data) and data[place] == _MARK:
        marker = data[place + 1]
        if marker == _MARK:
            place += 1
            continue
        if marker == _END:
            # What stands behind the end of the picture (a second picture, a film clip) stays behind.
            kept.append(data[place : place + 2])
            break
        (length,) = struct.unpack_from(">H", data, place + 2)
        part = data[place : place + 2 + length]
        if marker == COLOURS and part[_MARK_BYTES:].startswith(_PROFILE_NAME):
            left.append(_PROFILE)
            if not profiled and picture.table is not None:
                body = _PROFILE_NAME + bytes([1, 1]) + bare_profile(picture.table, scanned=picture.scanned)
                kept.append(struct.pack(">BBH", _MARK, COLOURS, len(body) + 2) + body)
            profiled = True
        elif marker == _GRAIN_APP:
            plain = part[_MARK_BYTES:].startswith(b"JFIF\0") and len(part) >= _GRAIN_BYTES
            if plain:
                # Without the small picture that may follow.
                kept.append(
                    struct.pack(">BBH", _MARK, marker, _GRAIN_BYTES - 2)
                    + part[_MARK_BYTES : _GRAIN_BYTES - 2]
                    + b"\0\0"
                )
            if not plain or len(part) > _GRAIN_BYTES:
                left.append(_JPEG_LEFT[marker])
        elif (APP1 <= marker <= _LAST_APP and marker != _TRANSFORM_APP) or marker == COMMENT:
            left.append(_JPEG_LEFT.get(marker, "a maker's own notes"))
        else:
            kept.append(part)
        place += 2 + length
        if marker == SCAN:
            after = _NEXT_MARK.search(data, place)
            end = after.start() if after else len(data)
            kept.append(data[place:end])
            place = end
    return b"".join(kept), tuple(dict.fromkeys(left))


def _bare_png(data: bytes, picture: Picture) -> tuple[bytes, tuple[str, ...]]:
    kept, left, place = [data[:8]], [], 8
    while place + CHUNK_BYTES <= len(data):
        length, kind = struct.unpack_from(">I4s", data, place)
        end = place + CHUNK_BYTES + length
        if kind in _PNG_KEPT:
            kept.append(data[place:end])
        elif kind == b"iCCP":
            left.append(_PROFILE)
            if picture.table is not None:
                curve = zlib.compress(bare_profile(picture.table, scanned=picture.scanned))
                kept.append(png_chunk(kind, b"curve\0\0" + curve))
        else:
            left.append(f"the part {kind.decode('ascii', 'replace')}")
            if kind == b"eXIf" and (said := _said_of(picture)):
                kept.append(png_chunk(kind, said))
        place = end
        if kind == b"IEND":
            break
    return b"".join(kept), tuple(dict.fromkeys(left))


def _plain_tiff(picture: Picture) -> bytes:
    out = io.BytesIO()
    codes = np.ascontiguousarray(picture.codes)
    if picture.table is not None and codes.dtype == np.uint16 and picture.saturation < _FULL:
        # Ten bits by a curve are spread over sixteen, so that the file is read as what it is; none of them falls on another.
        codes = np.rint(codes * (_FULL / picture.saturation)).astype(np.uint16)
    kind = "rgb" if picture.channels == _RGB else "minisblack"
    tifffile.imwrite(
        out,
        codes if picture.channels == _RGB else codes[..., 0],
        photometric=kind,
        metadata=None,
        compression="zlib",
        software="",
        iccprofile=bare_profile(picture.table, scanned=picture.scanned) if picture.table is not None else None,
    )
    return out.getvalue()


def write_report(folder: Path, pictures: Sequence[Path], said: Mapping[str, Any]) -> Report:
    """Pack pictures and what was made of them into a new folder.

    Parameters
    ----------
    folder : Path
        Must not exist, or be empty.
    said : mapping
        The reading or the refusal, as JSON.

    Raises
    ------
    InputError
        If the folder holds something already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError("the folder for the report is not empty", where=folder.name, remedy="name a new one")
    packed = report_files([(path.read_bytes(), path.name) for path in pictures], said)
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in packed.files.items():
        (folder / name).write_bytes(data)
    return Report(folder.name, tuple(packed.files), packed.left_out)


@dataclass(frozen=True)
class Packed:
    """Files of a report, still in memory."""

    files: dict[str, bytes]
    left_out: tuple[str, ...]


def report_files(pictures: Sequence[tuple[bytes, str]], said: Mapping[str, Any]) -> Packed:
    """The files of a report: pictures by number, and one document; file names are left out, people put names in them."""
    files: dict[str, bytes] = {}
    left: list[str] = []
    facts: list[dict[str, Any]] = []
    names: dict[str, str] = {}
    for number, (data, name) in enumerate(pictures, start=1):
        try:
            picture = load_picture(data, name=name)
        except InputError as error:
            new = names[name] = f"picture-{number}"
            left.append(f"{new}: {_UNREAD}")
            facts.append({"name": new, "bytes": len(data), "refused": error.what})
            continue
        bare, ending, without = _cleared(data, name, picture)
        new = f"picture-{number}.{ending}"
        names[name] = new
        files[new] = bare
        left += [f"{new}: {words}" for words in without]
        facts.append(
            {
                "name": new,
                "exposure_s": picture.exposure_s,
                "f_number": picture.f_number,
                "iso": picture.iso,
                "encoding": picture.encoding,
                "black": list(picture.black),
                "saturation": picture.saturation,
                "scanned": picture.scanned,
                "orientation": picture.metadata.get("orientation", 1),
                "bytes_crc32": zlib.crc32(data),
            }
        )
    if pictures:
        left.append("the names of the picture files and the time when they were taken")
    document = _renamed(dict(said) | {"format": "obverse-report", "version": 1, "pictures": facts}, names)
    files["report.json"] = json.dumps(document, indent=2).encode()
    return Packed(files, tuple(left))


def _renamed(value: Any, names: Mapping[str, str]) -> Any:
    """The same document without the person's file names, times and digests."""
    if isinstance(value, dict):
        return {k: _renamed(v, names) for k, v in value.items() if k not in ("taken_at", "sha256")}
    if isinstance(value, list):
        return [_renamed(v, names) for v in value]
    if isinstance(value, str):
        for name, new in names.items():
            value = value.replace(name, new)
    return value
