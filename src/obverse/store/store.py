"""The store: things with revisions, run events, blobs; nothing is ever deleted."""

from __future__ import annotations

import base64
import builtins
import hashlib
import json
import secrets
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Literal

from sqlalchemy import URL, Connection, RowMapping, Select, Table, and_, delete, func, insert, select, update

from obverse.foundation import ConflictError, InputError, NotFoundError, regex
from obverse.store.engine import BUSY_TIMEOUT_MS, Database
from obverse.store.repositories import CALLED, Repositories, kind_called
from obverse.store.tables import ANSWERS, BLOBS, DARKROOMS, KINDS, ORIGINS, REVISIONS, RUN_EVENTS, THINGS
from obverse.store.values import plain

# What a name in an address may be, and what an identifier of a request.
if TYPE_CHECKING:
    from obverse.store.exchange import EventDocument, RevisionDocument, ThingDocument, WrittenNotebook, WrittenThing

# A row of a table as a query gives it, or made of its fields.
_Row = Mapping[str, Any] | RowMapping

# What becomes of things that went different ways in two notebooks: they stay as here, or go on as there.
Keep = Literal["mine", "theirs"]
# A sentence that names more of them is read by nobody.
MOST_NAMED = 5
# Longer than any name a person gives and any id a program makes; what is longer is a slip or an attack.
MOST_CHARACTERS_OF_AN_ID = 120
# As long as the registered media types with room for their parameters.
MOST_CHARACTERS_OF_A_MEDIA_TYPE = 120
# A request id is a random word of the asking program.
MOST_CHARACTERS_OF_A_REQUEST_ID = 200
# A scanner file of a whole roll at 16 bit is below this; a blob is held in memory once.
MOST_BYTES_OF_A_BLOB = 512 * 1024 * 1024
_SHA256 = regex(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Kept:
    """One thing as it stands in the store. Instants are aware, UTC.

    `elsewhere` is True for what was made in a notebook that is not this person's.
    """

    id: str
    revision: int
    body: dict[str, object]
    created_at: datetime
    changed_at: datetime
    retired_at: datetime | None = None
    elsewhere: bool = False


@dataclass(frozen=True, slots=True)
class KeptEvent:
    """One event of a run. `seq` counts from 1 without gaps within the run."""

    seq: int
    event_id: str
    body: dict[str, object]
    recorded_at: datetime


class _AnsweredBefore(Exception):
    """The entry of this id was taken in already; carries what was answered then."""

    def __init__(self, answer: dict[str, object]):
        super().__init__("answered before")
        self.answer = answer


class Store(Repositories):
    """Keeps things of the kinds in `KINDS`. Every call is one transaction, durable when it returns.

    What is above the store reads and writes checked nouns, through the repositories (`films`, `trials`, ...);
    the calls by kind and body are the ground they stand on.

    Parameters
    ----------
    database : Database
    now : callable
        Gives the present instant (aware).
    """

    def __init__(self, database: Database, now: Callable[[], datetime]):
        self._database = database
        self._now = now
        self._unreadable: dict[tuple[str, str], str] = {}

    def _self(self) -> Store:
        return self

    @property
    def place(self) -> str:
        """Where it is kept, in words a person can follow."""
        return self._database.name

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """For the store's own copying and reading back: a connection that sees one moment."""
        with self._database.snapshot() as connection:
            yield connection

    # Entries

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Everything written within the block is written wholly or not at all, and nobody writes in between."""
        with self._database.writing():
            yield

    @property
    def in_transaction(self) -> bool:
        """Whether something was written here that is not durable yet."""
        return self._database.in_transaction

    def once(self, request_id: str, work: Callable[[], Mapping[str, object]]) -> dict[str, object]:
        """Do `work` and keep its answer with what it wrote; for an id known already, give the first answer.

        All that `work` writes is one transaction, and the answer is part of it. Work that writes nothing is
        not remembered: asked again, it reckons again.

        Parameters
        ----------
        request_id : str
            Made by whoever asks, the same for the same entry sent again; 1 to 200 characters.
        work : callable
            Gives the answer as plain JSON.

        Raises
        ------
        InputError
            For an id that is none.
        """
        if not (isinstance(request_id, str) and 1 <= len(request_id) <= MOST_CHARACTERS_OF_A_REQUEST_ID):
            raise InputError(
                f"the id of a request has 1 to {MOST_CHARACTERS_OF_A_REQUEST_ID} characters",
                where="request id",
                remedy="leave it out or shorten it",
            )
        with self._database.reading() as connection:
            known = _answer(connection, request_id)
        if known is not None:
            return known

        def not_known(connection: Connection) -> None:
            # Asked again within the transaction: the same entry may have come twice at once.
            known = _answer(connection, request_id)
            if known is not None:
                raise _AnsweredBefore(known)

        try:
            with self._database.held_together(not_known) as written:
                answer = _checked_body(work())
                writing = written()
                if writing is not None:
                    writing.execute(
                        insert(ANSWERS).values(request_id=request_id, answered_at=_stamp(self._now()), answer=answer)
                    )
        except _AnsweredBefore as before:
            return before.answer
        return answer

    # Things

    def put(
        self, kind: str, body: Mapping[str, object], *, id: str | None = None, expected_revision: int | None = None
    ) -> Kept:
        """Keep a new thing, or a new revision of one.

        Parameters
        ----------
        kind : str
            One of `KINDS`.
        body : mapping
            Plain JSON; NaN is refused.
        id : str, optional
            A new one is made where it is absent.
        expected_revision : int, optional
            The revision the caller has seen: 0 says "it is new". Absent: the last writer wins.

        Raises
        ------
        ConflictError
            If another revision stands there than expected, or the thing is retired.
        NotFoundError
            If a revision is expected and nothing stands there.
        """
        table = _table(kind)
        body = _checked_body(body)
        id = _new_id() if id is None else _checked_id(id)
        with self._database.writing() as connection:
            row = connection.execute(_with_origin(kind).where(table.c.id == id)).mappings().first()
            _expect(kind, id, row, expected_revision)
            if row is not None and row["retired_at"] is not None:
                called = _called(kind, id, row["body"])
                raise ConflictError(f"{called} is put aside", remedy="put it back before you change it")
            return self._write(connection, kind, id, row, body, retired_at=None)

    def get(self, kind: str, id: str) -> Kept:
        """The newest revision, retired or not.

        Raises
        ------
        NotFoundError
            If nothing is kept under that name.
        """
        table = _table(kind)
        with self._database.reading() as connection:
            row = connection.execute(_with_origin(kind).where(table.c.id == id)).mappings().first()
        if row is None:
            raise _not_found(kind, id)
        return _kept(row)

    def list(self, kind: str, *, retired: bool = False, **equals_in_body: Any) -> builtins.list[Kept]:
        """All things of a kind, oldest first.

        Parameters
        ----------
        retired : bool
            True lists the retired ones too.
        **equals_in_body
            Only those whose body has exactly these values.
        """
        table = _table(kind)
        query = _with_origin(kind).order_by(table.c.created_at, table.c.id)
        if not retired:
            query = query.where(table.c.retired_at.is_(None))
        for name, value in equals_in_body.items():
            # The database leaves out most of what is not wanted, before it is read; what is left is compared as JSON.
            if isinstance(value, str):
                query = query.where(table.c.body[name].as_string() == value)
        with self._database.reading() as connection:
            rows = connection.execute(query).mappings().all()
        wanted = equals_in_body.items()
        return [
            _kept(row)
            for row in rows
            if all(name in row["body"] and _same(row["body"][name], value) for name, value in wanted)
        ]

    def ids(self, kind: str) -> set[str]:
        """The ids of all things of a kind, retired ones too: the names that are taken."""
        table = _table(kind)
        with self._database.reading() as connection:
            return set(connection.execute(select(table.c.id)).scalars())

    def retire(self, kind: str, id: str, *, expected_revision: int | None = None) -> Kept:
        """Put a thing aside. It stays readable; retiring twice is no error. `expected_revision` as `put`."""
        return self._set_retired(kind, id, True, expected_revision)

    def restore(self, kind: str, id: str, *, expected_revision: int | None = None) -> Kept:
        """Take a retired thing back into use. `expected_revision` as `put`."""
        return self._set_retired(kind, id, False, expected_revision)

    def history(self, kind: str, id: str) -> builtins.list[Kept]:
        """All revisions, oldest first."""
        table = _table(kind)
        with self._database.reading() as connection:
            created = connection.execute(select(table.c.created_at).where(table.c.id == id)).scalar()
            rows = connection.execute(_revisions_of(kind, id)).mappings().all()
        if created is None:
            raise _not_found(kind, id)
        return [_kept({**row, "created_at": created, "darkroom": None}) for row in rows]

    def _set_retired(self, kind: str, id: str, retired: bool, expected_revision: int | None) -> Kept:
        table = _table(kind)
        with self._database.writing() as connection:
            row = connection.execute(_with_origin(kind).where(table.c.id == id)).mappings().first()
            if row is None:
                raise _not_found(kind, id)
            _expect(kind, id, row, expected_revision)
            if (row["retired_at"] is not None) == retired:
                return _kept(row)
            return self._write(
                connection, kind, id, row, row["body"], retired_at=_stamp(self._now()) if retired else None
            )

    def _write(
        self,
        connection: Connection,
        kind: str,
        id: str,
        row: _Row | None,
        body: dict[str, object],
        *,
        retired_at: str | None,
    ) -> Kept:
        table = THINGS[kind]
        now = _stamp(self._now())
        fields = {
            "revision": 1 if row is None else row["revision"] + 1,
            "changed_at": now,
            "retired_at": retired_at,
            "body": body,
        }
        created = now if row is None else row["created_at"]
        if row is None:
            connection.execute(insert(table).values(id=id, created_at=created, **fields))
        else:
            connection.execute(update(table).where(table.c.id == id).values(**fields))
        connection.execute(insert(REVISIONS).values(kind=kind, id=id, **fields))
        return _kept({"id": id, "created_at": created, "darkroom": row and row["darkroom"], **fields})

    # Names

    def doubled_names(self) -> tuple[set[str], bool]:
        """Ids of the films on whose pages two trials have one name, and whether two films in use have one."""
        trials, films = THINGS["trial"].c, THINGS["film"].c
        film, trial_name = trials.body["film"].as_string(), trials.body[("trial", "id")].as_string()
        film_name = films.body["name"].as_string()
        with self._database.reading() as connection:
            pages = connection.execute(select(film).group_by(film, trial_name).having(func.count() > 1)).scalars()
            doubled_films = connection.execute(
                select(film_name).where(films.retired_at.is_(None)).group_by(film_name).having(func.count() > 1)
            ).first()
            return {page for page in pages if page is not None}, doubled_films is not None

    def rename(self, kind: str, id: str, name: str) -> None:
        """Give a film or a trial another name in a revision of its own, retired or not."""
        table = _table(kind)
        with self._database.writing() as connection:
            row = connection.execute(_with_origin(kind).where(table.c.id == id)).mappings().first()
            if row is None:
                raise _not_found(kind, id)
            body = _named(kind, row["body"], name)
            self._write(connection, kind, id, row, body, retired_at=row["retired_at"])

    def note_unreadable(self, kind: str, id: str, sentence: str) -> None:
        """Remember that a thing was left out of a list because it could not be read."""
        self._unreadable[kind, id] = sentence

    def unreadable(self) -> dict[tuple[str, str], str]:
        """What was left out of lists, by kind and id, and why; it stays in the notebook as it is."""
        return dict(self._unreadable)

    # Where things were made

    @property
    def darkroom(self) -> str:
        """The id of this very notebook: what is written here is known by it elsewhere."""
        with self._database.reading() as connection:
            return _own_darkroom(connection)

    def claim(self, kind: str, id: str) -> None:
        """Say that a thing that came from elsewhere is this person's own."""
        _table(kind)
        with self._database.writing() as connection:
            connection.execute(delete(ORIGINS).where(ORIGINS.c.kind == kind, ORIGINS.c.id == id))

    def from_elsewhere(self) -> dict[str, int]:
        """How many things of other darkrooms stand here, by the id of the darkroom (empty where unknown)."""
        with self._database.reading() as connection:
            rows = connection.execute(
                select(ORIGINS.c.darkroom, func.count())
                .where(ORIGINS.c.darkroom.not_in(select(DARKROOMS.c.id)))
                .group_by(ORIGINS.c.darkroom)
                .order_by(ORIGINS.c.darkroom)
            ).all()
        return {row[0]: row[1] for row in rows}

    # Events of a run

    def append_event(self, run_id: str, event_id: str, body: Mapping[str, object]) -> int:
        """Write one event down; durable before this returns.

        Returns
        -------
        int
            Its place in the run, from 1. An event that was written before keeps its place and its
            first body: a message sent twice happened once.
        """
        body = _checked_body(body)
        _checked_id(run_id)
        _checked_id(event_id)
        events = RUN_EVENTS.c
        with self._database.writing() as connection:
            known = connection.execute(
                select(events.seq).where(events.run_id == run_id, events.event_id == event_id)
            ).scalar()
            if known is not None:
                return int(known)
            last = connection.execute(select(func.max(events.seq)).where(events.run_id == run_id)).scalar()
            seq = (last or 0) + 1
            connection.execute(
                insert(RUN_EVENTS).values(
                    run_id=run_id, seq=seq, event_id=event_id, recorded_at=_stamp(self._now()), body=body
                )
            )
        return seq

    def events(self, run_id: str, after_seq: int = 0) -> builtins.list[KeptEvent]:
        """The events of a run after `after_seq`, in order."""
        query = (
            select(RUN_EVENTS)
            .where(RUN_EVENTS.c.run_id == run_id, RUN_EVENTS.c.seq > after_seq)
            .order_by(RUN_EVENTS.c.seq)
        )
        with self._database.reading() as connection:
            rows = connection.execute(query).mappings().all()
        return [KeptEvent(row["seq"], row["event_id"], row["body"], _instant(row["recorded_at"])) for row in rows]

    # Blobs

    def put_blob(self, data: bytes, media_type: str) -> str:
        """Keep bytes; the same bytes are kept once. Returns their SHA-256 in hex."""
        if len(data) > MOST_BYTES_OF_A_BLOB:
            raise InputError(
                f"the file has {len(data)} bytes; at most {MOST_BYTES_OF_A_BLOB} are kept", remedy="give a smaller file"
            )
        if not (media_type.isprintable() and len(media_type) <= MOST_CHARACTERS_OF_A_MEDIA_TYPE):
            # What a browser said of a file is no reason to refuse the file.
            media_type = "application/octet-stream"
        sha256 = hashlib.sha256(data).hexdigest()
        with self._database.writing() as connection:
            if not _has_blob(connection, sha256):
                connection.execute(
                    insert(BLOBS).values(
                        sha256=sha256,
                        media_type=media_type,
                        size_bytes=len(data),
                        created_at=_stamp(self._now()),
                        data=bytes(data),
                    )
                )
        return sha256

    def get_blob(self, sha256: str) -> bytes:
        """The bytes of that SHA-256."""
        return bytes(self._blob(sha256)["data"])

    def blob_media_type(self, sha256: str) -> str:
        """What kind of file the bytes were said to be."""
        return str(self._blob(sha256)["media_type"])

    def _blob(self, sha256: str) -> _Row:
        with self._database.reading() as connection:
            row = connection.execute(select(BLOBS).where(BLOBS.c.sha256 == sha256)).mappings().first()
        if row is None:
            raise _not_found("blob", sha256)
        return row

    def orphans(self) -> tuple[str, ...]:
        """SHA-256 of the blobs that no record and no event names: left by a kill between two writes."""
        with self._database.reading() as connection:
            return _orphans(connection)

    def clear_orphans(self) -> int:
        """Take the orphans away; returns how many there were. Nothing that anything names is touched.

        Where there are none, which is the usual case, nothing is written and nobody is made to wait.
        """
        if not self.orphans():
            return 0
        with self._database.writing() as connection:
            # Asked again within the transaction: a record may have come meanwhile.
            found = _orphans(connection)
            for sha256 in found:
                connection.execute(delete(BLOBS).where(BLOBS.c.sha256 == sha256))
        return len(found)

    # The whole notebook as one document

    def export(self) -> WrittenNotebook:
        """Everything, with all revisions, as one JSON document."""
        with self._database.snapshot() as connection:
            created = {
                (kind, row["id"]): row["created_at"]
                for kind in KINDS
                for row in connection.execute(select(THINGS[kind].c.id, THINGS[kind].c.created_at)).mappings()
            }
            order = (REVISIONS.c.kind, REVISIONS.c.id, REVISIONS.c.revision)
            revisions = connection.execute(select(REVISIONS).order_by(*order)).mappings().all()
            events = (
                connection.execute(select(RUN_EVENTS).order_by(RUN_EVENTS.c.run_id, RUN_EVENTS.c.seq)).mappings().all()
            )
            blobs = connection.execute(select(BLOBS).order_by(BLOBS.c.sha256)).mappings().all()
            here = _own_darkroom(connection)
            origins = {(row.kind, row.id): row.darkroom for row in connection.execute(select(ORIGINS))}
        things: dict[tuple[str, str], WrittenThing] = {}
        for row in revisions:
            name = (row["kind"], row["id"])
            thing = things.get(name)
            if thing is None:
                origin = origins.get(name, here)
                thing = {
                    "kind": row["kind"],
                    "id": row["id"],
                    "created_at": created[name],
                    "origin": origin,
                    "revisions": [],
                }
                # Invariant under travel: the same document comes out of every notebook that took it in.
                if not origin:
                    del thing["origin"]
                things[name] = thing
            thing["revisions"].append(
                {
                    "revision": row["revision"],
                    "changed_at": row["changed_at"],
                    "retired_at": row["retired_at"],
                    "body": row["body"],
                }
            )
        return {
            "format": "obverse-notebook",
            "version": 1,
            "things": list(things.values()),
            "events": [dict(row) for row in events],
            "blobs": [
                {
                    "sha256": row["sha256"],
                    "media_type": row["media_type"],
                    "created_at": row["created_at"],
                    "base64": base64.b64encode(row["data"]).decode(),
                }
                for row in blobs
            ],
        }

    def import_(
        self, document: Mapping[str, object], *, mine: Collection[str] = (), keep: Keep | None = None
    ) -> dict[str, int]:
        """Take in an exported document: all of it or, where it contradicts what stands here, nothing.

        What stands here already is left; what went on there is carried on here; two things of one
        name that went different ways are a conflict. What was made in a darkroom that is not this person's
        is marked so.

        Parameters
        ----------
        mine : collection of str
            Ids of darkrooms that are this person's own from now on; an empty text stands for things whose
            document does not say where they were made.
        keep : {"mine", "theirs"}, optional
            What becomes of things that went different ways: they stay as they are here, or go on as theirs
            did, what stood here staying readable as an older revision. An evening stays as it went here
            either way, because what happened is not written anew. Absent: they refuse the document.

        Returns
        -------
        dict
            How many revisions, events and blobs were new; with `keep`, also how many things had parted.

        Raises
        ------
        InputError
            If it is no such document.
        ConflictError
            If the same things went different ways here and there; it names them.
        """
        # Imported here: only this call needs the checks of the document.
        from obverse.store.exchange import read_notebook

        notebook = read_notebook(document)
        new = {"revisions": 0, "events": 0, "blobs": 0}
        with self._database.writing() as connection:
            for blob in notebook.blobs:
                if not _has_blob(connection, blob.sha256):
                    connection.execute(
                        insert(BLOBS).values(
                            sha256=blob.sha256,
                            media_type=blob.media_type,
                            size_bytes=len(blob.data),
                            created_at=_stamp(blob.created_at),
                            data=blob.data,
                        )
                    )
                    new["blobs"] += 1
            own = {*mine, *connection.execute(select(DARKROOMS.c.id)).scalars()}
            for darkroom in sorted({thing.origin for thing in notebook.things if thing.origin in mine} - {""}):
                if connection.execute(select(DARKROOMS.c.id).where(DARKROOMS.c.id == darkroom)).scalar() is None:
                    connection.execute(insert(DARKROOMS).values(id=darkroom, since=_stamp(self._now())))
            here = _own_darkroom(connection)
            runs = notebook.runs()
            parted = {("run", run_id) for run_id, events in runs.items() if _run_parted(connection, run_id, events)}
            for thing in notebook.things:
                name = (thing.kind, thing.id)
                kept = connection.execute(_revisions_of(*name)).mappings().all()
                fresh = [] if name in parted else _what_went_on_there(thing, kept)
                if fresh is None and _alike(thing.kind, kept[-1], thing.revisions[-1]):
                    # Whatever way each went, both stand at the same place now.
                    fresh = []
                if fresh is None:
                    parted.add(name)
                    fresh = _their_way(thing, kept) if keep == "theirs" and thing.kind != "run" else []
                _take_in(
                    connection, thing, kept, fresh, is_own=thing.origin == here or (not thing.origin and "" in own)
                )
                new["revisions"] += len(fresh)
            for run_id, events in runs.items():
                if ("run", run_id) not in parted:
                    new["events"] += _take_in_run(connection, run_id, events)
            if parted and keep is None:
                raise _parted(parted)
        return new if keep is None else {**new, "parted": len(parted)}


def open_store(
    url: str | URL = "sqlite://", *, now: Callable[[], datetime] | None = None, busy_timeout_ms: int = BUSY_TIMEOUT_MS
) -> Store:
    """Open (and where needed make or migrate) a store.

    Parameters
    ----------
    url : str or URL
        ``"sqlite://"`` is the twin in memory, `file_address` of a path a file, or a PostgreSQL URL.
    now : callable, optional
        The clock's `now`; the time of this computer where absent.

    Returns
    -------
    Store
        Ready to be read and written.

    Raises
    ------
    StoreError
        Locked, full, read-only, damaged, or from a newer obverse: one sentence.
    """
    return Store(Database(url, busy_timeout_ms=busy_timeout_ms), now or (lambda: datetime.now(UTC)))


def _take_in(
    connection: Connection,
    thing: ThingDocument,
    kept: Sequence[_Row],
    fresh: Sequence[tuple[RevisionDocument, dict[str, object]]],
    *,
    is_own: bool,
) -> None:
    """Write the fresh revisions of a thing after those that are kept."""
    if not fresh:
        return
    table = _table(thing.kind)
    last = kept[-1]["revision"] if kept else 0
    for number, (revision, body) in enumerate(fresh, last + 1):
        fields = {**_revision_fields(revision), "revision": number, "body": body}
        connection.execute(insert(REVISIONS).values(kind=thing.kind, id=thing.id, **fields))
    if kept:
        connection.execute(update(table).where(table.c.id == thing.id).values(**fields))
    else:
        connection.execute(insert(table).values(id=thing.id, created_at=_stamp(thing.created_at), **fields))
        if not is_own:
            connection.execute(insert(ORIGINS).values(kind=thing.kind, id=thing.id, darkroom=thing.origin))


def _their_way(thing: ThingDocument, kept: Sequence[_Row]) -> list[tuple[RevisionDocument, dict[str, object]]]:
    """What a thing became there, to stand after what it became here; where that came over before, what followed it."""
    known = [place for place, theirs in enumerate(thing.revisions) if _alike(thing.kind, kept[-1], theirs)]
    if known:
        return [(revision, revision.body) for revision in thing.revisions[known[-1] + 1 :]]
    paired = zip(kept, thing.revisions, strict=False)
    first = next(place for place, (mine, theirs) in enumerate(paired) if not _alike(thing.kind, mine, theirs))
    return [(revision, revision.body) for revision in thing.revisions[first:]]


def _alike(kind: str, mine: _Row, theirs: RevisionDocument) -> bool:
    """Whether two revisions say the same, but for a name that was given to tell things apart."""
    bodies = (mine["body"], theirs.body)
    if kind in _NAME_IN:
        bodies = (_named(kind, bodies[0], ""), _named(kind, bodies[1], ""))
    return _same(*bodies) and (mine["retired_at"] is None) == (theirs.retired_at is None)


def _parted(names: Collection[tuple[str, str]]) -> ConflictError:
    """The refusal that names what went different ways, the first few of it."""
    told = [f"the {kind} {id!r}" for kind, id in sorted(names)]
    first, more = told[:MOST_NAMED], len(told) - MOST_NAMED
    listed = [*first, f"{more} more"] if more > 0 else first
    words = listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} and {listed[-1]}"
    return ConflictError(
        f"{words} went different ways here and there",
        where="import",
        remedy="say --keep mine to leave yours as they are and take the rest, or --keep theirs to go on with theirs, "
        "yours staying as older revisions; nothing was imported",
    )


def _what_went_on_there(
    thing: ThingDocument, kept: Sequence[_Row]
) -> list[tuple[RevisionDocument, dict[str, object]]] | None:
    """Revisions that are not known here, each with its body as it is to be kept; None where the ways parted.

    A name that was given here or there only to tell two things apart parts no ways: what is known here keeps
    the name that it has here.
    """
    same = all(
        _same(mine["body"], theirs.body) and (mine["retired_at"] is None) == (theirs.retired_at is None)
        for mine, theirs in zip(kept, thing.revisions, strict=False)
    )
    if same:
        return [(revision, revision.body) for revision in thing.revisions[len(kept) :]]
    if thing.kind not in _NAME_IN:
        return None
    mine_way = _without_names(thing.kind, [(row["body"], row["retired_at"] is None) for row in kept])
    their_way = _without_names(thing.kind, [(r.body, r.retired_at is None) for r in thing.revisions])
    if any(not _same(mine[1], theirs[1]) for mine, theirs in zip(mine_way, their_way, strict=False)):
        return None
    name = _name_of(thing.kind, kept[-1]["body"])
    fresh = [thing.revisions[place] for place, _ in their_way[len(mine_way) :]]
    return [(revision, _named(thing.kind, revision.body, name)) for revision in fresh]


def _without_names(kind: str, way: list[tuple[dict[str, object], bool]]) -> list[tuple[int, list[Any]]]:
    """The steps of a thing without its name; a revision that only renamed it is no step. Each with its place."""
    found: list[tuple[int, list[Any]]] = []
    for place, (body, in_use) in enumerate(way):
        step = [_named(kind, body, ""), in_use]
        if not found or not _same(found[-1][1], step):
            found.append((place, step))
    return found


# Where the name of a thing stands in its body, for the kinds that are told apart by it.
_NAME_IN: dict[str, tuple[str, ...]] = {"film": ("name",), "trial": ("trial", "id")}


def _name_of(kind: str, body: dict[str, object]) -> str:
    found: Any = body
    for part in _NAME_IN[kind]:
        found = found[part] if isinstance(found, dict) and part in found else ""
    return str(found)


def _named(kind: str, body: dict[str, object], name: str) -> dict[str, object]:
    head, *rest = _NAME_IN[kind]
    if not rest:
        return {**body, head: name}
    inner = body.get(head)
    return {**body, head: {**(inner if isinstance(inner, dict) else {}), rest[0]: name}}


def _events_kept(connection: Connection, run_id: str) -> Sequence[_Row]:
    query = select(RUN_EVENTS).where(RUN_EVENTS.c.run_id == run_id).order_by(RUN_EVENTS.c.seq)
    return connection.execute(query).mappings().all()


def _run_parted(connection: Connection, run_id: str, events: list[EventDocument]) -> bool:
    """Whether an evening went on differently here and there."""
    kept = _events_kept(connection, run_id)
    return any(
        mine["event_id"] != theirs.event_id or not _same(mine["body"], theirs.body)
        for mine, theirs in zip(kept, events, strict=False)
    )


def _take_in_run(connection: Connection, run_id: str, events: list[EventDocument]) -> int:
    kept = _events_kept(connection, run_id)
    fresh = events[len(kept) :]
    for event in fresh:
        connection.execute(
            insert(RUN_EVENTS).values(
                run_id=run_id,
                seq=event.seq,
                event_id=event.event_id,
                recorded_at=_stamp(event.recorded_at),
                body=event.body,
            )
        )
    return len(fresh)


def _revision_fields(revision: RevisionDocument) -> dict[str, object]:
    return {
        "revision": revision.revision,
        "changed_at": _stamp(revision.changed_at),
        "retired_at": None if revision.retired_at is None else _stamp(revision.retired_at),
        "body": revision.body,
    }


def _revisions_of(kind: str, id: str) -> Select[Any]:
    return select(REVISIONS).where(REVISIONS.c.kind == kind, REVISIONS.c.id == id).order_by(REVISIONS.c.revision)


def _with_origin(kind: str) -> Select[Any]:
    """The things of a kind, each with the darkroom it came from where that is not one of this person's."""
    table = _table(kind)
    foreign = and_(
        ORIGINS.c.kind == kind, ORIGINS.c.id == table.c.id, ORIGINS.c.darkroom.not_in(select(DARKROOMS.c.id))
    )
    return select(table, ORIGINS.c.darkroom).select_from(table.outerjoin(ORIGINS, foreign))


def _own_darkroom(connection: Connection) -> str:
    return str(connection.execute(select(DARKROOMS.c.id).order_by(DARKROOMS.c.since, DARKROOMS.c.id)).scalars().first())


def _answer(connection: Connection, request_id: str) -> dict[str, object] | None:
    answer: dict[str, object] | None = connection.execute(
        select(ANSWERS.c.answer).where(ANSWERS.c.request_id == request_id)
    ).scalar()
    return answer


def _orphans(connection: Connection) -> tuple[str, ...]:
    # Blobs first: one that comes after this question is not in doubt, and one that is here came with its record.
    blobs = set(connection.execute(select(BLOBS.c.sha256)).scalars())
    if not blobs:
        return ()
    # Where a blob is usually named; only what is not found there is worth reading everything for.
    named: set[str] = set()
    for usual in (REVISIONS.c.body["sha256"], RUN_EVENTS.c.body["blob"]):
        column = usual.as_string()
        named.update(connection.execute(select(column).where(column.is_not(None))).scalars())
    if not blobs - named:
        return ()
    for column in (REVISIONS.c.body, RUN_EVENTS.c.body):
        for body in connection.execute(select(column)).scalars():
            named.update(_SHA256.findall(json.dumps(body)))
    return tuple(sorted(blobs - named))


def _has_blob(connection: Connection, sha256: str) -> bool:
    return connection.execute(select(BLOBS.c.sha256).where(BLOBS.c.sha256 == sha256)).scalar() is not None


def _table(kind: str) -> Table:
    if kind not in THINGS:
        raise InputError(f"the store keeps no {kind!r}", remedy=f"use one of {', '.join(KINDS)}")
    return THINGS[kind]


def _checked_body(body: Mapping[str, object]) -> dict[str, object]:
    if not isinstance(body, Mapping):
        raise InputError(f"a body must be a mapping, not {type(body).__name__}", where="body")
    checked: dict[str, object] = plain(body)
    return checked


def _checked_id(id: str) -> str:
    if (
        not isinstance(id, str)
        or not 1 <= len(id) <= MOST_CHARACTERS_OF_AN_ID
        or not id.isprintable()
        or id != id.strip()
    ):
        raise InputError(
            f"an id must be 1 to {MOST_CHARACTERS_OF_AN_ID} printable characters without blanks at its ends",
            where="id",
            remedy="choose another name",
        )
    return id


def _new_id() -> str:
    return secrets.token_hex(8)


def _expect(kind: str, id: str, row: _Row | None, expected: int | None) -> None:
    if expected is None:
        return
    if row is None:
        if expected != 0:
            raise _not_found(kind, id)
    elif row["revision"] != expected:
        # A setting has no name that a person could choose anew: whoever saw none came too late.
        too_late = bool(expected) or kind == "setting"
        raise ConflictError(
            f"{_called(kind, id, row['body'])} was changed meanwhile"
            if too_late
            else f"the {kind} {id!r} exists already",
            remedy="load it again and repeat your change" if too_late else "choose another name",
            revision=row["revision"] if too_late else 0,
        )


def _called(kind: str, id: str, body: Mapping[str, Any]) -> str:
    """A thing by the name that a person gave it, never by its id where it has one."""
    if {"frame", "roll"} <= body.keys():
        return f"frame {body['frame']} of roll {body['roll']}"
    words = next((CALLED[key] for key in (body.get("what"), kind, id) if key in CALLED), kind)
    if kind == "setting":
        return f"the {words}"
    # A strip is called by the name that it has on the page of its film, which is its id there.
    inner = body.get(kind)
    name = str(body.get("name") or (inner.get("id") if isinstance(inner, Mapping) else "") or id)
    return repr(name) if name.startswith(words) else f"the {words} {name!r}"


def _not_found(kind: str, id: str) -> NotFoundError:
    return NotFoundError(f"no {kind_called(kind)} is kept under {id!r}", remedy="check the name")


def _same(a: Any, b: Any) -> bool:
    """Equality as JSON sees it: true is not 1."""
    return a == b and json.dumps(a, sort_keys=True) == json.dumps(plain(b), sort_keys=True)


def _stamp(instant: datetime) -> str:
    """UTC with microseconds, so that text order is time order."""
    if instant.tzinfo is None:
        raise ValueError("the store needs aware instants")
    return instant.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def _instant(stamp: str) -> datetime:
    return datetime.fromisoformat(stamp)


def _kept(row: _Row) -> Kept:
    return Kept(
        id=row["id"],
        revision=row["revision"],
        body=row["body"],
        created_at=_instant(row["created_at"]),
        changed_at=_instant(row["changed_at"]),
        retired_at=None if row["retired_at"] is None else _instant(row["retired_at"]),
        elsewhere=row["darkroom"] is not None,
    )
