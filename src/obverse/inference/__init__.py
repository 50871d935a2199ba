"""Learning a film from its strips, and choosing the next."""

from obverse.inference.elsewhere import MOST_DARKROOMS, DarkroomSaid, OtherDarkroom
from obverse.inference.fit import CurveBand, FilmFit, fit_film
from obverse.inference.sharing import most_alike
from obverse.inference.suggest import READY, BestTrial, NextStrips, Suggestion, nearest_strip, next_strips

__all__ = [
    "MOST_DARKROOMS",
    "READY",
    "BestTrial",
    "CurveBand",
    "DarkroomSaid",
    "FilmFit",
    "NextStrips",
    "OtherDarkroom",
    "Suggestion",
    "fit_film",
    "most_alike",
    "nearest_strip",
    "next_strips",
]
