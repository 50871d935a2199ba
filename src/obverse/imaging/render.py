"""Simulated pictures with known truth: a strip on a light panel as a camera would see it.

Everything drawn at random comes from the generator that is handed in. The densities, corners and
faults of the result are known exactly, which no real picture offers; every picture saved from here
is marked as simulated. Its numbers are invented, as scenes are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from obverse.imaging.encoding import linear_to_srgb
from obverse.imaging.geometry import UNIT_SQUARE, homography, project

Channels = tuple[float, float, float]


@dataclass(frozen=True)
class RenderedStrip:
    """A strip of film, in millimetres.

    Parameters
    ----------
    densities : tuple of float
        Patch by patch, from the first end.
    pitch_mm, gap_mm : float
        Length of a patch with its gap; width of the dark gap between patches (0: a wedge).
    width_mm, picture_mm : float
        Across the film; the height of the picture area.
    lead_mm : (float, float)
        Rebate before the first patch and after the last.
    rebate_density : float or None
        Density beside and between the pictures; None: the patches reach from edge to edge.
    """

    densities: tuple[float, ...]
    pitch_mm: float = 10.0
    gap_mm: float = 0.0
    width_mm: float = 35.0
    picture_mm: float = 24.0
    lead_mm: tuple[float, float] = (0.0, 0.0)
    rebate_density: float | None = None
    perforated: bool = False

    @property
    def length_mm(self) -> float:
        """From end to end."""
        return self.lead_mm[0] + self.lead_mm[1] + self.pitch_mm * len(self.densities)

    def density(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Density at places (mm from the first corner, along and across); perforations excepted."""
        phase = (x - self.lead_mm[0]) / self.pitch_mm
        index = np.floor(phase).astype(int)
        values = np.asarray(self.densities)[np.clip(index, 0, len(self.densities) - 1)]
        if self.rebate_density is None:
            result: np.ndarray = values
            return result
        from_middle = np.abs(phase - index - 0.5) * self.pitch_mm
        picture = (index >= 0) & (index < len(self.densities)) & (from_middle < (self.pitch_mm - self.gap_mm) / 2)
        picture &= np.abs(y - self.width_mm / 2) < self.picture_mm / 2
        return np.where(picture, values, self.rebate_density)

    def perforation(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """True inside a perforation: 4.75 mm apart, 2.8 x 2.0 mm, 2.0 mm from the edge."""
        if not self.perforated:
            return np.zeros(x.shape, dtype=bool)
        along = np.abs((x / 4.75) % 1 - 0.5) * 4.75
        across = np.minimum(np.abs(y - 3.4), np.abs(self.width_mm - y - 3.4))
        corner = np.hypot(np.maximum(along - 0.5, 0), np.maximum(across - 0.9, 0))
        return (along < 1.0) & (across < 1.4) & (corner < 0.65)


@dataclass(frozen=True)
class RenderedScene:
    """The strip, how the camera looks at it, and what the light and the air add.

    Parameters
    ----------
    width, height : int
        Of the picture, pixels.
    corners : ndarray, shape (4, 2)
        The strip's corners in the picture, from the first corner along the strip.
    panel_colour : (red, green, blue)
        Light of the panel, fraction of saturation at exposure 1 in the middle.
    falloff : (float, float, float, float)
        Natural logarithm of light: x and y slope across the half picture, cos^4 strength, unevenness.
    glare : float
        Veiling glare, fraction of the open panel.
    glare_slope : float
        Relative change of the glare across the half picture.
    mask : bool
        Whether an opaque card lies beside the strip.
    surround : float
        Light of what lies outside the panel, fraction of the panel.
    margin : float
        How far the panel reaches beyond the strip, in strip widths; inf: it fills the picture.
    blur : float
        Standard deviation of the unsharpness, pixels.
    full_well, read_noise : float
        Electrons at saturation, and of reading out.
    grain : float
        RMS granularity at D 1, density, in a pixel-sized area.
    grain_size : float
        Correlation length of the grain, pixels.
    dust, scratches : int
        Number of specks and of scratches.
    stain : (red, green, blue)
        Extra density of an even stain in each channel.
    """

    width: int
    height: int
    corners: np.ndarray
    panel_colour: Channels = (0.7, 0.8, 0.75)
    falloff: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    glare: float = 0.0
    glare_slope: float = 0.0
    mask: bool = False
    surround: float = 0.0005
    margin: float = np.inf
    blur: float = 0.7
    full_well: float = 30_000.0
    read_noise: float = 5.0
    grain: float = 0.0
    grain_size: float = 0.8
    dust: int = 0
    scratches: int = 0
    stain: Channels = (0.0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class Light:
    """What falls on the sensor before any noise, with the truth.

    Parameters
    ----------
    light : ndarray, shape (H, W, 3)
        Fraction of saturation at exposure 1.
    """

    light: np.ndarray
    strip: RenderedStrip
    scene: RenderedScene

    @property
    def densities(self) -> np.ndarray:
        """True density of each patch in the green channel."""
        return np.asarray(self.strip.densities) + self.scene.stain[1]


@dataclass(frozen=True, eq=False)
class Places:
    """Where each (sub)pixel lies on the strip: mm along and across, and whether it is on it."""

    along_mm: np.ndarray
    across_mm: np.ndarray
    on_strip: np.ndarray


# A fault: what it makes of the densities (H, W, 3) at those places.
Change = Callable[[Places, np.ndarray], np.ndarray]


def render(
    strip: RenderedStrip,
    scene: RenderedScene,
    rng: np.random.Generator,
    *,
    fault: Change | None = None,
    supersample: int = 2,
) -> Light:
    """Light on the sensor.

    Parameters
    ----------
    rng : numpy Generator
        Places of dust, scratches and grain.
    fault : callable, optional
        Takes `Places` and the density (H', W') and gives the changed density, (H', W') or
        (H', W', 3); see `benchmarks/render_faults.py`.
    supersample : int
        Rays per pixel and way.
    """
    h, w = scene.height, scene.width
    transmitted = _beyond_the_panel(strip, scene)
    box = _around(scene)
    covered = np.zeros((h, w), dtype=np.float32)
    if covered[box].size:  # the strip may lie wholly outside the picture
        transmitted[box], covered[box] = _strip_and_mask(strip, scene, box, fault, supersample)
    transmitted *= _grain(transmitted, covered, scene, rng)[..., None]
    transmitted *= _dust_and_scratches(scene, covered > 0, rng)[..., None]
    transmitted = ndimage.gaussian_filter(transmitted, (scene.blur, scene.blur, 0))
    across = (np.arange(w) - (w - 1) / 2) / (max(w, h) / 2)
    down = (np.arange(h) - (h - 1) / 2) / (max(w, h) / 2)
    light = transmitted * _falloff(scene, across, down)[..., None]
    veil = scene.glare * (1 + scene.glare_slope * across[None, :] + 0.5 * scene.glare_slope * down[:, None])
    return Light((light + veil[..., None]) * np.asarray(scene.panel_colour), strip, scene)


def _beyond_the_panel(strip: RenderedStrip, scene: RenderedScene) -> np.ndarray:
    """The empty panel and its surround, (H, W, 3)."""
    h, w = scene.height, scene.width
    transmitted = np.ones((h, w, 3), dtype=np.float32)
    if np.isfinite(scene.margin):
        y, x = np.mgrid[:h, :w]
        points = project(homography(scene.corners, UNIT_SQUARE), np.stack([x, y], -1))
        out = [
            np.abs(points[..., k] - 0.5) * size > size / 2 + scene.margin * strip.width_mm
            for k, size in ((0, strip.length_mm), (1, strip.width_mm))
        ]
        transmitted[out[0] | out[1]] = scene.surround
    return transmitted


def _around(scene: RenderedScene) -> tuple[slice, slice]:
    """Rows and columns that hold the strip and the card beside it."""
    card = -0.55 if scene.mask else 0.0
    reach = project(homography(UNIT_SQUARE, scene.corners), np.array([[0, card], [1, card], [1, 1], [0, 1]]))
    low, high = np.floor(reach.min(0)).astype(int) - 2, np.ceil(reach.max(0)).astype(int) + 3
    low = np.clip(low, 0, [scene.width, scene.height])
    high = np.clip(high, low, [scene.width, scene.height])
    return slice(low[1], high[1]), slice(low[0], high[0])


def _strip_and_mask(
    strip: RenderedStrip, scene: RenderedScene, box: tuple[slice, slice], fault: Change | None, s: int
) -> tuple[np.ndarray, np.ndarray]:
    """Transmittance (h, w, 3) and share covered by film (h, w) of a part of the picture."""
    rows, columns = box
    h, w = rows.stop - rows.start, columns.stop - columns.start
    y, x = np.mgrid[: h * s, : w * s].astype(np.float32)
    points = project(
        homography(scene.corners, UNIT_SQUARE),
        np.stack([(x + 0.5) / s - 0.5 + columns.start, (y + 0.5) / s - 0.5 + rows.start], -1),
    ).astype(np.float32)
    places = Places(
        points[..., 0] * np.float32(strip.length_mm),
        points[..., 1] * np.float32(strip.width_mm),
        np.all((points >= 0) & (points <= 1), axis=-1),
    )
    density = strip.density(places.along_mm, places.across_mm).astype(np.float32)
    if fault is not None:
        density = fault(places, density)
    if density.ndim == 2:
        density = density[..., None]
    if any(scene.stain):
        density = density + np.asarray(scene.stain, dtype=np.float32)
    film = places.on_strip & ~strip.perforation(places.along_mm, places.across_mm)
    transmitted = np.where(film[..., None], np.float32(10.0) ** -density, np.float32(1.0))
    if scene.mask:
        transmitted[_mask(strip, places)] = 0.0
    transmitted = transmitted.reshape(h, s, w, s, -1).mean(axis=(1, 3))
    return np.broadcast_to(transmitted, (h, w, 3)), film.reshape(h, s, w, s).mean(axis=(1, 3))


def _mask(strip: RenderedStrip, places: Places) -> np.ndarray:
    """The opaque card: a third of the strip's width, beside the strip's middle."""
    size, middle = 0.34 * strip.width_mm, 0.5 * strip.length_mm
    return (
        (np.abs(places.along_mm - middle) < size)
        & (places.across_mm < -0.18 * strip.width_mm)
        & (places.across_mm > -0.18 * strip.width_mm - size)
    )


def _falloff(scene: RenderedScene, across: np.ndarray, down: np.ndarray) -> np.ndarray:
    slope_x, slope_y, cosine, uneven = scene.falloff
    radius2 = across[None, :] ** 2 + down[:, None] ** 2
    logs = slope_x * across[None, :] + slope_y * down[:, None] - 2.0 * np.log1p(cosine * radius2)
    logs = logs + uneven * np.cos(2.0 * across[None, :] + 0.7) * np.cos(1.7 * down[:, None] - 0.4)
    result: np.ndarray = np.exp(logs)
    return result


def _grain(transmitted: np.ndarray, covered: np.ndarray, scene: RenderedScene, rng: np.random.Generator) -> np.ndarray:
    """Grain as a factor of mean 1; its standard deviation in density grows as the root of density."""
    shape = covered.shape
    if scene.grain <= 0:
        return np.ones(shape)
    noise = ndimage.gaussian_filter(rng.standard_normal(shape), scene.grain_size)
    noise /= noise.std()
    density = -np.log10(np.clip(transmitted[..., 1], 1e-4, 1))
    sd = scene.grain * np.sqrt(density) * covered
    spread = np.log(10) * sd
    result: np.ndarray = np.exp(spread * noise - spread**2 / 2)
    return result


def _dust_and_scratches(scene: RenderedScene, on_strip: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    h, w = scene.height, scene.width
    factor = np.ones((h, w))
    y, x = np.mgrid[:h, :w]
    unit = max(w, h) / 1000
    for _ in range(scene.dust):
        cx, cy, radius = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(0.5, 2.5) * unit
        reach = int(radius * 4) + 2
        box = np.s_[max(0, int(cy) - reach) : int(cy) + reach + 1, max(0, int(cx) - reach) : int(cx) + reach + 1]
        stretch, angle = rng.uniform(1, 4), rng.uniform(0, np.pi)
        u = (x[box] - cx) * np.cos(angle) + (y[box] - cy) * np.sin(angle)
        v = -(x[box] - cx) * np.sin(angle) + (y[box] - cy) * np.cos(angle)
        factor[box] *= np.where((u / stretch) ** 2 + v**2 < radius**2, rng.uniform(0.05, 0.6), 1.0)
    along = scene.corners[1] - scene.corners[0]
    along = along / np.hypot(*along)
    for _ in range(scene.scratches):
        start = scene.corners[0] + rng.uniform(0.05, 0.95) * (scene.corners[3] - scene.corners[0])
        away = np.abs((x - start[0]) * along[1] - (y - start[1]) * along[0])
        factor *= np.where(on_strip & (away < rng.uniform(0.3, 0.8) * unit), rng.choice([0.6, 1.25]), 1.0)
    return factor


def expose(light: Light, exposure: float, rng: np.random.Generator, *, bits: int = 16, black: int = 0) -> np.ndarray:
    """Linear codes of an exposure, uint16 (H, W, 3); clipped at full scale, with photon and read noise."""
    electrons = light.light * exposure * light.scene.full_well
    noisy = electrons + rng.standard_normal(electrons.shape) * np.sqrt(electrons + light.scene.read_noise**2)
    white = 2**bits - 1
    codes = black + noisy / light.scene.full_well * (white - black)
    result: np.ndarray = np.clip(np.rint(codes), 0, white).astype(np.uint16)
    return result


def develop(codes: np.ndarray, *, bits: int = 16, black: int = 0) -> np.ndarray:
    """The 8-bit sRGB codes of linear codes, uint8 (H, W, 3), by the standard curve."""
    linear = (codes.astype(np.float32) - black) / (2**bits - 1 - black)
    return np.rint(linear_to_srgb(np.clip(linear, 0, 1)) * 255).astype(np.uint8)
