"""Residuals of a film's unknowns against its evidence and its prior, whitened; all in one vector.

The covariance of each strip needs derivatives of the curve, so it is made at a reference point and
then held while the unknowns move (`Likelihood.at`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from obverse.inference.evidence import EYE_EXPOSURES, Evidence
from obverse.inference.law import BASE, FLOOR, STRIP_DEPARTURE_SD, Law
from obverse.model import NAMES, layers
from obverse.model.parameters import INDEX
from obverse.process import CONTROLS
from obverse.reference import number, record

Array = NDArray[np.float64]

# A strip that disagrees with all the others is believed less: a multivariate Student law of this many degrees.
STUDENT_DEGREES = 5.0
STRIP_REACH = 0.45
# The column of a strip's directions that follows those of its controls.
EXPOSURE = len(CONTROLS)
# Densities computed at once.
MOST_AT_ONCE = 2e6


@dataclass(frozen=True)
class Prior:
    """A normal prior over the unknowns.

    Parameters
    ----------
    mean, sd : (U,) arrays
    """

    mean: Array
    sd: Array


@dataclass(frozen=True)
class Strips:
    """How a strip departs from its film's law, at a reference point.

    Parameters
    ----------
    true : (T, N, R) array
        Root of the covariance of the strip's true curve about the law: R directions.
    noise : (T, N, N) array
        Covariance of the readings about the strip's true curve.
    smooth_sd : (T, N) array
        Standard deviation of the strip's smooth departure.
    shift : (T, N) array
        What the strip's noted faults and worn baths are expected to have added to its readings.
    """

    true: Array
    noise: Array
    smooth_sd: Array
    shift: Array


@dataclass(frozen=True)
class Likelihood:
    """Evidence, law and prior of one film, with whitening held at a reference point.

    Parameters
    ----------
    whiten : (T, N, N) array
        Inverse lower Cholesky factor of each strip's covariance; rows of padding are zero.
    """

    evidence: Evidence
    law: Law
    prior: Prior
    whiten: Array
    strips: Strips

    @classmethod
    def at(cls, evidence: Evidence, law: Law, prior: Prior, reference: Array, *, robust: bool) -> Likelihood:
        """Hold the covariances at `reference`, an array (U,); with `robust`, widen those of strips that disagree."""
        strips = strips_at(evidence, law, reference)
        covariance = strips.true @ np.swapaxes(strips.true, 1, 2) + strips.noise + _smooth(evidence, strips.smooth_sd)
        covariance = _masked(covariance, evidence.known)
        whiten = np.linalg.inv(np.linalg.cholesky(covariance)) if evidence.size else covariance
        whiten = whiten * evidence.known[:, :, None]
        if robust and evidence.size:
            r = _readings_residual(evidence, law, whiten, strips.shift, reference[None])[0]
            n = evidence.known.sum(axis=1)
            factor = np.maximum(1.0, (STUDENT_DEGREES + (r**2).sum(axis=1)) / (STUDENT_DEGREES + n))
            whiten = whiten / np.sqrt(factor)[:, None, None]
        return cls(evidence, law, prior, whiten, strips)

    def residuals(self, unknowns: Array) -> Array:
        """Residual vectors, shape (M, R); half their squared norm is minus the log posterior."""
        parts = [(unknowns - self.prior.mean) / self.prior.sd]
        if self.evidence.known.any():
            parts.append(
                _readings_residual(self.evidence, self.law, self.whiten, self.strips.shift, unknowns).reshape(
                    len(unknowns), -1
                )
            )
        if self.evidence.grades:
            parts.append(self._grades_residual(unknowns))
        return np.concatenate(parts, axis=1)

    def log_posterior(self, unknowns: Array) -> Array:
        """Unnormalised log posterior, shape (M,); many strips are taken a few draws at a time, for memory."""
        few = max(1, int(MOST_AT_ONCE / max(self.evidence.known.size, 1)))
        parts = [unknowns[i : i + few] for i in range(0, len(unknowns), few)]
        return np.concatenate([-0.5 * (self.residuals(part) ** 2).sum(axis=1) for part in parts])

    def _grades_residual(self, unknowns: Array) -> Array:
        strips = np.array([g.strip for g in self.evidence.grades])
        read = (
            self.law.density(unknowns, self.evidence.controls[strips], EYE_EXPOSURES)
            - np.exp(unknowns[:, BASE])[:, None, None]
        )
        seen = {
            "blacks": read[..., 0],
            "midtones": read[..., 2],
            "contrast": (read[..., 1] - read[..., 3]) / (EYE_EXPOSURES[3] - EYE_EXPOSURES[1]),
            "highlights": read[..., 4],
        }
        columns = []
        for i, g in enumerate(self.evidence.grades):
            value = seen[g.of][:, i]
            columns.append(
                np.sqrt(np.maximum(-2.0 * log_between((g.low - value) / g.sd, (g.high - value) / g.sd), 0.0) + 1e-12)
            )
        return np.stack(columns, axis=1)


def log_between(low: Array, high: Array) -> Array:
    """Log of the normal probability between two standardised limits."""
    flip = low + high > 0
    a, b = np.where(flip, -high, low), np.where(flip, -low, high)
    upper, lower = log_ndtr(b), log_ndtr(a)
    with np.errstate(divide="ignore", invalid="ignore"):
        return upper + np.log1p(-np.exp(np.minimum(lower - upper, -1e-12)))


def strips_at(evidence: Evidence, law: Law, reference: Array) -> Strips:
    """Directions and noises of the strips at a reference point (U,)."""
    t, n = evidence.known.shape
    directions, smooth = strip_directions(law, reference, evidence.controls, evidence.control_sd, evidence.log_exposure)
    offset = number("notebook.reading_offset_sd")
    noise = np.full((t, n, n), offset**2) + evidence.density_sd[:, :, None] ** 2 * np.eye(n)
    shift = np.zeros((t, n))
    for j, faults in enumerate(evidence.faults):
        for likely, direction in _added_directions(faults, evidence, law, reference, j, directions[j]):
            shift[j] += likely
            noise[j] += np.outer(direction, direction)
    return Strips(directions, noise, smooth, shift)


def strip_directions(
    law: Law, reference: Array, controls: Array, control_sd: Array, log_exposure: Array
) -> tuple[Array, Array]:
    """What one standard error of each control, and of the exposure, does to a curve.

    Returns
    -------
    directions : (T, N, K + 1) array, the exposure last
    smooth_sd : (T, N) array
        Standard deviation of a strip's smooth departure.
    """
    t, n = log_exposure.shape
    # The strip as it was made, then with an error in each control, then in the exposure.
    cases = len(CONTROLS) + 2
    moved = np.repeat(controls[:, None, :], cases, axis=1)
    steps = np.where(control_sd > 0, control_sd, 1e-9)
    for k in range(len(CONTROLS)):
        moved[:, k + 1, k] += steps[:, k]
    exposure_sd = number("notebook.strip_sd.log_exposure")
    x = np.repeat(log_exposure[:, None, :], cases, axis=1)
    x[:, EXPOSURE + 1] += exposure_sd
    curves = law.density(reference[None], moved.reshape(t * cases, len(CONTROLS)), x.reshape(t * cases, n))[0]
    curves = curves.reshape(t, cases, n)
    directions = np.swapaxes(curves[:, 1:] - curves[:, :1], 1, 2)
    above = curves[:, 0] - np.exp(reference[BASE])
    return directions, STRIP_DEPARTURE_SD * (above + FLOOR)


def smooth_kernel(a: Array, b: Array) -> Array:
    """Correlation of a strip's smooth departure between exposures (T, N) and (T, K): (T, N, K)."""
    clipped_a, clipped_b = np.clip(a, -2.5, 2.5), np.clip(b, -2.5, 2.5)
    return np.exp(-0.5 * ((clipped_a[:, :, None] - clipped_b[:, None, :]) / STRIP_REACH) ** 2)


def _smooth(evidence: Evidence, sd: Array) -> Array:
    return smooth_kernel(evidence.log_exposure, evidence.log_exposure) * sd[:, :, None] * sd[:, None, :]


def _masked(covariance: Array, known: NDArray[np.bool_]) -> Array:
    both = known[:, :, None] & known[:, None, :]
    return np.where(both, covariance, np.eye(covariance.shape[1])[None] if covariance.size else covariance)


def _readings_residual(evidence: Evidence, law: Law, whiten: Array, shift: Array, unknowns: Array) -> Array:
    predicted = law.density(unknowns, evidence.controls, evidence.log_exposure)
    gap = (evidence.density - shift - predicted) * evidence.known
    return np.einsum("tnk,mtk->mtn", whiten, gap, optimize=True)


def _added_directions(
    faults, evidence: Evidence, law: Law, reference: Array, strip: int, directions: Array
) -> list[tuple[Array, Array]]:
    """What each fault or worn bath adds to a strip: its likely shift, and the direction along which the strip says little of the film."""
    bleach, second_developer = evidence.worn[strip]
    if not faults and not bleach and not second_developer:
        return []
    seen = layers(
        reference[None, : len(NAMES)], evidence.controls[strip : strip + 1], evidence.log_exposure[strip : strip + 1]
    )
    developed, image = seen.developed[0, 0], seen.image[0, 0]
    silver = np.exp(reference[INDEX["blacks"]])
    found = []
    if "ghost_negative" in faults:
        found.append((0.15 * silver * developed, 0.25 * silver * developed))
    if "incomplete_second_development" in faults:
        # In terms of the film's own image: a direction made from the readings would favour weak films.
        found.append((-0.35 * image, 0.45 * image))
    for worn, sign, part, key in (
        (bleach, 1.0, silver * developed, "notebook.wear.bleach"),
        (second_developer, -1.0, image, "notebook.wear.second_developer"),
    ):
        if worn:
            known = record(key)
            found.append((sign * worn * known.value * part, worn * known.sd * part))
    if "stain" in faults:
        found.append((np.full_like(developed, 0.1), np.full_like(developed, 0.2)))
    if faults & {"underexposed", "overexposed"}:
        found.append(
            (np.zeros_like(developed), directions[:, EXPOSURE] / number("notebook.strip_sd.log_exposure") * 0.4)
        )
    return found
