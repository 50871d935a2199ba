"""Control charts that know how short their baseline is."""

from __future__ import annotations

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.sensitometry import level_changes, strips_apart


def stable(seed: int, n: int = 20, sd: float = 0.04) -> np.ndarray:
    return 2.4 + sd * np.random.default_rng(seed).standard_normal(n)


def test_a_stable_process_is_left_alone_nineteen_times_in_twenty():
    told = [bool(level_changes(stable(s), least_sd=0.005)) for s in range(300)]
    assert 0.05 > np.mean(told) > 0
    told = [bool(strips_apart(stable(s), least_sd=0.005)) for s in range(300)]
    assert 0.05 > np.mean(told)


def test_a_shift_is_found_with_its_place_and_size():
    x = stable(3, 30)
    x[12:] -= 0.16
    (change,) = level_changes(x, least_sd=0.005)
    assert 12 <= change.seen_at <= 20
    assert 10 <= change.starts_at <= 14
    assert -0.16 == pytest.approx(change.by, abs=0.04)
    # The strip after which it is told does not change when later ones come.
    assert change == level_changes(x[: change.seen_at + 1], least_sd=0.005)[0]
    assert () == level_changes(x[: change.seen_at], least_sd=0.005)


def test_most_shifts_of_one_and_a_half_sd_are_found():
    found = 0
    for seed in range(60):
        x = stable(seed, 40)
        x[10:] += 0.06
        found += bool(level_changes(x, least_sd=0.005))
    assert 0.6 < found / 60


def test_two_changes_are_two():
    x = np.concatenate([stable(1, 12), stable(2, 12) + 0.3, stable(3, 12) - 0.1])
    changes = level_changes(x, least_sd=0.005)
    assert [12, 24] == [change.starts_at for change in changes]
    assert changes[0].by > 0.2 and changes[1].by < -0.3


def test_one_strip_that_stands_off_is_told_alone():
    x = stable(5)
    x[9] += 0.4
    assert (9,) == strips_apart(x, least_sd=0.005)
    assert () == level_changes(x, least_sd=0.005)


def test_readings_that_repeat_to_the_digit_do_not_sharpen_the_limits():
    x = np.full(12, 2.40)
    x[8] = 2.41
    assert () == strips_apart(x, least_sd=0.01)
    assert (8,) == strips_apart(x, least_sd=0.0005)


def test_bad_input_is_refused():
    for call in (level_changes, strips_apart):
        with pytest.raises(InputError):
            call([], least_sd=0.01)
        with pytest.raises(InputError):
            call([1.0, np.nan], least_sd=0.01)
        with pytest.raises(InputError):
            call([1.0, 2.0], least_sd=0.0)
