"""A whole notebook from elsewhere: what it holds is checked by the nouns before any of it is kept."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from obverse.foundation import InputError, JsonObject, read_document
from obverse.run import Event, RunPlan, advance, begin
from obverse.store import KINDS, Keep, Repository, Store
from obverse.store.exchange import RevisionDocument, ThingDocument, read_notebook
from obverse.workbench.names import heal_names
from obverse.workbench.people import people_of
from obverse.workbench.pool import own_darkroom_of, pool_pages_of
from obverse.workbench.pool_prior import priors_of
from obverse.workbench.projector import screens_of
from obverse.workbench.whose import whose_of


@dataclass(frozen=True, slots=True)
class Checked:
    """What a look through the notebook found: names told apart, blobs cleared that nothing named, what is unreadable."""

    renamed: int
    orphans: int
    unreadable: tuple[str, ...]


def check_notebook(store: Store) -> Checked:
    """Look everything through; mend what can be mended, tell the rest. Nothing that anything names is touched."""
    renamed, orphans = heal_names(store), store.clear_orphans()
    unreadable = []
    for kind in KINDS:
        for kept in store.list(kind, retired=True):
            keeping = _repository(store, kind, kept.id, kept.body)
            try:
                if keeping is not None:
                    keeping.get(kept.id)
            except InputError as error:
                unreadable.append(error.sentence)
    return Checked(renamed, orphans, tuple(unreadable))


def take_in_notebook(
    store: Store, document: JsonObject, *, mine: Collection[str] = (), keep: Keep | None = None
) -> dict[str, int]:
    """Import an exported notebook: all of it, or at the first contradiction nothing.

    Names that would stand twice are told apart; what was made in another person's darkroom is marked so.

    Parameters
    ----------
    mine : collection of str
        Ids of darkrooms that are this person's own from now on.
    keep : {"mine", "theirs"}, optional
        What becomes of things that went different ways here and there, as `Store.import_`.

    Raises
    ------
    InputError
        If it is no exported notebook, or a thing in it is not what its kind says.
    ConflictError
        If things went different ways and `keep` is not said; it names them.
    """
    notebook = read_notebook(document)
    checked = [(thing, [_checked_body(store, thing, one) for one in thing.revisions]) for thing in notebook.things]
    plans = {thing.id: bodies[-1]["plan"] for thing, bodies in checked if thing.kind == "run"}
    for run_id, events in notebook.runs().items():
        _check_events(run_id, plans.get(run_id), [event.body for event in events])
    with store.transaction():
        things = [thing.with_bodies(bodies).model_dump(mode="json") for thing, bodies in checked]
        new = store.import_({**document, "things": things}, mine=mine, keep=keep)
        heal_names(store)
    return new


def _checked_body(store: Store, thing: ThingDocument, revision: RevisionDocument) -> JsonObject:
    keeping = _repository(store, thing.kind, thing.id, revision.body)
    if keeping is None:
        # A setting of a newer program: kept as it is, read by nobody here.
        return revision.body
    # The noun writes every field, so that a page finds what it reads even where a hand-made file left a default out.
    return keeping.checked(revision.body, f"import, {thing.kind} {thing.id}, revision {revision.revision}")


def _repository(store: Store, kind: str, id: str, body: JsonObject) -> Repository[Any] | None:
    """What would keep such a body here."""
    by_kind: dict[str, Repository[Any]] = {
        "film": store.films,
        "product": store.products,
        "bottle": store.bottles,
        "tool": store.tools,
        "formula": store.formulas,
        "route": store.processes,
        "trial": store.trials,
        "reading": store.readings,
        "picture": store.pictures,
        "run": store.runs,
        "recipe": store.recipes,
        "jug": store.jugs,
        "slide": store.show_lists if body.get("what") == "list" else store.slides,
    }
    settings: dict[object, Repository[Any]] = {
        "series": store.plans,
        "shot_list": store.shot_lists,
        "demo": store.demo_marks,
        "projector": screens_of(store),
        "person": people_of(store),
        "pool": pool_pages_of(store),
        "darkroom": own_darkroom_of(store),
        "prior": priors_of(store),
        "whose": whose_of(store),
    }
    by_id: dict[str, Repository[Any]] = {"room": store.rooms, "camera-calibration": store.calibrations}
    if kind == "setting":
        return by_id.get(id) or settings.get(body.get("what"))
    return by_kind.get(kind)


def _check_events(run_id: str, plan: object, events: Sequence[JsonObject]) -> None:
    """A run must be tellable from its events; one without its plan is told nowhere and left as it is."""
    if plan is None:
        return
    where = f"import, run {run_id}"
    state = begin(read_document(RunPlan, plan, where=where))
    for place, body in enumerate(events, 1):
        event = read_document(Event, body, where=f"{where}, event {place}")
        try:
            state, _ = advance(state, event, event.at_s)
        except InputError as error:
            raise InputError(error.what, where=f"{where}, event {place}", remedy="export the notebook again") from error
