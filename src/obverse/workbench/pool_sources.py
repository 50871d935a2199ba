"""Where documents of the pool come from: a file, a folder, an address. What cannot be read is told beside what can."""

from __future__ import annotations

import json
import os
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from http.client import HTTPException
from pathlib import Path
from typing import Any
from urllib.parse import urljoin, urlsplit

from obverse.foundation import InputError, ObverseError, TooLargeError, parse_json, read_document
from obverse.pool import PoolDocument, PriorDocument

# A document of two thousand strips of twenty readings is below this, and has fewer objects.
MEGABYTE = 1024 * 1024
MOST_BYTES, MOST_OBJECTS = 16 * MEGABYTE, 120_000
# A folder of this many darkrooms is larger than any club's; deeper ones are not walked.
MOST_FILES, MOST_FOLDERS_DEEP = 2_000, 4
# All of one pool together; what is beyond is told and left.
MOST_BYTES_OF_A_POOL = 256 * MEGABYTE
# How long an address may take to begin its answer, in seconds.
PATIENCE_S = 20
# What a folder on a web server names its documents in.
INDEX = "obverse-pool-index.json"
ENDING = ".json"


@dataclass(frozen=True)
class PoolSource:
    """One document, or the reason why it is none."""

    where: str
    document: PoolDocument | None
    sentence: str = ""


def read_pool(source: str) -> Iterator[PoolSource]:
    """The documents of a file, of a folder with all below it, or of an address (http, https).

    Raises
    ------
    InputError
        If there is no such file or folder, or the address is none.
    """
    if "://" in source:
        yield from _from_address(source)
        return
    path = Path(source)
    if path.is_dir():
        yield from _from_folder(path)
    elif path.is_file():
        yield _read(str(path), path)
    else:
        raise InputError("there is no such file or folder", where=source, remedy="check the name")


def document_of(data: bytes, where: str) -> PoolDocument:
    """The document in these bytes.

    Raises
    ------
    InputError
        If they are none, with the place and reason.
    """
    if len(data) > MOST_BYTES:
        raise TooLargeError(
            f"it is longer than any darkroom's strips ({MOST_BYTES // MEGABYTE} MB)",
            where=where,
            remedy="lend fewer films",
        )
    return read_document(PoolDocument, parse_json(data, where=where, most_objects=MOST_OBJECTS), where=where)


def prior_from(path: Path) -> PriorDocument:
    """The document of what many films taught in a file.

    Raises
    ------
    InputError
        If it is none, with the place and reason.
    """
    try:
        if path.stat().st_size > MEGABYTE:
            raise TooLargeError("it is longer than such a document", where=str(path), remedy="choose the other file")
        return prior_of(path.read_bytes(), str(path))
    except OSError as error:
        what = "it cannot be read as a file" if path.exists() else "there is no such file"
        raise InputError(what, where=str(path), remedy="check the name") from error


def prior_of(data: bytes, where: str) -> PriorDocument:
    """The document of what many films taught in these bytes.

    Raises
    ------
    InputError
        If they are none, with the place and reason.
    """
    return read_document(PriorDocument, parse_json(data, where=where, most_objects=MOST_FILES), where=where)


def index_of(folder: Path) -> bytes:
    """The index by which a folder can be read from a web server: names of its documents."""
    names = sorted(path.relative_to(folder).as_posix() for path in _files(folder) if path.name != INDEX)
    return (json.dumps({"format": "obverse-pool-index", "version": 1, "files": names}, indent=1) + "\n").encode()


def _read(where: str, path: Path) -> PoolSource:
    try:
        if path.stat().st_size > MOST_BYTES:
            return PoolSource(where, None, f"{where}: it is longer than {MOST_BYTES // MEGABYTE} MB and was not read.")
        return PoolSource(where, document_of(path.read_bytes(), where))
    except ObverseError as error:
        return PoolSource(where, None, error.sentence)
    except RecursionError:
        return PoolSource(where, None, f"{where}: it is nested too deeply and was not read.")
    except OSError as error:
        return PoolSource(where, None, f"{where}: the computer says: {error.strerror or error}.")


def _files(folder: Path) -> Iterator[Path]:
    """JSON files below a folder, in the order of their names. Links are not followed, so that none leads in a circle."""
    waiting = [(folder, 0)]
    while waiting:
        here, deep = waiting.pop()
        with os.scandir(here) as found:
            entries = sorted(found, key=lambda entry: entry.name)
        for entry in entries:
            if entry.is_file(follow_symlinks=False) and entry.name.endswith(ENDING):
                yield Path(entry.path)
        if deep < MOST_FOLDERS_DEEP:
            waiting += [
                (Path(entry.path), deep + 1)
                for entry in reversed(entries)
                if entry.is_dir(follow_symlinks=False) and not entry.name.startswith(".")
            ]


def _from_folder(folder: Path) -> Iterator[PoolSource]:
    read = 0
    for count, path in enumerate(_files(folder)):
        where = path.relative_to(folder).as_posix()
        if path.name == INDEX:
            continue
        if count >= MOST_FILES or read > MOST_BYTES_OF_A_POOL:
            yield PoolSource(where, None, f"{where} and what follows: the folder holds too much; add it in parts.")
            return
        read += path.stat(follow_symlinks=False).st_size
        yield _read(where, path)


def _from_address(address: str) -> Iterator[PoolSource]:
    if not address.endswith("/"):
        yield _fetched(address)
        return
    index = urljoin(address, INDEX)
    names = _names(parse_json(_fetch(index), where=index, most_objects=MOST_FILES), index)
    for name in names[:MOST_FILES]:
        target = urljoin(address, name)
        # An index names what lies beside it, nothing elsewhere.
        if not target.startswith(address):
            yield PoolSource(name, None, f"{name}: it does not lie in that folder and was not fetched.")
            continue
        yield _fetched(target)


def _names(index: Any, where: str) -> list[str]:
    files = index.get("files") if isinstance(index, dict) and index.get("format") == "obverse-pool-index" else None
    if not isinstance(files, list) or not all(isinstance(name, str) for name in files):
        raise InputError("it is no index of a pool", where=where, remedy="name one document of it")
    return list(dict.fromkeys(files))


def _fetched(address: str) -> PoolSource:
    try:
        return PoolSource(address, document_of(_fetch(address), address))
    except ObverseError as error:
        return PoolSource(address, None, error.sentence)


class _StayThere(urllib.request.HTTPRedirectHandler):
    """An address that sends elsewhere is not followed: what was asked for is what is read."""

    def redirect_request(self, *asked: Any, **more: Any) -> None:
        return None


def _fetch(address: str) -> bytes:
    """What stands at an address, if it is a web address and not too long."""
    if urlsplit(address).scheme not in ("http", "https"):
        raise InputError("only http and https are fetched", where=address, remedy="download it and give the file")
    opener = urllib.request.build_opener(_StayThere)
    try:
        with opener.open(address, timeout=PATIENCE_S) as answer:
            data: bytes = answer.read(MOST_BYTES + 1)
    except (urllib.error.URLError, HTTPException, OSError, ValueError) as error:
        reason = getattr(error, "reason", None) or error
        raise InputError(
            f"it could not be fetched ({reason})",
            where=address,
            remedy="check the address, or download it and give the file",
        ) from error
    return data
