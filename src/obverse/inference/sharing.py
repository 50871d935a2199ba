"""What films have in common: further priors for a new film, learned from those already in the notebook.

Each known film, fitted by itself, says something of each unknown: a value and a precision beyond
the broad prior's. The unknowns of films are taken as normal about a common centre with a common
spread; both are estimated (empirical Bayes, a few steps of expectation-maximisation), the spread
held open by a few imagined films that differ as films in general do. What results never replaces
the broad prior. They compete by their evidence (`obverse.inference.posterior.infer`): films in general;
films like those known; films with silver, speed and contrast of their own but the ways of those known; and
films that lie about the same centre but differ as widely as films in general.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.inference.fit import FilmFit, broad_prior, fit_film
from obverse.inference.law import K, Law, P, Q
from obverse.inference.posterior import Prior
from obverse.model import INDEX
from obverse.process import Series
from obverse.reference import number

# Imagined films that hold the spread open.
IMAGINED_FILMS = 2.0
# So many films make what they have in common half as likely as films in general are.
FILMS_TO_BELIEVE = 2.0
# What belongs to a film's support and to one evening's bleach is not shared.
OWN = ("base", "ghost", "stain")
# Silver, speed and contrast are what films of one way differ in first.
OF_ITS_OWN = ("blacks", "speed_point", "spread")
# Steps of expectation-maximisation; centre and spread stand still well before.
STEPS = 12
# A film says something of an unknown from this part of the precision that films in general have, and no more than so many
# times it; and it lies no further from them than so many of their spreads.
LEAST_GAINED, MOST_GAINED, FURTHEST = 0.05, 25.0, 4
# What makes films unlike, in the same measure: a stop of box speed, this much base, another kind of grain, one judged by
# words alone. What is not known counts as half unlike; common practice, no source.
BASE_OF_A_STOP, NOT_KNOWN = number("notebook.alike.base_of_a_stop"), number("notebook.alike.not_known")


def most_alike(series: Series, others: Sequence[Series], most: int) -> list[Series]:
    """Of all other films that were seen, those most alike to this one, the nearest last, and the later of two that are as alike.

    Parameters
    ----------
    others : sequence of Series
        In the order they were written down.
    most : int
        Greatest count of films given back.

    Returns
    -------
    list of Series
        No more than `most`; films of which nothing was read or judged are left out.
    """
    seen = [other for other in others if any(trial.steps or trial.grades for trial in other.trials)]
    order = sorted(range(len(seen)), key=lambda k: (_unlike(series, seen[k]), -k))[:most]
    return [seen[k] for k in reversed(order)]


def _unlike(one: Series, other: Series) -> float:
    """How unlike two films are by what stands on their boxes and how they were seen; 0 says alike."""
    mine, theirs = one.film, other.film
    apart = abs(math.log2(mine.box_speed / theirs.box_speed))
    bases = mine.base_density, theirs.base_density
    apart += NOT_KNOWN if bases[0] is None or bases[1] is None else abs(bases[0] - bases[1]) / BASE_OF_A_STOP
    if mine.emulsion is None or theirs.emulsion is None:
        apart += NOT_KNOWN
    else:
        apart += float(mine.emulsion != theirs.emulsion)
    return apart + float(not any(trial.steps for trial in other.trials))


def shared_priors(law: Law, series: Series, others: Sequence[Series | FilmFit]) -> list[Prior]:
    """The priors that the other films suggest for this one: close, alike in their ways, wide; none if no strip of theirs was seen.

    Parameters
    ----------
    law : Law
        Of the new film.
    series : Series
        The new film; only its base density is used.
    others : sequence of Series or FilmFit
        Fits are used as they are, series are fitted first.
    """
    broad = broad_prior(law, series)
    fits = [other if isinstance(other, FilmFit) else fit_film(other) for other in others]
    told = [what_it_told(law, broad, fit) for fit in fits if fit.evidence.has_readings.any() or fit.evidence.grades]
    if not told:
        return []
    value, precision = (np.array(part) for part in zip(*told, strict=True))
    centre, sd = in_common(value, precision, broad.mean, broad.sd, steps=STEPS)
    return priors_about(broad, centre, sd, films=len(told))


def in_common(value: Array, precision: Array, mean: Array, sd: Array, *, steps: int) -> tuple[Array, Array]:
    """Centre and spread of films of which each is known as well as its strips tell it.

    Parameters
    ----------
    value, precision : (films, N) arrays
        Nothing is known where a precision is 0.
    mean, sd : (N,) arrays
        Films in general.
    steps : int
        Of expectation-maximisation.

    Returns
    -------
    tuple of (N,) arrays
        The spread, a standard deviation, is never wider than that of films in general.
    """
    centre, spread, total = mean.copy(), sd**2, np.ones_like(sd)
    for _ in range(steps):
        weight = 1.0 / (spread + 1.0 / np.maximum(precision, 1e-12))
        # The centre of films in general counts as one vague film more.
        total = weight.sum(axis=0) + 1.0 / (2.0 * sd**2)
        centre = ((weight * value).sum(axis=0) + mean / (2.0 * sd**2)) / total
        own_variance = 1.0 / (1.0 / spread + precision)
        own_mean = own_variance * (centre / spread + precision * value)
        seen = ((own_mean - centre) ** 2 + own_variance).sum(axis=0)
        spread = (seen + IMAGINED_FILMS * 0.5 * sd**2) / (len(value) + IMAGINED_FILMS)
    return centre, np.sqrt(np.minimum(spread + 1.0 / total, sd**2))


def priors_about(broad: Prior, centre: Array, sd: Array, *, films: int) -> list[Prior]:
    """Priors of a film that may be like known ones: close, alike in their ways, wide.

    Parameters
    ----------
    broad : Prior
        Films in general.
    centre, sd : (N,) arrays
        What the known films have in common.
    films : int
        How many they are.
    """
    centre, sd = centre.copy(), sd.copy()
    keep = [INDEX[name] for name in OWN]
    centre[keep], sd[keep] = broad.mean[keep], broad.sd[keep]
    ways = sd.copy()
    free = [INDEX[name] for name in OF_ITS_OWN]
    ways[free] = broad.sd[free]
    loose = centre.copy()
    loose[free] = broad.mean[free]
    # Few films tell little of what films have in common: a first other film may as well be of another kind.
    likely = films / (films + FILMS_TO_BELIEVE)
    return [
        Prior(centre, sd, likely=likely, of_others=True),
        Prior(loose, ways, likely=likely, of_others=True),
        Prior(centre, broad.sd, likely=likely, of_others=True),
    ]


def what_it_told(law: Law, broad: Prior, fit: FilmFit) -> tuple[Array, Array]:
    """What one film's strips say of each unknown of `law`: value and precision, nothing where they say nothing."""
    mean, variance = fit.draws.mean(axis=0), fit.draws.var(axis=0)
    theirs = broad_prior(fit.law, fit.series)
    place = places(law, fit.law)
    value, precision = np.zeros(law.size), np.zeros(law.size)
    known = place >= 0
    at = place[known]
    gained = np.maximum(1.0 / variance[at] - 1.0 / theirs.sd[at] ** 2, 0.0)
    # Precisions far beyond the spread between films add nothing and would hide that a law is only approximate.
    gained = np.minimum(gained, MOST_GAINED / broad.sd[known] ** 2)
    sharp = gained > LEAST_GAINED / broad.sd[known] ** 2
    gained = np.where(sharp, gained, 0.0)
    raw = (mean[at] / variance[at] - theirs.mean[at] / theirs.sd[at] ** 2) / np.maximum(
        1.0 / variance[at] - 1.0 / theirs.sd[at] ** 2, 1e-9
    )
    value[known] = np.where(
        sharp,
        np.clip(raw, broad.mean[known] - FURTHEST * broad.sd[known], broad.mean[known] + FURTHEST * broad.sd[known]),
        0.0,
    )
    precision[known] = gained
    return value, precision


def places(law: Law, other: Law) -> NDArray[np.int_]:
    """Where each unknown of `law` stands among those of `other`; -1 where it does not."""
    size = P + K
    place = np.full(law.size, -1)
    place[:size] = np.arange(size)
    mine = [-1, *np.flatnonzero(law.varied)]
    theirs = [-1, *np.flatnonzero(other.varied)]
    # Constants and slopes are alike in all films; the waves belong to the controls that one film varied.
    for k, control in enumerate(mine):
        if control in theirs:
            at = theirs.index(control)
            place[size + k * Q : size + (k + 1) * Q] = size + at * Q + np.arange(Q)
    return place
