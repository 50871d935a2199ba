"""Light on the wall: from lamp, screen and slide to luminance, contrast and the largest picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, Caution, InputError, Level
from obverse.light.given import positive
from obverse.reference import number, record

# The international foot, exact.
FOOT_M = 0.3048
# One foot-lambert is 1/pi candela per square foot.
CD_M2_PER_FOOT_LAMBERT = 1 / (math.pi * FOOT_M**2)
# A frame of 36 x 24 mm.
SLIDE_ASPECT = 36 / 24
# Mean of the squared distance from the middle over a rectangle, 1 at its corners: the open gate is that of the mean.
MEAN_SQUARE = 1 / 3


def foot_lamberts(luminance_cd_m2: ArrayLike) -> Array:
    """Foot-lamberts of a luminance in cd/m2.

    Parameters
    ----------
    luminance_cd_m2 : array_like
        cd/m2.

    Returns
    -------
    array
        fL, same shape.
    """
    return np.asarray(luminance_cd_m2, dtype=float) / CD_M2_PER_FOOT_LAMBERT


def candelas_per_m2(luminance_fl: ArrayLike) -> Array:
    """cd/m2 of a luminance in foot-lamberts.

    Parameters
    ----------
    luminance_fl : array_like
        Any shape.

    Returns
    -------
    array
        cd/m2, same shape.
    """
    return np.asarray(luminance_fl, dtype=float) * CD_M2_PER_FOOT_LAMBERT


def screen_luminance_cd_m2(flux_lm: float, area_m2: float, gain: float = 1.0) -> float:
    """Luminance of the open gate on the screen: gain x flux / (pi x area). A matt white wall has gain 1 or less.

    Parameters
    ----------
    flux_lm : float
        Of the lamp, lm.
    area_m2 : float
        Of the picture on the screen, m2.
    gain : float, optional
        Of the screen; a matt white wall has 1 or less.

    Returns
    -------
    float
        cd/m2.
    """
    positive(flux_lm, "flux")
    positive(area_m2, "screen area")
    positive(gain, "screen gain")
    return gain * flux_lm / (math.pi * area_m2)


def largest_width_m(flux_lm: float, luminance_cd_m2: float, aspect: float = SLIDE_ASPECT, gain: float = 1.0) -> float:
    """Width of the picture (`aspect` = width / height) at which the open gate still has that luminance.

    Parameters
    ----------
    flux_lm : float
        Of the lamp, lm.
    luminance_cd_m2 : float
        Wanted of the open gate, cd/m2.
    aspect : float, optional
        Width over height of the picture.
    gain : float, optional
        Of the screen; a matt white wall has 1 or less.

    Returns
    -------
    float
        m.
    """
    positive(luminance_cd_m2, "luminance")
    positive(aspect, "ratio of width to height")
    return math.sqrt(aspect * gain * flux_lm / (math.pi * luminance_cd_m2))


def on_screen(density: ArrayLike, stray: float) -> Array:
    """Light of a tone as a fraction of the open gate, with stray light on the screen.

    Parameters
    ----------
    density : array_like
        As the projector sees it, base included.
    stray : float
        Luminance of a black spot over that of the open gate, 0 to under 1: room light and flare.
        It is added everywhere; no black goes under it.

    Returns
    -------
    array
        1 is the open gate without stray light; same shape.
    """
    if not 0 <= stray < 1:
        raise InputError(
            f"stray light of {stray:g} of the open gate cannot be",
            where="stray light",
            remedy="give a fraction from 0 to under 1",
        )
    return 10.0 ** -np.asarray(density, dtype=float) + stray


def out_of_middle(across: ArrayLike, down: ArrayLike, aspect: float) -> Array:
    """Distance of a place from the middle of the picture, 1 at its corners.

    Parameters
    ----------
    across, down : array_like
        Place in the picture, each from -1 to 1.
    aspect : float
        Width over height of the picture.

    Returns
    -------
    array
        Same shape.
    """
    distance: Array = np.hypot(np.asarray(across, dtype=float), np.asarray(down, dtype=float) / aspect)
    return distance / math.hypot(1, 1 / aspect)


def fall_off(out: ArrayLike, corner_light: float) -> Array:
    """Light of the open gate at a place, over its mean over the picture.

    Its logarithm falls with the square of the distance from the middle: what `obverse.light.fit_wall` reads off a photograph.

    Parameters
    ----------
    out : array_like
        Distance from the middle; 0 there, 1 at the corners.
    corner_light : float
        Light at the corners over that of the middle, above 0 and at most 1.

    Returns
    -------
    array
        Over 1 in the middle, under 1 at the corners; same shape.

    Raises
    ------
    InputError
        For a corner without light, or lighter than the middle.
    """
    if not 0 < corner_light <= 1:
        raise InputError(
            f"corners with {corner_light:g} of the light of the middle cannot be",
            where="fall-off",
            remedy="give a fraction above 0 and at most 1",
        )
    light: Array = corner_light ** (np.square(np.asarray(out, dtype=float)) - MEAN_SQUARE)
    return light


def contrast_left(dmax: float, dmin: float, stray: float) -> float:
    """Contrast of the lightest to the darkest tone on the screen (record ``flare-contrast``).

    Parameters
    ----------
    dmax : float
        Greatest density, with base.
    dmin : float
        Least density, with base.
    stray : float
        Luminance of a black spot over that of the open gate, 0 to under 1.

    Returns
    -------
    float
        A ratio, 1 or more.
    """
    light, dark = on_screen([dmin, dmax], stray)
    return float(light / dark)


@dataclass(frozen=True, slots=True)
class BaseCost:
    """What a base takes of the light: transmittance, stops, and how much narrower the picture must be."""

    density: float
    transmittance: float
    stops: float
    width_factor: float


def base_cost(base_density: float) -> BaseCost:
    """The cost of a base in light. The same screen luminance needs the picture narrower by 10^(-D/2).

    Parameters
    ----------
    base_density : float
        Of the bare support, 0 to 3.

    Returns
    -------
    BaseCost
        Transmittance, stops, and the factor on the width.
    """
    if not 0 <= base_density <= 3:
        raise InputError(
            f"a base density of {base_density:g} cannot be", where="base density", remedy="give one from 0 to 3"
        )
    passed = 10.0**-base_density
    return BaseCost(base_density, passed, base_density / math.log10(2.0), math.sqrt(passed))


def luminance_caution(luminance_cd_m2: float) -> Caution | None:
    """What published practice says of an open gate of this luminance; None inside the cinema window.

    Parameters
    ----------
    luminance_cd_m2 : float
        Of the open gate, cd/m2.
    """
    aim = record("smpte196").value
    low, high = aim["cd_m2"] - aim["cd_m2_tol"], aim["cd_m2"] + aim["cd_m2_tol"]
    if low <= luminance_cd_m2 <= high:
        return None
    if luminance_cd_m2 < low:
        text = f"The open gate has {luminance_cd_m2:.0f} cd/m2, under the cinema practice of {low:g} to {high:g}; make the picture smaller or the room darker."
    else:
        text = f"The open gate has {luminance_cd_m2:.0f} cd/m2, over the cinema practice of {low:g} to {high:g}; there is light to spare for a larger picture or a denser slide."
    return Caution("wall.luminance", text, Level.NOTE if luminance_cd_m2 > high else Level.CAUTION, source="smpte196")


def heat_caution(base_tint: str) -> Caution | None:
    """Heat and the base: None for a base known to be clear.

    Parameters
    ----------
    base_tint : str
        As the film has it: "clear", "grey" or another word.
    """
    if base_tint == "clear":
        return None
    said = "A grey base" if base_tint == "grey" else "A base of unknown kind"
    return Caution(
        "wall.heat",
        f"{said} may be acetate, which bulges in the heat of the gate and takes up more of it: keep the heat filter in, show it briefly, watch the first slide; what the projector's manual says comes first.",
        Level.CAUTION,
        source="wall.acetate_heat",
    )


def callier_projector() -> tuple[float, float]:
    """Range of the Callier factor of a slide projector with silver images (common practice).

    Returns
    -------
    tuple of float
        Least and greatest.
    """
    low, high = record("wall.callier_projector").value
    return low, high


def cinema_luminance_cd_m2() -> float:
    """The open gate of cinema practice, 16 fL, in cd/m2.

    Returns
    -------
    float
        cd/m2.
    """
    return float(candelas_per_m2(record("smpte196").value["fL"]))


def readable_range() -> float:
    """Ratio of tones that a projected slide shows readably (record ``rev-readable-range``).

    Returns
    -------
    float
        A ratio.
    """
    return number("rev-readable-range")
