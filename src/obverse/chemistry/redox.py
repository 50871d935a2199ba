"""Stoichiometry of bleaching, clearing and fogging.

Every ratio is moles from a balanced reaction times molar masses; the reactions stand in the
records ``bleach.*``, ``clear.*``, ``consume.*`` and ``fog.*`` of the reference.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from obverse.chemistry.molar import molar_mass_g_per_mol
from obverse.foundation import InputError


@dataclass(frozen=True, slots=True)
class BleachReaction:
    """One oxidant against silver.

    Parameters
    ----------
    oxidant : str
        Molar mass key.
    silver_per_mole : float
        Ag oxidised by one mole.
    protons_per_silver : float
        H+ that each Ag needs; 0 where acid takes no part.
    """

    oxidant: str
    silver_per_mole: float
    protons_per_silver: float
    reaction: str


# 2 MnO4- to 5 SO3 2- (to sulfate).
SULFITE = 5

# Balanced reactions; the ratios follow from them (records ``bleach.*``).
BLEACHES = {
    "iron_iii": BleachReaction("ironIII_chloride_anhydrous", 1, 0, "FeCl3 + Ag -> AgCl + FeCl2"),
    "permanganate": BleachReaction("potassium_permanganate", 5, 8 / 5, "MnO4- + 8H+ + 5Ag -> Mn2+ + 5Ag+ + 4H2O"),
    "dichromate": BleachReaction("potassium_dichromate", 6, 14 / 6, "Cr2O7^2- + 14H+ + 6Ag -> 2Cr3+ + 6Ag+ + 7H2O"),
    "peroxide": BleachReaction("hydrogen_peroxide", 2, 1, "H2O2 + 2H+ + 2Ag -> 2Ag+ + 2H2O"),
    "copper_ii": BleachReaction("copperII_sulfate_pentahydrate", 1, 0, "Cu2+ + 2Cl- + Ag -> AgCl + CuCl"),
    "cerium_iv": BleachReaction("ceriumIV_sulfate_tetrahydrate", 1, 0, "Ce4+ + Ag -> Ce3+ + Ag+"),
}


def mass_ratio(reagent: str, moles_of_reagent: float, target: str, moles_of_target: float) -> float:
    """Grams of reagent per gram of target in a balanced reaction (molar mass keys).

    Parameters
    ----------
    reagent : str
        Molar mass key of what is used up.
    moles_of_reagent : float
        Of the balanced reaction.
    target : str
        Molar mass key of what it acts on.
    moles_of_target : float
        Of the same reaction.

    Returns
    -------
    float
        g/g.
    """
    return moles_of_reagent * molar_mass_g_per_mol(reagent) / (moles_of_target * molar_mass_g_per_mol(target))


def silver_by_oxidant_g_per_l(bleach: str, oxidant_mol_per_l: float) -> float:
    """Silver that the oxidant alone could take, g/L."""
    return oxidant_mol_per_l * _bleach(bleach).silver_per_mole * molar_mass_g_per_mol("silver")


def silver_by_acid_g_per_l(bleach: str, protons_mol_per_l: float) -> float:
    """Silver that the acid alone allows, g/L; infinite where acid takes no part."""
    need = _bleach(bleach).protons_per_silver
    return math.inf if need == 0 else protons_mol_per_l / need * molar_mass_g_per_mol("silver")


def permanganate_lost_to_sulfite_g(sulfite_g: float) -> float:
    """KMnO4 destroyed by carried-over sodium sulfite: 2 MnO4- to 5 SO3 2-.

    Parameters
    ----------
    sulfite_g : float
        Sodium sulfite, g.

    Returns
    -------
    float
        g of KMnO4.
    """
    return sulfite_g * mass_ratio("potassium_permanganate", 2, "sodium_sulfite_anhydrous", SULFITE)


def permanganate_lost_to_chloride_g(chloride_g: float) -> float:
    """KMnO4 that chloride could destroy at most, as sodium chloride: 2 MnO4- to 10 Cl-.

    The potentials favour it only a little (record ``emf.MnO4_chloride``) and it is slow in the
    cold; the silver turned back to chloride comes first.

    Parameters
    ----------
    chloride_g : float
        Sodium chloride, g.

    Returns
    -------
    float
        g of KMnO4, at most.
    """
    return chloride_g * mass_ratio("potassium_permanganate", 2, "sodium_chloride", 10)


def _bleach(name: str) -> BleachReaction:
    try:
        return BLEACHES[name]
    except KeyError:
        raise InputError(f"no bleach works by {name!r} here", remedy="use one of " + ", ".join(BLEACHES)) from None
