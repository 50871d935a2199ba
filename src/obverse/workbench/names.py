"""Names that a person tells things apart by: each stands once, whoever wrote it and wherever it came from."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from obverse.store import Store, Stored

if TYPE_CHECKING:
    from obverse.process import FilmStock
    from obverse.store.records import TrialEntry

# A line of a page.
MOST_CHARACTERS_OF_A_NAME = 120


def next_strip(known: set[str]) -> str:
    """The next strip by number that is not on the page yet."""
    number = len(known) + 1
    while f"strip {number}" in known:
        number += 1
    return f"strip {number}"


def meant(given: str, names: Collection[str]) -> str:
    """The name that was meant: as it stands, else the only one that differs from it in capitals; what was given where none does."""
    alike = [name for name in names if name.casefold() == given.casefold()]
    return alike[0] if given not in names and len(alike) == 1 else given


def apart(name: str, taken: Iterable[str]) -> str:
    """The name itself, or the first of "name (2)", "name (3)" that nobody has."""
    taken = set(taken)
    if name not in taken:
        return name
    number = 2
    while True:
        tail = f" ({number})"
        found = name[: MOST_CHARACTERS_OF_A_NAME - len(tail)] + tail
        if found not in taken:
            return found
        number += 1


def trials_apart(trials: Iterable[Stored[TrialEntry]]) -> list[Stored[TrialEntry]]:
    """Trials of one film in the order they were written down; of those with one name, the later ones are shown by another."""
    ordered = sorted(trials, key=lambda one: (one.thing.number, one.created_at, one.id))
    taken = {one.thing.trial.id for one in ordered}
    seen: set[str] = set()
    found = []
    for one in ordered:
        name = one.thing.trial.id
        if name in seen:
            name = apart(name, taken)
            taken.add(name)
            one = replace(one, thing=renamed_trial(one.thing, name))
        seen.add(name)
        found.append(one)
    return found


def films_apart(films: Iterable[Stored[FilmStock]]) -> list[Stored[FilmStock]]:
    """Films, oldest first; of those with one name, the later ones are shown by another."""
    kept = list(films)
    taken = {one.thing.name for one in kept}
    seen: set[str] = set()
    found = []
    for one in kept:
        name = one.thing.name
        if name in seen:
            name = apart(name, taken)
            taken.add(name)
            one = replace(one, thing=one.thing.model_copy(update={"name": name}))
        seen.add(name)
        found.append(one)
    return found


def renamed_trial(entry: TrialEntry, name: str) -> TrialEntry:
    """The same trial under another name."""
    return entry.model_copy(update={"trial": entry.trial.model_copy(update={"id": name})})


def heal_names(store: Store) -> int:
    """Give every name once: what stands twice under one name gets another, in a revision of its own.

    Returns
    -------
    int
        How many were renamed; 0 where nothing was to be done, and then nothing is written.
    """
    pages, films_doubled = store.doubled_names()
    if not pages and not films_doubled:
        return 0
    healed = 0
    with store.transaction():
        for film in sorted(pages):
            every = store.trials.all(retired=True, film=film)
            names = {one.id: one.thing.trial.id for one in every}
            for trial in trials_apart(every):
                if trial.thing.trial.id != names[trial.id]:
                    store.rename("trial", trial.id, trial.thing.trial.id)
                    healed += 1
        films = store.films.all()
        known = {one.id: one.thing.name for one in films}
        for film_shown in films_apart(films):
            if film_shown.thing.name != known[film_shown.id]:
                store.rename("film", film_shown.id, film_shown.thing.name)
                healed += 1
    return healed
