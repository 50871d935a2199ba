"""Every command where a terminal can say little: code pages of Windows, UTF-16, plain letters, no colour, 40 columns, no keys.

Each command runs once, and what it says is written to all of these at the same time; it is told that it writes cp1252.
"""

from __future__ import annotations

import io
import json
import re
import shutil
import sys
from pathlib import Path

import pytest

from obverse.cli.main import build, run
from obverse.system.terminal import HANDLER
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.demo import STORY_FILM
from scripts.smoke import SERIES, strip_picture

pytestmark = pytest.mark.usefixtures("the_demo", "few_draws")

ENCODINGS = ("cp1252", "cp437", "utf-16", "ascii")
ANSI = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")
COLUMNS = 40


class Terminals(io.TextIOBase):
    """Several streams that write the same in encodings of their own; a sign that one of them lacks fails as it would there."""

    encoding = "cp1252"

    def __init__(self, *, keys: bool = False):
        self._raw = {name: io.BytesIO() for name in ENCODINGS}
        self._streams = {name: io.TextIOWrapper(raw, encoding=name, newline="\n") for name, raw in self._raw.items()}
        self._keys = keys

    def reconfigure(self, *, errors: str) -> None:
        for stream in self._streams.values():
            stream.reconfigure(errors=errors)

    def write(self, text: str) -> int:
        for stream in self._streams.values():
            stream.write(text)
        return len(text)

    def isatty(self) -> bool:
        return self._keys

    def told(self) -> dict[str, str]:
        for stream in self._streams.values():
            stream.flush()
        return {name: raw.getvalue().decode(name) for name, raw in self._raw.items()}


@pytest.fixture(scope="module")
def demo(the_demo, tmp_path_factory) -> tuple[Path, str, str]:
    """A darkroom that holds something and tells it in F and ounces, the id of its film, the id of a recipe."""
    home = shutil.copytree(the_demo, tmp_path_factory.mktemp("demo") / "home")
    bench = open_workbench(home)
    recipe = bench.recipes.all()[0].id
    # In other units every command has more to say, and signs that plain letters lack.
    bench.units.keep({"temperature": "f", "fluids": "us", "spoons": "us", "lengths": "imperial", "masses": "oz"})
    bench.close()
    return home, STORY_FILM, recipe


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """What a person has lying about."""
    made = tmp_path_factory.mktemp("work")
    (made / "strip.png").write_bytes(strip_picture())
    (made / "series.json").write_text(json.dumps(SERIES), encoding="utf-8")
    rows = [f"{step['log_exposure']:.2f},{step['density']}" for step in SERIES["trials"][0]["steps"]]
    (made / "strip.csv").write_text("\n".join(["log_exposure,density", *rows]), encoding="utf-8")
    (made / "table.csv").write_text(
        "Film;Nr;Date;Dev;Hypo (mL in 500 mL);Ammonia mL/L;Highlights;Blacks\nGrey base;1;5.3.2024;11:30;4;5;murky;deep\n",
        encoding="utf-8",
    )
    bath = {
        "format": "obverse-bath",
        "version": 1,
        "name": "their stop bath",
        "role": "stop",
        "volume_ml": 500,
        "poured": [{"product": "vinegar_5", "amount": 100}],
    }
    (made / "bath.json").write_text(json.dumps(bath), encoding="utf-8")
    return made


# What each command is given; FILM and RECIPE stand for those of the demo. Run in this order: some want what others wrote.
CASES: dict[str, tuple[str, ...]] = {
    "serve": ("--share", "--address", "127.0.0.1", "--port", "0"),
    "demo": ("--no-browser", "--port", "0", "--home", "HOME"),
    "where": (),
    "export": ("kept.json", "--force"),
    "import": ("kept.json", "--mine", "all"),
    "check-store": (),
    "backup": ("backups",),
    "restore": ("backups", "--home", "another"),
    "schema": ("recipe",),
    "sources": (),
    "mix": ("first_developer", "--volume-ml", "500"),
    "adapt": ("bath.json",),
    "check": ("laundry_bleach", "household_ammonia_5"),
    "routes": ("iron_ammonia_light",),
    "destroy": ("ammonia_bath", "--volume-ml", "500"),
    "air": ("--room-m3", "6", "--changes", "0.5"),
    "run": ("permanganate_light", "--rehearse"),
    "curve": ("series.json",),
    "show": ("series.json",),
    "shots": (),
    "list": ("strip.csv", "--to", "cgats"),
    "read": ("strip.png", "--patches", "21", "--corners", "60,60,900,60,900,180,60,180"),
    "next": ("series.json",),
    "trial": ("FILM", "first_developer_time_min=9"),
    "trials": ("table.csv",),
    "sheet": ("iron_ammonia_light", "--out", "evening.pdf", "--force"),
    "card": ("example", "--out", "card.pdf", "--force"),
    "wall": ("example", "--lumens", "700", "--width-m", "1.5"),
    "seen": (
        *("strip.png", "--patches", "21x1", "--corners", "60,60,900,60,900,180,60,180"),
        *("--densities", "strip.csv", "--by", "example"),
    ),
    "show-list": ("--roll", "B-1 (invented)", "--labels", "labels.pdf", "--force"),
    "roll": ("B-1 (invented)", "--zone", "1=5", "--density", "1=1.1"),
    "process list": (),
    "process show": ("iron_ammonia_fogging", "--out", "mine.json"),
    "process new": ("my way", "--from", "iron_ammonia_fogging"),
    "process edit": ("my_way", "mine.json"),
    "process check": ("iron_ammonia_fogging",),
    "process compare": ("iron_ammonia_fogging", "iron_ammonia_light"),
    "recipe list": (),
    "recipe export": ("RECIPE", "--out", "recipe.json", "--force"),
    "recipe import": ("recipe.json",),
    "recipe diff": ("RECIPE", "RECIPE"),
    "recipe adapt": ("RECIPE", "--volume-ml", "500"),
    "pool name": ("Cellar in Northtown",),
    "pool export": ("FILM", "--out", "lent.json", "--force"),
    "pool add": ("lent.json",),
    "pool list": (),
    "pool search": ("grey",),
    "pool withdraw": ("FILM",),
    "pool learn": ("lent.json", "--out", "learned.json"),
    "pool adopt": (),
    "recipe lock": ("FILM", "strip 6", "For the wall", "--process", "iron_ammonia_light", "--anyway"),
    "book": ("--out", "notebook.pdf", "--force"),
}
# Commands that say no, and with which code.
REFUSALS = {"check": 3, "pool learn": 2}


def commands() -> set[str]:
    """All commands there are, those of a group behind its name."""
    app = build()

    def names(of, before=""):
        for one in of.registered_commands:
            yield before + (one.name or one.callback.__name__.replace("_", "-"))
        for group in of.registered_groups:
            yield from names(group.typer_instance, f"{before}{group.name} ")

    return set(names(app))


def test_every_command_has_its_case():
    assert set(CASES) == commands()


@pytest.fixture
def terminal(monkeypatch, demo, folder):
    """Run a command in such a terminal; returns the exit code and what stood in each of them, both streams together."""

    def at(name: str, *given: str, keys: bool = False) -> tuple[int, dict[str, str]]:
        home, film, recipe = demo
        out, err = Terminals(keys=keys), Terminals(keys=keys)
        with monkeypatch.context() as here:
            here.chdir(folder)
            here.setenv("OBVERSE_HOME", str(home))
            here.setenv("COLUMNS", str(COLUMNS))
            here.setenv("NO_COLOR", "1")
            here.setenv("TERM", "dumb")
            here.delenv("OBVERSE_DATABASE", raising=False)
            here.setattr("sys.stdout", out)
            here.setattr("sys.stderr", err)
            # The input ends at once: nobody is at the keys.
            here.setattr("sys.stdin", io.StringIO("q\n"))
            here.setattr("obverse.web.server._Server.run", lambda *_, **__: None)
            words = [{"FILM": film, "RECIPE": recipe, "HOME": str(home)}.get(word, word) for word in given]
            code = run([*name.split(), *words])
        return code, {encoding: text + err.told()[encoding] for encoding, text in out.told().items()}

    return at


@pytest.mark.parametrize("name", CASES)
def test_a_command_says_all_it_has_to_say(terminal, name):
    code, told = terminal(name, *CASES[name])
    assert "mistake of ours" not in told["utf-16"], told["utf-16"]
    assert code == REFUSALS.get(name, 0), told["utf-16"]
    assert told["utf-16"].strip(), "something is told"
    assert not ANSI.search(told["utf-16"]), "no colour was asked for"
    # Plain letters say the same words: nothing is left out.
    words = re.findall(r"[A-Za-z]{3,}", told["utf-16"])
    said = set(re.findall(r"[A-Za-z]{3,}", told["ascii"]))
    assert [word for word in words if word not in said and word.isascii()] == []


@pytest.mark.parametrize("name", ["mix", "run", "recipe adapt", "next"])
def test_help_fits_forty_columns_and_every_code_page(terminal, name):
    code, told = terminal(name, "--help")
    assert code == 0 and "Example" in told["cp437"]
    assert [line for line in told["utf-16"].splitlines() if len(line) > 2 * COLUMNS] == []


def test_a_screen_with_keys_but_few_letters(terminal):
    code, told = terminal("show", "series.json", keys=True)
    # Keys or not: who wants no colour gets figures instead of greys.
    assert code == 0 and "densities" not in told["ascii"] and "a: first development 10 min" in told["ascii"]
    assert not ANSI.search(told["utf-16"]) and "2.40" in told["ascii"]


def test_without_the_plain_letters_it_would_fail(terminal, monkeypatch):
    """The same command, had the streams been left as they are: this is what was found on the first day."""
    monkeypatch.setattr(sys.modules["obverse.cli.main"], "let_everything_be_said", lambda: None)
    code, _told = terminal("sources")
    assert code == 1


def test_a_bad_name_is_told_in_a_code_page(terminal):
    code, told = terminal("curve", "Ωmega−strip.csv")
    assert code == 2 and "no such file" in told["cp1252"] and "-strip.csv" in told["ascii"]
    assert HANDLER == "obverse-plain"


def test_the_code_for_a_phone_is_left_out_where_it_cannot_be_shown(terminal, monkeypatch):
    _code, told = terminal("serve", *CASES["serve"])
    assert "Open this link there" in told["cp1252"] and "####" not in told["ascii"]
    monkeypatch.setattr(Terminals, "encoding", "utf-8")
    _code, told = terminal("serve", *CASES["serve"])
    assert "Scan this" in told["utf-16"] and "\N{UPPER HALF BLOCK}" in told["utf-16"]
