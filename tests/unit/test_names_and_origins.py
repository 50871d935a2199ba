"""Names stand once, whoever writes; what comes from elsewhere is marked; a change that comes too late is told."""

import json
import re
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient

from obverse.cli.main import run as command
from obverse.foundation import ConflictError, InputError
from obverse.process.catalog import products
from obverse.store import open_store
from obverse.store.records import TrialEntry
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.exchange import take_in_notebook

pytestmark = pytest.mark.usefixtures("few_draws")

FILM = {"name": "a 100-speed grey-base film", "box_speed": 100}
OWN_PRODUCT = {
    "key": "own_vitamin_c",
    "name": "own vitamin C",
    "form": "solid",
    "contents": [{"substance": "ascorbic_acid", "strength": "100 % w/w"}],
}
STRIP = {
    "controls": {"first_developer_time_min": 9},
    "steps": [{"log_exposure": x, "density": 2 - x} for x in (-1, 0, 1)],
}


def of_day(day, **more):
    """The same on another day: another strip."""
    return {**STRIP, "made_on": f"2031-01-{day:02d}", **more}


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("OBVERSE_DATABASE", raising=False)
    return tmp_path / "home"


def doubled(bench, names=("strip 1", "strip 1", "strip 1 (2)", "strip 2", "strip 2")):
    """A film page as the old race left it: names that stand twice, one of them put aside."""
    film = bench.notebook.add_film(FILM).id
    for number, name in enumerate(names, 1):
        trial = {**STRIP, "id": name}
        bench.store.put(
            "trial", TrialEntry(film=film, number=number, trial=trial).model_dump(mode="json"), id=f"t{number}"
        )
    bench.store.retire("trial", "t4")
    return film


def test_a_page_with_names_that_stand_twice_answers_and_shows_each_once(workbench, client):
    film = doubled(workbench)
    names = [one.thing.trial.id for one in workbench.notebook.trials(film)]
    assert names == ["strip 1", "strip 1 (3)", "strip 1 (2)", "strip 2"]
    assert len(workbench.notebook.series(film).trials) == 4
    for page in (f"/notebook/{film}", "/notebook", "/", "/light-table", f"/api/notebook/films/{film}/series"):
        assert client.get(page).status_code == 200, page
    assert client.get("/api/notebook/trials/t2/faults").status_code == 200


def test_a_home_that_has_doubles_heals_on_opening(home, capsys):
    bench = open_workbench()
    film = doubled(bench)
    bench.notebook.add_film({**FILM, "name": "another"}, film_id="second")
    bench.store.put("film", {**bench.store.get("film", "second").body, "name": FILM["name"]}, id="second")
    bench.close()
    bench = open_workbench()
    kept = {one.id: one.body["trial"]["id"] for one in bench.store.list("trial", retired=True)}
    assert kept == {"t1": "strip 1", "t2": "strip 1 (3)", "t3": "strip 1 (2)", "t4": "strip 2", "t5": "strip 2 (2)"}
    assert bench.store.get("trial", "t4").retired_at is not None, "what was put aside stays aside"
    assert [one.body["name"] for one in bench.store.list("film")] == [FILM["name"], FILM["name"] + " (2)"]
    revisions = [one.revision for one in bench.store.list("trial", retired=True)]
    bench.close()
    bench = open_workbench()
    assert [one.revision for one in bench.store.list("trial", retired=True)] == revisions, (
        "healed once, not at every opening"
    )
    bench.close()
    assert command(["show", film]) == 0 and "strip 1 (3)" in capsys.readouterr().out


def test_twelve_at_once_get_twelve_names(tmp_path):
    url = f"sqlite:///{tmp_path / 'n.sqlite'}"
    benches = [open_workbench(tmp_path, url=url) for _ in range(2)]
    film = benches[0].notebook.add_film(FILM).id
    together = threading.Barrier(12)

    def write(place):
        together.wait()
        return benches[place % 2].notebook.add_trial(film, of_day(place + 1)).thing.trial.id

    with ThreadPoolExecutor(12) as pool:
        names = list(pool.map(write, range(12)))
    assert sorted(names) == sorted(f"strip {n}" for n in range(1, 13))
    assert [one.thing.number for one in benches[1].notebook.trials(film)] == list(range(1, 13))
    for bench in benches:
        bench.close()


def test_a_film_of_a_name_is_begun_once_though_two_begin_it_at_once(tmp_path):
    url = f"sqlite:///{tmp_path / 'n.sqlite'}"
    benches = [open_workbench(tmp_path, url=url) for _ in range(2)]
    together = threading.Barrier(6)

    def begin(place):
        together.wait()
        try:
            return benches[place % 2].notebook.add_film(FILM).id
        except ConflictError:
            return None

    with ThreadPoolExecutor(6) as pool:
        assert sum(id is not None for id in pool.map(begin, range(6))) == 1
    assert len(benches[0].notebook.films()) == 1
    for bench in benches:
        bench.close()


@pytest.fixture
def towns(tmp_path, clock):
    """Two notebooks, and how one is taken into the other."""
    benches = [open_workbench(tmp_path / name, url="sqlite://", clock=clock) for name in ("here", "there")]
    yield benches
    for bench in benches:
        bench.close()


def test_a_notebook_that_grew_in_two_places_comes_together_with_every_strip_once(towns, clock):
    here, there = towns
    film = here.notebook.add_film(FILM).id
    here.notebook.add_trial(film, of_day(1))
    there.take_in(here.export())
    for day, bench in enumerate(towns, start=1):
        clock.advance(60)
        bench.notebook.add_trial(film, of_day(2 * day))
        bench.notebook.add_trial(film, of_day(2 * day + 1, note="grew here"))
    here.take_in(there.export())
    names = [one.thing.trial.id for one in here.notebook.trials(film)]
    assert len(names) == len(set(names)) == 5 and names[0] == "strip 1"
    stored = {one.body["trial"]["id"] for one in here.store.list("trial")}
    assert stored == set(names), "what is shown is what is kept"
    assert len(here.notebook.series(film).trials) == 5
    # What went on there after the names were told apart here is carried on, under the name it has here.
    theirs = there.notebook.trials(film)[1]
    assert here.notebook.trial(theirs.id).revision == 2, "the later one was told apart"
    shown_here = {one.id: one.thing.trial.id for one in here.notebook.trials(film)}[theirs.id]
    there.notebook.change_trial(theirs.id, {"note": "read again"})
    here.take_in(there.export())
    again = here.notebook.trial(theirs.id).thing.trial
    assert (again.note, again.id) == ("read again", shown_here)
    assert here.take_in(there.export()) == {"revisions": 0, "events": 0, "blobs": 0}


def test_other_towns_bottles_are_marked_and_nothing_is_mixed_from_them(towns):
    here, there = towns
    for key in ("household_ammonia_5", "fixer_ats_60wv"):
        there.shelf.add_generic(key)
    there.shelf.add_bottle({"name": "Their fixer", "product": "fixer_ats_60wv", "amount": 700})
    there.care.mix_bath("fixer_rapid", 500)
    there.care.begin_jug("F", 2000)
    there.care.set_room(99, 3)
    there.shelf.add_tool({"name": "their tank", "kind": "tank", "volume_ml": 2000})
    here.shelf.add_generic("household_ammonia_5")
    before = [product.key for product in here.shelf.products_or_generic()]
    assert before == ["household_ammonia_5"]
    here.take_in(there.export())
    assert [product.key for product in here.shelf.products_or_generic()] == before
    assert here.shelf.bottles() == [] and here.shelf.tanks() == [] and here.care.baths() == []
    assert here.care.jugs() == [] and here.care.room().volume_m3 != 99
    assert {kept.thing.name for _, kept in here.shelf.elsewhere()} >= {"Their fixer", "their tank"}
    here.shelf.add_generic("fixer_ats_60wv")
    assert {product.key for product in here.shelf.products_or_generic()} == {*before, "fixer_ats_60wv"}
    here.care.set_room(12, 1)
    assert here.care.room().volume_m3 == 12


def test_a_recipe_is_adapted_from_ones_own_bottles_only(home, tmp_path, capsys):
    there = open_workbench(tmp_path / "there", url="sqlite://")
    there.shelf.add_generic("fixer_ats_60wv")
    (tmp_path / "there.json").write_text(json.dumps(there.export()))
    there.close()
    assert command(["import", str(tmp_path / "there.json")]) == 0
    told = capsys.readouterr().out
    assert "never count as yours" in told and "--mine" in told
    assert command(["mix", "fixer_rapid", "--volume-ml", "500"]) == 0
    assert "your shelf" not in capsys.readouterr().out
    assert command(["import", str(tmp_path / "there.json"), "--mine", "nobody"]) == 2
    assert command(["import", str(tmp_path / "there.json"), "--mine", "all"]) == 0
    capsys.readouterr()
    assert command(["mix", "fixer_rapid", "--volume-ml", "500"]) == 0
    assert "your shelf" in capsys.readouterr().out


def test_an_evening_of_another_town_books_nothing_here(towns, monkeypatch):
    here, there = towns
    run = there.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
    there.sink.record(run, "start", {"kind": "started"})
    here.take_in(there.export())
    assert here.sink.open_runs() == [] and here.where_one_stands().going == ()
    monkeypatch.setattr(here.sink, "_settle", lambda *_: pytest.fail("booked what another town used"))
    here.sink.record(run, "end", {"kind": "aborted", "text": "not ours"})
    here.sink.report(run)
    assert here.sink.settle(run) == ()
    assert here.store.ids("bottle") == here.store.ids("jug") == here.store.ids("trial") == set()


def test_the_shelf_page_shows_what_came_and_takes_it_when_told(workbench, client, tmp_path, clock):
    there = open_workbench(tmp_path / "there", url="sqlite://", clock=clock)
    bottle = there.shelf.add_bottle({"name": "Their fixer", "product": "fixer_ats_60wv"})
    workbench.take_in(there.export())
    there.close()
    page = client.get("/shelf").text
    assert "From other darkrooms" in page and page.count("Their fixer") >= 1
    client.post("/shelf/claim", data={"kind": "bottle", "id": bottle})
    assert [kept.id for kept in workbench.shelf.bottles()] == [bottle]
    assert "From other darkrooms" not in client.get("/shelf").text


@pytest.mark.parametrize("status", ["running", "paused"])
def test_evenings_that_go_on_and_duties_stand_first_however_many_are_planned(workbench, client, clock, status):
    going = workbench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500, "name": "the evening with ammonia"})
    workbench.sink.record(going, "start", {"kind": "started"})
    if status == "paused":
        workbench.sink.record(going, "pause", {"kind": "paused"})
    # A page lists six.
    for _ in range(7):
        clock.advance(1)
        workbench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500, "name": "a plan"})
    bath = workbench.care.mix_bath("ammonia_bath", 500, name="the used bath")
    workbench.care.count_pass(bath)
    clock.advance(3600)
    for page in ("/sink", "/"):
        text = client.get(page).text
        assert 0 <= text.index("the evening with ammonia") < text.index("a plan"), page
        assert f"/shelf/care/baths/{bath}/destroy" in text, page
    assert workbench.where_one_stands().next.href == f"/sink/{going}"


@pytest.mark.parametrize(
    ("url", "first", "second"),
    [
        ("plan", {"aim": "scan"}, {"aim": "light_table"}),
        ("stock", {**FILM, "note": "first"}, {**FILM, "note": "second"}),
    ],
)
def test_a_plan_and_what_is_said_of_a_film_carry_revisions(workbench, client, url, first, second):
    film = workbench.notebook.add_film(FILM).id
    seen = {"plan": workbench.notebook.plan_revision(film), "stock": workbench.notebook.film(film).revision}[url]
    address = f"/api/notebook/films/{film}/{url}"
    assert client.post(address, json={**first, "revision": seen}).json()["revision"] == seen + 1
    late = client.post(address, json={**second, "revision": seen})
    assert late.status_code == 409 and late.json()["revision"] == seen + 1
    assert client.post(address, json={**second, "revision": seen + 1}).status_code == 200


def test_a_form_that_comes_too_late_keeps_what_was_typed_and_shows_the_way_on(workbench, client):
    bottle = workbench.shelf.add_bottle({"name": "Fixer", "product": "fixer_ats_60wv", "amount": 700})
    form = {"revision": "1", "name": "Fixer", "amount": "650", "note": "opened <today>"}
    browser = {"accept": "text/html"}
    assert (
        client.post(f"/shelf/bottles/{bottle}", data=form, headers=browser, follow_redirects=False).status_code == 303
    )
    late = client.post(f"/shelf/bottles/{bottle}", data={**form, "amount": "123"}, headers=browser)
    assert late.status_code == 409 and "The bottle &#39;Fixer&#39; was changed meanwhile." in late.text
    assert 'name="amount" value="123"' in late.text and "opened &lt;today&gt;" in late.text
    assert 'name="revision" value="2"' in late.text and workbench.shelf.bottle(bottle).thing.amount == 650
    mine = {**form, "amount": "123", "revision": "2"}
    client.post(f"/shelf/bottles/{bottle}", data=mine, headers=browser)
    assert workbench.shelf.bottle(bottle).thing.amount == 123


def test_two_who_order_one_show_are_told_of_slides_and_never_of_ids(workbench, client):
    """By roll and frame and the list's own name; one press keeps what was typed, one leaves what stands there."""
    slides = workbench.projector.slides
    frames = [kept.id for kept in slides.add_roll("harbour", 12)]
    show = slides.keep_list({"name": "March", "slides": frames[:2]}).id
    slides.keep_list({"name": "March", "slides": frames[:1]}, id=show)
    page = f"/projector/slides?list={show}"
    form = {"name": "March", "slide": frames[-2:], "press": "keep", "revision": "1", "stood_on": page}
    form |= {"projectors": "1", "tray_slots": "80", "first_slot": "1"}
    answer = client.post(f"/projector/lists?list={show}", data=form, headers={"accept": "text/html"})
    main = re.sub(r"<input[^>]*>", "", answer.text[answer.text.index("<main") :])
    assert answer.status_code == 409 and "The slide list &#39;March&#39; was changed meanwhile." in main
    assert "frame 11 of roll harbour" in main and "frame 12 of roll harbour" in main and frames[-1] not in main
    assert "load it again" not in main and "Keep mine instead" in main
    assert f'href="{page}">Leave it as it stands there' in main and 'href="/">' not in main


def test_export_asks_before_it_replaces_a_file(home, tmp_path, capsys):
    file = tmp_path / "notebook.json"
    file.write_text("what stood there")
    assert command(["export", str(file)]) == 2
    assert "--force" in capsys.readouterr().err and file.read_text() == "what stood there"
    assert command(["export", str(file), "--force"]) == 0
    assert json.loads(file.read_text())["format"] == "obverse-notebook"
    assert command(["export", str(tmp_path / "new.json")]) == 0


def test_a_home_is_rid_of_orphans_when_it_is_opened_and_by_the_check(home, capsys):
    bench = open_workbench()
    named = bench.store.put_blob(b"named", "image/tiff")
    bench.store.put("picture", {"sha256": named})
    bench.store.put_blob(b"left by a kill", "image/tiff")
    bench.close()
    again = open_workbench()
    assert [blob["sha256"] for blob in again.store.export()["blobs"]] == [named]
    # While it is open an older program may leave one: the check finds it.
    again.store.put_blob(b"left by another", "image/tiff")
    assert again.check().orphans == 1 and again.check().orphans == 0
    assert again.store.get_blob(named) == b"named"
    again.close()
    assert command(["check-store"]) == 0
    assert "0 files that nothing names cleared" in capsys.readouterr().out


@pytest.mark.parametrize("words", [["sheet", "iron_ammonia_light"], ["card", "example"]])
def test_whatever_writes_a_file_asks_before_it_replaces_one(home, tmp_path, capsys, words):
    file = tmp_path / "evening.pdf"
    file.write_text("what stood there")
    assert command([*words, "--out", str(file)]) == 2
    assert "--force" in capsys.readouterr().err and file.read_text() == "what stood there"
    assert command([*words, "--out", str(file), "--force"]) == 0
    assert file.read_bytes()[:5] == b"%PDF-"


def test_a_thing_that_cannot_be_read_is_left_out_told_and_stays(workbench, client, capsys):
    film = workbench.notebook.add_film(FILM).id
    workbench.notebook.add_trial(film, STRIP)
    workbench.store.put("trial", {"film": film, "number": 7, "trial": {"id": "x", "controls": {"magic": 1}}}, id="odd")
    workbench.store.put("run", {"name": "an evening of another time"}, id="old")
    workbench.store.put("film", {"name": ""}, id="nameless")
    assert len(workbench.notebook.trials(film)) == 1 and len(workbench.notebook.films()) == 1
    for page in ("/", "/sink", "/notebook", f"/notebook/{film}", "/light-table", "/projector", "/shelf", "/shelf/care"):
        assert client.get(page).status_code == 200, page
    assert "Left out, because it cannot be read" in client.get("/").text
    assert {line.split(":")[0] for line in workbench.check().unreadable} == {"trial odd", "run old", "film nameless"}
    assert workbench.store.get("trial", "odd").body["number"] == 7


@pytest.fixture
def parted(towns, clock):
    """Two notebooks that changed the same product, room and evening differently, and went on elsewhere too."""
    here, there = towns
    here.shelf.add_product(OWN_PRODUCT)
    evening = here.sink.begin({"route": "permanganate_light", "tank_ml": 500})
    there.take_in(here.export(), mine=[here.store.darkroom])
    for bench, note in ((here, "mine"), (there, "theirs")):
        clock.advance(60)
        bench.shelf.change_product("own_vitamin_c", {**OWN_PRODUCT, "note": note})
        bench.care.set_room(8 if note == "mine" else 20, 1)
        bench.sink.record(evening, f"{note} began", {"kind": "started"})
        bench.notebook.add_film({**FILM, "name": f"a film of {note}"})
    return here, there, evening


def told_of(bench, evening):
    room = bench.care.room()
    return (
        bench.shelf.product("own_vitamin_c").thing.note,
        room.volume_m3,
        [one.event_id for one in bench.store.events(evening)],
        {one.thing.name for one in bench.notebook.films()},
    )


def test_an_import_of_what_went_different_ways_names_it_and_shows_the_way_on(parted):
    here, there, evening = parted
    before = here.export()
    with pytest.raises(ConflictError) as refused:
        here.take_in(there.export())
    for name in ("the product 'own_vitamin_c'", "the setting 'room'", f"the run {evening!r}", "--keep mine"):
        assert name in refused.value.sentence
    assert here.export() == before


@pytest.mark.parametrize(("keep", "note", "volume_m3"), [("mine", "mine", 8), ("theirs", "theirs", 20)])
def test_what_went_different_ways_is_kept_or_goes_on_as_there(parted, keep, note, volume_m3):
    here, there, evening = parted
    mine_before = told_of(here, evening)
    new = here.take_in(there.export(), keep=keep)
    assert new["parted"] == 3
    told = told_of(here, evening)
    assert told[:2] == (note, volume_m3)
    assert told[2] == mine_before[2], "what happened is not written anew"
    assert told[3] == {"a film of mine", "a film of theirs"}, "the rest is taken"
    # Nothing is lost: what stood here is readable as it was.
    assert "mine" in [one.body["note"] for one in here.store.history("product", "own_vitamin_c")]
    after = here.export()
    assert here.take_in(there.export(), keep=keep)["revisions"] == 0 and here.export() == after
    if keep == "theirs":
        there.shelf.change_product("own_vitamin_c", {**OWN_PRODUCT, "note": "theirs again"})
        assert here.take_in(there.export(), keep="theirs")["revisions"] == 1
        assert here.shelf.product("own_vitamin_c").thing.note == "theirs again"


def test_two_that_came_to_the_same_by_different_ways_part_no_more(towns):
    here, there = towns
    here.shelf.add_product(OWN_PRODUCT)
    there.take_in(here.export())
    for bench, way in ((here, ["x", "same"]), (there, ["y", "same"])):
        for note in way:
            bench.shelf.change_product("own_vitamin_c", {**OWN_PRODUCT, "note": note})
    assert here.take_in(there.export())["revisions"] == 0


def test_the_command_that_imports_is_told_what_to_keep(parted, home, tmp_path, capsys, monkeypatch):
    here, there, _ = parted
    file, first = tmp_path / "theirs.json", tmp_path / "mine.json"
    file.write_text(json.dumps(there.export()))
    first.write_text(json.dumps(here.export()))
    assert command(["import", str(first), "--mine", "all"]) == 0
    capsys.readouterr()
    assert command(["import", str(file)]) == 2
    assert "--keep theirs" in capsys.readouterr().err
    assert command(["import", str(file), "--keep", "mine"]) == 0
    assert "3 things went different ways here and there. What stands here was left" in capsys.readouterr().out


def test_an_import_of_things_that_no_page_could_read_is_refused_whole(towns):
    here, there = towns
    there.store.put("run", {"name": "no plan"}, id="r")
    with pytest.raises(InputError, match="run r"):
        here.take_in(there.export())
    assert here.export()["things"] == []


def test_an_import_whose_events_tell_no_evening_is_refused_whole(towns):
    here, there = towns
    run = there.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
    there.store.append_event(run, "odd", {"kind": "step_extended", "at_s": 1.0, "seconds": -5})
    with pytest.raises(InputError, match="event 1"):
        here.take_in(there.export())
    assert here.export()["things"] == []


def test_export_of_what_was_taken_in_is_the_same_document(towns):
    here, there = towns
    film = there.notebook.add_film(FILM).id
    there.notebook.add_trial(film, STRIP)
    there.store.put("product", products()["household_ammonia_5"].model_dump(mode="json"), id="household_ammonia_5")
    run = there.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
    there.sink.record(run, "start", {"kind": "started"})
    here.take_in(there.export())
    assert json.dumps(here.export()) == json.dumps(there.export())


def test_every_page_of_a_second_device_shows_the_same_names(tmp_path):
    url = f"sqlite:///{tmp_path / 'n.sqlite'}"
    benches = [open_workbench(tmp_path, url=url) for _ in range(2)]
    film = doubled(benches[0])
    shown = [[one.thing.trial.id for one in bench.notebook.trials(film)] for bench in benches]
    assert shown[0] == shown[1]
    app = create_app(benches[1])
    with TestClient(app, base_url="http://127.0.0.1") as web:
        assert web.get(f"/notebook/{film}").status_code == 200
    for bench in benches:
        bench.close()


def test_an_old_notebook_learns_where_its_things_are_from(tmp_path):
    store = open_store(f"sqlite:///{tmp_path / 'n.sqlite'}")
    document = store.export()
    store.put("film", FILM, id="a")
    document = store.export()
    del document["things"][0]["origin"]
    other = open_store()
    take_in_notebook(other, document)
    assert other.get("film", "a").elsewhere and other.from_elsewhere() == {"": 1}
    third = open_store()
    take_in_notebook(third, document, mine=[""])
    assert not third.get("film", "a").elsewhere
    for one in (store, other, third):
        one.close()


@pytest.mark.parametrize(
    "held", [{"product": "fixer_ats_60wv"}, {"product": "of_another_town"}, {"formula": "of_another_town"}]
)
def test_a_bottle_is_shown_whatever_it_says_it_holds(workbench, client, held):
    """A generic product stands on no shelf, and one that came without its label in no notebook."""
    bottle = workbench.shelf.add_bottle({"name": "Fixer", "amount": 700, **held})
    for address in (f"/shelf/bottles/{bottle}", "/shelf"):
        assert client.get(address, headers={"accept": "text/html"}).status_code == 200
    told = client.get(f"/shelf/bottles/{bottle}", headers={"accept": "text/html"}).text
    assert ("in no label kept" in told) == ("of_another_town" in held.values())
