"""Bath life against invented baths whose truth is known: intervals cover, probabilities are calibrated, learning narrows.

Truths are drawn from the belief a person starts with; films come out clean or with a ghost by the law of the forecast,
judged by an eye that errs by the record ``practice.bath.judging_sd``.
"""

import math

import numpy as np
import pytest

from obverse.foundation import Z90
from obverse.process.catalog import formulas
from obverse.reference import number
from obverse.safety.bath_life import Pass, first_belief, forecast, learn

AREA = number("area.135-36")
BATHS = 200
FILMS = 12
VOLUME_ML = 500.0
FORMULA = formulas()["bleach_dichromate"]


@pytest.fixture(scope="module", params=[1, 2])
def evenings(request):
    """For each invented bath: its true u, the belief after its films, and every forecast probability with what came of it."""
    draw = np.random.default_rng(request.param)
    prior = first_belief(FORMULA)
    # Where the planned time just fails, x at u; the same as the forecast's own law, written out.
    need = -math.log(number("practice.bath.ghost_share")) / number("practice.bath.fresh_reserve")
    found = []
    for _ in range(BATHS):
        u = draw.normal(prior.mean, prior.sd)
        passes, said = [], []
        for film in range(FILMS):
            said_now = forecast(FORMULA, passes, volume_ml=VOLUME_ML).ghost_probability
            # Each film brings 10 mL of rinse water and takes as much bath: the rest is thinner by that share.
            thinner = math.exp((film + 1) * 10 / VOLUME_ML)
            exhausted = math.exp(u) * (film + 1) * AREA / (VOLUME_ML / 1000) * thinner
            eye = draw.normal(0, number("practice.bath.judging_sd"))
            ghost = math.log(exhausted / (1 - need)) + eye > 0
            said.append((said_now, ghost))
            passes.append(Pass(AREA, ghost=bool(ghost)))
        found.append((u, learn(prior, passes, VOLUME_ML), said))
    return prior, found


def test_intervals_cover_the_truth(evenings):
    _, found = evenings
    covered = np.mean([abs(u - belief.mean) <= Z90 * belief.sd for u, belief, _ in found])
    assert 0.85 <= covered <= 0.95


def test_learning_narrows_and_does_not_lean(evenings):
    prior, found = evenings
    assert np.mean([belief.sd for _, belief, _ in found]) < 0.7 * prior.sd
    lean = np.mean([belief.mean - u for u, belief, _ in found])
    assert abs(lean) < 0.05


def test_probabilities_come_true_as_often_as_they_say(evenings):
    _, found = evenings
    said = np.array([pair for _, _, pairs in found for pair in pairs], dtype=float)
    for low, high in ((0.0, 0.1), (0.1, 0.5), (0.5, 0.8), (0.8, 1.01)):
        here = said[(said[:, 0] >= low) & (said[:, 0] < high)]
        assert len(here) > 50
        assert abs(here[:, 1].mean() - here[:, 0].mean()) < 0.08


def test_the_warning_comes_before_the_first_ghost(evenings):
    """Of the baths that ghost within their films, nearly all had said at least 1 in 10 on the roll that was lost."""
    _, found = evenings
    lost = [
        next(probability for probability, ghost in said if ghost) for _, _, said in found if any(g for _, g in said)
    ]
    assert len(lost) > 100
    assert np.mean(np.array(lost) >= 0.1) > 0.85
