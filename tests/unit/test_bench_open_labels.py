"""Labels that leave things open: taken in as they are, and reckoned with as far as they say."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from obverse.cli.main import run as obverse
from obverse.foundation import InputError, UnsafeError, read_document
from obverse.mixing import contents_of, insights, mix
from obverse.process import (
    USUAL_TOOLS,
    Component,
    Content,
    Dilution,
    Formula,
    LabelContent,
    Product,
    ProductLabel,
    amount_in,
    label_of,
    read_label,
    substance_of,
    told_amount,
)
from obverse.process.catalog import products
from obverse.safety.hazards import hazards_of
from obverse.workbench.bench import as_said, make_sheet

GIVEN = json.loads((Path(__file__).parents[1] / "data" / "labels_by_another_hand.json").read_text(encoding="utf-8"))


def label_from(row: dict) -> ProductLabel:
    return ProductLabel(
        name=row["what"],
        form=row["form"],
        contents=tuple(
            LabelContent(substance=c["substance_words"] or "", strength=c["strength_words"] or "")
            for c in row["contents"]
        ),
        use=row["use_words"] or "",
        density=row["density_words"] or "",
        package=row["package_words"] or "",
        statements=" ".join(row["h_statements"]),
        note=row["note"] or "",
    )


def product_of(label: ProductLabel) -> Product:
    read = read_label(label)
    assert not read.problems, [p.error.sentence for p in read.problems]
    return read_document(Product, {**read.document, "key": "own"})


def bottle(name: str = "syrup", form: str = "liquid", key: str = "syrup", **more) -> Product:
    contents = tuple(Content(**c) for c in more.pop("contents", ()))
    return Product(key=key, name=name, form=form, contents=contents, **more)


@pytest.mark.parametrize("row", GIVEN, ids=[row["id"] for row in GIVEN])
def test_every_label_by_another_hand_is_taken_in_and_keeps_its_words(row):
    product = product_of(label_from(row))
    told = label_of(product)
    for said, kept in zip((c for c in row["contents"] if c["substance_words"] != "water"), told.contents, strict=True):
        assert kept.strength == (said["strength_words"] or "not said")
        assert substance_of(kept.substance) == substance_of(said["substance_words"])
    assert (told.density, told.package) == (row["density_words"] or "", row["package_words"] or "")
    assert set(row["h_statements"]) <= {code.code for code in hazards_of(product).codes}
    for brings in contents_of(product):
        bounds = brings.bounds
        assert brings.grams_per_unit >= 0
        assert bounds is None or 0 <= bounds.low <= brings.grams_per_unit <= bounds.high


@pytest.mark.parametrize(
    ("words", "key"),
    [
        ("Iron(III) chloride", "iron_iii_chloride"),
        ("ferric chloride hexahydrate", "iron_iii_chloride_hexahydrate"),
        ("sodium hydrosulphite", "sodium_dithionite"),
        ("E224 potassium metabisulphite", "potassium_metabisulfite"),
        ("Wasserstoffperoxid", "hydrogen_peroxide"),
        ("hydrochloric acid (muriatic acid)", "hydrochloric_acid"),
        ("citric acid monohydrate (E330)", "citric_acid_monohydrate"),
        ("NaOH", "sodium_hydroxide"),
        ("ammonia", "ammonia"),
        ("an amine sulfite", "other"),
        ("1-phenyl-3-pyrazolidinone derivative", "other"),
    ],
)
def test_a_substance_is_known_by_what_labels_call_it_and_never_guessed(words, key):
    assert substance_of(words) == key


@pytest.mark.parametrize(
    ("density", "value"),
    [
        ("1.32 g/ml at 20 °C", 1.32),
        ("D = 1,27", 1.27),
        ("42 °Bé", 145 / 103),
        ("0,96 kg/l", 0.96),
        ("9.2 lb/gal", 1.1024),
        ("1150 kg/m³", 1.15),
        ("S.G. 1.28", 1.28),
        ("sp. gr. (water = 1): 1.2", 1.2),
        ("20 °C: 1 050 kg/m3", 1.05),
        ("1.05 kg/dm3", 1.05),
        ("not said", None),
        ("heavy", None),
    ],
)
def test_densities_as_labels_print_them(density, value):
    read = read_label(ProductLabel(name="x", density=density))
    assert read.document["density_g_per_ml"] == (value if value is None else pytest.approx(value, rel=1e-3))


@pytest.mark.parametrize(
    ("package", "form", "amount"),
    [
        ("1 L bottle", "liquid", 1000),
        ("64 fl oz (1.9 L)", "liquid", 1892.7),
        ("121 oz", "liquid", 3578.4),
        ("bag 500 g", "solid", 500),
        ("2 x 75 g", "solid", 150),
        ("1 lb can", "solid", 453.6),
        ("50 tablets", "solid", None),
        ("10 sachets of 20 g", "solid", 200),
        ("half a litre", "liquid", 500),
        ("1.000 ml", "liquid", 1000),
        ("quart", "liquid", 946.4),
        ("750", "liquid", 750),
    ],
)
def test_packages_as_labels_print_them(package, form, amount):
    read = read_label(ProductLabel(name="x", form=form, package=package))
    assert read.document["package_amount"] == (amount if amount is None else pytest.approx(amount, rel=1e-3))


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"contents": [{"substance": "ammonia", "strength": "105 %"}]}, "strength[0]", "more than can be"),
        ({"contents": [{"substance": "ammonia", "strength": "-5 %"}]}, "strength[0]", "less than nothing"),
        ({"contents": [{"substance": "", "strength": "5 %"}]}, "substance[0]", "of what"),
        ({"contents": [{"substance": "ammonia", "strength": "6O % w/w"}]}, "strength[0]", "is not a strength"),
        ({"name": " "}, "name", "no name"),
        ({"density": "0.01"}, "density", "cannot be"),
        ({"price": "-3"}, "price", "not below nothing"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field(change, field, says):
    read = read_label(read_document(ProductLabel, {"name": "x", **change}))
    assert [p.field for p in read.problems] == [field]
    assert says in read.problems[0].error.what and read.problems[0].error.remedy


def test_what_else_stands_among_the_statements_goes_to_the_note():
    read = read_label(ProductLabel(name="x", statements="Danger H 314, P280; EUH 031, h302+H332", note="old"))
    assert read.document["statements"] == ["H314", "EUH031", "H302", "H332"]
    assert read.document["note"] == "old\nAlso on the label: Danger P280"
    assert read_label(ProductLabel(name="x", statements="none")).document["note"] == ""


def test_words_that_say_no_share_are_kept_and_reckoned_as_not_said():
    read = read_label(ProductLabel(name="x", contents=(LabelContent(substance="ammonia", strength="plenty"),)))
    (content,) = read_document(Product, {**read.document, "key": "x"}).contents
    assert (content.strength, content.said) == ("not said", "plenty")
    assert "reckoned as not said" in read.readings[0]


ACID = bottle("acid", key="acid", contents=({"substance": "hydrochloric_acid", "strength": "30 % w/w"},))
SYRUP = bottle(
    contents=(
        {"substance": "hydroquinone", "strength": "5-10 %"},
        {"substance": "other", "name": "an amine sulfite", "strength": "not said"},
    ),
    roles=("paper_developer",),
    dilution="1+14 or 1+29",
    statements=("H317", "H341"),
)
FORMULA = Formula(
    name="first developer",
    role="first_developer",
    dilutions=(Dilution(product_role="paper_developer", dilution="1+14"),),
    components=(Component(substance="ammonium_thiosulfate", concentration="1.5 g/L"),),
)


def test_a_developer_of_unknown_composition_is_mixed_and_what_is_unknown_is_said():
    sheet = make_sheet(FORMULA, 600, (SYRUP, products()["fixer_ats_60wv"]), USUAL_TOOLS)
    assert sheet.amounts["syrup"] == pytest.approx(40)
    bounds = sheet.bounds_g_per_l["hydroquinone"]
    assert bounds.low == pytest.approx(50 / 15, rel=0.05) and bounds.high == pytest.approx(107 / 15, rel=0.1)
    assert sheet.ph is None and "syrup" in sheet.ph_note
    assert any("an amine sulfite" in c.text for c in sheet.all_cautions)
    assert json.loads(json.dumps(sheet.document()))["undeclared"] == ["syrup"]


def one(substance: str, amount: str, role: str = "bleach") -> Formula:
    return Formula(name="a bath", role=role, components=(Component(substance=substance, concentration=amount),))


@pytest.mark.parametrize("strength", ["under 5 %", "5-10 %", "about 5 %", "not said", "7,5", "30 % or more"])
def test_what_comes_of_an_open_strength_holds_its_bounds_and_is_never_below_nothing(strength):
    ammonia = bottle("household ammonia", contents=({"substance": "ammonia", "strength": strength},))
    sheet = mix(one("ammonia", "5 g/L", "halide_solvent"), 500, (ammonia,))
    made = sheet.made[0].made_g_per_l
    bounds = sheet.bounds_g_per_l["ammonia"]
    assert 0 <= made.low90 <= bounds.low + 1e-9 and made.high90 >= bounds.high - 1e-9
    assert made.low90 <= made.value <= made.high90


def test_the_acidity_is_as_wide_as_the_labels_leave_it_or_none():
    narrow = bottle("soda", "solid", contents=({"substance": "sodium_carbonate", "strength": "95-100 %"},))
    sheet = mix(one("sodium_carbonate", "20 g/L", "first_developer"), 500, (narrow,))
    exact = mix(one("sodium_carbonate", "20 g/L", "first_developer"), 500, (products()["soda_ash"],))
    assert sheet.ph is not None and exact.ph is not None
    assert sheet.ph.high90 - sheet.ph.low90 >= exact.ph.high90 - exact.ph.low90
    acid_or_not = bottle("cleaner", contents=({"substance": "sulfuric_acid", "strength": "not said"},))
    vague = mix(one("sulfuric_acid", "5 g/L"), 500, (acid_or_not,))
    assert vague.ph is None and "measure it" in vague.ph_note


def test_capacity_is_told_from_the_weakest_the_label_may_mean():
    etchant = bottle("etchant", contents=({"substance": "iron_iii_chloride", "strength": "20-40 % w/w"},))
    formula = one("iron_iii_chloride", "100 g/L")
    vague = insights(mix(formula, 1000, (etchant,)))[0]
    sure = insights(mix(formula, 1000, (products()["etchant_42be"],)))[0]
    assert vague.rolls is not None and vague.rolls.low < 0.75 * vague.rolls.likely
    assert "weakest" in vague.text
    assert sure.rolls is not None and vague.rolls.low < sure.rolls.low


def test_hazards_are_those_of_the_strongest_the_label_may_mean():
    def codes(strength: str) -> set[str]:
        return {c.code for c in hazards_of(bottle(contents=({"substance": "ammonia", "strength": strength},))).codes}

    assert "H318" not in codes("2.5 % w/w")
    assert "H318" in codes("1-4 % w/w") and codes("1-4 % w/w") == codes("4 % w/w")
    assert "H314" in codes("under 5 %") and "H314" in codes("not said")


def test_what_its_label_does_not_name_is_told_and_its_statements_count():
    nothing = bottle("mystery powder", "solid", statements=("H251", "EUH031", "H302"), roles=("fogging",))
    sheet = hazards_of(nothing)
    assert {"H251", "EUH031", "H302"} == {c.code for c in sheet.codes}
    assert sheet.unknown and all(c.standing == "its own label" for c in sheet.codes)
    formula = Formula(name="fog", role="fogging", dilutions=(Dilution(product_role="fogging", dilution="30 g/L"),))
    made = mix(formula, 500, (nothing,))
    assert made.amounts == {"syrup": 15.0} and made.ph is None


def test_a_label_that_warns_of_acid_is_heard_whatever_it_holds():
    remover = bottle("stain remover", "solid", "remover", statements=("EUH031",), roles=("clearing",))
    formula = Formula(
        name="a clearing bath",
        role="clearing",
        dilutions=(Dilution(product_role="clearing", dilution="30 g/L"),),
        components=(Component(substance="citric_acid", concentration="10 g/L"),),
    )
    sheet = make_sheet(formula, 500, (remover, products()["citric_anhydrous"]), USUAL_TOOLS)
    assert [c.level.value for c in sheet.cautions if c.code == "label.gas"] == ["danger"]


def test_an_open_strength_of_laundry_bleach_with_acid_is_refused_all_the_same():
    bleach = bottle("bleach", key="bleach", contents=({"substance": "sodium_hypochlorite", "strength": "under 5 %"},))
    formula = Formula(
        name="no bath",
        role="bleach",
        components=(
            Component(substance="sodium_hypochlorite", concentration="10 g/L"),
            Component(substance="hydrochloric_acid", concentration="20 g/L"),
        ),
    )
    with pytest.raises(UnsafeError):
        make_sheet(formula, 500, (bleach, ACID), USUAL_TOOLS)


def test_a_formula_says_what_it_wants():
    for text in ("5 %", "not said", "pure"):
        with pytest.raises(InputError, match=r"per weight or per volume|no concentration"):
            read_document(Component, {"substance": "ammonia", "concentration": text})


def test_amounts_come_back_in_the_unit_they_were_said_in():
    assert amount_in("16 US fl oz", "liquid", where="left") == (pytest.approx(473.18, abs=0.01), "us_fl_oz")
    assert amount_in("16 oz", "liquid", where="left")[1] == "us_fl_oz"
    assert amount_in("1 lb", "solid", where="left") == (pytest.approx(453.59, abs=0.01), "lb")
    assert amount_in("a tablespoon", "solid", where="left")[0] == pytest.approx(15)
    assert told_amount(473.176, "us_fl_oz") == "16 US fl oz (473 mL)"
    assert told_amount(473.176) == "473 mL"
    with pytest.raises(InputError, match="no volume"):
        amount_in("5 g", "liquid", where="left")


HTML = {"accept": "text/html"}


def test_a_label_that_cannot_be_comes_back_with_everything_typed_and_why(client):
    form = {
        "name": "Vague fixer",
        "form": "liquid",
        "substance": ["ammonium thiosulfate", "a secret"],
        "strength": ["160 %", "some"],
        "doubt": ["", ""],
        "package_amount": "16 fl oz",
        "note": "from the attic",
    }
    answer = client.post("/shelf/products", data=form, headers=HTML)
    assert answer.status_code == 422
    for kept in ("Vague fixer", "160 %", "a secret", "16 fl oz", "from the attic", "more than can be"):
        assert kept in answer.text
    assert re.search(r'id="p-strength-0"[^>]*aria-invalid="true"', answer.text)
    form["strength"] = ["60 %", "some"]
    assert client.post("/shelf/products", data=form, headers=HTML, follow_redirects=False).status_code == 303
    shelf = client.get("/shelf", headers=HTML).text
    assert "a secret some" in shelf or "a secret not said" in shelf
    assert "16 fl oz" in shelf


def test_words_of_a_label_that_were_not_read_are_asked_about_at_their_field_and_kept_in_the_note(client, workbench):
    form = {
        "name": "Attic brew",
        "form": "liquid",
        "density_g_per_ml": "heavy",
        "dilution": "one to lots",
        "package_amount": "a big jug",
        "note": "from the attic",
    }
    asked = client.post("/shelf/products", data=form, headers=HTML)
    assert asked.status_code == 422 and workbench.shelf.products() == []
    told = dict(re.findall(r'<p class="beside" id="why-(\w+)">([^<]+)', asked.text))
    assert told.keys() == {"density", "package", "dilution"}
    assert (
        told["dilution"]
        == "no dilution was read in &#39;one to lots&#39;; write it like 1+14 or 20 mL/L, or keep it in the note."
    )
    assert 'name="as_note"' in asked.text and 'value="one to lots"' in asked.text
    client.post("/shelf/products", data={**form, "as_note": "yes"}, headers=HTML)
    (kept,) = workbench.shelf.products()
    noted = ("from the attic", "On the label, density: heavy", "On the label, package: a big jug")
    assert kept.thing.note.split("\n") == [*noted, "On the label, dilution: one to lots"]
    assert (kept.thing.density_said, kept.thing.package_said, kept.thing.dilution) == ("", "", "")
    again = client.get(f"/shelf/products/{kept.id}", headers=HTML)
    assert again.status_code == 200 and "why-" not in again.text
    # What says how in figures, in words or as nothing to do is nobody's question.
    for says_how in ("1+14 or 1+29", "one part to nine parts water", "ready to use"):
        assert client.post("/api/shelf/labels", json={"name": "x", "use": says_how}).json()["readings"] == []


def test_bottles_and_tools_are_said_in_any_unit_and_refusals_keep_what_was_typed(client):
    assert client.post("/api/shelf/labels", json={"name": "syrup", "package": "32 fl oz"}).status_code == 200
    bottle = {"name": "attic", "product": "syrup", "amount": "a lot", "stood_on": "/shelf"}
    wrong = client.post("/shelf/bottles", data=bottle, headers=HTML)
    assert wrong.status_code == 422 and 'value="attic"' in wrong.text and 'value="a lot"' in wrong.text
    assert "is no part of an amount" in wrong.text
    client.post("/shelf/bottles", data={"name": "attic", "product": "syrup", "amount": "16 US fl oz"}, headers=HTML)
    tool = {"name": "cup", "kind": "jug", "graduation": "1/4 US fl oz", "capacity": "8 US fl oz", "stood_on": "/shelf"}
    assert client.post("/shelf/tools", data=tool, headers=HTML).status_code == 200
    shelf = client.get("/shelf", headers=HTML).text
    assert "16 US fl oz (473 mL)" in shelf and "0.25 US fl oz (7.39 mL) to 8 US fl oz (237 mL)" in shelf
    refused = client.post("/shelf/tools", data={**tool, "graduation": "9 US fl oz"}, headers=HTML)
    assert refused.status_code == 422 and 'value="9 US fl oz"' in refused.text and "graduation above" in refused.text


def test_a_formula_that_cannot_be_comes_back_with_everything_typed_and_why(client):
    """Every wrong row at once, though an empty row stands before it; nobody is shown a pattern."""
    form = {
        "name": "my developer",
        "role": "first_developer",
        "substance": ["sodium_carbonate", "", "ammonia", "", "sulfuric_acid"],
        "concentration": ["20 g/L", "", "5 %", "3 g/L", "10 mL/L"],
        "product_role": ["first_developer", ""],
        "dilution": ["", "1+9"],
        "note": "kept words",
        "key": "",
        "stood_on": "/bench/formula",
    }
    answer = client.post("/bench/formula", data=form, headers=HTML)
    assert answer.status_code == 422
    for kept in ('value="my developer"', 'value="20 g/L"', 'value="5 %"', 'value="1+9"', "kept words"):
        assert kept in answer.text
    told = dict(
        re.findall(
            r'data-why="([^"]+)"><span class="beside" id="why-not-here[-0-9]*" role="alert">([^<]+)', answer.text
        )
    )
    assert told.keys() == {"components[2]", "components[3]", "components[4]", "dilutions[0]", "dilutions[1]"}
    assert told["components[2]"].startswith("&#39;5 %&#39; does not say") and "how strong" in told["components[4]"]
    assert told["components[3]"] == told["dilutions[1]"] == "it is empty; fill it in and try again."
    assert "such as 1+9" in told["dilutions[0]"] and "pattern" not in answer.text
    for wrong in ("f-c2", "f-s3", "f-c4", "f-d0", "f-r1"):
        assert re.search(rf'id="{wrong}"[^>]*aria-invalid="true"', answer.text), wrong
    form |= {"substance": ["sodium_carbonate", "ammonia"], "concentration": ["20 g/L", "5 %"]}
    form |= {"product_role": ["first_developer"], "dilution": ["1+14"]}
    form["concentration"][1] = "5 % w/v"
    assert client.post("/bench/formula", data=form, headers=HTML, follow_redirects=False).status_code == 303


def test_another_bench_may_speak_its_own_units_and_what_cannot_be_is_told_beside_its_bottle(client):
    form = {
        "role": "fixer",
        "volume_ml": "1 US quart",
        "my_volume_ml": "",
        "product": ["fixer_ats_60wv", ""],
        "strength": ["55-60 %", ""],
        "amount": ["many", ""],
        "stood_on": "/bench/adapt",
    }
    answer = client.post("/bench/adapt", data=form, headers=HTML)
    assert answer.status_code == 422 and 'value="1 US quart"' in answer.text and 'value="many"' in answer.text
    assert re.search(r'id="a-a0"[^>]*aria-invalid="true"', answer.text)
    form["amount"] = ["4 US fl oz", ""]
    answer = client.post("/bench/adapt", data=form, headers=HTML)
    assert answer.status_code == 200 and 'value="4 US fl oz"' in answer.text and "What cannot be matched" in answer.text


def test_a_volume_in_its_own_unit_comes_back_on_page_and_paper(client):
    query = {"formula": "fixer_rapid", "volume_ml": "20 US fl oz"}
    text = client.get("/bench/sheet", params=query, headers=HTML).text
    assert "to 20 US fl oz (591 mL)" in text and 'value="20 US fl oz"' in text
    assert client.get("/bench/sheet.pdf", params=query).content.startswith(b"%PDF")
    route = client.get("/bench", params={"route": "permanganate_light", "volume_ml": "20 US fl oz"}, headers=HTML).text
    assert "20 US fl oz (591 mL)" in route and "volume_ml=20%20US%20fl%20oz" in route
    wrong = client.get("/bench/sheet", params={**query, "volume_ml": "a bucket"}, headers=HTML)
    assert wrong.status_code == 422 and "is no part of an amount" in wrong.text


def test_the_sheet_says_what_the_labels_leave_open(client):
    document = {"name": "ammonia", "contents": [{"substance": "ammonia", "strength": "5-10 %"}]}
    client.post("/api/shelf/labels", json=document)
    text = client.get("/bench/sheet", params={"formula": "ammonia_bath", "volume_ml": "500"}, headers=HTML).text
    assert "Left open by the labels" in text and "The label leaves open how much ammonia it holds (5 to 10 %)" in text


@pytest.mark.parametrize(
    ("text", "does", "amounts"),
    [
        (
            "40 mL paper developer + 1.5 mL rapid fixer + 5 mL household ammonia, water to 600 mL",
            "develop",
            {"paper_developer_concentrate": 40, "fixer_ats_60wv": 1.5, "household_ammonia_5": 5},
        ),
        ("a level tablespoon of colour run remover in 350 mL", "fog", {"colour_run_remover": 15}),
        ("two level teaspoons of sodium metabisulfite in 500 mL", "clear", {"metabisulfite_sodium": 10}),
    ],
)
def test_a_bath_as_it_is_said_is_mixed_from_the_bottles_that_were_named(text, does, amounts):
    shelf = tuple(products().values())
    said = as_said(text, shelf, does=does)
    sheet = make_sheet(said.formula, said.volume_ml, shelf, USUAL_TOOLS, choices=said.choices)
    assert sheet.amounts == pytest.approx(amounts, rel=0.02)
    spoken = [line.reading for line in sheet.lines if line.reading.startswith("said as")]
    assert "in 350 mL" not in text or spoken == ["said as a level tablespoon"]


def test_what_is_named_by_nobody_is_asked_for_and_the_sentence_stays(client):
    form = {"said": "three parts unobtainium and one part water", "does": "bleach", "stood_on": "/bench/formula"}
    answer = client.post("/bench/said", data=form, headers=HTML)
    assert answer.status_code == 422 and 'value="three parts unobtainium and one part water"' in answer.text
    assert "nothing is known here of &#39;unobtainium&#39;" in answer.text
    form["said"] = "three parts household ammonia and one part water"
    sheet = client.post("/bench/said", data=form, headers=HTML)
    assert sheet.status_code == 200 and "As said: three parts household ammonia" in sheet.text
    assert "375 mL" in sheet.text


@pytest.fixture
def say(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))

    def run(*arguments):
        code = obverse([str(a) for a in arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return run


def test_the_command_mixes_a_bath_as_it_is_said(say):
    code, out, err = say("mix", "25 g citric acid in 1 L", "--does", "clear", "--json")
    assert (code, err) == (0, "") and json.loads(out)["volume_ml"] == 1000
    code, _, err = say("mix", "three parts household ammonia and one part water")
    assert code == 2 and "no volume was said" in err
    code, _, err = say("mix", "1+14 unobtainium", "--volume-ml", 500)
    assert code == 2 and "nothing is known here of 'unobtainium'" in err


def test_a_developer_of_another_kind_stands_in_and_that_is_said():
    syrup = SYRUP.model_copy(update={"roles": ("film_developer",)})
    sheet = mix(FORMULA, 600, (syrup, products()["fixer_ats_60wv"]))
    assert sheet.amounts["syrup"] == pytest.approx(40)
    assert any("here stands for a paper developer" in c.text for c in sheet.all_cautions)
    agent = SYRUP.model_copy(update={"roles": ("wetting_agent",)})
    with pytest.raises(InputError, match="no paper developer stands on the shelf"):
        mix(FORMULA, 600, (agent, products()["fixer_ats_60wv"]))


def test_a_document_may_name_its_substances_in_words(client):
    contents = [{"substance": "Iron(III) chloride", "strength": "40 %"}, {"substance": "a secret", "strength": "< 5%"}]
    key = client.post("/api/shelf/products", json={"name": "etchant", "form": "liquid", "contents": contents}).json()[
        "key"
    ]
    (kept,) = [p for p in client.get("/api/shelf").json()["products"] if p["id"] == key]
    assert [(c["substance"], c["name"]) for c in kept["contents"]] == [
        ("iron_iii_chloride", "Iron(III) chloride"),
        ("other", "a secret"),
    ]


PYDANTIC = re.compile(
    r"Input should|should have|Field required|Extra inputs|valid (?:number|string|list|dict)|Tuple|validation error"
)


@pytest.mark.parametrize(
    "body",
    [
        {"name": "x"},
        {"name": "x", "form": "gas"},
        {"name": "x", "form": "liquid", "contents": "ammonia"},
        {"name": "x", "form": "liquid", "contents": [{"strength": "5 %"}]},
        {"name": "x" * 500, "form": "liquid"},
        {"name": "", "form": "liquid"},
        {"name": "x", "form": "liquid", "density_g_per_ml": "heavy"},
        {"name": "x", "form": "liquid", "density_g_per_ml": -1},
        {"name": "x", "form": "liquid", "colour": "blue"},
        {"name": "x", "form": "liquid", "key": "Not A Key"},
        {"name": "x", "form": "liquid", "household": "perhaps"},
    ],
)
def test_no_refusal_speaks_the_words_of_a_library(client, body):
    answer = client.post("/api/shelf/products", json=body)
    assert answer.status_code == 422
    assert not PYDANTIC.search(answer.text)


def test_a_volume_of_a_thousand_is_no_thousandth_and_nothing_is_none(client):
    assert [amount_in(words, "liquid", where="tank")[0] for words in ("1.000", "1,000 mL", "1.5", "0,5 l")] == [
        1000,
        1000,
        1.5,
        500,
    ]
    assert amount_in("1.000 g", "solid", where="left")[0] == 1
    tank = client.get("/bench", params={"route": "iron_ammonia_light", "volume_ml": "0"}, headers=HTML)
    assert tank.status_code == 422 and "0 is no volume" in tank.text and 'value="0"' in tank.text
    # Beside its field a complaint has no name of a document and no figure of a machine.
    empty = dict.fromkeys(("films", "films_120", "sheets", "note"), "")
    tool = {"name": "cup", "kind": "tank", "volume_ml": "0", "stood_on": "/shelf", **empty}
    refused = client.post("/shelf/tools", data=tool, headers=HTML).text
    assert ">it must be more than 0 (found 0); correct it and try again.<" in refused


def test_what_is_far_too_much_or_too_long_is_told_beside_its_field(client):
    """A billion minutes in the developer held a thread for ever; the others were called a mistake of ours."""
    strong = client.get("/bench/sheet?formula=first_developer&volume_ml=500&solvent_ml_per_l=1e9", headers=HTML)
    assert strong.status_code == 422 and "more than can be" in strong.text and 'name="volume_ml"' in strong.text
    thin = client.get("/bench?route=iron_ammonia_light&volume_ml=500&developer_parts_water=1e9", headers=HTML)
    assert thin.status_code == 200 and "at most 1000" in thin.text
    for minutes, why in (("-5", "cannot be negative (-5)"), ("1e9", "is more than can be (1e+09; at most 2880)")):
        plan = {"route": "iron_ammonia_light", "tank_ml": "500", "first_developer_time_min": minutes}
        refused = client.get("/sink/plan", params=plan, headers=HTML)
        assert refused.status_code == 422 and why in refused.text
    long = client.get("/shelf/care", params={"a": "x" * 300, "b": "vinegar"}, headers=HTML)
    assert long.status_code == 200 and "Nothing is known here of" in long.text and 'value="vinegar"' in long.text
    bath = {
        "formula": "first_developer",
        "volume_ml": "500",
        "films": "1e9",
        "film": "135-36",
        "stood_on": "/shelf/care",
    }
    seen = client.post("/shelf/care/baths/standing", data=bath, headers=HTML)
    assert seen.status_code == 422 and "it cannot have seen 1e+09 films" in seen.text
    word = client.get("/bench?route=iron_ammonia_light&volume_ml=500&alkali_ml_per_l=5 ml", headers=HTML)
    assert ">it must be a number; correct it and try again.<" in word.text
