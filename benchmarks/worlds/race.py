"""One learner on one film, strip by strip."""

from __future__ import annotations

import time
from typing import Any

import numpy as np

from benchmarks.learning.opponents import OPPONENTS, Told, read_off
from benchmarks.worlds.films import Bench
from benchmarks.worlds.greybox import GreyBox
from obverse.inference import fit_film, next_strips
from obverse.model import OBSERVABLES
from obverse.process import read_series

MOST = 12
# After the first good strip the notebook may make this many more before it must have said so.
LATE = 3
# Draws of a quick race; a quick race tells of "ready" only where it was said at the first good strip.
QUICK_DRAWS = 1024


def run_notebook(bench: Bench, most: int = MOST, *, quick: bool = False) -> dict[str, Any]:
    """Let the notebook plan the strips until one truly lies in the aim and it has said ready, or `most` are made."""
    run: dict[str, Any] = {
        "first": None,
        "ready": None,
        "right": None,
        "chance": [],
        "cover": [],
        "seconds": [],
        "reach": [],
    }
    for number in range(most + 1):
        begun = time.process_time()
        series = read_series(bench.series())
        answer = next_strips(series, fit=fit_film(series, draws=QUICK_DRAWS) if quick else None)
        run["seconds"].append(round(time.process_time() - begun, 3))
        run["reach"].append(round(answer.reachable, 3))
        if answer.status == "ready" and run["ready"] is None:
            k = [s["id"] for s in bench.strips].index(answer.best_trial.id)
            run["ready"], run["right"] = number, bench.truly(k)
            run["ready_p"] = round(answer.best_trial.probability_in_aim, 3)
        done = run["first"] is not None and (quick or run["ready"] is not None or number >= run["first"] + LATE)
        if number == most or done:
            break
        plan = answer.suggestions[0]
        hit = bench.make(plan.controls)
        run["chance"].append([round(plan.probability_in_aim, 3), hit])
        true = bench.observed(number)
        run["cover"].append(
            [
                [
                    bool(plan.predicted[o].low90 <= true[o] <= plan.predicted[o].high90)
                    for o in OBSERVABLES
                    if np.isfinite(true[o])
                ],
                number,
            ]
        )
        run.setdefault("recipes", []).append(list(plan.controls.values()))
        if hit and run["first"] is None:
            run["first"] = number + 1
    return run


def run_opponent(bench: Bench, name: str, most: int = MOST) -> dict[str, Any]:
    """Let an opponent plan the strips until one truly lies in the aim."""
    aim = read_series(bench.series([])).aim
    if name == "grey-box":
        learner: Any = GreyBox(bench, aim)
    else:
        learner = OPPONENTS[name][0](bench.limits(), aim, bench.case.rng_seed % 10_000)
    run: dict[str, Any] = {"first": None, "seconds": []}
    for number in range(most):
        begun = time.process_time()
        controls = learner.ask()
        run["seconds"].append(round(time.process_time() - begun, 3))
        if bench.make(controls):
            run["first"] = number + 1
            break
        if name == "grey-box":
            learner.tell()
        else:
            strip = bench.strips[-1]
            if "grades" in strip:
                score = float(-sum(_severity(g) for g in strip["grades"]))
                learner.tell(Told(controls, np.full(4, np.nan), score))
            else:
                base = bench.series([])["film"]["base_density"]
                base = min(s["density"] for s in strip["steps"]) if base is None else base
                observed, score = read_off(strip["steps"], base, aim)
                learner.tell(Told(controls, observed, score))
    return run


def _severity(grade: dict[str, str]) -> float:
    return {
        "slightly_murky": 1,
        "murky": 2.5,
        "slightly_thin": 1,
        "thin": 2.5,
        "light": 1.5,
        "dark": 1.5,
        "slightly_light": 0.8,
        "slightly_dark": 0.8,
    }.get(grade["grade"], 0)
