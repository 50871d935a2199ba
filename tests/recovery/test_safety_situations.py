"""The hazard engine against 220 situations written by another hand before the engine was.

`hazard_situations_one.json`: 110 dangerous and 110 ordinary, with the truth as that hand saw it; its sources are
mostly "from memory", a few are public pages. The engine was tuned on this set, so it proves no more than that
these stay as they are; sets that it has not seen are judged elsewhere.

`hazard_situations_two_odd.json`: 110 of another independent hand (56 dangerous, 54 ordinary), all from memory, first run
on a finished engine (it missed 9 lethal ones then) and only after that used to mend it; its other half stays unseen.

`hazard_situations_three.json`: 78 written with the rules known, but before the engine was run on them (38 dangerous, 40
ordinary; safety data sheets from memory, university lists of incompatible chemicals, public warnings on household
mixtures). First run: 2 of 18 lethal silent, 1 only cautioned, 84 % found, no false refusal, 7.5 % needless; then mended.

`hazard_situations_four.json`: 58 more of carry-over, closed vessels, standing and rooms by the same hand. First run: 1 of 26
lethal silent, 3 only cautioned, 97 % found, no false refusal, 4.3 % needless; then mended.

`benchmarks/hazard_situations_five.json`: 78 of shelf, room, damp, standing and drain, from safety cards and public lists of
incompatible chemicals, before the rules of `stands_by` were. First run: 2 of 22 lethal silent, 1 only cautioned, 88 % found,
no false refusal, 5.4 % needless; then mended.

`benchmarks/hazard_situations_six.json`: 140 of a third independent hand in the words of a household (70 dangerous, 70 ordinary). First
run: 1 of 19 lethal silent, 3 only cautioned, 90 % found, 4 false refusals, 5.7 % needless; then mended.

`benchmarks/hazard_situations_eight.json`: 160 of a fifth independent hand (80 dangerous, 80 ordinary). First run: 2 of 22 lethal silent,
4 only cautioned, 81 % found, 2 false refusals, 3.8 % needless; then mended.

`benchmarks/hazard_situations_nine.json`: 160 of a sixth independent hand (80 dangerous, 80 ordinary). First run: 1 of 20 lethal silent,
2 only cautioned, 85 % found, 1 false refusal, 3.8 % needless; on the next engine, which had not seen it either, 0, 2, 90 %, 1 and 2.5 %;
then mended.

`benchmarks/hazard_situations_ten.json`: 140 of a seventh independent hand (70 dangerous, 70 ordinary). First run: 0 of 19 lethal silent,
4 only cautioned, 91.4 % found, 0 false refusals, 4.3 % needless; then mended.

`benchmarks/hazard_situations_eleven.json`, `..._twelve.json` and `..._thirteen.json`: 140 each of three further independent hands (70
dangerous, 70 ordinary). First runs, lethal silent, only cautioned, found, false refusals, needless: 1 and 3 of 18, 80 %, 2, 2.9 %; 1 and 1 of
18, 87.1 %, 0, 5.7 %; 1 and 2 of 18, 88.6 %, 0, 1.4 %. On the engine mended by the first two, the third gave 1, 2, 90 %, 0 and 1.4 %; then
mended. Of twelve, a whiff of chlorine from what clings to a reel (1.3 ppm if half of it left at once) stays silent: the engine reckons less.

`benchmarks/hazard_situations_fifteen.json` and `..._sixteen.json`: 140 each of two further hands (70 dangerous, 70 ordinary) who told parts and setting in
fields and numbers, so that no word is interpreted. First runs: 0 and 1 of 19, 95.7 %, 0, 0.0 %; 0 and 1 of 20, 97.1 %, 0, 1.4 %; 13 and 10 cautions made
refusals. Then mended. Of sixteen the brown stain of 0.13 mmol of permanganate in a developer stays told: its truth looks at gas only.

`benchmarks/hazard_situations_seventeen.json`: 140 told in fields and numbers (70 dangerous, 70 ordinary), by a hand that had the list of what
can be named. First run: 0 of 19 lethal silent, 1 only cautioned, 94.3 % found, 0 false refusals, 1.4 % needless; then mended.
`benchmarks/hazard_situations_nineteen.json`: 140 of another hand in plain words. First run: 0 of 20 lethal silent, 1 only cautioned, 92.9 %
found, 1 false refusal, 4.3 % needless; then mended.

`benchmarks/hazard_situations_eighteen.json` (fields and numbers) and `..._twenty.json` (plain words): 140 each of two more hands (70 dangerous, 70
ordinary). First runs, lethal silent, only cautioned, found, false refusals, needless: 0 and 1 of 20, 94.3 %, 0, 0.0 %; 0 and 1 of 20, 95.7 %, 0, 2.9 %.
Of the engine mended by fifteen, sixteen, seventeen and nineteen: 0 and 1, 97.1 %, 0, 0.0 %; 0 and 0, 97.1 %, 0, 5.7 %; mended by these two as well: 0 and 0,
100 %, 0, 0.0 % both, with five and three cautions made refusals.

`benchmarks/hazard_situations_twentyone.json` (plain words) and `..._twentytwo.json` (fields and numbers): 140 each of two more hands (70 dangerous, 70
ordinary). First runs: 1 and 1 of 21, 95.7 %, 0, 4.3 %; 0 and 1 of 18, 95.7 %, 0, 2.9 %; nine and five cautions made refusals. Mended by both: 0 and 0,
100 %, 0, 2.9 %; 0 and 0, 98.6 %, 0, 0.0 %. Two needless ones stay told: permanganate and metabisulfite in one jug (an independent hand called it a caution), and a
tray of ammonia of 0.3 % in 8 m3 (58 ppm reckoned in half an hour; the short limit is 35). Three grams of damp dithionite stay silent.

`benchmarks/hazard_situations_twentythree.json` (fields and numbers) and `..._twentyfour.json` (plain words): 140 each of two more hands (70 dangerous,
70 ordinary). First runs: 0 and 1 of 19, 98.6 %, 0, 1.4 %; 1 and 1 of 19, 91.4 %, 0, 1.4 %; six and eleven cautions made refusals. Of the engine mended by
twenty-one and twenty-two the same, but needless 0.0 % and 1.4 %; mended by both: 0 and 0, 100 %, 0, 0.0 % both. Most misses of twenty-four were of its reader:
what a strength names beside a name of the shop, a use in brackets, what clings, a pH, a dilution.

`benchmarks/hazard_situations_twentyfive.json` (fields and numbers) and `..._twentysix.json` (plain words): 140 each of two more hands (70 dangerous,
70 ordinary). First runs: 0 and 0 of 19, 98.6 %, 0, 5.7 %; 1 and 1 of 20, 92.9 %, 0, 1.4 %; five and eight cautions made refusals. Of the engine mended by
other sets and not by these: 0 and 0, 98.6 %, 0, 4.3 %; 0 and 1, 94.3 %, 0, 1.4 %; six and eight. Mended by both: 0 and 0, 100 %, 0, 1.4 %; 0 and 0, 100 %,
0, 0.0 %; six and eight.

`benchmarks/hazard_situations_twentyseven.json` (fields and numbers) and `..._twentyeight.json` (plain words): 140 each of two more hands (70 dangerous,
70 ordinary). First runs: 0 and 0 of 18, 97.1 %, 0, 0.0 %; 0 and 0 of 19, 95.7 %, 1, 1.4 %; six and four. Mended by both: 0 and 0, 98.6 %, 0, 0.0 %; 0 and 0,
100 %, 0, 0.0 %; six and three. Left: two bottles of spirit side by side on a shelf, which do nothing to each other. The flocks of rust of 3.7 mmol of iron in a weak ammonia bath stay told: the truth names them and asks for silence.

`benchmarks/hazard_situations_twentynine.json` (fields and numbers) and `..._thirty.json` (plain words): 140 each of two more hands (70 dangerous,
70 ordinary). First runs: 0 and 0 of 20, 100 %, 0, 0.0 %; 0 and 0 of 19, 92.9 %, 0, 1.4 %; two and four cautions made refusals. One class was mended by thirty
(peroxide in the jug of an iron bleach warms itself), the four others of it that are silent are left, so it is not run here.
"""

import json
from pathlib import Path

import pytest

from benchmarks.hazard_situations import read, run, verdict
from obverse.safety.engine import assess

SITUATIONS = json.loads(Path(__file__).with_name("hazard_situations_one.json").read_text(encoding="utf-8"))

SECOND_HAND = json.loads(Path(__file__).with_name("hazard_situations_two_odd.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def second_hand():
    return run(SECOND_HAND)[0]


def test_the_second_hand_finds_no_lethal_one_silent_or_only_cautioned(second_hand):
    assert 34 == second_hand["all"]["lethal"]
    assert 0 == second_hand["all"]["lethal missed (silent)"] == second_hand["all"]["lethal only cautioned"]


def test_the_second_hand_is_warned_and_left_in_peace(second_hand):
    assert second_hand["all"]["dangerous found %"] >= 97
    assert 0 == second_hand["all"]["false refusals"]
    assert second_hand["all"]["needless cautions %"] <= 5
    assert {} == second_hand["unknown names"]


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


# The later sets: file, situations, lethal ones. Of four one is a caution since what drives one out is refused by the mean of the room:
# chloramine of 14 ppm in 6 m3, as seven others of other hands have it.
LATER = [
    ("three", 78, 18),
    ("four", 58, 26),
    ("five", 78, 22),
    ("six", 140, 19),
    ("eight", 160, 22),
    ("nine", 160, 20),
    ("ten", 140, 19),
    ("eleven", 140, 18),
    ("twelve", 140, 18),
    ("thirteen", 140, 18),
    ("fifteen", 140, 19),
    ("sixteen", 140, 20),
    ("seventeen", 140, 19),
    ("nineteen", 140, 20),
    ("eighteen", 140, 20),
    ("twenty", 140, 20),
    ("twentyone", 140, 21),
    ("twentytwo", 140, 18),
    ("twentythree", 140, 19),
    ("twentyfour", 140, 19),
    ("twentyfive", 140, 19),
    ("twentysix", 140, 20),
    ("twentyseven", 140, 18),
    ("twentyeight", 140, 19),
    ("twentynine", 140, 20),
]


@pytest.mark.parametrize(("name", "situations", "lethal"), LATER)
def test_the_later_sets_stay_as_they_were_mended(name, situations, lethal):
    here = Path(__file__).parent if name in ("three", "four") else Path(__file__).parents[2] / "benchmarks"
    text = (here / f"hazard_situations_{name}.json").read_text(encoding="utf-8")
    of_all = run(json.loads(text))[0]["all"]
    assert (situations, lethal) == (of_all["situations"], of_all["lethal"])
    assert 0 == of_all["lethal missed (silent)"] == of_all["false refusals"]
    assert (name == "four") == of_all["lethal only cautioned"]
    assert of_all["dangerous found %"] >= 97
    assert of_all["needless cautions %"] <= 5
