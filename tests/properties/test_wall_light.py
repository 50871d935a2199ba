"""What holds of light whatever the numbers are."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.light import (
    along_film,
    candelas_per_m2,
    contrast_left,
    foot_lamberts,
    into_reel,
    largest_width_m,
    lightness,
    reciprocity_time_s,
    reexpose,
    screen_luminance_cd_m2,
)
from obverse.workbench.exposure_card import exposure_card
from obverse.workbench.preview import CODES, Screen, Viewing, look, white_of
from obverse.workbench.slide_curve import example_curve

flux = st.floats(10, 20_000)
width = st.floats(0.2, 10)
gain = st.floats(0.3, 2.5)
aspect = st.floats(0.5, 3)
stray = st.floats(0, 0.3)


@given(flux, width, gain, aspect)
def test_the_largest_width_undoes_the_luminance(lumens, wide, g, shape):
    luminance = screen_luminance_cd_m2(lumens, wide**2 / shape, g)
    assert largest_width_m(lumens, luminance, shape, g) == pytest.approx(wide, rel=1e-9)
    assert float(foot_lamberts(candelas_per_m2(luminance))) == pytest.approx(luminance, rel=1e-12)


@given(st.floats(0, 1), st.floats(0.1, 4), stray, stray)
def test_stray_light_only_takes_contrast(dmin, span, a, b):
    low, high = sorted((a, b))
    assert 1 <= contrast_left(dmin + span, dmin, high) <= contrast_left(dmin + span, dmin, low) + 1e-9


@given(st.lists(st.floats(0, 1), min_size=2, max_size=20))
def test_lightness_rises_with_light(values):
    ordered = np.sort(values)
    assert np.all(np.diff(lightness(ordered)) >= 0)
    assert 0 <= lightness(ordered[0]) and lightness(ordered[-1]) <= 100 + 1e-9


@given(st.floats(0.001, 1000), st.floats(0.7, 1))
def test_a_long_exposure_never_gets_shorter(metered, p):
    given_s = float(reciprocity_time_s(metered, p))
    assert given_s >= metered * (1 - 1e-12)
    assert float(reciprocity_time_s(metered, 1.0)) == pytest.approx(metered)


@given(st.floats(0.1, 10), st.floats(0.05, 5))
def test_no_place_of_a_film_is_lit_more_than_its_middle(length, distance):
    place, share = along_film(length, distance)
    assert np.all(share <= 1) and np.all(np.diff(share[place >= 0]) <= 0)
    assert share == pytest.approx(share[::-1])


@given(st.floats(0.01, 0.08), st.floats(0.0005, 0.01))
def test_the_reel_takes_light(film, gap):
    _, share = into_reel(film, gap)
    assert np.all((share > 0) & (share < 1)) and share == pytest.approx(share[::-1])


@given(
    st.floats(10, 5000),
    st.floats(0.1, 3),
    st.floats(1, 1000),
    st.sampled_from([1, 2]),
    st.sampled_from(["hand", "reel"]),
)
def test_twice_the_time_is_twice_the_light(lumens, distance, seconds, sides, how):
    once, twice = (reexpose(lumens, distance, t, sides=sides, how=how) for t in (seconds, 2 * seconds))
    assert twice.least_lx_s == pytest.approx(2 * once.least_lx_s) and twice.most_lx_s == pytest.approx(
        2 * once.most_lx_s
    )
    order = ("too_little", "unknown", "likely", "ample")
    assert order.index(twice.verdict) >= order.index(once.verdict)


@settings(max_examples=30, deadline=None)
@given(
    st.floats(12, 800),
    st.floats(0, CODES),
    stray,
    st.floats(1, 1.9),
    st.sampled_from(["none", "classic", "rlab", "ciecam02"]),
    st.sampled_from(["slide", "gate"]),
)
def test_whatever_the_projector_more_light_is_never_darker(index, metered, s, q, model, white):
    curve, screen, viewing = example_curve(), Screen(stray=s, callier=q), Viewing(model=model, white=white)
    found = look(curve, np.log10(curve.box_speed / index), metered, screen, viewing, white_of([curve], screen, viewing))
    assert np.all(np.diff(found.grey.astype(int)) >= 0)
    assert set(np.unique(found.run_together)) <= {0, 1, 2}
    card = exposure_card(curve, screen, exposure_index=index)
    assert card.range_stops >= 0 and np.all(np.diff([z.density for z in card.zones]) <= 0)
