"""Find the open panel, the strip on it, its patches, and an opaque mask beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from obverse.foundation import MAD_TO_SD, InputError
from obverse.imaging.geometry import (
    along_first,
    convex_hull,
    fit_line,
    inside,
    is_convex,
    meet,
    smallest_rectangle,
)
from obverse.imaging.masks import bounds, grow, row_ends, shrink, without_holes, without_specks
from obverse.imaging.picture import Picture
from obverse.imaging.radiometry import Field, fit_field
from obverse.imaging.statistics import median
from obverse.imaging.warp import Warp

LONGEST = 560  # pixels of the longer side of the copy that is searched
_FIELD_LINES = 120  # rows or columns of the copy, at least, through which the field is fitted
_MOST_PIECES = 4  # of a picture that are looked at as strips, the largest
_MOST_WINDOWS = 3  # of an opaque piece
_BRIGHT = 0.6  # of the panel's light: what may be panel before anything is known of the film
_SURE = 3.0  # standard deviations of noise beyond which a difference is one
_THRESHOLD = 4.0  # standard deviations of the panel below which density is none
_BELOW_PANEL = -3  # thresholds: what is so much brighter than the field is no panel either
_ORDERS, _ORDERS_OF_SMALL = (1, 2, 2, 4, 4), (1, 1, 1)  # of the field, round by round
_PANEL_SD = 0.02  # of density, where nothing lies above the field
_LEAST_PANEL = 0.001  # of the copy
_WIDE, _NARROW, _DARK_END = 98, 99.6, 5  # percentiles: the panel's light, that of a small one, the darkest twentieth
_EVEN = np.s_[::2]  # rows and columns of the copy, on which its percentiles are taken
_ENOUGH = 8000  # pixels of a piece, on which its are taken
_SPREAD = 0.8  # of the light of a small panel, that a large one's bright end reaches
_DIM = 0.3  # of the panel's light: darker than any corner of it
_LARGE = 0.05  # of the largest piece of panel
_LEAST_PIECE, _LEAST_PIECE_PIXELS = 0.002, 40  # of the region that holds the panel
_MORE_THAN_ITSELF = 1.3  # times a piece, from which the row of patches it belongs to is another shape
_ENDS = (1, 99)  # percentiles of the densities of a piece
_STRAIGHT = 0.9  # of the four-sided figure that a piece fills
_SMALLEST_SIDE = 4  # pixels of the copy
_BEND_SPOTS = 21  # along a strip, at which its bend is looked at
_ALONG, _MOST_ALONG = 24, 160  # columns at which a side is looked for
_END = 0.02  # of the length, beyond which a rounded end is no side
_BESIDE = (-0.4, 1.4)  # widths between which a side is looked for
_PER_WIDTH, _ACROSS, _MOST_ACROSS = 1.8, 24, 240  # samples across
_CUBIC, _UNKNOWNS = 4, 6  # coefficients of the middle, and with those of the width
_ROUNDS, _LEAST_SCALE, _CUT = 12, 0.004, 4  # of the robust fit: widths, and standard deviations
_MOST_BEND, _MOST_TAPER = 0.6, 0.7  # widths
_LEAST_OPAQUE = 200  # pixels of the copy
_OPAQUE_PERCENT, _OPAQUE = 95, 1.2  # percentile of the densities of something opaque, and how dense that is at least
_THROUGH, _MOST_THROUGH, _THROUGH_PART = (
    0.35,
    2.4,
    0.6,
)  # densities of what shows through a window, absolute and as a part
_ALL_THROUGH = 0.9  # of the piece: then it is no window
_LEAST_WINDOW = 30  # pixels of the copy
_SPECK = 12  # pixels of the copy, below which a piece is none
_AS_WIDE = (0.75, 1.3)  # of the width of a row: a piece of it
_MOST_GAP, _DRIFT, _DRIFT_PER_GAP, _DRIFT_PER_LENGTH = (
    1.6,
    0.08,
    0.12,
    0.02,
)  # lengths, widths, and of the gap and the row
_DEPTH = 4  # of a piece: a quarter of its half width is opened away
_HALF_WIDE, _WHOLE_WIDE, _NEAR_BY = 0.54, 0.8, 1.2  # widths: no wider than, as wide as, no farther than
_RIM_ROUNDS, _OFF_CORNER, _NEAR_PIXELS, _NEAR_PART, _FEWEST_OF_A_SIDE = (
    3,
    0.04,
    3.0,
    0.06,
    5,
)  # of straight sides through a rim
_REACH, _REACH_STEPS = 3, 2.5  # pixels and pixels of the copy to either side, where a side is refined
_REFINED_BETWEEN, _PER_SPOT, _SPOTS, _MOST_SPOTS = (0.05, 0.95), 3, 12, 90  # of a side, and where along it
_CORNERS = 4  # and sides, of a strip
_FOUND_PART, _MOVED = 0.3, 4  # of the spots of a side; reaches
_SMOOTHED, _QUARTER = 3, 4  # samples of a profile: its mean, and the part of it that is outside or inside
_LEAST_EDGE, _EDGE_THRESHOLDS = 0.02, 1.5  # of light
_BAND_ALONG, _BAND_ACROSS, _BAND_SPOTS = (0.03, 0.97), (0.06, 0.30), (60, 8)  # of the bands beside a strip
_MIDDLE_ACROSS = (0.2, 0.8)  # of the width
_OUTLINE = 13  # points along a side
_DARKEST_PERCENT, _OPAQUE_BESIDE, _NEARLY_AS_DARK = 98, 1.5, 0.1  # densities of something opaque beside a strip
_LEAST_OPAQUE_PIECE = 9  # pixels of the copy
_SMALL_PANEL = 0.06  # of the picture
_STOCKY = 2.0  # length over width, below which a strip may lie across
_NO_BEND = 0.02  # widths
_SQUARE = 0.2  # sine of the angle by which perspective may turn an end
_SOFT = 3  # pixels of the copy over which an edge gives way
_GOES_ON = 0.3  # of the strip's length
_EVENLY_DARK = 0.7  # of an opaque piece
_CLEAREST_FILM = 0.012  # less density than any film base has
_SURELY_PANEL = 0.6 * _CLEAREST_FILM  # hardly more than half of it
_TIGHTER = (0.12, 0.06, 0.04, 0.03, 0.02)  # of density below the field: what may still be panel, round by round


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
    bright = _panel_level(light)
    if bright <= 1e-4:
        raise InputError(
            "the picture is black", where=picture.name, remedy="expose longer, so that the open panel is nearly white"
        )
    if light.min() >= picture.clip_light:
        raise InputError(
            "the picture is white all over",
            where=picture.name,
            remedy="expose shorter, so that the open panel stays below white",
        )
    # Light below its own noise has no density; there the scale flattens out.
    floor = np.float32(max(_SURE * dark_noise(light), bright * 1e-5))
    logs = _log10(np.maximum(light, 0) + floor)
    columns, rows = (np.arange(n) * step + (step - 1) / 2 for n in (w, h))
    # The field is found on every few pixels; only the finished one is laid over all of them.
    thin = np.s_[:: max(1, min(h, w) // _FIELD_LINES)]
    few = light[thin, thin], logs[thin, thin], columns[thin], rows[thin]
    kept, lit = few[0] > _BRIGHT * bright, few[0] > _DIM * bright
    # Neighbours among the bright differ by noise alone.
    noise = _SURE * _noise(logs[thin], light[thin] > _BRIGHT * bright)
    # A small panel tells little of its fall-off; a bent field would follow the clearest film.
    orders = _ORDERS if kept.mean() > _SMALL_PANEL else _ORDERS_OF_SMALL
    for order, most in zip(orders, _TIGHTER[-len(orders) :], strict=True):
        field = _fit(few[2], few[3], few[0], kept, (picture.width, picture.height), order)
        residual = few[1] - _log10(field.light_on_grid(few[2], few[3]) + floor)
        # Film only takes light away, so the panel is judged from its bright side.
        above = residual[kept & (residual > 0)]
        sd = max(MAD_TO_SD * median(above) if above.size else _PANEL_SD, 1e-4)
        far = _SURE * sd
        # Clear film among the panel draws the field down between both; what lies above it then is the panel, and stays.
        # Far from the panel a field runs away, and meets the dark somewhere.
        kept = lit & (residual > -max(_SURELY_PANEL, min(far, max(most, noise)))) & (residual < max(far, most))
        if kept.sum() < 30:
            raise _no_panel(picture)
    density = _log10(field.light_on_grid(columns, rows) + floor) - logs
    threshold = max(_CLEAREST_FILM, _THRESHOLD * sd)
    panel = density < threshold
    panel &= density > _BELOW_PANEL * threshold
    if kept.sum() < _LEAST_PANEL * kept.size:
        raise _no_panel(picture)
    region = _region(panel)
    return Survey(light, step, field, density, panel & region, region, threshold)


def _log10(values: np.ndarray) -> np.ndarray:
    # Many times quicker than the function of that name.
    return np.asarray(np.log(values) * np.float32(1 / np.log(10)))


def _panel_level(light: np.ndarray) -> float:
    """Light of the open panel: the bright end, where enough of the picture lies there."""
    wide, narrow = (float(level) for level in np.percentile(light[_EVEN, _EVEN], (_WIDE, _NARROW)))
    # A panel that fills less than a fiftieth of the picture.
    return wide if wide > _SPREAD * narrow else narrow


def dark_noise(light: np.ndarray) -> float:
    """Standard deviation of a pixel of the copy in the darkest twentieth, from neighbours' differences."""
    return _noise(light, light <= np.percentile(light[_EVEN, _EVEN], _DARK_END))


def _noise(values: np.ndarray, there: np.ndarray) -> float:
    """Standard deviation of a pixel, from how neighbours differ where the first of them is `there`."""
    at = np.flatnonzero(there[:, :-1])
    at += at // (values.shape[1] - 1)  # of the whole picture, whose rows are longer by one
    difference = values.take(at + 1) - values.take(at)
    return float(MAD_TO_SD / np.sqrt(2) * median(np.abs(difference))) if difference.size else 0.0


class NoStripError(InputError):
    """No panel or no strip can be made out; where they lie the person can say."""

    code = "no_strip"


def nothing_found(what: str, where: str = "") -> NoStripError:
    """What is raised where `what` cannot be made out, with the way on."""
    remedy = "put the strip flat on the lit panel with panel showing all round it, or give the four corners"
    return NoStripError(what, where=where, remedy=remedy)


def _no_panel(picture: Picture) -> NoStripError:
    return nothing_found("no open light panel can be made out", picture.name)


def _fit(
    columns: np.ndarray, rows: np.ndarray, light: np.ndarray, kept: np.ndarray, size: tuple[int, int], order: int
) -> Field:
    """The field through the kept pixels of the copy, thinned to a few thousand."""
    index = np.flatnonzero(kept & (light > 0))
    if index.size < 30:
        raise nothing_found("no open light panel can be made out")
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
    large = np.append(False, sizes >= _LARGE * sizes.max())[label]
    return inside(convex_hull(row_ends(large)), panel.shape)


@dataclass(frozen=True, eq=False)
class Piece:
    """Something that lies on the panel and may be the strip.

    Parameters
    ----------
    warp : Warp
        Its own coordinates; the sides may bend.
    area : int
        Pixels of the copy.
    masked : bool
        Seen through the window of a mask or a holder: what lies round it is opaque, not the panel.
    """

    warp: Warp
    area: int
    masked: bool


@dataclass(frozen=True, eq=False)
class Shape:
    """What lies on the panel, or shows through a window, before its outline is looked at closely.

    Parameters
    ----------
    mask : ndarray of bool, shape (h, w)
        Of the copy.
    masked : bool
        As in `Piece`.
    contrast : float
        By how much its densities differ; steps cannot be greater.
    """

    mask: np.ndarray
    masked: bool
    contrast: float


class _Pieces:
    """What of a mask hangs together, by number from 1."""

    def __init__(self, mask: np.ndarray):
        self.label, count = ndimage.label(mask)
        self.boxes = ndimage.find_objects(self.label)
        self.sizes = np.bincount(self.label.ravel(), minlength=count + 1)
        self._rectangles: dict[int, np.ndarray | None] = {}

    def rectangle(self, number: int) -> np.ndarray | None:
        """The smallest one round a piece; None where that is no more than a speck."""
        if number not in self._rectangles:
            down, across = self.boxes[number - 1]
            piece = self.label[down, across] == number
            self._rectangles[number] = (
                smallest_rectangle(convex_hull(row_ends(piece) + np.array([across.start, down.start])))
                if self.sizes[number] >= _SPECK
                else None
            )
        return self._rectangles[number]


def find_shapes(seen: Survey, worth: Callable[[int], bool]) -> Iterator[Shape]:
    """What on the panel may be a strip, largest first; made out one by one, as they are asked for.

    A strip that lies on the panel is what covers it; one in a holder is what lets light through among the opaque. What shows
    through windows comes last.

    Parameters
    ----------
    worth : callable (area) -> bool
        Whether something of so many pixels of the copy is still worth looking for behind windows.
    """
    covered = seen.region & ~seen.panel
    covered = without_holes(without_specks(covered, square=True))
    pieces = _Pieces(covered)
    area, sizes = int(seen.region.sum()), pieces.sizes
    largest = [
        int(n)
        for n in np.argsort(-sizes[1:])[:_MOST_PIECES] + 1
        if sizes[n] >= max(_LEAST_PIECE * area, _LEAST_PIECE_PIXELS)
    ]
    holders = []
    for number in largest:
        mask = _without_threads(_with_neighbours(pieces, number))
        if mask.any():
            yield _shape(seen, mask, masked=False)
            row = _row_of_pieces(pieces, number)
            if row.sum() > _MORE_THAN_ITSELF * mask.sum():  # film so clear that only its patches are seen
                yield _shape(seen, row, masked=False)
            holders.append(number)
    for number in holders:
        if worth(int(sizes[number])):
            yield from _windows(seen, pieces.label == number)
    if worth(int(seen.panel.size - seen.panel.sum())):
        yield from _windows(seen, ~grow(seen.panel, 2))


def _shape(seen: Survey, mask: np.ndarray, *, masked: bool) -> Shape:
    # A soft rim is as clear as the panel, and says nothing of what lies within.
    inner = shrink(mask, _SOFT)
    inside_it = seen.density[inner if inner.any() else mask]
    low, high = np.percentile(inside_it[:: max(1, inside_it.size // _ENOUGH)], _ENDS)
    return Shape(mask, masked, float(high - low))


def pieces_of(seen: Survey, picture: Picture, shape: Shape) -> list[Piece]:
    """A shape as a strip, lengthwise, and both ways where it is stocky; none where it is no strip at all."""
    mask, masked = shape.mask, shape.masked
    rows, columns = np.nonzero(mask ^ shrink(mask))
    if rows.size < 8:
        return []
    rim = np.stack([columns, rows], 1).astype(float)
    rectangle = smallest_rectangle(convex_hull(rim))
    box = along_first(rectangle)
    straight = _quadrilateral(rim, rectangle)
    quad = box
    if straight is not None:
        straight = along_first(straight)
        share = mask.sum() / max(inside(straight, mask.shape).sum(), 1)
        if share > _STRAIGHT and _square_ends(straight):
            quad = straight
    length, width = np.hypot(*(quad[1] - quad[0])), np.hypot(*(quad[3] - quad[0]))
    if width < _SMALLEST_SIDE or length < _SMALLEST_SIDE:
        return []
    found = []
    # A short strip may be wider than long: then both ways are looked along.
    for way in (quad, _upright(quad)) if length < _STOCKY * width else (quad,):
        warp = _bent(mask, Warp(way))
        if quad is straight and _most_bend(warp) < _NO_BEND:
            whole = refine_outline(picture, seen, seen.to_picture(way)) if not masked else seen.to_picture(way)
            found.append(Piece(Warp(whole), int(mask.sum()), masked))
        else:
            found.append(Piece(replace(warp, quad=seen.to_picture(way)), int(mask.sum()), masked))
    return found


def _most_bend(warp: Warp) -> float:
    """How far the middle lies off a straight line at most, in widths."""
    return float(np.abs(np.polynomial.polynomial.polyval(np.linspace(0, 1, _BEND_SPOTS), np.asarray(warp.bend))).max())


def _upright(quad: np.ndarray) -> np.ndarray:
    """The same corners along the short way, still from the left or the top."""
    turned = np.roll(quad, -1, axis=0)
    direction = turned[1] - turned[0]
    backwards = direction[0] < 0 if abs(direction[0]) >= abs(direction[1]) else direction[1] < 0
    return np.roll(turned, -2, axis=0) if backwards else turned


def _square_ends(quad: np.ndarray) -> bool:
    """Whether both ends stand square to the middle line, as those of a whole strip do but for perspective."""
    axis = quad[1] + quad[2] - quad[0] - quad[3]
    axis = axis / np.hypot(*axis)
    return all(abs(float(end @ axis)) / np.hypot(*end) <= _SQUARE for end in (quad[3] - quad[0], quad[2] - quad[1]))


def _bent(mask: np.ndarray, straight: Warp) -> Warp:
    """The same strip with sides that follow the mask: the middle by a cubic, the width by a line."""
    length, width = straight.size()
    u = np.linspace(_END, 1 - _END, int(np.clip(length, _ALONG, _MOST_ALONG)))
    across = np.linspace(*_BESIDE, int(np.clip(_PER_WIDTH * width, _ACROSS, _MOST_ACROSS)))
    points = np.rint(straight.points(u[:, None], across[None, :])).astype(int)
    h, w = mask.shape
    x, y = points[..., 0], points[..., 1]
    there = (x >= 1) & (y >= 1) & (x < w - 1) & (y < h - 1)
    hit = mask[np.clip(y, 0, h - 1), np.clip(x, 0, w - 1)] & there
    some = hit.any(axis=1)
    first, last = hit.argmax(axis=1), hit.shape[1] - 1 - hit[:, ::-1].argmax(axis=1)
    half = (across[1] - across[0]) / 2
    # A side that runs along the border of the picture is not the strip's.
    rows = np.arange(len(u))
    open_first = some & there[rows, np.maximum(first - 1, 0)] & (first > 0)
    open_last = some & there[rows, np.minimum(last + 1, hit.shape[1] - 1)] & (last < hit.shape[1] - 1)
    top, bottom = across[first] - half, across[last] + half
    if open_first.sum() < 8 or open_last.sum() < 8:
        return straight
    return through_sides(straight, u, (top, open_first), (bottom, open_last))


# Where a side lies at each place along the strip, and where that can be trusted.
_Side = tuple[np.ndarray, np.ndarray]


def through_sides(straight: Warp, u: np.ndarray, top: _Side, bottom: _Side) -> Warp:
    """A cubic middle and a linear width through the points of both sides, robust against what touches them."""
    basis = np.vander(u, _CUBIC, increasing=True)
    line = basis[:, :2]
    rows, values = [], []
    for sign, (level, good) in ((-0.5, top), (0.5, bottom)):
        rows.append(np.hstack([basis, sign * line])[good])
        values.append(level[good])
    matrix, value = np.vstack(rows), np.concatenate(values)
    # The plain start: nothing bends and the width is the same everywhere.
    residual = value - np.where(matrix[:, 4] < 0, np.median(top[0][top[1]]), np.median(bottom[0][bottom[1]]))
    solution = np.zeros(_UNKNOWNS)
    for _ in range(_ROUNDS):
        scale = max(MAD_TO_SD * median(np.abs(residual)), _LEAST_SCALE)
        weight = np.maximum(1 - (residual / (_CUT * scale)) ** 2, 0) ** 2
        normal = matrix.T @ (weight[:, None] * matrix) + 1e-6 * np.eye(_UNKNOWNS)
        solution = np.linalg.solve(normal, matrix.T @ (weight * value))
        residual = value - matrix @ solution
    bend = solution[:4] - np.array([0.5, 0, 0, 0])
    spread = solution[4:] - np.array([1.0, 0.0])
    if np.abs(np.polynomial.polynomial.polyval(u, bend)).max() > _MOST_BEND or np.abs(spread).max() > _MOST_TAPER:
        return straight
    return replace(straight, bend=tuple(map(float, bend)), spread=tuple(map(float, spread)))


def _windows(seen: Survey, among: np.ndarray) -> Iterator[Shape]:
    """Strips that show through the window of something opaque."""
    if among.sum() < _LEAST_OPAQUE:
        return
    opaque = float(np.percentile(seen.density[among], _OPAQUE_PERCENT))
    if opaque < _OPAQUE:
        return
    for most in (min(opaque - _THROUGH, _MOST_THROUGH), _THROUGH_PART * opaque):
        through = among & ~seen.panel & (seen.density < most)
        through = without_specks(without_holes(through))
        if through.mean() > _ALL_THROUGH * among.mean():
            continue
        pieces = _Pieces(through)
        used = np.zeros_like(through)
        for number in np.argsort(-pieces.sizes[1:])[:_MOST_WINDOWS] + 1:
            if pieces.sizes[number] < _LEAST_WINDOW or used[pieces.label == number].any():
                continue
            mask = _row_of_pieces(pieces, int(number))
            used |= mask
            yield _shape(seen, mask, masked=True)


def _row_of_pieces(among: _Pieces, first: int) -> np.ndarray:
    """A piece with all that lie in line with it: the patches of a strip between dark bars."""
    mask = np.asarray(among.label == first)
    own = among.rectangle(first)
    if own is None:
        return mask
    # What is much smaller than the piece is wide is no other patch of it: dust needs no closer look.
    least = _AS_WIDE[0] * min(np.hypot(*(own[1] - own[0])), np.hypot(*(own[2] - own[1]))) / 2
    pieces = {}
    for number, (down, across) in enumerate(among.boxes, start=1):
        if np.hypot(down.stop - down.start, across.stop - across.start) >= least:
            around = among.rectangle(number)
            if around is not None:
                pieces[number] = around
    best = [first]
    for way in (own[1] - own[0], own[2] - own[1]):
        length = float(np.hypot(*way))
        axis = way / max(length, 1e-9)
        aside = np.array([-axis[1], axis[0]])
        width = float(np.ptp(own @ aside))
        row = [first]
        low, high = float((own @ axis).min()), float((own @ axis).max())
        offset = float((own @ aside).mean())
        for number in sorted(pieces, key=lambda n: abs(float((pieces[n] @ axis).mean()) - (low + high) / 2)):
            piece = pieces[number]
            if number == first or not _AS_WIDE[0] < np.ptp(piece @ aside) / max(width, 1e-9) < _AS_WIDE[1]:
                continue
            a, b = float((piece @ axis).min()), float((piece @ axis).max())
            gap = max(a - high, low - b)
            drift = abs(float((piece @ aside).mean()) - offset)
            if gap < _MOST_GAP * max(length, b - a) and (
                drift < _DRIFT * width + _DRIFT_PER_GAP * max(gap, 0) + _DRIFT_PER_LENGTH * (high - low)
            ):
                row.append(number)
                low, high = min(low, a), max(high, b)
        if len(row) > len(best):
            best = row
    for number in best[1:]:
        mask = mask | (among.label == number)
    # The bars between belong to the strip.
    return inside(convex_hull(row_ends(mask)), mask.shape) if len(best) > 1 else mask


def _without_threads(mask: np.ndarray) -> np.ndarray:
    """The piece without hairs and scratches that stick out of it."""
    # An opening by a large square, in the time of two distance maps whatever its size.
    rows, columns = (
        slice(max(int(there[0]) - 1, 0), int(there[-1]) + 2)
        for there in (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    )
    depth = ndimage.distance_transform_cdt(np.pad(mask[rows, columns], 1), metric="chessboard")
    reach = max(1, int(depth.max()) // _DEPTH)
    away = ndimage.distance_transform_cdt(depth <= reach, metric="chessboard")
    opened = np.zeros_like(mask)
    opened[rows, columns] = (away <= reach)[1:-1, 1:-1]
    return np.asarray(opened & mask)


def _with_neighbours(among: _Pieces, best: int) -> np.ndarray:
    """The chosen piece with others in line with it (a very clear patch may part a strip)."""
    mask = np.asarray(among.label == best)
    box = among.rectangle(best)
    if box is None:
        return mask
    along = box[1] - box[0], box[2] - box[1]
    long_way, short_way = sorted(along, key=lambda v: -np.hypot(*v))
    length, width = np.hypot(*long_way), np.hypot(*short_way)
    centre = box.mean(0)
    for number, (down, side) in enumerate(among.boxes, start=1):
        if number == best or np.hypot(down.stop - down.start, side.stop - side.start) < _WHOLE_WIDE * width:
            continue
        if among.sizes[number] < _SPECK:
            continue
        r, c = np.nonzero(among.label[down, side] == number)
        offset = np.stack([c + side.start, r + down.start], 1) - centre
        across = offset @ short_way / width
        far = np.abs(offset @ long_way / length) - length / 2
        extent = np.ptp(across)
        if np.abs(across).max() < _HALF_WIDE * width and _WHOLE_WIDE * width < extent and far.min() < _NEAR_BY * width:
            mask |= among.label == number
    return mask


def _quadrilateral(rim: np.ndarray, quad: np.ndarray) -> np.ndarray | None:
    """Four straight sides through the rim of a piece, near those of the rectangle round it."""
    known: dict[bytes, np.ndarray] = {}
    for _ in range(_RIM_ROUNDS):
        lines = []
        away = _from_sides(rim, quad)
        nearest = away.min(axis=0)
        for k in range(_CORNERS):
            a, b = quad[k], quad[(k + 1) % _CORNERS]
            side = b - a
            length = np.hypot(*side)
            if length < _SMALLEST_SIDE:
                return None
            along = (rim - a) @ side / length**2
            near = (along > _OFF_CORNER) & (along < 1 - _OFF_CORNER)
            near &= (away[k] < max(_NEAR_PIXELS, _NEAR_PART * length)) & (away[k] <= nearest)
            if near.sum() < _FEWEST_OF_A_SIDE:
                lines.append(np.array([-side[1], side[0], side[1] * a[0] - side[0] * a[1]]) / length)
            else:
                # The same points have the same line as the round before.
                points = near.tobytes()
                if points not in known:
                    known[points] = fit_line(rim[near])
                lines.append(known[points])
        quad = np.array([meet(lines[k - 1], lines[k]) for k in range(_CORNERS)])
        if not np.all(np.isfinite(quad)) or not is_convex(quad):
            return None
    return quad


def _from_sides(rim: np.ndarray, quad: np.ndarray) -> np.ndarray:
    """Distance of each point (n, 2) to the line of each side, shape (4, n)."""
    side = np.roll(quad, -1, axis=0) - quad
    across = np.stack([-side[:, 1], side[:, 0]], axis=1) / np.maximum(np.hypot(*side.T), 1e-9)[:, None]
    return np.asarray(np.abs(across @ rim.T - (across * quad).sum(axis=1)[:, None]))


def refine_outline(picture: Picture, seen: Survey, quad: np.ndarray) -> np.ndarray:
    """The same corners to a fraction of a pixel, from the full picture.

    Each side is looked for along short profiles across it; a side with too little contrast stays.
    """
    reach = max(_REACH, int(_REACH_STEPS * seen.step))
    offsets = np.arange(-reach, reach + 0.5)
    centre = quad.mean(0)
    normals, rows = [], []
    for k in range(_CORNERS):
        a, b = quad[k], quad[(k + 1) % _CORNERS]
        side = b - a
        length = float(np.hypot(*side))
        normal = np.array([-side[1], side[0]]) / length
        normals.append(-normal if normal @ (centre - a) < 0 else normal)  # inwards
        along = np.linspace(*_REFINED_BETWEEN, int(np.clip(length / _PER_SPOT, _SPOTS, _MOST_SPOTS)))
        rows.append(a + along[:, None] * side)
    # All sides at once.
    middles, inwards = np.concatenate(rows), np.repeat(normals, [len(row) for row in rows], axis=0)
    points = middles[:, None] + offsets[None, :, None] * inwards[:, None]
    light = _light_at(picture, points, seen.field.light(middles)[:, None])
    found = _edges(light, offsets, seen.threshold)
    edges = middles + found[:, None] * inwards
    lines = []
    for k, some in enumerate(np.split(edges, np.cumsum([len(row) for row in rows])[:-1])):
        good = np.isfinite(some[:, 0])
        if good.sum() < _FOUND_PART * len(some):
            lines.append(np.array([*normals[k], -normals[k] @ quad[k]]))
        else:
            lines.append(fit_line(some[good]))
    refined = np.array([meet(lines[k - 1], lines[k]) for k in range(_CORNERS)])
    moved = np.hypot(*(refined - quad).T)
    return refined if np.all(np.isfinite(refined)) and moved.max() < _MOVED * reach and is_convex(refined) else quad


def _light_at(picture: Picture, points: np.ndarray, field: np.ndarray) -> np.ndarray:
    """Light against the panel's at points (..., 2) of the picture; as light as that outside it."""
    x = np.rint(points[..., 0]).astype(int)
    y = np.rint(points[..., 1]).astype(int)
    outside = (x < 0) | (y < 0) | (x >= picture.width) | (y >= picture.height)
    light = np.maximum(picture.light_at(x, y) / field, 1e-5)
    light[outside] = 1.0
    return np.asarray(light)


def _edges(light: np.ndarray, offsets: np.ndarray, threshold: float) -> np.ndarray:
    """Where each profile (n, m), going inwards, crosses half way from panel to film; NaN where it does not."""
    # In the light itself, not in density, an unsharp edge is symmetric.
    smooth = ndimage.uniform_filter1d(light, _SMOOTHED, axis=1, mode="nearest")
    third = max(1, len(offsets) // _QUARTER)
    outer, inner = np.median([smooth[:, :third], smooth[:, -third:]], axis=2)
    half = (outer + inner) / 2
    below = smooth < half[:, None]
    first = np.argmax(below, axis=1)
    usable = (outer - inner > max(_LEAST_EDGE, _EDGE_THRESHOLDS * threshold)) & below.any(axis=1) & (first > 0)
    rows = np.arange(len(smooth))
    a, b = smooth[rows, np.maximum(first - 1, 0)], smooth[rows, first]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = (a - half) / (a - b)
    return np.where(usable, offsets[np.maximum(first - 1, 0)] + part, np.nan)


def panel_beside(seen: Survey, warp: Warp) -> float:
    """The share of open panel in the two bands along the strip's long sides, the better side."""
    u, v = np.meshgrid(np.linspace(*_BAND_ALONG, _BAND_SPOTS[0]), np.linspace(*_BAND_ACROSS, _BAND_SPOTS[1]))
    return max(_panel_at(seen, warp.points(u, across)) for across in (-v, 1 + v))


def panel_within(seen: Survey, warp: Warp) -> float:
    """The share of open panel along the middle of a strip, clear of perforations and of how far its sides bend."""
    u, v = np.meshgrid(np.linspace(*_BAND_ALONG, _BAND_SPOTS[0]), np.linspace(*_MIDDLE_ACROSS, _BAND_SPOTS[1]))
    return _panel_at(seen, warp.points(u, v))


def _panel_at(seen: Survey, points: np.ndarray) -> float:
    """The share of points (..., 2) of the picture at which the open panel shows."""
    x, y = np.moveaxis(np.rint(seen.to_copy(points)).astype(int), -1, 0)
    h, w = seen.panel.shape
    good = (x >= 0) & (y >= 0) & (x < w) & (y < h)
    return float(np.where(good, seen.panel[np.clip(y, 0, h - 1), np.clip(x, 0, w - 1)], False).mean())


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


def covered_by(seen: Survey, warp: Warp, *, beyond: float = 0.0) -> np.ndarray:
    """Pixels of the copy that the strip covers, and so much of its length beyond either end."""
    u = np.linspace(-beyond, 1 + beyond, _OUTLINE)
    sides = np.concatenate([warp.points(u, 0.0), warp.points(u[::-1], 1.0)])
    return inside(convex_hull(seen.to_copy(sides)), seen.panel.shape)


def find_opaque(seen: Survey, warp: Warp, covered: np.ndarray) -> Opaque | None:
    """The darkest even piece on the panel that is not the strip, if it is darker than the strip.

    A box inside it, away from its edges, is returned.

    Parameters
    ----------
    covered : ndarray of bool
        What the strip covers of the copy.
    """
    strip = grow(covered, _SOFT)
    darkest_film = float(np.percentile(seen.density[strip], _DARKEST_PERCENT)) if strip.any() else 0.0
    # Film that goes on where the row of patches ends is film.
    strip |= grow(covered_by(seen, warp, beyond=_GOES_ON), _SOFT)
    dark = seen.region & ~strip & (seen.density > max(_OPAQUE_BESIDE, darkest_film - _NEARLY_AS_DARK))
    dark = shrink(dark, 2)
    if not dark.any():
        return None
    # What is dark only in parts, as the border of another strip is, is film; an edge is never sharp, so the rim counts for nothing.
    beside = shrink(seen.region & ~strip & ~seen.panel, _SOFT)
    if not beside.any():
        return None
    where = bounds(beside)
    beside, dark = beside[where], dark[where]
    things, _ = ndimage.label(beside)
    core = shrink(np.pad(beside, 1), 2)[1:-1, 1:-1]
    whole, parts = (np.bincount(things[some], minlength=things.max() + 1) for some in (core, core & dark))
    dark = dark & (parts > _EVENLY_DARK * whole)[things]
    found = _Pieces(dark)
    best = None
    for number, box in enumerate(found.boxes, start=1):
        if found.sizes[number] < _LEAST_OPAQUE_PIECE:
            continue
        piece = found.label[box] == number
        inner = _box_inside(piece)
        if inner is None:
            continue
        top, left, bottom, right = inner
        down, across = box[0].start + where[0].start, box[1].start + where[1].start
        top, bottom, left, right = top + down, bottom + down, left + across, right + across
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
