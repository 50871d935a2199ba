"""The pages of the pool, through the application."""

from __future__ import annotations

import html
import json
import re

import pytest
from fastapi.testclient import TestClient

from obverse.foundation import read_document
from obverse.pool import PoolDocument, seal_of
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

PLACE = "/notebook/pool"
FILM = {"name": "<b>grey</b> base", "box_speed": 100, "base_density": 0.3}
EVIL = '<script>alert("1")</script>'


def trial(density: float) -> dict[str, object]:
    steps = [{"log_exposure": x, "density": density - x / 2} for x in (-1.0, 0.0, 1.0)]
    return {"controls": {"first_developer_time_min": 10.0}, "steps": steps, "person": "Ada"}


@pytest.fixture
def bench(tmp_path):
    (tmp_path / "south").mkdir()
    workbench = open_workbench(tmp_path / "south", url="sqlite://")
    yield workbench
    workbench.close()


@pytest.fixture
def client(bench):
    with TestClient(create_app(bench, hosts=("testserver",), token="t"), follow_redirects=True) as client:
        yield client


@pytest.fixture
def lent(tmp_path) -> str:
    (tmp_path / "north").mkdir()
    north = open_workbench(tmp_path / "north", url="sqlite://")
    north.pool.call(EVIL)
    film = north.notebook.add_film(FILM).id
    north.notebook.add_trial(film, trial(1.5))
    text = north.pool.lend([film]).model_dump_json()
    north.close()
    return text


def look(client, *texts: str):
    return client.post(
        f"{PLACE}/look", data={"token": "t"}, files=[("file", (f"{n}.json", t)) for n, t in enumerate(texts)]
    )


def carried(page) -> str:
    return html.unescape(re.search(r'name="documents" value="([^"]*)"', page.text)[1])


def test_looked_at_first_then_taken_in_once(client, bench, lent):
    assert "Nobody has lent you anything yet" in client.get(PLACE).text
    page = look(client, lent, "no document")
    assert "1 new." in page.text and "document 2" in page.text
    assert bench.pool.pages() == []
    for request_id in ("r1", "r1", "r2"):
        data = {"token": "t", "request_id": request_id, "documents": carried(page)}
        client.post(f"{PLACE}/take", data=data)
    (kept,) = bench.pool.pages()
    assert kept.revision == 1 and len(kept.thing.strips) == 1
    assert "There is nothing to take in." in look(client, lent).text


def test_names_are_words_and_never_run(client, bench, lent):
    look(client, lent)
    client.post(f"{PLACE}/take", data={"token": "t", "documents": json.dumps([lent])})
    (kept,) = bench.pool.pages()
    for path in (PLACE, f"{PLACE}/{kept.id}"):
        text = client.get(path).text
        assert EVIL not in text and "<b>grey</b>" not in text
        assert html.escape(EVIL, quote=True).replace("&quot;", "&#34;") in text
    assert EVIL not in look(client, lent).text


def test_what_was_changed_is_refused_and_the_way_on_is_shown(client, bench, lent):
    forged = lent.replace('"density":1.5', '"density":1.6')
    assert seal_of(read_document(PoolDocument, json.loads(forged))) == "changed"
    page = look(client, forged)
    assert "changed since it was sealed" in page.text and "There is nothing to take in." in page.text
    page = client.post(
        f"{PLACE}/take", data={"token": "t", "documents": carried(page), "even_so": "yes", "look": "again"}
    )
    assert "1 new." in page.text and bench.pool.pages() == []
    client.post(f"{PLACE}/take", data={"token": "t", "documents": carried(page), "even_so": "yes"})
    assert bench.pool.pages()[0].thing.seal == "none"


def test_start_from_these_then_it_says_how_far_they_count(client, bench, lent):
    client.post(f"{PLACE}/take", data={"token": "t", "documents": json.dumps([lent])})
    (kept,) = bench.pool.pages()
    page = f"{PLACE}/{kept.id}"
    assert "Start from these" in client.get(page).text
    client.post(f"{page}/start", data={"token": "t"})
    assert [one.thing.name for one in bench.notebook.films()] == [FILM["name"]]
    text = client.get(page).text
    assert "its one strip counts" in text and "Start from these" not in text
    client.post(f"{page}/aside", data={"token": "t"})
    assert "Put aside (1)" in client.get(PLACE).text and bench.pool.pages() == []
    client.post(f"{page}/back", data={"token": "t"})
    assert len(bench.pool.pages()) == 1


def test_lending_by_the_page(client, bench):
    film = bench.notebook.add_film(FILM).id
    bench.notebook.add_trial(film, trial(1.5))
    client.post(f"{PLACE}/name", data={"token": "t", "name": "Southtown"})
    answer = client.post(f"{PLACE}/lend", data={"token": "t", "film": film})
    document = read_document(PoolDocument, answer.json())
    assert document.darkroom.name == "Southtown" and "Ada" not in answer.text
    assert "Ada" in client.post(f"{PLACE}/lend", data={"token": "t", "film": film, "persons": "yes"}).text


BAD = [
    ("look", {}, "no document was given"),
    ("lend", {}, "no film was chosen"),
    ("take", {"documents": '{"a": 1}'}, "lost on the way"),
    ("take", {"documents": "not json"}, "lost on the way"),
    ("name", {"name": "x" * 61}, "at most 60"),
    ("name", {"name": "a\u202eb"}, "printable"),
    ("nowhere/start", {}, "no setting"),
]


def test_bad_entries_get_one_sentence(client):
    for path, data, sentence in BAD:
        answer = client.post(f"{PLACE}/{path}", data={"token": "t", **data})
        assert 400 <= answer.status_code < 500 and sentence in html.unescape(answer.text), path


def test_the_search(client, lent):
    client.post(f"{PLACE}/take", data={"token": "t", "documents": json.dumps([lent])})
    for query, shown in (("words=grey", True), ("words=red", False), ("speed=125", True), ("speed=400", False)):
        found = client.get(f"{PLACE}?{query}").text.split("</form>", 1)[1]
        assert ("grey" in found) is shown, query
    assert "is no number" in client.get(f"{PLACE}?speed=fast").text


def test_an_old_page_undoes_no_newer_name(client, bench):
    read = re.search(r'pool/name">.*?name="revision" value="([^"]*)"', client.get(PLACE).text, re.S)[1]
    assert client.post(f"{PLACE}/name", data={"token": "t", "revision": read, "name": "Attic"}).status_code == 200
    late = client.post(
        f"{PLACE}/name", data={"token": "t", "revision": read, "name": "Cellar"}, headers={"accept": "text/html"}
    )
    assert late.status_code == 409 and "Cellar" in late.text
    assert bench.pool.own().name == "Attic"
