"""A step as people say it: "11 min", "15 s in every minute", "three fills: 5, 10, 20 turns", "waste jug F".

Each way of saying has a reader and a teller; what the teller says the reader reads back.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from obverse.foundation import InputError, parse_number, unit_named
from obverse.process.process import Agitation, Rinse, Step

_NUMBER = r"\d+(?:[.,]\d+)?"
_TO = r"\s*(?:-|to|\N{EN DASH}|\N{HORIZONTAL ELLIPSIS}|\.\.)\s*"
# More is a slip of the pen; ours.
MOST_FILLS, MOST_TURNS = 12, 200
# Turns of the first fill where only the number of fills is said; common practice, no source.
FIRST_TURNS = 5
# So few fills have each twice the turns of the one before; of more nobody turns the last so often.
FEW_FILLS = 4
# Seconds in the words of time.
SECONDS = {"half minute": 30.0, "s": 1.0, "m": 60.0}
_COUNTS = ("no", "one", "two", "three", "four", "five", "six")
_EVERY = r"(?:(?:in\s+)?(?:every|each|an?|per)\s+)"
_HOURS = re.compile(rf"^({_NUMBER})\s*(?:h|hours?)$", re.I)
_TIME = re.compile(rf"^(?:({_NUMBER})(?:{_TO}({_NUMBER}))?)\s*(min|minutes?|m|s|sec|seconds?|h|hours?|)\.?$", re.I)
_CLOCK = re.compile(r"^(\d{1,3}):([0-5]\d)$")
_UNTIL = re.compile(
    r"^(?P<time>.*?)[\s,;]*\buntil\s+(?:it\s+is\s+)?(?P<what>[^,;]+?)(?:[,;]?\s*(?:at\s+most|no\s+longer\s+than|up\s+to)\s+(?P<most>.+))?$",
    re.I,
)
# What ends by the eye and was given no limit is looked at for as long as this; ours.
LONGEST_LOOK_MIN = 20.0
NO_RINSE = ("", "none", "no", "no rinse", "-")
AFTER_WORDS = {"keep": "back to its jug", "discard": "drain", "destroy": "destroy"}
MADE_WORDS = {"": "", "ahead": "ahead", "just_before": "just before"}


def read_time(text: str, *, where: str = "time") -> dict[str, Any]:
    """Fields of a step from "6 min", "5-8 min", "90 s", "1:30", "3 min until clear, at most 8 min".

    Raises
    ------
    InputError
        With how it could be written.
    """
    said = text.strip()
    if match := _UNTIL.match(said):
        low = read_time(match["time"], where=where)["time_min"] if match["time"].strip() else 0.0
        ranged = read_time(match["time"], where=where)["time_most_min"] if match["time"].strip() else None
        most = read_time(match["most"], where=where)["time_min"] if match["most"] else (ranged or 0.0)
        return {"time_min": low, "time_most_min": most or max(LONGEST_LOOK_MIN, low), "until": match["what"].strip()}
    if match := _CLOCK.match(said):
        return {"time_min": int(match[1]) + int(match[2]) / 60, "time_most_min": None, "until": ""}
    match = _TIME.match(said)
    if match is None:
        raise InputError(
            f"{said!r} is no time",
            where=where,
            remedy="write it like 6 min, 5-8 min, 90 s, or 3 min until clear, at most 8 min",
        )
    each = {"h": 60.0, "s": 1 / 60}.get(match[3][:1].lower(), 1.0)
    low, high = (None if part is None else parse_number(part, where=where) * each for part in (match[1], match[2]))
    return {"time_min": low, "time_most_min": high, "until": ""}


def tell_time(step: Step) -> str:
    """The time of a step, as `read_time` reads it."""
    most = "" if step.time_most_min is None else _minutes(step.time_most_min)
    if step.until:
        begin = f"{_minutes(step.time_min)} " if step.time_min else ""
        return f"{begin}until {step.until}, at most {most or _minutes(step.time_min)}"
    if step.time_most_min is not None:
        return f"{step.time_min:.12g}-{step.time_most_min:.12g} min"
    return _minutes(step.time_min)


def _minutes(time_min: float) -> str:
    # Half minutes are told as they are; what is not is told in seconds.
    if abs(time_min * 2 - round(time_min * 2)) < 1e-9:
        return f"{time_min:.12g} min"
    return f"{time_min * 60:.12g} s"


def read_temperature(text: str, *, where: str = "temperature") -> dict[str, Any]:
    """Fields of a step from "20 C", "18-24", "68 F"; one number stands for itself and a degree to either side."""
    match = re.match(
        rf"^({_NUMBER})\s*(?:\N{{DEGREE SIGN}}?\s*[CF])?(?:{_TO}({_NUMBER}))?\s*\N{{DEGREE SIGN}}?\s*([CF]?)$",
        text.strip(),
        re.I,
    )
    if match is None:
        raise InputError(
            f"{text.strip()!r} is no temperature", where=where, remedy="write it like 20 C, 18-24 C or 68 F"
        )
    low = parse_number(match[1], where=where)
    high = parse_number(match[2], where=where) if match[2] else low
    if match[3].upper() == "F" or text.strip().upper().endswith("F"):
        fahrenheit = unit_named("f")
        low, high = fahrenheit.to_house(low), fahrenheit.to_house(high)
    if match[2] is None:
        low, high = low - 1, high + 1
    return {"temperature_low_c": round(low, 2), "temperature_high_c": round(high, 2)}


def tell_temperature(step: Step) -> str:
    """The window of a step, as `read_temperature` reads it."""
    low, high = step.temperature_low_c, step.temperature_high_c
    return f"{(low + high) / 2:.12g} C" if abs(high - low - 2) < 1e-9 else f"{low:.12g}-{high:.12g} C"


def read_agitation(text: str, *, where: str = "agitation") -> Agitation:
    """Agitation from "first 30 s, then 4 turns every minute", "15 s in every minute", "all the time", "none"."""
    said = " ".join(text.lower().split())
    if said in ("none", "no", "not at all", "stand", "still"):
        return Agitation(initial_s=0, inversions=0, seconds=0)
    if re.search(r"all the time|constant|continuous|without a pause|always", said):
        return Agitation(constant=True)
    first = re.search(rf"first\s+({_NUMBER}|half)\s*(s|sec|seconds?|min|minutes?)?", said)
    initial_s = 0.0
    if first:
        value = 0.5 if first[1] == "half" else parse_number(first[1], where=where)
        initial_s = value * (60 if (first[2] or "s").startswith("m") else 1)
        said = said[: first.start()] + said[first.end() :]
    bout = re.search(
        rf"({_NUMBER}|once|twice)\s*(s|sec|seconds?|turns?|inversions?|times|)\s*(?:,|\s)*{_EVERY}?\s*(?:({_NUMBER})\s*)?(half minute|min(?:ute)?s?\b|s(?:ec(?:onds?)?)?\b)?",
        said,
    )
    if bout is None:
        if first is None:
            raise InputError(
                f"{text.strip()!r} does not say how the tank is moved",
                where=where,
                remedy="write it like first 30 s, then 4 turns every minute; or all the time",
            )
        return Agitation(initial_s=initial_s, inversions=0, seconds=0)
    count = {"once": 1.0, "twice": 2.0}.get(bout[1]) or parse_number(bout[1], where=where)
    unit = SECONDS.get(bout[4] or "", SECONDS[(bout[4] or "m")[0]] if (bout[4] or "m")[0] in "sm" else 1.0)
    every_s = (parse_number(bout[3], where=where) if bout[3] else 1.0) * unit
    seconds = bool(bout[2]) and bout[2].startswith("s")
    if not seconds and count != round(count):
        raise InputError(f"{bout[1]} turns cannot be made", where=where, remedy="give a whole number of turns")
    return Agitation(
        initial_s=initial_s,
        every_s=every_s,
        inversions=0 if seconds else int(count),
        seconds=count if seconds else 0,
    )


def tell_agitation(agitation: Agitation) -> str:
    """Agitation as `read_agitation` reads it."""
    if agitation.constant:
        return "all the time"
    what = (
        f"{agitation.inversions} turns"
        if agitation.inversions
        else f"{agitation.seconds:.12g} s"
        if agitation.seconds
        else ""
    )
    every = "every minute" if agitation.every_s == 60 else f"every {agitation.every_s:.12g} s"
    first = f"first {agitation.initial_s:.12g} s" if agitation.initial_s else ""
    return ", then ".join(part for part in (first, f"{what} {every}" if what else "") if part) or "none"


def read_rinse(text: str, *, where: str = "rinse") -> Rinse | None:
    """A rinse from "3 fills: 5, 10, 20 turns", "5 10 20", "5, 10, 20 acidified", "running water 5 min", "none".

    A number of fills alone takes five turns for the first and, of few, twice as many for each after it.
    """
    said = " ".join(text.lower().split())
    if said in NO_RINSE:
        return None
    acidified = bool(re.search(r"\bacid", said))
    volume = re.search(rf"(?:of|each|in)\s+({_NUMBER})\s*ml", said)
    if volume:
        said = said.replace(volume[0], "")
    running = re.search(
        rf"running(?: water)?\s*(?:for\s+)?({_NUMBER})\s*min|({_NUMBER})\s*min\w*\s+(?:of\s+)?running", said
    )
    running_min = parse_number(running[1] or running[2], where=where) if running else 0.0
    if running:
        said = said.replace(running[0], "")
    count = re.search(r"(\d+|one|two|three|four|five|six)\s+(?:fills?|changes?)", said)
    doubled = re.search(r"twice|doubl", said)
    numbers = [int(n) for n in re.findall(r"\d+", said.replace(count[0], "") if count else said)]
    fills = tuple(numbers)
    if count:
        fill_count = _COUNTS.index(count[1]) if count[1] in _COUNTS else int(count[1])
        if len(numbers) <= 1 and fill_count <= MOST_FILLS:
            first = numbers[0] if numbers else FIRST_TURNS
            twice = doubled or (not numbers and fill_count <= FEW_FILLS)
            fills = tuple(first * 2**n for n in range(fill_count)) if twice else (first,) * fill_count
    if len(fills) > MOST_FILLS or any(turns > MOST_TURNS for turns in fills):
        raise InputError(
            f"{text.strip()!r} is no rinse", where=where, remedy="give at most 12 fills of up to 200 turns"
        )
    if not fills and not running:
        raise InputError(
            f"{text.strip()!r} is no rinse",
            where=where,
            remedy="write the turns of each fill, such as 5, 10, 20; or running water 5 min; or none",
        )
    return Rinse(
        fills=fills,
        running_water_min=running_min,
        acidified=acidified,
        fill_volume_ml=parse_number(volume[1], where=where) if volume else None,
    )


def tell_rinse(rinse: Rinse | None) -> str:
    """A rinse as `read_rinse` reads it."""
    if rinse is None:
        return "none"
    fills = ", ".join(map(str, rinse.fills))
    running = f"running water {rinse.running_water_min:.12g} min" if rinse.running_water_min else ""
    volume = f"each {rinse.fill_volume_ml:.12g} mL" if rinse.fill_volume_ml else ""
    told = ", ".join(part for part in (fills, running, volume) if part)
    return (told or "none") + (", acidified" if rinse.acidified else "")


def read_after(text: str, *, where: str = "after") -> dict[str, Any]:
    """Where a used bath goes, from "back to its jug", "waste jug F", "drain", "destroy", "destroy, jug G"."""
    said = " ".join(text.lower().split())
    letter = re.search(r"jug\s+([a-z]\d?)\b(?!\w)", said)
    jug = letter[1].upper() if letter else ""
    if "destroy" in said:
        return {"after_use": "destroy", "waste_jug": jug}
    if said in ("keep", "kept") or "back" in said or "its jug" in said or "its bottle" in said:
        return {"after_use": "keep", "waste_jug": jug}
    if "waste" in said or jug:
        return {"after_use": "waste", "waste_jug": jug or "F"}
    if said in ("", "-", "none", "discard") or "drain" in said or "sink" in said or "away" in said:
        return {"after_use": "discard", "waste_jug": ""}
    raise InputError(
        f"{text.strip()!r} does not say where the used bath goes",
        where=where,
        remedy="write back to its jug, waste jug F, drain, or destroy",
    )


def tell_after(step: Step) -> str:
    """Where a used bath goes, as `read_after` reads it."""
    if step.after_use == "waste":
        return f"waste jug {step.waste_jug or 'F'}"
    return AFTER_WORDS[step.after_use] + (f", jug {step.waste_jug}" if step.waste_jug else "")


def read_made(text: str, names: Mapping[str, str], *, where: str = "made") -> dict[str, Any]:
    """When a bath is made, from "ahead", "just before", "while Bleach B works"; empty leaves it to the plan.

    Parameters
    ----------
    names : mapping of str to str
        Keys of the steps before it, by key: their names.
    """
    said = " ".join(text.split())
    if not said:
        return {"made": "", "made_during": ""}
    if re.match(r"^(ahead|before|beforehand)$", said, re.I):
        return {"made": "ahead", "made_during": ""}
    if re.match(r"^(just before|fresh|at the last moment)$", said, re.I):
        return {"made": "just_before", "made_during": ""}
    wanted = re.sub(r"^(while|during|when)\s+|\s+(works?|is working|runs?)$", "", said, flags=re.I).strip().casefold()
    for key, name in names.items():
        if wanted in (key.casefold(), name.casefold()):
            return {"made": "during", "made_during": key}
    raise InputError(
        f"{said!r} does not say when the bath is made",
        where=where,
        remedy="write ahead, just before, or while and the name of a step before it",
    )


def tell_made(step: Step, names: Mapping[str, str]) -> str:
    """When a bath is made, as `read_made` reads it."""
    return f"while {names[step.made_during]} works" if step.made == "during" else MADE_WORDS[step.made]


# What a step does, in the words of the form; the person's own word makes a step of kind `other`.
DOES: dict[str, str] = {
    "develop": "develop",
    "rinse": "rinse",
    "stop": "stop",
    "bleach": "bleach",
    "dissolve": "dissolve",
    "clear": "clear",
    "expose": "reexpose",
    "fog": "fog",
    "develop again": "redevelop",
    "fix": "fix",
    "wash": "wash",
    "wet": "wet",
    "dry": "dry",
}
_DOES_OF = {kind: word for word, kind in DOES.items()}
# What a step takes where nothing is said: name, minutes, whether the film is still in the dark.
_USUAL: dict[str, tuple[str, float]] = {
    "develop": ("First development", 10),
    "rinse": ("Rinse", 0),
    "stop": ("Stop bath", 1),
    "bleach": ("Bleach", 5),
    "dissolve": ("Silver chloride out", 3),
    "clear": ("Clearing bath", 2),
    "reexpose": ("Second exposure", 2),
    "fog": ("Fogging development", 5),
    "redevelop": ("Second development", 4),
    "fix": ("Fixing", 4),
    "wash": ("Wash", 8),
    "wet": ("Wetting bath", 1),
    "dry": ("Drying", 90),
}
STEP_WORDS = (
    "does",
    "name",
    "bath",
    "time",
    "temperature",
    "agitation",
    "rinse",
    "light",
    "made",
    "after",
    "volume",
    "carry_over",
    "note",
)


def step_in_words(step: Step, names: Mapping[str, str]) -> dict[str, str]:
    """A step as the fields of a form, each as its reader reads it.

    Parameters
    ----------
    names : mapping of str to str
        Names of the steps of the process, by key.
    """
    bath = step.mix or step.formula or ""
    still = step.kind in ("reexpose", "dry") or (step.kind in ("wash", "rinse") and not bath)
    return {
        "does": _DOES_OF.get(step.kind, step.name if step.kind == "other" else step.kind),
        "name": step.name,
        "bath": bath,
        "time": tell_time(step) if step.time_min or step.time_most_min else "",
        "temperature": tell_temperature(step),
        "agitation": "" if still else tell_agitation(step.agitation),
        "rinse": tell_rinse(step.rinse_after),
        "light": step.light,
        "made": tell_made(step, names),
        "after": tell_after(step) if bath else "",
        "volume": f"{step.volume_ml:.12g} mL" if step.volume_ml else "",
        "carry_over": f"{step.carry_over_ml:.12g} mL" if step.carry_over_ml else "",
        "note": step.note,
    }


def step_from_words(
    words: Mapping[str, str], names: Mapping[str, str], known: Mapping[str, str], *, dark: bool
) -> tuple[dict[str, Any], dict[str, str]]:
    """Fields of a step from the fields of a form, and what is wrong, by field.

    Parameters
    ----------
    words : mapping of str to str
        By the names of `STEP_WORDS`; what is absent or empty is as is usual.
    names : mapping of str to str
        Names of the steps before it, by key.
    known : mapping of str to str
        Formulas that may be named: by key their names.
    dark : bool
        Whether the film is still in the dark, where nothing is said.
    """
    wrong: dict[str, str] = {}
    fields: dict[str, Any] = {}

    def said(name: str) -> str:
        return str(words.get(name, "")).strip()

    def take(name: str, read: Callable[[str], dict[str, Any]]) -> None:
        if not said(name):
            return
        try:
            fields.update(read(said(name)))
        except InputError as error:
            wrong[name] = error.sentence

    does = said("does")
    kind = DOES.get(does.lower(), does.lower() if does.lower() in _USUAL else "other")
    name, minutes = _USUAL.get(kind, (does, 1.0))
    if not does:
        wrong["does"] = "say what the step does, in a word of the list or your own."
    fields |= {"kind": kind, "name": said("name") or name or "Step", "time_min": minutes}
    take("time", read_time)
    take("temperature", read_temperature)
    take("agitation", lambda text: {"agitation": read_agitation(text)})
    take("rinse", lambda text: {"rinse_after": read_rinse(text)})
    take("made", lambda text: read_made(text, names))
    take("volume", lambda text: {"volume_ml": _millilitres(text, "volume")})
    take("carry_over", lambda text: {"carry_over_ml": _millilitres(text, "carry-over")})
    bath = said("bath")
    fields |= {"formula": None, "mix": ""}
    if bath.lower() not in ("", "none", "no bath", "water", "-"):
        by_name = {known_name.casefold(): key for key, known_name in known.items()}
        key = bath if bath in known else by_name.get(bath.casefold())
        fields |= {"formula": key} if key else {"mix": bath}
        fields.setdefault("after_use", "discard")
    take("after", read_after)
    light = said("light").lower()
    fields["light"] = light if light in ("dark", "light") else "dark" if dark else "light"
    if light not in ("", "dark", "light"):
        wrong["light"] = "say dark or light."
    fields["note"] = said("note")
    return fields, wrong


def _millilitres(text: str, where: str) -> float:
    return parse_number(re.sub(r"\s*ml$", "", text.strip(), flags=re.I), where=where, example="600 mL")
