"""The documents tell the truth: README code runs, generated pages are fresh, links lead somewhere."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from obverse.process import AIMS, CONTROLS
from obverse.reference.page import sources_page
from obverse.workbench.demo import story_series_text

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = ("README.md", "CHANGELOG.md", "docs/why.md", "docs/nomenclature.md")

# Of the strip proposed for the teaching film, the same on every desk to 0.02; it never claims certainty, in the terminal or in Python.
CHANCE = re.compile(r"in the aim with probability (over 99|9[5-9]) %")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


@pytest.fixture
def clone(tmp_path):
    """A folder that has what a reader of the README has, a home of its own, and the command on the path, as pipx leaves it."""
    (tmp_path / "docs").symlink_to(ROOT / "docs")
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return tmp_path, {**os.environ, "OBVERSE_HOME": str(tmp_path / "home"), "PATH": path}


@pytest.mark.parametrize("code", blocks("sh"))
def test_the_commands_of_the_readme_run(clone, code):
    folder, environment = clone
    told = subprocess.run(
        ["sh", "-eu", "-c", code], cwd=folder, env=environment, capture_output=True, text=True, timeout=120
    )
    assert told.returncode == 0, told.stderr
    assert "metabisulfite" in told.stdout or "mL" in told.stdout
    assert told.stderr == ""
    assert ("obverse next" in code) == (CHANCE.search(told.stdout) is not None)


def test_the_line_of_the_other_way_in_puts_the_command_on_the_path(tmp_path):
    """As `make serve` leaves it the command is in .venv/bin, and nowhere else."""
    (line,) = re.findall(r"^    (PATH=.*)$", README, re.MULTILINE)
    (tmp_path / ".venv" / "bin").mkdir(parents=True)
    command = tmp_path / ".venv" / "bin" / "obverse"
    command.write_text("#!/bin/sh\n")
    command.chmod(0o755)
    found = ["sh", "-euc", f"{line}; command -v obverse"]
    told = subprocess.run(found, cwd=tmp_path, env={"PATH": os.defpath}, capture_output=True, text=True)
    assert told.stdout.strip() == str(command)
    assert not any("activate" in code for code in blocks("sh"))


@pytest.mark.parametrize("code", blocks("python"))
def test_the_python_of_the_readme_runs(clone, code):
    folder, environment = clone
    told = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert told.returncode == 0, told.stderr
    assert CHANCE.search(told.stdout)


def test_the_readme_opens_with_the_job_the_two_commands_and_the_cautions():
    assert (
        README.index("One person, at home")
        < README.index("make demo")
        < README.index("Before anything else")
        < README.index("## A first evening")
    )
    assert blocks("sh") and blocks("python")


def test_every_command_the_readme_names_exists():
    from obverse.cli.main import run

    for name in sorted(
        set(re.findall(r"`obverse (\w+)", README)) | set(re.findall(r"^obverse (\w+)", README, re.MULTILINE))
    ):
        assert run([name, "--help"]) == 0, name


@pytest.mark.parametrize("name", PAGES)
def test_links_lead_somewhere(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        assert ((ROOT / name).parent / target).exists(), target


def test_generated_pages_are_fresh():
    assert (ROOT / "docs" / "sources.md").read_text(encoding="utf-8") == sources_page(), "run `make docs`"
    assert (ROOT / "docs" / "teaching-film-a.json").read_text(encoding="utf-8") == story_series_text(), (
        "run `make docs`"
    )


def test_the_nomenclature_names_every_control_and_aim_word():
    text = (ROOT / "docs" / "nomenclature.md").read_text(encoding="utf-8")
    assert [name for name in CONTROLS if f"`{name}`" not in text] == []
    assert AIMS["projection"].midtone_density == 1.0 and "1.0 above base" in text


# Written in pieces so that this file does not hold what it looks for.
LOCAL_PLACES = re.compile("|".join(("/" + "work/", "/" + "root/", "/" + r"tmp/\w", "/" + "home/")))


def test_no_place_of_one_computer_is_written_anywhere():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a clone of the repository")
    found = []
    for name in listed.stdout.splitlines():
        path = ROOT / name
        if path.suffix in (".png", ".jpg", ".tif", ".tiff", ".dng") or not path.is_file():
            continue
        data = path.read_bytes()
        # Tables as spreadsheets write them stand in the tests in all their encodings.
        text = data.decode("utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8", errors="replace")
        found += [f"{name}: {hit}" for hit in LOCAL_PLACES.findall(text)]
    assert found == []


def test_the_lock_holds_versions_and_nothing_else():
    lines = (ROOT / "requirements.lock").read_text().splitlines()
    assert [line for line in lines if not re.fullmatch(r"#.*|[a-z0-9-.]+==[A-Za-z0-9.+]+", line)] == []
