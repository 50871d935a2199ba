"""Trials: what was done to a strip and what was seen on it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from obverse.foundation import Document

# The controls the process model knows. Unit, default range and step of each; what a series does
# not vary is held at `default`.
CONTROL_NAMES = (
    "first_developer_time_min",
    "solvent_ml_per_l",
    "alkali_ml_per_l",
    "temperature_c",
    "developer_parts_water",
)

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


class Control(Document):
    """One thing that may be varied, its limits, and the smallest step the person's tools can make."""

    unit: str = Field(default="", max_length=40)
    low: float
    high: float
    step: float = Field(gt=0)

    @model_validator(mode="after")
    def _ordered(self):
        if self.low > self.high:
            raise ValueError(f"low {self.low} lies above high {self.high}")
        if (self.high - self.low) / self.step > 10_000:
            raise ValueError(f"step {self.step} is too fine for the range {self.low} to {self.high}")
        return self


DEFAULT_CONTROLS: dict[str, Control] = {
    "first_developer_time_min": Control(unit="min", low=4, high=20, step=0.5),
    "solvent_ml_per_l": Control(unit="mL/L", low=0, high=30, step=1),
    "alkali_ml_per_l": Control(unit="mL/L", low=0, high=20, step=1),
    "temperature_c": Control(unit="C", low=18, high=24, step=0.5),
    "developer_parts_water": Control(unit="parts", low=5, high=25, step=1),
}

# What a control is held at where a series does not mention it.
HELD_AT: dict[str, float] = {
    "first_developer_time_min": 10.0,
    "solvent_ml_per_l": 10.0,
    "alkali_ml_per_l": 5.0,
    "temperature_c": 20.0,
    "developer_parts_water": 15.0,
}


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
    midtones  | light, right, dark
    contrast  | flat, right, hard
    """

    of: Literal["highlights", "blacks", "midtones", "contrast"]
    grade: str

    @model_validator(mode="after")
    def _known(self):
        if self.grade not in GRADES[self.of]:
            raise ValueError(f"{self.of} cannot be {self.grade!r}; use one of {', '.join(GRADES[self.of])}")
        return self


# From low density (or gradient) to high.
GRADES: dict[str, tuple[str, ...]] = {
    "highlights": ("clear", "slightly_murky", "murky"),
    "blacks": ("thin", "slightly_thin", "deep"),
    "midtones": ("light", "right", "dark"),
    "contrast": ("flat", "right", "hard"),
}


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
    grades: tuple[Grade, ...] = ()
    faults: tuple[str, ...] = ()
    note: str = Field(default="", max_length=4000)

    @model_validator(mode="after")
    def _known(self):
        for name in (*self.controls, *self.control_sds):
            if name not in CONTROL_NAMES:
                raise ValueError(f"unknown control {name!r}; the model knows {', '.join(CONTROL_NAMES)}")
        for name, value in self.controls.items():
            if name != "temperature_c" and value < 0:
                raise ValueError(f"{name} cannot be negative ({value})")
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
