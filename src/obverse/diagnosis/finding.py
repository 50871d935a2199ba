"""What a diagnosis says: a fault, how likely against the alternatives, why, and what to do, cheapest first."""

from __future__ import annotations

from dataclasses import dataclass

from obverse.foundation import Standing

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
}


@dataclass(frozen=True, slots=True)
class Cure:
    """One thing to do about a fault, with how it is known."""

    text: str
    standing: Standing = Standing.COMMON_PRACTICE

    def document(self) -> dict[str, str]:
        """The JSON shape."""
        return {"text": self.text, "standing": self.standing.words}


@dataclass(frozen=True, slots=True)
class Finding:
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
    alternatives : dict
        Probability of each other explanation of the same look.
    """

    fault: str
    probability: float
    evidence: str
    cures: tuple[Cure, ...] = ()
    alternatives: tuple[tuple[str, float], ...] = ()

    @property
    def name(self) -> str:
        """The fault in words."""
        return NAMES[self.fault]

    def document(self) -> dict:
        """The JSON shape."""
        return {
            "fault": self.fault,
            "name": self.name,
            "probability": self.probability,
            "evidence": self.evidence,
            "cures": [cure.document() for cure in self.cures],
            "alternatives": dict(self.alternatives),
        }
