"""Plane geometry of a strip in a picture: lines, homographies, cells.

Points are (x, y) in pixels, x to the right, y downwards; (0, 0) is the centre of the first pixel.
A quadrilateral is an array of shape (4, 2): first corner, along the strip to the second, across to
the third, back to the fourth.
"""

from __future__ import annotations

import numpy as np

from obverse.foundation import MAD_TO_SD, InputError

# Robust line: rounds, pixels that no rim is straighter than, and standard deviations beyond which a point counts nothing.
_ROUNDS, _LEAST_SCATTER, _CUT = 6, 0.05, 4
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
    x, y = points[..., 0], points[..., 1]
    # Written out: a product with so small a matrix is many times slower.
    depth = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    result = np.empty(points.shape)
    for way in (0, 1):
        np.divide(matrix[way, 0] * x + matrix[way, 1] * y + matrix[way, 2], depth, out=result[..., way])
    return result


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
    best = _best_pair(points)
    for _ in range(_ROUNDS):
        distance = points @ best[:2] + best[2]
        scale = max(MAD_TO_SD * float(np.median(np.abs(distance))), _LEAST_SCATTER)
        weight = np.clip(1 - (distance / (_CUT * scale)) ** 2, 0, None) ** 2
        if weight.sum() < 2:
            break
        centre = (weight[:, None] * points).sum(0) / weight.sum()
        x, y = (points - centre).T
        angle = 0.5 * np.arctan2(2 * (weight * x * y).sum(), (weight * (x * x - y * y)).sum())
        normal = np.array([-np.sin(angle), np.cos(angle)])
        best = np.array([*normal, -normal @ centre])
    return best


def _best_pair(points: np.ndarray) -> np.ndarray:
    """The line through two of the points that leaves the least median distance."""
    n = len(points)
    picks = np.unique(np.linspace(0, n - 1, min(n, _PICKED)).astype(int))
    chosen = points[picks]
    first, second = np.triu_indices(len(chosen), 1)
    a, b = chosen[first], chosen[second]
    normal = np.stack([-(b - a)[:, 1], (b - a)[:, 0]], axis=1)
    length = np.hypot(normal[:, 0], normal[:, 1])
    usable = length > _FAR_APART * length.max()
    normal = normal[usable] / length[usable, None]
    offset = -(normal * a[usable]).sum(1)
    few = points[:: max(1, n // 120)]
    distance = np.abs(normal @ few.T + offset[:, None])
    middle = len(few) // 2
    k = int(np.argmin(np.partition(distance, middle, axis=1)[:, middle]))
    return np.array([*normal[k], offset[k]])


def meet(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Where two lines cross, (x, y); NaN where they are parallel."""
    crossing = np.cross(first, second)
    if abs(crossing[2]) < 1e-12:
        return np.array([np.nan, np.nan])
    result: np.ndarray = crossing[:2] / crossing[2]
    return result


def convex_hull(points: np.ndarray) -> np.ndarray:
    """Corners of the convex hull of points (n, 2), in order; the points themselves where they lie on a line."""
    # It takes longer to load than all else that the face of this room names.
    from scipy.spatial import ConvexHull, QhullError

    points = np.asarray(points, dtype=float)
    try:
        return points[ConvexHull(points).vertices]
    except QhullError:
        return np.unique(points, axis=0)


def smallest_rectangle(hull: np.ndarray) -> np.ndarray:
    """The rectangle of least area around a convex hull, shape (4, 2)."""
    sides = np.roll(hull, -1, axis=0) - hull
    angles = np.unique(np.mod(np.arctan2(sides[:, 1], sides[:, 0]), np.pi / 2))
    best, best_area = hull[:4], np.inf
    for angle in angles:
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        turned = hull @ turn.T
        low, high = turned.min(0), turned.max(0)
        area = float(np.prod(high - low))
        if area < best_area:
            box = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
            best, best_area = box @ turn, area
    return best


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
    x = np.arange(shape[1])
    result: np.ndarray = (x >= left[:, None] - 1e-9) & (x <= right[:, None] + 1e-9)
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
