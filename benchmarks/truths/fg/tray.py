"""Family f: grains in a tray. Three grain classes, induction, growth, shared solvent, hydroxide, fog.

A grain class develops once the development dose passes what its latent image asks for. The halide left
(never exposed, too little developed, or dead) becomes the slide; the solvent takes from it, fine grains first.
"""

from __future__ import annotations
import numpy as np
from . import common as cm

_REF = np.array([[cm.DEFAULTS[k] for k in cm.CONTROLS]])
_X = np.linspace(-6.0, 6.0, 481)


def _soft(v, w):
    """A soft max(v, 0) of rounding w."""
    return w * np.logaddexp(0.0, v / w)


class Film:
    def __init__(self, base_density, law):
        self.base_density = base_density
        self.law = law
        self.speed = 0.0

    # -- the bath: everything that depends on the recipe only
    def _hydroxide(self, alk, temp):
        """Weak base, so as a root; carried through the gelatine no faster than diffusion lets it."""
        p = self.law
        there = np.sqrt(alk * np.exp(-p["fumes"] * (temp - cm.DEFAULTS[cm.TEMP])))
        return p["native"] + there * p["gelatine"] / (p["gelatine"] + there)

    def _bath(self, c):
        p = self.law
        t, solv, alk, temp, water = (np.maximum(c[:, i], 0.0) for i in range(5))
        warm = temp - cm.DEFAULTS[cm.TEMP]
        oh = self._hydroxide(alk, temp) / self._hydroxide(_REF[:, 2], _REF[:, 3])
        strength = ((1.0 + cm.DEFAULTS[cm.WATER]) / (1.0 + water)) ** p["dilution"]
        rate = oh ** p["alkali_power"] * strength * np.exp(p["warmth"] * warm)
        tire = p["tire"] / strength
        dose = rate * (1.0 - np.exp(-tire * t)) / tire
        dose = _soft(dose - p["lag"] * rate**0.3, p["lag_round"]) + 1e-6

        free = (solv + p["ammonia_as_solvent"] * alk) * np.exp(p["solvent_warmth"] * warm)
        work = free ** p["solvent_power"] * (1.0 - np.exp(-p["solvent_tire"] * t)) / p["solvent_tire"]
        wish = 1.0 - np.exp(-p["dissolve"] * work[:, None] / p["size"])  # (R,K)
        asked = (wish * p["halide"]).sum(1)
        room = p["room"] * free + 1e-9
        granted = 1.0 / (1.0 + (asked / room) ** 2) ** 0.5
        gone = wish * granted[:, None]
        halide = p["halide"] * (1.0 - gone)
        back = p["redeposit"] * (gone * p["halide"]).sum(1) * (1.0 - granted)
        halide[:, -1] += back  # what the full bath lets go settles on the coarse grains
        opened = p["opening"] * np.log1p(free / p["opening_at"])
        fog = 1.0 - np.exp(-p["fog"] * _soft(dose * (1.0 + p["fog_solvent"] * free) / p["fog_at"] - 1.0, 0.06))
        return np.log(dose), halide, opened, fog

    def _curves(self, c, x):
        p = self.law
        ldose, halide, opened, fog = self._bath(c)
        u = x[None, :] - self.speed + opened[:, None]  # solvent uncovers inner images
        pull = 2.302585 * p["growth"]
        # spent developer and bromide where much is being developed
        usual = ldose[:, None] + pull * (u - p["threshold"][1])
        ld = ldose[:, None] - p["local_tire"] / (1.0 + np.exp(-np.clip(p["order"] * usual, -60, 60)))
        out = np.zeros(ld.shape)
        for k in range(3):
            # dose asked for: a floor, plus what a small latent image adds
            z = pull * (p["threshold"][k] - u)
            asked = np.logaddexp(z, p["floor_dose"][k])
            developed = 1.0 / (1.0 + np.exp(np.clip(p["order"] * (asked - ld), -60, 60)))
            out += halide[:, k, None] * (1.0 - (1.0 - p["dead"][k]) * developed)
        return out * (1.0 - fog)[:, None]

    def density_many(self, controls_matrix, log_exposure):
        c = np.atleast_2d(np.asarray(controls_matrix, float))
        x = np.atleast_1d(np.asarray(log_exposure, float))
        return self.base_density + np.concatenate([self._curves(c[i : i + 800], x) for i in range(0, len(c), 800)])

    def density(self, controls, log_exposure):
        return self.density_many(cm.controls_matrix(controls), log_exposure)[0]


_GROWTH = {"easy": (1.15, 2.6), "medium": (0.6, 1.3), "hard": (0.42, 0.95)}
_ALKALI = {"easy": (0.1, 0.5), "medium": (0.2, 0.9), "hard": (0.35, 1.2)}


def make_film(seed, hardness):
    rng = np.random.default_rng([int(seed), 7919, ("easy", "medium", "hard").index(hardness)])
    uni = rng.uniform
    logu = lambda a, b: float(np.exp(uni(np.log(a), np.log(b))))
    base = uni(0.03, 0.13) if rng.random() < 0.65 else uni(0.13, 0.35)

    size = np.array([logu(0.35, 0.6), 1.0, logu(1.6, 2.6)])
    part = rng.dirichlet([2.2, 3.0, 2.2])
    black = uni(1.35, 3.5) if rng.random() < 0.22 else uni(2.3, 3.5)
    apart = uni(0.03, 0.35)
    growth = uni(*_GROWTH[hardness])
    home_time = logu(4.5, 27.0)
    need = rng.choice(["none", "some", "much"], p=[0.3, 0.45, 0.25])
    dead = {"none": (0.0, 0.05), "some": (0.05, 0.25), "much": (0.2, 0.55)}[need]
    fine_dead = uni(*dead)
    tire = logu(0.004, 0.06)
    law = {
        "size": size,
        "halide": black * part,
        "dead": np.array([fine_dead, fine_dead * uni(0.05, 0.4), fine_dead * uni(0.0, 0.12)]),
        "threshold": np.array([uni(0.6, 1.4), 0.0, -uni(0.6, 1.4)]) * apart,
        "floor_dose": np.full(3, -99.0),
        "growth": growth,
        "order": 2.0 / growth,
        "native": logu(0.15, 2.5),
        "gelatine": logu(1.0, 12.0),
        "fumes": uni(0.01, 0.05),
        "alkali_power": uni(*_ALKALI[hardness]),
        "dilution": uni(0.5, 1.1),
        "warmth": uni(0.05, 0.12),
        "tire": tire,
        "lag": home_time * uni(0.0, 0.2),
        "lag_round": home_time * uni(0.02, 0.1),
        "local_tire": uni(0.0, 0.25),
        "ammonia_as_solvent": logu(0.003, 0.06),
        "solvent_warmth": uni(0.02, 0.07),
        "solvent_power": uni(0.7, 1.5),
        "solvent_tire": logu(0.01, 0.15),
        "redeposit": uni(0.0, 0.6),
        "opening": uni(0.0, 0.35) if rng.random() < 0.7 else 0.0,
        "opening_at": logu(0.5, 6.0),
        "fog_at": home_time * logu(1.1, 4.0),
        "fog": uni(0.05, 0.35),
        "fog_solvent": uni(0.0, 0.03),
    }
    # a bath that takes about a given part of the middle class at its own place
    at = logu(1.5, 11.0)
    work = at ** law["solvent_power"] * (1 - np.exp(-law["solvent_tire"] * home_time)) / law["solvent_tire"]
    law["dissolve"] = logu(*((0.15, 0.5) if need == "much" else (0.05, 0.3))) / work
    law["room"] = black * logu(0.1, 0.8) / at
    film = Film(float(base), law)

    # tie down what a maker of films would: at a home recipe the contrast, the lights and the speed
    home = cm.controls_matrix(
        dict(zip(cm.CONTROLS, (home_time, at if need != "none" else 0.3 * at, logu(3.5, 26.0), 21.5, 11.0)))
    )
    law["fog_at"] *= float(np.exp(film._bath(home)[0][0])) / home_time
    ldose = float(film._bath(home)[0][0])
    stubborn = np.log(logu(0.001, 0.06)) + np.array([uni(0.0, 1.2), 0.0, -uni(0.0, 0.8)])
    wanted, level = uni(0.7, 2.4), uni(0.3, 0.55)
    for _ in range(4):
        law["floor_dose"] = ldose + stubborn / law["order"]
        d = film._curves(home, _X)[0]
        i = int(np.clip(np.argmax(d < level * d[0]), 10, _X.size - 11))
        law["order"] *= float(np.clip(wanted / max(2.0 * (d[i - 10] - d[i + 10]), 0.1), 0.5, 2.0))
    law["order"] = min(law["order"], 7.0 / growth)
    d = film._curves(home, _X)[0]
    film.speed = float(-_X[int(np.argmax(d < level * d[0]))] + rng.normal(0.0, 0.12))
    return film
