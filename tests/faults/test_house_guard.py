"""The door: wrong names, other sites, missing tokens, too much; and phones that were not let in."""

import asyncio
import http.client
import json
import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from obverse.foundation import DeniedError, StoreError
from obverse.web.app import create_app
from obverse.web.devices import SESSION_LIFE
from obverse.web.guard import MOST_OTHER_BYTES, MOST_UPLOAD_BYTES, host_name
from obverse.web.sharing import COOKIE, SECRET_LIFE, Sharing

HTML = {"accept": "text/html,application/xhtml+xml"}
LAN = "192.168.7.5"
PHONE = ("192.168.7.20", 50000)


class Server:
    """A real `obverse serve`, and how much memory it ever used."""

    def __init__(self, home):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "obverse", "serve", "--port", "0"],
            env={**os.environ, "OBVERSE_HOME": str(home), "PYTHONUNBUFFERED": "1"},
            stdout=subprocess.PIPE,
            text=True,
        )
        said = (re.search(r"//127\.0\.0\.1:(\d+)", line) for line in self.process.stdout)
        self.port = next(int(found[1]) for found in said if found)

    def most_memory_kb(self) -> int:
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(r"VmHWM:\s+(\d+)", status)[1])


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    running = Server(tmp_path_factory.mktemp("home"))
    yield running
    running.process.terminate()
    running.process.wait()
    running.process.stdout.close()


def by_itself(coroutine):
    """Run to its end in a thread of its own: a browser of another file may keep a loop in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, coroutine).result()


def sentence(answer) -> str:
    return answer.json()["detail"]


# This computer only


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "0.0.0.0", "", "localhost.", "127.0.0.1@evil.example", LAN]
)
def test_wrong_host_is_refused(client, host):
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 403 and "does not answer to the name" in sentence(answer)


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8137", "localhost:1", "LOCALHOST", "[::1]:8137"])
def test_own_names_are_answered(client, host):
    assert client.get("/api/health", headers={"host": host}).status_code == 200


def test_host_names_are_cut_right():
    assert [host_name(text) for text in ("A:1", "[::1]", "[::1]:8", "::1", "a")] == ["a", "::1", "::1", "::1", "a"]


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_other_sites_change_nothing(client, headers):
    answer = client.post("/api/nothing", json={}, headers=headers)
    assert answer.status_code == 403 and "another site" in sentence(answer)


def test_other_sites_read_nothing_but_may_link_here(client):
    assert (
        client.get("/", headers={**HTML, "sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}).status_code
        == 403
    )
    assert (
        client.get(
            "/",
            headers={**HTML, "sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "iframe"},
        ).status_code
        == 403
    )
    link = {**HTML, "sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    assert client.get("/", headers=link).status_code == 200


def changing_routes(app) -> list[tuple[str, str]]:
    """Every (method, path) of the interface that may change something."""
    found = []
    for path, methods in app.openapi()["paths"].items():
        found += [(method, re.sub(r"\{[^}]*\}", "x", path)) for method in methods if method not in ("get", "head")]
    return found


def test_no_change_without_the_token(workbench):
    app = create_app(workbench)
    tried = 0
    with TestClient(app, base_url="http://127.0.0.1") as web:
        for method, path in changing_routes(app):
            if path == "/api/pair":
                continue
            for headers in ({}, {"x-obverse-token": "wrong"}, {"x-obverse-token": ""}):
                answer = web.request(method, path, json={}, headers=headers)
                # A body that does not fit may be told first; nothing is done either way.
                assert answer.status_code in (403, 422), (method, path, answer.text)
                tried += 1
            form = web.request(method, path, data={"token": "wrong"})
            assert form.status_code in (403, 422), (method, path)
    assert tried > 0


def test_every_changing_route_asks_for_the_token(workbench):
    """Behind the fitting of bodies: the dependency itself stands at every route."""
    from obverse.web.guard import check_token

    places = [place for place in create_app(workbench).routes if hasattr(place, "effective_route_contexts")]
    routes = [route for place in places for route in place.effective_route_contexts()]
    asked = [check_token in [dependency.dependency for dependency in route.dependencies] for route in routes]
    assert all(asked) and len(asked) > 200


def test_headers_stand_on_every_answer(client):
    for path in ("/", "/api/health", "/static/house/house.css", "/nowhere"):
        headers = client.get(path).headers
        assert "script-src 'self';" in headers["content-security-policy"] and headers["x-frame-options"] == "DENY"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == ("no-cache" if path.startswith("/static") else "no-store")


def chunks(total: int, size: int = 1 << 20):
    sent = 0
    while sent < total:
        yield b"\0" * min(size, total - sent)
        sent += size


@pytest.mark.parametrize("kind", ["application/octet-stream", "multipart/form-data; boundary=x", "application/json"])
def test_200_mb_are_refused_without_being_kept(server, kind):
    """A real process: the sender hears the sentence, and the memory of the server does not grow."""
    big = 200 * 1024 * 1024
    before = server.most_memory_kb()
    web = http.client.HTTPConnection("127.0.0.1", server.port, timeout=600)
    web.request("POST", "/api/nothing", body=chunks(big), headers={"Content-Length": str(big), "Content-Type": kind})
    answer = web.getresponse()
    told = json.loads(answer.read())["detail"]
    web.close()
    most = (MOST_OTHER_BYTES if "json" in kind else MOST_UPLOAD_BYTES) >> 20
    assert (
        answer.status == 413 and told == f"more than {most} MB is not read; give a smaller file; nothing was changed."
    )
    assert server.most_memory_kb() - before < 20_000


def test_a_body_that_hides_its_length_is_stopped(client):
    answer = client.post(
        "/api/pair", content=chunks(MOST_OTHER_BYTES + 1), headers={"content-type": "application/json"}
    )
    assert answer.status_code == 413 and "16 MB" in sentence(answer)


def test_mistakes_of_ours_show_no_traceback(workbench):
    app = create_app(workbench)

    @app.get("/api/broken")
    def broken():
        raise RuntimeError("secret detail")

    with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as web:
        answer = web.get("/api/broken")
    assert answer.status_code == 500 and "mistake of ours" in sentence(answer) and "secret" not in answer.text


# Shared on the local network


@pytest.fixture
def sharing(clock):
    return Sharing(hosts=(LAN,), address=f"http://{LAN}:8137", key="k" * 40, now=clock.now)


@pytest.fixture
def shared(workbench, sharing):
    return create_app(workbench, token="the-token-of-the-pages", sharing=sharing)


@pytest.fixture
def phone(shared):
    with TestClient(shared, base_url=f"http://{LAN}:8137", client=PHONE) as web:
        yield web


def test_unpaired_sees_nothing_of_the_house(shared, phone):
    for path in [
        "/",
        "/share",
        "/api/health",
        "/api/openapi.json",
        "/static/light_table/light_table.js",
        "/nowhere",
        *(p for p in shared.openapi()["paths"]),
    ]:
        if path == "/api/pair":
            continue
        answer = phone.get(path, headers=HTML)
        assert answer.status_code == 403, path
        assert "the-token-of-the-pages" not in answer.text
    for path in ("/pair", "/static/house/nothing.js", "/static/house/house.css"):
        assert "the-token-of-the-pages" not in phone.get(path, headers=HTML).text
    for method, path in changing_routes(shared):
        if path != "/api/pair":
            answer = phone.request(method, path, json={}, headers={"x-obverse-token": "the-token-of-the-pages"})
            assert answer.status_code == 403, path


def test_pairing_lets_in_once(shared, phone, sharing):
    secret = sharing.secret
    assert phone.post("/api/pair", json={"secret": secret}).status_code == 204
    cookie = phone.cookies.get(COOKIE)
    assert phone.get("/api/health").status_code == 200
    with TestClient(shared, base_url=f"http://{LAN}:8137", client=("192.168.7.66", 1)) as other:
        answer = other.post("/api/pair", json={"secret": secret})
        assert answer.status_code == 403 and "it was used" in sentence(answer)
        assert other.get("/api/health").status_code == 403
        other.cookies.set(COOKIE, cookie[:-1] + ("0" if cookie[-1] != "0" else "1"))
        assert other.get("/api/health").status_code == 403


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(phone, sharing):
    answer = phone.post("/api/pair", json={"secret": sharing.secret})
    cookie = answer.headers["set-cookie"].lower()
    assert (
        "httponly" in cookie and "samesite=strict" in cookie and "secure" not in cookie.replace("obverse_session", "")
    )


def test_the_cookie_is_kept_to_sealed_connections(shared, sharing):
    with TestClient(shared, base_url=f"https://{LAN}:8137", client=PHONE) as web:
        assert "; secure" in web.post("/api/pair", json={"secret": sharing.secret}).headers["set-cookie"].lower()


def test_paired_is_still_held_to_host_origin_and_token(phone, sharing):
    phone.post("/api/pair", json={"secret": sharing.secret})
    assert phone.get("/api/health", headers={"host": "evil.example"}).status_code == 403
    for origin in ("http://evil.example", "null", f"http://{LAN}:1"):
        answer = phone.post("/api/share/code", headers={"origin": origin, "x-obverse-token": "the-token-of-the-pages"})
        assert answer.status_code == 403 and "another site" in sentence(answer)
    assert phone.post("/api/share/code").status_code == 403
    answer = phone.post("/api/share/code", headers={"x-obverse-token": "the-token-of-the-pages"})
    assert answer.status_code == 403 and "only the computer itself" in sentence(answer)
    assert phone.get("/share").status_code == 403


def test_pairing_from_another_site_is_refused(phone, sharing):
    secret = sharing.secret
    for headers in ({"origin": "http://evil.example"}, {"sec-fetch-site": "cross-site"}, {"host": "evil.example"}):
        assert phone.post("/api/pair", json={"secret": secret}, headers=headers).status_code == 403
    assert sharing.secret == secret


def test_many_guesses_are_refused(phone, sharing, clock):
    statuses = []
    for guess in range(100):
        statuses.append(phone.post("/api/pair", json={"secret": f"guess{guess}"}).status_code)
        clock.advance(0.5)
    assert set(statuses) == {403, 429}
    # Within fifty seconds, only five were looked at.
    assert statuses.count(403) == 5
    assert phone.get("/api/health").status_code == 403


def test_slow_guessing_shuts_out_the_guesser_and_nobody_else(shared, phone, sharing, clock):
    secret, statuses = sharing.secret, []
    for guess in range(40):
        statuses.append(phone.post("/api/pair", json={"secret": f"guess{guess}"}).status_code)
        clock.advance(20)
    assert statuses == [403] * 20 + [429] * 20
    assert phone.post("/api/pair", json={"secret": secret}).status_code == 429
    with TestClient(shared, base_url=f"http://{LAN}:8137", client=("192.168.7.21", 1)) as other:
        assert other.post("/api/pair", json={"secret": secret}).status_code == 204
    sharing.new_secret()
    assert phone.post("/api/pair", json={"secret": sharing.secret}).status_code == 204


def test_five_wrong_guesses_of_one_device_do_not_lock_the_others(shared, phone, sharing, clock):
    secret = sharing.secret
    for guess in range(10):
        phone.post("/api/pair", json={"secret": f"guess{guess}"})
    assert phone.post("/api/pair", json={"secret": secret}).status_code == 429
    with TestClient(shared, base_url=f"http://{LAN}:8137", client=("192.168.7.21", 1)) as other:
        assert other.post("/api/pair", json={"secret": secret}).status_code == 204
    sharing.new_secret()
    clock.advance(61)
    assert phone.post("/api/pair", json={"secret": sharing.secret}).status_code == 204


def test_many_guessers_are_not_remembered_without_end(sharing):
    for peer in range(3000):
        with pytest.raises(DeniedError):
            sharing.pair("wrong", peer=f"10.0.{peer // 256}.{peer % 256}")
    assert len(sharing._wrong) <= 1000


# Who is let in, by name


def let_in(shared, sharing, peer, name):
    web = TestClient(shared, base_url=f"http://{LAN}:8137", client=(peer, 1))
    sharing.new_secret()
    assert web.post("/api/pair", json={"secret": sharing.secret, "name": name}).status_code == 204
    return web


@pytest.fixture
def owner(shared):
    headers = {"x-obverse-token": "the-token-of-the-pages"}
    with TestClient(shared, base_url="http://127.0.0.1:8137", client=("127.0.0.1", 1), headers=headers) as web:
        yield web


def test_devices_are_listed_by_name_and_put_out_one_by_one_or_all(shared, sharing, owner):
    one, two, three = (let_in(shared, sharing, f"192.168.7.{k}", "phone at the sink") for k in (20, 21, 22))
    assert [device.name for device in reversed(sharing.devices.all())] == [
        "phone at the sink",
        "phone at the sink 2",
        "phone at the sink 3",
    ]
    text = owner.get("/share", headers=HTML).text
    assert "phone at the sink 3" in text and "Each for 30 days" in text and "until 2031-12-05" in text
    second = next(device for device in sharing.devices.all() if device.name.endswith("2"))
    assert owner.post(f"/api/share/devices/{second.id}/out").status_code == 204
    assert [web.get("/api/health").status_code for web in (one, two, three)] == [200, 403, 200]
    assert two.post("/api/share/out", headers={"x-obverse-token": "the-token-of-the-pages"}).status_code == 403
    assert one.post("/api/share/out", headers={"x-obverse-token": "the-token-of-the-pages"}).status_code == 403
    assert owner.post("/api/share/out").status_code == 204
    assert [web.get("/api/health").status_code for web in (one, two, three)] == [403, 403, 403]
    assert "Nobody but this computer" in owner.get("/share", headers=HTML).text


@pytest.mark.parametrize(
    ("name", "kept"), [("", "phone"), ("  ", "phone"), ("a\x1b[2J\nb", "a[2Jb"), ("<b>", "<b>"), ("x" * 90, "x" * 40)]
)
def test_a_name_is_one_printable_line(shared, sharing, owner, name, kept):
    let_in(shared, sharing, "192.168.7.20", name)
    assert [device.name for device in sharing.devices.all()] == [kept]
    assert "<b>" not in owner.get("/share", headers=HTML).text


def test_the_list_is_kept_in_the_home_and_shared_by_two_programs(tmp_path, clock):
    file = tmp_path / "devices.json"
    one, two = (Sharing(hosts=(LAN,), address="", key="k" * 40, now=clock.now, kept=file) for _ in range(2))
    session = one.pair(one.secret, name="phone")
    assert two.let_in(session) and file.stat().st_mode & 0o777 == 0o600
    two.devices.put_out_all()
    assert not one.let_in(session)
    file.write_text("holiday")
    with pytest.raises(StoreError, match="delete it; every phone is then paired anew"):
        one.let_in(session)


def test_a_stream_of_a_device_that_is_put_out_ends(shared, sharing):
    """By the door's own hearing: what the stream asks, before every beat, is whether somebody still listens."""
    from starlette.requests import Request

    from obverse.web.guard import Guard

    sharing.new_secret()
    session = sharing.pair(sharing.secret, name="phone")
    scope = {"type": "http", "method": "GET", "path": "/x", "headers": [(b"cookie", f"{COOKIE}={session}".encode())]}
    scope |= {"obverse_owner": False, "obverse_let_in": True, "app": shared}

    async def never():
        await asyncio.Event().wait()

    hearing = Guard(shared, hosts=(), sharing=sharing)._while_let_in(Request(scope), never)

    async def heard():
        try:
            return await asyncio.wait_for(hearing(), 0.05)
        except TimeoutError:
            return None

    assert by_itself(heard()) is None
    sharing.devices.put_out_all()
    assert by_itself(heard()) == {"type": "http.disconnect"}


@pytest.mark.parametrize(
    "path",
    [
        "/static/house/../sink/live.js",
        "/static/house/%2e%2e/sink/live.js",
        "/static/house/x/../../sink/live.js",
        "//static/house/../sink/live.js",
        "/static/house/..%2fsink/live.js",
    ],
)
def test_the_open_folder_is_the_one_a_path_leads_to(shared, path):
    """Sent as it is written: clients tidy paths before they send them."""
    from urllib.parse import unquote

    async def asked():
        told = {}

        heard = [{"type": "http.request", "body": b"", "more_body": False}]

        async def receive():
            # Who waits for more hears that the asker has gone: a door left open fails here and does not hang.
            return heard.pop() if heard else {"type": "http.disconnect"}

        async def send(message):
            if message["type"] == "http.response.start":
                told["status"] = message["status"]

        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
            "path": unquote(path), "raw_path": path.encode(), "query_string": b"", "root_path": "",
            "headers": [(b"host", LAN.encode())], "client": PHONE, "server": (LAN, 8137),
        }  # fmt: skip
        await shared(scope, receive, send)
        return told["status"]

    assert by_itself(asked()) == 403


def test_secrets_and_sessions_grow_old(phone, sharing, clock):
    secret = sharing.secret
    clock.advance(SECRET_LIFE.total_seconds() + 1)
    assert sharing.link is None
    with pytest.raises(DeniedError):
        sharing.pair(secret)
    sharing.new_secret()
    assert phone.post("/api/pair", json={"secret": sharing.secret}).status_code == 204
    clock.advance(SESSION_LIFE.total_seconds() - 60)
    assert phone.get("/api/health").status_code == 200
    clock.advance(120)
    assert phone.get("/api/health").status_code == 403


@pytest.mark.parametrize(
    "session", [None, "", ".", "..", "a.b.c", "a.1.c", "a.-1.c", "a.99999999999999999999.c", "é.1.é"]
)
def test_nonsense_is_no_session(sharing, session):
    assert not sharing.let_in(session)


def test_a_session_outlives_the_server_but_not_another_home(tmp_path, clock):
    kept = tmp_path / "devices.json"
    sharing = Sharing(hosts=(LAN,), address="", key="k" * 40, now=clock.now, kept=kept)
    session = sharing.pair(sharing.secret)
    again = Sharing(hosts=(LAN,), address="", key="k" * 40, now=clock.now, kept=kept)
    other = Sharing(hosts=(LAN,), address="", key="o" * 40, now=clock.now, kept=kept)
    assert again.let_in(session) and not other.let_in(session)


def test_the_owner_needs_no_pairing_and_sees_the_code(shared, sharing):
    with TestClient(shared, base_url="http://127.0.0.1:8137", client=("127.0.0.1", 1)) as owner:
        text = owner.get("/share", headers=HTML).text
        assert sharing.secret in text and "<svg" in text
        before = sharing.secret
        assert owner.post("/api/share/code", headers={"x-obverse-token": "the-token-of-the-pages"}).status_code == 204
        assert sharing.secret != before
    # The same names from elsewhere on the network do not make an owner.
    with TestClient(shared, base_url="http://127.0.0.1:8137", client=PHONE) as liar:
        assert liar.get("/share", headers=HTML).status_code == 403
    with TestClient(shared, base_url=f"http://{LAN}:8137", client=("127.0.0.1", 1)) as liar:
        assert liar.get("/share", headers=HTML).status_code == 403


def test_the_terminal_of_the_server_shows_one_line_for_a_mistake(workbench, caplog):
    app = create_app(workbench)

    @app.get("/api/broken")
    def broken():
        raise RuntimeError("told in one line")

    with TestClient(app, base_url="http://127.0.0.1") as web:
        assert web.get("/api/broken").status_code == 500
    (line,) = [record for record in caplog.records if record.name == "obverse.web"]
    assert "RuntimeError: told in one line" in line.getMessage() and line.exc_info is None
