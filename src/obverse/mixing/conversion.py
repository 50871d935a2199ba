"""Conversion between benches: a bath given by somebody else's bottles becomes the same bath from mine.

What is carried over is the active substance. What cannot be matched is said: alkalinity, sulfite and
other companions, hardener, undeclared contents.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from obverse.foundation import InputError, JsonObject, Standing
from obverse.mixing.mixer import acidity_of, mix
from obverse.mixing.sheet import MixSheet, active_mol_per_l
from obverse.mixing.sources import ADDITIVES, CHIEF_SHARE, contents_of
from obverse.process import DEVELOPERS, USUAL_TOOLS, Component, Dilution, Formula, Product, Tool
from obverse.process.catalog import substance as known_substance

# Differences below these are within what mixing itself leaves open.
SAME_SHARE = 0.05
SAME_PH = 0.3


@dataclass(frozen=True, slots=True)
class PouredThere:
    """So much of a product in the bath of the other bench: mL of a liquid, g of a solid."""

    product: Product
    amount: float


@dataclass(frozen=True, slots=True)
class Unmatched:
    """One thing that the two baths do not share.

    Parameters
    ----------
    theirs, mine : str
        In words with unit; ``"none"`` where it is absent.
    text : str
        What it may do.
    """

    what: str
    theirs: str
    mine: str
    text: str

    def document(self) -> dict[str, str]:
        """The JSON shape."""
        return {"what": self.what, "theirs": self.theirs, "mine": self.mine, "text": self.text}


@dataclass(frozen=True, slots=True)
class Conversion:
    """The bath by active substance, how to make it here, and what differs."""

    formula: Formula
    sheet: MixSheet
    unmatched: tuple[Unmatched, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "formula": self.formula.model_dump(mode="json"),
            "sheet": self.sheet.document(),
            "unmatched": [u.document() for u in self.unmatched],
        }


def read_bath(
    poured: Sequence[PouredThere], volume_ml: float, *, role: str, name: str = "a bath from another bench"
) -> Formula:
    """The formula, by active substance, of a bath that is given by bottles.

    What a product chiefly holds becomes a component; a product used by dilution (a developer
    concentrate) stays a dilution, because its contents cannot be matched one by one.

    Parameters
    ----------
    poured : sequence of PouredThere
        What went into it, bottle by bottle.
    volume_ml : float
        Of the bath, mL.
    role : str
        Role of the bath, such as ``"first_developer"``.
    name : str, optional
        As a person calls it.

    Raises
    ------
    InputError
        For an empty bath, amounts that are no amounts, or more liquid than the bath holds.
    """
    if not volume_ml > 0:
        raise InputError(f"a bath of {volume_ml:g} mL cannot be", where="volume", remedy="give a volume above zero")
    if not poured:
        raise InputError("nothing is poured into it", where=name, remedy="give at least one product with its amount")
    components: dict[str, float] = {}
    dilutions = []
    liquids = 0.0
    for portion in poured:
        if not portion.amount > 0:
            raise InputError(
                f"{portion.amount:g} of it adds nothing",
                where=portion.product.name,
                remedy="leave it out or give an amount above zero",
            )
        liquids += portion.amount if portion.product.form == "liquid" else 0.0
        brings = contents_of(portion.product)
        if portion.product.roles and (not brings or set(DEVELOPERS) & set(portion.product.roles)):
            parts = volume_ml / portion.amount - 1
            dilutions.append(
                Dilution(
                    product_role=portion.product.roles[0], dilution=f"1+{max(parts, 0):.6f}".rstrip("0").rstrip(".")
                )
            )
            continue
        if not brings:
            raise InputError(
                "its label names nothing that could be matched",
                where=portion.product.name,
                remedy="say what it is used as, or what its safety data sheet names",
            )
        chief = max(b.grams_per_unit for b in brings) * CHIEF_SHARE
        for b in brings:
            if b.grams_per_unit >= chief:
                components[b.substance.key] = (
                    components.get(b.substance.key, 0.0) + b.grams_per_unit * portion.amount / volume_ml * 1000
                )
    if liquids > volume_ml:
        raise InputError(
            f"{liquids:g} mL of products do not fit {volume_ml:g} mL",
            where=name,
            remedy="correct the amounts or the volume",
        )
    return Formula(
        name=name,
        role=role,
        components=tuple(
            Component(
                substance=key,
                concentration=f"{g:.6f} g/L",
                standing=Standing.COMPUTED,
                source="from the amounts of the other bench",
            )
            for key, g in components.items()
        ),
        dilutions=tuple(dilutions),
    )


def convert(
    poured: Sequence[PouredThere],
    volume_ml: float,
    products: Sequence[Product],
    tools: Sequence[Tool] = USUAL_TOOLS,
    *,
    role: str,
    name: str = "a bath from another bench",
    my_volume_ml: float | None = None,
) -> Conversion:
    """Make the other bench's bath from the products of this one.

    Parameters
    ----------
    poured : sequence of PouredThere
        What went into it, bottle by bottle.
    volume_ml : float
        Of the bath, mL.
    products : sequence of Product
        The bottles at hand.
    tools : sequence of Tool, optional
        What measures; the usual three where absent.
    role : str
        Role of the bath, such as ``"first_developer"``.
    name : str, optional
        As a person calls it.
    my_volume_ml : float, optional
        Volume to be made here; the same where absent.

    Returns
    -------
    Conversion
        The formula, the sheet from these bottles, and what does not match.

    Raises
    ------
    InputError
        If it cannot be read or cannot be mixed here.
    """
    formula = read_bath(poured, volume_ml, role=role, name=name)
    sheet = mix(formula, my_volume_ml or volume_ml, products, tools)
    theirs: dict[str, float] = {}
    for portion in poured:
        for b in contents_of(portion.product):
            theirs[b.substance.key] = (
                theirs.get(b.substance.key, 0.0) + b.moles_per_unit * portion.amount / volume_ml * 1000
            )
    my_products = tuple(p for p in products if p.key in sheet.amounts)
    return Conversion(
        formula, sheet, _unmatched([p.product for p in poured], theirs, my_products, sheet.contents_mol_per_l)
    )


def unmatched_between(
    theirs: MixSheet, their_products: Sequence[Product], mine: MixSheet, my_products: Sequence[Product]
) -> tuple[Unmatched, ...]:
    """What two sheets of one formula, mixed from different bottles, do not have in common.

    `their_products` and `my_products` may hold more than was poured.

    Parameters
    ----------
    theirs : MixSheet
        Sheet of the other bench.
    their_products : sequence of Product
        Bottles it was mixed from.
    mine : MixSheet
        Sheet of this one.
    my_products : sequence of Product
        Bottles it was mixed from.

    Returns
    -------
    tuple of Unmatched
        Empty where both hold the same.
    """
    poured = [p for p in their_products if p.key in theirs.amounts]
    used = tuple(p for p in my_products if p.key in mine.amounts)
    return _unmatched(poured, dict(theirs.contents_mol_per_l), used, mine.contents_mol_per_l)


def _unmatched(
    their_products: Sequence[Product],
    theirs: dict[str, float],
    my_products: Sequence[Product],
    mine: dict[str, float],
) -> tuple[Unmatched, ...]:
    found = []
    for key in sorted(set(active_mol_per_l(theirs)) | set(active_mol_per_l(mine))):
        a, b = active_mol_per_l(theirs).get(key, 0.0), active_mol_per_l(mine).get(key, 0.0)
        if abs(a - b) > SAME_SHARE * max(a, b):
            found.append(
                Unmatched(key.replace("_", " "), _moles(a), _moles(b), _WHY.get(key, "its effect is not known here"))
            )
    ammonium = _ammonium(theirs), _ammonium(mine)
    if abs(ammonium[0] - ammonium[1]) > SAME_SHARE * max(ammonium):
        why = "ammonium dissolves halide faster and lowers the pH of a carbonate bath"
        found.append(Unmatched("ammonium salts", _moles(ammonium[0]), _moles(ammonium[1]), why))
    (their_ph, _), (my_ph, _) = acidity_of(theirs), acidity_of(mine)
    if their_ph is not None and my_ph is not None and abs(their_ph.value - my_ph.value) > SAME_PH:
        why = "developers, bleaches and clearing baths change pace with pH: test a strip"
        found.append(Unmatched("pH, estimated", f"{their_ph.value:.1f}", f"{my_ph.value:.1f}", why))
    have = {a for p in my_products for a in p.additives}
    had = {a for p in their_products for a in p.additives}
    for additive in sorted(have ^ had):
        there, here = ("present", "none") if additive in had else ("none", "present")
        found.append(Unmatched(additive.replace("_", " "), there, here, ADDITIVES[additive][1]))
    roles = {p.key for p in their_products if p.roles} ^ {p.key for p in my_products if p.roles}
    if roles:
        why = "two concentrates of the same kind differ in contents: only the dilution is carried over"
        found.append(Unmatched("concentrate used by dilution", "theirs", "mine", why))
    return tuple(found)


_WHY = {
    "sulfite": "sulfite keeps the developer and dissolves a little halide",
    "bromide": "bromide restrains fog and speed",
    "carbonate": "carbonate sets the alkalinity",
    "chloride": "chloride takes capacity from an ammonia bath and spoils permanganate",
    "thiosulfate": "the silver-halide solvent itself",
    "ammonia": "alkali and a weak solvent",
}


def _ammonium(contents: dict[str, float]) -> float:
    return sum(
        mol * known_substance(k).buffers.get("ammonia", 0.0)
        for k, mol in contents.items()
        if "ammonium_salt" in known_substance(k).classes
    )


def _moles(value: float) -> str:
    return "none" if value == 0 else f"{1000 * value:.3g} mmol/L" if value < 0.1 else f"{value:.3g} mol/L"
