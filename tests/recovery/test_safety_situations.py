"""The hazard engine against 220 situations written by another hand before the engine was.

`hazard_situations_one.json`: 110 dangerous and 110 ordinary, with the truth as that hand saw it; its sources are
mostly "from memory", a few are public pages. The engine was tuned on this set, so it proves no more than that
these stay as they are; sets that it has not seen are judged elsewhere.
"""

import json
from pathlib import Path

import pytest

from benchmarks.hazard_situations import read, run, verdict
from obverse.safety.engine import assess

SITUATIONS = json.loads(Path(__file__).with_name("hazard_situations_one.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def figures():
    return run(SITUATIONS)[0]


def test_no_lethal_situation_is_silent_or_only_cautioned(figures):
    assert 63 == figures["all"]["lethal"]
    assert 0 == figures["all"]["lethal missed (silent)"] == figures["all"]["lethal only cautioned"]


def test_dangerous_situations_are_found(figures):
    assert figures["all"]["dangerous found %"] >= 97


def test_ordinary_steps_are_left_in_peace(figures):
    assert 0 == figures["all"]["false refusals"]
    assert figures["all"]["needless cautions %"] <= 5


def test_every_name_was_understood(figures):
    assert {} == figures["unknown names"]


def test_a_name_nobody_knows_is_told_and_not_dropped():
    situation = {
        "id": "x",
        "context": "mixing",
        "parts": [{"substance": "blue crystals of grandfather", "strength": "solid", "amount": "20 g", "role": ""}],
    }
    got = read(situation)
    assert got.unknown == ["blue crystals of grandfather"]
    assert verdict(assess(got.portions, got.setting)) in ("silent", "caution")
