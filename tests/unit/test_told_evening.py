"""What is told at the sink: every sentence that is made of a plan, a touch or a cue, one, two and many of each."""

from __future__ import annotations

import dataclasses
import functools
import typing
from collections.abc import Callable
from typing import Any

import pytest

from obverse.foundation import ObverseError
from obverse.process import Agitation, FilmPiece, Process, Rhythm
from obverse.process.catalog import formulas, routes
from obverse.run import (
    Action,
    Conflict,
    Cue,
    Developed,
    Event,
    Order,
    Saying,
    TouchEffect,
    Vessel,
    advance,
    bath_uses,
    begin,
    plan_run,
    true_controls,
    view,
)
from obverse.run.plan import Fill, KeptWords, Lived, Move, Proof, RunPlan, Strip, StripOrder, TimeTold
from obverse.run.saying import News, Refusal, Warned
from obverse.run.shown import effect
from obverse.run.state import EventKind
from obverse.workbench import evening_words as told
from tests.told_kept import told_as_kept
from tests.unit.test_told_everything import outcome


def action(kind: str = "bath", **more: Any) -> Action:
    return Action(**{"key": "a", "kind": kind, "name": "Bleach", "duration_s": 60, **more})


def vessels(count: int, tanks: int = 1, **more: Any) -> tuple[Vessel, ...]:
    return tuple(Vessel(strip=f"S{n}", reel=n, tank=min(n, tanks), of=count, **more) for n in range(1, count + 1))


def actions() -> dict[str, Any]:
    kinds = ("lay_out", "prepare", "weigh", "fill_bottles", "prewarm", "clip", "wait", "brief", "lights_out", "load", "light_on", "check",
             "bath", "rinse", "wash", "hold", "hold_end", "join", "may_open", "open", "reexpose", "hang", "dry", "destroy", "clear_up")  # fmt: skip
    asked: dict[str, Action] = {
        kind: action(kind, temperature_c=20.5, vessels=vessels(1)) for kind in kinds if kind != "brief"
    }
    asked |= {
        f"{kind} of A and B": action(kind, temperature_c=20, apart=True, strips=("A", "B"))
        for kind in ("hold", "prepare", "bath")
    }
    asked |= {
        "kept": action(kept=KeptWords(title="As it was", do="Do it.")),
        "kept without a sentence": action(kept=KeptWords(title="As it was")),
        "two reels": action("lay_out", vessels=vessels(2)),
        "three reels, two tanks": action("lay_out", vessels=vessels(3, 2)),
        "load one of two": action("load", strips=("S1",), vessels=(vessels(2, 2)[1].model_copy(update={"part": "2 of 2"}),)),
        "load cut film": action("load", strips=("S1",), vessels=vessels(1, holder="sheet holder")),
        "load two of cut film": action("load", strips=("S1", "S2"), vessels=vessels(2, holder="sheet holder")),
        "load of nothing": action("load", strips=("S1",)),
        "join": action("join", vessels=vessels(3)),
        "bottles": action("fill_bottles", baths=("First developer", "Fixer")),
        "a warmer basin": action("prewarm", temperature_c=20, baths=("Fogging (38 C)", "Other (30 C)")),
        "hold closed": action("hold", place="closed_tank"),
        "hold open": action("hold", place="open"),
        "powder": action("prepare", stirred_in=True),
        "mixed and used soon": action("prepare", volume_ml=512.4, use_within_min=15),
        "mixed": action("prepare", volume_ml=500),
        "used soon": action("prepare", use_within_min=15),
        "vented": action("may_open", lid_again=True),
        "said": action(said="Tilt it."),
        "said, until": action(said="Tilt it.", time=TimeTold(until="clear", from_min=2, longest_min=5), mixed_meanwhile=("Fogging",)),
        "until": action(time=TimeTold(until="clear", from_min=5, longest_min=5)),
        "may stay": action(time=TimeTold(from_min=2, longest_min=7.5), mixed_meanwhile=("One", "Two")),
    }  # fmt: skip
    for does in ("blacken", "bleach", "clear"):
        asked[f"clip {does}"] = action("clip", clip=does)
    for name, fill in {
        "running": Fill(number=1, count=1),
        "first of two": Fill(number=1, count=2, turns=1, after=True),
        "twice": Fill(number=2, count=2, turns=2, stands=True),
        "not turned": Fill(number=2, count=3, turns=0, stands=True, acidified=True),
        "bucket": Fill(number=1, count=1, turns=5, vessel="bucket"),
        "tray": Fill(number=1, count=1, turns=0, vessel="tray", stands=True, acidified=True),
    }.items():
        asked[f"fill {name}"] = action("rinse", fill=fill)
    for count, step in ((1, "load"), (2, "load"), (3, "join")):
        asked[f"brief {step} {count}"] = action("brief", step=step, vessels=vessels(count, 2))
    found = {
        name: [told.title_words(one), told.short_title_words(one), told.fill_words(one), told.do_words(one), told.lines_words(one)]
        for name, one in asked.items()
    }  # fmt: skip
    return found | {
        "marks and bands": [[told.mark_of(n), told.bands(n)] for n in range(1, 9)],
        "times": [told.times(n) for n in range(4)],
        "spans": [told.span_words(s) for s in (0, 0.4, 1, 59.6, 61, 3600, -3661, 86400)],
        "uncertain": [told.span_of_sd_words(s) for s in (0, 89.4, 90, 200)],
        "parted": [told.parted_words(s, counts_sleep=c) for s in (-61.0, 0.0, 300.0) for c in (True, False)],
        "settled": [told.settled_words(s, counted=c) for s in (-61.0, 0.0, 300.0) for c in (True, False)],
    }


def touches() -> dict[str, Any]:
    plan = plan_run(routes()["iron_ammonia_fogging"], formulas(), tank_ml=500)
    keys = {one.kind: one.key for one in plan.actions}
    found: dict[str, Any] = {}
    for kind in typing.get_args(EventKind):
        for key in ("", keys["bath"]):
            event = Event(kind=kind, at_s=1, action=key, temperature_c=20.5, seconds=30)
            found[f"entry {kind} {key}"] = told.entry_words(event, plan)
    found["entries of nothing"] = [
        told.entry_words(Event(kind=k, at_s=1), plan) for k in ("temperature_noted", "step_extended")
    ]
    for kind in (*typing.get_args(Refusal), *typing.get_args(News), *typing.get_args(Warned)):
        bare, full = Saying(kind=kind), Saying(
            kind=kind, name="Bleach", other="Fogging bath", by="K.", text="The clock went.", seconds=100, before_s=90, sd_s=7,
            temperature_c=27.5, low_c=18, high_c=24, difference_c=-6,
        )  # fmt: skip
        found[f"say {kind}"] = [told.saying_words(bare), told.saying_words(full)]
    found["a soft film"] = told.saying_words(Saying(kind="temperature_step", difference_c=3.05, high_c=3, soft=True))
    found["a little warmer"] = told.saying_words(Saying(kind="temperature_step", difference_c=0.6, high_c=3))
    found["as warm"] = told.saying_words(Saying(kind="temperature_step", difference_c=0.0, high_c=3))
    entry = Event(kind="temperature_noted", at_s=1, temperature_c=20, action=keys["bath"])
    orders = [
        Order(do="tell", entry=entry, corrects="taken_back", say=Saying(kind="corrected")), Order(do="show", text="stays"),
        Order(do="tell", entry=entry, corrects="changed", say=Saying(kind="corrected")), Order(do="tell", say=Saying(kind="over")),
    ]  # fmt: skip
    found["orders"] = [told.order_told(order, plan).text for order in orders]
    for do in typing.get_args(Move):
        cue = Cue(at_s=1, kind="agitate", do=do, lasts_s=12, turns=3, goes="jug", jug="F")
        found[f"cue {do}"] = [
            told.cue_words(cue),
            told.cue_words(cue.model_copy(update={"turns": 1, "goes": "bottle"})),
        ]
    found["poured out"] = [
        told.cue_words(Cue(at_s=1, kind="drain", do="pour_out", goes=g)) for g in ("", "bucket", "away", "water")
    ]
    developed = Developed(612.0, 600.0, 1, (20.0,), False, None, 0, False)
    for name, changes in {
        "plain": {}, "two passes": {"passes": 2}, "before": {"before": True}, "two readings": {"noted_c": (20.0, 21.0)},
        "nobody": {"noted_c": ()}, "outside": {"outside_c": (16.0, 26.0)}, "one left out": {"skipped": 1}, "two left out": {"skipped": 2},
        "cut": {"cut_short": True},
    }.items():  # fmt: skip
        found[f"developed {name}"] = told.developed_words(dataclasses.replace(developed, **changes))
    bath, rinse, hold = (next(a for a in plan.actions if a.kind == kind) for kind in ("bath", "rinse", "destroy"))
    life = Lived(
        formula="fogging_dithionite", from_action="x", from_edge="pour", to_action="y", limit_s=60, kind="life"
    )
    deadline = life.model_copy(update={"kind": "deadline", "formula": "unknown"})
    names = {"fogging_dithionite": "Fogging bath"}
    for name, would in {
        "refused": TouchEffect(Saying(kind="over_already"), 0.0, (), (), ()),
        "nothing": TouchEffect(None, 29.0, (), (), ()),
        "later": TouchEffect(None, 31.0, (bath, rinse), (), ()),
        "earlier": TouchEffect(None, -300.0, (), (hold, rinse), (life, deadline)),
        "poured once": TouchEffect(None, 0.0, tuple(bath.model_copy(update={"after_use": u}) for u in ("discard", "waste", "keep")), (), ()),
    }.items():  # fmt: skip
        found[f"effect {name}"] = told.effect_words(would, names)
    first, second = bath.key, hold.key
    for kind in ("hands", "film", "light", "life", "deadline"):
        for other in (first, second):
            for formula in ("fogging_dithionite", "unknown"):
                conflict = Conflict(kind=kind, first=first, second=other, over_s=130, limit_s=600, formula=formula)
                found[f"conflict {kind} {other} {formula}"] = told.conflict_words(conflict, plan)
    proof = Proof(proved=("hands", "lives", "light"), conflicts=(), spans_checked=12, busy_s=1830, whole_s=5400)
    found["proof"] = [told.proof_words(proof), told.proof_words(proof.model_copy(update={"kept": ("As kept.",)}))]
    order = StripOrder(groups=(("A", "B"), ("C",)), waited_min=8.4, worst_min=19.6)
    found["order"] = [
        told.order_words(plan), told.order_words(plan.model_copy(update={"order_reason": "As kept."})),
        told.order_words(plan.model_copy(update={"order": order})),
    ]  # fmt: skip
    return found


@pytest.mark.parametrize("telling", [actions, touches], ids=lambda telling: telling.__name__)
def test_what_is_told_at_the_sink_is_what_was_read(telling):
    assert not told_as_kept(f"evening_{telling.__name__}", telling())


# Plans


def changed(route: str, **steps: dict[str, Any]) -> Process:
    """A shipped process with other fields at some of its steps."""
    process = routes()[route]
    return process.model_copy(
        update={"steps": tuple(step.model_copy(update=steps.get(step.key, {})) for step in process.steps)}
    )


def rinsed(route: str, step: str, **fields: Any) -> Process:
    rinse = routes()[route].step(step).rinse_after
    return changed(route, **{step: {"rinse_after": rinse.model_copy(update=fields)}})


def moved(**fields: Any) -> Process:
    return changed("iron_ammonia_fogging", bleaching={"agitation": Agitation(**fields)})


def strips(*minutes: float, **more: Any) -> tuple[Strip, ...]:
    return tuple(
        Strip(name=f"S{n}", controls={"first_developer_time_min": m}, **more) for n, m in enumerate(minutes, 1)
    )


LIGHT, FOG, VIOLET = "iron_ammonia_light", "iron_ammonia_fogging", "permanganate_fogging"
SHEETS = (FilmPiece(format="4x5 sheet", count=2),)
PLANS: dict[str, Callable[[], tuple[Process, dict[str, Any]]]] = {
    "five strips in four tanks": lambda: (routes()[LIGHT], {"strips": strips(8, 11, 7, 8, 9)}),
    "two reels of one strip": lambda: (routes()[FOG], {"strips": strips(9, pieces=(FilmPiece(format="135-36", count=2),))}),
    "seven strips": lambda: (routes()[FOG], {"strips": strips(*range(5, 12))}),
    "seven reels": lambda: (routes()[FOG], {"strips": strips(5, 6, 7, 8, pieces=(FilmPiece(format="135-36", count=2),))}),
    "sheets": lambda: (routes()[FOG], {"strips": strips(9, pieces=SHEETS), "pace": 5.0}),
    "all mixed, one fresh": lambda: (routes()[FOG], {"mixed": tuple(formulas()), "fresh": ("fixer_rapid", "bleach_iron_chloride")}),
    "fresh of none": lambda: (routes()[VIOLET], {"fresh": ("fixer_rapid",)}),
    "clips": lambda: (routes()[FOG], {"clips_s": {"fixer_rapid": 40.0, "first_developer": 25.0, "bleach_iron_chloride": 60.0, "fogging_dithionite": 30.0}}),
    "clips of two groups": lambda: (routes()[FOG], {"strips": strips(8, 9), "clips_s": {"first_developer": 25.0, "ammonia_bath": 30.0}}),
    "a small bucket": lambda: (routes()[FOG], {"bucket_ml": 3000.0, "tank_ml": 1500.0}),
    "a large tank slowly": lambda: (routes()[LIGHT], {"tank_ml": 5000.0, "pace": 3.0, "name": "Slow"}),
    "permanganate mixed": lambda: (routes()[VIOLET], {"mixed": ("bleach_permanganate",)}),
    "permanganate": lambda: (routes()["permanganate_light"], {"tank_ml": 1000.0, "bath_temperatures_c": {"clearing": 24.0, "water": 17.0}}),
    "no such step": lambda: (routes()[FOG], {"bath_temperatures_c": {"frying": 20.0}}),
    "again and other times": lambda: (routes()[FOG], {"again": ("bleaching",), "times_min": {"fixing": 9.0, "bleaching": 20.0}}),
    "left out": lambda: (routes()[FOG], {"without": ("clearing", "wash_aid", "wetting")}),
    "warm": lambda: (routes()[LIGHT], {"controls": {"temperature_c": 22.0}, "temperature_c": 25.5}),
    "a warm bath": lambda: (changed(FOG, fogging={"temperature_low_c": 37.0, "temperature_high_c": 39.0}), {}),
    "one temperature": lambda: (changed(FOG, fixing={"temperature_low_c": 17.0, "temperature_high_c": 19.0}), {}),
    "nearly one temperature": lambda: (changed(FOG, fixing={"temperature_low_c": 16.9, "temperature_high_c": 19.0}), {}),
    "one temperature, told": lambda: (changed(FOG, fixing={"temperature_low_c": 17.0, "temperature_high_c": 19.0}), {"temperature_c": 21.0}),
    "moved all the time": lambda: (moved(constant=True), {}),
    "moved without a pause": lambda: (moved(initial_s=15, every_s=10, inversions=1), {}),
    "moved with a pause": lambda: (moved(initial_s=0, every_s=10.5, inversions=1), {}),
    "moved in rhythms": lambda: (moved(initial_s=20, every_s=60, inversions=0, seconds=7, before=(Rhythm(for_s=60, every_s=15, inversions=2), Rhythm(for_s=90, every_s=30, inversions=0, seconds=5))), {}),
    "not moved": lambda: (moved(initial_s=0, inversions=0, seconds=0), {}),
    "until it is seen": lambda: (changed(FOG, bleaching={"until": "clear", "time_most_min": 9.0}, fixing={"time_most_min": 7.0, "do": "As I do.", "note": "old fixer"}), {}),
    "its own words": lambda: (changed(FOG, fixing={"do": "", "note": "old fixer", "name": "My fixing", "said": {"agitation": "gently"}}, clearing={"do": "", "agitation": Agitation(inversions=0, seconds=0, initial_s=0)}), {}),
    "made while another works": lambda: (changed(FOG, fogging={"made": "during", "made_during": "bleaching"}), {}),
    "no hands to make it": lambda: (changed(FOG, fogging={"made": "during", "made_during": "bleaching"}, bleaching={"agitation": Agitation(constant=True)}), {}),
    "made ahead": lambda: (changed(FOG, fogging={"made": "ahead"}), {}),
    "made just before": lambda: (changed(LIGHT, fixing={"made": "just_before"}), {}),
    "running water": lambda: (rinsed(FOG, "fixing", fills=(), running_water_min=0.1), {}),
    "a bucket, acidified": lambda: (rinsed(FOG, "first_development", fills=(0, 3), vessel="bucket", acidified=True, fill_s=60.0, fill_volume_ml=2000.0), {}),
    "fills by the clock": lambda: (rinsed(FOG, "fixing", fills=(3, 3), fill_s=23.5, running_water_min=5.0), {}),
    "kept long, poured away": lambda: (changed(LIGHT, dissolving={"after_use": "destroy"}, fixing={"after_use": "discard", "volume_ml": 300.0, "carry_over_ml": 25.0}), {}),
    "fills that hardly stand": lambda: (rinsed(FOG, "fixing", fills=(3,), fill_s=29.0), {}),
    "fills that do not stand": lambda: (rinsed(FOG, "fixing", fills=(3,), fill_s=28.5), {}),
    "very short baths": lambda: (routes()[FOG], {"times_min": {"fixing": 0.25, "clearing": 0.5}}),
    "as warm as an evening may be": lambda: (changed(FOG, fogging={"temperature_low_c": 26.0, "temperature_high_c": 30.0}), {"bath_temperatures_c": {"clearing": 26.0}}),
    "two mixed meanwhile": lambda: (changed(FOG, clearing={"made": "during", "made_during": "dissolving"}, fixing={"made": "during", "made_during": "bleaching"}, bleaching={"time_min": 20.0}, dissolving={"time_min": 20.0}), {}),
    "two strips slowly": lambda: (routes()[LIGHT], {"strips": strips(8, 11), "pace": 2.0}),
    "a rinse of its own": lambda: (changed(FOG, washing={"kind": "rinse"}), {}),
    "a long light": lambda: (changed(LIGHT, reexposure={"time_min": 10.0, "do": "", "note": "both sides"}), {}),
    "peroxide": lambda: (routes()["peroxide_acid_fogging"], {"temperature_c": 18.0}),
    "dichromate": lambda: (routes()["dichromate_fogging"], {}),
}  # fmt: skip


NAMES = (
    "duration_s", "nominal_s", "time_sd_s", "drain_s", "asked_until_s", "unattended_s", "volume_ml", "temperature_c", "carry_over",
    "ends_by", "place", "lid_again", "formula", "use_within_min", "waste_jug", "baths", "strips", "step", "after_use",
)  # fmt: skip


def _lines(plan: RunPlan) -> dict[str, list[Any]]:
    """Each action by its key, without when it begins."""
    return {
        one.key: [
            told.title_words(one),
            {name: getattr(one, name) for name in NAMES if getattr(one, name)},
            [round(sum(end - start for start, end in one.hands), 1), len(one.hands)],
            [[cue.at_s, cue.do, cue.turns, round(cue.lasts_s, 2)] for cue in one.cues[:4]],
            len(one.cues),
        ]
        for one in plan.actions
    }


@functools.cache
def _usual() -> dict[str, list[Any]]:
    """Of the actions of the fogging way as it is shipped: what differs from them is told."""
    return _lines(plan_run(routes()[FOG], formulas(), tank_ml=500.0))


def _in_short(plan: RunPlan) -> dict[str, Any]:
    usual = _usual()
    said = [one.said for one in plan.actions if one.kind in ("bath", "reexpose", "hang")]
    return {
        "starts": {
            one.key: round(one.start_s, 1)
            for one in plan.actions
            if one.key not in usual or one.kind in ("wait", "clear_up")
        },
        "otherwise": {key: line for key, line in _lines(plan).items() if line != usual.get(key)},
        "said": [words for words in said if words],
        "cautions": [[c.code, c.where, c.text[:60]] for c in told.told_cautions(plan) if c.code != "route.warning"],
        "at hand": [[one.key, one.what, one.of, one.amount, one.unit, one.count] for one in plan.at_hand],
        "meanwhile": [list(one.mixed_meanwhile) for one in plan.actions if one.mixed_meanwhile],
        "whole": [plan.name, plan.duration_s, plan.order, plan.proof, plan.vessels],
        "lives": [
            [one.formula, one.from_action, one.from_edge, one.to_action, one.limit_s, one.kind] for one in plan.lives
        ],
    }


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_is_what_was_read(name, monkeypatch):
    route, more = PLANS[name]()
    if name not in WITH_SAFETY:
        # What the engine finds of a process has tests of its own, and takes longest.
        monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    plan = outcome(lambda: _in_short(plan_run(route, formulas(), **{"tank_ml": 500.0, **more})))
    assert not told_as_kept("evening_plans", {name: plan})


# Plans for which the engine is asked, too.
WITH_SAFETY = ("permanganate mixed", "kept long, poured away", "dichromate", "a large tank slowly")


# Touches


@functools.cache
def _plan(route: str) -> RunPlan:
    return plan_run(routes()[route], formulas(), tank_ml=500.0, strips=strips(8, 11) if route == LIGHT else ())


# Kind of touch, seconds since the one before, and what else it says; "." is the action in hand, "<N" the one N touches before, "#N" the id of touch N.
Touch = tuple[str, float, dict[str, Any]]
WALKS: dict[str, tuple[str, int, list[Touch]]] = {
    "nothing begun": (FOG, 0, [
        ("acknowledged", 1, {"action": "lay_out"}), ("poured", 1, {"action": "lay_out"}), ("temperature_noted", 1, {"temperature_c": 20}), ("paused", 1, {}),
        ("resumed", 1, {}), ("step_extended", 1, {"seconds": 5}), ("agitation_skipped", 1, {}), ("step_skipped", 1, {"action": "lay_out", "text": "no"}),
        ("step_repeated", 1, {"action": "lay_out", "text": "no"}), ("finished", 1, {}), ("clock", 1, {"text": "It slept."}), ("clock", 1, {}), ("note", 1, {"text": "hm"}),
        ("photo", 1, {"blob": "ab"}), ("booked", 1, {"text": "x"}), ("booked", 1, {"text": "x"}), ("duty_taken", 1, {"action": "fixer_rapid"}), ("started", 1, {}), ("started", 1, {}),
        ("taken_back", 1, {"of": "#17"}), ("taken_back", 1, {"of": "none"}), ("aborted", 1, {"text": "rain"}), ("aborted", 1, {}), ("finished", 1, {}),
    ]),
    "a bath": (FOG, 0, [
        ("started", 1, {}), ("bath", 9, {}), ("acknowledged", 1, {"action": "."}), ("poured", 1, {"action": "lay_out"}), ("step_skipped", 1, {"action": ".", "text": "why not"}),
        ("taken_back", 1, {"of": "<1"}), ("poured", 3, {"action": "."}), ("poured", 1, {"action": "."}), ("step_skipped", 1, {"action": ".", "text": "no"}),
        ("step_repeated", 1, {"action": "lay_out", "text": "again"}), ("temperature_noted", 1, {"temperature_c": 20.0}), ("temperature_noted", 1, {"temperature_c": 30.0, "action": "."}),
        ("temperature_noted", 1, {"temperature_c": 17.9, "action": "check"}), ("temperature_noted", 1, {"temperature_c": 24.0, "action": "."}), ("agitation_skipped", 1, {"action": "."}),
        ("agitation_skipped", 1, {"action": "lay_out"}), ("agitation_skipped", 1, {}), ("step_extended", 1, {"seconds": 30, "action": "."}), ("step_extended", 1, {"seconds": 30, "action": "lay_out"}),
        ("paused", 1, {}), ("paused", 1, {}), ("resumed", 1, {}), ("resumed", 1, {}), ("acknowledged", 1, {"action": "."}), ("acknowledged", 1, {"action": "lay_out"}),
        ("due", -12, {}), ("acknowledged", 0, {"action": "."}), ("due", -11.1, {}), ("acknowledged", 0, {"action": "."}), ("due", -10.9, {}), ("acknowledged", 0, {"action": "."}),
        ("paused", 1, {}), ("acknowledged", 1, {"action": ".", "cut_short": True}), ("acknowledged", 40, {"action": ".", "cut_short": True}),
        ("step_repeated", 1, {"action": "first_development", "text": "again"}), ("step_repeated", 1, {"action": "load.1", "text": "again"}), ("step_repeated", 1, {"action": "fixing", "text": "again"}),
        ("poured", 1, {"action": "."}), ("acknowledged", 5, {"action": ".", "cut_short": True}), ("acknowledged", 5, {"action": "."}), ("step_skipped", 5, {"action": ".", "text": "enough"}),
        ("finished", 1, {}), ("duty_taken", 1, {"action": "fixer_rapid", "text": "K."}), ("duty_taken", 1, {"action": "fixer_rapid", "device": "phone"}), ("duty_done", 1, {"action": "fixer_rapid"}),
        ("aborted", 1, {"text": "rain"}), ("note", 1, {"text": "after"}), ("photo", 1, {"blob": "ab"}), ("taken_back", 1, {"of": "<3"}), ("taken_back", 1, {"of": "<1"}),
    ]),
    "corrections": (FOG, 0, [
        ("started", 1, {}), ("note", 1, {"text": "one"}), ("taken_back", 1, {"of": "#0"}), ("changed", 1, {"of": "#1", "text": "two"}), ("taken_back", 1, {"of": "#3"}), ("taken_back", 1, {"of": "#1"}),
        ("taken_back", 1, {"of": "#1"}), ("bath", 9, {}), ("poured", 5, {"action": "."}), ("temperature_noted", 5, {"temperature_c": 20.0}), ("changed", 1, {"of": "<1", "temperature_c": 21.0}),
        ("changed", 1, {"of": "<2", "temperature_c": 22.0}), ("changed", 1, {"of": "<4", "temperature_c": 22.0}), ("changed", 1, {"of": "<4", "text": "words"}), ("changed", 1, {"of": "#0", "to_s": 5.0}),
        ("changed", 1, {"of": "<7", "to": -3}), ("changed", 1, {"of": "<8", "to": -4000}), ("changed", 1, {"of": "<9", "to": 60}), ("changed", 1, {"of": "<9", "to": 3}), ("changed", 1, {"of": "<10", "to": 4000}),
        ("due", 3, {}), ("acknowledged", 0, {"action": "."}), ("changed", 1, {"of": "<1", "to": -200}), ("taken_back", 1, {"of": "<13"}), ("taken_back", 1, {"of": "<3"}), ("taken_back", 1, {"of": "<3"}),
        ("booked", 1, {"text": "b"}), ("taken_back", 1, {"of": "<1"}),
    ]),
    "to the end": (LIGHT, 600, [("finished", 1, {}), ("note", 1, {"text": "dry"}), ("taken_back", 1, {"of": "<3"}), ("step_skipped", 1, {"action": ".", "text": "later"})]),
    "ended by hand": (FOG, 0, [("started", 1, {}), ("to:drying", 1, {}), ("finished", 1, {}), ("acknowledged", 1, {"action": "."}), ("finished", 5, {}), ("finished", 5, {})]),
    "refused": (FOG, 0, [
        ("temperature_noted", 1, {}), ("step_extended", 1, {}), ("step_extended", 1, {"seconds": 0}), ("step_extended", 1, {"seconds": 14_400}), ("step_extended", 1, {"seconds": 14_401}), ("note", 1, {"text": " "}),
        ("photo", 1, {}), ("poured", 1, {}), ("step_skipped", 1, {"action": "x"}), ("step_repeated", 1, {"action": "x", "text": " "}), ("taken_back", 1, {}), ("changed", 1, {"of": "x"}), ("changed", 1, {"of": "x", "to_s": 1.0}),
        ("changed", 1, {"of": "x", "text": "y"}), ("changed", 1, {"of": "x", "temperature_c": 1}),
    ]),
}  # fmt: skip
BEGUN_S = 1000.0


class _Walk:
    """An evening touched by a list, and where it stood after each touch."""

    def __init__(self, route: str, most: int):
        self.state, self.now, self.count, self.most = begin(_plan(route)), BEGUN_S, 0, most
        self.told: list[Any] = []

    def go(self, touches: list[Touch]) -> list[Any]:
        if self.most:
            self._touch("started", {})
            self._on(None)
        for kind, after_s, more in touches:
            if kind == "bath" or kind.startswith("to:"):
                self._on("first_development" if kind == "bath" else kind.partition(":")[2])
            elif kind == "due":
                self.now = (self.state.due_s or self.now) + after_s
            else:
                self.now += after_s
                self._touch(kind, more)
        return self.told

    def _on(self, until: str | None) -> None:
        """On by plan, without telling of it."""
        kept, self.told = self.told, []
        while (action := self.state.action) is not None and action.key != until:
            if action.waits_for_pour and self.state.clock_from_s is None:
                self.now += action.pour_s
                self._touch("poured", {"action": action.key})
            self.now = (self.state.due_s or self.now) + 2
            self._touch("acknowledged", {"action": action.key})
        self.told = kept

    def _touch(self, kind: str, more: dict[str, Any]) -> None:
        more = dict(more)
        if more.get("action") == "." and self.state.action is not None:
            more["action"] = self.state.action.key
        if more.get("of", "")[:1] in ("#", "<"):
            place = int(more["of"][1:])
            more["of"] = f"t{place if more['of'].startswith('#') else self.count - place}"
        if "to" in more:
            target = next((e for e in self.state.events if e.id == more["of"]), None)
            more["to_s"] = (target.at_s if target else self.now) + more.pop("to")
        event = Event(kind=kind, at_s=self.now, id=f"t{self.count}", **more)
        self.count += 1
        try:
            foreseen = effect(self.state, event, self.now)
            self.state, orders = advance(self.state, event, self.now)
        except ObverseError as error:
            self.told.append([kind, error.sentence])
            return
        document = view(self.state, self.now).document()
        since = {
            name: document[name] and round(document[name] - BEGUN_S, 1)
            for name in ("clock_from_s", "due_s", "drain_s", "ends_s")
        }
        names = ("status", "phase", "index", "ahead", "extended_s", "skipped", "progress", "reason")
        self.told.append(
            [
                kind, [[o.do, o.say.kind if o.say else "", o.level, o.action, o.text] for o in orders],
                {name: document[name] for name in names if document[name]}, document["action"] and document["action"]["key"], since,
                [round(cue["at_s"] - self.now, 1) for cue in document["cues"][-4:]],
                [[d["formula"], d["kind"], round(d["by_s"] - BEGUN_S), d["overdue"]] for d in document["deadlines"]],
                [foreseen.later_s, [a.key for a in foreseen.comes], len(foreseen.drops), [life.formula for life in foreseen.breaks]],
            ]
        )  # fmt: skip

    def left(self) -> list[Any]:
        state = self.state
        passes = [
            [p.key, p.took_s, p.planned_s, p.skipped, p.cut_short] for p in state.done if p.skipped or p.cut_short
        ]
        return [
            bath_uses(state),
            true_controls(state),
            passes,
            state.passed,
            state.taken,
            state.gone,
            state.temperatures,
            state.said,
            state.pauses,
            state.booked,
        ]


@pytest.mark.parametrize("name", WALKS)
def test_an_evening_touched_so_stands_where_it_was_read(name):
    route, most, touches = WALKS[name]
    walk = _Walk(route, most)
    stood = walk.go(touches)
    assert not told_as_kept("evening_walks", {name: stood, f"{name}, left behind": walk.left()})
