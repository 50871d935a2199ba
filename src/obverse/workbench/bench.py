"""The bench: choose a route and a recipe, scale to the tank, mix."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from obverse.clock import Clock
from obverse.foundation import InputError, read_document
from obverse.mixing import MixSheet, mix, with_controls
from obverse.process import Formula, Product, Tool
from obverse.process.catalog import formulas, routes
from obverse.store import Store


def make_sheet(
    formula: Formula,
    volume_ml: float,
    products: Sequence[Product],
    tools: Sequence[Tool],
    *,
    choices: Mapping[str, str] | None = None,
) -> MixSheet:
    """Mix, and let the hazard rules look at it."""
    return mix(formula, volume_ml, products, tools, choices=choices)


class Bench:
    """Mix sheets from the person's own shelf.

    Parameters
    ----------
    store, clock, home
        As `open_workbench` gives them.
    """

    def __init__(self, store: Store, clock: Clock, home: Path):
        from obverse.workbench.shelf import Shelf

        self._store = store
        self._clock = clock
        self._shelf = Shelf(store, clock, home)

    def formulas(self) -> dict[str, Formula]:
        """The generic formulas, and the person's own under their ids."""
        own = {kept.id: read_document(Formula, kept.body, where=f"formula {kept.id}") for kept in self._store.list("formula")}
        return {**formulas(), **own}

    def formula(self, key: str) -> Formula:
        """The formula of that key.

        Raises
        ------
        InputError
            If there is none.
        """
        try:
            return self.formulas()[key]
        except KeyError:
            raise InputError(f"there is no formula {key!r}", where="formula", remedy="choose one from the bench page") from None

    def keep_formula(self, document: dict[str, Any]) -> str:
        """Keep a formula of one's own; returns its id."""
        formula = read_document(Formula, document, where="formula")
        key = formula.key
        if key in formulas():
            raise InputError(f"{key!r} is the name of a generic formula", where="key", remedy="choose another key")
        self._store.put("formula", formula.model_dump(mode="json"), id=key)
        return key

    def sheet(
        self,
        formula: str | Formula,
        volume_ml: float,
        *,
        choices: Mapping[str, str] | None = None,
        controls: Mapping[str, float] | None = None,
    ) -> MixSheet:
        """Mix sheet of a formula from what stands on the shelf (generic products where it is empty)."""
        found = self.formula(formula) if isinstance(formula, str) else formula
        if controls and found.role == "first_developer":
            found = with_controls(found, controls)
        return make_sheet(found, volume_ml, self._shelf.products_or_generic(), self._shelf.tools_for_mixing(), choices=choices)

    def route_sheets(
        self, route_key: str, volume_ml: float, *, controls: Mapping[str, float] | None = None
    ) -> list[tuple[str, MixSheet | InputError]]:
        """Every bath of a route in the order of its steps: the sheet, or the reason why it cannot be mixed."""
        try:
            route = routes()[route_key]
        except KeyError:
            raise InputError(f"there is no route {route_key!r}", where="route", remedy="choose one from the bench page") from None
        found: dict[str, MixSheet | InputError] = {}
        for step in route.steps:
            if step.formula and step.formula not in found:
                try:
                    found[step.formula] = self.sheet(step.formula, volume_ml, controls=controls)
                except InputError as error:
                    found[step.formula] = error
        return list(found.items())
