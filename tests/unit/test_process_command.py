"""`obverse process ...`: the way entered, shown, changed, compared, judged, planned and printed by commands."""

import io
import json

import pytest

from obverse.cli.main import run
from obverse.clock import SystemClock
from tests.acceptance_way import VARIANTS, WAY

pytestmark = pytest.mark.usefixtures("few_draws")


@pytest.fixture
def at(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    file = tmp_path / "way.json"
    file.write_text(json.dumps(WAY), encoding="utf-8")

    def say(*arguments):
        code = run([str(a) for a in arguments])
        told = capsys.readouterr()
        return code, told.out, told.err

    say.folder, say.way = tmp_path, file
    return say


def test_the_way_by_commands(at):
    assert at("process", "new", "--file", at.way)[:2] == (0, "my_fogging_way\n")
    assert (
        "2. Bleach A: bath equal parts etchant and distilled water; time 6 min"
        in at("process", "show", "my_fogging_way")[1]
    )
    words = at.folder / "words.json"
    at("process", "show", "my_fogging_way", "--words", "--out", words)
    changed = json.loads(words.read_text(encoding="utf-8"))
    changed["steps"][1]["time"] = "5 min"
    words.write_text(json.dumps(changed), encoding="utf-8")
    assert "revision 2" in at("process", "edit", "my_fogging_way", words)[2]
    _, out, _ = at("process", "compare", "my_fogging_way", at.way, "--json")
    assert json.loads(out)["differences"] == [{"where": "Bleach A: time", "first": "5 min", "second": "6 min"}]
    said = json.loads(at("process", "check", "my_fogging_way", "--json")[1])["opinions"]
    assert ("bleach_a", "acid_rinse") in {(one["step"], one["code"]) for one in said}
    assert json.loads(at("run", "my_fogging_way", "--tank-ml", 600, "--plan", "--json")[1])["tank_ml"] == 600
    sheet = at.folder / "evening.pdf"
    assert at("sheet", "my_fogging_way", "--tank-ml", 600, "--out", sheet)[0] == 0 and sheet.read_bytes()[:4] == b"%PDF"
    document = json.loads(at("process", "show", "my_fogging_way", "--json")[1])
    assert document["format"] == "obverse-process" and document["steps"][1]["time_min"] == 5
    rows = json.loads(at("process", "list", "--json")[1])["processes"]
    assert rows[0] == {"id": "my_fogging_way", "name": "My fogging way", "shipped": False, "revision": 2}


SHELF = {
    "format": "obverse-shelf",
    "products": [
        {"key": "print_developer", "name": "print developer", "form": "liquid", "roles": ["paper_developer"]},
        {"key": "hypo", "name": "plain hypo", "form": "solid", "contents": [{"substance": "sodium_thiosulfate_pentahydrate", "strength": "99 % w/w"}]},
        {"key": "strong", "name": "strong ammonia water", "form": "liquid", "contents": [{"substance": "ammonia", "strength": "25 % w/w"}]},
        "wetting_agent",
    ],
}  # fmt: skip


PATCHES = "-1.2,2.2\n-0.6,1.9\n0,1.1\n0.4,0.5\n0.8,0.2\n1.2,0.08\n"


@pytest.fixture
def in_no_time(monkeypatch):
    """Only the steady clock says how long a rehearsal takes, and nobody waits for it; no key is pressed."""
    steady_s, began_s = SystemClock.steady_s, SystemClock().steady_s()
    monkeypatch.setattr(SystemClock, "steady_s", lambda self: began_s + 500 * (steady_s(self) - began_s))
    monkeypatch.setattr("sys.stdin", io.StringIO())


def rehearsed(at, *arguments):
    code, out, _ = at("run", *arguments, "--rehearse", "--by-itself", "--speed", 600)
    return code == 0 and "The evening is over." in out


def test_from_nothing_to_another_darkroom_by_commands(at, in_no_time, monkeypatch):
    """Rehearsed to the end, its strip written, the next proposed, locked, given away, taken in beside other bottles, rehearsed there."""
    id = at("process", "new", "--file", at.way)[1].strip()
    table = at.folder / "strips.csv"
    table.write_text("film,strip,time,solvent,alkali\nInvented grey base,1,11,2.5,8.3\n", encoding="utf-8")
    assert at("trials", table, "--speed", "Invented grey base=100")[0] == 0
    assert rehearsed(at, id)
    readings = at.folder / "readings.csv"
    readings.write_text(f"log_exposure,density\n{PATCHES}", encoding="utf-8")
    controls = ("first_developer_time_min=11", "solvent_ml_per_l=2.5", "alkali_ml_per_l=8.33")
    assert at("trial", "Invented grey base", *controls, "--name", "2", "--readings", readings)[0] == 0
    assert "in 600 mL: solvent" in at("next", "Invented grey base", "--tank-ml", 600)[1]
    assert at("recipe", "lock", "Invented grey base", "2", "Mine", "--process", id, "--anyway")[:2] == (0, "mine\n")
    recipe, shelf = at.folder / "recipe.json", at.folder / "shelf.json"
    assert at("recipe", "export", "mine", "--out", recipe)[0] == 0
    assert "stood here already" in at("recipe", "import", recipe)[1]
    shelf.write_text(json.dumps(SHELF), encoding="utf-8")
    monkeypatch.setenv("OBVERSE_HOME", str(at.folder / "there"))
    assert "strong ammonia water" in at("import", shelf)[1]
    assert "stood on the shelf already" in at("import", shelf)[1]
    assert at("recipe", "import", recipe)[1].startswith("Mine is kept")
    plan = json.loads(at("run", "--recipe", "mine", "--plan", "--json")[1])
    first = next(bath for bath in plan["baths"] if bath["formula"].endswith("first_developer"))
    assert plan["tank_ml"] == 600
    assert {portion["product"] for portion in first["portions"]} == {"print_developer", "hypo", "strong"}
    assert rehearsed(at, "--recipe", "mine")


# What the first developer of each variant takes of bottles that stand in the other darkroom.
THERE = {"light": {"print_developer", "hypo", "strong"}, "peroxide": {"print_developer", "hypo", "strong"}, "plain": {"print_developer"}}  # fmt: skip


@pytest.mark.parametrize("name", list(THERE))
def test_its_variants_go_the_same_way_by_commands(at, in_no_time, monkeypatch, name):
    """Entered, judged, planned, printed, its strip read, locked, given away, and run beside other bottles."""
    given = at.folder / "given.json"
    given.write_text(json.dumps(VARIANTS[name]), encoding="utf-8")
    id = at("process", "new", "--file", given)[1].strip()
    assert json.loads(at("run", id, "--plan", "--json")[1])["tank_ml"] == 600
    readings, table, sheet, recipe, shelf = (
        at.folder / file for file in ("readings.csv", "strips.csv", "evening.pdf", "recipe.json", "shelf.json")
    )
    table.write_text("film,strip,time\nInvented grey base,1,9\n", encoding="utf-8")
    readings.write_text(f"log_exposure,density\n{PATCHES}", encoding="utf-8")
    assert at("trials", table, "--speed", "Invented grey base=100")[0] == 0
    solvent, alkali = (0, 0) if name == "plain" else (2.5, 8.33)
    controls = ("first_developer_time_min=9", f"solvent_ml_per_l={solvent}", f"alkali_ml_per_l={alkali}")
    assert at("trial", "Invented grey base", *controls, "--name", "2", "--readings", readings)[0] == 0
    assert at("recipe", "lock", "Invented grey base", "2", "Mine", "--process", id, "--anyway")[0] == 0
    assert at("sheet", id, "--out", sheet)[0] == 0 and sheet.read_bytes()[:4] == b"%PDF"
    assert at("recipe", "export", "mine", "--out", recipe)[0] == 0
    shelf.write_text(json.dumps(SHELF), encoding="utf-8")
    monkeypatch.setenv("OBVERSE_HOME", str(at.folder / "there"))
    at("import", shelf)
    assert at("recipe", "import", recipe)[1].startswith("Mine is kept")
    plan = json.loads(at("run", "--recipe", "mine", "--plan", "--json")[1])
    first = next(bath for bath in plan["baths"] if bath["formula"].endswith("first_developer"))
    assert plan["tank_ml"] == 600 and {portion["product"] for portion in first["portions"]} == THERE[name]
    assert rehearsed(at, "--recipe", "mine")


def test_a_process_is_begun_from_a_shipped_one(at):
    assert at("process", "new", "Mine", "--from", "permanganate_light")[:2] == (0, "mine\n")
    assert at("process", "compare", "mine", "permanganate_light")[1] == "The two ask for the same work.\n"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("process", "show", "nowhere"), "no process is called 'nowhere'"),
        (("process", "new", "!"), "needs a name"),
        (("process", "new", "x", "--from", "evening:last"), "no evening is kept yet"),
        (("process", "edit", "permanganate_light", "way.json"), "no such file"),
    ],
)
def test_what_cannot_be_is_one_sentence(at, arguments, words):
    code, _, err = at(*arguments)
    assert code == 2 and words in err and len(err.splitlines()) == 1
