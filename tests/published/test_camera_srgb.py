"""sRGB decoding against the recomputed records of IEC 61966-2-1 (records srgb-*)."""

import numpy as np
import pytest

from obverse.imaging.encoding import linear_to_srgb, srgb_table, srgb_to_linear
from obverse.reference import record, records


def test_decoding_of_signals():
    keys = [r.key for r in records().values() if r.key.startswith("srgb-dec-") and r.key != "srgb-dec-8bit"]
    assert len(keys) >= 10
    for key in keys:
        r = record(key)
        assert float(srgb_to_linear(float(key.rsplit("-", 1)[1]))) == pytest.approx(r.number, abs=r.within)


def test_decoding_of_8_bit_codes():
    r = record("srgb-dec-8bit")
    codes = next(v for v in r.inputs.values() if isinstance(v, list))
    assert srgb_table(256)[codes] == pytest.approx(r.value, abs=r.within)


def test_density_of_8_bit_codes_and_codes_of_densities():
    r = record("srgb-dens-8bit")
    codes = next(v for v in r.inputs.values() if isinstance(v, list))
    assert -np.log10(srgb_table(256)[codes]) == pytest.approx(r.value, abs=r.within)
    r = record("srgb-enc-dens")
    densities = next(v for v in r.inputs.values() if isinstance(v, list))
    assert linear_to_srgb(10.0 ** -np.array(densities)) == pytest.approx(r.value, abs=r.within)
