"""What the eye says, as a normal law: expectation propagation (Minka 2001, from memory).

A word puts a quantity of the strip between two soft thresholds. It enters as a normal law on that
quantity, chosen so that the belief has the mean and the spread that the word would give it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from obverse.inference.evidence import Evidence, EyeGrade
from obverse.inference.law import K, Q
from obverse.model.curve import LIGHT_OFFSET, read_curve

Array = NDArray[np.float64]

D = Q + K + 1
DAMPING = 0.6
_STEP = 1e-5


@dataclass(frozen=True)
class Site:
    """A word as a normal law.

    Parameters
    ----------
    direction : (D,) array
        Slope of what the word is about, by the strip's coordinates, knees and base.
    value : float
        What `direction` . v would be.
    target : float
        The same of the quantity itself.
    precision : float
    """

    direction: Array
    value: float
    target: float
    precision: float

    @classmethod
    def open(cls) -> Site:
        """A word that says nothing yet."""
        return cls(np.zeros(D), 0.0, 0.0, 0.0)


def seen(of: str, around: Array) -> Array:
    """What a word is about, of curves (M, D): the logarithm of the highlights, densities of the others."""
    exposures = {"blacks": [-9.0], "midtones": [0.0], "highlights": [0.8], "contrast": [-0.25, 0.25]}[of]
    read = read_curve(around[:, :Q], around[:, Q : Q + K], np.array(exposures))
    if of == "highlights":
        return np.log(read[:, 0] + LIGHT_OFFSET)
    if of == "contrast":
        return (read[:, 0] - read[:, 1]) / 0.5
    return read[:, 0]


def renew_sites(evidence: Evidence, sites: list[Site], around: Array, spread: Array) -> list[Site]:
    """The words once more, given where the strips are believed to lie and how surely.

    Parameters
    ----------
    around : (T, D) array
    spread : (T, D, D) array
        Covariance of the belief, the words included.
    """
    return [_renewed(g, s, around[g.strip], spread[g.strip]) for g, s in zip(evidence.grades, sites, strict=True)]


def _renewed(grade: EyeGrade, site: Site, at: Array, spread: Array) -> Site:
    moved = np.concatenate([at + _STEP * np.eye(D), at - _STEP * np.eye(D), at[None]])
    value = seen(grade.of, moved)
    direction = (value[:D] - value[D : 2 * D]) / (2 * _STEP)
    here, variance = float(value[-1]), float(direction @ spread @ direction)
    variance = max(variance, 1e-8)
    # Without the word itself.
    left = max(1.0 / variance - site.precision, 0.02 / variance)
    mean = (here / variance - site.precision * site.target) / left
    new_mean, new_variance = word_moments(grade, mean, 1.0 / left)
    precision = max(1.0 / new_variance - left, 1e-6)
    target = (new_mean / new_variance - left * mean) / precision
    kept, told = (1.0 - DAMPING) * site.precision, DAMPING * precision
    target = (kept * site.target + told * target) / (kept + told)
    return Site(direction, target - here + float(direction @ at), target, kept + told)


def word_moments(grade: EyeGrade, mean: float, variance: float) -> tuple[float, float]:
    """Mean and variance of a normal quantity after the word, thresholds being soft."""
    total = np.sqrt(variance + grade.sd**2)
    low, high = (grade.low - mean) / total, (grade.high - mean) / total
    log_z = float(_log_between(low, high))
    inner = [
        0.0 if not np.isfinite(b) else float(np.exp(-0.5 * b * b - 0.9189385332046727 - log_z)) for b in (low, high)
    ]
    first = inner[0] - inner[1]
    second = (low * inner[0] if np.isfinite(low) else 0.0) - (high * inner[1] if np.isfinite(high) else 0.0)
    share = variance / total
    new_mean = mean + share * first
    new_variance = variance + share**2 * (second - first**2)
    return new_mean, float(np.clip(new_variance, 1e-3 * variance, 0.9999 * variance))


def _log_between(low: float, high: float) -> float:
    if low + high > 0:
        low, high = -high, -low
    upper, lower = log_ndtr(high), log_ndtr(low)
    return float(upper + np.log1p(-np.exp(min(lower - upper, -1e-12))))
