"""The projector: from a curve to a picture on the wall, the card for the bag, the slides in their boxes."""

from __future__ import annotations

import base64
import json
import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from obverse.clock import Clock
from obverse.foundation import Caution, Document, Estimate, InputError, JsonObject, NotFoundError
from obverse.imaging import Picture, linear_to_srgb
from obverse.light import (
    FOGGING_COMPARED,
    MIDDLE_ZONE,
    SURROUND_MODELS,
    Sought,
    base_cost,
    callier_projector,
    cinema_luminance_cd_m2,
    contrast_left,
    focal_length_mm,
    foot_lamberts,
    heat_caution,
    index_shift,
    largest_width_m,
    lens_doubt,
    lightness,
    luminance_caution,
    picture_width_m,
    readable_range,
    reexpose,
    surround_exponent,
    throw_m,
    window_mm,
    windows_mm,
    zone_log_exposure,
)
from obverse.process import FilmStock, Recipe, Trial
from obverse.reference import number, record
from obverse.sensitometry import FEWEST_READINGS
from obverse.store import Repository, Store, Stored
from obverse.store.records import StoredRecord, TrialEntry
from obverse.workbench.exposure_card import Card, exposure_card, nearest_dial
from obverse.workbench.light_table import curve_of_patches, exposure_errors
from obverse.workbench.notebook import Notebook
from obverse.workbench.place import Place
from obverse.workbench.preview import (
    CODES,
    Screen,
    SlideLook,
    Viewing,
    default_screen,
    light_in_the_middle,
    look,
    on_the_wall,
    seen_in,
    white_of,
)
from obverse.workbench.slide_curve import EXAMPLE, SlideCurve, curve_words, example_curve, from_fit, from_strip
from obverse.workbench.slides import Slides
from obverse.workbench.wall_aim import ShownOn, Surround, WallAim, as_shown, wall_aim
from obverse.workbench.wall_seen import Closed, ScaleAsked, close_loop

# Curves of recipes that are remembered while one looks at them.
MOST_CURVES = 64
# The spread of a recipe is learned from so many of its strips, each fitted anew.
MOST_ALIKE = 8
# The grey scale on the wall: 21 steps of half a stop.
STRIP_STOPS = np.arange(-10, 11) * 0.5
READOUT_STEP = 16
# What the sum of the lens joins, in words and by the names of its fields.
THREE = {"focal_mm": "the focal length", "throw_m": "the distance", "width_m": "the width of the picture"}
FIELDS: dict[Sought, str] = {"focal": "focal_mm", "throw": "throw_m", "width": "width_m"}


class Shown(Document):
    """One slide to look at."""

    source: str = EXAMPLE
    controls: dict[str, float] | None = None
    exposure_index: float | None = Field(
        default=None, gt=0, le=100_000, description="meter setting; the recipe's or the curve's own where absent"
    )
    metered_code: float = Field(default=CODES / 2, ge=0, le=CODES, description="code of the place that is metered")
    zone: float = Field(default=MIDDLE_ZONE, ge=0, le=10, description="where that place shall fall")


class Lens(Document):
    """Lens, distance and picture of a projector; the one that is sought may be left out."""

    gate: str = Field(default="24 x 36", max_length=40, description="mount, by its name in `obverse.light.windows_mm`")
    focal_mm: float | None = Field(default=None, gt=0, le=2000)
    throw_m: float | None = Field(default=None, gt=0, le=200, description="from the lens to the wall")
    width_m: float | None = Field(default=None, gt=0, le=30, description="of the picture")
    sought: Sought

    def given(self, name: str) -> float:
        """One of the two that the third follows from."""
        value: float | None = getattr(self, name)
        if value is None:
            raise InputError(
                f"{THREE[name]} is missing",
                where=f"looking for {THREE[FIELDS[self.sought]]}",
                remedy="give any two of focal length, distance and width",
            )
        return value

    def solved(self) -> SolvedLens:
        """The third from the two others, by the thin lens; the words say how far it may lie off."""
        width_mm, height_mm = window_mm(self.gate)
        match self.sought:
            case "focal":
                value = focal_length_mm(self.given("throw_m"), self.given("width_m"), width_mm)
            case "throw":
                value = throw_m(self.given("focal_mm"), self.given("width_m"), width_mm)
            case _:
                value = picture_width_m(self.given("focal_mm"), self.given("throw_m"), width_mm)
        found = self.model_copy(update={FIELDS[self.sought]: value})
        width = found.given("width_m")
        return SolvedLens(
            gate=self.gate,
            focal_mm=found.given("focal_mm"),
            throw_m=found.given("throw_m"),
            width_m=width,
            sought=self.sought,
            window_mm=(width_mm, height_mm),
            aspect=aspect_of(self.gate),
            height_m=width * height_mm / width_mm,
            doubt=lens_doubt(),
            words=f"By the thin lens, for a window {width_mm:g} mm wide, measured from the middle of the lens. The engraved focal length may lie {100 * lens_doubt():g} % off, and the picture with it.",
        )


@dataclass(frozen=True)
class SolvedLens:
    """The sum of the lens: all three, which was looked for, and how far it may lie off."""

    gate: str
    focal_mm: float
    throw_m: float
    width_m: float
    sought: Sought
    window_mm: tuple[float, float]
    aspect: float
    height_m: float
    doubt: float
    words: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        return asdict(self)


@dataclass(frozen=True)
class WallAssumptions:
    """What a prediction of the wall takes for granted: surround models, Callier factor, lights compared, windows in mm."""

    models: Mapping[str, str]
    callier: float
    callier_standing: str
    fogging: tuple[tuple[str, str, str], ...]
    windows: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class SlideSums:
    """Projection sums of one slide."""

    name: str
    highlight_cd_m2: float
    black_cd_m2: float
    contrast: float
    contrast_in_the_dark: float
    base_density: float
    base_transmittance: float
    base_stops: float
    width_for_highlights_m: float


@dataclass(frozen=True)
class ProjectionSums:
    """Projection sums of a projector and the slides in it; middle and corners where the fall-off is known."""

    gate_cd_m2: float
    middle_cd_m2: float | None
    corner_cd_m2: float | None
    stray_cd_m2: float
    gate_fl: float
    cinema_fl: float
    cinema_fl_tolerance: float
    cinema_standing: str
    clear_base: float
    clear_base_transmittance: float
    largest_width_m: float
    readable_range: float
    callier_range: tuple[float, float]
    slides: tuple[SlideSums, ...]
    cautions: tuple[Caution, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {**asdict(self), "cautions": [caution.document() for caution in self.cautions]}


class ScreenEntry(StoredRecord):
    """The projector and its room, under the one id ``"projector"``."""

    what: Literal["projector"] = "projector"
    screen: Screen


_SCREEN = "projector"


def screens_of(store: Store) -> Repository[ScreenEntry]:
    """Where the projector of this person is kept."""
    return store.keeping("setting", ScreenEntry, {"what": "projector"})


class Projector(Place):
    """The wall, over the store.

    Parameters
    ----------
    notebook : Notebook
        Whose films are shown.
    slides : Slides
        Frames and show lists.
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None, notebook: Notebook, slides: Slides):
        super().__init__(store, clock, home)
        self._notebook = notebook
        self._curves: OrderedDict[str, SlideCurve] = OrderedDict()
        self.slides = slides

    # Curves

    def sources(self) -> list[dict[str, str]]:
        """What a slide can be predicted from: recipes with a curve, measured strips, films, the example."""
        found = [
            {
                "id": f"recipe:{kept.id}",
                "group": "Recipes",
                "name": f"{kept.thing.name}, revision {kept.thing.revision}",
            }
            for kept in self._store.recipes.all()
            if kept.thing.curve
        ]
        for film in self._notebook.films():
            trials = self._notebook.trials(film.id)
            found += [
                {"id": f"trial:{kept.id}", "group": film.thing.name, "name": kept.thing.trial.id + ", measured"}
                for kept in reversed(trials)
                if len(kept.thing.trial.steps) >= FEWEST_READINGS
            ]
            found.append({"id": f"film:{film.id}", "group": film.thing.name, "name": "next strip, predicted"})
        return [*found, {"id": EXAMPLE, "group": "To try", "name": "an example curve (invented)"}]

    def curve(self, source: str, controls: Mapping[str, float] | None = None) -> SlideCurve:
        """The curve behind a source of `sources`.

        Parameters
        ----------
        controls : mapping, optional
            For a film: the controls to predict for; the proposed next strip's where absent.

        Raises
        ------
        NotFoundError, InputError
            If there is none, or it has no curve.
        """
        if source == EXAMPLE:
            return example_curve()
        kind, _, id = source.partition(":")
        if kind not in ("recipe", "trial", "film") or not id:
            raise InputError(f"{source!r} is no source of a curve", where="source", remedy="choose one from the list")
        wished = dict(controls) if controls is not None else None
        # What the curve hangs on beside its own revision: the film of a trial, the whole series of a film.
        if kind == "recipe":
            recipe = self._store.recipes.get(id)
            alike = self._alike(recipe.thing.film.name, recipe.thing.controls, id)
            depends = f"{recipe.revision} {[(one.id, one.revision) for one in alike]}"
            work = partial(self.curve_of_recipe, recipe.thing, source, alike)
        elif kind == "trial":
            trial = self._store.trials.get(id)
            series = self._notebook.series(trial.thing.film)
            alike = self._alike(series.film.name, trial.thing.trial.controls)
            depends = f"{trial.revision} {series.film.model_dump_json()} {[(one.id, one.revision) for one in alike]}"
            work = partial(self._of_trial, trial, source, alike)
        else:
            film = self._store.films.get(id)
            series_json = self._notebook.series(id).model_dump_json()
            depends, work = f"{film.revision} {series_json}", partial(self._of_film, film, source, wished)
        key = json.dumps([source, depends, wished or {}], sort_keys=True)
        if key not in self._curves:
            self._curves[key] = work()
            if len(self._curves) > MOST_CURVES:
                self._curves.popitem(last=False)
        return self._curves[key]

    def curve_of_recipe(
        self, recipe: Recipe, source: str = "recipe", alike: Sequence[Stored[TrialEntry]] = ()
    ) -> SlideCurve:
        """The curve that a recipe carries; `alike` are the strips by it, which teach how they differ.

        Raises
        ------
        InputError
            If it carries none.
        """
        if not recipe.curve:
            raise curve_words(recipe)
        film = recipe.film
        curve = curve_of_patches(
            recipe.curve, base_density=film.base_density, midtone_density=recipe.aim.midtone_density
        )
        return from_strip(
            curve,
            id=source,
            name=recipe.name,
            film=film.name,
            box_speed=film.box_speed,
            base_tint=film.base_tint,
            controls=recipe.controls,
            index=recipe.exposure_index,
            alike=_midtones([one.thing.trial for one in alike], film, recipe.aim.midtone_density),
        )

    def _alike(self, film_name: str, controls: Mapping[str, float], recipe_id: str = "") -> list[Stored[TrialEntry]]:
        """Strips of a film that were read and made by one recipe or by its very controls, the newest `MOST_ALIKE`."""
        found = [
            kept
            for film in self._notebook.films()
            if film.thing.name == film_name
            for kept in self._notebook.trials(film.id)
            if len(kept.thing.trial.steps) >= FEWEST_READINGS
            and ((recipe_id and kept.thing.recipe == recipe_id) or dict(kept.thing.trial.controls) == dict(controls))
        ]
        return found[-MOST_ALIKE:]

    def _of_trial(self, kept: Stored[TrialEntry], source: str, alike: Sequence[Stored[TrialEntry]] = ()) -> SlideCurve:
        film = self._notebook.film(kept.thing.film).thing
        shown = {one.id: one.thing.trial for one in self._notebook.trials(kept.thing.film)}
        strip = shown.get(kept.id)
        if strip is None:
            raise NotFoundError("that strip was put aside", where="source", remedy="choose another")
        aim = self._notebook.series(kept.thing.film).aim
        curve = curve_of_patches(
            strip.steps, base_density=film.base_density, midtone_density=aim.midtone_density, exposed=strip.exposed
        )
        return from_strip(
            curve,
            id=source,
            name=f"{strip.id} of {film.name}",
            film=film.name,
            box_speed=film.box_speed,
            base_tint=film.base_tint,
            controls=strip.controls,
            alike=_midtones([one.thing.trial for one in alike], film, aim.midtone_density),
        )

    def _of_film(self, kept: Stored[FilmStock], source: str, controls: dict[str, float] | None) -> SlideCurve:
        film = kept.thing
        fit = self._notebook.fit(kept.id)
        if controls is None:
            proposed = self._notebook.next_strips(kept.id)
            controls = dict(proposed.suggestions[0].controls)
        return from_fit(fit, controls, id=source, name=f"next strip of {film.name}", base_tint=film.base_tint)

    # The wall

    def screen(self) -> Screen:
        """The projector and its room as the person left them."""
        kept = screens_of(self._store).find(_SCREEN)
        return default_screen() if kept is None or kept.elsewhere else kept.thing.screen

    def screen_revision(self) -> int:
        """The revision of that setting; 0 where nobody left one."""
        kept = screens_of(self._store).find(_SCREEN)
        return 0 if kept is None else kept.revision

    def keep_screen(self, screen: Screen, *, expected_revision: int | None = None) -> int:
        """Remember the projector and its room; returns the revision. `expected_revision` as `Store.put`.

        What was learned from the wall keeps its doubt for as long as its value stays.
        """
        with self._store.transaction():
            screen = _with_doubts(screen, self.screen())
            kept = screens_of(self._store).put(
                ScreenEntry(screen=screen), id=_SCREEN, expected_revision=expected_revision
            )
            self._store.claim("setting", _SCREEN)
        return kept.revision

    def wall_seen(
        self, pictures: Sequence[Picture], asked: ScaleAsked, *, panel: Picture | None = None, source: str = ""
    ) -> Closed:
        """A grey scale photographed on the wall against what the projector as it was entered predicts; see `close_loop`."""
        return close_loop(
            pictures,
            asked,
            self.screen(),
            panel=panel,
            curve=self.curve(source) if source else None,
            seen_on=self._clock.now().date(),
        )

    def take_over(self, learned: Screen, *, expected_revision: int | None = None) -> int:
        """Reckon with the projector as the wall showed it; the doubts are kept with it."""
        return self.keep_screen(learned, expected_revision=expected_revision)

    def looks(self, shown: Sequence[Shown], screen: Screen, viewing: Viewing) -> list[SlideLook]:
        """The tables of one or two slides, seen by one eye: what is white for one is white for the other."""
        if not 1 <= len(shown) <= 2:
            raise InputError(f"{len(shown)} slides cannot stand side by side", where="slides", remedy="show one or two")
        curves = [self.curve(one.source, one.controls) for one in shown]
        white = white_of(curves, screen, viewing)
        brightest = white_of(curves, screen, viewing, light_in_the_middle(screen))
        return [
            look(curve, shift_of(curve, one), one.metered_code, screen, viewing, white, brightest)
            for curve, one in zip(curves, shown, strict=True)
        ]

    def look_document(self, shown: Sequence[Shown], screen: Screen, viewing: Viewing) -> JsonObject:
        """What the page draws: tables in base64, readings along them, and the sums."""
        looks = self.looks(shown, screen, viewing)
        white = white_of([found.curve for found in looks], screen, viewing)
        return {
            "slides": [
                _slide_document(found, one, screen, viewing, white) for found, one in zip(looks, shown, strict=True)
            ],
            "sums": sums(screen, [found.curve for found in looks]).document(),
        }

    def aim(
        self,
        screen: Screen,
        *,
        surround: Surround = "dark",
        shown_on: ShownOn = "wall",
        base_density: float = 0.1,
        against: str = "projection",
        source: str = "",
    ) -> JsonObject:
        """The aim that a showing asks for; with a source also the meter setting that its curve then wants."""
        screen, own = as_shown(screen, shown_on)
        curve = self.curve(source) if source else None
        base = curve.base_density if curve else base_density
        found = wall_aim(screen, surround=own or surround, base_density=base, against=against)
        return {**found.document(), "setting": _setting(curve, found) if curve else None}

    # Paper

    def card(
        self, source: str, screen: Screen | None = None, *, controls: Mapping[str, float] | None = None, **wishes: Any
    ) -> Card:
        """The exposure card of a source; `wishes` as `exposure_card`. A recipe's own index is taken where none is given."""
        curve = self.curve(source, controls)
        wishes = {name: value for name, value in wishes.items() if value is not None}
        return exposure_card(curve, screen or self.screen(), **{"exposure_index": curve.exposure_index_used, **wishes})

    def reexposure(self, **given: Any) -> JsonObject:
        """Light that a film gets from a lamp; `given` as `obverse.light.reexpose`."""
        return reexpose(**given).document()

    def assumptions(self) -> WallAssumptions:
        """What a prediction of the wall takes for granted, each with how it is known."""
        callier = record("wall.callier_projector")
        return WallAssumptions(SURROUND_MODELS, callier.value, callier.source.words, FOGGING_COMPARED, windows_mm())

    def lamps(self) -> list[JsonObject]:
        """Lights for a second exposure: published or remembered fluxes, or lux at the film, to choose from."""
        bare = (
            ("100 W incandescent, bare", "lamp-100W", record("lamp-100W").value[1]),
            ("150 W incandescent, bare", "lamp-150W", record("lamp-150W").value["frosted_120V"][0]),
            ("LED bulb sold as 100 W", "wall.lamp_led_bulb", number("wall.lamp_led_bulb")),
            ("a telephone's torch", "wall.lamp_torch", number("wall.lamp_torch")),
        )
        at_film = (
            ("LED panel, 30 cm before it", "wall.lamp_led_panel"),
            ("daylight in the shade", "wall.lamp_daylight_shade"),
        )
        return [
            *({"name": n, "flux_lm": flux, "lux": None, "standing": record(k).source.words} for n, k, flux in bare),
            *({"name": n, "flux_lm": None, "lux": number(k), "standing": record(k).source.words} for n, k in at_film),
        ]


# A page shows six figures.
SAME = 1e-5
# What was learned from the wall, and the doubt that goes with it.
DOUBTS = {"callier": "callier_sd", "stray": "stray_sd", "flux_lm": "flux_sd_lm"}


def _with_doubts(screen: Screen, before: Screen) -> Screen:
    """A screen of a page that shows no doubts, with those of before where the value stayed."""
    kept: dict[str, object] = {}
    for name, doubt in DOUBTS.items():
        if getattr(screen, doubt) is None and math.isclose(getattr(screen, name), getattr(before, name), rel_tol=SAME):
            kept[doubt] = getattr(before, doubt)
    if screen.seen_on is None and any(value is not None for value in kept.values()):
        kept["seen_on"] = before.seen_on
        # A page that shows the fall-off and shows it empty means it so.
        if "corner_light" not in screen.model_fields_set:
            kept["corner_light"] = before.corner_light
    return screen.model_copy(update=kept)


def _midtones(strips: Sequence[Trial], film: FilmStock, midtone_density: float) -> list[Estimate]:
    """Log exposure of the mid-tone of each strip that reaches it, with what reading it adds; one alone teaches nothing."""
    if len(strips) < 2:
        return []
    curves = (
        curve_of_patches(s.steps, base_density=film.base_density, midtone_density=midtone_density, exposed=s.exposed)
        for s in strips
    )
    found = []
    for strip, curve in zip(strips, curves, strict=True):
        if middle := curve.midtone_log_exposure:
            # What is common to a strip's exposures differs from strip to strip: it is no error of reading.
            common = exposure_errors(strip.exposed)[1]
            found.append(Estimate(middle.value, math.sqrt(max(middle.sd**2 - common**2, 0.0))))
    return found


def _setting(curve: SlideCurve, asked: WallAim) -> JsonObject | None:
    """The meter setting that puts the mid-tone of that aim on the metered tone, by this curve; None where it never gets there."""
    wanted = curve.base_density + asked.aim.midtone_density
    if not curve.dmin < wanted < curve.dmax_with_base:
        return None
    x = float(np.interp(-wanted, -curve.density, curve.log_exposure))
    dial = nearest_dial(curve.box_speed * 10**-x)
    own = curve.exposure_index
    than = (
        f", in place of {nearest_dial(own.value):g} for its own mid-tone of {curve.midtone_density:.2f}" if own else ""
    )
    return {"dial": dial, "words": f"{curve.name}: set the meter to {dial:g}{than}."}


def aspect_of(gate: str) -> float:
    """Width over height of the window of a mount, by its name."""
    across, high = window_mm(gate)
    return across / high


def shift_of(curve: SlideCurve, shown: Shown) -> float:
    """Log exposure that the meter setting and the zone add to the metered mid-tone."""
    index = (
        shown.exposure_index
        or curve.exposure_index_used
        or (curve.exposure_index.value if curve.exposure_index else curve.box_speed)
    )
    return index_shift(curve.box_speed, index) + float(zone_log_exposure(shown.zone))


def sums(screen: Screen, curves: Sequence[SlideCurve]) -> ProjectionSums:
    """Projection sums of a projector and the slides in it."""
    gate = screen.gate_cd_m2
    aim = record("smpte196")
    low, high = callier_projector()
    cautions = [luminance_caution(gate)]
    found = []
    for curve in curves:
        ends = on_the_wall(curve, curve.log_exposure[[0, -1]], screen)
        dense = [
            curve.base_density + screen.callier * (d - curve.base_density) for d in (curve.dmax_with_base, curve.dmin)
        ]
        left = contrast_left(dense[0], dense[1], screen.black_share)
        cost = base_cost(curve.base_density)
        cautions.append(heat_caution(curve.base_tint))
        found.append(
            SlideSums(
                name=curve.name,
                highlight_cd_m2=gate * float(ends[1]),
                black_cd_m2=gate * float(ends[0]),
                contrast=left,
                contrast_in_the_dark=contrast_left(dense[0], dense[1], 0.0),
                base_density=curve.base_density,
                base_transmittance=cost.transmittance,
                base_stops=cost.stops,
                width_for_highlights_m=largest_width_m(
                    screen.flux_lm, cinema_luminance_cd_m2() / float(ends[1]), screen.aspect, screen.gain
                ),
            )
        )
    middle = light_in_the_middle(screen)
    return ProjectionSums(
        gate_cd_m2=gate,
        middle_cd_m2=gate * middle if screen.corner_light else None,
        corner_cd_m2=gate * middle * screen.corner_light if screen.corner_light else None,
        stray_cd_m2=gate * screen.black_share,
        gate_fl=float(foot_lamberts(gate)),
        cinema_fl=aim.value["fL"],
        cinema_fl_tolerance=aim.value["fL_tol"],
        cinema_standing=aim.source.words,
        clear_base=number("base-clear"),
        clear_base_transmittance=base_cost(number("base-clear")).transmittance,
        largest_width_m=largest_width_m(screen.flux_lm, cinema_luminance_cd_m2(), screen.aspect, screen.gain),
        readable_range=readable_range(),
        callier_range=(low, high),
        slides=tuple(found),
        cautions=tuple(c for c in dict.fromkeys(cautions) if c is not None),
    )


def _slide_document(found: SlideLook, shown: Shown, screen: Screen, viewing: Viewing, white: float) -> JsonObject:
    curve, gate = found.curve, screen.gate_cd_m2
    shift = shift_of(curve, shown)
    x = STRIP_STOPS * np.log10(2.0) + shift
    wall = on_the_wall(curve, x, screen)
    # As light as in the picture above it: one eye, one white, one surround.
    shown_light = seen_in(wall, white, surround_exponent(viewing.model, "dark", viewing.shown_in))
    return {
        **curve.document(),
        "exposure_index_set": curve.box_speed * 10 ** -(shift - float(zone_log_exposure(shown.zone))),
        "grey": _base64(found.grey),
        "run_together": _base64(found.run_together),
        "grain": _base64(found.grain),
        "rings": {
            "ring_light": np.round(found.rings.light, 5).tolist(),
            "grey": _base64(found.rings.grey),
            "run_together": _base64(found.rings.run_together),
        }
        if found.rings
        else None,
        "readout": {
            "step": READOUT_STEP,
            "log_exposure": np.round(found.log_exposure[::READOUT_STEP], 4).tolist(),
            "density": np.round(found.density[::READOUT_STEP], 3).tolist(),
            "cd_m2": np.round(gate * found.screen[::READOUT_STEP], 3).tolist(),
        },
        "scale": {
            "stops": STRIP_STOPS.tolist(),
            "density": np.round(curve.at(x), 3).tolist(),
            "cd_m2": np.round(gate * wall, 3).tolist(),
            "grey": np.rint(255 * linear_to_srgb(shown_light)).astype(int).tolist(),
            "lightness": np.round(lightness(shown_light), 1).tolist(),
        },
    }


def _base64(values: NDArray[np.uint8]) -> str:
    return base64.b64encode(values.tobytes()).decode()
