"""How a number or a statement is known, and where from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Standing(StrEnum):
    """How a number is known. A standing is never upgraded on the way to the screen."""

    LOOKED_UP = "looked_up"
    COMPUTED = "computed"
    COMMON_PRACTICE = "common_practice"
    FROM_MEMORY = "from_memory"

    @property
    def words(self) -> str:
        """What the screen says."""
        return {
            "looked_up": "looked up",
            "computed": "computed",
            "common_practice": "common practice, no source",
            "from_memory": "from memory",
        }[self.value]


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number comes from.

    Parameters
    ----------
    text : str
        Book, standard, page or package, in words.
    partly_memory : bool
        True where one of the inputs was from memory; then the screen says so too.
    """

    text: str
    standing: Standing
    partly_memory: bool = False

    @property
    def words(self) -> str:
        """Standing in words, with the memory part kept visible."""
        return self.standing.words + (" (partly from memory)" if self.partly_memory else "")
