"""What a face shows of a run at an instant: one action, the next one, the cues to come, the whole evening."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

from obverse.foundation import JsonObject
from obverse.run.plan import Action, Cue, Lived
from obverse.run.saying import Saying
from obverse.run.state import Event, RunState, Status, advance


@dataclass(frozen=True)
class BathDeadline:
    """A used or mixed bath whose clock runs: by when, and by which action, it must be used up or destroyed."""

    formula: str
    kind: Literal["life", "deadline"]
    by_s: float
    overdue: bool
    to_action: str


@dataclass(frozen=True)
class RunView:
    """Everything a face needs of a run at an instant, instants in seconds of the run's clock.

    The face goes on by itself from here: nothing in it grows stale but `now_s`.
    """

    state: RunState
    now_s: float
    phase: str
    drain_s: float | None
    cues: tuple[Cue, ...]
    ends_s: float | None
    progress: float
    deadlines: tuple[BathDeadline, ...]

    @property
    def status(self) -> Status:
        """How the run stands."""
        return self.state.status

    @property
    def action(self) -> Action | None:
        """What is being done."""
        return self.state.action

    @property
    def next_action(self) -> Action | None:
        """What comes then."""
        return self.state.next_action

    @property
    def count(self) -> int:
        """Actions of the plan."""
        return len(self.state.plan.actions)

    def document(self) -> JsonObject:
        """The JSON shape."""
        state = self.state
        return {
            "status": state.status,
            "now_s": self.now_s,
            "started_s": state.started_s,
            "ended_s": state.ended_s,
            "index": state.index,
            "ahead": list(state.ahead),
            "count": self.count,
            "phase": self.phase,
            "action": None if self.action is None else shown_action(self.action),
            "next": None if self.next_action is None else shown_action(self.next_action),
            "began_s": state.began_s,
            "clock_from_s": state.clock_from_s,
            "extended_s": state.extended_s,
            "skipped": state.skipped,
            "due_s": state.due_s,
            "drain_s": self.drain_s,
            "cues": [cue.model_dump(mode="json") for cue in self.cues],
            "ends_s": self.ends_s,
            "progress": self.progress,
            "deadlines": [asdict(deadline) for deadline in self.deadlines],
            "reason": state.reason,
            "press": None if state.press is None else state.press.model_dump(mode="json"),
            "taken": [taken.model_dump(mode="json") for taken in state.taken],
        }


def view(state: RunState, now_s: float) -> RunView:
    """What a face shows of a run at an instant."""
    action = state.action
    drain_s = None
    if state.due_s is not None and action is not None and action.drain_s != 0 and action.kind != "rinse":
        drain_s = state.due_s - action.drain_s
    return RunView(
        state=state,
        now_s=now_s,
        phase=phase(state, now_s),
        drain_s=drain_s,
        cues=cues(state),
        ends_s=projected_end_s(state, now_s),
        progress=progress(state, now_s),
        deadlines=deadlines(state, now_s),
    )


def phase(state: RunState, now_s: float) -> str:
    """`planned`, `ready` (waits to be poured in), `running`, `draining`, `due` (time is over), `doing`, or how the run ended."""
    action = state.action
    if action is None:
        return state.status
    if state.due_s is None:
        return "ready"
    if action.ends_by == "person":
        return "doing"
    if now_s >= state.due_s:
        return "due"
    return "draining" if now_s >= state.due_s - action.drain_s else "running"


def cues(state: RunState) -> tuple[Cue, ...]:
    """The cues of the present action, `at_s` being instants of the run; an extension moves the end and goes on agitating."""
    action = state.action
    if action is None or state.clock_from_s is None:
        return ()
    from_s = state.clock_from_s
    found = []
    agitations = [cue for cue in action.cues if cue.kind == "agitate"]
    for cue in action.cues:
        late_s = state.extended_s if cue.kind in ("ready", "drain", "end") else 0.0
        found.append(cue.model_copy(update={"at_s": from_s + cue.at_s + late_s}))
    if state.extended_s > 0 and len(agitations) >= 3:
        every_s = agitations[-1].at_s - agitations[-2].at_s
        at_s = agitations[-1].at_s + every_s
        last_s = action.duration_s + state.extended_s - action.drain_s
        while every_s > 0 and at_s + agitations[-1].lasts_s <= last_s:
            found.append(agitations[-1].model_copy(update={"at_s": from_s + at_s}))
            at_s += every_s
    return tuple(sorted(found, key=lambda cue: cue.at_s))


def projected_end_s(state: RunState, now_s: float) -> float | None:
    """When the hands will be free, if the rest goes as planned; lateness shifts it."""
    if state.status in ("finished", "aborted"):
        return state.ended_s
    if state.action is None:
        return None
    return _present_end_s(state, state.action, now_s) + sum(a.pour_s + a.duration_s for a in state.coming)


def _present_end_s(state: RunState, action: Action, now_s: float) -> float:
    if state.due_s is None:
        return max(now_s, (state.began_s or 0.0) + action.pour_s) + action.duration_s
    return max(now_s, state.due_s)


def progress(state: RunState, now_s: float) -> float:
    """Share of the planned evening that is behind, 0 to 1; what is repeated counts once."""
    if state.status == "finished":
        return 1.0
    total_s = sum(a.pour_s + a.duration_s for a in state.plan.actions)
    behind_s = sum(a.pour_s + a.duration_s for a in state.plan.actions[: max(state.index, *state.ahead, 0)])
    action = state.action
    if action is not None and not state.ahead and state.clock_from_s is not None:
        behind_s += action.pour_s + min(max(0.0, now_s - state.clock_from_s), action.duration_s)
    return behind_s / total_s if total_s > 0 else 0.0


def deadlines(state: RunState, now_s: float) -> tuple[BathDeadline, ...]:
    """Used or mixed baths whose clock runs: when they must be used up or destroyed."""
    return tuple(
        BathDeadline(life.formula, life.kind, by_s, now_s > by_s, life.to_action) for life, by_s in running_lives(state)
    )


def running_lives(state: RunState) -> list[tuple[Lived, float]]:
    """Lives that have begun and are not over, with the instant at which each ends, the nearest first."""
    done = {d.key: d for d in state.done}
    action = state.action
    found = []
    for life in state.plan.lives:
        began = done.get(life.from_action)
        if began is not None:
            since_s = {"start": began.began_s, "pour": began.clock_from_s, "end": began.ended_s}[life.from_edge]
        elif (
            action is not None
            and action.key == life.from_action
            and life.from_edge == "pour"
            and state.clock_from_s is not None
        ):
            since_s = state.clock_from_s
        else:
            continue
        over = done.get(life.to_action)
        # Done before it began anew (it was repeated) is not done.
        if over is None or over.ended_s < since_s:
            found.append((life, since_s + life.limit_s))
    return sorted(found, key=lambda item: item[1])


@dataclass(frozen=True, slots=True)
class TouchEffect:
    """What a touch would do to the rest of the evening.

    Parameters
    ----------
    refused : Saying or None
        Why it would do nothing; None where it would.
    later_s : float
        How much later the hands would be free; negative: earlier.
    comes, drops : tuple of Action
        What would come that would not have come, and the other way round.
    breaks : tuple of Lived
        Lives and deadlines that would hold without it and would not hold with it.
    """

    refused: Saying | None
    later_s: float
    comes: tuple[Action, ...]
    drops: tuple[Action, ...]
    breaks: tuple[Lived, ...]


def effect(state: RunState, event: Event, now_s: float) -> TouchEffect:
    """What `event` would do, had it happened now; the state stays as it is."""
    new, orders = advance(state, event, now_s)
    refused = next((order.say for order in orders if order.do == "refuse"), None)
    if refused is not None:
        return TouchEffect(refused, 0.0, (), (), ())
    before, after = _to_come(state), _to_come(new)
    ends = projected_end_s(state, now_s), projected_end_s(new, now_s)
    return TouchEffect(
        refused=None,
        later_s=(ends[1] or now_s) - (ends[0] or now_s),
        comes=_more(after, before),
        drops=_more(before, after),
        breaks=tuple(life for life in _broken(new, now_s) if life not in _broken(state, now_s)),
    )


def _to_come(state: RunState) -> tuple[Action, ...]:
    return (*((state.action,) if state.action is not None else ()), *state.coming)


def _more(these: tuple[Action, ...], those: tuple[Action, ...]) -> tuple[Action, ...]:
    left = [action.key for action in those]
    found = []
    for action in these:
        if action.key in left:
            left.remove(action.key)
        else:
            found.append(action)
    return tuple(found)


def _broken(state: RunState, now_s: float) -> tuple[Lived, ...]:
    """Lives that will be over before what must end them has come."""
    if state.action is None:
        return ()
    at_s = _present_end_s(state, state.action, now_s)
    ends = {state.action.key: at_s}
    for action in state.coming:
        at_s += action.pour_s + action.duration_s
        ends[action.key] = at_s
    return tuple(life for life, by_s in running_lives(state) if ends.get(life.to_action, float("inf")) > by_s)


def shown_action(action: Action) -> JsonObject:
    """An action as faces show it, without the words that they make of it."""
    fields = (
        "key",
        "kind",
        "name",
        "said",
        "why",
        "cautions",
        "step",
        "formula",
        "strips",
        "duration_s",
        "pour_s",
        "ends_by",
        "waits_for_pour",
        "asked_until_s",
        "place",
        "temperature_c",
        "temperature_low_c",
        "temperature_high_c",
        "carry_over",
        "after_use",
        "waste_jug",
        "volume_ml",
        "unattended_s",
        "fill",
    )
    shown = action.model_dump(mode="json")
    return {name: shown[name] for name in fields}
