"""The shelf and bench of the workbench, and their pages without a browser."""

import re

import pytest

from obverse.foundation import ConflictError, InputError, NotFoundError, UnsafeError
from obverse.process.catalog import formulas, routes, substances

OPENS_PEROXIDE = (
    "paper_developer_concentrate",
    "fixer_ats_60wv",
    "household_ammonia_5",
    "peroxide_6",
    "citric_monohydrate",
    "wetting_agent",
)


def put(shelf, *keys):
    for key in keys:
        shelf.add_generic(key)


def label(**more):
    return {
        "name": "kitchen ammonia",
        "form": "liquid",
        "contents": [{"substance": "ammonia", "strength": "9 % w/w"}],
        **more,
    }


def test_a_label_becomes_a_product_with_a_key_of_its_own(workbench):
    first, second = workbench.shelf.add_product(label()), workbench.shelf.add_product(label())
    assert (first, second) == ("kitchen_ammonia", "kitchen_ammonia_2")
    assert [k.thing.name for k in workbench.shelf.products()] == ["kitchen ammonia"] * 2


def test_what_comes_off_the_shelf_stays_in_the_notebook_and_comes_back(workbench):
    put(workbench.shelf, "ammonia_25")
    workbench.shelf.retire("product", "ammonia_25")
    assert workbench.shelf.is_empty
    assert workbench.shelf.product("ammonia_25").thing.key == "ammonia_25"
    put(workbench.shelf, "ammonia_25")
    assert not workbench.shelf.is_empty


def test_two_who_correct_the_same_label_are_told(workbench):
    put(workbench.shelf, "ammonia_25")
    workbench.shelf.change_product("ammonia_25", label(), expected_revision=1)
    with pytest.raises(ConflictError):
        workbench.shelf.change_product("ammonia_25", label(), expected_revision=1)


def test_bad_labels_are_refused(workbench):
    for wrong in (
        label(contents=[{"substance": "ammonia", "strength": "strong"}]),
        label(contents=[{"substance": "ammonia", "strength": "105 % w/w"}]),
        label(contents=[{"substance": "other", "strength": "5 %"}]),
        label(form="gas"),
        label(density_g_per_ml=-1),
        label(unheard="field"),
        label(contents=[{"substance": "unobtainium", "strength": "5 g/L"}]),
        label(contents=[{"substance": "sodium_bisulfate", "strength": "20 vol"}]),
        label(statements=["H3"]),
        label(contents=[{"substance": "ammonia", "strength": "390 % w/v"}]),
    ):
        with pytest.raises(InputError) as error:
            workbench.shelf.add_product(wrong)
        assert error.value.remedy
    assert workbench.shelf.is_empty


def test_routes_are_ranked_by_hazard_and_open_when_the_bottles_stand_there(workbench):
    closed = workbench.shelf.openings()
    assert [o.route.key for o in closed] == list(routes())
    assert [o.route.hazard_rank for o in closed] == sorted(o.route.hazard_rank for o in closed)
    assert not any(o.is_open for o in closed)
    put(workbench.shelf, *OPENS_PEROXIDE)
    by_key = {o.route.key: o for o in workbench.shelf.openings()}
    assert by_key["peroxide_acid_light"].is_open and by_key["peroxide_acid_light"].purchase == ()
    assert not by_key["dichromate_light"].is_open
    assert "potassium dichromate" in [p.name for p in by_key["dichromate_light"].purchase]


def test_buying_the_least_opens_the_route(workbench):
    for key in ("iron_ammonia_light", "permanganate_fogging"):
        before = next(o for o in workbench.shelf.openings() if o.route.key == key)
        put(workbench.shelf, *(p.key for p in before.purchase))
        assert next(o for o in workbench.shelf.openings() if o.route.key == key).is_open


def test_substitutions_are_told_with_what_they_change(workbench):
    put(workbench.shelf, *OPENS_PEROXIDE)
    opening = next(o for o in workbench.shelf.openings() if o.route.key == "peroxide_acid_light")
    assert any("citric acid monohydrate for citric acid, anhydrous: 1.094 g" in text for text in opening.substitutions)


def test_cost_of_a_roll_counts_a_kept_bath_by_its_rolls(workbench):
    put(workbench.shelf, *OPENS_PEROXIDE)
    dear = workbench.shelf.product("fixer_ats_60wv").thing.model_dump(mode="json") | {"package_price": 100.0}
    workbench.shelf.change_product("fixer_ats_60wv", dear)
    opening = next(o for o in workbench.shelf.openings(500) if o.route.key == "peroxide_acid_light")
    # 1 mL in the one-shot developer, 100 mL in a fixer that half a litre of takes at least 7.5 rolls.
    assert opening.cost_per_roll.known == pytest.approx(100 * (1 / 1000 + 100 / 1000 / 7.5), rel=0.02)
    assert "household ammonia 5 % w/w" in opening.cost_per_roll.unpriced


def test_ammonia_that_stood_open_counts_at_what_is_left(workbench):
    put(workbench.shelf, "household_ammonia_5")
    fresh = workbench.bench.sheet("ammonia_bath", 500)
    workbench.shelf.add_bottle({"name": "old", "product": "household_ammonia_5", "amount": 200, "hours_open": 8})
    old = workbench.bench.sheet("ammonia_bath", 500)
    assert old.amounts["household_ammonia_5"] > 1.05 * fresh.amounts["household_ammonia_5"]
    assert old.made[0].made_g_per_l.sd > 1.15 * fresh.made[0].made_g_per_l.sd


def test_what_was_mixed_comes_out_of_the_bottles(client, workbench):
    put(workbench.shelf, "etchant_42be", "household_ammonia_5")
    old = workbench.shelf.add_bottle({"name": "old", "product": "etchant_42be", "amount": 0})
    full = workbench.shelf.add_bottle({"name": "full", "product": "etchant_42be", "amount": 400})
    last = workbench.shelf.add_bottle({"name": "last drops", "product": "household_ammonia_5", "amount": 20})
    answer = client.post("/bench/mixed?formula=bleach_iron_chloride&volume_ml=500", data={}, follow_redirects=False)
    bottle = workbench.shelf.bottle(answer.headers["location"].rsplit("/", 1)[1]).thing
    assert bottle.formula == "bleach_iron_chloride" and "iron(III) chloride" in bottle.contents
    used = workbench.bench.sheet("bleach_iron_chloride", 500).amounts["etchant_42be"]
    assert workbench.shelf.bottle(full).thing.amount == pytest.approx(400 - used)
    assert workbench.shelf.bottle(old).thing.amount == 0
    client.post("/bench/mixed?formula=ammonia_bath&volume_ml=500", data={}, follow_redirects=False)
    assert workbench.shelf.bottle(last).thing.amount == 0
    assert [b.thing.formula for b in workbench.shelf.bottles() if b.thing.formula] == ["bleach_iron_chloride"]


def test_only_baths_that_keep_go_into_bottles(workbench):
    id = workbench.bench.keep_as_bottle("bleach_iron_chloride", 500, "iron(III) chloride 55 g/L")
    bottle = workbench.shelf.bottle(id).thing
    assert (bottle.formula, bottle.amount, str(bottle.filled_on)) == ("bleach_iron_chloride", 500, "2031-11-05")
    for key in ("ammonia_bath", "bleach_permanganate", "fogging_dithionite", "bleach_peroxide_acid"):
        with pytest.raises(UnsafeError):
            workbench.bench.keep_as_bottle(key, 500)


def test_every_bath_of_every_route_passes_the_hazard_rules(workbench):
    for route in routes():
        for found in workbench.bench.route_baths(route, 500):
            assert found.sheet is not None, found.reason


def test_a_lethal_bath_is_refused_whatever_the_bottle_is_called(workbench):
    for components in (
        [("sodium_hypochlorite", "10 g/L"), ("ammonia", "5 g/L")],
        [("sodium_hypochlorite", "10 g/L"), ("citric_acid", "5 g/L")],
        [("potassium_permanganate", "2 g/L"), ("sulfuric_acid", "18 g/L"), ("potassium_thiocyanate", "2 g/L")],
    ):
        document = {
            "key": "own_bath",
            "name": "cleaner",
            "role": "clearing",
            "components": [{"substance": s, "concentration": c} for s, c in components],
        }
        workbench.bench.keep_formula(document)
        with pytest.raises(UnsafeError):
            workbench.bench.sheet("own_bath", 500)


def test_generic_formulas_cannot_be_overwritten(workbench):
    document = formulas()["fixer_rapid"].model_dump(mode="json")
    with pytest.raises(InputError, match="generic formula"):
        workbench.bench.keep_formula(document)
    with pytest.raises(InputError, match="there is no formula"):
        workbench.bench.formula("unheard")


def test_tools_and_equipment_are_told_apart(workbench):
    workbench.shelf.add_tool({"name": "tank for one", "kind": "tank", "volume_ml": 300, "films": 1})
    workbench.shelf.add_tool({"name": "cup", "kind": "jug", "graduation": 10, "capacity": 250})
    assert [t.name for t in workbench.shelf.tanks()] == ["tank for one"]
    assert [t.name for t in workbench.shelf.tools_for_mixing()] == ["cup"]
    with pytest.raises(InputError, match="graduation above its capacity"):
        workbench.shelf.add_tool({"name": "cup", "kind": "jug", "graduation": 300, "capacity": 250})
    with pytest.raises(NotFoundError):
        workbench.shelf.bottle("nowhere")


# Pages without a browser


def test_hypochlorite_beside_ammonia_is_told_on_the_shelf(client, workbench):
    put(workbench.shelf, "household_ammonia_5")
    page = client.get("/shelf", headers={"accept": "text/html"}).text
    assert "must not stand side by side" not in page
    put(workbench.shelf, "laundry_bleach")
    page = client.get("/shelf", headers={"accept": "text/html"}).text
    assert "must not stand side by side" in page and "caution-danger" in page.split('id="products"')[1].split("<ul")[0]


def test_label_form_round_trip(client, workbench):
    form = {
        "name": "Apothecary ammonia",
        "form": "liquid",
        "substance": ["ammonia", ""],
        "strength": ["10 % w/w", ""],
        "doubt": ["5", ""],
        "additives": ["perfume"],
        "package_price": "3,50",
        "package_amount": "1000",
        "household": "on",
    }
    assert client.post("/shelf/products", data=form, follow_redirects=False).status_code == 303
    product = workbench.shelf.products()[0].thing
    assert product.contents[0].strength_relative_sd == pytest.approx(0.05)
    assert (product.package_price, product.additives, product.household) == (3.5, ("perfume",), True)
    page = client.get(f"/shelf/products/{product.key}", headers={"accept": "text/html"})
    assert 'value="10 % w/w"' in page.text


def test_api_of_the_shelf(client):
    key = client.post("/api/shelf/products", json=label()).json()["key"]
    id = client.post("/api/shelf/bottles", json={"name": "one", "product": key}).json()["id"]
    client.post("/api/shelf/tools", json={"name": "cup", "kind": "jug", "graduation": 10, "capacity": 250})
    shelf = client.get("/api/shelf").json()
    assert [p["key"] for p in shelf["products"]] == [key]
    assert [b["id"] for b in shelf["bottles"]] == [id]
    openings = client.get("/api/shelf/openings").json()
    assert len(openings) == len(routes()) and openings[0]["hazard_rank"] == 1


@pytest.mark.parametrize(
    ("query", "words", "refused"),
    [
        ({"substance": "ammonia", "strength": "5 % w/w"}, "48.85 g/L, 2.87 mol/L", ""),
        ({"substance": "ammonium_thiosulfate", "strength": "60 % w/v"}, "600 g/L, 4.05 mol/L", ""),
        ({"substance": "iron_iii_chloride", "strength": "42 Be"}, "551", ""),
        (
            {"substance": "citric_acid", "strength": "99 % w/w", "form": "solid"},
            "99 g of citric acid, anhydrous in 100 g",
            "",
        ),
        ({"substance": "citric_acid", "strength": "40 % w/w"}, "340 to 583 g/L", ""),
        ({"substance": "citric_acid", "strength": "40 % w/w", "density_g_per_ml": 1.18}, "472 g/L", ""),
        ({"substance": "ammonium thiosulphate", "strength": "60 %"}, "570 to 843 g/L", ""),
        ({"substance": "ammonia", "strength": "101 %"}, "", "more than can be"),
        ({"substance": "unheard", "strength": "6 g/L"}, "not on the list", ""),
        ({"substance": "sodium hydrosulfite", "strength": "87-90 %", "form": "solid"}, "87 to 90 g of sodium", ""),
        ({"substance": "iron(III) chloride", "strength": "40 %", "density_g_per_ml": "42 Be"}, "to 591 g/L", ""),
    ],
)
def test_what_a_strength_means(client, query, words, refused):
    found = client.get("/api/shelf/strength", params=query).json()
    assert words in found["words"] and refused in found["refused"]
    assert bool(found["words"]) != bool(found["refused"])


def test_every_substance_is_listed_with_its_molar_mass(client):
    text = client.get("/shelf/substances", headers={"accept": "text/html"}).text
    assert "17.031" in text and "NH3" in text
    # Water is no substance that anybody weighs.
    assert text.count("<tr id=") == len(substances()) - 1


def test_sheet_document_and_pdf(client):
    sheet = client.get("/api/bench/sheet", params={"formula": "bleach_permanganate", "volume_ml": 500}).json()
    assert sheet["format"] == "obverse-mix-sheet"
    assert [c for c in sheet["cautions"] if c["level"] == "danger"]
    assert sheet["insights"][0]["rolls"]["low"] > 0
    pdf = client.get("/bench/sheet.pdf", params={"formula": "bleach_permanganate", "volume_ml": 500})
    assert pdf.content.startswith(b"%PDF") and pdf.headers["content-type"] == "application/pdf"


def test_a_formula_of_ones_own_by_the_form(client, workbench):
    form = {
        "name": "My Acid Stop",
        "key": "",
        "role": "stop",
        "substance": ["citric_acid", "", ""],
        "concentration": ["20 g/L", "", ""],
        "product_role": ["", ""],
        "dilution": ["", ""],
        "keeps": "on",
    }
    answer = client.post("/bench/formula", data=form, follow_redirects=False)
    assert answer.headers["location"].startswith("/bench/sheet?formula=my_acid_stop")
    kept = workbench.bench.formula("my_acid_stop")
    assert (kept.components[0].concentration, kept.one_shot) == ("20 g/L", False)
    client.post(
        "/bench/formula",
        data={**form, "key": "my_acid_stop", "concentration": ["25 g/L", "", ""]},
        follow_redirects=False,
    )
    assert workbench.bench.formula("my_acid_stop").components[0].concentration == "25 g/L"
    wrong = client.post("/bench/formula", data={**form, "substance": ["", "", ""]}, follow_redirects=False)
    assert wrong.status_code == 422


def test_a_formula_that_the_shelf_cannot_mix_is_kept_and_says_what_is_missing(client, workbench):
    """By name and amount, with the bath that could stand in; one press puts it there and shows the sheet."""
    put(workbench.shelf, "permanganate_crystals", "battery_acid_37")
    form = {
        "name": "My Chrome Bleach",
        "role": "bleach",
        "substance": ["potassium_dichromate", "sulfuric_acid"],
        "concentration": ["5 g/L", "8.8 g/L"],
    }
    html = {"accept": "text/html"}
    shown = client.post("/bench/formula", data=form, headers=html)
    assert shown.status_code == 200 and "The formula is kept." in shown.text
    assert re.search(r"<h3>potassium dichromate</h3>\s*<span class=\"amount\">2.5 g<", shown.text)
    assert "<h3>sulfuric acid" not in shown.text and ">acid permanganate bleach</a>" in shown.text
    assert "/shelf?holds=potassium+dichromate#label" in shown.text
    label = client.get("/shelf?holds=potassium+dichromate", headers=html).text
    assert 'id="label" open' in label and 'value="potassium dichromate"' in label
    press = {"key": "dichromate_crystals", "sheet": "formula=my_chrome_bleach&volume_ml=500"}
    sheet = client.post("/shelf/generic", data=press, headers=html).text
    assert "In this order" in sheet and "Missing on the shelf" not in sheet
    # A volume that cannot be is a matter of its own, with its field.
    wrong = client.get("/bench/sheet", params={"formula": "my_chrome_bleach", "volume_ml": "200 L"}, headers=html)
    assert wrong.status_code == 422 and "100 L" in wrong.text and 'name="volume_ml"' in wrong.text


def test_a_formula_that_could_never_be_mixed_is_not_kept(workbench):
    for concentration in ("10 mL/L", "1+9"):
        document = {
            "name": "vague",
            "role": "bleach",
            "components": [{"substance": "sulfuric_acid", "concentration": concentration}],
        }
        with pytest.raises(InputError):
            workbench.bench.keep_formula(document)
    assert workbench.bench.own_formulas() == {}


def test_what_does_not_keep_is_mixed_within_its_time(workbench):
    """From mixing to use no longer than the formula allows, on every route."""
    from obverse.run.planner import plan_run

    for key, route in routes().items():
        plan = plan_run(route, formulas(), tank_ml=500)
        mixed = {a.formula: a for a in workbench.bench.when_to_mix(key, 500) if a.kind == "prepare"}
        for action in plan.actions:
            limit = formulas()[action.formula].use_within_min if action.formula else None
            if action.kind == "bath" and limit:
                assert action.start_s - mixed[action.formula].end_s <= limit * 60


def test_an_empty_field_of_the_form_is_a_field_left_out(client):
    empty = {"route": "peroxide_acid_light", "volume_ml": "", "solvent_ml_per_l": "", "alkali_ml_per_l": "7,5"}
    assert client.get("/bench", params=empty).status_code == 200
    assert client.get("/bench", params={**empty, "solvent_ml_per_l": "much"}).status_code == 422


def test_a_recipe_brings_its_own_baths_and_controls(client, workbench):
    from obverse.process import Recipe, named_aim

    weaker = formulas()["bleach_peroxide_acid"].model_copy(
        update={
            "components": (
                formulas()["bleach_peroxide_acid"].components[1].model_copy(update={"concentration": "10 g/L"}),
            )
        }
    )
    recipe = Recipe(
        name="my film, first try",
        film={"name": "a 100-speed grey-base film", "box_speed": 100},
        controls={"solvent_ml_per_l": 20, "first_developer_time_min": 11},
        route=routes()["peroxide_acid_light"],
        formulas=tuple(
            weaker if key == "bleach_peroxide_acid" else formulas()[key]
            for key in dict.fromkeys(step.formula for step in routes()["peroxide_acid_light"].steps if step.formula)
        ),
        aim=named_aim("projection"),
    )
    id = workbench.store.put("recipe", recipe.model_dump(mode="json")).id
    baths = {b.formula.key: b.sheet for b in workbench.bench.route_baths("", 500, recipe=id)}
    assert baths["bleach_peroxide_acid"].made[0].target_g_per_l == pytest.approx(10)
    thiosulfate = next(m for m in baths["first_developer"].made if m.substance == "ammonium_thiosulfate")
    assert thiosulfate.target_g_per_l == pytest.approx(12)
    assert "my film, first try" in client.get("/bench", params={"recipe": id}, headers={"accept": "text/html"}).text
    sheet = client.get("/api/bench/sheet", params={"formula": "first_developer", "volume_ml": 500, "recipe": id}).json()
    assert sheet["made"][0]["target_g_per_l"] == pytest.approx(12)
    assert client.get("/bench", params={"recipe": "nowhere"}).status_code == 404


def test_all_sheets_of_a_route_as_one_pdf(client):
    pdf = client.get("/bench/route.pdf", params={"route": "permanganate_light", "volume_ml": 500})
    assert pdf.content.startswith(b"%PDF")
    assert client.get("/bench/route.pdf", params={"route": "unheard"}).status_code == 422


def test_a_chosen_bottle_reaches_the_sheet(client):
    sheet = client.get(
        "/api/bench/sheet", params={"formula": "ammonia_bath", "volume_ml": 500, "choose": "ammonia:ammonia_25"}
    ).json()
    assert [line["product"] for line in sheet["lines"] if line["kind"] == "product"] == ["ammonia_25"]


def test_adapting_over_the_api(client):
    bath = {"role": "halide_solvent", "volume_ml": 1000, "poured": [{"product": "household_ammonia_10", "amount": 80}]}
    found = client.post("/api/bench/adapt", json=bath, params={"volume_ml": 500}).json()
    assert found["sheet"]["volume_ml"] == 500
    assert found["unmatched"] == []


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("get", "/api/bench/sheet?formula=unheard&volume_ml=500", None, 422),
        ("get", "/api/bench/sheet?formula=ammonia_bath&volume_ml=-5", None, 422),
        ("get", "/api/bench/sheet?formula=ammonia_bath&volume_ml=nan", None, 422),
        ("get", "/api/bench/sheet?formula=ammonia_bath&volume_ml=500&choose=ammonia", None, 422),
        ("get", "/api/bench/sheet?formula=first_developer&volume_ml=500&alkali_ml_per_l=-1", None, 422),
        ("get", "/api/shelf/openings?volume_ml=0", None, 422),
        ("get", "/shelf/bottles/nowhere", None, 404),
        ("get", "/shelf/labels.pdf", None, 422),
        ("get", "/shelf/pictograms/unicorn.svg", None, 404),
        ("get", "/bench?route=unheard", None, 422),
        ("post", "/api/shelf/products", {"name": "x"}, 422),
        (
            "post",
            "/api/bench/adapt",
            {"role": "fixer", "volume_ml": 100, "poured": [{"product": "unheard", "amount": 5}]},
            422,
        ),
    ],
)
def test_failures_are_one_sentence(client, method, path, body, status):
    answer = client.request(method, path, json=body)
    assert answer.status_code == status
    assert answer.json()["detail"].endswith(".")
