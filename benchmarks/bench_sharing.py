"""Does knowing three films help with a fourth? Paired: the same film, the same errors, with and without the others.

Truth is the physics of grains (`benchmarks/grain_truth.py`). The three known films have five strips
each at recipes drawn at random.

With `--apart` the films differ strongly: of a pool, ordered by the principal axis of their true
observables at one recipe, the three at one end are known and the films at the other end are tried.
There knowing them should not help, and must not harm.
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
from obverse.model import OBSERVABLES
from obverse.process import CONTROL_NAMES, HELD_AT, named_aim, read_series

SPAN = dict(zip(CONTROL_NAMES, ((6, 16), (0, 20), (0, 14), (18, 24), (8, 20)), strict=True))
MOST = 12


def by_kind(pool: list) -> tuple[list, np.ndarray]:
    """Films from one end of the principal axis of their standardised true observables to the other, with these."""
    seen = np.array([make_strip(film, dict(HELD_AT), 0).true for film in pool])
    seen = np.where(np.isfinite(seen), seen, np.nanmedian(seen, axis=0))
    scaled = (seen - seen.mean(axis=0)) / seen.std(axis=0)
    axis = np.linalg.svd(scaled, full_matrices=False)[2][0]
    order = np.argsort(scaled @ axis)
    return [pool[i] for i in order], seen[order]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=30)
    parser.add_argument("--first-seed", type=int, default=40_000)
    parser.add_argument("--apart", action="store_true", help="known films unlike those tried")
    args = parser.parse_args()
    aim = named_aim("projection")
    chosen = films(3 + (3 if args.apart else 1) * args.films, aim, first=args.first_seed)
    if args.apart:
        chosen, seen = by_kind(chosen)
        chosen, seen = chosen[:3] + chosen[-args.films :], np.concatenate([seen[:3], seen[-args.films :]])
        for i, name in enumerate(OBSERVABLES):
            print(f"{name} at one recipe: known films {seen[:3, i].min():.2f} to {seen[:3, i].max():.2f}, tried films {seen[3:, i].min():.2f} to {seen[3:, i].max():.2f}")
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
