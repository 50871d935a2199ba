"""Typed reader of the published numbers that the house rests on.

The numbers live in `data/*.json`, one row over several lines, sorted by key: key, quantity, value, unit,
uncertainty (of a named kind), where known the valid range and the place in the source, source and standing.
Nothing here computes; nothing upgrades a standing.

`practice_*.json` hold numbers of the trade and of our own judgement that no book gave us, one file
a room; each is marked `common_practice`, `from_memory` or `computed` and says so on the screen.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

from obverse.foundation import Source, Standing

PUBLISHED_FILES = ("chemistry", "sensitometry")


class UncertaintyKind(StrEnum):
    """What the figure beside a value means."""

    STANDARD = "standard"
    """Standard uncertainty, in the unit of the value."""
    LOG_STANDARD = "log_standard"
    """Standard uncertainty of the natural logarithm of the value."""
    HALF_RANGE = "half_range"
    """Half the range in which the true value lies, any place in it as likely as another."""
    FACTOR = "factor"
    """The 90 % interval runs from the value divided by this to the value times this."""
    ALLOWED = "allowed"
    """The deviation that the source itself allows."""
    RECOMPUTATION = "recomputation"
    """How far a faithful recomputation may differ; says nothing about the truth of the value."""


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """A figure of doubt and what it means.

    Parameters
    ----------
    value : float or mapping of str to float
        In the unit of the record; a mapping where the parts of a value have their own.
    """

    kind: UncertaintyKind
    value: float | Mapping[str, float]


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
    uncertainty : Uncertainty or None
        None where the source gives none.
    valid : tuple of float or None
        Least and greatest value for which the house uses it without a caution, in `unit`; None where not limited.
    place : str
        Page, table, address or section in the source; empty where the collector noted none.
    inputs : dict
        What the value belongs to (temperature, formula, ...).
    """

    key: str
    quantity: str
    value: Any
    unit: str
    uncertainty: Uncertainty | None
    source: Source
    valid: tuple[float, float] | None = None
    place: str = ""
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

    @property
    def sd(self) -> float:
        """Standard uncertainty in the unit of the value; of a half range, that divided by the root of three.

        Raises
        ------
        TypeError
            If the record's uncertainty is of another kind or absent.
        """
        if self._kind() is UncertaintyKind.HALF_RANGE:
            return self._figure(UncertaintyKind.HALF_RANGE) / math.sqrt(3)
        return self._figure(UncertaintyKind.STANDARD)

    @property
    def log_sd(self) -> float:
        """Standard uncertainty of the natural logarithm of the value.

        Raises
        ------
        TypeError
            If the record's uncertainty is of another kind or absent.
        """
        return self._figure(UncertaintyKind.LOG_STANDARD)

    @property
    def half_range(self) -> float:
        """Half the range in which the true value lies, in the unit of the value.

        Raises
        ------
        TypeError
            If the record's uncertainty is of another kind or absent.
        """
        return self._figure(UncertaintyKind.HALF_RANGE)

    @property
    def factor(self) -> float:
        """The factor to either end of the 90 % interval.

        Raises
        ------
        TypeError
            If the record's uncertainty is of another kind or absent.
        """
        return self._figure(UncertaintyKind.FACTOR)

    @property
    def allowed(self) -> float:
        """The deviation that the source allows, in the unit of the value.

        Raises
        ------
        TypeError
            If the record's uncertainty is of another kind or absent.
        """
        return self._figure(UncertaintyKind.ALLOWED)

    @property
    def within(self) -> Any:
        """How far a faithful recomputation may differ: a float, or one for each part of the value.

        Where only the doubt of the value itself is recorded, a recomputation may differ by as much.

        Raises
        ------
        TypeError
            If the record gives a factor, a doubt of the logarithm or an allowed deviation.
        """
        if self.uncertainty is None:
            return None
        if self._kind() in (UncertaintyKind.FACTOR, UncertaintyKind.LOG_STANDARD, UncertaintyKind.ALLOWED):
            raise TypeError(
                f"record {self.key} gives a {self.uncertainty.kind}, not how far a recomputation may differ"
            )
        return self.uncertainty.value

    def _kind(self) -> UncertaintyKind | None:
        return None if self.uncertainty is None else self.uncertainty.kind

    def _figure(self, kind: UncertaintyKind) -> float:
        if self.uncertainty is None or self.uncertainty.kind is not kind or isinstance(self.uncertainty.value, Mapping):
            held = "none" if self.uncertainty is None else f"{self.uncertainty.kind} {self.uncertainty.value}"
            raise TypeError(f"record {self.key} gives no uncertainty of kind {kind}, but {held}")
        return float(self.uncertainty.value)


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


def _record(row: dict[str, Any]) -> Record:
    doubt, valid = row["uncertainty"], row.get("valid")
    return Record(
        key=row["key"],
        quantity=row["quantity"],
        value=row["value"],
        unit=row["unit"],
        uncertainty=None if doubt is None else Uncertainty(UncertaintyKind(doubt["kind"]), doubt["value"]),
        source=_source(row),
        valid=None if valid is None else (float(valid[0]), float(valid[1])),
        place=row.get("place", ""),
        inputs=row.get("inputs", {}),
        note=row.get("note", ""),
    )


def _source(row: dict[str, Any]) -> Source:
    text = row.get("source", "")
    return Source(
        text="; ".join(text) if isinstance(text, list) else text,
        standing=Standing(row["standing"]),
        partly_memory=row.get("partly_memory", False),
    )


@cache
def _rows() -> dict[str, dict[str, Any]]:
    """What stands in the files, by key."""
    found: dict[str, dict[str, Any]] = {}
    for name in (*PUBLISHED_FILES, *_practice_files()):
        for row in _load(name):
            if row["key"] in found:
                raise ValueError(f"reference key {row['key']} stands twice")
            found[row["key"]] = row
    return found


@cache
def records() -> dict[str, Record]:
    """All records by key.

    Returns
    -------
    dict of Record
        By key.
    """
    return {key: record(key) for key in _rows()}


# Each is made when it is first asked for: few are, of what a command needs.
@cache
def record(key: str) -> Record:
    """The record of that key.

    Parameters
    ----------
    key : str
        Such as ``"mm.ammonia"``.

    Raises
    ------
    KeyError
        If there is none: a mistake of ours, never of the person.
    """
    row = _rows().get(key)
    if row is None:
        raise KeyError(f"no reference record {key!r}")
    return _record(row)


@cache
def number(key: str) -> float:
    """The one number of that record, in the record's unit.

    Parameters
    ----------
    key : str
        Such as ``"mm.ammonia"``.

    Returns
    -------
    float
        In the unit of the record.
    """
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
