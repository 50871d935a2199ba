"""The way through shelf, sink, notebook and recipe into a darkroom with other bottles, and back out of an export."""

import json

import pytest

from obverse.process import FilmStock
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.processes import process_text
from obverse.workbench.recipes import read_recipe_text, recipe_text
from tests.acceptance_way import WAY
from tests.unit.test_sink_workbench import play

pytestmark = pytest.mark.usefixtures("few_draws")

STEPS = [(-1.2, 2.2), (-0.6, 1.9), (0.0, 1.1), (0.4, 0.5), (0.8, 0.2), (1.2, 0.08)]


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    found = open_workbench(tmp_path_factory.mktemp("here"), url="sqlite://")
    yield found
    found.close()


@pytest.fixture(scope="module")
def way(home):
    return home.processes.take_in(WAY)


@pytest.fixture(scope="module")
def recipe(home, way):
    film = home.notebook.add_film(FilmStock(name="Invented grey base 100", box_speed=100).model_dump(mode="json")).id
    controls = home.sink.plan({"route": way, "tank_ml": 600, "strips": [{"film": film}]}).strips[0].controls
    steps = [{"log_exposure": x, "density": d} for x, d in STEPS]
    strip = home.notebook.add_trial(film, {"controls": controls, "steps": steps})
    assert strip.thing.trial.controls["solvent_ml_per_l"] == pytest.approx(2.5)
    proposed = home.notebook.next_strips(film).document()["suggestions"]
    assert proposed and "solvent_ml_per_l" in proposed[0]["controls"]
    return home.notebook.lock_recipe(film, strip.thing.trial.id, name="My way locked", route_key=way, anyway=True)


def test_a_recipe_locked_by_the_way_holds_it_whole(home, recipe):
    held = recipe.thing
    assert held.route.steps == home.processes.process("my_fogging_way").steps
    assert {f.key for f in held.formulas} >= {step.formula for step in held.route.steps if step.formula}
    plan = home.sink.plan({"recipe": recipe.id, "tank_ml": 600})
    assert plan.action("bleach_a").duration_s == 360


def test_it_is_run_in_a_darkroom_with_other_bottles(home, recipe, tmp_path):
    other = open_workbench(tmp_path, url="sqlite://")
    try:
        for name, form, substance, strength in (
            ("hypo", "solid", "sodium_thiosulfate_pentahydrate", "99 % w/w"),
            ("strong ammonia", "liquid", "ammonia", "25 % w/w"),
        ):
            contents = [{"substance": substance, "strength": strength}]
            other.shelf.add_product({"name": name, "form": form, "contents": contents})
        taken = other.recipes.take_in(read_recipe_text(recipe_text(home.recipes.export(recipe.id))))
        sheet = other.bench.sheet("my_fogging_way.bleach_b", 600, recipe=taken.id)
        assert 50 < sheet.amounts["strong_ammonia"] < 120
        plan = other.sink.plan({"recipe": taken.id, "tank_ml": 600})
        run = other.sink.begin({"recipe": taken.id, "tank_ml": 600}, speed=60)
        assert other.sink.run(run).thing.plan.route == plan.route
        assert other.processes.begin("From theirs", source=f"recipe:{taken.id}") == "from_theirs"
        assert other.processes.process("from_theirs").steps == plan.route.steps
    finally:
        other.close()


def test_a_notebook_takes_its_processes_along(home, way, recipe, tmp_path):
    document = json.loads(json.dumps(home.export()))
    other = open_workbench(tmp_path, url="sqlite://")
    try:
        other.take_in(document)
        assert other.processes.process(way) == home.processes.process(way)
        assert other.processes.revision(way) == home.processes.revision(way)
    finally:
        other.close()


def test_what_is_kept_after_an_evening_by_the_way_is_booked(workbench, clock):
    """Bleach A goes back to its jug, bleach B is destroyed, the clearing bath waits in its bottle; the film is written down."""
    film = workbench.notebook.add_film({"name": "Invented grey base 100", "box_speed": 100}).id
    workbench.processes.take_in(WAY)
    request = {"route": "my_fogging_way", "tank_ml": 600, "strips": [{"name": "A", "film": film}]}
    for evening in (1, 2):
        run = workbench.sink.begin(request)
        play(workbench.sink, clock, run)
        report = workbench.sink.report(run).document()
        assert report["still_to_destroy"] == [] and report["not_booked"] == []
        kept = {row.thing.formula: len(row.thing.passes) for row in workbench.shelf.bottles() if row.thing.formula}
        assert kept["my_fogging_way.bleach_a"] == evening and kept["my_fogging_way.clearing"] == evening
        assert "my_fogging_way.bleach_b" not in kept
    trial = workbench.notebook.trials(film)[0].thing.trial
    assert trial.controls["solvent_ml_per_l"] == pytest.approx(2.5)
    assert trial.controls["first_developer_time_min"] == pytest.approx(11, abs=0.2)
    assert workbench.processes.begin("As last time", source="evening:last") == "as_last_time"
    assert workbench.processes.process("as_last_time").steps == workbench.processes.process("my_fogging_way").steps


def test_what_was_exported_here_is_known_when_it_comes_back(home, way, recipe):
    """Neither a recipe nor a process becomes a second one; a shipped process is no one's own."""
    taken = home.recipes.take_in(read_recipe_text(recipe_text(home.recipes.export(recipe.id))))
    assert (taken.id, taken.new) == (recipe.id, False)
    ids, revision = set(home.processes.every()), home.processes.revision(way)
    for id in (way, "permanganate_light"):
        assert home.processes.take_in_text(process_text(home.processes.process(id))) == id
    assert set(home.processes.every()) == ids and home.processes.revision(way) == revision
    newer = home.processes.process(way).model_copy(update={"summary": "colder now"})
    assert home.processes.take_in_text(process_text(newer)) == way and home.processes.revision(way) == revision + 1
