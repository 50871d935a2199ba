"""Faults from the picture: what the eye would see on the strip, measured.

Each fault has one statistic that is near zero on a sound strip. It is compared with a threshold in
units of its own scatter on sound strips; a logistic curve makes a probability of it. Thresholds
and scatters were set on simulated strips (see docs/faults.md for the confusion table they give).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from obverse.densitometry import StripReading
from obverse.diagnosis.finding import Cure, Finding
from obverse.imaging import Picture
from obverse.imaging.finding import survey
from obverse.imaging.geometry import UNIT_SQUARE, homography, project

_CELL_MM = 0.25
_FILM_MM = 35.0  # width of the film; other formats are measured in shares of their width
_PICTURE = (0.19, 0.81)  # across the strip, inside the picture area
_DARKEST = 1.9  # patches above this density are left out: the camera's noise is larger than the fault
_LARGEST_PIXEL_MM = 0.3  # coarser pictures do not show the film's edges
_PRETENDED, _LIKE_COLUMNS = 2.5, 6  # standard deviations that chance may reach; neighbouring columns that share a grain or ridge
TOLD = 0.5

CURES: dict[str, tuple[Cure, ...]] = {
    "stain": (
        Cure("Clear longer, in a fresh clearing bath."),
        Cure("Rinse longer between bleach and clearing bath."),
        Cure("Use a fresh second developer: a brown one stains."),
    ),
    "uneven_agitation": (
        Cure("Move the film gently and irregularly in the first developer; do not pump it up and down."),
        Cure("Wet the film before the first developer, and pour in quickly."),
        Cure("Use more developer for the film, and a longer time at a lower strength."),
    ),
    "bromide_drag": (
        Cure("Move the film more often in the first developer; never let it hang still."),
        Cure("Turn the film end for end half way through."),
    ),
    "reticulation": (
        Cure("Keep all baths and the wash at the same temperature, within 2 to 3 degrees from step to step."),
        Cure("Less alkali in the first developer, and shorter times in strong baths: a soft layer wrinkles."),
        Cure("Harden the film before the bleach."),
    ),
    "coarse_grain": (
        Cure("Develop shorter or cooler the first time."),
        Cure("More solvent in the first developer, in small steps."),
        Cure("Use a slower film."),
    ),
    "drying_marks": (
        Cure("Use a wetting bath in distilled water, freshly made, and no more agent than the label says."),
        Cure("Soak the film again, pass it through the wetting bath, and hang it dust-free at a slant."),
    ),
    "light_leak": (
        Cure("Load and unload the camera in the shade."),
        Cure("Look at the cassette's lips, the camera back and the tank lid."),
    ),
    "frilling": (
        Cure("Keep baths cooler and alike, and the alkaline ones shorter."),
        Cure("Less ammonia or alkali: a swollen layer lets go at the edges."),
        Cure("Harden the film before the bleach."),
    ),
}

# Statistic at which a fault is as likely as not, and how sharply its probability turns there.
_TURNS: dict[str, tuple[float, float]] = {
    "stain": (0.02, 0.004),
    "uneven_agitation": (0.0082, 0.0008),
    "bromide_drag": (0.022, 0.0035),
    "reticulation": (0.0095, 0.001),
    "coarse_grain": (0.0185, 0.001),
    "drying_marks": (0.0058, 0.0006),
    "light_leak": (0.045, 0.004),
    "frilling": (0.06, 0.012),
}


@dataclass(frozen=True, eq=False)
class Sheet:
    """The strip laid flat: density over millimetres.

    Parameters
    ----------
    density : ndarray, shape (rows, columns, C)
        Against the open panel; rows across the film, columns along it.
    residual : ndarray, shape (rows, columns)
        Density less the middle of its patch, in the main channel; NaN outside the pictures.
    inner : ndarray of bool, shape (rows, columns)
        Well inside a patch that is light enough.
    patch : ndarray of int, shape (columns,)
        Index of the patch; -1 between and beside.
    phase : ndarray, shape (columns,)
        Place within the patch, 0 to 1.
    levels : ndarray, shape (patches,)
        Middle density of each patch; NaN where it is too dark.
    main : int
    pixel_mm : float
        Size of a pixel of the picture on the film.
    """

    density: np.ndarray
    residual: np.ndarray
    inner: np.ndarray
    patch: np.ndarray
    phase: np.ndarray
    levels: np.ndarray
    main: int
    pixel_mm: float

    @property
    def across(self) -> np.ndarray:
        """Place of each row across the film, 0 to 1."""
        rows = self.density.shape[0]
        return (np.arange(rows) + 0.5) / rows


def diagnose_picture(pictures: Sequence[Picture], reading: StripReading) -> tuple[Finding, ...]:
    """Faults that the picture of a strip shows, the likeliest first.

    Parameters
    ----------
    pictures : sequence of Picture
        What the reading was made from.
    reading : StripReading

    Returns
    -------
    tuple of Finding
        Only what is more likely than not; empty for a sound strip.
    """
    found = []
    for fault, (value, evidence) in statistics(pictures, reading).items():
        probability = _probability(fault, value)
        if probability > TOLD:
            found.append(Finding(fault, round(probability, 3), evidence, CURES[fault]))
    return tuple(sorted(found, key=lambda f: -f.probability))


def statistics(pictures: Sequence[Picture], reading: StripReading) -> dict[str, tuple[float, str]]:
    """The statistic of every fault and the sentence that tells it."""
    sheet = lay_flat(pictures, reading)
    found = {name: measure(sheet) for name, measure in _MEASURES.items()}
    found["stain"] = _stain(reading)
    return found


def _probability(fault: str, value: float) -> float:
    middle, width = _TURNS[fault]
    return float(1 / (1 + np.exp(-np.clip((value - middle) / width, -40, 40))))


def lay_flat(pictures: Sequence[Picture], reading: StripReading) -> Sheet:
    """The strip as a sheet of equal cells, from the picture whose panel is brightest unclipped."""
    name = reading.reference["picture"]
    picture = next((p for p in pictures if p.name == name), pictures[0])
    seen = survey(picture)
    quad = np.asarray(reading.corners)
    matrix = homography(UNIT_SQUARE, quad)
    width = (np.hypot(*(quad[3] - quad[0])) + np.hypot(*(quad[2] - quad[1]))) / 2
    length = (np.hypot(*(quad[1] - quad[0])) + np.hypot(*(quad[2] - quad[3]))) / 2
    pixel_mm = _FILM_MM / width
    rows, columns = int(_FILM_MM / _CELL_MM), int(np.clip(length * pixel_mm / _CELL_MM, 40, 4000))
    u, v = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    points = project(matrix, np.stack([u, v], -1))
    density = _density(picture, seen, points)
    inverse = np.linalg.inv(matrix)
    middles = np.array([project(inverse, np.asarray(p.corners).mean(0))[0] for p in reading.patches])
    spans = np.array([np.ptp(project(inverse, np.asarray(p.corners))[:, 0]) for p in reading.patches])
    pitch = 2.0 * float(np.median(spans))
    return _sheet(density, middles, pitch, picture.main_channel, pixel_mm, reading)


def _density(picture: Picture, seen, points: np.ndarray) -> np.ndarray:
    """Density of every channel at points, averaged over the four nearest pixels."""
    x = np.clip(points[..., 0], 0, picture.width - 1.001)
    y = np.clip(points[..., 1], 0, picture.height - 1.001)
    left, top = x.astype(int), y.astype(int)
    fx, fy = (x - left)[..., None], (y - top)[..., None]
    light = np.zeros((*x.shape, picture.channels))
    for dy, wy in ((0, 1 - fy), (1, fy)):
        for dx, wx in ((0, 1 - fx), (1, fx)):
            light += wx * wy * picture.linear(picture.codes[top + dy, left + dx])
    field = seen.field.light(points)[..., None]
    panel = np.flatnonzero(seen.panel)[:: max(1, int(seen.panel.sum()) // 3000)]
    row, column = np.divmod(panel, seen.panel.shape[1])
    spots = seen.to_picture(np.stack([column, row], 1)).astype(int)
    colour = np.median(picture.linear(picture.codes[spots[:, 1], spots[:, 0]]), axis=0)
    colour = colour / colour[picture.main_channel]
    return -np.log10(np.maximum(light / (field * colour), 1e-4))


def _sheet(density, middles, pitch, main, pixel_mm, reading) -> Sheet:
    rows, columns = density.shape[:2]
    u, v = (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows
    distance = (u[None, :] - middles[:, None]) / pitch
    nearest = np.argmin(np.abs(distance), axis=0)
    phase = distance[nearest, np.arange(columns)] + 0.5
    patch = np.where((phase >= 0) & (phase <= 1), nearest, -1)
    picture_rows = (v > _PICTURE[0]) & (v < _PICTURE[1])
    residual = np.full((rows, columns), np.nan)
    inner = np.zeros((rows, columns), dtype=bool)
    levels = np.full(len(middles), np.nan)
    for k in range(len(middles)):
        here = (patch == k) & (phase > 0.14) & (phase < 0.86)
        if here.sum() < 3 or reading.patches[k].clipped or reading.patches[k].density.value > _DARKEST:
            continue
        area = density[np.ix_(picture_rows, here)][..., main]
        levels[k] = float(np.median(area))
        residual[np.ix_(picture_rows, here)] = area - levels[k]
        inner[np.ix_(picture_rows, here)] = True
    return Sheet(density, residual, inner, patch, phase, levels, main, pixel_mm)


def _smooth(sheet: Sheet, mm: float) -> np.ndarray:
    """The residual smoothed over that many millimetres, within the patches; NaN outside."""
    filled, weight = np.nan_to_num(sheet.residual), sheet.inner.astype(float)
    sigma = mm / _CELL_MM
    total = ndimage.gaussian_filter(weight, sigma)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(sheet.inner, ndimage.gaussian_filter(filled, sigma) / total, np.nan)


def _stain(reading: StripReading) -> tuple[float, str]:
    """Density that one end of the spectrum has in the clear parts and the other has not."""
    rows = [p for p in reading.patches if not p.clipped and len(p.channels) == 3]
    if not rows:
        return 0.0, "The picture has no colour, so a stain cannot be seen."
    density = np.array([p.density.value for p in rows])
    channels = np.array([p.channels for p in rows])
    light = density <= max(np.sort(density)[min(3, density.size - 1)], density.min() + 0.3)
    red, green, blue = np.median(channels[light], axis=0)
    spread = float(max(red, green, blue) - min(red, green, blue))
    if blue >= max(red, green):
        name = "yellow" if green - red < 0.25 * (blue - red) else "brown"
    else:
        name = "pink or purple" if green > red else "blue-green"
    everywhere = float(np.median(channels.max(1) - channels.min(1)))
    where = "all over the strip" if everywhere > 0.6 * spread else "mostly in the light parts"
    return spread, f"A {name} stain {where}: in the light patches the channels differ by {spread:.2f} (red {red:.2f}, green {green:.2f}, blue {blue:.2f})."


def _uneven_agitation(sheet: Sheet) -> tuple[float, str]:
    """Streaks with the spacing of the perforations near the edges, or edges unlike the middle."""
    v = sheet.across
    near = (v > _PICTURE[0]) & (v < 0.27) | (v > 0.73) & (v < _PICTURE[1])
    middle = (v > 0.42) & (v < 0.58)
    scale = np.where(sheet.patch >= 0, sheet.levels[np.maximum(sheet.patch, 0)], np.nan)
    usable = np.isfinite(scale) & (scale > 0.15) & sheet.inner.any(axis=0)
    if usable.sum() < 40:
        return 0.0, ""
    relative = sheet.residual / np.where(usable, scale, np.nan)[None, :]
    edge = np.nanmedian(relative[np.ix_(near, usable)], axis=0)
    centre = np.nanmedian(relative[np.ix_(middle, usable)], axis=0)
    position = np.flatnonzero(usable) * _CELL_MM
    best = 0.0
    # The film may be a little more or less than 35 mm wide in the picture, so the spacing is sought.
    for spacing in np.linspace(4.3, 5.2, 37):
        wave = np.exp(2j * np.pi * position / spacing)
        amplitude = 2 * abs(np.mean((edge - edge.mean()) * wave)) - 2 * abs(np.mean((centre - centre.mean()) * wave))
        best = max(best, float(amplitude))
    # Nets and grain scatter the columns; what such scatter can pretend is taken off.
    best = max(best - _PRETENDED * 1.4826 * float(np.median(np.abs(edge - np.median(edge)))) / np.sqrt(edge.size / _LIKE_COLUMNS), 0.0)
    difference = abs(float(np.median(edge - centre)))
    value = max(best, 0.5 * difference)
    return value, f"Density near the perforations swings by {200 * best:.0f} % with their spacing, and the edges differ from the middle by {100 * difference:.0f} %."


def _bromide_drag(sheet: Sheet) -> tuple[float, str]:
    """Within a patch, density that fades from the side of its neighbour in proportion to the step."""
    best = 0.0
    for forwards in (True, False):
        slopes, steps = [], []
        for k in range(len(sheet.levels)):
            other = k - 1 if forwards else k + 1
            if not 0 <= other < len(sheet.levels) or not np.isfinite(sheet.levels[k]) or not np.isfinite(sheet.levels[other]):
                continue
            here = (sheet.patch == k) & sheet.inner.any(axis=0)
            if here.sum() < 6:
                continue
            along = np.nanmedian(sheet.residual[:, here], axis=0)
            phase = sheet.phase[here] if forwards else 1 - sheet.phase[here]
            slopes.append(float(along[phase < 0.4].mean() - along[phase > 0.6].mean()))
            steps.append(float(sheet.levels[k] - sheet.levels[other]))
        if len(slopes) >= 3:
            s, t = np.array(slopes), np.array(steps)
            t = np.clip(t, -0.6, 0.6)
            s = np.clip(s, -0.25, 0.25)
            best = max(best, float((s * t).sum() / max((t * t).sum(), 0.02)))
    return best, f"Behind each step the density of a patch fades by {100 * best:.0f} % of the step along the film."


def _bands(sheet: Sheet) -> tuple[float, float, float]:
    """Fine structure per root density: scatter at the scale of a cell, scatter and skewness at that of a net (about 1 mm)."""
    fine, net, skew = [], [], []
    residual = sheet.residual
    for k in range(len(sheet.levels)):
        if not np.isfinite(sheet.levels[k]) or sheet.levels[k] < 0.15:
            continue
        columns = np.flatnonzero((sheet.patch == k) & sheet.inner.any(axis=0))
        rows = np.flatnonzero(sheet.inner[:, columns].any(axis=1))
        if columns.size < 10:
            continue
        area = residual[np.ix_(rows, columns)]
        area = area - ndimage.gaussian_filter(area, 8)
        # Dust and marks are cut off; grain and nets are everywhere.
        limit = 4 * 1.4826 * np.median(np.abs(area))
        area = np.clip(area, -limit, limit)
        root = np.sqrt(sheet.levels[k])
        low = ndimage.gaussian_filter(area, 0.9)
        middle = low - ndimage.gaussian_filter(area, 3.0)
        fine.append(1.4826 * np.median(np.abs(area - low)) / root)
        net.append(1.4826 * np.median(np.abs(middle)) / root)
        skew.append(float(np.mean((middle - middle.mean()) ** 3) / max(middle.std(), 1e-6) ** 3))
    if not fine:
        return 0.0, 0.0, 0.0
    return float(np.median(fine)), float(np.median(net)), float(np.median(skew))


def _reticulation(sheet: Sheet) -> tuple[float, str]:
    """Dense ridges of about a millimetre: strong and lopsided, where grain is even-handed."""
    _, net, skew = _bands(sheet)
    value = net * max(skew, 0.0)
    return value, f"A net of dense ridges about 1 mm apart: density scatters by {net:.3f} at that scale, lopsided by {skew:.1f}."


def _coarse_grain(sheet: Sheet) -> tuple[float, str]:
    """Fine structure without a net."""
    fine, net, skew = _bands(sheet)
    if net * max(skew, 0.0) > _TURNS["reticulation"][0]:
        return 0.0, ""
    return fine, f"The grain scatters density by {fine:.3f} over a quarter of a millimetre at density 1."


def _drying_marks(sheet: Sheet) -> tuple[float, str]:
    """Share of the pictures covered by thin, curved edges of spots a few millimetres wide."""
    smooth = _smooth(sheet, 0.35)
    wide = _smooth(sheet, 2.5)
    detail = smooth - wide
    marked = np.zeros(detail.shape, dtype=bool)
    for k in np.flatnonzero(np.isfinite(sheet.levels)):
        # Each patch against its own grain and noise.
        here = sheet.inner & (sheet.patch == k)[None, :]
        noise = 1.4826 * np.median(np.abs(detail[here]))
        marked |= here & (np.nan_to_num(detail) > max(0.016, 3.4 * noise))
    label, count = ndimage.label(marked, structure=np.ones((3, 3)))
    area, spots = 0, 0
    for piece, box in enumerate(ndimage.find_objects(label), start=1):
        height, width = (b.stop - b.start for b in box)
        pixels = int((label[box] == piece).sum())
        # A rim of a drop: some millimetres across, thin, not a straight scratch.
        if min(height, width) * _CELL_MM > 1.4 and max(height, width) * _CELL_MM < 12 and pixels < 0.75 * height * width:
            area += pixels
            spots += 1
    value = area / max(int(sheet.inner.sum()), 1) if spots >= 2 else 0.0
    return value, f"{spots} round-edged marks a few millimetres wide."


def _light_leak(sheet: Sheet) -> tuple[float, str]:
    """A broad loss of density on one side, in rebate and picture alike."""
    v = sheet.across
    scale = np.where(sheet.patch >= 0, sheet.levels[np.maximum(sheet.patch, 0)], np.nan)
    relative = sheet.residual / np.maximum(scale, 0.3)[None, :]
    best, side_name = 0.0, ""
    window = int(10 / _CELL_MM)
    for name, side, other in (("first", v < 0.38, v > 0.62), ("second", v > 0.62, v < 0.38)):
        with np.errstate(invalid="ignore"):
            loss = _column_median(relative, other) - _column_median(relative, side)
        filled = np.where(np.isfinite(loss), loss, 0.0)
        weight = ndimage.uniform_filter1d(np.isfinite(loss).astype(float), window)
        mean = np.where(weight > 0.3, ndimage.uniform_filter1d(filled, window) / np.maximum(weight, 0.3), 0.0)
        # A leak is local; what runs along the whole edge is agitation.
        # Nets and grain scatter the columns; what such scatter can pretend is taken off.
        scatter = 1.4826 * float(np.nanmedian(np.abs(loss - mean))) if np.isfinite(loss).any() else 0.0
        local = float(mean.max() - max(np.percentile(mean, 25), 0)) - _PRETENDED * scatter / np.sqrt(window / _LIKE_COLUMNS)
        if local > best:
            best, side_name = local, name
    return best, f"On the {side_name} edge density falls by {100 * best:.0f} % over some centimetres, and not on the other."


def _column_median(values: np.ndarray, rows: np.ndarray) -> np.ndarray:
    part = values[rows]
    some = np.isfinite(part).any(axis=0)
    out = np.full(values.shape[1], np.nan)
    out[some] = np.nanmedian(part[:, some], axis=0)
    return out


def _frilling(sheet: Sheet) -> tuple[float, str]:
    """Share of the outermost edges where the layer is missing."""
    if sheet.pixel_mm > _LARGEST_PIXEL_MM:
        return 0.0, "The picture is too small to see the edges of the film."
    v = sheet.across
    main = sheet.density[..., sheet.main]
    losses = []
    for rim, inside in (((v > 0.012) & (v < 0.027), (v > 0.14) & (v < 0.17)), ((v > 0.973) & (v < 0.988), (v > 0.83) & (v < 0.86))):
        level = np.median(main[inside], axis=0)
        dark = level > 0.5  # a clear edge cannot be missed
        if dark.mean() < 0.2:
            continue
        edge = np.median(main[rim], axis=0)
        losses.append(float(np.mean(edge[dark] < 0.45 * level[dark])))
    value = max(losses) if losses else 0.0
    return value, f"Along {100 * value:.0f} % of an edge the layer is missing."


_MEASURES = {
    "uneven_agitation": _uneven_agitation,
    "bromide_drag": _bromide_drag,
    "reticulation": _reticulation,
    "coarse_grain": _coarse_grain,
    "drying_marks": _drying_marks,
    "light_leak": _light_leak,
    "frilling": _frilling,
}
