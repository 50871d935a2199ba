"""Invented films: strips as a darkroom would make them, from a truth that is documented as invented.

The truth of these films is the process model itself with parameters drawn by us; nothing here
describes any film one can buy. The demo's teaching darkroom and the recovery tests use it. (The
benchmarks do not: there the truth is a different physics.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from obverse.foundation import Array
from obverse.model.curve import density
from obverse.model.observables import OBSERVABLES, observables
from obverse.model.parameters import INDEX, PRIOR_MEAN, PRIOR_SD, coordinates_of
from obverse.process import CONTROLS, TIME, ControlRange, ControlVector, Patch, Series, Trial, read_series
from obverse.reference import number

# A wedge in steps of two thirds of a stop, two decades to either side of the meter.
WEDGE = np.round(np.linspace(-2.0, 2.0, 21), 2)
# The densities that a patch of a series document may hold begin and end here.
LEAST_READ, MOST_READ = 0.0, 6.0
# The invented truth of the teaching film: murky lights unless it gets solvent, blacks and slopes of a usual film.
TEACHING_FILM = {
    "blacks": 2.6,
    "speed_point": 0.05,
    "spread": 0.30,
    "tail_ratio": 1.15,
    "push": 0.34,
    "steepen": 0.05,
    "development_time": 4.6,
    "development_order": 1.1,
    "fog_rate": 0.009,
    "solvent_strength": 0.035,
    "solvent_selectivity": 5.2,
    "alkali_activity": 0.32,
    "ghost": 0.004,
    "stain": 0.02,
    "base": 0.27,
}


@dataclass(frozen=True)
class SimulatedFilm:
    """An invented film whose truth is known.

    Parameters
    ----------
    coordinates : (P,) array
        True parameters, in their coordinates.
    """

    name: str
    box_speed: float
    coordinates: Array

    @property
    def base_density(self) -> float:
        """Density of its bare support."""
        return float(np.exp(self.coordinates[INDEX["base"]]))

    def density(self, controls: dict[str, float], log_exposure: Array) -> Array:
        """True density with base at (N,) log exposures, without errors of making or reading."""
        result: Array = density(self.coordinates[None], ControlVector.of([controls]).values, log_exposure)[0, 0]
        return result

    def observables(self, controls: dict[str, float], midtone_density: float = 1.0) -> dict[str, float]:
        """True observables of the recipe; NaN where there is no mid-tone."""
        setting = ControlVector.of([controls]).values
        seen = observables(
            lambda x: density(self.coordinates[None], setting, x), np.full((1, 1), self.base_density), midtone_density
        )
        return dict(zip(OBSERVABLES, map(float, seen[0, 0]), strict=True))


def simulate_film(
    seed: int, *, name: str = "an invented film", box_speed: float = 100.0, spread: float = 1.0
) -> SimulatedFilm:
    """Draw a film from the prior of the process model, narrowed or widened by `spread`."""
    rng = np.random.default_rng([seed, 1])
    return SimulatedFilm(name, box_speed, PRIOR_MEAN + spread * PRIOR_SD * rng.standard_normal(len(PRIOR_MEAN)))


def demo_film() -> SimulatedFilm:
    """The invented film of the teaching darkroom: a 100-speed grey-base film, murky unless it gets solvent."""
    return SimulatedFilm(
        "Teaching film A (invented), 100-speed, grey base",
        100.0,
        coordinates_of(**TEACHING_FILM),
    )


def simulate_trial(
    film: SimulatedFilm,
    controls: dict[str, float],
    *,
    id: str,
    seed: int,
    log_exposure: Array = WEDGE,
    reading_sd: float | None = None,
    errors: bool = True,
) -> Trial:
    """Make and read one strip of an invented film, with the usual errors of making and reading.

    Parameters
    ----------
    controls : dict
        As intended; what is truly done differs by the usual errors of the tools.
    log_exposure : (N,) array
        Of the patches of its wedge.
    reading_sd : float, optional
        Standard uncertainty of one reading; the usual one if not given.
    errors : bool
        False for a strip made and read without any error.
    """
    rng = np.random.default_rng([seed, 2])
    reading = number("notebook.reading_sd") if reading_sd is None else reading_sd
    x = np.asarray(log_exposure, dtype=float)
    done = ControlVector.of(controls)
    offset = 0.0
    if errors:
        done = ControlVector(done.values + done.dosing_sd() * rng.standard_normal(len(CONTROLS)))
        done[TIME] *= np.exp(number("notebook.strip_sd.activity") * rng.standard_normal())
        x = x + number("notebook.strip_sd.log_exposure") * rng.standard_normal()
        offset = number("notebook.reading_offset_sd") * rng.standard_normal()
    true = film.density(ControlVector(np.maximum(done.values, 0.0)).settings(), x)
    read = true + offset + reading * rng.standard_normal(len(x)) if errors else true
    return Trial(
        id=id,
        controls=controls,
        steps=tuple(
            Patch(log_exposure=float(e), density=round(float(np.clip(d, LEAST_READ, MOST_READ)), 4), density_sd=reading)
            for e, d in zip(log_exposure, read, strict=True)
        ),
    )


def simulate_series(
    film: SimulatedFilm,
    trials: list[dict[str, float]],
    *,
    seed: int,
    controls: dict[str, ControlRange] | None = None,
    aim: str = "projection",
    base_known: bool = True,
) -> Series:
    """A series document of an invented film, with the trials made by `simulate_trial`."""
    made = [simulate_trial(film, c, id=f"strip {j + 1}", seed=seed * 1000 + j) for j, c in enumerate(trials)]
    limits = controls or CONTROLS.first_ranges()
    return read_series(
        {
            "format": "obverse-series",
            "version": 1,
            "film": {
                "name": film.name,
                "box_speed": film.box_speed,
                "base_density": film.base_density if base_known else None,
            },
            "controls": {name: control.model_dump() for name, control in limits.items()},
            "aim": aim,
            "trials": [t.model_dump() for t in made],
        }
    )
