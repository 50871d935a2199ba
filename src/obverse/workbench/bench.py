"""The bench: choose a route and a recipe, scale to the tank, mix."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from obverse.foundation import (
    ML_PER_L,
    Caution,
    InputError,
    JsonObject,
    Level,
    System,
    UnsafeError,
    read_document,
    together,
)
from obverse.mixing import (
    ROLE_OF,
    Conversion,
    Insight,
    Lack,
    MixSheet,
    PouredThere,
    brings_it,
    candidates,
    convert,
    insights,
    lacking,
    mix,
    read_said,
    refusal,
    serves,
    taken_of,
    target_g_per_l,
    with_controls,
)
from obverse.process import BathByBottles, Component, Dilution, Formula, Process, Product, Recipe, Step, Tool, parse_mix
from obverse.process.catalog import formulas, substance
from obverse.process.catalog import products as generic_products
from obverse.safety import (
    HURTS,
    USUAL_BATH_ML,
    Amount,
    Finding,
    HazardSheet,
    Portion,
    Room,
    assess,
    check_mix,
    finding_of,
    hazards_of,
    portion_of,
    refuse_lethal,
    setting_for,
)
from obverse.workbench import words
from obverse.workbench.known_baths import known_formulas, known_process
from obverse.workbench.my_room import room_of
from obverse.workbench.place import Place
from obverse.workbench.shelf import Shelf
from obverse.workbench.stock import stock_told

if TYPE_CHECKING:
    from obverse.clock import Clock
    from obverse.run import Action
    from obverse.store import Store


# A powder that is weighed ahead waits in its cup through an evening; ours.
WEIGHED_H = 4.0


def make_sheet(
    formula: Formula,
    volume_ml: float,
    products: Sequence[Product],
    tools: Sequence[Tool],
    *,
    choices: Mapping[str, str] | None = None,
    room: Room | None = None,
) -> MixSheet:
    """Mix, and let the hazard rules look at what is in the bath and in the bottles.

    Parameters
    ----------
    room : Room, optional
        Where it is mixed; default one of which nothing is known.

    Raises
    ------
    InputError
        If it cannot be mixed.
    UnsafeError
        If what comes together can kill.
    """
    try:
        sheet = mix(formula, volume_ml, products, tools, choices=choices)
    except InputError:
        # Nobody is sent for a bottle that would make what can kill.
        refuse_lethal(check_mix(formula, volume_ml=volume_ml if volume_ml > 0 else USUAL_BATH_ML, room=room))
        raise
    return _checked(formula, sheet, products, room)


def _checked(formula: Formula, sheet: MixSheet, products: Sequence[Product], room: Room | None) -> MixSheet:
    bottles = [p for p in products if p.key in sheet.amounts]
    findings = _met(formula, sheet, bottles, room)
    if sheet.bounds_g_per_l:
        # Too much of one thing may hide another: what a label leaves open is looked at from both ends.
        ends = (sheet.at("high"), sheet.at("low"))
        findings = (*findings, *(finding for end in ends for finding in _met(formula, end, bottles, room)))
    refuse_lethal(findings)
    if any(c.code == "mix.heat" for c in sheet.all_cautions):
        # Said at its line already, with what to do there.
        findings = tuple(f for f in findings if f.pair != "reckoned.heat")
    return sheet.with_cautions(tuple(dict.fromkeys((*(f.caution() for f in findings), *_told_by_labels(bottles)))))


def _met(formula: Formula, sheet: MixSheet, bottles: Sequence[Product], room: Room | None) -> tuple[Finding, ...]:
    added = _as_added(sheet, bottles)
    found = check_mix(
        _as_mixed(formula, sheet),
        bottles,
        volume_ml=sheet.volume_ml,
        added=added,
        room=room,
        where=formula.name,
    )
    place = (room, formula.name)
    return (
        *found,
        *_out_of_order(added, found, *place),
        *_in_one_go(added, found, *place),
        *_in_the_cup(added, *place),
    )


def _out_of_order(
    added: Sequence[Portion], found: Sequence[Finding], room: Room | None, where: str
) -> tuple[Finding, ...]:
    """What two bottles of a sheet do to each other undiluted, where no recorded pair has said it of them."""
    setting = setting_for("mixing", room)
    said = {frozenset((one.a_from, one.b_from)) for one in found}
    neat = [replace(portion, at_once=True) for portion in added if portion.moles]
    alone = {effect.mechanism for portion in neat for effect in assess([portion], setting)}
    told = []
    for one, other in itertools.combinations(neat, 2):
        for effect in assess([one, other], setting):
            if effect.severity < HURTS or effect.mechanism in alone or frozenset((one.name, other.name)) in said:
                continue
            text = f"Keep to the order of this sheet. Otherwise {one.name} and {other.name} meet: {effect.what} ({effect.amount})."
            told.append(replace(finding_of(effect, setting, where), refused=False, text=text))
    return tuple(told)


def _in_the_cup(added: Sequence[Portion], room: Room | None, where: str) -> list[Finding]:
    """What a powder that was weighed does in a cup that is not dry."""
    setting = replace(setting_for("damp", room), hours=WEIGHED_H)
    return [
        replace(one, refused=False, text=f"Cup and spoon dry, a lid on: {effect.what} ({effect.amount}).")
        for powder in added
        if powder.moles and powder.solid
        for effect in assess([powder], setting)
        if (one := finding_of(effect, setting, where)).severity >= HURTS
    ]


def _in_one_go(
    added: Sequence[Portion], found: Sequence[Finding], room: Room | None, where: str
) -> tuple[Finding, ...]:
    """What happens only where a line of the sheet goes in all at once; heat stands at its line."""
    setting = setting_for("mixing", room)
    told = {"reckoned.heat", *(one.pair for one in found)}
    effects = assess([replace(portion, at_once=True) for portion in added], setting)
    return tuple(
        replace(one, refused=False, text=f"In portions, stirring. In one go: {effect.what} ({effect.amount}).")
        for effect in effects
        if (one := finding_of(effect, setting, where)).pair not in told
    )


# What a label says of its bottle with acid, or with anything.
_WITH_ACID, _WITH_OTHERS = {"EUH031", "EUH032"}, {"EUH206"}
_ACIDS = {"acid_strong", "acid_weak", "organic_acid"}


def _told_by_labels(bottles: Sequence[Product]) -> tuple[Caution, ...]:
    """What the hazard statements of the labels say of this very mix, whatever is known of the contents."""
    acids = [
        p.name for p in bottles for c in p.contents if not c.is_other and _ACIDS & set(substance(c.substance).classes)
    ]
    found = []
    for bottle in bottles:
        others = [name for name in acids if name != bottle.name]
        if others and _WITH_ACID & set(bottle.statements):
            text = f"By its label {bottle.name} gives off a toxic gas with acids, and {others[0]} is one: do not bring them together."
            found.append(Caution("label.gas", text, Level.DANGER))
        if len(bottles) > 1 and _WITH_OTHERS & set(bottle.statements):
            text = f"By its label {bottle.name} may give off a dangerous gas with other products: nothing else with it."
            found.append(Caution("label.gas", text, Level.DANGER))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class AsSaid:
    """What a bath as said came to.

    Parameters
    ----------
    volume_ml : float or None
        None where only proportions were said.
    choices : mapping of str to str
        Product to take for a substance or a role, because it is the one that was named.
    """

    formula: Formula
    volume_ml: float | None
    choices: Mapping[str, str]


def as_said(
    text: str, products: Sequence[Product], *, does: str = "other", usual: System = "metric", key: str = "as_said"
) -> AsSaid:
    """The formula of a bath as a person says it, the volume where one was said, and the bottles that were named.

    Parameters
    ----------
    text : str
        Such as ``"40 mL paper developer + 5 mL ammonia, water to 600 mL"``.
    products : sequence of Product
        The bottles it is said of.
    does : str
        What its step does: one of `SAID_KINDS`.
    usual : str
        System of a fluid or kitchen measure that names none.
    key : str
        Of the formula.

    Raises
    ------
    InputError
        If it cannot be read, or names something of which nothing is known here.
    """
    if does not in SAID_KINDS:
        raise InputError(f"nothing is known of {does!r}", where="does", remedy="use one of " + ", ".join(SAID_KINDS))
    read = read_said(
        parse_mix(text, usual=usual), products, key=key, name=" ".join(text.split())[:160], kind=does, keep=False
    )
    if read.unread or read.formula is None:
        missing = " and ".join(repr(name) if name else "a part without a name" for name in read.unread) or repr(text)
        raise InputError(
            f"nothing is known here of {missing}",
            where="mix",
            remedy="put it on the shelf from its label first; nothing but its name and what it is used as is needed",
        )
    named = {p.key for p in products}
    choices = {what: product for what, product in read.choices if product in named}
    return AsSaid(read.formula, read.volume_ml, choices)


def _unmixable(document: JsonObject) -> list[InputError]:
    """What is wrong in those lines of a formula that can be read, and could never be mixed."""

    def rows(member: str) -> list[object]:
        found = document.get(member)
        return found if isinstance(found, list) else []

    def target(component: Component) -> None:
        target_g_per_l(component, substance(component.substance, where="substance"), where="")

    def taken(line: Dilution) -> None:
        taken_of(line, ML_PER_L, where="")

    return [
        *_wrong_in("components", "concentration", rows("components"), Component, target),
        *_wrong_in("dilutions", "dilution", rows("dilutions"), Dilution, taken),
    ]


L = TypeVar("L", Component, Dilution)


def _wrong_in(
    member: str, field: str, rows: Sequence[object], kind: type[L], reckon: Callable[[L], None]
) -> list[InputError]:
    wrong = []
    for i, row in enumerate(rows):
        try:
            line = read_document(kind, row)
        except InputError:
            continue  # told with the rest of the document
        try:
            reckon(line)
        except InputError as error:
            at = f"{member}[{i}].{error.where if error.where == 'substance' else field}"
            wrong.append(InputError(f"{at}: {error.what}", where="formula", remedy=error.remedy))
    return wrong


# What a bath as said may be for.
SAID_KINDS = (*ROLE_OF, "other")


def with_settings(formula: Formula, controls: Mapping[str, float]) -> Formula:
    """The first developer with these controls; see `obverse.mixing.with_controls`."""
    return with_controls(formula, controls)


def remarks(sheet: MixSheet) -> tuple[Insight, ...]:
    """What a sheet tells beyond its lines; see `obverse.mixing.insights`."""
    return insights(sheet)


def hazards(formula: Formula) -> HazardSheet:
    """What a bath can do to a person."""
    return hazards_of(formula)


def sheet_document(sheet: MixSheet) -> JsonObject:
    """The sheet with what chemistry says of the bath."""
    return {**sheet.document(), "insights": [insight.document() for insight in insights(sheet)]}


def adapt(
    bath: BathByBottles,
    products: Sequence[Product],
    tools: Sequence[Tool],
    volume_ml: float | None = None,
    *,
    room: Room | None = None,
) -> Conversion:
    """Convert a bath of another bench, and let the hazard rules look at what comes of it here.

    Raises
    ------
    InputError, UnsafeError
        As `make_sheet`.
    """
    poured = [PouredThere(p.full_product, p.amount) for p in bath.poured]
    found = convert(poured, bath.volume_ml, products, tools, role=bath.role, name=bath.name, my_volume_ml=volume_ml)
    return replace(found, sheet=_checked(found.formula, found.sheet, products, room))


def _as_added(sheet: MixSheet, bottles: Sequence[Product]) -> list[Portion]:
    """What goes in, in the order of the sheet, little by little, and the water that is in the vessel first."""
    by_key = {product.key: product for product in bottles}
    first = next((line.amount for line in sheet.lines if line.kind == "water"), 0.0)
    rest = sum(line.amount for line in sheet.lines if line.kind == "make_up")
    added = [Portion("water", {}, first)] if first else []
    for line in sheet.lines:
        product = by_key.get(line.product)
        if product is not None:
            added.append(replace(portion_of(product, Amount(line.amount, line.unit)), at_once=False))
    return [*added, Portion("water", {}, max(0.0, rest))]


def _as_mixed(formula: Formula, sheet: MixSheet) -> Formula:
    """The bath as the bottles make it: every substance they declare, not only those the formula names."""
    contents = tuple(
        Component(substance=key, concentration=f"{g:.9f} g/L") for key, g in sheet.contents_g_per_l.items() if g > 1e-9
    )
    return formula.model_copy(update={"components": contents, "dilutions": ()})


@dataclass(frozen=True, slots=True)
class RouteBath:
    """One bath of a route: its sheet, or the reason why there is none."""

    formula: Formula
    steps: tuple[Step, ...]
    sheet: MixSheet | None
    reason: str


@dataclass(frozen=True, slots=True)
class Unmixed:
    """Why a bath cannot be mixed from this shelf, and the ways on.

    Parameters
    ----------
    reason : str
        In one sentence.
    lacks : tuple of tuple
        What no product here brings, each with the generic products that would.
    instead : tuple of Formula
        Baths of the same role that can be mixed from the person's own products.
    """

    reason: str
    lacks: tuple[tuple[Lack, tuple[Product, ...]], ...]
    instead: tuple[Formula, ...]


class Bench(Place):
    """Mix sheets from the person's own shelf.

    Parameters
    ----------
    shelf : Shelf
        Whose bottles and tools are used.
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None, shelf: Shelf):
        super().__init__(store, clock, home)
        self._shelf = shelf

    def formulas(self) -> dict[str, Formula]:
        """The generic formulas, and the person's own under their ids."""
        return known_formulas(self._store)

    def own_formulas(self) -> dict[str, Formula]:
        """The person's own formulas by id."""
        return {kept.id: kept.thing for kept in self._store.formulas.all()}

    def recipes(self) -> dict[str, Recipe]:
        """The locked recipes of the notebook by id."""
        return {kept.id: kept.thing for kept in self._store.recipes.all()}

    def formula(self, key: str, *, recipe: str = "") -> Formula:
        """The formula of that key; of a recipe (by id) where it brings its own.

        Raises
        ------
        InputError
            If there is none.
        """
        found = {**self.formulas(), **({f.key: f for f in self._recipe(recipe).formulas} if recipe else {})}
        try:
            return found[key]
        except KeyError:
            raise InputError(
                f"there is no formula {key!r}", where="formula", remedy="choose one from the bench page"
            ) from None

    def controls(self, recipe: str = "", given: Mapping[str, float] | None = None) -> dict[str, float]:
        """What the first developer is set to: the recipe's controls, and over them what was given."""
        locked = self._recipe(recipe).controls if recipe else {}
        return {**locked, **(given or {})}

    def formula_revision(self, key: str) -> int:
        """The revision of a formula of one's own; 0 where there is none of that key."""
        kept = self._store.formulas.find(key)
        return 0 if kept is None else kept.revision

    def keep_formula(self, document: JsonObject, *, expected_revision: int | None = None) -> str:
        """Keep a formula of one's own; returns its key, made from the name where none is given.

        Raises
        ------
        InputError
            If it is no formula, names an unknown substance or an unmixable strength, or takes the name of
            a generic one.
        """
        given = {**document, "key": self.key_of(document)}
        wrong: list[InputError] = []
        try:
            formula = read_document(Formula, given, where="formula")
        except InputError as error:
            wrong = [error]
        wrong += _unmixable(document)
        if wrong:
            raise together(wrong)
        key = formula.key
        if key in formulas():
            raise InputError(f"{key!r} is the name of a generic formula", where="key", remedy="choose another key")
        with self._store.transaction():
            before = self._store.formulas.find(key)
            if before is not None and before.retired_at is not None:
                self._store.formulas.restore(key)
            self._store.formulas.put(formula, id=key, expected_revision=expected_revision)
        return key

    @staticmethod
    def key_of(document: JsonObject) -> str:
        """The key a formula is kept under: its own, or one made from its name."""
        given = str(document.get("key") or "")
        return given or words.id_from(str(document.get("name", "")), most=60, joint="_", otherwise="own")

    def keep_said(self, text: str, *, does: str, usual: System = "metric", name: str = "") -> AsSaid:
        """Keep a bath as it was said among one's own formulas."""
        with self._store.transaction():
            stem = words.id_from(name or text, most=60, joint="_", otherwise="as_said")
            key = words.free_id(stem, {*self._store.ids("formula"), *formulas()}, joint="_")
            said = as_said(text, self._shelf.products_or_generic(), does=does, usual=usual, key=key)
            named = said.formula.model_copy(update={"name": (name or said.formula.name)[:160]})
            self._store.formulas.put(named, id=key, expected_revision=0)
        return replace(said, formula=named)

    def sheet(
        self,
        formula: str | Formula,
        volume_ml: float,
        *,
        choices: Mapping[str, str] | None = None,
        controls: Mapping[str, float] | None = None,
        recipe: str = "",
    ) -> MixSheet:
        """Mix sheet of a formula from what stands on the shelf (generic products where it is empty)."""
        found = self.formula(formula, recipe=recipe) if isinstance(formula, str) else formula
        found = self._set(found, recipe, controls)
        sheet = make_sheet(
            found,
            volume_ml,
            self._shelf.products_or_generic(),
            self._shelf.tools_for_mixing(),
            choices=choices,
            room=room_of(self._store),
        )
        own = {kept.id: kept.thing for kept in self._shelf.products()}
        bottles = [kept.thing for kept in self._shelf.bottles()]
        return sheet.with_cautions(stock_told(sheet.amounts, own, bottles, self._clock.now().date()))

    def _set(self, formula: Formula, recipe: str, controls: Mapping[str, float] | None) -> Formula:
        settings = self.controls(recipe, controls)
        return with_controls(formula, settings) if settings and formula.role == "first_developer" else formula

    def unmixed(
        self,
        formula: Formula,
        volume_ml: float,
        error: InputError,
        *,
        controls: Mapping[str, float] | None = None,
        recipe: str = "",
    ) -> Unmixed:
        """What the shelf lacks of a bath that was refused, what would bring it, and what can be mixed instead.

        Parameters
        ----------
        error : InputError
            The refusal.
        """
        own, shops = self._shelf.products_for_mixing(), tuple(generic_products().values())
        tools, lacks = self._shelf.tools_for_mixing(), tuple[Lack, ...]()
        if error.where != "volume":
            # What cannot be at all is said by the refusal.
            with suppress(InputError):
                lacks = lacking(self._set(formula, recipe, controls), volume_ml, own or shops)
        others = (f for f in self.formulas().values() if lacks and f.role == formula.role and f.key != formula.key)
        return Unmixed(
            error.sentence,
            tuple((lack, brings_it(lack, formula, shops)) for lack in lacks),
            tuple(f for f in others if refusal(f, volume_ml, own, tools) is None),
        )

    def route(self, key: str = "", *, recipe: str = "") -> Process:
        """A generic route by its key, or the route of a recipe.

        Raises
        ------
        InputError
            If there is none.
        """
        if recipe:
            return self._recipe(recipe).route
        return known_process(self._store, key)

    def route_baths(
        self, route_key: str, volume_ml: float, *, controls: Mapping[str, float] | None = None, recipe: str = ""
    ) -> list[RouteBath]:
        """Every bath of a route (or of a recipe's route) in the order of its steps, mixed or refused."""
        found: dict[str, RouteBath] = {}
        for step in self.route(route_key, recipe=recipe).steps:
            if not step.formula:
                continue
            if step.formula in found:
                found[step.formula] = replace(found[step.formula], steps=(*found[step.formula].steps, step))
                continue
            formula = self.formula(step.formula, recipe=recipe)
            try:
                sheet = self.sheet(formula, volume_ml, controls=controls, recipe=recipe)
                found[step.formula] = RouteBath(formula, (step,), sheet, "")
            except (InputError, UnsafeError) as error:
                found[step.formula] = RouteBath(formula, (step,), None, error.sentence)
        return list(found.values())

    def when_to_mix(
        self, route_key: str, volume_ml: float, *, controls: Mapping[str, float] | None = None, recipe: str = ""
    ) -> tuple[Action, ...]:
        """The mixing, weighing and destroying of an evening, with the minute of each, as the sink plans it.

        Raises
        ------
        InputError, UnsafeError
            Where no evening can be planned.
        """
        route = self.route(route_key, recipe=recipe)
        needed = {step.formula: self.formula(step.formula, recipe=recipe) for step in route.steps if step.formula}
        from obverse.run import plan_run

        plan = plan_run(
            route, needed, tank_ml=volume_ml, controls=self.controls(recipe, controls), room=room_of(self._store)
        )
        return tuple(
            action for action in plan.actions if action.formula and action.kind in ("prepare", "weigh", "destroy")
        )

    def adapt(self, bath: BathByBottles, volume_ml: float | None = None) -> Conversion:
        """Another bench's bath from the bottles of this one, with what cannot be matched."""
        shelf, tools = self._shelf.products_or_generic(), self._shelf.tools_for_mixing()
        return adapt(bath, shelf, tools, volume_ml, room=room_of(self._store))

    def options(self, formula: Formula) -> dict[str, list[Product]]:
        """Products on the shelf that could bring each line of a formula, best first."""
        shelf = self._shelf.products_or_generic()
        found = {
            c.substance: [o.product for o in candidates(substance(c.substance), shelf, c.acid_must)]
            for c in formula.components
        }
        for line in formula.dilutions:
            found[line.product_role] = [p for p in shelf if serves(line.product_role, p)]
        return found

    def _recipe(self, id: str) -> Recipe:
        return self._store.recipes.get(id).thing

    def mixed(self, sheet: MixSheet, *, recipe: str = "") -> str | None:
        """Write down that a sheet was mixed: the bottles get emptier, and a bath that keeps gets a bottle of its own.

        Returns
        -------
        str or None
            The id of the new bottle; None for a bath that is used once.
        """
        formula = self.formula(sheet.formula, recipe=recipe)
        with self._store.transaction():
            self._shelf.take(sheet.amounts)
            if formula.one_shot:
                return None
            contents = ", ".join(f"{m.name} {m.made_g_per_l.value:.3g} g/L" for m in sheet.made)
            return self.keep_as_bottle(formula.key, sheet.volume_ml, contents)

    def keep_as_bottle(self, formula_key: str, volume_ml: float, contents: str = "") -> str:
        """Write down that a bath was mixed today and stands in a bottle; returns the bottle's id.

        Raises
        ------
        UnsafeError
            For a bath that is used once: what is left of it must not stand in a bottle.
        """
        formula = self.formula(formula_key)
        if formula.one_shot:
            raise UnsafeError(
                f"{formula.name} is not kept",
                where="bottle",
                remedy="mix it fresh and follow the plan for what is left of it",
            )
        today = self._clock.now().date()
        return self._shelf.add_bottle(
            {
                "name": formula.name,
                "formula": formula.key,
                "contents": contents,
                "amount": volume_ml,
                "filled_on": today.isoformat(),
            }
        )
