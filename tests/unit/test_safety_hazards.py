"""Hazards: every code has words, the unknown is named, what to wear follows."""

import pytest

from obverse.process.catalog import formulas, products, routes, substances
from obverse.reference import hazard_rows
from obverse.safety.hazards import code_words, codes_of, hazards_of, hazards_of_route, hazards_of_step


@pytest.mark.parametrize("row", hazard_rows(), ids=lambda r: r.substance)
def test_every_recorded_code_has_words(row):
    for code in codes_of(row.substance, None)[0]:
        assert code_words(code)[0]


def test_every_hazard_row_that_a_substance_names_exists():
    known = {row.substance for row in hazard_rows()}
    assert {s.hazard_row for s in substances().values() if s.hazard_row} <= known


def test_an_unknown_strength_counts_as_the_gravest():
    assert "H314" in codes_of("sulfuric acid >= 15 %", None)[0]
    assert "H314" in {c.code for c in hazards_of("ammonia").codes}


@pytest.mark.parametrize("key", sorted({*formulas(), *products()}))
def test_gloves_and_goggles_belong_to_everything(key):
    worn = " ".join(hazards_of(key).wear)
    assert "gloves" in worn and "goggles" in worn


@pytest.mark.parametrize(
    "key",
    [
        "ammonia_bath",
        "clearing_metabisulfite",
        "fogging_dithionite",
        "household_ammonia_5",
        "laundry_bleach",
        "first_developer",
    ],
)
def test_what_gives_off_gas_is_aired(key):
    assert "window" in hazards_of(key).air


def test_dichromate_is_told_gravest_first_and_sends_one_elsewhere():
    sheet = hazards_of("dichromate_crystals")
    assert sheet.codes[0].code == "H350" and "another route" in sheet.air
    assert any("dust" in words for words in sheet.wear)


def test_substances_without_a_row_are_named():
    assert hazards_of("baking_soda").unknown
    assert "no statement" not in hazards_of("baking_soda").air


def test_salt_is_not_given_the_code_of_bromide():
    assert not hazards_of("pure_salt").codes and hazards_of("bromide_crystals").codes


def test_a_thin_bath_keeps_the_codes_of_the_pure_substance_and_says_so():
    codes = {c.code: c for c in hazards_of("bleach_permanganate").codes}
    assert not codes["H272"].strength_counted and codes["H272"].because == "potassium permanganate"


def test_standing_is_never_upgraded():
    rows = {row.substance: row.source.words for row in hazard_rows()}
    for key in products():
        for code in hazards_of(key).codes:
            assert code.standing in rows.values()
    assert {c.standing for c in hazards_of("ph_minus").codes} == {"from memory"}


def test_each_bath_of_a_route_has_a_sheet():
    for route in routes().values():
        with_bath = [step.key for step in route.steps if step.formula]
        assert [step.key for step, _ in hazards_of_route(route, formulas())] == with_bath
        assert hazards_of_step(route.step("drying"), formulas()) is None
