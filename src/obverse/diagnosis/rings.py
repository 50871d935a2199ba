"""Rings on a strip laid flat: the rims that drying drops leave."""

from __future__ import annotations

from functools import lru_cache
from itertools import count
from typing import TYPE_CHECKING

import numpy as np
from numpy import fft
from scipy import ndimage

from obverse.diagnosis.sheet import CELL_MM, Sheet
from obverse.foundation import MAD_TO_SD

if TYPE_CHECKING:
    from obverse.diagnosis.measures import Measures

_STEP = 2  # cells per point of the map that is searched
# Rims that drops leave, by their radius, drawn out along or across the film, and how wide such a rim is.
_RADII_MM = (1.4, 1.9, 2.4, 2.9, 3.4, 4.0)
_STRETCHES = (0.9, 1.12)
_RIM_MM = 0.45
# Half the width of the map that a rim is looked for in: the largest, drawn out, with what lies about it.
_REACH_MM = 6.0
# Sectors of a rim that are judged by themselves (so many must be seen), and the candidates that are looked at so closely.
_SECTORS, _FEWEST_SECTORS = 12, 6
_CANDIDATES = 24
# Rings of which the mean strength is told, and the places that their list is filled up to.
_STRONGEST, _AT_LEAST_LISTED = 4, 6
# Rims: what lies near one, and how steeply that ends; how far the map is searched beyond a radius, a part of it and some mm.
_NEAR_RIMS, _NEAR_POWER, _BEYOND, _BEYOND_MM = 3, 4, 1.25, 1.2
# Distances from a rim in mm: on it, and the first and last of what counts as beside it.
_ON_MM, _BESIDE_MM, _BESIDE_END_MM = 0.4, 0.6, 1.2
# A peak is the strongest of so many points each way and at least this strong; so few points of a map or columns tell nothing.
_PEAK_POINTS, _LEAST_PEAK, _FEWEST_POINTS, _FEWEST_COLUMNS = 7, 1.0, 200, 6
# What is slower than a ring is taken off, where it is no darker than this; scatter is cut at so many of its own, cell and point.
_SLOW_MM, _SLOW_DENSITY, _MOST_OF_A_CELL, _MOST_OF_A_POINT = 2.5, 0.15, 5, 4
_QUICK = 2 * 3 * 5  # whose powers hold all lengths that a transform takes in its quickest steps
_RING_SNR = 4.0  # rim against scatter; less is not counted as a ring


@lru_cache(maxsize=1)
def _kernels() -> tuple[np.ndarray, tuple[tuple[float, float], ...]]:
    """Rims less what lies inside and outside them: (k, n, n) of zero sum and unit norm; and their shapes."""
    pace = _STEP * CELL_MM
    half = int(_REACH_MM / pace)
    y, x = np.mgrid[-half : half + 1, -half : half + 1] * pace
    kernels, shapes = [], []
    for radius in _RADII_MM:
        for stretch in _STRETCHES:
            r = np.hypot(x / stretch, y * stretch)
            rim = np.exp(-(((r - radius) / _RIM_MM) ** 2))
            near = np.exp(-(((r - radius) / (_NEAR_RIMS * _RIM_MM)) ** _NEAR_POWER))
            kernel = rim - near * rim.sum() / near.sum()
            kernels.append(kernel / np.sqrt((kernel**2).sum()))
            shapes.append((radius, stretch))
    return np.array(kernels), tuple(shapes)


def _quickly_transformed(least: int) -> int:
    """The first length from there on without other prime factors than 2, 3 and 5."""
    # A library's own function for it takes longer to load than all rings to find.
    return next(n for n in count(least) if pow(_QUICK, n.bit_length(), n) == 0)


def rings(found: Measures, sheet: Sheet) -> None:
    """Adds the strength of the clearest rings and how many there are to `found`."""
    noise, weight = _map(sheet)
    if weight.sum() < _FEWEST_POINTS:
        return
    kernels, shapes = _kernels()
    half = kernels.shape[1] // 2
    size = [_quickly_transformed(n + 2 * half) for n in noise.shape]
    image, cover = fft.rfft2(noise, size), fft.rfft2(weight, size)
    best = np.full(noise.shape, -np.inf)
    which = np.zeros(noise.shape, dtype=int)
    crop = np.s_[half : half + noise.shape[0], half : half + noise.shape[1]]
    for k, kernel in enumerate(kernels):
        answer = fft.irfft2(image * fft.rfft2(kernel, size), size)[crop]
        if k % len(_STRETCHES) == 0:  # how much of the ring is on the pictures hardly depends on its stretch
            seen = fft.irfft2(cover * fft.rfft2(kernel**2, size), size)[crop]
        score = np.where(seen > 0.5, answer / np.sqrt(np.maximum(seen, 0.5)), 0.0)
        better = score > best
        best[better], which[better] = score[better], k
    peaks = (best == ndimage.maximum_filter(best, _PEAK_POINTS)) & (best > _LEAST_PEAK)
    rows, columns = np.nonzero(peaks)
    order = np.argsort(-best[rows, columns])[:_CANDIDATES]
    strengths: list[float] = []
    columns_of: list[int] = []
    for row, column in zip(rows[order], columns[order], strict=True):
        radius, stretch = shapes[which[row, column]]
        whole = _completeness(noise, weight, row, column, radius, stretch)
        strengths.append(float(best[row, column]) * whole)
        columns_of.append(int(column) * _STEP)
    scores, where = np.array(strengths + [0.0] * _AT_LEAST_LISTED), np.array(columns_of + [0] * _AT_LEAST_LISTED)
    turn = np.argsort(-scores)
    scores, where = scores[turn], where[turn]
    clear = int((scores > _RING_SNR).sum())
    found.numbers["ring_best"] = float(scores[0])
    found.numbers["rings"] = float(scores[:_STRONGEST].mean())
    found.numbers["ring_count"] = float(clear)
    inside = np.unique(sheet.patch[where[: max(clear, 1)]])
    found.places["rings"] = (
        "in patch" + ("es " if (inside >= 0).sum() > 1 else " ") + ", ".join(str(k + 1) for k in inside if k >= 0)
    )


def _map(sheet: Sheet) -> tuple[np.ndarray, np.ndarray]:
    """Residual in units of its own scatter patch by patch, without what runs along or across; and where it is known."""
    rows = sheet.inner.any(axis=1)
    values = np.zeros((int(rows.sum()), sheet.inner.shape[1]))
    weight = np.zeros(values.shape)
    for k in np.flatnonzero(np.isfinite(sheet.levels)):
        here = (sheet.patch == k) & sheet.usable
        if here.sum() < _FEWEST_COLUMNS:
            continue
        area = sheet.residual[np.ix_(rows, here)]
        area = area - np.median(area, axis=0)[None, :]
        area = area - np.median(area, axis=1)[:, None]
        area = area - ndimage.gaussian_filter(np.clip(area, -_SLOW_DENSITY, _SLOW_DENSITY), _SLOW_MM / CELL_MM)
        scatter = MAD_TO_SD * np.median(np.abs(ndimage.uniform_filter(area, _STEP))) + 1e-4
        values[:, here] = np.clip(area / scatter, -_MOST_OF_A_CELL * _STEP, _MOST_OF_A_CELL * _STEP)
        weight[:, here] = 1.0
    h, w = (n // _STEP * _STEP for n in values.shape)
    blocks = [a[:h, :w].reshape(h // _STEP, _STEP, w // _STEP, _STEP).mean(axis=(1, 3)) for a in (values, weight)]
    return np.clip(blocks[0], -_MOST_OF_A_POINT, _MOST_OF_A_POINT), blocks[1]


def _completeness(noise: np.ndarray, weight: np.ndarray, row: int, column: int, radius: float, stretch: float) -> float:
    """Share of the rim's sectors that are denser than what lies inside and outside them."""
    pace = _STEP * CELL_MM
    reach = int(np.ceil((radius * _BEYOND + _BEYOND_MM) / pace))
    r0, r1 = max(row - reach, 0), min(row + reach + 1, noise.shape[0])
    c0, c1 = max(column - reach, 0), min(column + reach + 1, noise.shape[1])
    y, x = np.mgrid[r0:r1, c0:c1]
    y, x = (y - row) * pace * stretch, (x - column) * pace / stretch
    away = np.hypot(x, y) - radius
    known = weight[r0:r1, c0:c1] > 0.5
    sector = ((np.arctan2(y, x) / (2 * np.pi) + 0.5) * _SECTORS).astype(int) % _SECTORS
    area = noise[r0:r1, c0:c1]
    parts = (
        np.abs(away) < _ON_MM,
        (away < -_BESIDE_MM) & (away > -_BESIDE_END_MM),
        (away > _BESIDE_MM) & (away < _BESIDE_END_MM),
    )
    counts = [np.bincount(sector[known & part], minlength=_SECTORS) for part in parts]
    sums = [np.bincount(sector[known & part], area[known & part], _SECTORS) for part in parts]
    rim, inside, outside = np.array(sums) / np.maximum(counts, 1)
    both = np.all(np.array(counts) > 0, axis=0)
    if both.sum() < _FEWEST_SECTORS:
        return 0.0
    # The edge of an even spot is denser than one side only.
    return float(np.mean((rim - np.maximum(inside, outside))[both] > 0.1))
