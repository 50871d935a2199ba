"""Each of the 72 recorded pairs, named here by hand, is detected in every context it is recorded for."""

import pytest

from obverse.foundation import UnsafeError
from obverse.process import Rinse
from obverse.process.catalog import formulas
from obverse.reference import incompatible_pairs
from obverse.safety import (
    check_carry_over,
    check_mixture,
    check_room,
    check_storage,
    check_waste_jug,
    of_formula,
    refuse_lethal,
)
from obverse.safety.rules import pair_rules

USED_AMMONIA = "used_ammonia_bath"

# pair -> what a person would bring together. Where a side of the record is a place or a habit, it is a thing.
MEETING = {
    "inc.01": ("laundry_bleach", "household_ammonia_5"),
    "inc.02": ("laundry_bleach", "fixer_rapid"),
    "inc.03": ("laundry_bleach", "stop_citric"),
    "inc.04": ("laundry_bleach", "clearing_metabisulfite"),
    "inc.05": ("laundry_bleach", "thiocyanate_crystals"),
    "inc.06": ("laundry_bleach", "peroxide_3"),
    "inc.07": ("laundry_bleach", "paper_developer_concentrate"),
    "inc.08": (USED_AMMONIA, "standing"),
    "inc.09": (USED_AMMONIA, "caustic_soda"),
    "inc.10": (USED_AMMONIA, "vitamin_c"),
    "inc.11": (USED_AMMONIA, "permanganate_crystals"),
    "inc.12": (USED_AMMONIA, "peroxide_3"),
    "inc.13": ("silver_chloride", "oxalic_acid_dihydrate"),
    "inc.14": ("silver_chloride", "nitric_acid", "ethanol"),
    "inc.15": (USED_AMMONIA, "ph_minus"),
    "inc.16": ("permanganate_crystals", "sulfuric_96"),
    "inc.17": ("bleach_permanganate", "pure_salt"),
    "inc.18": ("bleach_permanganate", "potassium_bromide"),
    "inc.19": ("permanganate_crystals", "glycerol"),
    "inc.20": ("bleach_permanganate", "potassium_thiocyanate"),
    "inc.21": ("bleach_permanganate", "peroxide_3"),
    "inc.22": ("second_developer", "bleach_permanganate"),
    "inc.23": ("fixer_rapid", "bleach_permanganate"),
    "inc.24": ("permanganate_crystals", "metabisulfite_sodium"),
    "inc.25": ("permanganate_crystals", "household_ammonia_5"),
    "inc.26": ("bleach_permanganate", "citric_anhydrous"),
    "inc.27": ("bleach_dichromate", "hydrochloric_acid"),
    "inc.28": ("bleach_dichromate", "dithionite_85"),
    "inc.29": ("bleach_dichromate", "peroxide_3"),
    "inc.30": ("dichromate_crystals", "acetone"),
    "inc.31": ("bleach_dichromate", "sodium_thiocyanate"),
    "inc.32": ("ph_minus", "metabisulfite_sodium"),
    "inc.33": ("battery_acid_37", "dithionite_85"),
    "inc.34": ("ph_minus", "fixer_rapid"),
    "inc.35": ("ph_minus", "thiourea_dioxide_powder"),
    "inc.36": ("battery_acid_37", "thiocyanate_crystals"),
    "inc.37": ("battery_acid_37", "silver_sulfide_sludge"),
    "inc.38": ("stop_citric", "soda_ash"),
    "inc.39": ("sulfuric_96", "water"),
    "inc.40": ("sulfuric_96", "hydrogen_peroxide"),
    "inc.41": ("caustic_soda", "battery_acid_37"),
    "inc.42": ("soda_ash", "fixer_ats_60wv"),
    "inc.43": ("etchant_42be", "galvanised"),
    "inc.44": ("bleach_iron_chloride", "ammonia_bath"),
    "inc.45": ("household_ammonia_5", "battery_acid_37"),
    "inc.46": ("copper_sulfate_crystals", "household_ammonia_5"),
    "inc.47": ("household_ammonia_5", "iodine"),
    "inc.48": ("peroxide_3", "vinegar_5"),
    "inc.49": ("peroxide_3", "copper_sulfate_crystals"),
    "inc.50": ("peroxide_3", "etchant_42be"),
    "inc.51": ("bleach_peroxide_acid", "acetone"),
    "inc.52": ("peroxide_3", "clearing_metabisulfite"),
    "inc.53": ("bleach_peroxide_acid", "potassium_thiocyanate"),
    "inc.54": ("hydrogen_peroxide", "paper"),
    "inc.55": ("dithionite_85", "damp"),
    "inc.56": ("dithionite_85", "permanganate_crystals"),
    "inc.57": (of_formula(formulas()["fogging_dithionite"], aged=True), "film"),
    "inc.58": ("etchant_42be", "fixer_rapid"),
    "inc.59": ("etchant_42be", "potassium_thiocyanate"),
    "inc.60": ("etchant_42be", "second_developer"),
    "inc.61": ("etchant_42be", "wash_aid_sulfite"),
    "inc.62": ("etchant_42be", "steel"),
    "inc.63": ("iron_iii_chloride", "little_water"),
    "inc.64": ("bleach_iron_chloride", "tap_water"),
    "inc.65": ("used_fixer_rapid", "sodium_sulfide"),
    "inc.66": ("bleach_permanganate", "clearing_metabisulfite"),
    "inc.67": ("fixer_rapid", "bleach_peroxide_acid"),
    "inc.68": ("fixer_rapid", "first_developer"),
    "inc.69": ("first_developer", "second_developer"),
    "inc.70": ("stannous_chloride_dihydrate", "permanganate_crystals"),
    "inc.71": ("oxalic_acid_dihydrate", "bleach_permanganate"),
    "inc.72": ("peroxide_3", "etchant_42be"),
}

CHECKS = {
    "mixing": check_mixture,
    "waste": check_waste_jug,
    "storage": check_storage,
    "same_room": check_room,
    "carry_over": lambda a, b, *_others: check_carry_over(a, b),
}

CASES = [(pair, context) for pair in incompatible_pairs() for context in pair.contexts]


def test_every_recorded_pair_has_one_rule_and_one_example():
    assert len(incompatible_pairs()) == 72
    assert {pair.key for pair in incompatible_pairs()} == set(MEETING) == {rule.pair for rule, _ in pair_rules()}


@pytest.mark.parametrize(("pair", "context"), CASES, ids=[f"{p.key}-{c}" for p, c in CASES])
def test_pair_is_detected_in_each_recorded_context(pair, context):
    found = [finding for finding in CHECKS[context](*MEETING[pair.key]) if finding.pair == pair.key]
    assert found, f"{pair.a} x {pair.b} is not seen in {context}"
    recorded = pair.severity_carry_over if context == "carry_over" and pair.severity_carry_over else pair.severity
    assert found[0].severity == recorded
    assert found[0].refused == (recorded == 4)
    assert found[0].source == pair.source


@pytest.mark.parametrize("pair", [p for p in incompatible_pairs() if p.severity == 4], ids=lambda p: p.key)
def test_a_pair_that_can_kill_is_refused_with_the_reason(pair):
    for context in (c for c in pair.contexts if c != "carry_over"):
        with pytest.raises(UnsafeError) as error:
            refuse_lethal([f for f in CHECKS[context](*MEETING[pair.key]) if f.pair == pair.key])
        assert error.value.exit_code == 3
        assert pair.product in error.value.sentence


@pytest.mark.parametrize("pair", [p for p in incompatible_pairs() if "storage" in p.contexts], ids=lambda p: p.key)
def test_storage_is_judged_between_bottles_only(pair):
    # One bottle by itself is never accused of standing beside itself, except what must not stand at all.
    if pair.key in ("inc.08", "inc.55"):
        return
    for given in MEETING[pair.key]:
        assert pair.key not in {finding.pair for finding in check_storage(given)}


def test_hypochlorite_is_kept_out_of_the_room():
    for other in (
        "household_ammonia_5",
        "fixer_rapid",
        "stop_citric",
        "bleach_permanganate",
        "bleach_iron_chloride",
        "used_ammonia_bath",
    ):
        findings = check_room("laundry_bleach", other)
        assert any(finding.refused for finding in findings), other
    assert not check_room("laundry_bleach", "wetting_agent")


def test_order_of_the_two_does_not_matter():
    for first, second, *rest in MEETING.values():
        one = {f.pair for f in check_mixture(first, second, *rest)}
        assert one == {f.pair for f in check_mixture(second, first, *rest)}


def test_carry_over_falls_with_each_fill_and_says_what_is_left():
    findings = [check_carry_over("first_developer", "bleach_permanganate", Rinse(fills=(10,) * n)) for n in range(4)]
    left = [next(f.residual_g_per_l for f in found if f.pair == "inc.23") for found in findings]
    # 1.2 g/L thiosulfate, 10 mL held back of 510: record wash.retained.
    assert left == pytest.approx([1.2 / 51**n for n in range(4)])
    assert [next(f.level for f in found if f.pair == "inc.23").value for found in findings] == [
        "danger",
        "note",
        "note",
        "note",
    ]


def test_milder_cases_give_their_reason():
    for rule, record in pair_rules():
        for case in rule.cases:
            assert (case.severity is None) == (case.basis == "")
            assert case.severity is None or case.severity < record.severity
