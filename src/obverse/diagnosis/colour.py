"""The colour of a strip: what a stain adds to blue and not to red, and silver does not.

A reading by colour picture gives each patch a stain index, its density in blue less that in red. Silver
tints an image in proportion to its density; a stain lies over all alike. So the index that is left where
the image ends is the stain's, but for the tint of the base, which other strips of the film show.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array
from obverse.reference import number, record

# Of one patch's index; of what a base or a camera's white may be tinted by; of one strip against another of its film.
PATCH_SD, TINT_SD, STRIP_SD = (number(f"diagnosis.colour.{of}_sd") for of in ("patch", "tint", "strip"))
# How much an image of silver may be tinted, per density.
TONE_SD = number("diagnosis.colour.tone_sd")
# Stain index over visual density of a stain: median and spread of the logarithm. Greyish brown to plain yellow.
COLOUR_MEDIAN, COLOUR_SPREAD = record("diagnosis.colour.of_stain").number, record("diagnosis.colour.of_stain").log_sd
# Even densities that have no colour: fog, a base read wrong.
NEUTRAL_SHARE = number("diagnosis.colour.neutral_share")
# A line over density and its doubt need so many patches.
FEWEST_PATCHES = 3
_NODES = 31  # at which a spread of colours is summed (Gauss and Hermite); more change no digit that counts


@cache
def _spread() -> tuple[Array, Array]:
    """Places of the sum and their weights; found when first asked for, for reading a strip needs none."""
    return np.polynomial.hermite_e.hermegauss(_NODES)


@dataclass(frozen=True, slots=True)
class Colour:
    """Stain index of a strip where its image ends.

    Parameters
    ----------
    excess : float
        Density in blue less density in red, the tint of the base taken off as far as it is known.
    sd : float
        Standard uncertainty.
    """

    excess: float
    sd: float

    def _chance_at(self, true: ArrayLike) -> Array:
        """Chance density of this excess where the true one is `true`, shape of `true`."""
        z = (self.excess - np.asarray(true)) / self.sd
        return np.asarray(np.exp(-0.5 * z**2) / (self.sd * np.sqrt(2 * np.pi)))

    def log_chance(self, stain: float) -> float:
        """Logarithm of the chance density of this colour under an even density `stain`, which is coloured or not."""
        nodes, weights = _spread()
        coloured = self._chance_at(COLOUR_MEDIAN * np.exp(COLOUR_SPREAD * nodes) * stain) @ weights / weights.sum()
        neutral = self._chance_at(0.0)
        return float(np.log((1 - NEUTRAL_SHARE) * coloured + NEUTRAL_SHARE * neutral + 1e-12))


def colour_of(
    density: ArrayLike, stain_index: ArrayLike, others: tuple[tuple[ArrayLike, ArrayLike], ...] = ()
) -> Colour | None:
    """The colour of a strip; None where fewer than three patches have one.

    Parameters
    ----------
    density, stain_index : (N,) array_like
        Of its patches; NaN where a patch has no index.
    others : tuple of pairs of the same
        Other strips of the film, whose usual tint is that of its base.
    """
    own = _at_the_end(density, stain_index)
    if own is None:
        return None
    excess, sd = own
    known = [found for other in others if (found := _at_the_end(*other)) is not None]
    if not known:
        return Colour(excess, float(np.hypot(sd, TINT_SD)))
    # Their median, so that one stained strip among them does not pass for the base; the tint is shrunk to none.
    tint = float(np.median([value for value, _ in known]))
    variance = (np.median([one for _, one in known]) ** 2 + STRIP_SD**2) / len(known)
    share = TINT_SD**2 / (TINT_SD**2 + variance)
    left = share * variance
    return Colour(excess - share * tint, float(np.sqrt(sd**2 + STRIP_SD**2 + left)))


def _at_the_end(density: ArrayLike, stain_index: ArrayLike) -> tuple[float, float] | None:
    """Index where the image ends, with its standard uncertainty, from a line over density."""
    d, index = np.asarray(density, dtype=float), np.asarray(stain_index, dtype=float)
    usable = np.isfinite(d) & np.isfinite(index)
    if usable.sum() < FEWEST_PATCHES:
        return None
    d, index = d[usable] - d[usable].min(), index[usable]
    design = np.stack([np.ones_like(d), d], axis=1)
    # Patches of a dense image pass little blue light; their index is known less well.
    weight = 1 / (PATCH_SD * (1 + d)) ** 2
    precision = design.T @ (weight[:, None] * design) + np.diag([0.0, TONE_SD**-2])
    covariance = np.linalg.inv(precision)
    return float((covariance @ (design.T @ (weight * index)))[0]), float(np.sqrt(covariance[0, 0]))
