"""Which cause made a strip look so: a comparison of hypotheses on the process model.

Each hypothesis is the process model with one thing gone wrong; its evidence is Laplace's, about the
parameters that explain the readings best. Readings carry their own noise, an offset, and a smooth
departure of a strip from any law, so a fault must be larger than what strips do by themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from obverse.model import NAMES, PRIOR_MEAN, PRIOR_SD, control_array, layers

Array = NDArray[np.float64]

# What a strip departs from its law by, and how smoothly (in log exposure); the zero of a light panel.
DEPARTURE, REACH, OFFSET, ROUGH = 0.025, 0.6, 0.01, 0.006
STEPS = 14
# Controls that are not known move the strip: development by a factor, dissolution by another.
UNKNOWN_DEVELOPMENT, UNKNOWN_DISSOLUTION = 0.4, 0.9
# A film learned from other strips may still surprise by this share of what was believed before.
SURPRISE = 0.15


@dataclass(frozen=True)
class Hypothesis:
    """One explanation of a strip.

    Parameters
    ----------
    fault : str
        Empty for a sound strip.
    odds : float
        Before the strip is seen; our judgement of how often it happens.
    parameters : dict
        Model parameters whose belief it replaces: (mean, sd) in the coordinate.
    extra : tuple or None
        Mean and sd of one parameter of its own.
    apply : callable
        From (coordinates (M, P), extra (M,), controls, x) to densities (M, N).
    """

    fault: str
    odds: float
    parameters: dict[str, tuple[float, float]] = field(default_factory=dict)
    extra: tuple[float, float] | None = None
    apply: Callable[[Array, Array, Array, Array], Array] | None = None


def _plain(coordinates: Array, extra: Array, controls: Array, x: Array) -> Array:
    return layers(coordinates, controls, x).density[:, 0]


def _scaled(coordinates: Array, extra: Array, controls: Array, x: Array) -> Array:
    seen = layers(coordinates, controls, x)
    part = 1 / (1 + np.exp(-extra))[:, None]
    return (seen.density - (1 - part[:, None]) * seen.image)[:, 0]


def _shifted(coordinates: Array, extra: Array, controls: Array, x: Array) -> Array:
    return layers(coordinates, controls, np.broadcast_to(x, (len(coordinates), 1, x.size)) + extra[:, None, None]).density[:, 0]


HYPOTHESES = (
    Hypothesis("", 0.72),
    # A ghost one can see: some hundredths of the developed silver stay.
    Hypothesis("ghost_negative", 0.07, {"ghost": (np.log(0.09), 0.5)}),
    # A third to nine tenths of the image came out.
    Hypothesis("incomplete_second_development", 0.07, extra=(0.3, 0.7), apply=_scaled),
    Hypothesis("stain", 0.05, {"stain": (np.log(0.25), 0.5)}),
    Hypothesis("underexposed", 0.045, extra=(-0.6, 0.25), apply=_shifted),
    Hypothesis("overexposed", 0.045, extra=(0.6, 0.25), apply=_shifted),
)


def beliefs(film_draws: Array | None, controls_known: bool) -> tuple[Array, Array]:
    """Mean (P,) and covariance (P, P) of the model's parameters before this strip.

    Parameters
    ----------
    film_draws : (M, >=P) array or None
        Draws of the film from its other strips; None where nothing is known of it.
    controls_known : bool
    """
    if film_draws is None or len(film_draws) < 4:
        mean, covariance = PRIOR_MEAN.copy(), np.diag(PRIOR_SD**2)
    else:
        draws = film_draws[:, : len(NAMES)]
        mean = draws.mean(axis=0)
        covariance = np.cov(draws.T) + np.diag((SURPRISE * PRIOR_SD) ** 2)
    if not controls_known:
        covariance = covariance.copy()
        for name, more in (("development_time", UNKNOWN_DEVELOPMENT), ("solvent_strength", UNKNOWN_DISSOLUTION)):
            i = NAMES.index(name)
            covariance[i, i] += more**2
    return mean, covariance


def compare(
    x: Array,
    d: Array,
    sd: Array,
    *,
    base_density: float | None = None,
    controls: dict[str, float] | None = None,
    film_draws: Array | None = None,
) -> dict[str, float]:
    """Probability of each hypothesis, by fault ("" is sound).

    Parameters
    ----------
    x, d, sd : (N,) arrays
        Log exposure, density with base, standard uncertainty.
    base_density : float, optional
    controls : dict, optional
        What was done, where known.
    film_draws : (M, >=P) array, optional
        The film as its other strips have taught it. Without it a shifted exposure cannot be told
        from a faster film, and is not looked for.
    """
    mean, covariance = beliefs(film_draws, controls is not None)
    if base_density is not None:
        i = NAMES.index("base")
        mean[i] = np.log(max(base_density, 0.005))
        covariance[i, :] = covariance[:, i] = 0.0
        covariance[i, i] = (0.01 / max(base_density, 0.02)) ** 2
    settings = control_array(controls or {})[None]
    amplitude = DEPARTURE * (0.3 + np.maximum(d - d.min(), 0))
    smooth = np.exp(-0.5 * ((x[:, None] - x[None]) / REACH) ** 2) * amplitude[:, None] * amplitude[None]
    noise = smooth + OFFSET**2 + np.diag(sd**2 + ROUGH**2)
    whiten = np.linalg.inv(np.linalg.cholesky(noise))
    tried = [h for h in HYPOTHESES if film_draws is not None or h.apply is not _shifted]
    logs = np.array([np.log(h.odds) + _log_evidence(h, mean, covariance, settings, x, d, whiten) for h in tried])
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    return {h.fault: float(share) for h, share in zip(tried, shares, strict=True)}


def _log_evidence(h: Hypothesis, mean: Array, covariance: Array, settings: Array, x: Array, d: Array, whiten: Array) -> float:
    mean, covariance = mean.copy(), covariance.copy()
    for name, (centre, spread) in h.parameters.items():
        i = NAMES.index(name)
        mean[i] = centre
        covariance[i, :] = covariance[:, i] = 0.0
        covariance[i, i] = spread**2
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(mean.size))
    apply = h.apply or _plain
    extra_mean, extra_sd = h.extra or (0.0, 1.0)
    size = mean.size + (1 if h.extra else 0)

    def residuals(z: Array) -> Array:
        """Whitened misfit (M, N) at standardised unknowns (M, U)."""
        extra = extra_mean + extra_sd * z[:, -1] if h.extra else np.zeros(len(z))
        return (d - apply(mean + z[:, : mean.size] @ root.T, extra, settings, x)) @ whiten.T

    z = np.zeros(size)
    damping, value, step = 1e-2, np.inf, 1e-4
    for _ in range(STEPS):
        batch = residuals(np.concatenate([z[None], z + step * np.eye(size)]))
        r, jacobian = batch[0], (batch[1:] - batch[0]).T / step
        value = r @ r + z @ z
        curvature = jacobian.T @ jacobian + np.eye(size)
        gradient = jacobian.T @ r + z
        moves = np.array([np.linalg.solve(curvature + k * damping * np.diag(np.diag(curvature)), gradient) for k in (0.05, 1.0, 20.0)])
        candidates = z - np.clip(moves, -1.5, 1.5)
        values = (residuals(candidates) ** 2).sum(axis=1) + (candidates**2).sum(axis=1)
        best = int(np.argmin(values))
        if values[best] >= value - 1e-3:
            if values[best] < value:
                z = candidates[best]
            if damping > 1e3:
                break
            damping *= 20
            if values[best] >= value:
                continue
            break
        z = candidates[best]
        damping = max(damping * (0.05, 1.0, 20.0)[best], 1e-6)
    batch = residuals(np.concatenate([z[None], z + step * np.eye(size)]))
    r, jacobian = batch[0], (batch[1:] - batch[0]).T / step
    _, log_det = np.linalg.slogdet(jacobian.T @ jacobian + np.eye(size))
    return float(-0.5 * (r @ r + z @ z + log_det))
