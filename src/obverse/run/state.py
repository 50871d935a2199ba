"""The live run as a pure state machine: (state, event, now) -> (state, orders).

Time comes only from the instants that events carry. The state holds nothing that cannot be found
again by applying the same events in the same order, so a killed program loses nothing.

Instants are seconds since 1970-01-01 UTC on the clock of the run: that clock never goes back, even
when somebody sets the computer's (`obverse.workbench.sink` says how).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

from pydantic import Field

from obverse.foundation import Document, InputError
from obverse.run.plan import Action, RunPlan
from obverse.run.temperature import step_caution

EventKind = Literal[
    "started",
    "poured",
    "acknowledged",
    "agitation_skipped",
    "paused",
    "resumed",
    "temperature_noted",
    "step_extended",
    "note",
    "photo",
    "aborted",
    "finished",
    "clock",
    "booked",
]

Status = Literal["planned", "running", "paused", "finished", "aborted"]

# A touch this long before a bath is due is still its end: the hand leads the clock a little.
EARLY_TOUCH_S = 1.0
MOST_EXTENSION_S = 4 * 3600.0


class Event(Document):
    """One thing that happened.

    `action` names the action it was meant for: a touch that comes when that action is over changes
    nothing, so two windows may touch at once.
    """

    kind: EventKind
    at_s: float = Field(ge=0, le=1e11)
    action: str = Field(default="", max_length=200)
    cut_short: bool = Field(default=False, description="acknowledged: yes, end this bath before its time")
    temperature_c: float | None = Field(default=None, ge=-5, le=100)
    seconds: float | None = Field(default=None, description="step_extended: how much longer")
    text: str = Field(default="", max_length=2000)
    blob: str = Field(default="", max_length=64, description="photo: SHA-256 of the stored picture")
    device: str = Field(default="", max_length=80)
    data: dict[str, Any] = Field(default_factory=dict)


class Done(Document):
    """An action that is over, as it truly was."""

    key: str
    began_s: float
    clock_from_s: float = Field(description="the bath was in, or the action began")
    ended_s: float
    planned_s: float
    skipped: int = 0
    cut_short: bool = False

    @property
    def took_s(self) -> float:
        """From the start of its clock to its end."""
        return self.ended_s - self.clock_from_s


class Noted(Document):
    """A temperature that was read in an action."""

    at_s: float
    action: str
    temperature_c: float


class Said(Document):
    """A note or a picture."""

    at_s: float
    action: str
    text: str = ""
    blob: str = ""


class Order(Document):
    """What a face should do now: show an action, tell a sentence, be quiet, book what was used."""

    do: Literal["show", "tell", "caution", "quiet", "loud", "book", "refuse"]
    text: str = ""
    action: str = ""
    level: Literal["note", "caution", "danger"] = "note"


class RunState(Document):
    """Where an evening stands."""

    plan: RunPlan
    status: Status = "planned"
    index: int = 0
    began_s: float | None = Field(default=None, description="the present action began")
    clock_from_s: float | None = Field(
        default=None, description="its clock runs from here; None while it waits to be poured in"
    )
    extended_s: float = 0.0
    skipped: int = 0
    started_s: float | None = None
    ended_s: float | None = None
    last_s: float = 0.0
    done: tuple[Done, ...] = ()
    temperatures: tuple[Noted, ...] = ()
    said: tuple[Said, ...] = ()
    pauses: tuple[tuple[float, float | None], ...] = ()
    booked: tuple[str, ...] = ()
    reason: str = ""

    @property
    def action(self) -> Action | None:
        """The action in hand; None before the start and after the end."""
        if self.status in ("running", "paused") and self.index < len(self.plan.actions):
            return self.plan.actions[self.index]
        return None

    @property
    def next_action(self) -> Action | None:
        """The action after it."""
        following = self.index + 1 if self.status != "planned" else 0
        return (
            self.plan.actions[following]
            if following < len(self.plan.actions) and self.status not in ("finished", "aborted")
            else None
        )

    @property
    def due_s(self) -> float | None:
        """Instant at which the present action is due to end; None while it waits to be poured in."""
        if self.action is None or self.clock_from_s is None:
            return None
        return self.clock_from_s + self.action.duration_s + self.extended_s


def begin(plan: RunPlan) -> RunState:
    """The state before anything has happened."""
    return RunState(plan=plan)


def fold(plan: RunPlan, events: Iterable[Event]) -> RunState:
    """The state after these events, in their order."""
    state = begin(plan)
    for event in events:
        state, _ = advance(state, event, event.at_s)
    return state


def advance(state: RunState, event: Event, now: float) -> tuple[RunState, tuple[Order, ...]]:
    """Apply one event.

    Parameters
    ----------
    now : float
        The present instant of the run's clock; an event from the future is taken as of now.

    Returns
    -------
    state, orders
        An event that has no effect (its action is over, the run has ended) gives the same state but
        for the clock, and an order that says why.

    Raises
    ------
    InputError
        For an event that makes no sense at any time, such as a negative extension.
    """
    _check(event)
    event = event.model_copy(update={"at_s": min(event.at_s, now)})
    new, orders = _HANDLERS[event.kind](state, event)
    return new.model_copy(update={"last_s": max(state.last_s, event.at_s)}), orders


def _check(event: Event) -> None:
    if event.kind == "temperature_noted" and event.temperature_c is None:
        raise InputError("no temperature was given", where="temperature", remedy="give degrees Celsius")
    if event.kind == "step_extended" and not (event.seconds is not None and 0 < event.seconds <= MOST_EXTENSION_S):
        raise InputError(
            "a step can only be made longer, by up to four hours", where="extension", remedy="give seconds above zero"
        )
    if event.kind == "note" and not event.text.strip():
        raise InputError("the note is empty", where="note", remedy="write something")
    if event.kind == "photo" and not event.blob:
        raise InputError("the picture is missing", where="photo", remedy="choose a picture")
    if event.kind in ("poured", "acknowledged") and not event.action:
        raise InputError("the event does not say which action it is for", where="action", remedy="name the action")


def _ignored(state: RunState, why: str) -> tuple[RunState, tuple[Order, ...]]:
    return state, (Order(do="refuse", text=why, action=state.action.key if state.action else ""),)


def _started(state: RunState, event: Event):
    if state.status != "planned":
        return _ignored(state, "The evening has begun already.")
    new = state.model_copy(update={"status": "running", "started_s": event.at_s})
    return _enter(new, 0, event.at_s)


def _enter(state: RunState, index: int, at_s: float):
    """Begin the action of that index; past the last one the evening is over."""
    if index >= len(state.plan.actions):
        new = state.model_copy(
            update={
                "index": index,
                "status": "finished",
                "ended_s": at_s,
                "began_s": None,
                "clock_from_s": None,
                "extended_s": 0.0,
                "skipped": 0,
            }
        )
        return new, (Order(do="tell", text="The evening is over."), Order(do="book"))
    action = state.plan.actions[index]
    new = state.model_copy(
        update={
            "index": index,
            "began_s": at_s,
            "clock_from_s": None if action.waits_for_pour else at_s,
            "extended_s": 0.0,
            "skipped": 0,
        }
    )
    return new, (Order(do="show", action=action.key, text=action.title),)


def _poured(state: RunState, event: Event):
    action = state.action
    if action is None or action.key != event.action or not action.waits_for_pour:
        return _ignored(state, "That bath is not the one in hand.")
    if state.clock_from_s is not None:
        return _ignored(state, "This bath is in already; its clock runs.")
    at_s = max(event.at_s, state.began_s)
    new = _awake(state, event.at_s).model_copy(update={"clock_from_s": at_s})
    return new, (Order(do="show", action=action.key, text=f"{action.title}: the clock runs."),)


def _acknowledged(state: RunState, event: Event):
    action = state.action
    if action is None:
        return _ignored(state, "The evening is not running.")
    if action.key != event.action:
        return _ignored(state, "That action is over already.")
    if state.clock_from_s is None:
        return _ignored(state, f"{action.title} is not poured in yet.")
    at_s = max(event.at_s, state.clock_from_s)
    cut = False
    if action.ends_by == "clock":
        left_s = state.due_s - at_s
        # Draining is the end of a bath: once it has begun, the touch that ends it may come at any moment.
        early_s = left_s - action.drain_s - EARLY_TOUCH_S
        if early_s > 0 and not event.cut_short:
            return _ignored(
                state, f"{left_s:.0f} seconds are left. Nothing was changed; say so if you truly want to end it now."
            )
        cut = early_s > 0
    done = Done(
        key=action.key,
        began_s=state.began_s,
        clock_from_s=state.clock_from_s,
        ended_s=at_s,
        planned_s=action.duration_s + state.extended_s,
        skipped=state.skipped,
        cut_short=cut,
    )
    new = _awake(state, event.at_s).model_copy(update={"done": (*state.done, done)})
    return _enter(new, state.index + 1, at_s)


def _agitation_skipped(state: RunState, event: Event):
    action = state.action
    if action is None or (event.action and event.action != action.key):
        return _ignored(state, "That action is over already.")
    return state.model_copy(update={"skipped": state.skipped + 1}), (
        Order(
            do="tell",
            text="Noted: one bout of agitation was left out. Take the next one as it comes.",
            action=action.key,
        ),
    )


def _paused(state: RunState, event: Event):
    if state.status != "running":
        return _ignored(state, "The evening is not running.")
    new = state.model_copy(update={"status": "paused", "pauses": (*state.pauses, (event.at_s, None))})
    text = "Paused. What follows waits for you."
    if state.action is not None and state.action.ends_by == "clock" and state.clock_from_s is not None:
        text = "The cues are quiet, but the bath does not wait: its clock runs on."
    return new, (Order(do="quiet", text=text),)


def _resumed(state: RunState, event: Event):
    if state.status != "paused":
        return _ignored(state, "The evening is not paused.")
    return _awake(state, event.at_s), (Order(do="loud", text="On it goes."),)


def _awake(state: RunState, at_s: float) -> RunState:
    """A touch ends a pause."""
    if state.status != "paused":
        return state
    *before, (since_s, _) = state.pauses
    return state.model_copy(update={"status": "running", "pauses": (*before, (since_s, max(since_s, at_s)))})


def _temperature_noted(state: RunState, event: Event):
    if state.status == "planned":
        return _ignored(state, "The evening has not begun.")
    key = event.action or (state.action.key if state.action else "")
    noted = Noted(at_s=event.at_s, action=key, temperature_c=event.temperature_c)
    new = state.model_copy(update={"temperatures": (*state.temperatures, noted)})
    orders = []
    action = next((a for a in state.plan.actions if a.key == key), None)
    if action is not None:
        before = next((n for n in reversed(state.temperatures) if n.action != key), None)
        if before is not None:
            caution = step_caution(before.temperature_c, event.temperature_c, key, soft=_is_soft(state))
            if caution is not None:
                orders.append(Order(do="caution", text=caution.text, action=key, level=caution.level.value))
        low_c, high_c = action.temperature_low_c, action.temperature_high_c
        if low_c is not None and not low_c <= event.temperature_c <= high_c:
            orders.append(
                Order(
                    do="caution",
                    text=f"{action.title} is meant for {low_c:g} to {high_c:g} C.",
                    action=key,
                    level="caution",
                )
            )
    return new, tuple(orders) or (Order(do="tell", text=f"Noted: {event.temperature_c:g} C.", action=key),)


def _is_soft(state: RunState) -> bool:
    """True once the film has been in acid permanganate."""
    bleach = {step.key for step in state.plan.route.steps if step.kind == "bleach"}
    been = {action.step for action in state.plan.actions[: state.index + 1]}
    return state.plan.route.bleach == "acid_permanganate" and bool(bleach & been)


def _step_extended(state: RunState, event: Event):
    action = state.action
    if action is None or (event.action and event.action != action.key):
        return _ignored(state, "That action is over already.")
    new = state.model_copy(update={"extended_s": state.extended_s + event.seconds})
    return new, (Order(do="tell", text=f"{action.title}: {event.seconds:.0f} seconds longer.", action=action.key),)


def _said(state: RunState, event: Event):
    said = Said(
        at_s=event.at_s,
        action=event.action or (state.action.key if state.action else ""),
        text=event.text,
        blob=event.blob,
    )
    return state.model_copy(update={"said": (*state.said, said)}), (Order(do="tell", text="Written down."),)


def _aborted(state: RunState, event: Event):
    if state.status in ("finished", "aborted"):
        return _ignored(state, "The evening has ended already.")
    new = _awake(state, event.at_s).model_copy(
        update={"status": "aborted", "ended_s": event.at_s, "reason": event.text}
    )
    return new, (
        Order(
            do="tell",
            text="Ended here. What was used is booked; baths that must not stand still have to be destroyed.",
            level="caution",
        ),
        Order(do="book"),
    )


def _finished(state: RunState, event: Event):
    if state.status in ("finished", "aborted"):
        return _ignored(state, "The evening has ended already.")
    remaining = state.plan.actions[state.index :]
    if state.status == "planned" or any(
        action.kind in ("bath", "rinse", "wash", "reexpose", "hang") for action in remaining
    ):
        return _ignored(state, "The film is still on its way; end it early with a reason if you must.")
    new = _awake(state, event.at_s)
    return _enter(new, len(state.plan.actions), max(event.at_s, state.began_s or 0.0))


def _clock(state: RunState, event: Event):
    return state, (Order(do="tell", text=event.text, level="caution"),) if event.text else ()


def _booked(state: RunState, event: Event):
    if event.text in state.booked:
        return state, ()
    return state.model_copy(update={"booked": (*state.booked, event.text)}), ()


_HANDLERS = {
    "started": _started,
    "poured": _poured,
    "acknowledged": _acknowledged,
    "agitation_skipped": _agitation_skipped,
    "paused": _paused,
    "resumed": _resumed,
    "temperature_noted": _temperature_noted,
    "step_extended": _step_extended,
    "note": _said,
    "photo": _said,
    "aborted": _aborted,
    "finished": _finished,
    "clock": _clock,
    "booked": _booked,
}
