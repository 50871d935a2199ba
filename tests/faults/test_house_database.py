"""A database that is wrong, gone or frozen: one sentence, no secret, no page that waits for ever."""

import os
import stat
import subprocess
import sys
import threading
import time

import pytest
from fastapi.testclient import TestClient

from obverse.cli.main import run
from obverse.foundation import StoreError
from obverse.store import engine, open_store
from obverse.store.patience import PatientConnection
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

HTML = {"accept": "text/html"}
SECRET = "silver"


@pytest.mark.parametrize(
    "address",
    [
        "postgresql+psycopg://club:{}@ss@127.0.0.1:1/notebook",
        "postgresql+psycopg://club:{}/w?rd@127.0.0.1:1/notebook",
        "postgresql+psycopg://club:{}:{}#x@127.0.0.1:1/notebook",
        "postgresql+psycopg://club@127.0.0.1:1/notebook?password={}",
        "postgresql://club:{}@[::bad/notebook",
        "postgresql+psycopg://club:a@{}%/x@127.0.0.1:1/notebook",
        "mysql://club:{}@127.0.0.1/notebook",
        "postgresql+nodriver://club:{}@127.0.0.1/notebook",
        "{}",
        "{}://{}",
    ],
)
def test_no_part_of_an_address_is_told_that_may_be_a_password(address, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    monkeypatch.setenv("OBVERSE_DATABASE", address.replace("{}", SECRET))
    assert run(["export", str(tmp_path / "x.json")]) == 2
    told = "".join(capsys.readouterr())
    assert SECRET not in told.replace(f"kind '{SECRET}'", "") and "mistake of ours" not in told
    assert told.count("\n") == 1 and told.endswith(".\n")


def test_a_password_with_signs_in_it_is_told_how_to_be_written():
    with pytest.raises(StoreError, match=r"write signs such as @ / : # \? % in the password as %40"):
        open_store("postgresql+psycopg://club:p@ss@127.0.0.1:1/notebook")


@pytest.mark.parametrize(
    ("option", "told"),
    [
        ("sslmode={}", "after sslmode= in the address is not understood; write disable, allow"),
        ("sslmod={}", "option behind the ? of the address is not known; sslmode is meant, perhaps"),
        ("{}=x", "option behind the ? of the address is not known; correct OBVERSE_DATABASE"),
        ("keepalives={}", "after keepalives= in the address is not understood; write what the handbook"),
    ],
)
def test_an_option_that_is_not_understood_is_named_and_never_what_stands_after_it(option, told):
    with pytest.raises(StoreError) as refused:
        open_store("postgresql+psycopg://club@127.0.0.1:1/notebook?" + option.replace("{}", SECRET))
    assert told in refused.value.sentence and SECRET not in refused.value.sentence


def test_without_the_driver_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "psycopg", None)
    monkeypatch.delitem(sys.modules, "obverse.store.patience", raising=False)
    with pytest.raises(StoreError, match=r"the driver for postgresql is not installed; install obverse\[postgresql\]"):
        open_store("postgresql+psycopg://club@127.0.0.1:1/notebook")


def test_whom_the_server_refuses_it_says_so(postgresql):
    address = postgresql.database()
    with pytest.raises(StoreError, match=r'lets nobody in .*"somebody" does not exist'):
        open_store(address.replace("club@", "somebody:silver@"))
    with pytest.raises(StoreError, match=r'lets nobody in .*"nowhere" does not exist'):
        open_store(address.replace("/postgres?", "/nowhere?"))


@pytest.fixture
def shelf(postgresql, tmp_path, clock, monkeypatch):
    """A client over a notebook on the server, whose patience is short."""
    monkeypatch.setattr(PatientConnection, "silence_s", 1.0)
    monkeypatch.setattr(engine, "REST_S", 0.3)
    bench = open_workbench(tmp_path, url=postgresql.database(), clock=clock)
    app = create_app(bench)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as web:
        yield web
    bench.close()


def again(ask, seconds=600.0):
    """Ask until the house answers as it should."""
    until = time.monotonic() + seconds
    while True:
        answer = ask()
        if answer.status_code < 300 or time.monotonic() > until:
            return answer
        time.sleep(0.1)


def test_a_question_takes_one_way_to_the_server_and_waits_for_no_writer(shelf, postgresql, monkeypatch):
    ways, wait = [], PatientConnection.wait
    store = shelf.app.state.workbench.store

    def counted(self, gen, *how, **named):
        def looked_at():
            try:
                # What asks the server nothing, such as a setting of the connection, is over before it has begun.
                asked = next(gen)
                ways.append(1)
                while True:
                    asked = gen.send((yield asked))
            except StopIteration as end:
                return end.value

        return wait(self, looked_at(), *how, **named)

    store.films.all()
    monkeypatch.setattr(PatientConnection, "wait", counted)
    # A machine that stands still for a second asks first whether the server is there.
    assert min(_ways_of(store.films.all, ways) for _ in range(5)) == 1
    with store.transaction():
        read = threading.Thread(target=store.films.all)
        read.start()
        read.join(60)
        assert not read.is_alive()


def _ways_of(question, ways):
    before = len(ways)
    question()
    return len(ways) - before


def test_a_frozen_server_is_given_up_and_found_again(shelf, postgresql):
    assert shelf.get("/shelf", headers=HTML).status_code == 200
    postgresql.freeze()
    try:
        answer = shelf.get("/shelf", headers=HTML)
        assert answer.status_code == 503 and "the database does not answer" in answer.text
        assert "The clock of a film in a bath goes on" in answer.text
        for path in ("/api/health", "/static/house/house.css", "/share"):
            assert shelf.get(path, headers=HTML).status_code == 200
        assert shelf.get("/notebook").json()["code"] == "store"
    finally:
        postgresql.thaw()
    assert again(lambda: shelf.get("/shelf", headers=HTML)).status_code == 200


def test_a_server_that_is_stopped_and_started_loses_nothing_acknowledged(shelf, postgresql):
    kept = [shelf.post("/api/shelf/products", json=product(number)).json() for number in range(3)]
    postgresql.stop()
    try:
        assert shelf.post("/api/shelf/products", json=product(9)).status_code == 503
        assert shelf.get("/shelf", headers=HTML).status_code == 503
    finally:
        postgresql.start()
    assert again(lambda: shelf.get("/shelf", headers=HTML)).status_code == 200
    text = shelf.get("/shelf", headers=HTML).text
    assert len(kept) == 3 and all(f"own vitamin {number}" in text for number in range(3))
    assert "own vitamin 9" not in text


def product(number):
    return {
        "name": f"own vitamin {number}",
        "form": "solid",
        "contents": [{"substance": "ascorbic_acid", "strength": "100 % w/w"}],
    }


# Files


@pytest.mark.parametrize("name", ["what?", "a#b", "50%", "a b?mode=ro", "x;y&z"])
def test_any_folder_may_be_the_home(tmp_path, name):
    home = tmp_path / name
    bench = open_workbench(home)
    bench.store.put("setting", {"value": 1}, id="x")
    bench.close()
    assert (home / "notebook.sqlite").is_file()
    assert [path.name for path in tmp_path.iterdir()] == [name]


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


def test_the_notebook_is_its_owners_alone(tmp_path):
    home = tmp_path / "deep" / "home"
    before = os.umask(0o022)
    try:
        bench = open_workbench(home)
        bench.store.put("setting", {"value": 1}, id="x")
        assert {path.name: mode(path) for path in home.iterdir()} == dict.fromkeys(
            ("notebook.sqlite", "notebook.sqlite-wal", "notebook.sqlite-shm"), 384
        )
        bench.close()
    finally:
        os.umask(before)
    assert mode(home) == 0o700


def test_a_notebook_from_before_is_closed_to_others(tmp_path):
    open_workbench(tmp_path / "home").close()
    (tmp_path / "home").chmod(0o755)
    (tmp_path / "home" / "notebook.sqlite").chmod(0o644)
    open_workbench(tmp_path / "home").close()
    assert mode(tmp_path / "home") == 0o700 and mode(tmp_path / "home" / "notebook.sqlite") == 0o600


def test_a_folder_of_other_things_keeps_its_rights(tmp_path):
    home = tmp_path / "shared"
    home.mkdir()
    home.chmod(0o755)
    open_workbench(home).close()
    assert mode(home) == 0o755


def test_tables_without_their_version_have_a_way_out(tmp_path):
    from sqlalchemy import text

    address = f"sqlite:///{tmp_path / 'n.sqlite'}"
    store = open_store(address)
    store.put("film", {"n": 1}, id="a")
    with store._database.writing() as connection:
        connection.execute(text("DELETE FROM alembic_version"))
    store.close()
    with pytest.raises(StoreError, match="does not say which obverse wrote it"):
        open_store(address)
    done = subprocess.run(
        [sys.executable, "-m", "obverse", "export", "-"],
        capture_output=True,
        text=True,
        env={**os.environ, "OBVERSE_DATABASE": address, "OBVERSE_HOME": str(tmp_path)},
    )
    assert done.returncode == 2 and "alembic_version" in done.stderr and done.stderr.count("\n") == 1


def test_export_into_a_missing_folder_names_the_folder(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    assert run(["export", str(tmp_path / "nowhere" / "n.json")]) == 2
    told = capsys.readouterr().err
    assert told == f"n.json: there is no folder {str(tmp_path / 'nowhere')!r}; make it, or name another file.\n"
