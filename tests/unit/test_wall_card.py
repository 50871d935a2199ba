"""The card counts how strips of one recipe differ, in words, sheet and page alike."""

import math
from dataclasses import replace

import numpy as np
import pytest

from obverse.foundation import Caution, Estimate
from obverse.sheets.exposure_card import card_data
from obverse.sheets.typeset import ask
from obverse.workbench.exposure_card import exposure_card, watch_words
from obverse.workbench.preview import Screen
from obverse.workbench.slide_curve import example_curve, learned_spread, strip_spread


def one_strip(sd, strip_sd):
    return replace(example_curve(), kind="measured", midtone=Estimate(0.1, sd), strip_log_exposure_sd=strip_sd)


def test_the_interval_of_the_setting_holds_both_spreads():
    both = exposure_card(one_strip(0.03, 0.04), Screen()).exposure_index
    # By hand: 0.03 and 0.04 together are 0.05; nine times in ten is 1.6449 of them either way.
    assert both.low90 == pytest.approx(100 * 10 ** (-0.1 - 1.6449 * 0.05), rel=1e-3)
    assert both.high90 == pytest.approx(100 * 10 ** (-0.1 + 1.6449 * 0.05), rel=1e-3)
    assert both.sd / both.value == pytest.approx(math.log(10) * 0.05)
    alone = exposure_card(one_strip(0.03, 0.0), Screen())
    assert alone.exposure_index.high90 < both.high90 and "strip to strip" not in alone.known


def test_strips_that_differ_ask_for_a_bracket_where_one_alone_would_not():
    own = 100 * 10**-0.1
    assert len(exposure_card(one_strip(0.005, 0.0), Screen(), exposure_index=own).bracket) == 1
    assert len(exposure_card(one_strip(0.005, 0.12), Screen(), exposure_index=own).bracket) > 1


def test_a_short_development_differs_more_from_strip_to_strip():
    short, usual = (strip_spread({"first_developer_time_min": minutes}) for minutes in (2, 12))
    assert short > usual > 0.02
    # By hand, from the records: activity 4 %, 0.15 of 12 min, 7.8 % a kelvin for 0.3 K; 0.32 a unit of ln; exposure 0.02.
    assert usual == pytest.approx(math.hypot(0.02, 0.32 * math.hypot(0.04, 0.15 / 12, 0.078 * 0.3)), rel=1e-6)


def test_page_and_sheet_have_the_same_greys_and_words():
    card = exposure_card(
        replace(one_strip(0.3, 0.04), cautions=(Caution("a", "Something to be told. " * 6),)), Screen()
    )
    told, sheet = card.document(), card_data(card, None, "us-letter")
    assert [zone["grey"] * 100 for zone in told["zones"]] == [zone["grey"] for zone in sheet["zones"]]
    assert told["zones"][0]["grey"] < 0.2 and told["zones"][-1]["grey"] > 0.95
    assert told["known"] == sheet["known"] and "0.13 stop from strip to strip (common practice" in sheet["known"]
    assert [line["give"] for line in told["reciprocity"]] == [line["give"] for line in sheet["long"]]
    assert ask("exposure_card", sheet, "pages") == [1]


@pytest.mark.parametrize(
    ("time_s", "words"),
    [(2.24, "2 s"), (5.3, "5.5 s"), (11.2, "11 s"), (167, "167 s"), (180, "3 min"), (185, "3 min 5 s")],
)
def test_a_long_exposure_is_told_as_a_watch_counts_it(time_s, words):
    assert watch_words(time_s) == words


def test_own_strips_teach_how_strips_differ():
    usual, rng = 0.07, np.random.default_rng(5)

    def strips(spread, count, reading=0.0):
        return [Estimate(float(x), reading) for x in rng.normal(0.1, spread, count)]

    assert learned_spread(usual, strips(0.5, 1)) == usual
    assert learned_spread(usual, [Estimate(0.1, 0.0)] * 6) == pytest.approx(usual / 2**0.5)
    assert learned_spread(usual, strips(0.2, 6)) > 1.3 * usual
    assert learned_spread(usual, strips(0.2, 400)) == pytest.approx(0.2, rel=0.1)
    # Reading noise alone is no spread of strips.
    assert learned_spread(usual, strips(0.05, 400, 0.05)) < 0.02
    told = exposure_card(replace(one_strip(0.02, 0.05), own_strips=4), Screen()).known
    assert "your 4 strips" in told and "your" not in exposure_card(one_strip(0.02, 0.05), Screen()).known


def test_strips_by_one_recipe_widen_or_narrow_its_card(workbench):
    notebook = workbench.notebook
    film = notebook.add_film({"name": "a grey film", "box_speed": 100, "base_density": 0.1})
    x = np.linspace(-1.5, 1.5, 11)

    def strip(shift, minutes=10.0):
        steps = [
            {
                "log_exposure": round(float(v), 3),
                "density": round(0.1 + 2.4 / (1 + float(np.exp((v - shift) / 0.3))), 3),
            }
            for v in x
        ]
        controls = {"first_developer_time_min": minutes}
        return notebook.add_trial(film.id, {"controls": controls, "steps": steps, "exposed": "wedge"}).id

    first = strip(0.0)
    alone = workbench.projector.curve(f"trial:{first}")
    strip(0.5), strip(-0.5), strip(0.9, minutes=14.0)
    three = workbench.projector.curve(f"trial:{first}")
    assert (alone.own_strips, three.own_strips) == (0, 3)
    assert three.strip_log_exposure_sd > 1.5 * alone.strip_log_exposure_sd
