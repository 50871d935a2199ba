"""A class name means one thing in the whole house."""

import ast
from collections import defaultdict
from pathlib import Path

SOURCE = Path(__file__).parents[2] / "src" / "obverse"

# Names that still have two owners; the list only ever shrinks.
TWO_MEANINGS: set[str] = {
    "Doubt",
    "Effect",
    "Evidence",
    "Finding",
    "Grid",
    "Look",
    "Place",
    "Portion",
    "Poured",
    "Prior",
    "Record",
    "Scene",
    "Shot",
    "Standing",
    "Strip",
    "Taken",
}


def homes() -> dict[str, list[str]]:
    """Where each class name is defined."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                found[node.name].append(path.relative_to(SOURCE).as_posix())
    return found


def test_a_class_name_has_one_home():
    twice = {name: places for name, places in homes().items() if len(places) > 1 and name not in TWO_MEANINGS}
    assert twice == {}


def test_the_list_of_names_with_two_meanings_holds_no_air():
    found = homes()
    assert [name for name in TWO_MEANINGS if len(found[name]) < 2] == []
