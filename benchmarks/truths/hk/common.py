"""Aims, ranges, measuring, shares and the person at the sink.

numpy only; knows nothing of any software under test. Densities in AIMS are ABOVE BASE;
densities in readings include the base, as a densitometer zeroed on the bare lamp shows them.
"""

from __future__ import annotations
import numpy as np

CONTROLS = ("first_developer_time_min", "solvent_ml_per_l", "alkali_ml_per_l", "temperature_c", "developer_parts_water")
TIME, SOLV, ALK, TEMP, WATER = CONTROLS
DEFAULTS = {TIME: 10.0, SOLV: 3.0, ALK: 6.5, TEMP: 20.5, WATER: 12.0}

_KEYS = (
    "dmax_min",
    "gradient_min",
    "gradient_max",
    "highlight_density_max",
    "midtone_density",
    "midtone_log_exposure_min",
    "midtone_log_exposure_max",
)
AIMS = {
    k: dict(zip(_KEYS, v))
    for k, v in {
        # two for projecting
        "lantern": (2.05, 1.20, 1.80, 0.28, 0.95, -0.18, 0.14),
        "tray": (1.90, 1.35, 2.10, 0.22, 1.05, -0.14, 0.19),
        # odd: soft picture hung in a window
        "window": (1.35, 0.65, 1.15, 0.45, 0.75, -0.28, 0.24),
        # odd: hard mask for copying line work, the harder the better
        "linework": (2.20, 1.85, None, 0.17, 1.25, -0.25, 0.22),
        # odd: low-key night picture, its middle lies dark
        "nocturne": (2.15, 1.00, 1.70, 0.60, 1.45, -0.22, 0.28),
    }.items()
}

# control -> (low, high, step)
RANGES = {
    "narrow": {TIME: (6.0, 14.0, 0.8), SOLV: (0.0, 5.0, 0.5), ALK: (3.0, 15.0, 1.2)},
    "wide": {TIME: (2.0, 26.0, 1.2), SOLV: (0.0, 16.0, 1.25), ALK: (0.0, 30.0, 2.5)},
    # contains none of the DEFAULTS of time, solvent and alkali
    "elsewhere": {TIME: (3.5, 9.5, 0.4), SOLV: (4.0, 13.0, 0.9), ALK: (9.5, 25.0, 1.3)},
    # ammonia left alone; the water bath is varied instead
    "waterbath": {TIME: (4.0, 20.0, 1.0), SOLV: (0.0, 9.0, 0.75), TEMP: (17.0, 27.0, 1.0)},
}


def controls_matrix(controls) -> np.ndarray:
    """dict of scalars/arrays, list of dicts, or array -> (R,5) in the order of CONTROLS."""
    if isinstance(controls, np.ndarray) and controls.dtype != object:
        return np.atleast_2d(controls).astype(float)
    if isinstance(controls, dict):
        cols = np.broadcast_arrays(*(np.atleast_1d(np.asarray(controls.get(k, DEFAULTS[k]), float)) for k in CONTROLS))
        return np.stack(cols, -1)
    return np.array([[float(c.get(k, DEFAULTS[k])) for k in CONTROLS] for c in controls])


def grid(ranges, fixed=None) -> np.ndarray:
    """All recipes of a range as (R,5). `ranges` is a name or a dict control -> (lo, hi, step)."""
    rg = RANGES[ranges] if isinstance(ranges, str) else ranges
    fixed = fixed or {}
    axes = []
    for k in CONTROLS:
        if k in rg:
            lo, hi, st = rg[k]
            axes.append(lo + st * np.arange(int((hi - lo) / st + 1e-9) + 1))
        else:
            axes.append([float(fixed.get(k, DEFAULTS[k]))])
    return np.stack([a.ravel() for a in np.meshgrid(*axes, indexing="ij")], 1)


_STEP = 0.05
LX = np.round(-3.0 + _STEP * np.arange(121), 6)


def _read_at(d, x):
    p = np.nan_to_num((x - LX[0]) / _STEP, nan=0.0)
    p = np.clip(p, 0, LX.size - 1 - 1e-9)
    i = p.astype(int)
    r = np.arange(len(d))
    return d[r, i] + (p - i) * (d[r, i + 1] - d[r, i])


def _aim_of(aim):
    return AIMS[aim] if isinstance(aim, str) else aim


def measure(film, controls, aim="lantern") -> dict:
    """Arrays (R,): dmax, midtone_log_exposure (nan if never crossed), gradient, highlight_density.

    dmax: above base at log exposure -3. mid-tone: first falling crossing of midtone_density.
    gradient: mean fall over half a log unit about it. highlight: 0.80 to its right.
    """
    a = _aim_of(aim)
    d = film.density_many(controls_matrix(controls), LX) - film.base_density
    m = a["midtone_density"]
    hit = (d[:, :-1] >= m) & (d[:, 1:] < m)
    ok = hit.any(1)
    i = hit.argmax(1)
    r = np.arange(len(d))
    drop = np.where(ok, d[r, i] - d[r, i + 1], 1.0)
    x = np.where(ok, LX[i] + _STEP * (d[r, i] - m) / drop, np.nan)
    g = (_read_at(d, x - 0.25) - _read_at(d, x + 0.25)) / 0.5
    h = _read_at(d, x + 0.80)
    return dict(
        dmax=d[:, 0],
        midtone_log_exposure=x,
        gradient=np.where(ok, g, np.nan),
        highlight_density=np.where(ok, h, np.nan),
    )


def in_aim(film, controls, aim="lantern") -> np.ndarray:
    a = _aim_of(aim)
    q = measure(film, controls, a)
    gmax = a.get("gradient_max")
    with np.errstate(invalid="ignore"):
        x, g = q["midtone_log_exposure"], q["gradient"]
        return (
            (q["dmax"] >= a["dmax_min"])
            & (g >= a["gradient_min"])
            & (g <= (np.inf if gmax is None else gmax))
            & (q["highlight_density"] <= a["highlight_density_max"])
            & (x >= a["midtone_log_exposure_min"])
            & (x <= a["midtone_log_exposure_max"])
        )


def share_in_aim(film, aim="lantern", ranges="wide") -> float:
    return float(in_aim(film, grid(ranges), aim).mean())


BANDS = {"hard": (0.01, 0.03), "medium": (0.03, 0.12), "easy": (0.12, 1.01)}


def pick_films(family_module, n, hardness, aim="lantern", ranges="wide", start_seed=0, max_tries=None):
    """n films whose share lies in the band of `hardness`; seeds counted up from start_seed.

    A few hundred recipes are looked at first, the whole range only where those leave it open.
    film.seed and film.share are set. Raises if max_tries seeds do not give n.
    """
    lo, hi = BANDS[hardness]
    g = grid(ranges)
    few = g[np.random.default_rng(5).permutation(len(g))[:350]]
    slack = 4.0 * np.sqrt(np.array([lo, min(hi, 1.0)]) / len(few))
    out, seed = [], int(start_seed)
    last = seed + int(max_tries or 150 * n + 150)
    while len(out) < n:
        if seed >= last:
            raise RuntimeError(f"only {len(out)} of {n} {hardness} films in {seed - int(start_seed)} seeds")
        f = family_module.make_film(seed, hardness)
        s0 = in_aim(f, few, aim).mean()
        if s0 > 0 and lo - slack[0] <= s0 <= hi + slack[1]:
            s = float(in_aim(f, g, aim).mean())
            if lo <= s < hi:
                f.seed, f.share = seed, s
                out.append(f)
        seed += 1
    return out


# ------------------------------------------------------------------ the person at the sink
WAYS = ("patches21", "frames11", "frames5", "words", "mixed")
TROUBLES = ("none", "ammonia_flat", "warm", "mislabelled")
HIGHLIGHT_WORDS = ("clear", "slightly murky", "murky")
BLACK_WORDS = ("deep", "slightly thin", "thin")
MIDTONE_WORDS = ("too dark", "a bit dark", "right", "a bit light", "too light")


def make_person(rng) -> dict:
    """One pair of eyes: standing leanings, and how sharply they draw the line between two words."""
    return dict(
        highlights=float(np.exp(0.18 * rng.standard_t(6))),  # what still passes for clear
        blacks=float(np.exp(0.06 * rng.normal())),  # what passes for deep
        midtones=float(rng.normal(0.0, 0.07)),  # room light, lamp of the viewing box
        sharpness=float(rng.uniform(0.6, 1.5)),
        lapse=float(rng.uniform(0.0, 0.05)),
    )


def true_controls_of(controls, rng, trouble="none", strip_index=0) -> dict:
    """What was in the tank against what stands in the notebook."""
    t = {k: float(controls.get(k, DEFAULTS[k])) for k in CONTROLS}
    # syringes: a share for the strength of this bottle and the top-up of the litre, a part of a graduation,
    # and seldom a bubble or a drop left in the nozzle
    for k, rel, grad in ((SOLV, 0.025, 0.12), (ALK, 0.04, 0.15)):
        if t[k] > 0:
            bubble = 0.25 * rng.random() if rng.random() < 0.06 else 0.0
            t[k] = max(0.0, t[k] * np.exp(rel * rng.normal()) + grad * (rng.random() + rng.random() - 1.0) - bubble)
    # the clock: filling and draining lean to the long side; sometimes one forgets to look
    t[TIME] += 0.04 + 0.11 * rng.normal() + (rng.uniform(0.3, 0.8) if rng.random() < 0.03 else 0.0)
    t[TIME] = max(0.15, t[TIME])
    # the thermometer, and a bath that creeps towards the room (near 20) over a long time
    room = 20.0 + 1.5 * rng.normal()
    t[TEMP] += 0.22 * rng.normal() + 0.5 * (room - t[TEMP]) * (1 - np.exp(-t[TIME] / 90.0))
    # the measuring cylinder
    t[WATER] = max(0.0, (1 + t[WATER]) * np.exp(0.015 * rng.normal()) - 1)
    if trouble == "ammonia_flat":  # cap left loose: each strip finds a weaker bottle, not evenly so
        t[ALK] *= float(np.exp(-0.075 * strip_index * (0.8 + 0.4 * rng.random())))
    elif trouble == "warm":
        t[TEMP] += 0.9 + 0.4 * rng.random()
    return {k: float(v) for k, v in t.items()}


def _pick_word(words, value, edges, soft, rng, lapse):
    """Ordered choice: logistic lines between neighbouring words; a lapse gives a neighbour."""
    noise = soft * rng.logistic()
    k = int(np.sum(value + noise > np.asarray(edges)))
    if rng.random() < lapse:
        k = int(np.clip(k + (1 if rng.random() < 0.5 else -1), 0, len(words) - 1))
    return words[k]


def _words(film, true, rng, aim, person):
    p = person or make_person(rng)
    lapse, soft = p.get("lapse", 0.02), 1.0 / p.get("sharpness", 1.0)
    centre = 0.5 * (aim["midtone_log_exposure_min"] + aim["midtone_log_exposure_max"])
    shot = 0.04 * rng.normal()  # the frame looked at is not exposed to the hair
    off = np.array([-0.1, 0.0, 0.1])
    x = np.concatenate([[-3.0, -1.8], centre + shot + off, centre + shot + 0.8 + off])
    d = np.maximum(film.density(true, x) - film.base_density, 1e-4)
    # blacks: the frame's edge and the deepest shadow looked at together, compared in ratio
    black = 0.7 * d[0] + 0.3 * min(d[0], d[1] + 0.15)
    # lights and mid-tones: the eye means over light passed, not over density
    mid = -np.log10(np.mean(10.0 ** -d[2:5]))
    light = -np.log10(np.mean(10.0 ** -d[5:8]))
    hw = _pick_word(
        HIGHLIGHT_WORDS,
        np.log((light + 0.02) / ((aim["highlight_density_max"] + 0.02) * p["highlights"])),
        (0.0, 0.55),
        0.07 * soft,
        rng,
        lapse,
    )
    bw = _pick_word(BLACK_WORDS, np.log(aim["dmax_min"] * p["blacks"] / black), (0.0, 0.20), 0.022 * soft, rng, lapse)
    # tolerance grows with the mid-tone's own density: dark steps are harder to tell apart
    tol = 0.75 + 0.25 * aim["midtone_density"]
    z = (aim["midtone_density"] - mid) / tol + p["midtones"]
    mw = _pick_word(MIDTONE_WORDS, z, (-0.48, -0.17, 0.16, 0.42), 0.04 * soft, rng, lapse)
    return dict(way="words", highlights=hw, blacks=bw, midtones=mw)


def _densities(film, true, rng, way):
    if way == "patches21":  # contact-printed wedge, desk densitometer
        x = np.round(0.2 * np.arange(-10, 11), 6)
        xt = x + 0.02 * rng.normal() + 0.006 * rng.normal(size=x.size)  # lamp, and the wedge's own steps
        gain, flare, zero, rel, flat, last, claim = 0.008, 3.9, 0.008, 0.006, 0.010, 0.01, (0.018, 0.009)
    else:  # bracketed frames, lamp and camera or hand-held meter
        n, step = (11, 0.301) if way == "frames11" else (5, 0.602)
        x = np.round(step * (np.arange(n) - n // 2), 6)
        xt = x + 0.03 * rng.normal() + 0.028 * rng.standard_t(5, size=n)  # light that day; each shutter time
        gain, flare, zero, rel, flat, last, claim = 0.02, 3.3, 0.03, 0.015, 0.025, 0.02, (0.055, 0.022)
    d = film.density(true, xt)
    d = d * (1 + gain * rng.normal()) + zero * rng.normal()
    d = -np.log10(10.0**-d + 10.0 ** -(flare + 0.2 * rng.normal()))  # stray light caps deep blacks
    d = d + np.hypot(flat, rel * d) * rng.normal(size=x.size)
    d = np.maximum(0.0, np.round(d / last) * last)
    sd = np.hypot(claim[0], claim[1] * d)
    return dict(
        way=way,
        log_exposure=[float(v) for v in x],
        density=[float(np.round(v, 4)) for v in d],
        density_sd=[float(v) for v in sd],
    )


def see(
    film, controls, rng, way="patches21", trouble="none", *, strip_index=0, aim="lantern", others=None, person=None
) -> dict:
    """Make one strip and look at it. Returns dict(controls, true_controls, reading, mislabelled).

    "mislabelled": now and then the strip read is another one (one of `others`, else the same recipe
    with a time well off). true_controls always belong to the strip that was read.
    """
    if way not in WAYS or trouble not in TROUBLES:
        raise ValueError((way, trouble))
    made, wrong = dict(controls), False
    if trouble == "mislabelled" and rng.random() < 0.17:
        wrong = True
        if others:
            made = dict(others[int(rng.integers(len(others)))])
        else:
            made[TIME] = made.get(TIME, DEFAULTS[TIME]) * float(rng.choice([0.7, 1.4]))
    true = true_controls_of(made, rng, trouble, strip_index)
    w = WAYS[int(rng.choice(4, p=[0.2, 0.3, 0.2, 0.3]))] if way == "mixed" else way
    reading = _words(film, true, rng, _aim_of(aim), person) if w == "words" else _densities(film, true, rng, w)
    return dict(controls=dict(controls), true_controls=true, reading=reading, mislabelled=wrong)


def see_batch(
    film, controls_list, rng, way="patches21", trouble="none", *, first_index=0, aim="lantern", person=None
) -> list:
    """Several strips; for "mislabelled" two strips in every full five change labels."""
    n = len(controls_list)
    order = np.arange(n)
    if trouble == "mislabelled":
        for s in range(0, n - n % 5, 5):
            pair = s + rng.permutation(5)[:2]
            order[pair] = order[pair[::-1]]
    t = "none" if trouble == "mislabelled" else trouble
    out = []
    for i, j in enumerate(order.tolist()):
        r = see(film, controls_list[j], rng, way, t, strip_index=first_index + i, aim=aim, person=person)
        r["controls"], r["mislabelled"] = dict(controls_list[i]), i != j
        out.append(r)
    return out
