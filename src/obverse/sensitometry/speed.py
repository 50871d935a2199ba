"""Speeds: the mid-curve rule borrowed from ISO 2240."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, InputError
from obverse.reference import record

WHY_NOT_ISO6 = (
    "ISO 6 defines the speed of a negative: 0.10 over base and fog, when 1.30 log exposure further is 0.80 denser. "
    "A reversal strip falls with exposure and has no such point, so the mid-curve rule is used; "
    "it borrows ISO 2240, which is written for colour reversal, and its points are given here from memory."
)
# Constant of S = 10 / Hm (record "iso2240-const": from memory).
REVERSAL_CONSTANT = record("iso2240-support").inputs["H0"]
MID_CURVE_STANDING = record("iso2240-points").source.standing


def speed_reversal(log_h_m: ArrayLike) -> float | Array:
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
    result: float | Array = REVERSAL_CONSTANT / 10 ** np.asarray(log_h_m, dtype=float)
    return result


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


def reversal_points() -> tuple[float, float]:
    """Densities over Dmin of the low and the high point of the mid-curve rule (from memory)."""
    value = record("iso2240-points").value
    return value["low_over_Dmin"], value["high_over_Dmin"]
