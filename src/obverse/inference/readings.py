"""Readings of strips summed up: a quadratic form in each strip's curve coordinates, the film's knees and its base.

About a curve where the strip is believed to lie, the log likelihood of its readings is quadratic;
what matters of any number of readings is then its curvature (`Summary.information`) and its slope
(`Summary.pull`). The errors of readings are

    each reading   its stated uncertainty, and an error of its exposure in proportion to that
    the strip      an offset common to all its readings, part of it in proportion to the stated
                   uncertainty (rough readings share their errors), and a smooth error along exposure
    stain, ghost   directions along which a strip with that fault says little
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from obverse.foundation import Array
from obverse.inference.evidence import FilmEvidence
from obverse.inference.law import BASE, LEAST, MOST, D, K, P, Q
from obverse.inference.words_as_normal import Site
from obverse.model import PLACE, by_coordinate, read_curve, settle
from obverse.process import CONTROLS
from obverse.reference import number

# Smooth error of a strip's curve, as a part of its density, and how far along exposure it is alike.
WAVE_SD, WAVE_REACH, WAVE_FLOOR = (number(f"notebook.reading_wave.{part}") for part in ("sd", "reach", "floor"))
# Of a stated uncertainty: this part may be common to the strip's readings, and this is an error of log exposure.
COMMON_PART, EXPOSURE_PART = number("notebook.reading_common_part"), number("notebook.reading_exposure_part")
# A strip's own departure from its film's law, beyond what its controls explain.
STRIP_SD = by_coordinate("notebook.strip_departure_sd")
# How far the light on a strip differs from what was meant, log10.
EXPOSURE_SD = number("notebook.strip_sd.log_exposure")
# No error of a control moves a coordinate by more than this; a strip that uncertain teaches nothing.
FARTHEST = 3.0
# Rounds of damped least squares to where a strip seems to lie, how the damping falls and rises, and how many of `START_SD` from
# the centre a round may end: coordinates of a curve, each knee, and the logarithm of the base, loosely.
STARTS = 14
DAMPING_FALLS, DAMPING_RISES = 5, 8
FARTHEST_START = 4
START_SD = np.array([0.6, 1.0, 0.6, 0.5, 0.5, *([0.3] * K), 0.5])
# Readings of a start are taken no sharper than this, so that one of them does not pull a strip away from all the others.
START_READING_SD = 0.03
# Stated uncertainties beyond this tell of their exposure and their zero no more than this one does.
MOST_STATED_SD = 0.2
# Log exposure to either side over which the slope of a curve is taken, and beyond which its smooth error changes no more.
SLOPE_REACH, WAVE_END = 0.02, 2.5
_STEP = 1e-5


@dataclass(frozen=True)
class Summary:
    """Readings and words of all strips, summed up.

    Parameters
    ----------
    information : (T, D, D) array
    pull : (T, D) array
        The log likelihood of strip t is v . pull - v . information . v / 2 in its coordinates, knees and base v.
    """

    information: Array
    pull: Array


def predicted(around: Array, log_exposure: Array) -> Array:
    """Densities with base at (T, N) exposures, from coordinates, knees and log base (T, D)."""
    return np.exp(around[:, -1:]) + read_curve(around[:, :Q], around[:, Q : Q + K], log_exposure)


def reading_slopes(around: Array, log_exposure: Array) -> tuple[Array, Array]:
    """Densities (T, N) and their derivatives (T, N, D) by central differences."""
    t = len(around)
    moved = np.concatenate([around[:, None, :] + sign * _STEP * np.eye(D) for sign in (1.0, -1.0)], axis=1)
    x = np.repeat(log_exposure, 2 * D, axis=0)
    read = predicted(moved.reshape(-1, D), x).reshape(t, 2, D, -1)
    return predicted(around, log_exposure), np.moveaxis((read[:, 0] - read[:, 1]) / (2 * _STEP), 1, 2)


def noise(evidence: FilmEvidence, around: Array, density: Array) -> Array:
    """Covariances of the readings about each strip's true curve, (T, N, N); padding is harmless."""
    x, sd = evidence.log_exposure, evidence.density_sd
    n = x.shape[1]
    slope = (predicted(around, x + SLOPE_REACH) - predicted(around, x - SLOPE_REACH)) / (2 * SLOPE_REACH)
    exposure = slope * EXPOSURE_PART * np.minimum(sd, MOST_STATED_SD)
    typical = np.sqrt(
        np.where(evidence.known, np.minimum(sd, MOST_STATED_SD) ** 2, 0.0).sum(1) / np.maximum(evidence.known.sum(1), 1)
    )
    offset = np.hypot(number("notebook.reading_offset_sd"), COMMON_PART * typical)
    total = (sd**2 + exposure**2)[:, :, None] * np.eye(n) + (offset**2)[:, None, None]
    wave = _waves(around, x, density)
    total = total + _together(wave, wave)
    total = total + evidence.stain_sd[:, None, None] ** 2
    both = evidence.known[:, :, None] & evidence.known[:, None, :]
    return np.where(both, total, np.eye(n))


def _waves(around: Array, log_exposure: Array, density: Array) -> tuple[Array, Array]:
    """Where along a strip's smooth departure it is asked, and how wide that is there: (T, N) each."""
    above = np.maximum(density - np.exp(around[:, -1:]), 0.0) + WAVE_FLOOR
    return np.clip(log_exposure, -WAVE_END, WAVE_END), WAVE_SD * above


def _together(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array:
    """Covariance of the smooth departure between places along a strip, (T, A, B)."""
    near = np.exp(-0.5 * ((one[0][:, :, None] - other[0][:, None, :]) / WAVE_REACH) ** 2)
    result: Array = near * one[1][:, :, None] * other[1][:, None, :]
    return result


def departed(evidence: FilmEvidence, curves: Array, log_exposure: Array, normals: Array) -> Array:
    """How far the strips' densities lie off what their coordinates give, by what their readings leave over.

    Parameters
    ----------
    curves : (M, T, D) array
        Draws of each strip's coordinates, knees and log base.
    log_exposure : (T, N) array
        Where it is asked.
    normals : (M, T, N) array

    Returns
    -------
    (M, T, N) array
        None where a strip was not read.
    """
    around = np.median(curves, axis=0)
    density, slopes = reading_slopes(around, evidence.log_exposure)
    here = _waves(around, evidence.log_exposure, density)
    there = _waves(around, log_exposure, predicted(around, log_exposure))
    total = noise(evidence, around, density)
    across = _together(there, here) * evidence.known[:, None, :]
    told = np.swapaxes(np.linalg.solve(total, np.swapaxes(across, 1, 2)), 1, 2)
    left = _together(there, there) - told @ np.swapaxes(across, 1, 2)
    gap = (evidence.density - evidence.stain_shift[:, None] - density) * evidence.known
    # What a draw's own curve leaves over: the curves of the draws lie near each other.
    drawn = np.einsum("tan,tnd->tad", told, slopes)
    mean = np.einsum("tan,tn->ta", told, gap) - np.einsum("tad,mtd->mta", drawn, curves - around)
    own = np.einsum("tab,mtb->mta", roots(left), normals)
    result: Array = np.where(evidence.has_readings[:, None], mean + own, 0.0)
    return result


def roots(matrices: Array) -> Array:
    """Symmetric roots of positive semi-definite matrices (T, N, N)."""
    values, axes = np.linalg.eigh(matrices)
    result: Array = (axes * np.sqrt(np.maximum(values, 0.0))[:, None, :]) @ np.swapaxes(axes, 1, 2)
    return result


def sum_up(evidence: FilmEvidence, around: Array, sites: list[Site]) -> Summary:
    """Sum up readings and words about coordinates, knees and log base (T, D)."""
    t = evidence.size
    information, pull = np.zeros((t, D, D)), np.zeros((t, D))
    if evidence.known.any():
        density, slopes = reading_slopes(around, evidence.log_exposure)
        slopes = slopes * evidence.known[:, :, None]
        gap = (evidence.density - evidence.stain_shift[:, None] - density) * evidence.known
        target = gap + np.einsum("tnd,td->tn", slopes, around)
        weighed = np.linalg.solve(noise(evidence, around, density), slopes)
        information = np.swapaxes(slopes, 1, 2) @ weighed
        pull = np.einsum("tnd,tn->td", weighed, target)
    for grade, site in zip(evidence.grades, sites, strict=True):
        information[grade.strip] += site.precision * np.outer(site.direction, site.direction)
        pull[grade.strip] += site.precision * site.value * site.direction
    return Summary(0.5 * (information + np.swapaxes(information, 1, 2)), pull)


def start(evidence: FilmEvidence, mean: Array, alpha: Array) -> Array:
    """Where each strip seems to lie by its own readings, near `mean` (T, Q) where they say nothing; (T, D).

    A few damped least-squares steps for every strip by itself, all at once.
    """
    common = np.concatenate([alpha[P : P + K], alpha[BASE : BASE + 1]])
    centre = np.concatenate([np.clip(mean + evidence.shift, LEAST, MOST), np.tile(common, (evidence.size, 1))], axis=1)
    if not evidence.known.any():
        return centre
    spread = START_SD
    sd = np.hypot(evidence.density_sd, START_READING_SD)

    def cost(at: Array) -> Array:
        gap = (evidence.density - predicted(at, evidence.log_exposure)) / sd * evidence.known
        result: Array = (gap**2).sum(1) + (((at - centre) / spread) ** 2).sum(1)
        return result

    at, damping = centre, np.full(evidence.size, 1e-2)
    value = cost(at)
    for _ in range(STARTS):
        density, slopes = reading_slopes(at, evidence.log_exposure)
        scaled = slopes / sd[:, :, None] * evidence.known[:, :, None]
        gap = (evidence.density - density) / sd * evidence.known
        hessian = np.swapaxes(scaled, 1, 2) @ scaled + np.diag(spread**-2.0)
        gradient = np.einsum("tnd,tn->td", scaled, gap) - (at - centre) / spread**2
        diagonal = np.einsum("tdd->td", hessian)
        damped = hessian + damping[:, None, None] * diagonal[:, :, None] * np.eye(D)
        tried = at + np.linalg.solve(damped, gradient[..., None])[..., 0]
        tried = centre + np.clip((tried - centre) / spread, -FARTHEST_START, FARTHEST_START) * spread
        tried[:, :Q] = np.clip(tried[:, :Q], LEAST, MOST)
        new = cost(tried)
        better = new < value
        at, value = np.where(better[:, None], tried, at), np.where(better, new, value)
        damping = np.where(better, damping / DAMPING_FALLS, damping * DAMPING_RISES)
    return at


def strip_errors(parameters: Array, controls: Array, control_sd: Array) -> Array:
    """Covariance of strips' own curve coordinates about the law, (T, Q, Q).

    Parameters
    ----------
    parameters : (P,) array
    controls, control_sd : (T, 5) arrays
    """
    t, kinds = len(controls), len(CONTROLS)
    # As they are, and with each control once more and once less.
    steps = np.concatenate([np.zeros((1, kinds)), np.eye(kinds), -np.eye(kinds)])
    moved = settle(parameters[None], (controls + control_sd * steps[:, None]).reshape(-1, kinds))[0]
    here, more, less = np.split(moved.reshape(-1, t, Q), [1, 1 + kinds])
    none = (controls < control_sd).T[..., None]
    direction = np.clip(np.where(none, more - here, 0.5 * (more - less)), -FARTHEST, FARTHEST)
    total: Array = np.einsum("ktq,ktr->tqr", direction, direction) + np.diag(STRIP_SD**2)
    total[:, PLACE, PLACE] += EXPOSURE_SD**2
    return total
