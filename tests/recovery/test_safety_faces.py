"""What `obverse check` and `obverse mix` say to names that a tester of another hand typed, mostly without amounts.

`benchmarks/hazard_faces_one.json`: 235 pairs, 30 sequences of baths without a rinse, 24 jugs and 43 sheets, from memory, written with the
list of names and nothing else. First run: 0 of 51 lethal silent, 3 only cautioned, 92.4 % found, 5 false refusals, 16 % needless (pairs
8.9, sequences 42.1, jugs 50, sheets 18.2), and 23 cautions made refusals; then mended. Silent acid into ammonia that took up silver is left
a caution, as the least acid that it takes has to be told.
"""

import json
from pathlib import Path

import pytest

from benchmarks.hazard_faces import run

ONE = Path(__file__).parents[2] / "benchmarks" / "hazard_faces_one.json"


@pytest.fixture(scope="module")
def figures():
    return run(json.loads(ONE.read_text(encoding="utf-8")))[0]


def test_no_lethal_pair_or_sheet_is_silent_or_only_cautioned(figures):
    assert 51 == figures["all"]["lethal"]
    assert 0 == figures["all"]["lethal missed (silent)"] == figures["all"]["lethal only cautioned"]


def test_what_harms_is_found_and_every_name_is_understood(figures):
    assert figures["all"]["dangerous found %"] >= 97
    assert {} == figures["no answer"]


def test_ordinary_steps_are_never_refused(figures):
    assert 0 == figures["all"]["false refusals"]


@pytest.mark.parametrize("kind", ["pairs", "sequences", "sheets"])
def test_ordinary_steps_are_left_in_peace(figures, kind):
    assert figures[kind]["needless cautions %"] <= 5
