"""The clock door: the only place of the house that asks what time it is."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Protocol

from obverse.clock.watch import ClockLook, Slept, allowed_s, parted_s, slept_between
from obverse.system import Counter, boot_name, counters


class Clock(Protocol):
    """Anything that can say what time it is."""

    def now(self) -> datetime:
        """The present instant, aware, in UTC."""
        ...

    def steady_s(self) -> float:
        """Seconds since some fixed moment, whatever anybody does to the date."""
        ...

    def awake_s(self) -> float:
        """Seconds since some fixed moment, without those in which the computer slept."""
        ...

    def boot(self) -> str:
        """Names the stretch over which `steady_s` of two programs can be compared."""
        ...

    @property
    def counts_sleep(self) -> bool:
        """Whether the documentation of the system promises that `steady_s` goes on while the computer sleeps."""
        ...


class SystemClock:
    """The clock of this computer."""

    def now(self) -> datetime:
        """The present instant, aware, in UTC."""
        return datetime.now(UTC)

    def steady_s(self) -> float:
        """Seconds since the computer was started, whatever anybody does to the date; in sleep too where the system can."""
        return _counters()[0].read_s()

    def awake_s(self) -> float:
        """Seconds since the computer was started in which it was awake."""
        return _counters()[1].read_s()

    def boot(self) -> str:
        """Changes when the computer is started anew."""
        return _boot()

    @property
    def counts_sleep(self) -> bool:
        """Whether the documentation of the system promises that `steady_s` goes on while the computer sleeps."""
        return _counters()[0].counts_sleep


class FixedClock:
    """A clock that stands still until it is moved; for tests and rehearsals.

    Parameters
    ----------
    start : datetime
        An aware instant; it is kept in UTC.
    counts_sleep : bool
        Whether its steady count goes on while its computer sleeps.
    """

    def __init__(self, start: datetime, *, counts_sleep: bool = True):
        if start.tzinfo is None:
            raise ValueError("a fixed clock needs an aware datetime")
        self._now = start.astimezone(UTC)
        self._steady_s = 0.0
        self._awake_s = 0.0
        self._counts_sleep = counts_sleep
        self._boots = 0

    def now(self) -> datetime:
        """The instant the clock was last moved to."""
        return self._now

    def advance(self, seconds: float) -> datetime:
        """Move by `seconds` and return the new instant. Negative: somebody sets the clock back."""
        self._now += timedelta(seconds=seconds)
        self._steady_s += max(0.0, seconds)
        self._awake_s += max(0.0, seconds)
        return self._now

    def sleep(self, seconds: float) -> None:
        """The lid is closed so long."""
        self._now += timedelta(seconds=seconds)
        self._steady_s += seconds if self._counts_sleep else 0.0

    def set_date(self, seconds: float) -> None:
        """Somebody, or the network, sets the date on by `seconds`, or back; no time goes by."""
        self._now += timedelta(seconds=seconds)

    def start_anew(self, seconds: float) -> None:
        """The computer is shut down, and started again `seconds` later."""
        self._now += timedelta(seconds=seconds)
        self._steady_s = self._awake_s = 0.0
        self._boots += 1

    def steady_s(self) -> float:
        """Seconds that were advanced; setting the clock does not touch it."""
        return self._steady_s

    def awake_s(self) -> float:
        """Seconds that were advanced and not slept."""
        return self._awake_s

    def boot(self) -> str:
        """One fixed clock is one stretch until it is started anew."""
        return f"fixed-{id(self)}-{self._boots}"

    @property
    def counts_sleep(self) -> bool:
        """As it was made."""
        return self._counts_sleep


@cache
def _counters() -> tuple[Counter, Counter]:
    return counters()


@cache
def _boot() -> str:
    # Where the system names no start, only this very program can compare its own readings.
    return boot_name() or f"process-{time.time_ns()}"


def look_at(clock: Clock) -> ClockLook:
    """What all counts of a clock say now.

    Parameters
    ----------
    clock : Clock
        Of this computer, or of a test.

    Returns
    -------
    ClockLook
        Date, steady count, count of the time awake, and the start they belong to.
    """
    return ClockLook(
        date_s=clock.now().timestamp(), steady_s=clock.steady_s(), awake_s=clock.awake_s(), boot=clock.boot()
    )


__all__ = [
    "Clock",
    "ClockLook",
    "FixedClock",
    "Slept",
    "SystemClock",
    "allowed_s",
    "look_at",
    "parted_s",
    "slept_between",
]
