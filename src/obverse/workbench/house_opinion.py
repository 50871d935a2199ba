"""What the house would do otherwise at each step of a process, why, and how sure; and what each bath suffices for.

Nothing here blocks a step. What is lethal is refused where the evening is planned, by the safety engine.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from obverse.chemistry import concentration_after_fills, mass_ratio, molar_mass_g_per_mol, silver_per_roll_g
from obverse.foundation import InputError, Level, Source, Standing, parse_number
from obverse.light import reexpose
from obverse.mixing import SaidBath, additions, starting_controls
from obverse.process import ALKALI, SOLVENT, Formula, Process, Step, reading_of
from obverse.process.catalog import substances
from obverse.reference import number, record
from obverse.safety import as_worked, check_route, classes_of, not_judged, usual_after_use
from obverse.safety.airborne import Room
from obverse.safety.bath_life import forecast, has_capacity
from obverse.safety.film import wash_needed_min
from obverse.safety.matter import of_formula

PRACTICE = Source("common practice, no source", Standing.COMMON_PRACTICE)
# So far from practice a time is spoken of; less is a matter of taste.
TIME_APART = 0.34
# Beyond so many times, or below such a part of it, it is no longer told as common, too; ours.
FAR_IN_TIME = 2.0
USUAL_TANK_ML = 500.0
ML_PER_L = 1000.0
# A share that is told as under a thousandth of a percent.
SMALL_SHARE = 1e-5
METRES = {"cm": 0.01, "m": 1.0, "ft": 0.3048}
# Electrons that a mole takes, and gives: iron(III) one, permanganate five, dichromate six, peroxide two; sulfite two.
TAKES = {"iron_iii": 1, "permanganate": 5, "dichromate": 6, "hydrogen_peroxide": 2}
GIVES = {"metabisulfite": 4, "sodium_bisulfite": 2, "sodium_sulfite": 2}
# A bath of less than this share of the tank may not cover the reel; ours.
COVERED = 0.9
# Findings for people's sake, at most so many at a step: the rest stands at the plan.
MOST_SAFETY = 3


@dataclass(frozen=True, slots=True)
class Opinion:
    """One thing that the house would do otherwise at a step, or wants known of it.

    Parameters
    ----------
    step : str
        Key of the step.
    code : str
        Of what it is about; unique at the step.
    says, why : str
        What the house would do, or has reckoned; and the reason.
    change : dict of str to str
        Words of the step that would be taken over; empty where there is nothing to press.
    insert : dict of str to str or None
        Words of a step that would be put in before it, or after it.
    declined : str
        The person's reason, where the word was not followed.
    """

    step: str
    code: str
    says: str
    why: str
    source: Source
    level: Level = Level.NOTE
    change: dict[str, str] = field(default_factory=dict)
    insert: dict[str, str] | None = None
    after: bool = False
    declined: str = ""

    @property
    def can_be_taken_over(self) -> bool:
        """Whether one press does it."""
        return bool(self.change) or self.insert is not None

    @property
    def asks(self) -> bool:
        """Whether it is a matter of doing otherwise, and not only of knowing."""
        return self.can_be_taken_over or self.level is not Level.NOTE or self.code.startswith("developer.")

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "step": self.step,
            "code": self.code,
            "says": self.says,
            "why": self.why,
            "standing": self.source.words,
            "level": self.level.value,
            "change": self.change,
            "insert": self.insert,
            "declined": self.declined,
        }


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
            *_unread(step, readings.get(step.key), formula),
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
        found += told
    found += _safety(process, known, tank_ml, room)
    reasons = {(step.key, d.code): d.reason for step in process.steps for d in step.declined}
    return [_with_reason(one, reasons.get((one.step, one.code), "")) for one in _in_order(process, found)]


def _with_reason(one: Opinion, reason: str) -> Opinion:
    return replace(one, declined=reason) if reason else one


def _in_order(process: Process, found: Sequence[Opinion]) -> list[Opinion]:
    place = {step.key: index for index, step in enumerate(process.steps)}
    return sorted(found, key=lambda one: place.get(one.step, len(place)))


def _as_put(process: Process, step: Step) -> list[Opinion]:
    """What a person's own words of a step come to."""
    read = reading_of(step, {one.key: one.name for one in process.steps})
    if not read:
        return []
    why = "What you wrote stands and goes along to sheet and sink; correct the field where another reading is meant."
    return [Opinion(step.key, "words", read, why, Source("the words of this step", Standing.COMPUTED))]


def _unread(step: Step, read: SaidBath | None, formula: Formula | None) -> list[Opinion]:
    found = []
    if read is not None and read.vague:
        found.append(
            Opinion(
                step.key,
                "bath.vague",
                f"Taken: {'; '.join(read.vague)}. Weigh or measure yours once, and write that.",
                "A pinch and a capful are what a hand and a cap make of them; nobody has one in common with another.",
                Source("what people mean by a pinch, a dash, a capful and a splash", Standing.FROM_MEMORY),
            )
        )
    if read is not None and read.unread:
        names = ", ".join(name for name in read.unread if name) or "a part without a name"
        judged = not_judged(
            [name or "a part without a name" for name in read.unread], None if formula is None else of_formula(formula)
        )
        found.append(
            Opinion(
                step.key,
                "bath.unknown",
                f"Not reckoned: {names}. Say its amount in mL, g or a spoon, or put it on the shelf with what its label says, be it little.",
                f"{judged.text} What is not known counts as nothing in what is reckoned here.",
                Source("the shelf and the catalogue", Standing.COMPUTED),
                judged.level,
            )
        )
    elif read is not None and read.taken:
        told = "; ".join(f"{what}: {taken}" for what, taken in read.taken if what.casefold() != taken.casefold())
        supposed = f"{read.supposed[:1].upper()}{read.supposed[1:]}." if read.supposed else ""
        if told or supposed:
            found.append(
                Opinion(
                    step.key,
                    "bath.reading",
                    " ".join(filter(None, (f"Read as {told}." if told else "", supposed))),
                    "The bath is reckoned by these; name the bottle on your shelf where another is meant.",
                    Source("the shelf and the catalogue", Standing.COMPUTED),
                )
            )
    return found


def _poured_away(process: Process, step: Step, formula: Formula | None) -> list[Opinion]:
    """A bath that is poured away though no drain takes it."""
    if formula is None or step.after_use != "discard":
        return []
    worked = as_worked(step, formula, process)
    classes = classes_of(worked)
    what, why = next(
        (told for name, told in _NO_DRAIN.items() if name in classes),
        ("", ""),
    )
    if not what:
        return []
    use, jug = usual_after_use(step, worked, process, {})
    return [
        Opinion(
            step.key,
            "drain",
            f"{what} never goes into a drain: "
            + ("destroy it the same evening." if use == "destroy" else f"into waste jug {jug}."),
            why,
            PRACTICE,
            Level.DANGER,
            change={"after": f"destroy, jug {jug}" if use == "destroy" else f"waste jug {jug}"},
        )
    ]


# Baths that no drain takes, by what is in them, and why.
_NO_DRAIN = {
    "dichromate": (
        "A bath with chromium(VI)",
        "It may cause cancer and poisons water for good; nothing that held it goes into a drain or household rubbish. Local codes decide.",
    ),
    "silver_ammine": (
        "Ammonia that dissolved silver",
        "What forms in it, in a trap as in a jug, can explode when touched; and silver poisons water. Local codes decide.",
    ),
}


def _first_developer(process: Process, step: Step, formula: Formula | None) -> list[Opinion]:
    if step is not process.first_development or formula is None or formula.role != "first_developer":
        return []
    controls = starting_controls(formula)
    found = []
    for control, word, why in (
        (
            SOLVENT,
            "solvent",
            "It dissolves the halide that would veil the highlights; too much of it thins the blacks.",
        ),
        (ALKALI, "alkali", "It keeps the developer working while the solvent thins it; too much of it fogs."),
    ):
        start, most = (number(f"process.start.{word}_{part}ml_per_l") for part in ("", "most_"))
        has = controls.get(control.key, 0.0)
        what = "rapid fixer concentrate" if word == "solvent" else "household ammonia"
        other = _other_of(word, formula)
        if has <= 0 and other:
            says, level = _another(word, start, other)
            found.append(Opinion(step.key, f"developer.{word}", says, why, PRACTICE, level))
        elif has <= 0 and formula.unread:
            says = f"Nearly every way begins with about {start:g} mL/L of {what}; whether yours has any cannot be told from what could be read."
            found.append(Opinion(step.key, f"developer.{word}", says, why, PRACTICE))
        elif has <= 0:
            says = f"Nearly every way begins with about {start:g} mL/L of {what}; yours has none. Both are known to work: the strip decides."
            amount = f"{start * (process.tank_ml or USUAL_TANK_ML) / 1000:.2g} mL {what}"
            change = {"bath": _with_part(step.mix, amount)} if step.mix else {}
            found.append(Opinion(step.key, f"developer.{word}", says, why, PRACTICE, change=change))
        elif has > most:
            says = f"{has:.3g} mL/L of {what} is far above the usual start of {start:g}; begin lower and let a strip decide."
            found.append(Opinion(step.key, f"developer.{word}", says, why, PRACTICE, Level.CAUTION))
        elif not start / 2 <= has <= 2 * start:
            says = f"{has:.3g} mL/L of {what}; the house starts at {start:g}. Both are common."
            found.append(Opinion(step.key, f"developer.{word}", says, why, PRACTICE))
    return found


# What else does the work of a solvent or of an alkali, by its class.
_DOES_IT = {"solvent": ("thiosulfate", "thiocyanate"), "alkali": ("hydroxide", "carbonate", "borate", "amine")}
# Twice the start and more is told as far above it.
FAR_ABOVE = 4.0


def _other_of(word: str, formula: Formula) -> tuple[tuple[str, str, float], ...]:
    """Name, key and g/L of what else than the house's own does the work in a first developer."""
    return tuple(
        (part.name, part.key, part.g_per_l or 0.0)
        # What a developer holds of its own is in its bottle and not what was added.
        for part in of_formula(formula.model_copy(update={"dilutions": ()})).ingredients
        if part.kind == "substance" and (part.g_per_l or 0.0) > 0 and set(_DOES_IT[word]) & set(part.classes)
    )


def _another(word: str, start: float, other: Sequence[tuple[str, str, float]]) -> tuple[str, Level]:
    """What is said of a first developer whose solvent or alkali is another than the house's start."""
    names = " and ".join(f"{float(f'{grams:.2g}'):g} g/L of {name}" for name, _, grams in other)
    salts = [(key, grams) for _, key, grams in other if "thiosulfate" in key]
    if word != "solvent" or len(salts) != len(other):
        return f"Its {word} is {names}. How it compares with the house's start the strip decides.", Level.NOTE
    moles = sum(grams / molar_mass_g_per_mol(substances()[key].molar_mass_key) for key, grams in salts)
    house = additions()[SOLVENT.key]
    as_ml = moles / (house.g_per_l / molar_mass_g_per_mol(substances()[house.substance].molar_mass_key))
    far = as_ml > FAR_ABOVE * start
    told = f"Its solvent is {names}, as much thiosulfate as in {_round(as_ml)} mL/L of rapid fixer concentrate; the house starts at {start:g}."
    return told + (
        " Begin lower and let a strip decide." if far else " The strip decides."
    ), Level.CAUTION if far else Level.NOTE


def _with_part(mix: str, part: str) -> str:
    body, comma, water = mix.partition(", water")
    return f"{body} + {part}{comma}{water}"


def _holds(formula: Formula | None, *classes: str) -> bool:
    return formula is not None and any(set(classes) & set(part.classes) for part in of_formula(formula).ingredients)


def _time(process: Process, step: Step, known: Mapping[str, Formula]) -> list[Opinion]:
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
    if not key or step.until or step.time_min <= 0:
        return []
    usual = number(key)
    if abs(step.time_min / usual - 1) <= TIME_APART:
        return []
    far = not usual / FAR_IN_TIME <= step.time_min <= FAR_IN_TIME * usual
    why = (
        "Too short leaves work undone; look at the film, or give it longer."
        if step.time_min < usual
        else "Longer does little more, and gelatin swells the longer it is wet."
    )
    return [
        Opinion(
            step.key,
            "time",
            f"{step.time_min:g} min is far {'above' if step.time_min > usual else 'below'} the usual {usual:g} min."
            if far
            else f"{step.time_min:g} min; usual are {usual:g} min. Both are common.",
            why,
            record(key).source,
            change={"time": f"{usual:g} min"},
        )
    ]


def _leaves_colour(process: Process, step: Step, known: Mapping[str, Formula]) -> bool:
    """Whether a bleach before the step leaves more in the gelatin than peroxide, which goes by itself."""
    bleaches = [s for s in process.steps[: process.steps.index(step)] if s.kind == "bleach"]
    held = [
        [part.key for part in of_formula(known[s.formula or ""]).ingredients] if s.formula in known else [""]
        for s in bleaches
    ]
    return not bleaches or any(not any("peroxide" in key for key in keys) for keys in held)


def _suffices(step: Step, formula: Formula | None, tank_ml: float) -> list[Opinion]:
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
        left = seen.rolls_left
        short = left.value < 1
        if nameless:
            return [
                Opinion(
                    step.key,
                    "suffices",
                    f"By its known parts {volume_ml:g} mL suffice for {_round(left.high90)} films of 36 at most; with {nameless} in it, of which nothing is known, it may be for none.",
                    "What nobody knows may use the bath up itself; a clip decides.",
                    seen.life.source if seen.life else Source("the known parts alone", Standing.COMPUTED, True),
                    Level.CAUTION,
                )
            ]
        return [
            Opinion(
                step.key,
                "suffices",
                f"{volume_ml:g} mL are reckoned to suffice for about {_round(left.value)} {'film' if _round(left.value) == '1' else 'films'} of 36 ({_round(left.low90)} to {_round(left.high90)})."
                + (" Mix more, or stronger, for one film." if short else ""),
                "By its active substance and the silver of a film, which is known only to about half; a clip decides.",
                seen.life.source
                if seen.life
                else Source("stoichiometry and the silver of a film", Standing.COMPUTED, True),
                Level.CAUTION if short else Level.NOTE,
            )
        ]
    grams = (
        sum(p.g_per_l or 0.0 for p in of_formula(formula).ingredients if "dithionite" in p.classes) * volume_ml / 1000
    )
    if step.kind == "fog" and grams:
        silver = silver_per_roll_g()
        need = [g * mass_ratio("sodium_dithionite", 1, "silver", 2) for g in (silver.low, silver.likely, silver.high)]
        enough = grams >= need[2] * number("process.fogging_reserve")
        return [
            Opinion(
                step.key,
                "suffices",
                f"It holds about {grams:.2g} g of dithionite; the silver of a film takes {need[0]:.2g} to {need[2]:.2g} g, and air its share."
                + _with_unknown(nameless)
                + ("" if enough else " Take more: it may run out before the film is black."),
                "Reckoned from one dithionite for two silver; how much the air takes is not known.",
                record("fog.dithionite_per_ag").source,
                Level.NOTE if enough and not nameless else Level.CAUTION,
            )
        ]
    # Of a clearing bath the sulfite that is known is reckoned elsewhere.
    reckoned = step.kind == "clear" and any(word in c.substance for c in formula.components for word in GIVES)
    if nameless and not reckoned:
        return _cannot_be_said(step)
    return []


# Kinds of step whose bath is used up by the film.
_WORKS = frozenset(("bleach", "dissolve", "clear", "fog", "redevelop", "fix"))


def _with_unknown(nameless: str) -> str:
    """That what is reckoned of the known parts need not hold with another in it; nothing where there is none."""
    return (
        f" With {nameless} in it, of which nothing is known, whether that suffices cannot be said." if nameless else ""
    )


def _cannot_be_said(step: Step) -> list[Opinion]:
    """What a bath suffices for where what does its work was not read."""
    if not step.mix or step.kind not in _WORKS:
        return []
    return [
        Opinion(
            step.key,
            "suffices",
            "What it suffices for cannot be said: what would do its work in it was not read. Try a clip of film in it first.",
            "Of what nobody knows no share can be reckoned.",
            Source("the shelf and the catalogue", Standing.COMPUTED),
            Level.CAUTION,
        )
    ]


def _made_early(process: Process, position: int, formula: Formula | None) -> list[Opinion]:
    """A bath that ages fast and is made before it is needed."""
    step = process.steps[position]
    if formula is None or formula.use_within_min is None or step.made not in ("during", "ahead"):
        return []
    keys = [one.key for one in process.steps]
    since = keys.index(step.made_during) if step.made == "during" else 0
    age_min = sum(one.time_min for one in process.steps[since : position + 1])
    if age_min <= formula.use_within_min:
        return []
    return [
        Opinion(
            step.key,
            "made",
            f"Made so early it is {age_min:g} min old at its end, the rinses not counted; such a bath does its work for about {formula.use_within_min:g} min. Make it just before.",
            "It decays from the moment it is mixed.",
            PRACTICE,
            Level.CAUTION,
            change={"made": "just before"},
        )
    ]


def _volume(step: Step, tank_ml: float) -> list[Opinion]:
    if not step.volume_ml or not step.formula or step.volume_ml >= COVERED * tank_ml:
        return []
    return [
        Opinion(
            step.key,
            "volume",
            f"{step.volume_ml:g} mL in a tank of {tank_ml:g} mL: see that it covers the reel, or mix the same strength for the tank.",
            "What stands out of the bath is worked on only while the tank is turned.",
            PRACTICE,
            change={"volume": f"{tank_ml:g} mL"},
        )
    ]


def _rinse(process: Process, position: int, known: Mapping[str, Formula], tank_ml: float) -> list[Opinion]:
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
    three = concentration_after_fills(1.0, retained_ml, tank_ml, 3)
    if three >= left:
        return []
    says = (
        f"Nothing rinses between this and {after.name}: all that film and tank hold goes along."
        if left == 1
        else f"The rinse leaves about {_percent(left)} of the bath for {after.name}; three fills would leave {_percent(three)}."
    )
    why = "Two baths that meet spoil each other; a fill of water thins what is held about fifty times."
    return [
        Opinion(
            step.key, "rinse", says, why, record("wash.formula").source, Level.CAUTION if left == 1 else Level.NOTE,
            change={"rinse": "5, 10, 20"},
        )
    ]  # fmt: skip


def _next_bath(process: Process, position: int, known: Mapping[str, Formula]) -> Step | None:
    """The next step with a bath, be it one that nobody can read."""
    return next((s for s in process.steps[position + 1 :] if s.formula in known or s.mix), None)


def _iron_to_ammonia(process: Process, position: int, known: Mapping[str, Formula]) -> list[Opinion]:
    step = process.steps[position]
    after = _next_bath(process, position, known)
    if after is None or not _holds(known.get(step.formula or ""), "iron_chloride"):
        return []
    if not _holds(known.get(after.formula or ""), "ammonia"):
        return []
    between = [step, *process.steps[position + 1 : process.steps.index(after)]]
    if any(s.rinse_after is not None and s.rinse_after.acidified for s in between):
        return []
    turns = ", ".join(map(str, record("process.acid_rinse_turns").value))
    return [
        Opinion(
            step.key,
            "acid_rinse",
            "An acid rinse between iron and ammonia, two fills with a little citric acid, then the plain ones.",
            "Iron(III) stays dissolved in acid only; what is still in the gelatin becomes rust in the ammonia and stains.",
            PRACTICE,
            insert={
                "does": "rinse",
                "name": "Acid rinse",
                "bath": "none",
                "rinse": f"{turns}, acidified",
                "light": step.light,
            },
            after=True,
        )
    ]


def _clearing(process: Process, position: int, known: Mapping[str, Formula]) -> list[Opinion]:
    step = process.steps[position]
    formula = known.get(step.formula or "")
    before = process.steps[:position]
    if step.kind == "fog":
        if not any(s.kind == "bleach" for s in before) or any(s.kind == "clear" for s in before):
            return []
        return [
            Opinion(
                step.key,
                "clearing",
                "A clearing bath of metabisulfite before the fogging bath.",
                f"It takes out what the bleach left, which would use up the {'dithionite' if _holds(formula, 'dithionite') else 'fogging bath'} and stain.",
                PRACTICE,
                insert={
                    "does": "clear",
                    "name": "Clearing bath",
                    "bath": str(record("process.clearing_words").value),
                    "time": f"{number('process.clearing_min'):g} min",
                    "agitation": "all the time",
                    "rinse": "5, 10",
                    "after": "waste jug F",
                    "light": "light",
                },
            )
        ]
    after = next((s for s in process.steps[position + 1 :] if s.formula in known), None)
    if (
        step.kind == "clear"
        and after is not None
        and after.kind == "fog"
        and _holds(known.get(after.formula or ""), "dithionite")
    ):
        return [
            Opinion(
                step.key,
                "clearing.why",
                "A clearing bath before dithionite: keep it, but let little of it go along.",
                "It undoes what is left of the bleach and dissolves iron; its sulfite only joins what dithionite itself becomes, its acid makes dithionite decay and smell.",
                PRACTICE,
            )
        ]
    return []


def _fog_and_light(process: Process, position: int) -> list[Opinion]:
    step = process.steps[position]
    if step.kind == "bleach" and not any(
        s.kind in ("fog", "reexpose", "redevelop") for s in process.steps[position + 1 :]
    ):
        return (
            [
                Opinion(
                    step.key,
                    "second_half",
                    "After this nothing makes the positive: light and a second developer, or a fogging bath, is missing.",
                    "What the bleach leaves is halide that nobody sees until it is developed.",
                    PRACTICE,
                    Level.CAUTION,
                    insert={
                        "does": "fog",
                        "bath": "fogging_dithionite",
                        "time": f"{number('process.fogging_min'):g} min",
                        "agitation": "all the time",
                        "rinse": "5, 10, 20",
                        "after": "destroy, jug F",
                        "made": "just before",
                        "light": "light",
                    },
                    after=True,
                )
            ]
            if not any(s.kind == "bleach" for s in process.steps[position + 1 :])
            else []
        )
    if step.kind == "reexpose" and not any(s.kind == "redevelop" for s in process.steps[position + 1 :]):
        return [
            Opinion(
                step.key,
                "second_developer",
                "After the light a second developer is missing.",
                "Light alone makes no black.",
                PRACTICE,
                Level.CAUTION,
                insert={
                    "does": "develop again",
                    "bath": "second_developer",
                    "time": f"{number('process.second_developer_min'):g} min",
                    "rinse": "5, 10",
                    "after": "waste jug F",
                    "light": "light",
                },
                after=True,
            )
        ]
    return []


def _lamp(step: Step) -> list[Opinion]:
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
    where = "left on its reel" if on_reel else "off its reel"
    return [
        Opinion(
            step.key,
            "suffices",
            f"A glowing lamp of {watts[1]} W at {metres:.3g} m, {side_s:g} s a side, the film {where}: {seen.words}",
            "From the light of a lamp of that kind and the distance; what the bleach does to the film's speed nobody has published.",
            seen.source,
            Level.NOTE if seen.verdict in ("ample", "likely") else Level.CAUTION,
        )
    ]


def _clears(process: Process, position: int, known: Mapping[str, Formula], tank_ml: float) -> list[Opinion]:
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
    times = gives / carried
    enough = times >= 1
    nameless = " and ".join(formula.unread)
    return [
        Opinion(
            step.key,
            "suffices",
            (
                f"Its sulfite is enough for what film and tank carry of {name} about {_round(times)} times over."
                if enough
                else f"Its sulfite undoes only about {100 * times:.0f} % of what film and tank carry of {name}: rinse more before it, or take more."
            )
            + _with_unknown(nameless),
            "Electron by electron, after the rinses between; what gelatin holds back longer is not in it.",
            record("wash.formula").source,
            Level.NOTE if enough and not nameless else Level.CAUTION,
        )
    ]


def _round(times: float) -> str:
    return "a thousand and more" if times >= ML_PER_L else f"{float(f'{times:.2g}'):g}"


def _washed(process: Process, position: int, known: Mapping[str, Formula], tank_ml: float) -> list[Opinion]:
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
    enough = minutes >= needed or fills >= number("film.ph_jump_fills") + 1
    water = " and ".join(
        part
        for part in (
            f"{fills} {'fill' if fills == 1 else 'fills'}" if fills else "",
            f"{minutes:g} min of running water" if minutes else "",
        )
        if part
    )
    return [
        Opinion(
            step.key,
            "wash",
            f"After it {'come' if water and (fills > 1 or minutes) else 'comes'} {water or 'no water'}. By dilution that leaves {_percent(share)} of the fixer, if it is given time to come out of the gelatin; "
            f"to keep, films are washed about {needed:g} min in running water.",
            "Film base takes up no fixer, gelatin does; what is left bleaches the picture in years.",
            record("film.wash_min").source,
            Level.NOTE if enough else Level.CAUTION,
        )
    ]


def _percent(share: float) -> str:
    return "under 0.001 %" if share < SMALL_SHARE else f"{float(f'{100 * share:.2g}'):g} %"


def _safety(process: Process, known: Mapping[str, Formula], tank_ml: float, room: Room | None) -> list[Opinion]:
    """What the safety engine and the film's chemistry find, at the step where it holds."""
    here = {step.key for step in process.steps}
    if any(step.formula and step.formula not in known for step in process.steps):
        return []
    counted: dict[str, int] = {}
    found = []
    for one in check_route(process, known, tank_ml=tank_ml, room=room):
        if one.pair == "unread":
            # Told at the bath that could not be read.
            continue
        if one.where not in here or one.level is Level.NOTE or counted.get(one.where, 0) >= MOST_SAFETY:
            continue
        counted[one.where] = counted.get(one.where, 0) + 1
        found.append(
            Opinion(
                one.where,
                f"care.{one.pair}.{counted[one.where]}",
                one.text if not one.refused else f"{one.text} An evening with this cannot be planned.",
                one.advice,
                one.source,
                one.level,
            )
        )
    return found
