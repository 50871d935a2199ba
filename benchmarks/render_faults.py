"""Faults for simulated pictures: each changes the density of a strip the way the real one does.

Every fault has a strength of 0 to 1: 0.2 is hardly visible, 0.5 is visible to a careful eye, 1 is
plain. Each function returns what `obverse.imaging.render.render` takes as `fault`. Their numbers are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from scipy import ndimage

from benchmarks.render_random import Draw, random_scene
from obverse.imaging.render import Change, Light, Places, RenderedScene, RenderedStrip, render

Drawing = Callable[[RenderedStrip, float, np.random.Generator], Change]
STRENGTHS = {"faint": 0.2, "visible": 0.5, "plain": 1.0}


_STAINS = {
    "brown": ((0.0, 0.02), (0.03, 0.06), (0.12, 0.18)),
    "yellow": ((0.0, 0.01), (0.0, 0.02), (0.10, 0.16)),
    "purple": ((0.0, 0.02), (0.10, 0.16), (0.03, 0.06)),
}


def _stain(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """A coloured stain all over, or (one strip in three) only where little silver lies."""
    low, high = np.transpose(_STAINS[str(rng.choice(list(_STAINS)))])
    colour = strength * rng.uniform(low, high)
    if rng.random() < 2 / 3:
        return lambda places, density: density[..., None] + colour
    return lambda places, density: density[..., None] + np.exp(-np.maximum(density, 0) / 0.8)[..., None] * colour


def _uneven_agitation(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Surge: more development where liquid rushes through the perforations, fading towards the middle."""
    depth = strength * rng.uniform(0.16, 0.24)
    reach = rng.uniform(3.0, 5.0)
    weaker = rng.uniform(0.5, 1.0)  # the liquid seldom moves alike along both edges
    first = rng.random() < 0.5

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        near, far = places.across_mm, strip.width_mm - places.across_mm
        edge = np.minimum(near, far)
        share = np.where((near < far) == first, 1.0, weaker)
        streak = 0.5 * (1 - np.cos(2 * np.pi * places.along_mm / 4.75))
        result: np.ndarray = density * (1 - depth * share * streak * np.exp(-np.maximum(edge - 5.5, 0) / reach))
        return result

    return change


def _bromide_drag(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Spent developer sinks along the film: behind a lighter (much developed) patch the next stays denser."""
    part = strength * rng.uniform(0.22, 0.30)
    backwards = rng.random() < 0.5
    fade = rng.uniform(0.3, 0.5)

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        phase = (places.along_mm - strip.lead_mm[0]) / strip.pitch_mm
        index = np.clip(np.floor(phase).astype(int), 0, len(strip.densities) - 1)
        within = phase - np.floor(phase)
        if backwards:
            within = 1 - within
        values = np.asarray(strip.densities)
        before = values[np.clip(index + (1 if backwards else -1), 0, values.size - 1)]
        picture = density < (strip.rebate_density or np.inf) - 0.01
        return density + np.where(picture, part * (values[index] - before) * np.exp(-within / fade), 0.0)

    return change


def _field(rng: np.random.Generator, places: Places, cell_mm: float) -> np.ndarray:
    """Smooth noise of unit variance over the strip, with that correlation length in mm."""
    size = 0.25
    rows, columns = int(40 / size), int((np.nanmax(places.along_mm[places.on_strip]) + 5) / size)
    noise = ndimage.gaussian_filter(rng.standard_normal((rows, columns)), cell_mm / size, mode="wrap")
    noise /= noise.std()
    return ndimage.map_coordinates(noise, [places.across_mm / size, places.along_mm / size], order=1, mode="grid-wrap")


def _reticulation(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """A net of fine wrinkles: ridges where two smooth fields change sign."""
    cell = rng.uniform(0.38, 0.50)
    depth = strength * rng.uniform(0.40, 0.50)

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        net = np.exp(-((_field(rng, places, cell) / 0.35) ** 2)) - 0.33
        result: np.ndarray = density + depth * np.sqrt(np.maximum(density, 0)) * net
        return result

    return change


def _coarse_grain(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Clumped grain: noise without any net, at the scale of a pixel."""
    sd = 0.06 + strength * rng.uniform(0.16, 0.22)
    size = rng.uniform(0.8, 1.2)
    return lambda places, density: (
        density
        + sd
        * np.sqrt(np.maximum(density, 0))
        * ndimage.gaussian_filter(rng.standard_normal(density.shape).astype(np.float32), size)
        * (2 * np.sqrt(np.pi) * size)
    )


def _drying_marks(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Rings where drops dried: a dense rim round a slightly thinner middle."""
    count = int(rng.integers(9, 15))
    rim = strength * rng.uniform(0.16, 0.24)
    drops = [
        (
            rng.uniform(4, strip.length_mm - 4),
            rng.uniform(0.25, 0.75) * strip.width_mm,
            rng.uniform(1.6, 3.4),
            rng.uniform(0.8, 1.25),
        )
        for _ in range(count)
    ]

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        for x, y, radius, stretch in drops:
            r = np.hypot((places.along_mm - x) / stretch, (places.across_mm - y) * stretch)
            density = density + rim * np.exp(-(((r - radius) / 0.45) ** 2)) - 0.35 * rim * (r < radius - 0.4)
        return density

    return change


def _light_leak(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """Light from one edge before development: in a positive it takes density away, rebate and all."""
    x, spread = rng.uniform(0.2, 0.8) * strip.length_mm, rng.uniform(7, 14)
    depth, reach = strength * rng.uniform(0.5, 0.7), rng.uniform(9, 16)
    far = rng.random() < 0.5

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        edge = strip.width_mm - places.across_mm if far else places.across_mm
        return density * (
            1 - depth * np.exp(-0.5 * ((places.along_mm - x) / spread) ** 2) * np.exp(-np.maximum(edge, 0) / reach)
        )

    return change


def _frilling(strip: RenderedStrip, strength: float, rng: np.random.Generator) -> Change:
    """The layer leaves the base at the edges in scallops."""
    wide = strength * rng.uniform(2.2, 3.2)
    knots = rng.uniform(0, 1, (2, int(strip.length_mm / 4) + 4))

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        position = np.clip(places.along_mm / 4, 0, knots.shape[1] - 1)
        near = np.interp(position, np.arange(knots.shape[1]), knots[0]) * wide
        far = np.interp(position, np.arange(knots.shape[1]), knots[1]) * wide
        gone = (places.across_mm < near) | (strip.width_mm - places.across_mm < far)
        return np.where(gone, 0.06, density)

    return change


FAULTS: dict[str, Drawing] = {
    "stain": _stain,
    "uneven_agitation": _uneven_agitation,
    "bromide_drag": _bromide_drag,
    "reticulation": _reticulation,
    "coarse_grain": _coarse_grain,
    "drying_marks": _drying_marks,
    "light_leak": _light_leak,
    "frilling": _frilling,
}


def strip_for_faults(rng: np.random.Generator, width: int = 1100) -> tuple[RenderedStrip, RenderedScene]:
    """A perforated strip of six to eleven patches with a reversal curve, near enough to see its faults; the picture is `width` pixels wide."""
    count = int(rng.integers(6, 12))
    x = np.linspace(-1.6, 1.6, count)
    densities = 0.1 + rng.uniform(1.9, 2.4) / (1 + np.exp(rng.uniform(2, 3) * x))
    if rng.random() < 0.5:
        densities = densities[::-1]
    strip = RenderedStrip(
        tuple(densities),
        pitch_mm=150 / count,
        gap_mm=float(rng.choice([0.0, 1.5])),
        lead_mm=tuple(rng.uniform(1, 5, 2)),
        rebate_density=float(densities.max()) + 0.1,
        perforated=True,
    )
    return strip, random_scene(strip, rng, Draw(width=width, height=round(width * 6 / 11)))


def together(changes: Sequence[Change]) -> Change:
    """Several changes one after the other."""

    def change(places: Places, density: np.ndarray) -> np.ndarray:
        for one in changes:
            density = one(places, density)
        return density

    return change


def render_faults(
    faults: Mapping[str, float], seed: int, *, others: Mapping[str, Drawing] | None = None, width: int = 1100
) -> tuple[Light, np.random.Generator]:
    """The light of a strip with some faults (none for a sound one), and the generator to expose it with.

    Parameters
    ----------
    faults : mapping
        Strength of each fault, 0 to 1.
    seed : int
    others : mapping, optional
        Drawings that `faults` may name beside those of `FAULTS`.
    width : int
        Of the picture, pixels.
    """
    rng = np.random.default_rng(seed)
    strip, scene = strip_for_faults(rng, width)
    known = {**FAULTS, **(others or {})}
    # A stain adds colours to what is grey before it, so it comes last.
    changes = [
        known[name](strip, strength, rng)
        for name, strength in sorted(faults.items(), key=lambda item: item[0] == "stain")
    ]
    return render(strip, scene, rng, fault=together(changes) if changes else None), rng
