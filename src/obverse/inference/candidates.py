"""Recipes that could be tried: on the grid of the person's tools, spread wide, then close to what looks good."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.inference.evenly import evenly
from obverse.inference.fit import held
from obverse.process import CONTROLS, ControlVector, Series

# Recipes spread evenly over the ranges that a search begins with.
SPREAD_OUT = 224
# Steps of refinement around a good candidate, as multiples of the tool's step.
REACHES = (1, 3)


@dataclass(frozen=True)
class RecipeGrid:
    """The settings a series allows.

    Parameters
    ----------
    low, step : (K,) arrays
    count : (K,) int array
        Number of steps above `low`; 0 for a control that is held.
    """

    low: Array
    step: Array
    count: NDArray[np.int_]

    @classmethod
    def of(cls, series: Series) -> RecipeGrid:
        """From the limits and steps of the series' controls; what it does not mention is held."""
        low = ControlVector.of(held(series)).values
        step, count = np.ones(len(CONTROLS)), np.zeros(len(CONTROLS), dtype=int)
        for k, name in enumerate(CONTROLS):
            if name in series.controls:
                control = series.controls[name]
                low[k], step[k] = control.low, control.step
                count[k] = int(np.floor((control.high - control.low) / control.step + 1e-9))
        return cls(low, step, count)

    def settings(self, index: NDArray[np.int_]) -> Array:
        """Controls (T, K) at grid indices (T, K)."""
        return np.round(self.low + index * self.step, 9)

    def index(self, controls: Array) -> NDArray[np.int_]:
        """Nearest grid indices of controls (T, K)."""
        return np.clip(np.round((controls - self.low) / self.step), 0, self.count).astype(int)

    @property
    def size(self) -> int:
        """Number of settings, no more than 10^9 counted."""
        return int(min(np.prod((self.count + 1).astype(float)), 1e9))


def spread_out(grid: RecipeGrid) -> NDArray[np.int_]:
    """Grid indices (T, K) that fill the space evenly; all of them where they are few."""
    if grid.size <= 2 * SPREAD_OUT:
        axes = np.meshgrid(*[np.arange(n + 1) for n in grid.count], indexing="ij")
        return np.stack([a.ravel() for a in axes], axis=1)
    free = np.flatnonzero(grid.count)
    unit = evenly(SPREAD_OUT, len(free))
    index = np.zeros((SPREAD_OUT, len(grid.count)), dtype=int)
    index[:, free] = np.minimum((unit * (grid.count[free] + 1)).astype(int), grid.count[free])
    return unique(index)


def neighbours(
    grid: RecipeGrid, index: NDArray[np.int_], reaches: tuple[int, ...], rng: np.random.Generator
) -> NDArray[np.int_]:
    """Settings near some good ones: along each control, and a few jumps in several at once."""
    free = np.flatnonzero(grid.count)
    rows = [index]
    for reach in reaches:
        for k in free:
            for sign in (-1, 1):
                moved = index.copy()
                moved[:, k] += sign * reach
                rows.append(moved)
        if len(free) > 1:
            jumps = rng.integers(-reach, reach + 1, size=(4, len(index), len(free)))
            for jump in jumps:
                moved = index.copy()
                moved[:, free] += jump
                rows.append(moved)
    return unique(np.clip(np.concatenate(rows), 0, grid.count))


def unique(index: NDArray[np.int_]) -> NDArray[np.int_]:
    """Without repetitions, in a fixed order."""
    return np.unique(index, axis=0)


def without(index: NDArray[np.int_], taken: NDArray[np.int_]) -> NDArray[np.int_]:
    """Rows of `index` that do not stand in `taken`."""
    known = {tuple(row) for row in taken.tolist()}
    keep = np.array([tuple(row) not in known for row in index.tolist()], dtype=bool)
    result: NDArray[np.int_] = index[keep]
    return result
