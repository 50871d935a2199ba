"""A clip test: film that has seen the light, a drop of the bath or a dip into it, and the time until it is done.

The time a bath needs is in inverse proportion to its rate, so the time of a fresh bath over the time that was seen is the
share of a fresh bath's rate that is left: its strength. What a fresh bath needs is known only roughly (records
``practice.clip.*``, from memory, good to a factor) until the person has tested fresh baths of the same kind; the eye and the
temperature add their own doubt. All of it is a normal law of logarithms, so that what is believed after a test is
known in closed form.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

from obverse.foundation import Z90, Caution, Estimate, InputError, JsonObject, Level
from obverse.process import Formula
from obverse.reference import number, record

ClipDoes = Literal["blacken", "bleach", "clear"]
# Longer than this nobody watches a clip; it is a sign that something else is wrong.
MOST_CLIP_S = 3600.0
_DOES: dict[str, ClipDoes] = {
    "first_developer": "blacken",
    "second_developer": "blacken",
    "fogging": "blacken",
    "bleach": "bleach",
    "halide_solvent": "clear",
    "fixer": "clear",
}
_FRESH = {"blacken": "practice.clip.blacken_s", "bleach": "practice.clip.bleach_s", "clear": "practice.clip.clear_s"}
# From so sure on that a bath has less than half its rate, it is said to be weak.
# Shorter times are told in seconds.
_IN_SECONDS_S = 120
_SURE = 0.5
_PERHAPS = 0.1


@dataclass(frozen=True, slots=True)
class FreshClip:
    """What a clip takes in a fresh bath of this kind: mean and standard deviation of the logarithm of its seconds."""

    mean: float
    sd: float
    tested: int

    @property
    def time_s(self) -> Estimate:
        """Median with its 90 % interval, s."""
        low, high = math.exp(self.mean - Z90 * self.sd), math.exp(self.mean + Z90 * self.sd)
        return Estimate(math.exp(self.mean), (high - low) / (2 * Z90), low, high)


@dataclass(frozen=True, slots=True)
class ClipTold:
    """What one clip tells of its bath.

    Parameters
    ----------
    strength : Estimate
        Share of a fresh bath's rate that is left, median with 90 % interval.
    weak_probability : float
        That less than half of it is left.
    """

    does: ClipDoes
    time_s: float
    fresh: FreshClip
    strength: Estimate
    weak_probability: float
    caution: Caution

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "does": self.does,
            "time_s": self.time_s,
            "fresh_s": self.fresh.time_s.document(),
            "fresh_tested": self.fresh.tested,
            "strength": self.strength.document(),
            "weak_probability": self.weak_probability,
            "caution": self.caution.document(),
        }


def clip_does(formula: Formula) -> ClipDoes | None:
    """What a bath does to a clip of film; None for a bath that shows nothing on one."""
    return _DOES.get(formula.role)


def fresh_clip(formula: Formula, fresh_times_s: Sequence[float] = ()) -> FreshClip:
    """What a clip takes in a fresh bath, by the records and by the tests of fresh baths of this kind.

    Raises
    ------
    InputError
        For a bath that shows nothing on a clip.
    """
    does = clip_does(formula)
    if does is None:
        raise InputError(
            f"{formula.name} shows nothing on a clip", where="clip", remedy="test developer, bleach, ammonia or fixer"
        )
    known = record(_FRESH[does])
    prior_mean, prior_sd = math.log(known.number), math.log(known.factor) / Z90
    reading = number("practice.clip.reading_sd") ** 2
    weight = 1 / prior_sd**2 + len(fresh_times_s) / reading
    mean = (prior_mean / prior_sd**2 + sum(math.log(_checked(t)) for t in fresh_times_s) / reading) / weight
    return FreshClip(mean, math.sqrt(1 / weight), len(fresh_times_s))


def clip_told(formula: Formula, time_s: float, fresh_times_s: Sequence[float] = ()) -> ClipTold:
    """What a clip that took so long tells of its bath.

    Parameters
    ----------
    fresh_times_s : sequence of float
        What clips took in fresh baths of this kind.

    Raises
    ------
    InputError
        For a time that cannot be, or a bath that shows nothing on a clip.
    """
    fresh = fresh_clip(formula, fresh_times_s)
    does = clip_does(formula) or "clear"
    seen_var = fresh.sd**2 + number("practice.clip.reading_sd") ** 2
    prior_var = number("practice.clip.strength_sd") ** 2
    var = 1 / (1 / prior_var + 1 / seen_var)
    mean = var / seen_var * (fresh.mean - math.log(_checked(time_s)))
    sd = math.sqrt(var)
    low, high = math.exp(mean - Z90 * sd), math.exp(mean + Z90 * sd)
    strength = Estimate(math.exp(mean), (high - low) / (2 * Z90), low, high)
    weak = NormalDist(mean, sd).cdf(-math.log(number("fixer.end_rule")))
    return ClipTold(does, time_s, fresh, strength, weak, _caution(formula, does, time_s, fresh, weak))


_DONE = {"blacken": "to turn black", "bleach": "to bleach", "clear": "to clear"}


def _caution(formula: Formula, does: ClipDoes, time_s: float, fresh: FreshClip, weak: float) -> Caution:
    by = (
        f"by {fresh.tested} test{'s' if fresh.tested > 1 else ''} of fresh baths here"
        if fresh.tested
        else "from memory, good to a factor of "
        f"{record(_FRESH[does]).factor:g}: test a fresh bath once, and this is known better"
    )
    said = f"The clip took {_seconds(time_s)} {_DONE[does]}; a fresh bath takes about {_seconds(fresh.time_s.value)} ({by})."
    chance = f"That less than half of its strength is left: {100 * weak:.0f} in 100."
    if weak >= _SURE:
        text = f"{said} {chance} Do not risk a film in it: mix it fresh."
        return Caution("bath.clip_weak", text, Level.DANGER, formula.name, "fixer.end_rule")
    if weak >= _PERHAPS:
        text = f"{said} {chance} Give longer, or mix it fresh."
        return Caution("bath.clip_slow", text, Level.CAUTION, formula.name, "fixer.end_rule")
    return Caution("bath.clip", f"{said} {chance}", Level.NOTE, formula.name, "fixer.end_rule")


def _seconds(time_s: float) -> str:
    return f"{time_s:.0f} s" if time_s < _IN_SECONDS_S else f"{time_s / 60:.1f} min"


def _checked(time_s: float) -> float:
    if not (math.isfinite(time_s) and 0 < time_s <= MOST_CLIP_S):
        raise InputError(f"a clip of {time_s:g} s cannot be", where="clip", remedy="give its seconds, up to an hour")
    return time_s
