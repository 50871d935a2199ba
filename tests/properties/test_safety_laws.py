"""Laws of the safety floor: what no input may break."""

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.foundation import Level
from obverse.process import Rinse
from obverse.process.catalog import formulas, products
from obverse.safety import (
    check_carry_over,
    check_mixture,
    check_room,
    check_storage,
    check_waste_jug,
    known_names,
    rinse_factor,
)
from obverse.safety.airborne import Room, ammonia_in_air, purge_time_h, room_concentration_mg_m3
from obverse.safety.bath_life import Pass, first_belief, forecast, learn
from obverse.safety.hazards import hazards_of
from obverse.safety.waste import Jug, Poured, pour

NAMES = st.sampled_from(sorted(known_names()))
SEVERAL = st.lists(NAMES, min_size=1, max_size=5)
CHECKS = (check_mixture, check_storage, check_room, check_waste_jug)
LOUD = {Level.NOTE: 0, Level.CAUTION: 1, Level.DANGER: 2}
BATHS = st.sampled_from(sorted(formulas()))
LIVED = st.sampled_from(
    [
        "bleach_iron_chloride",
        "bleach_permanganate",
        "bleach_peroxide_acid",
        "bleach_dichromate",
        "ammonia_bath",
        "fixer_rapid",
    ]
)


def refused(findings):
    return {(f.pair, f.context) for f in findings if f.refused}


@settings(max_examples=60, deadline=None)
@given(SEVERAL, NAMES)
def test_adding_something_never_removes_a_refusal(names, more):
    for check in CHECKS:
        assert refused(check(*names)) <= refused(check(*names, more))


@settings(max_examples=60, deadline=None)
@given(SEVERAL, NAMES)
def test_adding_something_never_lowers_the_severity_of_a_pair(names, more):
    for check in CHECKS:
        before = {f.pair: f.severity for f in check(*names)}
        worst = {}
        for finding in check(*names, more):
            worst[finding.pair] = max(worst.get(finding.pair, 0), finding.severity)
        assert all(worst.get(pair, 0) >= severity for pair, severity in before.items())


@settings(max_examples=60, deadline=None)
@given(SEVERAL, st.randoms(use_true_random=False))
def test_the_order_of_naming_does_not_matter(names, random):
    shuffled = names[:]
    random.shuffle(shuffled)
    for check in CHECKS:
        assert {(f.pair, f.severity) for f in check(*names)} == {(f.pair, f.severity) for f in check(*shuffled)}


@settings(max_examples=60, deadline=None)
@given(BATHS, BATHS, st.integers(0, 5), st.integers(1, 4))
def test_more_rinse_never_more_hazard(first, second, fills, more):
    def loudest(n):
        worst = {}
        for f in check_carry_over(first, second, Rinse(fills=(10,) * n, acidified=True)):
            worst[f.pair] = max(worst.get(f.pair, 0), LOUD[f.level])
        return worst

    less_rinsed, more_rinsed = loudest(fills), loudest(fills + more)
    assert all(more_rinsed.get(pair, 0) <= level for pair, level in less_rinsed.items())
    assert more_rinsed.keys() <= less_rinsed.keys()


@given(st.integers(0, 8), st.floats(0.1, 200), st.floats(50, 2000))
def test_rinse_is_a_power_of_one_fill(fills, retained_ml, fill_ml):
    one = rinse_factor(Rinse(fills=(5,)), retained_ml=retained_ml, fill_ml=fill_ml)
    assert math.isclose(
        rinse_factor(Rinse(fills=(5,) * fills), retained_ml=retained_ml, fill_ml=fill_ml), one**fills, rel_tol=1e-9
    )
    assert 0 < one < 1


@given(st.floats(1, 1e4), st.floats(1, 100), st.floats(0, 20), st.floats(0, 20), st.floats(0, 4))
def test_more_air_never_more_gas(grams, volume, changes, more, hours):
    less_air = room_concentration_mg_m3(grams, volume, changes, hours)
    assert room_concentration_mg_m3(grams, volume, changes + more, hours) <= less_air * (1 + 1e-9) + 1e-12
    assert 0 <= less_air <= grams * hours / volume * (1 + 1e-9)


@settings(deadline=None)
@given(st.floats(1, 200), st.floats(0, 30), st.floats(0, 6), st.floats(0, 0.1), st.floats(0, 120))
def test_air_estimate_is_ordered_and_never_says_safe(volume, changes, strength, surface, minutes):
    shown = ammonia_in_air(Room(volume, changes), strength, surface, minutes)
    assert 0 <= shown.ppm_room[0] <= shown.ppm_room[1] <= shown.ppm_room[2] <= shown.ppm_near[2]
    assert any(c.code == "air.estimate" for c in shown.cautions)
    for limit in shown.limits:
        assert limit.passed == (shown.ppm_near[2] >= limit.ppm)


@given(st.floats(1.1, 1e5), st.floats(0.01, 1), st.floats(0.1, 50))
def test_purging_really_arrives(start, share, changes):
    hours = purge_time_h(start, start * share, changes)
    assert math.isclose(room_concentration_mg_m3(0, 10, changes, hours, start_mg_m3=start), start * share, rel_tol=1e-6)


@settings(max_examples=60, deadline=None)
@given(LIVED, st.integers(0, 25), st.floats(200, 3000), st.floats(0.5, 3))
def test_another_film_never_makes_a_bath_fresher(key, films, volume_ml, ratio):
    formula = formulas()[key]
    now, then = (
        forecast(formula, [Pass(0.0577)] * n, volume_ml=volume_ml, time_ratio=ratio) for n in (films, films + 1)
    )
    assert then.ghost_probability >= now.ghost_probability
    assert then.completeness.value <= now.completeness.value + 1e-12
    assert then.rolls_left.value <= now.rolls_left.value


@settings(max_examples=60, deadline=None)
@given(LIVED, st.lists(st.booleans(), min_size=1, max_size=10), st.floats(200, 3000))
def test_a_clean_film_never_lowers_and_a_ghost_never_raises_the_hope(key, seen, volume_ml):
    prior = first_belief(formulas()[key])
    passes = [Pass(0.0577, ghost=g) for g in seen]
    learned = learn(prior, passes, volume_ml)
    assert learned.sd <= prior.sd * (1 + 1e-9)
    turned = learn(prior, [*passes[:-1], Pass(0.0577, ghost=not seen[-1])], volume_ml)
    assert (turned.mean <= learned.mean) == seen[-1] or math.isclose(turned.mean, learned.mean, abs_tol=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.sampled_from(["fixer_rapid", "second_developer", "wash_aid_sulfite", "wetting_bath"]), max_size=6),
    st.floats(1, 100),
)
def test_pouring_conserves_volume_and_silver(whats, each):
    jug = Jug(letter="F", name="jug", capacity_ml=5000)
    for what in whats:
        jug = pour(jug, Poured(what=what, volume_ml=each, silver_low_g=0.1, silver_likely_g=0.2, silver_high_g=0.3))
    assert math.isclose(jug.volume_ml, each * len(whats))
    assert math.isclose(jug.silver_g.high, 0.3 * len(whats))


@given(st.sampled_from(sorted(products())))
def test_no_sheet_says_safe(key):
    assert "safe" not in str(hazards_of(key).document()).replace("safety data sheet", "")
