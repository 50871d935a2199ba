"""Locked, full, read-only, damaged, killed: one sentence, and nothing lost."""

import os
import signal
import sqlite3
import subprocess
import sys
import threading

import pytest

from obverse.foundation import StoreError
from obverse.store import open_store


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "notebook.sqlite"
    store = open_store(f"sqlite:///{file}")
    store.put("film", {"name": "before"}, id="a")
    store.close()
    return file


def reopened(path):
    store = open_store(f"sqlite:///{path}")
    try:
        return store.export()
    finally:
        store.close()


def test_locked_by_another_program(path):
    before = reopened(path)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    store = open_store(f"sqlite:///{path}", busy_timeout_ms=50)
    with pytest.raises(StoreError, match="another program holds the file; close it and try again; nothing was lost"):
        store.put("film", {"name": "after"}, id="a")
    assert store.get("film", "a").body == {"name": "before"}
    other.execute("ROLLBACK")
    other.close()
    assert reopened(path) == before
    store.put("film", {"name": "after"}, id="a")
    store.close()


def test_disk_full(path):
    before = reopened(path)
    store = open_store(f"sqlite:///{path}")
    with store._database.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(StoreError, match="the disk is full; make room"):
        store.put_blob(os.urandom(1_000_000), "image/tiff")
    with pytest.raises(StoreError, match="the disk is full"):
        for place in range(2000):
            store.append_event("run", str(place), {"text": "x" * 400})
    written = store.events("run")
    assert [event.event_id for event in written] == [str(place) for place in range(len(written))]
    store.close()
    after = reopened(path)
    assert after["things"] == before["things"] and after["blobs"] == [] and len(after["events"]) == len(written)


def test_read_only(path):
    store = open_store(f"sqlite:///file:{path}?mode=ro&uri=true")
    with pytest.raises(StoreError, match="may only be read"):
        store.put("film", {}, id="b")
    assert store.get("film", "a").body == {"name": "before"}
    store.close()


def test_no_folder(tmp_path):
    with pytest.raises(StoreError, match="cannot be opened"):
        open_store(f"sqlite:///{tmp_path / 'nowhere' / 'n.sqlite'}")


def test_not_a_notebook(tmp_path):
    file = tmp_path / "n.sqlite"
    file.write_bytes(b"holiday pictures " * 100)
    with pytest.raises(StoreError, match="not a notebook of obverse"):
        open_store(f"sqlite:///{file}")
    assert file.read_bytes() == b"holiday pictures " * 100


def test_damaged(path):
    with path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * (path.stat().st_size - 4096))
    with pytest.raises(StoreError, match="damaged"):
        open_store(f"sqlite:///{path}").export()


def test_a_database_of_something_else_is_left_alone(tmp_path):
    file = tmp_path / "n.sqlite"
    with sqlite3.connect(file) as raw:
        raw.execute("CREATE TABLE films (title TEXT)")
    raw.close()
    with pytest.raises(StoreError, match="films already exists"):
        open_store(f"sqlite:///{file}")
    with sqlite3.connect(file) as raw:
        assert raw.execute("SELECT name FROM sqlite_master").fetchall() == [("films",)]
    raw.close()


def test_written_by_a_newer_obverse(path):
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()
    with pytest.raises(StoreError, match="newer obverse"):
        open_store(f"sqlite:///{path}")


@pytest.mark.parametrize("url", ["nonsense", "camel://x", "postgresql+nodriver://x/y"])
def test_no_such_database(url):
    with pytest.raises(StoreError, match="no database can be opened"):
        open_store(url)


def test_two_writers_at_once_lose_nothing(path):
    # On a busy computer a thread may rest for longer than the usual wait.
    stores = [open_store(f"sqlite:///{path}", busy_timeout_ms=60_000) for _ in range(2)]
    failures = []

    def write(store, name):
        try:
            for place in range(40):
                store.append_event("run", f"{name}{place}", {"by": name})
        except Exception as error:  # told to the test below
            failures.append(error)

    threads = [
        threading.Thread(target=write, args=(store, name))
        for store in stores
        for name in (f"{id(store)}-x", f"{id(store)}-y")
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert [event.seq for event in stores[0].events("run")] == list(range(1, 161))
    for store in stores:
        store.close()


def test_two_programs_open_a_new_file_at_once(tmp_path):
    file = tmp_path / "n.sqlite"
    program = (
        "import sys; from obverse.store import open_store; s = open_store(sys.argv[1]); s.put('film', {}); s.close()"
    )
    running = [
        subprocess.Popen([sys.executable, "-c", program, f"sqlite:///{file}"], stderr=subprocess.PIPE) for _ in range(3)
    ]
    told = [process.communicate(timeout=600)[1] for process in running]
    assert [process.returncode for process in running] == [0, 0, 0], told
    assert len(reopened(file)["things"]) == 3


def test_killed_right_after_the_acknowledgement(tmp_path):
    file = tmp_path / "n.sqlite"
    program = (
        "import sys, time\nfrom obverse.store import open_store\ns = open_store(sys.argv[1])\n"
        "for n in range(10**6):\n    print(s.append_event('run', str(n), {'n': n}), flush=True)\n"
    )
    process = subprocess.Popen([sys.executable, "-c", program, f"sqlite:///{file}"], stdout=subprocess.PIPE, text=True)
    acknowledged = [int(process.stdout.readline()) for _ in range(25)]
    process.send_signal(signal.SIGKILL)
    acknowledged += [int(line) for line in process.stdout.read().splitlines()]
    process.wait()
    process.stdout.close()
    store = open_store(f"sqlite:///{file}")
    seqs = [event.seq for event in store.events("run")]
    store.close()
    assert seqs[: len(acknowledged)] == acknowledged == list(range(1, len(acknowledged) + 1))
    assert len(seqs) - len(acknowledged) <= 1
