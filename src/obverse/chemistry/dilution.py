"""Dilution arithmetic."""

from __future__ import annotations

from obverse.foundation import InputError


def concentrate_ml(parts_water: float, final_ml: float) -> float:
    """Millilitres of concentrate in `final_ml` of a 1+n dilution: one part in 1 + n.

    Parameters
    ----------
    parts_water : float
        n of 1+n.
    final_ml : float
        Volume to be made, mL.

    Returns
    -------
    float
        mL.
    """
    _not_negative(parts_water=parts_water, final_ml=final_ml)
    return final_ml / (1 + parts_water)


def stock_ml(stock_strength: float, wanted_strength: float, final_ml: float) -> float:
    """Volume of a stock that brings `final_ml` to the wanted strength (same unit of strength): V1 = C2 V2 / C1.

    Parameters
    ----------
    stock_strength : float
        Any unit of strength.
    wanted_strength : float
        In the same unit, not above that of the stock.
    final_ml : float
        Volume to be made, mL.

    Returns
    -------
    float
        mL.

    Raises
    ------
    InputError
        If the stock is weaker than what is wanted.
    """
    _not_negative(wanted_strength=wanted_strength, final_ml=final_ml)
    if not stock_strength > 0:
        raise InputError(f"a stock of strength {stock_strength:g} cannot be diluted", remedy="give a positive strength")
    if wanted_strength > stock_strength:
        raise InputError(
            f"the stock ({stock_strength:g}) is weaker than what is wanted ({wanted_strength:g})",
            remedy="use a stronger stock or a weaker bath",
        )
    return wanted_strength * final_ml / stock_strength


def alligation(high: float, low: float, target: float) -> tuple[float, float]:
    """Parts of the high and of the low strength that make the target (mass fractions; the mixing cross).

    Parameters
    ----------
    high : float
        Strength of the stronger, as a mass fraction.
    low : float
        Of the weaker.
    target : float
        Wanted, between the two.

    Returns
    -------
    tuple of float
        Parts of `high` and of `low`, by mass.
    """
    if not low <= target <= high or high == low:
        raise InputError(
            f"{target:g} does not lie between {low:g} and {high:g}", remedy="choose a strength between the two"
        )
    return target - low, high - target


def _not_negative(**numbers: float) -> None:
    for name, value in numbers.items():
        if not value >= 0:
            raise InputError(f"{name.replace('_', ' ')} cannot be {value:g}", remedy="give zero or more")
