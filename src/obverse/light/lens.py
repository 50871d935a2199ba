"""The lens of a projector: focal length, distance and width of the picture, by the thin lens.

The slide stands a little more than a focal length before the lens and its picture lies far behind it: with
1/f = 1/slide distance + 1/throw and width/window = throw/slide distance follows
throw = f (1 + width/window). Textbook optics (from memory); the same sums stand in public calculators
and are checked against their worked examples (record ``wall.thin_lens_example``).
"""

from __future__ import annotations

from typing import Literal

from obverse.foundation import MM_PER_M, InputError
from obverse.light.given import positive
from obverse.reference import number, record

Sought = Literal["width", "throw", "focal"]
UPRIGHT = ", upright"


def windows_mm() -> dict[str, tuple[float, float]]:
    """Windows of mounts by name, width and height as they stand in the projector; oblong ones upright as well.

    Returns
    -------
    dict of tuple of float
        mm, records ``wall.windows`` and ``wall.window_645``.
    """
    across = {**record("wall.windows").value, "6 x 4.5": record("wall.window_645").value}
    found: dict[str, tuple[float, float]] = {}
    for name, (width_mm, height_mm) in across.items():
        found[name] = (width_mm, height_mm)
        if width_mm != height_mm and name != "16 mm":
            found[name + UPRIGHT] = (height_mm, width_mm)
    return found


def window_mm(name: str) -> tuple[float, float]:
    """Width and height of one of `windows_mm`.

    Parameters
    ----------
    name : str
        Such as ``"6 x 4.5"``; with ``", upright"`` for an oblong one that stands upright.

    Returns
    -------
    tuple of float
        Width and height, mm.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    known = windows_mm()
    if name not in known:
        raise InputError(
            f"there is no mount {name!r}", where="gate of the mount", remedy="choose one of " + "; ".join(known)
        )
    return known[name]


def throw_m(focal_mm: float, width_m: float, window_mm: float) -> float:
    """Distance from the lens to the wall, m, for a picture `width_m` wide of a window `window_mm` wide.

    Parameters
    ----------
    focal_mm : float
        Focal length, mm.
    width_m : float
        Of the picture, m.
    window_mm : float
        Width of the window, mm.

    Returns
    -------
    float
        m.

    Raises
    ------
    InputError
        If one of them is not a finite number above 0.
    """
    positive(focal_mm, "focal length")
    positive(width_m, "width of the picture")
    positive(window_mm, "window")
    return focal_mm / MM_PER_M * (1 + width_m * MM_PER_M / window_mm)


def picture_width_m(focal_mm: float, throw_m: float, window_mm: float) -> float:
    """Width of the picture, m, from a lens `throw_m` away from the wall.

    Parameters
    ----------
    focal_mm : float
        Focal length, mm.
    throw_m : float
        Distance from the lens to the wall, m.
    window_mm : float
        Width of the window, mm.

    Returns
    -------
    float
        m.

    Raises
    ------
    InputError
        If the wall is no farther than the focal length, where there is no picture, or one of them is not a finite
        number above 0.
    """
    positive(focal_mm, "focal length")
    positive(throw_m, "distance")
    positive(window_mm, "window")
    enlarged = throw_m * MM_PER_M / focal_mm - 1
    if enlarged <= 0:
        raise InputError(
            f"a lens of {focal_mm:g} mm throws no picture on a wall {throw_m:g} m away",
            where="distance",
            remedy="give the distance from the lens to the wall in metres, and the focal length in millimetres",
        )
    return enlarged * window_mm / MM_PER_M


def focal_length_mm(throw_m: float, width_m: float, window_mm: float) -> float:
    """Focal length, mm, that makes a picture `width_m` wide from `throw_m` away.

    Parameters
    ----------
    throw_m : float
        Distance from the lens to the wall, m.
    width_m : float
        Of the picture, m.
    window_mm : float
        Width of the window, mm.

    Returns
    -------
    float
        mm.

    Raises
    ------
    InputError
        If one of them is not a finite number above 0.
    """
    positive(throw_m, "distance")
    positive(width_m, "width of the picture")
    positive(window_mm, "window")
    return throw_m * MM_PER_M / (1 + width_m * MM_PER_M / window_mm)


def lens_doubt() -> float:
    """How far a sum of this kind may lie off, as a share (record ``wall.thin_lens_doubt``).

    Returns
    -------
    float
        Share of the result, between 0 and 1.
    """
    return number("wall.thin_lens_doubt")
