"""The notebook's sentences and what the eye's words weigh, of films whose answers are given.

Only told here; what they said when they were last read stands in ``tests/unit/told``.
"""

from __future__ import annotations

import math
from dataclasses import asdict
from types import SimpleNamespace
from typing import Any

import numpy as np

from obverse.foundation import Estimate
from obverse.inference import words, words_as_normal
from obverse.inference.evidence import EyeGrade
from obverse.inference.law import K, Q
from obverse.inference.words_as_normal import Site
from obverse.process import AIMS, CONTROLS, Aim, ControlVector


def _about(value: float, sd: float = 0.1) -> Estimate:
    return Estimate(value, sd, value - 1.6 * sd, value + 1.6 * sd)


class _Film:
    """A fit whose observables are straight lines in the controls."""

    def __init__(
        self, *, readings: bool = False, grades: tuple[EyeGrade, ...] = (), controls: tuple[str, ...] = ()
    ) -> None:
        self.evidence = SimpleNamespace(
            has_readings=np.array([readings]),
            grades=grades,
            rows=[0],
            recipes=ControlVector.of([{"first_developer_time_min": 9.0}]).values,
        )
        self.series = SimpleNamespace(controls=dict.fromkeys(controls), trials=[SimpleNamespace(id="S1")])

    def observed(self, settings: np.ndarray, midtone_density: float, *, repeated: bool, most: int) -> np.ndarray:
        time, solvent, alkali, warm, thin = np.moveaxis(np.asarray(settings), -1, 0)
        rows = np.stack(
            [
                2.0 - 0.05 * solvent - 0.01 * time,
                0.4 - 0.02 * solvent + 0.001 * thin,
                1.0 + 0.05 * time + 0.02 * alkali,
                0.1 - 0.06 * time - 0.05 * (warm - 20),
            ],
            axis=-1,
        )
        told = (
            rows[None]
            + np.linspace(-0.01, 0.01, 5)[:, None, None]
            + 0.1 * (midtone_density - 1)
            + 0.001 * repeated
            + 1e-5 * most
        )
        return np.asarray(told)


def reasons() -> dict[str, Any]:
    """Why a strip is proposed, against a best strip that misses its aim in several ways."""
    before = {
        **CONTROLS.reference(),
        "first_developer_time_min": 10.0,
        "solvent_ml_per_l": 8.0,
        "alkali_ml_per_l": 5.0,
        "temperature_c": 20.0,
        "developer_parts_water": 15.0,
    }
    good = {"dmax": 2.2, "highlight_density": 0.25, "gradient": 1.5, "midtone_log_exposure": 0.0}
    states: dict[str, dict[str, float]] = {
        "good": good,
        "thin": {**good, "dmax": 1.2},
        "murky": {**good, "highlight_density": 0.6},
        "flat": {**good, "gradient": 0.7},
        "steep": {**good, "gradient": 2.6},
        "dark": {**good, "midtone_log_exposure": 0.8},
        "light": {**good, "midtone_log_exposure": -0.8},
        "hopeless": {**good, "dmax": -9.0},
    }
    changes: dict[str, dict[str, float]] = {
        "longer": {"first_developer_time_min": 13.0}, "shorter": {"first_developer_time_min": 8.0}, "more solvent": {"solvent_ml_per_l": 12.0}, "less solvent": {"solvent_ml_per_l": 1.0}, "hardly": {"first_developer_time_min": 10.0 + 1e-10},
        "many": {"first_developer_time_min": 13.0, "solvent_ml_per_l": 9.0, "temperature_c": 22.0, "alkali_ml_per_l": 6.0}, "nothing": {}, "thinner": {"developer_parts_water": 16.0},
    }  # fmt: skip
    found: dict[str, Any] = {}
    for state, observed in states.items():
        for name, change in changes.items():
            best = words.BestWords(
                _Film(), AIMS["projection"], "3", before, {key: _about(value) for key, value in observed.items()}
            )
            found[f"{state}, {name}"] = words.reason(best, {**before, **change}, {})
    found["unseen"] = words.reason(
        words.BestWords(_Film(), Aim(), "Strip 4", before, None), {**before, "temperature_c": 18.0}, {}
    )
    for name, film in (
        ("nothing", _Film()),
        ("readings", _Film(readings=True)),
        ("words", _Film(grades=(EyeGrade(0, "blacks", 0.0, 1.0, 0.1),))),
    ):
        found[f"first with {name}"] = words.reason(words.BestWords(film, Aim(), None, before, None), before, {})
    found["of"] = [
        words.BestWords.of(_Film(), Aim(), "S1", None).controls,
        words.BestWords.of(_Film(), Aim(), "S1", None).strip,
    ]
    found["named"] = [words.named(name) for name in ("3", "strip 3", "Trial b", "A strip")]
    found["percent"] = [words.percent(p) for p in (0.0, 0.004, 0.0051, 0.5, 0.994, 0.9951, 1.0)]
    return found


def errors_said() -> dict[str, Any]:
    """What a small error of each control does."""
    found: dict[str, Any] = {}
    for name, controls, recipe in (
        ("all", (), {}),
        ("two", ("first_developer_time_min", "temperature_c"), {}),
        ("at nothing", ("solvent_ml_per_l",), {"solvent_ml_per_l": 0.0}),
    ):
        nominal = ControlVector.of([{**CONTROLS.reference(), **recipe}]).values
        told = words.robustness_words(
            _Film(controls=controls),
            AIMS["projection"],
            nominal,
            lambda rows: np.linspace(0, 1, len(rows)) + 0.01 * rows[:, 0],
        )
        found[name] = [one.document() for one in told]
    return found


def brackets() -> dict[str, Any]:
    """Exposures to put on a strip, for mid-tones known well, badly and wildly."""
    return {
        f"{low} to {high} about {value}": words.bracket(Estimate(value, 0.1, low, high))
        for value, low, high in (
            (0.0, -0.1, 0.1),
            (0.0, -0.5, 0.4),
            (0.3, -0.29, 0.9),
            (0.0, -1.5, 1.5),
            (0.0, -9.0, 9.0),
            (2.5, 2.4, 2.6),
            (-2.9, -3.0, -2.8),
            (0.05, 0.0, 0.1),
        )
    }


def eyes() -> dict[str, Any]:
    """Words of the eye as normal laws."""
    found: dict[str, Any] = {}
    size = Q + K + 1
    curves = np.array([0.9, -1.6, 0.05, -1.2, -1.0, *([0.1] * K), 0.2]) + 0.1 * np.arange(3)[:, None]
    for of in words_as_normal.EXPOSURES:
        found[f"seen {of}"] = words_as_normal.seen(of, curves)
    quantity = np.linspace(-1, 2, 7)
    for low, high, sd in ((0.2, 0.5, 0.1), (-math.inf, 0.3, 0.2), (0.6, math.inf, 0.1), (0.4, 0.4001, 0.1)):
        grade = EyeGrade(0, "blacks", low, high, sd)
        found[f"likely {low} {high}"] = words_as_normal.word_likelihood(grade, quantity)
    grades = (
        EyeGrade(0, "highlights", -math.inf, -1.5, 0.2),
        EyeGrade(1, "blacks", 2.0, math.inf, 0.2),
        EyeGrade(0, "contrast", 1.0, 1.5, 0.2),
        EyeGrade(1, "midtones", 0.4, 0.8, 0.2),
        EyeGrade(1, "blacks", 40.0, math.inf, 0.01),
    )
    evidence = SimpleNamespace(grades=grades)
    around = np.array([[0.9, -1.6, 0.05, -1.2, -1.0, *([0.0] * K), 0.2]] * 2)
    spread = np.tile(np.diag(np.linspace(0.05, 0.2, size)), (2, 1, 1))
    found["open"] = [asdict(Site.open()), Site.open().direction.shape]
    sites = [Site.open() for _ in grades]
    for turn in range(3):
        sites = words_as_normal.renew_sites(evidence, sites, around, spread)
        found[f"turn {turn}"] = [[one.direction, one.value, one.target, one.precision] for one in sites]
    wide = words_as_normal.renew_sites(evidence, [Site.open() for _ in grades], around, 60 * spread)
    found["wide"] = [asdict(one) for one in wide]
    return found
