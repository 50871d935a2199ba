"""What is measured on a strip laid flat: one number for each look that a fault has.

Relative numbers are shares of the patch's own density. None of them decides anything; they are
weighed together by `obverse.diagnosis.weighing`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy import ndimage

from obverse.densitometry import StripReading
from obverse.diagnosis.rings import rings
from obverse.diagnosis.sheet import CELL_MM, FILM_MM, INSIDE, PICTURE_MM, Sheet
from obverse.foundation import MAD_TO_SD

_PITCH_MM = np.linspace(4.6, 4.9, 7)  # spacing of perforations; the film's width is not known better than 3 %
# Spacings that no perforations have: what swings with these is noise.
_OTHER_PITCH_MM = np.concatenate([np.linspace(3.3, 4.1, 5), np.linspace(5.6, 7.4, 5)])
# Where perforations lie across the film, in mm, and how much more of a swing theirs must be.
_PERFORATIONS_MM, _SURELY_MORE = (2.2, 4.6), 2.0
# Across the film, in mm: its middle; where the picture's edge zones end; where a leak is looked for; the rebate outside and
# inside the perforations; its unperforated inside; the bands along which drag is followed, and their width; the rim of the layer.
_CENTRE_MM, _EDGE_ZONE_MM, _LEAK_ZONE_MM = (14.5, 20.5), 9.5, 13
_REBATE_OUT_MM, _REBATE_IN_MM, _BODY_MM = (0.8, 1.6), (4.9, 5.5), (4.9, 5.6)
_BANDS_MM, _BAND_WIDTH_MM, _RIM_MM = (9.2, 14.7, 20.2), 5.5, (-1.5, 1.75)
# Fewer known columns (or columns of a patch, dark ones at the rim, places of a net, usable patches) say nothing.
_FEWEST_COLUMNS, _FEWEST_OF_A_PATCH, _FEWEST_OF_A_STEP, _FEWEST_DARK, _FEWEST_PLACES = 40, 10, 6, 80, 20
_FEWEST_STEPS = 3
# A running mean is known where this part of its window is, and is never narrower than so many columns.
_KNOWN_PART, _LEAST_WINDOW = 0.33, 3
# What lies so many standard deviations off is dust or a scratch and is cut off; shares of density and steps are cut at these.
_OUTLIER, _MOST_SHARE, _MOST_STEP = 4, 0.6, 0.7
# Clear parts: the so many lightest patches, and all within this density of the clearest. A stain is yellow where green rises over
# red by less than this part of what blue does; and lies all over where the dark half has so much of it.
_CLEAREST, _CLEAR_WITHIN, _YELLOW, _ALL_OVER = 3, 0.3, 0.25, 0.6
# Two edges (or columns, or sides) are alike where one has this part of what the other has.
_ALIKE = 0.6
# Percentiles of the columns that tell how much thinner an edge is, and how much of a loss runs along all of it; and the least
# density of a rebate that a share is taken of.
_THINNER_PERCENT, _LOCAL_PERCENT, _LEAST_REBATE = 20, 25, 0.3
# Columns over which medians run: past perforations and dust in the rebate; over the profile across the film; along the rim.
_PAST_PERFORATIONS, _ACROSS, _ALONG_RIM = 9, 5, 21
# Part of a patch over which drag fades, and the scatter below which a patch counts no more.
_FADES_OVER, _LEAST_SCATTER = 0.4, 0.002
# In cells: what is slower than structure, finer than a net, wider than its mesh; blocks in which its strength is compared.
_SLOW, _FINE, _MESH, _BLOCK = 8, 0.9, 3.0, 12
# Blocks half over each other, without those that reach beyond the edge.
_INNER_BLOCKS = slice(6, -6, 6)
# Percentiles: the ends of the scatter of a net and of an edge, its strongest places, spots against the usual, the spots themselves.
_LOW, _HALF, _HIGH, _STRONGEST, _SPOT, _USUAL, _SPOT_ITSELF = 8, 50, 92, 97, 99, 60, 99.5
# Width over which unevenness counts as broad, and cells apart at which a step across the film is seen.
_BROAD_MM, _STEP_CELLS = 2.5, 10
# The rim: a body denser than this hides nothing; the ends of a strip have corners over so many columns.
_BODY_DENSITY, _CORNER = 0.4, 6
_WINDOW_MM = 10.0
_LEAST_LEVEL = 0.15  # density below which shares of density say nothing
_CURLED = 0.02  # of the film's width
# A leak: density above which nothing is told from black, its place across the film (picture beside the rebate), the window it is
# smoothed over, the percentile of the rebate that had none, the least density of a dark one, and how much more it loses than the picture.
_BLACK, _BESIDE_MM, _LEAK_MM, _UNLIT, _DARK_REBATE, _IN_PICTURE = 1.8, (6.8, 9.5), 8.0, 90, 0.8, 5.0
# The least density of the picture that a share is taken of, where shares are cut, and the part of a window that must be known.
_SURE_LEVEL, _LEAK_SHARE, _LEAK_PART = 0.3, (-0.5, 0.6), 0.2
# Colour: the darkest patches it is looked for in, those called light above the clearest and dark at all, the window across the film,
# the side of a block, the part of it that must be known, how many blocks, and the percentiles between which they differ.
_COLOUR_TO, _COLOUR_LIGHT, _COLOUR_DARK, _COLOUR_MM, _BLOCK_MM = 1.6, 0.35, 0.8, 2.5, 4.0
_BLOCK_KNOWN, _FEWEST_BLOCKS, _BLOCKS_FROM, _BLOCKS_TO, _DARKER_BY = 0.4, 8, 5, 95, 0.5
_NO_FILM = 0.2  # density off a patch's level
_SPOTS = 21  # along a strip, at which its bend is looked at
_LARGEST_PIXEL_MM = 0.45  # coarser pictures do not show the film's edges


@dataclass
class Measures:
    """Numbers by name, and what the words need besides.

    Parameters
    ----------
    numbers : dict
        Densities: `stain`, `stain_everywhere`, `stain_by_density`, `stain_across`, `stain_in_blocks` (between channels), `grain`, `net` (scatter, per root of
        density). Shares of the patch's density: `surge`, `surge_both`, `edges_thinner`, `edges_denser`,
        `one_side`, `one_side_rebate`, `leak`, `uneven_along`, `uneven_across`, `step_across`, `uneven_rest`,
        `uneven_broad`, `spots_thinner`, `spots_denser`. Shares of the step between patches: `drag`,
        `drag_least`. In mm: `edge_wander`, `edge_wander_other`. In units of their own scatter:
        `surge_sharpness`, `drag_clear`, `ring_best`, `rings`. Plain ratios and counts: `drag_share`,
        `net_skew`, `net_lean`, `net_local`, `spots`, `ring_count`. NaN or absent where not to be had.
    places : dict
        Where on the strip each look is, in words.
    words : dict
        Other words: the colour of a stain and its numbers.
    """

    numbers: dict[str, float] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)


def measure(sheet: Sheet, reading: StripReading) -> Measures:
    """Everything that is measured on a strip."""
    found = Measures()
    _stain(found, reading)
    if sheet.colour is not None:
        _uneven_stain(found, sheet, sheet.colour)
    relative = _relative(sheet)
    if np.isfinite(relative).any():
        _surge(found, sheet, relative)
        _one_side(found, sheet, relative)
        _leak(found, sheet)
        _drag(found, sheet, reading)
        _structure(found, sheet)
        rings(found, sheet)
        _unevenness(found, sheet, relative)
    found.numbers["perforated"] = float(_perforated(sheet))
    # What was cut by hand wanders by itself; film that has perforations left was cut by its maker.
    if sheet.pixel_mm <= _LARGEST_PIXEL_MM and not _curls(reading) and found.numbers["perforated"]:
        _film_edges(found, sheet)
    return found


def _curls(reading: StripReading) -> bool:
    """Whether the strip's sides bend so much that what they wander besides says nothing."""
    bend = np.polynomial.polynomial.polyval(
        np.linspace(0, 1, _SPOTS), np.array(reading.warp.bend if reading.warp else (0.0,))
    )
    return bool(np.abs(bend - np.linspace(bend[0], bend[-1], bend.size)).max() > _CURLED)


def _perforated(sheet: Sheet) -> bool:
    """Whether light swings along at least one edge as perforations make it."""
    across = sheet.across_mm
    position = np.arange(sheet.density.shape[1]) * CELL_MM
    for rows in (sheet.density, sheet.density[::-1]):
        light = 10.0 ** -rows[(across > _PERFORATIONS_MM[0]) & (across < _PERFORATIONS_MM[1])].mean(axis=0)
        rest = light - ndimage.uniform_filter1d(light, int(_WINDOW_MM / CELL_MM))
        swing = [
            float(np.abs(np.mean(rest * np.exp(2j * np.pi * position / p)))) for p in (*_PITCH_MM, *_OTHER_PITCH_MM)
        ]
        if max(swing[: _PITCH_MM.size]) > _SURELY_MORE * max(swing[_PITCH_MM.size :]):
            return True
    return False


def _relative(sheet: Sheet) -> np.ndarray:
    """The residual as a share of the patch's density; NaN where that says nothing."""
    scale = sheet.scale
    return sheet.residual / np.where(scale > _LEAST_LEVEL, scale, np.nan)[None, :]


def _middle(values: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Median of some rows in each column; NaN where they are not all known."""
    part = values[rows]
    known = np.isfinite(part).all(axis=0)
    out = np.full(values.shape[1], np.nan)
    if known.any():
        out[known] = np.median(part[:, known], axis=0)
    return out


def _windowed(values: np.ndarray, window_mm: float = _WINDOW_MM) -> np.ndarray:
    """Running mean that bridges gaps; NaN where less than a third of the window is known."""
    size = max(_LEAST_WINDOW, int(window_mm / CELL_MM))
    known = np.isfinite(values)
    weight = ndimage.uniform_filter1d(known.astype(float), size, mode="constant")
    total = ndimage.uniform_filter1d(np.where(known, values, 0.0), size, mode="constant")
    return np.where(weight > _KNOWN_PART, total / np.maximum(weight, _KNOWN_PART), np.nan)


def patches_in_words(sheet: Sheet, columns: np.ndarray) -> str:
    """Which patches some columns lie in."""
    inside = sheet.patch[columns]
    inside = np.unique(inside[inside >= 0]) + 1
    if not inside.size:
        return "beside the patches"
    return f"patch {inside[0]}" if inside.size == 1 else f"patches {inside[0]} to {inside[-1]}"


def _stain(found: Measures, reading: StripReading) -> None:
    """Density that one end of the spectrum has in the clear parts and the other has not."""
    rows = [p for p in reading.patches if not p.clipped and len(p.channels) == 3]
    if not rows:
        return
    density = np.array([p.density.value for p in rows])
    channels = np.array([p.channels for p in rows])
    light = density <= max(np.sort(density)[min(_CLEAREST, density.size - 1)], density.min() + _CLEAR_WITHIN)
    red, green, blue = np.median(channels[light], axis=0)
    spread = float(max(red, green, blue) - min(red, green, blue))
    if blue >= max(red, green):
        colour = "yellow" if green - red < _YELLOW * (blue - red) else "brown"
    else:
        colour = "pink or purple" if green > red else "blue-green"
    everywhere = float(np.median(channels.max(1) - channels.min(1)))
    dark = channels[density > np.median(density)] if density.size > 3 else channels
    if not dark.size:  # all patches alike: there is no darker half
        dark = channels
    found.numbers["stain"] = spread
    found.numbers["stain_everywhere"] = everywhere
    even = float(np.median(dark.max(1) - dark.min(1))) > _ALL_OVER * spread
    found.places["stain"] = "all over the strip" if even else "mostly in the light parts"
    found.words["stain"] = f"red {red:.2f}, green {green:.2f}, blue {blue:.2f}"
    found.words["colour"] = colour


def _surge(found: Measures, sheet: Sheet, relative: np.ndarray) -> None:
    """Swing of density along the edges with the spacing of the perforations, and edges unlike the middle."""
    across = sheet.across_mm
    centre = _middle(relative, (across > _CENTRE_MM[0]) & (across < _CENTRE_MM[1]))
    sides = [
        _middle(relative, (across > low) & (across < high))
        for low, high in ((PICTURE_MM[0], _EDGE_ZONE_MM), (FILM_MM - _EDGE_ZONE_MM, PICTURE_MM[1]))
    ]
    position = np.arange(centre.size) * CELL_MM
    swings, others, losses = [], [], []
    for side in sides:
        # What the middle has too (drag, a slanting look) is no surge.
        difference = side - centre
        known = np.isfinite(difference)
        if known.sum() < _FEWEST_COLUMNS:
            return
        rest = difference - _windowed(difference)
        known &= np.isfinite(rest)
        values = rest[known] - rest[known].mean()
        limit = _OUTLIER * MAD_TO_SD * np.median(np.abs(values)) + 1e-6
        values = np.clip(values, -limit, limit)
        swing = [2 * np.mean(values * np.exp(2j * np.pi * position[known] / p)) for p in (*_PITCH_MM, *_OTHER_PITCH_MM)]
        swings.append(np.abs(swing[: _PITCH_MM.size]))
        others.append(np.abs(swing[_PITCH_MM.size :]))
        losses.append(_windowed(-difference, 2 * _WINDOW_MM))
    both = np.sqrt(swings[0] * swings[1])
    noise = np.sqrt(others[0] * others[1])
    found.numbers["surge"] = float(max(np.max(swings[0]), np.max(swings[1])))
    found.numbers["surge_both"] = float(both.max())
    found.numbers["surge_sharpness"] = float(both.max() / max(np.median(noise), 1e-5))
    loss = np.concatenate(
        [np.percentile(side[np.isfinite(side)], [_THINNER_PERCENT]) for side in losses if np.isfinite(side).any()]
        or [[0.0]]
    )
    found.numbers["edges_thinner"] = float(loss.min())
    found.numbers["edges_denser"] = float(-max(np.nanmedian(side) for side in losses))
    stronger = int(np.max(swings[1]) > np.max(swings[0]))
    alike = _ALIKE < np.max(swings[0]) / max(np.max(swings[1]), 1e-9) < 1 / _ALIKE
    found.places["surge"] = "along both edges" if alike else f"mostly along the {sheet.edges[stronger]} edge"


def _one_side(found: Measures, sheet: Sheet, relative: np.ndarray) -> None:
    """A loss of density over some centimetres on one side, in the picture and in the rebate."""
    across = sheet.across_mm
    sides = (
        _middle(relative, (across > PICTURE_MM[0]) & (across < _LEAK_ZONE_MM)),
        _middle(relative, (across > FILM_MM - _LEAK_ZONE_MM) & (across < PICTURE_MM[1])),
    )
    rebate = (across > _REBATE_OUT_MM[0]) & (across < _REBATE_OUT_MM[1]) | (across > _REBATE_IN_MM[0]) & (
        across < _REBATE_IN_MM[1]
    )
    outer = [_smooth_median(sheet.density[rows]) for rows in (rebate, rebate[::-1])]
    level = max(float(np.median((outer[0] + outer[1]) / 2)), _LEAST_REBATE)
    best = (-1.0, 0.0, 0, np.array([0]))
    for k in range(2):
        loss = _windowed(sides[1 - k] - sides[k])
        known = np.isfinite(loss)
        if known.sum() < _FEWEST_COLUMNS:
            return
        # A leak is local; what runs along the whole edge is agitation.
        local = loss - max(float(np.percentile(loss[known], _LOCAL_PERCENT)), 0.0)
        top = int(np.nanargmax(local))
        if local[top] > best[0]:
            beside = _windowed((outer[1 - k] - outer[k]) / level)
            beside = beside - np.nanpercentile(beside, _LOCAL_PERCENT)
            best = (float(local[top]), float(beside[top]), k, np.flatnonzero(np.nan_to_num(local) > 0.5 * local[top]))
    found.numbers["one_side"], found.numbers["one_side_rebate"] = best[0], best[1]
    found.places["one_side"] = f"on the {sheet.edges[best[2]]} edge, {patches_in_words(sheet, best[3])}"


def _leak(found: Measures, sheet: Sheet) -> None:
    """How much of its density the dark rebate of one edge lost and the other did not, where the picture beside it lost some too.

    Light in the camera or tank reaches the edge first, and what was not exposed loses most by it.
    """
    across, size = sheet.across_mm, int(_LEAK_MM / CELL_MM)

    def along(density: np.ndarray, low: float, high: float) -> np.ndarray:
        # Stray light makes black no measure of anything.
        return np.asarray(np.median(np.minimum(density[(across > low) & (across < high)], _BLACK), axis=0))

    inside = (sheet.patch >= 0) & (sheet.phase > INSIDE[0]) & (sheet.phase < INSIDE[1])
    centre = along(sheet.density, *_CENTRE_MM)
    both = (sheet.density, sheet.density[::-1])
    besides = [along(density, *_BESIDE_MM) for density in both]
    # A median: edge marks are clear, and dark film lies between them.
    rebates = [ndimage.median_filter(along(density, *_REBATE_IN_MM), size=size, mode="nearest") for density in both]
    level = max(float(np.percentile(rebates, _UNLIT)), _DARK_REBATE)
    best = -1.0
    for k, (rebate, beside) in enumerate(zip(rebates, besides, strict=True)):
        unlit = np.minimum(level, rebates[1 - k])
        whole = np.maximum(centre, besides[1 - k])
        usable = inside & (whole > _SURE_LEVEL)
        share = np.clip((whole - beside) / np.maximum(whole, _SURE_LEVEL), *_LEAK_SHARE)
        known = ndimage.uniform_filter1d(usable.astype(float), size, mode="constant")
        lost = ndimage.uniform_filter1d(np.where(usable, share, 0.0), size, mode="constant") / np.maximum(
            known, _LEAK_PART
        )
        fit = (unlit > _DARK_REBATE) & (known > _LEAK_PART)
        fit[:size] = fit[-size:] = False  # the ends of a strip are cut, and light comes round them
        told = np.where(fit, np.minimum((unlit - rebate) / level, _IN_PICTURE * lost), -1.0)
        if told.max() > best:
            best, top = float(told.max()), int(np.argmax(told))
            found.places["leak"] = (
                f"on the {sheet.edges[k]} edge, {patches_in_words(sheet, np.flatnonzero(told > best / 2))}"
            )
            found.numbers["leak_picture"], found.numbers["leak_rebate"] = (
                float(lost[top]),
                float(1 - rebate[top] / level),
            )
    found.numbers["leak"] = best


def _uneven_stain(found: Measures, sheet: Sheet, colour: np.ndarray) -> None:
    """Colour that lies unevenly: the base has one tint, and a stain that grows from an edge, lies in places or goes with density is no base."""
    picture = (sheet.across_mm > PICTURE_MM[0]) & (sheet.across_mm < PICTURE_MM[1])
    away = np.full((len(colour), int(picture.sum()), sheet.patch.size), np.nan)
    levels, tints = [], []
    for k in np.flatnonzero(sheet.levels < _COLOUR_TO):
        columns = np.flatnonzero((sheet.patch == k) & sheet.usable)
        here = np.ix_(picture, columns)
        # What differs that much is a holder or dust.
        film = np.abs(sheet.residual[here]) < _NO_FILM
        if film.sum() > _BLOCK_KNOWN * film.size:
            area = colour[:, here[0], here[1]]
            tint = np.median(area[:, film], axis=1)
            away[:, :, columns] = np.where(film, area - tint[:, None, None], np.nan)
            levels.append(sheet.levels[k])
            tints.append(tint)
    if len(levels) < _FEWEST_STEPS:
        return
    level, tint = np.array(levels), np.array(tints)
    light, dark = level < level.min() + _COLOUR_LIGHT, level > max(_COLOUR_DARK, level.min() + _DARKER_BY)
    if dark.any():
        found.numbers["stain_by_density"] = float(np.abs(tint[light].mean(axis=0) - tint[dark].mean(axis=0)).max())
    known = np.isfinite(away[0]).any(axis=0)
    film = np.isfinite(away[0]).sum(axis=1) > known.sum() / 2
    profile = ndimage.uniform_filter1d(
        np.nanmedian(away[:, film][:, :, known], axis=2), int(_COLOUR_MM / CELL_MM), axis=1
    )
    found.numbers["stain_across"] = float(np.ptp(profile, axis=1).max())
    side = int(_BLOCK_MM / CELL_MM)
    high, wide = (count // side for count in away.shape[1:])
    cut = away[:, : high * side, : wide * side].reshape(-1, side, wide, side)
    blocks = cut.swapaxes(1, 2).reshape(len(colour), high * wide, -1)
    blocks = blocks[:, np.isfinite(blocks[0]).mean(axis=1) > _BLOCK_KNOWN]
    if blocks.shape[1] > _FEWEST_BLOCKS:
        least, most = np.percentile(np.nanmedian(blocks, axis=2), (_BLOCKS_FROM, _BLOCKS_TO), axis=1)
        found.numbers["stain_in_blocks"] = float((most - least).max())


def _smooth_median(rows: np.ndarray) -> np.ndarray:
    """Median of some rows, and of neighbouring columns, so that perforations and dust do not count."""
    return ndimage.median_filter(np.median(rows, axis=0), _PAST_PERFORATIONS, mode="nearest")


def _drag(found: Measures, sheet: Sheet, reading: StripReading) -> None:
    """Density that fades from the side of the neighbour in proportion to the step, alike across the film."""
    across, usable = sheet.across_mm, sheet.usable
    values = reading.density
    bands = [_middle(sheet.residual, (across > low) & (across < low + _BAND_WIDTH_MM)) for low in _BANDS_MM]
    columns = [np.flatnonzero(usable & (sheet.patch == k)) for k in range(values.size)]
    best, chosen = -1.0, (0.0, 0.0, 0.0, "")
    for step, word in ((-1, "towards the last patch"), (1, "towards the first patch")):
        templates, parts = [], []
        for k, here in enumerate(columns):
            if not 0 <= k + step < values.size or here.size < _FEWEST_OF_A_STEP or not np.isfinite(sheet.levels[k]):
                continue
            phase = sheet.phase[here] if step < 0 else 1 - sheet.phase[here]
            fade = np.exp(-phase / _FADES_OVER)
            part = np.array([np.nan_to_num(band[here] - np.nanmean(band[here])) for band in bands])
            # Darker patches are noisier and count less.
            count = 1 / (np.median(np.abs(np.diff(part, axis=1))) + _LEAST_SCATTER)
            templates.append(
                count * np.clip(values[k] - values[k + step], -_MOST_STEP, _MOST_STEP) * (fade - fade.mean())
            )
            parts.append(count * part)
        if len(parts) < _FEWEST_STEPS:
            return
        template, profile = np.concatenate(templates), np.concatenate(parts, axis=1)
        power = max(float(template @ template), 1.0)
        slopes = profile @ template / power
        whole = np.median(profile, axis=0)
        slope = float(whole @ template / power)
        rest = whole - slope * template
        if slope > best:
            best = slope
            share = slope * abs(slope) * power / max(float(whole @ whole), 1e-9)
            chosen = (float(slopes.min()), share, float(slope * np.sqrt(power / max(np.mean(rest**2), 1e-9))), word)
    found.numbers["drag"] = best
    found.numbers["drag_least"], found.numbers["drag_share"], found.numbers["drag_clear"] = chosen[:3]
    found.places["drag"] = chosen[3]


def _structure(found: Measures, sheet: Sheet) -> None:
    """Fine structure per root density: scatter of a cell, scatter and skewness at the scale of a net (1 mm), and how local it is."""
    fine, net, skew, lean, local = [], [], [], [], []
    for k in np.flatnonzero(sheet.levels > _LEAST_LEVEL):
        columns = np.flatnonzero((sheet.patch == k) & sheet.usable)
        rows = np.flatnonzero(sheet.inner[:, columns].any(axis=1)) if columns.size else columns
        if columns.size < _FEWEST_OF_A_PATCH:
            continue
        area = sheet.residual[np.ix_(rows, columns)]
        area = area - ndimage.gaussian_filter(area, _SLOW)
        # Dust is cut off; grain and nets are everywhere.
        limit = _OUTLIER * MAD_TO_SD * np.median(np.abs(area))
        area = np.clip(area, -limit, limit)
        root = np.sqrt(sheet.levels[k])
        soft = ndimage.gaussian_filter(area, _FINE)
        middle = soft - ndimage.gaussian_filter(area, _MESH)
        fine.append(MAD_TO_SD * np.median(np.abs(area - soft)) / root)
        net.append(MAD_TO_SD * np.median(np.abs(middle)) / root)
        skew.append(float(np.mean((middle - middle.mean()) ** 3) / max(middle.std(), 1e-6) ** 3))
        low, half, high = np.percentile(middle, (_LOW, _HALF, _HIGH))
        lean.append(float((high + low - 2 * half) / max(high - low, 1e-6)))
        local.append((ndimage.uniform_filter(middle**2, _BLOCK)[_INNER_BLOCKS, _INNER_BLOCKS] / root**2).ravel())
    if not fine:
        return
    found.numbers["grain"] = float(np.median(fine))
    found.numbers["net"] = float(np.median(net))
    found.numbers["net_skew"] = float(np.median(skew))
    found.numbers["net_lean"] = float(np.median(lean))
    energy = np.concatenate(local)
    if energy.size > _FEWEST_PLACES:
        found.numbers["net_local"] = float(np.sqrt(np.percentile(energy, _STRONGEST) / max(np.median(energy), 1e-9)))


def _unevenness(found: Measures, sheet: Sheet, relative: np.ndarray) -> None:
    """Unevenness of any kind: along, across, and what neither explains."""
    known = np.isfinite(relative)  # whole columns of the picture rows
    rows, columns = known.any(axis=1), known.any(axis=0)
    area = relative[np.ix_(rows, columns)]
    area = np.clip(area, -_MOST_SHARE, _MOST_SHARE)
    profile_along = np.median(area, axis=0)
    profile_across = ndimage.median_filter(np.median(area, axis=1), _ACROSS, mode="nearest")
    rest = area - profile_along[None, :] - profile_across[:, None]
    rest = rest - np.median(rest)
    smooth = ndimage.gaussian_filter(rest, 1.0 / CELL_MM)
    broad = ndimage.gaussian_filter(rest, _BROAD_MM / CELL_MM)
    found.numbers["uneven_along"] = float(np.std(ndimage.gaussian_filter1d(profile_along, 2)))
    found.numbers["uneven_across"] = float(np.std(profile_across))
    found.numbers["step_across"] = float(np.abs(profile_across[_STEP_CELLS:] - profile_across[:-_STEP_CELLS]).max())
    found.numbers["uneven_rest"] = float(np.sqrt(np.mean(smooth**2)))
    found.numbers["uneven_broad"] = float(np.sqrt(np.mean(broad**2)))
    size = np.abs(smooth)
    found.numbers["spots"] = float(np.percentile(size, _SPOT) / max(np.percentile(size, _USUAL), 1e-5))
    found.numbers["spots_thinner"] = float(np.percentile(-smooth, _SPOT_ITSELF))
    found.numbers["spots_denser"] = float(np.percentile(smooth, _SPOT_ITSELF))
    worst = np.flatnonzero(columns)[np.abs(broad).max(axis=0) > _ALIKE * np.abs(broad).max()]
    found.places["uneven"] = f"most in {patches_in_words(sheet, worst)}"


def _film_edges(found: Measures, sheet: Sheet) -> None:
    """How far the layer's edge wanders from a straight line, in mm, on both long edges."""
    across = sheet.across_mm
    spreads: list[tuple[float, bool]] = []
    for flip in (False, True):
        light = 10.0 ** -(sheet.density[::-1] if flip else sheet.density)
        body = ndimage.median_filter(
            np.median(light[(across > _BODY_MM[0]) & (across < _BODY_MM[1])], axis=0), _ALONG_RIM, mode="nearest"
        )
        rim = light[(across > _RIM_MM[0]) & (across < _RIM_MM[1])]
        dark = body < 10.0**-_BODY_DENSITY  # a clear edge cannot be missed
        dark[:_CORNER] = dark[-_CORNER:] = False  # the ends of the strip have corners
        if dark.sum() < _FEWEST_DARK:
            continue
        clear = np.clip((rim - body) / np.maximum(1 - body, 0.1), 0, 1)
        edge = CELL_MM * clear.sum(axis=0)[dark]
        x = np.linspace(-1, 1, edge.size)
        line = np.polynomial.polynomial.polyval(x, np.polynomial.polynomial.polyfit(x, edge, 2))
        away = edge - line
        spreads.append((float(np.percentile(away, _HIGH) - np.percentile(away, _LOW)), flip))
    if spreads:
        found.numbers["edge_wander"], found.numbers["edge_wander_other"] = max(spreads)[0], min(spreads)[0]
        both = len(spreads) == 2 and min(spreads)[0] > 0.5 * max(spreads)[0]
        found.places["edge_wander"] = "on both edges" if both else f"on the {sheet.edges[int(max(spreads)[1])]} edge"
