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


def _not_negative(**numbers: float) -> None:
    for name, value in numbers.items():
        if not value >= 0:
            raise InputError(f"{name.replace('_', ' ')} cannot be {value:g}", remedy="give zero or more")
