"""The process model: density of a strip from the controls, vectorised over draws and exposures.

Residual halide after the first development makes the image. With effective development theta
(minutes at the reference), log exposure x and y = ln(theta / 10 min):

    activity  = ((1 + 15) / (1 + n))^dilution * ((alkali + 2) / 7)^alkali_activity
                * exp(solvent_activity (solvent - 10) / 10) * exp(kappa (T - 20))
    developed = [1 - exp(-(theta / tau)^m)] F((x - speed_point + push y) exp(steepen y) / spread)
    F         = (1 - w) G(u) + w G(u - slow_step / spread),  G a skewed logistic with G(0) = 1/2
    kept      = exp(-(k (load) (1 + selectivity developed))^shape)
    load      = ((solvent + e alkali) / (10 + 5 e))^order (t / 10 min) exp(kappa_s (T - 20))
    fog       = 1 - exp(-k_f theta)
    D         = base + stain + silver [(1 - developed) (1 - fog) kept + ghost developed]

`silver` is set by what the reference recipe leaves in the unexposed border (the parameter
`blacks`), which strips show, and not by what was coated, which they do not.

Completeness of the second development only scales `silver` when it is the same for all strips, and
is then not told apart from it; where a strip's second development failed, that strip alone gets
a factor of its own (see `obverse.inference`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from obverse.model.parameters import natural
from obverse.process import ALKALI, DILUTION, SOLVENT, TEMPERATURE, TIME, ControlVector

Array = NDArray[np.float64]

# An unexposed border stands for this log exposure.
UNEXPOSED = -9.0
# Pure water still holds the developer's own alkali, worth about this much of ours.
OWN_ALKALI_ML_PER_L = 2.0


@dataclass(frozen=True, slots=True)
class Layers:
    """What a strip is made of, each of the broadcast shape.

    Parameters
    ----------
    density : array
        With base and stain.
    image : array
        Density of the reversed image alone.
    developed : array
        Fraction of the halide turned to silver in the first development, fog apart.
    """

    density: Array
    image: Array
    developed: Array


def layers(coordinates: ArrayLike, controls: ArrayLike, log_exposure: ArrayLike) -> Layers:
    """Evaluate the process model.

    Parameters
    ----------
    coordinates : (M, P) array
        Draws of the parameters in their coordinates.
    controls : (T, 5) or (M, T, 5) array
        Strips, in the order of `CONTROLS`.
    log_exposure : (N,), (T, N) or (M, T, N) array

    Returns
    -------
    Layers
        Arrays of shape (M, T, N).
    """
    p = {
        name: value[:, None, None]
        for name, value in natural(np.atleast_2d(np.asarray(coordinates, dtype=float))).items()
    }
    c = ControlVector(controls)
    x = np.asarray(log_exposure, dtype=float)
    time = np.maximum(c[TIME], 1e-3)[..., None]
    solvent, alkali, parts = (np.maximum(c[control], 0.0)[..., None] for control in (SOLVENT, ALKALI, DILUTION))
    warmth = c[TEMPERATURE][..., None] - TEMPERATURE.reference

    y = (
        np.log(time / TIME.reference)
        + p["dilution_order"] * np.log((1.0 + DILUTION.reference) / (1.0 + parts))
        + p["alkali_activity"] * np.log((alkali + OWN_ALKALI_ML_PER_L) / (ALKALI.reference + OWN_ALKALI_ML_PER_L))
        + p["solvent_activity"] * (solvent - SOLVENT.reference) / 10.0
        + p["temperature_rate"] * warmth
    )
    theta = TIME.reference * np.exp(y)
    complete = -np.expm1(-np.minimum((theta / p["development_time"]) ** p["development_order"], 50.0))
    narrowing = np.exp(np.clip(p["steepen"] * y, -1.5, 1.5))
    u = (x - p["speed_point"] + p["push"] * y) * (narrowing / p["spread"])
    slow = p["slow_part"] / (1.0 + p["slow_part"])
    offset = p["slow_step"] * narrowing / p["spread"]
    developed = complete * ((1.0 - slow) * _skewed(u, p["skew"]) + slow * _skewed(u - offset, p["skew"]))

    e = p["alkali_solvent"]
    amount = (solvent + e * alkali) / (SOLVENT.reference + e * ALKALI.reference)
    load = (
        p["solvent_strength"]
        * np.maximum(amount, 1e-6) ** p["solvent_order"]
        * (time / TIME.reference)
        * np.exp(p["solvent_temperature_rate"] * warmth)
    )
    kept = np.exp(-np.minimum((load * (1.0 + p["solvent_selectivity"] * developed)) ** p["solvent_shape"], 50.0))
    clear_of_fog = np.exp(-np.minimum(p["fog_rate"] * theta, 50.0))
    # At the reference theta is 10 and the load is the solvent strength; nothing is developed in the border.
    fogged = TIME.reference * p["fog_rate"]
    silver = p["blacks"] * np.exp(np.minimum(fogged + p["solvent_strength"] ** p["solvent_shape"], 3.0))
    image = silver * (1.0 - developed) * clear_of_fog * kept
    density = image + silver * p["ghost"] * developed + p["stain"] + p["base"]
    return Layers(density, image, np.broadcast_to(developed, density.shape))


def density(coordinates: ArrayLike, controls: ArrayLike, log_exposure: ArrayLike) -> Array:
    """Density with base, shape (M, T, N); see `layers`."""
    return layers(coordinates, controls, log_exposure).density


def _skewed(u: Array, skew: Array) -> Array:
    """Skewed logistic: 1/2 at 0, from 0 to 1, symmetric for skew 1."""
    offset = np.log(np.expm1(skew * np.log(2.0)))
    return np.exp(-np.log1p(np.exp(np.minimum(offset - u * np.sqrt(skew), 300.0))) / skew)
