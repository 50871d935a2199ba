"""Shutter times as shutters are marked, tones as the wall shows them, room light in lux."""

from __future__ import annotations

import math

import pytest

from obverse.sensitometry import shot_list, shutter_words
from obverse.workbench.exposure_card import exposure_card
from obverse.workbench.preview import Screen
from obverse.workbench.slide_curve import example_curve


@pytest.mark.parametrize(
    ("time_s", "words"),
    [
        (0.0166, "1/60 s"),
        (1 / 1920, "1/2000 s"),
        (1 / 90, "1/90 s, between the marks 1/125 s and 1/60 s"),
        (0.5, "1/2 s"),
        (1.04, "1 s"),
        (15.8, "15 s"),
        (1 / 30000, "1/30000 s, shorter than shutters give: close the aperture or take light away"),
        (240, "240 s, by a watch"),
        (2.8, "2.8 s, between the marks 2 s and 4 s"),
    ],
)
def test_a_shutter_time_is_told_as_a_shutter_is_marked(time_s, words):
    assert words == shutter_words(time_s)


def test_a_bracket_by_stops_falls_on_the_marks():
    words = [shutter_words(shot.shutter_s) for shot in shot_list(-3, 3, 1, metered_shutter_s=1 / 60)]
    assert ["1/500 s", "1/250 s", "1/125 s", "1/60 s", "1/30 s", "1/15 s", "1/8 s"] == words
    assert words[0] == shot_list(-3, 3, 1, metered_shutter_s=1 / 60)[0].document()["shutter"]


def test_room_light_weighs_more_on_a_wider_picture_and_flare_does_not():
    room = [Screen(width_m=w, stray=0.0, room_lux=1.0) for w in (1.0, 2.0)]
    assert 4 == pytest.approx(room[1].black_share / room[0].black_share)
    # By hand: 1 lx on a matt white wall is 1/pi cd/m2, whatever the lamp gives.
    assert 1 / math.pi == pytest.approx(room[0].black_share * room[0].gate_cd_m2)
    flare = [Screen(width_m=w, stray=0.01).black_share for w in (1.0, 2.0)]
    assert flare[0] == flare[1] == 0.01
    assert 1 > Screen(flux_lm=1, width_m=30, room_lux=2000).black_share


def test_the_words_of_a_zone_follow_its_light_on_the_wall():
    dark = exposure_card(example_curve(), Screen())
    lit = exposure_card(example_curve(), Screen(room_lux=40))
    words = {zone.name: zone.words for zone in dark.zones}
    assert "black, no detail" == words["0"] and "nearly white" == words["X"]
    assert "middle grey" != words["II"]
    assert [zone.words for zone in lit.zones] != [zone.words for zone in dark.zones]
    order = [
        "black, no detail",
        "nearly black",
        "very dark",
        "dark",
        "middle grey",
        "light",
        "very light",
        "nearly white",
    ]
    ranks = [(order + ["white, no detail"]).index(zone.words) for zone in dark.zones]
    assert ranks == sorted(ranks)


def test_a_card_at_another_setting_does_not_promise_that_one_frame_is_enough():
    curve = example_curve()
    own = curve.exposure_index.value
    assert len(exposure_card(curve, Screen(), exposure_index=own).bracket) == 1
    off = exposure_card(curve, Screen(), exposure_index=own * 4)
    assert len(off.bracket) > 1 and "One frame" not in off.bracket_words
