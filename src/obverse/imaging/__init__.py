"""Pictures as arrays: what codes mean, where the strip lies, and how light is measured.

What searches in a picture (`alignment`, `finding`, `masks`, `parts`, `patches`, `render`, `response`, `strip`) loads a library that the
others do without, and is asked for by its own name.
"""

from obverse.imaging.encoding import linear_to_srgb, srgb_table
from obverse.imaging.geometry import is_convex
from obverse.imaging.glare import GlarePrior, Grain, glare_over_strip
from obverse.imaging.picture import RAW, Picture
from obverse.imaging.radiometry import (
    BracketApartError,
    Field,
    Merged,
    Noise,
    estimate_noise,
    exposure_ratios,
    fit_field,
    merge,
    response_curve,
)
from obverse.imaging.sampling import (
    Blocks,
    Grid,
    box_grid,
    grain_contrast,
    read_blocks,
    read_codes,
    spot_grid,
    strip_grid,
)
from obverse.imaging.statistics import biweight, middles, robust_sd
from obverse.imaging.warp import Warp

__all__ = [
    "RAW",
    "Blocks",
    "BracketApartError",
    "Field",
    "GlarePrior",
    "Grain",
    "Grid",
    "Merged",
    "Noise",
    "Picture",
    "Warp",
    "biweight",
    "box_grid",
    "estimate_noise",
    "exposure_ratios",
    "fit_field",
    "glare_over_strip",
    "grain_contrast",
    "is_convex",
    "linear_to_srgb",
    "merge",
    "middles",
    "read_blocks",
    "read_codes",
    "response_curve",
    "robust_sd",
    "spot_grid",
    "srgb_table",
    "strip_grid",
]
