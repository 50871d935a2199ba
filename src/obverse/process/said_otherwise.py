"""Mixes in the words of a notebook, put into the forms that are read: "developer 1+9, one litre, 3 g hypo", "half-strength vinegar"."""

from __future__ import annotations

import re

_VOLUME = r"(?:\d+(?:[.,]\d+)?|one|two|half\s+a)\s*(?:ml|l|lit(?:re|er)s?|fl\.?\s?oz|oz|quarts?)"
_JOINT = r"\s*(?:\+|,|;|\band\b|\bwith\b|\bplus\b|\bin\s+(?:which|it))\s*"
_ADDED = r"(?P<added>.*(?:\d|\b(?:pinch|spoon|teaspoon|tablespoon|drop|dash)\b).*)"
_NEAT_WORDS = r"(?:undiluted|straight|neat|stock(?:\s+solution)?|as\s+it\s+is|full\s+strength)"
_NAME = r"(?P<name>[A-Za-z][^\d+;:]*?)"
_PARTS = r"(?:\d+(?:[.,]\d+)?|one|two|three|four|five|six|nine|ten)"
_WITH_RATIO = re.compile(
    rf"^{_NAME}[\s,]+(?P<a>\d+(?:[.,]\d+)?)\s*[+:]\s*(?P<b>\d+(?:[.,]\d+)?)(?!\s*(?:m?l|g|oz|fl|%|tea|table|drop)\b)"
    rf"(?:\s*[,;]\s*(?P<volume>{_VOLUME}))?{_JOINT}{_ADDED}$",
    re.I,
)
_WITH_NEAT = re.compile(
    rf"^(?P<name>[A-Za-z][^+;:]*?)[\s,]+{_NEAT_WORDS}(?:[\s,]+{_NEAT_WORDS})?(?:[\s,;]+(?P<volume>{_VOLUME}))?{_JOINT}{_ADDED}$",
    re.I,
)
_WITH_WATER = re.compile(
    rf"^{_NAME}[\s,]+(?P<a>\d+(?:[.,]\d+)?)\s*(?:ml)?\s*\+\s*(?P<b>\d+(?:[.,]\d+)?)\s*(?:ml)?\s*(?:of\s+)?water{_JOINT}{_ADDED}$",
    re.I,
)
_MADE_TO = re.compile(
    rf"^{_NAME}[\s,]+(?P<amount>{_VOLUME})\s+to\s+make\s+(?P<volume>{_VOLUME}){_JOINT}{_ADDED}$", re.I
)
_IN_PARTS = re.compile(
    rf"^{_NAME}\s*,\s*(?P<a>{_PARTS})\s+parts?\s+(?:and|to|in)\s+(?P<b>{_PARTS})\s+parts?\s+(?:of\s+)?water$", re.I
)
_HALF = re.compile(r"^half[\s-]strength\s+(?P<name>[^\d]+?)(?:\s+(?:and\s+)?water)?$", re.I)
_WATER_WITH = re.compile(r"^(?:\w+\s+)?water\s+with\s+(?P<added>(?:an?|half|\d).+)$", re.I)
_LAST_WATER = re.compile(
    r"\s+(?:in|into|to)\s+the\s+(?:last|final|rinse|rinsing|wash|washing)\s*(?:rinse|wash|bath)?\s*(?:water)?$", re.I
)
_LITTLE_OF = re.compile(
    r"^(?:an?|one|two|three|few|a\s+few|\d+)\s+(?:level\s+|heaped\s+)?(?:drops?|pinch(?:es)?|dash(?:es)?|capfuls?)\s+(?:of\s+)?[^\d,;+]+$",
    re.I,
)
_OF_STRENGTH = re.compile(r"\s*,\s*(?P<strength>[a-z][a-z ]*\bstrength|\d+(?:[.,]\d+)?\s?%)\s*,?", re.I)
_ONE_IN = re.compile(r"^(?P<name>[A-Za-z][^+;:,]*?\s)?(?:1|one)(?:\s+part)?\s+in\s+(?P<all>\d+)(?:\s+parts)?$", re.I)
_ASIDE = re.compile(r"\s*\((?:avoirdupois|av\.?|by\s+weight|approx\w*|about)\)", re.I)
_LITTLE = re.compile(
    r"\b(?:a\s+)?(?:soup\N{LATIN SMALL LETTER C WITH CEDILLA}on|soupcon|touch|trace|hint)\s+of\b", re.I
)
# One thing, perhaps with its strength, and neither an amount nor a dilution.
_BARE = re.compile(r"^[A-Za-z][^\d+;:,/()]*(?:\(?\d+(?:[.,]\d+)?\s*%\)?)?$")
_JOINED = re.compile(rf"\b(?:{_NEAT_WORDS})\b|\b(?:and|in|into|with|to|some|splash|bit|plus|per|water|as|an?)\b", re.I)
MOST_BARE_WORDS = 6
TWO_BATHS = re.compile(
    r"^(?:.*?[:;.]\s*)??(?:(?:part|bottle|solution|bath)\s*)?A\s*[:=)]?\s+(?P<a>(?:\d|an?\b|half\b).+?)\s*[;.]\s*(?:(?:part|bottle|solution|bath)\s*)?"
    r"B\s*[:=)]?\s+(?P<b>(?:\d|an?\b|half\b).+?)(?:\s*[;,.]\s*(?:mixed?\s+)?(?:in\s+)?equal\s+parts.*)?$"
)
NOT_SAID = "no dilution was said, so it is taken as it stands in its bottle"


def two_baths(text: str) -> tuple[str, str] | None:
    """The two baths of "A: 60 g in 1 L; B: 90 mL in 1 L; equal parts"; None where it is none such."""
    if not re.search(r"\bequal\s+parts\b|\b1\s*[+:]\s*1\b|\bhalf\s+and\s+half\b", text, re.I):
        return None
    found = TWO_BATHS.match(text)
    return None if found is None else (found["a"], found["b"])


def restated(text: str) -> tuple[str, str]:
    """A mix in a form that is read, and what had to be supposed.

    Parameters
    ----------
    text : str
        As it was typed, its spaces single.

    Returns
    -------
    tuple of str
        The same words where they need no other form; and a sentence, or nothing.
    """
    said = _LITTLE.sub("a pinch of", _ASIDE.sub("", text)).strip()
    said = _OF_STRENGTH.sub(r" (\g<strength>)", said)
    if _LITTLE_OF.match(said) and not _JOINED.search(said.partition(" ")[2]):
        return f"{said}, water to the mark", ""
    if found := _WATER_WITH.match(said):
        return f"{found['added']}, water to the mark", ""
    if (found := _LAST_WATER.search(said)) and re.match(r"\s*(?:an?|one|two|few|\d)", said):
        return f"{said[: found.start()]}, water to the mark", ""
    if (found := _ONE_IN.match(said)) and int(found["all"]) > 1:
        water = int(found["all"]) - 1
        told = f"1 in {found['all']} is read as 1+{water}: one part in {found['all']} of the bath"
        return f"{(found['name'] or '').strip()} 1+{water}".strip(), told
    if found := _HALF.match(said):
        return f"{found['name']} 1+1", "half strength is read as 1+1"
    if found := _IN_PARTS.match(said):
        return f"{found['a']} parts {found['name']} + {found['b']} parts water", ""
    if found := _WITH_RATIO.match(said):
        a, b = (float(found[part].replace(",", ".")) for part in "ab")
        if a > 0 and b > 0:
            base = f"{1000 * a / (a + b):.6g} mL/L {found['name']}"
            return f"{base} + {found['added']}{_to(found['volume'])}", ""
    if found := _WITH_NEAT.match(said):
        amount = found["volume"] or "1000 mL/L"
        return f"{amount} {found['name'].strip(' ,')} + {found['added']}", ""
    if found := _WITH_WATER.match(said):
        return f"{found['a']} mL {found['name']} + {found['b']} mL water + {found['added']}", ""
    if found := _MADE_TO.match(said):
        return f"{found['amount']} {found['name']} + {found['added']}, water to {found['volume']}", ""
    if _BARE.match(said) and len(said.split()) <= MOST_BARE_WORDS and not _JOINED.search(said):
        return f"{said} undiluted", NOT_SAID
    return said, ""


def _to(volume: str | None) -> str:
    return f", water to {volume}" if volume else ", water to the mark"
