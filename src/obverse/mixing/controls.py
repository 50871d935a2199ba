"""The notebook's controls as amounts of active substance in the first developer.

What each counts is said by its entry in `obverse.process.CONTROLS`. Whatever bottle stands on the shelf is
then converted by active substance.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from obverse.chemistry import concentration_g_per_l, solution_density
from obverse.foundation import InputError, Standing
from obverse.mixing.choose import DEVELOPING
from obverse.process import ALKALI, CONTROLS, DILUTION, SOLVENT, Component, Dilution, Formula
from obverse.process.catalog import substance

SOLVENT_SUBSTANCE, ALKALI_SUBSTANCE = "ammonium_thiosulfate", "ammonia"
# g of active substance in 1 mL of the concentrate that the solvent control counts: 60 % w/v.
SOLVENT_G_PER_ML = 0.60
# Mass fraction of the household ammonia that the alkali control counts.
HOUSEHOLD_AMMONIA = 0.05
# Last into the bath, as it leaves into the air.
ALKALI_ADD_ORDER = 3


@dataclass(frozen=True, slots=True)
class Addition:
    """What one unit of a control brings into the first developer.

    Parameters
    ----------
    substance : str
        Key of the active substance.
    g_per_l : float
        Grams of it in a litre of bath for each unit of the control.
    add_order : int
        Its place in the order of adding, where the formula has none of it.
    """

    substance: str
    g_per_l: float
    add_order: int


def alkali_g_per_ml() -> float:
    """g of NH3 in 1 mL of household ammonia 5 % w/w, with the published density."""
    return HOUSEHOLD_AMMONIA * solution_density("ammonia", HOUSEHOLD_AMMONIA).g_per_ml


def additions() -> dict[str, Addition]:
    """What the controls bring into the first developer, by control.

    Returns
    -------
    dict of Addition
        Of the solvent and the alkali, by the key of the control.
    """
    return {
        SOLVENT.key: Addition(SOLVENT_SUBSTANCE, SOLVENT_G_PER_ML, 2),
        ALKALI.key: Addition(ALKALI_SUBSTANCE, alkali_g_per_ml(), ALKALI_ADD_ORDER),
    }


def with_controls(formula: Formula, controls: Mapping[str, float]) -> Formula:
    """The first developer with these controls in place of its defaults; other controls are not its business.

    Parameters
    ----------
    formula : Formula
        Of the first developer.
    controls : mapping of str to float
        By name, each in its unit.

    Raises
    ------
    InputError
        For a negative control, or one that nobody knows.
    """
    if problem := CONTROLS.beyond(controls):
        raise InputError(problem, where=formula.name, remedy="give zero or more of a control that is known")
    components = formula.components
    for name, addition in additions().items():
        if name in controls:
            components = _set(components, addition, controls[name] * addition.g_per_l)
    dilutions = formula.dilutions
    if DILUTION.key in controls:
        parts = controls[DILUTION.key]
        dilutions = tuple(
            Dilution(product_role=d.product_role, dilution=f"1+{parts:.6g}", note=d.note)
            if d.product_role in DEVELOPING
            else d
            for d in dilutions
        )
    return formula.model_copy(update={"components": components, "dilutions": dilutions})


def _set(components: tuple[Component, ...], addition: Addition, g_per_l: float) -> tuple[Component, ...]:
    old = next((c for c in components if c.substance == addition.substance), None)
    if g_per_l == 0:
        return tuple(c for c in components if c is not old)
    new = Component(
        substance=addition.substance,
        concentration=f"{g_per_l:.6f} g/L",
        standing=Standing.COMPUTED,
        source="set by the control",
        add_order=old.add_order if old else addition.add_order,
        note="set by the control",
    )
    return tuple(new if c is old else c for c in components) if old else (*components, new)


def starting_controls(formula: Formula) -> dict[str, float]:
    """The controls that a first developer of one's own amounts to, for its first strip.

    Parameters
    ----------
    formula : Formula
        Of the first developer. Solvent and alkali count as `with_controls` writes them, the dilution where it says 1+n.

    Returns
    -------
    dict of float
        By the key of the control: solvent and alkali in mL/L, 0 where the formula has none; dilution, n of 1+n, only
        where it has one.

    Raises
    ------
    InputError
        If the formula's strength of solvent or alkali cannot be.
    """
    found = dict.fromkeys(additions(), 0.0)
    for component in formula.components:
        for key, addition in additions().items():
            if component.substance == addition.substance:
                grams = concentration_g_per_l(component.parsed, substance(component.substance)).value
                found[key] = round(grams / addition.g_per_l, 3)
    for line in formula.dilutions:
        strength = line.parsed
        if strength.unit == "1+n":
            found[DILUTION.key] = strength.value
        elif strength.unit == "mL/L" and strength.value > 0:
            found[DILUTION.key] = round(1000 / strength.value - 1, 2)
    return found
