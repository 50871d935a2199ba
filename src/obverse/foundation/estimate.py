"""A measured or fitted number with its standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

# Two-sided 90 % of a normal distribution lies within this many standard uncertainties.
Z90 = 1.6448536269514722
# Quantiles of draws at which the 90 % interval begins, its middle, and where it ends.
QUANTILES_90 = (0.05, 0.5, 0.95)
# Standard deviation of a normal distribution over the median of its magnitudes.
MAD_TO_SD = 1.4826


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with a standard uncertainty, in the same unit.

    Parameters
    ----------
    sd : float
        Standard uncertainty, zero or more.
    low90, high90 : float, optional
        Ends of the 90 % interval where it is not symmetric (a quantile of draws);
        otherwise they follow from `sd` by the normal law.
    """

    value: float
    sd: float
    low90: float = math.nan
    high90: float = math.nan

    def __post_init__(self) -> None:
        if not self.sd >= 0:
            raise ValueError(f"a standard uncertainty cannot be {self.sd}")
        if math.isnan(self.low90):
            object.__setattr__(self, "low90", self.value - Z90 * self.sd)
        if math.isnan(self.high90):
            object.__setattr__(self, "high90", self.value + Z90 * self.sd)

    def document(self) -> dict[str, float]:
        """The JSON shape: value, sd, low90, high90."""
        return {"value": self.value, "sd": self.sd, "low90": self.low90, "high90": self.high90}
