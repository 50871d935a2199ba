"""An invented still life, computed, for whoever has no photograph at hand: every number in it is made up."""

from __future__ import annotations

import numpy as np

from obverse.foundation import Array
from obverse.workbench.preview import CODE_STEP, CODES, Photograph, codes_of


def sample_scene(width: int = 1500, height: int = 1000) -> Photograph:
    """An invented still life, computed: balls on a table before a window, and a row of greys a stop apart."""
    y, x = np.mgrid[0:height, 0:width].astype(np.float64)
    u, v = x / width, y / height
    light = 0.05 + 0.16 * (1 - u) * (1 - 0.4 * v)
    light[v > 0.62] = (0.30 * (1 - 0.75 * u) * (0.55 + 0.45 * (v - 0.62) / 0.38))[v > 0.62]
    window = (u > 0.06) & (u < 0.25) & (v > 0.08) & (v < 0.5)
    bars = (np.abs(u - 0.155) < 0.005) | (np.abs(v - 0.29) < 0.007)
    light[window] = (2.6 + 1.6 * (0.5 - v))[window]
    light[window & bars] = 0.03
    balls = ((0.37, 0.60, 0.115, 0.80), (0.60, 0.55, 0.165, 0.18), (0.82, 0.64, 0.085, 0.035))
    across = u * width / height
    for cx, cy, radius, _ in balls:
        _shadow(light, across, v, cx * width / height, cy, radius)
    for cx, cy, radius, albedo in balls:
        _ball(light, across, v, cx * width / height, cy, radius, albedo)
    row = v > 0.90
    steps = np.clip((u * 11).astype(int), 0, 10)
    light[row] = (0.18 * 2.0 ** (steps - 5.0))[row]
    relative = (light / light.max()).astype(np.float32)
    # The invented light meter stands on the row's middle grey.
    return Photograph(
        codes_of(relative),
        float(CODES - 1 + np.log10(0.18 / light.max()) / CODE_STEP),
        "an invented still life, computed",
    )


def _shadow(light: Array, x: Array, y: Array, cx: float, cy: float, radius: float) -> None:
    shadow = np.exp(
        -(((x - cx - 0.9 * radius) / (1.5 * radius)) ** 2 + ((y - cy - radius * 0.95) / (0.22 * radius)) ** 2)
    )
    light *= 1 - 0.75 * shadow * (y > 0.62)


def _ball(light: Array, x: Array, y: Array, cx: float, cy: float, radius: float, albedo: float) -> None:
    dx, dy = (x - cx) / radius, (y - cy) / radius
    inside = dx**2 + dy**2 < 1
    dz = np.sqrt(np.maximum(1 - dx**2 - dy**2, 0))
    sun = np.array([-0.75, -0.35, 0.56])
    lit = np.maximum(sun[0] * dx + sun[1] * dy + sun[2] * dz, 0)
    half = sun + np.array([0, 0, 1.0])
    half /= np.linalg.norm(half)
    glint = np.maximum(half[0] * dx + half[1] * dy + half[2] * dz, 0) ** 60
    shade = albedo * (1.1 * lit + 0.06 + 0.05 * np.maximum(dy, 0)) + 1.5 * glint
    light[inside] = shade[inside]
