"""Learning from a whole pool: time and memory at 100, 1,000 and 10,000 films, the same answer for any number of hands, and a cluster of which a worker is killed.

    python -m benchmarks.bench_pool_learn FOLDER --films 100,1000 --workers 1,2
    python -m benchmarks.bench_pool_learn FOLDER --films 100 --cluster      (needs obverse[pool])

The films are invented: of the process model with a population of their own, which the answer is compared with, three to
five strips each; each tenth film is known in a second darkroom. With `--departing` they depart from the process model
as the notebook believes that films do; otherwise they obey it, which the notebook believes of none.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import resource
import signal
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from obverse.inference import UNKNOWNS
from obverse.inference.law import KNEE_MEAN, Law, curves_of
from obverse.inference.readings import STRIP_SD
from obverse.model import PRIOR_MEAN, PRIOR_SD, SimulatedFilm, simulate_series
from obverse.model.simulate import WEDGE
from obverse.pool import LendingDarkroom, LentFilm, LentStrip, PoolDocument
from obverse.process import CONTROLS, TIME, ControlVector, FilmStock, Patch, Series, strip_id
from obverse.reference import number
from obverse.workbench.pool_learning import KnownPool, Learned, cluster, learn, processes, read_folder

# The invented population: this far off films in general, and so wide, in spreads of films in general.
SHIFT, SPREAD = 0.6, 0.4
FILMS_OF_A_DOCUMENT = 50
EVERY_TENTH = 10
# Seeds of the second darkroom's strips.
EVERY_FILM = 100_000
MADE_AT = datetime(2031, 5, 1, tzinfo=UTC)
KB = 1024
# The first three controls are varied.
CONTROLS_VARIED = np.arange(len(CONTROLS)) < 3
MOST_DENSITY = 6.0


def fill(folder: Path, films: int, departing: bool = False) -> None:
    """Write the invented pool."""
    folder.mkdir(parents=True, exist_ok=True)
    for first in range(0, films, FILMS_OF_A_DOCUMENT):
        for room in ("a", "b"):
            numbers = range(first, min(first + FILMS_OF_A_DOCUMENT, films))
            lent = [_film(k, room, departing) for k in numbers if room == "a" or k % EVERY_TENTH == 0]
            document = PoolDocument(darkroom=LendingDarkroom(id=f"{room}{first}"), made_at=MADE_AT, films=tuple(lent))
            (folder / f"{room}{first}.json").write_text(document.model_dump_json())


def _film(k: int, room: str, departing: bool) -> LentFilm:
    rng = np.random.default_rng([k, 20])
    own = PRIOR_MEAN + PRIOR_SD * (SHIFT + SPREAD * rng.standard_normal(len(PRIOR_MEAN)))
    film = SimulatedFilm(f"film {k}", 100.0, own)
    made = np.random.default_rng([k, ord(room)])
    recipes = [
        {
            "first_developer_time_min": float(made.integers(6, 17)),
            "solvent_ml_per_l": float(made.integers(0, 13)),
            "alkali_ml_per_l": float(made.integers(0, 13)),
        }
        for _ in range(made.integers(3, 6))
    ]
    seed = k if room == "a" else k + EVERY_FILM
    series = _departing(film, recipes, k, seed) if departing else simulate_series(film, recipes, seed=seed)
    stock = FilmStock(name=f"film {k}", box_speed=100, base_density=series.film.base_density)
    return LentFilm(
        film=stock,
        strips=tuple(LentStrip(id=strip_id(room, trial, f"{k}"), trial=trial) for trial in series.trials),
    )


def _departing(film: SimulatedFilm, recipes: list[dict[str, float]], k: int, seed: int) -> Series:
    """Strips of a film with knees and departures of its own, each strip with its own errors."""
    series = simulate_series(film, recipes, seed=seed)
    law = Law(CONTROLS_VARIED)
    own, strips = np.random.default_rng([k, 21]), np.random.default_rng([seed, 22])
    beyond = np.concatenate([KNEE_MEAN, np.zeros(law.size - len(film.coordinates) - len(KNEE_MEAN))])
    beyond = beyond + law.departure_sd() * own.standard_normal(len(beyond))
    unknowns = np.concatenate([film.coordinates, beyond])[None]
    made = ControlVector.of(recipes)
    done = np.maximum(made.values + made.dosing_sd() * strips.standard_normal(made.values.shape), 0.0)
    done[:, CONTROLS.place(TIME)] *= np.exp(number("notebook.strip_sd.activity") * strips.standard_normal(len(recipes)))
    settings = law.settings(unknowns, done) + STRIP_SD * strips.standard_normal((1, len(recipes), len(STRIP_SD)))
    place = number("notebook.strip_sd.log_exposure") * strips.standard_normal(len(recipes))
    zero = number("notebook.reading_offset_sd") * strips.standard_normal(len(recipes))
    density = [curves_of(settings[:, [j]], unknowns, WEDGE + place[j])[0, 0] + zero[j] for j in range(len(recipes))]
    reading = number("notebook.reading_sd")
    trials = [
        trial.model_copy(
            update={
                "steps": tuple(
                    Patch(
                        log_exposure=float(x),
                        density=round(float(np.clip(d, 0.0, MOST_DENSITY)), 4),
                        density_sd=reading,
                    )
                    for x, d in zip(WEDGE, read + reading * strips.standard_normal(len(WEDGE)), strict=True)
                )
            }
        )
        for trial, read in zip(series.trials, density, strict=True)
    ]
    return series.model_copy(update={"trials": tuple(trials)})


def once(pool: KnownPool, hands: Any, parts: Path, heard: Any = lambda done, of: None) -> Learned:
    return learn(pool, darkroom=LendingDarkroom(id="learner"), made_at=MADE_AT, hands=hands, parts=parts, heard=heard)


def alone(folder: Path, workers: int, answer: Any) -> None:
    """In a process of its own, so that its memory is its own."""
    start, worked = time.perf_counter(), time.process_time()
    pool = read_folder(str(folder))
    read_s = time.perf_counter() - start
    with tempfile.TemporaryDirectory() as parts:
        learned = once(pool, processes(workers), Path(parts) / "parts")
    answer.send(
        (
            read_s,
            time.perf_counter() - start,
            time.process_time() - worked,
            resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime,
            resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KB,
            resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / KB,
            learned.document.model_dump_json(),
        )
    )


def measure(folder: Path, workers: int) -> str:
    here, there = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=alone, args=(folder, workers, there))
    process.start()
    read_s, took, own, children, memory, of_a_worker, document = here.recv()
    process.join()
    films = json.loads(document)["learned_from"]["series"]
    print(
        f"{films:6} films, {workers} workers: reading {read_s:6.1f} s, all {took:7.1f} s, processor {own:6.1f} + {children:7.1f} s, "
        f"memory {memory:5.0f} MB, of a worker {of_a_worker:4.0f} MB",
        flush=True,
    )
    return str(document)


def judge(document: str) -> None:
    """How near the invented population it comes, where at least half of the films told something."""
    body = json.loads(document)
    rows = [row for row in body["films"] if row["name"] in UNKNOWNS[: len(PRIOR_MEAN)]]
    told = [row for row in rows if row["told_by"] > body["learned_from"]["series"] / 2]
    shift = np.array([row["shift"] for row in told])
    spread = np.array([row["spread"] for row in told])
    print(
        f"       true middle {SHIFT}, learned {np.median(shift):.2f} ({shift.min():.2f} to {shift.max():.2f}); true spread {SPREAD}, "
        f"learned {np.median(spread):.2f} ({spread.min():.2f} to {spread.max():.2f}), of {len(told)} unknowns; left out: {body['left_out']}"
    )


def killed(folder: Path, expected: str | None) -> None:
    """A cluster of three on this machine; one worker is killed while it works."""
    from distributed import Client, LocalCluster

    pool = read_folder(str(folder))
    with (
        LocalCluster(n_workers=3, threads_per_worker=1, dashboard_address=None, silence_logs=50) as local,
        Client(local.scheduler_address, set_as_default=False) as client,
        cluster(local.scheduler_address) as hands,
        tempfile.TemporaryDirectory() as parts,
    ):
        busy: list[int] = []

        def kill_one(done: int, of: int) -> None:
            if not busy:
                at_work = [address for address, tasks in client.processing().items() if tasks]
                busy.append(next(w.process.pid for w in local.workers.values() if w.worker_address in at_work))
                os.kill(busy[0], signal.SIGKILL)
                print(f"       after {done} of {of} parts worker {busy[0]} was killed at its work")

        start = time.perf_counter()
        learned = once(pool, hands, Path(parts) / "parts", kill_one)
        print(f"cluster of three, one killed: {time.perf_counter() - start:.1f} s, {learned.chunks} parts")
    document = learned.document.model_dump_json()
    print("       same answer as processes:", "not compared" if expected is None else document == expected)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--films", default="100,1000")
    parser.add_argument("--workers", default="1,2")
    parser.add_argument("--cluster", action="store_true")
    parser.add_argument("--departing", action="store_true")
    args = parser.parse_args()
    for films in map(int, args.films.split(",")):
        folder = args.folder / f"{films}{' departing' if args.departing else ''}"
        if not folder.exists():
            fill(folder, films, args.departing)
        documents = [measure(folder, workers) for workers in map(int, args.workers.split(","))]
        judge(documents[0])
        if len(documents) > 1:
            print("       same answer for each number of workers:", len(set(documents)) == 1)
        if args.cluster:
            killed(folder, documents[0])


if __name__ == "__main__":
    main()
