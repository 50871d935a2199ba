"""This computer: where it keeps the notebook, and whether its clock can be trusted with a closed lid."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import Field

from obverse.clock import Clock, ClockLook, Slept, look_at, slept_between
from obverse.foundation import ConflictError, Document, InputError, JsonObject, parse_json, read_document
from obverse.system import FolderDoubt, Home, doubts_about, put_in_place
from obverse.workbench.evening_words import span_words

FILE = "clock.json"
# So much sleep since the start, counted by one and not by the other, shows that the steady count goes on in sleep.
SHOWN_BY_S = 60.0

WHAT_TO_DO = (
    "Leave the lid open and the power on for the whole evening.",
    "Set this computer to never sleep, at least while it is on power.",
    "Have another clock at the sink. If this computer did sleep, the page asks at the next look how the time is to be counted.",
)


class _Look(Document):
    date_s: float
    steady_s: float
    awake_s: float
    boot: str = Field(max_length=120)

    def look(self) -> ClockLook:
        return ClockLook(self.date_s, self.steady_s, self.awake_s, self.boot)


class _ClockTrial(Document):
    """What is kept of trials: one that was begun, and what the last one showed."""

    began: _Look | None = None
    verdict: Literal["", "counted", "stood"] = ""
    slept_s: float = 0.0
    day: str = Field(default="", max_length=10)


@dataclass(frozen=True, slots=True)
class ClockStanding:
    """Whether the clock of this computer survives a closed lid.

    Parameters
    ----------
    survives : {"yes", "no", "not proven"}
    why : str
        How that is known.
    what_to_do : tuple of str
        What helps where it is not known to survive.
    trying : bool
        Whether a trial was begun and waits for its end.
    """

    survives: Literal["yes", "no", "not proven"]
    why: str
    what_to_do: tuple[str, ...]
    trying: bool

    @property
    def sentence(self) -> str:
        """One line for a terminal."""
        return f"This computer's clock survives a closed lid: {self.survives}. {self.why}"

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {"survives": self.survives, "why": self.why, "what_to_do": list(self.what_to_do), "trying": self.trying}


def clock_standing(clock: Clock, home: Path) -> ClockStanding:
    """What is known of the clock: from the last trial, from the sleep since the start, from the documentation."""
    kept = _kept(home)
    trying = kept.began is not None
    if kept.verdict == "stood":
        why = f"Tried on {kept.day}: its steady clock stood while it slept {span_words(kept.slept_s)}."
        return ClockStanding("no", why, WHAT_TO_DO, trying)
    if kept.verdict == "counted":
        why = f"Tried on {kept.day}: it slept {span_words(kept.slept_s)}, and all of it was counted."
        return ClockStanding("yes", why, (), trying)
    slept_s = clock.steady_s() - clock.awake_s()
    if slept_s > SHOWN_BY_S:
        return ClockStanding("yes", f"It has counted {span_words(slept_s)} of sleep since it was started.", (), trying)
    why = (
        "Its system promises it, but it has not slept since it was started."
        if clock.counts_sleep
        else "Its system promises no clock that goes on in sleep."
    )
    return ClockStanding("not proven", why, WHAT_TO_DO, trying)


def begin_clock_trial(clock: Clock, home: Path) -> None:
    """Note all counts; the person then closes the lid for a minute."""
    look = look_at(clock)
    began = _Look(date_s=look.date_s, steady_s=look.steady_s, awake_s=look.awake_s, boot=look.boot)
    _keep(home, _kept(home).model_copy(update={"began": began}))


def end_clock_trial(clock: Clock, home: Path) -> Slept:
    """Compare the counts after the lid was opened; a trial that shows nothing leaves what was known.

    Raises
    ------
    ConflictError
        If no trial was begun.
    """
    kept = _kept(home)
    if kept.began is None:
        raise ConflictError(
            "no trial was begun", where="clock", remedy="begin one, close the lid for a minute, open it again"
        )
    found = slept_between(kept.began.look(), look_at(clock))
    changes: dict[str, object] = {"began": None}
    if found.verdict in ("counted", "stood"):
        changes |= {"verdict": found.verdict, "slept_s": found.slept_s, "day": clock.now().date().isoformat()}
    _keep(home, kept.model_copy(update=changes))
    return found


def trial_words(found: Slept) -> str:
    """What a trial showed, in a sentence."""
    slept = span_words(found.slept_s)
    return {
        "counted": f"The computer slept {slept}, and its steady clock counted all of it.",
        "stood": f"The computer slept {slept}, and its steady clock missed {span_words(found.missed_s)} of it.",
        "no_sleep": "The computer did not sleep meanwhile, so nothing is shown. Close the lid for a minute and try again.",
        "date_set": f"Its steady clock counted {slept} of sleep, but the date was set meanwhile. Try again without.",
        "started_anew": "The computer was started anew meanwhile, so nothing is shown. Try again.",
    }[found.verdict]


def home_doubts(home: Home) -> tuple[FolderDoubt, ...]:
    """Why the data folder is no good place for a notebook, if it is none."""
    return doubts_about(home.folder)


def home_words(home: Home) -> str:
    """How the data folder was found, in a sentence."""
    how = {
        "told": "As --home says.",
        "variable": "As OBVERSE_HOME says.",
        "usual": "The usual folder of this system.",
        "older": "An older version made it there, and it stays there.",
    }[home.how]
    return how if home.beside is None else f"{how} An older notebook, in {home.beside}, is not used; --home opens it."


def _kept(home: Path) -> _ClockTrial:
    """What is kept; a file that cannot be read is as good as none, for it holds nothing that a new trial does not bring."""
    try:
        return read_document(_ClockTrial, parse_json((home / FILE).read_bytes(), where=FILE), where=FILE)
    except (OSError, InputError):
        return _ClockTrial()


def _keep(home: Path, kept: _ClockTrial) -> None:
    put_in_place(home / FILE, kept.model_dump_json(indent=1).encode(), private=True)
