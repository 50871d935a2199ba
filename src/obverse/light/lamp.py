"""Re-exposure: how much light a film gets from a lamp, and how evenly."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, InputError, JsonObject, Source
from obverse.light.given import positive
from obverse.reference import number, record

How = Literal["hand", "reel"]

# Enough places along or across a film that the worst lit one is found within a percent.
PLACES = 41
# A 135 film of 36 frames, and the turns of a usual spiral; common practice, no source.
FILM_LENGTH_M, FILM_WIDTH_M, GAP_M = 1.6, 0.035, 0.0015


def bare_lamp_lux(flux_lm: float, distance_m: ArrayLike) -> Array:
    """Illuminance at a distance from a bare lamp that shines alike all round: flux / (4 pi d^2).

    Parameters
    ----------
    flux_lm : float
        Of the lamp, lm.
    distance_m : array_like
        From the lamp, m; greater than zero.

    Returns
    -------
    array
        lx, of the shape of `distance_m`.
    """
    positive(flux_lm, "flux")
    d = np.asarray(distance_m, dtype=float)
    if np.any(~(d > 0)):
        raise InputError("a distance must be greater than 0", where="distance", remedy="give it in metres")
    return flux_lm / (4 * math.pi * d**2)


def along_film(length_m: float, distance_m: float) -> tuple[Array, Array]:
    """Light along a film stretched out in front of a lamp, as a fraction of that at its middle.

    The film faces the lamp, which stands off its middle: cos^3 of the angle.

    Parameters
    ----------
    length_m : float
        Of the film, m.
    distance_m : float
        From the lamp, m; greater than zero.

    Returns
    -------
    place_m, fraction : (PLACES,) arrays
        Place from the middle of the film, and light there over light at the middle.
    """
    positive(length_m, "film length")
    positive(distance_m, "distance")
    place = np.linspace(-length_m / 2, length_m / 2, PLACES)
    return place, (distance_m / np.hypot(distance_m, place)) ** 3


def into_reel(width_m: float, gap_m: float) -> tuple[Array, Array]:
    """Light across a film left on its reel, as a fraction of the light that falls on the open side.

    Light comes in between two turns from both sides, from all directions alike; what wet halide and
    reel reflect is left out, so this is the least it gets.

    Parameters
    ----------
    width_m : float
        Of the film.
    gap_m : float
        Between two turns.

    Returns
    -------
    tuple of arrays
        Place across the film in m, and light there as a fraction; (PLACES,) each.
    """
    positive(width_m, "film width")
    positive(gap_m, "gap between turns")
    across = np.linspace(0, width_m, PLACES)

    def from_side(depth: Array) -> Array:
        result: Array = (1 - depth / np.hypot(depth, gap_m)) / 2
        return result

    return across, from_side(across) + from_side(width_m - across)


@dataclass(frozen=True, slots=True)
class Reexposure:
    """What a film gets.

    Parameters
    ----------
    lux : float
        At the film facing the lamp at its nearest.
    most_lx_s, least_lx_s : float
        Of the best and the worst lit place, all sides together.
    verdict : {"ample", "likely", "unknown", "too_little"}
    words : str
        The verdict in a sentence, with what it rests on.
    """

    lux: float
    most_lx_s: float
    least_lx_s: float
    verdict: str
    words: str
    source: Source

    @property
    def evenness(self) -> float:
        """Light of the worst over that of the best lit place."""
        return self.least_lx_s / self.most_lx_s

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "lux": self.lux,
            "most_lx_s": self.most_lx_s,
            "least_lx_s": self.least_lx_s,
            "evenness": self.evenness,
            "verdict": self.verdict,
            "words": self.words,
            "standing": self.source.words,
        }


def reexpose(
    flux_lm: float | None = None,
    distance_m: float | None = None,
    seconds_a_side: float = 60.0,
    *,
    lux: float | None = None,
    box_speed: float = 100.0,
    sides: int = 2,
    how: How = "hand",
    film_length_m: float = FILM_LENGTH_M,
    film_width_m: float = FILM_WIDTH_M,
    gap_m: float = GAP_M,
) -> Reexposure:
    """Light that the film gets, where it gets least, and whether that is known to be enough.

    Held by hand the emulsion gets the light of its own side, and that of the other through the base
    (record ``wall.base_passes``). On the reel both open sides are lit in turn.

    Parameters
    ----------
    flux_lm : float, optional
        Of a bare lamp, lm.
    distance_m : float, optional
        From the lamp, m; greater than zero.
    seconds_a_side : float
        Light on each side, s.
    lux : float, optional
        The illuminance at the film, even all over, in place of a lamp: a panel, daylight.
    box_speed : float, optional
        Of the film: a slow one needs more. What the bleach does to its speed nobody has published.
    sides : int, optional
        1 or 2.
    how : How, optional
        Held by hand, or left on its reel.
    film_length_m : float, optional
        m.
    film_width_m : float, optional
        m.
    gap_m : float, optional
        Between two turns of the reel, m.

    Returns
    -------
    Reexposure
        Light at the best and the worst lit place, and the verdict with its source.

    Raises
    ------
    InputError
        For amounts that cannot be.
    """
    positive(seconds_a_side, "time")
    if sides not in (1, 2):
        raise InputError(f"a film has no {sides} sides", where="sides", remedy="give 1 or 2")
    positive(box_speed, "box speed")
    even = lux is not None
    if lux is None:
        if flux_lm is None or distance_m is None:
            raise InputError(
                "nothing says how bright the light is", where="lamp", remedy="give lumens and distance, or lux"
            )
        lux = float(bare_lamp_lux(flux_lm, distance_m))
    positive(lux, "illuminance")
    if how == "hand":
        share = np.ones(1) if even or distance_m is None else along_film(film_length_m, distance_m)[1]
        lit_s = seconds_a_side * (1 + (number("wall.base_passes") if sides == 2 else 0.0))
        most, least = lux * lit_s * share.max(), lux * lit_s * share.min()
        # Judged by the emulsion's own side: the home recipe on record is counted so.
        judged = lux * seconds_a_side * share.min()
    elif how == "reel":
        _, share = into_reel(film_width_m, gap_m)
        # Each side is lit for its own time: half of the two-sided sum at any moment.
        lit = lux * seconds_a_side * (share if sides == 2 else _one_side(film_width_m, gap_m))
        most, least = float(lit.max()), float(lit.min())
        judged = least
    else:
        raise InputError(f"a film cannot be lit {how!r}", where="how", remedy="use hand or reel")
    verdict, words, source = _judge(float(judged), box_speed)
    return Reexposure(lux, float(most), float(least), verdict, words, source)


def _one_side(width_m: float, gap_m: float) -> Array:
    depth = np.linspace(0, width_m, PLACES)
    return (1 - depth / np.hypot(depth, gap_m)) / 2


def _judge(least_lx_s: float, box_speed: float) -> tuple[str, str, Source]:
    home = record("reexp-home")
    ample = home.value["lx_s"][0]
    fresh = record("wall.fresh_film_full")
    full_lx_s = fresh.number * fresh.inputs["speed"] / box_speed
    if least_lx_s >= ample:
        return (
            "ample",
            f"The worst lit place gets {_short(least_lx_s)} lx s, at least what a home recipe on record gives ({_short(ample)} lx s and more).",
            home.source,
        )
    if least_lx_s >= number("wall.reexposure_margin") * full_lx_s:
        return (
            "likely",
            f"The worst lit place gets {_short(least_lx_s)} lx s, less than the home recipe on record but {least_lx_s / full_lx_s:.0f} times what blackens a fresh film of this speed wholly; bleached wet halide is slower by an unknown factor. More light does no harm.",
            fresh.source,
        )
    if least_lx_s >= full_lx_s:
        return (
            "unknown",
            f"The worst lit place gets {_short(least_lx_s)} lx s, little more than blackens a fresh film; whether it is enough for bleached wet halide nobody has published: give more, it does no harm.",
            fresh.source,
        )
    return (
        "too_little",
        f"The worst lit place gets {_short(least_lx_s)} lx s, less than a fresh film needs ({_short(full_lx_s)} lx s): expect thin blacks. More light does no harm.",
        fresh.source,
    )


def _short(value: float) -> str:
    return f"{value:.0f}" if value < 1000 else f"{round(value, -int(math.log10(value)) + 1):,.0f}".replace(",", " ")


# Light or a fogging bath: the same end, different risks. Shown side by side, each common practice.
FOGGING_COMPARED: tuple[tuple[str, str, str], ...] = (
    (
        "What it needs",
        "a strong lamp, minutes, the film off its reel or the reel turned",
        "a fresh bath, no lamp, the lid may stay on",
    ),
    ("Reaches every place", "only what the lamp sees; edges and inner turns get least", "wherever the bath reaches"),
    ("Too little shows as", "thin blacks, uneven along the film", "thin blacks, all over"),
    (
        "What it asks of the air",
        "nothing; a wet film near a hot lamp and mains needs care",
        "dithionite gives off sulfur dioxide, more with acid: see the cautions of the route",
    ),
)
