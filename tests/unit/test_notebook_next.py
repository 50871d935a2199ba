"""The notebook's answers as a person meets them: `obverse next`, predictions, other films."""

from __future__ import annotations

import json
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest

from obverse.cli import main
from obverse.foundation import Estimate, InputError
from obverse.inference import fit_film, next_strips, recipe_chance
from obverse.inference.borne_out import FIRST, as_told, learned_part
from obverse.inference.fit import broad_prior
from obverse.inference.middle import NEAR, away
from obverse.inference.posterior import _bounded_share, _heard
from obverse.inference.sharing import shared_priors
from obverse.inference.suggest import (
    MEANT_TO_BE_MET,
    AsGood,
    _Search,
    _untried,
    as_good,
    as_good_from,
    recipe_draws,
    recipes_as_told,
    whole_percent,
)
from obverse.inference.words import bracket, percent
from obverse.model import OBSERVABLES, PARAMETERS, SimulatedFilm, demo_film, in_aim, simulate_film, simulate_series
from obverse.model.parameters import INDEX
from obverse.process import CONTROLS, read_series
from obverse.workbench.story import what_if

pytestmark = pytest.mark.usefixtures("few_draws")

USUAL = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}


@pytest.fixture(scope="module")
def series():
    return simulate_series(demo_film(), [USUAL, USUAL | {"first_developer_time_min": 14.0}], seed=1)


@pytest.fixture(scope="module")
def fit(series):
    return fit_film(series)


@pytest.fixture(scope="module")
def answer(series, fit):
    return next_strips(series, fit=fit)


def run(arguments, capsys) -> tuple[int, str, str]:
    try:
        code = main(arguments) or 0
    except SystemExit as stop:
        code = stop.code or 0
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_command_prints_one_json_document(series, tmp_path, capsys):
    file = tmp_path / "film.json"
    file.write_text(series.model_dump_json())
    code, out, _ = run(["next", str(file), "--json", "--count", "2"], capsys)
    assert code == 0
    document = json.loads(out)
    assert {"status", "suggestions", "best_trial"} <= set(document)
    assert len(document["suggestions"]) == 2
    again = json.loads(run(["next", str(file), "--json", "--count", "2"], capsys)[1])
    assert document == again
    # The draws are part of the method: nobody asks for others.
    code, _, told = run(["next", str(file), "--seed", "1"], capsys)
    assert code == 2 and "--seed" in told


def test_the_command_speaks(series, tmp_path, capsys):
    file = tmp_path / "film.json"
    file.write_text(series.model_dump_json())
    code, out, _ = run(["next", str(file)], capsys)
    assert code == 0
    assert "The next strip: " in out and "90 % interval" in out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "it breaks off before its end"),
        ('{"format": "obverse-series"}', "version"),
        (
            '{"format": "obverse-series", "version": 1, "film": {"name": "x", "box_speed": 100}, "controls": {"magic": {"low": 0, "high": 1, "step": 1}}}',
            "unknown control",
        ),
        ('{"format": "obverse-series", "version": 1, "film": {"name": "x", "box_speed": NaN}, "controls": {}}', "NaN"),
    ],
)
def test_bad_input_is_one_sentence(text, words, tmp_path, capsys):
    file = tmp_path / "film.json"
    file.write_text(text)
    code, out, err = run(["next", str(file), "--json"], capsys)
    assert code == 2
    assert words in out + err and "Traceback" not in out + err


def test_a_missing_file_is_one_sentence(tmp_path, capsys):
    code, out, err = run(["next", str(tmp_path / "nothing.json")], capsys)
    assert code == 2 and "Traceback" not in out + err


def test_predicted_curve_has_its_band(fit):
    x = np.linspace(-2, 2, 17)
    band = fit.predict_curve(USUAL, x)
    assert np.all(band.low90 <= band.density) and np.all(band.density <= band.high90)
    np.testing.assert_array_equal(band.log_exposure, x)
    true = demo_film().density(USUAL, x)
    assert np.mean((band.low90 - 0.05 <= true) & (true <= band.high90 + 0.05)) > 0.8


def test_doubt_grows_away_from_what_was_tried(fit):
    away = {"first_developer_time_min": 5.0, "solvent_ml_per_l": 25.0, "alkali_ml_per_l": 18.0}
    near, far = fit.predict_observables(USUAL), fit.predict_observables(away)
    assert all(far[name].sd > near[name].sd for name in near)
    # The law's own doubt too, without the errors of making a strip.
    near, far = (
        float(np.max(band.high90 - band.low90)) for band in (fit.predict_curve(USUAL), fit.predict_curve(away))
    )
    assert far > 3 * near


def test_far_out_is_computed_with_a_caution(fit):
    band = fit.predict_curve({"first_developer_time_min": 60.0})
    assert np.all(np.isfinite(band.density))
    assert [c.code for c in band.cautions] == ["notebook.far"]


@pytest.mark.parametrize(
    "controls", [{"magic": 1.0}, {"first_developer_time_min": -1.0}, {"solvent_ml_per_l": float("nan")}]
)
def test_impossible_controls_are_refused(fit, controls):
    with pytest.raises(InputError):
        fit.predict_curve(controls)


def test_what_was_learned_is_a_document(fit):
    document = json.loads(json.dumps(fit.document(), allow_nan=False))
    assert set(document["parameters"]) == {p.name for p in PARAMETERS}
    assert all(p["prior"]["reason"] and p["meaning"] for p in document["parameters"].values())


def test_reasons_name_the_change_and_its_purpose(series, fit):
    for s in next_strips(series, count=3, fit=fit).suggestions:
        assert s.reason.startswith(("Against strip", "The same recipe"))


def test_robustness_says_what_half_a_millilitre_does(series, answer):
    rows = {row.control: row for row in answer.best_trial.robustness}
    assert set(rows) == set(series.controls)
    assert rows["first_developer_time_min"].change["midtone_log_exposure"] < 0
    assert rows["solvent_ml_per_l"].change["dmax"] < 0


def test_ready_is_said_of_a_strip_that_lies_well_inside():
    film = demo_film()
    good = {"first_developer_time_min": 13.5, "solvent_ml_per_l": 9.0, "alkali_ml_per_l": 6.0}
    true = film.observables(good)
    assert 2.2 < true["dmax"] and true["highlight_density"] < 0.22 and abs(true["midtone_log_exposure"]) < 0.1
    answer = next_strips(simulate_series(film, [good, USUAL], seed=3))
    assert answer.status == "ready" and answer.best_trial.id == "strip 1"
    assert answer.as_good is None
    bad = next_strips(simulate_series(film, [USUAL | {"first_developer_time_min": 6.0}], seed=3))
    assert bad.status == "try" and bad.best_trial.probability_in_aim < 0.1


@pytest.mark.parametrize(
    ("chance", "least"),
    # As known: two in a hundred; beyond, a fifteenth of the spread of hit or miss; never nothing at all.
    [(0.015, 1), (0.085, 6), (0.30, 27), (0.5, 47), (0.99, 97)],
)
def test_a_recipe_is_as_good_down_to_what_no_few_strips_will_tell(chance, least):
    assert whole_percent(as_good_from(chance)) == least
    good = AsGood(least, ())
    assert good.holds(least / 100 - 0.004) and not good.holds(least / 100 - 0.006)


def test_what_is_as_good_is_told_with_the_strip_and_only_where_it_is(series, fit, answer):
    proposed, also = answer.suggestions[0], answer.as_good
    assert also.from_percent == whole_percent(as_good_from(proposed.probability_in_aim))
    assert 1 <= len(also.recipes) <= 2
    said = also.sentence()
    assert f"a chance of {also.from_percent} % or more" in said
    for one in also.recipes:
        assert CONTROLS.text(one.controls) in said
        assert one.probability_in_aim == pytest.approx(recipe_chance(fit, one.controls), abs=1e-9)
        assert also.holds(one.probability_in_aim)
        apart = [abs(one.controls[k] - proposed.controls[k]) / c.step for k, c in series.controls.items()]
        assert max(apart) > 1.5 and one.controls not in [trial.controls for trial in series.trials]
    # Where every other recipe is as near as a step, or worse, nothing is told.
    search = _Search(fit, series.aim)
    setting = fit.checked(proposed.controls)[0]
    assert len(search.others_like(setting, also))
    best = float((search.weight @ (search.margins.min(axis=-1) >= 0)).max())
    assert not len(search.others_like(setting, AsGood(round(100 * best) + 1, ())))


@pytest.mark.parametrize(
    ("time_min", "solvent", "told"),
    [
        (9.0, 8.0, None),
        (13.5, 8.0, "it lies outside all that was tried: first development 13.5 min (tried 9)"),
        (9.0, 20.0, "it lies outside all that was tried: solvent 20 mL/L (tried 2 to 8)"),
    ],
)
def test_a_strip_outside_all_that_was_tried_is_told_so(time_min, solvent, told):
    recipes = np.array(
        [
            [recipe.get(name, 0.0) for name in CONTROLS]
            for recipe in (
                {"first_developer_time_min": 9.0, "solvent_ml_per_l": 2.0},
                {"first_developer_time_min": 9.0, "solvent_ml_per_l": 8.0},
            )
        ]
    )
    fit = SimpleNamespace(evidence=SimpleNamespace(size=2, recipes=recipes))
    asked = SimpleNamespace(controls={"first_developer_time_min": time_min, "solvent_ml_per_l": solvent})
    found = _untried(fit, asked)
    assert (found and found.text) == told


def test_other_films_inform_the_first_strip():
    known = [
        simulate_series(
            demo_film(),
            [
                USUAL,
                USUAL | {"first_developer_time_min": 14.0, "solvent_ml_per_l": 4.0},
                USUAL | {"alkali_ml_per_l": 12.0},
            ],
            seed=s,
        )
        for s in (11, 12, 13)
    ]
    empty = read_series({**simulate_series(demo_film(), [], seed=1).model_dump()})
    alone, wiser = fit_film(empty), fit_film(empty, others=known)
    true = demo_film().observables(USUAL)
    for name in ("dmax", "gradient", "midtone_log_exposure"):
        miss = [
            abs(f.predict_observables(USUAL)[name].value - true[name]) / f.predict_observables(USUAL)[name].sd
            for f in (alone, wiser)
        ]
        assert miss[1] < 2.0
        assert wiser.predict_observables(USUAL)[name].sd < alone.predict_observables(USUAL)[name].sd


def of_one_way(name: str, *, blacks: float, speed: float) -> SimulatedFilm:
    """A film that dissolves and gains speed unusually easily, with its own silver and speed."""
    coordinates = demo_film().coordinates.copy()
    coordinates[[INDEX["solvent_strength"], INDEX["push"], INDEX["alkali_activity"]]] = np.log(0.2), np.log(0.5), 0.6
    coordinates[INDEX["blacks"]] += blacks
    coordinates[INDEX["speed_point"]] += speed
    return SimulatedFilm(name, 100.0, coordinates)


def test_the_first_strip_is_not_placed_for_the_kind_of_film_already_known():
    strange = simulate_film(77, spread=1.5)
    known = [
        simulate_series(strange, [USUAL, USUAL | {"first_developer_time_min": 15.0}], seed=s) for s in (21, 22, 23)
    ]
    empty = simulate_series(demo_film(), [], seed=1)
    alone, wiser = (next_strips(empty, others=others).suggestions[0] for others in ((), known))
    assert wiser.controls == alone.controls
    # But what is said of it comes from all that is known.
    assert wiser.predicted["dmax"].sd < alone.predicted["dmax"].sd
    assert wiser.predicted["dmax"] == fit_film(empty, others=known).predict_observables(wiser.controls)["dmax"]


def test_a_film_with_other_silver_is_not_led_astray_by_the_ways_of_those_known():
    recipes = [
        USUAL,
        USUAL | {"first_developer_time_min": 14.0, "solvent_ml_per_l": 16.0},
        USUAL | {"alkali_ml_per_l": 12.0},
        USUAL | {"solvent_ml_per_l": 2.0},
    ]
    known = [
        fit_film(simulate_series(of_one_way("known", blacks=0.05 * k, speed=-0.05 * k), recipes, seed=31 + k))
        for k in (-1, 0, 1)
    ]
    thin = of_one_way("thin", blacks=-0.45, speed=0.5)
    untried = (
        USUAL | {"solvent_ml_per_l": 14.0},
        USUAL | {"first_developer_time_min": 13.0},
        USUAL | {"solvent_ml_per_l": 2.0, "alkali_ml_per_l": 10.0},
    )
    for seed in (1, 2):
        own = simulate_series(thin, [USUAL], seed=seed)
        fits = fit_film(own), fit_film(own, others=known)
        for controls in untried:
            alone, wiser = (f.predict_observables(controls)["dmax"] for f in fits)
            # Known films may narrow what is believed; the truth must stay where both have it.
            assert wiser.sd < 1.1 * alone.sd
            assert wiser.low90 - 0.1 <= thin.observables(controls)["dmax"] <= wiser.high90 + 0.1


def test_shared_priors_stand_about_one_centre_one_close_and_one_wide(series, fit):
    close, ways, wide = shared_priors(fit.law, series, [fit])
    broad = broad_prior(fit.law, series)
    np.testing.assert_array_equal(close.mean, wide.mean)
    np.testing.assert_array_equal(wide.sd, broad.sd)
    silver, law_of_solvent = INDEX["blacks"], INDEX["push"]
    assert ways.sd[silver] == broad.sd[silver] and ways.mean[silver] == broad.mean[silver]
    assert ways.sd[law_of_solvent] == close.sd[law_of_solvent]
    assert np.all(close.sd <= wide.sd) and np.any(close.sd < 0.9 * wide.sd)
    assert abs(close.mean[INDEX["blacks"]] - broad.mean[INDEX["blacks"]]) > 0.01


def test_films_that_were_never_measured_suggest_nothing(series, fit):
    unread = simulate_series(demo_film(), [], seed=1)
    assert shared_priors(fit.law, series, [unread]) == []
    np.testing.assert_array_equal(fit_film(series, others=[unread]).draws, fit.draws)


@pytest.mark.parametrize(("value", "low", "high"), [(0.0, -0.1, 0.1), (0.4, -1.5, 2.0), (-2.4, -2.4, 2.6)])
def test_the_bracket_reaches_blacks_and_highlights_in_thirds_of_a_stop(value, low, high):
    shots = bracket(Estimate(value, 0.1, low, high))
    assert 5 <= len(shots) <= 13
    assert all(abs(x * 10 - round(x * 10)) < 1e-9 for x in shots)
    assert shots[0] <= max(value - 1.2, -3.0) and shots[-1] >= min(value + 1.3, 3.0)


def test_films_unlike_the_others_are_not_dragged_along():
    strange = simulate_film(77, spread=1.5)
    known = [
        simulate_series(
            strange, [USUAL, USUAL | {"first_developer_time_min": 15.0}, USUAL | {"solvent_ml_per_l": 18.0}], seed=s
        )
        for s in (21, 22, 23)
    ]
    apart = abs(strange.observables(USUAL)["dmax"] - demo_film().observables(USUAL)["dmax"])
    assert apart > 0.5
    own = simulate_series(demo_film(), [USUAL, USUAL | {"first_developer_time_min": 14.0}], seed=1)
    told, alone = (fit_film(own, others=others) for others in (known, ()))
    # Its own strips do not speak for them: what is believed is to the last figure what it is alone.
    np.testing.assert_array_equal(told.draws, alone.draws)
    # And they do speak for films like it.
    like = [simulate_series(demo_film(), [USUAL, USUAL | {"solvent_ml_per_l": 14.0}], seed=s) for s in (31, 32, 33)]
    assert 0.0 < sum(fit_film(own, others=like, draws=64).posterior.weights[3:]) <= 0.5 + 1e-9


def test_what_other_films_taught_is_heard_the_more_the_more_the_strips_speak_for_it():
    of_others = np.array([False, False, True])
    told = np.array([-3.0, -8.0, 0.0])
    shares = []
    for gained in (-5.0, 1.5, 2.0, 2.5, 80.0):
        told[2] = told[0] + gained
        weights = _bounded_share(told, of_others, _heard(told, of_others))
        assert weights.sum() == pytest.approx(1.0)
        assert weights[0] / weights[1] == pytest.approx(np.exp(5.0))
        shares.append(weights[2])
    assert shares[:2] == [0.0, 0.0] and shares[3:] == pytest.approx([0.5, 0.5])
    assert shares[2] == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (1.0, "over 99 %"),
        (0.996, "over 99 %"),
        (0.993, "99 %"),
        (0.5, "50 %"),
        (0.006, "1 %"),
        (0.004, "under 1 %"),
        (0.0, "under 1 %"),
    ],
)
def test_no_probability_is_said_to_be_certain(probability, said):
    assert percent(probability) == said


def test_the_command_never_says_certain(tmp_path, capsys):
    hopeless = {"name": "own", "dmax_min": 5.0, "highlight_density_max": 0.02, "midtone_density": 1.0}
    sure = {"name": "own", "dmax_min": 1.1, "midtone_density": 1.0}
    for aim, said in ((hopeless, "under 1 %"), (sure, "over 99 %")):
        file = tmp_path / "film.json"
        file.write_text(simulate_series(demo_film(), [USUAL], seed=1, aim=aim).model_dump_json())
        out = " ".join(run(["next", str(file)], capsys)[1].split())
        assert f"probability {said}" in out
        assert "100 %" not in out and "100%" not in out and " 0 %" not in out and " 0%" not in out


def test_the_next_strip_is_for_the_case_that_those_tried_will_not_do():
    """Three strips that words call good may all yet miss: what is proposed serves where they do, not as they do again."""
    recipes = [(14.5, 5.0, 5.0), (14.5, 6.0, 7.0), (15.0, 6.0, 8.0)]
    words = (("highlights", "clear"), ("blacks", "deep"), ("midtones", "right"))
    asked = simulate_series(demo_film(), [], seed=1).model_dump()
    limits = {"first_developer_time_min": (8, 16), "solvent_ml_per_l": (0, 6), "alkali_ml_per_l": (4, 14)}
    for name, (low, high) in limits.items():
        asked["controls"][name] |= {"low": low, "high": high}
    asked["film"]["base_density"] = 0.1
    asked["trials"] = [
        {
            "id": f"strip {k}",
            "controls": dict(zip(limits, recipe, strict=True)),
            "grades": [{"of": of, "grade": grade} for of, grade in words],
        }
        for k, recipe in enumerate(recipes)
    ]
    fit = fit_film(read_series(asked))
    aim = fit.series.aim
    miss = ~in_aim(fit.strip_observables(aim.midtone_density), aim).any(axis=1)[: len(fit.draws)]
    assert 0.5 < miss.mean() < 0.95

    def chance(controls: dict[str, float]) -> float:
        observed = fit.observed(fit.checked(controls), aim.midtone_density, repeated=True)[:, 0]
        return float(in_aim(observed, aim)[miss].mean())

    proposed = next_strips(fit.series, fit=fit).suggestions[0].controls
    assert chance(proposed) > 1.25 * max(chance(trial.controls) for trial in fit.series.trials)


def test_the_middle_of_what_is_good_is_never_worse_than_where_it_began(series):
    """Far out, where a departure is alike for any recipe, the mesh once held nothing near the best, and junk was proposed."""
    document = series.model_dump()
    for name, (low, high) in {"first_developer_time_min": (3, 20), "alkali_ml_per_l": (0, 36)}.items():
        document["controls"][name] |= {"low": low, "high": high}
    wide = read_series(document)
    search = _Search(fit_film(wide, draws=512), wide.aim)
    nothing = np.zeros(len(search.still))
    for corner in np.array(list(product(*[sorted({0, int(n)}) for n in search.grid.count]))):
        taken = search._middle(corner, nothing, set())
        began, rests = search._chances(np.stack([corner, taken]), nothing, 512)
        assert rests >= began - as_good(began) - 1e-12
        assert np.all(away(search.grid, search.fit.law, taken[None], corner) < 2.0**2)


def with_misses(count: int, *, read: bool = True) -> _Search:
    """A search after so many strips by one recipe that plainly missed, and one elsewhere that did too."""
    flat = USUAL | {"first_developer_time_min": 4.0}
    asked = simulate_series(demo_film(), [flat] * count + [flat | {"alkali_ml_per_l": 16.0}], seed=4).model_dump()
    if not read:
        asked["trials"] = [trial | {"steps": []} for trial in asked["trials"]]
    made = read_series(asked)
    return _Search(fit_film(made, draws=256), made.aim)


def test_a_belief_counts_the_less_the_more_strips_missed_just_there():
    search = with_misses(3)
    assert search.missed.min() > 0.99
    there = search.grid.index(search.fit.evidence.recipes[search.fit.evidence.rows][[0, 3]])
    far = search.grid.index(search.fit.checked(USUAL | {"first_developer_time_min": 16.0, "solvent_ml_per_l": 0.0}))
    left = search._unlike_misses(np.concatenate([there, far]))
    # Three misses and one, each as one strip, against what counts as two.
    assert left == pytest.approx([2 / 5, 2 / 3, 1.0], abs=0.02)
    # Where many were made the belief stands on them: more than three count as three.
    assert with_misses(5)._unlike_misses(there)[0] == pytest.approx(2 / 5, abs=1e-9)
    # A strip that nobody looked at speaks against nothing.
    np.testing.assert_array_equal(with_misses(3, read=False)._unlike_misses(there), 1.0)


def test_a_strip_is_proposed_away_from_recipes_that_missed_again_and_again(monkeypatch):
    """Three neighbours are a little too hard: another neighbour would be right by luck alone, and teach nothing."""
    there = demo_film().observables(USUAL)
    recipes = [USUAL, USUAL | {"first_developer_time_min": 10.5}, USUAL | {"alkali_ml_per_l": 5.5}]
    asked = simulate_series(demo_film(), recipes, seed=5).model_dump()
    asked["aim"] |= {
        "dmax_min": there["dmax"] - 0.1,
        "highlight_density_max": there["highlight_density"] + 0.05,
        "gradient_min": there["gradient"] - 0.5,
        "gradient_max": there["gradient"] - 0.08,
        "midtone_log_exposure_min": there["midtone_log_exposure"] - 0.1,
        "midtone_log_exposure_max": there["midtone_log_exposure"] + 0.1,
    }
    fit = fit_film(read_series(asked), draws=512)

    def steps_away() -> float:
        search = _Search(fit, fit.series.aim)
        setting = search.choose(1)[0][0]
        return float(np.linalg.norm(fit.law.positions(setting) - search.made, axis=1).min())

    assert steps_away() > 2 * NEAR
    monkeypatch.setattr("obverse.inference.suggest.BELIEF_AGAINST_MISSES", 1e9)
    assert steps_away() < NEAR


def test_a_first_strip_is_told_by_what_came_true_and_chosen_by_what_is_believed(monkeypatch):
    empty = simulate_series(demo_film(), [], seed=1)
    fit = fit_film(empty)
    answer = next_strips(empty, fit=fit)
    told, aim = answer.suggestions[0], empty.aim
    observed, weight = recipe_draws(fit, fit.checked(told.controls), aim)
    good = in_aim(observed[:, 0], aim)
    # In the belief that its aim can be met.
    assert 1.3 * good.mean() < (believed := float(weight @ good)) < MEANT_TO_BE_MET * good.mean()
    assert told.probability_in_aim == pytest.approx(recipe_chance(fit, told.controls), abs=1e-12)
    assert believed < 0.2 and 1.8 * believed < told.probability_in_aim < 3.5 * believed
    assert told.gain > told.probability_in_aim
    as_good_then = [one.controls for one in answer.as_good.recipes]
    assert answer.as_good.holds(told.probability_in_aim) and answer.as_good.from_percent > 100 * believed
    assert answer.message.endswith("Its chance is told by how often such strips came true on invented films.")
    # The page tells the same, and of a bound too what came true: no bound is kept less often than all of them.
    shown = what_if(fit, told.controls)
    assert shown.probability_in_aim == pytest.approx(told.probability_in_aim, abs=1e-12)
    deep = float(weight @ (observed[:, 0, OBSERVABLES.index("dmax")] >= aim.dmax_min))
    assert shown.seen["dmax"].probability == pytest.approx(float(recipes_as_told(fit, np.array(deep), aim)))
    assert all(one.probability is None or one.probability >= shown.probability_in_aim for one in shown.seen.values())
    # Told otherwise, the same strip is proposed, and the same are as good.
    monkeypatch.setitem(FIRST, "shift", 0.0)
    monkeypatch.setitem(FIRST, "slope", 1.0)
    monkeypatch.setattr("obverse.inference.suggest.learned_part", lambda fit, reachable: 0.4)
    again = next_strips(empty, fit=fit)
    assert again.suggestions[0].controls == told.controls
    assert again.suggestions[0].probability_in_aim == pytest.approx(believed)
    assert again.suggestions[0].gain < told.gain < 1 and again.message.endswith("and will teach the most.")
    assert [one.controls for one in again.as_good.recipes] == as_good_then


def belief(
    strips: int = 0, weights: tuple[float, ...] = (0.5, 0.3, 0.2), words: tuple[str, ...] = ()
) -> SimpleNamespace:
    return SimpleNamespace(
        evidence=SimpleNamespace(has_readings=np.ones(strips, dtype=bool), grades=words),
        posterior=SimpleNamespace(weights=weights),
    )


def test_before_any_strip_chances_are_told_as_such_came_true():
    believed = np.array([0.0, 0.01, 0.05, 0.12, 0.2, 0.5, 0.9, 1.0])
    told = as_told(belief(), believed, 0.3)
    # By hand: odds of 0.05 are 1 to 19, their logarithm -2.94; 0.52 and three quarters of that are -1.69, or 0.156.
    np.testing.assert_allclose(told, [0, 0.0509, 0.1560, 0.2741, 0.3729, 0.6271, 0.8973, 1], atol=6e-4)


@pytest.mark.parametrize(
    ("fit", "reachable", "part"),
    [
        (belief(), 0.2, 1.0),
        (belief(), 0.1, 0.5),
        (belief(), 0.0, 0.0),
        # Half of it is what other films taught.
        (belief(weights=(0.2, 0.2, 0.1, 0.5)), 0.9, 0.5),
        (belief(strips=1), 0.9, 0.0),
        (belief(words=("murky",)), 0.9, 0.0),
    ],
)
def test_where_nothing_was_learned_the_belief_is_told(fit, reachable, part):
    assert learned_part(fit, reachable) == pytest.approx(part)
    told = float(as_told(fit, np.array(0.12), reachable))
    assert told == 0.12 if part == 0 else 0.12 < told <= 0.275
    assert part != 0.5 or 0.17 < told < 0.21


@pytest.mark.parametrize(
    ("base", "asked", "told"),
    [(None, {"highlight_density_max": 0.3}, True), (0.18, {"highlight_density_max": 0.3}, False), (None, {}, False)],
)
def test_a_base_that_leaves_open_whether_a_strip_is_good_is_asked_for(base, asked, told):
    document = simulate_series(demo_film(), [USUAL], seed=4).model_dump()
    document["film"]["base_density"] = base
    document["aim"] = {"name": "one bound", "dmax_min": 1.5, "midtone_density": 1.0} | asked
    codes = {caution.code for caution in next_strips(read_series(document)).cautions}
    assert ("notebook.base_unmeasured" in codes) is told
