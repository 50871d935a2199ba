"""Films of another physics: a population of grains, one by one, for judging the notebook.

The notebook's process model (a skewed logistic, an exponential loss) is not used here. A film is
one or two layers of grains with a log-normal distribution of diameters. In small steps of time

- a grain that absorbed more quanta than its threshold starts to develop after an induction that
  shortens with the surplus, and then faster, the smaller it is; longer development lowers thresholds;
- a few percent are fines, small grains that light hardly reaches;
- unexposed grains fog, at a rate that grows with the development already done;
- solvent takes a layer off every undeveloped grain, so that small grains vanish first and entirely;
- the developer tires, and where much develops its products restrain it;
- what is left blackens in the second development by its mass over its diameter.

Everything is drawn at random and invented. The errors of making and reading a strip are drawn too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from obverse.model import in_aim, margins, observables
from obverse.process import CONTROLS, Aim, ControlVector

STEPS = 24
BINS = 18
QUANTILES = (np.arange(BINS) + 0.5) / BINS
WEDGE = np.round(np.linspace(-2.0, 2.0, 21), 2)
THREE = ("first_developer_time_min", "solvent_ml_per_l", "alkali_ml_per_l")
READING_SD, OFFSET_SD = 0.02, 0.01
# Errors of a strip: of each control, of activity as a fraction, of log exposure.
CONTROL_SD = np.array([0.12, 0.25, 0.25, 0.25, 0.25])
ACTIVITY_SD, EXPOSURE_SD = 0.035, 0.02


@dataclass(frozen=True)
class GrainFilm:
    """One invented film."""

    seed: int
    base: float
    stain: float
    silver: float
    ghost: float
    share: np.ndarray  # (L,) of the silver
    diameter: np.ndarray  # (L, B) um
    threshold: np.ndarray  # (L,) quanta
    spread: np.ndarray  # (L,) of ln threshold
    size_power: float
    quanta: np.ndarray  # (L,) absorbed by a grain of 1 um at log exposure 0
    lower_with_time: float
    induction: float
    tau: float
    autocatalysis: float
    fog: float
    tiring: float
    restraint: float
    etch: float
    etch_power: float
    etch_alkali: float
    etch_warmth: float
    alkali_power: float
    dilution_power: float
    warmth: float
    solvent_activity: float
    covering: float

    def density(self, controls: np.ndarray, log_exposure: np.ndarray) -> np.ndarray:
        """Density with base of strips (R, 5) at exposures (N,) or (R, N): (R, N)."""
        c = np.atleast_2d(controls)
        x = np.broadcast_to(np.asarray(log_exposure, dtype=float), (len(c), np.shape(log_exposure)[-1]))
        time, solvent, alkali, temp, parts = (np.maximum(c[:, i], 0.0)[:, None, None, None] for i in range(5))
        activity = (
            (16 / (1 + parts)) ** self.dilution_power
            * ((alkali + 1.5) / 6.5) ** self.alkali_power
            * np.exp(self.warmth * (temp - 20) + self.solvent_activity * (solvent - 10) / 10)
        )
        etching = (
            self.etch
            * np.maximum((solvent + self.etch_alkali * alkali) / 10, 0) ** self.etch_power
            * np.exp(self.etch_warmth * (temp - 20))
        )
        d = self.diameter[None, :, :, None]
        quanta = self.quanta[None, :, None, None] * d**self.size_power * 10.0 ** x[:, None, None, :]
        left = np.ones((len(c), *self.diameter.shape, x.shape[1]))  # undeveloped part, by mass, before etching
        developed = np.zeros_like(left)
        done = np.zeros_like(time)
        etched = np.zeros_like(time)
        dt = time / STEPS
        shares = self.share[None, :, None, None] / BINS
        for step in range(STEPS):
            rate = activity * np.exp(-self.tiring * (step + 0.5) * dt / 10)
            local = rate * (1 - self.restraint * (developed * shares).sum((1, 2), keepdims=True))
            done = done + rate * dt
            limit = self.threshold[None, :, None, None] * (done / 8 + 0.02) ** -self.lower_with_time
            awake = ndtr(
                np.log(np.maximum(quanta, 1e-12) / limit) / np.sqrt(self.spread[None, :, None, None] ** 2 + 1 / limit)
            )
            surplus = np.sqrt(limit / np.maximum(quanta, limit))
            begun = 1 / (1 + np.exp(-(done - self.induction * surplus) / 0.4))
            # Only of the grains that are awake does anything develop: `left` may not fall below the sleeping part.
            pace = begun * local / (self.tau * d**0.7) * (0.3 + self.autocatalysis * done / (done + 3))
            sleeping = 1 - awake
            waking = np.maximum(left - sleeping, 0)
            fogged = left * self.fog * local * (done / 10)
            gone = waking * -np.expm1(-pace * dt) + fogged * dt
            gone = np.minimum(gone, left)
            left, developed = left - gone, developed + gone
            before = np.maximum(1 - etched / d, 0)
            etched = etched + etching * dt
            after = np.maximum(1 - etched / d, 0)
            left = left * np.where(before > 0, (after / np.maximum(before, 1e-9)) ** 3, 0)
        cover = (d / self.diameter.mean()) ** -self.covering
        image = (left * cover * shares).sum((1, 2)) / (cover * shares).sum((1, 2))
        return self.base + self.stain + self.silver * (image + self.ghost * (developed * shares).sum((1, 2)))

    def observables(self, controls: np.ndarray, midtone: float = 1.0, shift: float = 0.0) -> np.ndarray:
        """True observables (R, 4) of recipes (R, 5), exposure shifted by `shift`."""
        c = np.atleast_2d(controls)
        return observables(lambda x: self.density(c, x + shift), np.full(len(c), self.base), midtone)


@dataclass(frozen=True)
class Strip:
    """A strip as made: what was written down, what was read, what it truly is."""

    controls: dict[str, float]
    steps: list[dict[str, float]]
    true: np.ndarray  # (4,) observables of this very strip


def draw_film(seed: int) -> GrainFilm:
    """A film at random."""
    r = np.random.default_rng([seed, 515])
    two = r.random() < 0.5
    share = np.array([0.65 + 0.2 * r.random(), 0.0]) if two else np.array([1.0])
    if two:
        share[1] = 1 - share[0]
    # Fines: small grains that light hardly reaches. Without solvent they make the highlights murky.
    fines = r.uniform(0.02, 0.08)
    share = np.append(share * (1 - fines), fines)
    layers = len(share)
    median = np.array([r.uniform(0.6, 1.0)] + ([r.uniform(0.4, 0.6)] if two else []) + [r.uniform(0.22, 0.34)])
    sigma = r.uniform(0.25, 0.42, layers)
    z = np.sqrt(2) * _erfinv(2 * QUANTILES - 1)
    threshold = r.uniform(4, 12, layers)
    power = r.uniform(2.0, 3.0)
    speed = r.normal(-0.2, 0.15)
    slower = r.uniform(0.2, 0.5)
    quanta = (
        threshold
        / median**power
        * 10.0 ** -np.array([speed] + ([speed + slower] if two else []) + [speed + r.uniform(0.8, 1.6)])
    )
    return GrainFilm(
        seed=seed,
        base=float(r.choice([r.uniform(0.03, 0.08), r.uniform(0.2, 0.35)])),
        stain=float(np.exp(r.normal(np.log(0.025), 0.4))),
        silver=float(np.exp(r.normal(np.log(2.9), 0.15))),
        ghost=float(np.exp(r.normal(np.log(0.004), 0.6))),
        share=share,
        diameter=median[:, None] * np.exp(sigma[:, None] * z),
        threshold=threshold,
        spread=r.uniform(0.3, 0.7, layers),
        size_power=power,
        quanta=quanta,
        lower_with_time=float(r.uniform(0.5, 1.1)),
        induction=float(r.uniform(0.3, 1.5)),
        tau=float(np.exp(r.normal(np.log(1.8), 0.3))),
        autocatalysis=float(r.uniform(0.5, 1.2)),
        fog=float(np.exp(r.normal(np.log(0.012), 0.6))),
        tiring=float(r.uniform(0.05, 0.3)),
        restraint=float(r.uniform(0.0, 0.3)),
        etch=float(np.exp(r.normal(np.log(0.0055), 0.5))),
        etch_power=float(r.uniform(0.8, 1.2)),
        etch_alkali=float(r.uniform(0.05, 0.5)),
        etch_warmth=float(r.normal(0.04, 0.015)),
        alkali_power=float(r.uniform(0.1, 0.45)),
        dilution_power=float(r.uniform(0.6, 1.0)),
        warmth=float(r.normal(0.078, 0.008)),
        solvent_activity=float(r.normal(0.06, 0.08)),
        covering=float(r.uniform(0.0, 0.6)),
    )


def _erfinv(y: np.ndarray) -> np.ndarray:
    from scipy.special import erfinv

    return erfinv(y)


def make_strip(
    film: GrainFilm, controls: dict[str, float], number: int, *, wedge: np.ndarray = WEDGE, midtone: float = 1.0
) -> Strip:
    """Make and read one strip, with errors."""
    r = np.random.default_rng([film.seed, 616, number])
    done = ControlVector.of(controls).values
    done = done + CONTROL_SD * r.standard_normal(5)
    done[0] *= np.exp(ACTIVITY_SD * r.standard_normal())
    done = np.maximum(done, 0)
    shift = EXPOSURE_SD * r.standard_normal()
    read = (
        film.density(done, wedge + shift)[0]
        + OFFSET_SD * r.standard_normal()
        + READING_SD * r.standard_normal(len(wedge))
    )
    steps = [
        {"log_exposure": float(x), "density": round(float(max(d, 0)), 3), "density_sd": READING_SD}
        for x, d in zip(wedge, read, strict=True)
    ]
    return Strip(controls, steps, film.observables(done, midtone, shift)[0])


def limits(film: GrainFilm) -> dict[str, dict]:
    """Controls of this film's series: three of them, or all five for every third film."""
    names = list(CONTROLS) if film.seed % 3 == 2 else THREE
    return {name: CONTROLS[name].range.model_dump() for name in names}


def reaches(film: GrainFilm, aim: Aim, *, tried: int = 160, need: float = 0.15) -> bool:
    """Whether some recipe within the limits meets the aim with a little room."""
    r = np.random.default_rng([film.seed, 717])
    names = list(limits(film))
    best = -np.inf
    centre = ControlVector.of({}).values
    for width in (1.0, 0.3, 0.12):
        rows = np.repeat(centre[None], tried, axis=0)
        for name in names:
            k, lim = CONTROLS.place(name), CONTROLS[name]
            middle = (lim.low + lim.high) / 2 if width == 1.0 else centre[k]
            rows[:, k] = np.clip(middle + (r.random(tried) - 0.5) * width * (lim.high - lim.low), lim.low, lim.high)
        score = margins(film.observables(rows, aim.midtone_density), aim).min(axis=-1)
        if score.max() > best:
            best, centre = score.max(), rows[score.argmax()]
        if best >= need:
            return True
    return False


def films(count: int, aim: Aim, *, first: int = 0) -> list[GrainFilm]:
    """The first `count` films from seed `first` that can reach the aim."""
    found, seed = [], first
    while len(found) < count and seed < first + 20 * count:
        film = draw_film(seed)
        if reaches(film, aim):
            found.append(film)
        seed += 1
    return found


def series_of(film: GrainFilm, strips: list[Strip], aim: Aim) -> dict:
    """The series document of what was tried."""
    return {
        "format": "obverse-series",
        "version": 1,
        "film": {"name": f"grain film {film.seed}", "box_speed": 100, "base_density": round(film.base, 3)},
        "controls": limits(film),
        "aim": aim.model_dump(),
        "trials": [{"id": str(j), "controls": s.controls, "steps": s.steps} for j, s in enumerate(strips)],
    }


def truly_in_aim(strip: Strip, aim: Aim) -> bool:
    """Whether this very strip lies in the aim."""
    return bool(in_aim(strip.true, aim))
