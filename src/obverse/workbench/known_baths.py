"""Which formulas and processes are known in this darkroom: those of the house, and those of the person."""

from __future__ import annotations

from typing import TYPE_CHECKING

from obverse.foundation import InputError
from obverse.process.catalog import choice_among, formulas, routes

if TYPE_CHECKING:
    from obverse.process import Formula, Process
    from obverse.store import Store


def known_processes(store: Store) -> dict[str, Process]:
    """All that may be chosen at a plan: the person's own by id, then those that are shipped, by key."""
    return {**{kept.id: kept.thing for kept in store.processes.all()}, **routes()}


def known_formulas(store: Store) -> dict[str, Formula]:
    """The formulas of the house, the person's own, and the baths that come with the person's processes.

    What was put aside is among them: a bath that was mixed by it may still stand.
    """
    with_processes = {
        formula.key: formula for kept in store.processes.all(retired=True) for formula in kept.thing.formulas
    }
    own = {kept.id: kept.thing for kept in store.formulas.all(retired=True)}
    return {**formulas(), **with_processes, **own}


def known_process(store: Store, key: str) -> Process:
    """One process, by its id or the key of a shipped one; what was put aside too.

    Raises
    ------
    InputError
        If there is none.
    """
    if key in routes():
        return routes()[key]
    kept = store.processes.find(key) if key else None
    if kept is None:
        raise InputError(
            f"no process is called {key!r}" if key else "no process was chosen",
            where="process",
            remedy=choice_among(known_processes(store)) if key else "choose one from the list",
        )
    return kept.thing
