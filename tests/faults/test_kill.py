"""Killed at random moments: what was answered is kept, once, and nothing lies about. `benchmarks/bench_kill.py` does it 300 times."""

import json
import subprocess
import sys
from pathlib import Path

PROGRAM = Path(__file__).with_name("kill.py")


def test_what_was_answered_before_a_kill_is_kept_once(tmp_path):
    done = subprocess.run(
        [sys.executable, str(PROGRAM), "10", "11", str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["kills"] == found["killed_while_starting"] + found["killed_among_entries"] == 10
    assert found["answered"] >= 1 and found["refused"] == 0
    assert {kind: row["kept"] for kind, row in found["by_kind"].items()} == {
        kind: row["answered"] for kind, row in found["by_kind"].items()
    }
    assert (found["lost"], found["doubled"], found["orphans"]) == (0, 0, 0)
    assert found["sent_again_at_the_end"] == {"answered_differently": 0, "kept_again": 0}
    assert not found["names_twice"] and found["integrity"] == "ok"
