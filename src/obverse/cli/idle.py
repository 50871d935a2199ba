"""Options that mean nothing beside others: what was typed and is not used, in one sentence."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import typer


class Idle(NamedTuple):
    """Parameters of a command that count for nothing without one of some others, or beside one of some others."""

    parameters: tuple[str, ...]
    without: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()

    def among(self, typed: Collection[str]) -> tuple[str, ...]:
        """Those of them that were typed for nothing."""
        idle = any(one in typed for one in self.beside) or bool(self.without and not set(self.without) & set(typed))
        return tuple(one for one in self.parameters if one in typed) if idle else ()


_FORCE = Idle(("force",), without=("out",))
_EVERY = Idle(("every",), beside=("as_json",))
# What a run that goes on, or an evening of that name, has settled already.
_SETTLED = (
    *("route", "recipe", "film", "control", "tank", "temperature", "size", "clip_tests", "tanks", "without", "again"),
    *("time", "pace", "plan", "as_json", "every", "rehearse", "speed", "by_itself"),
)
IDLE: Mapping[str, tuple[Idle, ...]] = {
    "mix": (_EVERY,),
    "adapt": (_EVERY,),
    "recipe adapt": (_EVERY,),
    "check": (_EVERY, Idle(("names", "context", "every"), beside=("listed",))),
    "routes": (_EVERY, Idle(("every",), without=("route",))),
    "run": (
        Idle(_SETTLED, beside=("resume",)),
        Idle(("route",), beside=("recipe",)),
        Idle(("rehearse", "speed", "by_itself"), beside=("plan",)),
        Idle(("speed",), without=("rehearse",)),
        Idle(("every",), without=("plan",)),
        _EVERY,
    ),
    "list": (
        Idle(("low", "high", "step"), without=("shot_densities",)),
        Idle(("trial",), beside=("shot_densities",)),
        Idle(("to",), beside=("as_json",)),
    ),
    "next": (Idle(("tank",), beside=("as_json",)),),
    "trial": (Idle(("developer",), without=("films_before",)),),
    "card": (Idle(("paper", "force"), without=("out",)),),
    "wall": (Idle(("surround", "shown_on"), without=("aim",)),),
    "seen": (Idle(("panel_corners",), without=("panel",)),),
    "show-list": (
        Idle(("paper", "force"), without=("out", "labels")),
        Idle(("grid", "skip"), without=("labels",)),
    ),
    "recipe export": (_FORCE,),
    "process show": (_FORCE, Idle(("as_json",), beside=("in_words",))),
    "process new": (Idle(("name", "source"), beside=("file",)),),
    "pool export": (_FORCE,),
    "pool learn": (Idle(("workers",), beside=("at_cluster",)),),
    "pool adopt": (Idle(("even_so",), without=("file",)),),
}


def not_used(rules: Sequence[Idle], typed: Collection[str], shown: Mapping[str, str]) -> str:
    """The sentence that says what was typed for nothing, and why; empty where all of it counts.

    Parameters
    ----------
    rules : sequence of Idle
        Of the command.
    typed : collection of str
        The parameters that were typed, with another value than stands there anyway.
    shown : mapping of str to str
        Each parameter as a person types it.
    """
    told: dict[str, str] = {}
    for rule in rules:
        others = [other for other in rule.beside if other in typed] or rule.without
        why = f"{'without' if others == rule.without else 'beside'} {' or '.join(shown[other] for other in others)}"
        for one in rule.among(typed):
            told.setdefault(one, why)
    return _sentence({why: [shown[one] for one in told if told[one] == why] for why in told.values()})


def tell_not_used(why: str, options: Mapping[str, object]) -> None:
    """Say which of these options were typed, where what was given shows that they count for nothing."""
    if typed := [option for option, value in options.items() if value]:
        typer.echo(_sentence({why: typed}), err=True)


def _sentence(options: Mapping[str, Sequence[str]]) -> str:
    parts = [
        f"{' and '.join(named)} {'count' if len(named) > 1 else 'counts'} for nothing {why}"
        for why, named in options.items()
    ]
    return f"Not used: {'; '.join(parts)}." if parts else ""
