"""Ground floor: errors, estimates, standings, cautions, documents. It imports nothing of the house."""

from obverse.foundation.cautions import Caution, Level
from obverse.foundation.documents import Document, parse_json, read_document
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
)
from obverse.foundation.estimate import Z90, Estimate
from obverse.foundation.numeric import MonotoneCubic, root_between
from obverse.foundation.parsing import parse_number
from obverse.foundation.standing import Source, Standing

__all__ = [
    "Z90",
    "Caution",
    "ConflictError",
    "DeniedError",
    "Document",
    "Estimate",
    "InputError",
    "Level",
    "MonotoneCubic",
    "NotFoundError",
    "ObverseError",
    "Source",
    "Standing",
    "StoreError",
    "TooLargeError",
    "UnlikelyError",
    "UnsafeError",
    "parse_json",
    "parse_number",
    "read_document",
    "root_between",
]
