"""Classes of harm that single situations belonged to, each tried on neighbours of it with other amounts, and on ordinary ones."""

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
