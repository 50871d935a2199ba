"""The process model: the curve of a strip from its controls, vectorised over draws and exposures.

Residual halide after the first development makes the image. A recipe sets five coordinates of the
curve, its `Settings`: the density of the black and of the lights, the place of the passage between
them, and its width toward the blacks (toe) and toward the lights (tail). With effective development
theta, y = ln(theta / 10 min), and what is not said held at the reference (index r):

    y        = ln(t / 10 min) + dilution ln(16 / (1 + n)) + alkali_activity A(alkali)
               + solvent_activity (solvent - solvent_r) / 10 + kappa (T - 20)
    A        = (r^shape - 1) / shape,  r = (alkali + 2) / (alkali_r + 2)
    load     = strength ((solvent + e alkali) / (solvent_r + e alkali_r))^order (t / 10 min) exp(kappa_s (T - 20))
    loss     = load^shape_s;   loss of the lights = (load (1 + selectivity))^shape_s
    ln black = ln blacks - 10 fog (exp y - 1) - (loss - loss_r)
    ln light = ln black - (theta / tau)^m - (loss of the lights - loss)
    place    = speed_point - push y
    toe      = spread exp(-steepen y);   tail = ratio * toe
    F(x)     = logistic(eta + knees),  eta = (s(x - place) - s0) / tail - (s(place - x) - s0) / toe
    D(x)     = base + stain + ghost blacks F + black (1 - F) + light F

s is a softened ramp, so that eta is straight with two slopes. `A` holds several laws of alkali at
once: shape 0 is a power law, 1 an exponential, -1 one that saturates; in the same way
`solvent_order` and `solvent_shape` run from saturating to steep laws of the solvent.

Completeness of the second development only scales `blacks` when it is the same for all strips, and
is then not told apart from it; where a strip's second development failed, that strip alone gets
a factor of its own (see `obverse.inference`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array
from obverse.model.parameters import INDEX, NAMES, natural
from obverse.process import ALKALI, DILUTION, SOLVENT, TEMPERATURE, TIME, ControlVector
from obverse.reference import number, record

# Pure water still holds the developer's own alkali, worth about this much of ours.
OWN_ALKALI_ML_PER_L = number("model.own_alkali_ml_per_l")
# The two slopes of the passage meet within about this much log exposure.
SOFTNESS = 0.15
# Coordinates of a curve, in the order of `Settings`, and the offset of the logarithm of the lights.
COORDINATES = ("ln_black", "ln_light", "place", "ln_toe", "ln_tail")
# Where each stands in an array of them.
BLACK, LIGHT, PLACE, TOE, TAIL = range(len(COORDINATES))
LIGHT_OFFSET = 0.05
# Where along eta a curve may bend beyond its two slopes, and how wide each bend is. As multiples of one distance, inner and
# outer, all four bends follow from two exponentials.
INNER, OUTER, APART = 2, 5, 0.9
KNEES = APART * np.array([-OUTER, -INNER, INNER, OUTER])
KNEE_WIDTH = 1.5
# Farther out along eta no bend is left in any digit.
_UNBENT = 18.0
# The response narrows by no more than this exponent, however long the first development is.
MOST_NARROWING = 1.5
# Exponents are held within these, so that absurd recipes keep finite curves: development a thousandfold either way, alkali
# fiftyfold, lights far beyond any silver, an image that is gone to the last grain, halide gone or developed to the last grain.
_MOST_LN_DEVELOPMENT, _MOST_LN_ALKALI, _MOST_LN_LIGHT, _LEAST_LN_IMAGE, _MOST_LN_GONE = 6.0, 4.0, 4.0, -12.0, 3.5
_MOST = 50.0
_LN_2 = math.log(2.0)


def by_coordinate(key: str) -> Array:
    """Numbers of a record that has one for each coordinate of a curve, shape (5,), in the order of `COORDINATES`."""
    known = record(key).value
    return np.array([known[name] for name in COORDINATES])


@dataclass(frozen=True, slots=True)
class Layers:
    """What a strip is made of, each of the broadcast shape.

    Parameters
    ----------
    density : array
        With base and stain.
    image : array
        Density of the reversed image alone.
    developed : array
        Fraction of the halide turned to silver in the first development, fog apart.
    """

    density: Array
    image: Array
    developed: Array


def settle(coordinates: Array, controls: Array, *, slopes: bool = False) -> tuple[Array, Array]:
    """Curve coordinates that the parameters give to recipes.

    Parameters
    ----------
    coordinates : (M, P) array
        Draws of the parameters in their coordinates.
    controls : (T, K) or (M, T, K) array
        Strips, in the order of `CONTROLS`.
    slopes : bool
        Also the derivatives by the parameters.

    Returns
    -------
    settings : (M, T, 5) array
        In the order of `COORDINATES`, above base.
    slopes : (M, T, 5, P) array
        Empty if not asked for.

    Settings stand in memory with the draws last: all that is reckoned of them goes draw by draw.
    """
    return settled(natural(coordinates), controls, slopes=slopes)


def settled(p: dict[str, Array], controls: Array, *, slopes: bool = False) -> tuple[Array, Array]:
    """As `settle`, from the parameters in their own units.

    Parameters
    ----------
    p : dict of (M,) array
        By the name of each parameter.
    controls : (T, K) or (M, T, K) array
        Strips, in the order of `CONTROLS`.
    slopes : bool
        Also the derivatives by the parameters in their coordinates.

    Returns
    -------
    settings : (M, T, 5) array
    slopes : (M, T, 5, P) array
        Empty if not asked for.
    """
    # Strips, draws; and one strip after the other.
    c = ControlVector(np.swapaxes(controls, 0, -2) if np.ndim(controls) > 2 else np.asarray(controls)[:, None])
    time = np.maximum(c[TIME], 1e-3)
    solvent, alkali, parts = (np.maximum(c[control], 0.0) for control in (SOLVENT, ALKALI, DILUTION))
    warmth = c[TEMPERATURE] - TEMPERATURE.quoted_at
    ln_time = np.log(time / TIME.quoted_at)

    shape = p["alkali_shape"]
    safe = np.where(np.abs(shape) < 1e-4, 1e-4, shape)
    ln_ratio = np.log((alkali + OWN_ALKALI_ML_PER_L) / (ALKALI.quoted_at + OWN_ALKALI_ML_PER_L))
    power = np.exp(np.clip(safe * ln_ratio, -_MOST, _MOST_LN_ALKALI))
    alkaline = (power - 1.0) / safe
    concentration = np.log((1.0 + DILUTION.quoted_at) / (1.0 + parts))
    above = (solvent - SOLVENT.quoted_at) / 10.0
    y = (
        ln_time
        + p["dilution_order"] * concentration
        + p["alkali_activity"] * alkaline
        + p["solvent_activity"] * above
        + p["temperature_rate"] * warmth
    )
    y = np.clip(y, -_MOST_LN_DEVELOPMENT, _MOST_LN_DEVELOPMENT)

    e = p["alkali_solvent"]
    amount, amount_ref = solvent + e * alkali, SOLVENT.quoted_at + e * ALKALI.quoted_at
    ln_amount = np.log(np.maximum(amount / amount_ref, 1e-6))
    ln_strength = np.log(p["solvent_strength"])
    ln_load = ln_strength + p["solvent_order"] * ln_amount + ln_time + p["solvent_temperature_rate"] * warmth
    order = p["solvent_shape"]
    ln_loss, ln_lost_ref = order * ln_load, order * ln_strength
    ln_lost_lights = order * (ln_load + np.log1p(p["solvent_selectivity"]))
    loss, lost_lights, lost_ref = (np.exp(np.minimum(v, _MOST_LN_GONE)) for v in (ln_loss, ln_lost_lights, ln_lost_ref))
    theta = np.exp(y)
    fog = 10.0 * p["fog_rate"]
    # Both ways: of four thousand films believed some fog without end, and less development then gives endless blacks.
    fogged = np.clip(fog * (theta - 1.0), -_MOST, _MOST)
    ln_dev = p["development_order"] * (np.log(10.0 / p["development_time"]) + y)
    dev = np.exp(np.minimum(ln_dev, _MOST_LN_GONE))

    ln_image = np.log(p["blacks"]) - fogged - (loss - lost_ref)
    ln_image = np.maximum(ln_image, _LEAST_LN_IMAGE)
    image = np.exp(ln_image)
    left = image * np.exp(-dev - (lost_lights - loss))
    black = image + p["stain"]
    light = left + p["stain"] + p["ghost"] * p["blacks"]
    narrowing = MOST_NARROWING * np.tanh(p["steepen"] * y / MOST_NARROWING)
    ln_toe = np.log(p["spread"]) - narrowing
    out = np.stack(
        [
            np.log(black),
            np.log(light + LIGHT_OFFSET),
            p["speed_point"] - p["push"] * y,
            ln_toe,
            ln_toe + np.log(p["tail_ratio"]),
        ]
    )
    if not slopes:
        return out.T, np.empty(0)

    # Derivatives by each parameter's own coordinate: ln for the positive ones.
    whole = np.zeros((*out.shape[::-1], len(NAMES)))
    d = whole.T
    dy = {
        "dilution_order": concentration + 0 * y,
        "alkali_activity": alkaline + 0 * y,
        "alkali_shape": p["alkali_activity"] * (power * ln_ratio - alkaline) / safe,
        "solvent_activity": above + 0 * y,
        "temperature_rate": warmth + 0 * y,
    }
    d_amount = e * (alkali / np.maximum(amount, 1e-9) - ALKALI.quoted_at / amount_ref)
    dload = {
        "solvent_strength": np.ones_like(ln_load),
        "solvent_order": p["solvent_order"] * ln_amount,
        "alkali_solvent": p["solvent_order"] * d_amount,
        "solvent_temperature_rate": warmth + 0 * ln_load,
    }
    black_share, left_share = image / black, left / (light + LIGHT_OFFSET)
    d_fog, d_dev, d_loss, d_lights = (
        fog * theta,
        p["development_order"] * dev,
        order * loss,
        order * lost_lights,
    )
    sech = 1.0 - (narrowing / MOST_NARROWING) ** 2
    for name, by in dy.items():
        i = INDEX[name]
        d[i, BLACK] = -black_share * d_fog * by
        d[i, LIGHT] = -left_share * (d_fog + d_dev) * by
        d[i, PLACE] = -p["push"] * by
        d[i, TOE] = d[i, TAIL] = -sech * p["steepen"] * by
    for name, by in dload.items():
        i = INDEX[name]
        d[i, BLACK] = -black_share * d_loss * by
        d[i, LIGHT] = -left_share * d_lights * by
    i = INDEX["solvent_strength"]
    d[i, BLACK] += black_share * order * lost_ref
    d[i, LIGHT] += left_share * order * lost_ref
    i = INDEX["solvent_shape"]
    d[i, BLACK] = -black_share * (loss * ln_loss - lost_ref * ln_lost_ref)
    d[i, LIGHT] = -left_share * (lost_lights * ln_lost_lights - lost_ref * ln_lost_ref)
    s = p["solvent_selectivity"]
    d[INDEX["solvent_selectivity"], LIGHT] = -left_share * d_lights * s / (1.0 + s)
    d[INDEX["blacks"], BLACK] = black_share
    d[INDEX["blacks"], LIGHT] = (left + p["ghost"] * p["blacks"]) / (light + LIGHT_OFFSET)
    d[INDEX["fog_rate"], BLACK] = -black_share * fogged
    d[INDEX["fog_rate"], LIGHT] = -left_share * fogged
    d[INDEX["development_time"], LIGHT] = left_share * d_dev
    d[INDEX["development_order"], LIGHT] = -left_share * dev * ln_dev
    d[INDEX["stain"], BLACK] = p["stain"] / black
    d[INDEX["stain"], LIGHT] = p["stain"] / (light + LIGHT_OFFSET)
    d[INDEX["ghost"], LIGHT] = p["ghost"] * p["blacks"] / (light + LIGHT_OFFSET)
    d[INDEX["speed_point"], PLACE] = 1.0
    d[INDEX["push"], PLACE] = -p["push"] * y
    d[INDEX["steepen"], TOE] = d[INDEX["steepen"], TAIL] = -sech * y
    d[INDEX["spread"], TOE:] = 1.0
    d[INDEX["tail_ratio"], TAIL] = 1.0
    return out.T, whole


def light_of(ln_light: Array) -> Array:
    """Density of the lights from its coordinate; never below zero, softly."""
    v = np.exp(np.minimum(ln_light, _MOST_LN_LIGHT)) - LIGHT_OFFSET
    return 0.5 * (v + np.sqrt(v * v + 1e-4))


def passage(settings: Array, knees: Array, log_exposure: Array) -> Array:
    """F: how far the curve has passed from black to light, 0 to 1.

    Parameters
    ----------
    settings : (..., 5) array
    knees : (..., 4) array
        Broadcastable to the leading shape of `settings`.
    log_exposure : (N,) or (..., N) array

    Returns
    -------
    (..., N) array
    """
    eta = slopes_of(settings, log_exposure)
    return logistic(eta + bends(eta, knees))


def logistic(eta: Array) -> Array:
    """1 / (1 + exp(-eta)); as a hyperbolic tangent it is quicker than the library's own, which takes longer to load than a strip to choose."""
    result: Array = 0.5 * np.tanh(0.5 * eta) + 0.5
    return result


def slopes_of(settings: Array, log_exposure: Array) -> Array:
    """eta: straight with two slopes, 0 at the place of the passage; shape (..., N)."""
    gap = log_exposure - settings[..., PLACE, None]
    return straight(gap, np.exp(-settings[..., TOE, None]), np.exp(-settings[..., TAIL, None]))


def straight(gap: Array, toe: Array, tail: Array) -> Array:
    """eta so far beyond the place of the passage, by the slopes of toe and tail."""
    rise = ramp(gap)
    result: Array = rise * tail - (rise - gap) * toe
    return result


def bends(eta: Array, knees: Array) -> Array:
    """What the knees add to eta of shape (..., N)."""
    return bend(eta, np.moveaxis(knees, -1, 0)[..., None])


def bend(eta: Array, knees: Array) -> Array:
    """What the knees, of shape (4, ...), add to eta."""
    outer_dark, inner_dark, inner_light, outer_light, _ = _each_bend(eta, knees)
    total: Array = outer_dark + inner_dark + inner_light + outer_light
    return total


def bend_and_slope(eta: Array, knees: Array) -> tuple[Array, Array]:
    """What the knees, of shape (4, ...), add to eta, and its derivative by eta."""
    outer_dark, inner_dark, inner_light, outer_light, near = _each_bend(eta, knees)
    total = outer_dark + inner_dark + inner_light + outer_light
    turned = (outer_light - outer_dark) * (OUTER * APART) + (inner_light - inner_dark) * (INNER * APART)
    return total, (turned - near * total) * KNEE_WIDTH**-2.0


def _each_bend(eta: Array, knees: Array) -> tuple[Array, Array, Array, Array, Array]:
    """The four bends at eta, from the darkest on, and eta where there still are bends."""
    # k exp(-(eta - at)^2 / 2 w^2), multiplied out: exponentials are nearly all the work of a curve.
    near = np.clip(eta, -_UNBENT, _UNBENT)
    shared = np.exp(near * near * (-0.5 * KNEE_WIDTH**-2.0))
    step = np.exp(near * (APART * KNEE_WIDTH**-2.0))
    inner = step * step
    outer = inner * inner * step
    by_inner, by_outer = (shared * math.exp(-0.5 * (far * APART / KNEE_WIDTH) ** 2) for far in (INNER, OUTER))
    return (
        knees[0] * (by_outer / outer),
        knees[1] * (by_inner / inner),
        knees[2] * (by_inner * inner),
        knees[3] * (by_outer * outer),
        near,
    )


def ramp(gap: Array) -> Array:
    """Softened ramp, zero at zero."""
    far = gap / SOFTNESS
    return _rise(far, np.exp(-np.abs(far)))


def ramp_and_slope(gap: Array) -> tuple[Array, Array]:
    """Softened ramp, zero at zero, and its slope, which is the logistic function of the gap."""
    far = gap / SOFTNESS
    small = np.exp(-np.abs(far))
    upper = 1.0 / (1.0 + small)
    return _rise(far, small), np.where(far >= 0, upper, small * upper)


def _rise(far: Array, small: Array) -> Array:
    """Of a gap in softnesses, and the exponential of how far it is from zero; quicker than the general functions, and as exact."""
    rise: Array = SOFTNESS * (np.maximum(far, 0.0) + np.log(1.0 + small) - _LN_2)
    return rise


def read_curve(settings: Array, knees: Array, log_exposure: Array) -> Array:
    """Density above base, shape (..., N)."""
    black, light = np.exp(settings[..., BLACK, None]), light_of(settings[..., LIGHT, None])
    return black + (light - black) * passage(settings, knees, log_exposure)


def layers(coordinates: ArrayLike, controls: ArrayLike, log_exposure: ArrayLike) -> Layers:
    """Evaluate the process model.

    Parameters
    ----------
    coordinates : (M, P) array
        Draws of the parameters in their coordinates.
    controls : (T, K) or (M, T, K) array
        Strips, in the order of `CONTROLS`.
    log_exposure : (N,), (T, N) or (M, T, N) array

    Returns
    -------
    Layers
        Arrays of shape (M, T, N).
    """
    z = np.atleast_2d(np.asarray(coordinates, dtype=float))
    settings, _ = settle(z, np.asarray(controls, dtype=float))
    p = {name: value[:, None, None] for name, value in natural(z).items()}
    passed = passage(settings, np.zeros(len(KNEES)), np.asarray(log_exposure, dtype=float))
    black = np.exp(settings[..., BLACK, None]) - p["stain"]
    ghost = p["ghost"] * p["blacks"]
    left = np.maximum(np.exp(settings[..., LIGHT, None]) - LIGHT_OFFSET - p["stain"] - ghost, 0.0)
    image = black + (left - black) * passed
    density = image + ghost * passed + p["stain"] + p["base"]
    complete = 1.0 - left / np.maximum(black, 1e-12)
    return Layers(density, image, np.clip(complete, 0.0, 1.0) * passed)


def density(coordinates: ArrayLike, controls: ArrayLike, log_exposure: ArrayLike) -> Array:
    """Density with base, shape (M, T, N); see `layers`."""
    return layers(coordinates, controls, log_exposure).density
