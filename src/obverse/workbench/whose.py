"""Whose a film, a formula, a recipe, a process or a bottle is on a shared bench, and who else changed it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from obverse.store import Repository, Store
from obverse.store.records import StoredRecord
from obverse.workbench.people import MOST_CHARACTERS_OF_A_PERSON
from obverse.workbench.place import Place

Kind = Literal["film", "formula", "recipe", "process", "bottle"]
NameOfOne = Annotated[str, Field(max_length=MOST_CHARACTERS_OF_A_PERSON)]


class Whose(StoredRecord):
    """Who began a thing, and who else changed it last."""

    what: Literal["whose"] = "whose"
    person: NameOfOne = ""
    changed_by: NameOfOne = ""

    @property
    def sentence(self) -> str:
        """In words; empty where nobody said."""
        parts = [f"{self.person}'s" if self.person else "", f"changed by {self.changed_by}" if self.changed_by else ""]
        told = ", ".join(part for part in parts if part)
        # A name may end in a full stop of its own.
        return f"{told[:1].upper()}{told[1:].removesuffix('.')}." if told else ""


def whose_of(store: Store) -> Repository[Whose]:
    """Whose the things of a store are."""
    return store.keeping("setting", Whose, {"what": "whose"})


class Belongings(Place):
    """Whose is what, over the store."""

    def of(self, kind: Kind, id: str) -> Whose:
        """Whose a thing is; nobody's where nobody said."""
        kept = whose_of(self._store).find(_id(kind, id))
        return Whose() if kept is None else kept.thing

    def of_all(self, kind: Kind) -> dict[str, Whose]:
        """Whose the things of a kind are, by their ids; without those of which nobody said."""
        head = _id(kind, "")
        return {
            kept.id.removeprefix(head): kept.thing for kept in whose_of(self._store).all() if kept.id.startswith(head)
        }

    def touched(self, kind: Kind, id: str, person: str) -> None:
        """Write down who began a thing, or, where that was another, who changed it."""
        if not person:
            return
        before = self.of(kind, id)
        if before.person in ("", person):
            after = before.model_copy(update={"person": person})
        else:
            after = before.model_copy(update={"changed_by": person})
        if after != before:
            whose_of(self._store).put(after, id=_id(kind, id))


def _id(kind: Kind, id: str) -> str:
    return f"whose.{kind}.{id}"
