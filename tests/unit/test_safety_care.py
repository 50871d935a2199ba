"""Care on the workbench: baths, jugs, routes, the room."""

import pytest

from obverse.foundation import ConflictError, InputError, NotFoundError, UnsafeError
from obverse.process.catalog import formulas, routes
from obverse.safety.meeting import brought, meeting
from obverse.workbench.care import film_area_m2


@pytest.fixture
def care(workbench):
    return workbench.care


def codes(view):
    return {caution.code for caution in view.cautions}


def test_a_bath_counts_films_and_forecasts(care, clock):
    id = care.mix_bath("bleach_dichromate", 500, name="brown bottle")
    fresh = care.bath(id)
    assert fresh.bottle.name == "brown bottle" and fresh.age_h == 0 and not fresh.bottle.passes
    clock.advance(3600)
    seen = care.count_pass(id, film="120", films=2)
    assert seen.age_h == pytest.approx(1) and seen.bottle.passes[0].area_m2 == pytest.approx(2 * film_area_m2("120"))
    assert seen.forecast.ghost_probability > fresh.forecast.ghost_probability
    assert seen.forecast.silver_g.likely > 0


def test_a_judged_ghost_warns_the_next_bath_of_the_kind(care):
    first = care.mix_bath("bleach_dichromate", 500)
    second = care.mix_bath("bleach_dichromate", 500)
    other = care.mix_bath("bleach_permanganate", 500)
    before = {id: care.bath(id).forecast.rolls_left.value for id in (first, second, other)}
    for _ in range(2):
        care.count_pass(first)
    care.judge(first, 1, True)
    after = {id: care.bath(id).forecast.rolls_left.value for id in (second, other)}
    assert after[second] < before[second] and after[other] == before[other]


def test_what_a_retired_bath_taught_is_kept(care):
    first = care.mix_bath("bleach_dichromate", 500)
    care.count_pass(first)
    care.judge(first, 0, True)
    learned = care.belief(formulas()["bleach_dichromate"])
    care.bath_gone(first)
    assert care.belief(formulas()["bleach_dichromate"]) == learned


def test_the_notebook_teaches_by_the_run(care, workbench):
    id = care.mix_bath("bleach_dichromate", 500)
    care.count_pass(id, run="evening-1/bleaching")
    before = care.belief(formulas()["bleach_dichromate"])
    trial = {
        "id": "strip 1",
        "controls": {},
        "steps": [{"log_exposure": 0, "density": 1.0}],
        "grades": [],
        "faults": [],
    }
    workbench.store.put("trial", {"film": "f", "run": "evening-1", "trial": trial}, id="t1")
    clean = care.belief(formulas()["bleach_dichromate"])
    workbench.store.put(
        "trial", {"film": "f", "run": "evening-1", "trial": {**trial, "faults": ["ghost_negative"]}}, id="t1"
    )
    ghost = care.belief(formulas()["bleach_dichromate"])
    assert clean.mean < before.mean < ghost.mean
    workbench.store.put("trial", {"film": "f", "run": "evening-1", "trial": {**trial, "steps": []}}, id="t1")
    assert care.belief(formulas()["bleach_dichromate"]) == before
    # What the person said of the film counts before the notebook.
    workbench.store.put("trial", {"film": "f", "run": "evening-1", "trial": trial}, id="t1")
    care.judge(id, 0, True)
    assert care.belief(formulas()["bleach_dichromate"]).mean > before.mean


def test_the_used_ammonia_bath_runs_a_clock_and_is_not_put_away(care, clock):
    id = care.mix_bath("ammonia_bath", 500)
    clock.advance(600)
    assert "destroy.clock" not in codes(care.bath(id))
    care.count_pass(id)
    clock.advance(60 * 60)
    assert any("within 60 minutes" in caution.text for caution in care.bath(id).cautions)
    clock.advance(61 * 60)
    late = care.bath(id)
    assert "destroy.overdue" in codes(late) and late.cautions[0].level.value == "danger"
    with pytest.raises(UnsafeError, match="destroyed"):
        care.bath_gone(id)
    jug = care.begin_jug("A", 5000)
    with pytest.raises(UnsafeError, match="destruction"):
        care.bath_into_jug(id, jug)
    assert care.bath(id).id == id
    assert [step.key for step in care.destruction(id)][-1] == "destroy_settle"
    poured = care.bath_into_jug(id, jug, destroyed=True, volume_ml=100)
    assert poured.jug.volume_ml == 100 and poured.jug.silver_g.likely > 0
    with pytest.raises(ConflictError, match="poured away already"):
        care.bath_into_jug(id, jug, destroyed=True, volume_ml=100)  # from the other device
    assert care.jug(jug).jug.volume_ml == 100
    assert care.baths() == []


def test_the_dithionite_clock_starts_with_the_powder(care, clock):
    id = care.mix_bath("fogging_dithionite", 500)
    clock.advance(20 * 60)
    care.count_pass(id)
    clock.advance(11 * 60)
    assert "destroy.overdue" in codes(care.bath(id))


def test_the_bath_that_needs_care_stands_first(care):
    care.mix_bath("bleach_iron_chloride", 1000)
    urgent = care.mix_bath("ammonia_bath", 500)
    care.count_pass(urgent)
    assert care.baths()[0].id == urgent


def test_jugs_hold_what_was_poured_and_refuse_what_could_kill(care):
    id = care.begin_jug("A", 5000)
    care.pour(id, "fixer_rapid", 500, films=4)
    assert care.jug(id).jug.silver_g.high == pytest.approx(4 * 0.577 * 0.3, rel=0.01)
    assert any(finding.refused for finding in care.ask_jug(id, "laundry_bleach"))
    with pytest.raises(UnsafeError):
        care.pour(id, "laundry_bleach", 100)
    assert care.jug(id).jug.volume_ml == 500
    care.hand_in(id)
    assert care.jugs() == []


@pytest.mark.parametrize("letter", ["E", "G"])
def test_no_jug_is_set_up_for_what_is_never_kept(care, letter):
    with pytest.raises(UnsafeError, match="never kept"):
        care.begin_jug(letter, 5000)


def test_two_hands_on_one_jug(care, workbench):
    id = care.begin_jug("A", 5000)
    view = care.jug(id)
    care.pour(id, "fixer_rapid", 100)
    with pytest.raises(ConflictError):
        workbench.store.put("jug", view.jug.model_dump(mode="json"), id=id, expected_revision=view.revision)


@pytest.mark.parametrize("key", list(routes()))
def test_every_route_has_its_care(care, key):
    found = care.route(key)
    assert [each.step for each in found.steps] == list(found.route.steps)
    assert all(each.destruction for each in found.steps if each.step.after_use == "destroy")
    assert not any(finding.refused for finding in found.findings)
    assert any(each.air for each in found.steps)


def test_the_room_is_kept_and_changes_the_air(care):
    def mean(route):
        return next(each.air.ppm_room[1] for each in route.steps if each.step.key == "dissolving")

    closed = mean(care.route("iron_ammonia_light"))
    care.set_room(30, 8)
    assert care.room().volume_m3 == 30
    assert mean(care.route("iron_ammonia_light")) < closed / 3


def test_the_shelf_is_told_what_does_not_stand_together(care, workbench):
    workbench.shelf.add_generic("laundry_bleach")
    assert care.shelf_findings() == ()
    workbench.shelf.add_generic("household_ammonia_5")
    assert any(finding.refused for finding in care.shelf_findings())


def test_meeting_in_any_place_finds_what_each_place_finds():
    things = [brought("laundry_bleach"), brought("household_ammonia_5")]
    every = {(f.pair, f.context) for f in meeting(things, "any")}
    for context in ("mixing", "storage", "same_room"):
        assert {(f.pair, f.context) for f in meeting(things, context)} == {p for p in every if p[1] == context}


def test_what_is_not_there_says_so(care):
    with pytest.raises(NotFoundError):
        care.bath("nothing")
    with pytest.raises(InputError):
        care.mix_bath("no_such_bath", 500)
    with pytest.raises(InputError):
        care.mix_bath("bleach_dichromate", -1)
    with pytest.raises(InputError):
        care.route("no_such_route")
    id = care.mix_bath("bleach_dichromate", 500)
    with pytest.raises(InputError, match="film number"):
        care.judge(id, 0, True)
    with pytest.raises(InputError, match="film size"):
        care.count_pass(id, film="postcard")
    with pytest.raises(InputError, match=r"^films: 0 films do not go through a bath; give more than 0"):
        care.count_pass(id, films=0)


def test_own_hypochlorite_is_sent_out_of_the_room_before_a_route(care, workbench):
    assert not [f for f in care.route("iron_ammonia_light").elsewhere if f.context == "same_room"]
    workbench.shelf.add_generic("laundry_bleach")
    workbench.shelf.add_generic("paper_developer_concentrate")
    out = [f for f in care.route("iron_ammonia_light").elsewhere if f.context == "same_room"]
    assert {f.pair for f in out} >= {"inc.01", "inc.02", "inc.03"} and all(f.refused for f in out)
    assert all("laundry bleach" in (f.a_from + f.b_from) for f in out)


def test_own_products_are_known_to_the_checker(care, workbench):
    label = {
        "name": "the green mould spray",
        "form": "liquid",
        "contents": [{"substance": "sodium_hypochlorite", "strength": "3 % w/w"}],
    }
    key = workbench.shelf.add_product(label)
    assert care.names()[key] == "the green mould spray"
    for name in (key, "The green mould spray"):
        assert any(finding.refused for finding in care.meet([name, "vinegar_5"], "mixing"))


@pytest.mark.parametrize(
    ("said", "taken"),
    [
        ("used fixer", "used rapid fixer, working strength"),
        ("the spent permanganate bleach", "used acid permanganate bleach"),
        ("exhausted second developer", "second developer"),
        ("used vinegar", "vinegar, acetic acid 5 % w/w"),
    ],
)
def test_a_used_bath_is_the_bath_as_films_have_left_it_and_no_bottle(care, said, taken):
    how, *_ = care.meet([said, "water"], "any")
    assert how.pair == "called" and how.text == f"{said!r} is taken as {taken}."


def test_what_is_poured_into_a_sink_is_asked_of_the_drain(care):
    for where in ("drain", "the kitchen sink", "down the toilet"):
        told = {finding.pair: finding for finding in care.meet(["used fixer", where], "any")}
        silver = told["reckoned.drain_silver"]
        assert (silver.context, silver.severity, silver.refused) == ("drain", 2, False)
        assert "septic tank" in silver.advice
    assert "reckoned.drain_silver" not in {f.pair for f in care.meet(["fixer_rapid", "drain"], "any")}
    assert "reckoned.drain_silver" not in {f.pair for f in care.meet(["used fixer", "water"], "any")}
    chromium = {f.pair: f for f in care.meet(["used_bleach_dichromate", "sink"], "any")}["reckoned.drain_poison"]
    assert "chromic acid poisons water and soil" in chromium.text


def test_an_evening_is_warned_of_a_bath_near_its_end(care, workbench):
    plan = {"route": "dichromate_light", "tank_ml": 500, "temperature_c": 20, "strips": [{"name": "strip 1"}]}
    assert not [c for c in workbench.sink.plan(plan).cautions if c.code.startswith("bath.")]
    id = care.mix_bath("bleach_dichromate", 500)
    care.count_pass(id, films=9)
    told = [c for c in workbench.sink.plan(plan).cautions if c.code == "bath.ghost"]
    assert [c.where for c in told] == ["bleaching"] and told[0].level == "danger"


def test_too_many_films_for_one_fresh_bath_are_told(care):
    route = routes()["peroxide_acid_light"]
    assert care.before_an_evening(route, film_area_m2("135-36"), 500) == ()
    assert "bath.ghost" in {c.code for c in care.before_an_evening(route, 6 * film_area_m2("135-36"), 500)}


def test_last_weeks_ammonia_bath_is_told_before_the_next_evening(care, clock):
    id = care.mix_bath("ammonia_bath", 500)
    care.count_pass(id)
    clock.advance(7 * 86_400)
    told = {c.code: c for c in care.before_an_evening(routes()["permanganate_light"], 0.058, 500)}
    assert told["destroy.overdue"].level.value == "danger"


def test_a_bath_by_the_persons_own_formula_is_counted_too(care, workbench):
    own = {**formulas()["bleach_dichromate"].model_dump(mode="json"), "key": "my_bleach", "name": "my bleach"}
    workbench.store.put("formula", own, id="my_bleach")
    id = care.mix_bath("my_bleach", 500)
    assert care.count_pass(id).forecast is not None
    workbench.store.retire("formula", "my_bleach")
    assert care.baths()[0].formula.name == "my bleach"


def test_every_dangerous_bath_of_an_evening_says_what_to_wear(workbench):
    plan = workbench.sink.plan(
        {"route": "iron_ammonia_fogging", "tank_ml": 500, "temperature_c": 20, "strips": [{"name": "strip 1"}]}
    )
    baths = {action.formula: action.cautions for action in plan.actions if action.kind == "bath"}
    assert baths["ammonia_bath"][0].startswith("Goggles, nitrile gloves") and "window" in baths["ammonia_bath"][0]
    assert "apron" in baths["bleach_iron_chloride"][0]
    assert not any(line.startswith("Goggles") for line in baths["wetting_bath"])


def test_one_ghost_among_the_strips_of_a_run_counts(care, workbench):
    id = care.mix_bath("bleach_dichromate", 500)
    care.count_pass(id, run="evening-2/bleaching")
    before = care.belief(formulas()["bleach_dichromate"])
    for place, faults in enumerate((["ghost_negative"], [])):
        trial = {
            "id": f"strip {place}",
            "controls": {},
            "steps": [{"log_exposure": 0, "density": 1.0}],
            "grades": [],
            "faults": faults,
        }
        workbench.store.put("trial", {"film": "f", "run": "evening-2", "trial": trial}, id=f"t{place}")
    assert care.belief(formulas()["bleach_dichromate"]).mean > before.mean


def test_a_baths_own_films_are_counted_once(care):
    id = care.mix_bath("bleach_dichromate", 500)
    care.count_pass(id)
    assert care.judge(id, 0, True).forecast.belief.seen == 1
    assert care.belief(formulas()["bleach_dichromate"]).seen == 1
