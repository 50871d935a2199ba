"""Bad input through the terminal: one clear sentence, exit code 2 (3 where unsafe), nothing lost."""

import json
import os
import re
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from obverse.cli.main import run

STEPS = [{"log_exposure": -1.5 + 0.15 * n, "density": 2.6 - 0.11 * n} for n in range(21)]
SERIES = {
    "format": "obverse-series",
    "version": 1,
    "film": {"name": "invented film", "box_speed": 100, "base_density": 0.2},
    "controls": {"first_developer_time_min": {"unit": "min", "low": 4, "high": 20, "step": 0.5}},
    "aim": "projection",
    "trials": [{"id": "a", "controls": {"first_developer_time_min": 10}, "steps": STEPS}],
}


def changed(**fields) -> str:
    return json.dumps({**SERIES, **fields})


def trial(**fields) -> str:
    return changed(trials=[{**SERIES["trials"][0], **fields}])


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    folder = tmp_path / "home"
    monkeypatch.setenv("OBVERSE_HOME", str(folder))
    monkeypatch.delenv("OBVERSE_DATABASE", raising=False)
    return folder


def told(capsys, arguments, code=2) -> str:
    """Run; insist on the exit code, one line of stderr, nothing on stdout; return the line."""
    found = run(arguments)
    out, err = capsys.readouterr()
    assert found == code, (found, err)
    assert out == ""
    assert err.count("\n") == 1 and "Traceback" not in err and len(err) > 12
    assert "No such command" not in err or arguments == ["nonsense"]
    return err


SPOILT_SERIES = {
    "empty": "",
    "not json": "{",
    "a list": "[]",
    "nan": trial(steps=[]).replace('"steps": []', '"steps": [{"log_exposure": 0, "density": NaN}]'),
    "infinity": trial(steps=[]).replace('"steps": []', '"steps": [{"log_exposure": Infinity, "density": 1}]'),
    "huge number": trial(steps=[]).replace('"steps": []', '"steps": [{"log_exposure": 1e999, "density": 1}]'),
    "missing film": json.dumps({k: v for k, v in SERIES.items() if k != "film"}),
    "missing density": trial(steps=[{"log_exposure": 0}]),
    "wrong format": changed(format="something-else"),
    "future version": changed(version=2),
    "unknown control": changed(controls={"moon_phase": {"low": 0, "high": 1, "step": 0.1}}),
    "upside-down control": changed(controls={"temperature_c": {"low": 24, "high": 18, "step": 1}}),
    "no step": changed(controls={"temperature_c": {"low": 18, "high": 24, "step": 0}}),
    "unknown aim": changed(aim="moonlight"),
    "same id twice": changed(trials=[SERIES["trials"][0], SERIES["trials"][0]]),
    "negative time": trial(controls={"first_developer_time_min": -3}),
    "absurd density": trial(steps=[{"log_exposure": 0, "density": 40}]),
    "text for a number": trial(steps=[{"log_exposure": "zero", "density": 1}]),
    "unknown field": changed(moon="full"),
    "deep": "[" * 100_000,
    "latin 1": b'{"format": "caf\xe9"}',
    "binary": bytes(range(256)),
}


@pytest.mark.parametrize("command", ["curve", "next", "show"])
@pytest.mark.parametrize("what", SPOILT_SERIES)
def test_spoilt_series(capsys, tmp_path, command, what):
    text = SPOILT_SERIES[what]
    file = tmp_path / "series.json"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    line = told(capsys, [command, str(file)])
    assert "series" in line


SPOILT_LISTS = {
    "no header": "1,2\n3,4\n",
    "missing column": "log_exposure\n0\n",
    "wrong column": "exposure,density\n0,1\n",
    "nan": "log_exposure,density\n0,nan\n1,0.4\n",
    "infinity": "log_exposure,density\n0,inf\n1,0.4\n",
    "text": "log_exposure,density\n0,dark\n",
    "empty cell": "log_exposure,density\n0,\n1,2\n",
    "too many cells": "log_exposure,density\n0,1,2,3,4\n",
    "negative sd": "log_exposure,density,sd\n0,1,-0.1\n0.3,0.8,0.1\n",
    "only a header": "log_exposure,density\n",
    "nothing": "",
    "binary": "\x00\x01\x02",
}


@pytest.mark.parametrize("what", SPOILT_LISTS)
def test_spoilt_lists(capsys, tmp_path, what):
    file = tmp_path / "strip.csv"
    file.write_text(SPOILT_LISTS[what])
    assert "strip.csv" in told(capsys, ["curve", str(file)])


@pytest.mark.parametrize(
    "arguments",
    [
        ["mix", "first_developer", "--volume-ml", "-500"],
        ["mix", "first_developer", "--volume-ml", "0"],
        ["mix", "first_developer", "--volume-ml", "nan"],
        ["mix", "first_developer", "--volume-ml", "inf"],
        ["mix", "first_developer", "--volume-ml", "much"],
        ["mix", "first_developer"],
        ["mix", "moonshine", "--volume-ml", "500"],
        ["mix", "first_developer", "--volume-ml", "500", "--control", "solvent_ml_per_l=-3"],
        ["mix", "first_developer", "--volume-ml", "500", "--control", "moon=3"],
        ["mix", "first_developer", "--volume-ml", "500", "--control", "nonsense"],
        ["mix", "first_developer", "--volume-ml", "500", "--shelf", "nowhere.json"],
        ["curve", "nowhere.csv"],
        ["curve", "/"],
        ["next", "nowhere.json"],
        ["read", "nowhere.tif", "--patches", "21"],
        ["serve", "--port", "99999"],
        ["serve", "--address", "192.168.1.2"],
        ["serve", "--share", "--address", "moon"],
        ["serve", "--share", "--address", "0.0.0.0"],
        ["schema", "camel"],
        ["import", "nowhere.json"],
        ["export", "/nowhere/at/all.json"],
        ["nonsense"],
        ["mix", "--nonsense"],
    ],
    ids=" ".join,
)
def test_impossible_commands(capsys, arguments):
    told(capsys, arguments)


FORMULA = {"format": "obverse-formula", "version": 1, "name": "own bleach", "role": "bleach"}


@pytest.mark.parametrize(
    "component",
    [
        {"substance": "iron_chloride", "concentration": "140 % w/w"},
        {"substance": "iron_chloride", "concentration": "-3 g/L"},
        {"substance": "iron_chloride", "concentration": "nan g/L"},
        {"substance": "iron_chloride", "concentration": "plenty"},
        {"substance": "moon_dust", "concentration": "10 g/L"},
        {"concentration": "10 g/L"},
        {"substance": "iron_chloride"},
    ],
    ids=str,
)
def test_impossible_strengths_and_substances(capsys, tmp_path, component):
    file = tmp_path / "formula.json"
    file.write_text(json.dumps({**FORMULA, "components": [component]}))
    told(capsys, ["mix", str(file), "--volume-ml", "500"])


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not a picture at all",
        b"\xff\xd8\xff\xe0 broken jpeg",
        b"II*\x00\x08\x00\x00\x00",
        b"\x89PNG\r\n\x1a\n broken",
    ],
)
@pytest.mark.parametrize("name", ["p.jpg", "p.tif", "p.png", "p.nef", "p.txt"])
def test_unreadable_pictures(capsys, tmp_path, name, content):
    file = tmp_path / name
    file.write_bytes(content)
    assert name in told(capsys, ["read", str(file), "--patches", "21"])


@pytest.mark.parametrize(
    "command",
    [["curve"], ["next"], ["import"], ["read", "--patches", "21"], ["mix", "--volume-ml", "500"]],
    ids=" ".join,
)
def test_a_huge_file_is_refused_before_it_is_read(capsys, tmp_path, command):
    """300 GB on paper (a sparse file), and no room to read it into: whoever tried would be told of too little memory."""
    file = tmp_path / "huge.json"
    with file.open("wb") as out:
        out.truncate(300 * 1024**3)
    used, limits = int(Path("/proc/self/statm").read_text().split()[0]), resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (used * resource.getpagesize() + 2 * 1024**3, limits[1]))
    try:
        assert "huge.json: the file has" in told(capsys, [command[0], str(file), *command[1:]])
    finally:
        resource.setrlimit(resource.RLIMIT_AS, limits)


@pytest.mark.parametrize("command", [["curve"], ["next"], ["mix", "--volume-ml", "500"]], ids=" ".join)
def test_200_mb_are_refused_in_one_sentence(capsys, tmp_path, command):
    file = tmp_path / "big.json"
    with file.open("wb") as out:
        out.truncate(200 * 1024**2)
    assert "big.json" in told(capsys, [command[0], str(file), *command[1:]])


def test_locked_notebook(capsys, tmp_path, home):
    assert run(["export", str(tmp_path / "first.json")]) == 0
    capsys.readouterr()
    other = sqlite3.connect(home / "notebook.sqlite", isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    document = json.loads((tmp_path / "first.json").read_text())
    document["things"] = [
        {
            "kind": "film",
            "id": "a",
            "created_at": "2031-01-01T00:00:00Z",
            "revisions": [
                {"revision": 1, "changed_at": "2031-01-01T00:00:00Z", "body": {"name": "x", "box_speed": 100}}
            ],
        }
    ]
    (tmp_path / "more.json").write_text(json.dumps(document))
    assert "another program holds the file" in told(capsys, ["import", str(tmp_path / "more.json")])
    other.execute("ROLLBACK")
    other.close()
    assert run(["import", str(tmp_path / "more.json")]) == 0


def test_damaged_notebook(capsys, home):
    home.mkdir()
    (home / "notebook.sqlite").write_bytes(b"holiday pictures " * 500)
    assert "not a notebook of obverse" in told(capsys, ["export", "-"])
    assert (home / "notebook.sqlite").read_bytes() == b"holiday pictures " * 500


def test_the_data_folder_is_a_file(capsys, home):
    home.write_text("")
    assert "data folder" in told(capsys, ["export", "-"])


def test_export_to_a_full_disk_keeps_the_old_file(capsys, tmp_path, monkeypatch):
    file = tmp_path / "old.json"
    file.write_text("old")

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "disk is full" in told(capsys, ["export", str(file), "--force"])
    assert file.read_text() == "old" and sorted(p.name for p in tmp_path.iterdir()) == ["home", "old.json"]


def command_line(arguments, **options):
    return subprocess.run(
        [sys.executable, "-m", "obverse", *arguments],
        capture_output="stdout" not in options,
        text=True,
        timeout=600,
        **options,
    )


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no full device")
def test_output_to_a_full_disk():
    with open("/dev/full", "w") as full:
        process = command_line(["sources"], stdout=full, stderr=subprocess.PIPE)
    assert process.returncode == 2 and process.stderr == "the disk is full; make room and try again.\n"


def test_the_reader_goes_away():
    process = subprocess.Popen(
        [sys.executable, "-m", "obverse", "sources"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    process.stdout.read(10)
    process.stdout.close()
    assert process.stderr.read() == b"" and process.wait(timeout=120) == 0
    process.stderr.close()


def test_ctrl_c_closes_the_house_quietly_even_while_a_phone_listens(home, the_demo):
    shutil.copytree(the_demo, home)
    command = [sys.executable, "-u", "-m", "obverse", "serve", "--port", "0"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    address = next(found[0] for line in process.stdout if (found := re.search(r"http://127\.0\.0\.1:\d+", line)))
    with urllib.request.urlopen(address + "/") as page:
        run_page = re.search(r"/sink/([0-9a-f]+)", page.read().decode())[1]
    with urllib.request.urlopen(f"{address}/api/sink/runs/{run_page}/stream") as stream:
        assert stream.readline().startswith(b"data:")
        process.send_signal(signal.SIGINT)
        _out, err = process.communicate(timeout=120)
        assert stream.read().count(b"Traceback") == 0
    assert (process.returncode, err.strip()) == (0, "")


def test_a_taken_port(capsys, home):
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert "port is taken" in told(capsys, ["serve", "--port", str(taken.getsockname()[1])])


def test_a_mistake_of_ours_is_told_in_one_sentence_too(capsys, monkeypatch):
    monkeypatch.setattr("obverse.workbench.sources.sources_page", lambda: 1 / 0)
    line = told(capsys, ["sources"], code=1)
    assert "mistake of ours" in line and "ZeroDivisionError" in line
