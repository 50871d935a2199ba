"""Heat and limits of dissolving: what a salt or an acid warms, and how much of it water takes.

The numbers are the records ``heat_of_solution.*`` and ``solubility.*``; most are from memory and say so.
"""

from __future__ import annotations

from obverse.reference import records

# Water and thin solutions; what is dissolved lowers it a little.
HEAT_CAPACITY_KJ_PER_G_K = 0.0038
WATER_G_PER_MOL = 18.015


def heat_of_solution_kj_per_mol(substance: str) -> float | None:
    """Heat set free when a mole of the pure substance goes into much water, in kJ; negative where it cools.

    None where no record is held.
    """
    known = records().get(f"heat_of_solution.{substance}")
    return None if known is None else known.number


# Heat of diluting sulfuric acid by Thomsen (from memory): kJ/mol at endless dilution, and the water at its half.
THOMSEN_KJ_PER_MOL, THOMSEN_SHARE = 74.7, 1.7983
# Of other substances the half of the heat is taken to be given off to so much water (our judgement).
LIKE_FORM = 1.5


def solubility_g_per_l(substance: str) -> float | None:
    """Grams of the substance, as it is named, that a litre of water takes at 20 C.

    Parameters
    ----------
    substance : str
        Key of the substance.

    Returns
    -------
    float or None
        g/L; None where no record is held.
    """
    known = records().get(f"solubility.{substance}")
    return None if known is None else known.number


def dilution_heat_kj(substance: str, moles: float, water_before_mol: float, water_after_mol: float) -> float:
    """Heat of bringing a substance from so much water into more.

    Parameters
    ----------
    moles : float
        Of the substance.
    water_before_mol, water_after_mol : float
        Water it is in; 0 for the pure substance.

    Returns
    -------
    float
        kJ; of sulfuric acid by Thomsen's formula (from memory), of others as a share of the heat of solution that
        follows the same form; 0 where no heat is held.
    """
    if not moles > 0:
        return 0.0
    if substance == "sulfuric_acid":
        return (
            moles
            * (_share(water_after_mol / moles, THOMSEN_SHARE) - _share(water_before_mol / moles, THOMSEN_SHARE))
            * THOMSEN_KJ_PER_MOL
        )
    heat = heat_of_solution_kj_per_mol(substance)
    if heat is None:
        return 0.0
    return (
        moles
        * heat
        * max(0.0, _share(water_after_mol / moles, LIKE_FORM) - _share(water_before_mol / moles, LIKE_FORM))
    )


def _share(water_per_mole: float, half_at: float) -> float:
    return water_per_mole / (water_per_mole + half_at)
