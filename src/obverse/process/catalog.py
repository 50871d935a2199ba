"""The packaged catalogue: substances, products as shops sell them, formulas and routes.

Every entry is generic: no maker, no brand. A person's own products come from their labels.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import TypeVar

from obverse.foundation import InputError, read_document
from obverse.process.process import Process
from obverse.process.product import Formula, Product
from obverse.process.substance import Substance

D = TypeVar("D", Substance, Product, Formula, Process)


def _load(name: str, kind: type[D]) -> dict[str, D]:
    rows = json.loads(files("obverse.process").joinpath(f"data/{name}.json").read_text(encoding="utf-8"))
    found: dict[str, D] = {}
    for row in rows:
        entry = read_document(kind, row, where=f"{name}.json")
        if entry.key in found:
            raise ValueError(f"{name}.json holds {entry.key} twice")
        found[entry.key] = entry
    return found


def choice_among(things: Mapping[str, D]) -> str:
    """The way on where a key is not known: each by its name, with the key that is typed."""
    return "choose one of " + ", ".join(f"{thing.name} ({key})" for key, thing in things.items())


@cache
def substances() -> dict[str, Substance]:
    """All substances by key; the plain key of a salt with hydrates is the anhydrous one."""
    return _load("substances", Substance)


@cache
def products() -> dict[str, Product]:
    """Generic shop products by key."""
    return _load("products", Product)


@cache
def formulas() -> dict[str, Formula]:
    """Generic formulas by key, by active substance."""
    return _load("formulas", Formula)


@cache
def routes() -> dict[str, Process]:
    """Generic process routes by key, the least hazardous first."""
    found = _load("routes", Process)
    return dict(sorted(found.items(), key=lambda item: (item[1].hazard_rank, item[0])))


def substance(key: str, *, where: str = "") -> Substance:
    """The substance of that key.

    Raises
    ------
    InputError
        If we do not know it, with the nearest names.
    """
    try:
        return substances()[key]
    except KeyError:
        words = [w for w in key.replace("-", "_").split("_") if len(w) > 3]
        near = [k for k in substances() if any(w in k for w in words)][:4]
        raise InputError(
            f"the substance {key!r} is not known here",
            where=where,
            remedy="choose " + " or ".join(near)
            if near
            else "choose one from the list of substances on the shelf page",
        ) from None
