"""The characteristic curve of a reversal strip and the numbers read off it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, Caution, Estimate, InputError, JsonObject, Level
from obverse.reference import number, record
from obverse.sensitometry.list_doubts import BASE_DOUBT
from obverse.sensitometry.monotone import ASSUMED_FIRMNESS, STATED_FIRMNESS, MonotoneFit, fit_monotone
from obverse.sensitometry.speed import metered_exposure_lx_s, reversal_points, speed_reversal

# A falling curve bends twice: fewer readings say nothing of it, more add nothing.
FEWEST_READINGS = 3
MOST_READINGS = 20_000
# The shape is steeper in its middle than the straight part of many films, and readings with errors lean on it: without this the
# gradient's nine-in-ten interval holds 77 to 90 % (docs/projection.md).
GRADIENT_DOUBT = 1.15
# The gradient is the mean slope over this far on both sides of the mid-tone; highlights lie this
# far above it (contract of the series document).
GRADIENT_REACH = 0.25
HIGHLIGHT_OFFSET = 0.80
# Readings of the unexposed rebate stand far off; how far makes no difference past this.
REBATE_GAP = 1.5
# Ends of the 90 % interval and its middle; a normal law has one standard deviation between these two and its middle.
QUANTILES = (0.05, 0.5, 0.95)
ONE_SIGMA = (0.8413, 0.1587)
# The steepest line from the low point is looked for no nearer than this: a slope over nothing is noise.
SHORTEST_RUN = 0.05
# A reading that counts less than this is named as far off.
FAR_OFF_WEIGHT = 0.2
# Below this probability of reaching the mid-tone a person is told; under a half, that it does not.
SURE_OF_MIDTONE = 0.95
# An exposure known worse than to a factor of ten is not known.
WIDEST_EXPOSURE_SD = 1.0


@dataclass(frozen=True)
class CharacteristicCurve:
    """A fitted falling curve. Densities include the base unless they say otherwise.

    Parameters
    ----------
    log_exposure, density, density_sd : (N,) arrays
        The readings, sorted; `density_sd` as it was used, after the common factor was learned.
    weight : (N,) array
        What each reading counted, 0 to 1.
    grid : (G,) array
    draws : (M, G) array
        Curves that the readings allow.
    base_draws : (M,) array
        Base density in each draw.
    midtone_density : float
        Above base.
    """

    log_exposure: Array
    density_read: Array
    density_sd: Array
    weight: Array
    grid: Array
    draws: Array
    base_draws: Array
    base_known: bool
    midtone_density: float

    def density(self, log_exposure: float) -> Estimate:
        """Density at one log exposure."""
        return _estimate(_at(self.grid, self.draws, np.full(len(self.draws), float(log_exposure))))

    def band(self, log_exposure: ArrayLike) -> tuple[Array, Array, Array]:
        """Median curve and the ends of its 90 % band at `log_exposure` (N,); three (N,) arrays."""
        x = np.asarray(log_exposure, dtype=float)
        position = np.clip((x - self.grid[0]) / (self.grid[1] - self.grid[0]), 0, self.grid.size - 1 - 1e-9)
        left = position.astype(int)
        part = position - left
        curves = self.draws[:, left] * (1 - part) + self.draws[:, left + 1] * part
        low, middle, high = np.quantile(curves, QUANTILES, axis=0)
        return middle, low, high

    @cached_property
    def dmin(self) -> Estimate:
        """Least density, where exposure no longer matters."""
        return _estimate(self.draws[:, -1])

    @cached_property
    def dmax_with_base(self) -> Estimate:
        """Greatest density, of the unexposed border, base included: the usual Dmax of the trade."""
        return _estimate(self.draws[:, 0])

    @cached_property
    def dmax_above_base(self) -> Estimate:
        """Greatest density above base: what `dmax_min` of an aim bounds."""
        return _estimate(self.draws[:, 0] - self.base_draws)

    @cached_property
    def _midtone(self) -> Array:
        return _crossing(self.grid, self.draws, self.base_draws + self.midtone_density)

    @cached_property
    def reaches_midtone(self) -> float:
        """Probability that the curve crosses the mid-tone density at all."""
        return float(np.mean(np.isfinite(self._midtone)))

    def _of_midtone(self, values: Array) -> Estimate | None:
        return _estimate(values[np.isfinite(values)]) if self.reaches_midtone >= 0.5 else None

    @cached_property
    def midtone_log_exposure(self) -> Estimate | None:
        """Log exposure of the first crossing of `midtone_density` above base; None if it likely never is."""
        return self._of_midtone(self._midtone)

    @cached_property
    def gradient(self) -> Estimate | None:
        """Mean slope, positive, from 0.25 below to 0.25 above the mid-tone exposure; None without one."""
        drawn = self.numbers_drawn()["gradient"]
        middle = np.nanmedian(drawn) if np.any(np.isfinite(drawn)) else 0.0
        return self._of_midtone(middle + GRADIENT_DOUBT * (drawn - middle))

    @cached_property
    def highlight_density(self) -> Estimate | None:
        """Density above base at 0.80 over the mid-tone exposure; None without one."""
        return self._of_midtone(self.numbers_drawn()["highlight_density"])

    def numbers_drawn(self) -> dict[str, Array]:
        """The numbers in each draw, (M,) each; NaN where a draw has none."""
        x = self._midtone
        return {
            "dmin": self.draws[:, -1],
            "dmax_above_base": self.draws[:, 0] - self.base_draws,
            "midtone_log_exposure": x,
            "gradient": (
                _at(self.grid, self.draws, x - GRADIENT_REACH) - _at(self.grid, self.draws, x + GRADIENT_REACH)
            )
            / (2 * GRADIENT_REACH),
            "highlight_density": _at(self.grid, self.draws, x + HIGHLIGHT_OFFSET) - self.base_draws,
        }

    @cached_property
    def speed_point_log_exposure(self) -> Estimate | None:
        """Middle of the two points of the mid-curve rule, in log exposure; None for a range under 0.20."""
        return _estimate_or_none(self._speed_point())

    def _speed_point(self) -> Array:
        low_over, high_over = reversal_points()
        low_density = self.draws[:, -1] + low_over
        low = _crossing(self.grid, self.draws, low_density)
        high = _crossing(self.grid, self.draws, self.draws[:, -1] + high_over)
        # Where 2.00 over Dmin is not reached before the shoulder, the high point is where a straight
        # line from the low point touches the shoulder: the steepest line from there.
        rise = self.draws - low_density[:, None]
        run = low[:, None] - self.grid
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = np.where(run > SHORTEST_RUN, rise / run, -np.inf)
        tangent = self.grid[np.argmax(slope, axis=1)]
        result: Array = (low + np.fmax(high, tangent)) / 2
        return result

    def reversal_speed(self, box_speed: float) -> Estimate | None:
        """Speed by the mid-curve rule, 10 / Hm.

        Log exposures are taken relative to the metered mid-tone at `box_speed`, where the film gets
        q K / S lux seconds. The rule borrows ISO 2240 (colour reversal); its points are from memory.
        """
        at = self._speed_point()
        metered = metered_exposure_lx_s(box_speed)
        return _estimate_or_none(np.asarray(speed_reversal(np.log10(metered) + at)))

    def exposure_index(self, box_speed: float) -> Estimate | None:
        """Meter setting that puts the mid-tone density on the metered mid-tone."""
        return self._of_midtone(box_speed * 10**-self._midtone)

    @cached_property
    def cautions(self) -> tuple[Caution, ...]:
        """What to know before the numbers are used."""
        return tuple(_cautions(self))

    def numbers(self, box_speed: float | None = None) -> dict[str, Estimate | None]:
        """All that the curve says in a number, by name; without a box speed no speeds."""
        return {
            "dmin": self.dmin,
            "dmax": self.dmax_with_base,
            "dmax_above_base": self.dmax_above_base,
            "gradient": self.gradient,
            "midtone_log_exposure": self.midtone_log_exposure,
            "highlight_density": self.highlight_density,
            "reversal_speed": self.reversal_speed(box_speed) if box_speed else None,
            "exposure_index": self.exposure_index(box_speed) if box_speed else None,
        }

    def document(self, box_speed: float | None = None) -> JsonObject:
        """The JSON shape: every number with its uncertainty, null where there is none."""
        return {
            "readings": int(self.log_exposure.size),
            **{name: value.document() if value else None for name, value in self.numbers(box_speed).items()},
            "cautions": [caution.document() for caution in self.cautions],
        }


def fit_curve(
    log_exposure: ArrayLike,
    density: ArrayLike,
    density_sd: ArrayLike | None = None,
    *,
    log_exposure_sd: ArrayLike = 0.0,
    common_log_exposure_sd: float = 0.0,
    base_density: float | Estimate | None = None,
    midtone_density: float = 1.0,
    seed: int = 0,
) -> CharacteristicCurve:
    """Fit the characteristic curve of a reversal strip.

    Parameters
    ----------
    log_exposure : array_like, shape (N,)
        N from 3 to 20 000, in any order, two different at least.
    density : array_like, shape (N,)
        Base included.
    density_sd : array_like, shape (N,), optional
        NaN or absent where not stated: then the house's figure for a hand reading.
    log_exposure_sd : array_like, shape (N,) or ()
        Standard uncertainty of each log exposure, independent from reading to reading (a shutter).
    common_log_exposure_sd : float
        Standard uncertainty that all log exposures share (a meter, a lamp, a wedge's place on the scale).
        No reading can tell it; it goes into all that is read along the exposure axis.
    base_density : float or Estimate, optional
        Density of the bare support. Where absent it is taken as anything from the clear to the
        grey bases on record, and the uncertainty shows in all that is measured above base.
    midtone_density : float
        Above base.
    seed : int
        Same readings and seed, same answer.

    Returns
    -------
    CharacteristicCurve
        With draws, from which every number takes its uncertainty.

    Raises
    ------
    InputError
        For too few readings, unequal lengths, numbers that are not finite or not plausible.
    """
    x, d, sd = _checked(log_exposure, density, density_sd)
    x_sd = _checked_exposure_sd(log_exposure_sd, common_log_exposure_sd, x)
    order = np.argsort(x, kind="stable")
    x, d, sd, x_sd = x[order], d[order], sd[order], x_sd[order]
    stated = density_sd is not None and bool(np.all(np.isfinite(np.asarray(density_sd, dtype=float))))
    firmness = STATED_FIRMNESS if stated else ASSUMED_FIRMNESS
    fit = fit_monotone(_without_gaps(x), d, sd, x_sd=x_sd, firmness=firmness, seed=seed)
    if common_log_exposure_sd > 0:
        fit = replace(fit, draws=_shifted(fit, common_log_exposure_sd, seed))
    base, draws = _over_base(_base_draws(base_density, fit, seed), fit.draws, float(d.min()))
    return CharacteristicCurve(
        log_exposure=x,
        density_read=d,
        density_sd=fit.noise,
        weight=fit.weights,
        grid=fit.grid,
        draws=draws,
        base_draws=base,
        base_known=base_density is not None,
        midtone_density=midtone_density,
    )


def _checked_exposure_sd(each: ArrayLike, common: float, x: Array) -> Array:
    sd = np.asarray(each, dtype=float)
    if sd.ndim and sd.shape != x.shape:
        raise InputError(
            f"{sd.size} uncertainties of exposure stand beside {x.size} readings",
            where="readings",
            remedy="give one for each, or one for all",
        )
    if not (np.all((sd >= 0) & (sd <= WIDEST_EXPOSURE_SD)) and 0 <= common <= WIDEST_EXPOSURE_SD):
        raise InputError(
            f"an uncertainty of log exposure must lie between 0 and {WIDEST_EXPOSURE_SD:g}",
            where="readings",
            remedy="give it in powers of ten: a third of a stop is 0.1",
        )
    return np.broadcast_to(sd, x.shape).copy()


def _shifted(fit: MonotoneFit, common_sd: float, seed: int) -> Array:
    """The draws (M, G), each moved along the exposure axis by an error of its own that all its readings share."""
    random = np.random.default_rng([seed, 2])
    place = fit.grid + common_sd * random.standard_normal((len(fit.draws), 1))
    return np.stack([np.interp(x, fit.grid, curve) for x, curve in zip(place, fit.draws, strict=True)])


def _checked(log_exposure: ArrayLike, density: ArrayLike, density_sd: ArrayLike | None) -> tuple[Array, Array, Array]:
    x, d = np.asarray(log_exposure, dtype=float), np.asarray(density, dtype=float)
    if x.ndim != 1 or x.shape != d.shape:
        raise InputError(
            f"{x.size} log exposures stand beside {d.size} densities",
            where="readings",
            remedy="give one density for each",
        )
    if x.size < FEWEST_READINGS:
        raise InputError(
            f"a curve needs {FEWEST_READINGS} readings or more (found {x.size})",
            where="readings",
            remedy="read more patches or grade by eye",
        )
    if x.size > MOST_READINGS:
        raise InputError(
            f"{x.size} readings are more than a curve needs", where="readings", remedy=f"give at most {MOST_READINGS}"
        )
    if not (np.all(np.isfinite(x)) and np.all(np.isfinite(d))):
        raise InputError("a reading is not a number", where="readings", remedy="leave it out")
    if np.ptp(x) < 0.05:
        raise InputError(
            "all readings have the same log exposure", where="readings", remedy="read patches of different exposure"
        )
    if np.ptp(x) > 20:
        raise InputError(
            "the log exposures span more than 20 powers of ten", where="readings", remedy="give log10 of the exposure"
        )
    if d.min() < -0.5 or d.max() > 6:
        raise InputError(
            f"densities from {d.min():g} to {d.max():g} cannot be",
            where="readings",
            remedy="give densities between -0.5 and 6",
        )
    assumed = number("table.reading_sd")
    sd = np.full_like(d, assumed) if density_sd is None else np.asarray(density_sd, dtype=float).copy()
    if sd.shape != d.shape:
        raise InputError(
            f"{sd.size} uncertainties stand beside {d.size} densities",
            where="readings",
            remedy="give one for each or none",
        )
    sd[np.isnan(sd)] = assumed
    if not np.all((sd > 0) & (sd < 5)):
        raise InputError(
            "an uncertainty must be greater than 0", where="readings", remedy="leave it empty where it is not known"
        )
    return x, d, sd


def _without_gaps(x: Array) -> Array:
    """Bring the rebate and other far-off readings near: past the gap the film knows no difference."""
    near = x.copy()
    middle = int(np.searchsorted(x, np.median(x)))
    for i in range(middle, 0, -1):
        gap = near[i] - near[i - 1]
        if gap > REBATE_GAP:
            near[:i] += gap - REBATE_GAP
    for i in range(middle, x.size - 1):
        gap = near[i + 1] - near[i]
        if gap > REBATE_GAP:
            near[i + 1 :] -= gap - REBATE_GAP
    return near


def _base_draws(base: float | Estimate | None, fit: MonotoneFit, seed: int) -> Array:
    count = len(fit.draws)
    random = np.random.default_rng([seed, 1])
    if base is None:
        low, high = number("base-clear"), record("base-grey").value[1]
        # No part of the strip can be lighter than its base.
        high = np.maximum(low, np.minimum(high, fit.draws[:, -1]))
        result: Array = low + (high - low) * random.random(count)
        return result
    if isinstance(base, Estimate):
        return base.value + base.sd * random.standard_normal(count)
    return np.full(count, float(base))


def _over_base(base: Array, draws: Array, lightest: float) -> tuple[Array, Array]:
    """No curve runs below its base: curves are held at it, or a base that the readings deny gives way to them."""
    if float(np.median(base)) - lightest > BASE_DOUBT:
        return np.minimum(base, draws[:, -1]), draws
    return base, np.maximum(draws, base[:, None])


def _at(grid: Array, curves: Array, x: Array) -> Array:
    """Each curve (M, G) at its own x (M,); held at the ends; NaN where x is."""
    known = np.isfinite(x)
    position = np.clip((np.where(known, x, grid[0]) - grid[0]) / (grid[1] - grid[0]), 0, grid.size - 1 - 1e-9)
    left = position.astype(int)
    part = position - left
    rows = np.arange(len(curves))
    return np.where(known, curves[rows, left] * (1 - part) + curves[rows, left + 1] * part, np.nan)


def _crossing(grid: Array, curves: Array, level: Array) -> Array:
    """First log exposure at which each falling curve (M, G) passes its level (M,); NaN where it never does."""
    below = curves < level[:, None]
    i = np.argmax(below, axis=1)
    rows = np.arange(len(curves))
    crosses = below.any(axis=1) & (i > 0)
    before = np.maximum(i - 1, 0)
    high, low = curves[rows, before], curves[rows, i]
    part = np.where(crosses, (high - level) / np.where(high > low, high - low, 1.0), 0.0)
    return np.where(crosses, grid[before] + part * (grid[1] - grid[0]), np.nan)


def _estimate(values: Array) -> Estimate:
    low, middle, high = np.quantile(values, QUANTILES)
    # The spread of the middle two thirds, so that a few wild draws do not pass for uncertainty.
    sd = float(np.subtract(*np.quantile(values, ONE_SIGMA))) / 2
    return Estimate(float(middle), max(sd, 0.0), float(low), float(high))


def _estimate_or_none(values: Array) -> Estimate | None:
    finite = values[np.isfinite(values)]
    return _estimate(finite) if finite.size >= 0.5 * values.size else None


def _cautions(curve: CharacteristicCurve) -> Iterator[Caution]:
    if not curve.base_known:
        low, high = number("base-clear"), record("base-grey").value[1]
        yield Caution(
            "curve.base_unknown",
            f"The base density is not known; it is taken as anything from {low:.2f} to {high:.2f}. "
            "Fix a bare piece of this film and read it to narrow every number above base.",
            Level.NOTE,
            source="base-grey",
        )
    out = np.flatnonzero(curve.weight < FAR_OFF_WEIGHT)
    if out.size:
        places = ", ".join(f"{curve.log_exposure[i]:+.2f}" for i in out[:4])
        yield Caution(
            "curve.outlier", f"{_count(out.size, 'reading')} far off the curve counted little (log exposure {places})."
        )
    for name, end, what in (("dmax", curve.dmax_with_base, "unexposed border"), ("dmin", curve.dmin, "lightest patch")):
        if end.sd > 0.1:
            yield Caution(
                f"curve.{name}_open",
                f"The readings do not reach the {'black' if name == 'dmax' else 'clear'} end of the curve; read the {what} to fix {name.capitalize()}.",
                Level.NOTE,
            )
    if curve.reaches_midtone < SURE_OF_MIDTONE:
        chance = round(100 * curve.reaches_midtone)
        words = "does not reach" if chance == 0 else f"reaches, with a probability of {chance} %, "
        yield Caution(
            "curve.no_midtone",
            f"The curve {words} the mid-tone density {curve.midtone_density:g} above base"
            + (
                "; mid-tone exposure, gradient and highlight density do not exist for it."
                if curve.reaches_midtone < 0.5
                else "; what hangs on it holds only if it does."
            ),
        )


def _count(n: int, word: str) -> str:
    return f"{n} {word}" + ("" if n == 1 else "s")
