"""Every number has a record, every record a source, and the page of sources is fresh."""

import ast
import json
import re
from pathlib import Path

from obverse.foundation import Standing
from obverse.reference import hazard_rows, incompatible_pairs, records, shelf_life_rows, waste_jug_rows

SOURCE = Path(__file__).parents[2] / "src" / "obverse"
LOOKS_LIKE_A_KEY = re.compile(r"^[a-z][a-z0-9_]*(\.[a-z0-9_+-]+)+$")


def keys_in(path: Path) -> list[tuple[int, str]]:
    """Literal keys in calls of number("...") and record("..."), and in source="..."."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        first = node.args[0] if node.args else None
        if name in ("number", "record") and isinstance(first, ast.Constant) and isinstance(first.value, str):
            found.append((node.lineno, first.value))
        for keyword in node.keywords:
            if (
                keyword.arg == "source"
                and isinstance(keyword.value, ast.Constant)
                and isinstance(keyword.value.value, str)
            ) and LOOKS_LIKE_A_KEY.match(keyword.value.value):
                found.append((node.lineno, keyword.value.value))
    return found


def known() -> set[str]:
    return {*records(), *(pair.key for pair in incompatible_pairs())}


def test_every_key_in_the_source_resolves():
    found = [(path.name, *place) for path in SOURCE.rglob("*.py") for place in keys_in(path)]
    assert len(found) > 20
    assert [place for place in found if place[2] not in known()] == []


def test_every_key_in_the_data_resolves():
    missing = []
    for path in (SOURCE / "process" / "data").glob("*.json"):

        def look(value, path=path):
            if isinstance(value, dict):
                source = value.get("source", "")
                if isinstance(source, str) and LOOKS_LIKE_A_KEY.match(source) and source not in known():
                    missing.append((path.name, source))
                for item in value.values():
                    look(item)
            elif isinstance(value, list):
                for item in value:
                    look(item)

        look(json.loads(path.read_text(encoding="utf-8")))
    assert missing == []


def test_every_looked_up_row_names_its_place():
    rows = [(record.key, record.source) for record in records().values()]
    rows += [(pair.key, pair.source) for pair in incompatible_pairs()]
    rows += [(row.substance, row.source) for row in hazard_rows()]
    rows += [(row.solution, row.source) for row in shelf_life_rows()]
    rows += [(row.jug, row.source) for row in waste_jug_rows()]
    assert len(rows) > 500
    assert [key for key, source in rows if source.standing is Standing.LOOKED_UP and len(source.text.split()) < 2] == []
    assert [
        key
        for key, source in rows
        if not source.text.strip() and source.standing in (Standing.LOOKED_UP, Standing.COMPUTED)
    ] == []


def test_practice_files_upgrade_nothing():
    """What a room adds is practice, memory or arithmetic, or repeats a looked-up record that it names."""
    found = records()
    for path in (SOURCE / "reference" / "data").glob("practice_*.json"):
        for row in json.loads(path.read_text(encoding="utf-8")):
            if row["standing"] == "looked_up":
                named = found.get(row["source"].split()[0])
                by_record = named is not None and named.source.standing is Standing.LOOKED_UP
                assert by_record or "http" in row["source"], (path.name, row["key"])
