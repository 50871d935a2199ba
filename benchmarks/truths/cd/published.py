"""Family (c): tabulated families of negative curves over development time, REVERSED.

remaining silver = total silver - developed - fog - dissolved; every curve is a table read by splines.

SOURCES: the public search gave no usable numeric tables, so EVERY number here is "from memory": approximate
re-drawings of the kind of family each named source prints, not digitised. Sources named per table.
"""

from __future__ import annotations
import numpy as np
from scipy.interpolate import PchipInterpolator
from .common import controls_matrix, CONTROLS

# ---- direct families: time (min), log E (relative), density above fog, fog per time -----------------------
DIRECT = {}
# "from memory": look of the curve families of general sensitometry handbooks (medium pictorial sheet film,
# metol-hydroquinone tank developer; long straight line, gamma about 0.4 to 1.3)
DIRECT["pictorial sheet film"] = dict(
    t=[3, 5, 8, 12, 18, 30],
    x=np.arange(13) * 0.3,
    fog=[0.02, 0.03, 0.05, 0.08, 0.13, 0.24],
    D=[
        [0, 0.01, 0.03, 0.07, 0.15, 0.27, 0.40, 0.53, 0.66, 0.78, 0.88, 0.96, 1.00],
        [0, 0.01, 0.04, 0.11, 0.23, 0.39, 0.57, 0.75, 0.92, 1.08, 1.22, 1.33, 1.40],
        [0, 0.02, 0.06, 0.16, 0.32, 0.53, 0.76, 1.00, 1.23, 1.44, 1.62, 1.76, 1.85],
        [0.01, 0.03, 0.09, 0.22, 0.43, 0.69, 0.97, 1.26, 1.54, 1.79, 2.00, 2.15, 2.24],
        [0.01, 0.04, 0.12, 0.29, 0.54, 0.85, 1.18, 1.52, 1.84, 2.12, 2.34, 2.49, 2.57],
        [0.02, 0.06, 0.17, 0.38, 0.69, 1.06, 1.44, 1.82, 2.17, 2.46, 2.67, 2.80, 2.86],
    ],
)
# "from memory": look of motion-picture engineers' journal families of a fine-grain positive stock, 2 to 14 min
DIRECT["fine-grain positive stock"] = dict(
    t=[2, 3, 4, 6, 9, 14],
    x=np.arange(16) * 0.2,
    fog=[0.02, 0.02, 0.03, 0.04, 0.06, 0.10],
    D=[
        [0, 0, 0.01, 0.02, 0.05, 0.11, 0.22, 0.38, 0.58, 0.80, 1.02, 1.22, 1.38, 1.49, 1.56, 1.60],
        [0, 0, 0.01, 0.03, 0.08, 0.18, 0.35, 0.60, 0.90, 1.21, 1.51, 1.77, 1.96, 2.09, 2.16, 2.20],
        [0, 0.01, 0.02, 0.04, 0.11, 0.25, 0.48, 0.79, 1.15, 1.53, 1.88, 2.17, 2.38, 2.51, 2.58, 2.62],
        [0, 0.01, 0.02, 0.06, 0.15, 0.34, 0.64, 1.03, 1.46, 1.89, 2.27, 2.57, 2.77, 2.89, 2.96, 3.00],
        [0.01, 0.01, 0.03, 0.08, 0.20, 0.43, 0.79, 1.24, 1.72, 2.18, 2.56, 2.85, 3.04, 3.15, 3.21, 3.24],
        [0.01, 0.02, 0.04, 0.10, 0.25, 0.52, 0.92, 1.41, 1.92, 2.39, 2.77, 3.04, 3.21, 3.31, 3.36, 3.39],
    ],
)
# "from memory": fast panchromatic roll film of the 1940s-60s handbooks: long toe, speed gained with time
DIRECT["fast roll film, long toe"] = dict(
    t=[4, 6, 9, 13, 20],
    x=np.arange(14) * 0.3,
    fog=[0.05, 0.08, 0.12, 0.18, 0.30],
    D=[
        [0.01, 0.02, 0.04, 0.08, 0.13, 0.20, 0.29, 0.39, 0.50, 0.61, 0.71, 0.80, 0.87, 0.91],
        [0.01, 0.03, 0.06, 0.12, 0.20, 0.30, 0.43, 0.57, 0.72, 0.87, 1.01, 1.13, 1.22, 1.28],
        [0.02, 0.05, 0.09, 0.18, 0.29, 0.43, 0.60, 0.79, 0.99, 1.19, 1.38, 1.53, 1.65, 1.72],
        [0.03, 0.07, 0.13, 0.25, 0.40, 0.58, 0.80, 1.03, 1.28, 1.52, 1.74, 1.92, 2.05, 2.12],
        [0.05, 0.10, 0.19, 0.34, 0.53, 0.76, 1.03, 1.31, 1.60, 1.88, 2.12, 2.31, 2.44, 2.51],
    ],
)
# "from memory": thin-layer slow film of 1960s textbooks: short toe, early shoulder
DIRECT["thin slow film, early shoulder"] = dict(
    t=[4, 6, 8, 11, 16, 25],
    x=np.arange(15) * 0.25,
    fog=[0.02, 0.02, 0.03, 0.04, 0.07, 0.13],
    D=[
        [0, 0.01, 0.06, 0.18, 0.33, 0.48, 0.62, 0.75, 0.86, 0.95, 1.02, 1.07, 1.11, 1.13, 1.14],
        [0, 0.02, 0.09, 0.25, 0.45, 0.65, 0.84, 1.01, 1.16, 1.28, 1.37, 1.43, 1.47, 1.50, 1.51],
        [0, 0.02, 0.11, 0.31, 0.55, 0.80, 1.03, 1.24, 1.41, 1.55, 1.65, 1.72, 1.77, 1.80, 1.81],
        [0, 0.03, 0.14, 0.38, 0.68, 0.98, 1.27, 1.52, 1.73, 1.88, 1.99, 2.07, 2.12, 2.14, 2.16],
        [0.01, 0.04, 0.18, 0.47, 0.83, 1.19, 1.53, 1.83, 2.06, 2.23, 2.34, 2.41, 2.46, 2.48, 2.49],
        [0.01, 0.05, 0.22, 0.56, 0.98, 1.41, 1.80, 2.13, 2.38, 2.55, 2.66, 2.73, 2.77, 2.79, 2.80],
    ],
)
# "from memory": aerial negative film as in military training manuals: steep, straight, gamma 0.8 to 2.1
DIRECT["aerial negative film"] = dict(
    t=[4, 6, 8, 12, 16, 24],
    x=np.arange(12) * 0.25,
    fog=[0.04, 0.06, 0.08, 0.12, 0.17, 0.28],
    D=[
        [0, 0.02, 0.07, 0.18, 0.34, 0.53, 0.73, 0.92, 1.08, 1.20, 1.28, 1.32],
        [0, 0.03, 0.10, 0.26, 0.49, 0.76, 1.03, 1.29, 1.50, 1.66, 1.76, 1.81],
        [0.01, 0.04, 0.13, 0.33, 0.62, 0.95, 1.29, 1.61, 1.86, 2.04, 2.15, 2.21],
        [0.01, 0.05, 0.18, 0.44, 0.81, 1.22, 1.65, 2.03, 2.33, 2.53, 2.65, 2.71],
        [0.02, 0.07, 0.22, 0.53, 0.96, 1.44, 1.92, 2.34, 2.66, 2.87, 2.99, 3.05],
        [0.03, 0.09, 0.28, 0.64, 1.14, 1.69, 2.22, 2.67, 3.00, 3.21, 3.32, 3.37],
    ],
)

# ---- gamma-time families: gamma = gamma_inf (1 - exp(-k t)) times a tabulated shape -------------------------
# shape: density at gamma 1 against log E (toe, straight line, shoulder), "from memory" of the Hurter and Driffield
# plate diagram (Photochemical Investigations, 1890) and its reprints: constant inertia for all times
HD_SHAPE = (
    np.array([-1.0, -0.6, -0.4, -0.2, 0, 0.2, 0.4, 0.6, 0.9, 1.2, 1.5, 1.8, 2.1, 2.4, 2.8]),
    np.array([0, 0.01, 0.025, 0.06, 0.12, 0.22, 0.36, 0.54, 0.83, 1.13, 1.42, 1.67, 1.86, 1.98, 2.06]),
)
# (gamma_inf, k per min, fog table minutes -> density); typical sizes "from memory" of Sheppard & Mees,
# Investigations on the Theory of the Photographic Process (1907) and Nietz, The Theory of Development (1922)
GAMMA_TIME = {
    "old plate, pyro-soda type": (1.70, 0.14, {0: 0, 4: 0.04, 8: 0.10, 15: 0.20, 30: 0.38}),
    "old plate, hydroquinone type": (2.40, 0.075, {0: 0, 4: 0.01, 8: 0.03, 15: 0.09, 30: 0.24}),
    "old plate, metol type": (1.35, 0.26, {0: 0, 4: 0.06, 8: 0.13, 15: 0.22, 30: 0.36}),
    "process plate": (3.00, 0.20, {0: 0, 4: 0.02, 8: 0.05, 15: 0.10, 30: 0.20}),
}
# temperature factors per 10 C, "from memory" of handbook tables: metol 1.3, pyro 1.5, metol-hydroquinone 1.9,
# glycin 2.3, hydroquinone 2.3-2.8
Q10 = (1.3, 1.5, 1.9, 1.9, 2.3, 2.6)
# relative rate against ammonia, mL/L (pH rising steeply, then buffered); shapes "from memory" of rate-pH graphs of
# development textbooks; last one falls off (gelatin swelling / complexing)
ALK_X = [0, 1, 2, 4, 6, 8, 12, 16, 20, 24, 30, 40]
ALK_TABLES = (
    [0.52, 0.60, 0.67, 0.79, 0.90, 1.0, 1.16, 1.28, 1.37, 1.44, 1.52, 1.60],
    [0.35, 0.42, 0.53, 0.74, 0.90, 1.0, 1.12, 1.18, 1.22, 1.25, 1.28, 1.30],
    [0.70, 0.73, 0.76, 0.83, 0.91, 1.0, 1.22, 1.45, 1.65, 1.80, 1.95, 2.05],
    [0.45, 0.57, 0.68, 0.84, 0.94, 1.0, 1.06, 1.08, 1.07, 1.04, 0.98, 0.88],
)
# relative rate against 1+N, "from memory" of dilution-time tables
DIL_X, DIL_Y = [1, 2, 4, 8, 12, 16, 24, 32, 64], [2.6, 2.25, 1.8, 1.38, 1.15, 1.0, 0.80, 0.68, 0.42]
# halide dissolved (relative, per min at first) against fixer concentrate mL/L, "from memory": nearly linear, then
# diffusion-limited; second one with a slow start (bromide in the bath)
SOL_X = [0, 0.5, 1, 2, 4, 6, 8, 12, 16, 24]
SOL_TABLES = (
    [0, 0.06, 0.12, 0.24, 0.47, 0.68, 0.86, 1.15, 1.36, 1.62],
    [0, 0.03, 0.07, 0.17, 0.42, 0.70, 0.94, 1.26, 1.45, 1.62],
)
# dissolving against time (relative), slows as the fine grains go; "from memory"
DIS_T, DIS_Y = [0, 1, 2, 4, 8, 12, 18, 30], [0, 0.13, 0.24, 0.44, 0.76, 1.0, 1.28, 1.65]
# silver left -> density of the second development: no negative density, soft near zero; "own choice"
COVER_X = [-6, -2, -1, -0.5, -0.25, -0.1, 0, 0.1, 0.2, 0.35, 0.6, 1, 2, 3, 5]
COVER_Y = [0, 0.002, 0.006, 0.014, 0.027, 0.045, 0.066, 0.125, 0.205, 0.345, 0.60, 1.0, 2.0, 2.97, 4.6]

_XG = np.arange(-4.0, 6.001, 0.02)  # dense table of log E
_LT = np.linspace(np.log(0.05), np.log(160), 240)


def _dense(name):
    """(240, len(_XG)) developed density and (240,) fog over log time, by splines through the tables."""
    if name in DIRECT:
        f = DIRECT[name]
        t, x, D, fog = np.array(f["t"], float), np.array(f["x"]), np.array(f["D"], float), np.array(f["fog"], float)
    else:
        ginf, k, fg = GAMMA_TIME[name]
        t = np.array([1, 2, 3, 4, 6, 8, 12, 18, 26, 40.0])
        x = HD_SHAPE[0]
        D = np.outer(ginf * (1 - np.exp(-k * t)), HD_SHAPE[1])
        fog = PchipInterpolator(list(fg), list(fg.values()))(np.minimum(t, 30))
    # rows before and after the table: nothing yet; and a last slow approach
    lo = np.array([[0.0], [0.10], [0.42]]) * D[:1]
    hi = [D[-1] + 0.45 * (D[-1] - D[-2]), D[-1] + 0.65 * (D[-1] - D[-2])]
    T = np.concatenate([t[0] * np.array([0.1, 0.3, 0.6]), t, t[-1] * np.array([2.0, 5.0])])
    D = np.concatenate([lo, D, hi])
    fog = np.concatenate([fog[0] * np.array([0, 0.2, 0.6]), fog, [fog[-1] * 1.7, fog[-1] * 2.6]])
    x0 = x - x.mean()
    xs = np.concatenate([[x0[0] - 1.5], x0, [x0[-1] + 0.8, x0[-1] + 2.5]])
    D = np.concatenate(
        [D[:, :1] * 0, D, D[:, -1:] + 0.25 * (D[:, -1:] - D[:, -2:-1]), D[:, -1:] + 0.3 * (D[:, -1:] - D[:, -2:-1])], 1
    )
    Dx = PchipInterpolator(xs, D, axis=1)(np.clip(_XG, xs[0], xs[-1]))
    lt = np.clip(_LT, np.log(T[0]), np.log(T[-1]))
    return PchipInterpolator(np.log(T), Dx, axis=0)(lt), PchipInterpolator(np.log(T), fog)(lt), t


_CACHE = {}


def _family(name):
    if name not in _CACHE:
        _CACHE[name] = _dense(name)
    return _CACHE[name]


_DIL = PchipInterpolator(np.log(DIL_X), np.log(DIL_Y))
_DIS = PchipInterpolator(DIS_T, DIS_Y)
_CV = np.linspace(-6, 5, 2201)
_CVY = PchipInterpolator(COVER_X, COVER_Y)(_CV)


class Film:
    def __init__(self, seed, hardness):
        rng = np.random.default_rng([3303, seed, {"easy": 0, "medium": 1, "hard": 2}[hardness]])
        names = list(DIRECT) * 2 + list(GAMMA_TIME)
        n1, n2 = rng.choice(len(names), 2)
        mix = float(rng.choice([0, rng.uniform(0.1, 0.5)]))
        A, B = _family(names[n1]), _family(names[n2])
        self.kind = names[n1] + (f" with {mix:.2f} of {names[n2]}" if mix else "")
        self.D = (1 - mix) * A[0] + mix * B[0]
        self.F = (1 - mix) * A[1] + mix * B[1]
        self.name = f"published-{hardness}-{seed}"
        self.box_speed = int(rng.choice([20, 32, 50, 64, 100, 125, 160, 400]))
        self.base_density = float(rng.uniform(0.05, 0.35))
        h = {"easy": 0.45, "medium": 1.0, "hard": 1.65}[hardness] * np.exp(rng.normal(0, 0.48))
        self.optimum = {
            CONTROLS[0]: float(np.exp(rng.uniform(np.log(4), np.log(20)))),
            CONTROLS[1]: float(12 * rng.beta(0.9, 1.3)),
            CONTROLS[2]: float(24 * rng.beta(1.0, 1.3)),
            CONTROLS[3]: 20.0,
            CONTROLS[4]: 15.0,
        }
        t0, s0 = self.optimum[CONTROLS[0]], self.optimum[CONTROLS[1]]
        self.alk = PchipInterpolator(ALK_X, np.log(ALK_TABLES[rng.integers(len(ALK_TABLES))]))
        self.alk_p = h * rng.uniform(0.6, 1.3)
        self.sol = PchipInterpolator(SOL_X, SOL_TABLES[rng.integers(2)])
        self.sol_c = h * rng.uniform(0.35, 1.5)  # density dissolved at 12 min in the table's unit
        self.sol_dev = h * rng.uniform(0.05, 0.5)  # physical development in lit parts
        self.sol_slow = h * rng.uniform(-0.1, 0.25)  # solvent's effect on the rate
        self.fog_c = h * rng.uniform(0.5, 2.0)
        self.fog_alk = h * rng.uniform(0, 0.5)
        self.t_p = min(1.15, 0.55 + 0.4 * h) * rng.uniform(0.85, 1.1)  # how far time moves the table time
        self.induction = float(rng.uniform(0, min(1.0, 0.2 * t0)))
        self.q10 = float(Q10[rng.integers(len(Q10))])
        self.dil_p = float(rng.uniform(0.6, 1.1))
        # table time at the optimum: late in the table
        self.tau0 = float(A[2][-1] * rng.uniform(0.45, 1.3))
        self.k0 = 0.0
        self.k0 = np.log(self.tau0) - self._lograte(controls_matrix(self.optimum))[0]
        # calibration at the optimum
        dmax = float(rng.uniform(2.0, 2.2) + rng.gamma(2.0, 0.22))
        kappa = float(rng.uniform(0.96, 1.14))
        grad = float(rng.uniform(1.0, 2.25))
        self.S, self.c, self.stretch, self.x0 = 0.0, 1.0, 1.0, 0.0
        O = controls_matrix(self.optimum)
        dev, fog, dis, gain = self._parts(O)
        self.c = kappa * dmax / (dev[0, -1] * gain[0])
        self.S = dmax + fog[0] + dis[0]
        for _ in range(6):
            x = np.linspace(-5, 5, 2001)
            d = self._raw(O, x)[0]
            xm = float(np.interp(-1.0, -d, x))
            g = float((np.interp(xm - 0.25, x, d) - np.interp(xm + 0.25, x, d)) / 0.5)
            self.stretch = float(np.clip(self.stretch * np.clip(g / grad, 0.6, 1.6), 0.35, 2.2))
        x = np.linspace(-5, 5, 2001)
        d = self._raw(O, x)[0]
        self.x0 += float(np.interp(-1.0, -d, x)) - float(rng.normal(0, 0.06))

    def _lograte(self, c):
        t = np.maximum(c[:, 0] - self.induction, 0.02)
        return (
            self.k0
            + self.t_p * np.log(t)
            + self.alk_p * self.alk(np.clip(c[:, 2], 0, 40))
            + np.log(self.q10) * (c[:, 3] - 20) / 10
            + self.dil_p * _DIL(np.log(np.clip(c[:, 4] + 1, 1, 64)))
            - self.sol_slow * self.sol(np.clip(c[:, 1], 0, 24))
        )

    def _parts(self, c):
        q = (np.clip(self._lograte(c), _LT[0], _LT[-1]) - _LT[0]) / (_LT[1] - _LT[0])
        q = np.clip(q, 0, len(_LT) - 1.000001)
        i = q.astype(int)
        f = q - i
        dev = self.D[i] * (1 - f)[:, None] + self.D[i + 1] * f[:, None]
        s = self.sol(np.clip(c[:, 1], 0, 24))
        fog = self.fog_c * (self.F[i] * (1 - f) + self.F[i + 1] * f) * np.exp(self.fog_alk * (c[:, 2] - 8) / 16)
        dis = self.sol_c * s * _DIS(np.clip(c[:, 0], 0, 30)) * 1.08 ** ((c[:, 3] - 20) / 2)
        return dev, fog, dis, 1 + self.sol_dev * s

    def _raw(self, c, x):
        dev, fog, dis, gain = self._parts(c)
        q = np.clip(((x + self.x0) / self.stretch - _XG[0]) / 0.02, 0, len(_XG) - 1.000001)
        i = q.astype(int)
        f = q - i
        d = (dev[:, i] * (1 - f) + dev[:, i + 1] * f) * (self.c * gain)[:, None]
        left = self.S - d - (fog + dis)[:, None]
        return np.interp(left, _CV, _CVY)

    def density_many(self, controls, log_exposure):
        return self.base_density + self._raw(controls_matrix(controls), np.asarray(log_exposure, float).ravel())

    def density(self, controls, log_exposure):
        x = np.asarray(log_exposure, float)
        return self.density_many(controls, x)[0].reshape(x.shape)


def make_film(seed: int, hardness: str) -> Film:
    return Film(int(seed), hardness)
