"""What the chemistry does to the film along a route."""

import pytest

from obverse.foundation import InputError
from obverse.mixing import insights, mix
from obverse.process import Component, Formula, Rinse
from obverse.process.catalog import formulas, products, routes
from obverse.run import plan_run
from obverse.safety import check_mix, check_route, refuse_lethal
from obverse.safety.film import bromide_that_chloride_may_convert, wash_needed_min, wash_told


def changed(route, key, **values):
    steps = tuple(step.model_copy(update=values) if step.key == key else step for step in route.steps)
    return route.model_copy(update={"steps": steps})


def film(route):
    return {f.pair: f for f in check_route(route, formulas()) if f.pair.startswith("film.")}


@pytest.mark.parametrize("route", routes().values(), ids=lambda r: r.key)
def test_the_books_own_routes_need_no_such_word(route):
    assert film(route) == {}


def test_chloride_turns_bromide_by_the_ratio_of_the_solubility_products():
    # 5.35e-13 / 1.77e-10 = 0.0030: a mole of chloride stands beside 3.0 mmol of bromide per litre.
    assert bromide_that_chloride_may_convert(1.0, 500, 0.003) == pytest.approx(0.0030 * 0.5 / 0.003, rel=0.02)
    assert bromide_that_chloride_may_convert(1.0, 5000, 0.003) == 1.0
    assert bromide_that_chloride_may_convert(1.0, 500, 0.0) == 0.0


def test_a_long_iron_bleach_is_told_with_the_limit():
    told = film(changed(routes()["iron_ammonia_light"], "bleaching", time_min=20))["film.conversion"]
    assert told.where == "bleaching" and "bromide" in told.text and "8 min" in told.advice
    assert film(changed(routes()["permanganate_light"], "bleaching", time_min=20)) == {}


def test_acid_straight_into_ammonia_swells():
    route = changed(routes()["iron_ammonia_light"], "acid_rinse_2", rinse_after=Rinse(fills=(5,)))
    told = film(route)["film.swelling"]
    assert told.where == "dissolving" and "pH 2" in told.text and "hardener_chrome_alum" in told.advice


def test_iron_reaches_dithionite_only_where_nothing_rinses_between():
    route = routes()["iron_ammonia_fogging"]
    keep = {"first_development", "bleaching", "fogging"}
    bare = route.model_copy(
        update={"steps": tuple(s.model_copy(update={"rinse_after": None}) for s in route.steps if s.key in keep)}
    )
    assert film(bare)["film.iron_in_dithionite"].where == "fogging"
    assert "film.iron_in_dithionite" not in film(route)


def test_light_before_the_chloride_is_gone_is_told():
    route = changed(routes()["iron_ammonia_light"], "acid_rinse_1", light="light")
    assert film(route)["film.light_on_chloride"].where == "acid_rinse_1"


def test_a_wash_too_short_for_its_fixer_is_noted():
    route = changed(routes()["permanganate_light"], "washing", time_min=2, rinse_after=None)
    assert "5 min" in film(route)["film.wash"].text
    assert wash_needed_min("plain", wash_aid=False) > wash_needed_min("rapid", wash_aid=False)
    with pytest.raises(InputError, match="no wash is known"):
        wash_needed_min("cyanide", wash_aid=False)


@pytest.mark.parametrize("key", ["hardener_chrome_alum", "hardener_formalin"])
def test_the_hardeners_that_are_advised_exist_and_may_be_mixed(key):
    refuse_lethal(check_mix(formulas()[key]))


@pytest.mark.parametrize(
    ("substance", "said"), [("sodium_sulfide", "hydrogen sulfide"), ("sodium_selenite", "poisons")]
)
def test_a_toner_is_told_with_its_grams_and_none_is_usual(substance, said):
    toner = Formula(
        name="toner", key="toner", role="wash_aid", components=(Component(substance=substance, concentration="4 g/L"),)
    )
    route = changed(routes()["permanganate_light"], "wash_aid", formula="toner")
    [told] = [f for f in check_route(route, {**formulas(), "toner": toner}, tank_ml=500) if f.pair == "film.toning"]
    assert told.where == "wash_aid" and "2 g" in told.text and said in told.text


def test_hard_water_is_told_where_carbonate_or_the_last_water_meets_it():
    shelf = tuple(products().values())
    said = {
        key: [i.text for i in insights(mix(formulas()[key], 1000, shelf)) if i.code == "water.hard"]
        for key in formulas()
    }
    assert "chalk, here 0.1" in said["fogging_dithionite"][0] and "spots" in said["wetting_bath"][0]
    assert not said["acid_rinse"] and not said["bleach_iron_chloride"]


def test_a_plan_says_how_long_a_film_is_washed_that_shall_keep():
    known, route = formulas(), routes()["permanganate_light"]
    told = wash_told(route, known)
    assert (
        "about 5 min" in told and "after a rapid fixer and a wash aid" in told and "common practice, no source" in told
    )
    without = route.model_copy(update={"steps": tuple(s for s in route.steps if s.formula != "wash_aid_sulfite")})
    assert "about 10 min" in wash_told(without, known)
    assert wash_told(route.model_copy(update={"steps": tuple(s for s in route.steps if s.kind != "fix")}), known) == ""
    plan = plan_run(route, known, tank_ml=500)
    washes = [action for action in plan.actions if action.kind == "wash"]
    assert washes and all(told in action.why for action in washes)
