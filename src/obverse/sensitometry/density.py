"""Density, its layers, and what a condenser makes of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, InputError


def projection_density(diffuse_density: ArrayLike, callier_q: float) -> Array:
    """Density that directed light meets: Callier's Q times the diffuse density.

    Parameters
    ----------
    diffuse_density : array_like
        Of any shape.
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
