"""What a run leaves behind: the controls of each trial as they truly were, baths used, waste."""

from __future__ import annotations

from dataclasses import dataclass

from obverse.process import CONTROLS, TEMPERATURE, TIME
from obverse.run.plan import Strip
from obverse.run.state import Done, RunState
from obverse.run.temperature import TemperatureNote, effective_development


@dataclass(frozen=True, slots=True)
class TrueControls:
    """What was truly done to a strip.

    Parameters
    ----------
    controls, control_sds : dict
        By the names of the process model; time is what does the same at the temperature given.
    note : str
        What a reader of the trial should know.
    """

    strip: Strip
    controls: dict[str, float]
    control_sds: dict[str, float]
    note: str


@dataclass(frozen=True, slots=True)
class BathUse:
    """One pass of films through a bath."""

    action: str
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

    Temperature readings made in the bath, and the one taken of it before, are integrated over the bath.
    """
    first = state.plan.route.steps[0].key
    found = []
    done = {d.key: d for d in state.done}
    for action in state.plan.actions:
        if action.kind != "bath" or action.step != first or action.key not in done:
            continue
        was = done[action.key]
        notes = [TemperatureNote(n.at_s, n.temperature_c) for n in state.temperatures if n.action == action.key]
        if not notes:
            notes = [TemperatureNote(n.at_s, n.temperature_c) for n in state.temperatures if n.action == "check"][-1:]
        effective = effective_development(
            was.clock_from_s, was.ended_s, notes, action.temperature_c, handling_s=action.pour_s + action.drain_s
        )
        for strip in state.plan.strips:
            if strip.name not in action.strips:
                continue
            controls = dict(strip.controls)
            controls[TIME.key] = effective.time_min.value
            controls[TEMPERATURE.key] = effective.temperature_c.value
            sds = {TIME.key: effective.time_min.sd, TEMPERATURE.key: effective.temperature_c.sd}
            for control in CONTROLS.mixed():
                value = controls.setdefault(control.key, control.reference)
                sds[control.key] = float(control.dosing.sd(value))
            found.append(TrueControls(strip, controls, sds, _note(was, effective.noted)))
    return tuple(found)


def _note(was: Done, noted: int) -> str:
    told = [f"First development took {was.took_s / 60:.2f} min ({was.planned_s / 60:.2f} min planned)."]
    told.append(
        f"{noted} temperature reading{'s' if noted != 1 else ''}."
        if noted
        else "Nobody read the temperature; the planned one is taken, with a wide uncertainty."
    )
    if was.skipped:
        told.append(f"{was.skipped} bout{'s' if was.skipped > 1 else ''} of agitation left out.")
    if was.cut_short:
        told.append("Ended before its time on purpose.")
    return " ".join(told)


def bath_uses(state: RunState) -> tuple[BathUse, ...]:
    """Every bath that a film has been in, one that was poured in and not yet out included."""
    done = {d.key: d for d in state.done}
    found = []
    for index, action in enumerate(state.plan.actions):
        if action.kind != "bath" or not action.formula:
            continue
        was = done.get(action.key)
        if was is not None:
            took_s = was.took_s
        elif index == state.index and state.clock_from_s is not None and state.ended_s is not None:
            took_s = state.ended_s - state.clock_from_s
        else:
            continue
        found.append(
            BathUse(
                action.key,
                action.step,
                action.formula,
                action.volume_ml or 0.0,
                action.strips,
                took_s,
                action.duration_s,
                action.after_use,
                action.waste_jug,
            )
        )
    return tuple(found)


def still_to_destroy(state: RunState) -> tuple[str, ...]:
    """Formula keys of used or mixed baths that must be destroyed and, by what was acknowledged, are not."""
    done = {d.key for d in state.done}
    used = {use.formula for use in bath_uses(state)} | {
        a.formula for a in state.plan.actions if a.kind == "prepare" and a.key in done
    }
    wanted = {}
    for action in state.plan.actions:
        if action.kind == "destroy":
            wanted.setdefault(action.formula, []).append(action.key)
    return tuple(formula for formula, keys in wanted.items() if formula in used and not set(keys) <= done)
