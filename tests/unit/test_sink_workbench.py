"""The sink of the workbench: plans from recipes, events that are kept, bookings, rehearsals, its JSON interface."""

import pytest

from obverse.foundation import ConflictError, InputError, NotFoundError
from obverse.process import AIMS, FilmStock, Recipe
from obverse.process.catalog import formulas, routes
from obverse.workbench.evening_words import do_words
from tests.postgresql import on_both

pytestmark = on_both


@pytest.fixture
def sink(workbench):
    return workbench.sink


@pytest.fixture
def film(workbench):
    return workbench.notebook.add_film({"name": "Invented grey base 100", "box_speed": 100}).id


def begun(sink, route="permanganate_light", speed=1.0, **request):
    return sink.begin({"route": route, **request}, speed=speed)


def play(sink, clock, run, until=None, late=0.0):
    """Touch by plan until that action is in hand, or to the end."""
    number = 0

    def send(kind, **more):
        nonlocal number
        number += 1
        return sink.record(run, f"{run}-{until}-{number}", {"kind": kind, **more})

    if sink.state(run).status == "planned":
        send("started")
    while (action := sink.state(run).action) is not None and action.key != until:
        if action.waits_for_pour and sink.state(run).clock_from_s is None:
            clock.advance(action.pour_s)
            send("poured", action=action.key)
        clock.advance(action.duration_s + late)
        answer = send("acknowledged", action=action.key)
    return answer


def test_a_run_books_what_it_used(workbench, clock, film, sink):
    run = begun(sink, strips=[{"name": "A", "film": film, "controls": {"first_developer_time_min": 9}}])
    assert sink.run(run).thing.status == "planned"
    answer = play(sink, clock, run)
    assert answer.look.view.status == "finished" and sink.run(run).thing.status == "finished"
    jugs = {kept.body["letter"]: kept.body for kept in workbench.store.list("jug")}
    assert {item["what"] for item in jugs["F"]["contents"]} >= {"first_developer", "second_developer"}
    assert all(item["volume_ml"] == 500 and item["silver_likely_g"] >= 0 for item in jugs["F"]["contents"])
    assert sum(item["silver_likely_g"] for item in jugs["F"]["contents"]) > 0
    (fixer,) = [kept.body for kept in workbench.store.list("bottle") if kept.body["formula"] == "fixer_rapid"]
    assert len(fixer["passes"]) == 1 and fixer["passes"][0]["run"].startswith(run)
    (trial,) = workbench.notebook.trials(film)
    assert trial.thing.run == run and trial.thing.trial.steps == ()
    assert trial.thing.trial.controls["first_developer_time_min"] == pytest.approx(9)
    assert trial.thing.trial.control_sds["temperature_c"] == 1.0
    report = sink.report(run).document()
    assert report["still_to_destroy"] == [] and report["not_booked"] == []
    assert sum("destroyed in" in entry["told"] for entry in report["log"]) == 1
    # Settling again books nothing again.
    assert sink.settle(run) == ()
    assert len(workbench.notebook.trials(film)) == 1


def test_a_rehearsal_books_nothing(workbench, clock, film, sink):
    run = begun(sink, speed=100, strips=[{"name": "A", "film": film}])
    start = clock.now()
    sink.record(run, "s", {"kind": "started"})
    clock.advance(3)
    assert sink.now_s(run) - sink.state(run).started_s == pytest.approx(300)
    play(sink, clock, run)
    assert (clock.now() - start).total_seconds() > 0
    assert workbench.store.list("jug") == [] and workbench.notebook.trials(film) == [] and sink.settle(run) == ()
    assert "rehearsal" in sink.run(run).thing.name


def test_a_used_bath_that_was_left_standing_cries_out_on_the_care_page(workbench, clock, sink):
    run = begun(sink, "iron_ammonia_light")
    play(sink, clock, run, until="dissolving.rinse.1")
    sink.record(run, "end", {"kind": "aborted", "text": "fire alarm"})
    assert sink.report(run).document()["still_to_destroy"] == ["ammonia_bath"]
    care = workbench.care
    (bath,) = [b for b in care.baths() if b.formula.key == "ammonia_bath"]
    assert bath.clock_started is not None and any(c.code.startswith("destroy") for c in bath.cautions)
    clock.advance(3 * 3600)
    (bath,) = [b for b in care.baths() if b.formula.key == "ammonia_bath"]
    assert any(c.code == "destroy.overdue" and c.level.value == "danger" for c in bath.cautions)


def test_several_strips_each_become_a_trial(workbench, clock, film, sink):
    strips = [
        {"name": "A", "film": film, "controls": {"first_developer_time_min": 7}},
        {"name": "B", "film": film, "controls": {"first_developer_time_min": 11}},
    ]
    run = begun(sink, strips=strips)
    play(sink, clock, run)
    times = sorted(t.thing.trial.controls["first_developer_time_min"] for t in workbench.notebook.trials(film))
    assert times == pytest.approx([7, 11])
    (fixer,) = [kept.body for kept in workbench.store.list("bottle") if kept.body["formula"] == "fixer_rapid"]
    assert fixer["passes"][0]["films"] == 2


def test_a_full_jug_gets_a_companion_and_a_refusal_is_told(workbench, clock, sink):
    care = workbench.care
    small = care.begin_jug("F", 600)
    care.pour(small, "second_developer", 400)
    run = begun(sink)
    play(sink, clock, run)
    assert sum(kept.body["letter"] == "F" for kept in workbench.store.list("jug")) == 2
    assert care.jug(small).jug.volume_ml == 400


def test_by_a_locked_recipe(workbench, sink, film):
    body = Recipe(
        name="Invented recipe",
        film=FilmStock(name="Invented grey base 100", box_speed=100),
        controls={"first_developer_time_min": 12.5, "temperature_c": 21},
        route=routes()["iron_ammonia_light"],
        formulas=tuple(formulas().values()),
        aim=AIMS["projection"],
    )
    recipe = workbench.store.put("recipe", body.model_dump(mode="json")).id
    plan = sink.plan({"recipe": recipe})
    assert plan.route.key == "iron_ammonia_light" and plan.temperature_c == 21
    assert plan.action("first_development").duration_s == 750
    assert plan.strips[0].film == film and plan.strips[0].recipe == recipe


def test_baths_that_stand_on_the_shelf_are_not_mixed_again(workbench, sink, clock):
    assert "prepare.clearing_metabisulfite" in [a.key for a in sink.plan({"route": "permanganate_light"}).actions]
    workbench.care.mix_bath("clearing_metabisulfite", 500)
    plan = sink.plan({"route": "permanganate_light"})
    assert "prepare.clearing_metabisulfite" not in [a.key for a in plan.actions]
    assert "clearing bath" in do_words(plan.action("fill_bottles"))


def test_the_same_event_twice_is_one(sink, clock):
    run = begun(sink)
    first = sink.record(run, "one", {"kind": "started"})
    clock.advance(5)
    again = sink.record(run, "one", {"kind": "started"})
    assert first.fresh and not again.fresh and first.seq == again.seq == 1
    assert again.orders == first.orders
    assert sink.last_seq(run) == 1


def test_nonsense_is_refused_before_anything_is_written(sink):
    run = begun(sink)
    for wrong in (
        {"kind": "dance"},
        {"kind": "note", "text": ""},
        {"kind": "booked", "text": "x"},
        {"kind": "clock"},
        {"kind": "started", "colour": "red"},
        {},
    ):
        with pytest.raises(InputError):
            sink.record(run, "x", wrong)
    assert sink.last_seq(run) == 0
    with pytest.raises(NotFoundError):
        sink.look("nowhere")
    with pytest.raises(ConflictError):
        sink.settle(run)
    with pytest.raises(InputError):
        sink.begin({"route": "permanganate_light"}, speed=0.5)
    with pytest.raises(InputError):
        sink.begin({})


def test_a_date_set_back_within_one_program_changes_nothing(sink, clock):
    run = begun(sink)
    sink.record(run, "s", {"kind": "started"})
    clock.advance(60)
    before = sink.now_s(run)
    clock.advance(-3600)
    assert sink.now_s(run) == before
    clock.advance(1)
    assert sink.now_s(run) == pytest.approx(before + 1)


def test_another_program_sees_the_same_run(workbench, clock, sink):
    from obverse.workbench.bootstrap import Workbench

    other = Workbench(workbench.store, clock, workbench.home).sink
    run = begun(sink)
    sink.record(run, "s", {"kind": "started"})
    assert other.state(run).status == "running" and other.now_s(run) == sink.now_s(run)
    other.record(run, "a", {"kind": "acknowledged", "action": "lay_out"})
    assert sink.state(run).index == 1


def test_pictures_are_kept(sink, workbench):
    run = begun(sink)
    sink.record(run, "s", {"kind": "started"})
    sink.keep_photo(run, b"not really a picture", "image/jpeg")
    (said,) = sink.state(run).said
    assert workbench.store.get_blob(said.blob) == b"not really a picture"
    with pytest.raises(InputError, match="not a picture"):
        sink.keep_photo(run, b"text", "text/plain")


# The JSON interface


def test_an_evening_through_the_interface(client):
    plan = client.post("/api/sink/plan", json={"route": "permanganate_light", "tank_ml": 300})
    assert plan.status_code == 200 and plan.json()["holds"] is True
    run = client.post("/api/sink/runs", json={"request": {"route": "permanganate_light"}}).json()["run"]
    told = client.post(f"/api/sink/runs/{run}/events", json={"event_id": "a", "kind": "started"})
    assert told.status_code == 200 and told.json()["view"]["action"]["key"] == "lay_out"
    assert client.get(f"/api/sink/runs/{run}").json()["seq"] == 1
    assert client.get(f"/api/sink/runs/{run}/clock").json()["now_s"] > 1e9
    assert client.get(f"/api/sink/runs/{run}/report").json()["log"][0]["kind"] == "started"
    photo = client.post(f"/api/sink/runs/{run}/photo", files={"picture": ("a.jpg", b"x", "image/jpeg")})
    assert photo.status_code == 200 and photo.json()["fresh"]
    assert client.get(f"/sink/{run}").status_code == 200
    assert client.get("/sink").text.count(run) >= 1


@pytest.mark.parametrize(
    ("url", "body", "status"),
    [
        ("/api/sink/plan", {"route": "nowhere"}, 422),
        ("/api/sink/plan", {"route": "permanganate_light", "temperature_c": 30}, 422),
        ("/api/sink/plan", {"route": "permanganate_light", "tank_ml": -1}, 422),
        ("/api/sink/runs", {"request": {"route": "permanganate_light"}, "speed": 1e9}, 422),
        ("/api/sink/runs/nowhere/events", {"event_id": "a", "kind": "started"}, 404),
        ("/api/sink/runs/nowhere/events", {"event_id": "", "kind": "started"}, 422),
    ],
)
def test_bad_requests_are_one_sentence(client, url, body, status):
    told = client.post(url, json=body)
    assert told.status_code == status
    assert told.json()["detail"].endswith(".")


def test_the_plan_page_tells_of_a_bad_number(client):
    told = client.get("/sink/plan?route=permanganate_light&bath_c=warm", headers={"Accept": "text/html"})
    assert told.status_code == 422 and "is not a number" in told.text
    assert client.get("/sink/nowhere", headers={"Accept": "text/html"}).status_code == 404
    two = client.get(
        "/sink/plan?route=permanganate_light&first_developer_time_min=8&first_developer_time_min=11&film=&film="
    )
    assert two.status_code == 200 and "Order proposed" in two.text
