"""No sentence of the product calls anything safe; where the word stands, it is denied, or it is no English of ours."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
SPOKEN = [
    path
    for pattern in (
        "src/obverse/**/*.py",
        "src/**/*.json",
        "src/**/*.html",
        "src/**/*.js",
        "src/**/*.typ",
        "docs/*.md",
        "README.md",
    )
    for path in ROOT.glob(pattern)
    if "vendor" not in path.parts
]
WORD = re.compile(r"\b(safe|safely|harmless|unhazardous|no danger)\b", re.I)
# Where nothing is claimed: a denial, a data sheet's name, a template's or a library's word.
DENIED = re.compile(
    r"never|nothing|not |no finding|safety data|\|\s*safe|sameas|safe-area|urlsafe|threadsafe|says? that|make[s]? .*harmless|made harmless|harmless the same",
    re.I,
)


def spoken(path):
    """Lines that a person may read: of Python its strings (docstrings where they are shown, or are about hazards), of all else everything."""
    text = path.read_text(encoding="utf-8")
    if not WORD.search(text):
        return []
    if path.suffix != ".py":
        return text.splitlines()
    nodes = list(ast.walk(ast.parse(text)))
    shown = {"cli", "web", "safety"} & set(path.parts)
    documents = {
        id(n.body[0].value)
        for n in nodes
        if isinstance(n, ast.Module | ast.ClassDef | ast.FunctionDef) and n.body and isinstance(n.body[0], ast.Expr)
    }
    strings = [
        n.value
        for n in nodes
        if isinstance(n, ast.Constant) and isinstance(n.value, str) and (shown or id(n) not in documents)
    ]
    return [line for value in strings for line in value.splitlines()]


def test_nothing_is_called_safe():
    told = [
        f"{path.relative_to(ROOT)}, line or string {number}: {line.strip()[:120]}"
        for path in SPOKEN
        for number, line in enumerate(spoken(path), start=1)
        if WORD.search(line) and not DENIED.search(line)
    ]
    assert told == []
    # Files of every kind are looked at, and denials are there to be found.
    assert {path.suffix for path in SPOKEN} == {".py", ".json", ".html", ".js", ".typ", ".md"}
    assert any(spoken(path) for path in SPOKEN)
