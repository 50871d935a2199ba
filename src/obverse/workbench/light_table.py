"""The light table: readings in, the curve with its numbers and faults out."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from obverse.clock import Clock
from obverse.diagnosis import Colour, Cure, FaultFinding, colour_of
from obverse.diagnosis.curve import KnownFilm, diagnose_curve
from obverse.foundation import InputError, JsonObject, Standing, parse_json, read_document
from obverse.imaging import linear_to_srgb
from obverse.inference import FilmFit, fit_film, with_wear
from obverse.process import (
    CONTROLS,
    Aim,
    ControlVector,
    Exposed,
    Patch,
    Series,
    SeriesFilm,
    Trial,
    named_aim,
    read_series,
)
from obverse.reference import record
from obverse.sensitometry import (
    FEWEST_READINGS,
    MID_CURVE_STANDING,
    USUAL_STOPS,
    WHY_NOT_ISO6,
    CharacteristicCurve,
    Doubt,
    ReadingList,
    converted,
    fit_curve,
    read_frames,
    read_list,
    recognise,
    shot_list,
    write_cgats,
    write_csv,
)
from obverse.sensitometry import Shot as PlannedShot
from obverse.store import Store, Stored
from obverse.store.records import ReadingEntry, ShotEntry, ShotListEntry
from obverse.workbench.place import Place

# Curves kept at hand, so that a page with a hundred trials fits each only once.
MOST_CURVES = 512
BAND_POINTS = 121
# A shot list where nobody says otherwise: both ends of any curve are on it.
FIRST_FRAME_STOPS, LAST_FRAME_STOPS = -USUAL_STOPS, USUAL_STOPS
# Log exposure drawn beside the outermost readings, and how much is drawn where the border stands far off.
BESIDE, LONGEST_BAND = 0.3, 6
# A film is known well enough to judge a strip by when so many others were read.
FEWEST_OTHERS = 2
MOST_JUDGED_TOGETHER = 10
BY_THE_SEARCH = "`obverse next` says what to change in the first developer: it weighs all strips of the series."


def exposure_errors(exposed: Exposed) -> tuple[float, float]:
    """Standard uncertainty of log exposure of a strip so exposed: of each step, and common to all."""
    each, common = record(f"table.exposure_sd.{exposed}").value
    return float(each), float(common)


def curve_of_patches(
    patches: tuple[Patch, ...] | list[Patch],
    *,
    base_density: float | None,
    midtone_density: float,
    exposed: Exposed = "unstated",
) -> CharacteristicCurve:
    """The curve of the patches of a trial."""
    each, common = exposure_errors(exposed)
    return fit_curve(
        [patch.log_exposure for patch in patches],
        [patch.density for patch in patches],
        [np.nan if patch.density_sd is None else patch.density_sd for patch in patches],
        log_exposure_sd=each,
        common_log_exposure_sd=common,
        base_density=base_density,
        midtone_density=midtone_density,
    )


def faults_of(
    curve: CharacteristicCurve,
    aim: Aim,
    *,
    base_density: float | None = None,
    trial: Trial | None = None,
    film: KnownFilm | None = None,
    colour: Colour | None = None,
    advice: Callable[[], str] | None = None,
) -> tuple[FaultFinding, ...]:
    """Faults that the curve shows, the likeliest first.

    Parameters
    ----------
    trial : Trial, optional
        Says what was done to the strip.
    film : KnownFilm, optional
        As its other strips teach it.
    colour : Colour, optional
        Of the strip, where a colour picture was read.
    advice : callable, optional
        What the notebook of the film says of the first developer; it stands in place of what is said of any film, so that
        no two pages advise opposite things of one strip. Asked only where something would be said.
    """
    controls, sds = made_of(trial) if trial is not None and trial.controls else (None, None)
    found = diagnose_curve(
        curve, aim=aim, base_density=base_density, controls=controls, control_sds=sds, film=film, colour=colour
    )
    if advice is not None and any(cure.first_developer for finding in found for cure in finding.cures):
        said = Cure(advice(), Standing.COMPUTED)
        found = tuple(replace(finding, cures=_advised(finding.cures, said)) for finding in found)
    return found


def _advised(cures: tuple[Cure, ...], said: Cure) -> tuple[Cure, ...]:
    """Cures with one word on the first developer where the first of those that change it stood: the cheapest stay first."""
    place = next((k for k, cure in enumerate(cures) if cure.first_developer), None)
    if place is None:
        return cures
    return (*cures[:place], said, *(cure for cure in cures[place:] if not cure.first_developer))


def made_of(trial: Trial) -> tuple[dict[str, float], dict[str, float]]:
    """Controls of a trial with their standard uncertainties, a worn first developer counted as a more dilute one."""
    recipes = ControlVector.of([trial.controls])
    usual = ControlVector(recipes.dosing_sd())
    for name, value in trial.control_sds.items():
        usual[CONTROLS[name]] = value
    controls, sds = with_wear(recipes.values, usual.values, np.array([trial.wear.get("first_developer", 0.0)]))
    return ControlVector(controls[0]).settings(), ControlVector(sds[0]).settings()


def colour_of_patches(patches: Iterable[Patch], others: Iterable[Trial] = ()) -> Colour | None:
    """The colour of a strip whose patches were read by colour picture, against the base that the film's other strips show."""

    def pair(steps: Iterable[Patch]) -> tuple[list[float], list[float]]:
        read = [(patch.density, patch.stain_index) for patch in steps if patch.stain_index is not None]
        return [density for density, _ in read], [index for _, index in read]

    return colour_of(*pair(patches), others=tuple(pair(other.steps) for other in others if "stain" not in other.faults))


def film_from_others(series: Series, trial_id: str, other_films: Sequence[FilmFit] = ()) -> KnownFilm | None:
    """The film as its other strips teach it, wiser by other films; None where the strips are too few to know it by."""
    others = tuple(trial for trial in series.trials if trial.id != trial_id)
    if sum(len(trial.steps) >= FEWEST_READINGS for trial in others) < FEWEST_OTHERS:
        return None
    fit = fit_film(series.model_copy(update={"trials": others}), others=list(other_films))
    return KnownFilm(fit.draws, fit.law.density)


@dataclass(frozen=True)
class TrialTold:
    """What contract 3 tells of one trial: numbers with uncertainty and faults, or the reason why there is no curve."""

    id: str
    curve: CharacteristicCurve | None
    box_speed: float | None
    reason: str | None = None
    faults: tuple[FaultFinding, ...] = ()

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "id": self.id,
            "curve": None if self.curve is None else self.curve.document(self.box_speed),
            "reason": self.reason,
            "faults": [fault.document() for fault in self.faults],
        }


@dataclass(frozen=True)
class SeriesTold:
    """Contract 3 for a whole series: its trials in order, and by which rule speeds are told."""

    film: SeriesFilm
    trials: tuple[TrialTold, ...]
    speed_rule: str = WHY_NOT_ISO6
    speed_standing: str = MID_CURVE_STANDING.words

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "film": self.film.model_dump(mode="json"),
            "speed_rule": {"words": self.speed_rule, "standing": self.speed_standing},
            "trials": [trial.document() for trial in self.trials],
        }


def trial_answer(trial: Trial, series: Series, *, film: KnownFilm | None = None) -> TrialTold:
    """One trial of a series, with its faults; `film` is what its other strips teach."""
    base, aim = series.film.base_density, series.aim
    try:
        curve = curve_of_patches(
            trial.steps, base_density=base, midtone_density=aim.midtone_density, exposed=trial.exposed
        )
    except InputError as error:
        return TrialTold(trial.id, None, series.film.box_speed, error.sentence)
    colour = colour_of_patches(trial.steps, [other for other in series.trials if other.id != trial.id])
    # One strip alone is told what holds for any film; of several the notebook's search weighs all.
    advice = (lambda: BY_THE_SEARCH) if len(series.trials) > 1 else None
    faults = faults_of(curve, aim, base_density=base, trial=trial, film=film, colour=colour, advice=advice)
    return TrialTold(trial.id, curve, series.film.box_speed, faults=faults)


def series_answer(series: Series) -> SeriesTold:
    """Contract 3 for a whole series. Few strips judge each other; many would take too long to."""
    measured = sum(len(trial.steps) >= FEWEST_READINGS for trial in series.trials)
    together = FEWEST_OTHERS < measured <= MOST_JUDGED_TOGETHER
    return SeriesTold(
        series.film,
        tuple(
            trial_answer(trial, series, film=film_from_others(series, trial.id) if together else None)
            for trial in series.trials
        ),
    )


def patches_of(readings: ReadingList) -> tuple[Patch, ...]:
    """A list of readings as patches, by rising exposure."""
    rows = sorted(
        zip(readings.log_exposure, readings.density, readings.density_sd, strict=True), key=lambda row: row[0]
    )
    return tuple(Patch(log_exposure=x, density=d, density_sd=sd) for x, d, sd in rows)


def readings_of(patches: tuple[Patch, ...]) -> ReadingList:
    """Patches as a list for export."""
    return ReadingList(
        tuple(patch.log_exposure for patch in patches),
        tuple(patch.density for patch in patches),
        tuple(patch.density_sd for patch in patches),
        {},
    )


@dataclass(frozen=True, slots=True)
class TakenList:
    """A list of readings as a person gave it, converted where they said so.

    Parameters
    ----------
    standing_against : Doubt or None
        The gravest thing that speaks against making a curve of it; None where one can be made.
    beside : tuple of Doubt
        What should be known beside the curve.
    """

    readings: ReadingList
    standing_against: Doubt | None
    beside: tuple[Doubt, ...]


def take_list(
    readings: ReadingList,
    *,
    where: str,
    convert: str = "",
    as_it_is: bool = False,
    base_density: float | None = None,
    box_speed: float | None = None,
) -> TakenList:
    """Look at a list, convert it where the person says so, and tell what it looks like.

    Parameters
    ----------
    convert : str
        Code of the doubt whose conversion is wanted; empty for none.
    as_it_is : bool
        The person has seen the doubts and takes the list all the same.

    Raises
    ------
    InputError
        If the list cannot be converted from what is named.
    """
    if convert:
        try:
            readings = converted(readings, convert, base_density=base_density, box_speed=box_speed)
        except KeyError:
            found = recognise(readings, base_density=base_density, box_speed=box_speed)
            ways = [doubt.code for doubt in found if doubt.convert]
            raise InputError(
                f"the list does not look like {convert!r}",
                where=where,
                remedy=f"it can be converted from: {', '.join(ways)}" if ways else "it needs no conversion",
            ) from None
    doubts = recognise(readings, base_density=base_density, box_speed=box_speed)
    against = [d for d in doubts if d.verdict == "cannot_be" or (d.verdict == "likely_not" and not as_it_is)]
    return TakenList(readings, against[0] if against else None, tuple(d for d in doubts if d not in against))


def paired_with_frames(
    densities: Sequence[float], low_stops: float, high_stops: float, step_stops: float
) -> ReadingList:
    """Densities of bracketed frames with their exposures, in the order of the shot list.

    Raises
    ------
    InputError
        If there are not as many of them as frames.
    """
    x, d = read_frames(shots(low_stops, high_stops, step_stops), densities)
    return ReadingList(tuple(map(float, x)), tuple(map(float, d)), (None,) * len(d), {})


def shots(
    low_stops: float = FIRST_FRAME_STOPS,
    high_stops: float = LAST_FRAME_STOPS,
    step_stops: float = 1,
    *,
    metered_shutter_s: float | None = None,
) -> tuple[PlannedShot, ...]:
    """A bracket of evenly lit grey frames that stands in for a wedge, from `low_stops` to `high_stops`; see `obverse.sensitometry.shot_list`."""
    return shot_list(low_stops, high_stops, step_stops, metered_shutter_s=metered_shutter_s)


def list_text(readings: ReadingList, form: Literal["csv", "cgats"], *, name: str, created: datetime) -> str:
    """A list of readings as CSV or as CGATS.17 / ISO 28178 text."""
    if form == "csv":
        return write_csv(readings)
    return write_cgats(readings, created=created.isoformat(timespec="seconds"), descriptor=name)


def read_anything(text: str, *, where: str) -> Series | ReadingList:
    """A series document or a list of readings, whichever the text is."""
    text = text.removeprefix("\ufeff")
    if text.lstrip().startswith(("{", "[")):
        return read_series(parse_json(text, where=where), where=where)
    return read_list(text, where=where)


def strip_of(densities: ArrayLike, base_density: float | None) -> list[float]:
    """Densities above the base for a tone strip; the lightest patch stands in for a base not known."""
    d = np.asarray(densities, dtype=float)
    if d.size == 0:
        return []
    base = float(d.min()) if base_density is None else base_density
    return [round(max(float(value) - base, 0.0), 4) for value in d]


def greys_of(above_base: Sequence[float]) -> list[float]:
    """Densities above base as greys of a screen or a print, 0 black to 1 white."""
    return [float(grey) for grey in linear_to_srgb(10.0 ** -np.asarray(above_base, dtype=float))]


class LightTable(Place):
    """Reads lists, fits curves, keeps readings."""

    def __init__(self, store: Store, clock: Clock, home: Path | None):
        super().__init__(store, clock, home)
        self._curves: OrderedDict[tuple[object, ...], CharacteristicCurve] = OrderedDict()

    def curve(
        self,
        patches: tuple[Patch, ...],
        *,
        base_density: float | None = None,
        midtone_density: float = 1.0,
        exposed: Exposed = "unstated",
    ) -> CharacteristicCurve:
        """The curve of these patches; the same patches are fitted once."""
        key = (patches, base_density, midtone_density, exposed)
        if key in self._curves:
            self._curves.move_to_end(key)
        else:
            self._curves[key] = curve_of_patches(
                patches, base_density=base_density, midtone_density=midtone_density, exposed=exposed
            )
            if len(self._curves) > MOST_CURVES:
                self._curves.popitem(last=False)
        return self._curves[key]

    def look(
        self,
        patches: tuple[Patch, ...],
        *,
        base_density: float | None = None,
        box_speed: float | None = None,
        exposed: Exposed = "unstated",
        aim: str | Aim | JsonObject = "projection",
        advice: Callable[[], str] | None = None,
    ) -> JsonObject:
        """All that the page shows of a strip: tone strip, readings, curve with band, numbers, faults; `advice` as `faults_of`."""
        if isinstance(aim, str):
            aim = named_aim(aim)
        elif not isinstance(aim, Aim):
            aim = read_document(Aim, aim, where="aim")
        if not patches:
            raise InputError(
                "no reading was given", where="readings", remedy="enter a log exposure and a density on each line"
            )
        patches = tuple(sorted(patches, key=lambda patch: patch.log_exposure))
        curve = self.curve(patches, base_density=base_density, midtone_density=aim.midtone_density, exposed=exposed)
        low, high = patches[0].log_exposure, patches[-1].log_exposure
        x = (
            np.linspace(low - BESIDE, high + BESIDE, BAND_POINTS)
            if high - low < LONGEST_BAND
            else np.linspace(max(low, high - LONGEST_BAND), high + BESIDE, BAND_POINTS)
        )
        middle, band_low, band_high = curve.band(x)
        return {
            "strip": strip_of([patch.density for patch in patches], base_density),
            "readings": [
                {**patch.model_dump(), "weight": round(float(weight), 3)}
                for patch, weight in zip(patches, curve.weight, strict=True)
            ],
            "curve": {
                "log_exposure": np.round(x, 4).tolist(),
                "density": np.round(middle, 4).tolist(),
                "low90": np.round(band_low, 4).tolist(),
                "high90": np.round(band_high, 4).tolist(),
            },
            "numbers": curve.document(box_speed),
            "doubts": [
                d.document() for d in recognise(readings_of(patches), base_density=base_density, box_speed=box_speed)
            ],
            "faults": [
                fault.document()
                for fault in faults_of(
                    curve, aim, base_density=base_density, colour=colour_of_patches(patches), advice=advice
                )
            ],
            "speed_rule": {"words": WHY_NOT_ISO6, "standing": MID_CURVE_STANDING.words},
        }

    def read_text(
        self,
        text: str,
        name: str,
        *,
        convert: str = "",
        as_it_is: bool = False,
        base_density: float | None = None,
        box_speed: float | None = None,
    ) -> tuple[tuple[Patch, ...], tuple[Doubt, ...]]:
        """Patches out of a dropped CSV, CGATS.17 text or series document of one trial, and what to know of them.

        No patches where something speaks against the list; the doubt then says what, and the ways on.
        """
        found = read_anything(text, where=name)
        if isinstance(found, ReadingList):
            taken = take_list(
                found,
                where=name,
                convert=convert,
                as_it_is=as_it_is,
                base_density=base_density,
                box_speed=box_speed,
            )
            if taken.standing_against:
                return (), (taken.standing_against, *taken.beside)
            return patches_of(taken.readings), taken.beside
        if len(found.trials) != 1:
            raise InputError(
                f"the series holds {len(found.trials)} trials",
                where=name,
                remedy="import it on the notebook page, or give a list of readings",
            )
        return found.trials[0].steps, ()

    def keep_reading(
        self, patches: tuple[Patch, ...], *, name: str, source: str = "typed", picture: str = ""
    ) -> Stored[ReadingEntry]:
        """Keep a list of readings by itself, before it belongs to a trial."""
        read_at = self._clock.now().isoformat(timespec="seconds")
        return self._store.readings.put(
            ReadingEntry(name=name, source=source, picture=picture, read_at=read_at, patches=patches)
        )

    def reading(self, id: str) -> Stored[ReadingEntry]:
        """A kept list of readings."""
        return self._store.readings.get(id)

    def readings(self) -> list[Stored[ReadingEntry]]:
        """All kept lists, the newest first."""
        return self._store.readings.all()[::-1]

    def keep_shot_list(
        self, name: str, low_stops: float, high_stops: float, step_stops: float, metered_shutter_s: float | None
    ) -> Stored[ShotListEntry]:
        """Keep a bracket as it was shot, to be read back when the film is developed."""
        made = shots(low_stops, high_stops, step_stops, metered_shutter_s=metered_shutter_s)
        return self._store.shot_lists.put(
            ShotListEntry(
                name=name,
                shots=tuple(ShotEntry(**shot.document()) for shot in made),
                made_at=self._clock.now().isoformat(timespec="seconds"),
            )
        )

    def shot_lists(self) -> list[Stored[ShotListEntry]]:
        """Kept brackets, the newest first."""
        return self._store.shot_lists.all()[::-1]
