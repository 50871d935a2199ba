"""A program that keeps entries of every kind and is killed at random moments; it says what became of them.

    python tests/faults/kill.py KILLS SEED FOLDER

A child is forked with everything loaded. It opens the notebook in FOLDER, sends entries to the pages as a browser
does, each under an id of its own, and tells of every answer. At a random moment it is ended by SIGKILL. The next
child first sends again, under its id, the entry that had no answer. In the end all is counted: what was answered is
kept, once; no picture's bytes lie there without a record; the file is whole. One JSON document is printed.
"""

from __future__ import annotations

import gc
import io
import json
import os
import random
import select
import signal
import sqlite3
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from fastapi.testclient import TestClient

import obverse.workbench.booking
import obverse.workbench.camera  # noqa: F401
from obverse.capture import save_tiff
from obverse.process import FilmStock, Recipe, named_aim
from obverse.process.catalog import formulas, routes
from obverse.web.app import create_app
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.recipes import recipe_text

FILM = {"name": "a 100-speed grey-base film", "box_speed": 100}
ROUTE = "iron_ammonia_light"
FULL_ML = 900_000.0
MIXED = "/bench/mixed?formula=fixer_rapid&volume_ml=100"
KINDS = (
    "trial",
    "film",
    "plan",
    "bottle",
    "recipe",
    "picture",
    "photo",
    "event",
    "booking",
    "pour",
    "reading",
    "slides",
)


def entries(seed: int, held: dict[str, str]) -> Iterator[tuple[str, str, str, dict[str, Any]]]:
    """Endless entries in a random order: kind, id, address, and what is sent."""
    rng = random.Random(seed)
    number = 0
    while True:
        kinds = list(KINDS)
        rng.shuffle(kinds)
        for kind in kinds:
            number += 1
            key = f"{kind}-{number}"
            yield kind, key, *_entry(kind, key, number, rng, held)


def _entry(kind: str, key: str, number: int, rng: random.Random, held: dict[str, str]) -> tuple[str, dict[str, Any]]:
    if kind == "trial":
        return f"/api/notebook/films/{held['film']}/trials", {
            "json": {"controls": {"first_developer_time_min": 9}, "note": key}
        }
    if kind == "film":
        return "/api/notebook/films", {"json": {"stock": {**FILM, "name": key}}}
    if kind == "plan":
        return f"/api/notebook/films/{held['film']}/plan", {"json": {"aim": ("scan", "light_table")[number % 2]}}
    if kind == "bottle":
        return "/shelf/bottles", {"data": {"name": "Fixer", "product": "fixer_ats_60wv", "note": key}}
    if kind == "recipe":
        return "/notebook/recipes", {"files": {"file": (f"{key}.json", recipe_of(key), "application/json")}}
    if kind in ("picture", "photo"):
        codes = np.random.default_rng(number).integers(0, 60_000, (24, 36, 3)).astype(np.uint16)
        data = save_tiff(codes)
        if kind == "picture":
            return "/api/light-table/pictures", {"files": {"files": (key, data, "image/tiff")}}
        return f"/api/sink/runs/{held['run']}/photo", {"files": {"picture": (key, data, "image/tiff")}}
    if kind == "event":
        event = {"event_id": key, "kind": "note", "text": key}
        return f"/api/sink/runs/{held['run']}/events", {"json": event}
    if kind == "booking":
        return MIXED, {"data": {}}
    if kind == "pour":
        return f"/api/care/jugs/{held['jug']}/pour", {"json": {"what": "fixer_rapid", "volume_ml": 1.0}}
    if kind == "reading":
        return "/api/light-table/reading", {"json": {"name": key, "patches": [{"log_exposure": 0, "density": 1}]}}
    return "/projector/slides/roll", {"data": {"roll": key, "frames": "2"}}


def recipe_of(name: str) -> bytes:
    """A recipe document of that name."""
    route = routes()[ROUTE]
    needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
    recipe = Recipe(
        name=name,
        film=FilmStock(**FILM),
        route=route,
        formulas=tuple(formulas()[key] for key in needed),
        aim=named_aim("projection"),
    )
    return recipe_text(recipe).encode()


def prepare(folder: Path) -> dict[str, str]:
    """An empty notebook with what the entries need."""
    bench = open_workbench(folder)
    held = {
        "film": bench.notebook.add_film(FILM).id,
        "run": bench.sink.begin({"route": ROUTE, "tank_ml": 500}),
        "jug": bench.care.begin_jug("F", 1_000_000),
    }
    bench.sink.record(held["run"], "start", {"kind": "started"})
    bench.shelf.add_generic("fixer_ats_60wv")
    held["stock"] = bench.shelf.add_bottle({"name": "stock", "product": "fixer_ats_60wv", "amount": FULL_ML})
    bench.close()
    return held


def child(folder: Path, seed: int, held: dict[str, str], done: int, tell: int) -> None:
    """Open, go on after `done` entries, tell each answer; until killed."""
    bench = open_workbench(folder)
    app = create_app(bench)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as web:
        # The framework builds its routes at the first request; that is start, not entry.
        web.get("/api/health")
        os.write(tell, b'["ready"]\n')
        for place, (_, key, url, what) in enumerate(entries(seed, held)):
            if place < done:
                continue
            answer = web.post(url, headers={"Idempotency-Key": key}, follow_redirects=False, **what)
            said = answer.headers.get("location") or answer.text
            os.write(tell, (json.dumps([key, answer.status_code, said]) + "\n").encode())


def warm_up(folder: Path) -> None:
    """Do once what every child would do for the first time, as it has nothing to do with what is kept."""
    bench = open_workbench(folder, url="sqlite://")
    with TestClient(create_app(bench), base_url="http://127.0.0.1") as web:
        web.get("/api/health")
    bench.close()
    # A child that looked through all this for what is not used any more would make a copy of every page of memory.
    gc.collect()
    gc.freeze()


def run(kills: int, seed: int, folder: Path) -> dict[str, Any]:
    """Kill so many times, then count."""
    held = prepare(folder)
    warm_up(folder)
    rng = random.Random(seed)
    answered: list[list[Any]] = []
    before_an_answer = 0
    starting = 0
    usual_s = 0.1
    for kill in range(kills):
        read, write = os.pipe()
        sys.stdout.flush()
        pid = os.fork()
        if pid == 0:
            os.close(read)
            signal.alarm(60)
            child(folder, seed, held, len(answered), write)
            os._exit(0)
        os.close(write)
        told = io.BytesIO()
        began = last = time.monotonic()
        # Killed in the middle of some entry: after so many answers, at a random moment of the next.
        answers_first, share = rng.randrange(4), rng.uniform(0, 1.2)
        # One in eight is killed while it starts, the others among their entries.
        until = began + (rng.uniform(0, 0.2) if kill % 8 == 7 else 60)
        while time.monotonic() < until:
            ready, _, _ = select.select([read], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                break
            data = os.read(read, 65536)
            if not data:
                break
            told.write(data)
            now = time.monotonic()
            answers = told.getvalue().count(b"\n") - 1
            if answers > 0:
                usual_s = 0.8 * usual_s + 0.2 * (now - last) / answers
            if answers >= answers_first and until > began + 10:
                until = now + share * usual_s
            last = now if answers == 0 else last
        os.kill(pid, signal.SIGKILL)
        while data := os.read(read, 65536):
            told.write(data)
        os.close(read)
        os.waitpid(pid, 0)
        lines = [json.loads(line) for line in told.getvalue().split(b"\n")[:-1]]
        new = [line for line in lines if line != ["ready"]]
        starting += not lines
        before_an_answer += bool(lines)
        answered += new
    return {
        "kills": kills,
        "killed_while_starting": starting,
        "killed_among_entries": before_an_answer,
        **judge(folder, seed, held, answered),
    }


def judge(folder: Path, seed: int, held: dict[str, str], answered: list[list[Any]]) -> dict[str, Any]:
    """Send the last entry again, then count every kind, by what stands in the notebook."""
    bench = open_workbench(folder)
    app = create_app(bench)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as web:
        sent = entries(seed, held)
        every = [next(sent) for _ in range(len(answered) + 1)]
        _, key, url, what = every[-1]
        last = web.post(url, headers={"Idempotency-Key": key}, follow_redirects=False, **what)
        answered = [*answered, [key, last.status_code, last.headers.get("location") or last.text]]
        before = _counts(bench, held)
        differently = 0
        for (_, key, url, what), (_, status, said) in list(zip(every, answered, strict=True))[
            :: max(1, len(every) // 60)
        ]:
            again = web.post(url, headers={"Idempotency-Key": key}, follow_redirects=False, **what)
            # The view of a run goes on; that it is the same event is told by its place.
            same = (
                again.json()["seq"] == json.loads(said)["seq"]
                if "seq" in said
                else (again.headers.get("location") or again.text) == said
            )
            differently += again.status_code != status or not same
        after = _counts(bench, held)
    wanted: dict[str, int] = dict.fromkeys(KINDS, 0)
    refused = [one for one in answered if one[1] not in (200, 303)]
    for kind, *_ in every:
        wanted[kind] += 1
    orphans = len(bench.store.orphans())
    doubled = bench.store.doubled_names()
    bench.close()
    with sqlite3.connect(folder / "notebook.sqlite") as raw:
        whole = raw.execute("PRAGMA integrity_check").fetchone()[0]
    return {
        "answered": len(answered),
        "refused": len(refused),
        "by_kind": {kind: {"answered": wanted[kind], "kept": after[kind]} for kind in KINDS},
        "lost": sum(max(0, wanted[kind] - after[kind]) for kind in KINDS),
        "doubled": sum(max(0, after[kind] - wanted[kind]) for kind in KINDS),
        "sent_again_at_the_end": {
            "answered_differently": differently,
            "kept_again": sum(after.values()) - sum(before.values()),
        },
        "orphans": orphans,
        "names_twice": bool(doubled[0]) or doubled[1],
        "integrity": whole,
    }


def _counts(bench: Workbench, held: dict[str, str]) -> dict[str, int]:
    """How many entries of each kind stand there; the same thing twice counts twice."""
    store = bench.store
    events = store.events(held["run"])
    left = store.get("bottle", held["stock"]).body["amount"]
    per_mix = _per_mix(bench)
    return {
        "trial": len(store.list("trial")),
        "film": len(store.list("film")) - 1,
        "plan": store.get("setting", f"series.{held['film']}").revision - 1,
        "bottle": sum(bool(kept.body["note"]) for kept in store.list("bottle")),
        "recipe": len(store.list("recipe")),
        "picture": len(store.list("picture")),
        "photo": sum(event.body["kind"] == "photo" for event in events),
        "event": sum(event.body["kind"] == "note" for event in events),
        "booking": round((FULL_ML - left) / per_mix),
        "pour": len(store.get("jug", held["jug"]).body["contents"]),
        "reading": len(store.list("reading")),
        "slides": len(store.list("slide")) // 2 + 1000 * (len(store.list("slide")) % 2),
    }


def _per_mix(bench: Workbench) -> float:
    return float(bench.bench.sheet("fixer_rapid", 100.0).amounts["fixer_ats_60wv"])


if __name__ == "__main__":
    print(json.dumps(run(int(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3]))))
