"""Strengths as labels print them, and as they leave them open.

Forms read: ``60 % w/w``, ``60 % w/v``, ``9 g/L``, ``3 mL/L``, ``0.5 mol/L`` (also ``M``), ``42 Be``, ``20 vol`` (of
peroxide), ``1+15`` and ``1:15`` (the same: one part and fifteen; the reading is shown), ``pure``; each also as a range
(``5-10 %``, ``under 5 %``, ``about 5 %``), a bare ``%`` or number (both readings, by weight and by volume, with the doubt
of both), and ``not said``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from obverse.foundation import ML_PER_L, InputError, Interval, regex, take_number, take_unit, with_point
from obverse.reference import record

BARE, NOT_SAID = "%", "not said"
# % w/v may pass 100 (dense concentrates), but no solution at hand weighs over 4 g/mL; the Baume scale ends at 72; peroxide
# of 100 % w/w would give off some 480 times its volume of oxygen.
MOST_OF_A_UNIT = {
    "% w/w": 100.0,
    "% v/v": 100.0,
    BARE: 100.0,
    "% w/v": 400.0,
    "mL/L": 1000.0,
    "g/L": 4000.0,
    "Be": 72.0,
    "vol": 500.0,
}
# What a unit of the label is in one of ours.
PER_MILLE, PER_MILLION, PERCENT_PER_G_IN_100, PERCENT = 0.1, 1e-4, 1.0, 100.0


@dataclass(frozen=True, slots=True)
class Strength:
    """A number and the unit the label prints. For ``1+n`` the number is n; for ``pure`` it is 1.

    Parameters
    ----------
    value : float
        The likeliest.
    unit : str
        One of `UNITS`. ``"%"`` is a bare percentage: by weight or by volume.
    reading : str
        How a doubtful notation was read.
    low, high : float
        Bounds, where the label gives a range; else the value.
    """

    value: float
    unit: str
    reading: str = ""
    low: float = math.nan
    high: float = math.nan

    def __post_init__(self) -> None:
        if math.isnan(self.low):
            object.__setattr__(self, "low", self.value)
        if math.isnan(self.high):
            object.__setattr__(self, "high", self.value)

    @property
    def interval(self) -> Interval:
        """Bounds in its unit."""
        return Interval(self.low, self.value, self.high)

    @property
    def is_open(self) -> bool:
        """True where the label leaves it open: a range, a bare percentage, or nothing said."""
        return self.low != self.high or self.unit in (BARE, NOT_SAID)

    @property
    def text(self) -> str:
        """As we print it."""
        if self.unit == "1+n":
            return f"1+{self.value:g}"
        if self.unit in ("pure", NOT_SAID):
            return self.unit
        if self.low == self.high:
            return f"{self.value:g} {self.unit}"
        return f"under {self.high:g} {self.unit}" if self.low == 0 else f"{self.low:g} to {self.high:g} {self.unit}"


_NUMBER = r"(\d+(?:[.,]\d+)?)"
_PARTS = regex(rf"^1\s*([+:])\s*{_NUMBER}$")
_WEIGHT = r"(?:w\s?[/\\]\s?w|m\s?[/\\]\s?m|ww|wt\.?(?:\s?/\s?wt\.?)?|by\s+(?:weight|mass)|gew\.?|massen?|(?:by\s+)?wt|weight|mass|g\s?/\s?100\s?g)"
_VOLUME = r"(?:w\s?[/\\]\s?v|m\s?[/\\]\s?v|wv|wt\.?\s?/\s?vol\.?)"
# What stands behind the number.
_UNITS: tuple[tuple[re.Pattern[str], str, float], ...] = tuple(
    (regex(rf"^\s*\(?\s*{pattern}\s*\)?\s*\.?(?P<aside>(?:[\s,(].*)?)$", flags), unit, factor)
    for pattern, unit, factor, flags in (
        (rf"(?:%\s*\(?\s*{_WEIGHT}|{_WEIGHT}\.?[\s-]?%)", "% w/w", 1.0, re.I),
        (rf"%\s*\(?\s*{_VOLUME}", "% w/v", 1.0, re.I),
        (r"(?:%\s*\(?\s*(?:v\s?[/\\]\s?v|vol\.?|by\s+volume)|vol\.?[\s-]?%)", "% v/v", 1.0, re.I),
        (r"(?:%|percent|per\s+cent|pct\.?)", BARE, 1.0, re.I),
        (r"g\s*(?:/|per)\s*(?:1\s*)?(?:l|litre|liter|ltr)", "g/L", 1.0, re.I),
        (r"g\s*(?:/|per|in)\s*100\s*(?:ml|cc|cm3)", "% w/v", PERCENT_PER_G_IN_100, re.I),
        (r"(?:mg\s*/\s*ml|g\s*/\s*dm3|kg\s*/\s*m3)", "g/L", 1.0, re.I),
        (r"mg\s*(?:/|per)\s*l(?:itre|iter)?", "g/L", 1e-3, re.I),
        (r"g\s*(?:/|per)\s*ml", "g/L", 1e3, re.I),
        (r"(?:g\s*(?:/|per)\s*kg|mg\s*/\s*g)", "% w/w", PER_MILLE, re.I),
        (r"g\s*(?:/|per|in)\s*100\s*g", "% w/w", 1.0, re.I),
        (r"ppm", "% w/w", PER_MILLION, re.I),
        (r"ml\s*(?:/|per)\s*(?:1\s*)?l(?:itre|iter)?", "mL/L", 1.0, re.I),
        (r"(?:[Mm]ol\s*(?:/|per)\s*[Ll](?:itre|iter)?|M|molar)", "mol/L", 1.0, re.NOFLAG),
        (r"mmol\s*/\s*l", "mol/L", 1e-3, re.I),
        (r"(?:°|deg(?:rees)?\.?)?\s*(?:b[eé]|baum[eé])", "Be", 1.0, re.I),
        (r"(?:vol(?:s|\.)?|volumes?)", "vol", 1.0, re.I),
    )
)
_SAYS_NOTHING = regex(
    r"^(?:in\s+water|aqueous|aq\.?|solution|acidity|assay|purity|content|strength|approx(?:\.|imately)?|nominal)?$",
    re.I,
)
_FRACTION = regex(
    r"\d\s?/\s?\d|half|third|quarter|[\N{VULGAR FRACTION ONE QUARTER}-\N{VULGAR FRACTION THREE QUARTERS}]", re.I
)
_MORE = regex(r"\s*,?\s*(?:(?:or|and)\s+(?:more|above|over)|min(?:\.|imum)?|upwards?)$", re.I)
_LESS = regex(r"\s*,?\s*(?:(?:or|and)\s+(?:less|below|under)|max(?:\.|imum)?)$", re.I)
_NAMELESS = regex(
    r"^(?:not\s+(?:said|stated|given|declared|known|disclosed|told|listed)|un(?:known|stated|declared|disclosed|specified)|"
    r"(?:no|none)\s*(?:given|stated)?|n\.?\s?/?\s?[ask]\.?|proprietary|trade\s+secret|secret|confidential|\?+|-+|some|"
    r"[\N{EN DASH}\N{EM DASH}]|(?:to|ad|up\s+to\s+make)\s*100\s*%?|balance|rest|remainder|q\.?\s?s\.?)$",
    re.I,
)
_PURE = regex(
    r"^(?:pure|neat|undiluted|reagent\s+grade|analytical(?:\s+grade)?|p\.?\s?a\.?|lab(?:oratory)?\s+grade)$", re.I
)
_TECHNICAL = regex(r"^(?:technical(?:\s+grade)?|tech\.?|industrial\s+grade|hardware\s+grade)$", re.I)
_TRACE = regex(r"^(?:traces?|a\s+trace|trace\s+amounts?)$", re.I)
_BEFORE_DEGREES = regex(r"^(?:baum[eé]|b[eé])\s*[:=]?\s*(?P<rest>[\d.,].*)$", re.I)
# Two numbers with a stroke are a range of degrees, no fraction: "38/40 Be".
_STROKE = regex(rf"^{_NUMBER}\s*/\s*{_NUMBER}(?=\s*(?:°|deg|b[eé]|baum|%))", re.I)


# What safety data sheets and labels put around the numbers, and the same as a plain range.
_SIGN_LESS = r"(?:<\s*=?|\N{LESS-THAN OR EQUAL TO})"
_SIGN_MORE = r"(?:>\s*=?|\N{GREATER-THAN OR EQUAL TO})"
_SAME_AS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (regex(pattern, re.I), plain)
    for pattern, plain in (
        # "15 % < x < 30 %", ">= 10 and < 20 %", "> 15 % < 30 %"
        (rf"^{_NUMBER}\s*%?\s*{_SIGN_LESS}\s*(?:x|c|w|conc\.?)?\s*{_SIGN_LESS}\s*{_NUMBER}", r"\1-\2"),
        (rf"^{_SIGN_MORE}\s*{_NUMBER}\s*%?\s*(?:and|to|but|-|,)?\s*{_SIGN_LESS}\s*{_NUMBER}", r"\1-\2"),
        (rf"^{_NUMBER}\s*%\s*(\N{{PLUS-MINUS SIGN}}|\+\s?/\s?-|\+-)\s*{_NUMBER}(?:\s*%)?", r"\1 \2 \3 %"),
        (r"^from\s+(?=\d)", ""),
        (
            r"^(?:technical|anhydrous|food|laborator\w*|lab|reagent|pharma\w*|pure|p\.?\s?a\.?|puriss\.?)(?:\s+grade)?[\s,:]+(?=[\d<>\u2264\u2265])",
            "",
        ),
        # "10 %ige", "25 %-ig"
        (r"(?<=%)\s*-?ige?[nrs]?\b(?:\s+\w+)?", ""),
    )
)


def parse_strength(text: str, *, where: str = "strength") -> Strength:
    """Read a strength from a label.

    Parameters
    ----------
    text : str
        Such as ``"60 % w/v"``, ``"5-10 %"``, ``"under 5 %"``, ``"7,5"``, ``"not said"``.

    Returns
    -------
    Strength
        Its `reading` says how an ambiguous notation was read.

    Raises
    ------
    InputError
        If the text is no strength, is negative, or above what can be.
    """
    return _read(text, where)


# Of a darkroom's labels and recipes each is asked for again and again: a tenth of the time that planning an evening took.
@lru_cache(maxsize=4096)
def _read(text: str, where: str) -> Strength:
    """What `parse_strength` reads."""
    given = " ".join(text.split())
    if _NAMELESS.match(given):
        held = record("strength.not_said").value
        return Strength(
            held["typical"],
            NOT_SAID,
            "the label does not say how much: anything is reckoned with",
            held["low"],
            held["high"],
        )
    if _PURE.match(given):
        return Strength(1.0, "pure")
    for pattern, key, word in ((_TECHNICAL, "strength.technical", "technical"), (_TRACE, "strength.trace", "a trace")):
        if pattern.match(given):
            held = record(key)
            low, high = held.value["low"], held.value["high"]
            reading = f"{word} is read as {low:g} to {high:g} % by weight ({held.source.standing.words})"
            return Strength(held.value["typical"], "% w/w", reading, low, high)
    if match := _PARTS.match(given):
        sign, parts = match.groups()
        n = float(with_point(parts))
        reading = f"{given} is read as 1+{n:g}: one part and {n:g} parts of water" if sign == ":" else ""
        return Strength(n, "1+n", reading)
    if match := _BEFORE_DEGREES.match(given):
        given = f"{match['rest']} Be"
    given = _STROKE.sub(r"\1-\2", given)
    for pattern_said, plain_said in _SAME_AS:
        given = pattern_said.sub(plain_said, given)
    # "99+ %", "30 % or more", "10 % max": said behind the number.
    plain = re.sub(r"(?<=\d)\s?\+(?=\s?%)", "", given)
    plain, more, less = _MORE.sub("", plain), plain != given or bool(_MORE.search(plain)), bool(_LESS.search(plain))
    if less:
        plain = f"at most {_LESS.sub('', plain)}"
    taken = take_number(plain, where=where)
    unit, factor, aside = (None, 1.0, "") if taken is None else _unit_of(taken[1])
    if unit == BARE and taken is not None and not taken[1].strip() and _FRACTION.search(plain):
        factor = PERCENT
    if taken is None or unit is None:
        raise InputError(
            f"{text.strip()!r} is not a strength",
            where=where,
            remedy="write it like 60 % w/w, 5-10 %, under 5 %, 9 g/L, 0.5 mol/L, 42 Be or 1+15, or 'not said'",
        )
    interval, rest = taken[0].interval, taken[1]
    most = MOST_OF_A_UNIT.get(unit, math.inf)
    low, best, high = interval.low * factor, interval.best * factor, interval.high * factor
    if more:
        high = math.inf
    if math.isinf(high):
        # "30 % or more" ends where the unit does.
        if math.isinf(most):
            raise InputError(f"{text.strip()!r} has no upper end", where=where, remedy="say how much it is at most")
        high = max(low, most)
        best = math.sqrt(low * high)
    check_strength(low, unit, where=where)
    if taken[0].how != "about":
        check_strength(high, unit, where=where)
    high, best = min(high, most), min(best, most)
    readings = [_reading(given, rest, unit, low, high), f"{aside!r} is not reckoned with" if aside else ""]
    return Strength(best, unit, "; ".join(filter(None, readings)), low, high)


def _unit_of(rest: str) -> tuple[str | None, float, str]:
    """Unit, what one of the label's is in it, and words behind it that say nothing of the amount."""
    if not rest.strip():
        return BARE, 1.0, ""
    for pattern, unit, factor in _UNITS:
        match = pattern.match(rest)
        # Another sign of more or less behind it is another bound, which must not be lost.
        if match is not None and not re.search(
            r"[<>\N{LESS-THAN OR EQUAL TO}\N{GREATER-THAN OR EQUAL TO}\N{PLUS-MINUS SIGN}]", match["aside"] or ""
        ):
            aside = (match["aside"] or "").strip(" ,.()")
            return unit, factor, "" if _SAYS_NOTHING.match(aside) else aside
    if (mass := take_unit(rest)) is not None and mass[0][0].quantity == "mass":
        per = re.match(r"\s*(?:/|per|in|to)\s*", mass[1], re.I)
        count = take_number(mass[1][per.end() :], where="strength") if per else None
        volume = take_unit(count[1] if count else mass[1][per.end() :], usual="us") if per else None
        if volume is not None and volume[0][0].quantity == "volume":
            litres = volume[0][0].size / ML_PER_L * (count[0].interval.best if count else 1.0)
            return "g/L", mass[0][0].size / litres, volume[1].strip(" ,.()")
    return None, 1.0, ""


def _reading(given: str, rest: str, unit: str, low: float, high: float) -> str:
    numbers = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    if unit == BARE:
        start = f"{given} is read as {numbers} %, " if not rest.strip() else f"{given} does not say "
        return start + "by weight or by volume: both are reckoned with"
    return f"{given} is read as {numbers} {unit}" if low != high and low == 0 else ""


def check_strength(value: float, unit: str, *, where: str = "strength") -> None:
    """Refuse strengths that cannot be.

    Raises
    ------
    InputError
        For a negative or non-finite number, or more than 100 % w/w or v/v.
    """
    if not math.isfinite(value) or value < 0:
        raise InputError(
            f"a strength of {value:g} {unit} cannot be", where=where, remedy="give the number printed on the label"
        )
    limit = MOST_OF_A_UNIT.get(unit, math.inf)
    if value > limit:
        raise InputError(
            f"{value:g} {unit} is more than can be", where=where, remedy=f"a strength in {unit} is at most {limit:g}"
        )
