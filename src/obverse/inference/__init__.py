"""Learning a film from its strips, and choosing the next."""

from obverse.inference.elsewhere import DarkroomSaid, OtherDarkroom
from obverse.inference.fit import CurveBand, FilmFit, fit_film
from obverse.inference.suggest import BestTrial, NextStrips, Suggestion, next_strips

__all__ = [
    "BestTrial",
    "CurveBand",
    "DarkroomSaid",
    "FilmFit",
    "NextStrips",
    "OtherDarkroom",
    "Suggestion",
    "fit_film",
    "next_strips",
]
