"""A quantity known only within bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from obverse.foundation.estimate import Estimate


@dataclass(frozen=True, slots=True)
class Interval:
    """Least, best and greatest value of something that cannot be negative.

    Parameters
    ----------
    low, best, high : float
        In one unit, 0 <= low <= best <= high.

    Raises
    ------
    ValueError
        If they are not in that order, or negative.
    """

    low: float
    best: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.best <= self.high:
            raise ValueError(f"{self.low}, {self.best}, {self.high} are no bounds")

    @classmethod
    def exact(cls, value: float) -> Interval:
        """A value without doubt."""
        return cls(value, value, value)

    @classmethod
    def around(cls, low: float, best: float, high: float) -> Interval:
        """Bounds that arithmetic gave: one that rounding put on the wrong side of the best value is the best value."""
        return cls(min(max(0.0, low), best), best, max(best, high))

    @classmethod
    def within(cls, best: float, relative: float) -> Interval:
        """A value give or take a fraction of itself; never below zero."""
        return cls(max(0.0, best * (1 - relative)), best, best * (1 + relative))

    @property
    def relative_sd(self) -> float:
        """Standard uncertainty as a fraction of the best value, any value between the bounds as likely as another."""
        return (self.high - self.low) / math.sqrt(12) / self.best if self.best else 0.0

    def times(self, factor: float | Interval) -> Interval:
        """The product with a number or with another interval."""
        if isinstance(factor, Interval):
            return Interval.around(self.low * factor.low, self.best * factor.best, self.high * factor.high)
        return Interval.around(self.low * factor, self.best * factor, self.high * factor)

    def plus(self, other: Interval) -> Interval:
        """The sum."""
        return Interval.around(self.low + other.low, self.best + other.best, self.high + other.high)

    def over(self, other: Interval) -> Interval:
        """The quotient; the other must be above zero at its least."""
        return Interval.around(self.low / other.high, self.best / other.best, self.high / other.low)

    def joined(self, other: Interval) -> Interval:
        """What holds where either may be true; the best value is this one's."""
        return Interval(min(self.low, other.low), self.best, max(self.high, other.high))

    def capped(self, most: float) -> Interval:
        """The same, nowhere above `most`."""
        return Interval(min(self.low, most), min(self.best, most), min(self.high, most))

    def estimate(self) -> Estimate:
        """As value and standard uncertainty, its 90 % interval the bounds themselves."""
        return Estimate(self.best, (self.high - self.low) / math.sqrt(12), self.low, self.high)
