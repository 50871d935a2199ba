"""What may meet: bottles, baths, substances and things of the room, seen as their dangerous parts."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.resources import files

from obverse.chemistry import NOT_SAID, Strength, concentration_g_per_l
from obverse.foundation import InputError
from obverse.process import OTHER, Formula, Product, Substance, substance_of
from obverse.process.catalog import formulas, products, substances

# A bath stands for a thousand grams per litre of itself, so that a rinse dilutes it like a substance.
BATH_G_PER_L = 1000.0


@dataclass(frozen=True, slots=True)
class Thing:
    """Something of the room that is no substance of ours: paper, a metal drain, standing overnight."""

    key: str
    name: str
    classes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One part of what meets.

    Parameters
    ----------
    kind : str
        ``"substance"``, ``"bath"`` (the whole bath, by its role), ``"thing"``, ``"other"`` (a substance that is not on the
        list) or ``"label"`` (a bottle's own hazard statements).
    key, name : str
    classes : tuple of str
    g_per_l : float or None
        None where it is not known or where it is the pure substance: then every limit counts as passed.
    state : str
        "solid", "liquid" or "aged"; empty where it is not known: then it counts as any of them.
    origin : str
        The bottle or bath it came with.
    residual : float
        How much of its first concentration a rinse has left, 1 for none.
    statements : tuple of str
        Hazard statements of the label, where it is one.
    """

    kind: str
    key: str
    name: str
    classes: tuple[str, ...] = ()
    g_per_l: float | None = None
    state: str = ""
    origin: str = ""
    residual: float = 1.0
    statements: tuple[str, ...] = ()

    def diluted(self, factor: float) -> Ingredient:
        """The same after dilution to `factor` of its concentration; what was unknown counts as a solid kilogram per litre."""
        start = BATH_G_PER_L if self.g_per_l is None else self.g_per_l
        return replace(self, g_per_l=start * factor, residual=self.residual * factor, state="liquid")


@dataclass(frozen=True, slots=True)
class Matter:
    """A bottle, a bath or a thing, with all it holds."""

    name: str
    ingredients: tuple[Ingredient, ...]
    key: str = ""


Given = Matter | Formula | Product | Substance | str


@cache
def things() -> dict[str, Thing]:
    """The things of the room that the pair rules name, by key."""
    rows = json.loads(files("obverse.safety").joinpath("data/things.json").read_text(encoding="utf-8"))
    return {row["key"]: Thing(row["key"], row["name"], tuple(row["classes"])) for row in rows}


def of_thing(key: str) -> Matter:
    """A thing of the room as matter (KeyError if we know none of that key)."""
    thing = things()[key]
    return Matter(thing.name, (Ingredient("thing", key, thing.name, thing.classes, origin=thing.name),), key)


def of_substance(substance: Substance, g_per_l: float | None = None, *, state: str = "", origin: str = "") -> Matter:
    """A substance as matter; without a concentration it counts as strong and in any state."""
    origin = origin or substance.name
    return Matter(
        origin,
        (Ingredient("substance", substance.key, substance.name, substance.classes, g_per_l, state, origin),),
        substance.key,
    )


def of_product(product: Product) -> Matter:
    """A bottle or bag of the shop as matter, as strong as its label may mean."""
    solid = product.form == "solid"
    found = []
    for content in product.contents:
        if content.is_other:
            found.append(Ingredient("other", OTHER, content.name, origin=product.name))
            continue
        substance = substance_to_check(content.substance, product.name)
        g_per_l = None if solid else _g_per_l(content.parsed, substance, product.density_g_per_ml)
        state = "solid" if solid else "liquid"
        found.append(
            Ingredient("substance", substance.key, substance.name, substance.classes, g_per_l, state, product.name)
        )
    if not product.contents:
        found.append(Ingredient("other", OTHER, f"what is in {product.name}", origin=product.name))
    if product.statements:
        found.append(Ingredient("label", product.key, product.name, origin=product.name, statements=product.statements))
    return Matter(product.name, tuple(found), product.key)


@lru_cache(maxsize=4096)
def of_formula(formula: Formula, *, used: bool = False, aged: bool = False) -> Matter:
    """A finished bath as matter.

    A line that takes a product by its role counts as every product of that role that we know, at the
    dilution of the line. A used bath that dissolves silver halide holds silver-ammine, a used bleach silver.
    """
    state = "aged" if aged else "liquid"
    found = [Ingredient("bath", formula.role, formula.name, (), BATH_G_PER_L, state, formula.name)]
    for component in formula.components:
        substance = substance_to_check(component.substance, formula.name)
        g_per_l = _g_per_l(component.parsed, substance)
        found.append(
            Ingredient("substance", substance.key, substance.name, substance.classes, g_per_l, state, formula.name)
        )
    for line in formula.dilutions:
        factor = _share(line.parsed)
        for product in products().values():
            if line.product_role in product.roles:
                found += [
                    replace(part.diluted(factor), origin=formula.name, residual=1.0)
                    for part in of_product(product).ingredients
                ]
    for name in formula.unread:
        found += _as_called(name, formula.name)
    if used:
        found += [replace(part, origin=formula.name) for part in _taken_up(formula)]
    return Matter(formula.name, tuple(found), formula.key)


def _as_called(name: str, origin: str) -> list[Ingredient]:
    """What goes in as said: nobody reckons it, but a substance whose name is in it counts as strong."""
    said = re.sub(r"^[\d.,\s]+(?:mL|g|L|mg)?\s+", "", name, flags=re.I)
    key = substance_of(said)
    if key in (OTHER, "water"):
        return [Ingredient("other", OTHER, name, origin=origin)]
    known = substances()[key]
    return [Ingredient("substance", key, known.name, known.classes, None, "liquid", origin)]


def _g_per_l(strength: Strength, substance: Substance, density_g_per_ml: float | None = None) -> float | None:
    """Grams per litre, the most that the label may mean; None where it does not say enough: then the part counts as strong."""
    if strength.unit == NOT_SAID:
        return None
    try:
        made = concentration_g_per_l(strength, substance, density_g_per_ml)
    except InputError:
        return None
    return made.estimate.high90 if made.is_open else made.value


def _share(dilution: Strength) -> float:
    """Share of the bath that a line by dilution takes."""
    if dilution.unit == "1+n":
        return float(1.0 / (1.0 + dilution.value))
    # Of a powder used by dilution: a gram takes no more room than a millilitre, near enough for a hazard.
    if dilution.unit in ("mL/L", "g/L"):
        return float(dilution.value / 1000.0)
    raise InputError(f"a dilution cannot be in {dilution.unit}", where="formula", remedy="write it like 1+15 or 5 mL/L")


def _taken_up(formula: Formula) -> list[Ingredient]:
    """What a film leaves in the bath: the reason why a used bath is another thing than a fresh one."""
    key = {"halide_solvent": "silver_ammine_chloride", "bleach": "silver_bromide", "fixer": "silver_thiosulfate"}.get(
        formula.role
    )
    if key is None or (formula.role == "halide_solvent" and not _holds(formula, "ammonia")):
        return []
    # An iron bleach leaves its silver in the film as chloride; nothing to speak of goes into the bath.
    if formula.role == "bleach" and _holds(formula, "iron_chloride"):
        return []
    substance = substances()[key]
    return [Ingredient("substance", key, substance.name, substance.classes, None, "liquid")]


def _holds(formula: Formula, wanted: str) -> bool:
    return any(wanted in substance_to_check(part.substance, formula.name).classes for part in formula.components)


def substance_to_check(key: str, where: str) -> Substance:
    """The substance of that key.

    Parameters
    ----------
    key : str
    where : str
        For the error.

    Returns
    -------
    Substance

    Raises
    ------
    InputError
        If there is none: what is not known cannot be checked.
    """
    try:
        return substances()[key]
    except KeyError:
        raise InputError(
            f"the substance {key!r} is not known here, so it cannot be checked",
            where=where,
            remedy="choose a known one",
        ) from None


def as_matter(given: Given, *, where: str = "check") -> Matter:
    """Matter from whatever names it: a formula, product or substance, or the key or name of one or of a thing.

    Raises
    ------
    InputError
        If a key is none of ours, with the nearest ones.
    """
    if isinstance(given, Matter):
        return given
    if isinstance(given, Formula):
        return of_formula(given)
    if isinstance(given, Product):
        return of_product(given)
    if isinstance(given, Substance):
        return of_substance(given)
    key = given.strip().lower().replace(" ", "_").replace("-", "_")
    if key in products():
        return of_product(products()[key])
    if key in formulas():
        return of_formula(formulas()[key])
    if key.removeprefix("used_") in formulas():
        return of_formula(formulas()[key.removeprefix("used_")], used=True)
    if key in substances():
        # Zinc is a metal of the room and a substance: the recorded pairs know the one, the engine the other.
        also = of_thing(key).ingredients if key in things() else ()
        known = of_substance(substances()[key])
        return replace(known, ingredients=(*known.ingredients, *also))
    if key in things():
        return of_thing(key)
    by_name = {name.lower(): each for each, name in known_names().items()}
    if given.strip().lower() in by_name:
        return as_matter(by_name[given.strip().lower()], where=where)
    raise InputError(f"nothing here is called {given!r}", where=where, remedy=_near(key))


def known_names() -> dict[str, str]:
    """Every key that `as_matter` understands, with its name in words."""
    names = {key: product.name for key, product in products().items()}
    names |= {key: formula.name for key, formula in formulas().items()}
    names |= {f"used_{key}": f"used {formula.name}" for key, formula in formulas().items() if _taken_up(formula)}
    names |= {key: substance.name for key, substance in substances().items()}
    return names | {key: thing.name for key, thing in things().items()}


def _near(key: str) -> str:
    words = [word for word in key.split("_") if len(word) > 2]
    near = [name for name in known_names() if any(word in name for word in words)][:4]
    return "try " + " or ".join(near) if near else "obverse check --list shows the names"


def pool(matters: Iterable[Matter]) -> tuple[Ingredient, ...]:
    """All that the matters hold, together."""
    return tuple(part for matter in matters for part in matter.ingredients)
