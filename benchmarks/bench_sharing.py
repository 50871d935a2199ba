"""Does knowing three films help with a fourth? Paired: the same film, the same errors, with and without the others.

Truth is the physics of grains (`benchmarks/grain_truth.py`). Films come in groups: three are known,
with five strips each at recipes drawn at random, and the others of the group are tried.

With `--apart` the films of a group differ strongly: a pool is ordered by the principal axis of the
true observables at one recipe; three films from one end are known and films from the other end are
tried, the ends changing places from group to group. There knowing them should not help, and must
not harm.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
from scipy.stats import wilcoxon

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.grain_truth import GrainFilm, draw_film, films, limits, make_strip, reaches, series_of
from benchmarks.learning.race import Run, run_notebook
from obverse.inference import FilmFit, fit_film
from obverse.process import CONTROLS, Aim, named_aim, read_series

SPAN = dict(zip(CONTROLS, ((6, 16), (0, 20), (0, 14), (18, 24), (8, 20)), strict=True))
MOST = 12
KNOWN = 3
# Seeds from one group to the next; a pool for `--apart` is the first so many of them.
GROUP_SEEDS, POOL = 500, 36


def by_kind(pool: list[GrainFilm]) -> list[GrainFilm]:
    """Films from one end of the principal axis of their standardised true observables to the other."""
    seen = np.array([make_strip(film, CONTROLS.reference(), 0).true for film in pool])
    seen = np.where(np.isfinite(seen), seen, np.nanmedian(seen, axis=0))
    scaled = (seen - seen.mean(axis=0)) / seen.std(axis=0)
    axis = np.linalg.svd(scaled, full_matrices=False)[2][0]
    return [pool[i] for i in np.argsort(scaled @ axis)]


def group(first: int, count: int, aim: Aim, *, apart: bool, turned: bool) -> tuple[list[GrainFilm], list[GrainFilm]]:
    """Known films and tried films of one group; all can reach the aim."""
    if not apart:
        chosen = films(KNOWN + count, aim, first=first)
        return chosen[:KNOWN], chosen[KNOWN:]
    order = by_kind([draw_film(seed) for seed in range(first, first + POOL)])
    if turned:
        order.reverse()
    return _first_reaching(order, KNOWN, aim), _first_reaching(order[::-1], count, aim)


def _first_reaching(order: list[GrainFilm], count: int, aim: Aim) -> list[GrainFilm]:
    found: list[GrainFilm] = []
    for film in order[: POOL // 2]:
        if len(found) < count and reaches(film, aim):
            found.append(film)
    return found


def known_fit(film: GrainFilm, aim: Aim, rng: np.random.Generator) -> FilmFit:
    """A film learned from five strips at recipes drawn at random."""
    recipes = [{n: round(2 * rng.uniform(*SPAN[n])) / 2 for n in limits(film)} for _ in range(5)]
    return fit_film(
        read_series(series_of(film, [make_strip(film, recipe, 500 + j) for j, recipe in enumerate(recipes)], aim))
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--groups", type=int, default=6)
    parser.add_argument("--films", type=int, default=5, help="tried in each group")
    parser.add_argument("--first-seed", type=int, default=45_000)
    parser.add_argument("--apart", action="store_true", help="known films unlike those tried")
    args = parser.parse_args()
    aim = named_aim("projection")
    alone: list[Run] = []
    wiser: list[Run] = []
    for g in range(args.groups):
        first = args.first_seed + g * GROUP_SEEDS
        known, tried = group(first, args.films, aim, apart=args.apart, turned=g % 2 == 1)
        if args.apart:
            known_dmax, tried_dmax = (
                [make_strip(film, CONTROLS.reference(), 0).true[0] for film in some] for some in (known, tried)
            )
            print(
                f"group {g}: blacks at one recipe {min(known_dmax):.2f} to {max(known_dmax):.2f} known, {min(tried_dmax):.2f} to {max(tried_dmax):.2f} tried"
            )
        rng = np.random.default_rng(first)
        fits = tuple(known_fit(film, aim, rng) for film in known)
        for film in tried:
            alone.append(run_notebook(film, aim, most=MOST))
            wiser.append(run_notebook(film, aim, most=MOST, others=fits))
            print(
                f"group {g}, film {film.seed}: {alone[-1].first} strips alone, {wiser[-1].first} knowing three (ready {alone[-1].ready}, {wiser[-1].ready})",
                flush=True,
            )
    report(alone, wiser)


def report(alone: list[Run], wiser: list[Run]) -> None:
    """Print strips needed, their paired differences with standard errors, and how honest the intervals were."""
    for what, field in (("until one lies in the aim", "first"), ("until the notebook says ready", "ready")):
        a, w = (np.array([getattr(r, field) or MOST + 1 for r in runs]) for runs in (alone, wiser))
        d = w - a
        p = wilcoxon(d).pvalue if d.any() else 1.0
        print(
            f"strips {what}, {len(a)} films: alone median {np.median(a):g}, mean {a.mean():.2f}, p90 {np.percentile(a, 90):.1f};"
        )
        print(f"    knowing three: median {np.median(w):g}, mean {w.mean():.2f}, p90 {np.percentile(w, 90):.1f};")
        print(
            f"    fewer for {(d < 0).sum()} films, as many for {(d == 0).sum()}, more for {(d > 0).sum()}; mean difference {d.mean():+.2f}, "
            f"standard error {d.std(ddof=1) / np.sqrt(len(d)):.2f}, signed-rank p {p:.3f}"
        )
    for name, runs in (("alone", alone), ("knowing three", wiser)):
        inside = [c["inside"] for r in runs for c in r.coverage]
        right = [r.right for r in runs if r.right is not None]
        by_known = [np.mean([c["inside"] for r in runs for c in r.coverage if c["after"] == n]) for n in range(3)]
        print(
            f"{name}: 90 % intervals hold {np.mean(inside):.2f} (after 0, 1, 2 strips {by_known[0]:.2f}, {by_known[1]:.2f}, {by_known[2]:.2f}), "
            f"ready right {np.mean(right):.2f}"
        )


if __name__ == "__main__":
    main()
