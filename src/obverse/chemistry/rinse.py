"""Fill-and-dump rinsing: how fast a bath leaves the tank.

Source: record ``wash.formula``; it assumes that the gelatin comes to equilibrium at each fill.
"""

from __future__ import annotations

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
