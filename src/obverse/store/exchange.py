"""The exported notebook as a checked document."""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal, NotRequired, Self, TypedDict

from pydantic import AfterValidator, AwareDatetime, FailFast, Field, field_validator, model_validator

from obverse.foundation import Document, InputError, printable, read_document
from obverse.store.tables import KINDS
from obverse.store.values import plain

_Id = Annotated[str, Field(min_length=1, max_length=120), AfterValidator(printable)]


def _checked(value: Any) -> Any:
    try:
        return plain(value)
    except InputError as error:
        raise ValueError(error.sentence.rstrip(".")) from error


class RevisionDocument(Document):
    """One revision of one thing."""

    revision: int = Field(ge=1)
    changed_at: AwareDatetime
    retired_at: AwareDatetime | None = None
    body: dict[str, object]

    _body = field_validator("body")(_checked)


class ThingDocument(Document):
    """One thing with all its revisions, counted from 1 without gaps."""

    kind: Literal[KINDS]  # type: ignore[valid-type]  # the tables say which kinds there are
    id: _Id
    created_at: AwareDatetime
    origin: str = Field(
        default="", max_length=64, pattern=r"^[0-9a-z]*$", description="id of the darkroom it was made in"
    )
    revisions: tuple[RevisionDocument, ...] = Field(min_length=1)

    def with_bodies(self, bodies: Sequence[Mapping[str, object]]) -> ThingDocument:
        """The same with other bodies, one for each revision."""
        pairs = zip(self.revisions, bodies, strict=True)
        revisions = tuple(one.model_copy(update={"body": dict(body)}) for one, body in pairs)
        return self.model_copy(update={"revisions": revisions})

    @field_validator("revisions")
    @classmethod
    def _no_gaps(cls, revisions: tuple[RevisionDocument, ...]) -> tuple[RevisionDocument, ...]:
        if [revision.revision for revision in revisions] != list(range(1, len(revisions) + 1)):
            raise ValueError("revisions must count from 1 without gaps")
        return revisions


class EventDocument(Document):
    """One event of a run."""

    run_id: _Id
    seq: int = Field(ge=1)
    event_id: _Id
    recorded_at: AwareDatetime
    body: dict[str, object]

    _body = field_validator("body")(_checked)


class BlobDocument(Document):
    """Bytes, named by their SHA-256, which must be true."""

    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")
    media_type: Annotated[str, Field(max_length=120), AfterValidator(printable)]
    created_at: AwareDatetime
    base64: str

    @property
    def data(self) -> bytes:
        """The bytes."""
        return base64.b64decode(self.base64, validate=True)

    @model_validator(mode="after")
    def _true(self) -> Self:
        try:
            if hashlib.sha256(self.data).hexdigest() != self.sha256:
                raise ValueError(f"the bytes named {self.sha256[:12]} are not those that were exported")
        except binascii.Error as error:
            raise ValueError("the bytes are not base64") from error
        return self


class WrittenRevision(TypedDict):
    """One revision as it is written out; `RevisionDocument` reads it back."""

    revision: int
    changed_at: str
    retired_at: str | None
    body: dict[str, object]


class WrittenThing(TypedDict):
    """One thing as it is written out; `ThingDocument` reads it back."""

    kind: str
    id: str
    created_at: str
    origin: NotRequired[str]
    revisions: list[WrittenRevision]


class WrittenNotebook(TypedDict):
    """Everything a store keeps, as it is written out; `NotebookDocument` reads it back."""

    format: str
    version: int
    things: list[WrittenThing]
    events: list[dict[str, object]]
    blobs: list[dict[str, str]]


class NotebookDocument(Document):
    """Everything a store keeps."""

    format: Literal["obverse-notebook"]
    version: Literal[1]
    # A list of a million wrong things is refused at the first of them.
    things: Annotated[tuple[ThingDocument, ...], FailFast()] = ()
    events: Annotated[tuple[EventDocument, ...], FailFast()] = ()
    blobs: Annotated[tuple[BlobDocument, ...], FailFast()] = ()

    @model_validator(mode="after")
    def _once(self) -> Self:
        names = [(thing.kind, thing.id) for thing in self.things]
        if len(set(names)) != len(names):
            raise ValueError("the same thing stands twice")
        for run_id, events in self.runs().items():
            if [event.seq for event in events] != list(range(1, len(events) + 1)):
                raise ValueError(f"the events of run {run_id!r} must count from 1 without gaps")
            if len({event.event_id for event in events}) != len(events):
                raise ValueError(f"an event of run {run_id!r} stands twice")
        return self

    def runs(self) -> dict[str, list[EventDocument]]:
        """The events by run, in order."""
        found: dict[str, list[EventDocument]] = {}
        for event in sorted(self.events, key=lambda event: event.seq):
            found.setdefault(event.run_id, []).append(event)
        return found


def read_notebook(document: Mapping[str, object]) -> NotebookDocument:
    """Check an exported notebook.

    Raises
    ------
    InputError
        With the place and reason of the first thing wrong.
    """
    return read_document(NotebookDocument, document, where="import")
