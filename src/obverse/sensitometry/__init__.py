"""Sensitometry: densities, curves, speeds, wedges, charts. Pure functions on arrays."""

from obverse.sensitometry.control import (
    LevelChange,
    level_changes,
    strips_apart,
)
from obverse.sensitometry.curve import FEWEST_READINGS, CharacteristicCurve, fit_curve
from obverse.sensitometry.density import (
    density_from_transmittance,
    projection_density,
    silver_callier_q,
    transmittance_from_density,
)
from obverse.sensitometry.list_doubts import Doubt, converted, recognise
from obverse.sensitometry.lists import ReadingList, read_list, write_cgats, write_csv
from obverse.sensitometry.speed import (
    MID_CURVE_STANDING,
    WHY_NOT_ISO6,
    degrees,
    iso6_from_negative,
    iso_words,
    metered_exposure_lx_s,
    speed_iso6,
    speed_reversal,
)
from obverse.sensitometry.wedges import (
    USUAL_STOPS,
    Shot,
    log_exposure_to_stops,
    read_frames,
    shot_list,
    shutter_words,
    stops_to_log_exposure,
    tablet_densities,
    tablet_log_exposures,
)

__all__ = [
    "FEWEST_READINGS",
    "MID_CURVE_STANDING",
    "USUAL_STOPS",
    "WHY_NOT_ISO6",
    "CharacteristicCurve",
    "Doubt",
    "LevelChange",
    "ReadingList",
    "Shot",
    "converted",
    "degrees",
    "density_from_transmittance",
    "fit_curve",
    "iso6_from_negative",
    "iso_words",
    "level_changes",
    "log_exposure_to_stops",
    "metered_exposure_lx_s",
    "projection_density",
    "read_frames",
    "read_list",
    "recognise",
    "shot_list",
    "shutter_words",
    "silver_callier_q",
    "speed_iso6",
    "speed_reversal",
    "stops_to_log_exposure",
    "strips_apart",
    "tablet_densities",
    "tablet_log_exposures",
    "transmittance_from_density",
    "write_cgats",
    "write_csv",
]
