"""Evidence: what the strips of a film say, laid out as arrays, with the errors each part has.

One strip's densities y at exposures x are normal about the model with covariance

    readings    diag(sd^2) + offset^2 (zero of the panel)
    the strip   derivative with respect to each control times its error, exposure error,
                and a smooth departure of the strip from the film's law
    faults      a direction for each fault, so wide that the strip teaches nothing along it:
                a ghost adds silver where the first developer made it, an incomplete second
                development scales the image, stain lifts everything, ...

    worn baths  a worn first developer counts as a more dilute one, its doubt as an error of the
                dilution; a worn bleach and second developer as small faults of known size

What the eye says ("murky") is ordinal: a density between two thresholds that are themselves soft.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from obverse.model import UNEXPOSED, with_activity
from obverse.process import CONTROLS, DILUTION, GRADES, WORN_BATHS, ControlVector, Series, Trial
from obverse.reference import number, record

Array = NDArray[np.float64]

# More readings on one strip than this are averaged in neighbouring groups: they add nothing.
MOST_READINGS = 48
# Faults that wreck a strip locally leave its readings worth little more than this.
FAULT_READING_SD = {
    "uneven_agitation": 0.10,
    "bromide_drag": 0.10,
    "reticulation": 0.08,
    "drying_marks": 0.05,
    "light_leak": 0.40,
    "frilling": 0.25,
}
# What the eye looks at, as log exposures; the border for the blacks.
EYE_EXPOSURES = np.array([UNEXPOSED, -0.25, 0.0, 0.25, 0.80])
# A fault without readings is itself a grade.
FAULT_GRADES = {
    "murky_highlights": ("highlights", 1, 2),
    "thin_blacks": ("blacks", 0, 1),
    "low_contrast": ("contrast", 0, 0),
    "overexposed": ("midtones", 0, 0),
    "underexposed": ("midtones", 2, 2),
}


@dataclass(frozen=True, slots=True)
class EyeGrade:
    """An interval in which the eye put something it saw.

    Parameters
    ----------
    strip : int
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
class Evidence:
    """All strips of one film, padded to the same number of readings.

    Parameters
    ----------
    ids : tuple of str
    recipes : (T, K) array
        Controls as written, in the order of `CONTROLS`.
    controls, control_sd : (T, K) arrays
        What they were worth in the first developer as worn as it was, and the error of that.
    log_exposure, density, density_sd : (T, N) arrays
        Where `known` is False they are padding.
    known : (T, N) bool array
    faults : tuple of frozenset
    worn : (T, 2) array
        Used share of the capacity of the bleach and of the second developer.
    grades : tuple of EyeGrade
    varied : (K,) bool array
        Controls that differ between strips or may be varied.
    """

    ids: tuple[str, ...]
    recipes: Array
    controls: Array
    control_sd: Array
    log_exposure: Array
    density: Array
    density_sd: Array
    known: NDArray[np.bool_]
    faults: tuple[frozenset[str], ...]
    worn: Array
    grades: tuple[EyeGrade, ...]
    varied: NDArray[np.bool_]

    @property
    def size(self) -> int:
        """Number of strips."""
        return len(self.ids)

    @property
    def has_readings(self) -> NDArray[np.bool_]:
        """Which strips have at least one density, shape (T,)."""
        return self.known.any(axis=1)


def with_wear(recipes: Array, control_sd: Array, worn: Array) -> tuple[Array, Array]:
    """Controls (T, K) and their errors in first developers whose capacity is used by the shares `worn` (T,).

    What is used up no longer counts: the developer acts as a more dilute one. Solvent and alkali
    stay. How much is used up is not known well; that doubt is an error of each strip's dilution.
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


def gather(series: Series) -> Evidence:
    """Lay out the trials of a series."""
    trials = series.trials
    written = ControlVector.of([t.controls for t in trials])
    recipes, sd = written.values, written.dosing_sd()
    for j, trial in enumerate(trials):
        for name, value in trial.control_sds.items():
            sd[j, CONTROLS.place(name)] = value
    worn = np.array([[t.wear.get(bath, 0.0) for bath in WORN_BATHS] for t in trials]).reshape(-1, len(WORN_BATHS))
    controls, sd = with_wear(recipes, sd, worn[:, 0])
    readings = [_readings(trial) for trial in trials]
    width = max((len(r[0]) for r in readings), default=0)
    x, y, s = (np.zeros((len(trials), width)) for _ in range(3))
    s += 1.0
    known = np.zeros((len(trials), width), dtype=bool)
    for j, (xj, yj, sj) in enumerate(readings):
        n = len(xj)
        x[j, :n], y[j, :n], s[j, :n], known[j, :n] = xj, yj, sj, True
    varied = np.array(
        [name in series.controls and series.controls[name].high > series.controls[name].low for name in CONTROLS]
    )
    if len(trials):
        varied |= np.ptp(recipes, axis=0) > 1e-9
    grades = tuple(g for j, trial in enumerate(trials) for g in _grades(j, trial))
    return Evidence(
        ids=tuple(t.id for t in trials),
        recipes=recipes,
        controls=controls,
        control_sd=with_activity(controls, sd),
        log_exposure=x,
        density=y,
        density_sd=s,
        known=known,
        faults=tuple(frozenset(t.faults) for t in trials),
        worn=worn[:, 1:],
        grades=grades,
        varied=varied,
    )


def _readings(trial: Trial) -> tuple[Array, Array, Array]:
    steps = sorted(trial.steps, key=lambda p: p.log_exposure)
    x = np.array([p.log_exposure for p in steps])
    y = np.array([p.density for p in steps])
    usual = number("notebook.reading_sd")
    s = np.array([p.density_sd if p.density_sd is not None else math.hypot(usual, 0.01 * p.density) for p in steps])
    s = np.maximum(s, 0.002)
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


def _grades(strip: int, trial: Trial) -> list[EyeGrade]:
    found = [(g.of, GRADES[g.of].index(g.grade), GRADES[g.of].index(g.grade)) for g in trial.grades]
    if not trial.steps:
        graded = {of for of, _, _ in found}
        found += [FAULT_GRADES[f] for f in trial.faults if f in FAULT_GRADES and FAULT_GRADES[f][0] not in graded]
    other = any(f not in FAULT_GRADES for f in trial.faults)
    rows = []
    for of, first, last in found:
        limits = [-math.inf, *record(f"notebook.eye.{of}").value, math.inf]
        softness = record(f"notebook.eye.{of}").sd * (3.0 if other else 1.0)
        rows.append(EyeGrade(strip, of, limits[first], limits[last + 1], softness))
    return rows
