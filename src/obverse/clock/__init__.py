"""The clock door: the only place of the house that asks what time it is."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """Anything that can say what time it is."""

    def now(self) -> datetime:
        """The present instant, aware, in UTC."""
        ...


class SystemClock:
    """The clock of this computer."""

    def now(self) -> datetime:
        """The present instant, aware, in UTC."""
        return datetime.now(UTC)


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

    def now(self) -> datetime:
        """The instant the clock was last moved to."""
        return self._now

    def advance(self, seconds: float) -> datetime:
        """Move by `seconds` (negative moves back) and return the new instant."""
        self._now += timedelta(seconds=seconds)
        return self._now


__all__ = ["Clock", "FixedClock", "SystemClock"]
