"""Read a strip: pictures in, densities with an uncertainty budget out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from obverse.densitometry.alike import apart
from obverse.densitometry.curve import Curve, curve_by_parts, known_curve, told
from obverse.densitometry.light import LightOf, Views, Work, read_light
from obverse.densitometry.reading import OpenPanel, OtherPlacing, PanelGlare, PatchReading, ReadPicture, StripReading
from obverse.foundation import MAD_TO_SD, Z90, Array, Caution, Estimate, InputError, Level
from obverse.imaging import BracketApartError, Grid, Picture, Warp, biweight, is_convex, middles, robust_sd, strip_grid
from obverse.imaging.alignment import Shift
from obverse.imaging.finding import Survey, covered_by, panel_beside, survey
from obverse.imaging.patches import SURE_GAIN, Beside, Layout, PatchDoubt, clearly_dearer, doubts, shifted
from obverse.imaging.strip import Located, by_hand, given, locate
from obverse.reference import number

if TYPE_CHECKING:
    from obverse.densitometry.calibration import Calibration

MOST_PATCHES = 200  # of a strip: more than any wedge has
# Shares of the whole, as somebody who waits is told: panel, patches, their light (and how far that goes), densities.
_AT_PANEL, _AT_PATCHES, _AT_LIGHT, _AT_DENSITIES = 0.02, 0.3, 0.4, 0.92
# Where between its middle and its corners a patch is asked about glare, of its length and of the width.
_ASKED_ALONG, _ASKED_ACROSS = np.array([-0.25, 0.25, 0.25, -0.25]), np.array([0.27, 0.27, 0.73, 0.73])
_BRIGHT = 0.3  # of the blocks of a patch that are read in the brightest picture
_CUT, _FEWEST_PAIRS, _MOST_LIKENESS = 3, 30, 0.8  # standard deviations; neighbours; and how alike they may be
_LEAST_PANEL = 0.15  # share of the bands beside the strip
# Of the boundaries between patches; and through windows, which may show a part of the row only and cut frames from each other.
_FEW_STEPS, _FEW_IN_WINDOWS = 0.4, 0.6
_MOST_BESIDE = 3  # other placings that are offered
_SO_MANY = {1: "one patch", 2: "two patches"}
_FEWEST_PANEL = 30  # pixels of the copy
_OUTSIDE = 0.25  # of the longer side; a strip may leave the picture
_LEAST_LIKENESS, _GOOD_LIKENESS = 0.85, 0.97  # correlation of two pictures of one view, laid on each other
# Film throws light back into the panel, which sends some of it on again: there the panel is brighter than beside the film. By
# clear film's own reflection (4 % at each side, index 1.5) and a panel's (half or more of what falls on it) it may be so much;
# our judgement: simulated pictures by another hand had 0.035 at the most,
# and of 346 patches below 0.6 by three hands 99 in 100 lay below the upper end that this makes.
_THROWN_BACK = 0.02
_OVEREXPOSED = 0.3  # of density: a stop, by which a clipped panel may well be brighter than white (our judgement)
# Rows of blocks across a strip lie beyond the film that are so much darker than the clearest quarter of the rows in most patches, opaque, and
# alike: they differ from patch to patch by hardly anything, or by less than half of what the film does (our judgement).
_DARKER, _CLEARER_ROWS, _MOST_OF_THEM, _OPAQUE, _ALIKE, _ALIKE_OF_FILM = 0.2, 25, 0.5, 1.2, 0.1, 0.5
_EVERY_PIXEL, _FEWEST_ROWS = 4, 2  # of a block that is looked at for that, and rows that are left
_NO_FILM, _LEAST_LIGHT = 0.012, 1e-5  # density that any film has; light of the panel that is still one
_LOWEST_SIGNAL = 2.0  # standard uncertainties above nothing; less is only a bound

Progress = Callable[[float, str], None]


def read_strip(
    pictures: Sequence[Picture],
    patches: int,
    corners: Sequence[Sequence[float]] | None = None,
    *,
    dividers: Sequence[float] | None = None,
    shift: int = 0,
    other: int = 0,
    accept: bool = False,
    stops: float | None = None,
    panel: Picture | None = None,
    calibration: Calibration | None = None,
    progress: Progress | None = None,
) -> StripReading:
    """Densities of the patches of a strip on a lit panel.

    Parameters
    ----------
    pictures : sequence of Picture
        The same view at one or several shutter times.
    patches : int
        How many patches the strip has. The person's number is believed; what the picture has to say against it is a
        caution.
    corners : four (x, y), optional
        Corners of the row of patches in pixels, from the first corner along the strip and round. Found in
        the picture where absent; patch 1 is then at the left or at the top.
    dividers : sequence of float, optional
        Where the patches meet, one number more than patches, 0 at the first two corners and 1 at the others. Only with
        corners; otherwise they are found.
    shift : int
        Begin so many patches later along the strip than was found (earlier where negative).
    other : int
        Take that one, from 1, of the other placings that a reading without it lists. Only where no corners are given.
    accept : bool
        The person has seen what speaks against the placing and takes it as it is.
    stops : float, optional
        How many stops lie between neighbours of a bracket whose pictures state no shutter times.
    panel : Picture, optional
        The empty panel in the same view, for the fall-off.
    calibration : Calibration, optional
        From a step tablet; without it the result is camera density.
    progress : callable (share, words), optional
        Told how far the work is.

    Returns
    -------
    StripReading
        Density, uncertainty and cautions of each patch.

    Raises
    ------
    InputError
        If no panel or strip can be made out, or the corners make no strip.
    """
    _check(pictures, patches, panel)
    tell = progress or (lambda share, words: None)
    asked = _Asked(patches, corners, dividers, shift, other, accept, panel, calibration)
    pictures, said = apart(pictures)
    pictures = told(pictures, stops)
    try:
        reading = _read(pictures, asked, tell)
    except BracketApartError:
        # Nothing ties these pictures together; one of them still shows the strip.
        best = pictures[Views(pictures).master]
        reading = _read([best], asked, tell)
        words = f"The pictures share no part that both show well, and state no shutter times; {best.name} was read alone. Say how many stops lie between them, or take them one to three stops apart."
        said.append(Caution("bracket.apart", words, Level.CAUTION, where="bracket"))
    return replace(reading, cautions=(*said, *reading.cautions))


@dataclass(frozen=True, eq=False)
class _Asked:
    """What the person said."""

    patches: int
    corners: Sequence[Sequence[float]] | None
    dividers: Sequence[float] | None
    shift: int
    other: int
    accept: bool
    panel: Picture | None
    calibration: Calibration | None


def _read(pictures: Sequence[Picture], asked: _Asked, tell: Progress) -> StripReading:
    patches = asked.patches
    # Who laid the patches, shifted them or chose among the placings has seen what speaks against them.
    settled = asked.accept or asked.dividers is not None or bool(asked.shift) or bool(asked.other)
    panel, calibration = asked.panel, asked.calibration
    tell(_AT_PANEL, "looking for the panel")
    stated = [p.exposure_s for p in pictures]
    pictures, curve = known_curve(pictures)
    views = Views(pictures)
    master, panel_clipped = views.master, views.panel_clipped
    seen = survey(pictures[master], views.copies[master])
    curve = curve_by_parts(curve, pictures[master], seen)
    located, found = _locate(pictures[master], seen, asked)
    warp, layout = located.warp, located.layout
    tell(_AT_PATCHES, "looking for the patches")
    beside = 1.0 if panel is not None or located.masked else panel_beside(seen, warp)
    covered = covered_by(seen, located.mask or warp)
    if panel is None and (seen.panel & ~covered).sum() < _FEWEST_PANEL:
        raise InputError(
            "no open panel is visible beside the strip",
            where=pictures[master].name,
            remedy="leave lit panel free along one long side of the strip",
        )
    others = () if settled or not found else _others(located)
    against = () if settled or panel_clipped or not found else doubts(layout)
    cautions = _doubted(located, patches, against, others, beside, settled=settled)
    grid = strip_grid(warp, layout.centres(), layout.lengths())
    film = _film_rows(pictures[master], seen, grid)
    if film != (0, grid.blocks[1]):
        cautions.append(_beyond_film(film[0] > 0, film[1] < grid.blocks[1]))
        grid = grid.rows(*film)
    shifts = views.shifts(warp.corners())
    cautions += _check_shifts(views, shifts)
    work = Work(views, seen, warp, covered, grid, panel, shifts)
    tell(_AT_LIGHT, "reading the patches")
    light = read_light(work, lambda share: tell(_AT_LIGHT + 0.5 * share, "reading the patches"))
    tell(_AT_DENSITIES, "working out densities")
    readings = _densities(work, light, layout, calibration, curve)
    cautions += _cautions(work, light, panel_clipped, calibration, readings, curve)
    tell(1.0, "done")
    return StripReading(
        patches=readings,
        reference=_reference(work, light, panel_clipped),
        cautions=tuple(cautions),
        corners=_pairs(warp.corners()),
        corners_found=found,
        area=_pairs(warp.corners(layout.start, layout.end)),
        edges=_dividers_of(layout),
        against=against,
        others=others,
        warp=warp,
        layout=layout,
        field=seen.field,
        kind="diffuse density" if calibration else "camera density",
        pictures=tuple(_of_picture(p, stated[k], light, k, master) for k, p in enumerate(pictures)),
        size=(pictures[0].width, pictures[0].height),
        opaque=work.opaque.box if work.opaque else None,
    )


def _check(pictures: Sequence[Picture], patches: int, panel: Picture | None) -> None:
    if not pictures:
        raise InputError("no picture was given", where="pictures")
    if isinstance(patches, bool) or not isinstance(patches, (int, np.integer)) or not 1 <= patches <= MOST_PATCHES:
        raise InputError(
            f"the number of patches is {patches}",
            where="patches",
            remedy=f"give a whole number from 1 to {MOST_PATCHES}",
        )
    first = pictures[0]
    for other in (*pictures[1:], *([panel] if panel is not None else [])):
        if other.codes.shape != first.codes.shape:
            raise InputError(
                f"{other.name} is {other.width} by {other.height} pixels with {other.channels} channels, "
                f"{first.name} is {first.width} by {first.height} with {first.channels}",
                where="pictures",
                remedy="give pictures of the same view from the same camera",
            )


def _pairs(points: np.ndarray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _dividers_of(layout: Layout) -> tuple[float, ...]:
    return tuple(float(v) for v in (layout.edges - layout.start) / (layout.end - layout.start))


def _locate(picture: Picture, seen: Survey, asked: _Asked) -> tuple[Located, bool]:
    """The strip with its patches, and whether they were looked for."""
    patches, dividers, shift, other = asked.patches, asked.dividers, asked.shift, asked.other
    if asked.corners is None:
        if dividers is not None:
            raise InputError(
                "dividers were given without corners",
                where="dividers",
                remedy="give the corners of the row of patches too",
            )
        located, found = locate(picture, seen, patches), True
        if other:
            located = _taken(located, other)
    else:
        if other:
            raise InputError(
                "another placing was asked for, and corners were given too",
                where="other",
                remedy="give one of them",
            )
        located, found = given(picture, seen, _quad(picture, asked.corners), patches), False
    if dividers is not None:
        located = replace(located, layout=by_hand(patches, _dividers(dividers, patches)))
    if shift:
        moved = shifted(located.layout, shift)
        if moved.start < -1 or moved.end > 2:
            raise InputError(
                f"{abs(shift)} patches are farther than the strip reaches", where="shift", remedy="shift by fewer"
            )
        located = replace(located, layout=moved)
    return located, found


def _near(located: Located) -> list[Beside]:
    """Placings a patch beside the chosen one that nearly as much speaks for."""
    clearly = clearly_dearer(located.layout)
    return [one for one in located.beside if one.lag < clearly][:_MOST_BESIDE]


def _others(located: Located) -> tuple[OtherPlacing, ...]:
    """Where the patches may as well lie: a little elsewhere on the strip, or on another strip."""
    beside = [OtherPlacing(_lies(one), *_placed(located.warp, one.layout)) for one in _near(located)]
    strips = [OtherPlacing("another strip", *_placed(one.warp, one.layout)) for one in located.rivals]
    return (*beside, *strips)


def _placed(warp: Warp, layout: Layout) -> tuple[tuple[tuple[float, float], ...], tuple[float, ...]]:
    return _pairs(warp.corners(layout.start, layout.end)), _dividers_of(layout)


def _taken(located: Located, other: int) -> Located:
    """The placing of that number among the others."""
    near = _near(located)
    if not 1 <= other <= len(near) + len(located.rivals):
        raise InputError(
            f"there is no other placing {other}",
            where="other",
            remedy=f"choose one from 1 to {len(near) + len(located.rivals)}"
            if near or located.rivals
            else "leave it out, or shift by one",
        )
    if other <= len(near):
        return replace(located, layout=near[other - 1].layout)
    return located.rivals[other - 1 - len(near)]


def _lies(one: Beside) -> str:
    """Where a placing lies against the chosen one, as words."""
    if one.begins == one.ends:
        return f"all of it {_later(one.begins)}"
    parts = [f"its {end} {_later(by)}" for end, by in (("beginning", one.begins), ("end", one.ends)) if by]
    return " and ".join(parts)


def _later(patches: int) -> str:
    """So many patches along the strip, as words."""
    return f"{_SO_MANY[abs(patches)]} {'later' if patches > 0 else 'earlier'}"


def _dividers(dividers: Sequence[float], patches: int) -> np.ndarray:
    edges = np.asarray(dividers, dtype=float)
    if edges.shape != (patches + 1,):
        raise InputError(
            f"{edges.size} dividers were given for {patches} patches",
            where="dividers",
            remedy=f"give {patches + 1}: both ends and every place where two patches meet",
        )
    if (
        not np.all(np.isfinite(edges))
        or np.any(np.diff(edges) < 0.1 / patches / 10)
        or edges.min() < -1
        or edges.max() > 2
    ):
        raise InputError(
            "the dividers do not go along the strip in order", where="dividers", remedy="give rising numbers, 0 to 1"
        )
    return edges


def _quad(picture: Picture, corners: Sequence[Sequence[float]]) -> np.ndarray:
    quad = np.asarray(corners, dtype=float)
    if quad.shape != (4, 2) or not np.all(np.isfinite(quad)):
        raise InputError(
            "the corners are not four points", where="corners", remedy="give x1,y1,x2,y2,x3,y3,x4,y4 in pixels"
        )
    if not is_convex(quad):
        raise InputError(
            "the four corners do not go round a strip", where="corners", remedy="give them in order round the strip"
        )
    low, high = quad.min(0), quad.max(0)
    margin = _OUTSIDE * max(picture.width, picture.height)
    if low.min() < -margin or high[0] > picture.width + margin or high[1] > picture.height + margin:
        raise InputError(
            f"a corner lies outside the picture of {picture.width} by {picture.height} pixels",
            where="corners",
            remedy="give corners inside it",
        )
    lengths = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
    if lengths[0] + lengths[2] < lengths[1] + lengths[3]:
        # Begun across the strip: the same first corner, the other way round.
        quad = quad[[0, 3, 2, 1]]
    return quad


# Where more patches lie there than were asked for, less speaks for them: those left out would go unread (our judgement).
_LEFT_OUT_GAIN = 4.0


def _doubted(
    located: Located,
    patches: int,
    against: tuple[PatchDoubt, ...],
    others: tuple[OtherPlacing, ...],
    beside: float,
    *,
    settled: bool,
) -> list[Caution]:
    """What the picture has to say against the placing of the patches."""
    said = []
    if beside < _LEAST_PANEL:
        words = "No open panel is visible beside the strip; its light was taken from farther away. Leave lit panel free along one long side."
        said.append(Caution("panel.far", words, Level.CAUTION, where="panel"))
    if located.rivals and not settled:
        words = "More than one strip lies in the picture; the one that fits the number of patches best was read. If it is not yours, take the other."
        said.append(Caution("strip.several", words, Level.CAUTION, where="strip"))
    if settled or patches < 2:
        return said
    if not located.layout.seen:
        words = "No steps can be seen along the strip; it was cut into equal patches."
        said.append(Caution("patches.even", words, Level.NOTE, where="patches"))
    elif against and against[0].gain > (_LEFT_OUT_GAIN if against[0].count > patches else SURE_GAIN):
        words = (
            f"The steps of the strip speak rather for {against[0].count} patches than for {patches}. It was read as {patches}, as you said; "
            "look whether each number lies on its patch."
        )
        said.append(Caution("patches.count", words, Level.CAUTION, where="patches"))
    elif located.layout.seen < (_FEW_IN_WINDOWS if located.masked else _FEW_STEPS) * (patches - 1):
        words = (
            f"Where one patch gives way to the next a step can be seen at {located.layout.seen} of {patches - 1} places; look whether this is the strip and each "
            "number lies on its patch, or give the corners."
        )
        said.append(Caution("patches.faint", words, Level.CAUTION, where="patches"))
    elif _near(located):
        words = (
            f"The row may as well lie elsewhere: {others[0].words}. Look whether each number lies on its patch, and take the other "
            "placing where it does not."
        )
        said.append(Caution("patches.elsewhere", words, Level.CAUTION, where="patches"))
    return said


def _film_rows(picture: Picture, seen: Survey, grid: Grid) -> tuple[int, int]:
    """The first row of blocks across a strip, and the one after the last, without those at its sides that show the dark round the film."""
    at = grid.pixels[:, :, ::_EVERY_PIXEL]
    light = picture.light_at(at[..., 0], at[..., 1]).mean(axis=-1) / seen.field.light(grid.centres)
    rows = np.median(-np.log10(np.maximum(light, _LEAST_LIGHT)).reshape(-1, *grid.blocks), axis=1)
    whole = grid.blocks[1]
    film = np.percentile(rows, _CLEARER_ROWS, axis=1)
    # What is darker than the film, and as dark beside one patch as beside another, belongs to none of them.
    beyond = (rows - film[:, None] > _DARKER).mean(axis=0) > _MOST_OF_THEM
    beyond &= np.median(rows, axis=0) > _OPAQUE
    beyond &= robust_sd(rows, axis=0) < max(_ALIKE, _ALIKE_OF_FILM * float(robust_sd(film)))
    if beyond.all() or np.median(film) < _NO_FILM:
        return 0, whole
    first, last = int(np.argmin(beyond)), whole - int(np.argmin(beyond[::-1]))
    # The row between is partly film.
    inner = first + (first > 0), last - (last < whole)
    return inner if inner[1] - inner[0] >= _FEWEST_ROWS else (first, last)


def _beyond_film(first: bool, last: bool) -> Caution:
    """What is told where patches reach beyond one side of the film, or both."""
    words = (
        f"The patches seem to reach beyond the film, onto something dark along {'both its sides' if first and last else 'one of its sides'}; only the part that is film was "
        "read. Lay the sides on the film's: drag the corners on the page, or give them (--corners)."
    )
    return Caution("patches.beyond", words, Level.CAUTION, where="patches")


def _check_shifts(views: Views, shifts: list[Shift]) -> list[Caution]:
    """Refuse pictures that do not show the same view; tell of those that were shifted into place or fit badly."""
    name = views.pictures[views.master].name
    moved, loose = [], []
    for picture, shift in zip(views.pictures, shifts, strict=True):
        if shift.likeness < _LEAST_LIKENESS:
            raise InputError(
                f"{picture.name} does not show the same view as {name}",
                where="bracket",
                remedy="take all pictures from a stand without touching strip or camera; one of the empty panel is given as that, "
                "not among the others",
            )
        if shift.likeness < _GOOD_LIKENESS:
            loose.append(picture.name)
        if math.hypot(shift.x, shift.y) > 1:
            moved.append((math.hypot(shift.x, shift.y), picture.name))
    said = []
    if moved:
        far, which = max(moved)
        more = f", and {len(moved) - 1} more are shifted" if len(moved) > 1 else ""
        words = f"{which} lies {far:.0f} pixels off {name}{more}; the pictures were laid on each other again."
        said.append(Caution("bracket.shifted", words, Level.CAUTION, where="bracket"))
    if loose:
        words = f"{', '.join(loose)}: this fits {name} only roughly, as if strip or camera had been turned in between; take the bracket again."
        said.append(Caution("bracket.loose", words, Level.CAUTION, where="bracket"))
    return said


def _densities(
    work: Work, light: LightOf, layout: Layout, calibration: Calibration | None, curve: Curve
) -> tuple[PatchReading, ...]:
    shape = work.grid.pixels.shape[:2]
    variance = light.exposure_sd**2
    from_master = np.sqrt(np.abs(variance - variance[work.master]))
    likeness = _likeness(light.patches[work.main].light.reshape(shape), work.grid.blocks)
    asked = work.warp.points(layout.centres()[:, None] + layout.lengths()[:, None] * _ASKED_ALONG, _ASKED_ACROSS)
    found = []
    for c, merged in enumerate(light.patches):
        veil = light.glare[c].value
        found.append(biweight((merged.light.reshape(shape) - veil) / (light.panel[c] - veil))[:2])
    transmittances = np.stack([middle for middle, _ in found], axis=1)
    panels, bright = light.panel[work.main].mean(axis=1), light.bright.mean(axis=1)
    sds = _budget(
        work, light, transmittances[:, work.main], found[work.main][1] * math.sqrt(likeness), panels, from_master
    )
    glare = light.glare[work.main]
    readings = []
    for p in range(shape[0]):
        t, panel = float(transmittances[p, work.main]), float(panels[p])
        raw = _Raw(
            transmittances[p].tolist(),
            {cause: float(each[p]) for cause, each in sds.items()},
            (1 - t) * glare.sd / panel,
            _by_glare(t, glare, panel),
            bool(bright[p] > _BRIGHT),
            _OVEREXPOSED if work.panel_clipped else 0.0,
        )
        readings.append(_finish(p, raw, asked[p], work, calibration, curve))
    return tuple(readings)


def _likeness(light: np.ndarray, blocks: tuple[int, int]) -> float:
    """By how much the variance of a patch's mean exceeds that of independent blocks.

    Neighbouring blocks share grain; pooled over all patches (patches, blocks) of the strip.
    """
    light = light[np.isfinite(light).any(axis=1)]
    if not len(light):
        return 1.0
    middle = middles(light)[:, None]
    scale = MAD_TO_SD * middles(np.abs(light - middle))[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        r = np.clip((light - middle) / scale, -_CUT, _CUT).reshape(-1, *blocks)
    factor = 1.0
    for a, b in ((r[:, 1:], r[:, :-1]), (r[:, :, 1:], r[:, :, :-1])):
        both = np.isfinite(a) & np.isfinite(b)
        if both.sum() > _FEWEST_PAIRS:
            rho = float(
                np.clip((a[both] * b[both]).mean() / max((r[np.isfinite(r)] ** 2).mean(), 1e-9), 0, _MOST_LIKENESS)
            )
            factor *= (1 + rho) / (1 - rho)
    return factor


def _budget(
    work: Work, light: LightOf, transmittance: Array, noise: Array, open_panel: Array, from_master: Array
) -> dict[str, Array]:
    """Standard uncertainty of each patch's transmittance from each cause."""
    t = np.where(np.isfinite(transmittance), transmittance, 0.0)
    nearby = max(number(f"{maker}.panel_nearby") for maker in work.makers)
    return {
        "noise": np.where(np.isfinite(noise), noise, 0.0),
        "falloff": t * np.hypot(light.panel_sd.mean(axis=1), nearby),
        "glare": (1 - t) * light.glare[work.main].sd / open_panel,
        "exposure": t * (light.share * from_master[:, None, None]).sum(axis=0).mean(axis=1),
        "codes": light.quantum.mean(axis=1) / open_panel,
    }


def _by_glare(transmittance: float, glare: Estimate, panel: float) -> tuple[float, float]:
    """Transmittance were the glare at the upper and at the lower end of its interval."""
    level = transmittance * (panel - glare.value) + glare.value
    low, high = ((level - end) / (panel - end) for end in (glare.high90, glare.low90))
    return low, high


@dataclass(frozen=True)
class _Raw:
    transmittance: list[float]
    sd: dict[str, float]
    veil_sd: float
    by_glare: tuple[float, float]
    bright: bool
    hidden: float


def _finish(
    p: int, raw: _Raw, where: np.ndarray, work: Work, calibration: Calibration | None, curve: Curve
) -> PatchReading:
    t = raw.transmittance[work.main]
    sd_t = math.sqrt(sum(v * v for v in raw.sd.values()))
    end = "bright" if raw.bright else ""
    if not math.isfinite(t):
        t = 1.0 if raw.bright else 0.0
        end = end or "dark"
    if not raw.bright and t < _LOWEST_SIGNAL * sd_t:
        end = "dark"
    bounded = max(t, sd_t, 1e-5)
    scale = 1 / (bounded * math.log(10))
    budget = {name: v * scale for name, v in raw.sd.items()}
    density = -math.log10(bounded)
    # Glare has ends of its own: it cannot be less than none, and mostly not all of what the darkest part shows.
    other = Z90 * math.sqrt(max(sd_t**2 - raw.veil_sd**2, 0.0))
    ends = [abs(end - t) if math.isfinite(end) else Z90 * sd_t for end in raw.by_glare]
    low = -math.log10(bounded + math.hypot(other, ends[1]))
    high = -math.log10(max(bounded - math.hypot(other, ends[0], bounded * _THROWN_BACK), 1e-6))
    below, above = curve.away(density)
    fewer, more = curve.by_stops(density)
    low = density - fewer - math.hypot(density - low, below)
    high = density + more + math.hypot(high - density, above, raw.hidden)
    if below + above + fewer + more > 0:
        budget["curve"] = (below + fewer + above + more) / (2 * Z90)
    sd = math.hypot(sd_t * scale, budget.get("curve", 0.0))
    channels = tuple(-math.log10(max(v, 1e-5)) if math.isfinite(v) else density for v in raw.transmittance)
    diffuse_sd = math.hypot(sd, _uncalibrated() * abs(density))
    if calibration is not None:
        value, extra, slope = calibration.apply(density)
        budget = {name: abs(slope) * v for name, v in budget.items()} | {"calibration": extra}
        low, high = value + slope * (low - density) - Z90 * extra, value + slope * (high - density) + Z90 * extra
        density, sd = value, math.hypot(slope * sd, extra)
        diffuse_sd = sd
    if end:
        sd = max(sd, 0.1)  # a bound, not a measurement
    return PatchReading(
        index=p + 1,
        density=Estimate(density, max(sd, 1e-4), min(low, density), max(high, density)),
        clipped=bool(end),
        clipped_end=end,
        channels=channels,
        stain_index=channels[2] - channels[0] if len(channels) == 3 else None,
        budget=budget,
        diffuse_sd=max(diffuse_sd, 1e-4),
        corners=tuple((float(x), float(y)) for x, y in where),
    )


def _uncalibrated() -> float:
    return float(number("camera.uncalibrated"))


def _cautions(
    work: Work,
    light: LightOf,
    panel_clipped: bool,
    calibration: Calibration | None,
    readings: Sequence[PatchReading],
    curve: Curve,
) -> list[Caution]:
    said = [c for p in work.pictures for c in p.cautions]
    if panel_clipped:
        said.append(
            Caution(
                "reference.clipped",
                "The open panel is overexposed in every picture: all densities are too low by an unknown amount; take one with a shorter shutter time.",
                Level.DANGER,
                where="reference",
            )
        )
    said += curve.cautions
    if calibration is None:
        said.append(
            Caution(
                "density.camera",
                f"This is camera density. Without a step tablet, diffuse density follows from it only to about {100 * _uncalibrated():.0f} %.",
                Level.NOTE,
                where="calibration",
                source="camera.uncalibrated",
            )
        )
    elif max(p.density.value for p in readings) > calibration.apply(calibration.highest)[0] + 0.1:
        said.append(
            Caution(
                "calibration.range",
                "Some densities lie above the darkest step of the tablet.",
                Level.CAUTION,
                where="calibration",
            )
        )
    if not light.glare_measured:
        how = (
            "estimated from how it thins the grain"
            if light.glare_from_grain
            else "only bounded, and densities above 2 are unsure"
        )
        said.append(
            Caution(
                "glare.unmeasured",
                f"Nothing beside the strip shows as dark as its densest part, so the veiling glare is {how}; a small piece of opaque card on the panel, near that part, measures it.",
                Level.CAUTION,
                where="glare",
                source="camera.glare_typical",
            )
        )
    for end, words in (("bright", "too bright"), ("dark", "too dark")):
        which = [p.index for p in readings if p.clipped_end == end]
        if which:
            name = "patch" if len(which) == 1 else "patches"
            said.append(
                Caution(
                    f"patch.{end}",
                    f"{name.capitalize()} {_ranges(which)} {'is' if len(which) == 1 else 'are'} {words} for the pictures given; the number is only a bound.",
                    Level.CAUTION,
                    where=f"{name} {_ranges(which)}",
                )
            )
    if any(p.simulated for p in work.pictures):
        said.append(
            Caution(
                "picture.simulated",
                "This picture was computed by the program; it shows no real film.",
                Level.NOTE,
                where="picture",
            )
        )
    unique: dict[tuple[str, str], Caution] = {}
    for caution in said:
        unique.setdefault((caution.code, caution.where), caution)
    return list(unique.values())


def _ranges(numbers: list[int]) -> str:
    """1, 2, 3, 7 as "1-3, 7"."""
    parts: list[list[int]] = []
    for n in numbers:
        if parts and n == parts[-1][1] + 1:
            parts[-1][1] = n
        else:
            parts.append([n, n])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in parts)


def _reference(work: Work, light: LightOf, panel_clipped: bool) -> OpenPanel:
    c = work.main
    middle = float(np.median(light.panel[c]))
    return OpenPanel(
        density_sd=float(np.median(light.panel_sd)) / math.log(10),
        light=middle * float(light.exposures[work.master] / light.exposures.max()),
        clipped=panel_clipped,
        falloff_stops=float(np.log2(light.panel[c].max() / light.panel[c].min())),
        told_by="panel picture" if work.panel is not None else "smooth field through the open panel",
        glare=PanelGlare(
            light.glare[c].value / middle,
            light.glare[c].sd / middle,
            light.glare_measured,
            "opaque piece" if light.glare_measured else "grain" if light.glare_from_grain else "darkest part",
        ),
        picture=work.pictures[work.master].name,
    )


def _of_picture(picture: Picture, exposure_s: float | None, light: LightOf, k: int, master: int) -> ReadPicture:
    return ReadPicture(
        name=picture.name,
        sha256=picture.sha256,
        media_type=picture.media_type,
        encoding=picture.encoding,
        exposure_s=exposure_s,
        f_number=picture.f_number,
        iso=picture.iso,
        relative_exposure=round(float(light.exposures[k] / light.exposures[master]), 5),
        relative_exposure_sd=round(float(light.exposure_sd[k]), 5),
        simulated=picture.simulated,
        metadata=dict(picture.metadata),
    )
