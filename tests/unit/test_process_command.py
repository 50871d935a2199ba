"""`obverse process ...`: the way entered, shown, changed, compared, judged, planned and printed by commands."""

import json

import pytest

from obverse.cli.main import run
from tests.acceptance_way import WAY


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
