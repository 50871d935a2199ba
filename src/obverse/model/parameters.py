"""The parameters of the process model: what each means, what it is believed to be, and why.

Every parameter has a coordinate in which its prior is normal: the logarithm for what must be
positive, the number itself otherwise. The priors are broad: they describe films in general, and a
film's own strips overrule them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Standing


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of the process model.

    Parameters
    ----------
    name : str
    meaning : str
        What it is, in words a person can check against a strip.
    unit : str
    centre : float
        Median of the prior, in the parameter's own unit.
    spread : float
        Standard deviation of the prior in its coordinate (of the logarithm, where `positive`).
    positive : bool
        True if the coordinate is the natural logarithm.
    reason : str
        Why this prior.
    standing : Standing
    """

    name: str
    meaning: str
    unit: str
    centre: float
    spread: float
    positive: bool
    reason: str
    standing: Standing = Standing.COMMON_PRACTICE

    @property
    def coordinate(self) -> float:
        """Prior mean in the coordinate."""
        return math.log(self.centre) if self.positive else self.centre


PARAMETERS: tuple[Parameter, ...] = (
    Parameter(
        "blacks",
        "density of the unexposed border above base and stain, by the reference recipe",
        "density",
        2.5,
        0.3,
        True,
        "negative films coat silver for a Dmax near 3; fog and solvent of a usual first development take a quarter",
    ),
    Parameter(
        "speed_point",
        "log exposure that develops half of the developable halide at the reference",
        "log10",
        0.0,
        0.35,
        False,
        "the metered mid-tone at box speed lies within about a stop of the middle of the reversal curve",
    ),
    Parameter(
        "spread",
        "width of the response, log exposure per unit of the logistic",
        "log10",
        0.33,
        0.35,
        True,
        "gives slopes between 1 and 3 with the silver above",
    ),
    Parameter(
        "tail_ratio",
        "width of the passage toward the lights over that toward the blacks, 1 is symmetric",
        "1",
        0.95,
        0.35,
        True,
        "toe and shoulder of emulsions differ by up to a factor of two or so; a second, slower layer lengthens the tail",
    ),
    Parameter(
        "push",
        "gain of speed per unit of ln development",
        "log10",
        0.32,
        0.45,
        True,
        "doubling the first development moves the curve by half a stop to a stop and a half",
    ),
    Parameter(
        "steepen",
        "narrowing of the response per unit of ln development",
        "1",
        0.05,
        0.18,
        False,
        "longer development can steepen the separation a little beyond completeness",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "development_time",
        "effective development that completes 63 % of the exposed halide",
        "min",
        5.0,
        0.6,
        True,
        "first developments of 8 to 15 minutes run near to completion",
    ),
    Parameter(
        "development_order",
        "how abruptly development completes with time",
        "1",
        1.5,
        0.35,
        True,
        "between a first-order law and one with a short induction",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "fog_rate",
        "unexposed halide developed per minute of effective development",
        "1/min",
        0.005,
        1.1,
        True,
        "fog of 5 to 25 % of the silver in a long first development; films differ widely",
    ),
    Parameter(
        "solvent_strength",
        "dissolution exponent of unexposed halide at the reference",
        "1",
        0.09,
        1.1,
        True,
        "usual solvent amounts cost a tenth to a third of the blacks, and films differ widely",
    ),
    Parameter(
        "solvent_order",
        "power of the solvent amount",
        "1",
        1.0,
        0.4,
        True,
        "dissolution grows about in proportion to the solvent",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "solvent_selectivity",
        "how much faster the halide left in the highlights dissolves, beyond that in the blacks",
        "1",
        0.8,
        1.2,
        True,
        "what is left in the highlights are small grains with much surface for their volume",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "solvent_shape",
        "power of the dissolution exponent",
        "1",
        1.05,
        0.25,
        True,
        "1 for a broad mixture of sizes, more where grains are alike and vanish together",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "solvent_activity",
        "change of ln development per 10 mL/L of solvent",
        "1",
        0.05,
        0.35,
        False,
        "solvent lets silver plate onto the image, and also disturbs: either sign is seen",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "alkali_activity",
        "power of (alkali + 2 mL/L) in the activity of the developer",
        "1",
        0.3,
        0.28,
        False,
        "alkali speeds development, less than in proportion as the developer is buffered",
    ),
    Parameter(
        "alkali_shape",
        "law of the alkali: 0 a power of (alkali + 2 mL/L), 1 exponential, -1 saturating",
        "1",
        0.2,
        0.6,
        False,
        "buffered developers saturate, weak ones grow in proportion or faster; which is not known beforehand",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "alkali_solvent",
        "solvent equivalent of the alkali",
        "mL/mL",
        0.1,
        1.2,
        True,
        "ammonia dissolves silver halide, weaker than thiosulfate",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "dilution_order",
        "power of developer concentration in its activity",
        "1",
        0.8,
        0.25,
        False,
        "activity about in proportion to concentration, a little less",
    ),
    Parameter(
        "temperature_rate",
        "relative growth of activity per kelvin",
        "1/K",
        0.078,
        0.016,
        False,
        "Q10 of 2.1 to 2.3 in the published first-developer tables (records q10-1938, q10-bookA)",
        Standing.LOOKED_UP,
    ),
    Parameter(
        "solvent_temperature_rate",
        "relative growth of dissolution per kelvin",
        "1/K",
        0.04,
        0.025,
        False,
        "dissolution is led by diffusion and changes less with temperature than development",
        Standing.FROM_MEMORY,
    ),
    Parameter(
        "ghost",
        "part of the developed silver that the bleach leaves",
        "1",
        0.004,
        0.9,
        True,
        "a sound bleach leaves less than a hundredth; a visible ghost is a fault of that strip",
    ),
    Parameter(
        "stain",
        "even density over the base after the whole process",
        "density",
        0.02,
        0.7,
        True,
        "process stain of a few hundredths",
    ),
    Parameter(
        "base",
        "density of the bare support",
        "density",
        0.18,
        0.5,
        True,
        "clear bases near 0.05, grey bases near 0.3 (records base-clear, base-grey)",
        Standing.LOOKED_UP,
    ),
)

NAMES: tuple[str, ...] = tuple(p.name for p in PARAMETERS)
INDEX: dict[str, int] = {name: i for i, name in enumerate(NAMES)}
POSITIVE: NDArray[np.bool_] = np.array([p.positive for p in PARAMETERS])
PRIOR_MEAN: NDArray[np.float64] = np.array([p.coordinate for p in PARAMETERS])
PRIOR_SD: NDArray[np.float64] = np.array([p.spread for p in PARAMETERS])


def natural(coordinates: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
    """Parameters in their own units from coordinates of shape (..., P); each of shape (...)."""
    values = np.where(POSITIVE, np.exp(np.clip(coordinates, -40.0, 40.0)), coordinates)
    return {name: values[..., i] for i, name in enumerate(NAMES)}


def coordinates_of(**values: float) -> NDArray[np.float64]:
    """Coordinates of the prior centre with some parameters set, in their own units."""
    found = PRIOR_MEAN.copy()
    for name, value in values.items():
        i = INDEX[name]
        found[i] = math.log(value) if POSITIVE[i] else value
    return found
