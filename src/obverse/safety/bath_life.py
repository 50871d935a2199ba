"""How long a bath lasts: before the film is lost, not after.

One unknown is learned per kind of bath: u, the logarithm of (silver to be taken per square metre of
film) over (silver a litre takes before it is too slow). Film area through the bath, per litre, times
exp(u) is the exhausted share x. The prior of u joins the published ranges of silver per area and
negative share with the practical capacity (`obverse.chemistry.capacity`), which is taken as the load
at which the planned time is just too short; every roll that came out clean, or with a ghost of the
negative, moves it.

A bath bleaches at a rate in proportion to what is left of it, 1 - x: after the planned time the share
of the negative still there is exp(-s (1 - x) t / t_planned), s being how far a fresh bath goes beyond need
(record ``practice.bath.fresh_reserve``). A ghost shows above ``practice.bath.ghost_share``. Rates, reserve
and ghost share are judgements; the interval says how little is known. Each film also brings the water of the rinse
before it and takes as much bath away (record ``wash.retained``), which thins the bath; and each film that nobody
judged adds to the doubt (record ``practice.bath.doubt_per_film``). An iron bleach takes what practice says of it
(record ``practice.bath.iron_rolls_per_l``), never more than its iron allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from statistics import NormalDist
from typing import TYPE_CHECKING

from obverse.chemistry import (
    Range,
    ammonia_capacity,
    bleach_capacity,
    fixer_capacity_rolls_per_l,
    molar_mass_g_per_mol,
    rolls_in_practice,
    silver_per_roll_g,
)
from obverse.foundation import QUANTILES_90, Z90, Array, Caution, Estimate, InputError, JsonObject, Level, root_between
from obverse.process import Formula
from obverse.process.catalog import substances
from obverse.reference import ShelfLifeRow, number, record, shelf_life_rows
from obverse.safety.destroy import residue_of
from obverse.safety.matter import Ingredient, of_formula

if TYPE_CHECKING:
    pass

_BLEACHES = {"iron_chloride": "iron_iii", "permanganate": "permanganate", "dichromate": "dichromate"}
# Below a tenth of tolerable wear the doubt of the strength is no longer a small change.
_FLOOR = 0.1
# A bath that is used up still does something in the end; the time of a clip stays finite.
_LEAST_STRENGTH = 0.02
# Standard deviations of a normal law to either end of its 99 % interval.
_Z99 = 2.576
# Rolls after which nobody asks for the first ghost; the part of its wear from which no time helps a bleach; times the planned time
# that a person would still wait; rolls that count as soon.
_MOST_ROLLS, _NO_TIME_HELPS, _WORTH_WAITING, _SOON = 200, 0.9, 3, 3
_LOW, _MIDDLE, _HIGH = QUANTILES_90
# Logarithms of wear over which beliefs are laid out, in hundredths: ends and number.
_FAR, _STEPS = 9.0, 1801


@cache
def _grid() -> Array:
    import numpy as np

    return np.linspace(-_FAR, _FAR, _STEPS)


@dataclass(frozen=True, slots=True)
class Pass:
    """One film that went through the bath.

    Parameters
    ----------
    area_m2 : float
    ghost : bool or None
        Whether a ghost of the negative was seen on it; None where nobody looked.
    time_ratio : float
        Time given over the planned time.
    """

    area_m2: float
    ghost: bool | None = None
    time_ratio: float = 1.0


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of u, the logarithm of exhausted share per (m2/L): a normal law by mean and standard deviation."""

    mean: float
    sd: float
    seen: int = 0


@dataclass(frozen=True, slots=True)
class BathStrength:
    """Logarithm of a bath's rate before any film over that of a bath as the formula means it: mean and standard deviation."""

    log_mean: float
    log_sd: float


AS_MIXED = BathStrength(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Forecast:
    """What the next film may expect of this bath.

    Parameters
    ----------
    completeness : Estimate
        Share of the negative that is gone after the planned time, median with 90 % interval.
    ghost_probability : float
        Probability that what is left shows.
    rolls_left : Estimate
        Films like the next one until the ghost is more likely than not, median with 90 % interval.
    silver_g : Range
        Silver that the bath has met so far.
    ghost_on_roll : int or None
        The first coming roll (1 is the next) whose ghost is more likely than not; None beyond 200.
    """

    completeness: Estimate
    ghost_probability: float
    rolls_left: Estimate
    silver_g: Range
    used_share: Estimate
    ghost_on_roll: int | None
    longer_time_ratio: float | None
    life: ShelfLifeRow | None
    belief: Belief
    cautions: tuple[Caution, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "completeness": self.completeness.document(),
            "ghost_probability": self.ghost_probability,
            "rolls_left": self.rolls_left.document(),
            "silver_g": self.silver_g.document(),
            "used_share": self.used_share.document(),
            "ghost_on_roll": self.ghost_on_roll,
            "longer_time_ratio": self.longer_time_ratio,
            "sign_of_failure": self.life.sign_of_failure if self.life else "",
            "keeps": self.life.life if self.life else "",
            "standing": self.life.source.words if self.life else "",
            "rolls_judged": self.belief.seen,
            "cautions": [caution.document() for caution in self.cautions],
        }


def first_belief(formula: Formula) -> Belief:
    """What the published ranges say before any film was judged.

    Raises
    ------
    InputError
        For a bath that takes no silver up.
    """
    rolls = _rolls_per_l(formula)
    if not rolls.likely > 0:
        raise InputError(
            f"{formula.name} holds nothing that takes silver", where=formula.name, remedy="check its strength"
        )
    area = number("area.135-36")
    # Low and high of the range are all their factors at their worst together: taken as a 99 % interval.
    sd = math.log(rolls.high / rolls.low) / (2 * _Z99)
    # What practice says of a litre holds with the thinning that its films brought; what is reckoned does not.
    load = _thinned(area * rolls.likely, 1.0) if _known_by_practice(formula) else area * rolls.likely
    return Belief(math.log(_tolerable(1.0) / load), sd)


def _known_by_practice(formula: Formula) -> bool:
    classes = {name for part in of_formula(formula).ingredients for name in part.classes}
    return formula.role == "fixer" or bool({"peroxide", "iron_chloride"} & classes)


def has_capacity(formula: Formula) -> bool:
    """Whether this bath wears out by silver."""
    classes = {name for part in of_formula(formula).ingredients for name in part.classes}
    known = {"bleach": {*_BLEACHES, "peroxide"}, "fixer": {"thiosulfate"}, "halide_solvent": {"ammonia"}}
    return bool(known.get(formula.role, set()) & classes)


def learn(belief: Belief, passes: Iterable[Pass], volume_ml: float, *, before_m2: float = 0.0) -> Belief:
    """The belief after films were judged, in the order they went through.

    Each film meets the bath as it and its forerunners leave it. The likelihood of a ghost is that of `ghost_probability`
    at a given u, softened by the record ``practice.bath.judging_sd`` for the eye and for films that differ.
    """
    films = list(passes)
    seen = sum(film.ghost is not None for film in films)
    if not seen:
        return belief
    import numpy as np
    from scipy.special import log_ndtr  # both take longer to load than a forecast without judged films

    grid = _grid()
    weight = -0.5 * ((grid - belief.mean) / belief.sd) ** 2
    litres, area = _litres(volume_ml), before_m2
    for film in films:
        area += _area(film.area_m2)
        if film.ghost is None:
            continue
        load = math.log(_thinned(area, litres) / litres)
        margin = (grid + load - math.log(_tolerable(film.time_ratio))) / number("practice.bath.judging_sd")
        weight += log_ndtr(margin if film.ghost else -margin)
    share = np.exp(weight - weight.max())
    share /= share.sum()
    mean = float(share @ grid)
    return Belief(mean, math.sqrt(max(float(share @ (grid - mean) ** 2), 1e-6)), belief.seen + seen)


def learn_from_clips(
    belief: Belief, clips: Iterable[tuple[float, float]], volume_ml: float, *, fresh_log_s: float, fresh_sd: float
) -> tuple[Belief, BathStrength]:
    """The belief after clips were timed in a worn bath, and what its strength was before any film.

    A clip takes the time of a fresh bath over s (1 - x), x being the exhausted share and s what the bath was to begin with: thin,
    old or cold baths are slow without silver. What a fresh bath takes and s are doubtful and the same for all clips of a bath,
    so both are integrated out for all of them at once.

    Parameters
    ----------
    clips : iterable of (float, float)
        Film area that the bath had seen before, m2, and the seconds of the clip.
    fresh_log_s, fresh_sd : float
        Logarithm of the seconds in a fresh bath, and its standard deviation; see `obverse.safety.clip.fresh_clip`.
    """
    # A bath without silver tells nothing of how fast silver wears it out.
    worn = [(area, time_s) for area, time_s in clips if area > 0]
    if not worn:
        return belief, AS_MIXED
    import numpy as np

    grid = _grid()
    litres, reading_var = _litres(volume_ml), number("practice.clip.reading_sd") ** 2
    strength_var = number("practice.clip.strength_sd") ** 2
    rest = [
        math.log(time_s) + np.log(np.maximum(_LEAST_STRENGTH, 1 - np.exp(grid) * _thinned(area, litres) / litres))
        for area, time_s in worn
    ]
    middle = np.mean(rest, axis=0)
    scatter = sum((one - middle) ** 2 for one in rest)
    count, shared_var = len(rest), fresh_sd**2 + strength_var
    weight = -0.5 * ((grid - belief.mean) / belief.sd) ** 2
    weight += -0.5 * (scatter / reading_var + (middle - fresh_log_s) ** 2 / (shared_var + reading_var / count))
    share = np.exp(weight - weight.max())
    share /= share.sum()
    mean = float(share @ grid)
    learned = Belief(mean, math.sqrt(max(float(share @ (grid - mean) ** 2), 1e-6)), belief.seen)
    gain = shared_var / (shared_var + reading_var / count)
    begun = -(strength_var / shared_var) * gain * (middle - fresh_log_s)
    begun_mean = float(share @ begun)
    begun_var = strength_var - strength_var**2 / shared_var * gain + float(share @ (begun - begun_mean) ** 2)
    return learned, BathStrength(begun_mean, math.sqrt(begun_var))


def forecast(
    formula: Formula,
    passes: Iterable[Pass] = (),
    *,
    volume_ml: float,
    next_area_m2: float | None = None,
    age_h: float | None = None,
    time_ratio: float = 1.0,
    belief: Belief | None = None,
    strength: BathStrength = AS_MIXED,
) -> Forecast:
    """What the next film may expect, from what went through before.

    Parameters
    ----------
    passes : iterable of Pass
        Films that this bath has seen, oldest first.
    volume_ml : float
        Of the bath.
    next_area_m2 : float, optional
        Of the next film; default one 135-36.
    age_h : float, optional
        Since mixing.
    time_ratio : float
        Planned time over the time of the route.
    belief : Belief, optional
        What earlier baths of this kind taught; default `first_belief`.
    strength : BathStrength
        What clips say of the bath before any film; a weak one works as if it were given less time.

    Raises
    ------
    InputError
        For a volume, area or time that cannot be, or a bath that takes no silver.
    """
    passes = tuple(passes)
    litres = _litres(volume_ml)
    if not (math.isfinite(time_ratio) and time_ratio > 0):
        raise InputError(
            f"a time of {time_ratio:g} of the planned cannot be", where=formula.name, remedy="give a positive ratio"
        )
    if age_h is not None and not age_h >= 0:
        raise InputError("a bath cannot be mixed in the future", where=formula.name, remedy="correct the date")
    film = _area(number("area.135-36") if next_area_m2 is None else next_area_m2)
    known = _doubted(learn(belief or first_belief(formula), passes, volume_ml), passes)
    time_ratio *= math.exp(strength.log_mean)
    known = _doubted_by_strength(known, strength, time_ratio)
    before = sum(_area(p.area_m2) for p in passes)
    quantiles = {
        q: math.exp(known.mean + z * known.sd) / litres for q, z in zip(QUANTILES_90, (-Z90, 0.0, Z90), strict=True)
    }
    after = _thinned(before + film, litres)
    done = {q: 1 - _left_share(x * after, time_ratio) for q, x in quantiles.items()}
    ghost = _ghost_probability(known, after / litres, time_ratio)
    tolerable = _tolerable(time_ratio)
    left = {q: max(0.0, (_area_until(tolerable / x, litres) - before) / film) for q, x in quantiles.items()}
    on_roll = math.floor(left[_MIDDLE] + 1e-9) + 1
    if formula.unread:
        # What nobody knows may use the bath up itself: its worst end is a bath that does nothing.
        done[_HIGH] = left[_HIGH] = 0.0
    result = Forecast(
        completeness=_between(done[_HIGH], done[_MIDDLE], done[_LOW]),
        ghost_probability=ghost,
        rolls_left=_between(left[_HIGH], left[_MIDDLE], left[_LOW]),
        silver_g=silver_taken_g(formula, before),
        used_share=_between(*(quantiles[q] * _thinned(before, litres) for q in QUANTILES_90)),
        ghost_on_roll=on_roll if on_roll <= _MOST_ROLLS else None,
        longer_time_ratio=_longer(quantiles[_HIGH] * after),
        life=_life(formula),
        belief=known,
        cautions=(),
    )
    told = (*_cautions(formula, result, len(passes), age_h), *_of_unread(formula))
    return replace(result, cautions=told)


def _of_unread(formula: Formula) -> tuple[Caution, ...]:
    """That a part of which nothing is known may leave nothing of the bath."""
    if not formula.unread:
        return ()
    text = (
        f"How many films it lasts is reckoned from its known parts only. With {' and '.join(formula.unread)} in it, of which nothing "
        "is known, it may be anything down to none: try a clip of film in it first."
    )
    return (Caution("bath.unread", text, Level.CAUTION, formula.name),)


def _doubted(belief: Belief, passes: tuple[Pass, ...]) -> Belief:
    """The belief, less sure by each film that nobody judged."""
    unseen = sum(1 for entry in passes if entry.ghost is None)
    return replace(belief, sd=math.hypot(belief.sd, number("practice.bath.doubt_per_film") * math.sqrt(unseen)))


def _doubted_by_strength(belief: Belief, strength: BathStrength, time_ratio: float) -> Belief:
    """The belief with the doubt of the bath's strength, as far as that moves what the bath may be used up to."""
    if strength.log_sd == 0:
        return belief
    tolerable = _tolerable(time_ratio)
    return replace(belief, sd=math.hypot(belief.sd, strength.log_sd * (1 - tolerable) / max(tolerable, _FLOOR)))


def _thinned(area_m2: float, litres: float) -> float:
    """Film area as it weighs on a bath that the same films have thinned with rinse water."""
    return area_m2 * math.exp(area_m2 * _thinning_per_m2(litres))


def _thinning_per_m2(litres: float) -> float:
    retained = record("wash.retained").value
    # What the tank's drops hold stays with the tank whether it holds one film or two; it is counted to each film.
    return float(retained["total_mL"]) / 1000 / litres / number("area.135-36")


def _area_until(load: float, litres: float) -> float:
    """Film area whose thinned load is this."""
    return root_between(lambda area: _thinned(area, litres) - load, 0.0, load, within=1e-9)


def silver_taken_g(formula: Formula, area_m2: float) -> Range:
    """Silver that films of this area leave in a bath, g, by the record ``practice.silver_share``."""
    if area_m2 == 0:
        return Range(0.0, 0.0, 0.0)
    shares = record("practice.silver_share").value
    iron = formula.role == "bleach" and any("iron_chloride" in part.classes for part in of_formula(formula).ingredients)
    low, likely, high = shares["bleach_iron" if iron else formula.role] if formula.role in shares else shares["other"]
    coated = silver_per_roll_g(area_m2)
    return Range(coated.low * low, coated.likely * likely, coated.high * high)


def _rolls_per_l(formula: Formula) -> Range:
    parts = of_formula(formula).ingredients
    if formula.role == "fixer":
        return fixer_capacity_rolls_per_l(sum(p.g_per_l or 0 for p in parts if "thiosulfate" in p.classes))
    if formula.role == "halide_solvent":
        grams = sum(p.g_per_l or 0 for p in parts if "ammonia" in p.classes)
        return ammonia_capacity(grams / molar_mass_g_per_mol("ammonia")).rolls_per_l
    if any("peroxide" in part.classes for part in parts):
        # Silver makes the peroxide decompose long before the silver has used it up.
        known = record("practice.bath.peroxide_rolls_per_l").value
        return Range(known["low"], known["likely"], known["high"])
    for part in parts:
        bleach = next((name for kind, name in _BLEACHES.items() if kind in part.classes), None)
        if bleach is not None:
            moles = (part.g_per_l or 0) / molar_mass_g_per_mol(substances()[part.key].molar_mass_key)
            theory = bleach_capacity(bleach, moles, acid_mol_per_l=_sulfuric(parts)).rolls_per_l
            return rolls_in_practice(bleach, theory, moles)
    raise InputError(
        f"{formula.name} is no bath whose life by silver is known",
        where=formula.name,
        remedy="judge it by its signs of failure",
    )


@dataclass(frozen=True, slots=True)
class IronLife:
    """What a litre of an iron bleach takes: 135-36 films as practice counts them, and as its iron(III) alone would allow."""

    by_practice_per_l: float
    by_iron_per_l: float


def iron_life(formula: Formula) -> IronLife | None:
    """Why an iron bleach is counted at fewer films than its iron would take; None of other baths, and of one so weak that its iron decides.

    Parameters
    ----------
    formula : Formula

    Returns
    -------
    IronLife or None
    """
    for part in of_formula(formula).ingredients:
        if formula.role == "bleach" and "iron_chloride" in part.classes:
            moles = (part.g_per_l or 0) / molar_mass_g_per_mol(substances()[part.key].molar_mass_key)
            theory = bleach_capacity("iron_iii", moles).rolls_per_l
            practice = rolls_in_practice("iron_iii", theory, moles).likely
            return IronLife(practice, theory.likely) if practice < theory.likely else None
    return None


def _sulfuric(parts: Iterable[Ingredient]) -> float | None:
    """Sulfuric acid in mol/L; None where another acid is there, of which plenty is taken for granted."""
    grams = sum(p.g_per_l or 0 for p in parts if p.key == "sulfuric_acid")
    return grams / molar_mass_g_per_mol("sulfuric_acid") if grams else None


def _left_share(exhausted: float, time_ratio: float) -> float:
    """Share of the negative left after the planned time in a bath of which `exhausted` is gone."""
    return math.exp(-number("practice.bath.fresh_reserve") * max(0.0, 1 - exhausted) * time_ratio)


def _tolerable(time_ratio: float) -> float:
    """Exhausted share up to which no ghost shows; never quite zero."""
    need = -math.log(number("practice.bath.ghost_share")) / (number("practice.bath.fresh_reserve") * time_ratio)
    return max(1e-3, 1 - need)


def _longer(exhausted: float) -> float | None:
    """Time over the planned time that leaves no ghost even at the pessimistic end; None where no time helps."""
    if exhausted >= _NO_TIME_HELPS:
        return None
    ratio = -math.log(number("practice.bath.ghost_share")) / (number("practice.bath.fresh_reserve") * (1 - exhausted))
    return max(1.0, ratio)


def _ghost_probability(belief: Belief, area_per_litre: float, time_ratio: float) -> float:
    margin = belief.mean + math.log(area_per_litre) - math.log(_tolerable(time_ratio))
    return NormalDist().cdf(margin / math.hypot(belief.sd, number("practice.bath.judging_sd")))


def _between(low: float, middle: float, high: float) -> Estimate:
    return Estimate(middle, max(0.0, (high - low) / (2 * Z90)), low, high)


def _litres(volume_ml: float) -> float:
    if not (math.isfinite(volume_ml) and 0 < volume_ml <= 1e6):
        raise InputError(f"a bath of {volume_ml:g} mL cannot be", where="bath", remedy="give its volume in mL")
    return volume_ml / 1000


def _area(area_m2: float) -> float:
    if not (math.isfinite(area_m2) and 0 < area_m2 <= 100):
        raise InputError(
            f"a film of {area_m2:g} m2 cannot be", where="bath", remedy="give its area in m2, 0.058 for one 135-36"
        )
    return area_m2


def _life(formula: Formula) -> ShelfLifeRow | None:
    return next((row for row in shelf_life_rows() if row.solution == formula.keeps), None)


def _cautions(formula: Formula, result: Forecast, rolls: int, age_h: float | None) -> list[Caution]:
    def say(code: str, text: str, level: Level, source: str = "") -> None:
        told.append(Caution(code, text, level, formula.name, source))

    told: list[Caution] = []
    likely, coming = result.ghost_probability, result.ghost_on_roll
    # A bath that has seen no film is fresh already: what helps is more of it, or fewer films.
    fresh = rolls == 0
    mend = "Mix more of it, or put fewer films through" if fresh else "Mix it fresh"
    what = "leave halide behind" if formula.role == "fixer" else "leave a ghost of the negative"
    sign = (
        f" Sign of failure: {result.life.sign_of_failure}."
        if result.life and result.life.sign_of_failure not in ("-", "none")
        else ""
    )
    if likely >= 0.5:
        say(
            "bath.ghost",
            f"This bath will probably {what} on the next roll ({100 * likely:.0f} in 100). {mend}.{sign}",
            Level.DANGER,
        )
    elif likely >= 0.1:
        longer = result.longer_time_ratio
        help_ = (
            f"{longer:.1f} times the time may still save it, or"
            if longer and 1 < longer <= _WORTH_WAITING
            else "Better"
        )
        say(
            "bath.weak",
            f"This bath may {what} on the next roll ({100 * likely:.0f} in 100). {help_} {mend[0].lower()}{mend[1:]}.{sign}",
            Level.CAUTION,
        )
    elif coming is not None and coming <= _SOON:
        say(
            "bath.soon",
            f"This bath may {what} on roll {rolls + coming}. Test a clip of film before it.{sign}",
            Level.NOTE,
        )
    limit_min = formula.use_within_min
    if age_h is not None and limit_min is not None and 60 * age_h > limit_min:
        say(
            "bath.old",
            f"Mixed {age_h:.1f} hours ago; it is used within {limit_min:g} minutes. Mix it fresh.",
            Level.DANGER,
        )
    if residue_of(formula) is not None and rolls:
        say(
            "bath.no_storage",
            "Once used it is not kept for another evening: what it holds must be destroyed.",
            Level.DANGER,
        )
    say(
        "bath.range",
        "Silver per film is known only to about half; a clip of film in the bath decides, not this number.",
        Level.NOTE,
        "silver.default",
    )
    return told
