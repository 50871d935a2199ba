"""Names of substances as labels and notebooks write them, and the substance of the list that is meant."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

from obverse.process.catalog import substances
from obverse.process.product import OTHER


def substance_of(words: str) -> str:
    """Key of the substance that a label means; ``"other"`` where none of the list is meant.

    Parameters
    ----------
    words : str
        Such as ``"Iron(III) chloride"``, ``"sodium hydrosulphite"``, ``"E224 potassium metabisulphite"``.
    """
    known = _names()
    for tried in _ways(words):
        if tried in known:
            return known[tried]
    return OTHER


def _ways(words: str) -> Iterator[str]:
    """The words as they stand, without what is in brackets, then each part for itself."""
    whole = plain_words(words)
    yield whole
    bare = plain_words(re.sub(r"\((?![ivx]+\))[^)]*\)", " ", words))
    yield bare
    yield from (plain_words(inner) for inner in re.findall(r"\((?![ivx]+\))([^)]*)\)", words, re.I))
    # An E number before or behind the name; "anhydrous" and its like where the list has but one.
    number = re.search(r"\be\s?-?\d{3}[a-z]?\b", words, re.I)
    if number:
        yield plain_words(words.replace(number[0], " "))
        yield re.sub(r"[\s-]", "", number[0].lower())
    for part in re.split(r"\s*(?:/|;|\bor\b|=|\boder\b)\s*", words):
        yield plain_words(part)
    yield re.sub(
        r"\b(?:anhydrous|solution|technical|pure|food grade|crystals?|powder|beads|flakes|pellets|prills|granules|lumps|conc(?:entrated)?|dilute|aq)\b",
        "",
        bare,
    ).strip()


def plain_words(words: str) -> str:
    """The words of a label in one spelling.

    Parameters
    ----------
    words : str
        As they stand there.

    Returns
    -------
    str
        In small letters, single spaces, one spelling of what is written in two.
    """
    text = words.lower().replace("sulph", "sulf").replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    text = re.sub(r"[,.;:]+(?=\s|$)", " ", text)
    text = re.sub(r"\bhydrogen (sulfate|sulfite|carbonate)", r"hydrogen \1", text)
    return " ".join(text.replace("_", " ").split()).strip(" -")


@cache
def _names() -> dict[str, str]:
    found: dict[str, str] = {}
    for key, known in substances().items():
        for name in (key, known.name, re.sub(r"\([^)]*\)$", "", known.name), known.name.replace(", anhydrous", "")):
            found.setdefault(plain_words(name), key)
        if known.formula not in ("C6H6O2", "C6H8O6"):
            found.setdefault(plain_words(known.formula), key)
    text = files("obverse.process").joinpath("data/substance_words.json").read_text(encoding="utf-8")
    for key, words in json.loads(text).items():
        for word in words:
            found.setdefault(plain_words(word), key)
    return found
