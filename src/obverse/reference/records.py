"""Typed reader of the published numbers that the house rests on.

The numbers live in `data/*.json`: key, quantity, inputs, value, unit, tolerance, source and
standing. Nothing here computes; nothing upgrades a standing.

`practice_*.json` hold numbers of the trade and of our own judgement that no book gave us, one file
a room; each is marked `common_practice`, `from_memory` or `computed` and says so on the screen.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from obverse.foundation import Source, Standing

PUBLISHED_FILES = ("chemistry", "sensitometry")


@dataclass(frozen=True, slots=True)
class Record:
    """One published quantity.

    Parameters
    ----------
    key : str
        Stable name, such as ``"mm.ammonia"``.
    quantity : str
        What it is, in words.
    value : float or list or dict
        As the source gives it.
    unit : str
        Unit of `value`; empty for a pure number.
    tolerance : float or None
        How far a faithful recomputation may differ.
    source : Source
    inputs : dict
        What the value belongs to (temperature, formula, ...).
    note : str
    """

    key: str
    quantity: str
    value: Any
    unit: str
    tolerance: Any
    source: Source
    inputs: dict[str, Any] = field(default_factory=dict)
    note: str = ""

    @property
    def number(self) -> float:
        """The value as one number.

        Raises
        ------
        TypeError
            If the record holds a list, a mapping or words.
        """
        if isinstance(self.value, bool) or not isinstance(self.value, (int, float)):
            raise TypeError(f"record {self.key} holds {type(self.value).__name__}, not one number")
        return float(self.value)


@dataclass(frozen=True, slots=True)
class IncompatiblePair:
    """Two things that must not meet, how badly, and where.

    Parameters
    ----------
    severity : int
        4 can kill, 3 injures, 2 ruins the film, 1 ruins the bath; for bottles, baths and jugs.
    severity_carry_over : int or None
        The same for the few millilitres that a wet film and tank hold.
    contexts : tuple of str
        Of ``"mixing"``, ``"carry_over"``, ``"waste"``, ``"storage"``.
    """

    key: str
    a: str
    b: str
    product: str
    severity: int
    severity_carry_over: int | None
    contexts: tuple[str, ...]
    source: Source
    note: str = ""


@dataclass(frozen=True, slots=True)
class HazardRow:
    """GHS codes of one substance or strength, with standing."""

    substance: str
    codes: str
    source: Source


@dataclass(frozen=True, slots=True)
class ShelfLifeRow:
    """How long a solution keeps and how its end shows."""

    solution: str
    life: str
    sign_of_failure: str
    source: Source


@dataclass(frozen=True, slots=True)
class WasteJugRow:
    """A waste jug: what goes in and what never does."""

    jug: str
    accepts: str
    never: str
    source: Source


def _load(name: str) -> Any:
    return json.loads(files("obverse.reference").joinpath(f"data/{name}.json").read_text(encoding="utf-8"))


def _practice_files() -> list[str]:
    folder = files("obverse.reference").joinpath("data")
    names = (entry.name.removesuffix(".json") for entry in folder.iterdir() if entry.name.endswith(".json"))
    return sorted(name for name in names if name.startswith("practice_"))


def _source(row: dict) -> Source:
    text = row.get("source", "")
    return Source(
        text="; ".join(text) if isinstance(text, list) else text,
        standing=Standing(row["standing"]),
        partly_memory=row.get("partly_memory", False),
    )


@cache
def records() -> dict[str, Record]:
    """All records by key."""
    found: dict[str, Record] = {}
    for name in (*PUBLISHED_FILES, *_practice_files()):
        for row in _load(name):
            if row["key"] in found:
                raise ValueError(f"reference key {row['key']} stands twice")
            found[row["key"]] = Record(
                key=row["key"],
                quantity=row["quantity"],
                value=row["value"],
                unit=row.get("unit", ""),
                tolerance=row.get("tolerance"),
                source=_source(row),
                inputs=row.get("inputs", {}),
                note=row.get("note", ""),
            )
    return found


def record(key: str) -> Record:
    """The record of that key.

    Raises
    ------
    KeyError
        If there is none: a mistake of ours, never of the person.
    """
    try:
        return records()[key]
    except KeyError:
        raise KeyError(f"no reference record {key!r}") from None


def number(key: str) -> float:
    """The one number of that record, in the record's unit."""
    return record(key).number


@cache
def incompatible_pairs() -> tuple[IncompatiblePair, ...]:
    """The pairs that must not meet, worst first."""
    return tuple(
        IncompatiblePair(
            key=row["key"],
            a=row["a"],
            b=row["b"],
            product=row["product"],
            severity=row["severity"],
            severity_carry_over=row["severity_carry_over"],
            contexts=tuple(row["contexts"]),
            source=_source(row),
            note=row.get("note") or "",
        )
        for row in _load("incompatible_pairs")
    )


@cache
def hazard_rows() -> tuple[HazardRow, ...]:
    """GHS rows as recorded."""
    return tuple(HazardRow(r["substance"], r["codes"], _source(r)) for r in _load("ghs"))


@cache
def shelf_life_rows() -> tuple[ShelfLifeRow, ...]:
    """Working life rows as recorded."""
    return tuple(ShelfLifeRow(r["solution"], r["life"], r["sign_of_failure"], _source(r)) for r in _load("shelf_life"))


@cache
def waste_jug_rows() -> tuple[WasteJugRow, ...]:
    """Waste jugs as recorded."""
    return tuple(WasteJugRow(r["jug"], r["accepts"], r["never"], _source(r)) for r in _load("waste_jugs"))
