"""The live run as a pure state machine: (state, event, now) -> (state, orders).

Time comes only from the instants that events carry. The state holds nothing that cannot be found
again by applying the same events in the same order, so a killed program loses nothing.

Instants are seconds since 1970-01-01 UTC on the clock of the run: that clock never goes back, even
when somebody sets the computer's (`obverse.workbench.sink` says how).

Corrections are events as well: `taken_back` and `changed` name the event they are about. Both stay
in the record; the state is then what the remaining events say, from the beginning.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Literal

from pydantic import Field

from obverse.foundation import Document, InputError
from obverse.run.plan import Action, RunPlan
from obverse.run.saying import Refusal, Saying
from obverse.run.temperature import STEP_LEVEL, temperature_step

EventKind = Literal[
    "started",
    "poured",
    "acknowledged",
    "agitation_skipped",
    "paused",
    "resumed",
    "temperature_noted",
    "step_extended",
    "step_repeated",
    "step_skipped",
    "note",
    "photo",
    "duty_taken",
    "duty_done",
    "aborted",
    "finished",
    "taken_back",
    "changed",
    "clock",
    "booked",
]

Status = Literal["planned", "running", "paused", "finished", "aborted"]

# Touches that move the evening: only the last of them can be taken back, the one before it then is the last.
PRESSES = ("started", "poured", "acknowledged", "step_repeated", "step_skipped", "aborted", "finished")
# What is only written down can be struck at any time.
WRITTEN = ("temperature_noted", "note", "photo", "agitation_skipped", "step_extended", "duty_taken", "duty_done")
# Actions that can be done once more; what happens in the dark, or with the tank open, cannot be undone so.
REPEATABLE = (
    "prepare",
    "weigh",
    "fill_bottles",
    "prewarm",
    "clip",
    "check",
    "bath",
    "rinse",
    "wash",
    "reexpose",
    "destroy",
)

# A touch this long before a bath is due is still its end: the hand leads the clock a little.
EARLY_TOUCH_S = 1.0
MOST_EXTENSION_S = 4 * 3600.0


class Event(Document):
    """One thing that happened.

    `action` names the action it was meant for: a touch that comes when that action is over changes
    nothing, so two windows may touch at once. `id` is what a correction calls it by in its `of`.
    """

    kind: EventKind
    at_s: float = Field(ge=0, le=1e11)
    id: str = Field(default="", max_length=200)
    action: str = Field(default="", max_length=200)
    cut_short: bool = Field(default=False, description="acknowledged: yes, end this bath before its time")
    temperature_c: float | None = Field(default=None, ge=-5, le=100)
    sure: bool = Field(default=False, description="temperature: yes, it was that, though hardly any bath has it")
    seconds: float | None = Field(default=None, description="step_extended: how much longer")
    text: str = Field(default="", max_length=2000)
    blob: str = Field(default="", max_length=64, description="photo: SHA-256 of the stored picture")
    of: str = Field(default="", max_length=200, description="taken_back, changed: id of the event it is about")
    to_s: float | None = Field(default=None, ge=0, le=1e11, description="changed: the instant at which it truly was")
    device: str = Field(default="", max_length=80)
    data: dict[str, object] = Field(default_factory=dict)


class Done(Document):
    """An action that is over, as it truly was; one that was repeated is there twice."""

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


class Passed(Document):
    """An action that was left out, with the reason."""

    key: str
    at_s: float
    reason: str


class Taken(Document):
    """Somebody takes it on to destroy a used bath, or has destroyed it."""

    formula: str
    by: str
    at_s: float


class Noted(Document):
    """A temperature that was read in an action."""

    at_s: float
    action: str
    temperature_c: float
    id: str = ""


class Said(Document):
    """A note or a picture."""

    at_s: float
    action: str
    text: str = ""
    blob: str = ""


class Order(Document):
    """What a face should do now: show an action, tell a sentence, be quiet, book what was used.

    What is to be told is a saying; a correction has the entry it is about beside it.
    """

    do: Literal["show", "tell", "caution", "quiet", "loud", "book", "refuse"]
    say: Saying | None = None
    text: str = Field(default="", description="the words for it; a face puts them in")
    action: str = ""
    level: Literal["note", "caution", "danger"] = "note"
    corrects: Literal["", "taken_back", "changed"] = ""
    entry: Event | None = Field(default=None, description="what was corrected; the words for it are the face's")


class EveningPlace(Document):
    """Where the evening stands in its plan, without its history."""

    status: Status
    index: int
    ahead: tuple[int, ...] = ()
    began_s: float | None = None
    clock_from_s: float | None = None
    extended_s: float = 0.0
    skipped: int = 0


class Press(Document):
    """The last touch that moved the evening, and where it stood before: what taking it back brings."""

    id: str
    kind: EventKind
    action: str
    at_s: float
    device: str = ""
    before: EveningPlace


class RunState(Document):
    """Where an evening stands."""

    plan: RunPlan
    status: Status = "planned"
    index: int = 0
    ahead: tuple[int, ...] = Field(
        default=(), description="what comes after the present action, where that is not the next of the plan"
    )
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
    passed: tuple[Passed, ...] = ()
    taken: tuple[Taken, ...] = ()
    gone: tuple[Taken, ...] = ()
    temperatures: tuple[Noted, ...] = ()
    said: tuple[Said, ...] = ()
    pauses: tuple[tuple[float, float | None], ...] = ()
    booked: tuple[str, ...] = ()
    reason: str = ""
    press: Press | None = None
    events: tuple[Event, ...] = Field(default=(), description="everything that had an effect, corrections included")

    @property
    def action(self) -> Action | None:
        """The action in hand; None before the start and after the end."""
        return self.plan.actions[self.index] if self.status in ("running", "paused") else None

    @property
    def coming(self) -> tuple[Action, ...]:
        """The actions after the one in hand, in the order in which they will come."""
        if self.status in ("finished", "aborted"):
            return ()
        if self.status == "planned":
            return self.plan.actions
        last = self.ahead[-1] if self.ahead else self.index
        return (*(self.plan.actions[i] for i in self.ahead), *self.plan.actions[last + 1 :])

    @property
    def next_action(self) -> Action | None:
        """The action after it."""
        return next(iter(self.coming), None)

    @property
    def due_s(self) -> float | None:
        """Instant at which the present action is due to end; None while it waits to be poured in."""
        if self.action is None or self.clock_from_s is None:
            return None
        return self.clock_from_s + self.action.duration_s + self.extended_s

    @property
    def place(self) -> EveningPlace:
        """Where it stands, without its history."""
        return EveningPlace(**{name: getattr(self, name) for name in EveningPlace.model_fields})


Outcome = tuple[RunState, tuple[Order, ...]]


def begin(plan: RunPlan) -> RunState:
    """The state before anything has happened."""
    return RunState(plan=plan)


def fold(plan: RunPlan, events: Iterable[Event]) -> RunState:
    """The state after these events, in their order."""
    state = begin(plan)
    for event in events:
        state, _ = advance(state, event, event.at_s)
    return state


def advance(state: RunState, event: Event, now: float) -> Outcome:
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
    new, orders = _corrected(state, event) if event.kind in ("taken_back", "changed") else _applied(state, event)
    # What had no effect is not kept: after a correction it could suddenly have one.
    events = state.events if new is state else (*state.events, event)
    return new.model_copy(update={"last_s": max(state.last_s, event.at_s), "events": events}), orders


def _applied(state: RunState, event: Event) -> Outcome:
    new, orders = _HANDLERS[event.kind](state, event)
    if new is not state and event.kind in PRESSES:
        action = state.action.key if state.action is not None else ""
        press = Press(
            id=event.id, kind=event.kind, action=action, at_s=event.at_s, device=event.device, before=state.place
        )
        new = new.model_copy(update={"press": press})
    return new, orders


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
    if event.kind in ("poured", "acknowledged", "step_repeated", "step_skipped") and not event.action:
        raise InputError("the event does not say which action it is for", where="action", remedy="name the action")
    if event.kind in ("step_repeated", "step_skipped") and not event.text.strip():
        raise InputError("the reason is missing", where="reason", remedy="say in a word why")
    if event.kind in ("taken_back", "changed") and not event.of:
        raise InputError("it does not say what is corrected", where="correction", remedy="name the entry")
    if event.kind == "changed" and event.temperature_c is None and event.to_s is None and not event.text.strip():
        raise InputError(
            "it does not say what is true", where="correction", remedy="give a temperature, a time or words"
        )


def _ignored(state: RunState, why: Refusal, **about: float) -> Outcome:
    say = Saying(kind=why, **about)
    return state, (Order(do="refuse", say=say, action=state.action.key if state.action else ""),)


# Corrections


def _corrected(state: RunState, event: Event) -> Outcome:
    """Take an event back or change it, then go through all that remains from the beginning."""
    target = next((e for e in state.events if e.id == event.of and e.id), None)
    if target is None:
        return _ignored(state, "nothing_to_correct")
    standing = effective(state.events)
    if target.kind not in ("taken_back", "changed") and not any(e.id == target.id for e in standing):
        return _ignored(state, "taken_back_before")
    refusal = _not_taken_back(standing, target) if event.kind == "taken_back" else _not_changed(standing, target, event)
    if refusal:
        return _ignored(state, refusal)
    new = begin(state.plan)
    for each in effective((*state.events, event)):
        new, _ = _applied(new, each)
    new = new.model_copy(update={"last_s": state.last_s})
    orders = [
        Order(
            do="tell",
            say=Saying(kind="corrected"),
            corrects=event.kind,
            entry=target,
            action=new.action.key if new.action else "",
        )
    ]
    if state.status in ("finished", "aborted") and new.status not in ("finished", "aborted"):
        orders.append(Order(do="show", action=new.action.key if new.action else "", say=Saying(kind="goes_on")))
    return new, tuple(orders)


def effective(events: Sequence[Event]) -> tuple[Event, ...]:
    """The events that count once every correction is heeded; a correction that was itself taken back is none."""
    void: set[str] = set()
    truth: dict[str, dict[str, object]] = {}
    for event in reversed(events):
        if event.id and event.id in void:
            continue
        if event.kind == "taken_back":
            void.add(event.of)
        elif event.kind == "changed":
            # Read backwards, so the latest word on each thing stands.
            truth[event.of] = _said_anew(event) | truth.get(event.of, {})
    found = []
    for event in events:
        if event.kind in ("taken_back", "changed") or (event.id and event.id in void):
            continue
        said = truth.get(event.id, {}) if event.id else {}
        if "at_s" in said and event.kind == "acknowledged":
            # The person says when it was truly out; that it was early is then the truth.
            said = said | {"cut_short": True}
        found.append(event.model_copy(update=said))
    return tuple(found)


def _said_anew(event: Event) -> dict[str, object]:
    said: dict[str, object] = {}
    if event.temperature_c is not None:
        said["temperature_c"] = event.temperature_c
    if event.to_s is not None:
        said["at_s"] = event.to_s
    if event.text.strip():
        said["text"] = event.text
    return said


def _not_taken_back(standing: Sequence[Event], target: Event) -> Refusal | None:
    """Why it cannot be taken back; None where it can."""
    if target.kind in ("clock", "booked"):
        return "cannot_be_taken_back"
    if target.kind == "started":
        at = next(i for i, e in enumerate(standing) if e.id == target.id)
        if any(e.kind in WRITTEN for e in standing[at:]):
            return "later_entries"
    if target.kind not in PRESSES:
        return None
    last = [e for e in standing if e.kind in PRESSES][-1]
    return None if last.id == target.id else "later_touches"


def _not_changed(standing: Sequence[Event], target: Event, event: Event) -> Refusal | None:
    """Why it cannot be changed so; None where it can."""
    if event.temperature_c is not None and target.kind != "temperature_noted":
        return "no_temperature"
    if event.text.strip() and target.kind not in ("note", "aborted", "step_repeated", "step_skipped"):
        return "no_words"
    if event.to_s is None:
        return None
    if target.kind not in (*PRESSES, "temperature_noted") or target.kind == "started":
        return "time_stays"
    presses = [e for e in standing if e.kind in PRESSES]
    if target.kind == "temperature_noted":
        low_s, high_s = presses[0].at_s, event.at_s
    else:
        place = next(i for i, e in enumerate(presses) if e.id == target.id)
        low_s = presses[place - 1].at_s if place else 0.0
        high_s = presses[place + 1].at_s if place + 1 < len(presses) else event.at_s
    if not low_s <= event.to_s <= high_s:
        return "not_between"
    return None


# What each kind does


def _started(state: RunState, event: Event) -> Outcome:
    if state.status != "planned":
        return _ignored(state, "begun")
    new = state.model_copy(update={"status": "running", "started_s": event.at_s})
    return _enter(new, 0, event.at_s)


def _enter(state: RunState, index: int, at_s: float, ahead: tuple[int, ...] = ()) -> Outcome:
    """Begin the action of that index; past the last one the evening is over."""
    fresh = {"index": index, "ahead": ahead, "extended_s": 0.0, "skipped": 0}
    if index >= len(state.plan.actions):
        ended = {"status": "finished", "ended_s": at_s, "began_s": None, "clock_from_s": None}
        new = state.model_copy(update=fresh | ended)
        return new, (Order(do="tell", say=Saying(kind="over")), Order(do="book"))
    action = state.plan.actions[index]
    clock_from_s = None if action.waits_for_pour else at_s
    new = state.model_copy(update=fresh | {"began_s": at_s, "clock_from_s": clock_from_s})
    return new, (Order(do="show", action=action.key),)


def _onward(state: RunState, at_s: float) -> Outcome:
    """Begin what comes after the present action."""
    if state.ahead:
        return _enter(state, state.ahead[0], at_s, state.ahead[1:])
    return _enter(state, state.index + 1, at_s)


def _not_before(state: RunState, event: Event) -> float:
    """When it happened; a touch that is dated before the action in hand began came as it did."""
    return event.at_s if state.began_s is None else max(event.at_s, state.began_s)


def _poured(state: RunState, event: Event) -> Outcome:
    action = state.action
    if action is None or action.key != event.action or not action.waits_for_pour:
        return _ignored(state, "another_bath")
    if state.clock_from_s is not None:
        return _ignored(state, "in_already")
    new = _awake(state, event.at_s).model_copy(update={"clock_from_s": _not_before(state, event)})
    return new, (Order(do="show", action=action.key),)


def _acknowledged(state: RunState, event: Event) -> Outcome:
    action = state.action
    if action is None:
        return _ignored(state, "not_running")
    if action.key != event.action:
        return _ignored(state, "moved_on")
    from_s = state.clock_from_s
    if from_s is None:
        return _ignored(state, "not_in_yet")
    at_s = max(event.at_s, from_s)
    planned_s = action.duration_s + state.extended_s
    cut = False
    if action.ends_by == "clock":
        left_s = from_s + planned_s - at_s
        # Draining is the end of a bath: once it has begun, the touch that ends it may come at any moment.
        early_s = left_s - action.drain_s - EARLY_TOUCH_S
        if early_s > 0 and not event.cut_short:
            return _ignored(state, "too_early", seconds=left_s)
        cut = early_s > 0
    elif event.cut_short:
        # Asked by the face, and said to be meant.
        cut = at_s < from_s + action.asked_until_s
    done = Done(
        key=action.key,
        began_s=from_s if state.began_s is None else state.began_s,
        clock_from_s=from_s,
        ended_s=at_s,
        planned_s=planned_s,
        skipped=state.skipped,
        cut_short=cut,
    )
    return _onward(_awake(state, event.at_s).model_copy(update={"done": (*state.done, done)}), at_s)


def _step_repeated(state: RunState, event: Event) -> Outcome:
    """Do an action that is over once more, a bath with its rinses, then go on where one was."""
    actions = state.plan.actions
    index = next((i for i, a in enumerate(actions) if a.key == event.action), None)
    if state.action is None or index is None:
        return _ignored(state, "no_such_action")
    if state.action.waits_for_pour and state.clock_from_s is not None:
        return _ignored(state, "bath_in_tank")
    if actions[index].kind not in REPEATABLE:
        return _ignored(state, "not_repeatable")
    if not any(d.key == event.action for d in state.done):
        return _ignored(state, "not_done_yet")
    again = [index]
    if actions[index].kind == "bath":
        # A bath takes its rinse along; anything else is done alone.
        while again[-1] + 1 < len(actions) and _rinses(actions[index], actions[again[-1] + 1]):
            again.append(again[-1] + 1)
    new = _awake(state, event.at_s)
    return _enter(new, again[0], _not_before(state, event), (*again[1:], state.index, *state.ahead))


def _rinses(bath: Action, action: Action) -> bool:
    return action.fill is not None and action.step == bath.step and action.strips == bath.strips


def _step_skipped(state: RunState, event: Event) -> Outcome:
    action = state.action
    if action is None or action.key != event.action:
        return _ignored(state, "not_in_hand")
    if action.waits_for_pour and state.clock_from_s is not None:
        return _ignored(state, "end_it_instead")
    at_s = _not_before(state, event)
    passed = Passed(key=action.key, at_s=at_s, reason=event.text)
    return _onward(_awake(state, event.at_s).model_copy(update={"passed": (*state.passed, passed)}), at_s)


def _duty_taken(state: RunState, event: Event) -> Outcome:
    taken = Taken(formula=event.action, by=event.text or event.device or "somebody", at_s=event.at_s)
    others = tuple(t for t in state.taken if t.formula != event.action)
    new = state.model_copy(update={"taken": (*others, taken)})
    return new, (Order(do="tell", say=Saying(kind="duty_taken", by=taken.by), action=event.action),)


def _duty_done(state: RunState, event: Event) -> Outcome:
    gone = Taken(formula=event.action, by=event.text or event.device or "somebody", at_s=event.at_s)
    new = state.model_copy(update={"gone": (*state.gone, gone)})
    return new, (Order(do="tell", say=Saying(kind="duty_done"), action=event.action),)


def _agitation_skipped(state: RunState, event: Event) -> Outcome:
    action = state.action
    if action is None or (event.action and event.action != action.key):
        return _ignored(state, "over_already")
    return state.model_copy(update={"skipped": state.skipped + 1}), (
        Order(
            do="tell",
            say=Saying(kind="agitation_left_out"),
            action=action.key,
        ),
    )


def _paused(state: RunState, event: Event) -> Outcome:
    if state.status != "running":
        return _ignored(state, "not_running")
    new = state.model_copy(update={"status": "paused", "pauses": (*state.pauses, (event.at_s, None))})
    action = state.action
    in_a_bath = action is not None and action.ends_by == "clock" and state.clock_from_s is not None
    return new, (Order(do="quiet", say=Saying(kind="bath_goes_on" if in_a_bath else "paused")),)


def _resumed(state: RunState, event: Event) -> Outcome:
    if state.status != "paused":
        return _ignored(state, "not_paused")
    return _awake(state, event.at_s), (Order(do="loud", say=Saying(kind="resumed")),)


def _awake(state: RunState, at_s: float) -> RunState:
    """A touch ends a pause."""
    if state.status != "paused":
        return state
    *before, (since_s, _) = state.pauses
    return state.model_copy(update={"status": "running", "pauses": (*before, (since_s, max(since_s, at_s)))})


def _temperature_noted(state: RunState, event: Event) -> Outcome:
    if state.status == "planned" or event.temperature_c is None:
        return _ignored(state, "not_begun")
    key = event.action or (state.action.key if state.action else "")
    noted = Noted(at_s=event.at_s, action=key, temperature_c=event.temperature_c, id=event.id)
    new = state.model_copy(update={"temperatures": (*state.temperatures, noted)})
    orders = []
    action = next((a for a in state.plan.actions if a.key == key), None)
    if action is not None:
        before = next((n for n in reversed(state.temperatures) if n.action != key), None)
        if before is not None:
            step = temperature_step(before.temperature_c, event.temperature_c, soft=_is_soft(state))
            if step is not None:
                orders.append(Order(do="caution", say=step, action=key, level=STEP_LEVEL[step.soft]))
        low_c, high_c = action.temperature_low_c, action.temperature_high_c
        if low_c is not None and high_c is not None and not low_c <= event.temperature_c <= high_c:
            outside = Saying(
                kind="noted_outside", name=action.name, temperature_c=event.temperature_c, low_c=low_c, high_c=high_c
            )
            orders.append(Order(do="caution", say=outside, action=key, level="caution"))
    noted_ = Saying(kind="noted", temperature_c=event.temperature_c)
    return new, tuple(orders) or (Order(do="tell", say=noted_, action=key),)


def _is_soft(state: RunState) -> bool:
    """True once the film has been in acid permanganate."""
    bleach = {step.key for step in state.plan.route.steps if step.kind == "bleach"}
    been = {action.step for action in state.plan.actions[: state.index + 1]}
    return state.plan.route.bleach == "acid_permanganate" and bool(bleach & been)


def _step_extended(state: RunState, event: Event) -> Outcome:
    action = state.action
    if action is None or event.seconds is None or (event.action and event.action != action.key):
        return _ignored(state, "over_already")
    new = state.model_copy(update={"extended_s": state.extended_s + event.seconds})
    return new, (Order(do="tell", say=Saying(kind="longer", seconds=event.seconds), action=action.key),)


def _said(state: RunState, event: Event) -> Outcome:
    said = Said(
        at_s=event.at_s,
        action=event.action or (state.action.key if state.action else ""),
        text=event.text,
        blob=event.blob,
    )
    return state.model_copy(update={"said": (*state.said, said)}), (Order(do="tell", say=Saying(kind="written")),)


def _aborted(state: RunState, event: Event) -> Outcome:
    if state.status in ("finished", "aborted"):
        return _ignored(state, "ended_already")
    new = _awake(state, event.at_s).model_copy(
        update={"status": "aborted", "ended_s": event.at_s, "reason": event.text}
    )
    return new, (
        Order(
            do="tell",
            say=Saying(kind="ended_early"),
            level="caution",
        ),
        Order(do="book"),
    )


def _finished(state: RunState, event: Event) -> Outcome:
    if state.status in ("finished", "aborted"):
        return _ignored(state, "ended_already")
    remaining = (*([state.action] if state.action else []), *state.coming)
    if state.status == "planned" or any(
        action.kind in ("bath", "rinse", "wash", "reexpose", "hang") for action in remaining
    ):
        return _ignored(state, "film_on_its_way")
    new = _awake(state, event.at_s)
    return _enter(new, len(state.plan.actions), _not_before(state, event))


def _clock(state: RunState, event: Event) -> Outcome:
    return state, (Order(do="tell", say=Saying(kind="clock", text=event.text), level="caution"),) if event.text else ()


def _booked(state: RunState, event: Event) -> Outcome:
    if event.text in state.booked:
        return state, ()
    return state.model_copy(update={"booked": (*state.booked, event.text)}), ()


_HANDLERS: dict[str, Callable[[RunState, Event], Outcome]] = {
    "started": _started,
    "poured": _poured,
    "acknowledged": _acknowledged,
    "agitation_skipped": _agitation_skipped,
    "paused": _paused,
    "resumed": _resumed,
    "temperature_noted": _temperature_noted,
    "step_extended": _step_extended,
    "step_repeated": _step_repeated,
    "step_skipped": _step_skipped,
    "duty_taken": _duty_taken,
    "duty_done": _duty_done,
    "note": _said,
    "photo": _said,
    "aborted": _aborted,
    "finished": _finished,
    "clock": _clock,
    "booked": _booked,
}
