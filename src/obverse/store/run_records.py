"""What the store keeps of a run."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from obverse.run import RunPlan
from obverse.store.records import StoredRecord


class RunEntry(StoredRecord):
    """An evening at the sink; what happened in it stands in its events."""

    name: str = Field(max_length=200)
    status: Literal["planned", "running", "paused", "finished", "aborted"]
    speed: float = Field(default=1.0, ge=1, le=600)
    plan: RunPlan
    made_at: str = Field(default="", max_length=60)
    person: str = Field(default="", max_length=60)
