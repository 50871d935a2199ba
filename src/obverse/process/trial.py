"""Trials: what was done to a strip and what was seen on it."""

from __future__ import annotations

from datetime import date
from typing import Literal, Self

from pydantic import Field, model_validator

from obverse.foundation import Document
from obverse.process.control import CONTROLS

FAULTS = (
    "ghost_negative",
    "murky_highlights",
    "thin_blacks",
    "stain",
    "low_contrast",
    "underexposed",
    "overexposed",
    "uneven_agitation",
    "bromide_drag",
    "reticulation",
    "coarse_grain",
    "drying_marks",
    "light_leak",
    "frilling",
    "incomplete_second_development",
)


class Patch(Document):
    """Density of one patch. `log_exposure` is relative to the metered mid-tone at box speed.

    The density includes the base: it is what the light table reads against the open panel.
    """

    log_exposure: float = Field(ge=-10, le=10)
    density: float = Field(ge=-0.5, le=6)
    density_sd: float | None = Field(default=None, gt=0, le=3)
    stain_index: float | None = Field(
        default=None, ge=-6, le=6, description="density in blue less density in red, where a colour picture was read"
    )


class Grade(Document):
    """What the eye says of a strip.

    of        | grades
    ----------+---------------------------------------
    highlights| clear, slightly_murky, murky
    blacks    | deep, slightly_thin, thin
    midtones  | light, slightly_light, right, slightly_dark, dark
    contrast  | flat, slightly_flat, right, slightly_hard, hard
    tint      | none, slight, strong
    """

    of: Literal["highlights", "blacks", "midtones", "contrast", "tint"]
    grade: str

    @model_validator(mode="after")
    def _known(self) -> Self:
        if self.grade not in GRADES[self.of]:
            raise ValueError(f"{self.of} cannot be {self.grade!r}; use one of {', '.join(GRADES[self.of])}")
        return self


# From low density (or gradient) to high.
GRADES: dict[str, tuple[str, ...]] = {
    "highlights": ("clear", "slightly_murky", "murky"),
    "blacks": ("thin", "slightly_thin", "deep"),
    "midtones": ("light", "slightly_light", "right", "slightly_dark", "dark"),
    "contrast": ("flat", "slightly_flat", "right", "slightly_hard", "hard"),
    "tint": ("none", "slight", "strong"),
}


# How the steps of a strip got their exposures; each has its usual errors on record.
Exposed = Literal["wedge", "shutter", "aperture", "flash", "timer", "metered", "unstated"]

# Baths whose wear a trial may state.
WORN_BATHS = ("first_developer", "bleach", "second_developer")


class Trial(Document):
    """One strip: its controls and its evidence (patches, eye grades, faults). Evidence may be empty."""

    id: str = Field(min_length=1, max_length=120)
    controls: dict[str, float] = Field(default_factory=dict)
    control_sds: dict[str, float] = Field(
        default_factory=dict, description="standard uncertainty of what was truly done, in the control's unit"
    )
    wear: dict[str, float] = Field(
        default_factory=dict,
        description="share of its capacity each bath had used before this strip, 0 fresh to 1 spent; absent is fresh",
    )
    steps: tuple[Patch, ...] = Field(default=(), max_length=2000)
    exposed: Exposed = Field(
        default="unstated", description="how the steps got their exposures; tells how well each exposure is known"
    )
    grades: tuple[Grade, ...] = ()
    faults: tuple[str, ...] = ()
    made_on: date | None = Field(default=None, description="day the strip was made, where it is known")
    person: str = Field(default="", max_length=60, description="who made it, by the name chosen at the bench")
    note: str = Field(default="", max_length=4000)

    @model_validator(mode="after")
    def _known(self) -> Self:
        if problem := CONTROLS.problem(self.controls) or CONTROLS.problem_with_names(self.control_sds):
            raise ValueError(problem)
        for name, value in self.control_sds.items():
            if value < 0:
                raise ValueError(f"the uncertainty of {name} cannot be negative ({value})")
        for bath, share in self.wear.items():
            if bath not in WORN_BATHS:
                raise ValueError(f"the wear of {bath!r} is not known; use one of {', '.join(WORN_BATHS)}")
            if not 0 <= share <= 1:
                raise ValueError(f"the wear of {bath} is a share from 0 (fresh) to 1 (capacity used), not {share}")
        for fault in self.faults:
            if fault not in FAULTS:
                raise ValueError(f"unknown fault {fault!r}; use one of {', '.join(FAULTS)}")
        return self
