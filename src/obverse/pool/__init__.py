"""The pool: strips that darkrooms lend each other, as documents; whose they are, what is new, whether they were changed."""

from obverse.pool.document import (
    CountedIn,
    LendingDarkroom,
    LentFilm,
    LentStrip,
    PoolDocument,
    counted_here,
)
from obverse.pool.merging import Fate, MergedStrips, StripFate, fate_by_name, merge_strips
from obverse.pool.prior import (
    FEWEST_SERIES,
    MOST_SERIES,
    LearnedFrom,
    LearnedOffset,
    LearnedUnknown,
    OnFilmsLeftOut,
    PriorDocument,
)
from obverse.pool.seal import Seal, seal_of, sealed

__all__ = [
    "FEWEST_SERIES",
    "MOST_SERIES",
    "CountedIn",
    "Fate",
    "LearnedFrom",
    "LearnedOffset",
    "LearnedUnknown",
    "LendingDarkroom",
    "LentFilm",
    "LentStrip",
    "MergedStrips",
    "OnFilmsLeftOut",
    "PoolDocument",
    "PriorDocument",
    "Seal",
    "StripFate",
    "counted_here",
    "fate_by_name",
    "merge_strips",
    "seal_of",
    "sealed",
]
