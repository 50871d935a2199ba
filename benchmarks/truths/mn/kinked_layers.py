"""Family n: no physics. A slide is a pile of falling tables, moved and thinned by kinked splines.

Each layer falls with exposure along its own table (the running sum of a jagged positive slope). A
score of the recipe, made of piecewise straight lines per control, ramps for pairs of controls, a few
tree-like steps and one control that has a best value, moves the layer to lower exposures and thins it.
"""

from __future__ import annotations

import numpy as np

from . import common as c

# the middle and the half-width by which each control is put on a common scale
_MID = np.array([10.0, 4.5, 9.0, 20.0, 14.0])
_HALF = np.array([1.3, 4.5, 8.5, 5.0, 6.0])


def _common_scale(m):
    t = np.log2(np.clip(m[:, 0], 0.2, 120.0) / _MID[0]) / _HALF[0]
    rest = (m[:, 1:] - _MID[1:]) / _HALF[1:]
    return np.clip(np.column_stack([t, rest]), -4.5, 3.5)


class _Line:
    """A piecewise straight line through random knots, rising throughout; 0 at scale 0."""

    def __init__(self, rng, rough):
        self.x = np.concatenate([[-4.6], np.sort(rng.uniform(-0.95, 1.3, 3)), [3.6]])
        slope = np.exp(rough * rng.normal(size=4))
        slope /= np.average(slope, weights=np.clip(np.diff(np.clip(self.x, -1.2, 1.4)), 0.05, None))
        self.y = np.concatenate([[0.0], np.cumsum(slope * np.diff(self.x))])
        self.y -= np.interp(0.0, self.x, self.y)

    def __call__(self, v):
        return np.interp(v, self.x, self.y)


class _Fall:
    """A table from 1 down to 0 whose slope has corners; middle at 0, width 1 from 10 to 90 %."""

    def __init__(self, rng):
        z = np.linspace(0.0, 1.0, 601)
        knots = np.linspace(0, 1, 7)
        high = np.array([0.0, u_(rng, 0.15, 0.6), 1.0, u_(rng, 0.7, 1.3), 1.0, u_(rng, 0.15, 0.6), 0.0])
        slope = np.interp(z, knots, high)
        run = np.cumsum(slope)
        run = (run - run[0]) / (run[-1] - run[0])
        a, h, b = np.interp([0.1, 0.5, 0.9], run, z)
        self.z = (z - h) / (b - a)
        self.f = 1.0 - run

    def __call__(self, v):
        return np.interp(v, self.z, self.f)


def u_(rng, a, b):
    return float(rng.uniform(a, b))


class Film:
    def __init__(self, seed, hardness):
        tag = {"easy": 1, "medium": 2, "hard": 3}[hardness]
        rng = np.random.default_rng([int(seed), tag, 20903])
        u = lambda a, b: u_(rng, a, b)  # noqa: E731
        self.hardness = hardness
        self.base_density = u(0.035, 0.33)
        wild = {"easy": 0.55, "medium": 0.9, "hard": 1.35}[hardness] * u(0.7, 1.3)

        zone = c.RANGES[("wide", "elsewhere", "narrow")[int(rng.integers(3))]]
        edge = {"easy": 0.2, "medium": 0.1, "hard": 0.0}[hardness]
        like = [zone[k][0] + (zone[k][1] - zone[k][0]) * u(edge, 1 - edge) for k in c.CONTROLS[:3]]
        self.like = np.array([like + [c.DEFAULTS[c.TEMP], c.DEFAULTS[c.WATER]]])

        # ---- scores: one shared, one own to the lights, one own to the blacks
        size = np.array([u(0.35, 0.65), u(0.10, 0.45), u(0.06, 0.35), u(0.15, 0.35), -u(0.10, 0.30)])
        self.best_of = int(rng.choice(5, p=[0.0, 0.25, 0.45, 0.10, 0.20]))
        here = _common_scale(self.like)[0]
        self.best_at = float(np.clip(here[self.best_of] + 0.5 * rng.normal(), -0.9, 0.9))
        self.best_height = u(0.15, 0.5)
        self.best_flat = u(0.0, 0.3)
        size[self.best_of] *= 0.25
        self.scores = []
        for part in range(3):
            w = size * np.exp(0.25 * rng.normal(size=5))
            if part:
                w[1] *= u(0.6, 1.8)
            lines = [_Line(rng, u(0.25, 0.7)) for _ in range(5)]
            pairs = []
            for _ in range(int(rng.integers(1, 4))):
                i, j = rng.choice(4, 2, replace=False)
                rise = u(0.0, 0.22) if 0 in (i, j) else 0.16 * rng.normal()
                pairs.append((int(i), int(j), u(-0.6, 0.6), u(-0.6, 0.6), rise))
            steps = []
            for _ in range(int(rng.integers(1, 4))):
                i, j = rng.choice(3, 2, replace=False)
                jump = abs(0.09 * rng.normal()) * (1 if 0 in (i, j) or rng.random() < 0.6 else -1)
                steps.append((int(i), int(j), u(-0.7, 0.7), u(-0.9, 0.5), jump, u(0.10, 0.3)))
            self.scores.append((w, lines, pairs, steps))
        # now and then a film that turns back when developed very long
        self.turn = (u(0.75, 1.05), u(0.2, 0.5)) if rng.random() < 0.08 else None

        # ---- layers: share of black, place, width, how far they move, how they thin
        rng_share = np.array([u(0.45, 0.75), u(0.25, 0.5), u(0.05, 0.2)])
        self.part = rng_share / rng_share.sum()
        span = u(0.55, 1.45)
        self.place = np.array([0.0, u(-0.45, 0.25), u(0.1, 0.7)]) * (0.5 + 0.5 * span)
        self.width = span * np.array([1.0, u(0.9, 1.7), u(0.8, 1.5)])
        self.move = wild * np.array([1.0, u(0.7, 1.3), u(0.9, 1.6)])
        self.lean = np.array([u(0.2, 0.6), u(0.0, 0.5), u(0.5, 1.0)])  # how much of the lights' own score
        self.thin = wild * u(0.4, 1.3) * np.array([1.0, u(0.6, 1.5), u(0.8, 1.6)])
        self.late = np.array([u(0.25, 0.9), u(0.25, 0.9), u(0.0, 0.6)])  # where the thinning bends
        self.falls = [_Fall(rng) for _ in range(3)]
        # a floor the lights keep when developed too little
        self.floor = u(0.01, 0.07), u(0.35, 0.9) * wild, u(-0.1, 0.45)

        self.zero = [float(self._score(self.like, p)[0]) for p in range(3)]
        self.full = 1.0
        self.shift = 0.0
        x = np.linspace(-5.0, 5.0, 501)
        black = u(*{"easy": (1.5, 3.2), "medium": (1.45, 3.2), "hard": (1.4, 3.2)}[hardness])
        level = u(0.72, 1.4)
        steep = black * u(0.48, 0.92)
        for _ in range(4):  # scale to the black, then stretch to the steepness this film has at heart
            d = self.density_many(self.like, x)[0] - self.base_density
            self.full = float(np.clip(self.full * black / d[0], 1.3, 3.4))
            d = self.density_many(self.like, x)[0] - self.base_density
            level = min(level, 0.7 * d[0])
            mid = float(np.interp(-level, -d, x))
            got = float(np.interp(mid - 0.25, x, d) - np.interp(mid + 0.25, x, d)) / 0.5
            stretch = float(np.clip(got / steep, 0.6, 1.6))
            self.width, self.place = self.width * stretch, self.place * stretch
        d = self.density_many(self.like, x)[0] - self.base_density
        target = float(np.clip(0.04 + 0.13 * rng.normal(), -0.3, 0.4))
        self.shift = float(np.interp(-level, -d, x)) - target
        self.liked = dict(zip(c.CONTROLS, self.like[0].tolist()))

    def _score(self, m, part):
        w, lines, pairs, steps = self.scores[part]
        v = _common_scale(m)
        s = np.zeros(len(v))
        for k in range(5):
            s += w[k] * lines[k](v[:, k])
        for i, j, a, b, rise in pairs:
            s += rise * np.clip(v[:, i] - a, 0.0, 2.0) * np.clip(v[:, j] - b, 0.0, 2.0)
        for i, j, a, b, jump, soft in steps:
            s += jump * np.clip((v[:, i] - a) / soft, 0, 1) * np.clip((v[:, j] - b) / soft, 0, 1)
        away = np.maximum(np.abs(v[:, self.best_of] - self.best_at) - self.best_flat, 0.0)
        s -= self.best_height * np.where(away < 0.6, away**2, 1.2 * away - 0.36)
        if self.turn is not None:
            s -= (w[0] + self.turn[1]) * np.clip(v[:, 0] - self.turn[0], 0.0, 1.0)
        return s

    def density_many(self, controls_matrix, log_exposure):
        m = np.atleast_2d(np.asarray(controls_matrix, float))
        x = np.atleast_1d(np.asarray(log_exposure, float))
        s0, s1, s2 = (self._score(m, p) - self.zero[p] for p in range(3))
        d = np.zeros((len(m), x.size))
        for k in range(3):
            s = (1 - self.lean[k]) * s0 + self.lean[k] * s1
            go = np.clip(self.move[k] * s, -4.0, 4.0)
            amount = self._left(self.thin[k], 0.6 * s0 + 0.4 * s2, self.late[k])
            z = (x[None, :] + self.shift - self.place[k]) + go[:, None]
            d += (self.part[k] * amount)[:, None] * self.falls[k](z / self.width[k])
        keep, steep, bend = self.floor
        low = keep * np.exp(-np.clip(s1 * steep * 3.0, -1.6, 6.0)) + 0.35 * np.maximum(-s1 * steep - bend, 0.0)
        black = sum(self.part[k] * self._left(self.thin[k], 0.6 * s0 + 0.4 * s2, self.late[k]) for k in range(3))[
            :, None
        ]
        low = np.minimum(low[:, None], 0.6 * black)
        d = low + d * (1.0 - low / np.maximum(black, 1e-9))
        return self.base_density + self.full * np.maximum(d, 0.0)

    @staticmethod
    def _left(rate, s, bend):
        """Share of a layer's black left: straight down, steeper past the bend, never under a little."""
        y = 0.92 - 0.30 * rate * s - 0.9 * rate * np.maximum(s - bend, 0.0)
        # straight within, rounded off by hyperbolas at either end
        y = np.where(y > 0.85, 1.0 - 0.15**2 / (np.maximum(y, 0.85) - 0.70), y)
        return np.where(y < 0.25, 0.25**2 / (0.5 - np.minimum(y, 0.25)), y)

    def density(self, controls, log_exposure):
        x = np.asarray(log_exposure, float)
        return self.density_many(c.controls_matrix(controls)[:1], x.ravel())[0].reshape(x.shape)


def make_film(seed, hardness="medium"):
    return Film(seed, hardness)
