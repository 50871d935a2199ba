"""Light in a picture: fall-off over the panel, noise, merging of exposures, response."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import MAD_TO_SD, InputError
from obverse.imaging.statistics import median

_PER_POWER = 3  # points for each power of a field; with fewer its order falls
_ROUNDS, _ROUNDS_OF_ALL = 4, 2  # of the robust fit, where single points are judged and where all are panel
_BISQUARE_CUT = (
    4.7  # standard deviations beyond which a point counts nothing (95 % as good as least squares on a normal law)
)
# How much the light of a panel bends, natural logarithm half a picture away, by power 1, 2, 3 and 4: lenses lose half or so towards
# the corners, panels slope and sink a little at their edges. Where open panel is seen at one side only, this keeps the field sober.
_BENDS = (0.3, 0.5, 0.15, 0.15)
_APART = 100  # readings of the panel of which each tells something of its own: neighbours share dust and unevenness
_TILES = 5  # each way, of which each is foretold by the others
_FEWEST_OF_A_TILE, _FEWEST_TILES = 4, 3  # points, and tiles
_NOISE_ROUNDS, _ABOVE, _LEAST_FLOOR = 20, 0.25, 0.02  # of the fit; weight of what lies above it; of the least scatter
_MEDIAN_TO_MEAN = 1.25  # standard error of a median over that of a mean, normal law
_LAST_CODE, _FIRST_CODE, _CODES = 0.99, 0.01, 0.4  # of the scale: what says something, and how much of it must be seen
_FARTHEST_LOG = 80.0  # natural logarithm of light that a field may run away to, far from the panel
_FIRST_KNOT = 0.25  # of the first step between knots, where the logarithm of the place itself has no end


@dataclass(frozen=True, eq=False)
class Field:
    """The light of the open panel over the picture: exp of a polynomial in x and y.

    Parameters
    ----------
    coefficients : ndarray, shape (k,)
        Of the natural logarithm of the light, in scaled coordinates.
    covariance : ndarray, shape (k, k)
    powers : ndarray of int, shape (k, 2)
    centre, scale : (x, y), number
        Scaled coordinate = (pixel - centre) / scale.
    misfit : float
        Standard deviation of what the polynomial cannot follow (natural logarithm).
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    powers: np.ndarray
    centre: tuple[float, float]
    scale: float
    misfit: float

    def _basis(self, points: np.ndarray) -> np.ndarray:
        return _basis(points, self.centre, self.scale, self.powers)

    def light(self, points: np.ndarray) -> np.ndarray:
        """Light of the open panel at points (..., 2), linear."""
        points = np.asarray(points, dtype=float)
        across, down = _rising(points.reshape(-1, 2), self.centre, self.scale, len(self._table))
        result: np.ndarray = np.exp(np.einsum("kn,kn->n", self._table @ across, down))
        return result.reshape(points.shape[:-1])

    @cached_property
    def _table(self) -> np.ndarray:
        """Coefficients by power of y (rows) and of x (columns)."""
        order = int(self.powers.max()) if self.powers.size else 0
        table = np.zeros((order + 1, order + 1))
        table[self.powers[:, 1], self.powers[:, 0]] = self.coefficients
        return table

    def light_on_grid(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """The same at every crossing of columns x (w,) and rows y (h,), float32 of shape (h, w), much faster."""
        across = (np.asarray(x, dtype=float) - self.centre[0]) / self.scale
        down = (np.asarray(y, dtype=float) - self.centre[1]) / self.scale
        count = len(self._table)
        logs = np.vander(down, count, increasing=True) @ self._table @ np.vander(across, count, increasing=True).T
        return np.asarray(np.exp(logs.clip(-_FARTHEST_LOG, _FARTHEST_LOG).astype(np.float32)))

    def relative_sd(self, points: np.ndarray) -> np.ndarray:
        """Relative standard uncertainty of that light."""
        basis = self._basis(points)
        variance = ((basis @ self.covariance) * basis).sum(axis=-1)
        result: np.ndarray = np.sqrt(np.maximum(variance, 0) + self.misfit**2)
        return result


def _basis(points: np.ndarray, centre: tuple[float, float], scale: float, powers: np.ndarray) -> np.ndarray:
    points = np.asarray(points, dtype=float)
    across, down = _rising(points.reshape(-1, 2), centre, scale, int(powers.max()) + 1 if powers.size else 1)
    terms: np.ndarray = across[powers[:, 0]] * down[powers[:, 1]]
    return terms.T.reshape(*points.shape[:-1], len(powers))


def _rising(points: np.ndarray, centre: tuple[float, float], scale: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """The first powers of x and of y in scaled coordinates, shape (count, n) each."""
    ways = []
    for way in (0, 1):
        powers = np.empty((count, len(points)))
        powers[0] = 1.0
        powers[1:] = (points[:, way] - centre[way]) / scale
        ways.append(np.multiply.accumulate(powers, axis=0, out=powers))
    return ways[0], ways[1]


def _powers(order: int) -> np.ndarray:
    return np.array([(i, n - i) for n in range(order + 1) for i in range(n, -1, -1)])


def fit_field(
    points: np.ndarray, light: np.ndarray, *, size: tuple[int, int], order: int, judged: bool = True
) -> Field:
    """A smooth field through readings of the open panel.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Where, in pixels.
    light : ndarray, shape (n,)
        Linear light there, positive.
    size : (width, height)
        Of the picture, pixels.
    order : int
        Of the polynomial; lowered where there are too few points.
    judged : bool
        Whether the uncertainty is worked out; otherwise the misfit is the scatter about the fit, and nothing is said of the
        coefficients.

    Notes
    -----
    The misfit is found by leaving out whole tiles of the panel in turn: neighbouring readings share
    dust and unevenness, so their scatter alone would promise too much.
    """
    points, logs = np.asarray(points, dtype=float), np.log(np.asarray(light, dtype=float))
    centre, scale = ((size[0] - 1) / 2, (size[1] - 1) / 2), max(size) / 2
    while order > 0 and len(points) < _PER_POWER * len(_powers(order)):
        order -= 1
    powers = _powers(order)
    basis = _basis(points, centre, scale, powers)
    # Each reading says its part of what so many that lie apart would say; the usual bends weigh against it.
    alike = max(len(points) / _APART, 1.0)
    bends = np.array([0.0] + [alike / _BENDS[power - 1] ** 2 for power in powers.sum(axis=1)[1:]])
    solution, weight = _robust_solve(basis, logs, bends, _ROUNDS if judged else _ROUNDS_OF_ALL)
    residual = logs - basis @ solution
    sd = math.sqrt(float((weight * residual**2).sum() / max(weight.sum() - len(powers), 1)))
    if not judged:
        return Field(solution, np.zeros((len(powers), len(powers))), powers, centre, scale, sd)
    sober = np.diag(bends * sd**2)
    normal = basis.T @ (weight[:, None] * basis) + sober
    covariance = np.linalg.pinv(normal, rcond=1e-10) * sd**2 * alike
    misfit = _left_out(points, basis, logs, weight, sd, sober, size)
    return Field(solution, covariance, powers, centre, scale, misfit)


def _robust_solve(basis: np.ndarray, logs: np.ndarray, bends: np.ndarray, rounds: int) -> tuple[np.ndarray, np.ndarray]:
    weight = np.ones(len(logs))
    solution = np.zeros(basis.shape[1])
    scale = float(np.std(logs))
    for _ in range(rounds):
        weighted = basis * weight[:, None]
        solution = _solve(basis.T @ weighted + np.diag(bends * scale**2), weighted.T @ logs)
        residual = logs - basis @ solution
        scale = max(MAD_TO_SD * median(np.abs(residual)), 1e-6)
        weight = np.maximum(1 - (residual / (_BISQUARE_CUT * scale)) ** 2, 0) ** 2
    return solution, weight


def _solve(normal: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Normal equations with a touch of damping, for a panel that shows too little to fix every term."""
    return np.asarray(_solve_each([normal], [right])[0])


def _solve_each(normals: Sequence[np.ndarray], rights: Sequence[np.ndarray]) -> np.ndarray:
    """The same for several at once, shape (n, k)."""
    damped = np.array(normals)
    size = damped.shape[-1]
    traces = np.trace(damped, axis1=1, axis2=2)
    damped[:, range(size), range(size)] += 1e-9 * (traces / size + 1e-12)[:, None]
    return np.asarray(np.linalg.solve(damped, np.array(rights)[..., None])[..., 0])


def _left_out(
    points: np.ndarray,
    basis: np.ndarray,
    logs: np.ndarray,
    weight: np.ndarray,
    sd: float,
    sober: np.ndarray,
    size: tuple[int, int],
    tiles: int = _TILES,
) -> float:
    """Standard deviation of the mean error over a tile that the fit did not see."""
    column = np.clip((points[:, 0] / size[0] * tiles).astype(int), 0, tiles - 1)
    row = np.clip((points[:, 1] / size[1] * tiles).astype(int), 0, tiles - 1)
    tile = row * tiles + column
    normal = basis.T @ (weight[:, None] * basis) + sober
    right = basis.T @ (weight * logs)
    normals, rights, seen = [], [], []
    order = np.argsort(tile, kind="stable")
    for here in np.split(order, np.flatnonzero(np.diff(tile[order])) + 1):
        b, w, level = basis[here], weight[here], logs[here]
        share = float(w.sum())
        if share < _FEWEST_OF_A_TILE or share > 0.5 * weight.sum():
            continue
        weighted = b.T * w
        normals.append(normal - weighted @ b)
        rights.append(right - weighted @ level)
        seen.append((weighted.sum(axis=1) / share, float(w @ level) / share))
    errors = (
        [level - at @ part for (at, level), part in zip(seen, _solve_each(normals, rights), strict=True)]
        if seen
        else []
    )
    if len(errors) < _FEWEST_TILES:
        return sd
    return float(MAD_TO_SD * np.median(np.abs(errors)))


@dataclass(frozen=True)
class Noise:
    """Variance of one pixel's linear light L: photon * L + floor (L as a fraction of saturation)."""

    photon: float
    floor: float

    def variance(self, light: ArrayLike) -> np.ndarray:
        """Variance at a light (any shape)."""
        result: np.ndarray = self.photon * np.maximum(light, 0) + self.floor
        return result


def estimate_noise(means: np.ndarray, variances: np.ndarray) -> Noise:
    """Noise of a picture from the means and variances of many small blocks.

    The lower envelope is what the sensor does; what lies above it is grain, dust or an edge. It is
    followed by a fit that weighs a block's excess over the line less than its lack.

    Parameters
    ----------
    means, variances : ndarray, shape (n,)
        Linear light as a fraction of saturation.
    """
    good = np.isfinite(means) & np.isfinite(variances) & (variances > 0)
    m, v = np.maximum(means[good], 0), variances[good]
    if m.size < 4:
        return Noise(1e-5, 1e-8)
    photon, floor = float(np.median(v / np.maximum(m, 1e-3))), float(v.min())
    for _ in range(_NOISE_ROUNDS):
        model = photon * m + floor
        weight = np.where(v > model, _ABOVE, 1.0) / model**2
        a, b, c = (weight * m * m).sum(), (weight * m).sum(), weight.sum()
        right = np.array([(weight * m * v).sum(), (weight * v).sum()])
        determinant = a * c - b * b
        if determinant <= 0:
            break
        photon = max((right[0] * c - right[1] * b) / determinant, 1e-9)
        floor = max((right[1] * a - right[0] * b) / determinant, _LEAST_FLOOR * float(v.min()), 1e-12)
    return Noise(photon, floor)


@dataclass(frozen=True, eq=False)
class Merged:
    """One scale of light from several exposures.

    Parameters
    ----------
    light : ndarray, shape (n,)
        In units of the longest exposure's saturation; NaN where no picture could tell.
    sd : ndarray, shape (n,)
        From sensor noise alone.
    clipped : ndarray of bool, shape (n,)
        Clipped in every picture.
    """

    light: np.ndarray
    sd: np.ndarray
    clipped: np.ndarray


def merge(lights: np.ndarray, variances: np.ndarray, usable: np.ndarray, exposures: np.ndarray) -> Merged:
    """Weigh the readings of several exposures by their noise; clipped and dark ones are left out.

    Parameters
    ----------
    lights, variances : ndarray, shape (pictures, n)
        Mean linear light of each block in each picture and the variance of that mean.
    usable : ndarray of bool, shape (pictures, n)
        False where the block is clipped or too dark to count.
    exposures : ndarray, shape (pictures,)
        Relative exposures, such as shutter times.
    """
    relative = np.asarray(exposures, dtype=float)[:, None] / np.max(exposures)
    weight = np.where(usable, relative**2 / np.maximum(variances, 1e-18), 0.0)
    total = weight.sum(0)
    with np.errstate(invalid="ignore", divide="ignore"):
        light = (weight * lights / relative).sum(0) / total
        sd = np.sqrt(1.0 / total)
    return Merged(np.where(total > 0, light, np.nan), np.where(total > 0, sd, np.nan), total == 0)


class BracketApartError(InputError):
    """Two pictures of a bracket have nothing in common by which their exposures could be compared."""

    code = "bracket_apart"


def exposure_ratios(
    lights: np.ndarray, variances: np.ndarray, usable: np.ndarray, stated: list[float | None], stated_sd: float
) -> tuple[np.ndarray, np.ndarray]:
    """Relative exposures of a bracket from the blocks that two pictures both show.

    Shutter times on a camera are rounded names (1/125 for 1/128) and springs are not clocks; the
    picture itself knows better. Chained from each picture to the next brighter one.

    Parameters
    ----------
    lights, variances, usable : ndarray, shape (pictures, n)
    stated : list of float or None
        Exposures as the pictures state them.
    stated_sd : float
        Relative standard uncertainty of a stated ratio.

    Returns
    -------
    exposures, relative_sd : ndarray, shape (pictures,)
        Relative to the longest exposure, which has 1 and 0.

    Raises
    ------
    BracketApartError
        If two neighbouring pictures share no usable part and no exposure is stated.
    """
    count = len(lights)
    level = [
        s if s else float(np.nanmedian(np.where(u, v, np.nan))) if u.any() else 0.0
        for s, v, u in zip(stated, lights, usable, strict=True)
    ]
    order = np.argsort(level)[::-1]
    logs, variance = np.zeros(count), np.zeros(count)
    for brighter, darker in itertools.pairwise(order):
        both = usable[brighter] & usable[darker] & (lights[brighter] > 0) & (lights[darker] > 0)
        a, b = lights[brighter][both], lights[darker][both]
        scatter = variances[brighter][both] / a**2 + variances[darker][both] / b**2 if both.any() else np.array([])
        estimates = []
        if both.sum() >= 8:
            # The least scattered blocks carry the ratio; the median guards against dust and edges.
            best = np.argsort(scatter)[: max(8, both.sum() // 2)]
            differences = np.log(b[best] / a[best])
            spread = MAD_TO_SD * float(np.median(np.abs(differences - np.median(differences))))
            estimates.append(
                (float(np.median(differences)), max(_MEDIAN_TO_MEAN * spread / math.sqrt(best.size), 1e-4))
            )
        if stated[brighter] and stated[darker]:
            estimates.append((math.log(stated[darker] / stated[brighter]), stated_sd))
        if not estimates:
            raise BracketApartError(
                "two pictures of the bracket share no part that both show well, and no exposure time is written in them",
                where="bracket",
                remedy="give pictures with one to three stops between neighbours",
            )
        weights = np.array([1 / sd**2 for _, sd in estimates])
        step = float(np.average([v for v, _ in estimates], weights=weights))
        logs[darker] = logs[brighter] + step
        variance[darker] = variance[brighter] + 1 / weights.sum()
    logs -= logs[order[0]]
    return np.exp(logs), np.sqrt(variance)


_KNOTS = 33  # of the tone curve


def response_curve(codes: np.ndarray, exposures: np.ndarray, *, levels: int, saturation: float) -> np.ndarray:
    """Linear light of each code, from several exposures of the same scene (the open panel).

    Parameters
    ----------
    codes : ndarray, shape (pictures, places)
        Mean code of each place in each picture.
    exposures : ndarray, shape (pictures,)
        Relative exposures.
    levels : int
        Number of codes (256 for 8 bits).
    saturation : float
        Code at which the picture clips; places at or above it are left out.

    Returns
    -------
    ndarray, shape (levels,)
        Monotone, 1 at saturation, 0 at code 0.

    Notes
    -----
    Solves for the logarithm of light at `_KNOTS` codes and the light of each place together, by
    least squares with a smoothness term; below the lowest code seen it goes straight to zero.

    Raises
    ------
    InputError
        With fewer than three exposures, or when they cover too little of the scale.
    """
    codes = np.asarray(codes, dtype=float)
    exposures = np.asarray(exposures, dtype=float)
    if len(exposures) < 3:
        raise InputError(
            "a response curve needs at least three exposures of the panel",
            where="response",
            remedy="give more pictures",
        )
    _pictures, places = codes.shape
    usable = (codes < saturation * _LAST_CODE) & (codes > saturation * _FIRST_CODE)
    if usable.sum() < 3 * places / 2 or np.ptp(codes[usable]) < _CODES * saturation:
        raise InputError(
            "the pictures of the panel cover too little of the scale from black to white",
            where="response",
            remedy="expose them from nearly black to nearly white, one stop apart",
        )
    # Knots crowd towards the dark end, where the curve bends.
    positions = saturation * np.linspace(0.0, 1.0, _KNOTS) ** 1.5
    row, rights, index = [], [], np.argwhere(usable)
    unknowns = _KNOTS + places
    for p, j in index:
        line = np.zeros(unknowns)
        k = int(np.clip(np.searchsorted(positions, codes[p, j]) - 1, 0, _KNOTS - 2))
        share = (codes[p, j] - positions[k]) / (positions[k + 1] - positions[k])
        line[k], line[k + 1], line[_KNOTS + j] = 1 - share, share, -1.0
        row.append(line)
        rights.append(math.log(exposures[p]))
    slope = np.log(np.maximum(positions, _FIRST_KNOT * positions[1]) / saturation)
    for k in range(1, _KNOTS - 1):
        line = np.zeros(unknowns)
        # Smooth against the logarithm of the code, in which every usual curve is nearly straight.
        h1, h2 = slope[k] - slope[k - 1], slope[k + 1] - slope[k]
        line[k - 1], line[k], line[k + 1] = 1 / h1, -(1 / h1 + 1 / h2), 1 / h2
        row.append(0.1 * line * min(h1, h2))
        rights.append(0.0)
    line = np.zeros(unknowns)
    line[_KNOTS - 1] = 10.0
    row.append(line)
    rights.append(0.0)
    solution = np.linalg.lstsq(np.array(row), np.array(rights), rcond=None)[0]
    logs = np.maximum.accumulate(solution[:_KNOTS])
    scale = np.arange(levels, dtype=float)
    lowest = max(float(codes[usable].min()), positions[1])
    with np.errstate(divide="ignore"):
        inner = np.exp(np.interp(np.log(np.maximum(scale, 1e-9)), np.log(np.maximum(positions, 1e-9)), logs))
    at_lowest = float(np.exp(np.interp(math.log(lowest), np.log(np.maximum(positions, 1e-9)), logs)))
    table = np.where(scale < lowest, at_lowest * scale / lowest, inner)
    table = table / np.interp(saturation, scale, table)
    result: np.ndarray = table.clip(0, 1)
    return result
