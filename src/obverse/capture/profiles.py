"""The tone curve that a file states: an ICC profile's, a gamma, or one of the standard transfer laws."""

from __future__ import annotations

import struct
import zlib

import numpy as np

from obverse.foundation import Array
from obverse.imaging import srgb_table

_MOST_TAGS = 200  # more than any profile has
# ICC.1:2022: where the table of tags begins, bytes of its count and of an entry, where the numbers of a curve begin; the largest of 16 bits, and
# one of a number with 16 bits behind the point.
_TAG_TABLE, _COUNT_BYTES, _TAG_BYTES, _NUMBERS_AT, _LAST_OF_16_BITS, _ONE = 128, 4, 12, 12, 65535, 65536
# ITU-R BT.709-6, item 1.2: where the line ends, its slope, and the power with its offset.
_LINE_END, _LINE_SLOPE, _POWER_OFFSET, _POWER = 0.081, 4.5, 0.099, 0.45
_MOST_PARAMETERS = 7
_VERSION = 0x02400000  # 2.4, in the numbers of a profile's head
_MOST_PROFILE = 4_000_000  # bytes of an unpacked profile
# ICC.1:2022, 10.18: parametricCurveType, how many parameters each function has.
_PARAMETERS = (1, 3, 4, 5, 7)
# ITU-T H.273, table 3: transfer characteristics that a picture for the eye may name.
_BT_709, _GAMMA_22, _GAMMA_28, _LINEAR, _SRGB = (1, 6, 14, 15), 4, 5, 8, 13
_POWER_22, _POWER_28 = 2.2, 2.8  # of the two laws of that name
_HIGH_RANGE = (16, 18)

Table = Array


def icc_table(profile: bytes, codes: int) -> Table | None:
    """Linear light of each of `codes` codes by an ICC profile's own curve; None where it holds none.

    Parameters
    ----------
    profile : bytes
        Of a matrix or a grey kind; the green curve of a colour profile is taken, in which density is read.
    codes : int
        How many codes, from black to full.

    Returns
    -------
    ndarray, shape (codes,)
        Rising from 0 to 1.

    Notes
    -----
    ICC.1:2022, clauses 7.3 (tag table), 10.6 (curveType) and 10.18 (parametricCurveType).
    """
    try:
        (count,) = struct.unpack_from(">I", profile, _TAG_TABLE)
        tags = {}
        for k in range(min(count, _MOST_TAGS)):
            name, offset, size = struct.unpack_from(">4sII", profile, _TAG_TABLE + _COUNT_BYTES + _TAG_BYTES * k)
            tags[name] = profile[offset : offset + size]
        body = next((tags[name] for name in (b"gTRC", b"kTRC", b"rTRC") if name in tags), None)
        table = None if body is None else _curve(body, np.linspace(0.0, 1.0, codes))
    except (struct.error, IndexError, ValueError):
        return None
    if table is None or not np.all(np.isfinite(table)) or table[-1] <= table[0] or np.any(np.diff(table) < 0):
        return None
    return np.asarray(np.clip(table / table[-1], 0.0, 1.0))


def _curve(body: bytes, signal: Table) -> Table | None:
    kind = body[:4]
    if kind == b"curv":
        (count,) = struct.unpack_from(">I", body, 8)
        if count == 0:
            return signal
        if count == 1:
            return np.asarray(signal ** (struct.unpack_from(">H", body, _NUMBERS_AT)[0] / 256))
        points = np.frombuffer(body, ">u2", count, _NUMBERS_AT) / _LAST_OF_16_BITS
        return np.interp(signal, np.linspace(0, 1, count), points)
    if kind == b"para":
        (function,) = struct.unpack_from(">H", body, 8)
        values = [v / _ONE for v in struct.unpack_from(f">{_PARAMETERS[function]}i", body, _NUMBERS_AT)]
        return _parametric(function, values, signal)
    return None


def _parametric(function: int, values: list[float], x: Table) -> Table:
    g, a, b, c, d, e, f = (values + [0.0] * _MOST_PARAMETERS)[:_MOST_PARAMETERS]
    if function == 0:
        return x**g
    line = np.maximum(a * x + b, 0.0) ** g
    if function == 1:
        return np.where(x >= -b / a, line, 0.0)
    if function == 2:
        return np.where(x >= -b / a, line + c, c)
    return np.where(x >= d, line + e, c * x + f)


def gamma_table(exponent: float, codes: int) -> Table:
    """Linear light of each code where light = signal ** exponent."""
    return np.asarray(np.linspace(0.0, 1.0, codes) ** exponent)


def transfer_table(law: int, codes: int) -> Table | None:
    """Linear light of each code by a transfer law of ITU-T H.273; None for one that is not known here."""
    signal = np.linspace(0.0, 1.0, codes)
    if law in _BT_709:
        # ITU-R BT.709-6, item 1.2, inverted.
        return np.where(
            signal < _LINE_END, signal / _LINE_SLOPE, ((signal + _POWER_OFFSET) / (1 + _POWER_OFFSET)) ** (1 / _POWER)
        )
    if law == _GAMMA_22:
        return gamma_table(_POWER_22, codes)
    if law == _GAMMA_28:
        return gamma_table(_POWER_28, codes)
    if law == _LINEAR:
        return signal
    return np.asarray(srgb_table(codes)) if law == _SRGB else None


def is_high_range(law: int | None) -> bool:
    """Whether a transfer law is one of high dynamic range, whose light depends on the screen."""
    return law in _HIGH_RANGE


def unpacked_profile(chunk: bytes) -> bytes:
    """The profile in a PNG's iCCP chunk; empty where it is damaged or larger than any profile is."""
    _, _, packed = chunk.partition(b"\0")
    try:
        return zlib.decompressobj().decompress(packed[1:], _MOST_PROFILE)
    except zlib.error:
        return b""


def icc_of_jpeg(parts: list[bytes]) -> bytes:
    """One profile from the APP2 segments of a JPEG (ICC.1:2022, annex B.4), in their numbered order."""
    own = sorted((p[12], p[14:]) for p in parts if p.startswith(b"ICC_PROFILE\0") and len(p) > 14)
    return b"".join(body for _, body in own)


def bare_profile(table: Table, *, scanned: bool) -> bytes:
    """A profile that says a tone curve and nothing else: no name, maker, date or device of whoever made the one it stands for.

    Parameters
    ----------
    table : ndarray, shape (n,)
        Linear light of each code, 0 to 1.
    scanned : bool
        Whether the device was a scanner.

    Notes
    -----
    ICC.1:2022, clauses 7.2 (header), 7.3 (tag table) and 10.6 (curveType), of the grey kind.
    """
    points = np.rint(np.clip(table, 0.0, 1.0) * _LAST_OF_16_BITS).astype(">u2").tobytes()
    curve = struct.pack(">4sxxxxI", b"curv", table.size) + points
    begins = _TAG_TABLE + _COUNT_BYTES + _TAG_BYTES
    device = b"scnr" if scanned else b"mntr"
    head = struct.pack(">I4xI4s4s4s12x4s", begins + len(curve), _VERSION, device, b"GRAY", b"XYZ ", b"acsp")
    tags = struct.pack(">I4sII", 1, b"kTRC", begins, len(curve))
    return head.ljust(_TAG_TABLE, b"\0") + tags + curve
