"""A backup is whole, made while the house is open, and comes back on whatever database."""

import json
import os
import sqlite3
import stat
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest

from obverse.cli.main import run
from obverse.foundation import ConflictError, InputError, StoreError
from obverse.store import copying, file_address, open_store
from obverse.store.copying import contents_of, copy_store
from obverse.workbench import backup
from obverse.workbench.backup import back_up, last_backup, restore

KINDS = ("file", "postgresql")


@pytest.fixture(autouse=True)
def few_rows_at_once(monkeypatch):
    """Of a few events are several handfuls, as they are of many where a handful is large."""
    monkeypatch.setattr(copying, "ROWS_AT_ONCE", 20)


@pytest.fixture
def place(request, tmp_path):
    """Makes an empty store of a kind: ``place("file")``."""
    made = []

    def make(kind):
        if kind == "postgresql":
            url = request.getfixturevalue("postgresql").notebook()
        else:
            url = file_address(tmp_path / f"{len(made)}.sqlite")
        made.append(open_store(url))
        return made[-1]

    yield make
    for store in made:
        store.close()


def fill(store):
    with store.transaction():
        for name in ("a", "B", "a b", "\u00e4", "_"):
            store.put("film", {"name": name, "z": 1, "a": [0.1, 1e-30, True, None]}, id=name)
        store.put("film", {"name": "new"}, id="a")
        store.retire("film", "B")
        for place in range(45):
            store.append_event("run", f"event {place}", {"n": place})
        store.put("picture", {"sha256": store.put_blob(bytes(range(256)) * 4000, "image/tiff")})
    store.once("entry", lambda: {"id": store.put("setting", {"value": 1}).id})
    return store


@pytest.mark.parametrize("source", KINDS)
@pytest.mark.parametrize("target", KINDS)
def test_it_comes_back_whole_on_either_database(place, tmp_path, clock, source, target):
    store = fill(place(source))
    made = back_up(store, tmp_path / "stick", tmp_path, clock.now())
    assert (made.revisions, made.events, made.blobs) == (9, 45, 1)
    other = place(target)
    restore(tmp_path / "stick", other, tmp_path)
    assert contents_of(other) == contents_of(store)
    assert json.dumps(other.export()) == json.dumps(store.export())
    assert other.darkroom == store.darkroom and not other.get("film", "a").elsewhere
    assert other.once("entry", dict) == store.once("entry", dict), "an entry sent again is still one entry"
    assert other.append_event("run", "next", {}) == 46


@pytest.mark.parametrize("target", KINDS)
@pytest.mark.parametrize("source", KINDS)
def test_export_and_import_are_byte_equal_between_the_databases(place, source, target):
    store, other = fill(place(source)), place(target)
    document = json.dumps(store.export())
    other.import_(json.loads(document))
    assert json.dumps(other.export()) == document


@pytest.mark.parametrize("kind", KINDS)
def test_others_go_on_writing_and_it_holds_one_moment(place, tmp_path, clock, kind, monkeypatch):
    """Every film written comes with its event; a backup that mixed two moments would hold one without the other."""
    store, stop = place(kind), threading.Event()
    twin = open_store(store._database.engine.url)
    started = threading.Event()

    def write():
        place = 0
        while not stop.is_set():
            with twin.transaction():
                twin.put("film", {"n": place}, id=f"film {place}")
                twin.append_event("run", f"film {place}", {"n": place})
            place += 1
            if place == 5:
                started.set()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert started.wait(60)
        between = copying._rows

        def slowly(connection, table):
            yield from between(connection, table)
            if table.name == "films" and "part" not in str(connection.engine.url):
                before = len(twin.events("run"))
                while len(twin.events("run")) < before + 3:
                    pass

        monkeypatch.setattr(copying, "_rows", slowly)
        made = back_up(store, tmp_path / "stick", tmp_path, clock.now())
    finally:
        stop.set()
        writer.join()
    kept = open_store(file_address(made.file))
    films, events = kept.list("film"), kept.events("run")
    assert len(films) == len(events) == made.events >= 5
    assert len(twin.events("run")) > made.events
    kept.close()
    twin.close()


def test_what_does_not_read_back_is_no_backup(place, tmp_path, clock, monkeypatch):
    store = fill(place("file"))
    whole = backup._copied

    def spoilt(store, part):
        copied = whole(store, part)
        with sqlite3.connect(part) as raw:
            raw.execute("UPDATE films SET body = '{\"name\": \"other\"}' WHERE id = 'a'")
        raw.close()
        return copied

    monkeypatch.setattr(backup, "_copied", spoilt)
    with pytest.raises(StoreError, match="does not read back as it was written"):
        back_up(store, tmp_path / "stick", tmp_path, clock.now())
    assert list((tmp_path / "stick").iterdir()) == [] and last_backup(tmp_path) is None


def test_a_backup_is_one_private_file_and_never_written_over(place, tmp_path, clock):
    store = fill(place("file"))
    names = [back_up(store, tmp_path / "stick", tmp_path, clock.now()).file for _ in range(3)]
    assert sorted(str(path) for path in (tmp_path / "stick").iterdir()) == sorted(names) and len(set(names)) == 3
    assert {stat.S_IMODE(os.stat(name).st_mode) for name in names} == {0o600}


def test_two_backups_made_at_once_are_two_whole_ones(place, tmp_path, clock, monkeypatch):
    """In step: each looks for a free name before the other has written anything."""
    store, together, whole = fill(place("file")), threading.Barrier(2), backup._copied

    def in_step(source, part):
        together.wait(60)
        return whole(source, part)

    monkeypatch.setattr(backup, "_copied", in_step)
    with ThreadPoolExecutor(2) as pool:
        made = list(pool.map(lambda _: back_up(store, tmp_path / "stick", tmp_path, clock.now()), range(2)))
    assert sorted(map(str, (tmp_path / "stick").iterdir())) == sorted({one.file for one in made}) and len(made) == 2
    # Of two made in one second the later is the newer.
    assert str(backup._newest(tmp_path / "stick")) == max((one.file for one in made), key=len)


def test_a_press_for_a_backup_sent_twice_makes_one(client, workbench, tmp_path):
    fill(workbench.store)
    workbench.back_up(tmp_path / "stick")
    for press in ("one", "one", "another"):
        form = {"request_id": press}
        assert client.post("/backup", data=form, follow_redirects=False).status_code == 303
    assert len(list((tmp_path / "stick").iterdir())) == 3


def test_a_notebook_that_stands_there_is_left_alone(place, tmp_path, clock):
    store = fill(place("file"))
    made = back_up(store, tmp_path / "stick", tmp_path, clock.now())
    before = contents_of(store)
    with pytest.raises(ConflictError, match="a notebook stands here already"):
        restore(tmp_path / "stick", store, tmp_path)
    with pytest.raises(ConflictError, match="a notebook stands here already"):
        copy_store(store, store)
    assert contents_of(store) == before
    other = place("file")
    for wrong in (tmp_path / "nowhere", tmp_path):
        with pytest.raises(InputError, match=r"no such backup|no backup stands in this folder"):
            restore(wrong, other, tmp_path)
    with open(made.file, "r+b") as file:
        file.seek(5000)
        file.write(b"\xff" * 20_000)
    with pytest.raises(StoreError, match="damaged"):
        restore(tmp_path / "stick", other, tmp_path)
    assert contents_of(other).revisions == 0


def test_a_folder_that_cannot_be_written_is_told(place, tmp_path, clock):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="name a folder you may write"):
        back_up(fill(place("file")), tmp_path / "file", tmp_path, clock.now())


def test_the_commands(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "one"))
    assert run(["backup", str(tmp_path / "stick")]) == 2
    assert "nothing is kept here yet" in capsys.readouterr().err
    fill(open_store(file_address(tmp_path / "one" / "notebook.sqlite"))).close()
    assert run(["backup", str(tmp_path / "stick")]) == 0
    told = capsys.readouterr().out
    assert "9 entries, 45 run events, 1 file" in told and "Read back" in told and str(tmp_path / "stick") in told
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "two"))
    assert run(["restore", str(tmp_path / "stick")]) == 0
    assert "9 entries, 45 run events, 1 file" in capsys.readouterr().out
    assert run(["restore", str(tmp_path / "stick")]) == 2
    assert "a notebook stands here already" in capsys.readouterr().err


def test_the_house_says_when_and_offers_it(client, workbench, tmp_path, clock):
    html = {"accept": "text/html"}
    assert "backup" not in client.get("/", headers=html).text, "nothing to lose yet"
    workbench.shelf.add_generic("ammonia_25")
    text = client.get("/", headers=html).text
    assert "There is no backup yet" in text and "obverse backup FOLDER" in text
    back_up(workbench.store, tmp_path / "stick", workbench.home, clock.now())
    text = client.get("/", headers=html).text
    assert "Last backup: 2031-11-05" in text and "Back up now" in text
    workbench.shelf.add_generic("household_ammonia_5")
    clock.advance(60)
    assert client.post("/backup", headers=html, follow_redirects=False).status_code == 303
    assert len(list((tmp_path / "stick").glob("*.sqlite"))) == 2
    clock.advance(timedelta(days=31).total_seconds())
    assert "more than 30 days old" in client.get("/", headers=html).text
