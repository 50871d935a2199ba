"""How much silver halide ammonia and thiosulfate hold at equilibrium.

A full mass balance over Ag+, its ammine and thiosulfate complexes, the halide and the protonation
of ammonia; activities are left out. Constants: records ``const.*`` of the reference (some from
memory). Equilibrium is an upper bound: near it everything slows down.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from obverse.foundation import InputError, root_between
from obverse.reference import number

Halide = Literal["AgCl", "AgBr", "AgI"]


@dataclass(frozen=True, slots=True)
class Constants:
    """Equilibrium constants at 25 C, molar."""

    ksp: float
    k1_ammine: float
    beta2_ammine: float
    beta1_thiosulfate: float
    beta2_thiosulfate: float
    beta_mixed: float
    pka_ammonium: float
    pkw: float


def constants(halide: Halide = "AgCl") -> Constants:
    """The constants of the reference for this halide."""
    return Constants(
        ksp=number(f"const.Ksp.{halide}"),
        k1_ammine=10 ** number("const.logK1.AgNH3"),
        beta2_ammine=10 ** number("const.logbeta2.Ag(NH3)2"),
        beta1_thiosulfate=10 ** number("const.logbeta1.AgS2O3"),
        beta2_thiosulfate=10 ** number("const.logbeta2.Ag(S2O3)2"),
        beta_mixed=10 ** number("const.logbeta.AgS2O3NH3"),
        pka_ammonium=number("const.pKa.NH4"),
        pkw=number("acidity.water"),
    )


@dataclass(frozen=True, slots=True)
class SilverBalance:
    """A solution saturated with silver halide.

    Parameters
    ----------
    dissolved_mol_per_l : float
        Silver in solution, all forms.
    by_thiosulfate : float
        Share of the dissolved silver that thiosulfate holds, alone or with ammonia.
    """

    dissolved_mol_per_l: float
    by_thiosulfate: float

    @property
    def g_silver_per_l(self) -> float:
        """Silver in solution, g/L."""
        return self.dissolved_mol_per_l * number("mm.silver")


def saturate(
    *,
    ammonia_mol_per_l: float = 0.0,
    thiosulfate_mol_per_l: float = 0.0,
    halide_mol_per_l: float = 0.0,
    halide: Halide = "AgCl",
    ph: float | None = None,
    use: Constants | None = None,
) -> SilverBalance:
    """Saturate a solvent with silver halide.

    Parameters
    ----------
    ammonia_mol_per_l, thiosulfate_mol_per_l : float
        Total of each, before silver comes in.
    halide_mol_per_l : float
        Chloride (or the halide in question) that is there already, such as carried over.
    ph : float, optional
        Of a buffered bath; without it the ammonia sets its own.
    use : Constants, optional
        Default: those of the reference.

    Returns
    -------
    SilverBalance
        mol/L and g/L of silver, by the solvent that holds it.

    Raises
    ------
    InputError
        For a negative amount.
    """
    for name, value in (
        ("ammonia", ammonia_mol_per_l),
        ("thiosulfate", thiosulfate_mol_per_l),
        ("halide", halide_mol_per_l),
    ):
        if not (math.isfinite(value) and value >= 0):
            raise InputError(f"{name} of {value:g} mol/L cannot be", remedy="give zero or more")
    k = use or constants(halide)

    def silver_ion(strength: float) -> float:
        """Free Ag+ where the complexes multiply it by `strength`: Ag (Ag strength + halide) = Ksp."""
        half = halide_mol_per_l / 2
        return (math.sqrt(half**2 + strength * k.ksp) - half) / strength

    def parts(ammonia: float, thiosulfate: float) -> tuple[float, float, float, float]:
        """Ag+, and the multipliers of the ammine, thiosulfate and mixed complexes."""
        ammine = k.k1_ammine * ammonia + k.beta2_ammine * ammonia**2
        thio = k.beta1_thiosulfate * thiosulfate + k.beta2_thiosulfate * thiosulfate**2
        mixed = k.beta_mixed * thiosulfate * ammonia
        return silver_ion(1 + ammine + thio + mixed), ammine, thio, mixed

    def thiosulfate_used(ammonia: float, thiosulfate: float) -> float:
        silver, _, _, mixed = parts(ammonia, thiosulfate)
        return silver * (k.beta1_thiosulfate * thiosulfate + 2 * k.beta2_thiosulfate * thiosulfate**2 + mixed)

    def free_thiosulfate(ammonia: float) -> float:
        return _root(lambda t: t + thiosulfate_used(ammonia, t) - thiosulfate_mol_per_l, thiosulfate_mol_per_l)

    def ammonium(ammonia: float) -> float:
        if ph is not None:
            return ammonia * 10 ** (k.pka_ammonium - ph)
        return math.sqrt(10 ** (k.pka_ammonium - k.pkw) * ammonia)

    def ammonia_balance(ammonia: float) -> float:
        silver, _, _, mixed = parts(ammonia, free_thiosulfate(ammonia))
        bound = silver * (k.k1_ammine * ammonia + 2 * k.beta2_ammine * ammonia**2 + mixed)
        return ammonia + ammonium(ammonia) + bound - ammonia_mol_per_l

    ammonia = _root(ammonia_balance, ammonia_mol_per_l)
    silver, ammine, thio, mixed = parts(ammonia, free_thiosulfate(ammonia))
    strength = 1 + ammine + thio + mixed
    return SilverBalance(silver * strength, (thio + mixed) / strength)


def _root(function: Callable[[float], float], top: float) -> float:
    """Root between 0 and `top` of a function that rises from below zero."""
    if top <= 0 or function(top) <= 0:
        return max(top, 0.0)
    return root_between(function, 0.0, top)
