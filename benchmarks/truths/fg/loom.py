"""Family g: no physics. Monotone laws woven of ramps, steps and plateaus.

The curve is a mixture of falling ramps; each ramp is shifted by its own blend of laws of the controls,
so contrast changes with the recipe while more time stays lighter (some films relapse late, on purpose).
"""

from __future__ import annotations
import numpy as np
from . import common as cm

_X = np.linspace(-6.0, 6.0, 481)


class Law:
    """Rising law from 0 to 1 over [0, top] in a stretched variable, as a table; beyond it creeps on."""

    def __init__(self, rng, top, style=None):
        self.bend = float(np.exp(rng.uniform(np.log(0.5), np.log(top))))
        self.end = float(np.log1p(top / self.bend))
        v = np.linspace(0.0, 1.0, 321)
        style = style or rng.choice(["polyline", "spline", "stairs"], p=[0.4, 0.35, 0.25])
        n = int(rng.integers(4, 8))
        knots = np.concatenate([[0.0], np.sort(rng.uniform(0.06, 0.94, n - 1)), [1.0]])
        slope = rng.gamma(1.3, 1.0, n + 1) * (rng.random(n + 1) > 0.25) + 0.03
        if style == "polyline":
            s = slope[np.clip(np.searchsorted(knots, v, side="right") - 1, 0, n)]
            y = np.cumsum(s)
        elif style == "spline":  # integral of a broken line: a quadratic spline
            y = np.cumsum(np.interp(v, knots, slope))
        else:
            y = 0.15 * v
            for _ in range(int(rng.integers(2, 5))):
                q = np.clip((v - rng.uniform(0.08, 0.92)) / rng.uniform(0.02, 0.25) + 0.5, 0.0, 1.0)
                y = y + rng.gamma(2.0, 0.5) * q * q * (3.0 - 2.0 * q)
        y = y - y[0]
        self.v, self.y = v, y / y[-1]

    def __call__(self, x):
        q = np.log1p(np.maximum(x, 0.0) / self.bend) / self.end
        return np.interp(q, self.v, self.y) + 0.1 * np.maximum(q - 1.0, 0.0)


def _ramp(q, kind):
    """Falls from 1 to 0 while q goes from -1 to 1."""
    h = np.clip(0.5 - 0.5 * q, 0.0, 1.0)
    if kind == "line":
        return h
    if kind == "smooth":
        return h * h * (3.0 - 2.0 * h)
    return h * (1.0 + h * (h - 1.0)) if kind == "shoulder" else h * h * (2.0 - h)  # "toe": long in the lights


class Film:
    def __init__(self, base_density, law):
        self.base_density = base_density
        self.law = law
        self.speed = 0.0

    def _state(self, c):
        p = self.law
        t, solv, alk, temp, water = (np.maximum(c[:, i], 0.0) for i in range(5))
        pace = np.interp(temp - cm.DEFAULTS[cm.TEMP], p["temp_at"], p["temp_log"])
        pace = pace - np.interp(np.log((1.0 + water) / (1.0 + cm.DEFAULTS[cm.WATER])), p["water_at"], p["water_log"])
        t = t * np.exp(pace)
        a = p["time"](t)
        b = p["alkali"](alk)
        s = p["solvent"](solv)
        if p["relapse"] is not None:
            a = a - p["relapse"][1] * np.maximum(a - p["relapse"][0], 0.0)
        both = np.minimum(a, b)  # the slower of two hands
        gate = np.clip((a - p["gate"][0]) / 0.08, 0.0, 1.0) * np.clip((solv - p["gate"][1]) / 0.6, 0.0, 1.0)
        parts = np.stack([a, b, s, both, gate], 1)

        wear_t = p["wear_time"](t) * p["wear"][0]
        wear_s = p["wear_solvent"](solv) * p["wear"][1]
        joint = p["wear"][2] * p["wear_time"](t) * p["wear_solvent"](solv)
        wear = (np.maximum(wear_t, wear_s) if p["wear_by_max"] else wear_t + wear_s) + joint
        black = p["black"] * np.maximum(1.0 - wear, 0.08)

        ct, cs = p["clear"][0] * p["clear_time"](t), p["clear"][1] * p["clear_solvent"](solv)
        clear = np.maximum(ct, cs) if p["clear_by_max"] else 1.0 - (1.0 - np.minimum(ct, 1)) * (1.0 - np.minimum(cs, 1))
        murk = p["murk"] * np.clip(1.0 - clear, 0.0, 1.0)
        return parts, black, murk

    def _curves(self, c, x):
        p = self.law
        parts, black, murk = self._state(c)
        shift = parts @ p["push"].T  # (R, ramps)
        out = np.zeros((len(c), x.size))
        for i, (w, at, half, kind) in enumerate(p["ramps"]):
            q = (x[None, :] - self.speed - at + shift[:, i, None]) / half
            out += w * _ramp(q, kind)
        return black[:, None] * out + murk[:, None]

    def density_many(self, controls_matrix, log_exposure):
        c = np.atleast_2d(np.asarray(controls_matrix, float))
        x = np.atleast_1d(np.asarray(log_exposure, float))
        return self.base_density + np.concatenate([self._curves(c[i : i + 800], x) for i in range(0, len(c), 800)])

    def density(self, controls, log_exposure):
        return self.density_many(cm.controls_matrix(controls), log_exposure)[0]


_REACH = {"easy": (0.4, 1.1), "medium": (0.8, 2.0), "hard": (1.6, 3.2)}


def make_film(seed, hardness):
    rng = np.random.default_rng([int(seed), 104729, ("easy", "medium", "hard").index(hardness)])
    uni = rng.uniform
    logu = lambda a, b: float(np.exp(uni(np.log(a), np.log(b))))
    base = uni(0.03, 0.12) if rng.random() < 0.6 else uni(0.12, 0.35)

    n = int(rng.integers(2, 6))
    weight = rng.dirichlet(np.full(n, 2.0))
    spread, width = uni(0.05, 0.7), logu(0.45, 1.25)
    at = uni(-1.0, 1.0, n) * spread
    half = width * np.exp(uni(-0.35, 0.35, n))
    kind = rng.choice(["line", "smooth", "shoulder", "toe"], n, p=[0.2, 0.4, 0.2, 0.2])
    reach = uni(*_REACH[hardness])
    blend = rng.dirichlet([3.0, 1.5, 0.5, 1.0, 0.35])  # time, alkali, solvent, slower hand, gate
    push = reach * blend * np.exp(rng.uniform(-0.3, 0.3, (n, 5)))

    murk = uni(0.0, 0.15) if rng.random() < 0.35 else uni(0.15, 0.9)
    black = uni(1.3, 3.5 - murk) if rng.random() < 0.4 else uni(2.2, 3.5 - murk)
    steps = np.cumsum(rng.gamma(2.0, 0.5, 7) * 0.06 * 3.0)
    wsteps = np.cumsum(rng.gamma(2.0, 0.5, 7) * 0.35)
    law = {
        "ramps": list(zip(weight.tolist(), at.tolist(), half.tolist(), kind.tolist())),
        "push": push,
        "time": Law(rng, 30.0),
        "alkali": Law(rng, 34.0),
        "solvent": Law(rng, 18.0),
        "temp_at": np.linspace(-9.0, 9.0, 7),
        "temp_log": steps - steps[3],
        "water_at": np.linspace(-1.5, 1.5, 7),
        "water_log": wsteps - wsteps[3],
        "gate": (uni(0.2, 0.8), uni(0.5, 9.0)),
        "relapse": (uni(0.7, 0.9), uni(1.1, 1.5)) if rng.random() < 0.12 else None,
        "wear_time": Law(rng, 30.0),
        "wear_solvent": Law(rng, 18.0),
        "wear": (uni(0.0, 0.3), uni(0.05, 0.5), uni(0.0, 0.15)),
        "wear_by_max": bool(rng.random() < 0.5),
        "clear_time": Law(rng, 30.0),
        "clear_solvent": Law(rng, 18.0),
        "clear": (uni(0.1, 0.8), uni(0.6, 1.3)),
        "clear_by_max": bool(rng.random() < 0.5),
        "black": float(black),
        "murk": float(murk),
    }
    film = Film(float(base), law)
    home = dict(zip(cm.CONTROLS, (logu(4.5, 27.0), logu(1.5, 11.0), logu(3.5, 26.0), 21.5, 11.0)))
    d = film.density(home, _X) - film.base_density
    film.speed = float(-_X[int(np.argmax(d < 0.45 * d[0]))] + rng.normal(0.0, 0.12))
    return film
