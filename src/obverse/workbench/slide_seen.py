"""A slide that was made, against what exposure notes and recipe promised: the meter and the process.

Densities read on the panel are set against the curve of the recipe at the exposures that were noted. Three things
can make them depart together: all got more or less light than noted (meter, shutter, or a first development that
went further), the blacks are denser or thinner, the highlights murkier or clearer. What is left is patch by patch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from obverse.foundation import Array, Estimate, InputError, JsonObject
from obverse.light import STOP
from obverse.process import Exposed
from obverse.reference import number
from obverse.workbench.light_table import exposure_errors
from obverse.workbench.slide_curve import SlideCurve

# One reading parts nothing; two may still say that all lies off one way.
FEWEST_READINGS = 2
# What is looked for is so many times larger than what strips of one recipe differ by.
MUCH = 4.0
SHIFT, BLACKS, HIGHLIGHTS = range(3)
# So many standard uncertainties are told as a departure.
TOLD = 2.0
# Beside the curve's straight ends a reading hangs on exposure by the slope over so much to either side.
NEAR = 0.05


@dataclass(frozen=True, slots=True)
class Departure:
    """What one cause makes of all readings together.

    Parameters
    ----------
    key : {"exposure", "blacks", "highlights"}
    by : Estimate
        In stops of light, or in density.
    told : bool
        Whether it is more than its doubt.
    """

    key: str
    by: Estimate
    told: bool
    words: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {"key": self.key, "by": self.by.document(), "told": self.told, "words": self.words}


@dataclass(frozen=True, slots=True)
class SlideSeen:
    """Densities that were promised and seen, and how they depart. See `slide_seen`.

    Parameters
    ----------
    log_exposure, promised, promised_sd, seen, seen_sd, off_sd : (N,) arrays
        `off_sd`: what the three departures leave, in standard uncertainties.
    """

    name: str
    log_exposure: Array
    promised: Array
    promised_sd: Array
    seen: Array
    seen_sd: Array
    off_sd: Array
    departures: tuple[Departure, ...]

    @property
    def as_promised(self) -> bool:
        """Whether nothing departs by more than its doubt."""
        return not any(one.told for one in self.departures)

    @property
    def words(self) -> str:
        """In one sentence, what the slide says of recipe and notes."""
        told = [one.words for one in self.departures if one.told]
        return (
            " ".join(told) if told else f"The slide came out as {self.name} and the notes promised, within their doubt."
        )

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "name": self.name,
            "as_promised": self.as_promised,
            "words": self.words,
            "departures": [one.document() for one in self.departures],
            "patches": [
                {
                    "log_exposure": float(x),
                    "promised": float(p),
                    "promised_sd": float(ps),
                    "seen": float(s),
                    "seen_sd": float(ss),
                    "off_sd": float(o),
                }
                for x, p, ps, s, ss, o in zip(
                    self.log_exposure,
                    self.promised,
                    self.promised_sd,
                    self.seen,
                    self.seen_sd,
                    self.off_sd,
                    strict=True,
                )
            ],
        }


def slide_seen(
    curve: SlideCurve,
    log_exposure: Sequence[float],
    density: Sequence[float],
    density_sd: Sequence[float | None],
    *,
    exposed: Exposed = "unstated",
) -> SlideSeen:
    """Compare a slide with the curve of its recipe.

    Parameters
    ----------
    log_exposure : sequence of float
        As noted, against the metered mid-tone at box speed.
    density : sequence of float
        Read on the panel, base included.
    density_sd : sequence of float or None
        None is the usual of a camera on the panel (record ``wall.panel_density_sd``).
    exposed : str
        How the exposures were made: how well each is known.

    Raises
    ------
    InputError
        For fewer than two readings, or lists of unlike length.
    """
    x, seen = np.asarray(log_exposure, dtype=np.float64), np.asarray(density, dtype=np.float64)
    if x.size != seen.size or len(density_sd) != x.size:
        raise InputError(
            f"{x.size} exposures and {seen.size} densities do not go together",
            where="slide",
            remedy="give one density for each exposure",
        )
    if x.size < FEWEST_READINGS:
        raise InputError(
            "fewer than two readings cannot tell exposure from process", where="slide", remedy="read two frames or more"
        )
    usual = number("wall.panel_density_sd")
    seen_sd = np.array([usual if sd is None else sd for sd in density_sd], dtype=np.float64)
    each, common = exposure_errors(exposed)
    promised, promised_sd = curve.at(x), curve.sd_at(x)
    slope = (curve.at(x + NEAR) - curve.at(x - NEAR)) / (2 * NEAR)
    spread = np.sqrt(seen_sd**2 + promised_sd**2 + (slope * each) ** 2)
    room = max(curve.dmax_with_base - curve.dmin, usual)
    usual_sd = np.array(
        [
            float(np.hypot(common, curve.strip_log_exposure_sd)),
            number("wall.blacks_sd"),
            number("wall.highlights_sd"),
        ]
    )
    mean_sd = MUCH * usual_sd

    def departed(by: Array) -> Array:
        moved = curve.at(x + by[SHIFT])
        dark = (moved - curve.dmin) / room
        expected: Array = moved + by[BLACKS] * dark + by[HIGHLIGHTS] * (1 - dark)
        return expected

    def residuals(by: Array) -> Array:
        return np.concatenate([(seen - departed(by)) / spread, by / mean_sd])

    found = least_squares(residuals, np.zeros(HIGHLIGHTS + 1), x_scale=mean_sd)
    left = residuals(found.x)[: x.size]
    scale = max(1.0, float(np.sqrt(np.mean(left**2))))
    jac = np.asarray(found.jac, dtype=np.float64)
    sd = np.sqrt(np.diag(np.linalg.inv(jac.T @ jac))) * scale
    return SlideSeen(
        curve.name, x, promised, promised_sd, seen, seen_sd, left, tuple(_departures(found.x, sd, usual_sd))
    )


def _departures(by: Array, sd: Array, usual_sd: Array) -> Iterator[Departure]:
    # Strips of one recipe always differ a little: only more than that, and than the doubt, is told.
    told = np.abs(by) > TOLD * np.hypot(sd, usual_sd)
    stops = Estimate(float(by[SHIFT] / STOP), float(sd[SHIFT] / STOP))
    yield Departure(
        "exposure",
        stops,
        bool(told[SHIFT]),
        f"It lies as if it had got {stops_words(stops.value)} {'more' if stops.value > 0 else 'less'} light than noted "
        f"({_span(stops, 1)}): meter, shutter, or a first development that went {'further' if stops.value > 0 else 'less far'}.",
    )
    blacks = Estimate(float(by[BLACKS]), float(sd[BLACKS]))
    yield Departure(
        "blacks",
        blacks,
        bool(told[BLACKS]),
        f"Its blacks are {abs(blacks.value):.2f} {'denser' if blacks.value > 0 else 'thinner'} than promised ({_span(blacks)}).",
    )
    highlights = Estimate(float(by[HIGHLIGHTS]), float(sd[HIGHLIGHTS]))
    yield Departure(
        "highlights",
        highlights,
        bool(told[HIGHLIGHTS]),
        f"Its highlights are {abs(highlights.value):.2f} {'denser' if highlights.value > 0 else 'clearer'} than promised ({_span(highlights)}).",
    )


def stops_words(stops: float) -> str:
    """An amount of light in stops, to a tenth, with its noun and without its sign."""
    said = f"{abs(stops):.1f}"
    return f"{said} stop{'s' if float(said) > 1 else ''}"


def _span(by: Estimate, digits: int = 2) -> str:
    """Both ends of what may be, as amounts in the direction that is told."""
    ends = sorted((by.low90, by.high90), key=abs)
    near, far = (end * (1 if by.value >= 0 else -1) for end in ends)
    return f"{near:.{digits}f} to {far:.{digits}f}, nine times in ten"
