"""Write simulated pictures as files, marked as what they are."""

from __future__ import annotations

import io
import struct
import zlib

import imagecodecs
import numpy as np
import tifffile

from obverse.capture.exif import EXIF_DIRECTORY, LONG, RATIONAL, SHORT

# Exif (CIPA DC-008-2012): tags of an orientation and an exposure.
_ORIENTATION, _EXPOSURE = 0x0112, 0x829A
# Where the second directory and the number behind it lie: after a head of 8 bytes and two entries, and one entry further on.
_SECOND_AT, _NUMBER_AT = 38, 56
# Bytes of a PNG before what is put in: its sign and its head chunk.
_SIGN_BYTES, _HEAD_BYTES = 8, 25
# Seconds below which a time is told as one over a whole number.
_FRACTION_S = 0.3
SIMULATED = "obverse: simulated picture, not a photograph"


def save_tiff(codes: np.ndarray, *, exposure_s: float | None = None) -> bytes:
    """A 16-bit linear TIFF, uncompressed; codes uint16 (H, W, 3).

    Parameters
    ----------
    codes : array
        uint16, shape (H, W, 3).
    exposure_s : float, optional
        Exposure time that is written beside the picture, s.

    Returns
    -------
    bytes
        The file.
    """
    out = io.BytesIO()
    extra = [(_EXPOSURE, RATIONAL, 1, _rational(exposure_s), True)] if exposure_s else []
    tifffile.imwrite(out, codes, photometric="rgb", description=SIMULATED, metadata=None, extratags=extra)
    return out.getvalue()


def save_deep_png(codes: np.ndarray, *, exposure_s: float | None = None) -> bytes:
    """A 16-bit PNG of codes as a camera gave them, with its exposure time.

    Parameters
    ----------
    codes : (H, W, 3) array of uint16
    exposure_s : float, optional
        Left out where it is not known.

    Returns
    -------
    bytes
        The file.
    """
    data = bytes(imagecodecs.png_encode(codes, level=1))
    if not exposure_s:
        return data
    chunk = png_chunk(b"eXIf", bare_exif(exposure_s))
    return data[: _SIGN_BYTES + _HEAD_BYTES] + chunk + data[_SIGN_BYTES + _HEAD_BYTES :]


def _rational(seconds: float) -> tuple[int, int]:
    return (1, round(1 / seconds)) if seconds < _FRACTION_S else (round(seconds * 10), 10)


def png_chunk(name: bytes, body: bytes) -> bytes:
    """A part of a PNG, with its length and its sum."""
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def bare_exif(exposure_s: float | None, orientation: int = 1) -> bytes:
    """A smallest EXIF block: which way is up, and the exposure time in the EXIF directory (nothing over nothing where it is not known)."""
    head = b"II*\0" + struct.pack("<I", 8)
    first = (
        struct.pack("<H", 2)
        + struct.pack("<HHII", _ORIENTATION, SHORT, 1, orientation)
        + struct.pack("<HHII", EXIF_DIRECTORY, LONG, 1, _SECOND_AT)
        + struct.pack("<I", 0)
    )
    second = struct.pack("<H", 1) + struct.pack("<HHII", _EXPOSURE, RATIONAL, 1, _NUMBER_AT) + struct.pack("<I", 0)
    return head + first + second + struct.pack("<II", *(_rational(exposure_s) if exposure_s else (0, 0)))
