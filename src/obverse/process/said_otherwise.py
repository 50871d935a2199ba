"""Mixes in the words of a notebook, put into the forms that are read: "developer 1+9, one litre, 3 g hypo", "half-strength vinegar"."""

from __future__ import annotations

import re

from obverse.foundation import regex, with_point
from obverse.process.said_abroad import in_english
from obverse.process.said_household import in_plain_amounts
from obverse.process.strength_said import strengths_of_the_bath

_VOLUME = r"(?:\d+(?:[.,]\d+)?|one|two|half\s+a)\s*(?:ml|l|lit(?:re|er)s?|fl\.?\s?oz|oz|quarts?)"
_JOINT = r"\s*(?:\+|,|;|\band\b|\bwith\b|\bplus\b|\bin\s+(?:which|it))\s*"
_ADDED = r"(?P<added>.*(?:\d|\b(?:pinch|spoon|teaspoon|tablespoon|dessertspoon|drop|dash|capful|cap|splash|cup)s?\b).*)"
_NEAT_WORDS = r"(?:undiluted|straight|neat|stock(?:\s+solution)?|as\s+it\s+is|full\s+strength)"
_NAME = r"(?P<name>[A-Za-z][^\d+;:]*?)"
_PARTS = r"(?:\d+(?:[.,]\d+)?|one|two|three|four|five|six|nine|ten)"
_WITH_RATIO = regex(
    rf"^{_NAME}[\s,]+(?P<a>\d+(?:[.,]\d+)?)\s*[+:]\s*(?P<b>\d+(?:[.,]\d+)?)(?!\s*(?:m?l|g|oz|fl|%|tea|table|drop)\b)"
    rf"(?:\s*[,;]\s*(?P<volume>{_VOLUME}))?{_JOINT}{_ADDED}$",
    re.I,
)
_WITH_NEAT = regex(
    rf"^(?P<name>[A-Za-z][^+;:]*?)[\s,]+{_NEAT_WORDS}(?:[\s,]+{_NEAT_WORDS})?(?:[\s,;]+(?P<volume>{_VOLUME}))?{_JOINT}{_ADDED}$",
    re.I,
)
_WITH_WATER = regex(
    rf"^{_NAME}[\s,]+(?P<a>\d+(?:[.,]\d+)?)\s*(?:ml)?\s*\+\s*(?P<b>\d+(?:[.,]\d+)?)\s*(?:ml)?\s*(?:of\s+)?water{_JOINT}{_ADDED}$",
    re.I,
)
_MADE_TO = regex(rf"^{_NAME}[\s,]+(?P<amount>{_VOLUME})\s+to\s+make\s+(?P<volume>{_VOLUME}){_JOINT}{_ADDED}$", re.I)
_HALF_ALONE = regex(r"^(?:at\s+)?half[\s-]strength$", re.I)
_IN_PARTS = regex(
    rf"^{_NAME}\s*,\s*(?P<a>{_PARTS})\s+parts?\s+(?:and|to|in)\s+(?P<b>{_PARTS})\s+parts?\s+(?:of\s+)?water$", re.I
)
_HALF = regex(r"^half[\s-]strength\s+(?P<name>[^\d]+?)(?:\s+(?:and\s+)?water)?$", re.I)
_WATER_WITH = regex(r"^(?:\w+\s+)?water\s+with\s+(?P<added>(?:an?|half|\d).+)$", re.I)
_LAST_WATER = regex(
    r"\s+(?:in|into|to)\s+the\s+(?:last|final|rinse|rinsing|wash|washing)\s*(?:rinse|wash|bath)?\s*(?:water)?$", re.I
)
_LITTLE_OF = regex(
    r"^(?:an?|one|two|three|few|a\s+few|\d+)\s+(?:level\s+|heaped\s+)?(?:drops?|pinch(?:es)?|dash(?:es)?|capfuls?)\s+(?:of\s+)?[^\d,;+]+$",
    re.I,
)
_OF_STRENGTH = regex(r"\s*,\s*(?P<strength>[a-z][a-z ]*\bstrength|\d+(?:[.,]\d+)?\s?%)\s*,?", re.I)
_ONE_IN = regex(r"^(?P<name>[A-Za-z][^+;:,]*?\s)?(?:1|one)(?:\s+part)?\s+in\s+(?P<all>\d+)(?:\s+parts)?$", re.I)
_ASIDE = regex(r"\s*\((?:avoirdupois|av\.?|by\s+weight|approx\w*|about)\)", re.I)
_LITTLE = regex(r"\b(?:a\s+)?(?:soup\N{LATIN SMALL LETTER C WITH CEDILLA}on|soupcon|touch|trace|hint)\s+of\b", re.I)
# One thing, perhaps with its strength, and neither an amount nor a dilution.
_BARE = regex(r"^[A-Za-z][^\d+;:,/()]*(?:\(?\d+(?:[.,]\d+)?\s*%\)?)?$")
_JOINED = regex(rf"\b(?:{_NEAT_WORDS})\b|\b(?:and|in|into|with|to|some|splash|bit|plus|per|water|as|an?)\b", re.I)
MOST_BARE_WORDS = 6
TWO_BATHS = regex(
    r"^(?:.*?[:;.]\s*)??(?:(?:part|bottle|solution|bath)\s*)?A\s*[:=)]?\s+(?P<a>(?:\d|an?\b|half\b).+?)\s*[;.]\s*(?:(?:part|bottle|solution|bath)\s*)?"
    r"B\s*[:=)]?\s+(?P<b>(?:\d|an?\b|half\b).+?)(?:\s*[;,.]\s*(?:mixed?\s+)?(?:in\s+)?equal\s+parts.*)?$"
)
# Words that only tell the order, or how warm the water is that is poured first.
_ORDER = regex(r"([,;+]\s*)(?:and\s+)?(?:then|followed\s+by|finally|lastly|last|afterwards|also)\s+", re.I)
_VERBS = regex(
    r"(^|[,;+.]\s*)(?:(?:dilute|dissolve|add|mix|take|boil|heat|use|pour|measure|put|stir(?:\s+in)?)\s+)+(?=(?:about\s+|an?\s+|half\s|one\s|two\s|three\s)?\S*\d|an?\s|half\s|one\s|two\s|three\s)",
    re.I,
)
_STROKES = regex(r"\s+/\s+(?=\d)")
_HALVES = regex(
    r"^(?P<first>[A-Za-z][^\d+;:,]*?)\s+(?:half\s+and\s+half|in\s+equal\s+parts|fifty-?fifty)\s+with\s+(?P<second>[A-Za-z][^\d+;:,]*)$",
    re.I,
)
_SHARE = regex(
    r"^(?:(?P<before>\d+(?:[.,]\d+)?)\s?%\s+(?P<after>[A-Za-z][^\d%]*)|(?P<name>[A-Za-z][^\d%]*?)\s+(?P<behind>\d+(?:[.,]\d+)?)\s?%)$"
)
_WHOLE_PERCENT = 100
_SIZED = regex(
    r"\b(an?|one|two|three)\s+(?:good|big|large|generous|small|tiny)\s+(?=(?:pinch|dash|capful|splash|spoon|tea|table|cup))",
    re.I,
)
_COUNTS = ((regex(r"\b(?:an?|one)\s+dozen\b", re.I), "12"), (regex(r"\ba\s+couple\s+of\b", re.I), "2"))
_ENOUGH_WATER = regex(r"\bwater\s*,?\s*q\.?\s?s\.?(?:\s*(?:to|ad))?\s*(?=\d)|\bq\.?\s?s\.?\s*(?:to|ad)\s*(?=\d)", re.I)
_PER_FILM = regex(r"\s+(?:per|a|for\s+each)\s+(?:film|roll|reel)\b(?:\s+of(?=\s))?", re.I)
ONE_FILM_SAID = "what was said of one film is taken for the bath"
_WARMTH = regex(r"\s+(?:at|of)\s+\d+(?:[.,]\d+)?\s*(?:\N{DEGREE SIGN}\s*)?[CF]\b(?!\s*strength)", re.I)
_REST = regex(
    r"[\s,;+]+(?:and\s+)?(?:the\s+)?(?:rest|remainder|balance|enough)\s*(?:is|of|being)?\s*(?P<kind>(?:[a-z]+\s+)?water)\b(?!\s*(?:to|ad)\b)",
    re.I,
)
_REST_TO = regex(
    r"\b(?:the\s+)?(?:rest|remainder|balance|enough)\s+(?:is\s+|of\s+)?(?=(?:[a-z]+\s+)?water\s+(?:to|ad)\b)", re.I
)
_RATIO_TEXT = r"\d+(?:[.,]\d+)?(?:\s*[+:]\s*\d+(?:[.,]\d+)?)+"
_SO_MUCH_OF = regex(
    rf"^(?P<volume>(?:about\s+)?{_VOLUME})\s+(?:of\s+)?(?:(?P<name>[A-Za-z][^\d+:;]*?)\s+)?(?P<ratio>{_RATIO_TEXT})(?P<after>\s+[A-Za-z][^\d+:;,]*)?$",
    re.I,
)
_POURED_IN = regex(
    r"^(?P<first>[^,;+]*\d[^,;+]*?)\s+(?:in|into|to)\s+(?P<amount>\d+(?:[.,]\d+)?\s*(?:ml|cc|l|lit(?:re|er)s?))\s+(?:of\s+)?(?P<other>[A-Za-z][^,;+\d]*)$",
    re.I,
)
_NO_OTHER = regex(r"\b(?:water|bath|solution|tank|all|total|mix|it)\b", re.I)
_NAMES = r"[A-Za-z](?:[A-Za-z \-]|\([^()]*\))*"
_JOINT_OF_NAMES = r"\s*(?:,|\+|:|&|/|\band\b|\bto\b)\s*"
_NAMES_AND_RATIO = tuple(
    regex(pattern, re.I)
    for pattern in (
        rf"(?P<names>[A-Za-z].*?)[\s,:=]+(?P<ratio>{_RATIO_TEXT})(?P<volume>\s*[,;]\s*{_VOLUME})?",
        rf"(?P<ratio>{_RATIO_TEXT})[\s,:=]+(?:of\s+)?(?P<names>[A-Za-z].*?)(?P<volume>\s*[,;]\s*{_VOLUME})?",
    )
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
    plain, told = in_plain_amounts(in_english(text))
    said, supposed = _restated(plain)
    return said, "; ".join(part for part in (*told, supposed) if part)


def _restated(text: str) -> tuple[str, str]:
    """As `restated`, of what is said in English and in amounts."""
    said = _LITTLE.sub("a pinch of", _ASIDE.sub("", text)).strip()
    said = _WARMTH.sub("", _VERBS.sub(r"\1", _ORDER.sub(r"\1", _STROKES.sub(" + ", said))))
    said = _ENOUGH_WATER.sub("water to ", _SIZED.sub(r"\1 ", said))
    for counted, figure in _COUNTS:
        said = counted.sub(figure, said)
    if _PER_FILM.search(said) and re.match(r"\s*\d", said) and not re.search(_RATIO_TEXT, said):
        plain = _PER_FILM.sub("", said).strip()
        return (plain if re.search(r"\b(?:in|to|water)\b", plain) else f"{plain}, water to the mark"), ONE_FILM_SAID
    if found := _HALVES.match(said):
        said = f"equal parts {found['first']} and {found['second']}"
    said = _REST.sub(", water to the mark", _REST_TO.sub("", said))
    if (shared := _shared_out(said) or _shares(said)) is not None:
        return shared, ""
    said, read = strengths_of_the_bath(said)
    if read:
        return said, "; ".join(read)
    said = _OF_STRENGTH.sub(r" (\g<strength>)", said)
    if found := _SO_MUCH_OF.match(said):
        name = (found["name"] or found["after"] or "").strip()
        volume = re.sub(r"half\s+a\s*", "0.5 ", found["volume"], flags=re.I)
        return f"{name} {found['ratio']}, {volume}".strip(), ""
    if (found := _POURED_IN.match(said)) and not _NO_OTHER.search(found["other"]):
        return f"{found['first']} + {found['amount']} {found['other']}", ""
    if _HALF_ALONE.match(said):
        return "1+1", "half strength is read as 1+1"
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
    found = _WITH_RATIO.match(said)
    # "Developer 1+7, 500 mL": what comes behind is the bath and nothing that goes in.
    if found and not re.fullmatch(_VOLUME, found["added"].strip(), re.I):
        a, b = (float(with_point(found[part])) for part in "ab")
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


def _shared_out(text: str) -> str | None:
    """ "A, B, water 1:1:8" and "5+1+94 etchant, ammonia, water" as so many parts of each; the last is water where a name is missing."""
    found = next((m for pattern in _NAMES_AND_RATIO if (m := pattern.fullmatch(text)) is not None), None)
    if found is None:
        return None
    names = [name.strip() for name in re.split(_JOINT_OF_NAMES, found["names"], flags=re.I)]
    if len(names) == 1 or not all(re.fullmatch(_NAMES, name) for name in names):
        return None
    counts = re.split(r"\s*[+:]\s*", found["ratio"])
    if len(counts) == len(names) + 1:
        names.append("water")
    if len(counts) != len(names) or not all(names):
        return None
    told = " + ".join(f"{count} parts {name}" for count, name in zip(counts, names, strict=True))
    return f"{told}{found['volume'] or ''}"


def _shares(text: str) -> str | None:
    """ "Etchant 60 %, water 40 %" as parts, where the shares make a whole and one is water."""
    pieces = [_SHARE.match(piece) for piece in re.split(r"\s*[,+;]\s+|\s+(?:and|\+)\s+", text)]
    found = [(m["before"] or m["behind"], m["after"] or m["name"]) for m in pieces if m is not None]
    counts = [float(with_point(count)) for count, _ in found]
    if len(found) != len(pieces) or sum(counts) != _WHOLE_PERCENT or not any("water" in name for _, name in found):
        return None
    return " + ".join(f"{count:g} parts {name.strip()}" for count, (_, name) in zip(counts, found, strict=True))


def _to(volume: str | None) -> str:
    return f", water to {volume}" if volume else ", water to the mark"
