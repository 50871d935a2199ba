"""Cautions: what a person must be told, carried from where it arises to the screen."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How loud a caution is. `REFUSED` never comes with a result."""

    NOTE = "note"
    CAUTION = "caution"
    DANGER = "danger"


class Deferral(StrEnum):
    """What only says who is heard before us: a page that says so at its foot need not repeat it."""

    FIRST = "Labels, safety data sheets and local codes come first."
    BEFORE_THIS = "Labels, safety data sheets and local codes come before anything written here."
    WHERE_THEY_SAY = "Labels, safety data sheets and local codes come first; what is left goes where they say."

    @classmethod
    def is_said_by(cls, text: str) -> bool:
        """Whether a text is one of them, whole."""
        return text in frozenset[str](cls)


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to be told, at the line where it applies.

    Parameters
    ----------
    code : str
        Stable short name, such as ``"temperature.step"``.
    text : str
        One sentence in plain words.
    where : str
        The step, bath, patch or line it belongs to; may be empty.
    source : str
        Key of the reference record it rests on; may be empty.
    """

    code: str
    text: str
    level: Level = Level.CAUTION
    where: str = ""
    source: str = ""

    def document(self) -> dict[str, str]:
        """The JSON shape."""
        return {
            "code": self.code,
            "text": self.text,
            "level": self.level.value,
            "where": self.where,
            "source": self.source,
        }
