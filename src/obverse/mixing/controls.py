"""The notebook's controls as amounts of active substance in the first developer.

What each counts is said by its entry in `obverse.process.CONTROLS`. Whatever bottle stands on the shelf is
then converted by active substance.
"""

from __future__ import annotations

from collections.abc import Mapping

from obverse.chemistry.density import solution_density
from obverse.foundation import InputError, Standing
from obverse.process import ALKALI, CONTROLS, DILUTION, SOLVENT, Component, Dilution, Formula

# g of active substance in 1 mL of the bottle that each control counts.
SOLVENT_G_PER_ML = 0.60
SOLVENT_SUBSTANCE, ALKALI_SUBSTANCE = "ammonium_thiosulfate", "ammonia"


def alkali_g_per_ml() -> float:
    """g of NH3 in 1 mL of household ammonia 5 % w/w, with the published density."""
    return 0.05 * solution_density("ammonia", 0.05).g_per_ml


def with_controls(formula: Formula, controls: Mapping[str, float]) -> Formula:
    """The first developer with these controls in place of its defaults; other controls are not its business.

    Raises
    ------
    InputError
        For a negative control, or one that nobody knows.
    """
    if problem := CONTROLS.problem(controls):
        raise InputError(problem, where=formula.name, remedy="give zero or more of a control that is known")
    components = formula.components
    if SOLVENT.key in controls:
        components = _set(components, SOLVENT_SUBSTANCE, controls[SOLVENT.key] * SOLVENT_G_PER_ML, 2)
    if ALKALI.key in controls:
        components = _set(components, ALKALI_SUBSTANCE, controls[ALKALI.key] * alkali_g_per_ml(), 3)
    dilutions = formula.dilutions
    if DILUTION.key in controls:
        parts = controls[DILUTION.key]
        dilutions = tuple(
            Dilution(product_role=d.product_role, dilution=f"1+{parts:.6g}", note=d.note)
            if d.product_role == "paper_developer"
            else d
            for d in dilutions
        )
    return formula.model_copy(update={"components": components, "dilutions": dilutions})


def _set(components: tuple[Component, ...], substance: str, g_per_l: float, order: int) -> tuple[Component, ...]:
    old = next((c for c in components if c.substance == substance), None)
    if g_per_l == 0:
        return tuple(c for c in components if c is not old)
    new = Component(
        substance=substance,
        concentration=f"{g_per_l:.6f} g/L",
        standing=Standing.COMPUTED,
        source="set by the control",
        add_order=old.add_order if old else order,
        note="set by the control",
    )
    return tuple(new if c is old else c for c in components) if old else (*components, new)
