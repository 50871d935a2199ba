"""Dry powders, the damp, rags, metals in etchant, gases that smother: what needs no pouring together."""

from dataclasses import replace

import pytest

from obverse.safety.airborne import Room
from obverse.safety.amounts import told_by_things
from obverse.safety.body import Portion, liquid, powder
from obverse.safety.engine import assess, severity_of
from obverse.safety.release import leaving_share
from obverse.safety.setting import setting_for

SMALL = Room(6.0, 0.5)


def mechanisms(portions, setting):
    return {effect.mechanism: effect for effect in assess(portions, setting)}


def test_acid_and_carbonate_powders_burst_a_closed_jar_and_are_left_in_peace_in_an_open_bowl():
    powders = [powder("citric acid", {"citric_acid": 100}), powder("soda", {"sodium_bicarbonate": 100})]
    assert mechanisms(powders, setting_for("closed_jug", hours=500))["pressure"].severity >= 3
    assert assess(powders, setting_for("mixing")) == ()


def test_damp_acid_crystals_on_metabisulfite_give_sulfur_dioxide():
    powders = [powder("acid", {"citric_acid": 100}), powder("sulfite", {"sodium_metabisulfite": 100})]
    found = mechanisms(powders, setting_for("damp", SMALL, hours=48))
    assert found["acid_sulfite"].gas == "sulfur_dioxide"
    assert "acid_sulfite" not in mechanisms(powders[1:], setting_for("damp", SMALL, hours=48))


@pytest.mark.parametrize(("metal", "hot"), [("aluminium", True), ("zinc", True), ("iron", True), ("copper", False)])
def test_iron_chloride_heats_on_base_metals(metal, hot):
    etchant = liquid("etchant", {"iron_iii_chloride": 560}, 500)
    found = mechanisms([etchant, powder("tray", {metal: 50})], setting_for("standing", SMALL, hours=1))
    assert ("heat" in found) is hot


def test_phosphide_is_refused_with_acid():
    parts = [powder("pellets", {"aluminium_phosphide": 10}), liquid("acid", {"hydrochloric_acid": 105}, 200)]
    assert mechanisms(parts, setting_for("mixing", SMALL))["phosphide"].severity == 4


def test_dry_ice_is_refused_in_a_closed_bottle_and_in_a_small_room_and_not_in_a_hall():
    ice = powder("dry ice", {"dry_ice": 2000})
    assert severity_of(assess([ice, Portion("water", {}, 500)], setting_for("closed_jug"))) == 4
    assert severity_of(assess([ice], setting_for("room", Room(7, 0.2), hours=2))) == 4
    assert assess([ice], setting_for("room", Room(2000, 2), hours=2)) == ()


@pytest.mark.parametrize(("volume_m3", "worst"), [(6, 4), (40, 3), (400, 0)])
def test_inert_gas_is_judged_by_the_share_of_the_air_that_it_takes(volume_m3, worst):
    gas = Portion("cylinder", {"nitrogen": 200})
    assert severity_of(assess([gas], setting_for("room", Room(volume_m3, 0.5)))) == worst


def test_what_is_deadly_in_a_drink_bottle_is_refused_and_a_weak_stop_bath_is_not():
    setting = told_by_things(setting_for("shelf"), ["food_vessel"])
    deadly = powder("orange crystals", {"potassium_dichromate": 100})
    assert mechanisms([deadly], setting)["food_vessel"].severity == 4
    assert "food_vessel" not in mechanisms([deadly], setting_for("shelf"))
    assert assess([liquid("stop bath", {"citric_acid": 10}, 500)], setting) == ()


def test_soaked_rags_and_oily_rags_are_told_when_they_lie():
    rags = powder("rags", {"cellulose": 100})
    waits = setting_for("standing", hours=24)
    assert "soaked_rags" in mechanisms([liquid("stain", {"potassium_permanganate": 50}, 200), rags], waits)
    assert "oily_rags" in mechanisms([liquid("oil", {"vegetable_oil": 900}, 100), rags], waits)
    assert assess([rags], waits) == ()


def test_permanganate_carried_into_a_developer_is_told_and_what_a_rinse_leaves_is_not():
    bleach = liquid("bleach", {"potassium_permanganate": 5}, 30)
    developer = liquid("developer", {"sodium_carbonate": 30, "hydroquinone": 5, "sodium_sulfite": 50}, 500)
    carry = setting_for("carry_over")
    assert mechanisms([bleach, developer], carry)["spoils_film"].severity == 2
    assert assess([bleach.times(1e-3), developer], carry) == ()


def test_fixer_carried_into_ferricyanide_costs_the_picture():
    fixer = liquid("fixer", {"ammonium_thiosulfate": 120}, 30)
    bleach = liquid("bleach", {"potassium_ferricyanide": 20}, 500)
    assert "spoils_film" in mechanisms([fixer, bleach], setting_for("carry_over"))


@pytest.mark.parametrize(("thiosulfate_g_per_l", "told"), [(120, True), (1.2, False)])
def test_fixer_carried_into_a_developer_is_told_and_the_solvent_of_a_first_developer_is_not(thiosulfate_g_per_l, told):
    carried = liquid("before", {"ammonium_thiosulfate": thiosulfate_g_per_l}, 20)
    developer = liquid("developer", {"sodium_carbonate": 30, "hydroquinone": 5, "sodium_sulfite": 50}, 500)
    assert ("spoils_film" in mechanisms([carried, developer], setting_for("carry_over"))) is told


@pytest.mark.parametrize(
    ("carried", "word"),
    [({"ammonium_thiosulfate": 120}, "yellows"), ({"sodium_sulfite": 20}, ""), ({"ammonium_thiosulfate": 5}, "")],
)
def test_what_dries_on_a_film_that_was_not_washed_is_told(carried, word):
    parts = [liquid("before", carried, 20), liquid("last", {"nonionic_wetting_agent": 0.5}, 500)]
    told = mechanisms(parts, setting_for("carry_over"))
    assert word in told["spoils_film"].what if word else "spoils_film" not in told


@pytest.mark.parametrize(("percent", "iron_g_per_l", "told"), [(12, 50, 2), (3, 50, 0), (12, 0, 0)])
def test_peroxide_in_the_jug_of_the_iron_bleach_warms_itself(percent, iron_g_per_l, told):
    parts = [liquid("bleach", {"iron_iii_chloride": iron_g_per_l}, 1000), liquid("peroxide", {"hydrogen_peroxide": 10 * percent}, 500)]  # fmt: skip
    found = mechanisms(parts, setting_for("jug")).get("peroxide_catalysed")
    assert (found.severity if found else 0) == told


def test_dry_ice_is_for_no_narrow_neck():
    bottle = replace(setting_for("mixing"), narrow=True)
    assert mechanisms([powder("dry ice", {"dry_ice": 50})], bottle)["dry_ice_neck"].severity == 3
    assert "dry_ice_neck" not in mechanisms([powder("dry ice", {"dry_ice": 50})], setting_for("mixing"))


def test_dry_ice_in_a_room_without_a_time_lies_there_for_the_evening():
    ice = powder("dry ice", {"dry_ice": 2000})
    assert severity_of(assess([ice], setting_for("room", Room(6, 0.5)))) == 4
    assert severity_of(assess([ice.times(0.02)], setting_for("room", Room(6, 0.5)))) == 0


def test_chromium_is_told_at_the_drain_and_soda_is_not():
    drain = setting_for("drain")
    assert "drain_poison" in mechanisms([liquid("bleach", {"potassium_dichromate": 10}, 1000)], drain)
    assert assess([liquid("soda", {"sodium_carbonate": 30}, 1000)], drain) == ()


def test_two_kinds_of_pool_chlorine_are_refused():
    tub = [powder("tablets", {"trichloroisocyanuric_acid": 500}), powder("shock", {"calcium_hypochlorite": 500})]
    assert mechanisms(tub, setting_for("shelf"))["two_chlorines"].severity == 4


def test_iron_in_hypochlorite_makes_oxygen_in_the_closed_bottle():
    bleach, iron = liquid("bleach", {"sodium_hypochlorite": 130}, 1000), liquid("drops", {"iron_iii_chloride": 560}, 5)
    closed = setting_for("closed_jug", hours=24)
    assert "pressure" in mechanisms([bleach, iron], closed)
    assert assess([bleach], closed) == ()


def test_strong_peroxide_presses_by_itself_in_a_year_and_weak_does_not_in_a_month():
    strong, weak = liquid("strong", {"hydrogen_peroxide": 390}, 1000), liquid("weak", {"hydrogen_peroxide": 30}, 250)
    assert "pressure" in mechanisms([strong], setting_for("closed_jug", hours=8000))
    assert assess([weak], setting_for("closed_jug", hours=700)) == ()


def test_warm_liquid_lets_more_gas_go_and_a_small_vessel_less():
    mixing = setting_for("mixing")
    cold = leaving_share("ammonia", 1.0, 1.0, mixing)
    assert leaving_share("ammonia", 1.0, 1.0, mixing, temperature_c=60) > 2 * cold
    wide = replace(mixing, place="jug")
    assert leaving_share("ammonia", 0.1, 0.1, mixing) < leaving_share("ammonia", 0.1, 0.1, wide)
