"""Marks on simulated strips that are none of the known faults: what a diagnosis must not put a name to.

Drawn like the faults of `benchmarks.render_faults`, with the same strengths. The marks are kept
in two sets, so that a program that learned from the first can be tried on the second. Their numbers are invented.
"""

from __future__ import annotations

import numpy as np

from benchmarks.render_faults import Drawing
from obverse.imaging.render import Change, Places, RenderedStrip


def _spot(strip: RenderedStrip, rng: np.random.Generator, low: float, high: float) -> tuple[float, float]:
    """A place along and across (mm) with that much of the strip on either side, as shares."""
    return rng.uniform(low, high) * strip.length_mm, rng.uniform(0.35, 0.65) * strip.width_mm


def _smear(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Soft blotches in the middle of the film, denser or thinner."""
    blots = [
        (*_spot(strip, rng, 0.1, 0.9), rng.uniform(4, 12), rng.uniform(3, 6), rng.uniform(0, np.pi))
        for _ in range(int(rng.integers(1, 4)))
    ]
    depth = strength * rng.uniform(0.25, 0.45) * rng.choice([-1, 1])

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        for x, y, long_mm, short_mm, angle in blots:
            u = (places.along_mm - x) * np.cos(angle) + (places.across_mm - y) * np.sin(angle)
            v = -(places.along_mm - x) * np.sin(angle) + (places.across_mm - y) * np.cos(angle)
            density = density * (1 + depth * np.exp(-0.5 * ((u / long_mm) ** 2 + (v / short_mm) ** 2)))
        return density

    return change


def _slanting_bands(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Bands that run slantwise over the film."""
    angle, spacing = rng.uniform(0.35, 1.2) * rng.choice([-1, 1]), rng.uniform(6, 20)
    depth, start = strength * rng.uniform(0.12, 0.22), rng.uniform(0, 2 * np.pi)

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        wave = np.sin(
            2 * np.pi * (places.along_mm * np.cos(angle) + places.across_mm * np.sin(angle)) / spacing + start
        )
        result: np.ndarray = density * (1 + depth * wave)
        return result

    return change


def _level_line(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """A bath that did not cover the film: a step of density along a line."""
    height, tilt = rng.uniform(0.3, 0.7) * strip.width_mm, rng.uniform(-0.06, 0.06)
    depth = strength * rng.uniform(0.2, 0.35) * rng.choice([-1, 1])

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        above = 1 / (
            1
            + np.exp(
                -np.clip((places.across_mm - height - tilt * (places.along_mm - strip.length_mm / 2)) / 0.5, -30, 30)
            )
        )
        result: np.ndarray = density * (1 + depth * above)
        return result

    return change


def _clear_discs(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Even round spots without a rim."""
    spots = [(*_spot(strip, rng, 0.05, 0.95), rng.uniform(1.2, 3.5)) for _ in range(int(rng.integers(6, 15)))]
    depth = strength * rng.uniform(0.3, 0.5) * rng.choice([-1, 1])

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        for x, y, radius in spots:
            density = np.where(
                np.hypot(places.along_mm - x, places.across_mm - y) < radius, density * (1 + depth), density
            )
        return density

    return change


def _chafing(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """A bundle of fine lines across one part of the film."""
    x, spread, spacing = rng.uniform(0.2, 0.8) * strip.length_mm, rng.uniform(6, 15), rng.uniform(1.2, 2.5)
    slant, depth = rng.uniform(-0.3, 0.3), strength * rng.uniform(0.25, 0.4)

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        position = places.along_mm + slant * places.across_mm - x
        lines = np.exp(-((((position / spacing) % 1 - 0.5) / 0.18) ** 2))
        return density * (1 - depth * lines * (np.abs(position) < spread))

    return change


def _fingerprint(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """The ridges of a finger, about a millimetre apart as a coarse camera sees them, within an oval of two centimetres."""
    x, y = _spot(strip, rng, 0.2, 0.8)
    depth, bend = strength * rng.uniform(0.3, 0.45), rng.uniform(0.05, 0.12)
    spacing, angle = rng.uniform(0.8, 1.1), rng.uniform(0, np.pi)

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        u = (places.along_mm - x) * np.cos(angle) + (places.across_mm - y) * np.sin(angle)
        v = -(places.along_mm - x) * np.sin(angle) + (places.across_mm - y) * np.cos(angle)
        ridges = 0.5 * (1 + np.cos(2 * np.pi * (v + bend * u**2) / spacing))
        oval = 1 / (1 + np.exp(np.clip(((u / 10) ** 2 + (v / 7) ** 2 - 1) * 6, -30, 30)))
        result: np.ndarray = density * (1 - depth * oval * (0.4 + ridges))
        return result

    return change


def _scraped(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """A ragged part of the picture where the layer was scraped off."""
    x, y = _spot(strip, rng, 0.2, 0.8)
    size, gone = 4 + 5 * strength, strength
    wobble = rng.normal(0, 0.25, (2, 6))

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        turn = np.arctan2(places.across_mm - y, places.along_mm - x)
        rim = size * (
            1 + sum(wobble[0, k] * np.cos((k + 1) * turn) + wobble[1, k] * np.sin((k + 1) * turn) for k in range(6)) / 2
        )
        inside = np.hypot(places.along_mm - x, places.across_mm - y) < rim
        return np.where(inside, density * (1 - 0.8 * gone), density)

    return change


LEARNED: dict[str, Drawing] = {
    "smear": _smear,
    "slanting_bands": _slanting_bands,
    "level_line": _level_line,
    "clear_discs": _clear_discs,
    "chafing": _chafing,
}
HELD_BACK: dict[str, Drawing] = {"fingerprint": _fingerprint, "scraped": _scraped}
