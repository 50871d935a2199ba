"""Typed repositories: what is above the store gets checked nouns, never raw documents."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

from obverse.foundation import Document, InputError, NotFoundError, read_document

if TYPE_CHECKING:
    from obverse.process import Bottle, Equipment, FilmStock, Formula, Process, Product, Recipe, ShowList, Slide, Tool
    from obverse.run import Event
    from obverse.safety import Jug
    from obverse.store.camera_records import CalibrationEntry
    from obverse.store.records import (
        DemoMark,
        PictureEntry,
        ReadingEntry,
        RoomEntry,
        SeriesPlan,
        ShotListEntry,
        TrialEntry,
    )
    from obverse.store.run_records import RunEntry
    from obverse.store.store import Kept, Store

# Nouns kept built, so that a long list is checked once and not for every page.
MOST_BUILT = 8192

T = TypeVar("T", bound=Document)
# A noun that a repository gives: it only ever comes out of one.
Out = TypeVar("Out", bound=Document, covariant=True)


@dataclass(frozen=True, slots=True)
class Stored(Generic[T]):
    """A noun with its place in the store. Instants are aware, UTC.

    Parameters
    ----------
    elsewhere : bool
        True for what was made in a darkroom that is not this person's: it is shown, and never counts as
        something that stands here.
    """

    id: str
    revision: int
    thing: T
    created_at: datetime
    changed_at: datetime
    retired_at: datetime | None = None
    elsewhere: bool = False

    def document(self) -> dict[str, object]:
        """The JSON shape: the noun's own fields, with id and revision."""
        return {"id": self.id, "revision": self.revision, **plain_document(self.thing)}


@dataclass(frozen=True, slots=True)
class StoredEvent:
    """An event of a run at its place, counted from 1 without gaps."""

    seq: int
    event_id: str
    event: Event


# What a person calls that which has another name in here, by what it is, its kind or its id.
CALLED = {
    "list": "slide list",
    "darkroom": "name of the darkroom",
    "units": "choice of units",
    "projector": "projector and screen",
    "camera-calibration": "calibration of the camera",
    "shot_list": "shot list",
    "route": "process",
    "trial": "strip",
    "run": "evening",
}


def kind_called(kind: str, what: str = "") -> str:
    """What a person calls things of a kind; `what` tells those apart that are kept together."""
    return CALLED.get(what) or CALLED.get(kind, kind)


class _Read(Protocol[Out]):
    def __call__(self, body: Any, where: str) -> Out: ...


class Repository(Generic[T]):
    """The things of one kind as nouns.

    Parameters
    ----------
    store : Store
    kind : str
        One of `obverse.store.KINDS`.
    read : callable
        Builds the noun out of a body, or raises InputError.
    only : mapping, optional
        Values in the body by which these things are told from others of the same kind.
    """

    def __init__(self, store: Store, kind: str, read: _Read[T], only: Mapping[str, object] | None = None):
        self._store = store
        self.kind = kind
        self._read = read
        self._only = dict(only or {})
        self._built: dict[tuple[str, int, datetime], T] = {}

    def get(self, id: str) -> Stored[T]:
        """The newest revision, retired or not.

        Raises
        ------
        NotFoundError
            If there is none of that id.
        InputError
            If what stands there is no such noun.
        """
        try:
            kept = self._store.get(self.kind, id)
        except NotFoundError:
            # Of what is kept together each says its own word.
            raise self._missing(id) from None
        if any(kept.body.get(name) != value for name, value in self._only.items()):
            raise self._missing(id)
        return self._stored(kept)

    def first(self, id: str) -> Stored[T]:
        """The revision by which it was first written down.

        Raises
        ------
        NotFoundError
            If there is none of that id.
        InputError
            If what stands there is no such noun.
        """
        return self._stored(self._store.history(self.kind, id)[0])

    def find(self, id: str) -> Stored[T] | None:
        """As `get`; None where there is none of that id."""
        try:
            return self.get(id)
        except NotFoundError:
            return None

    def all(self, *, retired: bool = False, own: bool = False, **equals: Any) -> list[Stored[T]]:
        """All of them, oldest first. One that cannot be read is left out and told by `Store.unreadable`.

        Parameters
        ----------
        retired : bool
            True gives the retired ones too.
        own : bool
            True leaves out what was made in other people's darkrooms.
        **equals
            Only those that have exactly these values.
        """
        found = []
        for kept in self._store.list(self.kind, retired=retired, **self._only, **equals):
            if own and kept.elsewhere:
                continue
            try:
                found.append(self._stored(kept))
            except InputError as error:
                self._store.note_unreadable(self.kind, kept.id, error.sentence)
        return found

    def put(self, thing: T, *, id: str | None = None, expected_revision: int | None = None) -> Stored[T]:
        """Keep a new one, or a new revision; `expected_revision` as `Store.put`."""
        kept = self._store.put(self.kind, plain_document(thing), id=id, expected_revision=expected_revision)
        return _with_place(kept, thing)

    def retire(self, id: str, *, expected_revision: int | None = None) -> Stored[T]:
        """Put it aside; it stays readable. `expected_revision` as `Store.put`."""
        self.get(id)
        return self._stored(self._store.retire(self.kind, id, expected_revision=expected_revision))

    def restore(self, id: str, *, expected_revision: int | None = None) -> Stored[T]:
        """Take it back into use. `expected_revision` as `Store.put`."""
        self.get(id)
        return self._stored(self._store.restore(self.kind, id, expected_revision=expected_revision))

    def checked(self, body: Any, where: str) -> dict[str, object]:
        """A body from elsewhere as this repository would have written it.

        Raises
        ------
        InputError
            If it is no such noun.
        """
        return plain_document(self._read(body, where))

    def _missing(self, id: str) -> NotFoundError:
        word = kind_called(self.kind, str(self._only.get("what", "")))
        return NotFoundError(f"no {word} is kept under {id!r}", remedy="check the name")

    def _stored(self, kept: Kept) -> Stored[T]:
        key = (kept.id, kept.revision, kept.changed_at)
        thing = self._built.get(key)
        if thing is None:
            thing = self._read(kept.body, f"{self.kind} {kept.id}")
            # What is not durable yet may be undone, and its number be given to something else.
            if not self._store.in_transaction:
                if len(self._built) >= MOST_BUILT:
                    self._built.clear()
                self._built[key] = thing
        return _with_place(kept, thing)


class Repositories:
    """The repositories of a store. Their nouns are imported when they are first asked for."""

    def keeping(self, kind: str, noun: type[T], only: Mapping[str, object] | None = None) -> Repository[T]:
        """A repository for a noun that only those above know, such as a setting of one place."""
        return Repository(self._self(), kind, _reader(noun), only)

    def _self(self) -> Store:
        raise NotImplementedError

    @cached_property
    def films(self) -> Repository[FilmStock]:
        """Films."""
        from obverse.process import FilmStock

        return self.keeping("film", FilmStock)

    @cached_property
    def products(self) -> Repository[Product]:
        """Products, by their keys."""
        from obverse.process import Product

        return self.keeping("product", Product)

    @cached_property
    def bottles(self) -> Repository[Bottle]:
        """Bottles and bags of products, and mixed baths."""
        from obverse.process import Bottle

        return self.keeping("bottle", Bottle)

    @cached_property
    def tools(self) -> Repository[Tool | Equipment]:
        """What measures, and what stands in the room."""
        from obverse.process import Equipment, Tool, tool_noun

        def read(body: Any, where: str) -> Tool | Equipment:
            noun: type[Tool] | type[Equipment] = tool_noun(body.get("kind"))
            return read_document(noun, body, where=where)

        return Repository[Tool | Equipment](self._self(), "tool", read)

    @cached_property
    def formulas(self) -> Repository[Formula]:
        """The person's own formulas, by their keys."""
        from obverse.process import Formula

        return self.keeping("formula", Formula)

    @cached_property
    def processes(self) -> Repository[Process]:
        """The person's own processes."""
        from obverse.process import Process

        return self.keeping("route", Process)

    @cached_property
    def trials(self) -> Repository[TrialEntry]:
        """Trials of all films."""
        from obverse.store.records import TrialEntry

        return self.keeping("trial", TrialEntry)

    @cached_property
    def readings(self) -> Repository[ReadingEntry]:
        """Lists of readings."""
        from obverse.store.records import ReadingEntry

        return self.keeping("reading", ReadingEntry)

    @cached_property
    def pictures(self) -> Repository[PictureEntry]:
        """Pictures of strips."""
        from obverse.store.records import PictureEntry

        return self.keeping("picture", PictureEntry)

    @cached_property
    def runs(self) -> Repository[RunEntry]:
        """Evenings at the sink."""
        from obverse.store.run_records import RunEntry

        return self.keeping("run", RunEntry)

    @cached_property
    def recipes(self) -> Repository[Recipe]:
        """Locked recipes."""
        from obverse.process import Recipe

        return self.keeping("recipe", Recipe)

    @cached_property
    def jugs(self) -> Repository[Jug]:
        """Waste jugs."""
        from obverse.safety import Jug

        return self.keeping("jug", Jug)

    @cached_property
    def slides(self) -> Repository[Slide]:
        """Slides."""
        from obverse.process import Slide

        return self.keeping("slide", Slide, {"what": "slide"})

    @cached_property
    def show_lists(self) -> Repository[ShowList]:
        """Lists of slides to show."""
        from obverse.process import ShowList

        return self.keeping("slide", ShowList, {"what": "list"})

    @cached_property
    def plans(self) -> Repository[SeriesPlan]:
        """Aims and controls, one a film."""
        from obverse.store.records import SeriesPlan

        return self.keeping("setting", SeriesPlan, {"what": "series"})

    @cached_property
    def shot_lists(self) -> Repository[ShotListEntry]:
        """Brackets as they were shot."""
        from obverse.store.records import ShotListEntry

        return self.keeping("setting", ShotListEntry, {"what": "shot_list"})

    @cached_property
    def rooms(self) -> Repository[RoomEntry]:
        """The room, under the one id ``"room"``."""
        from obverse.store.records import RoomEntry

        return self.keeping("setting", RoomEntry)

    @cached_property
    def calibrations(self) -> Repository[CalibrationEntry]:
        """The calibration of the camera, under the one id ``"camera-calibration"``."""
        from obverse.store.camera_records import CalibrationEntry

        return self.keeping("setting", CalibrationEntry)

    @cached_property
    def demo_marks(self) -> Repository[DemoMark]:
        """The mark of an invented darkroom."""
        from obverse.store.records import DemoMark

        return self.keeping("setting", DemoMark, {"what": "demo"})

    def happened(self, run_id: str, after_seq: int = 0) -> list[StoredEvent]:
        """The events of a run after `after_seq`, in order.

        Raises
        ------
        InputError
            If one of them is no event.
        """
        from obverse.run import Event

        return [
            StoredEvent(
                kept.seq,
                kept.event_id,
                read_document(Event, kept.body | {"id": kept.event_id}, where=f"run {run_id}, event {kept.seq}"),
            )
            for kept in self._self().events(run_id, after_seq)
        ]

    def write_event(self, run_id: str, event_id: str, event: Event) -> int:
        """Write one event down; as `Store.append_event`."""
        return self._self().append_event(run_id, event_id, plain_document(event))


def plain_document(thing: Document) -> dict[str, object]:
    """A noun as the store writes it."""
    return thing.model_dump(mode="json", by_alias=True)


def _reader(noun: type[T]) -> _Read[T]:
    def read(body: Any, where: str) -> T:
        return read_document(noun, body, where=where)

    return read


def _with_place(kept: Kept, thing: T) -> Stored[T]:
    return Stored(kept.id, kept.revision, thing, kept.created_at, kept.changed_at, kept.retired_at, kept.elsewhere)
