"""What can be made, what must be bought, conversion between benches, what chemistry says of a bath."""

import pytest

from obverse.foundation import InputError
from obverse.mixing import PouredThere, convert, cost_of, insights, least_purchase, mix, reach, read_bath, rolls_in
from obverse.process import Component, Content, Formula
from obverse.process.catalog import formulas, products, routes

P, F = products(), formulas()
MARKET = tuple(P.values())
ROUTE_KEYS = sorted(routes())


def needed(route):
    return [F[k] for k in dict.fromkeys(s.formula for s in routes()[route].steps if s.formula and not s.optional)]


@pytest.mark.parametrize("route", ROUTE_KEYS)
def test_an_empty_shelf_is_opened_by_the_named_purchase(route):
    bought = least_purchase(needed(route), 500, (), MARKET)
    assert bought
    for formula in needed(route):
        assert reach(formula, 500, bought).sheet is not None


@pytest.mark.parametrize("route", ROUTE_KEYS)
def test_nothing_in_the_purchase_is_needless(route):
    bought = least_purchase(needed(route), 500, (), MARKET)
    for left_out in bought:
        rest = tuple(p for p in bought if p is not left_out)
        assert any(reach(f, 500, rest).sheet is None for f in needed(route)), left_out.key


def test_reach_names_what_is_lacking():
    found = reach(F["first_developer"], 500, (P["fixer_ats_60wv"],))
    assert found.sheet is None
    assert set(found.lacks) == {"ammonia", "paper_developer"}
    assert reach(F["fixer_rapid"], 500, (P["fixer_ats_60wv"],)).lacks == ()


def test_too_weak_is_mended_by_a_stronger_bottle():
    strong = Formula(
        name="strong peroxide",
        role="bleach",
        components=(Component(substance="hydrogen_peroxide", concentration="50 g/L"),),
    )
    bought = least_purchase([strong], 500, (P["peroxide_3"],), MARKET)
    assert [p.key for p in bought] == ["peroxide_6"]


def test_what_stands_there_already_is_not_bought_again():
    """Peroxide is too weak, citric acid is at hand: only the peroxide is on the list."""
    bath = Formula(
        name="strong peroxide and acid",
        role="bleach",
        components=(
            Component(substance="citric_acid", concentration="40 g/L"),
            Component(substance="hydrogen_peroxide", concentration="50 g/L"),
        ),
    )
    bought = least_purchase([bath], 500, (P["peroxide_3"], P["citric_monohydrate"]), MARKET)
    assert [p.key for p in bought] == ["peroxide_6"]


def test_nobody_takes_developer_for_its_carbonate_nor_fixer_for_its_sulfite():
    shelf = (P["paper_developer_concentrate"], P["fixer_ats_60wv"])
    assert reach(F["fogging_dithionite"], 500, shelf).lacks == ("sodium_carbonate", "sodium_dithionite")
    assert reach(F["wash_aid_sulfite"], 500, shelf).lacks == ("sodium_sulfite",)


def test_what_nobody_sells_cannot_be_bought():
    cerium = Formula(
        name="cerium bleach",
        role="bleach",
        components=(Component(substance="cerium_iv_sulfate", concentration="20 g/L"),),
    )
    assert least_purchase([cerium], 500, (), MARKET) is None


def test_nothing_is_bought_for_an_open_route():
    assert least_purchase(needed("iron_ammonia_light"), 500, MARKET, MARKET) == ()


def test_cost_is_price_by_amount():
    priced = P["ammonia_25"].model_copy(update={"package_price": 8.0, "package_amount": 500.0})
    sheet = mix(F["ammonia_bath"], 500, (priced,))
    assert cost_of(sheet, (priced,)).known == pytest.approx(8.0 * sheet.amounts["ammonia_25"] / 500)
    assert cost_of(mix(F["ammonia_bath"], 500, MARKET), MARKET).unpriced == ("household ammonia 5 % w/w",)


# Conversion


def test_half_strength_ammonia_doubles():
    """A recipe of 10 % ammonia made with 5 %: twice the volume but for the density (0.957 and 0.977)."""
    theirs = [PouredThere(P["household_ammonia_10"], 100)]
    found = convert(theirs, 1000, (P["household_ammonia_5"],), role="halide_solvent")
    assert found.sheet.lines[1].raw_amount == pytest.approx(100 * 2 * 0.95749 / 0.97691, rel=1e-4)
    assert found.unmatched == ()


def test_what_cannot_be_matched_is_said():
    theirs = [
        PouredThere(P["paper_developer_concentrate"], 62.5),
        PouredThere(P["fixer_ats_45wv_hardening"], 12),
        PouredThere(P["household_ammonia_10"], 3),
    ]
    mine = (P["paper_developer_concentrate"], P["hypo_crystals"], P["household_ammonia_5"])
    found = convert(theirs, 1000, mine, role="first_developer", my_volume_ml=500)
    assert {u.what for u in found.unmatched} == {"ammonium salts", "pH, estimated", "hardener"}
    assert found.sheet.volume_ml == 500
    dilution = next(line for line in found.sheet.lines if line.product == "paper_developer_concentrate")
    assert dilution.raw_amount == pytest.approx(31.25)


def test_companions_of_a_concentrate_are_compared():
    """A fixer that brings sulfite against one that does not."""
    found = convert([PouredThere(P["fixer_ats_60wv"], 200)], 1000, (P["fixer_ats_60ww"],), role="fixer")
    sulfite = next(u for u in found.unmatched if u.what == "sulfite")
    assert sulfite.mine == "none" and sulfite.theirs.endswith("mmol/L")


def test_thiosulfate_is_carried_over_exactly():
    formula = read_bath([PouredThere(P["fixer_ats_60wv"], 10)], 1000, role="first_developer")
    assert [(c.substance, c.parsed.value) for c in formula.components] == [("ammonium_thiosulfate", pytest.approx(6.0))]


def test_impossible_baths_are_refused():
    for poured, volume in (
        ([], 1000),
        ([PouredThere(P["vinegar_5"], 0)], 1000),
        ([PouredThere(P["vinegar_5"], 600)], 500),
        ([PouredThere(P["vinegar_5"], 5)], 0),
    ):
        with pytest.raises(InputError):
            read_bath(poured, volume, role="stop")


# What chemistry says


def test_every_bleach_tells_its_capacity_as_a_range():
    for key in ("bleach_iron_chloride", "bleach_permanganate", "bleach_peroxide_acid", "bleach_dichromate"):
        rolls = rolls_in(mix(F[key], 1000, MARKET))
        assert 0 < rolls.low < rolls.likely < rolls.high
        assert rolls.high / rolls.low > 4


def test_dichromate_is_told_to_be_limited_by_acid_and_permanganate_is_not():
    texts = {key: insights(mix(F[key], 1000, MARKET))[0].text for key in ("bleach_dichromate", "bleach_permanganate")}
    assert "its acid, not its oxidant" in texts["bleach_dichromate"]
    assert "its oxidant" in texts["bleach_permanganate"] and "acid" not in texts["bleach_permanganate"]


def test_double_the_ammonia_takes_twice_the_rolls():
    def rolls(strength):
        formula = Formula(
            name="a", role="halide_solvent", components=(Component(substance="ammonia", concentration=strength),)
        )
        return rolls_in(mix(formula, 1000, (P["ammonia_25"],))).likely

    assert rolls("1 mol/L") / rolls("0.5 mol/L") == pytest.approx(2, rel=0.02)


def test_thiosulfate_outweighs_ammonia_as_solvent():
    found = insights(mix(F["first_developer"], 500, MARKET))[0]
    assert found.code == "developer.solvent"
    assert "more than 99 %" in found.text


def test_insight_sources_are_records():
    from obverse.reference import record

    for formula in F.values():
        for insight in insights(mix(formula, 500, MARKET)):
            record(insight.source)


def test_substance_contents_of_every_generic_product_can_be_reckoned():
    from obverse.mixing import contents_of

    for product in P.values():
        for brings in contents_of(product):
            assert brings.grams_per_unit > 0
            assert 0 < brings.relative_sd < 1
    assert isinstance(P["ammonia_25"].contents[0], Content)
