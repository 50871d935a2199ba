"""Strengths as labels print them, and what is refused."""

import math

import pytest

from obverse.chemistry import concentration_g_per_l, parse_strength
from obverse.chemistry.density import mass_fraction_of_density, solution_density
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


@pytest.mark.parametrize("text", ["101 % w/w", "-3 g/L", "strong", "", "nan g/L", "1+", "80 Be", "5000 g/L", "1e3 g/L"])
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
    outside = solution_density("ammonia", 0.33)
    assert outside.cautions[0].code == "density.outside_table"
    assert outside.sd > solution_density("ammonia", 0.29).sd
    assert outside.g_per_ml < solution_density("ammonia", 0.294).g_per_ml


def test_a_density_that_nobody_has_widens_what_is_known_to_what_can_be():
    guessed = concentration_g_per_l("40 % w/w", S["potassium_permanganate"])
    assert guessed.estimate.low90 < 400 < guessed.value < guessed.estimate.high90 < 600
    assert guessed.is_open and guessed.cautions[0].code == "density.unknown"
    given = concentration_g_per_l("40 % w/w", S["potassium_permanganate"], 1.3)
    assert given.value == pytest.approx(520) and not given.is_open


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


@pytest.mark.parametrize(
    ("text", "low", "best", "high", "unit"),
    [
        ("5-10 %", 5, 7.5, 10, "%"),
        ("5 to 10 % w/w", 5, 7.5, 10, "% w/w"),
        (">= 5 - < 10 %", 5, 7.5, 10, "%"),
        ("between 5 and 10 %", 5, 7.5, 10, "%"),
        ("under 5 %", 0, 2.5, 5, "%"),
        ("<5%", 0, 2.5, 5, "%"),
        ("10 % max", 0, 5, 10, "%"),
        ("about 5 %", 4, 5, 6, "%"),
        ("7,5", 7.5, 7.5, 7.5, "%"),
        ("30 % or more", 30, math.sqrt(3000), 100, "%"),
        ("99+ %", 99, math.sqrt(9900), 100, "%"),
        ("24.5-25.5 wt.%", 24.5, 25, 25.5, "% w/w"),
        ("60 g/100 mL", 60, 60, 60, "% w/v"),
        ("38/40 Be", 38, 39, 40, "Be"),
        ("20 vol", 20, 20, 20, "vol"),
        ("technical", 90, 97, 100, "% w/w"),
        ("traces", 0, 0.1, 1, "% w/w"),
        ("not said", 0, 10, 100, "not said"),
        ("?", 0, 10, 100, "not said"),
        ("25 % w/w NH3", 25, 25, 25, "% w/w"),
        ("15 % < x < 30 %", 15, 22.5, 30, "%"),
        (">= 10 and < 20 %", 10, 15, 20, "%"),
        (">15 % <30 %", 15, 22.5, 30, "%"),
        ("from 5 to 10 %", 5, 7.5, 10, "%"),
        ("5 % +/- 0.5", 4.5, 5, 5.5, "%"),
        ("1,5 - 3 Gew.-%", 1.5, 2.25, 3, "% w/w"),
        ("25 %-ig", 25, 25, 25, "%"),
        ("half", 50, 50, 50, "%"),
        ("technical grade 95 %", 95, 95, 95, "%"),
        ("p.a. ≥ 98.5 %", 98.5, 99.24716620639605, 100, "%"),
        ("500 ppm", 0.05, 0.05, 0.05, "% w/w"),
        ("100 g in 1 L", 100, 100, 100, "g/L"),
        ("to 100 %", 0, 10, 100, "not said"),
    ],
)
def test_what_a_label_leaves_open_stays_open(text, low, best, high, unit):
    read = parse_strength(text)
    assert (read.low, read.value, read.high, read.unit) == (low, pytest.approx(best), high, unit)
    again = parse_strength(read.text)
    assert (again.low, again.high, again.unit) == (pytest.approx(low), pytest.approx(high), unit)


def test_a_bare_percentage_holds_both_readings():
    bare, by_weight, by_volume = (
        concentration_g_per_l(t, S["ammonium_thiosulfate"]) for t in ("60 %", "60 % w/w", "60 % w/v")
    )
    assert bare.estimate.low90 == pytest.approx(by_volume.value)
    assert bare.estimate.high90 >= by_weight.value > 1.3 * by_volume.value
    assert by_volume.value < bare.value < by_weight.value
    assert "both are reckoned with" in parse_strength("60 %").reading


def test_nothing_said_is_anything_and_never_less_than_nothing():
    made = concentration_g_per_l("not said", S["hydroquinone"])
    assert made.estimate.low90 == 0 and made.estimate.high90 > 900
    assert concentration_g_per_l("under 5 %", S["hydroquinone"], relative_sd=0.5).estimate.low90 == 0


def test_a_dilution_says_nothing_of_the_strength():
    made = concentration_g_per_l("1+9", S["ammonia"])
    assert made.is_open and "how to dilute" in made.cautions[-1].text


def test_peroxide_by_its_oxygen_is_three_per_cent_in_ten_volumes():
    assert concentration_g_per_l("10 vol", S["hydrogen_peroxide"]).value == pytest.approx(30.4, rel=0.01)
    with pytest.raises(InputError, match="a strength of peroxide"):
        concentration_g_per_l("10 vol", S["ammonia"])


def test_mL_of_a_liquid_of_unknown_density_are_known_within_what_liquids_weigh():
    made = concentration_g_per_l("10 mL/L", S["sulfuric_acid"])
    assert made.estimate.low90 < 10 < 18.3 < made.estimate.high90


def test_strength_and_density_doubts_add_in_quadrature():
    bare = concentration_g_per_l("42 Be", S["iron_iii_chloride"])
    both = concentration_g_per_l("42 Be", S["iron_iii_chloride"], relative_sd=0.03)
    assert both.sd == pytest.approx((bare.sd**2 + (0.03 * bare.value) ** 2) ** 0.5)
