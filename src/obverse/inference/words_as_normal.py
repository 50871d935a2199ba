"""What the eye says, as a normal law: expectation propagation (Minka 2001, from memory).

A word puts a quantity of the strip between two soft thresholds. It enters as a normal law on that
quantity, chosen so that the belief has the mean and the spread that the word would give it. The
quantities bend with the coordinates of the curve (a strip that may be murky may be very murky, but
none is clearer than clear), so both are asked of curves spread over the belief, not of the slope
at its middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from obverse.foundation import Array
from obverse.inference.evenly import even_normals
from obverse.inference.evidence import EyeGrade, FilmEvidence
from obverse.inference.law import LEAST, MOST, D, K, Q
from obverse.model import LIGHT_OFFSET, read_curve
from obverse.sensitometry import GRADIENT_REACH, HIGHLIGHT_OFFSET

# A word is renewed by this part of the change, so that words that pull on each other come to rest.
DAMPING = 0.6
# Curves spread over the belief, of which a word is asked.
ASKED = 256
# A belief without a word keeps at least this part of its precision along what the word is about, and with it this part
# of its variance.
LEFT = 0.02
EXPOSURES = {
    "blacks": [-9.0],
    "midtones": [0.0],
    "highlights": [HIGHLIGHT_OFFSET],
    "contrast": [-GRADIENT_REACH, GRADIENT_REACH],
}


@dataclass(frozen=True)
class Site:
    """A word as a normal law.

    Parameters
    ----------
    direction : (D,) array
        Slope of what the word is about, by the strip's coordinates, knees and base.
    value : float
        What `direction` . v would be.
    target : float
        The same of the quantity itself.
    """

    direction: Array
    value: float
    target: float
    precision: float

    @classmethod
    def open(cls) -> Site:
        """A word that says nothing yet."""
        return cls(np.zeros(D), 0.0, 0.0, 0.0)


def seen(of: str, around: Array) -> Array:
    """What a word is about, of curves (..., D): the logarithm of the highlights, densities of the others."""
    read = read_curve(around[..., :Q], around[..., Q : Q + K], np.array(EXPOSURES[of]))
    if of == "contrast":
        before, beyond = np.moveaxis(read, -1, 0)
        slope: Array = (before - beyond) / (2 * GRADIENT_REACH)
        return slope
    told: Array = np.squeeze(read, -1)
    return np.log(told + LIGHT_OFFSET) if of == "highlights" else told


@cache
def _spread_out() -> Array:
    return even_normals(ASKED, D)


def renew_sites(evidence: FilmEvidence, sites: list[Site], around: Array, spread: Array) -> list[Site]:
    """The words once more, given where the strips are believed to lie and how surely.

    Parameters
    ----------
    around : (T, D) array
    spread : (T, D, D) array
        Covariance of the belief, the words included.
    """
    strips = np.array([grade.strip for grade in evidence.grades])
    direction = np.array([site.direction for site in sites])
    precision, value = (np.array([getattr(site, name) for site in sites]) for name in ("precision", "value"))
    # Without the word itself.
    at, covariance = around[strips], spread[strips]
    along = np.einsum("gde,ge->gd", covariance, direction)
    left = np.maximum(1.0 - precision * np.einsum("gd,gd->g", direction, along), LEFT)
    pulled = precision / left
    at = at + along * (pulled * (np.einsum("gd,gd->g", direction, at) - value))[:, None]
    covariance = covariance + pulled[:, None, None] * along[:, :, None] * along[:, None, :]
    strengths, axes = np.linalg.eigh(covariance)
    strengths = np.sqrt(np.maximum(strengths, 1e-9))
    root = (axes * strengths[:, None, :]) @ np.swapaxes(axes, 1, 2)
    inverse = (axes / strengths[:, None, :]) @ np.swapaxes(axes, 1, 2)
    curves = at[:, None, :] + _spread_out() @ root
    curves[..., :Q] = np.clip(curves[..., :Q], LEAST, MOST)
    return [
        _renewed(grade, site, seen(grade.of, curves[g]), at[g], inverse[g])
        for g, (grade, site) in enumerate(zip(evidence.grades, sites, strict=True))
    ]


def _renewed(grade: EyeGrade, site: Site, asked: Array, at: Array, inverse: Array) -> Site:
    """One word from what the curves spread over the belief without it show, (ASKED,)."""
    here = float(asked.mean())
    slope = _spread_out().T @ (asked - here) / ASKED
    straight = here + _spread_out() @ slope
    variance = max(float(slope @ slope), 1e-8)
    agrees = word_likelihood(grade, asked)
    total = float(agrees.sum())
    new_mean = float(agrees @ straight) / total
    # A word against all that is known is agreed to by the outermost curves alone: it narrows the belief no further than so.
    new_variance = max(float(agrees @ (straight - new_mean) ** 2) / total, LEFT * variance)
    precision = max(1.0 / new_variance - 1.0 / variance, 1e-6)
    target = (new_mean / new_variance - here / variance) / precision
    kept, told = (1.0 - DAMPING) * site.precision, DAMPING * precision
    direction = inverse @ slope
    target = (kept * site.target + told * target) / (kept + told)
    return Site(direction, target - here + float(direction @ at), target, kept + told)


def word_likelihood(grade: EyeGrade, quantity: Array) -> Array:
    """How likely the word is where the quantity is so much, thresholds being soft; in proportion, the likeliest is 1."""
    from scipy.special import log_ndtr  # takes longer to load than a strip without words to choose

    low, high = (grade.low - quantity) / grade.sd, (grade.high - quantity) / grade.sd
    turned = low + high > 0
    low, high = np.where(turned, -high, low), np.where(turned, -low, high)
    upper, lower = log_ndtr(high), log_ndtr(low)
    log_likely = upper + np.log1p(-np.exp(np.minimum(lower - upper, -1e-12)))
    result: Array = np.exp(log_likely - log_likely.max())
    return result
