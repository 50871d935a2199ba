"""What a prior learned from many films is worth on films of foreign physics, with it and without it, paired.

    python -m benchmarks.bench_pool_prior --seeds seeds.json --films 8

The teachers are films of `benchmarks/truths`, each with four strips by recipes drawn at random; the films that are tried
are others of the same families. Counted is how many strips it takes until one truly lies in the aim.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from benchmarks.truths import families
from benchmarks.worlds.films import Bench, Case, Picker
from obverse.inference import Lesson, Population, fit_film, learn_population, left_out, lesson_of, next_strips
from obverse.inference.fit import BELIEFS
from obverse.inference.posterior import FEWEST_AT_ONCE
from obverse.process import Series, read_series

Recipe = dict[str, float]

MOST = 10
STRIPS = 4
# Films that teach stand far from those that are tried.
FIRST_TEACHER = 900_000


def lesson(letter: str, k: int, hardness: str) -> Lesson:
    film = families()[letter][0].make_film(FIRST_TEACHER + k, hardness)
    bench = Bench.of(Case(letter, hardness, FIRST_TEACHER + k, "projection", "wide", "patches21", "none"), film)
    for _ in range(STRIPS):
        bench.make(
            {
                name: limit["low"]
                + limit["step"] * int(bench.rng.integers(0, 1 + (limit["high"] - limit["low"]) / limit["step"]))
                for name, limit in bench.limits().items()
            }
        )
    return lesson_of(f"{letter} {k}", read_series(bench.series()))


def strips_needed(case: Case, film: object, learned: Population | None, alone: list[Recipe]) -> int:
    """Strips until one truly lies in the aim; one more than the most where none does.

    Parameters
    ----------
    alone : list of dict
        What was proposed without; filled where nothing was learned. As long as nothing is heard of what was learned the
        proposal is the same, and is not asked for again.
    """
    bench, heard = Bench.of(case, film), False
    for number in range(MOST):
        series = read_series(bench.series())
        heard = heard or (learned is not None and number > 0 and is_heard(series, learned))
        if learned is None or heard or number >= len(alone):
            recipe = next_strips(series, learned=learned).suggestions[0].controls
        else:
            recipe = alone[number]
        if learned is None:
            alone.append(recipe)
        if bench.make(recipe):
            return number + 1
    return MOST + 1


def is_heard(series: Series, learned: Population) -> bool:
    """Whether anything is believed of what was learned, by what this film's strips say; the draws themselves do not matter."""
    weights = fit_film(series, learned=learned, draws=FEWEST_AT_ONCE).posterior.weights
    return sum(weights[len(BELIEFS) :]) > 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--families", default="a,b,c,d", help="tried")
    parser.add_argument("--taught", default="a,b,c")
    parser.add_argument("--teachers", type=int, default=20, help="of each family")
    parser.add_argument("--films", type=int, default=8, help="tried, of each family")
    parser.add_argument("--first", type=int, default=300, help="index of the first film")
    parser.add_argument("--hardness", default="medium")
    parser.add_argument("--seeds", type=Path, required=True, help="file that remembers which films were picked")
    args = parser.parse_args()
    letters, picker = args.families.split(","), Picker(args.seeds)
    lessons = [lesson(letter, k, args.hardness) for letter in args.taught.split(",") for k in range(args.teachers)]
    learned = learn_population(lessons)
    print(f"{len(lessons)} films taught; left out: {left_out(lessons)}", flush=True)
    every: dict[str, list[tuple[int, int]]] = {}
    for i in range(args.films):
        for letter in letters:
            case = Case(letter, args.hardness, args.first + i, "projection", "wide", "patches21", "none")
            film = picker.pick(case)
            if film is not None:
                alone: list[Recipe] = []
                row = strips_needed(case, film, None, alone), strips_needed(case, film, learned, alone)
                every.setdefault(letter, []).append(row)
                print(letter, args.first + i, *row, flush=True)
    every["all"] = [row for rows in every.values() for row in rows]
    for letter, rows in every.items():
        for name, n in zip(("without", "with"), np.array(rows).T, strict=True):
            print(
                f"{letter:4} {name:8} {len(n):3} films: median {np.median(n):g}, mean {n.mean():.2f}, "
                f"p90 {np.percentile(n, 90):.1f}, first strip right {np.mean(n == 1):.0%}"
            )
        d = np.diff(np.array(rows), axis=1)[:, 0]
        print(
            f"     with less without {d.mean():+.2f}, standard error {d.std(ddof=1) / np.sqrt(len(d)):.2f}; "
            f"fewer {np.sum(d < 0)}, more {np.sum(d > 0)}; single films {d.min():+d} to {d.max():+d}"
        )


if __name__ == "__main__":
    main()
