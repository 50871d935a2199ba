"""Waste jugs: what was poured into each, and what may be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from obverse.chemistry import Range
from obverse.foundation import Caution, ConflictError, JsonObject, Level, UnsafeError, read_document
from obverse.process import Formula, Process
from obverse.safety import (
    USUAL_BATH_ML,
    Finding,
    Jug,
    JugClass,
    Poured,
    cautions_of,
    jug_class,
    jug_classes,
    may_be_added,
    pour,
    residue_of,
    shown_and_folded,
    silver_total_g,
    wrong_class,
)
from obverse.safety.bath_life import silver_taken_g
from obverse.workbench.care.baths import Baths, BathView, film_area_m2

if TYPE_CHECKING:
    from obverse.store import Stored

# A jug takes no more beyond this part of it: it must be carried without a splash.
FULL = 0.9


@dataclass(frozen=True, slots=True)
class JugView:
    """A waste jug with its class and what is to be told of it."""

    id: str
    revision: int
    jug: Jug
    kind: JugClass
    cautions: tuple[Caution, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "id": self.id,
            "revision": self.revision,
            **self.jug.model_dump(mode="json"),
            "volume_ml": self.jug.volume_ml,
            "silver_g": self.jug.silver_g.document(),
            "accepts": self.kind.accepts,
            "never": self.kind.never,
            "goes": self.kind.goes,
            "cautions": [caution.document() for caution in self.cautions],
        }


class Jugs(Baths):
    """The waste jugs of one person."""

    def bath_into_jug(
        self, id: str, jug_id: str, *, destroyed: bool = False, volume_ml: float | None = None
    ) -> JugView:
        """Pour a bath away into a jug and take it off the list.

        Parameters
        ----------
        volume_ml : float, optional
            What goes in; default the whole bath. Of a destroyed bath it is often only the rinsed sludge.

        Raises
        ------
        UnsafeError
            If it must be destroyed first, or may not meet what is in the jug.
        ConflictError
            If it was poured away before, from another device: a jug would count it twice.
        """
        with self._store.transaction():
            view = self.bath(id)
            if self._store.bottles.get(id).retired_at is not None:
                raise ConflictError(
                    f"{view.bottle.name!r} was poured away already",
                    remedy="what the jugs hold stands on the page of care",
                )
            poured = {**self._poured(view), **({} if volume_ml is None else {"volume_ml": volume_ml})}
            jug = self.pour_document(jug_id, poured, treated=destroyed)
            self._store.bottles.retire(id)
        return jug

    def jugs(self) -> list[JugView]:
        """The jugs that stand, by letter."""
        views = [self._jug(row) for row in self._store.jugs.all(own=True)]
        return sorted(views, key=lambda view: view.jug.letter)

    def silver_g(self) -> Range:
        """Silver in all the jugs that stand, as a range."""
        return silver_total_g(view.jug for view in self.jugs())

    def jug(self, id: str) -> JugView:
        """One jug."""
        return self._jug(self._store.jugs.get(id))

    def classes(self) -> dict[str, JugClass]:
        """The classes of waste by letter."""
        return jug_classes()

    def begin_jug(self, letter: str, capacity_ml: float, *, name: str = "", vented: bool = True) -> str:
        """Set up a jug; returns its id.

        Raises
        ------
        UnsafeError
            For a class that is never kept.
        """
        kind = jug_class(letter)
        jug = read_document(
            Jug,
            {"letter": letter, "name": name or f"{letter} {kind.name}", "capacity_ml": capacity_ml, "vented": vented},
            where="jug",
        )
        if not kind.kept:
            raise UnsafeError(
                f"class {letter} ({kind.name}) is never kept in a jug",
                where="jug",
                remedy=kind.accepts.removeprefix("none: "),
            )
        return self._store.jugs.put(jug).id

    def ask_jug(self, id: str, what: str, volume_ml: float | None = None) -> tuple[Finding, ...]:
        """What would be met if this were poured in; a usual amount where none is given."""
        return may_be_added(self.jug(id).jug, what, self._formulas(), volume_ml=volume_ml, room=self.room())

    def jug_for(self, letter: str, volume_ml: float) -> JugView | None:
        """The jug of a class into which an evening pours so much; None where none has room."""
        fits = [
            view
            for view in self.jugs()
            if view.jug.letter == letter and view.jug.volume_ml + volume_ml <= FULL * view.jug.capacity_ml
        ]
        return fits[-1] if fits else None

    def into_the_jugs(self, route: Process, tank_ml: float, given: Mapping[str, Formula]) -> tuple[Caution, ...]:
        """What tonight's used baths would meet in the jugs as they stand, with all that was ever poured into them.

        What they meet of each other is told of the route already; a jug that is still empty has nothing to add.
        """
        known = {**self._formulas(), **given}
        held: dict[str, Jug] = {}
        told = []
        for step in route.steps:
            formula = given.get(step.formula or "")
            residue = None if formula is None else residue_of(formula)
            if formula is None or step.after_use not in ("waste", "destroy") or (residue and residue.leaves_sludge):
                continue
            what = f"destroyed_{formula.key}" if residue else formula.key
            volume_ml = step.volume_ml or tank_ml
            view = self.jug_for(step.waste_jug, volume_ml)
            jug = held.get(step.waste_jug) or (view.jug if view is not None and view.jug.contents else None)
            if jug is None:
                continue
            met = may_be_added(jug, what, known, volume_ml=volume_ml, room=self.room())
            for found in shown_and_folded(met)[0]:
                if found.level is not Level.NOTE:
                    text = f"{jug.name} as it stands: {found.text} Begin a new jug for it tonight."
                    told.append(Caution(f"pair.{found.pair}", text, found.level, f"jug {jug.letter}"))
            poured = Poured(what=what, volume_ml=volume_ml)
            held[step.waste_jug] = jug.model_copy(update={"contents": (*jug.contents, poured)})
        return tuple(told)

    def wrong_class(self, id: str, what: str) -> Caution | None:
        """What is to be told where this belongs into a jug of another class."""
        return wrong_class(self.jug(id).jug, what, self._formulas())

    def pour(
        self,
        id: str,
        what: str,
        volume_ml: float,
        *,
        treated: bool = False,
        films: float = 0.0,
        film: str = "135-36",
    ) -> JugView:
        """Pour something in, by the key of a formula, product or substance; `film` is the size of what it has seen.

        Raises
        ------
        UnsafeError
            If that could kill, or must be destroyed first.
        """
        formula = self._formulas().get(what.removeprefix("used_"))
        silver = silver_taken_g(formula, films * film_area_m2(film)) if formula is not None else None
        entry: dict[str, object] = {"what": what, "volume_ml": volume_ml, "on": self._clock.now().date().isoformat()}
        if silver is not None:
            entry |= {"silver_low_g": silver.low, "silver_likely_g": silver.likely, "silver_high_g": silver.high}
        return self.pour_document(id, entry, treated=treated)

    def pour_document(self, id: str, entry: JsonObject, *, treated: bool = False) -> JugView:
        """Pour something in that is written out as a document."""
        # Two may pour at once, from two devices: each into what the other has poured.
        with self._store.transaction():
            view = self.jug(id)
            jug = pour(
                view.jug,
                read_document(Poured, entry, where=view.jug.name),
                treated=treated,
                known=self._formulas(),
                room=self.room(),
            )
            return self._jug(self._store.jugs.put(jug, id=id))

    def hand_in(self, id: str) -> None:
        """The jug went to the collection of the authority."""
        self._store.jugs.retire(id)

    def _poured(self, view: BathView) -> JsonObject:
        area = sum(p.area_m2 for p in view.bottle.passes)
        silver = silver_taken_g(view.formula, area)
        return {
            "what": view.formula.key,
            "volume_ml": view.bottle.amount or USUAL_BATH_ML,
            "silver_low_g": silver.low,
            "silver_likely_g": silver.likely,
            "silver_high_g": silver.high,
            "on": self._clock.now().date().isoformat(),
            "note": f"{len(view.bottle.passes)} passes",
        }

    def _jug(self, row: Stored[Jug]) -> JugView:
        jug = row.thing
        return JugView(row.id, row.revision, jug, jug_class(jug.letter), cautions_of(jug, self._formulas()))
