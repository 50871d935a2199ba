"""Baths said by their strength, by another bath, in parts named apart, and by the weight of a liquid.

The figures beside the phrases are reckoned by hand from molar masses (from memory): KMnO4 158.03, H2SO4 98.08, K2Cr2O7 294.18,
KBr 119.00, NaOH 40.00 g/mol; a normal permanganate takes five electrons a mole, a normal sulfuric acid gives two protons.
"""

from __future__ import annotations

import pytest

from obverse.mixing import SaidBath, read_said
from obverse.process import Process, Step
from obverse.process.catalog import products
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.processes import said_mix

FIRST = "40 mL developer syrup + 3 mL rapid fixer concentrate + 2 g/L potassium thiocyanate, water to 600 mL"
OTHERS = {
    "before": FIRST,
    "first developer": FIRST,
    "i": FIRST,
    "1": FIRST,
    "bleach a": "20 g/L citric acid + 50 mL/L vinegar",
}


def bath(text: str, kind: str = "bleach") -> SaidBath:
    mix, lost = said_mix(text, OTHERS)
    return read_said(mix, tuple(products().values()), key="own", name="Own", kind=kind, keep=False, lost=lost)


def grams(text: str, kind: str = "bleach") -> dict[str, float]:
    found = bath(text, kind)
    assert found.formula is not None and not found.unread, (text, found.unread)
    return {c.substance: c.parsed.value for c in found.formula.components}


@pytest.mark.parametrize(
    ("text", "held"),
    [
        ("0.02 M potassium permanganate", {"potassium_permanganate": 3.16}),
        ("M/50 permanganate + 0.2 N sulfuric acid", {"potassium_permanganate": 3.16, "sulfuric_acid": 9.81}),
        ("0.1 N potassium permanganate", {"potassium_permanganate": 3.16}),
        ("potassium dichromate 30 mmol/L, sulfuric acid 0.2 mol/L", {"potassium_dichromate": 8.83, "sulfuric_acid": 19.6}),
        ("0.1 N sodium hydroxide in 500 mL", {"sodium_hydroxide": 4.0}),
        ("0.25 molar KBr and 10 mL acetic acid 80 % per litre", {"potassium_bromide": 29.75, "acetic_acid": 8.3}),
        ("2 % potassium permanganate", {"potassium_permanganate": 20.0}),
        ("3 % peroxide + 5 % citric acid", {"hydrogen_peroxide": 30.0, "citric_acid_monohydrate": 50.0}),
        ("200 g battery acid in 1 L", {"sulfuric_acid": 74.0}),
    ],
)  # fmt: skip
def test_a_strength_in_place_of_an_amount_is_that_of_the_bath(text, held):
    assert grams(text) == pytest.approx(held, rel=0.04)


def test_how_a_strength_was_read_is_told_and_an_equivalent_nobody_knows_is_not_guessed():
    assert "3.161 g/L pure potassium permanganate" in bath("0.02 M potassium permanganate").supposed
    assert bath("0.1 N sodium carbonate").formula is None
    told = bath("etchant 1+1 with a capful of vinegar and a pinch of salt")
    assert not told.unread and len(told.vague) == 2 and told.vague[0].startswith("a capful of vinegar as 8 mL (2.4 to ")


def test_a_salt_in_solution_by_volume_brings_its_share_and_is_no_developer():
    assert grams("10 mL hydroquinone 5 % solution in 300 mL", "develop") == pytest.approx(
        {"hydroquinone": 1.67}, rel=0.01
    )
    saturated = bath("saturated borax solution", "develop")
    assert saturated.supposed == "saturated borax is read as about 48 g/L, as water holds of it at 20 C"
    assert grams("saturated borax solution", "develop") == {"borax": 48.0}
    assert bath("saturated magic solution", "clear").unread


@pytest.mark.parametrize(
    ("text", "like"),
    [
        ("5+1+94 etchant, ammonia, water", "5 parts etchant + 1 part ammonia + 94 parts water"),
        ("etchant, ammonia, water 5:1:94", "5 parts etchant + 1 part ammonia + 94 parts water"),
        ("1+4 ammonia, water", "1 part ammonia + 4 parts water"),
        ("etchant 60 %, water 40 %", "60 parts etchant + 40 parts water"),
        ("etchant half and half with water", "1 part etchant + 1 part water"),
        ("etchant 1+7, 500 mL", "1 part etchant + 7 parts water"),
        ("half a litre of etchant 1+7", "1 part etchant + 7 parts water"),
        ("dissolve 20 g metabisulfite in 400 mL of water", "20 g metabisulfite in 400 mL of water"),
        ("500 mL water at 50 C, 2 g KMnO4, then 5 mL sulfuric acid", "500 mL water + 2 g KMnO4 + 5 mL sulfuric acid"),
        ("40 mL etchant / 20 mL ammonia / 540 mL water", "40 mL etchant + 20 mL ammonia + 540 mL water"),
        ("etchant (42 Be) : water = 1 : 2", "1 part etchant (42 Be) + 2 parts water"),
        ("20 % sodium sulfite, 300 mL", "200 g/L sodium sulfite, water to 300 mL"),
        ("28.35 g hypo in 118.294 mL", "28.35 g hypo, 118.294 g water"),
        ("15 g per roll of metabisulfite in 300 mL", "15 g metabisulfite in 300 mL"),
        ("a good pinch of bisulfite, water q.s. 500 mL", "a pinch of bisulfite, water to 500 mL"),
        ("ferricyanide 5 g/L, sulfuric acid 96 % 60 mL/L", "5 g/L ferricyanide, 60 mL/L 96 % sulfuric acid"),
        ("sulfuric acid 96 %, 60 mL per litre; bichromate 5 g/L", "60 mL/L 96 % sulfuric acid + 5 g/L bichromate"),
        ("sulfuric acid (96 %): 6 mL per 100 mL", "6 mL per 100 mL 96 % sulfuric acid"),
        ("lye 10N 20 mL in 500 mL", "20 mL 10N lye in 500 mL"),
        ("KMnO4 2 g/L, red prussiate 5 g/L, iodide 1 g/L", "2 g/L potassium permanganate, 5 g/L potassium ferricyanide, 1 g/L potassium iodide"),
        ("vinegar 5 % 50 mL, 9 % peroxide 200 mL, rest water to 500", "50 mL vinegar 5 % + 200 mL 9 % peroxide, water to 500"),
        # Kitchens, old formularies, German and French notebooks.
        ("2 tablets of 1000 mg vitamin C in 500 mL", "2 g vitamin C in 500 mL"),
        ("four metabisulfite tablets (0.44 g each) per quart", "1.76 g metabisulfite, water to 1 quart"),
        ("half a 50 g sachet of citric acid to the litre", "25 g citric acid, water to 1 L"),
        ("2 sachets rust remover powder (2 x 15 g), water to 600", "30 g rust remover powder, water to 600 mL"),
        ("50 mL saturated borax + 450 mL water", "50 mL borax 4.8 % + 450 mL water"),
        ("15 g per 250 metabisulfite", "60 g/L metabisulfite"),
        ("a splash of vinegar in the tank", "a splash of vinegar, water to the mark"),
        ("1.000,5 mL Wasser, 20 g Zitronens\u00e4ure", "1000.5 mL water + 20 g citric acid anhydrous"),
        ("3 TL Waschsoda + 1,5 TL Vitamin C in 500 ml", "3 tsp washing soda + 1.5 tsp vitamin C in 500 mL"),
        ("1 cuill\u00e8re \u00e0 soupe d'acide citrique dans 1 litre d'eau", "1 tbsp acide citrique in 1 L of water"),
        ("Metabisulfite ........ 30 g  Water ........ 1000 cc", "30 g metabisulfite + 1000 mL water"),
        ("6 to 8 tablespoons citric acid per 5 litres", "7 tbsp citric acid per 5 L"),
        ("200 grains (or 13 g) sodium sulfite in 20 oz. of water", "200 grains sodium sulfite in 20 fl oz of water"),
        ("1 fl. dram acetic acid 80 % (4 c.c.), water to 10 ounces", "4 mL acetic acid 80 %, water to 10 fl oz"),
        ("peroxide 3% and vinegar 5%, fifty-fifty", "equal parts peroxide 3 % and vinegar 5 %"),
        ("borax, 1 level tsp; washing soda, 2 level tsp; water to 500 mL", "1 level tsp borax + 2 level tsp washing soda, water to 500 mL"),
        ("0\u00b75 g potassium bromide to 500 c.c.", "0.5 g potassium bromide, water to 500 mL"),
        ("10% solution of potassium bromide, 6 mL in 600", "6 mL potassium bromide 10 %, water to 600 mL"),
        ("household ammonia four to one", "household ammonia 4+1"),
    ],
)  # fmt: skip
def test_other_words_for_one_mix_make_one_bath(text, like):
    assert grams(text) == pytest.approx(grams(like), rel=1e-3)


def test_one_thing_that_cannot_be_read_loses_nothing_beside_it():
    found = bath("40 mL developer, 1 sachet of magic powder, 1 L fish, water to 600 mL", "develop")
    assert found.formula is not None and [d.dilution for d in found.formula.dilutions] == ["1+14"]
    assert "1 sachet of magic powder" in found.unread
    assert bath("one sachet of fixer powder for 1 L", "fix").unread == ("one sachet of fixer powder for 1 L",)


def test_two_stocks_of_a_developer_are_one_dilution_and_a_liquid_poured_into_another_is_no_water():
    formula = bath("stock A + stock B + water 1:1:8", "develop").formula
    assert formula is not None and [d.dilution for d in formula.dilutions] == ["1+4"]
    both = bath("5 mL fixer in 300 mL developer", "develop")
    assert (
        both.formula is not None
        and both.volume_ml == 305
        and {c.substance for c in both.formula.components} > {"sodium_sulfite"}
    )


@pytest.mark.parametrize(
    ("text", "holds", "lacks"),
    [
        ("same as I without thiocyanate", {"ammonium_thiosulfate"}, {"potassium_thiocyanate"}),
        ("as first developer, without fixer and without thiocyanate", set(), {"ammonium_thiosulfate", "potassium_thiocyanate"}),
        ("first developer again with 1 g benzotriazole more", {"benzotriazole", "potassium_thiocyanate"}, set()),
        ("ditto, but 9 mL fixer", {"ammonium_thiosulfate", "potassium_thiocyanate"}, set()),
        ("the same without the thiocyanate", {"ammonium_thiosulfate"}, {"potassium_thiocyanate"}),
        ("same as bleach A", {"citric_acid_monohydrate", "acetic_acid"}, set()),
    ],
)  # fmt: skip
def test_a_bath_may_be_another_one_with_a_change(text, holds, lacks):
    formula = bath(text, "develop").formula
    assert formula is not None
    inside = {c.substance for c in formula.components}
    assert inside >= holds and not inside & lacks
    assert bath("same as the third bath without fixer", "develop").formula is None
    thrice, once = (bath(said, "develop").formula for said in ("ditto, but 9 mL fixer", "same as I"))
    assert thrice is not None and once is not None
    strengths = [next(c.parsed.value for c in f.components if "thiosulfate" in c.substance) for f in (thrice, once)]
    assert strengths[0] == pytest.approx(3 * strengths[1], rel=0.01)


def test_steps_name_each_other_by_name_and_number(tmp_path):
    step = Step(key="d2", name="Second developer", kind="redevelop", mix="the same without fixer", time_min=4)
    first = Step(key="d1", name="Soup", kind="develop", mix=FIRST, time_min=9)
    bench = open_workbench(tmp_path, url="sqlite://")
    kept = bench.processes.with_baths(Process(key="p", name="P", tank_ml=600, steps=(first, step)))
    bench.close()
    inside = {c.substance for f in kept.formulas if f.key == kept.step("d2").formula for c in f.components}
    assert inside == {"potassium_thiocyanate"}
