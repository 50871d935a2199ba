"""The chores on a bare computer: what is missing is said in one line, never by a traceback."""

import os
import subprocess
from pathlib import Path

import pytest

from tests.longest_first import LONGEST_FIRST

ROOT = Path(__file__).parents[2]


def program(folder: Path, name: str, text: str) -> Path:
    file = folder / name
    file.write_text(f"#!/bin/sh\n{text}\n")
    file.chmod(0o755)
    return file


def chore(name: str, *arguments: str, path: str, cwd: Path = ROOT) -> subprocess.CompletedProcess:
    return subprocess.run(
        [ROOT / "scripts" / name, *arguments], env={"PATH": path}, cwd=cwd, capture_output=True, text=True, timeout=60
    )


def test_an_old_python_is_told(tmp_path):
    old = program(tmp_path, "python", "exit 1")
    told = chore("make-venv", str(old), str(tmp_path / "venv"), ".", path="/usr/bin:/bin")
    assert told.returncode == 1 and told.stdout == ""
    assert told.stderr.count("\n") == 1 and "needs Python 3.11" in told.stderr


def test_a_missing_venv_package_is_told(tmp_path):
    bare = program(tmp_path, "python", 'case "$2" in *ensurepip*) exit 1;; esac; exit 0')
    told = chore("make-venv", str(bare), str(tmp_path / "venv"), ".", path="/usr/bin:/bin")
    assert told.returncode == 1 and told.stderr.count("\n") == 1 and "apt-get install python3-venv" in told.stderr


def test_libraries_that_cannot_be_had_are_told(tmp_path):
    folder = tmp_path / "venv" / "bin"
    folder.mkdir(parents=True)
    program(folder, "python", 'case "$*" in *"pip install"*) exit 1;; esac; exit 0')
    fine = program(tmp_path, "python", "exit 0")
    told = chore("make-venv", str(fine), str(tmp_path / "venv"), ".", path="/usr/bin:/bin")
    assert (
        told.returncode == 1 and told.stderr.count("\n") == 1 and "first installation needs the internet" in told.stderr
    )


INSTALL = "install -y -qq --no-install-recommends"


@pytest.fixture
def without_chromium(tmp_path):
    """A PATH with a shell and nothing else; the person is not root and has no sudo."""
    (tmp_path / "sh").symlink_to("/bin/sh")
    program(tmp_path, "id", "echo 1000")
    return tmp_path


def test_a_missing_chromium_is_told(without_chromium):
    told = chore("need-chromium", path=str(without_chromium))
    assert told.returncode == 1 and told.stdout == ""
    assert told.stderr.count("\n") == 1 and "apt-get install chromium" in told.stderr


def test_a_missing_postgresql_is_told_and_stops_nothing(without_chromium):
    script = (ROOT / "scripts" / "need-postgres").read_text()
    (without_chromium / "need-postgres").write_text(script.replace("/usr/lib/postgresql", "/nowhere"))
    (without_chromium / "need-postgres").chmod(0o755)
    told = subprocess.run(
        [without_chromium / "need-postgres"], env={"PATH": str(without_chromium)}, capture_output=True, text=True
    )
    assert told.returncode == 0 and told.stdout == ""
    assert told.stderr.count("\n") == 1 and "tests on PostgreSQL are skipped" in told.stderr


def test_root_gets_it_installed(without_chromium, tmp_path):
    program(without_chromium, "id", "echo 0")
    program(without_chromium, "env", 'exec "$@"')
    log = tmp_path / "log"
    program(without_chromium, "apt-get", f'echo "$@" >> {log}')
    told = chore("need-chromium", path=str(without_chromium))
    assert told.returncode == 0 and "Installing chromium" in told.stdout
    assert log.read_text().splitlines() == ["update -qq", f"{INSTALL} chromium"]


@pytest.mark.parametrize(
    ("names", "person", "asked"),
    [
        (["chromium", "chromium-headless-shell"], 0, []),
        (["chromium"], 1000, []),
        (["chromium-browser"], 1000, []),
        (["chromium"], 0, ["update -qq", f"{INSTALL} chromium-headless-shell"]),
    ],
)
def test_a_chromium_that_is_there_is_enough(without_chromium, tmp_path, names, person, asked):
    for name in names:
        program(without_chromium, name, "exit 0")
    program(without_chromium, "id", f"echo {person}")
    program(without_chromium, "timeout", 'shift; exec "$@"')
    log = tmp_path / "log"
    program(without_chromium, "apt-get", f'echo "$@" >> {log}; exit 100')
    told = chore("need-chromium", path=str(without_chromium))
    assert (told.returncode, told.stdout, told.stderr) == (0, "", "")
    assert (log.read_text().splitlines() if log.exists() else []) == asked


def test_every_file_that_takes_long_is_there():
    assert [name for name in LONGEST_FIRST if not (ROOT / "tests" / name).is_file()] == []


def test_the_makefile_names_its_chores():
    told = subprocess.run(
        ["make", "help"], cwd=ROOT, capture_output=True, text=True, timeout=60, env={**os.environ, "MAKEFLAGS": ""}
    )
    assert {"demo", "serve", "test", "check", "bench", "lock", "docs"} <= {
        line.split()[0] for line in told.stdout.splitlines() if line
    }
    assert (ROOT / ".ci" / "run").read_text().rstrip().endswith("exec make test")
