"""Control charts: does a locked recipe still do what it did?

A notebook never has a baseline that may be taken as exact, as the charts of textbooks take theirs: `level_changes` and
`strips_apart` know how short theirs is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, InputError

# A level is compared with what lies before it once there are so many strips there and here.
STRIPS_BEFORE = 5
STRIPS_AFTER = 2
# A single strip is compared with at least so many before it.
FEWEST_BEFORE = 3
# Normal scores past which a change, and a single strip, are told. Chosen so that in 20 strips of a stable
# process (normal, skew, autocorrelated by 0.2, rounded to 0.01) at most one chart in twenty says anything.
CHANGE_SCORE = 3.8
APART_SCORE = 3.9


def _normal_score(t: float, freedom: int) -> float:
    """The normal score as rare as this Student's t."""
    from scipy.special import ndtri, stdtr  # takes longer to load than a curve to read

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
    as a normal score, past 3.8 tells a change. Unlike a chart with limits from the first few readings it
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
