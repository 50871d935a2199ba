"""What is known of things coming together: recorded pairs and what the engine reckons, in one place or in all.

This is what `obverse check`, the care page and the interface ask.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from obverse.chemistry import molar_mass_g_per_mol
from obverse.foundation import InputError, Level
from obverse.process import Formula
from obverse.process.catalog import formulas, substances
from obverse.reference import number, record
from obverse.safety.airborne import ROOM_C, Room
from obverse.safety.amounts import Amount, asked, portion_of, told_by_things
from obverse.safety.body import Portion, acid_in
from obverse.safety.check import check_carry_over, check_mixture, check_room, check_storage, check_waste_jug
from obverse.safety.derived import RECKONED, finding_of, once_each, weighed
from obverse.safety.destroy import decolouring_g
from obverse.safety.engine import ACIDS, OWN_VAPOURS, TOLD, assess, worst_first
from obverse.safety.finding import Finding
from obverse.safety.matter import Given, as_matter
from obverse.safety.rules import CONTEXT_WORDS
from obverse.safety.setting import KILLS, Effect, Place, Setting, setting_for

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
# Without a place named, these are asked; the closed bottle only on request, and the drain where it is among what meets.
_ANY, _DRAIN = ("mixing", "carry_over", "waste", "storage", "same_room"), "drain"
# What is weighed out for a destruction may be more than it takes by this (our judgement).
_A_DROP_MORE = 1.2
# Acid that takes the ammonia from silver stands below this pH; where that is done; what a plate or pan under a dry powder has in C; so
# many times the bath is the most acid that is poured (our judgement).
_SOUR_PH, _ACIDIFIED_IN, _PLATE_C = 6.0, ("mixing", "waste", "drain", "standing"), 200.0
_MOST_TIMES = 10.0
# The recorded pair of strong acid that sprays out of an ammonia bath.
_ACID_SPRAYS = "inc.15"
# A puddle is a millimetre deep (our judgement).
_PUDDLE_ML_PER_M2 = 1000.0
_WETTED_IN = ("mixing", "jug", "drain")
# What powders do to each other dry. Oxygen bleach is none of these, and paper or cloth no powder.
_DRY_MIXES = frozenset((
    "fire_chlorate", "fire_perchlorate", "fire_permanganate", "fire_hypochlorite", "fire_nitrate_salt", "fire_dichromate", "fire_persulfate", "fire_iodate", "fire_nitrite",
    "ammonium_oxidiser", "ammonium_nitrite", "metal_mixture", "iron_and_sulfur",
))  # fmt: skip
# Where one bath is poured to another.
_POURED_IN = ("mixing", "waste")
_HOURS = {"waste": 168.0, "standing": 48.0, "closed_jug": 12.0, "damp": 24.0}
# What is capped and put on a shelf stays there for a month or two (our judgement).
_CAPPED_ON_A_SHELF_H = 1000.0


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
    named = (context,) if context != "any" else (_DRAIN,) if any(thing.given == _DRAIN for thing in things) else ()
    places = (*_ANY, *named) if context == "any" else named
    return once_each(found for place in places for found in _met_or_done(things, place, room, named=place in named))


@dataclass(frozen=True, slots=True)
class _Way:
    """How the house itself brings two things together: in words, the things with the amounts of it, and what comes of another way."""

    advice: str
    right: tuple[Brought, ...]
    otherwise: str
    level: Level


def _met_or_done(things: Sequence[Brought], context: str, room: Room | None, *, named: bool) -> list[Finding]:
    way = _decoloured(things, context) or (_acidified(things) if context in _ACIDIFIED_IN else None)
    if way is None:
        return _met(things, context, room, named=named)
    # What the house itself does with these two is no refusal; what becomes of it another way is told with its amounts.
    right = [
        replace(finding, advice=way.advice) if finding.severity == KILLS else finding
        for finding in _met(way.right, context, room, named=named)
    ]
    other = [] if way.right == tuple(things) else _met(things, context, room, named=named)
    loud = [f for f in other if f.level is Level.DANGER]
    told = [f for f in loud if f.pair.startswith(RECKONED)] or [f for f in loud if f.refused or f.pair == _ACID_SPRAYS]
    return [*(_another_way(finding, way) for finding in told), *right]


def _decoloured(things: Sequence[Brought], context: str) -> _Way | None:
    """Where a used bath meets what takes its colour away; nothing where more of that is told than the bath takes."""
    portions = [portion_of(thing.given, thing.amount) for thing in things]
    for place, (thing, portion) in enumerate(zip(things, portions, strict=True)):
        bath = formulas().get(thing.given.removeprefix("used_")) if isinstance(thing.given, str) else thing.given
        doses = decolouring_g(bath, portion.volume_ml) if isinstance(bath, Formula) else {}
        used = context == "waste" and isinstance(thing.given, str) and thing.given.startswith("used_")
        for other, (added, brings) in enumerate(zip(things, portions, strict=True)):
            [key, *more] = brings.moles or [""]
            if more or key not in doses:
                continue
            unit, whole = _measured(brings)
            most = doses[key] * whole / (brings.moles[key] * molar_mass_g_per_mol(key))
            if added.amount is not None and whole > _A_DROP_MORE * most:
                continue
            return _Way(
                f"A little of {brings.name} into {portion.name}, stirred, again and again until the colour is gone, and never the bath into it: "
                f"at most about {most:.2g} {unit} to {portion.volume_ml:.0f} mL.",
                _with_amounts(things, {place: Amount(portion.volume_ml, "mL"), other: Amount(most, unit)}),
                "All of it at once",
                # A used bleach that is spent with the clearing bath in the jug is the usual way of it; a fresh one, or the powder, is none.
                Level.NOTE if used and not brings.solid else Level.DANGER,
            )
    return None


def _acidified(things: Sequence[Brought]) -> _Way | None:
    """Where ammonia that took up silver meets acid of which nobody says how much: enough of it to take the ammonia."""
    portions = [portion_of(thing.given, thing.amount) for thing in things]
    for place, portion in enumerate(portions):
        if not portion.moles.get("silver_ammine_chloride"):
            continue
        for other, (added, brings) in enumerate(zip(things, portions, strict=True)):
            acid = acid_in(brings, _SOUR_PH)
            if added.amount is not None or acid <= 0 or not _only_acid(brings):
                continue
            unit, whole = _measured(brings)
            least = whole * _A_DROP_MORE * portion.has("ammonia") / acid
            # Of a weak acid nobody pours ten times as much.
            weak = least > _MOST_TIMES * portion.volume_ml
            much = f"{least / 1000:.2g} L" if weak and unit == "mL" else f"{float(f'{least:.2g}'):g} {unit}"
            enough = f"{much} of {brings.name} to {portion.volume_ml:.0f} mL"
            return _Way(
                "Thinned with water and stirred, slowly, within two hours, until a test strip shows pH 2, before it stands in any jug: "
                + (f"that would take {enough}, so take a stronger acid." if weak else f"at least about {enough}."),
                _with_amounts(things, {place: Amount(portion.volume_ml, "mL"), other: Amount(least, unit)}),
                "With less acid than takes the ammonia",
                Level.CAUTION,
            )
    return None


def _only_acid(portion: Portion) -> bool:
    return all(not ACIDS.isdisjoint(substances()[key].classes) for key in portion.moles)


def _measured(portion: Portion) -> tuple[str, float]:
    return ("g", portion.grams) if portion.solid else ("mL", portion.volume_ml)


def _with_amounts(things: Sequence[Brought], amounts: dict[int, Amount]) -> tuple[Brought, ...]:
    """The things, those of these places with these amounts where none is told."""
    return tuple(replace(thing, amount=thing.amount or amounts.get(place)) for place, thing in enumerate(things))


def _another_way(finding: Finding, way: _Way) -> Finding:
    text = f"{way.otherwise}: {finding.text}"
    # What may kill another way is loud even where the two are an ordinary deed.
    level = Level.DANGER if finding.refused and way.level is Level.NOTE else way.level
    return replace(finding, refused=False, level=level, text=text, advice=way.advice)


def _met(things: Sequence[Brought], context: str, room: Room | None, *, named: bool) -> list[Finding]:
    matters = [as_matter(thing.given) for thing in things]
    setting = told_by_things(
        setting_for(MEETINGS[context], room, hours=_HOURS.get(context, 0.0)),
        (thing.given for thing in things if isinstance(thing.given, str)),
    )
    if context == "storage" and setting.closed:
        setting = replace(setting, hours=_CAPPED_ON_A_SHELF_H)
    portions = [portion_of(thing.given, thing.amount) for thing in things]
    if context == "same_room":
        portions = [_in_its_bottle(thing, portion, setting) for thing, portion in zip(things, portions, strict=True)]
    # What says how or where it happens has no amount.
    known = all(
        thing.amount is not None or not (portion.moles or portion.water_ml)
        for thing, portion in zip(things, portions, strict=True)
    )
    setting = _on_the_floor(portions, _on_a_plate(portions, setting))
    if context == "carry_over":
        return _carried(things, portions, setting, usual=not known)
    pairs = [_within_one(finding, portions, setting) for finding in _pairs(things, context)]
    wet = _wetted(portions, setting)
    effects = assess(wet, setting)
    # Who tells grams may mean them as they lie, too; and a dry mix that burns or goes off is scooped together before any water.
    if len(wet) > len(portions):
        scooped = not any(portion.has("cellulose") for portion in portions)
        dry = assess(portions, setting)
        effects = worst_first((*effects, *(e for e in dry if known or (scooped and e.mechanism in _DRY_MIXES))))
    if context in _POURED_IN:
        effects = _of_meeting(things, portions, effects, setting)
    told = [finding_of(effect, setting, usual=not known) for effect in effects]
    found = [*weighed(pairs, effects, lethal_too=True, told=known), *told]
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
        effects = [effect for effect in assess([held, other], setting) if not _whiff(effect, setting)]
        # Who asks of two baths is told what the one does to the other, and not that a rinse is easily had.
        found += weighed(check_carry_over(before.given, after.given), effects, rinsed=True)
        found += [finding_of(effect, setting, usual=usual) for effect in effects]
    return found


def _whiff(effect: Effect, setting: Setting) -> bool:
    """What a bath in its tank smells of for a moment; chlorine and its kin are no bath's smell."""
    return effect.gas in _SMELLS_OF_BATHS and effect.severity == TOLD and not setting.asthma


# What stop, clearing and ammonia baths smell of (common practice, no source).
_SMELLS_OF_BATHS = ("sulfur_dioxide", "ammonia")


def _on_a_plate(portions: Sequence[Portion], setting: Setting) -> Setting:
    """One powder, or mercury, that is warmed without any water lies on a plate or in a pan."""
    powders = [portion for portion in portions if portion.moles or portion.water_ml]
    dry = len(powders) == 1 and (powders[0].solid or powders[0].moles.keys() == {"mercury"})
    return replace(setting, temperature_c=_PLATE_C) if dry and setting.temperature_c > ROOM_C else setting


def _on_the_floor(portions: Sequence[Portion], setting: Setting) -> Setting:
    """What is spilt lies as a puddle, and nobody stays beside it for longer than beside a broken bottle."""
    if not setting.spilt:
        return setting
    puddle_m2 = math.fsum(portion.volume_ml for portion in portions) / _PUDDLE_ML_PER_M2
    minutes = min(setting.breathing_min, number("hazard.minutes.shelf"))
    return replace(setting, surface_m2=max(setting.surface_m2, puddle_m2), breathing_min=minutes)


def _of_meeting(
    things: Sequence[Brought], portions: Sequence[Portion], effects: Sequence[Effect], setting: Setting
) -> tuple[Effect, ...]:
    """Without the smell that a bath of the house has by itself: its sheet and its step have told of that."""
    own: dict[str, float] = {}
    for thing, portion in zip(things, portions, strict=True):
        if isinstance(thing.given, str) and thing.given.removeprefix("used_") in formulas() and not setting.asthma:
            own |= {effect.mechanism: effect.ppm or 0.0 for effect in assess([portion], setting)}
    return tuple(
        effect
        for effect in effects
        if effect.severity > TOLD
        or effect.mechanism not in OWN_VAPOURS
        or not own.get(effect.mechanism, -1.0) * _A_DROP_MORE >= (effect.ppm or 0.0)
    )


def _in_its_bottle(thing: Brought, portion: Portion, setting: Setting) -> Portion:
    """What is open in a room by its name alone: a bath in its tray, but what is sold in a bottle in that."""
    key = thing.given.removeprefix("used_") if isinstance(thing.given, str) else ""
    tray = isinstance(thing.given, Formula) or key in formulas() or setting.spilt or setting.flame
    return portion if tray or portion.solid else replace(portion, bottled=True)


def _wetted(portions: Sequence[Portion], setting: Setting) -> list[Portion]:
    """Two powders that go into one bath or jug meet there in water."""
    dry = all(portion.solid for portion in portions if portion.moles) and setting.temperature_c < _PLATE_C
    # Water that somebody names is the water there is.
    if dry and not any(portion.water_ml for portion in portions) and setting.place in _WETTED_IN:
        return [*portions, Portion("water", {}, number("hazard.usual.liquid_ml"))]
    return list(portions)
