"""Bath life: the forecast, what it learns, and what it says."""

import math

import pytest

from obverse.foundation import InputError
from obverse.process import Component
from obverse.process.catalog import formulas
from obverse.reference import number
from obverse.safety.bath_life import Belief, Pass, first_belief, forecast, learn

AREA = number("area.135-36")
BLEACH = formulas()["bleach_dichromate"]


def codes(result):
    return {caution.code for caution in result.cautions}


def test_a_fresh_bath_finishes_and_a_worn_one_does_not():
    fresh = forecast(BLEACH, volume_ml=500)
    worn = forecast(BLEACH, [Pass(AREA)] * 12, volume_ml=500)
    assert fresh.completeness.value > 0.999 and fresh.ghost_probability < 0.05
    assert worn.completeness.value < 0.9 and worn.ghost_probability > 0.8 and worn.ghost_on_roll == 1
    assert "bath.ghost" in codes(worn) and "bath.ghost" not in codes(fresh)


def test_warning_comes_before_the_film_is_lost():
    levels = [forecast(BLEACH, [Pass(AREA)] * n, volume_ml=500) for n in range(12)]
    first_ghost = next(n for n, f in enumerate(levels) if f.ghost_probability >= 0.5)
    first_word = next(n for n, f in enumerate(levels) if {"bath.weak", "bath.soon"} & codes(f))
    assert first_word < first_ghost


def test_the_roll_number_named_is_counted_from_the_first_film():
    thinner = math.exp(4.5 * 10 / 500)  # each roll brings 10 mL of rinse water and takes as much bath
    belief = Belief(math.log(0.6 / (4.5 * thinner * AREA / 0.5)), 0.05)
    result = forecast(BLEACH, [Pass(AREA)] * 2, volume_ml=500, belief=belief)
    # The bath is good for 4.5 rolls: after two, roll five is the one that fails.
    assert result.ghost_on_roll == 3 and result.rolls_left.value == pytest.approx(2.5, abs=0.05)
    assert any("roll 5" in caution.text for caution in result.cautions)


def test_ghosts_and_clean_films_move_the_belief_apart():
    prior = first_belief(BLEACH)
    clean = learn(prior, [Pass(AREA, ghost=False)] * 8, 500)
    ghost = learn(prior, [Pass(AREA, ghost=True)], 500)
    assert clean.mean < prior.mean < ghost.mean
    assert clean.sd < prior.sd and ghost.sd < prior.sd
    assert clean.seen == 8 and ghost.seen == 1


def test_films_that_nobody_judged_teach_nothing():
    prior = first_belief(BLEACH)
    assert learn(prior, [Pass(AREA)] * 8, 500) == prior


def test_an_early_ghost_weighs_more_than_a_late_one():
    prior = first_belief(BLEACH)
    early = learn(prior, [Pass(AREA, ghost=True)], 500)
    late = learn(prior, [Pass(AREA)] * 5 + [Pass(AREA, ghost=True)], 500)
    assert early.mean > late.mean


def test_the_belief_finds_the_truth():
    """A bath that is truly good for six rolls: judged over three fills, the forecast comes near it."""
    belief = first_belief(BLEACH)
    for _ in range(4):
        belief = learn(belief, [Pass(AREA, ghost=n >= 6) for n in range(8)], 500)
    assert forecast(BLEACH, volume_ml=500, belief=belief).rolls_left.value == pytest.approx(6, abs=0.8)


def test_more_time_helps_while_something_is_left():
    passes = [Pass(AREA)] * 4
    plain = forecast(BLEACH, passes, volume_ml=500)
    longer = forecast(BLEACH, passes, volume_ml=500, time_ratio=2)
    assert longer.ghost_probability < plain.ghost_probability and longer.completeness.value > plain.completeness.value


def test_a_bath_past_its_hours_is_named():
    bleach = formulas()["bleach_permanganate"]
    assert "bath.old" in codes(forecast(bleach, volume_ml=500, age_h=5))
    assert "bath.old" not in codes(forecast(bleach, volume_ml=500, age_h=3))


def test_a_used_ammonia_bath_is_never_kept_by_the_forecast():
    assert "bath.no_storage" in codes(forecast(formulas()["ammonia_bath"], [Pass(AREA)], volume_ml=500))
    assert "bath.no_storage" not in codes(forecast(formulas()["bleach_iron_chloride"], [Pass(AREA)], volume_ml=500))


def test_every_forecast_says_how_little_is_known():
    for key in (
        "bleach_iron_chloride",
        "bleach_permanganate",
        "bleach_peroxide_acid",
        "bleach_dichromate",
        "ammonia_bath",
        "fixer_rapid",
    ):
        result = forecast(formulas()[key], [Pass(AREA)], volume_ml=500)
        assert "bath.range" in codes(result)
        assert result.rolls_left.low90 <= result.rolls_left.value <= result.rolls_left.high90
        assert result.completeness.low90 <= result.completeness.value <= result.completeness.high90
        assert result.life is not None


@pytest.mark.parametrize(
    "bad",
    [
        {"volume_ml": 0},
        {"volume_ml": -5},
        {"volume_ml": math.nan},
        {"volume_ml": 500, "time_ratio": 0},
        {"volume_ml": 500, "age_h": -1},
        {"volume_ml": 500, "next_area_m2": 0},
    ],
)
def test_what_cannot_be_is_refused(bad):
    with pytest.raises(InputError):
        forecast(BLEACH, **bad)


def test_a_bath_without_silver_is_refused():
    with pytest.raises(InputError, match="no bath whose life"):
        first_belief(formulas()["stop_citric"])


def test_an_iron_bleach_takes_what_practice_says_and_no_more_by_arithmetic():
    for strength, volume_ml, low, high in ((55, 300, 2, 6), (280, 300, 6, 10)):
        lines = [{"substance": "iron_iii_chloride", "concentration": f"{strength} g/L"}]
        bleach = formulas()["bleach_iron_chloride"].model_copy(
            update={"components": tuple(Component.model_validate(line) for line in lines)}
        )
        left = forecast(bleach, volume_ml=volume_ml).rolls_left
        assert low <= left.value <= high, (strength, left)


def test_films_that_nobody_judged_make_the_forecast_less_sure():
    bleach = formulas()["bleach_iron_chloride"]
    seen = [Pass(AREA, ghost=False)] * 3
    unseen = [Pass(AREA)] * 3
    assert forecast(bleach, unseen, volume_ml=500).belief.sd > first_belief(bleach).sd
    assert forecast(bleach, unseen, volume_ml=500).belief.sd > forecast(bleach, seen, volume_ml=500).belief.sd


def test_a_fresh_bath_too_small_is_not_told_to_be_mixed_fresh():
    told = forecast(BLEACH, volume_ml=40).cautions
    ghost = next(c for c in told if c.code in ("bath.ghost", "bath.weak"))
    assert "mix it fresh" not in ghost.text.lower() and "more of it" in ghost.text
    worn = next(c for c in forecast(BLEACH, [Pass(AREA)] * 12, volume_ml=500).cautions if c.code == "bath.ghost")
    assert "Mix it fresh" in worn.text


def test_a_part_of_which_nothing_is_known_may_leave_nothing_of_the_bath():
    known = formulas()["fixer_rapid"]
    open_end = forecast(known.model_copy(update={"unread": ("2 mL unknown drops",)}), volume_ml=500)
    sure = forecast(known, volume_ml=500)
    assert open_end.rolls_left.low90 == 0 < sure.rolls_left.low90 and open_end.completeness.low90 == 0
    assert open_end.rolls_left.value == sure.rolls_left.value
    assert [c.code for c in open_end.cautions if c.code == "bath.unread"] and "2 mL unknown drops" in open_end.cautions[
        -1
    ].text
    assert not [c for c in sure.cautions if c.code == "bath.unread"]
