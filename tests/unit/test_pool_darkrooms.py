"""One film in many darkrooms: what others' strips say here, and how far each darkroom is believed.

The films are of the process model itself: here the bookkeeping is judged. How many strips are saved is measured on films
of foreign physics by `benchmarks/bench_pool.py`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from obverse.inference import FilmFit, OtherDarkroom, fit_film, next_strips
from obverse.inference.elsewhere import (
    DarkroomBelief,
    DarkroomSaid,
    beliefs,
    normals_needed,
    offset_covariance,
    offset_directions,
    offset_draws,
)
from obverse.inference.evidence import gather
from obverse.model import PRIOR_MEAN, demo_film, simulate_film, simulate_series
from obverse.model.parameters import INDEX
from obverse.process import Trial

pytestmark = pytest.mark.usefixtures("few_draws")

RECIPES = [
    {"first_developer_time_min": t, "solvent_ml_per_l": s, "alkali_ml_per_l": a}
    for t, s, a in ((8, 4, 4), (12, 8, 8), (10, 2, 12), (14, 6, 2))
]
FILM = demo_film()
HERE = simulate_series(FILM, [], seed=1)


def lent(name: str, seed: int, *, ammonia: float = 1.0, film=FILM) -> OtherDarkroom:
    """Strips as they were truly made, under the controls that were written down."""
    made = [{**recipe, "alkali_ml_per_l": recipe["alkali_ml_per_l"] * ammonia} for recipe in RECIPES]
    series = simulate_series(film, made, seed=seed)
    trials = [trial.model_copy(update={"controls": said}) for trial, said in zip(series.trials, RECIPES, strict=True)]
    return OtherDarkroom(name, tuple(trials), series.film.base_density, name)


@pytest.fixture(scope="module")
def honest() -> FilmFit:
    return fit_film(HERE, elsewhere=[lent("north", 2)])


def test_strips_from_elsewhere_teach_the_first_strip(honest: FilmFit):
    alone, taught = fit_film(HERE), honest
    for name in ("dmax", "midtone_log_exposure"):
        wide = alone.predict_observables(RECIPES[1])[name].sd
        assert taught.predict_observables(RECIPES[1])[name].sd < 0.6 * wide
    true = FILM.observables(RECIPES[1])
    seen = taught.predict_observables(RECIPES[1])
    assert abs(seen["dmax"].value - true["dmax"]) < 3 * seen["dmax"].sd


def test_what_is_lent_is_no_strip_of_ones_own(honest: FilmFit):
    answer = next_strips(HERE, fit=honest)
    assert answer.best_trial is None and answer.status == "try"
    assert answer.message == (
        "Nothing has been tried here: this strip follows from 4 strips of this film from other darkrooms."
    )
    assert answer.suggestions[0].reason.startswith("A first strip here, from what strips of this film show")
    assert honest.document()["strips"] == 0
    assert honest.strip_observables(1.0).shape[1] == 0


def test_an_honest_darkroom_is_believed(honest: FilmFit):
    (north,) = honest.darkrooms
    assert north.strips == 4 and north.usual > 0.8
    assert north.usual + north.something_wrong + north.not_believed == pytest.approx(1.0)
    assert north.sentence.startswith("north: its 4 strips count")


def test_a_mislabelled_bottle_is_found_by_its_strips():
    coordinates = FILM.coordinates.copy()
    coordinates[INDEX["alkali_activity"]] = 0.7
    film = replace(FILM, coordinates=coordinates)
    honest = [lent("north", 2, film=film), lent("east", 3, film=film)]
    fit = fit_film(HERE, elsewhere=[*honest, lent("south", 4, ammonia=5.0, film=film)])
    by_name = {one.id: one for one in fit.darkrooms}
    assert by_name["south"].usual < 0.5 < by_name["north"].usual
    assert "hardly count" in by_name["south"].sentence
    recipe = {**RECIPES[1], "alkali_ml_per_l": 10}
    both = fit_film(HERE, elsewhere=honest).predict_observables(recipe), fit.predict_observables(recipe)
    # Two honest darkrooms say the same with the third as without it.
    assert abs(both[0]["midtone_log_exposure"].value - both[1]["midtone_log_exposure"].value) < 0.1


def test_the_same_strip_counts_once_through_whoever_it_came():
    mine = simulate_series(FILM, RECIPES[:1], seed=5)
    north = lent("north", 2)
    back = OtherDarkroom("south", (*north.trials, mine.trials[0].model_copy(update={"id": "given back"})))
    evidence = gather(mine, [north, back])
    assert evidence.own_size == 1
    assert evidence.origin.tolist() == [-1, 0, 0, 0, 0]


def test_strips_not_seen_lend_nothing():
    assert gather(HERE, [OtherDarkroom("north", (Trial(id="planned", controls=RECIPES[0]),))]).size == 0


def test_densities_count_from_the_base_where_both_measured_it():
    base = HERE.film.base_density
    assert base is not None
    north = lent("north", 2)
    lifted = tuple(
        trial.model_copy(
            update={"steps": tuple(p.model_copy(update={"density": p.density + 0.2}) for p in trial.steps)}
        )
        for trial in north.trials
    )
    panel_off = OtherDarkroom("north", lifted, (north.base_density or 0) + 0.2)
    told = [gather(HERE, [one]) for one in (north, panel_off)]
    np.testing.assert_allclose(told[0].density, told[1].density, atol=1e-9)


def test_draws_of_offsets_have_their_covariance():
    controls = np.array([[10, 3, 8, 20, 15.0], [12, 2, 5, 20, 15], [9, 4, 8, 20, 15], [9, 2, 8, 20, 15]])
    origin = np.array([-1, 0, 0, 1])
    belief = DarkroomBelief((1.0, 1.0), (True, False), 0.1)
    by = offset_directions(PRIOR_MEAN, controls, origin)
    claimed = offset_covariance(by, origin, belief).reshape(20, 20)
    normals = np.random.default_rng(0).standard_normal((40_000, normals_needed(by, belief)))
    drawn = np.cov(offset_draws(by, origin, belief, normals).reshape(-1, 20).T)
    np.testing.assert_allclose(drawn, claimed, atol=0.05)
    assert not claimed[:5].any()
    # Two darkrooms differ from one's own by what is off in one's own, too.
    assert claimed[5 + 2, 15 + 2] > 0


def test_beliefs_of_one_darkroom_and_of_three():
    assert len(beliefs(1)) == 3 and len(beliefs(3)) == 9
    for known in (beliefs(1), beliefs(3)):
        assert known[0].believed == (True,) * len(known[0].widths) and set(known[0].widths) == {1.0}
        assert not any(known[-1].believed)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ((0.9, 0.1, 0.0, 6), "north: its 6 strips count, its developer taken as 1.10 times as active."),
        (
            (0.1, 0.9, 0.0, 6),
            "north: its 6 strips go together with the others only with 0.40 times the alkali that was written down; "
            "a bottle there may not be what its label says.",
        ),
        ((0.1, 0.1, 0.8, 1), "north: its one strip does not go together with the others and hardly counts."),
        ((0.1, 0.1, 0.8, 2), "north: its 2 strips do not go together with the others and hardly count."),
        ((0.9, 0.1, 0.0, 1), "north: its one strip counts, its developer taken as 1.10 times as active."),
    ],
)
def test_what_is_told_of_a_darkroom(said: tuple[float, float, float, int], sentence: str):
    usual, wrong, away, strips = said
    offsets = {"activity": 1.1, "alkali": 0.4, "solvent": 1.2, "exposure": 0.3}
    assert DarkroomSaid("n", "north", strips, usual, wrong, away, offsets).sentence == sentence


def test_another_film_under_this_name_gives_way_to_ones_own_strips():
    own = simulate_series(FILM, RECIPES[:3], seed=6)
    liar = lent("liar", 7, film=simulate_film(12))
    fit = fit_film(own, elsewhere=[liar])
    assert fit.darkrooms[0].usual < 0.2
    seen, true = fit.predict_observables(RECIPES[1]), FILM.observables(RECIPES[1])
    assert abs(seen["midtone_log_exposure"].value - true["midtone_log_exposure"]) < 0.2
