"""The process document: what it holds, what it refuses, and that the eight routes plan as they did before."""

import json

import pytest

from obverse.foundation import InputError, read_document
from obverse.process import Process, Step
from obverse.process.catalog import formulas, routes
from obverse.process.step_words import read_after, tell_after
from obverse.reference import number
from obverse.run import plan_run
from obverse.workbench.evening_words import do_words
from tests.golden.first_plans import first_formulas, first_plans, first_routes, way_of


@pytest.mark.parametrize("key", list(first_plans()))
def test_a_route_of_before_is_read_forward_and_plans_as_before(key):
    plan = plan_run(
        first_routes()[key],
        first_formulas(),
        tank_ml=500,
        controls={"first_developer_time_min": 9},
        temperature_c=21,
    )
    assert json.loads(json.dumps(way_of(plan))) == first_plans()[key]
    assert plan.route.format == "obverse-process"


def test_a_process_goes_through_its_document_unchanged():
    for process in routes().values():
        assert read_document(Process, json.loads(process.model_dump_json())) == process


def iron(**changes):
    return json.loads(routes()["iron_ammonia_fogging"].model_dump_json()) | changes


def changed(key, **changes):
    document = iron()
    for step in document["steps"]:
        if step["key"] == key:
            step.update(changes)
    return document


@pytest.mark.parametrize(
    ("document", "words"),
    [
        (changed("bleaching", time_min=6, time_most_min=4), "from long to short"),
        (changed("fogging", made="during"), "names that step"),
        (changed("fogging", made="during", made_during="washing"), "no step before it"),
        (iron(steps=iron()["steps"] * 2), "same key"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_words(document, words):
    with pytest.raises(InputError, match=words):
        read_document(Process, document)


def fogging(**changes):
    return read_document(Process, changed("fogging", **changes))


def test_a_bath_may_be_mixed_while_another_works():
    process = fogging(made="during", made_during="dissolving")
    process = process.with_step(process.step("dissolving").model_copy(update={"time_min": 8}))
    plan = plan_run(process, formulas(), tank_ml=500)
    works = plan.action("dissolving")
    assert "mix dithionite fogging developer" in do_words(works)
    assert not [a for a in plan.actions if a.key == "prepare.fogging_dithionite"]
    assert [a.key for a in plan.actions if a.kind == "weigh"] == ["weigh.fogging_dithionite"]
    assert plan.proof.holds or {c.kind for c in plan.proof.conflicts} == {"life"}
    # Stirring the powder in takes its minutes of hands, between the turns and never in them.
    ahead = plan_run(
        process.with_step(process.step("fogging").model_copy(update={"made": "", "made_during": ""})),
        formulas(),
        tank_ml=500,
    )
    busy_s, before_s = (sum(e - s for s, e in p.action("dissolving").hands) for p in (plan, ahead))
    assert busy_s - before_s == pytest.approx(60 * number("practice.run.dissolve_min"))
    life = next(life for life in plan.lives if life.formula == "fogging_dithionite" and life.kind == "life")
    assert life.from_action == "dissolving"


def test_what_is_mixed_meanwhile_is_among_what_must_be_at_hand(workbench):
    document = changed("fogging", made="during", made_during="dissolving") | {"key": "mine", "name": "Mine"}
    plan = workbench.sink.plan({"route": workbench.processes.take_in(document)})
    bath = next(bath for bath in plan.baths if bath.formula == "fogging_dithionite")
    assert bath.reason == "" and [part.product for part in bath.portions]


def test_where_the_turns_leave_no_time_the_film_waits_in_water_and_it_is_told():
    process = fogging(made="during", made_during="dissolving")
    moved = process.step("dissolving").agitation.model_copy(update={"constant": True})
    process = process.with_step(process.step("dissolving").model_copy(update={"agitation": moved}))
    plan = plan_run(process, formulas(), tank_ml=500)
    assert plan.action("fogging.hold").kind == "hold"
    assert "made.during" in {c.code for c in plan.cautions}


def test_until_it_is_clear_is_planned_at_its_longest():
    process = routes()["iron_ammonia_fogging"]
    step = process.step("bleaching").model_copy(update={"time_min": 3, "time_most_min": 6, "until": "clear"})
    plan = plan_run(process.with_step(step), formulas(), tank_ml=500)
    assert plan.action("bleaching").duration_s == 360
    assert "From 3 min on look: over as soon as it is clear, after 6 min at the latest." in do_words(
        plan.action("bleaching")
    )


def test_a_bath_beyond_any_evenings_temperature_keeps_its_own():
    process = routes()["peroxide_acid_light"]
    step = process.step("bleaching").model_copy(update={"temperature_low_c": 34, "temperature_high_c": 36})
    plan = plan_run(process.with_step(step), formulas(), tank_ml=500, temperature_c=20)
    assert plan.action("bleaching").temperature_c == 35
    assert plan.action("first_development").temperature_c == 20


def test_a_soak_before_the_first_developer_is_of_the_film_and_not_the_first_development():
    process = routes()["iron_ammonia_light"]
    soak = process.steps[0].model_copy(
        update={"key": "soak", "name": "Soak", "kind": "other", "formula": None, "time_min": 2, "rinse_after": None}
    )
    process = process.model_copy(update={"steps": (soak, *process.steps)})
    plan = plan_run(process, formulas(), tank_ml=500, controls={"first_developer_time_min": 8})
    assert plan.action("soak").duration_s == 120
    assert plan.action("first_development").duration_s == 480
    assert process.first_development.key == "first_development"


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("back to its jug, topped up with 20 mL per roll", {"top_up_ml": 20, "per": "film"}),
        ("keep, 300 ml/m2 replenished", {"top_up_ml": 300, "per": "m2"}),
        ("its jug, good for 8 films, regenerated with 3 % peroxide, then good for 5 more rolls",
         {"restored_with": "3 % peroxide", "restored_films": 5}),
        ("back to its jug, topped up by 15 cc of stock a film, restored with peroxide", {"top_up_with": "stock", "restored_with": "peroxide"}),
    ],
)  # fmt: skip
def test_how_a_bath_is_brought_back_is_read_where_it_goes_and_told_again(typed, read):
    fields = read_after(typed)
    renewal = fields["renewal"].model_dump(exclude_defaults=True)
    assert fields["after_use"] == "keep" and {**renewal, **{k: v for k, v in read.items() if k != "per"}} == renewal
    assert fields["renewal"].per == read.get("per", "film")
    step = Step(key="bath", name="Bath", kind="bleach", time_min=5, **fields)
    assert read_after(tell_after(step)) == {k: v for k, v in fields.items() if k != "waste_jug"} | {"waste_jug": ""}
