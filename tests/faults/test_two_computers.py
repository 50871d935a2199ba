"""Two computers on one notebook: one run, one clock, whoever looks."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest

from obverse.clock import FixedClock
from obverse.workbench.bootstrap import open_workbench
from tests.conftest import EVENING
from tests.postgresql import on_both

# The second computer has been on for days longer, the third since a moment ago.
ON_FOR_S = (1_000.0, 300_000.0, 3.0)
EVENING_PLAN = {"route": "iron_ammonia_light", "tank_ml": 500}


class Computer:
    """A computer with a date and a steady clock of its own on the shared notebook."""

    def __init__(self, home, url, on_for_s, date_off_s=0.0):
        self.clock = FixedClock(EVENING + timedelta(seconds=date_off_s - on_for_s))
        self.clock.advance(on_for_s)
        self.bench = open_workbench(home, url=url, clock=self.clock)

    def look(self, run):
        return self.bench.sink.look(run).document()


@pytest.fixture
def shared_url(tmp_path, store_url):
    return f"sqlite:///{tmp_path / 'n.sqlite'}" if store_url == "sqlite://" else store_url


@pytest.fixture
def computers(tmp_path, shared_url):
    made = [Computer(tmp_path, shared_url, on_for_s) for on_for_s in ON_FOR_S]
    yield made
    for computer in made:
        computer.bench.close()


def pass_s(computers, seconds):
    for computer in computers:
        computer.clock.advance(seconds)


@on_both
def test_a_b_a_b_all_show_the_seconds_that_truly_passed(computers):
    a, b, _ = computers
    run = a.bench.sink.begin(EVENING_PLAN)
    a.bench.sink.record(run, "start", {"kind": "started"})
    began_s = a.look(run)["now_s"]
    for turn, computer in enumerate((a, b, a, b, a, b, b, a), 1):
        pass_s(computers, 5)
        assert computer.look(run)["now_s"] - began_s == pytest.approx(5 * turn, abs=1e-3)
    clocks = [kept for kept in a.bench.store.events(run) if kept.body["kind"] == "clock"]
    assert len(clocks) == 1, "one anchor for the second computer, however often both look"


@on_both
def test_three_computers_touch_by_turns_and_no_event_lies_before_another(computers):
    a = computers[0]
    run = a.bench.sink.begin(EVENING_PLAN)
    a.bench.sink.record(run, "start", {"kind": "started"})
    for turn in range(9):
        pass_s(computers, 7)
        computers[turn % 3].bench.sink.record(run, f"note {turn}", {"kind": "note", "text": f"note {turn}"})
    told = [kept.body for kept in a.bench.store.events(run)]
    instants = [event["at_s"] for event in told if event["kind"] != "clock"]
    assert instants == pytest.approx([instants[0] + 7 * turn for turn in range(10)], abs=1e-3)
    assert len({kept.event_id for kept in a.bench.store.events(run)}) == len(told)
    looks = [computer.look(run) for computer in computers]
    assert {(look["seq"], look["now_s"]) for look in looks} == {(looks[0]["seq"], looks[0]["now_s"])}


@on_both
def test_a_second_computer_whose_date_lies_behind_says_so_once_and_never_goes_back(tmp_path, shared_url):
    a = Computer(tmp_path, shared_url, 1_000.0)
    late = Computer(tmp_path, shared_url, 50_000.0, date_off_s=-3600.0)
    run = a.bench.sink.begin(EVENING_PLAN)
    a.bench.sink.record(run, "start", {"kind": "started"})
    pass_s((a, late), 60)
    a.bench.sink.record(run, "one", {"kind": "note", "text": "one"})
    seen = []
    for _ in range(4):
        pass_s((a, late), 10)
        seen += [a.look(run)["now_s"], late.look(run)["now_s"]]
    told = [kept.body for kept in a.bench.store.events(run) if kept.body["kind"] == "clock"]
    assert len(told) == 1 and "date lies" in told[0]["text"]
    assert max(seen[0::2]) - min(seen[0::2]) == pytest.approx(30, abs=1e-3)
    assert max(seen[1::2]) - min(seen[1::2]) == pytest.approx(30, abs=1e-3)
    late.bench.sink.record(run, "two", {"kind": "note", "text": "two"})
    assert [kept.body["at_s"] for kept in a.bench.store.events(run)] == sorted(
        kept.body["at_s"] for kept in a.bench.store.events(run)
    )
    for computer in (a, late):
        computer.bench.close()


@on_both
def test_a_computer_started_anew_goes_on_by_its_date_beside_the_other(tmp_path, shared_url):
    a, b = (Computer(tmp_path, shared_url, on_for_s) for on_for_s in ON_FOR_S[:2])
    run = a.bench.sink.begin(EVENING_PLAN)
    a.bench.sink.record(run, "start", {"kind": "started"})
    began_s = a.look(run)["now_s"]
    pass_s((a, b), 20)
    b.look(run)
    a.bench.close()
    b.clock.advance(40)
    again = Computer(tmp_path, shared_url, 2.0, date_off_s=60.0)
    for turn in range(1, 4):
        pass_s((again, b), 10)
        for computer in (again, b):
            assert computer.look(run)["now_s"] - began_s == pytest.approx(60 + 10 * turn, abs=1e-3)
    again.bench.close()
    b.bench.close()


def test_what_two_computers_add_to_one_jug_and_one_bath_is_all_in_it(tmp_path):
    pair = [open_workbench(tmp_path) for _ in range(2)]
    care = pair[0].care
    jug = care.begin_jug("F", 5000)
    pair[0].shelf.add_generic("fixer_ats_60wv")
    bath = care.mix_bath("fixer_rapid", 500)
    together = threading.Barrier(4)

    def add(place):
        own = pair[place % 2].care
        together.wait()
        for _ in range(4):
            own.pour(jug, "fixer_rapid", 1.0)
            own.count_pass(bath, films=0.1)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(add, range(4)))
    assert (len(care.jug(jug).jug.contents), len(care.bath(bath).bottle.passes)) == (16, 16)
    for bench in pair:
        bench.close()


def test_a_name_and_a_strip_taken_back_at_once_are_both_kept(tmp_path):
    pair = [open_workbench(tmp_path) for _ in range(2)]
    film = pair[0].notebook.add_film({"name": "grey base", "box_speed": 100}).id
    for _ in range(4):
        pair[0].notebook.add_trial(film, {"controls": {"first_developer_time_min": 10.0}, "steps": []})
    strips = [kept.thing.trial.id for kept in pair[0].notebook.trials(film)]
    together = threading.Barrier(2)

    def take_back() -> None:
        together.wait()
        for strip in strips:
            pair[0].pool.take_back(film, [strip])

    def call() -> None:
        together.wait()
        for turn in range(4):
            pair[1].pool.call(f"Attic {turn}")

    with ThreadPoolExecutor(2) as pool:
        for done in [pool.submit(take_back), pool.submit(call)]:
            done.result()
    own = pair[0].pool.own()
    assert (own.name, len(own.withdrawn)) == ("Attic 3", 4)
    for bench in pair:
        bench.close()
