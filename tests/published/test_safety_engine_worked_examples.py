"""The engine's parts against worked examples that others have published: pH, heats, gas volumes, what a room holds.

Sources stand beside each; a value of a textbook that was not looked up again says so.
"""

from dataclasses import replace

import pytest

from obverse.chemistry import dilution_heat_kj
from obverse.safety.airborne import Room
from obverse.safety.body import Pool, heat_of_meeting_kj, liquid, powder
from obverse.safety.engine import assess, severity_of
from obverse.safety.release import dissolved_capacity_mol_per_l, room_ppm
from obverse.safety.setting import Setting, setting_for

WATER_ML = 1000.0


@pytest.mark.parametrize(
    ("grams_per_l", "ph", "within"),
    [
        # 0.1 mol/L acetic acid 2.88, ammonia 11.12, sodium carbonate 11.6, hydrochloric acid 1.0: textbook values, from memory.
        ({"acetic_acid": 6.005}, 2.88, 0.05),
        ({"ammonia": 1.703}, 11.12, 0.05),
        ({"sodium_carbonate": 10.6}, 11.6, 0.1),
        ({"hydrochloric_acid": 3.646}, 1.0, 0.05),
        # 0.005 mol/L ammonia, 10.5: a worked example that was looked up (slideserve.com/tanek/example-problem-weak-base).
        ({"ammonia": 0.08516}, 10.47, 0.05),
        # 0.200 mol/L citric acid: 2.08 with a first constant of 3.5e-4, looked up at groups.chem.ubc.ca/courseware/pH/section5/q10.html and
        # chim.lu/ech0578.php; handbooks have 7.4e-4, which alone makes it 0.16 lower.
        ({"citric_acid": 38.42}, 2.08, 0.2),
        # Sodium sulfide is a strong base: 0.1 mol/L near 13 (the second constant is known badly).
        ({"sodium_sulfide": 7.8}, 12.9, 0.3),
        # Potassium cyanide 0.1 mol/L: 11.1 (pKa 9.2), textbook, from memory.
        ({"potassium_cyanide": 6.51}, 11.1, 0.1),
        # An iron(III) chloride bath of 55 g/L is the strong acid it is: sheets print 1.0 to 1.4.
        ({"iron_iii_chloride": 55}, 1.4, 0.3),
    ],
)
def test_ph_of_simple_solutions(grams_per_l, ph, within):
    assert Pool((liquid("it", grams_per_l, WATER_ML),)).ph == pytest.approx(ph, abs=within)


def test_iron_chloride_takes_three_moles_of_alkali():
    """FeCl3 + 3 NaOH = Fe(OH)3 + 3 NaCl: at pH 7 all three protons are gone."""
    pool = Pool((liquid("it", {"iron_iii_chloride": 162.2}, WATER_ML),))
    assert pool.acid_above(7.0) == pytest.approx(3.0, rel=0.02)


@pytest.mark.parametrize(
    ("substance", "moles", "water_mol", "kj"),
    [
        # Sulfuric acid with 1, 5 and much water: 28.1, 58.0 and 73 kJ/mol at 1, 5 and 50 mol (Thomsen's classic series, from memory).
        ("sulfuric_acid", 1, 1, 28.1),
        ("sulfuric_acid", 1, 5, 58.0),
        ("sulfuric_acid", 1, 50, 73.3),
        # Sodium hydroxide in 5 mol of water 37.8, in much 44.5 (handbook, from memory).
        ("sodium_hydroxide", 1, 5, 37.8),
        ("sodium_hydroxide", 1, 500, 44.5),
    ],
)
def test_heat_of_dissolving(substance, moles, water_mol, kj):
    assert dilution_heat_kj(substance, moles, 0.0, water_mol) == pytest.approx(kj, rel=0.12)


def test_lye_warms_a_cup_of_water_as_a_textbook_measured_it():
    """6.50 g of sodium hydroxide in 100.0 g of water: 21.6 to 37.8 C, 44.4 kJ/mol; a classic problem of general chemistry, looked up at
    answerdata.org/when-a-6-50-g-sample-of-solid-sodium-hydroxide-dissolve-in-100-0-g."""
    pool = Pool((powder("lye", {"sodium_hydroxide": 6.5}), liquid("water", {}, 100)))
    pool.heat_kj = heat_of_meeting_kj(pool.portions)
    assert pool.rise_k == pytest.approx(37.8 - 21.6, rel=0.1)


def test_chalk_in_acid_gives_the_gas_of_its_textbook():
    """25 g of calcium carbonate with 30 g of hydrogen chloride: 0.25 mol, 5.6 L at 0 C and so 6.0 L at 20 C (a school problem, looked up
    at mail.s5g.ru/34261196)."""
    acid = liquid("acid", {"hydrochloric_acid": 30.0}, 1000)
    found = assess((powder("chalk", {"calcium_carbonate": 25.0}), acid), setting_for("mixing"))
    [foam] = [effect for effect in found if effect.mechanism == "foam"]
    assert foam.amount == "about 6 L"


@pytest.mark.parametrize(("sulfite_g", "mol"), [(20.0, 0.1587), (12.6, 0.100)])
def test_sulfite_in_acid_holds_the_gas_of_its_school_problem(sulfite_g, mol):
    """20 g of sodium sulfite with hydrochloric acid 0.1587 mol or 3.55 L at 0 C, 12.6 g 0.1 mol or 2.24 L: school problems, looked up at
    univerkov.com (find-the-volume-of-sulfur-dioxide-released-...; an-excess-of-hydrochloric-acid-solution-was-added-...). That much is freed
    into the water; what leaves it is less, and the finding says both."""
    acid = liquid("acid", {"hydrochloric_acid": 100.0}, 500)
    found = assess((powder("sulfite", {"sodium_sulfite": sulfite_g}), acid), setting_for("mixing"))
    [gas] = [effect for effect in found if effect.gas == "sulfur_dioxide"]
    assert float(gas.amount.split("up to ")[1].split(" mol")[0]) == pytest.approx(mol, rel=0.06)
    assert gas.ppm < 1e6 * mol * 24.055 / 1000 / 6


def test_lye_of_the_issue_nears_boiling():
    """153 g of sodium hydroxide in 320 mL of water: 3.8 mol x 44 kJ on half a kilogram."""
    pool = Pool((powder("lye", {"sodium_hydroxide": 153}), liquid("water", {}, 320)))
    pool.heat_kj = heat_of_meeting_kj(pool.portions)
    assert 20 + pool.rise_k > 85
    found = assess(pool.portions, setting_for("mixing"))
    assert any(effect.mechanism == "heat" and effect.severity == 3 for effect in found)


def test_strong_acid_and_lye_give_fifty_six_kilojoules_a_mole():
    """Neutralisation -55.8 kJ/mol, a classic (from memory); dilute, so that hardly any heat of thinning is in it."""
    one = liquid("acid", {"hydrochloric_acid": 36.46}, 1000)
    other = liquid("lye", {"sodium_hydroxide": 40.0}, 1000)
    assert heat_of_meeting_kj((one, other)) == pytest.approx(55.8, rel=0.06)


def test_a_mole_of_gas_in_a_room():
    """24.05 L/mol at 20 C: a mole in 24 m3 is 1000 ppm; record room.formula for how it is aired."""
    closed = Setting("mixing", Room(24.055, 0.0), 0.02, 5.0)
    assert room_ppm(1.0, closed) == pytest.approx(1000, rel=1e-3)
    aired = Setting("mixing", Room(24.055, 12.0), 0.02, 60.0)
    # (1 - exp(-12)) / 12 of it at the end of an hour of steady release.
    assert room_ppm(1.0, aired) == pytest.approx(1000 / 12, rel=1e-3)


@pytest.mark.parametrize(
    ("gas", "mol_per_l"),
    [
        # Henry solubilities near 20 C, Sander 2023 compilation from memory: H2S 0.10, SO2 1.2 to 1.6, CO2 0.039, Cl2 0.09.
        ("hydrogen_sulfide", 0.10),
        ("sulfur_dioxide", 1.4),
        ("carbon_dioxide", 0.039),
        ("chlorine", 0.09),
        ("hydrogen_cyanide", 10),
    ],
)
def test_what_water_holds_of_a_gas(gas, mol_per_l):
    assert dissolved_capacity_mol_per_l(gas) == pytest.approx(mol_per_l, rel=0.3)


@pytest.mark.parametrize(
    ("portions", "gas", "most_mol"),
    [
        # Records burst.*: 10 g metabisulfite gives at most 6.74 g SO2, 10 g dithionite 5.52 g, 50 mL of 5 % hypochlorite 2.38 g Cl2.
        (
            (powder("m", {"sodium_metabisulfite": 10}), liquid("a", {"sulfuric_acid": 300}, 500)),
            "sulfur_dioxide",
            6.74 / 64.06,
        ),
        (
            (powder("d", {"sodium_dithionite": 10}), liquid("a", {"sulfuric_acid": 300}, 500)),
            "sulfur_dioxide",
            5.52 / 64.06,
        ),
        (
            (liquid("h", {"sodium_hypochlorite": 50}, 50), liquid("a", {"hydrochloric_acid": 100}, 500)),
            "chlorine",
            2.38 / 70.9,
        ),
    ],
)
def test_never_more_gas_than_the_matter_can_give(portions, gas, most_mol):
    every = 1e6 * most_mol * 24.055 / 1000 / 6
    # Of sulfur dioxide less kills where somebody with asthma is in the room (30 and 100 ppm, records of the gas).
    for asthma, least in ((True, 4), (False, 4 if gas == "chlorine" else 3)):
        setting = replace(setting_for("mixing"), asthma=asthma)
        told = [effect for effect in assess(portions, setting) if effect.gas == gas]
        assert told
        assert max(effect.ppm for effect in told) <= every * 1.05
        assert severity_of(told) == least
