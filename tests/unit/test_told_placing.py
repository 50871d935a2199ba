"""What a reading tells of where the patches lie: every other place, and what the picture has to say against the one that was taken."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from obverse.densitometry import read
from obverse.imaging import Warp
from obverse.imaging.patches import Beside, PatchDoubt, Profile, even_layout
from obverse.imaging.strip import Located
from tests.told_kept import told_as_kept

COUNT = 11
STEP = 1 / COUNT
WARP = Warp(np.array([[100.0, 50], [650, 50], [650, 110], [100, 110]]))
PROFILE = Profile(np.linspace(0, 1, 40), np.zeros(40), np.zeros(40), np.ones(40, dtype=bool))


def beside(begins: int, ends: int, lag: float) -> Beside:
    edges = np.linspace(begins * STEP, 1 + ends * STEP, COUNT + 1)
    return Beside(replace(even_layout(COUNT), edges=edges), begins, ends, lag)


def located(seen: int = COUNT - 1, near: tuple[Beside, ...] = (), others: int = 0) -> Located:
    here = Located(WARP, replace(even_layout(COUNT), seen=seen), PROFILE, False, near)
    strips = tuple(replace(here, warp=WARP.moved(np.array([0.0, 100 * (k + 1)]))) for k in range(others))
    return replace(here, rivals=strips)


def told(
    here: Located, against: tuple[PatchDoubt, ...] = (), panel: float = 1.0, settled: bool = False
) -> dict[str, Any]:
    others = () if settled else read._others(here)
    said = read._doubted(here, COUNT, against, others, panel, settled=settled)
    return {"said": [f"{c.code}: {c.text}" for c in said], "others": [one.document() for one in others]}


def test_what_is_told_of_where_the_patches_lie_is_what_was_read():
    found = {
        f"begins {begins:+d}, ends {ends:+d}": told(located(near=(beside(begins, ends, 1.0),)))
        for begins in (-1, 0, 1)
        for ends in (-1, 0, 1)
        if begins or ends
    }
    three = tuple(beside(by, by, lag) for by, lag in ((1, 0.5), (-1, 2.0), (1, 3.9), (-1, 4.9)))
    found |= {
        "nothing near": told(located(near=(beside(1, 1, 7.0),))),
        "no more than three": told(located(near=three)),
        "two strips and a place near": told(located(near=three[:1], others=2)),
        "another strip, and it was settled": told(located(near=three, others=1), settled=True),
        "another number": told(located(near=three), (PatchDoubt(9, 7.1),)),
        "hardly another number": told(located(), (PatchDoubt(9, 6.9),)),
        "few steps": told(located(seen=3)),
        "no steps": told(located(seen=0)),
        "no panel": told(located(), panel=0.1),
        "beyond one side of the film": read._beyond_film(True, False).text,
        "beyond both sides of the film": read._beyond_film(True, True).text,
    }
    assert not told_as_kept("placings", found)
