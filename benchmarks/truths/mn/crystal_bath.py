"""Family m: a small emulsion of single crystals in a bath with a real acid-base balance.

Each crystal has a size, a latent-image threshold and an induction time, all drawn once from the
seed. It is followed in four latent states (none, small, middling, large speck). In every state the
halide shrinks from its surface: by development, whose rate grows with the silver already there, and
by the solvent, which finishes the small ones first. What the solvent takes stands in the bath and
plates out on developing specks, which speeds them. What halide is left is the slide.
"""

from __future__ import annotations

import numpy as np

from . import common as c

_CLASSES, _EACH = 8, 6
_DT = 0.5
_LAST = 48.0
_GAS = 8.314e-3  # kJ/mol/K


def _chance_at_least(n, lam):
    """Poisson chance of n or more hits; n (J,1) whole numbers, lam (J,E)."""
    lam = np.minimum(lam, 600.0)
    term = np.exp(-lam)
    below = np.zeros_like(lam)
    for k in range(int(n.max())):
        below += np.where(k < n, term, 0.0)
        term = term * lam / (k + 1)
    return np.clip(1.0 - below, 0.0, 1.0)


class Film:
    def __init__(self, seed, hardness):
        tag = {"easy": 1, "medium": 2, "hard": 3}[hardness]
        rng = np.random.default_rng([int(seed), tag, 7741])
        u = rng.uniform
        self.hardness = hardness
        self.base_density = float(u(0.04, 0.34))

        # ---- the recipe this film likes, somewhere in or near one of the ranges
        zone = c.RANGES[("narrow", "wide", "elsewhere")[int(rng.integers(3))]]
        edge = {"easy": 0.25, "medium": 0.12, "hard": 0.0}[hardness]
        like = [zone[k][0] + (zone[k][1] - zone[k][0]) * u(edge, 1 - edge) for k in c.CONTROLS[:3]]
        t_like = max(3.5, like[0])
        like = np.array([t_like, like[1], like[2], c.DEFAULTS[c.TEMP], c.DEFAULTS[c.WATER]])

        # ---- bath
        self.nh3_stock = u(3.6, 6.2)  # mol/l of the household bottle
        self.hypo_stock = u(0.9, 1.7)  # mol/l thiosulphate of the fixer
        self.acid_stock = u(0.0, 0.08)
        self.amm_share = u(0.1, 0.8)  # of the fixer's counter-ions, the rest sodium
        strong = {"easy": (0.7, 1.5), "medium": (0.4, 1.2), "hard": (0.2, 0.9)}[hardness]
        self.carb_stock = u(*strong)  # mol/l in the concentrate
        self.bicarb_share = u(0.2, 0.85)
        self.agent_stock = u(0.25, 0.6)
        self.pk_agent = u(9.6, 10.1), u(11.2, 11.8)
        self.act_pow = {"easy": u(0.4, 0.85), "medium": u(0.55, 1.15), "hard": u(0.7, 1.4)}[hardness]
        self.ind_pow = self.act_pow * u(0.5, 1.1)
        self.e_grow, self.e_diss = u(42.0, 68.0), u(24.0, 44.0)
        self.e_ind = u(50.0, 80.0)
        self.tire = u(0.004, 0.02)  # per minute at the liked pH

        # ---- crystals
        soft = rng.random() < 0.25
        spread = u(0.5, 0.8) if soft else u(0.25, 0.62)
        z = np.linspace(-1.5, 1.5, _CLASSES)
        r = np.repeat(np.exp(spread * z), _EACH) * np.exp(0.06 * rng.normal(size=_CLASSES * _EACH))
        often = np.repeat(np.exp(-0.5 * z**2), _EACH)
        cover = often * r ** u(1.7, 2.4)
        self.cover = cover / cover.sum()
        volume = often * r**3
        volume = volume / volume.sum()
        need = rng.integers(2, 6, size=r.size)
        grow = u(1.6, 2.8), u(4.5, 12.0)
        self.need = [
            need[:, None],
            np.ceil(need * grow[0]).astype(int)[:, None],
            np.ceil(need * grow[1]).astype(int)[:, None],
        ]
        self.catch = (u(1.4, 2.4) * np.log10(r) + (u(0.3, 0.6) if soft else u(0.10, 0.40)) * rng.normal(size=r.size))[
            :, None
        ]
        self.speed = 0.0

        lag = np.exp(u(0.15, 0.40) * rng.normal(size=r.size)) * r ** u(-0.3, 0.3)
        mid_lag, big_lag = u(0.35, 0.7), u(0.08, 0.3)
        lags = np.stack([np.ones(r.size), lag, lag * mid_lag, lag * big_lag])  # (4,J)
        lead = {"easy": (0.15, 0.6), "medium": (0.25, 0.9), "hard": (0.3, 1.3)}[hardness]
        first = t_like * u(*lead)
        lags[1:] *= first
        lags[0] = t_like * u(1.4, 4.0) * np.exp(u(0.2, 0.5) * rng.normal(size=r.size))
        self.lag = lags.reshape(-1)
        speck = np.array([0.01, u(0.02, 0.05), u(0.05, 0.09), u(0.09, 0.16)])
        self.speck = np.repeat(speck, r.size)
        whole = {"easy": (0.25, 0.7), "medium": (0.4, 1.0), "hard": (0.45, 1.4)}[hardness]
        self.k_grow = 5.0 / (t_like * u(*whole))
        self.r_grow = np.tile(r ** -u(0.4, 1.1), 4)
        self.r_diss = np.tile(1.0 / r, 4)
        eat = {"easy": (0.02, 0.12), "medium": (0.03, 0.20), "hard": (0.04, 0.28)}[hardness]
        self.k_diss = u(*eat) / t_like
        self.hypo_part = u(0.65, 0.97)
        self.hypo_pow = u(0.6, 1.0)
        self.k_plate = u(0.4, 2.5)
        self.k_wash = u(0.01, 0.08)
        # how the average picture fills the four states, for what goes to the bath
        fill = np.array([0.40, 0.22, 0.20, 0.18])
        self.in_bath = (fill[:, None] * volume[None, :]).reshape(-1)

        # ---- scale at the liked recipe
        self.ref = None
        ph, nh3, agent, hypo = self._bath(like[None, 1:])
        self.ref = (float(agent[0]), float(nh3[0]), max(float(hypo[0]), 2.5e-3 * self.hypo_stock), float(ph[0]))
        self.full = 1.0
        x = np.linspace(-5.0, 5.0, 401)
        frac = self.density_many(like[None, :], x)[0] - self.base_density
        black = {"easy": (1.55, 3.1), "medium": (1.5, 3.1), "hard": (1.45, 3.1)}[hardness]
        self.full = float(np.clip(u(*((1.4, 2.1) if soft else black)) / max(frac[0], 0.3), 1.35, 3.45))
        level = min(u(0.72, 1.4), 0.7 * self.full * frac[0])
        d = self.full * frac
        where = float(np.interp(-level, -d, x))
        self.speed = where - float(np.clip(0.04 + 0.14 * rng.normal(), -0.3, 0.4))
        self.liked = dict(zip(c.CONTROLS, like.tolist()))

    # ------------------------------------------------------------ bath
    def _bath(self, m):
        """m (C,4): solvent, alkali, temperature, water -> pH, free ammonia, active agent, hypo (mol/l)."""
        solv, alk, temp, water = np.maximum(m[:, 0], 0), np.maximum(m[:, 1], 0), m[:, 2], np.maximum(m[:, 3], 0)
        share = 1.0 / (1.0 + water)
        hypo = solv * 1e-3 * self.hypo_stock
        acid = solv * 1e-3 * self.acid_stock
        amm = alk * 1e-3 * self.nh3_stock + 2.0 * self.amm_share * hypo
        carb = self.carb_stock * share
        agent = self.agent_stock * share
        sodium = carb * (2.0 - self.bicarb_share) + 2.0 * (1.0 - self.amm_share) * hypo
        dt = temp - 25.0
        ka = 10.0 ** -(9.25 - 0.031 * dt)
        k1 = 10.0 ** -(6.35 - 0.005 * dt)
        k2 = 10.0 ** -(10.33 - 0.009 * dt)
        kw = 10.0 ** -(14.0 - 0.033 * dt)
        q1 = 10.0 ** -(self.pk_agent[0] - 0.012 * dt)
        q2 = 10.0 ** -(self.pk_agent[1] - 0.012 * dt)
        lo, hi = np.full(solv.shape, 4.0), np.full(solv.shape, 13.5)
        for _ in range(24):
            p = 0.5 * (lo + hi)
            h = 10.0**-p
            plus = sodium + amm * h / (h + ka) + h
            cden = h * h + k1 * h + k1 * k2
            qden = h * h + q1 * h + q1 * q2
            minus = (
                kw / h + carb * (k1 * h + 2 * k1 * k2) / cden + agent * (q1 * h + 2 * q1 * q2) / qden + acid + 2 * hypo
            )
            up = plus > minus
            lo, hi = np.where(up, p, lo), np.where(up, hi, p)
        p = 0.5 * (lo + hi)
        h = 10.0**-p
        qden = h * h + q1 * h + q1 * q2
        active = agent * (0.35 * q1 * h + q1 * q2 + 0.004 * h * h) / qden
        return p, amm * ka / (h + ka), active, hypo

    def _follow(self, chem, group, time):
        """Halide left (R, 4J) of rows with bath `group` in `chem` (C,4) after `time`."""
        ph, nh3, agent, hypo = self._bath(chem)
        agent0, nh30, hypo0, ph0 = self.ref
        kelvin = chem[:, 2] + 273.15
        tilt = (1.0 / 293.15 - 1.0 / kelvin) / _GAS
        power = agent / agent0
        grow = self.k_grow * power**self.act_pow * np.exp(self.e_grow * tilt)
        clock = power**self.ind_pow * np.exp(self.e_ind * tilt)
        eat = self.hypo_part * (hypo / hypo0) ** self.hypo_pow + (1 - self.hypo_part) * (nh3 / max(nh30, 0.01)) ** 1.5
        eat = self.k_diss * eat * np.exp(self.e_diss * tilt)
        tire = self.tire * 10.0 ** (0.35 * np.clip(ph - ph0, -2, 2))
        size = self.lag.size
        rho = np.ones((len(chem), size))  # radius against the first
        silver = np.zeros_like(rho)
        pool = np.zeros(len(chem))
        eaten = (eat[:, None] * self.r_diss) * _DT
        inv_lag = 1.0 / self.lag
        out = np.empty((len(time), size))
        order = np.argsort(time, kind="stable")
        step_of = np.floor(time / _DT + 1e-9).astype(int)
        steps = int(step_of.max()) + 1
        begin = np.searchsorted(step_of[order], np.arange(steps + 1))
        ticked = np.zeros(len(chem))
        old = rho**3
        for s in range(steps):
            fresh = np.exp(-tire * _DT * (s + 0.5))
            ticked = ticked + clock * _DT
            awake = np.clip((ticked[:, None] * inv_lag - 0.8) * 2.5, 0.0, 1.0)
            bed = np.sqrt(silver + self.speck)
            dev = awake * bed
            dev *= (grow * fresh * _DT / 3.0)[:, None]
            dev *= self.r_grow
            both = dev + eaten
            rho = np.maximum(rho - both, 0.0)
            new = rho * rho * rho
            gone = old - new
            share = dev / (both + 1e-12)
            by_dev = gone * share
            silver += by_dev
            dissolved = (gone - by_dev) @ self.in_bath
            seat = (awake * bed) @ self.in_bath
            rate = self.k_plate * seat
            plated = pool * (1.0 - np.exp(-_DT * rate))
            pool = (pool - plated) * np.exp(-_DT * self.k_wash) + dissolved
            silver += awake * bed * (plated / (seat + 1e-9))[:, None]
            rows = order[begin[s] : begin[s + 1]]
            if rows.size:
                f = (time[rows] / _DT - s)[:, None]
                a, b = old[group[rows]], new[group[rows]]
                out[rows] = a + f * (b - a)
            old = new
        # a larger speck never leaves more
        return np.minimum.accumulate(out.reshape(len(time), 4, -1), axis=1).reshape(out.shape)

    def _states(self, x):
        """(4J, E): the chance of each latent state at log exposures x."""
        lam = 10.0 ** (np.clip(x[None, :] + self.speed + 0.6, -8.0, 8.0) + self.catch)
        up = [_chance_at_least(n, lam) for n in self.need]
        return np.concatenate([1.0 - up[0], up[0] - up[1], up[1] - up[2], up[2]])

    def density_many(self, controls_matrix, log_exposure):
        m = np.atleast_2d(np.asarray(controls_matrix, float))
        x = np.atleast_1d(np.asarray(log_exposure, float))
        weight = self._states(x) * np.tile(self.cover, 4)[:, None]
        time = np.clip(m[:, 0], 0.0, _LAST)
        out = np.empty((len(m), x.size))
        for a in range(0, len(m), 6000):
            part = slice(a, a + 6000)
            chem, group = np.unique(m[part, 1:], axis=0, return_inverse=True)
            out[part] = self._follow(chem, np.ravel(group), time[part]) @ weight
        return self.base_density + self.full * np.maximum(out, 0.0)

    def density(self, controls, log_exposure):
        x = np.asarray(log_exposure, float)
        d = self.density_many(c.controls_matrix(controls)[:1], x.ravel())[0]
        return d.reshape(x.shape)


def make_film(seed, hardness="medium"):
    return Film(seed, hardness)
