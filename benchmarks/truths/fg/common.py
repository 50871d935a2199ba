"""Ground shared by the two families: aims, ranges, measuring, shares, the person at the sink.

numpy only; knows no software under test. All densities in AIMS are ABOVE BASE.
"""

from __future__ import annotations
import itertools
import numpy as np

CONTROLS = ("first_developer_time_min", "solvent_ml_per_l", "alkali_ml_per_l", "temperature_c", "developer_parts_water")
TIME, SOLV, ALK, TEMP, WATER = CONTROLS
DEFAULTS = {TIME: 10.0, SOLV: 3.0, ALK: 7.0, TEMP: 21.5, WATER: 11.0}

_AIM_KEYS = (
    "dmax_min",
    "gradient_min",
    "gradient_max",
    "highlight_density_max",
    "midtone_density",
    "midtone_log_exposure_min",
    "midtone_log_exposure_max",
)
AIMS = {
    name: dict(zip(_AIM_KEYS, v))
    for name, v in {
        # two for projecting
        "lantern": (1.9, 1.15, 1.8, 0.28, 0.95, -0.18, 0.14),
        "big_screen": (1.95, 1.3, 2.1, 0.26, 1.1, -0.16, 0.22),
        # dark, soft, placed high: hung in a window
        "window_pane": (1.6, 0.7, 1.5, 0.6, 1.2, -0.22, 0.4),
        # hard as a line original, no upper bound of gradient, placed low
        "cut_paper": (1.95, 1.45, None, 0.22, 0.75, -0.42, 0.08),
        # a thin soft veil to be laid over another slide
        "veil": (1.25, 0.5, 1.1, 0.33, 0.62, -0.25, 0.25),
    }.items()
}
FIRST_AIM = "lantern"

# control -> (low, high, step)
RANGES = {
    "narrow": {TIME: (5.0, 13.0, 0.5), SOLV: (0.0, 4.8, 0.4), ALK: (3.0, 15.0, 1.2)},
    "wide": {TIME: (2.0, 26.0, 1.2), SOLV: (0.0, 16.25, 1.25), ALK: (0.0, 32.5, 2.5)},
    # holds none of the default time, solvent, alkali
    "elsewhere": {TIME: (11.0, 25.0, 1.0), SOLV: (3.5, 11.0, 0.75), ALK: (9.0, 25.5, 1.5)},
}


def controls_matrix(controls) -> np.ndarray:
    """dict of scalars/arrays, a list of dicts, or an (R,5) array -> (R,5) in the order of CONTROLS."""
    if isinstance(controls, dict):
        cols = np.broadcast_arrays(*(np.atleast_1d(np.asarray(controls.get(k, DEFAULTS[k]), float)) for k in CONTROLS))
        return np.stack(cols, -1)
    if isinstance(controls, np.ndarray) and controls.dtype != object:
        return np.atleast_2d(controls).astype(float)
    return np.array([[float(c.get(k, DEFAULTS[k])) for k in CONTROLS] for c in controls]).reshape(-1, 5)


def grid(ranges, fixed=None) -> np.ndarray:
    """Every recipe of a range as (R,5). `ranges`: a name of RANGES or a dict control -> (lo, hi, step)."""
    spec = RANGES[ranges] if isinstance(ranges, str) else ranges
    rest = {**DEFAULTS, **(fixed or {})}
    axes = []
    for k in CONTROLS:
        if k not in spec:
            axes.append([float(rest[k])])
            continue
        lo, hi, step = spec[k]
        axes.append([lo + i * step for i in range(int((hi - lo) / step + 1e-9) + 1)])
    return np.array(list(itertools.product(*axes)), float)


_STEP = 0.0625
LX = np.arange(-48, 49) * _STEP  # -3 ... 3


def _read(d, x):
    """d (R,len(LX)) at x (R,): straight between points, ends held; x nan gives nan."""
    bad = ~np.isfinite(x)
    q = np.clip((np.where(bad, 0.0, x) - LX[0]) / _STEP, 0.0, LX.size - 1.0)
    i = np.minimum(q.astype(int), LX.size - 2)
    r = np.arange(len(d))
    y = d[r, i] + (q - i) * (d[r, i + 1] - d[r, i])
    return np.where(bad, np.nan, y)


def _aim(aim):
    return AIMS[aim] if isinstance(aim, str) else aim


def measure(film, controls, aim=FIRST_AIM) -> dict:
    """Arrays (R,): dmax, midtone_log_exposure (nan if never crossed), gradient, highlight_density.

    dmax: above base, at log exposure -3. mid-tone: first place where the falling curve crosses
    midtone_density. gradient: (D(mid-0.25) - D(mid+0.25)) / 0.5. highlight: D(mid+0.80).
    """
    m = _aim(aim)["midtone_density"]
    d = film.density_many(controls_matrix(controls), LX) - film.base_density
    above = d >= m
    cross = above[:, :-1] & ~above[:, 1:]
    i = np.argmax(cross, axis=1)
    r = np.arange(len(d))
    hi, lo = d[r, i], d[r, i + 1]
    gap = np.where(hi > lo, hi - lo, 1.0)
    mid = np.where(cross.any(axis=1), LX[i] + _STEP * (hi - m) / gap, np.nan)
    return {
        "dmax": d[:, 0].copy(),
        "midtone_log_exposure": mid,
        "gradient": 2.0 * (_read(d, mid - 0.25) - _read(d, mid + 0.25)),
        "highlight_density": _read(d, mid + 0.80),
    }


def in_aim(film, controls, aim=FIRST_AIM) -> np.ndarray:
    a = _aim(aim)
    q = measure(film, controls, a)
    top = a.get("gradient_max")
    g, x = q["gradient"], q["midtone_log_exposure"]  # nan compares False
    return (
        (q["dmax"] >= a["dmax_min"])
        & (g >= a["gradient_min"])
        & (g <= (np.inf if top is None else top))
        & (q["highlight_density"] <= a["highlight_density_max"])
        & (x >= a["midtone_log_exposure_min"])
        & (x <= a["midtone_log_exposure_max"])
    )


def share_in_aim(film, aim=FIRST_AIM, ranges="wide") -> float:
    return float(np.mean(in_aim(film, grid(ranges), aim)))


BANDS = {"hard": (0.01, 0.03), "medium": (0.03, 0.12), "easy": (0.12, 1.01)}


def pick_films(family_module, n, hardness, aim=FIRST_AIM, ranges="wide", start_seed=0, max_tries=None):
    """n films whose share of the range lies in the band of `hardness`; seeds counted up from start_seed.

    film.seed and film.share are set. Raises RuntimeError if max_tries seeds do not give n.
    A look at a fixed thinned grid first passes over films far outside the band, or
    without a single recipe in aim there, to save time.
    """
    lo, hi = BANDS[hardness]
    every = grid(ranges)
    thin = every[np.random.default_rng(len(every)).permutation(len(every))[:500]]
    slack = lambda p: 4.0 * np.sqrt(max(p * (1 - p), 0.0) / len(thin))
    limit = 140 * n + 80 if max_tries is None else max_tries
    found = []
    for seed in range(int(start_seed), int(start_seed) + limit):
        if len(found) >= n:
            break
        film = family_module.make_film(seed, hardness)
        rough = in_aim(film, thin, aim).mean()
        if rough < lo - slack(lo) or rough > hi + slack(min(hi, 1.0)) or rough == 0:
            continue
        share = float(np.mean(in_aim(film, every, aim)))
        if lo <= share < hi:
            film.seed, film.share = seed, share
            found.append(film)
    if len(found) < n:
        raise RuntimeError(f"{len(found)} of {n} {hardness} films ({aim}, {ranges}) in {limit} seeds from {start_seed}")
    return found


# ------------------------------------------------------------------ the person at the sink
WAYS = ("patches21", "frames11", "frames5", "words", "mixed")
TROUBLES = ("none", "ammonia_flat", "warm", "mislabelled")
HIGHLIGHT_WORDS = ("clear", "slightly murky", "murky")
BLACK_WORDS = ("deep", "slightly thin", "thin")
MIDTONE_WORDS = ("too dark", "a bit dark", "right", "a bit light", "too light")


def make_person(rng) -> dict:
    """A person's standing leaning, in the units of the judged quantity, and how readily the
    person takes the cautious middle word (0 never, 1 whenever near it)."""
    return {
        "highlights": float(rng.normal(0.0, 0.045)),
        "blacks": float(rng.normal(0.0, 0.11)),
        "midtones": float(rng.uniform(-0.12, 0.12)),
        "caution": float(rng.beta(2.0, 4.0)),
    }


def _syringe(ml, rng):
    """Meniscus read to a mark, a little left in the nozzle; what was not drawn up cannot be wrong."""
    if ml <= 0.0:
        return 0.0
    meniscus = rng.uniform(-0.2, 0.2)
    left_behind = 0.05 * rng.exponential()
    strength = np.exp(0.025 * rng.normal())
    return max(0.0, (ml + meniscus - left_behind) * strength)


def true_controls_of(controls, rng, trouble="none", strip_index=0) -> dict:
    t = {k: float(controls.get(k, DEFAULTS[k])) for k in CONTROLS}
    t[SOLV] = _syringe(t[SOLV], rng)
    t[ALK] = _syringe(t[ALK], rng)
    # the clock starts when the tank is full; it is emptied a little late and with an uneven hand
    t[TIME] = max(0.2, t[TIME] + 0.08 * rng.gamma(2.0) - 0.1 + 0.07 * rng.normal())
    # the thermometer is off by what it is off; the bath drifts while it stands
    t[TEMP] += 0.25 * rng.normal() + 0.02 * t[TIME] * rng.uniform(-1.0, 1.0)
    t[WATER] = max(0.0, t[WATER] * (1.0 + rng.uniform(-0.03, 0.03)))
    if trouble == "ammonia_flat":  # an open bottle: quick loss at first, slower afterwards
        t[ALK] *= 0.45 + 0.55 * np.exp(-strip_index / 6.0)
    elif trouble == "warm":
        t[TEMP] += 1.6
    return {k: float(v) for k, v in t.items()}


def _cautious(word, n, near, person, rng):
    """Close to a boundary a cautious person takes the word nearer the middle."""
    middle = (n - 1) / 2
    if near and word != middle and rng.random() < person["caution"]:
        return int(word + np.sign(middle - word))
    return int(word)


def _words(film, true, rng, aim, person):
    """Held against a window: lights and blacks are judged as found in the picture, greys against both."""
    p = person or make_person(rng)
    x = np.array([-3.0, -2.6, -0.1, 0.0, 0.1, 0.7, 0.8, 0.9])
    d = film.density(true, x) - film.base_density
    black, grey, light = d[:2].mean(), d[2:5].mean(), d[5:].mean()

    # lights: the eye sees transmittance, so a grey base hides a little of the murk
    veil = light - 0.1 * film.base_density + p["highlights"] + 0.035 * rng.normal()
    over = veil - aim["highlight_density_max"]
    h = 0 if over <= 0.02 else 1 if over <= 0.24 else 2
    h = 1 if h != 1 and min(abs(over - 0.02), abs(over - 0.24)) < 0.04 and rng.random() < p["caution"] else h

    # blacks: differences among deep blacks are hardly seen
    seen = black + p["blacks"] + (0.07 + 0.05 * max(black - 1.8, 0.0)) * rng.normal()
    lack = (aim["dmax_min"] - seen) / aim["dmax_min"]
    k = 0 if lack <= 0.0 else 1 if lack <= 0.17 else 2
    k = 1 if k != 1 and min(abs(lack), abs(lack - 0.17)) < 0.03 and rng.random() < p["caution"] else k

    # greys: the aim's grey, drawn a little by how murky the lights look
    z = grey - aim["midtone_density"] + 0.15 * max(over, 0.0) + p["midtones"] + 0.08 * rng.logistic() / 1.8
    cuts = np.array([0.58, 0.22, -0.2, -0.5])
    g = int((z < cuts).sum())
    g = _cautious(g, len(MIDTONE_WORDS), np.abs(z - cuts).min() < 0.05, p, rng)
    return {"way": "words", "highlights": HIGHLIGHT_WORDS[h], "blacks": BLACK_WORDS[k], "midtones": MIDTONE_WORDS[g]}


_STOP = float(np.log10(2.0))


def _densities(film, true, rng, way):
    if way == "patches21":
        # one exposure through a step wedge: the wedge is sure, its lamp and its scale less so
        x = 0.18 * np.arange(-10, 11)
        xt = x * (1.0 + 0.006 * rng.normal()) + 0.03 * rng.normal()
        zero, each, part, flare, mark = 0.012, 0.012, 0.008, 10.0**-4.2, 0.01
    else:
        # bracketed frames, each with its own shutter error; a lamp and a meter at home
        n, stops = (11, 2.0 / 3.0) if way == "frames11" else (5, 1.5)
        x = stops * _STOP * (np.arange(n) - n // 2)
        xt = x + 0.025 * rng.normal() + 0.03 * rng.normal(size=n)
        zero, each, part, flare, mark = 0.035, 0.03, 0.02, 10.0**-3.8, 0.02
    d = film.density(true, xt)
    d = -np.log10(10.0**-d + flare)
    noise = each * rng.normal(size=x.size)
    noise[rng.random(x.size) < 0.01] *= 4.0  # dust, a finger
    d = d * (1.0 + part * rng.normal()) + zero * rng.normal() + noise
    d = np.maximum(np.round(d / mark) * mark, 0.0)
    sd = np.sqrt(zero**2 + each**2 + (part * d) ** 2 + mark**2 / 12.0)
    return {
        "way": way,
        "log_exposure": [round(float(v), 4) for v in x],
        "density": [round(float(v), 4) for v in d],
        "density_sd": [round(float(v), 4) for v in sd],
    }


def see(
    film, controls, rng, way="patches21", trouble="none", *, strip_index=0, aim=FIRST_AIM, others=None, person=None
) -> dict:
    """Make one strip and look at it: dict(controls, true_controls, reading, mislabelled).

    strip_index counts strips from 0 ("ammonia_flat"). "mislabelled" here: one strip in six is
    another one (one of `others`, a list of control dicts; without them the clock was misread).
    true_controls always belong to the strip that was read. For swaps in a batch: see_batch.
    """
    if way not in WAYS:
        raise ValueError(f"way {way!r}")
    if trouble not in TROUBLES:
        raise ValueError(f"trouble {trouble!r}")
    made, wrong = dict(controls), bool(trouble == "mislabelled" and rng.random() < 1.0 / 6.0)
    if wrong and others:
        made = dict(others[int(rng.integers(len(others)))])
    elif wrong:
        made[TIME] = made.get(TIME, DEFAULTS[TIME]) * float(rng.choice([0.7, 1.4]))
    true = true_controls_of(made, rng, trouble, strip_index)
    if way == "mixed":
        way = str(rng.choice(WAYS[:-1], p=[0.3, 0.25, 0.15, 0.3]))
    reading = _words(film, true, rng, _aim(aim), person) if way == "words" else _densities(film, true, rng, way)
    return {"controls": dict(controls), "true_controls": true, "reading": reading, "mislabelled": wrong}


def see_batch(
    film, controls_list, rng, way="patches21", trouble="none", *, first_index=0, aim=FIRST_AIM, person=None
) -> list:
    """Several strips; "mislabelled": in every full five, two that hung side by side change labels."""
    made = list(range(len(controls_list)))
    if trouble == "mislabelled":
        for s in range(0, len(made) - 4, 5):
            i = s + int(rng.integers(4))
            made[i], made[i + 1] = made[i + 1], made[i]
    inner = "none" if trouble == "mislabelled" else trouble
    out = []
    for i, j in enumerate(made):
        got = see(film, controls_list[j], rng, way, inner, strip_index=first_index + i, aim=aim, person=person)
        got.update(controls=dict(controls_list[i]), mislabelled=i != j)
        out.append(got)
    return out
