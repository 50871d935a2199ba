"""The tone curve of a camera from a bracket of the strip itself.

Where a place shows in two exposures its light is the same but for the ratio of the exposures; enough of such places, from
dark to bright, leave only one smooth rising curve (P. E. Debevec and J. Malik, 1997; the fit here is of its own kind: it
starts from the standard curve and finds how far the camera's own departs from it).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from obverse.foundation import Array
from obverse.imaging.picture import HALVES, THIRDS, Picture
from obverse.imaging.shot_noise import power_of_noise
from obverse.imaging.stops import CONTRAST, CONTRAST_SPREAD, likely_stops

_KNOTS = 25  # of the departure from the standard curve
_PLACES = 420  # of a picture that are compared, of all brightnesses
_RATIO_STATED = 0.3  # natural logarithm by which stated times must differ to say something
_NEIGHBOURS = 3  # squares each way within which a square counts as an edge
_CODE_SD, _CODES_SD = 0.006, 0.6  # logarithm, and codes: compression, clutter and what no curve explains
_FEWEST_SHARED, _USUAL_STEP, _LEAST_STEP = (
    5,
    4.0,
    0.05,
)  # places of two pictures; times the light, and logarithm, from one to the next
_ROBUST = 1.5  # standard deviations from which a place counts less
_LOOSE, _LOOSE_KNOTS = 4.0, 2.0  # how much more a curve may bend in the black, and how many knots that reaches
_LEVELS = 30  # of brightness, from each of which places are taken
_GRID = 300  # squares along the longer side, of which the even ones are taken
_LEAST_SIDE = 2  # pixels of a square
_ENOUGH = 0.3  # of the levels, in which squares must be found, or smaller ones are looked at
_EVERY, _RIM_PERCENT = (
    3,
    0.2,
)  # pixels, of which some tell the darkest and the brightest code, and how many may lie beyond
_COARSE = 255  # codes
_HALO = 3.0  # of 255, by which the brightest pixels may lie above white
_ALIKE_CODES, _ABOVE_BLACK = (
    1.5,
    3.0,
)  # of 255: within which two pictures end alike; above the darkest, where noise says little
_LOW, _HIGH = 0.015, 0.985  # of the scale; codes outside say nothing
_SMOOTH = 0.05  # bend of the departure from one knot to the next (natural logarithm)
_FAR = 0.8  # how far the curve may depart from the standard one
_FAR_KNOWN = 4.0  # the same where the exposures are known: a tighter one would rather bend them than the curve
_EVEN = 0.03  # of the scale, from pixel to pixel
_STATED = 0.02  # of a stated exposure ratio, natural logarithm
_GUESSED = 0.05  # of one that is not stated
_ALIKE_DIGITS = 6  # of the scatter of steps, by which two dials are compared
_LEAST_PAIRS = 60
_ALIKE = 0.25  # relative scatter of the steps of a bracket that was taken in equal steps
# Stated exposures are not believed where a step of the bracket seems, by the standard curve, this many spreads of a camera's contrast
# away from them: a lamp, a diaphragm or a sensitivity that changed unsaid.
_UNFIT = 3.0


@dataclass(frozen=True, eq=False)
class Response:
    """A tone curve found from a bracket.

    Parameters
    ----------
    table : ndarray, shape (codes,)
        Linear light of each code, 1 at saturation.
    doubt : ndarray, shape (codes,)
        Standard uncertainty of the logarithm (to the base of 10) of that light against the curve's mean over what was seen of it.
    exposures : tuple of float
        Of each picture, relative to the longest, as the curve was found with them.
    timed : bool
        The ratios of the exposures were known; otherwise they were taken as equal stops, or as the standard curve has them.
    stops : float or None
        Where the ratios were taken as equal stops: how many lie between neighbours.
    possible : (float, float)
        The fewest and the most stops that may lie there, of an interval of 90 %, where they were only guessed.
    ratio_sd : float
        Standard uncertainty of the exposures over their range, which is that of the contrast; 0 where they were only guessed.
    unfit : bool
        The pictures state exposures that what they show speaks against; they were not used.
    """

    table: Array
    doubt: Array
    exposures: tuple[float, ...]
    timed: bool
    stops: float | None = None
    possible: tuple[float, float] = (0.0, 0.0)
    ratio_sd: float = 0.0
    unfit: bool = False


def response_of_bracket(pictures: Sequence[Picture]) -> Response | None:
    """The tone curve that the pictures of one view share; None where they show too little of it.

    Parameters
    ----------
    pictures : sequence of Picture
        At least two at different exposures, of one kind, with a table.
    """
    first = pictures[0]
    if len(pictures) < 2 or first.table is None or any(p.codes.shape != first.codes.shape for p in pictures):
        return None
    ends = _ends(pictures)
    codes = _even_places(pictures, ends)
    scale = first.saturation
    usable = (codes > ends.low) & (codes < ends.high)
    good = usable.sum(0) >= 2
    codes, usable = codes[:, good], usable[:, good]
    if codes.shape[1] < _LEAST_PAIRS:
        return None
    standard = np.log(np.maximum(first.table, 1e-7))
    fit = _Fit(codes, usable, standard, scale, ends.white)
    rough = fit.rough_times()
    times = _stated_times(pictures)
    unfit = times is not None and any(p.exposure_s for p in pictures) and not _fits(times, rough)
    if unfit:
        times = _known_times([p.told_exposure for p in pictures])
    found = _by_guess(fit, rough, pictures) if times is None else _by_times(fit, times)
    return replace(found, unfit=unfit)


def _by_times(fit: _Fit, times: Array) -> Response:
    return Response(
        *fit.solve(times, _STATED, far=_FAR_KNOWN), True, ratio_sd=_STATED * np.sqrt(2) / float(np.ptp(times))
    )


def _by_guess(fit: _Fit, rough: Array, pictures: Sequence[Picture]) -> Response:
    """By equal stops, or as the standard curve has them: left free, the curve and the exposures would shrink together."""
    steps = np.diff(np.sort(rough)) / np.log(2)
    if steps.std() >= _ALIKE * steps.mean():
        return Response(*fit.solve(rough, _GUESSED), False)
    apparent = float(steps.mean())
    ranks = np.argsort(np.argsort(rough))

    def by(stops: float) -> tuple[Array, Array, tuple[float, ...]]:
        return fit.solve((ranks - ranks.max()) * stops * np.log(2), _STATED)

    first, fewest, most = likely_stops(apparent)
    found, stops = by(first), first
    power = power_of_noise(pictures, found[0])
    if power is not None:
        stops, fewest, most = likely_stops(apparent, power, first)
        found = found if stops == first else by(stops)
    return Response(*found, False, stops, (fewest, most))


def _stated_times(pictures: Sequence[Picture]) -> Array | None:
    """What the pictures state, by the dial that makes a bracket of the more even steps."""
    found = [_known_times([p.exposure(dial) for p in pictures]) for dial in (THIRDS, HALVES)]
    known = [times for times in found if times is not None]
    return min(known, key=lambda times: round(float(np.diff(np.sort(times)).std()), _ALIKE_DIGITS)) if known else None


def _known_times(exposures: Sequence[float | None]) -> Array | None:
    """Natural logarithms of exposures, the longest 0; None where one is not known or all are alike."""
    known = [e for e in exposures if e]
    if len(known) < len(exposures):
        return None
    times = np.log(np.array(known, dtype=float))
    return np.asarray(times - times.max()) if float(np.ptp(times)) > _RATIO_STATED else None


def _fits(times: Array, rough: Array) -> bool:
    """Whether exposures (natural logarithms) may be what pictures of such brightness were given."""
    order = np.argsort(rough)
    stated, seen = np.diff(times[order]), np.diff(rough[order])
    far = np.abs(np.log(np.maximum(stated, _LEAST_STEP) / seen) + CONTRAST)
    return bool(np.all(far < _UNFIT * CONTRAST_SPREAD))


@dataclass(frozen=True)
class _Ends:
    """Codes between which a camera's curve says something, and that of its white."""

    low: float
    high: float
    white: float


def _ends(pictures: Sequence[Picture]) -> _Ends:
    """Where black and white of the camera lie: some lift the one and lower the other.

    White is where two exposures end alike; black lies no higher than the darkest code that any of them shows.
    """
    first = pictures[0]
    few = [p.codes[::_EVERY, ::_EVERY, p.main_channel] for p in pictures]
    unit = first.saturation / _COARSE
    brightest = sorted(_plateau(part, unit) for part in few)
    darkest = min(float(np.percentile(part, _RIM_PERCENT)) for part in few)
    white = brightest[-2] if brightest[-1] - brightest[-2] < _ALIKE_CODES * unit else first.saturation
    low = max(_LOW * first.saturation, darkest + _ABOVE_BLACK * unit)
    return _Ends(low, _HIGH * white, white)


def _plateau(codes: Array, unit: float) -> float:
    """The code at which the brightest part of a picture lies: halos of sharpening, and what packs it, reach a little beyond."""
    top = np.percentile(codes, 100 - _RIM_PERCENT)
    return float(np.median(codes[codes >= top - _HALO * unit]))


def _even_places(pictures: Sequence[Picture], ends: _Ends) -> Array:
    """Mean codes (pictures, places) where all pictures are even."""
    first = pictures[0]
    side = max(_LEAST_SIDE, max(first.width, first.height) // _GRID)
    while True:
        places, shown = _even_squares(pictures, side, ends)
        # Where a strip is small its patches hold no squares of that size, and what is even is the panel and the dark beside it.
        if shown > _ENOUGH * _LEVELS or side <= _LEAST_SIDE:
            return places
        side = max(_LEAST_SIDE, side // 2)


def _even_squares(pictures: Sequence[Picture], side: int, ends: _Ends) -> tuple[Array, int]:
    """Mean codes (pictures, places) of squares of so many pixels that all pictures show even, and how many levels have some."""
    first = pictures[0]
    rows, columns = first.height // side, first.width // side
    low, high = ends.low, ends.high
    means, scatters = [], []
    for picture in pictures:
        # Little squares, side by side: on a small strip among much panel some must lie within a patch.
        squares = picture.codes[: rows * side, : columns * side, picture.main_channel]
        squares = squares.reshape(rows, side, columns, side).astype(np.float32)
        mean = squares.mean(axis=(1, 3))
        spread = np.sqrt(np.maximum((squares**2).mean(axis=(1, 3)) - mean**2, 0.0))
        # Even within the square and towards its neighbours: an edge, its halo or dust is neither.
        slope = np.maximum(
            ndimage.maximum_filter(mean, _NEIGHBOURS) - mean, mean - ndimage.minimum_filter(mean, _NEIGHBOURS)
        )
        means.append(mean.ravel())
        scatters.append((np.hypot(spread, 0.5 * slope) / picture.saturation).ravel())
    mean, uneven = np.stack(means).astype(float), np.max(scatters, axis=0)
    within = (mean > low) & (mean < high)
    shown = within.sum(0) >= 2
    # Some of every brightness, the most even ones of each.
    bright = np.where(within, mean, 0.0).max(axis=0)
    chosen: list[int] = []
    levels = 0
    for a, b in itertools.pairwise(np.linspace(low, high, _LEVELS + 1)):
        here = np.flatnonzero(shown & (bright >= a) & (bright < b) & (uneven < _EVEN))
        chosen += list(here[np.argsort(uneven[here])][: _PLACES // _LEVELS])
        levels += here.size > 0
    return mean[:, np.array(chosen, dtype=int)], levels


class _Fit:
    """The departure of the camera's curve from the standard one, by least squares."""

    def __init__(self, codes: Array, usable: NDArray[np.bool_], standard: Array, scale: float, white: float):
        self.white = white
        self.codes, self.usable, self.standard, self.scale = codes, usable, standard, scale
        self.knots = scale * np.linspace(0.0, 1.0, _KNOTS)
        every = np.arange(standard.size, dtype=float)
        self.base = np.interp(codes, every, standard)
        slope = np.gradient(standard)
        # Half a code of compression and clutter, and what no curve explains.
        self.sd = _CODE_SD + _CODES_SD * scale / 255 * np.abs(np.interp(codes, every, slope))

    def rough_times(self) -> Array:
        """Exposures by the standard curve, chained over neighbours; the longest is 0."""
        order = np.argsort(self.codes.mean(1))
        times = np.zeros(len(self.codes))
        for a, b in itertools.pairwise(order):
            both = self.usable[a] & self.usable[b]
            step = (
                float(np.median((self.base[b] - self.base[a])[both]))
                if both.sum() > _FEWEST_SHARED
                else np.log(_USUAL_STEP)
            )
            times[b] = times[a] + max(step, _LEAST_STEP)
        return np.asarray(times - times.max())

    def solve(self, times: Array, sd: float, far: float = _FAR) -> tuple[Array, Array, tuple[float, ...]]:
        """The curve, how sure it is, and the exposures of the pictures relative to the longest."""
        pictures, places = self.codes.shape
        k, j = np.nonzero(self.usable)
        where = self.codes[k, j] / self.scale * (_KNOTS - 1)
        left = np.clip(where.astype(int), 0, _KNOTS - 2)
        share = where - left
        rows = np.arange(k.size)
        matrix = np.zeros((k.size, _KNOTS + pictures + places))
        matrix[rows, left], matrix[rows, left + 1] = 1 - share, share
        matrix[rows, _KNOTS + k] = -1.0
        matrix[rows, _KNOTS + pictures + j] = -1.0
        right = -self.base[k, j]
        weight = 1.0 / self.sd[k, j]
        extra, extra_right = self._priors(times, sd, far, matrix.shape[1])
        robust = np.ones(k.size)
        solution, square = np.zeros(matrix.shape[1]), np.eye(matrix.shape[1])
        for _ in range(8):
            w = weight * robust
            normal = np.concatenate([matrix * w[:, None], extra])
            value = np.concatenate([right * w, extra_right])
            square = normal.T @ normal + 1e-9 * np.eye(normal.shape[1])
            solution = np.linalg.solve(square, normal.T @ value)
            off = np.abs(matrix @ solution - right) * weight
            robust = 1.0 / np.sqrt(1.0 + (off / _ROBUST) ** 2)
        found = solution[_KNOTS : _KNOTS + pictures]
        covariance = np.asarray(np.linalg.inv(square), dtype=float)[:_KNOTS, :_KNOTS]
        doubt = self._doubt(covariance, np.asarray(matrix[:, :_KNOTS].mean(axis=0)))
        return self._table(solution[:_KNOTS]), doubt, tuple(float(v) for v in np.exp(found - found.max()))

    def _doubt(self, covariance: Array, seen: Array) -> Array:
        """Of each code against all that were seen, of which each knot has its share."""
        away = np.eye(_KNOTS) - seen / seen.sum()
        sd = np.sqrt(np.maximum(((away @ covariance) * away).sum(axis=1), 0.0)) / np.log(10)
        return np.asarray(np.interp(np.arange(self.standard.size, dtype=float), self.knots, sd))

    def _priors(self, times: Array, sd: float, far: float, width: int) -> tuple[Array, Array]:
        rows: list[Array] = []
        values: list[float] = []

        def say(places: Sequence[int], factors: Sequence[float], value: float, spread: float) -> None:
            row = np.zeros(width)
            row[list(places)] = factors
            rows.append(row / spread)
            values.append(value / spread)

        for n in range(1, _KNOTS - 1):
            # Towards black the curves of cameras bend more.
            loose = _SMOOTH * (1 + _LOOSE * np.exp(-n / _LOOSE_KNOTS))
            say((n - 1, n, n + 1), (1.0, -2.0, 1.0), 0.0, loose)
        for n in range(_KNOTS):
            say((n,), (1.0,), 0.0, far)
        say((_KNOTS - 1,), (1.0,), 0.0, 1e-3)
        for n, time in enumerate(times):
            say((_KNOTS + n,), (1.0,), float(time), 1e-3 if n == int(np.argmax(times)) else sd)
        return np.stack(rows), np.array(values)

    def _table(self, departure: Array) -> Array:
        """The curve, rising everywhere."""
        every = np.arange(self.standard.size, dtype=float)
        logs = self.standard + np.interp(every, self.knots, departure)
        table = np.maximum.accumulate(np.exp(logs))
        # A little below white its own noise is clipped as well.
        end = self.white if self.white >= _HIGH * self.scale else _HIGH * self.white
        return np.minimum(table / np.interp(end, every, table), 1.0)
