"""People at one bench: names without passwords, so that films, strips and evenings show whose they are."""

from __future__ import annotations

import secrets
import unicodedata
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from obverse.foundation import ConflictError, InputError
from obverse.process import plain_name
from obverse.store import Repository, Store, Stored
from obverse.store.records import StoredRecord
from obverse.workbench.place import Place
from obverse.workbench.seek import by_name

# As long as the name of a device, which may show it.
MOST_CHARACTERS_OF_A_PERSON = 40
# A school's year is smaller.
MOST_PEOPLE = 500


def _printable(name: str) -> str:
    if not name.isprintable() or name != name.strip() or not plain_name(name):
        raise ValueError("a name has letters or figures, and no signs that cannot be printed")
    return name


class Person(StoredRecord):
    """Somebody who works at this bench."""

    what: Literal["person"] = "person"
    name: Annotated[str, Field(min_length=1, max_length=MOST_CHARACTERS_OF_A_PERSON), AfterValidator(_printable)]


def people_of(store: Store) -> Repository[Person]:
    """The people of a store."""
    return store.keeping("setting", Person, {"what": "person"})


class People(Place):
    """Who works at this bench, over the store."""

    def all(self) -> list[Stored[Person]]:
        """Everybody of this darkroom, in the order of their names; who came over from another home of it stands once."""
        each: dict[str, Stored[Person]] = {}
        for kept in people_of(self._store).all(own=True):
            each.setdefault(plain_name(kept.thing.name), kept)
        return sorted(each.values(), key=lambda kept: by_name(kept.thing.name))

    def knows(self, name: str) -> bool:
        """Whether somebody here has that name."""
        return any(kept.thing.name == name for kept in self.all())

    def add(self, name: str) -> Stored[Person]:
        """Write somebody down; a name stands once, however it is written.

        Raises
        ------
        InputError
            For a name that is none, or where there are too many.
        ConflictError
            If somebody has that name.
        """
        # What joins pictures or turns the way of reading is seen in no name, and no reason to refuse one.
        name = " ".join("".join(sign for sign in name if unicodedata.category(sign) != "Cf").split())
        if not name or len(name) > MOST_CHARACTERS_OF_A_PERSON or not name.isprintable() or not plain_name(name):
            raise InputError(
                f"a name has 1 to {MOST_CHARACTERS_OF_A_PERSON} signs, letters or figures among them",
                where="name",
                remedy="choose another",
            )
        with self._store.transaction():
            here = self.all()
            if any(plain_name(kept.thing.name) == plain_name(name) for kept in here):
                raise ConflictError(
                    f"somebody called {name!r} works here already",
                    where="name",
                    remedy="add a letter, or choose that name",
                )
            if len(here) >= MOST_PEOPLE:
                raise InputError(
                    f"{MOST_PEOPLE} people work here already", where="name", remedy="let somebody go first"
                )
            return people_of(self._store).put(Person(name=name), id=f"person.{secrets.token_hex(8)}")

    def let_go(self, person_id: str) -> None:
        """Somebody no longer works here; what they made keeps their name."""
        people = people_of(self._store)
        with self._store.transaction():
            gone = plain_name(people.get(person_id).thing.name)
            for kept in people.all():
                if plain_name(kept.thing.name) == gone:
                    people.retire(kept.id)
