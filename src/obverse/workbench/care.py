"""Care: baths and how long they last, waste jugs, hazards of a route, the air of the room, what may not meet."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from obverse.chemistry import Range
from obverse.foundation import Caution, InputError, UnsafeError, read_document
from obverse.process import BathPass, Bottle, Formula, Product, Route, Step
from obverse.process.catalog import formulas, routes
from obverse.reference import number, record
from obverse.safety import (
    CONTEXTS,
    Finding,
    Residue,
    as_matter,
    check_carry_over,
    check_mixture,
    check_room,
    check_route,
    check_storage,
    check_waste_jug,
    destruction_steps,
    known_names,
    of_product,
    residue_of,
    standing_caution,
)
from obverse.safety.airborne import AirEstimate, Room, ammonia_in_air, release_in_air, sulfur_dioxide_from_g
from obverse.safety.bath_life import Belief, Forecast, Pass, first_belief, forecast, has_capacity, learn, silver_taken_g
from obverse.safety.hazards import HazardSheet, hazards_of_route
from obverse.safety.matter import Matter, of_formula
from obverse.safety.waste import (
    Jug,
    JugClass,
    Poured,
    cautions_of,
    jug_class,
    jug_classes,
    may_be_added,
    pour,
    silver_total_g,
    wrong_class,
)
from obverse.store import Stored
from obverse.store.records import RoomEntry
from obverse.workbench.place import Place

FILMS = {
    "135-36": "area.135-36",
    "135-24": "area.135-24",
    "120": "area.120",
    "4x5 sheet": "area.4x5_sheet",
    "super 8 cartridge": "area.super_8_cartridge",
    "16 mm, 30.5 m": "area.16_mm_30.5_m",
}

_ROOM = "room"
# Cautions of a forecast that belong before the evening.
_BEFORE = ("bath.ghost", "bath.weak", "bath.soon", "bath.old")


@dataclass(frozen=True, slots=True)
class BathView:
    """A mixed bath as it stands: what it has seen and what the next film may expect."""

    id: str
    revision: int
    bottle: Bottle
    formula: Formula
    age_h: float | None
    forecast: Forecast | None
    residue: Residue | None
    cautions: tuple[Caution, ...]

    @property
    def clock_started(self) -> datetime | None:
        """When the clock of what must be destroyed began; None where nothing runs."""
        if self.residue is None or not self.bottle.passes:
            return None
        if self.residue.from_mixing:
            return self.bottle.mixed_at or self.bottle.passes[0].at
        return self.bottle.passes[0].at or self.bottle.mixed_at

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "id": self.id,
            "revision": self.revision,
            "name": self.bottle.name,
            "formula": self.formula.key,
            "volume_ml": self.bottle.amount,
            "age_h": self.age_h,
            "passes": [entry.model_dump(mode="json") for entry in self.bottle.passes],
            "forecast": self.forecast.document() if self.forecast else None,
            "destroy_within_min": self.residue.deadline_min if self.residue else None,
            "cautions": [caution.document() for caution in self.cautions],
        }


@dataclass(frozen=True, slots=True)
class JugView:
    """A waste jug with its class and what is to be told of it."""

    id: str
    revision: int
    jug: Jug
    kind: JugClass
    cautions: tuple[Caution, ...]

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "id": self.id,
            "revision": self.revision,
            **self.jug.model_dump(mode="json"),
            "volume_ml": self.jug.volume_ml,
            "silver_g": self.jug.silver_g.document(),
            "accepts": self.kind.accepts,
            "never": self.kind.never,
            "goes": self.kind.goes,
            "cautions": [caution.document() for caution in self.cautions],
        }


@dataclass(frozen=True, slots=True)
class StepCare:
    """One step of a route: its hazards, its findings, its air, and the destruction that follows it."""

    step: Step
    sheet: HazardSheet | None
    findings: tuple[Finding, ...]
    air: AirEstimate | None
    destruction: tuple[Step, ...]

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "step": self.step.model_dump(mode="json"),
            "hazards": self.sheet.document() if self.sheet else None,
            "findings": [finding.document() for finding in self.findings],
            "air": self.air.document() if self.air else None,
            "destruction": [step.model_dump(mode="json") for step in self.destruction],
        }


@dataclass(frozen=True, slots=True)
class RouteCare:
    """A whole route with all that care has to say of it."""

    route: Route
    steps: tuple[StepCare, ...]
    elsewhere: tuple[Finding, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, those of the steps first."""
        return tuple(finding for step in self.steps for finding in step.findings) + self.elsewhere

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "route": self.route.key,
            "name": self.route.name,
            "warnings": list(self.route.warnings),
            "steps": [step.document() for step in self.steps],
            "elsewhere": [finding.document() for finding in self.elsewhere],
        }


class Care(Place):
    """Baths, jugs, hazards and the room of one person.

    Parameters
    ----------
    store, clock, home
        As `open_workbench` gives them.
    """

    def now(self) -> datetime:
        """The instant by the clock of the house."""
        return self._clock.now()

    # Baths

    def baths(self) -> list[BathView]:
        """Every mixed bath that is still there, the one that needs care most first."""
        known = self._formulas()
        kept = [self._bath(row) for row in self._store.bottles.all(own=True) if row.thing.formula in known]
        order = {"danger": 0, "caution": 1, "note": 2}
        return sorted(kept, key=lambda view: min((order[c.level.value] for c in view.cautions), default=2))

    def bath(self, id: str) -> BathView:
        """One mixed bath.

        Raises
        ------
        InputError
            If that bottle holds a product.
        """
        return self._bath(self._store.bottles.get(id))

    def mix_bath(self, formula_key: str, volume_ml: float, *, name: str = "") -> str:
        """Write down that a bath was mixed now; returns its id."""
        formula = self._formula(formula_key)
        now = self._clock.now()
        bottle = read_document(
            Bottle,
            {
                "name": name or formula.name,
                "formula": formula.key,
                "amount": volume_ml,
                "filled_on": now.date().isoformat(),
                "mixed_at": now.isoformat(),
            },
            where="bath",
        )
        return self._store.bottles.put(bottle).id

    def count_pass(
        self,
        id: str,
        *,
        film: str = "135-36",
        films: float = 1.0,
        area_m2: float | None = None,
        time_ratio: float = 1.0,
        run: str = "",
    ) -> BathView:
        """Count films that go through a bath now.

        Parameters
        ----------
        film : str
            One of `FILMS`; `area_m2` (of all the films together) counts before it.
        """
        view = self.bath(id)
        if area_m2 is None:
            area_m2 = films * film_area_m2(film)
        entry = {
            "area_m2": area_m2,
            "films": films,
            "time_ratio": time_ratio,
            "at": self._clock.now().isoformat(),
            "run": run,
        }
        passed = read_document(BathPass, entry, where="bath")
        return self._rewrite(view, passes=(*view.bottle.passes, passed))

    def judge(self, id: str, index: int, ghost: bool | None) -> BathView:
        """Say whether a ghost of the negative was seen on the films of a pass; the forecasts of all baths of this kind learn from it."""
        view = self.bath(id)
        if not 0 <= index < len(view.bottle.passes):
            raise InputError(
                f"the bath has seen no film number {index + 1}",
                where=view.bottle.name,
                remedy="choose one of its films",
            )
        passes = list(view.bottle.passes)
        passes[index] = passes[index].model_copy(update={"ghost": ghost})
        return self._rewrite(view, passes=tuple(passes))

    def _verdicts(self) -> dict[str, bool]:
        """What the notebook's trials say of each run: a ghost was among their faults, or the strip was read or graded and none was."""
        seen: dict[str, bool] = {}
        for row in self._store.trials.all():
            run, trial = row.thing.run, row.thing.trial
            if not run or not (trial.faults or trial.steps or trial.grades):
                continue
            seen[run] = seen.get(run, False) or "ghost_negative" in trial.faults
        return seen

    def belief(self, formula: Formula) -> Belief:
        """What all judged films say of this kind of bath, retired bottles too."""
        return self._belief(formula, without="", verdicts=self._verdicts())

    def before_an_evening(
        self, route: Route, area_m2: float, tank_ml: float, *, given: Mapping[str, Formula] | None = None
    ) -> tuple[Caution, ...]:
        """What is to be told before a film is put at risk: baths that are near their end, old ones that still stand, what must leave the room.

        Parameters
        ----------
        area_m2 : float
            Film area of the evening.
        tank_ml : float
            Of a bath that is mixed fresh; a kept one counts as its bottle says.
        given : mapping, optional
            Formulas by key; default the packaged ones.

        Returns
        -------
        tuple of Caution
            `where` is the key of the step, empty for what concerns the evening.
        """
        known = given or self._formulas()
        told = []
        standing = [
            self._bath(row) for row in self._store.bottles.all(own=True) if row.thing.formula in self._formulas()
        ]
        kept = {view.formula.key: view for view in standing}
        for step in route.steps:
            formula = known.get(step.formula or "")
            if formula is None or not has_capacity(formula):
                continue
            view = kept.get(formula.key) if step.after_use == "keep" else None
            told += [
                replace(c, where=step.key)
                for c in self._forecast(formula, view, area_m2, tank_ml).cautions
                if c.code in _BEFORE
            ]
        told += [
            replace(c, text=f"{view.bottle.name}: {c.text}", where="")
            for view in standing
            for c in view.cautions
            if c.code.startswith("destroy.")
        ]
        told += [replace(finding.caution(), where="") for finding in self._out_of_the_room(route)]
        return tuple(told)

    def destruction(self, id: str) -> tuple[Step, ...]:
        """The steps that make this used bath harmless; empty where it may go to its jug."""
        view = self.bath(id)
        return destruction_steps(view.formula, volume_ml=view.bottle.amount or 500.0)

    def bath_into_jug(
        self, id: str, jug_id: str, *, destroyed: bool = False, volume_ml: float | None = None
    ) -> JugView:
        """Pour a bath away into a jug and take it off the list.

        Parameters
        ----------
        volume_ml : float, optional
            What goes in; default the whole bath. Of a destroyed bath it is often only the rinsed sludge.

        Raises
        ------
        UnsafeError
            If it must be destroyed first, or may not meet what is in the jug.
        """
        view = self.bath(id)
        poured = self._poured(view) | ({} if volume_ml is None else {"volume_ml": volume_ml})
        with self._store.transaction():
            jug = self.pour_document(jug_id, poured, treated=destroyed)
            self._store.bottles.retire(id)
        return jug

    def bath_gone(self, id: str, *, destroyed: bool = False) -> None:
        """Take a bath off the list that went elsewhere.

        Raises
        ------
        UnsafeError
            If it must be destroyed and nobody says that it was.
        """
        view = self.bath(id)
        if view.residue is not None and view.bottle.passes and not destroyed:
            raise UnsafeError(
                "it must be destroyed, not only put away",
                where=view.bottle.name,
                remedy="do its destruction steps and say that they are done",
            )
        self._store.bottles.retire(id)

    # Jugs

    def jugs(self) -> list[JugView]:
        """The jugs that stand, by letter."""
        views = [self._jug(row) for row in self._store.jugs.all(own=True)]
        return sorted(views, key=lambda view: view.jug.letter)

    def silver_g(self) -> Range:
        """Silver in all the jugs that stand, as a range."""
        return silver_total_g(view.jug for view in self.jugs())

    def jug(self, id: str) -> JugView:
        """One jug."""
        return self._jug(self._store.jugs.get(id))

    def classes(self) -> dict[str, JugClass]:
        """The classes of waste by letter."""
        return jug_classes()

    def begin_jug(self, letter: str, capacity_ml: float, *, name: str = "", vented: bool = True) -> str:
        """Set up a jug; returns its id.

        Raises
        ------
        UnsafeError
            For a class that is never kept.
        """
        kind = jug_class(letter)
        jug = read_document(
            Jug,
            {"letter": letter, "name": name or f"{letter} {kind.name}", "capacity_ml": capacity_ml, "vented": vented},
            where="jug",
        )
        if kind.goes.startswith("never a jug"):
            raise UnsafeError(
                f"class {letter} ({kind.name}) is never kept in a jug",
                where="jug",
                remedy=kind.accepts.removeprefix("none: "),
            )
        return self._store.jugs.put(jug).id

    def ask_jug(self, id: str, what: str) -> tuple[Finding, ...]:
        """What would be met if this were poured in."""
        return may_be_added(self.jug(id).jug, what, self._formulas())

    def wrong_class(self, id: str, what: str) -> Caution | None:
        """What is to be told where this belongs into a jug of another class."""
        return wrong_class(self.jug(id).jug, what, self._formulas())

    def pour(self, id: str, what: str, volume_ml: float, *, treated: bool = False, films: float = 0.0) -> JugView:
        """Pour something in, by the key of a formula, product or substance.

        Raises
        ------
        UnsafeError
            If that could kill, or must be destroyed first.
        """
        formula = self._formulas().get(what.removeprefix("used_"))
        silver = silver_taken_g(formula, films * number("area.135-36")) if formula is not None else None
        entry: dict[str, Any] = {"what": what, "volume_ml": volume_ml, "on": self._clock.now().date().isoformat()}
        if silver is not None:
            entry |= {"silver_low_g": silver.low, "silver_likely_g": silver.likely, "silver_high_g": silver.high}
        return self.pour_document(id, entry, treated=treated)

    def pour_document(self, id: str, entry: dict[str, Any], *, treated: bool = False) -> JugView:
        """Pour something in that is written out as a document."""
        view = self.jug(id)
        jug = pour(view.jug, read_document(Poured, entry, where=view.jug.name), treated=treated, known=self._formulas())
        return self._jug(self._store.jugs.put(jug, id=id, expected_revision=view.revision))

    def hand_in(self, id: str) -> None:
        """The jug went to the collection of the authority."""
        self._store.jugs.retire(id)

    # Hazards, meetings, air

    def route(self, key: str, *, room: Room | None = None) -> RouteCare:
        """All that care has to say of a route.

        Raises
        ------
        InputError
            If there is no route of that key.
        """
        route = routes().get(key)
        if route is None:
            raise InputError(
                f"no route is called {key!r}", where="route", remedy="choose one of " + ", ".join(routes())
            )
        found = route_care(route, formulas(), room or self.room())
        return replace(found, elsewhere=(*found.elsewhere, *self._out_of_the_room(route)))

    def names(self) -> dict[str, str]:
        """Every key that the checker understands here, with its name: what is packaged and the person's own products."""
        return known_names() | {product.key: product.name for product in self._own_products()}

    def meet(self, names: list[str], context: str) -> tuple[Finding, ...]:
        """What is recorded of these coming together in this context, or in all of them for ``"any"``.

        The person's own products count as their labels say, before a packaged one of the same key.
        """
        own = {word.lower(): product for product in self._own_products() for word in (product.name, product.key)}
        return meeting([own.get(name.strip().lower(), name) for name in names], context)

    def shelf_findings(self) -> tuple[Finding, ...]:
        """What stands on the shelf and should not stand side by side."""
        matters: list[Matter] = [of_product(product) for product in self._own_products()]
        for row in self._store.bottles.all(own=True):
            formula = self._formulas().get(row.thing.formula or "")
            if formula is not None:
                matters.append(of_formula(formula, used=bool(row.thing.passes)))
        return check_storage(*matters, where="shelf")

    def room(self) -> Room:
        """The person's room; before it is entered, a small bathroom with its door closed."""
        kept = self._store.rooms.find(_ROOM)
        if kept is None or kept.elsewhere:
            usual = record("practice.room.unknown").value
            return Room(usual["volume_m3"], usual["air_changes_per_h"])
        return Room(kept.thing.volume_m3, kept.thing.air_changes_per_h, kept.thing.temperature_c)

    def set_room(self, volume_m3: float, air_changes_per_h: float, temperature_c: float = 20.0) -> Room:
        """Keep what the room is like."""
        room = Room(volume_m3, air_changes_per_h, temperature_c)
        entry = RoomEntry(volume_m3=volume_m3, air_changes_per_h=air_changes_per_h, temperature_c=temperature_c)
        with self._store.transaction():
            self._store.rooms.put(entry, id=_ROOM)
            self._store.claim("setting", _ROOM)
        return room

    # Small things

    def _own_products(self) -> list[Product]:
        return [row.thing for row in self._store.products.all(own=True)]

    def _out_of_the_room(self, route: Route) -> list[Finding]:
        """What the person owns that must not be in the room while this route is run."""
        baths = [of_formula(formulas()[step.formula], used=True) for step in route.steps if step.formula]
        found: dict[tuple[str, str], Finding] = {}
        for product in self._own_products():
            # One finding a bottle and pair is enough: it leaves the room because of any of the baths.
            for finding in check_room(of_product(product), *baths, where="the room"):
                if product.name in (finding.a_from, finding.b_from):
                    found.setdefault((product.key, finding.pair), finding)
        return list(found.values())

    def _formulas(self) -> dict[str, Formula]:
        """The packaged formulas and the person's own."""
        own = {row.id: row.thing for row in self._store.formulas.all(retired=True)}
        return {**formulas(), **own}

    def _formula(self, key: str) -> Formula:
        found = self._formulas().get(key)
        if found is None:
            raise InputError(
                f"no formula is called {key!r}", where="bath", remedy="choose one of " + ", ".join(formulas())
            )
        return found

    def _bath(self, row: Stored[Bottle]) -> BathView:
        bottle = row.thing
        if bottle.formula is None:
            raise InputError("it holds a product, not a mixed bath", where=bottle.name, remedy="choose a bath")
        formula = self._formula(bottle.formula)
        age_h = None if bottle.mixed_at is None else (self._clock.now() - bottle.mixed_at).total_seconds() / 3600
        age_h = None if age_h is None else max(0.0, age_h)
        view = BathView(row.id, row.revision, bottle, formula, age_h, None, residue_of(formula), ())
        if has_capacity(formula) and bottle.amount:
            expected = self._forecast(formula, view, None, bottle.amount)
            view = replace(view, forecast=expected, cautions=expected.cautions)
        if view.residue is None or not bottle.passes:
            return view
        # A clock that nobody started counts as run out.
        since = view.clock_started
        minutes = (self._clock.now() - since).total_seconds() / 60 if since else view.residue.deadline_min
        clock = standing_caution(formula, minutes)
        return replace(view, cautions=(clock, *view.cautions)) if clock else view

    def _forecast(self, formula: Formula, view: BathView | None, area_m2: float | None, tank_ml: float) -> Forecast:
        """What the next film may expect of a bath that stands, or of one mixed fresh where `view` is None."""
        verdicts = self._verdicts()
        belief = self._belief(formula, without=view.id if view else "", verdicts=verdicts)
        if view is None or not view.bottle.amount:
            return forecast(formula, volume_ml=tank_ml, next_area_m2=area_m2, belief=belief)
        passes = _passes(view.bottle, formula, verdicts)
        return forecast(
            formula, passes, volume_ml=view.bottle.amount, next_area_m2=area_m2, age_h=view.age_h, belief=belief
        )

    def _belief(self, formula: Formula, *, without: str, verdicts: dict[str, bool]) -> Belief:
        """What the other baths of the kind have taught."""
        belief = first_belief(formula)
        for row in self._store.bottles.all(retired=True, formula=formula.key):
            bottle = row.thing
            if row.id != without and bottle.amount:
                belief = learn(belief, _passes(bottle, formula, verdicts), bottle.amount)
        return belief

    def _rewrite(self, view: BathView, **values: Any) -> BathView:
        bottle = view.bottle.model_copy(update=values)
        return self._bath(self._store.bottles.put(bottle, id=view.id, expected_revision=view.revision))

    def _poured(self, view: BathView) -> dict[str, Any]:
        area = sum(p.area_m2 for p in view.bottle.passes)
        silver = silver_taken_g(view.formula, area)
        return {
            "what": view.formula.key,
            "volume_ml": view.bottle.amount or 500.0,
            "silver_low_g": silver.low,
            "silver_likely_g": silver.likely,
            "silver_high_g": silver.high,
            "on": self._clock.now().date().isoformat(),
            "note": f"{len(view.bottle.passes)} passes",
        }

    def _jug(self, row: Stored[Jug]) -> JugView:
        jug = row.thing
        return JugView(row.id, row.revision, jug, jug_class(jug.letter), cautions_of(jug, self._formulas()))


def film_area_m2(film: str) -> float:
    """Area of one film of a usual size, m2.

    Raises
    ------
    InputError
        If the size is none of `FILMS`.
    """
    try:
        return number(FILMS[film])
    except KeyError:
        raise InputError(
            f"no film size is called {film!r}", where="film", remedy="choose one of " + ", ".join(FILMS)
        ) from None


def meeting(names: Sequence[str | Product], context: str) -> tuple[Finding, ...]:
    """What is recorded of these coming together in a context, or in all of them for ``"any"``.

    Parameters
    ----------
    names : sequence of str or Product
        Keys or names that `obverse.safety.known_names` holds, or products.

    Raises
    ------
    InputError
        For fewer than two names, an unknown name or context.
    """
    if len(names) < 2:
        raise InputError("two things are needed to meet", where="check", remedy="name at least two")
    if context != "any" and context not in CONTEXTS:
        raise InputError(
            f"no context is called {context!r}", where="check", remedy="use one of any, " + ", ".join(CONTEXTS)
        )
    matters = [as_matter(name) for name in names]
    found: list[Finding] = []
    for each in CONTEXTS if context == "any" else (context,):
        found += _met(matters, each)
    return tuple(sorted(found, key=lambda f: (not f.refused, -f.severity, f.pair)))


def _met(matters: list[Matter], context: str) -> tuple[Finding, ...]:
    if context == "carry_over":
        steps = itertools.pairwise(matters)
        return tuple(finding for first, second in steps for finding in check_carry_over(first, second))
    check = {"mixing": check_mixture, "waste": check_waste_jug, "storage": check_storage, "same_room": check_room}[
        context
    ]
    return check(*matters)


def route_care(route: Route, given: dict[str, Formula], room: Room) -> RouteCare:
    """Every step of a route with its hazards, findings, air and destruction; findings of jugs stand elsewhere."""
    findings = check_route(route, given)
    sheets = {step.key: sheet for step, sheet in hazards_of_route(route, given)}
    steps = []
    for step in route.steps:
        formula = given.get(step.formula or "")
        steps.append(
            StepCare(
                step=step,
                sheet=sheets.get(step.key),
                findings=tuple(finding for finding in findings if finding.where == step.key),
                air=_air(step, formula, room) if formula is not None else None,
                destruction=destruction_steps(formula) if formula is not None and step.after_use == "destroy" else (),
            )
        )
    named = {step.key for step in route.steps}
    return RouteCare(route, tuple(steps), tuple(finding for finding in findings if finding.where not in named))


def _air(step: Step, formula: Formula, room: Room) -> AirEstimate | None:
    """The gas a step may give off: ammonia of an open mouth, or the sulfur dioxide of carried-in acid."""
    parts = of_formula(formula).ingredients
    ammonia = next((part for part in parts if part.key == "ammonia"), None)
    if ammonia is not None and ammonia.g_per_l:
        return ammonia_in_air(
            room, ammonia.g_per_l / number("mm.ammonia"), number("practice.air.tank_mouth_m2"), step.time_min
        )
    sulfite = next((part for part in parts if part.key in ("sodium_metabisulfite", "sodium_dithionite")), None)
    if sulfite is not None and sulfite.g_per_l:
        grams = sulfite.g_per_l * record("practice.air.sulfite_released_ml").number / 1000
        return release_in_air(room, "sulfur_dioxide", sulfur_dioxide_from_g(sulfite.key, grams))
    return None


def _passes(bottle: Bottle, formula: Formula, verdicts: dict[str, bool]) -> tuple[Pass, ...]:
    """The passes with what was seen of them: what the person said here, else what the notebook's trials of that run say."""
    found = []
    for entry in bottle.passes:
        ghost = entry.ghost
        # A ghost of the negative is the bleach's doing, or the ammonia's; fixer and fogging leave none.
        if ghost is None and formula.role in ("bleach", "halide_solvent"):
            ghost = verdicts.get(entry.run.split("/", 1)[0])
        found.append(Pass(entry.area_m2, ghost, entry.time_ratio))
    return tuple(found)
