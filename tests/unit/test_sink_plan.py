"""The plan of an evening: cues, rinses, times, just-in-time baths, the dark, and a proof that can fail."""

import math

import pytest

from obverse.foundation import InputError, UnsafeError
from obverse.process import Agitation
from obverse.process.catalog import formulas, routes
from obverse.reference import record
from obverse.run import Action, Lived, Strip, agitation_cues, compensated_time_s, kappa_per_c, plan_run, prove
from obverse.workbench.evening_words import conflict_words, order_words

ALL = tuple(routes())


def planned(route="iron_ammonia_fogging", **more):
    return plan_run(routes()[route], formulas(), **{"tank_ml": 500, **more})


@pytest.mark.parametrize("key", ALL)
def test_every_route_is_planned_and_the_proof_holds(key):
    plan = planned(key)
    assert plan.proof.holds, plan.proof.conflicts
    assert plan.proof.spans_checked > 40
    assert len({a.key for a in plan.actions}) == len(plan.actions)
    for before, after in zip(plan.actions, plan.actions[1:], strict=False):
        assert after.start_s == pytest.approx(before.end_s)


def test_agitation_by_the_usual_scheme():
    cues = agitation_cues(Agitation(initial_s=30, every_s=60, inversions=4), 600, 10, 2.5)
    assert [c.at_s for c in cues] == [0, 60, 120, 180, 240, 300, 360, 420, 480, 540]
    assert [c.lasts_s for c in cues] == [30] + [10] * 9


def test_agitation_in_seconds_constant_and_none():
    assert [
        (c.at_s, c.lasts_s)
        for c in agitation_cues(Agitation(initial_s=0, every_s=30, inversions=0, seconds=5), 100, 10, 2.5)
    ] == [(30, 5), (60, 5)]
    assert [(c.at_s, c.lasts_s) for c in agitation_cues(Agitation(constant=True), 180, 10, 2.5)] == [(0, 170)]
    assert agitation_cues(Agitation(initial_s=0, inversions=0, seconds=0), 180, 10, 2.5) == []


def test_no_bout_runs_into_the_draining():
    for duration in range(20, 400, 7):
        for cue in agitation_cues(Agitation(initial_s=30, every_s=30, inversions=6), duration, 10, 2.5):
            assert cue.at_s + cue.lasts_s <= duration - 10


def test_rinses_dilute_by_the_published_example():
    # Record wash.example: 60 g/L, 10 mL held back, fills of 500 mL: 1.18, 0.0231, 0.000452 g/L.
    shares = [a.carry_over for a in planned().actions if a.key.startswith("first_development.rinse")]
    for share, told in zip(shares, record("wash.example").value, strict=False):
        assert 60 * share == pytest.approx(told, rel=0.01)


def test_any_numbers_of_fills():
    route = routes()["iron_ammonia_light"]
    first = route.steps[0]
    changed = first.model_copy(
        update={"rinse_after": first.rinse_after.model_copy(update={"fills": (3, 7, 11, 13), "running_water_min": 2})}
    )
    plan = plan_run(route.model_copy(update={"steps": (changed, *route.steps[1:])}), formulas(), tank_ml=500)
    fills = [a for a in plan.actions if a.key.startswith("first_development.rinse")]
    assert [a.fill.turns for a in fills[:4]] == [3, 7, 11, 13] and fills[4].fill.turns is None
    assert fills[4].duration_s == 120
    assert fills[4].carry_over == pytest.approx((10 / 510) ** 6)


def test_kappa_and_the_compensated_time():
    kappa = kappa_per_c()
    # Design page: about 0.08 per kelvin; Q10 of the tables 2.1 to 2.3.
    assert 2.05 < math.exp(10 * kappa.value) < 2.35
    low, high = record("q10-range").value["homogeneous_reactions"]
    assert kappa.low90 < math.log(low) / 10 + 0.01 and kappa.high90 > math.log(high) / 10 - 0.015
    warm = compensated_time_s(600, 20, 24)
    assert warm.value == pytest.approx(600 * math.exp(-4 * kappa.value))
    assert warm.sd == pytest.approx(warm.value * 4 * kappa.sd)
    assert compensated_time_s(600, 20, 20).sd == 0


def test_only_the_first_developer_is_timed_for_temperature_and_from_the_recipe_temperature():
    plan = planned(controls={"first_developer_time_min": 9, "temperature_c": 21}, temperature_c=23)
    first = plan.action("first_development")
    assert first.nominal_s == 540
    assert first.duration_s == pytest.approx(540 * math.exp(-2 * plan.kappa))
    assert any(c.code == "temperature.time" and c.where == "first_development" for c in plan.cautions)
    assert plan.action("bleaching").duration_s == 60 * routes()["iron_ammonia_fogging"].step("bleaching").time_min
    assert (
        planned(controls={"first_developer_time_min": 9, "temperature_c": 21}).action("first_development").duration_s
        == 540
    )


@pytest.mark.parametrize(
    ("temperature", "word"), [(15.9, "too cold"), (26.1, "too warm"), (math.nan, "not a temperature")]
)
def test_outside_16_to_26_c_is_refused_with_the_reason(temperature, word):
    with pytest.raises(InputError, match=word):
        planned(temperature_c=temperature)
    with pytest.raises(InputError, match=word):
        planned(bath_temperatures_c={"fixing": temperature})


def test_the_ends_of_the_range_are_let_in():
    assert planned(temperature_c=16).proof.holds and planned(temperature_c=26).proof.holds


def test_neighbours_more_than_three_degrees_apart_and_loudest_after_permanganate():
    steps = [
        c
        for c in planned("permanganate_light", bath_temperatures_c={"water": 16.5}).cautions
        if c.code == "temperature.step"
    ]
    levels = {c.where: c.level for c in steps}
    assert levels["first_development.rinse.1"] == "caution"
    assert levels["bleaching.rinse.1"] == "danger" and levels["clearing"] == "danger"
    assert not [c for c in planned(bath_temperatures_c={"water": 17.0}).cautions if c.code == "temperature.step"]
    assert {c.level for c in planned(bath_temperatures_c={"water": 16.9}).cautions if c.code == "temperature.step"} == {
        "caution"
    }


@pytest.mark.parametrize("key", ALL)
def test_short_lived_baths_are_made_just_in_time(key):
    plan = planned(key)
    made = {a.formula: a for a in plan.actions if a.kind == "prepare"}
    for step in routes()[key].steps:
        formula = formulas()[step.formula] if step.formula else None
        if formula and formula.use_within_min:
            used = [a for a in plan.actions if a.kind == "bath" and a.step == step.key][-1]
            assert used.end_s - made[formula.key].end_s <= 60 * formula.use_within_min, formula.key
    assert {life.formula for life in plan.lives if life.kind == "life"} >= {
        k for k in made if formulas()[k].use_within_min
    }


def test_the_fogging_powder_is_weighed_before_and_stirred_in_while_the_film_waits_in_water():
    keys = [a.key for a in planned().actions]
    assert keys.index("weigh.fogging_dithionite") < keys.index("lights_out")
    hold = keys.index("fogging.hold")
    assert keys[hold : hold + 4] == ["fogging.hold", "prepare.fogging_dithionite", "fogging.hold_end", "fogging"]


@pytest.mark.parametrize("key", ALL)
def test_what_must_not_stand_is_destroyed_in_time(key):
    plan = planned(key)
    wanted = {s.formula for s in routes()[key].steps if s.after_use == "destroy"}
    assert {a.formula for a in plan.actions if a.kind == "destroy"} == wanted
    assert {life.formula for life in plan.lives if life.kind == "deadline"} == wanted


def test_the_evening_has_its_dark_its_opening_and_its_handwork():
    for key in ALL:
        kinds = [a.kind for a in planned(key).actions]
        for kind in ("lay_out", "fill_bottles", "prewarm", "lights_out", "load", "check", "hang", "clear_up"):
            assert kind in kinds, (key, kind)
        opened = min(kinds.index(k) for k in ("open", "may_open") if k in kinds)
        for action in planned(key).actions[:opened]:
            assert action.place != "open", action.key
    assert "reexpose" in [a.kind for a in planned("permanganate_light").actions]


def test_bottles_have_their_time_in_the_water_bath():
    plan = planned("iron_ammonia_light", mixed=("acid_rinse", "second_developer", "wash_aid_sulfite", "wetting_bath"))
    warm = plan.action("prewarm")
    first = plan.action("first_development")
    assert first.start_s - warm.end_s >= warm.unattended_s


def test_several_strips_each_with_its_own_first_development_then_together():
    strips = [
        Strip(name="short", controls={"first_developer_time_min": 7}),
        Strip(name="long", controls={"first_developer_time_min": 12}),
        Strip(name="twin", controls={"first_developer_time_min": 7}),
    ]
    plan = planned(strips=strips)
    assert plan.proof.holds, plan.proof.conflicts
    firsts = [a for a in plan.actions if a.step == "first_development" and a.kind == "bath"]
    assert [a.strips for a in firsts] == [("long",), ("short", "twin")]
    assert [a.duration_s for a in firsts] == [720, 420]
    assert "Order proposed" in order_words(plan)
    kinds = [a.kind for a in plan.actions]
    assert kinds.count("join") == 1 and kinds.count("load") == 3
    assert next(a for a in plan.actions if a.kind == "bath" and a.step == "bleaching").strips == (
        "long",
        "short",
        "twin",
    )
    # Each developer is one-shot: two are mixed.
    assert sum(a.formula == "first_developer" and a.kind == "prepare" for a in plan.actions) == 2


def test_the_proof_finds_hands_that_are_wanted_twice():
    one = Action(key="a", kind="prepare", name="A", duration_s=100, hands=((0, 100),))
    two = Action(key="b", kind="prepare", name="B", start_s=99, duration_s=10, hands=((0, 10),))
    proof = prove([one, two])
    assert not proof.holds and proof.conflicts[0].kind == "hands"
    assert prove([one, two.model_copy(update={"start_s": 100})]).holds
    # A long span that begins early is still seen behind a short one.
    short = Action(key="s", kind="prepare", name="S", start_s=10, duration_s=5, hands=((0, 5),))
    later = Action(key="l", kind="prepare", name="L", start_s=50, duration_s=5, hands=((0, 5),))
    assert len(prove([one, short, later]).conflicts) == 2


def test_the_proof_finds_a_bath_that_is_too_old_and_a_film_in_two_places():
    made = Action(key="m", kind="prepare", name="M", duration_s=60, hands=((0, 60),))
    used = Action(key="u", kind="bath", name="U", start_s=600, duration_s=60)
    assert not prove(
        [made, used], [Lived(formula="f", from_action="m", from_edge="end", to_action="u", limit_s=599, kind="life")]
    ).holds
    assert prove(
        [made, used], [Lived(formula="f", from_action="m", from_edge="end", to_action="u", limit_s=600, kind="life")]
    ).holds
    other = Action(key="o", kind="bath", name="O", start_s=630, duration_s=60)
    assert [c.kind for c in prove([used, other]).conflicts] == ["film"]


def test_the_proof_finds_light_on_the_film():
    load = Action(key="l", kind="load", name="L", duration_s=60, place="dark_room")
    bath = Action(key="b", kind="bath", name="B", start_s=60, duration_s=60, place="open")
    assert [c.kind for c in prove([load, bath]).conflicts] == ["light"]
    opened = Action(key="o", kind="may_open", name="O", start_s=60, duration_s=0, place="open")
    dark = Action(key="d", kind="bath", name="D", start_s=130, duration_s=60, place="closed_tank")
    assert [c.kind for c in prove([load, opened, dark]).conflicts] == ["light"]


def test_a_plan_that_does_not_hold_says_which_two():
    route = routes()["iron_ammonia_light"]
    hasty = route.step("bleaching").model_copy(update={"agitation": Agitation(initial_s=30, every_s=12, inversions=6)})
    plan = plan_run(
        route.model_copy(update={"steps": tuple(hasty if s.key == "bleaching" else s for s in route.steps)}),
        formulas(),
        tank_ml=500,
    )
    assert not plan.proof.holds
    assert "Iron(III) chloride bleach: one bout of agitation is not over" in conflict_words(
        plan.proof.conflicts[0], plan
    )


def test_slow_hands_still_get_a_proof_one_way_or_the_other():
    for key in ALL:
        plan = planned(key, pace=3)
        assert plan.proof.holds or plan.proof.conflicts
        assert plan.duration_s > planned(key).duration_s


def test_any_step_may_be_left_out_repeated_or_timed_anew_for_tonight():
    changed = planned(without=["fixing", "bleaching"], again=["clearing"], times_min={"fogging": 7})
    steps = list(dict.fromkeys(action.step for action in changed.actions if action.step))
    assert not {"fixing", "bleaching"} & set(steps)
    assert steps.index("clearing_again") == steps.index("clearing") + 1
    assert changed.action("fogging").duration_s == 420
    for wrong, words in (
        ({"without": ["polishing"]}, "no step"),
        ({"again": ["polishing"]}, "no step"),
        ({"times_min": {"polishing": 1}}, "no step"),
        (
            {"without": [step.key for step in changed.route.steps] + ["fixing", "bleaching", "clearing"]},
            "no step|no bath",
        ),
    ):
        with pytest.raises(InputError, match=words):
            planned(**wrong)


@pytest.mark.parametrize(
    "wrong",
    [
        {"tank_ml": 1},
        {"pace": 9},
        {"strips": [Strip(name="a"), Strip(name="a")]},
        {"strips": [Strip(name=str(i)) for i in range(7)]},
        {"bath_temperatures_c": {"nowhere": 20}},
    ],
)
def test_impossible_plans_are_refused_in_one_sentence(wrong):
    with pytest.raises(InputError) as told:
        planned(**wrong)
    assert told.value.sentence.endswith(".")


def test_what_can_kill_is_refused():
    route = routes()["iron_ammonia_light"]
    ammonia = route.step("dissolving").model_copy(update={"rinse_after": None})
    bleachy = formulas()["clearing_metabisulfite"].model_copy(
        update={
            "key": "hypo",
            "components": (
                formulas()["clearing_metabisulfite"]
                .components[0]
                .model_copy(update={"substance": "sodium_hypochlorite"}),
            ),
        }
    )
    after = route.step("acid_rinse_2").model_copy(update={"key": "mad", "formula": "hypo", "rinse_after": None})
    steps = tuple(x for s in route.steps for x in ((ammonia, after) if s.key == "dissolving" else (s,)))
    with pytest.raises(UnsafeError):
        plan_run(route.model_copy(update={"steps": steps}), {**formulas(), "hypo": bleachy}, tank_ml=500)
