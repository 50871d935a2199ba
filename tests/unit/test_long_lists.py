"""Long lists: found by words, put in order, put aside, a part at a time; on the pages by their address alone."""

import re

import pytest
from fastapi.testclient import TestClient

from obverse.foundation import InputError
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.seek import MOST_ON_A_PAGE, ListAsked, by_name

TOKEN = {"token": "t"}


@pytest.fixture(scope="module")
def darkroom(tmp_path_factory):
    workbench = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://")
    films = [workbench.notebook.add_film({"name": name, "box_speed": speed}) for name, speed in FILMS]
    for number in range(MOST_ON_A_PAGE + 5):
        murky = number == 3
        workbench.notebook.add_trial(
            films[0].id,
            {
                "controls": {"first_developer_time_min": 5 + number},
                "grades": [{"of": "highlights", "grade": "murky"}] if murky else [],
                "note": "the attic, in August" if murky else "",
            },
        )
    for name, expires in (("Zinc white", None), ("ammonia", "2031-05-01"), ("Café bleach", "2030-01-01")):
        workbench.shelf.add_bottle(
            {"name": name, "contents": "water", "expires_on": expires, "formula": "ammonia_bath"}
        )
    with TestClient(create_app(workbench, hosts=("testserver",), token="t"), follow_redirects=True) as client:
        yield workbench, client, films
    workbench.close()


FILMS = (("Éclair grey base", 100), ("clear base", 400))


def names(found):
    return [kept.thing.name for kept in found.rows]


def test_words_are_found_in_any_order_and_without_accents(darkroom):
    workbench, _, _ = darkroom
    assert ["Éclair grey base"] == names(workbench.notebook.find_films(ListAsked(find="GREY eclair")))
    assert [] == names(workbench.notebook.find_films(ListAsked(find="grey 400")))


def test_a_bottle_without_a_date_stands_behind_those_that_expire(darkroom):
    workbench, _, _ = darkroom
    find = workbench.shelf.find_bottles
    assert ["Café bleach", "ammonia", "Zinc white"] == names(find(ListAsked(sort="what expires first")))
    assert ["ammonia", "Café bleach", "Zinc white"] == names(find(ListAsked()))
    with pytest.raises(InputError, match="what expires first"):
        find(ListAsked(sort="colour"))


def test_each_strip_stands_in_one_part_of_the_list(darkroom):
    workbench, _, _ = darkroom
    asked = [workbench.notebook.find_strips(ListAsked(part=part)) for part in (1, 2)]
    ids = [kept.id for found in asked for kept in found.rows]
    assert [2, 2] == [found.parts for found in asked] and MOST_ON_A_PAGE + 5 == asked[0].matching
    assert len(ids) == len(set(ids)) == MOST_ON_A_PAGE + 5
    # A part that is not there is answered by the last.
    assert asked[1].rows == workbench.notebook.find_strips(ListAsked(part=99)).rows


def test_strips_are_found_by_what_the_eye_said_and_by_notes(darkroom):
    _, client, films = darkroom
    for words in ("murky", "august attic", "murky eclair"):
        page = client.get("/notebook/strips", params={"find": words}).text
        assert ["strip 4"] == re.findall(r"<strong>(strip \d+)</strong>", page), words
    assert "No strip fits" in client.get("/notebook/strips", params={"find": "murky", "film": films[1].id}).text


def test_a_strip_is_put_aside_and_taken_back_from_the_list(darkroom):
    workbench, client, films = darkroom
    one = workbench.notebook.trials(films[0].id)[0]
    page = client.post(f"/notebook/strips/{one.id}/retire", data=TOKEN).text
    assert f"{MOST_ON_A_PAGE + 4} in use, 1 put aside" in page
    assert f"/notebook/strips/{one.id}/restore" in client.get("/notebook/strips?shown=aside").text
    assert f"{MOST_ON_A_PAGE + 5} in use." in client.post(f"/notebook/strips/{one.id}/restore", data=TOKEN).text


def test_a_film_put_aside_is_read_and_taken_back(darkroom):
    _, client, films = darkroom
    page = client.post(f"/notebook/{films[1].id}/retire", data=TOKEN).text
    assert "<h2>clear base</h2>" not in page and "1 put aside" in page
    assert "<h2>clear base</h2>" in client.get("/notebook?shown=aside").text
    assert "put aside</span>" in client.get(f"/notebook/{films[1].id}").text
    client.post(f"/notebook/{films[1].id}/restore", data=TOKEN)
    assert "<h2>clear base</h2>" in client.get("/notebook").text


def test_a_bottle_taken_off_is_put_back(darkroom):
    workbench, client, _ = darkroom
    zinc = next(kept.id for kept in workbench.shelf.bottles() if kept.thing.name == "Zinc white")
    client.post("/shelf/retire", data={**TOKEN, "kind": "bottle", "id": zinc})
    assert "Put Zinc white back" in client.get("/shelf?shown=aside").text
    client.post("/shelf/restore", data={**TOKEN, "kind": "bottle", "id": zinc})
    assert "Take Zinc white off" in client.get("/shelf").text


def test_bottles_stand_first_and_own_processes_among_what_can_be_made(darkroom):
    workbench, client, _ = darkroom
    shipped = len(workbench.shelf.openings())
    page = client.get("/shelf").text
    assert page.index('id="bottles"') < page.index('id="products"') < page.index('id="routes"')
    kept = workbench.processes.begin("My way with light", source="permanganate_light")
    first = workbench.shelf.openings()[0]
    assert (shipped + 1, kept, True) == (len(workbench.shelf.openings()), first.key, first.own)
    page = client.get("/shelf").text
    assert "your own</span>" in page and f'/shelf/care/routes/{kept}"' in page


def test_names_stand_in_the_order_of_a_reader():
    given = ["bottle 10", "Bottle 2", "äther", "azide", "7 drops", "x²"]
    assert ["7 drops", "äther", "azide", "Bottle 2", "bottle 10", "x²"] == sorted(given, key=by_name)


@pytest.mark.parametrize("query", ["sort=colour", "shown=everything", "part=0", "part=x"])
def test_what_cannot_be_asked_of_a_list_is_said_in_a_sentence(darkroom, query):
    _, client, _ = darkroom
    answer = client.get(f"/notebook/strips?{query}", headers={"accept": "text/html"})
    assert 400 <= answer.status_code < 500 and "Traceback" not in answer.text and "<h1>" in answer.text
