"""A connection that never waits for ever: a server that hangs is given up after a while."""

from __future__ import annotations

import time
from collections.abc import Generator
from typing import Any, TypeVar

import psycopg
from psycopg.waiting import Ready

# A little longer than the server itself lets a statement take: it hangs, if it does not even say so.
SILENCE_S = 8.0

T = TypeVar("T")


class PatientConnection(psycopg.Connection[Any]):
    """As its base; a server from which nothing comes for `silence_s` is held to be gone."""

    silence_s = SILENCE_S
    # When the server answered last, by the monotonic clock.
    answered_at = float("-inf")

    def wait(self, gen: Generator[Any, Any, T], *how: Any, **named: Any) -> T:
        """Wait for the server, but not for ever.

        Raises
        ------
        psycopg.OperationalError
            If nothing came for `silence_s`; the connection is closed then.
        """
        return super().wait(self._watched(gen), *how, **named)

    def _watched(self, gen: Generator[Any, Any, T]) -> Generator[Any, Any, T]:
        try:
            asked = next(gen)
            until = time.monotonic() + self.silence_s
            while True:
                ready = yield asked
                now = time.monotonic()
                if ready:
                    until = now + self.silence_s
                    # That something can be sent is no answer yet.
                    self.answered_at = now if ready & Ready.R else self.answered_at
                elif now > until:
                    self.close()
                    raise psycopg.OperationalError("the server does not answer")
                asked = gen.send(ready)
        except StopIteration as end:
            return end.value  # type: ignore[no-any-return]
