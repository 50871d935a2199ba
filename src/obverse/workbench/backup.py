"""A backup of the whole notebook: one file, made while the house is open, read back before it counts."""

from __future__ import annotations

import contextlib
import itertools
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from pydantic import AwareDatetime, Field

from obverse.foundation import Document, InputError, ObverseError, StoreError, parse_json, read_document
from obverse.store import Store, file_address, open_store
from obverse.store.copying import Contents, contents_of, copy_store, is_empty
from obverse.system import flush_to_disk, make_private_folder

# The house reminds after so long.
SQLITE_BEGINS = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat.html, 1.3
OLD = timedelta(days=30)
_MARK = "last-backup.json"
_NAME = "obverse-*.sqlite"


class Backup(Document):
    """A backup that was made and read back."""

    file: str = Field(min_length=1)
    made_at: AwareDatetime
    revisions: int = Field(ge=0)
    events: int = Field(ge=0)
    blobs: int = Field(ge=0)


def how_much(held: Backup | Contents) -> str:
    """How much a backup holds, in words."""
    parts = (_count(held.revisions, "entry", "entries"), _count(held.events, "run event"), _count(held.blobs, "file"))
    return ", ".join(parts)


def back_up(store: Store, folder: Path, home: Path, now: datetime) -> Backup:
    """Copy the notebook into a new file in `folder`, and read it back.

    Others go on writing meanwhile; the backup holds what stood at one moment. It is a notebook of its own: any
    obverse opens it.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    home : Path
        Where it is remembered, for the house to tell.

    Raises
    ------
    StoreError
        If the folder cannot be written, or what was read back is not what was copied; no file is left then.
    """
    try:
        make_private_folder(folder)
        with _part_of_a_free_name(folder, now) as (file, part):
            copied = _copied(store, part)
            _as_one_file(part)
            if _read_back(part) != copied:
                raise StoreError(
                    "the backup does not read back as it was written",
                    where=str(file),
                    remedy="check the disk, or name a folder on another one; no backup was made",
                )
            part.replace(file)
    except OSError as error:
        raise StoreError(
            f"the backup cannot be written ({error.strerror})", where=str(folder), remedy="name a folder you may write"
        ) from error
    made = Backup(
        file=str(file.resolve()), made_at=now, revisions=copied.revisions, events=copied.events, blobs=copied.blobs
    )
    _remember(home, made)
    return made


def restore(backup: Path, store: Store, home: Path) -> Contents:
    """Take a backup into an empty store, on whatever database, and read it back.

    Parameters
    ----------
    backup : Path
        The file, or a folder, of which the newest backup is taken. It is not changed.

    Raises
    ------
    InputError
        If there is no backup, or a notebook stands in the store already.
    StoreError
        If it is damaged; the store is left empty then.
    """
    file = _newest(backup) if backup.is_dir() else backup
    if not file.is_file():
        raise InputError("there is no such backup", where=str(backup), remedy="name a file that `obverse backup` wrote")
    with tempfile.TemporaryDirectory(prefix=".restore-", dir=home) as folder:
        # A copy is opened: a backup of an older obverse is brought up to date, and must stay as it was.
        twin = Path(folder) / "backup.sqlite"
        shutil.copyfile(file, twin)
        # Looked at before it is opened: what spoilt pages hold is not for the store to guess from.
        _check_whole(twin, told=file)
        source = open_store(file_address(twin))
        try:
            if is_empty(source):
                raise InputError("this backup is empty", where=str(file), remedy="name another one")
            copied = copy_store(source, store)
        finally:
            source.close()
    if contents_of(store) != copied:
        raise StoreError("what was restored does not read back as it was", where=store.place, remedy="check the disk")
    return copied


def last_backup(home: Path) -> Backup | None:
    """The backup that was made last from this computer; None where there was none."""
    try:
        return read_document(Backup, parse_json((home / _MARK).read_bytes()))
    except (OSError, InputError):
        # It only reminds: without it the house says that it knows of none.
        return None


@dataclass(frozen=True, slots=True)
class BackupLine:
    """What the house says of backups.

    Parameters
    ----------
    made_on : str
        The day of the last one; empty where there is none.
    folder : str
        Where it stands.
    days : int
        `OLD` where it is older than that; else 0.
    """

    made_on: str = ""
    folder: str = ""
    days: int = 0


def backup_line(store: Store, home: Path, now: datetime) -> BackupLine | None:
    """When the last backup was made from this computer; None where there is nothing to lose yet."""
    if is_empty(store):
        return None
    last = last_backup(home)
    if last is None:
        return BackupLine()
    days = OLD.days if now - last.made_at > OLD else 0
    return BackupLine(f"{last.made_at.astimezone():%Y-%m-%d}", str(Path(last.file).parent), days)


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


@contextlib.contextmanager
def _part_of_a_free_name(folder: Path, now: datetime) -> Iterator[tuple[Path, Path]]:
    """A name of one's own, and one to write under until the file is whole; nothing is left of it if it does not become whole."""
    file, part = _taken_name(folder, now)
    try:
        yield file, part
    finally:
        for name in ("", "-wal", "-shm", "-journal"):
            part.with_name(part.name + name).unlink(missing_ok=True)


def _taken_name(folder: Path, now: datetime) -> tuple[Path, Path]:
    stem = f"obverse-{now.astimezone():%Y-%m-%d-%H%M%S}"
    places = itertools.count()
    while True:
        place = next(places)
        file = folder / f"{stem}{f'-{place:03}' if place else ''}.sqlite"
        part = file.with_name(f".{file.name}.part")
        # Whoever makes the part has the name; another backup of the same second takes the next one.
        with contextlib.suppress(FileExistsError):
            part.touch(exist_ok=False)
            if not file.exists():
                return file, part
            part.unlink()


def _copied(store: Store, part: Path) -> Contents:
    target = open_store(file_address(part))
    try:
        return copy_store(store, target)
    finally:
        target.close()


def _as_one_file(part: Path) -> None:
    """Leave no log beside it, and have it on the disk."""
    with contextlib.closing(sqlite3.connect(part)) as raw:
        raw.execute("PRAGMA journal_mode = DELETE")
    flush_to_disk(part)


def _read_back(part: Path) -> Contents:
    _check_whole(part, told=part)
    store = open_store(file_address(part))
    try:
        found = contents_of(store)
    finally:
        store.close()
    _as_one_file(part)
    return found


def _check_whole(file: Path, *, told: Path) -> None:
    with file.open("rb") as opened:
        if opened.read(len(SQLITE_BEGINS)) != SQLITE_BEGINS:
            raise InputError(
                "it is no backup",
                where=str(told),
                remedy="name a file that `obverse backup` wrote; what `obverse export` wrote is taken in with `obverse import`",
            )
    try:
        with contextlib.closing(sqlite3.connect(file)) as raw:
            sound = raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    except sqlite3.DatabaseError:
        sound = False
    if not sound:
        raise StoreError("the backup is damaged", where=str(told), remedy="take the one before it")


def _newest(folder: Path) -> Path:
    found = sorted(folder.glob(_NAME), key=lambda file: file.stem)
    if not found:
        raise InputError("no backup stands in this folder", where=str(folder), remedy="name the file itself")
    return found[-1]


def _remember(home: Path, made: Backup) -> None:
    # A full home is no reason to call a whole backup none.
    with contextlib.suppress(OSError, ObverseError):
        fresh = home / f".{_MARK}"
        fresh.write_text(made.model_dump_json(indent=1), encoding="utf-8")
        fresh.replace(home / _MARK)
