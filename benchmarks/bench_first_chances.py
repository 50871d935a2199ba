"""How often a film's first strip comes true, beside what is believed and told of it; and the two numbers that would tell it best.

    python -m benchmarks.bench_first_chances --families a,b,c,d
    python -m benchmarks.bench_first_chances --families f,g,h,k --films 3

The strip proposed and recipes picked at random from the grid are each made over and over on the film, with the errors of a
sink. What is learned (the last line) is a logistic regression on the logarithm of the odds, the proposal weighed as all the
others; the record `notebook.told.first` says what was made of it.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_expit, logit

from benchmarks.bench_losses import often
from benchmarks.worlds.films import HARDNESS, Bench, Picker, cases
from benchmarks.worlds.race import QUICK_DRAWS
from obverse.foundation import Array
from obverse.inference import fit_film, next_strips, recipe_draws, recipes_as_told
from obverse.model import in_aim
from obverse.process import read_series

# Recipes picked beside the proposal, how often each is made, and the nearest to never or always that is believed.
PICKED, MADE, SUREST = 24, 24, 1e-3


def asked(bench: Bench) -> Array:
    """For the proposal and other recipes: what is believed, what is told, how often it came true, (3, R)."""
    series = read_series(bench.series())
    fit = fit_film(series, draws=QUICK_DRAWS)
    rng = np.random.default_rng(bench.case.rng_seed)
    axes = {n: np.arange(v["low"], v["high"] + v["step"] / 2, v["step"]) for n, v in bench.limits().items()}
    proposed = next_strips(series, fit=fit).suggestions[0].controls
    recipes = [proposed, *({n: float(rng.choice(axis)) for n, axis in axes.items()} for _ in range(PICKED))]
    observed, weight = recipe_draws(fit, np.concatenate([fit.checked(one) for one in recipes]), series.aim)
    believed = np.clip(weight @ in_aim(observed, series.aim), 0.0, 1.0)
    return np.stack([believed, recipes_as_told(fit, believed, series.aim), often(bench, recipes, MADE, 9)])


def learned(believed: Array, came: Array, weight: Array) -> Array:
    """How the logarithm of the odds is best moved and stretched."""
    odds = logit(np.clip(believed, SUREST, 1 - SUREST))

    def lost(by: Array) -> float:
        at = by[0] + by[1] * odds
        return -float((weight * (came * log_expit(at) + (1 - came) * log_expit(-at))).sum())

    result: Array = minimize(lost, np.array([0.0, 1.0])).x
    return result


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--families", default="a,b,c,d")
    parser.add_argument("--films", type=int, default=4)
    parser.add_argument("--seeds", type=Path, default=Path("benchmarks/worlds/seeds.json"))
    args = parser.parse_args()

    picker = Picker(args.seeds)
    wanted = cases(args.families.split(","), list(HARDNESS), args.films, ["patches21"], ["none"], [])
    films = [(case, film) for case in wanted if (film := picker.pick(case)) is not None]
    found = np.array([asked(Bench.of(case, film)) for case, film in films])
    for family in ["all", *args.families.split(",")]:
        own = found[[family in ("all", case.family) for case, _ in films]]
        mean, error = own[:, :, 0].mean(axis=0), own[:, 2, 0].std() / np.sqrt(len(own))
        print(
            f"{family}, {len(own)} films; proposed: believed {mean[0]:.2f}, told {mean[1]:.2f}, true {mean[2]:.2f} ± {error:.2f}"
        )
    believed, told, came = np.moveaxis(found, 1, 0)
    for low in np.arange(0.0, 1.0, 0.1):
        there = (told >= low) & (told < low + 0.1)
        if there.any():
            print(f"all recipes: told {told[there].mean():.2f}, true {came[there].mean():.2f} ({there.sum()})")
    weight = np.where(np.arange(PICKED + 1) == 0, PICKED, 1.0) * np.ones(believed.shape)
    moved, stretched = learned(believed.ravel(), came.ravel(), weight.ravel())
    print(f"best told: odds moved by {moved:.2f}, stretched {stretched:.2f}")


if __name__ == "__main__":
    main()
