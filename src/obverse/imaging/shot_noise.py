"""How the noise of a camera goes with its light.

Light comes in quanta: where a sensor's own noise is small, the variance of what it counts goes as the count. A tone curve that is wrong by
an exponent makes it go as another power; so the noise of pictures whose curve is known but for its contrast tells the contrast.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from obverse.foundation import Array
from obverse.imaging.picture import Picture

_SIDE = 8  # pixels of a block: that of JPEG's, so that each holds all that was left of its noise
_BLOCKS = 40_000  # that are looked at, of each picture
_LOW, _HIGH = 0.08, 0.94  # of the scale: nearer to black or white the noise is cut off, or is the sensor's own
_TILT, _RANGE = 3 / 255, 12 / 255  # of the scale, from end to end of an even block, and between the ends of its pixels
_LEVELS, _FEWEST_LEVELS, _FEWEST_BLOCKS = 14, 5, 30  # of brightness; how many must be seen, and in how many blocks each
_LEAST_SD = 0.35 / 255  # of the scale: less than that compression rounds away
_LEAST_REACH = 1.5  # natural logarithm of light, over which a power can be told
_LEAST_LIGHT = 1e-7


def power_of_noise(pictures: Sequence[Picture], table: Array) -> float | None:
    """The power of light with which the variance of its noise goes, 1 where the table is right; None where too little is seen.

    Parameters
    ----------
    pictures : sequence of Picture
        Of one view at different exposures. What neighbours in exposure share from pixel to pixel is grain and dust, and is taken out.
    table : ndarray, shape (codes,)
        Linear light of each code.
    """
    order = sorted(pictures, key=lambda p: float(p.codes[::_SIDE, ::_SIDE, p.main_channel].mean()))
    unit, every = order[0].saturation, np.arange(table.size)
    slope = np.gradient(np.log(np.maximum(table, _LEAST_LIGHT)))
    seen = [_noise(a, b, slope, unit) for a, b in itertools.pairwise([_blocks(p) for p in order])]
    codes, variance = np.concatenate(seen, axis=1)
    level = np.floor((codes / unit - _LOW) / (_HIGH - _LOW) * _LEVELS)
    at, power = [], []
    for one in range(_LEVELS):
        here = level == one
        # The median: dust and edges are in some.
        if here.sum() >= _FEWEST_BLOCKS and (noise := float(np.median(variance[here]))) > (_LEAST_SD * unit) ** 2:
            code = codes[here].mean()
            at.append(np.log(np.interp(code, every, table)))
            power.append(np.log(noise) + 2 * (np.log(np.interp(code, every, slope)) + at[-1]))
    if len(at) < _FEWEST_LEVELS or np.ptp(at) < _LEAST_REACH:
        return None
    return float(np.polyfit(at, power, 1)[0])


@dataclass(frozen=True, eq=False)
class _Blocks:
    """Mean code of each block, what is left of its pixels without mean and tilts, and how far it differs from end to end."""

    mean: Array
    away: Array
    tilt: Array


def _blocks(picture: Picture) -> _Blocks:
    rows, columns = picture.height // _SIDE, picture.width // _SIDE
    every = max(1, rows * columns // _BLOCKS)
    codes = picture.codes[: rows * _SIDE, : columns * _SIDE, picture.main_channel]
    codes = codes.reshape(rows, _SIDE, columns, _SIDE)[::every].swapaxes(1, 2)
    away = codes.reshape(-1, _SIDE**2).astype(np.float32)
    mean = away.mean(axis=1)
    away -= mean[:, None]
    steps = (np.mgrid[:_SIDE, :_SIDE].reshape(2, -1) - (_SIDE - 1) / 2).astype(np.float32)
    tilts = away @ steps.T / (steps[0] @ steps[0])
    return _Blocks(mean, away - tilts @ steps, _SIDE * np.abs(tilts).max(axis=1))


def _noise(darker: _Blocks, brighter: _Blocks, slope: Array, unit: float) -> Array:
    """Codes and variance of the noise of even blocks that two pictures both show well, (2, blocks of both)."""
    both = (darker, brighter)
    even = np.logical_and.reduce(
        [
            (one.mean > _LOW * unit)
            & (one.mean < _HIGH * unit)
            & (one.tilt < _TILT * unit)
            & (np.ptp(one.away, axis=1) < _RANGE * unit)
            for one in both
        ]
    )
    means, aways = [one.mean[even] for one in both], [one.away[even] for one in both]
    bends = [np.interp(mean, np.arange(slope.size), slope) for mean in means]
    # Grain is alike in both as a share of the light.
    grain = (aways[0] * aways[1]).mean(axis=1) * bends[0] * bends[1]
    noise = [(away**2).mean(axis=1) - grain / bend**2 for away, bend in zip(aways, bends, strict=True)]
    return np.array([np.concatenate(means), np.concatenate(noise)])
