"""The fitted curve: falls, is smooth, survives outliers and bad input, says what it does not know."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.foundation import Estimate, InputError
from obverse.sensitometry import fit_curve

X = np.linspace(-2, 1.6, 21)


def strip(x, dmin=0.3, reach=2.2, middle=0.1, width=0.3):
    return dmin + reach / (1 + np.exp((np.asarray(x) - middle) / width))


@pytest.fixture(scope="module")
def curve():
    return fit_curve(X, strip(X), np.full(21, 0.01), base_density=0.25)


def test_the_numbers_of_a_clean_logistic_are_its_own(curve):
    assert 0.3 == pytest.approx(curve.dmin.value, abs=0.02)
    assert 2.5 == pytest.approx(curve.dmax_with_base.value, abs=0.02)
    assert 2.25 == pytest.approx(curve.dmax_above_base.value, abs=0.02)
    # 1.25 is passed where the share of the fall left is (1.25 - 0.3) / 2.2.
    middle = 0.1 - 0.3 * np.log((1.25 - 0.3) / 2.2 / (1 - (1.25 - 0.3) / 2.2))
    assert middle == pytest.approx(curve.midtone_log_exposure.value, abs=0.01)
    assert (strip(middle - 0.25) - strip(middle + 0.25)) / 0.5 == pytest.approx(curve.gradient.value, abs=0.03)
    assert strip(middle + 0.8) - 0.25 == pytest.approx(curve.highlight_density.value, abs=0.02)
    assert 200 * 10**-middle == pytest.approx(curve.exposure_index(200).value, rel=0.03)
    assert () == curve.cautions


def test_every_draw_falls_and_is_smooth(curve):
    assert np.all(np.diff(curve.draws, axis=1) <= 1e-12)
    assert np.abs(np.diff(curve.draws, n=2, axis=1)).max() < 0.02


@pytest.mark.parametrize("far", [3.0, 0.3, 1.0])
def test_an_outlier_neither_moves_nor_hides(curve, far):
    d = strip(X)
    d[8] = far
    bent = fit_curve(X, d, np.full(21, 0.01), base_density=0.25)
    assert curve.midtone_log_exposure.value == pytest.approx(bent.midtone_log_exposure.value, abs=0.02)
    assert curve.gradient.value == pytest.approx(bent.gradient.value, abs=0.1)
    assert ["curve.outlier"] == [caution.code for caution in bent.cautions]
    assert "-0.56" in bent.cautions[0].text


def test_three_readings_give_a_curve_that_admits_how_little_it_knows(curve):
    few = fit_curve([-0.5, 0.0, 0.5], strip([-0.5, 0.0, 0.5]), base_density=0.25)
    assert few.midtone_log_exposure.sd > 3 * curve.midtone_log_exposure.sd
    assert few.dmax_with_base.low90 < 2.5 < few.dmax_with_base.high90
    assert few.dmax_with_base.sd > 0.1
    assert {"curve.dmax_open"} <= {caution.code for caution in few.cautions}


def test_two_thousand_readings_are_fitted():
    x = np.linspace(-2, 1.6, 2000)
    noise = np.random.default_rng(1).normal(0, 0.02, 2000)
    many = fit_curve(x, strip(x) + noise, base_density=0.25)
    assert strip(0.4) == pytest.approx(many.density(0.4).value, abs=0.006)
    assert many.density(0.4).sd < 0.005
    assert 0.02 == pytest.approx(float(many.density_sd[0]), abs=0.002), "the noise is learned"


def test_a_strip_that_never_gets_dark_has_no_midtone():
    pale = fit_curve(X, strip(X, reach=0.5), base_density=0.25)
    assert pale.midtone_log_exposure is None
    assert pale.gradient is None
    assert pale.exposure_index(100) is None
    assert "curve.no_midtone" in {caution.code for caution in pale.cautions}
    assert pale.document(100)["gradient"] is None


def test_a_strip_without_any_tone_is_still_read():
    flat = fit_curve(X, np.full(21, 0.3) + 0.004 * np.cos(9 * X), np.full(21, 0.01), base_density=0.25)
    assert 0.3 == pytest.approx(flat.density(0.0).value, abs=0.02)


def test_an_unknown_base_is_said_and_widens_what_hangs_on_it(curve):
    unknown = fit_curve(X, strip(X), np.full(21, 0.01))
    assert "curve.base_unknown" in {caution.code for caution in unknown.cautions}
    assert unknown.highlight_density.sd > 3 * curve.highlight_density.sd
    assert unknown.dmax_with_base.sd == pytest.approx(curve.dmax_with_base.sd, rel=0.3)


def test_a_base_with_uncertainty_is_propagated(curve):
    loose = fit_curve(X, strip(X), np.full(21, 0.01), base_density=Estimate(0.25, 0.05))
    assert 0.05 == pytest.approx(loose.highlight_density.sd, rel=0.4)


def test_how_far_off_the_rebate_stands_makes_no_difference():
    d = np.append(strip(X), 2.5)
    near = fit_curve(np.append(X, -4.0), d, base_density=0.25)
    far = fit_curve(np.append(X, -9.0), d, base_density=0.25)
    assert near.dmax_with_base == far.dmax_with_base
    assert near.gradient == far.gradient


def test_the_order_of_readings_makes_no_difference(curve):
    mixed = np.random.default_rng(2).permutation(21)
    assert curve.document() == fit_curve(X[mixed], strip(X)[mixed], np.full(21, 0.01), base_density=0.25).document()


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (([0, 1], [1, 2]), "3 readings"),
        (([0, 1, 2], [1, 2]), "beside"),
        (([0, 1, 2], [1, np.nan, 0]), "not a number"),
        (([0, 0, 0], [1, 1, 1]), "same log exposure"),
        (([0, 1, 2], [9, 1, 0]), "cannot be"),
        (([0, 1, 2], [2, 1, 0], [0.1, 0, 0.1]), "greater than 0"),
        (([0, 1, 2], [2, 1, 0], [0.1]), "uncertainties"),
        (([0, 1, 100], [2, 1, 0]), "powers of ten"),
    ],
)
def test_bad_readings_are_one_sentence(arguments, part):
    with pytest.raises(InputError) as caught:
        fit_curve(*arguments)
    assert part in caught.value.sentence


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(-3, 3), st.floats(0, 4)), min_size=3, max_size=25))
def test_any_readings_give_a_falling_curve_or_one_sentence(rows):
    x, d = zip(*rows, strict=True)
    try:
        found = fit_curve(x, d)
    except InputError:
        return
    assert np.all(np.isfinite(found.draws))
    assert np.all(np.diff(found.draws, axis=1) <= 1e-9)
    assert found.document(100)["dmax"]["sd"] >= 0
