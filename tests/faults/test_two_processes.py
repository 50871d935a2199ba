"""Two processes write a strip of one film at the same instant: nothing doubled, nothing refused, the page answers."""

import json
import os
import subprocess
import sys

from fastapi.testclient import TestClient

from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

ROUNDS = 8
PROCESSES = 2
STRIP = {
    "controls": {"first_developer_time_min": 9},
    "steps": [{"log_exposure": x, "density": 2 - x} for x in (-1, 0, 1)],
}

# Loads everything, says that it is ready, and writes one strip for every byte that it is sent.
WRITER = """
import json, os, sys
from pathlib import Path
from obverse.workbench.bootstrap import open_workbench
home, film, rounds, ready, go = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4]), int(sys.argv[5])
strip, who = json.loads(sys.argv[6]), int(sys.argv[7])
bench = open_workbench(home)
bench.notebook.trials(film)
for number in range(rounds):
    os.write(ready, b"r")
    if not os.read(go, 1):
        break
    try:
        kept = bench.notebook.add_trial(film, strip | {"made_on": f"2031-{who + 1:02d}-{number + 1:02d}"})
        print(json.dumps({"id": kept.id, "name": kept.thing.trial.id, "number": kept.thing.number}), flush=True)
    except Exception as error:
        print(json.dumps({"refused": str(error)}), flush=True)
bench.close()
"""


def writers(home, film):
    """The processes, each with its own end of the pipes."""
    made = []
    for who in range(PROCESSES):
        ready, says_ready = os.pipe()
        waits, go = os.pipe()
        process = subprocess.Popen(
            [
                sys.executable,
                "-c",
                WRITER,
                str(home),
                film,
                str(ROUNDS),
                str(says_ready),
                str(waits),
                json.dumps(STRIP),
                str(who),
            ],
            env={**os.environ, "OBVERSE_DATABASE": "", "OMP_NUM_THREADS": "1"},
            stdout=subprocess.PIPE,
            pass_fds=(says_ready, waits),
        )
        os.close(says_ready)
        os.close(waits)
        made.append((process, ready, go))
    return made


def test_two_processes_that_write_at_the_same_instant_write_two_strips(tmp_path, monkeypatch):
    monkeypatch.delenv("OBVERSE_DATABASE", raising=False)
    bench = open_workbench(tmp_path / "home")
    film = bench.notebook.add_film({"name": "a 100-speed grey-base film", "box_speed": 100}).id
    made = writers(tmp_path / "home", film)
    for _ in range(ROUNDS):
        # All have come to the line before any is let go.
        assert [os.read(ready, 1) for _, ready, _ in made] == [b"r"] * PROCESSES
        for _, _, go in made:
            os.write(go, b"g")
    answers = []
    for process, ready, go in made:
        answers += [json.loads(line) for line in process.communicate()[0].splitlines()]
        assert process.returncode == 0
        os.close(ready)
        os.close(go)
    count = ROUNDS * PROCESSES
    assert [one for one in answers if "refused" in one] == []
    assert sorted(one["name"] for one in answers) == sorted(f"strip {n}" for n in range(1, count + 1))
    assert sorted(one["number"] for one in answers) == list(range(1, count + 1))
    # As it is kept, not only as it is shown: a reader tells doubles apart by himself.
    kept = bench.store.list("trial")
    assert sorted((one.id, one.body["trial"]["id"]) for one in kept) == sorted((a["id"], a["name"]) for a in answers)
    with TestClient(create_app(bench), base_url="http://127.0.0.1") as web:
        for page in (f"/notebook/{film}", "/light-table"):
            assert web.get(page, headers={"accept": "text/html"}).status_code == 200, page
        told = web.get(f"/api/notebook/films/{film}/story").json()["trials"]
        assert sorted(one["id"] for one in told) == sorted(one["id"] for one in answers)
    bench.close()
