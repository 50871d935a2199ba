"""What the hazard engine knows of matter: what a mole holds, its redox couples, its gases, its heats.

The numbers stand in ``data/properties.json``, each group with its source and standing. Nothing here decides.
"""

from __future__ import annotations

import math
from functools import cache
from importlib.resources import files

from pydantic import BaseModel, Field

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
    dissolved). `lethal_ppm` and `caution_ppm` are the mean of a room from which a finding is refused or told;
    `warns_to_ppm` is where its sting or stench no longer drives out whoever bends over it, because it strikes down
    before that or dulls the nose (figures of handbooks, rounded, from memory; 0 where nothing warns at all), and
    `ten_min_ppm` kills in ten minutes (guideline levels as of `lethal_ppm`, from memory). `lethal_asthma_ppm` is the mean from which it is
    refused where somebody with asthma is in the room, where published levels differ by that;
    `breaths_ppm` kills within a few breaths (handbooks, from memory).
    """

    name: str
    air_over_water: float = Field(gt=0)
    lethal_ppm: float = Field(gt=0)
    caution_ppm: float = Field(gt=0)
    warns_to_ppm: float = Field(default=0.0, ge=0)
    ten_min_ppm: float | None = Field(default=None, gt=0)
    lethal_asthma_ppm: float | None = Field(default=None, gt=0)
    breaths_ppm: float | None = Field(default=None, gt=0)
    limits: str
    source: str
    standing: Standing


class Volatile(Document):
    """A liquid that evaporates and burns; `dizzy_ppm` is the mean of a room that makes dizzy or sick."""

    vapour_pa: float = Field(gt=0)
    lower_explosive: float = Field(gt=0, lt=1)
    flash_c: float
    dizzy_ppm: float = Field(default=math.inf, gt=0)


class Narcotic(Document):
    """A heavy liquid that does not burn and whose vapour stupefies; it is a gas of `gases` by the same key.

    `harm` says what else it does to whoever breathes it.
    """

    vapour_pa: float = Field(gt=0)
    harm: str


class Dose(Document):
    """Grams that may kill or maim whoever swallows them, in their order of size.

    Of an entity it is the mass of its usual salt, which weighs `salt_g_per_mol`; of a substance, by its key, its own mass.
    """

    kills_g: float = Field(gt=0)
    salt_g_per_mol: float | None = Field(default=None, gt=0)


class _Doses(BaseModel):
    standing: Standing
    values: dict[str, Dose]


class _Narcotics(BaseModel):
    values: dict[str, Narcotic]


class _Volatiles(BaseModel):
    values: dict[str, Volatile]


class _MatterData(BaseModel):
    holds: dict[str, dict[str, float]]
    oxidants: dict[str, Couple]
    reductants: dict[str, Couple]
    gases: dict[str, Gas]
    volatile: _Volatiles
    narcotic: _Narcotics
    swallowed: _Doses


@cache
def _data() -> _MatterData:
    return _MatterData.model_validate_json(files("obverse.safety").joinpath("data/properties.json").read_bytes())


def holds() -> dict[str, dict[str, float]]:
    """Moles of each entity (thiosulfate, iron_iii, alcohol, ...) in a mole of a substance."""
    return _data().holds


def oxidants() -> dict[str, Couple]:
    """Entities that take electrons."""
    return _data().oxidants


def reductants() -> dict[str, Couple]:
    """Entities that give electrons."""
    return _data().reductants


def gases() -> dict[str, Gas]:
    """Gases with their limits."""
    return _data().gases


def volatiles() -> dict[str, Volatile]:
    """Burning liquids by substance key."""
    return _data().volatile.values


def narcotics() -> dict[str, Narcotic]:
    """Chlorinated solvents by substance key."""
    return _data().narcotic.values


def swallowed() -> dict[str, Dose]:
    """What may kill by mouth, by entity or substance key."""
    return _data().swallowed.values
