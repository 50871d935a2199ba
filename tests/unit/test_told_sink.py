"""What an evening tells from its plan to the morning after: what stands ready, what counts, what is booked, what is left to do."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from obverse.clock import FixedClock
from obverse.process import FilmPiece
from obverse.run import AtHand, PlannedBath, Strip
from obverse.run.plan import BathPortion
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.duty import duty, local_clock
from obverse.workbench.evening_words import effect_words
from obverse.workbench.ready_words import (
    action_do,
    action_lines,
    bath_words,
    film_line,
    lacking,
    plan_document,
    ready_groups,
    standing_words,
)
from tests.told_kept import told_as_kept
from tests.unit.test_told_everything import outcome

EVENING = datetime(2031, 11, 5, 19, 0, tzinfo=UTC)
STOCK = {"fixer_ats_60wv": 900, "household_ammonia_10": 400, "etchant_40ww": 500, "citric_monohydrate": None, "sulfite_anhydrous": 30, "wetting_agent": 50,
         "soda_ash": 5, "paper_developer_concentrate": 1000, "metabisulfite_sodium": 0, "dithionite_85": 50}  # fmt: skip


@pytest.fixture
def stocked(tmp_path, monkeypatch):
    """A darkroom with ten bottles, a bucket, a tank, and a jug of fixer that five films went through."""
    # What the engine finds has tests of its own, and takes longest.
    monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    monkeypatch.setattr("obverse.workbench.house_opinion.check_route", lambda *given, **more: [])
    clock = FixedClock(EVENING)
    bench = open_workbench(tmp_path, url="sqlite://", clock=clock)
    for place, (key, amount) in enumerate(STOCK.items()):
        bench.shelf.add_generic(key)
        document = bench.shelf.product(key).thing.model_dump(mode="json")
        bench.shelf.change_product(key, {**document, "package_price": 4.0 + place} if place % 3 else document)
        bench.shelf.add_bottle({"name": f"my {key}", "product": key, "amount": amount})
        clock.advance(60)
    bench.shelf.add_tool({"name": "Red bucket", "kind": "bucket", "volume_ml": 6000})
    bench.shelf.add_tool({"name": "Steel tank", "kind": "tank", "volume_ml": 500, "films": 2})
    fixer = bench.care.mix_bath("fixer_rapid", 450, name="Fixer jug")
    bench.care.count_pass(fixer, films=5)
    bench.care.mix_bath("bleach_iron_chloride", 800, name="Iron jug")
    clock.advance(60)
    yield bench, clock
    bench.close()


def _planned(bench: Workbench, **more: Any) -> Any:
    plan = bench.sink.plan({"route": "iron_ammonia_fogging", "tank_ml": 500, **more})
    told = [action for action in plan.actions if action.kind in ("prepare", "bath")]
    return {
        "ready": [[group.name, [[line.what, line.state, line.said, line.formula] for line in group.lines]] for group in ready_groups(plan)],
        "film": film_line(plan), "lacking": lacking(plan), "standing": standing_words(plan), "do": [action_do(action, plan) for action in told],
        "lay out": action_lines(plan.actions[0], plan)[-3:], "load": action_lines(plan.actions[9], plan), "cost": [plan.cost, plan.unpriced], "choices": plan.choices,
        "cautions": [[c.code, c.where, c.level, c.text] for c in plan.cautions if not c.code.startswith(("route.", "process."))],
        "clips": [action.key for action in plan.actions if action.kind == "clip"], "tank": plan.tank_ml, "strips": plan.strips,
    }  # fmt: skip


def plans(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found: dict[str, Any] = {}
    film = bench.notebook.add_film({"name": "Grey", "box_speed": 100}).id
    two = [
        {"name": "A", "film": film, "pieces": [{"format": "135-36", "count": 2}]},
        {"name": "B", "pieces": [{"format": "120", "count": 2}]},
    ]
    own = {"name": "Own", "tank_ml": 400, "steps": [
        {"does": "develop", "bath": "100 mL paper developer + 2 mL rapid fixer + a pinch of love, water to 1 L", "time": "10 min", "rinse": "5"},
        {"does": "fix", "bath": "fixer 1+4", "time": "4 min", "after": "back to its jug, good for 6 films, 20 mL of fresh a film, restored with citric acid"}]}  # fmt: skip
    process = bench.processes.take_in(own)
    for name, more in {
        "as usual": {}, "all on clips": {"clip_tests": True}, "two tanks, four films": {"strips": two, "tanks": 2}, "three tanks": {"tanks": 3},
        "too full": {"strips": two}, "without two": {"without": ["clearing", "wash_aid"], "clip_tests": False}, "a fresh fixer": {"fresh": ["fixer_rapid"], "water_c": 18.0, "times_min": {"first_development": 7.0}, "choose": ["sodium_carbonate:soda_ash"]},
        "no bottle chosen": {"choose": ["sodium_carbonate"]}, "one's own": {"route": process, "tank_ml": None}, "no such film": {"strips": [{"film": "x"}]}, "no such way": {"route": "x"},
    }.items():  # fmt: skip
        told = outcome(lambda more=more: _planned(bench, **more))
        # Of the others what they tell otherwise than the usual one.
        usual = found.get("as usual", {})
        found[name] = (
            {key: said for key, said in told.items() if said != usual.get(key)} if isinstance(told, dict) else told
        )
    found["kept as a recipe"] = [
        outcome(lambda: bench.sink.keep_as_recipe({"route": "iron_ammonia_light"}, name="x")),
        bench.sink.keep_as_recipe({"route": "iron_ammonia_light", "strips": [{"film": film}]}, name="Kept so"),
    ]
    found["by it"] = [
        bench.sink.plan({"recipe": "kept-so", "tank_ml": 500}).strips,
        bench.sink.tank_ml_of(bench.processes.process("iron_ammonia_light")),
        bench.sink.tank_ml_of(bench.processes.process(process)),
    ]
    document = plan_document(
        bench.sink.plan(
            {
                "route": "iron_ammonia_light",
                "tank_ml": 500,
                "strips": [{"name": "A", "controls": {"first_developer_time_min": 8}}, {"name": "B"}],
            }
        )
    )
    found["as a document"] = [
        document["holds"],
        document["planned_s"],
        document["order_reason"],
        document["proof"]["statements"],
        [a["title"] for a in document["actions"]][::6],
    ]  # type: ignore[index, union-attr]
    part = BathPortion(product="x", name="Ammonia", amount=499.0, unit="mL")
    bath = PlannedBath(formula="f", name="ammonia bath", volume_ml=500.0, portions=(part,))
    for name, changes in {
        "undiluted": {}, "nearly": {"volume_ml": 502.0}, "in grams": {"portions": (part.model_copy(update={"unit": "g"}),)}, "as said too": {"as_said": ("a pinch of love",), "said": "ammonia and love"},
        "said alike": {"said": "500 mL  ammonia, UNDILUTED"}, "nothing": {"portions": ()}, "unmade": {"unmade": True}, "cannot": {"portions": (), "reason": "No ammonia."}, "unmade and cannot": {"unmade": True, "reason": "No ammonia."}, "in a bottle": {"bottle": "Jug 3"},
    }.items():  # fmt: skip
        found[f"bath {name}"] = bath_words(bath.model_copy(update=changes))
    plan = bench.sink.plan({"route": "iron_ammonia_light", "tank_ml": 500})
    hand = [
        AtHand(key="salt", what="salt, 10 g", of="Ammonia bath", state=state, have=have)
        for state, have in (("asked", ""), ("there", "Salt"), ("short", ""), ("missing", "x"))
    ]
    found["at hand"] = ready_groups(plan.model_copy(update={"at_hand": tuple(hand), "baths": (), "cautions": ()}))
    for name, pieces in {
        "none": (),
        "one": (FilmPiece(format="135-36"),),
        "sheets": (FilmPiece(format="4x5 sheet", count=2), FilmPiece(format="120")),
    }.items():
        found[f"film {name}"] = film_line(
            plan.model_copy(
                update={
                    "strips": (Strip(pieces=pieces),),
                    "cost": 3.2 if pieces else None,
                    "unpriced": ("a",) if name == "sheets" else (),
                }
            )
        )
    return found


def evening(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found, sink = dict[str, Any](), bench.sink
    found["nothing yet"] = [bench.where_one_stands().next, bench.where_one_stands().products]
    film = bench.notebook.add_film({"name": "Grey", "box_speed": 100}).id
    found["a film"] = bench.where_one_stands()
    rehearsal = sink.begin({"route": "permanganate_light", "tank_ml": 500, "name": "Try"}, speed=10.0, id="run-0")
    found["rehearsal"] = [
        sink.run(rehearsal).thing.name,
        outcome(lambda: sink.begin({"route": "permanganate_light"}, speed=0.5)),
        outcome(lambda: sink.settle(rehearsal)),
    ]
    clock.advance(60)
    run = sink.begin(
        {
            "route": "iron_ammonia_fogging",
            "tank_ml": 500,
            "name": "Fog",
            "strips": [{"name": "A", "film": film}],
            "clip_tests": True,
        },
        id="run-1",
        person="K.",
    )
    sink.record(run, "start", {"kind": "started"})
    found["asked"] = [
        outcome(lambda m=m: sink.record(run, "t", {"kind": "temperature_noted", **m}).orders)
        for m in (
            {"temperature_c": 68.0, "action": "check"},
            {"temperature_c": 68.0},
            {"temperature_c": 95.0},
            {"temperature_c": 5.0, "action": "check"},
        )
    ]
    found["not by hand"] = outcome(lambda: sink.record(run, "b", {"kind": "booked", "text": "x"}))
    clips = []
    number = 0

    def on(until: str) -> None:
        nonlocal number
        while (action := sink.state(run).action) is not None and action.kind != until:
            number += 1
            if action.waits_for_pour and sink.state(run).clock_from_s is None:
                clock.advance(action.pour_s)
                sink.record(run, f"p{number}", {"kind": "poured", "action": action.key})
            clock.advance(action.duration_s + (70 if action.kind == "clip" else 1))
            answer = sink.record(run, f"a{number}", {"kind": "acknowledged", "action": action.key})
            clips.extend([o.do, o.level, o.text] for o in answer.orders if action.kind == "clip")

    on("bath")
    found["clips"] = clips
    found["in hand"] = _looked(sink.look(run))
    clock.advance(10)
    sink.record(run, "in", {"kind": "poured", "action": "first_development"})
    sink.record(run, "warm", {"kind": "temperature_noted", "temperature_c": 21.0, "action": "first_development"})
    found["twice"] = sink.record(run, "warm", {"kind": "temperature_noted", "temperature_c": 21.0}).seq
    names = {"first_developer": "First developer"}
    found["what if"] = [
        effect_words(
            sink.what_if(
                run, {"kind": kind, "action": "first_development", "seconds": 600, "text": "x", "cut_short": True}
            ),
            names,
        )
        for kind in ("step_extended", "acknowledged", "step_repeated", "aborted")
    ]
    found["going"] = [
        [kept.id for kept in sink.open_runs()],
        bench.where_one_stands().next,
        bench.where_one_stands().going,
    ]
    on("destroy")
    sink.record(run, "mine", {"kind": "duty_taken", "action": "fogging_dithionite", "text": "L."})
    found["duties"] = [
        [one.what, one.why.partition(", ")[2], one.taken, one.overdue, one.href] for one in bench.duties()
    ]
    found["hours after"] = sink.taken(run, "fogging_dithionite"), sink.taken("x", "y")
    clock.advance(3600)
    found["an hour late"] = [[one.what, one.overdue, one.taken, one.formula] for one in bench.duties()]
    sink.record(run, "end", {"kind": "aborted", "text": "rain"})
    found["ended"] = [bench.where_one_stands().next, [[one.what, one.overdue, one.href[:18]] for one in bench.duties()]]
    found["report"] = _reported(sink.report(run))
    found["left behind"] = [
        [v.bottle.name, len(v.bottle.passes), [c.code for c in v.cautions]]
        for v in sorted(bench.care.baths(), key=lambda view: view.bottle.name)
    ]
    found["jugs"] = [[v.jug.letter, v.jug.volume_ml, [p.what for p in v.jug.contents]] for v in bench.care.jugs()]
    (trial,) = bench.notebook.trials(film)
    found["trial"] = [
        trial.thing.trial.controls,
        trial.thing.trial.note,
        trial.thing.trial.person,
        trial.thing.trial.wear,
    ]
    sink.record(run, "changed", {"kind": "changed", "of": "warm", "temperature_c": 22.0})
    found["corrected"] = [_reported(sink.report(run))[-3:], bench.notebook.trials(film)[0].thing.trial.controls]
    sink.record(run, "back", {"kind": "taken_back", "of": "end"})
    on("none")
    found["to its end"] = [
        _reported(sink.report(run))[-6:],
        [[one.what, one.overdue] for one in bench.duties()],
        [[k.id, k.thing.status] for k in sink.runs()],
        bench.where_one_stands().runs[:1],
    ]
    found["a picture"] = [
        outcome(lambda: sink.keep_photo(run, b"x", "text/plain")),
        [o.say.kind for o in sink.keep_photo(run, b"x", "image/png", "pic").orders if o.say],
    ]
    found["its bytes"] = [bench.store.get_blob(kept.blob).decode() for kept in sink.state(run).said if kept.blob]
    at = EVENING.timestamp()
    found["a duty"] = [
        [d.why.partition(",")[2], d.overdue]
        for d in (duty("x", "/", at, at), duty("x", "/", at, at + 90), duty("x", "/", at + 600, at))
    ] + [len(local_clock(at)), len(local_clock(at, seconds=True))]
    return found


def _looked(look: Any) -> Any:
    document = look.document()
    names = ("title", "do")
    return [look.title, look.next_title, look.do, [[e["kind"], e["temperature_c"], e["title"]] for e in document["entries"]], [one["title"] for one in document["repeatable"]][:4],
            [[d["name"], d["kind"], d["overdue"]] for d in document["deadlines"]], [document["action"][name] for name in names], document["parted"], document["anchored"]]  # fmt: skip


def _reported(report: Any) -> list[Any]:
    document = report.document()
    strips = [[s["name"], s["controls"], s["control_sds"], s["note"]] for s in document["strips"]]
    duties = [[d["name"], d["done_s"] is not None, d["taken"], d["href"][:18]] for d in document["duties"]]
    log = [
        [
            line["kind"],
            line["title"],
            line["told"],
            line["struck"],
            line["ignored"],
            line["truly"],
            line["of_kind"],
            line["correctable"],
        ]
        for line in document["log"][-14:]
    ]
    baths = [
        [b["title"], b["name"], round(b["took_s"]), round(b["planned_s"]), b["after_use"]] for b in document["baths"]
    ]
    return [
        document["status"],
        document["reason"],
        strips,
        baths,
        duties,
        document["still_to_destroy"],
        document["passed"],
        document["not_booked"],
        log,
    ]


@pytest.mark.parametrize("telling", [plans, evening], ids=lambda telling: telling.__name__)
def test_what_an_evening_tells_is_what_was_read(stocked, telling):
    assert not told_as_kept(f"sink_{telling.__name__}", telling(*stocked))
