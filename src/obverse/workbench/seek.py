"""Finding in a long list: by words, in an order, what is in use or what was put aside, a part at a time."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Literal, TypeVar

from pydantic import Field

from obverse.foundation import Document, InputError
from obverse.process import unaccented

if TYPE_CHECKING:
    from obverse.store import Stored

T = TypeVar("T")
D = TypeVar("D", bound=Document)

# So many stand on a page: few enough to be read on a phone, enough for most notebooks.
MOST_ON_A_PAGE = 40


class ListAsked(Document):
    """What a person asks of a list; each field is a part of the page's address."""

    find: str = Field(default="", max_length=200, description="words that must all stand in it, in any order")
    sort: str = Field(default="", max_length=60, description="name of an order; empty: the first of the list")
    shown: Literal["in_use", "aside"] = "in_use"
    part: int = Field(default=1, ge=1, le=100_000, description="which part of a long list, from 1")


@dataclass(frozen=True, slots=True)
class ListedBy(Generic[T]):
    """How things of one kind are found and put in order.

    Parameters
    ----------
    text : callable
        All that is searched of a thing.
    orders : mapping
        By name as a person reads it, the key to sort by; the first is the usual one.
    """

    text: Callable[[T], str]
    orders: Mapping[str, Callable[[T], Any]]


@dataclass(frozen=True, slots=True)
class Found(Generic[D]):
    """A part of a list as it was asked for.

    Parameters
    ----------
    rows : tuple
        Things of this part.
    matching, total, aside : int
        How many fit the words, how many there are in that state, how many were put aside.
    parts : int
        Of how many parts the list consists, at least 1.
    """

    asked: ListAsked
    rows: tuple[Stored[D], ...]
    matching: int
    total: int
    aside: int
    orders: tuple[str, ...]
    parts: int

    @property
    def told(self) -> bool:
        """Whether there is enough to look for anything in it."""
        return bool(self.total > 1 or self.aside or self.asked.find)

    @property
    def empty_by_asking(self) -> bool:
        """Whether nothing stands here only because of what was asked."""
        return not self.rows and bool(self.asked.find or self.asked.shown == "aside")


def seek(things: Iterable[Stored[D]], asked: ListAsked, by: ListedBy[Stored[D]]) -> Found[D]:
    """The part of a list that was asked for.

    Parameters
    ----------
    things : iterable of Stored
        All of them, retired ones too, oldest first; of equals that order is kept.

    Raises
    ------
    InputError
        If the list has no such order.
    """
    order = asked.sort or next(iter(by.orders))
    if order not in by.orders:
        raise InputError(
            f"the list has no order {order!r}", where="sort", remedy="choose one of " + ", ".join(by.orders)
        )
    every = list(things)
    aside = [one for one in every if one.retired_at is not None]
    state = aside if asked.shown == "aside" else [one for one in every if one.retired_at is None]
    words = unaccented(asked.find).split()
    fitting = [one for one in state if _has_all(unaccented(by.text(one)), words)] if words else state
    fitting.sort(key=by.orders[order])
    parts = max(1, -(-len(fitting) // MOST_ON_A_PAGE))
    part = min(asked.part, parts)
    return Found(
        asked=asked.model_copy(update={"sort": order, "part": part}),
        rows=tuple(fitting[(part - 1) * MOST_ON_A_PAGE : part * MOST_ON_A_PAGE]),
        matching=len(fitting),
        total=len(state),
        aside=len(aside),
        orders=tuple(by.orders),
        parts=parts,
    )


def by_name(name: str) -> tuple[tuple[tuple[int, int, str], ...], str]:
    """A key that puts names in the order of a list read by people: numbers by size, capitals and accents aside."""
    parts = re.findall(r"\d+|\D+", unaccented(name))
    # isdecimal: what int() takes; a figure of another kind stands as a letter.
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts), name


def _has_all(text: str, words: Iterable[str]) -> bool:
    return all(word in text for word in words)
