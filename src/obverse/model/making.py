"""How exactly a strip is made, beyond the errors of its controls."""

from __future__ import annotations

import numpy as np

from obverse.foundation import Array
from obverse.process import TIME, ControlVector
from obverse.reference import number


def with_activity(controls: Array, control_sd: Array) -> Array:
    """Errors of controls (..., K) with the spread of activity that no control explains, counted as time."""
    out = ControlVector(control_sd.copy())
    out[TIME] = np.hypot(out[TIME], number("notebook.strip_sd.activity") * ControlVector(controls)[TIME])
    return out.values
