"""Readings of films of other worlds with errors in density and exposure: how often the intervals of a curve hold.

    python -m benchmarks.wall_films FIRST_SEED [COUNT] [steps|frames]

The films are those of `benchmarks.truths`, families (a) grains, (b) kinetics, (c) published tables and (d) fields: written without
sight of the product, reversed by laws of their own, each at the recipe it was built round, its place on the exposure axis
drawn. `steps` is a wedge of 21 steps 0.15 apart, `frames` are 11 exposures a stop apart. What the film got is the listed exposure
and its errors; what is listed is round, as a shutter is. Prints one row a mix of errors, each cell with its binomial error.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from numpy.typing import NDArray

from benchmarks.truths import families
from obverse.sensitometry import fit_curve

Array = NDArray[np.float64]

# Standard uncertainties: density, log exposure of each reading, log exposure common to a list.
MIXES = (
    (0.02, 0.0, 0.0),
    (0.02, 0.05, 0.0),
    (0.02, 0.10, 0.0),
    (0.02, 0.0, 0.1),
    (0.05, 0.05, 0.1),
    (0.01, 0.03, 0.2),
)
QUANTITIES = ("dmin", "dmax", "gradient", "mid-tone")
LETTERS = "abcd"
PLANS = {"steps": (21, 0.15), "frames": (11, 0.301)}
# Exposure at which these films are read as unexposed and as exposed without end.
ENDS = 3.0
# Around the mid-tone, in log exposure: what the gradient is said of.
REACH = 0.25


@dataclass(frozen=True, slots=True)
class TrueCurve:
    """A film at one recipe. Densities include the base."""

    log_exposure: Array
    density: Array
    base: float
    letter: str

    def at(self, x: Array) -> Array:
        """Densities at log exposures; level past the ends."""
        return np.interp(x, self.log_exposure, self.density)

    def numbers(self) -> dict[str, float]:
        """What the intervals are held against."""
        middle = self.crossing(self.base + 1.0)
        high, low = self.at(np.array([middle - REACH, middle + REACH]))
        return {
            "dmin": float(self.density[-1]),
            "dmax": float(self.density[0]),
            "gradient": float(high - low) / (2 * REACH),
            "mid-tone": middle,
        }

    def crossing(self, level: float) -> float:
        """First exposure at which the curve falls under a level."""
        i = int(np.argmax(self.density < level))
        high, low = self.density[i - 1], self.density[i]
        step = self.log_exposure[i] - self.log_exposure[i - 1]
        return float(self.log_exposure[i - 1] + step * (high - level) / (high - low))


def true_curve(seed: int) -> TrueCurve | None:
    """The film of a seed; None where it never crosses the mid-tone by a margin."""
    letter = LETTERS[seed % len(LETTERS)]
    family, _ = families()[letter]
    film = family.make_film(seed, ("easy", "medium", "hard")[seed % 3])
    x = np.linspace(-ENDS, ENDS, 601)
    density = film.density_many([film.optimum], x)[0]
    # Reversed films fall; what a table's spline rises by is rounding.
    density = np.minimum.accumulate(density)
    if not density[-1] + REACH < film.base_density + 1.0 < density[0] - REACH:
        return None
    place = float(np.random.default_rng([seed, 11]).uniform(-0.4, 0.4))
    return TrueCurve(x + place, density, float(film.base_density), letter)


def readings(curve: TrueCurve, plan: str, mix: tuple[float, float, float], seed: int) -> tuple[Array, Array]:
    """Listed log exposures and read densities, to two places."""
    random = np.random.default_rng([seed, 12, MIXES.index(mix)])
    count, step = PLANS[plan]
    top, foot = curve.density[0], curve.density[-1]
    middle = (curve.crossing(foot + 0.95 * (top - foot)) + curve.crossing(foot + 0.05 * (top - foot))) / 2
    listed = np.round(middle + random.uniform(-0.15, 0.15) + step * (np.arange(count) - (count - 1) / 2), 2)
    density_sd, each, common = mix
    got = listed + each * random.standard_normal(count) + common * random.standard_normal()
    return listed, np.round(curve.at(got) + density_sd * random.standard_normal(count), 2)


def held(seed: int, plan: str, mix: tuple[float, float, float]) -> dict[str, tuple[int, float]] | None:
    """Of each quantity: -1 where the truth lies below the interval, 1 above, 0 inside; and how wide the interval is."""
    curve = true_curve(seed)
    if curve is None:
        return None
    x, density = readings(curve, plan, mix, seed)
    found = fit_curve(
        x,
        density,
        [mix[0]] * len(x),
        base_density=curve.base,
        log_exposure_sd=mix[1],
        common_log_exposure_sd=mix[2],
    )
    said = {
        "dmin": found.dmin,
        "dmax": found.dmax_with_base,
        "gradient": found.gradient,
        "mid-tone": found.midtone_log_exposure,
    }
    truth = curve.numbers()
    return {
        name: (int(truth[name] > one.high90) - int(truth[name] < one.low90), one.high90 - one.low90)
        for name, one in said.items()
        if one is not None
    }


def main() -> None:
    """Print the table."""
    first = int(sys.argv[1])
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 150
    plan = sys.argv[3] if len(sys.argv) > 3 else "steps"
    print("| density sd | log exposure sd, each | common | " + " | ".join(QUANTITIES) + " |\n" + "|---" * 7 + "|")
    for mix in MIXES:
        cells = {name: [] for name in QUANTITIES}
        seed, done = first, 0
        while done < count:
            one = held(seed, plan, mix)
            seed += 1
            if one is None:
                continue
            done += 1
            for name, value in one.items():
                cells[name].append(value)
        words = []
        for name in QUANTITIES:
            side = np.array([value[0] for value in cells[name]])
            share = float(np.mean(side == 0))
            words.append(
                f"{100 * share:.0f} ± {100 * np.sqrt(share * (1 - share) / side.size):.0f} % "
                f"({np.sum(side < 0)} below, {np.sum(side > 0)} above; {np.median([v[1] for v in cells[name]]):.3f})"
            )
        print(f"| {mix[0]:g} | {mix[1]:g} | {mix[2]:g} | " + " | ".join(words) + " |", flush=True)


if __name__ == "__main__":
    main()
