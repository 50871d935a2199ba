"""What the store keeps beside the nouns themselves: a noun with its links, or a thing of the house.

Fields that a newer program wrote and this one does not know are left aside, not refused. Records of runs and of
cameras have modules of their own: most commands need neither.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import ConfigDict, Field, JsonValue, field_validator, model_validator

from obverse.foundation import Document, regex
from obverse.process import Aim, ControlRange, Patch, Trial

_ID = Field(default="", max_length=120)
MOST_NOTE = 4000  # characters, as that of a trial
_BOOKED = regex(r"(.{1,120}?) of this evening\. ")


class StoredRecord(Document):
    """A record of the store. `with` and such words of Python stand under their own name in the document."""

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False, populate_by_name=True)


class TrialEntry(StoredRecord):
    """A trial on the page of its film, and the ids of what it came from.

    `number` is its place on the page, counted from 1; `recipe` the locked recipe that it controls. `strip` is the
    name it had in the evening `run`, and `booked_note` what that evening noted of it: a note of other words is a person's.
    """

    film: str = Field(min_length=1, max_length=120)
    number: int = 0
    trial: Trial
    run: str = _ID
    strip: str = _ID
    booked_note: str = Field(default="", max_length=MOST_NOTE)
    picture: str = _ID
    reading: str = _ID
    recipe: str = _ID
    made_at: str = Field(default="", max_length=60)
    changed_by: str = Field(default="", max_length=60, description="who changed another's strip last")

    @field_validator("run", "picture", "reading", "recipe", "made_at", mode="before")
    @classmethod
    def _none_is_empty(cls, value: object) -> object:
        return "" if value is None else value

    @model_validator(mode="before")
    @classmethod
    def _of_an_older_book(cls, data: Any) -> Any:
        # Evenings of older versions named the strip nowhere but in the first words of its note.
        if not isinstance(data, dict) or not data.get("run") or "strip" in data:
            return data
        trial = data.get("trial")
        note = str(trial.get("note", "") if isinstance(trial, dict) else getattr(trial, "note", ""))
        told = _BOOKED.match(note)
        return data if told is None else {**data, "strip": told[1], "booked_note": note}


class ReadingEntry(StoredRecord):
    """A list of readings by itself, before it belongs to a trial."""

    name: str = Field(max_length=200)
    source: str = Field(default="typed", max_length=40)
    picture: str = _ID
    read_at: str = Field(default="", max_length=60)
    patches: tuple[Patch, ...] = Field(default=(), max_length=2000)


class PictureEntry(StoredRecord):
    """A picture of a strip: the name of its bytes, what its file says, and what was read from it."""

    purpose: str = Field(default="strip", max_length=40)
    name: str = Field(max_length=200)
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")
    media_type: str = Field(default="", max_length=120)
    bytes: int = Field(default=0, ge=0)
    width: int = Field(default=0, ge=0)
    height: int = Field(default=0, ge=0)
    encoding: str = Field(default="", max_length=80)
    exposure_s: float | None = None
    f_number: float | None = None
    iso: float | None = None
    simulated: bool = False
    metadata: dict[str, JsonValue] = Field(default_factory=dict)
    reading: dict[str, JsonValue] | None = None
    together: tuple[str, ...] = Field(default=(), alias="with", description="ids of the pictures read with it")


class SeriesPlan(StoredRecord):
    """The aim of a film and what may be varied on it."""

    what: Literal["series"] = "series"
    film: str = Field(min_length=1, max_length=120)
    controls: dict[str, ControlRange] = Field(min_length=1)
    aim: Aim


class ShotEntry(StoredRecord):
    """One frame of a bracket."""

    frame: int
    stops: float
    log_exposure: float
    shutter_s: float | None = None


class ShotListEntry(StoredRecord):
    """A bracket as it was shot, to be read back when the film is developed."""

    what: Literal["shot_list"] = "shot_list"
    name: str = Field(max_length=120)
    shots: tuple[ShotEntry, ...] = ()
    made_at: str = Field(default="", max_length=60)


class RoomEntry(StoredRecord):
    """The room one works in."""

    volume_m3: float = Field(ge=0.5, le=10_000)
    air_changes_per_h: float = Field(ge=0, le=100)
    temperature_c: float = Field(default=20.0, description="of a room where nothing is said; common practice")


class DemoMark(StoredRecord):
    """Stands in a home that holds the invented teaching darkroom."""

    what: Literal["demo"] = "demo"
    invented: bool = True
