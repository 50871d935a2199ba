"""Robust statistics: what a patch is, when dust and scratches lie on it."""

from __future__ import annotations

import numpy as np

_MAD_TO_SD = 1.4826  # of a normal distribution
_BIWEIGHT_CUT = 6.0


def robust_sd(values, axis=None):
    """Standard deviation from the median absolute deviation (normal law)."""
    values = np.asarray(values, dtype=float)
    middle = np.nanmedian(values, axis=axis, keepdims=True)
    return _MAD_TO_SD * np.nanmedian(np.abs(values - middle), axis=axis)


def biweight(values: np.ndarray, weights: np.ndarray | None = None) -> tuple[float, float, float]:
    """Tukey's biweight location, its standard error, and the share of values kept.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Values that are not finite are left out.
    weights : ndarray, shape (n,), optional
        Relative inverse variances.

    Returns
    -------
    location, standard_error, share
        NaN, NaN, 0 where there is nothing.
    """
    values = np.asarray(values, dtype=float)
    w = np.ones_like(values) if weights is None else np.asarray(weights, dtype=float)
    good = np.isfinite(values) & (w > 0)
    values, w = values[good], w[good]
    if values.size == 0:
        return float("nan"), float("nan"), 0.0
    location = float(np.median(values))
    scale = float(robust_sd(values))
    if scale == 0.0 or values.size < 4:
        sd = float(values.std(ddof=1)) if values.size > 1 else 0.0
        centre = float(np.average(values, weights=w)) if scale == 0.0 and sd == 0.0 else location
        return centre, sd / np.sqrt(values.size), 1.0
    kept = np.zeros_like(values)
    for _ in range(8):
        u = (values - location) / (_BIWEIGHT_CUT * scale)
        kept = np.where(np.abs(u) < 1, (1 - u**2) ** 2, 0.0)
        total = (w * kept).sum()
        if total <= 0:
            return float(np.median(values)), scale, 0.0
        new = float((w * kept * values).sum() / total)
        if abs(new - location) < 1e-6 * scale:
            location = new
            break
        location = new
    effective = w * kept
    error = float(np.sqrt((effective**2 * (values - location) ** 2).sum()) / effective.sum())
    return location, error, float(kept.mean())
