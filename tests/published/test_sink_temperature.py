"""Temperature and rinsing of the plan against the published records of the reference.

Sources: Ferguson & Howard 1905 and Sheppard & Mees by a wikibook (record temp.law, temp.example.*);
first-developer tables of two reversal processes of the 1930s (q10-1938, q10-bookA); geometric
dilution and the retained volume of a 135-36 film (wash.formula, wash.retained, wash.example).
"""

import math

import pytest

from obverse.process.catalog import formulas, routes
from obverse.reference import number, record
from obverse.run import compensated_time_s, kappa_per_c, plan_run


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


def test_ten_minutes_at_20_c_lie_between_the_examples_of_q10_2_and_3_at_24_c():
    time = compensated_time_s(600, 20, 24)
    assert number("temp.example.Q3.0") < time.value / 60 < number("temp.example.Q2.0")
    # Either example lies within two and a half standard uncertainties: kappa is no better known than that.
    for key in ("temp.example.Q2.0", "temp.example.Q2.5", "temp.example.Q3.0"):
        assert abs(number(key) - time.value / 60) < 2.5 * time.sd / 60, key


@pytest.mark.parametrize("key", ["q10-1938", "q10-bookA"])
def test_published_first_developer_times_are_met_within_the_uncertainty(key):
    table = record(key).inputs
    at = [celsius(f) for f in table["F"]]
    middle = len(at) // 2
    for temperature, minutes in zip(at, table["min"], strict=True):
        told = compensated_time_s(60 * table["min"][middle], at[middle], temperature)
        # The tables are rounded to a quarter of a minute and to half a minute.
        assert abs(told.value / 60 - minutes) < 2 * told.sd / 60 + 0.5, (key, temperature)


def test_kappa_is_the_mean_of_the_tables():
    logs = [
        math.log(record(k).value[f]) / 10
        for k, f in (("q10-1938", "Q10_least_squares"), ("q10-bookA", "Q10_least_squares"), ("ives-temp-coeff", "Q10"))
    ]
    assert kappa_per_c().value == pytest.approx(sum(logs) / 3)
    assert kappa_per_c().sd >= (max(logs) - min(logs)) / 2


def test_the_rinse_of_the_plan_by_the_worked_example():
    plan = plan_run(routes()["iron_ammonia_light"], formulas(), tank_ml=record("wash.example").inputs["V"])
    shares = [a.carry_over for a in plan.actions if a.key.startswith("dissolving.rinse")]
    start = record("wash.example").inputs["c0"]
    assert [start * s for s in shares] == pytest.approx(record("wash.example").value, rel=0.01)


def test_the_sequence_of_turns_is_that_of_common_practice():
    plan = plan_run(routes()["iron_ammonia_light"], formulas(), tank_ml=500)
    turns = [a.fill.turns for a in plan.actions if a.fill is not None and a.key.startswith("first_development.rinse")]
    assert turns == record("wash.sequence").value
