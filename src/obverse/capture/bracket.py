"""Load a bracket, with its response curve where pictures of the empty panel give one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from obverse.capture.loading import load_picture
from obverse.foundation import Caution, InputError, Level
from obverse.imaging import Picture, read_codes, response_curve, spot_grid

_PLACES = 6  # per way, of the panel
_INNER, _LEAST_PIXELS = (0.2, 0.8), 5  # of the picture, where they lie; and how wide each is at least


def load_bracket(pictures: Sequence[str | Path | bytes], panels: Sequence[str | Path | bytes] = ()) -> list[Picture]:
    """Pictures of one view, decoded by the response that pictures of the empty panel show.

    Raises
    ------
    InputError
        If a picture cannot be used, or the panel pictures give no curve.
    """
    loaded = [load_picture(p) for p in pictures]
    if not panels:
        return loaded
    table = find_response([load_picture(p) for p in panels])
    if any(p.codes.dtype.kind != "u" or p.saturation != table.size - 1 for p in loaded):
        raise InputError(
            "the pictures of the panel are of another kind than those of the strip",
            where="response",
            remedy="take them alike",
        )
    said = Caution(
        "curve.measured", "The tone curve was measured from pictures of the empty panel.", Level.NOTE, where="picture"
    )
    return [replace(p, encoding="response", table=table, cautions=(*p.cautions, said)) for p in loaded]


def find_response(panels: Sequence[Picture]) -> np.ndarray:
    """Linear light of each code, from pictures of the empty panel at known shutter times."""
    exposures = [p.exposure() for p in panels]
    if any(e is None for e in exposures):
        raise InputError(
            "a picture of the panel does not say its shutter time", where="response", remedy="give pictures with EXIF"
        )
    first = panels[0]
    if any(p.codes.shape != first.codes.shape or p.codes.dtype.kind != "u" for p in panels):
        raise InputError("the pictures of the panel differ in size or kind", where="response", remedy="take them alike")
    x, y = np.meshgrid(np.linspace(*_INNER, _PLACES) * first.width, np.linspace(*_INNER, _PLACES) * first.height)
    grid = spot_grid(
        np.stack([x.ravel(), y.ravel()], 1), max(_LEAST_PIXELS, first.width // 100), (first.width, first.height)
    )
    codes = np.stack([read_codes(p, grid) for p in panels])
    return response_curve(codes, np.array(exposures), levels=int(first.saturation) + 1, saturation=first.saturation)
