"""Whether a picture was brightened part by part: its even panel then is brighter beside what is dark."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from obverse.foundation import Array
from obverse.imaging.finding import Survey
from obverse.imaging.masks import shrink

_BESIDE = 0.01  # of the longer side: how far what is dark reaches
_AWAY = 3  # pixels of the copy between panel that is looked at and what lies on it, where edges are soft
_DENSITIES = (-0.3, 2.5)  # between which what lies on the panel counts
_FEWEST = 300  # pixels of panel
_ORDER = 2  # of the slow fall-off over the panel, which is taken out of both
# Light that strays goes the other way: beside what is dark there is less of it. Of 98 finished pictures by other hands with
# one curve one went beyond both of these, of 28 brightened part by part 23.
_LIKENESS, _SLOPE = -0.12, -0.003  # correlation, and density for each density beside


def brightened_by_parts(seen: Survey, most_light: float) -> bool:
    """Whether the panel is brighter the darker its surroundings are.

    Parameters
    ----------
    most_light : float
        Linear light at which the picture clips.
    """
    density = np.clip(seen.density, *_DENSITIES)
    around = ndimage.gaussian_filter(density, _BESIDE * max(density.shape), mode="nearest")
    there = shrink(seen.panel, _AWAY) & (seen.light < most_light)
    if there.sum() < _FEWEST:
        return False
    y, x = (place / max(density.shape) for place in np.nonzero(there))
    slow = np.stack([x**n * y**m for n in range(_ORDER + 1) for m in range(_ORDER + 1 - n)], axis=1)
    own, beside = (_without(values[there], slow) for values in (seen.density, around))
    strength = float(np.sqrt((own @ own) * (beside @ beside)))
    if strength <= 0:
        return False
    return float(own @ beside) / strength < _LIKENESS and float(own @ beside) / float(beside @ beside) < _SLOPE


def _without(values: Array, slow: Array) -> Array:
    """What a slow change over the place does not explain."""
    normal = slow.T @ slow
    return np.asarray(
        values - slow @ np.linalg.solve(normal + 1e-9 * np.trace(normal) * np.eye(len(normal)), slow.T @ values)
    )
