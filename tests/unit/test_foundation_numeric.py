"""The small numerics against the library that holds the same at length."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from obverse.foundation import MonotoneCubic, root_between

steps = st.floats(0.01, 5.0)
points = st.lists(st.tuples(steps, st.integers(-300, 300).map(lambda n: n / 100)), min_size=2, max_size=12)


@given(points)
def test_the_monotone_curve_is_that_of_the_library(rows):
    x = np.cumsum([h for h, _ in rows])
    y = np.array([v for _, v in rows])
    ours, theirs = MonotoneCubic(x, y), PchipInterpolator(x, y)
    at = np.concatenate([x, np.linspace(x[0], x[-1], 57)])
    np.testing.assert_allclose([ours(v) for v in at], theirs(at), atol=1e-9)
    inside = np.linspace(x[0], x[-1], 31)[1:-1]
    np.testing.assert_allclose(
        [ours.slope(v) for v in inside], theirs(inside, 1), atol=1e-6 * (1 + np.abs(y).max() / 0.01)
    )


def test_it_never_swings_beyond_its_points():
    curve = MonotoneCubic([0, 1, 2, 3, 4], [0, 0, 1, 1, 0.2])
    assert all(0 <= curve(v) <= 1 for v in np.linspace(0, 4, 401))


@given(st.floats(-5, 5), st.booleans())
def test_a_root_is_found_to_the_last_digit(where, falls):
    def function(v: float) -> float:
        value = math.atan(v - where)
        return -value if falls else value

    found = root_between(function, -7.0, 8.0)
    assert found == pytest.approx(brentq(function, -7.0, 8.0, xtol=1e-14), abs=1e-12)
    assert found == pytest.approx(where, abs=1e-14)


def test_a_root_at_an_end_is_that_end():
    assert root_between(lambda v: v - 1, 1.0, 2.0) == 1.0
    assert root_between(lambda v: v - 2, 1.0, 2.0) == 2.0


def test_tiny_roots_keep_their_digits():
    assert root_between(lambda s: s * (s + 1e-3) - 1e-13, 0.0, 1.0) == pytest.approx(1e-10, rel=1e-6)


def test_no_change_of_sign_is_refused():
    with pytest.raises(ValueError, match="same sign"):
        root_between(lambda v: v * v + 1, 0.0, 1.0)
