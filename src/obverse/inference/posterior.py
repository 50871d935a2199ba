"""From evidence to draws of the film.

The unknowns are the parameters and the knees, in which the law is curved, and the departures, in
which it is straight. The readings of a strip are summed up once, as a quadratic form in the strip's
curve coordinates and the film's knees and base, taken where the strip is believed to lie
(`obverse.inference.readings`); words enter as the normal law with the same mean and spread
(expectation propagation). Then:

1. The most probable parameters and knees, departures integrated out (Gauss-Newton). Summing-up,
   words and the doubt about odd strips are renewed at each step until nothing moves.
2. Draws by randomised maximum likelihood: every draw has its own film from the prior and its own
   errors of the strips and readings, and is moved to where it agrees best with the evidence. For a
   straight law that is the exact posterior; where the law is curved each draw follows the curve by
   itself. There is no acceptance, no chain and no resampling: the draws are smooth functions of
   the readings, so that the last bits of a number cannot change the answer.

Several priors may compete: films in general; films like those known; departures small or large.
Draws are shared among them by their evidence (Laplace).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.inference.elsewhere import (
    OFFSETS,
    DarkroomBelief,
    most_probable_offsets,
    normals_needed,
    offset_covariance,
    offset_directions,
    offset_draws,
    strange_covariance,
)
from obverse.inference.evenly import normal_quantile
from obverse.inference.evidence import FilmEvidence
from obverse.inference.law import BASE, LEAST, MOST, D, K, Law, P, Q
from obverse.inference.readings import EXPOSURE_SD, Summary, roots, sum_up
from obverse.inference.readings import start as start_settings
from obverse.inference.words_as_normal import Site, renew_sites
from obverse.model import PLACE, settle

C = P + K
# What all strips of a film share: knees and base. Places of strips are their own coordinates one after the other, then these.
R = K + 1
# Rounds to the most probable point, under another prior (near it already), and the part of a prior width at which it stands still.
MOST_ROUNDS, ROUNDS_OF_ANOTHER, SETTLED = 20, 12, 1e-3
# The first rounds go this part of their way: words and readings are summed up about a point that still moves.
CAUTIOUS_ROUNDS, CAUTIOUS = 3, 0.7
# Of so few strips the law is taken as bent for each draw by itself; so many steps then bring it to its own evidence, or those.
CURVED_STRIPS = 6
STEPS, STEPS_MANY = 3, 2
# No step is longer than about so many prior widths, and none ends further from the prior than so many.
LONGEST_STEP, FURTHEST = 1.5, 5.0
# A step that ends in a greater misfit, by more than the last digits, is halved so many times; of a draw these parts are
# tried, of many strips the whole step alone: their draws lie near the most probable point, and there are many.
HALVINGS, PARTS, WORSE = 4, (1.0, 0.25, 0.0), 1e-6
# Numbers held at once while draws are moved, so few that they stay in the processor's own memory, and the fewest draws worth a step.
NUMBERS_AT_ONCE, FEWEST_AT_ONCE = 4e5, 16
# Rows of a triangle solved at once: more take longer than the products they save.
AT_ONCE_SOLVED = 64
# A strip is doubted no more than this: its spread twenty times as wide.
MOST_DOUBT = 400.0
# A word says the same as in the round before within this part.
SAME_WORD = 0.05
# So much of the sum of a matrix's diagonal is lost in its last digits at most.
ROUNDING = 1e-14
# Seed of evenly spread normals, and of those that are drawn once more to tell numbers.
SPREAD_SEED, SEED_OF_MORE = 41, 7
# Strips up to which so many draws stand for a film: the fewer strips, the wider the belief, and the more a number told of
# it would depend on which draws they are. With very many strips the belief is narrow.
DRAWS_BY_STRIPS = ((0, 1024), (3, 4096), (6, 2048), (40, 1024))
FEWEST_DRAWS = 384
# How easily a strip is taken for an odd one: the degrees of freedom of a Student law; and of so many strips at most one is.
# Where few strips disagree it is the law that is wrong: two of a steep film look to each other like one that was mislabelled.
# No law explains strips of one recipe that disagree: recipes within so many steps that matter.
STUDENT_DEGREES, STRIPS_TO_AN_ODD_ONE, ONE_RECIPE = 5.0, 4, 0.1
# No belief is the truth: their evidence counts by this power.
TEMPER = 0.5
# What other films taught counts at most for so much: a film may be unlike all of them, and few strips do not tell.
MOST_OF_OTHERS = 0.5
# It counts for nothing until this film's own strips speak for it, by so much of the log evidence against films in
# general, and for all it may from so much on: 4.5 and 12 times as likely. Chosen on invented films: those like the known
# ones pass after two or three strips, those unlike them hardly ever (docs/pool.md).
HEARD_FROM, HEARD_WHOLLY = 1.5, 2.5


@dataclass(frozen=True)
class Prior:
    """A normal prior over the unknowns.

    Parameters
    ----------
    mean, sd : (U,) arrays
    darkrooms : DarkroomBelief, optional
        How far other darkrooms are believed; None where no strip of theirs is at hand.
    likely : float
        How often it is so, against the other priors.
    of_others : bool
        True for what other films taught: it waits until this film's strips choose it, and counts no more than all else
        together.
    """

    mean: Array
    sd: Array
    darkrooms: DarkroomBelief | None = None
    likely: float = 1.0
    of_others: bool = False


@dataclass(frozen=True)
class Posterior:
    """Draws of the unknowns and how they were made.

    Parameters
    ----------
    draws : (M, U) array
    strips : (M, T, Q) array
        True curve coordinates of the tried strips in each draw, as they were exposed.
    exposures : (M, T) array
        By how much too little light each strip had, log10: it moves the place of its curve, and is none of its recipe's doing.
    point : (U,) array
        The most probable unknowns under the heaviest prior.
    weights : tuple of float
        How much each prior is believed.
    rounds : int
        Steps until the most probable point had settled.
    more : function
        From a count to as many further draws, with the strips and their exposures in them.
    offsets : tuple of (darkrooms, offsets) arrays
        For each prior the most probable offsets of other darkrooms, each in its usual width.
    """

    draws: Array
    strips: Array
    exposures: Array
    point: Array
    weights: tuple[float, ...]
    rounds: int
    more: Callable[[int], tuple[Array, Array, Array]]
    offsets: tuple[Array, ...] = ()

    def further(self) -> Posterior:
        """The same belief by as many other draws."""
        draws, strips, exposures = self.more(len(self.draws))
        return replace(self, draws=draws, strips=strips, exposures=exposures)


@dataclass(frozen=True)
class Joint:
    """The straight part: departures and strip errors of all strips together, given the summed-up readings.

    Parameters
    ----------
    information : (Q T + R, Q T + R) array
        Of the strips' curve coordinates, and of the knees and base they share; departures integrated out.
    gain : (Q T, Q T) array
        From what the readings lack to the departures of the strips.
    """

    information: Array
    gain: Array
    log_det: float

    @classmethod
    def of(cls, summary: Summary, covariance: Array) -> Joint:
        own, cross = summary.information[:, :Q, :Q], cross_of(summary)
        size = len(covariance)
        root = roots(own)
        # Very sure readings of a very unsure strip: what rounding takes from the ones of the diagonal is given back.
        told = _each_by(root, covariance)
        known = _each_by(root, told.T)
        lower = np.linalg.cholesky((1.0 + ROUNDING * np.trace(known)) * np.eye(size) + 0.5 * (known + known.T))
        half = _solved(lower, told)
        gain = covariance - half.T @ half
        information = np.empty((size + R, size + R))
        information[:size, :size] = -_each_by(own, _each_by(own, gain).T)
        blocks = information[:size, :size].reshape(len(own), Q, len(own), Q)
        blocks[np.arange(len(own)), :, np.arange(len(own)), :] += own
        through = cross @ gain
        information[size:, :size] = cross - _each_by(own, through.T).T
        information[:size, size:] = information[size:, :size].T
        information[size:, size:] = summary.information[:, Q:, Q:].sum(axis=0) - through @ cross.T
        return cls(information, gain, float(2 * np.log(np.diag(lower)).sum()))


def _solved(lower: Array, rows: Array) -> Array:
    """What a lower triangle makes these rows (N, M) of; by blocks, so that nearly all of it is products of matrices."""
    found = np.empty_like(rows)
    for first in range(0, len(lower), AT_ONCE_SOLVED):
        part = slice(first, first + AT_ONCE_SOLVED)
        found[part] = np.linalg.solve(lower[part, part], rows[part] - lower[part, :first] @ found[:first])
    return found


def cross_of(summary: Summary) -> Array:
    """Information of all strips' coordinates with the knees and base they share, (R, Q T)."""
    result: Array = np.swapaxes(summary.information[:, Q:, :Q], 0, 1).reshape(R, -1)
    return result


def _each_by(matrices: Array, rows: Array) -> Array:
    """The rows (Q T, N) of each strip by its own matrix (T, Q, Q)."""
    result: Array = (matrices @ rows.reshape(len(matrices), Q, -1)).reshape(rows.shape)
    return result


def infer(
    evidence: FilmEvidence, law: Law, priors: list[Prior], *, draws: int, drawn: int, widest: int = 0
) -> Posterior:
    """Draw from the posterior under a mixture of priors, each as likely as it says.

    Parameters
    ----------
    priors : list of Prior
        The first is films in general.
    widest : int
        Which of them allows the largest departures.
    """
    if not evidence.size:
        return _prior_draws(law, priors, draws, drawn)
    work, found, weights, rounds = _weighed(evidence, law, priors, widest)

    def made(count: int, *seed: int) -> tuple[Array, Array, Array]:
        parts = [
            work.draw(prior, point, n, [drawn + 1000 * k, *seed])
            for k, ((prior, point, _), n) in enumerate(zip(found, shares(weights, count), strict=True))
            if n
        ]
        draws, strips, exposures = (np.concatenate(of_each) for of_each in zip(*parts, strict=True))
        return draws, strips, exposures

    def made_more(count: int) -> tuple[Array, Array, Array]:
        found = made(count, SEED_OF_MORE)
        work.joints.clear()
        return found

    first, strips, exposures = made(draws)
    heaviest = int(np.argmax(weights))
    prior, point, _ = found[heaviest]
    posterior = Posterior(
        first,
        strips,
        exposures,
        work.full_point(prior, point),
        tuple(map(float, weights)),
        rounds,
        made_more,
        tuple(work.offsets(one, at) for one, at, _ in found if one.darkrooms is not None),
    )
    # What is large is made anew rather than kept as long as the fit.
    work.joints.clear()
    return posterior


def what_strips_tell(evidence: FilmEvidence, law: Law, priors: list[Prior], *, widest: int = 0) -> tuple[Array, Array]:
    """What the strips say by themselves, as one quadratic form: the law taken as straight about the most probable point.

    Parameters
    ----------
    evidence : FilmEvidence
        With at least one strip.
    priors : list of Prior
        As in `infer`; each speaks as much as it is believed.

    Returns
    -------
    tuple of (N, N) and (N,) arrays
        Information and pull on the parameters, the knees, the constants and slopes of the departure, in the order of
        the law, and the offsets of the other darkrooms, each in its usual width and as if nothing were known of it.
    """
    work, found, weights, _ = _weighed(evidence, law, priors, widest)
    told = [work.tells(prior, point) for prior, point, _ in found]
    information = np.einsum("b,bij->ij", weights, np.array([one[0] for one in told]))
    return information, np.einsum("b,bi->i", weights, np.array([one[1] for one in told]))


def _weighed(
    evidence: FilmEvidence, law: Law, priors: list[Prior], widest: int
) -> tuple[_Working, list[tuple[Prior, Array, float]], Array, int]:
    """Each prior with its most probable point and log evidence; how much each is believed; the rounds it took."""
    work = _Working(evidence, law)
    # Summing up and the doubt about odd strips belong to the widest belief: a strip is odd where even that does not hold it.
    alpha, rounds = work.settle_on(priors[0], priors[widest])
    found = []
    for prior in priors:
        point = work.climb(prior, alpha, rounds=ROUNDS_OF_ANOTHER)
        found.append((prior, point, work.log_evidence(prior, point)))
    told = np.array([log_evidence for _, _, log_evidence in found])
    of_others = np.array([prior.of_others for prior in priors])
    # Where nothing was read or judged yet there is nothing to choose by: all that is known is told.
    heard = _heard(told, of_others) if evidence.has_readings.any() or evidence.grades else 1.0
    believed = TEMPER * told + np.log([prior.likely for prior in priors])
    return work, found, _bounded_share(believed, of_others, heard), rounds


def _heard(told: Array, of_others: NDArray[np.bool_]) -> float:
    """How far what other films taught is heard, 0 to 1: by how much the film's own strips speak for it."""
    if not of_others.any():
        return 0.0
    gained = float(told[of_others].max() - told[~of_others].max())
    return float(np.clip((gained - HEARD_FROM) / (HEARD_WHOLLY - HEARD_FROM), 0.0, 1.0))


def _bounded_share(believed: Array, of_others: NDArray[np.bool_], heard: float) -> Array:
    """Weights, together 1, of which what other films taught has no more than the most that is heard of it.

    However unlike them a film is, nothing is then foretold less than half as likely as without them; and where nothing
    is heard of them, all is as without them.
    """
    own = _shares_of_one(np.where(of_others, -np.inf, believed))
    if not of_others.any():
        return own
    lent = _shares_of_one(np.where(of_others, believed, -np.inf))
    against = np.logaddexp.reduce(believed[~of_others]) - np.logaddexp.reduce(believed[of_others])
    share = heard * min(1.0 / (1.0 + float(np.exp(against))), MOST_OF_OTHERS)
    return share * lent + (1.0 - share) * own


def _shares_of_one(logs: Array) -> Array:
    """Exponentials of some logarithms, together 1."""
    result: Array = np.exp(logs - np.logaddexp.reduce(logs))
    return result


def _prior_draws(law: Law, priors: list[Prior], draws: int, drawn: int) -> Posterior:
    weights = np.full(len(priors), 1 / len(priors))

    def made(count: int, *seed: int) -> tuple[Array, Array, Array]:
        parts = [
            p.mean + p.sd * spread_normals(n, [C, law.size - C], [drawn + 1000 * k, *seed])
            for k, (p, n) in enumerate(zip(priors, shares(weights, count), strict=True))
            if n
        ]
        return np.concatenate(parts), np.empty((count, 0, Q)), np.empty((count, 0))

    told = tuple(n / draws for n in shares(weights, draws))
    return Posterior(*made(draws), priors[0].mean, told, 0, lambda count: made(count, SEED_OF_MORE))


def enough_draws(strips: int) -> int:
    """How many draws stand for a film of which so many strips are known."""
    return next((draws for most, draws in DRAWS_BY_STRIPS if strips <= most), FEWEST_DRAWS)


def shares(weights: Array, total: int) -> list[int]:
    """Whole numbers of draws in proportion to weights; none below a hundredth of all."""
    kept = np.where(weights < 0.01, 0.0, weights)
    kept = kept / kept.sum()
    counts = np.floor(kept * total).astype(int)
    counts[int(np.argmax(kept))] += total - counts.sum()
    return [int(c) for c in counts]


def spread_normals(count: int, sizes: list[int], seed: list[int]) -> Array:
    """Evenly spread normal numbers (count, sum of sizes): a Latin hypercube, each block with exact mean and covariance."""
    rng = np.random.default_rng([seed[0], SPREAD_SEED, *seed[1:]])
    each = normal_quantile((np.arange(count) + 0.5) / count)
    # Each normal stands by itself in memory: so it is shuffled quickest.
    found = np.empty((sum(sizes), count))
    for block, size in zip(np.split(found, np.cumsum(sizes)[:-1]), sizes, strict=True):
        block[:] = rng.permuted(np.broadcast_to(each, (size, count)), axis=1)
        if count > 2 * size and size:
            block -= block.mean(axis=1, keepdims=True)
            block[:] = np.linalg.inv(np.linalg.cholesky(block @ block.T / count)) @ block
    return found.T


class _Working:
    """The evidence summed up about a point, and everything that follows from it."""

    def __init__(self, evidence: FilmEvidence, law: Law):
        self.evidence, self.law = evidence, law
        self.features = law.feature_values(evidence.controls)
        steps = law.positions(evidence.controls)
        apart = np.abs(steps[:, None] - steps).max(axis=-1, initial=0.0)
        # Which strips were made by a recipe that another was made by.
        self.repeated = (apart < ONE_RECIPE).sum(axis=1) > 1
        self.trust = np.ones(evidence.size)
        self.sites = [Site.open() for _ in evidence.grades]
        # Made anew in each round of `settle_on`, which comes first.
        self.summary = Summary(np.zeros((evidence.size, D, D)), np.zeros((evidence.size, D)))
        self.settled = False
        self.joints: dict[int, Joint] = {}
        self.strip_covariance = np.zeros((evidence.size, Q, Q))
        self.directions = np.zeros((evidence.size, len(OFFSETS), Q))

    # The most probable point ------------------------------------------------

    def settle_on(self, first: Prior, prior: Prior) -> tuple[Array, int]:
        """Parameters and knees where everything agrees with everything; also the rounds it took."""
        alpha = first.mean[:C].copy()
        around = start_settings(self.evidence, self.mean(alpha), alpha)
        moved, rounds = np.inf, 0
        for rounds in range(1, MOST_ROUNDS + 1):
            self._renew_strips(alpha)
            self.summary = sum_up(self.evidence, around, self.sites)
            joint = self.joint(prior)
            new = self._step(prior, joint, alpha, 1.0 if rounds > CAUTIOUS_ROUNDS else CAUTIOUS)
            lacking = self._lacking(new)
            expected = self.mean(new)[:, :Q] + (joint.gain @ lacking).reshape(-1, Q) + self.evidence.shift
            expected = np.clip(expected, LEAST, MOST)
            around = np.concatenate([expected, np.tile(self.common(new), (self.evidence.size, 1))], axis=1)
            before = self.sites
            if self.evidence.grades:
                self.sites = renew_sites(self.evidence, self.sites, around, self._spread(prior, joint, new))
            if rounds > 2:
                self._renew_trust(joint, lacking)
            moved = float(np.max(np.abs(new - alpha) / prior.sd[:C]))
            alpha = new
            if moved < SETTLED and all(_alike(a, b) for a, b in zip(before, self.sites, strict=True)):
                break
        self.summary = sum_up(self.evidence, around, self.sites)
        self.settled = True
        return alpha, rounds

    def climb(self, prior: Prior, alpha: Array, rounds: int) -> Array:
        """The most probable point under another prior, everything else held."""
        joint = self.joint(prior)
        for k in range(rounds):
            new = self._step(prior, joint, alpha, 1.0 if k > 2 else CAUTIOUS)
            moved = float(np.max(np.abs(new - alpha) / prior.sd[:C]))
            alpha = new
            if moved < SETTLED:
                break
        return alpha

    def mean(self, alpha: Array) -> Array:
        """Curve coordinates that the process model gives to the strips, (T, Q)."""
        result: Array = settle(alpha[None, :P], self.evidence.controls)[0][0]
        return result

    @staticmethod
    def common(alpha: Array) -> Array:
        """Knees and base, the part that all strips share."""
        return np.concatenate([alpha[P:C], alpha[BASE : BASE + 1]])

    def joint(self, prior: Prior) -> Joint:
        """The straight part under a prior; kept once everything has settled."""
        if not self.settled:
            return Joint.of(self.summary, self.covariance(prior))
        if id(prior) not in self.joints:
            self.joints[id(prior)] = Joint.of(self.summary, self.covariance(prior))
        return self.joints[id(prior)]

    def covariance(self, prior: Prior) -> Array:
        """Prior covariance of the strips' departures and own errors, (T Q, T Q)."""
        t = self.evidence.size
        scale = prior.sd[C:].reshape(self.law.features, Q)
        full = np.zeros((t, Q, t, Q))
        for o in range(Q):
            rows = self.features * scale[:, o]
            full[:, o, :, o] = rows @ rows.T
        full[np.arange(t), :, np.arange(t), :] += self.strip_covariance + self.evidence.fault_covariance
        if prior.darkrooms is not None:
            full += offset_covariance(self.directions, self.evidence.origin, prior.darkrooms)
        return full.reshape(t * Q, t * Q)

    def _renew_strips(self, alpha: Array) -> None:
        from obverse.inference.readings import strip_errors

        own = strip_errors(alpha[:P], self.evidence.controls, self.evidence.control_sd)
        self.strip_covariance = own * self.trust[:, None, None]
        if self.evidence.own_size < self.evidence.size:
            self.directions = offset_directions(
                alpha[:P], self.evidence.controls, self.evidence.origin, self.evidence.offset_sds
            )

    def _slopes(self, alpha: Array) -> tuple[Array, Array]:
        """Places of the strips by the parameters (M, Q T + R), and the derivatives (M, Q T + R, C)."""
        m, size = len(alpha), self.evidence.size * Q
        mean, by = settle(alpha[:, :P], self.evidence.controls, slopes=True)
        slopes = np.zeros((m, size + R, C))
        slopes[:, :size, :P] = by.reshape(m, size, P)
        slopes[:, size : size + K, P:C] = np.eye(K)
        slopes[:, -1, BASE] = 1.0
        return self._whole(alpha, mean), slopes

    def _places(self, alpha: Array) -> Array:
        """Places of the strips by the parameters, (M, Q T + R)."""
        return self._whole(alpha, settle(alpha[:, :P], self.evidence.controls)[0])

    def _whole(self, alpha: Array, mean: Array) -> Array:
        own = (mean + self.evidence.shift).reshape(len(mean), -1)
        return np.concatenate([own, alpha[:, P:C], alpha[:, BASE : BASE + 1]], axis=1)

    def _each(self, places: Array) -> Array:
        """Coordinates, knees and base of each strip (M, T, D), from places (M, Q T + R)."""
        own, shared = places[:, :-R].reshape(len(places), -1, Q), places[:, None, -R:]
        return np.concatenate([own, np.broadcast_to(shared, (*own.shape[:2], R))], axis=2)

    def _step(self, prior: Prior, joint: Joint, alpha: Array, length: float) -> Array:
        at, slopes = self._slopes(alpha[None])
        told, mean, sd = self._pull(joint), prior.mean[:C], prior.sd[:C]
        hessian = slopes[0].T @ joint.information @ slopes[0] + np.diag(sd**-2.0)
        gap, now = _gap(joint, told, at, (alpha[None] - mean) / sd)
        pull = slopes[0].T @ gap[0]
        step = length * _bounded(np.linalg.solve(hessian, pull - (alpha - mean) / sd**2) / sd) * sd
        for _ in range(HALVINGS):
            tried = (alpha + step)[None]
            if _gap(joint, told, self._places(tried), (tried - mean) / sd)[1][0] <= now[0] + WORSE:
                break
            step = 0.5 * step
        result: Array = alpha + step
        return result

    def _pull(self, joint: Joint, data: Array | None = None) -> Array:
        """What the readings say, departures integrated out: (Q T + R,) or (M, Q T + R)."""
        h = (self.summary.pull if data is None else data).reshape(-1, self.evidence.size, D)
        own = h[:, :, :Q].reshape(len(h), -1)
        moved = own @ joint.gain
        rest = own - _each_by(self.summary.information[:, :Q, :Q], moved.T).T
        out = np.concatenate([rest, h[:, :, Q:].sum(axis=1) - moved @ cross_of(self.summary).T], axis=1)
        return out[0] if data is None else out

    def _lacking(self, alpha: Array) -> Array:
        """Pull of the readings on the strips' departures, (Q T,)."""
        at = self._each(self._places(alpha[None]))[0]
        rest = self.summary.pull - np.einsum("tde,te->td", self.summary.information, at)
        result: Array = rest[:, :Q].reshape(-1)
        return result

    def _spread(self, prior: Prior, joint: Joint, alpha: Array) -> Array:
        """Covariance of each strip's coordinates as it is believed now, (T, D, D)."""
        t = self.evidence.size
        j = self._slopes(alpha[None])[1][0]
        hessian = j.T @ joint.information @ j + np.diag(prior.sd[:C] ** -2.0)
        through = np.moveaxis(self._each(j.T), 0, -1).copy()
        told = np.einsum("tdq,tdc->tqc", self.summary.information[:, :, :Q], through)
        through[:, :Q] -= (joint.gain @ told.reshape(t * Q, C)).reshape(t, Q, C)
        own = joint.gain.reshape(t, Q, t, Q)[np.arange(t), :, np.arange(t), :]
        spread = through @ np.linalg.solve(hessian, np.swapaxes(through, 1, 2))
        spread[:, :Q, :Q] += own
        result: Array = spread
        return result

    def _renew_trust(self, joint: Joint, lacking: Array) -> None:
        """A strip that disagrees with all the others is believed less: a multivariate Student law, with a yet longer tail."""
        t = self.evidence.size
        most = t // STRIPS_TO_AN_ODD_ONE
        if not most and not self.repeated.any():
            return
        pull = lacking - self._own_times(joint.gain @ lacking)
        pull = pull.reshape(t, Q)
        departure = np.einsum("tqr,tr->tq", self.strip_covariance, pull)
        base = self.strip_covariance / self.trust[:, None, None]
        size = np.einsum("tq,tq->t", departure, np.linalg.solve(base, departure[..., None])[..., 0])
        new = np.maximum(1.0, (STUDENT_DEGREES + size) / (STUDENT_DEGREES + Q)) ** 1.5
        others = np.argsort(-new, kind="stable")[most:]
        new[others] = np.where(self.repeated[others], new[others], 1.0)
        self.trust = np.minimum(new, MOST_DOUBT)

    def _own_times(self, departures: Array) -> Array:
        t = self.evidence.size
        result: Array = np.einsum("tqr,tr->tq", self.summary.information[:, :Q, :Q], departures.reshape(t, Q)).reshape(
            -1
        )
        return result

    def log_evidence(self, prior: Prior, alpha: Array) -> float:
        """Log evidence of a prior (Laplace), up to a constant common to all priors."""
        joint = self.joint(prior)
        at, slopes = self._slopes(alpha[None])
        sd = prior.sd[:C]
        pull = self._pull(joint)
        fit = float(pull @ at[0] - 0.5 * at[0] @ joint.information @ at[0])
        own = self.summary.pull[:, :Q].reshape(-1)
        fit += 0.5 * float(own @ joint.gain @ own)
        hessian = slopes[0].T @ joint.information @ slopes[0] * np.outer(sd, sd) + np.eye(C)
        held = -0.5 * float((((alpha - prior.mean[:C]) / sd) ** 2).sum())
        return fit + held - 0.5 * float(np.linalg.slogdet(hessian)[1]) - 0.5 * joint.log_det

    def full_point(self, prior: Prior, alpha: Array) -> Array:
        joint = self.joint(prior)
        lacking = self._lacking(alpha)
        pull = (lacking - self._own_times(joint.gain @ lacking)).reshape(-1, Q)
        weights = prior.sd[C:].reshape(-1, Q) ** 2 * (self.features.T @ pull)
        return np.concatenate([alpha, prior.mean[C:] + weights.ravel()])

    def offsets(self, prior: Prior, alpha: Array) -> Array:
        """Most probable offsets of the other darkrooms, each in its usual width."""
        if prior.darkrooms is None:
            return np.zeros((0, len(OFFSETS)))
        joint = self.joint(prior)
        lacking = self._lacking(alpha)
        pull = (lacking - self._own_times(joint.gain @ lacking)).reshape(-1, Q)
        return most_probable_offsets(self.directions, self.evidence.origin, prior.darkrooms, pull)

    def tells(self, prior: Prior, alpha: Array) -> tuple[Array, Array]:
        """Information and pull on what films share and on the offsets, the local departure and own errors integrated out."""
        t, shared = self.evidence.size, 1 + int(self.law.varied.sum())
        rooms = 0 if prior.darkrooms is None else len(prior.darkrooms.widths)
        local = self.features[:, shared:]
        full = np.zeros((t, Q, t, Q))
        for o in range(Q):
            rows = local * prior.sd[C:].reshape(-1, Q)[shared:, o]
            full[:, o, :, o] = rows @ rows.T
        full[np.arange(t), :, np.arange(t), :] += self.strip_covariance + self.evidence.fault_covariance
        if prior.darkrooms is not None:
            full += strange_covariance(self.directions, self.evidence.origin, prior.darkrooms)
        joint = Joint.of(self.summary, full.reshape(t * Q, t * Q))
        at, by = self._slopes(alpha[None])
        weights, offsets = np.zeros((t, Q, shared, Q)), np.zeros((t, Q, rooms, len(OFFSETS)))
        for o in range(Q):
            weights[:, o, :, o] = self.features[:, :shared]
        for k in range(rooms):
            strips = self.evidence.origin == k
            offsets[strips, :, k] = np.swapaxes(self.directions[strips], 1, 2)
        # Departures and offsets move neither knees nor base.
        straight = np.concatenate([weights.reshape(t * Q, -1), offsets.reshape(t * Q, -1)], axis=1)
        through = np.concatenate([by[0], np.concatenate([straight, np.zeros((R, straight.shape[1]))])], axis=1)
        information = joint.information @ through
        pull = self._pull(joint) - joint.information @ (at[0] - by[0] @ alpha)
        return through.T @ information, through.T @ pull

    # Draws ------------------------------------------------------------------

    def draw(self, prior: Prior, point: Array, count: int, seed: list[int]) -> tuple[Array, Array, Array]:
        """Draws (count, U) of the unknowns, (count, T, Q) of the strips' own true coordinates, (count, T) of their exposures."""
        t, f = self.evidence.size, self.law.features
        joint = self.joint(prior)
        abroad = 0 if prior.darkrooms is None else normals_needed(self.directions, prior.darkrooms)
        z = spread_normals(count, [C, Q * f, t * Q, t * Q, t * D, abroad, t], seed)
        parts = np.split(z, np.cumsum([C, Q * f, t * Q, t * Q, t * D, abroad]), axis=1)
        start = prior.mean[:C] + prior.sd[:C] * parts[0]
        weights = (prior.mean[C:] + prior.sd[C:] * parts[1]).reshape(count, f, Q)
        own = np.einsum("tqr,mtr->mtq", roots(self.strip_covariance), parts[2].reshape(count, t, Q))
        faulty = np.einsum("tqr,mtr->mtq", roots(self.evidence.fault_covariance), parts[3].reshape(count, t, Q))
        data = self.summary.pull + np.einsum(
            "tde,mte->mtd", roots(self.summary.information), np.asarray(parts[4]).reshape(count, t, D)
        )
        apart = self.features @ weights + own + faulty
        if prior.darkrooms is not None:
            apart += offset_draws(self.directions, self.evidence.origin, prior.darkrooms, parts[5])
        departed = np.concatenate([apart.reshape(count, t * Q), np.zeros((count, R))], axis=1)
        alpha, places = self._move(prior, joint, point, start, departed, self._pull(joint, data))
        at = places[:, :-R].reshape(count, t, Q)
        full = self._each(places + departed)
        lacking = data[:, :, :Q] - np.einsum("tqe,mte->mtq", self.summary.information[:, :Q], full)
        change = (lacking.reshape(count, t * Q) @ joint.gain).reshape(count, t, Q)
        pull = lacking - np.einsum("tqr,mtr->mtq", self.summary.information[:, :Q, :Q], change)
        weights = weights + prior.sd[C:].reshape(f, Q) ** 2 * (self.features.T @ pull)
        own = own + np.einsum("tqr,mtr->mtq", self.strip_covariance, pull)
        strips = np.clip(at - self.evidence.shift + self.features @ weights + own, LEAST, MOST)
        return np.concatenate([alpha, weights.reshape(count, -1)], axis=1), strips, self._exposures(own, parts[6])

    def _exposures(self, own: Array, normals: Array) -> Array:
        """How much of the strips' own errors (M, T, Q) is their exposure, (M, T): all else of them moves the place too."""
        variance = EXPOSURE_SD**2 * self.trust
        among = variance[:, None] * np.linalg.inv(self.strip_covariance)[:, PLACE]
        left = variance * (1.0 - among[:, PLACE])
        result: Array = np.einsum("tq,mtq->mt", among, own) + np.sqrt(np.maximum(left, 0.0)) * normals
        return result

    def _move(
        self, prior: Prior, joint: Joint, point: Array, start: Array, departed: Array, pull: Array
    ) -> tuple[Array, Array]:
        """Each film from the prior, moved to where it agrees best with its own evidence; and where its strips then are."""
        sd = prior.sd[:C]
        at, slopes = self._slopes(point[None])
        told = joint.information @ slopes[0]
        hessian = slopes[0].T @ told + np.diag(sd**-2.0)
        # As if the law were straight about the most probable point.
        at0 = at + (start - point) @ slopes[0].T
        gap = pull - (at0 + departed) @ joint.information
        alpha = start + np.linalg.solve(hessian, (gap @ slopes[0]).T).T
        alpha = prior.mean[:C] + sd * np.clip((alpha - prior.mean[:C]) / sd, -FURTHEST, FURTHEST)
        few = max(FEWEST_AT_ONCE, int(NUMBERS_AT_ONCE / len(joint.information) / C))
        places = np.empty_like(departed)
        for first in range(0, len(alpha), few):
            rows = slice(first, first + few)
            alpha[rows], places[rows] = self._agree(
                prior, joint, hessian, alpha[rows], start[rows], departed[rows], pull[rows]
            )
        return alpha, places

    def _agree(
        self, prior: Prior, joint: Joint, held: Array, alpha: Array, start: Array, departed: Array, pull: Array
    ) -> tuple[Array, Array]:
        sd, curved = prior.sd[:C], self.evidence.size <= CURVED_STRIPS
        # What the strips tell may have fewer dimensions than the film.
        few = curved and len(joint.information) < C
        root = roots(joint.information[None])[0] if few else joint.information
        last = (STEPS if curved else STEPS_MANY) - 1
        at, slopes = self._slopes(alpha)
        gap, now = _gap(joint, pull, at + departed, (alpha - start) / sd)
        for k in range(last + 1):
            gradient = np.einsum("mdc,md->mc", slopes, gap) - (alpha - start) / sd**2
            if few:
                # The same step, solved among what they tell.
                told = np.matmul(root.T, slopes) * sd
                small = np.matmul(told, np.swapaxes(told, 1, 2)) + np.eye(root.shape[1])
                scaled = gradient * sd
                back = np.linalg.solve(small, np.matmul(told, scaled[..., None]))
                step = sd * (scaled - np.matmul(np.swapaxes(told, 1, 2), back)[..., 0])
            elif curved:
                told = np.matmul(joint.information, slopes)
                hessian = np.matmul(np.swapaxes(slopes, 1, 2), told) + np.diag(sd**-2.0)
                step = np.linalg.solve(hessian, gradient[..., None])[..., 0]
            else:
                step = np.linalg.solve(held, gradient.T).T
            step = _bounded(step / sd) * sd
            # Where strips disagree a whole step overshoots, and the draw would stand anywhere.
            rows: slice | NDArray[np.int_] = slice(None)
            tried, then = alpha + step, np.empty_like(now)
            for part in PARTS if curved else PARTS[:1]:
                tried[rows] = alpha[rows] + part * step[rows]
                if k < last:
                    at[rows], slopes[rows] = self._slopes(tried[rows])
                else:
                    at[rows] = self._places(tried[rows])
                moved = (tried[rows] - start[rows]) / sd
                gap[rows], then[rows] = _gap(joint, pull[rows], at[rows] + departed[rows], moved)
                rows = np.flatnonzero(then > now + WORSE)
                if not len(rows):
                    break
            alpha, now = tried, then
        return alpha, at


def _alike(one: Site, other: Site) -> bool:
    """Whether a word says the same as in the round before, to a twentieth."""
    return abs(one.precision - other.precision) < SAME_WORD * other.precision


def _gap(joint: Joint, pull: Array, places: Array, moved: Array) -> tuple[Array, Array]:
    """What the evidence still pulls at the strips (M, Q T + R), and how ill each film agrees with it (M,).

    Parameters
    ----------
    places, moved : (M, Q T + R), (M, C) arrays
        Where the strips of each film are, and how far its parameters moved, in prior widths.
    """
    gap: Array = pull - places @ joint.information
    misfit: Array = 0.5 * (np.einsum("mc,mc->m", moved, moved) - np.einsum("md,md->m", places, pull + gap))
    return gap, misfit


def _bounded(step: Array) -> Array:
    """Steps in prior widths, none longer than about one and a half along any axis."""
    longest = np.max(np.abs(step), axis=-1, keepdims=True)
    result: Array = step / (1.0 + (longest / LONGEST_STEP) ** 4) ** 0.25
    return result
