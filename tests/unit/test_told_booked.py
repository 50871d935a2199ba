"""What is written into shelf, jugs and notebook after an evening: each booking by itself, done once and done twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from obverse.clock import FixedClock
from obverse.foundation import Caution, InputError, Level
from obverse.process import Bottle, Equipment
from obverse.process.catalog import formulas, products, routes
from obverse.run import (
    Action,
    AtHand,
    BathUse,
    Developed,
    Event,
    PlanCaution,
    PlannedBath,
    Strip,
    TrueControls,
    plan_run,
)
from obverse.run.plan import BathPortion
from obverse.run.state import Done
from obverse.safety.clip import MOST_CLIP_S
from obverse.workbench import at_hand, booking
from obverse.workbench.bootstrap import Workbench
from obverse.workbench.duties import duties_of
from tests.told_kept import EVENING, darkroom, told_as_kept
from tests.unit.test_told_everything import outcome

AT_S = EVENING.timestamp()
FIXER, IRON, PEROXIDE = "fixer_rapid", "bleach_iron_chloride", "bleach_peroxide_acid"
USE = BathUse("fixing", "fixing", "fixing", FIXER, 500.0, ("A", "B"), 300.0, 240.0, "keep", "A")


def action(key: str, kind: str = "bath", formula: str = FIXER, **more: Any) -> Action:
    return Action(key=key, kind=kind, name=key, duration_s=240, formula=formula, **more)


def done(key: str, took_s: float = 300.0, begun_s: float = AT_S) -> Done:
    return Done(key=key, began_s=begun_s - 10, clock_from_s=begun_s, ended_s=begun_s + took_s, planned_s=took_s)


def state(*actions: Action, over: tuple[Done, ...] = (), **more: Any) -> Any:
    of = {one.key: one for one in actions}
    plan = SimpleNamespace(actions=actions, action=of.__getitem__)
    return SimpleNamespace(plan=plan, done=over, clock_from_s=None, last_s=AT_S + 77, **more)


def _bottles(bench: Workbench) -> list[Any]:
    return [
        [kept.thing.name, kept.thing.formula, kept.thing.amount, str(kept.thing.mixed_at), kept.retired_at is not None,
         [[p.films, round(p.area_m2, 4), p.time_ratio, str(p.at), p.run] for p in kept.thing.passes], [[n.kind, n.clip_s, n.run] for n in kept.thing.notes]]
        for kept in bench.store.bottles.all(retired=True)
    ]  # fmt: skip


def kept_baths(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found = dict[str, Any]()
    mixed, other = action("mix", "prepare"), action("mix iron", "prepare", IRON)
    for name, use, mark, evening in (
        ("the first", USE, "r1/fixing", state(mixed, other)),
        ("the same again", USE, "r1/fixing", state(mixed, over=(done("mix"),))),
        ("another evening", replace(USE, strips=("A",), took_s=241.0), "r2/fixing", state(mixed, other, over=(done("mix iron"),))),
        ("a third, far too short", replace(USE, took_s=12.0), "r3/fixing", state()),
        ("a fourth, far too long", replace(USE, took_s=4800.0), "r4/fixing", state()),
        ("mixed tonight", replace(USE, volume_ml=700.0), "r5/fixing", state(mixed, over=(done("mix"),))),
        ("the newest", USE, "r6/fixing", state()),
        ("another bath", replace(USE, formula=IRON, mark="bleaching"), "r6/bleaching", state()),
    ):  # fmt: skip
        work = booking._kept_bath(bench.store, bench.care, use, 0.1, mark, evening)
        found[name] = [work(), work()]
        clock.advance(60)
    return {**found, "bottles": _bottles(bench)}


def clips(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found, dip = dict[str, Any](), action("clip", "clip")

    def told(took_s: float, mark: str) -> Any:
        work = booking._clip(bench.store, bench.care, done("clip", took_s), mark, state(dip))
        return outcome(work)

    found["no bottle"] = [told(s, "r0/clip#0") for s in (-1.0, 0.0, 0.4, 40.0, MOST_CLIP_S, MOST_CLIP_S + 1)]
    bench.care.mix_bath(FIXER, 500, name="Old")
    clock.advance(60)
    bench.care.mix_bath(FIXER, 500, name="New")
    found["a bottle"] = [told(s, f"r1/clip#{n}") for n, s in enumerate((0.0, 1.0, 30.0, 75.0, 200.0))]
    found["twice"] = [told(90.0, "r1/clip#3"), told(MOST_CLIP_S, "r1/clip#9")]
    return {**found, "bottles": _bottles(bench)}


def jugs(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found, care = dict[str, Any](), bench.care

    def pour(name: str, mark: str, formula: str = FIXER, area_m2: float = 0.1, **more: Any) -> None:
        work = booking._jug(care, replace(USE, formula=formula, **more), area_m2, mark, formulas()[formula])
        found[name] = [outcome(work), outcome(work)]
        clock.advance(60)

    pour("the first", "r1/a")
    pour("to nine tenths", "r1/b", volume_ml=4000.0)
    pour("beyond", "r1/c", volume_ml=0.1)
    pour("more than a usual jug", "r1/d", volume_ml=5000.0)
    pour("without silver", "r1/e", area_m2=0.0)
    pour("hardly any silver", "r1/f", area_m2=0.0005)
    pour("a little more", "r1/g", area_m2=0.001)
    pour("another class", "r1/h", "stop_bath" if "stop_bath" in formulas() else IRON, waste_jug="B")
    pour("what must not meet", "r1/i", "ammonia_bath")
    care.begin_jug("A", 9000.0, name="Second")
    pour("into the last of them", "r2/a")
    return found | {
        "jugs": [[v.jug.name, v.jug.letter, v.jug.capacity_ml, [[p.what, p.volume_ml, p.silver_low_g, p.silver_likely_g, p.silver_high_g, str(p.on), p.note] for p in v.jug.contents]] for v in care.jugs()]
    }  # fmt: skip


def standing(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found, mixed = dict[str, Any](), action("mix", "prepare", PEROXIDE)
    other = action("mix fixer", "prepare")
    use = replace(USE, action="bleaching", mark="bleaching", formula=PEROXIDE, volume_ml=510.0)
    for name, mark, evening in (
        ("mixed and used", "r1/bleaching", state(mixed, over=(done("mix", 60, AT_S - 900), done("bleaching")))),
        ("used only", "r2/bleaching", state(mixed, other, over=(done("mix fixer", 60), done("bleaching", 300, AT_S + 120)))),
        ("in the tank", "r3/bleaching", state(mixed)),
    ):  # fmt: skip
        work = booking._still_standing(bench.store, use, 0.1, mark, evening, "Peroxide bleach")
        found[name] = [work(), work()]
        clock.advance(60)
    begun = state()
    begun.clock_from_s = AT_S + 30
    found["its clock runs"] = booking._still_standing(bench.store, use, 0.1, "r4/bleaching", begun, "Bleach")()
    seen = [[len(booking.used_bottles(bench.store, run, PEROXIDE)), len(booking.used_bottles(bench.store, run, FIXER))] for run in ("r1", "r", "r9")]  # fmt: skip
    steps = [action(f"destroy {n}", "destroy", PEROXIDE, waste_jug=jug) for n, jug in enumerate(("", "B", "C", ""))]
    fixing = action("destroy fixer", "destroy", waste_jug="A")
    for name, actions in {"one step": (steps[0], fixing), "one step, a jug": (fixing, steps[1]), "four steps": steps, "none": (fixing,)}.items():  # fmt: skip
        found[f"destroyed in {name}"] = booking._destroyed(bench.store, use, "r1", state(*actions), "Bleach")()
    seen += [[len(booking.used_bottles(bench.store, "r1", PEROXIDE)), len(booking.used_bottles(bench.store, "r1", PEROXIDE, retired=True))]]  # fmt: skip
    found["by evening"] = seen
    return {**found, "bottles": _bottles(bench)}


def trials(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    notebook, found = bench.notebook, dict[str, Any]()
    film = notebook.add_film({"name": "Grey", "box_speed": 100}).id
    went = Developed(612.0, 600.0, 1, (20.0,), False, None, 0, False)
    true = TrueControls(
        Strip(name="A", film=film, recipe="r"),
        {"first_developer_time_min": 10.2, "temperature_c": 20.5},
        {"first_developer_time_min": 0.1},
        went,
    )
    note = booking._note_of(true)
    for name, corrected in {
        "not there yet": true,
        "of another evening": true,
        "said alike": true,
        "corrected": replace(true, controls={"first_developer_time_min": 11.0, "temperature_c": 21.0}),
        "another doubt": replace(true, control_sds={"first_developer_time_min": 0.2}),
        "another note": replace(true, went=replace(went, skipped=1)),
        "of another strip": replace(true, strip=Strip(name="B", film=film)),
    }.items():
        if name in ("of another evening", "said alike"):
            kept = notebook.add_trial(
                film, {"controls": true.controls, "control_sds": true.control_sds, "note": note}, run="r1" if name == "said alike" else "r2", strip="A", booked_note=note
            )  # fmt: skip
        told = booking._trial_again(notebook, "r1", corrected)()
        now = [one.thing.trial for one in notebook.trials(film)]
        found[name] = [told, [[t.id, t.controls, t.control_sds, t.note] for t in now]]
        clock.advance(60)
    notebook.change_trial(kept.id, {"note": "Mine."})
    found["a note of one's own"] = [
        booking._trial_again(notebook, "r1", replace(true, went=replace(went, skipped=2)))(),
        notebook.trial(kept.id).thing.trial.note, notebook.trial(kept.id).thing.booked_note,
    ]  # fmt: skip
    entry = notebook.trial(kept.id).thing
    found["of this evening and strip"] = [
        booking._is_of(entry, run, replace(true, strip=Strip(name=name)))
        for run, name in (("r1", "A"), ("r1", "B"), ("r2", "A"))
    ]
    event = [Event(kind="booked", at_s=1, text="trial:A"), Event(kind="note", at_s=1, text="x")]
    back = [Event(kind=kind, at_s=1, of="x", text="y") for kind in ("taken_back", "changed")]
    found["corrected since"] = [
        booking._corrected_since(SimpleNamespace(events=events), "trial:A")  # type: ignore[arg-type]
        for events in ([], back, event, [back[0], *event], [*event, back[0]], [*event, back[1]], [Event(kind="note", at_s=1, text="trial:A"), *back])
    ]  # fmt: skip
    found["an instant"] = booking._instant(AT_S + 0.7)
    return found


def evenings(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    """Which bookings an evening has, by what was done of it, and what each writes down."""
    film = bench.notebook.add_film({"name": "Grey", "box_speed": 100}).id
    strips = [{"name": "A", "film": film}, {"name": "B"}]
    care, found = (bench.store, bench.care, bench.notebook), dict[str, Any]()
    for run in ("r1", "r2"):
        asked = {"route": "iron_ammonia_fogging", "tank_ml": 500, "strips": strips, "clip_tests": True, "name": run}
        begun = bench.sink.state(bench.sink.begin(asked, id=run, person="K."))
        plan = begun.plan
        whole = [done(one.key, one.duration_s, AT_S + one.start_s) for one in plan.actions]
        for name, over in {
            "nothing done": (),
            "all": tuple(whole),
            "nothing destroyed": tuple(d for d in whole if plan.action(d.key).kind != "destroy"),
            "one bath twice": tuple(d for d in (*whole, *whole) if plan.action(d.key).kind == "bath"),
        }.items():
            if run == "r1":
                now = begun.model_copy(update={"done": over})
                found[f"{run}, {name}"] = [key for key, _ in booking.book(*care, run, now)]
        events = (Event(kind="booked", at_s=1, text="trial:A"), Event(kind="changed", at_s=2, of="x", text="y"))
        now = begun.model_copy(update={"done": tuple(whole), "events": events})
        works = dict(booking.book(*care, run, now))
        found[f"{run}, corrected"] = [len(key) for key in works if "trial" in key]
        found[f"{run}, told"] = {key[:40]: work() for key, work in works.items() if key[:8] != "trial:A:"}
        (trial,) = [kept for kept in bench.notebook.trials(film) if kept.thing.run == run]
        found[f"{run}, a trial"] = [trial.thing.strip, trial.thing.recipe, trial.thing.booked_note, trial.thing.trial]
        bench.notebook.retire_trial(trial.id)
        found[f"{run}, again"] = [work() for key, work in works.items() if "destroyed" not in key]
        clock.advance(60)
    return found


@pytest.mark.parametrize(
    "telling", [kept_baths, clips, jugs, standing, trials, evenings], ids=lambda telling: telling.__name__
)
def test_what_is_booked_is_what_was_read(tmp_path, telling, monkeypatch):
    # What the engine finds has tests of its own, and takes longest.
    monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    with darkroom(tmp_path) as opened:
        assert not told_as_kept(f"booked_{telling.__name__}", telling(*opened))


# What stands ready


class _Shelf:
    """As much of a shelf as is asked for."""

    def __init__(self, bottles: Any = (), equipment: Any = (), own: Any = ()):
        self._all = [
            [SimpleNamespace(id=n, thing=one) for n, one in enumerate(many)] for many in (bottles, equipment, own)
        ]
        self.is_empty = not (bottles or own)

    def bottles(self) -> Any:
        return self._all[0]

    def equipment(self) -> Any:
        return self._all[1]

    def products(self) -> Any:
        return self._all[2]


def at_hand_now(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found = dict[str, Any]()
    asked = (
        AtHand(key="bucket", what="bucket", of="x", amount=6000.0, count=2),
        AtHand(key="bucket", what="bucket", of="y", amount=3000.0),
        AtHand(key="test_strips", what="strips", of="x"),
        AtHand(key="salt", what="salt", of="x", amount=10.0, substances=("sodium_carbonate",)),
        AtHand(key="salt", what="salt", of="y", amount=10.0, substances=("sodium_carbonate",)),
        AtHand(key="soda", what="soda", of="z", substances=("sodium_carbonate",)),
        AtHand(key="cup", what="cup", of="x"),
    )

    def bucket(name: str, volume_ml: float | None) -> Equipment:
        return Equipment(key="b", name=name, kind="bucket", volume_ml=volume_ml)

    soda = products()["soda_ash"]
    mixed = next(
        p
        for p in products().values()
        if len(p.contents) > 1 and any(c.substance == "sodium_carbonate" for c in p.contents)
    )
    bag = Bottle(name="Bag", product=soda.key, amount=18.0)
    strips = Equipment(key="s", name="Paper", kind="test_strips")
    shelves = {
        "nothing": _Shelf(),
        "only a bucket": _Shelf(equipment=(bucket("Small", 2999.0),)),
        "one large": _Shelf(equipment=(bucket("Large", 6000.0), strips)),
        "three": _Shelf(equipment=(bucket("One", 6000.0), bucket("Two", None), bucket("Three", 3000.0), strips, replace_name(strips, "Other"), replace_name(strips, "Third"))),
        "two of a size": _Shelf(equipment=(bucket("One", 7000.0), bucket("One", 7000.0), bucket("One", 8000.0))),
        "just enough": _Shelf((bag,), (), (soda,)),
        "enough for one": _Shelf((bag.model_copy(update={"amount": 9.0}),), (), (soda,)),
        "too little": _Shelf((bag.model_copy(update={"amount": 8.9}),), (), (soda,)),
        "a pinch": _Shelf((bag.model_copy(update={"amount": 0.5}),), (), (soda,)),
        "two bags": _Shelf((bag.model_copy(update={"amount": 9.0}), bag.model_copy(update={"amount": 9.0})), (), (soda,)),
        "not measured": _Shelf((bag.model_copy(update={"amount": None}), bag.model_copy(update={"amount": 1.0})), (), (soda,)),
        "no bottle": _Shelf((), (), (soda,)),
        "another's bag": _Shelf((bag.model_copy(update={"product": "x", "amount": 1.0}),), (), (soda,)),
        "among others": _Shelf((), (), (mixed,)),
        "nothing in it": _Shelf((), (), (soda.model_copy(update={"contents": ()}),)),
    }  # fmt: skip
    for name, shelf in shelves.items():
        found[name] = [[one.key, one.of, one.state, one.have] for one in at_hand._compared(asked, shelf)]  # type: ignore[arg-type]
    found["a standing bath"] = [
        [[c.code, c.text, c.level, c.where] for c in at_hand._of_a_standing_bath(bag.model_copy(update={"amount": amount, "expires_on": until}), 500.0, EVENING.date())]
        for amount in (None, 0.0, 0.4, 499.6, 500.0) for until in (None, date(2031, 11, 4))
    ]  # fmt: skip
    portion = BathPortion(product="p", name="My ammonia", amount=5.0, unit="mL")
    bath = PlannedBath(formula="f", name="bath I", volume_ml=500.0, portions=(portion, portion))
    baths = [
        bath, bath.model_copy(update={"name": "fixer", "portions": (), "bottle": "Jug 3"}), bath.model_copy(update={"name": "bare", "portions": ()}),
        bath.model_copy(update={"name": "My ammonia"}), bath.model_copy(update={"name": "two", "portions": (portion, portion.model_copy(update={"name": "Salt"}))}),
    ]  # fmt: skip
    told = tuple(
        PlanCaution(code="c", text=text, level=level)
        for level in ("note", "caution", "danger")
        for text in (
            "Bath I meets bath I and bath III.",
            "The fixer, the prefixer; Fixer.",
            "bare; My ammonia; two.",
            "A bath I, no, bath I.",
        )
    )
    found["with one's own bottles"] = [one.text for one in at_hand._with_own_bottles(told, baths)]
    return found


def replace_name(one: Equipment, name: str) -> Equipment:
    return one.model_copy(update={"name": name})


def baths_of_an_evening(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    """The baths of a plan as a shelf makes them: mixed tonight, standing, unmade, made while another works; what they cost and warn of."""
    asked, found = list[Any](), dict[str, Any]()

    def sheet(formula: Any, volume_ml: float, controls: Any, choices: Any) -> Any:
        asked.append([formula.key, volume_ml, controls, choices])
        if formula.key == "wash_aid_sulfite":
            raise InputError("nothing brings it", where="wash aid")
        lines = [
            SimpleNamespace(kind=kind, product=f"p of {formula.role}", name="My bottle", amount=12.0, unit="mL") for kind in ("water", "product")
        ]  # fmt: skip
        codes = (("mix.heat", Level.CAUTION), ("mix.note", Level.NOTE), ("bottle.short", Level.CAUTION), ("pair.unread", Level.DANGER), ("pair.x", Level.DANGER))  # fmt: skip
        told = [Caution(code, code, level) for code, level in codes] if formula.key == "acid_rinse" else []
        return SimpleNamespace(lines=lines, all_cautions=told, formula=formula.key)

    route = routes()["iron_ammonia_fogging"]
    fogging = route.step("fogging").model_copy(
        update={"made": "during", "made_during": "bleaching", "mix": "5 g dithionite", "volume_ml": None}
    )
    route = route.with_step(fogging).with_step(
        route.step("fixing").model_copy(update={"mix": "fixer 1+4", "volume_ml": 450.0})
    )
    strips = (
        Strip(name="A", controls={"first_developer_time_min": 8.0, "solvent_ml_per_l": 3.0}),
        Strip(name="B", controls={"first_developer_time_min": 9.0, "solvent_ml_per_l": 4.0}),
    )
    plan = plan_run(route, formulas(), tank_ml=500.0, strips=strips)
    iron = Bottle(name="Iron jug", formula=IRON, amount=300.0)
    soda = products()["soda_ash"]
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(
            at_hand,
            "cost_of",
            lambda sheet, products: SimpleNamespace(
                known=1.5 if products else 0.0, unpriced=["My bottle"] * (sheet.formula == "acid_rinse")
            ),
        )
        mine.setattr(
            at_hand,
            "stock_told",
            lambda amounts, own, bottles, today: (
                [Caution("stock", f"{sorted(amounts.items())} {sorted(own)} {len(bottles)} {today}", Level.NOTE)] * 2
            ),
        )
        for name, shelf, priced in (
            ("a jug", _Shelf((iron, Bottle(name="Powder", product=soda.key)), (), (soda,)), (soda,)), ("a jug that nobody measured", _Shelf((iron.model_copy(update={"amount": None}),)), ()), ("nothing", _Shelf(), ()),
        ):  # fmt: skip
            asked.clear()
            shelf.products_or_generic = lambda priced=priced: priced  # type: ignore[attr-defined]
            made = at_hand.with_shelf(
                plan, formulas(), SimpleNamespace(sheet=sheet), shelf, EVENING.date(), {"sodium_carbonate": "soda_ash"}
            )  # type: ignore[arg-type]
            new = [c for c in made.cautions if c.code not in {one.code for one in plan.cautions}]
            told = [
                made.baths,
                made.cost,
                made.unpriced,
                made.choices,
                [[c.code, c.where, c.level, c.text] for c in new],
                asked[:],
            ]
            before = found.get("a jug")
            found[name] = [now for place, now in enumerate(told) if before is None or now != before[place]]
    return found


def duties_now(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    """Used baths that must go, the oldest clock first, by how long ago the clock began."""
    care = bench.care
    found = dict[str, Any]()
    for name, ago_s in (("late", 3 * 3600.0), ("soon", 60.0), ("nobody knows", 0.0), ("not used", 0.0)):
        clock.advance(1)
        id = care.mix_bath("ammonia_bath", 500, name=name)
        if name == "not used":
            continue
        care.count_pass(id, run="r7/x" if name == "late" else "")
        kept = bench.store.bottles.get(id).thing
        at = None if name == "nobody knows" else datetime.fromtimestamp(AT_S - ago_s, UTC)
        passes = tuple(one.model_copy(update={"at": at}) for one in kept.passes)
        bench.store.bottles.put(kept.model_copy(update={"passes": passes, "mixed_at": None}), id=id)
    sink = SimpleNamespace(duties=lambda: (), taken=lambda run, formula: f"{run} {formula} K.")
    for one in duties_of(care, sink):  # type: ignore[arg-type]
        seen = None if one.by_s is None else round(one.by_s - AT_S)
        found[one.what] = [one.why.partition(",")[2], one.href[:18], one.taken, one.run, one.formula, one.overdue, seen]
    found["level"] = Caution("x", "y", Level.NOTE).level.value
    return found


@pytest.mark.parametrize(
    "telling", [at_hand_now, baths_of_an_evening, duties_now], ids=lambda telling: telling.__name__
)
def test_what_stands_ready_and_what_must_go_is_what_was_read(tmp_path, telling, monkeypatch):
    monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    with darkroom(tmp_path) as opened:
        assert not told_as_kept(f"booked_{telling.__name__}", telling(*opened))
