"""Tools and equipment of a bench, with the graduations that decide how finely it can measure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Self, get_args

from pydantic import Field, model_validator

from obverse.foundation import Document
from obverse.process.formats import FORMATS, ONE_FILM, FilmPiece
from obverse.process.product import KEY


class Tool(Document):
    """Something that measures: a volume in mL, a mass in g, or a spoon (a volume of powder)."""

    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=80)
    kind: Literal["syringe", "pipette", "cylinder", "jug", "balance", "spoon"]
    graduation: float = Field(gt=0, le=1000, description="smallest step it shows: mL, or g for a balance")
    capacity: float = Field(gt=0, le=20_000, description="most it takes at once: mL, or g for a balance")
    unit: str = Field(
        default="", pattern=rf"^$|{KEY}", description="unit it is marked in, such as us_fl_oz; empty: mL or g"
    )

    @model_validator(mode="after")
    def _sensible(self) -> Self:
        if self.graduation > self.capacity:
            raise ValueError(f"{self.name} cannot have a graduation above its capacity")
        return self


class Equipment(Document):
    """What else stands in the darkroom: tanks, lamp, light panel, camera, room."""

    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=120)
    kind: Literal[
        "tank",
        "bucket",
        "test_strips",
        "lamp",
        "light_panel",
        "camera",
        "scanner",
        "densitometer",
        "thermometer",
        "room",
    ]
    volume_ml: float | None = Field(default=None, gt=0, le=100_000, description="a tank or bucket: what it holds")
    films: float | None = Field(default=None, gt=0, le=100, description="a tank: how many narrow reels (135, 16 mm)")
    films_120: float | None = Field(default=None, gt=0, le=100, description="a tank: how many wide reels (120, 127)")
    sheets: float | None = Field(default=None, gt=0, le=200, description="a tank: how many sheets at once")
    note: str = Field(default="", max_length=600)

    def share_taken(self, pieces: Sequence[FilmPiece]) -> float | None:
        """Which share of a tank this film fills, 1 being all its places; None where its places are not told."""
        share = 0.0
        for piece in pieces or (ONE_FILM,):
            wide = FORMATS[piece.format].width == "wide"
            places = self.sheets if not piece.reels else self.films_120 if wide else self.films
            if places is None:
                return None
            share += piece.count / places
        return share


def tool_noun(kind: object) -> type[Tool] | type[Equipment]:
    """Whether a body of that kind measures (Tool) or stands in the room (Equipment).

    Parameters
    ----------
    kind : object
        As the body of a request has it.

    Returns
    -------
    type
    """
    return Equipment if kind in get_args(Equipment.model_fields["kind"].annotation) else Tool


# What a bench without a tool list is taken to have.
USUAL_TOOLS = (
    Tool(key="syringe", name="syringe, 0.1 mL", kind="syringe", graduation=0.1, capacity=20),
    Tool(key="cylinder", name="measuring cylinder, 5 mL", kind="cylinder", graduation=5, capacity=500),
    Tool(key="balance", name="balance, 0.1 g", kind="balance", graduation=0.1, capacity=500),
)
