"""From the strength a label prints to grams per litre."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from obverse.chemistry.density import Density, mass_fraction_of_baume, solution_density
from obverse.chemistry.molar import molar_mass_g_per_mol
from obverse.chemistry.strength import BARE, NOT_SAID, Strength, parse_strength
from obverse.foundation import ML_PER_L, Z90, Caution, Estimate, InputError, Interval, Level, figures
from obverse.reference import number, record

# Doubt of the density of pure acetic acid: the record is of 99.8 % w/w.
PURE_ACETIC_RELATIVE_SD = 0.003
# No litre of anything in a darkroom weighs more.
HEAVIEST_G_PER_L = 2000.0


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

    @property
    def is_open(self) -> bool:
        """True where the label, or a density that nobody has, leaves it open within bounds."""
        return any(caution.code in ("strength.open", "density.unknown") for caution in self.cautions)


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
        Such as ``"60 % w/v"``, ``"42 Be"`` or ``"5-10 %"``.
    substance
        Anything with `key` and `molar_mass_key`.
    density_g_per_ml : float, optional
        Of the solution, from its label; else the published table is used, and where there is none, what
        solutions of that share can weigh at all.
    relative_sd : float
        Standard uncertainty of the printed strength, as a fraction.

    Returns
    -------
    Concentration
        g/L with its standard uncertainty and the conversion in words. Where the label leaves it open, the 90 %
        interval holds all that it can mean; it never reaches below zero.

    Raises
    ------
    InputError
        Where it cannot be: degrees or volumes that no solution of the substance has.
    """
    if isinstance(strength, str):
        strength = parse_strength(strength)
    if not strength.is_open and strength.unit != "1+n":
        return _of_exact(strength.value, strength, substance, density_g_per_ml, relative_sd)
    return _of_open(strength, substance, density_g_per_ml, relative_sd)


# What a label without a unit may mean. A dilution says how to use a product, not how strong it is.
_READINGS = {BARE: ("% w/v", "% w/w"), NOT_SAID: ("% w/w",), "1+n": ("% w/w",)}


def _of_open(
    strength: Strength, substance: HasMolarMass, density_g_per_ml: float | None, relative_sd: float
) -> Concentration:
    """What holds whichever way an open strength is read."""
    name = substance.key.replace("_", " ")
    ends, cautions = (strength.low, strength.value, strength.high), []
    if strength.unit == "1+n":
        ends = parse_strength(NOT_SAID).interval.low, parse_strength(NOT_SAID).value, parse_strength(NOT_SAID).high
    found: list[Interval] = []
    for unit in _READINGS.get(strength.unit, (strength.unit,)):
        made = [_of_exact(end, Strength(end, unit), substance, density_g_per_ml, 0.0) for end in ends]
        low, best, high = (m.value for m in made)
        # Degrees run backwards for what is lighter than water.
        low, high = min(low, high), max(low, high)
        spread = [m.estimate for m in made]
        found.append(
            Interval.around(min(low, *(e.low90 for e in spread)), best, max(high, *(e.high90 for e in spread)))
        )
        cautions += [c for m in made for c in m.cautions]
    joined = found[0]
    for other in found[1:]:
        joined = Interval.around(
            min(joined.low, other.low), (joined.best + other.best) / len(found), max(joined.high, other.high)
        )
    doubt = Z90 * relative_sd
    bounds = Interval.around(joined.low * (1 - doubt), joined.best, joined.high * (1 + doubt)).capped(HEAVIEST_G_PER_L)
    said = {NOT_SAID: "", "1+n": f" (what is said, {strength.text}, is how to dilute it)"}.get(
        strength.unit, f" ({strength.text})"
    )
    words = f"{figures(bounds.low)} to {figures(bounds.high)} g/L"
    text = f"The label leaves open how much {name} it holds{said}: {words} of it is reckoned with."
    cautions.append(Caution("strength.open", text, Level.NOTE))
    return Concentration(bounds.estimate(), density_g_per_ml, words, tuple(dict.fromkeys(cautions)))


def _of_exact(
    value: float, strength: Strength, substance: HasMolarMass, density_g_per_ml: float | None, relative_sd: float
) -> Concentration:
    unit = strength.unit
    if unit == "g/L":
        return _result(value, relative_sd, 0.0, density_g_per_ml, f"{value:g} g/L as printed")
    if unit == "% w/v":
        return _result(10 * value, relative_sd, 0.0, density_g_per_ml, f"{value:g} g in 100 mL")
    if unit in ("mol/L", "vol"):
        mass = molar_mass_g_per_mol(substance.molar_mass_key)
        moles, words = value, f"{value:g} mol/L"
        if unit == "vol":
            moles, words = _by_oxygen(value, substance), f"{value:g} volumes of oxygen"
        return _result(moles * mass, relative_sd, 0.0, density_g_per_ml, f"{words} x {mass:.3f} g/mol")
    if unit in ("% v/v", "mL/L"):
        fraction = value / (100 if unit == "% v/v" else 1000)
        if substance.key != "acetic_acid":
            return _guessed(1.0, fraction, relative_sd, f"{value:g} {unit} of a liquid of unknown density")
        pure = number("density.acetic.99.8pct")
        return _result(
            fraction * pure,
            relative_sd,
            PURE_ACETIC_RELATIVE_SD,
            None,
            f"{value:g} {unit} of pure liquid, {pure / 1000:.4f} g/mL",
        )
    mass_fraction = mass_fraction_of_strength(Strength(value, unit), substance.key)
    doubt = mass_fraction.sd / mass_fraction.value if mass_fraction.value else 0.0
    try:
        density = (
            Density(density_g_per_ml, 0.0, "label")
            if density_g_per_ml
            else solution_density(substance.key, mass_fraction.value)
        )
    except InputError:
        share = f"{100 * mass_fraction.value:.4g} % w/w of unknown density"
        return _guessed(mass_fraction.value, 1.0, math.hypot(relative_sd, doubt), share)
    return _result(
        1000 * mass_fraction.value * density.g_per_ml,
        math.hypot(relative_sd, doubt),
        density.sd / density.g_per_ml,
        density.g_per_ml,
        f"{100 * mass_fraction.value:.4g} % w/w x {density.g_per_ml:.3f} g/mL",
        density.cautions,
    )


def _by_oxygen(volumes: float, substance: HasMolarMass) -> float:
    """mol/L of peroxide that gives off so many times its volume of oxygen: two moles for one of O2."""
    if substance.key != "hydrogen_peroxide":
        raise InputError(
            f"{volumes:g} volumes are a strength of peroxide, not of {substance.key.replace('_', ' ')}",
            where="strength",
            remedy="write % w/w, % w/v, g/L or mol/L",
        )
    return 2 * volumes / number("strength.oxygen_volume")


def _guessed(mass_fraction: float, share: float, relative_sd: float, how: str) -> Concentration:
    """g/L of a solution nobody has the density of: from what a gram of something dissolved takes of room at all."""
    room = record("strength.specific_volume").value
    low, best, high = (
        ML_PER_L * share * mass_fraction / (1 - mass_fraction + mass_fraction * room[end])
        for end in ("high", "typical", "low")
    )
    doubt = Z90 * relative_sd
    bounds = Interval.around(low * (1 - doubt), best, high * (1 + doubt))
    told = Caution(
        "density.unknown",
        f"Its density is not known here: {figures(bounds.low)} to {figures(bounds.high)} g/L is reckoned with; weigh 100 mL of it.",
        Level.NOTE,
        source="strength.specific_volume",
    )
    return Concentration(bounds.estimate(), None, how, (told,))


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
    if strength.unit in ("% w/w", BARE):
        # A share of a powder, or of a liquid by mass: a percentage without more words is one too.
        return strength.interval.times(1 / 100).capped(1.0).estimate()
    if strength.unit in (NOT_SAID, "1+n"):
        held = record("strength.not_said_solid").value
        return Interval(held["low"], held["typical"], held["high"]).times(1 / 100).estimate()
    if strength.unit == "pure":
        return Estimate(1.0, 0.0)
    if strength.unit == "Be":
        ends = [
            mass_fraction_of_baume(substance_key, degrees) for degrees in (strength.low, strength.value, strength.high)
        ]
        if strength.low == strength.high:
            return ends[1]
        return Interval.around(min(e.low90 for e in ends), ends[1].value, max(e.high90 for e in ends)).estimate()
    raise InputError(f"{strength.text} is not a fraction by mass", where="strength", remedy="write % w/w")


def _result(
    value: float,
    relative_sd: float,
    density_relative_sd: float,
    density: float | None,
    how: str,
    cautions: Iterable[Caution] = (),
) -> Concentration:
    sd = value * math.hypot(relative_sd, density_relative_sd)
    return Concentration(Estimate(value, sd, max(0.0, value - Z90 * sd)), density, how, tuple(cautions))
