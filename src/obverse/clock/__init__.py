"""The clock door: the only place of the house that asks what time it is."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Protocol

# On Linux this one goes on while the computer sleeps; elsewhere the steady clock may stand then.
_STEADY = getattr(time, "CLOCK_BOOTTIME", None)


class Clock(Protocol):
    """Anything that can say what time it is."""

    def now(self) -> datetime:
        """The present instant, aware, in UTC."""
        ...

    def steady_s(self) -> float:
        """Seconds since some fixed moment, whatever anybody does to the date."""
        ...

    def boot(self) -> str:
        """Names the stretch over which `steady_s` of two programs can be compared."""
        ...


class SystemClock:
    """The clock of this computer."""

    def now(self) -> datetime:
        """The present instant, aware, in UTC."""
        return datetime.now(UTC)

    def steady_s(self) -> float:
        """Seconds since the computer was started, whatever anybody does to the date."""
        return time.monotonic() if _STEADY is None else time.clock_gettime(_STEADY)

    def boot(self) -> str:
        """Changes when the computer is started anew."""
        return _boot()


class FixedClock:
    """A clock that stands still until it is moved; for tests and rehearsals.

    Parameters
    ----------
    start : datetime
        An aware instant; it is kept in UTC.
    """

    def __init__(self, start: datetime):
        if start.tzinfo is None:
            raise ValueError("a fixed clock needs an aware datetime")
        self._now = start.astimezone(UTC)
        self._steady_s = 0.0

    def now(self) -> datetime:
        """The instant the clock was last moved to."""
        return self._now

    def advance(self, seconds: float) -> datetime:
        """Move by `seconds` and return the new instant. Negative: somebody sets the clock back."""
        self._now += timedelta(seconds=seconds)
        self._steady_s += max(0.0, seconds)
        return self._now

    def steady_s(self) -> float:
        """Seconds that were advanced; setting the clock back does not touch it."""
        return self._steady_s

    def boot(self) -> str:
        """One fixed clock is one stretch."""
        return f"fixed-{id(self)}"


@cache
def _boot() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        # No such file on this system: only this very program can compare its own readings.
        return f"process-{time.time_ns()}"


__all__ = ["Clock", "FixedClock", "SystemClock"]
