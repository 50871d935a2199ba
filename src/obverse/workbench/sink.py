"""The sink: plan an evening, run it so that nothing can be lost, book what it used.

Every event is in the store before anybody is told that it happened; the state is what the events
say, so a program that was killed goes on at the right second.

The clock of a run never goes back. Its first event fixes an anchor: an instant and the reading of the
steady clock of the computer at that moment. From then on the time of the run is the anchor plus what
the steady clock has gone on, for every program since the computer was started; setting the date
changes nothing. A computer that was started anew, and a second computer that follows the run, has a
steady clock of its own: it writes an anchor of its own down, at its date, but never before the last
event; where the date lies before it, the person is told. Readings of two steady clocks never meet.

At every look the date is held against the steady clock. Where they have parted, the computer slept while its steady clock
stood, or somebody set the date; nobody but the person knows which, so they are told and choose.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
from collections.abc import Callable, Container, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from obverse.clock import Clock, parted_s
from obverse.foundation import (
    Caution,
    ConflictError,
    Document,
    InputError,
    JsonObject,
    Level,
    UnlikelyError,
    figures,
    read_document,
)
from obverse.process import (
    CONTROLS,
    ONE_FILM,
    TIME,
    Bottle,
    Equipment,
    Formula,
    Process,
    Recipe,
    Step,
    area_of_pieces_m2,
    pieces_words,
    renewal_told,
)
from obverse.process.catalog import formulas as generic_formulas
from obverse.reference import number
from obverse.run import (
    REPEATABLE,
    WRITTEN,
    Action,
    Event,
    Order,
    PlanCaution,
    RunPlan,
    RunState,
    RunView,
    Strip,
    TouchEffect,
    advance,
    bath_uses,
    begin,
    destroyed_at_s,
    doubt_about,
    effect,
    effective,
    plan_run,
    running_lives,
    shown_action,
    still_to_destroy,
    true_controls,
    view,
)
from obverse.safety import MOST_CLIP_S, clip_does
from obverse.store import Store, Stored
from obverse.store.run_records import RunEntry
from obverse.workbench.at_hand import with_shelf
from obverse.workbench.bench import Bench
from obverse.workbench.booking import book, used_bottles
from obverse.workbench.care import Care
from obverse.workbench.duty import Duty, duty
from obverse.workbench.evening_words import (
    ClockQuestion,
    cue_words,
    developed_words,
    order_told,
    parted_words,
    settled_words,
    title_words,
)
from obverse.workbench.house_opinion import USUAL_TANK_ML, opinions
from obverse.workbench.known_baths import known_formulas, known_process
from obverse.workbench.notebook import Notebook
from obverse.workbench.place import Place
from obverse.workbench.processes import controls_of
from obverse.workbench.ready_words import action_do
from obverse.workbench.shelf import Shelf

# Ten minutes in a second: beyond that nobody can follow a rehearsal.
MOST_SPEED = 600.0
# One tank for each hand.
MOST_TANKS = 2
# Shares of a tank are sums of fractions.
ROUNDING = 1e-9
# A jug with so few films left by the person's count is tried on a clip first; ours.
LAST_FILMS = 1.0
ENDED = ("finished", "aborted")
GOING = ("running", "paused")
CORRECTIONS = ("taken_back", "changed")
# A bath that is mixed and not yet used becomes a duty when its deadline is this near.
SOON_S = 1800.0
# Of evenings that were ended early so many, the newest, are asked what they left mixed.
MOST_ENDED = 8
# So many notes and readings are offered for correction on the live page; the report has them all.
MOST_ENTRIES = 12


Minutes = Annotated[float, Field(ge=0, le=2880)]


class PlanRequest(Document):
    """What a person chooses for an evening."""

    route: str = Field(default="", max_length=120)
    recipe: str = Field(
        default="", max_length=120, description="id of a locked recipe; its route and controls are taken"
    )
    name: str = Field(default="", max_length=120)
    tank_ml: float | None = Field(
        default=None, gt=0, le=20_000, description="of one tank; absent: as the process says, else the person's own"
    )
    tanks: int = Field(default=1, ge=1, description="tanks of that size side by side, poured one after the other")
    temperature_c: float | None = None
    water_c: float | None = Field(default=None, description="temperature of the rinsing water, where it differs")
    strips: tuple[Strip, ...] = Field(default=(), max_length=6)
    without: tuple[str, ...] = Field(default=(), max_length=40, description="steps left out tonight, by key")
    again: tuple[str, ...] = Field(default=(), max_length=40, description="steps done once more tonight, by key")
    times_min: dict[str, Minutes] = Field(
        default_factory=dict, max_length=40, description="minutes of a step tonight, by its key"
    )
    pace: float = 1.0
    clip_tests: bool | None = Field(
        default=None, description="each bath is tried on a clip first; absent: those near the end of their count"
    )
    fresh: tuple[str, ...] = Field(
        default=(), max_length=20, description="formulas of lasting baths that are mixed anew tonight"
    )
    choose: tuple[str, ...] = Field(
        default=(), max_length=60, description="bottles chosen at the bench, each SUBSTANCE:PRODUCT"
    )

    @property
    def chosen(self) -> dict[str, str]:
        """Product by substance.

        Raises
        ------
        InputError
            For one that is not SUBSTANCE:PRODUCT.
        """
        found = {}
        for text in self.choose:
            name, sign, product = text.partition(":")
            if not sign:
                raise InputError(
                    f"{text!r} is not SUBSTANCE:PRODUCT", where="choose", remedy="choose a product from the sheet page"
                )
            if product:
                found[name] = product
        return found


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of an event.

    Parameters
    ----------
    seq : int
        Its place among the events of the run.
    fresh : bool
        False where the same event had been recorded before.
    """

    seq: int
    fresh: bool
    orders: tuple[Order, ...]
    look: EveningLook

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "seq": self.seq,
            "fresh": self.fresh,
            "orders": [o.model_dump(mode="json", exclude={"entry", "say"}) for o in self.orders],
            "view": self.look.document(),
        }


@dataclass(frozen=True)
class EveningLook:
    """Everything a face shows of a run at an instant, and the words for it.

    Parameters
    ----------
    seq : int
        How many events it has.
    speed : float
        1 for an evening, more for a rehearsal.
    parted : ClockQuestion or None
        What is asked where date and steady clock have parted.
    anchored : bool
        Its clock runs; from the first start on, though that was taken back.
    """

    run: str
    seq: int
    speed: float
    parted: ClockQuestion | None
    anchored: bool
    view: RunView

    @property
    def title(self) -> str:
        """The present action in words; empty where none is."""
        return "" if self.view.action is None else title_words(self.view.action)

    @property
    def next_title(self) -> str:
        """The action that comes then, in words; empty where none does."""
        return "" if self.view.next_action is None else title_words(self.view.next_action)

    @property
    def do(self) -> str:
        """What hands do now."""
        return "" if self.view.action is None else action_do(self.view.action, self.view.state.plan)

    @property
    def entries(self) -> list[Event]:
        """What was written into the run and stands, the newest first."""
        written = [event for event in effective(self.view.state.events) if event.kind in WRITTEN]
        return written[-MOST_ENTRIES:][::-1]

    def document(self) -> JsonObject:
        """The JSON shape."""
        view, state, plan = self.view, self.view.state, self.view.state.plan
        titles = {action.key: title_words(action) for action in plan.actions}
        over = dict.fromkeys(done.key for done in reversed(state.done))
        shown = ("id", "kind", "action", "at_s", "temperature_c", "text", "seconds")
        return {
            "run": self.run,
            "seq": self.seq,
            "speed": self.speed,
            "parted": None if self.parted is None else self.parted.model_dump(mode="json"),
            "anchored": self.anchored,
            **view.document(),
            "action": _worded(view.action, plan),
            "next": _worded(view.next_action, plan),
            "cues": [{**cue.model_dump(mode="json"), "text": cue_words(cue)} for cue in view.cues],
            "deadlines": [{**asdict(one), "name": bath_name(one.formula, plan)} for one in view.deadlines],
            "entries": [
                {**event.model_dump(mode="json", include=set(shown)), "title": titles.get(event.action, "")}
                for event in self.entries
            ],
            "repeatable": [{"key": key, "title": titles[key]} for key in over if plan.action(key).kind in REPEATABLE],
        }


def _worded(action: Action | None, plan: RunPlan) -> JsonObject | None:
    if action is None:
        return None
    return {**shown_action(action), "title": title_words(action), "do": action_do(action, plan)}


@dataclass(frozen=True)
class BathDuty:
    """A bath that an evening leaves to destroy, or has destroyed; `href` leads to how, `taken` says who does it."""

    formula: str
    name: str
    done_s: float | None
    href: str
    taken: str


@dataclass(frozen=True)
class LoggedEvent:
    """One line of the log of an evening.

    Parameters
    ----------
    title : str
        Of the action it belongs to; empty where it belongs to none.
    event : Event
        As it was written down.
    told : str
        What the house says of what it booked.
    struck, ignored : bool
        Taken back since; without effect when it came.
    truly : mapping
        What was corrected since, as it truly was.
    of_kind : str
        What a correction corrects.
    """

    seq: int
    title: str
    event: Event
    told: str
    struck: bool
    ignored: bool
    truly: JsonObject
    of_kind: str
    correctable: bool

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "seq": self.seq,
            "title": self.title,
            **self.event.model_dump(mode="json", exclude={"data"}),
            "told": self.told,
            "struck": self.struck,
            "ignored": self.ignored,
            "truly": self.truly,
            "of_kind": self.of_kind,
            "correctable": self.correctable,
        }


@dataclass(frozen=True)
class EveningReport:
    """What truly happened: the log, the controls of each strip, baths used, what is booked, what must still be destroyed."""

    run: str
    state: RunState
    log: tuple[LoggedEvent, ...]
    duties: tuple[BathDuty, ...]
    not_booked: tuple[str, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        state = self.state
        names = {action.key: title_words(action) for action in state.plan.actions}
        return {
            "run": self.run,
            "status": state.status,
            "reason": state.reason,
            "started_s": state.started_s,
            "ended_s": state.ended_s,
            "done": [{"title": names[d.key], "took_s": d.took_s, **d.model_dump(mode="json")} for d in state.done],
            "log": [line.document() for line in self.log],
            "strips": [
                {
                    "name": t.strip.name,
                    "film": t.strip.film,
                    "controls": t.controls,
                    "control_sds": t.control_sds,
                    "note": developed_words(t.went),
                }
                for t in true_controls(state)
            ],
            "baths": [
                {
                    "title": names[u.action],
                    "formula": u.formula,
                    "name": bath_name(u.formula, state.plan),
                    "took_s": u.took_s,
                    "planned_s": u.planned_s,
                    "after_use": u.after_use,
                }
                for u in bath_uses(state)
            ],
            "duties": [asdict(one) for one in self.duties],
            "still_to_destroy": [one.formula for one in self.duties if one.done_s is None],
            "passed": [{"title": names[p.key], "at_s": p.at_s, "reason": p.reason} for p in state.passed],
            "not_booked": list(self.not_booked),
        }


class _Anchor(Document):
    """An instant of the run and the readings of one computer's steady clock and of its date at that moment."""

    boot: str = Field(max_length=120)
    steady_s: float
    instant_s: float
    date_s: float | None = Field(default=None, description="absent in evenings of older versions")


@dataclass
class _Live:
    """A run as far as its events have been read."""

    state: RunState
    speed: float
    status_kept: str
    # A rehearsal uses nothing up, and what was used up in another darkroom is not of this shelf.
    books: bool
    seq: int = 0
    seqs: dict[str, int] = field(default_factory=dict)
    anchors: dict[str, _Anchor] = field(default_factory=dict)
    orders: dict[int, tuple[Order, ...]] = field(default_factory=dict)


class Sink(Place):
    """Evenings at the sink.

    Parameters
    ----------
    care : Care
        Kept baths and jugs, which an evening uses.
    notebook : Notebook
        Where its strips are written down.
    bench, shelf : Bench, Shelf
        What its baths are made of.

    Attributes
    ----------
    at_point : callable
        Called with the name of each point at which a power cut would be worst; tests cut there.
    """

    def __init__(
        self, store: Store, clock: Clock, home: Path | None, care: Care, notebook: Notebook, bench: Bench, shelf: Shelf
    ):
        super().__init__(store, clock, home)
        self._bench, self._shelf = bench, shelf
        self._care = care
        self._notebook = notebook
        self._lock = threading.RLock()
        self._live: dict[str, _Live] = {}
        self.at_point: Callable[[str], None] = lambda point: None

    # Plans

    def plan(self, request: JsonObject) -> RunPlan:
        """Plan an evening from what a person chose.

        Raises
        ------
        InputError, UnsafeError
            As `obverse.run.plan_run` does.
        """
        wanted = read_document(PlanRequest, dict(request), where="plan")
        route, strips = self._route_and_strips(wanted)
        return self._planned(route, strips, self._formulas(wanted.recipe), wanted)

    def plan_of(self, of: Recipe | Process, request: JsonObject) -> RunPlan:
        """As `plan`, of a recipe or a process in hand, which need not be kept here.

        Parameters
        ----------
        request : mapping
            Tank and temperature, where they are not those of the process.

        Raises
        ------
        InputError, UnsafeError
            As `obverse.run.plan_run` does.
        """
        wanted = read_document(PlanRequest, dict(request), where="plan")
        if isinstance(of, Recipe):
            wanted = wanted.model_copy(update={"name": wanted.name or of.name})
            strips = (Strip(controls=of.controls),)
            return self._planned(of.route, strips, {**self._formulas(""), **{f.key: f for f in of.formulas}}, wanted)
        known = self._formulas("")
        strips = (Strip(controls=controls_of(of, of.baths(known))),)
        return self._planned(of, strips, known, wanted)

    def process_of(self, request: JsonObject) -> Process:
        """The process that a request names, as it stands before anything is changed for tonight."""
        return self._route_and_strips(read_document(PlanRequest, dict(request), where="plan"))[0]

    def tank_ml_of(self, route: Process) -> float:
        """What one tank holds where nobody says: as the process was written for, the person's own, a usual one."""
        own = next((one.volume_ml for one in self._shelf.tanks() if one.volume_ml), None)
        return route.tank_ml or own or USUAL_TANK_ML

    def _planned(
        self, route: Process, strips: tuple[Strip, ...], formulas: dict[str, Formula], wanted: PlanRequest
    ) -> RunPlan:
        tank_ml = wanted.tank_ml or self.tank_ml_of(route)
        first = route.first_development.key
        if first in wanted.times_min:
            minutes = {TIME.key: wanted.times_min[first]}
            strips = tuple(s.model_copy(update={"controls": {**s.controls, **minutes}}) for s in strips)
        for strip in strips:
            if problem := CONTROLS.beyond(strip.controls):
                raise InputError(problem, where="plan", remedy="correct it and try again")
        if wanted.tanks > MOST_TANKS:
            raise InputError(
                f"{wanted.tanks} tanks at once",
                where="tanks",
                remedy="two hands turn two tanks; plan the others as another evening",
            )
        temperatures = {} if wanted.water_c is None else {"water": wanted.water_c}
        plan = plan_run(
            route,
            formulas,
            tank_ml=tank_ml * wanted.tanks,
            strips=strips,
            temperature_c=wanted.temperature_c,
            bath_temperatures_c=temperatures,
            without=wanted.without,
            again=wanted.again,
            times_min=wanted.times_min,
            pace=wanted.pace,
            mixed=self._standing(),
            name=wanted.name,
            bucket_ml=self._bucket_ml(),
            fresh=wanted.fresh,
            clips_s=self._clips_s(route, formulas, wanted),
            room=self._care.room(),
        )
        plan = with_shelf(
            plan, plan.route.baths(formulas), self._bench, self._shelf, self._clock.now().date(), wanted.chosen
        )
        # A bath near its end is told before the film is lost in it.
        area_m2 = sum(strip.film_area_m2 for strip in plan.strips)
        told = (
            *self._left_out(route, plan.route, formulas),
            *self._counted(plan.route, area_m2, wanted.fresh),
            *self._tank_told(plan, wanted.tanks, tank_ml),
            *self._care.before_an_evening(route, area_m2, plan.tank_ml, given=plan.route.baths(formulas)),
            *self._care.into_the_jugs(plan.route, plan.tank_ml, plan.route.baths(formulas)),
        )
        return plan.model_copy(
            update={"cautions": (*plan.cautions, *(PlanCaution(**caution.document()) for caution in told))}
        )

    def _left_out(self, process: Process, tonight: Process, formulas: Mapping[str, Formula]) -> tuple[Caution, ...]:
        """What the house says of a process as it is done tonight and did not say before."""
        if [step.key for step in process.steps] == [step.key for step in tonight.steps]:
            return ()
        room = self._care.room()
        before, now = (
            {(one.code, one.says): one for one in opinions(of, of.baths(formulas), {}, room=room)}
            for of in (process, tonight)
        )
        kept = {step.key for step in tonight.steps}
        names = [step.name for step in process.steps if step.key not in kept]
        told = [Caution("tonight.without", f"Tonight without {' and '.join(names)}.", Level.CAUTION)] if names else []
        new = [one for key, one in now.items() if key not in before and one.level is not Level.NOTE]
        return (*told, *(Caution(f"tonight.{one.code}", f"{one.says} {one.why}", one.level, one.step) for one in new))

    def _counted(self, route: Process, area_m2: float, fresh: Container[str]) -> list[Caution]:
        """Kept baths that by the person's own count have seen enough films, or will have tonight, and what is added to their jugs."""
        told = []
        one_m2 = area_of_pieces_m2(())
        standing = self._kept(route)
        for step in route.steps:
            bottle = standing.get(step.formula or "")
            if step.renewal is not None and step.renewal.top_up_ml is not None and step.after_use == "keep":
                of_area = area_m2 if step.renewal.per == "m2" else area_m2 / one_m2
                text = (
                    f"{step.name}: {renewal_told(step.renewal)}. For tonight's film that is {figures(step.renewal.top_up_ml * of_area)} mL: "
                    "note it beside the jug when it is in."
                )
                told.append(Caution("bath.top_up", text, Level.NOTE, step.key))
            if bottle is None or step.formula in fresh:
                continue
            good, seen = _good_for(step, bottle), _seen_films(bottle)
            if not bottle.count_known and _near_its_end(step, bottle):
                text = f"{step.name}: how many films its jug had seen before it was written down nobody knows. Try a clip in it before the film."
                told.append(Caution("bath.counted", text, Level.CAUTION, step.key))
                continue
            if good is None:
                continue
            tonight = seen + area_m2 / one_m2
            counts = f"{step.name}: you count it good for {good:g} film{'' if good == 1 else 's'}"
            if tonight > good + ROUNDING:
                brought_back = (
                    f" {step.renewal.restored_with[:1].upper()}{step.renewal.restored_with[1:]} brings it back, as you say; note that beside its jug."
                    if step.renewal is not None and step.renewal.restored_with
                    else ""
                )
                text = f"{counts}, it has seen {seen:.2g}, and tonight makes {tonight:.2g}. Mix it fresh tonight, or try a clip in it first.{brought_back}"
                told.append(Caution("bath.counted", text, Level.CAUTION, step.key))
            elif _near_its_end(step, bottle):
                text = f"{counts} and it has seen {seen:.2g}. Try a clip in it before the film."
                told.append(Caution("bath.counted", text, Level.CAUTION, step.key))
        return told

    def _kept(self, route: Process) -> dict[str, Bottle]:
        """Jugs that stand, by the formula of what they hold, for the steps of a process."""
        keys = {step.formula for step in route.steps}
        return {k.thing.formula: k.thing for k in self._shelf.bottles() if k.thing.formula and k.thing.formula in keys}

    def _clips_s(self, route: Process, formulas: Mapping[str, Formula], wanted: PlanRequest) -> dict[str, float]:
        """Baths that are tried on a clip tonight, with the seconds it takes in a fresh one.

        All that show something on one where that is asked for; where nothing is said, those near the end of their count.
        """
        if wanted.clip_tests is False:
            return {}
        known = route.baths(formulas)
        standing = self._kept(route)
        keys = dict.fromkeys(
            step.formula
            for step in route.steps
            if step.formula in known
            and (
                wanted.clip_tests
                or (
                    step.formula not in wanted.fresh
                    and (bottle := standing.get(step.formula or "")) is not None
                    and _near_its_end(step, bottle)
                )
            )
        )
        return {
            key: self._care.clip_expected_s(known[key]) for key in keys if key and clip_does(known[key]) is not None
        }

    def _clip_told(self, live: _Live, key: str) -> tuple[Order, ...]:
        """What the clip that was just timed says of its bath; nothing for an action that is no clip."""
        done = next((one for one in reversed(live.state.done) if one.key == key), None)
        action = live.state.plan.action(done.key) if done is not None else None
        if done is None or action is None or action.kind != "clip" or not 0 < done.took_s <= MOST_CLIP_S:
            return ()
        formula = live.state.plan.route.baths(known_formulas(self._store)).get(action.formula)
        if formula is None:
            return ()
        told = self._care.clip_words(formula, done.took_s)
        level = told.level.value
        return (Order(do="tell" if level == "note" else "caution", text=told.text, action=action.key, level=level),)

    def _bucket_ml(self) -> float | None:
        """The person's largest bucket; None where none is measured."""
        sizes = [
            kept.thing.volume_ml
            for kept in self._shelf.equipment()
            if kept.thing.kind == "bucket" and kept.thing.volume_ml
        ]
        return max(sizes, default=None)

    def _tank_told(self, plan: RunPlan, tanks: int, tank_ml: float) -> tuple[Caution, ...]:
        """Whether the film has room in the person's tank of that size, and how two tanks are run together."""
        told = []
        if tanks > 1:
            text = (
                f"{tanks} tanks of {figures(tank_ml)} mL side by side: every bath is mixed for both, poured into one "
                "and then the other, and out again in that order, so that each film has its time; one in each hand."
            )
            told.append(Caution("tank.several", text, Level.NOTE))
        tank = self._tank_of(tank_ml)
        if tank is None:
            return tuple(told)
        # Whatever was developed apart shares one filling afterwards, so all of it must find room at last.
        fullest = tank.share_taken([piece for strip in plan.strips for piece in strip.pieces or (ONE_FILM,)])
        if fullest is not None and fullest > tanks * (1 + ROUNDING):
            film = pieces_words(piece for strip in plan.strips for piece in strip.pieces or (ONE_FILM,))
            text = (
                f"{film} fill {fullest:.2g} times the places of {tank.name}"
                f"{f', of which you take {tanks}' if tanks > 1 else ''}. "
                "Take a larger tank or two side by side, or give some of the film an evening of its own."
            )
            told.append(Caution("tank.full", text, Level.CAUTION))
        return tuple(told)

    def _tank_of(self, volume_ml: float) -> Equipment | None:
        """The person's tank of that volume; the roomiest of several."""
        own = [kept.thing for kept in self._store.tools.all(own=True)]
        tanks = [one for one in own if isinstance(one, Equipment) and one.kind == "tank" and one.volume_ml == volume_ml]
        return max(tanks, key=lambda one: (one.films or 0) + (one.films_120 or 0) + (one.sheets or 0), default=None)

    def _route_and_strips(self, wanted: PlanRequest) -> tuple[Process, tuple[Strip, ...]]:
        strips = wanted.strips or (Strip(),)
        for strip in strips:
            if strip.film:
                self._store.films.get(strip.film)
        if wanted.recipe:
            recipe = self._store.recipes.get(wanted.recipe).thing
            film = next((kept.id for kept in self._store.films.all() if kept.thing.name == recipe.film.name), "")
            filled = tuple(
                s.model_copy(
                    update={
                        "controls": {**recipe.controls, **s.controls},
                        "film": s.film or film,
                        "recipe": s.recipe or wanted.recipe,
                    }
                )
                for s in strips
            )
            return recipe.route, filled
        process = known_process(self._store, wanted.route)
        # A process of the person's own says its first developer itself; what a strip says goes before it.
        said = controls_of(process, process.baths(known_formulas(self._store)))
        return process, tuple(s.model_copy(update={"controls": {**said, **s.controls}}) for s in strips)

    def _formulas(self, recipe_id: str) -> dict[str, Formula]:
        found = known_formulas(self._store)
        if recipe_id:
            found |= {formula.key: formula for formula in self._store.recipes.get(recipe_id).thing.formulas}
        return found

    def _standing(self) -> tuple[str, ...]:
        """Formulas of the lasting baths that stand mixed on the shelf."""
        known = known_formulas(self._store)
        keys = {kept.thing.formula for kept in self._store.bottles.all(own=True)}
        return tuple(sorted(key for key in keys if key in known and known[key].use_within_min is None))

    def keep_as_recipe(self, request: JsonObject, *, name: str) -> str:
        """Keep what was planned as a recipe of its film; returns its id.

        Raises
        ------
        InputError
            Where no strip names a film of the notebook.
        """
        wanted = read_document(PlanRequest, dict(request), where="plan")
        plan = self.plan(request)
        strip = next((one for one in plan.strips if one.film), None)
        if strip is None:
            raise InputError(
                "a recipe belongs to a film", where="film", remedy="choose the film of the notebook in the plan"
            )
        known = plan.route.baths(self._formulas(wanted.recipe))
        needed = dict.fromkeys(step.formula for step in plan.route.steps if step.formula)
        stock = self._store.films.get(strip.film).thing
        recipe = Recipe(
            name=name or plan.name,
            film=stock,
            exposure_index=stock.box_speed,
            controls=strip.controls,
            route=plan.route,
            formulas=tuple(known[key] for key in needed if key in known),
            aim=self._notebook.series(strip.film).aim,
            note="Kept from a plan.",
        )
        return self._notebook.keep_recipe(recipe).id

    # Runs

    def begin(self, request: JsonObject, *, speed: float = 1.0, id: str | None = None, person: str = "") -> str:
        """Keep a plan as an evening that may start; returns the id of the run.

        Parameters
        ----------
        speed : float
            Above 1 it is a rehearsal: the clock of the run goes so many times faster and nothing is booked.
        person : str
            Whose evening it is.
        """
        if not 1 <= speed <= MOST_SPEED:
            raise InputError(
                f"a rehearsal cannot go {speed:g} times as fast", where="speed", remedy=f"give 1 to {MOST_SPEED:g}"
            )
        plan = self.plan(request)
        run = RunEntry(
            name=plan.name + (" (rehearsal)" if speed != 1 else ""),
            status="planned",
            speed=speed,
            plan=plan,
            made_at=self._clock.now().isoformat(timespec="seconds"),
            person=person,
        )
        return self._store.runs.put(run, id=id, expected_revision=None if id is None else 0).id

    def runs(self) -> list[Stored[RunEntry]]:
        """All evenings, the newest first."""
        return self._store.runs.all()[::-1]

    def run(self, run_id: str) -> Stored[RunEntry]:
        """An evening as it is kept."""
        return self._store.runs.get(run_id)

    def open_runs(self) -> list[Stored[RunEntry]]:
        """Evenings of this darkroom that have begun and not ended, the newest first."""
        going = [kept for status in GOING for kept in self._store.runs.all(status=status, own=True)]
        return sorted(going, key=lambda kept: (kept.created_at, kept.id), reverse=True)

    def state(self, run_id: str) -> RunState:
        """Where a run stands."""
        with self._lock:
            return self._read(run_id).state

    def now_s(self, run_id: str) -> float:
        """The present instant of the run's clock, seconds since 1970 UTC."""
        with self._lock:
            return self._now_s(run_id, self._read(run_id))

    def last_seq(self, run_id: str) -> int:
        """How many events the run has; cheap enough to be asked several times a second."""
        with self._lock:
            return self._read(run_id).seq

    def look(self, run_id: str) -> EveningLook:
        """Everything a face shows of a run now."""
        with self._lock:
            live = self._read(run_id)
            now_s = self._now_s(run_id, live)
            shown = view(live.state, now_s)
            return EveningLook(run_id, live.seq, live.speed, self._parted(live), bool(live.anchors), shown)

    def record(
        self, run_id: str, event_id: str, document: JsonObject, *, picture: tuple[bytes, str] | None = None
    ) -> Answer:
        """Write one event down, then say what comes of it. The same `event_id` twice is one event.

        Parameters
        ----------
        document : mapping
            An `Event`; without `at_s` it happened now.
        picture : tuple of bytes and str, optional
            Bytes and media type of what the event's `blob` names; kept with the event or not at all.

        Raises
        ------
        InputError
            For an event that makes no sense; nothing is written then.
        StoreError
            Where the disk is full or locked; nothing is written then, the same event may be sent again.
        """
        with self._lock:
            live = self._read(run_id)
            known = live.seqs.get(event_id)
            if known is None:
                event = self._event(run_id, live, event_id, document)
                advance(live.state, event, event.at_s)  # raises before anything is written
                self.at_point(f"before_write:{event.kind}")
                with self._store.transaction():
                    if picture is not None:
                        self._store.put_blob(*picture)
                        self.at_point("between_picture_and_event")
                    self._store.write_event(run_id, event_id, event)
                self.at_point(f"after_write:{event.kind}")
                live = self._read(run_id)
            if live.state.status in ENDED and live.books:
                self._settle(run_id, live)
            self.at_point(f"before_answer:{document.get('kind')}")
            seq = live.seqs[event_id]
            orders = tuple(order_told(order, live.state.plan) for order in live.orders.get(seq, ()))
            if document.get("kind") == "acknowledged" and any(order.do == "show" for order in orders):
                orders = (*orders, *self._clip_told(live, str(document.get("action", ""))))
            return Answer(seq, known is None, orders, self.look(run_id))

    def what_if(self, run_id: str, document: JsonObject) -> TouchEffect:
        """What an event would do to the rest of the evening; nothing is written down.

        Raises
        ------
        InputError
            For an event that makes no sense.
        """
        with self._lock:
            live = self._read(run_id)
            event = self._event(run_id, live, "what-if", document)
            return effect(live.state, event, self._now_s(run_id, live))

    def _event(self, run_id: str, live: _Live, event_id: str, document: JsonObject) -> Event:
        given = dict(document)
        if given.get("kind") in ("clock", "booked"):
            raise InputError(
                f"an event of kind {given['kind']!r} is not made by hand", where="event", remedy="send another kind"
            )
        now_s = self._now_s(run_id, live)
        told_s = given.get("at_s")
        if told_s is None or given.get("kind") == "started":
            given["at_s"] = now_s
        event = read_document(Event, given, where="event")
        event = event.model_copy(update={"id": event_id, "at_s": min(event.at_s, now_s)})
        _ask_about(live.state, event)
        if event.kind == "started":
            event = event.model_copy(update={"data": {"anchor": self._anchor(event.at_s)}})
        return event

    def _anchor(self, instant_s: float) -> JsonObject:
        anchor = _Anchor(
            boot=self._clock.boot(),
            steady_s=self._clock.steady_s(),
            instant_s=instant_s,
            date_s=self._clock.now().timestamp(),
        )
        return anchor.model_dump(mode="json")

    def _ahead_s(self, live: _Live) -> float:
        """How far the date has gone ahead of this computer's steady clock in a live evening; 0 where it is no matter."""
        own = live.anchors.get(self._clock.boot())
        if own is None or own.date_s is None or live.speed != 1 or live.state.status not in GOING:
            return 0.0
        return parted_s(own.date_s, own.steady_s, self._clock.now().timestamp(), self._clock.steady_s())

    def _parted(self, live: _Live) -> ClockQuestion | None:
        ahead_s = self._ahead_s(live)
        return parted_words(ahead_s, counts_sleep=self._clock.counts_sleep) if ahead_s else None

    def settle_clock(self, run_id: str, how: Literal["slept", "date_set"]) -> EveningLook:
        """What the person says of a date that has parted from the steady clock; pressed twice it is done once.

        Parameters
        ----------
        how : {"slept", "date_set"}
            The computer slept and its steady clock stood: what it missed is counted. Or the date was set: the run goes on
            as it went.

        Raises
        ------
        InputError
            If the date was set back: then nothing was slept.
        """
        with self._lock:
            live = self._read(run_id)
            ahead_s = self._ahead_s(live)
            if ahead_s:
                if how == "slept" and ahead_s < 0:
                    raise InputError(
                        "the date lies behind, and no sleep sets it back",
                        where="clock",
                        remedy="choose that the date was set",
                    )
                missed_s = ahead_s if how == "slept" else 0.0
                instant_s = self._now_s(run_id, live) + missed_s
                own = live.anchors[self._clock.boot()]
                event = Event(
                    kind="clock",
                    at_s=instant_s,
                    text=settled_words(ahead_s, counted=how == "slept"),
                    data={"anchor": self._anchor(instant_s), "settles": True},
                )
                # Named by the anchor it takes the place of: two programs of this computer settle it once.
                named = hashlib.sha256(f"{own.boot} {own.steady_s!r} {own.instant_s!r}".encode()).hexdigest()[:16]
                self._store.write_event(run_id, f"clock-settled:{named}", event)
            return self.look(run_id)

    def _now_s(self, run_id: str, live: _Live) -> float:
        state = live.state
        if not live.anchors:
            return self._clock.now().timestamp()
        own = live.anchors.get(self._clock.boot())
        if own is None:
            if state.status in ENDED:
                return max(self._clock.now().timestamp(), state.last_s)
            self._anchor_anew(run_id, live)
            own = live.anchors[self._clock.boot()]
        # Never before the last event, though another computer's date may have gone ahead of this one's.
        return max(own.instant_s + (self._clock.steady_s() - own.steady_s) * live.speed, live.state.last_s)

    def _anchor_anew(self, run_id: str, live: _Live) -> None:
        """This computer has no anchor here: it was started anew, or is another one; the date has to help."""
        date_s, last_s = self._clock.now().timestamp(), live.state.last_s
        # A rehearsal stands still while nobody looks.
        instant_s = last_s if live.speed != 1 else max(date_s, last_s)
        text = ""
        if live.speed == 1 and date_s < last_s - 1:
            text = (
                f"The computer's date lies {last_s - date_s:.0f} s before the last thing that happened here. "
                "The run goes on from there; look at another clock how long the film has truly been in its bath."
            )
        event = Event(kind="clock", at_s=instant_s, text=text, data={"anchor": self._anchor(instant_s)})
        self._store.write_event(run_id, f"clock:{secrets.token_hex(8)}", event)
        self._read(run_id)

    def _read(self, run_id: str) -> _Live:
        """Take in the events that were written since, here or by another program."""
        live = self._live.get(run_id)
        if live is None:
            kept_run = self._store.runs.get(run_id)
            run = kept_run.thing
            live = _Live(begin(run.plan), run.speed, run.status, run.speed == 1 and not kept_run.elsewhere)
        for kept in self._store.happened(run_id, live.seq):
            event = kept.event.model_copy(update={"id": kept.event_id})
            live.state, orders = advance(live.state, event, event.at_s)
            if "anchor" in event.data:
                anchor = read_document(_Anchor, event.data["anchor"], where=f"run {run_id}, event {kept.seq}")
                # The first of a computer counts: two of its programs may have written one down at once.
                if event.data.get("settles"):
                    live.anchors[anchor.boot] = anchor
                live.anchors.setdefault(anchor.boot, anchor)
            live.orders[kept.seq] = orders
            live.seqs[kept.event_id] = kept.seq
            live.seq = kept.seq
        self._live[run_id] = live
        if live.state.status != live.status_kept:
            # The list of evenings follows the events; after a cut between the two it catches up here.
            with self._store.transaction():
                kept_run = self._store.runs.get(run_id)
                # Another computer may have written on meanwhile; then its next reader catches up, not this one.
                newest = not self._store.happened(run_id, live.seq)
                if newest and kept_run.thing.status != live.state.status and kept_run.retired_at is None:
                    self._store.runs.put(kept_run.thing.model_copy(update={"status": live.state.status}), id=run_id)
            if newest:
                live.status_kept = live.state.status
        return live

    # After the run

    def settle(self, run_id: str) -> tuple[str, ...]:
        """Book what an ended run used, as far as it is not booked; returns what could not be booked and why."""
        with self._lock:
            live = self._read(run_id)
            if live.state.status not in ENDED:
                raise ConflictError("the evening has not ended", where=run_id, remedy="end it first")
            return self._settle(run_id, live) if live.books else ()

    def _settle(self, run_id: str, live: _Live) -> tuple[str, ...]:
        refused = []
        now_s = self._now_s(run_id, live)
        for key, work in book(self._store, self._care, self._notebook, run_id, live.state):
            if key in live.state.booked:
                continue
            try:
                with self._store.transaction():
                    told = work()
                    if not told:
                        continue
                    self.at_point(f"between_book:{key}")
                    event = Event(kind="booked", at_s=max(now_s, live.state.last_s), text=key, data={"told": told})
                    self._store.write_event(run_id, f"booked:{key}"[:120], event)
            except InputError as error:
                refused.append(error.sentence)
                continue
            live = self._read(run_id)
        return tuple(refused)

    def report(self, run_id: str) -> EveningReport:
        """What truly happened: the log, the controls of each strip, baths used, what is booked, what must still be destroyed."""
        with self._lock:
            live = self._read(run_id)
            refused = self._settle(run_id, live) if live.state.status in ENDED and live.books else ()
            state = self._read(run_id).state
        names = {action.key: title_words(action) for action in state.plan.actions}
        happened = [kept.event.model_copy(update={"id": kept.event_id}) for kept in self._store.happened(run_id)]
        duties = self._duties(run_id, state) if live.speed == 1 else ()
        by_id = {event.id: event for event in happened}
        standing = {event.id: event for event in effective(state.events)}
        had_effect = {event.id for event in state.events}
        last_press = state.press.id if state.press is not None else ""
        log = []
        for seq, event in enumerate(happened, start=1):
            now = standing.get(event.id, event)
            target = by_id.get(event.of)
            log.append(
                LoggedEvent(
                    seq=seq,
                    title=names.get((target or event).action, ""),
                    event=event,
                    told=str(event.data.get("told", "")),
                    struck=event.id in had_effect and event.kind not in CORRECTIONS and event.id not in standing,
                    ignored=event.id not in had_effect and event.kind != "clock",
                    truly={
                        name: getattr(now, name)
                        for name in ("temperature_c", "text", "at_s")
                        if getattr(now, name) != getattr(event, name)
                    },
                    of_kind=target.kind if target is not None else "",
                    correctable=event.id in standing
                    and (event.kind in WRITTEN or (event.id == last_press and event.kind != "started")),
                )
            )
        return EveningReport(run_id, state, tuple(log), duties, refused)

    def _duties(self, run_id: str, state: RunState) -> tuple[BathDuty, ...]:
        """What this evening leaves to destroy, and what it has destroyed: one state, from the run and from the shelf."""
        found = []
        standing = still_to_destroy(state)
        for formula in dict.fromkeys(a.formula for a in state.plan.actions if a.kind == "destroy"):
            done_s = destroyed_at_s(state, formula)
            bottles = used_bottles(self._store, run_id, formula, retired=True)
            gone = [kept.retired_at for kept in bottles if kept.retired_at is not None]
            if formula in standing and bottles and len(gone) == len(bottles):
                done_s = max(gone).timestamp()
            if formula not in standing and done_s is None:
                continue
            open_ = [kept.id for kept in bottles if kept.retired_at is None]
            taken = next((t.by for t in state.taken if t.formula == formula), "")
            found.append(
                BathDuty(
                    formula=formula,
                    name=bath_name(formula, state.plan),
                    done_s=done_s,
                    href=f"/shelf/care/baths/{open_[0]}/destroy" if open_ and done_s is None else "",
                    taken=taken,
                )
            )
        return tuple(found)

    def taken(self, run_id: str, formula: str) -> str:
        """Who of that evening has said that they destroy the bath; empty where nobody has."""
        if self._store.runs.find(run_id) is None:
            return ""
        return next((t.by for t in self.state(run_id).taken if t.formula == formula), "")

    def duties(self) -> tuple[Duty, ...]:
        """What evenings leave to destroy and no bottle on the shelf stands for: of those that go on, and of those ended early."""
        found = []
        for run in self.open_runs():
            if run.thing.speed != 1:
                continue
            state, now_s = self.state(run.id), self.now_s(run.id)
            for life, by_s in running_lives(state):
                used = any(use.formula == life.formula for use in bath_uses(state))
                if life.kind == "deadline" and (used or by_s - now_s < SOON_S):
                    taken = self.taken(run.id, life.formula)
                    name = bath_name(life.formula, state.plan)
                    found.append(duty(name, f"/sink/{run.id}", by_s, now_s, taken, run.id, life.formula))
        ended = [run for run in self._store.runs.all(status="aborted")[::-1] if run.thing.speed == 1]
        for run in ended[:MOST_ENDED]:
            for one in self._duties(run.id, self.state(run.id)):
                if one.done_s is None and not one.href:
                    why = "It was mixed on an evening that ended early. It must not stand."
                    found.append(Duty(f"Destroy {one.name}", why, f"/sink/{run.id}", one.taken, run.id, one.formula))
        return tuple(found)

    def keep_photo(self, run_id: str, data: bytes, media_type: str, event_id: str | None = None) -> Answer:
        """Keep a picture taken at the sink and note it in the run."""
        if not media_type.startswith("image/"):
            raise InputError(f"{media_type or 'this'} is not a picture", where="photo", remedy="choose a picture")
        self.state(run_id)
        event = {"kind": "photo", "blob": hashlib.sha256(data).hexdigest()}
        return self.record(run_id, event_id or secrets.token_hex(8), event, picture=(data, media_type))


def bath_name(formula: str, plan: RunPlan) -> str:
    """The name of a bath, as whoever wrote its process or its recipe calls it; else as it is called on the bench."""
    of_the_process = plan.route.baths({})
    if formula in of_the_process:
        return of_the_process[formula].name
    mixed = (action.name for action in plan.actions if action.kind == "prepare" and action.formula == formula)
    known = generic_formulas()
    return next(mixed, known[formula].name if formula in known else formula.replace("_", " "))


def _ask_about(state: RunState, event: Event) -> None:
    """Ask once more about a temperature that hardly any bath has, before it is kept."""
    if event.temperature_c is None or event.sure:
        return
    key = event.action or next((e.action for e in state.events if e.id == event.of), "")
    action = next((a for a in state.plan.actions if a.key == key), state.action)
    in_a_bath = action is not None and action.kind in ("bath", "rinse", "wash", "check")
    doubt = doubt_about(event.temperature_c, of_a_bath=in_a_bath)
    if doubt is None:
        return
    meant = f"; {doubt.temperature_c:g} F would be {doubt.from_fahrenheit_c:.1f} C" if doubt.from_fahrenheit_c else ""
    raise UnlikelyError(
        f"{doubt.temperature_c:g} C is {'hardly the temperature of a bath' if in_a_bath else 'a strange temperature'}{meant}",
        where="temperature",
        remedy="give what you read, or say that you are sure",
    )


def asked_limits() -> dict[str, tuple[float, float]]:
    """Between which temperatures nobody is asked whether it was so: in a bath of the film, and elsewhere."""
    return {
        which: (number(f"practice.run.asked_{which}_low_c"), number(f"practice.run.asked_{which}_high_c"))
        for which in ("bath", "elsewhere")
    }


def _seen_films(bottle: Bottle) -> float:
    """Films 135-36 that went through a jug since it was filled, or since it was last restored."""
    restored_m2 = max((note.area_m2 for note in bottle.notes if note.kind == "restored"), default=0.0)
    return max(0.0, sum(entry.area_m2 for entry in bottle.passes) - restored_m2) / area_of_pieces_m2(())


def _good_for(step: Step, bottle: Bottle) -> float | None:
    """How many films the person counts a jug good for as it stands; None where it is not said."""
    restored = any(note.kind == "restored" for note in bottle.notes)
    if restored and step.renewal is not None and step.renewal.restored_films is not None:
        return step.renewal.restored_films
    return step.good_for_films


def _near_its_end(step: Step, bottle: Bottle) -> bool:
    """Whether a jug has one film left or none by the person's count, or nobody knows; not where a clip was tried since its last film."""
    area_m2 = sum(entry.area_m2 for entry in bottle.passes)
    tried = any(note.kind == "clip" and note.area_m2 >= area_m2 for note in bottle.notes)
    good = _good_for(step, bottle)
    counted = bottle.passes and good is not None and _seen_films(bottle) >= good - LAST_FILMS - ROUNDING
    return not tried and (not bottle.count_known or bool(counted))
