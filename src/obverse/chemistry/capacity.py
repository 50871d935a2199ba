"""How many rolls a bath can take: a range, because the silver of a film is known only to about half.

Silver per area comes from the record ``silver.default``, the share that is negative image and must
be bleached from ``negative_fraction``, and how much of the theoretical capacity is used before the
bath is too slow from ``capacity.practical_share`` (our judgement).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from obverse.chemistry.redox import silver_by_acid_g_per_l, silver_by_oxidant_g_per_l
from obverse.chemistry.silver import saturate
from obverse.foundation import InputError
from obverse.reference import number, record


@dataclass(frozen=True, slots=True)
class Range:
    """A quantity known only as low, likely and high."""

    low: float
    likely: float
    high: float

    def document(self) -> dict[str, float]:
        """The JSON shape."""
        return {"low": self.low, "likely": self.likely, "high": self.high}


@dataclass(frozen=True, slots=True)
class Capacity:
    """Capacity of a bath.

    Parameters
    ----------
    rolls_per_l : Range
        135-36 films (or what `area_m2` says) in one litre.
    theoretical_g_silver_per_l : Range
        What the chemistry alone allows.
    limited_by : str
        What runs out first at the likely figure.
    """

    rolls_per_l: Range
    theoretical_g_silver_per_l: Range
    limited_by: str


def silver_per_roll_g(area_m2: float | None = None) -> Range:
    """Coated silver of one film, g. Default area: 135-36.

    Parameters
    ----------
    area_m2 : float, optional
        Area of the film; that of 135-36 where absent.

    Returns
    -------
    Range
        g.
    """
    area = record("area.135-36").number if area_m2 is None else area_m2
    if not area > 0:
        raise InputError(f"a film of {area:g} m2 cannot be", remedy="give a positive area")
    coated = record("silver.default").value
    return Range(coated["low"] * area, coated["typical"] * area, coated["high"] * area)


def bleach_capacity(
    bleach: str,
    oxidant_mol_per_l: float,
    *,
    acid_mol_per_l: float | None = None,
) -> Capacity:
    """Capacity of a bleach.

    Parameters
    ----------
    bleach : str
        A key of `obverse.chemistry.redox.BLEACHES`.
    acid_mol_per_l : float, optional
        Of the acid; without it acid is taken to be in excess. A mole of it gives one proton at the low end of the range, two at
        the high one.

    Returns
    -------
    Capacity
        Films in a litre, as a range, and what limits it.
    """
    for name, value in (("oxidant", oxidant_mol_per_l), ("acid", acid_mol_per_l or 0.0)):
        if not (math.isfinite(value) and value >= 0):
            raise InputError(f"{name} of {value:g} mol/L cannot be", remedy="give zero or more")
    oxidant = silver_by_oxidant_g_per_l(bleach, oxidant_mol_per_l)
    if acid_mol_per_l is None:
        least = most = math.inf
    else:
        least = silver_by_acid_g_per_l(bleach, acid_mol_per_l)
        most = silver_by_acid_g_per_l(bleach, 2 * acid_mol_per_l)
    middle = min(oxidant, math.sqrt(least * most) if math.isfinite(least) else math.inf)
    theory = Range(min(oxidant, least), middle, min(oxidant, most))
    return Capacity(
        _rolls(theory, record("negative_fraction").value), theory, "acid" if middle < oxidant else "oxidant"
    )


# A bath twice as strong takes no twice the films: with the square root of its strength, and at most so many times (our judgement).
_MOST_OF_STRENGTH = 2.0


def rolls_in_practice(bleach: str, theory: Range, oxidant_mol_per_l: float) -> Range:
    """Films of a litre of bleach as practice counts them, never more than its arithmetic allows.

    Parameters
    ----------
    bleach : str
        A key of `obverse.chemistry.redox.BLEACHES`; iron and peroxide end long before their oxidant does (records
        ``practice.bath.iron_rolls_per_l``, ``practice.bath.peroxide_rolls_per_l``), the others by it.
    theory : Range
        135-36 films in a litre by `bleach_capacity`.
    oxidant_mol_per_l : float

    Returns
    -------
    Range
        135-36 films in a litre.
    """
    key = {"iron_iii": "practice.bath.iron_rolls_per_l", "peroxide": "practice.bath.peroxide_rolls_per_l"}.get(bleach)
    if key is None:
        return theory
    known, share = record(key).value, 1.0
    if bleach == "iron_iii":
        usual = number("practice.bath.iron_g_per_l") / number("mm.ironIII_chloride_anhydrous")
        share = min(_MOST_OF_STRENGTH, math.sqrt(oxidant_mol_per_l / usual))
    likely = min(theory.likely, known["likely"] * share)
    return Range(
        min(theory.low, known["low"] * share, likely), likely, max(likely, min(theory.high, known["high"] * share))
    )


def ammonia_capacity(ammonia_mol_per_l: float) -> Capacity:
    """Capacity of an ammonia bath for the silver chloride that the bleach made of the negative.

    Parameters
    ----------
    ammonia_mol_per_l : float
        Free ammonia of the bath, mol/L.

    Returns
    -------
    Capacity
        135-36 films in a litre, as a range.
    """
    most = saturate(ammonia_mol_per_l=ammonia_mol_per_l).g_silver_per_l
    theory = Range(most, most, most)
    return Capacity(_rolls(theory, record("negative_fraction").value), theory, "solubility")


def fixer_capacity_rolls_per_l(thiosulfate_g_per_l: float) -> Range:
    """Capacity of a fixer, scaled from the published 20 rolls a litre of a 1+4 rapid fixer.

    Parameters
    ----------
    thiosulfate_g_per_l : float
        Ammonium thiosulfate of the working bath, g/L.

    Returns
    -------
    Range
        135-36 films in a litre.
    """
    if not thiosulfate_g_per_l >= 0:
        raise InputError(f"thiosulfate of {thiosulfate_g_per_l:g} g/L cannot be", remedy="give zero or more")
    known = record("fixer.capacity")
    share = thiosulfate_g_per_l / record("fixer.working_ats").number
    return Range(
        (known.number - known.half_range) * share,
        known.number * share,
        (known.number + known.half_range) * share,
    )


def _rolls(theory: Range, image_share: list[float]) -> Range:
    """Combine the doubts as independent factors: each end is a 90 % end, added in quadrature of logarithms."""
    practical = record("capacity.practical_share").value
    silver = silver_per_roll_g()
    share = Range(image_share[0], (image_share[0] + image_share[1]) / 2, image_share[1])
    used = Range(practical[0], math.sqrt(practical[0] * practical[1]), practical[1])
    likely = theory.likely * used.likely / (silver.likely * share.likely)
    if likely == 0:
        return Range(0.0, 0.0, 0.0)
    down = _quadrature(
        theory.low / theory.likely, used.low / used.likely, silver.likely / silver.high, share.likely / share.high
    )
    up = _quadrature(
        theory.high / theory.likely, used.high / used.likely, silver.likely / silver.low, share.likely / share.low
    )
    return Range(likely / down, likely, likely * up)


def _quadrature(*factors: float) -> float:
    return math.exp(math.sqrt(sum(math.log(factor) ** 2 for factor in factors)))
