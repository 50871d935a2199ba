"""The checker against published lists of incompatible chemicals, written down here pair by pair.

Sources: ACS list after Hill & Finster, Laboratory Safety for Chemistry Students; AS 2243.10-2004 list (University of
Sydney page); 40 CFR 264/265 Appendix V; CLP Annex II 1.2 (EUH031, EUH032). Rows are written from memory of these lists
where the reference only quotes their group headings.
"""

import pytest

from obverse.safety import check_mixture, check_room, check_storage, check_waste_jug


def worst(*names):
    found = [f for check in (check_mixture, check_waste_jug, check_storage, check_room) for f in check(*names)]
    return max((f.severity for f in found if f.a_from != f.b_from or f.pair in ("inc.08",)), default=0)


ACS = [
    ("ammonia", "calcium_hypochlorite"),
    ("ammonia", "iodine"),
    ("ammonia", "mercury"),
    ("ammonia", "chlorine"),
    ("hydrogen_peroxide", "acetone"),
    ("hydrogen_peroxide", "copper_metal"),
    ("hydrogen_peroxide", "iron"),
    ("potassium_permanganate", "glycerol"),
    ("potassium_permanganate", "sulfuric_acid"),
    ("sodium_hypochlorite", "acetic_acid"),
    ("sodium_hypochlorite", "sulfuric_acid"),
    ("sodium_hypochlorite", "hydrochloric_acid"),
    ("silver_chloride", "oxalic_acid_dihydrate"),
    ("silver_chloride", "tartaric_acid"),
    ("potassium_dichromate", "glycerol"),
    ("potassium_dichromate", "ethanol"),
    ("potassium_dichromate", "acetone"),
]
ACS_ALSO = [("hydrogen_peroxide", "acetone", "sulfuric_acid"), ("silver_chloride", "nitric_acid", "ethanol")]

APPENDIX_V = [
    # 1-A alkalies with 1-B acids: heat, violent reaction.
    ("sodium_hydroxide", "sulfuric_acid"),
    ("sodium_hydroxide", "hydrochloric_acid"),
    ("sodium_hydroxide", "nitric_acid"),
    ("ammonia", "sulfuric_acid"),
    # 2-A reactive metals with 1-A or 1-B: fire, hydrogen.
    ("aluminium", "sodium_hydroxide"),
    ("zinc", "hydrochloric_acid"),
    ("galvanised", "iron_iii_chloride"),
    # 5-A sulfide solutions with 1-B acids: toxic gas.
    ("sodium_sulfide", "sulfuric_acid"),
    # 6-A strong oxidisers with 6-B organic acids, solvents, flammable waste: fire.
    ("potassium_permanganate", "isopropanol"),
    ("potassium_permanganate", "solvent"),
    ("sodium_hypochlorite", "citric_acid"),
]

EUH = [
    # EUH031: contact with acids liberates toxic gas.
    ("sodium_metabisulfite", "sulfuric_acid"),
    ("potassium_metabisulfite", "sodium_bisulfate"),
    ("sodium_sulfite", "hydrochloric_acid"),
    ("sodium_dithionite", "sulfuric_acid"),
    ("sodium_hypochlorite", "sodium_bisulfate"),
    # EUH032: contact with acids liberates very toxic gas.
    ("potassium_thiocyanate", "sulfuric_acid"),
    ("ammonium_thiocyanate", "hydrochloric_acid"),
]

HEALTH_DEPARTMENT = [
    # Washington State Department of Health, dangers of mixing bleach (quoted in the reference): ammonia, acids, other cleaners.
    ("laundry_bleach", "household_ammonia_5"),
    ("laundry_bleach", "household_ammonia_10"),
    ("laundry_bleach", "cleaning_ammonia_perfumed"),
    ("laundry_bleach", "vinegar_5"),
    ("laundry_bleach", "ph_minus"),
    ("laundry_bleach", "battery_acid_37"),
    ("laundry_bleach", "etchant_42be"),
    ("laundry_bleach", "fixer_ats_60wv"),
]


@pytest.mark.parametrize("pair", [*ACS, *APPENDIX_V, *EUH, *ACS_ALSO], ids="-".join)
def test_listed_pair_is_at_least_an_injury(pair):
    assert worst(*pair) >= 3


@pytest.mark.parametrize(
    "pair",
    [*EUH, ("potassium_permanganate", "sulfuric_acid"), ("silver_chloride", "nitric_acid", "ethanol")],
    ids="-".join,
)
def test_gas_and_explosive_oil_are_refused(pair):
    assert worst(*pair) == 4


@pytest.mark.parametrize("pair", HEALTH_DEPARTMENT, ids="-".join)
def test_hypochlorite_is_refused_in_the_room(pair):
    assert any(finding.refused for finding in check_room(*pair))


@pytest.mark.parametrize(
    "pair",
    [
        ("pure_salt", "water"),
        ("soda_ash", "washing_soda"),
        ("fixer_rapid", "wash_aid_sulfite"),
        ("citric_anhydrous", "vinegar_5"),
        ("wetting_agent", "water"),
        ("metabisulfite_sodium", "sulfite_anhydrous"),
    ],
    ids="-".join,
)
def test_what_no_list_names_raises_nothing(pair):
    assert worst(*pair) == 0
