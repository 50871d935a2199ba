"""A picture as numbers: codes, what they mean, and how it was exposed."""

from __future__ import annotations

import math
import mmap
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from obverse.foundation import Caution, InputError
from obverse.imaging.encoding import srgb_table

# Sensor noise and colour interpolation round off the top of the scale: codes within this
# fraction of saturation are not trusted.
_TRUSTED_FRACTION = 0.985
_LAST_OF_16_BITS = 65535.0  # code
_RGB = 3  # channels
_ROWS_OF_A_STEP = 3  # rows and columns that are averaged for one pixel of a copy, spread over it
# Of a large picture every row that is read has to be fetched: one in the middle is, and more of its columns, which then cost nothing.
_LARGE_STEP, _COLUMNS_OF_ONE_ROW = 8, 5
_COARSE = 255  # codes; finer scales are cut where their light is, coarser ones below their last code
# Of those strewn over a large picture that are read before its pages are given back; what is given back has to be fetched again.
_PIXELS_AT_ONCE = 200_000
_ROWS_AT_ONCE = 8  # rows of a large picture that stay in the processor's cache while they are read
_KEPT = 64  # rows of a copy that are made before the pages of the picture are given back

# Shutters and diaphragms move by thirds or by halves of a stop, which go by round names, in seconds or parts of one: 1/60 is 1/64,
# 1/45 is 1/45.3, and 1/20 is 1/20.2 on a dial of thirds, 1/22.6 on one of halves (common practice, no source).
THIRDS, HALVES = 3, 2  # steps of a dial to the stop
_WHOLE = (15, 30, 60, 125, 250, 500, 1000, 2000, 4000, 8000)
_OF_THIRDS = (1.3, 1.6, 2.5, 3, 3.2, 5, 6, 10, 13, 20, 25, 40, 50, 80, 100, 160, 200, 320, 400, 640, 800)
_NAMES = {
    THIRDS: (*_WHOLE, *_OF_THIRDS, 1250, 1600, 2500, 3200, 5000, 6400),
    HALVES: (*_WHOLE, 1.5, 3, 6, 10, 11, 20, 22, 45, 90, 180, 350, 750, 1500, 3000, 6000),
}
_AS_NAMED = 0.004  # relative; what a quotient of whole numbers may be off

RAW = "image/x-raw"  # media type of what a sensor wrote

Encoding = Literal["linear", "srgb", "profile", "response"]


@dataclass(frozen=True, eq=False)
class Picture:
    """Codes as the camera wrote them; linear light is computed only where it is asked for.

    A picture of 24 million pixels stays one array of codes (which may be mapped from the file), so
    that reading a strip costs neither the memory nor the time of a full conversion.

    Parameters
    ----------
    codes : ndarray, shape (H, W, C), C = 1 or 3
        uint8, uint16 or float32.
    encoding : {"linear", "srgb", "profile", "response"}
        "srgb": made for the eye, by a curve that is only thought to be the standard one; "profile": by the curve that
        the file states; "response": by a curve that was measured.
    saturation : float
        Code at which the picture clips.
    black : tuple of float, length C
        Code of no light, for linear pictures.
    table : ndarray, optional
        Linear light of each code where it is not proportional to it; 1 at saturation.
    exposure_s, f_number, iso : float, optional
        As the picture states them.
    told_exposure : float, optional
        Relative exposure as the person said, where the picture states none.
    code_sd : float
        Standard uncertainty of the mean code of an even area beyond rounding: lossy compression.
    scanned : bool
        The file says that a scanner made it.
    simulated : bool
        True where the file says that it was computed by this program.
    metadata : mapping
        What else the file says, plain JSON values.
    """

    codes: np.ndarray
    encoding: Encoding = "linear"
    saturation: float = _LAST_OF_16_BITS
    black: tuple[float, ...] = (0.0,)
    table: np.ndarray | None = None
    exposure_s: float | None = None
    f_number: float | None = None
    iso: float | None = None
    told_exposure: float | None = None
    code_sd: float = 0.0
    name: str = "picture"
    media_type: str = ""
    sha256: str = ""
    scanned: bool = False
    simulated: bool = False
    metadata: Mapping[str, Any] = field(default_factory=dict)
    cautions: tuple[Caution, ...] = ()

    def __post_init__(self) -> None:
        if self.codes.ndim != 3 or self.codes.shape[2] not in (1, 3):
            raise InputError(
                f"the array has the shape {self.codes.shape}",
                where=self.name,
                remedy="give rows, columns and 1 or 3 channels",
            )
        if self.encoding == "srgb" and self.table is None:
            object.__setattr__(self, "table", srgb_table(int(self.saturation) + 1))
        if len(self.black) not in (1, self.channels):
            raise InputError("one black level per channel is needed", where=self.name)

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.codes.shape[0])

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.codes.shape[1])

    @property
    def channels(self) -> int:
        """1 (grey) or 3 (red, green, blue)."""
        return int(self.codes.shape[2])

    @property
    def main_channel(self) -> int:
        """The channel that density is read in: green, or the only one."""
        return 1 if self.channels == _RGB else 0

    @property
    def clip_code(self) -> float:
        """The lowest code that is not trusted at the bright end."""
        if self.encoding == "linear":
            black = max(self.black)
            return black + _TRUSTED_FRACTION * (self.saturation - black)
        if self.table is not None and self.saturation > _COARSE:
            return min(float(np.searchsorted(self.table, _TRUSTED_FRACTION)), self.saturation - 1)
        if self.table is not None:
            return float(np.searchsorted(self.table, 1.0)) - 1.0
        return self.saturation - 1.0

    def linear(self, codes: np.ndarray) -> np.ndarray:
        """Linear light of some of this picture's codes, as a fraction of saturation.

        Parameters
        ----------
        codes : ndarray, shape (..., C)

        Returns
        -------
        ndarray of float32, shape (..., C)
            May be slightly negative near black in a linear picture.
        """
        if self.table is not None:
            if np.issubdtype(codes.dtype, np.integer):
                return np.asarray(self.table.astype(np.float32)[codes])
            return np.asarray(np.interp(codes, np.arange(self.table.size), self.table), dtype=np.float32)
        black = np.asarray(self.black, dtype=np.float32)
        return np.asarray((codes.astype(np.float32) - black) / (np.float32(self.saturation) - black))

    def step(self, linear: np.ndarray) -> np.ndarray:
        """Width of one code in linear light, at that light (any shape)."""
        if self.table is None:
            if not np.issubdtype(self.codes.dtype, np.integer):
                return np.zeros_like(linear)
            return np.full_like(linear, 1.0 / (self.saturation - max(self.black)))
        return np.asarray(np.interp(linear, self.table, np.gradient(self.table)))

    def exposure(self, dial: int = THIRDS) -> float | None:
        """Relative exposure: time x sensitivity / f-number squared, as far as the picture says; without a time, what was told.

        Parameters
        ----------
        dial : int
            Steps to the stop, where a round time has two meanings.
        """
        if not self.exposure_s:
            return self.told_exposure
        return _time_meant(self.exposure_s, dial) * (self.iso or 100.0) / 100.0 / _area_meant(self.f_number or 1.0)

    def reduced(self, longest: int) -> tuple[np.ndarray, int]:
        """A small linear copy of the main channel.

        Parameters
        ----------
        longest : int
            Wished length of the longer side, pixels.

        Returns
        -------
        light : ndarray of float32, shape (H // step, W // step)
        step : int
            Pixels of the picture per pixel of the copy.
        """
        step = max(1, int(np.ceil(max(self.height, self.width) / longest)))
        rows, columns = self.height // step, self.width // step
        channel = self.main_channel
        # Averaging all step x step pixels would touch the whole file; a few of them are enough.
        downs, acrosses = (
            ([step // 2], _spread(step, _COLUMNS_OF_ONE_ROW))
            if step >= _LARGE_STEP
            else (_spread(step, _ROWS_OF_A_STEP),) * 2
        )
        # Linear codes are added up as they are and made light once.
        whole = self.table is None and self.codes.dtype.kind == "u"
        total = np.zeros((rows, columns), dtype=np.uint32 if whole else np.float32)
        for first in range(0, rows, _ROWS_AT_ONCE):
            some = min(_ROWS_AT_ONCE, rows - first)
            for row in downs:
                start = first * step + row
                line = self.codes[start : start + (some - 1) * step + 1 : step]
                for column in acrosses:
                    part = line[:, column : column + (columns - 1) * step + 1 : step, channel]
                    total[first : first + some] += part if whole else self.linear_channel(part, channel)
            if first % _KEPT == 0:
                self._let_go()
        self._let_go()
        mean = total / np.float32(len(downs) * len(acrosses))
        return (self.linear_channel(mean, channel) if whole else mean), step

    def _let_go(self) -> None:
        """Give back the pages of a mapped file; what is asked for again comes from the system's own memory of it."""
        held: object = self.codes
        while isinstance(held, np.ndarray):
            held = held.base
        if isinstance(held, mmap.mmap) and hasattr(mmap, "MADV_DONTNEED"):
            held.madvise(mmap.MADV_DONTNEED)

    def codes_at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Codes at pixels of any shape that lie in the picture, shape (C, ...); of a mapped file no more is held than a part of it."""
        if not self.codes.flags.c_contiguous:
            return np.ascontiguousarray(np.moveaxis(self.codes[y, x], -1, 0))
        across, down = x.ravel(), y.ravel()
        found = np.empty((x.size, self.channels), dtype=self.codes.dtype)
        # All channels of a pixel at once: to get there takes longest.
        pixels = self.codes.reshape(-1, self.channels)
        for first in range(0, x.size, _PIXELS_AT_ONCE):
            some = slice(first, first + _PIXELS_AT_ONCE)
            pixels.take(down[some] * self.width + across[some], axis=0, out=found[some], mode="clip")
            self._let_go()
        return np.ascontiguousarray(found.T).reshape(self.channels, *x.shape)

    def _picked(self, x: np.ndarray, y: np.ndarray, channel: int) -> np.ndarray:
        """Codes of one channel at pixels that lie in the picture."""
        if not self.codes.flags.c_contiguous:
            return np.asarray(self.codes[y, x, channel])
        # By one number for each, in half the time.
        return np.asarray(self.codes.reshape(-1).take((y * self.width + x) * self.channels + channel))

    def light_at(self, x: np.ndarray, y: np.ndarray, channel: int | None = None) -> np.ndarray:
        """Linear light of a channel, the main one where none is named, at pixels of any shape; beside the picture, that of its rim."""
        channel = self.main_channel if channel is None else channel
        return self.linear_channel(
            self._picked(x.clip(0, self.width - 1), y.clip(0, self.height - 1), channel), channel
        )

    @property
    def clip_light(self) -> float:
        """Linear light of the main channel from which on codes are not trusted."""
        return float(self.linear_channel(np.array([self.clip_code]).astype(self.codes.dtype), self.main_channel)[0])

    def linear_channel(self, codes: np.ndarray, channel: int) -> np.ndarray:
        """The same for codes of one channel (any shape)."""
        if self.table is not None:
            return self.linear(codes)
        black = np.float32(self.black[channel if len(self.black) > 1 else 0])
        return np.asarray((codes.astype(np.float32) - black) / (np.float32(self.saturation) - black))


def _spread(step: int, most: int) -> list[int]:
    """A few of so many rows or columns, from the first to the last."""
    return [int(one) for one in np.unique(np.linspace(0, step - 1, min(step, most)).astype(int))]


def _time_meant(exposure_s: float, dial: int) -> float:
    """The time that a shutter was made for, of one that goes by a round name."""
    name = max(exposure_s, 1 / exposure_s)
    for steps in (dial, *_NAMES):
        if any(abs(name / named - 1) < _AS_NAMED for named in _NAMES[steps]):
            return float(2.0 ** (round(steps * math.log2(exposure_s)) / steps))
    return exposure_s


def _area_meant(f_number: float) -> float:
    """Square of the f-number that a diaphragm was made for: f/5.6 is the root of 32."""
    steps = THIRDS * HALVES
    return float(2.0 ** (round(steps * math.log2(f_number**2)) / steps))
