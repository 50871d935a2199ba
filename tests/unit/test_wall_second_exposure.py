"""The second exposure: lamp or lux, hand or reel, one side or both, slow film or fast."""

from __future__ import annotations

import pytest

from obverse.foundation import InputError
from obverse.light import reexpose
from obverse.reference import number


def test_the_other_side_adds_what_the_base_lets_through():
    one, both = (reexpose(1690, 0.46, 60, sides=sides, film_length_m=0.01) for sides in (1, 2))
    assert 1 + number("wall.base_passes") == pytest.approx(both.most_lx_s / one.most_lx_s)


def test_a_panel_or_daylight_is_given_in_lux_and_is_even():
    found = reexpose(lux=4000, seconds_a_side=60, sides=1)
    assert (240_000, 240_000, 1.0) == pytest.approx((found.least_lx_s, found.most_lx_s, found.evenness))
    assert "ample" == found.verdict


def test_a_slow_film_needs_more():
    # 8 lx for a minute, on one side: 480 lx s, nearly ten times what a film of 100 speed needs, a film of 25 twice.
    verdicts = {speed: reexpose(lux=8.5, seconds_a_side=60, sides=1, box_speed=speed).verdict for speed in (25, 100, 6)}
    assert {25: "unknown", 100: "likely", 6: "too_little"} == verdicts


def test_on_the_reel_a_minute_is_not_known_to_be_enough_and_ten_are_likely():
    assert "unknown" == reexpose(1690, 0.46, 60, how="reel").verdict
    assert "likely" == reexpose(1690, 0.46, 600, how="reel").verdict
    assert "likely" == reexpose(1690, 0.46, 60, how="hand").verdict


@pytest.mark.parametrize("verdict_lux", [4000, 20, 2, 0.2])
def test_every_verdict_but_the_ample_says_that_more_is_harmless(verdict_lux):
    found = reexpose(lux=verdict_lux, seconds_a_side=60, sides=1)
    assert (found.verdict == "ample") or "no harm" in found.words


def test_nothing_given_is_asked_for():
    with pytest.raises(InputError, match="lumens and distance, or lux"):
        reexpose(seconds_a_side=60)
    with pytest.raises(InputError):
        reexpose(lux=0, seconds_a_side=60)
    with pytest.raises(InputError):
        reexpose(lux=10, box_speed=0)
