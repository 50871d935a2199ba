"""What the documents of an evening, of the wall, of lists and of people take, and what a field means that nobody filled in.

The limits are typed here by hand: the last value that is taken, and the first that is refused. Where somebody says nothing, a kept evening, a plan of an
older version or a page that sends half a form is read as ``tests/unit/told/documents.json`` has it.
"""

from __future__ import annotations

from typing import Any

import pytest

from obverse.foundation import Document, InputError, read_document
from obverse.process.catalog import routes
from obverse.run import Action, AtHand, Cue, Event, PlanCaution, PlannedBath, RunPlan, Strip, Vessel
from obverse.run.plan import BathPortion, Conflict, Fill, KeptWords, Lived, Proof, StripOrder, TimeTold
from obverse.run.saying import Saying
from obverse.run.state import Done, EveningPlace, Noted, Order, Passed, Press, RunState, Said, Taken
from obverse.workbench.past_strips import PastTableGiven
from obverse.workbench.people import Person
from obverse.workbench.pool import OwnDarkroom
from obverse.workbench.preview import Screen, Viewing
from obverse.workbench.processes import ProcessInWords
from obverse.workbench.projector import Lens, Shown
from obverse.workbench.seek import ListAsked
from obverse.workbench.sink import PlanRequest, _Anchor
from obverse.workbench.this_computer import _ClockTrial, _Look
from obverse.workbench.wall_seen import ScaleAsked
from obverse.workbench.whose import Whose
from tests.told_kept import told_as_kept

WAIT: dict[str, Any] = {"key": "a", "kind": "wait", "duration_s": 0}
PLAN: dict[str, Any] = {
    "name": "p", "route": routes()["permanganate_light"], "tank_ml": 500, "strips": [], "temperature_c": 20, "kappa": 0.1, "kappa_sd": 0.01,
    "actions": [WAIT], "proof": {"conflicts": [], "spans_checked": 0},
}  # fmt: skip
LIFE: dict[str, Any] = {
    "formula": "f",
    "from_action": "a",
    "from_edge": "end",
    "to_action": "b",
    "limit_s": 1,
    "kind": "life",
}
# What each must have; nothing else is said of it.
LEAST: dict[type[Document], dict[str, Any]] = {
    Cue: {"at_s": 0, "kind": "end", "do": "out"}, Fill: {"number": 1, "count": 1}, Vessel: {"strip": "A", "reel": 1, "tank": 1, "of": 1}, Strip: {},
    TimeTold: {"from_min": 1, "longest_min": 2}, KeptWords: {"title": "t"}, Action: WAIT, PlanCaution: {"code": "c", "level": "note"},
    Conflict: {"kind": "film", "first": "a", "second": "b"}, StripOrder: {"groups": [], "waited_min": 0, "worst_min": 0}, Proof: {"conflicts": [], "spans_checked": 0},
    Lived: LIFE, AtHand: {"key": "k", "what": "w"}, BathPortion: {"product": "p", "name": "n", "amount": 1, "unit": "g"},
    PlannedBath: {"formula": "f", "name": "n", "volume_ml": 1}, RunPlan: PLAN, Saying: {"kind": "over"}, Event: {"kind": "note", "at_s": 0},
    Done: {"key": "k", "began_s": 0, "clock_from_s": 0, "ended_s": 0, "planned_s": 0}, Passed: {"key": "k", "at_s": 0, "reason": "r"}, Taken: {"formula": "f", "by": "b", "at_s": 0},
    Noted: {"at_s": 0, "action": "a", "temperature_c": 20}, Said: {"at_s": 0, "action": "a"}, Order: {"do": "quiet"}, EveningPlace: {"status": "planned", "index": 0},
    Press: {"id": "i", "kind": "poured", "action": "a", "at_s": 0, "before": {"status": "planned", "index": 0}}, RunState: {"plan": PLAN},
    PlanRequest: {}, PastTableGiven: {"text": ""}, Screen: {}, Viewing: {}, Shown: {}, Lens: {"sought": "throw"}, ScaleAsked: {}, ListAsked: {},
    ProcessInWords: {"name": "n", "steps": []}, Person: {"name": "K"}, OwnDarkroom: {}, Whose: {},
    _Anchor: {"boot": "b", "steady_s": 0, "instant_s": 0}, _Look: {"date_s": 0, "steady_s": 0, "awake_s": 0, "boot": "b"}, _ClockTrial: {},
}  # fmt: skip
TINY = 1e-9
NUMBERS: list[tuple[type[Document], str, float | None, float | None]] = [
    # The least and the most that are taken; None where there is no such end.
    (Cue, "at_s", 0, None), (Cue, "lasts_s", 0, None), (Cue, "turns", 0, None), (Fill, "number", 1, None), (Fill, "count", 1, None), (Fill, "turns", 0, None),
    (Vessel, "reel", 1, None), (Vessel, "tank", 1, None), (Vessel, "of", 1, None), (Strip, "area_m2", TINY, 20), (Action, "start_s", 0, None), (Action, "pour_s", 0, None),
    (Action, "duration_s", 0, None), (Action, "drain_s", 0, None), (Action, "time_sd_s", 0, None), (Action, "asked_until_s", 0, None), (Action, "unattended_s", 0, None),
    (StripOrder, "waited_min", 0, None), (StripOrder, "worst_min", 0, None), (Proof, "busy_s", 0, None), (Proof, "whole_s", 0, None), (Lived, "limit_s", TINY, None),
    (Event, "at_s", 0, 1e11), (Event, "temperature_c", -5, 100), (Event, "to_s", 0, 1e11),
    (PlanRequest, "tank_ml", TINY, 20_000), (PlanRequest, "tanks", 1, None), (PastTableGiven, "tank_ml", TINY, 100_000), (ListAsked, "part", 1, 100_000),
    (Screen, "flux_lm", TINY, 100_000), (Screen, "width_m", TINY, 30), (Screen, "aspect", 0.2 + TINY, 5), (Screen, "gain", TINY, 5), (Screen, "stray", 0, 0.5 - TINY),
    (Screen, "room_lux", 0, 2000), (Screen, "callier", 1, 1.9), (Screen, "focal_mm", TINY, 2000), (Screen, "throw_m", TINY, 200), (Screen, "callier_sd", 0, 1),
    (Screen, "stray_sd", 0, 0.5), (Screen, "flux_sd_lm", 0, 100_000), (Screen, "corner_light", TINY, 1), (Viewing, "rms_granularity", 0, 100), (Viewing, "pixels_wide", 16, 20_000),
    (Shown, "exposure_index", TINY, 100_000), (Shown, "metered_code", 0, 4096), (Shown, "zone", 0, 10), (Lens, "focal_mm", TINY, 2000), (Lens, "throw_m", TINY, 200), (Lens, "width_m", TINY, 30),
    (ScaleAsked, "columns", 1, 30), (ScaleAsked, "rows", 1, 30), (ScaleAsked, "base_density", 0, 1.5), (ScaleAsked, "spot_patch", 1, 60), (ScaleAsked, "spot_cd_m2", TINY, 100_000),
]  # fmt: skip
CHARACTERS: list[tuple[type[Document], str, int]] = [
    (Strip, "name", 80), (Strip, "film", 120), (Strip, "recipe", 120), (Event, "id", 200), (Event, "action", 200), (Event, "text", 2000), (Event, "blob", 64), (Event, "of", 200),
    (Event, "device", 80), (PlanRequest, "route", 120), (PlanRequest, "recipe", 120), (PlanRequest, "name", 120), (PastTableGiven, "text", 2_000_000), (PastTableGiven, "film", 120),
    (PastTableGiven, "seen", 80), (Screen, "gate", 40), (Lens, "gate", 40), (ListAsked, "find", 200), (ListAsked, "sort", 60), (ScaleAsked, "densities", 20_000), (Person, "name", 40),
    (OwnDarkroom, "name", 60), (Whose, "person", 40), (Whose, "changed_by", 40), (_Anchor, "boot", 120), (_Look, "boot", 120), (_ClockTrial, "day", 10),
]  # fmt: skip
MANY: list[tuple[type[Document], str, Any, int]] = [
    (Strip, "pieces", {"format": "120"}, 6), (PlanRequest, "strips", {}, 6), (PlanRequest, "without", "x", 40), (PlanRequest, "again", "x", 40),
    (PlanRequest, "fresh", "x", 20), (PlanRequest, "choose", "x", 60),
]  # fmt: skip


def takes(kind: type[Document], **more: Any) -> bool:
    try:
        read_document(kind, {**LEAST[kind], **more})
    except InputError:
        return False
    return True


@pytest.mark.parametrize(("kind", "field", "least", "most"), NUMBERS, ids=lambda one: getattr(one, "__name__", None))
def test_a_number_is_taken_up_to_its_limits(kind, field, least, most):
    whole = isinstance(least, int) and not takes(kind, **{field: (least or 0) + 0.5})
    for limit, beyond in ((least, -1), (most, 1)):
        if limit is not None:
            by = 1 if whole else max(TINY, abs(limit) * TINY)
            assert [takes(kind, **{field: limit}), takes(kind, **{field: limit + beyond * by})] == [True, False]


@pytest.mark.parametrize(("kind", "field", "most"), CHARACTERS, ids=lambda one: getattr(one, "__name__", None))
def test_words_are_taken_up_to_so_many_characters(kind, field, most):
    assert [takes(kind, **{field: "x" * count}) for count in (most, most + 1)] == [True, False]


@pytest.mark.parametrize(("kind", "field", "one", "most"), MANY, ids=lambda one: getattr(one, "__name__", None))
def test_so_many_of_one_kind_are_taken(kind, field, one, most):
    assert [takes(kind, **{field: [one] * count}) for count in (most, most + 1)] == [True, False]


def test_what_must_not_be_empty_and_minutes_of_two_days_at_most():
    assert not any(
        [
            takes(Strip, name=""),
            takes(RunPlan, actions=[]),
            takes(Person, name=""),
            takes(Person, name=" K"),
            takes(Person, name="--"),
        ]
    )
    steps = {str(number): 2880 for number in range(40)}
    assert takes(PlanRequest, times_min=steps) and takes(PlanRequest, times_min={"a": 0})
    assert not takes(PlanRequest, times_min={**steps, "40": 1})
    assert not takes(PlanRequest, times_min={"a": 2880.1}) and not takes(PlanRequest, times_min={"a": -0.1})


def test_a_field_that_nobody_filled_in_means_what_was_read():
    # Of the plan itself the name of its way is enough.
    found = {
        kind.__name__: read_document(kind, said).model_dump(mode="json", exclude={"route": True, "plan": True})
        for kind, said in LEAST.items()
    }
    assert not told_as_kept("documents", found)
