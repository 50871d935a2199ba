"""Family (e): two-emulsion films (fast + slow layer), grain populations, solarisation in one layer. KEPT UNSEEN.

Per layer: latent image L(x) from quantum-hit statistics averaged over grain sizes, with a decline at great
exposure in one layer; developed part 1-exp(-(rate*time*L)^n) (order n growth with an induction); chemical fog; dissolving at
the layer's own rate. Activity: Hill function of alkali times a falling Hill (an optimum in alkali); solvent
first speeds development (physical development), then slows it; with opposite weight in the two layers, so that
curves of different recipes cross. All constants own choice, from memory of the general literature.
"""

from __future__ import annotations
import numpy as np
from scipy.special import gammainc
from .common import controls_matrix, CONTROLS

_X = np.arange(-6.0, 7.001, 0.02)


def _hits(x, q, spread, rng_nodes=9):
    """part of the grains with at least q absorbed quanta; grain sizes lognormal (spread in log10)."""
    n, w = np.polynomial.hermite_e.hermegauss(rng_nodes)
    w = w / w.sum()
    mean = q * 10.0 ** np.clip(x[:, None] + spread * n[None, :], -8, 5)
    return gammainc(q, np.minimum(mean, 1e5)) @ w


class Film:
    def __init__(self, seed, hardness):
        rng = np.random.default_rng([5505, seed, {"easy": 0, "medium": 1, "hard": 2}[hardness]])
        u = rng.uniform
        h = {"easy": 0.42, "medium": 0.85, "hard": 1.65}[hardness] * np.exp(rng.normal(0, 0.48))
        self.h = h
        self.name = f"layers-{hardness}-{seed}"
        self.box_speed = int(rng.choice([50, 100, 125, 200, 320, 400, 800, 1600]))
        self.base_density = float(u(0.05, 0.35))
        self.optimum = {
            CONTROLS[0]: float(np.exp(u(np.log(4), np.log(20)))),
            CONTROLS[1]: float(12 * rng.beta(0.9, 1.3)),
            CONTROLS[2]: float(24 * rng.beta(1.0, 1.3)),
            CONTROLS[3]: 20.0,
            CONTROLS[4]: 15.0,
        }
        t0, s0, a0 = (self.optimum[k] for k in CONTROLS[:3])
        # layers: 0 fast, 1 slow
        self.part = np.array([u(0.3, 0.6), 0.0])
        self.part[1] = 1 - self.part[0]
        gap = u(0.25, 0.55) + 0.25 * u(0, h)
        self.pos = np.array([-gap / 2, gap / 2])
        self.q = np.array([rng.integers(1, 4), rng.integers(2, 7)])
        self.spread = np.array([u(0.35, 0.6), u(0.15, 0.35)])
        self.sol_layer = int(rng.integers(2))
        depth, centre, width = u(0.04, 0.16) + 0.10 * u(0, min(h, 1.4)), u(1.3, 2.4), u(0.25, 0.5)
        self.kind = "two-emulsion film, maximum in the " + ("fast", "slow")[self.sol_layer] + " layer"
        self.n = np.array([u(0.8, 1.5), u(1.2, 2.2)])
        self.spec = (depth, centre, width)
        # activity laws
        self.ab = np.array([u(0.15, 0.6), u(0.15, 0.6)])  # without any alkali
        self.aK, self.an = u(2, 12, 2), u(1.0, 2.6, 2)
        self.aI, self.am = u(14, 45, 2), u(1.5, 3.5, 2)  # the falling part
        self.ap = h * u(0.5, 1.1, 2)
        peak = u(1, 9)
        self.sp = np.array([peak, peak * u(0.6, 1.6)])  # mL/L where solvent helps most
        self.sb = h * np.array([u(-0.2, 0.25), u(0.1, 0.6)])  # the fast layer may be held back
        self.s1, self.sm = u(9, 22, 2), u(1.5, 3, 2)  # the slowing part
        self.slow = h * u(0.3, 1.0, 2)
        self.tp = min(1.2, 0.5 + 0.45 * h) * u(0.85, 1.1)
        self.ind = float(u(0.0, min(1.2, 0.2 * t0)))
        self.ea, self.dp = u(0.05, 0.12, 2), u(0.5, 1.1, 2)
        # dissolving: fine grains (slow layer) go sooner; fog
        self.ds = h * np.array([u(0.1, 0.45), u(0.25, 1.0)])
        self.dq = u(0.7, 1.3)
        self.fg = h * np.array([u(0.02, 0.09), u(0.005, 0.04)])
        self.fa = u(0.2, 0.8)
        self.rho = np.array([u(1.7, 3.4), u(1.8, 3.6)])
        O = controls_matrix(self.optimum)
        self.r0 = np.zeros(2)
        self.r0 = np.log(self.rho) - self._lograte(O)[0]
        self.floor = float(np.exp(u(np.log(0.01), np.log(0.10))))  # stain / silver that never leaves, at the optimum
        dmax = float(u(2.0, 2.2) + rng.gamma(2.0, 0.22))
        grad = float(rng.uniform(1.0, 2.25))
        self.S, self.stretch, self.x0 = 1.0, 1.0, 0.0
        self._tables()
        self.S = (dmax - self.floor) / (self._raw(O, np.array([-5.0]))[0, 0] - self.floor)
        for _ in range(7):
            xm, g = self._mid(O)
            self.stretch = float(np.clip(self.stretch * np.clip(g / grad, 0.6, 1.6), 0.35, 2.2))
            self._tables()
        self.x0 += self._mid(O)[0] - float(rng.normal(0, 0.06))

    def _mid(self, O):
        x = np.linspace(-4, 4, 1601)
        d = self._raw(O, x)[0]
        down = np.flatnonzero((d[:-1] >= 1) & (d[1:] < 1))
        i = int(down[0]) if down.size else 800
        return float(x[i]), float((np.interp(x[i] - 0.25, x, d) - np.interp(x[i] + 0.25, x, d)) / 0.5)

    def _tables(self):
        depth, centre, width = self.spec
        T = []
        for i in range(2):
            L = _hits(_X / self.stretch - self.pos[i], int(self.q[i]), self.spread[i])
            if i == self.sol_layer:
                # beyond `centre` the latent image is destroyed again, ending on a lower level
                L = L * (1 - 2.2 * depth / (1 + np.exp(-(_X - centre) / (width * 0.5))))
            T.append(np.log(np.maximum(L, 1e-9)))
        self.T = np.array(T)

    def _lograte(self, c):
        t = np.maximum(c[:, 0:1] - self.ind, 0.02)
        s, a = np.maximum(c[:, 1:2], 0), np.maximum(c[:, 2:3], 0)
        hill = self.ab + (1 - self.ab) * a**self.an / (self.aK**self.an + a**self.an)
        act = np.log(hill) - np.log1p((a / self.aI) ** self.am)
        y = s / self.sp
        help_ = np.log(np.maximum(1 + self.sb * y * np.exp(1 - y), 0.2))
        slow = -self.slow * np.log1p((s / self.s1) ** self.sm)
        return (
            self.r0
            + self.tp * np.log(t)
            + self.ap * act
            + help_
            + slow
            + self.ea * (c[:, 3:4] - 20)
            - self.dp * np.log(np.maximum(c[:, 4:5] + 1, 1) / 16)
        )

    def _raw(self, c, x):
        lr = np.clip(self._lograte(c), -8, 6)
        q = np.clip((x + self.x0 - _X[0]) / 0.02, 0, len(_X) - 1.000001)
        j = q.astype(int)
        f = q - j
        T = self.T[:, j] * (1 - f) + self.T[:, j + 1] * f
        s, a, t = np.maximum(c[:, 1], 0), np.maximum(c[:, 2], 0), np.maximum(c[:, 0], 0)
        out = np.zeros((len(c), len(x)))
        for i in range(2):
            e = np.exp(np.clip(self.n[i] * (lr[:, i, None] + T[i][None, :]), -60, 6))
            fog = self.fg[i] * np.exp(lr[:, i]) / self.rho[i] * (1 + a / 12) ** self.fa
            dis = self.ds[i] * (s / 12) ** self.dq * (t / 12) ** 0.8 * np.exp(0.03 * (c[:, 3] - 20))
            out += self.part[i] * np.exp(-np.minimum(e, 60) - (fog + dis)[:, None])
        return self.S * out + self.floor * np.exp(-0.12 * self.h * s)[:, None]

    def density_many(self, controls, log_exposure):
        return self.base_density + self._raw(controls_matrix(controls), np.asarray(log_exposure, float).ravel())

    def density(self, controls, log_exposure):
        x = np.asarray(log_exposure, float)
        return self.density_many(controls, x)[0].reshape(x.shape)


def make_film(seed: int, hardness: str) -> Film:
    return Film(int(seed), hardness)
