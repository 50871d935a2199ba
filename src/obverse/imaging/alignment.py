"""Whether two pictures of one view lie on each other, and by how much they do not."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from obverse.imaging.finding import dark_noise
from obverse.imaging.geometry import UNIT_SQUARE, homography, project
from obverse.imaging.picture import Picture

_WINDOW = 64  # pixels, at least
_LEAST_SHARED = 200  # pixels of the copies whose light both pictures show
_PEAKS, _PEAK_PIXELS = 6, 5  # shifts that are tried, and how far apart they lie at least
_ROUNDS, _DAMPING, _MOST_CHANGE, _SETTLED = 12, 0.01, 3, 0.01  # of Gauss and Newton; of the trace; pixels
_NEVER_CLIPPED, _DARK_NOISES, _ABOVE_FLOOR = 0.9, 4.0, 3  # of the scale; standard deviations of the dark; floors
_FLAT = 0.05  # logarithm of light: windows with less in them cannot agree
_FULL = 0.3  # the same: what shows so much where the other picture is flat is no part of its view
_WITHIN = 4  # of a window: a part of a strip moves by no more than a quarter against the whole
# Places of a strip at which windows lie: along both edges, and along its middle.
_SURELY = 0.995  # correlation at which no other shift is looked for
_FARTHEST = 0.2  # of the picture; no shift beyond it is looked for
_SPOTS = np.array(
    [(u, v) for v in (0.0, 1.0) for u in (0.0, 0.25, 0.5, 0.75, 1.0)] + [(u, 0.5) for u in np.linspace(0.05, 0.95, 10)]
)


@dataclass(frozen=True)
class Shift:
    """How the second picture lies against the first.

    Parameters
    ----------
    x, y : float
        What is at (a, b) in the first is at (a + x, b + y) in the second, pixels.
    likeness : float
        Correlation of the two once shifted, 1 for the same view; NaN where there is nothing to go by.
    """

    x: float
    y: float
    likeness: float


def find_shift(
    pictures: tuple[Picture, Picture], copies: tuple[tuple[np.ndarray, int], tuple[np.ndarray, int]], quad: np.ndarray
) -> Shift:
    """Compare two exposures of one view around a strip.

    Parameters
    ----------
    pictures, copies
        Two pictures and what `Picture.reduced` makes of them.
    quad : ndarray, shape (4, 2)
        Corners of the strip in the first, pixels.

    Notes
    -----
    Both are cut to the range of light that both show; then they are pictures of the same thing,
    and an edge lies in both at the same level whatever the exposure.
    """
    (first, step), (second, _) = copies
    common = _common_range(pictures, first, second)
    if common is None:
        return Shift(0.0, 0.0, np.nan)
    ratio, low, high = common
    view = _View(pictures, project(homography(UNIT_SQUARE, quad), _SPOTS), max(_WINDOW, 10 * step), common)
    # From a stand nothing moves, and no coarser look is needed.
    shift, parts = view.settled(np.zeros(2), 1.0)
    if parts and (alike := _likeness(parts, shift)) > _SURELY:
        return Shift(float(shift[0]), float(shift[1]), alike)
    best, likeness = np.zeros(2), -np.inf
    # Perforations and steps repeat: a shift by one of them agrees nearly as well as the true one.
    # They are looked for only where the pictures do not lie on each other as they are.
    for start in _starts(first, second / ratio, step, (low, high)):
        shift, parts = view.settled(start, max(1.0, step / 2))
        if parts and (alike := _likeness(parts, shift - np.rint(start))) > likeness:
            best, likeness = shift, alike
        if likeness > _SURELY:
            break
    start = np.rint(best)
    shift, parts = view.settled(best, 1.0)
    if not parts:
        return Shift(float(best[0]), float(best[1]), np.nan)
    return Shift(float(shift[0]), float(shift[1]), _likeness(parts, shift - start))


# The same window of both pictures, and the slope of the first along x and y.
Window = tuple[np.ndarray, np.ndarray, np.ndarray]


@dataclass(frozen=True, eq=False)
class _View:
    """Two pictures, the middles of the windows (n, 2) in the first, their size, and the light that both show."""

    pictures: tuple[Picture, Picture]
    centres: np.ndarray
    size: int
    common: tuple[float, float, float]

    def settled(self, start: np.ndarray, blur: float) -> tuple[np.ndarray, list[Window]]:
        """The shift found from a start, and the windows that it was found in (those that lie in both pictures)."""
        whole = np.rint(start)
        pairs = [_window_pair(self.pictures, centre, whole, self.size, self.common, blur) for centre in self.centres]
        parts = [pair for pair in pairs if pair is not None]
        return (
            whole + np.clip(_settle(parts, start - whole), -self.size / _WITHIN, self.size / _WITHIN)
            if parts
            else start
        ), parts


def _common_range(
    pictures: tuple[Picture, Picture], first: np.ndarray, second: np.ndarray
) -> tuple[float, float, float] | None:
    """Ratio of the exposures, and the range of light in units of the first that both show."""
    tops, floors = [], []
    for picture, light in zip(pictures, (first, second), strict=True):
        tops.append(_NEVER_CLIPPED * picture.clip_light)
        floors.append(max(_DARK_NOISES * dark_noise(light), float(picture.step(np.zeros(1))[0]), 1e-4))
    both = (
        (first < tops[0])
        & (second < tops[1])
        & (first > _ABOVE_FLOOR * floors[0])
        & (second > _ABOVE_FLOOR * floors[1])
    )
    if both.sum() < _LEAST_SHARED:
        return None
    ratio = float(np.median(second[both] / first[both]))
    high, low = min(tops[0], tops[1] / ratio), max(floors[0], floors[1] / ratio)
    return (ratio, low, high) if high > 2 * low else None


def _cut(light: np.ndarray, low: float, high: float) -> np.ndarray:
    result: np.ndarray = np.log(np.clip(light, low, high))
    return result


def _starts(first: np.ndarray, second: np.ndarray, step: int, ends: tuple[float, float]) -> Iterator[np.ndarray]:
    """Shifts (x, y) that are tried, in pixels of the picture: none, and those by which the copies agree well."""
    yield np.zeros(2)
    for coarse in _coarse(_cut(first, *ends), _cut(second, *ends)):
        yield step * coarse


def _coarse(first: np.ndarray, second: np.ndarray) -> list[np.ndarray]:
    """Whole pixels (x, y) of the copies by which they agree well, best first."""
    h, w = first.shape
    taper = np.hanning(h)[:, None] * np.hanning(w)[None, :]
    a, b = ((v - v.mean()) * taper for v in (first, second))
    agreement = np.fft.irfft2(np.conj(np.fft.rfft2(a)) * np.fft.rfft2(b), s=(h, w))
    y, x = np.fft.fftfreq(h, 1 / h), np.fft.fftfreq(w, 1 / w)
    agreement[(np.abs(y) > _FARTHEST * h)[:, None] | (np.abs(x) > _FARTHEST * w)[None, :]] = -np.inf
    peaks = np.flatnonzero(agreement == ndimage.maximum_filter(agreement, _PEAK_PIXELS, mode="wrap"))
    peaks = peaks[np.argsort(-agreement.ravel()[peaks])][:_PEAKS]
    return [np.array([x[k % w], y[k // w]]) for k in peaks if np.isfinite(agreement.flat[k])]


def _window_pair(
    pictures: tuple[Picture, Picture],
    centre: np.ndarray,
    whole: np.ndarray,
    size: int,
    common: tuple[float, float, float],
    blur: float,
) -> Window | None:
    """The same window of both pictures, cut and smoothed, and the slope of the first; None where it leaves one of them."""
    ratio, low, high = common
    windows = []
    for picture, middle, scale in zip(pictures, (centre, centre + whole), (1.0, ratio), strict=True):
        x, y = (round(v - size / 2) for v in middle)
        if x < 0 or y < 0 or x + size > picture.width or y + size > picture.height:
            return None
        channel = picture.main_channel
        light = picture.linear_channel(picture.codes[y : y + size, x : x + size, channel], channel)
        windows.append(ndimage.gaussian_filter(_cut(light / scale, low, high), blur))
    down, across = np.gradient(windows[0])
    return windows[0], windows[1], np.stack([across, down])


def _moved(window: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """What lies at (x, y) + shift, between four pixels; beyond the rim, the rim. A tenth of the time of a general spline."""
    for axis, by in enumerate(shift[::-1]):
        last = window.shape[axis] - 1
        at = np.clip(np.arange(last + 1) + by, 0, last)
        before = np.minimum(at.astype(int), max(last - 1, 0))
        part = (at - before).reshape((-1, 1) if axis == 0 else (1, -1))
        first, second = (window.take(np.minimum(before + n, last), axis=axis) for n in (0, 1))
        window = first + part * (second - first)
    return window


def _settle(parts: Sequence[Window], start: np.ndarray) -> np.ndarray:
    """The shift (x, y) that makes the windows agree best, by Gauss and Newton; as it was where they show too little."""
    shift = np.array(start, dtype=float)
    for _ in range(_ROUNDS):
        normal, right = np.zeros((2, 2)), np.zeros(2)
        for a, b, slope in parts:
            moved = _moved(b, shift)
            inner = np.s_[4:-4, 4:-4]
            g = slope[:, *inner].reshape(2, -1)
            normal += g @ g.T
            right += g @ (moved - a)[inner].ravel()
        if np.trace(normal) < 1e-3 * len(parts):
            break
        # Along a straight edge nothing tells; a little damping keeps the shift there as it was.
        change = np.linalg.solve(normal + _DAMPING * np.trace(normal) * np.eye(2), right)
        shift = shift - np.clip(change, -_MOST_CHANGE, _MOST_CHANGE)
        if np.abs(change).max() < _SETTLED:
            break
    return shift


def _likeness(parts: Sequence[Window], shift: np.ndarray) -> float:
    """Correlation of all windows together."""
    a = np.concatenate([p[0][4:-4, 4:-4].ravel() for p in parts])
    b = np.concatenate([_moved(p[1], shift)[4:-4, 4:-4].ravel() for p in parts])
    a -= a.mean()
    b -= b.mean()
    first, second = (math.sqrt(float(v @ v) / v.size) for v in (a, b))
    if min(first, second) < _FLAT:
        # Both are cut to the light that both show: a strip in the one and nothing in the other is another view.
        return 0.0 if max(first, second) > _FULL else float("nan")
    return float(a @ b) / (a.size * first * second)
