"""How long `obverse next` works, and how it grows with the number of strips; all ratios of one run."""

from __future__ import annotations

import statistics
import time

import numpy as np

from obverse.inference import fit_film, next_strips
from obverse.model import demo_film, simulate_series

COUNTS = (0, 1, 3, 10, 30, 100, 200)


def main() -> None:
    rng = np.random.default_rng(0)
    recipes = [
        {
            "first_developer_time_min": float(rng.uniform(6, 18)),
            "solvent_ml_per_l": float(rng.uniform(0, 20)),
            "alkali_ml_per_l": float(rng.uniform(0, 15)),
        }
        for _ in range(max(COUNTS))
    ]
    next_strips(simulate_series(demo_film(), recipes[:2], seed=1))
    print("strips of 21 steps | next, wall s | next, processor s | next --count 6, processor s | curve with band, ms")
    spent = {}
    for n in COUNTS:
        series = simulate_series(demo_film(), recipes[:n], seed=1)
        wall, cpu, six = [], [], []
        for _ in range(3):
            a, b = time.perf_counter(), time.process_time()
            next_strips(series)
            wall.append(time.perf_counter() - a)
            cpu.append(time.process_time() - b)
            b = time.process_time()
            next_strips(series, count=6)
            six.append(time.process_time() - b)
        fit = fit_film(series)
        curve = []
        for k in range(20):
            a = time.perf_counter()
            fit.predict_curve({"first_developer_time_min": 8.0 + 0.2 * k})
            curve.append(time.perf_counter() - a)
        spent[n] = statistics.median(cpu)
        print(
            f"{n:18d} | {statistics.median(wall):12.3f} | {spent[n]:17.3f} | {statistics.median(six):27.3f} | {1000 * statistics.median(curve):8.2f}"
        )
    print(f"growth from 10 to 100 strips: {spent[100] / spent[10]:.1f} times for 10 times as many (linear would be 10)")


if __name__ == "__main__":
    main()
