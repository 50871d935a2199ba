"""Where the patches of a strip lie, when the person has said how many there are."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import EllipsisType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from obverse.foundation import Array
from obverse.imaging.statistics import median, medians_of

_FULLY = 0.1  # difference of density that counts fully as evidence
MOST_EVIDENCE = 10.0  # of a placing: more does not say more
ENOUGH_CONTRAST = (
    0.25 / _FULLY**2
)  # of evidence at most, for each square of the difference between the densest and the clearest

SURE_GAIN = 7.0  # in squared standard deviations, by which one placing explains a strip clearly better than another

_TOP = 2.6  # density above which differences say little about where a patch ends
_FLOOR = 0.015  # standard deviation of a column's density that is always allowed for
_WEIGHT = 8.0  # a patch counts as so many independent readings
_REGULAR = 45.0  # weight of the squared logarithm of a length against the usual one
_SHORT_END, _SHORTER_END, _CUT_HALF = (
    3.5,
    30.0,
    0.62,
)  # what a cut patch costs, and more for each share that it is shorter than that
_TRIMS = (0.03, 0.07, 0.13, 0.2, 0.27)  # shares of a patch left out at either end, where a bar may lie
_TRIM_COST = (0.0, 0.25, 0.8, 1.6, 3.0)  # of each of them
_LEAST_DENSITY = -0.2  # below which a reading is none
_BAR_REACH, _FEWEST_SAMPLES, _NEAR_PART = (
    0.3,
    2,
    4,
)  # of a patch to either side of a boundary, and the part of that which is on it
_BARS_SEEN = 0.35  # of the boundaries
_USUAL_FROM, _USUAL_TO, _USUAL_TO_CUT, _USUALS, _USUALS_CUT = (
    1.06,
    0.75,
    0.5,
    9,
    20,
)  # usual lengths tried, of the even one; how many
_BORDER_COST = 25.0  # of the squared share of a patch that is like the border
_NEARLY_BEST = 0.25  # of what one sample may cost
_INNER = 0.15  # of a patch, left out at either end where its unevenness is judged
_SHOWN_STEP, _SHOWN_STEP_NOISE, _SHOWN_BAR, _SHOWN_BAR_NOISE = 0.02, 2, 0.05, 4  # of density, and times the noise
_ENERGY_REACH, _RIM_REACHES = 12, 4  # of a patch, and reaches from the ends of the film
_LEAST_STEP, _SURE_STEP, _STEP_IN_THE_DARK, _DARK = (
    0.04,
    3.0,
    0.1,
    1.6,
)  # density, standard deviations, per density above that
_STRAY = 0.015  # of density: light that strays into a dark patch from its surroundings, not the same everywhere
_CUT_BY_PICTURE = 0.3  # what a patch costs that the edge of the picture cut
_BORDER_END = 10.0  # more, where it is as dense as the border
_MOST = 60.0  # that one patch may cost for being uneven: a hair must not decide
_LIKE_BORDER, _LIKE_EDGE = 0.15, 0.07  # density: from the border on the whole, and from the edges beside a place
# Film that saw no light is the darkest of all, and its edges catch light that strays from the panel beside them: what is denser
# than a border as dense as this is border too.
_DARK_BORDER = 1.2
# Cost of one patch length of film before the first patch or after the last: where nothing is known of the border, where
# it is as dense as the border, and where it is not.
_LEAD, _LEAD_LIKE_BORDER, _LEAD_UNLIKE_BORDER = 4.0, 0.8, 9.0
_LIKE_BORDER_COST = 1.6  # of a patch as dense as the border
_BAR = 0.3  # of a patch
_STEP_OUTSIDE = 14.0  # cost of a step of density 1 there; it goes as the root
_BARE = 60.0  # cost of one patch length of no film inside a patch
_NEEDLESS = 1.5  # cost of a boundary in another count of patches
# Of patches that are sure on both sides, how many say as much of the law of lengths as was thought before; and how even at the most
# (standard deviation of the logarithm).
_USUALLY_EVEN, _LEAST_UNEVEN = 3.0, 0.05
_BESIDE, _NEAR = (-1, 0, 1), 0.35  # patches by which a row may begin or end elsewhere, and how near to there
_ROUGHLY = 15.0  # of cost, by which a place need not be looked at closely: on few samples costs are rough
# Rows mostly go one way, from dense to clear or back: cost of each patch that does not, and of how many at the most; what is no
# denser or clearer than that goes neither way.
_TURNS, _MOST_TURNS, _NO_TURN = 0.9, 0.25, 0.03
# One patch that lies at an end against the way of all the others, by so much of what those span, is rather film beyond the row: cost, and
# where the other end merges into such film, as both ends of a row do whose first and last frame saw no light.
_ALONE, _ALONE_COST, _ALONE_MERGED = 0.5, 14.0, 7.5
# Film beyond a row saw all the light or none: what is left out at an end, even, so long in patches, unlike the border, and by so much
# clearer than the densest and denser than the clearest patch, is rather a patch. On 372 pictures by other hands two rows left such a
# one out, both wrongly.
_BETWEEN, _BETWEEN_COST, _BETWEEN_TO, _BETWEEN_EVEN = 0.2, 12.0, 1.2, 0.1
# Most film beyond a row of a slide saw no light, and is dense: some that is clearer than the row's middle, parted from it by a step, is
# rather a patch, though it was cut short; cost, and the least length in patches.
_CLEAR_COST, _CLEAR_FROM = 5.0, 0.15
# That a step of the row's usual height stays unseen where the picture shows smaller ones is unlikely: cost, for each boundary, of the
# logarithm of how much smaller; and the chance of two patches that are equal. This and the three costs above by what told right placings
# from others of 370 rows (light path, scanner, a fifth and a sixth hand), rounded.
_UNSEEN, _EQUAL = 6.0, 0.1
_QUARTERS = (25, 50, 75)  # percentiles
# A boundary is sharp where density jumps there: at least, times its drift within either side, times the noise; within so much of a patch.
_SHARP, _SHARP_DRIFTS, _SHARP_NOISE, _SHARP_REACH = 0.012, 2.0, 3.0, 0.4
# A step so many times as clear, hidden in a patch at the film's own end, so far of a patch from where that was thought to meet the
# next; the share of it that lies within a sample or two of the place, as no slope of stray light does; and boundaries that there are at least.
_CLEARER, _HIDDEN, _SUDDEN, _FEWEST_ENDS = 3.0, 0.3, 0.7, 4
# Another placing is out of the question that costs so much more; where the patches of a row cost more than so much each, the picture
# strays by more than was thought, and the difference must be as many times larger. Of 844 rows by other hands (803 of them right) all but 3
# wrong ones had one so near or another caution, and 49 right ones had one; 5 had 37, but said nothing of a strip of ten read as nine.
_CLEARLY_DEARER, _WELL_EXPLAINED = 6.0, 1.5
# So many times as much where the row itself is an unlikely one, an end of which lies against the way of all the others.
_ODD_ROW = 3.0
_FEWEST_ONE_WAY, _MOST_ALONE = 5, 2  # patches, of which it is told that they go one way, and that may lie against it
_SHORTEST, _LONGEST = 0.45, 1.65  # of the usual length
_SHORTEST_END = 0.28  # of a patch that was cut through
_FULL = 0.8  # of the usual length, from which on a patch is no cut one
_NEAR_END = 0.12  # of a patch: how far from the film's end it may be cut
_NO_WEIGHT = 1e-9
_STRIDE = 0.1  # of a patch: how far apart boundaries lie while usual lengths are tried
_FINER = 2  # of them are tried again on every sample
_MOST_MOVES = 4  # times that boundaries are moved to the sample before they are taken as they are
_OTHERS = 3  # patches more and fewer that are tried against the person's number
_CLEARLY = 2.5  # of cost, by which another count need not be looked at closely


@dataclass(frozen=True, eq=False)
class Profile:
    """Density along a strip.

    Parameters
    ----------
    place : ndarray, shape (m,)
        Along the strip, 0 and 1 at its ends; it may reach beyond them.
    density : ndarray, shape (m,)
    sd : ndarray, shape (m,)
        Of one reading.
    film : ndarray of bool, shape (m,)
        Where film, and not the bare panel or the end of the picture, lies.
    border : float or None
        Density of the film's border; None where the patches reach from edge to edge.
    leaves : (bool, bool)
        Whether the film goes on beyond the picture's edge, at the first end and at the last.
    edge : ndarray, shape (m,), optional
        Density of the film's edges beside each place; film that saw light, or none, from edge to edge is as dense there.
    """

    place: Array
    density: Array
    sd: Array
    film: NDArray[np.bool_]
    border: float | None = None
    leaves: tuple[bool, bool] = (False, False)
    edge: Array | None = None


@dataclass(frozen=True, eq=False)
class Layout:
    """Patches along a strip, in its own coordinates (0 at the first end, 1 at the other).

    Parameters
    ----------
    edges : ndarray, shape (count + 1,)
        Where the patches meet; in the middle of a bar.
    cost : float
        Of the placing, in units of a standard deviation squared; only differences mean something.
    evidence : float
        By how much the placing is better than calling all of the strip one patch, per patch.
    seen : int
        How many of the boundaries show a step or a bar.
    work : optional
        What the placing was weighed by; None where somebody laid it.
    """

    edges: Array
    cost: float
    evidence: float
    seen: int
    work: _Work | None = None

    @property
    def count(self) -> int:
        """Number of patches."""
        return len(self.edges) - 1

    @property
    def start(self) -> float:
        """Where the first patch begins."""
        return float(self.edges[0])

    @property
    def end(self) -> float:
        """Where the last one ends."""
        return float(self.edges[-1])

    @property
    def pitch(self) -> float:
        """Usual length of a patch with its share of the bars."""
        return median(np.diff(self.edges))

    def centres(self) -> Array:
        """Middle of each patch along the strip."""
        return (self.edges[:-1] + self.edges[1:]) / 2

    def lengths(self) -> Array:
        """Length of each patch."""
        return np.diff(self.edges)


def even_layout(count: int) -> Layout:
    """Equal patches that fill a strip."""
    return Layout(np.linspace(0.0, 1.0, count + 1), 0.0, 0.0, 0)


def place_patches(seen: Profile, count: int, *, whole: bool = False) -> Layout:
    """The best places for `count` patches along a strip.

    Parameters
    ----------
    count : int
        As the person said; it is not questioned here.
    whole : bool
        The patches reach from 0 to 1, but for small amounts: somebody laid the corners.

    Notes
    -----
    Each patch is even within, but for its ends, where a bar may lie; patches are about equally long. What lies before
    the first and after the last is border. The cheapest placing is found by dynamic programming over the boundaries,
    for each of a range of usual lengths.
    """
    work = _Work(seen, count, whole)
    cost, edges = work.cheapest()
    if seen.border is None and count > 2 and (bars := work.bars(edges)) is not None:
        # Bars are border that lies between frames, and say how dense the border is where it is nowhere else seen.
        work = _Work(replace(seen, border=bars), count, whole)
        cost, edges = work.cheapest()
    return work.laid(cost, edges)


class _Work:
    """Sums over a profile from which the cost of any patch follows at once."""

    def __init__(self, seen: Profile, count: int, whole: bool):
        self.seen, self.count, self.whole = seen, count, whole
        self.size = seen.place.size
        self.known: dict[tuple[float, ...], _Costs] = {}
        density = np.clip(np.where(seen.film, seen.density, 0.0), _LEAST_DENSITY, _TOP)
        variance = _FLOOR**2 + np.clip(seen.sd, 0.0, 0.5) ** 2 + (_STRAY * np.maximum(density, 0.0)) ** 2
        weight = np.where(seen.film, 1.0 / variance, 0.0)
        self.density, self.weight = density, weight
        # Of weight, density and its square, one below the other: they are always asked for together.
        each = np.stack([weight, weight * density, weight * density**2])
        self.sums = np.concatenate([np.zeros((len(each), 1)), np.cumsum(each, axis=1)], axis=1)
        self.bare = np.concatenate([[0.0], np.cumsum(~seen.film, dtype=float)])
        like = np.zeros(self.size, dtype=bool)
        if seen.border is not None:
            above = density - np.clip(seen.border, _LEAST_DENSITY, _TOP)
            like = (above > -_LIKE_BORDER) & ((above < _LIKE_BORDER) | (seen.border > _DARK_BORDER))
        if seen.edge is not None:
            like |= np.abs(density - np.clip(seen.edge, _LEAST_DENSITY, _TOP)) < _LIKE_EDGE
        self.like, self.unlike = (
            np.concatenate([[0.0], np.cumsum(v.astype(float))]) for v in (seen.film & like, seen.film & ~like)
        )
        self.energy = np.concatenate([[0.0], np.cumsum(_step_energy(density, seen.sd, seen.film, count))])
        inside = np.flatnonzero(seen.film)
        first, last = (int(inside[0]), int(inside[-1]) + 1) if inside.size else (0, self.size)
        if whole:
            first, last = (int(np.searchsorted(seen.place, v)) for v in (0.0, 1.0))
        self.first, self.last = first, last
        # How many samples apart boundaries lie while usual lengths are tried.
        self.stride = max(1, round(_STRIDE * float(self.pitches(count).mean())))

    def cheapest(self) -> tuple[float, NDArray[np.int64]]:
        """The cheapest boundaries of all, and their cost."""
        best = min(
            (self.best(pitch, self.count) for _, pitch in self.tried([self.count])[self.count][:_FINER]),
            key=lambda found: found[0],
        )
        for _ in range(2):
            finer = self.finer(best[1], median(np.diff(best[1])))
            if finer[0] >= best[0]:
                break
            best = finer
        return best

    def tried(self, counts: Sequence[int]) -> dict[int, list[tuple[float, float]]]:
        """Cost and usual length, cheapest first, for each of some counts, with boundaries on every few samples only."""
        longest, shortest = (self.pitches(count)[end] for count, end in ((min(counts), 0), (max(counts), -1)))
        usual = self.pitches(self.count)
        each = len(usual) - 1
        step = each / math.log(usual[0] / usual[-1])
        found: dict[int, list[tuple[float, float]]] = {count: [] for count in counts}
        # The lengths that are usual for the person's number are among those of its neighbours: what they cost is known already.
        first, last = (
            math.ceil(step * abs(math.log(end / own))) for end, own in ((longest, usual[0]), (shortest, usual[-1]))
        )
        for part in (range(each + 1), (*range(-first, 0), *range(each + 1, each + last + 1))):
            pitches = tuple(float(usual[0] * (usual[-1] / usual[0]) ** (k / each)) for k in part)
            if pitches:
                for count, costs in self.costs(pitches).of_counts(counts).items():
                    found[count] += zip(costs, pitches, strict=True)
        return {count: sorted(trials) for count, trials in found.items()}

    def costs(self, pitches: tuple[float, ...]) -> _Costs:
        """What patches cost for some usual lengths; worked out once."""
        if pitches not in self.known:
            self.known[pitches] = _Costs(self, pitches, self.stride)
        return self.known[pitches]

    def best(self, pitch: float, count: int) -> tuple[float, NDArray[np.int64]]:
        """The cheapest boundaries for a usual length, and their cost."""
        tried = next((pitches for pitches in self.known if pitch in pitches), (pitch,))
        return self.finer(self.costs(tried).boundaries(tried.index(pitch), count), pitch)

    def finer(
        self,
        edges: NDArray[np.int64],
        pitch: float,
        held: dict[int, tuple[float, float]] | None = None,
        more: float = 0.0,
    ) -> tuple[float, NDArray[np.int64]]:
        """The cheapest boundaries, to the sample, near some that are roughly right, and their cost; those that are held stay between two samples.

        `more` is what lengths that differ cost beyond the usual.
        """
        reach = self.stride + 1
        for _ in range(_MOST_MOVES):
            places = np.clip(edges[:, None] + np.arange(-reach, reach + 1), 0, self.size)
            for one, (low, high) in (held or {}).items():
                places[one] = np.clip(places[one], math.ceil(low), math.floor(high))
            inner, first, last = self.of_patches(
                _Spans(places[:-1, :, None], places[1:, None, :]), np.asarray(pitch), more
            )
            before, after = self.lead_costs(np.array([[pitch]]), places[[0, -1]])
            total, came = before[0], []
            for cost in (first[0], *inner[1:-1], *last[1:][-1:]):
                ways = total[:, None] + cost
                came.append(ways.argmin(axis=0))
                total = ways.min(axis=0)
            total = total + after[1]
            picks = [int(total.argmin())]
            for ways in reversed(came):
                picks.append(int(ways[picks[-1]]))
            moved = places[np.arange(len(places)), picks[::-1]]
            if np.abs(moved - edges).max() < reach:
                break
            edges = moved
        return float(total.min()), moved

    def elsewhere(self, edges: NDArray[np.int64]) -> Iterator[tuple[int, int, float, NDArray[np.int64]]]:
        """The cheapest boundaries that begin and end up to a patch elsewhere; first by how many patches later they do so."""
        pitch = median(np.diff(edges))
        # Told by where the first patch ends and the last begins: either may be cut.
        firsts, lasts = (
            [(at + (by - _NEAR) * pitch, at + (by + _NEAR) * pitch) for by in _BESIDE] for at in (edges[1], edges[-2])
        )
        tried, usual = min(
            ((pitches, one) for pitches in self.known for one in pitches), key=lambda each: abs(each[1] - pitch)
        )
        rough = list(self.known[tried].elsewhere(tried.index(usual), self.count, firsts, lasts))
        least = min((cost for *_, cost, _ in rough), default=0.0)
        for j, k, cost, found in rough:
            if cost - least > _ROUGHLY:
                continue
            placed = found()
            held = {1: firsts[j], self.count - 1: lasts[k]}
            cost, moved = min(
                (self.finer(placed, length, held) for length in (usual, median(np.diff(placed)))),
                key=lambda found: found[0],
            )
            if np.isfinite(cost):
                yield _BESIDE[j], _BESIDE[k], cost, moved

    def as_even(self, layout: Layout, more: float) -> Layout:
        """The same placing with its boundaries where they are cheapest when lengths that differ cost so much more."""
        edges = self.to_samples(layout.edges)
        pitch = median(np.diff(edges))
        ends = [(edges[k] - _NEAR * pitch, edges[k] + _NEAR * pitch) for k in (1, -2)]
        cost, moved = self.finer(edges, pitch, dict(zip((1, self.count - 1), ends, strict=True)), more)
        # What it costs is compared with placings that were laid by the usual law.
        return replace(self.laid(cost, moved), cost=layout.cost) if np.isfinite(cost) and more else layout

    def laid(self, cost: float, edges: NDArray[np.int64]) -> Layout:
        """Boundaries as a placing of patches."""
        settled = self.settled(edges)
        return Layout(self.to_place(settled), cost, self.evidence(settled), self.visible(settled), self)

    def levels(self, edges: NDArray[np.int64]) -> Array:
        """Density of each patch, away from its ends."""
        a, b = edges[:-1], edges[1:]
        cut = np.maximum(1, np.rint(_TRIMS[-1] * (b - a))).astype(np.int64)
        some = b - a > 2 * cut
        return medians_of(self.density, np.where(some, a + cut, (a + b) // 2), b - cut)

    def turns(self, edges: NDArray[np.int64]) -> float:
        """What it costs that a row does not go one way."""
        levels = self.levels(edges)
        odd = levels.size - max(_longest_way(levels), _longest_way(-levels))
        return _TURNS * min(odd, 1 + _MOST_TURNS * levels.size) + self._alone(levels, edges)

    def left_out(self, edges: NDArray[np.int64]) -> float:
        """What it costs that film is left out at an end that saw some light, and that no border is."""
        pitch, levels = median(np.diff(edges)), self.levels(edges)
        rim = max(1, round(_TRIMS[1] * pitch))
        cost = 0.0
        for leaves, first, last, end in (
            (self.seen.leaves[0], self.first, int(edges[0]), 0),
            (self.seen.leaves[1], int(edges[-1]), self.last, -1),
        ):
            within = self.density[first + rim : last - rim]
            length = (last - first) / pitch
            if not _CLEAR_FROM < length <= _BETWEEN_TO or within.size < 2 * _FEWEST_SAMPLES:
                continue
            low, middle, high = np.percentile(within, _QUARTERS)
            like = self.like[last] - self.like[first] >= self.unlike[last] - self.unlike[first]
            if high - low >= _BETWEEN_EVEN or like:
                continue
            # Where the film leaves the picture a little of a further patch may show.
            long = length >= (_CUT_HALF if leaves else _SHORTEST_END)
            if long and min(levels) + _BETWEEN < middle < max(levels) - _BETWEEN:
                cost += _BETWEEN_COST
            elif not leaves and middle < (min(levels) + max(levels)) / 2 and self.sharp(int(edges[end]), pitch):
                cost += _CLEAR_COST
        return cost

    def unseen(self, edges: NDArray[np.int64]) -> float:
        """What it costs that patches meet where no step is seen, though one of the usual height would show."""
        inner, pitch = edges[1:-1], median(np.diff(edges))
        shown, steps = self.steps(inner, pitch), np.abs(np.diff(self.levels(edges)))
        if shown.all() or not shown.any():
            return 0.0
        least = np.maximum(_SHOWN_STEP, _SHOWN_STEP_NOISE * self._beside(inner, pitch)[-1])
        chance = np.minimum(least / max(median(steps[shown]), _SHOWN_STEP), 1.0)[~shown]
        return -_UNSEEN * float(np.log(_EQUAL + (1 - _EQUAL) * chance).sum())

    def of_row(self, edges: NDArray[np.int64]) -> float:
        """What a row costs on the whole, beside each of its patches."""
        return self.turns(edges) + self.left_out(edges) + self.unseen(edges)

    def regularity(self, edges: NDArray[np.int64]) -> float:
        """By how much more uneven lengths cost in a row whose sure patches show how even they are."""
        pitch = median(np.diff(edges))
        shown = self.steps(edges, pitch)
        sure = shown[:-1] & shown[1:]
        logs = _off_pitch(edges)[sure]
        usual = 1.0 / _REGULAR
        found = (_USUALLY_EVEN * usual + float((logs**2).sum())) / (_USUALLY_EVEN + logs.size)
        return max(1.0 / max(found, _LEAST_UNEVEN**2) - _REGULAR, 0.0)

    def _alone(self, levels: Array, edges: NDArray[np.int64]) -> float:
        """What it costs that one or two patches at an end lie against the way of all the others."""
        cost = 0.0
        like, unlike = self.like[edges[1:]] - self.like[edges[:-1]], self.unlike[edges[1:]] - self.unlike[edges[:-1]]
        # Where nothing is known of the border, any film may be.
        border = (like > unlike) | (self.seen.border is None)
        for order, beyond, other_end in ((levels, border, edges[-1]), (levels[::-1], border[::-1], edges[0])):
            for many in range(1, _MOST_ALONE + 1):
                first, others = order[:many], order[many:]
                if others.size < _FEWEST_ONE_WAY:
                    break
                way = np.sign(others[-2:].mean() - others[:2].mean())
                back = beyond[:many].all() and (way * (first - others[0])).min() > _ALONE * np.ptp(others)
                if back and _longest_way(way * others[:-1]) == others.size - 1:
                    merged = abs(first[0] - others[-1]) < _LIKE_BORDER and not self.sharp(
                        other_end, median(np.diff(edges))
                    )
                    cost += _ALONE_MERGED if merged and many == 1 else _ALONE_COST
                    break
        return cost

    def odd(self, layout: Layout) -> bool:
        """Whether one or two patches at an end lie against the way of all the others."""
        edges = self.to_samples(layout.edges)
        return self._alone(self.levels(edges), edges) > 0.0

    def sharp(self, edge: int, pitch: float) -> bool:
        """Whether density jumps at a boundary: by more than it changes on the way there, as stray light does."""
        reach = max(2 * _FEWEST_SAMPLES, round(_SHARP_REACH * pitch))
        away = max(1, reach // _NEAR_PART)
        sides = self.density[max(edge - reach, 0) : max(edge - away, 0)], self.density[edge + away : edge + reach]
        if min(side.size for side in sides) < 2 * _FEWEST_SAMPLES:
            return True
        return _clear_step(*sides, median(self.seen.sd[max(edge - reach, 0) : edge + reach])) > 1.0

    def on_seen_steps(self, layout: Layout) -> Layout:
        """The same placing with each end patch parted from the next on a step that one of them hides, where nothing is seen that parts them."""
        edges = self.to_samples(layout.edges)
        pitch = median(np.diff(edges))
        for last in (False, True):
            # Seen from either end: samples are counted from there.
            ends = self.size - edges[::-1] if last else edges
            moved = self._on_seen_step(ends, pitch, last=last)
            edges = self.size - moved[::-1] if last else moved
        if np.array_equal(edges, self.to_samples(layout.edges)):
            return layout
        return replace(layout, edges=self.to_place(edges), evidence=self.evidence(edges), seen=self.visible(edges))

    def _on_seen_step(self, edges: NDArray[np.int64], pitch: float, *, last: bool) -> NDArray[np.int64]:
        """Boundaries, seen from one end, with the second on the step that lies hidden in the first patch or in the second."""
        density, sd = (v[::-1] if last else v for v in (self.density, self.seen.sd))
        begins = self.size - self.last if last else self.first
        own = self.size - int(edges[1]) if last else int(edges[1])
        # Only where the film itself ends is a patch cut short there.
        ended = edges[0] - begins <= _HIDDEN * pitch
        if edges.size < _FEWEST_ENDS or not ended or self.sharp(own, pitch) or self.steps(np.array([own]), pitch)[0]:
            return edges
        rim, reach = (max(_FEWEST_SAMPLES, round(part * pitch)) for part in (_TRIMS[1], _SHARP_REACH))
        low, high = begins + rim, int(edges[2]) - rim
        nearest, farthest = begins + round(_SHORTEST_END * pitch), int(edges[2]) - round(_SHORTEST * pitch)
        best, found = _CLEARER, None
        for at in range(max(nearest, int(edges[2]) - round(_LONGEST * pitch)), farthest):
            if abs(at - int(edges[1])) < _HIDDEN * pitch:
                continue
            before, after = density[max(at - reach, low) : at], density[at : min(at + reach, high)]
            clear = _clear_step(before, after, float(sd[at]))
            sudden = abs(float(density[at + 1] - density[at - 2]))
            if clear > best and sudden > _SUDDEN * abs(median(before) - median(after)):
                best, found = clear, at
        if found is None:
            return edges
        return np.concatenate([[max(begins, found - round(pitch))], [found], edges[2:]]).astype(np.int64)

    def bars(self, edges: NDArray[np.int64]) -> float | None:
        """Density of the bars between patches; None where there are too few to tell."""
        reach = max(_FEWEST_SAMPLES, round(_BAR_REACH * median(np.diff(edges))))
        near = max(1, reach // _NEAR_PART)
        inner = edges[1:-1]
        before = medians_of(self.density, np.maximum(inner - reach, 0), np.maximum(inner - near, 1))
        after = medians_of(self.density, inner + near, inner + reach)
        middle = self._around(inner, near)
        extremes = np.stack([middle.max(axis=1), middle.min(axis=1)], axis=1)
        high, low = np.maximum(before, after)[:, None], np.minimum(before, after)[:, None]
        found = extremes[np.maximum(extremes - high, low - extremes) > _LIKE_BORDER]
        if len(found) < _BARS_SEEN * (len(edges) - 2) or len(found) < 2:
            return None
        level = float(np.median(found))
        return level if np.median(np.abs(found - level)) < 2 * _LIKE_BORDER else None

    def pitches(self, count: int) -> Array:
        """Usual lengths that are tried, in samples, from the longest down."""
        most = (self.last - self.first) / count
        return np.asarray(
            most
            * np.geomspace(
                *((_USUAL_FROM, _USUAL_TO, _USUALS) if self.whole else (_USUAL_FROM, _USUAL_TO_CUT, _USUALS_CUT))
            )
        )

    def to_samples(self, places: Array) -> NDArray[np.int64]:
        """The samples between which boundaries lie."""
        step = (self.seen.place[-1] - self.seen.place[0]) / (self.size - 1)
        samples = np.rint((places - self.seen.place[0]) / step + 0.5)
        return np.asarray(np.clip(samples, 0, self.size), dtype=np.int64)

    def to_place(self, edges: NDArray[np.int64]) -> Array:
        step = (self.seen.place[-1] - self.seen.place[0]) / (self.size - 1)
        # A boundary lies between two samples.
        return np.asarray(self.seen.place[0] + (edges - 0.5) * step)

    def uneven(self, a: int, b: int) -> float:
        """Weighted squares about the mean over samples a to b."""
        w, total, squares = (float(v) for v in self.sums[:, b] - self.sums[:, a])
        return max(squares - total**2 / max(w, _NO_WEIGHT), 0.0)

    def of_patches(self, spans: _Spans, pitch: Array, more: float = 0.0) -> tuple[Array, Array, Array]:
        """What patches cost within the row, as its first and as its last; usual lengths are broadcast against them.

        Ends may be cut short. Lengths that differ cost so much more where the row has shown to be even.
        """
        short = np.maximum(2, np.rint(_SHORTEST_END * pitch))
        possible = (spans.lengths >= short) & (spans.lengths <= np.maximum(short + 1, np.rint(_LONGEST * pitch)))
        kind = spans.kind
        law = np.where(possible, (_REGULAR + more) * np.log(np.maximum(spans.lengths, 1) / pitch) ** 2, np.inf)
        law = law.astype(kind)
        whole = np.where(spans.lengths >= _SHORTEST * pitch, law, kind(np.inf))
        like, unlike = spans.sums(self.like), spans.sums(self.unlike)
        border = like / np.maximum(like + unlike, 1.0)
        plain = self._uneven(spans, pitch)
        if self.bare[-1]:
            plain += spans.sums(self.bare).astype(kind) * (_BARE / pitch).astype(kind)
        # Wherever it lies in the row: of two such patches one at each end is as likely as both at one.
        plain += (_LIKE_BORDER_COST * border).astype(kind)
        inner = plain + whole
        less = possible & (spans.lengths < pitch)
        shorter = _SHORT_END + _SHORTER_END * np.maximum(_CUT_HALF - spans.lengths / pitch, 0.0)
        stub = _BORDER_END * (spans.lengths < _FULL * pitch)
        near = self.near_end(pitch)
        head, tail = spans.begun_by(self.first + near.max()), spans.ended_from(self.last - near.max())
        sides = []
        for leaves, part, at_rim in (
            (self.seen.leaves[0], head, spans.starts[head] <= self.first + near),
            (self.seen.leaves[1], tail, spans.ends[tail] >= self.last - near),
        ):
            # Only where the film itself ends may a patch have been cut short; one that the picture's own edge cuts is as
            # likely as a whole one.
            cut = _CUT_BY_PICTURE if leaves else shorter + stub * border[part]
            ending = np.where(less, np.minimum(law, cut), law)
            side = inner.copy()
            side[part] = plain[part] + np.where(at_rim, ending, whole)
            sides.append(side)
        return inner, sides[0], sides[1]

    def near_end(self, pitch: Array) -> Array:
        """How many samples from the film's end a patch may be cut, for each usual length."""
        return np.rint(_NEAR_END * pitch)

    def _uneven(self, spans: _Spans, pitch: Array) -> Array:
        """What a patch costs for being uneven."""
        trims = np.maximum(1, np.rint(np.multiply.outer(_TRIMS, pitch.ravel()))).astype(np.int64)
        # So many samples left out say the same for all usual lengths.
        cuts = np.unique(trims)
        cut = cuts.reshape(-1, *[1] * spans.ends.ndim)
        weight, total, squares = spans.sums(self.sums, cut)
        np.maximum(weight, _NO_WEIGHT, out=weight)
        total *= total
        total /= weight
        squares -= total
        np.maximum(squares, 0.0, out=squares)
        # A patch of which the ends leave nothing is even.
        left = spans.lengths - 2 * cut.reshape(-1, *[1] * spans.lengths.ndim)
        squares *= np.where(left > 0, _WEIGHT / np.maximum(left, 1), 0.0)
        squares = squares.astype(spans.kind, copy=False)
        each = np.empty((pitch.size, *squares.shape[1:]), dtype=spans.kind)
        known: dict[tuple[int, ...], Array] = {}
        for one, which in zip(each, map(tuple, np.searchsorted(cuts, trims).T.tolist()), strict=True):
            if which in known:
                one[:] = known[which]
                continue
            known[which] = one
            one[:] = _MOST
            # The first of two that leave out as much costs less.
            for number, extra in dict(zip(reversed(which), reversed(_TRIM_COST), strict=True)).items():
                np.minimum(one, squares[number] + extra, out=one)
        return each if pitch.ndim else each[0]

    def lead_costs(self, pitch: Array, every: NDArray[np.int64]) -> tuple[Array, Array]:
        """Cost of what lies before each of some boundaries and after it; usual lengths and boundaries are broadcast."""
        sides = []
        # The bar between the last patch and the border is the patch's.
        bar, rim = (np.maximum(1, np.rint(part * pitch)).astype(np.int64) for part in (_BAR, _TRIMS[1]))
        like, unlike = self.like[every], self.unlike[every]
        for leaves, border, other, first, last in (
            (
                self.seen.leaves[0],
                like / pitch,
                unlike / pitch,
                np.minimum(self.first + rim, every),
                np.maximum(every - bar, 0),
            ),
            (
                self.seen.leaves[1],
                (self.like[-1] - like) / pitch,
                (self.unlike[-1] - unlike) / pitch,
                np.minimum(every + bar, self.size),
                np.maximum(self.last - rim, every),
            ),
        ):
            # Border is even: steps outside the patches would be patches. A frame's number may stand there.
            uneven = _STEP_OUTSIDE * (self.energy[last] - self.energy[np.minimum(first, last)])
            far = _LEAD if self.seen.border is None else _LEAD_UNLIKE_BORDER
            if self.whole:
                sides.append(_BORDER_COST * (border + other) ** 2 + _LEAD * (border + other) + uneven)
            else:
                cost = _LEAD_LIKE_BORDER * border**2 + far * other + uneven
                # Where the film leaves the picture less than half of a further patch may show.
                rest = leaves & (border + other < _CUT_HALF)
                sides.append(np.where(rest, np.minimum(cost, _CUT_BY_PICTURE), cost))
        return sides[0], sides[1]

    def settled(self, edges: NDArray[np.int64]) -> NDArray[np.int64]:
        """The inner boundaries moved to where one patch gives way to the next; to the middle of a bar."""
        moved = edges.copy()
        levels = self.levels(edges)
        for k in range(1, len(edges) - 1):
            before, after = levels[k - 1], levels[k]
            first = edges[k] - round(_TRIMS[-1] * (edges[k] - edges[k - 1])) - 1
            last = edges[k] + round(_TRIMS[-1] * (edges[k + 1] - edges[k])) + 1
            near = self.density[first:last]
            if near.size < 3 or abs(before - after) < 2 * _FLOOR:
                continue
            most = abs(before - after)
            left = np.concatenate([[0.0], np.cumsum(np.minimum(np.abs(near - before), most))])
            right = np.concatenate([[0.0], np.cumsum(np.minimum(np.abs(near - after), most))])
            wrong = left + right[-1] - right
            best = np.flatnonzero(wrong < wrong.min() + _NEARLY_BEST * most)
            moved[k] = first + round(float(best.mean()))
        return moved if np.all(np.diff(moved) > 0) else edges

    def evidence(self, edges: NDArray[np.int64]) -> float:
        """How much better than one single patch, per patch."""
        pitch = median(np.diff(edges))
        variance = _FULLY**2 / _FLOOR**2
        most = MOST_EVIDENCE * variance
        alone = self.uneven(edges[0], edges[-1]) / max(float(edges[-1] - edges[0]), 1.0)
        parts = []
        for first, last in itertools.pairwise(edges):
            cut = max(1, round(_INNER * pitch))
            p, q = first + cut, max(last - cut, first + cut + 1)
            parts.append(self.uneven(p, q) / max(float(q - p), 1.0))
        bare = float(self.bare[edges[-1]] - self.bare[edges[0]]) / max(float(edges[-1] - edges[0]), 1.0)
        return (min(alone, most) - float(np.mean(np.minimum(parts, most)))) / variance - 10.0 * bare

    def visible(self, edges: NDArray[np.int64]) -> int:
        """How many boundaries show a step or a bar."""
        return int(self.steps(edges[1:-1], median(np.diff(edges))).sum()) if edges.size > 2 else 0

    def steps(self, edges: NDArray[np.int64], pitch: float) -> NDArray[np.bool_]:
        """Which boundaries show a step or a bar."""
        reach, first, last, noise = self._beside(edges, pitch)
        before, after, near = (
            medians_of(self.density, *ends) for ends in ((first, edges), (edges, last), (first, last))
        )
        bar = np.abs(self._around(edges, max(reach // _NEAR_PART, 1)) - near[:, None]).max(axis=1)
        shown = np.abs(before - after) > np.maximum(_SHOWN_STEP, _SHOWN_STEP_NOISE * noise)
        shown |= bar > np.maximum(_SHOWN_BAR, _SHOWN_BAR_NOISE * noise)
        return np.asarray(shown & (np.minimum(edges - first, last - edges) >= 2))

    def _beside(
        self, edges: NDArray[np.int64], pitch: float
    ) -> tuple[int, NDArray[np.int64], NDArray[np.int64], Array]:
        """How many samples to either side of boundaries a step shows in, where those begin and end, and their noise."""
        reach = max(_FEWEST_SAMPLES, round(_BAR_REACH * pitch))
        first, last = np.maximum(edges - reach, 0), np.minimum(edges + reach, self.size)
        return reach, first, last, medians_of(1.0 / np.sqrt(np.maximum(self.weight, 1e-6)), first, last)

    def _around(self, edges: NDArray[np.int64], reach: int) -> Array:
        """Densities up to so many samples before and after each boundary."""
        return self.density.take((edges[:, None] + np.arange(-reach, reach)).clip(0, self.size - 1))


Part = EllipsisType | tuple[EllipsisType, slice]  # of an array
_Rough = NDArray[np.floating[Any]]  # costs that only say where to look closely may be kept in half the room


class _Spans:
    """Patches from one boundary to another, both broadcast against each other; and in what kind of number their costs are kept."""

    kind: type[np.float64 | np.float32] = np.float64

    def __init__(self, starts: NDArray[np.int64], ends: NDArray[np.int64]):
        self.starts, self.ends, self.lengths = starts, ends, ends - starts

    def sums(self, upto: Array, cut: NDArray[np.int64] | int = 0) -> Array:
        """Sums over each patch but for so many samples at either end, of what was summed up to every boundary (..., boundaries)."""
        last = upto.shape[-1] - 1
        after, until = np.minimum(self.starts + cut, last), np.maximum(self.ends - cut, 0)
        return np.asarray(upto.take(until, axis=-1) - upto.take(after, axis=-1))

    def begun_by(self, sample: float) -> Part:
        """Where those patches stand that may begin by a sample."""
        return ...

    def ended_from(self, sample: float) -> Part:
        """Where those stand that may end from a sample on."""
        return ...


class _Grid(_Spans):
    """Patches of all lengths between boundaries on every `stride`-th sample, shape (usual lengths, lengths, boundaries) by where they end.

    What belongs to the boundary at which a patch starts is a view into a vector, shifted by the length. Costs on it only say where to
    look closely.
    """

    kind = np.float32

    def __init__(self, size: int, pitches: Sequence[float], stride: int):
        self.fewest = -(-max(2, round(_SHORTEST_END * min(pitches))) // stride)
        self.most = max(self.fewest + 1, round(_LONGEST * max(pitches)) // stride)
        ends = np.arange(0, size + 1, stride)
        lengths = stride * np.arange(self.fewest, self.most + 1)[:, None]
        super().__init__(ends - lengths, ends)
        self.lengths = lengths

    def sums(self, upto: Array, cut: NDArray[np.int64] | int = 0) -> Array:
        last = upto.shape[-1] - 1
        # The first and the last sample that count are the same for all lengths.
        ends = self.ends - cut
        starts = 2 * self.ends - ends
        before = self.at_start(upto.take(np.minimum(starts, last), axis=-1))
        return np.asarray(upto.take(np.maximum(ends, 0), axis=-1)[..., None, :] - before)

    def begun_by(self, sample: float) -> Part:
        return ..., slice(int(np.searchsorted(self.ends, sample + self.lengths[-1, 0], side="right")))

    def ended_from(self, sample: float) -> Part:
        return ..., slice(int(np.searchsorted(self.ends, sample)), None)

    def at_start(self, values: _Rough, outside: float = 0.0) -> _Rough:
        """Values of boundaries (..., boundaries), seen from where a patch that starts there ends, shape (..., lengths, boundaries)."""
        wide = np.empty((*values.shape[:-1], self.most + values.shape[-1]), dtype=values.dtype)
        wide[..., : self.most], wide[..., self.most :] = outside, values
        return self.shifted(wide)

    def shifted(self, wide: _Rough) -> _Rough:
        """A vector with room for the longest patch before it, shifted by each length; a view, and what is made so often is made barely."""
        size = wide.itemsize
        return np.ndarray(
            (*wide.shape[:-1], self.lengths.size, self.ends.size),
            wide.dtype,
            buffer=wide,
            offset=size * (self.most - self.fewest),
            strides=(*wide.strides[:-1], -size, size),
        )


class _Costs:
    """What every patch of a grid costs for some usual lengths, and the least sums of them."""

    def __init__(self, work: _Work, pitches: Sequence[float], stride: int):
        pitch = np.array(pitches)[:, None, None]
        self.grid = _Grid(work.size, pitches, stride)
        self.inner, self.first, self.last = work.of_patches(self.grid, pitch)
        self.before, self.after = (side.astype(self.grid.kind) for side in work.lead_costs(pitch[:, 0], self.grid.ends))
        # Only from there on is a last patch another one than one within the row.
        self.tail = self.grid.ended_from(work.last - work.near_end(pitch).max())
        self._known = [self._with_room(self.before)]

    def _with_room(self, total: _Rough) -> _Rough:
        """Sums by boundary, with room for the longest patch before them."""
        return np.concatenate([np.full((len(total), self.grid.most), np.inf, dtype=total.dtype), total], axis=1)

    def _sums(self, count: int) -> list[_Rough]:
        """The least cost up to each boundary before each of so many patches, with room before it; worked out once."""
        room = np.empty_like(self.inner)
        while len(self._known) < count:
            cost = self.inner if len(self._known) > 1 else self.first
            np.add(self.grid.shifted(self._known[-1]), cost, out=room)
            self._known.append(self._with_room(np.minimum.reduce(room, axis=1)))
        return self._known[:count]

    def of_counts(self, counts: Sequence[int]) -> dict[int, list[float]]:
        """The least cost of each of some counts of patches, for each usual length."""
        sums = self._sums(max(counts) + 1)
        found = {}
        for count in counts:
            last = self.last if count > 1 else self.first
            whole = sums[count][:, self.grid.most :].copy()
            whole[self.tail] = np.minimum.reduce(
                self.grid.shifted(sums[count - 1])[self.tail] + last[self.tail], axis=1
            )
            found[count] = (whole + self.after).min(axis=1).tolist()
        return found

    def boundaries(self, which: int, count: int) -> NDArray[np.int64]:
        """The samples at which so many patches meet at the least cost for one of the usual lengths."""
        totals = [sums[which, self.grid.most :] for sums in self._sums(count)]
        whole = self._laid(which, count, totals[-1])
        return self._boundaries(which, totals, whole)

    def elsewhere(
        self, which: int, count: int, firsts: Sequence[tuple[float, float]], lasts: Sequence[tuple[float, float]]
    ) -> Iterator[tuple[int, int, float, Callable[[], NDArray[np.int64]]]]:
        """The cost where the first patch ends, and the last begins, between samples; with the numbers of both stretches, and what finds those samples."""
        ends = self.grid.ends
        for j, (low, high) in enumerate(firsts):
            totals = self._ended(which, count, (ends > low) & (ends < high))
            whole = self._laid(which, count, totals[-1])
            for k, (least, most) in enumerate(lasts):
                outside = np.where((ends > least) & (ends < most), 0.0, np.inf).astype(self.grid.kind)
                within = whole + self.grid.at_start(outside, np.inf)
                if np.isfinite(within).any():
                    yield j, k, float(within.min()), partial(self._boundaries, which, totals, within)

    def _ended(self, which: int, count: int, ends: NDArray[np.bool_]) -> list[_Rough]:
        """The least cost up to each boundary before each patch, two or more, where the first one ends at one of some boundaries."""
        before, after = self._sums(2)
        wide, room = after[which].copy(), np.empty_like(self.inner[which])
        total, windows = wide[self.grid.most :], self.grid.shifted(wide)
        total[~ends] = np.inf
        totals = [before[which, self.grid.most :], total.copy()]
        while len(totals) < count:
            np.add(windows, self.inner[which], out=room)
            totals.append(np.minimum.reduce(room, axis=0, out=total).copy())
        return totals

    def _laid(self, which: int, count: int, total: _Rough) -> _Rough:
        """The least cost of all patches by the last one's length and end, from that up to each boundary before it."""
        last = (self.last if count > 1 else self.first)[which]
        return np.asarray(self.grid.at_start(total, np.inf) + last + self.after[which])

    def _boundaries(self, which: int, totals: list[_Rough], whole: _Rough) -> NDArray[np.int64]:
        """The cheapest of them, back from its end to its start."""
        first, inner = self.first[which], self.inner[which]
        length, end = (int(v) for v in np.unravel_index(int(np.argmin(whole)), whole.shape))
        edges = [end, end - self.grid.fewest - length]
        for number in range(len(totals) - 1, 0, -1):
            starts = edges[-1] - self.grid.fewest - np.arange(self.grid.lengths.size)
            kind = first if number == 1 else inner
            each = np.where(starts >= 0, totals[number - 1][np.maximum(starts, 0)] + kind[:, edges[-1]], np.inf)
            edges.append(int(starts[np.argmin(each)]))
        return np.asarray(self.grid.ends[np.array(edges[::-1])])


def _clear_step(before: Array, after: Array, sd: float) -> float:
    """By how often a step between two stretches exceeds what is asked of a sharp one; 0 where one of them is too short."""
    fewest = min(before.size, after.size)
    if fewest < 2 * _FEWEST_SAMPLES:
        return 0.0
    halves = [[median(half) for half in np.array_split(side, 2)] for side in (before, after)]
    drift = max(abs(near - far) for near, far in halves)
    least = max(_SHARP, _SHARP_DRIFTS * drift, _SHARP_NOISE * sd / math.sqrt(fewest))
    return abs(halves[0][1] - halves[1][0]) / least


def _step_energy(density: Array, sd: Array, film: NDArray[np.bool_], count: int) -> Array:
    """How much of a step there is at each sample: the root of its density, at its place; 0 elsewhere."""
    reach = max(2, density.size // (_ENERGY_REACH * count))
    smooth = ndimage.median_filter(density, size=2 * reach + 1, mode="nearest")
    jump = np.abs(np.roll(smooth, -reach) - np.roll(smooth, reach))
    # The ends of the film are no steps of its density.
    rim = ndimage.binary_dilation(~film, iterations=_RIM_REACHES * reach + 1)
    rim[: 2 * reach] = rim[-2 * reach :] = True
    jump[rim] = 0.0
    # A bar is narrower than what the smoothing keeps.
    bar = np.abs(density - ndimage.median_filter(density, size=8 * reach + 1, mode="nearest"))
    jump = np.maximum(jump, np.where(rim, 0.0, bar))
    # In the dark a little stray light looks like a step.
    least = _LEAST_STEP + _SURE_STEP * sd + _STEP_IN_THE_DARK * np.maximum(smooth - _DARK, 0.0)
    peak = (jump == ndimage.maximum_filter1d(jump, 2 * reach + 1)) & (jump > least)
    label, found = ndimage.label(peak)
    energy = np.zeros(density.size)
    for (piece,) in ndimage.find_objects(label)[:found]:
        energy[(piece.start + piece.stop - 1) // 2] = math.sqrt(min(float(jump[piece].max()), 1.0))
    return energy


def _off_pitch(edges: NDArray[np.int64]) -> Array:
    """Logarithm of each length against the usual one; 0 of an end that may be cut."""
    lengths = np.diff(edges)
    logs = np.asarray(np.log(lengths / median(lengths)))
    ends = logs[[0, -1]]
    logs[[0, -1]] = np.where(ends < math.log(_FULL), 0.0, ends)
    return logs


def _longest_way(levels: Array) -> int:
    """How many of some densities rise, or stay, one after the other, when others are left out."""
    most = np.ones(levels.size, dtype=int)
    for k in range(1, levels.size):
        before = most[:k][levels[k] > levels[:k] - _NO_TURN]
        most[k] += before.max() if before.size else 0
    return int(most.max())


@dataclass(frozen=True)
class PatchDoubt:
    """Another number of patches that the picture speaks for more than for the one asked for; `gain` is how much the cheaper it is."""

    count: int
    gain: float


@dataclass(frozen=True, eq=False)
class Beside:
    """As many patches, laid a little elsewhere.

    Parameters
    ----------
    begins, ends : int
        By how many patches later the first of them begins, and the last ends.
    lag : float
        By how much it is the dearer.
    """

    layout: Layout
    begins: int
    ends: int
    lag: float


def weighed(chosen: Layout) -> tuple[Layout, tuple[Beside, ...]]:
    """The likeliest of the placings that begin or end up to a patch from where one does, and the others, likeliest first."""
    work = chosen.work
    if work is None or chosen.count < 2:
        return chosen, ()
    laid = [(0, 0, chosen)]
    laid += [
        (begins, ends, work.laid(cost, edges))
        for begins, ends, cost, edges in work.elsewhere(work.to_samples(chosen.edges))
        if begins or ends
    ]
    more = work.regularity(work.to_samples(chosen.edges))
    costs = []
    for begins, ends, layout in laid:
        edges = work.to_samples(layout.edges)
        uneven = more * float((_off_pitch(edges) ** 2).sum())
        costs.append((layout.cost + work.of_row(edges) + uneven, begins, ends, layout))
    (least, begins, ends, best), *others = sorted(costs, key=lambda one: one[0])
    best = work.on_seen_steps(work.as_even(best, more))
    return best, tuple(Beside(layout, j - begins, k - ends, cost - least) for cost, j, k, layout in others)


def whole_cost(chosen: Layout) -> float:
    """What a placing costs with its row as a whole; infinite where nothing was weighed."""
    work = chosen.work
    return math.inf if work is None else chosen.cost + work.of_row(work.to_samples(chosen.edges))


def clearly_dearer(chosen: Layout) -> float:
    """By how much another placing costs more than this one where it is out of the question."""
    strays = max(1.0, chosen.cost / (chosen.count * _WELL_EXPLAINED))
    return _CLEARLY_DEARER * strays * (_ODD_ROW if chosen.work is not None and chosen.work.odd(chosen) else 1.0)


def doubts(chosen: Layout) -> tuple[PatchDoubt, ...]:
    """Other counts that explain the strip clearly better, best first; none where nothing was weighed."""
    work = chosen.work
    if work is None:
        return ()
    counts = range(max(2, chosen.count - _OTHERS), chosen.count + _OTHERS + 1)
    trials = work.tried(counts)
    roughly = {count: trials[count][0][0] + _NEEDLESS * count for count in counts}
    own = chosen.cost + _NEEDLESS * chosen.count
    # Which way a row goes speaks against another number only: the person's is believed.
    turns = work.turns(work.to_samples(chosen.edges))
    found = []
    for count in counts:
        if count == chosen.count or roughly[count] - roughly[chosen.count] > _CLEARLY:
            continue
        cost, edges = work.best(trials[count][0][1], count)
        found.append(PatchDoubt(count, own - (cost + max(work.turns(edges) - turns, 0.0) + _NEEDLESS * count)))
    return tuple(sorted((d for d in found if d.gain > 0), key=lambda d: -d.gain))


def shifted(chosen: Layout, by: int) -> Layout:
    """The same patches, begun later by so many patches."""
    return Layout(chosen.edges + by * chosen.pitch, chosen.cost, chosen.evidence, chosen.seen)
