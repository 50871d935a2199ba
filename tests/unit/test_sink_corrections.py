"""That was wrong: every touch and every entry can be corrected, both stay in the record, plan and trial follow."""

import pytest

from obverse.foundation import InputError, UnlikelyError
from obverse.process.catalog import formulas, routes
from obverse.reference import number
from obverse.run import (
    Event,
    advance,
    bath_uses,
    begin,
    destroyed_at_s,
    effect,
    effective,
    fold,
    plan_run,
    still_to_destroy,
    true_controls,
)
from obverse.workbench.evening_words import developed_words, order_told

T0 = 2_000_000_000.0
PLAN = plan_run(routes()["iron_ammonia_light"], formulas(), tank_ml=500, controls={"first_developer_time_min": 9})


class Evening:
    """Drives a run from event to event, each with an id of its own."""

    def __init__(self, plan=PLAN):
        self.state = begin(plan)
        self.now = T0
        self.events: list[Event] = []
        self.orders = ()

    def do(self, kind, *, after=0.0, **more) -> str:
        self.now += after
        event = Event(kind=kind, at_s=self.now, id=f"e{len(self.events)}", **more)
        self.state, self.orders = advance(self.state, event, self.now)
        self.events.append(event)
        return event.id

    def touch(self, *, after=0.0, **more) -> str:
        return self.do("acknowledged", after=after, action=self.state.action.key, **more)

    def until(self, key):
        if self.state.status == "planned":
            self.do("started")
        while self.state.action.key != key:
            action = self.state.action
            if action.waits_for_pour and self.state.clock_from_s is None:
                self.do("poured", after=action.pour_s, action=action.key)
            self.touch(after=action.duration_s)
        return self

    def told(self) -> str:
        return " ".join(order_told(order, self.state.plan).text for order in self.orders)

    def refused(self) -> bool:
        return [order.do for order in self.orders] == ["refuse"]


def standing(state):
    """What a correction may not leave a trace in."""
    return state.model_copy(update={"events": (), "last_s": 0.0})


def test_a_wrong_it_is_out_is_taken_back_and_the_bath_goes_on_as_if_nothing_had_been_touched():
    evening = Evening().until("first_development")
    evening.do("poured", after=30, action="first_development")
    before = evening.state
    slip = evening.touch(after=300, cut_short=True)
    assert evening.state.action.key == "first_development.rinse.1"
    evening.do("taken_back", after=5, of=slip)
    assert standing(evening.state) == standing(before)
    assert evening.state.due_s == before.clock_from_s + 540
    assert "it is done (First development)" in evening.told() and "Both stay in the record" in evening.told()
    assert [e.kind for e in evening.state.events[-2:]] == ["acknowledged", "taken_back"]
    evening.touch(after=235)
    assert true_controls(evening.state)[0].controls["first_developer_time_min"] == 9.0


def test_a_wrong_it_is_in_is_taken_back():
    evening = Evening().until("first_development")
    slip = evening.do("poured", after=3, action="first_development")
    evening.do("taken_back", after=2, of=slip)
    assert evening.state.clock_from_s is None and evening.state.action.key == "first_development"
    evening.do("poured", after=25, action="first_development")
    assert evening.state.clock_from_s == evening.now


def test_a_second_touch_by_another_hand_is_taken_back_without_waking_an_ignored_one():
    evening = Evening().until("prewarm")
    evening.touch(after=60)
    evening.do("acknowledged", after=0.3, action="prewarm")  # the other device: ignored with a word
    assert evening.refused() and "moved on" in evening.told()
    after_one = evening.state
    slip = evening.touch(after=0.6)  # and once more, now for the next action
    evening.do("taken_back", of=slip)
    assert standing(evening.state) == standing(after_one)
    # The first one taken back as well: the ignored touch does not take its place.
    first = evening.state.press.id
    evening.do("taken_back", of=first)
    assert evening.state.action.key == "prewarm"


def test_only_the_last_touch_can_be_taken_back_and_then_the_one_before_it():
    evening = Evening().until("fill_bottles")
    one, two = evening.touch(after=60), evening.touch(after=60)
    evening.do("taken_back", of=one)
    assert evening.refused() and "the last one first" in evening.told()
    evening.do("taken_back", of=two)
    evening.do("taken_back", of=one)
    assert evening.state.action.key == "fill_bottles"
    evening.do("taken_back", of=one)
    assert evening.refused() and "before" in evening.told()
    evening.do("taken_back", of="nothing of ours")
    assert evening.refused()
    evening.do("taken_back", of="e0")
    assert evening.refused(), "the beginning is not the last of them"


def test_a_correction_can_itself_be_taken_back():
    evening = Evening().until("check")
    noted = evening.do("temperature_noted", temperature_c=21, action="check")
    struck = evening.do("taken_back", of=noted)
    assert evening.state.temperatures == ()
    evening.do("taken_back", of=struck)
    assert [n.temperature_c for n in evening.state.temperatures] == [21]


def test_a_slip_of_the_thermometer_is_changed_and_the_trial_follows():
    evening = Evening().until("first_development")
    evening.do("poured", after=30, action="first_development")
    slip = evening.do("temperature_noted", after=60, temperature_c=68, sure=True, action="first_development")
    evening.touch(after=480)
    wrong = true_controls(evening.state)[0]
    assert wrong.controls["temperature_c"] == 68 and "law of time and temperature ends" in developed_words(wrong.went)
    evening.do("changed", after=100, of=slip, temperature_c=20)
    right = true_controls(evening.state)[0]
    assert right.controls["temperature_c"] == 20 and right.controls["first_developer_time_min"] == 9.0
    assert "ends" not in developed_words(right.went)
    assert evening.state.temperatures[0].at_s < evening.now - 500, "it was read when it was read"
    evening.do("changed", of=slip, temperature_c=20.5)
    assert true_controls(evening.state)[0].controls["temperature_c"] == 20.5, "the latest word stands"
    evening.do("taken_back", of=slip)
    assert "Nobody read the temperature" in developed_words(true_controls(evening.state)[0].went)


def test_the_time_of_a_touch_is_changed_between_its_neighbours():
    evening = Evening().until("first_development")
    poured = evening.do("poured", after=30, action="first_development")
    out_at = evening.now + 540
    late = evening.touch(after=540 + 180)
    evening.do("changed", after=10, of=late, to_s=out_at)
    assert evening.state.done[-1].took_s == 540 and not evening.state.done[-1].cut_short
    assert evening.state.began_s == out_at
    evening.do("changed", of=late, to_s=out_at - 200)
    assert evening.state.done[-1].took_s == 340 and evening.state.done[-1].cut_short
    evening.do("changed", of=late, to_s=evening.now + 60)
    assert evening.refused() and "between" in evening.told()
    evening.do("changed", of=poured, to_s=out_at + 1)
    assert evening.refused()


def test_words_are_changed_and_only_words():
    evening = Evening().until("check")
    note = evening.do("note", text="a scrach")
    evening.do("changed", of=note, text="a scratch")
    assert [s.text for s in evening.state.said] == ["a scratch"]
    evening.do("changed", of=note, temperature_c=20)
    assert evening.refused()
    evening.do("changed", of=note, to_s=T0)
    assert evening.refused()
    touched = evening.touch(after=30)
    evening.do("changed", of=touched, text="x")
    assert evening.refused()


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "taken_back"},
        {"kind": "changed", "of": "e1"},
        {"kind": "changed", "temperature_c": 20},
        {"kind": "step_repeated", "action": "check"},
        {"kind": "step_repeated", "text": "why"},
        {"kind": "step_skipped", "action": "check", "text": " "},
    ],
)
def test_a_correction_that_says_nothing_is_refused_in_one_sentence(wrong):
    evening = Evening().until("check")
    with pytest.raises(InputError) as told:
        advance(evening.state, Event(at_s=evening.now, **wrong), evening.now)
    assert told.value.sentence.endswith(".")


def test_an_end_by_mistake_is_taken_back_and_the_evening_goes_on():
    evening = Evening().until("fixing").do("poured", after=20, action="fixing")
    evening = Evening().until("fixing")
    evening.do("poured", after=20, action="fixing")
    slip = evening.do("aborted", after=60, text="wrong button")
    assert evening.state.status == "aborted" and evening.state.reason == "wrong button"
    evening.do("taken_back", after=30, of=slip)
    assert evening.state.status == "running" and evening.state.reason == "" and "goes on" in evening.told()
    assert evening.state.due_s == evening.now - 90 + PLAN.action("fixing").duration_s


def test_a_bath_is_repeated_with_its_rinse_and_the_evening_goes_on_where_it_was():
    evening = Evening().until("dissolving")
    before = effect(
        evening.state, Event(kind="step_repeated", action="acid_rinse_2", text="yellow", at_s=evening.now), evening.now
    )
    fills = [a for a in PLAN.actions if a.step == "acid_rinse_2" and a.fill is not None]
    assert [a.key for a in before.comes] == ["acid_rinse_2", *(a.key for a in fills)]
    acid_rinse = PLAN.action("acid_rinse_2")
    assert before.later_s == pytest.approx(sum(a.pour_s + a.duration_s for a in (acid_rinse, *fills)))
    evening.do("step_repeated", action="acid_rinse_2", text="yellow")
    assert evening.state.action.key == "acid_rinse_2" and evening.state.clock_from_s is None
    evening.until("dissolving")
    assert evening.state.ahead == () and evening.state.action.key == "dissolving"
    uses = [use for use in bath_uses(evening.state) if use.step == "acid_rinse_2"]
    assert [use.mark for use in uses] == ["acid_rinse_2", "acid_rinse_2#2"]
    assert len([d for d in evening.state.done if d.key == fills[0].key]) == 2


def test_what_is_in_the_tank_and_what_happened_in_the_dark_is_not_repeated():
    evening = Evening().until("bleaching")
    evening.do("step_repeated", action="load.1", text="crooked")
    assert evening.refused() and "cannot be repeated" in evening.told()
    evening.do("step_repeated", action="fixing", text="too early")
    assert evening.refused() and "has not been done" in evening.told()
    evening.do("poured", after=20, action="bleaching")
    evening.do("step_repeated", action="first_development", text="murky")
    assert evening.refused() and "Finish it first" in evening.told()


def test_a_first_development_in_two_passes_counts_with_both():
    evening = Evening().until("bleaching")
    evening.do("step_repeated", action="first_development", text="ran dry")
    evening.do("poured", after=20, action="first_development")
    evening.touch(after=60, cut_short=True)
    (true,) = true_controls(evening.state)
    assert true.controls["first_developer_time_min"] == pytest.approx(10.0, abs=0.01) and "2 passes" in developed_words(
        true.went
    )


def test_a_step_is_left_out_with_its_reason_and_can_be_taken_back():
    evening = Evening().until("fill_bottles")
    skipped = evening.do("step_skipped", after=5, action="fill_bottles", text="done yesterday")
    assert evening.state.action.key == "prewarm" and evening.state.passed[0].reason == "done yesterday"
    assert all(d.key != "fill_bottles" for d in evening.state.done)
    evening.do("taken_back", of=skipped)
    assert evening.state.action.key == "fill_bottles" and evening.state.passed == ()
    evening.until("bleaching")
    evening.do("poured", after=20, action="bleaching")
    evening.do("step_skipped", action="bleaching", text="no")
    assert evening.refused() and "end the bath" in evening.told()


def test_leaving_out_the_destruction_leaves_the_duty():
    evening = Evening().until("dissolving.destroy_acid")
    assert still_to_destroy(evening.state) == ("ammonia_bath",)
    evening.do("step_skipped", action=evening.state.action.key, text="tired")
    while evening.state.action is not None:
        evening.touch(after=evening.state.action.duration_s)
    assert (
        still_to_destroy(evening.state) == ("ammonia_bath",) and destroyed_at_s(evening.state, "ammonia_bath") is None
    )


def test_a_bath_used_again_after_its_destruction_must_be_destroyed_again():
    evening = Evening().until("clear_up")
    assert still_to_destroy(evening.state) == ()
    evening.do("step_repeated", action="dissolving", text="not clear")
    evening.until("clear_up")
    assert still_to_destroy(evening.state) == ("ammonia_bath",)


def test_replay_from_the_beginning_gives_the_same():
    evening = Evening().until("first_development")
    slip = evening.do("poured", after=5, action="first_development")
    evening.do("taken_back", of=slip)
    evening.do("poured", after=20, action="first_development")
    noted = evening.do("temperature_noted", after=10, temperature_c=25, action="first_development")
    evening.do("changed", of=noted, temperature_c=20.5)
    evening.touch(after=530)
    assert fold(PLAN, evening.events) == evening.state
    assert standing(fold(PLAN, effective(evening.events))) == standing(evening.state)


# At the door: what hardly any bath has is asked about before it is kept


@pytest.mark.parametrize(
    ("temperature_c", "meant"), [(68, "20.0 C"), (99, ""), (75, "23.9 C"), (-4, ""), (2.05, ""), (36.5, "")]
)
def test_a_temperature_no_bath_has_is_asked_about_before_it_is_kept(workbench, temperature_c, meant):
    sink = workbench.sink
    run = sink.begin({"route": "permanganate_light"})
    sink.record(run, "s", {"kind": "started"})
    event = {"kind": "temperature_noted", "action": "check", "temperature_c": temperature_c}
    with pytest.raises(UnlikelyError) as asked:
        sink.record(run, "t", event)
    assert f"{temperature_c:g} C is hardly" in asked.value.sentence and meant in asked.value.sentence
    assert ("F would be" in asked.value.sentence) == bool(meant)
    assert sink.state(run).temperatures == ()
    sink.record(run, "t", event | {"sure": True})
    assert [n.temperature_c for n in sink.state(run).temperatures] == [temperature_c], "the person's word stands"
    with pytest.raises(UnlikelyError):
        sink.record(run, "c", {"kind": "changed", "of": "t", "temperature_c": 98})


@pytest.mark.parametrize("temperature_c", [4, 18, 20, 35.9])
def test_what_a_bath_can_have_is_taken_at_once(workbench, temperature_c):
    sink = workbench.sink
    run = sink.begin({"route": "permanganate_light"})
    sink.record(run, "s", {"kind": "started"})
    sink.record(run, "t", {"kind": "temperature_noted", "action": "first_development", "temperature_c": temperature_c})
    # Powders are dissolved in warm water.
    sink.record(run, "u", {"kind": "temperature_noted", "action": "lay_out", "temperature_c": 50})
    assert len(sink.state(run).temperatures) == 2


def test_a_temperature_read_before_any_bath_counts_where_the_bath_itself_was_not_read():
    evening = Evening().until("prewarm")
    evening.do("temperature_noted", temperature_c=21.5)
    evening.do("temperature_noted", temperature_c=45, sure=True)  # of something else: no bath has that
    evening.until("first_development.rinse.1")
    told = true_controls(evening.state)[0]
    assert told.controls["temperature_c"] == 21.5
    assert told.control_sds["temperature_c"] == number("practice.run.temperature_unnoted_sd_c")
    assert "Nobody read the bath; the 21.5 C read before it are taken" in developed_words(told.went)
    late = Evening().until("first_development.rinse.1")
    late.do("temperature_noted", temperature_c=21.5)
    assert "Nobody read the temperature" in developed_words(true_controls(late.state)[0].went), (
        "what is read after it tells nothing of it"
    )


def test_a_rinse_that_was_ended_early_on_purpose_is_kept_so():
    evening = Evening().until("first_development.rinse.1")
    rinse = evening.state.action
    assert rinse.asked_until_s == rinse.cues[0].at_s + rinse.cues[0].lasts_s, "until its turns are over"
    evening.touch(after=rinse.asked_until_s - 1, cut_short=True)
    assert evening.state.done[-1].cut_short and evening.state.done[-1].key == rinse.key
    evening.touch(after=evening.state.action.asked_until_s, cut_short=True)
    assert not evening.state.done[-1].cut_short, "by then it is not early"
    handwork = {a.key for a in PLAN.actions if a.kind in ("lay_out", "prepare", "weigh", "fill_bottles", "prewarm")}
    assert {a.key for a in PLAN.actions if a.asked_until_s and a.key in handwork} == set(), (
        "hands know when they are done"
    )


def test_what_makes_a_used_bath_harmless_is_asked_about_until_its_time_is_over():
    plan = plan_run(routes()["iron_ammonia_light"], formulas(), tank_ml=500)
    destroys = [a for a in plan.actions if a.kind == "destroy"]
    assert destroys and all(a.asked_until_s == (0 if a.unattended_s else a.duration_s) for a in destroys)
    assert any(a.asked_until_s for a in destroys)


def test_even_the_beginning_is_taken_back_while_nothing_rests_on_it():
    evening = Evening()
    began = evening.do("started")
    evening.do("taken_back", of=began)
    assert evening.state.status == "planned" and evening.state.began_s is None
    again = evening.do("started", after=60)
    noted = evening.do("note", text="a word")
    evening.do("taken_back", of=again)
    assert evening.state.status == "running" and evening.orders[0].do == "refuse"
    evening.do("taken_back", of=noted)
    evening.do("taken_back", of=again)
    assert evening.state.status == "planned"
