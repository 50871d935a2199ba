"""The tables of the store, as the queries see them.

One table per kind of thing, all of the same shape; every revision of everything in `revisions`;
the events of a run in `run_events`; pictures and other bytes in `blobs`. `answers` holds what was
answered to each entry, under the id it was sent with; `darkrooms` the notebooks that are this person's
own, the oldest row being this very one; `origins` where the things were made that came from elsewhere.
The checks and the triggers that refuse to forget are written in the migrations, which make the tables.
"""

from __future__ import annotations

from sqlalchemy import JSON, Column, Integer, LargeBinary, MetaData, Table, Text

KINDS = (
    "film",
    "product",
    "bottle",
    "tool",
    "formula",
    "route",
    "trial",
    "reading",
    "picture",
    "run",
    "recipe",
    "jug",
    "slide",
    "setting",
)

# What the newest migration is called; a file that knows it needs no migrating.
NEWEST = "0003"

metadata = MetaData()

THINGS: dict[str, Table] = {
    kind: Table(
        f"{kind}s",
        metadata,
        Column("id", Text, primary_key=True),
        Column("revision", Integer, nullable=False),
        Column("created_at", Text, nullable=False),
        Column("changed_at", Text, nullable=False),
        Column("retired_at", Text),
        Column("body", JSON, nullable=False),
    )
    for kind in KINDS
}

REVISIONS = Table(
    "revisions",
    metadata,
    Column("kind", Text, primary_key=True),
    Column("id", Text, primary_key=True),
    Column("revision", Integer, primary_key=True),
    Column("changed_at", Text, nullable=False),
    Column("retired_at", Text),
    Column("body", JSON, nullable=False),
)

RUN_EVENTS = Table(
    "run_events",
    metadata,
    Column("run_id", Text, primary_key=True),
    Column("seq", Integer, primary_key=True),
    Column("event_id", Text, nullable=False),
    Column("recorded_at", Text, nullable=False),
    Column("body", JSON, nullable=False),
)

BLOBS = Table(
    "blobs",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("media_type", Text, nullable=False),
    Column("size_bytes", Integer, nullable=False),
    Column("created_at", Text, nullable=False),
    Column("data", LargeBinary, nullable=False),
)

ANSWERS = Table(
    "answers",
    metadata,
    Column("request_id", Text, primary_key=True),
    Column("answered_at", Text, nullable=False),
    Column("answer", JSON, nullable=False),
)

DARKROOMS = Table(
    "darkrooms",
    metadata,
    Column("id", Text, primary_key=True),
    Column("since", Text, nullable=False),
)

ORIGINS = Table(
    "origins",
    metadata,
    Column("kind", Text, primary_key=True),
    Column("id", Text, primary_key=True),
    Column("darkroom", Text, nullable=False),
)
