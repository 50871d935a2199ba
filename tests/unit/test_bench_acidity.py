"""pH by charge balance against textbook answers (closed forms, and values from memory where said)."""

import math

import pytest

from obverse.chemistry.acidity import buffers, charge_curve, ion_charge, mean_charge, ph_of
from obverse.chemistry.vapour import open_bottle_factor
from obverse.foundation import InputError
from obverse.process.catalog import substances


def ph(**moles):
    ions, parts = {}, {}
    for key, mol in moles.items():
        for name, n in substances()[key].ions.items():
            ions[name] = ions.get(name, 0) + n * mol
        for name, n in substances()[key].buffers.items():
            parts[name] = parts.get(name, 0) + n * mol
    return ph_of(ions, parts).ph


@pytest.mark.parametrize(
    ("bath", "expected"),
    [
        ({"acetic_acid": 0.1}, 2.88),  # textbook, from memory
        ({"ammonia": 0.1}, 11.12),  # textbook, from memory
        ({"ammonium_chloride": 0.1}, 5.12),  # textbook, from memory
        ({"sodium_carbonate": 0.1}, 11.65),  # textbook, from memory
        ({"sodium_bicarbonate": 0.1}, 8.34),  # (pKa1 + pKa2) / 2
        ({"sodium_hydroxide": 0.01}, 12.0),
        ({"hydrochloric_acid": 0.01}, 2.0),
        ({"ammonia": 0.1, "ammonium_chloride": 0.1}, 9.25),  # pKa at equal parts
        ({"sulfuric_acid": 0.1}, 0.96),  # with pKa2 1.99 by the quadratic
        ({"water": 1.0}, 7.0),
    ],
)
def test_textbook_ph(bath, expected):
    assert ph(**bath).value == pytest.approx(expected, abs=0.03)


def test_uncertainty_is_never_below_that_of_the_model():
    assert ph(sodium_sulfite=0.2).sd > 0.3


def test_ion_names_tell_their_charge():
    assert [ion_charge(i) for i in ("Na+", "Cl-", "S2O3 2-", "MnO4-", "Ce 4+", "SO4 2-")] == [1, -1, -2, -1, 4, -2]
    with pytest.raises(ValueError, match="names no charge"):
        ion_charge("sugar")


def test_charge_falls_steadily_with_ph():
    ions, parts = {"Na+": 0.2}, {"citrate": 0.05, "ammonia": 0.1}
    values = [charge_curve(ions, parts)(x / 4) for x in range(56)]
    assert values == sorted(values, reverse=True)


def test_buffer_is_fully_protonated_in_acid_and_bare_in_alkali():
    for buffer in buffers().values():
        assert mean_charge(buffer, -8) == pytest.approx(buffer.charge_fully_protonated, abs=1e-6)
        assert mean_charge(buffer, 24) == pytest.approx(buffer.charge_fully_protonated - len(buffer.pka), abs=1e-6)


def test_every_substance_of_the_catalogue_is_neutral_at_some_protonation():
    """Its own ions and buffers can cancel with whole protons, water's own H+ and OH- aside."""
    for s in substances().values():
        if not (s.ions or s.buffers):
            continue
        top = sum(ion_charge(i) * n for i, n in s.ions.items())
        bottom = top
        for name, n in s.buffers.items():
            assert name in buffers(), s.key
            top += n * buffers()[name].charge_fully_protonated
            bottom += n * (buffers()[name].charge_fully_protonated - len(buffers()[name].pka))
        strong = "hydroxide" in s.classes or "acid_strong" in s.classes
        assert strong or bottom <= 0 <= top, s.key


def test_refusals():
    with pytest.raises(InputError, match="no acid constants"):
        ph_of({}, {"unheard": 0.1})
    with pytest.raises(InputError, match="cannot be present"):
        ph_of({"Na+": -1}, {})
    with pytest.raises(InputError, match="do not balance"):
        ph_of({"Na+": 1000.0}, {})


def test_open_ammonia_loses_strength_and_the_doubt_grows():
    day, week = (open_bottle_factor(h, volume_ml=1000) for h in (24, 168))
    assert 1 > day.value > week.value > 0
    assert week.high90 - week.low90 > day.high90 - day.low90
    assert open_bottle_factor(0, volume_ml=1000).value == 1
    assert math.isclose(open_bottle_factor(48, volume_ml=1000).value, day.value**2, rel_tol=1e-9)
    with pytest.raises(InputError):
        open_bottle_factor(-1, volume_ml=100)
