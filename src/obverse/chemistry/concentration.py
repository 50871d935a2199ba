"""From the strength a label prints to grams per litre."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from obverse.chemistry.density import Density, mass_fraction_of_baume, solution_density
from obverse.chemistry.molar import molar_mass_g_per_mol
from obverse.chemistry.strength import Strength, parse_strength
from obverse.foundation import Caution, Estimate, InputError
from obverse.reference import number

# Doubt of the density of pure acetic acid: the record is of 99.8 % w/w.
PURE_ACETIC_RELATIVE_SD = 0.003


class HasMolarMass(Protocol):
    """A substance as this floor sees it: a key and the key of its molar mass."""

    @property
    def key(self) -> str: ...

    @property
    def molar_mass_key(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Concentration:
    """Grams of substance per litre of solution, with the doubt and the words that belong to it.

    Parameters
    ----------
    estimate : Estimate
        g/L.
    density_g_per_ml : float or None
        Where it was needed or given.
    how : str
        The conversion in words, for the screen.
    """

    estimate: Estimate
    density_g_per_ml: float | None
    how: str
    cautions: tuple[Caution, ...] = ()

    @property
    def value(self) -> float:
        """g/L."""
        return self.estimate.value

    @property
    def sd(self) -> float:
        """Standard uncertainty in g/L."""
        return self.estimate.sd


def concentration_g_per_l(
    strength: Strength | str,
    substance: HasMolarMass,
    density_g_per_ml: float | None = None,
    *,
    relative_sd: float = 0.0,
) -> Concentration:
    """Concentration of a liquid in g/L from the strength its label prints.

    Parameters
    ----------
    strength : Strength or str
        Such as ``"60 % w/v"`` or ``"42 Be"``.
    substance
        Anything with `key` and `molar_mass_key`.
    density_g_per_ml : float, optional
        Of the solution, from its label; else the published table is used.
    relative_sd : float
        Standard uncertainty of the printed strength, as a fraction.

    Returns
    -------
    Concentration
        g/L with its standard uncertainty and the conversion in words.

    Raises
    ------
    InputError
        Where the strength is no concentration (1+n) or the density is needed and unknown.
    """
    if isinstance(strength, str):
        strength = parse_strength(strength)
    name = substance.key.replace("_", " ")
    unit, value = strength.unit, strength.value
    if unit == "g/L":
        return _result(value, relative_sd, 0.0, density_g_per_ml, f"{value:g} g/L as printed")
    if unit == "% w/v":
        return _result(10 * value, relative_sd, 0.0, density_g_per_ml, f"{value:g} g in 100 mL")
    if unit == "mol/L":
        mass = molar_mass_g_per_mol(substance.molar_mass_key)
        return _result(value * mass, relative_sd, 0.0, density_g_per_ml, f"{value:g} mol/L x {mass:.3f} g/mol")
    if unit in ("% v/v", "mL/L"):
        fraction = value / (100 if unit == "% v/v" else 1000)
        if substance.key != "acetic_acid":
            raise InputError(
                f"{strength.text} of {name} does not say how strong that liquid is",
                where="strength",
                remedy="write % w/w, % w/v, g/L or mol/L",
            )
        pure = number("density.acetic.99.8pct")
        return _result(
            fraction * pure,
            relative_sd,
            PURE_ACETIC_RELATIVE_SD,
            None,
            f"{value:g} {unit} of pure liquid, {pure / 1000:.4f} g/mL",
        )
    if unit == "1+n":
        raise InputError(
            f"{strength.text} says how to dilute {name}, not how strong it is",
            where="strength",
            remedy="give the strength of the concentrate and use 1+n in the formula",
        )
    mass_fraction = mass_fraction_of_strength(strength, substance.key)
    if unit == "pure" and density_g_per_ml is None:
        raise InputError(
            f"pure {name} has no volume strength without its density",
            where="density",
            remedy="enter its density in g/mL",
        )
    density = (
        Density(density_g_per_ml, 0.0, "label")
        if density_g_per_ml
        else solution_density(substance.key, mass_fraction.value)
    )
    doubt = mass_fraction.sd / mass_fraction.value if mass_fraction.value else 0.0
    return _result(
        1000 * mass_fraction.value * density.g_per_ml,
        math.hypot(relative_sd, doubt),
        density.sd / density.g_per_ml,
        density.g_per_ml,
        f"{100 * mass_fraction.value:.4g} % w/w x {density.g_per_ml:.3f} g/mL",
        density.cautions,
    )


def mass_fraction_of_strength(strength: Strength, substance_key: str) -> Estimate:
    """Mass fraction (0 to 1) where the strength is one by mass: % w/w, degrees Baume, pure.

    Parameters
    ----------
    strength : Strength
        A parsed strength by mass.
    substance_key : str
        Key of the dissolved substance.

    Returns
    -------
    Estimate
        0 to 1.

    Raises
    ------
    InputError
        For any other unit.
    """
    if strength.unit == "% w/w":
        return Estimate(strength.value / 100, 0.0)
    if strength.unit == "pure":
        return Estimate(1.0, 0.0)
    if strength.unit == "Be":
        return mass_fraction_of_baume(substance_key, strength.value)
    raise InputError(f"{strength.text} is not a fraction by mass", where="strength", remedy="write % w/w")


def _result(
    value: float,
    relative_sd: float,
    density_relative_sd: float,
    density: float | None,
    how: str,
    cautions: Iterable[Caution] = (),
) -> Concentration:
    return Concentration(
        Estimate(value, value * math.hypot(relative_sd, density_relative_sd)), density, how, tuple(cautions)
    )
