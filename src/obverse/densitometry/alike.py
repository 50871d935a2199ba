"""Pictures of a bracket that add nothing to it: the same one twice, or finished ones of the same exposure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from obverse.foundation import Caution, Level
from obverse.imaging import Picture

_SMALL = 200  # pixels of a copy
_PERCENTS = np.linspace(5.0, 95.0, 19)  # of the copy, whose light is compared: that does not care what moved
_CLIPPED = 0.97  # of the light that clips; beyond it all exposures look alike
_DARK = 0.003  # of white, below which noise decides
# Natural logarithm of light. The least step of any dial, a third of a stop, is 0.23, of which a camera's curve may take a half.
_SAME = 0.06


def apart(pictures: Sequence[Picture]) -> tuple[list[Picture], list[Caution]]:
    """The pictures without those that say nothing new, and what is told of the others.

    Parameters
    ----------
    pictures : sequence of Picture
        Of one size. A picture given twice counts once, whatever its kind. Of finished pictures those that show the same light
        as another are left out too: they have a curve of the camera's own, which is found from how exposures differ, and
        between two that do not it would be found from their noise.
    """
    kept: list[Picture] = []
    said: list[Caution] = []
    for picture in pictures:
        twin = next((one for one in kept if _same(one, picture)), None)
        if twin is not None:
            words = (
                f"{picture.name} is the same picture as {twin.name} and counts once."
                if picture.name != twin.name
                else f"{picture.name} was given twice and counts once."
            )
            said.append(Caution("bracket.twice", words, Level.NOTE, where="bracket"))
            continue
        like = next((one for one in kept if _same_light(one, picture)), None)
        if like is not None:
            words = (
                f"{picture.name} shows the same light as {like.name} and was left out: only pictures of different exposures tell a "
                "camera's curve. Take the others two stops apart."
            )
            said.append(Caution("bracket.alike", words, Level.CAUTION, where="bracket"))
            continue
        kept.append(picture)
    return kept, said


def _same(one: Picture, other: Picture) -> bool:
    if one.codes is other.codes:
        return True
    if one.codes.shape != other.codes.shape:
        return False
    # Row by row: two exposures differ in the first of them, but where both are white; in the middle lies the strip.
    middle = one.height // 2
    return np.array_equal(one.codes[middle], other.codes[middle]) and all(map(np.array_equal, one.codes, other.codes))


def _same_light(one: Picture, other: Picture) -> bool:
    if one.encoding != "srgb" or other.encoding != "srgb":
        return False
    first, second = (np.percentile(p.reduced(_SMALL)[0], _PERCENTS) for p in (one, other))
    shown = np.minimum(first, second) > _DARK
    shown &= (first < _CLIPPED * one.clip_light) | (second < _CLIPPED * other.clip_light)
    return bool(shown.any() and np.abs(np.log(first[shown] / second[shown])).max() < _SAME)
