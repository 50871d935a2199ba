"""The documents as pages of the house: every page opens its part, every link leads somewhere, words are found."""

import re
import shutil

import pytest
from fastapi.testclient import TestClient

from obverse.foundation import NotFoundError, ObverseError
from obverse.web import failures
from obverse.web.manual import look_up, manuals
from obverse.web.pages import HELP_PARTS, help_address


@pytest.mark.parametrize(
    ("path", "part"),
    [
        ("/", "start"),
        ("/shelf", "shelf"),
        ("/shelf/bottles/b-1", "shelf"),
        ("/shelf/care/routes/iron", "care"),
        ("/bench/sheet", "bench"),
        ("/sink/run-7", "sink"),
        ("/light-table/picture", "camera"),
        ("/notebook/some-film", "notebook"),
        ("/notebook/recipes/one", "recipes"),
        ("/projector/slides", "projector"),
        ("/nowhere", "start"),
    ],
)
def test_a_page_opens_its_part(path, part):
    assert help_address(path) == f"/help/places#{part}"


def test_every_part_is_a_heading_of_the_page():
    anchors = {section.anchor for section in manuals()["places"].sections}
    assert set(HELP_PARTS.values()) <= anchors


def test_all_documents_of_the_folder_are_pages():
    assert {"places", "why", "sources", "care", "notebook", "nomenclature"} <= set(manuals())


def test_links_of_the_documents_lead_to_pages_that_are_there(client):
    wrong, asked = [], {}
    for name, manual in manuals().items():
        for target in re.findall(r'href="([^"]+)"', manual.html):
            page, _, anchor = target.removeprefix("/help/").partition("#")
            if target.startswith("#"):
                page, anchor = name, target[1:]
            elif target.startswith("/") and not target.startswith("/help/"):
                if target not in asked:
                    asked[target] = client.get(target, headers={"Accept": "text/html"}).status_code
                if asked[target] != 200:
                    wrong.append((name, target))
                continue
            if page not in manuals() or anchor not in {"", *(section.anchor for section in manuals()[page].sections)}:
                wrong.append((name, target))
    assert wrong == [] and asked


def test_words_are_found_where_they_stand_and_a_strange_word_nowhere():
    hits = look_up("question mark")
    assert [hit.href for hit in hits if hit.href.startswith("/help/places")] == ["/help/places#the-pages-one-by-one"]
    assert any("question mark" in hit.words for hit in hits)
    assert look_up("MARK question")[0].href == hits[0].href
    assert look_up("unobtainium") == [] == look_up("question unobtainium") == look_up("  ")


def test_pages_are_served_with_their_own_help(client: TestClient):
    answer = client.get("/help")
    assert answer.status_code == 200 and "/help/why" in answer.text
    assert 'href="/help/places#bench"' in client.get("/bench").text
    assert "Nothing holds all of these words" in client.get("/help", params={"words": "unobtainium"}).text
    assert 'id="sink"' in client.get("/help/places").text
    assert client.get("/help/none").status_code == 404


def test_drawings_of_the_documents_are_served_and_nothing_else(client: TestClient):
    assert '<img src="/help/pictures/architecture.svg"' in client.get("/help/architecture").text
    assert client.get("/help/pictures/architecture.svg").text.startswith("<svg")
    assert client.get("/help/pictures/none.svg").status_code == 404
    assert client.get("/help/pictures/..%2Farchitecture.svg").status_code == 404


def test_an_unknown_name_is_refused_with_the_way_on():
    from obverse.web.manual import help_page

    with pytest.raises(NotFoundError, match="/help"):
        help_page(None, "../pyproject")  # type: ignore[arg-type]


def kinds_of(error: type[ObverseError]) -> set[type[ObverseError]]:
    return {error}.union(*(kinds_of(kind) for kind in error.__subclasses__()))


def test_every_kind_of_problem_is_explained_where_its_type_points():
    assert failures.PROBLEM_MEDIA_TYPE == "application/problem+json"
    explained = {section.anchor: section.text for section in manuals()["interfaces"].sections}
    # Of the root itself nothing is raised.
    for kind in kinds_of(ObverseError) - {ObverseError}:
        assert f"({kind.http_status})" in explained[kind.code], kind


def test_the_glossary_explains_the_words_of_the_trade(client: TestClient):
    words = {word["forms"][0]: word for word in client.get("/api/glossary").json()}
    for word in (
        "Dmax",
        "gradient",
        "Callier",
        "halation",
        "reciprocity",
        "mid-curve rule",
        "solvent",
        "log exposure",
        "standing",
    ):
        assert len(words[word]["text"]) > 40, word
        assert f'id="{words[word]["anchor"]}"' in client.get("/help/glossary").text
    assert "Schwarzschild p" in words["reciprocity"]["forms"]
    forms = [form.casefold() for word in words.values() for form in word["forms"]]
    assert len(forms) == len(set(forms)) > 40


def test_the_help_begins_with_where_to_start(client: TestClient):
    page = client.get("/help").text
    assert page.index("Start here") < page.index("/help/start-here") < page.index("/help/why")
    assert list(manuals())[:3] == ["start-here", "places", "glossary"]


def test_the_guided_evening_goes_the_whole_way_and_only_in_the_teaching_darkroom(
    client: TestClient, the_demo, tmp_path
):
    from obverse.web.app import create_app
    from obverse.web.guide import STEPS
    from obverse.workbench.bootstrap import open_workbench

    assert client.get("/api/guide").json() == []
    assert "obverse demo" in client.get("/guide").text
    assert client.post("/guide/rehearse", data={"token": client.app.state.token}).status_code == 422
    bench = open_workbench(shutil.copytree(the_demo, tmp_path / "demo"))
    with TestClient(create_app(bench, invented=True), base_url="http://127.0.0.1") as demo:
        assert [step["title"] for step in demo.get("/api/guide").json()] == [step.title for step in STEPS]
        for step in STEPS:
            answer = demo.get(step.href, headers={"Accept": "text/html"})
            assert answer.status_code == 200 and "/static/house/guide.js" in answer.text, step.href
        places = {step.href.split("/")[1] for step in STEPS}
        assert {"shelf", "bench", "guide", "notebook", "projector", "help"} <= places
        begun = demo.post("/guide/rehearse", data={"token": demo.app.state.token}, follow_redirects=False)
        run = begun.headers["location"].removeprefix("/sink/")
        assert bench.sink.look(run).view.status == "planned" and bench.store.get("run", run).body["speed"] == 20
    bench.close()
