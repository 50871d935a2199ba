"""Density, speeds, tablets against published and remembered figures (records named)."""

import math

import numpy as np
import pytest

from obverse.foundation import InputError, Standing
from obverse.reference import number, record
from obverse.sensitometry import (
    fit_curve,
    metered_exposure_lx_s,
    projection_density,
    speed_reversal,
    stops_to_log_exposure,
)
from obverse.sensitometry.speed import MID_CURVE_STANDING


def test_callier():
    row = record("callier-def")
    assert row.inputs["D_spec"] == pytest.approx(float(projection_density(row.inputs["D_diff"], row.value)))
    with pytest.raises(InputError, match="below 1"):
        projection_density(1.0, 0.9)


def test_mid_curve_worked_case():
    # Computed on remembered rules (record iso2240-ex): D 0.35 at -0.40, D 2.15 at -1.40, Dmin 0.15.
    row = record("iso2240-ex")
    assert row.value["S"] == pytest.approx(speed_reversal(row.value["logHm"]), abs=row.within["S"])
    assert Standing.FROM_MEMORY is MID_CURVE_STANDING, "the points of the rule are from memory and stay so"


def test_mid_curve_speed_of_a_fitted_curve_is_that_of_its_two_points():
    """A logistic through both points of the worked case; the log exposures are then absolute."""
    # 2.15 is passed at -1.40 and 0.35 at -0.40 over Dmin 0.15 and range 3.4: z = ln(share / (1 - share)).
    share = np.array([1 - 2.0 / 3.4, 1 - 0.2 / 3.4])
    z = np.log(share / (1 - share))
    width = 1.0 / (z[1] - z[0])
    middle = -1.40 - width * z[0]
    x = np.linspace(-3, 1, 41)
    curve = fit_curve(x, 0.15 + 3.4 / (1 + np.exp((x - middle) / width)), np.full(41, 0.005), base_density=0.1)
    assert record("iso2240-ex").value["logHm"] == pytest.approx(curve.speed_point_log_exposure.value, abs=0.01)
    # Log exposure relative to the metered mid-tone 8.125 / S of a box speed S: the speed moves with it.
    assert 10 / (8.125 / 100 * 10**-0.9) == pytest.approx(curve.reversal_speed(100).value, rel=0.03)


def test_metered_exposure_and_the_offset_of_the_reversal_point():
    row = record("expo-Hg-table")
    assert row.value == pytest.approx(
        [metered_exposure_lx_s(s) for s in row.inputs["S"]], rel=0.02
    )  # 8/S is the rounded 8.125/S
    # The record gives 10/S against 8/S; against 8.125/S it is less by log10(8.125/8).
    assert record("expo-rev-offset").value["dlogH"] == pytest.approx(
        math.log10(speed_reversal(math.log10(metered_exposure_lx_s(1.0)))) + math.log10(8.125 / 8), abs=1e-6
    )


def test_a_stop_is_0_301():
    stop, third, _ = record("stop-log").value
    assert stop == pytest.approx(stops_to_log_exposure(1), abs=1e-5)
    assert third == pytest.approx(stops_to_log_exposure(1 / 3), abs=1e-5)


def test_the_usual_cures_are_marked_as_practice():
    assert (1.0, 2.0) == (number("table.first_cure_exposure"), number("table.second_cure_time"))
    assert Standing.COMMON_PRACTICE is record("table.first_cure_exposure").source.standing
