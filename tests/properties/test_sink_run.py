"""Whatever is touched, in whatever order: no bath is shortened unasked, time never runs back, replay is exact."""

from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.process import Agitation
from obverse.process.catalog import formulas, routes
from obverse.run import (
    Event,
    RunPlan,
    Strip,
    TemperatureNote,
    advance,
    agitation_cues,
    begin,
    effective_development,
    plan_run,
    prove,
    view,
)


@cache
def plan_of(route: str) -> RunPlan:
    return plan_run(routes()[route], formulas(), tank_ml=500)


# Planned where they are wanted: every worker reads this file.
PLANS = st.sampled_from(("permanganate_light", "iron_ammonia_fogging")).map(plan_of)
EARLY_TOUCH_S = 1.0

events = st.lists(
    st.tuples(
        st.sampled_from(
            [
                "poured",
                "acknowledged",
                "acknowledged",
                "acknowledged",
                "stale",
                "paused",
                "resumed",
                "step_extended",
                "temperature_noted",
                "note",
                "agitation_skipped",
                "finished",
            ]
        ),
        st.floats(-30, 900),
        st.booleans(),
    ),
    max_size=120,
)


@settings(max_examples=80, deadline=None)
@given(PLANS, events)
def test_any_row_of_touches(plan: RunPlan, touches):
    state, orders = advance(begin(plan), Event(kind="started", at_s=1e9), 1e9)
    now = 1e9
    record = []
    for kind, seconds, cut in touches:
        # A device whose clock is behind may tell of an instant in the past.
        now = max(now, now + seconds)
        at_s = min(now, now + seconds)
        key = state.action.key if state.action else "none"
        if kind == "stale":
            kind, key = "acknowledged", plan.actions[max(0, state.index - 1)].key
        event = Event(
            kind=kind,
            at_s=at_s,
            action=key if kind in ("poured", "acknowledged") else "",
            cut_short=cut,
            seconds=30,
            temperature_c=20,
            text="n",
        )
        before = state
        state, orders = advance(state, event, now)
        record.append(event.model_copy(update={"at_s": min(event.at_s, now)}))
        assert orders
        assert state.index - before.index in (0, 1) or state.status == "finished"
        shown = view(state, now).document()
        assert 0 <= shown["progress"] <= 1
    for done in state.done:
        action = plan.action(done.key)
        assert done.began_s <= done.clock_from_s <= done.ended_s <= now
        if action.ends_by == "clock" and not done.cut_short:
            assert done.took_s >= done.planned_s - action.drain_s - EARLY_TOUCH_S
    ends = [done.ended_s for done in state.done]
    assert ends == sorted(ends)
    again, _ = advance(begin(plan), Event(kind="started", at_s=1e9), 1e9)
    for event in record:
        again, _ = advance(again, event, event.at_s)
    assert again.model_copy(update={"last_s": 0}) == state.model_copy(update={"last_s": 0})


agitations = st.builds(
    Agitation,
    initial_s=st.floats(0, 120),
    every_s=st.floats(5, 120),
    inversions=st.integers(0, 12),
    seconds=st.floats(0, 30),
    constant=st.booleans(),
)


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(sorted(routes())),
    st.floats(100, 5000),
    st.floats(0.3, 4),
    st.lists(st.floats(3, 20), min_size=1, max_size=4),
    agitations,
)
def test_the_proof_agrees_with_a_dumb_count_of_hands(key, tank_ml, pace, times, agitation):
    route = routes()[key]
    route = route.model_copy(
        update={"steps": (route.steps[0].model_copy(update={"agitation": agitation}), *route.steps[1:])}
    )
    strips = [Strip(name=f"s{i}", controls={"first_developer_time_min": t}) for i, t in enumerate(times)]
    plan = plan_run(route, formulas(), tank_ml=tank_ml, pace=pace, strips=strips)
    # Step through the spans one by one, knowing nothing of how the proof does it.
    spans = sorted((a.start_s + s, a.start_s + e) for a in plan.actions for s, e in a.hands if e > s)
    overlap = any(b[0] < a[1] - 1e-6 for i, a in enumerate(spans) for b in spans[i + 1 : i + 4])
    assert overlap == any(c.kind == "hands" for c in plan.proof.conflicts)
    assert plan.proof == prove(plan.actions, plan.lives)
    waits = [a.strips for a in plan.actions if a.kind == "bath" and a.step == route.steps[0].key]
    assert sorted(name for names in waits for name in names) == sorted(s.name for s in strips)


@given(agitations, st.floats(20, 3000), st.floats(0, 30))
def test_cues_stay_inside_the_bath(agitation, duration_s, drain_s):
    for cue in agitation_cues(agitation, duration_s, min(drain_s, duration_s / 2), 2.5):
        assert 0 <= cue.at_s and cue.at_s + cue.lasts_s <= duration_s - min(drain_s, duration_s / 2) + 1e-9


@given(st.lists(st.tuples(st.floats(-100, 900), st.floats(16, 26)), min_size=1, max_size=12), st.floats(60, 800))
def test_effective_development_lies_between_its_extremes(notes, duration_s):
    told = effective_development(0, duration_s, [TemperatureNote(t, c) for t, c in notes], 20)
    low, high = min(c for _, c in notes), max(c for _, c in notes)
    assert low - 1e-9 <= told.temperature_c.value <= high + 1e-9
    # Jensen: a wandering temperature develops at least as much as its mean.
    assert told.time_min.value * 60 >= duration_s * (1 - 1e-9)
    assert told.time_min.sd > 0


@settings(max_examples=40, deadline=None)
@given(
    PLANS,
    st.lists(
        st.tuples(st.sampled_from(["go", "late", "slip", "read", "struck", "long"]), st.floats(0, 200)), max_size=60
    ),
)
def test_a_slip_taken_back_leaves_nothing_but_its_record(plan: RunPlan, touches):
    """Two evenings side by side: one with slips that are taken back at once, one without them. They stand the same."""
    clean, _ = advance(begin(plan), Event(kind="started", at_s=1e9, id="s"), 1e9)
    mended, now, number = clean, 1e9, 0

    def both(**event):
        nonlocal clean, mended, number
        number += 1
        both_s = Event(at_s=now, id=f"b{number}", **event)
        clean, mended = advance(clean, both_s, now)[0], advance(mended, both_s, now)[0]

    def only(**event) -> str:
        nonlocal mended, number
        number += 1
        mended, _ = advance(mended, Event(at_s=now, id=f"o{number}", **event), now)
        return f"o{number}"

    for kind, seconds in touches:
        now += seconds
        action = clean.action
        if action is None:
            break
        waiting = action.waits_for_pour and clean.clock_from_s is None
        press = {"kind": "poured" if waiting else "acknowledged", "action": action.key, "cut_short": not waiting}
        if kind in ("go", "late"):
            now += 30 * (kind == "late")
            both(**press)
        elif kind == "slip":
            only(kind="taken_back", of=only(**press))
        elif kind == "read":
            both(kind="temperature_noted", action=action.key, temperature_c=20)
        elif kind == "struck":
            only(kind="taken_back", of=only(kind="temperature_noted", action=action.key, temperature_c=25))
        else:
            only(kind="taken_back", of=only(kind="step_extended", action=action.key, seconds=60))
    record = {"events": (), "last_s": 0.0}
    assert mended.model_copy(update=record) == clean.model_copy(update=record)
    assert len(mended.events) >= len(clean.events)
