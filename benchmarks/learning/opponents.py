"""Opponents of the notebook. Each proposes controls and is told a score of the strip as read.

The score is what a person could compute from the readings: how far inside the aim the worst bound
lies, in just noticeable steps (`obverse.model.margins`), negative outside.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from obverse.model import bounds_of, margins, observables
from obverse.process import CONTROLS, Aim

Controls = dict[str, float]


@dataclass(frozen=True)
class Told:
    """What an opponent learns of a strip."""

    controls: Controls
    observed: np.ndarray  # (4,)
    score: float


def read_off(steps: list[dict[str, float]], base: float, aim: Aim) -> tuple[np.ndarray, float]:
    """Observables and score from the readings of one strip, smoothed by a three-point mean."""
    x = np.array([s["log_exposure"] for s in steps])
    d = np.array([s["density"] for s in steps])
    smooth = np.convolve(np.pad(d, 1, mode="edge"), np.ones(3) / 3, mode="valid")
    seen = observables(lambda at: np.interp(np.atleast_2d(at), x, smooth), np.array([base]), aim.midtone_density)[0]
    score = float(np.clip(margins(seen, aim).min(), -6.0, 1.0))
    return seen, score


class Opponent:
    """Proposes strips one at a time."""

    def __init__(self, limits: dict[str, dict], aim: Aim, seed: int):
        self.limits, self.aim, self.seed = limits, aim, seed
        self.rng = np.random.default_rng([seed, 99])
        self.told: list[Told] = []

    def ask(self) -> Controls:
        raise NotImplementedError

    def tell(self, told: Told) -> None:
        self.told.append(told)

    def start(self) -> Controls:
        """The recipe of the book."""
        return self.rounded({name: CONTROLS[name].reference for name in self.limits})

    def rounded(self, controls: Controls) -> Controls:
        out = {}
        for name, lim in self.limits.items():
            steps = round((np.clip(controls[name], lim["low"], lim["high"]) - lim["low"]) / lim["step"])
            out[name] = float(lim["low"] + steps * lim["step"])
        return out

    def at(self, unit: np.ndarray) -> Controls:
        return self.rounded(
            {
                name: lim["low"] + u * (lim["high"] - lim["low"])
                for (name, lim), u in zip(self.limits.items(), unit, strict=True)
            }
        )

    def unit(self, controls: Controls) -> np.ndarray:
        return np.array([(controls[n] - lim["low"]) / (lim["high"] - lim["low"]) for n, lim in self.limits.items()])


class Random(Opponent):
    """Anywhere within the limits."""

    def ask(self) -> Controls:
        return self.at(self.rng.random(len(self.limits)))


class OneFactor(Opponent):
    """One factor at a time by the usual rules of thumb (common practice, no source).

    The worst miss is mended first: mid-tones dark, two minutes more; light, two minutes less;
    highlights murky, 3 mL/L more solvent; blacks thin, 3 mL/L less; flat, more alkali; hard, less. When
    a factor must turn back its step is halved; a factor at its end hands over to the next.
    """

    RULES: ClassVar = {
        ("midtone_log_exposure", -1.0): (("first_developer_time_min", 1), ("alkali_ml_per_l", 1)),
        ("midtone_log_exposure", 1.0): (("first_developer_time_min", -1), ("alkali_ml_per_l", -1)),
        ("highlight_density", -1.0): (("solvent_ml_per_l", 1), ("first_developer_time_min", 1)),
        ("dmax", 1.0): (("solvent_ml_per_l", -1), ("first_developer_time_min", -1)),
        ("gradient", 1.0): (("alkali_ml_per_l", 1), ("solvent_ml_per_l", -1)),
        ("gradient", -1.0): (("alkali_ml_per_l", -1), ("solvent_ml_per_l", 1)),
    }

    def __init__(self, limits, aim, seed):
        super().__init__(limits, aim, seed)
        self.step = {"first_developer_time_min": 2.0, "solvent_ml_per_l": 3.0, "alkali_ml_per_l": 3.0}
        self.last: dict[str, int] = {}
        self.tried: set[tuple] = set()

    def ask(self) -> Controls:
        if not self.told:
            return self.start()
        now = self.told[-1]
        if not np.isfinite(now.observed[3]):
            # Nothing but thin film, or nothing but black: undo development, or add it.
            move = (("first_developer_time_min", -1 if now.observed[0] < 1.5 else 1),)
            misses = [(9.0, move)]
        else:
            misses = []
            for name, sign, _ in bounds_of(self.aim):
                bound = self.aim.model_copy(update=dict.fromkeys(_other_bounds(self.aim, name, sign)))
                misses.append((-float(margins(now.observed, bound).min()), self.RULES[(name, sign)]))
            misses.sort(key=lambda m: -m[0])
        for _, moves in misses:
            for factor, direction in moves:
                wanted = self._moved(now.controls, factor, direction)
                if wanted is not None:
                    return wanted
        return self.at(self.rng.random(len(self.limits)))

    def _moved(self, controls: Controls, factor: str, direction: int) -> Controls | None:
        if self.last.get(factor, direction) != direction:
            self.step[factor] = max(self.step[factor] / 2, self.limits[factor]["step"])
        wanted = self.rounded(controls | {factor: controls[factor] + direction * self.step[factor]})
        key = tuple(wanted.values())
        if wanted == controls or key in self.tried:
            return None
        self.last[factor] = direction
        self.tried.add(key)
        return wanted


def _other_bounds(aim: Aim, name: str, sign: float) -> list[str]:
    fields = {
        ("dmax", 1.0): "dmax_min",
        ("highlight_density", -1.0): "highlight_density_max",
        ("gradient", 1.0): "gradient_min",
        ("gradient", -1.0): "gradient_max",
        ("midtone_log_exposure", 1.0): "midtone_log_exposure_min",
        ("midtone_log_exposure", -1.0): "midtone_log_exposure_max",
    }
    return [field for key, field in fields.items() if key != (name, sign)]


class Tpe(Opponent):
    """Optuna's tree-structured Parzen estimator."""

    def __init__(self, limits, aim, seed):
        super().__init__(limits, aim, seed)
        import optuna

        optuna.logging.set_verbosity(optuna.logging.ERROR)
        self.study = optuna.create_study(
            direction="maximize", sampler=optuna.samplers.TPESampler(seed=seed, n_startup_trials=5)
        )
        self.study.enqueue_trial(self.start())

    def ask(self) -> Controls:
        self.trial = self.study.ask()
        return {
            n: self.trial.suggest_float(n, lim["low"], lim["high"], step=lim["step"]) for n, lim in self.limits.items()
        }

    def tell(self, told: Told) -> None:
        super().tell(told)
        self.study.tell(self.trial, told.score)


class SkoptGp(Opponent):
    """scikit-optimize: Gaussian process, hedged acquisition."""

    def __init__(self, limits, aim, seed):
        super().__init__(limits, aim, seed)
        from skopt import Optimizer

        self.optimizer = Optimizer(
            [(0.0, 1.0)] * len(limits), base_estimator="GP", n_initial_points=4, random_state=seed
        )

    def ask(self) -> Controls:
        if not self.told:
            return self.start()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return self.at(np.array(self.optimizer.ask()))

    def tell(self, told: Told) -> None:
        super().tell(told)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            self.optimizer.tell(self.unit(told.controls).tolist(), -told.score)


class BotorchNei(Opponent):
    """BoTorch: single-task Gaussian process, noisy expected improvement (log)."""

    # Samples of the belief, restarts of the search and points it starts from.
    samples, restarts, raw = 64, 4, 64

    def ask(self) -> Controls:
        if not self.told:
            return self.start()
        if len(self.told) < 4:
            return self.at(self.rng.random(len(self.limits)))
        import torch
        from botorch.acquisition.logei import qLogNoisyExpectedImprovement
        from botorch.fit import fit_gpytorch_mll
        from botorch.models import SingleTaskGP
        from botorch.models.transforms import Standardize
        from botorch.optim import optimize_acqf
        from botorch.sampling import SobolQMCNormalSampler
        from gpytorch.mlls import ExactMarginalLogLikelihood

        torch.manual_seed(self.seed * 1000 + len(self.told))
        torch.set_num_threads(1)
        x = torch.tensor(np.array([self.unit(t.controls) for t in self.told]), dtype=torch.double)
        y = torch.tensor([[t.score] for t in self.told], dtype=torch.double)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = SingleTaskGP(x, y, outcome_transform=Standardize(m=1))
            fit_gpytorch_mll(ExactMarginalLogLikelihood(model.likelihood, model))
            acquisition = qLogNoisyExpectedImprovement(
                model, x, sampler=SobolQMCNormalSampler(torch.Size([self.samples])), prune_baseline=True
            )
            bounds = torch.stack([torch.zeros(x.shape[1]), torch.ones(x.shape[1])]).double()
            found, _ = optimize_acqf(acquisition, bounds=bounds, q=1, num_restarts=self.restarts, raw_samples=self.raw)
        return self.at(found[0].numpy())


class BotorchUsual(BotorchNei):
    """The same with the restarts and starting points that its documentation uses, and its own number of samples."""

    samples, restarts, raw = 512, 10, 512


OPPONENTS: dict[str, tuple[Callable[..., Opponent], str]] = {
    "one factor at a time": (OneFactor, "numpy"),
    "random": (Random, "numpy"),
    "Optuna TPE": (Tpe, "optuna"),
    "scikit-optimize GP": (SkoptGp, "skopt"),
    "BoTorch qLogNEI": (BotorchNei, "botorch"),
}
