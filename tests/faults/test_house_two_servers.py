"""Two computers of a club on one database: nothing doubled, nothing lost, both migrate, both see the other's touch."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import text

from obverse.clock import FixedClock
from obverse.store import open_store
from obverse.store.engine import _config, _known_versions
from obverse.store.tables import NEWEST
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench
from tests.conftest import EVENING


@pytest.fixture
def address(postgresql):
    return postgresql.database()


def test_a_thousand_events_at_once_have_places_of_their_own(address):
    stores = [open_store(address) for _ in range(2)]

    def write(number):
        return stores[number % 2].append_event("run", f"event {number}", {"n": number})

    with ThreadPoolExecutor(16) as pool:
        places = list(pool.map(write, range(1000)))
        again = list(pool.map(write, range(0, 1000, 50)))
    assert sorted(places) == list(range(1, 1001))
    assert again == places[::50]
    for store in stores:
        kept = store.events("run")
        assert [event.seq for event in kept] == list(range(1, 1001))
        assert {event.event_id: event.seq for event in kept} == {f"event {n}": p for n, p in enumerate(places)}
        store.close()


@pytest.mark.parametrize("before", ["empty", "old"])
def test_two_servers_that_start_at_once_migrate_once(address, before):
    if before == "old":
        from importlib.resources import as_file, files

        from alembic import command

        store = open_store(address)
        with store._database.writing() as connection:
            connection.execute(text("DROP SCHEMA IF EXISTS old CASCADE"))
            connection.execute(text("CREATE SCHEMA old"))
        store.close()
        address = address.split("?")[0] + "?options=-csearch_path%3Dold"
        from sqlalchemy import create_engine

        engine = create_engine(address)
        with as_file(files("obverse.store").joinpath("migrations")) as folder, engine.begin() as connection:
            command.upgrade(_config(folder, connection), "0001")
            connection.execute(
                text("INSERT INTO films VALUES ('a', 1, '2031-11-05', '2031-11-05', NULL, '{\"name\": \"before\"}')")
            )
        engine.dispose()
    together, opened = threading.Barrier(4), []

    def start(_):
        together.wait()
        opened.append(open_store(address))

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(start, range(4)))
    assert len(opened) == 4 and NEWEST in _known_versions()
    with opened[0]._database.reading() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalars().all() == [NEWEST]
    assert len({store.darkroom for store in opened}) == 1
    if before == "old":
        assert opened[1].get("film", "a").body == {"name": "before"}
    for store in opened:
        store.close()


@pytest.fixture
def computers(address, tmp_path):
    """Two computers with a clock and a home each, on one database."""
    made = []
    for name in ("one", "two"):
        bench = open_workbench(tmp_path / name, url=address, clock=FixedClock(EVENING))
        app = create_app(bench)
        made.append(TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}))
    yield made
    for web in made:
        web.app.state.workbench.close()


def test_both_may_write_and_each_sees_the_other(computers):
    one, two = computers
    film = one.post("/api/notebook/films", json={"stock": {"name": "a 100-speed film", "box_speed": 100}})
    assert film.status_code < 300, film.text
    assert "a 100-speed film" in two.get("/notebook", headers={"accept": "text/html"}).text
    product = {
        "name": "own vitamin C",
        "form": "solid",
        "contents": [{"substance": "ascorbic_acid", "strength": "100 % w/w"}],
    }
    assert two.post("/api/shelf/products", json=product).status_code < 300
    assert "own vitamin C" in one.get("/shelf", headers={"accept": "text/html"}).text


def test_a_run_is_followed_on_both(computers):
    one, two = computers
    begun = one.app.state.workbench.sink.begin(
        {"route": "permanganate_light", "strips": [{"name": "strip", "controls": {"first_developer_time_min": 9}}]}
    )
    places = []
    for number, web in enumerate((one, two, one, two)):
        kind = "note" if number else "started"
        event = {"event_id": f"e{number}", "device": "phone", "kind": kind, "text": f"from {number}"}
        answer = web.post(f"/api/sink/runs/{begun}/events", json=event)
        assert answer.status_code == 200, answer.text
        places.append(answer.json()["seq"])
    # The second computer writes an anchor of its own clock down before its first touch.
    assert places == [1, 3, 4, 5]
    looks = [web.get(f"/api/sink/runs/{begun}").json() for web in (one, two)]
    assert looks[0]["seq"] == looks[1]["seq"] == 5
    assert looks[0]["status"] == looks[1]["status"] == "running"
