"""The store keeps every revision, deletes nothing, and says what it refuses."""

import sqlite3
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import inspect

from obverse.clock import FixedClock, SystemClock
from obverse.foundation import ConflictError, InputError, NotFoundError, StoreError
from obverse.store import KINDS, open_store
from obverse.store.engine import _known_versions
from obverse.store.tables import NEWEST, metadata


@pytest.fixture(params=["memory", "file", "postgresql"])
def store(request, tmp_path, clock):
    if request.param == "postgresql":
        url = request.getfixturevalue("postgresql").notebook()
    else:
        url = "sqlite://" if request.param == "memory" else f"sqlite:///{tmp_path / 'n.sqlite'}"
    kept = open_store(url, now=clock.now)
    yield kept
    kept.close()


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_its_table(store, kind):
    kept = store.put(kind, {"name": "x"})
    assert store.get(kind, kept.id) == kept
    assert [thing.id for thing in store.list(kind)] == [kept.id]


def test_revisions_count_and_stay_readable(store, clock):
    first = store.put("film", {"name": "slow"}, id="a", expected_revision=0)
    clock.advance(60)
    second = store.put("film", {"name": "slower"}, id="a", expected_revision=first.revision)
    assert (first.revision, second.revision) == (1, 2)
    assert second.created_at == first.created_at and second.changed_at - first.changed_at == timedelta(seconds=60)
    assert [kept.body["name"] for kept in store.history("film", "a")] == ["slow", "slower"]


def test_somebody_elses_change_is_not_overwritten(store):
    store.put("film", {"n": 1}, id="a")
    store.put("film", {"n": 2}, id="a", expected_revision=1)
    with pytest.raises(ConflictError, match="changed meanwhile"):
        store.put("film", {"n": 3}, id="a", expected_revision=1)
    with pytest.raises(ConflictError, match="exists already"):
        store.put("film", {"n": 3}, id="a", expected_revision=0)
    with pytest.raises(NotFoundError):
        store.put("film", {"n": 3}, id="other", expected_revision=4)
    assert store.get("film", "a").body == {"n": 2}


def test_retired_things_stay_readable_and_come_back(store):
    store.put("jug", {"letter": "A"}, id="a")
    assert store.retire("jug", "a").retired_at is not None
    assert store.retire("jug", "a").revision == 2
    assert store.list("jug") == [] and len(store.list("jug", retired=True)) == 1
    with pytest.raises(ConflictError, match="put aside"):
        store.put("jug", {"letter": "B"}, id="a")
    assert store.restore("jug", "a").retired_at is None
    assert store.list("jug")[0].body == {"letter": "A"}


def test_text_stands_in_one_order_everywhere(store):
    names = ["a b", "a-b", "B", "A", "_x", "ab", "\u00e4", "z"]
    for name in names:
        store.put("film", {}, id=name)
    assert [kept.id for kept in store.list("film")] == sorted(names)
    assert [thing["id"] for thing in store.export()["things"]] == sorted(names)


def test_listing_by_values_in_the_body(store):
    store.put("trial", {"film": "a", "count": 1, "good": True}, id="t1")
    store.put("trial", {"film": "a", "count": 2, "good": False}, id="t2")
    store.put("trial", {"film": "b", "count": 1}, id="t3")
    assert [kept.id for kept in store.list("trial", film="a")] == ["t1", "t2"]
    assert [kept.id for kept in store.list("trial", film="a", count=2)] == ["t2"]
    assert [kept.id for kept in store.list("trial", good=True)] == ["t1"]
    assert store.list("trial", good=1) == [] and store.list("trial", absent=None) == []


def test_an_event_sent_twice_happened_once(store):
    assert store.append_event("evening", "e1", {"what": "poured"}) == 1
    assert store.append_event("evening", "e2", {"what": "drained"}) == 2
    assert store.append_event("evening", "e1", {"what": "poured", "again": True}) == 1
    assert store.append_event("other", "e1", {}) == 1
    assert [(event.seq, event.event_id, event.body) for event in store.events("evening")] == [
        (1, "e1", {"what": "poured"}),
        (2, "e2", {"what": "drained"}),
    ]
    assert [event.seq for event in store.events("evening", after_seq=1)] == [2]


def test_blobs_are_kept_once(store):
    name = store.put_blob(b"silver", "text/plain")
    assert store.put_blob(b"silver", "text/plain") == name
    assert store.get_blob(name) == b"silver" and store.blob_media_type(name) == "text/plain"
    with pytest.raises(NotFoundError):
        store.get_blob("0" * 64)


def test_a_block_is_written_wholly_or_not_at_all(store):
    with pytest.raises(ZeroDivisionError), store.transaction():
        store.put("film", {"n": 1}, id="a")
        assert store.get("film", "a").body == {"n": 1}
        raise ZeroDivisionError
    with store.transaction():
        store.put("film", {"n": 2}, id="b")
        with pytest.raises(ZeroDivisionError), store.transaction():
            store.put("film", {"n": 3}, id="c")
            raise ZeroDivisionError
    assert [kept.id for kept in store.list("film")] == ["b"]


def test_an_entry_sent_again_is_answered_with_the_first_answer_and_stored_once(store):
    def work():
        return {"id": store.put("film", {"n": 1}).id}

    first = store.once("entry-1", work)
    assert store.once("entry-1", work) == first
    assert store.once("entry-2", work) != first
    assert len(store.list("film")) == 2


def test_an_entry_that_failed_leaves_nothing_and_may_come_again(store):
    def half():
        store.put("film", {"n": 1})
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        store.once("entry", half)
    assert store.list("film") == []
    assert store.once("entry", lambda: {"id": store.put("film", {}, id="a").id}) == {"id": "a"}


def test_asking_without_writing_is_reckoned_anew(store):
    answers = iter(range(9))
    assert [store.once("question", lambda: {"n": next(answers)}) for _ in range(2)] == [{"n": 0}, {"n": 1}]


def test_the_same_entry_twice_at_once_is_one_entry(tmp_path):
    stores = [open_store(f"sqlite:///{tmp_path / 'n.sqlite'}") for _ in range(2)]
    together = threading.Barrier(12)

    def enter(place):
        together.wait()
        own = stores[place % 2]
        return own.once("entry", lambda: {"id": own.put("film", {"by": place}).id})

    with ThreadPoolExecutor(12) as pool:
        answers = list(pool.map(enter, range(12)))
    assert len({answer["id"] for answer in answers}) == 1 and len(stores[0].list("film")) == 1
    for one in stores:
        one.close()


def test_blobs_without_a_record_are_found_and_cleared_and_named_ones_stay(store):
    named = store.put_blob(b"named", "image/tiff")
    seen = store.put_blob(b"seen at the sink", "image/jpeg")
    lost = store.put_blob(b"lost", "image/tiff")
    store.put("picture", {"sha256": named})
    store.append_event("run", "e", {"kind": "photo", "blob": seen})
    elsewhere = store.put_blob(b"named deep within", "image/tiff")
    store.put("setting", {"what": {"ever": [f"picture {elsewhere}"]}})
    assert store.orphans() == (lost,)
    assert store.clear_orphans() == 1 and store.clear_orphans() == 0
    assert store.get_blob(elsewhere) == b"named deep within"
    assert store.get_blob(named) == b"named" and store.get_blob(seen) == b"seen at the sink"
    with pytest.raises(NotFoundError):
        store.get_blob(lost)


def test_what_was_made_elsewhere_is_marked_until_somebody_says_it_is_ones_own(store):
    store.put("product", {"key": "x"}, id="x")
    other = open_store()
    other.put("bottle", {"name": "mine"}, id="mine")
    other.import_(store.export())
    assert other.get("product", "x").elsewhere and not other.get("bottle", "mine").elsewhere
    assert other.from_elsewhere() == {store.darkroom: 1}
    assert store.import_(other.export())["revisions"] == 1
    assert not store.get("product", "x").elsewhere and store.get("bottle", "mine").elsewhere
    other.import_(store.export(), mine=[store.darkroom])
    assert not other.get("product", "x").elsewhere and other.from_elsewhere() == {}
    third = open_store()
    third.import_(other.export())
    third.claim("product", "x")
    assert [third.get(*name).elsewhere for name in (("product", "x"), ("bottle", "mine"))] == [False, True]
    other.close()
    third.close()


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ({"a": [1, float("nan")]}, r"body\.a\[1\]: nan"),
        ({"a": {"b": float("inf")}}, r"body\.a\.b: inf"),
        ({1: 2}, "not text"),
        ({"a": object()}, "a object cannot be kept"),
        ({"a": "\ud800"}, "Unicode"),
        ({"a": "x\0y"}, "NUL"),
        ([1], "mapping"),
    ],
)
def test_what_is_not_plain_json_is_refused_at_the_door(store, body, sentence):
    with pytest.raises(InputError, match=sentence):
        store.put("film", body)
    assert store.list("film") == []


def test_endless_nesting_is_refused(store):
    body = {}
    for _ in range(100):
        body = {"a": body}
    with pytest.raises(InputError, match="levels deep"):
        store.put("film", body)


@pytest.mark.parametrize("id", ["", " a", "a" * 121, "a\nb", 7])
def test_ids_are_short_and_printable(store, id):
    with pytest.raises(InputError, match="id"):
        store.put("film", {}, id=id)


def test_unknown_kinds_and_names(store):
    with pytest.raises(InputError, match="keeps no 'camel'"):
        store.put("camel", {})
    for call in (store.get, store.retire, store.history):
        with pytest.raises(NotFoundError):
            call("film", "nobody")


def test_a_closed_store_says_so(store):
    store.close()
    store.close()
    with pytest.raises(StoreError, match="closed"):
        store.list("film")


def test_the_file_itself_refuses_to_forget(tmp_path):
    path = tmp_path / "n.sqlite"
    store = open_store(f"sqlite:///{path}")
    store.put("film", {}, id="a")
    store.append_event("r", "e", {})
    store.put("picture", {"sha256": store.put_blob(b"x", "text/plain")})
    store.close()
    with sqlite3.connect(path) as raw:
        for statement in (
            "DELETE FROM films",
            "DELETE FROM run_events",
            "UPDATE run_events SET body = '{}'",
            "UPDATE revisions SET body = '{}'",
            "DELETE FROM blobs",
        ):
            with pytest.raises(sqlite3.IntegrityError, match="nothing is ever deleted"):
                raw.execute(statement)
        with pytest.raises(sqlite3.IntegrityError, match="body_is_an_object"):
            raw.execute("UPDATE films SET body = '[1]'")
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    raw.close()


def test_every_write_is_flushed_to_the_disk(tmp_path):
    store = open_store(f"sqlite:///{tmp_path / 'n.sqlite'}")
    with store._database.reading() as connection:
        full = 2
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == full
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert connection.exec_driver_sql("PRAGMA busy_timeout").scalar() > 0
    store.close()


def test_tables_of_the_queries_are_those_of_the_migrations(store):
    with store._database.reading() as connection:
        found = inspect(connection)
        assert set(found.get_table_names()) == {*metadata.tables, "alembic_version"}
        for name, table in metadata.tables.items():
            columns = {column["name"]: column["nullable"] for column in found.get_columns(name)}
            assert columns == {column.name: column.nullable for column in table.columns}
    assert NEWEST in _known_versions()


def test_export_and_import_carry_everything(store, clock):
    store.put("film", {"name": "slow"}, id="a")
    clock.advance(5)
    store.put("film", {"name": "slower"}, id="a")
    store.retire("film", "a")
    store.put("setting", {"value": 1})
    store.append_event("r", "e", {"x": [1, 2]})
    store.put_blob(bytes(range(256)), "application/octet-stream")
    document = store.export()
    other = open_store()
    assert other.import_(document) == {"revisions": 4, "events": 1, "blobs": 1}
    assert other.export() == document
    assert other.import_(document) == {"revisions": 0, "events": 0, "blobs": 0}
    assert other.get("film", "a") == replace(store.get("film", "a"), elsewhere=True)
    other.close()


def test_import_carries_on_and_refuses_contradiction(store):
    store.put("film", {"n": 1}, id="a")
    earlier = store.export()
    store.put("film", {"n": 2}, id="a")
    later = store.export()
    other = open_store()
    other.import_(earlier)
    assert other.import_(later)["revisions"] == 1 and other.get("film", "a").body == {"n": 2}
    assert other.import_(earlier)["revisions"] == 0 and other.get("film", "a").body == {"n": 2}
    third = open_store()
    third.put("film", {"n": 99}, id="a")
    third.put("film", {"n": 1}, id="b")
    before = third.export()
    with pytest.raises(ConflictError, match="different ways"):
        third.import_(later)
    assert third.export() == before
    other.close()
    third.close()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda d: d.update(format="other"), "format"),
        (lambda d: d["things"][0].update(kind="camel"), "kind"),
        (lambda d: d["things"][0]["revisions"].pop(0), "without gaps"),
        (lambda d: d["things"].append(d["things"][0]), "stands twice"),
        (lambda d: d["events"][0].update(seq=2), "without gaps"),
        (lambda d: d["blobs"][0].update(base64="YWJj"), "not those"),
        (lambda d: d["blobs"][0].update(base64="!"), "base64"),
        (lambda d: d["things"][0]["revisions"][0].update(body={"a": float("nan")}), "nan"),
        (lambda d: d["things"][0].update(created_at="yesterday"), "created_at"),
    ],
)
def test_a_spoilt_document_is_refused_whole(store, change, sentence):
    store.put("film", {"n": 1}, id="a")
    store.put("film", {"n": 2}, id="a")
    store.append_event("r", "e", {})
    store.put_blob(b"silver", "text/plain")
    document = store.export()
    change(document)
    other = open_store()
    with pytest.raises(InputError, match=sentence):
        other.import_(document)
    assert other.export()["things"] == [] and other.export()["blobs"] == []
    other.close()


def test_the_clock_door():
    first = SystemClock().now()
    assert first.tzinfo is not None and first.utcoffset() == timedelta(0)
    fixed = FixedClock(first)
    assert fixed.now() == first
    assert fixed.advance(-3600) == first - timedelta(hours=1) == fixed.now()
    with pytest.raises(ValueError, match="aware"):
        FixedClock(first.replace(tzinfo=None))
