"""Classes of harm that single situations belonged to, each tried on neighbours of it with other amounts, and on ordinary ones."""

from dataclasses import replace

import pytest

from benchmarks.hazard_situations import key_of, named_strengths, read
from obverse.safety.airborne import Room
from obverse.safety.body import Portion, liquid, powder
from obverse.safety.engine import assess
from obverse.safety.setting import setting_for

ROOM = Room(8, 0.5)


def rapid(ml, **more):
    return liquid("rapid fixer", {"ammonium_thiosulfate": 120, **more}, ml)


def damp(grams, water_ml):
    return Portion("tin", powder("tin", grams).moles, water_ml)


def worst_of(portions, mechanism, place, hours=0.0):
    return max((e.severity for e in assess(portions, setting_for(place, ROOM, hours=hours)) if e.mechanism == mechanism), default=0)  # fmt: skip


@pytest.mark.parametrize(
    ("base", "told"),
    [
        (liquid("lye", {"sodium_hydroxide": 80}, 200), 2),
        (liquid("cleaner", {"sodium_metasilicate": 50}, 500), 2),
        (powder("soda", {"potassium_carbonate": 100}), 2),
        (liquid("lith developer", {"sodium_hydroxide": 10, "sodium_sulfite": 30, "hydroquinone": 10}, 300), 0),
        (liquid("developer", {"sodium_carbonate": 30, "sodium_sulfite": 50, "hydroquinone": 5}, 500), 0),
    ],
)
def test_what_alkali_frees_of_ammonium_is_told_though_ammonium_is_in_excess(base, told):
    assert told == worst_of([rapid(1000), base], "lye_on_ammonium", "jug", hours=1)


@pytest.mark.parametrize(("grams", "told"), [(5, 0), (10, 3), (25, 3)])
def test_damp_dithionite_heats_itself_from_a_heaped_spoon_on(grams, told):
    assert told == worst_of([damp({"sodium_dithionite": grams}, 2)], "damp_dithionite", "damp")


def test_a_buffer_frees_hydrogen_sulfide_again_as_it_leaves():
    strong = [liquid("toner", {"ammonium_sulfide": 200}, 300)]
    setting = setting_for("standing", ROOM, hours=2)
    gas = next(e for e in assess(strong, setting) if e.mechanism == "acid_sulfide")
    # What is free at once, all of it, in the room.
    assert gas.ppm > 15


@pytest.mark.parametrize(("beside", "told"), [({}, 2), ({"sodium_carbonate": 30.0}, 0)])
def test_soda_takes_the_acid_of_the_air_before_sulfide_does(beside, told):
    assert told == worst_of([liquid("toner", {"sodium_sulfide": 1.0} | beside, 1000)], "air_on_salts", "jug", hours=4)


@pytest.mark.parametrize(
    ("key", "density", "name", "told"),
    [
        ("toluene", 867, "toluene on a rag", 2),
        ("toluene", 867, "toluene in a bottle cap", 0),
        ("isopropanol", 785, "spirit on a cloth", 0),
    ],
)
def test_a_cloth_gives_all_of_a_solvent_to_the_air(key, density, name, told):
    part = liquid(name, {key: density}, 6, density_g_per_ml=density / 1000)
    assert told == worst_of([part], "solvent_dizzy", "room")


@pytest.mark.parametrize("metal", ["lead", "mercury", "silver", "silver_sulfide", "iron_ii_sulfide"])
def test_nitric_acid_gives_brown_gas_with_what_it_dissolves(metal):
    acid = liquid("nitric acid", {"nitric_acid": 900}, 50)
    assert 4 == worst_of([acid, powder(metal, {metal: 20})], "nitric_metal", "jug")
    assert 0 == worst_of([acid, powder("salt", {"sodium_sulfate": 20})], "nitric_metal", "jug")


@pytest.mark.parametrize(("sulfite_g_per_l", "told"), [(20, 0), (0.05, 2)])
def test_a_clearing_bath_of_sulfite_takes_permanganate_and_no_brown_is_told(sulfite_g_per_l, told):
    bleach = liquid("bleach", {"potassium_permanganate": 2, "sulfuric_acid": 1}, 30)
    clearing = liquid("clearing bath", {"sodium_sulfite": sulfite_g_per_l, "sodium_carbonate": 5}, 500)
    assert told == worst_of([bleach, clearing], "spoils_film", "carry_over")


@pytest.mark.parametrize(("hours", "told"), [(0.5, 0), (12, 4)])
def test_phosphide_that_lies_open_is_wetted_by_the_air(hours, told):
    assert told == worst_of([powder("pellets", {"aluminium_phosphide": 3})], "phosphide", "room", hours)


@pytest.mark.parametrize(("strength", "pressed"), [(45, 0), (120, 3)])
def test_strong_hypochlorite_swells_its_bottle_sooner(strength, pressed):
    bottle = [liquid("bleach", {"sodium_hypochlorite": strength}, 900)]
    assert pressed == worst_of(bottle, "pressure", "closed_jug", hours=720)


@pytest.mark.parametrize(
    ("strength", "named"),
    [
        ("potassium dichromate 9.5 g/L, sulfuric acid 10 g/L", {"potassium_dichromate": 9.5, "sulfuric_acid": 10.0}),
        ("chrome alum 20 g/L", {"chrome_alum": 20.0}),
        ("6 % with acetic acid 50 g/L", {}),
        ("5 g/L silver", {}),
        ("neat", {}),
    ],
)
def test_a_strength_says_what_it_names(strength, named):
    assert named == named_strengths(strength)


@pytest.mark.parametrize(
    ("name", "strength", "held"),
    [
        ("reversal bleach", "potassium dichromate 9.5 g/L, sulfuric acid 10 g/L", {"potassium_dichromate", "sulfuric_acid"}),
        ("wheel cleaner", "ammonium bifluoride 50 g/L", {"ammonium_bifluoride"}),
        ("permanganate bleach", "2 % acid", {"potassium_permanganate", "sulfuric_acid"}),
        ("used fixer", "5 g/L silver", {"ammonium_thiosulfate", "silver_thiosulfate"}),
        ("rinse water of the sulfide tray", "about 0.5 g/L", {"sodium_sulfide"}),
        ("rinse water of the sulfide tray", "", set()),
    ],
)  # fmt: skip
def test_what_a_strength_names_goes_before_what_a_name_is_for(name, strength, held):
    parts = [{"substance": name, "strength": strength, "amount": "500 mL", "role": ""}]
    assert held == read({"context": "jug", "parts": parts}).portions[0].moles.keys()


def test_a_smell_is_no_part_and_worn_out_is_no_exhaust():
    assert "charcoal" != key_of("exhausted bleach-fix")
    assert "cellulose_acetate" == key_of("acetate negatives with vinegar smell")


@pytest.mark.parametrize(
    ("role", "field"),
    [
        ("prints fished out by hand", "bare_hands"),
        ("gloves have a hole", "bare_hands"),
        ("splashed in the face", "bare_hands"),
        ("in a water bottle without a label", "food_vessel"),
        ("somebody takes a sip", "food_vessel"),
        ("beside a toaster", "flame"),
        ("stopper pushed in", "closed"),
        ("ground in a mortar", "dusty"),
    ],
)
def test_what_somebody_does_is_read_in_other_words_too(role, field):
    def reads(said):
        parts = [{"substance": "lye", "strength": "40 g/L", "amount": "500 mL", "role": said}]
        return getattr(read({"context": "jug", "parts": parts}).setting, field)

    assert reads(role)
    assert not reads("in the jug, gloves on, away from food")


def told_in(portions, mechanism, place="mixing", **more):
    setting = replace(setting_for(place, ROOM), **more)
    return max((e.severity for e in assess(portions, setting) if e.mechanism == mechanism), default=0)


@pytest.mark.parametrize(
    ("parts", "place", "told"),
    [
        # A sour sulfite bath stings over the vessel; a clearing bath of the trade, an acid fixer and a bisulfite stop do not.
        ([liquid("sheet", {"sodium_sulfite": 50, "tartaric_acid": 80}, 500)], "mixing", 2),
        ([liquid("clearing", {"sodium_metabisulfite": 50}, 1000)], "mixing", 0),
        ([liquid("hardening fixer", {"sodium_thiosulfate": 240, "sodium_sulfite": 15, "acetic_acid": 17, "potassium_alum": 15}, 1000)], "mixing", 0),
        ([liquid("stop", {"sodium_metabisulfite": 10, "acetic_acid": 10}, 500)], "mixing", 0),
        # Crystals, as they are tipped in.
        ([powder("sulfite", {"sodium_sulfite": 20}), powder("citric acid", {"citric_acid": 20}), Portion("water", {}, 500.0)], "mixing", 2),
        ([powder("metabisulfite", {"sodium_metabisulfite": 10}), powder("boric acid", {"boric_acid": 10}), Portion("water", {}, 500.0)], "mixing", 0),
        # A heap on a shelf, wetted.
        ([powder("metabisulfite", {"sodium_metabisulfite": 500}), liquid("rust remover", {"phosphoric_acid": 100}, 500)], "shelf", 2),
        ([powder("metabisulfite", {"sodium_metabisulfite": 500}), liquid("vinegar", {"acetic_acid": 50}, 1000)], "shelf", 0),
        ([powder("sulfite", {"sodium_sulfite": 500}), liquid("descaler", {"citric_acid": 200}, 500)], "shelf", 0),
    ],
)  # fmt: skip
def test_sulfur_dioxide_is_told_by_the_air_over_it(parts, place, told):
    told_of = max(told_in(parts, mechanism, place) for mechanism in ("sulfite_stings", "acid_sulfite"))
    assert told == min(2, told_of)


@pytest.mark.parametrize(("grams", "stop", "told"), [(12, 30, True), (1, 30, False), (12, 0, False)])
def test_dithionite_in_used_stop_bath_smells(grams, stop, told):
    parts = [liquid("fogging", {"sodium_dithionite": 2 * grams, "sodium_carbonate": 4}, 500), liquid("used stop", {"acetic_acid": stop}, 900)]  # fmt: skip
    assert told == any(told_in(parts, m, "jug") for m in ("sulfite_stings", "acid_sulfite", "acid_dithionite_lands"))


@pytest.mark.parametrize(
    ("metal", "salt", "told"),
    [
        (powder("zinc metal", {"zinc": 15}), powder("chlorate", {"potassium_chlorate": 15}), 4),
        (powder("aluminium metal", {"aluminium": 15}), powder("permanganate", {"potassium_permanganate": 30}), 4),
        (powder("aluminium foil", {"aluminium": 15}), powder("permanganate", {"potassium_permanganate": 30}), 3),
        (powder("zinc granules", {"zinc": 15}), powder("permanganate", {"potassium_permanganate": 30}), 3),
        (powder("aluminium metal", {"aluminium": 15}), liquid("bleach", {"potassium_permanganate": 3}, 500), 0),
    ],
)
def test_a_metal_of_no_shape_that_is_mixed_with_an_oxidiser_is_flash_powder(metal, salt, told):
    assert told == max((e.severity for e in assess([metal, salt], setting_for("mixing", ROOM)) if e.mechanism.startswith("fire")), default=0)  # fmt: skip


@pytest.mark.parametrize(
    ("scoop", "tub", "place", "told"),
    [
        ({"sodium_dichloroisocyanurate": 4}, {"calcium_hypochlorite": 500}, "damp", 3),
        ({"calcium_hypochlorite": 3}, {"trichloroisocyanuric_acid": 800}, "carry_over", 3),
        ({"calcium_hypochlorite": 0.5}, {"trichloroisocyanuric_acid": 800}, "mixing", 0),
        ({"trichloroisocyanuric_acid": 4}, {"sodium_dichloroisocyanurate": 500}, "mixing", 0),
        ({"calcium_hypochlorite": 4}, {"trichloroisocyanuric_acid": 4}, "shelf", 0),
    ],
)
def test_one_pool_chlorine_on_the_scoop_of_another(scoop, tub, place, told):
    assert told == told_in([powder("scoop", scoop), powder("tub", tub)], "two_chlorines", place)


@pytest.mark.parametrize(
    ("carried", "bath", "told"),
    [
        ({"hydrogen_peroxide": 30}, {"sodium_carbonate": 30}, 2),
        ({"hydrogen_peroxide": 3}, {"ammonia": 10}, 0),
        ({"hydrogen_peroxide": 30}, {"sodium_sulfite": 50, "sodium_carbonate": 30}, 0),
        ({"potassium_dichromate": 8, "sulfuric_acid": 8}, {"nonionic_wetting_agent": 0.5}, 2),
        ({"sodium_thiosulfate": 160}, {"nonionic_wetting_agent": 0.5}, 2),
        ({"sodium_thiosulfate": 1}, {"nonionic_wetting_agent": 0.5}, 0),
        ({"potassium_permanganate": 2, "sulfuric_acid": 10}, {"sodium_metabisulfite": 25}, 0),
    ],
)
def test_what_lifts_the_layer_or_dries_in_is_told(carried, bath, told):
    assert told == told_in([liquid("in the film", carried, 10), liquid("next", bath, 500)], "spoils_film", "carry_over")


@pytest.mark.parametrize(
    ("name", "bath", "told"),
    [
        ("negative strip", {"sodium_hypochlorite": 30}, 2),
        ("test print", {"sodium_hydroxide": 20}, 2),
        ("negative strip", {"sodium_hypochlorite": 1}, 0),
        ("film strip", {"sodium_carbonate": 50}, 0),
        ("film tank", {"sodium_hypochlorite": 30}, 0),
    ],
)
def test_cleaner_and_lye_eat_the_gelatin_of_what_is_a_picture(name, bath, told):
    assert told == told_in([powder(name, {"polystyrene": 5}), liquid("bath", bath, 500)], "eats_gelatin")


@pytest.mark.parametrize(
    ("parts", "mechanism", "place", "more", "told"),
    [
        ([powder("lime", {"calcium_oxide": 60}), Portion("water", {}, 500.0)], "slakes", "standing", {}, 3),
        ([powder("slaked lime", {"calcium_hydroxide": 60}), Portion("water", {}, 500.0)], "slakes", "mixing", {}, 0),
        ([powder("salt", {"hydroxylamine_sulfate": 10})], "hydroxylamine_heated", "mixing", {"temperature_c": 150.0}, 3),
        ([liquid("developer", {"hydroxylamine_sulfate": 3}, 1000)], "hydroxylamine_heated", "mixing", {"temperature_c": 85.0}, 0),
        ([powder("salt", {"hydroxylamine_sulfate": 30}), powder("lye", {"sodium_hydroxide": 20})], "hydroxylamine_lye", "mixing", {}, 3),
        ([liquid("etch", {"hydrofluoric_acid": 30}, 300)], "eats_glass", "shelf", {"glass": True}, 3),
        ([liquid("bleach", {"potassium_permanganate": 3}, 300)], "eats_glass", "shelf", {"glass": True}, 0),
        ([liquid("intensifier", {"mercury_ii_chloride": 20}, 250), powder("steel wool", {"iron": 5})], "mercury_thrown_out", "standing", {}, 3),
        ([liquid("intensifier", {"mercury_ii_chloride": 20}, 250), liquid("salt water", {"sodium_chloride": 20}, 250)], "mercury_thrown_out", "jug", {}, 0),
        ([Portion("spirit on a film", {"isopropanol": 0.3}), Portion("air")], "dries_by_a_flame", "carry_over", {"flame": True}, 3),
        ([Portion("spirit on a film", {"isopropanol": 0.3}), Portion("water", {}, 500.0)], "dries_by_a_flame", "carry_over", {}, 0),
        ([liquid("last wash", {"sodium_thiosulfate": 0.5}, 5000)], "septic_tank", "drain", {"septic": True}, 0),
        ([liquid("fixer", {"sodium_thiosulfate": 160}, 500)], "septic_tank", "drain", {"septic": True}, 2),
        ([liquid("ammonia bath", {"ammonia": 6, "silver_ammine_chloride": 0.8}, 500)], "ammoniacal_silver", "standing", {"hours": 0.2}, 0),
        ([liquid("ammonia bath", {"ammonia": 6, "silver_ammine_chloride": 0.8}, 500)], "ammoniacal_silver", "standing", {"hours": 3.0}, 4),
        ([liquid("ammonia bath", {"ammonia": 20, "silver_ammine_chloride": 8}, 500)], "ammoniacal_silver", "standing", {"hours": 0.2}, 3),
    ],
)  # fmt: skip
def test_classes_told_from_amount_place_and_time(parts, mechanism, place, more, told):
    assert told == told_in(parts, mechanism, place, **more)
