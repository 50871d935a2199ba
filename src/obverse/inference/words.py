"""Suggestions in words: why this strip, what a small error does, what to expose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np

from obverse.foundation import Array, Estimate, JsonObject
from obverse.inference.fit import FilmFit, held
from obverse.model import OBSERVABLES, SCALE, bounds_of
from obverse.process import CONTROLS, Aim, ControlVector

# Purposes: (observable, +1 to raise / -1 to lower) in words.
PURPOSE = {
    ("dmax", 1.0): "to keep the blacks",
    ("highlight_density", -1.0): "to clear the highlights",
    ("gradient", 1.0): "for more contrast",
    ("gradient", -1.0): "for less contrast",
    ("midtone_log_exposure", 1.0): "to darken the mid-tones",
    ("midtone_log_exposure", -1.0): "to lighten the mid-tones",
}

# A third of a stop, log10, as rounded as the trade does (0.1003).
THIRD = 0.1
# Frames that a proposed strip has at the most: a third of a roll.
MOST_FRAMES = 12
# A control is said to help from this part of a just noticeable step on, and so many are said in one sentence.
HELPS, MOST_SAID = 0.05, 3
# A bound matters by a power of e of how far the best strip misses it, in just noticeable steps; beyond these no more or less.
MISSED_BY, MET_BY = -2.0, 4.0
# Draws that are enough for what changes, and for what an error does.
DRAWS_OF_EFFECTS, DRAWS_OF_ERRORS = 64, 160
# Log exposures of a strip: at least so much about the mid-tone, and beyond that down to the black and up to the lights; a
# meter is never so wrong that more than three decades either way are needed. A stop apart where the frames suffice.
ABOUT_MIDTONE, TO_THE_BLACK, TO_THE_LIGHTS, FARTHEST, THIRDS_APART = 0.3, 0.9, 1.1, 3.0, 3


@dataclass(frozen=True)
class BestWords:
    """What the best strip so far lacks, to say what a suggestion is for.

    Parameters
    ----------
    strip : str or None
        Id of the strip compared with.
    controls : dict
        Its controls.
    observed : dict of Estimate or None
    """

    fit: FilmFit
    aim: Aim
    strip: str | None
    controls: dict[str, float]
    observed: dict[str, Estimate] | None

    @classmethod
    def of(cls, fit: FilmFit, aim: Aim, strip: str | None, observed: dict[str, Estimate] | None) -> BestWords:
        """Compare with that strip, or with the recipe that is held where nothing was tried."""
        if strip is None:
            return cls(fit, aim, None, held(fit.series), None)
        row = fit.evidence.recipes[fit.evidence.rows[[trial.id for trial in fit.series.trials].index(strip)]]
        return cls(fit, aim, strip, ControlVector(row).settings(), observed)


def reason(words: BestWords, controls: dict[str, float], predicted: dict[str, Estimate]) -> str:
    """One sentence: what is changed against the best strip so far, and what for."""
    evidence = words.fit.evidence
    if words.strip is None and (evidence.has_readings.any() or evidence.grades):
        return "A first strip here, from what strips of this film show in other darkrooms."
    if words.strip is None:
        return "A first strip from what films in general do; its curve places this film among them."
    changed = {
        name: value - words.controls[name]
        for name, value in controls.items()
        if abs(value - words.controls[name]) > 1e-9
    }
    if not changed:
        return f"The same recipe as {named(words.strip)} once more, to see whether it repeats."
    effects = _effects(words, changed, controls)
    wants = _wants(words)
    parts = []
    for name, step in sorted(changed.items(), key=lambda item: -np.abs(effects[item[0]]).sum()):
        control = CONTROLS[name]
        what = f"{control.more if step > 0 else control.less} ({control.amount(controls[name])})"
        purposes = [
            (effects[name][i] * sign * weight, PURPOSE[(o, sign)])
            for (o, sign), weight in wants.items()
            for i in (OBSERVABLES.index(o),)
        ]
        helped = max(purposes, default=(0.0, ""), key=lambda p: p[0])
        parts.append(f"{what} {helped[1]}" if helped[0] > HELPS else what)
    # Two controls for the same end are said in one breath.
    text = ", ".join(parts[:MOST_SAID])
    return f"Against {named(words.strip)}: {text}."


def named(strip: str) -> str:
    """How a sentence names a strip whose id may already say so."""
    return strip if strip.lower().startswith(("strip", "trial")) else f"strip {strip}"


def _begun(text: str) -> str:
    """With a capital; units keep theirs."""
    return text[:1].upper() + text[1:]


def percent(probability: float) -> str:
    """A probability in words that never claim certainty: a few hundred draws cannot tell all from nearly all.

    Parameters
    ----------
    probability : float
        From 0 to 1.

    Returns
    -------
    str
        In whole per cent, or "under 1 %", "over 99 %".
    """
    whole = round(100 * probability)
    if whole >= 100:
        return "over 99 %"
    return "under 1 %" if whole <= 0 else f"{whole} %"


def _wants(words: BestWords) -> dict[tuple[str, float], float]:
    """How much each bound matters: most where the best strip misses it, a little where it is near."""
    wants: dict[tuple[str, float], float] = {}
    if words.observed is None:
        return wants
    for name, sign, limit in bounds_of(words.aim):
        have = words.observed[name].value
        margin = sign * (have - limit) / SCALE[name]
        wants[(name, sign)] = float(np.exp(-np.clip(margin, MISSED_BY, MET_BY)))
    return wants


def _effects(words: BestWords, changed: dict[str, float], controls: dict[str, float]) -> dict[str, Array]:
    """What each change alone does to the observables, in just noticeable steps."""
    rows = [words.controls] + [words.controls | {name: controls[name]} for name in changed]
    settings = ControlVector.of(rows).values
    observed = words.fit.observed(settings, words.aim.midtone_density, repeated=False, most=DRAWS_OF_EFFECTS)
    middle = np.array([[e.value for e in summary_of(observed[:, i])] for i in range(len(rows))])
    scale = np.array([SCALE[o] for o in OBSERVABLES])
    return {name: (middle[i + 1] - middle[0]) / scale for i, name in enumerate(changed)}


def summary_of(observed: Array) -> tuple[Estimate, ...]:
    """Estimates in the order of `OBSERVABLES`."""
    from obverse.inference.fit import summary

    return tuple(summary(observed).values())


@dataclass(frozen=True)
class ControlOff:
    """What one error of a control does to a recipe.

    Parameters
    ----------
    error : float
        Of the person's own tools, in that unit.
    change : dict of float
        Of each observable.
    probability_low, probability_high : float
        Of the aim, with so much less and so much more.
    """

    control: str
    error: float
    unit: str
    change: dict[str, float]
    probability_low: float
    probability_high: float
    sentence: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        return asdict(self)


def robustness_words(
    fit: FilmFit, aim: Aim, nominal: Array, chances: Callable[[Array], Array]
) -> tuple[ControlOff, ...]:
    """What a small error of each control does to a recipe: to the observables and to the chance of the aim, which `chances` tells."""
    names = [name for name in CONTROLS if name in fit.series.controls] or list(CONTROLS)
    rows = [nominal[0]]
    for name in names:
        for sign in (-1.0, 1.0):
            control = CONTROLS[name]
            moved = ControlVector(nominal[0].copy())
            moved[control] = np.maximum(moved[control] + sign * control.small_error, control.least)
            rows.append(moved.values)
    observed = fit.observed(np.array(rows), aim.midtone_density, repeated=True, most=DRAWS_OF_ERRORS)
    middle = np.array([[e.value for e in summary_of(observed[:, i])] for i in range(len(rows))])
    chance = chances(np.array(rows))
    found = []
    for i, name in enumerate(names):
        low, high = 1 + 2 * i, 2 + 2 * i
        change = {o: float((middle[high, k] - middle[low, k]) / 2) for k, o in enumerate(OBSERVABLES)}
        largest = max(OBSERVABLES, key=lambda o: abs(change[o]) / SCALE[o])
        control = CONTROLS[name]
        found.append(
            ControlOff(
                control=name,
                error=control.small_error,
                unit=control.unit,
                change=change,
                probability_low=float(chance[low]),
                probability_high=float(chance[high]),
                sentence=f"{_begun(control.change(control.small_error))}: {largest.replace('_', ' ')} {change[largest]:+.2f}.",
            )
        )
    return tuple(found)


def bracket(midtone: Estimate) -> tuple[float, ...]:
    """Log exposures to put on the strip, in whole thirds of a stop: an unexposed frame belongs to it too.

    Wide enough that mid-tone, highlight and black are on it wherever in its interval the mid-tone lies.
    """
    low = max(min(midtone.low90, midtone.value - ABOUT_MIDTONE) - TO_THE_BLACK, -FARTHEST)
    high = min(max(midtone.high90, midtone.value + ABOUT_MIDTONE) + TO_THE_LIGHTS, FARTHEST)
    first, last = int(np.floor(low / THIRD)), int(np.ceil(high / THIRD))
    # A stop apart where the frames suffice, wider where they do not.
    apart = max(THIRDS_APART, int(np.ceil((last - first) / (MOST_FRAMES - 1))))
    return tuple(round(THIRD * k, 1) for k in range(first, last + apart, apart))
