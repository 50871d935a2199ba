"""Mix sheets: order, rounding, choice, refusal."""

import pytest

from obverse.foundation import InputError
from obverse.mixing import mix, with_controls
from obverse.mixing.measuring import measure
from obverse.process import USUAL_TOOLS, Component, Content, Dilution, Formula, Product, Tool
from obverse.process.catalog import formulas, products

P, F = products(), formulas()
SYRINGE, CYLINDER, BALANCE = USUAL_TOOLS
SPOON = Tool(key="spoon", name="spoon of 5 mL", kind="spoon", graduation=1.25, capacity=5)


def bath(*components, role="bleach", dilutions=(), **more):
    return Formula(
        name="a bath",
        role=role,
        components=tuple(Component(substance=s, concentration=c, **more) for s, c in components),
        dilutions=tuple(Dilution(product_role=r, dilution=d) for r, d in dilutions),
    )


def poured(sheet):
    return [(line.product, line.amount) for line in sheet.lines if line.kind == "product"]


def test_the_reference_recipe_of_permanganate():
    """2 g/L and 10 mL/L of 96 % acid, common practice: half a litre takes 1 g and 5 mL; crystals first, acid after."""
    sheet = mix(F["bleach_permanganate"], 500, (P["permanganate_crystals"], P["sulfuric_96"]))
    assert poured(sheet) == [("permanganate_crystals", 1.0), ("sulfuric_96", 5.0)]
    assert sheet.lines[0].kind == "water" and sheet.lines[-1].kind == "make_up"
    assert "never water into acid" in sheet.lines[2].do


def test_thirty_grams_of_metabisulfite_a_litre():
    """Common practice, no source: 30 g/L clears. From potassium salt at 97 % it is 36.2 g."""
    sheet = mix(F["clearing_metabisulfite"], 1000, (P["metabisulfite_potassium"],))
    assert poured(sheet) == [("metabisulfite_potassium", 36.2)]
    assert sheet.lines[1].cautions[0].code == "mix.substitution"


def test_ammonia_comes_last_even_where_the_formula_puts_it_first():
    formula = bath(("ammonia", "2 g/L"), ("ammonium_thiosulfate", "6 g/L"), add_order=1)
    formula = formula.model_copy(
        update={"components": (formula.components[0].model_copy(update={"add_order": 0}), formula.components[1])}
    )
    assert [k for k, _ in poured(mix(formula, 1000, tuple(P.values())))][-1] == "household_ammonia_5"


def test_gentler_bottle_first_and_the_stronger_where_only_it_fits():
    weak, strong = P["household_ammonia_5"], P["ammonia_25"]
    assert poured(mix(bath(("ammonia", "0.5 mol/L")), 1000, (strong, weak)))[0][0] == weak.key
    assert poured(mix(bath(("ammonia", "4 mol/L")), 1000, (strong, weak)))[0][0] == strong.key


def test_clean_product_before_a_perfumed_one():
    assert (
        poured(mix(F["ammonia_bath"], 500, (P["cleaning_ammonia_perfumed"], P["household_ammonia_10"])))[0][0]
        == "household_ammonia_10"
    )
    sheet = mix(F["ammonia_bath"], 500, (P["cleaning_ammonia_perfumed"],))
    assert {c.code for c in sheet.lines[1].cautions} >= {"product.perfume", "product.surfactant", "product.dye"}


def test_a_person_may_choose():
    sheet = mix(F["ammonia_bath"], 500, tuple(P.values()), choices={"ammonia": "ammonia_25"})
    assert poured(sheet)[0][0] == "ammonia_25"
    with pytest.raises(InputError, match="does not bring ammonia"):
        mix(F["ammonia_bath"], 500, tuple(P.values()), choices={"ammonia": "vinegar_5"})


def test_water_in_the_products_is_counted():
    """500 mL of 25 g/L peroxide from 3 % takes 413 mL of it: most of the water is in the bottle."""
    sheet = mix(bath(("hydrogen_peroxide", "25 g/L")), 500, (P["peroxide_3"],))
    liquid = sheet.lines[-2].amount
    assert sheet.water_to_add_ml == pytest.approx(500 - liquid)
    assert sheet.water_in_products_ml == pytest.approx(liquid * (1.0095 - 0.030285), rel=1e-3)


def test_crystal_water_is_counted():
    sheet = mix(bath(("sodium_carbonate", "50 g/L")), 1000, (P["washing_soda"],))
    grams = poured(sheet)[0][1]
    assert sheet.water_in_products_ml == pytest.approx(grams * 0.98 * 180.15 / 286.14, rel=1e-3)


def test_too_weak_to_fit_is_refused_with_the_reason():
    with pytest.raises(InputError, match=r"does not fit.*825 mL of products.*hydrogen peroxide 3 %"):
        mix(bath(("hydrogen_peroxide", "50 g/L")), 500, (P["peroxide_3"],))


def test_missing_unknown_and_impossible_are_refused():
    with pytest.raises(InputError, match="nothing on the shelf brings ammonia"):
        mix(F["ammonia_bath"], 500, (P["vinegar_5"],))
    with pytest.raises(InputError, match="'unobtainium' is not known"):
        mix(bath(("unobtainium", "5 g/L")), 500, tuple(P.values()))
    with pytest.raises(InputError, match="will not dissolve"):
        mix(bath(("potassium_permanganate", "70 g/L")), 500, tuple(P.values()))
    with pytest.raises(InputError, match="adds nothing"):
        mix(bath(("ammonia", "0 g/L")), 500, tuple(P.values()))
    for volume in (-1, 0, float("nan"), 1e9):
        with pytest.raises(InputError, match="cannot be mixed"):
            mix(F["ammonia_bath"], volume, tuple(P.values()))
    with pytest.raises(InputError, match="no paper developer stands on the shelf"):
        mix(F["second_developer"], 500, (P["ammonia_25"],))
    with pytest.raises(InputError, match=r"less than the measuring cylinder, 5 mL can measure.*1\+9"):
        mix(bath(("ammonia", "0.01 g/L")), 100, (P["household_ammonia_5"],), (CYLINDER, BALANCE))


def test_no_tool_for_powder():
    with pytest.raises(InputError, match="no tool at hand measures g"):
        mix(F["stop_citric"], 500, (P["citric_anhydrous"],), (SYRINGE, CYLINDER))


@pytest.mark.parametrize(
    ("amount", "form", "tools", "rounded", "tool"),
    [
        (31.25, "liquid", USUAL_TOOLS, 31.3, "syringe"),
        (31.25, "liquid", (CYLINDER,), 30.0, "cylinder"),  # benches round 31 mL to 30: common practice, no source
        (300.4, "liquid", USUAL_TOOLS, 300.0, "cylinder"),
        (2.04, "solid", USUAL_TOOLS, 2.0, "balance"),
        (4.9, "solid", (SPOON,), 5.0, "spoon"),
        (4.9, "solid", (SPOON, BALANCE), 4.9, "balance"),
        (37.5, "liquid", (CYLINDER,), 40.0, "cylinder"),
    ],
)
def test_rounding_to_the_tool_in_hand(amount, form, tools, rounded, tool):
    found = measure(amount, form, tools)
    assert (found.amount, found.tool.key) == (pytest.approx(rounded), tool)
    assert found.reading_sd > 0


def test_rounding_is_told_where_it_matters():
    sheet = mix(
        F["first_developer"],
        300,
        tuple(P.values()),
        (CYLINDER, BALANCE, Tool(key="j", name="j", kind="jug", graduation=1, capacity=1000)),
    )
    ammonia = next(m for m in sheet.made if m.substance == "ammonia")
    assert abs(ammonia.rounding_error) > 0.05
    assert any(c.code == "mix.rounding" and c.where == "ammonia" for c in sheet.cautions)


def test_spoons_are_doubtful():
    by_spoon, by_balance = (
        mix(F["stop_citric"], 500, (P["citric_anhydrous"],), t).made[0].made_g_per_l
        for t in ((SYRINGE, SPOON), USUAL_TOOLS)
    )
    assert by_spoon.sd > 5 * by_balance.sd


def test_colon_is_shown_as_it_was_read():
    sheet = mix(bath(role="second_developer", dilutions=(("paper_developer", "1:9"),)), 500, tuple(P.values()))
    assert sheet.lines[1].reading.startswith("1:9 is read as 1+9")
    assert sheet.lines[1].raw_amount == 50


def test_one_bottle_may_serve_two_lines():
    """The remover brings dithionite and its own carbonate: what it brings is not added again."""
    formula = bath(("sodium_dithionite", "8 g/L"), ("sodium_carbonate", "10 g/L"), role="fogging")
    both = mix(formula, 1000, (P["colour_run_remover"], P["soda_ash"]))
    alone = mix(bath(("sodium_carbonate", "10 g/L")), 1000, (P["soda_ash"],))
    assert dict(poured(both))["soda_ash"] < dict(poured(alone))["soda_ash"] - 5
    assert both.made[1].made_g_per_l.value == pytest.approx(10, rel=0.01)


def test_same_active_twice_is_one_need():
    sheet = mix(
        bath(("sodium_carbonate", "10 g/L"), ("sodium_carbonate_decahydrate", "27 g/L")), 1000, (P["soda_ash"],)
    )
    assert poured(sheet)[0][1] == pytest.approx(20 / 0.99, abs=0.1)
    assert len(sheet.made) == 1


def test_mix_is_the_same_each_time():
    one, other = (mix(F["first_developer"], 500, tuple(P.values())).document() for _ in range(2))
    assert one == other


def test_controls_become_active_substance():
    """10 mL of 60 % w/v is 6 g of thiosulfate; 5 mL of ammonia 5 % w/w is 0.244 g of NH3."""
    formula = with_controls(
        F["first_developer"],
        {"solvent_ml_per_l": 20, "alkali_ml_per_l": 0, "developer_parts_water": 9, "temperature_c": 20},
    )
    assert {c.substance: c.parsed.value for c in formula.components} == {"ammonium_thiosulfate": pytest.approx(12)}
    assert formula.dilutions[0].dilution == "1+9"
    default = with_controls(
        F["first_developer"], {"solvent_ml_per_l": 2, "alkali_ml_per_l": 8, "developer_parts_water": 15}
    )
    for ours, packaged in zip(default.components, F["first_developer"].components, strict=True):
        assert ours.parsed.value == pytest.approx(packaged.parsed.value, rel=0.002)
    with pytest.raises(InputError):
        with_controls(F["first_developer"], {"solvent_ml_per_l": -1})


def test_solvent_control_from_another_fixer_is_the_same_thiosulfate():
    formula = with_controls(F["first_developer"], {"solvent_ml_per_l": 10})
    for key in ("fixer_ats_60wv", "fixer_ats_60ww", "hypo_crystals"):
        shelf = (P["paper_developer_concentrate"], P["household_ammonia_5"], P[key])
        made = next(m for m in mix(formula, 1000, shelf).made if m.substance == "ammonium_thiosulfate")
        assert made.made_g_per_l.value == pytest.approx(6, rel=0.01)


def test_a_product_without_usable_strength_names_itself():
    bad = Product(
        key="mystery",
        name="mystery acid",
        form="liquid",
        contents=(Content(substance="sodium_bisulfate", strength="20 vol"),),
    )
    with pytest.raises(InputError, match="mystery acid"):
        mix(bath(("sodium_bisulfate", "10 g/L")), 500, (bad,))


def test_a_bad_label_does_not_stand_in_the_way_of_a_good_one():
    bad = Product(
        key="vague",
        name="vague acid",
        form="liquid",
        contents=(Content(substance="sodium_bisulfate", strength="20 vol"),),
    )
    assert poured(mix(bath(("sodium_bisulfate", "10 g/L")), 500, (bad, P["ph_minus"])))[0][0] == "ph_minus"


@pytest.mark.parametrize(
    ("form", "density", "strengths"),
    [
        ("liquid", None, ("250 % w/v",)),
        ("liquid", 1.2, ("90 % w/v", "50 % w/v")),
        ("solid", None, ("70 % w/w", "60 % w/w")),
    ],
)
def test_a_product_cannot_hold_more_than_it_weighs(form, density, strengths):
    contents = tuple(
        Content(substance=s, strength=text)
        for s, text in zip(("ammonium_thiosulfate", "sodium_sulfite"), strengths, strict=False)
    )
    product = Product(key="heavy", name="heavy fixer", form=form, contents=contents, density_g_per_ml=density)
    with pytest.raises(InputError, match="heavy fixer: its contents would weigh"):
        mix(bath(("ammonium_thiosulfate", "100 g/L")), 500, (product,))
