"""Ground floor: errors, estimates, standings, cautions, documents. It imports nothing of the house."""

from typing import TYPE_CHECKING

from obverse.foundation.arrays import Array
from obverse.foundation.cautions import Caution, Deferral, Level, open_and_folded
from obverse.foundation.errors import (
    ConflictError,
    DeniedError,
    InputError,
    NotFoundError,
    ObverseError,
    StoreError,
    TooLargeError,
    UnlikelyError,
    UnsafeError,
    on_one_line,
    together,
)
from obverse.foundation.estimate import MAD_TO_SD, QUANTILES_90, Z90, Estimate
from obverse.foundation.interval import Interval
from obverse.foundation.numeric import MonotoneCubic, root_between
from obverse.foundation.parsing import parse_number, regex, whole_number, with_point
from obverse.foundation.plain_json import JsonObject, parse_json, printable, without_turns
from obverse.foundation.saying import SaidNumber, take_number
from obverse.foundation.standing import Source, Standing
from obverse.foundation.units import (
    ML_PER_L,
    MM_PER_M,
    UNITS,
    Quantity,
    System,
    Unit,
    clock_span,
    figures,
    take_unit,
    unit_named,
)

if TYPE_CHECKING:
    from obverse.foundation.documents import Document, newest_version, plain_complaint, read_document
else:

    def __getattr__(name: str) -> object:
        """What checks documents, loaded when it is first asked for: that takes as long as a strip to read, which needs none of it."""
        if name not in ("Document", "newest_version", "plain_complaint", "read_document"):
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from obverse.foundation import documents

        return getattr(documents, name)


__all__ = [
    "MAD_TO_SD",
    "ML_PER_L",
    "MM_PER_M",
    "QUANTILES_90",
    "UNITS",
    "Z90",
    "Array",
    "Caution",
    "ConflictError",
    "Deferral",
    "DeniedError",
    "Document",
    "Estimate",
    "InputError",
    "Interval",
    "JsonObject",
    "Level",
    "MonotoneCubic",
    "NotFoundError",
    "ObverseError",
    "Quantity",
    "SaidNumber",
    "Source",
    "Standing",
    "StoreError",
    "System",
    "TooLargeError",
    "Unit",
    "UnlikelyError",
    "UnsafeError",
    "clock_span",
    "figures",
    "newest_version",
    "on_one_line",
    "open_and_folded",
    "parse_json",
    "parse_number",
    "plain_complaint",
    "printable",
    "read_document",
    "regex",
    "root_between",
    "take_number",
    "take_unit",
    "together",
    "unit_named",
    "whole_number",
    "with_point",
    "without_turns",
]
