"""Simulation-based calibration: truths drawn from the prior, strips made from them, ranks of the truth among the draws.

Where the sampler is exact and the model true, the rank of the truth among the posterior draws is
uniform (Talts and others, arXiv:1804.06788, from memory). Our likelihood also allows for films
that do not obey the model, so intervals may be a little wide here, and must not be narrow.
"""

from __future__ import annotations

import argparse

import numpy as np
from scipy.stats import chi2

from obverse.inference import fit_film
from obverse.model import NAMES, simulate_film, simulate_series

BINS = 8


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=100)
    parser.add_argument("--first-seed", type=int, default=50_000)
    args = parser.parse_args()
    for strips in (1, 3):
        ranks, curves, chains = [], [], []
        for seed in range(args.first_seed, args.first_seed + args.films):
            film, rng = simulate_film(seed), np.random.default_rng([seed, 9])
            fit = fit_film(simulate_series(film, [_recipe(rng) for _ in range(strips)], seed=seed), drawn=seed)
            # Thin, so that ranks take few values.
            ranks.append((fit.draws[:, : len(NAMES)] < film.coordinates).mean(axis=0))
            controls, x = _recipe(rng), np.array([-9.0, -0.5, 0.0, 0.5, 1.0])
            drawn = fit.curves(fit.checked(controls), x)[:, 0]
            curves.append((drawn < film.density(controls, x)).mean(axis=0))
            chains.append(fit.posterior.rounds)
        ranks, curves = np.array(ranks)[:, :-1], np.array(curves)
        print(f"{strips} strip(s), {args.films} films; {np.median(chains):.0f} rounds (median)")
        _say("parameters", ranks, NAMES[:-1])
        _say("density of an untried recipe", curves, ("border", "-0.5", "0", "+0.5", "+1.0"))


def _recipe(rng) -> dict[str, float]:
    return {
        "first_developer_time_min": float(rng.uniform(6, 18)),
        "solvent_ml_per_l": float(rng.uniform(0, 20)),
        "alkali_ml_per_l": float(rng.uniform(0, 15)),
    }


def _say(what: str, ranks: np.ndarray, names) -> None:
    inside = (ranks > 0.05) & (ranks < 0.95)
    print(
        f"  {what}: 90 % intervals hold {inside.mean():.3f}; by rank eighths {np.histogram(ranks, BINS, (0, 1))[0] / ranks.size}"
    )
    worst = []
    for i, name in enumerate(names):
        counts = np.histogram(ranks[:, i], BINS, (0, 1))[0]
        expected = len(ranks) / BINS
        worst.append(
            (float(chi2.sf(((counts - expected) ** 2 / expected).sum(), BINS - 1)), name, float(inside[:, i].mean()))
        )
    for p, name, share in sorted(worst)[:4]:
        print(f"    least uniform: {name} (chi-square p {p:.3f}, interval holds {share:.2f})")


if __name__ == "__main__":
    main()
