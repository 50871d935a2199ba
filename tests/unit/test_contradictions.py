"""What a notebook says against itself, and what would change it; and silence where nothing does."""

import pytest

from obverse.process import CONTROLS, Trial
from obverse.workbench.contradictions import contradictions

WAY = {"first_developer_time_min": 10, "solvent_ml_per_l": 8}


def strip(name, *grades, note="", controls=WAY, wear=None):
    return Trial(
        id=name,
        controls=controls,
        wear=wear or {},
        note=note,
        grades=[{"of": of, "grade": grade} for of, grade in grades],
    )


def codes(*trials):
    return [(one.code.removeprefix("contradiction."), one.strips) for one in contradictions(trials)]


GOOD = strip("good", ("highlights", "clear"), ("blacks", "deep"))
MURKY = strip("murky", ("highlights", "murky"), ("blacks", "deep"))
THIN = strip("thin", ("highlights", "clear"), ("blacks", "thin"))


def test_one_recipe_judged_good_murky_and_thin_is_told_once_with_what_each_said():
    (one,) = contradictions([GOOD, MURKY, THIN])
    assert ("good", "murky", "thin") == one.strips
    assert "first development 10 min, solvent 8 mL/L" in one.text
    assert "murky: highlights murky, blacks deep; thin: highlights clear, blacks thin" in one.text
    assert "put it aside" in one.would_change


@pytest.mark.parametrize(
    "other",
    [
        strip("shade", ("highlights", "slightly_murky")),
        strip("otherwise", ("highlights", "murky"), controls={**WAY, "solvent_ml_per_l": 9}),
        strip("old bath", ("highlights", "murky"), wear={"first_developer": 0.6}),
        strip("of another thing", ("tint", "strong")),
        strip("unjudged"),
    ],
    ids=lambda one: one.id,
)
def test_a_shade_another_way_or_a_worn_bath_contradicts_nothing(other):
    assert [] == codes(GOOD, other)


def test_only_the_scale_that_is_apart_is_named():
    (one,) = contradictions([GOOD, MURKY])
    assert "blacks" not in one.text and "highlights clear" in one.text


@pytest.mark.parametrize("key", list(CONTROLS))
def test_an_amount_at_its_bound_is_no_contradiction_and_beyond_it_is(key):
    low, high = CONTROLS[key].sensible
    assert [] == codes(strip("a", controls={key: low}), strip("b", controls={key: high}))
    (one,) = contradictions([strip("c", controls={key: high * 1.01})])
    assert ("contradiction.amount", ("c",)) == (one.code, one.strips) and CONTROLS[key].word in one.would_change


def test_eight_hundred_ml_in_a_litre_is_asked_about():
    (one,) = contradictions([strip("s", controls={"solvent_ml_per_l": 800})])
    assert "solvent 800 mL/L" in one.text and "0 to 60 mL/L" in one.text
    assert "diluted solution" in one.would_change


@pytest.mark.parametrize(
    ("trial", "told"),
    [
        (strip("s", note="thin blacks and deep"), "neither counts now"),
        (strip("s", ("blacks", "deep"), note="thin blacks"), "blacks deep counts now"),
        (strip("s", ("blacks", "deep"), ("blacks", "thin")), "both count now"),
        (strip("s", ("blacks", "slightly_thin"), note="thin blacks and deep"), "blacks slightly thin counts now"),
        (strip("s", ("blacks", "deep"), note="blacks a bit thin"), ""),
        (strip("s", ("blacks", "deep"), note="deep blacks, thin coat on"), ""),
        (strip("s", ("blacks", "deep"), note="the attic"), ""),
    ],
)
def test_both_words_of_one_scale_on_one_strip(trial, told):
    found = contradictions([trial])
    assert bool(told) == bool(found)
    if told:
        assert told in found[0].would_change and "blacks thin" in found[0].text and "blacks deep" in found[0].text


def test_an_empty_page_says_nothing_against_itself():
    assert () == contradictions([])
