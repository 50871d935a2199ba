"""Strengths as labels print them, and what is refused."""

import pytest

from obverse.chemistry import concentration_g_per_l, parse_strength
from obverse.chemistry.density import mass_fraction_of_density, solution_density, table_range
from obverse.foundation import InputError
from obverse.process.catalog import substances

S = substances()


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("60 % w/w", 60, "% w/w"),
        ("60% w/v", 60, "% w/v"),
        ("3 % m/m", 3, "% w/w"),
        ("28 % v/v", 28, "% v/v"),
        ("9 g/L", 9, "g/L"),
        ("9,5 g/l", 9.5, "g/L"),
        ("0.5 mol/L", 0.5, "mol/L"),
        ("0.5 mol/l", 0.5, "mol/L"),
        ("2 M", 2, "mol/L"),
        ("42 Be", 42, "Be"),
        ("42 degrees Baumé", 42, "Be"),
        ("42°Be", 42, "Be"),
        ("1+15", 15, "1+n"),
        ("5 mL/L", 5, "mL/L"),
        ("pure", 1, "pure"),
    ],
)
def test_reads_what_labels_print(text, value, unit):
    read = parse_strength(text)
    assert (read.value, read.unit) == (value, unit)
    assert parse_strength(read.text).value == pytest.approx(value)


@pytest.mark.parametrize(
    "text", ["101 % w/w", "-3 g/L", "60 %", "strong", "", "nan g/L", "1+", "80 Be", "5000 g/L", "1e3 g/L"]
)
def test_refuses_what_cannot_be(text):
    with pytest.raises(InputError) as error:
        parse_strength(text)
    assert error.value.remedy


def test_only_the_colon_needs_its_reading_shown():
    assert parse_strength("1+15").reading == ""
    assert parse_strength("1:15").reading == "1:15 is read as 1+15: one part and 15 parts of water"


def test_density_between_entries_lies_between_them():
    low, middle, high = (solution_density("sulfuric_acid", w).g_per_ml for w in (0.35, 0.36, 0.37))
    assert low < middle < high


def test_beyond_the_table_the_density_is_extended_with_a_caution():
    assert table_range("ammonia") == (0.0, 0.294)
    outside = solution_density("ammonia", 0.33)
    assert outside.cautions[0].code == "density.outside_table"
    assert outside.sd > solution_density("ammonia", 0.29).sd
    assert outside.g_per_ml < solution_density("ammonia", 0.294).g_per_ml


def test_unknown_density_of_a_strong_solution_is_asked_for():
    with pytest.raises(InputError, match="density of potassium permanganate at 40 % w/w"):
        concentration_g_per_l("40 % w/w", S["potassium_permanganate"])
    assert concentration_g_per_l("40 % w/w", S["potassium_permanganate"], 1.3).value == pytest.approx(520)


def test_dilute_unknown_is_taken_close_to_water_and_says_so():
    made = concentration_g_per_l("2 % w/w", S["citric_acid"])
    assert made.value == pytest.approx(20, rel=0.03)
    assert made.cautions[0].code == "density.guessed"
    assert made.sd > 0


def test_density_round_trip():
    for substance in ("ammonia", "sulfuric_acid", "iron_iii_chloride", "hydrogen_peroxide"):
        for w in (0.02, 0.1, 0.2, 0.28):
            rho = solution_density(substance, w).g_per_ml
            assert mass_fraction_of_density(substance, rho).value == pytest.approx(w, abs=1e-6)


def test_dilution_is_no_concentration():
    with pytest.raises(InputError, match="how to dilute"):
        concentration_g_per_l("1+9", S["ammonia"])


def test_mL_of_an_unnamed_acid_is_refused():
    with pytest.raises(InputError, match="does not say how strong"):
        concentration_g_per_l("10 mL/L", S["sulfuric_acid"])


def test_strength_and_density_doubts_add_in_quadrature():
    bare = concentration_g_per_l("42 Be", S["iron_iii_chloride"])
    both = concentration_g_per_l("42 Be", S["iron_iii_chloride"], relative_sd=0.03)
    assert both.sd == pytest.approx((bare.sd**2 + (0.03 * bare.value) ** 2) ** 0.5)
