"""What the house says of a way is true of it: what is carried where, what is in a bath, what is not known."""

import pytest

from obverse.foundation import Level
from obverse.workbench.bootstrap import open_workbench

DEVELOP = {"does": "develop", "bath": "first_developer", "time": "10 min", "rinse": "5, 10, 20"}
IRON = {"does": "bleach", "bath": "bleach_iron_chloride", "time": "5 min", "after": "back to its jug"}
AMMONIA = {"does": "dissolve", "bath": "100 mL household ammonia, water to 500 mL", "time": "3 min", "after": "destroy"}
FIX = {"does": "fix", "bath": "fixer 1+4", "time": "4 min"}
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
