"""Find the open panel, the strip on it, its patches, and an opaque mask beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from obverse.foundation import InputError
from obverse.imaging.geometry import (
    UNIT_SQUARE,
    along_first,
    convex_hull,
    fit_line,
    homography,
    inside,
    is_convex,
    meet,
    project,
    smallest_rectangle,
)
from obverse.imaging.masks import grow, row_ends, shrink, without_holes, without_specks
from obverse.imaging.picture import Picture
from obverse.imaging.radiometry import Field, fit_field

LONGEST = 560  # pixels of the longer side of the copy that is searched
_FIELD_LINES = 120  # rows or columns of the copy, at least, through which the field is fitted
_CLEAREST_FILM = 0.012  # less density than any film base has
_CORNERS_REMEDY = "put the strip flat on the lit panel with panel showing all round it, or give the four corners"


@dataclass(frozen=True, eq=False)
class Survey:
    """The small copy of a picture and what was made out on it.

    Parameters
    ----------
    light : ndarray, shape (h, w)
        Linear, fraction of saturation.
    step : int
        Pixels of the picture per pixel of the copy.
    field : Field
        Light of the open panel, in pixels of the picture.
    density : ndarray, shape (h, w)
        Against the open panel.
    panel : ndarray of bool, shape (h, w)
        Where the open panel shows.
    region : ndarray of bool, shape (h, w)
        The lit panel, with what lies on it.
    threshold : float
        Density above which something lies on the panel.
    """

    light: np.ndarray
    step: int
    field: Field
    density: np.ndarray
    panel: np.ndarray
    region: np.ndarray
    threshold: float

    def to_picture(self, points: np.ndarray) -> np.ndarray:
        """Points (x, y) of the copy in pixels of the picture."""
        return np.asarray(points, dtype=float) * self.step + (self.step - 1) / 2

    def to_copy(self, points: np.ndarray) -> np.ndarray:
        """Points (x, y) of the picture in pixels of the copy."""
        return (np.asarray(points, dtype=float) - (self.step - 1) / 2) / self.step


def survey(picture: Picture, copy: tuple[np.ndarray, int] | None = None) -> Survey:
    """Make out the open panel: the brightest smooth light of the picture.

    Parameters
    ----------
    picture : Picture
    copy : (light, step), optional
        Its reduced copy, where that is already at hand.

    Raises
    ------
    InputError
        If nothing like a lit panel is to be seen.
    """
    light, step = copy or picture.reduced(LONGEST)
    h, w = light.shape
    if min(h, w) < 24:
        raise InputError(
            f"the picture is only {picture.width} by {picture.height} pixels",
            where=picture.name,
            remedy="give one with at least 24 pixels on the short side",
        )
    bright = float(np.percentile(light, 98))
    if bright <= 1e-4:
        raise InputError(
            "the picture is black", where=picture.name, remedy="expose longer, so that the open panel is nearly white"
        )
    # Light below its own noise has no density; there the scale flattens out.
    floor = max(3.0 * dark_noise(light), bright * 1e-5)
    logs = np.log10(np.maximum(light, 0) + np.float32(floor))
    columns, rows = (np.arange(n) * step + (step - 1) / 2 for n in (w, h))
    # The field is found on every few pixels; only the finished one is laid over all of them.
    thin = np.s_[:: max(1, min(h, w) // _FIELD_LINES)]
    few = light[thin, thin], logs[thin, thin], columns[thin], rows[thin]
    kept = few[0] > 0.6 * bright
    for order in (1, 2, 2, 4, 4):
        field = _fit(few[2], few[3], few[0], kept, (picture.width, picture.height), order)
        residual = few[1] - np.log10(field.light_on_grid(few[2], few[3]) + floor)
        # Film only takes light away, so the panel is judged from its bright side.
        above = residual[kept & (residual > 0)]
        sd = max(1.4826 * float(np.median(above)) if above.size else 0.02, 1e-4)
        kept = np.abs(residual) < max(0.6 * _CLEAREST_FILM, 3.0 * sd)
        if kept.sum() < 40:
            raise _no_panel(picture)
    density = np.log10(field.light_on_grid(columns, rows) + floor).astype(np.float32) - logs
    threshold = max(_CLEAREST_FILM, 4.0 * sd)
    panel = density < threshold
    panel &= density > -3 * threshold
    if kept.sum() < 0.01 * kept.size:
        raise _no_panel(picture)
    region = _region(panel)
    return Survey(light, step, field, density, panel & region, region, threshold)


def dark_noise(light: np.ndarray) -> float:
    """Standard deviation of a pixel of the copy in the darkest twentieth, from neighbours' differences."""
    dark = light[:, :-1] <= np.percentile(light, 5)
    difference = np.diff(light, axis=1)[dark]
    return float(1.4826 / np.sqrt(2) * np.median(np.abs(difference))) if difference.size else 0.0


def _no_panel(picture: Picture) -> InputError:
    return InputError("no open light panel can be made out", where=picture.name, remedy=_CORNERS_REMEDY)


def _fit(columns, rows, light, kept, size, order) -> Field:
    """The field through the kept pixels of the copy, thinned to a few thousand."""
    index = np.flatnonzero(kept & (light > 0))
    if index.size < 40:
        raise InputError("no open light panel can be made out", remedy=_CORNERS_REMEDY)
    index = index[:: max(1, index.size // 1500)]
    row, column = np.divmod(index, light.shape[1])
    return fit_field(
        np.stack([columns[column], rows[row]], 1), light.ravel()[index], size=size, order=order, judged=False
    )


def _region(panel: np.ndarray) -> np.ndarray:
    """The convex hull of the larger pieces of open panel."""
    label, count = ndimage.label(without_specks(panel))
    if count == 0:
        return np.ones_like(panel)
    sizes = np.bincount(label.ravel())[1:]
    large = np.isin(label, 1 + np.flatnonzero(sizes >= 0.05 * sizes.max()))
    return inside(convex_hull(row_ends(large)), panel.shape)


def find_outline(seen: Survey, *, where: str = "") -> np.ndarray:
    """The four corners of the strip in pixels of the picture, first corner left or top.

    Raises
    ------
    InputError
        If nothing on the panel looks like a strip.
    """
    covered = seen.region & ~seen.panel
    covered = without_holes(without_specks(covered, square=True))
    label, count = ndimage.label(covered)
    best, best_score = None, 0.0
    area = seen.region.sum()
    for number, box in enumerate(ndimage.find_objects(label), start=1):
        piece = label[box] == number
        size = int(piece.sum())
        if size < 0.004 * area or size < 60:
            continue
        # A mask is even; a strip has steps. Even strips are possible, so evenness only lowers the score.
        spread = float(np.std(np.clip(seen.density[box][piece], 0, 3)))
        score = size * (0.15 + spread)
        if score > best_score:
            best, best_score = number, score
    if best is None:
        raise InputError("no strip can be made out on the panel", where=where, remedy=_CORNERS_REMEDY)
    mask = _without_threads(_with_neighbours(label, best, count))
    rows, columns = np.nonzero(mask ^ shrink(mask))
    quad = _quadrilateral(np.stack([columns, rows], 1).astype(float))
    if quad is None:
        raise InputError("what lies on the panel is not a straight strip", where=where, remedy=_CORNERS_REMEDY)
    share = mask.sum() / max(inside(quad, mask.shape).sum(), 1)
    if share < 0.6:
        raise InputError("what lies on the panel is not a straight strip", where=where, remedy=_CORNERS_REMEDY)
    quad = along_first(quad)
    if all(_on_border(end, mask.shape) for end in (quad[[0, 3]], quad[[1, 2]])):
        raise InputError(
            "the strip runs out of the picture at both ends; no open panel shows there",
            where=where,
            remedy=_CORNERS_REMEDY,
        )
    return seen.to_picture(quad)


def _on_border(end: np.ndarray, shape: tuple[int, int]) -> bool:
    """Whether both corners of an end lie on one border of the picture."""
    h, w = shape
    near = 1.5
    return bool(
        np.all(end[:, 0] < near)
        or np.all(end[:, 1] < near)
        or np.all(end[:, 0] > w - 1 - near)
        or np.all(end[:, 1] > h - 1 - near)
    )


def _without_threads(mask: np.ndarray) -> np.ndarray:
    """The piece without hairs and scratches that stick out of it."""
    # An opening by a large square, in the time of two distance maps whatever its size.
    rows, columns = (
        slice(max(box.start - 1, 0), box.stop + 1) for box in ndimage.find_objects(mask.astype(np.uint8))[0]
    )
    depth = ndimage.distance_transform_cdt(np.pad(mask[rows, columns], 1), metric="chessboard")
    reach = max(1, int(depth.max()) // 4)
    away = ndimage.distance_transform_cdt(depth <= reach, metric="chessboard")
    opened = np.zeros_like(mask)
    opened[rows, columns] = (away <= reach)[1:-1, 1:-1]
    return opened & mask


def _with_neighbours(label: np.ndarray, best: int, count: int) -> np.ndarray:
    """The chosen piece with others in line with it (a very clear patch may part a strip)."""
    mask = label == best
    box = smallest_rectangle(convex_hull(row_ends(mask)))
    along = box[1] - box[0], box[2] - box[1]
    long_way, short_way = sorted(along, key=lambda v: -np.hypot(*v))
    length, width = np.hypot(*long_way), np.hypot(*short_way)
    centre = box.mean(0)
    for number in range(1, count + 1):
        if number == best:
            continue
        r, c = np.nonzero(label == number)
        if r.size < 12:
            continue
        offset = np.stack([c, r], 1) - centre
        across = offset @ short_way / width
        far = np.abs(offset @ long_way / length) - length / 2
        extent = np.ptp(across)
        if np.abs(across).max() < 0.54 * width and 0.8 * width < extent and far.min() < 1.2 * width:
            mask |= label == number
    return mask


def _quadrilateral(rim: np.ndarray) -> np.ndarray | None:
    """Four straight sides through the rim of a piece."""
    quad = smallest_rectangle(convex_hull(rim))
    for _ in range(3):
        lines = []
        for k in range(4):
            a, b = quad[k], quad[(k + 1) % 4]
            side = b - a
            length = np.hypot(*side)
            if length < 4:
                return None
            along = (rim - a) @ side / length**2
            away = np.abs((rim - a) @ np.array([-side[1], side[0]]) / length)
            near = (along > 0.04) & (along < 0.96) & (away < max(3.0, 0.06 * length))
            near &= away <= _other_sides(rim, quad, k)
            if near.sum() < 5:
                lines.append(np.array([-side[1], side[0], side[1] * a[0] - side[0] * a[1]]) / length)
            else:
                lines.append(fit_line(rim[near]))
        quad = np.array([meet(lines[k - 1], lines[k]) for k in range(4)])
        if not np.all(np.isfinite(quad)) or not is_convex(quad):
            return None
    return quad


def _other_sides(rim, quad, k):
    """Distance of each point to the nearest of the other three sides."""
    nearest = np.full(len(rim), np.inf)
    for other in range(4):
        if other == k:
            continue
        a, b = quad[other], quad[(other + 1) % 4]
        side = b - a
        nearest = np.minimum(nearest, np.abs((rim - a) @ np.array([-side[1], side[0]]) / np.hypot(*side)))
    return nearest


def refine_outline(picture: Picture, seen: Survey, quad: np.ndarray) -> np.ndarray:
    """The same corners to a fraction of a pixel, from the full picture.

    Each side is looked for along short profiles across it; a side with too little contrast stays.
    """
    reach = max(3, int(2.5 * seen.step))
    offsets = np.arange(-reach, reach + 0.5)
    lines = []
    centre = quad.mean(0)
    for k in range(4):
        a, b = quad[k], quad[(k + 1) % 4]
        side = b - a
        length = float(np.hypot(*side))
        normal = np.array([-side[1], side[0]]) / length
        if normal @ (centre - a) < 0:
            normal = -normal  # inwards
        along = np.linspace(0.05, 0.95, int(np.clip(length / 3, 12, 90)))
        points = a + along[:, None, None] * side + offsets[None, :, None] * normal
        density = _density_at(picture, seen, points)
        found = _edges(density, offsets, seen.threshold)
        good = np.isfinite(found)
        if good.sum() < 0.3 * len(along):
            lines.append(np.array([normal[0], normal[1], -normal @ a]))
            continue
        lines.append(fit_line((a + along[:, None] * side + found[:, None] * normal)[good]))
    refined = np.array([meet(lines[k - 1], lines[k]) for k in range(4)])
    moved = np.hypot(*(refined - quad).T)
    return refined if np.all(np.isfinite(refined)) and moved.max() < 4 * reach and is_convex(refined) else quad


def _density_at(picture: Picture, seen: Survey, points: np.ndarray) -> np.ndarray:
    """Density against the panel at points (..., 2) of the picture; NaN outside it."""
    x = np.rint(points[..., 0]).astype(int)
    y = np.rint(points[..., 1]).astype(int)
    outside = (x < 0) | (y < 0) | (x >= picture.width) | (y >= picture.height)
    light = picture.light_at(x, y)
    field = seen.field.light(points)
    density = -np.log10(np.maximum(light, 1e-5 * field) / field)
    density[outside] = np.nan
    return density


def _edges(density: np.ndarray, offsets: np.ndarray, threshold: float) -> np.ndarray:
    """Where each profile (n, m), going inwards, crosses half way from panel to film; NaN where it does not."""
    # In the light itself, not in density, an unsharp edge is symmetric.
    level = 10.0**-density
    smooth = ndimage.uniform_filter1d(np.nan_to_num(level, nan=1.0), 3, axis=1, mode="nearest")
    third = max(1, len(offsets) // 4)
    outer, inner = np.median(smooth[:, :third], axis=1), np.median(smooth[:, -third:], axis=1)
    half = (outer + inner) / 2
    below = smooth < half[:, None]
    first = np.argmax(below, axis=1)
    usable = (outer - inner > max(0.02, 1.5 * threshold)) & below.any(axis=1) & (first > 0)
    rows = np.arange(len(smooth))
    a, b = smooth[rows, np.maximum(first - 1, 0)], smooth[rows, first]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = (a - half) / (a - b)
    return np.where(usable, offsets[np.maximum(first - 1, 0)] + part, np.nan)


def panel_beside(seen: Survey, quad: np.ndarray) -> float:
    """The share of open panel in the two bands along the strip's long sides, the better side."""
    matrix = homography(UNIT_SQUARE, seen.to_copy(quad))
    u, v = np.meshgrid(np.linspace(0.03, 0.97, 60), np.linspace(0.06, 0.30, 8))
    shares = []
    for across in (-v, 1 + v):
        points = np.rint(project(matrix, np.stack([u, across], -1))).astype(int)
        x, y = points[..., 0], points[..., 1]
        h, w = seen.panel.shape
        good = (x >= 0) & (y >= 0) & (x < w) & (y < h)
        shares.append(float(np.where(good, seen.panel[np.clip(y, 0, h - 1), np.clip(x, 0, w - 1)], False).mean()))
    return max(shares)


@dataclass(frozen=True, eq=False)
class Opaque:
    """An opaque piece beside the strip: its box in pixels of the picture (left, top, right, bottom) and its density."""

    box: tuple[int, int, int, int]
    density: float

    @property
    def centre(self) -> np.ndarray:
        """Its middle (x, y)."""
        left, top, right, bottom = self.box
        return np.array([left + right - 1, top + bottom - 1]) / 2


def find_opaque(seen: Survey, quad: np.ndarray) -> Opaque | None:
    """The darkest even piece on the panel that is not the strip, if it is darker than the strip.

    A box inside it, away from its edges, is returned.
    """
    strip = inside(seen.to_copy(quad), seen.panel.shape)
    strip = grow(strip, 3)
    darkest_film = float(np.percentile(seen.density[strip], 98)) if strip.any() else 0.0
    dark = seen.region & ~strip & (seen.density > max(1.5, darkest_film - 0.1))
    dark = shrink(dark, 2)
    label, _ = ndimage.label(dark)
    best = None
    for number, box in enumerate(ndimage.find_objects(label), start=1):
        piece = label[box] == number
        if piece.sum() < 9:
            continue
        inner = _box_inside(piece)
        if inner is None:
            continue
        top, left, bottom, right = inner
        top, bottom, left, right = top + box[0].start, bottom + box[0].start, left + box[1].start, right + box[1].start
        density = float(np.median(seen.density[top:bottom, left:right]))
        if density >= darkest_film - 0.1 and (best is None or density > best.density):
            s = seen.step
            best = Opaque((left * s, top * s, right * s, bottom * s), density)
    return best


def _box_inside(piece: np.ndarray) -> tuple[int, int, int, int] | None:
    """A box (top, left, bottom, right) around the piece's deepest point that is wholly inside it."""
    depth = ndimage.distance_transform_cdt(np.pad(piece, 1), metric="chessboard")[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(depth)), depth.shape)
    half = int(depth[row, column]) - 1
    if half < 1:
        return None
    return int(row - half), int(column - half), int(row + half + 1), int(column + half + 1)
