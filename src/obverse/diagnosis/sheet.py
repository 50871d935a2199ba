"""A strip laid flat: the density of equal cells over millimetres, with its patches taken out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from obverse.densitometry import StripReading
from obverse.imaging import Field, Picture, Warp

CELL_MM = 0.25  # side of a cell: finer than a rim or a perforation, coarser than grain
FILM_MM = 35.0  # width of the film; other formats are measured in shares of their width
MARGIN_MM = 2.0  # beside the film, so that its edge can be followed
PICTURE_MM = (6.6, 28.4)  # across the film, inside the picture area
_DARKEST = 1.9  # patches above this density are left out: the camera's noise is larger than the fault
_MOST_RAYS = 5  # samples per cell and way in a fine picture
_FEWEST_COLUMNS, _MOST_COLUMNS = 40, 4000  # of a sheet: a strip of 1 cm, and of 1 m
INSIDE = (0.14, 0.86)  # part of a patch along the strip, away from its neighbours
_FEWEST_OF_A_PATCH = 3  # columns that its level is read from
_COLOURS = 3  # channels of a picture that shows any
_LAST_BETWEEN = 1.001  # a place between pixels has one to its right


@dataclass(frozen=True, eq=False)
class Sheet:
    """The strip laid flat.

    Parameters
    ----------
    density : ndarray, shape (rows, columns)
        Against the open panel, in the main channel; rows across the film from `MARGIN_MM` outside
        its first edge, columns along it.
    residual : ndarray, shape (rows, columns)
        Density less the middle of its patch; NaN outside the pictures.
    inner : ndarray of bool, shape (rows, columns)
        Well inside a patch that is light enough.
    patch : ndarray of int, shape (columns,)
        Index of the patch; -1 between and beside.
    phase : ndarray, shape (columns,)
        Place within the patch, 0 to 1.
    levels : ndarray, shape (patches,)
        Middle density of each patch; NaN where it is too dark.
    pixel_mm : float
        Size of a pixel of the picture on the film.
    edges : (str, str)
        Where the first and the second long edge lie in the picture: "upper", "lower", "left", "right".
    colour : ndarray, shape (2, rows, columns), or None
        Density in blue less that in red, and that in green less the mean of both, but for one constant each; None without colours.
    """

    density: np.ndarray
    residual: np.ndarray
    inner: np.ndarray
    patch: np.ndarray
    phase: np.ndarray
    levels: np.ndarray
    pixel_mm: float
    edges: tuple[str, str] = ("upper", "lower")
    colour: np.ndarray | None = None

    @property
    def across_mm(self) -> np.ndarray:
        """Place of each row across the film."""
        return _rows()

    @property
    def scale(self) -> np.ndarray:
        """Level of the patch of each column, shape (columns,); NaN where there is none."""
        return np.where(self.patch >= 0, self.levels[np.maximum(self.patch, 0)], np.nan)

    @property
    def usable(self) -> np.ndarray:
        """Columns well inside a patch that is light enough, shape (columns,)."""
        return np.asarray(self.inner.any(axis=0))


def _rows() -> np.ndarray:
    return np.arange(-MARGIN_MM, FILM_MM + MARGIN_MM, CELL_MM) + CELL_MM / 2


def lay_flat(pictures: Sequence[Picture], reading: StripReading) -> Sheet:
    """The strip as a sheet of equal cells, from the picture whose panel is brightest unclipped."""
    name = reading.reference.picture
    picture = next((p for p in pictures if p.name == name), pictures[0])
    if reading.warp is None or reading.layout is None or reading.field is None:
        raise ValueError("the reading does not say where the strip lies")
    length, width = reading.warp.size()
    pixel_mm = FILM_MM / width
    columns = int(np.clip(length * pixel_mm / CELL_MM, _FEWEST_COLUMNS, _MOST_COLUMNS))
    density = _density(picture, reading.warp, columns, pixel_mm, reading.field)
    sheet = _sheet(density, reading.layout.centres(), reading.layout.lengths(), pixel_mm, reading)
    return (
        replace(sheet, colour=_colour(picture, reading.warp, columns)) if picture.codes.shape[2] == _COLOURS else sheet
    )


def _colour(picture: Picture, warp: Warp, columns: int) -> np.ndarray:
    """Differences of the channels of every cell, by one pixel each: what is asked of them is broad."""
    middles = np.rint(
        warp.points(((np.arange(columns) + 0.5) / columns)[None, :], (_rows() / FILM_MM)[:, None])
    ).astype(int)
    red, green, blue = (
        -np.log10(np.maximum(picture.light_at(middles[..., 0], middles[..., 1], channel), 1e-4))
        for channel in range(_COLOURS)
    )
    return np.stack([blue - red, green - (red + blue) / 2])


def _density(picture: Picture, warp: Warp, columns: int, pixel_mm: float, panel: Field) -> np.ndarray:
    """Density of every cell: the mean light of its rays, so that a fine picture is averaged and not thinned."""
    u, v = ((np.arange(columns) + 0.5) / columns)[None, :], (_rows() / FILM_MM)[:, None]
    middles = warp.points(u, v)
    rays = int(np.clip(round(CELL_MM / pixel_mm), 1, _MOST_RAYS))
    if rays == 1:
        light = _between(picture, middles)
    else:
        light = np.zeros(middles.shape[:2])
        # Within a cell the strip lies straight.
        along, across = 1 / columns, CELL_MM / FILM_MM
        right = warp.points(u + along / 2, v) - warp.points(u - along / 2, v)
        down = warp.points(u, v + across / 2) - warp.points(u, v - across / 2)
        for share in (offsets := (np.arange(rays) + 0.5) / rays - 0.5):
            aside = middles + share * right
            for other in offsets:
                near = np.rint(aside + other * down).astype(int)
                light += picture.light_at(near[..., 0], near[..., 1])
        light /= rays**2
    field = panel.light(middles)
    return np.asarray(-np.log10(np.maximum(light / field, 1e-4)))


def _between(picture: Picture, points: np.ndarray) -> np.ndarray:
    """Linear light of the main channel at points (..., 2), between the four nearest pixels."""
    x = np.clip(points[..., 0], 0, picture.width - _LAST_BETWEEN)
    y = np.clip(points[..., 1], 0, picture.height - _LAST_BETWEEN)
    left, top = x.astype(int), y.astype(int)
    fx, fy = x - left, y - top
    light = np.zeros(x.shape)
    for dy, wy in ((0, 1 - fy), (1, fy)):
        for dx, wx in ((0, 1 - fx), (1, fx)):
            light += wx * wy * picture.light_at(left + dx, top + dy)
    return light


def _sheet(
    density: np.ndarray, middles: np.ndarray, lengths: np.ndarray, pixel_mm: float, reading: StripReading
) -> Sheet:
    columns = density.shape[1]
    distance = ((np.arange(columns) + 0.5)[None, :] / columns - middles[:, None]) / lengths[:, None]
    nearest = np.argmin(np.abs(distance), axis=0)
    phase = distance[nearest, np.arange(columns)] + 0.5
    patch = np.where((phase >= 0) & (phase <= 1), nearest, -1)
    across = _rows()
    picture_rows = (across > PICTURE_MM[0]) & (across < PICTURE_MM[1])
    residual = np.full(density.shape, np.nan)
    inner = np.zeros(density.shape, dtype=bool)
    levels = np.full(len(middles), np.nan)
    for k, row in enumerate(reading.patches):
        here = (patch == k) & (phase > INSIDE[0]) & (phase < INSIDE[1])
        if here.sum() < _FEWEST_OF_A_PATCH or row.clipped or row.density.value > _DARKEST:
            continue
        area = density[np.ix_(picture_rows, here)]
        levels[k] = float(np.median(area))
        residual[np.ix_(picture_rows, here)] = area - levels[k]
        inner[np.ix_(picture_rows, here)] = True
    return Sheet(density, residual, inner, patch, phase, levels, pixel_mm, _edges(np.asarray(reading.corners)))


def _edges(quad: np.ndarray) -> tuple[str, str]:
    """Words for the long edges: from corner 1 to 2, and from corner 4 to 3."""
    away = (quad[2] + quad[3] - quad[0] - quad[1]) / 2
    words = ("left", "right") if abs(away[0]) > abs(away[1]) else ("upper", "lower")
    return words if away[np.argmax(np.abs(away))] > 0 else words[::-1]
