"""A root and a monotone curve: two small pieces of numerics that half the commands need.

`scipy.optimize` and `scipy.interpolate` hold both, but take longer to load than such a command takes to answer; the
tests compare these with them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import pairwise

# The degree of the pieces: it stands in Hermite's form, its derivative, and the bound on an end's slope.
CUBIC = 3


def root_between(function: Callable[[float], float], low: float, high: float, *, within: float = 0.0) -> float:
    """Where a function that changes its sign once between two ends is zero.

    Parameters
    ----------
    function : callable
        From float to float.
    low, high : float
        Ends of different sign.
    within : float
        How near to the root is near enough; 0 for the last digit.

    Raises
    ------
    ValueError
        If both ends have the same sign.
    """
    at_low, at_high = function(low), function(high)
    if at_low == 0:
        return low
    if at_high == 0:
        return high
    if (at_low > 0) == (at_high > 0):
        raise ValueError("the function has the same sign at both ends")
    rises = at_high > 0
    # Halving costs a few more steps than a cleverer rule, and takes the same ones on every processor.
    while True:
        middle = 0.5 * (low + high)
        if abs(high - low) <= 2 * within or not min(low, high) < middle < max(low, high):
            return middle
        value = function(middle)
        if value == 0:
            return middle
        if (value > 0) == rises:
            high = middle
        else:
            low = middle


class MonotoneCubic:
    """A smooth curve through points that rises and falls only where they do.

    Cubics between the points, with slopes by the weighted harmonic mean of the neighbouring chords (Fritsch and
    Butland, SIAM J. Sci. Stat. Comput. 5, 300 (1984)) and a three-point rule at the ends.

    Parameters
    ----------
    x, y : sequences of float
        Two points or more, `x` rising.
    """

    def __init__(self, x: Sequence[float], y: Sequence[float]):
        self._x, self._y = [float(v) for v in x], [float(v) for v in y]
        h = [b - a for a, b in pairwise(self._x)]
        self._slope = _slopes(h, [(b - a) / step for (a, b), step in zip(pairwise(self._y), h, strict=True)])

    def __call__(self, x: float) -> float:
        """Value at x; beyond the ends the last cubic goes on."""
        y0, y1, m0, m1, _, t = self._piece(x)
        return y0 + t * (m0 + t * (CUBIC * (y1 - y0) - 2 * m0 - m1 + t * (2 * (y0 - y1) + m0 + m1)))

    def slope(self, x: float) -> float:
        """Derivative at x."""
        y0, y1, m0, m1, h, t = self._piece(x)
        return (m0 + t * (2 * (CUBIC * (y1 - y0) - 2 * m0 - m1) + CUBIC * t * (2 * (y0 - y1) + m0 + m1))) / h

    def _piece(self, x: float) -> tuple[float, float, float, float, float, float]:
        i = min(max(bisect_right(self._x, x) - 1, 0), len(self._x) - 2)
        h = self._x[i + 1] - self._x[i]
        return self._y[i], self._y[i + 1], self._slope[i] * h, self._slope[i + 1] * h, h, (x - self._x[i]) / h


def _slopes(h: Sequence[float], chord: Sequence[float]) -> list[float]:
    if len(chord) == 1:
        return [chord[0], chord[0]]
    inner = [_between(*steps, *chords) for steps, chords in zip(pairwise(h), pairwise(chord), strict=True)]
    return [_end(h[0], h[1], chord[0], chord[1]), *inner, _end(h[-1], h[-2], chord[-1], chord[-2])]


def _between(h0: float, h1: float, chord0: float, chord1: float) -> float:
    if chord0 * chord1 <= 0:
        return 0.0
    w0, w1 = 2 * h1 + h0, h1 + 2 * h0
    return (w0 + w1) / (w0 / chord0 + w1 / chord1)


def _end(h0: float, h1: float, chord0: float, chord1: float) -> float:
    """Slope at an end, never against its chord nor steeper than three times it where the next one turns."""
    slope = ((2 * h0 + h1) * chord0 - h0 * chord1) / (h0 + h1)
    if slope * chord0 <= 0:
        return 0.0
    if chord0 * chord1 <= 0 and abs(slope) > CUBIC * abs(chord0):
        return CUBIC * chord0
    return slope
