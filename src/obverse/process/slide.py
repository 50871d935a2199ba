"""Slides in their mounts, and the lists they are shown by."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal

from pydantic import Field, field_validator

from obverse.foundation import Document


class Slide(Document):
    """One frame, mounted or still in its strip."""

    what: Literal["slide"] = "slide"
    roll: str = Field(min_length=1, max_length=80)
    frame: str = Field(min_length=1, max_length=12)
    title: str = Field(default="", max_length=160)
    keywords: tuple[str, ...] = Field(default=(), max_length=30)
    mounted: bool = False
    mount: Literal["", "no glass", "glass"] = ""
    thickness_mm: float | None = Field(default=None, ge=0.3, le=8, description="of the mount")
    upright: bool = Field(default=False, description="the picture stands on its short side")
    spot: Literal["", "lower left", "lower right", "upper left", "upper right"] = Field(
        default="", description="corner of the mount with the spot, as the picture reads; empty is the usual lower left"
    )
    picture: str = Field(default="", max_length=120, description="id of its photograph on the light panel")
    zone: float | None = Field(default=None, ge=0, le=10, description="exposure note: where the metered place was put")
    exposure_index: float | None = Field(default=None, gt=0, le=100_000, description="exposure note: meter setting")
    density: float | None = Field(default=None, ge=-0.5, le=6, description="of the metered place, base included")
    density_sd: float | None = Field(default=None, gt=0, le=3, description="standard uncertainty of that")
    place: str = Field(default="", max_length=80, description="box or tray it lies in")
    recipe: str = Field(default="", max_length=120, description="id of the recipe it was made by")
    film: str = Field(default="", max_length=120)
    taken_on: date | None = None
    note: str = Field(default="", max_length=2000)

    @field_validator("keywords", mode="before")
    @classmethod
    def _words(cls, value: Any) -> Any:
        """Keywords may come as one line with commas; each stands once, in small letters."""
        words = value.split(",") if isinstance(value, str) else value
        if not isinstance(words, (list, tuple)) or not all(isinstance(w, str) for w in words):
            return words
        return tuple(dict.fromkeys(w.strip().lower()[:40] for w in words if w.strip()))


class ShowList(Document):
    """Slides in the order of an evening."""

    what: Literal["list"] = "list"
    name: str = Field(min_length=1, max_length=120)
    slides: tuple[str, ...] = Field(default=(), max_length=500)
    projectors: Literal[1, 2] = Field(default=1, description="two show in turn and dissolve into each other")
    tray_slots: int = Field(default=80, ge=1, le=200, description="of one tray")
    first_slot: int = Field(default=1, ge=1, le=200, description="where the first tray of each projector begins")
    note: str = Field(default="", max_length=2000)
