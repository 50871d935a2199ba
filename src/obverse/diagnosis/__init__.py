"""Diagnosis: which fault, how likely, why, and what to do."""

from obverse.diagnosis.causes import KnownFilm
from obverse.diagnosis.colour import Colour, colour_of
from obverse.diagnosis.curve import diagnose_curve
from obverse.diagnosis.finding import Cure, Finding
from obverse.diagnosis.picture import diagnose_picture, not_looked_for

__all__ = [
    "Colour",
    "Cure",
    "Finding",
    "KnownFilm",
    "colour_of",
    "diagnose_curve",
    "diagnose_picture",
    "not_looked_for",
]
