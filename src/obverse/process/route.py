"""Routes: the baths and steps between an exposed negative film and a dry slide."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from obverse.foundation import Document, Standing
from obverse.process.product import KEY


class Agitation(Document):
    """How the tank is moved.

    `inversions` or `seconds` in every `every_s` after the first `initial_s`; `constant` moves always.
    """

    initial_s: float = Field(default=30, ge=0, le=3600, description="moved without a pause at first; common practice")
    every_s: float = Field(default=60, gt=0, le=3600)
    inversions: int = Field(default=4, ge=0, le=60, description="each time; common practice")
    seconds: float = Field(default=10, ge=0, le=600)
    constant: bool = False


class Rinse(Document):
    """Fill and dump: the number of inversions at each fill. An empty sequence is running water."""

    fills: tuple[int, ...] = Field(default=(5, 10, 20), description="inversions at each fill; common practice")
    fill_volume_ml: float | None = Field(default=None, gt=0)
    running_water_min: float = Field(default=0, ge=0, le=120)
    acidified: bool = False


StepKind = Literal[
    "develop",
    "stop",
    "bleach",
    "dissolve",
    "clear",
    "reexpose",
    "fog",
    "redevelop",
    "fix",
    "wash",
    "wet",
    "dry",
    "rinse",
    "destroy",
]
AfterUse = Literal["discard", "keep", "waste", "destroy"]


class Step(Document):
    """One step of a route, with the rinse that follows it; for a step of kind `wash`, the wash itself.

    After use a bath is poured away (`discard`, where local codes allow), goes back to its bottle (`keep`),
    into its jug (`waste`), or must first be made harmless the same evening (`destroy`); the steps of that
    stand in `obverse.safety.destruction_steps` and what is left then goes into `waste_jug`. Times are
    starting points and every one of them is common practice unless `time_standing` says otherwise.
    """

    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=120)
    kind: StepKind
    formula: str | None = Field(default=None, description="formula key; none for light, wash, drying")
    time_min: float = Field(ge=0, le=2880)
    time_standing: Standing = Standing.COMMON_PRACTICE
    temperature_low_c: float = Field(default=18, ge=0, le=60, description="common practice")
    temperature_high_c: float = Field(default=24, ge=0, le=60)
    temperature_compensated: bool = False
    agitation: Agitation = Agitation()
    drain_s: float = Field(default=10, ge=0, le=120)
    after_use: AfterUse = "discard"
    waste_jug: str = Field(
        default="", max_length=2, description="letter of the waste jug; empty for the sink where local codes allow"
    )
    deal_with_within_min: float | None = Field(
        default=None, gt=0, le=1440, description="the used bath must be gone this many minutes after its last use"
    )
    light: Literal["dark", "light"] = Field(
        default="dark", description="dark: the film must not see light; the lid stays on"
    )
    optional: bool = False
    rinse_after: Rinse | None = None
    cautions: tuple[str, ...] = ()
    do: str = Field(default="", max_length=600, description="what the hands do, in words")
    why: str = Field(default="", max_length=400)

    @model_validator(mode="after")
    def _window(self) -> Self:
        if self.temperature_low_c > self.temperature_high_c:
            raise ValueError(f"temperature window of {self.key} is upside down")
        return self


class Route(Document):
    """A whole process, generic: formulas are named by key, times are starting points."""

    format: Literal["obverse-route"] = "obverse-route"
    version: Literal[1] = 1
    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=160)
    bleach: Literal["iron_chloride_ammonia", "acid_permanganate", "peroxide_acid", "acid_dichromate"]
    reversal: Literal["light", "fogging"]
    summary: str = Field(default="", max_length=600)
    hazard_rank: int = Field(ge=1, le=9, description="1 is shown first; 9 is shown last")
    warnings: tuple[str, ...] = ()
    steps: tuple[Step, ...] = Field(min_length=3, max_length=40)

    @model_validator(mode="after")
    def _unique(self) -> Self:
        keys = [step.key for step in self.steps]
        if len(set(keys)) != len(keys):
            raise ValueError("two steps of the route have the same key")
        return self

    def step(self, key: str) -> Step:
        """The step of that key (KeyError if there is none)."""
        for step in self.steps:
            if step.key == key:
                return step
        raise KeyError(key)
