"""An invented strip on an invented light panel, to try the place with: every number in it is made up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from obverse.imaging.render import RenderedScene, RenderedStrip, expose, render

# Places of the panel on which the strip is as long whatever the number of its patches, and of the falling curve it shows unasked.
LENGTH_MM = 176
PATCHES = 11


def simulated_bracket(
    seed: int, densities: Sequence[float] | None = None
) -> Iterator[tuple[NDArray[np.uint16], float]]:
    """Codes of three computed pictures of an invented strip, two stops apart, with their exposures in seconds.

    Parameters
    ----------
    densities : sequence of float, optional
        Patches of the strip, from the first corner. Default: a falling curve of eleven.

    Returns
    -------
    iterator of (H, W, 3) array of uint16 and float
    """
    rng = np.random.default_rng(seed)
    if densities is None:
        densities = tuple(0.12 + 2.35 / (1 + np.exp(3.2 * np.linspace(-1.6, 1.6, PATCHES))))
    strip = RenderedStrip(
        tuple(densities),
        pitch_mm=LENGTH_MM / len(densities),
        gap_mm=0,
        lead_mm=(4, 5),
        rebate_density=2.6,
        perforated=True,
    )
    corners = np.array([[150.0, 300], [1040, 270], [1050, 438], [146, 470]]) + rng.uniform(-8, 8, (4, 2))
    scene = RenderedScene(
        1200,
        800,
        corners,
        mask=True,
        grain=0.03,
        falloff=(0.04, -0.03, 0.06, 0.01),
        glare=0.002,
        dust=14,
        scratches=1,
    )
    light = render(strip, scene, rng)
    for stops in (1, 4, 16):
        yield expose(light, stops, rng), stops / 128
