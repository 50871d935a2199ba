"""Plane geometry of a strip in a picture: lines, homographies, cells.

Points are (x, y) in pixels, x to the right, y downwards; (0, 0) is the centre of the first pixel.
A quadrilateral is an array of shape (4, 2): first corner, along the strip to the second, across to
the third, back to the fourth.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from obverse.foundation import MAD_TO_SD, InputError
from obverse.imaging.statistics import median

# Robust line: rounds, pixels that no rim is straighter than, and standard deviations beyond which a point counts nothing.
_ROUNDS, _LEAST_SCATTER, _CUT = 6, 0.05, 4
_SETTLED = 1e-4  # pixels, by which a line no longer moves at any of its points
# Points of which all pairs are tried, and the part of the longest distance that a pair must lie apart.
_PICKED, _FAR_APART = 14, 0.2
UNIT_SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def homography(source: np.ndarray, target: np.ndarray) -> np.ndarray:
    """The projective map that takes four points to four points, shape (3, 3).

    Raises
    ------
    InputError
        If three of the points lie on a line.
    """
    rows, right = [], []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
        right += [u, v]
    try:
        solution = np.linalg.solve(np.array(rows, dtype=float), np.array(right, dtype=float))
    except np.linalg.LinAlgError as error:
        raise InputError(
            "three of the four corners lie on a line", where="corners", remedy="give the corners of the strip in order"
        ) from error
    return np.append(solution, 1.0).reshape(3, 3)


def project(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points (..., 2) taken through a homography."""
    points = np.asarray(points, dtype=float)
    return project_each(matrix, points[..., 0], points[..., 1])


def project_each(matrix: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The same for x and y that are broadcast against each other, shape (..., 2); all x lie together in memory, and all y."""
    # Written out: a product with so small a matrix is many times slower.
    right, down, depth = (row[0] * x + (row[1] * y + row[2]) for row in matrix)
    result = np.empty((2, *depth.shape))
    np.divide(right, depth, out=result[0, ...])
    np.divide(down, depth, out=result[1, ...])
    return np.moveaxis(result, 0, -1)


def signed_area(quad: np.ndarray) -> float:
    """Area of a polygon in square pixels, positive when the corners go clockwise on the screen."""
    following = np.roll(quad, -1, axis=0)
    return 0.5 * float(np.sum(quad[:, 0] * following[:, 1] - following[:, 0] * quad[:, 1]))


def is_convex(quad: np.ndarray) -> bool:
    """Whether the four corners, shape (4, 2), form a convex quadrilateral with an area."""
    sides = np.roll(quad, -1, axis=0) - quad
    turns = sides[:, 0] * np.roll(sides[:, 1], -1) - sides[:, 1] * np.roll(sides[:, 0], -1)
    return bool(np.all(turns > 0) or np.all(turns < 0))


def fit_line(points: np.ndarray) -> np.ndarray:
    """A line a x + b y + c = 0 (a^2 + b^2 = 1) through points (n, 2), robust against outliers.

    Total least squares, reweighted with Tukey's biweight, from the line through two of the
    points with the least median distance (up to half of the points may be outliers).
    """
    points = np.asarray(points, dtype=float)
    a, b, c = (float(v) for v in _best_pair(points))
    across, down = np.ascontiguousarray(points.T)
    distance = a * across + b * down + c
    for _ in range(_ROUNDS):
        scale = max(MAD_TO_SD * median(np.abs(distance)), _LEAST_SCATTER)
        weight = np.maximum(1 - (distance / (_CUT * scale)) ** 2, 0) ** 2
        total = float(weight.sum())
        if total < 2:
            break
        middle = float(weight @ across) / total, float(weight @ down) / total
        x, y = across - middle[0], down - middle[1]
        heavy = weight * x
        angle = 0.5 * math.atan2(2 * float(heavy @ y), float(heavy @ x - (weight * y) @ y))
        a, b = -math.sin(angle), math.cos(angle)
        c = -a * middle[0] - b * middle[1]
        before, distance = distance, a * across + b * down + c
        if np.abs(np.abs(distance) - np.abs(before)).max() < _SETTLED:
            break
    return np.array([a, b, c])


def _best_pair(points: np.ndarray) -> np.ndarray:
    """The line through two of the points that leaves the least median distance."""
    n = len(points)
    chosen = points[np.linspace(0, n - 1, min(n, _PICKED)).astype(int)]
    first, second = _pairs(len(chosen))
    a = chosen[first]
    way = chosen[second] - a
    normal = np.stack([-way[:, 1], way[:, 0]], axis=1)
    length = np.hypot(normal[:, 0], normal[:, 1])
    usable = length > _FAR_APART * length.max()
    normal = normal[usable] / length[usable, None]
    offset = -(normal * a[usable]).sum(1)
    few = points[:: max(1, n // 120)]
    distance = np.abs(normal @ few.T + offset[:, None])
    middle = len(few) // 2
    k = int(np.argmin(np.partition(distance, middle, axis=1)[:, middle]))
    return np.array([*normal[k], offset[k]])


@cache
def _pairs(count: int) -> tuple[np.ndarray, np.ndarray]:
    return np.triu_indices(count, 1)


def meet(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Where two lines cross, (x, y); NaN where they are parallel."""
    a, b, c = (float(v) for v in first)
    d, e, f = (float(v) for v in second)
    depth = a * e - b * d
    if abs(depth) < 1e-12:
        return np.array([np.nan, np.nan])
    return np.array([(b * f - c * e) / depth, (c * d - a * f) / depth])


def convex_hull(points: np.ndarray) -> np.ndarray:
    """Corners of the convex hull of points (n, 2), in order round it; the ends of a line where they all lie on one.

    Notes
    -----
    A monotone chain (A. M. Andrew, 1979). What offers the same among the libraries that are used here takes a quarter of a second to
    load, which is longer than all hulls of a picture take.
    """
    points = np.asarray(points, dtype=float)
    points = points[np.lexsort(points.T[::-1])]
    # Of the points above each other only the outermost can be corners: the first of them below, the last above.
    first = np.append(True, np.diff(points[:, 0]) > 0)
    lower, upper = _chain(points[first].tolist()), _chain(points[np.append(first[1:], True)][::-1].tolist())
    # Both chains may begin and end in the same point.
    return np.array([*lower, *(point for point in upper if point != lower[0] and point != lower[-1])])


def _chain(points: list[list[float]]) -> list[list[float]]:
    """Those of points in order along x at which a line round the right of them turns left."""
    kept: list[list[float]] = []
    for x, y in points:
        while len(kept) > 1:
            (a, b), (c, d) = kept[-2:]
            if (c - a) * (y - b) - (d - b) * (x - a) > 0:
                break
            kept.pop()
        kept.append([x, y])
    return kept


def smallest_rectangle(hull: np.ndarray) -> np.ndarray:
    """The rectangle of least area around a convex hull, shape (4, 2)."""
    sides = np.roll(hull, -1, axis=0) - hull
    angles = np.unique(np.mod(np.arctan2(sides[:, 1], sides[:, 0]), np.pi / 2))
    turns = np.moveaxis(np.array([[np.cos(angles), np.sin(angles)], [-np.sin(angles), np.cos(angles)]]), -1, 0)
    turned = turns @ hull.T
    low, high = turned.min(axis=-1), turned.max(axis=-1)
    best = int(np.argmin(np.prod(high - low, axis=-1)))
    (left, top), (right, bottom) = low[best], high[best]
    return np.asarray(np.array([[left, top], [right, top], [right, bottom], [left, bottom]]) @ turns[best])


def inside(hull: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """Pixels of an image of that shape that lie inside a convex polygon, bool (H, W)."""
    a, b = hull, np.roll(hull, -1, axis=0)
    y = np.arange(shape[0])[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (y - a[:, 1]) / (b[:, 1] - a[:, 1])
        crossing = a[:, 0] + share * (b[:, 0] - a[:, 0])
    crossing = np.where((share >= 0) & (share <= 1), crossing, np.nan)
    left = np.fmin.reduce(crossing, axis=1, initial=np.inf)
    right = np.fmax.reduce(crossing, axis=1, initial=-np.inf)
    # In whole numbers of two bytes a picture is gone through in a fraction of the time.
    ends = shape[1] + 1.0
    first, last = (v.clip(-1.0, ends).astype(np.int16) for v in (np.ceil(left - 1e-9), np.floor(right + 1e-9)))
    x = np.arange(shape[1], dtype=np.int16)
    result: np.ndarray = x >= first[:, None]
    result &= x <= last[:, None]
    return result


def along_first(quad: np.ndarray) -> np.ndarray:
    """The same corners, begun so that the strip's long way leads from the first to the second.

    The first corner becomes the one at the left (a lying strip) or at the top (a standing one),
    and the corners go clockwise on the screen where the strip lies, so that patch 1 is left or up.
    """
    quad = np.asarray(quad, dtype=float)
    if signed_area(quad) < 0:
        quad = quad[::-1]
    lengths = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
    if lengths[0] + lengths[2] < lengths[1] + lengths[3]:
        quad = np.roll(quad, -1, axis=0)
    direction = quad[1] - quad[0] + quad[2] - quad[3]
    # A lying strip starts at its left end, a standing one at its top end.
    backwards = direction[0] < 0 if abs(direction[0]) >= abs(direction[1]) else direction[1] < 0
    return np.roll(quad, -2, axis=0) if backwards else quad
