"""Numbers as people say them: ranges, "about", "under", fractions, words, a decimal comma."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from obverse.foundation.errors import InputError
from obverse.foundation.interval import Interval
from obverse.foundation.parsing import regex, with_point

# What "about" leaves open to either side, as a fraction; our judgement.
ABOUT = 0.2
# No amount of a bench has more digits than this before or after its point.
MOST_DIGITS_SAID = 9

How = Literal["exact", "range", "about", "under", "over"]

_WORDS = {
    "a": 1.0, "an": 1.0, "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0, "five": 5.0, "six": 6.0, "seven": 7.0,
    "eight": 8.0, "nine": 9.0, "ten": 10.0, "eleven": 11.0, "twelve": 12.0, "fifteen": 15.0, "twenty": 20.0,
    "half": 0.5, "quarter": 0.25, "third": 1 / 3,
}  # fmt: skip
_SIGNS = {"\N{VULGAR FRACTION ONE HALF}": 0.5, "\N{VULGAR FRACTION ONE QUARTER}": 0.25,
          "\N{VULGAR FRACTION THREE QUARTERS}": 0.75, "\N{VULGAR FRACTION ONE THIRD}": 1 / 3,
          "\N{VULGAR FRACTION TWO THIRDS}": 2 / 3, "\N{VULGAR FRACTION ONE EIGHTH}": 0.125}  # fmt: skip

_SIGN = "[" + "".join(_SIGNS) + "]"
# Thousands set apart by points or commas before a decimal of the other sign, by an apostrophe, a fixed space, or before a full
# thousand by a space; a point or comma alone before three digits parts nothing.
_GROUPED = (
    r"\d{1,3}(?:\.\d{3})+,\d{1,3}|\d{1,3}(?:,\d{3})+\.\d{1,3}"
    r"|\d{1,3}(?:['\N{RIGHT SINGLE QUOTATION MARK}\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}]\d{3})+(?:[.,]\d{1,3})?(?!\d)|\d{1,3}\s000(?![\d.,])"
)
_DIGITS = rf"\d{{1,{MOST_DIGITS_SAID}}}(?:[.,]\d{{1,{MOST_DIGITS_SAID}}})?|[.,]\d{{1,{MOST_DIGITS_SAID}}}"
_WORD = "|".join(sorted(_WORDS, key=len, reverse=True))
_PLAIN = regex(
    rf"""\s*(?:
        (?P<whole>\d{{1,3}})\s+(?P<over>\d{{1,2}})\s?/\s?(?P<under>\d{{1,2}})(?![\d.,])
      | (?P<grouped>{_GROUPED})
      | (?P<top>\d{{1,3}})\s?/\s?(?P<bottom>\d{{1,3}})(?![\d.,/])
      | (?P<number>{_DIGITS})\s?(?P<joined>{_SIGN})?
      | (?P<sign>{_SIGN})
      | (?P<three>three[\s-]quarters)(?:\s+of)?(?:\s+an?)?(?![a-z])
      | (?P<half>half|(?:a\s+|one\s+)?quarter|(?:a\s+|one\s+)?third)(?:\s+of)?(?:\s+an?)?(?![a-z])
      | (?P<word>{_WORD})(?:\s+and\s+a\s+(?P<more>half|quarter|third))?(?![a-z])
    )""",
    re.I | re.X,
)
_ABOUT = regex(
    r"\s*(?:about|approximately|approx\.?|ca\.?|circa|c\.|roughly|around|some|[~\N{ALMOST EQUAL TO}])\s*(?=\S)", re.I
)
_UNDER = regex(
    r"\s*(?:<\s*=?|[\N{LESS-THAN OR EQUAL TO}]|under|below|less\s+than|up\s+to|at\s+most|(?:no|not)\s+more\s+than|max(?:\.|imum)?(?![a-z]))\s*(?=\S)",
    re.I,
)
_OVER = regex(
    r"\s*(?:>\s*=?|[\N{GREATER-THAN OR EQUAL TO}]|over|above|more\s+than|at\s+least|(?:no|not)\s+less\s+than|min(?:\.|imum)?(?![a-z]))\s*(?=\S)",
    re.I,
)
_BETWEEN = regex(r"\s*between\s+", re.I)
_DASHES = "-\N{EN DASH}\N{EM DASH}\N{MINUS SIGN}\N{HYPHEN}\N{NON-BREAKING HYPHEN}"
_TO = regex(
    rf"\s*(?:[{_DASHES}]|\.\.\.?|\N{{HORIZONTAL ELLIPSIS}}|to(?=\s)|or(?=\s))\s*(?=[\d.,<\N{{LESS-THAN OR EQUAL TO}}{''.join(_SIGNS)}]|(?:{_WORD})\s)",
    re.I,
)
_AND = regex(rf"\s*(?:%\s*)?and\s+(?=[\d.,<\N{{LESS-THAN OR EQUAL TO}}{''.join(_SIGNS)}]|(?:{_WORD})\s)", re.I)
_GIVE_OR_TAKE = regex(r"\s*(?:\N{PLUS-MINUS SIGN}|\+\s?/\s?-|\+-|give\s+or\s+take)\s*(?=\d)", re.I)
# A comma before exactly three digits may part thousands or decimals: a factor of a thousand apart.
_EITHER = regex(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d])")


@dataclass(frozen=True, slots=True)
class SaidNumber:
    """A number as it was said: its bounds, and in which way it was said."""

    interval: Interval
    how: How


def take_number(text: str, *, where: str) -> tuple[SaidNumber, str] | None:
    """Take a number off the beginning of a text.

    Parameters
    ----------
    text : str
        Such as ``"5-10 % hydroquinone"``, ``"under 5 %"``, ``"about 7,5 g"``, ``"one and a half teaspoons"``.
    where : str
        The field, for the error.

    Returns
    -------
    tuple of (SaidNumber, rest) or None
        None where the text begins with no number. The upper end of "over 5" is infinite: the caller knows what can be.

    Raises
    ------
    InputError
        For ``1,000``, which may be one or a thousand, a negative number, or a range from more to less.
    """
    for pattern, how in ((_ABOUT, "about"), (_UNDER, "under"), (_OVER, "over")):
        if opening := pattern.match(text):
            taken = _plain(text[opening.end() :], where)
            if taken is None:
                return None
            value, rest = taken
            if how == "about":
                ranged = _ranged(value, rest, where)
                return (ranged[0], ranged[1]) if ranged else (SaidNumber(Interval.within(value, ABOUT), "about"), rest)
            if how == "under":
                return SaidNumber(Interval(0.0, value / 2, value), "under"), rest
            # Safety data sheets write ">= 5 - < 10 %".
            return _ranged(value, rest, where) or (SaidNumber(Interval(value, value, math.inf), "over"), rest)
    between = _BETWEEN.match(text)
    if between:
        text = text[between.end() :]
    taken = _plain(text, where)
    if taken is None:
        return None
    value, rest = taken
    ends = _ranged(value, rest, where, _AND if between else _TO)
    return ends or (SaidNumber(Interval.exact(value), "exact"), rest)


def _ranged(value: float, rest: str, where: str, joint: re.Pattern[str] = _TO) -> tuple[SaidNumber, str] | None:
    """The range that begins with this value; None where what follows makes none of it."""
    if match := _GIVE_OR_TAKE.match(rest):
        taken = _plain(rest[match.end() :], where)
        if taken is not None:
            return SaidNumber(Interval(max(0.0, value - taken[0]), value, value + taken[0]), "range"), taken[1]
    # "5 % to 10 %": the unit may stand at both ends.
    between = re.match(r"\s*%(?=\s*(?:to|and|[-\N{EN DASH}])\s*[\d<])", rest)
    match = joint.match(rest, between.end() if between else 0)
    if match is None:
        return None
    after = rest[match.end() :].lstrip("<=\N{LESS-THAN OR EQUAL TO} ")
    taken = _plain(after, where)
    if taken is None:
        return None
    end, tail = taken
    if end < value:
        raise InputError(
            f"a range from {value:g} to {end:g} runs backwards", where=where, remedy="write the smaller number first"
        )
    return SaidNumber(Interval(value, (value + end) / 2, end), "range"), tail


def _plain(text: str, where: str) -> tuple[float, str] | None:
    if re.match(rf"\s*[{_DASHES}]\s*\d", text):
        raise InputError(f"{text.strip()!r} is less than nothing", where=where, remedy="give zero or more")
    match = _PLAIN.match(text)
    if match is None:
        return None
    if match["grouped"] is None and (either := _EITHER.match(text.lstrip())) is not None:
        plain = either[0].replace(",", "")
        raise InputError(
            f"{either[0]!r} may be {plain} or {float(either[0].replace(',', '.')):g}",
            where=where,
            remedy=f"write {plain}, or the decimals with a point",
        )
    rest = text[match.end() :]
    if match["whole"]:
        return _checked(float(match["whole"]) + _share(match["over"], match["under"], where), rest)
    if match["grouped"]:
        figures = re.sub(r"[^\d.,]", "", match["grouped"])
        decimal = re.search(r"[.,](\d+)$", figures)
        whole = re.sub(r"\D", "", figures[: decimal.start()] if decimal else figures)
        return _checked(float(f"{whole}.{decimal[1] if decimal else 0}"), rest)
    if match["top"]:
        return _checked(_share(match["top"], match["bottom"], where), rest)
    if match["number"]:
        value = float(with_point(match["number"]))
        return _checked(value + _SIGNS.get(match["joined"] or "", 0.0), rest)
    if match["sign"]:
        return _SIGNS[match["sign"]], rest
    if match["three"]:
        return _WORDS["three"] * _WORDS["quarter"], rest
    if match["half"]:
        return _WORDS[match["half"].split()[-1].lower()], rest
    return _WORDS[match["word"].lower()] + _WORDS.get((match["more"] or "").lower(), 0.0), rest


def _checked(value: float, rest: str) -> tuple[float, str] | None:
    """None where more digits follow: a number that long, or written in some other way, is none of ours."""
    return None if re.match(r"[\d]|[.,]\d", rest) else (value, rest)


def _share(top: str, bottom: str, where: str) -> float:
    if float(bottom) == 0:
        raise InputError(f"{top}/{bottom} is no number", where=where, remedy="write it like 1/2 or 0.5")
    return float(top) / float(bottom)
