"""The strip among what lies on the panel: the piece that shows as many patches as the person said."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from obverse.foundation import MAD_TO_SD, Array
from obverse.imaging.finding import (
    Piece,
    Survey,
    find_shapes,
    nothing_found,
    panel_within,
    pieces_of,
    through_sides,
)
from obverse.imaging.patches import (
    ENOUGH_CONTRAST,
    MOST_EVIDENCE,
    SURE_GAIN,
    Beside,
    Layout,
    Profile,
    clearly_dearer,
    doubts,
    even_layout,
    place_patches,
    weighed,
    whole_cost,
)
from obverse.imaging.picture import Picture
from obverse.imaging.warp import Warp

_BEYOND = 0.25  # of a strip's length: how far past its ends patches are looked for, where its ends are hidden
_ROWS = 13  # across the middle of a strip, on which it is looked at
_PER_PATCH, _FEWEST_PER_PATCH, _BESIDES = 30, 12, 24  # samples, at most and at least, and besides those of the patches
_PER_PIXEL = 1.5  # samples
_MOST_SAMPLES = 2400  # however many patches there are
_BEYOND_PATCHES, _BEYOND_OPEN = 2.7, 0.03  # patches past hidden ends, and of the length past ends that are seen
_PER_COST = 12.0  # of a layout and patch, that halves how good it looks
_JITTER_SAMPLES, _JITTER = 9, 1.2  # samples over which the noise along a strip is taken, and how much of it counts
_OFF_THE_END = 0.01  # of the length
_BARE_SAMPLES = 3  # over which it is looked whether there is film
_FEW_PIXELS, _ASIDE = 1.5, 0.3  # pixels from sample to sample, above which two more are read, so far from it
_READ = 3  # pixels of such a sample
_DENSITIES = (-0.1, 2.6)  # between which a step counts
_EVERY_ROW = 2  # of them a slant is looked for on
_SLANT_TRIALS, _SLANT_ROUNDS, _SHARPER, _SHARPER_AT_LAST = (
    13,
    3,
    1.02,
    1.01,
)  # and how much sharper a slant must make the steps
_BORDER_ALONG, _BORDER_FILM, _BORDER_DIFFERS = (0.02, 0.98), 0.3, 0.08  # of the edges of a strip
_BORDER_ACROSS = (0.03, 0.06, 0.94, 0.97)  # of the width
_BESIDE_WINDOW, _CLEARER_MASK = (-0.2, -0.12, 1.12, 1.2), 10  # widths; percentile of the densities there
_BETWEEN_HOLES = 75  # percentile of an edge's densities
_MOST_MIXED, _MOST_MIXED_ANYWHERE = (
    0.5,
    0.3,
)  # of the patches' light that an edge shows and still tells of the border, and of each place of it
_FEWEST_NEAR, _NEAR_PATCH = 3, 0.5  # samples, and of a patch, over which an edge is looked at
_FEWEST_OF_BORDER = 5  # spots of an edge beside the clearer half of the patches, and beside the denser
_LEAST_LIGHT = 1e-4  # of the panel's
_MIDDLE = 0.2  # of the width on either side of the middle line
_WINDOW_ALONG, _WINDOW_ACROSS = 120, 100  # places at which the sides of a window are looked for
# Percentile of a mask's densities, the least of that, and how much less dense the film is.
_OPAQUE_ACROSS, _LEAST_OPAQUE, _THROUGH = 90, 1.2, 0.35
_TOLD = 0.5  # of the places, at which a window's sides show
_READ_ACROSS = 0.23  # of the width on either side of the middle line, of which densities are read
_SLANTS = 0.22  # widths
_MOST_PANEL = 0.4  # of the middle of a strip; clear bars let panel through
_SIZE = 0.12  # power of its area by which a piece is preferred
_IN_WINDOW = 0.75  # what a piece counts that is seen through a window
_NO_FIT = 0.02  # what a piece counts that does not fit at all
_RIVAL = 0.5  # of the best piece's merit
# Times what is clearly dearer, by which a number of patches costs more on the wrong strip: of 27 pictures with two strips by other hands the right
# one was dearer by 19 at the most, and 10 rows lay on a strip that was cheaper by 25 and more (all right).
_FAR_DEARER = 4.0
_POOR, _ANY_FILM = 2.0, 0.06  # merit below which it is looked again, and the density that nearly all film has
_CUT_ACROSS = 0.3  # of the width
_FEWEST_PIXELS = 3  # of a patch, and across
_AT_THE_RIM = 0.02  # of the width
# A patch hardly denser than the panel is film all the same where the film's edges run on beside it: of the border's density, of a patch
# at the least, and density (clear film by unknown curves has 0.011 and more, the panel between a holder's bars 0.002; pictures by other hands).
_EDGE_RUNS_ON, _LEAST_CLEAR, _CLEAREST = 0.5, 0.25, 0.007
_CLEAR = 0.03  # density, below which there is hardly any film
_WHITE = 0.98  # of the light that is white


@dataclass(frozen=True, eq=False)
class Located:
    """A strip that was found, with its patches.

    Parameters
    ----------
    masked : bool
        Seen through the window of a holder.
    beside : tuple of Beside
        The same patches laid a little elsewhere, the likeliest first.
    rivals : tuple of Located
        Other pieces that might be strips as well.
    mask : Warp, optional
        What the window was cut in, where all of it was made out. It may let some light through: nobody said that it is opaque.
    """

    warp: Warp
    layout: Layout
    profile: Profile
    masked: bool
    beside: tuple[Beside, ...] = ()
    rivals: tuple[Located, ...] = ()
    mask: Warp | None = None


def locate(picture: Picture, seen: Survey, count: int) -> Located:
    """The piece on the panel that reads best as a strip of `count` patches.

    Raises
    ------
    NoStripError
        If nothing on the panel is longer than wide.
    """
    found: list[tuple[float, Piece, Warp, Profile, Layout]] = []
    _look(picture, seen, count, found)
    if _best(found) < _POOR and seen.threshold < _ANY_FILM:
        # A shadow, or light thrown back, round the strip hides it: what is as dense as film stands out.
        panel = seen.region & (np.abs(seen.density) < _ANY_FILM)
        _look(picture, replace(seen, panel=panel, threshold=_ANY_FILM), count, found)
    if not found:
        raise nothing_found("no strip can be made out on the panel", picture.name)
    found.sort(key=lambda one: -one[0])
    merit, piece, warp, profile, layout = found[0]
    mask = None
    window = None if piece.masked else _window(picture, seen, warp, layout)
    if window is not None:
        # Where the row lies along the mask its middle has shown.
        piece, warp, mask = replace(piece, masked=True), window, warp
    elif piece.masked:
        # What lies beyond the ends of a window is mostly what lies beside it.
        profile = replace(profile, border=_mask(picture, seen, warp, profile.place))
        layout = place_patches(profile, count)
    rivals: list[Located] = []
    for m, one, other, shown, placed in found[1:]:
        if m > _RIVAL * merit and not one.masked and all(_apart(other, w) for w in (warp, *(r.warp for r in rivals))):
            rivals.append(_weighed(other, shown, placed))
    strips = _likely([replace(_weighed(warp, profile, layout), masked=piece.masked, mask=mask), *rivals])
    if len(strips) == 1:
        return strips[0]
    # The person's number is right: a strip whose steps clearly speak for another one is not theirs, where one's do not.
    gains = [_for_another_number(one) for one in strips]
    best, *others = sorted(range(len(strips)), key=lambda k: gains[k])
    return replace(strips[best], rivals=tuple(strips[k] for k in others if gains[best] or not gains[k]))


def _likely(strips: list[Located]) -> list[Located]:
    """Those that as many patches may lie on: not where they cost far more than on another."""
    costs = [whole_cost(one.layout) for one in strips]
    least = min(costs)
    limit = _FAR_DEARER * clearly_dearer(strips[costs.index(least)].layout)
    return [one for one, cost in zip(strips, costs, strict=True) if cost <= least + limit]


def _for_another_number(strip: Located) -> float:
    """By how much the steps of a strip speak for another number of patches; 0 where they do not clearly."""
    against = doubts(strip.layout)
    return against[0].gain if against and against[0].gain > SURE_GAIN else 0.0


def _weighed(warp: Warp, profile: Profile, layout: Layout) -> Located:
    layout, beside = weighed(layout)
    return Located(warp, layout, profile, False, beside)


def _look(picture: Picture, seen: Survey, count: int, found: list[tuple[float, Piece, Warp, Profile, Layout]]) -> None:
    """Add what may be the strip, with how much it looks like it."""
    # What can neither win nor count as a rival, for being too small or too even, need not be looked at.
    for shape in find_shapes(seen, lambda area: _most_merit(area, masked=True) >= _best(found)):
        most = _most_merit(int(shape.mask.sum()), shape.contrast, masked=shape.masked)
        if most < _best(found) * (1.0 if shape.masked else _RIVAL):
            continue
        for piece in pieces_of(seen, picture, shape):
            bare = panel_within(seen, piece.warp)
            # A ring round the panel, such as the dark of the room, is no film, whatever lies within it.
            if bare > _MOST_PANEL or not _is_shown(picture, piece, count):
                continue
            warp, profile = straightened(picture, seen, piece.warp, count, masked=piece.masked)
            if profile.film.sum() < 2 * count:
                continue
            layout = place_patches(profile, count)
            merit = _merit(piece, layout, count) * (1 - bare / _MOST_PANEL) ** 2
            found.append((merit, piece, warp, profile, layout))


def _best(found: list[tuple[float, Piece, Warp, Profile, Layout]]) -> float:
    return max((merit for merit, *_ in found), default=0.0)


def _merit(piece: Piece, layout: Layout, count: int) -> float:
    """How much a piece looks like the strip that was asked for: its steps, where they lie, and its size."""
    seen = (layout.seen + 1) / count
    fit = layout.evidence / (1.0 + layout.cost / (_PER_COST * count))
    return float((max(fit, 0.0) + _NO_FIT) * seen * _whole(piece.masked) * piece.area**_SIZE)


def _most_merit(area: int, contrast: float = np.inf, *, masked: bool) -> float:
    """What no piece of such an area can exceed: as evidence counts the square of what densities differ from their mean."""
    evidence = min(MOST_EVIDENCE, ENOUGH_CONTRAST * contrast**2)
    return float((evidence + _NO_FIT) * _whole(masked) * area**_SIZE)


def _whole(masked: bool) -> float:
    # What lies on the panel is seen whole; through a window only a part may be.
    return _IN_WINDOW if masked else 1.0


def _is_shown(picture: Picture, piece: Piece, count: int) -> bool:
    """Whether a piece is large enough for its patches, and one in a window lies within the picture along one side at least."""
    corners = piece.warp.corners()
    length, width = np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[3] - corners[0]))
    if length < _FEWEST_PIXELS * count or width < _FEWEST_PIXELS:
        return False
    last = np.array([picture.width, picture.height]) - 1.0
    rim = np.minimum(corners, last - corners).min(axis=1) < _AT_THE_RIM * width
    # What fills the picture from side to side, with no window's edge to be seen, is film without a panel.
    return not (piece.masked and rim[[0, 1]].all() and rim[[2, 3]].all())


def _apart(first: Warp, second: Warp) -> bool:
    """Whether the middle of the first lies outside the second."""
    middle = first.points(0.5, 0.5)
    corners = second.corners()
    side = np.roll(corners, -1, axis=0) - corners
    away = middle - corners
    turn = side[:, 0] * away[:, 1] - side[:, 1] * away[:, 0]
    return not bool(np.all(turn > 0) or np.all(turn < 0))


def given(picture: Picture, seen: Survey, quad: Array, count: int) -> Located:
    """The strip whose corners a person gave."""
    warp, profile = straightened(picture, seen, Warp(quad), count, masked=False, beyond=0.0)
    layout = place_patches(profile, count, whole=True)
    return Located(warp, layout, profile, False)


def by_hand(count: int, edges: Array) -> Layout:
    """Patches as a person laid them, between the given places."""
    return replace(even_layout(count), edges=np.asarray(edges, dtype=float))


def straightened(
    picture: Picture, seen: Survey, warp: Warp, count: int, *, masked: bool, beyond: float | None = None
) -> tuple[Warp, Profile]:
    """The density along a strip, with the slant of its patches taken out."""
    length, width = warp.size()
    if beyond is None:
        beyond = max(_BEYOND, _BEYOND_PATCHES / count) if masked else _BEYOND_OPEN
    whole = 1 + 2 * beyond
    samples = int(
        np.clip(
            min(_PER_PIXEL * length * whole, _PER_PATCH * count * whole),
            _FEWEST_PER_PATCH * count + _BESIDES,
            _MOST_SAMPLES,
        )
    )
    place = np.linspace(-beyond, 1 + beyond, samples)
    across = 0.5 + np.linspace(-_MIDDLE, _MIDDLE, _ROWS)
    density, outside = _densities(picture, seen, warp.points(place[:, None], across[None, :]), length * whole / samples)
    slant = _slant(density, place, across, width / length)
    if slant != (0.0, 0.0):
        warp = replace(warp, slant=slant)
        density, outside = _densities(
            picture, seen, warp.points(place[:, None], across[None, :]), length * whole / samples
        )
    along = np.median(density, axis=1)
    spread = MAD_TO_SD * np.median(np.abs(density - along[:, None]), axis=1)
    jitter = np.abs(np.diff(along, prepend=along[0])) / np.sqrt(2)
    near = max(_JITTER_SAMPLES, samples // (2 * count) * 2 + 1)
    sd = np.hypot(_JITTER * ndimage.median_filter(jitter, near), spread / np.sqrt(_ROWS))
    # Inside its outline, or in line with a window, only what is clearer than any film is no film; where white is all that the panel shows, nothing is.
    inner = (place > _OFF_THE_END) & (place < 1 - _OFF_THE_END)
    light = seen.panel & (seen.light > _WHITE * picture.clip_light)
    white = not masked and 2 * int(light.sum()) > int(seen.panel.sum())
    clear = np.where(inner | masked, -np.inf if white else 0.5 * _CLEAR, max(seen.threshold, _CLEAR))
    bare = ndimage.uniform_filter1d((density < clear[:, None]).mean(axis=1), _BARE_SAMPLES) > 0.5
    # Where a person laid the corners there is film, though the panel be overexposed and all look clear.
    film = (~bare | (beyond == 0.0)) & (outside.mean(axis=1) < 0.5)
    border, edge = (None, None) if masked else _border(picture, seen, warp, along, place, count)
    if border is not None and edge is not None:
        beside = (edge > _EDGE_RUNS_ON * border) & (outside.mean(axis=1) < 0.5)
        film |= _clear_film((along < _CLEAR) & beside, along, round(_LEAST_CLEAR * samples / (whole * count)))
    return warp, Profile(place, along, sd, film, border, _leaves(film, outside), edge)


def _clear_film(clear: NDArray[np.bool_], along: Array, least: int) -> NDArray[np.bool_]:
    """Where what is as clear as the panel is film: so many places at the least, a little denser than the panel."""
    found = np.zeros_like(clear)
    label, _ = ndimage.label(clear)
    for (run,) in ndimage.find_objects(label):
        found[run] = run.stop - run.start >= least and np.median(along[run]) > _CLEAREST
    return found


def _leaves(film: NDArray[np.bool_], outside: NDArray[np.bool_]) -> tuple[bool, bool]:
    """Whether the film ends, at either end, because the picture does."""
    inside = np.flatnonzero(film)
    if not inside.size:
        return False, False
    before, after = max(inside[0] - 1, 0), min(inside[-1] + 1, len(film) - 1)
    return bool(outside[before].mean() > _CUT_ACROSS), bool(outside[after].mean() > _CUT_ACROSS)


def _densities(picture: Picture, seen: Survey, points: Array, step: float) -> tuple[Array, NDArray[np.bool_]]:
    """Density against the panel at points (m, n, 2), a little smoothed along, and which lie outside the picture."""
    x = np.rint(points[..., 0]).astype(int)
    y = np.rint(points[..., 1]).astype(int)
    outside = (x < 0) | (y < 0) | (x >= picture.width) | (y >= picture.height)
    # Many pixels lie between two samples of a large picture: a few of them are enough.
    if step > _FEW_PIXELS:
        aside = _ASIDE * np.gradient(points, axis=0)
        every = np.rint(np.stack([points, points - aside, points + aside])).astype(int)
        light = picture.light_at(every[..., 0], every[..., 1]).sum(axis=0) / _READ
    else:
        light = picture.light_at(x, y)
    # Far from the panel the field may run away; there is nothing to be read there.
    field = np.clip(seen.field.light(points), 1e-6, 10.0)
    return -np.log10(np.maximum(light, 1e-4 * field) / field), outside


def _slant(density: Array, place: Array, across: Array, shape: float) -> tuple[float, float]:
    """Linear slant of the lines between patches: the one that makes the steps along the strip sharpest."""
    # Some of the rows, with the outermost, tell as much.
    top, across = np.clip(density[:, ::_EVERY_ROW], *_DENSITIES), across[::_EVERY_ROW]
    away = (across - across.mean())[:, None]
    step = place[1] - place[0]
    inner = np.clip(place, 0.0, 1.0) / step
    # Rows lie one behind the other.
    start_of = np.arange(away.size)[:, None] * float(place.size)
    spots, end_of = start_of + np.arange(place.size), start_of + (place.size - 1.0)
    flat = top.T.ravel()
    rise = np.diff(flat, append=0.0)

    def sharpness(start: float, end: float) -> float:
        # Samples lie evenly, so that what stands between two of them is found by counting.
        at = (start / step + (end - start) * inner) * away
        at += spots
        np.maximum(at, start_of, out=at)
        np.minimum(at, end_of, out=at)
        before = at.astype(int)
        at -= before
        at *= rise.take(before)
        at += flat.take(before)
        steps = np.diff(np.add.reduce(at, axis=0))
        return float(steps @ steps)

    most = _SLANTS * shape
    # A shift of less than half a sample between the outermost rows cannot be seen.
    if most * float(away[-1, 0] - away[0, 0]) < step:
        return 0.0, 0.0
    level = sharpness(0.0, 0.0)
    trials = np.linspace(-most, most, _SLANT_TRIALS)
    best = max(((sharpness(s, s), s, s) for s in trials), key=lambda one: one[0])
    if best[0] < _SHARPER * level:
        best = (level, 0.0, 0.0)
    span = trials[1] - trials[0]
    for _ in range(_SLANT_ROUNDS):
        options = [
            (sharpness(best[1] + a, best[2] + b), best[1] + a, best[2] + b)
            for a in (-span, 0, span)
            for b in (-span, 0, span)
            if a or b
        ]
        best = max([best, *options], key=lambda one: one[0])
        span /= 2
    if best[0] < _SHARPER_AT_LAST * level:
        return 0.0, 0.0
    start, end = best[1], best[2]
    return float(start), float(end - start)


def _window(picture: Picture, seen: Survey, warp: Warp, layout: Layout) -> Warp | None:
    """The row between the sides of the film, where what it was found on is an opaque mask round a window so narrow that the mask would be read; else None."""
    along = (np.arange(_WINDOW_ALONG) + 0.5) / _WINDOW_ALONG
    across = (np.arange(_WINDOW_ACROSS) + 0.5) / _WINDOW_ACROSS
    u = layout.start + (layout.end - layout.start) * along
    density, outside = _densities(picture, seen, warp.points(u[:, None], across[None, :]), 1.0)
    opaque = float(np.percentile(density, _OPAQUE_ACROSS))
    film = np.median(density[:, np.abs(across - 0.5) < _MIDDLE], axis=1)
    told = (film < opaque - _THROUGH) & ~outside.any(axis=1)
    if opaque < _LEAST_OPAQUE or told.mean() < _TOLD:
        return None
    # In the light itself an unsharp edge lies half way, as an outline's does.
    light = ndimage.uniform_filter1d(10.0**-density, _BARE_SAMPLES, axis=1, mode="nearest")
    dark = light < (10.0 ** -film[:, None] + 10.0**-opaque) / 2
    rows = _WINDOW_ACROSS // 2
    before, after = np.argmax(dark[:, rows - 1 :: -1], axis=1), np.argmax(dark[:, rows:], axis=1)
    good = told & (before > 0) & (after > 0)
    sides = 0.5 - before / _WINDOW_ACROSS, 0.5 + after / _WINDOW_ACROSS
    if good.mean() < _TOLD:
        return None
    first, last = (float(np.median(side[good])) for side in sides)
    if max(first - 0.5, 0.5 - last) < -_READ_ACROSS:
        return None
    # Along as before, across from one side to the other; bend and slant are of the whole piece, and are left behind.
    ahead, _ = warp.unbent(np.array([0.0, 1.0, 1.0, 0.0]), np.array([first, first, last, last]))
    bent = [warp.unbent(u, side)[1] for side in sides]
    first, last = (float(np.median(side[good])) for side in bent)
    straight = Warp(Warp(warp.quad).points(ahead, np.array([first, first, last, last])))
    top, bottom = ((side - first) / (last - first) for side in bent)
    return through_sides(straight, u, (top, good), (bottom, good))


def _mask(picture: Picture, seen: Survey, warp: Warp, place: Array) -> float:
    """Density of what a strip is seen through the window of, beside the window; beyond its ends that is no patch."""
    inner = place[(place > _BORDER_ALONG[0]) & (place < _BORDER_ALONG[1])]
    density, outside = _densities(picture, seen, warp.points(inner[:, None], np.array(_BESIDE_WINDOW)[None, :]), 1.0)
    # Stray light makes it clearer here than there.
    return float(np.percentile(density[~outside], _CLEARER_MASK)) if not outside.all() else np.inf


def _border(
    picture: Picture, seen: Survey, warp: Warp, along: Array, place: Array, count: int
) -> tuple[float | None, Array | None]:
    """Density of the film along its two edges, on the whole and at each place; None where the patches reach from edge to edge."""
    inner = (place > _BORDER_ALONG[0]) & (place < _BORDER_ALONG[1])
    # Longer than a perforation and shorter than most patches.
    near = max(_FEWEST_NEAR, int(_NEAR_PATCH * inner.sum() / count)) | 1
    clearer = along <= np.median(along[inner])
    patches = 10.0 ** -ndimage.median_filter(along, size=near, mode="nearest")
    levels, edges = [], []
    for v in _BORDER_ACROSS:
        density, outside = _densities(picture, seen, warp.points(place, v)[:, None], 1.0)
        row, film = density[:, 0], (density[:, 0] > max(seen.threshold, _CLEAR)) & ~outside[:, 0]
        sides = film & inner & clearer, film & inner & ~clearer
        if film[inner].mean() < _BORDER_FILM or min(side.sum() for side in sides) < _FEWEST_OF_BORDER:
            continue
        if np.median(np.abs(row - along)[film & inner]) < _BORDER_DIFFERS:
            continue
        # Perforations and a soft rim only make film clearer.
        edge = [10.0 ** -float(np.percentile(row[side], _BETWEEN_HOLES)) for side in sides]
        patch = [10.0 ** -float(np.median(along[side])) for side in sides]
        # What of the patches' own light an edge shows comes and goes with it; the border's is the same all along.
        mixed = float(np.clip((edge[0] - edge[1]) / max(patch[0] - patch[1], _LEAST_LIGHT), 0.0, 1.0))
        if mixed < _MOST_MIXED:
            levels.append((edge[0] - mixed * patch[0]) / (1 - mixed))
        if mixed < _MOST_MIXED_ANYWHERE:
            here = ndimage.percentile_filter(np.where(film, row, 0.0), _BETWEEN_HOLES, size=near, mode="nearest")
            edges.append((10.0**-here - mixed * patches) / (1 - mixed))
    border = _density(np.median(levels, axis=0)) if len(levels) > 1 else None
    return None if border is None else float(border), _density(np.median(edges, axis=0)) if len(edges) > 1 else None


def _density(light: Array) -> Array:
    return np.asarray(-np.log10(np.maximum(light, _LEAST_LIGHT)))
