"""Lists in other units and orders are named, converted on request, and right ones are left alone."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from obverse.sensitometry import ReadingList, converted, read_list, recognise

# Thirty lists by a hand that had not seen the code; the verdicts are its own.
LISTS = {
    row["id"]: row for row in json.loads((Path(__file__).parents[1] / "data/lists_by_another_hand.json").read_text())
}
NAMED = {
    "negative": "rising",
    "lux_seconds": "plain_exposures",
    "transmittance": "transmittance",
    "stops": "stops",
    "sign": "sign",
    "pasted_twice": "repeated",
    "one_outlier": "outlier",
    "times_100": "times_100",
    "times_fraction": "plain_exposures",
    "swapped": "swapped",
    "three_rows": "few",
    "scanner_8bit": "scanner_values",
    "two_strips": "two_strips",
    "below_base": "below_base",
    "density_shuffled": "no_order",
}

X = np.round(np.arange(-1.5, 1.51, 0.15), 2)
D = 0.3 + 2.2 / (1 + 10 ** (1.6 * (X + 0.1)))


def listed(x, d) -> ReadingList:
    return ReadingList(tuple(map(float, x)), tuple(map(float, d)), (None,) * len(x), {})


def codes(x, d, **known) -> list[str]:
    return [doubt.code for doubt in recognise(listed(x, d), **known)]


@pytest.mark.parametrize("name", LISTS)
def test_lists_of_another_hand(name):
    row = LISTS[name]
    found = recognise(read_list(row["csv"]), base_density=row["known"]["base"])
    if row["verdict"] == "wrong":
        assert NAMED[name] == found[0].code
    else:
        assert () == found


@pytest.mark.parametrize(
    ("code", "x", "d"),
    [
        ("stops", X / 0.15 / 2, D),
        ("transmittance", X, 10**-D),
        ("percent", X, 100 * 10**-D),
        ("times_100", X, np.round(100 * D)),
        ("opacity", X, 10**D),
        ("sign", X, -D),
        ("swapped", D, X),
        ("rising", -X, D),
        ("repeated", np.tile(X, 2), np.tile(D, 2)),
    ],
)
def test_a_conversion_gives_the_list_back(code, x, d):
    given = listed(x, d)
    assert code in [doubt.code for doubt in recognise(given)]
    back = converted(given, code)
    expected = X * np.log10(2) / 0.3 if code == "stops" else X
    np.testing.assert_allclose(sorted(back.log_exposure), expected, atol=1e-9)
    np.testing.assert_allclose(sorted(back.density, reverse=True), D, atol=0.006)
    assert code not in [doubt.code for doubt in recognise(back)]


def test_exposures_themselves_become_logarithms_about_their_middle():
    back = converted(listed(10**X, D), "plain_exposures")
    np.testing.assert_allclose(back.log_exposure, X, atol=1e-9)
    aperture = [2, 2.8, 4, 5.6, 8, 11, 16, 22]
    rising = 0.4 + 2 / (1 + np.exp(-np.linspace(-4, 4, 8)))
    back = converted(listed(aperture, rising), "f_numbers")
    assert 0.62 == pytest.approx(back.log_exposure[2] - back.log_exposure[4], abs=0.02)  # two stops
    assert () == recognise(back)


def test_step_numbers_rise_or_fall_with_the_density():
    numbers = np.arange(1, 22)
    for d in (D, D[::-1]):
        back = converted(listed(numbers, d), "step_numbers")
        assert 3.0 == pytest.approx(np.ptp(back.log_exposure))
        assert -0.9 > np.corrcoef(back.log_exposure, back.density)[0, 1]


def test_a_right_list_is_left_alone():
    noise = np.random.default_rng(4).normal(0, 0.03, X.size)
    assert [] == codes(X, D + noise, base_density=0.25)
    # Whole numbers of a log scale with a gradient that no scale in stops would show.
    assert [] == codes(np.arange(-2, 2.5, 0.5), 0.3 + 2.2 / (1 + 10 ** (1.8 * np.arange(-2, 2.5, 0.5))))
    assert [] == codes(np.repeat(X, 2), np.repeat(D, 2) + np.tile([0.0, 0.02], X.size))


def test_each_doubt_says_what_and_the_way_on():
    for x, d in ((X, -D), (-X, D), (X, np.full(X.size, 1.0)), (X, 100 * D), (X[:3], D[:3])):
        for doubt in recognise(listed(x, d)):
            assert doubt.sentence and doubt.way_on and not doubt.sentence.endswith(".")
            assert doubt.document()["convertible"] == (doubt.convert is not None)


def test_the_base_must_not_lie_above_the_lightest_reading():
    assert ["below_base"] == codes(X, D, base_density=float(D.min()) + 0.06)
    assert [] == codes(X, D, base_density=float(D.min()) + 0.03)


def test_absolute_log_exposures_are_asked_about():
    assert ["absolute"] == codes(X - 2, D)
    # As a film of 100 gets them, in lux seconds and in thousandths.
    for scale, words in ((-1.1, "stops under the metered exposure"), (1.9, "stops over")):
        (doubt,) = recognise(listed(X + scale, D))
        assert doubt.code == "absolute" and words in doubt.sentence
        assert ("millilux" in doubt.sentence) == (scale > 0)
        assert doubt.convert is None and "state the speed" in doubt.way_on
        # q K / S is 0.08 lx s for a film of 100.
        back = converted(listed(X + scale, D), "absolute", box_speed=100)
        np.testing.assert_allclose(back.log_exposure, X + scale - (3 if scale > 0 else 0) - np.log10(0.08), atol=0.01)
        assert [] == codes(back.log_exposure, back.density, box_speed=100)
    assert [] == codes(X - 0.4, D) == codes(X + 0.6, D)


def test_what_has_no_such_doubt_is_not_converted():
    with pytest.raises(KeyError):
        converted(listed(X, D), "stops")
