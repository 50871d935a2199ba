"""Measures and joints of German and French recipes in the words that are read here; names of substances stay as they are.

A text is only touched where a word stands in it that no English one is: "auf" and "pour" alone change nothing.
"""

from __future__ import annotations

import re

from obverse.foundation import regex

_Words = tuple[tuple[re.Pattern[str], str], ...]


def _table(words: dict[str, str]) -> _Words:
    return tuple((regex(rf"(?<!\w)(?:{said})(?!\w)", re.I), meant) for said, meant in words.items())


# Spoons in capitals only: "el" and "tl" are no words of a recipe in English.
_GERMAN = regex(
    r"(?<!\w)(?:(?-i:EL|TL)|\w*wasser|[e\w]+löffel|prisen?|messerspitzen?|tropfen|gramm|\w+säure|teile?|netzmittel|entwickler|fixierer|essig"
    r"|ammoniak|auf\s+\d|gesättigte\w*)(?!\w)|%\s*-?ig",
    re.I,
)
_FROM_GERMAN = _table({
    r"dest(?:\.|illiertes|illiertem)?\s*wasser": "distilled water", r"(?:leitungs)?wasser": "water",
    r"gestrichene[rsn]?": "level", r"gehäufte[rsn]?": "heaped",
    r"(?-i:EL)|e(?:ss|ß)löffel": "tablespoons", r"(?-i:TL)|teelöffel": "teaspoons",
    r"prisen?": "pinch", r"messerspitzen?": "knife tip", r"tropfen": "drops", r"spritzer": "splash",
    r"beutel|tütchen|päckchen": "sachets", r"tabletten?": "tablets", r"gramm": "g", r"liter": "litre", r"teile?": "parts",
    r"gesättigte[rsn]?": "saturated", r"lösung": "solution", r"netzmittel": "wetting agent", r"entwickler": "developer",
    r"fixierer": "fixer", r"essig": "vinegar", r"(?:wasserstoff)?peroxid": "peroxide", r"auf(?=\s+\d)": "to", r"pro": "per", r"und": "and", r"mit": "with", r"zu": "to",
    r"eine?[nmrs]?": "a", r"zwei": "two", r"drei": "three", r"vier": "four", r"halbe[rsn]?": "half", r"etwa": "about", r"je": "each",
})  # fmt: skip
_TENTHS = regex(r"%\s*-?ige[rsnm]?(?!\w)", re.I)
_FRENCH = regex(
    r"(?<!\w)(?:d['\u2019]|d?['\u2019]?eau|cuill\w+|pincées?|gouttes?|comprimés?|dans|vinaigre|révélateur|fixateur|mouillant|acide"
    r"|p\.\s?100|de\s+(?:sodium|potassium|soude))",
    re.I,
)
_SPOON = r"cuill[eè]res?\s+[àa]\s+"
_FROM_FRENCH = _table({
    r"p\.\s?100": "%", rf"{_SPOON}soupe\s+rases?": "level tablespoons", rf"{_SPOON}soupe\s+bombées?": "heaped tablespoons",
    rf"{_SPOON}(?:café|thé)\s+rases?": "level teaspoons", rf"{_SPOON}(?:café|thé)\s+bombées?": "heaped teaspoons",
    rf"{_SPOON}soupe": "tablespoons", rf"{_SPOON}(?:café|thé)": "teaspoons", r"pincées?": "pinch", r"gouttes?": "drops",
    r"comprimés?": "tablets", r"eau\s+distillée": "distilled water", r"eau\s+oxygénée": "peroxide", r"eau": "water",
    r"révélateur": "developer", r"fixateur": "fixer", r"mouillant": "wetting agent", r"vinaigre": "vinegar",
    r"saturée?": "saturated", r"dans": "in", r"pour(?=\s+(?:\d|une?\s))": "to", r"et": "and", r"avec": "with",
    r"part(?:ie)?s?": "parts", r"une?|un": "a", r"deux": "two", r"trois": "three", r"quatre": "four", r"demi[-\s]?": "half a ", r"environ": "about",
    r"à(?=\s+\d)": " ",
})  # fmt: skip
# "2 tablespoons d'acide", "1 litre d'eau": of something; within a name "de" stays.
_OF = regex(
    r"(?<!\w)(\w*spoons?|drops|pinch|sachets?|tablets?|litres?|ml|cc|g|parts)\s+(?:d['\u2019]\s*|de\s+(?:l['\u2019]\s*|la\s+)?|du\s+)", re.I
)  # fmt: skip


def in_english(text: str) -> str:
    """A mix with its German or French measures and joints in English.

    Parameters
    ----------
    text : str
        As it was typed, its spaces single.

    Returns
    -------
    str
        The same where no German or French word of a recipe stands in it.
    """
    said = text
    if _GERMAN.search(said):
        said = _TENTHS.sub("%", said)
        for word, meant in _FROM_GERMAN:
            said = word.sub(meant, said)
    if _FRENCH.search(said):
        said = re.sub(r"(?<!\w)d['\u2019](?=eau)", "of ", said, flags=re.I)
        for word, meant in _FROM_FRENCH:
            said = word.sub(meant, said)
        said = re.sub(r"(\w*spoons|sachets|tablets|drops|pinch)\s+of\s+of\b", r"\1 of", _OF.sub(r"\1 of ", said))
    return said if said == text else " ".join(said.split())
