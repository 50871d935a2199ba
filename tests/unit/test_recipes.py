"""Recipes that travel: whole, compared, adapted to other bottles, and as a line of text."""

import json

import pytest

from obverse.cli.main import run
from obverse.clock import FixedClock
from obverse.foundation import InputError, NotFoundError, UnsafeError
from obverse.process import AIMS, USUAL_TOOLS, Component, FilmStock, Patch, Product, Recipe
from obverse.process.catalog import formulas, products, routes
from obverse.process.code import CODE_HEAD, from_base45, read_code, recipe_code, to_base45
from obverse.store import open_store
from obverse.workbench.bootstrap import Workbench
from obverse.workbench.recipes import (
    differences,
    from_my_bottles,
    read_recipe,
    read_recipe_text,
    recipe_text,
    settled,
    with_products,
)

pytestmark = pytest.mark.usefixtures("few_draws")


def recipe_of(route_key="iron_ammonia_light", **changes):
    route = routes()[route_key]
    needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
    fields = {
        "name": "Grey base, projection",
        "film": FilmStock(name="a 100-speed grey-base film", box_speed=100, base_density=0.25),
        "exposure_index": 80,
        "controls": {"first_developer_time_min": 11, "solvent_ml_per_l": 12, "alkali_ml_per_l": 4},
        "route": route,
        "formulas": tuple(formulas()[key] for key in needed),
        "aim": AIMS["projection"],
        "curve": tuple(Patch(log_exposure=-1.5 + 0.15 * i, density=2.4 - 0.1 * i, density_sd=0.02) for i in range(21)),
    }
    return Recipe(**(fields | changes))


@pytest.fixture(params=["memory", "postgresql"])
def recipes(request, tmp_path):
    from datetime import UTC, datetime

    clock = FixedClock(datetime(2031, 11, 5, 19, tzinfo=UTC))
    server = request.param == "postgresql"
    url = request.getfixturevalue("postgresql").notebook() if server else "sqlite://"
    store = open_store(url, now=clock.now)
    yield Workbench(store, clock, tmp_path).recipes
    store.close()


def test_a_settled_recipe_tells_time_and_grams_without_knowing_the_controls():
    plain = settled(recipe_of())
    first = plain.formula("first_developer")
    # 12 mL of a 60 % w/v concentrate per litre are 7.2 g/L: definition of % w/v.
    assert "7.200000 g/L" == next(c.concentration for c in first.components if c.substance == "ammonium_thiosulfate")
    assert 11 == next(step.time_min for step in plain.route.steps if step.kind == "develop")
    assert plain == settled(plain)


def test_a_recipe_must_hold_every_formula_its_route_uses():
    document = recipe_of().model_dump(mode="json")
    document["formulas"] = document["formulas"][1:]
    with pytest.raises(InputError, match="first_developer"):
        read_recipe(document)


def test_text_of_a_recipe_reads_back_as_the_same_recipe():
    recipe = with_products(recipe_of(), tuple(products().values()), USUAL_TOOLS)
    assert recipe == read_recipe_text(recipe_text(recipe))
    assert recipe.products, "the maker's bottles travel along"


@pytest.mark.parametrize("route_key", list(routes()))
def test_every_generic_route_fits_a_code_and_asks_for_the_same_work_after_it(route_key):
    recipe = settled(recipe_of(route_key))
    text, whole = recipe_code(recipe)
    assert text.startswith(CODE_HEAD)
    again = read_recipe(read_code(text))
    assert () == differences(recipe, again)
    assert not whole or recipe == again


def test_a_small_recipe_travels_whole_in_its_code():
    route = routes()["iron_ammonia_light"]
    short = route.model_copy(update={"steps": route.steps[:3]})
    recipe = recipe_of(
        route=short,
        curve=(),
        formulas=tuple(formulas()[k] for k in dict.fromkeys(s.formula for s in short.steps if s.formula)),
    )
    text, whole = recipe_code(recipe)
    assert whole
    assert recipe == read_recipe(read_code(text))


def test_what_does_not_fit_gives_no_code_rather_than_half_of_one():
    assert ("", False) == recipe_code(recipe_of(), most_characters=500)


# Examples printed in RFC 9285, section 4.3 and 4.4 (from memory).
@pytest.mark.parametrize(
    ("plain", "coded"),
    [(b"AB", "BB8"), (b"Hello!!", "%69 VD92EX0"), (b"base-45", "UJCLQE7W581"), (b"ietf!", "QED8WEX0")],
)
def test_base45_gives_the_examples_of_its_standard(plain, coded):
    assert coded == to_base45(plain)
    assert plain == from_base45(coded)


@pytest.mark.parametrize(
    "text", ["hello", CODE_HEAD, CODE_HEAD + "GGW", CODE_HEAD + "abc", CODE_HEAD + "BB8", CODE_HEAD + "A"]
)
def test_a_damaged_code_is_refused_in_one_sentence(text):
    with pytest.raises(InputError, match="QR code: "):
        read_code(text)


def test_a_code_that_would_inflate_beyond_measure_is_refused():
    import zlib

    bomb = CODE_HEAD + to_base45(zlib.compress(b" " * 50_000_000, 9))
    with pytest.raises(InputError, match="too long"):
        read_code(bomb)


def test_differences_are_told_in_work_and_grams():
    mine, theirs = (
        recipe_of(),
        recipe_of(controls={"first_developer_time_min": 13, "solvent_ml_per_l": 8, "alkali_ml_per_l": 4}),
    )
    told = {d.where: (d.first, d.second) for d in differences(mine, theirs)}
    assert ("11", "13") == told["control: first developer time min"]
    bath = next(value for where, value in told.items() if "thiosulfate" in where)
    assert ("7.2 g/L", "4.8 g/L") == bath
    assert () == differences(mine, mine)


def stronger_shelf():
    """The same kinds of bottles at other strengths."""
    changed = {"fixer_ats_60wv": "45 % w/v", "household_ammonia_5": "10 % w/w", "etchant_42be": "35 Be"}
    found = []
    for key, product in products().items():
        document = product.model_dump(mode="json")
        if key in changed:
            document["contents"][0]["strength"] = changed[key]
            document["density_g_per_ml"] = None
        elif any(
            c["substance"] in ("ammonium_thiosulfate", "ammonia", "iron_iii_chloride", "iron_iii_chloride_hexahydrate")
            for c in document["contents"]
        ):
            continue
        found.append(Product.model_validate(document))
    return tuple(found)


def test_from_other_bottles_the_active_concentrations_are_the_same_within_the_stated_error():
    recipe = recipe_of()
    here = from_my_bottles(recipe, 1000, tuple(products().values()), USUAL_TOOLS)
    there = from_my_bottles(recipe, 1000, stronger_shelf(), USUAL_TOOLS)
    compared = 0
    for mine, theirs in zip(here, there, strict=True):
        assert mine.sheet and theirs.sheet, (mine.reason, theirs.reason)
        for a, b in zip(mine.sheet.made, theirs.sheet.made, strict=True):
            assert a.target_g_per_l == b.target_g_per_l
            assert (
                abs(a.made_g_per_l.value - b.made_g_per_l.value)
                <= 2.6 * (a.made_g_per_l.sd**2 + b.made_g_per_l.sd**2) ** 0.5
            )
            compared += 1
        if mine.formula.key == "ammonia_bath":
            assert mine.sheet.amounts["household_ammonia_5"] > 1.8 * theirs.sheet.amounts["household_ammonia_5"]
    assert compared >= 6


def test_what_cannot_be_matched_is_told_where_the_maker_says_what_was_poured():
    recipe = with_products(recipe_of(), tuple(products().values()), USUAL_TOOLS)
    document = products()["paper_developer_concentrate"].model_dump(mode="json")
    document["key"] = "another_paper_developer"
    document["contents"] = [c for c in document["contents"] if c["substance"] != "potassium_bromide"]
    mine = (
        *tuple(p for p in products().values() if "paper_developer" not in p.roles),
        Product.model_validate(document),
    )
    first = from_my_bottles(recipe, 1000, mine, USUAL_TOOLS)[0]
    assert "bromide" in {u.what for u in first.unmatched}


def test_a_bath_that_this_shelf_cannot_make_says_what_is_missing():
    few = tuple(
        p for p in products().values() if p.key != "etchant_42be" and not any("iron" in c.substance for c in p.contents)
    )
    bleach = next(b for b in from_my_bottles(recipe_of(), 500, few, USUAL_TOOLS) if b.formula.role == "bleach")
    assert bleach.sheet is None
    assert "iron" in bleach.reason


def test_taking_in_never_replaces_what_stands_here(recipes):
    first = recipes.take_in(recipe_of())
    same = recipes.take_in(recipe_of())
    other = recipes.take_in(recipe_of(exposure_index=50))
    assert (True, False, True) == (first.new, same.new, other.new)
    assert first.id == same.id != other.id
    assert 80 == recipes.recipe(first.id).exposure_index
    assert 50 == recipes.recipe(other.id).exposure_index


def test_a_retired_recipe_keeps_its_id_to_itself(recipes):
    first = recipes.take_in(recipe_of())
    recipes.retire(first.id)
    assert first.id != recipes.take_in(recipe_of()).id


def test_an_exported_recipe_is_settled_and_names_its_bottles(recipes):
    exported = recipes.export(recipes.take_in(recipe_of()).id)
    assert exported == settled(exported)
    assert exported.products
    with pytest.raises(NotFoundError):
        recipes.export("none")


def lethal():
    """A bleach of permanganate with table salt in acid makes chlorine: pair inc.17 of the reference."""
    recipe = recipe_of("permanganate_light").model_dump(mode="json")
    for formula in recipe["formulas"]:
        if formula["key"] == "bleach_permanganate":
            formula["components"].append(
                Component(substance="sodium_chloride", concentration="50 g/L").model_dump(mode="json")
            )
    return recipe


def test_a_lethal_recipe_is_refused():
    with pytest.raises(UnsafeError):
        read_recipe(lethal())


def hostile():
    good = recipe_of().model_dump(mode="json")
    yield "not JSON", "{"
    yield "no recipe", json.dumps({"format": "obverse-series"})
    yield "a list", "[]"
    yield "NaN", recipe_text(recipe_of()).replace('"exposure_index": 80.0', '"exposure_index": NaN')
    yield "deep", "[" * 200_000
    yield "unknown field", json.dumps(good | {"run_this": "rm"})
    yield (
        "unknown substance",
        json.dumps(good).replace('"substance": "citric_acid"', '"substance": "philosophers_stone"', 1),
    )
    yield (
        "strength over 100 %",
        json.dumps(good).replace('"concentration": "15 g/L"', '"concentration": "150 % w/w"', 1),
    )
    yield "negative", json.dumps(good | {"controls": {"solvent_ml_per_l": -3}})
    yield "unknown control", json.dumps(good | {"controls": {"magic": 3}})
    yield "wrong type", json.dumps(good | {"route": "iron"})
    yield "newer version", json.dumps(good | {"version": 9})
    yield "endless name", json.dumps(good | {"name": "x" * 10_000})
    yield "two formulas of one key", json.dumps(good | {"formulas": good["formulas"] * 2})


@pytest.mark.parametrize("text", [text for _, text in hostile()], ids=[name for name, _ in hostile()])
def test_a_hostile_document_is_refused_in_one_sentence_and_nothing_is_kept(text, recipes):
    with pytest.raises(InputError) as caught:
        recipes.take_in(read_recipe_text(text, where="theirs.json"))
    assert "theirs.json" in caught.value.sentence
    assert "\n" not in caught.value.sentence
    assert [] == recipes.all()


def test_a_huge_document_is_not_even_parsed():
    with pytest.raises(InputError, match="longer than any recipe"):
        read_recipe_text(" " * 1_000_001)


def test_from_one_notebook_to_an_empty_one_with_other_bottles(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "one"))
    (tmp_path / "r.json").write_text(recipe_text(recipe_of()))
    assert 0 == run(["recipe", "import", str(tmp_path / "r.json")])
    assert 0 == run(["recipe", "export", "grey-base-projection", "--out", str(tmp_path / "out.json")])
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "other"))
    assert 0 == run(["recipe", "import", str(tmp_path / "out.json")])
    shelf = {"format": "obverse-shelf", "version": 1, "products": [p.model_dump(mode="json") for p in stronger_shelf()]}
    (tmp_path / "shelf.json").write_text(json.dumps(shelf))
    capsys.readouterr()
    assert 0 == run(
        [
            "recipe",
            "adapt",
            "grey-base-projection",
            "--volume-ml",
            "500",
            "--shelf",
            str(tmp_path / "shelf.json"),
            "--json",
        ]
    )
    baths = json.loads(capsys.readouterr().out)["baths"]
    wanted = {
        made["substance"]: made
        for bath in baths
        if bath["formula"] == "first_developer"
        for made in bath["sheet"]["made"]
    }
    thiosulfate = wanted["ammonium_thiosulfate"]["made_g_per_l"]
    assert thiosulfate["low90"] < 7.2 < thiosulfate["high90"]


def test_the_terminal_refuses_the_lethal_with_exit_code_3(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    (tmp_path / "lethal.json").write_text(json.dumps(lethal()))
    assert 3 == run(["recipe", "import", str(tmp_path / "lethal.json")])
    assert 0 == run(["recipe", "list"])
    assert "No recipe" in capsys.readouterr().out
