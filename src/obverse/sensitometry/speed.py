"""Speeds: the arithmetic of ISO 6, and the mid-curve rule borrowed from ISO 2240."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from obverse.foundation import InputError
from obverse.reference import number, record

WHY_NOT_ISO6 = (
    "ISO 6 defines the speed of a negative: 0.10 over base and fog, when 1.30 log exposure further is 0.80 denser. "
    "A reversal strip falls with exposure and has no such point, so the mid-curve rule is used; "
    "it borrows ISO 2240, which is written for colour reversal, and its points are given here from memory."
)
# Constant of S = 10 / Hm (record "iso2240-const": from memory).
REVERSAL_CONSTANT = record("iso2240-support").inputs["H0"]
# ISO 6:1993: S = 0.8 / Hm, and where the second point lies (records ``iso6-const``, ``iso6-crit``).
ISO6_CONSTANT = 0.8
ISO6_SECOND_POINT = 1.30
MID_CURVE_STANDING = record("iso2240-points").source.standing


def speed_iso6(log_h_m: float) -> float:
    """Arithmetic speed 0.8 / Hm, Hm in lux seconds. ISO 6:1993, looked up.

    Parameters
    ----------
    log_h_m : float
        log10 of the exposure at the speed point, lux seconds.

    Returns
    -------
    float
        ISO arithmetic.
    """
    return ISO6_CONSTANT / 10**log_h_m


def speed_reversal(log_h_m: ArrayLike) -> float | NDArray[np.float64]:
    """Arithmetic speed 10 / Hm of a reversal film, Hm in lux seconds (constant from memory).

    Parameters
    ----------
    log_h_m : array_like
        log10 lux seconds, any shape.

    Returns
    -------
    float or array
        ISO arithmetic, same shape.
    """
    result: float | NDArray[np.float64] = REVERSAL_CONSTANT / 10 ** np.asarray(log_h_m, dtype=float)
    return result


def degrees(speed: float) -> int:
    """Logarithmic speed: 1 + 10 log10 S, to the nearest degree.

    Parameters
    ----------
    speed : float
        ISO arithmetic, greater than zero.

    Returns
    -------
    int
    """
    if not speed > 0:
        raise InputError(f"a speed must be greater than 0 (found {speed})", where="speed")
    return math.floor(1 + 10 * math.log10(speed) + 0.5)


def iso_words(speed: float) -> str:
    """Such as "100/21": the standard value of the nearest degree.

    Parameters
    ----------
    speed : float
        ISO arithmetic.

    Returns
    -------
    str
    """
    deg = degrees(speed)
    table = record("iso-table")
    if deg not in table.inputs["deg"]:
        return f"{speed:.3g}/{deg}"
    return f"{table.value[table.inputs['deg'].index(deg)]:g}/{deg}"


def metered_exposure_lx_s(box_speed: float) -> float:
    """Exposure in lux seconds that a meter gives its mid-tone: q K / S, with q 0.65 and K 12.5.

    Parameters
    ----------
    box_speed : float
        ISO arithmetic, greater than zero.

    Returns
    -------
    float
        lx s.
    """
    if not box_speed > 0:
        raise InputError(f"a box speed must be greater than 0 (found {box_speed})", where="box speed")
    facts = record("expo-Hg")
    return float(facts.number * facts.inputs["S"] / box_speed)


def iso6_from_negative(log_h: ArrayLike, density: ArrayLike) -> float:
    """ISO 6 speed of a NEGATIVE from its curve, log H in log10 lux seconds.

    Parameters
    ----------
    log_h : array_like
        log10 lux seconds, shape (N,), in any order.
    density : array_like
        With base, shape (N,).

    Returns
    -------
    float
        ISO arithmetic.

    Raises
    ------
    InputError
        If the curve falls (a reversal strip), does not reach the two points, or was not developed
        to 0.80 +- 0.05 over 1.30: then ISO 6 gives no speed.
    """
    x, d = np.asarray(log_h, dtype=float), np.asarray(density, dtype=float)
    if x.ndim != 1 or x.shape != d.shape or x.size < 3:
        raise InputError("a speed needs three or more points of a curve", where="curve")
    order = np.argsort(x)
    x, d = x[order], d[order]
    if d[-1] < d[0]:
        raise InputError("ISO 6 does not apply to a curve that falls", where="curve", remedy="use the mid-curve rule")
    high = d.min() + 0.10
    above = np.flatnonzero(d >= high)
    if d[0] >= high or above.size == 0:
        raise InputError("the curve does not cross 0.10 over base and fog", where="curve")
    i = above[0]
    log_h_m = x[i - 1] + (high - d[i - 1]) * (x[i] - x[i - 1]) / (d[i] - d[i - 1])
    if log_h_m + ISO6_SECOND_POINT > x[-1]:
        raise InputError("the curve ends before 1.30 past the speed point", where="curve", remedy="give more exposure")
    rise = float(np.interp(log_h_m + ISO6_SECOND_POINT, x, d)) - high
    criterion = record("iso6-crit")
    if abs(rise - criterion.number) > criterion.allowed + 1e-9:
        raise InputError(
            f"1.30 past the speed point the density rises by {rise:.2f}, not {criterion.number:.2f} +- {criterion.allowed:.2f}",
            where="development",
            remedy="ISO 6 gives no speed for this development",
        )
    return speed_iso6(log_h_m)


def reversal_points() -> tuple[float, float]:
    """Densities over Dmin of the low and the high point of the mid-curve rule (from memory)."""
    value = record("iso2240-points").value
    return value["low_over_Dmin"], value["high_over_Dmin"]


def offset_of_reversal_point() -> float:
    """Log exposure by which a reversal speed point lies over the metered mid-tone at equal speed."""
    return math.log10(REVERSAL_CONSTANT / (number("expo-Hg") * record("expo-Hg").inputs["S"]))
