"""The map of the house, drawn from its imports: docs/architecture.svg, and the table of docs/architecture.md."""

from __future__ import annotations

import ast
import re
import tomllib
from collections import Counter, defaultdict
from functools import cache
from html import escape
from pathlib import Path

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "obverse"
PAGE = ROOT / "docs" / "architecture.md"
PICTURE = ROOT / "docs" / "architecture.svg"
BEGIN, END = "<!-- drawn from the imports: begin -->", "<!-- drawn from the imports: end -->"
# Layout of the picture, in its own units.
WIDTH, BOX, ROW, TOP, SIDE = 1040, 46, 92, 16, 120


def floors() -> list[list[str]]:
    """The floors from the roof down, each a list of rooms, as the import contract has them."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    layers = next(one["layers"] for one in contracts if one["type"] == "layers")
    return [[room.strip() for room in re.split(r"[|:]", layer)] for layer in layers]


@cache
def imports() -> dict[str, Counter[str]]:
    """How often a module of each room imports from each other room."""
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for path in sorted(SOURCE.rglob("*.py")):
        room = path.relative_to(SOURCE).parts[0].removesuffix(".py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                names = [node.module] if node.module != "obverse" else [f"obverse.{name.name}" for name in node.names]
            elif isinstance(node, ast.Import):
                names = [name.name for name in node.names]
            for name in names:
                parts = name.split(".")
                if parts[0] == "obverse" and len(parts) > 1 and parts[1] != room and (SOURCE / parts[1]).is_dir():
                    found[room][parts[1]] += 1
    return found


def _says(room: str) -> str:
    place = SOURCE / room / "__init__.py" if (SOURCE / room).is_dir() else SOURCE / f"{room}.py"
    doc = ast.get_docstring(ast.parse(place.read_text(encoding="utf-8"))) or ""
    return " ".join(doc.split("\n\n")[0].split())


def picture() -> str:
    """The map as SVG: a row for each floor, a line for each pair of rooms where the upper imports from the lower."""
    rows = floors()
    middle: dict[str, tuple[float, float]] = {}
    boxes = []
    for level, rooms in enumerate(rows):
        y = TOP + level * ROW
        step = (WIDTH - SIDE) / len(rooms)
        for place, room in enumerate(rooms):
            x = SIDE / 2 + step * (place + 0.5)
            half = min(step / 2 - 8, 78)
            middle[room] = (x, y + BOX / 2)
            boxes.append(
                f'<rect x="{x - half:.0f}" y="{y}" width="{2 * half:.0f}" height="{BOX}" rx="8" fill="#fdfbf5" '
                f'stroke="#8b8271"/><text x="{x:.0f}" y="{y + BOX / 2 + 5:.0f}">{escape(room)}</text>'
            )
    lines = []
    for room, others in sorted(imports().items()):
        for other in sorted(others):
            if room in middle and other in middle:
                (x1, y1), (x2, y2) = middle[room], middle[other]
                bend = (y1 + y2) / 2
                lines.append(
                    f'<path d="M{x1:.0f} {y1 + BOX / 2:.0f}C{x1:.0f} {bend:.0f} {x2:.0f} {bend:.0f} {x2:.0f} '
                    f'{y2 - BOX / 2:.0f}"/>'
                )
    height = 2 * TOP + len(rows) * ROW - (ROW - BOX)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-label="Floors and rooms of the house; lines lead from a room to those it imports from">\n'
        f'<rect width="{WIDTH}" height="{height}" fill="#f6f1e6"/>\n'
        '<g fill="none" stroke="#9a4a05" stroke-opacity="0.4" stroke-width="1.2">' + "\n".join(lines) + "</g>\n"
        '<g font-family="Georgia, serif" font-size="15" text-anchor="middle" fill="#26221c">'
        + "\n".join(boxes)
        + "</g>\n</svg>\n"
    )


def table() -> str:
    """A row for each room: what it says of itself, and what it imports from."""
    used = imports()
    lines = ["| room | what it is | imports from |", "|---|---|---|"]
    for rooms in floors():
        for room in rooms:
            others = ", ".join(f"`{name}`" for name in sorted(used.get(room, {}))) or "nothing of the house"
            said = _says(room).replace("|", "\\|")
            lines.append(f"| `{room}` | {said} | {others} |")
    return "\n".join(lines)


def page() -> str:
    """docs/architecture.md with its table anew; the words around it are written by hand."""
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    return f"{before}{BEGIN}\n{table()}\n{END}{rest.split(END)[1]}"
