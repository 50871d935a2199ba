"""Diagnosis: which fault, how likely, why, and what to do.

What is told from a film's curve (`obverse.diagnosis.curve`) needs the process model, and is asked for by its own name: reading a
picture need not wait for it.
"""

from obverse.diagnosis.colour import Colour, colour_of
from obverse.diagnosis.finding import Cure, FaultFinding
from obverse.diagnosis.picture import diagnose_picture, not_looked_for

__all__ = [
    "Colour",
    "Cure",
    "FaultFinding",
    "colour_of",
    "diagnose_picture",
    "not_looked_for",
]
