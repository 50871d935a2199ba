"""More than anything honest, or signs that are none: one sentence, soon, on every way in."""

import json

import pytest

from obverse.cli.main import run
from obverse.foundation import InputError, TooLargeError, parse_json
from obverse.foundation.plain_json import MOST_DIGITS, MOST_KEYS
from obverse.store import open_store
from obverse.web.guard import MOST_OBJECTS
from obverse.workbench.exchange import take_in_notebook

JSON = {"content-type": "application/json"}
DIGITS = '{"name": ' + "9" * 5000 + "}"
KEYS = "{" + ",".join(f'"k{place}":1' for place in range(MOST_KEYS + 1)) + "}"
OBJECTS = '{"name": [' + ",".join("{}" for _ in range(MOST_OBJECTS)) + "]}"
TOO_MUCH = {"digits": (DIGITS, "a number of 5000 digits"), "keys": (KEYS, "entries side by side"), "objects": (OBJECTS, "objects")}  # fmt: skip


def sentence(answer) -> str:
    return answer.json()["detail"]


@pytest.mark.parametrize("what", TOO_MUCH)
@pytest.mark.parametrize("path", ["/api/shelf/products", "/api/sink/runs/x/events", "/api/pair", "/api/notebook/films"])
def test_too_much_json_is_told_before_anything_is_built_of_it(client, path, what):
    body, words = TOO_MUCH[what]
    answer = client.post(path, content=body, headers=JSON)
    assert answer.status_code == 413 and words in sentence(answer)
    assert sentence(answer).startswith("request: it holds") and sentence(answer).endswith(".")


def test_just_enough_json_is_read_as_before(client):
    body = "{" + ",".join(f'"k{place}":1' for place in range(MOST_KEYS)) + "}"
    answer = client.post("/api/shelf/products", content=body, headers=JSON)
    assert answer.status_code == 422 and "name: it is missing" in sentence(answer)
    assert client.post("/api/shelf/products", content="{", headers=JSON).status_code == 422
    assert parse_json("9" * MOST_DIGITS) == int("9" * MOST_DIGITS)


@pytest.mark.parametrize("way", ["plan", "recipe"])
def test_a_number_without_end_in_a_form_is_one_sentence(client, way):
    if way == "plan":
        answer = client.post("/sink/begin", data={"plan": DIGITS})
    else:
        answer = client.post("/notebook/recipes", files={"file": ("a.json", DIGITS.encode())})
    assert answer.status_code == 413 and "a number of 5000 digits; give at most" in sentence(answer)


@pytest.mark.parametrize("figures", ["9" * 5000, "\N{SUPERSCRIPT TWO}"])
def test_figures_that_are_no_whole_number_are_told_in_a_form_and_stay_readable(client, workbench, figures):
    """Python takes a raised two for a digit, and reads no more than 4,300 of them."""
    page = {"accept": "text/html"}
    answer = client.post("/projector/slides/roll", data={"roll": "harbour", "frames": figures}, headers=page)
    assert answer.status_code == 422 and "is no number of frames; give 1 to 40" in answer.text
    film = {"film_type": "negative", "revision": figures, "tank_ml": ""}
    assert client.post("/units", data=film, headers=page).status_code == 422
    table = {"name": "strips.csv", "text": f"day,time,dmax\n{figures},9 min,2.1\n", "film": "f", "match": {f"#{figures}": "note"}}  # fmt: skip
    assert client.post("/api/notebook/past-strips/look", json=table).status_code in (200, 422)
    workbench.projector.slides.add_roll("harbour", 1)
    slide = workbench.projector.slides.all()[0]
    workbench.store.put("slide", slide.thing.model_dump(mode="json") | {"frame": figures[:12]}, id=slide.id)
    assert client.get("/projector/slides").status_code == 200, "no content of the store makes a page unreadable"


def test_a_row_of_a_form_that_came_without_its_end_is_told(client):
    page = {"accept": "text/html"}
    adapt = client.post("/bench/adapt", data={"product": "household_ammonia_5"}, headers=page)
    formula = client.post("/bench/formula", data={"name": "stop", "substance": "citric_acid"}, headers=page)
    assert (adapt.status_code, formula.status_code) == (422, 422)


@pytest.mark.parametrize("what", ["digits", "keys"])
def test_import_says_it_in_one_sentence(what, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    file = tmp_path / "n.json"
    file.write_text(TOO_MUCH[what][0])
    assert run(["import", str(file)]) == 2
    told = capsys.readouterr().err
    assert TOO_MUCH[what][1] in told and told.count("\n") == 1


def test_a_list_of_wrong_things_is_refused_at_the_first_of_them(monkeypatch):
    from pydantic import ValidationError

    from obverse.store.exchange import NotebookDocument

    with pytest.raises(ValidationError) as caught:
        NotebookDocument.model_validate({"format": "obverse-notebook", "version": 1, "things": [{"x": 1}] * 1000})
    assert caught.value.error_count() < 20


ODD = ["a\0b", "a\x1b[2Jb", "a\nb", "a\r", "a\u2028b", "\x7f", " a", "a\u202eb"]


@pytest.fixture
def document():
    store = open_store()
    store.put("setting", {"n": 1}, id="a")
    store.append_event("r", "e", {})
    store.put_blob(b"x", "image/tiff")
    made = store.export()
    store.close()
    return made


PLACES = {
    "id": lambda d, odd: d["things"][0].update(id=odd),
    "run": lambda d, odd: d["events"][0].update(run_id=odd),
    "event": lambda d, odd: d["events"][0].update(event_id=odd),
    "media type": lambda d, odd: d["blobs"][0].update(media_type=odd),
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("odd", ODD)
def test_signs_that_cannot_be_printed_are_refused_in_names_and_never_echoed(document, odd, place, capsys):
    PLACES[place](document, odd)
    store = open_store()
    before = store.export()
    with pytest.raises(InputError, match="cannot be printed") as caught:
        take_in_notebook(store, document)
    assert caught.value.sentence.isprintable()
    assert store.export() == before
    store.close()


def test_both_databases_refuse_them_alike(document, postgresql):
    address = postgresql.database()
    for url in ("sqlite://", address):
        store = open_store(url)
        for place, change in PLACES.items():
            spoilt = json.loads(json.dumps(document))
            change(spoilt, "a\x1bb")
            with pytest.raises(InputError, match="cannot be printed"):
                take_in_notebook(store, spoilt)
            assert store.export()["things"] == [], place
        store.close()


def test_no_error_carries_orders_for_a_terminal():
    error = TooLargeError("what\x1b[2J", where="a\nb", remedy="c\0")
    assert (
        error.sentence == "a\N{REPLACEMENT CHARACTER}b: what\N{REPLACEMENT CHARACTER}[2J; c\N{REPLACEMENT CHARACTER}."
    )
    assert all(part.isprintable() for part in (error.what, error.where, error.remedy))


def test_what_a_browser_says_of_a_file_is_no_reason_to_refuse_it():
    store = open_store()
    name = store.put_blob(b"x", "image/\x1btiff")
    assert store.blob_media_type(name) == "application/octet-stream"
    store.close()
