"""A part of a bath is what its name says: no shared word makes another substance of it."""

import re

import pytest

from obverse.foundation import InputError
from obverse.mixing import read_said
from obverse.process import Product, parse_mix


def read(text, shelf=()):
    return read_said(parse_mix(text), shelf, key="k", name="Bleach", kind="bleach", keep=False)


# What the names mean is common practice, no source; 66 Be is the trade's strong sulfuric acid.
@pytest.mark.parametrize(
    ("text", "substance"),
    [
        ("40 mL acid (66 Be), water to 1 L", "sulfuric_acid"),
        ("7 g thiourea, water to 600 mL", "thiourea"),
        ("10 g caustic soda, water to 1 L", "sodium_hydroxide"),
        ("10 g lye, water to 1 L", "sodium_hydroxide"),
        ("16 g lye beads, water to 1 L", "sodium_hydroxide"),
        ("24 g hypo penta, water to 1 L", "sodium_thiosulfate_pentahydrate"),
        ("24 g hypo, water to 1 L", "sodium_thiosulfate_pentahydrate"),
        ("24 g hypo anhydrous, water to 1 L", "sodium_thiosulfate"),
        ("5 g sulfamic acid, water to 500 mL", "sulfamic_acid"),
        ("10 g K2Cr2O7, water to 1 L", "potassium_dichromate"),
        ("1 g stannous chloride, water to 1 L", "stannous_chloride"),
        ("250 mL peroxide 10 volumes + 250 mL water", "hydrogen_peroxide"),
    ],
)
def test_a_name_is_its_substance(text, substance):
    found = read(text)
    assert found.unread == ()
    assert [component.substance for component in found.formula.components] == [substance]


def test_the_strength_that_was_said_counts():
    # 10 volumes hold some 3 % (30.4 g/L by 22.4 L/mol of oxygen); halved by as much water.
    text = read("250 mL peroxide 10 volumes + 250 mL water").formula.components[0].concentration
    assert float(text.split()[0]) == pytest.approx(15.2, rel=0.02)


def test_another_salt_of_the_same_acid_is_not_taken():
    found = read("10 g zinc sulfate, water to 1 L")
    assert (found.formula, found.unread) == (None, ("zinc sulfate",))


def test_the_person_s_own_dry_hypo_is_meant_where_there_is_no_other():
    own = Product(
        key="mine",
        name="my dry hypo",
        form="solid",
        contents=[{"substance": "sodium_thiosulfate", "strength": "97 % w/w"}],
        standing="from_memory",
    )
    assert read("24 g hypo, water to 1 L", [own]).formula.components[0].substance == "sodium_thiosulfate"


def test_what_comes_behind_the_litre_goes_into_the_same_litre():
    found = read("copper sulphate 60 g + salt 60 g in a litre + 5 ml battery acid")
    assert found.volume_ml == 1000
    assert found.formula.components[0].concentration == "59.4 g/L"


def test_a_bath_that_holds_more_than_can_be_is_one_sentence_with_plain_numbers():
    with pytest.raises(InputError, match=r"more than any bath holds.*water to 1 L") as told:
        read("60 g copper sulphate + 5 ml battery acid")
    assert not re.search(r"\de[+-]", told.value.sentence)
