"""How fast strip and curve follow the hand: the server's work for one what-if, with 100 trials in memory.

Run: python benchmarks/bench_what_if.py
The figure that carries over between computers is the ratio to one plain matrix product of the same run.
"""

from __future__ import annotations

import os
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from fastapi.testclient import TestClient

from obverse.model.simulate import demo_film, simulate_series
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

TRIALS = 100
ASKED = 60


def main() -> None:
    """Measure and print."""
    import tempfile
    from pathlib import Path

    random = np.random.default_rng(0)
    controls = [
        {"first_developer_time_min": float(t), "solvent_ml_per_l": float(s), "alkali_ml_per_l": float(a)}
        for t, s, a in zip(
            random.integers(12, 32, TRIALS) / 2,
            random.integers(0, 28, TRIALS),
            random.integers(0, 15, TRIALS),
            strict=True,
        )
    ]
    with tempfile.TemporaryDirectory() as home:
        bench = open_workbench(Path(home), url="sqlite://")
        film = bench.notebook.import_series(simulate_series(demo_film(), controls, seed=1).model_dump(mode="json")).id
        app = create_app(bench)
        with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as web:
            url = f"/api/notebook/films/{film}/what-if"
            begun = time.perf_counter()
            web.post(url, json={"controls": controls[0]}).raise_for_status()
            first = time.perf_counter() - begun
            times = []
            for i in range(ASKED):
                begun = time.perf_counter()
                web.post(url, json={"controls": {**controls[0], "solvent_ml_per_l": 0.5 * i}}).raise_for_status()
                times.append(time.perf_counter() - begun)
        bench.close()
    matrix = random.standard_normal((400, 400))
    begun = time.perf_counter()
    for _ in range(20):
        matrix @ matrix
    unit = (time.perf_counter() - begun) / 20
    median, p95 = np.quantile(times, (0.5, 0.95))
    print(f"first look, film learned from {TRIALS} trials: {first:.2f} s")
    print(
        f"each what-if: median {1e3 * median:.1f} ms, 95 % {1e3 * p95:.1f} ms, {median / unit:.1f} matrix products of 400 x 400"
    )


if __name__ == "__main__":
    main()
