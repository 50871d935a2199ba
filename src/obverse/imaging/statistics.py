"""Robust statistics: what a patch is, when dust and scratches lie on it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import MAD_TO_SD

# Tukey's biweight: median deviations (made standard ones) beyond which a value counts nothing, and rounds until it stands still.
_BIWEIGHT_CUT, _ROUNDS = 6.0, 6


def median(values: np.ndarray) -> float:
    """Middle of a vector of finite numbers; of a short one numpy's own takes most of its time for other things."""
    half = values.size // 2
    parted = np.partition(values, half)
    return float(parted[half] if values.size % 2 else (parted[:half].max() + parted[half]) / 2)


def medians_of(values: np.ndarray, firsts: np.ndarray, lasts: np.ndarray) -> np.ndarray:
    """Middles of stretches of a vector of finite numbers, from each first place up to each last; of an empty one what stands where it begins."""
    lengths = np.maximum(lasts - firsts, 1)
    along = np.arange(lengths.max())
    held = values.take(firsts[:, None] + along, mode="clip")
    held[along >= lengths[:, None]] = np.inf
    held.sort(axis=1)
    rows, half = np.arange(lengths.size), lengths // 2
    return np.asarray(np.where(lengths % 2, held[rows, half], (held[rows, half - 1] + held[rows, half]) / 2))


def middles(values: np.ndarray, axis: int | None = -1) -> np.ndarray:
    """Medians along an axis; what is not a number is passed over.

    Parameters
    ----------
    values : ndarray, any shape
    axis : int, optional
        None for the median of all of them.

    Returns
    -------
    ndarray, shape of `values` without `axis`
    """
    # What passes over missing values is many times slower, and seldom needed.
    return np.asarray(np.nanmedian(values, axis=axis) if np.isnan(values).any() else np.median(values, axis=axis))


def robust_sd(values: ArrayLike, axis: int | None = None) -> np.ndarray:
    """Standard deviation from the median absolute deviation (normal law).

    Parameters
    ----------
    values : ndarray
    axis : int, optional
        All values together where none is given.

    Returns
    -------
    ndarray, shape of `values` without `axis`
    """
    v = np.asarray(values, dtype=float)
    middle = middles(v, axis)
    return MAD_TO_SD * middles(np.abs(v - (middle if axis is None else np.expand_dims(middle, axis))), axis)


def biweight(values: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Tukey's biweight location of each row, its standard error, and the share of values kept.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Values that are not finite are left out.

    Returns
    -------
    location, standard_error, share : ndarray, shape (...)
        NaN, NaN, 0 where a row holds nothing.
    """
    values = np.asarray(values, dtype=float)
    good = np.isfinite(values)
    count = good.sum(-1)
    some = count > 0
    masked = np.where(good, values, np.nan)
    masked[~some] = 0.0
    location = middles(masked)
    scale = MAD_TO_SD * middles(np.abs(masked - location[..., None]))
    filled = np.where(good, values, 0.0)
    # Where more than half of the values are equal they are the answer.
    wide = np.maximum(scale, 1e-12 + 1e-9 * np.abs(location))
    for _ in range(_ROUNDS):
        u = (filled - location[..., None]) / (_BIWEIGHT_CUT * wide[..., None])
        kept = np.where(good & (np.abs(u) < 1), (1 - u**2) ** 2, 0.0)
        total = np.maximum(kept.sum(-1), 1e-12)
        location = np.where(some, (kept * filled).sum(-1) / total, np.nan)
    error = np.sqrt((kept**2 * (filled - location[..., None]) ** 2).sum(-1)) / total
    return location, np.where(some, error, np.nan), kept.mean(-1)
