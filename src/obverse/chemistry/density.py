"""Densities of solutions at 20 C, interpolated in the published tables of the reference.

Between the entries a monotone cubic is laid; beyond the last entry the edge slope is continued
and a caution says so. Ammonia also has its Baume table, read directly.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cache

from obverse.chemistry.baume import density_of_gravity, specific_gravity
from obverse.foundation import Caution, Estimate, InputError, Level, MonotoneCubic, root_between
from obverse.reference import number, record, records

# Up to here a salt of unknown density is taken close to water; common practice, no source.
DILUTE_MASS_FRACTION = 0.05
# Substance key to the name its density records carry.
TABLES = {
    "ammonia": "nh3",
    "sulfuric_acid": "h2so4",
    "hydrogen_peroxide": "h2o2",
    "acetic_acid": "acetic",
    "iron_iii_chloride": "fecl3",
    "hydrochloric_acid": "hcl",
    "sodium_hydroxide": "naoh",
    "ammonium_thiosulfate": "ats",
}


@dataclass(frozen=True, slots=True)
class Density:
    """A density at 20 C in g/mL with its standard uncertainty and what must be told of it."""

    g_per_ml: float
    sd: float
    source: str
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True, slots=True)
class _Table:
    mass_fraction: tuple[float, ...]  # rising
    g_per_ml: tuple[float, ...]
    sd: tuple[float, ...]
    keys: tuple[str, ...]
    curve: MonotoneCubic

    def sd_at(self, mass_fraction: float) -> float:
        """Standard uncertainty in g/mL, in straight lines between the entries."""
        i = min(bisect_right(self.mass_fraction, mass_fraction) - 1, len(self.mass_fraction) - 2)
        share = (mass_fraction - self.mass_fraction[i]) / (self.mass_fraction[i + 1] - self.mass_fraction[i])
        return self.sd[i] + share * (self.sd[i + 1] - self.sd[i])


@cache
def _table(substance: str) -> _Table | None:
    name = TABLES.get(substance)
    if name is None:
        return None
    rows = [
        (float(r.inputs["w"]), r.number / 1000, r.sd / 1000, r.key)
        for r in records().values()
        if r.key.startswith(f"density.{name}.") and "w" in r.inputs
    ]
    rows.append((0.0, number("density.water.20C") / 1000, 0.0, "density.water.20C"))
    rows.sort()
    w, rho, sd, keys = zip(*rows, strict=True)
    return _Table(w, rho, sd, keys, MonotoneCubic(w, rho))


def solution_density(substance: str, mass_fraction: float) -> Density:
    """Density of an aqueous solution at 20 C.

    Parameters
    ----------
    substance : str
        Key of the dissolved substance.
    mass_fraction : float
        0 to 1.

    Returns
    -------
    Density
        g/mL with its standard uncertainty and cautions.

    Raises
    ------
    InputError
        If we hold no table for it and the solution is too strong to be taken for water.
    """
    if not 0 <= mass_fraction <= 1:
        raise InputError(f"a mass fraction of {mass_fraction:g} cannot be", remedy="give 0 to 100 % w/w")
    table = _table(substance)
    if table is None:
        if mass_fraction > DILUTE_MASS_FRACTION:
            raise InputError(
                f"the density of {substance.replace('_', ' ')} at {100 * mass_fraction:g} % w/w is not known here",
                where="density",
                remedy="weigh 100 mL of it, or take the density from the safety data sheet, and enter it in g/mL",
            )
        slope = record("density.dilute_salt_slope")
        return Density(
            number("density.water.20C") / 1000 * (1 + slope.number * mass_fraction),
            slope.sd * mass_fraction,
            slope.key,
            (Caution("density.guessed", "Density taken close to that of water; none is published here.", Level.NOTE),),
        )
    last = table.mass_fraction[-1]
    inside = min(mass_fraction, last)
    value = table.curve(inside)
    sd = table.sd_at(inside)
    cautions: list[Caution] = []
    if mass_fraction > last:
        edge = (table.g_per_ml[-1] - table.g_per_ml[-2]) / (table.mass_fraction[-1] - table.mass_fraction[-2])
        value += edge * (mass_fraction - last)
        sd += abs(edge) * (mass_fraction - last)
        cautions.append(
            Caution(
                "density.outside_table",
                f"{100 * mass_fraction:g} % w/w lies beyond the density table, which ends at {100 * last:g} %; the density is extended from there.",
                source=table.keys[-1],
            )
        )
    elif len(table.mass_fraction) < 3 and 0 < mass_fraction < last:
        # Two points only: the straight line may be off by as much as the table's own doubt.
        sd += table.sd[-1]
    nearest = min(zip(table.mass_fraction, table.keys, strict=True), key=lambda row: abs(row[0] - mass_fraction))[1]
    return Density(value, sd, nearest, tuple(cautions))


def mass_fraction_of_density(substance: str, g_per_ml: float) -> Estimate:
    """Mass fraction of the solution that has this density at 20 C, by the same table.

    The uncertainty is the table's doubt in density, carried through its slope.

    Raises
    ------
    InputError
        Without a table, or where no solution of the substance has that density.
    """
    table = _table(substance)
    name = substance.replace("_", " ")
    if table is None:
        raise InputError(f"no density table of {name} is held here", remedy="give the strength as % w/w or g/L")
    # A table may turn back (acetic acid): the dilute branch is the one that labels mean.
    turn = max(range(len(table.g_per_ml)), key=lambda i: abs(table.g_per_ml[i] - table.g_per_ml[0]))
    low, high = sorted((table.g_per_ml[0], table.g_per_ml[turn]))
    if not low <= g_per_ml <= high:
        raise InputError(
            f"a density of {g_per_ml:.3f} g/mL lies outside the table of {name} ({low:.3f} to {high:.3f})",
            remedy="give the strength as % w/w or g/L",
        )
    ends = table.mass_fraction[0], table.mass_fraction[turn]
    found = root_between(lambda w: table.curve(w) - g_per_ml, *ends)
    slope = abs(table.curve.slope(found))
    return Estimate(found, table.sd_at(found) / slope)


def mass_fraction_of_baume(substance: str, degrees: float) -> Estimate:
    """Mass fraction of a solution sold by degrees Baume.

    Ammonia is read on the light scale, from its own published table; all else on the heavy scale,
    by its density table (the 4 C between 60 F and 20 C are within the table's doubt).

    Raises
    ------
    InputError
        Outside the table.
    """
    if substance != "ammonia":
        return mass_fraction_of_density(substance, density_of_gravity(specific_gravity(degrees, "heavy")))
    rows = sorted(
        (float(r.inputs["Be_light"]), r.number / 100, r.sd / 100)
        for r in records().values()
        if r.key.startswith("ammonia.baume.")
    )
    known, fractions, sds = zip(*rows, strict=True)
    if not known[0] <= degrees <= known[-1]:
        raise InputError(
            f"ammonia of {degrees:g} Be lies outside the table ({known[0]:g} to {known[-1]:g} Be)",
            remedy="give the strength as % w/w",
        )
    return Estimate(float(MonotoneCubic(known, fractions)(degrees)), max(sds))
