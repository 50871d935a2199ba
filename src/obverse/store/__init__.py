"""The store door: films, trials, runs and all else a darkroom wants to find again."""

from obverse.store.engine import file_address
from obverse.store.repositories import Repository, Stored, StoredEvent
from obverse.store.store import Keep, Kept, KeptEvent, Store, open_store
from obverse.store.tables import KINDS

__all__ = [
    "KINDS",
    "Keep",
    "Kept",
    "KeptEvent",
    "Repository",
    "Store",
    "Stored",
    "StoredEvent",
    "file_address",
    "open_store",
]
