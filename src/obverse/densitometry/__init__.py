"""A camera as densitometer: densities of a strip with an uncertainty budget."""

from typing import TYPE_CHECKING

from obverse.densitometry.curve import tone_curve_sd
from obverse.densitometry.read import read_strip
from obverse.densitometry.reading import PatchReading, StripReading, short

if TYPE_CHECKING:
    from obverse.densitometry.calibration import Calibration, calibrate
else:

    def __getattr__(name: str) -> object:
        """What is kept of a step tablet is checked as a document; loading that takes as long as a strip to read without one."""
        if name not in ("Calibration", "calibrate"):
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from obverse.densitometry import calibration

        return getattr(calibration, name)


__all__ = ["Calibration", "PatchReading", "StripReading", "calibrate", "read_strip", "short", "tone_curve_sd"]
