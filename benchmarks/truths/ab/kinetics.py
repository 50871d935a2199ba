"""Family (b): reaction-diffusion kinetics of the first developer.

Physics (references from memory; constants invented):
 * two depths of one gelatin layer, three emulsions (fast/mid/slow) in each; light weaker at the bottom;
 * developer diffuses into the gelatin (bath -> top -> bottom) and is used up locally; bromide is set free by
   development, restrains it and diffuses out (Sheppard & Mees 1907; James 1977 ch. 13-15);
 * halide goes unactivated u -> activated a (latent image; rate ~ saturating power of exposure) -> silver;
   everything runs at r = C**m * [OH-]**n / (1 + Br/K) * Arrhenius;
 * [OH-] from the charge balance of a weak buffer plus ammonia (pKa 9.25), diluted with the bath: so alkali acts
   as a titration curve, and dilution acts twice (agent and buffer);
 * solvent (and, feebly, ammonia) dissolves halide towards a saturation; what is dissolved washes out or plates as
   silver onto developed silver and onto fog centres (solution-physical development, James 1977 ch. 13; Shuman &
   James 1971): where silver is plentiful the halide keeps dissolving (clears the highlights), where there is none
   the layer saturates (blacks go more slowly);
 * the solvent also ties down some developer activity; fog grows with [OH-] and with dissolved silver.
Fixed step in time (DT), linear in between, so the truth does not depend on how recipes are grouped.
"""

from __future__ import annotations
from dataclasses import dataclass, field
import numpy as np
from .common import control_arrays, margin, AIMS, TIME, SOLV, ALK

R_GAS = 8.314
PKA_NH4, KW = 9.25, 14.0
DT = 0.5


@dataclass
class Film:
    name: str
    box_speed: int
    base_density: float
    kind: str
    p: dict = field(repr=False)
    shift: float = 0.0
    optimum: dict = field(default_factory=dict)

    def pH(self, a, N):
        """pH of the working bath: buffer (total cB, pKa) set to pH0, plus ammonia a mL/L."""
        p = self.p
        cB = p["cB"] * 16.0 / (1 + N)
        cN = p["amm_mol"] * a
        frac0 = 1 / (1 + 10 ** (p["pKB"] - p["pH0"]))
        oh0 = 10 ** (p["pH0"] - KW)
        lo = np.full(np.shape(a), p["pH0"] - 0.3)
        hi = np.full(np.shape(a), 12.8)
        for _ in range(22):
            x = 0.5 * (lo + hi)
            need = cB * (1 / (1 + 10 ** (p["pKB"] - x)) - frac0) + 10 ** (x - KW) - oh0 - cN / (1 + 10 ** (x - PKA_NH4))
            up = need < 0
            lo = np.where(up, x, lo)
            hi = np.where(up, hi, x)
        return 0.5 * (lo + hi)

    def bath_rate(self, s, a, T, N):
        """Rate factor of the bath apart from the concentration of agent inside the gelatin."""
        p = self.p
        arr = np.exp(-p["Ea"] / R_GAS * (1 / (T + 273.15) - 1 / 293.15))
        oh = 10 ** (self.pH(a, N) - p["pH_ref"])
        return oh ** p["n_oh"] / (1 + s / p["s_tie"]) * arr, oh

    def density_many(self, controls, log_exposure):
        t, s, a, T, N = control_arrays(controls)
        le = np.atleast_1d(np.asarray(log_exposure, float))
        bath, inv = np.unique(np.stack([s, a, T, N]), axis=1, return_inverse=True)
        inv = np.ravel(inv)
        out = np.empty((len(t), len(le)))
        step = max(1, 12_000 // len(le))
        order = np.argsort(inv, kind="stable")
        bounds = np.searchsorted(inv[order], np.arange(0, bath.shape[1] + step, step))
        for k in range(len(bounds) - 1):
            rows = order[bounds[k] : bounds[k + 1]]
            if len(rows):
                b = bath[:, k * step : (k + 1) * step]
                H = self._run(*b, le, float(t[rows].max()))  # (steps+1, baths, N)
                y = t[rows] / DT
                i = np.minimum(y.astype(int), len(H) - 2)
                f = (y - i)[:, None]
                q = inv[rows] - k * step
                out[rows] = H[i, q] * (1 - f) + H[i + 1, q] * f
        return self.base_density + self.p["stain"] + self.p["Dtot"] * out

    def density(self, controls, log_exposure):
        return self.density_many([controls], log_exposure)[0]

    def _run(self, s, a, T, N, le, t_end):
        """Halide left after every step; (steps+1, baths, exposures)."""
        p = self.p
        steps = max(1, int(np.ceil(t_end / DT - 1e-9)))
        rate, oh = self.bath_rate(s, a, T, N)
        B, E = len(s), len(le)
        col = lambda v: np.ascontiguousarray(np.broadcast_to(v[:, None], (B, E)))
        rate = col(p["k0"] * rate) * DT
        fogr = col(p["fog"] * oh ** p["n_fog"]) * DT
        fog_s = fogr * p["fog_plate"]
        arrd = np.exp(-p["Ea_diss"] / R_GAS * (1 / (T + 273.15) - 1 / 293.15))
        d0 = col(p["ks"] * (s + p["amm_solv"] * a) * arrd) * DT
        # solubility is that of the complex, hence proportional to the complexing agent
        Ss = col(p["S_sat"] * (s + p["amm_solv"] * a) + 1e-6)
        C0 = col((16.0 / (1 + N)))
        # latent image: (2, 3, 1, E), saturating power of exposure
        x = 10.0 ** (le + self.shift)
        le_d = np.stack([x, x * p["deep"]])[:, None, :] / p["E_j"][None, :, None]
        v = le_d ** p["g"]
        ki = (v / (1 + v / p["ki_sat"]))[:, :, None, :]
        w = p["w_j"][None, :, None, None] * 0.5
        sj = p["diss_j"][None, :, None, None]
        u = np.ones((2, 3, B, E)) * w
        act = np.zeros((2, 3, B, E))
        C = np.zeros((2, B, E))
        Br = np.full((2, B, E), p["br_bath"])
        S = np.zeros((2, B, E))
        Ag = np.zeros((2, B, E))
        src = np.empty((2, B, E))
        src[0] = C0
        kd, kb, kout, kp = p["k_dev"] * DT, p["k_br"] * DT, p["k_out"] * DT, p["k_plate"] * DT
        kdl = np.array([kd, 0.6 * kd])[:, None, None]
        H = np.empty((steps + 1, B, E))
        H[0] = 1.0
        for n in range(steps):
            r = rate * C ** p["m_C"] / (1 + Br / p["K_br"])  # (2,B,E), already times DT
            h = u + act
            hs = h * sj
            d0h = d0 * (hs[:, 0] + hs[:, 1] + hs[:, 2])
            sink = kp * (Ag + p["fog_centres"])
            S = (S + d0h) / (1 + d0h / Ss + sink + kout)
            diss = (d0 * np.maximum(1 - S / Ss, 0.0))[:, None] * sj
            rr = r[:, None]
            go = ki * rr + (fogr + fog_s * S)[:, None]
            # exact within the step for fixed rates: u -> act -> silver, both leaking to solution
            tot = go + diss
            eu = np.exp(-tot)
            new = u * (1 - eu) * (go / (tot + 1e-12))
            u = u * eu
            kr = p["k_grow"] * rr
            out = kr + diss
            ea = np.exp(-0.5 * out)
            was = act + new
            act = (act * ea + new) * ea
            ka = (was - act) * (kr / (out + 1e-12))
            dev = ka[:, 0] + ka[:, 1] + ka[:, 2]
            Ag = Ag + dev + sink * S
            src[1] = C[0]
            C = (C + kdl * src) / (1 + kdl + p["use"] * dev / (C + 0.05))
            Br = (Br + p["br_gain"] * dev + kb * p["br_bath"]) / (1 + kb)
            H[n + 1] = (u + act).sum(axis=(0, 1))
        return H


KNOBS = {
    "easy": dict(
        g=(1.4, 2.4),
        amm=0.02,
        Dtot=(2.5, 3.9),
        ks=(0.0016, 0.0112),
        n_oh=(0.08, 0.32),
        span=(0.2, 0.9),
        off=0.03,
        want=(0.01, 0.35),
        margin=(0.25, 9.0),
    ),
    "medium": dict(
        g=(1.0, 2.1),
        amm=0.05,
        Dtot=(2.2, 3.7),
        ks=(0.006, 0.042),
        n_oh=(0.25, 0.75),
        span=(0.2, 0.9),
        off=0.06,
        want=(0.05, 1.2),
        margin=(0.05, 0.7),
    ),
    "hard": dict(
        g=(1.0, 2.0),
        amm=0.08,
        Dtot=(2.0, 3.5),
        ks=(0.009, 0.063),
        n_oh=(0.4, 1.0),
        span=(0.25, 1.0),
        off=0.10,
        want=(0.1, 1.6),
        margin=(-0.06, 0.16),
    ),
}
LEANS = ["projection", "projection", "light_table", "scan", "contrasty", "bright_open"]


def _draw(rng, kn, lean):
    U, LU = rng.uniform, lambda a, b: float(np.exp(rng.uniform(np.log(a), np.log(b))))
    emul = ["thin layer", "thick layer", "two-coat", "single coat"][rng.integers(4)]
    base_kind = ["clear base", "grey base", "bluish base"][rng.integers(3)]
    base = {"clear base": U(0.05, 0.12), "grey base": U(0.18, 0.33), "bluish base": U(0.08, 0.2)}[base_kind]
    span = U(*kn["span"])
    wj = rng.dirichlet([6, 6, 3])
    thick = U(0.6, 1.6) * (1.5 if emul == "thick layer" else 1.0)
    pKB = U(9.0, 10.6)
    pH0 = pKB + U(-1.0, 0.0)
    p = dict(
        Dtot=U(*kn["Dtot"]),
        stain=U(0.0, 0.04),
        w_j=wj,
        E_j=10 ** (span * np.array([-0.5, 0.0, 0.6])),
        diss_j=np.array([U(0.4, 0.8), 1.0, U(1.3, 3.0)]),
        g=U(*kn["g"]),
        ki_sat=LU(2, 20),
        deep=10 ** -U(0.05, 0.4),
        k_grow=LU(0.8, 4.0),
        m_C=U(0.45, 0.95),
        K_br=LU(0.3, 3.0),
        br_bath=U(0.0, 0.15),
        br_gain=U(0.3, 1.5),
        k_dev=LU(0.8, 3.0) / thick**2,
        k_br=LU(0.15, 0.8) / thick**2,
        use=U(0.1, 1.2),
        k_out=LU(0.1, 0.6) / thick**2,
        k_plate=LU(1.0, 10.0),
        fog_centres=LU(0.002, 0.02),
        S_sat=LU(0.003, 0.02),
        ks=LU(*kn["ks"]),
        amm_solv=U(0.1, 1.0) * kn["amm"],
        s_tie=LU(50, 300),
        n_oh=U(*kn["n_oh"]),
        pKB=pKB,
        pH0=pH0,
        pH_ref=pH0 + 0.5,
        cB=LU(0.02, 0.12),
        amm_mol=U(0.0045, 0.0060),
        Ea=U(45e3, 75e3),
        Ea_diss=U(25e3, 45e3),
        fog=LU(0.0003, 0.004),
        n_fog=U(0.4, 1.0),
        fog_plate=LU(1, 15),
    )
    t_opt, a_opt = U(4, 20), U(0, 24)
    s_opt = U(*kn["want"]) / (p["ks"] * t_opt)
    s_opt = float(np.clip(s_opt, 0, 12) if rng.random() > 0.1 else 0.0)
    dose = LU(1.0, 4.0)
    film = Film(
        "",
        int(rng.choice([25, 50, 100, 125, 200, 400])),
        round(float(base), 3),
        f"{emul}, {base_kind}",
        p,
        0.0,
        {TIME: t_opt, SOLV: s_opt, ALK: a_opt},
    )
    one = [np.array([v]) for v in (s_opt, a_opt, 20.0, 15.0)]
    p["k0"] = dose / (t_opt * float(film.bath_rate(*one)[0][0]))
    x = np.linspace(-4, 4, 81)
    y = film.density(film.optimum, x) - base
    a = AIMS[lean]
    mid = a["midtone_density"]
    if y[0] < mid or y[-1] > mid:
        return film, -9.0
    m = float(np.interp(-mid, -y, x))
    q = np.interp([m - 0.25, m + 0.25, m + 0.8], x, y)
    centre = 0.5 * (a["midtone_log_exposure_min"] + a["midtone_log_exposure_max"])
    film.shift = m - centre
    return film, margin(dict(dmax=[y[0]], gradient=[(q[0] - q[1]) / 0.5], highlight=[q[2]]), a)


def make_film(seed: int, hardness: str = "medium") -> Film:
    """Drawn anew (same stream) until the recipe it is built around meets the needs of the use the film leans to by a
    margin of the hardness."""
    kn = KNOBS[hardness]
    rng = np.random.default_rng([seed, {"easy": 1, "medium": 2, "hard": 3}[hardness], 9173])
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
    film.name = f"kinetic film {hardness[0]}{seed}"
    film.shift -= kn["off"] * rng.standard_normal()
    return film
