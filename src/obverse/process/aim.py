"""Aims: windows a strip should fall in, densities above base."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from obverse.foundation import Document, InputError
from obverse.reference import number


class Aim(Document):
    """Windows on what can be seen of a strip. Any may be absent. Densities are above base.

    `midtone_density` defines the mid-tone exposure as the first log exposure at which the falling
    curve crosses it. `gradient_*` bound the mean slope (positive) from 0.25 below to 0.25 above it;
    `highlight_density_max` applies 0.80 above it.
    """

    name: str = Field(default="own", max_length=80)
    dmax_min: float | None = Field(default=None, ge=0, le=5)
    gradient_min: float | None = Field(default=None, ge=0, le=10)
    gradient_max: float | None = Field(default=None, ge=0, le=10)
    highlight_density_max: float | None = Field(default=None, ge=0, le=5)
    midtone_density: float = Field(default=1.0, gt=0, le=4)
    midtone_log_exposure_min: float | None = Field(default=None, ge=-5, le=5)
    midtone_log_exposure_max: float | None = Field(default=None, ge=-5, le=5)

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        for low, high, name in (
            (self.gradient_min, self.gradient_max, "gradient"),
            (self.midtone_log_exposure_min, self.midtone_log_exposure_max, "midtone_log_exposure"),
        ):
            if low is not None and high is not None and low > high:
                raise ValueError(f"{name}_min {low} lies above {name}_max {high}")
        if self.dmax_min is not None and self.dmax_min <= self.midtone_density:
            raise ValueError(f"dmax_min {self.dmax_min} must lie above midtone_density {self.midtone_density}")
        return self


AIM_NAMES = ("projection", "light_table", "scan")


def _recorded(name: str) -> Aim:
    """The aim as its records ``aim.NAME.FIELD`` give it: reason and standing of every window are there."""
    windows = {field: number(f"aim.{name}.{field}") for field in Aim.model_fields if field != "name"}
    return Aim(name=name, **windows)


AIMS: dict[str, Aim] = {name: _recorded(name) for name in AIM_NAMES}


def named_aim(name: str) -> Aim:
    """The aim of that name.

    Parameters
    ----------
    name : str
        One of `AIMS`.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    if name not in AIMS:
        raise InputError(
            f"no aim is called {name!r}", where="aim", remedy=f"use one of {', '.join(AIMS)} or give the windows"
        )
    return AIMS[name]
