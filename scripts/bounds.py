"""Try the wheel with the lowest or the newest versions that pyproject.toml allows, in an environment of its own.

    python scripts/bounds.py lowest|newest

Lowest takes each library of ours at its lower bound (what those libraries bring along is what pip then chooses); newest takes
what pip finds. Standard library only, so that it runs wherever pip does.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import time
import tomllib
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
BOUND = re.compile(r"^([A-Za-z0-9_.-]+)(?:\[[^\]]*\])?\s*>=\s*([0-9][0-9A-Za-z.]*)$")


def lowest(dependencies: list[str]) -> list[str]:
    """Each library at its lower bound, as constraints for pip.

    Raises
    ------
    ValueError
        If one has no lower bound, or more than one.
    """
    found = []
    for line in dependencies:
        match = BOUND.match(line)
        if match is None:
            raise ValueError(f"{line!r} is not NAME>=VERSION")
        found.append(f"{match[1]}=={match[2]}")
    return found


def main() -> int:
    """Make the environment, install the wheel, try it; the exit code is that of the trial."""
    if sys.argv[1:] not in (["lowest"], ["newest"]):
        print("say lowest or newest", file=sys.stderr)
        return 2
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    with tempfile.TemporaryDirectory(prefix="obverse-bounds-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        venv.create(folder / "venv", with_pip=True)
        python = folder / "venv" / ("Scripts" if sys.platform == "win32" else "bin") / "python"
        pip = [str(python), "-m", "pip", "--disable-pip-version-check"]
        # Told in full: of a conflict pip names the cause only so.
        install = [*pip, "install", "--progress-bar", "off", "--only-binary", ":all:"]
        constraints = folder / "constraints.txt"
        constraints.write_text("\n".join(lowest(project["dependencies"]) if sys.argv[1] == "lowest" else []))
        subprocess.run([*pip, "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT)], check=True)
        (wheel,) = folder.glob("obverse-*.whl")
        begun = time.monotonic()
        subprocess.run([*install, "-c", str(constraints), str(wheel)], check=True)
        took_s = time.monotonic() - begun
        size = sum(file.stat().st_size for file in (folder / "venv").rglob("*") if file.is_file())
        print(f"installed in {took_s:.0f} s, {size / 1e6:.0f} MB with the byte code", flush=True)
        subprocess.run([*pip, "check"], check=True)
        subprocess.run([*pip, "freeze", "--exclude", "obverse"], check=True)
        return subprocess.run([sys.executable, str(ROOT / "scripts" / "smoke.py"), str(python)]).returncode


if __name__ == "__main__":
    sys.exit(main())
