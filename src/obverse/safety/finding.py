"""A finding of the checker: two things that meet, what comes of it, how bad it is, and what to do."""

from __future__ import annotations

from dataclasses import dataclass

from obverse.foundation import Caution, JsonObject, Level, Source


@dataclass(frozen=True, slots=True)
class Finding:
    """One recorded pair that is met, or one thing that the engine reckons.

    Parameters
    ----------
    pair : str
        Key of the record, such as ``"inc.01"``; ``"reckoned.NAME"`` for what the engine derives.
    severity : int
        4 can kill, 3 injures, 2 ruins the film, 1 ruins the bath, in this context.
    context : str
        One of `obverse.safety.meeting.MEETING_WORDS`; ``"any"`` for what holds wherever they meet.
    refused : bool
        True where it must not be done at all.
    a, b : str
        The two parts, in words; `a_from`, `b_from` the bottles or baths they are in.
    residual_g_per_l : float or None
        For carry-over: what the rinse leaves of the carried part.
    """

    pair: str
    severity: int
    context: str
    level: Level
    refused: bool
    a: str
    b: str
    a_from: str
    b_from: str
    product: str
    text: str
    advice: str
    source: Source
    where: str = ""
    gas: bool = False
    residual_g_per_l: float | None = None

    def caution(self) -> Caution:
        """As a caution of the house, to be shown at its line."""
        source = self.pair if self.pair.startswith("inc.") else ""
        return Caution(f"pair.{self.pair}", f"{self.text} {self.advice}", self.level, self.where, source)

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "pair": self.pair,
            "severity": self.severity,
            "context": self.context,
            "level": self.level.value,
            "refused": self.refused,
            "a": {"name": self.a, "from": self.a_from},
            "b": {"name": self.b, "from": self.b_from},
            "product": self.product,
            "text": self.text,
            "advice": self.advice,
            "where": self.where,
            "residual_g_per_l": self.residual_g_per_l,
            "source": {"text": self.source.text, "standing": self.source.words},
        }
