"""Write simulated pictures as files, marked as what they are."""

from __future__ import annotations

import io
import struct
import zlib

import imagecodecs
import numpy as np
import tifffile

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
    extra = [(0x829A, 5, 1, _rational(exposure_s), True)] if exposure_s else []
    tifffile.imwrite(out, codes, photometric="rgb", description=SIMULATED, metadata=None, extratags=extra)
    return out.getvalue()


def save_jpeg(codes: np.ndarray, *, quality: int = 92, exposure_s: float | None = None, orientation: int = 1) -> bytes:
    """An 8-bit JPEG with its exposure time in EXIF; codes uint8 (H, W, 3).

    Parameters
    ----------
    codes : array
        uint8, shape (H, W, 3).
    quality : int, optional
        1 to 100.
    exposure_s : float, optional
        Exposure time that is written beside the picture, s.
    orientation : int, optional
        EXIF orientation, 1 to 8.

    Returns
    -------
    bytes
        The file.
    """
    data = bytes(imagecodecs.jpeg8_encode(codes, level=quality))
    segments = _segment(0xE1, b"Exif\0\0" + _exif(exposure_s, orientation)) + _segment(0xFE, SIMULATED.encode())
    return data[:2] + segments + data[2:]


def save_png(codes: np.ndarray) -> bytes:
    """An 8-bit PNG; codes uint8 (H, W, 3).

    Parameters
    ----------
    codes : array
        uint8, shape (H, W, 3).

    Returns
    -------
    bytes
        The file.
    """
    data = bytes(imagecodecs.png_encode(codes))
    end = 8 + 25  # behind the header chunk
    body = b"tEXt" + b"Comment\0" + SIMULATED.encode()
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return data[:end] + chunk + data[end:]


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
    body = b"eXIf" + _exif(exposure_s, 1)
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return data[:33] + chunk + data[33:]


def _segment(marker: int, body: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body


def _rational(seconds: float) -> tuple[int, int]:
    return (1, round(1 / seconds)) if seconds < 0.3 else (round(seconds * 10), 10)


def _exif(exposure_s: float | None, orientation: int) -> bytes:
    """A smallest EXIF block: orientation, and the exposure time in the EXIF directory."""
    head = b"II*\0" + struct.pack("<I", 8)
    if exposure_s is None:
        return head + struct.pack("<HHHII", 1, 0x0112, 3, 1, orientation) + struct.pack("<I", 0)
    first = (
        struct.pack("<H", 2)
        + struct.pack("<HHII", 0x0112, 3, 1, orientation)
        + struct.pack("<HHII", 0x8769, 4, 1, 38)
        + struct.pack("<I", 0)
    )
    second = struct.pack("<H", 1) + struct.pack("<HHII", 0x829A, 5, 1, 56) + struct.pack("<I", 0)
    return head + first + second + struct.pack("<II", *_rational(exposure_s))
