"""The notebook and its rivals on films of worlds it has never met.

    python benchmarks/bench_worlds.py --families a,b --films 6 --ways patches21,words --hardness hard,medium

Prints a table for each family, hardness and way; `--results FILE` keeps every run and takes up where it stopped.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
os.environ.setdefault("OMP_NUM_THREADS", "1")

from benchmarks.worlds.films import HARDNESS, Bench, Case, Picker, cases
from benchmarks.worlds.race import run_notebook, run_opponent
from benchmarks.worlds.table import table


def one(job: tuple[Case, str, int | None, bool]) -> dict:
    """Run one learner on one film."""
    from benchmarks.truths import families

    case, learner, seed, quick = job
    film = families()[case.family][0].make_film(seed, case.hardness)
    bench = Bench.of(case, film)
    run = run_notebook(bench, quick=quick) if learner == "notebook" else run_opponent(bench, learner)
    return {"case": case.key, "learner": learner, **vars(case), **run}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--families", default="a,b,c,d")
    parser.add_argument("--hardness", default=",".join(HARDNESS))
    parser.add_argument("--films", type=int, default=6)
    parser.add_argument("--ways", default="patches21")
    parser.add_argument("--troubles", default="none")
    parser.add_argument("--aims", default="", help="only these; default all the family's aims in turn")
    parser.add_argument(
        "--learners", default="notebook", help="notebook, grey-box, one factor at a time, Optuna TPE, ..."
    )
    parser.add_argument(
        "--quick", action="store_true", help="a third of the draws, and no further than the first good strip"
    )
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--results", type=Path, default=None)
    parser.add_argument(
        "--seeds", type=Path, default=Path("benchmarks/worlds/seeds.json"), help="which films, found once"
    )
    args = parser.parse_args()

    kept = (
        [json.loads(line) for line in args.results.read_text().splitlines()]
        if args.results and args.results.exists()
        else []
    )
    have = {(r["case"], r["learner"]) for r in kept}
    split = [getattr(args, name).split(",") for name in ("families", "hardness", "ways", "troubles")]
    wanted = cases(split[0], split[1], args.films, split[2], split[3], [a for a in args.aims.split(",") if a])
    picker = Picker(args.seeds)
    jobs, runs = [], []
    for case in wanted:
        if picker.pick(case) is None:
            continue
        for learner in args.learners.split(","):
            if (case.key, learner) in have:
                runs += [r for r in kept if r["case"] == case.key and r["learner"] == learner]
            else:
                seed = picker.seeds["/".join([case.family, case.hardness, str(case.index), case.aim, case.ranges])]
                jobs.append((case, learner, seed, args.quick))
    with ProcessPoolExecutor(args.jobs) as pool:
        for run in pool.map(one, jobs) if args.jobs > 1 else map(one, jobs):
            runs.append(run)
            if args.results:
                with args.results.open("a") as file:
                    file.write(json.dumps(run) + "\n")
    print(table(runs))


if __name__ == "__main__":
    main()
