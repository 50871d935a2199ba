"""Control charts: does a locked recipe still do what it did?

Individuals and moving range (Shewhart), cumulative sum (Page), exponentially weighted moving
average (Roberts), and four run rules, all against a baseline that is taken as exact. A notebook
never has such a baseline: `level_changes` and `strips_apart` know how short theirs is, and are what a
person is told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri, stdtr

from obverse.foundation import InputError
from obverse.reference import record

Array = NDArray[np.float64]

# Limits of Shewhart's charts.
WIDTH_SIGMA = 3.0
# Usual settings of textbooks, from memory: an allowance of half a sigma, a limit of five, a newest reading that counts 0.3.
CUSUM_ALLOWANCE, CUSUM_LIMIT = 0.5, 5.0
EWMA_WEIGHT = 0.3
# After the Western Electric handbook (1956), from memory.
RULES = {
    1: "one beyond three sigma",
    2: "two of three beyond two sigma on one side",
    3: "four of five beyond one sigma on one side",
    4: "eight in a row on one side",
}
# Rule, how many, of how many, beyond how many sigma.
_RULE_TABLE = ((1, 1, 1, 3.0), (2, 2, 3, 2.0), (3, 4, 5, 1.0), (4, 8, 8, 0.0))


# A level is compared with what lies before it once there are so many strips there and here.
STRIPS_BEFORE = 5
STRIPS_AFTER = 2
# A single strip is compared with at least so many before it.
FEWEST_BEFORE = 3
# Normal scores past which a change, and a single strip, are told. Chosen so that in 20 strips of a stable
# process (normal, skew, autocorrelated by 0.2, rounded to 0.01) at most one chart in twenty says anything.
CHANGE_SCORE = 3.75
APART_SCORE = 3.8


def _normal_score(t: float, freedom: int) -> float:
    """The normal score as rare as this Student's t."""
    tail = float(stdtr(freedom, -abs(t)))
    return float(-ndtri(max(tail, 1e-300)))


@dataclass(frozen=True, slots=True)
class LevelChange:
    """A change of level that the strips up to `seen_at` show.

    Parameters
    ----------
    seen_at : int
        Place (from 0) of the strip with which it was first seen.
    starts_at : int
        Place of the first strip that lies on the new level, as far as the strips can tell.
    by : float
        New level less old, in the unit of the readings.
    """

    seen_at: int
    starts_at: int
    by: float


def level_changes(x: ArrayLike, *, least_sd: float) -> tuple[LevelChange, ...]:
    """Changes of level in readings in order, each against all readings since the change before.

    After each reading every split with 5 before and 2 after is tried; the largest two-sample Student's t,
    as a normal score, past 3.75 tells a change. Unlike a chart with limits from the first few readings it
    knows that they are few (D. M. Hawkins, P. Qiu, C. W. Kang, J. Quality Technology 35, 355, 2003, from
    memory).

    Parameters
    ----------
    x : array_like, shape (N,)
    least_sd : float
        Readings cannot repeat better than they are read.

    Returns
    -------
    tuple of LevelChange
        In order; empty where the level holds.
    """
    values = _values(x, 1)
    _sigma(least_sd)
    found: list[LevelChange] = []
    start = 0
    for end in range(STRIPS_BEFORE + STRIPS_AFTER, values.size + 1):
        stretch = values[start:end]
        best, place, by = 0.0, 0, 0.0
        for split in range(STRIPS_BEFORE, stretch.size - STRIPS_AFTER + 1):
            before, after = stretch[:split], stretch[split:]
            freedom = stretch.size - 2
            inside = float(np.sum((before - before.mean()) ** 2) + np.sum((after - after.mean()) ** 2))
            sd = max(np.sqrt(inside / freedom), least_sd)
            difference = float(after.mean() - before.mean())
            score = _normal_score(difference / (sd * np.sqrt(1 / before.size + 1 / after.size)), freedom)
            if score > best:
                best, place, by = score, split, difference
        if best > CHANGE_SCORE:
            found.append(LevelChange(end - 1, start + place, by))
            start += place
    return tuple(found)


def strips_apart(x: ArrayLike, *, least_sd: float) -> tuple[int, ...]:
    """Places (from 0) of readings that all readings before them would not have foretold.

    Each against the Student's t of a prediction from the readings before it, from the fourth on
    (C. P. Quesenberry, J. Quality Technology 23, 213, 1991, from memory).

    Parameters
    ----------
    x : array_like
        Readings in order, shape (N,).
    least_sd : float
        No spread of readings is taken for less than this.

    Returns
    -------
    tuple of int
    """
    values = _values(x, 1)
    _sigma(least_sd)
    found = []
    for i in range(FEWEST_BEFORE, values.size):
        before = values[:i]
        sd = max(float(before.std(ddof=1)), least_sd)
        if _normal_score((values[i] - before.mean()) / (sd * np.sqrt(1 + 1 / i)), i - 1) > APART_SCORE:
            found.append(i)
    return tuple(found)


def _values(x: ArrayLike, least: int) -> Array:
    values = np.asarray(x, dtype=float)
    if values.ndim != 1 or values.size < least or not np.all(np.isfinite(values)):
        raise InputError(
            f"a control chart needs {least} readings or more, all numbers", where="chart", remedy="add control strips"
        )
    return values


def _sigma(sigma: float) -> float:
    if not sigma > 0:
        raise InputError(
            f"sigma must be greater than 0 (found {sigma})",
            where="chart",
            remedy="the readings must differ from one another",
        )
    return float(sigma)


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """Individuals and moving range.

    Parameters
    ----------
    mean, sigma : float
        Centre, and the mean moving range over d2.
    moving_range : (N-1,) array
    mean_moving_range, lower, upper, upper_moving_range : float
        Three-sigma limits.
    """

    mean: float
    sigma: float
    moving_range: Array
    mean_moving_range: float
    lower: float
    upper: float
    upper_moving_range: float


def individuals_chart(x: ArrayLike) -> IndividualsChart:
    """Limits of an individuals and moving range chart from N >= 2 readings in order.

    Parameters
    ----------
    x : array_like
        Readings in order, shape (N,).

    Returns
    -------
    IndividualsChart
        Centre, sigma and three-sigma limits.
    """
    values = _values(x, 2)
    constants = record("spc-const").value
    moving = np.abs(np.diff(values))
    bar = float(moving.mean())
    sigma = bar / constants["d2_2"]
    mean = float(values.mean())
    return IndividualsChart(
        mean, sigma, moving, bar, mean - WIDTH_SIGMA * sigma, mean + WIDTH_SIGMA * sigma, constants["D4_2"] * bar
    )


def cumulative_sum(x: ArrayLike, target: float, *, unit: float = 1.0) -> Array:
    """Plain cumulative sum of (x - target) / unit.

    Parameters
    ----------
    x : array_like
        Readings in order, shape (N,).
    target : float
        Where the readings should lie.
    unit : float, optional
        What the distance is counted in.

    Returns
    -------
    array
        Shape (N,).
    """
    return np.cumsum((_values(x, 1) - target) / _sigma(unit))


@dataclass(frozen=True, slots=True)
class Cusum:
    """Two one-sided cumulative sums in units of sigma, and the places (from 0) where either passes h."""

    plus: Array
    minus: Array
    k: float
    h: float
    signals_plus: tuple[int, ...]
    signals_minus: tuple[int, ...]


def cusum(x: ArrayLike, target: float, sigma: float, *, k: float = CUSUM_ALLOWANCE, h: float = CUSUM_LIMIT) -> Cusum:
    """Tabular cumulative sums about `target`: C = max(0, C before + |distance| - k), signal over h.

    Parameters
    ----------
    x : array_like
        Readings in order, shape (N,).
    target : float
        Where the readings should lie.
    sigma : float
        Standard deviation of a single reading, greater than zero.
    k : float, optional
        Allowance in units of sigma.
    h : float, optional
        Limit in units of sigma.

    Returns
    -------
    Cusum
        Both sums after each reading, and where either signals.
    """
    z = (_values(x, 1) - target) / _sigma(sigma)
    plus, minus = np.zeros(z.size), np.zeros(z.size)
    for i, value in enumerate(z):
        before = i - 1
        plus[i] = max(0.0, value - k + (plus[before] if i else 0.0))
        minus[i] = max(0.0, -value - k + (minus[before] if i else 0.0))
    return Cusum(
        plus, minus, k, h, tuple(map(int, np.flatnonzero(plus > h))), tuple(map(int, np.flatnonzero(minus > h)))
    )


@dataclass(frozen=True, slots=True)
class Ewma:
    """Weighted average after each reading, its limits there (they widen at first), and where it lies outside."""

    average: Array
    lower: Array
    upper: Array
    lower_limit: float
    upper_limit: float
    signals: tuple[int, ...]


def ewma(x: ArrayLike, target: float, sigma: float, *, weight: float = EWMA_WEIGHT, width: float = WIDTH_SIGMA) -> Ewma:
    """Exponentially weighted moving average started at `target`; `weight` is that of the newest reading.

    Parameters
    ----------
    x : array_like
        Readings in order, shape (N,).
    target : float
        Where the readings should lie.
    sigma : float
        Standard deviation of a single reading, greater than zero.
    weight : float, optional
        Of the newest reading, 0 to 1.
    width : float, optional
        Of the limits in units of sigma.

    Returns
    -------
    Ewma
        The average after each reading, its limits there, and where it lies outside.
    """
    values = _values(x, 1)
    if not 0 < weight <= 1:
        raise InputError(f"the weight must lie between 0 and 1 (found {weight})", where="chart")
    average = np.empty(values.size)
    last = target
    for i, value in enumerate(values):
        last = average[i] = weight * value + (1 - weight) * last
    share = weight / (2 - weight)
    age = 2 * np.arange(1, values.size + 1)
    reach = width * _sigma(sigma) * np.sqrt(share * (1 - (1 - weight) ** age))
    final = width * sigma * np.sqrt(share)
    outside = tuple(map(int, np.flatnonzero(np.abs(average - target) > reach)))
    return Ewma(average, target - reach, target + reach, target - final, target + final, outside)


@dataclass(frozen=True, slots=True)
class RuleSignal:
    """A run rule that speaks at reading `index` (from 0)."""

    index: int
    rule: int

    @property
    def words(self) -> str:
        """The rule in words."""
        return RULES[self.rule]


def run_rules(x: ArrayLike, center: float, sigma: float) -> tuple[RuleSignal, ...]:
    """Which of the four run rules speak, and at which reading; each at the reading that completes it.

    Parameters
    ----------
    x : array_like
        Readings in order, shape (N,).
    center : float
        Centre line.
    sigma : float
        Standard deviation of a single reading, greater than zero.

    Returns
    -------
    tuple of RuleSignal
        In the order of the readings.
    """
    z = (_values(x, 1) - center) / _sigma(sigma)
    found = []
    for i in range(z.size):
        for rule, needed, among, beyond in _RULE_TABLE:
            window = z[max(0, i - among + 1) : i + 1]
            for side in (window, -window):
                if side[-1] > beyond and window.size >= needed and np.count_nonzero(side > beyond) >= needed:
                    found.append(RuleSignal(i, rule))
    return tuple(found)
