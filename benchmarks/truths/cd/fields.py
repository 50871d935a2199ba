"""Family (d): smooth random fields over controls and exposure. NO physics.

Density above base = L(c) + (H(c)-L(c)) * (1 - G(z, c)), z = (x - m(c)) / w(c);
G is the normalised running integral of a positive random function (exp of random Fourier features of z AND c).
H, L, m, w are random smooth functions of monotone-warped controls; directions only loosely held.
"""

from __future__ import annotations
import numpy as np
from scipy.interpolate import PchipInterpolator
from .common import controls_matrix, CONTROLS, DEFAULTS

_Z = np.linspace(-5, 5, 241)
_DZ = _Z[1] - _Z[0]


class _RFF:
    """sum of cosines over v (.,5), centred to 0 at v*, about unit size over the box."""

    def __init__(self, rng, k, scale):
        self.w = rng.normal(0, 1, (k, 5)) * np.array([1, 1, 1, 0.5, 0.6]) * scale
        self.p = rng.uniform(0, 2 * np.pi, k)
        self.a = rng.normal(0, 1, k) * np.sqrt(2 / k)
        self.c = 0.0

    def __call__(self, v):
        return np.cos(v @ self.w.T + self.p) @ self.a - self.c


class Film:
    def __init__(self, seed, hardness):
        rng = np.random.default_rng([4404, seed, {"easy": 0, "medium": 1, "hard": 2}[hardness]])
        self.name = f"field-{hardness}-{seed}"
        self.kind = "smooth random field, no physics"
        self.box_speed = int(rng.choice([25, 50, 80, 100, 125, 200, 400, 800]))
        self.base_density = float(rng.uniform(0.05, 0.35))
        h = {"easy": 0.50, "medium": 0.95, "hard": 1.65}[hardness] * np.exp(rng.normal(0, 0.48))
        # optimum recipe all over
        self.optimum = {
            CONTROLS[0]: float(np.exp(rng.uniform(np.log(4), np.log(20)))),
            CONTROLS[1]: float(12 * rng.beta(0.9, 1.3)),
            CONTROLS[2]: float(24 * rng.beta(1.0, 1.3)),
            CONTROLS[3]: 20.0,
            CONTROLS[4]: 15.0,
        }
        # monotone warps of the three main controls (integrated positive random functions)
        self.warps = []
        for _ in range(3):
            n = 41
            g = np.linspace(0, 1, n)
            f = sum(rng.normal(0, 0.55) * np.cos(np.pi * j * g + rng.uniform(0, 6.28)) for j in (1, 2, 3))
            y = np.concatenate([[0], np.cumsum(np.exp(f[:-1]))])
            self.warps.append(PchipInterpolator(g, y / y[-1]))
        S = lambda k, s: _RFF(rng, k, s)
        self.fm, self.fh, self.fl, self.fw = S(12, 2.2), S(12, 2.0), S(12, 2.2), S(12, 2.0)
        # slope field: features in z and c
        k = 16
        self.bz = rng.normal(0, 1.1, k)
        self.wc = rng.normal(0, 1, (k, 5)) * np.array([1, 1, 1, 0.4, 0.5]) * 1.6
        self.ph = rng.uniform(0, 2 * np.pi, k)
        self.ag = rng.normal(0, 1, k) * np.sqrt(2 / k) * rng.uniform(0.3, 0.75)
        self.pw = rng.uniform(1.6, 4.0, 2)  # fall-off of the slope on either side
        self.sw = rng.uniform(0.9, 1.6, 2)
        # loosely monotone drifts per unit warped control: time, solvent, alkali, temp(10C), ln dilution
        self.dm = -h * np.array(
            [
                rng.uniform(0.7, 2.0),
                rng.uniform(0.15, 1.1),
                rng.uniform(0.2, 1.3),
                0.8 / h * rng.uniform(0.6, 1.2),
                -0.5 / h * rng.uniform(0.6, 1.2),
            ]
        )
        self.dh = -h * np.array(
            [
                rng.uniform(0.05, 0.45),
                rng.uniform(0.1, 0.8),
                rng.uniform(-0.1, 0.4),
                rng.uniform(0, 0.3),
                -rng.uniform(0, 0.2),
            ]
        )
        self.dl = -h * np.array(
            [
                rng.uniform(0.8, 2.5),
                rng.uniform(1.2, 4.0),
                rng.uniform(0.2, 2.0),
                rng.uniform(0, 1.0),
                -rng.uniform(0, 0.6),
            ]
        )
        self.dw = -h * np.array([rng.uniform(-0.3, 0.5), rng.uniform(-0.3, 0.4), rng.uniform(-0.3, 0.4), 0.1, -0.1])
        self.am, self.ah, self.al, self.aw = (
            h * rng.uniform(*r) for r in ((0.05, 0.22), (0.03, 0.12), (0.15, 0.6), (0.05, 0.18))
        )
        self.v0 = self._v(controls_matrix(self.optimum))[0]
        for f in (self.fm, self.fh, self.fl, self.fw):
            f.c = f(self.v0[None])[0]
        slack = {"easy": 1.0, "medium": 1.0, "hard": 0.8}[hardness]
        self.H0 = float(rng.uniform(2.0, 2.2) + rng.gamma(2.0, 0.22) * slack)
        self.L0 = float(np.exp(rng.uniform(np.log(0.015), np.log(0.15))))
        grad = float(rng.uniform(1.0, 2.25))
        self.w0, self.m0 = 1.0, 0.0
        # bisection-free calibration: gradient by width, then mid-tone by shift
        for _ in range(8):
            x = np.linspace(-4, 4, 1601)
            d = self._raw(controls_matrix(self.optimum), x)[0]
            xm = float(np.interp(-1.0, -d, x))
            g = float((np.interp(xm - 0.25, x, d) - np.interp(xm + 0.25, x, d)) / 0.5)
            self.w0 *= float(np.clip(g / grad, 0.6, 1.7))
        x = np.linspace(-4, 4, 1601)
        d = self._raw(controls_matrix(self.optimum), x)[0]
        self.m0 += float(rng.normal(0, 0.06)) - float(np.interp(-1.0, -d, x))

    def _v(self, c):
        t = np.clip(np.log(np.maximum(c[:, 0], 0.3) / 2.0) / np.log(15.0), -0.3, 1.3)
        s, a = c[:, 1] / 16.0, c[:, 2] / 30.0
        out = []
        for w, q in zip(self.warps, (t, s, a)):
            qc = np.clip(q, 0, 1)
            out.append(w(qc) + (q - qc) * 0.7)
        return np.stack(
            out + [np.clip((c[:, 3] - 20) / 10.0, -1.2, 1.2), np.clip(np.log((c[:, 4] + 1) / 16.0), -2, 2)], 1
        )

    def _raw(self, c, x):
        v = self._v(c)
        dv = v - self.v0
        m = self.m0 + dv @ self.dm + self.am * self.fm(v)
        w = self.w0 * np.exp(np.clip(dv @ self.dw + self.aw * self.fw(v), -1, 1))
        H = self.H0 * np.exp(np.clip(dv @ self.dh + self.ah * self.fh(v), -2.5, 2.5))
        H = H / (1 + (H / 3.6) ** 8) ** 0.125  # soft ceiling
        lr = np.log(self.L0 / (self.H0 - self.L0)) + dv @ self.dl + self.al * self.fl(v)
        L = H / (1 + np.exp(-np.clip(lr, -7, 3)))
        # running integral of the slope field
        A = v @ self.wc.T + self.ph  # (R,k)
        B = np.outer(self.bz, _Z)
        F = (np.cos(A) * self.ag) @ np.cos(B) - (np.sin(A) * self.ag) @ np.sin(B)
        env = np.where(_Z < 0, -(np.abs(_Z / self.sw[0]) ** self.pw[0]), -(np.abs(_Z / self.sw[1]) ** self.pw[1]))
        P = np.exp(F + np.maximum(env, -60))
        G = np.cumsum((P[:, 1:] + P[:, :-1]) * (0.5 * _DZ), 1)
        G = np.concatenate([np.zeros((len(c), 1)), G], 1)
        G /= G[:, -1:]
        q = ((x[None, :] - m[:, None]) / w[:, None] - _Z[0]) / _DZ
        q = np.clip(q, 0, len(_Z) - 1.000001)
        i = q.astype(int)
        f = q - i
        r = np.arange(len(c))[:, None]
        g = G[r, i] * (1 - f) + G[r, i + 1] * f
        return L[:, None] + (H - L)[:, None] * (1 - g)

    def density_many(self, controls, log_exposure):
        return self.base_density + self._raw(controls_matrix(controls), np.asarray(log_exposure, float).ravel())

    def density(self, controls, log_exposure):
        x = np.asarray(log_exposure, float)
        return self.density_many(controls, x)[0].reshape(x.shape)


def make_film(seed: int, hardness: str) -> Film:
    return Film(int(seed), hardness)
