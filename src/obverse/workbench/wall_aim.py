"""The aim from the wall: under which densities an average scene is best seen there.

A named aim is made for one kind of wall. Here the person's own lamp, screen, room and condenser decide:

- the gradient, so that scene and wall together have the gradient that looks right in that surround;
- the mid-tone density, so that a middle grey stands where that surround wants it, on the wall and not
  on the densitometer: a condenser makes silver denser, room light makes all tones lighter;
- the blacks, so far as the eye still tells steps there: they may cost a twentieth of the steps that the
  wall can show at all;
- the highlights, as light on the wall as the named aim means them.

Steps are just noticeable differences of `obverse.light.visible_steps`, the eye's own veil included.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from obverse.foundation import Array, InputError, JsonObject
from obverse.light import on_screen, seen_luminance, visible_steps, wanted_gradient
from obverse.process import Aim, named_aim
from obverse.reference import number, record
from obverse.workbench.preview import Screen

ShownOn = Literal["wall", "light_table", "screen"]
Surround = Literal["average", "dim", "dark"]

# Densities above base looked through for the blacks: no film reaches further.
DENSITIES = np.linspace(0.0, 4.0, 801)
# Log exposures of an average scene, record "scene-range", in so many places.
PLACES = 81
# No useful black is lighter than so much over the mid-tone, and none is asked that no film gives.
LEAST_OVER_MIDTONE, MOST_DMAX = 0.5, 3.0
# Density over which an average curve bends from its straight part into its ends.
SOFTNESS = 0.15
# An aim is told to a twentieth: a densitometer at home reads no better.
GRAIN = 0.05


# For which showing the records of the named aims were set (``aim.NAME.*``), in words.
MADE_FOR = {
    "projection": "a dark room without stray light, densities as light falls through a slide from all sides",
    "light_table": "a light table or viewer in a lit room",
    "scan": "a scanner, whose file is made lighter or harder afterwards",
}


def as_shown(screen: Screen, shown_on: ShownOn) -> tuple[Screen, Surround | None]:
    """The screen that stands for another showing than the wall, and its surround; the wall's own unchanged.

    A light table or viewer, and the scan of a slide on a monitor, have a white, a black and a Callier factor as a wall
    has (records ``wall.light_table``, ``wall.monitor``).
    """
    if shown_on == "wall":
        return screen, None
    row = record("wall.light_table" if shown_on == "light_table" else "wall.monitor").value
    made = screen.model_copy(update={"stray": row["black_share"], "room_lux": 0.0, "callier": row["callier"]})
    return made.model_copy(update={"flux_lm": made.flux_lm * row["white_cd_m2"] / made.gate_cd_m2}), "average"


@dataclass(frozen=True, slots=True)
class Price:
    """What keeping one window of a named aim, in place of the wall's own, costs on this wall.

    Parameters
    ----------
    window : str
        Key of the aim.
    words : str
        In words, with both figures.
    steps : float
        Visible steps lost over an average scene; 0 where nothing is lost.
    """

    window: str
    words: str
    steps: float


@dataclass(frozen=True, slots=True)
class WallAim:
    """The aim that a wall asks for, and why.

    Parameters
    ----------
    gate_cd_m2, black_cd_m2 : float
        Luminance of the open gate, and of a black spot.
    steps_of_wall : float
        Just noticeable steps from the black spot to the open gate.
    steps_of_scene : float
        Steps that an average scene shows with this aim.
    against : str
        Name of the aim it is compared with.
    steps_of_scene_against : float
        Steps that an average scene shows with that one.
    index_stops : float
        How much more (positive) or less exposure the mid-tone of this aim asks for than that one's.
    """

    aim: Aim
    gate_cd_m2: float
    black_cd_m2: float
    steps_of_wall: float
    steps_of_scene: float
    against: str
    steps_of_scene_against: float
    index_stops: float
    prices: tuple[Price, ...]

    @property
    def not_words(self) -> str:
        """The mid-tone in one sentence, against that of the named aim."""
        mine, theirs = self.aim.midtone_density, named_aim(self.against).midtone_density
        named = self.against.replace("_", " ")
        if mine == theirs:
            return (
                f"A mid-tone of {mine:.2f}, as in \N{LEFT DOUBLE QUOTATION MARK}{named}\N{RIGHT DOUBLE QUOTATION MARK}."
            )
        return f"A mid-tone of {mine:.2f}, not {theirs:.2f} as in \N{LEFT DOUBLE QUOTATION MARK}{named}\N{RIGHT DOUBLE QUOTATION MARK}."

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "aim": self.aim.model_dump(mode="json"),
            "gate_cd_m2": self.gate_cd_m2,
            "black_cd_m2": self.black_cd_m2,
            "steps_of_wall": self.steps_of_wall,
            "steps_of_scene": self.steps_of_scene,
            "against": self.against,
            "made_for": MADE_FOR.get(self.against, ""),
            "not_words": self.not_words,
            "steps_of_scene_against": self.steps_of_scene_against,
            "index_stops": self.index_stops,
            "prices": [{"window": p.window, "words": p.words, "steps": p.steps} for p in self.prices],
        }


def slide_density(log_exposure: Array, *, dmax: float, gradient: float, midtone_density: float) -> Array:
    """An average slide, densities above base: a straight line of that slope through its mid-tone, bent into both ends."""
    if not 0 < midtone_density < dmax:
        raise InputError("the mid-tone must lie between base and blacks", where="aim")
    line = midtone_density - gradient * np.asarray(log_exposure, dtype=float)
    return SOFTNESS * (np.logaddexp(0, line / SOFTNESS) - np.logaddexp(0, (line - dmax) / SOFTNESS))


class _Eye:
    """Steps of tone on one wall, for densities above base."""

    def __init__(self, screen: Screen, base_density: float):
        self.screen, self.base = screen, base_density
        self.gate = screen.gate_cd_m2

    def light(self, density: Array) -> Array:
        """Luminance of densities above base, cd/m2, stray light included."""
        return self.gate * on_screen(self.base + self.screen.callier * density, self.screen.black_share)

    def steps(self, density: Array, mean: float) -> Array:
        return visible_steps(seen_luminance(self.light(density), mean))

    def steps_of_scene(self, dmax: float, gradient: float, midtone_density: float) -> float:
        """Steps between the darkest and the lightest tone of an average scene."""
        scene = record("scene-range").value
        x = np.linspace(-scene["below"], scene["above"], PLACES)
        density = slide_density(x, dmax=dmax, gradient=gradient, midtone_density=midtone_density)
        mean = float(np.mean(self.light(density)))
        seen = self.steps(density[[0, -1]], mean)
        return float(seen[1] - seen[0])


def wall_aim(
    screen: Screen, *, surround: Surround = "dark", base_density: float = 0.1, against: str = "projection"
) -> WallAim:
    """The windows under which an average scene is best seen on this wall.

    Parameters
    ----------
    screen : Screen
        Lamp, picture, screen, room (as stray light) and condenser (as Callier factor).
    surround : {"average", "dim", "dark"}
        Of the picture; a light table in a lit room is ``"average"``.
    base_density : float
        Of the film.
    against : str
        The named aim it is compared with.
    """
    named = named_aim(against)
    eye = _Eye(screen, base_density)
    gradient = wanted_gradient(surround) / screen.callier
    midtone = _midtone(screen, surround)
    mean = float(eye.light(np.array([midtone]))[0])
    steps = eye.steps(DENSITIES, mean)
    all_steps = float(steps[0] - steps[-1])
    price = number("wall.aim_price") * all_steps
    # The lightest black from which no more is to be had than the price.
    dmax = float(np.interp(-(steps[-1] + price), -steps, DENSITIES))
    # Highlights as light on the wall as a diffuse reading of the named aim takes them to be: the eye takes
    # the lightest tone for white, so they cost brightness and no steps.
    highlight = (named.highlight_density_max or GRAIN) / screen.callier
    spread = number("wall.gradient_spread")
    aim = Aim(
        name=f"this wall, {surround} surround",
        dmax_min=_round(float(np.clip(dmax, midtone + LEAST_OVER_MIDTONE, MOST_DMAX))),
        gradient_min=_round(gradient * (1 - spread)),
        gradient_max=_round(gradient * (1 + spread)),
        highlight_density_max=_round(max(highlight, GRAIN)),
        midtone_density=_round(midtone),
        midtone_log_exposure_min=named.midtone_log_exposure_min,
        midtone_log_exposure_max=named.midtone_log_exposure_max,
    )
    own = _middle(aim)
    other = _middle(named)
    best = eye.steps_of_scene(*own)
    return WallAim(
        aim=aim,
        gate_cd_m2=eye.gate,
        black_cd_m2=eye.gate * screen.black_share,
        steps_of_wall=all_steps,
        steps_of_scene=best,
        against=against,
        steps_of_scene_against=eye.steps_of_scene(*other),
        index_stops=(named.midtone_density - aim.midtone_density) / gradient / float(np.log10(2.0)),
        prices=tuple(_prices(eye, aim, named, best)),
    )


def _midtone(screen: Screen, surround: Surround) -> float:
    """Density above base at which a middle grey stands on the wall where that surround wants it."""
    wanted = number("wall.middle_grey") ** wanted_gradient(surround)
    # Of white, stray light in both: what the slide itself must let through.
    through = wanted * (1 + screen.black_share) - screen.black_share
    least = 10.0 ** (-screen.callier * MOST_DMAX / 2)
    return -float(np.log10(max(through, least))) / screen.callier


def _middle(aim: Aim) -> tuple[float, float, float]:
    """Blacks, gradient and mid-tone in the middle of an aim's windows."""
    lows, highs = aim.gradient_min or 1.0, aim.gradient_max or aim.gradient_min or 1.0
    return (aim.dmax_min or aim.midtone_density + 1.0), (lows + highs) / 2, aim.midtone_density


def _prices(eye: _Eye, aim: Aim, named: Aim, best: float) -> list[Price]:
    dmax, gradient, midtone = _middle(aim)
    other_dmax, other_gradient, other_midtone = _middle(named)
    found = []
    for window, name, mine, theirs, made in (
        ("midtone_density", "a mid-tone", midtone, other_midtone, (dmax, gradient, other_midtone)),
        ("gradient", "a gradient", gradient, other_gradient, (dmax, other_gradient, midtone)),
        ("dmax_min", "blacks", dmax, other_dmax, (other_dmax, gradient, midtone)),
    ):
        if made[2] >= made[0] or abs(mine - theirs) < GRAIN / 2:
            continue
        lost = best - eye.steps_of_scene(*made)
        gained = f"{-lost:.0f}"
        what = (
            f"costs {lost:.0f} of {best:.0f} visible steps"
            if lost >= 0.5
            else (
                f"shows {gained} step{'' if gained == '1' else 's'} more, at the price of how it looks"
                if lost <= -0.5
                else "costs no visible step"
            )
        )
        found.append(Price(window, f"{name} of {theirs:.2f} in place of {mine:.2f} {what}", max(lost, 0.0)))
    return found


def _round(value: float) -> float:
    return round(round(value / GRAIN) * GRAIN, 2)
