"""The film's way through the eight routes of the first day, as the planner laid it before a process was a document.

``first_routes.json`` holds those routes and formulas as they were written then; ``first_plans.json`` what was planned
by them. Both stay as they are: nothing writes them anew.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from obverse.process import Formula, Process
from obverse.run import RunPlan

HERE = Path(__file__).parent


def first_routes() -> dict[str, Process]:
    """The routes as they were written, read forward."""
    rows = json.loads((HERE / "first_routes.json").read_text(encoding="utf-8"))["routes"]
    return {row["key"]: Process.model_validate(row) for row in rows}


def first_formulas() -> dict[str, Formula]:
    """The formulas of that day."""
    rows = json.loads((HERE / "first_routes.json").read_text(encoding="utf-8"))["formulas"]
    return {row["key"]: Formula.model_validate(row) for row in rows}


def first_plans() -> dict[str, list[list[Any]]]:
    """What was planned then, as `way_of` tells it."""
    kept: dict[str, list[list[Any]]] = json.loads((HERE / "first_plans.json").read_text(encoding="utf-8"))
    return kept


def way_of(plan: RunPlan) -> list[list[Any]]:
    """From the first bath on: what, when, how long, how often moved, hands, where it goes, light, temperatures."""
    begun = next(index for index, action in enumerate(plan.actions) if action.kind == "bath")
    since_s = plan.actions[begun].start_s
    return [
        [
            a.key,
            a.kind,
            round(a.start_s - since_s, 2),
            round(a.pour_s, 2),
            round(a.duration_s, 2),
            [[cue.kind, round(cue.at_s, 2), cue.do, cue.turns, cue.goes, cue.jug] for cue in a.cues],
            round(sum(end - start for start, end in a.hands), 2),
            a.after_use,
            a.waste_jug,
            a.place,
            a.temperature_c,
            None if a.carry_over is None else float(f"{a.carry_over:.6g}"),
            a.volume_ml,
            a.unattended_s,
        ]
        for a in plan.actions[begun:]
        if a.kind != "clear_up"
    ]
