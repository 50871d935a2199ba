"""The page that says, command by command and page by page, what was run, what was simulated and what is only believed.

What a command or a page asks of the system it runs on is written here once (`ASKS`, `PAGES_ASK`); all that needs nothing of its own
does so too. The commands come from the command itself, the pages from the application.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path

import typer

from obverse.cli.main import build
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

PAGE = Path(__file__).parents[1] / "docs" / "portability.md"

# What is asked of a system, in which test each branch for it runs, and how it stands on Windows and on macOS.
RUN, SIMULATED, BELIEVED, SAME = "run", "simulated", "believed", "as Linux"
PARTS: dict[str, tuple[str, str, str, str]] = {
    "text": ("tests/faults/test_terminals.py", RUN, SIMULATED, SIMULATED),
    "folder": ("tests/unit/test_system.py", RUN, SIMULATED, SIMULATED),
    "files": ("tests/unit/test_system.py", RUN, SIMULATED, SIMULATED),
    "keys": ("tests/unit/test_system.py", RUN, SIMULATED, SAME),
    "clock": ("tests/faults/test_clocks.py", RUN, SIMULATED, SIMULATED),
    "port": ("tests/unit/test_system.py", RUN, SIMULATED, SAME),
    "browser opened": ("tests/unit/test_system.py", SIMULATED, SIMULATED, SIMULATED),
    "scripts served": ("tests/unit/test_system.py", RUN, SIMULATED, BELIEVED),
    "picture libraries": ("tests/unit/test_camera_files.py", RUN, BELIEVED, BELIEVED),
    "PDF library": ("tests/unit/test_process_sheet.py", RUN, BELIEVED, BELIEVED),
    "numbers": ("tests/properties/test_notebook_same_on_every_desk.py", RUN, BELIEVED, BELIEVED),
}
# Beside text, which every command needs.
ASKS: dict[str, tuple[str, ...]] = {
    "serve": ("folder", "clock", "port", "browser opened", "scripts served"),
    "demo": ("folder", "clock", "port", "browser opened", "scripts served"),
    "where": ("folder", "clock"),
    "export": ("folder", "files"),
    "backup": ("folder", "files"),
    "restore": ("folder", "files"),
    "run": ("folder", "keys", "clock"),
    "show": ("folder", "keys"),
    "read": ("picture libraries", "numbers"),
    "next": ("numbers",),
    "curve": ("numbers",),
    "sheet": ("folder", "files", "PDF library"),
    "card": ("folder", "files", "PDF library", "numbers"),
    "book": ("folder", "files", "PDF library"),
    "seen": ("folder", "picture libraries", "numbers"),
    "roll": ("folder", "numbers"),
    "show-list": ("folder", "files", "PDF library"),
    "pool learn": ("files", "numbers"),
    "recipe lock": ("folder", "numbers"),
    "recipe export": ("folder", "files"),
    "process show": ("folder", "files"),
    "pool export": ("folder", "files"),
    **dict.fromkeys(("schema", "sources", "destroy", "air", "shots", "list", "routes"), ()),
}
OF_A_NOTEBOOK = ("folder",)
# Beside text, port and scripts, which every page needs.
PAGES_ASK: dict[str, tuple[str, ...]] = {
    "/sink": ("clock",),
    "/guide/rehearse": ("clock",),
    "/this-computer": ("clock", "folder"),
    "/light-table/picture": ("picture libraries", "numbers"),
    "/light-table/live": ("picture libraries", "numbers"),
    "/light-table": ("numbers",),
    "/notebook": ("numbers",),
    "/projector": ("numbers",),
}
OF_A_PAGE = ("port", "scripts served", "folder")


def commands() -> list[str]:
    """Every command, those of a group behind its name."""

    def leaves(command: object, path: tuple[str, ...] = ()) -> list[str]:
        children = getattr(command, "commands", {})
        return [one for name, child in children.items() for one in leaves(child, (*path, name))] or [" ".join(path)]

    return leaves(typer.main.get_command(build()))


def pages() -> list[str]:
    """Every page and every paper that a browser may ask for."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        bench = open_workbench(Path(name), url="sqlite://")
        try:
            routes = create_app(bench).routes
        finally:
            bench.close()
    return sorted({path for path in _addresses(routes) if not path.startswith(("/api/", "/static"))})


def _addresses(routes: Iterable[object]) -> Iterator[str]:
    """What may be asked for; newer frameworks keep the routes of a room behind one of their own."""
    for route in routes:
        room = getattr(route, "original_router", None)
        if room is not None:
            yield from _addresses(room.routes)
        elif "GET" in (getattr(route, "methods", None) or ()):
            yield str(route.path)  # type: ignore[attr-defined]


def asked_by_page(path: str) -> tuple[str, ...]:
    """What a page asks of the system, by the longest of the addresses above it begins with."""
    above = [one for one in PAGES_ASK if path == one or path.startswith(f"{one}/")]
    own = PAGES_ASK[max(above, key=len)] if above else ()
    return tuple(dict.fromkeys((*own, *OF_A_PAGE, *(("PDF library",) if path.endswith(".pdf") else ()))))


def _row(name: str, asks: tuple[str, ...]) -> str:
    cells = []
    for system in (1, 2, 3):
        by_state: dict[str, list[str]] = {}
        for part in asks:
            by_state.setdefault(PARTS[part][system], []).append(part)
        cells.append("; ".join(f"{state}: {', '.join(parts)}" for state, parts in by_state.items()))
    return f"| {name} | {cells[0]} | {cells[1]} | {cells[2]} |"


def page() -> str:
    """The whole page as Markdown."""
    head = "| | Linux | Windows | macOS |\n|---|---|---|---|"
    parts = "\n".join(
        f"| {name} | {linux} | {windows} | {macos} | `{test}` |"
        for name, (test, linux, windows, macos) in PARTS.items()
    )
    told = "\n".join(_row(f"`obverse {one}`", ("text", *ASKS.get(one, OF_A_NOTEBOOK))) for one in commands())
    seen = "\n".join(_row(f"`{one}`", asked_by_page(one)) for one in pages())
    return f"""# What runs where

Written by `make docs`. Linux on x86-64 is the only system this was run on. *Run*: done there as a person does it. *Simulated*: our branch for
that system ran in the tests against a stand-in for what the system answers, so our part is shown and the system's is not. *As Linux*: the same
branch as there. *Believed*: read in the documentation, never run. `.github/workflows/wheel.yml` would run the wheel on all three; it has not
run yet.

## What is asked of a system

| what | Linux | Windows | macOS | shown by |
|---|---|---|---|---|
{parts}

## Command by command

Every command was run as a person does, and once where a terminal can say little: code pages 1252 and 437, UTF-16, plain ASCII, no colour,
40 columns, nobody at the keys; and once with `--json`, where it has that.

{head}
{told}

## Page by page

Every page that a link leads to was opened in Chromium at 320, 390 and 1280 px: nothing sideways, nothing too small for a finger, no error on
the console. Other browsers are believed.

{head}
{seen}
"""
