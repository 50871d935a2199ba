"""From the subject to the film: zones, long exposures, filters, flash."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, InputError
from obverse.light.given import positive
from obverse.reference import number, record

STOP = math.log10(2.0)
# Zone V of the zone system is the metered mid-tone.
MIDDLE_ZONE = 5


def zone_log_exposure(zone: ArrayLike) -> Array:
    """Log exposure of a zone against the metered mid-tone: zone V at 0, one stop (0.30103) a zone.

    Parameters
    ----------
    zone : array_like
        Zone number, 5 the metered mid-tone; any shape.

    Returns
    -------
    array
        log10, same shape.
    """
    return (np.asarray(zone, dtype=float) - MIDDLE_ZONE) * STOP


def index_shift(box_speed: float, exposure_index: float) -> float:
    """Log exposure that setting the meter to `exposure_index` adds to a film of `box_speed`.

    Parameters
    ----------
    box_speed : float
        ISO arithmetic, greater than zero.
    exposure_index : float
        What the meter is set to.

    Returns
    -------
    float
        log10; positive for more exposure.
    """
    positive(box_speed, "box speed")
    positive(exposure_index, "exposure index")
    return math.log10(box_speed / exposure_index)


def reciprocity_time_s(metered_s: ArrayLike, p: float) -> Array:
    """Time to give where the meter says `metered_s`, after Schwarzschild: t^(1/p), t in seconds.

    Parameters
    ----------
    metered_s : array_like
        Seconds. Times up to one second stay as they are.
    p : float
        Sources disagree: 0.86 or about 0.8, limits 0.7 to 1 (record ``recip-p``); it is not
        constant over long times either.

    Returns
    -------
    array
        s, of the shape of `metered_s`.
    """
    low, high = record("recip-p").value["limits"]
    if not low <= p <= high:
        raise InputError(
            f"a Schwarzschild p of {p:g} lies outside what was ever reported",
            where="p",
            remedy=f"give one from {low:g} to {high:g}",
        )
    t = np.asarray(metered_s, dtype=float)
    if np.any(~(t > 0)):
        raise InputError("an exposure time must be greater than 0", where="metered time")
    return np.where(t > 1, t ** (1 / p), t)


def reciprocity_spread() -> tuple[float, float, float]:
    """The p of the two sources and the upper limit on record: (low, usual, high).

    Returns
    -------
    tuple of float
    """
    said = record("recip-p").value
    return said["mees_1942_quotes"], said["schwarzschild_1900"], said["limits"][1]


def filter_stops(factor: float) -> float:
    """Stops that a filter factor costs.

    Parameters
    ----------
    factor : float
        As engraved on the mount, 1 or more.

    Returns
    -------
    float
        Stops, zero or more.
    """
    if not (math.isfinite(factor) and factor >= 1):
        raise InputError(
            f"a filter factor of {factor:g} cannot be",
            where="filter",
            remedy="give the factor engraved on the mount, 1 or more",
        )
    return math.log2(factor)


# Guide numbers are stated at this speed.
GUIDE_SPEED = 100.0


def flash_f_number(guide_number_m: float, distance_m: float, exposure_index: float) -> float:
    """F-number for a flash: guide number over distance, the guide number growing as the root of the speed.

    Parameters
    ----------
    guide_number_m : float
        In metres, as it is stated: at a speed of 100.

    Returns
    -------
    float
        Greater than zero.
    """
    for value, name in (
        (guide_number_m, "guide number"),
        (distance_m, "distance"),
        (exposure_index, "exposure index"),
    ):
        positive(value, name)
    return guide_number_m * math.sqrt(exposure_index / GUIDE_SPEED) / distance_m


def latitude_stops() -> float:
    """How far off an exposure may be before a slide shows it.

    Returns
    -------
    float
        Stops.
    """
    return number("wall.latitude")
