"""A clip test against sums done another way: strength on a grid, the worn bath by simulation, and how often intervals hold."""

import math

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.process.catalog import formulas
from obverse.reference import number, record
from obverse.safety.bath_life import AS_MIXED, Pass, first_belief, forecast, learn_from_clips
from obverse.safety.clip import clip_does, clip_told, fresh_clip

FIXER, IRON = formulas()["fixer_rapid"], formulas()["bleach_iron_chloride"]


def by_grid(time_s, fresh_times_s, key):
    """Median and 90 % of the strength, and the chance of less than half: sums over a plane of (fresh time, strength)."""
    known = record(key)
    fresh = np.linspace(math.log(known.number) - 4, math.log(known.number) + 4, 1201)[:, None]
    strength = np.linspace(-3, 3, 1201)[None, :]
    reading = number("practice.clip.reading_sd")
    log_p = -0.5 * ((fresh - math.log(known.number)) / (math.log(known.factor) / 1.6449)) ** 2
    log_p = log_p + sum(-0.5 * ((math.log(t) - fresh) / reading) ** 2 for t in fresh_times_s)
    log_p = log_p - 0.5 * (strength / number("practice.clip.strength_sd")) ** 2
    log_p = log_p - 0.5 * ((math.log(time_s) - (fresh - strength)) / reading) ** 2
    p = np.exp(log_p - log_p.max()).sum(axis=0)
    along = np.cumsum(p / p.sum())
    at = [math.exp(float(strength[0, np.searchsorted(along, q)])) for q in (0.05, 0.5, 0.95)]
    return at, float(along[np.searchsorted(strength[0], -math.log(2))])


@pytest.mark.parametrize("time_s", [20, 40, 90, 300])
@pytest.mark.parametrize("fresh", [(), (30.0,), (28.0, 33.0, 31.0)])
def test_strength_is_what_a_plane_of_sums_says(time_s, fresh):
    told = clip_told(FIXER, time_s, fresh)
    (low, middle, high), weak = by_grid(time_s, fresh, "practice.clip.clear_s")
    assert told.strength.low90 == pytest.approx(low, rel=0.02)
    assert told.strength.value == pytest.approx(middle, rel=0.02)
    assert told.strength.high90 == pytest.approx(high, rel=0.02)
    assert told.weak_probability == pytest.approx(weak, abs=0.01)


def test_a_clip_twice_as_slow_as_ones_own_fresh_bath_is_the_rule_of_the_manual():
    # The printed rule: exhausted when the clearing time doubles.
    told = clip_told(FIXER, 62, (30.0, 31.0, 32.0))
    assert told.strength.value == pytest.approx(0.5, abs=0.09) and told.caution.code == "bath.clip_slow"
    assert clip_told(FIXER, 150, (30.0, 31.0, 32.0)).caution.code == "bath.clip_weak"
    assert clip_told(FIXER, 31, (30.0, 31.0, 32.0)).caution.code == "bath.clip"


def test_without_a_test_of_a_fresh_bath_much_less_is_known():
    alone, taught = clip_told(FIXER, 90), clip_told(FIXER, 90, (40.0, 40.0, 40.0))
    assert alone.strength.high90 / alone.strength.low90 > 1.5 * taught.strength.high90 / taught.strength.low90
    assert "from memory" in alone.caution.text and "3 tests of fresh baths here" in taught.caution.text


def test_nine_in_ten_intervals_hold_the_truth_and_so_do_the_chances():
    rng = np.random.default_rng(7)
    known = record("practice.clip.clear_s")
    held, said, came = 0, [], []
    for _ in range(600):
        fresh = math.log(known.number) + rng.normal() * math.log(known.factor) / 1.6449
        strength = rng.normal() * 0.5
        tests = tuple(math.exp(fresh + 0.2 * rng.normal()) for _ in range(rng.integers(0, 4)))
        told = clip_told(FIXER, math.exp(fresh - strength + 0.2 * rng.normal()), tests)
        held += told.strength.low90 <= math.exp(strength) <= told.strength.high90
        said.append(told.weak_probability)
        came.append(strength < -math.log(2))
    assert 0.86 < held / 600 < 0.94
    assert np.mean(said) == pytest.approx(np.mean(came), abs=0.03)


def worn(strength_left, area_m2=0.17, litres=0.5):
    """The clip of an iron bleach whose true exhausted share is one minus that, its fresh bath being known well."""
    belief, strength = learn_from_clips(
        first_belief(IRON), [(area_m2, 60 / strength_left)], 1000 * litres, fresh_log_s=math.log(60), fresh_sd=0.05
    )
    return forecast(IRON, [Pass(area_m2)], volume_ml=1000 * litres, belief=belief, strength=strength)


def test_a_slow_clip_makes_the_forecast_worse_and_a_quick_one_better():
    none = forecast(IRON, [Pass(0.17)], volume_ml=500)
    slow, quick = worn(0.35), worn(0.97)
    assert slow.ghost_probability > none.ghost_probability > quick.ghost_probability
    # A bath that takes three times as long will hardly do in the planned time, whatever made it slow.
    assert slow.ghost_probability > 0.5 and quick.ghost_probability < 0.1


def test_wear_and_weakness_share_a_slow_clip_as_a_sum_over_all_of_both_says():
    """Draws of everything unknown, each weighed by how well it tells the clip: no closed form in it."""
    rng = np.random.default_rng(11)
    prior, area_m2, litres, seen_s = first_belief(IRON), 0.35, 0.5, 130.0
    count = 400_000
    wear = prior.mean + prior.sd * rng.standard_normal(count)
    begun = number("practice.clip.strength_sd") * rng.standard_normal(count)
    fresh = math.log(60) + 0.3 * rng.standard_normal(count)
    carried = record("wash.retained").value["total_mL"] / 1000 / litres / record("area.135-36").number
    exhausted = np.exp(wear) * area_m2 * math.exp(area_m2 * carried) / litres
    told = fresh - begun - np.log(np.maximum(0.02, 1 - exhausted))
    weight = np.exp(-0.5 * ((math.log(seen_s) - told) / number("practice.clip.reading_sd")) ** 2)
    weight /= weight.sum()
    belief, strength = learn_from_clips(
        prior, [(area_m2, seen_s)], 1000 * litres, fresh_log_s=math.log(60), fresh_sd=0.3
    )
    for got, draws in (((belief.mean, belief.sd), wear), ((strength.log_mean, strength.log_sd), begun)):
        mean = float(weight @ draws)
        assert got[0] == pytest.approx(mean, abs=0.01)
        assert got[1] == pytest.approx(math.sqrt(float(weight @ (draws - mean) ** 2)), abs=0.01)


def test_a_small_change_of_the_clip_is_a_small_change_of_the_forecast():
    assert worn(0.5).ghost_probability == pytest.approx(worn(0.505).ghost_probability, abs=0.01)


def test_a_fresh_bath_tells_nothing_of_how_fast_it_wears_out():
    before = first_belief(IRON)
    assert learn_from_clips(before, [(0.0, 500)], 500, fresh_log_s=4.0, fresh_sd=0.2) == (before, AS_MIXED)


def test_what_shows_nothing_on_a_clip_says_so():
    assert [clip_does(formulas()[k]) for k in ("first_developer", "ammonia_bath", "acid_rinse")] == [
        "blacken",
        "clear",
        None,
    ]
    with pytest.raises(InputError, match="shows nothing on a clip"):
        fresh_clip(formulas()["acid_rinse"])
    for time_s in (0, -3, math.inf, math.nan, 4000):
        with pytest.raises(InputError, match="cannot be"):
            clip_told(FIXER, time_s)
