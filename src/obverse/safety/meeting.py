"""What is known of things coming together: recorded pairs and what the engine reckons, in one place or in all.

This is what `obverse check`, the care page and the interface ask.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from obverse.chemistry import molar_mass_g_per_mol
from obverse.foundation import InputError, Level
from obverse.process import Formula
from obverse.process.catalog import formulas
from obverse.reference import number, record
from obverse.safety.airborne import Room
from obverse.safety.amounts import Amount, asked, portion_of, told_by_things
from obverse.safety.body import Portion
from obverse.safety.check import check_carry_over, check_mixture, check_room, check_storage, check_waste_jug
from obverse.safety.derived import RECKONED, finding_of, once_each, weighed
from obverse.safety.destroy import decolouring_g
from obverse.safety.engine import assess
from obverse.safety.finding import Finding
from obverse.safety.matter import Given, as_matter
from obverse.safety.rules import CONTEXT_WORDS
from obverse.safety.setting import KILLS, Place, Setting, setting_for

# Where things may meet, in the words of the checker; the last four know no recorded pair of their own.
MEETINGS: dict[str, Place] = {
    "mixing": "mixing",
    "carry_over": "carry_over",
    "waste": "jug",
    "storage": "shelf",
    "same_room": "room",
    "drain": "drain",
    "closed_jug": "closed_jug",
    "standing": "standing",
    "damp": "damp",
}
MEETING_WORDS = {
    **CONTEXT_WORDS,
    "drain": "in the drain",
    "closed_jug": "in a closed bottle",
    "standing": "left standing overnight",
    "damp": "grown damp",
}
# Without a place named, these are asked; the drain and the closed bottle only on request.
_ANY = ("mixing", "carry_over", "waste", "storage", "same_room")
# What is weighed out for a destruction may be more than it takes by this (our judgement).
_A_DROP_MORE = 1.2
_HOURS = {"waste": 168.0, "standing": 48.0, "closed_jug": 12.0, "damp": 24.0}


@dataclass(frozen=True, slots=True)
class Brought:
    """Something that is brought, with or without an amount."""

    given: Given
    amount: Amount | None = None


def brought(text: str) -> Brought:
    """From a name such as ``"vinegar_5"`` or ``"vinegar_5=200mL"``."""
    name, amount = asked(text)
    return Brought(name, amount)


def meeting(things: Sequence[Brought], context: str, room: Room | None = None) -> tuple[Finding, ...]:
    """What is known of these coming together in a context, or in all of them for ``"any"``; worst first, each once.

    Where every amount is given, what the engine reckons as small is only noted, though a pair is recorded.

    Raises
    ------
    InputError
        For fewer than two, an unknown name or context.
    """
    if len(things) < 2:
        raise InputError("two things are needed to meet", where="check", remedy="name at least two")
    if context != "any" and context not in MEETINGS:
        raise InputError(
            f"no context is called {context!r}", where="check", remedy="use one of any, " + ", ".join(MEETINGS)
        )
    places = _ANY if context == "any" else (context,)
    way, right = _the_way_to_destroy(things)
    if not way:
        return once_each(_all_met(things, places, room))
    # What the house itself does with these two is no refusal; what becomes of it all at once is told with its amounts.
    little = [
        replace(finding, advice=way) if finding.severity == KILLS else finding
        for finding in _all_met(right, places, room)
    ]
    loud = [] if right == list(things) else [f for f in _all_met(things, places, room) if f.level is Level.DANGER]
    at_once = [f for f in loud if f.pair.startswith(RECKONED)] or [f for f in loud if f.refused]
    return once_each((*(_at_once(finding, way) for finding in at_once), *little))


def _all_met(things: Sequence[Brought], places: Sequence[str], room: Room | None) -> list[Finding]:
    return [found for place in places for found in _met(things, place, room, named=len(places) == 1)]


def _the_way_to_destroy(things: Sequence[Brought]) -> tuple[str, list[Brought]]:
    """Where a used bath meets what the house destroys it with: how it is done, and the things with the amounts of that.

    Nothing where more of it is told than the bath takes.
    """
    portions = [portion_of(thing.given, thing.amount) for thing in things]
    for place, (thing, portion) in enumerate(zip(things, portions, strict=True)):
        bath = formulas().get(thing.given.removeprefix("used_")) if isinstance(thing.given, str) else thing.given
        doses = decolouring_g(bath, portion.volume_ml) if isinstance(bath, Formula) else {}
        for other, (added, brings) in enumerate(zip(things, portions, strict=True)):
            [key, *more] = brings.moles or [""]
            if more or key not in doses:
                continue
            unit, whole = ("g", brings.grams) if brings.solid else ("mL", brings.volume_ml)
            most = doses[key] * whole / (brings.moles[key] * molar_mass_g_per_mol(key))
            if added.amount is not None and whole > _A_DROP_MORE * most:
                continue
            way = (
                f"A little of {brings.name} into {portion.name}, stirred, again and again until the colour is gone, and never the bath into it: "
                f"at most about {most:.2g} {unit} to {portion.volume_ml:.0f} mL."
            )
            right = list(things)
            right[place] = replace(thing, amount=thing.amount or Amount(portion.volume_ml, "mL"))
            right[other] = replace(added, amount=added.amount or Amount(most, unit))
            return way, right
    return "", []


def _at_once(finding: Finding, way: str) -> Finding:
    text = f"All of it at once: {finding.text}"
    return replace(finding, refused=False, level=Level.DANGER, text=text, advice=way)


def _met(things: Sequence[Brought], context: str, room: Room | None, *, named: bool) -> list[Finding]:
    matters = [as_matter(thing.given) for thing in things]
    setting = told_by_things(
        setting_for(MEETINGS[context], room, hours=_HOURS.get(context, 0.0)),
        (thing.given for thing in things if isinstance(thing.given, str)),
    )
    known = all(thing.amount is not None for thing in things)
    portions = [portion_of(thing.given, thing.amount) for thing in things]
    if context == "carry_over":
        return _carried(things, portions, setting, usual=not known)
    pairs = [_within_one(finding, portions, setting) for finding in _pairs(things, context)]
    effects = assess(_wetted(portions, setting), setting)
    told = [finding_of(effect, setting, usual=not known) for effect in effects]
    found = [*(weighed(pairs, effects, lethal_too=True) if known else pairs), *told]
    if named or context == "same_room":
        return found
    # Asked without a place, what one does by itself is no matter of meeting: told, but it refuses nothing.
    alone = {effect.mechanism for portion in portions for effect in assess([portion], setting)}
    # A used bath is called so by the engine, and by its plain name where it is recorded.
    names = {matter.name for matter in matters} | {portion.name for portion in portions}
    return [
        _by_itself(finding)
        if finding.pair.removeprefix(RECKONED) in alone or not {finding.a_from, finding.b_from} <= names
        else finding
        for finding in found
    ]


def _within_one(finding: Finding, portions: Sequence[Portion], setting: Setting) -> Finding:
    """What one bath holds by its own recipe is known in its amounts."""
    if finding.a_from != finding.b_from:
        return finding
    own = [portion for portion in portions if portion.name == finding.a_from]
    return weighed([finding], assess(own, setting))[0]


def _by_itself(finding: Finding) -> Finding:
    level = Level.CAUTION if finding.level is Level.DANGER else finding.level
    return replace(finding, refused=False, level=level, text=f"By itself, whatever it meets: {finding.text}")


def _pairs(things: Sequence[Brought], context: str) -> list[Finding]:
    given = [thing.given for thing in things]
    if context == "waste":
        return list(check_waste_jug(*given, closed=False))
    if context == "storage":
        return list(check_storage(*given))
    if context == "same_room":
        return list(check_room(*given))
    return list(check_mixture(*given))


def _carried(things: Sequence[Brought], portions: Sequence[Portion], setting: Setting, *, usual: bool) -> list[Finding]:
    """What a wet film and tank carry of each into the next, without a rinse."""
    found: list[Finding] = []
    for (before, one), (after, other) in itertools.pairwise(zip(things, portions, strict=True)):
        # Nobody carries a dry powder or a pure liquid over in a film, or puts the film into a powder.
        if not one.water_ml or not other.water_ml:
            continue
        retained_ml = float(record("wash.retained").value["total_mL"])
        held = one.times(min(1.0, retained_ml / max(1.0, one.volume_ml)))
        effects = assess([held, other], setting)
        found += weighed(check_carry_over(before.given, after.given), effects)
        found += [finding_of(effect, setting, usual=usual) for effect in effects]
    return found


def _wetted(portions: Sequence[Portion], setting: Setting) -> list[Portion]:
    """Two powders that go into one bath or jug meet there in water."""
    dry = all(portion.solid for portion in portions if portion.moles)
    # Water that somebody names is the water there is.
    if dry and not any(portion.water_ml for portion in portions) and setting.place in ("mixing", "jug", "drain"):
        return [*portions, Portion("water", {}, number("hazard.usual.liquid_ml"))]
    return list(portions)
