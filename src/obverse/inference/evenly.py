"""Points that fill a space evenly, in any number of dimensions and always the same."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from obverse.foundation import Array

# The iteration for the root gains a digit in two rounds or so; by then it stands still in the last bit.
ROUNDS = 40


def evenly(count: int, dimensions: int) -> Array:
    """Points (count, dimensions) of the unit cube: an additive recurrence with the root of x^(d+1) = x + 1.

    Returns
    -------
    (count, dimensions) array
    """
    root = 2.0
    for _ in range(ROUNDS):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1, dimensions + 1)
    result: Array = (0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0
    return result


def normal_quantile(probability: Array) -> Array:
    """Normal numbers below which these parts lie; the library that has this for arrays takes longer to load than a strip to choose."""
    each = map(NormalDist().inv_cdf, probability.ravel().tolist())
    result: Array = np.fromiter(each, float, probability.size).reshape(probability.shape)
    return result


def even_normals(count: int, dimensions: int) -> Array:
    """Normal numbers (count, dimensions), evenly spread, of mean nought and with the identity as covariance.

    Parameters
    ----------
    count, dimensions : int
        More points than dimensions.

    Returns
    -------
    (count, dimensions) array
    """
    z = normal_quantile(evenly(count, dimensions))
    z = z - z.mean(axis=0)
    result: Array = np.linalg.solve(np.linalg.cholesky(z.T @ z / count), z.T).T
    return result
