"""What place and neighbours add: film stock, mercury, dry explosives, pipes, tanks, open vessels in reach, asthma."""

from dataclasses import replace
from typing import get_args

import pytest

from obverse.process.catalog import substances
from obverse.safety.airborne import Room
from obverse.safety.amounts import portion_of, told_by_things
from obverse.safety.body import Portion, heat_of_meeting_kj, liquid, powder
from obverse.safety.engine import assess
from obverse.safety.release import gas_severity
from obverse.safety.said_as import bare_metal, meant_by, said_words
from obverse.safety.setting import Place, setting_for


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
    assert 3 == few["fire_hypochlorite"]
    assert (
        4
        == found([grams("calcium_hypochlorite", 100), liquid("glycol", {"ethylene_glycol": 1110}, 5000)], CUPBOARD)[
            "fire_hypochlorite"
        ]
    )


@pytest.mark.parametrize(("portions", "place", "told"), [
    # Two jars that would have to break, of little and of much.
    ([grams("potassium_permanganate", 25), liquid("glycerol", {"glycerol": 1255}, 100)], "shelf", {"fire_permanganate": 3}),
    ([grams("potassium_permanganate", 100), liquid("glycerol", {"glycerol": 1255}, 250)], "shelf", {"fire_permanganate": 4}),
    ([grams("potassium_chlorate", 200), grams("sulfur", 5)], "shelf", {"fire_chlorate": 3}),
    # Lye eats its tin, and powder beside it; a roll of foil beside it stays dry.
    ([grams("sodium_hydroxide", 500), powder("aluminium tin", {"aluminium": 50})], "shelf", {"lye_on_a_tin": 3}),
    ([grams("sodium_hydroxide", 500), powder("aluminium powder", {"aluminium": 50})], "shelf", {"lye_on_a_tin": 3}),
    ([grams("sodium_hydroxide", 500), powder("roll of foil", {"aluminium": 50})], "shelf", {}),
    # Froth throws what bites: glacial acid and not vinegar, strong acid and not a thin etchant.
    ([liquid("glacial", {"acetic_acid": 1049}, 100), liquid("soda", {"sodium_carbonate": 200}, 300)], "mixing", {"foam": 2}),
    ([liquid("vinegar", {"acetic_acid": 52}, 1000), liquid("soda", {"sodium_carbonate": 200}, 300)], "mixing", {"foam": None}),
    ([liquid("etch", {"iron_iii_chloride": 20}, 1000), liquid("soda", {"sodium_carbonate": 100}, 400)], "jug", {}),
    ([grams("sodium_carbonate_decahydrate", 250), liquid("glacial", {"acetic_acid": 1049}, 250)], "drain", {"foam": 2}),
    ([grams("sodium_bicarbonate", 50), liquid("essence", {"acetic_acid": 258}, 100)], "drain", {"foam": None}),
    ([grams("sodium_hydroxide", 50), liquid("spirit", {"ethanol": 770}, 500)], "mixing", {"lye_in_spirit": 2}),
    ([grams("sodium_hydroxide", 50), liquid("water", {}, 500)], "mixing", {"lye_in_spirit": None}),
    ([liquid("formalin", {"formaldehyde": 400}, 20), liquid("bleach", {"potassium_permanganate": 2}, 500)], "carry_over", {"formaldehyde_poured": 2}),
    ([liquid("formalin", {"formaldehyde": 400}, 5), liquid("bleach", {"potassium_permanganate": 2}, 500)], "carry_over", {"formaldehyde_poured": None}),
    ([liquid("formic acid", {"formic_acid": 1020}, 250)], "room", {"acid_fumes": 3}),
    ([liquid("descaler", {"formic_acid": 100}, 250)], "room", {}),
    # Crystals give their gas where they land; iron that shows as rust, and a trace; acid that fumes at ammonia, and one that does not.
    ([grams("sodium_carbonate_decahydrate", 60), liquid("acid", {"acetic_acid": 200}, 500)], "mixing", {"foam": 2}),
    ([grams("sodium_carbonate_decahydrate", 40), liquid("acid", {"acetic_acid": 200}, 500)], "mixing", {"foam": None}),
    ([liquid("etch", {"iron_iii_chloride": 100}, 10), liquid("ammonia", {"ammonia": 30}, 500)], "carry_over", {"spoils_film": 2}),
    ([liquid("etch", {"iron_iii_chloride": 100}, 2), liquid("ammonia", {"ammonia": 30}, 500)], "carry_over", {"spoils_film": None}),
    ([liquid("acid", {"hydrochloric_acid": 357}, 500), liquid("ammonia", {"ammonia": 227}, 250)], "shelf", {"heat": 3}),
    ([liquid("acid", {"hydrochloric_acid": 105}, 500), liquid("ammonia", {"ammonia": 227}, 250)], "shelf", {"heat": None}),
    ([liquid("spirit", {"methanol": 792}, 200, density_g_per_ml=0.792)], "room", {"solvent_dizzy": 2}),
    ([liquid("spirit", {"methanol": 792}, 2, density_g_per_ml=0.792)], "room", {"solvent_dizzy": None}),
    ([liquid("spent developer", {"sodium_sulfite": 50, "sodium_carbonate": 30, "hydroquinone": 5}, 1000), liquid("stop", {"citric_acid": 50}, 700)], "closed_jug", {"pressure": 3}),
    ([liquid("fresh developer", {"sodium_sulfite": 50, "sodium_carbonate": 30, "hydroquinone": 5}, 1000), liquid("stop", {"citric_acid": 50}, 700)], "closed_jug", {"pressure": None}),
])  # fmt: skip
def test_amounts_and_strength_decide_what_is_told(portions, place, told):
    got = found(portions, setting_for(place))
    assert told == ({mechanism: got.get(mechanism) for mechanism in told} if told else got)


def test_sulfur_is_told_where_it_burns_and_a_wick_in_the_drawer_is_not():
    wick = [grams("sulfur", 3)]
    room = setting_for("room", Room(20, 0.3))
    assert {"burning_sulfur": 3} == found(wick, replace(room, flame=True))
    assert {} == found(wick, room)


def test_what_stands_tells_by_its_hours():
    closed = setting_for("closed_jug", hours=24)
    borohydride = [grams("sodium_borohydride", 10), liquid("water", {}, 900)]
    glass = replace(closed, headspace_ml=100, glass=True)
    a_day = [found(borohydride, replace(glass, hours=hours))["pressure"] for hours in (24, 0.01)]
    assert [4, 3] == a_day
    toner = [liquid("hypo", {"sodium_thiosulfate": 200}, 1000), liquid("alum", {"potassium_alum": 40}, 1000)]
    warm = replace(setting_for("standing", Room(6, 1), hours=3), temperature_c=50)
    assert {"acid_sulfite": 2} == found(toner, warm)
    assert {} == found(toner, replace(warm, temperature_c=20))
    assert {} == found([*toner, grams("sodium_sulfite", 15)], warm)
    persulfate = [grams("ammonium_persulfate", 100), liquid("water", {}, 900)]
    assert 3 == found(persulfate, replace(closed, hours=6, temperature_c=70))["pressure"]
    assert {} == found(persulfate, replace(closed, hours=6))
    sealed = [liquid("ammonium", {"ammonium_chloride": 100}, 500), liquid("lye", {"sodium_hydroxide": 100}, 500)]
    assert 2 == found(sealed, replace(closed, hours=0))["lye_on_ammonium"]
    petrol = [liquid("petrol", {"petrol": 740}, 500, density_g_per_ml=0.74)]
    assert 2 == found(petrol, replace(closed, temperature_c=35))["warm_vapour"]
    assert {} == found(
        [liquid("spirit", {"white_spirit": 780}, 500, density_g_per_ml=0.78)], replace(closed, temperature_c=35)
    )


def test_what_comes_in_pinches_comes_in_whiffs_and_a_hardener_goes_on_all_night():
    waste = liquid("waste", {"potassium_dichromate": 10, "sulfuric_acid": 20}, 300)
    jug = setting_for("jug", Room(15, 3))
    pinches = [found([waste, replace(grams("sodium_sulfite", 6), at_once=once)], jug) for once in (True, False)]
    assert [{"acid_sulfite": 2}, {}] == pinches
    tray = [liquid("hardener", {"formaldehyde": 10}, 1000)]
    night = setting_for("standing", Room(15, 0.5), hours=8)
    assert [{"formaldehyde": 2}, {}] == [found(tray, replace(night, hours=hours)) for hours in (8, 0.25)]


def test_a_cupboard_stings_where_a_room_would_kill_and_slow_poison_is_refused_early():
    bottles = [liquid("ammonia", {"ammonia": 227}, 1000), liquid("acid", {"hydrochloric_acid": 357}, 1000)]
    severities = [found(bottles, setting_for("shelf", Room(m3, 0.1))).get("ammonia") for m3 in (0.5, 1.1)]
    assert [None, 4] == severities
    assert [3, 4] == [gas_severity("nitrogen_dioxide", ppm, setting_for("room")) for ppm in (12.4, 12.6)]


@pytest.mark.parametrize(
    ("gas", "place", "cautioned_ppm", "refused_ppm"),
    [
        # What stings drives out whoever bends over it: the mean of the room decides.
        ("sulfur_dioxide", "jug", 99, 101), ("chlorine", "mixing", 27, 29), ("chloramine", "drain", 27, 29), ("bromine", "jug", 11, 13),
        # Until it strikes down at once where he bends.
        ("ammonia", "jug", 830, 840),
        # The nose warns of hydrogen sulfide up to 100 ppm, and of prussic acid never.
        ("hydrogen_sulfide", "carry_over", 33, 34), ("hydrogen_cyanide", "mixing", 6.9, 7.1),
        # Beside an open vessel that stings nobody stays half an hour.
        ("hydrogen_chloride", "room", 610, 630), ("hydrogen_sulfide", "room", 58, 60),
    ],
)  # fmt: skip
def test_what_kills_is_refused_and_what_only_hurts_is_a_caution(gas, place, cautioned_ppm, refused_ppm):
    setting = setting_for(place)
    assert [3, 4] == [gas_severity(gas, ppm, setting) for ppm in (cautioned_ppm, refused_ppm)]


def test_with_asthma_sulfur_dioxide_kills_sooner_and_over_brown_gas_nobody_bends_for_half_an_hour():
    asthma = replace(setting_for("jug"), asthma=True)
    assert [3, 4] == [gas_severity("sulfur_dioxide", ppm, asthma) for ppm in (29, 31)]
    assert [3, 4] == [gas_severity("nitrogen_dioxide", ppm, setting_for("mixing")) for ppm in (11, 13)]


HAND, MOUTH = ["bare_hands"], ["food_vessel"]


@pytest.mark.parametrize(
    ("portion", "things", "mechanism", "severity"),
    [
        # What poisons through a wet hand, and what only burns it.
        (liquid("etch", {"ammonium_bifluoride": 90}, 500), HAND, "through_the_skin", 4), (liquid("etch", {"ammonium_bifluoride": 20}, 500), HAND, "through_the_skin", None),
        (liquid("etch", {"ammonium_bifluoride": 90, "sodium_hydroxide": 150}, 500), HAND, "through_the_skin", None), (liquid("spray", {"nicotine": 60}, 100), HAND, "through_the_skin", 4),
        (liquid("colour developer", {"colour_developing_agent": 5, "sodium_carbonate": 30}, 1000), HAND, "bare_hands", 2), (liquid("essence", {"acetic_acid": 600}, 100), HAND, "bare_hands", 2),
        (liquid("stop", {"acetic_acid": 20}, 1000), HAND, "bare_hands", None), (liquid("vitamin", {"ascorbic_acid": 30}, 500), HAND, "bare_hands", None), (grams("citric_acid", 100), HAND, "bare_hands", None),
        (liquid("fixer", {"ammonium_thiosulfate": 600}, 500), HAND, "bare_hands", None), (grams("dry_ice", 100), HAND, "bare_hands", 2), (liquid("azide", {"sodium_azide": 5}, 100), HAND, "bare_hands", 2),
        # Ammonia burns the gullet, its salts and a vitamin do not; flakes of sulfide, baryta and pH-minus do.
        (liquid("ammonia", {"ammonia": 90}, 500), MOUTH, "food_vessel", 4), (grams("ammonium_chloride", 100), MOUTH, "food_vessel", 2), (grams("ascorbic_acid", 100), MOUTH, "food_vessel", None),
        (grams("sodium_sulfide", 100), MOUTH, "food_vessel", 4), (grams("iron_ii_sulfide", 100), MOUTH, "food_vessel", 2), (grams("barium_sulfide", 100), MOUTH, "food_vessel", 4),
        (grams("potassium_bisulfate", 100), MOUTH, "food_vessel", 4), (liquid("silver mud", {"silver_sulfide": 150}, 300), MOUTH, "food_vessel", 2), (grams("sodium_borohydride", 50), MOUTH, "food_vessel", 4),
    ],
)  # fmt: skip
def test_what_a_hand_and_a_gullet_do_not_bear(portion, things, mechanism, severity):
    assert severity == found([portion], told_by_things(setting_for("standing", Room(15, 1)), things)).get(mechanism)


def test_amounts_decide_what_kills_of_fire_heat_and_damp():
    # A dithionite that heats itself is told from a spoonful, and refused where a tenth of it fills the room.
    damp = {
        g: found([grams("sodium_dithionite", g)], setting_for("damp", Room(15, 0.5), hours=12)).get("damp_dithionite")
        for g in (5, 10, 200, 400)
    }
    assert {5: None, 10: 3, 200: 3, 400: 4} == damp
    cloth = {
        g: found([powder("cloth", {"sodium_chlorate": g, "cellulose": 60})], setting_for("damp", hours=24)).get(
            "soaked_rags"
        )
        for g in (20, 80)
    }
    assert {20: 3, 80: 4} == cloth
    lye = liquid("acid drain opener", {"sulfuric_acid": 1760}, 300)
    blocked = {
        g: found([grams("sodium_hydroxide", g), liquid("water", {}, 100), lye], setting_for("drain")).keys()
        & {"eruption", "heat"}
        for g in (60, 250)
    }
    assert {60: {"heat"}, 250: {"eruption"}} == blocked
    # A little pool chlorine that lights itself on a shelf burns by itself; poured over in a beaker it is breathed.
    glycol = liquid("glycol", {"ethylene_glycol": 1110}, 30, density_g_per_ml=1.11)
    lit = {
        place: found([grams("calcium_hypochlorite", 30), glycol], setting_for(place)).get("burning_hypochlorite")
        for place in ("shelf", "mixing")
    }
    assert {"shelf": None, "mixing": 4} == lit
    # Gas that burns kills where the room is full of it.
    tin = {
        m3: found(
            [grams("calcium_carbide", 200), liquid("water", {}, 100)], setting_for("damp", Room(m3, 0.5), hours=12)
        ).get("carbide")
        for m3 in (6, 2)
    }
    assert {6: 2, 2: 4} == tin


def test_peroxide_takes_chlorine_back_soda_keeps_sulfur_dioxide_and_copper_frees_cyanogen():
    peroxide = liquid("peroxide", {"hydrogen_peroxide": 330}, 250)
    salts = {
        key: found([peroxide, grams(key, 200)], setting_for("mixing")).get("peroxide_chloride")
        for key in ("iron_iii_chloride_hexahydrate", "iron_iii_sulfate")
    }
    assert {"iron_iii_chloride_hexahydrate": 3, "iron_iii_sulfate": None} == salts
    wash = [grams("sodium_percarbonate", 50), liquid("clearing bath", {"sodium_metabisulfite": 100}, 300)]
    assert "hot_sulfite" not in found(wash, setting_for("mixing"))
    cyanide = liquid("cyanide", {"potassium_cyanide": 5}, 200)
    assert 4 == found([cyanide, liquid("copper bleach", {"copper_ii_sulfate": 60}, 300)], setting_for("jug")).get(
        "cyanide_dose"
    )
    assert "nitric_organic" in found(
        [liquid("nitric", {"nitric_acid": 700}, 100), liquid("formic", {"formic_acid": 680}, 100)],
        setting_for("mixing"),
    )
    # Where all of it stands dissolved the air takes it; of what water does not dissolve it takes none.
    night = setting_for("standing", Room(8, 0.5), hours=24)
    assert [2, None] == [
        found([liquid("s", {key: 30}, 500)], night).get("air_on_salts") for key in ("sodium_sulfide", "iron_ii_sulfide")
    ]


@pytest.mark.parametrize(
    ("portions", "place", "mechanism", "severity"),
    [
        # Oxidisers beside what the lists of their fires had left out.
        ([grams("calcium_hypochlorite", 50), powder("aluminium powder", {"aluminium": 20})], "mixing", "fire_hypochlorite", 4),
        ([grams("sodium_chlorate", 50), grams("thiourea_dioxide", 50)], "mixing", "fire_chlorate", 4), ([grams("sodium_chlorate", 500), grams("urea", 500)], "shelf", "fire_chlorate", 3),
        ([grams("chromium_trioxide", 30), grams("cellulose", 50)], "mixing", "fire_dichromate", 3), ([grams("potassium_dichromate", 30), grams("cellulose", 50)], "mixing", "fire_dichromate", None),
        ([liquid("perchloric acid", {"perchloric_acid": 1170}, 50), grams("hydroquinone", 50)], "mixing", "fire_perchlorate", 4),
        # Sulfite has no gas to give that heat could drive out, metabisulfite has.
        ([liquid("peroxide", {"hydrogen_peroxide": 333}, 200), grams("sodium_sulfite", 50)], "mixing", "hot_sulfite", None),
        ([liquid("peroxide", {"hydrogen_peroxide": 333}, 200), grams("sodium_metabisulfite", 50)], "mixing", "hot_sulfite", 4),
        ([grams("sodium_nitrite", 50), grams("ammonium_chloride", 50)], "jug", "ammonium_nitrite", 3), ([grams("sodium_nitrite", 50), grams("ammonium_chloride", 50)], "shelf", "ammonium_nitrite", None),
        # Two dry jars are no gas yet.
        ([grams("potassium_cyanide", 20), grams("ammonium_nitrate", 100)], "shelf", "cyanide_dose", 3), ([grams("potassium_cyanide", 20), grams("ammonium_nitrate", 100)], "jug", "cyanide_dose", 4),
        # Chlorine of two bottles that break drives out as sulfur dioxide does.
        ([liquid("bleach", {"sodium_hypochlorite": 50}, 30), liquid("acid", {"hydrochloric_acid": 105}, 100)], "shelf", "hypochlorite_acid", 3),
        ([liquid("bleach", {"sodium_hypochlorite": 50}, 500), liquid("acid", {"hydrochloric_acid": 105}, 500)], "shelf", "hypochlorite_acid", 4),
    ],
)  # fmt: skip
def test_what_the_tables_had_left_out_is_told_and_what_they_said_too_loudly_is_not(
    portions, place, mechanism, severity
):
    assert severity == found(portions, setting_for(place)).get(mechanism)


def test_a_plastic_bottle_splits_and_what_throws_glass_lye_scalds_or_ice_is_refused():
    closed = replace(setting_for("closed_jug", hours=72), headspace_ml=100)
    fizz = [liquid("peroxide", {"hydrogen_peroxide": 30}, 400), liquid("bleach", {"iron_iii_chloride": 30}, 100)]
    lye = [grams("aluminium", 5), liquid("lye", {"sodium_hydroxide": 40}, 800)]
    strong = [grams("aluminium", 5), liquid("lye", {"sodium_hydroxide": 200}, 800)]
    warm, hot = (
        [liquid("peroxide", {"hydrogen_peroxide": 125}, ml), liquid("bleach", {"iron_iii_chloride": 30}, 100)]
        for ml in (400, 600)
    )
    ice = [grams("dry_ice", 20), liquid("water", {}, 500)]
    assert [3, 3, 3, 4, 4, 4] == [found(each, closed)["pressure"] for each in (fizz, lye, warm, strong, hot, ice)]
    assert [4, 4] == [found(each, replace(closed, glass=True, headspace_ml=50))["pressure"] for each in (fizz, strong)]
    # The lid of a tank or tub flies off before anything bursts.
    tank = replace(setting_for("carry_over"), closed=True, headspace_ml=100, hours=1)
    assert 3 == found(hot, tank)["pressure"]


def test_heptoxide_is_no_more_than_the_acid_makes():
    tongs = [liquid("acid", {"sulfuric_acid": 1766}, 2), grams("potassium_permanganate", 250)]
    told = next(one for one in assess(tongs, setting_for("carry_over")) if one.mechanism == "manganese_heptoxide")
    assert (4, "up to 4 g") == (told.severity, told.amount)


@pytest.mark.parametrize(("name", "key"), [
    ("caustic soda crystals", "sodium_hydroxide"), ("soda crystals", "sodium_carbonate_decahydrate"), ("potash alum", "potassium_alum"),
    ("sulphuretted potash", "potassium_polysulfide"), ("chlorinated soda", "sodium_hypochlorite"),
])  # fmt: skip
def test_a_longer_name_is_not_eaten_by_a_harmless_half_of_it(name, key):
    assert (key,) == meant_by(name)


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


ROOM = setting_for("room", hours=1)
TAKEN_IN = [
    # Grams of what stands there, where, what is told of it: a load that harms, and a trifle that does not.
    (grams("charcoal", 1000), told_by_things(ROOM, ["flame"]), {"glowing": 4}),
    (grams("charcoal", 1000), ROOM, {}),
    (grams("charcoal", 20), told_by_things(ROOM, ["flame"]), {}),
    (liquid("stripper", {"dichloromethane": 1064}, 500), ROOM, {"dichloromethane": 3}),
    (liquid("stripper", {"dichloromethane": 1064}, 500), setting_for("room", Room(2.5, 0.5)), {"dichloromethane": 4}),
    (liquid("stripper", {"dichloromethane": 1330}, 1000), setting_for("room", Room(5, 0.3)), {"dichloromethane": 4}),
    (liquid("stripper", {"dichloromethane": 1064}, 500), CUPBOARD, {}),
    (grams("iodine", 50), replace(ROOM, temperature_c=60), {"iodine_vapour": 3}),
    (grams("iodine", 50), setting_for("shelf"), {}),
    (grams("sodium_chloride", 5), told_by_things(ROOM, ["germicidal_lamp"]), {"germicidal_lamp": 3}),
    (liquid("film cleaner", {"tetrachloroethylene": 1620}, 5), setting_for("mixing"), {}),
    # Carbon tetrachloride is poison long before it stupefies; as much trichloroethylene is cautioned.
    (liquid("stain remover", {"carbon_tetrachloride": 1590}, 250), setting_for("room", Room(10, 0.5)), {"carbon_tetrachloride": 4}),
    (liquid("stain remover", {"trichloroethylene": 1460}, 250), setting_for("room", Room(10, 0.5)), {"trichloroethylene": 3}),
    (liquid("white spirit", {"white_spirit": 780}, 50), setting_for("room", Room(10, 0.3)), {"solvent_dizzy": 2}),
    (liquid("white spirit", {"white_spirit": 780}, 10), setting_for("room", Room(30, 1)), {}),
    (grams("thiourea_dioxide", 10), setting_for("damp", hours=500), {}),
    (grams("thiourea_dioxide", 250), setting_for("damp", hours=500), {"damp_dithionite": 3}),
    (grams("sodium_chlorate", 500), replace(CUPBOARD, temperature_c=70), {"warm_chlorate": 3}),
    (grams("sodium_chlorate", 500), CUPBOARD, {}),
    (liquid("spirit", {"methanol": 700}, 500), replace(CUPBOARD, food_vessel=True), {"food_vessel": 4}),
    (liquid("cleaner", {"trichloroethylene": 1460}, 100), setting_for("drain"), {"drain_poison": 2}),
    (grams("sodium_metabisulfite", 5000), setting_for("damp", Room(3, 0.1), hours=24), {"damp_metabisulfite": 3}),
    (grams("sodium_metabisulfite", 1000), setting_for("damp", Room(10, 0.1), hours=48), {"damp_metabisulfite": 3}),
    (grams("sodium_metabisulfite", 250), setting_for("damp", hours=24), {}),
    (grams("magnesium", 2), told_by_things(ROOM, ["flame"]), {"burning_metal": 3}),
    (grams("magnesium", 2), ROOM, {}),
    (liquid("etchant", {"iron_iii_chloride": 560}, 1000), setting_for("drain"), {"drain_corrosive": 2}),
    (liquid("iron bleach", {"iron_iii_chloride": 30}, 500), setting_for("drain"), {}),
    (liquid("etchant", {"iron_iii_chloride": 560}, 500), replace(ROOM, temperature_c=95), {"boiled_chloride": 4}),
    (liquid("antifoggant", {"potassium_thiocyanate": 200}, 500), replace(CUPBOARD, food_vessel=True), {"food_vessel": 3}),
    (liquid("dichromate", {"potassium_dichromate": 10}, 40), told_by_things(setting_for("mixing"), ["bare_hands"]), {"bare_hands": 2}),
    (liquid("stop bath", {"acetic_acid": 20}, 500), told_by_things(setting_for("mixing"), ["bare_hands"]), {}),
]  # fmt: skip


@pytest.mark.parametrize(("what", "setting", "told"), TAKEN_IN)
def test_one_thing_harms_by_its_amount_and_its_place(what, setting, told):
    assert told == found([what], setting)


HYDROCHLORIC = liquid("brick cleaner", {"hydrochloric_acid": 358}, 200)
BLEACH = {"potassium_permanganate": 5, "sulfuric_acid": 9}
WATER = liquid("water", {}, 1000)
CYANIDE = liquid("old fixer", {"potassium_cyanide": 30}, 30)
MEETING = [
    # Silver oxide falls into what ammonia there is; without any, or with a trace of silver, nothing explodes.
    ("ammoniacal_silver", 4, [powder("mud", {"silver_oxide": 15, "ammonia": 4}), liquid("water", {}, 15)], setting_for("damp", hours=48)),
    ("ammoniacal_silver", 4, [grams("silver_nitrate", 10), liquid("ammonia", {"ammonia": 10, "sodium_hydroxide": 10}, 100)], setting_for("standing", hours=12)),
    ("ammoniacal_silver", None, [grams("silver_oxide", 15), liquid("water", {}, 15)], setting_for("damp", hours=48)),
    # A cup of wet dithionite stings; a spoon, a cake, and what much water takes do not.
    ("damp_dithionite", 2, [Portion("cup", powder("", {"sodium_dithionite": 5}).moles, 3)], setting_for("damp", hours=2)),
    ("damp_dithionite", None, [Portion("spoon", powder("", {"sodium_dithionite": 2}).moles, 2)], setting_for("damp", hours=2)),
    ("damp_dithionite", None, [Portion("rinsed cup", powder("", {"sodium_dithionite": 5}).moles, 100)], setting_for("damp", hours=2)),
    # Little, but strong: over a cup of concentrate and lye one cannot breathe.
    ("lye_on_ammonium", 2, [liquid("fixer", {"ammonium_thiosulfate": 780}, 50), grams("sodium_hydroxide", 4)], setting_for("mixing", Room(10, 0.5))),
    ("lye_on_ammonium", 2, [liquid("salmiac", {"ammonium_chloride": 200}, 60), grams("potassium_hydroxide", 8)], setting_for("mixing", Room(10, 0.5))),
    ("lye_on_ammonium", None, [liquid("fixer", {"ammonium_thiosulfate": 120}, 500), grams("sodium_hydroxide", 4)], setting_for("mixing", Room(10, 0.5))),
    # Strong acid meets a heap of soda before the trap thins it; vinegar only fizzes.
    ("foam", 2, [grams("sodium_carbonate", 200), liquid("cleaner", {"hydrochloric_acid": 105}, 500)], setting_for("drain")),
    ("foam", None, [grams("sodium_bicarbonate", 50), liquid("essence", {"acetic_acid": 257}, 100)], setting_for("drain")),
    # Soda is what is swept on a spilt etchant; beside strong acid it sprays.
    ("foam", None, [grams("sodium_carbonate", 250), liquid("etchant", {"iron_iii_chloride": 560}, 100)], CUPBOARD),
    ("foam", 2, [grams("sodium_carbonate", 500), liquid("cleaner", {"hydrochloric_acid": 110}, 500)], CUPBOARD),
    # Of a closed tank the lid lifts long before a bottle bulges.
    ("spurts", 2, [liquid("soda", {"sodium_carbonate": 150}, 20), liquid("stop", {"acetic_acid": 50}, 500)], replace(setting_for("carry_over"), closed=True, headspace_ml=50)),
    ("spurts", None, [liquid("developer", {"sodium_carbonate": 30}, 20), liquid("stop", {"acetic_acid": 20}, 500)], replace(setting_for("carry_over"), closed=True, headspace_ml=50)),
    # Acid frees it before permanganate or peroxide in the same bath has destroyed it; a powder beside a powder waits for the damp.
    *(("cyanide_dose", 4, [CYANIDE, liquid("bleach", {"sulfuric_acid": 10, **oxidiser}, 500)], setting_for(place))
      for place in get_args(Place) if place != "room" for oxidiser in ({"potassium_permanganate": 10}, {"hydrogen_peroxide": 100})),
    ("cyanide_dose", 4, [grams("potassium_cyanide", 5), grams("citric_acid", 20)], setting_for("standing")),
    ("cyanide_dose", None, [CYANIDE, liquid("developer", {"sodium_sulfite": 50, "sodium_carbonate": 30}, 500)], setting_for("carry_over")),
    ("cyanide_dose", None, [CYANIDE.times(0.01), liquid("stop", {"acetic_acid": 10}, 500)], setting_for("carry_over")),
    ("acid_sulfide", 4, [liquid("toner", {"sodium_sulfide": 20}, 200), liquid("bleach", {"sulfuric_acid": 20, "potassium_permanganate": 60}, 500)], setting_for("mixing")),
    ("gas_in_tank", 2, [liquid("fogger", {"sodium_borohydride": 5}, 30), liquid("stop", {"citric_acid": 20}, 300)], setting_for("carry_over")),
    ("gas_in_tank", None, [grams("magnesium", 0.1), liquid("stop", {"citric_acid": 20}, 300)], setting_for("carry_over")),
    ("froth", 2, [grams("potassium_permanganate", 20), grams("oxalic_acid_dihydrate", 50), liquid("acid", {"sulfuric_acid": 30}, 1000)], setting_for("jug")),
    ("froth", None, [grams("potassium_permanganate", 2), grams("oxalic_acid_dihydrate", 5), liquid("acid", {"sulfuric_acid": 30}, 1000)], setting_for("jug")),
    ("pressure", 3, [grams("iron", 50), liquid("fixer", {"sodium_thiosulfate": 150, "acetic_acid": 10}, 3000)], replace(setting_for("closed_jug", hours=720), headspace_ml=2000)),
    ("pressure", None, [grams("iron", 50), liquid("fixer", {"sodium_thiosulfate": 150, "acetic_acid": 10}, 3000)], replace(setting_for("closed_jug", hours=24), headspace_ml=2000)),
    ("fire_chlorate", 4, [grams("sodium_chlorate", 500), grams("sodium_thiosulfate", 500)], CUPBOARD),
    ("fire_chlorate", None, [grams("sodium_chlorate", 1), grams("sodium_thiosulfate", 1)], CUPBOARD),
    # Of paper and dithionite with permanganate the worse one speaks.
    ("fire_permanganate", 4, [grams("potassium_permanganate", 50), grams("sodium_dithionite", 50), grams("cellulose", 50)], setting_for("mixing")),
    ("fire_permanganate", 4, [grams("potassium_permanganate", 10), liquid("spirit", {"ethanol": 700, "sulfuric_acid": 20}, 100)], setting_for("mixing")),
    ("fire_permanganate", 3, [grams("potassium_permanganate", 10), liquid("spirit", {"ethanol": 700}, 100)], setting_for("mixing")),
    ("manganese_dioxide_chloride", 4, [grams("manganese_dioxide", 2), HYDROCHLORIC], setting_for("jug", Room(5, 0.5))),
    ("permanganate_chloride", 4, [liquid("bleach", BLEACH, 2000), liquid("cleaner", {"hydrochloric_acid": 105}, 500)], setting_for("jug")),
    ("ammonia", 4, [liquid("fixer", {"ammonium_thiosulfate": 780}, 500), grams("sodium_hydroxide", 100)], setting_for("mixing")),
    ("ammonia", 2, [liquid("fixer", {"ammonium_thiosulfate": 780}, 500), liquid("lye", {"sodium_hydroxide": 200}, 500)], setting_for("mixing")),
    ("spoils_film", 2, [liquid("developer", {"hydroquinone": 5}, 250), liquid("bleach", {"potassium_dichromate": 10}, 300)], setting_for("carry_over")),
    ("spoils_film", None, [liquid("developer", {"hydroquinone": 5}, 20), liquid("bleach", {"potassium_dichromate": 10}, 300)], setting_for("carry_over")),
    # Strong acid last, into the litre that holds the permanganate, makes no heptoxide; before the water it does.
    ("manganese_heptoxide", None, [grams("potassium_permanganate", 2), WATER, liquid("acid", {"sulfuric_acid": 1766}, 10)], setting_for("mixing")),
    ("manganese_heptoxide", 4, [grams("potassium_permanganate", 2), liquid("acid", {"sulfuric_acid": 1766}, 10), WATER], setting_for("mixing")),
    ("eruption", 4, [grams("sodium_hydroxide", 250), liquid("acid", {"sulfuric_acid": 1766}, 500)], setting_for("drain")),
    ("eruption", None, [grams("sodium_hydroxide", 250), liquid("acid", {"sulfuric_acid": 100}, 500)], setting_for("drain")),
    ("lye_on_ammonium", 2, [liquid("fixer", {"ammonium_thiosulfate": 120}, 100), liquid("fogger", {"sodium_hydroxide": 20}, 500)], setting_for("carry_over")),
    ("lye_on_ammonium", None, [liquid("fixer", {"ammonium_thiosulfate": 120}, 10), liquid("fogger", {"sodium_hydroxide": 20}, 500)], setting_for("carry_over")),
    ("lye_on_ammonium", None, [liquid("fixer", {"ammonium_thiosulfate": 120}, 1000), liquid("developer", {"sodium_carbonate": 30}, 500)], setting_for("jug")),
    ("peracid", 2, [liquid("vinegar", {"acetic_acid": 50}, 500), liquid("peroxide", {"hydrogen_peroxide": 125}, 500)], setting_for("standing", hours=12)),
    ("peracid", None, [liquid("vinegar", {"acetic_acid": 50}, 500), liquid("peroxide", {"hydrogen_peroxide": 125}, 500)], setting_for("standing", hours=1)),
    ("fire_persulfate", 3, [grams("ammonium_persulfate", 50), grams("metol", 30)], setting_for("damp")),
    ("fire_persulfate", None, [grams("ammonium_persulfate", 50), grams("metol", 30)], CUPBOARD),
    ("acid_sulfite", None, [liquid("fixer", {"ammonium_thiosulfate": 780}, 1000), liquid("stop", {"acetic_acid": 640}, 500)], CUPBOARD),
    ("acid_sulfite", 4, [liquid("fixer", {"ammonium_thiosulfate": 780}, 1000), liquid("acid", {"sulfuric_acid": 474}, 500)], CUPBOARD),
    ("damp_lime", 2, [grams("calcium_oxide", 200)], setting_for("damp")),
    ("damp_lime", None, [grams("calcium_hydroxide", 200)], setting_for("damp")),
    ("damp_acid", 3, [grams("potassium_cyanide", 50), grams("citric_acid", 500)], CUPBOARD),
    ("damp_acid", None, [grams("potassium_cyanide", 50), grams("sodium_carbonate", 500)], CUPBOARD),
    # A millilitre that smells of the swimming bath.
    ("hypochlorite_acid", None, [liquid("vinegar", {"acetic_acid": 50}, 5), liquid("bleach", {"sodium_hypochlorite": 41}, 1)], setting_for("mixing", Room(10, 1))),
    ("oxidised_thiocyanate", 2, [liquid("developer", {"potassium_thiocyanate": 10}, 200), liquid("bleach", {"potassium_permanganate": 4, "sulfuric_acid": 9}, 500)], setting_for("carry_over", Room(40, 1))),
    ("pressure", 3, [grams("zinc", 20), liquid("fixer", {"ammonium_thiosulfate": 120, "acetic_acid": 10, "sodium_sulfite": 10}, 800)], setting_for("closed_jug", hours=48)),
    ("lye_on_a_tin", 3, [grams("sodium_hydroxide", 50), grams("aluminium", 50)], CUPBOARD),
    ("lye_on_a_tin", None, [grams("sodium_carbonate", 50), grams("aluminium", 50)], CUPBOARD),
    ("stopper_seizes", 2, [grams("sodium_hydroxide", 50)], replace(setting_for("shelf"), glass_stopper=True)),
    ("stopper_seizes", None, [grams("calcium_hydroxide", 50)], replace(setting_for("shelf"), glass_stopper=True)),
    # Where a bath of acid lands on dithionite; one that soda takes up, or a spoonful, does not.
    ("acid_dithionite_lands", 2, [liquid("fogger", {"sodium_dithionite": 8, "sodium_carbonate": 10}, 500), liquid("stop", {"citric_acid": 15}, 500)], setting_for("jug")),
    ("acid_dithionite_lands", None, [liquid("fogger", {"sodium_dithionite": 8, "sodium_carbonate": 50}, 500), liquid("stop", {"citric_acid": 15}, 500)], setting_for("jug")),
    ("permanganate_chloride", 2, [liquid("bleach", {"potassium_permanganate": 4}, 20), liquid("cleaner", {"hydrochloric_acid": 220}, 300)], setting_for("carry_over", Room(15, 0.5))),
    ("permanganate_chloride", None, [liquid("bleach", {"potassium_permanganate": 4}, 20), liquid("acid", {"sulfuric_acid": 50}, 300)], setting_for("carry_over", Room(15, 0.5))),
    ("oxygen_burst", 2, [liquid("bleach", {"potassium_permanganate": 5, "sulfuric_acid": 20}, 1000), liquid("peroxide", {"hydrogen_peroxide": 120}, 500)], setting_for("jug")),
    ("oxygen_burst", None, [liquid("bleach", {"potassium_permanganate": 2, "sulfuric_acid": 20}, 1000), liquid("peroxide", {"hydrogen_peroxide": 30}, 500)], setting_for("jug")),
    ("pressure", 3, [liquid("stop", {"citric_acid": 15}, 500), grams("sodium_carbonate", 30)], setting_for("closed_jug")),
    ("pressure", None, [liquid("stop", {"citric_acid": 15}, 500), liquid("developer", {"sodium_carbonate": 30}, 500)], setting_for("closed_jug")),
    ("damp_percarbonate", 2, [grams("sodium_percarbonate", 50), Portion("damp", {}, 20)], setting_for("damp")),
    ("damp_percarbonate", None, [grams("sodium_percarbonate", 50), Portion("washing water", {}, 15000)], setting_for("damp")),
    ("spilt_corrosive", 2, [liquid("etchant", {"iron_iii_chloride": 560}, 100)], replace(setting_for("room"), spilt=True)),
    ("spilt_corrosive", None, [liquid("stop", {"acetic_acid": 20}, 500)], replace(setting_for("room"), spilt=True)),
    ("ammonia", 2, [liquid("bath", {"ammonia": 5}, 1000)], setting_for("standing", Room(15, 0.5), hours=4)),
    ("ammonia", None, [liquid("fixer", {"ammonium_thiosulfate": 80}, 1000)], setting_for("standing", Room(15, 0.5), hours=4)),
    ("acid_sulfite", None, [grams("potassium_metabisulfite", 100), Portion("damp", {}, 2)], setting_for("damp", Room(10, 0.5), hours=720)),
]  # fmt: skip


@pytest.mark.parametrize(("mechanism", "severity", "portions", "setting"), MEETING)
def test_what_meets_harms_by_amount_acid_and_time(mechanism, severity, portions, setting):
    assert severity == found(portions, setting).get(mechanism)


def test_ammoniacal_silver_of_a_step_in_minutes_has_not_stood():
    used = [liquid("used ammonia bath", {"ammonia": 30, "silver_ammine_chloride": 3}, 500)]
    assert 4 == found(used, setting_for("standing"))["ammoniacal_silver"]
    assert 3 == found(used, setting_for("standing", hours=0.2))["ammoniacal_silver"]


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
        ("glycerine", ("glycerol",)),
        ("hot tap water", ("water",)),
        ("used fixer with silver", ("ammonium_thiosulfate",)),
        ("bicarbonate of soda", ("sodium_bicarbonate",)),
        ("permanganate of potash", ("potassium_permanganate",)),
        ("zinc sulfate", ("magnesium_sulfate",)),
        ("chloroform film cleaner", ("chloroform", "petrol")),
        ("muriate of iron", ("iron_iii_chloride",)),
        ("thallium(I) nitrate", ("sodium_nitrate", "mercury_ii_chloride")),
        ("lithium carbonate", ("sodium_carbonate",)),
        ("hyposulphite of soda", ("sodium_thiosulfate",)),
        ("wet film on the drying line", ("polystyrene", "cellulose")),
        ("kitchen steam", ("water",)),
        ("two wet prints", ("cellulose",)),
        ("tongs", ("polystyrene",)),
        ("candle", ("vegetable_oil",)),
        # Of what is on or in it nothing is known.
        ("dirty tray", ()),
        ("film cleaner of grandfather", ("petrol",)),
        ("light crystals", ()),
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


BLEACH, SOUR = liquid("bleach", {"sodium_hypochlorite": 54}, 50), liquid("stop", {"citric_acid": 15}, 300)
SPIRIT, GAS = liquid("petrol", {"petrol": 740}, 30, density_g_per_ml=0.74), grams("butane", 15)
HARDENER = liquid("hardener", {"isocyanate": 1100}, 20)


@pytest.mark.parametrize(
    ("portions", "place", "changes", "mechanism", "severity"),
    [
        # Much water between the two has taken the first along, a glass has not.
        ([BLEACH, liquid("tap", {}, 20000), SOUR], "drain", {}, "hypochlorite_acid", None), ([BLEACH, liquid("tap", {}, 200), SOUR], "drain", {}, "hypochlorite_acid", 3),
        # A light solvent comes back up where hot water or a flame is near.
        ([SPIRIT, liquid("water", {}, 1000)], "drain", {"temperature_c": 65.0}, "drain_flash", 3), ([SPIRIT, liquid("water", {}, 1000)], "drain", {}, "drain_flash", None),
        ([GAS], "room", {"flame": True}, "jet_of_gas", 3), ([GAS], "room", {}, "jet_of_gas", None),
        ([HARDENER], "room", {"asthma": True}, "isocyanate", 3), ([HARDENER], "room", {}, "isocyanate", None),
        # A small spill burns beside a flame where its vapour burns in the cold too.
        ([liquid("acetone", {"acetone": 790}, 20, density_g_per_ml=0.79)], "room", {"flame": True, "spilt": True, "breathing_min": 60.0}, "solvent_vapour", 3),
        # What stands open for hours gathers, and its acid follows the gas.
        ([liquid("toner", {"ammonium_sulfide": 200}, 500)], "standing", {"hours": 6.0, "breathing_min": 60.0}, "acid_sulfide", 4),
        ([liquid("toner", {"ammonium_sulfide": 200}, 500)], "standing", {"hours": 0.25}, "acid_sulfide", 3),
        ([liquid("lye", {"sodium_hydroxide": 100}, 1000)], "standing", {"temperature_c": 95.0, "hours": 3.0}, "hot_caustic", 3), ([liquid("lye", {"sodium_hydroxide": 100}, 1000)], "standing", {}, "hot_caustic", None),
        # Two grams of iodine take a finger, less of it bangs.
        ([grams("iodine", 5), liquid("ammonia", {"ammonia": 96}, 100)], "jug", {}, "nitrogen_iodide", 4), ([grams("iodine", 1), liquid("ammonia", {"ammonia": 96}, 100)], "jug", {}, "nitrogen_iodide", 3),
        # Nobody stands over a shelf.
        ([grams("sodium_hydroxide", 500), liquid("acid", {"sulfuric_acid": 470}, 1000)], "shelf", {}, "eruption", 3), ([grams("sodium_hydroxide", 500), liquid("acid", {"sulfuric_acid": 470}, 1000)], "drain", {}, "eruption", 4),
        # Chalk does not dissolve in a fixer, and is strewn on thin acid.
        ([grams("calcium_carbonate", 20), liquid("fixer", {"ammonium_thiosulfate": 120}, 500)], "mixing", {}, "lye_on_ammonium", None), ([grams("sodium_carbonate", 20), liquid("fixer", {"ammonium_thiosulfate": 120}, 500)], "mixing", {}, "lye_on_ammonium", 2),
        ([grams("calcium_carbonate", 1000), liquid("cleaner", {"hydrochloric_acid": 105}, 500)], "shelf", {}, "foam", None), ([grams("sodium_carbonate", 1000), liquid("cleaner", {"hydrochloric_acid": 105}, 500)], "shelf", {}, "foam", 2),
        # Strong acid breaks an iron cyanide; strong hydrochloric acid fumes into water.
        ([grams("potassium_ferrocyanide", 20), liquid("acid", {"nitric_acid": 900}, 200)], "mixing", {}, "acid_ferricyanide", 2),
        ([liquid("bleach", {"potassium_ferricyanide": 50, "sulfuric_acid": 50}, 500)], "mixing", {}, "acid_ferricyanide", 2), ([liquid("bleach", {"potassium_ferricyanide": 50, "sulfuric_acid": 15}, 500)], "mixing", {}, "acid_ferricyanide", None),
        ([liquid("water", {}, 1000), liquid("acid", {"hydrochloric_acid": 358}, 300)], "mixing", {}, "acid_poured", 2),
        # A hand in the first bath is in all of its strength, whatever it is carried into.
        ([liquid("etch", {"ammonium_bifluoride": 120}, 20), liquid("rinse", {}, 500)], "carry_over", {"bare_hands": True}, "through_the_skin", 4),
    ],
)  # fmt: skip
def test_what_a_drain_a_flame_asthma_and_hours_do(portions, place, changes, mechanism, severity):
    setting = replace(setting_for(place, Room(8, 0.5)), **changes)
    assert severity == found(portions, setting).get(mechanism)


@pytest.mark.parametrize(
    ("name", "metal"),
    [("old copper turnings", "copper"), ("lead plate", "lead"), ("calcium turnings", "magnesium"), ("sodium powder", None), ("copper sulfate powder", None), ("iron tablets", None)],
)  # fmt: skip
def test_a_metal_is_known_by_its_shape(name, metal):
    assert metal == bare_metal(name)


@pytest.mark.parametrize("name", ["film silver", "metallic silver", "silver image"])
def test_silver_as_metal_is_no_silver_of_an_ammonia_bath(name):
    assert ("silver",) == meant_by(name)
