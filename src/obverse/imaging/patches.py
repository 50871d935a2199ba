"""Where along a strip the patches lie, and whether there are as many as were asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from obverse.imaging.finding import Survey
from obverse.imaging.geometry import UNIT_SQUARE, homography, project

_SAMPLES = 1200  # along the strip
_ROOM, _NO_ROOM = 0.2, 0.02  # share of the strip that may lie before the first or after the last patch
_END = 0.015  # share of the strip at either end in which no step is looked for
_NOT_REBATE = 0.15  # density by which a patch must differ from the border to be told from it
_DRIFT = 0.07  # of a patch; steps of a wrong count that nearly fits lie farther from the places they are given
_STEP = 0.03  # density; less is not called a step


@dataclass(frozen=True)
class Layout:
    """Patches along a strip, in its own coordinates (0 at the first end, 1 at the other).

    Parameters
    ----------
    start, end : float
        Where the first patch begins and the last one ends.
    count : int
    likely_count : int
        The number of patches that the steps of the strip speak for; 0 where they cannot tell.
    strength : float
        How much of all the steps fall between patches rather than in them, 0 to 1.
    """

    start: float
    end: float
    count: int
    likely_count: int
    strength: float

    def centres(self) -> np.ndarray:
        """Middle of each patch along the strip."""
        return self.start + (np.arange(self.count) + 0.5) * self.pitch

    @property
    def pitch(self) -> float:
        """Length of a patch with its share of the gap."""
        return (self.end - self.start) / self.count


def profile(seen: Survey, quad: np.ndarray) -> np.ndarray:
    """Median density across the middle of the strip, at equal steps along it, shape (1200,)."""
    matrix = homography(UNIT_SQUARE, seen.to_copy(quad))
    u, v = np.meshgrid((np.arange(_SAMPLES) + 0.5) / _SAMPLES, np.linspace(0.32, 0.68, 25))
    points = project(matrix, np.stack([u, v], -1))
    values = ndimage.map_coordinates(
        np.clip(seen.density, -0.2, 4.0), [points[..., 1], points[..., 0]], order=1, mode="nearest"
    )
    return np.median(values, axis=0)


def rebate_density(seen: Survey, quad: np.ndarray) -> float | None:
    """Density of the border along the strip's edges; None where the patches reach from edge to edge."""
    matrix = homography(UNIT_SQUARE, seen.to_copy(quad))
    u, v = np.meshgrid(np.linspace(0.1, 0.9, 200), [0.04, 0.07, 0.1, 0.5, 0.9, 0.93, 0.96])
    points = project(matrix, np.stack([u, v], -1))
    values = ndimage.map_coordinates(
        np.clip(seen.density, -0.2, 4.0), [points[..., 1], points[..., 0]], order=1, mode="nearest"
    )
    if min(np.median(np.abs(values[k] - values[3])) for k in (0, 6)) <= 0.08:
        return None
    # Perforations and the panel beside a narrow strip only take density away: this is the least it can be.
    return float(np.percentile(np.delete(values, 3, axis=0), 75, axis=1).max())


def find_patches(along: np.ndarray, count: int, *, rebate: float | None) -> Layout:
    """Place `count` equal patches where the steps of the strip fall between them.

    Parameters
    ----------
    along : ndarray, shape (m,)
        Density along the strip.
    count : int
    rebate : float or None
        Density of the film's border. Where there is one, it may take up to a fifth of the strip
        before the first patch and after the last; otherwise the patches fill the strip. They do so
        as well where the steps cannot tell.
    """
    energy = _edge_energy(along, count)
    room = _NO_ROOM if rebate is None else _ROOM
    start, end, between, within, _ = _best(energy, count, room)
    likely = _likely_count(energy, count, room) if energy.any() else 0
    if likely == count and rebate is not None:
        likely += _left_over(along, start, end, count, rebate)
    total = between + within
    return Layout(start, end, count, likely, between / total if total > 0 else 1.0)


def _edge_energy(along: np.ndarray, count: int) -> np.ndarray:
    """How much of a step there is at each place, -1 to 1, at the scale of a patch; positive where density rises."""
    reach = max(2, int(min(0.1 / count, 0.012) * along.size))
    smooth = ndimage.median_filter(along, size=max(3, reach // 2 * 2 + 1), mode="nearest")
    rise = np.roll(smooth, -reach) - np.roll(smooth, reach)
    # The very ends show where the film ends, not where a patch does.
    end = reach + int(_END * along.size)
    rise[:end] = rise[-end:] = 0
    jump = np.abs(rise)
    peak = jump == ndimage.maximum_filter1d(jump, 2 * reach + 1)
    # What the scatter along the strip can pretend; neighbouring samples repeat the same pixels.
    scatter = np.sqrt(
        np.maximum(ndimage.uniform_filter1d((along - smooth) ** 2, max(9, along.size // 25), mode="nearest"), 0)
    )
    least = np.maximum(_STEP, 10.0 * scatter * np.sqrt(2.5 / reach))
    # A step counts by its root, so that the large ones do not drown the small ones.
    energy = np.where(peak & (jump > least), np.sqrt(np.minimum(jump, 0.5)), 0.0)
    # A flat peak counts once, at its middle.
    label, _ = ndimage.label(energy > 0)
    single = np.zeros_like(energy)
    for (piece,) in ndimage.find_objects(label):
        middle = (piece.start + piece.stop - 1) // 2
        single[middle] = np.sign(rise[middle]) * energy[piece].max()
    return single


def _score(energy: np.ndarray, starts: np.ndarray, ends: np.ndarray, count: int):
    """Step energy between patches and within them for pairs of start and end, each (a, b)."""
    position = np.flatnonzero(energy)
    strength = np.abs(energy[position])
    where = (position + 0.5) / energy.size
    a, b = np.meshgrid(starts, ends, indexing="ij")
    phase = (where - a[..., None]) / ((b - a)[..., None] / count)
    inner = (phase > 0.0) & (phase < count)
    off = np.abs(phase - np.rint(phase))
    at_boundary = np.clip(1 - off / 0.2, 0, None) * ((phase > -0.3) & (phase < count + 0.3))
    between = (strength * at_boundary).sum(-1)
    within = (strength * (inner & (off > 0.2))).sum(-1)
    outside = (strength * ((phase < -0.3) | (phase > count + 0.3))).sum(-1)
    return between, within, outside


def _best(energy: np.ndarray, count: int, room: float) -> tuple[float, float, float, float, float]:
    inset = np.linspace(0.0, room, 41 if room > _NO_ROOM else 9)
    starts, ends = inset, 1 - inset
    span = inset[1]
    best = (0.0, 1.0, 0.0, 0.0, 0.0)
    for _ in range(3):
        between, within, outside = _score(energy, starts, ends, count)
        a, b = np.meshgrid(starts, ends, indexing="ij")
        merit = between - 1.5 * within - 0.7 * outside - 0.4 * (a + 1 - b)
        i, j = np.unravel_index(int(np.argmax(merit)), merit.shape)
        best = (float(starts[i]), float(ends[j]), float(between[i, j]), float(within[i, j]), float(outside[i, j]))
        starts = np.clip(best[0] + np.linspace(-span, span, 15), 0, room)
        ends = np.clip(best[1] + np.linspace(-span, span, 15), 1 - room, 1)
        span /= 8
    return best


def _likely_count(energy: np.ndarray, count: int, room: float) -> int:
    """The count that explains the steps clearly better than `count`; `count` itself where none does."""

    def merit(n: int) -> tuple[float, float]:
        _, _, between, within, outside = _best(energy, n, room)
        stray = within + outside
        # More boundaries catch more by chance: each must earn its keep.
        return between - 1.5 * stray - 0.08 * n, stray / max(between + stray, 1e-9)

    own, own_stray = merit(count)
    start, end, _, _, _ = _best(energy, count, room)
    position = np.flatnonzero(energy)
    phase = ((position + 0.5) / energy.size - start) / (end - start) * count
    used = np.intersect1d(np.rint(phase), np.arange(1, count)).size
    off = np.abs(phase - np.rint(phase))
    strays = energy[position[off > 0.2]]
    drift = float(np.sqrt(np.mean(off[off <= 0.2] ** 2))) if (off <= 0.2).any() else 0.0
    # Small steps that go up and down by turns inside the patches are the texture of a fault, not more patches.
    if strays.size and abs(strays.sum()) < 0.4 * np.abs(strays).sum() and np.median(np.abs(strays)) < 0.5:
        return count
    if own_stray < 0.03 and used > 0.6 * (count - 1) and drift < _DRIFT:
        return count  # the steps lie right between the patches, and there are enough of them
    best, best_merit = count, own + 0.03 * abs(own) + 0.3
    for n in range(2, max(3 * count, 60) + 1):
        value, stray = merit(n)
        # A better count must leave few steps inside its patches.
        if value > best_merit and stray < max(0.5 * own_stray, 0.02):
            best, best_merit = n, value
    return best


def _left_over(along: np.ndarray, start: float, end: float, count: int, rebate: float) -> int:
    """How many patches lie outside the layout: what is there and is clearer than the border, or denser than a clear one."""
    clear = rebate < np.percentile(along, 10)
    pitch = (end - start) / count * along.size
    before, after = along[: int(start * along.size)][::-1], along[int(end * along.size) :]
    extra = 0
    for part in (before, after):
        chunk = part[int(0.2 * pitch) : int(0.8 * pitch)]
        if part.size <= 0.7 * pitch:
            continue
        denser = float(np.median(chunk)) - rebate
        if -denser > _NOT_REBATE or (clear and denser > _NOT_REBATE):
            extra += max(1, round(part.size / pitch))
    return extra
