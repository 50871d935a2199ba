"""Learning a film from its strips, and choosing the next."""

from obverse.inference.elsewhere import DarkroomSaid, OtherDarkroom
from obverse.inference.fit import CurveBand, FilmFit, fit_film
from obverse.inference.suggest import READY, BestTrial, NextStrips, Suggestion, nearest_strip, next_strips

__all__ = [
    "READY",
    "BestTrial",
    "CurveBand",
    "DarkroomSaid",
    "FilmFit",
    "NextStrips",
    "OtherDarkroom",
    "Suggestion",
    "fit_film",
    "nearest_strip",
    "next_strips",
]
