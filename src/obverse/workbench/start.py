"""Where one stands: films, evenings, and the one thing to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from obverse.process import FilmStock
from obverse.store import Store, Stored
from obverse.store.records import TrialEntry
from obverse.store.run_records import RunEntry
from obverse.workbench.duty import Duty
from obverse.workbench.light_table import strip_of
from obverse.workbench.names import films_apart, trials_apart
from obverse.workbench.sink import GOING

# What a first page has room for, the newest.
MOST_STRIPS_SHOWN = 6
# Two rows of three: the way through the darkroom stands below them, on a phone too.
MOST_FILMS_SHOWN = 6
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
class StandingNow:
    """Where one stands in the darkroom."""

    films: tuple[FilmLine, ...]
    going: tuple[RunLine, ...]
    runs: tuple[RunLine, ...]
    products: int
    recipes: int
    next: NextAction
    duties: tuple[Duty, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def films_shown(self) -> tuple[FilmLine, ...]:
        """The films that were worked on last."""
        return self.films[:MOST_FILMS_SHOWN]


def where_one_stands(store: Store, duties: Sequence[Duty] = ()) -> StandingNow:
    """Read it from the store; nothing is computed that takes time.

    Parameters
    ----------
    duties : sequence of Duty
        What must be done before anything else, as care tells it.
    """
    trials = store.trials.all()
    films = tuple(
        sorted(
            (
                _film_line(kept, trials_apart(one for one in trials if one.thing.film == kept.id))
                for kept in films_apart(store.films.all())
            ),
            key=lambda film: film.worked_on,
            reverse=True,
        )
    )
    runs = tuple(_run_line(kept) for kept in reversed(store.runs.all()))
    going = tuple(run for run in runs if run.status in GOING)
    rest = tuple(run for run in runs if run.status not in GOING)[:MOST_RUNS_SHOWN]
    products = len(store.products.all(own=True))
    return StandingNow(
        films,
        going,
        rest,
        products,
        len(store.recipes.all()),
        _next(films, going, products),
        tuple(duties),
        unread(store),
    )


def unread(store: Store) -> tuple[str, ...]:
    """What could not be read and was left out of the lists, each with the reason."""
    return tuple(f"{kind} {id}: {sentence}" for (kind, id), sentence in sorted(store.unreadable().items()))


def _film_line(film: Stored[FilmStock], kept_trials: Sequence[Stored[TrialEntry]]) -> FilmLine:
    worked_on = max(
        (kept.thing.made_at or kept.created_at.isoformat() for kept in kept_trials),
        default=film.created_at.isoformat(),
    )
    trials = [kept.thing.trial for kept in kept_trials]
    read = [trial for trial in trials if trial.steps]
    strips = tuple(
        (trial.id, tuple(strip_of([step.density for step in trial.steps], film.thing.base_density)))
        for trial in read[-MOST_STRIPS_SHOWN:]
    )
    unread = sum(1 for trial in trials if not (trial.steps or trial.grades))
    return FilmLine(film.id, film.thing.name, film.thing.box_speed, worked_on, len(trials), unread, strips)


def _run_line(run: Stored[RunEntry]) -> RunLine:
    status = "elsewhere" if run.elsewhere and run.thing.status in GOING else run.thing.status
    return RunLine(run.id, run.thing.name or "an evening", status, run.changed_at.isoformat())


def _next(films: tuple[FilmLine, ...], runs: tuple[RunLine, ...], products: int) -> NextAction:
    for run in runs:
        if run.status in GOING:
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
            "Say what stands in your cupboard; then the processes that are open to you show themselves.",
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
