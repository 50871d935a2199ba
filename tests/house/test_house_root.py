"""One place puts the others together, and the faces go through it."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from obverse.workbench.bootstrap import Workbench

SOURCE = Path(__file__).resolve().parents[2] / "src" / "obverse"
ROOT_MODULE = "workbench/bootstrap.py"


def _nodes(file: Path, said: str) -> list[ast.AST]:
    """All nodes of a source in which so much stands, a regular expression; of others none, and they are not parsed."""
    text = file.read_text(encoding="utf-8")
    return list(ast.walk(ast.parse(text))) if re.search(said, text) else []


def _places() -> set[str]:
    """Names of the classes over the store: those that inherit `Place`."""
    found = set()
    for file in (SOURCE / "workbench").glob("*.py"):
        for node in _nodes(file, r"\bPlace\b"):
            if isinstance(node, ast.ClassDef) and any(isinstance(b, ast.Name) and b.id == "Place" for b in node.bases):
                found.add(node.name)
    return found


def test_no_place_builds_another():
    places = _places()
    assert {"Shelf", "Sink", "Notebook"} <= places
    built = [
        f"{file.relative_to(SOURCE).as_posix()}:{node.lineno} {node.func.id}"
        for file in SOURCE.rglob("*.py")
        if file.relative_to(SOURCE).as_posix() != ROOT_MODULE
        for node in _nodes(file, rf"\b(?:{'|'.join(places)})\s*\(")
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in places
    ]
    assert built == []


def test_the_faces_do_not_reach_around_the_places_into_the_store():
    reached = [
        f"{file.relative_to(SOURCE).as_posix()}:{node.lineno}"
        for face in ("cli", "web", "sheets")
        for file in (SOURCE / face).rglob("*.py")
        for node in _nodes(file, r"\._?store\b")
        if isinstance(node, ast.Attribute) and node.attr in ("store", "_store")
    ]
    assert reached == []


def test_above_the_store_nobody_sees_a_raw_document():
    """Bodies of the store are built into nouns at its door; above it stand the nouns."""
    above = ("workbench", "cli", "web", "sheets")
    raw = [
        f"{file.relative_to(SOURCE).as_posix()}:{node.lineno} {ast.unparse(node)}"
        for floor in above
        for file in (SOURCE / floor).rglob("*.py")
        for node in _nodes(file, r"\.body\b")
        if isinstance(node, ast.Attribute) and node.attr == "body"
    ]
    # The document of an import is checked before it passes the door, and an answer of the web has a body too.
    allowed = ("workbench/exchange.py", "web/entries.py", "web/guard.py", "web/form_again.py")
    assert [found for found in raw if not found.startswith(allowed)] == []
    pages = [
        f"{page.relative_to(SOURCE).as_posix()}: {found}"
        for page in (SOURCE / "web" / "templates").rglob("*.html")
        for found in re.findall(r"\{[{%][^}]*\.body\b[^}]*\}", page.read_text(encoding="utf-8"))
    ]
    assert pages == []


def test_above_the_store_things_are_kept_by_their_repositories():
    """No call by kind and body: `_store.put("film", {...})` would pass a document that nobody has checked."""
    raw = [
        f"{file.relative_to(SOURCE).as_posix()}:{node.lineno} {node.func.attr}"
        for floor in ("workbench", "cli", "web", "sheets")
        for file in (SOURCE / floor).rglob("*.py")
        for node in _nodes(file, r"store\b")
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in ("put", "get", "list", "retire", "restore", "append_event", "events")
        and ast.unparse(node.func.value).endswith("store")
        and file.name != "exchange.py"
    ]
    assert raw == []


def test_a_place_is_built_once_and_shared(workbench):
    assert workbench.notebook is workbench.notebook
    assert workbench.projector._notebook is workbench.notebook
    assert workbench.sink._notebook is workbench.notebook
    assert workbench.notebook._table is workbench.light_table
    assert workbench.bench._shelf is workbench.recipes._shelf is workbench.shelf
    assert workbench.sink._care is workbench.care


def test_every_place_says_what_it_is():
    assert Workbench.shelf.__doc__ and Workbench.projector.__doc__
