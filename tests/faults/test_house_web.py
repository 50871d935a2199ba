"""Bad input and broken disks through the web face: 4xx or 503, one sentence, nothing lost."""

import sqlite3

import pytest
from fastapi.testclient import TestClient

from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

HTML = {"accept": "text/html"}


@pytest.fixture
def filed(tmp_path, clock):
    """A client over a notebook in a file, the workbench behind it, and the file."""
    (tmp_path / "home").mkdir()
    file = tmp_path / "n.sqlite"
    bench = open_workbench(tmp_path / "home", url=f"sqlite:///{file}", clock=clock)
    app = create_app(bench)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as web:
        yield web, bench, file
    bench.close()


def sentence(answer) -> str:
    return answer.json()["detail"]


def vitamin_c(web):
    return web.post(
        "/api/shelf/products",
        json={
            "name": "own vitamin C",
            "form": "solid",
            "contents": [{"substance": "ascorbic_acid", "strength": "100 % w/w"}],
        },
    )


def test_locked(filed):
    web, bench, file = filed
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with bench.store._database.reading() as connection:
        connection.exec_driver_sql("PRAGMA busy_timeout = 50")
    answer = vitamin_c(web)
    assert answer.status_code == 503 and "another program holds the file" in sentence(answer)
    assert web.get("/", headers=HTML).status_code == 200
    other.execute("ROLLBACK")
    other.close()
    assert vitamin_c(web).status_code < 300


def test_disk_full(filed):
    web, bench, _ = filed
    with bench.store._database.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    for _ in range(400):
        answer = vitamin_c(web)
        if answer.status_code != 200:
            break
    assert answer.status_code == 503 and "the disk is full; make room and try again" in sentence(answer)
    kept = [thing.body["name"] for thing in bench.store.list("product")]
    assert set(kept) == {"own vitamin C"}
    assert web.get("/shelf", headers=HTML).status_code == 200


def test_a_persons_page_tells_the_same_sentence(filed):
    web, bench, _ = filed
    bench.close()
    answer = web.get("/", headers=HTML)
    assert answer.status_code == 503 and "It was closed already" not in answer.text and "closed already" in answer.text
    assert "<h1>The notebook cannot be reached</h1>" in answer.text
    assert "The clock of a film in a bath goes on" in answer.text
    assert '<meta http-equiv="refresh" content="5">' in answer.text
    sent = web.post("/shelf/generic", data={"key": "household_ammonia_5"}, headers=HTML)
    assert sent.status_code == 503 and "refresh" not in sent.text and "Nothing was changed" in sent.text


@pytest.mark.parametrize("path", ["/nowhere", "/notebook/nobody", "/shelf/products/nobody"])
def test_nothing_there(client, path):
    answer = client.get(path, headers=HTML)
    assert answer.status_code == 404 and "<h1>Nothing here</h1>" in answer.text
    assert client.get(path).status_code == 404 and client.get(path).json()["code"] == "not_found"


@pytest.mark.parametrize(
    "body", [b"{", b"\xff\xfe", b"[" * 100_000, b'{"name": NaN}', b"", b"null", b"[]", b'"x"', b"1" * 5000]
)
@pytest.mark.parametrize("path", ["/api/shelf/products", "/api/light-table/look", "/api/pair"])
def test_bodies_that_are_no_documents(client, path, body):
    answer = client.post(path, content=body, headers={"content-type": "application/json"})
    assert 400 <= answer.status_code < 500
    assert sentence(answer).endswith(".")
