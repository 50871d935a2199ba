"""What the JSON interface answers, for whoever writes a program against it: the types in the OpenAPI description.

The shapes stand in ``answers.json``, by method and path. They are open: an answer may gain members, and those that are named stay.
Nothing of this is asked while a request is answered; the tests hold the answers against it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from copy import deepcopy
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi import FastAPI
from pydantic.json_schema import JsonSchemaValue, models_json_schema

from obverse.web.failures import PROBLEM_MEDIA_TYPE, Problem
from obverse.workbench.schemas import KINDS, FieldWords, field_words

# Answers that are no JSON, by method and path.
BYTES = {
    "get /api/schemas/{kind}": "application/schema+json",
    "get /api/light-table/pictures/{id}/view.jpg": "image/jpeg",
    "get /api/light-table/pictures/{id}/report.zip": "application/zip",
    "post /api/light-table/export": "text/plain",
    "post /api/projector/photograph": "application/octet-stream",
    "get /api/projector/sample": "application/octet-stream",
}
_REFERENCE = "#/components/schemas/{model}"
READING = ("get", "head", "options")

SECURITY_SCHEMES = {
    "personal_token": {
        "type": "http",
        "scheme": "bearer",
        "description": "A token made at /tokens, for reading or for reading and writing.",
    },
    "page_token": {
        "type": "apiKey",
        "in": "header",
        "name": "X-Obverse-Token",
        "description": "The token that pages of the house carry; scripts use one of their own instead.",
    },
}


@cache
def answer_shapes() -> dict[str, JsonSchemaValue]:
    """The schema of each JSON answer, by method and path such as ``"get /api/shelf"``."""
    text = files("obverse.web").joinpath("answers.json").read_text(encoding="utf-8")
    shapes: dict[str, JsonSchemaValue] = json.loads(text)
    return shapes


@cache
def answer_words() -> dict[str, str]:
    """What the members of answers, bodies and addresses hold, by their name: one name means one thing everywhere."""
    words: dict[str, str] = json.loads(files("obverse.web").joinpath("answer_words.json").read_text(encoding="utf-8"))
    return words


def _say(part: Any, own: Mapping[str, FieldWords] | None = None) -> None:
    """Give every member of a schema its description: its own, what its noun says of it, or what the name means."""
    if isinstance(part, list):
        for one in part:
            _say(one)
    if not isinstance(part, dict):
        return
    members = part.get("properties")
    for key, value in part.items():
        if key != "properties":
            _say(value)
    if isinstance(members, dict):
        for name, member in members.items():
            known = (own or {}).get(name)
            words = (known.description if known else "") or answer_words().get(name, "")
            if words and isinstance(member, dict):
                member.setdefault("description", words)
            _say(member)


class DescribedApp(FastAPI):
    """An application whose description types every answer, says how one is let in, and what an error looks like."""

    def openapi(self) -> JsonSchemaValue:
        """The OpenAPI description."""
        if self.openapi_schema:
            return self.openapi_schema
        document = super().openapi()
        parts = document.setdefault("components", {})
        parts["securitySchemes"] = SECURITY_SCHEMES
        schemas = parts.setdefault("schemas", {})
        schemas["Problem"] = Problem.model_json_schema()
        # Nouns that travel are typed by their own schemas, as `obverse schema` prints them.
        _, nouns = models_json_schema([(noun, "validation") for noun in KINDS.values()], ref_template=_REFERENCE)
        for name, schema in nouns["$defs"].items():
            schemas.setdefault(name, schema)
        for path, operations in document["paths"].items():
            for method, operation in operations.items():
                _describe(operation, method, path)
                for parameter in operation.get("parameters", ()):
                    if words := answer_words().get(parameter["name"], ""):
                        parameter.setdefault("description", words)
        for never_sent in ("HTTPValidationError", "ValidationError"):
            schemas.pop(never_sent, None)
        for name, schema in schemas.items():
            _say(schema, field_words().get(name))
        _say(document["paths"])
        return document


def _describe(operation: JsonSchemaValue, method: str, path: str) -> None:
    answers = operation["responses"]
    # The framework's own shape of a refusal is never sent.
    answers.pop("422", None)
    answers["default"] = {
        "description": "Why it was not answered: problem details (RFC 9457).",
        "content": {PROBLEM_MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    named = f"{method} {path}"
    if named in BYTES:
        kind = BYTES[named]
        shape = {"type": "object"} if kind.endswith("json") else {"type": "string"}
        answers["200"]["content"] = {kind: {"schema": shape}}
    elif named in answer_shapes():
        answers["200"]["content"] = {"application/json": {"schema": deepcopy(answer_shapes()[named])}}
    operation["security"] = _security(method, path)


def _security(method: str, path: str) -> list[dict[str, list[str]]]:
    if path == "/api/pair":
        # There the one-time secret itself is what is shown.
        return []
    if path.startswith("/api/share/"):
        return [{"page_token": []}]
    if method in READING:
        return [{}, {"personal_token": []}]
    return [{"personal_token": []}, {"page_token": []}]
