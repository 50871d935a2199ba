"""Processes of the person's own: entered as said, kept with every revision, judged, compared, planned like a shipped one."""

import json

import pytest

from obverse.foundation import ConflictError, InputError, NotFoundError
from obverse.process.catalog import routes
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.processes import compare, process_text
from tests.acceptance_way import VARIANTS, WAY


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    found = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://")
    yield found
    found.close()


@pytest.fixture(scope="module")
def way(bench):
    return bench.processes.take_in(WAY)


def test_the_way_is_read_as_it_was_said(bench, way):
    process = bench.processes.process(way)
    grams = {f"{f.key.partition('.')[2]} {c.substance}": c.parsed.value for f in process.formulas for c in f.components}
    # By hand: 1.5 mL of 60 % w/v in 600 mL; half of etchant 42 Be; 10 mL of teaspoons at the bulk of a dry powder.
    assert grams["first_developer ammonium_thiosulfate"] == pytest.approx(1.5 * 0.6 / 0.6, rel=1e-3)
    assert grams["bleach_a iron_iii_chloride"] == pytest.approx(0.5 * 0.4 * 1000 * 1.38, rel=0.05)
    assert 5 < grams["clearing sodium_metabisulfite"] < 40
    first, bleach_b, fog = (process.step(key) for key in ("first_developer", "bleach_b", "fogging_developer"))
    assert first.rinse_after.fills == (5, 10, 20) and first.agitation.seconds == 15
    assert [d.dilution for d in process.formulas[0].dilutions] == ["1+14"]
    assert (fog.made, fog.made_during, fog.volume_ml) == ("during", "bleach_b", 350)
    assert process.baths({})[bleach_b.formula].role == "halide_solvent"
    assert bench.processes.controls(process)["solvent_ml_per_l"] == pytest.approx(2.5)


def test_its_form_says_what_was_said(bench, way):
    rows = {row["key"]: row for row in bench.processes.draft(bench.processes.process(way)).rows}
    assert rows["first_developer"]["bath"] == WAY["steps"][0]["bath"]
    assert rows["fogging_developer"]["made"] == "while Bleach B works"
    assert rows["bleach_a"]["after"] == "back to its jug, jug C"


def test_the_form_unchanged_is_the_same_process(bench, way):
    process = bench.processes.process(way)
    draft = bench.processes.draft(process)
    again = bench.processes.read(process, {"name": process.name, "summary": "", "tank_ml": "600"}, draft.rows)
    assert again.wrong == {} and again.process == process


@pytest.mark.parametrize("key", list(routes()))
def test_a_shipped_process_goes_through_the_form_unchanged(bench, key):
    process = routes()[key]
    again = bench.processes.read(
        process, {"name": process.name, "summary": process.summary}, bench.processes.draft(process).rows
    )
    assert again.wrong == {} and again.process == process


def test_what_is_wrong_is_told_at_its_field_and_what_was_typed_stays(bench, way):
    process = bench.processes.process(way)
    rows = [dict(row) for row in bench.processes.draft(process).rows]
    rows[0]["time"], rows[2]["rinse"] = "a while", "not 3 fills"
    draft = bench.processes.change(way, {"name": process.name, "tank_ml": "lots"}, rows, None)
    assert set(draft.wrong) == {(0, "time"), (2, "rinse"), (-1, "tank_ml")}
    assert draft.process is None and draft.rows[0]["time"] == "a while"
    assert bench.processes.process(way) == process


def test_a_change_that_comes_too_late_is_told(bench, way):
    process = bench.processes.process(way)
    rows = bench.processes.draft(process).rows
    with pytest.raises(ConflictError):
        bench.processes.change(way, {"name": process.name}, rows, bench.processes.revision(way) - 1)


def test_a_shipped_process_stays_as_it_is(bench):
    with pytest.raises(InputError, match="shipped"):
        bench.processes.keep("iron_ammonia_light", routes()["iron_ammonia_light"])


def test_begun_from_a_shipped_one_it_plans_as_that_does(bench):
    id = bench.processes.begin("Iron at my sink", source="iron_ammonia_fogging")
    mine, theirs = (bench.sink.plan({"route": key}) for key in (id, "iron_ammonia_fogging"))
    assert mine.actions == theirs.actions
    assert compare(bench.processes.process(id), routes()["iron_ammonia_fogging"], {}) == ()


def test_reordering_leaving_out_and_repeating_are_rows(bench):
    id = bench.processes.begin("Other order", source="permanganate_light")
    process = bench.processes.process(id)
    rows = [dict(row) for row in bench.processes.draft(process).rows]
    rows[1:3] = rows[2], rows[1]
    rows.append({**rows[-2], "key": ""})
    del rows[3]
    changed = bench.processes.change(id, {"name": "Other order"}, rows, 1)
    keys = [step.key for step in changed.process.steps]
    assert keys[:3] == [process.steps[i].key for i in (0, 2, 1)]
    assert process.steps[3].key not in keys and len(set(keys)) == len(keys) == len(process.steps)
    assert bench.processes.revision(id) == 2


def test_two_processes_are_compared_in_words(bench, way):
    other = bench.processes.take_in(VARIANTS["light"])
    found = {
        d.where: (d.first, d.second)
        for d in compare(bench.processes.process(way), bench.processes.process(other), bench.processes.formulas())
    }
    assert "no such step" in found["Fogging developer"][1] and "no such step" in found["Lamp"][0]
    plain = bench.processes.take_in(VARIANTS["plain"])
    told = compare(bench.processes.process(way), bench.processes.process(plain), bench.processes.formulas())
    assert ("First developer: time", "11 min", "9 min") in [(d.where, d.first, d.second) for d in told]


def said(bench, id):
    return {(o.step, o.code): o for o in bench.processes.opinions(bench.processes.process(id))}


def test_the_house_says_what_it_would_do_otherwise(bench, way):
    found = said(bench, way)
    assert found["bleach_a", "acid_rinse"].can_be_taken_over
    assert "3 min; usual are 2 min" in found["clearing", "time"].says
    assert found["clearing", "rinse"].level.value == "caution"
    assert (
        "14 min old" not in found["fogging_developer", "made"].says
        and "13 min old" in found["fogging_developer", "made"].says
    )
    assert ("first_developer", "developer.solvent") not in found
    assert (
        "none" in said(bench, bench.processes.take_in(VARIANTS["plain"]))["first_developer", "developer.solvent"].says
    )
    # Practice counts about eight films to 300 mL of etchant 1+1.
    assert "about 16 films" in found["bleach_a", "suffices"].says


def test_what_a_step_suffices_for_is_reckoned(bench, way):
    found = said(bench, way)
    light = said(bench, bench.processes.take_in(VARIANTS["light"]))
    # A glowing lamp of 100 W gives some 1645 lm: over 4 pi (0.4 m)^2 for 90 s that is 74 000 lx s in the middle.
    assert "off its reel" in light["lamp", "suffices"].says and light["lamp", "suffices"].level.value == "note"
    short = bench.processes.process("my_way_by_light")
    dim = short.step("lamp").model_copy(update={"time_min": 0.01, "note": "A 5 W lamp at 3 m, on the reel."})
    told = {(o.step, o.code): o for o in bench.processes.opinions(short.with_step(dim))}
    assert told["lamp", "suffices"].level.value == "caution" and "left on its reel" in told["lamp", "suffices"].says
    # 15 g/L of dithionite in 350 mL; 0.81 g for a gram of silver, of which a film has a tenth to a half.
    assert "about 5.2 g of dithionite" in found["fogging_developer", "suffices"].says
    # 9.7 g of metabisulfite give 0.2 mol of electrons; three fills leave some microgram of the iron.
    assert "thousand and more times" in found["clearing", "suffices"].says
    assert "After it come 3 fills" in found["fixer_with_hardener", "wash"].says
    process = bench.processes.process(way)
    unwashed = process.step("fixer_with_hardener").model_copy(update={"rinse_after": None})
    told = {(o.step, o.code): o for o in bench.processes.opinions(process.with_step(unwashed))}
    assert "comes no water" in told["fixer_with_hardener", "wash"].says
    assert told["fixer_with_hardener", "wash"].level.value == "caution"
    weak = process.model_copy(
        update={
            "formulas": tuple(
                f.model_copy(update={"components": (f.components[0].model_copy(update={"concentration": "0.2 g/L"}),)})
                if f.role == "fogging"
                else f
                for f in process.formulas
            )
        }
    )
    assert (
        "Take more"
        in {(o.step, o.code): o for o in bench.processes.opinions(weak)}["fogging_developer", "suffices"].says
    )


def test_a_word_of_the_house_is_taken_over_or_declined_with_a_reason(bench):
    id = bench.processes.begin("Judged", source=bench.processes.take_in(WAY))
    bench.processes.take_over(id, "bleach_a", "acid_rinse")
    process = bench.processes.process(id)
    assert process.steps[2].name == "Acid rinse" and process.steps[2].rinse_after.acidified
    bench.processes.take_over(id, "fogging_developer", "made")
    assert bench.sink.plan({"route": id, "tank_ml": 600}).proof.holds
    with pytest.raises(InputError, match="no reason"):
        bench.processes.decline(id, "clearing", "time", " ")
    bench.processes.decline(id, "clearing", "time", "It smells less so.")
    assert said(bench, id)["clearing", "time"].declined == "It smells less so."
    assert "It smells less so." in process_text(bench.processes.process(id))
    with pytest.raises(NotFoundError):
        bench.processes.take_over(id, "clearing", "nothing of the kind")


def test_nothing_is_blocked_a_bath_in_words_is_kept_and_told(bench):
    rows = [dict(row) for row in WAY["steps"]]
    rows[1]["bath"] = "the stuff my neighbour gave me, a good splash"
    id = bench.processes.take_in({"name": "Neighbour", "steps": rows})
    process = bench.processes.process(id)
    assert process.step("bleach_a").mix == rows[1]["bath"] and process.step("bleach_a").formula is None
    assert said(bench, id)["bleach_a", "bath.unknown"].level.value == "caution"
    assert bench.sink.plan({"route": id}).action("bleach_a").duration_s == 360


@pytest.mark.parametrize("name", list(VARIANTS))
def test_the_variants_are_planned(bench, name):
    plan = bench.sink.plan({"route": bench.processes.take_in(VARIANTS[name]), "tank_ml": 600})
    assert next(a.key for a in plan.actions if a.kind == "bath") == "first_developer"
    if name == "peroxide":
        assert plan.action("peroxide_and_vinegar").temperature_c == 35


def test_it_travels_and_is_made_from_other_bottles(bench, way, tmp_path):
    text = process_text(bench.processes.process(way))
    other = open_workbench(tmp_path, url="sqlite://")
    try:
        other.shelf.add_product(
            {"name": "ammonia 10", "form": "liquid", "contents": [{"substance": "ammonia", "strength": "10 % w/w"}]}
        )
        id = other.processes.take_in(json.loads(text))
        taken = other.processes.process(id)
        assert taken == bench.processes.process(way)
        sheet = other.bench.sheet("my_fogging_way.bleach_b", 600)
        assert sheet.amounts["ammonia_10"] == pytest.approx(0.75 * 0.5 * 600, rel=0.05)
        assert other.sink.plan({"route": id, "tank_ml": 600}).actions
        assert other.processes.take_in(json.loads(text)) == id and other.processes.revision(id) == 1
    finally:
        other.close()


def test_a_document_that_is_no_process_is_refused_with_step_and_field(bench):
    with pytest.raises(InputError, match="step 1, time"):
        bench.processes.from_document({"name": "x", "steps": [{"does": "develop", "time": "soon"}]})
    with pytest.raises(InputError, match="no field of a step"):
        bench.processes.from_document({"name": "x", "steps": [{"does": "develop", "colour": "red"}]})


def test_a_bath_that_holds_more_than_can_be_is_told_and_the_form_keeps_what_was_typed(bench, way):
    process = bench.processes.process(way)
    rows = [dict(row) for row in bench.processes.draft(process).rows]
    place = next(i for i, row in enumerate(rows) if row["key"] == "clearing")
    rows[place]["bath"] = "60 g copper sulphate + 5 ml battery acid"
    again = bench.processes.read(process, {"name": process.name}, rows)
    assert again.process is None and again.rows[place]["bath"] == rows[place]["bath"]
    assert ["more than any bath holds" in sentence for sentence in again.wrong.values()] == [True]
    rows[place]["bath"] = "copper sulphate 60 g + salt 60 g in a litre + 5 ml pool acid"
    assert bench.processes.read(process, {"name": process.name}, rows).wrong == {}
