"""What very many films have in common, and how far darkrooms differ: learned once, from a whole pool.

Each film is summed up by itself into a `Lesson`, wherever that is done; the lessons are then put into the order of
their ids and reduced in one pass. So the answer depends neither on how many hands did the summing up, nor on the order
they came in.

Numbers of a film count from films in general, as that film is known before any strip, in spreads of films in general:
0 is the middle, 1 one spread off. Few strips hold few unknowns apart: what they tell is told of unknowns together, and
kept so, for whoever takes it as told of each by itself takes the others' spread for error and finds films too alike.
What is learned never replaces films in general; it competes with them by the evidence of each film's own strips
(`obverse.inference.posterior.infer`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Z90, Array
from obverse.inference.elsewhere import OFFSETS, USUAL_SDS, OtherDarkroom
from obverse.inference.fit import broad_prior, told_by_strips
from obverse.inference.law import K, Law, P, Q
from obverse.inference.posterior import Prior
from obverse.inference.sharing import IMAGINED_FILMS, OWN, places
from obverse.model import COORDINATES, INDEX, NAMES
from obverse.process import CONTROLS, Series

# Every control may be varied by some film: what is learned has a place for each.
EVERY = Law(np.ones(len(CONTROLS), dtype=bool))
# Waves belong to the controls one film varied; all that stands before them is shared.
SHARED = P + K + Q * (1 + len(CONTROLS))
UNKNOWNS: tuple[str, ...] = (
    *NAMES,
    *(f"knee {k + 1}" for k in range(K)),
    *(f"{coordinate} {at}" for at in ("everywhere", *CONTROLS) for coordinate in COORDINATES),
)
# A telling that says less than this of what films in general may be is left out; one that says more than the other
# counts no more than it: it would hide that a law is only approximate.
LEAST_TOLD, MOST_TOLD = 0.02, 25.0
# No telling lies further from films in general than so many of their spreads.
FURTHEST = 4.0
# An unknown is told of where strips narrow it by so much of its precision.
TOLD = 0.05
# Figures that a summary keeps: beyond them stands what two processors differ by.
FIGURES = 9
# Steps by which spreads settle; a step of ten thousand films takes some tenths of a second.
STEPS_OF_MANY, SETTLED = 60, 0.002
# Films and darkrooms that are taken together in one step of arithmetic.
FILMS_AT_ONCE = 250
# How sure the middle of films in general is, in their own precision; and by how much surer with each film that is heard.
# What few strips hold together is told by a law taken as straight, which errs alike in all films: a thousand films that
# each tell less of a middle than this do not make it known. Chosen on invented films, whose middles are known.
AT_THE_CENTRE, ALIKE_IN_ALL = 4.0, 0.12
# The imagined films that hold the spread open differ as films in general do, by this variance.
IMAGINED_VARIANCE = 1.0
# Imagined darkrooms that differ as usual hold the spread open.
IMAGINED_DARKROOMS = 2.0
# Tellings err by 1 if films depart from the law as the notebook believes; how they do err is learned with the rest, for
# what is held for error is missing from the spread of films. So many imagined tellings, which err by 1, hold it open.
IMAGINED_TELLINGS = 20.0
# Films are left out by fifths.
FOLDS = 5


@dataclass(frozen=True, eq=False)
class Lesson:
    """What the strips of one film tell, as tellings that err by themselves: a weighted sum of unknowns, with an error of 1.

    Parameters
    ----------
    id : str
        Of its content.
    of : (R, N) array
        Weights of `UNKNOWNS` in each telling.
    value : (R,) array
        What each telling says.
    offsets : (R, M, offsets) array
        Weights of how far each other darkroom lies off the first, in usual widths.
    """

    id: str
    strips: int
    of: Array = field(repr=False)
    value: Array = field(repr=False)
    offsets: Array = field(repr=False)

    @property
    def darkrooms(self) -> int:
        """How many others know the film."""
        return int(self.offsets.shape[1])


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

    def priors(self, law: Law, alone: Sequence[Prior]) -> list[Prior]:
        """Priors that it suggests for a film of this law, one beside each belief of films in general (`alone`)."""
        return [replace(self.centred(law, belief), of_others=True) for belief in alone]

    def centred(self, law: Law, broad: Prior) -> Prior:
        """A film of this law among those that taught, where it was believed to be one of films in general."""
        at = places(law, EVERY)
        known = (at >= 0) & (at < SHARED)
        # What belongs to a film's support and to one evening's bleach is not shared.
        known[[INDEX[name] for name in OWN]] = False
        centre, sd = broad.mean.copy(), broad.sd.copy()
        centre[known] += self.shift[at[known]] * broad.sd[known]
        sd[known] *= self.spread[at[known]]
        return replace(broad, mean=centre, sd=sd)


@dataclass(frozen=True)
class LeftOut:
    """How what was learned does on films that did not teach it.

    Parameters
    ----------
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


def lesson_of(
    id: str, series: Series, elsewhere: Sequence[OtherDarkroom] = (), about: Population | None = None
) -> Lesson:
    """Sum up one film.

    Parameters
    ----------
    series : Series
        Its strips in the darkroom that made most of them.
    elsewhere : sequence of OtherDarkroom
        The others that know it.
    about : Population, optional
        What is believed of films already: the law is taken as straight where the film lies if it is one of them.
    """
    evidence, information, pull = told_by_strips(series, elsewhere, about)
    broad = broad_prior(EVERY, series)
    at = places(EVERY, Law(evidence.varied))[:SHARED]
    known = np.flatnonzero(at >= 0)
    # In spreads of films in general, from their middle; offsets are in usual widths and from none already.
    scale = np.concatenate([broad.sd[known], np.ones(len(information) - len(known))])
    middle = np.concatenate([broad.mean[known], np.zeros(len(information) - len(known))])
    order = np.concatenate([at[known], np.arange(len(known), len(information))])
    told = information[np.ix_(order, order)]
    pull = scale * (pull[order] - told @ middle)
    told = told * np.outer(scale, scale)
    # What belongs to a film's support and to one evening's bleach is not shared: it is known as in films in general.
    own = np.isin(known, [INDEX[name] for name in OWN])
    own = np.concatenate([own, np.zeros(len(told) - len(known), dtype=bool)])
    through = np.linalg.solve(told[np.ix_(own, own)] + np.eye(int(own.sum())), told[np.ix_(own, ~own)]).T
    pull = pull[~own] - through @ pull[own]
    told = told[np.ix_(~own, ~own)] - through @ told[np.ix_(own, ~own)]
    size, axes = np.linalg.eigh(0.5 * (told + told.T))
    sharp = size > LEAST_TOLD
    size, axes = size[sharp], axes[:, sharp]
    weight = np.sqrt(np.minimum(size, MOST_TOLD))
    value = weight * np.clip(axes.T @ pull / size, -FURTHEST, FURTHEST)
    rows = weight[:, None] * axes.T
    shared = known[~own[: len(known)]]
    of = np.zeros((len(value), SHARED))
    of[:, shared] = rows[:, : len(shared)]
    offsets = rows[:, len(shared) :].reshape(len(value), -1, len(OFFSETS))
    return Lesson(id, evidence.size, _figures(of), _figures(value), _figures(offsets))


def _figures(values: Array) -> Array:
    flat = [float(f"{value:.{FIGURES}g}") for value in values.ravel()]
    return np.array(flat, dtype=float).reshape(values.shape)


def learn_population(lessons: Mapping[str, Lesson] | Sequence[Lesson]) -> Population:
    """Reduce lessons to what films have in common.

    Parameters
    ----------
    lessons : sequence of Lesson
        In any order; one given twice counts once.
    """
    ordered = in_order(lessons)
    common = _common(_blocks(ordered))
    return Population(
        len(ordered), common.shift, common.spread, tuple(float(sd) for sd in np.array(USUAL_SDS) * common.width)
    )


def left_out(lessons: Mapping[str, Lesson] | Sequence[Lesson]) -> LeftOut:
    """Learn from four fifths and look how the last fifth is foretold, for each fifth.

    Parameters
    ----------
    lessons : sequence of Lesson
        At least as many as there are fifths.
    """
    ordered = in_order(lessons)
    gains, inside, in_general, told_in_all = [], 0, 0, 0
    for k in range(FOLDS):
        learned = _common(_blocks([lesson for n, lesson in enumerate(ordered) if n % FOLDS != k]))
        for block in _blocks(ordered[k::FOLDS]):
            density, within = block.foretold(learned)
            # How tellings err is no merit of what was learned of films.
            by_general, within_general = block.foretold(_Common(error=learned.error))
            gains.append(density - by_general)
            inside, in_general = inside + int(within.sum()), in_general + int(within_general.sum())
            told_in_all += int(block.real.sum())
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
    """
    each = lessons if isinstance(lessons, Mapping) else {lesson.id: lesson for lesson in lessons}
    return [each[id] for id in sorted(each)]


def told_of(lessons: Sequence[Lesson]) -> tuple[int, ...]:
    """Of how many films the strips told each of `UNKNOWNS`."""
    counts = np.zeros(SHARED, dtype=int)
    for block in _blocks(lessons):
        inverse = np.linalg.inv(block.covariance(_Common()))
        left = 1.0 - np.einsum("frn,frs,fsn->fn", block.of, inverse, block.of, optimize=True)
        counts += (1.0 / np.maximum(left, 1e-12) - 1.0 > TOLD).sum(axis=0)
    return tuple(int(n) for n in counts)


@dataclass(frozen=True, eq=False)
class _Common:
    """What films have in common, as far as it is reckoned; as it stands here, films in general.

    Parameters
    ----------
    shift, spread : (N,) arrays
        As of a population.
    width : (offsets,) array
        How far darkrooms lie from their middle, in usual widths.
    error : float
        By how much a telling errs, where the notebook believes 1.
    """

    shift: Array = field(default_factory=lambda: np.zeros(SHARED))
    spread: Array = field(default_factory=lambda: np.ones(SHARED))
    width: Array = field(default_factory=lambda: np.ones(len(OFFSETS)))
    error: float = 1.0


@dataclass(frozen=True, eq=False)
class _Block:
    """Some films side by side, filled up with tellings of nothing.

    Parameters
    ----------
    of, value : (F, R, N) and (F, R) arrays
    offsets : (F, R, M, offsets) array
        Of the middle of all darkrooms: the film's first darkroom stands before the others.
    real : (F, R) bool array
        Where a telling is none of those filled in.
    """

    of: Array
    value: Array
    offsets: Array
    real: NDArray[np.bool_]

    @classmethod
    def from_lessons(cls, lessons: Sequence[Lesson]) -> _Block:
        rows = max(len(lesson.value) for lesson in lessons)
        rooms = max(lesson.darkrooms for lesson in lessons)
        of, value = np.zeros((len(lessons), rows, SHARED)), np.zeros((len(lessons), rows))
        offsets = np.zeros((len(lessons), rows, 1 + rooms, len(OFFSETS)))
        real = np.zeros((len(lessons), rows), dtype=bool)
        for k, lesson in enumerate(lessons):
            count = len(lesson.value)
            of[k, :count], value[k, :count], real[k, :count] = lesson.of, lesson.value, True
            # An offset is theirs less one's own.
            offsets[k, :count, 0] = -lesson.offsets.sum(axis=1)
            offsets[k, :count, 1 : 1 + lesson.darkrooms] = lesson.offsets
        return cls(of, value, offsets, real)

    def covariance(self, common: _Common) -> Array:
        """Covariance of the tellings of each film, (F, R, R)."""
        films = self.of * common.spread
        rooms = self.flat_offsets(common.width)
        total: Array = films @ np.swapaxes(films, 1, 2) + rooms @ np.swapaxes(rooms, 1, 2)
        return total + common.error**2 * np.eye(self.value.shape[1])

    def flat_offsets(self, width: Array) -> Array:
        """Weights of every darkroom's offsets in each telling, (F, R, (1 + M) offsets)."""
        flat: Array = (self.offsets * width).reshape(*self.value.shape, self.offsets.shape[2] * len(OFFSETS))
        return flat

    def foretold(self, common: _Common) -> tuple[Array, NDArray[np.bool_]]:
        """Log density of what each film tells, up to a constant, and which tellings lie in their 90 % intervals."""
        covariance, away = self.covariance(common), self.value - self.of @ common.shift
        solved = np.linalg.solve(covariance, away[..., None])[..., 0]
        density = -0.5 * ((away * solved).sum(axis=1) + np.linalg.slogdet(covariance)[1])
        sd = np.sqrt(np.einsum("frr->fr", covariance))
        return density, self.real & (np.abs(away) <= Z90 * sd)


def _blocks(lessons: Sequence[Lesson]) -> list[_Block]:
    return [_Block.from_lessons(lessons[k : k + FILMS_AT_ONCE]) for k in range(0, len(lessons), FILMS_AT_ONCE)]


def _common(blocks: Sequence[_Block]) -> _Common:
    """What films have in common, how far darkrooms lie from their middle, and by how much tellings err.

    The middle is the most probable one under the spreads; the spreads settle on their most probable values by a
    minorising step, which no step makes less probable (H. Zhou, L. Hu, J. Zhou, K. Lange, "MM algorithms for variance
    components models", J. Comput. Graph. Stat. 28 (2019) 350; from memory). A bottle that is not what its label says is
    no way of darkrooms: where the strips told so, a lesson already says little of that darkroom.
    """
    common = _Common()
    for _ in range(STEPS_OF_MANY):
        pulls = _pulls(blocks, common)
        grown = _step(*pulls.film, common.spread, IMAGINED_FILMS, IMAGINED_VARIANCE)
        wider = _step(*pulls.room, common.width, IMAGINED_DARKROOMS, 1.0)
        erring = float(_step(*pulls.telling, np.array(common.error), IMAGINED_TELLINGS, 1.0))
        common = _Common(pulls.shift, common.spread * grown, common.width * wider, common.error * erring)
        if max(np.abs(grown - 1.0).max(), np.abs(wider - 1.0).max(), abs(erring - 1.0)) < SETTLED:
            break
    last = _pulls(blocks, common)
    return replace(common, shift=last.shift, spread=np.sqrt(np.minimum(common.spread**2 + last.doubt, 1.0)))


def _step(pull: Array, trace: Array, sd: Array, imagined: float, variance: float) -> Array:
    """By what factor standard deviations change; the imagined are seen as they are, with that variance."""
    grown: Array = ((pull + imagined * variance / sd**4) / (trace + imagined / sd**2)) ** 0.25
    return grown


@dataclass(frozen=True, eq=False)
class _Pulls:
    """The middle and its variance under some spreads; squared pull and information on each film's, darkroom's and telling's own."""

    shift: Array
    doubt: Array
    film: tuple[Array, Array]
    room: tuple[Array, Array]
    telling: tuple[Array, Array]


def _pulls(blocks: Sequence[_Block], common: _Common) -> _Pulls:
    inverses = [np.linalg.inv(block.covariance(common)) for block in blocks]
    held = AT_THE_CENTRE + ALIKE_IN_ALL * sum(len(block.value) for block in blocks)
    information, towards = held * np.eye(SHARED), np.zeros(SHARED)
    through = [inverse @ block.of for inverse, block in zip(inverses, blocks, strict=True)]
    for by, block in zip(through, blocks, strict=True):
        flat = by.reshape(-1, SHARED)
        information += block.of.reshape(-1, SHARED).T @ flat
        towards += flat.T @ block.value.ravel()
    variance = np.linalg.inv(information)
    shift = variance @ towards
    film, film_trace = np.zeros(SHARED), np.zeros(SHARED)
    room, room_trace = np.zeros(len(OFFSETS)), np.zeros(len(OFFSETS))
    telling, telling_trace = np.zeros(()), np.zeros(())
    for inverse, by, block in zip(inverses, through, blocks, strict=True):
        away = block.value - block.of @ shift
        film += (np.einsum("frn,fr->fn", by, away) ** 2).sum(axis=0)
        film_trace += np.einsum("frn,frn->n", by, block.of)
        flat = block.flat_offsets(np.ones(len(OFFSETS)))
        turned = inverse @ flat
        room += (np.einsum("frm,fr->fm", turned, away) ** 2).reshape(-1, len(OFFSETS)).sum(axis=0)
        room_trace += np.einsum("frm,frm->m", turned, flat).reshape(-1, len(OFFSETS)).sum(axis=0)
        # Those filled in tell nothing of how tellings err.
        telling = telling + (np.einsum("frs,fs->fr", inverse, away)[block.real] ** 2).sum()
        telling_trace = telling_trace + np.einsum("frr->fr", inverse)[block.real].sum()
    return _Pulls(shift, np.diag(variance), (film, film_trace), (room, room_trace), (telling, telling_trace))
