"""A class name means one thing in the whole house."""

import ast
from collections import defaultdict
from pathlib import Path

SOURCE = Path(__file__).parents[2] / "src" / "obverse"


def homes() -> dict[str, list[str]]:
    """Where each class name is defined."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                found[node.name].append(path.relative_to(SOURCE).as_posix())
    return found


def test_a_class_name_has_one_home():
    twice = {name: places for name, places in homes().items() if len(places) > 1}
    assert twice == {}
