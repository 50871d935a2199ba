"""How far the proposal for the teaching film depends on the seed of the draws.

python -m benchmarks.bench_seeds --seeds 10 --strips 1,3,6
"""

from __future__ import annotations

import argparse
import json
from itertools import combinations
from pathlib import Path

import numpy as np

from obverse.inference import NextStrips, next_strips
from obverse.process import read_series

FILM = Path(__file__).resolve().parents[1] / "docs" / "teaching-film-a.json"


def row(strips: int, answers: list[NextStrips], step: np.ndarray) -> str:
    """One row: pairs of seeds within a step in every control, the widest range in steps, the chances told."""
    firsts = [answer.suggestions[0] for answer in answers]
    recipes = np.array([list(first.controls.values()) for first in firsts]) / step
    alike = [np.abs(one - other).max() <= 1.0 + 1e-6 for one, other in combinations(recipes, 2)]
    chances = np.array([first.probability_in_aim for first in firsts])
    widest = np.ptp(recipes, axis=0).max()
    return f"| {strips} | {np.mean(alike):.0%} | {widest:.0f} | {chances.mean():.3f} | {chances.std():.3f} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--strips", default="1,3,6")
    args = parser.parse_args()
    film = json.loads(FILM.read_text(encoding="utf-8"))
    print("| strips | pairs within a step | widest range, steps | chance | its sd |\n|---|---|---|---|---|")
    for strips in map(int, args.strips.split(",")):
        asked = read_series(film | {"trials": film["trials"][:strips]})
        step = np.array([control.step for control in asked.controls.values()])
        print(row(strips, [next_strips(asked, seed=seed) for seed in range(args.seeds)], step))


if __name__ == "__main__":
    main()
