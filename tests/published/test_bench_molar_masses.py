"""Molar masses and hydrate factors of the reference against an independent recomputation.

Sources: molmass (installed) and the IUPAC abridged standard atomic weights typed in below from
memory; the records name the spread to periodictable, chempy and chemicals.
"""

import re

import pytest

from obverse.chemistry import molar_mass_g_per_mol
from obverse.reference import record, records

# IUPAC abridged standard atomic weights, from memory.
WEIGHTS = {
    "H": 1.008,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "Na": 22.990,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.098,
    "Cr": 51.996,
    "B": 10.81,
    "Mn": 54.938,
    "Fe": 55.845,
    "Cu": 63.546,
    "Br": 79.904,
    "Ag": 107.868,
    "Sn": 118.710,
    "I": 126.904,
    "Ce": 140.116,
    "Ca": 40.078,
    "F": 18.998,
    "Mg": 24.305,
    "Al": 26.982,
    "Si": 28.085,
    "P": 30.974,
    "Zn": 65.38,
    "Se": 78.971,
    "Ba": 137.327,
    "Au": 196.967,
    "Hg": 200.592,
    "Pb": 207.2,
}


def weigh(formula: str) -> float:
    """A small independent reader of formulas with brackets."""

    def group(text: str) -> float:
        total, at = 0.0, 0
        for match in re.finditer(r"\(([^()]*)\)(\d*)|([A-Z][a-z]?)(\d*)", text):
            assert match.start() == at, f"cannot read {text}"
            at = match.end()
            if match.group(1) is not None:
                total += group(match.group(1)) * int(match.group(2) or 1)
            else:
                total += WEIGHTS[match.group(3)] * int(match.group(4) or 1)
        return total

    return group(formula)


MASSES = [r for key, r in records().items() if key.startswith("mm.")]


@pytest.mark.parametrize("row", MASSES, ids=lambda r: r.key)
def test_molar_mass_agrees_with_molmass_and_with_the_atomic_weights(row):
    from molmass import Formula

    formula = row.inputs["formula"]
    served = molar_mass_g_per_mol(row.key)
    # The abridged weights are rounded in the third decimal: large molecules add that up.
    within = max(0.02, 2e-5 * served)
    assert served == pytest.approx(Formula(formula).mass, abs=within)
    assert served == pytest.approx(weigh(formula), abs=within)


def _given_per_wanted(wanted: str, given: str, moles: float = 1) -> float:
    """Grams of the given substance that stand for one of the wanted."""
    return moles * molar_mass_g_per_mol(given) / molar_mass_g_per_mol(wanted)


FACTORS = [r for key, r in records().items() if key.startswith("hydrate.") and "hydrate" in r.inputs]


def _key(name: str) -> str:
    return name.replace("(III)", "III").replace("(II)", "II").replace("(IV)", "IV").replace(" ", "_")


@pytest.mark.parametrize("row", FACTORS, ids=lambda r: r.key)
def test_hydrate_factor(row):
    ours = _given_per_wanted(_key(row.inputs["anhydrous"]), _key(row.inputs["hydrate"]))
    assert ours == pytest.approx(row.number, abs=row.within)


def test_anhydrous_iron_chloride_in_half_a_kilogram_of_lumps():
    row = record("hydrate.ferric.500g")
    factor = _given_per_wanted("ironIII_chloride_anhydrous", "ironIII_chloride_hexahydrate")
    assert row.inputs["hexahydrate_g"] / factor == pytest.approx(row.number, abs=row.within)


def test_ammonium_thiosulfate_for_hypo_crystals():
    row = record("convert.ats_from_hypo")
    factor = _given_per_wanted("sodium_thiosulfate_pentahydrate", "ammonium_thiosulfate")
    assert row.inputs["hypo_5H2O_g"] * factor == pytest.approx(row.number, abs=row.within)


def test_ammonium_chloride_for_that_conversion():
    row = record("convert.ats_from_hypo.nh4cl")
    factor = _given_per_wanted("sodium_thiosulfate_pentahydrate", "ammonium_chloride", 2)
    assert row.inputs["hypo_5H2O_g"] * factor == pytest.approx(row.number, abs=row.within)


@pytest.mark.parametrize(
    ("key", "wanted", "given", "moles"),
    [
        ("convert.metabisulfite.K_from_Na", "sodium_metabisulfite", "potassium_metabisulfite", 1),
        ("convert.metabisulfite_to_bisulfite", "sodium_metabisulfite", "sodium_bisulfite", 2),
        ("convert.bisulfate_for_h2so4", "sulfuric_acid", "sodium_bisulfate_anhydrous", 1),
    ],
)
def test_other_equivalents(key, wanted, given, moles):
    row = record(key)
    assert _given_per_wanted(wanted, given, moles) == pytest.approx(row.number, abs=row.within)
