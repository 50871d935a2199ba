"""Mixing: formula, bottles, volume and tools become a mix sheet."""

from obverse.mixing.controls import with_controls
from obverse.mixing.conversion import Conversion, Poured, Unmatched, convert, read_bath, unmatched_between
from obverse.mixing.insight import Insight, insights, rolls_in
from obverse.mixing.mixer import acidity_of, mix, refusal
from obverse.mixing.reachable import Cost, Reach, cost_of, least_purchase, reach
from obverse.mixing.sheet import Made, MixLine, MixSheet
from obverse.mixing.sources import Candidate, candidates, contents_of

__all__ = [
    "Candidate",
    "Conversion",
    "Cost",
    "Insight",
    "Made",
    "MixLine",
    "MixSheet",
    "Poured",
    "Reach",
    "Unmatched",
    "acidity_of",
    "candidates",
    "contents_of",
    "convert",
    "cost_of",
    "insights",
    "least_purchase",
    "mix",
    "reach",
    "read_bath",
    "refusal",
    "rolls_in",
    "unmatched_between",
    "with_controls",
]
