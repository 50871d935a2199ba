"""The whole chart of a published method beside the engine.

Source: A Method for Determining the Compatibility of Hazardous Wastes, EPA-600/2-80-076 (1980).

Every pair of groups that things of this trade belong to; the cells were read from a public transcription of the chart.
"""

import pytest

from benchmarks.hazard_chart import CELLS, PAGE, REPRESENTATIVES, groups_of, page, rows, told_otherwise
from obverse.process.catalog import substances


@pytest.fixture(scope="module")
def compared():
    return rows()


def test_every_pair_of_groups_is_compared_once(compared):
    groups = len(REPRESENTATIVES)
    assert len({(row.a, row.b) for row in compared}) == len(compared) == groups * (groups - 1) // 2
    assert set(CELLS) <= {(row.a, row.b) for row in compared}


# Classes of the substances, given by another hand than the groups, and the groups of the chart that they must lie in.
MUST_LIE_IN = {
    "acid_strong": {1, 2}, "organic_acid": {3}, "oxidiser": {104}, "metal": {21, 22, 23, 24}, "hydroxide": {10}, "ammonia": {10}, "alcohol": {4},
    "polyol": {4}, "ketone": {19}, "aldehyde": {5}, "cyanide": {11}, "sulfide": {33}, "sugar": {101}, "combustible": {3, 4, 5, 13, 14, 19, 28, 29, 101, 102},
    "hydride": {105}, "dithionite": {105}, "azide": {102}, "carbide": {107}, "phosphide": {107}, "mercury": {24}, "lead": {24}, "fluoride": {15},
}  # fmt: skip


def test_every_substance_lies_in_the_groups_that_its_classes_ask_for():
    wrong = [
        (key, class_)
        for key, substance in substances().items()
        for class_ in substance.classes
        if class_ in MUST_LIE_IN and not MUST_LIE_IN[class_] & set(groups_of(key))
    ]
    assert [] == wrong


def test_every_disagreement_is_explained(compared):
    assert [(row.a, row.b) for row in compared if row.verdict.endswith("only") and len(row.why.split()) < 4] == []
    # Found by both, but something else than the explosion or the poison that the chart names.
    both = [row for row in compared if row.verdict == "both" and told_otherwise(row.chart, row.found)]
    assert len(both) > 10 and [(row.a, row.b) for row in both if len(row.why.split()) < 4] == []


def test_toxic_gas_of_the_chart_is_found_but_where_it_is_said_why(compared):
    """Poison and explosion are the cells that matter; what is not found there is named here by hand."""
    missed = {
        (row.a, row.b) for row in compared if row.verdict == "chart only" and {"GT", "E"} & set(row.chart.split(","))
    }
    # Hydrazine on metals, explosives as a class, oily metal powder, sulfide in plain water (pH 13).
    assert missed <= {(8, 22), (8, 102), (13, 102), (31, 102), (101, 102), (22, 28), (33, 106)}


def test_acid_on_cyanide_sulfide_and_oxidisers_is_refused(compared):
    worst = {(row.a, row.b): max((effect.severity for effect in row.found), default=0) for row in compared}
    for pair in ((1, 11), (2, 11), (3, 11), (1, 33), (2, 33), (3, 33), (1, 104), (19, 104), (4, 104)):
        assert worst[pair] == 4, pair


def test_the_page_is_what_the_engine_says_now(compared):
    assert PAGE.read_text(encoding="utf-8") == page(compared), "python -m benchmarks.hazard_chart"
