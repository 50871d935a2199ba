"""Recipes that travel: written down whole, taken in with care, compared, and made from other bottles."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from obverse.chemistry import concentration_g_per_l
from obverse.foundation import (
    InputError,
    JsonObject,
    NotFoundError,
    TooLargeError,
    UnsafeError,
    parse_json,
    read_document,
)
from obverse.mixing import MixSheet, Unmatched, target_g_per_l, unmatched_between, with_controls
from obverse.process import CODE_HEAD, CONTROLS, TIME, Aim, Formula, Process, Product, Recipe, Step, Tool, read_code
from obverse.process.catalog import products as generic_products
from obverse.process.catalog import substance
from obverse.safety import Room, check_mix, check_route, refuse_lethal
from obverse.workbench import words
from obverse.workbench.bench import make_sheet
from obverse.workbench.my_room import room_of
from obverse.workbench.place import Place
from obverse.workbench.remembered import Remembered
from obverse.workbench.seek import Found, ListAsked, ListedBy, by_name, seek
from obverse.workbench.shelf import Shelf

if TYPE_CHECKING:
    from obverse.clock import Clock
    from obverse.store import Store, Stored


def _searched(kept: Stored[Recipe]) -> str:
    recipe = kept.thing
    return " ".join((recipe.name, recipe.film.name, recipe.route.name, recipe.note, kept.id))


# A recipe of forty formulas and a curve of two thousand points is well below this.
MOST_BYTES_OF_A_RECIPE = 1_000_000
_NO_RECIPE = (
    "a recipe is a document that `obverse recipe export` writes; a process is taken in by `obverse process new --file`"
)
RECIPES_BY: ListedBy[Stored[Recipe]] = ListedBy(
    text=_searched,
    orders={
        "newest first": lambda kept: -kept.changed_at.timestamp(),
        "name": lambda kept: by_name(kept.thing.name),
        "film": lambda kept: (by_name(kept.thing.film.name), by_name(kept.thing.name)),
        "strips behind it": lambda kept: -kept.thing.evidence.trials,
    },
)
# Volume at which two benches are compared; amounts scale with it.
# Of an id made from a name, with room for a number behind it.
MOST_CHARACTERS_OF_AN_ID = 70
COMPARED_AT_ML = 1000.0
# Recipes whose baths from this shelf are kept at hand, and single baths that many recipes have.
MOST_MIXED, MOST_SHEETS = 100, 400
MakeSheet = Callable[[Formula, float, Sequence[Product], Sequence[Tool]], MixSheet]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing in which two recipes differ."""

    where: str
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class AdaptedBath:
    """One bath of a recipe from the bottles of this bench: its sheet or the reason why there is none."""

    formula: Formula
    sheet: MixSheet | None
    reason: str
    unmatched: tuple[Unmatched, ...]


@dataclass(frozen=True, slots=True)
class RecipeTaken:
    """What became of an imported recipe.

    Parameters
    ----------
    new : bool
        False where the same document stood here already.
    follows : int
        The revision it took the place of; 0 where it is another recipe. That one stays readable.
    """

    id: str
    new: bool
    follows: int = 0

    @property
    def words(self) -> str:
        """Such as "is kept as grey-base"."""
        if not self.new:
            return f"stood here already as {self.id}"
        return f"follows revision {self.follows} of {self.id}" if self.follows else f"is kept as {self.id}"


def settled(recipe: Recipe) -> Recipe:
    """The recipe with its controls written into the first developer and the first step's time.

    So the document can be followed without knowing what a control means. Doing it twice changes nothing.
    """
    formulas = tuple(with_controls(f, recipe.controls) if f.role == "first_developer" else f for f in recipe.formulas)
    minutes = recipe.controls.get(TIME.key)
    steps = tuple(
        step.model_copy(update={"time_min": minutes}) if minutes is not None and step.kind == "develop" else step
        for step in recipe.route.steps
    )
    return recipe.model_copy(update={"formulas": formulas, "route": recipe.route.model_copy(update={"steps": steps})})


def with_products(
    recipe: Recipe, products: Sequence[Product], tools: Sequence[Tool], make: MakeSheet = make_sheet
) -> Recipe:
    """The recipe with the products of this bench that its baths are poured from."""
    used: dict[str, Product] = {}
    for formula in recipe.formulas:
        try:
            sheet = make(formula, COMPARED_AT_ML, products, tools)
        except (InputError, UnsafeError):
            # A bath this shelf cannot make has no bottles to tell of.
            continue
        used.update({p.key: p for p in products if p.key in sheet.amounts})
    return recipe.model_copy(update={"products": tuple(used.values())})


def read_recipe(data: Any, *, where: str = "recipe", room: Room | None = None) -> Recipe:
    """Check a recipe from elsewhere: its shape, its substances, and whether its baths may meet.

    Raises
    ------
    InputError
        For anything that is no recipe, or names a substance nobody knows here.
    UnsafeError
        If a bath, or two baths that meet along its route, can kill.
    """
    recipe = read_document(Recipe, data, where=where)
    for formula in recipe.formulas:
        for component in formula.components:
            known = substance(component.substance, where=f"{where}, {formula.key}")
            target_g_per_l(component, known, where=formula.name)
    for product in recipe.products:
        for content in product.contents:
            if not content.is_other:
                substance(content.substance, where=f"{where}, {product.key}")
    refuse_lethal(check_route(recipe.route, {f.key: f for f in recipe.formulas}, room=room))
    for formula in recipe.formulas:
        refuse_lethal(check_mix(formula, room=room, where=formula.name))
    return recipe


def read_recipe_text(text: str | bytes, *, where: str = "recipe", room: Room | None = None) -> Recipe:
    """As `read_recipe`, from the text of a file: the document, or the line of a code that was scanned.

    Raises
    ------
    TooLargeError
        Above a megabyte: no recipe is that long.
    """
    if len(text) > MOST_BYTES_OF_A_RECIPE:
        raise TooLargeError(
            "it is longer than any recipe", where=where, remedy="choose the recipe file itself, below 1 MB"
        )
    line = text if isinstance(text, str) else text.decode(errors="replace")
    if line.lstrip().startswith(CODE_HEAD):
        return read_recipe(read_code(line, where=where), where=where, room=room)
    return read_recipe(parse_json(text, where=where, of_words=_NO_RECIPE), where=where, room=room)


def recipe_text(recipe: Recipe) -> str:
    """The document as it is written to a file: indented, every field named."""
    return json.dumps(recipe.model_dump(mode="json"), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def differences(first: Recipe, second: Recipe) -> tuple[Difference, ...]:
    """In what two recipes differ, in the order of the work; formulas by active substance in g/L."""
    first, second = settled(first), settled(second)
    found = [
        *_compared(
            "film",
            {"name": first.film.name, "box speed": first.film.box_speed},
            {"name": second.film.name, "box speed": second.film.box_speed},
        ),
        *_compared("revision", {"number": first.revision}, {"number": second.revision}),
        *_compared("exposure", {"exposure index": first.exposure_index}, {"exposure index": second.exposure_index}),
        *_compared("control", {**CONTROLS.reference(), **first.controls}, {**CONTROLS.reference(), **second.controls}),
        *_compared("route", {"name": first.route.name}, {"name": second.route.name}),
        *_compared("step", _steps(first.route), _steps(second.route)),
        *_compared("bath", baths_in_words(first), baths_in_words(second)),
        *_compared("aim", _aim(first.aim), _aim(second.aim)),
        *_compared("evidence", {"strips": first.evidence.trials}, {"strips": second.evidence.trials}),
    ]
    return tuple(found)


def from_my_bottles(
    recipe: Recipe,
    volume_ml: float,
    products: Sequence[Product],
    tools: Sequence[Tool],
    make: MakeSheet = make_sheet,
) -> tuple[AdaptedBath, ...]:
    """Every bath of the recipe mixed from the products of this bench, by active substance.

    What cannot be matched (pH, sulfite, bromide, hardener) is told where the recipe says what its maker
    poured from.
    """
    found = []
    theirs_first = {p.key: p for p in generic_products().values()} | {p.key: p for p in recipe.products}
    for formula in settled(recipe).formulas:
        try:
            sheet = make(formula, volume_ml, products, tools)
        except (InputError, UnsafeError) as error:
            found.append(AdaptedBath(formula, None, error.sentence, ()))
            continue
        unmatched: tuple[Unmatched, ...] = ()
        if recipe.products:
            unmatched = _unmatched(
                formula, sheet, recipe.products, tuple(theirs_first.values()), products, tools, volume_ml, make
            )
        found.append(AdaptedBath(formula, sheet, "", unmatched))
    return tuple(found)


def _unmatched(
    formula: Formula,
    sheet: MixSheet,
    theirs: Sequence[Product],
    theirs_and_generic: Sequence[Product],
    mine: Sequence[Product],
    tools: Sequence[Tool],
    volume_ml: float,
    make: MakeSheet,
) -> tuple[Unmatched, ...]:
    for shelf in (theirs, theirs_and_generic):
        try:
            return unmatched_between(make(formula, volume_ml, shelf, tools), shelf, sheet, mine)
        except (InputError, UnsafeError):
            continue
    return ()


class Recipes(Place):
    """Recipes in the store.

    Parameters
    ----------
    shelf : Shelf
        Whose bottles and tools are used.
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None, shelf: Shelf):
        super().__init__(store, clock, home)
        self._shelf = shelf
        self._mixed = Remembered(MOST_MIXED)
        self._sheets = Remembered(MOST_SHEETS)

    def room(self) -> Room:
        """The room that a recipe from elsewhere is looked at for."""
        return room_of(self._store)

    def all(self) -> list[Stored[Recipe]]:
        """All recipes in use, oldest first."""
        return self._store.recipes.all()

    def find(self, asked: ListAsked) -> Found[Recipe]:
        """A part of the recipes as it was asked for."""
        return seek(self._store.recipes.all(retired=True), asked, RECIPES_BY)

    def recipe(self, id: str) -> Recipe:
        """One recipe.

        Raises
        ------
        NotFoundError
            If there is none of that id.
        """
        return self._store.recipes.get(id).thing

    def export(self, id: str) -> Recipe:
        """The recipe as it travels: controls written in, with the products of this bench it was poured from."""
        recipe = settled(self.recipe(id))
        if recipe.products:
            return recipe
        shelf, tools = self._shelf.products_or_generic(), self._shelf.tools_for_mixing()
        hangs_on = ("with products", recipe.model_dump_json(), shelf, tools)
        return self._mixed.of(hangs_on, lambda: with_products(recipe, shelf, tools, self._sheet))

    def take_in(self, recipe: Recipe) -> RecipeTaken:
        """Keep a recipe from elsewhere.

        A newer revision of a recipe that came from there before follows it; every other one gets an id of its own, and
        nothing that was locked here is ever replaced.
        """
        with self._store.transaction():
            here = {kept.id: kept for kept in self._store.recipes.all(retired=True)}
            content = _content(recipe)
            for kept in here.values():
                if kept.retired_at is None and (kept.thing == recipe or _content(kept.thing) == content):
                    return RecipeTaken(kept.id, new=False)
            for kept in here.values():
                if kept.retired_at is not None or self._locked_here(kept.thing):
                    continue
                if _follows(recipe, kept.thing):
                    self._store.recipes.put(recipe, id=kept.id, expected_revision=kept.revision)
                    return RecipeTaken(kept.id, new=True, follows=kept.thing.revision)
                if _follows(kept.thing, recipe):
                    # An older revision than the one that stands here; it has nothing to add.
                    return RecipeTaken(kept.id, new=False)
            # An id that cannot be read as a recipe is taken all the same.
            taken = {*here, *self._store.ids("recipe")}
            id = words.free_id(words.id_from(recipe.name, most=MOST_CHARACTERS_OF_AN_ID, otherwise="recipe"), taken)
            self._store.recipes.put(recipe, id=id, expected_revision=0)
            return RecipeTaken(id, new=True)

    def _locked_here(self, recipe: Recipe) -> bool:
        """Whether it was locked in this darkroom; where it does not say, whether its strip stands or stood here."""
        if recipe.origin:
            return recipe.origin == self._store.darkroom
        films = {kept.id for kept in self._store.films.all(retired=True) if kept.thing.name == recipe.film.name}
        return any(
            kept.thing.trial.id == recipe.evidence.best_trial and kept.thing.film in films
            for kept in self._store.trials.all(retired=True)
        )

    def retire(self, id: str) -> None:
        """Put a recipe aside; it stays readable."""
        self._store.recipes.retire(id)

    def is_aside(self, id: str) -> bool:
        """Whether a recipe was put aside."""
        return self._store.recipes.get(id).retired_at is not None

    def restore(self, id: str) -> None:
        """Take a recipe back into use."""
        self._store.recipes.restore(id)

    def from_my_bottles(self, recipe: Recipe, volume_ml: float) -> tuple[AdaptedBath, ...]:
        """The recipe's baths from what stands on this shelf (generic products where it is empty)."""
        shelf, tools = self._shelf.products_or_generic(), self._shelf.tools_for_mixing()
        hangs_on = ("from bottles", recipe.model_dump_json(), volume_ml, shelf, tools)
        return self._mixed.of(hangs_on, lambda: from_my_bottles(recipe, volume_ml, shelf, tools, self._sheet))

    def _sheet(
        self, formula: Formula, volume_ml: float, products: Sequence[Product], tools: Sequence[Tool]
    ) -> MixSheet:
        """A bath that many recipes have is mixed once."""
        products, tools = tuple(products), tuple(tools)
        hangs_on = (formula.model_dump_json(), volume_ml, products, tools)
        return self._sheets.of(hangs_on, lambda: make_sheet(formula, volume_ml, products, tools))


def _content(recipe: Recipe) -> Recipe:
    """What a recipe asks for, without what only its export adds: the products of the bench it was poured from."""
    return settled(recipe).model_copy(update={"products": ()})


def _follows(newer: Recipe, older: Recipe) -> bool:
    """Whether one is a later revision of the other: of one darkroom, one name and one film."""
    return (
        newer.revision > older.revision
        and newer.origin == older.origin
        and newer.name == older.name
        and newer.film.name == older.film.name
        and newer.film.box_speed == older.film.box_speed
    )


def find_recipe(recipes: Recipes, name: str, *, text: str | bytes | None = None) -> Recipe:
    """A recipe by the text of its file, or by its id in the notebook."""
    if text is not None:
        return read_recipe_text(text, where=name, room=recipes.room())
    try:
        return recipes.recipe(name)
    except NotFoundError:
        known = ", ".join(kept.id for kept in recipes.all())
        remedy = f"give a file, or one of: {known}" if known else "give a file; no recipe is kept here yet"
        raise NotFoundError(f"there is no recipe file or id {name!r}", remedy=remedy) from None


def adapted_document(bath: AdaptedBath) -> JsonObject:
    """The JSON shape of one adapted bath."""
    return {
        "formula": bath.formula.key,
        "name": bath.formula.name,
        "sheet": bath.sheet.document() if bath.sheet else None,
        "reason": bath.reason,
        "unmatched": [u.document() for u in bath.unmatched],
    }


def difference_documents(found: Sequence[Difference]) -> list[dict[str, str]]:
    """The JSON shape of a comparison."""
    return [asdict(difference) for difference in found]


def _compared(where: str, first: JsonObject, second: JsonObject) -> list[Difference]:
    names = list(first) + [name for name in second if name not in first]
    return [
        Difference(f"{where}: {name.replace('_', ' ')}", _shown(first.get(name)), _shown(second.get(name)))
        for name in names
        if _shown(first.get(name)) != _shown(second.get(name))
    ]


def _shown(value: Any) -> str:
    if value is None:
        return "\N{EN DASH}"
    return f"{value:.4g}" if isinstance(value, (int, float)) else str(value)


def _steps(route: Process) -> dict[str, str]:
    return {step.name: step_words(step) for step in route.steps}


def step_words(step: Step) -> str:
    """Time, temperature, agitation, rinse and fate of a bath in one line."""
    parts = [f"{step.time_min:g} min", f"{step.temperature_low_c:g} to {step.temperature_high_c:g} C"]
    if step.formula:
        parts.append(agitation_words(step))
    if step.rinse_after:
        parts.append(rinse_words(step))
    parts.append(
        {
            "discard": "used once",
            "keep": "back to its bottle",
            "waste": f"waste jug {step.waste_jug}".strip(),
            "destroy": "destroyed the same evening",
        }[step.after_use]
    )
    return ", ".join(parts)


def agitation_words(step: Step) -> str:
    """How the tank is moved in that step."""
    move = step.agitation
    if move.constant:
        return "moved all the time"
    what = f"{move.inversions} inversions" if move.inversions else f"{move.seconds:g} s"
    return f"moved {move.initial_s:g} s, then {what} every {move.every_s:g} s"


def rinse_words(step: Step) -> str:
    """The rinse after that step; empty where there is none."""
    rinse = step.rinse_after
    if rinse is None:
        return ""
    parts = []
    if rinse.fills:
        water = "acidified water" if rinse.acidified else "water"
        parts.append(f"fill with {water} and dump, {', '.join(str(n) for n in rinse.fills)} inversions")
    if rinse.running_water_min:
        parts.append(f"running water {rinse.running_water_min:g} min")
    return "; ".join(parts)


def baths_in_words(recipe: Recipe) -> dict[str, str]:
    """What each bath holds by active substance in g/L, by bath and substance."""
    found: dict[str, str] = {}
    for formula in recipe.formulas:
        for component in formula.components:
            known = substance(component.substance)
            grams = concentration_g_per_l(component.parsed, known).value
            found[f"{formula.name}, {known.name}"] = f"{grams:.4g} g/L"
        for dilution in formula.dilutions:
            found[f"{formula.name}, {dilution.product_role.replace('_', ' ')}"] = dilution.dilution
    return found


def _aim(aim: Aim) -> JsonObject:
    return {name: value for name, value in aim.model_dump().items() if value is not None}
