"""Bottles that are past their date, or hold less than is asked of them: one place says it, for shelf, sheet and plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from obverse.foundation import Caution, Level
from obverse.process import Bottle, Product

# A syringe leaves this much behind; what differs by less is not told.
UNTOLD_SHARE = 0.005


def bottle_told(bottle: Bottle, today: date) -> tuple[Caution, ...]:
    """What is to be told of a bottle as it stands."""
    told = []
    if bottle.expires_on is not None and bottle.expires_on < today:
        told.append(
            Caution(
                "bottle.past_date",
                f"{bottle.name} is past its date, {day_words(bottle.expires_on)}. Try it on a clip of film before a film.",
                Level.CAUTION,
                bottle.name,
            )
        )
    if bottle.amount == 0:
        told.append(Caution("bottle.empty", f"{bottle.name} is written down as empty.", Level.CAUTION, bottle.name))
    return tuple(told)


def stock_told(
    asked: Mapping[str, float], products: Mapping[str, Product], bottles: Iterable[Bottle], today: date
) -> tuple[Caution, ...]:
    """Whether the bottles hold what is asked of them.

    Parameters
    ----------
    asked : mapping of str to float
        By key of the product: mL of a liquid, g of a solid, of all baths together.
    products : mapping
        The person's products by key; of others nothing is known.
    bottles : iterable of Bottle
        Those on the shelf.
    """
    told = []
    standing = tuple(bottles)
    for key, amount in asked.items():
        product = products.get(key)
        own = [bottle for bottle in standing if bottle.product == key]
        if product is None or not own:
            continue
        unit = "mL" if product.form == "liquid" else "g"
        told += [caution for bottle in own if bottle.amount != 0 for caution in bottle_told(bottle, today)]
        # A bottle whose contents nobody measured may hold enough.
        if any(bottle.amount is None for bottle in own):
            continue
        left = sum(bottle.amount or 0.0 for bottle in own)
        if left < amount * (1 - UNTOLD_SHARE):
            text = (
                f"{amount:.3g} {unit} of {product.name} are asked, {left:.3g} {unit} are left of it."
                if left
                else f"{amount:.3g} {unit} of {product.name} are asked, and its bottle is written down as empty."
            )
            told.append(Caution("bottle.short", text, Level.CAUTION, product.name))
    return tuple(told)


def day_words(day: date) -> str:
    """A date as it is read aloud."""
    return f"{day.day} {day:%B %Y}"
