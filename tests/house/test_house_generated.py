"""What is generated is fresh: the map of the house, the API reference; the examples run."""

import inspect
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from scripts import api_pages, house_map, portability

ROOT = Path(__file__).parents[2]


def test_the_map_is_drawn_from_the_imports_as_they_are():
    assert house_map.PICTURE.read_text(encoding="utf-8") == house_map.picture(), "run `make docs`"
    assert house_map.PAGE.read_text(encoding="utf-8") == house_map.page(), "run `make docs`"


def test_what_runs_where_is_told_of_every_command_and_page():
    told = portability.page()
    assert portability.PAGE.read_text(encoding="utf-8") == told, "run `make docs`"
    assert set(portability.ASKS) <= set(portability.commands()) and set(portability.PAGES_ASK) <= set(
        portability.pages()
    )
    assert [test for test, *_ in portability.PARTS.values() if not (ROOT / test).is_file()] == []
    assert told.count("\n| `obverse ") > 40 and told.count("\n| `/") > 40


def test_the_map_holds_every_room_and_no_line_leads_up():
    rank = {room: level for level, rooms in enumerate(house_map.floors()) for room in rooms}
    used = house_map.imports()
    assert set(used) <= {*rank, "__init__"} and len(used) > 15
    assert [(room, other) for room, others in used.items() for other in others if rank[other] <= rank[room]] == []


def test_the_way_of_a_value_names_files_that_are_there():
    way = re.findall(r"^\d\. `([\w/.]+)`", house_map.PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    assert 3 <= len(way) <= 6
    assert [name for name in way if not (ROOT / "src" / "obverse" / name).exists()] == []


def test_the_api_reference_is_that_of_the_source():
    pages = api_pages.pages()
    assert {path.name for path in api_pages.FOLDER.glob("*.md")} == set(pages), "run `make docs`"
    for name, text in pages.items():
        assert (api_pages.FOLDER / name).read_text(encoding="utf-8") == text, f"{name}: run `make docs`"


def unsaid(room: str) -> list[str]:
    """What of a room's public functions neither signature nor docstring tells: the shape of an array."""
    found = []
    for name, thing in api_pages.public(room):
        if not (inspect.isfunction(thing) or hasattr(thing, "__wrapped__")):
            continue
        sections, signature = api_pages.told(thing), inspect.signature(thing)
        if re.search(r"\bshape\b|\(\.\.\.", sections[""]):
            continue
        said = api_pages.named_in(sections.get("Parameters", ""))
        arrays = [one.name for one in signature.parameters.values() if re.search("Array|ndarray", str(one.annotation))]
        found += [f"{name}: {array}" for array in arrays if array not in said]
        if re.search("Array|ndarray", str(signature.return_annotation)) and "Returns" not in sections:
            found.append(f"{name}: Returns")
    return found


@pytest.mark.parametrize("room", api_pages.faces())
def test_public_functions_say_the_shape_of_arrays(room):
    assert unsaid(room) == []


def test_a_page_of_the_reference_names_every_parameter_and_what_is_given():
    names = {room: dict(api_pages.public(room)) for room in ("light", "run", "safety")}
    said = {room: re.split(r"^## ", api_pages.page(room), flags=re.MULTILINE) for room in names}
    entries = {entry[1:].split("(")[0].split("`")[0]: entry for room in said for entry in said[room]}
    for room in names.values():
        for name, thing in room.items():
            if inspect.isfunction(thing):
                signature = inspect.signature(thing)
                asked = re.split(r"^\*\*", entries[name].partition("\n")[2], flags=re.MULTILINE)
                told = set(re.findall(r"\w+", " ".join(part for part in asked if part.startswith("Parameters"))))
                assert set(signature.parameters) <= told, name
                assert signature.return_annotation == "None" or any(part.startswith("Returns") for part in asked), name


@pytest.mark.parametrize("example", sorted((ROOT / "examples").glob("*.py")), ids=lambda path: path.stem)
def test_examples_run(example, tmp_path):
    told = subprocess.run(
        [sys.executable, "-W", "error", example],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
        timeout=300,
    )
    assert told.returncode == 0, told.stderr
    assert re.match(r"Strip 1: .*in the aim with probability \d+%\n", told.stdout)
    assert re.search(r"Its first developer: (?:ammonium_thiosulfate|ammonia) \d|No strip of", told.stdout)
