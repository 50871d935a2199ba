"""Do the stated 90 % intervals of the curve's numbers hold the truth as often as they say?

Truths of four shapes that the fit does not share (logistic powers, cumulative normals, two layers,
complementary log-log), random bases, noises and reading counts; the noise is stated in half of the cases.
"""

import numpy as np
import pytest
from scipy.special import ndtr

from obverse.sensitometry import fit_curve

NUMBERS = (
    "dmin",
    "dmax_with_base",
    "midtone_log_exposure",
    "gradient",
    "highlight_density",
    "speed_point_log_exposure",
)


def draw_truth(random):
    base = random.choice([0.04, 0.25])
    dmin = base + abs(random.normal(0.1, 0.1))
    reach = random.uniform(1.2, 3.0)
    middle = random.normal(0, 0.35)
    width = reach / 4 / random.uniform(1.0, 2.4)
    skew = np.exp(random.normal(0, 0.5))
    share, gap = random.uniform(0.3, 0.7), random.uniform(0.3, 0.9)

    def logistic(x, m=middle, w=width):
        return 1 / (1 + np.exp(-(x - m) / w))

    fallen = [
        lambda x: logistic(x) ** skew,
        lambda x: ndtr((x - middle) / (1.6 * width)),
        lambda x: (
            share * logistic(x, middle - 0.4 * gap, 0.8 * width)
            + (1 - share) * logistic(x, middle + 0.6 * gap, 0.8 * width)
        ),
        lambda x: -np.expm1(-np.exp((np.minimum(x, 9) - middle) / (1.3 * width))),
    ][random.integers(4)]
    return base, lambda x: dmin + reach * (1 - fallen(np.asarray(x, dtype=float)))


def true_numbers(base, density):
    grid = np.linspace(-6, 6, 24_001)
    d = density(grid)
    end = density(8.0)
    numbers = {"dmin": end, "dmax_with_base": density(-30.0)}
    if d[0] > base + 1 > d[-1]:
        x = grid[np.argmax(d < base + 1)]
        numbers["midtone_log_exposure"] = x
        numbers["gradient"] = (density(x - 0.25) - density(x + 0.25)) / 0.5
        numbers["highlight_density"] = density(x + 0.8) - base
    low = grid[np.argmax(d < end + 0.2)]
    before = grid < low - 0.05
    high = grid[before][np.argmax((d[before] - density(low)) / (low - grid[before]))]
    if (d > end + 2).any():
        high = max(high, grid[np.argmax(d < end + 2)])
    numbers["speed_point_log_exposure"] = (low + high) / 2
    return numbers


@pytest.fixture(scope="module")
def outcomes():
    """Of each number: whether the interval held the truth, the error, and the width of the interval."""
    found = {name: [] for name in NUMBERS}
    for seed in range(126):
        random = np.random.default_rng([7, seed])
        base, density = draw_truth(random)
        low, high, count = [
            (-2, 1.6, 21),
            (-1.5, 1.5, 21),
            (-1.5, 1.5, 11),
            (-1.5, 1.5, 7),
            (-1.2, 1.2, 5),
            (-2, 1.6, 100),
        ][seed % 6]
        x = np.linspace(low, high, count)
        sd = random.choice([0.01, 0.02, 0.04])
        d = np.maximum(density(x) + random.normal(0, sd, count), -0.4)
        curve = fit_curve(x, d, np.full(count, sd) if random.random() < 0.5 else None, base_density=base)
        for name, truth in true_numbers(base, density).items():
            estimate = getattr(curve, name)
            if estimate is not None:
                found[name].append(
                    (
                        estimate.low90 <= truth <= estimate.high90,
                        estimate.value - truth,
                        estimate.high90 - estimate.low90,
                    )
                )
    return {name: np.array(rows).T for name, rows in found.items()}


def test_ninety_per_cent_intervals_hold_the_truth_85_to_95_times_of_100(outcomes):
    everything = np.concatenate([outcomes[name][0] for name in NUMBERS])
    assert everything.size > 630
    assert 0.85 <= everything.mean() <= 0.95, everything.mean()


@pytest.mark.parametrize("name", NUMBERS)
def test_no_single_number_is_far_from_its_promise(outcomes, name):
    # 126 cases: the binomial sd at 0.9 is 0.027; one and a half of them beyond the promise.
    assert 0.85 - 0.04 <= outcomes[name][0].mean() <= 0.95 + 0.04, outcomes[name][0].mean()


@pytest.mark.parametrize("name", ["midtone_log_exposure", "gradient", "highlight_density"])
def test_intervals_are_not_padded(outcomes, name):
    """A normal 90 % interval is 3.29 sd wide, and the median error is 0.6745 sd; what is said to be known must be about that."""
    _, error, width = outcomes[name]
    assert np.median(width) <= 1.45 * 3.29 * np.median(np.abs(error)) / 0.6745
