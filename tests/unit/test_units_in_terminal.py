"""The terminal tells in the units of the person and takes what is typed in them; --json stays as it is."""

import json
import re

import pytest

from obverse.cli.main import run
from obverse.workbench.bootstrap import open_workbench

# A figure in mL, g or C with no other unit before it: what a reader of ounces and F should never meet.
METRIC_LEFT = re.compile(
    r"(?<!\()\b\d[\d.]*(?: to | and |-)?[\d.]* (?:°?C|mL|g)\b(?!/|\)| in 2 fills|, syringe| of it| \()"
)
AMOUNTS = (
    ["run", "permanganate_light", "--plan"],
    ["routes", "permanganate_light"],
    ["process", "show", "permanganate_light"],
    ["destroy", "ammonia_bath"],
)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("OBVERSE_DATABASE", raising=False)


def out(capsys, *arguments, code=0) -> str:
    assert run(list(arguments)) == code
    told = capsys.readouterr()
    return told.err if code else told.out


def test_the_notebooks_units_are_told_and_one_call_may_ask_for_others(capsys):
    bench = open_workbench()
    bench.units.keep({"temperature": "f", "fluids": "us", "spoons": "us", "masses": "oz"})
    bench.close()
    for command in AMOUNTS:
        metric, mine = out(capsys, *command, "--units", "metric"), out(capsys, *command)
        assert METRIC_LEFT.search(metric), "else the search would find nothing anyway"
        assert not METRIC_LEFT.search(" ".join(mine.split())), mine
        assert "°F" in mine or "US fl oz" in mine


def test_the_marks_of_the_tool_stay_first_on_a_mix_sheet(capsys):
    told = out(capsys, "mix", "first_developer", "--volume", "16 fl oz", "--units", "us")
    assert "16 US fl oz (473.2 mL)" in told
    # 1 mL of concentrate in 500 mL: 0.95 of it in 473, by a syringe marked in 0.1 mL; a US teaspoon holds 4.929 mL.
    assert re.search(r"0\.9 mL \(0\.183 US tsp\) +rapid fixer.*\n +0\.9 mL, syringe, 0\.1 mL", told)


def test_what_is_typed_in_other_units_is_the_same_evening(capsys):
    plan = ("run", "permanganate_light", "--plan", "--json")
    # 69.8 F is 21 C by the definition of its degree.
    assert out(capsys, *plan, "--tank", "0.6 L", "--temperature", "69.8F") == out(
        capsys, *plan, "--tank-ml", "600", "--temperature-c", "21"
    )
    wall = ("wall", "example", "--focal-mm", "90", "--json")
    feet, metres = (json.loads(out(capsys, *wall, "--throw", said)) for said in ("10 ft", "3.048"))
    assert feet == metres
    assert out(capsys, "air", "--room", "211.888 cu ft") == out(capsys, "air", "--room-m3", "6")


def test_refusals_are_told_in_the_units_of_the_call(capsys):
    wrong = ("run", "permanganate_light", "--plan", "--temperature", "70")
    assert "70 °C is too warm" in out(capsys, *wrong, code=2) or "70 C" in out(capsys, *wrong, code=2)
    assert "158 °F is too warm" in out(capsys, *wrong, "--units", "f", code=2)
    assert "metric, us" in out(capsys, *wrong, "--units", "moons", code=2)
    assert "'5 ft' is no volume" in out(capsys, "destroy", "ammonia_bath", "--volume", "5 ft", code=2)
