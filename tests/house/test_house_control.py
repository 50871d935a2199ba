"""A control is one entry and a law: the example of docs/adding-a-control.md, carried out on a copy of the source."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from obverse.process import ControlVector
from obverse.web.notebook import WhatIf, what_if

ROOT = Path(__file__).resolve().parents[2]

LOOK = """
import json
import numpy as np
from fastapi.testclient import TestClient
from obverse.inference import fit_film, next_strips
from obverse.mixing import with_controls
from obverse.process import CONTROLS, read_series
from obverse.process.catalog import formulas
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench
from pathlib import Path
import tempfile

series = read_series({
    "format": "obverse-series", "version": 1, "film": {"name": "invented", "box_speed": 100, "base_density": 0.2},
    "controls": {name: CONTROLS[name].range.model_dump() for name in ("solvent_ml_per_l", "bromide_g_per_l")},
    "trials": [
        {"id": f"strip {i}", "controls": {"bromide_g_per_l": b}, "steps": [
            {"log_exposure": x, "density": d - lost} for x, d in ((-1.5, 2.6), (-0.5, 2.1), (0.0, 1.3), (0.5, 0.7), (1.2, 0.4))
        ]} for i, (b, lost) in enumerate(((0.0, 0.0), (1.0, 0.1)))
    ],
})
mixed = with_controls(formulas()["first_developer"], {"bromide_g_per_l": 1.5})
fit = fit_film(series, draws=512)
suggested = next_strips(series, fit=fit).document()["suggestions"][0]
varied = {bromide: fit.predict_observables({"bromide_g_per_l": bromide})["dmax"].value for bromide in (0.0, 2.0)}
with tempfile.TemporaryDirectory() as home:
    bench = open_workbench(Path(home), url="sqlite://")
    film = bench.notebook.add_film({"name": "invented", "box_speed": 100})
    client = TestClient(create_app(bench), base_url="http://127.0.0.1")
    pages = {path: client.get(path).text for path in ("/sink", "/bench", "/notebook", f"/notebook/{film.id}", "/light-table")}
    bench.close()
print(json.dumps({
    "mixed": [[c.substance, c.concentration] for c in mixed.components],
    "suggested": suggested["controls"],
    "said": CONTROLS.text({"bromide_g_per_l": 0.4, "solvent_ml_per_l": 8}),
    "dmax": varied,
    "pages": {("film" if film.id in path else path): "bromide_g_per_l" in text and "romide" in text for path, text in pages.items()},
    "column": CONTROLS.place("bromide_g_per_l"),
}))
"""


def _copy_with_the_example(folder: Path) -> Path:
    source = folder / "src"
    # What is compiled already is taken along; files that are just being written are not.
    shutil.copytree(ROOT / "src" / "obverse", source / "obverse", ignore=shutil.ignore_patterns("*.pyc.*"))
    page = (ROOT / "docs" / "adding-a-control.md").read_text(encoding="utf-8")
    entry, law = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    _replace(source / "obverse/process/control.py", "\nclass Controls(", f"\n{entry}\n\nclass Controls(")
    _replace(
        source / "obverse/process/control.py",
        "CONTROLS = Controls(TIME, SOLVENT, ALKALI, TEMPERATURE, DILUTION)",
        "CONTROLS = Controls(TIME, SOLVENT, ALKALI, TEMPERATURE, DILUTION, BROMIDE)",
    )
    _replace(
        source / "obverse/mixing/controls.py", "        ALKALI.key: Addition(", f"{law}        ALKALI.key: Addition("
    )
    return source


def _replace(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{file.name}: {old!r} stands {text.count(old)} times"
    file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.fixture(scope="module")
def seen(tmp_path_factory) -> dict:
    source = _copy_with_the_example(tmp_path_factory.mktemp("sixth"))
    run = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path.insert(0, {str(source)!r})\n{LOOK}"],
        capture_output=True,
        text=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    assert run.returncode == 0, run.stderr[-3000:]
    return json.loads(run.stdout.splitlines()[-1])


def test_every_page_that_asks_for_controls_asks_for_the_new_one(seen):
    assert seen["pages"] == dict.fromkeys(("/sink", "/bench", "/notebook", "film", "/light-table"), True)


def test_it_is_mixed_by_its_law(seen):
    assert ["potassium_bromide", "1.500000 g/L"] in seen["mixed"]


def test_it_is_told_in_line_with_the_others(seen):
    assert seen["said"] == "solvent 8 mL/L, bromide 0.4 g/L"
    assert seen["column"] == 5


def test_the_notebook_learns_and_proposes_it(seen):
    assert set(seen["suggested"]) == {"solvent_ml_per_l", "bromide_g_per_l"}
    assert seen["dmax"]["2.0"] < seen["dmax"]["0.0"]


def _holds(thing: object, value: float, deep: int = 3) -> bool:
    if isinstance(thing, float):
        return abs(thing - value) < 1e-9
    if isinstance(thing, np.ndarray):
        with np.errstate(all="ignore"):  # what is not filled yet holds anything
            return thing.dtype.kind == "f" and bool((np.abs(thing - value) < 1e-9).any())
    if isinstance(thing, dict) and deep:
        return any(_holds(one, value, deep - 1) for one in thing.values())
    inner = getattr(thing, "values" if isinstance(thing, ControlVector) else "controls", None)
    return isinstance(inner, (dict, np.ndarray)) and _holds(inner, value, deep)


def test_a_value_goes_from_the_page_to_the_density_by_the_files_that_the_map_names(workbench):
    film = workbench.notebook.add_film({"name": "followed", "box_speed": 100})
    said = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8").split("## One value")[1].split("## ")[0]
    named = set(re.findall(r"`(\w+/\w+\.py)`", said))
    passed: set[str] = set()

    def look(frame, event, _):
        at = frame.f_code.co_filename.replace(os.sep, "/").partition("/src/obverse/")[2]
        if event == "call" and at and at not in passed and any(_holds(one, 7.6543) for one in frame.f_locals.values()):
            passed.add(at)

    request = SimpleNamespace(app=SimpleNamespace(state=SimpleNamespace(workbench=workbench)))
    sys.setprofile(look)
    try:
        what_if(request, film.id, WhatIf(controls={"solvent_ml_per_l": 7.6543}))
    finally:
        sys.setprofile(None)
    assert named <= passed, named - passed
    assert {at.split("/")[0] for at in passed} == {at.split("/")[0] for at in named}
    assert len({at.split("/")[0] for at in passed}) <= 6
