"""Schemas of the documents: a word and an example for every field, checked by a validator of another hand."""

import json

import jsonschema_rs
import pytest

from obverse.cli.main import run
from obverse.foundation import InputError, parse_json, read_document
from obverse.process import read_series
from obverse.workbench.schemas import DIALECT, KINDS, example_of, field_words, nouns_of, schema_of
from scripts import schema_pages

FIELDS_AT_LEAST = 190


def fields(schema):
    """Every field of a schema and of its parts: where it is, its schema, and the whole schema that it stands in."""
    for place, part in {"": schema, **schema.get("$defs", {})}.items():
        for name, field in part.get("properties", {}).items():
            yield f"{place}.{name}", field


def test_no_field_of_any_document_lacks_a_title_a_word_or_an_example():
    found = [(kind, place, field) for kind in KINDS for place, field in fields(schema_of(kind))]
    assert len({place for _, place, _ in found}) > FIELDS_AT_LEAST
    lacking = [
        f"{kind} {place}"
        for kind, place, field in found
        if not field.get("title")
        or not field.get("description", "").endswith(".")
        or not field.get("examples")
        or field["examples"][0] is None
    ]
    assert lacking == [], "give it words and an example in workbench/schemas/fields.json"


def test_every_noun_says_what_it_is():
    lacking = [
        f"{kind} {name}"
        for kind in KINDS
        for name, part in {kind: schema_of(kind), **schema_of(kind).get("$defs", {})}.items()
        if not part.get("title") or not (part.get("description") or "enum" in part)
    ]
    assert lacking == []


def test_the_words_belong_to_fields_that_are_there_and_say_nothing_twice():
    nouns = {noun.__name__: noun for kind in KINDS.values() for noun in nouns_of(kind)}
    assert set(field_words()) <= set(nouns)
    for name, said in field_words().items():
        assert set(said) <= set(nouns[name].model_fields), name
        twice = [f for f, words in said.items() if words.description and nouns[name].model_fields[f].description]
        assert twice == [], name


@pytest.mark.parametrize("kind", KINDS)
def test_another_hand_takes_the_schema_and_its_examples(kind):
    schema = schema_of(kind)
    assert schema["$schema"] == DIALECT and schema["$id"].startswith(f"urn:obverse:schema:{kind}:")
    jsonschema_rs.meta.validate(schema)
    jsonschema_rs.Draft202012Validator(schema).validate(schema["examples"][0])
    for place, field in fields(schema):
        alone = {"$defs": schema.get("$defs", {}), **field}
        assert jsonschema_rs.Draft202012Validator(alone).is_valid(field["examples"][0]), (place, field["examples"])
    with pytest.raises(jsonschema_rs.ValidationError):
        jsonschema_rs.Draft202012Validator(schema).validate({"no": "field of ours"})


@pytest.mark.parametrize("kind", KINDS)
def test_the_house_reads_its_own_example_as_what_it_is(kind):
    read = read_document(KINDS[kind], schema_of(kind)["examples"][0])
    for name, value in example_of(KINDS[kind]).items():
        if isinstance(value, (str, int, float)) and name not in ("changed_at", "created_at", "made_on", "recorded_at"):
            assert getattr(read, name) == value, name


def test_a_later_version_is_told_as_one_and_an_earlier_name_is_read():
    later = {**example_of(KINDS["series"]), "version": 2}
    with pytest.raises(InputError, match=r"it is of version 2, and this program reads up to version 1; bring the"):
        read_series(later)
    route = {**example_of(KINDS["process"]), "format": "obverse-route"}
    assert read_document(KINDS["process"], route).format == "obverse-process"


def test_a_document_at_the_wrong_door_is_told_what_it_is_and_where_it_goes():
    with pytest.raises(
        InputError, match=r"holds a film with its strips, and a recipe is wanted here; take it in on the"
    ):
        read_document(KINDS["recipe"], example_of(KINDS["series"]))
    with pytest.raises(InputError, match="format: it must be 'obverse-recipe'"):
        read_document(KINDS["recipe"], {"format": "of-nobody"})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "it is empty"),
        ('{"a": "b', "it breaks off"),
        ('{"a": 1, ', "it breaks off"),
        ('{"a": x}', "not JSON at line 1"),
    ],
)
def test_a_document_that_is_empty_or_cut_short_is_told_as_such(text, said):
    with pytest.raises(InputError, match=said):
        parse_json(text)


def test_the_command_the_house_and_the_documents_show_the_same(client, capsys):
    pages = schema_pages.pages()
    assert {path.name for path in schema_pages.FOLDER.iterdir()} == set(pages), "run `make docs`"
    for kind in KINDS:
        assert (schema_pages.FOLDER / f"{kind}.schema.json").read_text(encoding="utf-8") == pages[
            f"{kind}.schema.json"
        ], "run `make docs`"
    assert run(["schema", "aim"]) == 0
    answer = client.get("/api/schemas/aim")
    assert json.loads(capsys.readouterr().out) == answer.json() == schema_of("aim")
    assert answer.headers["content-type"] == "application/schema+json"
    assert client.get("/api/schemas/none").status_code == 422
