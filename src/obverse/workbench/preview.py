"""See the slide before it is made: a photograph as log exposures, and the tables that turn them into greys.

A photograph is kept as 12-bit codes of log luminance, one step `CODE_STEP`. Every recipe, exposure
and projector is then one table of 4096 greys, so the browser redraws two million pixels by looking up.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from obverse.capture import load_picture
from obverse.foundation import Array, Caution, Document, InputError, Level
from obverse.imaging import Picture, linear_to_srgb
from obverse.light import (
    SURROUND_MODELS,
    Sought,
    density_sd,
    fall_off,
    lightness,
    on_screen,
    screen_luminance_cd_m2,
    separated,
    surround_exponent,
)
from obverse.reference import number, record
from obverse.sensitometry import projection_density
from obverse.workbench.slide_curve import SlideCurve

# Twelve bits.
CODES = 4096
# Five powers of ten in all: more than any camera holds.
CODE_STEP = 0.00125
MOST_PIXELS = 2_000_000
# Of a photograph that are made light in one go: they stay in the processor's cache. Channels of a colour one.
PIXELS_AT_ONCE, RGB = 400_000, 3
# A grey of the monitor is told to the browser in so many parts.
GRAIN_SHOWN = 4
FRAME_WIDTH_MM = 36.0
_CLIPPED_WORTH_SAYING = 0.002
_MAGIC = b"OBVL"
# Rings of one light each, from the middle to the corners: finer than a grey of the monitor and a half; at most so many.
RING_DENSITY = 0.006
MOST_RINGS = 64


# A black spot as light as this shows no picture; sums stay finite.
MOST_BLACK_SHARE = 0.99


class Screen(Document):
    """The projector, its screen and its room."""

    flux_lm: float = Field(default=700, gt=0, le=100_000, description="through the open gate, on the screen")
    width_m: float = Field(default=1.5, gt=0, le=30, description="of the picture")
    aspect: float = Field(default=1.5, gt=0.2, le=5, description="width over height")
    gain: float = Field(default=1.0, gt=0, le=5)
    stray: float = Field(
        default=0.0025,
        ge=0,
        lt=0.5,
        description="flare: luminance of a black spot over that of the open gate, room dark",
    )
    room_lux: float = Field(default=0, ge=0, le=2000, description="light of the room on the screen, projector off")
    callier: float = Field(
        default=1.3, ge=1, le=1.9, description="density of the slide in the projector over its diffuse density"
    )
    gate: str = Field(default="", max_length=40, description="mount, by its name in `obverse.light.windows_mm`")
    focal_mm: float | None = Field(default=None, gt=0, le=2000, description="of the lens")
    throw_m: float | None = Field(default=None, gt=0, le=200, description="from the lens to the wall")
    sought: Sought | Literal[""] = Field(default="", description="the one of the three that is worked out")
    callier_sd: float | None = Field(default=None, ge=0, le=1, description="doubt of it, learned from the wall")
    stray_sd: float | None = Field(default=None, ge=0, le=0.5, description="doubt of it, learned from the wall")
    flux_sd_lm: float | None = Field(default=None, ge=0, le=100_000, description="doubt of it, learned from the wall")
    corner_light: float | None = Field(
        default=None,
        gt=0,
        le=1,
        description="light of the open gate at the corners over that of the middle; none where it is not known",
    )
    seen_on: date | None = Field(default=None, description="day of the photograph they were learned from")

    @property
    def gate_cd_m2(self) -> float:
        """Luminance of the open gate on the screen; the gate is that of the mount, not of a photograph in it."""
        return screen_luminance_cd_m2(self.flux_lm, self.width_m**2 / self.aspect, self.gain)

    @property
    def black_share(self) -> float:
        """Luminance of a black spot over that of the open gate: flare, and the room's light, which no beam scales."""
        return min(self.stray + self.room_share, MOST_BLACK_SHARE)

    @property
    def room_share(self) -> float:
        """Light of the room on the screen over that of the open gate.

        It comes from all sides: a screen that sends a beam forward with a gain over 1 sends that light nowhere in particular.
        """
        return min(self.gain, 1.0) * self.room_lux / math.pi / self.gate_cd_m2


class Viewing(Document):
    """How the wall is shown on the monitor."""

    model: Literal[tuple(SURROUND_MODELS)] = "classic"  # type: ignore[valid-type]
    shown_in: Literal["average", "dim", "dark"] = "dim"
    white: Literal["slide", "gate"] = Field(
        default="slide", description="what the eye takes for white: the clear slide, or the open gate"
    )
    rms_granularity: float = Field(default=12, ge=0, le=100, description="of the silver, through 48 um at density 1")
    pixels_wide: int = Field(default=1700, ge=16, le=20_000, description="of the preview: how finely grain is seen")


@dataclass(frozen=True, eq=False)
class Photograph:
    """A photograph as codes of log luminance.

    Parameters
    ----------
    codes : (H, W) array of uint16
        `CODE_STEP` in log10 a step, the lightest `CODES - 1`; 0 is that or darker.
    average_code : float
        Of the arithmetic mean luminance: what an averaging meter sees.
    """

    codes: NDArray[np.uint16]
    average_code: float
    name: str
    cautions: tuple[Caution, ...] = ()

    def packed(self) -> bytes:
        """For the browser: 4 letters, length of the JSON head, head padded to 8 bytes, codes in little-endian 16 bit."""
        height, width = self.codes.shape
        head = json.dumps(
            {
                "width": width,
                "height": height,
                "average_code": self.average_code,
                "name": self.name,
                "cautions": [c.document() for c in self.cautions],
            }
        ).encode()
        head += b" " * (-(len(head) + 8) % 8)
        return _MAGIC + struct.pack("<I", len(head)) + head + self.codes.astype("<u2").tobytes()


def photograph_of(data: bytes, name: str) -> Photograph:
    """The bytes of a picture file as the film's exposure; see `photograph`."""
    return photograph(load_picture(data, name=name))


def photograph(picture: Picture) -> Photograph:
    """A picture as the film's exposure, reduced by whole steps to at most two million pixels.

    Three channels become luminance; what a real film makes of colours is not known here.
    """
    step = max(1, int(np.ceil(np.sqrt(picture.height * picture.width / MOST_PIXELS))))
    light, clipped = _luminance(picture, step)
    top = float(light.max(initial=0.0))
    if not top > 0:
        raise InputError("the picture is black all over", where=picture.name, remedy="choose another")
    return Photograph(
        codes=codes_of(light / top),
        average_code=float(CODES - 1 + np.log10(max(light.mean() / top, 1e-6)) / CODE_STEP),
        name=picture.name,
        cautions=(*picture.cautions, *_cautions(picture, clipped)),
    )


def codes_of(relative: NDArray[np.float32]) -> NDArray[np.uint16]:
    floor = np.float32(10.0 ** (-(CODES - 1) * CODE_STEP))
    codes = np.log10(np.maximum(relative, floor)) * np.float32(1 / CODE_STEP) + np.float32(CODES - 1)
    whole: NDArray[np.uint16] = np.rint(codes).astype(np.uint16)
    return whole


def _luminance(picture: Picture, step: int) -> tuple[NDArray[np.float32], float]:
    """Mean luminance of blocks of `step` by `step`, rows a few at a time; and the share that is clipped."""
    weights = np.asarray(record("wall.luminance_weights").value if picture.channels == RGB else [1.0], dtype=np.float32)
    rows, columns = picture.height // step, picture.width // step
    out = np.empty((rows, columns), dtype=np.float32)
    clipped = 0
    block = max(1, PIXELS_AT_ONCE // max(1, picture.width * step))
    for first in range(0, rows, block):
        last = min(rows, first + block)
        codes = np.ascontiguousarray(picture.codes[first * step : last * step, : columns * step])
        light = np.maximum(picture.linear(codes) @ weights, 0)
        clipped += int(np.count_nonzero(_least(codes) >= picture.clip_code))
        # Whole rows first, then every step-th column: the memory is walked in its own order.
        tall = light.reshape(last - first, step, columns * step).sum(axis=1)
        out[first:last] = sum(tall[:, place::step] for place in range(step)) / np.float32(step * step)
    return out, clipped / (rows * columns * step * step)


def _least(codes: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """The least channel of each pixel, (H, W)."""
    least = codes[..., 0]
    for channel in range(1, codes.shape[2]):
        least = np.minimum(least, codes[..., channel])
    return least


def _cautions(picture: Picture, clipped: float) -> Iterator[Caution]:
    if picture.encoding != "linear":
        yield Caution(
            "photo.tone_curve",
            "A finished picture carries the tone curve of its camera; a RAW file or a linear TIFF shows truer what the film would get.",
            Level.NOTE,
        )
    if picture.media_type == "image/x-raw":
        yield Caution(
            "photo.raw_colours",
            "The RAW colours are taken as the sensor gives them, without white balance.",
            Level.NOTE,
        )
    if clipped > _CLIPPED_WORTH_SAYING:
        yield Caution(
            "photo.clipped",
            f"{100 * clipped:.1f} % of the photograph is white in the file itself; those places were brighter in truth.",
            Level.NOTE,
        )


@dataclass(frozen=True, eq=False)
class Rings:
    """One slide where the lamp's light falls off: tables for each ring of places, the middle first.

    Ring k of R holds the places whose squared distance from the middle, 1 at the corners, lies from k / R to (k + 1) / R.

    Parameters
    ----------
    light : (R,) array
        Of the open gate there, over its mean over the picture.
    grey, run_together : (R, CODES) arrays of uint8
        As those of a `SlideLook`.
    """

    light: Array
    grey: NDArray[np.uint8]
    run_together: NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class SlideLook:
    """One slide on the wall: tables by code, and what stands behind them.

    Parameters
    ----------
    grey : (CODES,) array of uint8
        Grey of the monitor.
    run_together : (CODES,) array of uint8
        0 where tones separate, 1 in clipped highlights, 2 in blocked blacks.
    grain : (CODES,) array of uint8
        Spread of the grey by grain, in quarters of a grey level.
    log_exposure, density, screen : (CODES,) arrays
        Exposure of the film; density of the slide; light on the wall over the open gate.
    """

    curve: SlideCurve
    grey: NDArray[np.uint8]
    run_together: NDArray[np.uint8]
    grain: NDArray[np.uint8]
    log_exposure: Array
    density: Array
    screen: Array
    rings: Rings | None = None


def on_the_wall(curve: SlideCurve, log_exposure: Array, screen: Screen, light: float = 1.0) -> Array:
    """Light of each exposure on the wall, as a fraction of the open gate, stray light included.

    `light` is that of the open gate at the place, over its mean over the picture (`fall_off`): what strays, strays all over.
    """
    silver = projection_density(curve.at(log_exposure) - curve.base_density, screen.callier)
    return on_screen(curve.base_density + silver - math.log10(light), screen.black_share)


def seen_in(wall: Array, white: float, exponent: float) -> Array:
    """Light of a tone where the wall is shown, over white: as light there as it looks on the dark wall."""
    return np.minimum(wall / white, 1.0) ** exponent


def white_of(curves: list[SlideCurve], screen: Screen, viewing: Viewing, light: float = 1.0) -> float:
    """What the eye takes for white, over the open gate: the lightest tone of all slides shown, or the open gate; `light` as `on_the_wall`."""
    if viewing.white == "gate":
        return light + screen.black_share
    return max(float(on_the_wall(curve, curve.log_exposure[-1:], screen, light)[0]) for curve in curves)


def look(
    curve: SlideCurve,
    shift: float,
    metered_code: float,
    screen: Screen,
    viewing: Viewing,
    white: float,
    white_in_the_middle: float | None = None,
) -> SlideLook:
    """The tables of one slide.

    Parameters
    ----------
    shift : float
        Log exposure added to the metered one (`obverse.light.index_shift` and the zone it is placed on).
    metered_code : float
        Code of the place that is metered.
    white, white_in_the_middle : float
        `white_of` the mean of the picture, and of its middle, where the lamp is brightest; the latter draws the fall-off.
    """
    x = (np.arange(CODES, dtype=np.float64) - metered_code) * CODE_STEP + shift
    wall = on_the_wall(curve, x, screen)
    exponent = surround_exponent(viewing.model, "dark", viewing.shown_in)
    gate = screen.gate_cd_m2
    veil = gate * float(np.mean(wall))
    middle = x[np.argmax(np.abs(np.gradient(lightness(wall / white))))]

    def tables(wall: Array, white: float) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
        grey = np.rint(255 * linear_to_srgb(seen_in(wall, white, exponent)))
        apart = separated(x, gate * wall, veil)
        return grey.astype(np.uint8), np.where(apart, 0, np.where(x > middle, 1, 2)).astype(np.uint8)

    rings = None
    light = ring_light(screen)
    if light.size and white_in_the_middle is not None:
        drawn = [tables(on_the_wall(curve, x, screen, float(here)), white_in_the_middle) for here in light]
        grey, together = (np.stack(part) for part in zip(*drawn, strict=True))
        rings = Rings(light, grey, together)
    density = curve.at(x)
    return SlideLook(
        curve, *tables(wall, white), _grain(curve, density, screen, viewing, white, exponent), x, density, wall, rings
    )


def ring_light(screen: Screen) -> Array:
    """Light of each ring of places over the mean of the picture, (R,); none where the fall-off is not known or there is none."""
    if screen.corner_light is None or screen.corner_light == 1:
        return np.empty(0)
    count = min(MOST_RINGS, math.ceil(-math.log10(screen.corner_light) / RING_DENSITY))
    return fall_off(np.sqrt((np.arange(count) + 0.5) / count), screen.corner_light)


def light_in_the_middle(screen: Screen) -> float:
    """Light of the open gate in the middle over its mean over the picture; 1 where the fall-off is not known."""
    return float(fall_off(0.0, screen.corner_light)) if screen.corner_light else 1.0


def _grain(
    curve: SlideCurve, density: Array, screen: Screen, viewing: Viewing, white: float, exponent: float
) -> NDArray[np.uint8]:
    """Spread of the monitor's grey by grain, in quarters of a level.

    Selwyn's law from 48 um to the pixel; the spread is taken to grow as the root of the silver's density
    (from memory).
    """
    silver = np.maximum(density - curve.base_density, 0)
    pixel_um = 1000 * FRAME_WIDTH_MM / viewing.pixels_wide
    sd = density_sd(viewing.rms_granularity, pixel_um**2) * np.sqrt(silver)

    def grey(d: Array) -> Array:
        wall = on_screen(curve.base_density + screen.callier * (d - curve.base_density), screen.black_share)
        return 255 * linear_to_srgb(seen_in(wall, white, exponent))

    spread = np.abs(grey(density - sd / 2) - grey(density + sd / 2))
    codes: NDArray[np.uint8] = np.rint(np.clip(GRAIN_SHOWN * spread, 0, 255)).astype(np.uint8)
    return codes


def grain_standing() -> str:
    """How the assumed granularity is known."""
    return record("wall.rms_granularity").source.words


def default_screen() -> Screen:
    """A common projector in a darkened living room."""
    return Screen(flux_lm=number("wall.flux"), stray=number("wall.stray"))
