"""The exposure card: how to shoot the film so that the recipe's slide comes out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from obverse.foundation import Z90, Caution, Estimate, InputError, JsonObject, Level
from obverse.imaging import linear_to_srgb
from obverse.light import (
    STOP,
    filter_stops,
    flash_f_number,
    index_shift,
    latitude_stops,
    lightness,
    reciprocity_spread,
    reciprocity_time_s,
    relative_luminance,
    separated,
    surround_exponent,
    zone_log_exposure,
)
from obverse.reference import record
from obverse.workbench.preview import Screen, Viewing, on_the_wall, seen_in
from obverse.workbench.slide_curve import SlideCurve

# Zones of a scene, a stop each, from black to the white of paper; the fifth is metered.
ZONES = tuple(range(11))
ZONE_NAMES = ("0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")
# Times and distances that a card is made for: what a watch and a tape can set, about a stop apart.
METERED_TIMES_S = (2.0, 4.0, 8.0, 15.0, 30.0, 60.0)
FLASH_DISTANCES_M = (1.5, 2.0, 3.0, 4.0, 6.0)
# As lenses and meters are marked, a third of a stop apart, from f/1 on.
F_NUMBERS = (
    *(1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0),
    *(9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0, 36.0, 40.0, 45.0, 51.0, 57.0, 64.0),
)
# Words for a tone by its lightness L* on the wall: up to so much.
TONES = (
    (10.0, "nearly black"),
    (25.0, "very dark"),
    (40.0, "dark"),
    (60.0, "middle grey"),
    (75.0, "light"),
    (90.0, "very light"),
    (math.inf, "nearly white"),
)
# Guide number of a flash that is put on a camera, metres at speed 100.
USUAL_GUIDE_NUMBER_M = 28.0
# Steps in a stop as lenses and meters are marked.
THIRDS = 3
# A long exposure is counted by a watch: short ones to half a second, then whole seconds, then minutes.
HALF_SECONDS_UNDER_S, SECONDS_UNDER_S, S_PER_MIN = 10.0, 180.0, 60
# Meter settings as cameras show them, a third of a stop apart.
_DIALS = record("iso-table").value


@dataclass(frozen=True, slots=True)
class Zone:
    """One zone: its exposure, the density it falls on, and what the wall shows."""

    name: str
    log_exposure: float
    density: float
    density_sd: float
    screen: float
    lightness: float
    separated: bool
    words: str

    @property
    def grey(self) -> float:
        """The grey of the paper or monitor that is as light as the wall, by L*: 0 black to 1 white."""
        return float(linear_to_srgb(min(1.0, float(relative_luminance(self.lightness)))))


@dataclass(frozen=True, slots=True)
class Card:
    """The exposure card of one curve at one meter setting. See `exposure_card`."""

    curve: SlideCurve
    exposure_index: Estimate
    strip_stops: float
    dial: float
    zones: tuple[Zone, ...]
    range_stops: float
    under_stops: float
    over_stops: float
    scene_stops: float
    bracket: tuple[float, ...]
    bracket_words: str
    filters: tuple[tuple[str, float, float], ...]
    reciprocity: tuple[tuple[float, float, float, float], ...]
    reciprocity_p: float
    flash: tuple[tuple[float, float], ...]
    guide_number_m: float
    cautions: tuple[Caution, ...]

    @property
    def known(self) -> str:
        """How the meter setting is known, in words."""
        index = self.exposure_index
        if not index.sd:
            return "as set by hand"
        said = f"the curve says {index.value:.0f} ({index.low90:.0f} to {index.high90:.0f}), nine times in ten"
        if not self.strip_stops:
            return said
        own = self.curve.own_strips
        whence = f"common practice and your {own} strips by it" if own > 1 else "common practice, no source"
        return f"{said}, with {self.strip_stops:.2f} stop from strip to strip ({whence})"

    @property
    def latitude_stops(self) -> float:
        """How far an exposure may be off before it shows."""
        return latitude_stops()

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "curve": self.curve.document(),
            "exposure_index": self.exposure_index.document(),
            "strip_stops": self.strip_stops,
            "known": self.known,
            "dial": self.dial,
            "zones": [{**{name: getattr(z, name) for name in z.__slots__}, "grey": z.grey} for z in self.zones],
            "range_stops": self.range_stops,
            "under_stops": self.under_stops,
            "over_stops": self.over_stops,
            "scene_stops": self.scene_stops,
            "bracket": list(self.bracket),
            "bracket_words": self.bracket_words,
            "filters": [{"name": n, "factor": f, "stops": s} for n, f, s in self.filters],
            "reciprocity": [
                {
                    "metered_s": m,
                    "give_s": g,
                    "from_s": low,
                    "to_s": high,
                    "give": watch_words(g),
                    "range": f"{watch_words(low)} to {watch_words(high)}",
                }
                for m, g, low, high in self.reciprocity
            ],
            "reciprocity_p": self.reciprocity_p,
            "flash": [{"distance_m": d, "f_number": f} for d, f in self.flash],
            "guide_number_m": self.guide_number_m,
            "cautions": [c.document() for c in self.cautions],
        }


def nearest_dial(index: float) -> float:
    """The meter setting nearest to an exposure index."""
    return float(min(_DIALS, key=lambda dial: abs(math.log(dial / index))))


def exposure_card(
    curve: SlideCurve,
    screen: Screen,
    *,
    exposure_index: float | None = None,
    p: float | None = None,
    guide_number_m: float = USUAL_GUIDE_NUMBER_M,
) -> Card:
    """Everything the bag's card says.

    Parameters
    ----------
    exposure_index : float, optional
        Meter setting to card for; the curve's own where absent.
    p : float, optional
        Schwarzschild's; the usual of the two sources where absent.
    guide_number_m : float
        Of the flash at 100, in metres.

    Raises
    ------
    InputError
        If the curve has no mid-tone, so that no index follows, and none is given.
    """
    own = _of_the_next_strip(curve)
    set_by_hand = Estimate(exposure_index, 0.0) if exposure_index else None
    known = own or set_by_hand
    if known is None:
        raise InputError(
            "the curve never reaches the mid-tone, so no exposure index follows from it",
            where=curve.name,
            remedy="give one",
        )
    dial = exposure_index or nearest_dial(known.value)
    shift = index_shift(curve.box_speed, dial)
    zones, span = _zones(curve, screen, shift)
    low_p, usual_p, _ = reciprocity_spread()
    p = p or usual_p
    bracket, words = _bracket(own, abs(math.log2(dial / own.value)) if own else 0.0)
    return Card(
        curve=curve,
        exposure_index=known,
        strip_stops=curve.strip_log_exposure_sd / STOP if own else 0.0,
        dial=dial,
        zones=zones,
        range_stops=(span[1] - span[0]) / STOP,
        under_stops=-(span[0] - shift) / STOP,
        over_stops=(span[1] - shift) / STOP,
        scene_stops=record("scene-range").value["range"] / STOP,
        bracket=bracket,
        bracket_words=words,
        filters=tuple(
            (name, float(factor), filter_stops(factor)) for name, factor in record("wall.filter_factors").value.items()
        ),
        reciprocity=tuple(_long(t, p, low_p) for t in METERED_TIMES_S),
        reciprocity_p=p,
        flash=tuple((d, flash_f_number(guide_number_m, d, dial)) for d in FLASH_DISTANCES_M),
        guide_number_m=guide_number_m,
        cautions=(*_cautions(curve, own, dial), *_fall_off(screen), *curve.cautions),
    )


def _fall_off(screen: Screen) -> Iterator[Caution]:
    """That the card is that of the mean of the picture, where its corners are known to be a third of a stop darker or more."""
    if screen.corner_light and (stops := -math.log2(screen.corner_light)) >= 1 / THIRDS:
        yield Caution(
            "card.fall_off",
            f"The corners get {100 * screen.corner_light:.0f} % of the light of the middle, {_third(stops)} less; greys and words are those of the mean of the picture.",
            Level.NOTE,
        )


def _of_the_next_strip(curve: SlideCurve) -> Estimate | None:
    """The curve's index for the next film by its recipe: the strip's own doubt and that from strip to strip."""
    own = curve.exposure_index
    if own is None or not curve.strip_log_exposure_sd:
        return own
    strip = math.log(10) * curve.strip_log_exposure_sd
    lower, upper = (math.hypot(math.log(end / own.value), Z90 * strip) for end in (own.low90, own.high90))
    return Estimate(
        own.value,
        math.hypot(own.sd, own.value * strip),
        own.value * math.exp(-lower),
        own.value * math.exp(upper),
    )


def _zones(curve: SlideCurve, screen: Screen, shift: float) -> tuple[tuple[Zone, ...], tuple[float, float]]:
    """The zones, and the span of log exposure in which a third of a stop is still seen."""
    x = curve.log_exposure
    wall = on_the_wall(curve, x, screen)
    white = float(wall.max())
    gate = screen.gate_cd_m2
    middle = float(on_the_wall(curve, np.array([shift]), screen)[0])
    apart = np.flatnonzero(separated(x, gate * wall, gate * middle))
    span = (float(x[apart[0]]), float(x[apart[-1]])) if apart.size else (0.0, 0.0)
    at = zone_log_exposure(ZONES) + shift
    here = on_the_wall(curve, at, screen)
    # A card is read in the light, the wall was seen in the dark: the surround of the preview, and its words.
    bright = lightness(seen_in(here, white, surround_exponent(Viewing().model, "dark", "average")))
    zones = tuple(
        Zone(
            ZONE_NAMES[i],
            float(at[i]),
            float(curve.at(at[i])),
            float(curve.sd_at(at[i])),
            float(here[i]),
            float(bright[i]),
            bool(span[0] <= at[i] <= span[1]),
            _tone(float(bright[i]), float(at[i]), span),
        )
        for i in ZONES
    )
    return zones, span


def _tone(lightness: float, log_exposure: float, span: tuple[float, float]) -> str:
    """What a tone looks like on this wall: of its light there, not of the number of its zone."""
    if log_exposure < span[0]:
        return "black, no detail"
    if log_exposure > span[1]:
        return "white, no detail"
    return next(words for most, words in TONES if lightness <= most)


def _bracket(index: Estimate | None, rounding_stops: float) -> tuple[tuple[float, ...], str]:
    """Frames, in stops against the card's setting, so that nine times in ten one lies within the latitude."""
    latitude = latitude_stops()
    if index is None:
        return (-1.0, 0.0, 1.0), "The curve gives no index; bracket a stop either way and judge."
    reach = Z90 * index.sd / (index.value * math.log(2))
    reach = math.hypot(reach, rounding_stops)
    if reach <= latitude:
        return (
            (0.0,),
            f"The index is known to {_third(reach)}, nine times in ten; a slide bears {latitude:g}. One frame is enough where the light is even.",
        )
    each_side = math.ceil((reach - latitude) / (2 * latitude))
    spacing = math.ceil(THIRDS * (reach - latitude) / each_side) / THIRDS
    frames = tuple(round(k * spacing, 4) for k in range(-each_side, each_side + 1))
    return (
        frames,
        f"The index is known only to {_third(reach)}, nine times in ten; a slide bears {latitude:g}. Shoot {len(frames)} frames, {_third(spacing)} apart.",
    )


def _third(stops: float) -> str:
    """Stops to a third, at least one, with their noun."""
    whole, thirds = divmod(max(1, round(stops * THIRDS)), THIRDS)
    said = " ".join(part for part in (str(whole) if whole else "", f"{thirds}/{THIRDS}" if thirds else "") if part)
    return f"{said} stop{'s' if whole + thirds / THIRDS > 1 else ''}"


def _long(metered_s: float, p: float, low_p: float) -> tuple[float, float, float, float]:
    """Metered time, time to give, and the two ends that the sources leave open."""
    give = float(reciprocity_time_s(metered_s, p))
    return metered_s, give, metered_s, float(reciprocity_time_s(metered_s, min(p, low_p)))


def _cautions(curve: SlideCurve, own: Estimate | None, dial: float) -> Iterator[Caution]:
    if curve.kind == "predicted":
        yield Caution(
            "card.predicted",
            "This card rests on a predicted curve; shoot a bracket with the first roll.",
            Level.CAUTION,
        )
    if own is not None and abs(math.log2(dial / own.value)) > latitude_stops():
        yield Caution(
            "card.setting_off",
            f"At {dial:g} the metered tone comes out {'darker' if dial > own.value else 'lighter'} than the mid-tone: the curve says {own.value:.0f}.",
            Level.CAUTION,
        )
    if own is None:
        yield Caution(
            "card.no_midtone",
            "The curve never reaches the mid-tone; the zones are counted from the setting you gave.",
            Level.CAUTION,
        )


def watch_words(time_s: float) -> str:
    """A long exposure as a person counts it beside the open shutter."""
    if time_s < HALF_SECONDS_UNDER_S:
        return f"{round(2 * time_s) / 2:g} s"
    if time_s < SECONDS_UNDER_S:
        return f"{time_s:.0f} s"
    minutes, seconds = divmod(round(time_s), S_PER_MIN)
    return f"{minutes} min {seconds} s" if seconds else f"{minutes} min"


def f_number_words(value: float) -> str:
    """An f-number as lenses and meters are marked, to a third of a stop; past the marks, that none has it."""
    third = round(2 * math.log2(value) * THIRDS)
    if third < 0:
        return f"wider than f/{F_NUMBERS[0]:g}"
    if third >= len(F_NUMBERS):
        return f"smaller than f/{F_NUMBERS[-1]:g}"
    return f"f/{F_NUMBERS[third]:g}"
