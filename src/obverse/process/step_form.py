"""A step as the fields of a form: every field as it was typed, and what it comes to."""

from __future__ import annotations

import re
from collections.abc import Mapping

from pydantic import ValidationError

from obverse.foundation import InputError, regex
from obverse.process.own_words import is_only_water, understood
from obverse.process.process import Step, StepFields
from obverse.process.said import WATER_WORDS
from obverse.process.step_words import (
    FILLS_SAID,
    UNTIL_SAID,
    minutes_told,
    tell_after,
    tell_agitation,
    tell_made,
    tell_rinse,
    tell_temperature,
    tell_time,
)

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
# What stands behind the word of a step that is done once more.
_AGAIN = regex(r"\s+(?:again|once more|(?:for )?a second time)$")
# What of a form is read as the house tells it, or as the person puts it.
READ_WORDS = ("time", "temperature", "agitation", "rinse", "made", "volume", "carry_over", "after", "light")
# Longer than any sentence of a field.
MOST_SAID = 300
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

    Returns
    -------
    dict of str to str
        By the names of `STEP_WORDS`; empty where there is nothing to say.
    """
    bath = step.mix or step.formula or ""
    still = step.kind in ("reexpose", "dry") or (step.kind in ("wash", "rinse") and not bath)
    told = {
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
    return told | {name: words for name, words in step.said.items() if _still_said(step, name, words, names)}


def step_from_words(
    words: Mapping[str, str], names: Mapping[str, str], known: Mapping[str, str], *, dark: bool
) -> tuple[StepFields, dict[str, str]]:
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

    Returns
    -------
    tuple of dict
        Fields of a `Step` by name, and for each field of the form that cannot be read a sentence that says why.
    """
    wrong: dict[str, str] = {}
    fields: StepFields = {}

    def said(name: str) -> str:
        return str(words.get(name, "")).strip()

    does = said("does")
    word, kind = _kind_of(does)
    name, minutes = _USUAL.get(kind, (does, 1.0))
    if word != does.lower():
        name = does[:1].upper() + does[1:]
    if not does:
        wrong["does"] = "say what the step does, in a word of the list or your own."
    fields |= {"kind": kind, "name": said("name") or name or "Step", "time_min": minutes}
    bath = said("bath")
    fields |= {"formula": None, "mix": ""}
    if bath.lower() not in ("", "none", "no bath", "-") and not WATER_WORDS.match(bath):
        by_name = {known_name.casefold(): key for key, known_name in known.items()}
        key = bath if bath in known else by_name.get(bath.casefold())
        if key is None and kind in ("rinse", "wash", "stop") and is_only_water(bath):
            # Told in the place of its bath: how often, or how long.
            fields |= {} if said("rinse") else understood("rinse", bath, names)[0]
        elif key is not None or kind not in ("reexpose", "dry"):
            # What stands beside a light or a line to dry on is where and how; it goes along as it was said.
            fields |= {"formula": key} if key else {"mix": bath}
            fields.setdefault("after_use", "discard")
    # What is exposed or fogged for the second time stands in the light, and all that comes after it; and so does what dries.
    fields["light"] = "dark" if dark and kind not in ("reexpose", "fog", "dry") else "light"
    for field in READ_WORDS:
        if not said(field):
            continue
        try:
            # Of all figures the time of the first development alone is no one's to suppose.
            asked = field == "time" and kind == "develop"
            fields.update(understood(field, said(field), names, must_be_read=asked)[0])
        except InputError as error:
            # It stands beside its field and need not name it.
            wrong[field] = error.sentence.removeprefix(f"{error.where}: ")
    fields["said"] = _worth_keeping(fields, {name: said(name) for name in (*READ_WORDS, "bath") if said(name)}, names)
    fields["note"] = _told_of_the_house(said("note"), fields, said("time"), said("rinse"))
    return fields, wrong


def _worth_keeping(fields: StepFields, typed: Mapping[str, str], names: Mapping[str, str]) -> dict[str, str]:
    """Of what was typed, what the house would tell in other words."""
    try:
        step = Step.model_validate({**fields, "key": "step", "note": ""})
    except ValidationError:
        # What cannot be a step is told where it is read as one.
        return {}
    told = step_in_words(step, names)
    return {
        name: words[:MOST_SAID]
        for name, words in typed.items()
        if (name != "bath" or told[name] == "") and words != told[name]
    }


def _still_said(step: Step, name: str, words: str, names: Mapping[str, str]) -> bool:
    """Whether what was typed of a field still means what the step does."""
    if name == "bath":
        return not step.mix and not step.formula
    try:
        fields = understood(name, words, names)[0]
    except InputError:
        return False
    return all(getattr(step, field) == value for field, value in fields.items() if field != "waste_jug" or value)


def in_own_words(step: Step, names: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Fields of a step that were said in a person's own words, of which the house reckons with a part only.

    Parameters
    ----------
    names : mapping of str to str
        Names of the steps of the process, by key.

    Returns
    -------
    tuple of (str, str)
        The field and what was typed, in the order of `STEP_WORDS`.
    """
    return tuple(
        (name, step.said[name])
        for name in STEP_WORDS
        if name in step.said
        and name not in ("bath", "volume", "carry_over")
        and _still_said(step, name, step.said[name], names)
        and not understood(name, step.said[name], names)[1]
    )


def reading_of(step: Step, names: Mapping[str, str]) -> str:
    """What a person's own words of a step come to.

    Parameters
    ----------
    names : mapping of str to str
        Names of the steps of the process, by key.

    Returns
    -------
    str
        A sentence; empty where the house's forms say it whole.
    """
    told = step_in_words(step.model_copy(update={"said": {}}), names)
    read = [
        f"{name} {words!r} as {told[name] or 'the house would do it'}{' turns' if name == 'rinse' and told[name][-1:].isdigit() else ''}"
        if told[name].lower() not in words.lower()
        else ""
        for name, words in in_own_words(step, names)
    ]
    return "Reckoned: " + "; ".join(filter(None, read)) + "." if any(read) else ""


def _kind_of(does: str) -> tuple[str, str]:
    """The word of the list that is meant, and the kind of step."""
    plain = does.lower()
    again = _AGAIN.sub("", plain)
    word = plain if plain in DOES or again not in DOES else again
    if word not in DOES:
        word = next((known for pattern, known in _MEANT if pattern.fullmatch(plain)), word)
    return word, DOES.get(word, word if word in _USUAL else "other")


# Other words of the trade for what a step does; common usage, from memory.
_MEANT = tuple(
    (regex(pattern), word)
    for pattern, word in (
        (r"(?:first|1st|negative) dev\w*|fd|d1|d-1|developing|development", "develop"),
        (r"(?:second|2nd|positive) dev\w*|re-?develop\w*", "develop again"),
        (r"(?:second|2nd|re-?) ?expos\w*|flash\w*|re-?exposure|exposure|light exposure", "expose"),
        (r"(?:chemical )?fogging(?: dev\w*| bath)?", "fog"),
        (r"bleach(?:ing)?(?: bath)?(?: (?:[a-c]|[1-3]|one|two|first|second))?", "bleach"),
        (r"clear(?:ing)?(?: bath)?", "clear"),
        (r"fix(?:er|ing)?(?: bath)?", "fix"),
        (r"stop(?: bath)?", "stop"),
        (r"(?:final |last )?wash(?:ing)?", "wash"),
        (r"(?:water |acid )?rins(?:e|ing)(?: \d)?", "rinse"),
        (r"wetting agent|wetting bath", "wet"),
        (r"dry(?:ing)?|hang(?: up)?(?: to dry)?", "dry"),
    )
)


def _told_of_the_house(note: str, fields: StepFields, time: str, rinse: str) -> str:
    """The note with what the house put in where nothing was said, for as long as it stands."""
    sentences = []
    most, ends = fields.get("time_most_min"), UNTIL_SAID.match(time)
    if most is not None and ends:
        by_house = not ends["most"] and understood("time", ends["time"] or "0", {})[0].get("time_most_min") is None
        sentences.append((by_house, f"At most {minutes_told(most)} is the house's word: no longest time was said."))
    rinsed = fields.get("rinse_after")
    if rinsed is not None and rinsed.fills:
        by_house = bool(FILLS_SAID.search(rinse)) and not re.search(r"\d", FILLS_SAID.sub(" ", rinse.lower()))
        turns = ", ".join(map(str, rinsed.fills))
        sentences.append((by_house, f"The turns of the rinse ({turns}) are the house's: only fills were said."))
    bare = _OF_THE_HOUSE.sub("", note).strip()
    kept = [sentence for by_house, sentence in sentences if by_house or sentence in note]
    return " ".join(filter(None, (bare, *kept)))


_OF_THE_HOUSE = regex(
    r"\s*(?:At most [\d.]+ (?:min|s) is the house's word: no longest time was said\.|"
    r"The turns of the rinse \([\d, ]+\) are the house's: only fills were said\.)"
)
