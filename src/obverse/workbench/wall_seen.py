"""The loop closed: a grey scale photographed on the wall, against what was predicted of it.

The densities of the scale are read on the light panel or promised by its recipe; the photograph of the wall says
how light each patch truly lies there. What parts the two is told as stray light, Callier factor, fall-off and lamp,
each with its doubt, and may be taken over as the projector that the house reckons with.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy.special import log_ndtr, ndtri_exp

from obverse.capture import load_picture
from obverse.densitometry import read_strip, tone_curve_sd
from obverse.foundation import (
    MAD_TO_SD,
    Array,
    Caution,
    Document,
    Estimate,
    InputError,
    JsonObject,
    Level,
    parse_number,
)
from obverse.imaging import Picture, Warp, is_convex
from obverse.light import (
    FEWEST_TONES,
    Believed,
    Tone,
    WallSeen,
    fall_off,
    fit_wall,
    on_screen,
    out_of_middle,
)
from obverse.process import Exposed
from obverse.reference import number
from obverse.sensitometry import read_list
from obverse.workbench.preview import Screen
from obverse.workbench.slide_curve import SlideCurve
from obverse.workbench.slide_seen import SlideSeen, slide_seen

Point = tuple[float, float]
Corners = tuple[Point, Point, Point, Point]

# The middle half of a patch is read: its rim may be blurred or lie under a gap.
READ_SHARE = 0.5
# So many places across and down a patch: more than its grain needs.
PLACES = 24
# A patch with more of its places clipped is not read.
MOST_CLIPPED = 0.05
MOST_PATCHES = 60
# Tones are told as unexplained from here on, and a fit as a poor one.
FAR_OFF, POOR = 3.0, 1.5
# A share of the open gate is told by a factor where it is at least so much.
TELLING_FACTOR = 1.25
NINE_IN_TEN = 0.9
# Patches of a grey scale that is made at home: so many each way.
USUAL_COLUMNS, USUAL_ROWS = 6, 4


class ScaleAsked(Document):
    """A grey scale on the wall, and what is known of it."""

    columns: int = Field(default=USUAL_COLUMNS, ge=1, le=30)
    rows: int = Field(default=USUAL_ROWS, ge=1, le=30)
    corners: Corners | None = Field(
        default=None, description="of the field of patches, in pixels: upper left, upper right, lower right, lower left"
    )
    densities: str = Field(
        default="",
        max_length=20_000,
        description="one patch a line, row by row: its density, or log exposure and density",
    )
    panel_corners: Corners | None = Field(default=None, description="of the same field in the picture on the panel")
    base_density: float = Field(default=0.1, ge=0, le=1.5, description="of the slide's film")
    spot_patch: int | None = Field(default=None, ge=1, le=MOST_PATCHES, description="that a meter was pointed at")
    spot_cd_m2: float | None = Field(default=None, gt=0, le=100_000, description="what the meter said there")
    exposed: Exposed = "unstated"


@dataclass(frozen=True, slots=True)
class SeenPatch:
    """One patch on the wall: as predicted with the projector as it was entered, as seen, and as the fit has it.

    Parameters
    ----------
    off_stops : float
        Seen over predicted; positive is lighter than predicted.
    left_sd : float
        What the fit leaves, in standard uncertainties.
    """

    number: int
    density: float
    predicted_cd_m2: float
    seen_cd_m2: float
    fitted_cd_m2: float
    off_stops: float
    left_sd: float


@dataclass(frozen=True, slots=True)
class WallFinding:
    """One thing that the wall says of the inputs."""

    key: str
    title: str
    entered: float | None
    seen: Estimate
    words: str


@dataclass(frozen=True, slots=True)
class Closed:
    """The loop closed once. See `close_loop`."""

    patches: tuple[SeenPatch, ...]
    findings: tuple[WallFinding, ...]
    screen: Screen
    misfit: float
    slide: SlideSeen | None
    cautions: tuple[Caution, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "patches": [{name: getattr(one, name) for name in one.__slots__} for one in self.patches],
            "findings": [
                {
                    "key": one.key,
                    "title": one.title,
                    "entered": one.entered,
                    "seen": one.seen.document(),
                    "words": one.words,
                }
                for one in self.findings
            ],
            "screen": self.screen.model_dump(mode="json"),
            "misfit": self.misfit,
            "slide": self.slide.document() if self.slide else None,
            "cautions": [one.document() for one in self.cautions],
        }


@dataclass(frozen=True, slots=True)
class GreyScale:
    """Densities of the patches, row by row; exposures where they were said."""

    density: tuple[float, ...]
    density_sd: tuple[float | None, ...]
    log_exposure: tuple[float, ...] | None


def scale_of(text: str) -> GreyScale:
    """A list of densities, or of log exposures with densities, in the order of the patches."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    try:
        single = tuple(parse_number(line.rstrip(",;"), where="densities") for line in lines)
    except InputError:
        found = read_list(text, where="densities of the patches")
        return GreyScale(found.density, found.density_sd, found.log_exposure)
    return GreyScale(single, (None,) * len(single), None)


def opened(files: Sequence[tuple[bytes, str]]) -> list[Picture]:
    """Picture files as pictures."""
    return [load_picture(data, name=name) for data, name in files]


def close_loop(
    pictures: Sequence[Picture],
    asked: ScaleAsked,
    screen: Screen,
    *,
    panel: Picture | None = None,
    curve: SlideCurve | None = None,
    seen_on: date | None = None,
) -> Closed:
    """Compare a grey scale on the wall with what was predicted of it.

    Parameters
    ----------
    pictures : sequence of Picture
        One of the whole scale, or one for each frame of a roll, camera and exposure unchanged.
    screen : Screen
        The projector as it was entered.
    panel : Picture, optional
        The same slide on the light panel, for its densities.
    curve : SlideCurve, optional
        What the recipe promised; with it and exposures the slide itself is judged, and densities may be left out.
    seen_on : date, optional
        Kept with what was learned.

    Raises
    ------
    InputError
        If the patches cannot be read, or are too few.
    """
    places, signal, signal_sd, cautions = _signals(pictures, asked)
    scale, said = _scale(asked, panel)
    cautions += said
    if len(scale.density) != signal.size:
        raise InputError(
            f"{signal.size} patches lie on the wall and {len(scale.density)} densities were given",
            where="grey scale",
            remedy="give one density for each patch, row by row",
        )
    base = curve.base_density if curve is not None else asked.base_density
    known = np.flatnonzero(np.isfinite(signal))
    usual = number("wall.panel_density_sd")
    tones = [
        Tone(
            max(scale.density[i] - base, 0.0),
            scale.density_sd[i] or usual,
            float(signal[i]),
            float(signal_sd[i]),
            *(float(v) for v in places[i]),
        )
        for i in known
    ]
    if len(tones) < FEWEST_TONES:
        raise InputError(
            f"only {len(tones)} patches can be read in the photograph of the wall",
            where="grey scale",
            remedy=f"expose so that {FEWEST_TONES} or more are neither white nor black",
        )
    fit = fit_wall(tones, believed(screen), base_density=base, aspect=screen.aspect)
    gate, gate_sd = _gate(asked, screen, fit, known)
    patches = tuple(_patches(tones, known, fit, screen, base, gate))
    mean_light = float(np.mean([p.linear(p.codes[::PLACES, ::PLACES])[..., p.main_channel].mean() for p in pictures]))
    findings = tuple(_findings(screen, fit, gate, gate_sd, mean_light, spread=bool(np.ptp(places))))
    if fit.misfit > POOR:
        cautions.append(_poor(patches))
    return Closed(
        patches,
        findings,
        _updated(screen, findings, seen_on),
        fit.misfit,
        _slide(curve, scale, asked.exposed),
        tuple(cautions),
    )


def believed(screen: Screen) -> Believed:
    """What is believed before the photograph: what was learned by an earlier one, else what was entered, loosely."""
    entered = math.log(number("wall.black_spread"))
    relative = screen.stray_sd / screen.stray if screen.stray_sd and screen.stray else entered
    return Believed(
        screen.callier,
        screen.callier_sd or number("wall.callier_spread"),
        max(screen.black_share, number("wall.least_black")),
        math.exp(max(relative, number("wall.stray_unevenness"))),
    )


# Reading


def _signals(pictures: Sequence[Picture], asked: ScaleAsked) -> tuple[Array, Array, Array, list[Caution]]:
    """Places in the picture (N, 2), light and its uncertainty (N,), NaN where a patch is clipped."""
    whole = len(pictures) == 1 and asked.rows * asked.columns > 1
    if whole and asked.corners is None:
        raise InputError(
            "the field of patches is not marked",
            where="corners",
            remedy="give its four corners in the photograph of the wall",
        )
    cautions: list[Caution] = []
    if whole and asked.corners is not None:
        quads = _cells(asked.corners, asked.columns, asked.rows)
        places = _middles(asked.columns, asked.rows)
        read = [_light(pictures[0], quad) for quad in quads]
    else:
        exposures = {picture.exposure() for picture in pictures}
        if len(exposures) > 1:
            raise InputError(
                "the frames were photographed at different exposures",
                where="photographs of the wall",
                remedy="set the camera by hand and take all frames alike",
            )
        places = np.zeros((len(pictures), 2))
        read = [_light(picture, _middle_of(picture)) for picture in pictures]
        cautions.append(
            Caution("seen.one_place", "Frames lie in one place each: the fall-off is not told by them.", Level.NOTE)
        )
    signal, signal_sd = (np.array(column) for column in zip(*read, strict=True))
    if any(picture.encoding == "srgb" for picture in pictures):
        brightest = np.nanmax(signal) if np.any(np.isfinite(signal)) else 1.0
        density = -np.log10(signal / brightest)
        signal_sd = np.hypot(signal_sd, signal * math.log(10) * tone_curve_sd(density))
        cautions.append(
            Caution(
                "seen.tone_curve",
                "The photograph was made for the eye; its tone curve is only thought to be the standard one, and the intervals allow for that. RAW or a linear TIFF says more.",
                Level.CAUTION,
            )
        )
    lost = int(np.count_nonzero(~np.isfinite(signal)))
    if lost:
        cautions.append(
            Caution(
                "seen.clipped",
                f"{lost} of {signal.size} patches {'is' if lost == 1 else 'are'} white or black in the photograph itself and left out.",
                Level.CAUTION,
            )
        )
    return places, signal, signal_sd, cautions


def _cells(corners: Corners, columns: int, rows: int) -> list[Warp]:
    """The middle of each patch as a quadrilateral, row by row."""
    quad = np.asarray(corners, dtype=np.float64)
    if not is_convex(quad):
        raise InputError(
            "the four corners do not go round the field of patches",
            where="corners",
            remedy="give upper left, upper right, lower right, lower left",
        )
    field = Warp(quad)
    low, high = (1 - READ_SHARE) / 2, (1 + READ_SHARE) / 2
    return [
        Warp(
            field.points(
                np.array([low, high, high, low]) / columns + column / columns,
                np.array([low, low, high, high]) / rows + row / rows,
            )
        )
        for row in range(rows)
        for column in range(columns)
    ]


def _middles(columns: int, rows: int) -> Array:
    """Middles of the patches from -1 to 1, row by row; the field nearly fills the picture."""
    across = (2 * np.arange(columns) + 1) / columns - 1
    down = (2 * np.arange(rows) + 1) / rows - 1
    return np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)


def _middle_of(picture: Picture) -> Warp:
    low, high = (1 - READ_SHARE) / 2, (1 + READ_SHARE) / 2
    across, down = np.array([low, high, high, low]) * picture.width, np.array([low, low, high, high]) * picture.height
    return Warp(np.stack([across, down], axis=-1))


def _light(picture: Picture, cell: Warp) -> tuple[float, float]:
    """Median light of a patch and its standard uncertainty; NaN where it is clipped or outside."""
    steps = (np.arange(PLACES) + READ_SHARE) / PLACES
    across, down = np.meshgrid(steps, steps)
    x, y = np.rint(cell.points(across, down)).astype(int).reshape(-1, 2).T
    if x.min() < 0 or y.min() < 0 or x.max() >= picture.width or y.max() >= picture.height:
        return math.nan, math.nan
    light = picture.light_at(x, y).astype(np.float64)
    if np.mean(light >= picture.clip_light) > MOST_CLIPPED:
        return math.nan, math.nan
    middle = float(np.median(light))
    if middle <= 0:
        return math.nan, math.nan
    scatter = MAD_TO_SD * float(np.median(np.abs(light - middle)))
    # No mean is known better than a code is wide: it may have been rounded all one way.
    code = float(picture.step(np.array([middle]))[0]) / math.sqrt(12)
    return middle, math.hypot(scatter / PLACES, code)


def _scale(asked: ScaleAsked, panel: Picture | None) -> tuple[GreyScale, list[Caution]]:
    """Densities of the slide: as typed, as read on the panel, or, failing both, as promised."""
    typed = scale_of(asked.densities) if asked.densities.strip() else None
    if panel is None:
        if typed is not None:
            return typed, []
        raise InputError(
            "the densities of the patches are not known",
            where="grey scale",
            remedy="type them, or give a picture of the slide on the light panel",
        )
    if asked.panel_corners is None:
        raise InputError(
            "the field of patches is not marked in the picture on the panel",
            where="corners",
            remedy="give its four corners",
        )
    density: list[float] = []
    sd: list[float | None] = []
    field = Warp(np.asarray(asked.panel_corners, dtype=np.float64))
    cautions: list[Caution] = []
    for row in range(asked.rows):
        low, high = row / asked.rows, (row + 1) / asked.rows
        quad = field.points(np.array([0.0, 1.0, 1.0, 0.0]), np.array([low, low, high, high]))
        reading = read_strip([panel], asked.columns, quad.tolist(), accept=True)
        density += [float(d) for d in reading.density]
        sd += [float(d) for d in reading.density_sd]
        cautions += [one for one in reading.cautions if one not in cautions]
    return GreyScale(tuple(density), tuple(sd), typed.log_exposure if typed else None), cautions


# What it says


def _gate(asked: ScaleAsked, screen: Screen, fit: WallSeen, known: NDArray[np.intp]) -> tuple[float, float | None]:
    """Luminance of the open gate: by the meter's reading where there is one, else as entered (no doubt is told)."""
    if asked.spot_patch is None or asked.spot_cd_m2 is None:
        return screen.gate_cd_m2, None
    place = np.flatnonzero(known == asked.spot_patch - 1)
    if not place.size:
        raise InputError(
            f"patch {asked.spot_patch} was not read", where="meter", remedy="point the meter at one that is numbered"
        )
    gate = asked.spot_cd_m2 * fit.gate_signal.value / float(fit.fitted[place[0]])
    return gate, gate * math.hypot(number("wall.spot_meter_sd"), fit.gate_signal.sd / fit.gate_signal.value)


def _patches(
    tones: Sequence[Tone], known: NDArray[np.intp], fit: WallSeen, screen: Screen, base: float, gate: float
) -> Iterator[SeenPatch]:
    unit = gate / fit.gate_signal.value
    for tone, place, fitted, left in zip(tones, known.tolist(), fit.fitted.tolist(), fit.off_sd.tolist(), strict=True):
        out = out_of_middle(tone.across, tone.down, screen.aspect)
        fall = np.log10(fall_off(out, screen.corner_light)) if screen.corner_light else 0.0
        predicted = screen.gate_cd_m2 * float(
            on_screen(base + screen.callier * tone.density - fall, screen.black_share)
        )
        seen = unit * tone.signal
        yield SeenPatch(
            place + 1,
            base + tone.density,
            predicted,
            seen,
            unit * fitted,
            math.log2(seen / predicted),
            left,
        )


def _findings(
    screen: Screen, fit: WallSeen, gate: float, gate_sd: float | None, mean_light: float, *, spread: bool
) -> Iterator[WallFinding]:
    """What the fit says of each input; `spread` where the patches lie apart on the wall and so tell the fall-off."""
    glare, glare_sd = _camera_glare(mean_light / fit.gate_signal.value)
    black = _no_less_than_nothing(fit.black_share.value - glare, math.hypot(fit.black_share.sd, glare_sd))
    entered = screen.room_share * screen.gate_cd_m2 / gate
    yield WallFinding(
        "black", "Stray light", screen.stray + entered, black, _black_words(black, screen.stray + entered, glare)
    )
    # What the room makes of it hangs on its lux and on how white the wall is; the rest is flare.
    doubt = math.hypot(black.sd, number("wall.room_share_sd") * entered)
    flare = _no_less_than_nothing(black.value - entered, doubt)
    yield WallFinding("stray", "Flare", screen.stray, flare, _flare_words(screen, flare, black))
    callier = fit.callier
    yield WallFinding(
        "callier",
        "Callier factor",
        screen.callier,
        callier,
        f"{callier.value:.2f} at a silver density of 1 ({callier.low90:.2f} to {callier.high90:.2f}, nine times in ten); {screen.callier:g} was entered. "
        + (
            f"It falls by {-fit.callier_bend.value:.2f} for each density more."
            if fit.callier_bend.value < 0
            else f"It rises by {fit.callier_bend.value:.2f} for each density more."
        ),
    )
    corner = fit.corner_light
    if spread:
        yield WallFinding(
            "fall_off",
            "Fall-off",
            None,
            corner,
            f"The corners have {100 * corner.value:.0f} % of the light in the middle ({100 * corner.low90:.0f} to {100 * corner.high90:.0f} %): lamp, lens, screen and camera together.",
        )
    if gate_sd is not None:
        flux = screen.flux_lm * gate / screen.gate_cd_m2
        yield WallFinding(
            "lamp",
            "Lamp",
            screen.flux_lm,
            Estimate(flux, screen.flux_lm * gate_sd / screen.gate_cd_m2),
            f"The open gate has {gate:.0f} cd/m2 by the meter, {screen.gate_cd_m2:.0f} as entered: {flux:.0f} lm on a screen of this gain.",
        )


def _black_words(black: Estimate, entered: float, glare: float) -> str:
    said = f"A black spot shows {100 * black.value:.2g} % of the open gate ({100 * black.low90:.2g} to {100 * black.high90:.2g} %), the camera's own glare (about {100 * glare:.1g} %) taken off; flare and room as entered make {100 * entered:.2g} %."
    if not black.low90 <= entered <= black.high90:
        factor = black.value / entered if entered else math.inf
        if factor >= TELLING_FACTOR:
            said += " The wall is lighter in the dark than was entered: blacks are worth less."
        elif factor <= 1 / TELLING_FACTOR:
            said += " The wall is darker in the dark than was entered: blacks are worth more."
    return said


def _flare_words(screen: Screen, flare: Estimate, black: Estimate) -> str:
    if not screen.room_lux:
        return "All of it is flare of lens and slide, or light of a room that was entered as dark."
    share = min(flare.value / black.value, 1.0) if black.value else 0.0
    return f"Of that about {100 * share:.0f} % is flare of lens and slide ({100 * flare.low90:.2g} to {100 * flare.high90:.2g} % of the open gate), the rest light of the room, for which {screen.room_lux:g} lx were entered."


def _no_less_than_nothing(value: float, sd: float) -> Estimate:
    """A difference that cannot be negative: the normal law, cut off at nothing."""
    cut = -value / sd
    # In logarithms, as hardly anything may be left of it.
    left = float(log_ndtr(-cut))
    edge = math.exp(-0.5 * cut**2 - left) / math.sqrt(2 * math.pi)
    low, high = (
        value - sd * float(ndtri_exp(math.log(0.5 + half) + left)) for half in (0.5 * NINE_IN_TEN, -0.5 * NINE_IN_TEN)
    )
    return Estimate(value + sd * edge, sd * math.sqrt(max(1 + cut * edge - edge**2, 0.0)), low, high)


def _camera_glare(mean_share: float) -> tuple[float, float]:
    """Glare of the camera over the open gate, from how light its whole picture is; a factor, known within a factor."""
    spread = number("camera.glare_spread")
    usual = number("camera.glare_typical") * mean_share
    return usual, usual * spread


def _updated(screen: Screen, findings: Sequence[WallFinding], seen_on: date | None) -> Screen:
    """The projector as the wall shows it, each input with its doubt."""
    by = {one.key: one.seen for one in findings}
    changes: dict[str, object] = {
        "callier": round(min(max(by["callier"].value, 1.0), MOST_CALLIER), 2),
        "callier_sd": round(by["callier"].sd, 3),
        "stray": round(min(by["stray"].value, MOST_STRAY), 5),
        "stray_sd": round(by["stray"].sd, 5),
        "seen_on": seen_on,
    }
    if "fall_off" in by:
        changes["corner_light"] = round(min(max(by["fall_off"].value, LEAST_CORNER), 1.0), 2)
    if "lamp" in by:
        changes |= {"flux_lm": float(round(by["lamp"].value)), "flux_sd_lm": float(round(by["lamp"].sd))}
    learned = screen.model_copy(update=changes)
    if not screen.room_lux:
        return learned
    # Flare and room together are the black that was seen; the room's light is what makes them so.
    room = max(by["black"].value - learned.stray, 0.0)
    return learned.model_copy(update={"room_lux": float(f"{screen.room_lux * room / learned.room_share:.3g}")})


# As the fields of the projector allow.
MOST_CALLIER, MOST_STRAY, LEAST_CORNER = 1.9, 0.49, 0.01


def _poor(patches: Sequence[SeenPatch]) -> Caution:
    far = [one.number for one in patches if abs(one.left_sd) > FAR_OFF]
    which = f" (no. {', '.join(str(n) for n in far)})" if far else ""
    return Caution(
        "seen.poor",
        f"Some patches lie farther off than stray light, Callier factor and fall-off explain{which}: look at the corners, for dust, or for a lamp in the room shining onto the wall.",
        Level.CAUTION,
    )


def _slide(curve: SlideCurve | None, scale: GreyScale, exposed: Exposed) -> SlideSeen | None:
    """The slide against its recipe, where both are known."""
    if curve is None or scale.log_exposure is None:
        return None
    return slide_seen(curve, scale.log_exposure, scale.density, scale.density_sd, exposed=exposed)
