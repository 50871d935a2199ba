"""What reading a strip gives: densities, where they come from, and how well they are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field

import numpy as np

from obverse.foundation import Caution, Estimate, JsonObject
from obverse.imaging import Field, Warp
from obverse.imaging.patches import Layout, PatchDoubt


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

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "index": self.index,
            "density": short(self.density.value),
            "density_sd": short(self.density.sd),
            "low90": short(self.density.low90),
            "high90": short(self.density.high90),
            "clipped": self.clipped,
            "clipped_end": self.clipped_end,
            "channels": [short(v) for v in self.channels],
            "stain_index": None if self.stain_index is None else short(self.stain_index),
            "budget": {name: short(v) for name, v in self.budget.items()},
            "diffuse_density_sd": short(self.diffuse_sd),
            "corners": [[round(x, 1), round(y, 1)] for x, y in self.corners],
        }


@dataclass(frozen=True)
class PanelGlare:
    """The veiling glare, as a fraction of the open panel's light, and where that is known from."""

    fraction: float
    sd: float
    measured: bool
    told_by: str


@dataclass(frozen=True)
class OpenPanel:
    """The open panel: what densities are reckoned against.

    Parameters
    ----------
    density_sd : float
        Standard uncertainty in density of its light beside the patches.
    light : float
        Fraction of saturation in the picture of that name.
    clipped : bool
        Overexposed in every picture.
    falloff_stops : float
        Between its brightest and its darkest part.
    told_by : str
        What its light under the strip is known from.
    picture : str
        The picture that shows it best.
    """

    density_sd: float
    light: float
    clipped: bool
    falloff_stops: float
    told_by: str
    glare: PanelGlare
    picture: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        glare = self.glare
        return {
            "density": 0.0,
            "density_sd": round(self.density_sd, 5),
            "light": round(self.light, 5),
            "clipped": self.clipped,
            "falloff_stops": round(self.falloff_stops, 3),
            "from": self.told_by,
            "glare": {
                "fraction": round(glare.fraction, 6),
                "sd": round(glare.sd, 6),
                "measured": glare.measured,
                "from": glare.told_by,
            },
            "picture": self.picture,
        }


@dataclass(frozen=True)
class OtherPlacing:
    """Another place where the patches may lie, to be asked for by its number in the list.

    Parameters
    ----------
    words : str
        Where, against the placing that was read.
    corners : four (x, y)
        Of its row of patches.
    dividers : tuple of float
        Where its patches meet, 0 to 1.
    """

    words: str
    corners: tuple[tuple[float, float], ...]
    dividers: tuple[float, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "words": self.words,
            "corners": [[round(x, 2), round(y, 2)] for x, y in self.corners],
            "dividers": [round(v, 5) for v in self.dividers],
        }


@dataclass(frozen=True)
class ReadPicture:
    """One of the pictures of a strip, as it was read; `relative_exposure` is against the picture whose corners were found."""

    name: str
    sha256: str
    media_type: str
    encoding: str
    exposure_s: float | None
    f_number: float | None
    iso: float | None
    relative_exposure: float
    relative_exposure_sd: float
    simulated: bool
    metadata: Mapping[str, object] = field(default_factory=dict)

    def document(self) -> JsonObject:
        """The JSON shape."""
        return asdict(self)


@dataclass(frozen=True)
class StripReading:
    """All patches of a strip, in order from the first corner, with what they rest on.

    Parameters
    ----------
    reference : OpenPanel
        The open panel and the glare.
    corners, area : four (x, y)
        Of the strip, and of the row of patches in it; pixels of the first picture.
    corners_found : bool
        Whether they were looked for, not given.
    edges : tuple of float
        Where the patches meet along the row, 0 to 1.
    against : tuple of PatchDoubt
        Numbers of patches that the picture speaks for more than for the one asked for.
    others : tuple of OtherPlacing
        Places where the patches may as well lie, the likeliest first.
    warp : Warp, optional
        The strip's own coordinates.
    layout : Layout, optional
        Where the patches lie in them.
    field : Field, optional
        Light of the open panel in the picture in which the strip was looked for.
    size : (int, int)
        Width and height of the first picture.
    opaque : (left, top, right, bottom), optional
        Of an opaque piece beside the strip.
    """

    patches: tuple[PatchReading, ...]
    reference: OpenPanel
    cautions: tuple[Caution, ...]
    corners: tuple[tuple[float, float], ...]
    corners_found: bool
    kind: str
    area: tuple[tuple[float, float], ...] = ()
    edges: tuple[float, ...] = ()
    against: tuple[PatchDoubt, ...] = ()
    others: tuple[OtherPlacing, ...] = ()
    warp: Warp | None = None
    layout: Layout | None = None
    field: Field | None = None
    pictures: tuple[ReadPicture, ...] = ()
    size: tuple[int, int] = (0, 0)
    opaque: tuple[int, int, int, int] | None = None

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

    def document(self) -> JsonObject:
        """The JSON shape of contract 4, with what stands behind it."""
        return {
            "format": "obverse-reading",
            "version": 1,
            "kind": self.kind,
            "patches": [p.document() for p in self.patches],
            "reference": self.reference.document(),
            "cautions": [c.document() for c in self.cautions],
            "corners": [[round(x, 2), round(y, 2)] for x, y in self.corners],
            "corners_found": self.corners_found,
            "patch_corners": [[round(x, 2), round(y, 2)] for x, y in self.area],
            "dividers": [round(v, 5) for v in self.edges],
            "against": [{"patches": one.count, "gain": round(one.gain, 1)} for one in self.against],
            "others": [one.document() for one in self.others],
            "picture_size": list(self.size),
            "pictures": [p.document() for p in self.pictures],
            "opaque": list(self.opaque) if self.opaque else None,
        }


def short(value: float) -> float:
    """Four decimals are finer than any density."""
    return round(float(value), 4)
