"""What the store keeps of a camera."""

from __future__ import annotations

from pydantic import Field

from obverse.densitometry import Calibration
from obverse.store.records import StoredRecord


class CalibrationEntry(StoredRecord):
    """The calibration of the camera, and the picture of the step tablet it was made with."""

    calibration: Calibration
    picture: str = Field(default="", max_length=120)
