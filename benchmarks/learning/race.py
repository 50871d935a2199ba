"""One film, one learner, strip by strip."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np

from benchmarks.grain_truth import GrainFilm, Strip, limits, make_strip, series_of, truly_in_aim
from benchmarks.learning.opponents import Opponent, Told, read_off
from obverse.inference import next_strips
from obverse.model import OBSERVABLES
from obverse.process import Aim, Series, read_series

MOST = 20
# Opponents may go on a little longer, so that what they need can be told.
OPPONENT_MOST = 24


@dataclass
class Run:
    """What happened on one film.

    `first` is the strip that first truly lay in the aim, `ready` the number of strips when the
    tool first said ready, `right` whether it was.
    """

    film: int
    first: int | None = None
    ready: int | None = None
    right: bool | None = None
    repeated: float | None = None
    coverage: list[dict] = field(default_factory=list)
    calibration: list[tuple[float, bool]] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)


def run_notebook(film: GrainFilm, aim: Aim, *, most: int = MOST, others: tuple[Series, ...] = ()) -> Run:
    """Let the notebook plan the strips until one lies in the aim and it has said ready."""
    run, strips = Run(film.seed), []
    for number in range(most + 1):
        begun = time.process_time()
        answer = next_strips(read_series(series_of(film, strips, aim)), others=others)
        run.seconds.append(time.process_time() - begun)
        if answer.status == "ready" and run.ready is None:
            run.ready = number
            run.right = truly_in_aim(strips[int(answer.best_trial.id)], aim)
            run.repeated = answer.best_trial.probability_repeated
        if number == most or (run.ready is not None and run.first is not None):
            break
        plan = answer.suggestions[0]
        strip = make_strip(film, plan.controls, number, midtone=aim.midtone_density)
        strips.append(strip)
        hit = truly_in_aim(strip, aim)
        run.calibration.append((plan.probability_in_aim, hit))
        run.coverage += _covered(plan.predicted, strip, number)
        if hit and run.first is None:
            run.first = number + 1
    return run


def _covered(predicted, strip: Strip, number: int) -> list[dict]:
    rows = []
    for i, name in enumerate(OBSERVABLES):
        true, e = float(strip.true[i]), predicted[name]
        if np.isfinite(true):
            rows.append(
                {
                    "after": number,
                    "of": name,
                    "inside": e.low90 <= true <= e.high90,
                    "miss": (true - e.value) / max(e.high90 - e.low90, 1e-9),
                }
            )
    return rows


def run_opponent(kind: type[Opponent], film: GrainFilm, aim: Aim, *, most: int = OPPONENT_MOST) -> Run:
    """Let an opponent plan the strips until one truly lies in the aim."""
    run, learner = Run(film.seed), kind(limits(film), aim, film.seed)
    for number in range(most):
        controls = learner.ask()
        strip = make_strip(film, controls, number, midtone=aim.midtone_density)
        if truly_in_aim(strip, aim):
            run.first = number + 1
            break
        observed, score = read_off(strip.steps, film.base, aim)
        learner.tell(Told(controls, observed, score))
    return run
