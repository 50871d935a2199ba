"""Nothing typed twice: bench, shelf and recipe lead to a filled plan; a plan is kept as a recipe."""

import json
import re
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pytest


def links(page, start="/sink?"):
    return [unescape(found) for found in re.findall(r'href="([^"]+)"', page) if found.startswith(start)]


def asked(link):
    return parse_qs(urlsplit(link).query)


def field(page, name, value):
    """Whether a field of that name shows that value, or that choice is selected."""
    inputs = re.findall(r"<input[^>]*>", page)
    return any(f'name="{name}"' in one and f'value="{value}"' in one for one in inputs)


@pytest.fixture
def shelf(workbench):
    for key in ("household_ammonia_5", "household_ammonia_10", "fixer_ats_60wv", "paper_developer_concentrate"):
        workbench.shelf.add_generic(key)


def test_the_bench_leads_to_a_filled_plan(client, shelf):
    page = client.get("/bench?route=iron_ammonia_light&volume_ml=600&solvent_ml_per_l=4").text
    (link,) = links(page)
    assert asked(link) == {"route": ["iron_ammonia_light"], "tank_ml": ["600"], "solvent_ml_per_l": ["4"]}
    form = client.get(link).text
    assert field(form, "tank_ml", "600") and field(form, "solvent_ml_per_l", "4")
    assert re.search(r'value="iron_ammonia_light"\s+selected', form)


def test_the_bottles_chosen_on_a_sheet_go_along_to_plan_and_mix_sheet(client, workbench, shelf):
    address = (
        "/bench/sheet?formula=ammonia_bath&volume_ml=600&route=iron_ammonia_light&choose=ammonia:household_ammonia_5"
    )
    (link,) = links(client.get(address).text)
    assert asked(link)["choose"] == ["ammonia:household_ammonia_5"] and asked(link)["route"] == ["iron_ammonia_light"]
    form = client.get(link).text
    assert field(form, "choose", "ammonia:household_ammonia_5")
    plan = client.get(link.replace("/sink?", "/sink/plan?")).text
    assert "household ammonia 5 % w/w, water to 600 mL" in plan
    kept = json.loads(unescape(re.search(r'name="plan" value="([^"]+)"', plan)[1]))
    run = workbench.sink.begin(kept)
    live = client.get(f"/sink/{run}").text
    shown = json.loads(unescape(re.search(r'id="plan"[^>]*>(.*?)</script>', live, re.S)[1]))
    assert shown["choices"] == {"ammonia": "household_ammonia_5"}


def test_a_bottle_that_is_none_is_refused_in_a_sentence(client, shelf):
    answer = client.get("/sink/plan?route=iron_ammonia_light&tank_ml=500&choose=ammonia")
    assert answer.status_code == 422 and "is not SUBSTANCE:PRODUCT" in answer.text


def test_the_shelf_leads_to_a_plan(client, workbench):
    for key in ("paper_developer_concentrate", "fixer_ats_60wv", "household_ammonia_10", "permanganate_crystals"):
        workbench.shelf.add_generic(key)
    for key in ("battery_acid_37", "metabisulfite_sodium", "wetting_agent", "soda_ash", "vitamin_c"):
        workbench.shelf.add_generic(key)
    found = [asked(link) for link in links(client.get("/shelf?volume_ml=600").text)]
    assert {"route": ["permanganate_light"], "tank_ml": ["600"]} in found


def test_a_plan_is_kept_as_a_recipe_of_its_film_with_its_own_process(client, workbench):
    film = workbench.notebook.add_film({"name": "Invented grey base 100", "box_speed": 100}).id
    plan = {
        "route": "permanganate_light",
        "name": "my evening",
        "without": ["fixing", "wash_aid"],
        "strips": [{"name": "A", "film": film, "controls": {"first_developer_time_min": 9.5}}],
    }
    for _ in range(2):
        answer = client.post("/sink/recipe", data={"plan": json.dumps(plan), "name": "Grey base, by plan"})
        assert answer.status_code == 200
    (kept,) = workbench.recipes.all()
    recipe = kept.thing
    assert recipe.name == "Grey base, by plan" and recipe.controls == {"first_developer_time_min": 9.5}
    assert recipe.evidence.trials == 0 and recipe.film.name == "Invented grey base 100"
    assert not {"fixing", "wash_aid"} & {step.key for step in recipe.route.steps}
    again = workbench.sink.plan({"recipe": kept.id})
    assert [s.key for s in again.route.steps] == [s.key for s in recipe.route.steps]
    assert links(client.get(f"/notebook/recipes/{kept.id}?volume_ml=600").text) == [
        f"/sink?recipe={kept.id}&tank_ml=600"
    ]


def test_a_plan_without_a_film_says_how_it_can_be_kept(client):
    page = client.get("/sink/plan?route=permanganate_light&tank_ml=500").text
    assert "choose the film of the notebook in the plan" in page and "/sink/recipe" not in page
    answer = client.post("/sink/recipe", data={"plan": json.dumps({"route": "permanganate_light"}), "name": "June"})
    assert answer.status_code == 422 and "a recipe belongs to a film" in answer.text
