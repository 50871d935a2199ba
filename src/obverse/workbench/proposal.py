"""The next strip of a series document that is in no notebook."""

from __future__ import annotations

from obverse.inference import NextStrips, next_strips
from obverse.inference.words import percent

__all__ = ["NextStrips", "next_strips", "percent"]
