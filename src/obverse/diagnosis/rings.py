"""Rings on a strip laid flat: the rims that drying drops leave."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, ndimage

from obverse.diagnosis.sheet import CELL_MM, Sheet

if TYPE_CHECKING:
    from obverse.diagnosis.measures import Measures

_STEP = 2  # cells per point of the map that is searched
_RADII_MM = (1.4, 1.9, 2.4, 2.9, 3.4, 4.0)
_STRETCHES = (0.9, 1.12)
_RIM_MM = 0.45
_REACH_MM = 6.0
_SECTORS = 12
_CANDIDATES = 24
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
            near = np.exp(-(((r - radius) / (3 * _RIM_MM)) ** 4))
            kernel = rim - near * rim.sum() / near.sum()
            kernels.append(kernel / np.sqrt((kernel**2).sum()))
            shapes.append((radius, stretch))
    return np.array(kernels), tuple(shapes)


def rings(found: Measures, sheet: Sheet) -> None:
    """Adds the strength of the clearest rings and how many there are to `found`."""
    noise, weight = _map(sheet)
    if weight.sum() < 200:
        return
    kernels, shapes = _kernels()
    half = kernels.shape[1] // 2
    size = [fft.next_fast_len(n + 2 * half, real=True) for n in noise.shape]
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
    peaks = (best == ndimage.maximum_filter(best, 7)) & (best > 1.0)
    rows, columns = np.nonzero(peaks)
    order = np.argsort(-best[rows, columns])[:_CANDIDATES]
    strengths: list[float] = []
    columns_of: list[int] = []
    for row, column in zip(rows[order], columns[order], strict=True):
        radius, stretch = shapes[which[row, column]]
        whole = _completeness(noise, weight, row, column, radius, stretch)
        strengths.append(float(best[row, column]) * whole)
        columns_of.append(int(column) * _STEP)
    scores, where = np.array(strengths + [0.0] * 6), np.array(columns_of + [0] * 6)
    turn = np.argsort(-scores)
    scores, where = scores[turn], where[turn]
    clear = int((scores > _RING_SNR).sum())
    found.numbers["ring_best"] = float(scores[0])
    found.numbers["rings"] = float(scores[:4].mean())
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
        if here.sum() < 6:
            continue
        area = sheet.residual[np.ix_(rows, here)]
        area = area - np.median(area, axis=0)[None, :]
        area = area - np.median(area, axis=1)[:, None]
        area = area - ndimage.gaussian_filter(np.clip(area, -0.15, 0.15), 2.5 / CELL_MM)
        scatter = 1.4826 * np.median(np.abs(ndimage.uniform_filter(area, _STEP))) + 1e-4
        values[:, here] = np.clip(area / scatter, -5 * _STEP, 5 * _STEP)
        weight[:, here] = 1.0
    h, w = (n // _STEP * _STEP for n in values.shape)
    blocks = [a[:h, :w].reshape(h // _STEP, _STEP, w // _STEP, _STEP).mean(axis=(1, 3)) for a in (values, weight)]
    return np.clip(blocks[0], -4, 4), blocks[1]


def _completeness(noise: np.ndarray, weight: np.ndarray, row: int, column: int, radius: float, stretch: float) -> float:
    """Share of the rim's sectors that are denser than what lies inside and outside them."""
    pace = _STEP * CELL_MM
    reach = int(np.ceil((radius * 1.25 + 1.2) / pace))
    r0, r1 = max(row - reach, 0), min(row + reach + 1, noise.shape[0])
    c0, c1 = max(column - reach, 0), min(column + reach + 1, noise.shape[1])
    y, x = np.mgrid[r0:r1, c0:c1]
    y, x = (y - row) * pace * stretch, (x - column) * pace / stretch
    away = np.hypot(x, y) - radius
    known = weight[r0:r1, c0:c1] > 0.5
    sector = ((np.arctan2(y, x) / (2 * np.pi) + 0.5) * _SECTORS).astype(int) % _SECTORS
    area = noise[r0:r1, c0:c1]
    parts = (np.abs(away) < 0.4, (away < -0.6) & (away > -1.2), (away > 0.6) & (away < 1.2))
    counts = [np.bincount(sector[known & part], minlength=_SECTORS) for part in parts]
    sums = [np.bincount(sector[known & part], area[known & part], _SECTORS) for part in parts]
    rim, inside, outside = np.array(sums) / np.maximum(counts, 1)
    both = np.all(np.array(counts) > 0, axis=0)
    if both.sum() < 6:
        return 0.0
    # The edge of an even spot is denser than one side only.
    return float(np.mean((rim - np.maximum(inside, outside))[both] > 0.1))
