"""A finished roll against its exposure notes: a roll is a strip, too.

Of each frame the person noted what they metered and on which zone they put it. Photographed on the panel, that place has
a density; note and recipe promised another. All frames together say what meter and process did, and go into the
notebook as a strip of the film, made by the recipe.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from obverse.clock import Clock
from obverse.densitometry import tone_curve_sd
from obverse.foundation import MAD_TO_SD, Caution, Estimate, InputError, JsonObject, Level
from obverse.imaging import Picture
from obverse.light import index_shift, zone_log_exposure
from obverse.process import Patch, Slide
from obverse.reference import number
from obverse.store import Store, Stored
from obverse.store.records import TrialEntry
from obverse.workbench.notebook import Notebook
from obverse.workbench.place import Place
from obverse.workbench.projector import Projector
from obverse.workbench.slide_curve import SlideCurve
from obverse.workbench.slide_seen import SlideSeen, slide_seen
from obverse.workbench.slides import Slides

Point = tuple[float, float]

# A place is read over a disc of so much of the picture's width: a spot meter's field is no smaller.
DISC_SHARE = 0.006
FEWEST_PIXELS = 4
# Darker than this against the panel nothing but glare is read.
LEAST_TRANSMITTANCE = 1e-4


def density_at(picture: Picture, place: Point, panel: Point) -> tuple[Estimate, tuple[Caution, ...]]:
    """Density of a place of a slide against the open panel beside it.

    Parameters
    ----------
    place, panel : (x, y)
        In pixels: the metered place, and open panel near it.

    Returns
    -------
    Estimate
        Base included; what the camera's glare adds to a dark place is taken off, and its doubt is in the uncertainty.
    tuple of Caution

    Raises
    ------
    InputError
        If a place lies outside, is clipped, or the panel is not the lighter.
    """
    light, light_sd = _disc(picture, place, "the metered place")
    open_light, open_sd = _disc(picture, panel, "the open panel")
    if open_light <= light:
        raise InputError(
            "the open panel is not lighter than the slide",
            where=picture.name,
            remedy="press the metered place first and bare panel after it",
        )
    seen = light / open_light
    glare = number("camera.glare_typical")
    through = max(seen - glare, seen / 2, LEAST_TRANSMITTANCE)
    doubt = math.hypot(
        light_sd / light / math.log(10),
        open_sd / open_light / math.log(10),
        number("wall.panel_unevenness"),
        min(glare * number("camera.glare_spread"), through) / through / math.log(10),
    )
    density = -math.log10(through)
    doubt = math.hypot(doubt, number("camera.uncalibrated") * density)
    cautions: tuple[Caution, ...] = ()
    if picture.encoding == "srgb":
        doubt = math.hypot(doubt, float(tone_curve_sd(np.array([density]))[0]))
        cautions = (
            Caution(
                "roll.tone_curve",
                "The photograph was made for the eye; its tone curve is only thought to be the standard one.",
                Level.NOTE,
            ),
        )
    return Estimate(density, doubt), cautions


def _disc(picture: Picture, place: Point, what: str) -> tuple[float, float]:
    radius = max(FEWEST_PIXELS, round(DISC_SHARE * picture.width))
    steps = np.arange(-radius, radius + 1)
    across, down = np.meshgrid(steps, steps)
    inside = across**2 + down**2 <= radius**2
    x, y = round(place[0]) + across[inside], round(place[1]) + down[inside]
    if x.min() < 0 or y.min() < 0 or x.max() >= picture.width or y.max() >= picture.height:
        raise InputError(f"{what} lies at the rim of the picture", where=picture.name, remedy="press farther inside")
    light = picture.light_at(x, y).astype(np.float64)
    if float(np.median(light)) >= picture.clip_light:
        raise InputError(
            f"{what} is white in the photograph itself", where=picture.name, remedy="photograph it with less exposure"
        )
    middle = max(float(np.median(light)), LEAST_TRANSMITTANCE)
    scatter = MAD_TO_SD * float(np.median(np.abs(light - middle)))
    return middle, math.hypot(
        scatter / math.sqrt(light.size), float(picture.step(np.array([middle]))[0]) / math.sqrt(12)
    )


@dataclass(frozen=True, slots=True)
class NotedFrame:
    """One frame with its note and its density."""

    id: str
    frame: str
    log_exposure: float
    density: float
    density_sd: float | None


@dataclass(frozen=True, slots=True)
class RollSeen:
    """A roll against its notes.

    Parameters
    ----------
    waiting : tuple of str
        Frames that still lack a note or a density.
    seen : SlideSeen or None
        None while fewer than two frames have both, or no recipe with a curve is named.
    why_not : str
        What is missing then, in words.
    film : str
        Id of the film's page in the notebook; empty where there is none.
    trial : str
        Id of the strip as which the roll stands there already; empty where it does not.
    """

    roll: str
    noted: tuple[NotedFrame, ...]
    waiting: tuple[str, ...]
    seen: SlideSeen | None
    why_not: str
    film: str
    trial: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "roll": self.roll,
            "frames": [{name: getattr(one, name) for name in one.__slots__} for one in self.noted],
            "waiting": list(self.waiting),
            "seen": self.seen.document() if self.seen else None,
            "why_not": self.why_not,
            "film": self.film,
            "trial": self.trial,
        }


class Rolls(Place):
    """Finished rolls, over slides, projector and notebook.

    Parameters
    ----------
    notebook : Notebook
    projector : Projector
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None, notebook: Notebook, projector: Projector):
        super().__init__(store, clock, home)
        self._notebook = notebook
        self._projector = projector
        self._slides: Slides = projector.slides

    def seen(self, roll: str) -> RollSeen:
        """What the roll says of its recipe and of the notes."""
        slides = self._slides.of_roll(roll)
        recipe_id = next((kept.thing.recipe for kept in slides if kept.thing.recipe), "")
        curve = self._curve(recipe_id)
        film = self._film(slides, recipe_id)
        box_speed = curve.box_speed if curve else self._notebook.film(film).thing.box_speed if film else None
        noted, waiting = [], []
        for kept in slides:
            one = _noted(kept, box_speed, curve)
            if one is None:
                waiting.append(kept.thing.frame)
            else:
                noted.append(one)
        seen, why_not = None, ""
        if curve is None:
            why_not = "No recipe with a curve is named for this roll: nothing was promised of it."
        elif len(noted) < 2:
            why_not = "Two frames or more need a zone, a meter setting and a density."
        else:
            seen = slide_seen(
                curve,
                [one.log_exposure for one in noted],
                [one.density for one in noted],
                [one.density_sd for one in noted],
                exposed="metered",
            )
        return RollSeen(roll, tuple(noted), tuple(waiting), seen, why_not, film, self._standing(film, roll))

    def note(self, id: str, changes: JsonObject) -> Stored[Slide]:
        """Note zone, meter setting or density of a frame."""
        return self._slides.change(id, changes)

    def read_frame(
        self, id: str, picture: Picture, picture_id: str, place: Point, panel: Point
    ) -> tuple[Stored[Slide], tuple[Caution, ...]]:
        """Read the density of the metered place of a frame from its photograph on the panel."""
        density, cautions = density_at(picture, place, panel)
        changes = {"density": round(density.value, 3), "density_sd": round(density.sd, 3), "picture": picture_id}
        return self._slides.change(id, changes), cautions

    def into_notebook(self, roll: str) -> Stored[TrialEntry]:
        """Write the roll into the notebook as a strip of its film, once; pressed again, it follows what was read since.

        Raises
        ------
        InputError
            If the film has no page, or fewer than two frames have both note and density.
        """
        found = self.seen(roll)
        if not found.film:
            raise InputError(
                f"no film of the notebook is the one of the roll {roll!r}",
                where="roll",
                remedy="write the film into the notebook, or name it with the roll",
            )
        if len(found.noted) < 2:
            raise InputError(
                "two frames or more need a zone, a meter setting and a density", where="roll", remedy="note them first"
            )
        steps = [
            Patch(log_exposure=round(one.log_exposure, 4), density=one.density, density_sd=one.density_sd).model_dump(
                mode="json"
            )
            for one in sorted(found.noted, key=lambda one: one.log_exposure)
        ]
        if found.trial:
            return self._notebook.change_trial(found.trial, {"steps": steps, "exposed": "metered"})
        recipe_id = next((k.thing.recipe for k in self._slides.of_roll(roll) if k.thing.recipe), "")
        recipe = self._store.recipes.get(recipe_id).thing if recipe_id else None
        trial = {
            "id": _strip_name(roll),
            "controls": dict(recipe.controls) if recipe else {},
            "steps": steps,
            "exposed": "metered",
        }
        return self._notebook.add_trial(found.film, trial, recipe=recipe_id)

    def _curve(self, recipe_id: str) -> SlideCurve | None:
        if not recipe_id:
            return None
        recipe = self._store.recipes.find(recipe_id)
        if recipe is None or not recipe.thing.curve:
            return None
        return self._projector.curve(f"recipe:{recipe_id}")

    def _film(self, slides: Sequence[Stored[Slide]], recipe_id: str) -> str:
        recipe = self._store.recipes.find(recipe_id) if recipe_id else None
        names = {kept.thing.film for kept in slides if kept.thing.film}
        if recipe is not None:
            names.add(recipe.thing.film.name)
        return next((kept.id for kept in self._notebook.films() if kept.thing.name in names), "")

    def _standing(self, film: str, roll: str) -> str:
        if not film:
            return ""
        name = _strip_name(roll)
        return next((kept.id for kept in self._notebook.trials(film) if kept.thing.trial.id == name), "")


def _strip_name(roll: str) -> str:
    return f"roll {roll}"


def _noted(kept: Stored[Slide], box_speed: float | None, curve: SlideCurve | None) -> NotedFrame | None:
    slide = kept.thing
    index = slide.exposure_index or (curve.exposure_index_used if curve else None)
    if box_speed is None or slide.zone is None or slide.density is None or index is None:
        return None
    x = index_shift(box_speed, index) + float(zone_log_exposure(slide.zone))
    return NotedFrame(kept.id, slide.frame, x, slide.density, slide.density_sd)
