"""How far an answer depends on the seed of the draws: a measured film, one in rough frames, one by words.

python -m benchmarks.bench_seeds --seeds 50 --strips 1,3,6 --films teaching,frames,words
"""

from __future__ import annotations

import argparse
import json
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.truths import families
from benchmarks.worlds.films import Bench, Case
from obverse.inference import FilmFit, fit_film, next_strips, recipe_chance
from obverse.process import Series, read_series

TEACHING = json.loads((Path(__file__).resolve().parents[1] / "docs" / "teaching-film-a.json").read_text("utf-8"))
# Films of worlds that share no law with the notebook, in the order of `benchmarks/worlds/seeds.json`.
WORLDS = {
    "frames": (Case("b", "medium", 0, "projection", "wide", "frames11", "none"), 1003),
    "words": (Case("d", "medium", 0, "projection", "wide", "words", "none"), 1006),
}


def film(name: str) -> dict[str, Any]:
    """A series of six strips by the recipes of the teaching film."""
    if name == "teaching":
        return dict(TEACHING)
    case, seed = WORLDS[name]
    bench = Bench.of(case, families()[case.family][0].make_film(seed, case.hardness))
    limits = bench.limits()
    for trial in TEACHING["trials"]:
        bench.make({k: float(np.clip(trial["controls"][k], c["low"], c["high"])) for k, c in limits.items()})
    return bench.series()


def alike(values: NDArray[np.float64], within: NDArray[np.float64] | float) -> float:
    """Share of pairs of seeds (S, ...) of which every number differs by no more than this."""
    pairs = [bool(np.all(np.abs(one - other) <= within + 1e-9)) for one, other in combinations(values, 2)]
    return float(np.mean(pairs))


def row(name: str, strips: int, asked: Series, fits: list[FilmFit]) -> str:
    """One row of the table."""
    step = np.array([control.step for control in asked.controls.values()])
    firsts = [next_strips(asked, fit=fit).suggestions[0] for fit in fits]
    recipes = np.array([list(first.controls.values()) for first in firsts]) / step
    own = np.array([first.probability_in_aim for first in firsts])
    # The numbers told of one recipe, that of the first seed.
    same = np.array([recipe_chance(fit, firsts[0].controls) for fit in fits])
    told = [list(fit.predict_observables(firsts[0].controls).values()) for fit in fits]
    quantiles = np.array([[[e.low90, e.value, e.high90] for e in one] for one in told])
    tenth = 0.1 * np.array([[e.sd for e in one] for one in told]).mean(axis=0)[:, None]
    each = np.mean([np.abs(one - other) <= tenth for one, other in combinations(quantiles, 2)])
    return (
        f"| {name} | {strips} | {alike(recipes, 1.0):.0%} | {np.ptp(recipes, axis=0).max():.0f} | {own.mean():.3f} | "
        f"{alike(own, 0.02):.0%} | {same.std():.4f} | {alike(same, 0.02):.0%} | {each:.1%} | {alike(quantiles, tenth):.0%} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--strips", default="1,3,6")
    parser.add_argument("--films", default="teaching,frames,words")
    args = parser.parse_args()
    print(
        "| film | strips | recipe within a step, pairs | widest, steps | chance told | within 0.02, pairs | of one recipe: sd | "
        "within 0.02 | each quantile within a tenth of its sd | all of them |\n|---|---|---|---|---|---|---|---|---|---|"
    )
    for name in args.films.split(","):
        document = film(name)
        for strips in map(int, args.strips.split(",")):
            asked = read_series(document | {"trials": document["trials"][:strips]})
            print(row(name, strips, asked, [fit_film(asked, seed=seed) for seed in range(args.seeds)]), flush=True)


if __name__ == "__main__":
    main()
