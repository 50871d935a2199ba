"""Processes: the baths and steps between an exposed negative film and a dry slide, as one document.

A process that is shipped with the house is a route; one that a person wrote is no different. It brings the baths that
nobody else has with it, so that it can be read and run where other bottles stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, Self, TypedDict

from pydantic import Field, model_validator

from obverse.foundation import Document, Standing
from obverse.process.product import KEY, LONGEST_NAME, Formula


class Rhythm(Document):
    """A way of moving for a while: `inversions` or `seconds` in every `every_s`."""

    for_s: float = Field(gt=0, le=7200)
    every_s: float = Field(gt=0, le=7200)
    inversions: int = Field(default=0, ge=0, le=60)
    seconds: float = Field(default=0, ge=0, le=600)


class Agitation(Document):
    """How the tank is moved.

    `inversions` or `seconds` in every `every_s` after the first `initial_s`; `constant` moves always. What was moved
    otherwise `before`, each rhythm for its time from the start of the bath, goes before that.
    """

    initial_s: float = Field(default=30, ge=0, le=3600, description="moved without a pause at first; common practice")
    every_s: float = Field(default=60, gt=0, le=3600)
    inversions: int = Field(default=4, ge=0, le=60, description="each time; common practice")
    seconds: float = Field(default=10, ge=0, le=600)
    constant: bool = False
    before: tuple[Rhythm, ...] = Field(default=(), max_length=6, description="rhythms that come first, in their order")


class Rinse(Document):
    """Fill and dump: the number of inversions at each fill. An empty sequence is running water."""

    fills: tuple[int, ...] = Field(default=(5, 10, 20), description="inversions at each fill; common practice")
    fill_volume_ml: float | None = Field(default=None, gt=0)
    fill_s: float | None = Field(default=None, gt=0, le=7200, description="how long each fill stays in, by the clock")
    vessel: Literal["", "bucket", "tray"] = Field(
        default="", description="into which the film goes instead of the tank"
    )
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
    "other",
]
AfterUse = Literal["discard", "keep", "waste", "destroy"]
# When a bath is made; empty leaves it to the plan.
Made = Literal["", "ahead", "just_before", "during"]


class Declined(Document):
    """A word of the house that the person does not follow, with the reason that is kept."""

    code: str = Field(min_length=1, max_length=80)
    reason: str = Field(min_length=1, max_length=400)


class Renewal(Document):
    """How a kept bath is brought back: topped up as films go through it, or restored when it is spent."""

    top_up_ml: float | None = Field(default=None, gt=0, le=20_000, description="added to the jug per film or m2")
    per: Literal["film", "m2"] = Field(default="film", description="what it is added for; a film is one 135-36")
    top_up_with: str = Field(
        default="", max_length=80, pattern=r"^[^,;\n]*$", description="what is added; empty: the same bath, fresh"
    )
    restored_with: str = Field(
        default="", max_length=80, pattern=r"^[^,;\n]*$", description="what brings it back, such as peroxide"
    )
    restored_films: float | None = Field(default=None, gt=0, le=1000, description="films it is good for after that")

    @model_validator(mode="after")
    def _something(self) -> Self:
        if self.top_up_ml is None and not self.restored_with:
            raise ValueError("a bath is topped up by so many mL, or restored with something")
        return self


class Step(Document):
    """One step of a process, with the rinse that follows it; for a step of kind `wash`, the wash itself.

    After use a bath is poured away (`discard`, where local codes allow), goes back to its bottle (`keep`),
    into its jug (`waste`), or must first be destroyed the same evening (`destroy`); the steps of that
    stand in `obverse.safety.destruction_steps` and what is left then goes into `waste_jug`. Times are
    starting points and every one of them is common practice unless `time_standing` says otherwise.
    """

    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=120)
    kind: StepKind = Field(description="what it does; `other` where only the name says it")
    formula: str | None = Field(default=None, description="key of the bath's formula; none for light, wash, drying")
    mix: str = Field(
        default="",
        max_length=400,
        description="the bath as the person says it, such as '40 mL syrup + 1.5 mL fixer, water to 600 mL'; the formula is its reading",
    )
    volume_ml: float | None = Field(
        default=None, gt=0, le=20_000, description="of the bath, where it is not the tank's"
    )
    time_min: float = Field(ge=0, le=2880)
    time_most_min: float | None = Field(default=None, ge=0, le=2880, description="the longer end of a range")
    until: str = Field(default="", max_length=80, description="what ends it before its longest time, such as 'clear'")
    time_standing: Standing = Standing.COMMON_PRACTICE
    temperature_low_c: float = Field(default=18, ge=0, le=60, description="coolest that is allowed; common practice")
    temperature_high_c: float = Field(default=24, ge=0, le=60)
    temperature_compensated: bool = False
    agitation: Agitation = Agitation()
    drain_s: float = Field(default=10, ge=0, le=120)
    made: Made = Field(default="", description="when the bath is made; empty leaves it to the plan")
    made_during: str = Field(default="", max_length=80, description="key of the step that works meanwhile")
    after_use: AfterUse = "discard"
    waste_jug: str = Field(
        default="", max_length=2, description="letter of the waste jug; empty for the sink where local codes allow"
    )
    good_for_films: float | None = Field(
        default=None, gt=0, le=1000, description="films 135-36 after which the person takes a kept bath for spent"
    )
    renewal: Renewal | None = Field(default=None, description="how the kept bath is topped up or restored")
    deal_with_within_min: float | None = Field(
        default=None, gt=0, le=1440, description="the used bath must be gone this many minutes after its last use"
    )
    light: Literal["dark", "light"] = Field(
        default="dark", description="dark: the film must not see light; the lid stays on"
    )
    optional: bool = False
    rinse_after: Rinse | None = None
    carry_over_ml: float | None = Field(
        default=None, gt=0, le=1000, description="what film and tank take along; absent: as is usual for a film"
    )
    cautions: tuple[str, ...] = ()
    do: str = Field(default="", max_length=600, description="what the hands do, in words")
    why: str = Field(default="", max_length=400)
    note: str = Field(default="", max_length=600)
    said: dict[str, str] = Field(
        default_factory=dict,
        max_length=12,
        description="what the person typed, by field of the form, where the house would tell it in other words",
    )
    declined: tuple[Declined, ...] = Field(default=(), max_length=40)

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.temperature_low_c > self.temperature_high_c:
            raise ValueError(f"temperature window of {self.key} is upside down")
        if self.time_most_min is not None and self.time_most_min < self.time_min:
            raise ValueError(f"the time of {self.key} runs from long to short")
        if (self.made == "during") != bool(self.made_during):
            raise ValueError(f"{self.key}: a bath made during a step names that step, and no other bath does")
        return self


class StepFields(TypedDict, total=False):
    """Fields of a `Step` as they are read from words, field by field."""

    key: str
    name: str
    kind: str
    formula: str | None
    mix: str
    volume_ml: float
    carry_over_ml: float
    time_min: float
    time_most_min: float | None
    until: str
    temperature_low_c: float
    temperature_high_c: float
    agitation: Agitation
    rinse_after: Rinse | None
    made: str
    made_during: str
    after_use: str
    waste_jug: str
    good_for_films: float
    renewal: Renewal
    light: str
    said: dict[str, str]
    note: str


class Process(Document):
    """A whole process: its steps in order, and the formulas of those baths that are its own.

    Formulas that are not among `formulas` are generic ones of the house or the person's own, by key. Times are
    starting points.
    """

    format: Literal["obverse-process"] = "obverse-process"
    version: Literal[1] = 1
    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    bleach: Literal["iron_chloride_ammonia", "acid_permanganate", "peroxide_acid", "acid_dichromate", "own"] = "own"
    reversal: Literal["light", "fogging", "own"] = "own"
    summary: str = Field(default="", max_length=600)
    tank_ml: float | None = Field(default=None, gt=0, le=20_000, description="of the tank it was written for")
    hazard_rank: int = Field(default=5, ge=1, le=9, description="1 is shown first; 9 is shown last")
    warnings: tuple[str, ...] = ()
    advice: tuple[str, ...] = Field(default=(), description="how to begin: film, exposure; common practice, no source")
    steps: tuple[Step, ...] = Field(min_length=1, max_length=40)
    formulas: tuple[Formula, ...] = Field(
        default=(), max_length=40, description="baths that come with the process, by active substance"
    )

    @model_validator(mode="before")
    @classmethod
    def _of_a_route(cls, data: Any) -> Any:
        # Documents, recipes and evenings of before hold the same steps under the older name.
        if isinstance(data, dict) and data.get("format") == "obverse-route":
            return data | {"format": "obverse-process"}
        return data

    @model_validator(mode="after")
    def _unique(self) -> Self:
        keys = [step.key for step in self.steps]
        if len(set(keys)) != len(keys):
            raise ValueError("two steps of the process have the same key")
        if len({formula.key for formula in self.formulas}) != len(self.formulas):
            raise ValueError("two formulas of the process have the same key")
        for step in self.steps:
            if step.made_during and step.made_during not in keys[: keys.index(step.key)]:
                raise ValueError(
                    f"{step.key}: its bath is made during {step.made_during!r}, which is no step before it"
                )
        return self

    @property
    def first_development(self) -> Step:
        """The step whose controls the notebook varies: the first that develops, else the first with a bath."""
        for step in self.steps:
            if step.kind == "develop":
                return step
        return next((step for step in self.steps if step.formula), self.steps[0])

    def baths(self, known: Mapping[str, Formula]) -> dict[str, Formula]:
        """The formulas that are known, and over them those that come with the process."""
        return {**known, **{formula.key: formula for formula in self.formulas}}

    def step(self, key: str) -> Step:
        """The step of that key (KeyError if there is none)."""
        for step in self.steps:
            if step.key == key:
                return step
        raise KeyError(key)

    def with_step(self, changed: Step) -> Process:
        """The process with that step in place of the one of the same key."""
        return self.model_copy(
            update={"steps": tuple(changed if step.key == changed.key else step for step in self.steps)}
        )
