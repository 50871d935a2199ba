"""A thousand random shelves and formulas: nothing is lost, nothing comes from nowhere, refusals say why."""

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from obverse.chemistry import concentration_g_per_l, mass_fraction_of_strength, molar_mass_g_per_mol
from obverse.chemistry.acidity import charge_curve
from obverse.foundation import Z90, InputError
from obverse.mixing import mix
from obverse.process import USUAL_TOOLS, Component, Dilution, Formula, Tool
from obverse.process.catalog import formulas, products, routes, substances
from obverse.reference import number

PRODUCTS, SUBSTANCES = products(), substances()
BOUGHT = sorted({c.substance for p in PRODUCTS.values() if not p.roles for c in p.contents})

TOOLS = st.sampled_from(
    [
        USUAL_TOOLS,
        (
            Tool(key="c", name="cylinder", kind="cylinder", graduation=1, capacity=100),
            Tool(key="b", name="balance", kind="balance", graduation=0.01, capacity=100),
        ),
        (
            Tool(key="s", name="syringe", kind="syringe", graduation=0.5, capacity=20),
            Tool(key="p", name="spoon of 5 mL", kind="spoon", graduation=2.5, capacity=5),
        ),
        (
            Tool(key="j", name="jug", kind="jug", graduation=50, capacity=1000),
            Tool(key="b", name="balance", kind="balance", graduation=1, capacity=2000),
        ),
    ]
)


@st.composite
def benches(draw):
    """A shelf, and a formula that it can often but not always make."""
    keys = draw(st.lists(st.sampled_from(sorted(PRODUCTS)), min_size=1, max_size=25, unique=True))
    shelf = tuple(PRODUCTS[k] for k in keys)
    actives = {SUBSTANCES[p.contents[0].substance].active for p in shelf if not p.roles}
    near = sorted(k for k, s in SUBSTANCES.items() if s.active and s.active in actives) or BOUGHT
    wanted = draw(st.lists(st.sampled_from(near), min_size=1, max_size=4, unique_by=lambda k: SUBSTANCES[k].active))
    if draw(st.integers(0, 9)) == 0:
        wanted = [*wanted, draw(st.sampled_from([k for k in BOUGHT if k not in wanted]))]
    components = tuple(
        Component(
            substance=key,
            concentration=f"{10 ** draw(st.floats(-0.7, 2.2)):.4f} g/L"
            if draw(st.booleans())
            else f"{10 ** draw(st.floats(-2.5, 0.2)):.5f} mol/L",
            add_order=draw(st.integers(0, 3)),
        )
        for key in wanted
    )
    roles = any("paper_developer" in p.roles for p in shelf)
    dilutions = (
        (Dilution(product_role="paper_developer", dilution=f"1+{draw(st.integers(0, 40))}"),)
        if roles and draw(st.booleans())
        else ()
    )
    return shelf, Formula(name="random bath", role="bleach", components=components, dilutions=dilutions)


def grams_in(product, amount):
    """Grams of each substance in that much of a product, reckoned from its label alone."""
    for content in product.contents:
        known = SUBSTANCES[content.substance]
        if product.form == "solid":
            yield known.key, amount * mass_fraction_of_strength(content.parsed, known.key).value
        else:
            yield (
                known.key,
                amount / 1000 * concentration_g_per_l(content.parsed, known, product.density_g_per_ml).value,
            )


def test_mass_and_charge_are_conserved_and_refusals_explained():
    outcomes = {"mixed": 0, "refused": 0}

    @settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(benches(), st.floats(50, 5000), TOOLS)
    def one(bench, volume_ml, tools):
        shelf, formula = bench
        try:
            sheet = mix(formula, volume_ml, shelf, tools)
        except InputError as error:
            assert error.what and error.remedy and error.where
            outcomes["refused"] += 1
            return
        outcomes["mixed"] += 1
        check(sheet, volume_ml, shelf, tools)

    one()
    assert outcomes["mixed"] >= 160, outcomes
    assert outcomes["refused"] >= 20, outcomes


def check(sheet, volume_ml, shelf, tools):
    by_key = {p.key: p for p in shelf}
    poured = [line for line in sheet.lines if line.kind == "product"]
    # Mass: what the lines pour is what the bath holds.
    grams: dict[str, float] = {}
    for line in poured:
        for key, g in grams_in(by_key[line.product], line.amount):
            grams[key] = grams.get(key, 0.0) + g
    assert set(grams) == set(sheet.contents_g_per_l)
    for key, g in grams.items():
        assert sheet.contents_g_per_l[key] * volume_ml / 1000 == pytest.approx(g, rel=1e-9)
    # Volume: liquids, powders and water fill the bath exactly, and no water is taken away.
    liquids = sum(line.amount for line in poured if line.unit == "mL")
    powders = sum(line.amount for line in poured if line.unit == "g")
    assert sheet.water_to_add_ml >= 0
    assert liquids + powders * number("mix.solid_displacement") + sheet.water_to_add_ml == pytest.approx(volume_ml)
    assert 0 <= sheet.lines[0].amount <= sheet.water_to_add_ml + 1e-9 or sheet.lines[0].kind == "product"
    # Charge: at the pH it names, the bath is neutral.
    if sheet.ph is not None:
        ions: dict[str, float] = {}
        buffers: dict[str, float] = {}
        for key, mol in sheet.contents_mol_per_l.items():
            for name, n in SUBSTANCES[key].ions.items():
                ions[name] = ions.get(name, 0.0) + n * mol
            for name, n in SUBSTANCES[key].buffers.items():
                buffers[name] = buffers.get(name, 0.0) + n * mol
        scale = sum(ions.values()) + sum(buffers.values()) + 1e-7
        assert abs(charge_curve(ions, buffers)(sheet.ph.value)) < 1e-6 * scale + 1e-10
    # Every line of the formula is met but for the rounding that is stated.
    for made in sheet.made:
        assert made.made_g_per_l.value == pytest.approx(made.target_g_per_l * (1 + made.rounding_error))
        assert made.made_g_per_l.sd > 0
    # Ammonia is last of all products; rounding is to the graduation.
    ammonia = [
        i for i, line in enumerate(poured) if any(c.substance == "ammonia" for c in by_key[line.product].contents)
    ]
    assert all(i == len(poured) - 1 for i in ammonia[:1])
    for line in poured:
        assert abs(line.amount - line.raw_amount) <= max(t.graduation for t in tools) / 2 + 1e-6


SHELF_A = (
    "paper_developer_concentrate",
    "fixer_ats_60wv",
    "household_ammonia_5",
    "etchant_42be",
    "permanganate_crystals",
    "battery_acid_37",
    "peroxide_6",
    "dichromate_crystals",
    "citric_monohydrate",
    "metabisulfite_sodium",
    "dithionite_85",
    "soda_ash",
    "sulfite_anhydrous",
    "wetting_agent",
)
SHELF_B = (
    "paper_developer_concentrate",
    "fixer_ats_60ww",
    "ammonia_25",
    "iron_chloride_lumps",
    "permanganate_crystals",
    "sulfuric_96",
    "peroxide_12",
    "dichromate_crystals",
    "citric_anhydrous",
    "metabisulfite_potassium",
    "dithionite_85",
    "washing_soda",
    "sulfite_anhydrous",
    "wetting_agent",
)
ROUTE_FORMULAS = sorted({s.formula for r in routes().values() for s in r.steps if s.formula})


@pytest.mark.parametrize("key", ROUTE_FORMULAS)
def test_two_shelves_make_the_same_bath(key):
    """Each active concentration agrees within the two stated 90 % errors; metabisulfite is compared as bisulfite brought."""
    formula = formulas()[key]
    a, b = (mix(formula, 500, tuple(PRODUCTS[k] for k in shelf)) for shelf in (SHELF_A, SHELF_B))
    assert len(a.made) == len(formula.components)
    for one, other in zip(a.made, b.made, strict=True):
        allowed = Z90 * math.hypot(one.made_g_per_l.sd, other.made_g_per_l.sd)
        assert abs(one.made_g_per_l.value - other.made_g_per_l.value) <= allowed
        assert abs(one.made_g_per_l.value - one.target_g_per_l) <= Z90 * one.made_g_per_l.sd


def test_the_stated_error_covers_what_would_truly_be_made():
    """Draw the true strengths, readings and final volumes that the sheet says it doubts: 90 % must fall inside."""
    random = np.random.default_rng(20260)
    formula = formulas()["ammonia_bath"]
    product = PRODUCTS["household_ammonia_5"]
    tools = (Tool(key="c", name="cylinder", kind="cylinder", graduation=5, capacity=250),)
    sheet = mix(formula, 300, (product,), tools)
    made = sheet.made[0]
    line = next(x for x in sheet.lines if x.kind == "product")
    strength = concentration_g_per_l("5 % w/w", SUBSTANCES["ammonia"]).value
    n = 4000
    true_strength = strength * (1 + product.contents[0].strength_relative_sd * random.standard_normal(n))
    true_amount = line.amount + random.uniform(-2.5, 2.5, n)
    true_volume = 300 + random.uniform(-2.5, 2.5, n) + random.uniform(-2.5, 2.5, n)
    truth = true_strength * true_amount / true_volume
    inside = np.mean((truth >= made.made_g_per_l.low90) & (truth <= made.made_g_per_l.high90))
    assert 0.87 <= inside <= 0.93


def test_hydrates_bring_the_same_moles():
    for wanted, given_key in (
        ("soda_ash", "washing_soda"),
        ("hypo_anhydrous", "hypo_crystals"),
        ("citric_anhydrous", "citric_monohydrate"),
    ):
        substance = PRODUCTS[wanted].contents[0].substance
        formula = Formula(
            name="one salt", role="clearing", components=(Component(substance=substance, concentration="30 g/L"),)
        )
        moles = []
        for key in (wanted, given_key):
            sheet = mix(formula, 1000, (PRODUCTS[key],))
            content = PRODUCTS[key].contents[0]
            g = sheet.contents_g_per_l[content.substance]
            moles.append(g / molar_mass_g_per_mol(SUBSTANCES[content.substance].molar_mass_key))
        assert moles[0] == pytest.approx(moles[1], rel=0.004)
