"""Recipes: one film, one route, the controls that worked, and the evidence behind them."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from obverse.foundation import Document
from obverse.process.aim import Aim
from obverse.process.control import CONTROLS
from obverse.process.film import FilmStock
from obverse.process.process import Process
from obverse.process.product import Formula, Product
from obverse.process.trial import Patch


class Evidence(Document):
    """Why the recipe is believed."""

    trials: int = Field(ge=0)
    best_trial: str = Field(default="", max_length=120)
    probability_in_aim: float | None = Field(default=None, ge=0, le=1)
    robustness: tuple[str, ...] = ()


class Recipe(Document):
    """A recipe that any darkroom can repeat: formulas by active substance, not by bottle.

    `products` are what the maker poured from. They are not needed to repeat the recipe; they let another
    bench say what it cannot match (pH, sulfite, hardener).
    """

    format: Literal["obverse-recipe"] = "obverse-recipe"
    version: Literal[1] = 1
    name: str = Field(min_length=1, max_length=160)
    revision: int = Field(default=1, ge=1)
    origin: str = Field(
        default="", max_length=64, pattern=r"^[0-9a-z]*$", description="key of the darkroom that locked it first"
    )
    film: FilmStock
    exposure_index: float | None = Field(default=None, gt=0)
    controls: dict[str, float] = Field(default_factory=dict)
    route: Process
    formulas: tuple[Formula, ...] = Field(default=(), max_length=40)
    products: tuple[Product, ...] = Field(default=(), max_length=80)
    aim: Aim
    curve: tuple[Patch, ...] = Field(default=(), max_length=2000)
    evidence: Evidence = Evidence(trials=0)
    note: str = Field(default="", max_length=4000)

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if problem := CONTROLS.problem(self.controls):
            raise ValueError(problem)
        known = {formula.key for formula in self.formulas}
        if len(known) != len(self.formulas):
            raise ValueError("two formulas of the recipe have the same key")
        for step in self.route.steps:
            if step.formula and step.formula not in known:
                raise ValueError(f"step {step.key!r} uses formula {step.formula!r}, which the recipe does not hold")
        return self

    def formula(self, key: str) -> Formula:
        """The formula of that key (KeyError if there is none)."""
        for formula in self.formulas:
            if formula.key == key:
                return formula
        raise KeyError(key)
