"""The page that shows every check against the outside, made from the tests themselves: ``docs/checks.md``.

Run ``python tests/published/page.py`` to write it anew. Each file of this folder names its sources in its docstring;
the number of checks is what pytest collects.
"""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "checks.md"
STANDINGS = ("looked up", "computed", "common practice", "from memory", "second package")


def checks_by_file() -> Counter[str]:
    """How many checks pytest collects in each file of this folder."""
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-p", "no:cacheprovider", "tests/published"]
    told = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return Counter(line.split("::")[0] for line in told.splitlines() if "::" in line)


def checks_page(counted: Counter[str]) -> str:
    """The page as text."""
    files = sorted(Path(__file__).parent.glob("test_*.py"))
    total = sum(counted[f"tests/published/{file.name}"] for file in files)
    lines = [
        "# Checks against the outside",
        "",
        f"{total} checks of the numbers and rules of this book against published standards, handbook tables, worked examples and reference",
        "libraries, made by `python tests/published/page.py` from the tests that run them. The standing words are those of each source:",
        "what was looked up, what another package computed, what is common practice without a source, what is from memory.",
        "",
        "| what, and from where | standing named there | checks |",
        "|---|---|---:|",
    ]
    for file in files:
        doc = " ".join((ast.get_docstring(ast.parse(file.read_text(encoding="utf-8"))) or "").split()).replace(
            "|", "\\|"
        )
        text = file.read_text(encoding="utf-8").lower()
        standing = ", ".join(word for word in STANDINGS if re.search(rf"\b{word}\b", text)) or "as the record it names"
        lines.append(
            f"| [{_title(file)}](../tests/published/{file.name}). {doc} | {standing} | {counted[f'tests/published/{file.name}']} |"
        )
    return "\n".join(lines) + "\n"


def _title(file: Path) -> str:
    words = file.stem.removeprefix("test_").split("_")
    return " ".join(words[1:]).capitalize()


if __name__ == "__main__":
    PAGE.write_text(checks_page(checks_by_file()), encoding="utf-8")
    print(PAGE)
