"""From evidence to draws: least squares, Laplace, and where that cannot be trusted, a small sampler.

1. Least squares (Levenberg-Marquardt) from the prior mean and from the best of a few dozen prior
   draws finds one or more modes.
2. Each mode carries a normal approximation (Laplace), stretched along each principal axis, up and
   down, as far as the posterior truly reaches (split normal); draws come from their mixture.
3. The true log posterior of the draws tells how good that is: the effective share of their
   importance weights. If it is low (skewed, bounded or several-humped posteriors), every draw
   becomes the start of a short Markov chain whose proposals keep a normal law unchanged
   (preconditioned Crank-Nicolson), so that only the departure from normality must be accepted.
   That law is the mode's at first and then follows the population of chains.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.inference.evidence import Evidence
from obverse.inference.law import Law
from obverse.inference.likelihood import Likelihood, Prior

Array = NDArray[np.float64]

MOST_STEPS = 25
STARTS_TRIED = 48
# Chains are run where the effective share of importance weights falls below the first; long ones below the second.
TRUST, DISTRUST = 0.6, 0.1
SHORT_CHAIN, LONG_CHAIN = 15, 32
# Two starts for no more strips than this; chains cost no more than this many densities.
FEW_STRIPS = 8
CHAIN_BUDGET = 1.2e7
ADAPT_EVERY, WIDER = 6, 1.15
PROBES = (1.0, 2.0)


@dataclass(frozen=True)
class Mode:
    """A mode of the posterior with its normal approximation.

    Parameters
    ----------
    point : (U,) array
    root : (U, U) array
        Root of the covariance: its columns are the principal axes, in prior widths.
    log_weight : float
        Log evidence under the approximation, up to a common constant.
    """

    point: Array
    root: Array
    log_weight: float
    likelihood: Likelihood


@dataclass(frozen=True)
class Posterior:
    """Draws of the unknowns and how they were made.

    Parameters
    ----------
    draws : (M, U) array
    mode : Mode
        The heaviest.
    modes : int
        How many were kept.
    effective_share : float
        Effective share of the importance weights of the normal approximation, 0 to 1.
    chain_steps : int
        Steps of the sampler; 0 where the normal approximation was trusted.
    """

    draws: Array
    mode: Mode
    modes: int
    effective_share: float
    chain_steps: int


def infer(evidence: Evidence, law: Law, priors: list[Prior], *, draws: int, seed: int) -> Posterior:
    """Draw from the posterior under a mixture of equally likely priors.

    Parameters
    ----------
    priors : list of Prior
        Usually one, the broad one; more when others were learned from known films.
    """
    rng = np.random.default_rng(seed)
    if not evidence.known.any() and not evidence.grades:
        return _prior_draws(evidence, law, priors, draws, rng)
    modes: list[Mode] = []
    for prior in priors:
        modes += _modes(evidence, law, prior, rng)
    modes.sort(key=lambda m: -m.log_weight)
    modes = [m for m in modes if m.log_weight > modes[0].log_weight - 5.0]
    weights = np.exp([m.log_weight - modes[0].log_weight for m in modes])
    counts = _shares(weights / weights.sum(), draws)
    made, shares, steps = [], [], 0
    for mode, count in zip(modes, counts, strict=True):
        if count == 0:
            continue
        sample, share, used = sample_mode(mode, count, rng)
        made.append(sample)
        shares.append(share * count)
        steps = max(steps, used)
    return Posterior(np.concatenate(made), modes[0], sum(c > 0 for c in counts), float(sum(shares) / draws), steps)


def _prior_draws(evidence: Evidence, law: Law, priors: list[Prior], draws: int, rng) -> Posterior:
    counts = _shares(np.full(len(priors), 1 / len(priors)), draws)
    parts = [p.mean + p.sd * rng.standard_normal((n, len(p.mean))) for p, n in zip(priors, counts, strict=True)]
    held = Likelihood.at(evidence, law, priors[0], priors[0].mean, robust=False)
    return Posterior(np.concatenate(parts), Mode(priors[0].mean, np.diag(priors[0].sd), 0.0, held), len(priors), 1.0, 0)


def _shares(weights: Array, total: int) -> list[int]:
    counts = np.floor(weights * total).astype(int)
    counts[0] += total - counts.sum()
    return [int(c) for c in counts]


def _modes(evidence: Evidence, law: Law, prior: Prior, rng) -> list[Mode]:
    held = Likelihood.at(evidence, law, prior, prior.mean, robust=False)
    tried = prior.mean + prior.sd * rng.standard_normal((STARTS_TRIED, len(prior.mean)))
    best = tried[np.argmax(held.log_posterior(tried))]
    found: list[Mode] = []
    # With many strips every start ends in the same place.
    for start in (prior.mean, best)[: 2 if evidence.size <= FEW_STRIPS else 1]:
        mode = _climb(evidence, law, prior, start)
        if all(np.max(np.abs(np.linalg.solve(other.root, mode.point - other.point))) > 1.0 for other in found):
            found.append(mode)
    return found


def _climb(evidence: Evidence, law: Law, prior: Prior, start: Array) -> Mode:
    point = start
    for robust, steps in ((False, 6), (True, 8), (True, MOST_STEPS)):
        held = Likelihood.at(evidence, law, prior, point, robust=robust)
        point, jacobian = _least_squares(held, point, steps)
    # The prior's rows make this matrix positive definite whatever the strips say.
    scaled = jacobian * prior.sd
    precision, axes = np.linalg.eigh(scaled.T @ scaled)
    root = prior.sd[:, None] * axes / np.sqrt(precision)
    log_det = -0.5 * np.log(precision).sum()
    whiten_det = _log_whiten(held)
    return Mode(point, root, float(held.log_posterior(point[None])[0] + log_det + whiten_det), held)


def _log_whiten(held: Likelihood) -> float:
    diagonal = np.einsum("tnn->tn", held.whiten)[held.evidence.known]
    return float(np.log(diagonal).sum())


def _least_squares(held: Likelihood, start: Array, most_steps: int) -> tuple[Array, Array]:
    """Levenberg-Marquardt; Jacobian by forward differences in the prior's own scale, all at once."""
    point, damping = start, 1e-3
    step = 1e-4 * held.prior.sd
    residual, jacobian = _linearise(held, point, step)
    value = residual @ residual
    for _ in range(most_steps):
        gradient, curvature = jacobian.T @ residual, jacobian.T @ jacobian
        diagonal = np.diag(np.diag(curvature))
        tried = np.array(
            [point - np.linalg.solve(curvature + d * diagonal, gradient) for d in (damping / 10, damping, damping * 30)]
        )
        # Stay where the prior could possibly be: a step of many prior widths is never a good one.
        tried = np.clip(tried, held.prior.mean - 6 * held.prior.sd, held.prior.mean + 6 * held.prior.sd)
        values = (held.residuals(tried) ** 2).sum(axis=1)
        best = int(np.argmin(values))
        if not values[best] < value:
            damping *= 100
            if damping > 1e8:
                break
            continue
        damping = max((damping / 10, damping, damping * 30)[best], 1e-7)
        gain = value - values[best]
        point, value = tried[best], values[best]
        residual, jacobian = _linearise(held, point, step)
        if gain < 1e-3:
            break
    return point, jacobian


def _linearise(held: Likelihood, point: Array, step: Array) -> tuple[Array, Array]:
    batch = np.concatenate([point[None], point + np.diag(step)])
    residuals = held.residuals(batch)
    return residuals[0], (residuals[1:] - residuals[0]).T / step


def sample_mode(mode: Mode, count: int, rng) -> tuple[Array, float, int]:
    """Draws of one mode, the effective share of their weights, and the steps of the sampler."""
    size = len(mode.point)
    scales = _scales(mode)
    side = (rng.random((count, size)) < scales[1] / scales.sum(axis=0)).astype(int)
    unit = np.abs(rng.standard_normal((count, size)))
    reach = np.where(side == 1, scales[1], -scales[0])
    draws = mode.point + (unit * reach) @ mode.root.T
    log_posterior = mode.likelihood.log_posterior(draws)
    gap = log_posterior + 0.5 * (unit**2).sum(axis=1)
    weights = np.exp(gap - gap.max())
    share = float(weights.sum() ** 2 / (weights**2).sum() / count)
    steps = 0 if share > TRUST else SHORT_CHAIN if share > DISTRUST else LONG_CHAIN
    steps = min(steps, max(8, int(CHAIN_BUDGET / (count * max(mode.likelihood.evidence.known.size, 1)))))
    centre, root, rho = mode.point, mode.root * scales.mean(axis=0), 0.5
    for step in range(steps):
        if step % ADAPT_EVERY == 0:
            if step and count > 2 * size:
                # The chains themselves know by now how far the posterior reaches beyond the normal law.
                centre, root = _population(draws, mode)
            z = np.linalg.solve(root, (draws - centre).T).T
            gap = log_posterior + 0.5 * (z**2).sum(axis=1)
        proposal = np.sqrt(1 - rho**2) * z + rho * rng.standard_normal((count, size))
        moved = centre + proposal @ root.T
        new_posterior = mode.likelihood.log_posterior(moved)
        new_gap = new_posterior + 0.5 * (proposal**2).sum(axis=1)
        accept = np.log(rng.random(count)) < new_gap - gap
        z[accept], gap[accept], draws[accept], log_posterior[accept] = (
            proposal[accept],
            new_gap[accept],
            moved[accept],
            new_posterior[accept],
        )
        rho = float(np.clip(rho * np.exp(accept.mean() - 0.3), 0.1, 0.95))
    return draws, share, steps


def _scales(mode: Mode) -> Array:
    """How many of its normal standard deviations the posterior truly reaches along each axis, down and up: (2, U).

    Split-normal scales after Geweke (Econometrica 57, 1989), from memory.
    """
    axes = mode.root.T
    peak = mode.likelihood.log_posterior(mode.point[None])[0]
    found = np.full((2, len(axes)), 1.0)
    for i, sign in enumerate((-1.0, 1.0)):
        drops = np.stack([peak - mode.likelihood.log_posterior(mode.point + sign * d * axes) for d in PROBES])
        found[i] = np.max(np.array(PROBES)[:, None] / np.sqrt(2 * np.maximum(drops, 1e-3)), axis=0)
    return np.clip(found, 0.6, 4.0)


def _population(draws: Array, mode: Mode) -> tuple[Array, Array]:
    """Centre and root of the normal law of the chains, drawn a little wider, and towards that of the mode where they are few."""
    centre = draws.mean(axis=0)
    own = len(draws) / (len(draws) + draws.shape[1])
    covariance = WIDER**2 * (own * np.cov(draws.T) + (1 - own) * mode.root @ mode.root.T)
    return centre, np.linalg.cholesky(covariance)
