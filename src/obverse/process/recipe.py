"""Recipes: one film, one route, the controls that worked, and the evidence behind them."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from obverse.foundation import Document
from obverse.process.aim import Aim
from obverse.process.film import FilmStock
from obverse.process.product import Formula
from obverse.process.route import Route
from obverse.process.trial import Patch


class Evidence(Document):
    """Why the recipe is believed."""

    trials: int = Field(ge=0)
    best_trial: str = Field(default="", max_length=120)
    probability_in_aim: float | None = Field(default=None, ge=0, le=1)
    robustness: tuple[str, ...] = ()


class Recipe(Document):
    """A recipe that any darkroom can repeat: formulas by active substance, not by bottle."""

    format: Literal["obverse-recipe"] = "obverse-recipe"
    version: Literal[1] = 1
    name: str = Field(min_length=1, max_length=160)
    revision: int = Field(default=1, ge=1)
    film: FilmStock
    exposure_index: float | None = Field(default=None, gt=0)
    controls: dict[str, float] = Field(default_factory=dict)
    route: Route
    formulas: tuple[Formula, ...] = ()
    aim: Aim
    curve: tuple[Patch, ...] = ()
    evidence: Evidence = Evidence(trials=0)
    note: str = Field(default="", max_length=4000)
