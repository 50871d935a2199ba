"""From camera density to diffuse density, by a step tablet with known densities."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from pydantic import Field

from obverse.foundation import Document, InputError

# Steps of a tablet that a slope and a bend are read from, and how widely a bend may differ from none.
_FEWEST_STEPS, _BEND_SD = 4, 0.05


class Calibration(Document):
    """Diffuse density = slope * camera density + bend * camera density squared.

    Open panel is 0 in both, so there is no constant. The slope holds the Callier effect of the
    set-up (a lens sees only part of the scattered light); the bend what is left of a tone curve.
    """

    slope: float = Field(gt=0.2, lt=3)
    bend: float = Field(gt=-0.5, lt=0.5)
    covariance: tuple[tuple[float, float], tuple[float, float]]
    residual_sd: float = Field(ge=0, le=1)
    highest: float = Field(gt=0, le=6, description="highest camera density it was made with")
    steps: int = Field(ge=_FEWEST_STEPS)
    tablet: str = Field(default="", max_length=200)

    def apply(self, density: float) -> tuple[float, float, float]:
        """Diffuse density, the standard uncertainty the calibration adds, and the slope there."""
        basis = np.array([density, density**2])
        value = self.slope * density + self.bend * density**2
        variance = float(basis @ np.asarray(self.covariance) @ basis) + (self.residual_sd * min(density, 1.0)) ** 2
        return value, variance**0.5, self.slope + 2 * self.bend * density


def calibrate(
    camera: Sequence[float],
    camera_sd: Sequence[float],
    known: Sequence[float],
    *,
    known_sd: float = 0.02,
    tablet: str = "",
) -> Calibration:
    """Tie camera densities to the known densities of a step tablet.

    Parameters
    ----------
    camera, camera_sd : sequence of float
        Read from the tablet, step by step; clipped steps left out.
    known : sequence of float
        The tablet's own densities in the same order.
    known_sd : float
        Standard uncertainty of a known density.

    Returns
    -------
    Calibration
        The curve from camera to known density, with its uncertainty.

    Raises
    ------
    InputError
        If there are fewer than four steps, or they do not rise together.
    """
    x, y = np.asarray(camera, dtype=float), np.asarray(known, dtype=float)
    sd = np.hypot(np.asarray(camera_sd, dtype=float), known_sd)
    if x.size != y.size:
        raise InputError(
            f"{x.size} steps were read and {y.size} are known",
            where="step tablet",
            remedy="give one density for every step",
        )
    if x.size < _FEWEST_STEPS or np.ptp(y) < 0.5:
        raise InputError("a calibration needs at least four steps over a range of 0.5", where="step tablet")
    if np.corrcoef(x, y)[0, 1] < 0.9:
        raise InputError(
            "the densities read do not follow the known ones",
            where="step tablet",
            remedy="check the order of the steps and the corners",
        )
    basis = np.stack([x, x**2], 1)
    weight = 1 / sd**2
    # The bend is held near zero unless the tablet speaks against it.
    normal = basis.T @ (weight[:, None] * basis) + np.diag([0.0, 1 / _BEND_SD**2])
    covariance = np.linalg.inv(normal)
    slope, bend = covariance @ (basis.T @ (weight * y))
    residual = y - basis @ (slope, bend)
    chi2 = float((weight * residual**2).sum()) / max(x.size - 2, 1)
    covariance = covariance * max(chi2, 1.0)
    return Calibration(
        slope=float(slope),
        bend=float(bend),
        covariance=tuple(tuple(float(v) for v in row) for row in covariance),
        residual_sd=float(min(np.sqrt(max(chi2 - 1, 0)) * np.median(sd), 1.0)),
        highest=float(x.max()),
        steps=int(x.size),
        tablet=tablet,
    )
