"""What a run leaves behind: the controls of each trial as they truly were, baths used, waste."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from obverse.foundation import Estimate
from obverse.process import CONTROLS, TEMPERATURE, TIME
from obverse.reference import number
from obverse.run.plan import Action, Strip
from obverse.run.state import Done, RunState
from obverse.run.temperature import TemperatureNote, doubt_about, effective_development


@dataclass(frozen=True, slots=True)
class Developed:
    """How a first development went, as a reader of the trial should know it.

    Parameters
    ----------
    took_s, planned_s : float
        Of all its passes together.
    noted_c : tuple of float
        Temperatures it rests on, degrees Celsius.
    before : bool
        They were read of something else, before the bath was poured.
    outside_c : tuple of float or None
        Where one of them leaves the range of the law of time and temperature: that range.
    """

    took_s: float
    planned_s: float
    passes: int
    noted_c: tuple[float, ...]
    before: bool
    outside_c: tuple[float, float] | None
    skipped: int
    cut_short: bool


@dataclass(frozen=True, slots=True)
class TrueControls:
    """What was truly done to a strip.

    Parameters
    ----------
    controls, control_sds : dict
        By the names of the process model; time is what does the same at the temperature given.
    went : Developed
        What a reader of the trial should know.
    """

    strip: Strip
    controls: dict[str, float]
    control_sds: dict[str, float]
    went: Developed


@dataclass(frozen=True, slots=True)
class BathUse:
    """One pass of films through a bath.

    Parameters
    ----------
    mark : str
        Names the pass within its evening: the key of the action, with a number from the second pass on.
    """

    action: str
    mark: str
    step: str
    formula: str
    volume_ml: float
    strips: tuple[str, ...]
    took_s: float
    planned_s: float
    after_use: str
    waste_jug: str


def true_controls(state: RunState) -> tuple[TrueControls, ...]:
    """For each strip whose first development is over, its controls with standard uncertainties.

    Temperature readings made in the bath, and the one taken of it before, are integrated over the bath. Where there is
    neither, the last reading of anything before it was poured counts, loosely. A first development that was repeated
    counts with all its passes. Numbers are rounded to what their uncertainty means.
    """
    first = state.plan.route.first_development.key
    found = []
    for action in state.plan.actions:
        passes = [d for d in state.done if d.key == action.key]
        if action.kind != "bath" or action.step != first or not passes:
            continue
        time_min, temperature_c, read = _developed(state, action, passes)
        went = _went(passes, read)
        for strip in state.plan.strips:
            if strip.name not in action.strips:
                continue
            controls = dict(strip.controls)
            controls[TIME.key] = meaningful(time_min)
            controls[TEMPERATURE.key] = meaningful(temperature_c)
            sds = {
                TIME.key: meaningful(Estimate(time_min.sd, time_min.sd)),
                TEMPERATURE.key: meaningful(Estimate(temperature_c.sd, temperature_c.sd)),
            }
            for control in CONTROLS.mixed():
                value = controls.setdefault(control.key, control.begins_at)
                sds[control.key] = float(control.dosing.sd(value))
            found.append(TrueControls(strip, controls, sds, went))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Readings:
    """Temperatures on which a development rests; `before`: of something else, before the bath was poured."""

    notes: tuple[TemperatureNote, ...]
    before: bool = False


def _read_of(state: RunState, action: Action, poured_s: float) -> _Readings:
    in_the_bath = [n for n in state.temperatures if n.action == action.key]
    found = in_the_bath or [n for n in state.temperatures if n.action == "check"][-1:]
    if found:
        return _Readings(tuple(TemperatureNote(n.at_s, n.temperature_c) for n in found))
    # What was read before any bath tells of the water and the room; what no bath can have tells of something else.
    earlier = [
        n for n in state.temperatures if n.at_s <= poured_s and doubt_about(n.temperature_c, of_a_bath=True) is None
    ]
    return _Readings(tuple(TemperatureNote(n.at_s, n.temperature_c) for n in earlier[-1:]), before=bool(earlier))


def _developed(state: RunState, action: Action, passes: Sequence[Done]) -> tuple[Estimate, Estimate, _Readings]:
    """Minutes and mean temperature of all passes of one development, and the readings they rest on."""
    read = _read_of(state, action, passes[0].clock_from_s)
    planned_c = action.temperature_c if action.temperature_c is not None else state.plan.temperature_c
    handling_s = action.pour_s + action.drain_s
    each = [
        effective_development(
            d.clock_from_s, max(d.ended_s, d.clock_from_s + 1), read.notes, planned_c, handling_s=handling_s
        )
        for d in passes
    ]
    longest = max(each, key=lambda one: one.time_min.value)
    minutes = sum(one.time_min.value for one in each)
    sd_min = sum(one.time_min.sd**2 for one in each) ** 0.5
    temperature_c = longest.temperature_c
    if read.before:
        # Nobody read the bath itself: as uncertain as a planned temperature that nobody read.
        temperature_c = Estimate(temperature_c.value, number("practice.run.temperature_unnoted_sd_c"))
    return Estimate(minutes, sd_min), temperature_c, read


def meaningful(estimate: Estimate) -> float:
    """The value without the digits that its standard uncertainty leaves nothing of: two digits of that are kept."""
    if not estimate.sd > 0:
        return float(estimate.value)
    return float(round(estimate.value, 1 - math.floor(math.log10(estimate.sd))))


def _went(passes: Sequence[Done], read: _Readings) -> Developed:
    noted_c = tuple(note.temperature_c for note in read.notes)
    low_c, high_c = number("practice.run.temperature_low_c"), number("practice.run.temperature_high_c")
    return Developed(
        took_s=sum(d.took_s for d in passes),
        planned_s=sum(d.planned_s for d in passes),
        passes=len(passes),
        noted_c=noted_c,
        before=read.before,
        outside_c=(low_c, high_c) if any(not low_c <= c <= high_c for c in noted_c) else None,
        skipped=sum(d.skipped for d in passes),
        cut_short=any(d.cut_short for d in passes),
    )


def bath_uses(state: RunState) -> tuple[BathUse, ...]:
    """Every bath that a film has been in, in the order of the plan; one that was poured in and not yet out included."""
    found = []
    for action in state.plan.actions:
        if action.kind != "bath" or not action.formula:
            continue
        spans = [d.took_s for d in state.done if d.key == action.key]
        present = state.index < len(state.plan.actions) and state.plan.actions[state.index] is action
        if present and state.clock_from_s is not None and state.ended_s is not None:
            spans.append(state.ended_s - state.clock_from_s)
        for turn, took_s in enumerate(spans, start=1):
            found.append(
                BathUse(
                    action=action.key,
                    mark=action.key if turn == 1 else f"{action.key}#{turn}",
                    step=action.step,
                    formula=action.formula,
                    volume_ml=action.volume_ml or 0.0,
                    strips=action.strips,
                    took_s=took_s,
                    planned_s=action.duration_s,
                    after_use=action.after_use,
                    waste_jug=action.waste_jug,
                )
            )
    return tuple(found)


def destroyed_at_s(state: RunState, formula: str) -> float | None:
    """When the used bath was destroyed, every step acknowledged after its last use, or as somebody said; None where it still stands."""
    steps = [a.key for a in state.plan.actions if a.kind == "destroy" and a.formula == formula]
    last_use_s = max((d.ended_s for d in state.done if _uses(state, d, formula)), default=0.0)
    ends = {d.key: d.ended_s for d in state.done if d.key in steps and d.ended_s >= last_use_s}
    if steps and len(ends) == len(steps):
        return max(ends.values())
    return max((g.at_s for g in state.gone if g.formula == formula and g.at_s >= last_use_s), default=None)


def _uses(state: RunState, done: Done, formula: str) -> bool:
    action = state.plan.action(done.key)
    return action.formula == formula and action.kind in ("bath", "prepare")


def still_to_destroy(state: RunState) -> tuple[str, ...]:
    """Formula keys of used or mixed baths that must be destroyed and, by what was acknowledged, are not."""
    done = {d.key for d in state.done}
    used = {use.formula for use in bath_uses(state)} | {
        a.formula for a in state.plan.actions if a.kind == "prepare" and a.key in done
    }
    present = state.action
    if present is not None and present.kind == "bath" and state.clock_from_s is not None:
        used.add(present.formula)
    wanted = dict.fromkeys(a.formula for a in state.plan.actions if a.kind == "destroy")
    return tuple(formula for formula in wanted if formula in used and destroyed_at_s(state, formula) is None)
