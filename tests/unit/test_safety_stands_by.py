"""What place and neighbours add: film stock, mercury, dry explosives, pipes, tanks, open vessels in reach, asthma."""

from dataclasses import replace

import pytest

from obverse.process.catalog import substances
from obverse.safety.amounts import portion_of, told_by_things
from obverse.safety.body import heat_of_meeting_kj, liquid, powder
from obverse.safety.engine import assess
from obverse.safety.said_as import meant_by, said_words
from obverse.safety.setting import setting_for


def found(portions, setting):
    return {effect.mechanism: effect.severity for effect in assess(portions, setting)}


def grams(name, g):
    return powder(name, {name: g})


CUPBOARD = setting_for("shelf", hours=24)
NITRIC = liquid("nitric acid", {"nitric_acid": 600}, 500)


@pytest.mark.parametrize(
    ("portions", "setting", "severity"),
    [
        # Rolls by the hundred grams; one roll, cool and new; the same roll warm, lit or beside acid. (NFPA 40, as museums of film tell it.)
        ([grams("cellulose_nitrate", 500)], CUPBOARD, 4),
        ([grams("cellulose_nitrate", 40)], CUPBOARD, 3),
        ([grams("cellulose_nitrate", 40)], replace(CUPBOARD, temperature_c=35), 4),
        ([grams("cellulose_nitrate", 20)], replace(CUPBOARD, flame=True), 4),
        ([grams("cellulose_nitrate", 20), NITRIC], CUPBOARD, 4),
        # A strip in its bath burns nothing, and safety film never does so by itself.
        ([grams("cellulose_nitrate", 5), liquid("developer", {"sodium_sulfite": 50}, 500)], setting_for("mixing"), None),
        ([grams("cellulose_acetate", 500)], replace(CUPBOARD, temperature_c=35), None),
    ],
)  # fmt: skip
def test_old_film_stock_lights_itself(portions, setting, severity):
    assert severity == found(portions, setting).get("nitrate_film")


def test_spilled_mercury_is_told_and_heated_mercury_refused():
    spilled = [liquid("mercury", {"mercury": 13546}, 5)]
    assert 3 == found(spilled, setting_for("room", hours=4))["mercury_vapour"]
    assert 4 == found(spilled, replace(setting_for("room"), temperature_c=200))["mercury_vapour"]
    assert {} == found(spilled, replace(setting_for("shelf"), closed=True))


def test_a_dry_explosive_is_refused_and_a_wet_one_beside_metal():
    dry = grams("picric_acid", 20)
    assert 4 == found([dry], CUPBOARD)["dry_explosive"]
    wet = replace(dry, water_ml=20)
    assert "dry_explosive" not in found([wet], CUPBOARD)
    assert 4 == found([wet, grams("copper", 20)], CUPBOARD)["dry_explosive"]


def test_dry_chlorate_beside_sulfur_is_worse_than_permanganate_beside_paper():
    assert 4 == found([grams("potassium_chlorate", 100), grams("sulfur", 100)], CUPBOARD)["fire_chlorate"]
    assert 3 == found([grams("potassium_permanganate", 100), grams("cellulose", 100)], CUPBOARD)["fire_permanganate"]


def test_what_lies_in_excess_does_not_cool_the_place_where_fire_starts():
    few = found([grams("calcium_hypochlorite", 30), liquid("glycol", {"ethylene_glycol": 1110}, 5000)], CUPBOARD)
    assert 4 == few["fire_hypochlorite"]


def test_dithionite_on_the_shelf_heats_at_the_edge_of_any_water():
    assert 4 == found([grams("sodium_dithionite", 1000), liquid("water", {}, 9000)], CUPBOARD)["damp_dithionite"]


def test_asthma_lowers_what_is_told_and_not_what_kills():
    tray = [liquid("clearing bath", {"sodium_metabisulfite": 25}, 500)]
    evening = setting_for("room")
    assert {} == found(tray, evening)
    assert {"acid_sulfite": 2} == found(tray, told_by_things(evening, ["asthma"]))


def test_two_open_vessels_are_told_where_a_splash_could_kill():
    bleach = liquid("chlorine bleach", {"sodium_hypochlorite": 54}, 1000)
    open_beside = found([bleach, liquid("acid", {"hydrochloric_acid": 105}, 1000)], setting_for("room"))
    assert 2 == open_beside["hypochlorite_acid"]
    assert {} == found([bleach, liquid("soda", {"sodium_carbonate": 30}, 1000)], setting_for("room"))


def test_a_trap_holds_water_so_granules_of_lye_boil_there():
    assert found([grams("sodium_hydroxide", 250)], setting_for("drain"))["heat"] >= 3
    assert {} == found([grams("sodium_hydroxide", 250)], setting_for("shelf"))


@pytest.mark.parametrize(
    ("what", "into_a_tank"),
    [
        (liquid("used fixer", {"ammonium_thiosulfate": 120, "silver_thiosulfate": 5}, 500), True),
        (liquid("developer", {"hydroquinone": 5, "sodium_carbonate": 30}, 1000), True),
        (liquid("washing water", {"sodium_chloride": 1}, 5000), False),
    ],
)
def test_a_septic_tank_takes_no_bath(what, into_a_tank):
    drain = setting_for("drain")
    assert "septic_tank" not in found([what], drain)
    assert into_a_tank == ("septic_tank" in found([what], told_by_things(drain, ["septic_tank"])))


def test_strong_acid_and_solvents_go_down_no_pipe():
    drain = setting_for("drain")
    assert 2 == found([liquid("battery acid", {"sulfuric_acid": 474}, 500)], drain)["drain_corrosive"]
    assert 2 == found([liquid("acetone", {"acetone": 790}, 200)], drain)["drain_fire"]
    assert {} == found([liquid("stop bath", {"acetic_acid": 20}, 1000)], drain)


def test_acid_on_soda_makes_gas_and_little_heat():
    # H+ with carbonate gives 15 kJ/mol, with lye 56 (heats of formation; handbook, from memory).
    acid = liquid("acid", {"hydrochloric_acid": 105}, 500)
    on_soda = heat_of_meeting_kj((acid, liquid("soda", {"sodium_carbonate": 150}, 500)))
    on_lye = heat_of_meeting_kj((acid, liquid("lye", {"sodium_hydroxide": 113}, 500)))
    assert on_soda < 0.4 * on_lye


def test_soda_swells_a_closed_aluminium_bottle_in_days_only():
    bottle = [liquid("soda", {"sodium_carbonate": 50}, 1000), grams("aluminium", 50)]
    closed = replace(setting_for("standing", hours=24), closed=True)
    assert "pressure" in found(bottle, closed)
    assert "pressure" not in found(bottle, replace(closed, hours=0.1))


def test_lye_that_stands_in_zinc_gives_hydrogen_in_days():
    bucket = [liquid("lye", {"sodium_hydroxide": 100}, 1000), grams("zinc", 50)]
    assert 2 == found(bucket, setting_for("standing", hours=72))["metal"]
    assert {} == found(bucket, setting_for("standing"))


def test_sulfur_that_stood_in_lye_gives_its_gas_to_acid():
    stood = [grams("sulfur", 20), liquid("lye", {"sodium_hydroxide": 40}, 500), liquid("acid", {"hydrochloric_acid": 105}, 500)]  # fmt: skip
    assert 4 == found(stood, setting_for("standing", hours=24))["acid_sulfide"]
    assert "acid_sulfide" not in found(stood, setting_for("mixing"))


def test_damp_dust_of_metal_heats_itself_and_a_sheet_does_not():
    damp = setting_for("damp", hours=24)
    assert 2 == found([powder("zinc powder", {"zinc": 200})], damp)["damp_dust"]
    assert {} == found([powder("zinc sheet", {"zinc": 200})], damp)


def test_what_the_checker_is_told_of_the_house_is_no_matter():
    assert not portion_of("asthma").moles and not portion_of("septic_tank").moles


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("my old drain opener", ("sulfuric_acid", "sodium_hydroxide", "sodium_hypochlorite")),
        ("vinegar with javel", ("acetic_acid", "sodium_hypochlorite")),
        ("sulphuric acid", ("sulfuric_acid",)),
        ("mystery salt", ()),
        ("salt", ()),
        ("old acid", ("sulfuric_acid",)),
    ],
)
def test_words_of_house_and_garden_mean_what_shops_sell(name, meant):
    assert set(meant) == set(meant_by(name))


def test_each_word_means_a_substance_that_is_known():
    assert {key for meant in said_words().values() for key in meant} <= set(substances())


@pytest.mark.parametrize(
    ("one", "other", "mechanism"),
    [
        # Seen silent once, each by the names a person types (at usual amounts).
        ("sulfuric_96", "acetone", "sulfuric_organic"),
        ("sulfuric_96", "ethanol", "sulfuric_organic"),
        ("laundry_bleach", "ethanol", "hypochlorite_alcohol"),
        ("laundry_bleach", "acetone", "haloform"),
        ("sulfuric_96", "tap_water", "water_on_acid"),
    ],
)
def test_solvents_meet_neither_strong_acid_nor_bleach(one, other, mechanism):
    assert mechanism in found([portion_of(one), portion_of(other)], setting_for("mixing"))


def test_a_solvent_is_no_water_on_acid():
    assert "water_on_acid" not in found([portion_of("sulfuric_96"), portion_of("acetone")], setting_for("mixing"))
