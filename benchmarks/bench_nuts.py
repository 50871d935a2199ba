"""The notebook's posterior against a no-U-turn sampler on the same log posterior.

The notebook draws by a stretched normal law and short Markov chains. Here the very same density
(`Likelihood.log_posterior`, held at the heaviest mode) is sampled again by the NUTS of littlemcmc,
with gradients by central differences, in the coordinates that whiten the mode. Only the sampling
is compared: what both believe of films is the same.

One answer of the notebook rests on 320 draws, and what an untried recipe does has long tails: the
standard deviation of 320 draws then scatters by a tenth and more. So the notebook's draws of several
seeds are pooled, and the scatter between seeds is printed, as is that between the halves of NUTS.
Needs the extra `check`:

    pip install '.[check]'
    python -m benchmarks.bench_nuts
"""

from __future__ import annotations

import argparse
import time
import warnings
from dataclasses import dataclass
from itertools import product

import littlemcmc
import numpy as np

from obverse.inference import FilmFit, fit_film
from obverse.inference.posterior import sample_mode
from obverse.model import NAMES, OBSERVABLES, demo_film, observables, simulate_film, simulate_series

STEP = 1e-4
CHAINS = 2
USUAL = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}
LONGER = {"first_developer_time_min": 14.0, "solvent_ml_per_l": 12.0, "alkali_ml_per_l": 5.0}
UNTRIED = (
    {"first_developer_time_min": 12.0, "solvent_ml_per_l": 5.0, "alkali_ml_per_l": 9.0},
    {"first_developer_time_min": 8.0, "solvent_ml_per_l": 14.0, "alkali_ml_per_l": 2.0},
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--draws", type=int, default=400, help="per chain")
    parser.add_argument("--tune", type=int, default=400)
    parser.add_argument("--films", type=int, default=2, help="films drawn at random beside the demo film")
    parser.add_argument("--seeds", type=int, default=6, help="seeds of the notebook whose draws are pooled")
    args = parser.parse_args()
    films = [("demo film", demo_film())] + [
        (f"film {seed}", simulate_film(seed)) for seed in range(60_000, 60_000 + args.films)
    ]
    found: dict[str, list[Agreement]] = {}
    for (name, film), (number, recipes) in product(films, (("one strip", [USUAL]), ("two strips", [USUAL, LONGER]))):
        series = simulate_series(film, recipes, seed=7)
        fit = fit_film(series)
        started = time.process_time()
        chains = sample(fit, draws=args.draws, tune=args.tune)
        nuts = chains.reshape(-1, fit.law.size)
        ours = [
            sample_mode(fit.posterior.mode, len(fit.draws), np.random.default_rng([s, 3]))[0] for s in range(args.seeds)
        ]
        print(
            f"{name}, {number}: {fit.law.size} unknowns, {fit.posterior.modes} mode(s), notebook {args.seeds} times {len(fit.draws)} draws after "
            f"{fit.posterior.chain_steps} steps; NUTS {len(nuts)} draws in {time.process_time() - started:.0f} s of processor time, "
            f"R-hat at most {r_hat(chains).max():.3f}"
        )
        kinds = [("process parameters", "process parameters", NAMES, lambda d: d[:, : len(NAMES)])]
        for at, recipe in (
            ("tried recipe", recipes[0]),
            ("first untried recipe", UNTRIED[0]),
            ("second untried recipe", UNTRIED[1]),
        ):
            kinds.append(
                (
                    at,
                    f"observables, {at.split()[-2]} recipe, {number}",
                    OBSERVABLES,
                    lambda d, r=recipe, f=fit: seen(f, d, r),
                )
            )
        for what, group, names, look in kinds:
            found.setdefault(group, []).append(
                agreement(what, names, [look(d) for d in ours], [look(c) for c in halves(chains)])
            )
    for group, rows in found.items():
        sd, shift = np.concatenate([row.sd_ratio for row in rows]), np.concatenate([row.shift for row in rows])
        width = np.concatenate([row.width_ratio for row in rows])
        print(
            f"{group}: sd ratio mean {sd.mean():.2f} ({sd.min():.2f} to {sd.max():.2f}), width of 90 % intervals {width.mean():.2f} "
            f"({width.min():.2f} to {width.max():.2f}), means apart by {shift.mean():.2f} sd (most {shift.max():.2f})"
        )


@dataclass(frozen=True)
class Agreement:
    """Notebook against NUTS for some quantities, each (K,): ratio of sd, of the width of 90 % intervals, and means apart in sd."""

    sd_ratio: np.ndarray
    width_ratio: np.ndarray
    shift: np.ndarray


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
            log_density,
            size,
            draws=draws,
            tune=tune,
            chains=CHAINS,
            cores=1,
            progressbar=False,
            random_seed=list(range(1, CHAINS + 1)),
            start=np.zeros(size),
            step=littlemcmc.NUTS(
                logp_dlogp_func=log_density,
                model_ndim=size,
                target_accept=0.85,
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


def halves(chains: np.ndarray) -> list[np.ndarray]:
    """First and second half of all chains, each (M, U)."""
    half = chains.shape[1] // 2
    return [part.reshape(-1, chains.shape[2]) for part in (chains[:, :half], chains[:, half:])]


def agreement(what: str, names, ours: list[np.ndarray], theirs: list[np.ndarray]) -> Agreement:
    """Compare the notebook's draws of several seeds with NUTS in two halves, all (M, K); print and return."""
    ours_all, theirs_all = np.concatenate(ours), np.concatenate(theirs)
    sd = theirs_all.std(axis=0)
    shift = np.abs(ours_all.mean(axis=0) - theirs_all.mean(axis=0)) / sd
    ratio, width = ours_all.std(axis=0) / sd, interval(ours_all) / interval(theirs_all)
    each = np.array([d.std(axis=0) for d in ours]) / sd
    own = theirs[0].std(axis=0) / theirs[1].std(axis=0)
    print(
        f"  {what}: sd ratio {ratio.min():.2f} ({names[ratio.argmin()]}) to {ratio.max():.2f}, median {np.median(ratio):.2f}; one seed alone "
        f"{each.min():.2f} to {each.max():.2f}, half of NUTS by the other half {own.min():.2f} to {own.max():.2f}; "
        f"width of 90 % intervals {width.min():.2f} to {width.max():.2f}; means apart by {np.median(shift):.2f} sd (median), "
        f"{shift.max():.2f} (most, {names[shift.argmax()]})",
        flush=True,
    )
    return Agreement(ratio, width, shift)


def interval(draws: np.ndarray) -> np.ndarray:
    """Width of the 90 % intervals of (M, K) draws, shape (K,)."""
    low, high = np.quantile(draws, (0.05, 0.95), axis=0)
    return high - low


if __name__ == "__main__":
    main()
