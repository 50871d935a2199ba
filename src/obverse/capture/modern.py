"""HEIC and AVIF: what telephones write; decoded by libheif and libavif."""

from __future__ import annotations

import io
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from obverse.foundation import InputError

# ISO/IEC 14496-12 and 23008-12: bytes of the length that stands before the four letters of a box, and of the letters; the least
# bytes of a box of sizes, depths, colours, a turn and a mirror; bits of a turn and of a mirror; bytes of an EXIF block at the most.
_LENGTH_BYTES, _LETTERS = 4, 4
_SIZE_BOX, _DEPTH_BOX, _COLOUR_BOX, _TURN_BOX = 20, 14, 12, 9
_TURN_BITS, _MIRROR_BITS = 3, 1
# The EXIF number of a turn anticlockwise by quarters, without a mirror and behind one (0: top and bottom, 1: sides).
_ORIENTATIONS = {None: (1, 8, 3, 6), 1: (2, 7, 4, 5), 0: (4, 5, 2, 7)}
# Bits that the decoder shifts up to.
_SHIFTED_TO = 16
_HEAD = 1 << 20  # bytes at the front in which the boxes that are looked for lie


@dataclass(frozen=True, eq=False)
class Decoded:
    """Codes with what the container says of them.

    Parameters
    ----------
    codes : ndarray of uint8 or uint16, shape (H, W) or (H, W, C)
    saturation : float
        The highest code.
    exif, profile : bytes
        Empty where there is none.
    transfer : int or None
        Transfer characteristics of ITU-T H.273.
    orientation : int or None
        What is still to be turned, by the number of EXIF; None: as EXIF says.
    """

    codes: NDArray[Any]
    saturation: float
    exif: bytes
    profile: bytes
    transfer: int | None
    orientation: int | None


def size_of(data: bytes, name: str) -> tuple[int, int]:
    """Width and height of the largest picture in the file, before it is decoded.

    Raises
    ------
    InputError
        If no size is stated.
    """
    sizes = [struct.unpack_from(">II", data, place + 8) for place in _boxes(data, b"ispe", _SIZE_BOX)]
    if not sizes:
        raise InputError("the file ends before the picture does", where=name, remedy="copy it from the camera again")
    return max(sizes, key=lambda size: size[0] * size[1])


def decode_heic(data: bytes) -> Decoded:
    """A HEIC picture at its own depth, already turned as its container says."""
    import pillow_heif  # loads a large library; only these files need it

    held = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=False, bgr_mode=False)
    image = held[held.primary_index]
    codes = np.asarray(image)
    # The library types what it states as one union of all that it may state.
    stated: Mapping[str, Any] = image.info
    nclx = stated.get("nclx_profile")
    return Decoded(
        codes,
        255.0 if codes.dtype == np.uint8 else _top(codes, int(stated.get("bit_depth", 8))),
        _bare_exif(stated.get("exif") or b""),
        bytes(stated.get("icc_profile") or b""),
        nclx.get("transfer_characteristics") if isinstance(nclx, dict) else None,
        1,  # the decoder has turned it
    )


def decode_avif(data: bytes) -> Decoded:
    """An AVIF picture at its own depth; the container's turns are left to the caller."""
    codes = imagecodecs.avif_decode(data)
    if codes.ndim == 4:
        codes = codes[0]
    depth = 8
    for place in _boxes(data, b"pixi", _DEPTH_BOX):
        depth = max(depth, data[place + 9])
    exif = b""
    for order in (b"II*\0", b"MM\0*"):
        place = data.find(b"Exif\0\0" + order)
        exif = exif or (data[place + 6 : place + 6 + 65536] if place >= 0 else b"")
    transfer, profile = None, b""
    for place in _boxes(data, b"colr", _COLOUR_BOX):
        if data[place + 4 : place + 8] == b"nclx":
            (transfer,) = struct.unpack_from(">H", data, place + 10)
        elif data[place + 4 : place + 8] in (b"prof", b"rICC"):
            (length,) = struct.unpack_from(">I", data, place - _LENGTH_BYTES)
            profile = data[place + 8 : place - 4 + length]
    top = 255.0 if codes.dtype == np.uint8 else float(2**depth - 1)
    return Decoded(codes, top, exif, profile, transfer, _turned_by_boxes(data))


def _top(codes: NDArray[Any], depth: int) -> float:
    """The decoder hands 10 and 12 bits over shifted up to 16."""
    return float((2**depth - 1) << (_SHIFTED_TO - depth)) if depth > 8 else float(np.iinfo(codes.dtype).max)


def _boxes(data: bytes, kind: bytes, least: int) -> list[int]:
    """Where boxes of a kind begin (at the four letters), those large enough to be one."""
    found, place = [], data.find(kind, _LENGTH_BYTES, _HEAD)
    while place >= 0:
        (length,) = struct.unpack_from(">I", data, place - _LENGTH_BYTES)
        if least <= length <= _HEAD and place + length - _LENGTH_BYTES <= len(data):
            found.append(place)
        place = data.find(kind, place + _LETTERS, _HEAD)
    return found


def _turned_by_boxes(data: bytes) -> int | None:
    """The EXIF number for the turn and the mirror that the container asks for; None where it asks for none."""
    turns = [data[place + _LETTERS] & _TURN_BITS for place in _boxes(data, b"irot", _TURN_BOX)]
    mirrors = [data[place + _LETTERS] & _MIRROR_BITS for place in _boxes(data, b"imir", _TURN_BOX)]
    if not turns and not mirrors:
        return None
    # ISO/IEC 23008-12: irot turns anticlockwise by quarter turns, then imir mirrors (0: top and bottom, 1: sides).
    turn, mirror = turns[0] if turns else 0, mirrors[0] if mirrors else None
    return _ORIENTATIONS[mirror][turn]


def _bare_exif(exif: bytes) -> bytes:
    return exif[6:] if exif.startswith(b"Exif\0\0") else exif
