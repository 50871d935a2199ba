"""Every number has a record, every record a source, and the page of sources is fresh."""

import ast
import json
import re
from pathlib import Path

import pytest

from obverse.foundation import Standing
from obverse.process import AIMS
from obverse.reference import (
    UncertaintyKind,
    hazard_rows,
    incompatible_pairs,
    records,
    shelf_life_rows,
    sources_page,
    waste_jug_rows,
)
from obverse.reference.rows import PUBLISHED_FILES

SOURCE = Path(__file__).parents[2] / "src" / "obverse"
LOOKS_LIKE_A_KEY = re.compile(r"^[a-z][a-z0-9_]*(\.[a-z0-9_+-]+)+$")


def keys_in(path: Path) -> list[tuple[int, str]]:
    """Literal keys in calls of number("...") and record("..."), and in source="..."."""
    found = []
    text = path.read_text(encoding="utf-8")
    if not re.search(r"\b(?:number|record)\(|\bsource=", text):
        return found
    for node in ast.walk(ast.parse(text)):
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


COLLECTIONS = sorted(
    path
    for path in (SOURCE / "reference" / "data").glob("*.json")
    if path.stem in PUBLISHED_FILES or path.stem.startswith("practice_")
)


@pytest.mark.parametrize("path", COLLECTIONS, ids=lambda path: path.stem)
def test_rows_are_sorted_and_stand_over_several_lines(path):
    """So that a change of one number is a change of one line."""
    text = path.read_text(encoding="utf-8")
    rows = sorted(json.loads(text), key=lambda row: row["key"])
    assert text == json.dumps(rows, indent=1, ensure_ascii=False) + "\n", (
        "write the rows sorted by key, json.dumps(rows, indent=1, ensure_ascii=False)"
    )


FIELDS = ("key", "quantity", "value", "unit", "uncertainty", "valid", "place", "source", "standing")
MORE_FIELDS = ("inputs", "note", "partly_memory")
NEVER_ABSENT = {"key", "quantity", "value", "unit", "uncertainty", "source", "standing"}


@pytest.mark.parametrize("path", COLLECTIONS, ids=lambda path: path.stem)
def test_rows_have_the_fields_of_a_row_in_their_order(path):
    for row in json.loads(path.read_text(encoding="utf-8")):
        assert list(row) == [name for name in (*FIELDS, *MORE_FIELDS) if name in row], row["key"]
        assert set(row) >= NEVER_ABSENT, row["key"]
        if row["uncertainty"] is not None:
            assert list(row["uncertainty"]) == ["kind", "value"], row["key"]
            assert row["uncertainty"]["kind"] in list(UncertaintyKind), row["key"]
        if "valid" in row:
            assert len(row["valid"]) == 2 and row["valid"][0] < row["valid"][1], row["key"]


def test_a_doubt_is_read_only_as_what_it_is():
    found = records()
    density, slope, transfer, criterion, mass = (
        found[key]
        for key in ("density.acetic.10pct", "density.dilute_salt_slope", "vapour.transfer", "iso6-crit", "mm.ammonia")
    )
    assert density.sd == pytest.approx(density.half_range / 3**0.5)
    assert slope.sd == 0.3 and transfer.factor == 3.0 and criterion.allowed == 0.05 and mass.within == 0.02
    for record, name in (
        (slope, "half_range"),
        (transfer, "sd"),
        (transfer, "within"),
        (criterion, "within"),
        (mass, "sd"),
    ):
        with pytest.raises(TypeError, match=record.key):
            getattr(record, name)


# The collectors named the document of the others, but no page, table or address in it.
LOOKED_UP_WITHOUT_A_PLACE = 116


def test_no_more_looked_up_rows_lack_a_place():
    rows = [row for row in records().values() if row.source.standing is Standing.LOOKED_UP]
    assert len([row for row in rows if not row.place]) <= LOOKED_UP_WITHOUT_A_PLACE


def test_the_aims_are_their_records():
    for name, aim in AIMS.items():
        for field, value in aim.model_dump().items():
            if field != "name" and value is not None:
                row = records()[f"aim.{name}.{field}"]
                assert row.value == value and row.source.standing is Standing.COMMON_PRACTICE, row.key


def test_practice_files_upgrade_nothing():
    """What a room adds is practice, memory or arithmetic, or repeats a looked-up record that it names."""
    found = records()
    for path in (SOURCE / "reference" / "data").glob("practice_*.json"):
        for row in json.loads(path.read_text(encoding="utf-8")):
            if row["standing"] == "looked_up":
                named = found.get(row["source"].split()[0])
                by_record = named is not None and named.source.standing is Standing.LOOKED_UP
                assert by_record or "http" in row["source"], (path.name, row["key"])


def test_the_page_of_sources_tells_each_number_as_it_is_used():
    told = dict(re.findall(r"^\| `([^`]+)` \| .*? \| (-?\d[\d.e+-]*)(?= )", sources_page(), re.MULTILINE))
    numbers = {key: row.value for key, row in records().items() if isinstance(row.value, (int, float))}
    assert len(numbers) > 500
    assert {key: told.get(key) for key, value in numbers.items() if float(told.get(key, "nan")) != value} == {}
