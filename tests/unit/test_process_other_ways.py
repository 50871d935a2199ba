"""Six ways told by another hand: all can be entered in their own words and planned; what of them is not reckoned is said."""

import pytest

from obverse.workbench.bootstrap import open_workbench
from tests.other_ways import OTHER_WAYS

# What of the baths nobody can reckon: two bottles of which only the amounts were said. It is told beside its step.
NOT_RECKONED = {"Sixteen millimetre way": {""}}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    found = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://")
    yield found
    found.close()


@pytest.mark.parametrize("way", OTHER_WAYS, ids=lambda way: way["name"])
def test_it_is_entered_as_it_was_told_and_planned(bench, way):
    id = bench.processes.take_in(way)
    process = bench.processes.process(id)
    rows = bench.processes.draft(process).rows
    changed = [
        (step, name, row[name])
        for step, row in zip(way["steps"], rows, strict=True)
        for name, words in step.items()
        if name != "does" and row[name].partition(" At most 20 min is the house")[0] != words
    ]
    assert changed == []
    unread = {part for step in process.steps if step.mix for part in bench.processes.reading(step, process).unread}
    assert unread == NOT_RECKONED.get(way["name"], set())
    said = [one for one in bench.processes.opinions(process) if one.code == "bath.unknown"]
    assert bool(said) == bool(unread)
    plan = bench.sink.plan({"route": id, "tank_ml": way["tank_ml"]})
    assert plan.proof.conflicts == ()
    assert {action.step for action in plan.actions} >= {step.key for step in process.steps}


def test_a_salt_that_no_bottle_holds_is_taken_as_pure_and_no_other_for_it(bench):
    process = bench.processes.process(bench.processes.take_in(OTHER_WAYS[1]))
    first = process.baths({})[process.first_development.formula]
    assert [c.substance for c in first.components] == ["sodium_thiocyanate"]


def test_a_salt_that_nobody_knows_is_not_taken_for_another_of_the_same_metal(bench):
    rows = [{"does": "clear", "bath": "25 g sodium nonsensate in 1 L"}]
    process = bench.processes.from_document({"name": "x", "steps": rows})
    assert process.formulas == () and bench.processes.reading(process.steps[0], process).unread == (
        "sodium nonsensate",
    )


def test_measured_liquids_make_their_own_volume(bench):
    process = bench.processes.process(bench.processes.take_in(OTHER_WAYS[3]))
    peroxide = process.baths({})[process.step("bleach").formula].components[0]
    # 400 mL of 3 % w/w in 500 mL.
    assert peroxide.parsed.value == pytest.approx(0.8 * 30.3, rel=0.02)


def test_a_fixer_counts_by_its_thiosulfate_whatever_it_is_used_as(tmp_path):
    """As the solvent of a first developer it must not become a line that no control counts."""
    bench = open_workbench(tmp_path, url="sqlite://")
    try:
        contents = [{"substance": "ammonium_thiosulfate", "strength": "60 % w/v"}]
        product = {"name": "my rapid fixer", "form": "liquid", "roles": ["fixer"], "contents": contents}
        bench.shelf.add_product(product)
        rows = [{"does": "develop", "bath": "40 mL developer syrup + 1.5 mL rapid fixer, water to 600 mL"}]
        process = bench.processes.from_document({"name": "x", "steps": rows})
        assert bench.processes.controls(process)["solvent_ml_per_l"] == pytest.approx(2.5)
        assert [d.product_role for d in process.formulas[0].dilutions] == ["paper_developer"]
    finally:
        bench.close()
