"""Where one stands: films, evenings, and the one thing to do next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from obverse.store import Store
from obverse.workbench.light_table import strip_of

MOST_STRIPS_SHOWN = 6
MOST_RUNS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class FilmLine:
    """One film as the start page shows it: when it was last worked on, its newest strips (densities above base)."""

    id: str
    name: str
    box_speed: float
    worked_on: str
    trials: int
    unread: int
    strips: tuple[tuple[str, tuple[float, ...]], ...]


@dataclass(frozen=True, slots=True)
class RunLine:
    """One evening at the sink."""

    id: str
    name: str
    status: str
    changed_at: str


@dataclass(frozen=True, slots=True)
class NextAction:
    """What to do next, why, and where."""

    title: str
    why: str
    href: str
    label: str


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one stands in the darkroom."""

    films: tuple[FilmLine, ...]
    runs: tuple[RunLine, ...]
    products: int
    recipes: int
    next: NextAction


def where_one_stands(store: Store) -> Standing:
    """Read it from the store; nothing is computed that takes time."""
    films = tuple(
        sorted((_film_line(store, kept) for kept in store.list("film")), key=lambda film: film.worked_on, reverse=True)
    )
    runs = tuple(_run_line(kept) for kept in reversed(store.list("run")))[:MOST_RUNS_SHOWN]
    products = len(store.list("product"))
    return Standing(films, runs, products, len(store.list("recipe")), _next(films, runs, products))


def _film_line(store: Store, film: Any) -> FilmLine:
    kept_trials = store.list("trial", film=film.id)
    worked_on = max(
        (kept.body.get("made_at") or kept.created_at.isoformat() for kept in kept_trials),
        default=film.created_at.isoformat(),
    )
    trials = [kept.body["trial"] for kept in kept_trials]
    read = [trial for trial in trials if trial["steps"]]
    strips = tuple(
        (trial["id"], tuple(strip_of([step["density"] for step in trial["steps"]], film.body.get("base_density"))))
        for trial in read[-MOST_STRIPS_SHOWN:]
    )
    unread = sum(1 for trial in trials if not (trial["steps"] or trial["grades"]))
    return FilmLine(film.id, film.body["name"], film.body["box_speed"], worked_on, len(trials), unread, strips)


def _run_line(run: Any) -> RunLine:
    body = run.body
    return RunLine(
        run.id,
        str(body.get("name") or body.get("title") or "an evening"),
        str(body.get("status", "")),
        run.changed_at.isoformat(),
    )


def _next(films: tuple[FilmLine, ...], runs: tuple[RunLine, ...], products: int) -> NextAction:
    for run in runs:
        if run.status in ("running", "paused"):
            return NextAction(
                f"Go on with {run.name}", "The run is open; nothing of it was lost.", f"/sink/{run.id}", "To the sink"
            )
    if not films:
        return NextAction(
            "Begin a film",
            "Name the film and what you want of it: to project, for the light table, or to scan.",
            "/notebook",
            "To the notebook",
        )
    unread = next((film for film in films if film.unread), None)
    if unread is not None:
        return NextAction(
            f"Read the last strip of {unread.name}",
            "It hangs there without a reading. A camera picture, a scanner file, a list or your eye will do.",
            "/light-table",
            "To the light table",
        )
    newest = films[0]
    if products == 0:
        return NextAction(
            "Fill the shelf",
            "Say what stands in your cupboard; then the routes that are open to you show themselves.",
            "/shelf",
            "To the shelf",
        )
    if not newest.trials:
        return NextAction(
            f"Plan the first strip of {newest.name}",
            "Nothing is known of it yet; the first strip teaches most.",
            f"/notebook/{newest.id}",
            "To its page",
        )
    return NextAction(
        f"See which strip of {newest.name} to try next",
        f"{newest.trials} strip{'s' if newest.trials != 1 else ''} taught something; the notebook proposes the next one, or says stop.",
        f"/notebook/{newest.id}",
        "To its page",
    )
