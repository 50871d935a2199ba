"""Truths that judge the notebook share nothing with it: no module of a truth imports the house, by any way."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TRUTHS = sorted((ROOT / "benchmarks" / "truths").rglob("*.py"))


def imported(text: str) -> set[str]:
    """First names of everything a module imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add("." if node.level else (node.module or "").split(".")[0])
    return found


@pytest.mark.parametrize("file", TRUTHS, ids=lambda f: str(f.relative_to(ROOT / "benchmarks")))
def test_a_truth_imports_numbers_and_its_own_folder_only(file):
    allowed = {"__future__", "dataclasses", "importlib", "itertools", "math", "pkgutil", "types", "numpy", "scipy", "."}
    assert imported(file.read_text()) <= allowed


def test_loading_every_truth_loads_nothing_of_the_house():
    code = (
        "import sys; from benchmarks.truths import families; found = families(); "
        "print(len(found), sorted(m for m in sys.modules if m.split('.')[0] == 'obverse'))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    count, loaded = done.stdout.strip().split(" ", 1)
    assert int(count) >= 4 and loaded == "[]"


def test_the_check_sees_a_truth_that_cheats():
    assert "obverse" in imported("from obverse.model import density")
