"""Diagnosis: which fault, how likely, why, and what to do."""

from obverse.diagnosis.curve import diagnose_curve
from obverse.diagnosis.finding import Cure, Finding
from obverse.diagnosis.picture import diagnose_picture

__all__ = ["Cure", "Finding", "diagnose_curve", "diagnose_picture"]
