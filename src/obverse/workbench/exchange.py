"""A whole notebook from elsewhere: what it holds is checked by the nouns before any of it is kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from obverse.foundation import Document, InputError, read_document
from obverse.process import FilmStock, Formula, Product, Recipe, Route, Trial, tool_noun
from obverse.process.shelf import Bottle
from obverse.store import Store
from obverse.store.exchange import read_notebook


def take_in_notebook(store: Store, document: Mapping[str, Any]) -> dict[str, int]:
    """Import an exported notebook: all of it, or at the first contradiction nothing.

    Raises
    ------
    InputError
        If it is no exported notebook, or a thing in it is not what its kind says.
    """
    read_notebook(document)
    things = [
        {**thing, "revisions": [_checked_revision(thing, revision) for revision in thing["revisions"]]}
        for thing in document.get("things", ())
    ]
    return store.import_({**document, "things": things})


def _checked_revision(thing: Mapping[str, Any], revision: Mapping[str, Any]) -> dict[str, Any]:
    check = _CHECKS.get(thing["kind"])
    if check is None:
        return dict(revision)
    where = f"import, {thing['kind']} {thing['id']}, revision {revision['revision']}"
    return {**revision, "body": check(revision["body"], where)}


def _as(noun: type[Document]) -> Callable[[Any, str], dict[str, Any]]:
    # The noun writes every field, so that a page finds what it reads even where a hand-made file left a default out.
    return lambda body, where: read_document(noun, body, where=where).model_dump(mode="json")


def _tool(body: Any, where: str) -> dict[str, Any]:
    return _as(tool_noun(body.get("kind")))(body, where)


def _trial(body: Any, where: str) -> dict[str, Any]:
    number = body.get("number", 0)
    if not isinstance(body.get("film"), str) or not isinstance(number, int):
        raise InputError(
            "a trial names its film, and its number is a whole one", where=where, remedy="export the notebook again"
        )
    links = {name: body.get(name) or "" for name in ("run", "picture", "reading", "recipe", "made_at")}
    return {**body, **links, "number": number, "trial": _as(Trial)(body.get("trial"), where)}


_CHECKS: dict[str, Callable[[Any, str], dict[str, Any]]] = {
    "film": _as(FilmStock),
    "product": _as(Product),
    "bottle": _as(Bottle),
    "tool": _tool,
    "formula": _as(Formula),
    "route": _as(Route),
    "recipe": _as(Recipe),
    "trial": _trial,
}
