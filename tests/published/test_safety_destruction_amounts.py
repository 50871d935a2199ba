"""Amounts of the destruction steps against arithmetic done another way.

Sources: reaction equations as in records clear.*, gas.* (general chemistry); dilution 1+14, salt and pH 2: handling of
ammoniacal silver in histology (record inc.15), looked up there; molar masses by hand.
"""

import re

import pytest

from obverse.process.catalog import formulas
from obverse.safety import destruction_steps, destruction_supplies
from obverse.safety.destroy import bisulfate_to_ph_g


def amounts(text):
    return [float(x) for x in re.findall(r"(\d+(?:\.\d+)?)", text)]


@pytest.mark.parametrize("volume_ml", [250, 500, 1000])
def test_dilution_one_plus_fourteen(volume_ml):
    told = destruction_steps(formulas()["ammonia_bath"], volume_ml=volume_ml, bucket_ml=30_000)[0].do
    assert f"Pour {14 * volume_ml / 1000:.1f} L of cold water to the {volume_ml} mL" in told


@pytest.mark.parametrize("volume_ml", [100, 500, 1000, 5000])
@pytest.mark.parametrize("key", ["ammonia_bath", "bleach_permanganate", "bleach_peroxide_acid", "fogging_dithionite"])
@pytest.mark.parametrize("bucket_ml", [5000, 10_000])
def test_no_bucket_is_asked_to_hold_more_than_it_can(key, volume_ml, bucket_ml):
    """Water by the litre, as the text has it, the bath, the cup and the dissolved powder, summed up for each bucket."""
    supplies = {s.key: s for s in destruction_supplies(formulas()[key], volume_ml=volume_ml, bucket_ml=bucket_ml)}
    steps = destruction_steps(formulas()[key], volume_ml=volume_ml, bucket_ml=bucket_ml)
    bucket = supplies["bucket"]
    told = " ".join(step.do for step in steps)
    shared = re.search(r"between (\d+) plastic buckets, (\d+) mL in each", told)
    count, bath_ml = (int(shared[1]), float(shared[2])) if shared else (1, float(volume_ml))
    assert count == bucket.count and count * bath_ml == pytest.approx(volume_ml, abs=count)
    litres = sum(float(x) for x in re.findall(r"[Pp]our ([\d.]+) L of cold water", told))
    more_ml = sum(float(x) for x in re.findall(r"(\d+) mL of water \(10 percent\)", told))
    more_ml += sum(float(x) for x in re.findall(r"(\d+) mL of it", told))
    as_much = bath_ml if "as much water" in told else 0.0
    inside_ml = bath_ml + 1000 * litres + more_ml + as_much
    assert inside_ml < 0.92 * bucket.amount <= 0.92 * bucket_ml


def test_bisulfate_by_hand():
    # 0.25 mol of ammonia takes 0.25 mol of acid. At pH 2 in 7.5 L: [H+] = 0.01 comes from HSO4- (pKa 1.99), half
    # dissociated, so twice 0.01 mol/L of bisulfate, plus what the released sulfate of the first part takes back:
    # C (1/2) = 0.01 + 0.0333 gives C = 0.0867 mol/L, 0.65 mol, 78 g.
    assert bisulfate_to_ph_g(0.5 * 0.5 * 17.031, 7500) == pytest.approx(78, rel=0.03)


def test_bisulfate_without_ammonia():
    # pH 2 with bisulfate alone: C (1/2) = 0.01, C = 0.02 mol/L: 2.4 g a litre.
    assert bisulfate_to_ph_g(1e-9, 1000) == pytest.approx(2.4, rel=0.05)


def test_metabisulfite_for_permanganate():
    # 2 MnO4- + 5 HSO3- : 1.25 mol of Na2S2O5 to the mole; 1 g of KMnO4 takes 1.504 g.
    step = destruction_steps(formulas()["bleach_permanganate"], volume_ml=500)[0]
    assert "1.5 g of metabisulfite" in step.do and "50 mL" in step.do


def test_salt_is_more_than_the_silver_takes():
    # 0.5 M ammonia holds at most 2.65 g Ag/L (record agcl.nh3.0.5M): 1.44 g of salt to the litre.
    steps = destruction_steps(formulas()["ammonia_bath"], volume_ml=1000, bucket_ml=30_000)
    salt = amounts(steps[1].do)[0]
    assert salt > 10 * 2.65 / 107.868 * 58.443


def test_oxygen_of_the_peroxide_bleach():
    # 25 g/L H2O2, half a litre: 12.5 g = 0.3675 mol, half of it O2 at 24.06 L/mol: 4.4 L, told as 5.
    assert "up to 5 L of oxygen" in destruction_steps(formulas()["bleach_peroxide_acid"], volume_ml=500)[0].do


def test_two_hours():
    # Record of the shelf-life table: ammonia bath with silver, at most 2 h.
    assert {s.deal_with_within_min for s in destruction_steps(formulas()["ammonia_bath"])[:3]} == {120}


@pytest.mark.parametrize(("volume_ml", "bucket_ml"), [(500, 30_000), (1000, 10_000)])
def test_acid_of_all_buckets_together_takes_the_ammonia_that_the_formula_holds(volume_ml, bucket_ml):
    (ammonia,) = [c for c in formulas()["ammonia_bath"].components if c.substance == "ammonia"]
    value, unit = ammonia.concentration.split()
    grams = float(value) * {"mol/L": 17.031, "g/L": 1.0}[unit] * volume_ml / 1000
    steps = destruction_steps(formulas()["ammonia_bath"], volume_ml=volume_ml, bucket_ml=bucket_ml)
    shared = re.search(r"between (\d+) plastic buckets", steps[0].do)
    told = next(float(x) for x in re.findall(r"about (\d+) g of sodium bisulfate", steps[2].do))
    assert told * (int(shared[1]) if shared else 1) == pytest.approx(bisulfate_to_ph_g(grams, 15 * volume_ml), rel=0.02)


def test_what_must_be_at_hand_is_what_the_steps_use():
    for key in ("ammonia_bath", "bleach_permanganate", "bleach_peroxide_acid"):
        # So much that it finds room in one bucket: of several each step tells what goes into one.
        volume_ml = 200 if key == "ammonia_bath" else 500
        told = " ".join(step.do for step in destruction_steps(formulas()[key], volume_ml=volume_ml))
        for supply in destruction_supplies(formulas()[key], volume_ml=volume_ml):
            if supply.unit == "g":
                grams = [float(x) for x in re.findall(r"([\d.]+) g of", told)]
                assert any(abs(one - supply.amount) <= 0.5 for one in grams), (key, supply)
    assert destruction_supplies(formulas()["fixer_rapid"]) == ()
    names = [s.key for s in destruction_supplies(formulas()["ammonia_bath"])]
    assert names == ["bucket", "salt", "bisulfate", "test_strips", "washing_soda", "jar"]
