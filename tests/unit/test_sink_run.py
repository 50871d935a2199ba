"""The live run: every event, lateness, early touches, pauses, what comes out as controls."""

import math

import pytest

from obverse.foundation import InputError
from obverse.process.catalog import formulas, routes
from obverse.run import (
    Event,
    TemperatureNote,
    advance,
    bath_uses,
    begin,
    effective_development,
    fold,
    kappa_per_c,
    plan_run,
    still_to_destroy,
    true_controls,
    view,
)
from obverse.workbench.evening_words import developed_words, order_told

T0 = 2_000_000_000.0
PLAN = plan_run(routes()["permanganate_light"], formulas(), tank_ml=500, controls={"first_developer_time_min": 9})


class Evening:
    """Drives a run from event to event."""

    def __init__(self, plan=PLAN):
        self.state = begin(plan)
        self.now = T0
        self.events: list[Event] = []
        self.orders = ()

    def do(self, kind, *, after=0.0, **more):
        self.now += after
        event = Event(kind=kind, at_s=self.now, **more)
        self.state, self.orders = advance(self.state, event, self.now)
        self.events.append(event)
        return self

    def touch(self, *, after=0.0, **more):
        return self.do("acknowledged", after=after, action=self.state.action.key, **more)

    def until(self, key):
        """Go on exactly by plan until that action is in hand."""
        if self.state.status == "planned":
            self.do("started")
        while self.state.action.key != key:
            action = self.state.action
            if action.waits_for_pour:
                self.do("poured", after=action.pour_s, action=action.key)
            self.touch(after=action.duration_s)
        return self

    def told(self) -> str:
        return " ".join(order_told(order, self.state.plan).text for order in self.orders)


def test_by_the_plan_to_its_end():
    evening = Evening().until("clear_up")
    evening.touch(after=evening.state.action.duration_s)
    assert evening.state.status == "finished"
    assert [d.key for d in evening.state.done] == [a.key for a in PLAN.actions]
    assert evening.now - T0 == pytest.approx(PLAN.duration_s)
    assert [o.do for o in evening.orders] == ["tell", "book"]
    assert still_to_destroy(evening.state) == ()


def test_a_late_touch_shifts_what_follows_and_shortens_nothing():
    evening = Evening().until("first_development").do("poured", after=45, action="first_development")
    assert evening.state.due_s == evening.now + 540
    before = view(evening.state, evening.now).document()["ends_s"]
    evening.touch(after=540 + 100)
    was = evening.state.done[-1]
    assert was.took_s == 640 and was.planned_s == 540
    assert view(evening.state, evening.now).document()["ends_s"] == pytest.approx(before + 100)
    # The next bath is as long as planned, counted from when it was truly in.
    evening.until("bleaching").do("poured", after=200, action="bleaching")
    assert evening.state.due_s == evening.now + PLAN.action("bleaching").duration_s


def test_an_early_touch_never_ends_a_bath():
    evening = Evening().until("first_development").do("poured", action="first_development")
    evening.touch(after=300)
    assert evening.state.action.key == "first_development" and evening.state.clock_from_s == evening.now - 300
    assert evening.orders[0].do == "refuse" and "240 seconds are left" in evening.told()
    # Draining has begun: the touch counts, and so does one a second early.
    assert (
        Evening().until("first_development").do("poured", action="first_development").touch(after=530).state.action.key
        != "first_development"
    )
    assert (
        Evening().until("first_development").do("poured", action="first_development").touch(after=528).state.action.key
        == "first_development"
    )


def test_ended_early_on_purpose_is_written_down_as_such():
    evening = (
        Evening().until("first_development").do("poured", action="first_development").touch(after=300, cut_short=True)
    )
    assert evening.state.done[-1].cut_short and evening.state.done[-1].took_s == 300
    assert "on purpose" in developed_words(true_controls(evening.state)[0].went)


def test_a_bath_cannot_be_over_before_it_is_in():
    evening = Evening().until("first_development").touch(after=5)
    assert evening.state.action.key == "first_development" and "not poured in" in evening.told()


def test_a_touch_for_an_action_that_is_over_changes_nothing():
    evening = Evening().until("lights_out")
    before = evening.state
    evening.do("acknowledged", action="lay_out")
    assert evening.state.model_copy(update={"last_s": before.last_s}) == before and evening.orders[0].do == "refuse"
    evening.do("poured", action="lights_out")
    assert evening.orders[0].do == "refuse"


def test_pouring_twice_starts_the_clock_once():
    evening = Evening().until("first_development").do("poured", action="first_development")
    clock = evening.state.clock_from_s
    evening.do("poured", after=20, action="first_development")
    assert evening.state.clock_from_s == clock


def test_a_pause_does_not_stop_chemistry():
    evening = Evening().until("first_development").do("poured", action="first_development").do("paused", after=60)
    assert "does not wait" in evening.told() and evening.state.status == "paused"
    due = evening.state.due_s
    evening.do("resumed", after=60)
    assert evening.state.due_s == due and evening.state.pauses == ((evening.now - 60, evening.now),)
    # A touch ends a pause as well; pausing twice is one pause.
    evening.do("paused").do("paused")
    assert evening.orders[0].do == "refuse"
    evening.touch(after=430)
    assert evening.state.status == "running" and evening.state.pauses[-1][1] == evening.now


def test_an_extension_moves_the_end_and_goes_on_agitating():
    evening = Evening().until("first_development").do("poured", action="first_development")
    plain = view(evening.state, evening.now).document()
    evening.do("step_extended", seconds=120, action="first_development")
    longer = view(evening.state, evening.now).document()
    assert longer["due_s"] == plain["due_s"] + 120
    assert sum(c["kind"] == "agitate" for c in longer["cues"]) == sum(c["kind"] == "agitate" for c in plain["cues"]) + 2
    assert [c["at_s"] for c in longer["cues"] if c["kind"] == "drain"] == [
        c["at_s"] + 120 for c in plain["cues"] if c["kind"] == "drain"
    ]
    evening.touch(after=545)
    assert evening.state.action.key == "first_development"


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "step_extended", "seconds": -10},
        {"kind": "step_extended", "seconds": 0},
        {"kind": "step_extended"},
        {"kind": "step_extended", "seconds": 1e6},
        {"kind": "temperature_noted"},
        {"kind": "note", "text": "  "},
        {"kind": "photo"},
        {"kind": "acknowledged"},
    ],
)
def test_nonsense_is_refused_in_one_sentence(wrong):
    evening = Evening().until("bleaching")
    with pytest.raises(InputError) as told:
        advance(evening.state, Event(at_s=evening.now, **wrong), evening.now)
    assert told.value.sentence.endswith(".")


def test_an_event_from_the_future_happens_now():
    evening = Evening().until("lay_out")
    state, _ = advance(
        evening.state, Event(kind="acknowledged", action="lay_out", at_s=evening.now + 500), evening.now + 30
    )
    assert state.done[-1].ended_s == evening.now + 30


def test_an_event_from_before_the_action_began_ends_it_at_its_beginning():
    evening = Evening().until("prewarm")
    began = evening.state.began_s
    state, _ = advance(evening.state, Event(kind="acknowledged", action="prewarm", at_s=began - 100), evening.now)
    assert state.done[-1].ended_s == began


def test_temperatures_that_differ_are_told_louder_after_permanganate():
    evening = Evening().until("first_development").do("temperature_noted", temperature_c=20, action="first_development")
    assert evening.told() == "Noted: 20 C."
    evening.do("temperature_noted", temperature_c=24, action="first_development.rinse.1")
    assert [o.level for o in evening.orders] == ["caution"] and "wrinkle" in evening.told()
    evening.until("bleaching.rinse.1").do("temperature_noted", temperature_c=16, action="bleaching.rinse.1")
    assert "danger" in [o.level for o in evening.orders] and "soft" in evening.told()


def test_ended_early_it_says_what_still_stands():
    evening = (
        Evening().until("bleaching").do("poured", action="bleaching").do("aborted", after=100, text="the tank leaks")
    )
    assert evening.state.status == "aborted" and evening.state.reason == "the tank leaks"
    assert still_to_destroy(evening.state) == ("bleach_permanganate",)
    uses = {u.formula: u for u in bath_uses(evening.state)}
    assert uses["bleach_permanganate"].took_s == 100
    evening.do("aborted", text="again")
    assert evening.state.reason == "the tank leaks" and evening.orders[0].do == "refuse"


def test_it_cannot_be_finished_with_the_film_under_way():
    assert Evening().until("bleaching").do("finished").state.status == "running"
    evening = Evening().until("clear_up").do("finished", after=10)
    assert evening.state.status == "finished" and evening.state.ended_s == evening.now
    assert Evening().do("finished").state.status == "planned"


def test_skipped_agitation_notes_and_pictures_are_in_the_record():
    evening = Evening().until("first_development").do("poured", action="first_development")
    evening.do("agitation_skipped", after=60).do("note", text="a scratch").do("photo", blob="a" * 64).touch(after=480)
    assert evening.state.done[-1].skipped == 1 and evening.state.skipped == 0
    assert [(s.text, s.blob) for s in evening.state.said] == [("a scratch", ""), ("", "a" * 64)]
    assert "1 bout of agitation left out" in developed_words(true_controls(evening.state)[0].went)


def test_the_same_events_give_the_same_state():
    evening = Evening().until("fixing").do("note", text="x").do("step_extended", seconds=5)
    assert fold(PLAN, evening.events) == evening.state


def test_what_truly_happened_becomes_the_controls():
    evening = Evening().until("first_development").do("poured", action="first_development")
    evening.do("temperature_noted", temperature_c=20.5, action="first_development")
    evening.do("temperature_noted", after=560, temperature_c=19.5, action="first_development").touch()
    (true,) = true_controls(evening.state)
    assert true.controls["temperature_c"] == pytest.approx(20.0)
    kappa = kappa_per_c().value
    # Straight from +0.5 to -0.5: sinh(k/2)/(k/2) of the time that was taken.
    whole = 560 / 60 * math.sinh(kappa / 2) / (kappa / 2)
    # Told to what its uncertainty means.
    assert true.controls["first_developer_time_min"] == pytest.approx(whole, abs=0.005)
    assert true.control_sds["temperature_c"] == 0.3
    assert 0.05 < true.control_sds["first_developer_time_min"] < 0.2
    assert true.controls["solvent_ml_per_l"] == 2 and true.control_sds["solvent_ml_per_l"] == pytest.approx(
        math.hypot(0.1, 0.03 * 2)
    )


def test_without_a_reading_the_planned_temperature_with_a_wide_uncertainty():
    evening = Evening().until("first_development").do("poured", action="first_development").touch(after=540)
    (true,) = true_controls(evening.state)
    assert true.controls["temperature_c"] == 20 and true.control_sds["temperature_c"] == 1.0
    assert true.controls["first_developer_time_min"] == pytest.approx(9)
    assert "Nobody read the temperature" in developed_words(true.went)


def test_a_reading_before_the_bath_counts_where_none_was_taken_in_it():
    evening = Evening().until("check").do("temperature_noted", temperature_c=21, action="check")
    evening.until("first_development").do("poured", action="first_development").touch(after=540)
    assert true_controls(evening.state)[0].controls["temperature_c"] == 21


def test_effective_development_against_a_fine_sum():
    kappa = kappa_per_c().value
    notes = [TemperatureNote(100, 21.0), TemperatureNote(400, 19.0), TemperatureNote(550, 19.5)]
    told = effective_development(0, 600, notes, 20.0)

    def at(t):
        if t <= 100:
            return 21.0
        if t <= 400:
            return 21.0 - 2 * (t - 100) / 300
        return 19.0 + 0.5 * (t - 400) / 150 if t <= 550 else 19.5

    n = 60_000
    temperatures = [at((i + 0.5) * 600 / n) for i in range(n)]
    mean = sum(temperatures) / n
    theta = sum(math.exp(kappa * (t - mean)) for t in temperatures) / n * 600
    assert told.temperature_c.value == pytest.approx(mean, abs=1e-4)
    assert told.time_min.value == pytest.approx(theta / 60, rel=1e-6)
    with pytest.raises(InputError):
        effective_development(10, 10, [], 20)


def test_deadlines_are_told_from_the_moment_their_clock_runs():
    evening = Evening().until("prepare.first_developer")
    names = {(d["formula"], d["kind"]) for d in view(evening.state, evening.now).document()["deadlines"]}
    assert ("bleach_permanganate", "life") in names
    evening.until("clear_up")
    assert view(evening.state, evening.now).document()["deadlines"] == []
    slow = Evening().until("bleaching")
    assert not any(d["overdue"] for d in view(slow.state, slow.now).document()["deadlines"])
    assert any(d["overdue"] for d in view(slow.state, slow.now + 5 * 3600).document()["deadlines"])


def test_the_view_of_a_run():
    evening = Evening()
    shown = view(evening.state, T0).document()
    assert (
        shown["status"] == "planned"
        and shown["action"] is None
        and shown["next"]["key"] == "lay_out"
        and shown["progress"] == 0
    )
    evening.until("first_development")
    shown = view(evening.state, evening.now).document()
    assert shown["phase"] == "ready" and shown["cues"] == [] and shown["due_s"] is None
    evening.do("poured", action="first_development")
    assert [view(evening.state, evening.now + s).document()["phase"] for s in (0, 529, 531, 541)] == [
        "running",
        "running",
        "draining",
        "due",
    ]
    assert (
        0.3
        < view(evening.state, evening.now).document()["progress"]
        < view(evening.state, evening.now + 300).document()["progress"]
        < 0.7
    )
