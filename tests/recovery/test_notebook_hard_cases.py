"""Little, odd or contradictory evidence: sensible answers, no crash, no false certainty."""

from __future__ import annotations

import json

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.inference import fit_film, next_strips
from obverse.model import demo_film, simulate_film, simulate_series, simulate_trial
from obverse.process import Grade, Patch, Series, Trial, read_series

FIVE = {
    "first_developer_time_min": {"unit": "min", "low": 4, "high": 20, "step": 0.5},
    "solvent_ml_per_l": {"unit": "mL/L", "low": 0, "high": 30, "step": 1},
    "alkali_ml_per_l": {"unit": "mL/L", "low": 0, "high": 20, "step": 1},
    "temperature_c": {"unit": "C", "low": 18, "high": 24, "step": 0.5},
    "developer_parts_water": {"unit": "parts", "low": 5, "high": 25, "step": 1},
}
THREE = {name: FIVE[name] for name in list(FIVE)[:3]}
USUAL = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}


def series(*trials: Trial, controls=THREE, base: float | None = 0.27, aim="projection") -> Series:
    return read_series(
        {
            "format": "obverse-series",
            "version": 1,
            "film": {"name": "invented", "box_speed": 100, "base_density": base},
            "controls": controls,
            "aim": aim,
            "trials": [t.model_dump() for t in trials],
        }
    )


def check_contract(document: dict, controls: dict, count: int) -> None:
    """Contract 2, in full: JSON, limits, tool steps, probabilities, intervals."""
    json.dumps(document, allow_nan=False)
    assert document["status"] in ("try", "ready")
    assert len(document["suggestions"]) == count
    for s in document["suggestions"]:
        assert set(s["controls"]) == set(controls)
        for name, value in s["controls"].items():
            lim = controls[name]
            assert lim["low"] <= value <= lim["high"]
            steps = (value - lim["low"]) / lim["step"]
            assert abs(steps - round(steps)) < 1e-6
        assert 0 <= s["probability_in_aim"] <= 1
        assert set(s["predicted"]) == {"dmax", "highlight_density", "gradient", "midtone_log_exposure"}
        for e in s["predicted"].values():
            assert e["low90"] <= e["value"] <= e["high90"]
        assert s["reason"].endswith(".") and s["reason"].count("\n") == 0
        assert len(s["log_exposures"]) >= 5
    if document["best_trial"] is not None:
        assert set(document["best_trial"]) >= {"id", "in_aim", "probability_in_aim"}


def fitted(asked: Series, draws: int = 1024):
    """A quarter of the draws of a film of so few strips: what is told here is told with wide limits."""
    return fit_film(asked, draws=draws)


def contract_of(asked: Series, controls: dict = THREE) -> None:
    """What is answered keeps the contract, with however few draws: here with an eighth."""
    check_contract(next_strips(asked, fit=fitted(asked, 512)).document(), controls, 1)


def test_nothing_tried_yet():
    answer = next_strips(series(), count=3)
    check_contract(answer.document(), THREE, 3)
    assert answer.status == "try" and answer.best_trial is None
    assert all(s.probability_in_aim < 0.5 for s in answer.suggestions)
    assert len({tuple(s.controls.values()) for s in answer.suggestions}) == 3
    # That the same is answered twice is held in the properties.


@pytest.mark.parametrize(
    "names",
    [["temperature_c"], ["first_developer_time_min"], ["solvent_ml_per_l", "developer_parts_water"], list(FIVE)],
)
def test_any_subset_of_controls(names):
    controls = {name: FIVE[name] for name in names}
    strip = simulate_trial(demo_film(), USUAL, id="a", seed=3)
    # All five at once and no strip at all takes as long as all the others together; it is asked of one.
    for strips in ([], [strip]) if names == ["temperature_c"] else ([strip],):
        contract_of(series(*strips, controls=controls), controls)


def test_a_control_that_cannot_move():
    fixed = {"first_developer_time_min": {"unit": "min", "low": 10, "high": 10, "step": 0.5}}
    answer = next_strips(series(controls=fixed), count=2)
    assert [s.controls for s in answer.suggestions] == [{"first_developer_time_min": 10.0}]


def test_three_readings_teach_but_do_not_convince():
    film = demo_film()
    one = simulate_trial(film, USUAL, id="a", seed=4, log_exposure=np.array([-1.5, 0.0, 0.8]))
    before, after = fit_film(series()), fitted(series(one))
    for name, e in after.predict_observables(USUAL).items():
        assert e.sd < before.predict_observables(USUAL)[name].sd
    answer = next_strips(series(one), fit=after)
    check_contract(answer.document(), THREE, 1)
    assert answer.status == "try"


def test_two_readings_without_base_density():
    one = simulate_trial(demo_film(), USUAL, id="a", seed=4, log_exposure=np.array([-1.5, 0.8]))
    contract_of(series(one, base=None))


def test_the_eye_teaches_direction_without_certainty():
    murky = Trial(
        id="a", controls=USUAL, grades=(Grade(of="highlights", grade="murky"), Grade(of="blacks", grade="deep"))
    )
    clear = Trial(
        id="a", controls=USUAL, grades=(Grade(of="highlights", grade="clear"), Grade(of="blacks", grade="thin"))
    )
    fits = {name: fitted(series(trial)) for name, trial in (("murky", murky), ("clear", clear))}
    told = {name: fit.predict_observables(USUAL) for name, fit in fits.items()}
    assert told["murky"]["highlight_density"].value > told["clear"]["highlight_density"].value + 0.05
    assert told["murky"]["dmax"].value > told["clear"]["dmax"].value + 0.3
    answer = next_strips(series(murky), fit=fits["murky"])
    check_contract(answer.document(), THREE, 1)
    assert answer.status == "try"
    assert any(c.code == "notebook.eyes_only" for c in answer.cautions)


def test_all_good_grades_make_likely_not_certain():
    good = [
        Grade(of="highlights", grade="clear"),
        Grade(of="blacks", grade="deep"),
        Grade(of="midtones", grade="right"),
        Grade(of="contrast", grade="right"),
    ]
    whole, less = (series(Trial(id="a", controls=USUAL, grades=tuple(good[:few]))) for few in (4, 3))
    answer, unsaid = (next_strips(asked, fit=fitted(asked)) for asked in (whole, less))
    assert 0.05 < answer.best_trial.probability_in_aim < 0.95
    # Without a word about its contrast the same strip is less likely, and the person is told what is missing.
    assert unsaid.best_trial.probability_in_aim < 0.7 * answer.best_trial.probability_in_aim
    told = [{c.code: c.text for c in said.cautions}.get("notebook.contrast_unsaid") for said in (answer, unsaid)]
    assert told[0] is None and "strip a nobody has said whether its contrast is flat" in told[1]


def test_contradictory_strips_widen_what_is_believed():
    film = demo_film()
    honest = [simulate_trial(film, USUAL, id=f"s{j}", seed=j) for j in range(2)]
    other = simulate_trial(simulate_film(12), USUAL, id="other", seed=9)
    lied = Trial(
        id="lie",
        controls=USUAL,
        steps=tuple(Patch(log_exposure=p.log_exposure, density=max(0.3, p.density - 0.9)) for p in honest[0].steps),
    )
    clear, muddled = fitted(series(*honest)), fitted(series(honest[0], lied))
    sd = [f.predict_observables(USUAL)["dmax"].sd for f in (clear, muddled)]
    assert sd[1] > 1.3 * sd[0]
    contract_of(series(honest[0], lied, other))


# One for each way in which a fault is heard: its own direction (three), a colour, a word about the strip, and none of these.
HEARD = (
    "ghost_negative",
    "incomplete_second_development",
    "underexposed",
    "stain",
    "thin_blacks",
    "light_leak",
)


@pytest.mark.parametrize("fault", HEARD)
def test_every_kind_of_fault_alone_is_understood(fault):
    bare = Trial(id="a", controls=USUAL, faults=(fault,))
    contract_of(series(bare))


def test_all_strips_ruined():
    flat = [
        Trial(
            id=f"r{j}",
            controls=USUAL,
            steps=tuple(Patch(log_exposure=x, density=0.27) for x in np.linspace(-2, 2, 9)),
            faults=("light_leak", "frilling"),
        )
        for j in range(3)
    ]
    answer = next_strips(series(*flat), fit=fitted(series(*flat)))
    check_contract(answer.document(), THREE, 1)
    assert answer.status == "try"
    assert answer.best_trial.probability_in_aim < 0.5


def ghosted(trial: Trial, ghost: float) -> Trial:
    """The same strip with silver left where the first developer made it, and the fault noted."""
    x = np.array([p.log_exposure for p in trial.steps])
    extra = ghost / (1 + np.exp(-(x - 0.1) / 0.25))
    steps = tuple(
        Patch(log_exposure=p.log_exposure, density=p.density + float(e), density_sd=p.density_sd)
        for p, e in zip(trial.steps, extra, strict=True)
    )
    return trial.model_copy(update={"steps": steps, "faults": ("ghost_negative",)})


def test_a_ghost_does_not_mislead_about_the_first_developer():
    film, controls = demo_film(), USUAL
    strip = simulate_trial(film, controls, id="a", seed=5)
    true = film.observables(controls)
    noted = fitted(series(ghosted(strip, 0.5))).predict_observables(controls)
    unnoted = fitted(series(ghosted(strip, 0.5).model_copy(update={"faults": ()}))).predict_observables(controls)
    before = fit_film(series()).predict_observables(controls)
    assert noted["dmax"].low90 <= true["dmax"] <= noted["dmax"].high90
    assert noted["dmax"].sd < 0.4 * before["dmax"].sd
    assert noted["highlight_density"].low90 <= true["highlight_density"] <= noted["highlight_density"].high90
    assert unnoted["highlight_density"].value > true["highlight_density"] + 0.1


def test_an_incomplete_second_development_still_teaches_shape():
    film = demo_film()
    strip = simulate_trial(film, USUAL, id="a", seed=6)
    weak = strip.model_copy(
        update={
            "steps": tuple(
                Patch(log_exposure=p.log_exposure, density=0.27 + 0.8 * max(p.density - 0.27, 0), density_sd=0.02)
                for p in strip.steps
            ),
            "faults": ("incomplete_second_development",),
        }
    )
    fit = fitted(series(weak))
    predicted, true = fit.predict_observables(USUAL), film.observables(USUAL)
    assert predicted["dmax"].low90 <= true["dmax"] <= predicted["dmax"].high90
    assert (
        predicted["midtone_log_exposure"].low90
        <= true["midtone_log_exposure"]
        <= predicted["midtone_log_exposure"].high90
    )


def test_an_aim_out_of_reach_is_said_so():
    aim = {"name": "own", "dmax_min": 4.5, "highlight_density_max": 0.05, "midtone_density": 1.0}
    strips = simulate_series(demo_film(), [USUAL, USUAL | {"first_developer_time_min": 14.0}], seed=2).trials
    asked = series(*strips, aim=aim)
    answer = next_strips(asked, fit=fitted(asked))
    assert answer.reachable < 0.05
    assert "cannot reach this aim" in answer.message and "foretold at dmax" in answer.message
    assert answer.in_the_way is None and "More than one bound" in answer.message


def test_the_bound_that_stands_in_the_way_is_named_with_what_would_do():
    aim = {"name": "own", "dmax_min": 2.0, "highlight_density_max": 0.015, "midtone_density": 1.0}
    strips = simulate_series(demo_film(), [USUAL, USUAL | {"first_developer_time_min": 14.0}], seed=2).trials
    asked = series(*strips, aim=aim)
    answer = next_strips(asked, fit=fitted(asked))
    way = answer.in_the_way
    assert way is not None and (way.observable, way.sense, way.limit) == ("highlight_density", "at most", 0.015)
    assert way.would_do > 0.1 and way.sentence() in answer.message
    # What is said to do, does: with that bound the aim is within reach.
    eased = aim | {"highlight_density_max": round(way.would_do + 0.005, 3)}
    asked = series(*strips, aim=eased)
    assert next_strips(asked, fit=fitted(asked)).reachable > 0.5
    assert answer.document()["in_the_way"]["would_do"] == way.would_do


def test_large_errors_of_the_bench_lower_the_chance_of_repeating():
    made = simulate_series(demo_film(), [USUAL | {"first_developer_time_min": 13.5}], seed=2).trials[0]
    rough = made.model_copy(update={"control_sds": {"temperature_c": 2.0, "first_developer_time_min": 1.5}})
    careful = made.model_copy(update={"control_sds": {"temperature_c": 0.1, "first_developer_time_min": 0.05}})
    chance = [
        next_strips(one, fit=fitted(one)).best_trial.probability_repeated for one in (series(rough), series(careful))
    ]
    assert chance[0] < chance[1] - 0.1


@pytest.mark.parametrize("count", [0, 13])
def test_an_impossible_count_is_refused(count):
    with pytest.raises(InputError, match="strips at once"):
        next_strips(series(), count=count)
