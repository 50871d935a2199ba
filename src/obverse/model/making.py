"""How exactly a strip is made: the usual errors of its controls."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from obverse.reference import number

Array = NDArray[np.float64]

# Records of the errors, in the order of `obverse.process.CONTROL_NAMES`.
_RECORDS = ("time_min", "solvent_ml_per_l", "alkali_ml_per_l", "temperature_c", "developer_parts_water")


def strip_sd(controls: Array) -> Array:
    """Standard uncertainty of controls (..., 5) with usual tools; what activity varies by itself is not in it."""
    usual = np.array([number(f"notebook.strip_sd.{key}") for key in _RECORDS])
    return np.broadcast_to(usual, np.shape(controls)).copy()


def with_activity(controls: Array, control_sd: Array) -> Array:
    """The same with the spread of activity that no control explains, counted as time."""
    out = control_sd.copy()
    out[..., 0] = np.hypot(out[..., 0], number("notebook.strip_sd.activity") * controls[..., 0])
    return out
