"""Routes: complete, without a false refusal, and refused when they are broken."""

import pytest

from obverse.foundation import InputError, UnsafeError
from obverse.process import Formula, Process, Rinse
from obverse.process.catalog import formulas, routes
from obverse.safety import check_mix, check_route, destruction_steps, refuse_lethal, residue_of, standing_caution

BLEACHES = {"iron_chloride_ammonia", "acid_permanganate", "peroxide_acid", "acid_dichromate"}


def changed(route: Process, key: str, **values) -> Process:
    steps = tuple(step.model_copy(update=values) if step.key == key else step for step in route.steps)
    return route.model_copy(update={"steps": steps})


def without(route: Process, *keys: str) -> Process:
    return route.model_copy(update={"steps": tuple(step for step in route.steps if step.key not in keys)})


def test_four_bleaches_each_with_light_and_with_fogging():
    assert {(route.bleach, route.reversal) for route in routes().values()} == {
        (b, r) for b in BLEACHES for r in ("light", "fogging")
    }


def test_dichromate_comes_last_with_cancer_in_its_first_warning():
    last = list(routes().values())[-2:]
    assert {route.bleach for route in last} == {"acid_dichromate"}
    assert all("cancer" in route.warnings[0] for route in last)


@pytest.mark.parametrize("route", routes().values(), ids=lambda r: r.key)
def test_route_is_complete(route):
    kinds = [step.kind for step in route.steps]
    assert kinds[0] == "develop" and kinds[-1] == "dry" and "bleach" in kinds and "wash" in kinds
    assert ("reexpose" in kinds and "redevelop" in kinds) == (route.reversal == "light")
    assert ("fog" in kinds) == (route.reversal == "fogging")
    fix = route.step("fixing")
    assert fix.optional and "recommended" in " ".join(fix.cautions)
    assert kinds.index("fix") > max(kinds.index(k) for k in ("redevelop", "fog") if k in kinds)
    for step in route.steps:
        assert step.do and step.why, step.key
        assert step.formula is None or step.formula in formulas()
        assert step.after_use not in ("waste", "keep", "destroy") or step.waste_jug, step.key
    # The film stays in the dark until the bleach (and what dissolves its chloride) is done.
    last_dark = max(i for i, step in enumerate(route.steps) if step.light == "dark")
    assert route.steps[last_dark].kind in ("bleach", "dissolve")
    assert all(step.light == "dark" for step in route.steps[: last_dark + 1])


def test_iron_leaves_in_acid_before_ammonia():
    for key in ("iron_ammonia_light", "iron_ammonia_fogging"):
        keys = [step.key for step in routes()[key].steps]
        assert (
            keys.index("bleaching") < keys.index("acid_rinse_1") < keys.index("acid_rinse_2") < keys.index("dissolving")
        )


@pytest.mark.parametrize("route", routes().values(), ids=lambda r: r.key)
def test_standard_routes_raise_no_refusal(route):
    findings = check_route(route, formulas())
    refuse_lethal(findings)
    assert not [f for f in findings if f.context == "carry_over" and f.level.value == "danger"]


@pytest.mark.parametrize("formula", formulas().values(), ids=lambda f: f.key)
def test_standard_formulas_raise_no_refusal(formula):
    refuse_lethal(check_mix(formula))


def test_iron_straight_into_ammonia_is_a_danger_to_the_film():
    route = without(routes()["iron_ammonia_light"], "acid_rinse_1", "acid_rinse_2")
    findings = check_route(route, formulas())
    assert {f.pair for f in findings if f.where == "dissolving" and f.level.value == "danger"} >= {"inc.44"}


def test_iron_into_tap_water_is_told_at_the_bleach():
    route = changed(routes()["iron_ammonia_light"], "bleaching", rinse_after=Rinse(fills=(5,)))
    assert "inc.64" in {
        f.pair for f in check_route(route, formulas()) if f.where == "bleaching" and f.level.value == "danger"
    }


def test_developer_without_rinse_into_permanganate():
    route = changed(routes()["permanganate_light"], "first_development", rinse_after=None)
    danger = {f.pair for f in check_route(route, formulas()) if f.where == "bleaching" and f.level.value == "danger"}
    # A fizz that the acid of the next bath shrugs off is no danger.
    assert {"inc.22", "inc.23", "inc.34", "inc.69"} <= danger and "inc.38" not in danger


def test_a_kept_or_poured_ammonia_silver_bath_is_refused():
    for after_use in ("keep", "waste", "discard"):
        route = changed(routes()["iron_ammonia_light"], "dissolving", after_use=after_use)
        with pytest.raises(UnsafeError, match="silver"):
            refuse_lethal(check_route(route, formulas()))


def test_acid_bleach_and_clearing_bath_in_one_jug_are_refused():
    route = changed(routes()["dichromate_light"], "clearing", waste_jug="D")
    with pytest.raises(UnsafeError, match="sulfur dioxide") as error:
        refuse_lethal(check_route(route, formulas()))
    assert error.value.where == "jug D"


def test_fixer_before_the_second_development_is_seen():
    route = routes()["permanganate_light"]
    steps = list(route.steps)
    fixing = steps.pop(next(i for i, s in enumerate(steps) if s.key == "fixing")).model_copy(
        update={"rinse_after": None}
    )
    steps.insert(1, fixing)
    found = check_route(route.model_copy(update={"steps": tuple(steps)}), formulas())
    assert "inc.67" in {f.pair for f in found if f.where == "bleaching" and f.level.value == "danger"}


def test_fixer_left_in_the_tank_reaches_the_next_roll():
    route = changed(without(routes()["permanganate_light"], "wash_aid", "wetting"), "fixing", rinse_after=None)
    route = changed(route, "washing", rinse_after=None)
    found = [f for f in check_route(route, formulas()) if f.pair == "inc.68"]
    assert [f.where for f in found] == ["first_development"]


def test_a_missing_formula_is_one_sentence():
    with pytest.raises(InputError, match="not at hand"):
        check_route(routes()["permanganate_light"], {})


def test_neat_bottles_of_a_good_formula_bring_the_order_of_adding():
    findings = check_mix(formulas()["bleach_permanganate"], ["permanganate_crystals", "sulfuric_96"])
    order = next(f for f in findings if f.pair == "inc.16")
    assert (
        order.level.value == "danger"
        and not order.refused
        and order.text.startswith("Keep to the order of this sheet. Otherwise potassium permanganate crystals and")
    )
    assert "inc.39" in {f.pair for f in findings}


def test_a_formula_that_can_kill_is_refused():
    own = Formula.model_validate(
        {
            "name": "mistake",
            "role": "clearing",
            "components": [
                {"substance": "sodium_metabisulfite", "concentration": "30 g/L"},
                {"substance": "sulfuric_acid", "concentration": "10 g/L"},
            ],
        }
    )
    with pytest.raises(UnsafeError, match="sulfur dioxide"):
        refuse_lethal(check_mix(own))


def test_which_baths_must_be_destroyed():
    kinds = {key: residue.kind for key in formulas() if (residue := residue_of(formulas()[key]))}
    assert kinds == {
        "ammonia_bath": "ammonia_silver",
        "bleach_permanganate": "permanganate",
        "bleach_peroxide_acid": "peroxide",
        "fogging_dithionite": "dithionite",
    }
    for route in routes().values():
        for step in route.steps:
            assert (step.after_use == "destroy") == (step.formula in kinds), (route.key, step.key)
            if step.formula in kinds:
                assert step.deal_with_within_min == residue_of(formulas()[step.formula]).deadline_min


def test_the_ammonia_bath_goes_in_four_steps_within_two_hours():
    steps = destruction_steps(formulas()["ammonia_bath"], volume_ml=500)
    assert [step.key for step in steps] == ["destroy_dilute", "destroy_salt", "destroy_acid", "destroy_settle"]
    assert {step.deal_with_within_min for step in steps[:3]} == {120}
    assert sum(step.time_min for step in steps[:3]) < 120
    assert "2 plastic buckets" in steps[0].do and "3.5 L" in steps[0].do and "pH 2" in steps[2].do
    assert "oxalic" in " ".join(steps[2].cautions)
    assert all(step.kind == "destroy" and step.formula is None for step in steps)


def test_the_clock_of_a_used_bath():
    bath = formulas()["ammonia_bath"]
    assert "within 30 minutes" in standing_caution(bath, 90).text
    late = standing_caution(bath, 180)
    assert late.level.value == "danger" and "60 minutes too long" in late.text and "shake" in late.text
    assert standing_caution(formulas()["fixer_rapid"], 10_000) is None
    with pytest.raises(InputError):
        destruction_steps(bath, volume_ml=0)
