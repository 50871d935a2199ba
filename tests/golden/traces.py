"""Evenings touch by touch, and where each stood after every touch; run as a program it writes run_traces.jsonl anew.

The traces are kept so that a change of the run is seen as a change of this file; the numbers are those of the
Python side, read through by a person before they are committed. The page's module must give the same.
"""

from __future__ import annotations

import json
import random
from functools import cache
from pathlib import Path

from obverse.process.catalog import formulas, routes
from obverse.run import Event, Order, RunPlan, RunState, Strip, advance, begin, plan_run, view

FILE = Path(__file__).parent / "run_traces.jsonl"
T0 = 2_000_000_000.0
SHOWN = (
    "status",
    "phase",
    "index",
    "ahead",
    "began_s",
    "clock_from_s",
    "extended_s",
    "skipped",
    "due_s",
    "ends_s",
    "progress",
)
# The structure of the action in hand, of which faces make their words.
DOES = ("kind", "name", "fill", "after_use", "waste_jug", "place")
CUE = ("at_s", "kind", "do", "turns", "goes", "jug")
LOOKS_S = (0.0, 7.5, 61.0)


@cache
def plans() -> dict[str, RunPlan]:
    """The evenings of the traces: one strip by light, two strips by light, one strip by fogging."""
    two = [Strip(name=n, controls={"first_developer_time_min": t}) for n, t in (("A", 8.0), ("B", 11.0))]
    return {
        "one strip": plan_run(routes()["iron_ammonia_light"], formulas(), tank_ml=500),
        "two strips": plan_run(routes()["permanganate_light"], formulas(), tank_ml=1000, strips=two),
        "fogging": plan_run(routes()["iron_ammonia_fogging"], formulas(), tank_ml=300, pace=1.5),
    }


def trace(plan_name: str, plan: RunPlan, seed: int, slips: float) -> dict:
    """One evening: on time or late, with slips at random moments; every touch and where it led."""
    draw = random.Random(seed)
    state, now, steps = begin(plan), T0, []

    def do(kind: str, **more) -> None:
        nonlocal state, now
        now = round(now, 3)
        event = Event(kind=kind, at_s=now, id=f"e{len(steps)}", **more)
        state, orders = advance(state, event, now)
        looks = [shown(state, round(now + after, 3)) for after in LOOKS_S]
        cues = [[cue[name] for name in CUE] for cue in view(state, now).document()["cues"]]
        steps.append(
            {
                "event": event.model_dump(mode="json", exclude_defaults=True),
                "looks": looks,
                "cues": cues,
                "refused": refused(orders),
            }
        )

    do("started")
    while state.action is not None and len(steps) < 160:
        action = state.action
        now += draw.uniform(0.5, 20)
        if draw.random() < slips:
            _slip(draw, do, state)
            continue
        if action.waits_for_pour and state.clock_from_s is None:
            now += action.pour_s
            do("poured", action=action.key)
        else:
            now = max(now, (state.due_s or now) + draw.choice([-0.4, 0, 3, 40]))
            do("acknowledged", action=action.key)
    return {"plan": plan_name, "steps": steps}


def _slip(draw: random.Random, do, state: RunState) -> None:
    action = state.action
    kind = draw.choice(
        [
            "early",
            "stale",
            "poured",
            "pause",
            "longer",
            "skipped",
            "taken_back",
            "repeat",
            "skip",
            "cut",
            "read",
            "note",
        ]
    )
    last = state.press.id if state.press else ""
    if kind in ("early", "cut"):
        do("acknowledged", action=action.key, cut_short=kind == "cut")
    elif kind == "stale":
        do("acknowledged", action=state.plan.actions[max(0, state.index - 1)].key)
    elif kind == "poured":
        do("poured", action=action.key)
    elif kind == "pause":
        do("paused")
        if draw.random() < 0.5:
            do("resumed")
    elif kind == "longer":
        do("step_extended", action=action.key, seconds=draw.choice([30, 60, 300]))
    elif kind == "skipped":
        do("agitation_skipped", action=action.key)
    elif kind == "taken_back" and last != "e0":
        do("taken_back", of=last)
    elif kind == "repeat":
        over = [d.key for d in state.done]
        do("step_repeated", action=draw.choice(over) if over else action.key, text="again")
    elif kind == "skip":
        do("step_skipped", action=action.key, text="not tonight")
    elif kind == "read":
        do("temperature_noted", action=action.key, temperature_c=20.5)
    else:
        do("note", text="a word")


def refused(orders: tuple[Order, ...]) -> list | None:
    """Why a touch changed nothing: the kind and the seconds that are left; None where it counted."""
    say = next((order.say for order in orders if order.do == "refuse"), None)
    return None if say is None else [say.kind, say.seconds]


def shown(state: RunState, now: float) -> dict:
    """What a page shows, and the same of the page's module."""
    document = view(state, now).document()
    found = {"now_s": now} | {name: document[name] for name in SHOWN}
    found["action"] = document["action"]["key"] if document["action"] else None
    found["does"] = None if document["action"] is None else [document["action"][name] for name in DOES]
    found["next"] = document["next"]["key"] if document["next"] else None
    return found


def kept() -> list[dict]:
    """The evenings as they are kept: a line for each touch."""
    found: list[dict] = []
    for line in FILE.read_text().splitlines():
        step = json.loads(line)
        if "plan" in step:
            found.append({"plan": step["plan"], "steps": []})
        else:
            found[-1]["steps"].append(step)
    return found


def traces() -> list[dict]:
    """All evenings."""
    made = plans()
    return [
        trace(name, made[name], seed, slips)
        for seed, (name, slips) in enumerate(
            [("one strip", 0.0), ("two strips", 0.0), ("one strip", 0.3), ("two strips", 0.3), ("fogging", 0.4)]
        )
    ]


if __name__ == "__main__":
    lines = [json.dumps(step) for one in traces() for step in ({"plan": one["plan"]}, *one["steps"])]
    FILE.write_text("\n".join(lines) + "\n")
