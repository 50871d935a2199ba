"""Temperature and time: the law of the first developer, and what a run truly did."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from obverse.foundation import Estimate, InputError
from obverse.process import TEMPERATURE
from obverse.reference import number, record
from obverse.run.saying import Saying

# Tables of first-developer times of reversal processes, and an older text's coefficient brought to 10 C.
# Fahrenheit of freezing water, and of one kelvin.
_FAHRENHEIT_ZERO, _FAHRENHEIT_PER_C = 32, 1.8
_Q10_RECORDS = (("q10-1938", "Q10_least_squares"), ("q10-bookA", "Q10_least_squares"), ("ives-temp-coeff", "Q10"))


def kappa_per_c() -> Estimate:
    """Temperature coefficient kappa of the rate of development, per kelvin: rate ~ exp(kappa (T - T0)).

    The mean of ln Q10 / 10 over the tables of the reference. Its standard uncertainty is that of a
    film the tables do not know: the larger of their spread and of an even chance over the range of
    Q10 that is published for photographic reactions (record ``q10-range``).
    """
    logs = [math.log(record(key).value[field]) / 10 for key, field in _Q10_RECORDS]
    mean = math.fsum(logs) / len(logs)
    spread = math.sqrt(math.fsum((x - mean) ** 2 for x in logs) / (len(logs) - 1) * (1 + 1 / len(logs)))
    low, high = record("q10-range").value["homogeneous_reactions"]
    even = math.log(high / low) / 10 / math.sqrt(12)
    return Estimate(mean, max(spread, even))


def checked_temperature(temperature_c: float, where: str = "temperature") -> float:
    """A bath temperature for which times are computed.

    Raises
    ------
    InputError
        Outside 16 to 26 C, with the reason.
    """
    low, high = number("practice.run.temperature_low_c"), number("practice.run.temperature_high_c")
    if not math.isfinite(temperature_c):
        raise InputError(f"{temperature_c} is not a temperature", where=where, remedy="give degrees Celsius")
    if temperature_c < low:
        raise InputError(
            f"{temperature_c:g} C is too cold: below {low:g} C some developing agents hardly work and no table gives a time",
            where=where,
            remedy=f"warm the baths to between {low:g} and {high:g} C",
        )
    if temperature_c > high:
        raise InputError(
            f"{temperature_c:g} C is too warm: above {high:g} C gelatin softens, fog grows and no table gives a time",
            where=where,
            remedy=f"cool the baths to between {low:g} and {high:g} C",
        )
    return float(temperature_c)


@dataclass(frozen=True, slots=True)
class TemperatureDoubt:
    """A temperature that hardly any bath has.

    Parameters
    ----------
    temperature_c : float
        As it was given, taken as Celsius.
    from_fahrenheit_c : float or None
        What it would be had it been read in Fahrenheit, where that makes sense.
    """

    temperature_c: float
    from_fahrenheit_c: float | None


def doubt_about(temperature_c: float, *, of_a_bath: bool) -> TemperatureDoubt | None:
    """Whether to ask once more before a temperature is kept; None for one that can well be.

    Parameters
    ----------
    of_a_bath : bool
        It was read in a bath or a rinse of the film. Elsewhere (mixing, drying) warmer is usual.

    Notes
    -----
    Limits: records ``practice.run.asked_*``, common practice without a source.
    """
    which = "bath" if of_a_bath else "elsewhere"
    low_c, high_c = number(f"practice.run.asked_{which}_low_c"), number(f"practice.run.asked_{which}_high_c")
    if low_c <= temperature_c <= high_c:
        return None
    celsius = (temperature_c - _FAHRENHEIT_ZERO) / _FAHRENHEIT_PER_C
    bath = number("practice.run.asked_bath_low_c"), number("practice.run.asked_bath_high_c")
    return TemperatureDoubt(temperature_c, round(celsius, 1) if bath[0] <= celsius <= bath[1] else None)


def compensated_time_s(time_s: float, at_c: float, temperature_c: float) -> Estimate:
    """Time at `temperature_c` that does what `time_s` does at `at_c`, in seconds.

    The uncertainty is that of kappa alone. Law: record ``temp.law``.
    """
    kappa = kappa_per_c()
    value = time_s * math.exp(-kappa.value * (temperature_c - at_c))
    return Estimate(value, value * abs(temperature_c - at_c) * kappa.sd)


@dataclass(frozen=True, slots=True)
class TemperatureNote:
    """A temperature that was read: seconds on the same clock as the bath, degrees Celsius."""

    at_s: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class EffectiveDevelopment:
    """What a first development amounts to.

    Parameters
    ----------
    time_min : Estimate
        Minutes at `temperature_c` that do the same.
    temperature_c : Estimate
        Mean over the bath.
    noted : int
        How many readings it rests on; 0 takes the planned temperature.
    """

    time_min: Estimate
    temperature_c: Estimate
    noted: int


def effective_development(
    poured_s: float, drained_s: float, notes: Sequence[TemperatureNote], planned_c: float, *, handling_s: float = 0.0
) -> EffectiveDevelopment:
    """Integrate exp(kappa (T - mean T)) over the bath.

    Between readings the temperature runs straight, before the first and after the last it holds.

    Parameters
    ----------
    handling_s : float
        Pouring in and out together; film is wetted and bared during them, not at one instant.
    """
    if not drained_s > poured_s:
        raise InputError("a development cannot end before it begins", where="first development")
    kappa = kappa_per_c()
    # Readings before the bath was poured or after it was drained still tell of its ends.
    told = sorted(notes, key=lambda note: note.at_s)
    reading_sd = float(TEMPERATURE.dosing.sd(planned_c))
    if told:
        sd_c = reading_sd
        points = _within(told, poured_s, drained_s)
    else:
        sd_c = number("practice.run.temperature_unnoted_sd_c")
        points = [TemperatureNote(poured_s, planned_c), TemperatureNote(drained_s, planned_c)]
    duration_s = drained_s - poured_s
    mean_c = (
        math.fsum(0.5 * (a.temperature_c + b.temperature_c) * (b.at_s - a.at_s) for a, b in itertools.pairwise(points))
        / duration_s
    )
    theta_s = math.fsum(_ramp(a, b, mean_c, kappa.value) for a, b in itertools.pairwise(points))
    touch_s = number("practice.run.acknowledge_sd_s") * math.sqrt(2)
    handling_sd_s = handling_s / math.sqrt(12)
    # Around the mean the first-order effect of kappa vanishes; what is left is its effect on the ramp.
    ramp_sd_s = abs(theta_s - duration_s) / kappa.value * kappa.sd
    time_sd_s = math.hypot(touch_s, handling_sd_s, ramp_sd_s)
    return EffectiveDevelopment(Estimate(theta_s / 60, time_sd_s / 60), Estimate(mean_c, sd_c), len(told))


def _within(told: Sequence[TemperatureNote], start_s: float, end_s: float) -> list[TemperatureNote]:
    inside = [note for note in told if start_s < note.at_s < end_s]
    return [TemperatureNote(start_s, _at(told, start_s)), *inside, TemperatureNote(end_s, _at(told, end_s))]


def _at(told: Sequence[TemperatureNote], at_s: float) -> float:
    if at_s <= told[0].at_s:
        return told[0].temperature_c
    for a, b in itertools.pairwise(told):
        if at_s <= b.at_s:
            share = 0.0 if b.at_s == a.at_s else (at_s - a.at_s) / (b.at_s - a.at_s)
            return a.temperature_c + share * (b.temperature_c - a.temperature_c)
    return told[-1].temperature_c


def _ramp(a: TemperatureNote, b: TemperatureNote, mean_c: float, kappa: float) -> float:
    """Integral of exp(kappa (T - mean)) over a straight run of temperature."""
    seconds = b.at_s - a.at_s
    rise = kappa * (b.temperature_c - a.temperature_c)
    start = math.exp(kappa * (a.temperature_c - mean_c))
    return seconds * start * (math.expm1(rise) / rise if abs(rise) > 1e-9 else 1.0)


def temperature_step(before_c: float, after_c: float, *, soft: bool) -> Saying | None:
    """What there is to say where two baths that follow each other differ; None where they are near enough.

    Parameters
    ----------
    soft : bool
        The film has been through acid permanganate: its gelatin is soft.

    Notes
    -----
    A swollen emulsion may wrinkle, a soft one come off: record ``temp.reticulation``.
    """
    limit_c = number("practice.run.temperature_step_c")
    difference_c = after_c - before_c
    if abs(difference_c) <= limit_c:
        return None
    return Saying(kind="temperature_step", difference_c=difference_c, high_c=limit_c, soft=soft)


# How grave such a step is: where the gelatin is not soft, and where it is.
STEP_LEVEL: dict[bool, Literal["caution", "danger"]] = {False: "caution", True: "danger"}
