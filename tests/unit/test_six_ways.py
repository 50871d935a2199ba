"""Six ways of working that nobody wrote the house for: each is held in the words it was written in, planned, and printed."""

import json
import re
from pathlib import Path

import pytest

from obverse.process import film_said
from obverse.sheets.process_sheet import sheet_data
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.ready_words import film_line

WAYS = Path(__file__).parents[2] / "examples" / "ways"
# How much film each is for, and what must come of it: seconds in the first developer, its temperature, tank, area in cm2 as width by length.
ASKED = {
    "from_the_supermarket": ("135-36", 780, 24, 500, 577),
    "old_bath_first": ("135 1.2 m", 540, 20, 300, 420),
    "ounces_and_fahrenheit": ("135-36", 720, 20, 950, 577),
    "sheets_in_trays": ("six 4x5 sheets", 480, 20, 1000, 777),
    "sixteen_millimetre": ("16 mm 10 m", 300, 24, 1600, 1600),
    "two_reels_of_120": ("2 x 120", 420, 30, 1000, 1000),
}


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    found = open_workbench(tmp_path_factory.mktemp("ways"), url="sqlite://")
    yield found
    found.close()


@pytest.mark.parametrize("name", sorted(path.stem for path in WAYS.glob("*.json")))
def test_it_is_held_as_told_planned_and_printed(home, name):
    film, first_s, first_c, tank_ml, area_cm2 = ASKED[name]
    written = json.loads((WAYS / f"{name}.json").read_text(encoding="utf-8"))
    process = home.processes.from_document(written)
    for typed, row in zip(written["steps"], home.processes.draft(process).rows, strict=True):
        for field, words in typed.items():
            # Behind a note stands what the house put in where nothing was said.
            assert row[field] == words or (field == "note" and row[field].startswith(words)), (typed["does"], field)
    strip = {"name": "A", "pieces": [piece.model_dump() for piece in film_said(film)]}
    id = home.processes.take_in(written)
    plan = home.sink.plan({"route": id, "strips": [strip]})
    first = plan.action(process.first_development.key)
    assert (first.duration_s, first.temperature_c, plan.tank_ml) == (first_s, first_c, tank_ml)
    assert plan.strips[0].film_area_m2 * 1e4 == pytest.approx(area_cm2, rel=0.08) and "cm" in film_line(plan)
    data = sheet_data(plan, None, "", "a4", None)
    rows = " ".join(f"{row['name']} {row['do']} {row['fate']}" for row in data["film"])
    for step in process.steps:
        assert step.name in rows or f"Rinse after {step.name.lower()}" in rows or step.kind == "dry"
        if step.good_for_films:
            assert re.search(rf"good for {step.good_for_films:g} films", rows)
