"""Confusion table of faults told from the curve, at three strengths, for known and unknown films.

Run: python benchmarks/bench_faults_from_curve.py
Strips are the process model with one thing gone wrong, a smooth departure of each strip, and reading
noise. A known film was learned from three sound strips before. Prints the table that stands in
docs/faults-from-the-curve.md.
"""

from __future__ import annotations

import os
from collections import Counter

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from obverse.diagnosis.causes import compare
from obverse.inference import fit_film
from obverse.model import control_array, layers
from obverse.model.parameters import INDEX
from obverse.model.simulate import simulate_film, simulate_series

FILMS = 40
X = np.round(np.linspace(-1.6, 1.6, 21), 2)
STRENGTHS = {
    "": (0.0,),
    "ghost_negative": (0.05, 0.10, 0.15),
    "incomplete_second_development": (0.8, 0.7, 0.6),
    "stain": (0.15, 0.25, 0.35),
    "underexposed": (-0.3, -0.45, -0.6),
    "overexposed": (0.3, 0.45, 0.6),
}
COLUMNS = ("", "ghost_negative", "incomplete_second_development", "stain", "underexposed", "overexposed", "cannot tell")
SHORT = {"": "sound", "ghost_negative": "ghost", "incomplete_second_development": "incomplete", "cannot tell": "cannot tell"}


def draw_controls(random: np.random.Generator) -> dict[str, float]:
    """Controls as a person might choose them."""
    return {
        "first_developer_time_min": round(random.uniform(7, 15), 1),
        "solvent_ml_per_l": float(random.integers(3, 18)),
        "alkali_ml_per_l": float(random.integers(2, 10)),
    }


def strip(seed: int, fault: str, strength: float):
    """Densities (21,), controls and film of one strip."""
    random = np.random.default_rng([11, seed])
    film = simulate_film(seed)
    coordinates = film.coordinates.copy()
    if fault in ("ghost_negative", "stain"):
        coordinates[INDEX["ghost" if fault == "ghost_negative" else "stain"]] = np.log(strength)
    controls = draw_controls(random)
    shift = strength if fault in ("underexposed", "overexposed") else 0.0
    seen = layers(coordinates[None], control_array([controls]), X + shift + random.normal(0, 0.03))
    d = seen.density[0, 0]
    if fault == "incomplete_second_development":
        d = d - (1 - strength) * seen.image[0, 0]
    smooth = np.exp(-0.5 * ((X[:, None] - X) / 0.6) ** 2)
    d = d + random.multivariate_normal(np.zeros(X.size), smooth) * 0.02 * (0.3 + d - d.min())
    return np.maximum(d + random.normal(0, 0.02, X.size) + random.normal(0, 0.01), 0), controls, film


def main() -> None:
    """Measure and print."""
    known = {}
    for seed in range(FILMS):
        random = np.random.default_rng([13, seed])
        known[seed] = fit_film(simulate_series(simulate_film(seed), [draw_controls(random) for _ in range(3)], seed=seed)).draws
    for title, draws_of in (("A film known from three other strips", known.get), ("A film never seen before", lambda seed: None)):
        print(f"\n{title}\n")
        print("| fault | strength | " + " | ".join(SHORT.get(c, c) for c in COLUMNS) + " |")
        print("| --- | --- |" + " --- |" * len(COLUMNS))
        for fault, strengths in STRENGTHS.items():
            for strength in strengths:
                told = Counter()
                for seed in range(FILMS):
                    d, controls, film = strip(seed, fault, strength)
                    chances = compare(X, d, np.full(X.size, 0.02), base_density=film.base_density, controls=controls, film_draws=draws_of(seed))
                    first = max(chances, key=chances.get)
                    told[first if chances[first] >= 0.5 else "cannot tell"] += 1
                print(f"| {SHORT.get(fault, fault)} | {strength:g} | " + " | ".join(str(told[c]) for c in COLUMNS) + " |", flush=True)


if __name__ == "__main__":
    main()
