"""The photograph as codes, the tables, the sums, the card: arithmetic that the wall page shows."""

import json
import struct

import numpy as np
import pytest

from benchmarks.simulated_files import save_png
from obverse.capture import load_picture, save_tiff
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.imaging.encoding import srgb_to_linear
from obverse.light import STOP
from obverse.workbench.exposure_card import exposure_card, f_number_words, nearest_dial
from obverse.workbench.preview import (
    CODE_STEP,
    CODES,
    MOST_PIXELS,
    Screen,
    Viewing,
    light_in_the_middle,
    look,
    on_the_wall,
    photograph,
    white_of,
)
from obverse.workbench.projector import sums
from obverse.workbench.sample_scene import sample_scene
from obverse.workbench.slide_curve import example_curve

DARK = Screen(stray=0.0, callier=1.0)


def stops_of(shot, a, b):
    return (float(shot.codes[a]) - float(shot.codes[b])) * CODE_STEP / STOP


def test_a_linear_picture_keeps_its_stops():
    rows = np.repeat((65535 * 2.0 ** -np.arange(8)).astype(np.uint16)[:, None], 6, axis=1)
    shot = photograph(load_picture(save_tiff(np.repeat(rows[..., None], 3, axis=2)), name="steps.tif"))
    for step in range(1, 8):
        assert stops_of(shot, (0, 3), (step, 3)) == pytest.approx(step, abs=0.01)
    assert shot.codes[0, 0] == CODES - 1


def test_a_finished_picture_is_made_linear_and_says_what_it_is():
    codes = np.repeat(np.array([[255, 188, 128]], dtype=np.uint8), 4, axis=0)
    shot = photograph(load_picture(save_png(np.repeat(codes[..., None], 3, axis=2)), name="finished.png"))
    assert stops_of(shot, (0, 0), (0, 1)) == pytest.approx(-np.log2(float(srgb_to_linear(188 / 255))), abs=0.005)
    assert any(c.code == "photo.tone_curve" for c in shot.cautions)
    assert any(c.code == "photo.clipped" for c in shot.cautions)


def test_the_averaging_meter_sees_the_mean_light_not_the_mean_code():
    rows = np.array([[65535] * 4, [6554] * 4], dtype=np.uint16)
    shot = photograph(load_picture(save_tiff(np.repeat(rows[..., None], 3, axis=2)), name="two.tif"))
    mean = (65535 + 6554) / 2 / 65535
    assert (shot.average_code - (CODES - 1)) * CODE_STEP == pytest.approx(np.log10(mean), abs=0.001)


def test_a_large_picture_is_reduced_by_mean_light():
    codes = np.zeros((2000, 4200, 1), dtype=np.uint16)
    codes[:, ::3] = 40_000  # one bright column in each block of three
    shot = photograph(Picture(codes=codes, name="stripes"))
    assert shot.codes.size <= MOST_PIXELS
    assert np.unique(shot.codes).size == 1


def test_a_black_picture_is_refused():
    with pytest.raises(InputError, match="black all over"):
        photograph(Picture(codes=np.zeros((8, 8, 1), dtype=np.uint16), name="cap on"))


def test_the_packed_photograph_can_be_read_back():
    shot = sample_scene(60, 40)
    data = shot.packed()
    (length,) = struct.unpack_from("<I", data, 4)
    head = json.loads(data[8 : 8 + length])
    assert data[:4] == b"OBVL" and (8 + length) % 8 == 0
    assert (head["width"], head["height"]) == (60, 40)
    assert np.array_equal(np.frombuffer(data, dtype="<u2", offset=8 + length).reshape(40, 60), shot.codes)


def test_in_the_dark_without_callier_the_wall_has_the_slides_density():
    curve = example_curve()
    x = np.array([-0.5, 0.0, 0.4])
    assert -np.log10(on_the_wall(curve, x, DARK)) == pytest.approx(curve.at(x), abs=1e-9)


def test_callier_hardens_the_silver_and_leaves_the_base():
    curve = example_curve()
    hard = -np.log10(on_the_wall(curve, np.array([0.0]), Screen(stray=0.0, callier=1.4)))
    assert float(hard[0]) == pytest.approx(curve.base_density + 1.4 * (float(curve.at(0.0)) - curve.base_density))


def test_the_metered_code_falls_on_the_midtone_at_the_curves_own_index():
    curve = example_curve()
    shift = np.log10(curve.box_speed / curve.exposure_index.value)
    found = look(curve, shift, 2000, DARK, Viewing(model="none"), white_of([curve], DARK, Viewing()))
    assert found.density[2000] == pytest.approx(curve.base_density + 1.0, abs=0.005)


def test_without_a_surround_model_the_monitor_shows_the_walls_ratio():
    curve = example_curve()
    white = white_of([curve], DARK, Viewing())
    found = look(curve, 0.0, 2000, DARK, Viewing(model="none"), white)
    shown = srgb_to_linear(found.grey[2000] / 255)
    assert float(shown) == pytest.approx(found.screen[2000] / white, rel=0.05)
    softer = look(curve, 0.0, 2000, DARK, Viewing(model="classic", shown_in="average"), white)
    assert softer.grey[2000] > found.grey[2000]


def test_greys_rise_with_light_and_both_ends_run_together():
    curve = example_curve()
    found = look(curve, 0.0, 2048, Screen(), Viewing(), white_of([curve], Screen(), Viewing()))
    assert np.all(np.diff(found.grey.astype(int)) >= 0)
    assert found.run_together[0] == 2 and found.run_together[-1] == 1 and found.run_together[2048] == 0


def test_more_stray_light_blocks_more_blacks():
    curve = example_curve()
    blocked = [
        int(
            np.count_nonzero(
                look(
                    curve, 0.0, 2048, Screen(stray=s), Viewing(), white_of([curve], Screen(stray=s), Viewing())
                ).run_together
                == 2
            )
        )
        for s in (0.0, 0.005, 0.05)
    ]
    assert blocked[0] < blocked[1] < blocked[2]


def test_the_fall_off_is_drawn_with_the_numbers_of_the_sums():
    curve, known = example_curve(), Screen(corner_light=0.6)
    viewing = Viewing(model="none")
    whites = (white_of([curve], known, viewing), white_of([curve], known, viewing, light_in_the_middle(known)))
    found = look(curve, 0.0, 2048, known, viewing, *whites)
    told = sums(known, [curve])
    assert told.corner_cd_m2 / told.middle_cd_m2 == pytest.approx(0.6)
    # The open gate is the mean over the picture of what falls off (to the shape of the fall: half a percent).
    down, across = np.mgrid[-1:1:80j, -1:1:120j]
    places = told.middle_cd_m2 * 0.6 ** ((across**2 + (down / 1.5) ** 2) / (1 + 1.5**-2))
    assert places.mean() == pytest.approx(told.gate_cd_m2, rel=0.01)
    # White at the corners beside white in the middle, stray light evenly over both.
    clear = 10 ** -float(curve.at(np.array([found.log_exposure[-1]]))[0])
    silver = 10 ** -(curve.base_density + known.callier * (-np.log10(clear) - curve.base_density))
    corner, middle = (light * silver + told.stray_cd_m2 for light in (told.corner_cd_m2, told.middle_cd_m2))
    assert srgb_to_linear(found.rings.grey[-1, -1] / 255) == pytest.approx(corner / middle, rel=0.02)
    assert found.rings.grey[0, -1] >= 254
    assert np.all(np.diff(found.rings.grey.astype(int), axis=0) <= 0)
    # In the darker corner more of the blacks run together.
    assert np.count_nonzero(found.rings.run_together[-1] == 2) > np.count_nonzero(found.rings.run_together[0] == 2)


def test_a_fall_off_that_is_not_known_is_not_drawn():
    curve = example_curve()
    for screen in (Screen(), Screen(corner_light=1.0)):
        white = white_of([curve], screen, Viewing())
        assert look(curve, 0.0, 2048, screen, Viewing(), white, white).rings is None
    assert sums(Screen(), [curve]).corner_cd_m2 is None


@pytest.mark.parametrize(
    ("corner", "words"),
    [(None, ""), (0.9, ""), (0.79, "1/3 stop less"), (0.5, "1 stop less"), (0.4, "1 1/3 stops less")],
)
def test_the_card_says_how_dark_the_corners_are(corner, words):
    said = [c.text for c in exposure_card(example_curve(), Screen(corner_light=corner)).cautions if "corners" in c.text]
    assert [words in text for text in said] == ([True] if words else [])


def test_grain_is_in_the_middle_greys_and_grows_with_the_film():
    curve = example_curve()
    white = white_of([curve], Screen(), Viewing())
    fine, coarse = (look(curve, 0.0, 2048, Screen(), Viewing(rms_granularity=g), white).grain for g in (6, 24))
    assert coarse[2048] > 3 * fine[2048] > 0
    assert coarse[2048] > coarse[0] and coarse[2048] > coarse[-1]
    assert look(curve, 0.0, 2048, Screen(), Viewing(rms_granularity=0), white).grain.max() == 0


def test_zones_stand_a_stop_apart_from_the_setting():
    curve = example_curve()
    card = exposure_card(curve, Screen(), exposure_index=50)
    assert card.zones[5].log_exposure == pytest.approx(STOP)
    assert np.diff([z.log_exposure for z in card.zones]) == pytest.approx(STOP)
    assert np.all(np.diff([z.density for z in card.zones]) < 0)
    assert card.zones[5].density == pytest.approx(float(curve.at(STOP)))
    assert card.under_stops + card.over_stops == pytest.approx(card.range_stops)


def test_the_bracket_follows_the_uncertainty():
    from dataclasses import replace

    from obverse.foundation import Estimate

    curve = example_curve()
    sure = exposure_card(replace(curve, midtone=Estimate(0.0, 0.03)), Screen())
    unsure = exposure_card(replace(curve, midtone=Estimate(0.0, 0.25)), Screen())
    assert sure.bracket == (0.0,)
    assert len(unsure.bracket) >= 3 and unsure.bracket[0] == -unsure.bracket[-1]
    # Nine times in ten a frame lies within half a stop: the outer frames reach far enough, no gap is wider than a stop.
    reach = 1.645 * 0.25 / STOP
    assert unsure.bracket[-1] + 0.5 >= reach - 1e-3
    assert max(np.diff(unsure.bracket)) <= 1 + 1e-9


@pytest.mark.parametrize("sd", [0.15, 0.3, 0.5, 0.9])
def test_no_gap_of_a_bracket_is_wider_than_the_latitude_allows(sd):
    from dataclasses import replace

    from obverse.foundation import Estimate

    frames = exposure_card(replace(example_curve(), midtone=Estimate(0.0, sd)), Screen()).bracket
    assert max(np.diff(frames)) <= 1 + 1e-9
    assert frames[-1] + 0.5 >= 1.645 * sd / STOP - 1e-3


def test_a_setting_far_from_the_curve_is_told():
    codes = {
        dial: [c.code for c in exposure_card(example_curve(), Screen(), exposure_index=dial).cautions]
        for dial in (80, 20, 400)
    }
    assert "card.setting_off" not in codes[80]
    assert "card.setting_off" in codes[20] and "card.setting_off" in codes[400]


def test_a_curve_without_a_midtone_needs_a_setting():
    from dataclasses import replace

    thin = replace(example_curve(), midtone=None)
    with pytest.raises(InputError, match="no exposure index follows"):
        exposure_card(thin, Screen())
    assert exposure_card(thin, Screen(), exposure_index=100).dial == 100


def test_dials_and_f_numbers_as_they_are_marked():
    assert nearest_dial(83) == 80
    assert f_number_words(5.6) == "f/5.6"
    assert f_number_words(5.6 * 2 ** (1 / 6)) == "f/6.3"
    assert f_number_words(32 * 2 ** (-1 / 6)) == "f/29"
    assert f_number_words(90.6) == "smaller than f/64"
    assert f_number_words(0.5) == "wider than f/1"
