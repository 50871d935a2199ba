"""The shelf: what the labels say, what stands there, what measures it, what can be made of it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, cast

from obverse.chemistry import NOT_SAID, molar_mass_g_per_mol, open_bottle_factor
from obverse.foundation import ML_PER_L, Estimate, InputError, JsonObject, NotFoundError, figures, read_document
from obverse.mixing import Cost, Reach, contents_of, cost_of, least_purchase, reach, rolls_in
from obverse.process import (
    KEY,
    USUAL_TOOLS,
    Bottle,
    Content,
    Equipment,
    Formula,
    LabelContent,
    LabelRead,
    Process,
    Product,
    ProductLabel,
    ShelfDocument,
    Tool,
    read_label,
    substance_of,
    tool_noun,
)
from obverse.process.catalog import formulas as generic_formulas
from obverse.process.catalog import products as generic_products
from obverse.process.catalog import routes, substance, substances
from obverse.reference import hazard_rows, number, record, shelf_life_rows
from obverse.safety import HazardSheet, hazards_of, hazards_of_route
from obverse.workbench import words
from obverse.workbench.known_baths import known_formulas, known_processes
from obverse.workbench.place import Place
from obverse.workbench.remembered import Remembered
from obverse.workbench.seek import Found, ListAsked, ListedBy, by_name, seek

if TYPE_CHECKING:
    from pathlib import Path

    from obverse.clock import Clock
    from obverse.store import Repository, Store, Stored

# Tank volumes for which what can be made is kept at hand.
MOST_OPENINGS = 8

BOTTLES_BY: ListedBy[Stored[Bottle]] = ListedBy(
    text=lambda kept: " ".join((kept.thing.name, kept.thing.contents, kept.thing.product or "", kept.thing.note)),
    orders={
        "name": lambda kept: by_name(kept.thing.name),
        "what expires first": lambda kept: (kept.thing.expires_on or date.max, by_name(kept.thing.name)),
        "newest first": lambda kept: -kept.created_at.timestamp(),
    },
)


@dataclass(frozen=True, slots=True)
class BathOpening:
    """One bath of a route: whether the shelf can make it."""

    step: str
    optional: bool
    reach: Reach


@dataclass(frozen=True, slots=True)
class RouteOpening:
    """What the shelf can do of one process.

    Parameters
    ----------
    key : str
        The id of an own process, or the key of a shipped one.
    own : bool
        True for a process of the person's.
    baths : tuple of BathOpening
        Each formula once, at the first step that needs it.
    purchase : tuple of Product or None
        The fewest generic products that open it; empty where it is open, None where nothing does.
    cost_per_roll : Cost
        Of the baths that can be made, at this tank volume, one-shot baths whole and kept baths by
        their use (`rolls_per_bath`).
    """

    key: str
    own: bool
    route: Process
    baths: tuple[BathOpening, ...]
    purchase: tuple[Product, ...] | None
    cost_per_roll: Cost

    @property
    def is_open(self) -> bool:
        """True where every bath that the route cannot do without can be mixed."""
        return all(b.reach.sheet is not None for b in self.baths if not b.optional)

    @property
    def substitutions(self) -> tuple[str, ...]:
        """What is taken in place of what a formula names, and what that changes."""
        lines = (line for b in self.baths if b.reach.sheet is not None for line in b.reach.sheet.lines)
        texts = [c.text for line in lines for c in line.cautions if c.code == "mix.substitution"]
        return tuple(dict.fromkeys(texts))

    @property
    def closed(self) -> tuple[BathOpening, ...]:
        """The baths that cannot be mixed, the needed ones first."""
        return tuple(sorted((b for b in self.baths if b.reach.sheet is None), key=lambda b: b.optional))


@dataclass(frozen=True, slots=True)
class BottleFacts:
    """What a label or a page says of a bottle: contents in words, hazards, how long such a solution keeps."""

    contents: str
    hazards: HazardSheet
    keeps: str


def strength_meaning(named: str, strength: str, form: str, density: str | float | None = None) -> JsonObject:
    """What a strength as the label prints it comes to in g/L and mol/L, in words and numbers.

    Parameters
    ----------
    named : str
        The substance, by its key or as a label calls it; one that is not on the list is kept by its name.
    form : str
        ``"solid"`` or ``"liquid"``.
    density : str or float, optional
        As the label prints it, or in g/mL.

    Raises
    ------
    InputError
        If the strength cannot be, or the density.
    """
    label = ProductLabel(
        name="label",
        form=form,
        contents=(LabelContent(substance=named, strength=strength),),
        density="" if density is None else f"{density}",
    )
    read = read_label(label)
    for problem in read.problems:
        raise problem.error
    product = read_document(Product, {**read.document, "key": "label"}, where="label")
    content = product.contents[0] if product.contents else None
    readings = [*read.readings, "" if content is None else content.parsed.reading]
    empty: JsonObject = {"g_per_l": None, "mol_per_l": None, "cautions": []}
    if content is None or content.is_other:
        words = (
            "nothing is reckoned of it"
            if content is None
            else "not on the list: kept by its name, nothing is reckoned of it"
        )
        return {"words": words, "reading": "", **empty}
    (brought,) = contents_of(product)
    bounds = brought.bounds
    if product.form == "solid":
        ends = [] if bounds is None else [f"{100 * end:.3g}" for end in (bounds.low, bounds.high)]
        share = " to ".join(dict.fromkeys(ends)) or f"{100 * brought.grams_per_unit:g}"
        # Of a powder a percentage is one by weight.
        readings = [r for r in readings if "by weight or by volume" not in r]
        return {
            "words": f"{share} g of {brought.substance.name} in 100 g",
            "reading": ". ".join(filter(None, readings)),
            **empty,
        }
    g_per_l = brought.grams_per_unit * ML_PER_L
    mass = molar_mass_g_per_mol(brought.substance.molar_mass_key)
    if bounds is None:
        words = f"{g_per_l:.4g} g/L, {g_per_l / mass:.3g} mol/L ({brought.how})"
        estimate = Estimate(g_per_l, g_per_l * brought.relative_sd)
    else:
        in_g_per_l = bounds.times(ML_PER_L)
        words = f"{figures(in_g_per_l.low)} to {figures(in_g_per_l.high)} g/L, {in_g_per_l.low / mass:.2g} to {in_g_per_l.high / mass:.2g} mol/L"
        estimate = in_g_per_l.estimate()
    return {
        "words": words,
        "reading": ". ".join(filter(None, readings)),
        "g_per_l": estimate.document(),
        "mol_per_l": g_per_l / mass,
        "cautions": [c.document() for c in brought.cautions if c.code != "strength.open"],
    }


def content_words(product: Product) -> str:
    """What a product holds, as its label says it."""
    said = (f"{_name_of(c)} {_short(c.said or c.strength)}".strip() for c in product.contents)
    return "; ".join(said) or "its label names nothing"


def _name_of(content: Content) -> str:
    return content.name or (
        substances()[content.substance].name if content.substance in substances() else content.substance
    )


def substance_facts() -> list[JsonObject]:
    """All substances but water, by name, with molar mass and hazards as recorded."""
    hazards = {row.substance: row for row in hazard_rows()}
    rows = [s for s in substances().values() if s.key != "water"]
    return [
        {"substance": s, "molar_mass": record(s.molar_mass_key), "hazards": hazards.get(s.hazard_row)}
        for s in sorted(rows, key=lambda s: s.name.lower())
    ]


def pictogram_families(opening: RouteOpening) -> set[str]:
    """Families of the hazard pictograms of all baths of a process."""
    formulas = {bath.reach.formula.key: bath.reach.formula for bath in opening.baths}
    return {family for _, sheet in hazards_of_route(opening.route, formulas) for family in sheet.pictograms}


class Shelf(Place):
    """Products, bottles, tools and equipment of one person."""

    def __init__(self, store: Store, clock: Clock, home: Path | None):
        super().__init__(store, clock, home)
        self._openings = Remembered(MOST_OPENINGS)

    # Products

    def products(self) -> list[Stored[Product]]:
        """The person's products, oldest first."""
        return self._store.products.all(own=True)

    def product(self, key: str) -> Stored[Product]:
        """One product, retired or not."""
        return self._store.products.get(key)

    def known_product(self, key: str) -> Product | None:
        """A product of one's own, or a generic one; None where neither is known here."""
        kept = self._store.products.find(key) if key else None
        return kept.thing if kept is not None else generic_products().get(key)

    def is_solid(self, product: str) -> bool:
        """Whether that product is weighed; one that is not known here is measured."""
        found = self.known_product(product)
        return found is not None and found.form == "solid"

    def solids(self) -> frozenset[str]:
        """Keys of all products that are weighed, generic ones and those put aside among them."""
        own = {kept.id: kept.thing for kept in self._store.products.all(retired=True)}
        return frozenset(key for key, one in {**generic_products(), **own}.items() if one.form == "solid")

    def claim(self, kind: str, id: str) -> None:
        """Say that a product, bottle or tool that came with another notebook stands on this shelf too."""
        self._shelf_kind(kind).get(id)
        self._store.claim(kind, id)

    def take_in(self, document: JsonObject, *, where: str = "shelf") -> list[str]:
        """Put the products of a shelf document onto this shelf; returns the names of those that are new here.

        Raises
        ------
        InputError
            If it is no shelf, or the bench could not reckon with one of its products: then nothing is taken.
        """
        given = read_document(ShelfDocument, dict(document), where=where)
        with self._store.transaction():
            here = {kept.id: kept.thing for kept in self.products()}
            # The same label under another key is the same product: taken in twice, nothing stands double.
            new = [
                product
                for product in given.full_products()
                if not any(one.model_copy(update={"key": product.key}) == product for one in here.values())
            ]
            for product in new:
                data = product.model_dump(mode="json")
                if product.key in here:
                    # Another product of that name stands here: it gets a key of its own.
                    data.pop("key")
                self.add_product(data)
        return [product.name for product in new]

    def add_product(self, document: JsonObject) -> str:
        """Put a product on the shelf from what its label says; returns its key.

        A key is made from the name where none is given.

        Raises
        ------
        InputError
            If it is no product, or the bench could not reckon with it: an unknown substance, contents heavier than
            the product.
        """
        with self._store.transaction():
            given = dict(document)
            if not given.get("key"):
                given["key"] = self._free_key("product", str(given.get("name", "")))
            product = read_document(Product, _in_keys(given), where="product")
            contents_of(product)
            self._store.products.put(product, id=product.key, expected_revision=0)
        return product.key

    def add_label(self, read: LabelRead) -> str:
        """Put a product on the shelf from its label in its own words; returns its key.

        Raises
        ------
        InputError
            With the first field that cannot be; `read` tells of all.
        """
        return self.add_product(_document_of(read))

    def change_label(self, key: str, read: LabelRead, expected_revision: int | None = None) -> None:
        """Correct a product by its label in its own words."""
        standing = self._store.products.get(key).thing.standing
        self.change_product(key, {**_document_of(read), "standing": standing}, expected_revision)

    def change_product(self, key: str, document: JsonObject, expected_revision: int | None = None) -> None:
        """Correct a product."""
        product = read_document(Product, _in_keys({**document, "key": key}), where="product")
        contents_of(product)
        self._store.products.put(product, id=key, expected_revision=expected_revision)

    def add_generic(self, key: str) -> str:
        """Put a generic product on the shelf; one that was retired comes back, one from elsewhere is one's own now."""
        try:
            product = generic_products()[key]
        except KeyError:
            raise InputError(
                f"there is no generic product {key!r}", where="product", remedy="choose one from the list"
            ) from None
        with self._store.transaction():
            here = self._store.products.find(key)
            if here is None:
                self._store.products.put(product, id=key, expected_revision=0)
                return key
            if here.retired_at is not None:
                self._store.products.restore(key)
            if here.elsewhere:
                self._store.claim("product", key)
        return key

    def retire(self, kind: str, id: str) -> None:
        """Take a product, bottle or tool off the shelf. It stays in the notebook."""
        self._shelf_kind(kind).retire(id)

    def restore(self, kind: str, id: str) -> None:
        """Put back on the shelf what was taken off."""
        self._shelf_kind(kind).restore(id)

    def _shelf_kind(self, kind: str) -> Repository[Any]:
        kinds: dict[str, Repository[Any]] = {
            "product": self._store.products,
            "bottle": self._store.bottles,
            "tool": self._store.tools,
        }
        if kind not in kinds:
            raise InputError(f"the shelf keeps no {kind!r}", remedy="use product, bottle or tool")
        return kinds[kind]

    def products_for_mixing(self) -> tuple[Product, ...]:
        """The person's products as the bench takes them: ammonia that stood open counts at what is left of it."""
        bottles = {kept.thing.product: kept.thing for kept in self.bottles() if kept.thing.product}
        return tuple(_as_it_stands(kept.thing, bottles.get(kept.id)) for kept in self.products())

    def products_or_generic(self) -> tuple[Product, ...]:
        """The person's products, or all generic ones where the shelf is empty."""
        return self.products_for_mixing() or tuple(generic_products().values())

    @property
    def is_empty(self) -> bool:
        """True where no product of one's own stands there yet."""
        return not self.products()

    # Bottles

    def bottles(self) -> list[Stored[Bottle]]:
        """The person's bottles and bags, oldest first."""
        return self._store.bottles.all(own=True)

    def find_bottles(self, asked: ListAsked) -> Found[Bottle]:
        """A part of the bottles as it was asked for."""
        return seek(self._store.bottles.all(retired=True, own=True), asked, BOTTLES_BY)

    def bottle(self, id: str) -> Stored[Bottle]:
        """One bottle, retired or not."""
        return self._store.bottles.get(id)

    def add_bottle(self, document: JsonObject) -> str:
        """Put a bottle on the shelf; returns its id."""
        return self._store.bottles.put(read_document(Bottle, document, where="bottle")).id

    def change_bottle(self, id: str, document: JsonObject, expected_revision: int | None = None) -> None:
        """Write down a new state of a bottle."""
        bottle = read_document(Bottle, document, where="bottle")
        self._store.bottles.put(bottle, id=id, expected_revision=expected_revision)

    def take(self, amounts: Mapping[str, float]) -> tuple[str, ...]:
        """Write down that so much of each product was used: it comes out of the newest bottle that holds some.

        Returns
        -------
        tuple of str
            Names of the bottles that hold less than was taken; they are written down as empty.
        """
        short = []
        with self._store.transaction():
            for product, amount in amounts.items():
                holding = [k for k in self.bottles() if k.thing.product == product and k.thing.amount]
                if not holding:
                    continue
                newest = holding[-1]
                left = (newest.thing.amount or 0.0) - amount
                if left < 0:
                    short.append(newest.thing.name)
                changed = newest.thing.model_copy(update={"amount": max(left, 0.0)})
                self._store.bottles.put(changed, id=newest.id, expected_revision=newest.revision)
        return tuple(short)

    def facts(self, bottle: Bottle) -> BottleFacts:
        """What is in a bottle, what it may do, how long it keeps."""
        if bottle.product is not None:
            known = self.known_product(bottle.product)
            if known is None:
                return self._unknown_facts(bottle)
            product = _as_it_stands(known, bottle)
            contents = bottle.contents or content_words(product)
            return BottleFacts(contents, hazards_of(product), "")
        try:
            formula = self.formula(bottle.formula or "")
        except NotFoundError:
            return self._unknown_facts(bottle)
        contents = bottle.contents or "; ".join(
            f"{substance(c.substance).name} {c.concentration}" for c in formula.components
        )
        return BottleFacts(contents, hazards_of(formula), _life(formula))

    @staticmethod
    def _unknown_facts(bottle: Bottle) -> BottleFacts:
        """Of a bottle whose product or formula is not in this notebook: its page still answers, and says so."""
        unknown = Product(key="unknown", name=bottle.name, form="liquid", contents=())
        return BottleFacts(
            bottle.contents or "not known here: what it holds is in no label kept", hazards_of(unknown), ""
        )

    def formula(self, key: str) -> Formula:
        """A generic formula or one of the person's own."""
        if key in generic_formulas():
            return generic_formulas()[key]
        return self._store.formulas.get(key).thing

    # Tools and equipment: both are of the store's kind "tool"

    def tools(self) -> list[Stored[Tool]]:
        """What measures."""
        every = self._store.tools.all(own=True)
        return cast("list[Stored[Tool]]", [kept for kept in every if isinstance(kept.thing, Tool)])

    def equipment(self) -> list[Stored[Equipment]]:
        """Tanks, lamp, light panel, camera and the room."""
        every = self._store.tools.all(own=True)
        return cast("list[Stored[Equipment]]", [kept for kept in every if isinstance(kept.thing, Equipment)])

    def elsewhere(self) -> list[tuple[str, Stored[Product | Bottle | Tool | Equipment]]]:
        """What came with a notebook of another darkroom, each with its kind: shown, and never taken for one's own."""
        every: list[tuple[str, Stored[Any]]] = [
            *(("product", kept) for kept in self._store.products.all()),
            *(("bottle", kept) for kept in self._store.bottles.all()),
            *(("tool", kept) for kept in self._store.tools.all()),
        ]
        return [(kind, kept) for kind, kept in every if kept.elsewhere]

    def add_tool(self, document: JsonObject) -> str:
        """Put a tool or a piece of equipment on the shelf; returns its key."""
        with self._store.transaction():
            given = dict(document)
            if not given.get("key"):
                given["key"] = self._free_key("tool", str(given.get("name", "")))
            noun: type[Tool] | type[Equipment] = tool_noun(given.get("kind"))
            tool = read_document(noun, given, where="tool")
            self._store.tools.put(tool, id=tool.key, expected_revision=0)
        return tool.key

    def tools_for_mixing(self) -> tuple[Tool, ...]:
        """The person's measuring tools, or the usual ones where none is entered."""
        return tuple(kept.thing for kept in self.tools()) or USUAL_TOOLS

    def tanks(self) -> list[Equipment]:
        """The person's tanks."""
        return [kept.thing for kept in self.equipment() if kept.thing.kind == "tank"]

    # What can be made

    def openings(self, volume_ml: float = 500.0, *, rolls: float = 1.0) -> list[RouteOpening]:
        """The person's own processes, then the shipped ones, the least hazardous first: open or not, what each lacks, what it costs a roll.

        Parameters
        ----------
        volume_ml : float
            Of the tank.
        rolls : float
            135-36 films that one tank holds.
        """
        shelf, tools = self.products_for_mixing(), self.tools_for_mixing()
        known, processes = known_formulas(self._store), known_processes(self._store)
        # Every bath of every process is mixed in thought: that is done once for what stands there.
        hangs_on = (
            shelf,
            tools,
            tuple(known.items()),
            tuple((key, one.model_dump_json()) for key, one in processes.items()),
            volume_ml,
            rolls,
        )
        return list(self._openings.of(hangs_on, lambda: _openings(processes, known, shelf, tools, volume_ml, rolls)))

    # Small things

    def _free_key(self, kind: str, name: str) -> str:
        taken = self._store.ids(kind)
        return words.free_id(words.id_from(name, most=60, joint="_", otherwise=kind), taken, joint="_")


def _openings(
    processes: Mapping[str, Process],
    known: Mapping[str, Formula],
    shelf: Sequence[Product],
    tools: Sequence[Tool],
    volume_ml: float,
    rolls: float,
) -> tuple[RouteOpening, ...]:
    market = tuple(generic_products().values())
    reached = dict[str, Reach]()
    found = []
    for key, route in processes.items():
        formulas = route.baths(known)
        baths: dict[str, BathOpening] = {}
        for step in route.steps:
            if step.formula not in formulas:
                continue
            if step.formula not in baths or (baths[step.formula].optional and not step.optional):
                formula = formulas[step.formula]
                # Many processes share their baths; one of the same key may be another by its process.
                here = reached.get(formula.key)
                if here is None or here.formula != formula:
                    here = reached[formula.key] = reach(formula, volume_ml, shelf, tools)
                baths[step.formula] = BathOpening(step.name, step.optional, here)
        needed = [b.reach.formula for b in baths.values() if not b.optional]
        purchase = least_purchase(needed, volume_ml, shelf, market, tools)
        found.append(
            RouteOpening(
                key,
                key not in routes(),
                route,
                tuple(baths.values()),
                purchase,
                _cost_per_roll(baths.values(), shelf, rolls),
            )
        )
    return tuple(found)


def _in_keys(document: JsonObject) -> JsonObject:
    """A product's document with the substances that it names in words by their keys, the words kept as names."""
    contents = document.get("contents")
    if not isinstance(contents, (list, tuple)):
        return dict(document)

    def keyed(content: Any) -> Any:
        words = content.get("substance") if isinstance(content, Mapping) else None
        if not isinstance(words, str) or re.match(KEY, words) or not words.strip():
            return content
        return {"name": words[:120], **content, "substance": substance_of(words)}

    return {**document, "contents": [keyed(content) for content in contents]}


def _document_of(read: LabelRead) -> JsonObject:
    for problem in read.problems:
        raise problem.error
    return read.document


def _short(strength: str) -> str:
    """A strength with three figures, as a label shows it."""
    number, space, unit = strength.partition(" ")
    try:
        return f"{float(number.replace(',', '.')):.3g}{space}{unit}"
    except ValueError:
        return strength


def _life(formula: Formula) -> str:
    return next((row.life for row in shelf_life_rows() if row.solution == formula.keeps), "")


def _as_it_stands(product: Product, bottle: Bottle | None) -> Product:
    """The product at the strength that its bottle still has."""
    if bottle is None or not bottle.hours_open or product.form != "liquid":
        return product
    if all(content.substance != "ammonia" for content in product.contents):
        return product
    left = open_bottle_factor(
        bottle.hours_open, volume_ml=bottle.amount or product.package_amount or number("bottle.usual_volume")
    )
    contents = tuple(
        _weakened(c, left) if c.substance == "ammonia" and c.parsed.unit != "Be" else c for c in product.contents
    )
    return product.model_copy(update={"contents": contents})


def _weakened(content: Content, left: Estimate) -> Content:
    strength = content.parsed
    if strength.unit in ("1+n", NOT_SAID):
        return content
    weak = replace(
        strength, value=strength.value * left.value, low=strength.low * left.value, high=strength.high * left.value
    )
    text = weak.text
    return content.model_copy(
        update={
            "strength": text,
            "strength_relative_sd": min(1.0, math.hypot(content.strength_relative_sd, left.sd / left.value)),
        }
    )


def _cost_per_roll(baths: Iterable[BathOpening], products: Sequence[Product], rolls: float) -> Cost:
    known = 0.0
    unpriced: set[str] = set()
    for bath in baths:
        sheet = bath.reach.sheet
        if sheet is None:
            continue
        cost = cost_of(sheet, products)
        # A kept bath is shared by the rolls that its capacity allows at the low end.
        capacity = None if bath.reach.formula.one_shot else rolls_in(sheet)
        uses = rolls if capacity is None else max(rolls, capacity.low)
        known += cost.known / uses
        unpriced.update(cost.unpriced)
    return Cost(known, tuple(sorted(unpriced)))
