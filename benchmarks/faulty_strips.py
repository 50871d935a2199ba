"""Strips with one thing gone wrong, drawn from the process model: what the fault table and its tests share.

A strip is an invented film by controls a person might choose, with one fault, a slip of its exposure, a
smooth departure from any law, reading noise and an offset of the panel. Where a colour is wanted, each
patch also has a stain index: the tint of the base, the tone of the silver, and the stain's own colour.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.diagnosis import Colour, colour_of
from obverse.diagnosis.causes import KnownFilm, compare, told_of
from obverse.inference import fit_film
from obverse.model import OBSERVABLES, density, in_aim, layers, observables
from obverse.model.parameters import INDEX
from obverse.model.simulate import SimulatedFilm, simulate_film, simulate_series
from obverse.process import AIMS, ControlVector

Array = NDArray[np.float64]

X = np.round(np.linspace(-1.6, 1.6, 21), 2)
READING_SD = 0.02
# Stain index over even density of the stains that are drawn: greyish brown to yellow-brown.
STAIN_COLOURS = (0.3, 1.5)
# The prior of the model is wide enough for films no silver would make; denser than this none is.
DENSEST = 4.0
# From the blacks to the lights of a strip that is worth judging.
LEAST_PICTURE = 1.3
# Controls tried for a strip that is to look so and so.
TRIES = 400
# Which observable tells of each miss of the aim, which bound it breaks, and to which side.
MISSES = {
    "murky_highlights": ("highlight_density", "highlight_density_max", 1),
    "thin_blacks": ("dmax", "dmax_min", -1),
    "low_contrast": ("gradient", "gradient_min", -1),
}

# How far inside the aim a strip is clear of each bound: the smallest steps that the misses are tried by.
CLEAR = {
    "highlight_density_max": -0.05,
    "dmax_min": 0.10,
    "gradient_min": 0.10,
    "gradient_max": -0.10,
    "midtone_log_exposure_min": 0.03,
    "midtone_log_exposure_max": -0.03,
}


@dataclass(frozen=True)
class FaultyStrip:
    """A strip as it was read.

    Parameters
    ----------
    density, stain_index : (21,) arrays
        Density with base, and density in blue less density in red.
    controls : dict
    film : SimulatedFilm
    """

    density: Array
    stain_index: Array
    controls: dict[str, float]
    film: SimulatedFilm


def draw_controls(random: np.random.Generator) -> dict[str, float]:
    """Controls as a person might choose them."""
    return {
        "first_developer_time_min": round(random.uniform(7, 15), 1),
        "solvent_ml_per_l": float(random.integers(3, 18)),
        "alkali_ml_per_l": float(random.integers(2, 10)),
    }


def known_film(seed: int, strips: int = 6) -> KnownFilm:
    """The invented film of that seed as so many sound strips teach it."""
    random = np.random.default_rng([13, seed])
    fit = fit_film(simulate_series(simulate_film(seed), [draw_controls(random) for _ in range(strips)], seed=seed))
    return KnownFilm(fit.draws, fit.law.density)


def film_seeds(first: int, count: int) -> list[int]:
    """Seeds from `first` on whose film, by the controls of its strip, stays within densities that films and readers have."""
    found: list[int] = []
    seed = first
    while len(found) < count:
        densities = simulate_film(seed).density(draw_controls(np.random.default_rng([11, seed])), X)
        # The notebook's belief is wide: it holds films that these controls leave without a picture to judge.
        if densities.max() < DENSEST and np.ptp(densities) > LEAST_PICTURE:
            found.append(seed)
        seed += 1
    return found


def faulty_strip(
    seed: int, fault: str, strength: float, controls: dict[str, float] | None = None, *, slips: bool = True
) -> FaultyStrip:
    """A strip of the invented film of that seed.

    Parameters
    ----------
    fault : str
        Empty for a sound strip.
    strength : float
        Part of the developed silver that stayed (ghost), part of the image that came out (incomplete), even
        density (stain), shift of log exposure (under, over).
    controls : dict, optional
        Drawn by the seed where not given.
    slips : bool
        False for a strip exactly as its law says, only read with noise.
    """
    random = np.random.default_rng([11, seed])
    film = simulate_film(seed)
    coordinates = film.coordinates.copy()
    if fault in ("ghost_negative", "stain"):
        coordinates[INDEX["ghost" if fault == "ghost_negative" else "stain"]] = np.log(strength)
    drawn = draw_controls(random)
    controls = controls or drawn
    shift = strength if fault in ("underexposed", "overexposed") else 0.0
    seen = layers(coordinates[None], ControlVector.of([controls]).values, X + shift + slips * random.normal(0, 0.03))
    d = seen.density[0, 0]
    if fault == "incomplete_second_development":
        d = d - (1 - strength) * seen.image[0, 0]
    above = d - d.min()
    smooth = np.exp(-0.5 * ((X[:, None] - X) / 0.6) ** 2)
    d = d + random.multivariate_normal(np.zeros(X.size), smooth) * slips * 0.02 * (0.3 + above)
    read = np.maximum(d + random.normal(0, READING_SD, X.size) + random.normal(0, 0.01), 0)
    stain = float(np.exp(coordinates[INDEX["stain"]]))
    index = (
        random.normal(0, 0.015)
        + random.normal(0, 0.03) * above
        + random.uniform(*STAIN_COLOURS) * stain
        + random.normal(0, 0.01, X.size) * (1 + above)
    )
    return FaultyStrip(read, index, controls, film)


def chances_of(strip: FaultyStrip, film: KnownFilm | None, *, with_colour: bool = False) -> dict[str, float]:
    """What the diagnosis holds of each cause."""
    colour: Colour | None = colour_of(strip.density, strip.stain_index) if with_colour else None
    return compare(
        X,
        strip.density,
        np.full(X.size, READING_SD),
        base_density=strip.film.base_density,
        controls=strip.controls,
        film=film,
        colour=colour,
    )


def verdict(chances: dict[str, float], film: KnownFilm | None) -> str:
    """What is told of a strip: a cause, nothing, or "cannot tell"."""
    told = told_of(chances, film)
    return "cannot tell" if told is None else told


def strip_off_aim(seed: int, miss: str, by: float) -> FaultyStrip | None:
    """A sound strip of that seed's film whose own curve breaks one bound of the projection aim by so much, 0.02 more or less.

    None where no controls a person might choose give it.
    """
    observable, bound, side = MISSES[miss]
    wanted = getattr(AIMS["projection"], bound) + side * by
    return _strip_where(seed, lambda seen: np.abs(seen[:, OBSERVABLES.index(observable)] - wanted) <= 0.02)


def strip_in_aim(seed: int, *, clear: bool) -> FaultyStrip | None:
    """A sound strip of that seed's film whose own curve lies in the projection aim; None where no such controls are found.

    Parameters
    ----------
    clear : bool
        Whether it keeps clear of each bound (by `CLEAR`), or lies nearer to one than that.
    """
    aim = AIMS["projection"]
    narrower = aim.model_copy(update={bound: getattr(aim, bound) + by for bound, by in CLEAR.items()})

    def fits(seen: Array) -> NDArray[np.bool_]:
        return in_aim(seen, narrower) if clear else in_aim(seen, aim) & ~in_aim(seen, narrower)

    return _strip_where(seed, fits)


def _strip_where(seed: int, fits: Callable[[Array], NDArray[np.bool_]]) -> FaultyStrip | None:
    random, film = np.random.default_rng([17, seed]), simulate_film(seed)
    tried = [draw_controls(random) for _ in range(TRIES)]
    settings = ControlVector.of(tried).values
    seen = observables(lambda x: density(film.coordinates[None], settings, x), np.full((1, TRIES), film.base_density))[
        0
    ]
    good = np.flatnonzero(np.isfinite(seen).all(axis=1) & (seen[:, 0] < DENSEST) & fits(seen))
    return faulty_strip(seed, "", 0.0, tried[good[0]], slips=False) if good.size else None
