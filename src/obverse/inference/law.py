"""The law of one film as the notebook believes it: the process model plus a smooth departure from it.

No real film obeys the process model. The departure is part of what is learned: with f the density
above base by the model,

    density = base + (f + 0.15) (1 + delta(x, c)) - 0.15
    delta   = sum over i, k of W[i, k] bump_i(x) direction_k(c)

`bump_i` are smooth bumps along log exposure, `direction_0` = 1, the others the varied controls in
steps that matter. The weights W have normal priors, so that where a film obeys the model they stay
near zero, and predictions far from what was tried stay uncertain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.model import NAMES, density
from obverse.model.parameters import INDEX
from obverse.process import CONTROLS, ControlVector

Array = NDArray[np.float64]

FLOOR = 0.15
BUMPS = np.array([-1.8, -1.2, -0.6, 0.0, 0.6, 1.2, 1.8])
BUMP_WIDTH = 0.5
# Prior standard deviation of the departure, as a fraction of density: everywhere alike, and per step of a control.
DEPARTURE_SD = 0.08
DEPARTURE_PER_CONTROL_SD = 0.05
# The same for one strip alone, beyond what its controls' errors explain.
STRIP_DEPARTURE_SD = 0.015

BASE = INDEX["base"]
CENTRES = ControlVector.of({}).on_axes()
STEPS = np.array([control.axis_step for control in CONTROLS.values()])


@dataclass(frozen=True, slots=True)
class Law:
    """Which parameters and departures a fit has.

    Parameters
    ----------
    varied : (K,) bool array
        Controls along which the departure may change.
    """

    varied: NDArray[np.bool_]

    @property
    def directions(self) -> int:
        """Number of departure directions: the constant and the varied controls."""
        return 1 + int(self.varied.sum())

    @property
    def size(self) -> int:
        """Number of unknowns: parameters and departure weights."""
        return len(NAMES) + len(BUMPS) * self.directions

    def departure_sd(self) -> Array:
        """Prior standard deviations of the weights, flattened (bump, direction)."""
        per = np.full(self.directions, DEPARTURE_PER_CONTROL_SD)
        per[0] = DEPARTURE_SD
        return np.tile(per, len(BUMPS))

    def density(self, unknowns: Array, controls: Array, log_exposure: Array) -> Array:
        """Density with base.

        Parameters
        ----------
        unknowns : (M, U) array
        controls : (T, K) or (M, T, K) array
        log_exposure : (N,), (T, N) or (M, T, N) array

        Returns
        -------
        (M, T, N) array
        """
        base = np.exp(unknowns[:, BASE])[:, None, None]
        f = density(unknowns[:, : len(NAMES)], controls, log_exposure) - base
        weights = unknowns[:, len(NAMES) :].reshape(-1, len(BUMPS), self.directions)
        along = self._directions(np.asarray(controls, dtype=float))
        shape = np.einsum("mbd,...td->m...tb" if along.ndim == 2 else "mbd,mtd->mtb", weights, along)
        bumps = _bumps(np.asarray(log_exposure, dtype=float))
        if bumps.ndim == 2:
            delta = shape @ bumps.T
        else:
            delta = np.einsum("mtb,mtnb->mtn" if bumps.ndim == 4 else "mtb,tnb->mtn", shape, bumps, optimize=True)
        return base + np.maximum((f + FLOOR) * (1.0 + np.maximum(delta, -0.9)) - FLOOR, 0.0)

    def _directions(self, controls: Array) -> Array:
        z = 2.0 * np.tanh((ControlVector(controls).on_axes() - CENTRES) / STEPS / 2.0)
        return np.concatenate([np.ones((*z.shape[:-1], 1)), z[..., self.varied]], axis=-1)


def _bumps(log_exposure: Array) -> Array:
    x = np.clip(log_exposure, BUMPS[0] - 0.4, BUMPS[-1] + 0.4)
    rise = np.exp(-0.5 * ((x[..., None] - BUMPS) / BUMP_WIDTH) ** 2)
    return rise / np.sqrt((rise**2).sum(axis=-1, keepdims=True))
