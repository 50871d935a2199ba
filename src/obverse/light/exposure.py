"""From the subject to the film: camera equation, meter, zones, long exposures, filters, flash."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from obverse.foundation import InputError
from obverse.reference import number, record

Array = NDArray[np.float64]

STOP = math.log10(2.0)
# Zone V of the zone system is the metered mid-tone.
MIDDLE_ZONE = 5
# K of reflected-light meters (record ``meter-K``), and q of the camera equation as meters round it (record ``expo-q``).
METER_CONSTANT = 12.5
METER_Q = 0.65
# Transmittance, vignetting and angle of the lens that the camera equation stands for (record ``expo-q``).
LENS_TRANSMITTANCE, LENS_VIGNETTING, LENS_ANGLE_DEG = 0.9, 0.98, 10.0


def lens_factor(
    transmittance: float = LENS_TRANSMITTANCE,
    vignetting: float = LENS_VIGNETTING,
    angle_deg: float = LENS_ANGLE_DEG,
) -> float:
    """The q of the camera equation: (pi/4) T f_v cos^4 theta.

    The defaults are those of ISO 12232 as a published library carries them; they give 0.652
    (record ``expo-q``).

    Parameters
    ----------
    transmittance : float, optional
        Share of light that the glass passes.
    vignetting : float, optional
        Share that is left off the axis.
    angle_deg : float, optional
        Off the axis, degrees.

    Returns
    -------
    float
        q.
    """
    if not (0 < transmittance <= 1 and 0 < vignetting <= 1 and 0 <= angle_deg < 90):
        raise InputError(
            "a lens passes more than nothing and at most all of the light",
            where="lens",
            remedy="give fractions from 0 to 1 and an angle under 90",
        )
    return math.pi / 4 * transmittance * vignetting * math.cos(math.radians(angle_deg)) ** 4


def film_exposure_lx_s(luminance_cd_m2: ArrayLike, time_s: float, f_number: float, q: float | None = None) -> Array:
    """Exposure of the film, H = q L t / N^2, in lux seconds.

    Parameters
    ----------
    luminance_cd_m2 : array_like
        Of the subject, any shape; the answer has the same.
    time_s, f_number : float
        Greater than zero.
    q : float, optional
        `lens_factor()` where absent.

    Returns
    -------
    array
        lx s, of the shape of `luminance_cd_m2`.
    """
    light = np.asarray(luminance_cd_m2, dtype=float)
    _positive(time_s, "exposure time")
    _positive(f_number, "f-number")
    if np.any(~np.isfinite(light)) or np.any(light < 0):
        raise InputError("a luminance cannot be negative", where="luminance")
    return (lens_factor() if q is None else q) * light * time_s / f_number**2


def mid_exposure_lx_s(speed: float, meter_constant: float = METER_CONSTANT, q: float = METER_Q) -> float:
    """Exposure that a reflected-light meter gives the mid-tone: q K / S (records ``expo-Hg``, ``meter-K``).

    Parameters
    ----------
    speed : float
        ISO arithmetic.
    meter_constant : float, optional
        K of the meter.
    q : float, optional
        Of the camera equation.

    Returns
    -------
    float
        lx s.
    """
    _positive(speed, "speed")
    return q * meter_constant / speed


def exposure_value(luminance_cd_m2: float, speed: float, meter_constant: float = METER_CONSTANT) -> float:
    """The meter's reading log2(L S / K): 0 is f/1 at one second.

    Parameters
    ----------
    luminance_cd_m2 : float
        cd/m2.
    speed : float
        ISO arithmetic.
    meter_constant : float, optional
        K of the meter.

    Returns
    -------
    float
        Stops from f/1 at one second.
    """
    _positive(luminance_cd_m2, "luminance")
    _positive(speed, "speed")
    return math.log2(luminance_cd_m2 * speed / meter_constant)


def metered_luminance_cd_m2(
    f_number: float, time_s: float, speed: float, meter_constant: float = METER_CONSTANT
) -> float:
    """Luminance for which a meter answers this f-number and time: K N^2 / (t S).

    Parameters
    ----------
    f_number : float
        Greater than zero.
    time_s : float
        Seconds, greater than zero.
    speed : float
        ISO arithmetic.
    meter_constant : float, optional
        K of the meter.

    Returns
    -------
    float
        cd/m2.
    """
    for value, name in ((f_number, "f-number"), (time_s, "exposure time"), (speed, "speed")):
        _positive(value, name)
    return meter_constant * f_number**2 / (time_s * speed)


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
    _positive(box_speed, "box speed")
    _positive(exposure_index, "exposure index")
    return math.log10(box_speed / exposure_index)


def reciprocity_time_s(metered_s: ArrayLike, p: float, pivot_s: float = 1.0) -> Array:
    """Time to give where the meter says `metered_s`, after Schwarzschild: pivot (t / pivot)^(1/p).

    Parameters
    ----------
    metered_s : array_like
        Seconds. Times up to the pivot stay as they are.
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
    _positive(pivot_s, "pivot")
    t = np.asarray(metered_s, dtype=float)
    if np.any(~(t > 0)):
        raise InputError("an exposure time must be greater than 0", where="metered time")
    return np.where(t > pivot_s, pivot_s * (t / pivot_s) ** (1 / p), t)


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


def flash_f_number(
    guide_number_m: float, distance_m: float, exposure_index: float, guide_speed: float = 100.0
) -> float:
    """F-number for a flash: guide number over distance, the guide number growing as the root of the speed.

    Parameters
    ----------
    guide_number_m : float
        In metres, at `guide_speed`.

    Returns
    -------
    float
        Greater than zero.
    """
    for value, name in (
        (guide_number_m, "guide number"),
        (distance_m, "distance"),
        (exposure_index, "exposure index"),
        (guide_speed, "speed"),
    ):
        _positive(value, name)
    return guide_number_m * math.sqrt(exposure_index / guide_speed) / distance_m


def latitude_stops() -> float:
    """How far off an exposure may be before a slide shows it.

    Returns
    -------
    float
        Stops.
    """
    return number("wall.latitude")


def _positive(value: float, name: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise InputError(f"a {name} of {value:g} cannot be", where=name, remedy="give a number greater than 0")
