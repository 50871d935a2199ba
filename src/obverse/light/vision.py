"""How many steps of tone an eye tells apart: the standard display function of medical imaging.

The function (DICOM PS3.14, after Barten's model of contrast vision) counts just noticeable differences
along luminance, in cd/m2 and not as a share of white: it knows that a dim wall shows less than a bright
one. Light that the eye itself scatters lies over the picture as a veil.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from obverse.foundation import Array, InputError
from obverse.reference import number, record

# Tones a third of a stop apart: the step of common light meters and shutters.
SEPARATED_STOPS = 1 / 3


def visible_steps(luminance_cd_m2: ArrayLike) -> Array:
    """Index of just noticeable differences of a luminance; a difference of two indices counts the steps between.

    Parameters
    ----------
    luminance_cd_m2 : array_like
        Any shape, 0 or greater. Held at the ends of the range for which the standard is defined
        (record ``wall.gsdf_range``): under 0.05 cd/m2 no further steps are counted.

    Returns
    -------
    array, same shape

    Raises
    ------
    InputError
        For a negative luminance or one that is not a number.
    """
    luminance = np.asarray(luminance_cd_m2, dtype=float)
    if np.any(~np.isfinite(luminance)) or np.any(luminance < 0):
        raise InputError("a luminance cannot be negative", where="luminance")
    low, high = record("wall.gsdf_range").value
    logs = np.log10(np.clip(luminance, low, high))
    index: Array = np.polynomial.polynomial.polyval(logs, record("wall.gsdf_index").value)
    return index


def seen_luminance(luminance_cd_m2: ArrayLike, mean_cd_m2: float) -> Array:
    """Luminance with the veil that the eye lays over it, a share of the picture's mean (record ``wall.eye_veil``).

    Parameters
    ----------
    luminance_cd_m2 : array_like
        Any shape.
    mean_cd_m2 : float
        Of the picture.

    Returns
    -------
    array, same shape
        cd/m2.
    """
    return np.asarray(luminance_cd_m2, dtype=float) + number("wall.eye_veil") * mean_cd_m2


def separated(log_exposure: Array, luminance_cd_m2: Array, mean_cd_m2: float) -> NDArray[np.bool_]:
    """Where a third of a stop still makes a step that the eye sees.

    Parameters
    ----------
    log_exposure : (N,) array
        Rising.
    luminance_cd_m2 : (N,) array
        On the wall.
    mean_cd_m2 : float
        Of the picture: what the eye scatters.

    Returns
    -------
    (N,) array of bool
        True where tones separate by the steps of record ``wall.separation_steps`` or more.
    """
    half = np.log10(2.0) * SEPARATED_STOPS / 2
    seen = visible_steps(seen_luminance(luminance_cd_m2, mean_cd_m2))
    up = np.interp(log_exposure + half, log_exposure, seen)
    down = np.interp(log_exposure - half, log_exposure, seen)
    apart: NDArray[np.bool_] = np.abs(up - down) >= number("wall.separation_steps")
    return apart
