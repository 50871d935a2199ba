"""Visible steps against the standard display function of medical imaging (DICOM PS3.14).

Constants and check value: records wall.gsdf_index and wall.gsdf_check (looked up; source and place there).
"""

import numpy as np
import pytest

from obverse.foundation import InputError
from obverse.light import visible_steps
from obverse.reference import number, record


def test_the_index_of_a_luminance_as_printed():
    check = record("wall.gsdf_check")
    assert check.inputs["index"] == pytest.approx(float(visible_steps(number("wall.gsdf_check"))), abs=1e-6)


def test_the_standard_runs_from_index_1_to_1023_over_its_range():
    # The standard says so of the ends of its table (from memory): 0.05 cd/m2 is index 1, 3,994 cd/m2 index 1023.
    assert [1.0, 1023.0] == pytest.approx(visible_steps([0.05, 3993.404]).tolist(), abs=0.6)


def test_steps_rise_with_luminance_and_end_where_the_standard_ends():
    steps = visible_steps(np.geomspace(0.05, 4000, 400))
    assert np.all(np.diff(steps) > 0)
    assert visible_steps(0.0) == visible_steps(0.05)
    with pytest.raises(InputError):
        visible_steps([-1.0])
    with pytest.raises(InputError):
        visible_steps([np.nan])
