"""Faults from the curve: found when the film is known, never invented, and "cannot tell" otherwise.

Films, strips and faults are drawn by us: the process model with one thing gone wrong, a smooth
departure of each strip, and reading noise. Three sound strips teach the film; a further one is judged.
"""

from collections import Counter

import numpy as np
import pytest

from obverse.diagnosis import diagnose_curve
from obverse.diagnosis.causes import compare
from obverse.inference import fit_film
from obverse.model import control_array, layers
from obverse.model.parameters import INDEX
from obverse.model.simulate import simulate_film, simulate_series
from obverse.process import AIMS
from obverse.sensitometry import fit_curve

X = np.round(np.linspace(-1.6, 1.6, 21), 2)
FILMS = 16
# A strength at which the fault is plain on the wall.
VISIBLE = {"ghost_negative": 0.15, "incomplete_second_development": 0.6, "stain": 0.35, "underexposed": -0.6, "overexposed": 0.6}


def draw_controls(random):
    return {
        "first_developer_time_min": round(random.uniform(7, 15), 1),
        "solvent_ml_per_l": float(random.integers(3, 18)),
        "alkali_ml_per_l": float(random.integers(2, 10)),
    }


def faulty_strip(seed, fault, strength):
    random = np.random.default_rng([9, seed])
    film = simulate_film(seed)
    coordinates = film.coordinates.copy()
    if fault in ("ghost_negative", "stain"):
        coordinates[INDEX["ghost" if fault == "ghost_negative" else "stain"]] = np.log(strength)
    controls = draw_controls(random)
    shift = strength if fault in ("underexposed", "overexposed") else 0.0
    seen = layers(coordinates[None], control_array([controls]), X + shift + random.normal(0, 0.03))
    d = seen.density[0, 0]
    if fault == "incomplete_second_development":
        d = d - (1 - strength) * seen.image[0, 0]
    smooth = np.exp(-0.5 * ((X[:, None] - X) / 0.6) ** 2)
    d = d + random.multivariate_normal(np.zeros(X.size), smooth) * 0.02 * (0.3 + d - d.min())
    return np.maximum(d + random.normal(0, 0.02, X.size) + random.normal(0, 0.01), 0), controls, film


@pytest.fixture(scope="module")
def known_films():
    found = {}
    for seed in range(FILMS):
        random = np.random.default_rng([3, seed])
        series = simulate_series(simulate_film(seed), [draw_controls(random) for _ in range(3)], seed=seed)
        found[seed] = fit_film(series).draws
    return found


def verdicts(fault, known_films):
    found = Counter()
    for seed in range(FILMS):
        d, controls, film = faulty_strip(seed, fault, VISIBLE.get(fault, 0))
        draws = known_films[seed] if known_films else None
        chances = compare(X, d, np.full(X.size, 0.02), base_density=film.base_density, controls=controls, film_draws=draws)
        assert 1 == pytest.approx(sum(chances.values()))
        first = max(chances, key=chances.get)
        found[first if chances[first] >= 0.5 else "cannot tell"] += 1
    return found


@pytest.mark.parametrize("fault", ["incomplete_second_development", "underexposed", "overexposed"])
def test_a_plain_fault_of_a_known_film_is_named(fault, known_films):
    found = verdicts(fault, known_films)
    assert found[fault] >= 0.9 * FILMS, found


def test_silver_left_and_stain_are_told_from_the_first_developer_though_not_always_from_each_other(known_films):
    """Both lift the light end; the eye and the colour of the picture tell the rest."""
    for fault in ("ghost_negative", "stain"):
        found = verdicts(fault, known_films)
        assert found["ghost_negative"] + found["stain"] + found["cannot tell"] >= 0.9 * FILMS, found
        assert found[fault] >= 0.7 * FILMS, found


def test_a_sound_strip_is_not_accused(known_films):
    found = verdicts("", known_films)
    assert found[""] >= 0.95 * FILMS, found


def test_of_an_unknown_film_little_is_claimed():
    found = verdicts("ghost_negative", None)
    assert found["stain"] + found["incomplete_second_development"] <= 0.1 * FILMS, found


def curve_of(d, **more):
    return fit_curve(X, d, np.full(X.size, 0.02), base_density=0.25, **more)


def test_a_strip_in_the_aim_has_no_finding():
    d = 0.35 + 2.15 / (1 + np.exp((X - 0.03) / 0.28))
    assert () == diagnose_curve(curve_of(d), aim=AIMS["projection"], base_density=0.25)


@pytest.mark.parametrize(
    ("dmin", "reach", "middle", "width", "fault"),
    [
        (0.65, 2.1, 0.1, 0.28, "murky_highlights"),
        (0.33, 1.3, 0.1, 0.20, "thin_blacks"),
        (0.30, 2.4, 0.0, 0.60, "low_contrast"),
        (0.35, 2.2, 0.7, 0.28, "underexposed"),
        (0.35, 2.2, -0.7, 0.28, "overexposed"),
    ],
)
def test_what_the_aim_misses_is_said_with_its_cures(dmin, reach, middle, width, fault):
    d = dmin + reach / (1 + np.exp((X - middle) / width))
    found = {one.fault: one for one in diagnose_curve(curve_of(d), aim=AIMS["projection"], base_density=0.25)}
    assert fault in found
    assert found[fault].cures
    assert all(cure.standing.words == "common practice, no source" for cure in found[fault].cures)


def test_more_exposure_is_the_first_cure_of_a_dark_strip_and_time_the_second():
    """Trade practice without a source (records table.first_cure_exposure, table.second_cure_time)."""
    d = 0.35 + 2.2 / (1 + np.exp((X - 0.7) / 0.28))
    dark = next(one for one in diagnose_curve(curve_of(d), base_density=0.25) if one.fault == "underexposed")
    assert ["Give 1 stop more exposure.", "Develop 2 minutes longer in the first developer."] == [cure.text for cure in dark.cures]
