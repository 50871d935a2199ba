"""What names without amounts, and the things of a room among them, come to."""

import pytest

from obverse.foundation import Level
from obverse.process import Formula
from obverse.safety.check import check_mix
from obverse.safety.meeting import brought, meeting


def bath(grams_per_l):
    components = [{"substance": key, "concentration": f"{g} g/L"} for key, g in grams_per_l.items()]
    return Formula.model_validate(
        {
            "format": "obverse-formula",
            "version": 1,
            "key": "typed",
            "name": "typed",
            "role": "wash_aid",
            "components": components,
        }
    )


def ask(context, *names):
    return meeting([brought(name) for name in names], context)


def loudest(context, *names):
    found = ask(context, *names)
    if any(finding.refused for finding in found):
        return "refused"
    return "told" if any(finding.level is not Level.NOTE for finding in found) else "noted"


@pytest.mark.parametrize(("names", "context", "told"), [
    # A recorded pair is no louder than its usual amounts; what more of it does stays told where nobody says how much.
    (("laundry_bleach", "fixer_rapid"), "waste", "told"),
    (("laundry_bleach", "fixer_rapid"), "same_room", "noted"),
    (("laundry_bleach", "household_ammonia_5"), "same_room", "told"),
    (("laundry_bleach", "household_ammonia_5"), "mixing", "refused"),
    (("laundry_bleach=20mL", "household_ammonia_5=20mL"), "mixing", "told"),
    # What a bath smells of in its tank is no caution; chlorine and its kin are no bath's smell.
    (("laundry_bleach", "household_ammonia_5"), "carry_over", "told"),
    (("first_developer", "second_developer"), "waste", "noted"),
    (("laundry_bleach", "clearing_metabisulfite"), "waste", "told"),
    (("laundry_bleach=5mL", "clearing_metabisulfite=5mL"), "waste", "noted"),
    # Things among the names count for what they are.
    (("bleach_iron_chloride", "metal_reel"), "mixing", "told"),
    (("bleach_permanganate", "metal_reel"), "mixing", "noted"),
    (("caustic_soda", "galvanised"), "mixing", "told"),
    (("ammonium_dichromate", "warming"), "mixing", "told"),
    (("bleach_dichromate", "warming"), "mixing", "noted"),
    (("bleach_peroxide_acid", "closed_jug"), "storage", "told"),
    (("stop_citric", "closed_jug"), "storage", "noted"),
    (("sodium_azide", "drain"), "drain", "refused"),
    (("nicotine", "bare_hands"), "mixing", "refused"),
    (("dichloromethane=500mL", "spilt"), "same_room", "refused"),
    (("dichloromethane=5mL", "spilt"), "same_room", "noted"),
    (("formalin_37=10mL", "spilt"), "same_room", "told"),
    (("plaster_of_paris", "drain"), "drain", "told"),
    # What is sold in a bottle stands open in that; a bath stands in its tray, and a puddle lies.
    (("ammonia_25", "hydrochloric_acid"), "same_room", "told"),
    (("ammonia_25", "asthma"), "same_room", "told"),
    (("household_ammonia_5", "sulfite_anhydrous"), "same_room", "noted"),
    (("ammonia_25", "spilt"), "same_room", "refused"),
    (("petrol", "flame"), "same_room", "refused"),
    # What is capped stands on a shelf for weeks.
    (("peracetic_acid", "closed_jug"), "storage", "told"),
    (("peroxide_3", "closed_jug"), "storage", "noted"),
    # Rust is matter, and so is a hand in setting plaster.
    (("peroxide_12", "rust"), "storage", "told"),
    (("peroxide_3", "rust"), "storage", "noted"),
    (("stop_citric", "rust"), "mixing", "noted"),
    (("plaster_of_paris", "bare_hands"), "mixing", "told"),
    (("plaster_of_paris=5g", "bare_hands"), "mixing", "noted"),
    # Acid peroxide eats copper and silver; steel tongs it leaves alone for a while, and so does thin neutral peroxide copper.
    (("bleach_peroxide_acid", "copper"), "mixing", "told"),
    (("bleach_peroxide_acid", "silver"), "mixing", "told"),
    (("peroxide_3=50mL", "copper=1g"), "mixing", "noted"),
    (("bleach_peroxide_acid", "second_developer"), "carry_over", "told"),
    (("peroxide_3=3mL", "second_developer"), "carry_over", "noted"),
        (("laundry_bleach", "vinegar_5"), "same_room", "told"),
    # Gold salts and ammonia; a little lies as wet mud for a while; on a shelf they do not meet, and acid gold toner is no such thing.
        (("gold_chloride", "ammonia_25"), "mixing", "refused"),
        (("gold_chloride", "household_ammonia_5"), "waste", "refused"),
        (("gold_chloride=0.5g", "ammonia_25=20mL"), "mixing", "told"),
        (("gold_chloride=1g", "thiocyanate_crystals=10g", "water"), "mixing", "noted"),
        # A developer in excess turns dissolved silver to metal; salt and water leave it to the ammonia.
        (("used_ammonia_bath", "second_developer"), "waste", "told"),
        (("used_ammonia_bath", "pure_salt"), "waste", "refused"),
        # What a bath of the house smells of by itself is told at its own step; what frees more is told.
        (("ammonia_bath", "water"), "waste", "noted"),
        (("ammonia_bath", "stop_citric"), "mixing", "noted"),
        (("ammonia_bath", "asthma"), "mixing", "told"),
        (("used_ammonia_bath", "caustic_soda"), "waste", "refused"),
        # A small bottle that breaks is smelt and left; a shelf of it takes the house along.
        (("nitric_acid", "acetone"), "storage", "told"),
        (("nitric_acid=500mL", "acetone=500mL"), "storage", "refused"),
        (("nitric_acid", "acetone"), "mixing", "refused"),
        (("calcium_hypochlorite", "trichloroisocyanuric_acid"), "storage", "told"),
        (("calcium_hypochlorite=1kg", "trichloroisocyanuric_acid=1kg"), "storage", "refused"),
        (("laundry_bleach", "vinegar_essence_25"), "storage", "told"),
        (("laundry_bleach", "hydrochloric_acid"), "storage", "refused"),
        # Acid crystals beside what their damp frees gas from.
        (("calcium_hypochlorite", "ph_minus"), "storage", "told"),
        (("calcium_hypochlorite", "soda_ash"), "storage", "noted"),
        # What lights at room temperature, beside a flame.
        (("ethanol=50mL", "flame"), "same_room", "told"),
        (("isopropanol=200mL", "flame"), "same_room", "refused"),
        (("ethanol=5mL", "flame"), "same_room", "noted"),
        (("white_spirit=10mL", "flame"), "same_room", "noted"),
        (("bleach_iron_chloride", "copper_metal"), "waste", "told"),
        (("bleach_permanganate", "copper_metal"), "waste", "noted"),
        # Two powders are scooped together dry before any water: what burns or goes off then is told; paper is no powder, nor oxygen bleach a match.
        (("potassium_nitrate", "charcoal"), "mixing", "told"),
        (("potassium_nitrate", "sodium_cyanide"), "mixing", "refused"),
        (("potassium_chlorate", "hydroquinone"), "mixing", "refused"),
        (("ammonium_chloride", "potassium_chlorate"), "mixing", "refused"),
        (("dichromate_crystals", "sulfur"), "mixing", "told"),
        (("sodium_nitrite", "ammonium_chloride"), "mixing", "told"),
        (("potassium_nitrate", "soda_ash"), "mixing", "noted"),
        (("silver_nitrate", "cellulose"), "mixing", "noted"),
        (("sodium_percarbonate", "sucrose"), "mixing", "noted"),
        (("potassium_ferricyanide", "bromide_crystals"), "mixing", "noted"),
        # Neighbours of every darkroom's shelf: what only smells or runs warm where two bottles break, and what a spill that is wiped up never becomes.
        (("fixer_ats_60wv", "etchant_42be"), "storage", "noted"),
        (("fixer_rapid", "peroxide_12"), "storage", "noted"),
        (("hypo_crystals", "peroxide_3"), "storage", "noted"),
        (("dithionite_85", "wetting_agent"), "storage", "noted"),
        (("dithionite_85", "damp"), "storage", "told"),
        (("colour_run_remover", "soda_ash"), "storage", "noted"),
        (("household_ammonia_5", "used_bleach_dichromate"), "storage", "noted"),
        (("silver_nitrate", "ammonia_25"), "storage", "told"),
        (("used_ammonia_bath", "soda_ash"), "storage", "refused"),
        (("bleach_permanganate", "pure_salt"), "storage", "noted"),
        (("bleach_permanganate", "fixer_rapid"), "storage", "noted"),
        (("bleach_permanganate", "fixer_rapid"), "waste", "told"),
        (("thiocyanate_crystals", "peroxide_3"), "storage", "told"),
        (("laundry_bleach", "first_developer"), "storage", "told"),
        (("laundry_bleach", "wash_aid_sulfite"), "storage", "noted"),
        (("laundry_bleach", "hypo_crystals"), "storage", "told"),
        (("laundry_bleach", "household_ammonia_5"), "storage", "refused"),
        (("peroxide_12", "fogging_dithionite"), "storage", "noted"),
        (("peroxide_12", "dithionite_85"), "storage", "told"),
        (("permanganate_crystals", "ammonium_chloride"), "storage", "told"),
        (("silver_nitrate", "paper"), "storage", "noted"),
        (("sodium_percarbonate", "urea"), "storage", "noted"),
        (("ammonium_sulfide", "ammonium_chloride"), "storage", "noted"),
        (("nitric_acid", "hydroquinone"), "storage", "told"),
        # What a bleach takes of the dithionite.
        (("used_bleach_peroxide_acid", "fogging_dithionite"), "carry_over", "told"),
        (("stop_citric", "wash_aid_sulfite"), "carry_over", "noted"),
        # Manganese takes peroxide apart within seconds, where no acid keeps it dissolved.
    (("peroxide_6=100mL", "permanganate_crystals=10g"), "mixing", "told"),
    (("peroxide_3=100mL", "permanganate_crystals=0.05g"), "mixing", "noted"),
    # Powders are weighed as they lie and in the water of a bath.
    (("caustic_soda=4g", "ammonium_chloride=10g"), "mixing", "told"),
    (("metabisulfite_sodium=50g", "citric_anhydrous=50g"), "mixing", "told"),
    (("caustic_soda=50g", "little_water"), "mixing", "told"),
    (("permanganate_crystals=10g", "hydroquinone=10g", "water"), "mixing", "told"),
    # What the next bath shrugs off, and what it does not, in the direction in which the film goes.
    (("first_developer", "stop_citric"), "carry_over", "noted"),
    (("first_developer", "fixer_rapid"), "carry_over", "noted"),
    (("fixer_rapid", "first_developer"), "carry_over", "told"),
    (("bleach_permanganate", "clearing_metabisulfite"), "carry_over", "noted"),
    (("clearing_metabisulfite", "bleach_permanganate"), "carry_over", "told"),
    (("bleach_dichromate", "second_developer"), "carry_over", "told"),
    (("second_developer", "bleach_dichromate"), "carry_over", "told"),
])  # fmt: skip
def test_names_are_weighed_by_what_they_usually_bring(names, context, told):
    assert told == loudest(context, *names)


def test_only_what_brings_an_amount_has_usual_amounts():
    told = [f.text for f in ask("mixing", "formalin_37=50mL", "bare_hands") if f.level is not Level.NOTE]
    assert told and not any("Usual amounts" in text for text in told)
    assert any("Usual amounts" in f.text for f in ask("mixing", "formalin_37", "bare_hands"))


def test_ammonia_that_took_up_silver_is_told_how_much_acid_it_takes():
    found = ask("waste", "used_ammonia_bath", "vinegar_5")
    assert not any(finding.refused for finding in found)
    way = next(finding for finding in found if finding.pair == "reckoned.ammoniacal_silver")
    assert way.level is Level.CAUTION and way.text.startswith("With less acid")
    assert "at least about 1800 mL" in way.advice and "test strip" in way.advice
    # Told amounts decide; a bath that stands on a shelf, or water, is no way.
    assert loudest("waste", "used_ammonia_bath=500mL", "vinegar_5=100mL") == "refused"
    assert loudest("waste", "used_ammonia_bath=500mL", "vinegar_5=2000mL") == "noted"
    assert loudest("storage", "used_ammonia_bath", "vinegar_5") == "refused"
    assert loudest("waste", "used_ammonia_bath", "water") == "refused"
    # Of a stop bath or a rinse it takes more than anybody pours: that is told, with how much, and a stronger acid asked for.
    [weak] = [f for f in ask("waste", "used_ammonia_bath", "acid_rinse") if f.pair == "reckoned.ammoniacal_silver"]
    assert weak.level is Level.CAUTION and "take a stronger acid" in weak.advice and "8 L of acid rinse" in weak.advice
    assert loudest("waste", "used_ammonia_bath", "stop_citric", "pure_salt") == "told"
    assert loudest("waste", "used_ammonia_bath=250mL", "stop_citric=250mL") == "refused"


@pytest.mark.parametrize(
    ("context", "names", "told"),
    [
        # Powders as they lie: lye runs and frees ammonia, a crumb of it does not.
        ("mixing", ("ammonium_sulfate=3g", "caustic_soda=3g"), "ammonia: lime or lye ground"),
        ("mixing", ("ammonium_chloride=0.5g", "caustic_soda=0.5g"), ""),
        # Magnesium froths in any acid that bites; a few centimetres of ribbon do not.
        ("mixing", ("magnesium=2g", "citric_monohydrate=50g", "water=300mL"), "hydrogen:"),
        ("mixing", ("magnesium=0.2g", "vinegar_essence_25"), ""),
        ("mixing", ("laundry_bleach=150mL", "butanone=15mL"), "chloroform"),
        ("mixing", ("laundry_bleach=100mL", "acetone=1mL"), ""),
        ("mixing", ("sulfuric_96=50mL", "wood"), "chars"),
        ("mixing", ("battery_acid_37=50mL", "paper"), ""),
        ("waste", ("ethanol=50mL", "bleach_permanganate"), "alcohol to aldehyde"),
        ("waste", ("ethanol=50mL", "bleach_iron_chloride"), ""),
        ("same_room", ("metabisulfite_potassium", "asthma"), "open tub"),
        ("same_room", ("sodium_carbonate", "asthma"), ""),
        ("carry_over", ("hardener_chrome_alum", "first_developer"), "green chromium hydroxide"),
        ("carry_over", ("hardener_chrome_alum", "stop_citric"), ""),
        ("carry_over", ("used_ammonia_bath", "second_developer"), "mirror or grey fog"),
        ("carry_over", ("used_ammonia_bath", "fogging_dithionite"), "mirror or grey fog"),
        ("carry_over", ("ammonia_bath", "fogging_dithionite"), ""),
    ],
)
def test_small_classes_that_names_missed(context, names, told):
    loud = [finding.text for finding in ask(context, *names) if finding.pair.startswith("reckoned.")]
    assert any(told in text for text in loud) if told else not loud


def test_a_sheet_tells_of_a_deadly_poison_and_not_of_an_ordinary_bath():
    def told(**grams_per_l):
        return {finding.pair for finding in check_mix(bath(grams_per_l)) if finding.level is not Level.NOTE}

    for grams_per_l in (
        {"mercury_ii_chloride": 20},
        {"sodium_selenite": 15},
        {"barium_chloride": 50},
        {"potassium_dichromate": 80},
    ):
        assert "reckoned.deadly_gulp" in told(**grams_per_l)
    for grams_per_l in (
        {"potassium_dichromate": 9.5},
        {"hydroquinone": 12, "sodium_sulfite": 45},
        {"potassium_permanganate": 2},
        {"copper_ii_sulfate": 50},
    ):
        assert "reckoned.deadly_gulp" not in told(**grams_per_l)


def test_a_sheet_tells_of_what_does_harm_that_stays():
    def told(**grams_per_l):
        return "reckoned.lasting_bath" in {f.pair for f in check_mix(bath(grams_per_l)) if f.level is not Level.NOTE}

    assert told(potassium_dichromate=5, sulfuric_acid=9) and told(formaldehyde=4, sodium_carbonate=6)
    assert not told(potassium_dichromate=0.5) and not told(formaldehyde=0.3) and not told(chrome_alum=30)


def test_a_sheet_tells_of_what_blinds_an_eye_and_not_of_an_ordinary_bath():
    def told(**grams_per_l):
        return "reckoned.blinding_bath" in {f.pair for f in check_mix(bath(grams_per_l)) if f.level is not Level.NOTE}

    assert (
        told(silver_nitrate=100)
        and told(sodium_hydroxide=20)
        and told(sulfuric_acid=100)
        and told(hydrogen_peroxide=100)
    )
    for quiet in (
        {"silver_nitrate": 10},
        {"sodium_hydroxide": 4},
        {"sulfuric_acid": 18},
        {"hydrogen_peroxide": 25},
        {"sodium_carbonate": 60},
        {"acetic_acid": 15},
    ):
        assert not told(**quiet)
