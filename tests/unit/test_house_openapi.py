"""The description of the interface: every answer typed, a way in for scripts, one shape of errors; and true of real answers."""

import shutil

import jsonschema_rs
import pytest
from fastapi.testclient import TestClient

from obverse.web.answers import BYTES, answer_shapes, answer_words
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

pytestmark = pytest.mark.usefixtures("the_demo", "few_draws")

# Of each operation that has no path of its own to fill in: what is asked.
ASKED = [
    "/api/health",
    "/api/shelf",
    "/api/shelf/openings",
    "/api/shelf/strength?substance=acetic_acid&strength=x",
    "/api/care/check?names=household_ammonia_5&names=laundry_bleach",
    "/api/care/names",
    "/api/care/routes/iron_ammonia_light",
    "/api/care/baths",
    "/api/care/jugs",
    "/api/care/air?volume_m3=10",
    "/api/processes",
    "/api/processes/permanganate_light",
    "/api/bench/formulas",
    "/api/bench/sheet?formula=clearing_metabisulfite&volume_ml=500",
    "/api/notebook/recipes",
    "/api/notebook/recipes/teaching-recipe-b-invented",
    "/api/notebook/films/teaching-film-a/series",
    "/api/notebook/films/teaching-film-a/story",
    "/api/projector/sources",
    "/api/glossary",
    "/api/guide",
]


@pytest.fixture(scope="module")
def demo(the_demo, tmp_path_factory):
    bench = open_workbench(shutil.copytree(the_demo, tmp_path_factory.mktemp("demo") / "home"))
    with TestClient(create_app(bench, invented=True), base_url="http://127.0.0.1") as web:
        yield web
    bench.close()


@pytest.fixture(scope="module")
def described(tmp_path_factory):
    bench = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://")
    yield create_app(bench).openapi()
    bench.close()


def operations(described):
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            yield f"{method} {path}", operation


def typed(schema) -> bool:
    """Whether a schema says more than that something comes."""
    return any(
        schema.get(word) for word in ("$ref", "properties", "items", "anyOf", "allOf", "additionalProperties")
    ) and schema.get("additionalProperties") not in (True, {})


def test_every_answer_is_typed(described):
    untyped = []
    for name, operation in operations(described):
        answers = operation["responses"]
        if name in BYTES:
            assert list(answers["200"]["content"]) == [BYTES[name]], name
        elif "204" not in answers and not typed(answers["200"]["content"]["application/json"]["schema"]):
            untyped.append(name)
    assert untyped == [], "say what it answers in web/answers.json"
    assert len(list(operations(described))) > 80
    assert not typed({"type": "object", "additionalProperties": True, "title": "Response"}) and not typed({})


def members(part, place=""):
    """Every member of every object in a description, with where it stands; every reference."""
    if isinstance(part, list):
        for one in part:
            yield from members(one, place)
    elif isinstance(part, dict):
        for name, one in part.items():
            if name == "properties" and all(isinstance(member, dict) for member in one.values()):
                for called, member in one.items():
                    yield f"{place} {called}", member
                    yield from members(member, f"{place} {called}")
            elif name == "$ref":
                yield one, None
            else:
                yield from members(one, place or name)


def test_every_member_and_parameter_says_what_it_holds(described):
    found = list(members(described))
    assert len(found) > 2000
    assert [
        place for place, member in found if member is not None and not member.get("description", member.get("$ref"))
    ] == []
    known = {f"#/components/schemas/{name}" for name in described["components"]["schemas"]}
    assert {place for place, member in found if member is None} <= known
    asked = [
        (name, p["name"])
        for name, one in operations(described)
        for p in one.get("parameters", ())
        if not p.get("description")
    ]
    assert asked == []
    used = {place.rsplit(" ", 1)[-1] for place, _ in found} | {
        p["name"] for _, one in operations(described) for p in one.get("parameters", ())
    }
    assert {name for name in answer_words() if name not in used and name != "none of these"} == set()


def test_every_shape_belongs_to_an_operation_and_is_a_schema(described):
    assert set(answer_shapes()) <= {name for name, _ in operations(described)}
    for shape in answer_shapes().values():
        jsonschema_rs.meta.validate({"$schema": "https://json-schema.org/draft/2020-12/schema", **shape})


def test_every_operation_says_how_one_is_let_in_and_what_an_error_is(described):
    schemes = described["components"]["securitySchemes"]
    assert schemes["personal_token"]["scheme"] == "bearer" and schemes["page_token"]["name"] == "X-Obverse-Token"
    for name, operation in operations(described):
        problem = operation["responses"]["default"]["content"]["application/problem+json"]["schema"]
        assert problem == {"$ref": "#/components/schemas/Problem"} and "422" not in operation["responses"], name
        ways = [set(way) for way in operation["security"]]
        if name.startswith("get "):
            assert ways == [set(), {"personal_token"}], name
        elif "/api/share/" in name or "/api/pair" in name:
            assert {"personal_token"} not in ways, name
        else:
            assert ways == [{"personal_token"}, {"page_token"}], name


@pytest.mark.parametrize("address", ASKED)
def test_a_real_answer_is_as_described(demo, described, address):
    path = address.split("?")[0]
    known = {
        "permanganate_light": "{id}",
        "iron_ammonia_light": "{key}",
        "teaching-recipe-b-invented": "{id}",
        "teaching-film-a": "{film_id}",
    }
    named = "/".join(known.get(part, part) for part in path.split("/"))
    schema = described["paths"][named]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    answer = demo.get(address)
    assert answer.status_code == 200, answer.text
    whole = {**schema, "components": described["components"]}
    wrong = [
        f"{list(e.instance_path)}: {e.message[:200]}"
        for e in jsonschema_rs.Draft202012Validator(whole).iter_errors(answer.json())
    ]
    assert wrong == []
