"""Strips and scenes drawn at random, for `obverse.imaging.render`. Their numbers are invented."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from obverse.imaging.render import RenderedScene, RenderedStrip

Look = Literal["wedge", "frames"]


@dataclass(frozen=True)
class Draw:
    """How wild the random scenes are."""

    width: int = 900
    height: int = 600
    most_density: float = 3.0
    masked: bool = True
    looks: tuple[Look, ...] = field(default=("wedge", "frames"))


def random_strip(rng: np.random.Generator, draw: Draw) -> RenderedStrip:
    """A strip with a plausible reversal curve or step wedge, falling or rising."""
    most = rng.uniform(0.8, 1.0) * draw.most_density
    least = rng.uniform(0.04, 0.3)
    if rng.choice(draw.looks) == "wedge":
        count = int(rng.integers(8, 22))
        densities = np.linspace(least, most, count) + rng.normal(0, 0.02, count)
        pitch = rng.uniform(0.9, 1.3) * 35 * 5 / count
        strip = RenderedStrip(tuple(np.maximum(densities, 0.03)), pitch_mm=pitch)
        if rng.random() < 0.6:
            strip = replace(
                strip,
                rebate_density=most + rng.uniform(0.0, 0.2),
                lead_mm=tuple(rng.uniform(0, 8, 2)),
                perforated=bool(rng.random() < 0.7),
            )
    else:
        count = int(rng.integers(4, 8))
        x = np.linspace(-1.5, 1.5, count) + rng.normal(0, 0.1, count)
        densities = least + (most - least) / (1 + np.exp(2.2 * x))
        strip = RenderedStrip(
            tuple(densities),
            pitch_mm=38.0,
            gap_mm=2.0,
            rebate_density=most + rng.uniform(0.0, 0.2),
            lead_mm=tuple(rng.uniform(0, 6, 2)),
            perforated=True,
        )
    return strip if rng.random() < 0.5 else replace(strip, densities=strip.densities[::-1])


def random_scene(strip: RenderedStrip, rng: np.random.Generator, draw: Draw) -> RenderedScene:
    """A plausible way of taking its picture: tilt, perspective, fall-off, glare, noise, dirt."""
    w, h = draw.width, draw.height
    length = rng.uniform(0.62, 0.8) * w
    across = length * strip.width_mm / strip.length_mm
    room = 0.5 * h
    if across > room:
        length, across = length * room / across, room
    angle = np.radians(rng.uniform(-7, 7))
    box = np.array([[-length, -across], [length, -across], [length, across], [-length, across]]) / 2
    turned = box @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    centre = np.array([(w - 1) / 2, (h - 1) / 2]) + rng.uniform(-0.03, 0.03, 2) * [w, h] + [0, 0.04 * h]
    corners = centre + turned * (1 + rng.uniform(-0.03, 0.03, (4, 1))) + rng.uniform(-0.012, 0.012, (4, 2)) * across
    level = rng.uniform(0.65, 0.85)
    return RenderedScene(
        width=w,
        height=h,
        corners=corners,
        panel_colour=tuple(level * rng.uniform((0.75, 1.0, 0.75), (1.0, 1.0, 1.0))),
        falloff=(rng.normal(0, 0.05), rng.normal(0, 0.05), rng.uniform(0.02, 0.12), rng.normal(0, 0.015)),
        glare=float(np.exp(rng.normal(np.log(0.002), 0.6))),
        glare_slope=rng.normal(0, 0.03),
        mask=draw.masked,
        surround=float(rng.uniform(0.0002, 0.01)),
        margin=float(rng.choice([np.inf, 0.9])) if not draw.masked else float(rng.choice([np.inf, 1.0])),
        blur=rng.uniform(0.5, 1.2),
        full_well=rng.uniform(15_000, 60_000),
        read_noise=rng.uniform(2, 8),
        grain=rng.uniform(0.01, 0.05),
        grain_size=rng.uniform(0.5, 1.2),
        dust=int(rng.integers(0, 40)),
        scratches=int(rng.integers(0, 3)),
    )
