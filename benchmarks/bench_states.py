"""What else could be believed at the states of a recorded race, held against the truth.

    python benchmarks/bench_worlds.py --quick --ways words --results RACE
    python benchmarks/bench_states.py RACE --strips 1,2,3,5

At each state (so many strips made, none of them in the aim) some recipes of the grid are asked, and really made over and
over. Told of each belief: the log score of its chances, and how often its best eight and best three recipes truly lie in
the aim. It is held beside what the notebook believes:

    contrast   the same with the word about contrast for every strip (of words only)
    grey-box   the simplest rival instead
    mixed      the mean of the notebook's chance and the grey-box's

The states are those at which the notebook had missed so far: whatever differs from it is favoured by that.
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

from benchmarks.bench_losses import often
from benchmarks.worlds.films import Bench, Case, Picker
from benchmarks.worlds.greybox import DRAWS as GREY_DRAWS
from benchmarks.worlds.greybox import GreyBox
from benchmarks.worlds.race import QUICK_DRAWS
from obverse.inference import fit_film
from obverse.inference.suggest import WORTH_OF_ANOTHER
from obverse.model import in_aim, margins, observables
from obverse.process import read_series

# Recipes asked of each state, how often each is made, those looked at, and the least chance that is scored.
ASKED, MADE, BEST, LEAST = 150, 8, (8, 3), 0.01
SEED = 5


def notebook(bench: Bench, recipes: list[dict[str, float]]) -> np.ndarray:
    """The chance of each recipe, by films of which a tried strip is good already the less, as the notebook chooses."""
    series = read_series(bench.series())
    fit = fit_film(series, draws=QUICK_DRAWS)
    strips = fit.strip_observables(series.aim.midtone_density)[: len(fit.draws)]
    weight = np.where(in_aim(strips, series.aim).any(axis=1), WORTH_OF_ANOTHER, 1.0)
    settings = np.concatenate([fit.checked(recipe) for recipe in recipes])
    hit = in_aim(fit.observed(settings, series.aim.midtone_density, repeated=True), series.aim)
    found: np.ndarray = weight @ hit / weight.sum()
    return found


def grey_box(bench: Bench, recipes: list[dict[str, float]]) -> np.ndarray:
    """The same of the simplest rival."""
    aim = read_series(bench.series()).aim
    rival = GreyBox(bench, aim)
    settings, done = (np.array([list(one.values()) for one in some]) for some in (recipes, bench.labels))
    mode, root = rival.fit(done)
    draws = mode + np.random.default_rng(SEED).standard_normal((2 * GREY_DRAWS, len(mode))) @ root.T
    shape = np.zeros((len(draws), len(settings)))
    seen = observables(lambda x: rival.curve(draws, settings, x), shape, aim.midtone_density)
    found: np.ndarray = (margins(seen, aim).min(axis=-1) >= 0).mean(axis=0)
    return found


def at_state(bench: Bench, recipes: list[dict[str, float]]) -> dict[str, np.ndarray]:
    """The chances by each belief."""
    usual, rival = notebook(bench, recipes), grey_box(bench, recipes)
    found = {"notebook": usual, "grey-box": rival, "mixed": 0.5 * (usual + rival)}
    if bench.case.way == "words":
        # Errors of the eye of its own, so that those of the strips to come stay what they were.
        kept, errors, bench.rng = bench.strips, bench.rng, np.random.default_rng(SEED)
        told = [k for k in range(len(kept)) if np.isfinite(bench.observed(k)["gradient"])]
        words = {k: {"of": "contrast", "grade": bench._contrast(k)} for k in told}
        bench.strips = [s | {"grades": s["grades"] + [words[k]] * (k in words)} for k, s in enumerate(kept)]
        found["contrast"] = notebook(bench, recipes)
        bench.strips, bench.rng = kept, errors
    return found


def rows_of(chances: np.ndarray, true: np.ndarray) -> list[float]:
    """Log score, then how often the best recipes are truly good."""
    told = np.clip(chances, LEAST, 1.0 - LEAST)
    order = np.argsort(-chances, kind="stable")
    score = true * np.log(told) + (1.0 - true) * np.log(1.0 - told)
    return [float(score.mean()), *(float(true[order[:most]].mean()) for most in BEST)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("race", type=Path, help="what bench_worlds kept")
    parser.add_argument("--strips", default="1,2,3,5", help="states of so many strips")
    parser.add_argument("--seeds", type=Path, default=Path("benchmarks/worlds/seeds.json"))
    args = parser.parse_args()

    picker, wanted = Picker(args.seeds), [int(k) for k in args.strips.split(",")]
    found: dict[str, list[list[float]]] = {}
    for run in map(json.loads, args.race.read_text().splitlines()):
        if run["learner"] != "notebook":
            continue
        case = Case(**{name: run[name] for name in Case.__dataclass_fields__})
        bench = Bench.of(case, picker.pick(case))
        axes = [np.arange(v["low"], v["high"] + v["step"] / 2, v["step"]) for v in bench.limits().values()]
        grid = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=1)
        picked = grid[np.random.default_rng(SEED).permutation(len(grid))[:ASKED]]
        recipes = [dict(zip(bench.limits(), map(float, row), strict=True)) for row in picked]
        true = often(bench, recipes, MADE, 2)
        for k, row in enumerate(run["recipes"], start=1):
            if bench.make(dict(zip(bench.limits(), map(float, row), strict=True))):
                break
            if k in wanted:
                for name, chances in at_state(bench, recipes).items():
                    found.setdefault(name, []).append(rows_of(chances, true))
    before = np.array(found["notebook"])
    print(f"{len(before)} states; log score, truth of the best {BEST[0]} and of the best {BEST[1]} (gain, its error)")
    for name, rows in found.items():
        gain = np.array(rows) - before
        error = gain.std(axis=0) / np.sqrt(len(gain))
        told = zip(np.mean(rows, axis=0), gain.mean(axis=0), error, strict=True)
        print(f"{name}: " + "; ".join(f"{mean:.3f} ({more:+.3f}, {sd:.3f})" for mean, more, sd in told))


if __name__ == "__main__":
    main()
