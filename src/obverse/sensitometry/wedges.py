"""Brackets of evenly lit frames that stand in for a step tablet."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array, InputError

# More than any shutter and aperture range at home can give; what lies beyond is a typing slip.
MOST_STOPS = 12.0
# Five stops either way reach both ends of a reversal curve; common practice, no source.
USUAL_STOPS = 5.0


def stops_to_log_exposure(stops: float) -> float:
    """One stop doubles the exposure: 0.301 in log exposure.

    Parameters
    ----------
    stops : float
        A factor of two of exposure each.

    Returns
    -------
    float
        log10.
    """
    return stops * math.log10(2)


# Whole stops as shutters are marked, in seconds; a bracket by half or third stops falls between.
MARKED_TIMES_S = (
    *(1 / n for n in (8000, 4000, 2000, 1000, 500, 250, 125, 60, 30, 15, 8, 4, 2)),
    *(1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0),
)
# A shutter gives its marked time no better than this, in stops.
MARK_TOLERANCE_STOPS = 0.12
# Up to half a second a time is marked as a fraction.
LONGEST_FRACTION_S = 0.6


def shutter_words(time_s: float) -> str:
    """A shutter time as a shutter is marked; between marks, which two it lies between; past them, that it does.

    Parameters
    ----------
    time_s : float
        Greater than 0.

    Examples
    --------
    >>> shutter_words(0.0166)
    '1/60 s'
    >>> shutter_words(1 / 90)
    '1/90 s, between the marks 1/125 s and 1/60 s'
    """
    nearest = min(MARKED_TIMES_S, key=lambda mark: abs(math.log2(mark / time_s)))
    if abs(math.log2(nearest / time_s)) <= MARK_TOLERANCE_STOPS:
        return _time(nearest)
    if time_s < MARKED_TIMES_S[0]:
        return f"{_time(time_s)}, shorter than shutters give: close the aperture or take light away"
    if time_s > MARKED_TIMES_S[-1]:
        return f"{_time(time_s)}, by a watch"
    after = next(i for i, mark in enumerate(MARKED_TIMES_S) if mark > time_s)
    return f"{_time(time_s)}, between the marks {_time(MARKED_TIMES_S[after - 1])} and {_time(MARKED_TIMES_S[after])}"


def _time(time_s: float) -> str:
    if time_s < LONGEST_FRACTION_S:
        whole = 1 / time_s
        return f"1/{round(whole) if whole < 1000 else round(whole, -1):.0f} s"
    return f"{time_s:.1f} s" if time_s < 10 and time_s != round(time_s) else f"{time_s:.0f} s"


@dataclass(frozen=True, slots=True)
class Shot:
    """One frame of a bracket.

    Parameters
    ----------
    frame : int
        From 1, in the order of shooting.
    stops : float
        Against the metered exposure at box speed; +1 gives twice the light.
    log_exposure : float
        The same as log10.
    shutter_s : float or None
        Exposure time where a metered time was given, by the exact ratio.
    """

    frame: int
    stops: float
    log_exposure: float
    shutter_s: float | None = None

    @property
    def shutter(self) -> str | None:
        """The exposure time in words."""
        return None if self.shutter_s is None else shutter_words(self.shutter_s)

    def document(self) -> dict[str, float | int | str | None]:
        """The JSON shape."""
        return {
            "frame": self.frame,
            "stops": self.stops,
            "log_exposure": self.log_exposure,
            "shutter_s": self.shutter_s,
            "shutter": self.shutter,
        }


def shot_list(
    low_stops: float = -USUAL_STOPS,
    high_stops: float = USUAL_STOPS,
    step_stops: float = 1.0,
    *,
    metered_shutter_s: float | None = None,
) -> tuple[Shot, ...]:
    """A bracket of evenly lit frames from the least to the greatest exposure.

    Parameters
    ----------
    low_stops, high_stops : float
        Ends of the bracket against the metered exposure.
    step_stops : float
        Distance of frames, commonly 1, 0.5 or 1/3.
    metered_shutter_s : float, optional
        Metered shutter time at a fixed aperture; each shot then carries its own time.

    Returns
    -------
    tuple of Shot
        From the least to the greatest exposure.

    Raises
    ------
    InputError
        If the bracket is empty, endless or absurd.
    """
    for name, value in (("low", low_stops), ("high", high_stops)):
        if not abs(value) <= MOST_STOPS:
            raise InputError(
                f"{name} {value} stops is out of reach",
                where="bracket",
                remedy=f"stay within {MOST_STOPS:g} stops of the metered exposure",
            )
    if not high_stops > low_stops:
        raise InputError(
            f"the bracket ends at {high_stops} where it begins at {low_stops} or later",
            where="bracket",
            remedy="give low below high",
        )
    if not 0.1 <= step_stops <= high_stops - low_stops:
        raise InputError(
            f"a step of {step_stops} stops cannot divide the bracket",
            where="bracket",
            remedy="use 1, 0.5 or 0.333 stops",
        )
    if metered_shutter_s is not None and not 0 < metered_shutter_s <= 3600:
        raise InputError(
            f"a metered time of {metered_shutter_s} s cannot be",
            where="shutter",
            remedy="give seconds, such as 0.008 for 1/125",
        )
    count = math.floor((high_stops - low_stops) / step_stops + 1e-6) + 1
    shots = []
    for index in range(count):
        stops = round(low_stops + index * step_stops, 6)
        time = None if metered_shutter_s is None else metered_shutter_s * 2**stops
        shots.append(Shot(index + 1, stops, stops_to_log_exposure(stops), time))
    return tuple(shots)


def read_frames(
    shots: tuple[Shot, ...], densities: ArrayLike, *, skipped: frozenset[int] | set[int] = frozenset()
) -> tuple[Array, Array]:
    """Pair the densities of the developed frames with the shots of the list.

    Parameters
    ----------
    densities : sequence of float
        One for each frame not skipped, in the order of shooting.
    skipped : set of int
        Frames that were lost, by number.

    Returns
    -------
    tuple of arrays
        log_exposure (N,), density (N,).

    Raises
    ------
    InputError
        If the counts differ: nothing is guessed about which frame is missing.
    """
    used = [shot for shot in shots if shot.frame not in skipped]
    d = np.asarray(densities, dtype=float)
    if d.shape != (len(used),):
        raise InputError(
            f"{d.size} densities for {len(used)} frames of the shot list",
            where="frames",
            remedy="name the frames that were skipped, or read the missing ones",
        )
    return np.array([shot.log_exposure for shot in used]), d
