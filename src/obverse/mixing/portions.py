"""How much of each bottle, rounded to the tools, and the water that is left to add."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from obverse.chemistry import concentrate_ml
from obverse.foundation import Caution, InputError, Level
from obverse.mixing.choose import Need, answers
from obverse.mixing.measuring import Measured, measure
from obverse.mixing.sources import Brings, Candidate, additive_cautions, contents_of
from obverse.process import Dilution, Formula, Product, Tool
from obverse.reference import number

# Order of adding where the formula does not say.
_CLASS_ORDER = (
    ("sulfite", 10),
    ("permanganate", 15),
    ("dichromate", 15),
    ("developer_agent", 20),
    ("carbonate", 30),
    ("borate", 30),
    ("hydroxide", 35),
    ("bromide", 40),
    ("chloride", 40),
    ("thiosulfate", 50),
    ("thiocyanate", 50),
    ("acid_weak", 60),
    ("acid_strong", 65),
    ("peroxide", 70),
    ("dithionite", 80),
    ("ammonia", 90),
)
# How the note of a component begins that tells in which words its amount was said; the sheet tells them again.
SAID_AS = "said as"
# What is of no such class goes in before the solvents of silver.
_CLASS_ORDER_OF_OTHERS = 45


@dataclass(frozen=True, slots=True)
class ProductPortion:
    """One product and how much of it."""

    product: Product
    contents: tuple[Brings, ...]
    raw: float
    measured: Measured
    order: tuple[int, int, int]
    names: tuple[str, ...]
    reading: str
    cautions: tuple[Caution, ...]
    alternatives: tuple[str, ...]
    counts: bool  # whether its contents answer for components (dilutions are additional to them)


def portions_of(
    formula: Formula,
    volume_ml: float,
    needs: Sequence[Need],
    picks: Sequence[Candidate],
    bottles: Sequence[Product],
    tools: Sequence[Tool],
    options: Sequence[Sequence[Candidate]],
    roles: Sequence[Sequence[Product]],
) -> list[ProductPortion]:
    """Every product with its measured amount, in the order of adding."""
    found = _component_portions(formula, needs, picks, tools, options)
    found += [
        _dilution_portion(line, product, volume_ml, tools, formula, roles[i])
        for i, (line, product) in enumerate(zip(formula.dilutions, bottles, strict=True))
    ]
    return sorted(found, key=lambda p: p.order)


def _component_portions(
    formula: Formula,
    needs: Sequence[Need],
    picks: Sequence[Candidate],
    tools: Sequence[Tool],
    options: Sequence[Sequence[Candidate]],
) -> list[ProductPortion]:
    """Solve how much of each product: every product's whole contents count for every component."""
    products = list({c.product.key: c.product for c in picks}.values())
    contents = [contents_of(p) for p in products]
    raw = _amounts(needs, picks, products, contents)
    portions = []
    for product, brings, amount in zip(products, contents, raw, strict=True):
        mine = [(n, c, o) for n, c, o in zip(needs, picks, options, strict=True) if c.product.key == product.key]
        if amount <= 0:
            continue
        names = tuple(n.substance.name for n, _, _ in mine)
        classes = {cls for n, c, _ in mine for cls in c.brings.substance.classes}
        changes = tuple(
            Caution("mix.substitution", text + ".", Level.NOTE, where=n.substance.key)
            for n, c, _ in mine
            for text in c.changes
        )
        others = {a.product.key: a.product.name for _, _, o in mine for a in o if a.product.key != product.key}
        doubts = tuple(x for b in brings for x in b.cautions)
        portions.append(
            ProductPortion(
                product,
                brings,
                amount,
                measure(amount, product.form, tools, where=f"{formula.name}, {product.name}"),
                _order(min(n.component.add_order for n, _, _ in mine), classes),
                names,
                "; ".join(dict.fromkeys(n.component.note for n, _, _ in mine if n.component.note.startswith(SAID_AS))),
                changes + doubts + additive_cautions(product),
                tuple(others.values()),
                counts=True,
            )
        )
    return portions


def _amounts(
    needs: Sequence[Need],
    picks: Sequence[Candidate],
    products: Sequence[Product],
    contents: Sequence[Sequence[Brings]],
) -> list[float]:
    """Amounts (mL or g) of the products that meet the needs, none negative."""
    if not needs:
        return []
    import numpy as np

    matrix = np.zeros((len(needs), len(products)))
    for i, need in enumerate(needs):
        for j, brings in enumerate(contents):
            matrix[i, j] = sum(
                b.active_per_unit if need.substance.active else b.moles_per_unit for b in brings if answers(need, b)
            )
    wanted = np.array([n.active_moles for n in needs])
    # One equation per product: the first component it was chosen for.
    rows = [next(i for i, c in enumerate(picks) if c.product.key == p.key) for p in products]
    live = list(range(len(products)))
    amounts = np.zeros(len(products))
    while live:
        block = matrix[np.ix_([rows[j] for j in live], live)]
        amounts[:] = 0
        amounts[live] = np.linalg.solve(block, wanted[[rows[j] for j in live]])
        # What other products already bring in full needs no bottle of its own.
        over = [j for j in live if amounts[j] <= 1e-12]
        if not over:
            break
        live = [j for j in live if j not in over]
    return [float(a) for a in amounts]


def taken_of(line: Dilution, volume_ml: float, *, where: str) -> float:
    """What a bath takes of a concentrate, mL of a liquid or g of a powder.

    Parameters
    ----------
    volume_ml : float
        Of the finished bath.
    where : str
        The formula, for the error.

    Raises
    ------
    InputError
        For a strength that does not say so.
    """
    strength = line.parsed
    if strength.unit == "1+n":
        return concentrate_ml(strength.value, volume_ml)
    if strength.unit in ("mL/L", "g/L"):
        return strength.value * volume_ml / 1000
    raise InputError(
        f"{strength.text} does not say how much {line.product_role.replace('_', ' ')} to take",
        where=where,
        remedy="write 1+n or mL/L",
    )


def _dilution_portion(
    line: Dilution,
    product: Product,
    volume_ml: float,
    tools: Sequence[Tool],
    formula: Formula,
    options: Sequence[Product],
) -> ProductPortion:
    strength, amount = line.parsed, taken_of(line, volume_ml, where=formula.name)
    where = f"{formula.name}, {product.name}"
    if not amount > 0:
        raise InputError(f"{strength.text} takes none of it", where=where, remedy="give a dilution above zero")
    brings = contents_of(product)
    reading = strength.reading or (
        f"{strength.text}: one part and {strength.value:g} parts" if strength.unit == "1+n" else ""
    )
    return ProductPortion(
        product,
        brings,
        amount,
        measure(amount, product.form, tools, where=where),
        _order(0, {"sulfite"}),
        (line.product_role.replace("_", " "),),
        reading,
        _other_role(line, product) + tuple(x for b in brings for x in b.cautions) + additive_cautions(product),
        tuple(p.name for p in options if p.key != product.key),
        counts=False,
    )


def _other_role(line: Dilution, product: Product) -> tuple[Caution, ...]:
    if line.product_role in product.roles:
        return ()
    asked, used = line.product_role.replace("_", " "), product.roles[0].replace("_", " ")
    text = f"{product.name} is used as {used}, and here stands for a {asked}: the dilution is that of the formula, the time its own."
    return (Caution("mix.substitution", text, Level.CAUTION),)


# What must come after the rest whatever a formula's own order says: acid after permanganate and dichromate are wholly
# dissolved, peroxide after its acid, dithionite into a bath that is alkaline already, ammonia at the very end.
_LATE = (("ammonia", 4), ("dithionite", 3), ("peroxide", 2), ("acid_strong", 1))


def _order(add_order: int, classes: set[str]) -> tuple[int, int, int]:
    rank = max((value for name, value in _CLASS_ORDER if name in classes), default=_CLASS_ORDER_OF_OTHERS)
    late = max((value for name, value in _LATE if name in classes), default=0)
    return (late, add_order, rank)


def water_to_add(formula: Formula, volume_ml: float, portions: list[ProductPortion]) -> float:
    liquids = sum(p.measured.amount for p in portions if p.product.form == "liquid")
    solids = sum(p.measured.amount for p in portions if p.product.form == "solid")
    water = volume_ml - liquids - solids * number("mix.solid_displacement")
    if water >= -1e-9:
        return max(water, 0.0)
    largest = max(portions, key=lambda p: p.measured.amount)
    unit = "mL" if largest.product.form == "liquid" else "g"
    solids_words = f" and {solids:.4g} g of powder" if solids else ""
    raise InputError(
        f"it does not fit: {liquids:.4g} mL of products{solids_words} for {volume_ml:g} mL of bath; "
        f"{largest.product.name} alone takes {largest.measured.amount:.4g} {unit}",
        where=formula.name,
        remedy=f"use a stronger product than {largest.product.name}, or ask for a weaker bath",
    )
