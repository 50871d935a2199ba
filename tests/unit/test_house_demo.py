"""The teaching darkroom: invented, told as such, and never mixed with a person's own notebook."""

import re
from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient

from obverse.clock import FixedClock
from obverse.foundation import InputError
from obverse.model.simulate import demo_film
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.demo import CAMERA_FILM, STORY_FILM, STORY_STRIPS, fill_with_the_demo
from obverse.workbench.start import where_one_stands
from tests.acceptance_way import WAY
from tests.every_form import (
    AS_SAID,
    EMPTY,
    PAGE,
    UNSEEN,
    WRONG,
    faults_of,
    forms_of,
    kind_of,
    of_templates,
    scripts,
    sent_with,
)
from tests.told_kept import told_as_kept

pytestmark = pytest.mark.usefixtures("the_demo", "few_draws")


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    then = FixedClock(datetime(2031, 9, 20, 19, 0, tzinfo=UTC))
    bench = open_workbench(tmp_path_factory.mktemp("demo"), url="sqlite://", clock=then)
    assert fill_with_the_demo(bench, then) == STORY_FILM
    yield bench
    bench.close()


def test_every_film_and_recipe_says_that_it_is_invented(filled):
    assert [kept.thing.name for kept in filled.notebook.films() if "invented" not in kept.thing.name.lower()] == []
    assert [kept.body["name"] for kept in filled.store.list("recipe") if "invented" not in kept.body["name"]] == []
    assert len(filled.notebook.films()) == 4


def test_one_strip_was_read_from_simulated_pictures_and_says_so(filled):
    kept = filled.notebook.trials("teaching-film-d")[0].thing.model_dump(mode="json")
    picture = filled.store.get("picture", kept["picture"]).body
    assert picture["simulated"] and "simulated" in picture["name"]
    assert "picture.simulated" in {caution["code"] for caution in picture["reading"]["cautions"]}
    steps = kept["trial"]["steps"]
    read = [row["density"] for row in picture["reading"]["patches"] if not row["clipped"]]
    assert [step["density"] for step in steps] == read and len(read) >= 19
    # Near the end of what a picture can show, stray light is the doubt.
    assert max(read) > 2.8 and all(step["density_sd"] < (0.08 if step["density"] < 2.7 else 0.15) for step in steps)


def test_the_story_has_six_strips_none_of_them_in_the_aim_and_a_next_one_that_is(filled):
    assert len(filled.notebook.trials(STORY_FILM)) == len(STORY_STRIPS) == 6
    answer = filled.notebook.next_strips(STORY_FILM).document()
    assert answer["status"] == "try" and answer["best_trial"]["in_aim"] is False
    # The truth is known here: what is proposed falls in the aim of projection.
    true = demo_film().observables(answer["suggestions"][0]["controls"])
    aim = filled.notebook.series(STORY_FILM).aim
    assert true["dmax"] >= aim.dmax_min and true["highlight_density"] <= aim.highlight_density_max
    assert aim.gradient_min <= true["gradient"] <= aim.gradient_max
    assert aim.midtone_log_exposure_min <= true["midtone_log_exposure"] <= aim.midtone_log_exposure_max


def test_the_shelf_opens_a_route(filled):
    openings = {opening.route.key: opening for opening in filled.shelf.openings()}
    assert openings["iron_ammonia_light"].is_open, [b.step for b in openings["iron_ammonia_light"].closed]


def test_the_demo_holds_what_was_read(filled):
    shelf, notebook, slides = filled.shelf, filled.notebook, filled.projector.slides
    films = {
        kept.id: [
            kept.thing,
            notebook.series(kept.id).aim.name,
            [
                [
                    t.id,
                    t.controls,
                    t.note,
                    t.grades,
                    one.thing.made_at,
                    bool(one.thing.run),
                    bool(one.thing.recipe),
                    len(t.steps),
                ]
                + ([] if kept.id == CAMERA_FILM else [[patch.density for patch in t.steps[::5]]])
                for one in notebook.trials(kept.id)
                for t in [one.thing.trial]
            ],
        ]
        for kept in notebook.films()
    }
    (run,) = filled.sink.runs()
    assert not told_as_kept("demo", {
        "films": films,
        "products": [[kept.id, kept.thing.package_price] for kept in shelf.products()],
        "bottles": [kept.thing.model_dump(mode="json", exclude_defaults=True, exclude={"passes"}) for kept in sorted(shelf.bottles(), key=lambda one: one.thing.name)],
        "tools": [*shelf.tools_for_mixing(), *(kept.thing for kept in shelf.equipment())],
        "recipes": [[kept.id, kept.thing.name, kept.thing.exposure_index, kept.thing.note] for kept in notebook.recipes()],
        "slides": [one.thing.model_dump(mode="json", exclude={"recipe"}) for one in slides.of_roll("B-1 (invented)")],
        "lists": [[one.thing.name, len(one.thing.slides)] for one in slides.lists()],
        "evening": [run.thing.name, run.thing.plan.tank_ml, run.thing.plan.temperature_c, run.thing.plan.strips],
        "touches": [[event.body["kind"], round(event.body["at_s"] - filled.store.events(run.id)[0].body["at_s"])] for event in filled.store.events(run.id)[:40]],
    })  # fmt: skip


def test_filled_once(filled):
    before = filled.store.export()
    assert fill_with_the_demo(filled, filled.clock) == STORY_FILM
    assert filled.store.export() == before


def test_the_evening_was_lived_to_its_end(filled):
    (kept,) = filled.sink.runs()
    assert kept.thing.status == "finished" and "invented" in kept.thing.name
    trial = filled.notebook.trials(STORY_FILM)[-1]
    assert trial.thing.run == kept.id
    events = filled.store.events(kept.id)
    assert len(events) > 14
    times = [event.body["at_s"] for event in events]
    assert times == sorted(times)


def test_the_locked_recipe_has_its_control_chart_and_its_first_roll(filled):
    recipe = filled.store.list("recipe")[0]
    charts = filled.notebook.control_chart(recipe.id)
    assert 8 == len(filled.store.list("trial", recipe=recipe.id))
    assert ["dmax", "highlight_density", "midtone_log_exposure"] == [one.key for one in charts]
    shown, slides = filled.projector.slides.shown(filled.projector.slides.lists()[0].id)
    assert "invented" in shown.name
    assert [slide.thing.recipe for slide in slides] == [recipe.id] * 4


def test_a_notebook_of_ones_own_is_left_alone(workbench, clock):
    workbench.store.put("film", {"name": "my own", "box_speed": 100})
    before = workbench.store.export()
    with pytest.raises(InputError, match="not the demo's"):
        fill_with_the_demo(workbench, clock)
    assert workbench.store.export() == before


def test_the_start_page_knows_where_one_stands(workbench, filled):
    assert where_one_stands(workbench.store).next.title == "Begin a film"
    standing = where_one_stands(filled.store)
    assert [film.trials for film in standing.films] == [6, 2 + 8, 1, 1]
    assert len(standing.films[0].strips) == 6 and all(min(densities) >= 0 for _, densities in standing.films[0].strips)
    workbench.notebook.add_film({"name": "x", "box_speed": 50}, film_id="x")
    assert where_one_stands(workbench.store).next.href == "/shelf"
    workbench.shelf.add_generic("vitamin_c")
    assert where_one_stands(workbench.store).next.title == "Plan the first strip of x"
    workbench.notebook.add_trial("x", {"controls": {"first_developer_time_min": 10}})
    assert where_one_stands(workbench.store).next.title == "Read the last strip of x"
    for k in range(6):
        workbench.notebook.add_film({"name": f"film {k}", "box_speed": 50})
    with TestClient(create_app(workbench, hosts=("testserver",), token="t")) as client:
        shown = client.get("/").text
    assert shown.count("film-card") == 6 and "All 7 films" in shown


@pytest.fixture(scope="module")
def house(filled):
    """The same house, with a process of one's own and somebody who works there: the most forms that one house shows."""
    app = create_app(filled)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as web:
        web.post("/api/processes", json=WAY)
        web.post("/people", data={"name": "Ana"})
        yield web


@pytest.fixture(scope="module")
def forms(house):
    return list(forms_of(house))


def test_what_cannot_be_used_comes_back_as_it_was_typed_beside_its_field(house, forms):
    wrong, refused = [], 0
    for _address, action, form in forms:
        method = form.get("method", "")
        for at, field in enumerate(form["fields"]):
            # What is needed and left empty is refused as what is wrong is; a browser without scripts may send it.
            needed = "required" in field and field["type"] in ("text", "textarea", "input", "search")
            value = EMPTY if needed else WRONG.get(kind_of(field), "")
            bare = action.partition("?")[0]
            as_said = any(bare.startswith(begins) and name == field["name"] for begins, name in AS_SAID)
            # Of a table the first two rows stand for all.
            row = sum(other["name"] == field["name"] for other in form["fields"][:at])
            if not value or not method or as_said or not form.get("action") or row > 1:
                continue
            pairs = sent_with(form, action, at, value)
            told = f"{method} {action}: {field['name']} {value!r}"
            if method == "post":
                data = {}
                for name, typed in pairs:
                    data.setdefault(name, []).append(typed)
                answer = house.post(action, data=data, headers=PAGE, follow_redirects=False)
            else:
                answer = house.get(action, params=pairs, headers=PAGE, follow_redirects=False)
            if answer.status_code < 400:
                wrong.append(f"{told}: taken")
                continue
            refused += 1
            wrong += [f"{told}: {why}" for why in faults_of(answer, action, pairs, (field["name"], value))]
    assert wrong == [], "\n".join(wrong)
    assert refused > 60


def test_no_form_of_the_house_is_left_out(forms):
    seen = {(form.get("method", ""), where.partition("?")[0]) for _, where, form in forms}
    on_their_own_page = {form.get("method", "") for _, _, form in forms if not form.get("action")}
    left = set()
    for (page, action, method), tag in of_templates().items():
        if method == "dialog":
            # It closes a box of its page and is sent nowhere.
            continue
        if not action and not method and 'role="search"' not in tag:
            # A form without an address is a script's; what is refused is told at its field by forms.js, at the sink by its own way.
            named = re.search(r'id="([^"]+)"', tag)
            assert named, (page, tag)
            sink = page.startswith("sink/")
            sent = f'$("{named[1]}").addEventListener("submit"' if sink else f'whenSent($("{named[1]}"), '
            assert sent in scripts(), (page, tag)
            continue
        pattern = re.compile(".*".join(map(re.escape, action.partition("?")[0].split("\0"))))
        if not any(method == other and pattern.fullmatch(where) for other, where in seen):
            left.add((page, action)) if action or method not in on_their_own_page else None
    assert left == set(UNSEEN)


def test_a_photograph_of_the_wall_keeps_what_was_typed(filled, house):
    picture = min(filled.store.ids("picture"))
    asked = {"wall": picture, "corners": "1,1,9,1,9,9,1,9", "columns": "a good deal", "base_density": "0.2"}
    answer = house.get("/projector/seen", params=asked, headers=PAGE)
    assert answer.status_code == 422
    pairs = [(name, typed) for name, typed in asked.items() if name != "wall"] + [("wall_kept", picture)]
    assert faults_of(answer, "/projector/seen/pictures", pairs, ("columns", "a good deal")) == []
