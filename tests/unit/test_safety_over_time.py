"""What time, damp, heat and closed vessels do: each rule met once, and once left in peace."""

from dataclasses import replace

import pytest

from obverse.safety.airborne import Room
from obverse.safety.body import Portion, liquid, powder
from obverse.safety.engine import assess, severity_of
from obverse.safety.setting import setting_for

BATHROOM = Room(6, 1)


def found(place, *portions, hours=0.0, closed=False, temperature_c=20.0, headspace_ml=None, surface_m2=None):
    setting = replace(setting_for(place, BATHROOM, hours=hours), temperature_c=temperature_c, headspace_ml=headspace_ml)
    if closed:
        setting = replace(setting, closed=True)
    if surface_m2:
        setting = replace(setting, surface_m2=surface_m2)
    return {effect.mechanism: effect.severity for effect in assess(portions, setting)}


WATER = Portion("water", {}, 300.0)


def test_chlorite_with_a_weak_acid_is_refused_and_alone_is_not():
    chlorite = liquid("drops A", {"sodium_chlorite": 250}, 50)
    acid = liquid("drops B", {"citric_acid": 500}, 50)
    assert 4 == found("mixing", chlorite, acid)["chlorite_acid"]
    assert "chlorite_acid" not in found("mixing", chlorite, Portion("water", {}, 100.0))


def test_zinc_powder_in_warm_lye_makes_hydrogen_and_in_soda_none():
    lye = liquid("lye", {"sodium_hydroxide": 240}, 200)
    soda = liquid("soda", {"sodium_carbonate": 100}, 200)
    zinc = powder("zinc", {"zinc": 20})
    assert found("mixing", zinc, lye, temperature_c=50)["metal"] >= 2
    assert "metal" not in found("mixing", zinc, soda, temperature_c=50)


@pytest.mark.parametrize("heavy", ["copper_ii_sulfate", "lead_ii_acetate", "mercury_ii_chloride"])
def test_azide_with_a_heavy_metal_is_refused(heavy):
    azide = liquid("azide", {"sodium_azide": 10}, 100)
    assert 4 == found("jug", liquid("metal", {heavy: 20}, 500), azide)["heavy_azide"]
    assert "heavy_azide" not in found("jug", liquid("salt", {"sodium_chloride": 20}, 500), azide)


def test_pool_chlorine_damp_with_an_ammonium_salt_is_refused_and_told_on_the_shelf():
    tablets = powder("tablets", {"trichloroisocyanuric_acid": 100})
    salt = powder("fertiliser", {"ammonium_sulfate": 50})
    assert 4 == found("damp", tablets, salt)["nitrogen_trichloride"]
    assert 3 == found("shelf", tablets, salt)["nitrogen_trichloride"]
    assert "nitrogen_trichloride" not in found("shelf", tablets.times(0.1), salt)


def test_a_sweet_drink_ferments_in_a_closed_bottle_in_days_and_in_acid_never():
    sweet = liquid("syrup", {"sucrose": 200}, 1000)
    sour = liquid("stop", {"sucrose": 200, "citric_acid": 100}, 1000)
    assert 3 <= found("closed_jug", sweet, hours=72)["pressure"]
    assert "pressure" not in found("closed_jug", sweet, hours=1)
    assert "pressure" not in found("closed_jug", sour, hours=72)


def test_persulfate_in_a_closed_warm_bottle_makes_pressure_by_the_month():
    bleach = liquid("bleach", {"ammonium_persulfate": 100}, 1000)
    assert 3 <= found("closed_jug", bleach, hours=1500, temperature_c=35)["pressure"]
    assert "pressure" not in found("closed_jug", bleach, hours=1)


def test_strong_formic_acid_swells_its_bottle_and_thin_does_not():
    assert found("closed_jug", liquid("acid", {"formic_acid": 1190}, 500), hours=8760, headspace_ml=50)["pressure"] >= 3
    assert "pressure" not in found("closed_jug", liquid("acid", {"formic_acid": 100}, 500), hours=8760, headspace_ml=50)


def test_the_air_frees_hydrogen_sulfide_from_a_toner_that_stands_open():
    toner = liquid("toner", {"sodium_sulfide": 10}, 1000)
    assert found("standing", toner, hours=24, surface_m2=0.05)["air_on_salts"] >= 2
    assert "air_on_salts" not in found("closed_jug", toner, hours=24)


def test_warm_strong_ammonia_bulges_its_bottle_and_household_ammonia_does_not():
    strong, household = (liquid("ammonia", {"ammonia": g}, 1000) for g in (227, 48))
    assert 3 == found("closed_jug", strong, temperature_c=45)["warm_vapour"]
    assert "warm_vapour" not in found("closed_jug", household, temperature_c=45)
    assert 2 == found("closed_jug", household, temperature_c=65)["warm_vapour"]
    acetone = liquid("acetone", {"acetone": 790}, 500)
    assert 3 == found("closed_jug", acetone, temperature_c=70)["warm_vapour"]
    assert "warm_vapour" not in found("closed_jug", acetone, temperature_c=25)


def test_oxidisers_on_a_hot_plate_and_an_old_ether_are_told():
    nitrate = powder("nitrate", {"ammonium_nitrate": 50})
    assert 3 == found("mixing", nitrate, temperature_c=200)["heated_oxidiser"]
    assert "heated_oxidiser" not in found("mixing", nitrate)
    ether = liquid("ether", {"diethyl_ether": 700}, 250)
    assert 3 == found("shelf", ether, hours=5000)["ether_peroxide"]
    assert 4 == found("shelf", ether, hours=9000)["ether_peroxide"]
    assert "ether_peroxide" not in found("shelf", ether, hours=24)


def test_strong_sulfuric_acid_drives_its_gas_out_of_salts_and_thin_does_not():
    strong, thin = liquid("acid", {"sulfuric_acid": 1766}, 100), liquid("acid", {"sulfuric_acid": 100}, 100)
    for key in ("potassium_bromide", "sodium_nitrate", "potassium_thiocyanate"):
        assert found("mixing", strong, powder("salt", {key: 30}))["driven_by_sulfuric"] >= 3
        assert "driven_by_sulfuric" not in found("mixing", thin, powder("salt", {key: 3}))


def test_hydrofluoric_acid_is_refused_when_strong_and_fuming_nitric_acid_is_told():
    assert 4 == found("mixing", liquid("etch", {"hydrofluoric_acid": 300}, 100))["fluoride"]
    assert 3 >= severity_of(assess([liquid("etch", {"hydrofluoric_acid": 0.5}, 100)], setting_for("mixing", BATHROOM)))
    assert found("room", liquid("nitric", {"nitric_acid": 910}, 500))["acid_fumes"] >= 2


def test_silver_and_solvents_do_not_go_down_a_drain():
    assert 2 == found("drain", liquid("fixer", {"silver_thiosulfate": 5}, 1000))["drain_silver"]
    assert found("drain", liquid("cleaner", {"petrol": 700}, 200))["drain_fire"] == 2
    assert "drain_silver" not in found("mixing", liquid("fixer", {"silver_thiosulfate": 5}, 1000))


def test_what_smells_when_two_bottles_break_is_no_reason_to_part_them():
    fixer = liquid("fixer", {"ammonium_thiosulfate": 780}, 1000)
    soda = liquid("developer", {"sodium_sulfite": 50, "sodium_carbonate": 30}, 1000)
    assert {} == found("shelf", fixer, soda)
    lye = liquid("lye", {"sodium_hydroxide": 400}, 1000)
    assert found("shelf", fixer, lye)["ammonia"] >= 3


def test_poison_that_waits_under_a_cap_is_refused_and_what_only_smells_is_not_told():
    toner, acid = liquid("toner", {"sodium_sulfide": 50}, 500), liquid("acid", {"citric_acid": 100}, 300)
    assert 4 == found("closed_jug", toner, acid)["acid_sulfide"]
    fixer = liquid("fixer", {"ammonium_thiosulfate": 120, "sodium_sulfite": 10}, 1000)
    assert "acid_sulfite" not in found("closed_jug", fixer, liquid("stop", {"citric_acid": 5}, 100))


def test_a_dose_of_prussic_acid_is_refused_in_a_hall_too():
    reducer = liquid("reducer", {"potassium_cyanide": 10}, 30)
    assert 4 == found("carry_over", reducer, liquid("stop", {"acetic_acid": 20}, 500))["cyanide_dose"]
    assert "cyanide_dose" not in found("carry_over", reducer, liquid("soda", {"sodium_carbonate": 20}, 500))


def test_acetylene_in_a_closed_jar_is_refused():
    assert 4 == found("closed_jug", powder("carbide", {"calcium_carbide": 20}), WATER)["pressure"]


def test_water_takes_vapour_from_a_solvent():
    neat, thin = liquid("neat", {"isopropanol": 785}, 2000), liquid("thin", {"isopropanol": 400}, 2000)
    assert 3 == found("room", neat)["solvent_vapour"]
    assert 2 == found("room", thin)["solvent_vapour"]


def test_working_baths_beside_each_other_are_left_in_peace_and_concentrates_kill():
    stop, fixer = liquid("stop", {"citric_acid": 30}, 500), liquid("clearing", {"sodium_metabisulfite": 25}, 500)
    assert {} == found("shelf", stop, fixer)
    acid, salt = liquid("acid", {"hydrochloric_acid": 360}, 1000), powder("salt", {"sodium_metabisulfite": 500})
    assert 4 == found("shelf", acid, salt)["acid_sulfite"]
    assert 3 == found("standing", stop, fixer, hours=48)["acid_sulfite"]


def test_a_tin_salt_is_the_acid_that_it_is():
    tin = powder("tin salt", {"stannous_chloride": 50})
    cyanide = liquid("reducer", {"potassium_cyanide": 10}, 300)
    assert 4 == found("mixing", cyanide, tin)["cyanide_dose"]
    salt = powder("salt", {"sodium_chloride": 50})
    assert "cyanide_dose" not in found("mixing", cyanide, salt)


def test_vinegar_into_household_hypochlorite_is_refused_and_into_a_trace_of_it_is_not_told():
    vinegar = liquid("vinegar", {"acetic_acid": 50}, 300)
    assert 4 == found("mixing", liquid("cleaner", {"sodium_hypochlorite": 54}, 500), vinegar)["hypochlorite_acid"]
    assert {} == found("drain", liquid("rinse", {"sodium_hypochlorite": 0.01}, 500), vinegar)
