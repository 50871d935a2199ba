"""How long a command takes to start, as multiples of `python -c "import numpy"` on the same machine in the same run.

Run: python benchmarks/bench_start.py [rounds]. Each number is the smallest of the rounds, in processor seconds of the
child, so that a busy machine blurs it little.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FILM = str(ROOT / "docs" / "teaching-film-a.json")
COMMANDS = {
    "--help": ("--help",),
    "mix, generic products": ("mix", "first_developer", "--volume-ml", "500"),
    "routes": ("routes",),
    "check": ("check", "bleach_permanganate", "clearing_metabisulfite"),
    "recipe list": ("recipe", "list"),
    "mix, own shelf": ("mix", "first_developer", "--volume-ml", "500"),
    "next": ("next", FILM),
    "curve": ("curve", FILM),
}


def cpu_s(arguments: list[str], home: str) -> float:
    """Processor seconds of a child that runs these arguments."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "OBVERSE_HOME": home, "OMP_NUM_THREADS": "1"}
    subprocess.run([sys.executable, *arguments], capture_output=True, env=environment, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return (after.ru_utime - before.ru_utime) + (after.ru_stime - before.ru_stime)


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as empty, tempfile.TemporaryDirectory() as home:
        cpu_s(["-m", "obverse", "recipe", "list"], home)  # makes the notebook
        least = {"numpy": min(cpu_s(["-c", "import numpy"], home) for _ in range(rounds))}
        for name, arguments in COMMANDS.items():
            folder = empty if name == "mix, generic products" else home
            least[name] = min(cpu_s(["-m", "obverse", *arguments], folder) for _ in range(rounds))
    print("| command | processor s | times import numpy | times --help |")
    print("|---|---|---|---|")
    for name, value in least.items():
        print(f"| {name} | {value:.2f} | {value / least['numpy']:.1f} | {value / least['--help']:.1f} |")


if __name__ == "__main__":
    main()
