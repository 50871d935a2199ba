"""Stoichiometry of bleaching, clearing and fogging against the records."""

import pytest

from obverse.chemistry import molar_mass_g_per_mol
from obverse.chemistry.capacity import bleach_capacity, fixer_capacity_rolls_per_l, silver_per_roll_g
from obverse.chemistry.redox import (
    mass_ratio,
    permanganate_lost_to_sulfite_g,
    silver_by_acid_g_per_l,
    silver_by_oxidant_g_per_l,
)
from obverse.reference import record, records


@pytest.mark.parametrize(
    ("key", "reagent", "m", "target", "n"),
    [
        ("clear.na2s2o5_per_kmno4", "sodium_metabisulfite", 2.5, "potassium_permanganate", 2),
        ("clear.na2s2o5_per_mno2", "sodium_metabisulfite", 0.5, "manganese_dioxide", 1),
        ("clear.na2s2o5_per_k2cr2o7", "sodium_metabisulfite", 1.5, "potassium_dichromate", 1),
        ("fog.dithionite_per_ag", "sodium_dithionite", 1, "silver", 2),
        ("fog.sncl2_per_ag", "stannous_chloride_dihydrate", 1, "silver", 2),
        ("dev.hydroquinone_per_ag", "hydroquinone", 1, "silver", 2),
        ("dev.ascorbic_per_ag", "ascorbic_acid", 1, "silver", 2),
        ("fog.tud_per_ag", "thiourea_dioxide", 1, "silver", 2),
    ],
)
def test_mass_ratios_of_balanced_reactions(key, reagent, m, target, n):
    row = record(key)
    assert mass_ratio(reagent, m, target, n) == pytest.approx(row.number, abs=row.within or 0.005)


def test_sulfite_eats_permanganate():
    row = record("consume.sulfite_by_kmno4")
    assert permanganate_lost_to_sulfite_g(1) == pytest.approx(row.number, abs=row.within)


def test_ten_millilitres_of_developer_cost_a_quarter_of_the_bleach():
    row = record("carry.sulfite")
    carried_g = row.inputs["mL"] * row.inputs["g_L"] / 1000
    assert permanganate_lost_to_sulfite_g(carried_g) == pytest.approx(row.number, abs=row.within)


def test_metabisulfite_for_chromium():
    row = record("check.smbs_per_crvi")
    per_chromium = (
        mass_ratio("sodium_metabisulfite", 1.5, "potassium_dichromate", 1)
        * molar_mass_g_per_mol("potassium_dichromate")
        / (2 * 51.996)
    )
    assert per_chromium == pytest.approx(row.number, abs=row.within)
    assert per_chromium == pytest.approx(row.inputs["stoichiometric"], abs=0.01)


def test_permanganate_bath_is_limited_by_its_oxidant():
    row = record("capacity.kmno4_2gL")
    moles = 2 / molar_mass_g_per_mol("potassium_permanganate")
    assert silver_by_oxidant_g_per_l("permanganate", moles) == pytest.approx(
        row.value["oxidant_limited_gAg_L"], rel=0.01
    )
    acid = row.inputs["acid_mol_per_L"]
    assert silver_by_acid_g_per_l("permanganate", 2 * acid) == pytest.approx(
        row.value["acid_limited_gAg_L_2H"], rel=0.01
    )
    assert silver_by_acid_g_per_l("permanganate", acid) == pytest.approx(row.value["acid_limited_gAg_L_1H"], rel=0.01)
    assert bleach_capacity("permanganate", moles, acid_mol_per_l=acid).limited_by == "oxidant"


def test_dichromate_bath_is_limited_by_its_acid():
    row = record("capacity.dichromate_5gL")
    moles = 5 / molar_mass_g_per_mol("potassium_dichromate")
    acid = row.inputs["acid_mol_per_L"]
    capacity = bleach_capacity("dichromate", moles, acid_mol_per_l=acid)
    assert silver_by_oxidant_g_per_l("dichromate", moles) == pytest.approx(row.value["oxidant_limited_gAg_L"], rel=0.01)
    assert capacity.theoretical_g_silver_per_l.low == pytest.approx(row.value["acid_limited_gAg_L_1H"], rel=0.01)
    assert capacity.theoretical_g_silver_per_l.high == pytest.approx(row.value["acid_limited_gAg_L_2H"], rel=0.01)
    assert capacity.limited_by == "acid"


@pytest.mark.parametrize("parts", [4, 9, 19])
def test_iron_bath_capacity(parts):
    row = record(f"capacity.fecl3.1plus{parts}")
    assert silver_by_oxidant_g_per_l("iron_iii", row.inputs["Fe_mol_L"]) == pytest.approx(row.number, rel=0.01)


def test_copper_and_peroxide_capacity():
    copper = 100 / molar_mass_g_per_mol("copperII_sulfate_pentahydrate")
    assert silver_by_oxidant_g_per_l("copper_ii", copper) == pytest.approx(
        record("capacity.cuso4.100").number, rel=0.01
    )
    assert silver_by_oxidant_g_per_l("peroxide", record("conc.h2o2.3pct").number) == pytest.approx(
        record("capacity.h2o2.3pct").number, rel=0.01
    )


@pytest.mark.parametrize("row", [r for k, r in records().items() if k.startswith("silver.per.")], ids=lambda r: r.key)
def test_silver_of_a_film(row):
    ours = silver_per_roll_g(row.inputs["area_m2"])
    assert (ours.low, ours.likely, ours.high) == pytest.approx(row.value, rel=0.01)


def test_fixer_of_one_and_four_takes_twenty_rolls():
    row = record("fixer.capacity")
    assert fixer_capacity_rolls_per_l(120).likely == pytest.approx(row.number)
