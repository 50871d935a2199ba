"""What is learned from words alone, against films drawn from the prior and weighed by the words: no normal law, no slope."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from obverse.inference import fit_film
from obverse.inference.fit import BELIEFS, FilmFit, broad_prior
from obverse.inference.law import knees_of
from obverse.model import observables_of
from obverse.model.curve import LIGHT_OFFSET, read_curve
from obverse.process import Series, read_series

FILMS = 24_000
RECIPES = [(14.5, 4.5, 5.0), (8.5, 4.5, 12.0), (11.5, 5.0, 3.0), (9.25, 3.5, 10.0), (10.0, 5.0, 3.0), (7.75, 1.0, 11.0)]
NAMES = ("first_developer_time_min", "solvent_ml_per_l", "alkali_ml_per_l")
LIMITS = {"first_developer_time_min": (7, 16, 0.75), "solvent_ml_per_l": (0, 6, 0.5), "alkali_ml_per_l": (2, 16, 1)}


def judged_by_eye() -> Series:
    """Six recipes, each told clear and deep, and light but for the last: half a dozen looks that all say nearly the same."""
    words = {"highlights": "clear", "blacks": "deep", "midtones": "light"}
    return read_series(
        {
            "format": "obverse-series",
            "version": 1,
            "film": {"name": "invented", "box_speed": 100, "base_density": 0.2},
            "controls": {
                name: {"unit": "min" if "time" in name else "mL/L", "low": low, "high": high, "step": step}
                for name, (low, high, step) in LIMITS.items()
            },
            "aim": "projection",
            "trials": [
                {
                    "id": f"strip {k}",
                    "controls": dict(zip(NAMES, recipe, strict=True)),
                    "grades": [
                        {"of": of, "grade": "right" if k == 5 and of == "midtones" else grade}
                        for of, grade in words.items()
                    ],
                }
                for k, recipe in enumerate(RECIPES)
            ],
        }
    )


def weighed(fit: FilmFit) -> tuple[np.ndarray, np.ndarray]:
    """Observables (FILMS, T, 4) of strips of films from the prior, and how likely each film's strips get these words."""
    rng = np.random.default_rng(11)
    law, evidence = fit.law, fit.evidence
    priors = [broad_prior(law, fit.series, belief) for belief in BELIEFS]
    films = np.concatenate([p.mean + p.sd * rng.standard_normal((FILMS // len(priors), law.size)) for p in priors])
    made = evidence.controls + evidence.control_sd * rng.standard_normal((len(films), *evidence.controls.shape))
    curves = law.settings(films, np.maximum(made, 0.0), features=law.feature_values(evidence.controls))
    read = read_curve(curves, knees_of(films), np.array([-9.0, 0.0, 0.8]))
    of = {"blacks": read[..., 0], "midtones": read[..., 1], "highlights": np.log(read[..., 2] + LIGHT_OFFSET)}
    log_likely = np.zeros(len(films))
    for g in evidence.grades:
        value = of[g.of][:, g.strip]
        log_likely += np.log(np.maximum(ndtr((g.high - value) / g.sd) - ndtr((g.low - value) / g.sd), 1e-300))
    likely = np.exp(log_likely - log_likely.max())
    assert likely.sum() ** 2 / (likely**2).sum() > 100, "too few films agree to compare with"
    return observables_of(curves, knees_of(films), fit.series.aim.midtone_density), likely / likely.sum()


def test_many_words_are_weighed_as_films_that_would_get_them_are():
    fit = fit_film(judged_by_eye())
    films, likely = weighed(fit)
    believed = observables_of(fit.posterior.strips, knees_of(fit.draws), fit.series.aim.midtone_density)
    apart = []
    for strip in range(len(RECIPES)):
        for k in (0, 2, 3):
            theirs, mine = films[:, strip, k], believed[:, strip, k]
            known = np.isfinite(theirs)
            order = np.argsort(theirs[known])
            share = np.cumsum(likely[known][order])
            low, middle, high = theirs[known][order][np.searchsorted(share / share[-1], (0.16, 0.5, 0.84))]
            apart.append((np.nanmedian(mine) - middle) / (0.5 * (high - low)))
    # The medians of blacks, gradient and place of the mid-tone, in spreads of what is believed. With slopes at the
    # middle of the belief in place of curves spread over it they lay 0.83 apart in the mean.
    assert np.mean(np.abs(apart)) < 0.6
