"""Degrees Baume to specific gravity and back (US formulas, 60 F / 60 F).

Source: the records ``baume.*`` of the reference (looked up).
"""

from __future__ import annotations

from typing import Literal

from obverse.foundation import InputError
from obverse.reference import number

Scale = Literal["heavy", "light"]


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
        return 145.0 / (145.0 - degrees)
    if not 10 <= degrees <= 100:
        raise InputError(
            f"{degrees:g} degrees Baume (lighter than water) cannot be", remedy="give a number from 10 to 70"
        )
    return 140.0 / (130.0 + degrees)


def density_of_gravity(gravity: float) -> float:
    """Density in g/mL at 60 F of a specific gravity 60 F / 60 F."""
    return gravity * number("density.water.60F") / 1000


def degrees_baume(gravity: float, scale: Scale = "heavy") -> float:
    """The inverse: degrees Baume of a specific gravity 60 F / 60 F."""
    if not gravity > 0:
        raise InputError(f"a specific gravity of {gravity:g} cannot be", remedy="give a positive number")
    return 145.0 - 145.0 / gravity if scale == "heavy" else 140.0 / gravity - 130.0
