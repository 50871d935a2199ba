"""Fill-and-dump rinsing: how fast a bath leaves the tank.

Source: record ``wash.formula``; it assumes that the gelatin comes to equilibrium at each fill.
"""

from __future__ import annotations

import math

from obverse.foundation import InputError


def concentration_after_fills(start: float, retained_ml: float, fill_ml: float, fills: int) -> float:
    """Concentration left after n fills, c_n = c_0 (v / (V + v))^n, in the unit of `start`.

    Parameters
    ----------
    retained_ml : float
        What film, reel and tank hold back at each dump, v.
    fill_ml : float
        Fresh water of each fill, V.

    Returns
    -------
    float
        In the unit of `start`.
    """
    if start < 0 or retained_ml < 0 or not fill_ml > 0 or fills < 0:
        raise InputError("a rinse needs a positive fill and no negative amount", remedy="correct the volumes")
    return start * (retained_ml / (fill_ml + retained_ml)) ** fills


def fills_needed(start: float, target: float, retained_ml: float, fill_ml: float) -> int:
    """Least number of fills after which no more than `target` is left.

    Parameters
    ----------
    start : float
        Concentration in what is retained, any unit.
    target : float
        Concentration that may be left, same unit as `start`.
    retained_ml : float
        What film and tank hold back at each dump, mL.
    fill_ml : float
        Fresh water of one fill, mL.

    Returns
    -------
    int
        0 where nothing must be taken away.
    """
    if not target > 0:
        raise InputError("a rinse never reaches zero", remedy="give a target above zero")
    if start <= target:
        return 0
    if not retained_ml > 0:
        return 1
    ratio = math.log(retained_ml / (fill_ml + retained_ml))
    return math.ceil(math.log(target / start) / ratio - 1e-9)
