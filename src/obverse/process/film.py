"""Film stocks, in the person's own words."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from obverse.foundation import Document


class FilmStock(Document):
    """A negative film to be made into slides.

    `base_density` is the density of the bare support, unknown until somebody measures it.
    """

    name: str = Field(min_length=1, max_length=120)
    box_speed: float = Field(gt=0, le=100_000, description="speed printed on the box, ISO arithmetic")
    base_density: float | None = Field(default=None, ge=0, le=1.5)
    base_tint: Literal["clear", "grey", "unknown"] = "unknown"
    emulsion: Literal["cubic", "tabular"] | None = Field(default=None, description="kind of grain, where it is known")
    label_time_min: float | None = Field(
        default=None, gt=0, le=120, description="time that the label of a usual developer prints for the negative"
    )
    batch: str = Field(default="", max_length=60, description="emulsion number or use-by date, as printed")
    same_as: tuple[str, ...] = Field(
        default=(), max_length=40, description="names under which others know this film, each confirmed by the person"
    )
    silver_g_per_m2: float | None = Field(default=None, gt=0, le=30)
    note: str = Field(default="", max_length=2000)
