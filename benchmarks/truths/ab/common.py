"""Shared parts: aims, ranges, observables, shares, choice of films, observers.

Densities in AIMS are ABOVE BASE.  gradient_max None means "no upper bound".
"""

from __future__ import annotations
import numpy as np

TIME = "first_developer_time_min"
SOLV = "solvent_ml_per_l"
ALK = "alkali_ml_per_l"
TEMP = "temperature_c"
PARTS = "developer_parts_water"
DEFAULTS = {TIME: 12.0, SOLV: 2.0, ALK: 8.0, TEMP: 20.0, PARTS: 15.0}


def _aim(dmax, gmin, gmax, hl, mid, lo, hi):
    return dict(
        dmax_min=dmax,
        gradient_min=gmin,
        gradient_max=gmax,
        highlight_density_max=hl,
        midtone_density=mid,
        midtone_log_exposure_min=lo,
        midtone_log_exposure_max=hi,
    )


AIMS = {
    "projection": _aim(2.0, 1.3, 1.9, 0.25, 1.0, -0.15, 0.15),
    "light_table": _aim(1.8, 1.1, 1.6, 0.30, 1.0, -0.20, 0.20),
    "scan": _aim(1.5, 0.8, 1.4, 0.40, 1.0, -0.30, 0.30),
    "contrasty": _aim(2.2, 1.2, 2.1, 0.20, 1.0, -0.15, 0.40),
    "bright_open": _aim(1.7, 0.9, None, 0.30, 0.8, -0.25, 0.20),
}

RANGES = {
    "narrow": {TIME: (8.0, 16.0, 0.5), SOLV: (0.0, 6.0, 1.0), ALK: (4.0, 14.0, 1.0)},
    "wide": {TIME: (3.0, 24.0, 0.5), SOLV: (0.0, 14.0, 1.0), ALK: (0.0, 26.0, 1.0)},
    # holds none of 12 min, 2 mL/L, 8 mL/L
    "apart": {TIME: (13.0, 22.0, 0.5), SOLV: (3.0, 12.0, 1.0), ALK: (9.0, 24.0, 1.0)},
}
BANDS = {"hard": (0.01, 0.03), "medium": (0.03, 0.12), "easy": (0.12, 1.0001)}
WAYS = ("patches21", "frames11", "frames5", "words")
TROUBLES = ("none", "ammonia_flat", "warm", "mislabelled")


# ---------------------------------------------------------------- controls
def control_arrays(controls):
    """dict of arrays | dict of floats | list of dicts -> (time, solv, alk, temp, parts), each (R,)."""
    if isinstance(controls, dict):
        cols = [np.atleast_1d(np.asarray(controls.get(k, d), float)) for k, d in DEFAULTS.items()]
    else:
        cols = [np.array([float(c.get(k, d)) for c in controls]) for k, d in DEFAULTS.items()]
    cols = np.broadcast_arrays(*cols)
    return tuple(np.maximum(c, -50.0 if i == 3 else 0.0) for i, c in enumerate(cols))


def axis(spec):
    lo, hi, step = spec
    return lo + step * np.arange(int(round((hi - lo) / step)) + 1)


def grid(ranges, thin=1):
    """All recipes of the ranges as dict of flat arrays (thin: every thin-th level, both halves kept)."""
    if isinstance(ranges, str):
        ranges = RANGES[ranges]
    axes = []
    for spec in ranges.values():
        a = axis(spec)
        axes.append(a[(len(a) - 1) % thin // 2 :: thin] if thin > 1 else a)
    mesh = np.meshgrid(*axes, indexing="ij")
    return {k: m.ravel() for k, m in zip(ranges, mesh)}


# ---------------------------------------------------------------- observables
def _interp_rows(x, Y, xq):
    """Linear interpolation of each row of Y (R,N) on uniform x at xq (R,), clipped to the ends."""
    h = x[1] - x[0]
    p = np.clip((xq - x[0]) / h, 0, len(x) - 1 - 1e-9)
    i = p.astype(int)
    f = p - i
    r = np.arange(len(Y))
    return Y[r, i] * (1 - f) + Y[r, i + 1] * f


def _observe(film, controls, mid, lo, hi, h=0.05):
    x = np.arange(lo, hi + h / 2, h)
    le = np.concatenate([[-3.0], x])
    D = film.density_many(controls, le) - film.base_density
    dmax, Y = D[:, 0], D[:, 1:]
    below = Y <= mid
    i = np.argmax(below, axis=1)
    ok = below.any(axis=1) & (i > 0)
    r = np.arange(len(Y))
    i1 = np.where(ok, i, 1)
    a, b = Y[r, i1 - 1], Y[r, i1]
    m = x[i1 - 1] + h * np.clip((a - mid) / np.maximum(a - b, 1e-12), 0, 1)
    m = np.where(ok, m, np.nan)
    mq = np.where(ok, m, 0.0)
    g = (_interp_rows(x, Y, mq - 0.25) - _interp_rows(x, Y, mq + 0.25)) / 0.5
    hl = _interp_rows(x, Y, mq + 0.8)
    return dict(dmax=dmax, midtone=m, gradient=np.where(ok, g, np.nan), highlight=np.where(ok, hl, np.nan))


def observables(film, controls, midtone_density=1.0):
    """True dmax (at log exposure -3), midtone log exposure (nan where never crossed), gradient, highlight."""
    o = _observe(film, controls, midtone_density, -3.0, 3.0, 0.025)
    return o


def meets(film, controls, aim):
    """Boolean (R,): which recipes truly meet the aim."""
    if isinstance(aim, str):
        aim = AIMS[aim]
    lo, hi = aim["midtone_log_exposure_min"], aim["midtone_log_exposure_max"]
    o = _observe(film, controls, aim["midtone_density"], lo - 0.30, hi + 0.85)
    gmax = aim["gradient_max"]
    gmax = np.inf if gmax is None else gmax
    with np.errstate(invalid="ignore"):
        return (
            (o["dmax"] >= aim["dmax_min"])
            & (o["midtone"] >= lo)
            & (o["midtone"] <= hi)
            & (o["gradient"] >= aim["gradient_min"])
            & (o["gradient"] <= gmax)
            & (o["highlight"] <= aim["highlight_density_max"])
        )


def share_in_aim(film, aim, ranges, thin=1):
    return float(np.mean(meets(film, grid(ranges, thin), aim)))


def pick_films(family_module, n, hardness, aim, ranges, start_seed=0, max_tries=2000, report=None):
    """First n films (by seed) whose true share lies in the band of the hardness.
    A thinned grid rules out the clear misses; the full grid decides."""
    lo, hi = BANDS[hardness]
    big = len(next(iter(grid(ranges).values()))) > 2500
    out, tries = [], 0
    for seed in range(start_seed, start_seed + max_tries):
        if len(out) >= n:
            break
        tries += 1
        film = family_module.make_film(seed, hardness)
        if big:
            rough = share_in_aim(film, aim, ranges, thin=2)
            if not (0.6 * lo <= rough <= 1.5 * hi):
                continue
        s = share_in_aim(film, aim, ranges)
        if lo <= s < hi:
            film.share = s
            out.append(film)
    if report is not None:
        report.update(tries=tries, found=len(out))
    return out


def margin(o, aim):
    """How comfortably one recipe's observables meet an aim (negative: missed), mid-tone aside."""
    gmax = aim["gradient_max"] or 2.2
    m = [
        (o["dmax"][0] - aim["dmax_min"]) / 0.6,
        (o["gradient"][0] - aim["gradient_min"]) / 0.3,
        (gmax - o["gradient"][0]) / 0.3,
        (aim["highlight_density_max"] - o["highlight"][0]) / 0.15,
    ]
    return float(np.nan_to_num(np.min(m), nan=-9.0))


# ---------------------------------------------------------------- observers
def dose(controls, rng):
    """What truly went into the tank when 'controls' was meant."""
    c = {k: float(controls.get(k, d)) for k, d in DEFAULTS.items()}
    for k in (SOLV, ALK):
        if c[k] > 0:
            c[k] = max(0.0, c[k] * (1 + 0.03 * rng.standard_normal()) + 0.1 * rng.standard_normal())
    if c[TIME] > 0:
        c[TIME] = max(0.1, c[TIME] + 0.15 * rng.standard_normal())
    c[TEMP] += 0.3 * rng.standard_normal()
    return c


def _words(film, true, rng, aim):
    o = {k: float(v[0]) for k, v in observables(film, [true], aim["midtone_density"]).items()}
    lo, hi = aim["midtone_log_exposure_min"], aim["midtone_log_exposure_max"]
    if np.isnan(o["midtone"]):
        too_light = o["dmax"] <= aim["midtone_density"]
        m = -3.0 if too_light else 3.0
        o["highlight"] = float(film.density(true, np.array([0.8]))[0] - film.base_density)
    else:
        m = o["midtone"]
    e = rng.standard_normal
    h = o["highlight"] - aim["highlight_density_max"] + 0.05 * e()
    b = o["dmax"] - aim["dmax_min"] + 0.10 * e()
    high = "clear" if h <= 0 else "slightly murky" if h <= 0.20 else "murky"
    black = "deep" if b >= 0 else "slightly thin" if b >= -0.35 else "thin"
    m = m + 0.06 * e()
    if m > hi:  # needs more light to reach the mid-tone: the picture looks dark
        mid = "a bit dark" if m <= hi + 0.25 else "too dark"
    elif m < lo:
        mid = "a bit light" if m >= lo - 0.25 else "too light"
    else:
        mid = "right"
    return {"highlights": high, "blacks": black, "midtones": mid}


def see(film, controls, rng, way="patches21", trouble="none", *, strip_index=0, aim="projection", other_controls=None):
    """One strip, processed (with dosing errors and the trouble) and looked at.

    strip_index    0,1,2.. within the session ("ammonia_flat": alkali strength * 0.92**strip_index)
    aim            only used by "words" (its thresholds are the aim's limits)
    other_controls "mislabelled": with probability 1/5 the strip really got these.  For a whole
                   session with proper pairwise swaps use see_session().
    """
    if isinstance(aim, str):
        aim = AIMS[aim]
    if way == "mixed":
        way = WAYS[int(rng.integers(len(WAYS)))]
    meant = controls
    if trouble == "mislabelled" and other_controls is not None and rng.random() < 0.2:
        meant = other_controls
    true = dose(meant, rng)
    if trouble == "ammonia_flat":
        true[ALK] *= 0.92**strip_index
    elif trouble == "warm":
        true[TEMP] += 1.0
    elif trouble not in ("none", "mislabelled"):
        raise ValueError(trouble)
    out = {"controls": dict(controls), "true_controls": true, "way": way, "trouble": trouble}
    if way == "words":
        r = _words(film, true, rng, aim)
    else:
        if way == "patches21":
            le = np.round(-2.0 + 0.2 * np.arange(21), 3)
            real = le + 0.02 * rng.standard_normal()
            sd, off, stated = 0.015, 0.01, 0.02
        elif way in ("frames11", "frames5"):
            n = 5 if way == "frames11" else 2
            le = np.round(0.301 * np.arange(-n, n + 1), 3)
            real = le + 0.04 * rng.standard_normal(len(le))
            sd, off, stated = 0.04, 0.05, 0.06
        else:
            raise ValueError(way)
        d = film.density(true, np.clip(real, -3, 3))
        d = d + sd * rng.standard_normal(len(le)) + off * rng.standard_normal()
        d = np.maximum(d, 0.0)
        r = {"log_exposure": [float(v) for v in le], "density": [float(v) for v in d], "density_sd": [stated] * len(le)}
    out["reading"] = r
    out.update(r)
    return out


def see_session(film, controls_list, rng, way="patches21", trouble="none", *, aim="projection", start_index=0):
    """A list of strips.  "mislabelled": in each five, one strip's controls are swapped with another's
    of the same five (so both carry the wrong label; ["controls"] is the label)."""
    real = [dict(c) for c in controls_list]
    if trouble == "mislabelled":
        for s in range(0, len(real), 5):
            m = min(5, len(real) - s)
            if m >= 2 and (m == 5 or rng.random() < m / 5):
                i, j = rng.choice(m, 2, replace=False) + s
                real[i], real[j] = real[j], real[i]
    out = []
    for k, (label, c) in enumerate(zip(controls_list, real)):
        o = see(
            film, c, rng, way, "none" if trouble == "mislabelled" else trouble, strip_index=start_index + k, aim=aim
        )
        o["controls"], o["trouble"] = dict(label), trouble
        o["label_is_wrong"] = bool(label != c)
        out.append(o)
    return out
