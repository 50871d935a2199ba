"""Whatever a valid series holds, the notebook answers by the contract: no crash, no warning, no NaN."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from obverse.inference import next_strips
from obverse.process import CONTROLS, FAULTS, GRADES, read_series

pytestmark = pytest.mark.usefixtures("few_draws")

LIMITS = {
    "first_developer_time_min": (0.5, 60, 0.25),
    "solvent_ml_per_l": (0, 80, 0.5),
    "alkali_ml_per_l": (0, 60, 0.5),
    "temperature_c": (12, 30, 0.5),
    "developer_parts_water": (1, 50, 1),
}


@st.composite
def series(draw):
    names = draw(st.lists(st.sampled_from(list(CONTROLS)), min_size=1, unique=True))
    controls = {}
    for name in names:
        low, high, step = LIMITS[name]
        a, b = sorted(draw(st.tuples(st.floats(low, high), st.floats(low, high))))
        controls[name] = {"unit": "", "low": a, "high": b, "step": step}
    trials = []
    for j in range(draw(st.integers(0, 4))):
        done = {
            name: draw(st.floats(*LIMITS[name][:2]))
            for name in draw(st.lists(st.sampled_from(list(CONTROLS)), unique=True))
        }
        steps = draw(
            st.lists(
                st.fixed_dictionaries(
                    {"log_exposure": st.floats(-10, 10), "density": st.floats(-0.5, 6)},
                    optional={"density_sd": st.floats(1e-4, 3)},
                ),
                max_size=12,
            )
        )
        grades = [
            {"of": of, "grade": draw(st.sampled_from(GRADES[of]))}
            for of in draw(st.lists(st.sampled_from(sorted(GRADES)), unique=True))
        ]
        faults = draw(st.lists(st.sampled_from(FAULTS), max_size=3, unique=True))
        sds = {
            name: draw(st.floats(0, 5))
            for name in draw(st.lists(st.sampled_from(list(CONTROLS)), max_size=2, unique=True))
        }
        trials.append(
            {"id": str(j), "controls": done, "control_sds": sds, "steps": steps, "grades": grades, "faults": faults}
        )
    aim = draw(
        st.one_of(
            st.sampled_from(["projection", "light_table", "scan"]),
            st.fixed_dictionaries(
                {"name": st.just("own")},
                optional={
                    "highlight_density_max": st.floats(0, 5),
                    "gradient_max": st.floats(0, 10),
                    "midtone_density": st.floats(0.05, 4),
                    "midtone_log_exposure_min": st.floats(-5, 5),
                },
            ),
        )
    )
    return {
        "format": "obverse-series",
        "version": 1,
        "film": {"name": "any", "box_speed": 100, "base_density": draw(st.one_of(st.none(), st.floats(0, 1.5)))},
        "controls": controls,
        "aim": aim,
        "trials": trials,
    }


@settings(max_examples=7, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(series(), st.integers(1, 3))
def test_any_valid_series_is_answered(document, count):
    answer = next_strips(read_series(document), count=count).document()
    json.dumps(answer, allow_nan=False)
    assert 1 <= len(answer["suggestions"]) <= count
    for suggestion in answer["suggestions"]:
        for name, value in suggestion["controls"].items():
            assert document["controls"][name]["low"] - 1e-6 <= value <= document["controls"][name]["high"] + 1e-6
        assert 0 <= suggestion["probability_in_aim"] <= 1
        assert all(e["low90"] <= e["value"] <= e["high90"] for e in suggestion["predicted"].values())
    # A strip that nobody read or judged is not the best of any.
    seen = any(trial["steps"] or trial["grades"] or trial["faults"] for trial in document["trials"])
    assert (answer["best_trial"] is not None) == seen
    if seen:
        assert 0 <= answer["best_trial"]["probability_in_aim"] <= 1
