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
from obverse.inference import Lesson, Population, learn_population, left_out, lesson_of, next_strips
from obverse.process import read_series

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


def strips_needed(case: Case, film: object, learned: Population | None) -> int:
    bench = Bench.of(case, film)
    for number in range(MOST):
        answer = next_strips(read_series(bench.series()), learned=learned)
        if bench.make(answer.suggestions[0].controls):
            return number + 1
    return MOST + 1


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--families", default="a,b,c")
    parser.add_argument("--teachers", type=int, default=20, help="of each family")
    parser.add_argument("--films", type=int, default=8, help="tried, of each family")
    parser.add_argument("--first", type=int, default=300, help="index of the first film")
    parser.add_argument("--hardness", default="medium")
    parser.add_argument("--seeds", type=Path, required=True, help="file that remembers which films were picked")
    args = parser.parse_args()
    letters, picker = args.families.split(","), Picker(args.seeds)
    lessons = [lesson(letter, k, args.hardness) for letter in letters for k in range(args.teachers)]
    learned = learn_population(lessons)
    print(f"{len(lessons)} films taught; left out: {left_out(lessons)}", flush=True)
    every: dict[str, list[tuple[int, int]]] = {}
    for i in range(args.films):
        for letter in letters:
            case = Case(letter, args.hardness, args.first + i, "projection", "wide", "patches21", "none")
            film = picker.pick(case)
            if film is not None:
                row = strips_needed(case, film, None), strips_needed(case, film, learned)
                every.setdefault(letter, []).append(row)
                print(letter, args.first + i, *row, flush=True)
    every["all"] = [row for rows in every.values() for row in rows]
    for letter, rows in every.items():
        for name, n in zip(("without", "with"), np.array(rows).T, strict=True):
            print(
                f"{letter:4} {name:8} {len(n):3} films: median {np.median(n):g}, mean {n.mean():.2f}, "
                f"p90 {np.percentile(n, 90):.1f}, first strip right {np.mean(n == 1):.0%}"
            )


if __name__ == "__main__":
    main()
