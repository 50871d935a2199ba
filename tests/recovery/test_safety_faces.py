"""What `obverse check` and `obverse mix` say to names that a tester of another hand typed, mostly without amounts.

`benchmarks/hazard_faces_one.json`: 235 pairs, 30 sequences of baths without a rinse, 24 jugs and 43 sheets, from memory, written with the
list of names and nothing else. First run: 0 of 51 lethal silent, 3 only cautioned, 92.4 % found, 5 false refusals, 16 % needless (pairs
8.9, sequences 42.1, jugs 50, sheets 18.2), and 23 cautions made refusals; then mended. Silent acid into ammonia that took up silver is left
a caution, as the least acid that it takes has to be told.

`benchmarks/hazard_faces_two.json`: as many of each by another hand. First run: 1 of 53 lethal silent, 2 only cautioned, 90.5 % found, 4 false
refusals, 12.6 % needless; on the engine mended by other sets and not by it 0, 0, 93.6 %, 3 and 2.9 %; then mended: 0, 0, 100 %, 0 and 4.6 %.

`benchmarks/hazard_faces_three.json`: as many of each by a third hand. First run: 0 of 49 lethal silent, 0 only cautioned, 93.7 % found (pairs
95.5, sequences 92.9, jugs 92.9, sheets 85), 0 false refusals, 0 needless, 15 cautions made refusals; then mended: 98.1 %, 0, 0.

`benchmarks/hazard_faces_four.json`: as many of each by a fourth hand. First run: 0 of 52 lethal silent, 1 only cautioned, 94.8 % found, 2 false
refusals, 1.7 % needless; on the engine mended by the third and not by it 0, 1, 96.1 %, 2 and 1.7 %; then mended: 0, 0, 99.3 %, 0 and 1.1 %.

`benchmarks/hazard_faces_five.json`: as many of each by a fifth hand. First run: 0 of 51 lethal silent, 1 only cautioned, 94.5 % found, 0 false
refusals, 4.2 % needless, 20 cautions made refusals; on the engine mended by other sets and not by it 0, 1, 95.1 % (pairs 95.7, sequences 86.7, jugs
100, sheets 95.2), 0, 2.4 % and 7; then mended: 0, 0, 100 %, 0, 1.2 % and 7.

`benchmarks/hazard_faces_six.json`: as many of each by a sixth hand. First run: 0 of 50 lethal silent, 1 only cautioned, 94.9 % found (pairs 95.7,
sequences 100, jugs 92.3, sheets 88.9), 1 false refusal, 2.9 % needless; then mended: 0, 0, 99.4 %, 1, 2.9 % and 8. Its refusal stays: a used ammonia bath
with salt in the jug. Two and a half moles of ammonia a litre hold (a solubility product of 1.8e-10 times a stability of 1.7e7) 0.01 mol of silver a litre beside
1.7 mol of chloride, a third of a gram in what is usual, and it stands; salt by itself is no end of it.

`benchmarks/hazard_faces_seven.json` and `..._eight.json`: as many of each by a seventh and an eighth hand. First runs: 0 of 52 lethal silent, 1 only cautioned,
96.1 % found (pairs 97.3, sequences 92.3, jugs 92.3, sheets 94.7), 0 false refusals, 0.6 % needless, eleven made refusals, on the engine before the sixth was
learned; and, after the sixth and the seventh were, 0, 0 of 52, 98.1 % (97.4, 100, 100, 100), 0, 1.2 % and twelve. A set takes six seconds of processor; of the learned
ones the last two are run here, the others by `python -m benchmarks.hazard_faces FILE`.
"""

import json
from pathlib import Path

import pytest

from benchmarks.hazard_faces import run

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"
LETHAL = {"seven": 52, "eight": 52}


@pytest.fixture(scope="module", params=LETHAL)
def figures(request):
    found, _ = run(json.loads((BENCHMARKS / f"hazard_faces_{request.param}.json").read_text(encoding="utf-8")))
    return found | {"expected": LETHAL[request.param]}


def test_no_lethal_pair_or_sheet_is_silent_or_only_cautioned(figures):
    assert figures["expected"] == figures["all"]["lethal"]
    assert 0 == figures["all"]["lethal missed (silent)"] == figures["all"]["lethal only cautioned"]


def test_what_harms_is_found_and_every_name_is_understood(figures):
    assert figures["all"]["dangerous found %"] >= 97
    assert {} == figures["no answer"]


def test_ordinary_steps_are_never_refused(figures):
    assert 0 == figures["all"]["false refusals"]


@pytest.mark.parametrize("kind", ["pairs", "sequences", "sheets"])
def test_ordinary_steps_are_left_in_peace(figures, kind):
    assert figures[kind]["needless cautions %"] <= 5
