"""Light of the patches, of the open panel and of the glare, from all pictures of a strip."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from obverse.foundation import Estimate, InputError
from obverse.imaging import (
    RAW,
    Blocks,
    Field,
    GlarePrior,
    Grain,
    Grid,
    Merged,
    Noise,
    Picture,
    Warp,
    biweight,
    box_grid,
    estimate_noise,
    exposure_ratios,
    fit_field,
    glare_over_strip,
    grain_contrast,
    merge,
    middles,
    read_blocks,
    spot_grid,
)
from obverse.imaging.alignment import Shift, find_shift
from obverse.imaging.finding import LONGEST, Opaque, Survey, dark_noise, find_opaque
from obverse.imaging.masks import shrink
from obverse.reference import number, record

_PANEL_SPOTS = 1500  # of the open panel, at the most
_SAME_PIXEL = 0.3  # pixels, within which no shift is told
_BRIGHT_PERCENT, _EVERY = 98, 3  # percentile of a copy that is its panel, by every third pixel
_NOT_CLIPPED = 0.995  # of the light that clips
_ORDER, _ORDER_OF_FEW, _MANY_SPOTS = 4, 2, 400  # of a field: the main channel and many spots tell a bent one
_GRAIN_SHOWS = 0.9  # of the blocks of a patch
_LEAST_GLARE = 1e-6  # of the panel; less cannot be told from none
_FARTHEST = 3.0  # standard uncertainties
_OF_CAMERAS = (RAW, "image/heic", "image/avif")  # kinds of file
_WINDOW = 5  # pixels of the copy over which the darkest place is averaged


class Views:
    """The pictures of one strip with their small copies, and which of them shows the panel best."""

    def __init__(self, pictures: Sequence[Picture]):
        self.pictures = pictures
        self.copies = [p.reduced(LONGEST) for p in pictures]
        best, level = None, -1.0
        darkest, lowest = 0, np.inf
        for k, (picture, (light, _)) in enumerate(zip(pictures, self.copies, strict=True)):
            bright = float(np.percentile(light[::_EVERY, ::_EVERY], _BRIGHT_PERCENT))
            if bright < lowest:
                darkest, lowest = k, bright
            if level < bright < _NOT_CLIPPED * picture.clip_light:
                best, level = k, bright
        self.panel_clipped = best is None
        self.master = darkest if best is None else best

    def shifts(self, quad: np.ndarray) -> list[Shift]:
        """How each picture lies against the one whose corners are given, from neighbour to neighbour in exposure."""
        found = [Shift(0.0, 0.0, 1.0)] * len(self.pictures)
        order = sorted(range(len(self.pictures)), key=lambda k: float(self.copies[k][0].mean()))
        start = order.index(self.master)
        for way in (order[start:], order[: start + 1][::-1]):
            for k, n in itertools.pairwise(way):
                before = found[k]
                step = find_shift(
                    (self.pictures[k], self.pictures[n]),
                    (self.copies[k], self.copies[n]),
                    quad + np.array([before.x, before.y]),
                )
                # A chain is as good as its worst link; what cannot be told is not counted.
                found[n] = Shift(
                    before.x + step.x, before.y + step.y, float(np.nanmin([before.likeness, step.likeness]))
                )
        return found


class Work:
    """What is being read: pictures, geometry and grids."""

    def __init__(
        self,
        views: Views,
        seen: Survey,
        warp: Warp,
        covered: np.ndarray,
        grid: Grid,
        panel: Picture | None,
        shifts: list[Shift],
    ):
        self.pictures, self.copies, self.master = views.pictures, views.copies, views.master
        self.panel_clipped = views.panel_clipped
        self.seen, self.warp, self.grid, self.panel = seen, warp, grid, panel
        self.shifts = np.array([(s.x, s.y) for s in shifts])
        self.size = (self.pictures[0].width, self.pictures[0].height)
        self.main = self.pictures[0].main_channel
        self.scanned = any(p.scanned for p in self.pictures)
        # One picture that says nothing of its exposure, and is not by the sensor's own pattern, may be either's. A scanner
        # takes no bracket, and writes none of the files that telephones write.
        said = any(p.exposure() or p.f_number or p.iso or p.media_type in _OF_CAMERAS for p in self.pictures)
        by_camera = said or len(self.pictures) > 1
        self.makers = ("scanner",) if self.scanned else ("camera",) if by_camera else ("camera", "scanner")
        self.opaque: Opaque | None = find_opaque(seen, warp, covered)
        self.opaque_grid = box_grid(self.opaque.box) if self.opaque else None
        open_panel = shrink(seen.panel, 2)
        open_panel &= ~covered
        if open_panel.sum() < 60:
            open_panel = seen.panel
        # On few rows: they are what has to be fetched from a file.
        every = math.ceil(math.sqrt(open_panel.sum() / _PANEL_SPOTS)) or 1
        row, column = np.nonzero(open_panel[every // 2 :: every, every // 2 :: every])
        self.spots = seen.to_picture(np.stack([column, row], 1) * every + every // 2)
        self.spot_grid = spot_grid(self.spots, seen.step, self.size)


@dataclass(frozen=True, eq=False)
class LightOf:
    """Merged light per channel, in units of the longest exposure's saturation."""

    patches: list[Merged]
    glare: list[Estimate]
    glare_measured: bool
    glare_from_grain: bool
    panel: list[np.ndarray]
    panel_sd: np.ndarray
    exposures: np.ndarray
    exposure_sd: np.ndarray
    share: np.ndarray
    bright: np.ndarray
    quantum: np.ndarray


def read_light(work: Work, tell: Callable[[float], None]) -> LightOf:
    strips: list[Blocks] = []
    opaques: list[Blocks] = []  # empty where nothing opaque lies beside the strip
    spots: list[Blocks] = []
    noises: list[Noise] = []
    for k, picture in enumerate(work.pictures):
        shift = work.shifts[k]
        blocks = read_blocks(picture, work.grid.moved(shift))
        strips.append(blocks)
        if work.opaque_grid:
            opaques.append(read_blocks(picture, work.opaque_grid.moved(shift)))
        spots.append(read_blocks(picture, work.spot_grid.moved(shift)))
        noises.append(estimate_noise(blocks.mean[..., work.main].ravel(), blocks.variance[..., work.main].ravel()))
        tell((k + 1) / len(work.pictures))
    stated = [p.exposure() for p in work.pictures]
    exposures, exposure_sd = _exposures(work, strips, spots, noises, stated)
    relative = exposures / exposures.max()
    channels = work.pictures[0].channels
    shape = strips[0].mean.shape[:2]
    patches, panel, panel_sd = [], [], np.zeros(shape)
    share = np.zeros((len(work.pictures), *shape))
    for c in range(channels):
        merged, weight = _merge_channel(strips, noises, exposures, c)
        patches.append(merged)
        under, field = _panel_field(work, spots[work.master], c, relative[work.master])
        panel.append(under)
        if c == work.main:
            share, panel_sd = weight.reshape(share.shape), field.relative_sd(work.grid.centres)
    card = [_level_of_card(opaques, noises, exposures, c) for c in range(channels)] if opaques else None
    glare, from_grain = _glare(work, strips, patches, panel, relative, card)
    quantum = _quantum(work, strips, noises, relative, share)
    bright = np.all([b.bright[..., work.main] for b in strips], axis=0)
    return LightOf(
        patches,
        glare,
        bool(work.opaque_grid),
        from_grain,
        panel,
        panel_sd,
        exposures,
        exposure_sd,
        share,
        bright,
        quantum,
    )


def _usable(blocks: Blocks, channel: int) -> np.ndarray:
    return np.asarray(~blocks.bright[..., channel] & ~blocks.dark[..., channel])


def _merge_channel(
    blocks: list[Blocks], noises: list[Noise], exposures: np.ndarray, channel: int
) -> tuple[Merged, np.ndarray]:
    """Merged light (flattened blocks) and the weight each picture had in it."""
    lights = np.stack([b.mean[..., channel].ravel() for b in blocks])
    variances = np.stack([n.variance(m) / b.samples for n, m, b in zip(noises, lights, blocks, strict=True)])
    usable = np.stack([_usable(b, channel).ravel() for b in blocks])
    relative = exposures[:, None] / exposures.max()
    weight = np.where(usable, relative**2 / np.maximum(variances, 1e-18), 0.0)
    total = np.maximum(weight.sum(0), 1e-30)
    return merge(lights, variances, usable, exposures), weight / total


def _exposures(
    work: Work, strips: list[Blocks], spots: list[Blocks], noises: list[Noise], stated: list[float | None]
) -> tuple[np.ndarray, np.ndarray]:
    if len(work.pictures) == 1:
        return np.ones(1), np.zeros(1)
    c = work.main
    lights, variances, usable = [], [], []
    for blocks, spot, noise in zip(strips, spots, noises, strict=True):
        mean = np.concatenate([blocks.mean[..., c].ravel(), spot.mean[..., c].ravel()])
        samples = np.concatenate(
            [np.full(blocks.mean[..., c].size, blocks.samples), np.full(spot.mean[..., c].size, spot.samples)]
        )
        lights.append(mean)
        variances.append(noise.variance(mean) / samples)
        # The darkest tenth of the scale is left to the longer exposures: black level and glare weigh there.
        usable.append(np.concatenate([_usable(blocks, c).ravel(), _usable(spot, c).ravel()]) & (mean > 0.01))
    return exposure_ratios(
        np.stack(lights), np.stack(variances), np.stack(usable), stated, number("camera.stated_time")
    )


def _panel_field(work: Work, spots: Blocks, channel: int, relative: float) -> tuple[np.ndarray, Field]:
    """Light of the open panel at every block of the strip, and the field that knows how sure it is."""
    level = spots.mean[0, :, channel] / relative
    good = level > 0
    points, centres = work.spots, work.grid.centres
    if work.panel is not None:
        empty = read_blocks(work.panel, work.spot_grid).mean[0, :, channel]
        under = read_blocks(work.panel, work.grid).mean[..., channel]
        good &= empty > 0
        # A slow ratio field takes up a lamp that changed a little between the two pictures.
        ratio = _field(points[good], level[good] / empty[good], work, channel, 1)
        return ratio.light(centres) * under, ratio
    order = _ORDER if channel == work.main or good.sum() > _MANY_SPOTS else _ORDER_OF_FEW
    field = _field(points[good], level[good], work, channel, order)
    return field.light(centres), field


def _field(points: np.ndarray, light: np.ndarray, work: Work, channel: int, order: int) -> Field:
    if len(points) < 6:
        raise InputError(
            "too little open panel can be seen", where="panel", remedy="leave lit panel free along the strip"
        )
    # The uncertainty is worked out in the channel that density is read in.
    return fit_field(points, light, size=work.size, order=order, judged=channel == work.main)


def _level_of_card(opaques: list[Blocks], noises: list[Noise], exposures: np.ndarray, channel: int) -> float:
    """Light of the opaque piece in one channel."""
    merged, _ = _merge_channel(opaques, noises, exposures, channel)
    level = float(biweight(merged.light)[0])
    if math.isfinite(level):
        return max(level, 0.0)
    # Clipped at black in every picture: nothing but the black level.
    return max(float(opaques[int(np.argmax(exposures))].mean[..., channel].mean()), 0.0)


def _glare(
    work: Work,
    strips: list[Blocks],
    patches: list[Merged],
    panel: list[np.ndarray],
    relative: np.ndarray,
    card: list[float] | None,
) -> tuple[list[Estimate], bool]:
    """Glare over the strip, per channel, and whether the grain told it where nothing opaque did.

    It is bounded by the darkest part of the picture; an opaque piece, or habit where there is none, says how much it is
    likely to be, and the contrast of the grain.
    """
    shape = work.grid.pixels.shape[:2]
    blocks = patches[work.main].light.reshape(shape) / panel[work.main]
    seen = np.isfinite(blocks).any(axis=1)
    level = np.full(shape[0], np.nan)
    level[seen] = middles(blocks[seen])
    middle = [float(np.median(p)) for p in panel]
    makers = work.makers
    # What is dark elsewhere may have less of the veil than the strip has.
    elsewhere = 1.0 + _FARTHEST * max(number(f"{maker}.glare_unevenness") for maker in makers)
    dark = _darkest(work, int(np.argmax(relative))) / middle[work.main]
    darkest = min([v for v in level[seen] if v > 0] + [elsewhere * dark])
    kinds = [(number(f"{maker}.glare_typical"), number(f"{maker}.glare_spread")) for maker in makers]
    if card is not None:
        # Lit panel lies all round the piece and strays into it; over the strip there is less.
        beside = max(card[work.main] / middle[work.main], _LEAST_GLARE)
        kinds = [(share * beside, spread) for share, spread in (record(f"{m}.glare_beside_card").value for m in makers)]
    prior = GlarePrior(
        kinds=tuple(kinds),
        # What may be a scan is taken as one here; where a piece shows the veil, nothing is to be guessed from how dark the strip is.
        any_darkness=number(f"{makers[-1]}.any_darkness") if card is None else 0.0,
        exponent=number("camera.grain_exponent"),
        exponent_sd=number("camera.grain_exponent_sd"),
        scatter=number("camera.grain_scatter"),
        pattern=number("camera.pixel_pattern"),
        measured=card is not None,
    )
    veil = glare_over_strip(darkest, prior, _grain(work, strips, level, panel[work.main], relative))
    part = veil.glare
    # Every channel has its own veil where a piece shows it; without one all have the same share of their light.
    scale = [one / card[work.main] * middle[work.main] for one in card] if card and card[work.main] > 0 else middle
    return [
        Estimate(part.value * m, part.sd * m, part.low90 * m, part.high90 * m) for m in scale
    ], card is None and veil.from_grain


def _darkest(work: Work, longest: int) -> float:
    """Light of the darkest place on the panel in the longest exposure, noise allowed for."""
    copy, _ = work.copies[longest]
    noise = dark_noise(copy) / _WINDOW
    even = _even(copy, _WINDOW)
    lowest = float(even[work.seen.region].min())
    step = float(work.pictures[longest].step(np.zeros(1))[0])
    return max(lowest, 0.0) + max(2.0 * noise, step)


def _even(light: np.ndarray, window: int) -> np.ndarray:
    """Means over a square window around each pixel; beyond the rim the picture is mirrored. A third of the time of a general filter."""
    wide = np.pad(light, window // 2, mode="symmetric")
    for axis in (0, 1):
        length = light.shape[axis]
        parts = [wide[(slice(None),) * axis + (slice(first, first + length),)] for first in range(window)]
        wide = sum(parts[1:], parts[0])
    return np.asarray(wide / np.float32(window**2))


def _grain(
    work: Work, strips: list[Blocks], level: np.ndarray, panel: np.ndarray, relative: np.ndarray
) -> Grain | None:
    """Contrast of the grain of every patch that two pictures show well; the two longest of them are taken."""
    # A camera that finishes its pictures smooths the grain away where it is dark, and packs what is left.
    if any(p.encoding in ("srgb", "response") for p in work.pictures):
        return None
    usable = np.stack([_usable(b, work.main).mean(axis=1) > _GRAIN_SHOWS for b in strips])
    order = np.argsort(-relative)
    pairs: dict[tuple[int, int], list[int]] = {}
    between_pixels = work.shifts - np.rint(work.shifts)
    for p in np.flatnonzero(level > 0):
        which = [int(k) for k in order if usable[k, p]]
        # Grain is as fine as a pixel: pictures that lie between each other's pixels do not share it.
        if len(which) > 1 and np.abs(between_pixels[which[0]] - between_pixels[which[1]]).max() < _SAME_PIXEL:
            pairs.setdefault((which[0], which[1]), []).append(int(p))
    found = []
    for (first, second), which in pairs.items():
        light = panel[which]
        contrast, sd = grain_contrast(
            [work.pictures[k] for k in (first, second)],
            [work.grid.only(which).moved(work.shifts[k]) for k in (first, second)],
            [relative[k] * light for k in (first, second)],
        )
        found.append(np.stack([level[which], contrast / level[which] ** 2, sd / level[which] ** 2]))
    if not found:
        return None
    rows = np.concatenate(found, axis=1)
    return Grain(*rows[:, np.all(np.isfinite(rows), axis=0) & (rows[2] > 0)])


def _quantum(
    work: Work, strips: list[Blocks], noises: list[Noise], relative: np.ndarray, share: np.ndarray
) -> np.ndarray:
    """Uncertainty of each block from the width of a code and from lossy compression, in merged light.

    Noise wider than a code averages the rounding away (dither); what is left falls off as
    exp(-2 pi^2 (noise / code)^2). What compression changes does not average away.
    """
    total = np.zeros(share.shape[1:])
    for k, (picture, blocks, noise) in enumerate(zip(work.pictures, strips, noises, strict=True)):
        light = blocks.mean[..., work.main]
        step = picture.step(light)
        if np.all(step == 0):
            continue
        sd = np.sqrt(noise.variance(light))
        left = step / math.sqrt(12) * np.exp(-2 * np.pi**2 * (sd / np.maximum(step, 1e-12)) ** 2)
        total += share[k] * np.hypot(left, picture.code_sd * step) / relative[k]
    return total
