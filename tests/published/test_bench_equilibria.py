"""Silver halide in ammonia and thiosulfate against the records: textbook answers and an equilibrium package's figures."""

from dataclasses import replace

import pytest

from obverse.chemistry.silver import constants, saturate
from obverse.reference import record, records

SATURATED = [r for k, r in records().items() if k.startswith(("agcl.nh3.", "agbr.nh3.")) and isinstance(r.value, dict)]


@pytest.mark.parametrize("row", SATURATED, ids=lambda r: r.key)
def test_full_balance_against_the_package(row):
    """chempy solved the same species; 3 % is the record's tolerance."""
    halide = "AgCl" if row.key.startswith("agcl") else "AgBr"
    strength = float(row.key.split(".nh3.")[1].removesuffix("M"))
    ours = saturate(ammonia_mol_per_l=strength, halide=halide)
    assert ours.dissolved_mol_per_l == pytest.approx(row.value["mol_L"], abs=row.within)
    assert ours.g_silver_per_l == pytest.approx(row.value["g_Ag_L"], rel=0.02)
    # The textbook form counts the 2:1 complex only.
    assert ours.dissolved_mol_per_l == pytest.approx(row.value["analytic_mol_L"], rel=0.06)


@pytest.mark.parametrize(
    ("key", "ksp", "beta2"),
    [
        ("agcl.nh3.textbook1", 1.7e-10, 1.7e7),
        ("agcl.nh3.textbook2", 1.8e-10, 1.0e8),
        ("agcl.nh3.textbook3", 1.8e-10, 1 / 7.2e-8),
    ],
)
def test_textbook_answers_in_one_molar_ammonia(key, ksp, beta2):
    row = record(key)
    # The full balance with the same two constants stays within 3 %: the further species hardly matter.
    full = saturate(ammonia_mol_per_l=1.0, use=replace(constants(), ksp=ksp, beta2_ammine=beta2)).dissolved_mol_per_l
    assert full == pytest.approx(row.number, rel=0.045)


@pytest.mark.parametrize("chloride", ["0.01", "0.05", "0.1"])
def test_carried_over_chloride_takes_capacity(chloride):
    row = record(f"agcl.nh3.1M.with_Cl_{chloride}")
    assert saturate(ammonia_mol_per_l=1.0, halide_mol_per_l=float(chloride)).dissolved_mol_per_l == pytest.approx(
        row.number, abs=row.within
    )


def test_five_hundredths_molar_chloride_costs_a_third():
    clean, spoiled = saturate(ammonia_mol_per_l=1.0), saturate(ammonia_mol_per_l=1.0, halide_mol_per_l=0.05)
    assert 1 - spoiled.dissolved_mol_per_l / clean.dissolved_mol_per_l == pytest.approx(1 / 3, abs=0.04)


def test_ammonia_prefers_chloride_eighteen_times():
    row = record("agcl_agbr.selectivity.nh3")
    ratio = (
        saturate(ammonia_mol_per_l=0.1).dissolved_mol_per_l
        / saturate(ammonia_mol_per_l=0.1, halide="AgBr").dissolved_mol_per_l
    )
    assert ratio == pytest.approx(row.number, abs=row.within * 2)


@pytest.mark.parametrize("row", [r for k, r in records().items() if ".thiosulfate.1M." in k], ids=lambda r: r.key)
def test_thiosulfate_by_the_two_to_one_complex(row):
    halide = {"agcl": "AgCl", "agbr": "AgBr", "agi": "AgI"}[row.key.split(".")[0]]
    # The textbook form counts the 2:1 complex only and no ammonia.
    ours = saturate(
        thiosulfate_mol_per_l=1.0,
        halide=halide,
        use=replace(constants(halide), beta2_thiosulfate=10 ** row.inputs["logb2"]),
    )
    assert ours.dissolved_mol_per_l == pytest.approx(row.number, rel=0.1)


@pytest.mark.parametrize(
    "row", [r for k, r in records().items() if k.startswith("capacity.ammonia.")], ids=lambda r: r.key
)
def test_rolls_that_ammonia_holds_at_equilibrium(row):
    from obverse.chemistry.capacity import silver_per_roll_g

    strength = float(row.key.removeprefix("capacity.ammonia.").removesuffix("M"))
    ours = saturate(ammonia_mol_per_l=strength).g_silver_per_l / silver_per_roll_g().likely
    assert ours == pytest.approx(row.number, rel=0.01)
