"""The notebook's simplest rival: twelve parameters, least squares, Laplace draws, and the likeliest candidate.

ln theta = ln t + a ln(alkali + 3) + c solvent          k = ln s0 + ln(solvent + e alkali) + ln t
black = H exp(-f theta - exp k)     light = black exp(-(theta / tau)) exp(-g exp k) + floor
D = light + (black - light) / (1 + exp((x - x0 + p ln theta) / w))
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.optimize import least_squares

from benchmarks.worlds.films import Bench
from obverse.model import margins, observables
from obverse.process import Aim

# ln H, ln f, ln s0, ln e, ln g, ln tau, floor, x0, p, ln w, a, c; all broad.
MEAN = np.array(
    [
        np.log(2.7),
        np.log(0.006),
        np.log(0.004),
        np.log(0.2),
        np.log(1.0),
        np.log(5.0),
        0.05,
        0.75,
        0.33,
        np.log(0.32),
        0.35,
        0.0,
    ]
)
SD = np.array([0.3, 1.0, 1.2, 1.0, 1.0, 0.6, 0.04, 0.5, 0.15, 0.35, 0.3, 0.03])
# What the eye's words mean to it: a likely value of dmax, of the highlights, of the mid-tone's exposure, and its doubt.
DRAWS, CANDIDATES = 150, 400


class GreyBox:
    """Least squares on the readings (words as likely values), Laplace draws, the candidate most often in the aim."""

    def __init__(self, bench: Bench, aim: Aim):
        self.bench, self.aim = bench, aim
        self.rng = np.random.default_rng(bench.case.rng_seed % 9973)
        self.limits = bench.limits()
        self.base = bench.film.base_density
        rough = bench.series([])["film"]["base_density"] is None
        if rough:
            self.base = 0.18

    def tell(self) -> None:
        """It looks at the bench's strips itself."""

    def curve(self, z: np.ndarray, c: np.ndarray, x: np.ndarray) -> np.ndarray:
        """Density above base, (..., R, N), of parameters (..., 12), recipes (R, 3) and exposures (N,) or (..., R, N)."""
        p = [z[..., i, None] for i in range(12)]
        t, s, a = c[:, 0], c[:, 1], c[:, 2]
        theta = np.log(t) + p[10] * np.log((a + 3) / 11) + p[11] * s
        k = np.exp(np.minimum(p[2] + np.log(s + np.exp(p[3]) * a + 1e-3) + np.log(t), 2.5))
        black = np.exp(p[0] - np.minimum(np.exp(p[1] + theta), 5) - k)
        light = black * np.exp(-np.minimum(np.exp(theta - p[5]), 30) - np.exp(p[4]) * k) + np.maximum(p[6], 0)
        u = (x - (p[7] - p[8] * theta)[..., None]) / np.exp(p[9])[..., None]
        return light[..., None] + (black - light)[..., None] / (1 + np.exp(np.clip(u, -50, 50)))

    def ask(self) -> dict[str, float]:
        names = list(self.limits)
        steps = [round((v["high"] - v["low"]) / v["step"] + 1e-9) for v in self.limits.values()]
        index = np.stack([self.rng.integers(0, n + 1, CANDIDATES) for n in steps], axis=1)
        low, step = (np.array([v[key] for v in self.limits.values()]) for key in ("low", "step"))
        recipes = low + index * step
        done = np.array([[s["controls"][n] for n in names] for s in self.bench.strips]).reshape(-1, len(names))
        fresh = np.array([not any(np.allclose(r, d) for d in done) for r in recipes])
        recipes = recipes[fresh]
        mode, root = self.fit(done)
        draws = mode + self.rng.standard_normal((DRAWS, 12)) @ root.T
        seen = observables(
            lambda x: self.curve(draws, recipes, x), np.zeros((DRAWS, len(recipes))), self.aim.midtone_density
        )
        miss = margins(seen, self.aim).min(axis=-1)
        worth = (miss >= 0).mean(axis=0) + 0.1 * np.exp(np.minimum(miss, 0)).mean(axis=0)
        best = recipes[int(np.argmax(worth))]
        return dict(zip(names, map(float, best), strict=True))

    def fit(self, done: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        strips = self.bench.strips

        def residual(z: np.ndarray) -> np.ndarray:
            parts = [(z - MEAN) / SD]
            for strip, c in zip(strips, done, strict=True):
                if "steps" in strip:
                    x = np.array([s["log_exposure"] for s in strip["steps"]])
                    d = np.array([s["density"] for s in strip["steps"]]) - self.base
                    parts.append((self.curve(z, c[None], x)[0] - d) / 0.05)
                else:
                    parts.append(self.words(z, c, strip["grades"]))
            return np.concatenate(parts)

        if not strips:
            return MEAN, np.diag(SD)
        found = least_squares(residual, MEAN, max_nfev=60)
        return found.x, np.linalg.cholesky(np.linalg.inv(found.jac.T @ found.jac + 1e-9 * np.eye(12)))

    def words(self, z: np.ndarray, c: np.ndarray, grades: list[dict[str, Any]]) -> np.ndarray:
        black, middle, high = self.curve(z, c[None], np.array([-9.0, 0.0, 0.8]))[0]
        top = self.aim.highlight_density_max or 0.25
        deep = self.aim.dmax_min or 1.95
        m = self.aim.midtone_density
        table = {
            "clear": (high, 0.5 * top, 0.6 * top),
            "slightly_murky": (high, 1.4 * top, 0.4 * top),
            "murky": (high, 3.0 * top, 1.5 * top),
            "deep": (black, deep + 0.4, 0.4),
            "slightly_thin": (black, deep - 0.2, 0.2),
            "thin": (black, deep - 0.7, 0.4),
            "right": (middle, m, 0.2),
            "slightly_dark": (middle, m + 0.35, 0.2),
            "slightly_light": (middle, m - 0.3, 0.2),
            "dark": (middle, m + 0.6, 0.4),
            "light": (middle, m - 0.5, 0.3),
        }
        return np.array(
            [
                (value - likely) / sd
                for value, likely, sd in (table[g["grade"]] for g in grades if g["of"] != "contrast")
            ]
        )
