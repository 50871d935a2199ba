"""An entry whose answer was lost is sent again: it is kept once, and answered as it was first."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient

from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

FILM = {"stock": {"name": "a 100-speed grey-base film", "box_speed": 100}}
STRIP = {"controls": {"first_developer_time_min": 9}}


def again(client, url, key, **what):
    """The same request twice under one id; both answers."""
    headers = {"Idempotency-Key": key}
    return [client.post(url, headers=headers, follow_redirects=False, **what) for _ in range(2)]


@pytest.fixture
def film(client):
    return client.post("/api/notebook/films", json=FILM).json()["id"]


def picture():
    import numpy as np

    from obverse.capture import save_tiff

    return save_tiff(np.full((40, 60, 3), 20_000, np.uint16))


def entries(client, film, workbench):
    """Every kind of entry: where it is sent, what is sent, and how many of it there are."""
    count = lambda kind: len(workbench.store.ids(kind))  # noqa: E731
    return {
        "strip": (f"/api/notebook/films/{film}/trials", {"json": STRIP}, lambda: count("trial")),
        "film": (
            "/api/notebook/films",
            {"json": {"stock": {"name": "another", "box_speed": 50}}},
            lambda: count("film"),
        ),
        "reading": (
            "/api/light-table/reading",
            {"json": {"patches": [{"log_exposure": 0, "density": 1}]}},
            lambda: count("reading"),
        ),
        "bottle": ("/shelf/bottles", {"data": {"name": "Fixer", "product": "fixer_ats_60wv"}}, lambda: count("bottle")),
        "product": (
            "/shelf/products",
            {
                "data": {
                    "name": "Soda",
                    "form": "solid",
                    "substance": "sodium_carbonate",
                    "strength": "100 % w/w",
                    "doubt": "",
                }
            },
            lambda: count("product"),
        ),
        "jug": ("/shelf/care/jugs", {"data": {"letter": "F", "capacity_ml": "2000"}}, lambda: count("jug")),
        "bath": (
            "/shelf/care/baths",
            {"data": {"formula": "fixer_rapid", "volume_ml": "500"}},
            lambda: count("bottle"),
        ),
        "evening": (
            "/api/sink/runs",
            {"json": {"request": {"route": "iron_ammonia_light", "tank_ml": 500}}},
            lambda: count("run"),
        ),
        "slides": ("/projector/slides/roll", {"data": {"roll": "harbour", "frames": "3"}}, lambda: count("slide")),
        "picture": (
            "/api/light-table/pictures",
            {"files": {"files": ("a.tif", picture(), "image/tiff")}},
            lambda: count("picture"),
        ),
        "bracket": ("/api/light-table/shots", {"json": {"name": "grey card"}}, lambda: count("setting")),
        "formula": (
            "/bench/formula",
            {
                "data": {
                    "name": "My stop",
                    "role": "stop",
                    "substance": ["acetic_acid"],
                    "concentration": ["10 g/L"],
                    "product_role": [""],
                    "dilution": [""],
                }
            },
            lambda: len(workbench.store.history("formula", "my_stop")) if count("formula") else 0,
        ),
    }


NAMES = sorted(
    [
        "strip",
        "film",
        "reading",
        "bottle",
        "product",
        "jug",
        "bath",
        "evening",
        "slides",
        "picture",
        "bracket",
        "formula",
    ]
)


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_of_entry_is_kept_once(client, film, workbench, name):
    url, what, count = entries(client, film, workbench)[name]
    before = count()
    first, second = again(client, url, "lost-answer", **what)
    assert first.status_code in (200, 303), first.text
    kept = count() - before
    assert kept == (3 if name == "slides" else 1)
    assert (second.status_code, second.content) == (first.status_code, first.content)
    assert second.headers.get("location") == first.headers.get("location")
    client.post(url, headers={"Idempotency-Key": "another"}, follow_redirects=False, **what)
    if name in ("strip", "reading", "bottle", "bath", "jug", "evening", "bracket"):
        assert count() - before == 2 * kept, "another entry of the same content is another entry"
    if name == "formula":
        assert count() - before == kept, "a formula begun from nothing takes the place of none"


def test_a_form_carries_its_id_in_a_field(client, workbench):
    page = client.get("/shelf").text
    fields = page.split('name="request_id" value="')[1:]
    ids = [part.split('"')[0] for part in fields]
    assert len(ids) == len(set(ids)) > 3
    form = {"name": "Fixer", "product": "fixer_ats_60wv", "request_id": ids[0]}
    for _ in range(2):
        assert client.post("/shelf/bottles", data=form, follow_redirects=False).status_code == 303
    assert len(workbench.shelf.bottles()) == 1
    client.post("/shelf/bottles", data={**form, "name": "Fixer, the second"})
    assert len(workbench.shelf.bottles()) == 2, "a form that was gone back to and changed is another entry"


def test_a_refused_entry_may_be_mended_and_sent_again_under_its_id(client, workbench):
    headers = {"Idempotency-Key": "same"}
    assert client.post("/shelf/bottles", data={"name": "no content"}, headers=headers).status_code == 422
    client.post("/shelf/bottles", data={"name": "Fixer", "product": "fixer_ats_60wv"}, headers=headers)
    assert len(workbench.shelf.bottles()) == 1


def test_a_photograph_at_the_sink_sent_again_happened_once(client, workbench):
    run = workbench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
    workbench.sink.record(run, "start", {"kind": "started"})
    files = {"picture": ("a.jpg", b"\xff\xd8\xff\xe0 a picture", "image/jpeg")}
    first, second = again(client, f"/api/sink/runs/{run}/photo", "photo", files=files)
    assert (first.json()["fresh"], second.json()["fresh"]) == (True, False)
    assert first.json()["seq"] == second.json()["seq"] == 2
    assert workbench.store.orphans() == ()


def test_a_double_press_from_two_houses_on_one_file_is_one_strip(tmp_path):
    url = f"sqlite:///{tmp_path / 'n.sqlite'}"
    benches = [open_workbench(tmp_path, url=url) for _ in range(2)]
    film = benches[0].notebook.add_film(FILM["stock"]).id
    apps = [create_app(bench) for bench in benches]
    for app in apps:
        # The framework builds its routes at the first request, which is not made for two threads at once.
        with TestClient(app, base_url="http://127.0.0.1") as web:
            assert web.get("/api/health").status_code == 200
            assert web.get(f"/notebook/{film}").status_code == 200
    together = threading.Barrier(12)

    def press(place):
        app = apps[place % 2]
        with TestClient(app, base_url="http://127.0.0.1") as web:
            together.wait()
            headers = {"X-Obverse-Token": app.state.token, "Idempotency-Key": "pressed"}
            return web.post(f"/api/notebook/films/{film}/trials", json=STRIP, headers=headers).json()

    with ThreadPoolExecutor(12) as pool:
        answers = list(pool.map(press, range(12)))
    assert answers == [answers[0]] * 12 and answers[0]["name"] == "strip 1"
    assert len(benches[0].notebook.trials(film)) == 1
    for bench in benches:
        bench.close()


def test_bytes_and_record_of_a_picture_are_one(workbench, monkeypatch):
    run = workbench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
    workbench.sink.record(run, "start", {"kind": "started"})

    def cut(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(workbench.store.pictures, "put", cut)
    with pytest.raises(ZeroDivisionError):
        workbench.camera.add(picture(), "a.tif")
    workbench.sink.at_point = lambda point: cut() if point == "between_picture_and_event" else None
    with pytest.raises(ZeroDivisionError):
        workbench.sink.keep_photo(run, b"\xff\xd8\xff a picture", "image/jpeg")
    assert workbench.store.orphans() == () and workbench.store.export()["blobs"] == []
    assert len(workbench.store.events(run)) == 1


def test_a_correction_of_the_report_and_a_duty_pressed_twice_are_one(client, workbench):
    run = workbench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
    workbench.sink.record(run, "start", {"kind": "started"})
    workbench.sink.record(run, "note", {"kind": "note", "text": "as it was"})
    for place, form in (
        ("correct", {"of": "note", "do": "change", "value": "as it truly was"}),
        ("duty", {"formula": "bleach_iron_ammonia", "who": "K"}),
    ):
        before = len(workbench.store.events(run))
        first, second = again(client, f"/sink/{run}/{place}", f"{place} pressed", data=form)
        assert (first.status_code, first.headers["location"]) == (second.status_code, second.headers["location"])
        assert len(workbench.store.events(run)) == before + 1, place


def request_id(client):
    return client.get("/shelf").text.split('name="request_id" value="')[1].split('"')[0]


def test_the_same_from_a_page_that_could_not_show_it_is_asked_about_once(client, workbench):
    forms = [
        {"name": "Fixer", "product": "fixer_ats_60wv", "stood_on": "/shelf", "request_id": request_id(client)}
        for _ in range(2)
    ]

    def send(form):
        return client.post("/shelf/bottles", data=form, headers={"accept": "text/html"}, follow_redirects=False)

    workbench.clock.advance(100)
    assert send(forms[0]).status_code == 303
    workbench.clock.advance(120)
    asked = send(forms[1])
    assert asked.status_code == 409 and len(workbench.shelf.bottles()) == 1
    assert "The same was entered on another page 2 min ago, and is kept" in asked.text
    assert "keep both" in asked.text and 'name="name" value="Fixer"' in asked.text
    assert send({**forms[1], "name": "Another"}).status_code == 303, "what differs is another thing"
    assert send({**forms[1], "both": "yes", "request_id": request_id(client)}).status_code == 303
    assert send({**forms[0], "request_id": request_id(client)}).status_code == 303, "this page showed it"
    late = {**forms[0], "name": "Late", "request_id": request_id(client)}
    other = {**late, "request_id": request_id(client)}
    workbench.clock.advance(1)
    assert send(late).status_code == 303
    workbench.clock.advance(1801)
    assert send(other).status_code == 303, "half an hour later it is another"
    assert len(workbench.shelf.bottles()) == 6
