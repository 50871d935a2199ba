"""Mixing: formula, bottles, volume and tools become a mix sheet."""

from obverse.mixing.controls import with_controls
from obverse.mixing.mix import mix
from obverse.mixing.sheet import Made, MixLine, MixSheet
from obverse.mixing.sources import Candidate, candidates, contents_of

__all__ = ["Candidate", "Made", "MixLine", "MixSheet", "candidates", "contents_of", "mix", "with_controls"]
