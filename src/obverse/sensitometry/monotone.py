"""A falling, smooth curve from readings: the family, its fit, and its uncertainty.

The curve is density(x) = floor + range * (share of the fall that lies above x). The share is the
integral of exp(u), and u, the logarithm of the slope, is that of a skewed logistic with tails that
may bend (the response one uniform emulsion gives) plus a smooth Gaussian-process departure. So
every member falls and is smooth; three readings lean on the family, two thousand overrule it. The
fit is the posterior mode (damped Gauss-Newton); draws start from Laplace's normal law and are
brought to the posterior by a short chain, over several strengths of the departure by their
evidence; readings far out lose their weight (a redescending influence); the noise scale is learned
from the residuals where there are enough of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from obverse.foundation import Array

# Finer than any reading is told apart in log exposure.
GRID_STEP = 0.04
# Log exposure past the last readings over which the curve may still run out.
MARGIN = 1.5
# Correlation length of the departure: two emulsion layers a stop apart are still told apart.
LENGTH = 0.45
# Strength of the departure (sd of the log slope) and what we believe of each beforehand.
STRENGTHS = ((0.03, 0.25), (0.15, 0.3), (0.5, 0.3), (1.3, 0.15))
# Most of the fall past the last reading that is believed, against what the shape says.
TAIL_SHARE = 1.6
# Steps of the chain, its aim of acceptance and the least and longest stride that it adapts between.
CHAIN_STEPS = 8
ACCEPTANCE = 0.35
STRIDES = (0.05, 0.95)
SHAPE = 6  # floor, log range, place, log width, log skew, log bend of the tails
# How firmly a stated and an assumed noise are believed, as a number of readings.
STATED_FIRMNESS = 20.0
ASSUMED_FIRMNESS = 5.0
# Parameters of the shape: broad, in the units of films. A floor is base plus what stayed in the highlights; a range of 2
# within a factor 2; a width that gives the range 2 a slope near 1.5; tails that may bend a little. The place is anywhere
# among the readings and beyond.
PRIOR_FLOOR, PRIOR_RANGE, PRIOR_WIDTH, PRIOR_BEND = 0.25, 2.0, 0.33, 0.06
PRIOR_SD_FLOOR, PRIOR_SD_RANGE, PRIOR_SD_PLACE, PRIOR_SD_WIDTH, PRIOR_SD_SKEW, PRIOR_SD_BEND = (
    0.3,
    0.7,
    0.6,
    0.45,
    0.6,
    1.5,
)
# Nodes of the departure, closer than its length; at least four.
NODE_STEP = 0.3
FEWEST_NODES = 4
# A strip flatter than this says nothing of where to begin.
FLAT = 0.15
# No density reads finer than this, whatever is stated.
FINEST_SD = 0.002
# Draws, enough that the ends of the 90 % interval move by less than a tenth of their width.
DRAWS = 320
# Past three sigma a reading loses its weight.
FAR_SIGMA = 3.0
# More readings than this are worth a rough first look with a wide noise.
ROUGH_FROM = 12
# Damped Newton steps, tries of one, and by what the damping grows and shrinks.
MOST_STEPS, MOST_TRIES = 40, 8
DAMPING_UP, DAMPING_DOWN = 6.0, 5.0
# The noise may change by this factor in one step.
NOISE_STEP = 3.0
# Beyond this an exponential is 0 or infinite in double precision.
OVERFLOW = 500.0
# E[w z^2] of the influence below for a normal z, found by numerical integration.
_Z = np.linspace(-8, 8, 4001)
_INFLUENCE_VARIANCE = float(
    np.trapezoid(_Z**2 / (1 + (_Z / FAR_SIGMA) ** 4) * np.exp(-(_Z**2) / 2) / np.sqrt(2 * np.pi), _Z)
)


@dataclass(frozen=True, slots=True)
class MonotoneFit:
    """Draws of the curve on a grid.

    Parameters
    ----------
    grid : (G,) array
        Log exposure, rising.
    draws : (M, G) array
        Densities; each row falls.
    best : (G,) array
        Mean of the draws.
    weights : (N,) array
        What each reading counted, 0 to 1.
    noise : (N,) array
        Standard uncertainty of each reading as it was used.
    """

    grid: Array
    draws: Array
    best: Array
    weights: Array
    noise: Array


class _Problem:
    """One set of readings: grid, basis, priors."""

    def __init__(self, x: Array, d: Array, sd: Array, x_sd: Array):
        self.x, self.d, self.sd, self.x_sd = x, d, sd, x_sd
        low, high = x.min() - MARGIN, x.max() + MARGIN
        count = int(np.ceil((high - low) / GRID_STEP)) + 1
        self.grid = np.linspace(low, high, count)
        self.step = self.grid[1] - self.grid[0]
        nodes = np.linspace(low, high, max(FEWEST_NODES, int(np.ceil((high - low) / NODE_STEP)) + 1))
        kernel = np.exp(-0.5 * ((nodes[:, None] - nodes[None]) / LENGTH) ** 2) + 1e-6 * np.eye(nodes.size)
        cross = np.exp(-0.5 * ((self.grid[:, None] - nodes[None]) / LENGTH) ** 2)
        self.basis: Array = np.linalg.solve(np.linalg.cholesky(kernel), cross.T).T  # (G, K)
        position = np.clip((x - low) / self.step, 0, count - 1 - 1e-9)
        self.left = position.astype(int)
        self.part = position - self.left
        span = x.max() - x.min()
        middle = 0.5 * (x.max() + x.min())
        self.prior_mean = np.array(
            [PRIOR_FLOOR, np.log(PRIOR_RANGE), middle, np.log(PRIOR_WIDTH), 0.0, np.log(PRIOR_BEND)]
        )
        self.prior_sd = np.array(
            [PRIOR_SD_FLOOR, PRIOR_SD_RANGE, PRIOR_SD_PLACE + 0.5 * span, PRIOR_SD_WIDTH, PRIOR_SD_SKEW, PRIOR_SD_BEND]
        )

    def start(self) -> Array:
        order = np.argsort(self.x)
        x, d = self.x[order], self.d[order]
        ends = max(1, x.size // 8)
        high, low = np.median(d[:ends]), np.median(d[-ends:])
        theta = np.concatenate([self.prior_mean, np.zeros(self.basis.shape[1])])
        if high - low > FLAT and x.size > 2:
            middle = (high + low) / 2
            theta[0] = max(low, GRID_STEP / 2)
            theta[1] = np.log(high - low)
            theta[2] = x[np.argmin(np.abs(d - middle))]
        return theta

    def log_slope(self, theta: Array, strength: float) -> tuple[Array, Array]:
        """Logarithm of the slope's shape on the grid, (..., G), and the scaled place z."""
        place, width, skew = theta[..., 2:3], np.exp(theta[..., 3:4]), np.exp(theta[..., 4:5])
        z = (self.grid - place) / width
        bend = np.exp(theta[..., 5:6])
        return skew * z - (skew + 1) * np.logaddexp(0, z) - 0.5 * bend * z**2 + strength * theta[
            ..., SHAPE:
        ] @ self.basis.T, z

    def fall(self, theta: Array, strength: float) -> tuple[Array, Array]:
        """Densities on the grid, (..., G), and the normalised slope."""
        u, _ = self.log_slope(theta, strength)
        p = np.exp(u - u.max(axis=-1, keepdims=True))
        steps = 0.5 * (p[..., 1:] + p[..., :-1])
        total = steps.sum(axis=-1, keepdims=True)
        below = np.concatenate([np.zeros((*p.shape[:-1], 1)), np.cumsum(steps, axis=-1)], axis=-1) / total
        return theta[..., 0:1] + np.exp(theta[..., 1:2]) * (1 - below), p / total

    def curve_and_jacobian(self, theta: Array, strength: float) -> tuple[Array, Array]:
        """Densities at the readings (N,) and their derivatives (N, P)."""
        grid_density, p = self.fall(theta, strength)
        reach = np.exp(theta[1])
        width, skew = np.exp(theta[3]), np.exp(theta[4])
        z = (self.grid - theta[2]) / width
        lift = 1 / (1 + np.exp(-np.clip(z, -OVERFLOW, OVERFLOW)))
        bend = np.exp(theta[5])
        du_dz = skew - (skew + 1) * lift - bend * z
        du = np.column_stack(
            [-du_dz / width, -du_dz * z, skew * (z - np.logaddexp(0, z)), -0.5 * bend * z**2, strength * self.basis]
        )  # place, log width, log skew, log bend, departure
        flow = p[:, None] * du
        below = np.vstack([np.zeros(flow.shape[1]), np.cumsum(0.5 * (flow[1:] + flow[:-1]), axis=0)])
        share_below = 1 - (grid_density - theta[0]) / reach
        d_below = below - share_below[:, None] * below[-1]
        full = np.column_stack([np.ones_like(p), grid_density - theta[0], -reach * d_below])
        return self.at_readings(grid_density), self.at_readings(full)

    def uncertainty(self, theta: Array, strength: float) -> Array:
        """Standard uncertainty of each density (N,), its own and that of its exposure times the slope there.

        The effective-variance treatment of errors in both axes (J. Orear, Am. J. Phys. 50, 912, 1982).
        """
        if not self.x_sd.any():
            return self.sd
        _, p = self.fall(theta, strength)
        result: Array = np.hypot(self.sd, self.x_sd * np.exp(theta[1]) * self.at_readings(p) / self.step)
        return result

    def at_readings(self, on_grid: Array) -> Array:
        part = self.part if on_grid.ndim == 1 else self.part[:, None]
        result: Array = on_grid[self.left] * (1 - part) + on_grid[self.left + 1] * part
        return result


@dataclass(slots=True)
class _Mode:
    theta: Array
    root: Array  # upper Cholesky factor of the posterior precision
    scale: float
    freedom: float
    weights: Array
    sd: Array  # of each reading, that of its exposure included, before the common factor
    log_evidence: float


def _influence(r: Array) -> Array:
    return 1 / (1 + (r / FAR_SIGMA) ** 4)


def _mode(problem: _Problem, strength: float, theta: Array, scale: float, firmness: float) -> _Mode:
    """Posterior mode at one strength of departure, the noise scale found along the way."""
    precision = np.concatenate([problem.prior_sd**-2, np.ones(theta.size - SHAPE)])
    mean = np.concatenate([problem.prior_mean, np.zeros(theta.size - SHAPE)])
    damping = 1e-3

    def cost(at: Array, weights: Array, noise: Array) -> float:
        r = (problem.d - problem.at_readings(problem.fall(at, strength)[0])) / noise
        return float(np.sum(weights * r**2) + np.sum(precision * (at - mean) ** 2))

    for _ in range(MOST_STEPS):
        sd = problem.uncertainty(theta, strength)
        noise = scale * sd
        curve, jacobian = problem.curve_and_jacobian(theta, strength)
        residual = problem.d - curve
        weights = _influence(residual / noise)
        scaled = jacobian * (weights / noise**2)[:, None]
        hessian = jacobian.T @ scaled + np.diag(precision)
        gradient = scaled.T @ residual - precision * (theta - mean)
        now = cost(theta, weights, noise)
        moved = 0.0
        for _ in range(MOST_TRIES):
            step = np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), gradient)
            step[1:SHAPE] = np.clip(step[1:SHAPE], -1.0, 1.0)
            if cost(theta + step, weights, noise) <= now + 1e-9:
                theta, damping = theta + step, max(damping / DAMPING_DOWN, 1e-7)
                moved = float(np.max(np.abs(step)))
                break
            damping *= DAMPING_UP
        # The noise: stated uncertainty counts as so many readings, residuals as theirs.
        curve = problem.at_readings(problem.fall(theta, strength)[0])
        r = (problem.d - curve) / sd
        w = _influence(r / scale)
        used = np.trace(np.linalg.solve(hessian, jacobian.T @ scaled))
        free = max(w.sum() - used, 0.0)
        wanted = np.sqrt((firmness + np.sum(w * r**2) / _INFLUENCE_VARIANCE) / (firmness + free))
        wanted = float(np.clip(wanted, scale / NOISE_STEP, NOISE_STEP * scale))
        settled = abs(np.log(wanted / scale)) < 1e-3
        scale = wanted
        if moved < 1e-4 and settled:
            break
    sd = problem.uncertainty(theta, strength)
    noise = scale * sd
    curve, jacobian = problem.curve_and_jacobian(theta, strength)
    r = (problem.d - curve) / noise
    weights = _influence(r)
    hessian = jacobian.T @ (jacobian * (weights / noise**2)[:, None]) + np.diag(precision)
    root = np.linalg.cholesky(np.asarray(hessian, dtype=float)).T
    log_evidence = (
        -0.5 * float(np.sum(np.minimum(r**2, FAR_SIGMA**2 * np.log1p((r / FAR_SIGMA) ** 2))))
        - float(np.sum(np.log(noise)))
        - 0.5 * float(np.sum(precision * (theta - mean) ** 2))
        - float(np.sum(np.log(np.diag(root))))
        - 0.5 * firmness * (np.log(scale**2) + scale**-2)
    )
    return _Mode(theta, root, scale, firmness + free, weights, sd, log_evidence)


def _draws(problem: _Problem, mode: _Mode, strength: float, count: int, random: np.random.Generator) -> Array:
    """Curves (count, G) from the posterior about one mode.

    Laplace's normal law is where they start; weights and a short chain whose proposals keep that
    law (preconditioned Crank-Nicolson) bring them to the posterior itself, which bends away from it
    where readings are few. Each draw has a noise scale of its own, as far as that is not known.
    """
    size = mode.theta.size
    precision = np.concatenate([problem.prior_sd**-2, np.ones(size - SHAPE)])
    mean = np.concatenate([problem.prior_mean, np.zeros(size - SHAPE)])
    noise = mode.scale * np.sqrt(mode.freedom / random.chisquare(mode.freedom, count))[:, None] * mode.sd

    def state(z: Array) -> tuple[Array, Array]:
        """Curves (M, G) at z (M, U) and the log of posterior over normal law, (M,)."""
        theta = mode.theta + np.linalg.solve(mode.root, z.T).T
        curves = problem.fall(theta, strength)[0]
        r = (
            problem.d - (curves[:, problem.left] * (1 - problem.part) + curves[:, problem.left + 1] * problem.part)
        ) / noise
        # The loss whose derivative is the influence used for the mode.
        gap = (
            -0.5 * FAR_SIGMA**2 * np.arctan((r / FAR_SIGMA) ** 2).sum(axis=1)
            - 0.5 * ((theta - mean) ** 2 @ precision)
            + 0.5 * (z**2).sum(axis=1)
        )
        return curves, gap

    half = random.standard_normal(((count + 1) // 2, size))
    z = np.concatenate([half, -half])[:count]
    curves, gap = state(z)
    # Tempered, so that no single draw takes over.
    weight = np.exp(0.5 * (gap - gap.max()))
    chosen = np.searchsorted(np.cumsum(weight) / weight.sum(), (np.arange(count) + random.random()) / count)
    chosen = np.minimum(chosen, count - 1)
    z, curves, noise = z[chosen], curves[chosen], noise[chosen]
    gap = gap[chosen]
    stride = 0.5
    for _ in range(CHAIN_STEPS):
        moved = np.sqrt(1 - stride**2) * z + stride * random.standard_normal(z.shape)
        new_curves, new_gap = state(moved)
        accept = np.log(random.random(count)) < new_gap - gap
        z[accept], curves[accept], gap[accept] = moved[accept], new_curves[accept], new_gap[accept]
        stride = float(np.clip(stride * np.exp(accept.mean() - ACCEPTANCE), *STRIDES))
    return curves


def _free_ends(problem: _Problem, curves: Array, random: np.random.Generator) -> Array:
    """Past the last readings a film need not follow the shape that it had among them.

    Each draw keeps its own share of the fall that its shape would bring there, from none to more
    than all of it. Where the readings reach the level end this changes nothing.
    """
    first = np.searchsorted(problem.grid, problem.x.min())
    last = np.searchsorted(problem.grid, problem.x.max()) - 1
    share = TAIL_SHARE * random.random((2, len(curves), 1))
    freed = curves.copy()
    freed[:, :first] = curves[:, [first]] + share[0] * (curves[:, :first] - curves[:, [first]])
    freed[:, last + 1 :] = curves[:, [last]] + share[1] * (curves[:, last + 1 :] - curves[:, [last]])
    return freed


def fit_monotone(
    x: Array,
    d: Array,
    sd: Array,
    *,
    x_sd: Array | None = None,
    firmness: float = ASSUMED_FIRMNESS,
    seed: int = 0,
) -> MonotoneFit:
    """Fit a falling curve and draw from what the readings leave open.

    Parameters
    ----------
    x, d : (N,) arrays
        Log exposure and density, N at least 1, finite.
    sd : (N,) array
        Standard uncertainty of each density, as stated or assumed; a common factor is learned.
    x_sd : (N,) array, optional
        Standard uncertainty of each log exposure, independent from reading to reading.
    firmness : float
        How many readings it would take to outweigh `sd`.
    """
    problem = _Problem(x, d, np.hypot(sd, FINEST_SD), np.zeros_like(x) if x_sd is None else x_sd)
    modes: list[_Mode] = []
    theta, scale = problem.start(), 1.0
    if x.size > ROUGH_FROM:  # a rough first scale keeps far outliers from bending the start
        theta0 = _mode(problem, STRENGTHS[0][0], theta, FAR_SIGMA, firmness)
        theta, scale = theta0.theta, theta0.scale
    for strength, _ in STRENGTHS:
        mode = _mode(problem, strength, theta, scale, firmness)
        modes.append(mode)
        theta, scale = mode.theta, mode.scale
    logs = np.array([m.log_evidence + np.log(prior) for m, (_, prior) in zip(modes, STRENGTHS, strict=True)])
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    random = np.random.default_rng(seed)
    found = []
    for mode, (strength, _), share in zip(modes, STRENGTHS, shares, strict=True):
        count = round(DRAWS * share)
        if count:
            found.append(_draws(problem, mode, strength, count, random))
    curves = _free_ends(problem, np.vstack(found), random)
    best = curves.mean(axis=0)
    leading = modes[int(np.argmax(shares))]
    residuals = d - problem.at_readings(best)
    noise = leading.scale * leading.sd
    return MonotoneFit(problem.grid, curves, best, _influence(residuals / noise), noise)
