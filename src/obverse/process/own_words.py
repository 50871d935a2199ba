"""What a person's words of a step come to where they are not in the forms the house tells: the words stand, a reading beside them.

Nothing that was said is dropped: it goes with the step, and what of it could be reckoned with is told.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Literal

from obverse.foundation import InputError, parse_number, regex, take_number
from obverse.process.as_written import minutes
from obverse.process.process import StepFields
from obverse.process.said import parse_amount
from obverse.process.step_words import (
    COLDEST_C,
    HOTTEST_C,
    MOST_FILLS,
    NUMBER_SAID,
    read_after,
    read_agitation,
    read_made,
    read_rinse,
    read_temperature,
    read_time,
)

_NUMBER_WORD = (
    r"\b(?:(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty)(?:\s+and\s+a\s+half)?"
    r"|half\s+an?|an?(?=\s+(?:half\s+)?(?:minute|second|hour)))\b"
    r"|\d+\s+\d/\d|\d+\s?[\N{VULGAR FRACTION ONE HALF}\N{VULGAR FRACTION ONE QUARTER}\N{VULGAR FRACTION THREE QUARTERS}]"
)
# What before a figure turns it round: such words are asked about and never guessed at.
_TURNED = regex(r"\b(?:not?|never|without|instead|rather|less\s+than|\w+n['\N{RIGHT SINGLE QUOTATION MARK}]t)\b")
_QUARTERS = {
    "a quarter of an hour": "15 min",
    "quarter of an hour": "15 min",
    "three quarters of an hour": "45 min",
    "overnight": "480 min",
}
_BOUND = regex(r"\b(?:no|not)\s+(?:less|more|longer|shorter)\s+than\b|\b(?:not\s+)?(?:under|over)\b")
_BY_EYE = regex(r"\b(?:complet|inspect|eye|watch|as\s+long|needed|usual|normal|full\s+time)\w*")
_UNIT = r"(?:min(?:ute)?s?|m|s(?:ec(?:ond)?s?)?|h(?:ours?)?|['\N{PRIME}\N{RIGHT SINGLE QUOTATION MARK}])(?![a-z])\.?"
_A_TIME = regex(
    rf"(?:\d+\s*(?:min\w*\.?|m|['\N{{PRIME}}])\s*\d+\s*(?:s(?:ec\w*)?\b|\"|''|\N{{DOUBLE PRIME}})|\d+:[0-5]\d(?:\s*min\w*)?|"
    rf"{NUMBER_SAID}\s*(?:\N{{PLUS-MINUS SIGN}}|\+\s*/?\s*-)\s*{NUMBER_SAID}\s*{_UNIT}|"
    rf"{NUMBER_SAID}(?:\s*(?:-|to|or|\N{{EN DASH}})\s*{NUMBER_SAID})?\s*{_UNIT})"
)
_TWO_SIDES = regex(r"\b(?:each|a|per|either|every)\s+side\b|\b(?:both|two)\s+sides\b|\ball\s+again\b")
_TIMES_OF_FILLS = regex(
    r"(?:[x\N{MULTIPLICATION SIGN}]\s*(?P<behind>\d+)|(?P<before>\d+)\s*(?:[x\N{MULTIPLICATION SIGN}](?![a-z])|times|fills?|changes?|portions?|trays?|baths?|waters?|buckets?|rinses?|plain|fresh))"
)
# A rinse told where its bath is asked for: water, vessels and how often, and nothing that is mixed into it.
_ONLY_WATER = regex(
    r"(?:water|waters|tap|hose|hosed|running|bucket|basin|sink|tray|jug|cold|warm|fresh|clean|plain|portion|part|fill|change|rinse|"
    r"times|x|of|in|with|from|under|the|then|a|and|or|til|till|until|bottom|top|cm3|ml|l|litre|min|sec|one|two|three|four|five|"
    r"six|eight|ten)s?"
)
# Ways of moving that go on all the time.
_ALWAYS = regex(
    r"\b(?:rotary|processor|drum|motor|rpm|swirl|mov|shuffl|see-?saw|rock|stir|constant|continu|rotat|roll)\w*|\ball the time\b"
)
_BARE_EVERY = regex(r"(?:[a-z]+\s+)?(?:every|each)\s+(?P<every>\d+\s*(?:s|sec\w*|min\w*))(?:\s+[a-z ]+)?$")
_MOVES = (
    r"\b(?:shak(?:e|en|ing)|turn(?:ed|ing)?(?!s)|invert(?:ed)?|lift(?:ed)?|drop(?:ped)?|dunk(?:ed)?|rotated?|swirl(?:ed)?|over|and|gentl[ey]|"
    r"top|twirl(?:ed)?|twist(?:ed)?|stick|agitat\w*|spiral|reels?|tank|tray|it|i|the|at|start|beginning|of|full|half\s+turn|shuffles?|strokes?|lifts?|about|more or less|"
    r"(?:almost|nearly)\s+continuous(?:ly)?|continuous(?:ly)?|roughly|around|circa|ca|up-down|up|down|or\s+so)\b"
)
_OF_WATER = regex(r"\b(?:un)?till?\b|\b(?:rins|water|well|short|brief|quick|fill|wash|yes|chang|run|clear)\w*")
_HARMLESS = regex(
    r"\b(?:destroy|neutral|vinegar|acidif|citric|bisulfate|made\s+harm)\w*|\b(?:old|spent|used)\s+(?:clear|sulfite)|"
    r"\b(?:until|till)\s+(?:it\s+(?:is|has)\s+|no\s+|without\s+)?(?:colou?r|smell)"
)
_POURED = regex(
    r"\b(?:drain|sink|toilet|gully|dump|pour|thrown?|throw|discard|tip|finish|exhaust|away|out|single\s+use|one[\s-]?shot|use[d]?\s+once)\w*"
)
_KEPT = regex(
    r"\b(?:keep|kept|back|bottle|jug|jar|canister|again|save[ds]?|stored?|next|reused?|regenerat\w*|replenish\w*)\b"
)
_ENDS_SO = regex(r"\bthen\s+(?:it\s+is\s+|they\s+are\s+)?(?:dump|finish|thrown?|discard|drain|away|pour)\w*")
_CARRIED_OFF = regex(
    r"\b(?:waste|collection|collected|depot|hazard\w*|council|city|recover\w*|disposal|chemical|steel\s+wool|precipitat\w*|evaporat\w*|recycl\w*)\b"
)
_DRAIN = regex(r"\b(?:drain|sink|toilet|gully|sewer)\b")
_LATER = regex(r"\b(?:after|once|when|later|until|till)\b")
_LIT = regex(r"\b(?:light|lights|lamp|lamps|day|daylight|room|kitchen|white|bright|open)\b")
_SAFELIGHT = regex(r"\b(?:red|green|amber|orange|safe|safelight|dim|dark|darkness|closed|lid)\b")


def _figures(text: str) -> str:
    """The words in lower case, numbers among them in figures."""

    def figure(match: re.Match[str]) -> str:
        taken = take_number(match[0], where="number")
        return match[0] if taken is None else f"{taken[0].interval.best:g}"

    return re.sub(_NUMBER_WORD, figure, " ".join(text.lower().split()))


def _turned_round(before: str) -> bool:
    return bool(_TURNED.search(re.split(r"[,;.]", before)[-1]))


def _one_time(text: str) -> tuple[float, float | None]:
    if give := re.match(rf"({NUMBER_SAID})\s*(?:\N{{PLUS-MINUS SIGN}}|\+\s*/?\s*-)\s*({NUMBER_SAID})\s*(.*)$", text):
        middle, half = (_one_time(f"{part} {give[3]}")[0] for part in give.groups()[:2])
        return max(0.0, middle - half), middle + half
    if re.search(r"\d\s*(?:min\w*\.?|m|['\N{PRIME}])\s*\d", text) and (both := minutes(text, "min")) is not None:
        return both, None
    text = re.sub(r"\b(\d*)\s*secs?\b\.?", r"\1 s", re.sub(r"(?<=\d)\s*mins?\b\.?", " min", text))
    plain = re.sub(r"\s*(?:or|to|\N{EN DASH})\s*", "-", text.rstrip("."))
    read = read_time(re.sub(r"^(\d+:\d\d).*", r"\1", plain))
    return float(read["time_min"]), read["time_most_min"]


def _time(text: str) -> StepFields | None:
    plain = _BOUND.sub(" ", " ".join(text.lower().split()))
    for words, figure in _QUARTERS.items():
        plain = re.sub(rf"\b{words}\b", figure, plain)
    said = _figures(plain)
    if counted := re.search(r"\bcount(?:ing|ed)?\s+(?:up\s+)?to\s+(\d+)", said):
        # Counted aloud, a second each.
        return read_time(f"{counted[1]} s")
    found = [match for match in _A_TIME.finditer(said) if not _turned_round(said[: match.start()])]
    if not found:
        bare = re.match(rf"({NUMBER_SAID})\b(?!\s*(?:turns?|times|x|c\b|f\b|ml|g\b))", said)
        if bare:
            return {"time_min": parse_number(bare[1], where="time"), "time_most_min": None, "until": ""}
        # By the eye alone: as long as is usual for such a step.
        return {} if _BY_EYE.search(said) else None
    low, high = _one_time(found[0][0])
    if times := re.search(r"(\d)\s*[x\N{MULTIPLICATION SIGN}]\s*$", said[: found[0].start()]):
        low, high = int(times[1]) * low, None if high is None else int(times[1]) * high
    sides = re.search(r"\bfront\b.*\bback\b|\bback\b.*\bfront\b", said)
    if sides and len(found) > 1:
        low, high = low + _one_time(found[1][0])[0], None
    elif sides or _TWO_SIDES.search(said):
        low, high = 2 * low, None if high is None else 2 * high
    until = re.search(r"\b(?:un)?till?\s+(?:it\s+is\s+|it\s+)?(?P<what>[^,;()]+)", said)
    what = until["what"].strip()[:80] if until else ""
    if what and high is None:
        return read_time(f"{low * 60:.12g} s until {what}")
    return {"time_min": low, "time_most_min": high, "until": what}


def _temperature(text: str) -> StepFields | None:
    said = _figures(text).replace("degrees", "").replace("\N{DEGREE SIGN}", " ")
    numbers = [parse_number(found, where="temperature") for found in re.findall(NUMBER_SAID, said)]
    if not numbers:
        # "Hand warm", "as the room is": there is no figure to hold it to.
        return {}
    spread = re.search(
        rf"({NUMBER_SAID})\s*[cf]?\s*(?:give or take|\N{{PLUS-MINUS SIGN}}|\+\s*/?\s*-)\s*({NUMBER_SAID})", said
    )
    if spread:
        middle, half = (parse_number(part, where="temperature") for part in spread.groups())
        low, high = middle - half, middle + half
    else:
        low, high = min(numbers[:2]), max(numbers[:2])
    fahrenheit = re.search(r"\d\s*f\b", said) or high > HOTTEST_C
    unit = "F" if fahrenheit else "C"
    read = read_temperature(f"{low:g} {unit}" if low == high else f"{low:g}-{high:g} {unit}")
    within = COLDEST_C <= read["temperature_low_c"] and read["temperature_high_c"] <= HOTTEST_C
    return read if within else None


def _agitation(text: str) -> StepFields | None:
    said = re.sub(r"\b(sec|min)\.", r"\1", _figures(text))
    if re.match(r"(?:none|not at all|stand|still|no agitation)\b", said):
        return {"agitation": read_agitation("none")}
    if _TURNED.search(said):
        return None
    if "rpm" in said or "processor" in said:
        return {"agitation": read_agitation("all the time")}
    if every := _BARE_EVERY.match(said):
        return {"agitation": read_agitation(f"1 turn every {every['every']}")}
    said = re.sub(r"\b(?:constant|continuous)(?:ly)?\s+(?:for\s+)?(?:the\s+)?first\s+min(?:ute)?", "first 60 s", said)
    said = re.sub(
        rf"({NUMBER_SAID})\s*x?\s*(?:/|a|per)\s*min\w*\s+(?:the\s+)?first\s+min\w*",
        r"\1 turns in the first minute",
        said,
    )
    said = said.replace("all time", "all the time")
    bare = " ".join(re.sub(_MOVES, " ", said).replace("times", " turns").split()).strip(" ,")
    bare = re.sub(r"\bin (?=\d+ s)", "every ", bare)
    bare = re.sub(r"^(?P<first>\d+) min (?P<rest>.*)$", r"\g<first> \g<rest>", bare)
    for words in (bare, f"{bare} turns"):
        try:
            if re.search(r"\d|once|twice", words):
                return {"agitation": read_agitation(words)}
        except InputError:
            continue
    # "All the time, a stroke in 4 s": how fast is beside the point; "the first minute all the time, then 4" is another thing.
    always = re.search(r"\ball the time\b", said) and not re.search(r"\b(?:first|then)\b", said)
    if always or (not re.search(r"\d", said) and _ALWAYS.search(said)):
        return {"agitation": read_agitation("all the time")}
    return {}


def _rinse(text: str) -> StepFields | None:
    said = _figures(text)
    acid = (
        ", acidified" if re.search(r"\b(?:acid|citric|vinegar)", said) and not re.search(r"\bno\b.*acid", said) else ""
    )
    plain = re.sub(r"\bno\s+[a-z ]*(?:acid|stop)\w*(?:\s+stop)?", " ", said)
    count = _TIMES_OF_FILLS.search(plain)
    if count and not _turned_round(plain[: count.start()]):
        fills = int(count["behind"] or count["before"])
        return {"rinse_after": read_rinse(f"{fills} fills{acid}")} if 0 < fills <= MOST_FILLS else None
    timed = _A_TIME.search(plain)
    if timed and not _turned_round(re.split(r"\b(?:un)?till?\b", plain[: timed.start()])[0]):
        low, high = _one_time(timed[0])
        return {"rinse_after": read_rinse(f"running water {(high or low) * 60:.12g} s{acid}")}
    open_end = re.split(r"\b(?:un)?till?\b", plain)[0]
    if re.search(r"\d", plain) or _TURNED.search(open_end):
        return None
    if not _OF_WATER.search(plain):
        return None
    # "Until it runs clear", "well": no number is said, and three fills are what the house would do.
    return {"rinse_after": read_rinse(f"3 fills{acid}")}


def _after(text: str) -> StepFields | None:
    said = " ".join(text.lower().split())
    clauses = [part.strip() for part in re.split(r"[,;.:?!]|\bbut\b", said) if part.strip()]
    forbidden = " ".join(part for part in clauses if _TURNED.search(part))
    allowed = ", ".join(kept for part in clauses if (kept := _TURNED.split(part)[0].strip()))
    if _HARMLESS.search(said) and not _TURNED.search(said[: _HARMLESS.search(said).start()]):  # type: ignore[union-attr]
        return {"after_use": "destroy", "waste_jug": ""}
    if _KEPT.search(allowed) and not (_ENDS_SO.search(allowed) and not re.search(r"\bnext|bottle|jug|jar\b", allowed)):
        return {"after_use": "keep", "waste_jug": ""}
    if _POURED.search(allowed) and not _DRAIN.search(forbidden) and not _CARRIED_OFF.search(said):
        return {"after_use": "discard", "waste_jug": ""}
    if _DRAIN.search(forbidden) or _CARRIED_OFF.search(said):
        return {"after_use": "waste", "waste_jug": "F"}
    # Where its chemistry belongs, as of a bath of which nothing was said.
    return {}


def _light(text: str) -> StepFields:
    begin = re.split(r"[,;]", text.lower())[0]
    lit = _LIT.search(begin) and not _SAFELIGHT.search(begin) and not _LATER.search(begin) and not _TURNED.search(begin)
    # What is not plainly light is dark: a film that stays covered loses nothing.
    return {"light": "light" if lit else "dark"}


_Ml = Literal["volume_ml", "carry_over_ml"]


def _ml_as(name: _Ml, ml: float) -> StepFields:
    return {"volume_ml": ml} if name == "volume_ml" else {"carry_over_ml": ml}


def _volume_as(name: _Ml) -> Callable[[str], StepFields | None]:
    def read(text: str) -> StepFields | None:
        try:
            amount = parse_amount(text, unit="ml", where=name)
        except InputError:
            # "Enough to cover", "little": no figure to hold it to.
            return None if re.search(r"\d", text) else {}
        return _ml_as(name, amount.best) if amount.quantity == "volume" and amount.best > 0 else None

    return read


def _made(text: str, names: Mapping[str, str]) -> StepFields | None:
    said = text.lower()
    during = re.search(
        r"\b(?P<how>while|during|when)\s+(?:the\s+)?(?P<step>.+?)\s*(?:\b(?:works?|runs?|goes|is|does)\b|[,;.]|$)", said
    )
    if during:
        words = set(re.findall(r"\w+", during["step"]))
        for key, name in reversed(tuple(names.items())):
            if words <= set(re.findall(r"\w+", name.lower())):
                return {"made": "during", "made_during": key}
        if during["how"] == "while":
            # The step beside which it is made is not there.
            return None
    if re.search(r"\b(?:fresh|just|last\s+moment|right\s+before|at\s+once)\b", said):
        return {"made": "just_before", "made_during": ""}
    if re.search(r"\b(?:day|night|week|evening|morning|hour|stock|advance|ahead|before)\b", said):
        return {"made": "ahead", "made_during": ""}
    return {}


_READERS: dict[str, Callable[[str], StepFields | None]] = {
    "time": _time,
    "temperature": _temperature,
    "agitation": _agitation,
    "rinse": _rinse,
    "after": _after,
    "light": _light,
    "volume": _volume_as("volume_ml"),
    "carry_over": _volume_as("carry_over_ml"),
}


def is_only_water(text: str) -> bool:
    """Whether words of a bath tell a rinse: water, vessels, how often, and nothing that is mixed into it."""
    words = re.findall(r"[^\W\d_]+\d?", re.split(r"\b(?:un)?till?\b", _figures(text))[0])
    return bool(words) and all(_ONLY_WATER.fullmatch(word) for word in words)


def heard(name: str, text: str) -> StepFields | None:
    """Fields of a step from words that are in none of the house's forms.

    Parameters
    ----------
    name : str
        Of the field of the form, as in `STEP_WORDS`.
    text : str
        What was typed.

    Returns
    -------
    dict or None
        Empty where nothing of it can be reckoned with and it goes along as words; None where it says something that
        was not understood.
    """
    reader = _READERS.get(name)
    try:
        return None if reader is None else reader(text)
    except InputError:
        return None


# What the house does where nothing of the words could be read: they stand beside it, and it is told. A rinse that was
# meant stays a rinse.
_HOUSE_INSTEAD: dict[str, Callable[[], StepFields]] = {
    "time": StepFields,
    "temperature": StepFields,
    "agitation": StepFields,
    "rinse": lambda: {"rinse_after": read_rinse("3 fills")},
}


def understood(
    name: str, text: str, names: Mapping[str, str], *, must_be_read: bool = False
) -> tuple[StepFields, bool]:
    """Fields of a step from words in the house's forms or a person's own, and whether they were in the house's.

    Parameters
    ----------
    names : mapping of str to str
        Names of the steps before it, by key.
    must_be_read : bool
        Whether nothing may stand in the place of what cannot be read.

    Raises
    ------
    InputError
        With how it could be written, where the words must be asked about.
    """
    # "Every 30 s" counts turns and not seconds.
    bare = name == "agitation" and _BARE_EVERY.match(_figures(text))
    try:
        if bare:
            raise InputError("no count of turns is said", where=name)
        return _STRICT[name](text, names), True
    except InputError:
        fields = _made(text, names) if name == "made" else heard(name, text)
        if fields is not None:
            return fields, False
        # What is turned round ("not 6 min") says what it is not: nothing may be put in its place.
        if must_be_read or name not in _HOUSE_INSTEAD or _TURNED.search(text.lower()):
            raise
        return _HOUSE_INSTEAD[name](), False


def _plain_light(text: str) -> StepFields:
    if text.strip().lower() not in ("dark", "light"):
        raise InputError("say dark or light", where="light")
    return {"light": text.strip().lower()}


def _plain_ml(name: _Ml) -> Callable[[str, Mapping[str, str]], StepFields]:
    def read(text: str, names: Mapping[str, str]) -> StepFields:
        plain = re.sub(r"\s*ml$", "", text.strip(), flags=re.I)
        return _ml_as(name, parse_number(plain, where=name.replace("_ml", "").replace("_", "-"), example="600 mL"))

    return read


_STRICT: dict[str, Callable[[str, Mapping[str, str]], StepFields]] = {
    "time": lambda text, names: read_time(text),
    "temperature": lambda text, names: read_temperature(text),
    "agitation": lambda text, names: {"agitation": read_agitation(text)},
    "rinse": lambda text, names: {"rinse_after": read_rinse(text)},
    "after": lambda text, names: read_after(text),
    "made": read_made,
    "light": lambda text, names: _plain_light(text),
    "volume": _plain_ml("volume_ml"),
    "carry_over": _plain_ml("carry_over_ml"),
}
