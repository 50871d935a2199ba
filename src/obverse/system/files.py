"""Files: for their owner alone, on the disk before it is said, put in the place of another."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import BinaryIO

from obverse.foundation import InputError
from obverse.system.kind import THIS, Kind

# Rights as POSIX writes them: the owner reads and writes (and enters), everybody reads, everybody else's bits.
OWNER_ONLY = 0o600
FOLDER_OF_OWNER = 0o700
READABLE = 0o644
ANYBODY_ELSE = 0o077
# No two programs meet in a name of so many random bytes.
NAME_BYTES = 4
# What Windows says where another program holds the file open: access denied, sharing violation, user-mapped section.
HELD_OPEN = (5, 32, 1224)
# F_FULLFSYNC in sys/fcntl.h of macOS, where Python does not name it.
FULL_FSYNC = 51


def new_private_file(path: Path) -> BinaryIO:
    """Open a file that must not stand yet, to be written by its owner and read by nobody else.

    On Windows the rights of a file are those of its folder, and a home lies in the profile of its person.

    Parameters
    ----------
    path : Path
        Where it shall stand.

    Returns
    -------
    BinaryIO
        The open file.

    Raises
    ------
    FileExistsError
        If it stands already.
    """
    # Windows would turn line ends in a file that is not opened as binary; elsewhere there is no such flag.
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return os.fdopen(os.open(path, flags, OWNER_ONLY), "wb")


def make_private_folder(path: Path) -> None:
    """Make a folder for its owner alone where there is none, with those above it; one that stands keeps its rights.

    Parameters
    ----------
    path : Path
        Where it shall stand.

    Raises
    ------
    OSError
        As the computer says it.
    """
    path.mkdir(parents=True, exist_ok=True, mode=FOLDER_OF_OWNER)


def close_to_others(path: Path, kind: Kind = THIS) -> bool:
    """Take everybody else's rights from a file or folder of one's own.

    Nothing is done on Windows (see `new_private_file`), and nothing to what belongs to somebody else.

    Parameters
    ----------
    path : Path
        The file or folder.
    kind : {"linux", "macos", "windows", "other"}
        The system.

    Returns
    -------
    bool
        Whether anything was changed.

    Raises
    ------
    OSError
        As the computer says it.
    """
    if kind == "windows":
        return False
    found = path.stat()
    own = getattr(os, "getuid", lambda: found.st_uid)()
    if not found.st_mode & ANYBODY_ELSE or found.st_uid != own:
        return False
    path.chmod(FOLDER_OF_OWNER if path.is_dir() else OWNER_ONLY)
    return True


def flush_to_disk(path: Path, kind: Kind = THIS) -> None:
    """Have a file that was written by others on the disk.

    Parameters
    ----------
    path : Path
        The file.
    kind : {"linux", "macos", "windows", "other"}
        The system.

    Raises
    ------
    OSError
        As the computer says it.
    """
    # Windows flushes only what is open for writing.
    handle = os.open(path, (os.O_RDWR if kind == "windows" else os.O_RDONLY) | getattr(os, "O_BINARY", 0))
    try:
        _sync(handle, kind)
    finally:
        os.close(handle)


def put_in_place(path: Path, data: bytes, kind: Kind = THIS, *, private: bool = False) -> None:
    """Write a file wholly or not at all: a full disk, a power cut, a program that holds it open leave the old one as it was.

    Parameters
    ----------
    path : Path
        Where it shall stand.
    data : bytes
        What shall stand there.
    kind : {"linux", "macos", "windows", "other"}
        The system.
    private : bool
        For its owner alone; else everybody of this computer may read it.

    Raises
    ------
    InputError
        If another program holds the old one open, as viewers do on Windows.
    OSError
        As the computer says it.
    """
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(NAME_BYTES)}")
    try:
        with new_private_file(fresh) as file:
            file.write(data)
            file.flush()
            _sync(file.fileno(), kind)
        if kind != "windows" and not private:
            fresh.chmod(READABLE)
        os.replace(fresh, path)
    except BaseException as error:
        fresh.unlink(missing_ok=True)
        if kind == "windows" and getattr(error, "winerror", None) in HELD_OPEN and path.exists():
            raise InputError(
                "another program holds the file open",
                where=str(path),
                remedy="close it there (a viewer of PDF files keeps its file) and try again, or name another file",
            ) from error
        raise


def _sync(handle: int, kind: Kind) -> None:
    """To the disk itself: on macOS fsync(2) stops at the drive's own memory, F_FULLFSYNC does not."""
    if kind == "macos":
        import fcntl

        try:
            fcntl.fcntl(handle, getattr(fcntl, "F_FULLFSYNC", FULL_FSYNC))
            return
        except OSError:
            # A file system that does not know it; fsync is what is left.
            pass
    os.fsync(handle)
