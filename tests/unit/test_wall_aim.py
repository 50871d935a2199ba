"""The aim from the wall: what lamp, room, condenser and surround do to it, and what is told of it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.light import on_screen, separated, visible_steps
from obverse.process import AIMS
from obverse.workbench.preview import Screen
from obverse.workbench.slide_curve import example_curve
from obverse.workbench.wall_aim import as_shown, slide_density, wall_aim

HOME = Screen(flux_lm=700, width_m=1.5, stray=0.0025, callier=1.3)


def changed(**values) -> Screen:
    return HOME.model_copy(update=values)


def test_a_middle_grey_stands_on_the_wall_where_the_surround_wants_it():
    for callier in (1.0, 1.2, 1.4):
        for surround, gradient in (("average", 1.0), ("dim", 1.25), ("dark", 1.5)):
            screen = changed(callier=callier, stray=0.005)
            midtone = wall_aim(screen, surround=surround).aim.midtone_density
            # By hand: white and grey of that density on the wall, stray light in both.
            seen = (10 ** (-callier * midtone) + 0.005) / (1 + 0.005)
            assert 0.18**gradient == pytest.approx(seen, rel=0.10)


def test_the_gradient_on_the_wall_is_that_of_the_surround():
    for callier in (1.0, 1.3, 1.5):
        aim = wall_aim(changed(callier=callier), surround="dark").aim
        assert 1.5 == pytest.approx(callier * (aim.gradient_min + aim.gradient_max) / 2, abs=0.06)


def test_a_condenser_asks_for_a_lighter_mid_tone_and_less_gradient():
    diffuse, directed = (wall_aim(changed(callier=q)).aim for q in (1.0, 1.4))
    assert directed.midtone_density < diffuse.midtone_density
    assert directed.gradient_max < diffuse.gradient_max


def test_a_lit_room_needs_less_black_for_it_shows_less():
    needs = [wall_aim(changed(stray=s)).aim.dmax_min for s in (0.0002, 0.002, 0.02)]
    assert needs == sorted(needs, reverse=True) and needs[0] > needs[-1] + 0.4
    steps = [wall_aim(changed(stray=s)).steps_of_wall for s in (0.0002, 0.002, 0.02)]
    assert steps == sorted(steps, reverse=True)


def test_a_weak_lamp_shows_fewer_steps():
    assert wall_aim(changed(flux_lm=100)).steps_of_wall < 0.7 * wall_aim(changed(flux_lm=2000)).steps_of_wall


def test_the_exposure_it_asks_for_has_the_sign_of_the_lighter_mid_tone():
    found = wall_aim(HOME)
    assert found.aim.midtone_density < AIMS["projection"].midtone_density and found.index_stops > 0
    by_hand = (1.0 - found.aim.midtone_density) / (1.5 / 1.3) / math.log10(2)
    assert by_hand == pytest.approx(found.index_stops, abs=1e-9)


def test_prices_are_those_of_the_windows_changed_alone():
    found = wall_aim(HOME)
    words = {price.window: price.words for price in found.prices}
    assert {"midtone_density", "gradient"} <= set(words)
    assert "1.00 in place of 0.85" in words["midtone_density"] and "costs" in words["midtone_density"]
    assert "steps more" in words["gradient"]
    for price in found.prices:
        assert price.steps >= 0 and (price.steps > 0) == ("visible steps" in price.words)
    assert found.document()["prices"][0]["words"] == found.prices[0].words


def test_unknown_words_are_refused_with_the_known_ones():
    with pytest.raises(InputError, match="dark"):
        wall_aim(HOME, surround="foggy")
    with pytest.raises(InputError, match="projection"):
        wall_aim(HOME, against="magic")


def test_an_average_slide_falls_through_its_mid_tone_with_its_gradient():
    x = np.linspace(-2, 2, 401)
    d = slide_density(x, dmax=2.4, gradient=1.4, midtone_density=0.9)
    assert np.all(np.diff(d) <= 0) and 2.4 == pytest.approx(d[0], abs=0.01) and 0 == pytest.approx(d[-1], abs=0.01)
    assert 0.9 == pytest.approx(d[200], abs=0.01)
    assert -1.4 == pytest.approx((d[210] - d[190]) / (x[210] - x[190]), rel=0.03)
    with pytest.raises(InputError):
        slide_density(x, dmax=0.8, gradient=1.4, midtone_density=0.9)


def test_tones_separate_by_the_eye_on_this_wall_and_not_by_a_share_of_white():
    x = np.linspace(-2, 2, 201)
    density = slide_density(x, dmax=2.6, gradient=1.5, midtone_density=1.0)
    wall = on_screen(density, 0.001)
    bright, dim = (separated(x, gate * wall, gate * 0.1) for gate in (300.0, 3.0))
    assert bright.sum() > dim.sum() > 0
    # A third of a stop at 0.7 cd/m2 is several steps: not black without detail.
    third = 10 ** (0.1 * 1.5)
    assert 3 < float(visible_steps(0.72 * third) - visible_steps(0.72))


def test_the_mid_tone_is_told_against_the_named_one():
    told = wall_aim(HOME).not_words
    mine = wall_aim(HOME).aim.midtone_density
    assert told.startswith(f"A mid-tone of {mine:.2f}, not 1.00 as in") and mine < 1
    # Where the named mid-tone is right, that is told.
    alike = replace(wall_aim(HOME), aim=AIMS["projection"]).not_words
    assert alike.startswith("A mid-tone of 1.00, as in") and "not" not in alike


def test_a_light_table_and_a_monitor_have_aims_of_their_own():
    for shown, white in (("light_table", 1270), ("screen", 120)):
        screen, surround = as_shown(changed(room_lux=30.0), shown)
        assert screen.gate_cd_m2 == pytest.approx(white) and surround == "average" and screen.room_lux == 0
    assert as_shown(HOME, "wall") == (HOME, None)


def test_a_curve_gets_the_setting_of_this_wall(client):
    asked = {"screen": HOME.model_dump(), "source": "example", "surround": "dark"}
    found = client.post("/api/projector/aim", json=asked).json()
    curve = example_curve()
    x = float(np.interp(-(curve.base_density + found["aim"]["midtone_density"]), -curve.density, curve.log_exposure))
    assert abs(np.log2(found["setting"]["dial"] / (100 * 10**-x))) <= 1 / 6 + 1e-6
    assert f"set the meter to {found['setting']['dial']:g}, in place of 80" in found["setting"]["words"]
    assert "dark room" in found["made_for"]
    assert client.post("/api/projector/aim", json={"screen": HOME.model_dump()}).json()["setting"] is None
