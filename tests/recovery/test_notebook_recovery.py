"""The notebook finds again what made the strips: 90 % intervals hold 85 to 95 % of truths.

Truth here is what the notebook believes of films before any strip: parameters, knees and departures
drawn from its own beliefs, strips made and read with its own errors; the different physics is in the
benchmarks. Pooled over films, so that the binomial error of a share near 0.9 is about 0.018.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from obverse.inference import fit_film
from obverse.inference.evidence import gather
from obverse.inference.fit import BELIEFS, broad_prior
from obverse.inference.law import Law
from obverse.model import NAMES, PARAMETERS, natural, simulate_film, simulate_series
from obverse.model.parameters import INDEX
from obverse.process import ControlVector, Series

FILMS = 28
# A quarter of the draws of such a film: a band has as many of them at most, and ends of intervals are known to a hundredth.
DRAWS = 1024


def recipe(rng) -> dict[str, float]:
    return {
        "first_developer_time_min": float(rng.uniform(6, 18)),
        "solvent_ml_per_l": float(rng.uniform(0, 20)),
        "alkali_ml_per_l": float(rng.uniform(0, 15)),
    }


@dataclass(frozen=True)
class BelievedFilm:
    """A film as the notebook believes films to be: parameters, knees and departures."""

    unknowns: np.ndarray
    law: Law
    name: str = "a believed film"
    box_speed: float = 100.0

    @classmethod
    def of(cls, seed: int) -> BelievedFilm:
        rng = np.random.default_rng([seed, 31])
        empty = simulate_series(simulate_film(seed), [], seed=seed, base_known=False)
        law = Law(gather(empty).varied)
        prior = broad_prior(law, empty, BELIEFS[seed % len(BELIEFS)])
        return cls(prior.mean + prior.sd * rng.standard_normal(law.size), law)

    @property
    def base_density(self) -> float:
        return float(np.exp(self.unknowns[INDEX["base"]]))

    def density(self, controls: dict[str, float], log_exposure: np.ndarray) -> np.ndarray:
        return self.law.density(self.unknowns[None], ControlVector.of([controls]).values, log_exposure)[0, 0]


@pytest.fixture(scope="module", params=[(2000, 1), (2400, 3)], ids=["one strip", "three strips"])
def fits(request):
    first, strips = request.param
    made = []
    for seed in range(first, first + FILMS):
        film = BelievedFilm.of(seed)
        rng = np.random.default_rng([seed, 9])
        series = simulate_series(film, [recipe(rng) for _ in range(strips)], seed=seed)
        made.append((film, fit_film(series, draws=DRAWS, drawn=seed), rng))
    return made


def test_curves_at_untried_recipes_are_covered(fits):
    inside = []
    exposures = np.array([-1.2, -0.6, 0.0, 0.4, 0.8, 1.4])
    for film, fit, rng in fits:
        for _ in range(3):
            controls = recipe(rng)
            band = fit.predict_curve(controls, exposures)
            true = film.density(controls, exposures)
            inside.append((band.low90 <= true) & (true <= band.high90))
    share = np.mean(inside)
    assert 0.85 <= share <= 0.95, f"90 % bands hold {share:.3f}"


def test_parameters_are_covered(fits):
    inside = []
    for film, fit, _ in fits:
        true = {name: float(value[0]) for name, value in natural(film.unknowns[None, : len(NAMES)]).items()}
        for name, e in fit.parameters().items():
            if name != "base":  # measured beforehand in these series
                inside.append(e.low90 <= true[name] <= e.high90)
    share = np.mean(inside)
    assert len(inside) == FILMS * (len(PARAMETERS) - 1)
    assert 0.85 <= share <= 0.95, f"90 % intervals hold {share:.3f}"


def test_strips_narrow_what_is_believed(fits):
    _, fit, rng = fits[0]
    controls = recipe(rng)
    empty = Series.model_validate({**fit.series.model_dump(), "trials": ()})
    before = fit_film(empty).predict_observables(controls)
    after = fit.predict_observables(controls)
    assert all(after[name].sd < before[name].sd for name in before)
