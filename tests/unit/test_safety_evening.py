"""Where baths meet though no film carries them: jug, drain, air, closed bottle; and what a sheet tells of order, speed and the cup."""

import pytest

from obverse.foundation import UnsafeError
from obverse.mixing import mix, rolls_in
from obverse.process import USUAL_TOOLS, Component, Formula, Product, Rinse
from obverse.process.catalog import formulas, products, routes
from obverse.safety import check_route
from obverse.safety.bath_life import forecast
from obverse.workbench.bench import make_sheet
from obverse.workbench.house_opinion import opinions

F = formulas()


def formula(key, role, *components):
    held = tuple(Component(substance=s, concentration=c) for s, c in components)
    return Formula(key=key, name=key, role=role, components=held)


OWN = {
    each.key: each
    for each in (
        formula("sulfide", "wash_aid", ("sodium_sulfide", "10 g/L")),
        formula("sour", "stop", ("citric_acid", "30 g/L")),
        formula("chlorine_water", "bleach", ("sodium_hypochlorite", "40 g/L")),
        formula("strong_sour", "acid_rinse", ("hydrochloric_acid", "60 g/L")),
    )
}


def way(*steps):
    """A way of these baths, each with what is done with it, its jug and the fills of its rinse."""
    base = routes()["permanganate_light"]
    first = base.steps[0]
    rows = [
        first.model_copy(
            update={
                "key": f"step {number}",
                "kind": "other",
                "formula": key,
                "after_use": after,
                "waste_jug": jug,
                "rinse_after": Rinse(fills=(5,) * fills) if fills else None,
            }
        )
        for number, (key, after, jug, fills) in enumerate(steps)
    ]
    return base.model_copy(update={"steps": (first, *rows)})


def met(*steps, context):
    """What is found in one context of such a way."""
    found = check_route(way(*steps), F | OWN, tank_ml=500)
    return {f.pair.removeprefix("reckoned."): f for f in found if f.context == context}


def test_the_drain_holds_the_last_thing_until_water_has_flushed_it():
    unflushed = met(("sulfide", "discard", "", 0), ("sour", "discard", "", 0), context="drain")["acid_sulfide"]
    assert unflushed.refused and unflushed.where == "step 1"
    flushed = met(("sulfide", "discard", "", 9), ("sour", "discard", "", 0), context="drain")
    assert [(name, one.where) for name, one in flushed.items()] == [("drain_poison", "step 0")]
    assert not met(("sulfide", "waste", "F", 0), ("sour", "discard", "", 0), context="drain")


def test_two_baths_that_stand_open_are_told_of_and_usual_ones_are_not():
    found = met(("chlorine_water", "discard", "", 9), ("strong_sour", "waste", "B", 0), context="same_room")
    assert "chlorine" in found["hypochlorite_acid"].text
    assert not met(("bleach_iron_chloride", "keep", "", 9), ("fixer_rapid", "keep", "", 0), context="same_room")


def test_peroxide_that_goes_back_under_its_cap_bursts_it():
    assert "bursts" in met(("bleach_peroxide_acid", "keep", "", 9), context="closed_jug")["pressure"].text
    assert not met(("fixer_rapid", "keep", "", 9), context="closed_jug")


def test_a_jug_is_weighed_by_its_amounts():
    """Two developers in one jug make no ammonia to speak of; bleach and clearing bath make gas that drives one out."""
    for found in check_route(routes()["permanganate_light"], F):
        assert found.where != "jug F" or found.level.value == "note"
    both = ("bleach_permanganate", "waste", "C", 3), ("clearing_metabisulfite", "waste", "C", 0)
    found = met(*both, context="waste")["acid_sulfite"]
    assert found.level.value == "danger" and "ppm" in found.text
    told = [one.code for one in opinions(way(*both), F, {}) if one.step == "step 1"]
    assert "care.reckoned.acid_sulfite.1" in told or "care.inc.32.1" in told


def test_the_plan_knows_what_tonights_jug_already_holds(workbench):
    care, route = workbench.care, routes()["permanganate_light"]
    jug = care.begin_jug("C", 5000)
    assert not care.into_the_jugs(route, 500, F)
    care.pour(jug, "laundry_bleach", 500)
    cautions = workbench.sink.plan({"route": route.key, "tank_ml": 500}).cautions
    first, *_ = (c for c in cautions if "as it stands" in c.text)
    assert first.level == "danger" and first.where == "jug C"
    assert "chlorine" in first.text and "new jug" in first.text


def product(name, substance, strength, form="liquid", **more):
    content = {"substance": substance, "strength": strength}
    return Product.model_validate(
        {"key": name.replace(" ", "_"), "name": name, "form": form, "contents": [content], **more}
    )


SHELF = (
    *products().values(),
    product("glycerol", "glycerol", "99 % w/w", density_g_per_ml=1.26),
)


def sheet(*components, role="bleach", ml=500.0, shelf=SHELF):
    return make_sheet(formula("bath", role, *components), ml, shelf, USUAL_TOOLS)


def told(found):
    return [f"{c.level.value}: {c.text}" for c in found.cautions]


def test_a_sheet_tells_what_its_order_its_portions_and_its_dry_cup_prevent():
    [order, *_] = told(sheet(("potassium_permanganate", "40 g/L"), ("glycerol", "50 g/L")))
    assert order.startswith("danger: Keep to the order") and "sets fire" in order
    quick = told(sheet(("sodium_carbonate", "40 g/L"), ("sulfuric_acid", "60 g/L"), ml=1000))
    assert any("In one go: carbon dioxide foams over" in text for text in quick)
    damp = ("sodium_carbonate", "10 g/L")
    assert any("Cup and spoon dry" in text for text in told(sheet(damp, ("sodium_dithionite", "60 g/L"))))
    assert not told(sheet(damp, ("sodium_dithionite", "8 g/L"), role="fogging"))


def test_what_kills_is_refused_though_a_part_of_it_is_not_on_the_shelf():
    """Nobody is told to buy the other half."""
    with pytest.raises(UnsafeError, match="hydrogen sulfide"):
        sheet(("citric_acid", "15 g/L"), ("sodium_sulfide", "5 g/L"))


def test_hypo_in_acid_is_no_fixer_of_so_many_rolls():
    hypo = ("sodium_thiosulfate_pentahydrate", "160 g/L")
    sour = sheet(hypo, ("acetic_acid", "1 g/L"), role="fixer")
    assert "falls to sulfur" in told(sour)[0] and rolls_in(sour) is None
    kept = sheet(hypo, ("sodium_sulfite", "15 g/L"), ("citric_acid", "30 g/L"), role="fixer")
    assert not any("sulfur," in text for text in told(kept)) and rolls_in(kept).likely > 5


@pytest.mark.parametrize(("key", "ml"), [("bleach_iron_chloride", 300), ("bleach_peroxide_acid", 500)])
def test_sheet_and_care_count_the_films_of_a_bleach_alike(key, ml):
    """Practice, not arithmetic: about eight films to a jug of iron bleach (common practice, no source)."""
    rolls = rolls_in(mix(F[key], ml, tuple(products().values())))
    assert rolls.likely == pytest.approx(forecast(F[key], volume_ml=ml).rolls_left.value, rel=0.4)
    assert rolls.high < 30 < rolls_in(mix(F["bleach_dichromate"], 5000, tuple(products().values()))).high
