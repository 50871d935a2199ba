"""What a list of readings may be instead of log exposures and densities, and how to convert it.

A person pastes what they have: stops, shutter times, transmittances, a scanner's values, a list from its
dark end. Such a list has a shape of its own. What is recognised is named in one sentence, with the
conversion that would make it a curve; nothing is converted behind the person's back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

import numpy as np

from obverse.foundation import Array
from obverse.sensitometry.lists import ReadingList
from obverse.sensitometry.speed import metered_exposure_lx_s

Rows = tuple[Array, Array]

Verdict = Literal["cannot_be", "likely_not", "worth_a_look"]

# Rank correlation of exposure and density past which a list is said to rise or fall; between them is no order.
ORDERED = 0.6
NO_ORDER = 0.5
# Densities differ by less than this between readings of a level part; a list with less range shows no curve.
LEAST_RANGE = 0.15
# The highest density a film or an instrument shows.
HIGHEST_DENSITY = 6.0
# A base and a reading that lie this far on the wrong sides of each other cannot both be right.
BASE_DOUBT = 0.045
# Exposures as plain numbers: they span more than this ratio, and their logarithms are more evenly spaced.
LEAST_RATIO = 12.0
MORE_EVEN = 0.6
# Stops: whole, half or third steps over this many at least, and a slope that only stops can explain.
LEAST_STOPS = 3.0
STEEPEST_IN_STOPS = 0.95
STOP_PARTS = {1.0: "one", 2.0: "a half", 3.0: "a third"}
GRID_TOLERANCE = 0.012
# A mid-tone this far from the metered exposure means that the scale is not relative to it.
FARTHEST_MIDTONE = 0.75
# A transmittance below this is a density above 1.5; no negative is so clear.
LOWEST_NEGATIVE = 0.03
# A reading that stands off its neighbours by more than this many times their usual scatter, and by this density.
OFF_NEIGHBOURS = 8.0
LEAST_JUMP = 0.35
# Two strips one after another: how far apart their curves lie at equal exposures.
TWO_CURVES_APART = 0.06
# A ladder of exposures is so even and so long and reaches so far below zero; densities are less even and never do.
EVEN, FEWEST_RUNGS, BELOW_ZERO, ZERO_DENSITY = 0.2, 5, -0.1, -0.05
# Logarithms of transmittances reach this far below zero; a zero set on the base never does.
LEAST_LOG = -0.4
# A scanner's codes end here.
EIGHT_BITS, SIXTEEN_BITS = 255.0, 65535.0
# Transmittances span more than this ratio; densities of a strip do not.
TALL = 20.0
# f-numbers lie within this of a mark, and one of them is past the widest lenses.
NEAR_A_MARK, PAST_WIDE_LENSES = 0.05, 4.0
# The steepest part of a curve is looked for over this share of the readings.
STEEP_SHARE = 5
# A list pasted again: so many rows, and so few of them different.
FEWEST_PASTED, ONCE_SHARE = 6, 0.6
# Strips one after another: so many at most, so long each, over so much common exposure, compared at so many places.
MOST_STRIPS, FEWEST_OF_A_STRIP, COMMON_REACH, COMPARED_AT = 4, 4, 0.3, 25
# The mid-tone by eye: so far above the lightest reading; a scale that ends under this is not relative to it.
OVER_LIGHTEST, NEVER_OVER_METERED = 0.85, 0.35
# Hardly a meter or a film is so far off: nearly three stops under the metered exposure, four over it.
FAR_UNDER, FAR_OVER = -0.85, 1.25
# Opacities begin at 1 and run over this ratio; hundredths of densities begin at those of a base and never run so far.
CLEAREST, OPACITY_RATIO = 2.5, 40.0
# Neighbours scatter at least so much.
LEAST_SCATTER = 0.02
# The usual f-numbers; the list counts as f-numbers if each lies within a twentieth of one.
F_NUMBERS = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0)
# One step of a 21-step tablet, record "tablet-21".
TABLET_STEP = 0.15
# The gamma by which a scanner's eight-bit values are taken; nothing is known of the real one.
SCANNER_GAMMA = 2.2


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that a list may be instead.

    Parameters
    ----------
    code : str
        Names it, such as ``"stops"``; also the name of its conversion.
    verdict : str
        ``"cannot_be"``: no curve can be made of the list as it stands; ``"likely_not"``: a curve would be
        wrong; ``"worth_a_look"``: a curve can be made, and this should be known beside it.
    sentence : str
        What it looks like, in one sentence.
    way_on : str
        What to do, or what the conversion does.
    convert : callable or None
        Rows (x, d) to rows; None where only the person can mend it.
    """

    code: str
    verdict: Verdict
    sentence: str
    way_on: str
    convert: Callable[[Array, Array], Rows] | None = field(default=None, compare=False)

    def document(self) -> dict[str, str | bool]:
        """The JSON shape."""
        return {
            "code": self.code,
            "verdict": self.verdict,
            "sentence": self.sentence,
            "way_on": self.way_on,
            "convertible": self.convert is not None,
        }


def recognise(
    readings: ReadingList, *, base_density: float | None = None, box_speed: float | None = None
) -> tuple[Doubt, ...]:
    """What speaks against taking the list as log exposures and densities of one reversal strip.

    Parameters
    ----------
    base_density, box_speed : float, optional
        As the person states them; with the speed absolute log exposures can be converted.

    Returns
    -------
    tuple of Doubt
        The gravest first; empty where nothing speaks against it.
    """
    x, d = np.array(readings.log_exposure), np.array(readings.density)
    if x.size < 2:
        return ()
    found = _repeats(x, d)
    if found:
        x, d = _once(x, d)
    # A list in wrong units cannot be judged further before it is in right ones.
    for look in (_swapped, _signs, _density_units, _exposure_units):
        doubts = look(x, d)
        if doubts:
            return (*doubts, *found)
    order = _order(x, d)
    if order:
        return (*order, *found)
    return (
        *found,
        *_two_strips(x, d),
        *_scale(x, d, box_speed),
        *_outliers(x, d),
        *_base(d, base_density),
        *_few(x),
    )


def converted(
    readings: ReadingList, code: str, *, base_density: float | None = None, box_speed: float | None = None
) -> ReadingList:
    """The list after the conversion of that doubt.

    Parameters
    ----------
    readings : ReadingList
        As read.
    code : str
        Of the doubt.
    base_density, box_speed : float, optional
        Where the conversion needs them.

    Raises
    ------
    KeyError
        If the list has no such doubt, or none that can be converted.
    """
    for doubt in recognise(readings, base_density=base_density, box_speed=box_speed):
        if doubt.code == code and doubt.convert is not None:
            x, d = doubt.convert(np.array(readings.log_exposure), np.array(readings.density))
            same = len(x) == len(readings.density_sd) and np.array_equal(d, np.array(readings.density))
            sds = readings.density_sd if same else (None,) * len(x)
            return ReadingList(tuple(x.tolist()), tuple(d.tolist()), sds, readings.keywords)
    raise KeyError(code)


def _rank_correlation(x: Array, d: Array) -> float:
    def ranks(v: Array) -> Array:
        order = np.argsort(v, kind="stable")
        place = np.empty(v.size)
        place[order] = np.arange(v.size)
        values, back = np.unique(v, return_inverse=True)
        means: Array = np.bincount(back, place) / np.bincount(back, minlength=values.size)
        return means[back]

    a, b = ranks(x), ranks(d)
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0 else 0.0


def _evenness(v: Array) -> float:
    """Spread of the steps over their mean, of sorted different values: 0 where they are even."""
    steps = np.diff(np.unique(v))
    return float(steps.std() / steps.mean()) if steps.size > 1 else 0.0


def _swapped(x: Array, d: Array) -> tuple[Doubt, ...]:
    """The first column uneven and dense, the second a ladder that reaches below zero."""
    ladder = np.unique(d).size == d.size and d.size >= FEWEST_RUNGS and _evenness(d) < EVEN
    if (
        ladder
        and d.min() < BELOW_ZERO
        and x.min() > ZERO_DENSITY
        and x.max() <= HIGHEST_DENSITY
        and _evenness(x) > EVEN
    ):
        return (
            Doubt(
                "swapped",
                "likely_not",
                "the columns look swapped: the second is an even ladder that reaches below zero, the first falls like densities",
                "exchange the two columns",
                lambda a, b: (b, a),
            ),
        )
    return ()


def _signs(x: Array, d: Array) -> tuple[Doubt, ...]:
    if d.max() < 0 and d.min() < LEAST_LOG:
        return (
            Doubt(
                "sign",
                "cannot_be",
                "all densities are negative: they look like the logarithms of transmittances",
                "turn their sign",
                lambda a, b: (a, -b),
            ),
        )
    return ()


def _density_units(x: Array, d: Array) -> tuple[Doubt, ...]:
    rises = _rank_correlation(x, d)
    if rises < -ORDERED and 1 <= d.min() < CLEAREST and d.max() > max(HIGHEST_DENSITY, OPACITY_RATIO * d.min()):
        return (
            Doubt(
                "opacity",
                "cannot_be",
                f"the second column runs from {d.min():g} to {d.max():g} and falls with exposure: it looks like opacities",
                "take their logarithm",
                lambda a, b: (a, np.log10(b)),
            ),
        )
    if d.min() >= 0 and d.max() > HIGHEST_DENSITY:
        if rises < -ORDERED and d.max() <= 100 * HIGHEST_DENSITY:
            return (
                Doubt(
                    "times_100",
                    "cannot_be",
                    f"a density of {d.max():g} cannot be: the numbers look like densities times 100",
                    "divide them by 100",
                    lambda a, b: (a, b / 100),
                ),
            )
        if rises > ORDERED and d.max() <= 100:
            return (
                Doubt(
                    "percent",
                    "cannot_be",
                    f"the second column reaches {d.max():g} and rises with exposure: it looks like transmission in percent",
                    "take minus the logarithm of a hundredth of them",
                    lambda a, b: (a, -np.log10(np.maximum(b, 1e-4) / 100)),
                ),
            )
        if rises > ORDERED and d.max() <= SIXTEEN_BITS:
            top = EIGHT_BITS if d.max() <= EIGHT_BITS else SIXTEEN_BITS
            return (
                Doubt(
                    "scanner_values",
                    "cannot_be",
                    f"the second column reaches {d.max():g} and rises with exposure: it looks like a scanner's values from 0 to {top:.0f}",
                    f"take them as a gamma of {SCANNER_GAMMA:g} (a guess: the densities will be rough); "
                    "better read the file itself at the light table",
                    lambda a, b: (a, -SCANNER_GAMMA * np.log10(np.maximum(b, 0.5) / top)),
                ),
            )
    tall = d.max() / max(float(d.min()), 1e-6) > TALL
    if d.min() >= 0 and d.max() <= 1 and rises > ORDERED and (d.min() < LOWEST_NEGATIVE or tall):
        return (
            Doubt(
                "transmittance",
                "likely_not",
                "the second column lies between 0 and 1 and rises with exposure: it looks like transmittances",
                "take minus their logarithm",
                lambda a, b: (a, -np.log10(np.maximum(b, 1e-5))),
            ),
        )
    return ()


def _exposure_units(x: Array, d: Array) -> tuple[Doubt, ...]:
    different = np.unique(x)
    positive = x.min() > 0
    f_numbers = np.array(F_NUMBERS)
    if positive and different.size > 3 and _rank_correlation(x, d) > ORDERED:
        nearest = np.abs(different[:, None] / f_numbers - 1).min(axis=1)
        if np.all(nearest < NEAR_A_MARK) and different.max() > PAST_WIDE_LENSES:
            return (
                Doubt(
                    "f_numbers",
                    "likely_not",
                    "the first column looks like f-numbers: density rises with them as the light falls",
                    "take minus twice their logarithm, the middle one as the metered exposure",
                    lambda a, b: (-2 * np.log10(a / np.median(a)), b),
                ),
            )
    integers = bool(np.all(np.abs(x - np.round(x)) < 1e-9))
    if integers and different.size > 6 and different[0] in (0.0, 1.0) and np.all(np.diff(different) == 1):
        falls = _rank_correlation(x, d) < 0
        sign = 1.0 if falls else -1.0
        return (
            Doubt(
                "step_numbers",
                "likely_not",
                f"the first column counts from {different[0]:g} to {different[-1]:g}: it looks like the numbers of a step tablet",
                f"take {TABLET_STEP:g} a step, the middle step as the metered exposure",
                lambda a, b: (sign * TABLET_STEP * (a - np.median(a)), b),
            ),
        )
    if positive and different.size > 4 and different[-1] / different[0] > LEAST_RATIO:
        logs = np.log10(different)
        if _evenness(logs) < MORE_EVEN * _evenness(different):
            return (
                Doubt(
                    "plain_exposures",
                    "likely_not",
                    f"the first column runs from {different[0]:g} to {different[-1]:g} in equal ratios: "
                    "it looks like exposures or times themselves, not their logarithms",
                    "take their logarithms, the middle one as the metered exposure (what the meter said is not in the list)",
                    lambda a, b: (np.log10(a) - float(np.median(np.log10(a))), b),
                ),
            )
    return _stops(x, d, different)


def _stops(x: Array, d: Array, different: Array) -> tuple[Doubt, ...]:
    if np.ptp(x) < LEAST_STOPS or different.size < 4 or _rank_correlation(x, d) > -ORDERED:
        return ()
    parts = [part for part in STOP_PARTS if np.all(np.abs(x * part - np.round(x * part)) < GRID_TOLERANCE * part)]
    order = np.argsort(x, kind="stable")
    steepest = _steepest(x[order], d[order])
    if parts and np.ptp(d) > 1.0 and steepest < STEEPEST_IN_STOPS:
        return (
            Doubt(
                "stops",
                "likely_not",
                f"the first column goes in steps of {_step_words(parts[0])} over {np.ptp(x):.3g}: it looks like stops, not log exposures "
                f"(the steepest part would have a gradient of only {steepest:.2f})",
                "multiply it by 0.301",
                lambda a, b: (a * float(np.log10(2.0)), b),
            ),
        )
    return ()


def _step_words(parts: float) -> str:
    return STOP_PARTS[parts]


def _steepest(x: Array, d: Array) -> float:
    """The greatest fall over about a third of a list, per unit of x; the list sorted by x."""
    values, back = np.unique(x, return_inverse=True)
    means = np.bincount(back, d) / np.bincount(back)
    reach = max(1, values.size // STEEP_SHARE)
    return float(np.max((means[:-reach] - means[reach:]) / (values[reach:] - values[:-reach])))


def _order(x: Array, d: Array) -> tuple[Doubt, ...]:
    if np.ptp(d) < LEAST_RANGE:
        return (
            Doubt(
                "flat",
                "cannot_be",
                f"all densities lie within {np.ptp(d):.2f} of each other: there is no curve in them",
                "read patches that differ, or look whether one column was pasted twice",
            ),
        )
    correlation = _rank_correlation(x, d)
    if correlation > ORDERED:
        return (
            Doubt(
                "rising",
                "likely_not",
                "density rises with exposure: this is a negative's curve, or the order of one column is reversed",
                "if the strip is a positive, reverse the exposures; if it is a negative, the strip was not reversed "
                "(bleach, second exposure or second development is missing)",
                lambda a, b: (a.max() + a.min() - a, b),
            ),
        )
    if abs(correlation) < NO_ORDER and x.size > 4:
        return (
            Doubt(
                "no_order",
                "cannot_be",
                "the densities have no order over the exposures: most readings fit no falling curve",
                "look whether one of the columns was sorted or shuffled by itself",
            ),
        )
    return ()


def _blocks(x: Array) -> list[slice]:
    """Stretches of a list in which x goes one way."""
    steps = np.sign(np.diff(x))
    way = np.sign(steps.sum()) or 1.0
    cuts = [0, *[int(i) + 1 for i in np.flatnonzero(steps == -way)], x.size]
    return [slice(a, b) for a, b in pairwise(cuts)]


def _repeats(x: Array, d: Array) -> tuple[Doubt, ...]:
    once = _once(x, d)[0].size
    # Single equal rows happen by rounding; a list in which most rows stand again was pasted again.
    if x.size >= FEWEST_PASTED and once <= ONCE_SHARE * x.size:
        return (
            Doubt(
                "repeated",
                "worth_a_look",
                f"{x.size - once} of {x.size} rows stand again to the last digit: the list was pasted more than once",
                "each row counts once",
                _once,
            ),
        )
    return ()


def _once(x: Array, d: Array) -> Rows:
    _, first = np.unique(np.column_stack([x, d]), axis=0, return_index=True)
    keep = np.sort(first)
    return x[keep], d[keep]


def _two_strips(x: Array, d: Array) -> tuple[Doubt, ...]:
    blocks = _blocks(x)
    if not 2 <= len(blocks) <= MOST_STRIPS or min(b.stop - b.start for b in blocks) < FEWEST_OF_A_STRIP:
        return ()
    first, second = blocks[0], blocks[1]

    def curve(b: slice) -> Rows:
        order = np.argsort(x[b], kind="stable")
        return x[b][order], d[b][order]

    (xa, da), (xb, db) = curve(first), curve(second)
    low, high = max(xa[0], xb[0]), min(xa[-1], xb[-1])
    if high - low < COMMON_REACH:
        return ()
    at = np.linspace(low, high, COMPARED_AT)
    apart = float(np.sqrt(np.mean((np.interp(at, xa, da) - np.interp(at, xb, db)) ** 2)))
    if apart < TWO_CURVES_APART:
        return ()
    return (
        Doubt(
            "two_strips",
            "likely_not",
            f"{len(blocks)} lists stand one after another, and their curves lie {apart:.2f} apart: they look like {len(blocks)} strips",
            "keep the first here, and enter the others as strips of their own",
            lambda a, b: (a[first], b[first]),
        ),
    )


def _scale(x: Array, d: Array, box_speed: float | None) -> tuple[Doubt, ...]:
    order = np.argsort(x, kind="stable")
    falling = np.minimum.accumulate(d[order])
    level = d.min() + OVER_LIGHTEST
    below = np.flatnonzero(falling < level)
    if not below.size or below[0] == 0:
        return ()
    pair = slice(below[0] - 1, below[0] + 1)
    midtone = float(np.interp(-level, -falling[pair], x[order][pair]))
    under = midtone < FAR_UNDER or (midtone < -FARTHEST_MIDTONE and x.max() < NEVER_OVER_METERED)
    if under or midtone > FAR_OVER:
        stops = abs(midtone) / float(np.log10(2.0))
        metered = metered_exposure_lx_s(box_speed) * (1 if under else 1000) if box_speed else None
        return (
            Doubt(
                "absolute",
                "worth_a_look",
                f"the mid-tone lies at {midtone:.2f}, {stops:.1f} stops {'under' if under else 'over'} the metered exposure: "
                f"these may be absolute log exposures ({'lux' if under else 'millilux'} seconds), or be counted from elsewhere",
                f"take off the metered exposure of a film of {box_speed:g}"
                if metered
                else "if so, state the speed of the film: its metered exposure is then taken off",
                None if metered is None else lambda a, b: (a - float(np.log10(metered)), b),
            ),
        )
    return ()


def _outliers(x: Array, d: Array) -> tuple[Doubt, ...]:
    order = np.argsort(x, kind="stable")
    xs, ds = x[order], d[order]
    if xs.size < 6:
        return ()
    inner = np.arange(1, xs.size - 1)
    gap = xs[inner + 1] - xs[inner - 1]
    part = np.where(gap > 0, (xs[inner] - xs[inner - 1]) / np.where(gap > 0, gap, 1), 0.5)
    bend = ds[inner] - (ds[inner - 1] * (1 - part) + ds[inner + 1] * part)
    usual = max(float(np.median(np.abs(bend))), LEAST_SCATTER)
    worst = int(np.argmax(np.abs(bend)))
    if abs(bend[worst]) > max(OFF_NEIGHBOURS * usual, LEAST_JUMP):
        at, value = float(xs[inner][worst]), float(ds[inner][worst])
        return (
            Doubt(
                "outlier",
                "worth_a_look",
                f"the reading {value:.2f} at {at:.2f} stands {bend[worst]:+.2f} off its neighbours: it counts for little",
                "read it again, or leave it out",
                lambda a, b: (a[~((a == at) & (b == value))], b[~((a == at) & (b == value))]),
            ),
        )
    return ()


def _base(d: Array, base_density: float | None) -> tuple[Doubt, ...]:
    if base_density is None or d.min() >= base_density - BASE_DOUBT:
        return ()
    return (
        Doubt(
            "below_base",
            "worth_a_look",
            f"readings go down to {d.min():.2f}, below the base density of {base_density:.2f}: both cannot be right",
            "read the base again on a bare, fixed piece; until then it is taken as no higher than the lightest reading",
        ),
    )


def _few(x: Array) -> tuple[Doubt, ...]:
    if np.unique(x).size > 3:
        return ()
    return (
        Doubt(
            "few",
            "worth_a_look",
            f"{np.unique(x).size} different exposures hardly make a curve: most of what is told comes from curves in general",
            "read more patches where you can",
        ),
    )
