"""What can be made of a shelf, what is missing, and the least that must be bought."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from obverse.foundation import InputError
from obverse.mixing.choose import need_of, serves
from obverse.mixing.mixer import mix, refusal
from obverse.mixing.portions import taken_of
from obverse.mixing.sheet import MixSheet
from obverse.mixing.sources import candidates
from obverse.process import USUAL_TOOLS, Component, Formula, Product, Tool
from obverse.process.catalog import substance as known_substance

MOST_BASKETS = 60


@dataclass(frozen=True, slots=True)
class Reach:
    """Whether one bath can be mixed from a shelf.

    Parameters
    ----------
    sheet : MixSheet or None
        How, where it can.
    reason : str
        Why not, in one sentence; empty where it can.
    lacks : tuple of str
        Keys of the substances and dilution roles that no product on the shelf brings.
    """

    formula: Formula
    sheet: MixSheet | None
    reason: str
    lacks: tuple[str, ...]


def reach(
    formula: Formula, volume_ml: float, products: Sequence[Product], tools: Sequence[Tool] = USUAL_TOOLS
) -> Reach:
    """Try to mix, and say what is missing if it cannot be done.

    Parameters
    ----------
    formula : Formula
        By active substances.
    volume_ml : float
        Of the bath, mL.
    products : sequence of Product
        The bottles at hand.
    tools : sequence of Tool, optional
        What measures; the usual three where absent.

    Returns
    -------
    Reach
        The sheet, or what is missing.
    """
    shelf = tuple(products)
    try:
        return Reach(formula, mix(formula, volume_ml, shelf, tools), "", ())
    except InputError as error:
        return Reach(formula, None, error.sentence, _lacks(formula, shelf))


def _lacks(formula: Formula, shelf: tuple[Product, ...]) -> tuple[str, ...]:
    lacks = tuple(c.substance for c in formula.components if not _usable(c, shelf))
    return lacks + tuple(d.product_role for d in formula.dilutions if not any(serves(d.product_role, p) for p in shelf))


@dataclass(frozen=True, slots=True)
class Lack:
    """What a bath takes and no product on the shelf brings.

    Parameters
    ----------
    key : str
        Of the substance; or what the concentrate is used as.
    substance : str
        Its name; empty for a concentrate.
    amount : float
        g of a substance, mL of a concentrate.
    barred : tuple of str
        Names of products that bring it, and do not do what it is here for.
    """

    key: str
    substance: str
    amount: float
    barred: tuple[str, ...] = ()


def lacking(formula: Formula, volume_ml: float, products: Sequence[Product]) -> tuple[Lack, ...]:
    """Every line of a bath that no product on the shelf brings, with how much of it is needed.

    Parameters
    ----------
    formula : Formula
        By active substances.
    volume_ml : float
        Of the bath, mL.
    products : sequence of Product
        The bottles at hand.

    Raises
    ------
    InputError
        If a line says no amount.
    """
    shelf, found = tuple(products), []
    for component in formula.components:
        # What only came along with another product is done without.
        if component.beside or _usable(component, shelf):
            continue
        need = need_of(component, volume_ml, formula)
        barred = candidates(need.substance, shelf) if component.acid_must else ()
        grams = need.g_per_l * volume_ml / 1000
        found.append(Lack(need.substance.key, need.substance.name, grams, tuple(c.product.name for c in barred)))
    for line in formula.dilutions:
        if not any(serves(line.product_role, product) for product in shelf):
            found.append(Lack(line.product_role, "", taken_of(line, volume_ml, where=formula.name)))
    return tuple(found)


def brings_it(lack: Lack, formula: Formula, products: Sequence[Product]) -> tuple[Product, ...]:
    """Which of these products would bring what a bath lacks, the best first.

    Parameters
    ----------
    lack : Lack
        One line of the formula.
    products : sequence of Product
        Such as the generic ones of the shops.
    """
    if not lack.substance:
        return tuple(product for product in products if lack.key in product.roles)
    must = next((c.acid_must for c in formula.components if c.substance == lack.key), ())
    return tuple(c.product for c in candidates(known_substance(lack.key), tuple(products), must))


def _usable(component: Component, shelf: tuple[Product, ...]) -> bool:
    try:
        return bool(candidates(known_substance(component.substance), shelf, component.acid_must))
    except InputError:
        return False


def least_purchase(
    formulas: Sequence[Formula],
    volume_ml: float,
    products: Sequence[Product],
    market: Sequence[Product],
    tools: Sequence[Tool] = USUAL_TOOLS,
) -> tuple[Product, ...] | None:
    """The fewest products of the market that make all these formulas mixable.

    One product per missing kind of substance; of several the nearest and gentlest that fits.

    Parameters
    ----------
    formulas : sequence of Formula
        By active substances.
    volume_ml : float
        Of the bath, mL.
    products : sequence of Product
        What stands on the shelf.
    market : sequence of Product
        What could be bought.
    tools : sequence of Tool, optional
        What measures; the usual three where absent.

    Returns
    -------
    tuple of Product or None
        Empty where nothing is missing; None where no purchase opens them.
    """
    shelf = tuple(products)
    wanted: dict[str, list[Product]] = {}
    closed: list[Formula] = []
    for formula in formulas:
        if refusal(formula, volume_ml, shelf, tools) is None:
            continue
        closed.append(formula)
        # Everything present but too weak or too fine to measure: any line of it may be bought better.
        missing = _lacks(formula, shelf) or tuple(c.substance for c in formula.components)
        for key in missing:
            name, offers = _offers(key, formula, market)
            wanted.setdefault(name, offers)
    if not wanted:
        return ()
    shelves = list(wanted.values())
    if any(not offers for offers in shelves):
        return None
    baskets = sorted(itertools.islice(itertools.product(*shelves), MOST_BASKETS), key=lambda b: len({p.key for p in b}))
    for basket in baskets:
        bought = tuple({p.key: p for p in basket}.values())
        if _opens(closed, volume_ml, shelf + bought, tools):
            return _without_needless(bought, closed, volume_ml, shelf, tools)
    return None


def _opens(formulas: Sequence[Formula], volume_ml: float, products: tuple[Product, ...], tools: Sequence[Tool]) -> bool:
    return all(refusal(formula, volume_ml, products, tools) is None for formula in formulas)


def _offers(key: str, formula: Formula, market: Sequence[Product]) -> tuple[str, list[Product]]:
    if any(key == d.product_role for d in formula.dilutions):
        return key, [p for p in market if key in p.roles]
    substance = known_substance(key)
    must = next((c.acid_must for c in formula.components if c.substance == key), ())
    found = [c.product for c in candidates(substance, tuple(market), must)]
    # Nobody is sent to buy a product with a thickener or undeclared contents while a clean one is sold.
    return " ".join((substance.active or key, *must)), [p for p in found if not p.additives] or found


def _without_needless(
    bought: Sequence[Product],
    formulas: Sequence[Formula],
    volume_ml: float,
    shelf: tuple[Product, ...],
    tools: Sequence[Tool],
) -> tuple[Product, ...]:
    kept = list(bought)
    for product in bought:
        trial = [p for p in kept if p is not product]
        if _opens(formulas, volume_ml, shelf + tuple(trial), tools):
            kept = trial
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class Cost:
    """What a bath costs, in the person's own currency.

    Parameters
    ----------
    known : float
        Sum over the products that carry a price.
    unpriced : tuple of str
        Names of those that carry none.
    """

    known: float
    unpriced: tuple[str, ...]


def cost_of(sheet: MixSheet, products: Sequence[Product]) -> Cost:
    """Price of what a mix sheet takes.

    Parameters
    ----------
    sheet : MixSheet
        A mixed bath.
    products : sequence of Product
        The bottles at hand.

    Returns
    -------
    Cost
        With what has no price named.
    """
    by_key = {p.key: p for p in products}
    known, unpriced = 0.0, []
    for key, amount in sheet.amounts.items():
        product = by_key[key]
        if product.package_price is None or product.package_amount is None:
            unpriced.append(product.name)
        else:
            known += product.package_price * amount / product.package_amount
    return Cost(known, tuple(unpriced))
