"""An evening of round numbers, touched to the second: what stands, what is refused and what is left at both sides of each limit.

Its plan is made by hand and its clock begins at nothing, so that every instant can be reckoned in the head.
"""

from __future__ import annotations

from typing import Any

import pytest

from obverse.foundation import Estimate
from obverse.process.catalog import routes
from obverse.run import (
    Action,
    Cue,
    Event,
    RunPlan,
    Strip,
    advance,
    bath_uses,
    begin,
    destroyed_at_s,
    still_to_destroy,
    true_controls,
    view,
)
from obverse.run.outcome import meaningful
from obverse.run.plan import Fill, Lived, Proof
from obverse.run.shown import effect
from obverse.run.state import RunState
from tests.told_kept import told_as_kept
from tests.unit.test_told_everything import outcome

F, FIRST = "fogging_dithionite", "first_development"
Touch = tuple[float, str, dict[str, Any]]


def cues(*agitations: tuple[float, float], end_s: float, drain_s: float) -> tuple[Cue, ...]:
    ends = (
        Cue(at_s=end_s - drain_s - 10, kind="ready", do="hands_ready"),
        Cue(at_s=end_s - drain_s, kind="drain", do="pour_out", lasts_s=drain_s),
        Cue(at_s=end_s, kind="end", do="out"),
    )
    return (*(Cue(at_s=at, kind="agitate", do="move_for", lasts_s=lasts) for at, lasts in agitations), *ends)


def bath(key: str, step: str, formula: str, *agitations: tuple[float, float], **more: Any) -> Action:
    told = {
        "duration_s": 120,
        "drain_s": 20,
        "temperature_low_c": 18,
        "temperature_high_c": 24,
        "strips": ("A", "B"),
        **more,
    }
    ends = cues(*agitations, end_s=told["duration_s"], drain_s=told["drain_s"])
    return Action(
        key=key, kind="bath", name=key, step=step, formula=formula, pour_s=10, ends_by="clock", waits_for_pour=True, cues=ends, **told
    )  # fmt: skip


def rinse(key: str, step: str, *strips: str, kind: str = "rinse") -> Action:
    return Action(
        key=key,
        kind=kind,
        name=key,
        step=step,
        strips=strips,
        duration_s=20,
        drain_s=5,
        fill=Fill(number=1, count=1, turns=2),
    )


def by_hand(key: str, kind: str, seconds: float, **more: Any) -> Action:
    return Action(key=key, kind=kind, name=key, duration_s=seconds, **more)


ACTIONS = (
    by_hand("lay_out", "lay_out", 60, asked_until_s=30),
    by_hand("prepare.fog", "prepare", 40, formula=F),
    by_hand("check", "check", 30),
    bath("first.1", FIRST, "first_developer", (0, 10), (30, 20), (60, 5), strips=("A",), temperature_c=22.0, after_use="waste", waste_jug="D", volume_ml=500),
    rinse("first.1.rinse.1", FIRST, "A"), rinse("first.1.rinse.2", FIRST, "A"),
    bath("first.2", FIRST, "first_developer", (0, 10), (30, 5), strips=("B",)),
    rinse("first.2.rinse.1", FIRST, "B"),
    bath("bleach", "bleaching", "bleach_permanganate", (0, 5), (40, 5), (40, 5)),
    rinse("wash", "washing", "A", "B", kind="wash"),
    bath("fog", "fogging", F, duration_s=100, drain_s=0, temperature_low_c=None, temperature_high_c=None),
    by_hand("fog.destroy", "destroy", 30, formula=F), by_hand("fog.stand", "destroy", 30, formula=F),
    bath("fix", "fixing", "fixer_rapid", (0, 1), (50, 1), (51, 1), duration_s=60, drain_s=5),
    rinse("fix.rinse.1", "fixing", "A", "B"),
    by_hand("clear_up", "clear_up", 300),
)  # fmt: skip
LIVES = (
    Lived(formula=F, from_action="prepare.fog", from_edge="end", to_action="fog", limit_s=600, kind="life"),
    Lived(formula=F, from_action="fog", from_edge="pour", to_action="fog.stand", limit_s=300, kind="deadline"),
    Lived(formula="first", from_action="first.1", from_edge="start", to_action="bleach", limit_s=1000, kind="life"),
)
PLAN = RunPlan(
    name="Round", route=routes()["permanganate_fogging"], tank_ml=500, temperature_c=20.0, kappa=0.08, kappa_sd=0.01, actions=ACTIONS, lives=LIVES,
    strips=(Strip(name="A", controls={"first_developer_time_min": 2}), Strip(name="B")), proof=Proof(conflicts=(), spans_checked=0),
)  # fmt: skip
# Nothing after the rinse of the fixer; and a plan that takes no time at all.
UP_TO_THE_RINSE = PLAN.model_copy(update={"actions": ACTIONS[:-1]})
NOT_PREPARED = PLAN.model_copy(
    update={"actions": tuple(one for one in ACTIONS if one.kind != "prepare"), "lives": LIVES[1:]}
)
OF_NO_TIME = PLAN.model_copy(update={"actions": (by_hand("lay_out", "lay_out", 0), by_hand("clear_up", "clear_up", 0))})


def on(key: str, at: float, **more: Any) -> Touch:
    return at, "acknowledged", {"action": key, **more}


def pour(key: str, at: float) -> Touch:
    return at, "poured", {"action": key}


def temperature(c: float, at: float, action: str = "") -> Touch:
    return at, "temperature_noted", {"temperature_c": c, "action": action}


def longer(seconds: float, at: float) -> Touch:
    return at, "step_extended", {"seconds": seconds}


def again(key: str, at: float) -> Touch:
    return at, "step_repeated", {"action": key, "text": "again"}


def back(of: str, at: float) -> Touch:
    return at, "taken_back", {"of": of}


def changed(of: str, at: float, **more: Any) -> Touch:
    return at, "changed", {"of": of, **more}


START: Touch = (0, "started", {})
# "look" shows how it stands at an instant, "if KIND" what a touch would do; touches are called t0, t1 and so on.
TO_THE_FIRST = [START, on("lay_out", 30, cut_short=True), on("prepare.fog", 60)]
TO_THE_SECOND = [
    *TO_THE_FIRST, on("check", 90), pour("first.1", 90), on("first.1", 190), on("first.1.rinse.1", 200), on("first.1.rinse.2", 210),
]  # fmt: skip
TO_THE_BLEACH = [*TO_THE_SECOND, pour("first.2", 220), on("first.2", 320), on("first.2.rinse.1", 340)]
TO_THE_FOG = [*TO_THE_BLEACH, pour("bleach", 350), on("bleach", 450), on("wash", 470)]
TO_THE_END = [
    *TO_THE_FOG,
    pour("fog", 480),
    on("fog", 580),
    on("fog.destroy", 600),
    on("fog.stand", 640),
    pour("fix", 650),
    on("fix", 710),
]
WALKS: dict[str, tuple[RunPlan, list[Touch]]] = {
    "to the second": (PLAN, [
        (0, "look", {}), START, (0, "look", {}), on("lay_out", 29, cut_short=True), on("prepare.fog", 60), temperature(19, 65, "check"), on("check", 90),
        (95, "look", {}), (105, "look", {}), pour("first.1", 85), (189.9, "look", {}), (190, "look", {}), (209.9, "look", {}), (210, "look", {}), (250, "look", {}),
        longer(0.5, 100), longer(24.5, 101), temperature(18, 102), temperature(24, 103), temperature(17.9, 104), (105, "agitation_skipped", {}), on("first.1", 213.5),
        (213.5, "if acknowledged", {"action": "first.1", "cut_short": True}), on("first.1", 214), (220, "look", {}), on("first.1.rinse.1", 210),
        (230, "step_skipped", {"action": "first.1.rinse.2", "text": "in haste"}), (225, "step_skipped", {"action": "first.1.rinse.2", "text": "in haste"}),
        pour("first.2", 240), longer(40, 241), on("first.2", 358.5), on("first.2", 358.5, cut_short=True), on("first.2.rinse.1", 380), pour("bleach", 390),
    ]),
    "asked of the past": (PLAN, [
        *TO_THE_FIRST, temperature(19, 70, "check"), temperature(21, 80, "check"), on("check", 90), pour("first.1", 90), (100, "paused", {}), (95, "resumed", {}), (101, "paused", {}),
        on("first.1", 190), on("first.1.rinse.1", 200), again("first.1", 195), pour("first.1", 200), on("first.1", 230, cut_short=True), on("first.1.rinse.1", 240), on("first.1.rinse.2", 240),
        (245, "look", {}), on("first.1.rinse.2", 250), pour("first.2", 260), on("first.2", 260, cut_short=True),
    ]),
    "from the bleach on": (PLAN, [
        *TO_THE_BLEACH, pour("bleach", 350), longer(60, 360), temperature(20, 365), temperature(23.5, 366, "first.2.rinse.1"), on("bleach", 510), again("bleach", 512), pour("bleach", 520),
        on("bleach", 530, cut_short=True), (535, "look", {}), on("wash", 540), pour("fog", 550), (659.9, "look", {}), (660, "look", {}), (660.1, "look", {}), on("fog", 650),
        (650, "duty_done", {"action": F, "device": "phone"}), on("fog.destroy", 650), on("fog.stand", 690), again("fog", 690), pour("fog", 690), on("fog", 790), pour("fix", 800), longer(2, 810),
        on("fix", 862), again("first.2", 861), (862, "step_skipped", {"action": "first.2", "text": "no"}), on("first.2.rinse.1", 863), on("fix.rinse.1", 870), (860, "finished", {}),
    ]),
    "the last bath once more": (UP_TO_THE_RINSE, [*TO_THE_END, again("fix", 700), pour("fix", 715), on("fix", 775), on("fix.rinse.1", 780), on("fix.rinse.1", 790), (795, "look", {})]),
    "what would break": (PLAN, [
        *TO_THE_FIRST, on("check", 90), pour("first.1", 90), *((95, "if step_extended", {"seconds": s}) for s in (29.0, 30.0, 31.0, 500.0, 560.0, 600.0)),
        *((t, "if acknowledged", {"action": "first.1", "cut_short": True}) for t in (95, 190, 300)), (95, "if aborted", {"text": "x"}), (95, "if step_repeated", {"action": "check", "text": "x"}),
        (95, "if paused", {}), (95, "if taken_back", {"of": "t4"}),
    ]),
    "corrected": (PLAN, [
        *TO_THE_FIRST, temperature(20, 70), on("check", 90), pour("first.1", 90), (95, "note", {"text": "one"}),
        *(changed("t3", 100, to_s=s) for s in (-0.0, 1.0, 100.0, 100.5)), changed("t3", 100, to_s=75.0, temperature_c=21.0), changed("t3", 101, temperature_c=23.0), changed("t6", 102, text="two"),
        changed("t6", 102, text=" ", to_s=99.0), changed("t4", 103, to_s=59.0), changed("t4", 103, to_s=60.0), changed("t4", 103, to_s=90.0), changed("t4", 103, to_s=91.0), changed("t2", 104, to_s=29.0),
        changed("t5", 105, to_s=89.0), changed("t5", 105, to_s=105.0), changed("t5", 105, to_s=106.0), changed("t0", 106, to_s=1.0), on("first.1", 190), changed("t20", 210, to_s=150.0),
        back("t5", 211), back("t20", 211), back("t20", 212), back("t3", 213), changed("t3", 214, temperature_c=1.0), back("t7", 215),
    ]),
    "never begun": (PLAN, [(5, "aborted", {"text": "no film"}), changed("t0", 6, to_s=0.5), changed("t0", 7, text="no light"), back("t0", 8), (9, "duty_done", {"action": F, "text": "K."}), (10, "aborted", {})]),
    "of no time": (OF_NO_TIME, [(0, "look", {}), START, (0, "look", {}), on("lay_out", 0), on("clear_up", 0)]),
    "ended in the fog": (PLAN, [*TO_THE_FOG, (475, "duty_done", {"action": F}), pour("fog", 480), (500, "aborted", {"text": "rain"}), (510, "duty_done", {"action": F}), (520, "duty_done", {"action": F}), (530, "duty_done", {"action": "x"})]),
    "in the fog": (PLAN, [*TO_THE_FOG, temperature(19, 471), temperature(60, 472), pour("fog", 480)]),
    "read before": (PLAN, [*TO_THE_FIRST, temperature(19.5, 65), temperature(20.5, 90, "lay_out"), on("check", 90), pour("first.1", 90), temperature(23, 95, "lay_out"), on("first.1", 190)]),
    "read of nothing": (PLAN, [*TO_THE_FIRST, temperature(60, 65, "lay_out"), on("check", 90), pour("first.1", 90), on("first.1", 190), on("first.1.rinse.1", 200), on("first.1.rinse.2", 210), pour("first.2", 220), on("first.2", 320)]),
    "read in time": (PLAN, [*TO_THE_FIRST, temperature(20, 61, "lay_out"), temperature(21, 62, "lay_out"), on("check", 90), temperature(22, 95, "lay_out"), pour("first.1", 95), temperature(23, 96, "lay_out"), on("first.1", 195)]),
    "read too warm": (PLAN, [*TO_THE_FIRST, temperature(21, 61, "lay_out"), temperature(38, 62, "lay_out"), on("check", 90), pour("first.1", 95), on("first.1", 195), changed("t3", 196, temperature_c=19.5)]),
    "read at the limits": (PLAN, [*TO_THE_FIRST, on("check", 90), pour("first.1", 95), temperature(16, 100), temperature(26, 110), on("first.1", 195)]),
    "just begun": (PLAN, [START]),
    "nothing prepared": (NOT_PREPARED, [START, (0.5, "duty_done", {"action": F}), on("lay_out", 60)]),
    "in a fog that stood ready": (NOT_PREPARED, [*(one for one in TO_THE_FOG if one[2].get("action") != "prepare.fog"), pour("fog", 480)]),
    "destroyed at once": (PLAN, [*TO_THE_FOG, pour("fog", 480), on("fog", 580), on("fog.destroy", 580), on("fog.stand", 580)]),
    "said at once": (PLAN, [*TO_THE_FOG, pour("fog", 480), on("fog", 580), (580, "duty_done", {"action": F})]),
    "read in the bath": (PLAN, [*TO_THE_FIRST, temperature(19, 65), on("check", 90), pour("first.1", 90), temperature(20, 95), on("first.1", 190), again("first.1", 195), pour("first.1", 200), temperature(27, 210), on("first.1", 230, cut_short=True)]),
}  # fmt: skip


def _stands(state: RunState, now: float) -> dict[str, Any]:
    seen = view(state, now)
    document = seen.document()
    names = ("status", "phase", "index", "ahead", "began_s", "clock_from_s", "extended_s", "skipped", "started_s", "ended_s", "due_s", "drain_s", "ends_s", "progress", "reason")  # fmt: skip
    return {
        **{name: document[name] for name in names},
        "action": seen.action and seen.action.key,
        "next": seen.next_action and seen.next_action.key,
        "cues": [f"{cue.at_s:g} {cue.do} {cue.lasts_s:g}" for cue in seen.cues],
        "lives": [[one.formula, one.kind, one.by_s, one.overdue, one.to_action] for one in seen.deadlines],
        "last_s": state.last_s,
        "press": state.press and [state.press.id, state.press.kind, state.press.action, state.press.before.index],
        "taken": document["taken"],
    }


def _would(state: RunState, event: Event, now: float) -> list[Any]:
    would = effect(state, event, now)
    refused = would.refused and would.refused.kind
    keys = [[one.key for one in some] for some in (would.comes, would.drops)]
    return [refused, would.later_s, *keys, [[life.formula, life.kind] for life in would.breaks]]


def _walked(plan: RunPlan, touches: list[Touch]) -> dict[str, Any]:
    """After each touch what it was answered and what stands otherwise than before; what is left in the end."""
    state, stood, told, count = begin(plan), dict[str, Any](), [], 0
    for at, kind, more in touches:
        if kind.startswith("if "):
            told.append([at, kind, *more.values(), _would(state, Event(kind=kind[3:], at_s=at, id="if", **more), at)])
            continue
        answers: list[Any] = []
        if kind != "look":
            event = Event(kind=kind, at_s=at, id=f"t{count}", **more)
            count += 1
            would = _would(state, event, at)[1:]
            state, orders = advance(state, event, max(at, state.last_s))
            answers = [[o.do, o.level, o.action, o.say and o.say.model_dump(exclude_defaults=True)] for o in orders] + [
                would
            ]
        now = _stands(state, at)
        told.append([at, kind, answers, {name: one for name, one in now.items() if stood.get(name) != one}])
        stood = now
    return {
        "told": told,
        "done": [[d.key, d.began_s, d.clock_from_s, d.ended_s, d.planned_s, d.skipped, d.cut_short] for d in state.done],
        "left": [state.passed, state.taken, state.gone, state.temperatures, state.said, state.pauses, [e.id for e in state.events]],
        "uses": [[use.mark, use.strips, use.took_s, use.planned_s, use.volume_ml, use.waste_jug] for use in bath_uses(state)],
        "controls": true_controls(state),
        "to destroy": [still_to_destroy(state), *(destroyed_at_s(state, formula) for formula in (F, "fixer_rapid", "x"))],
    }  # fmt: skip


@pytest.mark.parametrize("name", WALKS)
def test_an_evening_of_round_numbers_stands_as_reckoned(name):
    assert not told_as_kept("instants", {name: outcome(lambda: _walked(*WALKS[name]))})


@pytest.mark.parametrize(
    ("value", "sd", "left"),
    [(1.23456, 0.0, 1.23456), (1.23456, 0.01, 1.235), (1.23456, 0.0999, 1.235), (123.456, 1.0, 123.5), (-7.77, 2.0, -7.8), (777.0, 30.0, 777.0), (777.0, 150.0, 780.0)],
)  # fmt: skip
def test_two_digits_of_a_doubt_are_kept(value, sd, left):
    assert meaningful(Estimate(value, sd)) == left
