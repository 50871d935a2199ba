"""A camera as densitometer: densities of a strip with an uncertainty budget."""

from obverse.densitometry.calibration import Calibration, calibrate
from obverse.densitometry.curve import tone_curve_sd
from obverse.densitometry.read import read_strip
from obverse.densitometry.reading import PatchReading, StripReading, short

__all__ = ["Calibration", "PatchReading", "StripReading", "calibrate", "read_strip", "short", "tone_curve_sd"]
