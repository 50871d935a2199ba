"""The one setting of a notebook that says in which units a person reads."""

from __future__ import annotations

from typing import Literal

from obverse.foundation import JsonObject, read_document
from obverse.process import UnitsShown
from obverse.store import Repository, Store
from obverse.store.records import StoredRecord
from obverse.workbench.place import Place

_UNITS = "units"


class UnitsEntry(StoredRecord):
    """The units of this notebook, under the one id ``"units"``."""

    what: Literal["units"] = "units"
    units: UnitsShown


def _kept(store: Store) -> Repository[UnitsEntry]:
    return store.keeping("setting", UnitsEntry, {"what": "units"})


class Units(Place):
    """Which units are shown; every page and sheet asks here."""

    def shown(self) -> UnitsShown:
        """The units of this notebook; metric where nobody said."""
        kept = _kept(self._store).find(_UNITS)
        return UnitsShown() if kept is None else kept.thing.units

    def revision(self) -> int:
        """The revision of that setting; 0 where nobody left one."""
        kept = _kept(self._store).find(_UNITS)
        return 0 if kept is None else kept.revision

    def keep(self, units: JsonObject, *, expected_revision: int | None = None) -> int:
        """Keep them; returns the revision. `expected_revision` as `Store.put`.

        Raises
        ------
        InputError
            If one of them is none.
        ConflictError
            If another device kept others meanwhile.
        """
        document = read_document(UnitsShown, units, where="units")
        with self._store.transaction():
            kept = _kept(self._store).put(UnitsEntry(units=document), id=_UNITS, expected_revision=expected_revision)
            self._store.claim("setting", _UNITS)
        return kept.revision
