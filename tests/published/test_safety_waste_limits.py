"""Waste limits that are told to a person.

Sources: 40 CFR 261.24 table 1 (D011 silver 5.0 mg/L, D007 chromium 5.0 mg/L), California Title 22 (STLC silver 5 mg/L,
TTLC silver 500 mg/kg), a sewer utility's 1.2 mg/L: looked up in the reference, written here from memory of the same rules.
"""

import pytest

from obverse.reference import record
from obverse.safety.waste import Jug, Poured, cautions_of, jug_classes


@pytest.mark.parametrize(
    ("key", "name", "value"),
    [
        ("waste.TC.silver", "mg_L", 5.0),
        ("waste.TC.chromium", "mg_L", 5.0),
        ("waste.TC.silver", "code", "D011"),
        ("waste.TC.chromium", "code", "D007"),
        ("waste.CA.STLC", "silver", 5),
        ("waste.CA.TTLC", "silver", 500),
        ("waste.sewer.example", "silver_mg_L_max", 1.2),
    ],
)
def test_limit(key, name, value):
    assert record(key).value[name] == value


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


def test_every_class_says_where_it_goes_and_none_says_drain():
    for kind in jug_classes().values():
        assert kind.goes
        assert "drain" not in kind.goes or "never a drain" in kind.goes or "any drain" in kind.goes
