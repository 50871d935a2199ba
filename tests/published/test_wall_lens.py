"""Lens, distance and width against worked examples of two pages (``wall.thin_lens_example``) and a textbook exercise.

The calculator's page works in feet and inches; the exercise (a public physics forum, "what focal length is needed to
project a 35mm slide onto a large screen") asks for the lens that makes 2.70 m of 36 mm from 7.50 m with 1/f = 1/a + 1/b.
"""

import pytest

from obverse.foundation import InputError
from obverse.light import focal_length_mm, picture_width_m, throw_m
from obverse.reference import record

FOOT_M, INCH_MM = 0.3048, 25.4


def test_the_width_of_the_worked_example():
    row = record("wall.thin_lens_example")
    given = row.inputs
    width = picture_width_m(given["focal_in"] * INCH_MM, given["throw_ft"] * FOOT_M, given["slide_in"] * INCH_MM)
    assert row.value == pytest.approx(width / FOOT_M, abs=0.005)


def test_the_lens_of_the_worked_example():
    assert 2.996 == pytest.approx(focal_length_mm(30 * FOOT_M, 14 * FOOT_M, 1.41 * INCH_MM) / INCH_MM, abs=0.0005)


def test_the_lens_of_the_exercise():
    slide_distance_mm = 7500 * 36 / 2700
    by_the_lens_equation = 1 / (1 / slide_distance_mm + 1 / 7500)
    assert by_the_lens_equation == pytest.approx(focal_length_mm(7.5, 2.7, 36.0), rel=1e-12)
    assert 7.5 == pytest.approx(throw_m(by_the_lens_equation, 2.7, 36.0), rel=1e-12)


def test_a_wall_nearer_than_the_focal_length_has_no_picture():
    with pytest.raises(InputError, match="no picture"):
        picture_width_m(85, 0.08, 34.2)
