"""The evening as a plan and as a pure state machine: (state, event, now) -> (state, orders)."""

from obverse.run.outcome import BathUse, TrueControls, bath_uses, still_to_destroy, true_controls
from obverse.run.plan import Action, Conflict, Cue, Fill, Lived, PlanCaution, Proof, RunPlan, Strip
from obverse.run.planner import agitation_cues, plan_run
from obverse.run.proof import prove
from obverse.run.state import Done, Event, Order, RunState, advance, begin, fold
from obverse.run.temperature import (
    EffectiveDevelopment,
    TemperatureNote,
    checked_temperature,
    compensated_time_s,
    effective_development,
    kappa_per_c,
)
from obverse.run.view import view

__all__ = [
    "Action",
    "BathUse",
    "Conflict",
    "Cue",
    "Done",
    "EffectiveDevelopment",
    "Event",
    "Fill",
    "Lived",
    "Order",
    "PlanCaution",
    "Proof",
    "RunPlan",
    "RunState",
    "Strip",
    "TemperatureNote",
    "TrueControls",
    "advance",
    "agitation_cues",
    "bath_uses",
    "begin",
    "checked_temperature",
    "compensated_time_s",
    "effective_development",
    "fold",
    "kappa_per_c",
    "plan_run",
    "prove",
    "still_to_destroy",
    "true_controls",
    "view",
]
