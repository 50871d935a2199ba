"""How many stops lie between the pictures of a bracket that states no times.

A tone curve found from such a bracket is known but for one exponent. What is believed of it: people take whole stops, seldomer the thirds
and halves of a dial, now and then what a dimmer gave; a camera's contrast is like that of others; and the noise of its light.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from obverse.foundation import Array

# How usual a step is (our judgement): whole stops; one third or half of a stop of those between; any other; a dimmer, over all its places.
_USUAL = {1: 0.2, 2: 0.46, 3: 0.08}
_PARTS, _SELDOM, _DIMMED = 0.03, 0.003, 0.05
_DIALS = (2, 3)  # parts that a dial has to the stop
_LEAST, _MOST, _BETWEEN = Fraction(2, 3), 4, (Fraction(1, 2), 3)
_DIMMER = np.linspace(0.6, 3.6, 31)
# Natural logarithm of a camera's contrast against the standard curve's: an S over it makes the middle steeper (our judgement).
CONTRAST, CONTRAST_SPREAD = 0.15, 0.32
# Power of light with which the variance of noise goes where the curve is right: a little above 1, for compression rounds away more of the
# weak noise in the dark; and in one of six pictures, whose noise a camera smoothed away, any (36 brackets of three renderers of other hands).
_POWER, _POWER_SPREAD, _SMOOTHED, _MOST_POWER = 1.1, 0.14, 0.16, 3.0
_ENDS = (0.05, 0.5, 0.95)  # of the chance


def likely_stops(apparent: float, power: float | None = None, taken: float = 1.0) -> tuple[float, float, float]:
    """How many stops lie between neighbours: as likely more as fewer, and the fewest and the most of an interval of 90 %.

    Parameters
    ----------
    apparent : float
        Stops by the standard curve.
    power : float, optional
        With which the variance of the noise goes with the light, by a curve found with `taken` stops.
    """
    stops, chance = _beforehand()
    log = np.log(chance) - 0.5 * ((np.log(apparent / stops) - CONTRAST) / CONTRAST_SPREAD) ** 2
    if power is not None:
        # Light by other stops is a power of this light.
        exponent = stops / taken
        away = (power + 2 * exponent - 2) / exponent - _POWER
        lawful = np.exp(-0.5 * (away / _POWER_SPREAD) ** 2) / (_POWER_SPREAD * np.sqrt(2 * np.pi))
        log += np.log((1 - _SMOOTHED) * lawful + _SMOOTHED / _MOST_POWER)
    chance = np.exp(log - log.max())
    fewest, middle, most = stops[np.searchsorted(np.cumsum(chance) / chance.sum(), _ENDS)]
    return float(middle), float(fewest), float(most)


def _beforehand() -> tuple[Array, Array]:
    """Steps that may be meant, rising, and how usual each is."""
    dial = sorted({Fraction(k, part) for part in _DIALS for k in range(1, _MOST * part + 1)})
    usual = {
        step: _USUAL.get(int(step)) if step in _USUAL else _PARTS if _BETWEEN[0] < step < _BETWEEN[1] else _SELDOM
        for step in dial
        if step >= _LEAST
    }
    stops = np.array([*map(float, usual), *_DIMMER])
    chance = np.array([*usual.values(), *np.full(_DIMMER.size, _DIMMED / _DIMMER.size)], dtype=float)
    order = np.argsort(stops)
    return stops[order], chance[order]
