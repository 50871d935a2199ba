"""Check the types of all of src, strictly. A file that still owes some stands in types_owed.txt; the list only shrinks.

Run: python scripts/check_types.py
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from mypy import api

ROOT = Path(__file__).resolve().parents[1]
OWED = Path(__file__).with_name("types_owed.txt")
ERROR = re.compile(r"^(src/[^:]+):\d+: error: ")


def main() -> int:
    """Exit code: 0 if every file is clean that is not on the list, and every file on the list is not."""
    told, failed, _ = api.run(["--config-file", str(ROOT / "pyproject.toml"), str(ROOT / "src")])
    owed = {line for line in OWED.read_text(encoding="utf-8").splitlines() if line}
    found: dict[str, list[str]] = {}
    for line in told.splitlines():
        if match := ERROR.match(line):
            found.setdefault(match[1], []).append(line)
    if failed or (not found and "Success" not in told):
        print(told, failed, sep="\n")
        return 2
    wrong = [line for file, lines in found.items() if file not in owed for line in lines]
    paid = sorted(owed - set(found))
    print(*wrong, sep="\n", end="\n" if wrong else "")
    if paid:
        print("These are clean: take them off scripts/types_owed.txt.", *paid, sep="\n")
    print(f"{len(wrong)} errors of type; {sum(map(len, found.values())) - len(wrong)} owed in {len(owed)} files.")
    return 1 if wrong or paid else 0


if __name__ == "__main__":
    sys.exit(main())
