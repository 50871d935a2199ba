"""Chemistry of the bench: strengths, densities, dilution, acidity, equilibria. Pure functions.

One file per family of relations; each number they rest on is a record of `obverse.reference`.
"""

from obverse.chemistry.concentration import Concentration, concentration_g_per_l, mass_fraction_of_strength
from obverse.chemistry.dilution import alligation, concentrate_ml, stock_ml
from obverse.chemistry.molar import equivalent_mass_factor, molar_mass_g_per_mol
from obverse.chemistry.rinse import concentration_after_fills, fills_needed
from obverse.chemistry.strength import Strength, parse_strength

__all__ = [
    "Concentration",
    "Strength",
    "alligation",
    "concentrate_ml",
    "concentration_after_fills",
    "concentration_g_per_l",
    "equivalent_mass_factor",
    "fills_needed",
    "mass_fraction_of_strength",
    "molar_mass_g_per_mol",
    "parse_strength",
    "stock_ml",
]
