"""What documents look like: JSON schemas (draft 2020-12) with a word and an example for every field.

The shapes come from the nouns themselves; words and examples that a noun does not carry stand in ``fields.json``, by class and
field. An example of what is made of parts is composed of the examples of its parts.
"""

from __future__ import annotations

import json
import types
from functools import cache
from importlib.resources import files
from typing import Any, Union, get_args, get_origin

from pydantic.json_schema import JsonSchemaValue

from obverse.foundation import Document, InputError, JsonObject, newest_version
from obverse.process import (
    Aim,
    BathByBottles,
    FilmStock,
    Formula,
    Process,
    Product,
    Recipe,
    Series,
    ShelfDocument,
    Trial,
)
from obverse.workbench.nouns import NotebookDocument

DIALECT = "https://json-schema.org/draft/2020-12/schema"

# Documents that others may write, by the name that `obverse schema` takes.
KINDS: dict[str, type[Document]] = {
    "series": Series,
    "recipe": Recipe,
    "formula": Formula,
    "product": Product,
    "shelf": ShelfDocument,
    "bath": BathByBottles,
    "process": Process,
    "film": FilmStock,
    "aim": Aim,
    "trial": Trial,
    "notebook": NotebookDocument,
}


class FieldWords(Document):
    """What is said of one field.

    Parameters
    ----------
    description : str
        Empty where the noun itself carries it.
    example : Any
        None where it is composed of the examples of its parts.
    alone : bool
        True where the example cannot stand beside those of the other fields; one composed of parts leaves it out.
    """

    description: str = ""
    example: Any = None
    alone: bool = False


@cache
def field_words() -> dict[str, dict[str, FieldWords]]:
    """What ``fields.json`` says, by class and field."""
    text = files("obverse.workbench.schemas").joinpath("fields.json").read_text(encoding="utf-8")
    return {
        noun: {name: FieldWords.model_validate(said) for name, said in fields.items()}
        for noun, fields in json.loads(text).items()
    }


def schema_of(kind: str) -> JsonObject:
    """The JSON schema of a document.

    Parameters
    ----------
    kind : str
        One of `KINDS`.

    Returns
    -------
    dict
        A schema of draft 2020-12; each field has a title, a description and an example.

    Raises
    ------
    InputError
        If no document is called so.
    """
    if kind not in KINDS:
        raise InputError(f"there is no document called {kind!r}", remedy=f"use one of {', '.join(KINDS)}")
    noun = KINDS[kind]
    nouns = {one.__name__: one for one in nouns_of(noun)}
    schema = noun.model_json_schema()
    for name, part in {noun.__name__: schema, **schema.get("$defs", {})}.items():
        if name in nouns:
            _say(part, nouns[name])
    # What carries no version changes with what it stands in; the first is as good as any.
    version = newest_version(noun) or 1
    return {"$schema": DIALECT, "$id": f"urn:obverse:schema:{kind}:{version}", **schema, "examples": [example_of(noun)]}


def example_of(noun: type[Document]) -> JsonObject:
    """A whole example of a noun, composed of the examples of its fields."""
    return {name: _example(noun, name) for name in noun.model_fields if not _words(noun, name).alone}


def nouns_of(noun: type[Document]) -> list[type[Document]]:
    """A noun and all nouns that stand in it."""
    found: list[type[Document]] = []

    def walk(kind: Any) -> None:
        if isinstance(kind, type) and issubclass(kind, Document) and kind not in found:
            found.append(kind)
            for field in kind.model_fields.values():
                walk(field.annotation)
        for part in get_args(kind):
            walk(part)

    walk(noun)
    return found


def _say(schema: JsonSchemaValue, noun: type[Document]) -> None:
    for name, field in schema["properties"].items():
        words = _words(noun, name)
        said = noun.model_fields[name].description or words.description
        field["description"] = said[:1].upper() + said[1:] + ("." if said and not said.endswith(".") else "")
        field.setdefault("title", name.replace("_", " ").capitalize())
        field["examples"] = [_example(noun, name)]


def _words(noun: type[Document], name: str) -> FieldWords:
    return field_words().get(noun.__name__, {}).get(name, FieldWords())


def _example(noun: type[Document], name: str) -> Any:
    words = _words(noun, name)
    if words.example is not None:
        return words.example
    field = noun.model_fields[name]
    composed = _of_parts(field.annotation)
    # A default that says something is an example too.
    return composed if composed is not None or field.is_required() else (field.get_default() or None)


def _of_parts(kind: Any) -> Any:
    """An example of a type that is made of nouns; None where it is not."""
    if isinstance(kind, type) and issubclass(kind, Document):
        return example_of(kind)
    origin, parts = get_origin(kind), get_args(kind)
    if origin is tuple:
        return [_of_parts(parts[0])]
    if origin is dict:
        return {"first_developer_time_min": _of_parts(parts[1])}
    if origin in (Union, types.UnionType) or hasattr(kind, "__metadata__"):
        return next((found for part in parts if (found := _of_parts(part)) is not None), None)
    return None
