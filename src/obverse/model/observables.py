"""What is judged on a strip: Dmax, highlight density, gradient, mid-tone exposure."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.model.curve import (
    BLACK,
    LIGHT,
    PLACE,
    SOFTNESS,
    TAIL,
    TOE,
    bend,
    bend_and_slope,
    light_of,
    logistic,
    ramp_and_slope,
    straight,
)
from obverse.process import Aim
from obverse.reference import record
from obverse.sensitometry import GRADIENT_REACH, HIGHLIGHT_OFFSET

OBSERVABLES = ("dmax", "highlight_density", "gradient", "midtone_log_exposure")

# Rounds of Newton in which the knees are taken off, where the curve falls by no less than so much of what it would without
# them, and of Halley along the two slopes: differences are then beyond the last digit shown.
KNEE_ROUNDS, LEAST_FALL, SLOPE_ROUNDS = 2, 0.3, 2
# A step of Halley is no longer than so many of Newton's.
LONGEST_HALLEY = 2.0
# A curve no steeper than this about its mid-tone is taken as flat: the step to the mid-tone itself would be a guess.
FLAT = 0.05
# A bound that a curve has no value for is missed by so many just noticeable steps.
MISSED = -9.0
# How far beyond its corner a softened ramp seems to begin, seen from afar.
SOFT_CORNER = SOFTNESS * math.log(2.0)
# Where the mid-tone is looked for; past the ends it is as good as absent.
SEARCH = np.concatenate([[-9.0], np.linspace(-2.4, 2.6, 26)])
# The first place of the search: far below any light.
UNEXPOSED = 0
# Curves asked at once.
AT_ONCE = 6400


def observables(curve: Callable[[Array], Array], base: Array, midtone_density: float = 1.0) -> Array:
    """The four observables of many falling curves.

    Parameters
    ----------
    curve : function
        From log exposures of shape (N,) or (..., N) to densities with base, shape (..., N).
    base : array
        Base density, broadcastable to (...).
    midtone_density : float
        Above base.

    Returns
    -------
    (..., 4) array
        In the order of `OBSERVABLES`, densities above base; highlight, gradient and mid-tone are
        NaN where the curve does not cross the mid-tone density.
    """
    above = curve(SEARCH) - np.asarray(base)[..., None]
    midtone = crossing(SEARCH, above, midtone_density)
    probe = np.stack([midtone, midtone - GRADIENT_REACH, midtone + GRADIENT_REACH, midtone + HIGHLIGHT_OFFSET], axis=-1)
    known = np.isfinite(midtone)
    read = curve(np.where(known[..., None], probe, 0.0)) - np.asarray(base)[..., None]
    here, before, beyond, brightest = np.moveaxis(read, -1, 0)
    slope = np.where(known, (before - beyond) / (2 * GRADIENT_REACH), np.nan)
    # One Newton step from the chord to the curve itself.
    steep = np.where(slope > FLAT, slope, np.inf)
    midtone = midtone + np.clip((here - midtone_density) / steep, -0.1, 0.1)
    highlight = np.where(known, brightest, np.nan)
    return np.stack([above[..., UNEXPOSED], highlight, slope, midtone], axis=-1)


def observables_of(settings: Array, knees: Array, midtone_density: float = 1.0) -> Array:
    """The four observables of curves given by their coordinates; no search along exposure.

    Parameters
    ----------
    settings : (..., 5) array
        In the order of `obverse.model.curve.COORDINATES`, above base.
    knees : (..., 4) array

    Returns
    -------
    (..., 4) array
        As `observables`.
    """
    draws_last, knees = np.ascontiguousarray(settings.T), np.ascontiguousarray(knees.T)
    found = np.empty((len(OBSERVABLES), *draws_last.shape[1:]), dtype=settings.dtype)
    if draws_last.ndim < 3 or found[0].size <= AT_ONCE:
        _observe(found, draws_last, knees, midtone_density)
        return found.T
    # So few at once that they stay in the processor's own memory: twice as quick.
    rows = max(1, AT_ONCE * found.shape[1] // found[0].size)
    for part in (slice(k, k + rows) for k in range(0, found.shape[1], rows)):
        _observe(found[:, part], draws_last[:, part], knees if knees.shape[1] == 1 else knees[:, part], midtone_density)
    return found.T


def _observe(found: Array, settings: Array, knees: Array, midtone_density: float) -> None:
    """The observables (4, ...) of curves by their coordinates (5, ...) and knees (4, ...)."""
    black, light = np.exp(settings[BLACK]), light_of(settings[LIGHT])
    left = (black - midtone_density) / np.maximum(black - light, 1e-9)
    known = (left > 1e-6) & (left < 1.0 - 1e-6)
    inner = np.where(known, left, 0.5)
    eta = wanted = np.log(inner / (1.0 - inner))
    for _ in range(KNEE_ROUNDS):
        bent, by = bend_and_slope(eta, knees)
        eta = eta - (eta + bent - wanted) / np.maximum(1.0 + by, LEAST_FALL)
    toe, tail = np.exp(-settings[TOE]), np.exp(-settings[TAIL])
    gap = _place_of(eta, toe, tail)
    midtone = settings[PLACE] + gap
    known &= (midtone > SEARCH[1]) & (midtone < SEARCH[-1])
    lower = light - black

    def read(off: float) -> Array:
        eta = straight(gap + off, toe, tail)
        result: Array = black + lower * logistic(eta + bend(eta, knees))
        return result

    found[:] = (
        black,
        read(HIGHLIGHT_OFFSET),
        (read(-GRADIENT_REACH) - read(GRADIENT_REACH)) / (2 * GRADIENT_REACH),
        midtone,
    )
    found[1:, ~known] = np.nan


def _place_of(eta: Array, toe: Array, tail: Array) -> Array:
    """Log exposure beyond the place of the passage at which eta is reached (Halley)."""
    steeper = tail - toe
    here = np.where(eta > 0, tail, toe)
    gap = eta / here
    # Far out the softened corner is worth that much, at it nothing.
    gap = gap + SOFT_CORNER * steeper / here * (1.0 - SOFTNESS / (SOFTNESS + np.abs(gap)))
    for _ in range(SLOPE_ROUNDS):
        rise, part = ramp_and_slope(gap)
        by = toe + part * steeper
        step = (rise * steeper + gap * toe - eta) / by
        bent = part * (1.0 - part) * steeper / by
        gap = gap - step / np.maximum(1.0 - step * bent * (0.5 / SOFTNESS), 1.0 / LONGEST_HALLEY)
    return gap


def crossing(log_exposure: Array, above: Array, level: float) -> Array:
    """First log exposure at which curves of shape (..., N) on the grid (N,) fall through `level`; NaN where none."""
    falls = (above[..., :-1] >= level) & (above[..., 1:] < level)
    found = falls.any(axis=-1)
    i = falls.argmax(axis=-1)
    left = np.take_along_axis(above, i[..., None], -1)[..., 0]
    right = np.take_along_axis(above, i[..., None] + 1, -1)[..., 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        t = (left - level) / (left - right)
        value = log_exposure[i] + t * (log_exposure[i + 1] - log_exposure[i])
    # A crossing between the border and the first exposure has no usable place.
    return np.where(found & (i > 0), value, np.nan)


def in_aim(observed: Array, aim: Aim) -> NDArray[np.bool_]:
    """Whether observables of shape (..., 4) lie in every window of the aim, shape (...)."""
    result: NDArray[np.bool_] = margins(observed, aim).min(axis=-1) >= 0
    return result


def margins(observed: Array, aim: Aim) -> Array:
    """How far inside each bound of the aim, shape (..., B); negative outside, in tolerances of `SCALE`."""
    bounds = bounds_of(aim)
    if not bounds:
        return np.ones((*observed.shape[:-1], 1))
    # With the draws last in memory, as `observables_of` gives them.
    found = np.empty((len(bounds), *observed.shape[-2::-1]), dtype=observed.dtype)
    for b, (name, sign, limit) in enumerate(bounds):
        found[b] = (observed[..., OBSERVABLES.index(name)].T - limit) * (sign / SCALE[name])
    found[~np.isfinite(found)] = MISSED
    return found.T


# A just noticeable step of each, so that misses can be compared.
SCALE: dict[str, float] = record("notebook.just_noticeable").value


def bounds_of(aim: Aim) -> list[tuple[str, float, float]]:
    """The bounds an aim sets: observable, +1 for at least and -1 for at most, limit."""
    rows = (
        ("dmax", 1.0, aim.dmax_min),
        ("highlight_density", -1.0, aim.highlight_density_max),
        ("gradient", 1.0, aim.gradient_min),
        ("gradient", -1.0, aim.gradient_max),
        ("midtone_log_exposure", 1.0, aim.midtone_log_exposure_min),
        ("midtone_log_exposure", -1.0, aim.midtone_log_exposure_max),
    )
    return [(name, sign, limit) for name, sign, limit in rows if limit is not None]
