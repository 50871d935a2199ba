"""Times, temperatures, amounts and dates as people write them in a table; None where it is none."""

from __future__ import annotations

import re
from datetime import date, timedelta

from obverse.foundation import unit_named, whole_number, with_point

# A year of two figures beyond this is of the last century.
CENTURY_TURNS_AT, CENTURIES = 69, (1900, 2000)
# Spreadsheets count days from here; common practice of spreadsheets. Between these a bare number may be such a date.
SPREADSHEET_ZERO, SPREADSHEET_DAYS = date(1899, 12, 30), (20_000, 80_000)
# A developer bath is never so warm in degrees Celsius; such a number is in degrees Fahrenheit.
WARMEST_C = 45.0
# Kitchen and imperial measures in mL; a teaspoon and a tablespoon as metric kitchens have them.
ML = {
    r"ml|cc|cm3|cm\u00b3|millilit\w+|milliliter": 1.0,
    r"cl": 10.0,
    r"dl": 100.0,
    r"l|lt|ltr|lit\w+|liter": 1000.0,
    r"tsp|teaspoons?": unit_named("metric_tsp").size,
    r"tbsp|tablespoons?": unit_named("metric_tbsp").size,
    r"fl\.? ?oz|oz": unit_named("us_fl_oz").size,
}

NUMBER = r"\d+(?:[.,]\d+)?|[.,]\d+"
_NOTHING = r"none|no|nil|nothing|without|w/o|zero|keine?r?|aucune?|sans|0"
_ABOUT = r"(?:~|\u2248|ca\.?|c\.|about|around|approx\.?|circa|abt\.?|etwa|env\.?)\s*"
_FRACTIONS = {"\u00bd": ".5", "\u00bc": ".25", "\u00be": ".75"}


def plain_number(text: str, *, signed: bool = False) -> float | None:
    """A bare number with a point or a comma; None where there is anything else."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-").replace("\u00a0", "")
    if not re.fullmatch(rf"{'[-+]?' if signed else ''}(?:{NUMBER})", plain):
        return None
    return float(with_point(plain))


def with_doubt(text: str) -> tuple[str, float | None, bool]:
    """A cell without "about"; half the width of a range where it is one, its middle then standing for it."""
    plain = text.strip().lower()
    about = re.match(_ABOUT, plain)
    plain = plain[about.end() :] if about else plain
    guessed = plain.endswith("?") and len(plain) > 1
    plain = plain.rstrip("?").strip()
    spread = re.fullmatch(rf"({NUMBER})\s*(?:-|\u2013|to|bis)\s*({NUMBER})(\s*[^\d\s].*)?", plain)
    if spread:
        low, high = (float(with_point(spread[k])) for k in (1, 2))
        if high > low:
            return f"{(low + high) / 2:g}{spread[3] or ''}", (high - low) / 2, True
    return plain, None, bool(about) or guessed


def minutes(text: str, unit: str) -> float | None:
    """A time in minutes: "11:30", "11'30", "11 min 30 s", "11 1/2", "690 s"; a bare number is in `unit`, "min" or "s"."""
    plain = text.replace("\u2032", "'").replace("\u2033", '"').replace("\u2019", "'").replace("''", '"')
    for sign, share in _FRACTIONS.items():
        plain = re.sub(rf"(\d*)\s*{sign}", rf"0\g<1>{share}", plain)
    clock = re.fullmatch(r"(\d{1,3})[:h](\d{1,2})(?::(\d{2}))?", plain)
    if clock:
        a, b, c = (int(part) if part else None for part in clock.groups())
        if c is None:
            return (a or 0) + (b or 0) / 60 if (b or 0) < 60 else None
        # Spreadsheets add seconds to 11:30, or hours before it.
        return (b or 0) + c / 60 if a == 0 else (a or 0) + (b or 0) / 60
    mixed = re.fullmatch(r"(\d+)\s+(\d)\s*/\s*(\d)(?:\s*m\w*|')?", plain)
    if mixed and mixed[3] != "0":
        return int(mixed[1]) + int(mixed[2]) / int(mixed[3])
    parts = re.fullmatch(
        rf"(?:(?P<h>\d+)\s*h\w*\.?\s*)?(?:(?P<m>{NUMBER})\s*(?:m(?:in(?:ute)?s?)?(?![a-z])\.?|')\s*)?(?:(?P<s>\d+(?:[.,]\d+)?)\s*(?:s(?:ec(?:ond)?s?)?(?![a-z])\.?|\"))?",
        plain,
    )
    if parts and any(parts.groupdict().values()):
        h, m, s = (plain_number(parts[key] or "0") or 0.0 for key in "hms")
        return h * 60 + m + s / 60
    loose = re.fullmatch(rf"({NUMBER})\s*(?:m|min\w*|')\s*(\d{{1,2}})", plain)
    if loose:
        return (plain_number(loose[1]) or 0.0) + int(loose[2]) / 60
    number = plain_number(plain)
    return None if number is None else number / 60 if unit == "s" else number


def celsius(text: str, unit: str) -> float | None:
    """A temperature in degrees Celsius: "20", "68 F"; a bare number is in `unit`, "F" or "", and in Fahrenheit where no bath is so warm."""
    found = re.fullmatch(rf"({NUMBER})\s*(?:\u00b0|\u00ba|deg\w*)?\s*([cf])?\w*", text)
    if not found:
        return None
    number = plain_number(found[1]) or 0.0
    fahrenheit = found[2] == "f" or (found[2] is None and (unit == "F" or number > WARMEST_C))
    return round(unit_named("f").to_house(number), 1) if fahrenheit else number


def parts_water(text: str) -> float | None:
    """Parts of water to one of developer: "1+15", "1:15", "15", "stock"."""
    if one_in := re.fullmatch(rf"(?:.*\s)?(?:1|one)\s*in\s*({NUMBER})", text):
        # One part in so many of the bath.
        return max(0.0, (plain_number(one_in[1]) or 1.0) - 1.0)
    found = re.fullmatch(rf"(?:.*\s)?1\s*(?:\+|:|to|zu|/)\s*({NUMBER})", text)
    if found:
        return plain_number(found[1])
    if re.fullmatch(r"(?:.*\s)?(?:stock|undiluted|neat|full strength|straight|unverd.nnt|pur)(?:\s.*)?", text):
        return 0.0
    tail = re.fullmatch(rf"\+?\s*({NUMBER})", text)
    return plain_number(tail[1]) if tail else None


class BathNotSaid(str):
    """The sentence about an amount that waits for nothing but the volume of its bath."""

    __slots__ = ()


def ml_per_l(text: str, in_ml: float | None, percent: bool) -> float | str:
    """mL in each litre; or the sentence that says why not."""
    if re.fullmatch(_NOTHING, text):
        return 0.0
    if parts := re.fullmatch(rf"1\s*[+:]\s*({NUMBER})", text):
        return 1000.0 / (1.0 + (plain_number(parts[1]) or 0.0))
    units = "|".join(f"(?:{unit})" for unit in ML)
    found = re.fullmatch(
        rf"(?P<n>{NUMBER})\s*(?P<u>{units}|%)?(?:\s*(?:in|per|/|to|auf|for|pro)\s*(?P<v>{NUMBER})?\s*(?P<w>{units})?)?(?:\s+(?:of\s+)?[a-z].*)?",
        text,
    )
    if not found:
        return f"{text!r} is no amount; write it like 8 mL/L or 4 mL in 500 mL"
    amount = plain_number(found["n"]) or 0.0
    if found["u"] == "%" or (percent and found["u"] is None):
        return amount * 10
    amount *= ml_of(found["u"])
    if found["v"] or found["w"]:
        bath = (plain_number(found["v"]) or 0.0 if found["v"] else 1.0) * ml_of(found["w"])
    elif in_ml is not None:
        bath = in_ml
    elif amount == 0:
        return 0.0
    else:
        return BathNotSaid(f"{text!r} of how much bath is not said; give the volume of the bath")
    return amount * 1000.0 / bath if bath > 0 else "an amount in no bath at all cannot be counted"


def ml_of(unit: str | None) -> float:
    """What a measure holds in mL; 1 where none is named."""
    return next((ml for pattern, ml in ML.items() if unit and re.fullmatch(pattern, unit)), 1.0)


MONTHS = (
    r"jan\w*", r"f[e\u00e9]b\w*|f.v\w*", r"m[a\u00e4]r\w*", r"a[pv]r\w*", r"ma[iy]", r"jun\w*|juin", r"jul\w*|juil\w*", r"au[g\u0067]\w*|ao.t",
    r"sep\w*", r"o[ck]t\w*", r"nov\w*", r"de[cz]\w*|d.c\w*",
)  # fmt: skip


def iso_date(text: str, month_first: bool) -> str:
    """ISO 8601; empty where it is no date."""
    plain = re.sub(r"(\d)(?:st|nd|rd|th)\b", r"\1", text.strip().lower())
    plain = re.sub(r"^(?:mon|tue|wed|thu|fri|sat|sun)\w*,?\s+", "", plain)
    iso = re.match(r"(\d{4})[-/.](\d{1,2})(?:[-/.](\d{1,2}))?(?=$|[t\s])", plain)
    if iso:
        return _day(int(iso[1]), int(iso[2]), int(iso[3] or 1)) if iso[3] else _month_only(int(iso[1]), int(iso[2]))
    day = re.match(r"(\d{1,2})[./\- ](\d{1,2})[./\- ](\d{4}|\d{2})(?=$|[\s,])", plain)
    if day:
        a, b = int(day[1]), int(day[2])
        return _day(_year(day[3]), a if month_first else b, b if month_first else a)
    for number, name in enumerate(MONTHS, 1):
        for pattern in (
            rf"(?P<d>\d{{1,2}})[. \-/]*(?:{name})[. ,\-/]*(?P<y>\d{{4}}|\d{{2}})",
            rf"(?:{name})[. ]+(?P<d>\d{{1,2}})[, ]+(?P<y>\d{{4}})",
        ):
            if found := re.fullmatch(pattern, plain):
                return _day(_year(found["y"]), number, int(found["d"]))
        if found := re.fullmatch(rf"(?:{name})[. ]*(?P<y>\d{{4}})", plain):
            return _month_only(int(found["y"]), number)
    days = whole_number(plain)
    if days is not None and SPREADSHEET_DAYS[0] < days < SPREADSHEET_DAYS[1]:
        return (SPREADSHEET_ZERO + timedelta(days=days)).isoformat()
    return ""


def _year(text: str) -> int:
    number = int(text)
    if len(text) > 2:
        return number
    return number + CENTURIES[number < CENTURY_TURNS_AT]


def _day(year: int, month: int, day: int) -> str:
    try:
        return date(year, month, day).isoformat()
    except ValueError:
        return ""


def _month_only(year: int, month: int) -> str:
    return f"{year:04d}-{month:02d}" if 1 <= month <= len(MONTHS) else ""
