"""Waste jugs: classes, what may be poured, what is refused."""

import pytest

from obverse.foundation import InputError, UnsafeError
from obverse.process.catalog import formulas, routes
from obverse.safety.destroy import remnant_of
from obverse.safety.waste import (
    Jug,
    Poured,
    cautions_of,
    classes_for,
    jug_class,
    jug_classes,
    may_be_added,
    pour,
    silver_total_g,
    usual_jug,
    wrong_class,
)


def jug(letter="A", *held, capacity_ml=5000, vented=True):
    return Jug(
        letter=letter,
        name=f"jug {letter}",
        capacity_ml=capacity_ml,
        vented=vented,
        contents=tuple(Poured(what=w, volume_ml=200) for w in held),
    )


def test_the_recorded_classes_stand_and_our_own_is_marked():
    assert set(jug_classes()) == {"A", "B", "C", "D", "D2", "E", "F", "G"}
    assert jug_class("A").standing == "common practice, no source" and "judgement" in jug_class("D2").standing
    with pytest.raises(InputError):
        jug_class("Z")


def test_every_step_of_every_route_names_a_class():
    for route in routes().values():
        for step in route.steps:
            assert step.waste_jug in ("", *jug_classes()), step.key
            if step.formula and step.after_use in ("keep", "waste") and step.waste_jug != "D2":
                assert usual_jug(formulas()[step.formula]) == step.waste_jug, (route.key, step.key)


def test_fixer_on_fixer_adds_up():
    full = pour(
        jug("A", "fixer_rapid"),
        Poured(what="fixer_rapid", volume_ml=300, silver_low_g=0.1, silver_likely_g=0.2, silver_high_g=0.4),
    )
    assert full.volume_ml == 500 and full.silver_g.likely == 0.2
    assert silver_total_g([full, full]).high == pytest.approx(0.8)


@pytest.mark.parametrize(
    ("held", "what"),
    [
        ("fixer_rapid", "laundry_bleach"),
        ("clearing_metabisulfite", "bleach_dichromate"),
        ("bleach_dichromate", "clearing_metabisulfite"),
        ("bleach_dichromate", "hydrochloric_acid"),
        ("stop_citric", "laundry_bleach"),
    ],
)
def test_what_could_kill_is_refused(held, what):
    with pytest.raises(UnsafeError):
        pour(jug("A", held), Poured(what=what, volume_ml=100))


@pytest.mark.parametrize(
    "key", ["ammonia_bath", "bleach_permanganate", "bleach_peroxide_acid", "fogging_dithionite", "used_ammonia_bath"]
)
def test_a_bath_that_must_be_destroyed_is_refused_until_it_is(key):
    with pytest.raises(UnsafeError, match="destruction"):
        pour(jug("C"), Poured(what=key, volume_ml=100))
    after = pour(jug("C"), Poured(what=key, volume_ml=100), treated=True)
    assert after.contents[0].what.startswith("destroyed_")


@pytest.mark.parametrize("letter", ["E", "G"])
def test_a_class_that_is_never_kept_takes_nothing(letter):
    with pytest.raises(UnsafeError, match="kept in a jug"):
        may_be_added(jug(letter), "fixer_rapid")
    with pytest.raises(UnsafeError):
        pour(jug(letter), Poured(what="ammonia_bath", volume_ml=10), treated=True)


def test_acid_on_fixer_follows_the_amount():
    little = may_be_added(jug("A", "fixer_rapid"), "ph_minus", volume_ml=0.5)
    assert "inc.34" in {f.pair for f in little} and not any(f.refused for f in little)
    much = may_be_added(jug("A", "fixer_rapid"), "ph_minus", volume_ml=50)
    assert "reckoned.acid_sulfite" in {f.pair for f in much if f.refused}


def test_the_silver_of_a_destroyed_ammonia_bath_and_ammonia_again_are_refused():
    held = pour(jug("A"), Poured(what="ammonia_bath", volume_ml=100, silver_high_g=0.5), treated=True)
    with pytest.raises(UnsafeError, match="silver nitride"):
        pour(held, Poured(what="household_ammonia_5", volume_ml=200))


@pytest.mark.parametrize("what", ["household_ammonia_5", "soda_ash", "caustic_soda", "dithionite_85", "peroxide_3"])
def test_what_the_row_of_a_jug_bars_is_told(what):
    told = wrong_class(jug("B", "bleach_iron_chloride"), what)
    assert told is not None and told.code == "jug.never" and told.level.value == "danger"


def test_iron_chloride_is_the_acid_it_is():
    held = jug("B", "bleach_iron_chloride")
    assert "reckoned.acid_sulfite" in {f.pair for f in may_be_added(held, "dithionite_85", volume_ml=50) if f.refused}


def test_a_full_jug_takes_no_more():
    with pytest.raises(InputError, match="nine tenths"):
        pour(jug("A", "fixer_rapid", capacity_ml=400), Poured(what="fixer_rapid", volume_ml=170))


def test_a_closed_jug_that_makes_gas_bursts():
    assert "inc.72" in {f.pair for f in may_be_added(jug("B", "bleach_iron_chloride", vented=False), "peroxide_3")}
    assert "inc.72" not in {f.pair for f in may_be_added(jug("B", "bleach_iron_chloride"), "peroxide_3")}
    assert "jug.vent" in {c.code for c in cautions_of(jug("A", vented=False))}


def test_every_jug_defers_to_local_codes():
    assert "jug.local" in {caution.code for caution in cautions_of(jug("B"))}


def test_every_formula_has_a_usual_jug():
    assert all(usual_jug(formula) in jug_classes() for formula in formulas().values())


@pytest.mark.parametrize(
    ("held", "what", "why"),
    [
        # Colourless permanganate is still acid; aired dithionite is sulfite.
        ("clearing_metabisulfite", "bleach_permanganate", "sulfur dioxide"),
        ("wash_aid_sulfite", "bleach_permanganate", "sulfur dioxide"),
        ("laundry_bleach", "bleach_peroxide_acid", "chlorine"),
        ("ph_minus", "fogging_dithionite", "sulfur dioxide"),
    ],
)
def test_what_is_left_of_a_destroyed_bath_is_checked_too(held, what, why):
    with pytest.raises(UnsafeError, match=why):
        pour(jug("F", held), Poured(what=what, volume_ml=100), treated=True)
    after = pour(jug("C"), Poured(what=what, volume_ml=100), treated=True)
    with pytest.raises(UnsafeError, match=why):
        pour(after, Poured(what=held, volume_ml=100))


@pytest.mark.parametrize("key", ["ammonia_bath", "bleach_permanganate", "bleach_peroxide_acid", "fogging_dithionite"])
def test_what_is_left_no_longer_holds_what_was_destroyed(key):
    left = {name for part in remnant_of(formulas()[key]).ingredients for name in part.classes}
    assert not left & {"ammonia", "silver_ammine", "permanganate", "peroxide", "dithionite"}
    assert left


def test_remnants_of_two_evenings_go_together():
    for letter, key in (
        ("A", "ammonia_bath"),
        ("C", "bleach_permanganate"),
        ("A", "bleach_peroxide_acid"),
        ("F", "fogging_dithionite"),
    ):
        once = pour(jug(letter), Poured(what=key, volume_ml=100), treated=True)
        assert pour(once, Poured(what=key, volume_ml=100), treated=True).volume_ml == 200


def test_a_persons_own_formula_is_checked_like_any():
    own = {"mine": formulas()["bleach_dichromate"].model_copy(update={"key": "mine", "name": "mine"})}
    held = pour(jug("D"), Poured(what="mine", volume_ml=100), known={**formulas(), **own})
    with pytest.raises(UnsafeError):
        pour(held, Poured(what="clearing_metabisulfite", volume_ml=100), known={**formulas(), **own})


def test_a_stranger_in_a_jug_is_told_before_and_after():
    assert wrong_class(jug("A"), "fixer_rapid") is None
    assert "class A" in wrong_class(jug("F"), "fixer_rapid").text
    assert (
        wrong_class(jug("D2"), "clearing_metabisulfite") is None
        and wrong_class(jug("D"), "clearing_metabisulfite") is not None
    )
    assert (
        wrong_class(jug("C"), "destroyed_bleach_permanganate") is None
        and wrong_class(jug("F"), "destroyed_bleach_permanganate") is not None
    )
    assert wrong_class(jug("A"), "pure_salt") is None
    assert "jug.class" in {c.code for c in cautions_of(jug("F", "fixer_rapid"))}
    assert "jug.class" not in {c.code for c in cautions_of(jug("A", "fixer_rapid"))}


def test_every_route_pours_into_the_right_class():
    for route in routes().values():
        for step in route.steps:
            if step.formula and step.waste_jug:
                what = step.formula if step.after_use != "destroy" else f"destroyed_{step.formula}"
                assert step.waste_jug in classes_for(what), (route.key, step.key)
