"""The pool: strips that darkrooms lend each other, as documents; whose they are, what is new, whether they were changed."""

from obverse.pool.document import (
    MOST_FILMS,
    MOST_STRIPS,
    CountedIn,
    LendingDarkroom,
    LentFilm,
    LentStrip,
    PoolDocument,
    counted_here,
    read_pool_document,
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
    read_prior_document,
)
from obverse.pool.seal import Seal, public_key_of, seal_of, sealed

__all__ = [
    "FEWEST_SERIES",
    "MOST_FILMS",
    "MOST_SERIES",
    "MOST_STRIPS",
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
    "public_key_of",
    "read_pool_document",
    "read_prior_document",
    "seal_of",
    "sealed",
]
