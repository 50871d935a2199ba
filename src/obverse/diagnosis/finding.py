"""What a diagnosis says: a fault, how likely against the alternatives, why, and what to do, cheapest first."""

from __future__ import annotations

from dataclasses import dataclass

from obverse.foundation import JsonObject, Standing

NAMES = {
    "ghost_negative": "Ghost negative",
    "incomplete_second_development": "Incomplete second development",
    "stain": "Stain or fog over all",
    "murky_highlights": "Murky highlights",
    "thin_blacks": "Thin blacks",
    "low_contrast": "Low contrast",
    "underexposed": "Too dark: underexposed or underdeveloped",
    "overexposed": "Too light: overexposed or overdeveloped",
    "uneven_agitation": "Uneven agitation, surge marks",
    "bromide_drag": "Bromide drag",
    "reticulation": "Reticulation",
    "coarse_grain": "Coarse grain",
    "drying_marks": "Drying marks",
    "light_leak": "Light leak",
    "frilling": "Frilling",
    "cannot_tell": "Cannot tell",
    "sound": "No fault",
    "something_else": "Something else",
}
NONE_OF_THESE = "none of these"
_LEAST_SAID = 0.005  # smaller probabilities are not worth a word
_NEARLY_SURE = 0.99  # no picture makes anything surer than this in words


@dataclass(frozen=True, slots=True)
class Cure:
    """One thing to do about a fault, with how it is known.

    Parameters
    ----------
    first_developer : bool
        It changes the recipe of the first developer: where a film's notebook weighs all its strips, its word stands.
    """

    text: str
    standing: Standing = Standing.COMMON_PRACTICE
    first_developer: bool = False

    def document(self) -> dict[str, str]:
        """The JSON shape."""
        return {"text": self.text, "standing": self.standing.words}


@dataclass(frozen=True, slots=True)
class FaultFinding:
    """A fault as far as the evidence goes.

    Parameters
    ----------
    fault : str
        Key, one of the faults of a trial or ``"cannot_tell"``.
    probability : float
        Against the alternatives looked at, 0 to 1.
    evidence : str
        What speaks for it, in a sentence or two.
    cures : tuple of Cure
        Cheapest first.
    alternatives : tuple of (str, float)
        Probability of each other explanation of the same look, the likeliest first; two faults
        together are joined by ``"+"``.
    look : bool
        A miss of the aim, read off the curve. The alternatives are then what may or may not be behind
        it; they do not speak against it.
    """

    fault: str
    probability: float
    evidence: str
    cures: tuple[Cure, ...] = ()
    alternatives: tuple[tuple[str, float], ...] = ()
    look: bool = False

    @property
    def name(self) -> str:
        """The fault in words."""
        return NAMES[self.fault]

    @property
    def chance(self) -> str:
        """The probability in words; of "cannot tell", that something is there."""
        chance = "over 99 %" if self.probability > _NEARLY_SURE else _percent(self.probability)
        return f"something is there: {chance}" if self.fault == "cannot_tell" else chance

    @property
    def against(self) -> str:
        """The alternatives in a sentence."""
        listed = [(key, p) for key, p in self.alternatives if key != NONE_OF_THESE] if self.look else self.alternatives
        said = [f"{_in_words(key)} {_percent(p)}" for key, p in listed[:3] if p >= _LEAST_SAID]
        if self.look:
            return f"Behind it may be: {', '.join(said)}." if said else ""
        if self.fault == "cannot_tell":
            return f"It might be: {', '.join(said)}." if said else ""
        return f"Instead of it: {', '.join(said)}." if said else "Nothing else that was looked at comes near."

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "fault": self.fault,
            "name": self.name,
            "probability": self.probability,
            "chance": self.chance,
            "evidence": self.evidence,
            "cures": [cure.document() for cure in self.cures],
            "alternatives": dict(self.alternatives),
            "against": self.against,
        }


def _in_words(key: str) -> str:
    return " and ".join(NAMES.get(part, part).lower() for part in key.split("+"))


def _percent(probability: float) -> str:
    return f"{100 * probability:.0f} %"
