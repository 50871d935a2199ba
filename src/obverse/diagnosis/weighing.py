"""One comparison of everything a picture may show: sound, one fault, two faults, or something else.

The measures of a strip (`obverse.diagnosis.measures`) are taken to a common scale; each fault, and
"something else", has a log-odds linear in them. The log-odds of an explanation is the sum over its
faults, and the explanations share one probability. The constants were learned from simulated strips by
`benchmarks/learn_camera_faults.py`; how well they do on other strips stands in docs/faults.md. Strips that other hands pictured
look faulty to them while they are sound (bases with a colour, cut edges, stray light of other lenses); by how much, is taken off
the log-odds (`data/picture_doubt.json`, written by `benchmarks/strange_faults.py`), unless its own look goes beyond what any of
those strips showed. Looks that the strips learned from never had (a colour that lies unevenly, a leak through perforations) are held
against sizes in the same file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib.resources import files
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.reference import number

FAULTS = (
    "stain",
    "uneven_agitation",
    "bromide_drag",
    "reticulation",
    "coarse_grain",
    "drying_marks",
    "light_leak",
    "frilling",
)
ELSE = "something_else"
TERMS = (*FAULTS, ELSE)
# Explanations: nothing, one fault, two faults, or something that is none of them.
EXPLANATIONS: tuple[tuple[str, ...], ...] = ((), *((f,) for f in FAULTS), *combinations(FAULTS, 2), (ELSE,))
# What is believed before the picture is seen: six strips in ten sound, some fault on its own on three,
# two faults or a mark of another kind now and then.
_PRIOR_SOUND, _PRIOR_ONE = number("diagnosis.picture.sound"), number("diagnosis.picture.one")
_PRIOR_TWO, _PRIOR_ELSE = number("diagnosis.picture.two"), number("diagnosis.picture.else")
# A measure so many times as far from sound strips as any learned from is like nothing known; sound strips of other hands reach 2.3.
_BEYOND = 2.4
_PLAIN = 6.0  # log-odds of a fault whose own look is plain: more than the prior against it, and less than of other looks that are sure


def prior() -> Array:
    """Probability of each explanation before the picture is seen, shape (H,)."""
    singles, pairs = len(FAULTS), len(FAULTS) * (len(FAULTS) - 1) // 2
    return np.array([_PRIOR_SOUND] + [_PRIOR_ONE / singles] * singles + [_PRIOR_TWO / pairs] * pairs + [_PRIOR_ELSE])


def membership() -> Array:
    """Which terms make up each explanation, shape (H, terms + 1); the last column marks pairs."""
    made = np.zeros((len(EXPLANATIONS), len(TERMS) + 1))
    for row, parts in enumerate(EXPLANATIONS):
        for part in parts:
            made[row, TERMS.index(part)] = 1
        made[row, -1] = len(parts) == 2
    return made


@dataclass(frozen=True, eq=False)
class Scale:
    """How measures are taken to a common scale, each by its own row; arrays have the shape (M,).

    Parameters
    ----------
    unit : ndarray
        Size at which a measure turns from counting in proportion to counting by its logarithm.
    low, high : ndarray
        What was seen while learning; values beyond count as these.
    middle, spread : ndarray
        Over the strips learned from.
    sound : ndarray
        Middle of sound strips; stands for a measure that could not be had.
    """

    names: tuple[str, ...]
    unit: Array
    low: Array
    high: Array
    middle: Array
    spread: Array
    sound: Array

    def bend(self, numbers: Mapping[str, float]) -> Array:
        """Measures between proportion and logarithm, shape (M,)."""
        return np.arcsinh(np.array([numbers.get(name, np.nan) for name in self.names]) / self.unit)

    def common(self, bent: Array) -> Array:
        """Bent measures, shape (..., M), on the common scale."""
        known = np.where(np.isfinite(bent), bent, self.sound)
        return (np.clip(known, self.low, self.high) - self.middle) / self.spread

    def beyond(self, bent: Array) -> Array:
        """How far each measure lies above sound strips, in units of the farthest learned from; shape (M,).

        A measure smaller than on sound strips is a better picture, not a strange one.
        """
        farthest = np.maximum(np.abs(self.low), np.abs(self.high)) - np.abs(self.sound)
        result: Array = np.nan_to_num((np.abs(bent) - np.abs(self.sound)) / np.maximum(farthest, 1e-9))
        return result


@dataclass(frozen=True, eq=False)
class Weights:
    """What was learned.

    Parameters
    ----------
    terms : ndarray, shape (9, M + 1)
        Log-odds of each term: the constant first.
    pair : float
        Added where two faults are there.
    log_share : ndarray, shape (H,)
        Logarithm of the share of each explanation among the strips learned from.
    doubt : ndarray, shape (9,)
        What was taken off the constant of each term, because sound strips of other hands look like it.
    beyond : mapping
        For some faults, measures with the size beyond which no sound strip of other hands came in all of them: there the doubt is
        given back.
    plain : mapping
        For some faults, looks of which each is the fault's own: measures with the size beyond which, in all of them, neither sound
        strips of other hands nor other faults came.
    """

    scale: Scale
    terms: Array
    pair: float
    log_share: Array
    doubt: Array
    beyond: Mapping[str, Mapping[str, float]]
    plain: Mapping[str, Sequence[Mapping[str, float]]] = field(default_factory=dict)

    def probabilities(self, numbers: Mapping[str, float]) -> Array:
        """Probability of each of `EXPLANATIONS`, shape (H,)."""
        z = np.concatenate([[1.0], self.scale.common(self.scale.bend(numbers))])
        each = self.terms @ z + self.doubt * self.stands_out(numbers)
        # What was learned from never showed these looks: there it says nothing.
        each = np.where(self.shows_plainly(numbers), np.maximum(each, _PLAIN), each)
        log = membership() @ np.concatenate([each, [self.pair]]) - self.log_share + np.log(prior())
        odds = np.exp(log - log.max())
        result: Array = odds / odds.sum()
        return result

    def stands_out(self, numbers: Mapping[str, float]) -> Array:
        """Which terms show more of their own look than any sound strip of other hands did, shape (9,)."""
        return np.array([term in self.beyond and _exceeds(numbers, self.beyond[term]) for term in TERMS])

    def shows_plainly(self, numbers: Mapping[str, float]) -> NDArray[np.bool_]:
        """Which terms show a look that nothing else has, shape (9,)."""
        return np.array([any(_exceeds(numbers, look) for look in self.plain.get(term, ())) for term in TERMS])

    def unlike_anything(self, numbers: Mapping[str, float]) -> list[str]:
        """Measures that lie far outside all that was learned from."""
        away = self.scale.beyond(self.scale.bend(numbers))
        return [name for name, far in zip(self.scale.names, away, strict=True) if far > _BEYOND]


def _exceeds(numbers: Mapping[str, float], look: Mapping[str, float]) -> bool:
    return all(numbers.get(name, 0.0) > most for name, most in look.items())


@lru_cache(maxsize=2)
def learned(*, doubted: bool = True) -> Weights:
    """The constants that come with the program; on request as they were learned, with no doubt taken off."""
    document, doubt = (
        json.loads(files("obverse.diagnosis").joinpath(f"data/{name}.json").read_text(encoding="utf-8"))
        for name in ("picture_weights", "picture_doubt")
    )
    known = weights_of(document, doubt["log_odds"] if doubted else {}, doubt["beyond"])
    return replace(known, plain=doubt["plain"])


def weights_of(
    document: Mapping[str, Any], doubt: Mapping[str, float], beyond: Mapping[str, Mapping[str, float]]
) -> Weights:
    """Constants from their JSON shape, see `benchmarks/learn_camera_faults.py`, less the log-odds that sound strips reach."""
    rows = document["measures"]
    columns = {
        key: np.array([row[key] for row in rows]) for key in ("unit", "low", "high", "middle", "spread", "sound")
    }
    terms = np.array(
        [
            [document["constants"][term] - doubt.get(term, 0.0), *(row["log_odds"][term] for row in rows)]
            for term in TERMS
        ]
    )
    share = document["strips"]
    pairs = len(EXPLANATIONS) - len(FAULTS) - 2
    count = np.array(
        [share["sound"], *[share["one"]] * len(FAULTS), *[share["two"]] * pairs, share["else"]], dtype=float
    )
    return Weights(
        Scale(tuple(row["name"] for row in rows), **columns),
        terms,
        document["pair"],
        np.log(count / count.sum()),
        np.array([doubt.get(term, 0.0) for term in TERMS]),
        beyond,
    )
