"""What was answered to an entry, so that one sent again is not done again; where a thing was made."""

import secrets
from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Written out, not taken from the present tables: a migration must not change when they do."""
    op.execute(
        """CREATE TABLE answers (
            request_id TEXT NOT NULL PRIMARY KEY,
            answered_at TEXT NOT NULL,
            answer JSON NOT NULL,
            CONSTRAINT request_id_length CHECK (length(request_id) BETWEEN 1 AND 200)
        )"""
    )
    op.execute(
        """CREATE TABLE darkrooms (
            id TEXT NOT NULL PRIMARY KEY,
            since TEXT NOT NULL,
            CONSTRAINT darkroom_length CHECK (length(id) <= 64)
        )"""
    )
    op.execute(
        """CREATE TABLE origins (
            kind TEXT NOT NULL,
            id TEXT NOT NULL,
            darkroom TEXT NOT NULL,
            PRIMARY KEY (kind, id)
        )"""
    )
    darkrooms = sa.table("darkrooms", sa.column("id"), sa.column("since"))
    op.bulk_insert(darkrooms, [{"id": secrets.token_hex(8), "since": datetime.now(UTC).isoformat()}])
    _let_orphans_go(op.get_bind().dialect.name == "sqlite")


def _let_orphans_go(sqlite: bool) -> None:
    """A blob may go only while no record and no event names it; everything else stays for ever."""
    refusal = "nothing is ever deleted or rewritten here"
    if sqlite:
        op.execute("DROP TRIGGER blobs_no_delete")
        op.execute(
            f"""CREATE TRIGGER blobs_no_delete BEFORE DELETE ON blobs
            WHEN EXISTS (SELECT 1 FROM revisions WHERE instr(body, OLD.sha256) > 0)
              OR EXISTS (SELECT 1 FROM run_events WHERE instr(body, OLD.sha256) > 0)
            BEGIN SELECT RAISE(ABORT, '{refusal}'); END"""
        )
        return
    op.execute("DROP TRIGGER blobs_no_delete ON blobs")
    op.execute(
        f"""CREATE FUNCTION obverse_only_orphans_go() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN
            IF EXISTS (SELECT 1 FROM revisions WHERE strpos(body::text, OLD.sha256) > 0)
               OR EXISTS (SELECT 1 FROM run_events WHERE strpos(body::text, OLD.sha256) > 0) THEN
                RAISE EXCEPTION '{refusal}';
            END IF;
            RETURN OLD;
        END $$"""
    )
    op.execute(
        "CREATE TRIGGER blobs_no_delete BEFORE DELETE ON blobs FOR EACH ROW EXECUTE FUNCTION obverse_only_orphans_go()"
    )
