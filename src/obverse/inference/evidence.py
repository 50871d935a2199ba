"""Evidence: what the strips of a film say, laid out as arrays, with the errors each part has.

A strip differs from its film's law by

    its making  the errors of its controls, of its exposure, and a small departure of its own
    faults      each moves the curve's coordinates by about so much and no one knows how far: an
                incomplete second development scales the whole image by a factor of its own, a
                ghost lifts the lights, wrong exposure moves the place; stain lifts all readings
    worn baths  a worn first developer counts as a more dilute one, its doubt as an error of the
                dilution; a worn bleach and second developer as small faults of known size

What the eye says ("murky") is ordinal: a density between two thresholds that are themselves soft.
The eye judges for a purpose: where the aim bounds what a word is about, the first threshold stands
at the bound of the aim.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array
from obverse.inference.elsewhere import PANEL_SD, USUAL_SDS, OtherDarkroom
from obverse.model import COORDINATES, LIGHT_OFFSET, with_activity
from obverse.process import (
    CONTROLS,
    DILUTION,
    GRADES,
    WORN_BATHS,
    Aim,
    ControlVector,
    Series,
    Trial,
    content_mark,
    first_of_each,
    has_evidence,
)
from obverse.reference import number, record

# More readings on one strip than this are averaged in neighbouring groups: they add nothing.
MOST_READINGS = 48
# Faults that wreck a strip locally leave its readings worth little more than this.
FAULT_READING_SD = {
    fault: number(f"notebook.fault.{fault}.reading_sd")
    for fault in ("uneven_agitation", "bromide_drag", "reticulation", "drying_marks", "light_leak", "frilling")
}
# Beside a fault that its words are not about, the words of a strip are so many times as soft.
WORDS_SOFTER = number("notebook.fault.words_softer")


def _likely(key: str) -> tuple[float, float]:
    """What a record says, and its doubt."""
    known = record(key)
    return known.number, known.sd


# A noted stain, and what the eye calls a slight one: the likely density, and its doubt.
STAIN = _likely("notebook.fault.stain.density")
TINTS = {"none": (0.0, 0.0), "slight": _likely("notebook.fault.slight_stain.density"), "strong": STAIN}
# A shade between two words ("a bit dark") is used more loosely than the words themselves: so many times as soft.
LOOSER = number("notebook.eye.looser")
LEAST_LIGHTS = number("notebook.eye.shade_least_lights")
LIGHTS_PER_SILVER = number("notebook.wear.lights_per_silver")
# A fault without readings is itself a grade.
FAULT_GRADES = {
    "murky_highlights": ("highlights", "slightly_murky", "murky"),
    "thin_blacks": ("blacks", "thin", "slightly_thin"),
    "low_contrast": ("contrast", "flat", "flat"),
    "overexposed": ("midtones", "light", "light"),
    "underexposed": ("midtones", "dark", "dark"),
}


@dataclass(frozen=True, slots=True)
class EyeGrade:
    """An interval in which the eye put something it saw.

    Parameters
    ----------
    of : str
        highlights, blacks, midtones or contrast.
    low, high : float
        Thresholds; infinite at the ends of the scale.
    sd : float
        Softness of the thresholds.
    """

    strip: int
    of: str
    low: float
    high: float
    sd: float


@dataclass(frozen=True)
class FilmEvidence:
    """All strips of one film, padded to the same number of readings.

    Parameters
    ----------
    rows : int array
        For each trial of the series the strip it is: strips stand here in an order of their own, so that the answer
        does not depend on the order they were written in, and a strip that is written down twice stands here once.
    recipes : (T, 5) array
        Controls as written, in the order of `CONTROLS`.
    controls, control_sd : (T, 5) arrays
        What they were worth in the first developer as worn as it was, and the error of that.
    log_exposure, density, density_sd : (T, N) arrays
        Where `known` is False they are padding.
    known : (T, N) bool array
    faults : tuple of frozenset
    shift, fault_covariance : (T, 5), (T, 5, 5) arrays
        What faults and worn baths are expected to have done to each strip's curve coordinates, and how widely.
    stain_shift, stain_sd : (T,) arrays
        The same of a stain, in density.
    varied : (5,) bool array
        Controls that differ between strips or may be varied.
    origin : (T,) int array
        The darkroom each strip was made in, by its place among the others; -1 for this one.
    offset_sds : tuple of float
        How far darkrooms usually lie from the middle of all.
    """

    ids: tuple[str, ...]
    rows: NDArray[np.int_]
    recipes: Array
    controls: Array
    control_sd: Array
    log_exposure: Array
    density: Array
    density_sd: Array
    known: NDArray[np.bool_]
    faults: tuple[frozenset[str], ...]
    shift: Array
    fault_covariance: Array
    stain_shift: Array
    stain_sd: Array
    grades: tuple[EyeGrade, ...]
    varied: NDArray[np.bool_]
    origin: NDArray[np.int_]
    offset_sds: tuple[float, ...] = USUAL_SDS

    @property
    def size(self) -> int:
        """Number of strips."""
        return len(self.ids)

    @property
    def own_size(self) -> int:
        """Number of strips made in this darkroom; they stand first."""
        return int((self.origin < 0).sum())

    @property
    def has_readings(self) -> NDArray[np.bool_]:
        """Which strips have at least one density, shape (T,)."""
        return np.asarray(self.known.any(axis=1))


def with_wear(recipes: Array, control_sd: Array, worn: Array) -> tuple[Array, Array]:
    """Controls (T, K) and their errors in first developers whose capacity is used by the shares `worn` (T,).

    What is used up no longer counts: the developer acts as a more dilute one. Solvent and alkali
    stay. How much is used up is not known well; that doubt is an error of each strip's dilution.

    Parameters
    ----------
    recipes, control_sd : array (T, K)
        Controls, one row a strip, and how exactly each was made.
    worn : array (T,)
        Shares of the capacity that earlier films used, 0 to 1.

    Returns
    -------
    tuple of arrays (T, K)
        Controls as they acted, and their errors.
    """
    known = record("notebook.wear.first_developer")
    left = 1.0 - float(known.value) * worn
    controls, sd = recipes.copy(), control_sd.copy()
    dilution = CONTROLS.place(DILUTION)
    parts = 1.0 + recipes[:, dilution]
    is_worn = worn > 0
    controls[is_worn, dilution] = (parts / left - 1.0)[is_worn]
    sd[is_worn, dilution] = np.hypot(control_sd[:, dilution] / left, parts * worn * known.sd / left**2)[is_worn]
    return controls, sd


def gather(series: Series, elsewhere: Sequence[OtherDarkroom] = ()) -> FilmEvidence:
    """Lay out the trials of a series, and behind them those of the same film from other darkrooms."""
    first = first_of_each(series.trials)
    order = [j for j in _order(series.trials) if first[j] == j]
    row = {j: r for r, j in enumerate(order)}
    own = tuple(series.trials[j] for j in order)
    lent = _lent(series, elsewhere, own)
    trials = (*own, *(trial for _, trial in lent))
    origin = np.array([-1] * len(own) + [k for k, _ in lent], dtype=int)
    written = ControlVector.of([t.controls for t in trials])
    recipes, sd = written.values, written.dosing_sd()
    for j, trial in enumerate(trials):
        for name, value in trial.control_sds.items():
            sd[j, CONTROLS.place(name)] = value
    worn = np.array([[t.wear.get(bath, 0.0) for bath in WORN_BATHS] for t in trials]).reshape(-1, len(WORN_BATHS))
    controls, sd = with_wear(recipes, sd, worn[:, 0])
    readings = [_readings(trial) for trial in trials]
    width = max((len(r[0]) for r in readings), default=0)
    x, y, s = np.zeros((len(trials), width)), np.zeros((len(trials), width)), np.ones((len(trials), width))
    known = np.zeros((len(trials), width), dtype=bool)
    for j, (xj, yj, sj) in enumerate(readings):
        n = len(xj)
        x[j, :n], y[j, :n], s[j, :n], known[j, :n] = xj, yj, sj, True
    varied = np.array(
        [name in series.controls and series.controls[name].high > series.controls[name].low for name in CONTROLS]
    )
    if len(trials):
        varied |= np.ptp(recipes, axis=0) > 1e-9
    grades = tuple(g for j, trial in enumerate(trials) for g in _grades(j, trial, series.aim))
    coordinates = len(COORDINATES)
    shift = np.zeros((len(trials), coordinates))
    fault_covariance = np.zeros((len(trials), coordinates, coordinates))
    for j, trial in enumerate(trials):
        for likely, direction in _fault_directions(frozenset(trial.faults), *map(float, worn[j, 1:])):
            shift[j] += likely
            fault_covariance[j] += np.outer(direction, direction)
    stains = np.array([_stain(t) for t in trials]).reshape(-1, 2)
    return FilmEvidence(
        ids=tuple(t.id for t in trials),
        rows=np.array([row[j] for j in first], dtype=int),
        recipes=recipes,
        controls=controls,
        control_sd=with_activity(controls, sd),
        log_exposure=x,
        density=y,
        density_sd=s,
        known=known,
        faults=tuple(frozenset(t.faults) for t in trials),
        shift=shift,
        fault_covariance=fault_covariance,
        stain_shift=stains[:, 0],
        stain_sd=np.hypot(stains[:, 1], PANEL_SD * (origin >= 0)),
        grades=grades,
        varied=varied,
        origin=origin,
    )


def _lent(series: Series, elsewhere: Sequence[OtherDarkroom], own: tuple[Trial, ...]) -> list[tuple[int, Trial]]:
    """Strips of the other darkrooms with their place: each once, wherever it came through, none that is one's own.

    Densities count from the base: where it was measured there and here, the zero of the other panel goes with it.
    """
    if not elsewhere:
        return []
    seen = {content_mark(trial) for trial in own}
    found = []
    for k, darkroom in enumerate(elsewhere):
        lift = 0.0
        if series.film.base_density is not None and darkroom.base_density is not None:
            lift = series.film.base_density - darkroom.base_density
        for j in _order(darkroom.trials):
            trial = darkroom.trials[j]
            mark = content_mark(trial)
            if not has_evidence(trial) or mark in seen:
                continue
            seen.add(mark)
            steps = tuple(patch.model_copy(update={"density": patch.density + lift}) for patch in trial.steps)
            found.append((k, trial.model_copy(update={"steps": steps})))
    return found


def _order(trials: tuple[Trial, ...]) -> list[int]:
    """An order of strips that follows from what they are, not from when they were written; last bits do not count."""

    def key(j: int) -> tuple[object, ...]:
        trial = trials[j]
        recipe = tuple(round(float(v), 6) for v in ControlVector.of(trial.controls).values)
        read = tuple(sorted((round(p.log_exposure, 6), round(p.density, 6)) for p in trial.steps))
        words = tuple(sorted((g.of, g.grade) for g in trial.grades))
        return recipe, read, words, tuple(sorted(trial.faults)), tuple(sorted(trial.wear.items())), trial.id

    return sorted(range(len(trials)), key=key)


def _readings(trial: Trial) -> tuple[Array, Array, Array]:
    steps = sorted(trial.steps, key=lambda p: p.log_exposure)
    x = np.array([p.log_exposure for p in steps])
    y = np.array([p.density for p in steps])
    usual, grows = number("notebook.reading_sd"), number("notebook.reading_sd_per_density")
    s = np.array([p.density_sd if p.density_sd is not None else math.hypot(usual, grows * p.density) for p in steps])
    s = np.maximum(s, number("notebook.reading_sd_least"))
    for fault in trial.faults:
        if fault in FAULT_READING_SD:
            s = np.hypot(s, FAULT_READING_SD[fault])
    if len(x) > MOST_READINGS:
        groups = np.array_split(np.arange(len(x)), MOST_READINGS)
        weight = s**-2
        total = np.array([weight[g].sum() for g in groups])
        x = np.array([(weight[g] * x[g]).sum() for g in groups]) / total
        y = np.array([(weight[g] * y[g]).sum() for g in groups]) / total
        s = total**-0.5
    return x, y, s


def _fault_directions(faults: frozenset[str], bleach: float, second_developer: float) -> list[tuple[Array, Array]]:
    """What each fault or worn bath does to the curve coordinates: the likely shift, and the direction of its doubt."""
    scale, lights, place = np.array([1.0, 1.0, 0, 0, 0]), np.array([0, 1.0, 0, 0, 0]), np.array([0, 0, 1.0, 0, 0])
    found = []
    if "ghost_negative" in faults:
        likely, doubt = _likely("notebook.fault.ghost_negative.lights")
        found.append((likely * lights, doubt * lights))
    if "incomplete_second_development" in faults:
        # A factor of the whole image: its logarithm is moved, so that a severe failure pulls nothing else low.
        likely, doubt = _likely("notebook.fault.incomplete_second_development.image")
        found.append((likely * scale, doubt * scale))
    if bleach:
        known = record("notebook.wear.bleach")
        found.append(
            (bleach * known.value * LIGHTS_PER_SILVER * lights, bleach * known.sd * LIGHTS_PER_SILVER * lights)
        )
    if second_developer:
        known = record("notebook.wear.second_developer")
        found.append((-second_developer * known.value * scale, second_developer * known.sd * scale))
    if faults & {"underexposed", "overexposed"}:
        likely, doubt = _likely("notebook.fault.wrong_exposure.place")
        found.append((likely * place, doubt * place))
    return found


def _thresholds(of: str, aim: Aim) -> list[float]:
    """Where the eye moves from one word to the next: as the records say, moved to the bound of the aim where it has one."""
    limits = list(record(f"notebook.eye.{of}").value)
    if of == "highlights" and aim.highlight_density_max is not None:
        return [v + aim.highlight_density_max - limits[0] for v in limits]
    if of == "blacks" and aim.dmax_min is not None:
        return [v + aim.dmax_min - limits[1] for v in limits]
    if of == "midtones":
        return [v + aim.midtone_density - 1.0 for v in limits]
    if of == "contrast":
        # Where the aim has one bound only, the other word begins where it usually does, or as far from the bound as usual.
        flat, hard = limits
        low, high = aim.gradient_min, aim.gradient_max
        if low is None and high is not None:
            return [min(flat, high - (hard - flat)), high]
        if low is not None:
            return [low, max(hard, low + (hard - flat)) if high is None else high]
    return limits


def _stain(trial: Trial) -> tuple[float, float]:
    """The likely density of the stain of a strip, and its doubt; what the eye says of the tint is finer than the fault."""
    tint = next((g.grade for g in trial.grades if g.of == "tint"), "strong" if "stain" in trial.faults else "none")
    return TINTS[tint]


def _interval(of: str, grade: str, limits: list[float]) -> tuple[float, float, float]:
    """Where the eye puts a word among the two thresholds of its scale, and how many times softer it is used.

    A shade between two words lies about the threshold between them, half the width of the middle word to either side.
    """
    low, high = limits
    half = (high - low) / 2
    words = GRADES[of]
    place = words.index(grade)
    if place == 0:
        return -math.inf, low, 1.0
    if place == len(words) - 1:
        return high, math.inf, 1.0
    if place == len(words) // 2:
        return low, high, 1.0
    middle = low if place < len(words) // 2 else high
    return middle - half, middle + half, LOOSER


def _grades(strip: int, trial: Trial, aim: Aim) -> list[EyeGrade]:
    found: list[tuple[str, str, str]] = [(g.of, g.grade, g.grade) for g in trial.grades if g.of != "tint"]
    if not trial.steps:
        graded = {of for of, _, _ in found}
        found += [FAULT_GRADES[f] for f in trial.faults if f in FAULT_GRADES and FAULT_GRADES[f][0] not in graded]
    other = any(f not in FAULT_GRADES for f in trial.faults)
    rows = []
    for of, first, last in found:
        limits = _thresholds(of, aim)
        softness = record(f"notebook.eye.{of}").sd * (WORDS_SOFTER if other else 1.0)
        if of == "highlights":
            # Of the lights the eye sees ratios: thresholds and their softness in the logarithm.
            softness /= max(limits[0], LEAST_LIGHTS) + LIGHT_OFFSET
            limits = [math.log(max(v, LEAST_LIGHTS) + LIGHT_OFFSET) for v in limits]
        (low, _, looser), (_, high, _) = _interval(of, first, limits), _interval(of, last, limits)
        rows.append(EyeGrade(strip, of, low, high, softness * looser))
    return rows
