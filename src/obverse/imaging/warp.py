"""A strip's own coordinates in a picture, where its sides may bend."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from obverse.foundation import Array
from obverse.imaging.geometry import UNIT_SQUARE, homography, project_each

Points = Array
_STRAIGHT: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, eq=False)
class Warp:
    """From u along the strip and v across it, each 0 to 1, to pixels (x, y).

    Parameters
    ----------
    quad : ndarray, shape (4, 2)
        What would be the corners if the sides were straight.
    bend : tuple of float
        Polynomial in u, lowest power first: how far the middle lies off, in widths.
    spread : tuple of float
        Polynomial in u: by how much wider than the quadrilateral it is, relative.
    slant : tuple of float
        Polynomial in u: how far the last edge (v = 1) of a line across lies ahead of its first, in lengths.
    """

    quad: Points
    bend: tuple[float, ...] = _STRAIGHT
    spread: tuple[float, ...] = _STRAIGHT
    slant: tuple[float, ...] = _STRAIGHT

    def points(self, u: Points | float, v: Points | float) -> Points:
        """Pixels of places along and across, broadcast against each other, shape (..., 2)."""
        return project_each(self._matrix, *self.unbent(u, v))

    def unbent(self, u: Points | float, v: Points | float) -> tuple[Points, Points]:
        """The same places along and across the quadrilateral itself, of straight sides."""
        # Not yet broadcast: the polynomials need be worked out only once for each u.
        along, away = np.asarray(u, dtype=float), np.asarray(v, dtype=float) - 0.5
        aside = 0.5 + away * (1 + _at(self.spread, along)) + _at(self.bend, along)
        return along + away * _at(self.slant, along) if any(self.slant) else along, aside

    @cached_property
    def _matrix(self) -> Points:
        return homography(UNIT_SQUARE, self.quad)

    def size(self) -> tuple[float, float]:
        """Length and width in pixels, through the middle."""
        ends = self.points(np.array([0.0, 1.0, 0.5, 0.5]), np.array([0.5, 0.5, 0.0, 1.0]))
        return float(np.hypot(*(ends[1] - ends[0]))), float(np.hypot(*(ends[3] - ends[2])))

    def corners(self, start: float = 0.0, end: float = 1.0) -> Points:
        """The four corners of a stretch, in order round, shape (4, 2)."""
        return self.points(np.array([start, end, end, start]), np.array([0.0, 0.0, 1.0, 1.0]))

    def moved(self, shift: Points) -> Warp:
        """The same strip in a picture that lies off by (x, y)."""
        return Warp(self.quad + np.asarray(shift), self.bend, self.spread, self.slant)


def _at(powers: tuple[float, ...], u: Points) -> Points | float:
    return np.asarray(np.polynomial.polynomial.polyval(u, np.asarray(powers))) if any(powers) else 0.0
