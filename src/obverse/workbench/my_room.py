"""The room of one person, as every place of the workbench reckons with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from obverse.safety import Room, unknown_room

if TYPE_CHECKING:
    from obverse.store import Store

# The one room of a notebook.
ROOM = "room"


def room_of(store: Store) -> Room:
    """The person's room; before it is entered, a small bathroom with its door closed (record practice.room.unknown)."""
    kept = store.rooms.find(ROOM)
    if kept is None or kept.elsewhere:
        return unknown_room()
    return Room(kept.thing.volume_m3, kept.thing.air_changes_per_h, kept.thing.temperature_c)
