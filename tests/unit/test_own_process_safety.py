"""A process of one's own is judged by what its baths hold, by whatever name they are called, as a shipped one is."""

import pytest

from obverse.foundation import Level, UnsafeError
from obverse.process.catalog import formulas, routes
from obverse.run import PlanCaution
from obverse.safety import check_mix, check_route
from obverse.workbench.at_hand import PlannedBath, _with_own_bottles
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.ready_words import bath_words

DEVELOP = {"does": "develop", "bath": "first_developer", "time": "10 min", "rinse": "5, 10, 20"}
FIX = {"does": "fix", "bath": "fixer_rapid", "time": "5 min", "rinse": "5, 10, 20", "after": "waste jug A"}
IRON = {
    "does": "bleach",
    "bath": "bleach_iron_chloride",
    "time": "5 min",
    "rinse": "5, 10, 20",
    "after": "back to its jug",
}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    found = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://")
    yield found
    found.close()


def own(bench, *rows, name="x"):
    return bench.processes.from_document({"name": name, "steps": [DEVELOP, *rows]})


def bath(text, does="bleach", **more):
    return {"does": does, "name": "Own bath", "bath": text, "time": "4 min", "rinse": "5, 10, 20", **more}


@pytest.mark.parametrize(
    "text",
    [
        "1 g potassium permanganate + 20 mL hydrochloric acid, water to 500 mL",
        "1 g KMnO4 + 20 mL HCl, water to 500 mL",
        "1 g potassium permanganate + 20 mL pool acid, water to 500 mL",
        "1 g potassium permanganate + 20 mL muriatic acid 31 %, water to 500 mL",
        "20 mL potassium permanganate solution + 20 mL HCl, water to 500 mL",
        "50 mL javel + 50 mL vinegar, water to 500 mL",
        "50 mL bleach + 20 mL hydrochloric acid, water to 500 mL",
    ],
)
def test_what_kills_is_refused_by_any_of_its_names(bench, text):
    id = bench.processes.take_in({"name": "kills", "steps": [DEVELOP, bath(text), FIX]})
    with pytest.raises(UnsafeError, match="chlorine"):
        bench.sink.plan({"route": id, "tank_ml": 500})


def test_a_strength_that_was_said_counts_and_a_shared_word_does_not(bench):
    half, full = (
        own(bench, bath(f"20 mL hydrochloric acid {share} %, water to 500 mL")).formulas[0].components[0].parsed.value
        for share in (10, 31)
    )
    assert 2.5 < full / half < 4
    chlorine = own(bench, bath("2 g pool chlorine, water to 1 L")).formulas[0]
    assert [c.substance for c in chlorine.components] == ["calcium_hypochlorite"]


@pytest.mark.parametrize(
    ("text", "level"),
    [
        ("1 g potassium permanganate + 20 mL strange brew, water to 500 mL", "danger"),
        ("50 mL vinegar + 20 mL strange brew, water to 500 mL", "danger"),
        ("5 g sodium sulfite + 20 mL strange brew, water to 500 mL", "caution"),
    ],
)
def test_what_nobody_can_read_is_said_to_be_unjudged_and_stays_on_the_list(bench, text, level):
    rows = [DEVELOP, bath(text, does="clear" if "sulfite" in text else "bleach"), FIX]
    id = bench.processes.take_in({"name": "unread", "steps": rows})
    process = bench.processes.process(id)
    plan = bench.sink.plan({"route": id, "tank_ml": 500})
    told = [c for c in plan.cautions if "20 mL strange brew were not judged" in c.text]
    assert [c.level for c in told] == [level]
    assert any("20 mL strange brew" in bath_words(planned) for planned in plan.baths)
    [opinion] = [o for o in bench.processes.opinions(process) if o.code == "bath.unknown"]
    assert opinion.level.value == level and "not judged" in opinion.why
    sheet = bench.bench.sheet(process.formulas[0], 500)
    [line] = [line for line in sheet.lines if line.kind == "as_said"]
    assert line.name == "20 mL strange brew" and "your own measure" in line.do
    assert any(f.pair == "unread" for f in check_mix(process.formulas[0]))


def test_a_bath_of_which_nothing_can_be_read_is_told_in_the_plan(bench):
    process = own(bench, bath("a splash of something"), FIX)
    found = check_route(process, formulas(), tank_ml=500)
    assert [f.level for f in found if f.pair == "unread"] == [Level.CAUTION]


@pytest.mark.parametrize(
    ("text", "shipped"),
    [
        ("5 g potassium dichromate + 5 mL sulfuric acid, water to 500 mL", "dichromate_light"),
        ("1 g KMnO4 + 5 mL sulfuric acid, water to 500 mL", "permanganate_light"),
    ],
)
def test_warnings_come_by_the_chemistry(bench, text, shipped):
    id = bench.processes.take_in({"name": f"own {shipped}", "steps": [DEVELOP, bath(text), FIX]})
    assert set(routes()[shipped].warnings) <= set(bench.processes.process(id).warnings)
    plan = bench.sink.plan({"route": id, "tank_ml": 500})
    told = {c.text: c.level for c in plan.cautions if c.code == "route.warning"}
    assert set(routes()[shipped].warnings) <= set(told)
    assert set(told.values()) == {"danger" if shipped == "dichromate_light" else "caution"}
    mild = own(bench, bath("5 g citric acid, water to 500 mL"), FIX)
    assert not set(routes()[shipped].warnings) & set(mild.warnings)


@pytest.mark.parametrize(
    ("row", "before", "goes"),
    [
        (bath("5 g potassium dichromate + 5 mL sulfuric acid, water to 500 mL"), (), ("waste", "D")),
        (bath("1 g KMnO4 + 5 mL sulfuric acid, water to 500 mL"), (), ("destroy", "C")),
        (bath("200 mL iron chloride etchant, water to 500 mL"), (), ("waste", "B")),
        (bath("bleach_dichromate"), (), ("waste", "D")),
        (bath("20 mL salmiakgeist, water to 500 mL", does="dissolve"), (IRON,), ("destroy", "A")),
        (bath("5 g sodium metabisulfite, water to 500 mL", does="clear"), (), ("discard", "")),
        (
            bath("5 g sodium metabisulfite, water to 500 mL", does="clear"),
            (bath("bleach_dichromate"),),
            ("waste", "D2"),
        ),
    ],
)
def test_where_a_used_bath_goes_follows_its_chemistry_where_nobody_says_it(bench, row, before, goes):
    step = own(bench, *before, row).steps[-1]
    assert (step.after_use, step.waste_jug) == goes
    collected = own(bench, *before, {**row, "after": "never the drain, to the city collection"}).steps[-1]
    assert (collected.after_use, collected.waste_jug) == ("waste", goes[1] or "F")
    said = own(bench, *before, {**row, "after": "drain"}).steps[-1]
    assert said.after_use == "discard"


@pytest.mark.parametrize(
    ("row", "before", "word"),
    [
        (bath("5 g potassium dichromate + 5 mL sulfuric acid, water to 500 mL", after="drain"), (), "waste jug D"),
        (bath("20 mL ammonia, water to 500 mL", does="dissolve", after="drain"), (IRON,), "destroy, jug A"),
    ],
)
def test_chromium_and_silver_ammonia_down_the_drain_are_a_danger(bench, row, before, word):
    process = own(bench, *before, row)
    [opinion] = [o for o in bench.processes.opinions(process) if o.code == "drain"]
    assert opinion.level is Level.DANGER and opinion.change == {"after": word}


@pytest.mark.parametrize("after", ["back to its jug", "waste jug E"])
@pytest.mark.parametrize("text", ["20 mL salmiakgeist, water to 500 mL", "40 mL window brew, water to 500 mL"])
def test_what_dissolves_after_a_bleach_is_never_kept_whatever_it_is_called(bench, text, after):
    id = bench.processes.take_in(
        {"name": "kept", "steps": [DEVELOP, IRON, bath(text, does="dissolve", after=after), FIX]}
    )
    with pytest.raises(UnsafeError, match="silver"):
        bench.sink.plan({"route": id, "tank_ml": 500})


def test_a_name_of_a_bath_is_no_part_of_another():
    baths = [
        PlannedBath(formula="a", name="Bath I", action="a", volume_ml=500, bottle="my bottle"),
        PlannedBath(formula="b", name="Bath III", action="b", volume_ml=500, bottle="the other"),
    ]
    caution = PlanCaution(code="x", text="Bath III spoils Bath I.", level="caution")
    [told] = _with_own_bottles((caution,), baths)
    assert told.text == "Bath III (yours: the other) spoils Bath I (yours: my bottle)."
