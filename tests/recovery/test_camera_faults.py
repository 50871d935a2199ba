"""Faults put into simulated strips are told, and sound strips are left alone.

The full confusion table: benchmarks/camera_faults.py, docs/faults.md.
"""

import numpy as np
import pytest

from obverse.densitometry import read_strip
from obverse.diagnosis import diagnose_picture
from obverse.diagnosis.picture import CURES
from obverse.imaging import Picture
from obverse.imaging.render import Scene, Strip, expose, render
from obverse.imaging.render_faults import FAULTS, STRENGTHS, render_fault
from obverse.process import FAULTS as KNOWN_FAULTS


def told(fault, strength, seed):
    light, rng = render_fault(fault, strength, seed)
    picture = Picture(expose(light, 1.0, rng))
    return diagnose_picture([picture], read_strip([picture], len(light.strip.densities)))


@pytest.mark.parametrize("fault", FAULTS)
def test_a_visible_fault_is_told_with_evidence_and_cures(fault):
    seen = [found for seed in (73, 74, 75) for found in told(fault, STRENGTHS["visible"], seed) if found.fault == fault]
    assert len(seen) >= 2  # one strip may hide its fault in its dark patches
    for found in seen:
        document = found.document()
        assert 0.5 < document["probability"] <= 1
        assert document["evidence"].endswith(".") and document["cures"] and document["name"]


def test_sound_strips_are_left_alone():
    assert [told("", 0.0, seed) for seed in range(80, 84)] == [()] * 4


def test_every_fault_of_the_renderer_has_cures_and_a_place_in_the_notebook():
    assert set(FAULTS) == set(CURES)
    assert set(FAULTS) - {"coarse_grain"} <= set(KNOWN_FAULTS)


def test_the_colour_of_a_stain_is_named():
    strip = Strip(tuple(np.linspace(0.1, 1.6, 7)), pitch_mm=25)
    corners = np.array([[70.0, 170], [590, 170], [590, 270], [70, 270]])
    for stain, word in (((0.0, 0.01, 0.1), "yellow"), ((0.01, 0.07, 0.15), "brown"), ((0.02, 0.12, 0.05), "pink or purple")):
        rng = np.random.default_rng(9)
        picture = Picture(expose(render(strip, Scene(660, 440, corners, mask=True, stain=stain), rng), 1.0, rng))
        (found,) = [f for f in diagnose_picture([picture], read_strip([picture], 7)) if f.fault == "stain"]
        assert f"A {word} stain all over" in found.evidence
