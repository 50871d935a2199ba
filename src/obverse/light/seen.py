"""What a photograph of a grey scale on the wall says of projector, screen and room.

Each tone of a slide whose densities are known lies on the wall with the light

    gate x fall-off(place) x 10^-(base + Q silver) + gate x black

and the photograph knows it up to one factor. The Callier factor Q bends the scale in the middle, the black
lifts its dark end, the fall-off goes with the place and not with the tone: one least-squares fit parts them, with
what is usual (records) as the beginning of every unknown, so that a scale which says nothing changes nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from obverse.foundation import Z90, Array, Estimate, InputError
from obverse.light.screen import MEAN_SQUARE, out_of_middle
from obverse.reference import number, record

# Fewer tones than this cannot part a factor, a Callier factor and a black.
FEWEST_TONES = 5
# The order of the unknowns: log10 of the gate, Callier factor and its change with density, ln of the black, fall-off
# to the corners as a density, and slopes of the light across and down.
GATE, CALLIER, BEND, BLACK, CORNER, ACROSS, DOWN = range(7)
# The factor of the photograph is free: so many powers of ten are no knowledge.
FREE = 3.0
# A scale of tones tells the Callier factor where silver is one density: where a mid-tone lies.
AT_DENSITY = 1.0


@dataclass(frozen=True, slots=True)
class Tone:
    """One patch of the scale, known on the slide and seen on the wall.

    Parameters
    ----------
    density, density_sd : float
        Above base, as a densitometer reads it, and its standard uncertainty.
    signal, signal_sd : float
        Linear light in the photograph, any unit.
    across, down : float
        Place in the picture, each from -1 to 1.
    """

    density: float
    density_sd: float
    signal: float
    signal_sd: float
    across: float = 0.0
    down: float = 0.0


@dataclass(frozen=True, slots=True)
class Believed:
    """What is believed of projector, screen and room before the photograph; standard uncertainties beside.

    Parameters
    ----------
    black_share : float
        Luminance of a black spot over that of the open gate.
    black_factor : float
        By how large a factor that may be off (one standard deviation), above 1.
    """

    callier: float
    callier_sd: float
    black_share: float
    black_factor: float


@dataclass(frozen=True, slots=True)
class WallSeen:
    """What the fit says. See `fit_wall`.

    Parameters
    ----------
    callier : Estimate
        At a silver density of 1.
    callier_bend : Estimate
        Its change for each density more.
    black_share : Estimate
        Over the open gate, the camera's own glare in it.
    corner_light : Estimate
        Light of the open gate at the corners over that of the middle; lamp, lens, screen and camera together.
    gate_signal : Estimate
        The open gate in the unit of the photograph, mean over the picture.
    fitted : (N,) array
        Signals that the fit expects.
    off_sd : (N,) array
        How far each tone lies off, in its own standard uncertainties; positive where it was seen lighter.
    misfit : float
        Root mean square of that; about 1 where the scale is explained.
    """

    callier: Estimate
    callier_bend: Estimate
    black_share: Estimate
    corner_light: Estimate
    gate_signal: Estimate
    fitted: Array
    off_sd: Array
    misfit: float


def fit_wall(tones: list[Tone], believed: Believed, *, base_density: float, aspect: float) -> WallSeen:
    """Part stray light, Callier factor and fall-off of a grey scale on the wall.

    Parameters
    ----------
    tones : list of Tone
        Five or more; tones of one place only say nothing of the fall-off.
    base_density : float
        Of the slide's film; on the wall as it is on the densitometer, since a base scatters little.
    aspect : float
        Width over height of the picture on the wall.

    Raises
    ------
    InputError
        For too few tones, or a signal that is no light.
    """
    if len(tones) < FEWEST_TONES:
        raise InputError(
            f"{len(tones)} tones cannot part stray light from the Callier factor",
            where="grey scale",
            remedy=f"give {FEWEST_TONES} or more",
        )
    silver, silver_sd, signal, signal_sd, across, down = np.array(
        [(t.density, t.density_sd, t.signal, t.signal_sd, t.across, t.down) for t in tones], dtype=np.float64
    ).T
    if not np.all(np.isfinite(signal)) or np.any(signal <= 0):
        raise InputError(
            "a patch shows no light at all",
            where="photograph of the wall",
            remedy="expose longer, so that the darkest patch is above black",
        )
    radius = out_of_middle(across, down, aspect) ** 2 - MEAN_SQUARE
    log_signal = np.log10(signal)
    noise = np.hypot(signal_sd / signal / math.log(10), number("wall.seen_unevenness"))
    uneven = number("wall.stray_unevenness") / math.log(10)
    mean, sd = _usual(believed)
    mean[GATE] = float(np.max(log_signal)) + base_density

    def lights(unknowns: Array) -> tuple[Array, Array]:
        specular = unknowns[CALLIER] * silver + unknowns[BEND] * silver * (silver - AT_DENSITY)
        fall = -unknowns[CORNER] * radius + unknowns[ACROSS] * across + unknowns[DOWN] * down
        through = 10.0 ** (fall - base_density - specular)
        return through, through + math.exp(unknowns[BLACK])

    def residuals(unknowns: Array) -> Array:
        through, all_light = lights(unknowns)
        # A density read wrongly counts as far as the picture, and not the black, makes the tone.
        share = through / all_light
        spread = np.sqrt(noise**2 + (unknowns[CALLIER] * silver_sd * share) ** 2 + (uneven * (1 - share)) ** 2)
        off = (log_signal - unknowns[GATE] - np.log10(all_light)) / spread
        return np.concatenate([off, (unknowns - mean) / sd])

    # One dirty patch must not bend the scale: past two standard uncertainties it pulls no harder.
    found = least_squares(residuals, mean, x_scale=sd, loss="soft_l1", f_scale=2.0)
    off = residuals(found.x)[: silver.size]
    own = float(np.sqrt(np.mean(off**2)))
    jac = np.asarray(found.jac, dtype=np.float64)
    covariance = np.linalg.inv(jac.T @ jac) * max(1.0, own) ** 2
    wide = np.sqrt(np.diag(covariance)).tolist()
    _, all_light = lights(found.x)
    best: list[float] = found.x.tolist()
    gate, black, corner = 10.0 ** best[GATE], math.exp(best[BLACK]), 10.0 ** -best[CORNER]
    return WallSeen(
        callier=Estimate(best[CALLIER], wide[CALLIER]),
        callier_bend=Estimate(best[BEND], wide[BEND]),
        black_share=_factor(black, wide[BLACK]),
        corner_light=_factor(corner, wide[CORNER] * math.log(10)),
        gate_signal=_factor(gate, wide[GATE] * math.log(10)),
        fitted=gate * all_light,
        off_sd=off,
        misfit=own,
    )


def _usual(believed: Believed) -> tuple[Array, Array]:
    """What is believed of each unknown, and how firmly."""
    mean, sd = np.zeros(DOWN + 1), np.ones(DOWN + 1)
    sd[GATE] = FREE
    mean[CALLIER], sd[CALLIER] = believed.callier, believed.callier_sd
    mean[BEND], sd[BEND] = record("wall.callier_bend").value
    mean[BLACK], sd[BLACK] = math.log(believed.black_share), math.log(believed.black_factor)
    mean[CORNER], sd[CORNER] = record("wall.seen_corner").value
    sd[ACROSS] = sd[DOWN] = number("wall.seen_slope")
    return mean, sd


def _factor(value: float, relative_sd: float) -> Estimate:
    """An estimate that is known by a factor."""
    reach = math.exp(Z90 * relative_sd)
    return Estimate(value, value * relative_sd, value / reach, value * reach)
