"""Worn baths: a trial that says so teaches the film as fresh baths would show it; one that does not is read as before."""

from __future__ import annotations

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.inference import fit_film, next_strips
from obverse.inference.evidence import gather
from obverse.inference.words import BestWords
from obverse.model import demo_film, simulate_series, simulate_trial, with_activity
from obverse.process import ControlVector, Series, read_series
from obverse.reference import number

USUAL = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}
LONGER = USUAL | {"first_developer_time_min": 14.0}


@pytest.fixture(scope="module")
def series():
    return simulate_series(demo_film(), [USUAL, LONGER], seed=1)


def with_wear(series: Series, **wear: float) -> Series:
    return series.model_copy(update={"trials": tuple(t.model_copy(update={"wear": wear}) for t in series.trials)})


def test_a_trial_that_says_nothing_is_read_as_from_fresh_baths(series):
    document = series.model_dump()
    for trial in document["trials"]:
        del trial["wear"]
    silent, fresh = read_series(document), with_wear(series, first_developer=0.0, bleach=0.0, second_developer=0.0)
    one, other = (next_strips(asked, fit=fit_film(asked, draws=512)).document() for asked in (silent, fresh))
    assert one == other
    evidence = gather(silent)
    np.testing.assert_array_equal(evidence.controls, evidence.recipes)
    np.testing.assert_array_equal(
        evidence.control_sd, with_activity(evidence.recipes, ControlVector(evidence.recipes).dosing_sd())
    )


def test_a_worn_first_developer_is_told_apart_from_the_film():
    """Truth: strips of the demo film in developers that have lost what the record says at full capacity."""
    film, lost = demo_film(), number("notebook.wear.first_developer")
    weak = (1 + 15) / (1 - lost) - 1
    true = film.observables(USUAL)
    misses = {True: [], False: []}
    for seed in range(6):
        made = [
            simulate_trial(film, c | {"developer_parts_water": weak}, id=f"s{j}", seed=100 * seed + j)
            for j, c in enumerate((USUAL, LONGER))
        ]
        made = [t.model_copy(update={"controls": c}) for t, c in zip(made, (USUAL, LONGER), strict=True)]
        silent = simulate_series(film, [], seed=seed).model_copy(update={"trials": tuple(made)})
        for told in (True, False):
            asked = with_wear(silent, first_developer=1.0) if told else silent
            seen = fit_film(asked, draws=1024).predict_observables(USUAL)
            misses[told].append(
                [seen[name].value - true[name] for name in ("highlight_density", "midtone_log_exposure")]
            )
    told, silent = (np.abs(np.mean(misses[k], axis=0)) for k in (True, False))
    assert np.all(told < 0.5 * silent), (told, silent)


def test_a_worn_bleach_explains_a_little_ghost_and_leaves_doubt(series):
    fresh, worn = (
        fit_film(s, draws=1024).predict_observables(USUAL)["highlight_density"]
        for s in (series, with_wear(series, bleach=1.0))
    )
    silver = 2.6 * number("notebook.wear.bleach")
    assert -1.6 * silver < worn.value - fresh.value < -0.4 * silver
    assert worn.sd > 1.3 * fresh.sd


def test_a_worn_second_developer_explains_thin_blacks_and_leaves_doubt(series):
    fresh, worn = (
        fit_film(s, draws=1024).predict_observables(USUAL)["dmax"]
        for s in (series, with_wear(series, second_developer=1.0))
    )
    assert 1.02 < worn.value / fresh.value < 1.09
    assert worn.sd > 1.3 * fresh.sd


def test_wear_is_no_control_and_moves_no_proposal_off_the_grid(series):
    evidence = gather(with_wear(series, first_developer=0.7))
    np.testing.assert_array_equal(evidence.varied, gather(series).varied)
    assert np.all(evidence.controls[:, 4] > 15) and np.all(evidence.recipes[:, 4] == 15)
    asked = with_wear(series, first_developer=0.7)
    fit = fit_film(asked, draws=512)
    assert "developer" not in next_strips(asked, fit=fit).suggestions[0].controls
    # What is said against the best strip is said against its recipe as written.
    assert BestWords.of(fit, fit.series.aim, "strip 1", None).controls["developer_parts_water"] == 15


@pytest.mark.parametrize(
    ("wear", "words"),
    [
        ({"rinse": 0.5}, "not known"),
        ({"bleach": 1.2}, "share from 0"),
        ({"bleach": -0.1}, "share from 0"),
        ({"bleach": float("nan")}, "bleach"),
    ],
)
def test_impossible_wear_is_one_sentence(series, wear, words):
    document = series.model_dump()
    document["trials"][0]["wear"] = wear
    with pytest.raises(InputError, match=words):
        read_series(document)
