"""Learning a film from its strips, and choosing the next."""

from obverse.inference.elsewhere import MOST_DARKROOMS, OFFSETS, DarkroomSaid, OtherDarkroom
from obverse.inference.evidence import with_wear
from obverse.inference.fit import CurveBand, FilmFit, fit_film
from obverse.inference.population import (
    UNKNOWNS,
    LeftOut,
    Lesson,
    Population,
    learn_population,
    left_out,
    lesson_of,
    told_of,
)
from obverse.inference.sharing import most_alike
from obverse.inference.suggest import (
    READY,
    BestTrial,
    NextStrips,
    Suggestion,
    nearest_strip,
    next_strips,
    recipe_chance,
    recipe_chances,
    recipe_draws,
    recipes_as_told,
    strip_chance,
    strip_chances,
)
from obverse.inference.words import percent

__all__ = [
    "MOST_DARKROOMS",
    "OFFSETS",
    "READY",
    "UNKNOWNS",
    "BestTrial",
    "CurveBand",
    "DarkroomSaid",
    "FilmFit",
    "LeftOut",
    "Lesson",
    "NextStrips",
    "OtherDarkroom",
    "Population",
    "Suggestion",
    "fit_film",
    "learn_population",
    "left_out",
    "lesson_of",
    "most_alike",
    "nearest_strip",
    "next_strips",
    "percent",
    "recipe_chance",
    "recipe_chances",
    "recipe_draws",
    "recipes_as_told",
    "strip_chance",
    "strip_chances",
    "told_of",
    "with_wear",
]
