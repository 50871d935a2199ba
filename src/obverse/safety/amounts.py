"""From a name and an amount to a portion: what a bottle, a bath, a substance or a thing brings when it meets something.

Where nobody says how much, a usual amount is taken (records ``hazard.usual.*``) and the finding says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from obverse.chemistry import NOT_SAID, concentration_g_per_l, mass_fraction_of_strength
from obverse.foundation import InputError, regex, with_point
from obverse.process import STRONGEST_G_PER_L, STRONGEST_OF_OTHERS_G_PER_L, Formula, Product, Substance
from obverse.process.catalog import formulas, products, substances
from obverse.reference import number
from obverse.safety.body import Portion, liquid, powder
from obverse.safety.matter import Given, Matter, as_matter, known_names, substance_to_check, things
from obverse.safety.setting import Setting

_ASKED = regex(r"^(?P<name>.+?)\s*=\s*(?P<amount>\d+(?:[.,]\d+)?)\s*(?P<unit>mL|ml|L|l|g|kg)$")
# Things of the room that are matter: substance and grams or mL of it.
_THINGS: dict[str, tuple[str, float]] = {
    "galvanised": ("zinc", 20.0),
    "copper_metal": ("copper", 20.0),
    "paper": ("cellulose", 50.0),
    "wood": ("cellulose", 50.0),
    "solvent": ("white_spirit", 50.0),
    "aldehyde": ("formaldehyde", 10.0),
    "silver_sulfide_sludge": ("silver_sulfide", 5.0),
    "rust": ("iron_hydroxide", 5.0),
}
# mL: a splash, and what runs from a tap while one looks.
_WATER = {"damp": 20.0, "little_water": 20.0, "tap_water": number("hazard.usual.liquid_ml")}
# What nobody says the strength of counts as strong, what stands or dries does so for two days, what is warmed is this warm.
_STRONG_G_PER_L, _STANDS_H, _WARMED_C = 300.0, 48.0, 60.0

# Things that say something of the place or the vessel: the field of a setting that each makes true.
_SAID_OF_IT = {
    "closed_jug": "closed", "germicidal_lamp": "ultraviolet", "septic_tank": "septic", "dust": "dusty", "narrow_bottle": "narrow", "glass_vessel": "glass", "spilt": "spilt",
} | {name: name for name in ("food_vessel", "asthma", "flame", "bare_hands", "glass_stopper", "metal_reel", "film")}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Amount:
    """How much of something: mL of a liquid or g of a solid.

    Parameters
    ----------
    value : float
    unit : str
        ``"mL"`` or ``"g"``.
    """

    value: float
    unit: str

    def __post_init__(self) -> None:
        if not 0 < self.value <= 1e6:
            raise InputError(f"{self.value:g} {self.unit} cannot be", where="check", remedy="give an amount above zero")


def asked(text: str) -> tuple[str, Amount | None]:
    """A name with or without ``=250 mL`` or ``=20 g`` behind it."""
    match = _ASKED.match(text.strip())
    if not match:
        return text, None
    value, unit = float(with_point(match["amount"])), match["unit"]
    if unit in ("kg", "L", "l"):
        value *= 1000
    return match["name"], Amount(value, "g" if unit in ("g", "kg") else "mL")


def portion_of(given: Given, amount: Amount | None = None, *, known: Mapping[str, Formula] | None = None) -> Portion:
    """A portion of whatever names it; the usual amount where none is given.

    Raises
    ------
    InputError
        If nothing is known by that name.
    """
    if isinstance(given, Matter):
        return _of_matter(given, amount)
    if isinstance(given, Product):
        return _of_product(given, amount)
    if isinstance(given, Formula):
        return of_bath(given, _ml(amount))
    if isinstance(given, Substance):
        return _of_substance(given, amount)
    baths = formulas() if known is None else known
    key = _key(given)
    if key in products():
        return _of_product(products()[key], amount)
    if key in baths:
        return of_bath(baths[key], _ml(amount))
    if key.removeprefix("used_") in baths:
        return of_bath(baths[key.removeprefix("used_")], _ml(amount), used=True)
    if key in substances():
        return _of_substance(substances()[key], amount)
    if key in things():
        return _of_thing(key, amount)
    return _of_matter(as_matter(given), amount)


def _key(text: str) -> str:
    key = text.strip().lower().replace(" ", "_").replace("-", "_")
    by_name = {name.lower(): each for each, name in known_names().items()}
    return by_name.get(text.strip().lower(), key)


@lru_cache(maxsize=4096)
def of_bath(formula: Formula, volume_ml: float, *, used: bool = False) -> Portion:
    """A finished bath of this volume; used, with the silver that a few films leave in it."""
    grams_per_l: dict[str, float] = {}
    for line in formula.dilutions:
        share = 1 / (1 + line.parsed.value) if line.parsed.unit == "1+n" else line.parsed.value / 1000
        product = next((p for p in products().values() if line.product_role in p.roles), None)
        for key, g in (_strengths(product) if product else {}).items():
            grams_per_l[key] = grams_per_l.get(key, 0.0) + g * share
    for component in formula.components:
        substance = substance_to_check(component.substance, formula.name)
        g = concentration_g_per_l(component.parsed, substance).value
        grams_per_l[substance.key] = grams_per_l.get(substance.key, 0.0) + g
    if used:
        ammonia = "ammonia" in grams_per_l
        iron = any("iron_chloride" in substances()[key].classes for key in grams_per_l)
        silver = {"fixer": "silver_thiosulfate", "bleach": "silver_bromide", "halide_solvent": "silver_chloride"}
        key = silver.get(formula.role, "")
        if key == "silver_chloride" and ammonia:
            key = "silver_ammine_chloride"
        if key and not (iron and formula.role == "bleach"):
            grams_per_l[key] = number("hazard.usual.silver_g_per_l")
    return liquid(f"used {formula.name}" if used else formula.name, grams_per_l, volume_ml, unknown=formula.unread)


def _of_product(product: Product, amount: Amount | None) -> Portion:
    if product.form == "solid":
        grams = number("hazard.usual.solid_g") if amount is None else amount.value
        found: dict[str, float] = {}
        for content in product.contents:
            if content.is_other:
                continue
            part = mass_fraction_of_strength(content.parsed, content.substance)
            share = min(1.0, part.high90) if content.parsed.is_open else part.value
            found[content.substance] = found.get(content.substance, 0.0) + grams * share
        return powder(product.name, found, unknown=_unknown(product))
    ml = number("hazard.usual.liquid_ml") if amount is None else amount.value
    return liquid(
        product.name,
        _strengths(product),
        ml,
        density_g_per_ml=product.density_g_per_ml,
        unknown=_unknown(product),
    )


def _strengths(product: Product) -> dict[str, float]:
    found: dict[str, float] = {}
    for content in product.contents:
        if content.is_other:
            continue
        substance = substance_to_check(content.substance, product.name)
        # What a label leaves wholly open counts as strong; a range counts at its upper end.
        g = _STRONG_G_PER_L
        if content.parsed.unit not in (NOT_SAID, "1+n"):
            try:
                made = concentration_g_per_l(content.parsed, substance, product.density_g_per_ml)
                g = made.estimate.high90 if made.is_open else made.value
            except InputError:
                pass
        found[substance.key] = found.get(substance.key, 0.0) + g
    return found


def _unknown(product: Product) -> tuple[str, ...]:
    return (product.name,) if "unknown" in product.additives or product.is_open else ()


def _of_substance(substance: Substance, amount: Amount | None) -> Portion:
    if substance.key == "water":
        return Portion("water", {}, number("hazard.usual.liquid_ml") if amount is None else amount.value)
    if substance.phase == "solid":
        grams = number("hazard.usual.solid_g") if amount is None else amount.value
        return powder(substance.name, {substance.key: grams})
    ml = number("hazard.usual.pure_ml") if amount is None else amount.value
    return _pure_liquid(substance, ml)


def _pure_liquid(substance: Substance, ml: float) -> Portion:
    grams_per_l = STRONGEST_G_PER_L.get(substance.key, STRONGEST_OF_OTHERS_G_PER_L)
    return liquid(substance.name, {substance.key: grams_per_l}, ml)


def _of_thing(key: str, amount: Amount | None) -> Portion:
    thing = things()[key]
    if key in _WATER:
        return Portion(thing.name, {}, _WATER[key] if amount is None else amount.value)
    if key in _THINGS:
        substance, grams = _THINGS[key]
        made = powder(thing.name, {substance: grams if amount is None else amount.value})
        return replace(made, water_ml=0.0)
    return Portion(thing.name)


def _of_matter(matter: Matter, amount: Amount | None) -> Portion:
    parts = [part for part in matter.ingredients if part.kind == "substance"]
    if len(parts) == 1 and parts[0].g_per_l is None:
        return replace(_of_substance(substances()[parts[0].key], amount), name=matter.name)
    grams_per_l: dict[str, float] = {}
    for part in parts:
        weak = number("hazard.usual.silver_g_per_l") if "silver" in part.classes else _STRONG_G_PER_L
        grams_per_l[part.key] = grams_per_l.get(part.key, 0.0) + (weak if part.g_per_l is None else part.g_per_l)
    return liquid(matter.name, grams_per_l, _ml(amount))


def _ml(amount: Amount | None) -> float:
    return number("hazard.usual.liquid_ml") if amount is None else amount.value


def told_by_things(setting: Setting, names: Iterable[str]) -> Setting:
    """The setting as things such as "standing", "warming" or "closed_jug" make it."""
    for name in names:
        key = _key(name) if isinstance(name, str) else ""
        if key in ("standing", "storage", "drying"):
            setting = replace(setting, hours=max(setting.hours, _STANDS_H))
        elif key == "warming":
            setting = replace(setting, temperature_c=_WARMED_C)
        elif key in _SAID_OF_IT:
            setting = replace(setting, **{_SAID_OF_IT[key]: True})  # type: ignore[arg-type]
        elif key == "damp":
            setting = replace(setting, place="damp")
    return setting
