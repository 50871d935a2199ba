"""The curve that a slide will have: of a recipe, of a measured strip, predicted for a film, or an example."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Z90, Array, Caution, Estimate, InputError, JsonObject, Level
from obverse.inference import FilmFit
from obverse.model import PRIOR_MEAN, natural
from obverse.process import CONTROLS, Recipe
from obverse.reference import number
from obverse.sensitometry import CharacteristicCurve

# Wide enough for every subject; past the readings a curve is level.
LOG_EXPOSURE = np.round(np.linspace(-3.0, 3.0, 241), 6)
EXAMPLE = "example"
# Invented: base, blacks above it, log exposure and width of the passage, and the doubt of its place.
INVENTED_CURVE = (0.10, 2.5, -0.05, 0.36, 0.05)


@dataclass(frozen=True, eq=False)
class SlideCurve:
    """What a slide's density does with exposure.

    Parameters
    ----------
    log_exposure, density, low90, high90 : (N,) arrays
        Densities with base; exposure against the metered mid-tone at box speed.
    kind : {"measured", "predicted", "example"}
    midtone : Estimate or None
        Log exposure of the mid-tone density.
    strip_log_exposure_sd : float
        How the next strip by the same recipe departs from this one (`strip_spread`); 0 where `midtone` holds it.
    own_strips : int
        Strips by this recipe that this was learned from (`learned_spread`); fewer than two teach nothing.
    """

    id: str
    name: str
    kind: str
    film: str
    box_speed: float
    base_density: float
    base_tint: str
    midtone_density: float
    log_exposure: Array
    density: Array
    low90: Array
    high90: Array
    midtone: Estimate | None
    exposure_index_used: float | None = None
    controls_text: str = ""
    cautions: tuple[Caution, ...] = ()
    strip_log_exposure_sd: float = 0.0
    own_strips: int = 0

    def at(self, log_exposure: ArrayLike) -> Array:
        """Density, base included; level past both ends."""
        return np.interp(np.asarray(log_exposure, dtype=np.float64), self.log_exposure, self.density)

    def sd_at(self, log_exposure: ArrayLike) -> Array:
        """Standard uncertainty of the density, from the 90 % band."""
        sd = (self.high90 - self.low90) / (2 * Z90)
        return np.interp(np.asarray(log_exposure, dtype=np.float64), self.log_exposure, sd)

    @property
    def dmin(self) -> float:
        """Least density, base included."""
        return float(self.density[-1])

    @property
    def dmax_with_base(self) -> float:
        """Greatest density, base included."""
        return float(self.density[0])

    @property
    def exposure_index(self) -> Estimate | None:
        """Meter setting that puts the mid-tone density on the metered mid-tone: box speed x 10^-x_m."""
        if self.midtone is None:
            return None
        low, middle, high = (
            self.box_speed * 10**-x for x in (self.midtone.high90, self.midtone.value, self.midtone.low90)
        )
        return Estimate(middle, middle * math.log(10) * self.midtone.sd, low, high)

    def document(self) -> JsonObject:
        """The JSON shape."""
        index = self.exposure_index
        return {
            "id": self.id,
            "name": self.name,
            "kind": self.kind,
            "film": self.film,
            "box_speed": self.box_speed,
            "base_density": self.base_density,
            "base_tint": self.base_tint,
            "exposure_index": index.document() if index else None,
            "exposure_index_used": self.exposure_index_used,
            "dmin": self.dmin,
            "dmax": self.dmax_with_base,
            "controls_text": self.controls_text,
            "cautions": [caution.document() for caution in self.cautions],
        }


def example_curve() -> SlideCurve:
    """An invented curve for whoever has no strip yet: it says so."""
    base, blacks, place, spread, sd = INVENTED_CURVE
    density = base + blacks / (1 + np.exp((LOG_EXPOSURE - place) / spread))
    at = float(np.interp(-(base + 1.0), -density, LOG_EXPOSURE))
    return SlideCurve(
        EXAMPLE,
        "An example curve",
        "example",
        "an invented film of 100 speed",
        100.0,
        0.10,
        "clear",
        1.0,
        LOG_EXPOSURE,
        density,
        density - 0.1,
        density + 0.1,
        Estimate(at, sd),
        cautions=(
            Caution(
                "wall.example",
                "This curve is invented, to show the way; choose a strip or recipe of your own as soon as there is one.",
                Level.NOTE,
            ),
        ),
    )


def from_strip(
    curve: CharacteristicCurve,
    *,
    id: str,
    name: str,
    film: str,
    box_speed: float,
    base_tint: str = "unknown",
    controls: Mapping[str, float] | None = None,
    index: float | None = None,
    alike: Sequence[Estimate] = (),
) -> SlideCurve:
    """The curve of a measured strip; `alike` are the mid-tones of all strips by its recipe."""
    middle, low, high = curve.band(LOG_EXPOSURE)
    return SlideCurve(
        id,
        name,
        "measured",
        film,
        box_speed,
        float(np.median(curve.base_draws)),
        base_tint,
        curve.midtone_density,
        LOG_EXPOSURE,
        middle,
        low,
        high,
        curve.midtone_log_exposure,
        exposure_index_used=index,
        controls_text=CONTROLS.text(controls or {}),
        cautions=curve.cautions,
        strip_log_exposure_sd=learned_spread(strip_spread(controls or {}), alike),
        own_strips=len(alike),
    )


def strip_spread(controls: Mapping[str, float]) -> float:
    """Spread of the mid-tone's log exposure from strip to strip by one recipe (records ``notebook.strip_sd.*``).

    Shutter, lens and meter; and the first development, whose activity, time and temperature are never quite the
    same twice and which moves the curve by what the process model takes for films in general.
    """
    time_min = controls.get("first_developer_time_min") or CONTROLS.reference()["first_developer_time_min"]
    usual = natural(PRIOR_MEAN)
    development = math.hypot(
        number("notebook.strip_sd.activity"),
        number("notebook.strip_sd.time_min") / time_min,
        usual["temperature_rate"] * number("notebook.strip_sd.temperature_c"),
    )
    return math.hypot(number("notebook.strip_sd.log_exposure"), float(usual["push"]) * development)


# What is usual weighs as much as so many own strips more than one: after six, the own outweigh it.
USUAL_COUNTS = 5


def learned_spread(usual: float, alike: Sequence[Estimate]) -> float:
    """Spread from strip to strip, learned from own strips by one recipe.

    The usual spread counts as `USUAL_COUNTS` strips, each own one past the first as one; what reading a strip adds of its
    own is taken off.

    Parameters
    ----------
    usual : float
        Of strips in general.
    alike : sequence of Estimate
        Log exposure of the mid-tone of each own strip.
    """
    if len(alike) < 2:
        return usual
    middles = np.array([one.value for one in alike])
    reading = float(np.mean([one.sd**2 for one in alike]))
    seen = max(float(np.var(middles, ddof=1)) - reading, 0.0)
    own = len(alike) - 1
    return math.sqrt((USUAL_COUNTS * usual**2 + own * seen) / (USUAL_COUNTS + own))


def from_fit(fit: FilmFit, controls: dict[str, float], *, id: str, name: str, base_tint: str = "unknown") -> SlideCurve:
    """What is predicted for a film by these controls."""
    band = fit.predict_curve(controls, LOG_EXPOSURE)
    known = fit.series.film.base_density
    seen = fit.predict_observables(controls, midtone_density=fit.series.aim.midtone_density)
    midtone = seen["midtone_log_exposure"]
    return SlideCurve(
        id,
        name,
        "predicted",
        fit.series.film.name,
        fit.series.film.box_speed,
        float(np.median(fit.base)) if known is None else known,
        base_tint,
        fit.series.aim.midtone_density,
        LOG_EXPOSURE,
        band.density,
        band.low90,
        band.high90,
        midtone if midtone is not None and np.isfinite(midtone.value) else None,
        controls_text=CONTROLS.text(controls),
        cautions=band.cautions,
    )


def curve_words(recipe: Recipe) -> InputError:
    """Why a recipe without a curve cannot be shown."""
    return InputError(
        f"the recipe {recipe.name!r} carries no curve",
        where="recipe",
        remedy="read a strip made by it, then lock it again",
    )
