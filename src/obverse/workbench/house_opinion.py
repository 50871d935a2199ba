"""What the house would do otherwise at each step of a process, why, and how sure; and what each bath suffices for.

Nothing here blocks a step. What is lethal is refused where the evening is planned, by the safety engine.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from obverse.chemistry import concentration_after_fills, mass_ratio, molar_mass_g_per_mol, silver_per_roll_g
from obverse.foundation import ML_PER_L, InputError, Level, parse_number
from obverse.light import reexpose
from obverse.mixing import SaidBath, additions, starting_controls
from obverse.process import ALKALI, SOLVENT, Formula, Process, Step, reading_of
from obverse.process.catalog import substances
from obverse.reference import number, record
from obverse.safety import (
    Room,
    as_worked,
    check_route,
    classes_of,
    not_judged,
    of_formula,
    usual_after_use,
    wash_needed_min,
)
from obverse.safety.bath_life import forecast, has_capacity, iron_life
from obverse.workbench.opinion_words import (
    NO_DRAIN,
    AcidRinseMissing,
    AddedOtherwise,
    AnotherAdded,
    AnotherTime,
    BathAsRead,
    CareFound,
    ClearingAfterPeroxide,
    ClearingKept,
    ClearingMissing,
    DithioniteReckoned,
    DownTheDrain,
    FilmsReckoned,
    LampReckoned,
    MadeTooEarly,
    NoneAdded,
    NothingReckoned,
    Opinion,
    OpinionStory,
    PartsUnknown,
    ReelUncovered,
    RinseReckoned,
    SecondDeveloperMissing,
    SecondHalfMissing,
    SulfiteReckoned,
    VagueAmounts,
    WashReckoned,
    WordsTaken,
)

# So far from practice a time is spoken of; less is a matter of taste.
TIME_APART = 0.34
USUAL_TANK_ML = 500.0
METRES = {"cm": 0.01, "m": 1.0, "ft": 0.3048}
# Electrons that a mole takes, and gives: iron(III) one, permanganate five, dichromate six, peroxide two; sulfite two.
# The usual rinse: three changes of water.
THREE_FILLS = 3
TAKES = {"iron_iii": 1, "permanganate": 5, "dichromate": 6, "hydrogen_peroxide": 2}
GIVES = {"metabisulfite": 4, "sodium_bisulfite": 2, "sodium_sulfite": 2}
# A bath of less than this share of the tank may not cover the reel; ours.
COVERED = 0.9
NAMELESS = "a part without a name"
# Findings for people's sake, at most so many at a step: the rest stands at the plan.
MOST_SAFETY = 3


def opinions(
    process: Process, known: Mapping[str, Formula], readings: Mapping[str, SaidBath], *, room: Room | None = None
) -> list[Opinion]:
    """Everything the house has to say of a process, in the order of its steps.

    Parameters
    ----------
    known : mapping of str to Formula
        By key, those of the process among them.
    readings : mapping of str to SaidBath
        What was made of the baths as said, by step.
    """
    tank_ml = process.tank_ml or USUAL_TANK_ML
    found: list[Opinion] = []
    for position, step in enumerate(process.steps):
        formula = known.get(step.formula or "")
        told = [
            *_as_put(process, step),
            *_unread(readings.get(step.key), formula),
            *_poured_away(process, step, formula),
            *_first_developer(process, step, formula),
            *_time(process, step, known),
            *_suffices(step, formula, tank_ml),
            *_made_early(process, position, formula),
            *_volume(step, tank_ml),
            *_rinse(process, position, known, tank_ml),
            *_iron_to_ammonia(process, position, known),
            *_clearing(process, position, known),
            *_fog_and_light(process, position),
            *_lamp(step),
            *_clears(process, position, known, tank_ml),
            *_washed(process, position, known, tank_ml),
        ]
        found += [story.at(step.key) for story in told]
    found += [story.at(story.found.where) for story in _safety(process, known, tank_ml, room)]
    reasons = {(step.key, d.code): d.reason for step in process.steps for d in step.declined}
    return [_with_reason(one, reasons.get((one.step, one.code), "")) for one in _in_order(process, found)]


def _with_reason(one: Opinion, reason: str) -> Opinion:
    return replace(one, declined=reason) if reason else one


def _in_order(process: Process, found: Sequence[Opinion]) -> list[Opinion]:
    place = {step.key: index for index, step in enumerate(process.steps)}
    return sorted(found, key=lambda one: place.get(one.step, len(place)))


def _as_put(process: Process, step: Step) -> list[OpinionStory]:
    """What a person's own words of a step come to."""
    read = reading_of(step, {one.key: one.name for one in process.steps})
    return [WordsTaken(read)] if read else []


def _unread(read: SaidBath | None, formula: Formula | None) -> list[OpinionStory]:
    found: list[OpinionStory] = []
    if read is None:
        return found
    if read.vague:
        found.append(VagueAmounts(tuple(read.vague)))
    if read.unread:
        names = [name or NAMELESS for name in read.unread]
        shown = tuple(name for name in read.unread if name) or (NAMELESS,)
        found.append(PartsUnknown(shown, not_judged(names, None if formula is None else of_formula(formula))))
    elif read.taken:
        told = tuple((what, taken) for what, taken in read.taken if what.casefold() != taken.casefold())
        if told or read.supposed:
            found.append(BathAsRead(told, read.supposed))
    return found


def _poured_away(process: Process, step: Step, formula: Formula | None) -> list[OpinionStory]:
    """A bath that is poured away though no drain takes it."""
    if formula is None or step.after_use != "discard":
        return []
    worked = as_worked(step, formula, process)
    classes = classes_of(worked)
    of = next((name for name in NO_DRAIN if name in classes), "")
    if not of:
        return []
    use, jug = usual_after_use(step, worked, process, {})
    return [DownTheDrain(of, use == "destroy", jug)]


def _first_developer(process: Process, step: Step, formula: Formula | None) -> list[OpinionStory]:
    if step is not process.first_development or formula is None or formula.role != "first_developer":
        return []
    controls = starting_controls(formula)
    found: list[OpinionStory] = []
    bath_ml = step.volume_ml or process.tank_ml or USUAL_TANK_ML
    for control, word in ((SOLVENT, "solvent"), (ALKALI, "alkali")):
        start, most = (number(f"process.start.{word}_{part}ml_per_l") for part in ("", "most_"))
        has = controls.get(control.key, 0.0)
        other = _other_of(word, formula)
        if has <= 0 and other:
            parts = tuple((name, grams) for name, _, grams in other)
            found.append(AnotherAdded(word, start, parts, _as_concentrate_ml_per_l(word, other)))
        elif has <= 0:
            found.append(NoneAdded(word, start, bath_ml, step.mix, bool(formula.unread)))
        elif has > most or not start / 2 <= has <= 2 * start:
            found.append(AddedOtherwise(word, has, start, most))
    return found


# What else does the work of a solvent or of an alkali, by its class.
_DOES_IT = {"solvent": ("thiosulfate", "thiocyanate"), "alkali": ("hydroxide", "carbonate", "borate", "amine")}


def _other_of(word: str, formula: Formula) -> tuple[tuple[str, str, float], ...]:
    """Name, key and g/L of what else than the house's own does the work in a first developer."""
    return tuple(
        (part.name, part.key, part.g_per_l)
        # What a developer holds of its own is in its bottle and not what was added.
        for part in of_formula(formula.model_copy(update={"dilutions": ()})).ingredients
        if part.kind == "substance" and part.g_per_l and set(_DOES_IT[word]) & set(part.classes)
    )


def _as_concentrate_ml_per_l(word: str, other: Sequence[tuple[str, str, float]]) -> float | None:
    """Rapid fixer concentrate with as much thiosulfate as another solvent; None where other things than thiosulfate do the work."""
    salts = [(key, grams) for _, key, grams in other if "thiosulfate" in key]
    if word != "solvent" or len(salts) != len(other):
        return None
    moles = sum(grams / molar_mass_g_per_mol(substances()[key].molar_mass_key) for key, grams in salts)
    house = additions()[SOLVENT.key]
    return moles / (house.g_per_l / molar_mass_g_per_mol(substances()[house.substance].molar_mass_key))


def _holds(formula: Formula | None, *classes: str) -> bool:
    return formula is not None and any(set(classes) & set(part.classes) for part in of_formula(formula).ingredients)


def _time(process: Process, step: Step, known: Mapping[str, Formula]) -> list[OpinionStory]:
    formula = known.get(step.formula or "")
    key = (
        "process.iron_bleach_min"
        if step.kind == "bleach" and _holds(formula, "iron_chloride")
        else "process.ammonia_min"
        if step.kind in ("bleach", "dissolve") and _holds(formula, "ammonia")
        else "process.clearing_min"
        if step.kind == "clear" and _leaves_colour(process, step, known)
        else "process.fogging_min"
        if step.kind == "fog" and _holds(formula, "dithionite")
        else "process.fixing_min"
        if step.kind == "fix"
        else "process.second_developer_min"
        if step.kind == "redevelop"
        else ""
    )
    before = [s.kind for s in process.steps[: process.steps.index(step)]]
    # A wash aid behind the fixer has no bleach to undo.
    if step.kind == "clear" and not key and step.time_min > 0 and not {"clear", "fix"} & set(before):
        return [ClearingAfterPeroxide(step.time_min)]
    if not key or step.until or step.time_min <= 0:
        return []
    return [] if abs(step.time_min / number(key) - 1) <= TIME_APART else [AnotherTime(step.time_min, key)]


def _leaves_colour(process: Process, step: Step, known: Mapping[str, Formula]) -> bool:
    """Whether a bleach before the step leaves more in the gelatin than peroxide, which goes by itself."""
    bleaches = [s for s in process.steps[: process.steps.index(step)] if s.kind == "bleach"]
    held = [
        [part.key for part in of_formula(known[s.formula or ""]).ingredients] if s.formula in known else [""]
        for s in bleaches
    ]
    return not bleaches or any(not any("peroxide" in key for key in keys) for keys in held)


def _suffices(step: Step, formula: Formula | None, tank_ml: float) -> list[OpinionStory]:
    """What the bath of a step is reckoned to suffice for."""
    volume_ml = step.volume_ml or tank_ml
    if formula is None:
        return _cannot_be_said(step)
    nameless = " and ".join(formula.unread)
    if has_capacity(formula):
        try:
            seen = forecast(formula, volume_ml=volume_ml)
        except InputError:
            return []
        iron = iron_life(formula)
        life = seen.life.source if seen.life else None
        source = record("practice.bath.iron_rolls_per_l").source if iron is not None else life
        peroxide = formula.role == "bleach" and _holds(formula, "peroxide")
        return [FilmsReckoned(volume_ml, seen.rolls_left, nameless, source, iron, peroxide)]
    grams = (
        sum(p.g_per_l or 0.0 for p in of_formula(formula).ingredients if "dithionite" in p.classes) * volume_ml / 1000
    )
    if step.kind == "fog" and grams:
        silver = silver_per_roll_g()
        least, most = (g * mass_ratio("sodium_dithionite", 1, "silver", 2) for g in (silver.low, silver.high))
        return [DithioniteReckoned(grams, least, most, nameless)]
    # Of a clearing bath the sulfite that is known is reckoned elsewhere.
    reckoned = step.kind == "clear" and any(word in c.substance for c in formula.components for word in GIVES)
    if nameless and not reckoned:
        return _cannot_be_said(step)
    return []


# Kinds of step whose bath is used up by the film.
_WORKS = frozenset(("bleach", "dissolve", "clear", "fog", "redevelop", "fix"))


def _cannot_be_said(step: Step) -> list[OpinionStory]:
    """What a bath suffices for where what does its work was not read."""
    return [NothingReckoned()] if step.mix and step.kind in _WORKS else []


def _made_early(process: Process, position: int, formula: Formula | None) -> list[OpinionStory]:
    """A bath that ages fast and is made before it is needed."""
    step = process.steps[position]
    if formula is None or formula.use_within_min is None or step.made not in ("during", "ahead"):
        return []
    keys = [one.key for one in process.steps]
    since = keys.index(step.made_during) if step.made == "during" else 0
    age_min = sum(one.time_min for one in process.steps[since : position + 1])
    return [] if age_min <= formula.use_within_min else [MadeTooEarly(age_min, formula.use_within_min)]


def _volume(step: Step, tank_ml: float) -> list[OpinionStory]:
    if not step.volume_ml or not step.formula or step.volume_ml >= COVERED * tank_ml:
        return []
    return [ReelUncovered(step.volume_ml, tank_ml)]


def _rinse(process: Process, position: int, known: Mapping[str, Formula], tank_ml: float) -> list[OpinionStory]:
    """What the rinse after a bath leaves of it, against what the next bath may get."""
    step = process.steps[position]
    # A rinse with something in it is a rinse all the same.
    after = next(
        (s for s in process.steps[position + 1 :] if (s.formula in known or s.mix) and s.kind not in ("rinse", "wash")),
        None,
    )
    if step.formula not in known or step.kind == "rinse" or after is None:
        return []
    between = process.steps[position + 1 : process.steps.index(after)]
    # A step in plain water is a fill, whether or not its turns are said.
    fills: list[float] = [
        tank_ml
        for s in between
        if s.kind in ("rinse", "wash", "other") and (s.rinse_after is None or s.formula in known)
    ]
    running_min = 0.0
    for rinse in [step.rinse_after, *(s.rinse_after for s in between)]:
        if rinse is not None:
            fills += [rinse.fill_volume_ml or tank_ml] * len(rinse.fills)
            running_min += rinse.running_water_min
    retained_ml = step.carry_over_ml or float(record("wash.retained").value["total_mL"])
    left = 1.0
    for fill_ml in fills:
        left = concentration_after_fills(left, retained_ml, fill_ml, 1)
    left *= concentration_after_fills(
        1.0, retained_ml, tank_ml, round(running_min * number("practice.running_water_fills_per_min"))
    )
    most = number("process.rinse_leaves_most")
    if left <= most:
        return []
    three = concentration_after_fills(1.0, retained_ml, tank_ml, THREE_FILLS)
    return [] if three >= left else [RinseReckoned(left, three, after.name)]


def _next_bath(process: Process, position: int, known: Mapping[str, Formula]) -> Step | None:
    """The next step with a bath, be it one that nobody can read."""
    return next((s for s in process.steps[position + 1 :] if s.formula in known or s.mix), None)


def _iron_to_ammonia(process: Process, position: int, known: Mapping[str, Formula]) -> list[OpinionStory]:
    step = process.steps[position]
    after = _next_bath(process, position, known)
    if after is None or not _holds(known.get(step.formula or ""), "iron_chloride"):
        return []
    if not _holds(known.get(after.formula or ""), "ammonia"):
        return []
    between = [step, *process.steps[position + 1 : process.steps.index(after)]]
    if any(s.rinse_after is not None and s.rinse_after.acidified for s in between):
        return []
    return [AcidRinseMissing(tuple(record("process.acid_rinse_turns").value), step.light)]


def _clearing(process: Process, position: int, known: Mapping[str, Formula]) -> list[OpinionStory]:
    step = process.steps[position]
    formula = known.get(step.formula or "")
    before = process.steps[:position]
    if step.kind == "fog":
        if not any(s.kind == "bleach" for s in before) or any(s.kind == "clear" for s in before):
            return []
        return [ClearingMissing(_holds(formula, "dithionite"))]
    after = next((s for s in process.steps[position + 1 :] if s.formula in known), None)
    if (
        step.kind == "clear"
        and after is not None
        and after.kind == "fog"
        and _holds(known.get(after.formula or ""), "dithionite")
    ):
        return [ClearingKept()]
    return []


def _fog_and_light(process: Process, position: int) -> list[OpinionStory]:
    step, later = process.steps[position], {s.kind for s in process.steps[position + 1 :]}
    if step.kind == "bleach" and not later & {"fog", "reexpose", "redevelop", "bleach"}:
        return [SecondHalfMissing()]
    if step.kind == "reexpose" and "redevelop" not in later:
        return [SecondDeveloperMissing()]
    return []


def _lamp(step: Step) -> list[OpinionStory]:
    """Light of a second exposure, reckoned from what its name and note say of the lamp."""
    said = f"{step.name} {step.note}"
    watts, distance = re.search(r"(\d+(?:[.,]\d+)?)\s*W\b", said), re.search(r"(\d+(?:[.,]\d+)?)\s*(cm|m|ft)\b", said)
    if step.kind != "reexpose" or watts is None or distance is None or step.time_min <= 0:
        return []
    if re.search(r"\bLED\b", said, re.IGNORECASE):
        return []
    metres = parse_number(distance[1], where="lamp") * METRES[distance[2]]
    flux_lm = parse_number(watts[1], where="lamp") * number("lamp-eff")
    off_reel = re.search(r"off (?:the|its) reel|off (?:the|its) spiral|one sheet|plate|stretched", said, re.IGNORECASE)
    on_reel = not off_reel and re.search(r"reel|spiral", said, re.IGNORECASE)
    side_s = 60 * step.time_min / 2
    seen = reexpose(flux_lm, metres, side_s, how="reel" if on_reel else "hand")
    return [LampReckoned(watts[1], metres, side_s, bool(on_reel), seen)]


def _clears(process: Process, position: int, known: Mapping[str, Formula], tank_ml: float) -> list[OpinionStory]:
    """How far the sulfite of a clearing bath goes for what film and tank carry from the bleach, electron by electron."""
    step = process.steps[position]
    formula = known.get(step.formula or "")
    if step.kind != "clear" or formula is None:
        return []
    volume_l = (step.volume_ml or tank_ml) / ML_PER_L
    gives = sum(
        (part.g_per_l or 0.0) / molar_mass_g_per_mol(substances()[part.key].molar_mass_key) * volume_l * electrons
        for part in of_formula(formula).ingredients
        for word, electrons in GIVES.items()
        if part.key in substances() and word in part.key
    )
    if not gives:
        return []
    carried, name = 0.0, ""
    # What an earlier clearing bath or fixer took out is not here to be undone.
    since = max((at + 1 for at, s in enumerate(process.steps[:position]) if s.kind in ("clear", "fix")), default=0)
    for place, before in enumerate(process.steps[:position]):
        if place < since:
            continue
        bath = known.get(before.formula or "")
        takes = sum(
            (part.g_per_l or 0.0) / molar_mass_g_per_mol(substances()[part.key].molar_mass_key) * electrons
            for part in (of_formula(bath).ingredients if bath is not None and before.kind == "bleach" else ())
            for word, electrons in TAKES.items()
            if part.key in substances() and word in part.key
        )
        if takes:
            retained_ml = before.carry_over_ml or float(record("wash.retained").value["total_mL"])
            fills = sum(len(s.rinse_after.fills) for s in process.steps[place:position] if s.rinse_after is not None)
            carried = takes * retained_ml / ML_PER_L * concentration_after_fills(1.0, retained_ml, tank_ml, fills)
            name = before.name
    if not carried:
        return []
    return [SulfiteReckoned(gives / carried, name, " and ".join(formula.unread))]


def _washed(process: Process, position: int, known: Mapping[str, Formula], tank_ml: float) -> list[OpinionStory]:
    """What of the last fixer the water after it leaves."""
    step = process.steps[position]
    formula = known.get(step.formula or "")
    after = process.steps[position + 1 :]
    if step.kind != "fix" or formula is None or any(s.kind == "fix" for s in after):
        return []
    rinses = [s.rinse_after for s in (step, *after) if s.rinse_after is not None]
    fills = sum(len(rinse.fills) for rinse in rinses)
    minutes = sum(rinse.running_water_min for rinse in rinses)
    bath = {name for part in of_formula(formula).ingredients for name in part.classes}
    kind = "hardening" if "hardener" in bath or "harden" in step.mix + step.name else "rapid"
    needed = wash_needed_min(
        kind, wash_aid=any((f := known.get(s.formula or "")) and f.role == "wash_aid" for s in after)
    )
    retained_ml = step.carry_over_ml or float(record("wash.retained").value["total_mL"])
    changes = fills + round(minutes * number("practice.running_water_fills_per_min"))
    share = concentration_after_fills(1.0, retained_ml, tank_ml, changes)
    return [WashReckoned(fills, minutes, share, needed)]


def _safety(process: Process, known: Mapping[str, Formula], tank_ml: float, room: Room | None) -> list[CareFound]:
    """What the safety engine and the film's chemistry find, at the step where it holds."""
    here = {step.key for step in process.steps}
    # What meets in a jug is told where its last bath is poured in.
    pours = {f"jug {step.waste_jug}": step.key for step in process.steps if step.waste_jug}
    if any(step.formula and step.formula not in known for step in process.steps):
        return []
    counted: dict[str, int] = {}
    found = []
    for one in check_route(process, known, tank_ml=tank_ml, room=room):
        if one.where in pours:
            one = replace(one, where=pours[one.where])
        if one.pair == "unread":
            # Told at the bath that could not be read.
            continue
        if one.where not in here or one.level is Level.NOTE or counted.get(one.where, 0) >= MOST_SAFETY:
            continue
        counted[one.where] = counted.get(one.where, 0) + 1
        found.append(CareFound(one, counted[one.where]))
    return found
