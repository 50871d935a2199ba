"""The notebook's posterior against a no-U-turn sampler on the same log posterior.

The notebook draws by a stretched normal law and short Markov chains. Here the very same density
(`Likelihood.log_posterior`, held at the heaviest mode) is sampled again by the NUTS of littlemcmc,
with gradients by central differences, in the coordinates that whiten the mode. Only the sampling
is compared: what both believe of films is the same. Needs the extra `check`:

    pip install '.[check]'
    python -m benchmarks.bench_nuts
"""

from __future__ import annotations

import argparse
import time
import warnings

import littlemcmc
import numpy as np

from obverse.inference import FilmFit, fit_film
from obverse.model import NAMES, OBSERVABLES, demo_film, observables, simulate_film, simulate_series

STEP = 1e-4
CHAINS = 2
USUAL = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}
LONGER = {"first_developer_time_min": 14.0, "solvent_ml_per_l": 12.0, "alkali_ml_per_l": 5.0}
UNTRIED = {"first_developer_time_min": 12.0, "solvent_ml_per_l": 5.0, "alkali_ml_per_l": 9.0}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--draws", type=int, default=400, help="per chain")
    parser.add_argument("--tune", type=int, default=400)
    parser.add_argument("--films", type=int, default=2, help="films drawn at random beside the demo film")
    args = parser.parse_args()
    cases = [("demo film, one strip", demo_film(), [USUAL]), ("demo film, two strips", demo_film(), [USUAL, LONGER])]
    cases += [(f"film {seed}, two strips", simulate_film(seed), [USUAL, LONGER]) for seed in range(60_000, 60_000 + args.films)]
    worst = []
    for name, film, recipes in cases:
        fit = fit_film(simulate_series(film, recipes, seed=7))
        started = time.process_time()
        chains = sample(fit, draws=args.draws, tune=args.tune)
        nuts = chains.reshape(-1, fit.law.size)
        print(
            f"{name}: {fit.law.size} unknowns, {fit.posterior.modes} mode(s), notebook {len(fit.draws)} draws after "
            f"{fit.posterior.chain_steps} steps; NUTS {len(nuts)} draws in {time.process_time() - started:.0f} s of processor time, "
            f"R-hat at most {r_hat(chains).max():.3f}"
        )
        half = chains.shape[1] // 2
        worst.append(agreement("process parameters", fit.draws[:, : len(NAMES)], nuts[:, : len(NAMES)], NAMES))
        agreement("  (NUTS against itself, first half and second)", chains[:, :half].reshape(-1, fit.law.size)[:, : len(NAMES)], chains[:, half:].reshape(-1, fit.law.size)[:, : len(NAMES)], NAMES)
        for at, recipe in (("a tried recipe", recipes[0]), ("an untried recipe", UNTRIED)):
            worst.append(agreement(f"observables of {at}", seen(fit, fit.draws, recipe), seen(fit, nuts, recipe), OBSERVABLES))
    shift, ratio_low, ratio_high, ends = np.array(worst).T
    print(
        f"over all: means within {shift.max():.2f} sd, sd ratios {ratio_low.min():.2f} to {ratio_high.max():.2f}, "
        f"90 % interval ends within {ends.max():.2f} sd"
    )


def sample(fit: FilmFit, *, draws: int, tune: int) -> np.ndarray:
    """Chains of the unknowns by NUTS, shape (C, draws, U)."""
    mode = fit.posterior.mode
    held, size = mode.likelihood, fit.law.size
    steps = np.concatenate([np.eye(size), -np.eye(size), np.zeros((1, size))]) * STEP

    def log_density(z: np.ndarray) -> tuple[float, np.ndarray]:
        values = held.log_posterior(mode.point + (z + steps) @ mode.root.T)
        return float(values[-1]), (values[:size] - values[size:-1]) / (2 * STEP)

    with warnings.catch_warnings():
        # The library's own, about its progress bar and old numpy names.
        warnings.simplefilter("ignore")
        trace, _ = littlemcmc.sample(
            log_density, size, draws=draws, tune=tune, chains=CHAINS, cores=1, progressbar=False,
            random_seed=list(range(1, CHAINS + 1)), start=np.zeros(size), step=littlemcmc.NUTS(
                logp_dlogp_func=log_density, model_ndim=size, target_accept=0.85,
            ),
        )
    return mode.point + trace.reshape(CHAINS, -1, size)[:, -draws:] @ mode.root.T


def seen(fit: FilmFit, draws: np.ndarray, recipe: dict[str, float]) -> np.ndarray:
    """Observables of the film's law at a recipe in each draw, shape (M, 4)."""
    controls = fit.checked(recipe)
    base = np.exp(draws[:, [NAMES.index("base")]])
    found = observables(lambda x: fit.law.density(draws, controls, x), base, fit.series.aim.midtone_density)[:, 0]
    return found[np.isfinite(found).all(axis=1)]


def r_hat(chains: np.ndarray) -> np.ndarray:
    """Potential scale reduction of split chains (Gelman and Rubin 1992, from memory), shape (U,)."""
    n = chains.shape[1] // 2
    split = np.concatenate([chains[:, :n], chains[:, n : 2 * n]])
    within = split.var(axis=1, ddof=1).mean(axis=0)
    between = n * split.mean(axis=1).var(axis=0, ddof=1)
    return np.sqrt((within * (n - 1) / n + between / n) / within)


def agreement(what: str, ours: np.ndarray, theirs: np.ndarray, names) -> tuple[float, float, float, float]:
    """Print and return the largest shift of means, the range of sd ratios, the largest shift of interval ends (in sd)."""
    sd = theirs.std(axis=0)
    shift = np.abs(ours.mean(axis=0) - theirs.mean(axis=0)) / sd
    ratio = ours.std(axis=0) / sd
    ends = np.abs(np.quantile(ours, (0.05, 0.95), axis=0) - np.quantile(theirs, (0.05, 0.95), axis=0)) / sd
    print(
        f"  {what}: means apart by {np.median(shift):.2f} sd (median), {shift.max():.2f} (most, {names[shift.argmax()]}); "
        f"sd ratio {ratio.min():.2f} ({names[ratio.argmin()]}) to {ratio.max():.2f}, median {np.median(ratio):.2f}; "
        f"90 % interval ends apart by {np.median(ends):.2f} sd (median), {ends.max():.2f} (most, {names[ends.max(axis=0).argmax()]})",
        flush=True,
    )
    return float(shift.max()), float(ratio.min()), float(ratio.max()), float(ends.max())


if __name__ == "__main__":
    main()
