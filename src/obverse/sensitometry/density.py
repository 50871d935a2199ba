"""Density, its layers, and what a condenser makes of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from obverse.foundation import Z90, Estimate, InputError
from obverse.reference import record


def density_from_transmittance(transmittance: ArrayLike) -> NDArray[np.float64]:
    """Transmittance density, D = -log10 T (definition of the ISO 5 series).

    Parameters
    ----------
    transmittance : array_like
        Fraction of light let through, greater than 0. Over 1 gives a negative density.

    Returns
    -------
    array
        Same shape.

    Raises
    ------
    InputError
        If any value is zero, negative or not a number: no density belongs to it.
    """
    t = np.asarray(transmittance, dtype=float)
    if not np.all(t > 0):
        raise InputError(
            "a transmittance must be greater than 0", where="transmittance", remedy="leave out patches without light"
        )
    result: NDArray[np.float64] = -np.log10(t)
    return result


def transmittance_from_density(density: ArrayLike) -> NDArray[np.float64]:
    """Fraction of light let through at `density`; layers of density add.

    Parameters
    ----------
    density : array_like
        Shape (N,).

    Returns
    -------
    array
        Same shape.
    """
    return 10.0 ** -np.asarray(density, dtype=float)


def projection_density(diffuse_density: ArrayLike, callier_q: float) -> NDArray[np.float64]:
    """Density that directed light meets: Callier's Q times the diffuse density.

    Parameters
    ----------
    diffuse_density : array_like
    callier_q : float
        Never below 1; grows with grain and with the degree of development.

    Returns
    -------
    array
        Same shape.

    Raises
    ------
    InputError
        If `callier_q` is below 1.
    """
    if not callier_q >= 1:
        raise InputError(
            f"Callier's Q is never below 1 (found {callier_q})", where="callier_q", remedy="give D specular / D diffuse"
        )
    return callier_q * np.asarray(diffuse_density, dtype=float)


def silver_callier_q() -> Estimate:
    """Q of silver images of unknown grain: the middle of the published range, the range as 90 %.

    Returns
    -------
    Estimate
    """
    low, high = record("callier-range").value
    middle = (low + high) / 2
    return Estimate(middle, (high - low) / 2 / Z90, low, high)
