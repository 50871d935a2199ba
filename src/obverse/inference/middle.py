"""The middle of what is good: of recipes that the draws cannot tell apart, the one that is picked by no draw.

The best of many nearly equal recipes is picked by the noise of the draws, and lies on an edge as often as not. Their
middle is steady and safer from small errors, where it is taken over a mesh that does not depend on which was best.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.inference.candidates import RecipeGrid
from obverse.inference.law import Law
from obverse.process import CONTROLS, ControlVector

# Steps that matter within which recipes are of one region, and how far about its best they are asked.
NEAR, REACH = 0.4, 0.8
# About so many recipes of the mesh along each control, and no more than so many in all.
ALONG, MOST = 6, 256
# The middle has come to rest long before so many turns.
TURNS = 20


def mesh_about(grid: RecipeGrid, law: Law, index: NDArray[np.int_]) -> NDArray[np.int_]:
    """Settings about one of them, of a mesh that stands where it stands whichever that one is.

    Parameters
    ----------
    index : (K,) int array

    Returns
    -------
    (T, K) int array
        Grid indices; multiples of a power of two along each control, so that a neighbour has the same mesh.
    """
    axes, apart = [], np.ones(len(CONTROLS), dtype=int)
    for k, count in enumerate(grid.count.tolist()):
        reach = 0.0
        if count:
            reach = max(REACH / _step_matters(grid, law, index, k), 1.0)
            apart[k] = 2 ** max(round(float(np.log2(2.0 * reach / ALONG))), 0)
        first = int(np.ceil(max(index[k] - reach, 0.0) / apart[k]))
        last = int(np.floor(min(index[k] + reach, float(count)) / apart[k]))
        axes.append(np.arange(first, last + 1) * apart[k])
    mesh = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=1)
    # Of very many every other one, as the black fields of a chessboard.
    return mesh if len(mesh) <= MOST else mesh[(mesh // apart).sum(axis=1) % 2 == 0]


def at_rest(
    grid: RecipeGrid, law: Law, mesh: NDArray[np.int_], worth: Array, doubt: float, start: NDArray[np.int_]
) -> Array:
    """The middle of what is good near a start: where the mean of a region about it, weighed by worth, is itself.

    Parameters
    ----------
    mesh : (T, K) int array
    worth : (T,) array
    doubt : float
        What the draws leave open of a worth; a recipe worth so much less than the best weighs 1/e of it.
    start : (K,) int array

    Returns
    -------
    (K,) array
        In grid steps, between settings as a rule.
    """
    # Where nothing is good nothing is better either: the middle of the region.
    good = np.exp((worth - worth.max()) / doubt) if doubt > 0 else (worth >= worth.max()).astype(float)
    middle: Array = start.astype(float)
    for _ in range(TURNS):
        weight = good * np.exp(-0.5 * away(grid, law, mesh, middle) / NEAR**2)
        middle = weight @ mesh / weight.sum()
    return middle


def away(grid: RecipeGrid, law: Law, mesh: NDArray[np.int_], middle: Array) -> Array:
    """Squared distances, in steps that matter, of settings (T, K) from a place in grid steps (K,); shape (T,)."""
    result: Array = ((_steps(grid, law, mesh) - _steps(grid, law, middle)) ** 2).sum(axis=-1)
    return result


def _steps(grid: RecipeGrid, law: Law, index: Array | NDArray[np.int_]) -> Array:
    """Places (..., K) in steps that matter, of the varied controls; far out they matter as much as anywhere."""
    steps: Array = ControlVector(grid.low + index * grid.step).steps()[..., law.varied]
    return steps


def _step_matters(grid: RecipeGrid, law: Law, index: NDArray[np.int_], k: int) -> float:
    """How many steps that matter one step of the tool is along one control."""
    ends = np.tile(index, (2, 1))
    ends[:, k] = np.clip([index[k] - 1, index[k] + 1], 0, grid.count[k])
    low, high = _steps(grid, law, ends)
    return max(float(np.abs(high - low).max()) / float(ends[1, k] - ends[0, k]), 1e-6)
