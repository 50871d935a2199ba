"""The command for programs: JSON wherever something is told, completion, suggestions, exit codes in the help."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from obverse.cli.main import EXIT_CODES, build, run
from obverse.reference import records
from obverse.workbench.demo import story_series_text

# They serve until they are stopped, or print a JSON document anyhow.
WITHOUT = {"serve", "demo", "schema"}


@pytest.fixture
def series(tmp_path):
    file = tmp_path / "series.json"
    file.write_text(story_series_text(), encoding="utf-8")
    return str(file)


def told(capsys, *arguments):
    assert run(list(arguments)) == 0
    return json.loads(capsys.readouterr().out)


def leaves(command, path=()):
    for name, child in getattr(command, "commands", {}).items():
        yield from leaves(child, (*path, name))
    if path and not getattr(command, "commands", None):
        yield " ".join(path), command


def test_every_command_that_tells_something_tells_it_as_json():
    found = dict(leaves(typer.main.get_command(build())))
    assert set(found) >= WITHOUT
    without = {name for name, command in found.items() if not any("--json" in p.opts for p in command.params)}
    assert without == WITHOUT


def test_every_help_ends_with_the_exit_codes():
    for name, command in leaves(typer.main.get_command(build())):
        assert command.epilog == EXIT_CODES, name
    assert typer.main.get_command(build()).epilog == EXIT_CODES
    for code in ("0 done", "2 bad input", "3 unsafe"):
        assert code in EXIT_CODES


def test_show_of_a_series_is_the_series_with_its_strips(series, capsys):
    document = told(capsys, "show", series, "--json")
    strips = [trial.pop("strip") for trial in document["trials"]]
    given = json.loads(story_series_text())
    assert [t["id"] for t in document["trials"]] == [t["id"] for t in given["trials"]]
    for strip, trial in zip(strips, given["trials"], strict=True):
        base = given["film"]["base_density"]
        assert strip == pytest.approx(
            [max(0, p["density"] - base) for p in sorted(trial["steps"], key=lambda p: p["log_exposure"])], abs=1e-4
        )


def test_show_lists_films(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    assert told(capsys, "show", "--json") == {"films": []}


def test_list_and_sources(tmp_path, capsys):
    file = tmp_path / "strip.csv"
    for encoding in ("utf-8", "utf-16", "cp1252"):
        file.write_text("# gr\u00e5\nlog_exposure,density\n-1,2.4\n0,1.3\n", encoding=encoding)
        patches = told(capsys, "list", str(file), "--json")["patches"]
        assert [(p["log_exposure"], p["density"]) for p in patches] == [(-1, 2.4), (0, 1.3)], encoding
    file.write_bytes(b"\x89PNG\r\n\x1a\n\0\0")
    assert run(["list", str(file)]) == 2 and "not text" in capsys.readouterr().err
    rows = told(capsys, "sources", "--json")["records"]
    assert len(rows) == len(records()) and all(row["standing"] == records()[row["key"]].source.standing for row in rows)


def test_sheet_tells_the_plan_it_printed(tmp_path, capsys):
    document = told(capsys, "sheet", "permanganate_light", "--out", str(tmp_path / "evening.pdf"), "--json")
    assert (tmp_path / "evening.pdf").read_bytes().startswith(b"%PDF") and document["plan"]["tank_ml"] == 500
    assert len(document["plan"]["actions"]) > 20


def test_what_writes_and_keeps_tells_what_it_wrote(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OBVERSE_HOME", "home")
    assert told(capsys, "check-store", "--json") == {"renamed": 0, "orphans": 0, "unreadable": []}
    written = told(capsys, "process", "show", "iron_ammonia_light", "--out", "way.json", "--json")
    assert written["file"] == "way.json"
    # A shipped process that comes back unchanged is the shipped one; another name makes it one's own.
    Path("way.json").write_text(Path("way.json").read_text().replace(json.dumps(written["name"]), '"My own way"'))
    id = told(capsys, "process", "new", "--file", "way.json", "--json")["id"]
    changed = told(capsys, "process", "edit", id, "way.json", "--json")
    assert (changed["id"], changed["revision"], changed["name"]) == (id, 2, "My own way")
    assert told(capsys, "pool", "name", "Northtown", "--json") == {"name": "Northtown"}
    Path("strips.csv").write_text("Film,Nr,First dev,Highlights\ngrey base,1,11:30,murky\n", encoding="utf-8")
    assert told(capsys, "trials", "strips.csv", "--speed", "grey base=100", "--json")["done"]["written"] == 1
    lent = told(capsys, "pool", "export", "grey base", "--out", "lent.json", "--json")
    assert lent["films"] == 1 and lent["strips"] == len(json.loads(Path("lent.json").read_text())["films"][0]["strips"])
    assert len(told(capsys, "pool", "withdraw", "grey base", "--json")["taken_back"]) == lent["strips"] > 0
    exported = told(capsys, "export", "all.json", "--json")
    assert exported["things"] == len(json.loads(Path("all.json").read_text())["things"]) > 3
    made = told(capsys, "backup", "kept", "--json")
    assert Path(made["file"]).is_file() and made["revisions"] > exported["things"]
    again = told(capsys, "restore", "kept", "--home", "another", "--json")
    assert again["revisions"] == made["revisions"] and again["kept_in"].startswith("another")
    assert told(capsys, "import", "all.json", "--json")["events"] == 0


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["mxi"], "there is no command 'mxi'; did you mean mix?"),
        (["recipe", "exprt"], "there is no command 'exprt'; did you mean export?"),
        (["sourc"], "there is no command 'sourc'; did you mean sources?"),
        (["zzz"], "there is no command 'zzz'; `obverse --help` lists the commands."),
    ],
)
def test_a_mistyped_command_gets_those_that_are_written_alike(typed, said, capsys):
    assert run(typed) == 2
    assert capsys.readouterr().err.strip() == said


def test_completion_knows_the_commands():
    environment = {**os.environ, "_OBVERSE_COMPLETE": "complete_bash", "COMP_WORDS": "obverse sou", "COMP_CWORD": "1"}
    found = subprocess.run(
        [sys.executable, "-m", "obverse"], env=environment, capture_output=True, text=True, timeout=120
    )
    assert found.stdout.split() == ["sources"], found.stderr
