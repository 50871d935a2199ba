"""The answer a person sees depends on what the strips say: not on last bits, not on their order, not on threads."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from obverse.inference import NextStrips, fit_film, next_strips, recipe_chance
from obverse.process import Series, read_series

ROOT = Path(__file__).resolve().parents[2]
FILM = json.loads((ROOT / "docs" / "teaching-film-a.json").read_text(encoding="utf-8"))


# What the eye says of the strips of that film, and what it says less.
WORDS = [
    [{"of": "blacks", "grade": "deep"}, {"of": "highlights", "grade": "murky"}],
    [{"of": "blacks", "grade": "thin"}, {"of": "midtones", "grade": "right"}],
    [{"of": "highlights", "grade": "clear"}, {"of": "contrast", "grade": "right"}],
]
ROUGH = 0.04


def series(strips: int, way: str = "patches") -> dict:
    """The first strips of the film, read patch by patch, in rough frames a stop apart without a base, or judged by words."""
    trials, film = FILM["trials"][:strips], FILM["film"]
    if way == "frames":
        film = {name: value for name, value in film.items() if name != "base_density"}
        trials = [t | {"steps": [p | {"density_sd": ROUGH} for p in t["steps"][::3]]} for t in trials]
    if way == "words":
        trials = [t | {"steps": [], "grades": WORDS[k % len(WORDS)]} for k, t in enumerate(trials)]
    return FILM | {"film": film, "trials": trials}


@cache
def answered(strips: int):
    """The series, its fit and what is to be tried next: reckoned once, held against several others."""
    asked = read_series(series(strips))
    fit = fit_film(asked)
    return asked, fit, next_strips(asked, fit=fit)


def moved(document: dict, seed: int) -> dict:
    """The same with every density, or where there is none every amount, changed by about one part in 10^12."""
    rng = np.random.default_rng(seed)

    def a_bit(value: float) -> float:
        return value * (1 + 1e-12 * float(rng.standard_normal()))

    trials = [
        trial
        | {
            "steps": [p | {"density": a_bit(p["density"])} for p in trial["steps"]],
            "controls": {name: a_bit(value) for name, value in trial["controls"].items()},
        }
        for trial in document["trials"]
    ]
    return document | {"trials": trials}


def assert_alike(one: NextStrips, other: NextStrips, asked: Series) -> None:
    """Recipe the same or one step away, chance within 0.02, quantiles within a tenth of their spread."""
    a, b = one.suggestions[0], other.suggestions[0]
    for name, control in asked.controls.items():
        assert abs(a.controls[name] - b.controls[name]) <= control.step + 1e-9
    assert abs(a.probability_in_aim - b.probability_in_aim) <= 0.02
    for name, e in a.predicted.items():
        for mine, theirs in ((e.value, b.predicted[name].value), (e.low90, b.predicted[name].low90)):
            assert abs(mine - theirs) <= 0.1 * e.sd
    assert one.status == other.status
    if one.best_trial and other.best_trial:
        assert one.best_trial.id == other.best_trial.id
        assert abs(one.best_trial.probability_in_aim - other.best_trial.probability_in_aim) <= 0.02


@pytest.mark.parametrize(
    ("way", "strips"), [("patches", 1), ("patches", 6), ("frames", 1), ("frames", 3), ("words", 1), ("words", 3)]
)
def test_neither_last_bits_nor_the_order_of_strips_change_the_answer(way, strips):
    """The draws are the same whatever the last bits, and smooth functions of the readings: the very same recipe, and numbers to the last that is told."""
    shuffled = moved(series(strips, way), seed=strips)
    both = [read_series(one) for one in (series(strips, way), shuffled | {"trials": shuffled["trials"][::-1]})]
    # What holds of each draw holds of a thousand as of four.
    one, other = (next_strips(asked, fit=fit_film(asked, draws=1024)) for asked in both)
    asked = both[0]
    assert_alike(one, other, asked)
    a, b = one.suggestions[0], other.suggestions[0]
    assert a.controls == b.controls
    assert abs(a.probability_in_aim - b.probability_in_aim) < 1e-6
    for name, e in a.predicted.items():
        # Strips are imagined in single precision: a quantile may be another by a last bit or two of that.
        bits = 2 * float(np.spacing(np.float32(abs(e.value) + abs(e.low90))))
        assert abs(e.value - b.predicted[name].value) + abs(e.low90 - b.predicted[name].low90) < 1e-6 * e.sd + bits
    assert one.reachable == pytest.approx(other.reachable, abs=1e-6)
    also, theirs = one.as_good, other.as_good
    assert (also and also.sentence()) == (theirs and theirs.sentence())


def test_threads_do_not_change_the_answer():
    code = (
        "import json, sys; from obverse.inference import next_strips; from obverse.process import read_series; "
        "print(json.dumps(next_strips(read_series(json.load(sys.stdin))).document()))"
    )
    # All tests reckon with one thread, unless the environment says otherwise; another program with as many as they do not.
    threads = "2" if os.environ["OPENBLAS_NUM_THREADS"] == "1" else "1"
    done = subprocess.run(
        [sys.executable, "-c", code],
        input=json.dumps(series(3)),
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "OMP_NUM_THREADS": threads, "OPENBLAS_NUM_THREADS": threads},
    )
    there = json.loads(done.stdout)["suggestions"][0]
    here = answered(3)[2].document()["suggestions"][0]
    assert here["controls"] == there["controls"]
    assert here["probability_in_aim"] == pytest.approx(there["probability_in_aim"], abs=0.002)


@pytest.mark.parametrize(("strips", "seed"), [(1, 1), (3, 2), (6, 3)])
def test_other_draws_propose_the_same_and_tell_the_same_of_a_recipe(strips, seed):
    """With other random numbers: the recipe to a step, and the numbers told of one; how far they may differ is said in docs/notebook.md."""
    asked, usual, answer = answered(strips)
    controls = {"first_developer_time_min": 13.0, "solvent_ml_per_l": 11.0, "alkali_ml_per_l": 8.0}
    other = fit_film(asked, drawn=seed)
    mine, theirs = (one.suggestions[0].controls for one in (answer, next_strips(asked, fit=other)))
    for name, control in asked.controls.items():
        assert abs(mine[name] - theirs[name]) <= control.step + 1e-9
    assert abs(recipe_chance(usual, controls) - recipe_chance(other, controls)) <= 0.02
    for name, e in usual.predict_observables(controls).items():
        o = other.predict_observables(controls)[name]
        assert max(abs(e.value - o.value), abs(e.low90 - o.low90), abs(e.high90 - o.high90)) <= 0.1 * e.sd
