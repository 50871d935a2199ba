"""The series document: one film, its controls, its aim and its trials."""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import Field, field_validator, model_validator

from obverse.foundation import Document, read_document
from obverse.process.aim import AIMS, Aim
from obverse.process.control import CONTROLS, ControlRange
from obverse.process.trial import Trial


class SeriesFilm(Document):
    """The film as the series document names it."""

    name: str = Field(min_length=1, max_length=120)
    box_speed: float = Field(gt=0, le=100_000)
    base_density: float | None = Field(default=None, ge=0, le=1.5)
    emulsion: Literal["cubic", "tabular"] | None = Field(default=None, description="kind of grain, where it is known")
    label_time_min: float | None = Field(
        default=None, gt=0, le=120, description="time that the label of a usual developer prints for the negative"
    )


class Series(Document):
    """One film and all that was tried on it."""

    format: Literal["obverse-series"]
    version: Literal[1]
    film: SeriesFilm
    controls: dict[str, ControlRange] = Field(min_length=1)
    aim: Aim = AIMS["projection"]
    trials: tuple[Trial, ...] = Field(default=(), max_length=2000)

    @field_validator("aim", mode="before")
    @classmethod
    def _by_name(cls, value: Any) -> Any:
        if isinstance(value, str):
            if value not in AIMS:
                raise ValueError(f"no aim is called {value!r}; use one of {', '.join(AIMS)} or give the windows")
            return AIMS[value]
        return value

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if problem := CONTROLS.problem_with_names(self.controls):
            raise ValueError(problem)
        seen: set[str] = set()
        for trial in self.trials:
            if trial.id in seen:
                raise ValueError(f"trial id {trial.id!r} stands twice")
            seen.add(trial.id)
        return self


def read_series(data: Any, *, where: str = "series") -> Series:
    """Check a series document.

    Parameters
    ----------
    data : Any
        As read from JSON.
    where : str, optional
        Names the input in an error.

    Raises
    ------
    InputError
        With the place and reason of the first thing wrong.
    """
    return read_document(Series, data, where=where)
