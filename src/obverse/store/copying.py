"""All of a store into another, row by row, whatever database each stands on; and whether two hold the same."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select

from obverse.foundation import ConflictError
from obverse.store.store import Store
from obverse.store.tables import BLOBS, DARKROOMS, REVISIONS, RUN_EVENTS, metadata

# Rows read and written at once: few enough for a small memory.
ROWS_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class Contents:
    """What a store holds: how much, and a digest of every row.

    Parameters
    ----------
    digest : str
        SHA-256 in hex. Two stores of the same digest hold the same, on whatever database.
    """

    revisions: int
    events: int
    blobs: int
    digest: str


def contents_of(store: Store) -> Contents:
    """Read every row and every byte; the bytes of a blob must be those it is named by."""
    tally = _Tally()
    with store.snapshot() as connection:
        for table in metadata.sorted_tables:
            for rows in _rows(connection, table):
                tally.count(table, rows)
    return tally.contents()


def is_empty(store: Store) -> bool:
    """Whether nothing was ever kept there."""
    with store.snapshot() as connection:
        return not any(
            connection.execute(select(func.count()).select_from(table)).scalar()
            for table in metadata.sorted_tables
            if table is not DARKROOMS
        )


def copy_store(source: Store, target: Store) -> Contents:
    """Copy everything into an empty store, in one transaction, while others go on writing in the source.

    Returns
    -------
    Contents
        What was read of the source.

    Raises
    ------
    ConflictError
        If the target is not empty.
    """
    if not is_empty(target):
        raise ConflictError(
            "a notebook stands here already",
            where=target.place,
            remedy="name an empty folder with OBVERSE_HOME, or an empty database; to bring the two together, `obverse export` it from there and `obverse import` it here",
        )
    tally = _Tally()
    with source.snapshot() as there, target.transaction(), target.snapshot() as here:
        # The notebook keeps being the one it was: what was made in it stays its own.
        here.execute(delete(DARKROOMS))
        for table in metadata.sorted_tables:
            for rows in _rows(there, table):
                tally.count(table, rows)
                here.execute(insert(table), rows)
    return tally.contents()


class _Tally:
    def __init__(self) -> None:
        self._digest = hashlib.sha256()
        self._rows: dict[Table, int] = {}

    def count(self, table: Table, rows: list[dict[str, object]]) -> None:
        self._rows[table] = self._rows.get(table, 0) + len(rows)
        for row in rows:
            plain = {name: _told(value) for name, value in row.items()}
            self._digest.update(json.dumps([table.name, plain], sort_keys=True).encode())

    def contents(self) -> Contents:
        revisions, events, blobs = (self._rows.get(table, 0) for table in (REVISIONS, RUN_EVENTS, BLOBS))
        return Contents(revisions, events, blobs, self._digest.hexdigest())


def _told(value: Any) -> Any:
    return hashlib.sha256(value).hexdigest() if isinstance(value, bytes | memoryview) else value


def _rows(connection: Connection, table: Table) -> Iterator[list[dict[str, object]]]:
    """The rows of a table in the order of their keys, some at a time; of the blobs, one."""
    keys = list(table.primary_key.columns)
    if table is BLOBS:
        for name in connection.execute(select(BLOBS.c.sha256).order_by(BLOBS.c.sha256)).scalars().all():
            yield [dict(r) for r in connection.execute(select(BLOBS).where(BLOBS.c.sha256 == name)).mappings()]
        return
    result = connection.execute(select(table).order_by(*keys).execution_options(yield_per=ROWS_AT_ONCE))
    for part in result.mappings().partitions():
        yield [dict(row) for row in part]
