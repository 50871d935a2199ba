"""The series document: what it accepts, what it refuses and in which words."""

import copy

import pytest

from obverse.foundation import InputError
from obverse.process import AIMS, CONTROLS, named_aim, read_series

GOOD = {
    "format": "obverse-series",
    "version": 1,
    "film": {"name": "a 100-speed grey-base film", "box_speed": 100, "base_density": 0.25},
    "controls": {"first_developer_time_min": {"unit": "min", "low": 6, "high": 16, "step": 0.5}},
    "aim": "projection",
    "trials": [
        {
            "id": "strip 1",
            "controls": {"first_developer_time_min": 10},
            "steps": [{"log_exposure": 0, "density": 1.1, "density_sd": 0.02}, {"log_exposure": 0.3, "density": 0.8}],
            "grades": [{"of": "highlights", "grade": "murky"}],
            "faults": ["ghost_negative"],
        }
    ],
}


def changed(path, value):
    data = copy.deepcopy(GOOD)
    at = data
    for part in path[:-1]:
        at = at[part]
    if value is None:
        del at[path[-1]]
    else:
        at[path[-1]] = value
    return data


def test_a_good_document_is_read_and_writes_itself_back():
    series = read_series(GOOD)
    assert AIMS["projection"] == series.aim
    assert series == read_series(series.model_dump(mode="json"))


def test_a_named_aim_and_its_windows_are_the_same_aim():
    windows = AIMS["projection"].model_dump(mode="json")
    assert read_series(GOOD).aim == read_series(changed(["aim"], windows)).aim


@pytest.mark.parametrize(
    ("path", "value", "part"),
    [
        (["format"], "something", "format"),
        (["version"], 2, "version"),
        (["film", "box_speed"], -100, "box_speed"),
        (["controls"], {}, "controls"),
        (["controls", "colour"], {"low": 0, "high": 1, "step": 1}, "colour"),
        (["controls", "first_developer_time_min", "step"], 0, "step"),
        (["controls", "first_developer_time_min", "high"], 2, "above high"),
        (["controls", "first_developer_time_min", "step"], 1e-9, "too fine"),
        (["aim"], "cinema", "cinema"),
        (["trials", 0, "steps", 0, "density"], None, "trials[0].steps[0].density"),
        (["trials", 0, "steps", 0, "density"], float("nan"), "density"),
        (["trials", 0, "steps", 0, "density_sd"], 0, "density_sd"),
        (["trials", 0, "controls", "first_developer_time_min"], -1, "negative"),
        (["trials", 0, "controls"], {"magic": 1}, "magic"),
        (["trials", 0, "grades", 0, "grade"], "lovely", "lovely"),
        (["trials", 0, "faults"], ["bad luck"], "bad luck"),
        (["trials"], [GOOD["trials"][0]] * 2, "twice"),
    ],
)
def test_each_fault_is_named_in_one_sentence(path, value, part):
    with pytest.raises(InputError) as caught:
        read_series(changed(path, value), where="demo.json")
    assert part in caught.value.sentence
    assert caught.value.sentence.startswith("demo.json: ")
    assert "\n" not in caught.value.sentence


def test_an_aim_that_contradicts_itself_is_refused():
    for windows in (
        {"gradient_min": 2, "gradient_max": 1},
        {"midtone_log_exposure_min": 1, "midtone_log_exposure_max": 0},
        {"dmax_min": 0.9},
    ):
        with pytest.raises(InputError):
            read_series(changed(["aim"], windows))


def test_an_unknown_aim_name_lists_the_known_ones():
    with pytest.raises(InputError, match="projection, light_table, scan"):
        named_aim("cinema")


def test_every_control_has_a_range_and_a_resting_value_inside_it():
    for key, control in CONTROLS.items():
        assert control.key == key
        assert control.sensible[0] <= control.low <= control.reference <= control.high <= control.sensible[1]
        assert control.least <= control.sensible[0]
