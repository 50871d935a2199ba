"""Common ground of this judging world: aims, ranges, measuring, picking films, seeing.

Densities in AIMS are above base. numpy only; knows nothing of the software that is judged.
"""

from __future__ import annotations

import numpy as np

CONTROLS = ("first_developer_time_min", "solvent_ml_per_l", "alkali_ml_per_l", "temperature_c", "developer_parts_water")
TIME, SOLV, ALK, TEMP, WATER = CONTROLS
# what a recipe means when it is silent about a control
DEFAULTS = {TIME: 10.5, SOLV: 3.0, ALK: 9.0, TEMP: 20.0, WATER: 14.0}

_AIM_KEYS = (
    "dmax_min",
    "gradient_min",
    "gradient_max",
    "highlight_density_max",
    "midtone_density",
    "midtone_log_exposure_min",
    "midtone_log_exposure_max",
)
_AIM_TABLE = {
    # two for the projector
    "hall": (1.90, 1.15, 1.80, 0.27, 0.95, -0.18, 0.14),
    "lantern": (2.15, 1.35, 2.10, 0.32, 1.10, -0.14, 0.22),
    # three odd ones
    "chalk": (1.35, 0.60, 1.15, 0.50, 0.75, -0.28, 0.24),
    "woodcut": (2.30, 1.65, None, 0.22, 1.20, -0.25, 0.20),  # no upper bound of the gradient
    "dusk": (2.00, 1.05, 1.70, 0.55, 1.35, 0.00, 0.34),
}
AIMS = {name: dict(zip(_AIM_KEYS, row)) for name, row in _AIM_TABLE.items()}
FIRST_AIM = "hall"

# control -> (low, high, step)
RANGES = {
    "narrow": {TIME: (6.0, 15.0, 0.6), SOLV: (0.6, 6.6, 0.6), ALK: (3.0, 15.0, 1.2)},
    "wide": {TIME: (2.5, 22.5, 1.25), SOLV: (0.0, 12.0, 1.2), ALK: (0.0, 24.0, 2.4)},
    # long, much solvent, little ammonia: holds none of the defaults
    "elsewhere": {TIME: (12.5, 23.5, 1.0), SOLV: (4.2, 11.4, 0.8), ALK: (0.0, 7.0, 0.7)},
}


def controls_matrix(controls) -> np.ndarray:
    """(R,5) from a matrix, a dict of scalars or arrays, or a list of dicts; columns as CONTROLS."""
    if isinstance(controls, np.ndarray) and controls.dtype != object:
        return np.atleast_2d(np.asarray(controls, float))
    if isinstance(controls, dict):
        cols = np.broadcast_arrays(*[np.ravel(np.asarray(controls.get(k, DEFAULTS[k]), float)) for k in CONTROLS])
        return np.column_stack(cols)
    rows = [[float(c.get(k, DEFAULTS[k])) for k in CONTROLS] for c in controls]
    return np.array(rows, float).reshape(-1, len(CONTROLS))


def grid(ranges, fixed=None) -> np.ndarray:
    """Every recipe of a range, (R,5). `ranges`: a name, or control -> (low, high, step)."""
    spec = RANGES[ranges] if isinstance(ranges, str) else ranges
    held = {**DEFAULTS, **(fixed or {})}
    axes = []
    for k in CONTROLS:
        if k not in spec:
            axes.append(np.array([float(held[k])]))
            continue
        low, high, step = spec[k]
        axes.append(np.round(np.arange(low, high + 1e-6 * step, step), 9))
    return np.stack([m.ravel() for m in np.meshgrid(*axes, indexing="ij")], axis=1)


_STEP = 0.05
LX = np.round(-3.0 + _STEP * np.arange(121), 9)


def _read_at(d, x):
    """Each row of d (on LX) read at its own x; straight lines between, held beyond the ends."""
    pos = np.nan_to_num((x - LX[0]) / _STEP, nan=0.0)
    pos = np.clip(pos, 0.0, LX.size - 1.000001)
    k = np.floor(pos).astype(int)[:, None]
    low = np.take_along_axis(d, k, 1)[:, 0]
    high = np.take_along_axis(d, k + 1, 1)[:, 0]
    return low + (pos - k[:, 0]) * (high - low)


def measure(film, controls, aim=FIRST_AIM) -> dict:
    """Arrays (R,): dmax, midtone_log_exposure (nan where never crossed), gradient, highlight_density.

    dmax at log exposure -3; mid-tone where the curve first falls through midtone_density;
    gradient over a quarter of a unit to either side of it; highlight 0.80 beyond it.
    """
    aim = AIMS[aim] if isinstance(aim, str) else aim
    level = aim["midtone_density"]
    d = film.density_many(controls_matrix(controls), LX) - film.base_density
    above = d >= level
    falls = above[:, :-1] & ~above[:, 1:]
    crossed = falls.any(axis=1)
    k = np.where(crossed, falls.argmax(axis=1), 0)[:, None]
    high = np.take_along_axis(d, k, 1)[:, 0]
    low = np.take_along_axis(d, k + 1, 1)[:, 0]
    drop = np.where(high > low, high - low, 1.0)
    mid = np.where(crossed, LX[k[:, 0]] + _STEP * (high - level) / drop, np.nan)
    slope = (_read_at(d, mid - 0.25) - _read_at(d, mid + 0.25)) / 0.5
    light = _read_at(d, mid + 0.80)
    return dict(
        dmax=d[:, 0].copy(),
        midtone_log_exposure=mid,
        gradient=np.where(crossed, slope, np.nan),
        highlight_density=np.where(crossed, light, np.nan),
    )


def _meets(q, aim):
    top = aim.get("gradient_max")
    with np.errstate(invalid="ignore"):
        return (
            (q["dmax"] >= aim["dmax_min"])
            & (q["gradient"] >= aim["gradient_min"])
            & (q["gradient"] <= (np.inf if top is None else top))
            & (q["highlight_density"] <= aim["highlight_density_max"])
            & (q["midtone_log_exposure"] >= aim["midtone_log_exposure_min"])
            & (q["midtone_log_exposure"] <= aim["midtone_log_exposure_max"])
        )


def in_aim(film, controls, aim=FIRST_AIM) -> np.ndarray:
    aim = AIMS[aim] if isinstance(aim, str) else aim
    return _meets(measure(film, controls, aim), aim)


def share_in_aim(film, aim=FIRST_AIM, ranges="wide") -> float:
    return float(np.mean(in_aim(film, grid(ranges), aim)))


# share of the range's recipes that meet the aim: from, up to (not including)
BANDS = {"hard": (0.01, 0.03), "medium": (0.03, 0.12), "easy": (0.12, 1.01)}


def pick_films(family_module, n, hardness, aim=FIRST_AIM, ranges="wide", start_seed=0, max_tries=None):
    """The first n films, seeds counted up, whose share lies in the band; .seed and .share are set."""
    low, high = BANDS[hardness]
    tries = int(max_tries) if max_tries else 150 * n + 150
    found = []
    for seed in range(int(start_seed), int(start_seed) + tries):
        if len(found) >= n:
            break
        film = family_module.make_film(seed, hardness)
        share = share_in_aim(film, aim, ranges)
        if low <= share < high:
            film.seed, film.share = seed, share
            found.append(film)
    if len(found) < n:
        raise RuntimeError(f"{len(found)} of {n} {hardness} films found in {tries} seeds ({aim}, {ranges})")
    return found


# ------------------------------------------------------------------ seeing
WAYS = ("patches21", "frames11", "frames5", "words", "mixed")
TROUBLES = ("none", "ammonia_flat", "warm", "mislabelled")
HIGHLIGHT_WORDS = ("clear", "slightly murky", "murky")
BLACK_WORDS = ("deep", "slightly thin", "thin")
MIDTONE_WORDS = ("too dark", "a bit dark", "right", "a bit light", "too light")


def make_person(rng) -> dict:
    """Standing leanings of one pair of eyes: shifts on the inner scales, unsteadiness, halo."""
    return dict(
        highlights=float(0.13 * rng.standard_t(8)),  # above 0: forgives murk
        blacks=float(0.045 * rng.standard_t(8)),  # above 0: asks for more black
        midtones=float(0.055 * rng.normal() - 0.01),  # above 0: sees the picture darker
        unsteady=float(rng.uniform(0.7, 1.4)),
        halo=float(rng.uniform(0.0, 0.12)),  # thin blacks make all seem lighter
        slips=float(rng.beta(1.2, 50.0)),  # chance of the neighbouring word
    )


def _dose(ml, rng):
    """A syringe: filled to a mark of a quarter ml at sight, scale error, a drop more or less."""
    if ml <= 0:
        return 0.0
    sight = ml + 0.25 * (rng.random() - 0.5)
    return float(max(0.0, sight * np.exp(0.022 * rng.normal()) + 0.05 * rng.normal()))


def true_controls_of(controls, rng, trouble="none", strip_index=0) -> dict:
    """What the strip really got."""
    t = {k: float(controls.get(k, DEFAULTS[k])) for k in CONTROLS}
    t[SOLV] = _dose(t[SOLV], rng)
    t[ALK] = _dose(t[ALK], rng)
    # pouring out takes a while and is sometimes late
    t[TIME] = max(0.2, t[TIME] + 0.09 * rng.normal() + 0.10 * (rng.exponential() - 0.6))
    # filled a little off, then drifting towards the room through the run
    start = 0.18 * rng.standard_t(6)
    room = 0.7 * rng.normal()
    t[TEMP] = t[TEMP] + start + room * (1.0 - np.exp(-t[TIME] / 25.0))
    t[WATER] = max(0.0, t[WATER] * float(np.exp(0.012 * rng.normal())))
    if trouble == "ammonia_flat":  # the opened bottle gives its gas away, quicker at first
        t[ALK] *= 0.45 + 0.55 * float(np.exp(-0.16 * strip_index))
    elif trouble == "warm":  # a thermometer that reads low
        t[TEMP] += 1.25
    return {k: float(v) for k, v in t.items()}


def _slip(index, count, rng, chance):
    if rng.random() >= chance:
        return index
    return int(np.clip(index + (1 if rng.random() < 0.5 else -1), 0, count - 1))


def _lightness(d):
    """Seen lightness (0 to 100) of a density above base, with a little stray light of the room."""
    stray = 0.004
    y = (10.0 ** (-np.asarray(d, float)) + stray) / (1.0 + stray)
    return 116.0 * np.cbrt(y) - 16.0


def _words(film, true, rng, aim, person):
    who = person or make_person(rng)
    g = lambda key, other: float(who.get(key, other))  # noqa: E731
    shake = g("unsteady", 1.0)
    shift = 0.025 * rng.normal()  # the exposure of the one test picture
    # eyes take a patch, not a point: a few neighbouring tones are averaged
    spots = np.array([-3.0, -2.4, -1.9, -0.1, 0.0, 0.1, 0.65, 0.80, 0.95]) + shift
    d = film.density(true, spots) - film.base_density
    black, mid, light = d[0] * 0.6 + d[1] * 0.25 + d[2] * 0.15, d[3:6].mean(), d[6:9].mean()

    # lights: the log of murk over murk allowed
    murk = np.log((light + 0.03) / (aim["highlight_density_max"] + 0.03)) - g("highlights", 0.0)
    murk += 0.07 * shake * rng.logistic()
    hw = 0 if murk < 0.0 else 1 if murk < 0.58 else 2

    # blacks: share of the black asked for
    lack = (aim["dmax_min"] - black) / aim["dmax_min"] + g("blacks", 0.0) + 0.022 * shake * rng.logistic()
    bw = 0 if lack < 0.0 else 1 if lack < 0.19 else 2

    # middle: seen lightness against that of the wanted tone; thin blacks lift everything
    off = float(_lightness(aim["midtone_density"]) - _lightness(max(mid, 0.0))) / 32.0
    off += g("midtones", 0.0) - g("halo", 0.0) * float(np.clip(lack, 0.0, 1.0)) + 0.035 * shake * rng.logistic()
    mw = int(np.searchsorted([-0.52, -0.20, 0.19, 0.47], off))
    mw = 4 - mw  # darkest word first

    slip = g("slips", 0.02)
    return dict(
        way="words",
        highlights=HIGHLIGHT_WORDS[_slip(hw, 3, rng, slip)],
        blacks=BLACK_WORDS[_slip(bw, 3, rng, slip)],
        midtones=MIDTONE_WORDS[_slip(mw, 5, rng, slip)],
    )


def _densities(film, true, rng, way):
    if way == "patches21":  # a contact wedge read with a densitometer
        x = np.round(0.17 * (np.arange(21) - 11), 6)
        really = x * (1.0 + 0.006 * rng.normal()) + 0.025 * rng.normal()
        zero, grain, gain = 0.008, 0.012, 0.006
    else:  # bracketed frames read off a scanner
        n, stop = (11, 0.30) if way == "frames11" else (5, 0.60)
        x = np.round(stop * (np.arange(n) - (n - 1) // 2), 6)
        really = x + 0.03 * rng.normal() + 0.035 * rng.normal(size=n)
        zero, grain, gain = 0.035, 0.030, 0.020
    d = np.asarray(film.density(true, really), float)
    scale = float(np.exp(gain * rng.normal()))
    # grain and stray light tell more in the blacks
    each = grain * np.sqrt(0.7 + 0.3 * d**2)
    noisy = scale * d + zero * rng.normal() + each * rng.normal(size=x.size)
    noisy = np.round(np.maximum(noisy, 0.0), 3 if way == "patches21" else 2)
    sd = np.sqrt(zero**2 + (gain * noisy) ** 2 + grain**2 * (0.7 + 0.3 * noisy**2))
    return dict(
        way=way,
        log_exposure=[float(v) for v in x],
        density=[float(v) for v in noisy],
        density_sd=[float(v) for v in sd],
    )


def see(
    film, controls, rng, way="patches21", trouble="none", *, strip_index=0, aim=FIRST_AIM, others=None, person=None
) -> dict:
    """Make one strip, look at it: dict(controls, true_controls, reading, mislabelled).

    "mislabelled": one strip in six is another one (of `others`, or else one made of a slip of the
    pen in the time or with solvent and alkali exchanged). true_controls are those of the strip read.
    """
    if way not in WAYS:
        raise ValueError(f"way {way!r}")
    if trouble not in TROUBLES:
        raise ValueError(f"trouble {trouble!r}")
    aim = AIMS[aim] if isinstance(aim, str) else aim
    made, wrong = dict(controls), False
    if trouble == "mislabelled" and rng.random() < 1.0 / 6.0:
        wrong = True
        if others:
            made = dict(others[int(rng.integers(len(others)))])
        elif rng.random() < 0.7:
            made[TIME] = made.get(TIME, DEFAULTS[TIME]) * float(rng.choice([0.7, 1.4]))
        else:
            made[SOLV], made[ALK] = made.get(ALK, DEFAULTS[ALK]), made.get(SOLV, DEFAULTS[SOLV])
    true = true_controls_of(made, rng, trouble, strip_index)
    kind = way if way != "mixed" else str(rng.choice(WAYS[:4], p=[0.2, 0.25, 0.25, 0.3]))
    reading = _words(film, true, rng, aim, person) if kind == "words" else _densities(film, true, rng, kind)
    return dict(controls=dict(controls), true_controls=true, reading=reading, mislabelled=wrong)


def see_batch(
    film, controls_list, rng, way="patches21", trouble="none", *, first_index=0, aim=FIRST_AIM, person=None
) -> list:
    """Several strips. "mislabelled": in every full five, two strips that hung side by side are exchanged."""
    n = len(controls_list)
    which = np.arange(n)
    if trouble == "mislabelled":
        for start in range(0, n - n % 5, 5):
            i = start + int(rng.integers(4))
            which[[i, i + 1]] = which[[i + 1, i]]
    plain = "none" if trouble == "mislabelled" else trouble
    out = []
    for i, j in enumerate(which):
        r = see(film, controls_list[int(j)], rng, way, plain, strip_index=first_index + int(j), aim=aim, person=person)
        r["controls"] = dict(controls_list[i])
        r["mislabelled"] = bool(i != j)
        out.append(r)
    return out
