"""CONTRIBUTING.md tells the truth: what it adds is added to a copy of the source, and looked at."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")

LOOK = """
import json, tempfile
from pathlib import Path
from fastapi.testclient import TestClient
from obverse.diagnosis.finding import NAMES
from obverse.process import Trial, read_series
from obverse.process.catalog import formulas, routes
from obverse.reference import number, record, records
from obverse.reference.page import sources_page
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

with tempfile.TemporaryDirectory() as home:
    bench = open_workbench(Path(home), url="sqlite://")
    client = TestClient(create_app(bench), base_url="http://127.0.0.1")
    pages = {path: client.get(path).text for path in ("/shelf/remembered", "/shelf", "/sink")}
    sheet = client.get("/bench/sheet", params={"formula": "stop_acetic", "volume_ml": 500}).text
    bench.close()
trial = Trial(id="one", controls={}, faults=("scratches",), grades=())
print(json.dumps({
    "number": number("practice.run.drip_s"),
    "half_range": record("practice.run.drip_s").half_range,
    "on_sources": "practice.run.drip_s" in sources_page(),
    "formula": [part.concentration for part in formulas()["stop_acetic"].components],
    "sheet": "acetic" in sheet,
    "route": [step.key for step in routes()["permanganate_acetic_stop"].steps],
    "route_on": [path for path in ("/shelf", "/sink") if "Permanganate with a stop bath before it" in pages[path]],
    "fault": list(trial.faults), "fault_name": NAMES["scratches"],
    "listed": pages["/shelf/remembered"].split("<main")[1].count("<li>"),
    "remembered": sum(one.source.standing.value == "from_memory" for one in records().values()),
    "help": 'href="/help/places#shelf"' in pages["/shelf/remembered"],
}))
"""


def block(language: str, name: str) -> str:
    found = re.search(rf"```{language} {name}\n(.*?)```", PAGE, re.DOTALL)
    assert found, f"CONTRIBUTING.md has no block {name}"
    return found[1]


def add_row(file: Path, row: dict) -> None:
    rows = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps([*rows, row], ensure_ascii=False), encoding="utf-8")


def replace(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{file.name}: {old!r} stands {text.count(old)} times"
    file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.fixture(scope="module")
def seen(tmp_path_factory) -> dict:
    source = tmp_path_factory.mktemp("house") / "src"
    # What is compiled already is taken along; files that are just being written are not.
    shutil.copytree(ROOT / "src" / "obverse", source / "obverse", ignore=shutil.ignore_patterns("*.pyc.*"))
    house = source / "obverse"
    add_row(house / "reference/data/practice_sink.json", json.loads(block("json", "record")))
    add_row(house / "process/data/formulas.json", json.loads(block("json", "bath")))
    add_row(house / "process/data/routes.json", json.loads(block("json", "process")))
    replace(house / "process/trial.py", "FAULTS = (\n", f"FAULTS = (\n    {block('python', 'fault').strip()},\n")
    replace(house / "diagnosis/finding.py", "NAMES = {\n", f"NAMES = {{\n{block('python', 'fault-name')}")
    (house / "web/remembered.py").write_text(block("python", "page"), encoding="utf-8")
    (house / "web/templates/shelf/remembered.html").write_text(block("html", "template"), encoding="utf-8")
    app = house / "web/app.py"
    text = app.read_text(encoding="utf-8")
    text = re.sub(r"(from obverse\.web import (?:\(\s*)?)", r"\1remembered, ", text, count=1)
    app.write_text(text, encoding="utf-8")
    replace(app, "_PLACES = (", "_PLACES = (remembered, ")
    run = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path.insert(0, {str(source)!r})\n{LOOK}"],
        capture_output=True,
        text=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    assert run.returncode == 0, run.stderr[-3000:]
    return json.loads(run.stdout.splitlines()[-1])


def test_a_record_is_read_with_its_doubt_and_shown(seen):
    assert (seen["number"], seen["half_range"], seen["on_sources"]) == (15.0, 5.0, True)


def test_a_bath_is_mixed(seen):
    assert seen["formula"] == ["10 g/L"] and seen["sheet"]


def test_a_process_is_offered_on_the_shelf_and_at_the_sink(seen):
    assert seen["route"][1] == "stop" and seen["route_on"] == ["/shelf", "/sink"]


def test_a_fault_can_be_said_of_a_strip(seen):
    assert seen["fault"] == ["scratches"] and seen["fault_name"] == "Scratches"


def test_a_page_is_served_and_knows_its_help(seen):
    assert seen["listed"] == seen["remembered"] > 50 and seen["help"]


def test_a_page_asks_the_workbench_and_the_nouns_alone():
    assert set(re.findall(r"from obverse\.(\w+)", block("python", "page"))) <= {
        "web",
        "workbench",
        "process",
        "foundation",
    }


def test_the_chores_it_names_exist():
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    for chore in set(re.findall(r"`?make ([a-z]+)", PAGE)):
        assert re.search(rf"^{chore}:.*##", makefile, re.MULTILINE), chore


def test_the_places_it_names_are_there():
    for name in set(re.findall(r"`((?:src/obverse|tests|benchmarks|examples)/[\w./-]+)`", PAGE)):
        assert (ROOT / name).exists(), name
