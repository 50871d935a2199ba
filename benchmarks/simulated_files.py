"""Simulated pictures as the files that a camera or a scanner might write, marked as what they are."""

from __future__ import annotations

import struct
import zlib

import imagecodecs
import numpy as np
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from obverse.capture.saving import SIMULATED

EXIF_SEGMENT, COMMENT_SEGMENT = 0xE1, 0xFE


def save_jpeg(codes: np.ndarray, *, quality: int = 92, exposure_s: float | None = None, orientation: int = 1) -> bytes:
    """An 8-bit JPEG of codes (H, W, 3), its orientation and, where it is given, its exposure time in EXIF."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    if exposure_s is not None:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.ExposureTime] = (
            IFDRational(1, round(1 / exposure_s)) if exposure_s < 0.3 else IFDRational(round(exposure_s * 10), 10)
        )
    data = bytes(imagecodecs.jpeg8_encode(codes, level=quality))
    return data[:2] + _segment(EXIF_SEGMENT, exif.tobytes()) + _segment(COMMENT_SEGMENT, SIMULATED.encode()) + data[2:]


def save_png(codes: np.ndarray) -> bytes:
    """An 8-bit PNG of codes (H, W, 3)."""
    data = bytes(imagecodecs.png_encode(codes))
    end = 8 + 25  # behind the sign and the header chunk
    body = b"tEXt" + b"Comment\0" + SIMULATED.encode()
    return data[:end] + struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body)) + data[end:]


def _segment(marker: int, body: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body
