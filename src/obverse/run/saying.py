"""What a run has to say, as structure: a kind and what it is about. The words are made where they are shown."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from obverse.foundation import Document

# Why a touch or a correction changed nothing.
Refusal = Literal[
    "nothing_to_correct",
    "taken_back_before",
    "cannot_be_taken_back",
    "later_touches",
    "later_entries",
    "no_temperature",
    "no_words",
    "time_stays",
    "not_between",
    "begun",
    "another_bath",
    "in_already",
    "not_running",
    "moved_on",
    "not_in_yet",
    "too_early",
    "no_such_action",
    "bath_in_tank",
    "not_repeatable",
    "not_done_yet",
    "not_in_hand",
    "end_it_instead",
    "over_already",
    "not_paused",
    "not_begun",
    "ended_already",
    "film_on_its_way",
]
# What came of one that counted.
News = Literal[
    "corrected",
    "goes_on",
    "over",
    "duty_taken",
    "duty_done",
    "agitation_left_out",
    "paused",
    "bath_goes_on",
    "resumed",
    "noted",
    "longer",
    "written",
    "ended_early",
    "clock",
]
# What to know of temperatures, of times, and of what the plan could not do.
Warned = Literal["temperature_step", "noted_outside", "planned_outside", "time_changed", "no_hands_meanwhile"]


class Saying(Document):
    """One thing to say, without its words.

    Parameters
    ----------
    kind : str
        What is said.
    name, other : str
        Of the action or the bath it is about, and of a second one.
    by : str
        Who does it.
    text : str
        What is handed on as it was written, such as what the clock has to say.
    """

    kind: Refusal | News | Warned
    name: str = ""
    other: str = ""
    by: str = ""
    text: str = ""
    seconds: float | None = Field(default=None, description="left, or longer; where a time was changed, what it is now")
    before_s: float | None = Field(default=None, description="what the time was before it was changed")
    sd_s: float | None = Field(default=None, description="standard uncertainty of the changed time")
    temperature_c: float | None = None
    low_c: float | None = Field(default=None, description="from this on it is as it should be")
    high_c: float | None = Field(default=None, description="up to this it is as it should be")
    difference_c: float | None = Field(
        default=None, description="by how much warmer than the bath before; below zero, colder"
    )
    soft: bool = Field(default=False, description="the gelatin is soft: the film has been through acid permanganate")
