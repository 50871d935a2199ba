"""Text in one order everywhere: a PostgreSQL server sorts it by its language, a SQLite file by its bytes."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Every column of text gets the order of bytes; nothing to do in a file."""
    if op.get_bind().dialect.name == "sqlite":
        return
    for table in sa.inspect(op.get_bind()).get_table_names():
        if table == "alembic_version":
            continue
        columns = sa.inspect(op.get_bind()).get_columns(table)
        changes = [
            f'ALTER COLUMN {column["name"]} TYPE TEXT COLLATE "C"'
            for column in columns
            if isinstance(column["type"], sa.Text)
        ]
        op.execute(f"ALTER TABLE {table} {', '.join(changes)}")
