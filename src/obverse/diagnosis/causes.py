"""Which cause made a strip look so: a comparison of hypotheses on the process model.

Each hypothesis is the film's law with one thing gone wrong; its evidence is Laplace's, about the
unknowns that explain the readings best. Unknown are the film, as far as its other strips leave it
open, and how this strip was truly made: its controls and its exposure with the usual errors. Readings
carry their own noise, an offset, and a smooth departure of a strip from any law, so a fault must be
larger than what strips do by themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from obverse.diagnosis.colour import Colour
from obverse.foundation import Array, InputError
from obverse.model import BASE_READ_SD, INDEX, LEAST_BASE, NAMES, PRIOR_MEAN, PRIOR_SD, layers, with_activity
from obverse.process import CONTROLS, TIME, ControlVector
from obverse.reference import number, record

# What a strip departs from its law by, and how smoothly (in log exposure); the zero of a light panel.
DEPARTURE, REACH = number("diagnosis.departure"), number("diagnosis.departure_reach")
FLOOR = number("diagnosis.departure_floor")
OFFSET, ROUGH = number("diagnosis.panel_zero_sd"), number("diagnosis.rough_sd")
# Rounds of damped least squares to the best explanation; each tries these times its damping, none moves further than this
# along any unknown, and a round that gains nothing damps so many times as much.
STEPS = 20
# Of a standardised unknown, for the slopes.
STEP = 1e-4
DAMPINGS = (0.05, 1.0, 20.0)
LONGEST_MOVE, DAMPED_MORE = 1.5, 20
# Of a measured base no less than this bounds the doubt.
LEAST_BASE_OF_DOUBT = 0.02
# A cause is told from this probability on. Of a film never seen more is asked: what it does by itself is only our guess.
TOLD, TOLD_OF_UNKNOWN = number("diagnosis.told_from"), number("diagnosis.told_from_of_unknown_film")
# Controls that are not known move the strip: development by a factor, dissolution by another.
UNKNOWN_DEVELOPMENT, UNKNOWN_DISSOLUTION = (
    number("diagnosis.unknown_development"),
    number("diagnosis.unknown_dissolution"),
)
# Below so many draws of a film it counts as not known.
FEWEST_DRAWS = 4
# Densities under this above the base hardly tell how a law departs from the process model.
THIN = 0.15
# No first development is shorter, whatever the errors of a clock.
SHORTEST_MIN = 0.2


@dataclass(frozen=True)
class KnownFilm:
    """A film as its other strips have taught it.

    Parameters
    ----------
    draws : (M, U) array
        Draws of its unknowns, the parameters of the process model first.
    density : callable, optional
        Its law: from unknowns (K, U), controls (K, 1, 5) and log exposures (K, 1, N) to densities with
        base (K, 1, N). The process model where not given.
    """

    draws: Array
    density: Callable[[Array, Array, Array], Array] | None = None


@dataclass(frozen=True)
class Hypothesis:
    """One explanation of a strip.

    Parameters
    ----------
    fault : str
        Empty for a sound strip.
    odds : float
        Before the strip is seen; our judgement of how often it is so where somebody asks.
    parameters : dict
        Model parameters whose belief it replaces: (mean, sd) in the coordinate.
    part : tuple or None
        Mean and sd of the logit of the part of the image that came out.
    shift : tuple or None
        Mean and sd of a shift of log exposure.
    """

    fault: str
    odds: float
    parameters: dict[str, tuple[float, float]] = field(default_factory=dict)
    part: tuple[float, float] | None = None
    shift: tuple[float, float] | None = None


def _odds(cause: str) -> float:
    return number(f"diagnosis.cause.{cause}.odds")


def _belief(what: str) -> tuple[float, float]:
    """Mean and doubt of what a cause does, as its record has them."""
    known = record(f"diagnosis.cause.{what}")
    return known.number, known.sd


def _log_belief(what: str) -> tuple[float, float]:
    """The same of a logarithm."""
    known = record(f"diagnosis.cause.{what}")
    return float(np.log(known.number)), known.log_sd


HYPOTHESES = (
    Hypothesis("", _odds("none")),
    Hypothesis("ghost_negative", _odds("ghost_negative"), {"ghost": _log_belief("ghost_negative.ghost")}),
    Hypothesis(
        "incomplete_second_development",
        _odds("incomplete_second_development"),
        part=_belief("incomplete_second_development.part"),
    ),
    Hypothesis("stain", _odds("stain"), {"stain": _log_belief("stain.stain")}),
    Hypothesis("underexposed", _odds("underexposed"), shift=_belief("underexposed.shift")),
    Hypothesis("overexposed", _odds("overexposed"), shift=_belief("overexposed.shift")),
)


def told_of(chances: dict[str, float], film: KnownFilm | None) -> str | None:
    """The cause that is told of a strip; empty where none is, None for "cannot tell".

    Parameters
    ----------
    chances : dict
        As `compare` gives them.
    film : KnownFilm or None
        Of a film never seen, more is asked before a cause is told, and before a strip is called unlike what films do.
    """
    enough = TOLD if film is not None else TOLD_OF_UNKNOWN
    likeliest = max((fault for fault in chances if fault), key=chances.__getitem__)
    if chances[likeliest] >= enough:
        return likeliest
    return None if chances[""] < 1 - enough else ""


def beliefs(film: KnownFilm | None, controls_known: bool) -> tuple[Array, Array]:
    """Mean (U,) and covariance (U, U) of the film's unknowns before this strip.

    Parameters
    ----------
    film : KnownFilm or None
        None where nothing is known of it.
    """
    if film is None:
        mean, covariance = PRIOR_MEAN.copy(), np.diag(PRIOR_SD**2)
    else:
        mean, covariance = film.draws.mean(axis=0), np.cov(film.draws.T)
    if not controls_known:
        for name, more in (("development_time", UNKNOWN_DEVELOPMENT), ("solvent_strength", UNKNOWN_DISSOLUTION)):
            covariance[INDEX[name], INDEX[name]] += more**2
    return mean, covariance


def compare(
    x: Array,
    d: Array,
    sd: Array,
    *,
    base_density: float | None = None,
    controls: dict[str, float] | None = None,
    control_sds: dict[str, float] | None = None,
    film: KnownFilm | None = None,
    colour: Colour | None = None,
) -> dict[str, float]:
    """Probability of each hypothesis, by fault ("" is sound).

    Parameters
    ----------
    x, d, sd : (N,) arrays
        Log exposure, density with base, standard uncertainty.
    controls, control_sds : dict, optional
        What was done, where known, and how well; usual errors where not stated.
    film : KnownFilm, optional
        Without it a shifted exposure cannot be told from a faster film, and is not looked for.
    colour : Colour, optional
        Of the strip, where a colour picture was read.

    Raises
    ------
    InputError
        For a control the model does not know.
    """
    if film is not None and len(film.draws) < FEWEST_DRAWS:
        film = None
    mean, covariance = beliefs(film, controls is not None)
    if base_density is not None:
        _replace(
            mean,
            covariance,
            "base",
            np.log(max(base_density, LEAST_BASE)),
            BASE_READ_SD / max(base_density, LEAST_BASE_OF_DOUBT),
        )
    amplitude = DEPARTURE * (FLOOR + np.maximum(d - d.min(), 0))
    smooth = np.exp(-0.5 * ((x[:, None] - x[None]) / REACH) ** 2) * amplitude[:, None] * amplitude[None]
    noise = smooth + OFFSET**2 + np.diag(sd**2 + ROUGH**2)
    whiten = np.linalg.inv(np.linalg.cholesky(noise))
    law = _law_of(film)
    made = _Making(
        ControlVector.of(controls or {}).values,
        _control_sd(controls or {}, control_sds or {}),
        number("notebook.strip_sd.log_exposure"),
    )
    tried = [h for h in HYPOTHESES if film is not None or h.shift is None]
    logs = []
    for h in tried:
        evidence, stain = _log_evidence(h, mean, covariance, law, made, x, d, whiten)
        logs.append(np.log(h.odds) + evidence + (colour.log_chance(stain) if colour is not None else 0.0))
    shares = np.exp(np.array(logs) - max(logs))
    shares /= shares.sum()
    return {h.fault: float(share) for h, share in zip(tried, shares, strict=True)}


@dataclass(frozen=True)
class _Making:
    """What was done to the strip, and how well it is known."""

    controls: Array
    sd: Array
    exposure_sd: float


def _control_sd(controls: dict[str, float], stated: dict[str, float]) -> Array:
    """Standard uncertainties of the controls, the unexplained spread of activity counted as time."""
    if problem := CONTROLS.problem_with_names(stated):
        raise InputError(problem, where="control_sds", remedy="name one of them")
    done = ControlVector.of(controls)
    sd = ControlVector(done.dosing_sd())
    for name, value in stated.items():
        sd[CONTROLS[name]] = value
    return with_activity(done.values, sd.values)


# From unknowns (K, U), controls, exposures and the parts of the image that came out (K,), None for all of it, to densities (K, N).
_PartLaw = Callable[[Array, Array, Array, "Array | None"], Array]


def _law_of(film: KnownFilm | None) -> _PartLaw:
    """The film's law with a part of its image."""

    def density(unknowns: Array, controls: Array, x: Array, part: Array | None) -> Array:
        if part is None and film is not None and film.density is not None:
            return film.density(unknowns, controls, x)[:, 0]
        seen = layers(unknowns[:, : len(NAMES)], controls, x)
        if part is None:
            return seen.density[:, 0]
        lost = (1 - part[:, None]) * seen.image[:, 0]
        if film is None or film.density is None:
            return seen.density[:, 0] - lost
        # A law departs from the process model in proportion to density; so does what is lost of the image.
        base = np.exp(unknowns[:, INDEX["base"]])[:, None]
        whole = film.density(unknowns, controls, x)[:, 0]
        above = seen.density[:, 0] - base + THIN
        return whole - lost * (whole - base + THIN) / above

    return density


def _replace(mean: Array, covariance: Array, name: str, centre: float, spread: float) -> None:
    """Believe this of one parameter, whatever was believed before."""
    i = INDEX[name]
    mean[i] = centre
    covariance[i, :] = covariance[:, i] = 0.0
    covariance[i, i] = spread**2


def _log_evidence(
    h: Hypothesis,
    mean: Array,
    covariance: Array,
    law: _PartLaw,
    made: _Making,
    x: Array,
    d: Array,
    whiten: Array,
) -> tuple[float, float]:
    """Logarithm of Laplace's evidence, and the even density (stain) at the best explanation."""
    mean, covariance = mean.copy(), covariance.copy()
    for name, (centre, spread) in h.parameters.items():
        _replace(mean, covariance, name, centre, spread)
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(mean.size))
    film, controls = mean.size, mean.size + len(CONTROLS)
    own = h.part or h.shift
    size = controls + 1 + (1 if own else 0)

    def misfit(z: Array, unknowns: Array) -> Array:
        """Whitened misfit (K, N) at standardised unknowns (K, U): the film's, the making's, the fault's own."""
        extra = own[0] + own[1] * z[:, -1] if own else np.zeros(len(z))
        done = ControlVector(np.maximum(made.controls + z[:, None, film:controls] * made.sd, 0.0))
        done[TIME] = np.maximum(done[TIME], SHORTEST_MIN)
        exposure = x + (made.exposure_sd * z[:, controls] + (extra if h.shift else 0.0))[:, None, None]
        part = 1 / (1 + np.exp(-extra)) if h.part else None
        result: Array = (d - law(unknowns, done.values, exposure, part)) @ whiten.T
        return result

    def residuals(z: Array) -> Array:
        return misfit(z, mean + z[:, :film] @ root.T)

    def linear(z: Array) -> tuple[Array, Array]:
        """Residuals (N,) and their Jacobian (N, U) at z (U,)."""
        unknowns = np.tile(mean + root @ z[:film], (size + 1, 1))
        # A step along one unknown moves the film by one column of the root; multiplying all of them out took a third of the time.
        unknowns[1 : film + 1] += STEP * root.T
        batch = misfit(np.concatenate([z[None], z + STEP * np.eye(size)]), unknowns)
        return batch[0], (batch[1:] - batch[0]).T / STEP

    z = _best(residuals, linear, size)
    r, jacobian = linear(z)
    # The patches are fewer than the unknowns: the same determinant, and in `_best` the same moves, from the smaller matrix.
    _, log_det = np.linalg.slogdet(jacobian @ jacobian.T + np.eye(r.size))
    stain = float(np.exp((mean + root @ z[:film])[INDEX["stain"]]))
    return float(-0.5 * (r @ r + z @ z + log_det)), stain


def _move(jacobian: Array, r: Array, z: Array, damping: float) -> Array:
    """Solution of (J'J + I + damping diag(J'J + I)) move = J'r + z, through a matrix of the size of the residuals (Woodbury)."""
    damped = 1 + damping * (1 + (jacobian**2).sum(axis=0))
    gradient = jacobian.T @ r + z
    scaled = jacobian / damped
    inner = np.eye(r.size) + scaled @ jacobian.T
    move: Array = gradient / damped - scaled.T @ np.linalg.solve(inner, scaled @ gradient)
    return move


def _best(residuals: Callable[[Array], Array], linear: Callable[[Array], tuple[Array, Array]], size: int) -> Array:
    """Standardised unknowns (U,) that explain best: damped least squares from the centre of belief."""
    z, damping = np.zeros(size), 1e-2
    for _ in range(STEPS):
        r, jacobian = linear(z)
        value = r @ r + z @ z
        moves = np.array([_move(jacobian, r, z, k * damping) for k in DAMPINGS])
        candidates = z - np.clip(moves, -LONGEST_MOVE, LONGEST_MOVE)
        values = (residuals(candidates) ** 2).sum(axis=1) + (candidates**2).sum(axis=1)
        best = int(np.argmin(values))
        gain = value - values[best]
        if gain > 0:
            z = candidates[best]
        if gain > 1e-3:
            damping = max(damping * DAMPINGS[best], 1e-6)
        elif gain > 0 or damping > 1e3:
            break
        else:
            damping *= DAMPED_MORE
    return z
