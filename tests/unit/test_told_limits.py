"""What the house holds fast: the limits, defaults and words that its modules name, and what its documents take.

No line that a test runs shows them: they are made where a module is loaded. ``tests/unit/told/limits.json`` has them as they were read, to the last
digit; where a change is meant, ``make told`` writes it anew.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import json
import pkgutil
import re
import typing
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from types import FunctionType, ModuleType
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

import obverse.run
import obverse.workbench
from tests.unit.test_told_everything import FOLDER, WRITE

HOUSES = (obverse.run, obverse.workbench)


def said(value: Any) -> str:
    """A value as one reads it, the same in every process: sets in order, what is called by its name."""
    if hasattr(value, "pattern"):
        return f"/{value.pattern}/ {value.flags}"
    if isinstance(value, (type, FunctionType)):
        return value.__name__
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{said(key)}: {said(one)}' for key, one in value.items())}}}"
    if isinstance(value, (set, frozenset)):
        return f"{{{', '.join(sorted(map(said, value)))}}}"
    if isinstance(value, (tuple, list)):
        return f"({', '.join(map(said, value))})"
    if typing.get_origin(value) is not None:
        return f"{typing.get_origin(value)}: {said(typing.get_args(value))}"
    if is_dataclass(value):
        return f"{type(value).__name__}({', '.join(f'{one.name}={said(getattr(value, one.name))}' for one in fields(value))})"
    # What has no words of its own stands somewhere else in each process.
    return re.sub(r" at 0x[0-9a-f]+", "", repr(value))


def _of_field(field: FieldInfo) -> str:
    begins = "required" if field.is_required() else said(field.default)
    if field.default_factory is not None:
        begins = field.default_factory.__name__
    return " ".join(filter(None, (begins, *map(said, field.metadata), field.description)))


def _of_function(function: FunctionType) -> Iterator[str]:
    for parameter in inspect.signature(function).parameters.values():
        if parameter.default not in (inspect.Parameter.empty, None, ""):
            yield f"{parameter.name}={said(parameter.default)}"


def _assigned(body: list[ast.stmt]) -> Iterator[str]:
    """Names that statements give a value to."""
    for one in body:
        targets = one.targets if isinstance(one, ast.Assign) else [one.target] if isinstance(one, ast.AnnAssign) else []
        for target in targets:
            yield from (part.id for part in ast.walk(target) if isinstance(part, ast.Name))


def _held(module: ModuleType, body: list[ast.stmt], holder: Any, prefix: str = "") -> Iterator[tuple[str, str]]:
    taken = holder.model_fields if isinstance(holder, type) and issubclass(holder, BaseModel) else {}
    made = holder.__dataclass_fields__ if isinstance(holder, type) and is_dataclass(holder) else {}
    for name in _assigned(body):
        if name in taken:
            yield prefix + name, _of_field(taken[name])
        elif name in made:
            # What one must give has no default.
            default = made[name].default
            if not repr(default).startswith("<dataclasses._MISSING"):
                yield prefix + name, said(default)
        elif name in vars(holder):
            yield prefix + name, said(vars(holder)[name])
    for one in body:
        inner = vars(holder).get(getattr(one, "name", ""))
        if isinstance(one, ast.ClassDef):
            yield from _held(module, one.body, inner, f"{prefix}{one.name}.")
        elif isinstance(one, ast.FunctionDef):
            inner = inspect.unwrap(getattr(inner, "fget", None) or getattr(inner, "__func__", inner))
            if isinstance(inner, FunctionType) and (told := " ".join(_of_function(inner))):
                yield f"{prefix}{one.name}()", told


def held() -> dict[str, dict[str, str]]:
    """By module and name."""
    found = {}
    for house in HOUSES:
        for place in pkgutil.walk_packages(house.__path__, f"{house.__name__}."):
            module = importlib.import_module(place.name)
            if told := dict(_held(module, ast.parse(inspect.getsource(module)).body, module)):
                found[place.name.removeprefix("obverse.")] = told
    return found


def test_limits_defaults_and_words_are_what_was_read():
    file, now = FOLDER / "limits.json", held()
    if WRITE:
        file.write_text(json.dumps(now, indent=0, ensure_ascii=False) + "\n", encoding="utf-8")
    kept = json.loads(file.read_text(encoding="utf-8"))
    told = [
        f"{place} {name}: {kept.get(place, {}).get(name)} became {now.get(place, {}).get(name)}"
        for place in {*kept, *now}
        for name in {*kept.get(place, {}), *now.get(place, {})}
        if kept.get(place, {}).get(name) != now.get(place, {}).get(name)
    ]
    assert not told, "\n".join(["`make told` writes it anew, if this is meant:", *told[:20]])
