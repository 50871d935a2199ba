"""What all places of the workbench have in common."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from obverse.clock import Clock
    from obverse.store import Store


class Place:
    """A place of the darkroom over the one store and the one clock of the house.

    Parameters
    ----------
    store : Store
        Where everything is kept.
    clock : Clock
        Says what time it is.
    home : Path or None
        The data folder; `None` where the place needs no file of its own.
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None):
        self._store = store
        self._clock = clock
        self._home = home
