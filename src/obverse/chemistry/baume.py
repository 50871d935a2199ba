"""Degrees Baume to specific gravity (US formulas, 60 F / 60 F).

Source: the records ``baume.*`` of the reference (looked up).
"""

from __future__ import annotations

from typing import Literal

from obverse.foundation import InputError
from obverse.reference import number

Scale = Literal["heavy", "light"]

# The moduli of the two US scales (records ``baume.heavy.to_sg``, ``baume.light.to_sg``).
HEAVY_MODULUS = 145.0
LIGHT_MODULUS, LIGHT_OFFSET = 140.0, 130.0


def specific_gravity(degrees: float, scale: Scale = "heavy") -> float:
    """Specific gravity 60 F / 60 F of a liquid of that many degrees Baume.

    Raises
    ------
    InputError
        Where the scale has no such liquid.
    """
    if scale == "heavy":
        if not 0 <= degrees < 100:
            raise InputError(
                f"{degrees:g} degrees Baume (heavier than water) cannot be", remedy="give a number from 0 to 72"
            )
        return HEAVY_MODULUS / (HEAVY_MODULUS - degrees)
    if not 10 <= degrees <= 100:
        raise InputError(
            f"{degrees:g} degrees Baume (lighter than water) cannot be", remedy="give a number from 10 to 70"
        )
    return LIGHT_MODULUS / (LIGHT_OFFSET + degrees)


def density_of_gravity(gravity: float) -> float:
    """Density in g/mL at 60 F of a specific gravity 60 F / 60 F."""
    return gravity * number("density.water.60F") / 1000
