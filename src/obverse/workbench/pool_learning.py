"""What a whole pool teaches: films summed up one by one by as many hands as there are, then reduced to one document.

The work is cut into chunks by the content of the strips, so that the same pool is cut alike everywhere. What a chunk
gave is kept in a folder until all is done: whoever starts again goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import os
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from obverse.foundation import Document, InputError, JsonObject, ObverseError, parse_json
from obverse.inference import (
    MOST_DARKROOMS,
    OFFSETS,
    UNKNOWNS,
    Lesson,
    OtherDarkroom,
    learn_population,
    left_out,
    lesson_of,
    told_of,
)
from obverse.pool import (
    FEWEST_SERIES,
    MOST_SERIES,
    LearnedFrom,
    LearnedOffset,
    LearnedUnknown,
    LendingDarkroom,
    LentStrip,
    OnFilmsLeftOut,
    PoolDocument,
    PriorDocument,
    counted_here,
    merge_strips,
    seal_of,
)
from obverse.process import FilmStock, Trial, content_mark, has_evidence, plain_name
from obverse.system import put_in_place
from obverse.workbench.pool import series_of
from obverse.workbench.pool_sources import PoolSource, read_pool

# Films of one chunk: some seconds of work, so that little is lost with a hand that fails.
FILMS_OF_A_CHUNK = 20
# Chunks that wait at hand: more would only lie in memory.
MOST_WAITING = 64
# How often a broken set of processes is begun again before it is told.
MOST_BEGUN_AGAIN = 5
# The way of summing up; a part that was kept by another way is not used.
WAY = 2
# What every hand's arithmetic is told to use: one thread, for many hands on one machine are quicker so.
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")

Hands = Callable[[], Executor]


@dataclass(frozen=True)
class PooledFilm:
    """One film as all darkrooms of a pool know it: what one chunk's work is made of.

    Parameters
    ----------
    id : str
        Of the film and the content of its strips.
    packed : bytes
        Its strips, ready to travel.
    """

    id: str
    packed: bytes
    darkrooms: int
    strips: int


@dataclass(frozen=True)
class KnownPool:
    """All films of a pool, in the order of their content.

    Parameters
    ----------
    unsealed : int
        Documents without a seal.
    unread : tuple of str
        Why documents were left aside.
    """

    films: tuple[PooledFilm, ...]
    darkrooms: int
    unsealed: int
    unread: tuple[str, ...]

    @property
    def digest(self) -> str:
        """The mark of all the strips."""
        return hashlib.sha256("".join(film.id for film in self.films).encode()).hexdigest()


@dataclass(frozen=True)
class Learned:
    """What was learned, and how the work went.

    Parameters
    ----------
    document : PriorDocument
        Not yet sealed.
    unlearned : tuple of str
        Films that could not be learned from, with the reason.
    chunks, done_before : int
        How many there were, and how many had been done by an earlier run.
    """

    document: PriorDocument
    unlearned: tuple[str, ...]
    chunks: int
    done_before: int


def films_of_pool(sources: Iterable[PoolSource]) -> KnownPool:
    """The films of all documents, each once: corrections followed, withdrawals honoured, disputed strips left out.

    Parameters
    ----------
    sources : iterable of PoolSource
        They are read one after another; only the strips are held.
    """
    unsealed, unread = 0, []
    # What is held of a document: when it was made, by whom, its films packed small.
    held: dict[str, list[tuple[datetime, str, str, bytes]]] = {}
    withdrawn: dict[str, set[str]] = {}
    for source in sources:
        document = source.document
        if document is None:
            unread.append(source.sentence)
            continue
        seal = seal_of(document)
        if seal == "changed":
            unread.append(f"{source.where}: it was changed since it was sealed and was left aside.")
            continue
        unsealed += seal == "none"
        # Under another key it is another darkroom: nobody speaks for one whose key they do not hold.
        darkroom = f"{document.darkroom.id} {document.darkroom.public_key}"
        withdrawn.setdefault(darkroom, set()).update(document.withdrawn)
        for film, packed in _packed(document):
            held.setdefault(film, []).append((document.made_at, darkroom, source.where, packed))
    films = (_known(given, withdrawn) for given in held.values())
    ordered = tuple(sorted((one for one in films if one is not None), key=lambda one: one.id))
    rooms = {darkroom for given in held.values() for _, darkroom, _, _ in given}
    return KnownPool(ordered, len(rooms), unsealed, tuple(unread))


def _packed(document: PoolDocument) -> Iterator[tuple[str, bytes]]:
    """Each film of a document by its name and speed, packed small."""
    for lent in document.films:
        trials = [
            strip.model_copy(update={"trial": counted_here(strip.trial, document.counted_in)}) for strip in lent.strips
        ]
        body = {
            "film": lent.film.model_copy(update={"note": ""}).model_dump(mode="json"),
            "strips": [strip.model_dump(mode="json") for strip in trials],
        }
        yield f"{plain_name(lent.film.name)} {lent.film.box_speed:g}", zlib.compress(_written(body))


def _written(body: object) -> bytes:
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False).encode()


def _known(given: Sequence[tuple[datetime, str, str, bytes]], withdrawn: dict[str, set[str]]) -> PooledFilm | None:
    """One film as its darkrooms know it; None where nothing was seen on any strip."""
    rooms: dict[str, tuple[FilmStock, list[Trial]]] = {}
    strips: dict[str, tuple[tuple[LentStrip, ...], tuple[LentStrip, ...]]] = {}
    # The newest document of a darkroom has the last word.
    for _, darkroom, _, packed in sorted(given, key=lambda one: (one[0], one[1], one[2])):
        body = json.loads(zlib.decompress(packed))
        kept, disputed = strips.get(darkroom, ((), ()))
        lent = [LentStrip.model_validate(strip) for strip in body["strips"]]
        merged = merge_strips(kept, lent, disputed=disputed, withdrawn=withdrawn[darkroom])
        strips[darkroom] = merged.strips, merged.disputed
        doubted = {strip.id for strip in merged.disputed}
        counting = [strip.trial for strip in merged.strips if strip.id not in doubted and has_evidence(strip.trial)]
        film = FilmStock.model_validate(body["film"])
        rooms[darkroom] = film, list({content_mark(trial): trial for trial in counting}.values())
    told = {darkroom: (film, sorted(trials, key=content_mark)) for darkroom, (film, trials) in rooms.items() if trials}
    if not told:
        return None
    # Most strips first; where two have as many, the order of their ids.
    ordered = sorted(told, key=lambda darkroom: (-len(told[darkroom][1]), darkroom))
    body = [
        {
            "darkroom": darkroom,
            "film": told[darkroom][0].model_dump(mode="json"),
            "trials": [_without_person(trial) for trial in told[darkroom][1]],
        }
        for darkroom in ordered[: 1 + MOST_DARKROOMS]
    ]
    text = _written(body)
    return PooledFilm(
        hashlib.sha256(text).hexdigest(), zlib.compress(text), len(ordered), sum(len(told[one][1]) for one in ordered)
    )


def _without_person(trial: Trial) -> JsonObject:
    return trial.model_copy(update={"person": "", "note": ""}).model_dump(mode="json", exclude_defaults=True)


def sum_up(chunk: Sequence[tuple[str, bytes]]) -> bytes:
    """Sum up the films of one chunk: what every hand does, in this process, in another, or on another machine.

    Parameters
    ----------
    chunk : sequence of (str, bytes)
        Ids and packed strips of films.

    Returns
    -------
    bytes
        JSON: the lessons, and why any film gave none.
    """
    lessons, unlearned = [], []
    for id, packed in chunk:
        body = json.loads(zlib.decompress(packed))
        try:
            here, *others = [
                (
                    one["darkroom"],
                    FilmStock.model_validate(one["film"]),
                    [Trial.model_validate(t) for t in one["trials"]],
                )
                for one in body
            ]
            elsewhere = [OtherDarkroom(name, tuple(trials), film.base_density) for name, film, trials in others]
            lessons.append(_body(lesson_of(id, series_of(here[1], here[2]), elsewhere)))
        except (ObverseError, ArithmeticError, ValueError, np.linalg.LinAlgError) as error:
            reason = error.sentence if isinstance(error, ObverseError) else str(error)
            unlearned.append(f"{body[0]['film']['name']}: {reason}")
    return _written({"way": WAY, "lessons": lessons, "unlearned": unlearned})


def learn(
    pool: KnownPool,
    *,
    darkroom: LendingDarkroom,
    made_at: datetime,
    hands: Hands,
    parts: Path,
    heard: Callable[[int, int], None] = lambda done, of: None,
) -> Learned:
    """Learn what the films of a pool have in common.

    Parameters
    ----------
    darkroom : LendingDarkroom
        Who learns.
    hands : callable
        Gives an executor; asked anew where one broke.
    parts : Path
        Folder in which each chunk is kept until all is done.
    heard : callable, optional
        Told after each chunk how many are done, and of how many.

    Raises
    ------
    InputError
        If there are too few films, or too many.
    """
    count = len(pool.films)
    if not FEWEST_SERIES <= count <= MOST_SERIES:
        raise InputError(
            f"it holds {count} film{'' if count == 1 else 's'} with strips, and it takes {FEWEST_SERIES} to {MOST_SERIES}",
            where="pool",
            remedy="fewer teach by themselves, once they are added"
            if count < FEWEST_SERIES
            else "learn from a part of it",
        )
    every = [(film.id, film.packed) for film in pool.films]
    chunks = [every[k : k + FILMS_OF_A_CHUNK] for k in range(0, count, FILMS_OF_A_CHUNK)]
    parts.mkdir(parents=True, exist_ok=True)
    files = [parts / f"{_name_of(chunk)}.json" for chunk in chunks]
    found = {k: part for k, file in enumerate(files) if (part := _kept(file, chunks[k])) is not None}
    done_before = len(found)
    waiting = [k for k in range(len(chunks)) if k not in found]
    for k, result in _by_all_hands(hands, chunks, waiting):
        put_in_place(files[k], result)
        part = _kept(files[k], chunks[k])
        if part is None:
            raise InputError("a part came back spoilt", where=str(files[k]), remedy="start again; it goes on from here")
        found[k] = part
        heard(len(found), len(chunks))
    lessons = [lesson for k in sorted(found) for lesson in found[k][0]]
    unlearned = tuple(sentence for k in sorted(found) for sentence in found[k][1])
    if len(lessons) < FEWEST_SERIES:
        raise InputError(
            f"only {len(lessons)} of its films can be learned from, and it takes {FEWEST_SERIES}",
            where="pool",
            remedy="add more films",
        )
    document = _document(pool, lessons, len(unlearned), darkroom, made_at)
    for file in files:
        file.unlink(missing_ok=True)
    if not any(parts.iterdir()):
        parts.rmdir()
    return Learned(document, unlearned, len(chunks), done_before)


def _name_of(chunk: Sequence[tuple[str, bytes]]) -> str:
    return hashlib.sha256("".join([str(WAY), *(id for id, _ in chunk)]).encode()).hexdigest()


def _kept(file: Path, chunk: Sequence[tuple[str, bytes]]) -> tuple[list[Lesson], list[str]] | None:
    """What an earlier run left of this chunk; None where there is nothing, or it is spoilt."""
    try:
        body = parse_json(file.read_bytes(), where=str(file))
        lessons = [_LessonWritten.model_validate(one).lesson() for one in body["lessons"]]
        unlearned = [str(one) for one in body["unlearned"]]
    except (OSError, ObverseError, LookupError, TypeError, ValueError):
        return None
    ids = {id for id, _ in chunk}
    whole = body.get("way") == WAY and {one.id for one in lessons} <= ids and len(lessons) + len(unlearned) == len(ids)
    return (lessons, unlearned) if whole else None


def _body(lesson: Lesson) -> JsonObject:
    return {
        "id": lesson.id,
        "strips": lesson.strips,
        "darkrooms": lesson.darkrooms,
        "of": lesson.of.tolist(),
        "value": lesson.value.tolist(),
        "offsets": lesson.offsets.tolist(),
    }


class _LessonWritten(Document):
    """A lesson in a file of a chunk; numbers that are none are refused with it."""

    id: str
    strips: int
    darkrooms: int
    of: list[list[float]]
    value: list[float]
    offsets: list[list[list[float]]]

    def lesson(self) -> Lesson:
        count = len(self.value)
        return Lesson(
            self.id,
            self.strips,
            np.array(self.of, dtype=float).reshape(count, len(UNKNOWNS)),
            np.array(self.value, dtype=float),
            np.array(self.offsets, dtype=float).reshape(count, self.darkrooms, len(OFFSETS)),
        )


def _by_all_hands(
    hands: Hands, chunks: Sequence[Sequence[tuple[str, bytes]]], waiting: Sequence[int]
) -> Iterator[tuple[int, bytes]]:
    """The chunks as they are done. Where the hands break, as when one is killed, what is left is begun again."""
    left, broken = list(waiting), 0
    while left:
        todo = iter(tuple(left))
        try:
            with hands() as executor:
                running: dict[Future[bytes], int] = {}
                while True:
                    for k in islice(todo, MOST_WAITING - len(running)):
                        running[executor.submit(sum_up, chunks[k])] = k
                    if not running:
                        break
                    done = wait(running, return_when=FIRST_COMPLETED).done
                    # What is done is kept before a breakdown is heard of.
                    for future in sorted(done, key=lambda one: one.exception() is not None):
                        k, result = running.pop(future), future.result()
                        left.remove(k)
                        yield k, result
        except BrokenExecutor as error:
            broken += 1
            if broken > MOST_BEGUN_AGAIN:
                raise InputError(
                    "the processes that learn end again and again",
                    where="pool",
                    remedy="free some memory or give fewer --workers; the same command goes on where it stopped",
                ) from error


def processes(count: int) -> Hands:
    """So many processes of this machine.

    Returns
    -------
    callable
        Gives an executor.
    """

    def begin() -> Executor:
        with _one_thread():
            pool = ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"))
            # They start with the first work: now, while what they inherit says one thread.
            wait([pool.submit(os.getpid) for _ in range(count)])
        return pool

    return begin


@contextmanager
def _one_thread() -> Iterator[None]:
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextmanager
def cluster(address: str) -> Iterator[Hands]:
    """The workers of a Dask cluster that runs already; they need this program installed. Let go of at the end.

    Parameters
    ----------
    address : str
        Of its scheduler, such as ``"tcp://192.168.7.5:8786"``.

    Yields
    ------
    callable
        Gives an executor.

    Raises
    ------
    InputError
        If Dask is not installed, or nobody answers there.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise InputError(
            "a cluster needs Dask, which is not installed here",
            where="--cluster",
            remedy="install obverse[pool], or leave --cluster out: this machine's processes do the work",
        ) from None
    try:
        client = distributed.Client(address, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(
            f"no scheduler of a cluster answers there ({error})", where=address, remedy="check the address"
        ) from error

    def begin() -> Executor:
        # The work of a worker that is lost is given to another.
        executor: Executor = client.get_executor(pure=False, retries=MOST_BEGUN_AGAIN)
        return executor

    try:
        yield begin
    finally:
        client.close()


def _document(
    pool: KnownPool, lessons: Sequence[Lesson], unlearned: int, darkroom: LendingDarkroom, made_at: datetime
) -> PriorDocument:
    population, fifths = learn_population(lessons), left_out(lessons)
    told = told_of(lessons)
    return PriorDocument(
        darkroom=darkroom,
        made_at=made_at,
        learned_from=LearnedFrom(
            series=len(lessons),
            strips=sum(lesson.strips for lesson in lessons),
            darkrooms=pool.darkrooms,
            known_in_several=sum(film.darkrooms > 1 for film in pool.films),
            unsealed=pool.unsealed,
            left_aside=unlearned,
            digest=pool.digest,
        ),
        left_out=OnFilmsLeftOut(
            films=fifths.films,
            gain=fifths.gain,
            gain_sd=fifths.gain_sd,
            inside90=fifths.inside,
            inside90_in_general=fifths.inside_in_general,
        ),
        films=tuple(
            LearnedUnknown(name=name, shift=float(shift), spread=float(spread), told_by=by)
            for name, shift, spread, by in zip(UNKNOWNS, population.shift, population.spread, told, strict=True)
        ),
        darkrooms=tuple(
            LearnedOffset(name=name, spread=spread) for name, spread in zip(OFFSETS, population.offset_sds, strict=True)
        ),
    )


def read_folder(folder: str) -> KnownPool:
    """The films of a folder, a file or an address."""
    return films_of_pool(read_pool(folder))
