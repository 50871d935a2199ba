"""The care pages and their JSON, through a web client."""

import re

import pytest

from obverse.process.catalog import routes


def mixed(client, formula="bleach_dichromate", volume_ml=500):
    return client.post("/api/care/baths", json={"formula": formula, "volume_ml": volume_ml}).json()["id"]


def test_the_page_stands_empty_and_full(client):
    assert client.get("/shelf/care").status_code == 200
    id = mixed(client)
    client.post(f"/api/care/baths/{id}/passes", json={"films": 2})
    jug = client.post("/api/care/jugs", json={"letter": "A", "capacity_ml": 5000}).json()["id"]
    client.post(f"/api/care/jugs/{jug}/pour", json={"what": "fixer_rapid", "volume_ml": 500, "films": 4})
    text = client.get("/shelf/care").text
    assert "acid dichromate bleach" in text and "500 mL of 5000 mL" in text and "Ghost on the next roll" in text


def test_the_checker_answers_in_words_and_by_name(client):
    text = client.get(
        "/shelf/care", params={"a": "laundry_bleach", "b": "Household ammonia 5 % w/w", "context": "storage"}
    ).text
    assert "Refused." in text and "chloramines" in text
    assert "Nothing is known here of" in client.get("/shelf/care", params={"a": "nonsense", "b": "pure_salt"}).text
    assert "no proof of anything" in client.get("/shelf/care", params={"a": "water", "b": "pure_salt"}).text


def test_the_checker_in_json(client):
    asked = {"names": ["laundry_bleach", "vinegar_5"], "context": "mixing"}
    found = client.get("/api/care/check", params=asked).json()
    assert found["refused"] and "inc.03" in [finding["pair"] for finding in found["findings"]]
    refused = client.get("/api/care/check", params={**asked, "refuse": True})
    assert refused.status_code == 422 and refused.json()["code"] == "unsafe"
    assert client.get("/api/care/check", params={"names": ["pure_salt"]}).status_code == 422


@pytest.mark.parametrize(
    ("names", "refused", "taken"),
    [
        (["bleach", "vinegar"], True, "laundry bleach"),
        (["HCl", "javel"], True, "hydrochloric acid"),
        (["KMnO4", "pure_salt"], False, "potassium permanganate"),
        (["laundry_bleach", "strange brew"], False, "Nothing is known here of 'strange brew'"),
        (["laundry_bleach", "vinegar_5"], True, ""),
        # A word of house or garden means what shops sell under it; one that only shares its head with a bottle may be anything.
        (["laundry_bleach", "spirit of salts"], True, "hydrochloric acid"),
        (["laundry_bleach", "drain cleaner"], True, "sodium hydroxide; sulfuric acid or sodium hypochlorite"),
        (["pure_salt", "nitrate negatives"], False, "old film base"),
        (["isopropanol", "tea light"], False, "something that burns or glows nearby"),
        (["laundry_bleach", "mystery salt"], False, "Nothing is known here of 'mystery salt'"),
    ],
)
def test_formula_signs_trade_words_and_unknown_names_are_taken_in_and_told(client, names, refused, taken):
    found = client.get("/api/care/check", params={"names": names, "context": "mixing"}).json()
    told = " ".join(one["text"] for one in found["findings"] if one["pair"] == "called")
    assert found["refused"] == refused and (taken in told if taken else not told)
    if names[1] == "strange brew":
        # The note names the place that was asked, not always the bath.
        for place, words in (("drain", "In the drain"), ("any", "Wherever they meet")):
            page = client.get("/shelf/care", params={"a": names[0], "b": names[1], "context": place}).text
            note = page[page.index("Nothing is known here of") :]
            assert words in note[: note.index('class="standing"')]
        # The worst that may be in it is told as loud as can be, and refuses nothing.
        assert {"danger"} <= {one["level"] for one in found["findings"] if one["severity"] == 4}


@pytest.mark.parametrize("key", list(routes()))
def test_route_page_shows_every_step(client, key):
    text = client.get(f"/shelf/care/routes/{key}").text
    for step in routes()[key].steps:
        assert step.name in text
    assert len(client.get(f"/api/care/routes/{key}").json()["steps"]) == len(routes()[key].steps)


def test_dichromate_page_opens_with_cancer(client):
    text = client.get("/shelf/care/routes/dichromate_light").text
    assert 0 < text.index("cancer") < text.index("First development")


def test_the_destroy_page_counts_and_takes_it_off_the_list_only_when_done(client):
    id = mixed(client, "ammonia_bath")
    client.post(f"/shelf/care/baths/{id}/passes", data={"film": "135-36", "films": "1"})
    page = client.get(f"/shelf/care/baths/{id}/destroy").text
    deadline, now = (float(re.search(rf'data-{name}="([\d.]+)"', page)[1]) for name in ("deadline", "now"))
    assert deadline - now == 7200
    assert "Add acid slowly to pH 2" in page
    refused = client.post(f"/shelf/care/baths/{id}/gone", data={"jug": "elsewhere"}, headers={"accept": "text/html"})
    assert refused.status_code == 422 and "must be destroyed" in refused.text
    assert (
        client.post(
            f"/shelf/care/baths/{id}/gone", data={"jug": "elsewhere", "destroyed": "on"}, follow_redirects=False
        ).status_code
        == 303
    )
    assert client.get("/api/care/baths").json() == []


def test_judging_by_form_and_by_json(client):
    id = mixed(client)
    client.post(f"/api/care/baths/{id}/passes", json={})
    for slip in ({"films": "two"}, {"films": True}, {"fillms": 2}):
        told = client.post(f"/api/care/baths/{id}/passes", json=slip)
        assert told.status_code == 422 and next(iter(slip)) in told.json()["detail"], told.text
    client.post(f"/shelf/care/baths/{id}/judge", data={"index": "0", "ghost": "ghost"})
    assert client.get("/api/care/baths").json()[0]["passes"][0]["ghost"] is True
    client.post(f"/api/care/baths/{id}/judgements", json={"index": 0, "ghost": False})
    assert client.get("/api/care/baths").json()[0]["passes"][0]["ghost"] is False


def test_asking_a_jug_before_pouring(client):
    jug = client.post("/api/care/jugs", json={"letter": "A", "capacity_ml": 5000}).json()["id"]
    client.post(f"/shelf/care/jugs/{jug}/pour", data={"what": "fixer_rapid", "volume_ml": "500", "films": "2"})
    asked = client.get("/shelf/care", params={"jug": jug, "ask": "bleach_dichromate"}).text
    assert "sulfur" in asked and "Poured in" in asked
    refused = client.post(f"/api/care/jugs/{jug}/pour", json={"what": "laundry_bleach", "volume_ml": 100})
    assert refused.json()["code"] == "unsafe"
    assert client.get("/api/care/jugs").json()[0]["volume_ml"] == 500


def test_the_room_by_form(client):
    client.post("/shelf/care/room", data={"volume_m3": "12,5", "air_changes_per_h": "6", "temperature_c": "22"})
    assert 'value="12.5"' in client.get("/shelf/care").text
    air = client.get("/api/care/air", params={"volume_m3": 12.5, "air_changes_per_h": 6}).json()
    assert "never says that air is safe" in air["estimate"]


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/api/care/baths", {}),
        ("/api/care/baths", {"formula": "bleach_dichromate", "volume_ml": "much"}),
        ("/api/care/baths", {"formula": 7, "volume_ml": 500}),
        ("/api/care/baths/none/passes", {}),
        ("/api/care/jugs", {"letter": "Q", "capacity_ml": 500}),
        ("/api/care/jugs", {"letter": "A", "capacity_ml": -5}),
        ("/api/care/jugs", {"letter": "A", "capacity_ml": 500, "vented": "perhaps"}),
        ("/api/care/jugs/none/pour", {"what": "fixer_rapid", "volume_ml": 5}),
    ],
)
def test_bad_bodies_get_one_sentence(client, path, body):
    answer = client.post(path, json=body)
    assert answer.status_code in (404, 422)
    assert answer.json()["detail"].endswith(".")


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/shelf/care/room", {"volume_m3": "big", "air_changes_per_h": "1", "temperature_c": "20"}),
        ("/shelf/care/baths", {"formula": "bleach_dichromate", "volume_ml": ""}),
        ("/shelf/care/jugs", {"letter": "G", "capacity_ml": "500"}),
        ("/shelf/care/baths/none/gone", {"jug": ""}),
        ("/shelf/care/baths/none/judge", {"index": "0", "ghost": "maybe"}),
    ],
)
def test_bad_forms_get_one_sentence(client, path, form):
    answer = client.post(path, data=form)
    assert answer.status_code in (404, 422)
    assert answer.json()["detail"].endswith(".")
