"""Published numbers as data, each with source and standing."""

from obverse.reference.page import sources_page
from obverse.reference.rows import (
    HazardRow,
    IncompatiblePair,
    Record,
    ShelfLifeRow,
    Uncertainty,
    UncertaintyKind,
    WasteJugRow,
    hazard_rows,
    incompatible_pairs,
    number,
    record,
    records,
    shelf_life_rows,
    waste_jug_rows,
)

__all__ = [
    "HazardRow",
    "IncompatiblePair",
    "Record",
    "ShelfLifeRow",
    "Uncertainty",
    "UncertaintyKind",
    "WasteJugRow",
    "hazard_rows",
    "incompatible_pairs",
    "number",
    "record",
    "records",
    "shelf_life_rows",
    "sources_page",
    "waste_jug_rows",
]
