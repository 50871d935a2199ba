"""Family h, "emulsion": an emulsion in layers, two developing agents, solvent, ammonia.

Chain: alkali -> pH (a buffer that gives way, then saturates) -> the two agents' rates and their
superadditive product -> a dose of development per layer (reached after diffusion) -> silver grown
autocatalytically from the exposed specks, its halide supplied Michaelis-Menten wise -> halide left
-> thinned by solvent (small left-over grains first) -> density in the second development.
"""

from __future__ import annotations
import numpy as np
from .common import DEFAULTS, LX, controls_matrix

_XT = np.arange(-5.5, 6.0001, 0.05)
_TAU = 20.0 * (np.arange(90) / 89.0) ** 2


class Film:
    def __init__(self, p):
        self.p = p
        self.base_density = p["base"]
        self._table()

    def _table(self):
        """Silver grown from specks of every exposure, over the dose of development: (dose, exposure)."""
        p = self.p
        F = p["sens"] / (1 + np.exp(-_XT / p["spread"]))  # part of the halide that can start
        e = 10.0 ** (p["speck"] * _XT)
        c = p["c0"] + p["c1"] * e / (1 + e)  # catalytic surface of the specks
        y = np.zeros_like(_XT)
        rows = [y]
        for a, b in zip(_TAU[:-1], _TAU[1:]):
            n = max(2, int(np.ceil((b - a) / 0.08)))
            dt = (b - a) / n
            for _ in range(n):
                left = np.maximum(F - y, 0)
                v = (c * F + p["auto"] * y ** (2 / 3)) * left / (p["km"] + left)
                y = np.minimum(F, y + dt * v)
            rows.append(y)
        self.tab = np.array(rows)

    def _chemistry(self, m):
        p = self.p
        t, s, a, T, w = m.T
        dT = T - 20.0
        ph = p["ph0"] + p["dph"] * a ** p["phn"] / (p["phk"] ** p["phn"] + a ** p["phn"])
        c = (1 + p["wref"]) / (1 + w)
        am = c ** p["om"] * np.exp(p["em"] * dT) * 10.0 ** (0.12 * (ph - p["ph0"]))
        ion = 1 / (1 + 10.0 ** (p["pk"] - ph))
        ah = p["hq"] * c ** p["oh"] * np.exp(p["eh"] * dT) * ion
        rate = am + ah + p["syn"] * np.sqrt(am * ah)
        u = s / p["sopt"]
        phys = u / (1 + u + p["over"] * u * u)  # physical development: rises, then starves
        rate = rate * (1 + p["phys"] * phys)
        # inhibitor: fewer specks start until the bath is active enough
        gain = p["uncover"] * phys - p["inhib"] / (1 + np.exp((np.log(rate) - p["lr0"]) / p["inw"]))
        power = p["ks"] * (s + p["amm"] * a) ** p["ns"]
        S = power * t ** p["nt"] * np.exp(0.03 * dT)
        return t, dT, rate, gain, S

    def density_many(self, controls, log_exposure):
        p = self.p
        m = controls_matrix(controls)
        x = np.atleast_1d(np.asarray(log_exposure, float))
        t, dT, rate, gain, S = self._chemistry(m)
        # glare and halation: a breath of light everywhere, more of it under bright places
        xe = np.log10(10.0 ** np.clip(x, -9, 9) + 10.0 ** p["glare"]) + p["shift"]
        y = 0.0
        for l, wt in enumerate(p["layers"]):
            wait = p["wait"] * (l / (len(p["layers"]) - 1)) ** 2 * np.exp(-0.025 * dT)
            tau = p["kt"] * rate * np.maximum(t - p["ind"] / np.sqrt(rate) - wait, 0)
            q = np.clip(np.sqrt(tau / 20.0) * 89, 0, 89 - 1e-9)
            i = q.astype(int)
            f = (q - i)[:, None]
            rows = self.tab[i] * (1 - f) + self.tab[i + 1] * f
            xl = xe - p["shade"] * l
            if l == len(p["layers"]) - 1:
                xl = xl + p["hal"] * np.log1p(np.exp((xl - 0.8) / 0.3))
            z = np.clip((xl[None, :] + gain[:, None] - _XT[0]) / 0.05, 0, len(_XT) - 1 - 1e-9)
            j = z.astype(np.int32)
            g = z - j
            k = j + (np.arange(len(m), dtype=np.int32) * len(_XT))[:, None]
            flat = rows.ravel()
            a = flat[k]
            y = y + wt * (a + g * (flat[k + 1] - a))
        over = np.maximum(p["kt"] * rate * t - p["fog0"], 0)
        fog = p["fog"] * over / (over + 8.0)
        left = np.clip((1 - y) * (1 - fog)[:, None], 1e-6, 1)
        left = left * np.exp(-S[:, None] * (1 + p["small"] * (1 - left)))
        d = p["black"] * left ** p["cover"] + p["stain"]
        return self.base_density + np.maximum(d, 0.0)

    def density(self, controls, log_exposure):
        x = np.asarray(log_exposure, float)
        m = controls_matrix(controls)
        return self.density_many(m[:1], x.ravel())[0].reshape(x.shape)


def _draw(rng, hardness):
    U = rng.uniform
    steep = {"hard": U(0.9, 1.5), "medium": U(0.7, 1.25), "easy": U(0.4, 1.0)}.get(hardness, U(0.5, 1.4))
    clear = rng.random() < 0.5
    nl = int(rng.integers(2, 5))
    wl = U(0.6, 1.4, nl)
    # the recipe this emulsion likes
    sweet = np.array([np.exp(U(np.log(4.5), np.log(17.0))), 0.0, U(2, 22), 20.0, U(8, 20)])
    r = rng.random()
    sweet[1] = 0.0 if r < 0.2 else U(0.5, 4) if r < 0.6 else U(4, 12)
    if rng.random() < 0.6:
        sweet[4] = DEFAULTS["developer_parts_water"]
    p = dict(
        base=U(0.03, 0.09) if clear else U(0.14, 0.35),
        black=U(1.5, 3.43),
        sens=1 - (U(0.0, 0.03) if r < 0.2 else U(0.01, 0.13)),
        spread=U(0.13, 0.42),
        speck=U(0.3, 1.0),
        c0=10 ** U(-3, -1.3),
        c1=U(0.3, 1.2),
        auto=U(0.0, 1.0) ** 2 * 1.2,
        km=U(0.05, 0.8),
        ph0=U(8.8, 10.0),
        dph=U(0.5, 2.0) * steep,
        phk=U(3, 16),
        phn=U(1.0, 2.4),
        wref=U(8, 20),
        om=U(0.3, 0.8) * steep,
        oh=U(0.6, 1.2) * steep,
        em=U(0.025, 0.06) * steep,
        eh=U(0.06, 0.11) * steep,
        pk=U(9.8, 11.2),
        hq=U(0.3, 3.0),
        syn=U(0.0, 1.8),
        sopt=U(1.5, 9.0),
        over=U(0.0, 0.25),
        phys=U(0.0, 0.9) * steep,
        uncover=U(0.0, 0.7) * steep,
        inhib=U(0.0, 0.8) * steep if rng.random() < 0.6 else 0.0,
        inw=U(0.08, 0.4),
        amm=U(0.0, 0.12),
        ns=U(0.7, 1.4),
        nt=U(0.4, 1.0),
        small=U(2.0, 14.0),
        shade=U(0.03, 0.22),
        wait=U(0.0, 1.6),
        ind=U(0.05, 1.0),
        hal=U(0.0, 0.25),
        glare=U(-3.4, -1.9),
        fog0=U(2.0, 14.0),
        fog=U(0.02, 0.25),
        cover=U(0.85, 1.15),
        stain=U(0.0, 0.03) if clear else U(0.0, 0.06),
        layers=tuple(wl / wl.sum()),
        lr0=0.0,
        kt=1.0,
        ks=0.0,
        shift=0.0,
    )
    return p, sweet, U(0.9, 4.5), steep


def make_film(seed, hardness="medium"):
    rng = np.random.default_rng([int(seed), 7301, sum(map(ord, str(hardness)))])
    for _ in range(400):
        p, sweet, dose, steep = _draw(rng, hardness)
        f = Film(p)
        m = sweet[None]
        rate = f._chemistry(m)[2][0]
        p["kt"] = dose / (rate * max(sweet[0] - p["ind"] / np.sqrt(rate) - 0.4 * p["wait"], 1.0))
        p["lr0"] = np.log(rate) - rng.uniform(0.1, 0.7)
        # solvent: so much thinning of blacks at the liked recipe (or at a middling one, if it likes none)
        s = sweet[1] if sweet[1] > 0 else rng.uniform(1.0, 4.0)
        p["ks"] = rng.uniform(0.03, 0.22) * steep / ((s + p["amm"] * sweet[2]) ** p["ns"] * sweet[0] ** p["nt"])
        x = np.arange(-4.5, 4.501, 0.05)
        g, p["glare"] = p["glare"], -9.0
        d = f.density_many(m, x)[0] - f.base_density
        p["glare"] = g
        mid = rng.uniform(0.75, 1.35)
        if not (1.2 <= d[0] <= 3.5 and d[0] > mid + 0.3 and d[-1] < 0.75 * mid):
            continue
        xc = np.interp(-mid, -d, x)
        p["shift"] = float(xc - 0.14 * rng.standard_t(4))
        lo, hi = np.interp([xc - 0.25, xc + 0.25], x, d)
        lights = np.interp(xc + 0.8, x, d)
        if not (0.6 <= (lo - hi) / 0.5 <= 3.0 and lights < 0.65):
            continue
        dd = f.density_many(controls_matrix(dict(DEFAULTS)), LX)[0] - f.base_density
        if not (1.2 <= dd[0] <= 3.5):
            continue
        f.hardness, f.sweet = hardness, sweet
        return f
    raise RuntimeError("no film drawn")
