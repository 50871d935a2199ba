"""The imaging floor: curves, geometry, statistics, radiometry on arrays whose answer is known."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy import ndimage
from scipy.spatial import ConvexHull

from obverse.densitometry import read
from obverse.densitometry.curve import curve_by_parts, how_guessed, known_curve, told
from obverse.foundation import InputError
from obverse.imaging import Picture, alignment, finding, geometry, masks, parts, patches, radiometry, response
from obverse.imaging.encoding import linear_to_srgb, srgb_table, srgb_to_linear
from obverse.imaging.glare import GlarePrior, Grain, glare_over_strip
from obverse.imaging.patches import Profile, doubts, place_patches, weighed
from obverse.imaging.picture import HALVES
from obverse.imaging.response import response_of_bracket
from obverse.imaging.sampling import grain_contrast, strip_grid
from obverse.imaging.shot_noise import power_of_noise
from obverse.imaging.statistics import biweight, median, medians_of, middles
from obverse.imaging.stops import likely_stops
from obverse.imaging.strip import Located, straightened
from obverse.imaging.warp import Warp


def test_a_homography_takes_the_four_corners_there_and_a_fifth_point_by_the_cross_ratio():
    quad = np.array([[10.0, 20], [200, 35], [190, 90], [5, 80]])
    matrix = geometry.homography(geometry.UNIT_SQUARE, quad)
    assert geometry.project(matrix, geometry.UNIT_SQUARE) == pytest.approx(quad)
    middle = geometry.project(matrix, [0.5, 0.5])
    crossing = geometry.meet(np.cross([*quad[0], 1], [*quad[2], 1]), np.cross([*quad[1], 1], [*quad[3], 1]))
    assert middle == pytest.approx(crossing)


def test_corners_on_a_line_are_refused():
    with pytest.raises(InputError, match="lie on a line"):
        geometry.homography(np.array([[0, 0], [1, 1], [2, 2], [3, 3.0]]), geometry.UNIT_SQUARE)


def test_a_line_is_found_among_outliers():
    rng = np.random.default_rng(1)
    x = np.linspace(0, 100, 60)
    y = 3 + 0.1 * x + rng.normal(0, 0.05, 60)
    y[:20] += rng.uniform(5, 20, 20)
    a, b, c = geometry.fit_line(np.stack([x, y], 1))
    assert -a / b == pytest.approx(0.1, abs=2e-3)
    assert -c / b == pytest.approx(3, abs=0.1)


@pytest.mark.parametrize("start", range(4))
@pytest.mark.parametrize("backwards", [False, True])
def test_found_corners_begin_at_the_left_end_whatever_their_order(start, backwards):
    quad = np.array([[10.0, 20], [200, 35], [190, 90], [5, 80]])
    given = np.roll(quad[::-1] if backwards else quad, start, axis=0)
    assert geometry.along_first(given) == pytest.approx(quad)


def test_a_standing_strip_begins_at_its_top():
    standing = np.array([[30.0, 10], [60, 10], [60, 200], [30, 200]])
    assert geometry.along_first(standing)[0] == pytest.approx([60, 10])


def test_biweight_ignores_dust_and_keeps_its_promise_about_the_error():
    rng = np.random.default_rng(2)
    misses = []
    for _ in range(300):
        values = rng.normal(1.0, 0.1, 64)
        values[:5] = 0.2
        location, error, _ = biweight(values)
        misses.append((location - 1.0) / error)
    assert abs(np.mean(misses)) < 0.25
    assert 0.8 < np.std(misses) < 1.25


def test_fall_off_is_recovered_under_a_strip_that_hides_the_middle():
    rng = np.random.default_rng(3)
    y, x = np.mgrid[0:400:8, 0:600:8]
    points = np.stack([x.ravel(), y.ravel()], 1).astype(float)

    def truth(p):
        return 0.8 * np.exp(0.1 * (p[..., 0] - 300) / 300) / (1 + 0.1 * (((p - [300, 200]) / 300) ** 2).sum(-1)) ** 2

    light = truth(points) * rng.normal(1, 0.003, len(points))
    visible = np.abs(points[:, 1] - 200) > 60
    field = radiometry.fit_field(points[visible], light[visible], size=(600, 400), order=4)
    hidden = points[~visible]
    miss = np.log(field.light(hidden) / truth(hidden))
    assert np.abs(miss).max() < 0.003
    assert np.mean(np.abs(miss) < 1.645 * field.relative_sd(hidden)) > 0.8
    assert field.light_on_grid(np.array([10.0, 300]), np.array([5.0, 77])) == pytest.approx(
        field.light(np.array([[[10.0, 5], [300, 5]], [[10, 77], [300, 77]]]))
    )


def test_fall_off_stays_sober_where_open_panel_shows_at_one_side_only():
    """A field free to bend would go up or down steeply where it sees nothing."""
    rng = np.random.default_rng(4)
    y, x = np.mgrid[0:400:8, 0:600:8]
    points = np.stack([x.ravel(), y.ravel()], 1).astype(float)
    truth = 0.8 / (1 + 0.1 * (((points - [300, 200]) / 300) ** 2).sum(-1)) ** 2
    uneven = 1 + 0.01 * np.sin(points[:, 0] / 40) * np.sin(points[:, 1] / 15)
    visible = points[:, 1] < 90
    light = (truth * uneven * rng.normal(1, 0.003, len(points)))[visible]
    field = radiometry.fit_field(points[visible], light, size=(600, 400), order=4)
    miss = np.log(field.light(points) / truth)
    assert np.abs(miss[(points[:, 1] > 180) & (points[:, 1] < 220)]).max() < 0.15
    assert np.mean(np.abs(miss) < 1.645 * field.relative_sd(points)) > 0.7


def test_merging_weighs_by_noise_and_leaves_out_what_is_clipped():
    lights = np.array([[0.10, 0.001], [1.0, 0.0083]])
    variances = np.full((2, 2), 1e-8)
    usable = np.array([[True, True], [False, True]])
    merged = radiometry.merge(lights, variances, usable, np.array([1.0, 8.0]))
    assert merged.light[0] == pytest.approx(0.8)  # only the short exposure, in units of the long one
    assert merged.light[1] == pytest.approx((0.008 / 64 + 0.0083) / (1 + 1 / 64))
    assert merged.sd[0] == pytest.approx(8e-4)


def test_true_exposure_ratios_are_found_when_the_stated_ones_are_rounded():
    rng = np.random.default_rng(4)
    scene = rng.uniform(0.02, 0.9, 400)
    true = np.array([1.0, 1 / 4.1])
    lights = true[:, None] * scene * rng.normal(1, 0.01, (2, 400))
    usable = lights < 0.95
    exposures, sd = radiometry.exposure_ratios(lights, (0.01 * lights) ** 2, usable, [1.0, 0.25], 0.03)
    assert exposures[0] / exposures[1] == pytest.approx(4.1, abs=4.1 * 3 * sd[1])
    assert sd[1] < 0.003


def test_a_bracket_without_times_and_without_overlap_is_refused():
    lights = np.array([[0.9] * 20, [0.001] * 20])
    with pytest.raises(InputError, match="share no part"):
        radiometry.exposure_ratios(lights, lights * 1e-4, np.array([[False] * 20, [True] * 20]), [None, None], 0.03)


def test_the_response_of_an_unknown_tone_curve_comes_back_from_a_bracket_of_the_panel():
    rng = np.random.default_rng(5)

    def curve(x):
        return 255 * np.clip(x, 0, 1) ** (1 / 1.8) * (1 + 0.1 * (1 - np.clip(x, 0, 1)))  # a bent curve of our own

    curve_top = curve(1.0)
    exposures = 2.0 ** np.arange(-7, 1)
    panel = rng.uniform(0.6, 0.98, 30)
    light = exposures[:, None] * panel
    codes = np.clip(curve(light) + rng.normal(0, 0.2, light.shape), 0, curve_top)
    table = radiometry.response_curve(codes, exposures, levels=256, saturation=255)
    assert np.all(np.diff(table) >= 0)
    probe = np.array([0.02, 0.05, 0.1, 0.2, 0.4, 0.7, 0.9])
    read = np.interp(curve(probe), np.arange(256), table)
    ratio = np.log10(read / probe)
    assert np.ptp(ratio) < 0.03  # density error from the curve


def test_too_small_a_bracket_gives_no_curve():
    with pytest.raises(InputError, match="at least three"):
        radiometry.response_curve(np.ones((2, 5)), np.array([1.0, 2.0]), levels=256, saturation=255)


PRIOR = GlarePrior(kinds=((0.004, 1.0),), exponent=0.5, exponent_sd=0.2, scatter=0.12, pattern=0.004)


def test_glare_without_a_mask_is_bounded_by_the_darkest_part():
    for darkest in (1e-4, 2e-3, 0.05):
        glare = glare_over_strip(darkest, PRIOR).glare
        assert 0 < glare.low90 < 0.25 * glare.value < glare.value < glare.high90 < darkest
        assert glare.sd > 0.05 * glare.value


def test_a_picture_that_names_no_maker_may_have_the_glare_of_either():
    camera, scanner, either = (
        glare_over_strip(0.05, replace(PRIOR, kinds=kinds)).glare
        for kinds in (((0.002, 0.7),), ((0.012, 0.7),), ((0.002, 0.7), (0.012, 0.7)))
    )
    assert camera.value < either.value < scanner.value
    assert either.high90 > 0.6 * scanner.high90
    # The likelier any darkness is, the likelier nearly all that the darkest part shows is glare.
    part, half, whole = (glare_over_strip(0.01, replace(PRIOR, any_darkness=one)).glare for one in (0.0, 0.5, 1.0))
    assert part.value < half.value < whole.value
    assert part.high90 < half.high90 and whole.high90 > 0.88 * 0.01


@pytest.mark.parametrize("exponent", [0.3, 0.5, 0.8])
@pytest.mark.parametrize("glare", [0.0006, 0.002, 0.008])
def test_glare_is_told_from_how_it_thins_the_grain_whatever_law_the_grain_follows(glare, exponent):
    rng = np.random.default_rng(11)
    through = 10.0 ** -np.linspace(0.4, 2.8, 12)
    level = through + glare
    true = 0.02 * (-np.log10(through)) ** (2 * exponent) * (through / level) ** 2
    misses = []
    for _ in range(12):
        grain = Grain(level, true * rng.normal(1, 0.1, 12), 0.1 * true)
        veil = glare_over_strip(float(level.min()), PRIOR, grain)
        assert veil.from_grain
        misses.append(veil.glare.value / glare - 1)
    assert np.sqrt(np.mean(np.square(misses))) < 0.25
    # A film whose grain follows no law is not left out.
    alone = glare_over_strip(float(level.min()), PRIOR).glare
    assert veil.glare.high90 > 0.8 * alone.high90 and veil.glare.low90 < veil.glare.value


def test_without_grain_the_glare_is_only_bounded():
    level = 10.0 ** -np.linspace(0.4, 2.8, 12) + 0.002
    nothing = Grain(level, np.random.default_rng(12).normal(0, 1e-5, 12), np.full(12, 1e-5))
    veil, alone = (glare_over_strip(float(level.min()), PRIOR, grain) for grain in (nothing, None))
    assert not veil.from_grain and not alone.from_grain and veil.glare.sd > 0.6 * alone.glare.sd


def test_grain_is_what_two_exposures_share():
    rng = np.random.default_rng(13)
    grain = rng.normal(1, 0.05, (60, 80, 1))
    pictures = [Picture(np.rint(20000 * grain + rng.normal(0, 2000, grain.shape)).astype(np.uint16)) for _ in range(2)]
    quad = np.array([[0.0, 0], [79, 0], [79, 59], [0, 59]])
    grid = strip_grid(Warp(quad), np.array([0.25, 0.75]), 0.5, along=0.9, across=0.9)
    scales = [np.full(grid.pixels.shape[:2], 20000 / 65535)] * 2
    variance, sd = grain_contrast(pictures, [grid] * 2, scales)
    assert np.all(np.abs(variance - 0.05**2) < 3.5 * sd)
    assert np.all(sd < 0.05**2 / 3)


def test_masks_shrink_and_grow_as_the_library_does():
    rng = np.random.default_rng(14)
    mask = rng.random((40, 50)) < 0.7
    nine = np.ones((3, 3))
    assert np.array_equal(masks.shrink(mask, 2), ndimage.binary_erosion(mask, iterations=2))
    assert np.array_equal(masks.grow(mask, 3), ndimage.binary_dilation(mask, iterations=3))
    assert np.array_equal(masks.without_specks(mask, square=True), ndimage.binary_opening(mask, structure=nine))
    assert np.array_equal(masks.without_holes(~mask), ndimage.binary_fill_holes(~mask))


def test_srgb_there_and_back():
    codes = np.linspace(0, 1, 501)
    assert linear_to_srgb(srgb_to_linear(codes)) == pytest.approx(codes, abs=1e-12)


def test_a_linear_picture_takes_its_black_level_off():
    picture = Picture(np.array([[[512], [16383]]], dtype=np.uint16), saturation=16383.0, black=(512.0,))
    assert picture.linear(picture.codes)[0, :, 0] == pytest.approx([0, 1])


def along_a_strip(densities, *, start=0.05, end=0.95, border=2.6, bar=0.0, lengths=None, noise=0.01, known=True):
    """A profile: patches between two ends of border, with bars of a share of a patch between."""
    size = max(240, 34 * len(densities))
    place = (np.arange(size) + 0.5) / size
    edges = start + (end - start) * np.concatenate([[0], np.cumsum(lengths or np.ones(len(densities)))]) / sum(
        lengths or np.ones(len(densities))
    )
    density = np.full(size, border)
    for d, a, b in zip(densities, edges[:-1], edges[1:], strict=True):
        density[(place >= a + bar * (b - a) / 2) & (place < b - bar * (b - a) / 2)] = d
    density = density + np.random.default_rng(len(densities)).normal(0, noise, size)
    sd, film = np.full(size, noise), np.ones(size, dtype=bool)
    return Profile(place, density, sd, film, border if known else None), edges


@pytest.mark.parametrize("count", [5, 12, 21])
def test_patches_are_placed_by_their_steps_with_border_at_the_ends(count):
    profile, edges = along_a_strip(np.linspace(0.1, 2.3, count), start=0.06, end=0.93)
    assert place_patches(profile, count).edges == pytest.approx(edges, abs=0.1 / count)


def test_the_boundaries_are_the_cheapest_and_cost_what_they_are_said_to():
    """Against the same law written out patch by patch."""
    count, pitch = 7, 28.0
    densities = np.random.default_rng(5).permutation(np.linspace(0.2, 2.0, count))
    profile, _ = along_a_strip(densities, start=0.11, end=0.81, bar=0.08)
    work = patches._Work(profile, count, False)
    before, after = (side[0] for side in work.lead_costs(np.array([[pitch]]), np.arange(work.size + 1)))

    def plainly(edges):
        total = before[edges[0]] + after[edges[-1]]
        for a, b in pairwise(edges):
            even = []
            for trim, extra in zip(patches._TRIMS, patches._TRIM_COST, strict=True):
                cut = max(1, round(trim * pitch))
                part, weight = profile.density[a + cut : b - cut], work.weight[a + cut : b - cut]
                mean = np.average(part, weights=weight)
                even.append(8.0 * np.mean(weight * (part - mean) ** 2) + extra)
            total += min(60.0, *even) + 45.0 * np.log((b - a) / pitch) ** 2
        for a, b in pairwise(edges):
            total += 1.6 * np.mean(np.abs(profile.density[a:b] - 2.6) < 0.15)
        return total

    cost, edges = work.best(pitch, count)
    assert cost == pytest.approx(plainly(edges), abs=1e-6)
    moves = np.random.default_rng(6).integers(-3, 4, (60, count + 1))
    assert min(plainly(edges + move) for move in moves) >= cost - 1e-9


def test_a_grid_of_patches_sums_what_each_of_them_sums():
    upto = np.cumsum(np.random.default_rng(8).uniform(0, 1, (2, 61)), axis=1)
    grid = patches._Grid(60, (7.0, 9.0), 2)
    cut = np.array([1, 2])[:, None]
    at_once = grid.sums(upto, cut)
    assert at_once.shape == (2, 2, grid.lengths.size, grid.ends.size)
    for which, length, end in np.ndindex(at_once.shape[1:]):
        if (start := grid.ends[end] - grid.lengths[length, 0]) >= 0:
            alone = patches._Spans(start, grid.ends[end]).sums(upto, cut[which, 0])
            assert at_once[:, which, length, end] == pytest.approx(alone)


def test_of_a_turned_picture_the_same_codes_are_picked():
    codes = np.random.default_rng(9).integers(0, 65536, (30, 40, 3)).astype(np.uint16)
    y, x = np.random.default_rng(10).integers(0, 30, (2, 5, 6))
    lying, turned = Picture(codes), Picture(codes.transpose(1, 0, 2))
    assert not turned.codes.flags.c_contiguous
    assert np.array_equal(lying.codes_at(x, y), np.moveaxis(codes[y, x], -1, 0))
    assert np.array_equal(turned.codes_at(y, x), lying.codes_at(x, y))
    assert np.array_equal(turned.light_at(y - 90, x), lying.light_at(x, y - 90))


@pytest.mark.parametrize("count", [1, 2, 7, 30])
def test_the_quick_median_is_the_median(count):
    values = np.random.default_rng(count).normal(0, 1, (3, count))
    assert median(values[0]) == pytest.approx(np.median(values[0]))
    assert middles(values) == pytest.approx(np.median(values, axis=1))
    gappy = np.hstack([values, np.full((3, 1), np.nan)])
    assert middles(gappy) == pytest.approx(np.median(values, axis=1))
    row, firsts, lasts = values.ravel(), np.arange(count), 2 * count + np.arange(count) // 2
    assert medians_of(row, firsts, lasts) == pytest.approx(
        [np.median(row[a:b]) for a, b in zip(firsts, lasts, strict=True)]
    )
    assert medians_of(row, np.array([1, 2]), np.array([3, 2])) == pytest.approx([np.median(row[1:3]), row[2]])


def test_a_small_slot_of_panel_is_the_panel_and_not_the_clear_film_beside_it():
    light = np.full((200, 300), 0.003)
    for n, density in enumerate((0.25, 0.5, 0.8, 1.1, 1.4, 1.7)):
        light[80:110, 20 + 43 * n : 63 + 43 * n] = 10.0**-density
    light[150:158, 100:200] = 1.0
    light *= np.random.default_rng(15).normal(0.8, 0.004, light.shape)
    seen = finding.survey(Picture(np.rint(65535 * np.clip(light, 0, 1)).astype(np.uint16)[..., None]))
    assert np.median(seen.density[85:105, 25:58]) == pytest.approx(0.25, abs=0.02)


def test_a_patch_as_clear_as_the_panel_is_film_where_the_edges_of_the_film_run_on():
    density = np.zeros((120, 320))
    density[30:90, 20:300] = 2.4
    for n, one in enumerate((1.9, 1.5, 1.1, 0.7, 0.35, 0.004)):
        density[38:82, 30 + 45 * n : 75 + 45 * n] = one
    row = Warp(np.array([[20.0, 30], [300, 30], [300, 90], [20, 90]]))
    for clearest, whole in ((0.015, True), (0.0, False)):
        density[38:82, 255:300] = clearest
        light = 0.8 * 10.0**-density * np.random.default_rng(16).normal(1, 0.004, density.shape)
        picture = Picture(np.rint(65535 * light).astype(np.uint16)[..., None])
        _, profile = straightened(picture, finding.survey(picture), row, 6, masked=False)
        assert profile.film[(profile.place > 0.02) & (profile.place < 0.8)].all()
        assert profile.film[(profile.place > 0.86) & (profile.place < 0.97)].all() == whole
        assert not profile.film[profile.place > 1.02].any()


def test_film_as_clear_at_its_edges_as_in_its_middle_is_no_patch():
    densities = [0.12, 0.5, 0.9, 1.3, 1.7, 2.1, 2.45]
    profile, edges = along_a_strip([0.05, *densities], start=0.0, end=0.88, border=2.4)
    lead = profile.place < edges[1]
    seen = replace(profile, edge=np.where(lead, 0.05, 2.4))
    assert place_patches(seen, 7).edges == pytest.approx(edges[1:], abs=0.02)
    assert place_patches(profile, 7).start < 0.02


@pytest.mark.parametrize("bar", [0.06, 0.2])
@pytest.mark.parametrize("border", [0.3, 2.6])
def test_bars_between_frames_are_no_patches(bar, border):
    profile, edges = along_a_strip(np.linspace(0.5, 2.2, 9), border=border, bar=bar)
    layout = place_patches(profile, 9)
    assert layout.centres() == pytest.approx((edges[:-1] + edges[1:]) / 2, abs=0.02)


def test_patches_cut_by_hand_are_followed():
    lengths = [1.0, 0.7, 1.3, 0.9, 1.2, 0.75, 1.1]
    profile, edges = along_a_strip([0.3, 1.1, 0.6, 1.9, 0.4, 1.5, 0.9], lengths=lengths, known=False)
    assert place_patches(profile, 7).edges == pytest.approx(edges, abs=0.01)


def test_equal_neighbours_are_parted_by_the_usual_length():
    profile, edges = along_a_strip([0.3, 0.6, 0.6, 0.6, 1.0, 1.4, 1.4, 1.9])
    assert place_patches(profile, 8).edges == pytest.approx(edges, abs=0.02)


def test_ends_as_dense_as_the_border_are_counted_by_the_number_given():
    profile, edges = along_a_strip([2.6, 1.8, 1.2, 0.8, 0.5, 2.6], start=0.12, end=0.88)
    assert place_patches(profile, 6).centres() == pytest.approx((edges[:-1] + edges[1:]) / 2, abs=0.02)


def test_film_denser_than_a_dark_edge_that_caught_light_is_border_and_than_a_clear_one_is_not():
    """A lead of 1.3 patches lies before the first, and the last are as dense; the edge of the film seems to be 1.9."""
    profile, edges = along_a_strip(np.minimum(np.linspace(0.1, 3.4, 12), 2.6), start=0.1, end=0.99)
    assert weighed(place_patches(replace(profile, border=1.9), 12))[0].edges == pytest.approx(edges, abs=0.02)
    work = patches._Work(replace(profile, border=0.2), 12, False)
    assert work.like[-1] < 2 * profile.place.size / 12


def test_panel_that_a_bend_or_perforations_let_through_is_none_of_a_strips_middle():
    """A strip of 200 by 40 pixels, bent by more than half its width, with holes along both sides."""
    warp = Warp(np.array([[20.0, 40], [220, 40], [220, 80], [20, 80]]), bend=(0.3, -2.4, 2.4))
    u, v = np.meshgrid(np.linspace(0, 1, 800), np.linspace(0, 1, 200))
    holes = (np.abs(np.abs(v - 0.5) - 0.4) < 0.05) & (np.sin(100 * u) > 0)
    x, y = np.moveaxis(np.rint(warp.points(u, v)[~holes]).astype(int), -1, 0)
    panel = np.ones((120, 240), dtype=bool)
    panel[y, x] = False
    seen = finding.Survey(panel, 1, None, panel, panel, panel, 0.01)
    assert panel[finding.covered_by(seen, warp)].mean() > 0.1
    assert finding.panel_within(seen, warp) == 0
    straight = replace(warp, bend=(0.0,))
    assert finding.panel_within(seen, straight) > 0.1


def test_of_a_mapped_file_no_more_is_held_than_what_was_read_last(tmp_path):
    """Pages of the file that are in this process's memory, as Linux counts them; 40 MB, read all over."""
    status = Path("/proc/self/status")
    if not status.is_file():
        pytest.skip("this system does not tell")

    def held_mb() -> float:
        return int(status.read_text().split("RssFile:")[1].split()[0]) / 1024

    wide = np.memmap(tmp_path / "codes", dtype=np.uint16, mode="w+", shape=(2000, 3400, 3))
    wide[:] = np.arange(2000, dtype=np.uint16)[:, None, None]
    wide.flush()
    mapped = Picture(np.asarray(np.memmap(tmp_path / "codes", dtype=np.uint16, mode="r", shape=wide.shape)))
    del wide
    before = held_mb()
    copy, step = mapped.reduced(200)
    y, x = np.mgrid[0:2000:10, 0:3400:10]
    codes = mapped.codes_at(x, y)
    assert held_mb() - before < 10
    assert np.array_equal(codes[1], y)
    assert copy[:, 5] == pytest.approx((np.arange(len(copy)) * step + (step - 1) / 2) / 65535, abs=1 / 65535)


def test_a_window_is_moved_as_a_line_between_pixels_moves_it():
    window = np.random.default_rng(3).random((20, 31))
    for shift in ([0.0, 0.0], [2.25, -1.5], [-40.0, 3.7]):
        moved = ndimage.shift(window, [-shift[1], -shift[0]], order=1, mode="nearest")
        assert alignment._moved(window, np.array(shift)) == pytest.approx(moved, abs=1e-12)


@pytest.mark.parametrize("off", [-2, -1, 1, 2])
def test_another_number_is_placed_as_asked_and_the_better_one_is_named(off):
    profile, _ = along_a_strip(np.linspace(0.15, 2.3, 9))
    assert not doubts(place_patches(profile, 9))
    layout = place_patches(profile, 9 + off)
    assert layout.count == 9 + off
    assert doubts(layout)[0].count == 9


def test_what_turns_back_at_the_end_of_a_row_that_goes_one_way_is_no_patch_of_it():
    """The first patch hardly differs from the second; a stretch as long, like neither, lies beyond the last."""
    densities = np.array([*np.linspace(2.0, 0.4, 8), 2.05])
    profile, edges = along_a_strip(densities, start=0.0, end=1.0, border=0.0, known=False)
    best, others = weighed(place_patches(profile, 8))
    assert best.edges == pytest.approx(edges[:-1], abs=0.02)
    assert [one.lag for one in others] == sorted(one.lag for one in others) and others[0].lag > 0
    assert {(one.begins, one.ends) for one in others} >= {(1, 1)}


def test_an_even_strip_says_nothing_about_its_patches():
    profile, _ = along_a_strip([1.0], start=0.0, end=1.0, border=1.0, noise=0.0)
    layout = place_patches(profile, 7)
    assert layout.seen == 0
    assert layout.lengths() == pytest.approx(np.full(7, 1 / 7), abs=0.02)


def test_a_bent_strip_is_followed_by_its_coordinates():
    quad = np.array([[0.0, 0], [100, 0], [100, 20], [0, 20]])
    warp = Warp(quad, bend=(0.0, 0.4, -0.4), slant=(0.02,))
    assert warp.points(0.5, 0.5) == pytest.approx([50, 12])
    assert warp.points(0.0, 0.0) == pytest.approx([-1, 0])
    assert warp.moved(np.array([3.0, -2.0])).points(0.5, 0.5) == pytest.approx([53, 10])


def _untimed_bracket(stops, patch=30, around=0, bend=0.6):
    """Three pictures of small even patches, in the dark, by a camera that lays an S over the standard curve and states no times."""
    light = np.kron(10.0 ** -np.linspace(0.1, 2.4, 60).reshape(6, 10), np.ones((patch, patch)))
    light = np.pad(light, ((0, 0), (around, around)))

    def picture(exposure):
        code = linear_to_srgb(np.clip(0.8 * light * exposure, 0, 1))
        bent = np.clip((1 - bend) * code + bend * code**2 * (3 - 2 * code), 0, 1)
        return Picture(np.rint(255 * bent).astype(np.uint8)[..., None], encoding="srgb", saturation=255)

    return [picture(2.0 ** (stops * k)) for k in (1, 0, 2)]


@pytest.mark.parametrize(("patch", "around"), [(30, 0), (9, 700)])
def test_a_bracket_that_states_no_times_gives_its_curve_once_its_stops_are_told(patch, around):
    """However small the strip is in the picture."""
    pictures = _untimed_bracket(2, patch, around)
    guessed, open_curve = known_curve(pictures)
    decoded, curve = known_curve(told(pictures, 2))
    codes = np.arange(25, 240, 5)
    code = np.linspace(0, 1, 4001)
    light = np.interp(codes / 255, 0.4 * code + 0.6 * code**2 * (3 - 2 * code), srgb_to_linear(code))
    away = np.log10(decoded[0].table[codes] / light)
    assert np.ptp(away) < 0.03
    assert np.allclose(decoded[0].table, guessed[0].table, atol=0.02)  # two stops are also the usual ones
    assert open_curve.by_stops(1.0)[1] >= 0.45  # but three may have been meant
    assert max(curve.away(1.0) + curve.by_stops(1.0)) < 0.05


def test_a_camera_of_much_contrast_does_not_make_more_stops_of_a_bracket():
    assert response_of_bracket(_untimed_bracket(1)).stops == 1
    found = response_of_bracket(_untimed_bracket(2, bend=1.3))
    assert found.stops < 2.5
    assert found.possible[0] <= 2


def test_the_noise_of_light_tells_by_how_much_the_contrast_of_a_curve_is_wrong():
    rng = np.random.default_rng(41)
    light = np.kron(10.0 ** -np.linspace(0.0, 1.6, 60).reshape(6, 10), np.ones((64, 64)))
    true = srgb_table(256)
    pictures = [
        Picture(
            np.rint(255 * linear_to_srgb(np.clip(rng.poisson(8000 * e * light) / 8000, 0, 1))).astype(np.uint8)[
                ..., None
            ],
            encoding="srgb",
            saturation=255,
        )
        for e in (0.25, 0.9)
    ]
    assert power_of_noise(pictures, true) == pytest.approx(1.0, abs=0.1)
    # The law of a light that is a power of the true one: 2 - 1 / p.
    assert power_of_noise(pictures, true**1.5) == pytest.approx(4 / 3, abs=0.1)
    assert (
        power_of_noise([replace(p, codes=p.codes // 4 * 4) for p in pictures[:1]] * 2, true) is None
    )  # nothing of its own


def test_what_was_meant_by_a_bracket_without_times_is_held_and_its_noise_narrows_it():
    for meant in (1, 1.5, 5 / 3, 1.8, 2, 2.5, 3):
        _, fewest, most = likely_stops(1.15 * meant)
        taken, at_least, at_most = likely_stops(1.15 * meant, 1.1, meant)
        assert at_least <= taken <= at_most
        assert at_least - 1e-9 <= meant <= at_most + 1e-9
        assert at_most / at_least < most / fewest
    # Noise that a camera smoothed says little.
    assert likely_stops(2.3, 2.6, 2.0)[1] <= 2 <= likely_stops(2.3, 2.6, 2.0)[2]


def _stating(pictures, exposures):
    return [replace(p, exposure_s=e) for p, e in zip(pictures, exposures, strict=True)]


def test_stated_exposures_that_the_pictures_speak_against_are_not_used_and_what_the_person_says_is():
    pictures = _untimed_bracket(1)
    exact, as_stated = known_curve(_stating(pictures, (1 / 64, 1 / 128, 1 / 32)))
    assert [c.code for c in as_stated.cautions] == ["curve.bracket"]
    # The sensitivity is stated to have gone up with the time, by five stops in all; the pictures show two.
    wrong = [
        replace(p, iso=iso)
        for p, iso in zip(_stating(pictures, (1 / 64, 1 / 128, 1 / 32)), (400, 100, 800), strict=True)
    ]
    guessed, curve = known_curve(wrong)
    assert [c.code for c in curve.cautions] == ["curve.exposures", "curve.untimed"]
    assert all(p.exposure_s is None for p in guessed)
    decoded, curve = known_curve(told(wrong, 1))
    assert [c.code for c in curve.cautions] == ["curve.exposures", "curve.bracket"]
    assert np.allclose(decoded[0].table, exact[0].table, atol=0.01)
    # One that states its time and two that do not have no common unit: the person's stops hold for all.
    some = told(_stating(pictures, (1 / 64, None, None)), 1)
    assert [p.exposure() for p in some] == [2, 1, 4]


def test_a_bracket_of_one_stop_keeps_its_contrast_and_is_less_sure_of_it_than_a_wide_one():
    codes = np.arange(40, 235, 5)
    code = np.linspace(0, 1, 4001)
    light = np.log10(np.interp(codes / 255, 0.4 * code + 0.6 * code**2 * (3 - 2 * code), srgb_to_linear(code)))
    narrow, unsure = known_curve(_stating(_untimed_bracket(1)[:2], (1 / 60, 1 / 125)))
    _, sure = known_curve(_stating(_untimed_bracket(2), (1 / 60, 1 / 250, 1 / 15)))
    assert np.polyfit(light, np.log10(narrow[0].table[codes]), 1)[0] == pytest.approx(1, abs=0.03)
    assert unsure.away(1.0)[0] > 1.5 * sure.away(1.0)[0]


@pytest.mark.parametrize(
    ("named", "meant"),
    [
        (1 / 60, 1 / 64),
        (1 / 125, 1 / 128),
        (15, 16),
        (1 / 50, 2 ** (-17 / 3)),
        (1 / 45, 2**-5.5),
        (1 / 61, 1 / 61),
        (2, 2),
    ],
)
def test_a_shutter_time_of_a_round_name_is_the_power_of_two_it_was_made_for(named, meant):
    assert Picture(np.zeros((1, 1, 1), np.uint8), exposure_s=named, f_number=1).exposure() == pytest.approx(meant)


def test_a_time_of_two_meanings_has_that_of_the_dial_and_a_round_f_number_the_root_it_stands_for():
    picture = Picture(np.zeros((1, 1, 1), np.uint8), exposure_s=1 / 20, f_number=5.6)
    assert picture.exposure() == pytest.approx(2 ** (-13 / 3) / 32)
    assert picture.exposure(HALVES) == pytest.approx(2**-4.5 / 32)


def test_a_bracket_by_a_dial_of_halves_is_taken_by_it():
    """1/180, 1/60 and 1/20 lie a stop and a half apart; by thirds the last step would be longer."""
    pictures = _untimed_bracket(1.5)
    _, curve = known_curve(_stating(pictures, (1 / 60, 1 / 180, 1 / 20)))
    assert [c.code for c in curve.cautions] == ["curve.bracket"]
    by_name = response_of_bracket(_stating(pictures, (1 / 60, 1 / 180, 1 / 20))).exposures
    assert by_name == pytest.approx([2**-1.5, 2**-3, 1], rel=0.01)


@pytest.mark.parametrize(("black", "white"), [(0, 243), (9, 255)])
def test_a_camera_that_lifts_its_black_or_lowers_its_white_gives_its_curve_all_the_same(black, white):
    plain = _stating(_untimed_bracket(2), (1 / 60, 1 / 250, 1 / 15))
    bent = [replace(p, codes=np.rint(black + (white - black) / 255 * p.codes).astype(np.uint8)) for p in plain]
    codes = np.arange(60, 230, 5)
    found = [response_of_bracket(some).table for some in (plain, bent)]
    moved = np.interp(black + (white - black) / 255 * codes, np.arange(256), found[1])
    assert np.ptp(np.log10(moved / found[0][codes])) < 0.04
    decoded, _ = known_curve(bent)
    assert decoded[0].clip_code == pytest.approx(white - 4, abs=4)


def test_pictures_of_a_bracket_are_tied_by_the_exposures_that_its_curve_was_found_with():
    """Whatever they show, and if only one of them states its time."""
    decoded, _ = known_curve(_stating(_untimed_bracket(2), (1 / 64, None, None)))
    assert [p.exposure() for p in decoded] == pytest.approx([1 / 4, 1 / 16, 1], rel=0.05)


def test_a_panel_near_white_leaves_a_curve_less_sure():
    def curve(panel):
        """Of a bracket in which the open panel shows in the shortest exposure alone."""
        plain = _stating(_untimed_bracket(2), (1 / 60, 1 / 250, 1 / 15))
        open_panel = np.full((60, plain[0].width, 1), 255, np.uint8)
        lit = [
            replace(p, codes=np.concatenate([p.codes, open_panel if k != 1 else open_panel // 255 * panel]))
            for k, p in enumerate(plain)
        ]
        return known_curve(lit)[1]

    assert curve(251).least > 1.3 * curve(215).least


@pytest.mark.parametrize(("beside", "said"), [(-0.02, True), (0.02, False), (0.0, False)])
def test_a_panel_that_is_brighter_beside_what_is_dark_was_brightened_part_by_part(beside, said):
    """A strip on a panel with fall-off; light that strays darkens the panel beside it, a telephone brightens it."""
    density = np.zeros((200, 300))
    density[70:130, 40:260] = np.linspace(0.3, 2.5, 220)
    panel = density == 0
    around = ndimage.gaussian_filter(density, 4)
    y, x = np.mgrid[0:200, 0:300] / 300
    noise = np.random.default_rng(1).normal(0, 0.002, density.shape)
    shown = density + np.where(panel, beside * around, 0.0) + 0.02 * x * y + noise
    seen = finding.Survey(10.0**-shown, 1, None, shown, panel, np.ones_like(panel), 0.012)
    assert parts.brightened_by_parts(seen, 2.0) is said
    finished = Picture(np.zeros((8, 8, 1), np.uint8), encoding="srgb", saturation=255)
    open_curve = known_curve([finished])[1]
    curve = curve_by_parts(open_curve, finished, replace(seen, light=seen.light / 2))
    assert (curve.away(2.0)[1] > open_curve.away(2.0)[1]) is said
    assert [c.code for c in curve.cautions] == ["curve.standard"] + ["picture.by_parts"] * said
    # What the sensor itself wrote was brightened by nobody.
    assert curve_by_parts(open_curve, replace(finished, encoding="linear", table=None), seen) is open_curve


def test_one_picture_of_an_unknown_curve_may_hide_more_density_than_it_invents():
    _, curve = known_curve(_untimed_bracket(2)[:1])
    below, above = curve.away(0.2)
    assert above > 3 * below > 0


def test_a_patch_that_the_edge_of_the_picture_cuts_is_counted_and_the_border_at_the_other_end_is_not():
    place = np.linspace(0, 1, 300)
    # Border, four patches and the half of a fifth that is still in the picture, as dense as the border.
    levels = np.array([2.4, 0.4, 0.8, 1.2, 1.8, 2.4])
    density = levels[np.searchsorted([0.12, 0.32, 0.52, 0.72, 0.92], place, side="right")]
    seen = Profile(place, density, np.full(300, 0.02), np.ones(300, bool), 2.4, (False, True))
    assert place_patches(seen, 5).edges[0] == pytest.approx(0.12, abs=0.02)
    assert place_patches(replace(seen, leaves=(False, False)), 5).edges[0] < 0.05


def lags(profile, count):
    """The weighed placing, and by how much each other place of the row is the dearer."""
    best, beside = weighed(place_patches(profile, count))
    return best, {(one.begins, one.ends): one.lag for one in beside}


def test_film_at_one_end_against_the_way_of_all_patches_is_no_patch():
    """From clear to nearly as dense as the border: the lead beside the clearest patch is as long as one."""
    profile, edges = along_a_strip(np.linspace(0.2, 2.45, 12), start=0.08, end=0.99, border=2.5)
    best, lag = lags(profile, 12)
    assert best.edges == pytest.approx(edges, abs=0.01)
    assert lag.get((-1, -1), np.inf) > patches.SURE_GAIN


def test_a_row_whose_both_ends_saw_no_light_stays_in_doubt():
    profile, edges = along_a_strip([2.5, *np.linspace(0.2, 2.0, 8), 2.5], start=0.1, end=0.88, border=2.5)
    best, lag = lags(profile, 10)
    later = round((best.start - edges[0]) / best.pitch)
    assert abs(later) == 1 and lag[(-later, -later)] < patches.SURE_GAIN


def test_where_sure_patches_are_even_those_that_nothing_parts_are_as_even():
    """The densest four are alike and go over into film as dense: squeezed or stretched they would fit as well."""
    densities = [0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 2.4, 2.4, 2.4, 2.4]
    even, _ = along_a_strip(densities, start=0.01, end=0.97, border=2.4)
    cut = [1.0, 0.75, 1.25, 0.8, 1.2, 0.78, 1.2, 0.9, 1.0, 1.0, 1.0, 1.0]
    uneven, _ = along_a_strip(densities, start=0.01, end=0.97, border=2.4, lengths=cut)
    tight, loose = (min(lag for where, lag in lags(one, 12)[1].items() if where != (1, 1)) for one in (even, uneven))
    assert loose < 1.2 * patches.SURE_GAIN < 2 * patches.SURE_GAIN < tight


def test_a_row_that_is_explained_badly_stays_in_doubt_longer():
    here = replace(patches.even_layout(10), seen=9)
    near = tuple(patches.Beside(here, by, by, lag) for by, lag in ((1, 4.9), (-1, 9.9)))
    shape = Warp(np.array([[0.0, 0], [60, 0], [60, 10], [0, 10]]))
    row = Located(shape, here, along_a_strip([0.5] * 5)[0], False, near)
    assert [read._near(replace(row, layout=replace(here, cost=c))) for c in (0.0, 14.0, 30.0)] == [[near[0]]] * 2 + [
        list(near)
    ]


def test_another_place_may_lie_two_patches_off():
    placing = replace(patches.even_layout(4), seen=3)
    assert read._lies(patches.Beside(placing, -2, -2, 1.0)) == "all of it two patches earlier"
    assert (
        read._lies(patches.Beside(placing, 2, 1, 1.0)) == "its beginning two patches later and its end one patch later"
    )


@pytest.mark.parametrize("whole", [True, False])
def test_a_hull_is_that_of_another_way_to_find_it(whole):
    rng = np.random.default_rng(30)
    for count in (4, 9, 40, 300):
        points = rng.integers(0, 12, (count, 2)).astype(float) if whole else rng.normal(size=(count, 2))
        hull, other = geometry.convex_hull(points), points[ConvexHull(points).vertices]
        assert {tuple(p) for p in hull.tolist()} == {tuple(p) for p in other.tolist()}
        assert geometry.signed_area(hull) == pytest.approx(geometry.signed_area(other))
    assert geometry.convex_hull(np.array([[0.0, 0], [1, 1], [2, 2]])).tolist() == [[0, 0], [2, 2]]
    assert geometry.convex_hull(np.array([[3.0, 4]])).tolist() == [[3, 4]]


def test_halos_beyond_white_do_not_hide_where_white_is():
    codes = np.random.default_rng(31).integers(20, 200, (120, 160)).astype(float)
    codes[:, 80:] = 251.0
    codes[::9, 80::7] = 253.0
    assert response._plateau(codes, 1.0) == 251.0
    assert response._plateau(np.minimum(codes, 199.0), 1.0) > 195


def test_a_row_that_is_even_where_it_is_sure_is_laid_as_even_where_nothing_shows():
    profile, edges = along_a_strip(np.minimum(np.linspace(0.2, 3.4, 21), 2.5), start=0.05, end=0.92, border=2.5)
    rough = place_patches(profile, 21)
    best, _ = weighed(rough)
    off, before = (np.abs(one.edges - edges).max() / np.diff(edges).mean() for one in (best, rough))
    assert off < 0.3 < before


def test_a_cut_patch_that_hardly_differs_from_the_next_ends_on_the_step_that_is_seen():
    """In the dark a step of 0.05 costs less than an end patch half as long as the others."""
    densities = [2.13, 2.08, 1.94, 1.64, 1.22, 0.79, 0.46, 0.27, 0.18]
    lengths = [0.5, 1.45, 0.98, 1.2, 1.1, 1.15, 0.9, 0.9, 0.72]
    profile, edges = along_a_strip(densities, start=0.0, end=1.0, border=2.39, lengths=lengths, noise=0.004)
    best, _ = weighed(place_patches(profile, 9))
    assert np.abs(best.edges - edges).max() < 0.02


def test_film_left_out_that_is_no_border_is_a_patch():
    """Frames between dark bars, the first of them cut; after the last one clear film as long as a frame, and as even."""
    densities = [1.2, 0.5, 1.9, 0.6, 1.7, 0.4, 1.5, 0.8, 1.8, 0.3]
    profile, edges = along_a_strip(densities, start=0.0, end=1.0, lengths=[0.7] + [1.0] * 8 + [1.22], noise=0.003)
    near = np.abs(profile.place[:, None] - edges[None, 1:-1]).min(axis=1) < 0.012
    seen = replace(profile, density=np.where(near, 2.2, profile.density), border=None)
    best, _ = weighed(place_patches(seen, 9))
    assert best.edges[:-1] == pytest.approx(edges[:-2], abs=0.02)


def test_clear_film_cut_short_is_a_patch_before_dense_film_that_nothing_parts_from_the_border():
    densities = [2.95, 2.7, 2.33, 1.95, 1.6, 1.22, 0.92, 0.63, 0.42, 0.3]
    profile, edges = along_a_strip(densities, start=0.08, end=1.0, border=2.95, known=False, lengths=[1.0] * 9 + [0.5])
    best, lag = lags(profile, 10)
    assert best.edges == pytest.approx(edges, abs=0.03)
    assert lag[(-1, -1)] > 0


def test_a_boundary_that_shows_nothing_costs_less_where_noise_would_hide_its_step():
    def cost(densities, sd):
        profile, edges = along_a_strip(densities, start=0.0, end=1.0, border=0.0, known=False, noise=0.0)
        work = patches._Work(replace(profile, sd=np.full(profile.sd.size, sd)), len(densities), False)
        return work.unseen(work.to_samples(edges))

    rising, equal = [0.2, 0.5, 0.8, 1.1, 1.4, 1.7], [0.2, 0.5, 0.8, 1.1, 1.4, 1.4]
    assert cost(rising, 0.0) == cost(rising, 0.1) == 0.0
    assert cost(equal, 0.0) > cost(equal, 0.05) > cost(equal, 0.1) > 0
    assert cost([*equal, 1.4], 0.0) == pytest.approx(2 * cost(equal, 0.0), rel=0.02)


def test_a_row_in_a_window_that_shows_half_its_steps_is_doubted_and_one_on_the_panel_is_not():
    profile, _ = along_a_strip([0.5] * 5)
    shape = Warp(np.array([[0.0, 0], [60, 0], [60, 10], [0, 10]]))
    for masked, seen, codes in (
        (True, 2, ["patches.faint"]),
        (True, 3, []),
        (False, 2, []),
        (False, 1, ["patches.faint"]),
    ):
        row = Located(shape, replace(patches.even_layout(5), seen=seen), profile, masked)
        assert [c.code for c in read._doubted(row, 5, (), (), 1.0, settled=False)] == codes


def masked_strip(seed):
    """A mask on a lit panel, in its window a strip with some open panel at both ends; the densities, and the corners of the film."""
    light, densities = np.ones((420, 760)), np.linspace(0.2, 1.5, 10)
    light[60:340, 40:720] = 10.0**-3.3
    light[160:230, 90:670] = 1.0
    for n, density in enumerate(densities):
        light[160:230, 110 + 54 * n : 164 + 54 * n] = 10.0**-density
    light *= np.random.default_rng(seed).normal(0.8, 0.002, light.shape)
    picture = Picture(np.rint(65535 * np.clip(light, 0, 1)).astype(np.uint16)[..., None])
    return picture, densities, np.array([[110.0, 160], [650, 160], [650, 230], [110, 230]])


def test_the_sides_of_a_strip_in_a_mask_are_the_films_and_not_the_masks():
    picture, densities, film = masked_strip(17)
    reading = read.read_strip([picture], densities.size)
    assert np.array(reading.area)[:, 1] == pytest.approx(film[:, 1], abs=2)
    assert [p.density.value for p in reading.patches] == pytest.approx(densities, abs=0.02)
    assert max(p.budget["noise"] for p in reading.patches) < 0.005
    assert "patches.beyond" not in [c.code for c in reading.cautions]


@pytest.mark.parametrize(
    ("above", "below", "told"), [(90, 90, "both its sides"), (5, 80, "one of its sides"), (0, 0, "")]
)
def test_patches_that_reach_beyond_the_film_are_read_on_it_and_that_is_told(above, below, told):
    picture, densities, film = masked_strip(18)
    laid = film + np.array([[0, -above], [0, -above], [0, below], [0, below]])
    reading = read.read_strip([picture], densities.size, corners=laid.tolist())
    assert [p.density.value for p in reading.patches] == pytest.approx(densities, abs=0.02)
    said = [c.text for c in reading.cautions if c.code == "patches.beyond"]
    assert len(said) == bool(told)
    assert all(told in words for words in said)


@pytest.mark.parametrize(
    ("stops", "possible", "stated", "words"),
    [
        (2.0, (1.0, 8 / 3), False, "taken as 2 stops between neighbours; 1 to 2.67 may be meant, and the interval holds them. "),
        (1.0, (1.0, 1.0), False, "taken as 1 stop between neighbours. "),
        (5 / 3, (1.0, 2.0), True, "taken as 1.67 stops between neighbours; 1 to 2 may be meant, and the interval holds them. "),
        (None, (1.0, 1.0), True, "its contrast as the standard curve has it. "),
    ],
)  # fmt: skip
def test_a_guessed_step_is_told_with_what_else_may_be_meant(stops, possible, stated, words):
    assert how_guessed(stops, possible, stated=stated) == (
        f"{'' if stated else 'No shutter times are written in the pictures. '}The tone curve was found from the bracket itself, "
        f"{words}Say how many stops there were, and the interval narrows."
    )
