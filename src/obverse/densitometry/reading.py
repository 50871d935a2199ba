"""What reading a strip gives: densities, where they come from, and how well they are known."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from obverse.foundation import Caution, Estimate
from obverse.imaging.patches import Layout
from obverse.imaging.warp import Warp


@dataclass(frozen=True)
class PatchReading:
    """One patch.

    Parameters
    ----------
    index : int
        From 1 at the first corner.
    density : Estimate
        Against the open panel, base included.
    clipped : bool
        Too bright or too dark for every picture; then `density` is only a bound.
    clipped_end : str
        "bright", "dark" or "".
    channels : tuple of float
        Density in red, green, blue; one value for a grey picture.
    stain_index : float or None
        Density in blue less density in red; None for a grey picture.
    budget : dict
        Standard uncertainty in density from each cause.
    diffuse_sd : float
        Standard uncertainty when the number is taken as diffuse density.
    corners : tuple of (x, y)
        The part that was read, in pixels of the first picture.
    """

    index: int
    density: Estimate
    clipped: bool
    clipped_end: str
    channels: tuple[float, ...]
    stain_index: float | None
    budget: dict[str, float]
    diffuse_sd: float
    corners: tuple[tuple[float, float], ...]

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "index": self.index,
            "density": _short(self.density.value),
            "density_sd": _short(self.density.sd),
            "low90": _short(self.density.low90),
            "high90": _short(self.density.high90),
            "clipped": self.clipped,
            "clipped_end": self.clipped_end,
            "channels": [_short(v) for v in self.channels],
            "stain_index": None if self.stain_index is None else _short(self.stain_index),
            "budget": {name: _short(v) for name, v in self.budget.items()},
            "diffuse_density_sd": _short(self.diffuse_sd),
            "corners": [[round(x, 1), round(y, 1)] for x, y in self.corners],
        }


@dataclass(frozen=True)
class StripReading:
    """All patches of a strip, in order from the first corner, with what they rest on.

    Parameters
    ----------
    patches : tuple of PatchReading
    reference : dict
        The open panel and the glare.
    cautions : tuple of Caution
    corners, area : four (x, y)
        Of the strip, and of the row of patches in it; pixels of the first picture.
    corners_found : bool
        Whether they were looked for, not given.
    kind : str
    edges : tuple of float
        Where the patches meet along the row, 0 to 1.
    against : tuple of dict
        Numbers of patches that the picture speaks for more than for the one asked for.
    warp : Warp, optional
        The strip's own coordinates.
    layout : Layout, optional
        Where the patches lie in them.
    """

    patches: tuple[PatchReading, ...]
    reference: dict[str, Any]
    cautions: tuple[Caution, ...]
    corners: tuple[tuple[float, float], ...]
    corners_found: bool
    kind: str
    area: tuple[tuple[float, float], ...] = ()
    edges: tuple[float, ...] = ()
    against: tuple[dict[str, Any], ...] = ()
    warp: Warp | None = None
    layout: Layout | None = None
    pictures: tuple[dict[str, Any], ...] = ()
    size: tuple[int, int] = (0, 0)
    extra: dict[str, Any] = field(default_factory=dict)

    @property
    def density(self) -> np.ndarray:
        """Densities, shape (n,)."""
        return np.array([p.density.value for p in self.patches])

    @property
    def density_sd(self) -> np.ndarray:
        """Standard uncertainties, shape (n,)."""
        return np.array([p.density.sd for p in self.patches])

    @property
    def clipped(self) -> np.ndarray:
        """Clipped flags, shape (n,)."""
        return np.array([p.clipped for p in self.patches])

    def document(self) -> dict[str, Any]:
        """The JSON shape of contract 4, with what stands behind it."""
        return {
            "format": "obverse-reading",
            "version": 1,
            "kind": self.kind,
            "patches": [p.document() for p in self.patches],
            "reference": self.reference,
            "cautions": [c.document() for c in self.cautions],
            "corners": [[round(x, 2), round(y, 2)] for x, y in self.corners],
            "corners_found": self.corners_found,
            "patch_corners": [[round(x, 2), round(y, 2)] for x, y in self.area],
            "dividers": [round(v, 5) for v in self.edges],
            "against": list(self.against),
            "picture_size": list(self.size),
            "pictures": list(self.pictures),
            **self.extra,
        }


def _short(value: float) -> float:
    """Four decimals are finer than any density."""
    return round(float(value), 4)
