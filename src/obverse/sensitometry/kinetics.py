"""How contrast grows with time, and time with temperature."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from obverse.foundation import InputError


def gamma_at(time_min: ArrayLike, gamma_infinity: float, rate_per_min: float) -> NDArray[np.float64]:
    """Gamma after development: gamma_inf (1 - exp(-k t)).

    Form after Sheppard and Mees (1907) and Nietz (1922), from memory.
    """
    return gamma_infinity * -np.expm1(-rate_per_min * np.asarray(time_min, dtype=float))


def rate_from_two_gammas(time_min: float, gamma: float, gamma_at_double_time: float) -> tuple[float, float]:
    """Rate k per minute and gamma_inf from gammas at one time and at twice that time.

    Raises
    ------
    InputError
        Unless gamma < gamma_at_double_time < 2 gamma, which the relation demands.
    """
    if not (time_min > 0 and 0 < gamma < gamma_at_double_time < 2 * gamma):
        raise InputError(
            f"gammas {gamma} and {gamma_at_double_time} at one and two times do not fit the law of growing contrast",
            where="gamma",
            remedy="the second must lie between the first and its double",
        )
    rate = math.log(gamma / (gamma_at_double_time - gamma)) / time_min
    return rate, gamma**2 / (2 * gamma - gamma_at_double_time)


def time_at_temperature(time_at_20c_min: float, temperature_c: float, q10: float) -> float:
    """Time in minutes that does at `temperature_c` what `time_at_20c_min` does at 20 C."""
    if not (time_at_20c_min > 0 and q10 > 0):
        raise InputError("time and Q10 must be greater than 0", where="time")
    return time_at_20c_min * q10 ** ((20.0 - temperature_c) / 10.0)


def q10_from_table(temperature_c: ArrayLike, time_min: ArrayLike) -> float:
    """Q10 of a time-temperature table by least squares of ln time on temperature."""
    t, m = np.asarray(temperature_c, dtype=float), np.asarray(time_min, dtype=float)
    if t.size < 2 or t.shape != m.shape or np.ptp(t) == 0 or not np.all(m > 0):
        raise InputError("a Q10 needs two temperatures with times greater than 0", where="time table")
    return float(np.exp(-10.0 * np.polyfit(t, np.log(m), 1)[0]))
