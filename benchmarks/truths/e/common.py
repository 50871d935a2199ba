"""Shared ground for the simulated truths: aims, ranges, measuring, shares, seeing.

Independent of any software under test. numpy only. All densities in AIMS are ABOVE BASE.
"""

from __future__ import annotations
import itertools
import numpy as np

CONTROLS = ("first_developer_time_min", "solvent_ml_per_l", "alkali_ml_per_l", "temperature_c", "developer_parts_water")
DEFAULTS = dict(zip(CONTROLS, (12.0, 2.0, 8.0, 20.0, 15.0)))
TIME, SOLV, ALK, TEMP, WATER = CONTROLS


def _aim(dmax, glo, ghi, hl, mid, lo, hi):
    return dict(
        dmax_min=dmax,
        gradient_min=glo,
        gradient_max=ghi,
        highlight_density_max=hl,
        midtone_density=mid,
        midtone_log_exposure_min=lo,
        midtone_log_exposure_max=hi,
    )


AIMS = {
    "projection": _aim(2.0, 1.3, 1.9, 0.25, 1.0, -0.15, 0.15),
    "light_table": _aim(1.8, 1.1, 1.6, 0.30, 1.0, -0.20, 0.20),
    "scan": _aim(1.5, 0.8, 1.4, 0.40, 1.0, -0.30, 0.30),
    "contrasty": _aim(2.3, 1.7, 2.6, 0.20, 1.0, -0.20, 0.20),
    # no upper gradient bound: gradient_max is None
    "pale": _aim(1.9, 1.2, None, 0.15, 0.8, -0.12, 0.12),
}

# control -> (low, high, step)
RANGES = {
    "narrow": {TIME: (7.0, 16.0, 0.75), SOLV: (0.0, 6.0, 0.5), ALK: (2.0, 16.0, 1.0)},
    "wide": {TIME: (3.0, 24.0, 1.0), SOLV: (0.0, 14.0, 1.0), ALK: (0.0, 28.0, 2.0)},
    # contains none of 12 min, 2 mL/L, 8 mL/L
    "elsewhere": {TIME: (3.0, 11.0, 0.5), SOLV: (3.0, 12.0, 0.75), ALK: (10.0, 24.0, 1.0)},
}


def controls_matrix(controls) -> np.ndarray:
    """dict of scalars/arrays, or a list of dicts -> (R,5) in the order of CONTROLS."""
    if isinstance(controls, np.ndarray) and controls.dtype != object:
        return np.atleast_2d(controls).astype(float)
    if isinstance(controls, dict):
        cols = [np.atleast_1d(np.asarray(controls.get(k, DEFAULTS[k]), float)) for k in CONTROLS]
        n = max(c.size for c in cols)
        return np.stack([np.broadcast_to(c, (n,)) for c in cols], 1)
    return np.array([[float(c.get(k, DEFAULTS[k])) for k in CONTROLS] for c in controls])


def grid(ranges, fixed=None) -> np.ndarray:
    """All recipes of a range as (R,5). `ranges` is a name or a dict control -> (lo, hi, step)."""
    if isinstance(ranges, str):
        ranges = RANGES[ranges]
    axes = []
    for k in CONTROLS:
        if k in ranges:
            lo, hi, st = ranges[k]
            axes.append(lo + st * np.arange(int(np.floor((hi - lo) / st + 1e-9)) + 1))
        else:
            axes.append(np.array([(fixed or {}).get(k, DEFAULTS[k])]))
    return np.array(list(itertools.product(*axes)))


LX = np.round(np.arange(-3.0, 3.0001, 0.05), 6)


def _at(d, x):
    """d (R,len(LX)) read at x (R,), linear, ends held."""
    p = np.clip((x - LX[0]) / 0.05, 0, len(LX) - 1 - 1e-9)
    p = np.where(np.isfinite(p), p, 0.0)
    i = p.astype(int)
    f = p - i
    r = np.arange(len(d))
    return d[r, i] * (1 - f) + d[r, i + 1] * f


def measure(film, controls, aim="projection") -> dict:
    """Arrays (R,): dmax, midtone_log_exposure (nan if never crossed), gradient, highlight_density.

    dmax: density above base where no light fell, taken at log exposure -3.
    mid-tone: first log exposure where the falling curve crosses midtone_density.
    gradient: (D(mid-0.25) - D(mid+0.25)) / 0.5.  highlight: D(mid+0.80).
    """
    if isinstance(aim, str):
        aim = AIMS[aim]
    d = film.density_many(controls_matrix(controls), LX) - film.base_density
    m = aim["midtone_density"]
    down = (d[:, :-1] >= m) & (d[:, 1:] < m)
    has = down.any(1)
    i = down.argmax(1)
    r = np.arange(len(d))
    a, b = d[r, i], d[r, i + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        x = LX[i] + 0.05 * (a - m) / (a - b)
    x = np.where(has, x, np.nan)
    nan = np.where(has, 0.0, np.nan)
    return dict(
        dmax=d[:, 0],
        midtone_log_exposure=x,
        gradient=(_at(d, x - 0.25) - _at(d, x + 0.25)) / 0.5 + nan,
        highlight_density=_at(d, x + 0.80) + nan,
    )


def in_aim(film, controls, aim="projection") -> np.ndarray:
    if isinstance(aim, str):
        aim = AIMS[aim]
    q = measure(film, controls, aim)
    with np.errstate(invalid="ignore"):
        ok = (q["dmax"] >= aim["dmax_min"]) & (q["gradient"] >= aim["gradient_min"])
        if aim.get("gradient_max") is not None:
            ok &= q["gradient"] <= aim["gradient_max"]
        ok &= q["highlight_density"] <= aim["highlight_density_max"]
        ok &= q["midtone_log_exposure"] >= aim["midtone_log_exposure_min"]
        ok &= q["midtone_log_exposure"] <= aim["midtone_log_exposure_max"]
    return ok


def share_in_aim(film, aim="projection", ranges="wide") -> float:
    return float(in_aim(film, grid(ranges), aim).mean())


BANDS = {"hard": (0.01, 0.03), "medium": (0.03, 0.12), "easy": (0.12, 1.01)}


def pick_films(family_module, n, hardness, aim="projection", ranges="wide", start_seed=0, max_tries=None):
    """n films whose share lies in the band of `hardness`; seeds counted up from start_seed.

    Returns a list of films; film.seed and film.share are set. Raises if max_tries seeds do not give n.
    """
    lo, hi = BANDS[hardness]
    out, tries, seed = [], 0, int(start_seed)
    max_tries = max_tries or 60 * n + 60
    while len(out) < n:
        if tries >= max_tries:
            raise RuntimeError(f"only {len(out)} of {n} {hardness} films in {tries} seeds")
        f = family_module.make_film(seed, hardness)
        s = share_in_aim(f, aim, ranges)
        if lo <= s < hi:
            f.seed, f.share = seed, s
            out.append(f)
        seed += 1
        tries += 1
    return out


# ------------------------------------------------------------------ seeing
WAYS = ("patches21", "frames11", "frames5", "words", "mixed")
TROUBLES = ("none", "ammonia_flat", "warm", "mislabelled")
HIGHLIGHT_WORDS = ("clear", "slightly murky", "murky")
BLACK_WORDS = ("deep", "slightly thin", "thin")
MIDTONE_WORDS = ("too dark", "a bit dark", "right", "a bit light", "too light")


def make_person(rng) -> dict:
    """One person's standing bias (multiplicative) on the thresholds."""
    return dict(
        highlights=float(np.exp(rng.normal(0, 0.15))),
        blacks=float(np.exp(rng.normal(0, 0.05))),
        midtones=float(rng.normal(0, 0.06)),
    )


def true_controls_of(controls, rng, trouble="none", strip_index=0) -> dict:
    t = {k: float(controls.get(k, DEFAULTS[k])) for k in CONTROLS}
    for k in (SOLV, ALK):
        if t[k] > 0:  # dosing error, none at zero
            t[k] = max(0.0, t[k] * (1 + 0.03 * rng.normal()) + 0.1 * rng.normal())
    t[TIME] = max(0.1, t[TIME] + 0.15 * rng.normal())
    t[TEMP] = t[TEMP] + 0.3 * rng.normal()
    if trouble == "ammonia_flat":  # the bottle loses ammonia from strip to strip
        t[ALK] *= 0.92**strip_index
    elif trouble == "warm":
        t[TEMP] += 1.0
    return t


def _words(film, true, rng, aim, person):
    b = film.base_density
    d = film.density(true, np.array([-3.0, 0.0, 0.8])) - b
    dmax, mid, hl = d
    p = person or make_person(rng)
    m = aim["midtone_density"]
    # thresholds around the aim, each look with its own noise
    h1 = aim["highlight_density_max"] * p["highlights"] * np.exp(rng.normal(0, 0.12))
    h2 = h1 * 1.9 * np.exp(rng.normal(0, 0.10))
    k1 = aim["dmax_min"] * p["blacks"] * np.exp(rng.normal(0, 0.04))
    k2 = k1 * 0.80 * np.exp(rng.normal(0, 0.03))
    e = p["midtones"] + rng.normal(0, 0.06)
    z = mid - m + e
    hw = HIGHLIGHT_WORDS[0 if hl <= h1 else 1 if hl <= h2 else 2]
    bw = BLACK_WORDS[0 if dmax >= k1 else 1 if dmax >= k2 else 2]
    mw = MIDTONE_WORDS[0 if z > 0.50 else 1 if z > 0.18 else 2 if z > -0.18 else 3 if z > -0.45 else 4]
    return dict(way="words", highlights=hw, blacks=bw, midtones=mw)


def _densities(film, true, rng, way):
    if way == "patches21":
        x = np.round(np.arange(-2, 2.001, 0.2), 6)
        xt = x + 0.02 * rng.normal()
        sd, off = 0.015, 0.01
    else:
        n, step = (11, 0.301) if way == "frames11" else (5, 0.602)
        x = np.round(step * (np.arange(n) - n // 2), 6)
        xt = x + 0.04 * rng.normal(size=n)
        sd, off = 0.04, 0.05
    d = film.density(true, xt) + off * rng.normal() + sd * rng.normal(size=x.size)
    d = np.maximum(d, 0.0)
    return dict(
        way=way, log_exposure=x.tolist(), density=[float(v) for v in d], density_sd=[float(np.hypot(sd, off))] * x.size
    )


def see(
    film, controls, rng, way="patches21", trouble="none", *, strip_index=0, aim="projection", others=None, person=None
) -> dict:
    """Make one strip and look at it. Returns dict(true_controls, reading, controls, mislabelled).

    strip_index counts strips (0 first), used by "ammonia_flat".
    "mislabelled" here: with chance 1/5 the strip read is another one (one of `others`, a list of
    control dicts; without them a recipe a quarter shorter/longer). For exactly one swap per five
    strips use see_batch. true_controls always belong to the strip that was read.
    """
    if isinstance(aim, str):
        aim = AIMS[aim]
    if way not in WAYS or trouble not in TROUBLES:
        raise ValueError((way, trouble))
    made, wrong = dict(controls), False
    if trouble == "mislabelled" and rng.random() < 0.2:
        wrong = True
        if others:
            made = dict(others[int(rng.integers(len(others)))])
        else:
            made[TIME] = made.get(TIME, DEFAULTS[TIME]) * (0.75 if rng.random() < 0.5 else 1.33)
    true = true_controls_of(made, rng, trouble, strip_index)
    w = way
    if way == "mixed":
        w = ("patches21", "frames11", "frames5", "words")[int(rng.integers(4))]
    reading = _words(film, true, rng, aim, person) if w == "words" else _densities(film, true, rng, w)
    return dict(controls=dict(controls), true_controls=true, reading=reading, mislabelled=wrong)


def see_batch(
    film, controls_list, rng, way="patches21", trouble="none", *, first_index=0, aim="projection", person=None
) -> list:
    """Several strips; for "mislabelled" two strips in every full five change labels (one swap)."""
    n = len(controls_list)
    order = list(range(n))
    if trouble == "mislabelled":
        for s in range(0, n - 4, 5):
            i, j = (int(v) + s for v in rng.choice(5, 2, replace=False))
            order[i], order[j] = order[j], order[i]
    out = []
    for i in range(n):
        r = see(
            film,
            controls_list[order[i]],
            rng,
            way,
            "none" if trouble == "mislabelled" else trouble,
            strip_index=first_index + i,
            aim=aim,
            person=person,
        )
        r["controls"] = dict(controls_list[i])
        r["mislabelled"] = order[i] != i
        out.append(r)
    return out
