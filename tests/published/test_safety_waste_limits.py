"""Waste limits that are told to a person.

Sources: 40 CFR 261.24 table 1 (D011, silver 5.0 mg/L) and a sewer utility's 1.2 mg/L, both looked up by the collectors of
the reference; what is checked is that the sentence begins where the published limit lies.
"""

import re

from obverse.foundation import Standing
from obverse.reference import record
from obverse.safety.waste import Jug, Poured, cautions_of, jug_classes


def told_of(silver_mg_per_l: float) -> dict[str, str]:
    jug = Jug(
        letter="A",
        name="A",
        capacity_ml=5000,
        contents=(Poured(what="fixer_rapid", volume_ml=1000, silver_high_g=silver_mg_per_l / 1000),),
    )
    return {caution.code: caution.text for caution in cautions_of(jug)}


def test_a_person_is_told_from_the_federal_limit_on():
    """5.0 mg/L of silver, D011: 40 CFR 261.24 table 1, looked up."""
    row = record("waste.TC.silver")
    assert row.source.standing is Standing.LOOKED_UP and "40 CFR 261.24" in row.place
    assert "jug.silver" not in told_of(4.9)
    assert "jug.silver" in told_of(5.1)


def test_the_sewer_limit_of_one_town_is_told_as_what_it_is():
    """1.2 mg/L, a water utility's limit that a university quotes, looked up."""
    row = record("waste.sewer.example")
    assert row.source.standing is Standing.LOOKED_UP
    assert "one town's sewer limit is 1.2 mg/L" in told_of(346)["jug.silver"]


def test_one_roll_of_silver_passes_the_limit_and_is_told():
    # 0.3 x 0.577 g of silver in half a litre is 346 mg/L, seventy times the limit.
    jug = Jug(
        letter="A",
        name="A",
        capacity_ml=5000,
        contents=(Poured(what="fixer_rapid", volume_ml=500, silver_high_g=0.173),),
    )
    told = {caution.code: caution.text for caution in cautions_of(jug)}
    assert "346 mg/L" in told["jug.silver"] and "5 mg/L" in told["jug.silver"] and "1.2 mg/L" in told["jug.silver"]


def test_under_the_limit_only_the_local_codes_are_named():
    jug = Jug(
        letter="F",
        name="F",
        capacity_ml=5000,
        contents=(Poured(what="second_developer", volume_ml=1000, silver_high_g=0.004),),
    )
    assert {caution.code for caution in cautions_of(jug)} == {"jug.local"}


def test_every_class_says_where_it_goes_and_none_may_go_down_a_drain_unasked():
    for kind in jug_classes().values():
        assert kind.goes, kind.letter
        for sentence in re.split(r"[.;]", kind.goes):
            if "drain" in sentence or "sewer" in sentence:
                assert re.search(r"\bnever\b|\bnot\b|\bno\b|\bnothing\b|\bask\b|local", sentence), (
                    kind.letter,
                    sentence,
                )
