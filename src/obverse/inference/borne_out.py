"""Chances as they are told: set right by how often such chances came true.

What the draws say of a strip before any was read or judged is a belief about films in general, and that is wider than films
are: far more came true than was believed. So what is told then is the belief, its odds moved and stretched by the two
numbers of the record ``notebook.told.first``, learned on films that other hands invented. That is no physics: what is
proposed, and what is as good, hangs on the belief alone. From the first strip on chances come true as they are believed, and
are told so. Where nothing was learned it is the belief that is told: as far as it rests on other films, with strips of other
darkrooms, and where hardly a film can meet the aim.
"""

from __future__ import annotations

import numpy as np

from obverse.foundation import Array
from obverse.inference.fit import BELIEFS, FilmFit
from obverse.reference import number, record

FIRST = record("notebook.told.first").value
# From this part of the believed films on that can meet the aim, all of it holds.
LEARNED_FROM = number("notebook.told.reachable_from")


def as_told(fit: FilmFit, believed: Array, reachable: float) -> Array:
    """The chances to tell of strips not made yet.

    Parameters
    ----------
    believed : array
        What the draws say: that they lie in the aim, or keep a bound of it.
    reachable : float
        Part of the believed films that can meet the aim.

    Returns
    -------
    array
        Of the same shape, and in the same order of size.
    """
    part = learned_part(fit, reachable)
    if not part:
        return believed
    slope = 1.0 + part * (FIRST["slope"] - 1.0)
    for_it, against = np.exp(part * FIRST["shift"]) * believed**slope, (1.0 - believed) ** slope
    result: Array = for_it / (for_it + against)
    return result


def learned_part(fit: FilmFit, reachable: float) -> float:
    """How far a belief is one of which it was learned how often it comes true, from 0 to 1."""
    if fit.evidence.has_readings.any() or fit.evidence.grades:
        return 0.0
    in_general = min(float(np.sum(fit.posterior.weights[: len(BELIEFS)])), 1.0)
    return in_general * min(reachable / LEARNED_FROM, 1.0)
