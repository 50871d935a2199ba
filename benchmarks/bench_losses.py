"""Why a strip of a race missed: whether the belief was wrong, vague, or badly asked, told by who knows the truth.

    python benchmarks/bench_losses.py --families a,c,d --films 3 --way words

Some recipes of the grid are really made, over and over, and the truly best of them looked at after each strip. A strip
that missed is counted as

    coarse   hardly any making of the best recipe lies in the aim
    chooser  one of the best was believed likelier than the proposal, beyond a fifth
    tie      one of the best was believed as likely as the proposal
    wrong    else, where what each of the best does lies far outside of what was foretold of it
    prior    else, where the best had hardly any chance
    vague    else: the truth is foretold among much else

and "among equals" is the race of a chooser with the same belief that takes, of recipes believed as likely, the right one.
"""

from __future__ import annotations

import argparse
import os
import sys
import zlib
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from benchmarks.worlds.films import HARDNESS, Bench, Case, Picker, cases
from benchmarks.worlds.race import MOST, QUICK_DRAWS
from obverse.foundation import Z90
from obverse.inference import fit_film, next_strips, recipe_draws
from obverse.model import OBSERVABLES, in_aim
from obverse.process import read_series

# Recipes asked, the best of them looked at, and how often each is made to find them and to judge them.
ASKED, BEST, MADE, MADE_OF_BEST = 300, 5, 4, 40
# Errors of a sink, not the notebook's: minutes, mL/L, their part of a dose, degrees.
TIME_SD, DOSE_SD, DOSE_PART, WARM_SD = 0.15, 0.1, 0.03, 0.3
# As good as the best, a coarse aim, likelier and as likely as the proposal, far outside, hardly any chance.
AS_GOOD, COARSE, LIKELIER, AS_LIKELY, FAR, HARDLY = 0.7, 0.35, 1.25, 0.8, 2.5, 0.02


def often(bench: Bench, recipes: list[dict[str, float]], times: int, seed: int) -> np.ndarray:
    """How often each recipe, made with the errors of a sink, truly lies in the aim."""
    rng = np.random.default_rng(seed)
    made = {name: np.repeat([r[name] for r in recipes], times) for name in recipes[0]}
    for name, amount in made.items():
        noise = rng.standard_normal((2, len(amount)))
        if "ml_per_l" in name:
            spread = DOSE_SD * noise[0] + DOSE_PART * amount * noise[1]
            made[name] = np.where(amount > 0, np.maximum(amount + spread, 0.0), 0.0)
        elif name.endswith("min"):
            made[name] = np.maximum(amount + TIME_SD * noise[0], TIME_SD)
    size = len(recipes) * times
    usual = {name: np.full(size, float(v)) for name, v in bench.common.DEFAULTS.items() if name not in made}
    if "temperature_c" in usual:
        usual["temperature_c"] = usual["temperature_c"] + WARM_SD * rng.standard_normal(size)
    judge = getattr(bench.common, "meets", None) or bench.common.in_aim
    good: np.ndarray = np.asarray(judge(bench.film, usual | made, bench.case.aim)).reshape(len(recipes), times)
    result: np.ndarray = good.mean(axis=1)
    return result


def exactly(bench: Bench, recipe: dict[str, float]) -> list[float]:
    """True observables of a recipe made without error."""
    usual = {name: float(v) for name, v in bench.common.DEFAULTS.items()}
    bench.made.append(usual | recipe)
    found = bench.observed(len(bench.made) - 1)
    bench.made.pop()
    return [found[name] for name in OBSERVABLES]


def why(told: float, chances: np.ndarray, far: np.ndarray, true: np.ndarray) -> str:
    """Of a strip that missed."""
    best = true >= AS_GOOD * true.max()
    believed = chances[best].max()
    if true.max() < COARSE:
        return "coarse"
    if believed >= AS_LIKELY * told:
        return "chooser" if believed > LIKELIER * told else "tie"
    if far[best].min() > FAR:
        return "wrong"
    return "prior" if believed < HARDLY else "vague"


def race(case: Case, film: object) -> tuple[int, int, Counter[str]]:
    """Strips until one lies in the aim, the same among equals, and why each strip but the first missed."""
    bench = Bench.of(case, film)
    axes = [np.arange(v["low"], v["high"] + v["step"] / 2, v["step"]) for v in bench.limits().values()]
    grid = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=1)
    picked = grid[np.random.default_rng(zlib.crc32(case.key.encode())).permutation(len(grid))[:ASKED]]
    recipes = [dict(zip(bench.limits(), map(float, row), strict=True)) for row in picked]
    best = [recipes[k] for k in np.argsort(-often(bench, recipes, MADE, 2), kind="stable")[:BEST]]
    true, shown = often(bench, best, MADE_OF_BEST, 5), np.array([exactly(bench, recipe) for recipe in best])
    reasons: Counter[str] = Counter()
    equals = MOST + 1
    for number in range(MOST):
        series = read_series(bench.series())
        fit = fit_film(series, draws=QUICK_DRAWS)
        proposed = next_strips(series, fit=fit).suggestions[0]
        settings = np.concatenate([fit.checked(recipe) for recipe in best])
        observed, weight = recipe_draws(fit, settings, series.aim)
        if bench.make(proposed.controls):
            return number + 1, min(equals, number + 1), reasons
        if not number:
            continue
        low, middle, high = np.nanquantile(observed, [0.05, 0.5, 0.95], axis=0)
        far = np.nanmax(np.abs(shown - middle) / (high - low) * 2 * Z90, axis=1)
        reason = why(proposed.probability_in_aim, weight @ in_aim(observed, series.aim), far, true)
        reasons[reason] += 1
        if reason in ("tie", "chooser"):
            equals = min(equals, number + 1)
    return MOST + 1, equals, reasons


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--families", default="a,c,d")
    parser.add_argument("--films", type=int, default=3)
    parser.add_argument("--way", default="patches21")
    parser.add_argument("--long", type=int, default=5, help="films that need more strips are told by themselves")
    parser.add_argument("--seeds", type=Path, default=Path("benchmarks/worlds/seeds.json"))
    args = parser.parse_args()

    picker = Picker(args.seeds)
    wanted = cases(args.families.split(","), list(HARDNESS), args.films, [args.way], ["none"], [])
    found = [race(case, film) for case in wanted if (film := picker.pick(case)) is not None]
    for name, column in (("race", 0), ("among equals", 1)):
        took = np.array([one[column] for one in found])
        print(f"{name}: median {np.median(took):g}, mean {took.mean():.2f}, p90 {np.percentile(took, 90):.1f}")
    for name, rows in (("all", found), (f"more than {args.long} strips", [one for one in found if one[0] > args.long])):
        counted: Counter[str] = sum((one[2] for one in rows), Counter())
        print(f"{name}: {len(rows)} films; strips that missed: {dict(counted)}")


if __name__ == "__main__":
    main()
