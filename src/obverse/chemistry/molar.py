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
