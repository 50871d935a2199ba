"""What the eye makes of it: lightness, and the surround."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, InputError
from obverse.reference import record

# CIE 1976 L*: below this fraction of white the curve is a straight line.
_LINEAR_END = (6 / 29) ** 3
_LINEAR_SLOPE = (29 / 3) ** 3
_ROOT_SLOPE, _ROOT_OFFSET = 116.0, 16.0

SURROUNDS = ("average", "dim", "dark")

SURROUND_MODELS: dict[str, str] = {
    "none": "no surround model: the monitor shows the same relative luminances as the wall",
    "classic": "exponents 1, 1.25, 1.5 for light, dim and dark surround (after Bartleson and Breneman 1967, second-hand)",
    "rlab": "exponents 1/2.3, 1/2.9, 1/3.5 of RLAB",
    "ciecam02": "the surround factors c of CIECAM02 (0.69, 0.59, 0.525), used as plain exponents",
}


def lightness(relative: ArrayLike) -> Array:
    """CIE 1976 L*, 0 to 100, of luminance as a fraction of white; any shape.

    Parameters
    ----------
    relative : array_like
        Luminance as a fraction of white, zero or more; any shape.

    Returns
    -------
    array
        0 to 100, same shape.
    """
    y = np.asarray(relative, dtype=float)
    if np.any(~np.isfinite(y)) or np.any(y < 0):
        raise InputError("a relative luminance cannot be negative", where="lightness")
    return np.where(y > _LINEAR_END, _ROOT_SLOPE * np.cbrt(y) - _ROOT_OFFSET, _LINEAR_SLOPE * y)


def relative_luminance(lightness_l: ArrayLike) -> Array:
    """Luminance as a fraction of white of CIE 1976 L*, 0 to 100; the inverse of `lightness`, any shape.

    Parameters
    ----------
    lightness_l : array_like
        CIE 1976 L*, 0 to 100; any shape.

    Returns
    -------
    array
        0 to 1, same shape.
    """
    l_star = np.asarray(lightness_l, dtype=float)
    return np.where(
        l_star > _LINEAR_SLOPE * _LINEAR_END, ((l_star + _ROOT_OFFSET) / _ROOT_SLOPE) ** 3, l_star / _LINEAR_SLOPE
    )


def wanted_gradient(surround: str) -> float:
    """Gradient of the whole chain, from scene to wall, that looks right in a surround (record ``surround-classic``).

    Parameters
    ----------
    surround : {"average", "dim", "dark"}

    Raises
    ------
    InputError
        For another surround.
    """
    if surround not in SURROUNDS:
        raise InputError(
            f"no surround is called {surround!r}", where="surround", remedy=f"use one of {', '.join(SURROUNDS)}"
        )
    return float(record("surround-classic").value[SURROUNDS.index(surround)])


def surround_exponent(model: str, seen_in: str = "dark", shown_in: str = "dim") -> float:
    """Exponent that turns relative luminance `seen_in` one surround into what looks alike `shown_in` another.

    A picture in the dark looks flatter than the same luminances in a lit room; shown on a monitor
    in a lit room it must therefore be made flatter: the exponent is then less than 1. The models
    disagree (0.66 to 0.76 from dark to average); the one used is always named.

    Parameters
    ----------
    model : str
        One of `SURROUND_MODELS`.
    seen_in : str, optional
        Surround in which the picture is meant to be seen.
    shown_in : str, optional
        Surround in which it is shown.

    Returns
    -------
    float
        Under 1 where the picture must be made flatter.
    """
    if model not in SURROUND_MODELS:
        raise InputError(
            f"no surround model is called {model!r}",
            where="surround",
            remedy=f"use one of {', '.join(SURROUND_MODELS)}",
        )
    for name in (seen_in, shown_in):
        if name not in SURROUNDS:
            raise InputError(
                f"no surround is called {name!r}", where="surround", remedy=f"use one of {', '.join(SURROUNDS)}"
            )
    if model == "none":
        return 1.0
    ratio = {
        "classic": record("surround-classic").value,
        "rlab": record("surround-rlab").value["ratio"],
        "ciecam02": record("surround-ciecam02").value["ratio_avg_over"],
    }[model]
    by = dict(zip(SURROUNDS, ratio, strict=True))
    return float(by[shown_in] / by[seen_in])
