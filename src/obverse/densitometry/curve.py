"""Whether the tone curve of the pictures is known, and what not knowing it does to a density."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from obverse.foundation import Z90, Caution, InputError, Level
from obverse.imaging import Picture
from obverse.imaging.finding import Survey
from obverse.imaging.parts import brightened_by_parts
from obverse.imaging.response import response_of_bracket
from obverse.reference import number, record

_MOST_STOPS = 6  # between neighbours; farther apart two pictures of one strip show nothing in common
_FROM_PANEL = 0.3  # density by which a curve errs as much as it does anywhere
_PANEL_PERCENT = 98  # of a copy that is its panel
_DOUBTED = (
    1.5  # times what its fit says: curves by other hands bend otherwise between two knots than the fit takes them to
)
_SMALL = 200  # pixels of a copy that tells which picture is the brighter


@dataclass(frozen=True)
class Curve:
    """How well the tone curve of the pictures is known.

    Parameters
    ----------
    per_density, least : float
        Standard uncertainty of a density from it: `least` and `per_density` times the density, in quadrature.
    scale : (float, float)
        Factors, below and above 1, by which all densities may be wrong alike.
    free : bool
        Nothing is known but that a camera chose it: a shoulder may hide up to three quarters of a small density, and the
        contrast may be off by a third either way.
    flattened : float
        By how much more the contrast may have been lessened, 1 and more: what is dark over a large part was brightened.
    """

    per_density: float = 0.0
    least: float = 0.0
    scale: tuple[float, float] = (1.0, 1.0)
    free: bool = False
    flattened: float = 1.0
    cautions: tuple[Caution, ...] = ()

    def by_stops(self, density: float) -> tuple[float, float]:
        """How far below and above a density would be read, had other stops been meant; whatever else errs then errs there."""
        d = max(density, 0.0)
        return d * (1 - self.scale[0]), d * (self.scale[1] - 1)

    def away(self, density: float) -> tuple[float, float]:
        """How far the true density may lie below and above one that was read, for an interval of 90 %, the stops being as taken."""
        d = max(density, 0.0)
        if self.free:
            at, low, high = np.array(record("camera.tone_curve").value, dtype=float).T
            return d * (1 - float(np.interp(d, at, low))), d * (float(np.interp(d, at, high)) * self.flattened - 1)
        # The open panel has no uncertainty of its own: there the curve cancels.
        sd = math.hypot(self.least * min(d / _FROM_PANEL, 1.0), self.per_density * d)
        return Z90 * sd, Z90 * sd + d * (self.flattened - 1)


def curve_by_parts(curve: Curve, picture: Picture, seen: Survey) -> Curve:
    """The curve of a finished picture that was brightened part by part, where its own panel shows that.

    Parameters
    ----------
    curve : Curve
        As it is known so far.
    picture : Picture
        As it was decoded.
    seen : Survey
        What was made out in it.
    """
    if picture.encoding not in ("srgb", "response") or not brightened_by_parts(seen, picture.clip_light):
        return curve
    words = (
        "Beside what is dark the panel is brighter than elsewhere: the device brightened this picture part by part, as telephones do, and "
        "then no one curve holds; densities are only rough. Turn that off (often called high dynamic range), or take RAW."
    )
    said = Caution("picture.by_parts", words, Level.CAUTION, where=picture.name, source="camera.by_parts")
    return replace(curve, flattened=number("camera.by_parts"), cautions=(*curve.cautions, said))


def tone_curve_sd(density: np.ndarray) -> np.ndarray:
    """Standard uncertainty of densities read from a finished picture whose tone curve is only thought to be the standard one.

    Parameters
    ----------
    density : ndarray, shape (n,)
        As read.

    Returns
    -------
    ndarray, shape (n,)
        Half the interval of 90 % that the camera's curve leaves, over its normal deviate.
    """
    at, low, high = np.array(record("camera.tone_curve").value, dtype=float).T
    d = np.maximum(density, 0.0)
    return np.asarray(d * (np.interp(d, at, high) - np.interp(d, at, low)) / (2 * Z90), dtype=float)


def told(pictures: Sequence[Picture], stops: float | None) -> list[Picture]:
    """The pictures, with the exposures that follow from the stops the person named; those they state themselves go first, unless unfit.

    Parameters
    ----------
    stops : float or None
        Between neighbours in brightness.

    Raises
    ------
    InputError
        If the stops are no step of a bracket.
    """
    if stops is None:
        return list(pictures)
    if not 0 < stops <= _MOST_STOPS:
        raise InputError(
            f"{stops:g} stops between two pictures were given",
            where="stops",
            remedy=f"give a number above 0 and at most {_MOST_STOPS}",
        )
    order = np.argsort(np.argsort([float(p.reduced(_SMALL)[0].mean()) for p in pictures]))
    # Where only some state their own, the two kinds of exposure have no common unit.
    own = all(p.exposure_s for p in pictures)
    return [
        replace(p, told_exposure=float(2.0 ** (stops * rank)), exposure_s=p.exposure_s if own else None)
        for p, rank in zip(pictures, order, strict=True)
    ]


def _panel_doubt(picture: Picture, doubt: np.ndarray) -> float:
    """Standard uncertainty of a density from that of the curve where the open panel lies: towards white few places speak for it."""
    light, _ = picture.reduced(_SMALL)
    codes = np.interp(np.percentile(light, _PANEL_PERCENT), np.asarray(picture.table), np.arange(doubt.size))
    return _DOUBTED * float(np.interp(codes, np.arange(doubt.size), doubt))


def how_guessed(stops: float | None, possible: tuple[float, float], *, stated: bool) -> str:
    """What is told of a tone curve whose exposures were guessed.

    Parameters
    ----------
    stops : float, optional
        That were taken to lie between neighbours; None where the standard curve's contrast was taken.
    possible : (float, float)
        The fewest and the most that may lie there.
    stated : bool
        Exposures are written in the pictures, and were not believed.
    """
    words = "" if stated else "No shutter times are written in the pictures. "
    words += "The tone curve was found from the bracket itself, "
    if stops is not None:
        fewest, most = (f"{one:.3g}" for one in possible)
        meant = f"; {fewest} to {most} may be meant, and the interval holds them" if fewest != most else ""
        words += f"taken as {stops:.3g} {'stop' if stops == 1 else 'stops'} between neighbours{meant}. "
    else:
        words += "its contrast as the standard curve has it. "
    return words + "Say how many stops there were, and the interval narrows."


def known_curve(pictures: Sequence[Picture]) -> tuple[list[Picture], Curve]:
    """The pictures, decoded by a curve measured in them where they show one, and how well it is known.

    Parameters
    ----------
    pictures : sequence of Picture
        One, or a bracket of one view.
    """
    if not any(p.encoding == "srgb" for p in pictures):
        return list(pictures), Curve()
    found = response_of_bracket(pictures) if all(p.encoding == "srgb" for p in pictures) else None
    if found is None:
        words = (
            "The picture was decoded by the standard sRGB curve; a camera's own tone curve is not the standard's, and the interval "
            "allows for that. A bracket two stops apart, a RAW picture or a step tablet in the same set-up would tell the curve."
        )
        said = Caution("curve.standard", words, Level.CAUTION, where="picture", source="camera.tone_curve")
        return list(pictures), Curve(free=True, cautions=(said,))
    # Exposures that the curve was found with tie pictures together that share too little of the strip for that, and name each
    # time by the dial that the bracket was taken with.
    decoded = [
        replace(p, encoding="response", table=found.table, told_exposure=exposure, exposure_s=None)
        for p, exposure in zip(pictures, found.exposures, strict=True)
    ]
    share = number("camera.bracket_curve")
    least = min(_panel_doubt(p, found.doubt) for p in decoded)
    doubts: tuple[Caution, ...] = ()
    if found.unfit:
        words = (
            "The exposures written in the pictures (shutter time, aperture, sensitivity) do not fit what the pictures show and were not "
            "used. Something else changed between them: hold aperture and sensitivity, and let only the time change."
        )
        doubts = (Caution("curve.exposures", words, Level.CAUTION, where="picture"),)
    if found.timed:
        how = (
            "the shutter times in the pictures"
            if pictures[0].exposure_s and not found.unfit
            else "the stops that were given"
        )
        words = f"The tone curve was found from the bracket itself, by {how}."
        said = Caution("curve.bracket", words, Level.NOTE, where="picture")
        return decoded, Curve(math.hypot(share, found.ratio_sd), least, cautions=(*doubts, said))
    words = how_guessed(found.stops, found.possible, stated=found.unfit)
    said = Caution("curve.untimed", words, Level.CAUTION, where="picture", source="camera.tone_curve")
    if found.stops is None:
        return decoded, Curve(free=True, cautions=(*doubts, said))
    # Other stops would make the whole curve steeper or flatter.
    scale = found.possible[0] / found.stops, found.possible[1] / found.stops
    return decoded, Curve(share, least, scale, cautions=(*doubts, said))
