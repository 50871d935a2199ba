"""The API reference: docs/api/ROOM.md for each room, from the docstrings of what its face names in ``__all__``."""

from __future__ import annotations

import dataclasses
import enum
import importlib
import inspect
import re
from pathlib import Path
from types import ModuleType
from typing import Any

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "docs" / "api"
SOURCE = ROOT / "src" / "obverse"
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}\n", re.MULTILINE)


def faces() -> list[str]:
    """Rooms whose face names what is public, by name."""
    return sorted(
        path.parent.name
        for path in SOURCE.glob("*/__init__.py")
        if re.search(r"^__all__ = ", path.read_text(encoding="utf-8"), re.MULTILINE)
    )


def public(room: str) -> list[tuple[str, Any]]:
    """What the face of a room names, in the order of the names."""
    face = importlib.import_module(f"obverse.{room}")
    return [(name, getattr(face, name)) for name in sorted(face.__all__, key=str.casefold)]


def page(room: str) -> str:
    """The page of one room as Markdown."""
    face = importlib.import_module(f"obverse.{room}")
    parts = [f"# `obverse.{room}`\n", f"{inspect.getdoc(face)}\n"]
    parts += [_entry(name, thing) for name, thing in public(room)]
    return "\n".join(parts)


def pages() -> dict[str, str]:
    """File name to text of every page of the reference."""
    index = ["# API reference\n", "From the docstrings of what each room names as public; units stand in the names.\n"]
    for room in faces():
        said = (inspect.getdoc(importlib.import_module(f"obverse.{room}")) or "").split("\n\n")[0]
        index.append(f"- [`obverse.{room}`]({room}.md): {' '.join(said.split())}")
    return {"index.md": "\n".join(index) + "\n", **{f"{room}.md": page(room) for room in faces()}}


def _entry(name: str, thing: Any) -> str:
    if inspect.isclass(thing):
        kind = "enumeration" if issubclass(thing, enum.Enum) else "class"
        parts = [f"## `{name}`\n", f"*{kind}*\n", _said(thing)]
        for method, value in sorted(vars(thing).items()):
            if not method.startswith("_") and (inspect.isfunction(value) or isinstance(value, (property, classmethod))):
                parts.append(f"- `.{method}`: {_first_sentence(value)}")
        return "\n".join(parts) + "\n"
    if inspect.isfunction(thing) or hasattr(thing, "__wrapped__"):
        return f"## `{name}{_signature(thing)}`\n\n{_said(thing)}"
    if isinstance(thing, ModuleType):
        return f"## `{name}`\n\n{_said(thing)}"
    return f"## `{name}`\n\nA value of type `{type(thing).__name__}`.\n"


def _signature(thing: Any) -> str:
    names = []
    star = False
    for parameter in inspect.signature(thing).parameters.values():
        if parameter.kind is parameter.KEYWORD_ONLY and not star:
            names.append("*")
            star = True
        names.append(parameter.name if parameter.default is parameter.empty else f"{parameter.name}=...")
    return f"({', '.join(names)})"


def _first_sentence(value: Any) -> str:
    said = " ".join((inspect.getdoc(value) or "").split("\n\n")[0].split())
    return said or "\N{EN DASH}"


def told(thing: Any) -> dict[str, str]:
    """The sections of a numpydoc docstring by title; what stands before the first is under the empty title."""
    pieces = SECTION.split(inspect.cleandoc(thing.__doc__ or ""))
    return {"": pieces[0], **dict(zip(pieces[1::2], pieces[2::2], strict=True))}


def named_in(body: str) -> set[str]:
    """Names of the entries of a section."""
    heads = re.findall(r"^(\S[^\n]*?)(?: : .*)?$", body, re.MULTILINE)
    return {name.strip(" *") for head in heads for name in head.split(",")}


def _said(thing: Any) -> str:
    """A numpydoc docstring as Markdown; names and types that it leaves to the signature are taken from there."""
    sections = told(thing)
    head, parameters = sections.pop(""), sections.pop("Parameters", "")
    items = [_items(parameters)] if parameters else []
    items += _taken(thing, named_in(parameters))
    parts = {"Parameters": "\n".join(items)} if items else {}
    given = "None" if inspect.isclass(thing) else _type(inspect.signature(thing).return_annotation)
    if given != "None" and not {"Returns", "Yields"} & set(sections):
        parts["Returns"] = f"- `{given}`"
    parts |= {title: _items(body) for title, body in sections.items()}
    return "\n".join([_literal(head.strip()) + "\n", *(f"**{title}**\n\n{body}\n" for title, body in parts.items())])


def _taken(thing: Any, said: set[str]) -> list[str]:
    """Parameters that a docstring leaves to the signature."""
    if inspect.isclass(thing) and not dataclasses.is_dataclass(thing):
        return []
    return [
        f"- `{one.name}` ({_type(one.annotation)}{'' if one.default is one.empty else ', optional'})"
        for one in inspect.signature(thing).parameters.values()
        if one.name not in said
    ]


def _type(annotation: Any) -> str:
    return annotation if isinstance(annotation, str) else getattr(annotation, "__name__", str(annotation))


def _items(body: str) -> str:
    if not re.search(r"^\S", body, re.MULTILINE) or not re.search(
        r"^\S.*(?: : .*)?\n    \S|^\S+ : ", body, re.MULTILINE
    ):
        return _literal(body.strip())
    lines: list[str] = []
    for line in body.strip("\n").splitlines():
        if not line.strip():
            continue
        if line[0] != " ":
            name, _, kind = line.partition(" : ")
            lines.append(f"- `{name}`" + (f" ({_literal(kind)})" if kind else ""))
        else:
            lines[-1] += (": " if lines[-1].endswith(("`", ")")) and not lines[-1].endswith(": ") else " ") + _literal(
                line.strip()
            )
    return "\n".join(lines)


def _literal(text: str) -> str:
    return text.replace("``", "`").replace("<", "&lt;")
