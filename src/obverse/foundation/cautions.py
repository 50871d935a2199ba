"""Cautions: what a person must be told, carried from where it arises to the screen."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

T = TypeVar("T")


class Level(StrEnum):
    """How loud a caution is. `REFUSED` never comes with a result."""

    NOTE = "note"
    CAUTION = "caution"
    DANGER = "danger"


# So many cautions stand open on a screen, by the terminal and on paper; more are no longer read.
MOST_OPEN = 3
_LOUDEST_FIRST = (Level.DANGER, Level.CAUTION, Level.NOTE)


def open_and_folded(
    told: Iterable[T], level: Callable[[T], str], *, kinds: Callable[[T], Iterable[str]] = lambda _: ()
) -> tuple[tuple[T, ...], tuple[T, ...]]:
    """What stands open, the loudest first and each of another kind, and what is folded away behind it.

    Parameters
    ----------
    told : iterable
        Cautions of any kind; those of one level stay in their order.
    level : callable
        How loud one of them is: a value of `Level`.
    kinds : callable, optional
        Names of what one of them is about; whoever shares a name with one that stands open is folded.

    Returns
    -------
    tuple of tuple
        At most `MOST_OPEN`, and the rest.
    """
    shown: list[T] = []
    rest: list[T] = []
    named: set[str] = set()
    for one in sorted(told, key=lambda one: _LOUDEST_FIRST.index(Level(level(one)))):
        names = set(kinds(one))
        if len(shown) < MOST_OPEN and not names & named:
            shown.append(one)
            named |= names
        else:
            rest.append(one)
    return tuple(shown), tuple(rest)


class Deferral(StrEnum):
    """What only says who is heard before us: a page that says so at its foot need not repeat it."""

    FIRST = "Labels, safety data sheets and local codes come first."
    BEFORE_THIS = "Labels, safety data sheets and local codes come before anything written here."
    WHERE_THEY_SAY = "Labels, safety data sheets and local codes come first; what is left goes where they say."

    @classmethod
    def is_said_by(cls, text: str) -> bool:
        """Whether a text is one of them, whole."""
        return text in frozenset[str](cls)


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to be told, at the line where it applies.

    Parameters
    ----------
    code : str
        Stable short name, such as ``"temperature.step"``.
    text : str
        One sentence in plain words.
    where : str
        The step, bath, patch or line it belongs to; may be empty.
    source : str
        Key of the reference record it rests on; may be empty.
    """

    code: str
    text: str
    level: Level = Level.CAUTION
    where: str = ""
    source: str = ""

    def document(self) -> dict[str, str]:
        """The JSON shape."""
        return {
            "code": self.code,
            "text": self.text,
            "level": self.level.value,
            "where": self.where,
            "source": self.source,
        }
