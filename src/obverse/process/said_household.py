"""Amounts in the ways of kitchens and old formularies: tablets and sachets with what each holds, saturated solutions, lines with dots.

Each is put into a form that is read; how is told where it is more than another spelling.
"""

from __future__ import annotations

import re

from obverse.foundation import InputError, regex, take_number, take_unit
from obverse.process.product import OTHER
from obverse.process.strength_said import G_PER_L_OF_PERCENT, PER
from obverse.process.substance_words import substance_of
from obverse.reference import record

# A range runs to a few times its beginning; "40 to 600 mL" is made up to 600 mL.
WIDEST_RANGE = 4.0

_NUMBER = r"\d+(?:[.,]\d+)?"
_COUNT = rf"{_NUMBER}|\d/\d|\N{{VULGAR FRACTION ONE HALF}}|half(?:\s+an?|\s+of\s+an?)?|an?|one|two|three|four|five|six|eight|ten"
COUNTED = r"(?:sachet|tablet|packet|pack|bag|capsule|envelope|ampoule|stick|bottle|tin|can|piece|scoop|crystal)s?"
_ITEM = regex(rf"\b{COUNTED}\b(?:\s+of\b)?", re.I)
_OF_THINGS = regex(rf"^\s*(?P<count>{_COUNT})(?:\s*[x\N{{MULTIPLICATION SIGN}}])?\s+(?P<rest>.*\b{COUNTED}\b.*)$", re.I)
_EACH_WEIGHS = regex(
    rf"\(?\s*(?:(?:of|at|each|holding|with)\s+)*(?:\d+\s*[x\N{{MULTIPLICATION SIGN}}]\s*)?(?P<value>{_NUMBER})\s*(?P<unit>mg|g|kg|grams?)\b(?!\s*/)"
    r"(?:\s+(?:each|apiece|in\s+each|per\s+(?:tablet|sachet|packet|piece)))?\s*\)?",
    re.I,
)
# What stands between the parts of a mix.
APART = regex(r"(\s*[+;]\s*|\s*,\s+|\s+and\s+)", re.I)
_EACH_APART = regex(rf"\s*,\s+(?=(?:each\s+)?{_NUMBER}\s*m?g\s+(?:each|apiece))|\s*,\s+(?=each\s+{_NUMBER})", re.I)
_NAME = r"[A-Za-z\u00c0-\u00ff][^\d+,;()]*?"
_SATURATED = regex(
    rf"(?:\ba\s+)?\bsaturated\s+(?:(?:aqueous\s+)?solution\s+of\s+)?(?P<name>{_NAME})(?:\s+solution)?(?=\s*(?:$|[+,;]|\bin\b|\band\b|\bto\b|\bwater\b))",
    re.I,
)
_SATURATED_BEHIND = regex(rf"^(?P<name>{_NAME})\s*,\s*saturated(?:\s+solution)?$", re.I)
_MEASURED = regex(rf"{_NUMBER}\s*(?:parts?|m?l|cc|fl\.?\s*oz|drops?)\s+(?:of\s+)?(?:a\s+)?$", re.I)
_LEADERS = regex(r"\s*(?:\.{3,}|\N{HORIZONTAL ELLIPSIS}+|(?:\s\.){3,})\s*")
_LINE = regex(rf"(?P<name>{_NAME})\x00(?P<amount>{_NUMBER}\s*[A-Za-z.]+)\s*", re.I)
_RANGE = regex(
    rf"(?<![\d./+:])(?P<low>{_NUMBER}|\d/\d|[\N{{VULGAR FRACTION ONE HALF}}\N{{VULGAR FRACTION ONE QUARTER}}])\s+to\s+(?P<high>{_NUMBER}|\d/\d|[\N{{VULGAR FRACTION ONE HALF}}\N{{VULGAR FRACTION THREE QUARTERS}}])"
    r"(?=\s*(?:m?l|cc|m?g|grams?|oz|fl|(?:level\s+|heaped\s+)?(?:tea|table|dessert)?spoon|tsp|tbsp|cup|drop|pinch|cap)[a-z]*\b)",
    re.I,
)
_INTO_TANK = regex(
    r"\s*,?\s+(?:in|into|to|per|for)\s+(?:the|my|a|one|each|every)?\s*(?:full\s+|whole\s+)?tank(?:ful)?(?:\s+(?:full|of\s+(?:water|bath)))?$",
    re.I,
)
_KNIFE = regex(r"\b(?:(?:the\s+|an?\s+)?(?:tip|point)\s+of\s+a\s+knife|knife[\s-]?(?:tips?|points?))\b", re.I)
_VOLUMES = regex(rf"\b(?P<count>{_NUMBER}|one|two|three|four|five)\s+vol(?:ume)?s?\b\.?", re.I)
_FIFTY = regex(
    r"^(?:50\s*[/:+-]\s*50|fifty[\s-]?fifty)[\s,]+(?:of\s+)?(?P<first>.+)$|^(?P<second>.+?)[\s,]+(?:50\s*[/:+-]\s*50|fifty[\s-]?fifty)$",
    re.I,
)
# A number of something in so much, without its unit: mL.
_PER_BARE = regex(
    r"^(?P<amount>\d+(?:[.,]\d+)?\s*(?:g|ml|cc))\s*(?:/|per|in|to)\s*(?P<volume>\d{2,4})\s+(?:of\s+)?(?P<name>[A-Za-z][^\d+,;]*)$",
    re.I,
)
# "Acetic acid, 28 % solution, 32 mL": the name, its strength, how much of it.
_STRENGTH_NAME_AMOUNT = regex(
    rf"(?P<strength>{_NUMBER}\s?%)\s+(?:solution\s+of\s+)?(?P<name>{_NAME})\s*,\s+(?P<amount>{_NUMBER}\s*(?:m?l|cc|drops))(?=\s+(?:in|to|per)\b|\s*\+)",
    re.I,
)
# "Borax, 1 level tsp; washing soda, 2 level tsp": a list with its names first.
_LISTED = regex(
    rf"(?:(?<=^)|(?<=;))\s*(?P<name>{_NAME})\s*,\s+(?P<amount>(?:\d|half\b|an?\b|one\b|two\b|three\b|four\b)[^;,+]*?)(?=\s*(?:;|$))",
    re.I,
)
_SATURATED_AMID = regex(
    rf"(?P<name>{_NAME})\s*,\s*saturated(?:\s+solution)?\s*,\s*(?P<amount>{_NUMBER}\s*(?:m?l|cc|drops|parts))", re.I
)
# Nobody measures a millilitre of water to three places: here a comma parts thousands.
_THOUSANDS = regex(
    r"(?:(?<=water )|(?<=to )|(?<=in )|(?<=make )|(?<=per ))(?P<before>\d{1,3}),000(?=\s*(?:m?l|cc|c\.c\.))|\b(?P<of>\d{1,3}),000(?=\s*(?:ml|cc|c\.c\.)\s+(?:of\s+)?(?:\w+\s+)?water)",
    re.I,
)
_MIDDLE_DOT = regex(r"(?<=\d)[\N{MIDDLE DOT}\N{DOT OPERATOR}](?=\d)")
# "2 teaspoons / 500 mL": what stands behind the stroke is the bath.
_STROKE_BATH = regex(rf"\s+/\s+(?={_NUMBER}\s*(?:m?l|cc|lit(?:re|er)s?)\s*$)", re.I)
# A remark in brackets: words, no figure.
_REMARK = regex(r"\s?\([^\s\d()]+\s[^\s\d()]+\s[^\d()]+\)$")
_SPELLED = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8, "nine": 9, "ten": 10}
_SPELLED_RATIO = regex(
    rf"^(?P<name>{_NAME})\s+(?P<a>{'|'.join(_SPELLED)})\s+(?:to|and|in)\s+(?P<b>{'|'.join(_SPELLED)})$", re.I
)
_CUT_BY_HALF = regex(
    rf"^(?P<name>{_NAME})(?:\s+straight)?[\s,]+(?:cut|diluted|thinned)\s+(?:by|in)\s+half(?:\s+with\s+(?:\w+\s+)?water)?$",
    re.I,
)
_NAME_STRENGTH_AMOUNT = regex(
    rf"(?P<name>{_NAME})\s*,?\s+(?P<strength>{_NUMBER}\s?%)(?:\s+solution)?\s*,\s+(?P<amount>{_NUMBER}\s*(?:m?l|cc|fl\.?\s?oz){PER})(?=\s*(?:$|[+,;]))",
    re.I,
)
# "2 tablespoons vinegar (30 mL)": what is in brackets belongs to the amount.
_ASIDE_BEHIND = regex(
    rf"(?P<said>[^+;,()]*?\S)\s*(?P<aside>\((?:or\s+|=\s*|about\s+|ca\.?\s*)*{_NUMBER}\s*(?:g|grams?|ml|cc|c\.c\.)\))(?=\s*(?:$|[+;,]|\b(?:in|into|to|per|and)\b))",
    re.I,
)


def in_plain_amounts(text: str) -> tuple[str, tuple[str, ...]]:
    """A mix with what is counted, saturated or written in lines put in amounts.

    Parameters
    ----------
    text : str
        In English, its spaces single.

    Returns
    -------
    tuple of (str, tuple of str)
        The mix, and how what is no mere spelling was read.
    """
    said = _REMARK.sub("", _as_lines(_MIDDLE_DOT.sub(".", text)))
    said = _THOUSANDS.sub(lambda found: f"{found['before'] or found['of']}000", _STROKE_BATH.sub(" in ", said))
    if ";" in said:
        said = _LISTED.sub(r" \g<amount> \g<name>", said).strip()
    if found := _SPELLED_RATIO.match(said):
        said = f"{found['name']} {_SPELLED[found['a'].lower()]}+{_SPELLED[found['b'].lower()]}"
    if found := _CUT_BY_HALF.match(said):
        said = f"{found['name']} 1+1"
    said = _KNIFE.sub(lambda found: "pinch" if found[0].lower().startswith("knife") else "a pinch", said)
    said = _RANGE.sub(_range, said)
    said = _INTO_TANK.sub(", water to the mark", said)
    if len(_VOLUMES.findall(said)) > 1 or (
        _VOLUMES.search(said) and re.search(r"\bvol\w*\s+(?:of\s+)?water\b", said, re.I)
    ):
        said = re.sub(r"\s+:\s+", " + ", _VOLUMES.sub(lambda found: f"{found['count']} parts", said))
    if found := _FIFTY.match(said):
        said = f"equal parts {found['first'] or found['second']}"
    if found := _PER_BARE.match(said):
        said = f"{found['amount']} {found['name'].strip()} per {found['volume']} mL"
    said = _NAME_STRENGTH_AMOUNT.sub(r"\g<amount> \g<strength> \g<name>", said)
    said = _STRENGTH_NAME_AMOUNT.sub(r"\g<amount> \g<strength> \g<name>", said)
    said = _SATURATED_AMID.sub(r"\g<amount> saturated \g<name>", said)
    told: list[str] = []
    said = _ASIDE_BEHIND.sub(_aside_first, _weighed(said, told))
    return _unsaturated(said, told), tuple(told)


def _as_lines(text: str) -> str:
    """The lines of a formulary, the dots between name and amount gone: "Metol ...... 2 g  Water ...... 1 L"."""
    if not _LEADERS.search(text):
        return text
    joined = _LEADERS.sub("\x00", text)
    pieces = _LINE.findall(joined)
    if not pieces or _LINE.sub("", joined).strip(" ,;."):
        return _LEADERS.sub(" ", text).strip()
    return " + ".join(f"{amount.strip()} {name.strip(' ,;+')}" for name, amount in pieces)


def _aside_first(found: re.Match[str]) -> str:
    """ "2 tablespoons vinegar (30 mL)": what is in brackets belongs to the amount."""
    try:
        taken = take_number(found["said"], where="amount")
    except InputError:
        return found[0]
    unit = None if taken is None else take_unit(taken[1])
    if unit is None or not unit[1].strip():
        return found[0]
    return f"{found['said'][: len(found['said']) - len(unit[1])]} {found['aside']} {unit[1].strip()}"


def _range(found: re.Match[str]) -> str:
    low, high = (take_number(found[end], where="amount") for end in ("low", "high"))
    if (
        low is None
        or high is None
        or not low[0].interval.best < high[0].interval.best <= WIDEST_RANGE * low[0].interval.best
    ):
        return found[0]
    return f"{low[0].interval.best:g}-{high[0].interval.best:g}"


def _weighed(text: str, told: list[str]) -> str:
    """ "2 tablets of 500 mg vitamin C" as 1000 mg of it; what does not say how much each holds stays as it is."""
    if not _ITEM.search(text):
        return text
    pieces = APART.split(_EACH_APART.sub(" ", text))
    for place in range(0, len(pieces), 2):
        found = _OF_THINGS.match(pieces[place])
        holds = None if found is None else _EACH_WEIGHS.search(found["rest"])
        if found is None or holds is None:
            continue
        try:
            count, each = (take_number(said, where="amount") for said in (found["count"], holds["value"]))
        except InputError:
            continue
        if count is None or each is None:
            continue
        total = f"{count[0].interval.best * each[0].interval.best:.6g} {holds['unit']}"
        name = _ITEM.sub(" ", found["rest"].replace(holds[0], " ", 1), count=1)
        name = re.sub(r"^\s*(?:of\s+)?", "", " ".join(name.split()), flags=re.I)
        pieces[place] = f"{total} {name}"
        if count[0].interval.best != 1:
            item = _ITEM.search(found["rest"])
            things = "of them" if item is None else item[0].removesuffix("of").strip()
            told.append(f"{found['count']} {things} of {holds['value']} {holds['unit']} are read as {total}")
    return "".join(pieces)


def _unsaturated(text: str, told: list[str]) -> str:
    """What is said to be saturated, in g/L at 20 C (record ``solution.saturated``); where that is not known, as it stands."""
    behind = _SATURATED_BEHIND.match(text)
    said = f"saturated {behind['name']}" if behind else text

    def strength(found: re.Match[str]) -> str:
        known = record("solution.saturated").value
        called = found["name"].strip()
        ways = (called, f"{called} acid", f"potassium {called}", f"sodium {called}")
        key = next((one for one in (substance_of(way) for way in ways) if one != OTHER), OTHER)
        if key not in known:
            return found[0]
        g_per_l = float(known[key])
        told.append(f"saturated {called} is read as about {g_per_l:g} g/L, as water holds of it at 20 C")
        if _MEASURED.search(said[: found.start()]):
            return f"{g_per_l / G_PER_L_OF_PERCENT:g} % {called}"
        return f"about {g_per_l:g} g/L {called}"

    return _SATURATED.sub(strength, said)
