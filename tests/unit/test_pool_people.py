"""People at one bench: names without passwords, devices that belong to somebody, one code for an evening."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient

from obverse.foundation import ConflictError, DeniedError, InputError
from obverse.process import AIMS, FilmStock, Recipe
from obverse.process.catalog import formulas, routes
from obverse.sheets.typeset import ask
from obverse.sheets.wall_sheet import wall_data, wall_sheet_pdf
from obverse.store import open_store
from obverse.web.app import create_app
from obverse.web.sharing import EVENING_LIFE, MOST_BY_ONE_CODE, Sharing
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.people import Person, people_of

pytestmark = pytest.mark.usefixtures("few_draws")

ROUTE = {"route": "permanganate_light"}
STOCK = {"name": "grey", "box_speed": 100}


class Watch:
    def __init__(self) -> None:
        self.at = datetime(2031, 5, 1, 18, tzinfo=UTC)

    def now(self) -> datetime:
        return self.at


@pytest.fixture
def watch() -> Watch:
    return Watch()


@pytest.fixture
def sharing(watch) -> Sharing:
    return Sharing(hosts=("testserver",), address="http://testserver", key="k" * 32, now=watch.now)


@pytest.fixture
def bench(tmp_path):
    workbench = open_workbench(tmp_path, url="sqlite://")
    yield workbench
    workbench.close()


def test_one_code_lets_a_class_in_until_it_is_closed(sharing, watch):
    assert not sharing.for_many and sharing.places_left == 1
    sharing.new_secret(for_many=True)
    code = sharing.secret
    for k in range(12):
        sharing.pair(code, peer=f"10.0.0.{k}", name="phone")
    assert sharing.places_left == MOST_BY_ONE_CODE - 12
    assert len({device.name for device in sharing.devices.all()}) == 12
    sharing.close()
    assert sharing.secret is None and sharing.places_left == 0
    with pytest.raises(DeniedError, match="used, closed, or is too old"):
        sharing.pair(code)
    assert len(sharing.devices.all()) == 12

    sharing.new_secret(for_many=True)
    watch.at += EVENING_LIFE + timedelta(seconds=1)
    assert sharing.secret is None


def test_the_code_of_an_evening_has_an_end(sharing):
    sharing.new_secret(for_many=True)
    code = sharing.secret
    for k in range(MOST_BY_ONE_CODE):
        sharing.pair(code, peer=str(k))
    assert sharing.secret is None
    sharing.new_secret()
    code = sharing.secret
    sharing.pair(code)
    assert sharing.secret is None


def test_one_sheet_for_the_wall(sharing, watch):
    sharing.new_secret(for_many=True)
    assert sharing.until == watch.at + EVENING_LIFE
    data = wall_data(sharing.link, sharing.until, 12, "a4")
    assert data["lead"] == "Lets in 12 phones, until 00:00 on 2031-05-02 or until it is closed."
    assert wall_data("x", watch.at, 1, "a4")["lead"].startswith("Lets in 1 phone, until 18:00")
    assert ask("wall_sheet", data, "pages") == [1]
    assert wall_sheet_pdf("x", until=watch.at, places=1, paper="us-letter").startswith(b"%PDF")
    with pytest.raises(InputError, match="there is no paper"):
        wall_sheet_pdf("x", until=watch.at, places=1, paper="a7")


def test_a_device_belongs_to_one_until_it_is_put_out(sharing):
    session = sharing.pair(sharing.secret)
    assert sharing.person_of(session) == ""
    sharing.belongs(session, "Ada")
    assert sharing.person_of(session) == "Ada"
    forged = session.rsplit(".", 1)[0] + "." + "0" * 64
    sharing.belongs(forged, "Mallory")
    assert sharing.person_of(session) == "Ada" and sharing.person_of(forged) == ""
    (device,) = sharing.devices.all()
    sharing.devices.put_out(device.id)
    assert sharing.person_of(session) == ""


def test_a_name_stands_once(bench):
    bench.people.add("  Ada   B. ")
    assert [kept.thing.name for kept in bench.people.all()] == ["Ada B."]
    with pytest.raises(ConflictError, match="works here already"):
        bench.people.add("ada b")
    for wrong in ("", "  ", "!?", "x" * 41, "\u202e"):
        with pytest.raises(InputError, match="a name has"):
            bench.people.add(wrong)
    bench.people.let_go(bench.people.all()[0].id)
    # What turns the way of reading is left out, so that no name looks like another.
    bench.people.add("a\u202eb")
    assert [kept.thing.name for kept in bench.people.all()] == ["ab"]
    bench.people.let_go(bench.people.all()[0].id)
    assert bench.people.all() == []
    for name in ("Pupil 10", "Pupil 9", "ada"):
        bench.people.add(name)
    assert [kept.thing.name for kept in bench.people.all()] == ["ada", "Pupil 9", "Pupil 10"]


def test_things_made_show_whose_they_are_and_ending_anothers_is_written_down(bench):
    with TestClient(create_app(bench, hosts=("testserver",), token="t")) as client:
        for name in ("Ada", "<i>Ben</i>"):
            client.post("/people", data={"token": "t", "name": name})
        ids = {kept.thing.name: kept.id for kept in bench.people.all()}
        assert "nobody yet" in client.get("/people").text and "<i>Ben" not in client.get("/people").text
        assert client.post("/people/me", data={"token": "t", "person": "nobody"}).status_code == 422
        # A name that is taken comes back to its field.
        taken = {"token": "t", "name": "ada", "stood_on": "/people"}
        again = client.post("/people", data=taken, headers={"accept": "text/html"})
        assert again.status_code == 409 and re.search(r'aria-invalid="true"[^>]*value="ada"', again.text)
        client.post("/people/me", data={"token": "t", "person": ids["Ada"]})
        assert "This device belongs to Ada." in client.get("/people").text

        head = {"x-obverse-token": "t"}
        film = bench.notebook.add_film({"name": "grey", "box_speed": 100}).id
        client.post(
            f"/api/notebook/films/{film}/trials", json={"controls": {"first_developer_time_min": 9}}, headers=head
        )
        assert bench.notebook.trials(film)[0].thing.trial.person == "Ada"
        trial = f"/api/notebook/trials/{bench.notebook.trials(film)[0].id}"
        assert client.post(trial, json={"note": "mine"}, headers=head).status_code == 200
        run = client.post("/api/sink/runs", json={"request": ROUTE, "speed": 20}, headers=head).json()["run"]
        events = f"/api/sink/runs/{run}/events"
        client.post(events, json={"event_id": "e1", "kind": "started"}, headers=head)
        assert "This is Ada" not in client.get(f"/sink/{run}").text

        shown = client.get("/sink/all").text
        assert re.search(r"<h2>Ada</h2>", shown)
        assert "now: Lay out the evening" in shown

        client.post("/people/me", data={"token": "t", "person": ids["<i>Ben</i>"]})
        assert "This is Ada" in client.get(f"/sink/{run}").text
        for asked, path in (
            (client.post(trial, json={"note": "no"}, headers=head), trial),
            (client.post(f"{trial}/retire", headers=head), ""),
        ):
            assert asked.json()["code"] == "unlikely" and "strip 1 is Ada's strip" in asked.text, path
        assert bench.notebook.trials(film)[0].thing.trial.note == "mine"
        client.post(trial, json={"note": "better", "anyway": True}, headers=head)
        assert bench.notebook.trials(film)[0].thing.changed_by == "<i>Ben</i>"
        shown = bench.notebook.story(film).document()["trials"][0]
        assert (shown["person"], shown["changed_by"], shown["note"]) == ("Ada", "<i>Ben</i>", "better")
        client.post(f"{trial}/retire?anyway=true", headers=head)
        assert (
            bench.notebook.trials(film) == []
            and bench.notebook.retired_trials(film)[0].thing.changed_by == "<i>Ben</i>"
        )
        client.post(events, json={"event_id": "e2", "kind": "aborted", "text": "fire alarm"}, headers=head)
        last = bench.sink.state(run).events[-1]
        assert last.text == "<i>Ben</i> ended Ada's evening: fire alarm" and last.device == "<i>Ben</i>"
        assert "No evening goes on" in client.get("/sink/all").text


def test_films_formulas_and_recipes_show_whose_they_are_and_anothers_are_asked_about(bench):
    bath = {
        "name": "My stop",
        "role": "stop",
        "components": [{"substance": "acetic_acid", "concentration": "20 g/L", "add_order": 0}],
    }
    with TestClient(create_app(bench, hosts=("testserver",), token="t")) as client:
        head = {"x-obverse-token": "t"}
        for name in ("Ada", "<i>Ben</i>"):
            client.post("/people", data={"token": "t", "name": name})
        ids = {kept.thing.name: kept.id for kept in bench.people.all()}

        def is_here(name: str) -> None:
            client.post("/people/me", data={"token": "t", "person": ids[name]})

        is_here("Ada")
        film = client.post("/api/notebook/films", json={"stock": STOCK}, headers=head).json()["id"]
        key = client.post("/api/bench/formulas", json=bath, headers=head).json()["key"]
        route = routes()["permanganate_light"]
        baths = tuple(formulas()[name] for name in dict.fromkeys(step.formula for step in route.steps if step.formula))
        recipe = bench.notebook.keep_recipe(
            Recipe(name="mine", film=FilmStock(**STOCK), route=route, formulas=baths, aim=AIMS["projection"])
        ).id
        bench.belongings.touched("recipe", recipe, "Ada")
        pages = (f"/notebook/{film}", f"/bench/sheet?formula={key}&volume_ml=500", f"/notebook/recipes/{recipe}")
        assert all("Ada&#39;s." in client.get(path).text for path in pages)
        # One's own is changed without a word.
        assert client.post("/api/bench/formulas", json={**bath, "note": "1"}, headers=head).status_code == 200

        is_here("<i>Ben</i>")
        html = {"accept": "text/html"}
        asked = client.post("/api/bench/formulas", json={**bath, "note": "2"}, headers=head)
        assert asked.json()["code"] == "unlikely" and "this formula is Ada's" in asked.text
        assert bench.bench.formula(key).note == "1"
        stock = {**STOCK, "revision": 1}
        assert client.post(f"/api/notebook/films/{film}/stock", json=stock, headers=head).json()["code"] == "unlikely"
        for path in (f"/notebook/{film}/retire", f"/notebook/recipes/{recipe}/retire"):
            page = client.post(path, data={"token": "t"}, headers=html)
            assert page.status_code == 422 and "I asked: change it" in page.text
            assert re.search(rf'action="{path}\?anyway=true"', page.text)
            client.post(f"{path}?anyway=true", data={"token": "t"}, headers=html)
        assert bench.notebook.films() == [] and bench.recipes.all() == []
        client.post("/api/bench/formulas?anyway=true", json={**bath, "note": "2"}, headers=head)
        assert bench.bench.formula(key).note == "2"
        shown = client.get(pages[1]).text
        assert "Ada&#39;s, changed by &lt;i&gt;Ben&lt;/i&gt;." in shown
        third = open_workbench(bench.home / "third", url="sqlite://")
        third.take_in(bench.export(), mine=("all",))
        assert third.belongings.of("formula", key).sentence == "Ada's, changed by <i>Ben</i>."
        third.close()


def test_every_change_of_anothers_asks_first_and_is_written_down(bench):
    """All edits there are, one after another, by a second person: refused, then asked, then done and signed."""
    with TestClient(create_app(bench, hosts=("testserver",), token="t")) as client:
        head, html = {"x-obverse-token": "t"}, {"accept": "text/html"}
        for name in ("Ada", "Ben"):
            client.post("/people", data={"token": "t", "name": name})
        ids = {kept.thing.name: kept.id for kept in bench.people.all()}

        def is_here(name: str) -> None:
            client.post("/people/me", data={"token": "t", "person": ids[name]})

        def post(path: str, **body: object):
            return client.post(path, json=body, headers=head)

        def asks(path: str, **form: str) -> None:
            page = client.post(path, data={"token": "t", **form}, headers=html)
            assert page.status_code == 422 and "I asked: change it" in page.text, path
            assert client.post(f"{path}?anyway=true", data={"token": "t", **form}, headers=html).status_code == 200, (
                path
            )

        def refuses(path: str, **body: object) -> None:
            answer = post(path, **body)
            assert answer.json()["code"] == "unlikely" and answer.json()["where"] == "people", (path, answer.text)

        is_here("Ada")
        film = post("/api/notebook/films", stock=STOCK).json()["id"]
        steps = [{"log_exposure": x, "density": 1.5 - x / 2} for x in (-1, 0, 1)]
        strip = post(f"/api/notebook/films/{film}/trials", controls={"first_developer_time_min": 9}).json()["id"]
        attach = {"film": film, "trial": strip, "patches": steps}
        locked = {"trial": "strip 1", "name": "mine", "route": "permanganate_light", "anyway": True}
        assert post("/api/light-table/attach", **attach).status_code == 200
        assert post(f"/api/notebook/films/{film}/recipes", **locked).json()["revision"] == 1
        begun = client.post("/bench/processes", data={"token": "t", "name": "My way", "source": "permanganate_light"})
        way = str(begun.url).rpartition("/")[2].partition("?")[0]
        document = {**client.get(f"/api/processes/{way}").json(), "key": way}

        is_here("Ben")
        wrong = [{**step, "density": step["density"] + 0.1} for step in steps]
        refuses("/api/light-table/attach", **{**attach, "patches": wrong})
        refuses(f"/api/notebook/films/{film}/recipes", **locked)
        refuses("/api/processes", **document)
        refuses(f"/api/notebook/films/{film}/plan", aim="projection")
        for act in ("retire", "restore"):
            refuses(f"/api/notebook/trials/{strip}/{act}")
            asks(f"/notebook/strips/{strip}/{act}")
            asks(f"/notebook/{film}/{act}")
            asks(f"/notebook/recipes/mine/{act}")
        kept = bench.notebook.trial(strip).thing
        assert (kept.trial.person, kept.changed_by, kept.trial.steps[0].density) == ("Ada", "Ben", 2.0)
        assert post(f"/api/notebook/films/{film}/recipes?anyway=true", **locked).json()["revision"] == 2
        assert bench.belongings.of("recipe", "mine").sentence == "Ada's, changed by Ben."
        assert post("/api/light-table/attach", **{**attach, "patches": wrong, "anyway": True}).status_code == 200
        # A table that corrects a strip says whose it is before it is confirmed, and who did it stays beside it.
        table = {"text": "strip;time min;-1;0;1\nstrip 1;9;2.2;1.7;1.2", "film": "grey", "as_correction": [2]}
        (row,) = post("/api/notebook/past-strips/look", **table).json()["rows"]
        assert row["why"] == "it corrects Ada's strip of that name"
        assert post("/api/notebook/past-strips", **table).json()["corrected"] == 1
        kept = bench.notebook.trial(strip).thing
        assert (kept.trial.person, kept.changed_by, kept.trial.steps[0].density) == ("Ada", "Ben", 2.2)
        # A bottle is whoever's wrote it down; what is taken off is asked about, and a kept change is signed.
        is_here("Ada")
        assert post("/api/shelf/bottles", name="stop", formula="stop_bath", contents="acetic acid").status_code == 200
        (bottle,) = bench.shelf.bottles()
        is_here("Ben")
        asks(f"/shelf/bottles/{bottle.id}", name="stop", note="half empty", revision="1")
        assert re.search(r">stop</a> <span[^>]*>Ada&#39;s, changed by Ben.</span>", client.get("/shelf").text)
        asks("/shelf/retire", kind="bottle", id=bottle.id)
        assert (
            bench.shelf.bottles() == []
            and "Ada&#39;s, changed by Ben." in client.get(f"/shelf/bottles/{bottle.id}").text
        )
        form = {"title": "Ben's way", "summary": "", "revision": "1"}
        page = client.post(f"/bench/processes/{way}", data={"token": "t", **form}, headers=html)
        assert page.status_code == 422 and "this process is Ada&#39;s" in page.text
        assert post("/api/processes?anyway=true", **document).status_code == 200
        assert "Ada&#39;s, changed by Ben." in client.get(f"/bench/processes/{way}").text


def test_a_phone_says_whose_it_is_by_one_press(bench, watch):
    sharing = Sharing(hosts=("testserver",), address="http://testserver", key="k" * 32, now=watch.now)
    ada = bench.people.add("Ada").id
    with TestClient(create_app(bench, hosts=("127.0.0.1",), token="t", sharing=sharing)) as client:
        assert client.get("/people").status_code == 403
        sharing.new_secret(for_many=True)
        client.cookies.set("obverse_session", sharing.pair(sharing.secret, name="pocket"))
        client.post("/people/me", data={"token": "t", "person": ada})
        assert "This device belongs to Ada." in client.get("/people").text
        assert [device.person for device in sharing.devices.all()] == ["Ada"]
        # What closes and opens the door stays with the computer itself.
        assert client.get("/share/sheet.pdf").status_code == 403
        assert client.post("/api/share/close", headers={"x-obverse-token": "t"}).status_code == 403
        assert sharing.secret is not None


def test_what_a_class_will_ask_for_is_reckoned_when_its_code_is_made(bench, sharing, monkeypatch):
    def never(*_: object, **__: object) -> None:
        raise AssertionError("it was reckoned only when a page asked")

    route = routes()["permanganate_light"]
    baths = tuple(formulas()[name] for name in dict.fromkeys(step.formula for step in route.steps if step.formula))
    recipe = Recipe(name="mine", film=FilmStock(**STOCK), route=route, formulas=baths, aim=AIMS["projection"])
    kept = bench.notebook.keep_recipe(recipe).id
    for name, inside in (("lye of this class", "sodium_hydroxide"), ("acid of this class", "sulfuric_acid")):
        bench.shelf.add_product(
            {"key": inside, "name": name, "form": "liquid", "contents": [{"substance": inside, "strength": "10 % w/w"}]}
        )
    app = create_app(bench, hosts=("127.0.0.1",), token="t", sharing=sharing)
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 1)) as client:
        assert client.post("/api/share/evening", headers={"x-obverse-token": "t"}).status_code == 204
        monkeypatch.setattr("obverse.workbench.recipes.make_sheet", never)
        monkeypatch.setattr("obverse.workbench.care.hazards.assess", never)
        assert [client.get(path).status_code for path in ("/shelf", f"/notebook/recipes/{kept}")] == [200, 200]


def test_people_of_another_home_stand_once_and_those_of_another_darkroom_not_at_all(workbench):
    other = open_store()
    for name in ("kim", "Robin"):
        people_of(other).put(Person(name=name), id=f"person.{name}")
    names = lambda: [kept.thing.name for kept in workbench.people.all()]  # noqa: E731
    kim = workbench.people.add("Kim")
    workbench.take_in(other.export())
    assert names() == ["Kim"], "who works elsewhere is no choice here"
    workbench.take_in(other.export(), mine=[other.darkroom])
    assert names() == ["kim", "Robin"], "a name stands once, as it was written first"
    workbench.people.let_go(kim.id)
    assert names() == ["Robin"]
    other.close()
