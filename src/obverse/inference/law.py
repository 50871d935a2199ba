"""The law of one film as the notebook believes it: the process model plus a smooth departure from it.

No real film obeys the process model. What is learned beside its parameters:

- knees: bends of the film's curve that its two slopes do not have;
- a departure of each curve coordinate (`obverse.model.curve.COORDINATES`) over the controls: a
  constant, a slope along each varied control, and a local part, so that what a strip shows holds
  for its neighbours and fades with the distance between recipes. The local part is a Gaussian
  process written as a sum of waves with fixed directions, so that every draw of the film is one
  smooth function of the controls and can be asked anywhere.

Distances between recipes are counted in steps that matter about equally (`positions`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.inference.evenly import evenly, normal_quantile
from obverse.model import COORDINATES, INDEX, KNEES, NAMES, by_coordinate, natural, read_curve, settled
from obverse.process import ControlVector
from obverse.reference import number, record

BASE = INDEX["base"]
P, K, Q = len(NAMES), len(KNEES), len(COORDINATES)
# What a strip shows: its coordinates, its knees and its base.
D = Q + K + 1
# Curve coordinates beyond these are as good as at them.
LEAST, MOST = np.array([-6.0, -4.5, -6.0, -3.5, -3.5]), np.array([2.2, 2.0, 6.0, 1.5, 1.5])
# What the knees usually do, and how widely they differ: a longer toe and a longer tail than two straight slopes have.
_KNOWN_KNEES = [record(f"model.knee.{k + 1}") for k in range(K)]
KNEE_MEAN = np.array([known.number for known in _KNOWN_KNEES])
KNEE_SD = np.array([known.sd for known in _KNOWN_KNEES])
# Spread of the departure of each coordinate: everywhere alike, per step of a control, and local.
CONSTANT_SD = by_coordinate("model.departure.everywhere")
SLOPE_SD = by_coordinate("model.departure.slope")
LOCAL_SD = by_coordinate("model.departure.local")
# Steps over which the local part is alike.
REACH = number("model.departure.reach")
# Waves that make up the local part: more change nothing that strips can tell.
WAVES = 24
# Beyond so many steps from where the model is quoted a recipe is as good as there: nothing is learned farther out.
FARTHEST_STEPS = 3.0


@dataclass(frozen=True)
class Law:
    """Which parameters and departures a fit has.

    Parameters
    ----------
    varied : (5,) bool array
        Controls along which the departure may change.
    """

    varied: NDArray[np.bool_]

    @cached_property
    def waves(self) -> Array:
        """Directions of the waves, (WAVES, varied)."""
        n = int(self.varied.sum())
        if not n:
            return np.empty((0, 0))
        return normal_quantile(evenly(WAVES, n)) / REACH

    @property
    def features(self) -> int:
        """Number of functions of the controls that the departure is made of."""
        n = int(self.varied.sum())
        return 1 + n + 2 * len(self.waves)

    @property
    def size(self) -> int:
        """Number of unknowns: parameters, knees, and the departure's weights."""
        return P + K + Q * self.features

    def departure_sd(self, scale: float = 1.0) -> Array:
        """Prior standard deviations of knees and weights, flattened; `scale` widens the weights."""
        n, waves = int(self.varied.sum()), len(self.waves)
        rows = [CONSTANT_SD, *([SLOPE_SD] * n), *([LOCAL_SD / np.sqrt(max(waves, 1))] * (2 * waves))]
        return np.concatenate([KNEE_SD, scale * np.array(rows).ravel()])

    def positions(self, controls: Array) -> Array:
        """Where recipes (..., 5) stand, in steps that matter; only the varied controls, bounded far out."""
        return positions(controls)[..., self.varied]

    def feature_values(self, controls: Array) -> Array:
        """The departure's functions at recipes (..., 5): (..., F)."""
        z = self.positions(np.asarray(controls, dtype=float))
        parts = [np.ones((*z.shape[:-1], 1)), z]
        if len(self.waves):
            phase = z @ self.waves.T
            parts += [np.cos(phase), np.sin(phase)]
        return np.concatenate(parts, axis=-1)

    def weights(self, unknowns: Array) -> Array:
        """Weights of the departure, (M, F, Q)."""
        return unknowns[:, P + K :].reshape(len(unknowns), self.features, Q)

    def settings(
        self,
        unknowns: Array,
        controls: Array,
        *,
        features: Array | None = None,
        parameters: dict[str, Array] | None = None,
    ) -> Array:
        """Curve coordinates above base of recipes, (M, T, Q).

        Parameters
        ----------
        unknowns : (M, U) array
        controls : (T, 5) or (M, T, 5) array
        features : (T, F) array, optional
            The departure's functions at the recipes that were meant, where `controls` are these, once or several times
            in turn, with the errors of making a strip: the departure hardly changes over so little, and is quicker told.
        parameters : dict of str to (M,) array, optional
            Those of the unknowns in their own units, where they were asked for before.
        """
        found = settled(natural(unknowns[:, :P]) if parameters is None else parameters, controls)[0].T
        if features is None:
            departed = (self.feature_values(controls) @ self.weights(unknowns)).T
        else:
            # Each coordinate by itself, draws last in memory as the model leaves them.
            by_each = unknowns[:, P + K :].T.reshape(self.features, Q, -1).swapaxes(0, 1)
            departed = np.tile(features @ by_each, (1, found.shape[1] // len(features), 1))
        ends = (each.astype(found.dtype)[:, None, None] for each in (LEAST, MOST))
        settings: Array = np.clip(found + departed, *ends).T
        return settings

    def density(self, unknowns: Array, controls: Array, log_exposure: Array) -> Array:
        """Density with base, (M, T, N).

        Parameters
        ----------
        unknowns : (M, U) array
        controls : (T, 5) or (M, T, 5) array
        log_exposure : (N,), (T, N) or (M, T, N) array
        """
        settings = self.settings(unknowns, np.asarray(controls, dtype=float))
        return curves_of(settings, unknowns, log_exposure)


def curves_of(settings: Array, unknowns: Array, log_exposure: Array) -> Array:
    """Densities with base of curves (M, T, Q) of the films `unknowns` (M, U); (M, T, N)."""
    base = np.exp(unknowns[:, BASE])[:, None, None]
    return base + read_curve(settings, knees_of(unknowns), np.asarray(log_exposure, dtype=float))


def knees_of(unknowns: Array) -> Array:
    """Knees of each draw, (M, 1, K)."""
    return unknowns[:, None, P : P + K]


def positions(controls: Array) -> Array:
    """Where recipes (..., 5) stand, in steps that matter about equally."""
    bounded: Array = FARTHEST_STEPS * np.tanh(ControlVector(controls).steps() / FARTHEST_STEPS)
    return bounded
