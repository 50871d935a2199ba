"""Power cuts at named points, full disks, two windows, a date set back: nothing lost, nothing twice, the clock right."""

import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from obverse.run import Event, fold
from obverse.workbench.bootstrap import open_workbench

POWER = Path(__file__).with_name("sink_power.py")
CLOCK_S = 0.1
PLAN = {
    "route": "permanganate_light",
    "without": ["wash_aid"],
    "strips": [{"name": "strip", "controls": {"first_developer_time_min": 9}}],
}


class Power:
    """The program that forks sinks."""

    def __init__(self, home: Path):
        self.home = str(home)
        self._process = subprocess.Popen(
            [sys.executable, "-W", "error", POWER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def ask(self, *requests: dict) -> list[dict]:
        self._process.stdin.write(json.dumps([{"home": self.home, **request} for request in requests]) + "\n")
        self._process.stdin.flush()
        return json.loads(self._process.stdout.readline())

    def close(self) -> None:
        self._process.stdin.close()
        self._process.wait(timeout=120)
        self._process.stdout.close()


@pytest.fixture(scope="module")
def power(tmp_path_factory):
    running = Power(tmp_path_factory.mktemp("power"))
    yield running
    running.close()


def begun(power, plan=PLAN) -> str:
    (told,) = power.ask({"do": "begin", "plan": plan})
    return told["answer"]["run"]


# Injected: a cut at each of 68 or more events, three at the first of each kind and at an early end, one at each booking,
# 20 full disks, 14 pairs of windows, 12 dates set back and 2 restarts: more than 150.
def script(plan) -> list[dict]:
    """An evening with every kind of event in it."""
    events = [{"kind": "started"}]
    for index, action in enumerate(plan.actions):
        if action.waits_for_pour:
            events.append({"kind": "poured", "action": action.key})
            events.append({"kind": "temperature_noted", "action": action.key, "temperature_c": 20.0 + index / 100})
        if action.step in ("first_development", "fixing") and action.kind == "bath":
            events += [
                {"kind": "agitation_skipped", "action": action.key},
                {"kind": "step_extended", "action": action.key, "seconds": 30},
                {"kind": "paused"},
                {"kind": "resumed"},
            ]
        if index % 9 == 0:
            events.append({"kind": "note", "action": action.key, "text": f"note {index}"})
            events.append({"kind": "photo", "action": action.key, "blob": f"{index:064x}"})
        if action.kind == "clear_up":
            events.append({"kind": "finished"})
            break
        events.append({"kind": "acknowledged", "action": action.key, "cut_short": action.ends_by == "clock"})
    return events


def essence(state) -> dict:
    """What must be the same with and without faults: everything but the instants."""
    return {
        "status": state.status,
        "index": state.index,
        "extended": state.extended_s,
        "done": [(d.key, d.planned_s, d.skipped) for d in state.done],
        "temperatures": [(n.action, n.temperature_c) for n in state.temperatures],
        "said": [(s.action, s.text, s.blob) for s in state.said],
        "pauses": len(state.pauses),
        "booked": state.booked,
    }


def kept(power, run):
    """Events as they stand in the file, and the state they fold to."""
    bench = open_workbench(Path(power.home))
    try:
        events = bench.store.events(run)
        plan = bench.sink.state(run).plan
        state = bench.sink.state(run)
        again = fold(plan, [Event.model_validate(e.body | {"id": e.event_id}) for e in events])
        assert again == state
        return events, state
    finally:
        bench.close()


def plan_of(power, run):
    bench = open_workbench(Path(power.home))
    try:
        return bench.sink.state(run).plan
    finally:
        bench.close()


def clock_error_s(power, run) -> float:
    """How far the run's clock in a new process is from the computer's, which nobody has touched."""
    before = time.time()
    (told,) = power.ask({"do": "look", "run": run})
    return outside_s(before, told["answer"]["now_s"], time.time())


def outside_s(before: float, now: float, after: float) -> float:
    """How far an instant is outside the span in which it was asked for."""
    return max(0.0, before - now, now - after)


@pytest.fixture(scope="module")
def undisturbed(power):
    """The same evening without any fault."""
    run = begun(power)
    at_once(power, run, script(plan_of(power, run)))
    return essence(kept(power, run)[1])


def at_once(power, run, events) -> None:
    """Record these events in one program that nobody disturbs."""
    bench = open_workbench(Path(power.home))
    try:
        for number, event in enumerate(events):
            bench.sink.record(run, f"e{number}", event)
    finally:
        bench.close()


POINTS = ("before_write", "after_write", "before_answer")


def cuts_of(events) -> list[tuple[str, ...]]:
    """Where the power is cut at each event: at all three points for the first of a kind, in turn for the others."""
    seen: set[str] = set()
    found = []
    for number, event in enumerate(events):
        found.append((POINTS[number % 3],) if event["kind"] in seen else POINTS)
        seen.add(event["kind"])
    return found


def test_the_power_is_cut_at_every_event_of_an_evening(power, undisturbed):
    run = begun(power)
    events = script(plan_of(power, run))
    assert len(events) >= 68
    worst_s = 0.0
    again: dict = {}
    was_unwritten = False
    for number, (event, cuts) in enumerate(zip(events, cuts_of(events), strict=True)):
        request = {"do": "record", "run": run, "event_id": f"e{number}", "event": event}
        for cut, point in enumerate(cuts):
            # The device that was not answered sends the same event again, to a program that was started anew; the next
            # event is the last that this one is told.
            first = again if cut == 0 else {}
            (told,) = power.ask({**request, "die_at": f"{point}:{event['kind']}", "first": first})
            if first:
                assert told["first"]["answer"]["fresh"] is was_unwritten, told
            # What is written already is not written again: such a program ends at its answer, or is not cut at all.
            assert (told["code"] == 9 and "answer" not in told) or cut > 0, "the cut did not happen"
        again, was_unwritten = request, cuts == ("before_write",)
        if number % 8 == 0:
            worst_s = max(worst_s, clock_error_s(power, run))
    (told,) = power.ask(again)
    assert told["code"] == 0 and told["answer"]["fresh"] is was_unwritten, told
    written, state = kept(power, run)
    ids = [e.event_id for e in written if e.event_id.startswith("e")]
    assert ids == [f"e{n}" for n in range(len(events))]
    assert essence(state) == undisturbed
    assert worst_s < CLOCK_S


@pytest.mark.parametrize("point", POINTS)
def test_the_power_is_cut_when_an_evening_is_ended_early(power, point):
    run = begun(power)
    events = script(plan_of(power, run))
    until = next(n for n, e in enumerate(events) if e["kind"] == "poured" and e["action"] == "bleaching")
    at_once(power, run, events[: until + 1])
    request = {"do": "record", "run": run, "event_id": "end", "event": {"kind": "aborted", "text": "fire alarm"}}
    (told,) = power.ask({**request, "die_at": f"{point}:aborted"})
    assert told == {"code": 9}
    (told,) = power.ask(request)
    assert told["answer"]["view"]["status"] == "aborted"
    written, state = kept(power, run)
    assert [e.body["kind"] for e in written].count("aborted") == 1
    # The bleach that was poured in stands used; it is on the list of what must be destroyed, once.
    assert "standing:bleaching" in state.booked
    bench = open_workbench(Path(power.home))
    try:
        marks = [entry["run"] for kept_bath in bench.store.list("bottle") for entry in kept_bath.body.get("passes", [])]
        assert marks.count(f"{run}/bleaching") == 1
    finally:
        bench.close()


def test_the_power_is_cut_between_the_end_and_every_booking(power, undisturbed):
    run = begun(power)
    events = script(plan_of(power, run))
    at_once(power, run, events[:-1])
    before = booked_volumes(power)
    cuts = 0
    (told,) = power.ask(
        {"do": "record", "run": run, "event_id": "last", "event": events[-1], "die_at": "between_book:*"}
    )
    while told == {"code": 9}:
        # Each new program gets one booking further: what was booked and not yet noted is found again.
        cuts += 1
        assert cuts < 60
        booked = kept(power, run)[1].booked
        open_keys = [key for key in undisturbed["booked"] if key not in booked]
        (told,) = power.ask(
            {"do": "settle", "run": run, "die_at": f"between_book:{open_keys[1]}"}
            if len(open_keys) > 1
            else {"do": "settle", "run": run}
        )
    assert told["code"] == 0 and told["answer"]["refused"] == [] and cuts >= len(undisturbed["booked"]) - 1
    assert kept(power, run)[1].booked == undisturbed["booked"]
    after = booked_volumes(power)
    plan = plan_of(power, run)
    poured = sum(a.volume_ml for a in plan.actions if a.kind == "bath" and a.after_use == "waste")
    assert after["jugs"] - before["jugs"] == pytest.approx(poured)
    assert after["passes"] - before["passes"] == sum(a.kind == "bath" and a.after_use == "keep" for a in plan.actions)


def booked_volumes(power) -> dict:
    bench = open_workbench(Path(power.home))
    try:
        jugs = sum(item["volume_ml"] for jug in bench.store.list("jug") for item in jug.body["contents"])
        passes = sum(len(bottle.body.get("passes", [])) for bottle in bench.store.list("bottle"))
        return {"jugs": jugs, "passes": passes}
    finally:
        bench.close()


def test_a_full_disk_refuses_the_event_and_loses_nothing(power):
    run = begun(power)
    events = script(plan_of(power, run))[:20]
    requests = [
        {"do": "record", "run": run, "event_id": f"e{number}", "event": event} for number, event in enumerate(events)
    ]
    # Refused while the disk is full, and not written: when there is room, the same program writes it for the first time.
    (told,) = power.ask(
        {"do": "look", "run": run, "then": [part for one in requests for part in ({**one, "full": True}, one)]}
    )
    assert told["code"] == 0 and len(told["then"]) == 40, told
    for refused, written in zip(told["then"][::2], told["then"][1::2], strict=True):
        assert refused["error"]["code"] == "store", refused
        assert written["answer"]["fresh"] is True
    assert [e.event_id for e in kept(power, run)[0]] == [f"e{n}" for n in range(20)]


def test_two_windows_touch_at_once(power, tmp_path):
    run = begun(power)
    power.ask({"do": "record", "run": run, "event_id": "start", "event": {"kind": "started"}})
    plan = plan_of(power, run)
    for index, action in enumerate(plan.actions[:14]):
        event = {"kind": "acknowledged", "action": action.key, "cut_short": True}
        if action.waits_for_pour:
            power.ask(
                {
                    "do": "record",
                    "run": run,
                    "event_id": f"in{index}",
                    "event": {"kind": "poured", "action": action.key},
                }
            )
        gate = tmp_path / f"gate{index}"
        request = {"do": "record", "run": run, "event": event, "wait_for": str(gate)}
        # Both processes stand at the gate before it opens.
        opener = threading.Timer(0.12, gate.touch)
        opener.start()
        answers = power.ask({**request, "event_id": f"a{index}"}, {**request, "event_id": f"b{index}"})
        opener.join()
        assert [told["code"] for told in answers] == [0, 0]
        events, state = kept(power, run)
        assert state.index == index + 1, "one touch too many, or none"
        assert {f"a{index}", f"b{index}"} <= {e.event_id for e in events}
        refusals = [order for told in answers for order in told["answer"]["orders"] if order["do"] == "refuse"]
        assert len(refusals) == 1 and "Nothing was changed" in refusals[0]["text"]


def test_the_date_is_set_back_an_hour(power):
    run = begun(power)
    events = script(plan_of(power, run))[:26]
    worst_s = 0.0
    for number, event in enumerate(events):
        # Every second program finds the date an hour back.
        back_s = 3600 if number % 2 else 0
        before = time.time()
        (told,) = power.ask(
            {
                "do": "record",
                "run": run,
                "event_id": f"e{number}",
                "event": event,
                "set_back_s": back_s if number else 0,
            }
        )
        worst_s = max(worst_s, outside_s(before, told["answer"]["view"]["now_s"], time.time()))
    instants = [e.body["at_s"] for e in kept(power, run)[0]]
    assert instants == sorted(instants)
    assert worst_s < CLOCK_S


def test_a_restarted_computer_with_a_date_in_the_past_is_told_and_time_never_goes_back(power):
    run = begun(power)
    power.ask({"do": "record", "run": run, "event_id": "start", "event": {"kind": "started"}})
    last_s = kept(power, run)[1].last_s
    (told,) = power.ask({"do": "look", "run": run, "set_back_s": 3600, "boot": "another"})
    assert last_s <= told["answer"]["now_s"] < last_s + 1
    events, _ = kept(power, run)
    clock = next(e for e in events if e.body["kind"] == "clock")
    assert "look at another clock" in clock.body["text"]
    # The right date after a restart: the run is at the right second again, with no word of warning.
    run = begun(power)
    power.ask({"do": "record", "run": run, "event_id": "start", "event": {"kind": "started"}})
    before_s = time.time()
    (told,) = power.ask({"do": "look", "run": run, "boot": "yet another"})
    # However long a busy machine takes to answer, the clock stands between asking and being told.
    assert before_s - CLOCK_S < told["answer"]["now_s"] < time.time() + CLOCK_S
    assert next(e for e in kept(power, run)[0] if e.body["kind"] == "clock").body["text"] == ""
