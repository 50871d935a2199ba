"""Molar masses and what follows from them alone: hydrates, equivalents, ratios of a reaction."""

from __future__ import annotations

from obverse.reference import number


def molar_mass_g_per_mol(key: str) -> float:
    """Molar mass in g/mol.

    Parameters
    ----------
    key : str
        A reference key with or without its prefix, such as ``"mm.ammonia"`` or ``"ammonia"``.

    Returns
    -------
    float
        g/mol.

    Raises
    ------
    KeyError
        If no record of that key exists.
    """
    return number(key if key.startswith("mm.") else f"mm.{key}")


def equivalent_mass_factor(wanted_key: str, given_key: str, moles_of_given_per_wanted: float = 1.0) -> float:
    """Grams of the given substance that stand for one gram of the wanted one.

    For a hydrate the two hold the same ion and the mole ratio is 1: sodium carbonate decahydrate
    for the anhydrous salt gives 2.70.

    Parameters
    ----------
    wanted_key : str
        Molar mass key of the substance the formula names.
    given_key : str
        Of the substance at hand.
    moles_of_given_per_wanted : float, optional
        How many moles of it do what one mole of the wanted does.

    Returns
    -------
    float
        g/g.
    """
    return moles_of_given_per_wanted * molar_mass_g_per_mol(given_key) / molar_mass_g_per_mol(wanted_key)
