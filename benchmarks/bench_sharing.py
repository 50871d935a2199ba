"""Does knowing three films help with a fourth? Paired: the same film, the same errors, with and without the others.

Truth is the physics of grains (`benchmarks/grain_truth.py`). The three known films have five strips
each at recipes drawn at random.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.grain_truth import films, limits, make_strip, series_of
from benchmarks.learning.race import run_notebook
from obverse.inference import fit_film
from obverse.process import CONTROL_NAMES, named_aim, read_series

SPAN = dict(zip(CONTROL_NAMES, ((6, 16), (0, 20), (0, 14), (18, 24), (8, 20)), strict=True))
MOST = 12


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=30)
    parser.add_argument("--first-seed", type=int, default=40_000)
    args = parser.parse_args()
    aim = named_aim("projection")
    chosen = films(3 + args.films, aim, first=args.first_seed)
    rng = np.random.default_rng(args.first_seed)
    known = []
    for film in chosen[:3]:
        strips = [make_strip(film, {n: round(2 * rng.uniform(*SPAN[n])) / 2 for n in limits(film)}, 500 + j) for j in range(5)]
        known.append(fit_film(read_series(series_of(film, strips, aim))))
    alone, wiser = [], []
    for film in chosen[3:]:
        alone.append(run_notebook(film, aim, most=MOST))
        wiser.append(run_notebook(film, aim, most=MOST, others=tuple(known)))
        print(f"film {film.seed}: {alone[-1].first} strips alone, {wiser[-1].first} knowing three", flush=True)
    a, w = (np.array([r.first or MOST + 1 for r in runs]) for runs in (alone, wiser))
    print(f"strips until one lies in the aim: alone median {np.median(a):g}, mean {a.mean():.2f}, p90 {np.percentile(a, 90):.1f}")
    print(f"                         knowing three: median {np.median(w):g}, mean {w.mean():.2f}, p90 {np.percentile(w, 90):.1f}")
    print(f"fewer for {(w < a).sum()} films, as many for {(w == a).sum()}, more for {(w > a).sum()}; mean difference {(w - a).mean():+.2f}")
    for name, runs in (("alone", alone), ("knowing three", wiser)):
        inside = [c["inside"] for r in runs for c in r.coverage]
        right = [r.right for r in runs if r.right is not None]
        print(f"{name}: 90 % intervals hold {np.mean(inside):.2f}, ready right {np.mean(right):.2f}")


if __name__ == "__main__":
    main()
