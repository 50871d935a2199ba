"""Read small blocks of a picture: their mean light, its scatter, and whether they are clipped."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from obverse.imaging.picture import Picture
from obverse.imaging.statistics import robust_sd
from obverse.imaging.warp import Warp

_BLOCKS = 8  # per patch and way
_SAMPLES = 10  # pixels per block and way, at most
_CLIPPED_SHARE = 0.005  # of the pixels of a block
_BLACK_SHARE = 0.05  # of the pixels of a block that may be black
_INNER = 0.9  # of a box, away from its rim
_MOST_OF_A_SPOT = 3  # pixels each way that are read of a spot
_FEWEST_OF_A_BLOCK = 3  # pixels of which a block tells its grain
_LOWEST_SHARE = 3 / 255  # of the scale of a picture made for the eye, where curves and compression leave nothing
_DUST = 4.0  # standard deviations from its block beyond which a pixel is no grain


@dataclass(frozen=True, eq=False)
class Grid:
    """Which pixels are read: patches made of blocks made of pixels.

    Parameters
    ----------
    pixels : ndarray of int, shape (patches, blocks, samples, 2)
        (x, y) of each pixel.
    blocks : (int, int)
        How the blocks of a patch lie: along, across.
    """

    pixels: np.ndarray
    blocks: tuple[int, int]

    @cached_property
    def centres(self) -> np.ndarray:
        """Middle of each block, shape (patches, blocks, 2)."""
        return np.asarray(self.pixels.mean(axis=2))

    def moved(self, shift: np.ndarray) -> Grid:
        """The same places in a picture that lies off by (x, y), to the nearest pixel."""
        whole = np.rint(shift).astype(int)
        return Grid(self.pixels + whole, self.blocks) if whole.any() else self

    def only(self, patches: list[int]) -> Grid:
        """Some of the patches."""
        return Grid(self.pixels[patches], self.blocks)

    def rows(self, first: int, last: int) -> Grid:
        """Of every patch the rows of blocks from the first up to the last across the strip."""
        along, across = self.blocks
        patches, _, samples, _ = self.pixels.shape
        kept = self.pixels.reshape(patches, along, across, samples, 2)[:, :, first:last]
        return Grid(kept.reshape(patches, -1, samples, 2), (along, last - first))


@dataclass(frozen=True, eq=False)
class Blocks:
    """What one picture says of a grid; arrays have the shape (patches, blocks[, channels]).

    Parameters
    ----------
    mean, variance : ndarray, shape (patches, blocks, C)
        Linear light of a pixel as a fraction of saturation.
    bright : ndarray of bool, shape (patches, blocks, C)
        Some pixels are clipped.
    dark : ndarray of bool, shape (patches, blocks, C)
        Pixels lie at the bottom of the scale.
    samples : int
        Pixels per block.
    """

    mean: np.ndarray
    variance: np.ndarray
    bright: np.ndarray
    dark: np.ndarray
    samples: int


def strip_grid(
    warp: Warp, centres: np.ndarray, lengths: np.ndarray | float, *, along: float = 0.5, across: float = 0.46
) -> Grid:
    """The inner part of each patch of a strip.

    Parameters
    ----------
    warp : Warp
        The strip's own coordinates.
    centres : ndarray, shape (n,)
        Middles of the patches along the strip, 0 to 1.
    lengths : ndarray, shape (n,), or number
        Length of each patch, fraction of the strip.
    along, across : float
        Share of the patch and of the strip's width that is read. Rebate and perforations take the
        outer 31 % of 35 mm film (24 of 35 mm is picture).
    """
    middles = np.asarray(centres, dtype=float)
    spans = np.broadcast_to(np.asarray(lengths, dtype=float), middles.shape)
    usual = along * float(np.median(spans))
    size = warp.points(np.array([0.5, 0.5 + usual, 0.5]), np.array([0.5, 0.5, 0.5 + across]))
    length, width = np.hypot(*(size[1] - size[0])), np.hypot(*(size[2] - size[0]))
    u = _positions(length, 1.0)
    v = _positions(width, across)
    blocks_u, samples_u = u.shape
    blocks_v, samples_v = v.shape
    sideways = (0.5 + v)[None, None, :, None, :]
    down = middles[:, None, None, None, None] + along * spans[:, None, None, None, None] * u[None, :, None, :, None]
    pixels = np.rint(warp.points(down, sideways)).astype(int)
    return Grid(pixels.reshape(len(middles), blocks_u * blocks_v, samples_u * samples_v, 2), (blocks_u, blocks_v))


def _positions(pixels: float, share: float) -> np.ndarray:
    """Positions across one way of a patch, shape (blocks, samples), around 0."""
    blocks = int(np.clip(pixels // 2, 1, _BLOCKS))
    samples = int(np.clip(pixels // blocks, 1, _SAMPLES))
    steps = (np.arange(blocks * samples) + 0.5) / (blocks * samples) - 0.5
    return (steps * share).reshape(blocks, samples)


def box_grid(box: tuple[int, int, int, int]) -> Grid:
    """One patch: an upright box (left, top, right, bottom) in pixels."""
    left, top, right, bottom = box
    quad = np.array([[left, top], [right - 1, top], [right - 1, bottom - 1], [left, bottom - 1]], dtype=float)
    return strip_grid(Warp(quad), np.array([0.5]), 1.0, along=_INNER, across=_INNER)


def spot_grid(points: np.ndarray, size: int, picture_size: tuple[int, int]) -> Grid:
    """One patch whose blocks are small squares around points, shape (n, 2), `size` pixels wide."""
    side = int(np.clip(size, 1, _MOST_OF_A_SPOT))
    offset = (np.arange(side) - (side - 1) / 2) * max(size / side, 1.0)
    y, x = np.meshgrid(offset, offset, indexing="ij")
    ways = [
        np.rint(points[:, way, None] + away.ravel()).astype(int).clip(0, picture_size[way] - 1)
        for way, away in ((0, x), (1, y))
    ]
    return Grid(np.moveaxis(np.stack(ways), 0, -1)[None], (len(points), 1))


def read_blocks(picture: Picture, grid: Grid) -> Blocks:
    """Mean, variance and clipping of every block. Pixels outside the picture count as clipped."""
    # A black level above zero lets noise swing both ways; only code 0 itself is the bottom of a
    # linear picture. The lowest codes of a picture made to be looked at say nothing.
    floor = 0 if picture.encoding in ("linear", "profile") else round(_LOWEST_SHARE * picture.saturation)
    x, y = grid.pixels[..., 0], grid.pixels[..., 1]
    outside = (x < 0) | (y < 0) | (x >= picture.width) | (y >= picture.height)
    if some_outside := bool(outside.any()):
        x, y = np.clip(x, 0, picture.width - 1), np.clip(y, 0, picture.height - 1)
    # Compared in its own kind of number, a code need not be made a fraction first.
    clip = (
        picture.codes.dtype.type(math.ceil(picture.clip_code)) if picture.codes.dtype.kind == "u" else picture.clip_code
    )
    codes = picture.codes_at(x, y)
    samples = codes.shape[-1]
    found: dict[str, list[np.ndarray]] = {"mean": [], "variance": [], "bright": [], "dark": []}
    for channel in range(picture.channels):
        part = codes[channel]
        light = picture.linear_channel(part, channel)
        mean = light.mean(axis=-1)
        light -= mean[..., None]
        found["mean"].append(mean.astype(float))
        found["variance"].append(np.einsum("...i,...i->...", light, light).astype(float) / max(samples - 1, 1))
        over = part >= clip
        if some_outside:
            over |= outside
        found["bright"].append(_share_over(over, _CLIPPED_SHARE))
        found["dark"].append(_share_over(part <= floor, _BLACK_SHARE))
    return Blocks(**{name: np.stack(parts, axis=-1) for name, parts in found.items()}, samples=samples)


def _share_over(there: np.ndarray, most: float) -> np.ndarray:
    """Which blocks (..., samples) show something in more than a share of their pixels."""
    if not there.any():
        return np.zeros(there.shape[:-1], dtype=bool)
    return np.asarray(np.count_nonzero(there, axis=-1) > most * there.shape[-1])


def grain_contrast(
    pictures: Sequence[Picture], grids: Sequence[Grid], scales: Sequence[np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Variance from pixel to pixel that two exposures of a strip share: grain, without the noise of the sensor.

    Parameters
    ----------
    pictures, grids : two each
        The grids show the same places.
    scales : two ndarrays, shape (patches, blocks)
        What linear light is divided by.

    Returns
    -------
    variance, sd : ndarray, shape (patches,)
        Of the scaled light in the main channel; NaN where too few pixels are good. Dust and
        scratches are left out pixel by pixel, slow changes with the mean of each block.
    """
    away = []
    good = np.ones(grids[0].pixels.shape[:3], dtype=bool)
    for picture, grid, scale in zip(pictures, grids, scales, strict=True):
        light = picture.light_at(grid.pixels[..., 0], grid.pixels[..., 1]) / scale[..., None]
        light -= np.median(light, axis=-1, keepdims=True)
        spread = robust_sd(light.reshape(len(light), -1), axis=-1)
        good &= np.abs(light) < _DUST * spread[:, None, None]
        away.append(light)
    count = good.sum(-1)
    means = [np.where(good, a, 0).sum(-1, keepdims=True) / np.maximum(count, 1)[..., None] for a in away]
    product = np.where(good, (away[0] - means[0]) * (away[1] - means[1]), 0).sum(-1) / np.maximum(count - 1, 1)
    blocks = np.where(count >= _FEWEST_OF_A_BLOCK, product, np.nan)
    kept = np.isfinite(blocks).sum(-1)
    enough = kept >= 8
    blocks[~enough] = 0.0
    variance, scatter = np.nanmean(blocks, axis=-1), np.nanstd(blocks, axis=-1)
    return np.where(enough, variance, np.nan), np.where(enough, scatter / np.sqrt(np.maximum(kept, 1)), np.nan)


def read_codes(picture: Picture, grid: Grid) -> np.ndarray:
    """Mean code of every block in the main channel, shape (patches * blocks,)."""
    x, y = grid.pixels[..., 0], grid.pixels[..., 1]
    return np.asarray(picture.codes[y, x, picture.main_channel].mean(axis=-1).ravel())
