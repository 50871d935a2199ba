"""What makes a strip the same strip, and a film the same film, wherever and under whatever name it is written down.

A strip is known by its content: what was done to it and what was seen on it. Its name, its note and the person who
wrote it down may differ; identical strips are one strip and count once. A day of making that differs makes two.
"""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Protocol

from obverse.process.trial import Trial

# Digits that count: a control, an exposure and a density as any list writes them; last bits are no difference.
DIGITS = 6
# Of a SHA-256: enough that two strips of all the world's darkrooms do not meet by chance.
CHARACTERS_OF_A_MARK = 32


class Named(Protocol):
    """A film as it is told apart: by the words on its box and its speed."""

    @property
    def name(self) -> str: ...

    @property
    def box_speed(self) -> float: ...


def has_evidence(trial: Trial) -> bool:
    """Whether anything was seen on it; a strip that is planned or waits to be read tells nothing.

    Returns
    -------
    bool
        True with a reading, a grade or a fault.
    """
    return bool(trial.steps or trial.grades or trial.faults)


def content_mark(trial: Trial) -> str:
    """A mark of what was done and seen: the same for the same content, whatever the strip is called.

    Returns
    -------
    str
        Hexadecimal figures.
    """
    return _mark(
        {
            "controls": {name: _rounded(value) for name, value in sorted(trial.controls.items())},
            "wear": {bath: _rounded(share) for bath, share in sorted(trial.wear.items()) if share},
            "steps": sorted([_rounded(patch.log_exposure), _rounded(patch.density)] for patch in trial.steps),
            "grades": sorted([grade.of, grade.grade] for grade in trial.grades),
            "faults": sorted(set(trial.faults)),
        }
    )


def strip_id(darkroom: str, trial: Trial, written_at: str = "") -> str:
    """The lasting id of a strip, from its content as it was first written down: it stays when the strip is corrected.

    Parameters
    ----------
    darkroom : str
        Id of the darkroom it was made in.
    trial : Trial
        As first written down.
    written_at : str
        When that was; tells apart two strips planned alike.

    Returns
    -------
    str
        Hexadecimal figures.
    """
    made_on = trial.made_on.isoformat() if trial.made_on else ""
    return _mark([darkroom, made_on, trial.id, written_at, content_mark(trial)])


def same_strip(one: Trial, other: Trial) -> bool:
    """Whether two entries are one strip: seen alike to the last figure, and not made on two different days.

    Returns
    -------
    bool
        False where nothing was seen on them.
    """
    return (
        has_evidence(one)
        and content_mark(one) == content_mark(other)
        and (one.made_on is None or other.made_on is None or one.made_on == other.made_on)
    )


def first_of_each(trials: Sequence[Trial]) -> list[int]:
    """For each trial the place of the first that is the same strip; its own place where there is none before it.

    Of entries with the same content there are as many strips as there are days; one without a day is that of the
    earliest. So the answer does not depend on the order they were written in.

    Returns
    -------
    list of int
        As long as `trials`; places from 0.
    """
    alike: dict[str, list[int]] = {}
    for place, trial in enumerate(trials):
        if has_evidence(trial):
            alike.setdefault(content_mark(trial), []).append(place)
    found = list(range(len(trials)))
    for places in alike.values():
        days = sorted({day for place in places if (day := trials[place].made_on) is not None})
        first: dict[object, int] = {}
        for place in places:
            day = trials[place].made_on or (days[0] if days else None)
            found[place] = first.setdefault(day, place)
    return found


def plain_name(name: str) -> str:
    """A film's name without what people write differently: case, accents, blanks and signs.

    Returns
    -------
    str
        Letters and figures only; may be empty.
    """
    letters = unicodedata.normalize("NFKD", name).casefold()
    return "".join(sign for sign in letters if sign.isalnum())


def same_film(one: Named, other: Named, *, also: Iterable[str] = ()) -> bool:
    """Whether two films are one: of one box speed, and of one name as people write it, or of a name confirmed to be the same.

    Parameters
    ----------
    also : iterable of str
        Names that the person confirmed to be this film.
    """
    names = {plain_name(name) for name in (one.name, *also)}
    return one.box_speed == other.box_speed and plain_name(other.name) in names and plain_name(other.name) != ""


def _rounded(value: float) -> float:
    # Minus zero is zero.
    return round(float(value), DIGITS) + 0.0


def _mark(content: object) -> str:
    text = json.dumps(content, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:CHARACTERS_OF_A_MARK]
