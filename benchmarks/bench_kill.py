"""300 times SIGKILL at random moments over every kind of entry: answered = kept, exactly once, no orphan.

python benchmarks/bench_kill.py [KILLS] [SEED]
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

PROGRAM = Path(__file__).parents[1] / "tests" / "faults" / "kill.py"


def main() -> int:
    """Kill, count, print the table; 1 where anything was lost, doubled or left lying."""
    kills, seed = (sys.argv[1:] + ["300", "2031"][len(sys.argv) - 1 :])[:2]
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, str(PROGRAM), kills, seed, folder], stdout=subprocess.PIPE, text=True, check=True
        )
    found = json.loads(done.stdout)
    print(f"{'kind':10} {'answered':>9} {'kept':>6}")
    for kind, row in found["by_kind"].items():
        print(f"{kind:10} {row['answered']:9} {row['kept']:6}")
    for name in ("kills", "killed_while_starting", "killed_among_entries", "answered", "refused"):
        print(f"{name.replace('_', ' ')}: {found[name]}")
    for name in ("lost", "doubled", "orphans", "integrity", "sent_again_at_the_end"):
        print(f"{name.replace('_', ' ')}: {found[name]}")
    return int(bool(found["lost"] or found["doubled"] or found["orphans"] or found["integrity"] != "ok"))


if __name__ == "__main__":
    sys.exit(main())
