"""The proof of a plan: independent of how it was made, it looks at what came out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from obverse.run.plan import Action, Conflict, Lived, Proof

# Spans that touch do not overlap; a microsecond is rounding.
_ROUNDING_S = 1e-6
_FILM = ("bath", "rinse", "wash", "reexpose", "hold_end", "join", "open", "may_open", "hang")


def prove(actions: Sequence[Action], lives: Sequence[Lived] = ()) -> Proof:
    """Check that two hands suffice, the film is at one place, baths are young enough, the dark is kept.

    Parameters
    ----------
    actions : sequence of Action
        In any order, with planned starts.
    lives : sequence of Lived
        Limits between actions: lives of baths and deadlines of their destruction.
    """
    spans = sorted(
        (action.start_s + start, action.start_s + end, action)
        for action in actions
        for start, end in action.hands
        if end > start
    )
    conflicts = [
        Conflict(kind="hands", first=a.key, second=b.key, over_s=a_end - b_start)
        for a_end, b_start, a, b in _overlaps(spans)
    ]
    film = sorted((a.start_s, a.end_s, a) for a in actions if a.kind in _FILM)
    conflicts += [Conflict(kind="film", first=a.key, second=b.key) for _, _, a, b in _overlaps(film)]
    conflicts += _too_old(actions, lives)
    conflicts += _light(actions)
    busy_s = sum(end - start for start, end, _ in spans)
    whole_s = max((action.end_s for action in actions), default=0.0)
    failed = {conflict.kind for conflict in conflicts}
    holds: dict[Literal["hands", "lives", "light"], bool] = {
        "hands": "hands" not in failed,
        "lives": bool(lives) and not failed & {"life", "deadline"},
        "light": "light" not in failed,
    }
    return Proof(
        proved=tuple(what for what, true in holds.items() if true),
        conflicts=tuple(conflicts),
        spans_checked=len(spans),
        busy_s=busy_s,
        whole_s=whole_s,
    )


def _overlaps(spans: Sequence[tuple[float, float, Action]]) -> list[tuple[float, float, Action, Action]]:
    """Every overlap of sorted (start, end, action) with the span that reaches furthest before it."""
    found = []
    furthest: tuple[float, Action] | None = None
    for start, end, action in spans:
        if furthest is not None and start < furthest[0] - _ROUNDING_S:
            found.append((furthest[0], start, furthest[1], action))
        if furthest is None or end > furthest[0]:
            furthest = (end, action)
    return found


def _too_old(actions: Sequence[Action], lives: Sequence[Lived]) -> list[Conflict]:
    by_key = {action.key: action for action in actions}
    found = []
    for life in lives:
        begin, end = by_key[life.from_action], by_key[life.to_action]
        edge_s = {"start": begin.start_s, "pour": begin.start_s + begin.pour_s, "end": begin.end_s}[life.from_edge]
        age_s = end.end_s - edge_s
        if age_s > life.limit_s + _ROUNDING_S:
            found.append(
                Conflict(
                    kind=life.kind,
                    first=begin.key,
                    second=end.key,
                    over_s=age_s,
                    limit_s=life.limit_s,
                    formula=life.formula,
                )
            )
    return found


def _light(actions: Sequence[Action]) -> list[Conflict]:
    ordered = sorted(actions, key=lambda action: action.start_s)
    found = []
    # From the loading on the film is in the dark; the first "may open" ends that.
    sensitive, opener = False, None
    for action in ordered:
        if action.kind == "load":
            sensitive = True
        elif action.kind in ("may_open", "open"):
            sensitive, opener = False, opener or action
        elif sensitive and action.place == "open":
            found.append(Conflict(kind="light", first=action.key, second=action.key))
        elif opener is not None and action.place == "closed_tank":
            found.append(Conflict(kind="light", first=opener.key, second=action.key))
    return found
