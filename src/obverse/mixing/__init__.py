"""Mixing: formula, bottles, volume and tools become a mix sheet."""

from obverse.mixing.choose import serves, target_g_per_l
from obverse.mixing.controls import additions, starting_controls, with_controls
from obverse.mixing.conversion import Conversion, PouredThere, Unmatched, convert, read_bath, unmatched_between
from obverse.mixing.insight import Insight, insights, rolls_in
from obverse.mixing.mixer import mix, refusal
from obverse.mixing.portions import taken_of
from obverse.mixing.reachable import Cost, Lack, Reach, brings_it, cost_of, lacking, least_purchase, reach
from obverse.mixing.said_bath import ROLE_OF, SaidBath, product_called, read_said, words_of
from obverse.mixing.sheet import Made, MixLine, MixSheet
from obverse.mixing.sources import Candidate, candidates, contents_of

__all__ = [
    "ROLE_OF",
    "Candidate",
    "Conversion",
    "Cost",
    "Insight",
    "Lack",
    "Made",
    "MixLine",
    "MixSheet",
    "PouredThere",
    "Reach",
    "SaidBath",
    "Unmatched",
    "additions",
    "brings_it",
    "candidates",
    "contents_of",
    "convert",
    "cost_of",
    "insights",
    "lacking",
    "least_purchase",
    "mix",
    "product_called",
    "reach",
    "read_bath",
    "read_said",
    "refusal",
    "rolls_in",
    "serves",
    "starting_controls",
    "taken_of",
    "target_g_per_l",
    "unmatched_between",
    "with_controls",
    "words_of",
]
