"""Family (a): a population of grains.

Physics (all references from memory; constants invented):
 * grain sizes log-normal; light caught by a grain ~ d**alpha, Poisson quanta (Silberstein 1922; Webb 1939;
   overview James 1977 ch. 4);
 * a grain that caught n quanta starts developing at a rate that is a Hill function of n, after an
   induction time (James 1977 ch. 13-14); once started its silver grows over a duration ~ its size
   (all-or-none per grain, Sheppard & Mees 1907; Hodgson 1917);
 * density of an area ~ number of grains * their projected area (Nutting 1913);
 * SOLVENT etches the surface of grains that are still halide: d -> d - e, small ones vanish first;
   where neighbours have gone the bath is less loaded, so etching is somewhat faster there;
 * activity of the developer: LOG-LINEAR in alkali (saturating in some films), falls exponentially with
   solvent, dilution as a power 0.4..1, temperature Arrhenius;
 * fog: unexposed grains start at a slow rate that rises more steeply with alkali.
The fate of a grain depends on exposure and on one development dose tau, so a table U[tau, size, logE] is made
once per film and recipes only interpolate it.
"""

from __future__ import annotations
from dataclasses import dataclass, field
import numpy as np
from scipy.special import pdtr
from .common import control_arrays, margin, AIMS, TIME, SOLV, ALK

R_GAS = 8.314
EDGES = np.array([0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 15, 19, 24, 30, 40, 55, 80])  # classes of quanta: (..,edge]
N_MID = np.array([0, 1, 2, 3, 4, 5, 6, 7, 8, 9.5, 11.5, 14, 17.5, 22, 27.5, 35.5, 48, 68, 110.0])
LTAU = np.linspace(-2.6, 1.6, 64)
LE = np.linspace(-5.0, 5.0, 161)


@dataclass
class Film:
    name: str
    box_speed: int
    base_density: float
    kind: str
    p: dict = field(repr=False)
    U: np.ndarray = field(repr=False)  # (tau, size, logE)
    shift: float = 0.0
    optimum: dict = field(default_factory=dict)  # recipe the film was built around

    # --- bath
    def activity(self, s, a, T, N):
        p = self.p
        ae = a if p["alk_sat"] is None else p["alk_sat"] * -np.expm1(-a / p["alk_sat"])
        arr = np.exp(-p["Ea"] / R_GAS * (1 / (T + 273.15) - 1 / 293.15))
        return np.exp(p["c_alk"] * ae - p["f_solv"] * s) * (16.0 / (1 + N)) ** p["dil"] * arr

    def density_many(self, controls, log_exposure):
        t, s, a, T, N = control_arrays(controls)
        le = np.atleast_1d(np.asarray(log_exposure, float))
        out = np.empty((len(t), len(le)))
        # exposure interpolation of the table, once
        x = np.clip((le + self.shift - LE[0]) / (LE[1] - LE[0]), 0, len(LE) - 1 - 1e-9)
        i = x.astype(int)
        f = x - i
        UE = self.U[:, :, i] * (1 - f) + self.U[:, :, i + 1] * f
        step = max(1, 400_000 // (len(le) * UE.shape[1]))
        for k in range(0, len(t), step):
            q = slice(k, k + step)
            out[q] = self._block(t[q], s[q], a[q], T[q], N[q], UE)
        return out

    def _block(self, t, s, a, T, N, UE):
        p = self.p
        tau = np.maximum(p["k0"] * t * self.activity(s, a, T, N), 1e-4)
        y = np.clip((np.log10(tau) - LTAU[0]) / (LTAU[1] - LTAU[0]), 0, len(LTAU) - 1 - 1e-9)
        j = y.astype(int)
        g = (y - j)[:, None, None]
        U = UE[j] * (1 - g) + UE[j + 1] * g  # (R, K, N)
        fog = np.exp(-p["fog"] * tau**1.2 * np.exp(p["c_fog"] * (a - 8.0)) * (1 + p["fog_solv"] * s))
        etchT = np.exp(-p["Ea_etch"] / R_GAS * (1 / (T + 273.15) - 1 / 293.15))
        e0 = p["etch"] * s ** p["etch_pow"] * t * etchT  # in units of the median size
        w = p["w"][None, :, None]
        gone = 1 - np.sum(w * U, axis=1, keepdims=True)
        e = e0[:, None, None] * (1 + p["local"] * gone)
        r = np.maximum(0.0, 1 - e / p["d"][None, :, None])
        left = r * r * (p["cov"] + (1 - p["cov"]) * r)
        return self.base_density + p["stain"] + p["Dtot"] * fog[:, None] * np.sum(w * U * left, axis=1)

    def density(self, controls, log_exposure):
        return self.density_many([controls], log_exposure)[0]


def _table(p, LTAU=LTAU, LE=LE):
    """Halide left U[tau, size, logE], averaged over quanta and over scatter in sensitivity."""
    d, tau = p["d"], 10**LTAU
    h = (N_MID / p["n_half"]) ** p["hill"]
    k = np.maximum(p["rate_n"] * h / (1 + h), 1e-7)  # start rate per quanta class
    k[0] = 1e-7
    Tg = p["grow"] * d[None, :, None]  # growth duration ~ size
    x = np.maximum(tau[:, None, None] - p["t_ind"], 0.0)
    k3 = k[None, None, :]
    Y = np.minimum(x, Tg)
    und = (
        np.exp(-k3 * x) + np.exp(-k3 * (x - Y)) * (1 - Y / Tg + 1 / (k3 * Tg)) - np.exp(-k3 * x) * (1 + 1 / (k3 * Tg))
    )  # (tau, K, M)
    und = np.clip(und, 0, 1)
    zz, zw = np.array([-1.7321, 0.0, 1.7321]), np.array([1, 4, 1]) / 6.0
    P = 0
    for z, wz in zip(zz, zw):
        q = 10 ** (LE[None, :] + z * p["scatter"]) * p["q0"] * d[:, None] ** p["alpha"]
        cum = pdtr(EDGES[:, None, None], q[None])  # (M-1, K, E)
        cum = np.concatenate([cum, np.ones((1,) + cum.shape[1:])])
        P = P + wz * np.diff(cum, axis=0, prepend=0.0)
    return np.einsum("tkm,mke->tke", und, P, optimize=True)


KNOBS = {  # wanted etch at the built-around recipe, etch strength per mL/L per min (factor 7), alkali slope, margin
    "easy": dict(
        Dtot=(2.6, 3.9),
        sig=(0.18, 0.36),
        etch=(0.01, 0.12),
        k=(0.0004, 0.0028),
        c=(0.004, 0.025),
        scatter=(0.04, 0.2),
        off=0.03,
        margin=(0.25, 9.0),
    ),
    "medium": dict(
        Dtot=(2.2, 3.7),
        sig=(0.20, 0.42),
        etch=(0.02, 0.20),
        k=(0.0008, 0.0056),
        c=(0.012, 0.06),
        scatter=(0.06, 0.3),
        off=0.06,
        margin=(0.05, 0.7),
    ),
    "hard": dict(
        Dtot=(2.0, 3.5),
        sig=(0.22, 0.46),
        etch=(0.03, 0.26),
        k=(0.0009, 0.0063),
        c=(0.025, 0.10),
        scatter=(0.1, 0.34),
        off=0.10,
        margin=(-0.06, 0.16),
    ),
}
LEANS = ["projection", "projection", "light_table", "scan", "contrasty", "bright_open"]


def _draw(rng, kn, lean):
    U, LU = rng.uniform, lambda a, b: float(np.exp(rng.uniform(np.log(a), np.log(b))))
    shape = ["cubic grain", "flat grain", "mixed old-style grain", "fine cubic grain"][rng.integers(4)]
    base_kind = ["clear base", "grey base", "bluish base"][rng.integers(3)]
    base = {"clear base": U(0.05, 0.12), "grey base": U(0.18, 0.33), "bluish base": U(0.08, 0.2)}[base_kind]
    sig = U(*kn["sig"])
    z = np.linspace(-2.4, 2.4, 12)
    d = np.exp(sig * z)
    w = np.exp(-0.5 * z * z) * d**2
    w /= w.sum()
    p = dict(
        d=d,
        w=w,
        alpha={"flat grain": U(1.9, 2.3)}.get(shape, U(2.3, 3.0)),
        scatter=U(*kn["scatter"]),
        q0=10.0,
        n_half=LU(4, 14),
        hill=U(1.3, 2.6),
        rate_n=LU(1.5, 4.0),
        t_ind=U(0.02, 0.25),
        grow=LU(0.15, 0.7),
        Dtot=U(*kn["Dtot"]),
        stain=U(0.0, 0.04),
        cov=U(0.2, 0.9),
        c_alk=LU(*kn["c"]),
        alk_sat=(U(15, 40) if rng.random() < 0.4 else None),
        f_solv=LU(0.003, 0.03),
        dil=U(0.4, 1.0),
        Ea=U(45e3, 75e3),
        Ea_etch=U(25e3, 45e3),
        etch=LU(*kn["k"]),
        etch_pow=U(0.85, 1.1),
        local=U(0.0, 0.9),
        fog=LU(0.006, 0.05),
        c_fog=LU(0.008, 0.04),
        fog_solv=U(0, 0.03),
    )
    t_opt, a_opt = U(4, 20), U(0, 24)
    s_opt = float(np.clip((U(*kn["etch"]) / (p["etch"] * t_opt)) ** (1 / p["etch_pow"]), 0, 12))
    dose = LU(0.8, 2.2)
    film = Film(
        "",
        int(rng.choice([25, 50, 100, 125, 200, 400])),
        round(float(base), 3),
        f"{shape}, {base_kind}",
        p,
        None,
        0.0,
        {TIME: t_opt, SOLV: s_opt, ALK: a_opt},
    )
    p["k0"] = 1.0
    p["k0"] = dose / (t_opt * float(film.activity(s_opt, a_opt, 20.0, 15.0)))
    # its curve at that recipe, from a one-dose table
    le = np.linspace(-3.5, 3.5, 71)
    y = (
        film._block(
            *(np.array([v]) for v in (t_opt, s_opt, a_opt, 20.0, 15.0)),
            np.repeat(_table(p, np.array([np.log10(dose)]), le), len(LTAU), 0),
        )[0]
        - base
    )
    mid = AIMS[lean]["midtone_density"]
    if y[0] < mid or y[-1] > mid:
        return film, -9.0
    m = float(np.interp(-mid, -y, le))
    g = np.interp([m - 0.25, m + 0.25, m + 0.8], le, y)
    o = dict(dmax=[y[0]], gradient=[(g[0] - g[1]) / 0.5], highlight=[g[2]])
    return film, margin(o, AIMS[lean])


def make_film(seed: int, hardness: str = "medium") -> Film:
    """Drawn anew (same random stream) until the recipe it is built around meets the needs of the use the film
    leans to by a margin of the hardness; so every film has SOME recipe for SOME use, at a place of its own."""
    kn = KNOBS[hardness]
    rng = np.random.default_rng([seed, {"easy": 1, "medium": 2, "hard": 3}[hardness], 7041])
    lean = LEANS[rng.integers(len(LEANS))]
    lo, hi = kn["margin"]
    best = None
    for _ in range(40):
        film, m = _draw(rng, kn, lean)
        miss = max(lo - m, m - hi, 0.0)
        if best is None or miss < best[0]:
            best = (miss, film)
        if miss == 0:
            break
    film = best[1]
    film.name = f"grain film {hardness[0]}{seed}"
    film.U = _table(film.p)
    # box speed: the mid-tone falls near the middle of the window of its use at that recipe
    a = AIMS[lean]
    x = np.linspace(-4, 4, 321)
    y = film.density(film.optimum, x) - film.base_density
    centre = 0.5 * (a["midtone_log_exposure_min"] + a["midtone_log_exposure_max"])
    film.shift = float(np.interp(-a["midtone_density"], -y, x)) - centre - kn["off"] * rng.standard_normal()
    return film
