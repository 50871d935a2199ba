"""Answers that take long to reckon, kept at hand by all that they hang on."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar, cast

V = TypeVar("V")


class Remembered:
    """The answers asked for last; pages are made by several threads at once.

    Parameters
    ----------
    most : int
        Answers that are kept; of more the longest unasked goes.
    """

    def __init__(self, most: int):
        self._most = most
        self._answers: OrderedDict[Hashable, object] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, key: Hashable, work: Callable[[], V]) -> V:
        """The answer to a key: as it was reckoned before, or reckoned now.

        Parameters
        ----------
        key : hashable
            All that the answer hangs on, by value: what changes one of them is another question.
        work : callable
            Reckons it. Two threads may ask the same at once, and both reckon.
        """
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                return cast(V, self._answers[key])
        answer = work()
        with self._lock:
            self._answers[key] = answer
            if len(self._answers) > self._most:
                self._answers.popitem(last=False)
        return answer
