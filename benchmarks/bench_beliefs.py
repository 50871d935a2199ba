"""What the notebook foretells of strips that were recorded in a race, whatever proposed them.

    python benchmarks/bench_worlds.py --quick --films 4 --results RACE
    python benchmarks/bench_beliefs.py RACE --families c,d --keep BEFORE
    (change the belief) python benchmarks/bench_beliefs.py RACE --families c,d --against BEFORE

The same recipes, errors and readings for every belief: a tenth of the work of a race, and a difference of two beliefs
stands out of far fewer films. Strips were chosen by another belief: what it overrated is among them more often.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from benchmarks.truths import families
from benchmarks.worlds.films import Bench, Case
from obverse.foundation import QUANTILES_90
from obverse.inference import fit_film
from obverse.model import OBSERVABLES, in_aim
from obverse.process import read_series

# Enough to tell a quantile of one strip to a few hundredths of its spread; no chance is taken for surer than a hundredth.
DRAWS, SUREST = 512, 0.01


def foretold(draws: np.ndarray, true: dict[str, float], chance: float, hit: bool) -> list[float]:
    """One strip against what was foretold: log score, then (CRPS, held, beyond three sd) for each observable; NaN where there is none."""
    chance = min(max(chance, SUREST), 1.0 - SUREST)
    row = [float(np.log(chance if hit else 1.0 - chance))]
    for column, name in zip(draws.T, OBSERVABLES, strict=True):
        x = np.sort(column[np.isfinite(column)])
        if not np.isfinite(true[name]) or len(x) < len(column) // 2:
            row += [np.nan] * 3
            continue
        places = 2 * np.arange(1, len(x) + 1) - len(x) - 1
        low, middle, high = np.quantile(x, QUANTILES_90)
        row += [
            float(np.abs(x - true[name]).mean() - (places * x).sum() / len(x) ** 2),
            float(low <= true[name] <= high),
            float(abs(true[name] - middle) > 3 * (high - low) / 3.29),
        ]
    return row


def along(run: dict, seed: int) -> list[list[float]]:
    """Each strip of a recorded run but the first, foretold from those before it."""
    family, hardness, index, aim, ranges, way, trouble = run["case"].split("/")
    case = Case(family, hardness, int(index), aim, ranges, way, trouble)
    bench = Bench.of(case, families()[family][0].make_film(seed, hardness))
    rows = []
    for k, recipe in enumerate(run["recipes"]):
        controls = dict(zip(bench.limits(), map(float, recipe), strict=True))
        series = read_series(bench.series())
        fit = fit_film(series, draws=DRAWS) if k else None
        hit = bench.make(controls)
        if fit is not None:
            drawn = fit.observed(fit.checked(controls), series.aim.midtone_density, repeated=True)[:, 0]
            rows.append(foretold(drawn, bench.observed(k), float(in_aim(drawn, series.aim).mean()), hit))
    return rows


def line(name: str, rows: np.ndarray, before: np.ndarray | None) -> str:
    """One row of the table; scores of observables as a part of those before."""
    parts = rows[:, 1:].reshape(len(rows), len(OBSERVABLES), 3)
    score, held, far = np.moveaxis(np.nanmean(parts, axis=0), -1, 0)
    change = "-"
    if before is not None:
        gained = rows[:, 0] - before[:, 0]
        change = f"{gained.mean():+.3f}, {gained.std() / np.sqrt(len(gained)):.3f}"
        score = score / np.nanmean(before[:, 1:].reshape(parts.shape), axis=0)[:, 0]
    told = [
        f"{rows[:, 0].mean():.3f}",
        change,
        *(" ".join(f"{v:.2f}" for v in values) for values in (score, held, far)),
    ]
    return f"| {name} | {len(rows)} | {' | '.join(told)} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("race", type=Path, help="results of bench_worlds")
    parser.add_argument("--families", default="a,b,c,d")
    parser.add_argument("--seeds", type=Path, default=Path("benchmarks/worlds/seeds.json"))
    parser.add_argument("--keep", type=Path, default=None)
    parser.add_argument("--against", type=Path, default=None)
    args = parser.parse_args()

    seeds = json.loads(args.seeds.read_text())
    runs = [json.loads(text) for text in args.race.read_text().splitlines()]
    found: dict[str, list[list[float]]] = {}
    for run in runs:
        key = "/".join(run["case"].split("/")[:5])
        if run["learner"] == "notebook" and key[0] in args.families.split(",") and len(run["recipes"]) > 1:
            found[run["case"]] = along(run, seeds[key])
    if args.keep:
        args.keep.write_text(json.dumps(found))
    before = json.loads(args.against.read_text()) if args.against else {}
    print(f"observables: {', '.join(OBSERVABLES)}")
    print("| family | strips | log score of the chance | change, its error | CRPS | 90 % held | beyond 3 sd |")
    print("|---|---|---|---|---|---|---|")
    for family in [*sorted({case[0] for case in found}), "all"]:
        cases = [case for case in found if family in ("all", case[0]) and (not before or case in before)]
        rows = [np.array([row for case in cases for row in source[case]]) for source in (found, before) if source]
        print(line(family, rows[0], rows[1] if before else None))


if __name__ == "__main__":
    main()
