"""Strips of the same film from other darkrooms, and how far darkrooms differ.

The film is one; bottles, water, thermometers and meters are not. What another darkroom did counts as done here with
offsets that all its strips share: the activity of its developer (its thermometer among it), the strength of its alkali
and of its solvent, its exposure. An offset is theirs less one's own, so that a part of it is common to all others. The
zero of its panel goes with the base, where both measured one.

How far a darkroom is to be believed is left to the strips: as darkrooms usually are; with something wrong by some
factor, such as a bottle of another strength than its label says; or not at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.model import by_coordinate, settle
from obverse.process import ALKALI, CONTROLS, SOLVENT, TIME, Trial
from obverse.reference import number

T = TypeVar("T")

# How far a darkroom usually lies from the middle of all; common practice, no source: logarithms of the activity (strength
# of the developer, water, and half a degree or so of the thermometer), of household ammonia, which loses strength in its
# bottle, and of fixer concentrate; log exposure of a hand-held meter and a shutter.
STRENGTHS = ("activity", "alkali", "solvent")
OFFSETS = (*STRENGTHS, "exposure")
USUAL_SDS = tuple(number(f"notebook.elsewhere.{name}_sd") for name in OFFSETS)
PLACE_OF_EXPOSURE = OFFSETS.index("exposure")
# The zero of another panel, where no base was measured there or here; common practice, no source.
PANEL_SD = number("notebook.elsewhere.panel_sd")
# Of a darkroom with something wrong the offsets are so many times as wide: a bottle of twice or half the strength.
SOMETHING_WRONG = number("notebook.elsewhere.something_wrong")
# A darkroom that is not believed shows another film under this film's name: its curve coordinates lie elsewhere all
# together, about as films differ, and each strip's once more by about as much as departures from the process model.
ANOTHER_FILM_SD = by_coordinate("notebook.elsewhere.another_film_sd")
EACH_STRIP_SD = by_coordinate("notebook.elsewhere.each_strip_sd")
# How often something is wrong, and how often nothing is right; common practice, no source.
OFTEN_WRONG = number("notebook.elsewhere.often_wrong")
OFTEN_NOT_BELIEVED = number("notebook.elsewhere.often_not_believed")
WAYS = ("not believed", "something wrong", "usual")
# Place of the exposure among the curve coordinates.
PLACE = 2
# More darkrooms than this add little to what the nearest say, and each costs a belief more.
MOST_DARKROOMS = 6


@dataclass(frozen=True)
class OtherDarkroom:
    """What one other darkroom says of this film.

    Parameters
    ----------
    id : str
        Key of the darkroom.
    trials : tuple of Trial
        Controls as they count here: already converted through the other's bottles.
    base_density : float, optional
        As measured there.
    name : str
        As it calls itself.
    """

    id: str
    trials: tuple[Trial, ...]
    base_density: float | None = None
    name: str = ""


@dataclass(frozen=True)
class DarkroomBelief:
    """How far each darkroom is believed.

    Parameters
    ----------
    widths : tuple of float
        Times that each darkroom's offsets are as wide as usual.
    likely : float
        How often it is so, before any strip.
    """

    widths: tuple[float, ...]
    believed: tuple[bool, ...]
    likely: float

    def of(self, k: int) -> str:
        """How darkroom `k` is taken: one of `WAYS`."""
        return WAYS[0] if not self.believed[k] else WAYS[1] if self.widths[k] != 1.0 else WAYS[2]


@dataclass(frozen=True)
class DarkroomSaid:
    """What became of one darkroom's strips.

    Parameters
    ----------
    usual, something_wrong, not_believed : float
        How likely each is; together 1.
    offsets : dict of str to float
        Most probable, theirs less one's own: factors for activity, alkali and solvent, log exposure for the exposure.
    """

    id: str
    name: str
    strips: int
    usual: float
    something_wrong: float
    not_believed: float
    offsets: dict[str, float]

    @property
    def sentence(self) -> str:
        """Why it weighs what it weighs, in one sentence."""
        called, one = self.name or self.id, self.strips == 1
        strips = "its one strip" if one else f"its {self.strips} strips"
        if self.not_believed > 0.5:
            return (
                f"{called}: {strips} {'does' if one else 'do'} not go together with the others and hardly "
                f"{'counts' if one else 'count'}."
            )
        if self.something_wrong > 0.5:
            worst = max(STRENGTHS, key=lambda name: abs(float(np.log(self.offsets[name]))))
            return (
                f"{called}: {strips} {'goes' if one else 'go'} together with the others only with "
                f"{self.offsets[worst]:.2f} times the {worst} that was written down; a bottle there may not be what its "
                "label says."
            )
        return (
            f"{called}: {strips} {'counts' if one else 'count'}, its developer taken as "
            f"{self.offsets['activity']:.2f} times as active."
        )


def beliefs(count: int) -> list[DarkroomBelief]:
    """What may be so of `count` darkrooms: all usual first; last, and widest, none believed."""
    usual, every = (1.0,) * count, (True,) * count
    found = [DarkroomBelief(usual, every, (1.0 - OFTEN_WRONG - OFTEN_NOT_BELIEVED) ** count)]
    if count > 1:
        for k in range(count):
            found.append(DarkroomBelief(_set(usual, k, SOMETHING_WRONG), every, OFTEN_WRONG))
            found.append(DarkroomBelief(usual, _set(every, k, False), OFTEN_NOT_BELIEVED))
    found.append(DarkroomBelief((SOMETHING_WRONG,) * count, every, OFTEN_WRONG))
    found.append(DarkroomBelief(usual, (False,) * count, OFTEN_NOT_BELIEVED))
    return found


def offset_directions(
    parameters: Array, controls: Array, origin: NDArray[np.int_], usual: Sequence[float] = USUAL_SDS
) -> Array:
    """What one usual offset does to each strip's curve coordinates, (T, offsets, Q); nothing to one's own strips.

    Parameters
    ----------
    parameters : (P,) array
    controls : (T, 5) array
    origin : (T,) int array
        The darkroom of each strip; -1 for one's own.
    usual : sequence of float, optional
        How far darkrooms usually lie from the middle of all, in the order of `OFFSETS`.
    """
    abroad = origin >= 0
    found = []
    for control, sd in zip((TIME, ALKALI, SOLVENT), usual, strict=False):
        at = CONTROLS.place(control)
        moved = []
        for sign in (1.0, -1.0):
            changed = controls.copy()
            changed[:, at] *= np.exp(sign * sd)
            moved.append(settle(parameters[None], changed)[0][0])
        found.append(0.5 * (moved[0] - moved[1]))
    exposure = np.zeros_like(found[0])
    exposure[:, PLACE] = usual[PLACE_OF_EXPOSURE]
    result: Array = np.stack([*found, exposure], axis=1) * abroad[:, None, None]
    return result


def offset_covariance(directions: Array, origin: NDArray[np.int_], belief: DarkroomBelief) -> Array:
    """Covariance of the strips' curve coordinates that the offsets bring, (T, Q, T, Q)."""
    t, _, q = directions.shape
    flat = np.moveaxis(directions, 1, 2).reshape(t * q, -1)
    # One's own darkroom lies off the middle as others do: that part all offsets share.
    total: Array = (flat @ flat.T).reshape(t, q, t, q)
    for k in range(len(belief.widths)):
        _add_darkroom(total, directions, origin, belief, k)
    return total


def strange_covariance(directions: Array, origin: NDArray[np.int_], belief: DarkroomBelief) -> Array:
    """The part of it that darkrooms bring which are not as usual, (T, Q, T, Q)."""
    t, _, q = directions.shape
    total = np.zeros((t, q, t, q))
    for k in range(len(belief.widths)):
        if belief.of(k) != WAYS[2]:
            _add_darkroom(total, directions, origin, belief, k)
    return total


def _add_darkroom(total: Array, directions: Array, origin: NDArray[np.int_], belief: DarkroomBelief, k: int) -> None:
    """Add the covariance of one darkroom's own offsets, and of another film where it is not believed."""
    q, believed = directions.shape[2], belief.believed[k]
    strips, every = np.flatnonzero(origin == k), np.arange(q)
    width = belief.widths[k] if believed else SOMETHING_WRONG
    own = width * np.moveaxis(directions[strips], 1, 2).reshape(len(strips) * q, -1)
    block = np.ix_(strips, every, strips, every)
    total[block] += (own @ own.T).reshape(len(strips), q, len(strips), q)
    if not believed:
        total[block] += np.diag(ANOTHER_FILM_SD**2)[None, :, None, :]
        total[strips, :, strips, :] += np.diag(EACH_STRIP_SD**2)


def offset_draws(directions: Array, origin: NDArray[np.int_], belief: DarkroomBelief, normals: Array) -> Array:
    """Draws (M, T, Q) of what `offset_covariance` is the covariance of, from independent normals.

    Parameters
    ----------
    normals : (M, normals_needed) array
    """
    t, n, q = directions.shape
    count = len(belief.widths)
    offsets, elsewhere, strips = np.split(normals, [(count + 1) * n, (count + 1) * n + count * q], axis=1)
    by, together = offsets.reshape(-1, count + 1, n), elsewhere.reshape(-1, count, q)
    each = strips.reshape(-1, t, q) * EACH_STRIP_SD
    found: Array = np.zeros((len(normals), t, q))
    for k, (width, believed) in enumerate(zip(belief.widths, belief.believed, strict=True)):
        rows = np.flatnonzero(origin == k)
        width = width if believed else SOMETHING_WRONG
        found[:, rows] = np.einsum("mn,tnq->mtq", by[:, count] + width * by[:, k], directions[rows])
        if not believed:
            found[:, rows] += together[:, k, None, :] * ANOTHER_FILM_SD + each[:, rows]
    return found


def normals_needed(directions: Array, belief: DarkroomBelief) -> int:
    """How many normals `offset_draws` takes for one draw."""
    t, n, q = directions.shape
    count = len(belief.widths)
    return int((count + 1) * n + count * q + t * q)


def most_probable_offsets(directions: Array, origin: NDArray[np.int_], belief: DarkroomBelief, pull: Array) -> Array:
    """Most probable offsets (darkrooms, offsets), each in its usual width.

    Parameters
    ----------
    pull : (T, Q) array
        Of the readings on the strips' coordinates, all else accounted for.
    """
    told = np.einsum("tnq,tq->tn", directions, pull)
    common = told[origin >= 0].sum(axis=0)
    rows = [common + width**2 * told[origin == k].sum(axis=0) for k, width in enumerate(belief.widths)]
    return np.array(rows).reshape(len(belief.widths), len(OFFSETS))


def darkrooms_said(
    darkrooms: Sequence[OtherDarkroom],
    counts: Sequence[int],
    known: Sequence[DarkroomBelief],
    weights: Sequence[float],
    offsets: Sequence[Array],
    usual: Sequence[float] = USUAL_SDS,
) -> tuple[DarkroomSaid, ...]:
    """What became of each darkroom, from the weights of the beliefs and the most probable offsets under each."""
    total = sum(weights) or 1.0
    widths = np.array(usual)
    found = []
    for k, darkroom in enumerate(darkrooms):
        share = dict.fromkeys(WAYS, 0.0)
        for weight, belief in zip(weights, known, strict=True):
            share[belief.of(k)] += weight / total
        likeliest = max(WAYS, key=lambda way: share[way])
        # What is off is told as it is under the heaviest of the beliefs that take the darkroom as it is taken here.
        heaviest = max(
            (j for j, belief in enumerate(known) if belief.of(k) == likeliest), key=lambda j: weights[j], default=0
        )
        off = offsets[heaviest][k] * widths
        named = {name: float(np.exp(value)) for name, value in zip(STRENGTHS, off, strict=False)}
        named["exposure"] = float(off[PLACE_OF_EXPOSURE])
        away, wrong, as_usual = (share[way] for way in WAYS)
        found.append(DarkroomSaid(darkroom.id, darkroom.name, counts[k], as_usual, wrong, away, named))
    return tuple(found)


def _set(values: tuple[T, ...], k: int, value: T) -> tuple[T, ...]:
    return (*values[:k], value, *values[k + 1 :])
