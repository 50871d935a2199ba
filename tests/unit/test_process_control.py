"""Controls: their words, their errors, and arrays with named columns."""

from __future__ import annotations

import math

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.process import ALKALI, CONTROLS, DILUTION, SOLVENT, TEMPERATURE, TIME, ControlVector


def test_a_value_is_told_with_its_unit_and_number():
    assert TIME.text(10) == "first development 10 min"
    assert DILUTION.text(15) == "dilution 1 + 15"
    assert DILUTION.short_text(15) == "1+15"
    assert DILUTION.amount(1) == "1 part of water"
    assert DILUTION.amount(2) == "2 parts of water"
    assert SOLVENT.amount(1) == "1 mL/L"


def test_a_change_is_told_by_its_direction():
    assert SOLVENT.change(2) == "more solvent by 2 mL/L"
    assert SOLVENT.change(-0.5) == "less solvent by 0.5 mL/L"
    assert TEMPERATURE.change(-1) == "cooler by 1 °C"


def test_settings_are_told_in_the_order_of_the_controls():
    settings = {"developer_parts_water": 9.0, "first_developer_time_min": 8.5}
    assert CONTROLS.text(settings) == "first development 8.5 min, dilution 1 + 9"
    assert CONTROLS.short_text(settings) == "8.5 min · 1+9"


def test_a_dose_errs_by_the_tool_and_in_proportion_and_not_at_all_where_it_is_left_out():
    tool, share = 0.1, 0.03  # a syringe's mark; the strength of the bottle
    for control in (SOLVENT, ALKALI):
        np.testing.assert_allclose(
            control.dosing.sd([0.0, 1.0, 20.0]), [0.0, math.hypot(tool, share), math.hypot(tool, 20 * share)]
        )
    assert TEMPERATURE.dosing.sd(0.0) > 0
    assert TIME.dosing.sd(0.0) == 0


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"sugar_g": 1}, "unknown control 'sugar_g'; the model knows first_developer_time_min, "),
        ({"solvent_ml_per_l": -1}, "solvent_ml_per_l cannot be negative (-1)"),
        ({"alkali_ml_per_l": math.nan}, "alkali_ml_per_l is not a number (nan)"),
    ],
)
def test_what_cannot_be_is_told(settings, said):
    assert CONTROLS.problem(settings).startswith(said)


def test_below_freezing_is_cold_but_a_number():
    assert CONTROLS.problem({"temperature_c": -1, "solvent_ml_per_l": 0}) == ""


def test_columns_have_names():
    strips = ControlVector.of([{}, {"solvent_ml_per_l": 3}])
    assert strips.values.shape == (2, len(CONTROLS))
    np.testing.assert_array_equal(strips[SOLVENT], [SOLVENT.reference, 3])
    np.testing.assert_array_equal(strips[TIME], [TIME.reference, TIME.reference])
    strips[TIME] = [4, 5]
    assert ControlVector(strips.values[1]).settings() == {
        **CONTROLS.reference(),
        "first_developer_time_min": 5.0,
        "solvent_ml_per_l": 3.0,
    }


def test_no_strips_have_no_rows():
    assert ControlVector.of([]).values.shape == (0, len(CONTROLS))
    assert ControlVector.of([]).dosing_sd().shape == (0, len(CONTROLS))


def test_an_unknown_name_makes_no_column():
    with pytest.raises(InputError, match="unknown control 'sugar_g'"):
        ControlVector.of({"sugar_g": 1.0})


def test_equal_steps_on_an_axis_are_equal_ratios_of_time_and_of_concentrate():
    on = ControlVector.of([{"first_developer_time_min": t, "developer_parts_water": n} for t, n in ((5, 7), (10, 15))])
    steps = ControlVector(on.steps())
    assert steps[TIME][1] - steps[TIME][0] == pytest.approx(math.log(2) / TIME.axis_step)
    assert steps[DILUTION][1] - steps[DILUTION][0] == pytest.approx(math.log(2) / DILUTION.axis_step)


def test_no_step_is_taken_where_the_model_is_quoted_and_small_doses_hardly_count_by_ratio():
    at = ControlVector([[control.quoted_at for control in CONTROLS.values()]])
    np.testing.assert_allclose(at.steps(), 0.0, atol=1e-15)
    none, little, much = SOLVENT.steps([0.0, 0.1, 20.0])
    assert 0 < little - none < 0.1 * (much - none)
