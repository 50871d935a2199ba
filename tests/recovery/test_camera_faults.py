"""Faults put into simulated strips are told, and sound strips are left alone.

The full confusion table: benchmarks/camera_faults.py, docs/faults.md.
"""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.render_faults import FAULTS, STRENGTHS, render_faults
from benchmarks.render_strange import HELD_BACK
from obverse.densitometry import read_strip
from obverse.diagnosis import diagnose_picture
from obverse.diagnosis.measures import measure
from obverse.diagnosis.sheet import lay_flat
from obverse.imaging import Picture
from obverse.imaging.render import RenderedScene, RenderedStrip, expose, render

# Bases of other hands have such a colour as a stain has when it is visible: nothing is said of it before it is stronger than any of
# them.
STRONGER = {"stain": 1.6}


def told(faults, seed, **how):
    light, rng = render_faults(faults, seed, **how)
    picture = Picture(expose(light, 1.0, rng))
    return diagnose_picture([picture], read_strip([picture], len(light.strip.densities)))


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_that_stands_out_is_told_with_evidence_alternatives_and_cures(fault):
    # Of the first strip frilling hides in the dark patches.
    seed = 74 if fault == "frilling" else 73
    (found,) = [one for one in told({fault: STRONGER.get(fault, STRENGTHS["visible"])}, seed) if one.fault == fault]
    document = found.document()
    assert 0.5 < document["probability"] <= 1
    assert document["probability"] + sum(document["alternatives"].values()) == pytest.approx(1, abs=0.03)
    assert (
        document["evidence"].endswith(".")
        and document["cures"]
        and document["name"]
        and document["against"].endswith(".")
    )


def test_sound_strips_are_left_alone():
    assert [told({}, seed) for seed in range(80, 83)] == [()] * 3


def test_edges_wander_only_where_perforations_show_that_they_were_not_cut_by_hand():
    light, rng = render_faults({"frilling": 0.5}, 74)
    picture = Picture(expose(light, 1.0, rng))
    reading = read_strip([picture], len(light.strip.densities))
    sheet = lay_flat([picture], reading)
    assert measure(sheet, reading).numbers["edge_wander"] > 0.7
    density = sheet.density.copy()
    for rows in (density, density[::-1]):
        holes = (sheet.across_mm > 1.9) & (sheet.across_mm < 4.9)
        rows[holes] = np.median(rows[holes], axis=1, keepdims=True)
    assert "edge_wander" not in measure(replace(sheet, density=density), reading).numbers


def test_two_faults_on_one_strip_are_both_told():
    found = told({"stain": 1.6, "drying_marks": 0.7}, 91)
    assert {one.fault for one in found} == {"stain", "drying_marks"}


@pytest.mark.parametrize("mark", HELD_BACK)
def test_a_mark_that_is_no_known_fault_is_given_no_name(mark):
    (unclear, *_) = told({mark: 0.6}, 61, others=HELD_BACK)
    assert unclear.fault == "cannot_tell"
    assert "none of the known faults" in unclear.evidence and "patch" in unclear.evidence


def test_where_a_fault_lies_is_said():
    strip = RenderedStrip(
        tuple(np.linspace(0.2, 1.6, 8)), pitch_mm=18, lead_mm=(3, 3), rebate_density=1.9, perforated=True
    )
    corners = np.array([[150.0, 180], [950, 180], [950, 367], [150, 367]])
    scene = RenderedScene(1100, 600, corners, mask=True, grain=0.02)

    def leak(places, density):
        from_edge = strip.width_mm - places.across_mm
        return density * (1 - 0.6 * np.exp(-0.5 * ((places.along_mm - 40) / 10) ** 2) * np.exp(-from_edge / 12))

    rng = np.random.default_rng(5)
    picture = Picture(expose(render(strip, scene, rng, fault=leak), 1.0, rng))
    (found,) = diagnose_picture([picture], read_strip([picture], 8))
    assert found.fault == "light_leak"
    # 40 mm from the first end less 3 mm of lead is in patch 3; the far edge lies below.
    assert found.evidence.startswith("On the lower edge, patches 2 to 3,") or found.evidence.startswith(
        "On the lower edge, patches 2 to 4,"
    )


def test_the_colour_of_a_stain_is_named():
    strip = RenderedStrip(tuple(np.linspace(0.1, 1.6, 7)), pitch_mm=25)
    corners = np.array([[70.0, 170], [590, 170], [590, 270], [70, 270]])
    for stain, word in (
        ((0.0, 0.02, 0.3), "yellow"),
        ((0.02, 0.14, 0.3), "brown"),
        ((0.04, 0.3, 0.1), "pink or purple"),
    ):
        rng = np.random.default_rng(9)
        picture = Picture(
            expose(render(strip, RenderedScene(660, 440, corners, mask=True, stain=stain), rng), 1.0, rng)
        )
        (found,) = [f for f in diagnose_picture([picture], read_strip([picture], 7)) if f.fault == "stain"]
        assert f"A {word} stain all over" in found.evidence


@pytest.mark.parametrize(
    ("densities", "look", "grey"),
    [
        (np.linspace(0.1, 1.8, 9), {"pitch_mm": 16}, True),
        ([0.8], {"pitch_mm": 60}, False),
        ([0.03, 0.05, 0.07, 0.1], {"pitch_mm": 38}, False),
        ([2.3, 2.5, 2.7, 2.9], {"pitch_mm": 38, "gap_mm": 2, "rebate_density": 3.0, "perforated": True}, False),
    ],
    ids=["grey", "one patch", "clear", "black"],
)
def test_strips_that_show_little_are_left_alone(densities, look, grey):
    strip = RenderedStrip(tuple(densities), **look)
    length = 560
    across = length * strip.width_mm / strip.length_mm
    corners = np.array([[120.0, 190], [120 + length, 190], [120 + length, 190 + across], [120, 190 + across]])
    rng = np.random.default_rng(1)
    codes = expose(render(strip, RenderedScene(800, 600, corners, mask=True, grain=0.02), rng), 1.0, rng)
    picture = Picture(np.ascontiguousarray(codes[..., 1:2]) if grey else codes)
    assert diagnose_picture([picture], read_strip([picture], len(densities), corners)) == ()
