"""What only some systems have is named in one room; the chores for other systems are whole."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import yaml

from scripts import bounds

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "obverse"
ROOM = SOURCE / "system"
# Modules that are missing on Windows or on all others (Python's library reference, "Availability").
MODULES = frozenset(
    [
        "_winapi",
        "crypt",
        "fcntl",
        "grp",
        "msvcrt",
        "nt",
        "posix",
        "pty",
        "pwd",
        "readline",
        "resource",
        "syslog",
        "termios",
        "tty",
        "winreg",
        "winsound",
        "select",
        "signal",
        "ctypes",
        "webbrowser",
        "platform",
    ]
)
# Names of `os`, `signal`, `socket` and `time` that are missing on some system, or do something else there.
NAMES = frozenset(
    [
        "O_BINARY",
        "O_CLOEXEC",
        "O_DIRECTORY",
        "O_NOFOLLOW",
        "SIGALRM",
        "SIGHUP",
        "SIGKILL",
        "SIGPIPE",
        "SIGQUIT",
        "SIGUSR1",
        "SIGUSR2",
        "SO_EXCLUSIVEADDRUSE",
        "SO_REUSEADDR",
        "SO_REUSEPORT",
        "chown",
        "clock_gettime",
        "fchmod",
        "fchown",
        "fork",
        "forkpty",
        "fsync",
        "getegid",
        "geteuid",
        "getgid",
        "getloadavg",
        "getlogin",
        "getpgid",
        "getuid",
        "killpg",
        "lchown",
        "mkfifo",
        "nice",
        "setpgid",
        "setsid",
        "setuid",
        "statvfs",
        "sync",
        "tcgetattr",
        "tcsetattr",
        "umask",
        "uname",
        "waitpid",
        "getwindowsversion",
        "platform",
        "startfile",
        "chmod",
    ]
)
CALLED_ON = frozenset({"os", "signal", "socket", "time", "sys", "posix", "termios"})


# Where none of these words stands, nothing of it is used: such a source need not be parsed.
NAMED = re.compile(rf"\b(?:{'|'.join(sorted(MODULES | NAMES))})\b")


def found(text: str) -> list[str]:
    """Names in a source that some system does not have."""
    seen: list[str] = []
    if not NAMED.search(text):
        return seen
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            seen += [one.name for one in node.names if one.name.split(".")[0] in MODULES]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            module = (node.module or "").split(".")[0]
            seen += [node.module or ""] if module in MODULES else []
            seen += [one.name for one in node.names if module in CALLED_ON and one.name in NAMES]
        elif isinstance(node, ast.Attribute) and node.attr in NAMES:
            on = node.value.id if isinstance(node.value, ast.Name) else ""
            seen += [f"{on}.{node.attr}"] if on in CALLED_ON else []
    return seen


def test_what_only_some_systems_have_is_named_in_one_room():
    named = [
        f"{file.relative_to(SOURCE).as_posix()}: {name}"
        for file in sorted(SOURCE.rglob("*.py"))
        if ROOM not in file.parents
        for name in found(file.read_text(encoding="utf-8"))
    ]
    assert named == [], "ask obverse.system instead"


def test_the_search_finds_what_it_looks_for():
    assert found("import termios, os\nfrom fcntl import flock\nfrom os import fork") == ["termios", "fcntl", "fork"]
    assert found("import os\nos.getuid()\nx.fork()\nsignal.SIGKILL") == ["signal.SIGKILL", "os.getuid"]
    assert {name for file in ROOM.glob("*.py") for name in found(file.read_text(encoding="utf-8"))} >= {
        "ctypes",
        "fcntl",
        "os.fsync",
        "select",
        "webbrowser",
    }


def test_files_are_read_and_written_in_a_named_encoding():
    """Where none is named, Windows takes the code page of its country."""
    wrong = []
    for file in sorted(SOURCE.rglob("*.py")):
        text = file.read_text(encoding="utf-8")
        if not re.search("read_text|write_text", text):
            continue
        for node in ast.walk(ast.parse(text)):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                continue
            words = {one.arg for one in node.keywords}
            # Methods of our own of that name take more.
            if {"read_text": 0, "write_text": 1}.get(node.func.attr) == len(node.args) and "encoding" not in words:
                wrong.append(f"{file.relative_to(SOURCE).as_posix()}:{node.lineno}")
    assert wrong == []


# Chores


def dependencies() -> list[str]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]


def test_every_library_has_one_lower_bound():
    assert len(bounds.lowest(dependencies())) == len(dependencies()) > 15
    with pytest.raises(ValueError, match="is not NAME>=VERSION"):
        bounds.lowest(["numpy"])
    with pytest.raises(ValueError, match="is not NAME>=VERSION"):
        bounds.lowest(["numpy>=2,<3"])
    assert bounds.lowest(["psycopg[binary]>=3.1"]) == ["psycopg==3.1"]


def test_the_lock_keeps_to_the_lower_bounds():
    from packaging.requirements import Requirement

    lines = (ROOT / "requirements.lock").read_text(encoding="utf-8").splitlines()
    locked = dict(line.split("==") for line in lines if not line.startswith("#"))
    for line in dependencies():
        asked = Requirement(line)
        assert locked[asked.name] in asked.specifier, line


def test_a_chore_without_a_word_says_which():
    told = subprocess.run([sys.executable, ROOT / "scripts" / "bounds.py"], capture_output=True, text=True)
    assert (told.returncode, told.stderr) == (2, "say lowest or newest\n")


def test_the_workflow_runs_the_wheel_on_three_systems():
    workflow = yaml.safe_load((ROOT / ".github/workflows/wheel.yml").read_text(encoding="utf-8"))
    # YAML 1.1 reads the key `on` as true.
    assert set(workflow[True]) == {"push", "pull_request"}
    assert workflow["permissions"] == {"contents": "read"}
    (job,) = workflow["jobs"].values()
    matrix = job["strategy"]["matrix"]
    assert {name.split("-")[0] for name in matrix["os"]} == {"ubuntu", "windows", "macos"}
    assert all(isinstance(version, str) for version in matrix["python"]), "3.10 would be read as 3.1"
    python = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["requires-python"]
    assert f">={matrix['python'][0]}" == python
    runs = [step["run"] for step in job["steps"] if "run" in step]
    assert all("uses" in step or "run" in step for step in job["steps"])
    for word in re.findall(r"(?:scripts|tests)/[\w/.]+", " ".join(runs)):
        assert (ROOT / word).is_file(), word
    assert all(re.fullmatch(r"[\w-]+/[\w-]+@v\d+", step["uses"]) for step in job["steps"] if "uses" in step)


def test_what_is_told_of_installing_names_what_there_is():
    told = (ROOT / "docs/install.md").read_text(encoding="utf-8") + (ROOT / "README.md").read_text(encoding="utf-8")
    assert "pipx install ." in told and "uv tool install ." in told and "obverse where" in told
    chores = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    assert set(re.findall(r"`make ([a-z]+)`", told)) <= chores
    table = re.search(r"<!-- wheels: begin -->\n(.*)<!-- wheels: end -->", told, re.DOTALL)[1]
    assert len(table.splitlines()) > 8 and "numpy" in table
