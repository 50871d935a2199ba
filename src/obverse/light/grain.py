"""Granularity: how the spread of density changes with the area it is looked at through."""

from __future__ import annotations

import math

from obverse.foundation import InputError

# The round aperture in which an rms granularity is stated (record ``rms-def``).
APERTURE_UM = 48.0


def selwyn_constant_um(density_sd: float, aperture_um: float = APERTURE_UM) -> float:
    """Selwyn's G = sigma sqrt(2 A), A the area of a round aperture in square micrometres (from memory).

    Parameters
    ----------
    density_sd : float
        Standard deviation of density through the aperture.
    aperture_um : float, optional
        Diameter, micrometres.

    Returns
    -------
    float
        um.
    """
    _positive(aperture_um)
    return density_sd * math.sqrt(2 * math.pi * (aperture_um / 2) ** 2)


def density_sd(rms_granularity: float, area_um2: float) -> float:
    """Spread of density through an aperture of `area_um2`, of a film whose rms granularity is stated at 48 um.

    Parameters
    ----------
    rms_granularity : float
        1000 times the spread at mean density 1.0.

    Returns
    -------
    float
        Standard deviation of density.
    """
    if not rms_granularity >= 0:
        raise InputError(
            f"a granularity of {rms_granularity:g} cannot be", where="granularity", remedy="give 0 or more"
        )
    _positive(area_um2)
    return selwyn_constant_um(rms_granularity / 1000) / math.sqrt(2 * area_um2)


def _positive(value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise InputError("an aperture must be greater than 0", where="aperture")
