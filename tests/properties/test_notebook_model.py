"""What must hold of the process model whatever its parameters."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.model import (
    PARAMETERS,
    PRIOR_MEAN,
    PRIOR_SD,
    density,
    in_aim,
    layers,
    margins,
    natural,
    observables,
)
from obverse.model.parameters import INDEX
from obverse.process import AIMS, CONTROLS, ControlVector

X = np.concatenate([[-9.0], np.linspace(-2.5, 3.0, 45)])
parameters = st.lists(st.floats(-1.6, 1.6), min_size=len(PARAMETERS), max_size=len(PARAMETERS)).map(
    lambda z: PRIOR_MEAN + PRIOR_SD * np.array(z)
)
recipes = st.fixed_dictionaries(
    {
        "first_developer_time_min": st.floats(3, 20),
        "solvent_ml_per_l": st.floats(0, 30),
        "alkali_ml_per_l": st.floats(0, 20),
        "temperature_c": st.floats(18, 24),
        "developer_parts_water": st.floats(5, 25),
    }
)


def curve(z, recipe) -> np.ndarray:
    return density(z[None], ControlVector.of([recipe]).values, X)[0, 0]


@settings(max_examples=50, deadline=None)
@given(parameters, recipes)
def test_densities_lie_above_the_base_and_are_numbers(z, recipe):
    d = curve(z, recipe)
    assert np.all(np.isfinite(d))
    assert np.all(d >= np.exp(z[INDEX["base"]]) - 1e-12)


@settings(max_examples=50, deadline=None)
@given(parameters, recipes)
def test_the_image_falls_with_exposure(z, recipe):
    image = layers(z[None], ControlVector.of([recipe]).values, X).image[0, 0]
    assert np.all(np.diff(image) <= 1e-9)


@settings(max_examples=50, deadline=None)
@given(parameters, recipes, st.floats(1.01, 2.0))
def test_more_development_never_blackens_the_border(z, recipe, factor):
    longer = recipe | {"first_developer_time_min": recipe["first_developer_time_min"] * factor}
    assert curve(z, longer)[0] <= curve(z, recipe)[0] + 1e-9


@settings(max_examples=50, deadline=None)
@given(parameters, recipes, st.floats(0.5, 10.0))
def test_more_solvent_never_blackens_the_border_nor_the_image_it_finds(z, recipe, more):
    # With the activity of the developer held, solvent only takes away.
    z = z.copy()
    z[INDEX["solvent_activity"]] = 0.0
    stronger = recipe | {"solvent_ml_per_l": recipe["solvent_ml_per_l"] + more}
    assert np.all(curve(z, stronger) <= curve(z, recipe) + 1e-9)


@settings(max_examples=40, deadline=None)
@given(parameters, recipes)
def test_solvent_takes_the_highlights_before_the_blacks(z, recipe):
    z = z.copy()
    z[INDEX["solvent_activity"]] = 0.0
    z[INDEX["ghost"]] = -20.0
    bare, clearing = (
        layers(z[None], ControlVector.of([recipe | {"solvent_ml_per_l": s}]).values, X).image[0, 0] for s in (2.0, 12.0)
    )
    kept = clearing[[0, -1]] / np.maximum(bare[[0, -1]], 1e-12)
    assert kept[1] <= kept[0] + 1e-9


@settings(max_examples=40, deadline=None)
@given(parameters, recipes)
def test_warmth_is_time(z, recipe):
    # Where solvent does nothing, a bath that is warmer and shorter by the law of temperature gives the same strip.
    z = z.copy()
    z[INDEX["solvent_strength"]] = -30.0
    kappa = z[INDEX["temperature_rate"]]
    warmer = recipe | {
        "temperature_c": recipe["temperature_c"] + 2.0,
        "first_developer_time_min": recipe["first_developer_time_min"] * np.exp(-2.0 * kappa),
    }
    np.testing.assert_allclose(curve(z, warmer), curve(z, recipe), atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(parameters)
def test_the_border_by_the_reference_recipe_is_what_the_parameter_says(z):
    p = natural(z[None])
    d = curve(z, {key: control.quoted_at for key, control in CONTROLS.items()})
    loss = 10 * p["fog_rate"][0] + p["solvent_strength"][0] ** p["solvent_shape"][0]
    if loss < 3.0:
        np.testing.assert_allclose(d[0], p["blacks"][0] + p["base"][0] + p["stain"][0], rtol=1e-5)


@settings(max_examples=40, deadline=None)
@given(parameters, recipes, st.floats(-0.4, 0.4))
def test_exposing_more_moves_the_midtone_as_much(z, recipe, shift):
    base = np.exp(z[INDEX["base"]])
    c = ControlVector.of([recipe]).values
    here = observables(lambda x: density(z[None], c, x), np.full((1, 1), base))[0, 0]
    there = observables(lambda x: density(z[None], c, x + shift), np.full((1, 1), base))[0, 0]
    if np.isfinite(here).all() and np.isfinite(there).all() and abs(here[3]) < 1.5 and here[2] > 0.3:
        assert abs(here[3] - there[3] - shift) < 0.01
        # The slope is taken about the chord's crossing, which lies a hair off the curve's where that bends: a share of the slope.
        assert abs(here[2] - there[2]) < 0.05 * max(1.0, here[2])


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-1, 4), min_size=4, max_size=4), st.sampled_from(sorted(AIMS)))
def test_in_aim_means_no_bound_is_broken(values, name):
    aim, o = AIMS[name], np.array(values)
    inside = (
        o[0] >= aim.dmax_min
        and o[1] <= aim.highlight_density_max
        and aim.gradient_min <= o[2] <= aim.gradient_max
        and aim.midtone_log_exposure_min <= o[3] <= aim.midtone_log_exposure_max
    )
    assert bool(in_aim(o, aim)) == inside
    assert (margins(o, aim).min() >= 0) == inside


def test_a_curve_without_midtone_is_never_in_the_aim():
    for name, aim in AIMS.items():
        assert not in_aim(np.array([2.5, np.nan, np.nan, np.nan]), aim), name
