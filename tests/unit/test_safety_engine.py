"""What was silent and is found, what was said too much and is quiet now; laws of the engine."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.foundation import InputError, Level, UnsafeError, open_and_folded
from obverse.process import USUAL_TOOLS, Formula
from obverse.process.catalog import products
from obverse.safety import check_mix, refuse_lethal
from obverse.safety.airborne import Room
from obverse.safety.body import liquid, powder
from obverse.safety.derived import shown_and_folded
from obverse.safety.engine import assess, severity_of
from obverse.safety.meeting import brought, meeting
from obverse.safety.release import leaving_share
from obverse.safety.setting import setting_for
from obverse.workbench.bench import make_sheet


def ask(*names, context="any", room=None):
    return meeting([brought(name) for name in names], context, room)


def mechanisms(found):
    return {finding.pair.removeprefix("reckoned.") for finding in found}


@pytest.mark.parametrize(
    ("names", "mechanism"),
    [
        (("sodium_sulfide", "vinegar_5"), "acid_sulfide"),
        (("sodium_sulfide", "stop_citric"), "acid_sulfide"),
        (("sodium_sulfide", "acid_rinse"), "acid_sulfide"),
        (("peroxide_12", "acetone"), "ketone_peroxide"),
        (("calcium_hypochlorite", "glycerol"), "fire_hypochlorite"),
        (("sulfuric_96", "pure_salt"), "driven_chloride"),
        (("nitric_acid", "acetone"), "nitric_organic"),
        (("nitric_acid", "glycerol"), "nitric_organic"),
        (("silver_nitrate", "ammonia_25"), "ammoniacal_silver"),
        (("silver_chloride", "ammonia_25"), "ammoniacal_silver"),
        (("permanganate_crystals", "glycerol"), "fire_permanganate"),
        (("etchant_42be", "dithionite_85"), "acid_sulfite"),
        (("etchant_42be", "metabisulfite_sodium"), "acid_sulfite"),
        (("fixer_rapid", "battery_acid_37"), "acid_sulfite"),
        (("potassium_cyanide", "citric_anhydrous"), "acid_cyanide"),
    ],
)
def test_what_was_silent_is_refused(names, mechanism):
    found = ask(*names)
    assert mechanism in mechanisms(f for f in found if f.refused)
    with pytest.raises(UnsafeError):
        refuse_lethal(found)


@pytest.mark.parametrize(
    ("names", "mechanism"),
    [
        (("laundry_bleach", "acetone"), "haloform"),
        (("laundry_bleach", "ethanol"), "haloform"),
        (("hypo_crystals", "vinegar_essence_25"), "acid_sulfite"),
        (("etchant_42be", "caustic_soda"), "heat"),
    ],
)
def test_what_was_silent_is_told(names, mechanism):
    assert mechanism in mechanisms(ask(*names))


@pytest.mark.parametrize(
    "names",
    [
        ("used_ammonia_bath", "water"),
        ("peroxide_3", "water"),
        ("peroxide_3", "citric_anhydrous"),
        ("potassium_ferricyanide", "vinegar_5"),
        ("bleach_permanganate=500mL", "metabisulfite_sodium=1.5g"),
        ("laundry_bleach=5mL", "hypo_crystals=25g", "water=500mL"),
        ("first_developer", "water"),
    ],
)
def test_ordinary_steps_are_not_refused(names):
    refuse_lethal(ask(*names))


@pytest.mark.parametrize("bath", ["bleach_permanganate", "used_bleach_permanganate"])
@pytest.mark.parametrize(("reducer", "dose"), [("sodium_metabisulfite", "1.5 g"), ("clearing_metabisulfite", "50 mL")])
def test_a_used_bleach_is_decoloured_by_a_little_and_told_so(bath, reducer, dose):
    found = ask(bath, reducer)
    refuse_lethal(found)
    whole = next(f for f in found if f.text.startswith("All of it at once"))
    assert "ppm" in whole.text and whole.level is Level.DANGER
    assert f"at most about {dose} to 500 mL" in whole.advice and "until the colour is gone" in whole.advice
    # What somebody says to pour is weighed as it is said.
    with pytest.raises(UnsafeError, match="sulfur dioxide"):
        refuse_lethal(ask(f"{bath}=500mL", f"{reducer}={'20g' if dose.endswith('g') else '500mL'}", "asthma"))


def test_a_used_bath_is_refused_as_the_fresh_one_is():
    for bath in ("fixer_rapid", "used_fixer_rapid"):
        found = [f for f in ask(bath, "battery_acid_37") if f.pair == "reckoned.acid_sulfite" and f.context == "mixing"]
        assert [True] == [f.refused for f in found]


def test_nobody_carries_a_powder_over_in_a_film():
    assert not [f for f in ask("bleach_permanganate=500mL", "sodium_metabisulfite=1.5g") if f.context == "carry_over"]
    assert [f for f in ask("bleach_permanganate=500mL", "clearing_metabisulfite=50mL") if f.context == "carry_over"]


def test_crystals_of_etchant_foam_with_soda_in_the_water_that_is_named():
    for names in (
        ("iron_chloride_lumps=60g", "soda_ash=20g", "water=500mL"),
        ("iron_chloride_lumps=60g", "soda_ash=20g"),
    ):
        assert "foam" in mechanisms(ask(*names, context="mixing"))
    # A pinch of it, as much again of water, or as much soda as takes the acid without gas: nothing that anybody need be told.
    for names in (
        ("iron_chloride_lumps=5g", "soda_ash=2g", "water=500mL"),
        ("iron_chloride_lumps=50g", "soda_ash=20g", "water=1L"),
        ("citric_monohydrate=15g", "baking_soda=20g", "water=500mL"),
    ):
        assert "foam" not in mechanisms(ask(*names, context="mixing"))


def test_what_of_two_kinds_is_told_loudest_stands_open_once():
    told = [("note", "a"), ("caution", "b"), ("danger", "c"), ("caution", "c"), ("caution", "d"), ("caution", "e")]
    shown, rest = open_and_folded(told, lambda one: one[0], kinds=lambda one: (one[1],))
    assert [kind for _, kind in shown] == ["c", "b", "d"] and [kind for _, kind in rest] == ["c", "e", "a"]


def test_peroxide_is_not_always_a_closed_jug():
    assert "inc.72" not in mechanisms(ask("peroxide_3", "bleach_iron_chloride"))


def test_a_bath_of_one_recipe_is_not_told_to_be_rinsed_between():
    own = [f for f in ask("first_developer", "water") if f.a_from == f.b_from]
    assert all(f.level.value == "note" for f in own)


def test_the_default_developer_carries_no_loud_caution():
    from obverse.process.catalog import formulas

    assert all(f.level.value == "note" for f in check_mix(formulas()["first_developer"]))


def own_bath(*lines):
    return Formula.model_validate(
        {
            "name": "own",
            "role": "fixer",
            "components": [{"substance": s, "concentration": f"{g} g/L"} for s, g in lines],
        }
    )


@pytest.mark.parametrize(
    ("parts", "dead"),
    [
        ({"potassium_permanganate": 2, "sulfuric_acid": 10, "ascorbic_acid": 20}, True),
        ({"iron_iii_chloride": 50, "ascorbic_acid": 20}, True),
        ({"potassium_permanganate": 2, "sulfuric_acid": 10}, False),
        ({"hydrogen_peroxide": 30, "citric_acid": 20}, False),
        ({"iron_iii_chloride": 50, "ascorbic_acid": 2}, False),
        ({"iron_iii_chloride_hexahydrate": 100, "sodium_dithionite": 10}, True),
    ],
)
def test_a_recipe_whose_reducer_takes_its_oxidiser_is_told_to_be_dead(parts, dead):
    assert any("dead before a film" in finding.text for finding in check_mix(own_bath(*parts.items()))) is dead


@pytest.mark.parametrize(
    "lines",
    [
        (("ammonium_thiosulfate", 120), ("sulfuric_acid", 10)),
        (("sodium_dithionite", 50), ("iron_iii_chloride", 25)),
        (("sodium_sulfide", 5), ("citric_acid", 15)),
    ],
)
def test_a_recipe_that_makes_poison_gas_is_refused(lines):
    with pytest.raises(UnsafeError, match=r"sulfur dioxide|hydrogen sulfide"):
        refuse_lethal(check_mix(own_bath(*lines)))


def test_gas_of_an_hour_beside_a_bath_is_told_with_its_time_and_what_to_leave_out():
    [told, *_] = [f for f in check_mix(own_bath(("ammonium_thiosulfate", 120), ("sulfuric_acid", 10))) if f.refused]
    assert "about 221 ppm in 6 m3" in told.text and "within 60 minutes of work beside it" in told.text
    assert told.advice == "This bath destroys itself and fills the room: leave out one of the parts that make the gas."


@pytest.mark.parametrize(
    "lines",
    [
        (("ammonium_thiosulfate", 120), ("sodium_sulfite", 10), ("acetic_acid", 10)),
        (("ammonium_thiosulfate", 120), ("sodium_metabisulfite", 20)),
        (("ammonium_thiosulfate", 120), ("citric_acid", 15)),
        (("sodium_dithionite", 8), ("sodium_carbonate", 10)),
    ],
)
def test_a_bath_that_keeps_long_enough_to_be_used_is_not_refused(lines):
    refuse_lethal(check_mix(own_bath(*lines)))


def test_lye_that_nears_boiling_is_told_at_its_line():
    sheet = make_sheet(own_bath(("sodium_hydroxide", 300)), 500, list(products().values()), USUAL_TOOLS)
    line = next(line for line in sheet.lines if line.product == "caustic_soda")
    assert [c.level.value for c in line.cautions if c.code == "mix.heat"] == ["danger"]


def test_what_will_not_dissolve_is_said_with_the_limit():
    with pytest.raises(InputError, match="265 g/L"):
        make_sheet(own_bath(("sodium_sulfite", 900)), 500, list(products().values()), USUAL_TOOLS)


def test_acid_comes_after_permanganate_and_dithionite_after_its_alkali():
    bleach = own_bath(("sulfuric_acid", 17), ("potassium_permanganate", 2))
    steps = [line.product for line in make_sheet(bleach, 500, list(products().values()), USUAL_TOOLS).lines]
    assert steps.index("permanganate_crystals") < steps.index("battery_acid_37")
    given_order = bleach.model_copy(
        update={
            "components": tuple(
                c.model_copy(update={"add_order": 1 if c.substance == "sulfuric_acid" else 2})
                for c in bleach.components
            )
        }
    )
    steps = [line.product for line in make_sheet(given_order, 500, list(products().values()), USUAL_TOOLS).lines]
    assert steps.index("permanganate_crystals") < steps.index("battery_acid_37")
    fog = own_bath(("sodium_dithionite", 8), ("sodium_hydroxide", 5))
    steps = [line.product for line in make_sheet(fog, 500, list(products().values()), USUAL_TOOLS).lines]
    assert steps.index("caustic_soda") < steps.index("dithionite_85")


def test_vinegar_does_not_stand_in_where_the_acid_must_stay_or_reach_ph_2():
    from obverse.process.catalog import formulas

    shelf = [products()[key] for key in ("vinegar_essence_25", "peroxide_12")]
    with pytest.raises(InputError, match="hold metal ions and not evaporate"):
        make_sheet(formulas()["bleach_peroxide_acid"], 500, shelf, USUAL_TOOLS)
    with pytest.raises(InputError, match=r"pH 2.*or an acid that does"):
        make_sheet(formulas()["acid_rinse"], 500, shelf, USUAL_TOOLS)
    with pytest.raises(InputError, match=r"bath of your own with pool pH-minus.*which does"):
        make_sheet(
            formulas()["acid_rinse"], 500, [*shelf, products()["sulfuric_96"], products()["ph_minus"]], USUAL_TOOLS
        )
    assert make_sheet(formulas()["stop_citric"], 500, shelf, USUAL_TOOLS).amounts


def test_at_most_three_are_shown_and_the_worst_first():
    found = ask("laundry_bleach", "household_ammonia_5")
    shown, rest = shown_and_folded(found)
    assert len(shown) <= 3 and len(shown) + len(rest) == len(found)
    assert shown[0].severity == max(f.severity for f in found)


def test_an_unknown_part_counts_at_its_worst():
    from obverse.safety.body import Portion

    mystery = Portion("grandfather's bottle", {}, 200.0, ("grandfather's bottle",))
    sulfide = liquid("toner", {"sodium_sulfide": 10}, 500)
    told = assess([sulfide, mystery], setting_for("mixing"))
    assert any(effect.mechanism == "unknown_part" for effect in told)
    assert assess([liquid("salt", {"sodium_chloride": 10}, 500), mystery], setting_for("mixing")) == ()


def test_the_two_unit_kinds_of_an_amount():
    assert brought("vinegar_5=0,2 L").amount.value == 200 and brought("borax=20g").amount.unit == "g"
    assert brought("peroxide_3").amount is None
    with pytest.raises(InputError, match="above zero"):
        brought("borax=0g")


ACID = st.floats(1, 500)


@settings(max_examples=40, deadline=None)
@given(ACID, st.floats(1.01, 5))
def test_more_sulfide_never_less_gas(grams, more):
    def ppm(g):
        found = assess(
            [liquid("t", {"sodium_sulfide": g / 10}, 500), liquid("a", {"sulfuric_acid": 200}, 500)],
            setting_for("mixing"),
        )
        return max((e.ppm or 0.0 for e in found if e.gas == "hydrogen_sulfide"), default=0.0)

    assert ppm(grams * more) >= ppm(grams) - 1e-9


@settings(max_examples=40, deadline=None)
@given(st.floats(2, 50), st.floats(1.1, 10), st.floats(0, 5))
def test_a_larger_room_never_makes_it_worse(volume, more, changes):
    parts = [powder("m", {"sodium_metabisulfite": 20}), liquid("a", {"sulfuric_acid": 100}, 300)]
    small = severity_of(assess(parts, setting_for("mixing", Room(volume, changes))))
    assert severity_of(assess(parts, setting_for("mixing", Room(volume * more, changes)))) <= small


def test_a_little_acid_frees_as_much_cyanide_as_it_has_protons():
    """20 mmol of acid on 50 mmol of cyanide: all of the acid goes to hydrogen cyanide (pKa 9.2), not only a splash of it."""
    parts = [liquid("bath", {"potassium_cyanide": 6.51}, 500), liquid("stop", {"hydrochloric_acid": 7.29}, 100)]
    gas = next(e for e in assess(parts, setting_for("mixing")) if e.gas == "hydrogen_cyanide")
    assert "20 mmol" in gas.amount or "0.02 mol" in gas.amount


def test_what_no_water_can_hold_leaves_wholly_and_never_more():
    assert 0.95 < leaving_share("hydrogen_sulfide", 10.0, 0.1, setting_for("mixing")) <= 1.0
    assert 0.0 < leaving_share("ammonia", 0.1, 1.0, setting_for("mixing")) < 0.1


def test_ammoniacal_silver_named_by_its_complex_alone_is_refused_as_it_stands_and_quiet_in_acid():
    bath = liquid("silver solution", {"silver_ammine_chloride": 5}, 300)
    assert severity_of(assess([bath], setting_for("standing", hours=48))) == 4
    acid = liquid("acid", {"citric_acid": 100}, 300)
    assert "ammoniacal_silver" not in {e.mechanism for e in assess([bath, acid], setting_for("standing", hours=48))}
