"""The parts of the notebook's belief, each against what it must be: slopes, words, what is told of a film, the middle."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import expit, ndtri

from obverse.inference.evenly import even_normals, normal_quantile
from obverse.inference.evidence import EyeGrade, gather
from obverse.inference.fit import broad_prior, fit_film
from obverse.inference.law import KNEE_MEAN, Law, Q
from obverse.inference.posterior import Joint, shares, spread_normals
from obverse.inference.readings import D, Summary, departed, predicted
from obverse.inference.told import moved_centre
from obverse.inference.words_as_normal import Site, renew_sites, word_likelihood
from obverse.model import (
    NAMES,
    PRIOR_MEAN,
    PRIOR_SD,
    demo_film,
    observables,
    observables_of,
    simulate_series,
    simulate_trial,
)
from obverse.model.curve import logistic, read_curve, settle
from obverse.model.parameters import INDEX
from obverse.process import Aim, ControlVector, SeriesFilm, read_series
from obverse.reference import number

USUAL = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}
RECIPES = ControlVector.of(
    [USUAL, USUAL | {"alkali_ml_per_l": 0.0}, USUAL | {"first_developer_time_min": 16.0, "temperature_c": 22.0}]
).values


def test_what_is_not_loaded_for_its_time_is_what_the_library_has():
    part = np.concatenate([np.linspace(1e-6, 1 - 1e-6, 101), [1e-12]])
    np.testing.assert_allclose(normal_quantile(part), ndtri(part), rtol=1e-13, atol=1e-13)
    eta = np.linspace(-40.0, 40.0, 81)
    np.testing.assert_allclose(logistic(eta), expit(eta), atol=1e-15)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_slopes_of_the_process_model_are_those_of_its_values(seed):
    rng = np.random.default_rng(seed)
    z = PRIOR_MEAN + PRIOR_SD * rng.standard_normal((4, len(NAMES)))
    _, slopes = settle(z, RECIPES, slopes=True)
    for i, name in enumerate(NAMES):
        step = 1e-6 * (np.arange(len(NAMES)) == i)
        found = (settle(z + step, RECIPES)[0] - settle(z - step, RECIPES)[0]) / 2e-6
        np.testing.assert_allclose(slopes[..., i], found, atol=2e-5, err_msg=name)


def test_observables_without_a_search_are_those_of_the_search():
    rng = np.random.default_rng(5)
    settings = np.array([np.log(2.4), np.log(0.2), 0.05, np.log(0.3), np.log(0.35)]) + 0.15 * rng.standard_normal(
        (40, 5)
    )
    knees = 0.3 * rng.standard_normal((40, 4))
    quick = observables_of(settings, knees)
    searched = observables(lambda x: read_curve(settings, knees, x), np.zeros(40))
    assert np.isfinite(quick).all()
    np.testing.assert_allclose(quick[:, [0, 3]], searched[:, [0, 3]], atol=0.012)
    np.testing.assert_allclose(quick[:, 2], searched[:, 2], atol=0.05)


@pytest.mark.parametrize(("low", "high"), [(-math.inf, 0.3), (0.2, 0.5), (0.6, math.inf)])
def test_a_word_moves_mean_and_spread_as_a_simulation_does(low, high):
    rng = np.random.default_rng(1)
    value = 0.4 + 0.3 * rng.standard_normal(400_000)
    seen = value + 0.1 * rng.standard_normal(value.size)
    kept = value[(seen > low) & (seen < high)]
    asked = 0.4 + 0.3 * even_normals(256, 1)[:, 0]
    agrees = word_likelihood(EyeGrade(0, "highlights", low, high, 0.1), asked)
    mean = agrees @ asked / agrees.sum()
    assert mean == pytest.approx(kept.mean(), abs=0.003)
    assert agrees @ (asked - mean) ** 2 / agrees.sum() == pytest.approx(kept.var(), rel=0.03)


def test_a_word_against_all_that_is_known_is_a_word_and_no_certainty():
    """Only the outermost of the curves asked agrees with it; its weight stays finite, and it pulls the right way."""
    trial = {"id": "a", "controls": USUAL, "grades": [{"of": "blacks", "grade": "deep"}]}
    evidence = gather(read_series(simulate_series(demo_film(), [], seed=1).model_dump() | {"trials": [trial]}))
    evidence = replace(evidence, grades=(EyeGrade(0, "blacks", 50.0, math.inf, 1e-3),))
    around = np.array([[np.log(2.0), np.log(0.2), 0.0, np.log(0.3), np.log(0.3), 0, 0, 0, 0, np.log(0.2)]])
    (site,) = renew_sites(evidence, [Site.open()], around, 0.01 * np.eye(around.shape[1])[None])
    assert 1.0 < site.precision < 1e4
    assert site.target > 2.5


def test_evenly_spread_numbers_have_exact_moments_and_their_seed():
    z = spread_normals(256, [6, 3], seed=[4])
    np.testing.assert_allclose(z[:, :6].mean(axis=0), 0, atol=1e-12)
    np.testing.assert_allclose(z[:, :6].T @ z[:, :6] / 256, np.eye(6), atol=1e-10)
    np.testing.assert_array_equal(z, spread_normals(256, [6, 3], seed=[4]))
    assert not np.array_equal(z, spread_normals(256, [6, 3], seed=[5]))


def test_draws_are_shared_by_weight_and_none_is_lost():
    assert shares(np.array([0.5, 0.495, 0.005]), 100) == [51, 49, 0]
    assert sum(shares(np.array([0.2, 0.3, 0.5]), 1023)) == 1023


def film(**known) -> SeriesFilm:
    return SeriesFilm(name="invented", **{"box_speed": 100.0, **known})


def test_what_is_told_of_a_film_moves_the_centre_by_its_record_only():
    assert not moved_centre(film()).any()
    fast, slow = moved_centre(film(box_speed=400.0)), moved_centre(film(box_speed=25.0))
    assert fast[INDEX["spread"]] == pytest.approx(2 * number("notebook.first.speed.contrast"))
    np.testing.assert_allclose(fast, -slow)
    assert moved_centre(film(base_density=0.06))[INDEX["development_time"]] < 0
    assert not moved_centre(film(base_density=0.27)).any()
    assert moved_centre(film(emulsion="tabular"))[INDEX["development_time"]] > 0
    later = moved_centre(film(label_time_min=16.0))
    assert later[INDEX["development_time"]] > 0 and later[INDEX["speed_point"]] > 0


def test_a_film_with_a_long_label_time_is_expected_to_come_later():
    empty = simulate_series(demo_film(), [], seed=1)
    slow = empty.model_copy(update={"film": empty.film.model_copy(update={"label_time_min": 16.0})})
    here, there = (fit_film(s).predict_observables(USUAL)["midtone_log_exposure"].value for s in (empty, slow))
    assert there > here + 0.02


def test_a_departure_is_local():
    """What one recipe departs by says much of its neighbour and little of a recipe far away."""
    empty = simulate_series(demo_film(), [], seed=1)
    law = Law(gather(empty).varied)
    sd = broad_prior(law, empty, 5.0).sd[-law.features * 5 :].reshape(-1, 5)[1 + int(law.varied.sum()) :]
    recipes = [
        USUAL,
        USUAL | {"first_developer_time_min": 11.0},
        USUAL | {"first_developer_time_min": 19.0, "solvent_ml_per_l": 0.0},
    ]
    waves = law.feature_values(ControlVector.of(recipes).values)[:, 1 + int(law.varied.sum()) :]
    covariance = (waves * sd[:, 2] ** 2) @ waves.T
    alike = covariance / np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))
    assert alike[0, 1] > 0.9 and alike[0, 2] < 0.5


def test_what_is_left_out_cannot_be_measured_wrong():
    sd = ControlVector.of([USUAL, USUAL | {"solvent_ml_per_l": 0.0}]).dosing_sd()
    place = list(USUAL).index("solvent_ml_per_l")
    assert sd[1, place] == 0.0 and sd[0, place] > 0.2


@pytest.mark.parametrize(
    ("bounds", "flat", "hard"),
    [
        ((None, None), 1.2, 2.0),
        ((1.3, 1.9), 1.3, 1.9),
        ((1.3, None), 1.3, 2.1),
        ((None, 1.4), 0.6, 1.4),
        ((0.9, None), 0.9, 2.0),
    ],
)
def test_contrast_is_judged_by_the_bounds_of_the_aim_one_or_both(bounds, flat, hard):
    aim = Aim(name="own", gradient_min=bounds[0], gradient_max=bounds[1])
    seen = {}
    for grade in ("flat", "right", "hard"):
        trial = {"id": "a", "controls": USUAL, "grades": [{"of": "contrast", "grade": grade}]}
        asked = simulate_series(demo_film(), [], seed=1).model_dump() | {"aim": aim.model_dump(), "trials": [trial]}
        (seen[grade],) = gather(read_series(asked)).grades
    assert (seen["flat"].high, seen["hard"].low) == pytest.approx((flat, hard))
    assert (seen["right"].low, seen["right"].high) == pytest.approx((flat, hard))


def test_very_sure_readings_of_a_very_unsure_strip_are_weighed():
    rng = np.random.default_rng(0)
    for _ in range(30):
        slopes = rng.standard_normal((2, D, 3))
        told = slopes @ np.swapaxes(slopes, 1, 2) * 10.0 ** rng.uniform(8, 20)
        root = rng.standard_normal((2 * Q, 3))
        assert np.isfinite(Joint.of(Summary(told, np.zeros((2, D))), 10.0 * root @ root.T).log_det)


def _steeper_than_believed(told_and_done: list[tuple[float, float]]):
    """A film whose strips change far more along the development than any film believed: one minute told stands for many."""
    film, recipes = demo_film(), [USUAL | {"first_developer_time_min": told} for told, _ in told_and_done]
    made = [
        simulate_trial(film, USUAL | {"first_developer_time_min": done}, id=f"s{j}", seed=j)
        for j, (_, done) in enumerate(told_and_done)
    ]
    series = simulate_series(film, recipes, seed=0)
    trials = [trial.model_copy(update={"steps": one.steps}) for trial, one in zip(series.trials, made, strict=True)]
    fit = fit_film(series.model_copy(update={"trials": tuple(trials)}), draws=256)
    log_exposure = np.linspace(-1.2, 0.8, 6)
    true = np.array([film.density(USUAL | {"first_developer_time_min": d}, log_exposure) for _, d in told_and_done])
    foretold = fit.law.density(fit.draws, ControlVector.of(recipes).values, log_exposure)
    return fit, np.median(np.abs(foretold - true).max(axis=-1), axis=0)


@pytest.mark.parametrize("strips", [[(9.0, 4.0), (11.0, 20.0)], [(9.0, 4.0), (10.0, 9.0), (11.0, 20.0)]])
def test_few_strips_of_a_steep_film_are_taken_for_its_law_and_none_for_an_odd_one(strips):
    _, off = _steeper_than_believed(strips)
    # Between the two ends lies a density of 2: one that is disbelieved is missed by more than half of it.
    assert (off < 0.6).all()


def test_strips_that_disagree_speak_for_the_belief_that_allows_most():
    fit, _ = _steeper_than_believed([(8.0, 3.0), (10.0, 24.0)])
    assert np.all(np.diff(fit.posterior.weights) > 0) and fit.posterior.weights[-1] > 0.6


def test_a_strip_is_judged_without_the_error_of_its_exposure():
    """However surely a strip is read, its readings do not tell how much light it really had."""
    series = simulate_series(demo_film(), [USUAL], seed=5)
    (trial,) = series.trials
    surely = tuple(patch.model_copy(update={"density_sd": 0.004}) for patch in trial.steps)
    fit = fit_film(series.model_copy(update={"trials": (trial.model_copy(update={"steps": surely}),)}))
    assert fit.strip_observables(1.0)[:, 0, 3].std() > 0.8 * number("notebook.strip_sd.log_exposure")


def test_what_readings_leave_over_is_the_strips_own_curve():
    """Where readings lie above all that the coordinates give, so does the strip, by part of it; a strip that was not read does not."""
    fit = fit_film(simulate_series(demo_film(), [USUAL, USUAL | {"alkali_ml_per_l": 9.0}], seed=5))
    believed = np.concatenate(
        [np.median(fit.posterior.strips, axis=0), np.tile(np.append(KNEE_MEAN, np.log(0.2)), (2, 1))], axis=1
    )
    evidence = fit.evidence
    lift = 0.02 * np.exp(-0.5 * (evidence.log_exposure / 0.45) ** 2)
    known = evidence.known & np.array([[True], [False]])
    evidence = replace(evidence, density=predicted(believed, evidence.log_exposure) + lift, known=known)
    asked = np.tile([0.0, 2.0], (2, 1))
    lies = departed(evidence, np.tile(believed, (9, 1, 1)), asked, np.zeros((9, 2, 2)))
    assert np.ptp(lies, axis=0) == pytest.approx(0.0, abs=1e-12)
    assert 0.2 * 0.02 < lies[0, 0, 0] < 0.02
    assert abs(lies[0, 0, 1]) < 0.1 * lies[0, 0, 0]
    assert (lies[:, 1] == 0.0).all()
