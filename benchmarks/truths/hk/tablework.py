"""Family k, "tablework": no physics. Warped scales read from tables, bottlenecks, rational
functions and small nets with weights of one sign; thresholds and flats wherever nature liked.

Four kinds: "table" (scales added, with a bottleneck), "rational", "net" (three small nets steer one
curve), "through" (a net of ramps and bends takes exposure and scales together).
Lighter with every scale (in most films): all couplings have one sign. A few films sour when
developed too long: their lights grow a veil again.
"""

from __future__ import annotations
import numpy as np
from .common import DEFAULTS, LX, controls_matrix

_T = np.array([0.0, 1.5, 3, 4.5, 6, 7.5, 9, 11, 13, 16, 20, 25, 32, 60])
_S = np.array([0.0, 0.7, 1.5, 2.5, 3.5, 5, 6.5, 8, 10, 12.5, 16, 40])
_A = np.array([0.0, 1.5, 3, 5, 7, 9, 11.5, 14, 17, 21, 26, 32, 60])
_H = np.array([10.0, 16, 18, 20, 22, 24, 27, 35])
_W = np.array([0.0, 4, 7, 10, 13, 17, 22, 30, 80])
_Z = np.arange(-6.0, 6.0001, 0.05)


def _scale(rng, knots, law, rough, dead=0, flat=None):
    """A rising table: the increments of `law` shaken; the first `dead` and those past `flat` nothing."""
    inc = np.diff(law(knots)) * rng.gamma(1 / rough, rough, knots.size - 1)
    inc[:dead] *= 0.03
    if flat is not None:
        inc[flat:] *= 0.03
    return np.concatenate([[0.0], np.cumsum(inc)])


def _tone_table(rng, width):
    """A falling curve 1 -> 0 over _Z, of several lumps, none of a textbook's form."""
    n = int(rng.integers(2, 5))
    at = np.sort(rng.normal(0, 0.55 * width, n))
    wd = width * rng.uniform(0.35, 1.0, n)
    wt = rng.dirichlet(np.full(n, 3.0))
    den = np.zeros_like(_Z)
    for a, w, q in zip(at, wd, wt):
        u = (_Z - a) / w
        form = int(rng.integers(3))
        b = (
            np.maximum(1 - np.abs(u) / 2.2, 0)
            if form == 0
            else 1 / np.cosh(u) ** 2
            if form == 1
            else np.exp(-(np.abs(u) ** 3) / 4)
        )
        den += q * b / b.sum()
    c = np.cumsum(den)
    return np.clip(1 - c / c[-1], 0, 1)


class Film:
    def __init__(self, p):
        self.p = p
        self.base_density = p["base"]

    def _scales(self, m):
        p = self.p
        t, s, a, T, w = m.T
        return (
            np.stack(
                [
                    np.interp(t, _T, p["t"]),
                    np.interp(s, _S, p["s"]),
                    np.interp(a, _A, p["a"]),
                    np.interp(T, _H, p["h"]),
                    p["w"][-1] - np.interp(w, _W, p["w"]),
                ],
                1,
            )
            - p["origin"]
        )

    def _drive(self, u, q):
        """(R,5) scales -> (R,), rising in each."""
        v = u @ q["lin"]
        if q["kind"] == "table":
            neck = np.minimum(u[:, 0] * q["n"][0], q["n"][2] + u[:, 2] * q["n"][1])
            v = v + neck + q["jump"] * np.clip((u @ q["jl"] - q["ja"]) / q["jw"], 0, 1)
        elif q["kind"] == "rational":
            e = np.maximum(1 + v / q["half"], 0.02)
            v = q["half"] * q["top"] * (e ** q["pow"] - 1) / (q["top"] - 1 + e ** q["pow"])
        else:
            z = u @ q["w1"] - q["b1"]
            act = np.where(q["hardact"], np.clip(z, 0, 1), 1 / (1 + np.exp(-np.clip(4 * z - 2, -40, 40))))
            v = 0.35 * v + act @ q["w2"]
        return v

    def density_many(self, controls, log_exposure):
        p = self.p
        m = controls_matrix(controls)
        x = np.atleast_1d(np.asarray(log_exposure, float))
        u = self._scales(m)
        # blacks: held until a threshold, then falling off
        lb = np.maximum(self._drive(u, p["qb"]) + p["b0"], 0)
        hold = np.maximum(lb - p["bt"], 0)
        black = p["black"] * (1 - p["bmax"] * hold / (hold + p["bh"]))
        # veil in the lights, cleared step by step
        lv = self._drive(u, p["qv"])
        veil = p["v"][-1] + np.interp(-lv, p["vk"], p["v"] - p["v"][-1])
        if p["sour"] > 0:
            veil = veil + p["sour"] * np.clip((m[:, 0] - p["sourt"]) / 8.0, 0, 1)
        if p["kind"] == "through":
            c = 0.0
            for q, wt, at, wd, hard in p["units"]:
                z = (at - self._drive(u, q)[:, None] - x[None, :] - p["shift"]) / wd
                c = c + wt * (np.clip(0.5 + z / 4, 0, 1) if hard else 1 / (1 + np.exp(-np.clip(z * 1.3, -40, 40))))
        else:
            sh = self._drive(u, p["qs"])
            z = (x[None, :] + p["shift"] + sh[:, None] - _Z[0]) / 0.05
            z = np.clip(z, 0, _Z.size - 1 - 1e-9)
            i = z.astype(np.int32)
            f = z - i
            c0 = p["c0"][i] + f * p["dc0"][i]
            c1 = p["c1"][i] + f * p["dc1"][i]
            k = np.clip(p["k0"] + self._drive(u, p["qk"]) * p["k1"], 0, 1)[:, None]
            c = c0 + k * (c1 - c0)
        d = black[:, None] * c + veil[:, None] * (1 - c)
        return self.base_density + np.maximum(d, 0.0)

    def density(self, controls, log_exposure):
        x = np.asarray(log_exposure, float)
        m = controls_matrix(controls)
        return self.density_many(m[:1], x.ravel())[0].reshape(x.shape)


def _coupling(rng, kind, strength):
    """One drive. strength: a mean coupling for each of the five scales."""
    g = np.asarray(strength, float) * rng.gamma(3.0, 1 / 3.0, 5)
    q = dict(kind=kind, lin=g)
    tot = g.sum()
    if kind == "table":
        share = rng.uniform(0.2, 0.6)
        q["lin"] = g * (1 - share * np.array([1, 0, 1, 0, 0]))
        q["n"] = (g[0] * share * 1.6, g[2] * share * 1.6, rng.uniform(-0.1, 0.5) * g[0])
        q["jl"] = g / max(tot, 1e-9)
        q["ja"], q["jw"] = rng.normal(0, 0.5), rng.uniform(0.05, 0.4)
        q["jump"] = tot * rng.uniform(0.0, 0.18)
    elif kind == "rational":
        q["half"] = max(tot, 1e-6) * rng.uniform(1.0, 2.2)
        q["pow"], q["top"] = rng.uniform(0.8, 1.5), rng.uniform(1.8, 5.0)
    else:
        n = int(rng.integers(3, 7))
        w1 = rng.exponential(1.0, (5, n)) * (g / max(tot, 1e-9))[:, None] * rng.uniform(0.5, 2.5, n)
        q["w1"], q["b1"] = w1, rng.normal(-0.3, 0.7, n)
        q["hardact"] = rng.random(n) < 0.5
        q["w2"] = rng.dirichlet(np.full(n, 1.5)) * tot * rng.uniform(1.2, 2.4)
    return q


def _draw(rng, hardness):
    U = rng.uniform
    steep = {"hard": U(0.8, 1.6), "medium": U(0.55, 1.2), "easy": U(0.25, 0.8)}.get(hardness, U(0.3, 1.5))
    kind = ("table", "rational", "net", "through")[int(rng.integers(4))]
    sub = kind if kind != "through" else ("table", "rational", "net")[int(rng.integers(3))]
    rough = U(0.15, 1.1)
    p = dict(kind=kind, base=U(0.03, 0.10) if rng.random() < 0.55 else U(0.10, 0.35))
    p["t"] = _scale(rng, _T, lambda v: np.log2(1 + v / 3.0), rough)
    p["s"] = _scale(
        rng,
        _S,
        lambda v: 1.6 * (v / 6.0) ** 0.8,
        rough,
        int(rng.integers(0, 4)) if rng.random() < 0.4 else 0,
        int(rng.integers(5, 10)) if rng.random() < 0.4 else None,
    )
    p["a"] = _scale(
        rng,
        _A,
        lambda v: 2.0 * v / (v + 9.0),
        rough,
        int(rng.integers(0, 4)) if rng.random() < 0.3 else 0,
        int(rng.integers(5, 10)) if rng.random() < 0.5 else None,
    )
    p["h"] = _scale(rng, _H, lambda v: v / 5.0, 0.5 * rough)
    p["w"] = _scale(rng, _W, lambda v: np.log2(1 + v), 0.5 * rough)
    r = rng.random()
    sweet = np.array(
        [
            np.exp(U(np.log(4.0), np.log(18.0))),
            0.0 if r < 0.15 else U(0.5, 4) if r < 0.55 else U(4, 12),
            U(1, 23),
            20.0,
            DEFAULTS["developer_parts_water"] if rng.random() < 0.6 else U(8, 20),
        ]
    )
    p["origin"] = np.zeros(5)
    p["black"] = U(1.5, 3.5)
    p["qb"] = _coupling(rng, sub, np.array([0.12, 0.5, 0.1, 0.05, 0.05]) * steep)
    p["b0"], p["bt"] = U(0.1, 0.8), U(0.0, 1.0)
    p["bmax"], p["bh"] = U(0.4, 0.95), U(0.6, 2.5)
    p["qv"] = _coupling(rng, sub, np.array([0.4, 0.9, 0.15, 0.1, 0.1]) * steep)
    # veil over (minus) clearing: rising table with steps
    nk = int(rng.integers(4, 8))
    p["vk"] = np.sort(U(-1.2, 1.8, nk))
    p["v"] = U(0.0, 0.04) + np.concatenate([[0], np.cumsum(rng.dirichlet(np.full(nk - 1, 0.8)))]) * U(0.05, 0.65)
    p["sour"] = U(0.03, 0.2) if rng.random() < 0.12 else 0.0
    p["sourt"] = U(11, 20)
    strength = np.array([U(0.3, 0.9), U(0.03, 0.3), U(0.08, 0.5), U(0.12, 0.4), U(0.1, 0.4)]) * steep
    width = U(0.28, 0.75)
    p["shift"] = 0.0
    if kind == "through":
        n = int(rng.integers(4, 9))
        wt = rng.dirichlet(np.full(n, 2.5))
        p["units"] = [
            (
                _coupling(rng, sub, strength * U(0.6, 1.4)),
                w,
                rng.normal(0, 0.6 * width),
                0.55 * width * U(0.4, 1.0),
                rng.random() < 0.5,
            )
            for w in wt
        ]
    else:
        p["qs"] = _coupling(rng, sub, strength)
        p["qk"] = _coupling(rng, sub, np.array([0.3, 0.2, 0.25, 0.1, 0.1]))
        p["k0"], p["k1"] = U(0.1, 0.7), U(0.0, 1.0) * steep
        p["c0"] = _tone_table(rng, width)
        p["c1"] = p["c0"] ** U(1.1, 2.2)
        for k in ("c0", "c1"):
            p["d" + k] = np.append(np.diff(p[k]), 0.0)
    return p, sweet


def make_film(seed, hardness="medium"):
    rng = np.random.default_rng([int(seed), 40961, 3 + sum(map(ord, str(hardness)))])
    x = np.arange(-5.0, 5.001, 0.05)
    for _ in range(400):
        p, sweet = _draw(rng, hardness)
        f = Film(p)
        m = sweet[None]
        p["origin"] = f._scales(m)[0]
        d = f.density_many(m, x)[0] - f.base_density
        mid = rng.uniform(0.75, 1.4)
        if not (1.2 <= d[0] <= 3.5 and d[0] > mid + 0.3 and d[-1] < 0.6 * mid):
            continue
        xc = float(np.interp(-mid, -d, x))
        lo, hi = np.interp([xc - 0.25, xc + 0.25], x, d)
        if not (0.6 <= (lo - hi) / 0.5 <= 3.0 and np.interp(xc + 0.8, x, d) < 0.65):
            continue
        p["shift"] = xc - 0.14 * rng.standard_t(4)
        dd = f.density_many(controls_matrix(dict(DEFAULTS)), LX)[0] - f.base_density
        if not 1.2 <= dd[0] <= 3.5:
            continue
        f.hardness, f.sweet = hardness, sweet
        return f
    raise RuntimeError("no film drawn")
