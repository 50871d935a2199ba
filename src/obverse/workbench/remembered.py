"""Answers that take long to reckon, kept at hand by all that they hang on."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar, cast

V = TypeVar("V")
# Seconds for which an answer is used again without looking whether another program wrote into the book.
AT_HAND_S = 2.0


class Remembered:
    """The answers asked for last; pages are made by several threads at once, and reckon one after another.

    What many ask for at the same time is reckoned once, and thirty who ask for different things do not hold each other
    up: the first has its answer as soon as if it were alone.

    Parameters
    ----------
    most : int
        Answers that are kept; of more the longest unasked goes.
    """

    def __init__(self, most: int):
        self._most = most
        self._answers: OrderedDict[Hashable, object] = OrderedDict()
        self._lock = threading.Lock()
        # What is reckoned may ask for something that is remembered here, too.
        self._reckons = threading.RLock()

    def of(self, key: Hashable, work: Callable[[], V]) -> V:
        """The answer to a key: as it was reckoned before, or reckoned now.

        Parameters
        ----------
        key : hashable
            All that the answer hangs on, by value: what changes one of them is another question.
        work : callable
            Reckons it; it may ask here for other keys.
        """
        known, answer = self._known(key)
        if known:
            return cast(V, answer)
        with self._reckons:
            # Whoever stood before may have asked for the same.
            known, answer = self._known(key)
            if not known:
                answer = work()
                self._keep(key, answer)
        return cast(V, answer)

    def _known(self, key: Hashable) -> tuple[bool, object]:
        with self._lock:
            if key not in self._answers:
                return False, None
            self._answers.move_to_end(key)
            return True, self._answers[key]

    def _keep(self, key: Hashable, answer: object) -> None:
        with self._lock:
            self._answers[key] = answer
            if len(self._answers) > self._most:
                self._answers.popitem(last=False)
