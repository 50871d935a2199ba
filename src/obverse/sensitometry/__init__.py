"""Sensitometry: densities, curves, speeds, wedges, charts. Pure functions on arrays."""

from obverse.sensitometry.control import (
    LevelChange,
    level_changes,
    strips_apart,
)
from obverse.sensitometry.curve import FEWEST_READINGS, GRADIENT_REACH, HIGHLIGHT_OFFSET, CharacteristicCurve, fit_curve
from obverse.sensitometry.density import (
    projection_density,
)
from obverse.sensitometry.list_doubts import Doubt, converted, recognise
from obverse.sensitometry.lists import ReadingList, read_list, write_cgats, write_csv
from obverse.sensitometry.speed import (
    MID_CURVE_STANDING,
    WHY_NOT_ISO6,
    metered_exposure_lx_s,
    speed_reversal,
)
from obverse.sensitometry.wedges import (
    USUAL_STOPS,
    Shot,
    read_frames,
    shot_list,
    shutter_words,
    stops_to_log_exposure,
)

__all__ = [
    "FEWEST_READINGS",
    "GRADIENT_REACH",
    "HIGHLIGHT_OFFSET",
    "MID_CURVE_STANDING",
    "USUAL_STOPS",
    "WHY_NOT_ISO6",
    "CharacteristicCurve",
    "Doubt",
    "LevelChange",
    "ReadingList",
    "Shot",
    "converted",
    "fit_curve",
    "level_changes",
    "metered_exposure_lx_s",
    "projection_density",
    "read_frames",
    "read_list",
    "recognise",
    "shot_list",
    "shutter_words",
    "speed_reversal",
    "stops_to_log_exposure",
    "strips_apart",
    "write_cgats",
    "write_csv",
]
