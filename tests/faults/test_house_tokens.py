"""Personal tokens: told once, kept as a hash, scoped, revoked at once, and good for nothing else."""

import html
import re

import pytest
from fastapi.testclient import TestClient

from obverse.web.app import create_app
from obverse.web.sharing import Sharing

LAN = "192.168.7.5"
HTML = {"Accept": "text/html"}
FILM = {"stock": {"name": "Grey-base film", "box_speed": 100}}


@pytest.fixture
def app(workbench, clock):
    sharing = Sharing(hosts=(LAN,), address=f"http://{LAN}:8137", key="k" * 40, now=clock.now)
    return create_app(workbench, sharing=sharing)


@pytest.fixture
def owner(app):
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 1), headers=HTML) as web:
        yield web


@pytest.fixture
def script(app):
    with TestClient(app, base_url=f"http://{LAN}:8137", client=("192.168.7.66", 1)) as web:
        yield web


def made(owner, name, scope, request_id="one"):
    form = {"name": name, "scope": scope, "request_id": request_id, "token": owner.app.state.token}
    answer = owner.post("/tokens", data=form)
    assert answer.status_code == 200, answer.text
    return html.unescape(re.search(r'id="token-text"[^>]*value="([^"]+)"', answer.text)[1])


def bearer(token):
    return {"Authorization": f"Bearer {token}"}


def test_a_token_that_writes_keeps_a_film_and_one_that_reads_is_refused(owner, script):
    reads, writes = made(owner, "plot", "read", "a"), made(owner, "import", "write", "b")
    assert script.get("/api/shelf").status_code == 403
    assert script.get("/api/shelf", headers=bearer(reads)).status_code == 200
    refused = script.post("/api/notebook/films", json=FILM, headers=bearer(reads))
    assert refused.status_code == 403 and "may only read" in refused.json()["detail"]
    kept = script.post("/api/notebook/films", json=FILM, headers=bearer(writes))
    assert kept.status_code == 200, kept.text
    story = script.get(f"/api/notebook/films/{kept.json()['id']}/story", headers=bearer(reads))
    assert story.json()["film"]["name"] == "Grey-base film"


def test_a_token_is_told_once_and_only_its_hash_is_kept(owner, workbench):
    token = made(owner, "plot", "read")
    assert len(token) >= 40 and token not in owner.get("/tokens").text and "plot" in owner.get("/tokens").text
    for file in workbench.home.rglob("*"):
        assert not file.is_file() or token.encode() not in file.read_bytes(), file
    assert "obverse_" not in str(workbench.store.export())


def test_pressed_twice_it_is_one_token(owner):
    assert made(owner, "plot", "read", "same") == made(owner, "plot", "read", "same")
    assert owner.get("/tokens").text.count("/revoke") == 1


def test_revoked_it_opens_nothing_from_then_on(owner, script):
    token = made(owner, "plot", "read")
    place = re.search(r'action="(/tokens/\w+/revoke)"', owner.get("/tokens").text)[1]
    assert script.get("/api/shelf", headers=bearer(token)).status_code == 200
    assert owner.post(place, data={"token": owner.app.state.token}).status_code == 200
    late = script.get("/api/shelf", headers=bearer(token))
    assert late.status_code == 401 and late.json()["code"] == "unknown_token"
    assert late.headers["www-authenticate"] == "Bearer"


def test_it_outlives_the_server(owner, workbench):
    token = made(owner, "plot", "read")
    with TestClient(create_app(workbench), base_url="http://127.0.0.1") as later:
        assert later.get("/api/shelf", headers=bearer(token)).status_code == 200
        assert later.get("/api/shelf", headers=bearer(token[:-1] + "!")).status_code == 401


@pytest.mark.parametrize("path", ["/", "/tokens", "/share", "/api/share/../../tokens", "/notebook"])
def test_it_opens_no_page(owner, script, path):
    token = made(owner, "import", "write")
    answer = script.get(path, headers=bearer(token))
    assert answer.status_code == 403 and owner.app.state.token not in answer.text


def test_it_makes_no_token_and_lets_nobody_in(owner, script):
    token = made(owner, "import", "write")
    form = {"name": "more", "scope": "write", "request_id": "x"}
    for web in (script, owner):
        assert web.post("/tokens", data=form, headers=bearer(token)).status_code == 403
        assert web.post("/api/share/code", headers=bearer(token)).status_code == 403
    assert owner.get("/tokens").text.count("/revoke") == 1


def test_from_another_site_it_is_still_refused(owner, script):
    token = made(owner, "import", "write")
    answer = script.post(
        "/api/notebook/films", json=FILM, headers={**bearer(token), "Origin": "http://elsewhere.example"}
    )
    assert answer.status_code == 403 and "another site" in answer.json()["detail"]


def test_a_name_is_needed_and_taken_once(owner):
    made(owner, "plot", "read", "a")
    form = {"scope": "read", "token": owner.app.state.token}
    assert owner.post("/tokens", data={**form, "name": " ", "request_id": "b"}).status_code == 422
    assert "already" in owner.post("/tokens", data={**form, "name": "plot", "request_id": "c"}).text


def test_the_page_is_for_the_computer_itself(script, app):
    secret = app.state.sharing.secret
    assert script.post("/api/pair", json={"secret": secret}).status_code == 204
    assert script.get("/notebook", headers=HTML).status_code == 200
    assert script.get("/tokens", headers=HTML).status_code == 403


def test_a_stream_of_a_script_ends_when_its_token_is_revoked(owner, app):
    from starlette.requests import Request

    from obverse.web.guard import _token_stands

    token = made(owner, "follow", "read")
    scope = {"type": "http", "app": app, "headers": [(b"authorization", f"Bearer {token}".encode())]}
    assert _token_stands(Request(scope))
    app.state.tokens.revoke(app.state.tokens.all()[0].id)
    assert not _token_stands(Request(scope))
