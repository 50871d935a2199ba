"""Whether the tone curve of the pictures is known, and what not knowing it does to a density."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from obverse.foundation import Caution, Level
from obverse.imaging.picture import Picture
from obverse.imaging.response import response_of_bracket
from obverse.reference import number


@dataclass(frozen=True)
class Curve:
    """How well the tone curve of the pictures is known.

    Parameters
    ----------
    per_density, least : float
        Standard uncertainty of a density from it: `least` and `per_density` times the density, in quadrature.
    cautions : tuple of Caution
    """

    per_density: float = 0.0
    least: float = 0.0
    cautions: tuple[Caution, ...] = ()

    @property
    def unknown(self) -> bool:
        """Whether any of it is left to be unsure of."""
        return self.per_density > 0 or self.least > 0

    def transmittance_sd(self, transmittance: float) -> float:
        """Standard uncertainty of a transmittance from the curve."""
        t = min(max(transmittance, 1e-4), 1.0) if math.isfinite(transmittance) else 1e-4
        density = -math.log10(t)
        # The open panel has no uncertainty of its own: there the curve cancels.
        least = self.least * min(density / 0.3, 1.0)
        return t * math.log(10) * math.hypot(least, self.per_density * density)


def known_curve(pictures: Sequence[Picture]) -> tuple[list[Picture], Curve]:
    """The pictures, decoded by a curve measured in them where they show one, and how well it is known.

    Parameters
    ----------
    pictures : sequence of Picture
        One, or a bracket of one view.
    """
    if not any(p.encoding == "srgb" for p in pictures):
        return list(pictures), Curve()
    found = response_of_bracket(pictures) if all(p.encoding == "srgb" for p in pictures) else None
    if found is None:
        words = (
            "The picture was decoded by the standard sRGB curve; a camera's own tone curve is not the standard's, and the interval "
            "allows for that. A bracket two stops apart, a RAW picture or a step tablet in the same set-up would tell the curve."
        )
        said = Caution("curve.standard", words, Level.CAUTION, where="picture", source="camera.tone_curve")
        return list(pictures), Curve(number("camera.tone_curve"), number("camera.tone_curve_least"), (said,))
    decoded = [replace(p, encoding="response", table=found.table) for p in pictures]
    if found.timed:
        words = "The tone curve was found from the bracket itself, by the shutter times in the pictures."
        return decoded, Curve(
            number("camera.bracket_curve"),
            number("camera.bracket_curve_least"),
            (Caution("curve.bracket", words, Level.NOTE, where="picture"),),
        )
    words = "No shutter times are written in the pictures. The tone curve was found from the bracket itself, "
    if found.stops is not None:
        words += f"taken as {found.stops:g} {'stop' if found.stops == 1 else 'stops'} between neighbours; if that is wrong, all densities are wrong in proportion."
        share = number("camera.bracket_curve")
    else:
        words += "its contrast as the standard curve has it; pictures with their shutter times would tell it."
        share = number("camera.tone_curve")
    said = Caution("curve.untimed", words, Level.CAUTION, where="picture", source="camera.tone_curve")
    return decoded, Curve(share, number("camera.bracket_curve_least"), (said,))
