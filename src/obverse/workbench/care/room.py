"""The room of one person, and what of theirs must not be in it."""

from __future__ import annotations

from obverse.foundation import InputError
from obverse.process import Formula, Product
from obverse.process.catalog import choice_among, formulas
from obverse.safety import ROOM_C, Room
from obverse.workbench.known_baths import known_formulas
from obverse.workbench.my_room import ROOM, room_of
from obverse.workbench.place import Place


class RoomPlace(Place):
    """The room, and what the person owns."""

    def room(self) -> Room:
        """The person's room; before it is entered, a small bathroom with its door closed."""
        return room_of(self._store)

    def room_revision(self) -> int:
        """The revision of the room; 0 before it is entered."""
        kept = self._store.rooms.find(ROOM)
        return 0 if kept is None else kept.revision

    def set_room(
        self,
        volume_m3: float,
        air_changes_per_h: float,
        temperature_c: float = ROOM_C,
        *,
        expected_revision: int | None = None,
    ) -> Room:
        """Keep what the room is like."""
        # Records of the store know readings and runs; nothing else here needs to load those.
        from obverse.store.records import RoomEntry

        room = Room(volume_m3, air_changes_per_h, temperature_c)
        entry = RoomEntry(volume_m3=volume_m3, air_changes_per_h=air_changes_per_h, temperature_c=temperature_c)
        with self._store.transaction():
            self._store.rooms.put(entry, id=ROOM, expected_revision=expected_revision)
            self._store.claim("setting", ROOM)
        return room

    def _own_products(self) -> list[Product]:
        return [row.thing for row in self._store.products.all(own=True)]

    def _formulas(self) -> dict[str, Formula]:
        """The packaged formulas and the person's own."""
        return known_formulas(self._store)

    def _formula(self, key: str) -> Formula:
        found = self._formulas().get(key)
        if found is None:
            raise InputError(f"no formula is called {key!r}", where="bath", remedy=choice_among(formulas()))
        return found
