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
from obverse.inference import fit_film, next_strips, recipe_chances
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


def row(name: str, strips: int, asked: Series, count: int) -> str:
    """One row of the table."""
    step = np.array([control.step for control in asked.controls.values()])
    fits = [fit_film(asked, drawn=seed) for seed in range(count)]
    answers = [next_strips(asked, fit=fit) for fit in fits]
    firsts = [answer.suggestions[0] for answer in answers]
    proposed = np.array([list(first.controls.values()) for first in firsts])
    recipes = proposed / step
    own = np.array([first.probability_in_aim for first in firsts])
    # What each seed tells of the recipes that the others propose; the numbers of one recipe are those of the first seed's.
    each_once, which = np.unique(
        np.concatenate([fits[0].checked(first.controls) for first in firsts]), axis=0, return_inverse=True
    )
    chances = np.array([recipe_chances(fit, each_once, asked.aim)[which] for fit in fits])
    near = (np.abs(recipes[:, None] - recipes[None]) <= 1 + 1e-9).all(axis=-1)
    told_good = np.array(
        [[a.as_good is not None and a.as_good.holds(p) for p in row] for a, row in zip(answers, chances, strict=True)]
    )
    others = ~np.eye(count, dtype=bool)
    same = chances[:, 0]
    told = [list(fit.predict_observables(firsts[0].controls).values()) for fit in fits]
    quantiles = np.array([[[e.low90, e.value, e.high90] for e in one] for one in told])
    tenth = 0.1 * np.array([[e.sd for e in one] for one in told]).mean(axis=0)[:, None]
    each = np.mean([np.abs(one - other) <= tenth for one, other in combinations(quantiles, 2)])
    return (
        f"| {name} | {strips} | {near[others].mean():.0%} | {np.ptp(recipes, axis=0).max():.0f} | {(near | told_good)[others].mean():.1%} | "
        f"{own.mean():.3f} | {alike(own, 0.02):.0%} | {same.std():.4f} | {alike(same, 0.02):.1%} | {each:.1%} | {alike(quantiles, tenth):.0%} | "
        f"{quantiles.std(axis=0).max():.3f} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--strips", default="1,3,6")
    parser.add_argument("--films", default="teaching,frames,words")
    args = parser.parse_args()
    print(
        "| film | strips | recipe within a step, pairs | widest, steps | that, or told as as good | chance told | within 0.02, pairs | "
        "of one recipe: sd | within 0.02 | each quantile within a tenth of its sd | all of them | sd of the least known quantile |\n"
        "|---|---|---|---|---|---|---|---|---|---|---|---|"
    )
    for name in args.films.split(","):
        document = film(name)
        for strips in map(int, args.strips.split(",")):
            asked = read_series(document | {"trials": document["trials"][:strips]})
            print(row(name, strips, asked, args.seeds), flush=True)


if __name__ == "__main__":
    main()
