"""How long `obverse next` works, how it grows with the number of strips, and against BoTorch; all of one run.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m benchmarks.bench_next_speed

BoTorch need not be installed: the lines of it say so then. Whatever else the machine does meets both alike, for they take turns.
"""

from __future__ import annotations

import importlib.util
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchmarks.learning.opponents import BotorchNei, BotorchUsual, Told
from obverse.inference import fit_film, next_strips
from obverse.model import demo_film, simulate_series
from obverse.process import Series

COUNTS = (1, 3, 10, 30, 100)
# Strips at which the two are held against each other, and how often each is asked.
AGAINST, TIMES = (10, 100), 5
RANGES = {
    "first_developer_time_min": (6.0, 18.0, 0.5),
    "solvent_ml_per_l": (0.0, 20.0, 1.0),
    "alkali_ml_per_l": (0.0, 15.0, 1.0),
    "temperature_c": (18.0, 24.0, 0.5),
}


def strips(count: int) -> Series:
    """Strips of 21 steps by recipes of four controls, anywhere within their ranges."""
    rng = np.random.default_rng(0)
    recipes = [{name: float(rng.uniform(low, high)) for name, (low, high, _) in RANGES.items()} for _ in range(count)]
    return simulate_series(demo_film(), recipes, seed=1)


def worked(do: Callable[[], object]) -> float:
    """Processor seconds that a call takes."""
    begun = time.process_time()
    do()
    return time.process_time() - begun


def rival(kind: type[BotorchNei], series: Series, seed: int) -> BotorchNei:
    """An opponent that was told the same number of strips of four controls."""
    limits = {name: {"low": low, "high": high, "step": step} for name, (low, high, step) in RANGES.items()}
    opponent = kind(limits, series.aim, seed)
    rng = np.random.default_rng(seed)
    for trial in series.trials:
        far = np.abs(opponent.unit(trial.controls) - 0.4).max()
        opponent.tell(Told(trial.controls, np.zeros(4), float(-6.0 * far + 0.3 * rng.normal())))
    return opponent


def command(series: Series) -> float:
    """Processor seconds of `obverse next` as a whole, the second time: an installed program has been compiled before."""
    with tempfile.TemporaryDirectory() as folder:
        film = Path(folder) / "film.json"
        film.write_text(series.model_dump_json(exclude_none=True), encoding="utf-8")
        own = {"OBVERSE_HOME": folder, "PYTHONPYCACHEPREFIX": f"{folder}/compiled", "PYTHONDONTWRITEBYTECODE": ""}
        for _ in range(2):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(
                [sys.executable, "-m", "obverse", "next", str(film), "--json"],
                check=True,
                stdout=subprocess.DEVNULL,
                env=os.environ | own,
            )
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    next_strips(strips(2))
    print("strips of 21 steps | next, wall s | next, processor s | next --count 6, processor s | curve with band, ms")
    spent = {}
    for n in COUNTS:
        series = strips(n)
        begun = time.perf_counter()
        spent[n] = statistics.median(worked(lambda series=series: next_strips(series)) for _ in range(3))
        wall = (time.perf_counter() - begun) / 3
        six = worked(lambda series=series: next_strips(series, count=6))
        fit = fit_film(series)
        curve = [
            worked(lambda fit=fit, k=k: fit.predict_curve({"first_developer_time_min": 8.0 + 0.2 * k}))
            for k in range(20)
        ]
        print(f"{n:18d} | {wall:12.3f} | {spent[n]:17.3f} | {six:27.3f} | {1000 * statistics.median(curve):8.2f}")
    print(f"growth from 10 to 100 strips: {spent[100] / spent[10]:.1f} times for 10 times as many (linear would be 10)")
    installed = importlib.util.find_spec("botorch") is not None
    for n in AGAINST:
        series = strips(n)
        ours, race, usual = [], [], []
        if installed:
            rival(BotorchNei, series, 0).ask()
        for seed in range(TIMES):
            ours.append(worked(lambda series=series: next_strips(series)))
            if installed:
                race.append(worked(rival(BotorchNei, series, seed).ask))
                usual.append(worked(rival(BotorchUsual, series, seed).ask))
        own = statistics.median(ours)
        for name, theirs in (("as in the race", race), ("as its documentation has it", usual)):
            if not theirs:
                print(f"{n} strips: next {own:.3f} s of processor; BoTorch {name}: not installed")
                continue
            took = statistics.median(theirs)
            print(f"{n} strips: next {own:.3f} s of processor; BoTorch {name}: {took:.3f}; {own / took:.2f} of it")
        whole = statistics.median(command(series) for _ in range(3))
        print(f"{n} strips: the whole command {whole:.3f} s of processor, {whole - own:.3f} more than its suggestion")


if __name__ == "__main__":
    main()
