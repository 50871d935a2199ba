"""The pages of recipes, through the application."""

import pytest
from fastapi.testclient import TestClient

from obverse.process import AIMS, FilmStock, Recipe
from obverse.process.catalog import formulas, routes
from obverse.process.code import recipe_code
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.recipes import read_recipe_text, recipe_text, settled

PLACE = "/notebook/recipes"


def recipe_of(name):
    route = routes()["permanganate_light"]
    needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
    return settled(
        Recipe(
            name=name,
            film=FilmStock(name="a 400-speed clear-base film", box_speed=400),
            controls={"first_developer_time_min": 9},
            route=route,
            formulas=tuple(formulas()[key] for key in needed),
            aim=AIMS["projection"],
        )
    )


@pytest.fixture
def client(tmp_path):
    workbench = open_workbench(tmp_path, url="sqlite://")
    with TestClient(create_app(workbench, hosts=("testserver",), token="t"), follow_redirects=True) as client:
        yield client
    workbench.close()


def take_in(client, text, name="r.json"):
    return client.post(PLACE, data={"token": "t"}, files={"file": (name, text)})


def test_an_empty_place_says_the_way_on(client):
    assert "No recipe yet" in client.get(PLACE).text


def test_a_document_taken_in_is_shown_printed_and_given_away_again(client):
    page = take_in(client, recipe_text(recipe_of("Clear base")))
    assert 200 == page.status_code
    assert "Clear base" in page.text and "potassium permanganate" in page.text
    again = read_recipe_text(client.get(f"{PLACE}/clear-base/document.json").text)
    assert "Clear base" == again.name and again.products
    assert client.get(f"{PLACE}/clear-base/evening.pdf").content.startswith(b"%PDF")
    assert ["clear-base"] == [row["id"] for row in client.get("/api/notebook/recipes").json()["recipes"]]


def test_the_text_of_a_code_is_taken_in(client):
    page = client.post(PLACE, data={"token": "t", "code": recipe_code(recipe_of("By code"))[0]})
    assert "By code" in page.text


def test_a_name_with_markup_stays_text(client):
    page = take_in(client, recipe_text(recipe_of("<script>alert(1)</script> base")))
    assert "<script>alert" not in page.text
    assert "&lt;script&gt;" in page.text


def test_two_recipes_are_compared(client):
    take_in(client, recipe_text(recipe_of("One")))
    other = recipe_of("Two").model_copy(update={"controls": {"first_developer_time_min": 12}})
    take_in(client, recipe_text(settled(other)))
    text = client.get(PLACE, params={"first": "one", "second": "two"}).text
    assert "control: first developer time min" in text


@pytest.mark.parametrize("text", ["{", "[]", '{"format": "obverse-recipe", "version": 1}', "x" * 1_100_000])
def test_a_broken_document_is_one_sentence_and_nothing_is_kept(client, text):
    answer = take_in(client, text, "their.json")
    assert answer.status_code in (413, 422)
    assert "their.json" in answer.text
    assert [] == client.get("/api/notebook/recipes").json()["recipes"]


def test_nothing_given_and_nobody_there(client):
    assert 422 == client.post(PLACE, data={"token": "t"}).status_code
    assert 404 == client.get(f"{PLACE}/nobody").status_code
    take_in(client, recipe_text(recipe_of("One")))
    assert 422 == client.get(f"{PLACE}/one", params={"volume_ml": "-3"}).status_code


def test_a_recipe_put_aside_is_off_the_list(client):
    take_in(client, recipe_text(recipe_of("Old")))
    client.post(f"{PLACE}/old/retire", data={"token": "t"})
    assert "No recipe yet" in client.get(PLACE).text
