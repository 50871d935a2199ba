"""Veiling glare over the strip: a bound, a prior or an opaque piece beside it, and the contrast of the film's grain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from obverse.foundation import QUANTILES_90, Estimate

_LEVELS = 240  # of glare that are weighed
# What habit and the darkest part leave of the glare, 90 %: pictures by three other hands had hardly ever more, and hardly any lens or
# scanner of four had less than such a part of the mean.
_HABIT_ENDS, _CLEAN = (0.05, 0.78), 0.1
_FARTHEST = 4.0  # spreads above a typical one, beyond which no glare is weighed
_DARKEST_FILM = 6e-4  # what the densest film lets through, density 3.2
_LAWLESS = 1 / 3  # how likely a film's grain does not follow the law: of nine brackets by another hand three did not
_TOLD = 0.7  # share of the uncertainty that must go before the grain is said to have told the glare
_FEWEST = 3  # patches whose grain shows; fewer cannot tell grain from glare
_TAIL = 4.0  # degrees of freedom of Student's law: one streaky patch must not decide
_EXPONENTS = np.linspace(-2.4, 2.4, 13)  # in standard deviations
_PATTERNS = np.array([0.0, 0.5, 1.0, 1.7, 2.5])  # times the usual one
_LEAST_DENSITY = 0.02  # of which grain is foretold
_ROUNDS = 4  # of the robust amount of grain


@dataclass(frozen=True, eq=False)
class Grain:
    """How strongly the grain of each patch shows; what two exposures of the same place share is no sensor noise.

    Parameters
    ----------
    level : ndarray, shape (n,)
        Light of the patch, glare included, fraction of the open panel.
    contrast : ndarray, shape (n,)
        Variance of that light from pixel to pixel, divided by the level squared.
    sd : ndarray, shape (n,)
        Standard uncertainty of `contrast`.
    """

    level: np.ndarray
    contrast: np.ndarray
    sd: np.ndarray


@dataclass(frozen=True)
class GlarePrior:
    """What is known of the glare before the strip's own light is looked at.

    Parameters
    ----------
    kinds : sequence of (typical, spread)
        For each kind of device that may have taken the picture, all as likely, or by an opaque piece: median of the glare (fraction
        of the panel) and the standard deviation of that in natural logarithms.
    exponent, exponent_sd : float
        The grain's standard deviation in density goes as this power of density.
    scatter : float
        Relative standard deviation of a patch's grain variance about that law.
    pattern : float
        Relative standard deviation from pixel to pixel that every picture shares: the sensor's own.
    any_darkness : float
        How likely it is, 0 to 1, that the darkest part is as likely dense as twice as dense, so that nearly all that it shows may
        be glare; otherwise its own light is as likely any share of that.
    measured : bool
        By an opaque piece; where only habit speaks for any glare there may be hardly any.
    """

    kinds: tuple[tuple[float, float], ...]
    exponent: float
    exponent_sd: float
    scatter: float
    pattern: float
    any_darkness: float = 0.0
    measured: bool = False


@dataclass(frozen=True)
class Veil:
    """Glare over a strip as a fraction of the open panel, and whether the grain told it."""

    glare: Estimate
    from_grain: bool


def glare_over_strip(darkest: float, prior: GlarePrior, grain: Grain | None = None) -> Veil:
    """Veiling glare over a strip: mean and standard deviation of what remains possible, and a 90 % interval.

    Parameters
    ----------
    darkest : float
        Level of the darkest part of the picture, fraction of the open panel. It lets some light of
        its own through, so that it bounds the glare from above.
    grain : Grain, optional
        Of the patches of the strip.

    Notes
    -----
    Glare lies over the grain and thins it: where a part of transmittance T shows the level T + g, the
    contrast of its grain falls by T / (T + g). How much grain there is at a density is not known, but
    it rises smoothly: for grains strewn at random the variance of density is proportional to density
    (P. G. Nutting, 1913), so its standard deviation goes as the root; the amount is free here and the
    exponent nearly so. With the glare rightly taken off, dark patches show as much grain as that.
    Where the law does not hold for a film it does not for all its patches alike, and the grain says nothing:
    the mean is that by the law, what it may be off by holds both.
    """
    if darkest <= 0:
        return Veil(Estimate(0.0, 0.0), False)
    most = min(darkest, max(typical * np.exp(_FARTHEST * spread) for typical, spread in prior.kinds))
    glare = most * (np.arange(_LEVELS) + 0.5) / _LEVELS
    each = [-0.5 * (np.log(glare / typical) / spread) ** 2 - np.log(spread) for typical, spread in prior.kinds]
    own = darkest / np.maximum(darkest - glare, _DARKEST_FILM)
    dark = np.log(1 - prior.any_darkness + prior.any_darkness * own / own.mean())
    logs = np.logaddexp.reduce(each, axis=0) - np.log(glare) + dark
    either = weight = _weights(logs)
    told = grain is not None and len(grain.level) >= _FEWEST
    if grain is not None and told:
        weight = _weights(logs + _from_grain(glare, prior, grain))
        either = (1 - _LAWLESS) * weight + _LAWLESS * either
    mean = float((weight * glare).sum())
    sd = float(np.sqrt((either * (glare - mean) ** 2).sum()))
    known = told or prior.measured
    ends = (QUANTILES_90[0], QUANTILES_90[-1]) if known else _HABIT_ENDS
    low, high = (float(np.interp(q, np.cumsum(either), glare)) for q in ends)
    # Where nothing but habit speaks for any glare, a clean lens has little; few have none.
    estimate = Estimate(mean, sd, min(low, mean) if known else min(low, _CLEAN * mean), max(high, mean))
    return Veil(estimate, _spread(weight, glare) < _TOLD * _spread(_weights(logs), glare))


def _weights(logs: np.ndarray) -> np.ndarray:
    weight = np.exp(logs - logs.max())
    return np.asarray(weight / weight.sum())


def _spread(weight: np.ndarray, glare: np.ndarray) -> float:
    """Standard deviation of glare by its weights."""
    return float(np.sqrt((weight * (glare - (weight * glare).sum()) ** 2).sum()))


def _from_grain(glare: np.ndarray, prior: GlarePrior, grain: Grain) -> np.ndarray:
    """Log likelihood of each glare (n,); amount of grain, exponent and sensor pattern are summed out."""
    exponents, patterns = prior.exponent + prior.exponent_sd * _EXPONENTS, prior.pattern * _PATTERNS
    through = np.maximum(grain.level - glare[:, None], 1e-6)
    density = np.maximum(-np.log10(np.minimum(through, 1.0)), _LEAST_DENSITY)
    # Axes: glare, exponent, pattern, patch.
    shape = (through / grain.level)[:, None, None] ** 2 * density[:, None, None] ** (2 * exponents[None, :, None, None])
    # A patch that by chance shows little grain also scatters little; taken at its word it would weigh
    # too much. So the part of the scatter that is the grain's own follows the law, not the patch.
    own = float(np.median(grain.sd / np.maximum(grain.contrast, grain.sd)))
    noise = np.maximum(grain.sd**2 - (own * grain.contrast) ** 2, 0.0)
    share = own**2 + prior.scatter**2
    seen = (grain.contrast - (patterns**2)[:, None])[None, None]
    amount = np.median(np.maximum(seen, 1e-7) / shape, axis=-1, keepdims=True)
    for _ in range(_ROUNDS):
        expected = amount * shape
        # (tail + 1) / (tail + deviation^2 / variance) / variance, each pass over so many numbers being dear.
        weight = (_TAIL + 1) / (_TAIL * _variance(expected, noise, share) + (seen - expected) ** 2)
        weighted = weight * shape
        amount = np.maximum(_dot(weighted, seen) / _dot(weighted, shape), 1e-9)[..., None]
    expected = amount * shape
    variance = _variance(expected, noise, share)
    logs = (-(_TAIL + 1) / 2 * np.log1p((seen - expected) ** 2 / variance / _TAIL) - 0.5 * np.log(variance)).sum(-1)
    # The amount has a flat prior in its logarithm; its width there is summed out as a normal one.
    logs -= 0.5 * np.log(np.maximum(_dot(weighted, shape) * amount[..., 0] ** 2, 1.0))
    logs -= 0.5 * _EXPONENTS[None, :, None] ** 2 + 0.5 * _PATTERNS[None, None, :] ** 2
    top = logs.max()
    result: np.ndarray = top + np.log(np.exp(logs - top).sum((1, 2)) + 1e-300)
    return result


def _variance(expected: np.ndarray, noise: np.ndarray, share: float) -> np.ndarray:
    """Of the contrast of patches that is expected: by what it is read to, and the grain's own."""
    return np.asarray(share * expected**2 + (noise + 1e-18))


def _dot(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Sums over the patches of products."""
    return np.asarray(np.einsum("...i,...i->...", first, second))
