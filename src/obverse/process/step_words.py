"""A step as people say it: "11 min", "15 s in every minute", "three fills: 5, 10, 20 turns", "waste jug F".

Each way of saying has a reader and a teller; what the teller says the reader reads back.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from obverse.foundation import InputError, parse_number, regex, unit_named
from obverse.process.process import Agitation, Renewal, Rhythm, Rinse, Step, StepFields
from obverse.process.said import parse_amount

NUMBER_SAID = r"\d+(?:[.,]\d+)?"
_TO = r"\s*(?:-|to|\N{EN DASH}|\N{HORIZONTAL ELLIPSIS}|\.\.)\s*"
# A bath is within these, as a step holds them.
COLDEST_C, HOTTEST_C = 0.0, 60.0
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
_TIME = regex(
    rf"^(?:({NUMBER_SAID})(?:{_TO}({NUMBER_SAID}))?)\s*(min|minutes?|m|s|sec|seconds?|h|hours?|['\N{{PRIME}}\N{{RIGHT SINGLE QUOTATION MARK}}]|)\.?$",
    re.I,
)
_CLOCK = regex(r"^(\d{1,3}):([0-5]\d)$")
UNTIL_SAID = regex(
    r"^(?P<time>.*?)[\s,;]*\b(?:or\s+)?(?:un)?till?\s+(?:it\s+is\s+)?(?P<what>[^,;]+?)(?:[,;]?\s*(?:at\s+most|no\s+longer\s+than|up\s+to)\s+(?P<most>.+))?$",
    re.I,
)
# What ends by the eye and was given no limit is looked at for as long as this; ours.
LONGEST_LOOK_MIN = 20.0
# Words of the way a bath, a tank or a rinse is told that change nothing of what is done.
_HARMLESS = (
    "a an and the of then with for in into at each every per by it is was to or turns turn inversions inversion times"
    " minute minutes min gently slowly slow end over tank film reel water waters tap fresh clean plain cold fill fills"
    " change changes rinse twice doubled doubling double many much as one before after that acidified acid soured"
)
_BESIDE = frozenset(_HARMLESS.split())
# What says that a bath goes down the drain, and nothing else.
_DRAINING = (
    "pour poured goes go it is down the to into in drain sink away discard discarded throw thrown out with water plenty"
    " lots of much running cold tap and flush flushed then used bath toilet"
)
_DRAIN_ONLY = frozenset(_DRAINING.split())
# What turns the words behind it round, up to the next comma.
_NOT = regex(
    r"\b(?:not?|never|nor|neither|without|cannot|avoid|instead\s+of|rather\s+than|\w+n['\N{RIGHT SINGLE QUOTATION MARK}]t|dont)\b"
)
NO_RINSE = ("", "none", "no", "no rinse", "-")
AFTER_WORDS = {"keep": "back to its jug", "discard": "drain", "destroy": "destroy"}
MADE_WORDS = {"": "", "ahead": "ahead", "just_before": "just before"}


def read_time(text: str, *, where: str = "time") -> StepFields:
    """Fields of a step from "6 min", "5-8 min", "90 s", "1:30", "3 min until clear, at most 8 min".

    Parameters
    ----------
    text : str
        As a person says it.
    where : str
        The field, for the error.

    Returns
    -------
    dict
        ``time_min``, ``time_most_min`` and ``until`` of a `Step`.

    Raises
    ------
    InputError
        With how it could be written.
    """
    said = text.strip()
    if match := UNTIL_SAID.match(said):
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
    low = parse_number(match[1], where=where) * each
    high = parse_number(match[2], where=where) * each if match[2] else None
    return {"time_min": low, "time_most_min": high, "until": ""}


def tell_time(step: Step) -> str:
    """The time of a step, as `read_time` reads it.

    Returns
    -------
    str
        Such as ``"6 min"`` or ``"3 min until clear, at most 8 min"``.
    """
    most = "" if step.time_most_min is None else minutes_told(step.time_most_min)
    if step.until:
        begin = f"{minutes_told(step.time_min)} " if step.time_min else ""
        return f"{begin}until {step.until}, at most {most or minutes_told(step.time_min)}"
    if step.time_most_min is not None:
        return f"{step.time_min:.12g}-{step.time_most_min:.12g} min"
    return minutes_told(step.time_min)


def minutes_told(time_min: float) -> str:
    """Minutes where they are whole or half ones, else seconds."""
    # Half minutes are told as they are; what is not is told in seconds.
    if abs(time_min * 2 - round(time_min * 2)) < 1e-9:
        return f"{time_min:.12g} min"
    return f"{time_min * 60:.12g} s"


def read_temperature(text: str, *, where: str = "temperature") -> StepFields:
    """Fields of a step from "20 C", "18-24", "68 F"; one number stands for itself and a degree to either side."""
    match = re.match(
        rf"^({NUMBER_SAID})\s*(?:\N{{DEGREE SIGN}}?\s*[CF])?(?:{_TO}({NUMBER_SAID}))?\s*\N{{DEGREE SIGN}}?\s*([CF]?)$",
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


_WRITE_AGITATION = "write it like first 30 s, then 4 turns every minute; or all the time"
_WRITE_RINSE = (
    "write the turns of each fill, such as 5, 10, 20; or running water 5 min; or 5, 10, running water 3 min; or none"
)


def _nothing_left(rest: str, text: str, *, where: str, remedy: str) -> None:
    """Ask about what was not understood, instead of dropping it."""
    left = [word for word in re.findall(r"[^\s,;:.()/]+", rest) if word not in _BESIDE]
    if left:
        raise InputError(f"{' '.join(left)!r} in {text.strip()!r} was not understood", where=where, remedy=remedy)


_BOUT = rf"(?P<count>{NUMBER_SAID})\s*(?P<what>s(?:ec\w*)?|turns?|inversions?|times|x)"
_SPAN = rf"(?:(?P<for>{NUMBER_SAID})\s*)?(?P<unit>min\w*|s(?:ec\w*)?)\b"
# "5 turns in the first minute", "4 turns every 30 s for the first 3 min": each behind the other, before the rhythm that stays.
_BEFORE = tuple(
    regex(pattern, re.I)
    for pattern in (
        rf"{_BOUT}\s+(?:in|during)\s+(?:the\s+)?(?:first|next)\s+{_SPAN}",
        rf"{_BOUT}\s+every\s+(?:(?P<every>{NUMBER_SAID})\s*)?(?P<each>min\w*|s(?:ec\w*)?)\s+for\s+(?:the\s+)?(?:first|next)\s+{_SPAN}",
    )
)


def _take_rhythm(said: str, where: str) -> tuple[Rhythm | None, str]:
    """A rhythm with which the words begin and what is behind it; None where they begin otherwise."""
    for pattern in _BEFORE:
        match = pattern.match(said)
        if match is None:
            continue
        parts = match.groupdict()
        for_s = _span_s(parts["for"], parts["unit"], where)
        every_s = _span_s(parts["every"], parts["each"], where) if parts.get("each") else for_s
        count = parse_number(parts["count"], where=where)
        moved = parts["what"].startswith("s")
        if moved or count == round(count):
            rhythm = Rhythm(
                for_s=for_s, every_s=every_s, inversions=0 if moved else int(count), seconds=count if moved else 0
            )
            return rhythm, re.sub(r"^[\s,;]*(?:and\s+)?(?:then|after that|afterwards)?[\s,:]*", "", said[match.end() :])
    return None, said


def _span_s(count: str | None, unit: str, where: str) -> float:
    return (parse_number(count, where=where) if count else 1.0) * (60 if unit.startswith("m") else 1)


def _tell_rhythm(rhythm: Rhythm, ordinal: str) -> str:
    what = _times_told(rhythm.inversions, rhythm.seconds)
    span = "minute" if rhythm.for_s == SECONDS["m"] else f"{rhythm.for_s:.12g} s"
    if rhythm.every_s == rhythm.for_s:
        return f"{what} in the {ordinal} {span}"
    return f"{what} {_every_told(rhythm.every_s)} for the {ordinal} {span}"


def _times_told(inversions: int, seconds: float) -> str:
    if inversions:
        return f"{inversions} turn{'' if inversions == 1 else 's'}"
    return f"{seconds:.12g} s"


def _every_told(every_s: float) -> str:
    return "every minute" if every_s == SECONDS["m"] else f"every {every_s:.12g} s"


def read_agitation(text: str, *, where: str = "agitation") -> Agitation:
    """Agitation from "first 30 s, then 4 turns every minute", "15 s in every minute", "all the time", "none"."""
    said = " ".join(text.lower().split())
    if said in ("none", "no", "not at all", "stand", "still"):
        return Agitation(initial_s=0, inversions=0, seconds=0)
    if re.search(r"all the time|constant|continuous|without a pause|always", said):
        if mixed := re.search(r"\bfirst\b.*|\bthen\b.*|\d.*", said):
            raise InputError(
                f"{mixed[0]!r} in {text.strip()!r} was not understood", where=where, remedy=_WRITE_AGITATION
            )
        return Agitation(constant=True)
    rhythms = []
    while (taken := _take_rhythm(said, where))[0] is not None:
        rhythms.append(taken[0])
        said = taken[1]
    before = tuple(rhythms)
    if before and not said:
        return Agitation(initial_s=0, inversions=0, seconds=0, before=before)
    if before and re.match(rf"^{NUMBER_SAID}\s*(?:turns?|inversions?|times|x|s(?:ec\w*)?)?$", said):
        # "Five in the first minute, then three": in every minute, as the first was counted.
        said = f"{said} every minute"
    first = re.search(rf"first\s+({NUMBER_SAID}|half)\s*(s(?:ec(?:onds?)?)?\b|min(?:utes?)?\b)?", said)
    initial_s = 0.0
    if first:
        value = 0.5 if first[1] == "half" else parse_number(first[1], where=where)
        initial_s = value * (60 if (first[2] or "s").startswith("m") else 1)
        said = said[: first.start()] + said[first.end() :]
    bout = re.search(
        rf"({NUMBER_SAID}|once|twice)\s*(s(?:ec(?:onds?)?)?\b|turns?|inversions?|times|x\b|)\s*(?:,|/|\s)*{_EVERY}?\s*(?:({NUMBER_SAID})\s*)?(half minute|min(?:ute)?s?\b|s(?:ec(?:onds?)?)?\b)?",
        said,
    )
    if bout is None:
        if first is None:
            raise InputError(
                f"{text.strip()!r} does not say how the tank is moved",
                where=where,
                remedy=_WRITE_AGITATION,
            )
        _nothing_left(said, text, where=where, remedy=_WRITE_AGITATION)
        return Agitation(initial_s=initial_s, inversions=0, seconds=0, before=before)
    _nothing_left(said[: bout.start()] + " " + said[bout.end() :], text, where=where, remedy=_WRITE_AGITATION)
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
        before=before,
    )


def tell_agitation(agitation: Agitation) -> str:
    """Agitation as `read_agitation` reads it.

    Returns
    -------
    str
        Such as ``"first 30 s, then 4 turns every minute"``, ``"all the time"`` or ``"none"``.
    """
    if agitation.constant:
        return "all the time"
    what = _times_told(agitation.inversions, agitation.seconds) if agitation.inversions or agitation.seconds else ""
    every = _every_told(agitation.every_s)
    before = (_tell_rhythm(one, "next" if place else "first") for place, one in enumerate(agitation.before))
    first = f"first {agitation.initial_s:.12g} s" if agitation.initial_s else ""
    return ", then ".join(part for part in (*before, first, f"{what} {every}" if what else "") if part) or "none"


_FLOW = r"(?:running|hose[ds]?|tap|stream|flowing)(?:\s+water)?"
_FOR = rf"{NUMBER_SAID}\s*(?:min(?:utes?)?\b|m\b|s(?:ec(?:onds?)?)?\b|['\N{{PRIME}}\N{{RIGHT SINGLE QUOTATION MARK}}])"
_RUNNING = regex(
    rf"{_FLOW}[\s,:]*(?:for\s+)?(?P<behind>{_FOR})|(?P<before>{_FOR})\s+(?:(?:of|in|under|with|the|a)\s+)*{_FLOW}", re.I
)
_TIMED = regex(_FOR, re.I)
FILLS_SAID = regex(r"(\d+|one|two|three|four|five|six)\s+(?:fills?|changes?|buckets?|trays?)", re.I)
_EACH = regex(rf"(?:each\s+|of\s+)({_FOR})|({_FOR})\s+each\b", re.I)


def read_rinse(text: str, *, where: str = "rinse") -> Rinse | None:
    """A rinse from "3 fills: 5, 10, 20 turns", "5 10 20", "5, 10, 20 acidified", "running water 5 min", "none".

    A number of fills alone takes five turns for the first and, of few, twice as many for each after it.
    """
    said = " ".join(text.lower().split())
    if said in NO_RINSE:
        return None
    parts = [part.strip() for part in said.split(",")]
    if len(parts) > 1 and len(set(parts)) == 1 and re.fullmatch(_FOR, parts[0]):
        # "2 min, 2 min, 2 min": so many fills by the clock.
        said = f"{len(parts)} fills, {parts[0]} each"
    acidified = bool(re.search(r"\bacid", said))
    volume = re.search(rf"(?:of|each|in)\s+({NUMBER_SAID})\s*ml", said)
    if volume:
        said = said.replace(volume[0], "")
    running = _RUNNING.search(said)
    running_min = read_time(running["behind"] or running["before"], where=where)["time_min"] if running else 0.0
    if running:
        said = said.replace(running[0], " ")
    vessel = next((word for word in ("bucket", "tray") if word in said), "")
    each = _EACH.search(said) if FILLS_SAID.search(said) or re.search(r"\d\s*,", said) else None
    fill_s = 60 * read_time(each[1] or each[2], where=where)["time_min"] if each else None
    if each:
        said = said.replace(each[0], " ")
    if timed := _TIMED.search(said):
        raise InputError(
            f"{timed[0].strip()!r} in {text.strip()!r} is a time, and a fill is counted in turns",
            where=where,
            remedy=_WRITE_RINSE,
        )
    count = FILLS_SAID.search(said)
    doubled = re.search(r"twice|doubl", said)
    turned = said.replace(count[0], " ") if count else said
    numbers = [int(n) for n in re.findall(r"\d+", turned)]
    _nothing_left(re.sub(r"\b\d+\b", " ", turned), text, where=where, remedy=_WRITE_RINSE)
    fills = tuple(numbers)
    if count:
        fill_count = _COUNTS.index(count[1]) if count[1] in _COUNTS else int(count[1])
        if not numbers and fill_s is not None and fill_count <= MOST_FILLS:
            fills = (0,) * fill_count
        elif len(numbers) <= 1 and fill_count <= MOST_FILLS:
            first = numbers[0] if numbers else FIRST_TURNS
            twice = doubled or (not numbers and not vessel and fill_count <= FEW_FILLS)
            fills = tuple(first * 2**n for n in range(fill_count)) if twice else (first,) * fill_count
    if len(fills) > MOST_FILLS or any(turns > MOST_TURNS for turns in fills):
        raise InputError(
            f"{text.strip()!r} is no rinse", where=where, remedy="give at most 12 fills of up to 200 turns"
        )
    if not fills and not running:
        raise InputError(
            f"{text.strip()!r} is no rinse",
            where=where,
            remedy=_WRITE_RINSE,
        )
    return Rinse(
        fills=fills,
        running_water_min=running_min,
        acidified=acidified,
        fill_s=fill_s,
        vessel=vessel,
        fill_volume_ml=parse_number(volume[1], where=where) if volume else None,
    )


def tell_rinse(rinse: Rinse | None) -> str:
    """A rinse as `read_rinse` reads it."""
    if rinse is None:
        return "none"
    fills = ", ".join(map(str, rinse.fills))
    if rinse.fills and (rinse.vessel or (rinse.fill_s is not None and not any(rinse.fills))):
        word = rinse.vessel or "fill"
        turns = f": {fills} turns" if any(rinse.fills) or rinse.fill_s is None else ""
        fills = f"{len(rinse.fills)} {word}{'' if len(rinse.fills) == 1 else 's'}{turns}"
    each = "" if rinse.fill_s is None else f"{rinse.fill_s:.12g} s each"
    running = f"running water {rinse.running_water_min:.12g} min" if rinse.running_water_min else ""
    volume = f"each {rinse.fill_volume_ml:.12g} mL" if rinse.fill_volume_ml else ""
    told = ", ".join(part for part in (fills, each, running, volume) if part)
    return (told or "none") + (", acidified" if rinse.acidified else "")


_GOOD_FOR = regex(
    rf"[,;]?\s*(?:it\s+is\s+)?(?:good|used|enough|kept|lasts?)\s+(?:for|up\s+to)\s+(?:about\s+)?(?P<films>{NUMBER_SAID})\s+(?:films?|rolls?|strips?|reels?)"
)


_TOP_UP = r"(?:topped\s+up|top(?:ped)?\s+it\s+up|top\s+up|replenish(?:ed|ing)?|refreshed|freshened)"
_SO_MUCH = rf"(?P<amount>{NUMBER_SAID}\s*(?:ml|cc|l|lit(?:re|er)s?|(?:us\s+|imperial\s+)?fl\.?\s?oz)\b)"
_OF_WHAT = r"(?:\s*(?:of\s+)?(?:the\s+)?(?P<what>(?!per\b|for\b|after\b|each\b|a\b)[a-z][a-z0-9 %-]*?))?"
_PER = r"\s*(?:/|per\b|a\b|each\b|(?:for|after|with)\s+(?:each|every)\b)\s*(?P<per>film|roll|reel|strip|m2|m\N{SUPERSCRIPT TWO}|square\s+met(?:re|er))s?\b"
_TOPPED_UP = tuple(
    regex(pattern)
    for pattern in (
        rf"[,;]?\s*(?:and\s+)?(?:it\s+is\s+)?{_TOP_UP}\s*(?:with|by)?\s*{_SO_MUCH}{_OF_WHAT}{_PER}",
        rf"[,;]?\s*(?:and\s+)?{_SO_MUCH}{_OF_WHAT}{_PER}\s*(?:is\s+|are\s+)?(?:{_TOP_UP}|added|to\s+top\s+(?:it\s+)?up)",
    )
)
_RESTORED = regex(
    rf"[,;]?\s*(?:and\s+)?(?:it\s+is\s+)?(?:re-?generat\w*|restor\w*|revived?|brought\s+back|re-?oxidi[sz]ed)\s+(?:with|by)\s+(?P<what>[^,;]+?)"
    rf"(?:(?:[,;]?\s*(?:and\s+)?(?:then|after(?:wards|\s+that)?)?\s*(?:is\s+)?good\s+for|\s+for)\s+(?:about\s+)?(?P<films>{NUMBER_SAID})\s+(?:more\s+|another\s+|further\s+)?(?:films?|rolls?|strips?|reels?))?"
    r"(?=[,;]|\.\s|\.?$)"
)
_FRESH = ("fresh bath", "fresh", "the same", "same", "bath")


def _take_renewal(whole: str, where: str) -> tuple[Renewal | None, str]:
    """How a bath is topped up and restored, and the text without it."""
    found: dict[str, str | float] = {}
    for pattern in _TOPPED_UP:
        if match := pattern.search(whole):
            whole = whole[: match.start()] + whole[match.end() :]
            what = (match["what"] or "").strip()
            found |= {
                "top_up_ml": parse_amount(match["amount"], where=where).best,
                "per": "m2" if match["per"].startswith(("m", "sq")) else "film",
                "top_up_with": "" if what in _FRESH else what[:80],
            }
            break
    if match := _RESTORED.search(whole):
        whole = whole[: match.start()] + whole[match.end() :]
        found["restored_with"] = match["what"].strip()[:80]
        if match["films"]:
            found["restored_films"] = parse_number(match["films"], where=where)
    return (Renewal.model_validate(found) if found else None), whole.strip(" ,;.")


def renewal_told(renewal: Renewal) -> str:
    """How a bath is topped up and restored.

    Returns
    -------
    str
        Such as ``"topped up with 20 mL of fresh bath per film, restored with peroxide for 8 films"``.
    """
    told = []
    if renewal.top_up_ml is not None:
        told.append(
            f"topped up with {renewal.top_up_ml:.12g} mL of {renewal.top_up_with or 'fresh bath'} per {renewal.per}"
        )
    if renewal.restored_with:
        films = renewal.restored_films
        told.append(
            f"restored with {renewal.restored_with}"
            + (f" for {films:.12g} film{'' if films == 1 else 's'}" if films else "")
        )
    return ", ".join(told)


def read_after(text: str, *, where: str = "after") -> StepFields:
    """Where a used bath goes, from "back to its jug", "waste jug F", "drain", "destroy", "destroy, jug G"."""
    whole = " ".join(text.lower().split())
    if whole in ("", "-", "none"):
        return {"after_use": "discard", "waste_jug": ""}
    renewal, without = _take_renewal(whole, where)
    if renewal is not None:
        return {**read_after(without or "back to its jug", where=where), "renewal": renewal}
    if counted := _GOOD_FOR.search(whole):
        rest = _GOOD_FOR.sub("", whole).strip(" ,;.") or "back to its jug"
        return {**read_after(rest, where=where), "good_for_films": parse_number(counted["films"], where=where)}
    parts = re.split(r"[,;.:?!]|\bbut\b", whole)
    said = ", ".join(filter(None, (_NOT.split(part)[0].strip() for part in parts)))
    letter = re.search(r"jug\s+([a-z]\d?)\b(?!\w)", said)
    jug = letter[1].upper() if letter else ""
    if "destroy" in said:
        return {"after_use": "destroy", "waste_jug": jug}
    if re.search(r"\b(?:keep|kept)\b|\bback\b|its (?:jug|bottle)", said):
        return {"after_use": "keep", "waste_jug": jug}
    if "waste" in said or jug:
        return {"after_use": "waste", "waste_jug": jug or "F"}
    if re.search(r"\bdepot\b|\bcollect|\brecycl", said):
        raise InputError(
            f"{text.strip()!r} does not say which jug it waits in",
            where=where,
            remedy="name the jug that goes there, such as waste jug D; its letter is on the jug",
        )
    drained = re.findall(r"[^\s,]+", said)
    if (
        re.search(r"\b(?:drain|sink|away|discard(?:ed)?)\b", said)
        and not _NOT.search(whole)
        and _DRAIN_ONLY.issuperset(drained)
    ):
        return {"after_use": "discard", "waste_jug": ""}
    raise InputError(
        f"{text.strip()!r} does not say where the used bath goes",
        where=where,
        remedy="write back to its jug, waste jug F, drain, or destroy",
    )


def tell_after(step: Step) -> str:
    """Where a used bath goes, as `read_after` reads it."""
    counted = (
        f", good for {step.good_for_films:.12g} film{'' if step.good_for_films == 1 else 's'}"
        if step.good_for_films
        else ""
    ) + (f", {renewal_told(step.renewal)}" if step.renewal is not None else "")
    if step.after_use == "waste":
        return f"waste jug {step.waste_jug or 'F'}{counted}"
    return AFTER_WORDS[step.after_use] + (f", jug {step.waste_jug}" if step.waste_jug else "") + counted


def read_made(text: str, names: Mapping[str, str], *, where: str = "made") -> StepFields:
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
