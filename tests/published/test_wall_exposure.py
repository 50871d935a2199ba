"""Zones, long exposures, filters and flash.

Sources: the stop (stop-log, common practice); Schwarzschild's law, p of 1900 and of Mees 1942 (recip-*, looked up).
"""

import math

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.light import (
    STOP,
    filter_stops,
    flash_f_number,
    index_shift,
    reciprocity_spread,
    reciprocity_time_s,
    zone_log_exposure,
)
from obverse.reference import record


def test_a_zone_is_a_stop_and_a_stop_is_0_30103():
    assert STOP == pytest.approx(record("stop-log").value[0], abs=1e-5)
    assert STOP / 3 == pytest.approx(record("stop-log").value[1], abs=1e-5)
    assert zone_log_exposure([5, 6, 3]) == pytest.approx([0, STOP, -2 * STOP])


def test_half_the_index_is_a_stop_more():
    assert index_shift(100, 50) == pytest.approx(STOP)
    assert index_shift(100, 100) == 0


def test_schwarzschild_examples():
    facts = record("recip-ex")
    for metered, p, given in zip(facts.inputs["t_m"], facts.inputs["p"], facts.value, strict=True):
        assert float(reciprocity_time_s(metered, p)) == pytest.approx(given, abs=facts.within)


def test_sources_disagree_on_p_and_both_are_shown():
    assert reciprocity_spread() == (0.8, 0.86, 1.0)
    with pytest.raises(InputError, match="outside what was ever reported"):
        reciprocity_time_s(10, 0.5)


def test_short_times_need_nothing_and_longer_ones_ever_more():
    metered = np.array([0.01, 0.5, 1.0, 2.0, 4.0, 60.0])
    factor = reciprocity_time_s(metered, 0.86) / metered
    assert factor[:3] == pytest.approx(1.0)
    assert np.all(np.diff(factor[2:]) > 0)


def test_filters_and_flash():
    """Definitions: a factor of 2 is a stop; guide number = f-number x distance, growing as the root of speed."""
    assert filter_stops(8) == 3
    assert flash_f_number(28, 5, 100) == pytest.approx(5.6)
    assert flash_f_number(28, 5, 400) == pytest.approx(11.2)
    with pytest.raises(InputError, match="filter factor"):
        filter_stops(0.5)
    with pytest.raises(InputError, match="distance"):
        flash_f_number(28, 0, 100)
    assert math.isfinite(filter_stops(1))
