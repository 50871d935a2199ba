"""Mixing: formula, bottles, volume and tools become a mix sheet."""

from obverse.mixing.controls import with_controls
from obverse.mixing.mix import mix
from obverse.mixing.reach import Cost, Reach, cost_of, least_purchase, reach
from obverse.mixing.sheet import Made, MixLine, MixSheet
from obverse.mixing.sources import Candidate, candidates, contents_of

__all__ = [
    "Candidate",
    "Cost",
    "Made",
    "MixLine",
    "MixSheet",
    "Reach",
    "candidates",
    "contents_of",
    "cost_of",
    "least_purchase",
    "mix",
    "reach",
    "with_controls",
]
