"""What the sink decides before and after an evening, rule by rule: jugs near the end of their count, clips, tanks, odd temperatures, duties, entries.

Each rule is asked by itself, with jugs, tanks and evenings that are made by hand.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from obverse.clock import FixedClock
from obverse.foundation import InputError
from obverse.process import Agitation, Bottle, Equipment, FilmPiece, Process, Rhythm, Step, area_of_pieces_m2
from obverse.process.catalog import formulas, routes
from obverse.process.process import Renewal
from obverse.process.shelf import BathNote, BathPass
from obverse.run import Event, Strip, advance, begin, plan_run, view
from obverse.run.plan import Lived, RunPlan
from obverse.run.planner import agitation_cues
from obverse.run.state import RunState
from obverse.workbench.sink import (
    EveningLook,
    PlanRequest,
    Sink,
    _ask_about,
    _good_for,
    _near_its_end,
    _seen_films,
    asked_limits,
    bath_name,
)
from tests.told_kept import told_as_kept
from tests.unit.test_told_everything import outcome
from tests.unit.test_told_instants import PLAN, START, TO_THE_FIRST, TO_THE_FOG, F, Touch
from tests.unit.test_told_small_places import EVENING

FILM_M2 = area_of_pieces_m2(())
FIXING = routes()["iron_ammonia_fogging"].step("fixing")
TOPPED, TOPPED_BY_AREA = Renewal(top_up_ml=20), Renewal(top_up_ml=300, per="m2", top_up_with="fresh concentrate")
RESTORED = Renewal(restored_with="a little peroxide", restored_films=3)


def jug(films: float, *notes: tuple[str, float], known: bool = True) -> Bottle:
    """A jug of fixer that so many films went through; notes by kind and by how many films there had been."""
    passes = tuple(BathPass(at=EVENING, area_m2=share * FILM_M2) for share in (*[1.0] * int(films), films % 1) if share)
    told = tuple(BathNote(kind=kind, text="as seen", clip_s=30, area_m2=after * FILM_M2) for kind, after in notes)  # type: ignore[arg-type]
    return Bottle(name="Jug", formula="fixer_rapid", passes=passes, notes=told, count_known=known)


JUGS = {
    "new": jug(0), "half a film": jug(0.5), "one film": jug(1), "four films": jug(4), "five films": jug(5), "six films": jug(6), "half a film short": jug(4.5), "nobody counted": jug(0, known=False),
    "tried, nobody counted": jug(2, ("clip", 2), known=False), "tried before its last film": jug(5, ("clip", 4)), "tried since": jug(5, ("clip", 5)),
    "restored after four": jug(6, ("restored", 4)), "restored twice": jug(9, ("restored", 4), ("restored", 8)), "looked at": jug(5, ("looked", 5)),
}  # fmt: skip
STEPS: dict[str, Step] = {
    "no count": FIXING, "good for one": FIXING.model_copy(update={"good_for_films": 1.0}), "good for six": FIXING.model_copy(update={"good_for_films": 6.0}),
    "topped up": FIXING.model_copy(update={"good_for_films": 6.0, "renewal": TOPPED}), "topped up by area": FIXING.model_copy(update={"renewal": TOPPED_BY_AREA}),
    "topped up and poured away": FIXING.model_copy(update={"renewal": TOPPED, "after_use": "discard"}),
    "restored": FIXING.model_copy(update={"good_for_films": 6.0, "renewal": RESTORED}),
    "restored, nobody says for how many": FIXING.model_copy(update={"good_for_films": 6.0, "renewal": Renewal(restored_with="peroxide")}),
}  # fmt: skip


def of(*steps: Step) -> Process:
    return routes()["iron_ammonia_fogging"].model_copy(update={"steps": steps})


def counted() -> dict[str, Any]:
    found: dict[str, Any] = {}
    for step_name, step in STEPS.items():
        for name, bottle in JUGS.items():
            place: Any = SimpleNamespace(_kept=lambda route, bottle=bottle: {"fixer_rapid": bottle})
            told = [
                Sink._counted(place, of(step), films * FILM_M2, fresh)
                for films, fresh in ((1.0, ()), (2.5, ()), (0.5, ()), (1.0, ("fixer_rapid",)))
            ]
            numbers = [_good_for(step, bottle), _seen_films(bottle), _near_its_end(step, bottle)]
            found[f"{step_name}, {name}"] = [numbers, *([c.text for c in some] for some in told)]
    nothing: Any = SimpleNamespace(_kept=lambda route: {})
    found["no jug"] = [Sink._counted(nothing, of(step), FILM_M2, ()) for step in (FIXING, STEPS["topped up"])]
    return found


def clips() -> dict[str, Any]:
    way, known = routes()["iron_ammonia_fogging"], formulas()
    six = way.model_copy(update={"steps": tuple(STEPS["good for six"] if s.key == "fixing" else s for s in way.steps)})
    found: dict[str, Any] = {}
    for asked in (None, True, False):
        for films in (4, 5):
            for fresh in ((), ("fixer_rapid",)):
                place: Any = SimpleNamespace(
                    _kept=lambda route, films=films: {"fixer_rapid": jug(films)},
                    _care=SimpleNamespace(clip_expected_s=lambda formula: 30.0),
                )
                wanted = PlanRequest(clip_tests=asked, fresh=fresh)
                found[f"asked {asked}, {films} films, fresh {fresh}"] = Sink._clips_s(place, six, known, wanted)
    return found


def tanks() -> dict[str, Any]:
    small, large = (Equipment(key=f"tank_{n}", name=f"tank {n}", kind="tank", volume_ml=500, films=n) for n in (2, 3))
    others = [
        Equipment(key="other", name="other", kind="tank", volume_ml=600, films=9),
        Equipment(key="b", name="b", kind="bucket", volume_ml=500),
        SimpleNamespace(kind="tank"),
    ]

    def place(*tools: Any) -> Any:
        kept = [SimpleNamespace(thing=one) for one in tools]
        found: Any = SimpleNamespace(
            _store=SimpleNamespace(tools=SimpleNamespace(all=lambda own: kept)),
            _shelf=SimpleNamespace(equipment=lambda: kept),
        )
        found._tank_of = lambda volume_ml: Sink._tank_of(found, volume_ml)
        return found

    found: dict[str, Any] = {
        "the roomiest": [
            getattr(Sink._tank_of(place(*tools), 500.0), "name", None)
            for tools in ((), (small, large), (large, small), others)
        ]
    }
    for name, tank, tanks_taken, films in (
        ("one film", small, 1, 1), ("two films", small, 1, 2), ("three films", small, 1, 3), ("three films in two", small, 2, 3), ("five films in two", small, 2, 5), ("no tank", None, 1, 9), ("no tank, two", None, 2, 1),
    ):  # fmt: skip
        plan: Any = SimpleNamespace(
            strips=[Strip(name=f"S{n}", pieces=(FilmPiece(format="135-36"),) if n else ()) for n in range(films)]
        )
        found[name] = Sink._tank_told(place(tank) if tank else place(), plan, tanks_taken, 500.0)
    buckets = [Equipment(key=f"b{ml:g}", name=f"b{ml}", kind="bucket", volume_ml=ml) for ml in (6000.0, 9000.0)]
    found["buckets"] = [
        Sink._bucket_ml(place(*some))
        for some in ((), (small, large), buckets, [Equipment(key="x", name="x", kind="bucket")])
    ]
    found["chosen"] = [
        outcome(lambda c=c: PlanRequest(choose=c).chosen) for c in ((), ("a:b", "c:"), ("a",), ("a:b:c",))
    ]
    return found


def evening(plan: RunPlan, touches: list[Touch]) -> RunState:
    state = begin(plan)
    for count, (at, kind, more) in enumerate(touches):
        state, _ = advance(state, Event(kind=kind, at_s=at, id=f"t{count}", **more), at)
    return state


def asked() -> dict[str, Any]:
    """Temperatures about which one is asked, by where they were read."""
    state = evening(PLAN, TO_THE_FIRST + [(70, "temperature_noted", {"temperature_c": 20.0, "action": "lay_out"})])
    found: dict[str, Any] = {"limits": asked_limits()}
    for place in ("", "check", "first.1", "wash", "lay_out", "fog.destroy", "x"):
        for c in (2.0, 9.0, 36.0, 43.0, 68.0, 86.0, 100.0):
            event = Event(kind="temperature_noted", at_s=80, temperature_c=c, action=place)
            found[f"{place} {c}"] = [outcome(lambda e=event.model_copy(update={"sure": sure}): _ask_about(state, e)) for sure in (False, True)]  # fmt: skip
    changed = Event(kind="changed", at_s=80, of="t3", temperature_c=43.0)
    found["changed"] = [
        outcome(lambda: _ask_about(state, changed)),
        outcome(lambda: _ask_about(state, changed.model_copy(update={"of": "t2"}))),
    ]
    found["no temperature"] = outcome(lambda: _ask_about(state, Event(kind="note", at_s=1, text="x")))
    return found


def duties() -> dict[str, Any]:
    """Duties of evenings that go on, and of those that ended early."""
    long = Lived(
        formula=F, from_action="prepare.fog", from_edge="end", to_action="fog.stand", limit_s=6000, kind="deadline"
    )
    plan = PLAN.model_copy(update={"lives": (long, PLAN.lives[0])})
    prepared, used = evening(plan, TO_THE_FIRST), evening(PLAN, [*TO_THE_FOG, (480.0, "poured", {"action": "fog"})])
    found: dict[str, Any] = {}

    def told(
        runs: list[tuple[str, float]],
        state: RunState,
        now_s: float,
        ended: int = 0,
        done_s: float | None = None,
        href: str = "",
    ) -> Any:
        bath = SimpleNamespace(formula=F, name="Fog", done_s=done_s, href=href, taken="L.")
        place: Any = SimpleNamespace(
            open_runs=lambda: [SimpleNamespace(id=id, thing=SimpleNamespace(speed=speed)) for id, speed in runs],
            state=lambda id: state, now_s=lambda id: now_s, taken=lambda id, formula: "K.", _duties=lambda id, state: (bath,),
            _store=SimpleNamespace(runs=SimpleNamespace(all=lambda status: [SimpleNamespace(id=f"old {n}", thing=SimpleNamespace(speed=1.0 + (n == 3))) for n in range(ended)])),
        )  # fmt: skip
        # The time of day is that of the place.
        return [
            [one.what, one.why.partition(", ")[2] or one.why, one.href, one.taken, one.run, one.formula, one.overdue]
            for one in Sink.duties(place)
        ]

    for name, state, now_s in (
        ("far off", prepared, 4260.0),
        ("soon", prepared, 4260.1),
        ("past", prepared, 6061.0),
        ("in use", used, 490.0),
        ("in use, past", used, 781.0),
    ):
        found[name] = told([("e", 1.0), ("rehearsal", 2.0)], state, now_s)
    found["ended"] = [one[4] for one in told([], used, 0.0, ended=11)]
    found["one that ended"] = [
        told([], used, 0.0, ended=1),
        told([], used, 0.0, ended=1, done_s=5.0),
        told([], used, 0.0, ended=1, href="/x"),
    ]
    return found


def looked() -> dict[str, Any]:
    notes: list[Touch] = [(float(n), "note", {"text": f"note {n}"}) for n in range(1, 15)]
    state = evening(
        PLAN,
        [
            START,
            *notes,
            (20, "agitation_skipped", {}),
            (21, "taken_back", {"of": "t14"}),
            (22, "acknowledged", {"action": "lay_out"}),
        ],
    )
    look = EveningLook("e", 17, 1.0, None, True, view(state, 25.0))
    document: Any = look.document()
    names = ("title", "next_title", "do")
    early = EveningLook("e", 0, 2.0, None, False, view(begin(PLAN), 0.0))
    return {
        "entries": [[e["id"], e["kind"], e["text"], e["title"]] for e in document["entries"]],
        "whole": {name: document[name] for name in ("run", "seq", "speed", "parted", "anchored", "repeatable")},
        "words": [{name: getattr(one, name) for name in names} for one in (look, early)],
        "baths": [bath_name(key, PLAN) for key in (F, "fixer_rapid", "a_bath_of_mine")],
        "a bath of the process": bath_name("mine", plan_run_of_mine()),
    }  # fmt: skip


def plan_run_of_mine() -> RunPlan:
    mine = formulas()["fixer_rapid"].model_copy(update={"key": "mine", "name": "My fixer"})
    return PLAN.model_copy(update={"route": PLAN.route.model_copy(update={"formulas": (mine,)})})


def begun() -> dict[str, Any]:
    """Evenings as they are kept at their beginning, and in which order they stand."""

    def kept(run: Any, id: str | None, expected_revision: int | None) -> Any:
        return SimpleNamespace(id=[run.name, run.status, run.speed, run.person, run.made_at, id, expected_revision])

    place: Any = SimpleNamespace(
        plan=lambda request: PLAN, _clock=FixedClock(EVENING), _store=SimpleNamespace(runs=SimpleNamespace(put=kept))
    )
    found: dict[str, Any] = {
        f"{speed:g} times as fast": outcome(lambda s=speed: Sink.begin(place, {}, speed=s, person="K."))
        for speed in (0.99, 1.0, 1.5, 600.0, 600.1)
    }
    found["of an id"] = Sink.begin(place, {}, id="mine")
    runs = {"running": [("a", 1), ("b", 3)], "paused": [("c", 2), ("d", 3)], "finished": [("e", 9)]}

    def stored(status: str, own: bool) -> list[Any]:
        return [SimpleNamespace(created_at=at, id=id) for id, at in runs[status]]

    place._store.runs = SimpleNamespace(all=stored)
    found["open"] = [run.id for run in Sink.open_runs(place)]
    return found


def settled(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What is booked once an evening has ended: what was booked stays, what books nothing is no entry, what is refused is told."""
    log: list[Any] = []

    def refused() -> str:
        raise InputError("the jug is full", where="jug", remedy="begin another")

    work = [
        ("done before", refused),
        ("a" * 130, lambda: "told so"),
        ("nothing", lambda: ""),
        ("full", refused),
        ("last", lambda: "told last"),
    ]
    monkeypatch.setattr("obverse.workbench.sink.book", lambda *given: work)
    found: dict[str, Any] = {}
    for now_s, last_s in ((5.0, 9.0), (12.0, 9.0)):
        live: Any = SimpleNamespace(
            state=SimpleNamespace(booked=("done before",), last_s=last_s, status="finished"), books=True
        )
        log.clear()
        place: Any = SimpleNamespace(
            _now_s=lambda id, live, now_s=now_s: now_s, _read=lambda id, live=live: live, _care=None, _notebook=None, at_point=log.append, _lock=contextlib.nullcontext(),
            _store=SimpleNamespace(transaction=contextlib.nullcontext, write_event=lambda run, id, event: log.append([run, id, event.kind, event.at_s, event.text, event.data])),
        )  # fmt: skip
        place._settle = lambda id, live, place=place: Sink._settle(place, id, live)
        found[f"at {now_s}, last {last_s}"] = [Sink._settle(place, "e", live), list(log)]
        found["booked"] = Sink.settle(place, "e")
        live.books = False
        found["a rehearsal"] = Sink.settle(place, "e")
        live.state.status = "running"
        found["going"] = outcome(lambda place=place: Sink.settle(place, "e"))
    return found


def moved() -> dict[str, Any]:
    """When hands move the tank, by how it is said and how long the bath takes."""
    found: dict[str, Any] = {}
    quick, slow = Rhythm(for_s=60, every_s=15, inversions=2), Rhythm(for_s=30, every_s=10, inversions=1)
    for name, agitation in {
        "all the time": Agitation(constant=True), "once a minute": Agitation(initial_s=30, every_s=60, inversions=4), "from the start on": Agitation(initial_s=0, every_s=30, inversions=1),
        "for a second": Agitation(initial_s=10, every_s=30, inversions=0, seconds=1), "for two": Agitation(initial_s=10, every_s=30, inversions=0, seconds=2), "not at all": Agitation(initial_s=0, inversions=0, seconds=0),
        "first seconds alone": Agitation(initial_s=500, every_s=60, inversions=4), "without a pause": Agitation(initial_s=15, every_s=10, inversions=1), "hardly a pause": Agitation(initial_s=15, every_s=10.1, inversions=1),
        "quick, then slow": Agitation(initial_s=0, every_s=60, inversions=4, before=(quick,)), "without a pause, then quick": Agitation(initial_s=20, every_s=45, inversions=0, seconds=5, before=(slow, quick)),
    }.items():  # fmt: skip
        for duration_s, drain_s in ((150.0, 10.0), (100.0, 20.0), (42.5, 10.0), (12.0, 6.0)):
            cues = agitation_cues(agitation, duration_s, drain_s, 2.5)
            found[f"{name}, {duration_s:g} s"] = [[c.kind, c.do, c.at_s, c.turns, c.lasts_s] for c in cues]
    return found


def anchored() -> dict[str, Any]:
    """On which instant a computer begins that has no anchor in an evening yet, and what it tells where its date lies behind."""
    found: dict[str, Any] = {}
    for speed in (1.0, 2.0):
        for behind_s in (-60.0, 0.0, 1.0, 1.1, 90.0):
            log: list[Event] = []
            clock = FixedClock(EVENING)
            date_s = clock.now().timestamp()
            live: Any = SimpleNamespace(state=SimpleNamespace(last_s=date_s + behind_s), speed=speed)
            place: Any = SimpleNamespace(
                _clock=clock, _read=lambda id: None, _anchor=lambda instant_s: {"at": instant_s},
                _store=SimpleNamespace(write_event=lambda run, id, event, log=log: log.append(event)),
            )  # fmt: skip
            Sink._anchor_anew(place, "e", live)
            found[f"speed {speed:g}, {behind_s:g} s behind"] = [[e.kind, e.at_s - date_s, e.text, e.data["anchor"] == {"at": e.at_s}] for e in log]  # fmt: skip
    return found


# Of which times on a bath is made or destroyed while the film waits


def turns_at(low: float, high: float, true: Callable[[float], bool]) -> float:
    """Where something turns, from not so to so."""
    for _ in range(14):
        middle = (low + high) / 2
        low, high = (low, middle) if true(middle) else (middle, high)
    return high


def turns() -> dict[str, Any]:
    """How long a bath must live to be mixed before the first one, and from which wash on the used one cannot wait for the end."""
    known, way, found = formulas(), routes()["iron_ammonia_fogging"], dict[str, Any]()

    def has(action: str, use_within_min: dict[str, float], **more: Any) -> bool:
        lives = {key: known[key].model_copy(update={"use_within_min": m}) for key, m in use_within_min.items()}
        plan = plan_run(way, {**known, **lives}, **{"tank_ml": 500.0, **more})
        return any(one.key == action for one in plan.actions)

    two = tuple(Strip(name=name, controls={"first_developer_time_min": m}) for name, m in (("A", 8.0), ("B", 11.0)))
    for name, more in {
        "one film": {},
        "two strips slowly in a large tank": {"strips": two, "pace": 2.0, "tank_ml": 2000.0},
    }.items():
        found[f"ammonia, {name}"] = turns_at(
            1, 200, lambda m, more=more: not has("dissolving.hold", {"ammonia_bath": m}, **more)
        )
        found[f"fogging bath, {name}"] = turns_at(
            16, 300, lambda m, more=more: not has("fogging.hold", {"fogging_dithionite": m}, **more)
        )
        found[f"ammonia destroyed, {name}"] = turns_at(
            1, 400, lambda m, more=more: has("dissolving.destroy.hold", {}, times_min={"fixing": m}, **more)
        )
    return found


@pytest.mark.parametrize(
    "telling",
    [counted, clips, tanks, asked, duties, looked, turns, begun, settled, moved, anchored],
    ids=lambda telling: telling.__name__,
)
def test_the_sink_decides_as_it_was_read(telling, monkeypatch):
    # What the engine finds has tests of its own, and takes longest.
    monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    told = telling(monkeypatch) if telling is settled else telling()
    assert not told_as_kept(f"sink_{telling.__name__}", told)


_SHIPPED = routes()["permanganate_light"]
WARM = _SHIPPED.with_step(
    _SHIPPED.first_development.model_copy(
        update={"temperature_low_c": 28.0, "temperature_high_c": 30.0, "temperature_compensated": False}
    )
)
HOT_FIXER = _SHIPPED.with_step(
    _SHIPPED.step("fixing").model_copy(update={"temperature_low_c": 37.0, "temperature_high_c": 39.0})
)
LIMITS: list[tuple[dict[str, Any], str]] = [
    ({"tank_ml": 50}, ""), ({"tank_ml": 49.9}, "a tank of 49.9 mL cannot be planned for"), ({"tank_ml": 20_000}, ""), ({"tank_ml": 20_001}, "a tank of 20001 mL cannot"),
    ({"times_min": {"fixing": 2880.0}}, ""), ({"pace": 0.3}, ""), ({"pace": 0.29}, "a pace of 0.29 cannot be planned with"), ({"pace": 5}, ""), ({"pace": 5.01}, "a pace of 5.01 cannot"),
    ({"strips": [Strip(name=f"S{n}") for n in range(6)]}, ""), ({"strips": [Strip(name=f"S{n}") for n in range(7)]}, "7 strips in one evening; plan at most 6 together"),
    ({"strips": [Strip(name="A", pieces=(FilmPiece(format="120", count=6),))]}, ""), ({"strips": [Strip(name="A", pieces=(FilmPiece(format="120", count=7),))]}, "7 reels in one evening; plan at most 6 together, and another evening"),
    ({"strips": [Strip(name="A"), Strip(name="A")]}, "two strips have the same name; name them differently"),
    ({"temperature_c": 16}, ""), ({"temperature_c": 15.9}, "15.9 C is too cold"), ({"temperature_c": 26}, ""), ({"temperature_c": 26.1}, "26.1 C is too warm"),
    *(({"route": WARM, "temperature_c": c}, refused) for c, refused in ((28.0, ""), (30.0, ""), (30.1, "30.1 C is too warm"), (27.9, "27.9 C is too warm"), (25.0, ""))),
    *(({"route": WARM, "bath_temperatures_c": {where: c}}, refused) for where, c, refused in (
        ("first_development", 29.0, ""), ("first_development", 31.0, "first_development: 31 C is too warm"), ("fixing", 27.0, "fixing: 27 C"), ("water", 27.0, "water: 27 C"), ("water", 26.0, ""), ("frying", 20.0, "the process has no step"),
    )),
]  # fmt: skip


@pytest.mark.parametrize(("more", "refused"), LIMITS)
def test_an_evening_is_planned_up_to_its_limits(more, refused, monkeypatch):
    # What the engine finds has tests of its own, and takes longest.
    monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    way = {"route": routes()["permanganate_light"], "tank_ml": 500, **more}
    said = outcome(lambda: plan_run(formulas=formulas(), **way).name)
    assert refused in said and said.startswith("refused") is bool(refused)


@pytest.mark.parametrize(
    ("way", "said", "first_c", "fixing_c"),
    [(WARM, None, 29.0, 20.0), (WARM, 28.5, 28.5, 28.5), (HOT_FIXER, None, 20.0, 38.0), (HOT_FIXER, 21.0, 21.0, 38.0)],
)
def test_a_bath_beyond_any_evenings_warmth_keeps_its_own(way, said, first_c, fixing_c, monkeypatch):
    monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    plan = plan_run(way, formulas(), tank_ml=500, temperature_c=said)
    # Who says what tonight's baths have says it of the first developer before all.
    assert [plan.action(key).temperature_c for key in ("first_development", "fixing")] == [first_c, fixing_c]
