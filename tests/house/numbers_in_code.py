"""Finds the literal numbers of a module that neither have a name nor need none.

A number needs no name where it is 0, 1, 2, 10, a half, a power of ten, a factor between units, a place in a sequence, a count of
things whose length is asked, a shape that an array is laid out in, a number of digits, an exponent, a square root, a factor of pi, the limit of a refusal (its sentence says it),
the limit that a field or an option declares beside its own name, or a default that the docstring of its function or a description explains, or an example that a schema shows. Anything else is a record of the reference, or a constant in capitals at the head of the module with a
comment that says why it is what it is.
"""

from __future__ import annotations

import ast
import math
import re
from dataclasses import dataclass

PLAIN = {0, 1, 2, 10, 0.5}
# Seconds, minutes, hours, days; the octet.
UNIT_FACTORS = {60, 3600, 24, 86400, 8, 255, 256}
DIGITS = {"round", "rounded"}
SIZES = {"len", "count"}
# Calls whose arguments are a shape.
SHAPES = {"reshape"}
SIZE_NAMES = {"shape", "ndim", "size", "columns", "rows"}
# Keywords by which a declaration names its own limit, a count of draws or digits, an example shown, or how something looks.
SELF_NAMED = {
    "max_length", "min_length", "ge", "le", "gt", "lt", "min", "max", "ndigits", "decimals", "digits", "axis", "indent",
    "examples", "width", "height", "size", "status_code", "exit_code", "length", "base", "maxsize", "stacklevel", "version",
    "http_status",
}  # fmt: skip
CONSTANT = re.compile(r"^_?[A-Z][A-Z0-9_]*$")


@dataclass(frozen=True)
class Offender:
    """A number without a name."""

    line: int
    text: str


def _is_plain(value: complex) -> bool:
    if isinstance(value, (bool, complex)):
        return True
    size = abs(value)
    if size in PLAIN or size in UNIT_FACTORS:
        return True
    return size > 0 and math.isclose(math.log10(size), round(math.log10(size)), abs_tol=1e-12)


def _called(node: ast.AST) -> str:
    if not isinstance(node, ast.Call):
        return ""
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def _asks_a_size(node: ast.AST) -> bool:
    return any(
        _called(part) in SIZES or (isinstance(part, ast.Attribute) and part.attr in SIZE_NAMES)
        for part in ast.walk(node)
    )


def offenders(source: str) -> list[Offender]:
    """Every number of a module that lacks a name, by line."""
    tree = ast.parse(source)
    lines = source.splitlines()
    spared: set[int] = set()
    found: list[Offender] = []

    def spare(node: ast.AST) -> None:
        spared.update(id(part) for part in ast.walk(node))

    for body in [tree.body, *(node.body for node in ast.walk(tree) if isinstance(node, ast.ClassDef))]:
        for statement in body:
            if isinstance(statement, (ast.Assign, ast.AnnAssign)) and statement.value is not None:
                targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
                names = [part for t in targets for part in (t.elts if isinstance(t, ast.Tuple) else [t])]
                if all(isinstance(name, ast.Name) for name in names) and (
                    all(name.id in SELF_NAMED for name in names)
                    or (all(CONSTANT.match(name.id) for name in names) and _has_reason(lines, statement))
                ):
                    spare(statement.value)
    for node in ast.walk(tree):
        if isinstance(node, ast.Subscript):
            spare(node.slice)
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Pow):
            spare(node.right)
        elif isinstance(node, ast.Compare) and any(_asks_a_size(side) for side in [node.left, *node.comparators]):
            for side in [node.left, *node.comparators]:
                if isinstance(side, ast.Constant):
                    spare(side)
        elif isinstance(node, ast.Call):
            if _called(node) in DIGITS and len(node.args) > 1:
                spare(node.args[1])
            if _called(node) in SHAPES:
                for argument in node.args:
                    spare(argument)
            if _called(node) == "sqrt" and isinstance(node.args[0], ast.Constant):
                spare(node.args[0])
            told = any(keyword.arg in ("description", "help") for keyword in node.keywords)
            for keyword in node.keywords:
                if keyword.arg in SELF_NAMED or (told and keyword.arg == "default"):
                    spare(keyword.value)
        elif isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            spare(node.format_spec)
        elif (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)) or (
            isinstance(node, ast.BinOp) and any(_is_pi(side) for side in (node.left, node.right))
        ):
            spare(node)
        elif isinstance(node, ast.If) and isinstance(node.body[-1], ast.Raise):
            # The sentence of the refusal says the limit.
            spare(node.test)
        elif isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            said = ast.get_docstring(node) or ""
            arguments = [*node.args.posonlyargs, *node.args.args]
            pairs = [
                *zip(arguments[len(arguments) - len(node.args.defaults) :], node.args.defaults, strict=True),
                *zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True),
            ]
            for argument, default in pairs:
                if default is not None and re.search(rf"\b{argument.arg}\b", said):
                    spare(default)
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, (int, float))
            and id(node) not in spared
            and not _is_plain(node.value)
        ):
            found.append(Offender(node.lineno, lines[node.lineno - 1].strip()))
    return found


def _is_pi(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) and node.attr == "pi"


def _has_reason(lines: list[str], statement: ast.stmt) -> bool:
    """A comment above (a block of constants shares one), within or behind the statement, or a string below it."""
    inside = lines[statement.lineno - 1 : statement.end_lineno]
    if any("#" in line for line in inside):
        return True
    above = statement.lineno - 2
    while above >= 0 and re.match(r"^\s*(_?[A-Z][A-Z0-9_]*(,\s*)?)+(\s*:.*)?\s*=", lines[above]):
        above -= 1
    if above >= 0 and lines[above].lstrip().startswith("#"):
        return True
    below = statement.end_lineno or statement.lineno
    return below < len(lines) and lines[below].lstrip().startswith('"""')
