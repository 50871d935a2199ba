"""Ammonia above its solutions, and the strength that an open bottle loses.

Henry's law holds well to about 5 % w/w and is far too low above 10 % (records ``henry.nh3``,
``pNH3.*``); a caution says so.
"""

from __future__ import annotations

import math

from obverse.foundation import Z90, Caution, Estimate, InputError
from obverse.reference import number, record

# The gas constant and the zero of the Celsius scale, both exact in the SI of 2019.
GAS_J_PER_MOL_K = 8.314462618
KELVIN = 273.15
# Where tables of equilibria are quoted.
TABLE_TEMPERATURE_C = 25.0
# A room where nothing else is said.
ROOM_C = 20.0


def henry_ammonia_mol_per_m3_pa(temperature_c: float) -> float:
    """Henry solubility of NH3 at this temperature (van 't Hoff from 25 C)."""
    known = record("henry.nh3")
    slope = float(known.inputs["dlnH/d(1/T)_K"])
    return known.number * math.exp(slope * (1 / (temperature_c + KELVIN) - 1 / (TABLE_TEMPERATURE_C + KELVIN)))


def ammonia_pressure_pa(
    concentration_mol_per_l: float, temperature_c: float = ROOM_C
) -> tuple[float, tuple[Caution, ...]]:
    """Partial pressure of NH3 above a solution, in Pa, by Henry's law.

    Parameters
    ----------
    concentration_mol_per_l : float
        Of the solution, mol/L.
    temperature_c : float, optional
        Degrees Celsius.

    Returns
    -------
    float, tuple of Caution
        Pa, and what must be told of the figure.
    """
    if not concentration_mol_per_l >= 0:
        raise InputError(f"ammonia of {concentration_mol_per_l:g} mol/L cannot be", remedy="give zero or more")
    pressure = 1000 * concentration_mol_per_l / henry_ammonia_mol_per_m3_pa(temperature_c)
    if concentration_mol_per_l <= number("conc.nh3.10pct"):
        return pressure, ()
    return pressure, (
        Caution(
            "vapour.henry",
            "Above about 10 % w/w the true ammonia pressure is several times this figure.",
            source="pNH3.29.4pct.20C",
        ),
    )


def open_bottle_factor(
    hours: float, *, volume_ml: float, opening_cm2: float | None = None, temperature_c: float = ROOM_C
) -> Estimate:
    """Share of its ammonia that a bottle still holds after standing without its cap.

    Parameters
    ----------
    hours : float
        In all.
    volume_ml : float
        Of the liquid.
    opening_cm2 : float, optional
        Of the neck; of the surface for a tray. Default: the record ``vapour.bottle_opening``.

    Returns
    -------
    Estimate
        Exponential loss with a gas-side transfer coefficient that is known only to its order of
        magnitude (record ``vapour.transfer``); the 90 % interval carries that.

    Raises
    ------
    InputError
        For a negative time or an empty bottle.
    """
    opening_cm2 = number("vapour.bottle_opening") if opening_cm2 is None else opening_cm2
    if not hours >= 0 or not volume_ml > 0 or not opening_cm2 > 0:
        raise InputError(
            "an open bottle needs a positive volume and opening, and no negative time", remedy="correct the numbers"
        )
    known = record("vapour.transfer")
    spread = known.factor
    # Rate constant: k A / (H R T V), with the air above free of ammonia.
    hrt = henry_ammonia_mol_per_m3_pa(temperature_c) * GAS_J_PER_MOL_K * (temperature_c + KELVIN)
    rate_per_h = 3600 * known.number * opening_cm2 * 1e-4 / (hrt * volume_ml * 1e-6)
    low, value, high = (math.exp(-rate_per_h * hours * factor) for factor in (spread, 1.0, 1 / spread))
    return Estimate(value, (high - low) / (2 * Z90), low, high)
