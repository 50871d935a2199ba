"""Try an installed `obverse` as a person would, from outside the checkout; prints what was tried, leaves with 1 if anything failed.

    python scripts/smoke.py [PYTHON]

PYTHON is an interpreter that has it installed; absent: the one that runs this. Standard library only.
"""

from __future__ import annotations

import json
import os
import re
import struct
import subprocess
import sys
import tempfile
import urllib.request
import zlib
from pathlib import Path

PATCHES = 21
PATCH_PX = 40
STRIP_PX = 120
PANEL = 235
STEPS = [{"log_exposure": -1.5 + 0.15 * n, "density": round(2.6 - 0.11 * n, 2)} for n in range(PATCHES)]
SERIES = {
    "format": "obverse-series",
    "version": 1,
    "film": {"name": "invented film", "box_speed": 100, "base_density": 0.2},
    "controls": {"first_developer_time_min": {"unit": "min", "low": 4, "high": 20, "step": 0.5}},
    "aim": "projection",
    "trials": [{"id": "a", "controls": {"first_developer_time_min": 10}, "steps": STEPS}],
}
# Every answer of these: the arguments, the exit code, a word that must be told.
COMMANDS: tuple[tuple[tuple[str, ...], int, str], ...] = (
    (("--version",), 0, "obverse"),
    (("where",), 0, "notebook"),
    (("mix", "first_developer", "--volume-ml", "500"), 0, "mL"),
    (("sheet", "iron_ammonia_light", "--out", "evening.pdf"), 0, "evening.pdf"),
    (
        ("read", "strip.png", "--patches", str(PATCHES), "--corners", "60,60,900,60,900,180,60,180", "--json"),
        0,
        "density",
    ),
    (("curve", "series.json"), 0, "gradient"),
    (("next", "series.json"), 0, "min"),
    (("check", "laundry_bleach", "household_ammonia_5"), 3, "refused"),
    (("routes",), 0, "iron"),
    (("backup", "kept"), 2, "nothing"),
    (("export", "-"), 0, "obverse"),
)


def strip_picture() -> bytes:
    """A grey strip on a bright panel as an 8-bit PNG."""
    wide, high = PATCHES * PATCH_PX + 120, STRIP_PX + 120
    panel = bytes([PANEL]) * wide
    patches = b"".join(bytes([20 + 9 * n]) * PATCH_PX for n in range(PATCHES))
    across = bytes([PANEL]) * 60 + patches + bytes([PANEL]) * 60
    rows = b"".join(b"\0" + (across if 60 <= y < 60 + STRIP_PX else panel) for y in range(high))

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def ask(python: str, folder: Path, environment: dict[str, str], case: tuple[tuple[str, ...], int, str]) -> str:
    """What is wrong with one answer; empty where nothing is."""
    arguments, code, word = case
    told = subprocess.run(
        [python, "-m", "obverse", *arguments],
        cwd=folder,
        env=environment,
        capture_output=True,
        encoding="utf-8",
        errors="replace",
    )
    if told.returncode != code:
        return f"left with {told.returncode}, not {code}: {told.stderr.strip()[-300:]}"
    if word.lower() not in (told.stdout + told.stderr).lower():
        return f"nothing was told of {word!r}"
    return ""


def look_at_the_demo(python: str, folder: Path, environment: dict[str, str]) -> str:
    """Open the demo, ask for its pages and their scripts, close it again."""
    command = [python, "-u", "-m", "obverse", "demo", "--no-browser", "--port", "0"]
    with subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8"
    ) as served:
        try:
            assert served.stdout is not None
            said = ""
            for line in served.stdout:
                said += line
                if found := re.search(r"(http://127\.0\.0\.1:\d+)(\S*)", line):
                    break
            else:
                return f"the house did not open: {said[-300:]}"
            for path in (found[2], "/", "/shelf", "/sink", "/light-table", "/projector", "/api/health"):
                with urllib.request.urlopen(found[1] + path) as page:
                    page.read()
            with urllib.request.urlopen(found[1] + "/static/house/house.js") as script:
                kind = script.headers.get_content_type()
            return "" if kind == "text/javascript" else f"scripts are served as {kind}"
        finally:
            served.terminate()


def main() -> int:
    """Try everything; 0 where all of it went well."""
    # Not resolved: the python of an environment is often a link to that of the computer.
    python = str(Path(sys.argv[1]).absolute()) if len(sys.argv) > 1 else sys.executable
    failed = 0
    with tempfile.TemporaryDirectory(prefix="obverse-smoke-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        (folder / "strip.png").write_bytes(strip_picture())
        (folder / "series.json").write_text(json.dumps(SERIES), encoding="utf-8")
        environment = {**os.environ, "OBVERSE_HOME": str(folder / "home"), "PYTHONIOENCODING": "utf-8"}
        tried = [(" ".join(case[0]), ask(python, folder, environment, case)) for case in COMMANDS]
        tried.append(("demo", look_at_the_demo(python, folder, environment)))
        for what, wrong in tried:
            failed += bool(wrong)
            print(f"{'FAILED' if wrong else 'went well'}: {what}{f' ({wrong})' if wrong else ''}")
    print(f"{len(tried) - failed} went well, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
