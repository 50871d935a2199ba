"""The parameters of the process model: what each means, what it is believed to be, and why.

Every parameter has a coordinate in which its prior is normal: the logarithm for what must be
positive, the number itself otherwise. The priors are records of the reference. They are broad: they
describe films in general, and a film's own strips overrule them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array, Standing
from obverse.reference import UncertaintyKind, record


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of the process model.

    Parameters
    ----------
    meaning : str
        What it is, in words a person can check against a strip.
    centre : float
        Median of the prior, in the parameter's own unit.
    spread : float
        Standard deviation of the prior in its coordinate (of the logarithm, where `positive`).
    positive : bool
        True if the coordinate is the natural logarithm.
    reason : str
        Why this prior.
    """

    name: str
    meaning: str
    unit: str
    centre: float
    spread: float
    positive: bool
    reason: str
    standing: Standing

    @property
    def coordinate(self) -> float:
        """Prior mean in the coordinate."""
        return math.log(self.centre) if self.positive else self.centre


# In the order of their coordinates. What each means, is believed to be and why stands in its record ``model.prior.NAME``.
NAMES: tuple[str, ...] = (
    "blacks",
    "speed_point",
    "spread",
    "tail_ratio",
    "push",
    "steepen",
    "development_time",
    "development_order",
    "fog_rate",
    "solvent_strength",
    "solvent_order",
    "solvent_selectivity",
    "solvent_shape",
    "solvent_activity",
    "alkali_activity",
    "alkali_shape",
    "alkali_solvent",
    "dilution_order",
    "temperature_rate",
    "solvent_temperature_rate",
    "ghost",
    "stain",
    "base",
)


def _recorded(name: str) -> Parameter:
    """The parameter of a record: a doubt of the logarithm says that the coordinate is the logarithm."""
    known = record(f"model.prior.{name}")
    positive = known.uncertainty is not None and known.uncertainty.kind is UncertaintyKind.LOG_STANDARD
    return Parameter(
        name=name,
        meaning=known.quantity,
        unit=known.unit or "1",
        centre=known.number,
        spread=known.log_sd if positive else known.sd,
        positive=positive,
        reason=known.source.text,
        standing=known.source.standing,
    )


PARAMETERS: tuple[Parameter, ...] = tuple(map(_recorded, NAMES))
INDEX: dict[str, int] = {name: i for i, name in enumerate(NAMES)}
POSITIVE: NDArray[np.bool_] = np.array([p.positive for p in PARAMETERS])
PRIOR_MEAN: Array = np.array([p.coordinate for p in PARAMETERS])
PRIOR_SD: Array = np.array([p.spread for p in PARAMETERS])
# A measured base is believed to so much of density, and no support is clearer.
BASE_READ_SD, LEAST_BASE = 0.01, 0.005
# Coordinates are held within this, so that their power of e stays a number.
FARTHEST = 40.0


def natural(coordinates: Array) -> dict[str, Array]:
    """Parameters in their own units from coordinates of shape (..., P); each of shape (...)."""
    # Each parameter stands by itself in memory: a model takes one after the other.
    values = np.moveaxis(coordinates, -1, 0).copy()
    values[POSITIVE] = np.exp(np.clip(values[POSITIVE], -FARTHEST, FARTHEST))
    return dict(zip(NAMES, values, strict=True))


def coordinates_of(**values: float) -> Array:
    """Coordinates of the prior centre with some parameters set, in their own units."""
    found = PRIOR_MEAN.copy()
    for name, value in values.items():
        i = INDEX[name]
        found[i] = math.log(value) if POSITIVE[i] else value
    return found
