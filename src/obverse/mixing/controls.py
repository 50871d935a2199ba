"""The notebook's controls as amounts of active substance in the first developer.

`solvent_ml_per_l` counts mL of rapid fixer concentrate with ammonium thiosulfate 60 % w/v per litre
of bath, `alkali_ml_per_l` mL of household ammonia 5 % w/w, `developer_parts_water` the n of 1+n.
Whatever bottle stands on the shelf is then converted by active substance.
"""

from __future__ import annotations

from collections.abc import Mapping

from obverse.chemistry.density import solution_density
from obverse.foundation import InputError, Standing
from obverse.process import CONTROL_NAMES, Component, Dilution, Formula

# g of active substance in 1 mL of the bottle that each control counts.
SOLVENT_G_PER_ML = 0.60
SOLVENT, ALKALI = "ammonium_thiosulfate", "ammonia"


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
    for name in controls:
        if name not in CONTROL_NAMES:
            raise InputError(
                f"unknown control {name!r}", where=formula.name, remedy=f"use one of {', '.join(CONTROL_NAMES)}"
            )
    for name in ("solvent_ml_per_l", "alkali_ml_per_l", "developer_parts_water"):
        if controls.get(name, 0) < 0:
            raise InputError(f"{name} cannot be {controls[name]:g}", where=formula.name, remedy="give zero or more")
    components = formula.components
    if "solvent_ml_per_l" in controls:
        components = _set(components, SOLVENT, controls["solvent_ml_per_l"] * SOLVENT_G_PER_ML, 2)
    if "alkali_ml_per_l" in controls:
        components = _set(components, ALKALI, controls["alkali_ml_per_l"] * alkali_g_per_ml(), 3)
    dilutions = formula.dilutions
    if "developer_parts_water" in controls:
        parts = controls["developer_parts_water"]
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
