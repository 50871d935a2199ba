"""What very many films taught, adopted by a notebook: it competes with films in general, and may be put aside again."""

from __future__ import annotations

from typing import Literal

import numpy as np

from obverse.foundation import InputError
from obverse.inference import OFFSETS, UNKNOWNS, Population
from obverse.pool import PriorDocument, Seal, seal_of
from obverse.store import Repository, Store, Stored
from obverse.store.records import StoredRecord

ID = "prior"


class AdoptedPrior(StoredRecord):
    """The one document that this notebook has adopted."""

    what: Literal["prior"] = "prior"
    document: PriorDocument
    seal: Seal = "none"

    @property
    def sentence(self) -> str:
        """What it is and how far it may be believed, in words."""
        return said_of(self.document)


def priors_of(store: Store) -> Repository[AdoptedPrior]:
    """What a store has adopted, under the one id ``"prior"``."""
    return store.keeping("setting", AdoptedPrior, {"what": "prior"})


def said_of(document: PriorDocument) -> str:
    """What was learned, from what, and how it does on films left out.

    Returns
    -------
    str
        Two sentences.
    """
    learned, fifths = document.learned_from, document.left_out
    rooms = "1 darkroom" if learned.darkrooms == 1 else f"{learned.darkrooms} darkrooms"
    better = fifths.gain > 2 * fifths.gain_sd
    worse = fifths.gain < -2 * fifths.gain_sd
    judged = (
        "it foretells them better than films in general do"
        if better
        else "it foretells them worse than films in general do"
        if worse
        else "it foretells them about as well as films in general do"
    )
    return (
        f"Learned from {learned.strips} strips of {learned.series} films in {rooms}. On films left out {judged} (log density "
        f"{fifths.gain:+.2f} a film, standard error {fifths.gain_sd:.2f}); {100 * fifths.inside90:.0f} % of what their strips say lay "
        "in its 90 % intervals."
    )


def adopt(store: Store, document: PriorDocument, *, even_so: bool = False) -> Stored[AdoptedPrior]:
    """Let it count from now on; the one before is replaced, and stays in the book's history.

    Parameters
    ----------
    even_so : bool
        True adopts what was changed since it was sealed, as unsealed.

    Raises
    ------
    InputError
        If it was changed since it was sealed, or is of another version of the model.
    """
    seal: Seal = seal_of(document)
    if seal == "changed":
        if not even_so:
            raise InputError(
                "it was changed since it was sealed",
                where="prior",
                remedy="ask the sender for it anew, or adopt it even so, as unsealed",
            )
        seal = "none"
    population_of(document)
    kept = priors_of(store).find(ID)
    if kept is not None and kept.retired_at is not None:
        priors_of(store).restore(ID)
    return priors_of(store).put(AdoptedPrior(document=document, seal=seal), id=ID)


def adopted(store: Store) -> AdoptedPrior | None:
    """What counts now; None where nothing was adopted, or it was put aside."""
    kept = priors_of(store).find(ID)
    return None if kept is None or kept.retired_at is not None else kept.thing


def population_of(document: PriorDocument) -> Population:
    """What a document says, as the notebook takes it.

    Raises
    ------
    InputError
        If it speaks of other unknowns than this program's model has.
    """
    by_name = {one.name: one for one in document.films}
    offsets = {str(one.name): one.spread for one in document.darkrooms}
    if set(by_name) != set(UNKNOWNS):
        raise InputError(
            "it was learned with another version of the model",
            where="prior",
            remedy="learn it anew with this version: obverse pool learn FOLDER",
        )
    return Population(
        document.learned_from.series,
        np.array([by_name[name].shift for name in UNKNOWNS]),
        np.array([by_name[name].spread for name in UNKNOWNS]),
        tuple(offsets[name] for name in OFFSETS),
    )
