"""What the house says of a way is true of it: what is carried where, what is in a bath, what is not known."""

import inspect
import re

import pytest

from obverse.foundation import Level
from obverse.process.catalog import routes
from obverse.workbench import opinion_words as told
from obverse.workbench.bootstrap import open_workbench

DEVELOP = {"does": "develop", "bath": "first_developer", "time": "10 min", "rinse": "5, 10, 20"}
IRON = {"does": "bleach", "bath": "bleach_iron_chloride", "time": "5 min", "after": "back to its jug"}
AMMONIA = {"does": "dissolve", "bath": "100 mL household ammonia, water to 500 mL", "time": "3 min", "after": "destroy"}
FIX = {"does": "fix", "bath": "fixer 1+4", "time": "4 min"}
PEROXIDE = {"does": "bleach", "bath": "300 mL peroxide 3 % + 200 mL vinegar 5 %", "time": "12 min"}
CLEAR = {"does": "clear", "bath": "30 g sodium metabisulfite in 1 L", "time": "1 min"}
BREW = {"does": "stare", "bath": "40 mL strange brew, water to 500 mL", "time": "3 min"}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    found = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://")
    yield found
    found.close()


def said(bench, *rows, code=""):
    process = bench.processes.from_document({"name": "x", "tank_ml": 500, "steps": list(rows)})
    return [one for one in bench.processes.opinions(process) if one.code.startswith(code)]


def test_the_last_bath_reaches_the_first_only_where_nothing_is_rinsed_between(bench):
    [*told] = said(bench, DEVELOP, FIX, code="care.inc.68")
    assert {(one.step, one.level) for one in told} == {("first_development", Level.CAUTION)}
    assert all(one.says.startswith("If reel and tank go to the next film without a rinse: ") for one in told)
    for rinsed in ({**FIX, "rinse": "running water 10 min"}, FIX):
        wash = () if rinsed is not FIX else ({"does": "wash", "rinse": "running water 10 min"},)
        assert said(bench, DEVELOP, rinsed, *wash, {"does": "dry"}, code="care.inc.68") == []


@pytest.mark.parametrize(
    ("bath", "gas"), [("10 g borax, water to 500 mL", False), ("10 g metabisulfite in 500 mL", True)]
)
def test_only_a_bath_of_sulfite_smells_after_a_bleach(bench, bath, gas):
    bleach = {"does": "bleach", "bath": "1 g permanganate + 5 g sodium bisulfate, water to 500 mL", "time": "3 min"}
    found = said(bench, DEVELOP, bleach, {"does": "my own bath", "bath": bath, "time": "2 min"}, code="care.inc.66")
    assert bool(found) == gas
    second = {"does": "bleach 2", "bath": "10 g copper sulfate + 10 g salt, water to 500 mL", "time": "3 min"}
    assert said(bench, DEVELOP, bleach, second, code="care.inc.66") == []


def test_a_bath_nobody_can_read_stands_between_and_thins_what_is_carried(bench):
    rinse = [one for one in said(bench, DEVELOP, IRON, BREW, AMMONIA, code="rinse") if one.step == "bleach"]
    assert [one.says for one in rinse] == [
        "Nothing rinses between this and stare: all that film and tank hold goes along."
    ]
    assert said(bench, DEVELOP, IRON, AMMONIA, code="care.film.swelling") != []
    assert said(bench, DEVELOP, IRON, BREW, AMMONIA, code="care.film.swelling") == []
    straight, through = (
        [
            one.says
            for one in said(bench, DEVELOP, IRON, *between, AMMONIA)
            if "from iron(III) chloride bleach comes" in one.says and one.step != "bleach"
        ]
        for between in ((), (BREW,))
    )
    assert straight and straight != through


def test_water_of_its_own_step_counts_between_two_baths(bench):
    rinses = ({"does": "rinse", "rinse": "5, 10"}, {"does": "rinse", "rinse": "5, 10"})
    assert said(bench, DEVELOP, IRON, *rinses, AMMONIA, code="care.film.swelling") == []
    assert [o for o in said(bench, DEVELOP, IRON, *rinses, AMMONIA, code="rinse") if o.step == "bleach"] == []


@pytest.mark.parametrize(
    ("added", "level", "says"),
    [
        ("5 mL rapid fixer", Level.NOTE, "5 mL/L of rapid fixer concentrate; the house starts at 2. Both are common."),
        ("3 g sodium thiosulfate crystals", Level.NOTE, "as much thiosulfate as in 3 mL/L"),
        ("15 g sodium thiosulfate crystals", Level.CAUTION, "Begin lower and let a strip decide."),
        ("3 g sodium thiocyanate", Level.NOTE, "Its solvent is 3 g/L of sodium thiocyanate."),
        ("5 mL strange brew", Level.NOTE, "whether yours has any cannot be told"),
        ("5 g potassium bromide", Level.NOTE, "yours has none"),
    ],
)
def test_what_does_the_work_of_the_solvent_is_seen(bench, added, level, says):
    row = {"does": "develop", "bath": f"100 mL paper developer + {added}, water to 1 L", "time": "10 min"}
    [one] = said(bench, row, code="developer.solvent")
    assert (one.level, says in one.says) == (level, True), one.says


def test_a_fogging_bath_is_called_what_it_is(bench):
    fog = {"does": "fog", "time": "5 min"}
    tin = said(bench, DEVELOP, IRON, {**fog, "bath": "5 g stannous chloride + 10 g sodium hydroxide, water to 500 mL"})
    assert not any("dithionite" in one.says + one.why for one in tin)
    own = said(bench, DEVELOP, IRON, {**fog, "bath": "5 g sodium dithionite in 500 mL"})
    assert any("use up the dithionite" in one.why for one in own)


def test_what_had_to_be_supposed_of_a_mix_is_told(bench):
    [one] = said(bench, DEVELOP, {**FIX, "bath": "fixer 1 in 5"}, code="bath.reading")
    assert "1 in 5 is read as 1+4" in one.says
    [one] = said(bench, DEVELOP, {**FIX, "bath": "fixer"}, code="bath.reading")
    assert "taken as it stands in its bottle" in one.says


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"does": "bleach", "bath": "40 mL etchant + 40 mL strange brew, water to 500 mL"}, "it may be for none"),
        ({"does": "fog", "bath": "10 g sodium dithionite + 5 g secret stuff, water to 500 mL"}, "cannot be said"),
        ({"does": "bleach", "bath": "40 mL strange brew, water to 500 mL"}, "cannot be said"),
        ({"does": "fix", "bath": "a sachet of something"}, "cannot be said"),
    ],
)
def test_what_a_bath_suffices_for_is_never_told_from_its_known_parts_alone(bench, row, says):
    (told,) = said(bench, DEVELOP, {"time": "4 min", "after": "waste jug F", **row}, code="suffices")
    assert says in told.says and told.level is Level.CAUTION


def worked(fixer, ammonia, etchant, bleach, minutes, sulfite, dithionite, fills, volume):
    """A whole way in which every figure that the house speaks of may be set."""
    after = {"time": f"{minutes} min", "rinse": fills}
    developer = f"100 mL paper developer + {fixer} mL rapid fixer + {ammonia} mL household ammonia, water to 500 mL"
    sulfite_bath = f"{sulfite} g sodium metabisulfite, water to 500 mL"
    dithionite_bath = f"{dithionite} g sodium dithionite, water to 500 mL"
    return (
        {"does": "develop", "bath": developer, "time": "10 min", "rinse": fills},
        {"does": "bleach", "bath": f"{etchant} mL etchant, water to 500 mL", **after, "time": bleach},
        {"does": "dissolve", "bath": "100 mL household ammonia, water to 500 mL", **after, "after": "drain"},
        {"does": "clear", "bath": sulfite_bath, **after},
        {"does": "fog", "bath": dithionite_bath, **after, "made": "while bleach runs", "volume": volume},
        {"does": "fix", "bath": "fixer 1+4", **after},
    )


def lit(watts, centimetres, seconds, mine):
    """Light instead, and no second developer; a bath of one's own at the end."""
    lamp = {"does": "expose", "name": "Lamp", "note": f"{watts} W at {centimetres} cm, off the reel"}
    brew = {"does": "mine", "bath": "5 mL strange brew, water to 500 mL", "time": mine}
    return DEVELOP, IRON, {**lamp, "time": f"{seconds} s"}, brew


PERMANGANATE = {"does": "bleach", "bath": "1 g permanganate + 5 g sodium bisulfate, water to 500 mL", "time": "3 min"}
WAYS = {
    # 20 and 2 mL/L; one fill of 500 mL over 10 mL that are held leaves 1/51.
    "strong": worked(10, 1, 20, "20 min", 12, 10, 3, "5", "300 mL"),
    # 10 and 20 mL/L; two fills leave (1/51)^2 = 0.038 %, which is no more worth a word.
    "milder": worked(5, 10, 40, "9 min", 4, 10, 0.5, "5, 5", "350 mL"),
    "short": worked(1, 4, 0.5, "2 min", 1, 10, 3, "5, 10, 20", "500 mL"),
    "bright": lit(100, 40, 180, "300 s, a bit more when cold"),
    "dim": lit(15, 200, 20, "half an hour and a bit"),
    # 10 mL of 2 g/L permanganate (158 g/mol, five electrons) are 0.63 meq; 10 mg of metabisulfite (190 g/mol, four) are 0.21.
    "thin": (
        DEVELOP,
        PERMANGANATE,
        {"does": "clear", "bath": "0.01 g sodium metabisulfite, water to 500 mL", "time": "2 min"},
    ),
    "pinch": (DEVELOP, {"does": "mine", "bath": "a pinch of salt in 500 mL", "time": "5 min"}),
    "capfuls": (
        DEVELOP,
        {"does": "mine", "bath": "two capfuls of household ammonia, water to 500 mL", "time": "5 min"},
    ),
    "peroxide": (DEVELOP, PEROXIDE, CLEAR, FIX, {**CLEAR, "name": "Wash aid"}),
    "no light": (DEVELOP, IRON),
    "uncleared": (DEVELOP, IRON, {"does": "fog", "bath": "5 g sodium dithionite in 500 mL", "time": "5 min"}),
}
# What is said of each cause: with its number, with another, and on the other side of its condition, where nothing is.
SAID = [
    ("strong", "developer.solvent", "20 mL/L of rapid fixer concentrate is far above the usual start of 2;"),
    ("milder", "developer.solvent", "10 mL/L of rapid fixer concentrate; the house starts at 2. Both are common."),
    ("short", "developer.solvent", None),
    ("strong", "developer.alkali", "2 mL/L of household ammonia; the house starts at 8. Both are common."),
    ("milder", "developer.alkali", "20 mL/L of household ammonia; the house starts at 8. Both are common."),
    ("short", "developer.alkali", None),
    ("strong", "time", "20 min is far above the usual 5 min."),
    ("milder", "time", "9 min; usual are 5 min. Both are common."),
    ("short", "time", "2 min is far below the usual 5 min."),
    ("uncleared", "time", None),
    ("strong", "suffices", "It holds about 1.5 g of dithionite; the silver of a film takes 0.093 to 0.47 g, and air its share."),
    ("milder", "suffices", "It holds about 0.3 g of dithionite; the silver of a film takes 0.093 to 0.47 g, and air its share. Take more"),
    ("thin", "suffices", "Its sulfite undoes only about 33 % of what film and tank carry of Bleach: rinse more before it, or take more."),
    ("strong", "suffices", "Its sulfite is enough for what film and tank carry of Bleach about a thousand and more times over."),
    ("short", "suffices", "Mix more, or stronger, for one film."),
    ("bright", "suffices", "A glowing lamp of 100 W at 0.4 m, 90 s a side"),
    ("dim", "suffices", "less than a fresh film needs (50 lx s): expect thin blacks."),
    ("strong", "made", "Made so early it is 56 min old at its end"),
    ("milder", "made", "Made so early it is 21 min old at its end"),
    ("short", "made", None),
    ("strong", "volume", "300 mL in a tank of 500 mL"),
    ("milder", "volume", "350 mL in a tank of 500 mL"),
    ("short", "volume", None),
    ("strong", "rinse", "The rinse leaves about 2 % of the bath for Bleach; three fills would leave under 0.001 %."),
    ("milder", "rinse", None),
    ("strong", "wash", "After it comes 1 fill. By dilution that leaves 2 % of the fixer"),
    ("milder", "wash", "After it come 2 fills. By dilution that leaves 0.038 % of the fixer"),
    ("strong", "drain", "Ammonia that dissolved silver never goes into a drain: destroy it the same evening."),
    ("bright", "drain", None),
    ("strong", "acid_rinse", "An acid rinse between iron and ammonia"),
    ("uncleared", "acid_rinse", None),
    ("strong", "clearing.why", "A clearing bath before dithionite: keep it"),
    ("uncleared", "clearing.why", None),
    ("peroxide", "clearing.peroxide", "After peroxide 1 min does in a clearing bath"),
    ("strong", "clearing.peroxide", None),
    ("thin", "clearing.peroxide", None),
    ("uncleared", "clearing", "A clearing bath of metabisulfite before the fogging bath."),
    ("bright", "clearing", None),
    ("no light", "second_half", "After this nothing makes the positive"),
    ("bright", "second_half", None),
    ("bright", "second_developer", "After the light a second developer is missing."),
    ("no light", "second_developer", None),
    ("bright", "words", "Reckoned: time '300 s, a bit more when cold' as 5 min."),
    ("dim", "words", "Reckoned: time 'half an hour and a bit' as 30 min."),
    ("strong", "words", None),
    ("bright", "bath.unknown", "Not reckoned: strange brew."),
    ("strong", "bath.unknown", None),
    ("pinch", "bath.vague", "Taken: a pinch of salt as 0.4 g ("),
    ("capfuls", "bath.vague", "Taken: two capfuls of household ammonia as 16 mL ("),
    ("strong", "bath.vague", None),
    ("strong", "bath.reading", "Read as etchant: iron(III) chloride etchant 42 Be."),
    ("no light", "bath.reading", None),
    ("strong", "care.", "22 g/L of iron(III) chloride, anhydrous from Bleach comes into tap water"),
    ("milder", "care.", "44 g/L of iron(III) chloride, anhydrous from Bleach comes into tap water"),
]  # fmt: skip


def test_every_opinion_follows_its_cause_and_is_silent_without_it(bench):
    found = {name: [(one.code, one.says) for one in said(bench, *rows)] for name, rows in WAYS.items()}
    wrong = [
        (way, code, words, [says for other, says in found[way] if other.startswith(code)])
        for way, code, words in SAID
        if (words is not None) != any(of(code, other) and (words or "") in says for other, says in found[way])
    ]
    assert wrong == []
    # None is left out: each that the source can make is in the list.
    made = set(re.findall(r'Opinion\(\s*step,\s*f?"([a-z_.]+)', inspect.getsource(told)))
    assert made - {"developer."} == {code for _, code, _ in SAID} - {"developer.solvent", "developer.alkali"}


def of(code, other):
    return other.startswith(code) if code.endswith(".") else other == code


def test_of_the_shipped_ways_the_house_would_do_nothing_otherwise(bench):
    asked = {
        key: [
            (one.step, one.code)
            for one in bench.processes.opinions(bench.processes.process(key))
            if one.change or one.insert
        ]
        for key in routes()
    }
    assert asked == {key: [] for key in routes()}


def test_why_peroxide_is_cleared_briefly_and_iron_counted_low(bench):
    (brief,) = said(bench, DEVELOP, PEROXIDE, CLEAR, FIX, {**CLEAR, "name": "Wash aid"}, code="clearing.peroxide")
    assert brief.step == "clearing_bath" and not brief.asks
    (iron,) = (one for one in said(bench, DEVELOP, IRON, code="suffices") if one.step == "bleach")
    counts = "Practice counts about 8 films to 300 mL of such a bath; its iron(III) alone would take about 130."
    assert iron.why.startswith(counts)
    weak = {**IRON, "bath": "0.2 g iron(III) chloride, water to 500 mL"}
    by_peroxide = [one.why for one in said(bench, DEVELOP, PEROXIDE, code="suffices")]
    assert len(by_peroxide) == 1 and by_peroxide[0].startswith("As practice counts it")
    assert ["Practice" in one.why for one in said(bench, DEVELOP, weak, code="suffices")] == [False]
