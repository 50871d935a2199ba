"""The story of a film: strips, curves, what was learned, what-if, control chart."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from obverse.foundation import QUANTILES_90, Array, Estimate, InputError, JsonObject
from obverse.inference import (
    READY,
    CurveBand,
    FilmFit,
    percent,
    recipe_chance,
    recipe_chances,
    recipe_draws,
    recipes_as_told,
    strip_chances,
)
from obverse.model import NAMES, OBSERVABLES, bounds_of, natural
from obverse.process import CONTROLS, TEMPERATURE, Aim, ControlVector, Series, Trial, has_evidence
from obverse.reference import records
from obverse.sensitometry import CharacteristicCurve, level_changes, strips_apart
from obverse.workbench import words
from obverse.workbench.wear import wear_text

# The span of a predicted curve and of a predicted tone strip (27 steps of 0.15).
CURVE_X = np.linspace(-2.2, 2.2, 89)
STRIP_X = np.round(np.arange(-13, 14) * 0.15, 6)
# Fewer control strips than this say nothing about spread.
FEWEST_CONTROL_STRIPS = 5
# The repeat of a reading on the same strip is no better than this, however smooth the curve.
LEAST_READING_SD = 0.005
# A reading beyond this log exposure stands for the border.
NEAR = 4
# How far the passage to the lights has gone where they are judged; and two minutes more than ten.
IN_THE_LIGHTS, TWELVE_FOR_TEN = 0.95, 1.2
# Digits of a change of a control that a person could make.
CHANGE_DIGITS = 3
# A strip is locked without a question where it lies in the aim more likely than not.
LIKELY = 0.5
# A belief that moved by so small a part of its own width, or narrowed by so little, has hardly moved.
HARDLY = 0.1
# Where the next strip is foretold: so many standard deviations about the mean of its level.
LIMIT_SIGMAS = 3.0


def aim_reasons(aim: Aim) -> list[dict[str, str]]:
    """Why the windows of a named aim lie where they do, and how that is known."""
    return [
        {"what": row.quantity, "why": row.source.text, "standing": row.source.words}
        for key, row in records().items()
        if key.startswith(f"aim.{aim.name}.")
    ]


def estimate_of(values: Array) -> Estimate | None:
    """Median, spread and 90 % interval of finite draws; None where most draws have no value."""
    finite = values[np.isfinite(values)]
    if finite.size < 0.5 * values.size:
        return None
    low, middle, high = np.quantile(finite, QUANTILES_90)
    return Estimate(float(middle), float(finite.std()), float(low), float(high))


def _told(estimate: Estimate | None) -> dict[str, float] | None:
    return None if estimate is None else estimate.document()


@dataclass(frozen=True)
class Verdict:
    """An observable against its bounds, and the probability that it keeps them; None where it has none."""

    name: str
    meaning: str
    estimate: Estimate | None
    least: float | None
    most: float | None
    probability: float | None

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {**_fields(self), "estimate": _told(self.estimate)}


def _fields(one: Verdict | LearnedRow | ControlChart) -> dict[str, object]:
    return {field.name: getattr(one, field.name) for field in fields(one)}


def verdicts(
    observed: Array, aim: Aim, weight: Array | None = None, told: Callable[[Array], Array] | None = None
) -> dict[str, Verdict]:
    """Each observable of draws (M, 4), which count by their weight (M,): the estimate, its bounds, and the probability that it keeps them, as it is told."""
    found = {}
    bounds = bounds_of(aim)
    counts = np.full(len(observed), 1 / len(observed)) if weight is None else weight
    for i, name in enumerate(OBSERVABLES):
        own = [(sign, limit) for bound, sign, limit in bounds if bound == name]
        kept = np.ones(len(observed), dtype=bool)
        for sign, limit in own:
            with np.errstate(invalid="ignore"):
                kept &= sign * (observed[:, i] - limit) >= 0
        chance = np.clip(kept @ counts, 0.0, 1.0)
        title, meaning = words.OBSERVABLES[name]
        found[name] = Verdict(
            name=title,
            meaning=meaning,
            estimate=estimate_of(observed[:, i]),
            least=next((limit for sign, limit in own if sign > 0), None),
            most=next((limit for sign, limit in own if sign < 0), None),
            probability=float(chance if told is None else told(chance)) if own else None,
        )
    return found


@dataclass(frozen=True)
class TrialPage:
    """What was done to a strip, what was read, what it shows against the aim.

    Parameters
    ----------
    kept : mapping
        What stands of it in the notebook: id, revision, links.
    curve, strip : dict of lists
        Measured or predicted; `strip` is predicted where nothing was read.
    """

    kept: JsonObject
    trial: Trial
    curve: dict[str, list[float]]
    measured: bool
    strip: dict[str, list[float]] | None
    seen: dict[str, Verdict]
    probability_in_aim: float

    def document(self) -> JsonObject:
        """The JSON shape."""
        trial = self.trial
        return {
            **self.kept,
            "name": trial.id,
            "person": trial.person,
            "controls": trial.controls,
            "control_sds": trial.control_sds,
            "controls_text": CONTROLS.text(trial.controls),
            "controls_short": CONTROLS.short_text(trial.controls),
            "patches": [patch.model_dump() for patch in sorted(trial.steps, key=lambda p: p.log_exposure)],
            "grades": [grade.model_dump() for grade in trial.grades],
            "faults": list(trial.faults),
            "note": trial.note,
            "wear": trial.wear,
            "wear_text": wear_text(trial.wear),
            "curve": self.curve,
            "curve_is": "measured" if self.measured else "predicted",
            "strip": self.strip,
            "seen": {name: one.document() for name, one in self.seen.items()},
            "probability_in_aim": self.probability_in_aim,
            "verdict": strip_verdict(trial, self.probability_in_aim),
        }


def as_read(series: Series) -> JsonObject:
    """Strips as they were read, with lines through their readings: what a page can draw before anything is reckoned."""
    read = [sorted(trial.steps, key=lambda patch: patch.log_exposure) for trial in series.trials]
    lightest = min((patch.density for patches in read for patch in patches), default=0.0)
    return {
        "aim": series.aim.model_dump(mode="json"),
        "base": lightest if series.film.base_density is None else series.film.base_density,
        "trials": [
            {
                "controls_text": CONTROLS.text(trial.controls),
                "controls_short": CONTROLS.short_text(trial.controls),
                "patches": [patch.model_dump(include={"log_exposure", "density"}) for patch in patches],
                "grades": [grade.model_dump() for grade in trial.grades],
            }
            for trial, patches in zip(series.trials, read, strict=True)
        ],
    }


def trial_pages(
    fit: FilmFit, kept: Sequence[JsonObject], curves: Sequence[CharacteristicCurve | None]
) -> list[TrialPage]:
    """One entry a trial: what was done, what was read, what it shows against the aim."""
    series, pages = fit.series, []
    seen = fit.strip_observables(series.aim.midtone_density) if series.trials else np.empty((1, 0, len(OBSERVABLES)))
    chances = strip_chances(fit, series.aim) if series.trials else np.empty(0)
    base = base_of(fit)
    for j, (trial, row, curve) in enumerate(zip(series.trials, kept, curves, strict=True)):
        pages.append(
            TrialPage(
                kept=row,
                trial=trial,
                curve=_measured(curve, trial)
                if curve is not None
                else _band(fit.predict_curve(trial.controls, CURVE_X)),
                measured=curve is not None,
                strip=None if trial.steps else _strip(fit, trial.controls, base),
                seen=verdicts(seen[:, j], series.aim),
                probability_in_aim=float(chances[j]),
            )
        )
    return pages


def strip_verdict(trial: Trial, chance: float) -> str:
    """Where a strip lies, in few words: one that nobody has read or judged is no miss, and words never say it surely."""
    if not has_evidence(trial):
        return "not read yet"
    if chance >= READY:
        return "in the aim"
    if chance <= 1 - READY:
        return "off the aim" if trial.steps else "off the aim, by your words"
    return f"{percent(chance)} in the aim"


def missed(trial: Trial, seen: Mapping[str, Verdict], chance: float) -> str:
    """Why a recipe should hardly be locked from a strip, in one clause; empty where it lies in the aim more likely than not."""
    if not has_evidence(trial):
        return f"{trial.id} was neither read nor judged yet"
    if chance >= LIKELY:
        return ""
    bounded = [(one.probability, one) for one in seen.values() if one.probability is not None]
    worst = min(bounded, key=lambda one: one[0])[1] if bounded else None
    estimate = worst.estimate if worst else None
    if worst is None or estimate is None:
        return f"{trial.id} lies in the aim with a chance of {percent(chance)} only"
    bounds = (("least", worst.least), ("most", worst.most))
    wanted = " and ".join(f"at {word} {limit:.2f}" for word, limit in bounds if limit is not None)
    return (
        f"{trial.id} lies in the aim with a chance of {percent(chance)} only: "
        f"{worst.name.lower()} {estimate.value:.2f}, wanted {wanted}"
    )


def against(controls: Mapping[str, float], other: Mapping[str, float]) -> str:
    """What a recipe changes against that of a strip, such as "against this strip more solvent by 2 mL/L"."""
    usual = CONTROLS.reference()
    steps = {name: round(value - other.get(name, usual[name]), CHANGE_DIGITS) for name, value in controls.items()}
    changes = [CONTROLS[name].change(step) for name, step in steps.items() if step]
    return f"against this strip {', '.join(changes)}" if changes else "the same recipe as this strip once more"


def base_of(fit: FilmFit) -> float:
    """The base density: as measured, else as learned."""
    known = fit.series.film.base_density
    return float(np.median(fit.base)) if known is None else known


def _measured(curve: CharacteristicCurve, trial: Trial) -> dict[str, list[float]]:
    x = CURVE_X
    inside = [p.log_exposure for p in trial.steps if abs(p.log_exposure) < NEAR]
    if inside:
        x = x[(x >= min(inside) - 0.1) & (x <= max(inside) + 0.1)]
    middle, low, high = curve.band(x)
    return {"log_exposure": _rounded(x), "density": _rounded(middle), "low90": _rounded(low), "high90": _rounded(high)}


def _band(band: CurveBand) -> dict[str, list[float]]:
    return {
        "log_exposure": _rounded(band.log_exposure),
        "density": _rounded(band.density),
        "low90": _rounded(band.low90),
        "high90": _rounded(band.high90),
    }


def _rounded(values: Array) -> list[float]:
    rounded: list[float] = np.round(values, 4).tolist()
    return rounded


def _strip(fit: FilmFit, controls: dict[str, float], base: float) -> dict[str, list[float]]:
    band = fit.predict_curve(controls, STRIP_X)
    return {
        "log_exposure": STRIP_X.tolist(),
        "density": _rounded(np.maximum(band.density - base, 0)),
        "low90": _rounded(np.maximum(band.low90 - base, 0)),
        "high90": _rounded(np.maximum(band.high90 - base, 0)),
    }


@dataclass(frozen=True)
class RecipeForetold:
    """What a recipe would give: predicted curve with band, tone strip, observables, the chance to lie in the aim."""

    controls: dict[str, float]
    curve: CurveBand
    strip: dict[str, list[float]]
    seen: dict[str, Verdict]
    probability_in_aim: float

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "controls": self.controls,
            "controls_text": CONTROLS.text(self.controls),
            "controls_short": CONTROLS.short_text(self.controls),
            "curve": _band(self.curve),
            "strip": self.strip,
            "seen": {name: one.document() for name, one in self.seen.items()},
            "probability_in_aim": self.probability_in_aim,
            "cautions": [caution.document() for caution in self.curve.cautions],
        }


def what_if(fit: FilmFit, controls: dict[str, float], aim: Aim | None = None) -> RecipeForetold:
    """Predicted curve with band, tone strip, observables and the chance to lie in the aim, for any controls."""
    aim = aim or fit.series.aim
    checked = fit.checked(controls)
    curve = fit.predict_curve(controls, CURVE_X)
    made, weight = recipe_draws(fit, checked, aim)
    return RecipeForetold(
        controls=controls,
        curve=curve,
        strip=_strip(fit, controls, base_of(fit)),
        seen=verdicts(made[:, 0], aim, weight, lambda chance: recipes_as_told(fit, chance, aim)),
        probability_in_aim=recipe_chance(fit, controls, aim),
    )


@dataclass(frozen=True)
class LearnedRow:
    """One thing that the strips taught, and what was believed before."""

    key: str
    name: str
    meaning: str
    estimate: Estimate | None
    before: Estimate | None
    digits: int
    unit: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {**_fields(self), "estimate": _told(self.estimate), "before": _told(self.before)}


def learned(fit: FilmFit, before: FilmFit | None = None) -> list[LearnedRow]:
    """What the strips taught, in words a person can check, each with its 90 % interval and what was believed before.

    Parameters
    ----------
    before : FilmFit, optional
        The film as it was known before any of its strips.
    """
    now, first = _quantities(fit), None if before is None else _quantities(before)
    return [
        LearnedRow(
            key=key,
            name=name,
            meaning=meaning,
            estimate=estimate_of(values),
            before=None if first is None else estimate_of(first[k][3]),
            digits=digits,
            unit=unit,
        )
        for k, (key, name, meaning, values, digits, unit) in enumerate(now)
    ]


def taught_by_words(fit: FilmFit, rows: Sequence[LearnedRow]) -> str:
    """What the words did to the belief, in a sentence; empty where a strip was measured here, or none was judged."""
    judged = {grade.strip for grade in fit.evidence.grades if grade.strip < fit.evidence.own_size}
    if not judged or fit.evidence.has_readings[: fit.evidence.own_size].any():
        return ""
    strips = f"{len(judged)} strip{'' if len(judged) == 1 else 's'} judged by eye"
    moved = []
    for row in rows:
        now, before = row.estimate, row.before
        if not now or not before or not before.sd:
            continue
        much = abs(now.value - before.value) / before.sd + max(0.0, 1 - now.sd / before.sd)
        if much > HARDLY:
            unit = f" {row.unit}" if row.unit else ""
            was, is_ = (f"{one.value:.{row.digits}f}{unit}" for one in (before, now))
            moved.append((much, f"{row.name.lower()}, from {was} to {is_}"))
    if not moved:
        return f"{strips} hardly moved what is believed of this film; one measured strip would."
    most = [text for _, text in sorted(moved, reverse=True)[:2]]
    return f"{strips} moved most: {'; '.join(most)}. Words leave wide intervals; one measured strip narrows them."


Quantity = tuple[str, str, str, Array, int, str]


def _quantities(fit: FilmFit) -> list[Quantity]:
    """What is told of a film, as draws."""
    p = natural(fit.draws[:, : len(NAMES)])
    ten = 10.0
    load = p["solvent_strength"] ** p["solvent_shape"]
    highlight_load = (p["solvent_strength"] * (1 + IN_THE_LIGHTS * p["solvent_selectivity"])) ** p["solvent_shape"]
    return [
        (
            "blacks",
            "Blacks by the middle recipe",
            "density of the border above base: 10 minutes, 10 mL/L solvent, 5 mL/L alkali, 20 \N{DEGREE SIGN}C",
            p["blacks"],
            2,
            "",
        ),
        ("fog", "Blacks lost to fog", "in 10 minutes of development", 100 * -np.expm1(-p["fog_rate"] * ten), 0, "%"),
        ("solvent_blacks", "Blacks lost to solvent", "at 10 mL/L for 10 minutes", 100 * -np.expm1(-load), 0, "%"),
        (
            "solvent_highlights",
            "Highlights cleared by solvent",
            "of the halide left in them, at 10 mL/L for 10 minutes",
            100 * -np.expm1(-highlight_load),
            0,
            "%",
        ),
        (
            "push",
            "Two minutes more",
            "move the curve by so many stops, from 10 minutes",
            p["push"] * np.log(TWELVE_FOR_TEN) / np.log10(2),
            2,
            "stop",
        ),
        (
            "done",
            "Exposed halide developed",
            "after 10 minutes",
            100 * -np.expm1(-((ten / p["development_time"]) ** p["development_order"])),
            0,
            "%",
        ),
        (
            "q10",
            "Ten degrees warmer",
            "speed the development by this factor",
            np.exp(10 * p["temperature_rate"]),
            2,
            "times",
        ),
        ("base", "Base", "density of the bare support", p["base"], 2, ""),
    ]


@dataclass(frozen=True)
class ControlEffect:
    """What one handy step of a control does to each observable."""

    control: str
    step: str
    changes: dict[str, Estimate | None]

    def document(self) -> JsonObject:
        """The JSON shape."""
        changes = {name: _told(change) for name, change in self.changes.items()}
        return {"control": self.control, "step": self.step, "changes": changes}


def effects(fit: FilmFit, controls: dict[str, float]) -> list[ControlEffect]:
    """What one handy step of each varied control does here to what is seen, paired draw by draw."""
    found = []
    for name in fit.series.controls:
        control = CONTROLS[name]
        moved = ControlVector(np.repeat(fit.checked(controls), 2, axis=0))
        moved[control] += np.array([0.0, control.handy_step])
        seen = fit.observed(moved.values, fit.series.aim.midtone_density, repeated=False)
        change = seen[:, 1] - seen[:, 0]
        found.append(
            ControlEffect(
                control=name,
                step=control.change(control.handy_step),
                changes={key: estimate_of(change[:, i]) for i, key in enumerate(OBSERVABLES)},
            )
        )
    return found


def robustness(fit: FilmFit, controls: dict[str, float]) -> list[str]:
    """What the errors of the person's own tools do to a recipe, one sentence a control."""
    aim = fit.series.aim
    centre = recipe_chance(fit, controls)
    found = []
    for name, control in CONTROLS.items():
        # The temperature is never exactly what it should be, whether or not anybody varies it.
        if name not in controls and control is not TEMPERATURE:
            continue
        off = control.small_error
        moved = ControlVector(np.repeat(fit.checked(controls), 2, axis=0))
        moved[control] = np.maximum(moved[control] + np.array([-off, off]), control.least)
        chances = recipe_chances(fit, moved.values, aim)
        before, worst = percent(centre), percent(float(chances.min()))
        goes = f"stays at {before}" if before == worst else f"goes from {before} to {worst} at worst"
        found.append(f"{control.word} off by {control.amount(off)}: the chance to lie in the aim {goes}")
    return found


@dataclass(frozen=True)
class ChartSignal:
    """What stands out in a control chart, at which strip."""

    index: int
    words: str


@dataclass(frozen=True)
class ControlChart:
    """One number of a locked recipe over months: its strips, the level that holds now and where the next is foretold."""

    key: str
    title: str
    names: list[str]
    dates: list[str]
    values: list[float]
    sds: list[float]
    mean: float
    sigma: float
    lower: float
    upper: float
    levels: list[float]
    signals: tuple[ChartSignal, ...]
    verdict: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {**_fields(self), "signals": [{"index": s.index, "words": s.words} for s in self.signals]}


def control_chart(strips: list[tuple[str, str, CharacteristicCurve]]) -> list[ControlChart]:
    """Charts of a locked recipe repeated over months.

    Parameters
    ----------
    strips : list of (name, date, curve)
        In order of making.

    Raises
    ------
    InputError
        With fewer than five strips.
    """
    if len(strips) < FEWEST_CONTROL_STRIPS:
        raise InputError(
            f"{len(strips)} control strips say nothing about spread",
            where="control chart",
            remedy=f"make {FEWEST_CONTROL_STRIPS} or more",
        )
    charts = []
    for key, title, part in (
        ("dmax", "Blacks, Dmax above base", "dmax_above_base"),
        ("highlight_density", "Highlights above base", "highlight_density"),
        ("midtone_log_exposure", "Mid-tone exposure", "midtone_log_exposure"),
    ):
        read = [(name, date, getattr(curve, part)) for name, date, curve in strips]
        rows = [(name, date, estimate) for name, date, estimate in read if estimate is not None]
        if len(rows) < FEWEST_CONTROL_STRIPS:
            continue
        charts.append(_chart(key, title, rows))
    return charts


def _chart(key: str, title: str, rows: list[tuple[str, str, Estimate]]) -> ControlChart:
    x = np.array([estimate.value for _, _, estimate in rows])
    # Readings cannot repeat better than they are read.
    least = max(float(np.median([estimate.sd for _, _, estimate in rows])), LEAST_READING_SD)
    changes, apart = level_changes(x, least_sd=least), strips_apart(x, least_sd=least)
    # Limits of the level that holds now: where the next strip is foretold, nearly always.
    level = x[changes[-1].starts_at if changes else 0 :]
    sigma = max(float(level.std(ddof=1)), least)
    reach = LIMIT_SIGMAS * sigma * np.sqrt(1 + 1 / level.size)
    signals = [
        ChartSignal(change.seen_at, f"the level moved by {change.by:+.2f} from {rows[change.starts_at][0]} on")
        for change in changes
    ]
    signals += [ChartSignal(i, f"{rows[i][0]} stands off all before it") for i in apart]
    return ControlChart(
        key=key,
        title=title,
        names=[name for name, _, _ in rows],
        dates=[date for _, date, _ in rows],
        values=_rounded(x),
        sds=[round(estimate.sd, 4) for _, _, estimate in rows],
        mean=float(level.mean()),
        sigma=sigma,
        lower=float(level.mean() - reach),
        upper=float(level.mean() + reach),
        levels=_rounded(_levels(x, [change.starts_at for change in changes])),
        signals=tuple(sorted(signals, key=lambda s: s.index)),
        verdict=_verdict(title, signals, len(rows)),
    )


def _levels(x: np.ndarray, starts: list[int]) -> np.ndarray:
    """The mean of each stretch between changes, at each strip of it."""
    stretches = np.split(x, starts)
    return np.concatenate([np.full(part.size, part.mean()) for part in stretches])


def _verdict(title: str, signals: Sequence[ChartSignal], strips: int) -> str:
    if not signals:
        return f"{title}: nothing stands out in {strips} strips; a small change needs many strips to show."
    last = max(signals, key=lambda s: s.index)
    return f"{title}: {last.words}; look for what changed before it."
