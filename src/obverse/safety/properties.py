"""What the hazard engine knows of matter: what a mole holds, its redox couples, its gases, its heats.

The numbers stand in ``data/properties.json``, each group with its source and standing. Nothing here decides.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import Field

from obverse.foundation import Document, Standing


class Couple(Document):
    """A redox couple of an entity: the electrons that a mole takes or gives, and its potential."""

    electrons: float = Field(gt=0)
    potential_v: float
    couple: str
    standing: Standing


class Gas(Document):
    """A gas or vapour that can be set free.

    `air_over_water` is the ratio of its concentrations in air and water at 20 C (a small number stays
    dissolved). `lethal_ppm` and `caution_ppm` are the mean of a room from which a finding is refused or told.
    """

    name: str
    air_over_water: float = Field(gt=0)
    lethal_ppm: float = Field(gt=0)
    caution_ppm: float = Field(gt=0)
    limits: str
    source: str
    standing: Standing


class Volatile(Document):
    """A liquid that evaporates and burns."""

    vapour_pa: float = Field(gt=0)
    lower_explosive: float = Field(gt=0, lt=1)
    flash_c: float


@cache
def _data() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(
        files("obverse.safety").joinpath("data/properties.json").read_text(encoding="utf-8")
    )
    return found


@cache
def holds() -> dict[str, dict[str, float]]:
    """Moles of each entity (thiosulfate, iron_iii, alcohol, ...) in a mole of a substance."""
    return {key: dict(row) for key, row in _data()["holds"].items()}


@cache
def oxidants() -> dict[str, Couple]:
    """Entities that take electrons."""
    return {key: Couple.model_validate(row) for key, row in _data()["oxidants"].items()}


@cache
def reductants() -> dict[str, Couple]:
    """Entities that give electrons."""
    return {key: Couple.model_validate(row) for key, row in _data()["reductants"].items()}


@cache
def gases() -> dict[str, Gas]:
    """Gases with their limits."""
    return {key: Gas.model_validate(row) for key, row in _data()["gases"].items()}


@cache
def volatiles() -> dict[str, Volatile]:
    """Burning liquids by substance key."""
    return {key: Volatile.model_validate(row) for key, row in _data()["volatile"]["values"].items()}
