"""The first tables: things, their revisions, run events, blobs; rows that cannot be deleted."""

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

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


def upgrade() -> None:
    """Written out, not taken from the present tables: a migration must not change when they do."""
    sqlite = op.get_bind().dialect.name == "sqlite"
    json_type, blob_type = ("JSON", "BLOB") if sqlite else ("JSON", "BYTEA")
    is_object = (
        ", CONSTRAINT body_is_an_object CHECK (json_valid(body) AND json_type(body) = 'object')"
        if sqlite
        else ", CONSTRAINT body_is_an_object CHECK (json_typeof(body) = 'object')"
    )
    for kind in KINDS:
        op.execute(
            f"""CREATE TABLE {kind}s (
                id TEXT NOT NULL PRIMARY KEY,
                revision INTEGER NOT NULL,
                created_at TEXT NOT NULL,
                changed_at TEXT NOT NULL,
                retired_at TEXT,
                body {json_type} NOT NULL,
                CONSTRAINT id_length CHECK (length(id) BETWEEN 1 AND 120),
                CONSTRAINT revision_counts_from_one CHECK (revision >= 1)
                {is_object}
            )"""
        )
    op.execute(
        f"""CREATE TABLE revisions (
            kind TEXT NOT NULL,
            id TEXT NOT NULL,
            revision INTEGER NOT NULL,
            changed_at TEXT NOT NULL,
            retired_at TEXT,
            body {json_type} NOT NULL,
            PRIMARY KEY (kind, id, revision),
            CONSTRAINT known_kind CHECK (kind IN ({", ".join(f"'{kind}'" for kind in KINDS)}))
            {is_object}
        )"""
    )
    op.execute(
        f"""CREATE TABLE run_events (
            run_id TEXT NOT NULL,
            seq INTEGER NOT NULL,
            event_id TEXT NOT NULL,
            recorded_at TEXT NOT NULL,
            body {json_type} NOT NULL,
            PRIMARY KEY (run_id, seq),
            CONSTRAINT one_event_once UNIQUE (run_id, event_id),
            CONSTRAINT run_id_length CHECK (length(run_id) BETWEEN 1 AND 120),
            CONSTRAINT event_id_length CHECK (length(event_id) BETWEEN 1 AND 120),
            CONSTRAINT seq_counts_from_one CHECK (seq >= 1)
            {is_object}
        )"""
    )
    op.execute(
        f"""CREATE TABLE blobs (
            sha256 TEXT NOT NULL PRIMARY KEY,
            media_type TEXT NOT NULL,
            size_bytes INTEGER NOT NULL,
            created_at TEXT NOT NULL,
            data {blob_type} NOT NULL,
            CONSTRAINT sha256_length CHECK (length(sha256) = 64),
            CONSTRAINT size_is_true CHECK (length(data) = size_bytes)
        )"""
    )
    _forbid(sqlite, "DELETE", [f"{kind}s" for kind in KINDS] + ["revisions", "run_events", "blobs"])
    _forbid(sqlite, "UPDATE", ["revisions", "run_events", "blobs"])


def _forbid(sqlite: bool, what: str, tables: list[str]) -> None:
    """Make the file itself refuse to forget."""
    if not sqlite:
        op.execute(
            f"""CREATE FUNCTION obverse_no_{what.lower()}() RETURNS trigger LANGUAGE plpgsql AS
            $$ BEGIN RAISE EXCEPTION 'nothing is ever deleted or rewritten here'; END $$"""
        )
    for table in tables:
        body = (
            "BEGIN SELECT RAISE(ABORT, 'nothing is ever deleted or rewritten here'); END"
            if sqlite
            else f"FOR EACH ROW EXECUTE FUNCTION obverse_no_{what.lower()}()"
        )
        op.execute(f"CREATE TRIGGER {table}_no_{what.lower()} BEFORE {what} ON {table} {body}")
