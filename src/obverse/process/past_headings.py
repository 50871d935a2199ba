"""What stands above or between the rows of a table of past strips: what holds for the rows below, and what bottles were meant."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from obverse.foundation import regex
from obverse.process.as_written import NUMBER, celsius, minutes, plain_number
from obverse.process.control import ALKALI, DILUTION, SOLVENT, TEMPERATURE, TIME

# Ammonia of the alkali control, % by weight; its meaning says so.
CONTROL_AMMONIA_PERCENT = 5.0
_FIXER = r"(?:fix\w*|hypo|solvent)"
_WORKING = regex(
    rf"{_FIXER}[^.;|]{{0,40}}?\b1\s*[+:]\s*(?P<n>{NUMBER})(?=[^.;|]{{0,30}}?\b(?:working|solution|diluted|strength|made\s+up|bath)\b)"
    rf"|\b1\s*[+:]\s*(?P<m>{NUMBER})\s*(?:working\s+)?{_FIXER}|\b(?:working|diluted)[^.;|]{{0,20}}{_FIXER}[^.;|]{{0,20}}?1\s*[+:]\s*(?P<k>{NUMBER})",
    re.I,
)
_AMMONIA = regex(
    rf"(?:ammoni\w*|nh3)[^.;|]{{0,20}}?(?P<n>{NUMBER})\s*%|(?P<m>{NUMBER})\s*%\s*(?:household\s+)?ammoni\w*", re.I
)
_MEANS = regex(
    rf"\b1\s*(?:[:/]|in)\s*(?P<said>{NUMBER})\s*(?:means|=|is|meaning|stands\s+for)\s*1\s*\+\s*(?P<meant>{NUMBER})",
    re.I,
)
_TOTAL = regex(r"\bdil\w*[^.;|]{0,30}\b(?:total|in\s+all|altogether)\b", re.I)
_DILUTION = regex(rf"(?<![\d+:])1\s*\+\s*(?P<n>{NUMBER})(?!\s*(?:working|fix))", re.I)
_TEMPERATURE = regex(
    rf"(?<![\d.,])(?P<n>{NUMBER})\s*(?:\u00b0\s*|\u00ba\s*|deg\w*\s*)(?P<u>[cfCF]?)\b|(?<![\d.,])(?P<m>{NUMBER})\s*(?P<v>[CF])\b"
)
_TIME = regex(rf"(?:first\s+|1st\s+)?dev\w*[^.;|\d]{{0,20}}(?P<t>(?:{NUMBER})(?::\d\d)?\s*min\w*)", re.I)
_PER_L = rf"(?P<n>{NUMBER})\s*ml\s*(?:/\s*l|per\s+l\w*|in\s+(?P<v>{NUMBER})\s*ml)\s*(?:of\s+)?"
_AMOUNTS = (
    (SOLVENT.key, regex(_PER_L + _FIXER, re.I)),
    (ALKALI.key, regex(_PER_L + r"(?:ammoni\w*|alkali|lye)", re.I)),
)


# Words that are left over of what was read.
_SAYS_NOTHING = regex(r"\b(?:dev\w*|dil\w*|at|all|and|with)\b(?!\w)|[:=]", re.I)


@dataclass(frozen=True, slots=True)
class Heading:
    """What a heading says.

    Parameters
    ----------
    controls : dict of float
        What holds for the rows below where they say nothing of it, by key of the control.
    factors : dict of float
        By how much an amount is multiplied to be of the bottle that the control counts.
    water_more : float
        Parts of water to add to a dilution as written: -1 where the parts in all were written.
    left : str
        The heading without what was read from it.
    """

    controls: dict[str, float] = field(default_factory=dict)
    factors: dict[str, float] = field(default_factory=dict)
    water_more: float = 0.0
    left: str = ""


def read_heading(text: str) -> Heading:
    """What a heading says of the rows below it.

    Parameters
    ----------
    text : str
        Such as ``"cine 250, 1+6, 20 C"``, ``"fixer 1+3 working solution; dilution in total parts"``.
    """
    left = text
    controls: dict[str, float] = {}
    factors: dict[str, float] = {}

    def number(match: re.Match[str]) -> float:
        return next(plain_number(value) or 0.0 for name, value in match.groupdict().items() if value and name in "nmk")

    def take(match: re.Match[str]) -> None:
        nonlocal left
        left = left.replace(match[0], " ", 1)

    water_more = 0.0
    if found := _MEANS.search(left):
        water_more = (plain_number(found["meant"]) or 0.0) - (plain_number(found["said"]) or 0.0)
        take(found)
    elif _TOTAL.search(left):
        water_more = -1.0
    if found := _WORKING.search(left):
        factors[SOLVENT.key] = 1.0 / (1.0 + number(found))
        take(found)
    if found := _AMMONIA.search(left):
        factors[ALKALI.key] = number(found) / CONTROL_AMMONIA_PERCENT
        take(found)
    for key, pattern in _AMOUNTS:
        if found := pattern.search(left):
            in_ml = plain_number(found["v"]) if found["v"] else 1000.0
            controls[key] = 1000.0 * (plain_number(found["n"]) or 0.0) / (in_ml or 1000.0) * factors.get(key, 1.0)
            take(found)
    if (found := _TIME.search(left)) and (read := minutes(found["t"].lower(), "min")) is not None:
        controls[TIME.key] = read
        take(found)
    if found := _TEMPERATURE.search(left):
        unit = (found["u"] or found["v"] or "").lower()
        read = celsius(f"{found['n'] or found['m']} {unit}".strip(), "")
        if read is not None and 0 < read < COOLEST_BOIL_C:
            controls[TEMPERATURE.key] = read
            take(found)
    if found := _DILUTION.search(left):
        controls[DILUTION.key] = number(found)
        take(found)
    pieces = (_SAYS_NOTHING.sub(" ", piece).strip(" -()") for piece in re.split(r"[,;|()]", left))
    bare = ", ".join(" ".join(piece.split()) for piece in pieces if piece) if controls or factors else left.strip()
    return Heading(controls, factors, water_more, bare)


# Warmer than this no film is developed.
COOLEST_BOIL_C = 60.0
