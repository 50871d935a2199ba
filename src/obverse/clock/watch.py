"""Date against steady count: whether they have parted, and what a sleep in between did to each. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# Less than this is no matter at a sink, and the network sets a date by less.
ALLOWED_S = 3.0
# Two quartzes of a laptop part by no more than this share of the time (100 ppm each, from memory).
ALLOWED_SHARE = 2e-4
# A trial with a shorter sleep proves nothing: it may have been a busy moment.
LEAST_SLEEP_S = 20.0
# How far a count may be off after a sleep; waking takes a moment, and clocks are read one after the other.
COUNTED_WITHIN_S = 2.0


@dataclass(frozen=True, slots=True)
class ClockLook:
    """What the counts of one computer said at one moment.

    Parameters
    ----------
    date_s : float
        Seconds since 1970 UTC by the date.
    steady_s, awake_s : float
        Seconds since some fixed moment; the second without those in which the computer slept.
    boot : str
        Readings of different names are never compared.
    """

    date_s: float
    steady_s: float
    awake_s: float
    boot: str


@dataclass(frozen=True, slots=True)
class Slept:
    """What came of a sleep.

    Parameters
    ----------
    verdict : {"counted", "stood", "no_sleep", "date_set", "started_anew"}
        The steady count went on; it stood still; the computer did not sleep; the date was set meanwhile; the
        computer was started anew.
    slept_s : float
        How long the computer slept, by its date; of ``date_set`` by its steady count.
    missed_s : float
        How much of it the steady count missed.
    """

    verdict: Literal["counted", "stood", "no_sleep", "date_set", "started_anew"]
    slept_s: float = 0.0
    missed_s: float = 0.0


def allowed_s(elapsed_s: float) -> float:
    """How far date and steady count may part over a time without anybody being told.

    Parameters
    ----------
    elapsed_s : float
        The time by the steady count.

    Returns
    -------
    float
        Seconds.
    """
    return ALLOWED_S + ALLOWED_SHARE * abs(elapsed_s)


def parted_s(date_s: float, steady_s: float, date_now_s: float, steady_now_s: float) -> float:
    """How far the date has gone ahead of the steady count since both were read; 0 where it is no matter.

    Parameters
    ----------
    date_s, steady_s : float
        Both as they were then, in seconds.
    date_now_s, steady_now_s : float
        Both as they are now.

    Returns
    -------
    float
        Seconds. Positive: the computer slept and its steady count stood, or the date was set ahead. Negative: the date was
        set back.
    """
    elapsed_s = steady_now_s - steady_s
    ahead_s = (date_now_s - date_s) - elapsed_s
    return ahead_s if abs(ahead_s) > allowed_s(elapsed_s) else 0.0


def slept_between(before: ClockLook, after: ClockLook) -> Slept:
    """What happened to the counts between two looks.

    Parameters
    ----------
    before, after : ClockLook
        One before the lid was closed, one after it was opened.

    Returns
    -------
    Slept
        What the two show together.
    """
    if before.boot != after.boot:
        return Slept("started_anew")
    date_s, steady_s, awake_s = (
        after.date_s - before.date_s,
        after.steady_s - before.steady_s,
        after.awake_s - before.awake_s,
    )
    counted_s, slept_s = steady_s - awake_s, date_s - awake_s
    if max(counted_s, slept_s) < LEAST_SLEEP_S:
        return Slept("no_sleep", max(0.0, slept_s))
    missed_s = slept_s - counted_s
    if abs(missed_s) <= COUNTED_WITHIN_S:
        return Slept("counted", slept_s)
    if counted_s >= LEAST_SLEEP_S:
        # It did count; what differs is the date.
        return Slept("date_set", counted_s)
    return Slept("stood", slept_s, missed_s)
