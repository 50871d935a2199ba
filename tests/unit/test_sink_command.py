"""obverse run: plan, rehearsal, pipe, terminal large and small, leaving and coming back."""

import fcntl
import io
import json
import os
import pty
import re
import select
import struct
import subprocess
import sys
import termios
import time
from types import SimpleNamespace

import pytest

from obverse.cli.main import run as command


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    return tmp_path


@pytest.fixture
def piped(capsys, monkeypatch):
    """The command with keys from no keyboard and words to no terminal, here; one test below asks it through real pipes."""
    monkeypatch.setenv("COLUMNS", "200")

    def told(*arguments, keys=""):
        monkeypatch.setattr("sys.stdin", io.StringIO(keys))
        code = command(["run", *arguments])
        out, err = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=out, stderr=err)

    return told


def test_the_plan_as_words_and_as_json(capsys):
    assert command(["run", "iron_ammonia_fogging", "--plan", "--temperature-c", "21"]) == 0
    told = capsys.readouterr().out
    assert (
        "proved: Two hands suffice" in told
        and "[light out]" in told
        and "fill 1 of 3, 2 % of the bath left" in told
        and "Labels, safety data sheets and local codes come first." in told
    )
    assert (
        command(
            [
                "run",
                "iron_ammonia_fogging",
                "--plan",
                "--json",
                "--control",
                "first_developer_time_min=8",
                "--without",
                "fixing",
            ]
        )
        == 0
    )
    plan = json.loads(capsys.readouterr().out)
    assert plan["holds"] is True
    assert next(a for a in plan["actions"] if a["key"] == "first_development")["duration_s"] == 480
    assert not any(a["step"] == "fixing" for a in plan["actions"])


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["run"], "no process"),
        (["run", "nowhere"], "no process is called"),
        (["run", "iron_ammonia_light", "--temperature-c", "30"], "too warm"),
        (["run", "iron_ammonia_light", "--control", "first_developer_time_min"], "NAME=NUMBER"),
        (["run", "iron_ammonia_light", "--control", "x=1", "--json"], "not one JSON document"),
        (["run", "iron_ammonia_light", "--by-itself"], "only a rehearsal"),
        (["run", "--resume", "last"], "no evening is open"),
        (["run", "--resume", "nowhere"], "no evening is kept"),
        (["run", "iron_ammonia_light", "--rehearse", "--speed", "1e9"], "rehearsal cannot go"),
        (["run", "iron_ammonia_light", "--film", "nowhere"], "no film is kept"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_code_2(arguments, word, capsys):
    assert command(arguments) == 2
    told = capsys.readouterr().err
    assert word in told and told.count("\n") == 1 and "Traceback" not in told


def test_a_whole_rehearsal_through_a_pipe():
    way = "permanganate_light --rehearse --speed 600 --by-itself --pace 0.3 --without fixing --without wash_aid"
    told = subprocess.run(
        [sys.executable, "-m", "obverse", "run", *way.split()],
        input="",
        capture_output=True,
        text=True,
        timeout=300,
        env={**os.environ, "COLUMNS": "200"},
    )
    assert told.returncode == 0, told.stderr
    assert "REHEARSAL, nothing is booked" in told.stdout and "The evening is over." in told.stdout
    numbers = [int(n) for n in re.findall(r"^\[(\d+)/\d+\]", told.stdout, re.M)]
    assert numbers == sorted(numbers) and set(numbers) == set(range(1, max(numbers) + 1))
    assert "Turn it over 4 times." in told.stdout


def test_words_through_a_pipe_leave_and_come_back(piped):
    told = piped("permanganate_light", keys="\nt 20.5\nt warm\n+ 30\nn a note\nwhat\np\np\n\nq\n")
    assert told.returncode == 0, told.stderr
    for words in (
        "Lay out the evening",
        "Noted: 20.5 C.",
        "'warm' is not a number",
        "30 seconds longer",
        "Written down.",
        "is no command here",
        "Paused.",
        "On it goes.",
        "come back with",
    ):
        assert words in told.stdout, words
    run = re.search(r"--resume (\w+)", told.stdout)[1]
    # The end of the input is no touch: the evening stays open.
    again = piped("--resume", "last", keys="\n")
    assert f"Evening {run}" in again.stdout and "[2/" in again.stdout and "[3/" in again.stdout
    ended = piped("--resume", run, keys="abort the tank leaks\n")
    assert "Ended early: the tank leaks" in ended.stdout
    assert piped("--resume", run).returncode == 2


def test_at_a_terminal_of_any_size():
    parent, child = pty.openpty()

    def of_size(rows: int, columns: int) -> None:
        fcntl.ioctl(parent, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    of_size(6, 40)
    environment = {
        name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES", "NO_COLOR")
    } | {"TERM": "xterm-256color"}
    process = subprocess.Popen(
        [sys.executable, "-m", "obverse", "run", "permanganate_light"],
        stdin=child,
        stdout=child,
        stderr=child,
        env=environment,
    )
    os.close(child)
    shown = ""

    def until(words: str, seconds: float = 120) -> None:
        nonlocal shown
        end = time.monotonic() + seconds
        while words not in re.sub(r"\x1b\[[0-9;?]*[A-Za-z]|\s+", "", shown):
            assert time.monotonic() < end, f"{words!r} was never shown: {shown[-800:]!r}"
            if select.select([parent], [], [], 0.2)[0]:
                try:
                    shown += os.read(parent, 65536).decode(errors="replace")
                except OSError:
                    break

    try:
        until("Enterbegins")
        os.write(parent, b"\n")
        until("1of43")
        of_size(40, 120)
        os.write(parent, b" ")
        until("2of43")
        of_size(6, 40)
        os.write(parent, b"t 20.5\n")
        until("Noted")
        os.write(parent, b"q")
        until("comebackwith")
        assert process.wait(timeout=120) == 0
    finally:
        process.kill()
        process.wait()
        os.close(parent)


def test_slips_are_taken_back_through_a_pipe(piped):
    lines = [
        "",
        "",
        "t 68",
        "t 68 sure",
        "u",
        "u",
        "repeat lay_out cold",
        "skip done yesterday",
        "skip done yesterday yes",
        "q",
    ]
    told = piped("permanganate_light", keys="\n".join(lines) + "\n").stdout
    assert "hardly the temperature of a bath" not in told, "mixing may be warm"
    assert "68 C is a strange temperature; 68 F would be 20.0 C" in told and "t 68 sure" in told
    assert "Taken back: 68 C" in told and "Taken back: it is done (Lay out the evening)" in told
    assert "This cannot be repeated" in told
    assert "Will not be done: Lay out the evening." in told and "type: skip done yesterday yes" in told
    assert "[2/43]" in told
