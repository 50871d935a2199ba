"""What very many films have in common, and how far darkrooms differ: learned once, from a whole pool.

Each film is summed up by itself into a `Lesson`, wherever that is done; the lessons are then put into the order of
their ids and reduced in one pass. So the answer depends neither on how many hands did the summing up, nor on the order
they came in.

Numbers of a film count from films in general, as that film is known before any strip, in spreads of films in general:
0 is the middle, 1 one spread off. What is learned never replaces films in general; it competes with them by the
evidence of each film's own strips (`obverse.inference.posterior.infer`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from obverse.inference.elsewhere import OFFSETS, SOMETHING_WRONG, USUAL_SDS, OtherDarkroom
from obverse.inference.fit import broad_prior, fit_film
from obverse.inference.law import K, Law, P, Q
from obverse.inference.posterior import Prior
from obverse.inference.sharing import OWN, in_common, places, priors_about, what_it_told
from obverse.model import NAMES
from obverse.model.curve import COORDINATES
from obverse.model.parameters import INDEX
from obverse.process import CONTROLS, Series

Array = NDArray[np.float64]

# Every control may be varied by some film: what is learned has a place for each.
EVERY = Law(np.ones(len(CONTROLS), dtype=bool))
# Waves belong to the controls one film varied; all that stands before them is shared.
SHARED = P + K + Q * (1 + len(CONTROLS))
UNKNOWNS: tuple[str, ...] = (
    *NAMES,
    *(f"knee {k + 1}" for k in range(K)),
    *(f"{coordinate} {at}" for at in ("everywhere", *CONTROLS) for coordinate in COORDINATES),
)
# Draws by which one film is summed up: its mean and spread need no more.
DRAWS_OF_A_LESSON = 256
# Figures that a summary keeps: beyond them stands what two processors differ by.
FIGURES = 9
# Expectation-maximisation settles slowly where each film tells little; a step of ten thousand films takes milliseconds.
STEPS_OF_MANY = 200
# Imagined darkrooms that differ as usual hold the spread open.
IMAGINED_DARKROOMS = 2.0
# Films are left out by fifths.
FOLDS = 5
# A 90 % interval of a normal law reaches so many standard deviations to each side.
REACH_OF_90 = 1.6448536269514722


@dataclass(frozen=True)
class Lesson:
    """What the strips of one film say.

    Parameters
    ----------
    id : str
        Of its content.
    strips : int
    value, precision : tuple of float
        One of each of `UNKNOWNS`; precision 0 where the strips say nothing.
    offsets, offset_precision : tuple of tuple of float
        For each other darkroom that knows the film: how far it lies off the first, in usual widths, for each of the
        offsets, and how well that is told.
    """

    id: str
    strips: int
    value: tuple[float, ...]
    precision: tuple[float, ...]
    offsets: tuple[tuple[float, ...], ...] = ()
    offset_precision: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True)
class Population:
    """What many films have in common.

    Parameters
    ----------
    films : int
        How many taught it.
    shift, spread : (N,) arrays
        Of `UNKNOWNS`: the middle, from films in general and in their spreads; and the spread, 1 as wide as theirs.
    offset_sds : tuple of float
        How far darkrooms usually lie from the middle of all, in the order and the units of the offsets.
    """

    films: int
    shift: Array = field(repr=False)
    spread: Array = field(repr=False)
    offset_sds: tuple[float, ...] = USUAL_SDS

    def priors(self, law: Law, broad: Prior) -> list[Prior]:
        """Priors that it suggests for a film of this law, beside films in general."""
        at = places(law, EVERY)
        known = (at >= 0) & (at < SHARED)
        centre, sd = broad.mean.copy(), broad.sd.copy()
        centre[known] += self.shift[at[known]] * broad.sd[known]
        sd[known] *= self.spread[at[known]]
        return priors_about(broad, centre, sd, films=self.films)


@dataclass(frozen=True)
class LeftOut:
    """How what was learned does on films that did not teach it.

    Parameters
    ----------
    films : int
    gain, gain_sd : float
        By how much better than films in general it foretells what a film's strips say: mean difference of the log
        density of a film, and its standard error.
    inside, inside_in_general : float
        Share of what the strips say that lies in the 90 % intervals, of what was learned and of films in general.
    """

    films: int
    gain: float
    gain_sd: float
    inside: float
    inside_in_general: float


def lesson_of(id: str, series: Series, elsewhere: Sequence[OtherDarkroom] = (), *, seed: int = 0) -> Lesson:
    """Sum up one film.

    Parameters
    ----------
    id : str
    series : Series
        Its strips in the darkroom that made most of them.
    elsewhere : sequence of OtherDarkroom
        The others that know it.
    seed : int

    Returns
    -------
    Lesson
    """
    fit = fit_film(series, elsewhere=elsewhere, seed=seed, draws=DRAWS_OF_A_LESSON)
    broad = broad_prior(EVERY, series)
    value, precision = what_it_told(EVERY, broad, fit)
    # What belongs to a film's support and to one evening's bleach is not shared.
    precision[[INDEX[name] for name in OWN]] = 0.0
    told = precision > 0
    away = np.where(told, (value - broad.mean) / broad.sd, 0.0)[:SHARED]
    off, off_precision = _offsets(fit.posterior.offsets, fit.posterior.offset_variances)
    return Lesson(
        id,
        fit.evidence.size,
        _figures(away),
        _figures((precision * broad.sd**2)[:SHARED]),
        tuple(map(_figures, off)),
        tuple(map(_figures, off_precision)),
    )


def _offsets(most_probable: Sequence[Array], variances: tuple[Array, Array] | None) -> tuple[Array, Array]:
    """What the readings say of the offsets by themselves, without what was believed of them before."""
    if variances is None or not most_probable:
        return np.zeros((0, len(OFFSETS))), np.zeros((0, len(OFFSETS)))
    after, before = variances
    gained = np.maximum(1.0 / np.maximum(after, 1e-9) - 1.0 / before, 0.0)
    value = np.where(gained > 0, most_probable[0] / np.maximum(after * gained, 1e-9), 0.0)
    return value, gained


def _figures(values: Array) -> tuple[float, ...]:
    return tuple(float(f"{value:.{FIGURES}g}") for value in values)


def learn_population(lessons: Mapping[str, Lesson] | Sequence[Lesson]) -> Population:
    """Reduce lessons to what films have in common.

    Parameters
    ----------
    lessons : sequence of Lesson
        In any order; one given twice counts once.

    Returns
    -------
    Population
    """
    ordered = in_order(lessons)
    value, precision = _told_by(ordered)
    shift, spread = _common(value, precision)
    return Population(len(ordered), shift, spread, _darkrooms(ordered))


def left_out(lessons: Mapping[str, Lesson] | Sequence[Lesson]) -> LeftOut:
    """Learn from four fifths and look how the last fifth is foretold, for each fifth.

    Parameters
    ----------
    lessons : sequence of Lesson
        At least as many as there are fifths.

    Returns
    -------
    LeftOut
    """
    value, precision = _told_by(in_order(lessons))
    fold = np.arange(len(value)) % FOLDS
    gains, inside, in_general, told_in_all = [], 0, 0, 0
    for k in range(FOLDS):
        shift, spread = _common(value[fold != k], precision[fold != k])
        v, p = value[fold == k], precision[fold == k]
        told = p > 0
        noise = 1.0 / np.maximum(p, 1e-12)
        learned, general = spread**2 + noise, 1.0 + noise
        density = -0.5 * ((v - shift) ** 2 / learned + np.log(learned)) + 0.5 * (v**2 / general + np.log(general))
        gains.append(np.where(told, density, 0.0).sum(axis=1))
        inside += int((told & (np.abs(v - shift) <= REACH_OF_90 * np.sqrt(learned))).sum())
        in_general += int((told & (np.abs(v) <= REACH_OF_90 * np.sqrt(general))).sum())
        told_in_all += int(told.sum())
    gain = np.concatenate(gains)
    many = max(told_in_all, 1)
    return LeftOut(
        len(gain),
        float(gain.mean()),
        float(gain.std(ddof=1) / np.sqrt(len(gain))),
        inside / many,
        in_general / many,
    )


def in_order(lessons: Mapping[str, Lesson] | Sequence[Lesson]) -> list[Lesson]:
    """Each lesson once, by its id.

    Parameters
    ----------
    lessons : sequence of Lesson

    Returns
    -------
    list of Lesson
    """
    each = lessons if isinstance(lessons, Mapping) else {lesson.id: lesson for lesson in lessons}
    return [each[id] for id in sorted(each)]


def told_of(lessons: Sequence[Lesson]) -> tuple[int, ...]:
    """Of how many films the strips told each of `UNKNOWNS`.

    Parameters
    ----------
    lessons : sequence of Lesson

    Returns
    -------
    tuple of int
    """
    return tuple(int(n) for n in (_told_by(lessons)[1] > 0).sum(axis=0))


def _told_by(lessons: Sequence[Lesson]) -> tuple[Array, Array]:
    return np.array([one.value for one in lessons]), np.array([one.precision for one in lessons])


def _common(value: Array, precision: Array) -> tuple[Array, Array]:
    zero, one = np.zeros(value.shape[1]), np.ones(value.shape[1])
    return in_common(value, precision, zero, one, steps=STEPS_OF_MANY)


def _darkrooms(lessons: Sequence[Lesson]) -> tuple[float, ...]:
    """How far darkrooms lie from the middle of all: a difference of two has twice the variance of one.

    Differences that share a darkroom are taken as if they did not; that makes the answer no wider or narrower in the
    mean, only less sure than it looks.
    """
    off = np.array([row for lesson in lessons for row in lesson.offsets]).reshape(-1, len(OFFSETS))
    precision = np.array([row for lesson in lessons for row in lesson.offset_precision]).reshape(-1, len(OFFSETS))
    # A bottle that is not what its label says is no way of darkrooms.
    off = np.clip(off, -SOMETHING_WRONG, SOMETHING_WRONG)
    variance, imagined = np.full(len(OFFSETS), 2.0), IMAGINED_DARKROOMS
    for _ in range(STEPS_OF_MANY):
        own = 1.0 / (1.0 / variance + precision)
        seen = ((own * precision * off) ** 2 + own).sum(axis=0)
        variance = (seen + 2.0 * imagined) / (len(off) + imagined)
    return tuple(float(sd) for sd in np.array(USUAL_SDS) * np.sqrt(variance / 2.0))
