"""Chemistry of the bench: strengths, densities, dilution, acidity, equilibria. Pure functions.

One file per family of relations; each number they rest on is a record of `obverse.reference`.
"""

from obverse.chemistry.acidity import charge_curve, ph_of
from obverse.chemistry.baume import HEAVY_MODULUS, LIGHT_MODULUS, LIGHT_OFFSET
from obverse.chemistry.capacity import (
    Capacity,
    Range,
    ammonia_capacity,
    bleach_capacity,
    fixer_capacity_rolls_per_l,
    rolls_in_practice,
    silver_per_roll_g,
)
from obverse.chemistry.concentration import Concentration, concentration_g_per_l, mass_fraction_of_strength
from obverse.chemistry.density import solution_density
from obverse.chemistry.dilution import concentrate_ml
from obverse.chemistry.heat import (
    HEAT_CAPACITY_KJ_PER_G_K,
    WATER_G_PER_MOL,
    dilution_heat_kj,
    solubility_g_per_l,
)
from obverse.chemistry.molar import molar_mass_g_per_mol
from obverse.chemistry.redox import (
    BLEACHES,
    mass_ratio,
    permanganate_lost_to_chloride_g,
    permanganate_lost_to_sulfite_g,
)
from obverse.chemistry.rinse import concentration_after_fills
from obverse.chemistry.silver import saturate
from obverse.chemistry.strength import BARE, MOST_OF_A_UNIT, NOT_SAID, Strength, parse_strength
from obverse.chemistry.vapour import GAS_J_PER_MOL_K, KELVIN, ammonia_pressure_pa, open_bottle_factor

__all__ = [
    "BARE",
    "BLEACHES",
    "GAS_J_PER_MOL_K",
    "HEAT_CAPACITY_KJ_PER_G_K",
    "HEAVY_MODULUS",
    "KELVIN",
    "LIGHT_MODULUS",
    "LIGHT_OFFSET",
    "MOST_OF_A_UNIT",
    "NOT_SAID",
    "WATER_G_PER_MOL",
    "Capacity",
    "Concentration",
    "Range",
    "Strength",
    "ammonia_capacity",
    "ammonia_pressure_pa",
    "bleach_capacity",
    "charge_curve",
    "concentrate_ml",
    "concentration_after_fills",
    "concentration_g_per_l",
    "dilution_heat_kj",
    "fixer_capacity_rolls_per_l",
    "mass_fraction_of_strength",
    "mass_ratio",
    "molar_mass_g_per_mol",
    "open_bottle_factor",
    "parse_strength",
    "permanganate_lost_to_chloride_g",
    "permanganate_lost_to_sulfite_g",
    "ph_of",
    "rolls_in_practice",
    "saturate",
    "silver_per_roll_g",
    "solubility_g_per_l",
    "solution_density",
]
