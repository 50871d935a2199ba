"""Units a person may use, and what each comes to in the units of the house (mL, g, C, mm).

Kitchen and fluid measures carry their system in the name, because a US and an imperial fluid ounce differ by 4 %, a
teaspoon by a fifth. What was said in a unit is told in it again: `Unit.tell`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Literal, get_args

from obverse.foundation.errors import InputError

# Millilitres of a litre, millimetres of a metre.
ML_PER_L = MM_PER_M = 1000.0
# Nothing smaller than a nanolitre or a nanogram is told.
MOST_DECIMALS = 9
Quantity = Literal["volume", "mass", "temperature", "length", "room", "parts"]
System = Literal["metric", "us", "imperial"]
SYSTEMS: tuple[System, ...] = get_args(System)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit.

    Parameters
    ----------
    key : str
        As documents name it, such as ``"us_fl_oz"``.
    sign : str
        As pages and sheets show it, such as ``"US fl oz"``.
    quantity : str
    size : float
        What one of it comes to: mL, g, K, mm; of a room m3.
    spoken : tuple of str
        How people write it, in lower case; several units may share a word (``"tsp"``).
    system : str
        metric, us or imperial, of a unit whose size depends on it; else empty.
    doubt : float
        How far one measureful of it lies from its size, as a fraction: a spoon, a drop.
    zero : float
        What 0 of it is in the unit of the house: -17.8 C for F.
    """

    key: str
    sign: str
    quantity: Quantity
    size: float
    spoken: tuple[str, ...]
    system: str = ""
    doubt: float = 0.0
    zero: float = 0.0

    def to_house(self, value: float) -> float:
        """So many of this unit in mL, g, C, mm."""
        return value * self.size + self.zero

    def from_house(self, value: float) -> float:
        """So many mL, g, C, mm in this unit."""
        return (value - self.zero) / self.size

    def tell(self, house_value: float, *, figures_kept: int = 3) -> str:
        """A value of the house in this unit, with its sign: ``"1.35 US fl oz"``.

        Parameters
        ----------
        house_value : float
            In mL, g, C or mm.
        figures_kept : int
            Significant figures.
        """
        return f"{figures(self.from_house(house_value), figures_kept)} {self.sign}".rstrip()


def figures(value: float, kept: int = 3) -> str:
    """A number with so many significant figures, no digit before its point rounded away and no exponent.

    Parameters
    ----------
    kept : int
        Significant figures.

    Returns
    -------
    str
        Such as ``"0.0123"`` or ``"1250"``.
    """
    digits = kept if value == 0 else max(kept, math.floor(math.log10(abs(value))) + 1)
    text = f"{value:.{digits}g}"
    return text if "e" not in text else f"{value:.{MOST_DECIMALS}f}".rstrip("0").rstrip(".")


def clock_span(seconds: float) -> str:
    """How long something lasts, as a clock shows it; below zero it is nothing.

    Returns
    -------
    str
        ``"4:05"``, from an hour on ``"1:04:05"``.
    """
    hours, rest = divmod(max(0, round(seconds)), 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


# Exact by definition: litre and gram; the US gallon is 231 cubic inches, the imperial gallon 4.546 09 L, the
# avoirdupois pound 0.453 592 37 kg, the inch 25.4 mm (NIST Handbook 44, Appendix C; Weights and Measures Act 1985, Schedule 1).
INCH_MM = 25.4
US_GALLON_ML = 231 * (INCH_MM / 10) ** 3
IMPERIAL_GALLON_ML = 4546.09
POUND_G = 453.59237
OUNCE_G, GRAIN_G, FOOT_MM = POUND_G / 16, POUND_G / 7000, 12 * INCH_MM
CUBIC_FOOT_M3 = (FOOT_MM / 1000) ** 3
# Eight fluid drams or 480 minims make a fluid ounce (NIST Handbook 44, Appendix C).
DRAMS, MINIMS = 8, 480
# The US tablespoon is half, the teaspoon a sixth of its fluid ounce (the same appendix). Metric spoons of 5 and 15 mL and a
# cup of 250 mL, imperial spoons as fractions of the gill of a quarter pint, a drop of 0.05 mL: from memory.
METRIC_TEASPOON_ML, METRIC_TABLESPOON_ML, METRIC_DESSERTSPOON_ML, METRIC_CUP_ML, DROP_ML = 5.0, 15.0, 10.0, 250.0, 0.05
US_QUART_ML, US_CUP_ML, US_FL_OZ_ML = US_GALLON_ML / 4, US_GALLON_ML / 16, US_GALLON_ML / 128
US_TEASPOON_ML = US_FL_OZ_ML / 6
IMPERIAL_QUART_ML, IMPERIAL_FL_OZ_ML = IMPERIAL_GALLON_ML / 4, IMPERIAL_GALLON_ML / 160
IMPERIAL_GILL_ML = IMPERIAL_GALLON_ML / 32
# How far a spoonful or a drop of liquid lies from the size of its measure; from memory.
SPOON_DOUBT, DROP_DOUBT = 0.1, 0.4
# What people mean by a pinch, a dash, a capful, a splash, mL, and how far from it one may be; from memory.
PINCH_ML, DASH_ML, CAPFUL_ML, SPLASH_ML, VAGUE_DOUBT = 0.4, 0.6, 8.0, 5.0, 0.7
# 0 F in C, and one of its degrees in kelvin: exact by definition.
FAHRENHEIT_K = 5 / 9
FAHRENHEIT_ZERO_C = -32 * FAHRENHEIT_K

_FL_OZ = ("fl oz", "fl. oz", "fl.oz", "fl. oz.", "floz", "fluid ounce", "fluid ounces", "fluid oz")
_FL_DRAM = (
    "fl dram",
    "fl. dram",
    "fl drams",
    "fl. drams",
    "fl dr",
    "fl. dr.",
    "fluid dram",
    "fluid drams",
    "fluid drachm",
    "fluid drachms",
)
_PINT, _QUART, _GALLON = ("pint", "pints", "pt"), ("quart", "quarts", "qt"), ("gallon", "gallons", "gal")
_CUP, _TEASPOON = ("cup", "cups"), ("teaspoon", "teaspoons", "teaspoonful", "teaspoonfuls", "tsp", "tsp.", "tsps")
_TABLESPOON = (
    "soup spoon",
    "soup spoons",
    "soupspoon",
    "tablespoon",
    "tablespoons",
    "tablespoonful",
    "tablespoonfuls",
    "tbsp",
    "tbsp.",
    "tbsps",
    "tbs",
    "tbl",
)

UNITS: tuple[Unit, ...] = (
    Unit(
        "ml",
        "mL",
        "volume",
        1.0,
        ("ml", "millilitre", "millilitres", "milliliter", "milliliters", "cc", "c.c.", "c.c", "ccm", "cm3"),
    ),
    Unit("cl", "cL", "volume", 10.0, ("cl", "centilitre", "centilitres")),
    Unit("dl", "dL", "volume", 100.0, ("dl", "decilitre", "decilitres")),
    Unit("l", "L", "volume", 1000.0, ("l", "lt", "ltr", "litre", "litres", "liter", "liters")),
    Unit("ul", "\N{MICRO SIGN}L", "volume", 0.001, ("ul", "\N{MICRO SIGN}l", "\N{GREEK SMALL LETTER MU}l")),
    Unit("drop", "drops", "volume", DROP_ML, ("drop", "drops"), doubt=DROP_DOUBT),
    Unit("us_fl_oz", "US fl oz", "volume", US_FL_OZ_ML, _FL_OZ, "us"),
    Unit("imperial_fl_oz", "imperial fl oz", "volume", IMPERIAL_FL_OZ_ML, _FL_OZ, "imperial"),
    Unit("us_fl_dram", "US fl dr", "volume", US_FL_OZ_ML / DRAMS, _FL_DRAM, "us"),
    Unit("imperial_fl_dram", "imperial fl dr", "volume", IMPERIAL_FL_OZ_ML / DRAMS, _FL_DRAM, "imperial"),
    Unit("us_minim", "US minims", "volume", US_FL_OZ_ML / MINIMS, ("minim", "minims"), "us"),
    Unit("imperial_minim", "imperial minims", "volume", IMPERIAL_FL_OZ_ML / MINIMS, ("minim", "minims"), "imperial"),
    Unit("us_pint", "US pt", "volume", US_GALLON_ML / 8, _PINT, "us"),
    Unit("imperial_pint", "imperial pt", "volume", IMPERIAL_GALLON_ML / 8, _PINT, "imperial"),
    Unit("us_quart", "US qt", "volume", US_QUART_ML, _QUART, "us"),
    Unit("imperial_quart", "imperial qt", "volume", IMPERIAL_QUART_ML, _QUART, "imperial"),
    Unit("us_gallon", "US gal", "volume", US_GALLON_ML, _GALLON, "us"),
    Unit("imperial_gallon", "imperial gal", "volume", IMPERIAL_GALLON_ML, _GALLON, "imperial"),
    Unit("metric_cup", "metric cups", "volume", METRIC_CUP_ML, _CUP, "metric", SPOON_DOUBT),
    Unit("us_cup", "US cups", "volume", US_CUP_ML, _CUP, "us", SPOON_DOUBT),
    Unit("metric_tsp", "metric tsp", "volume", METRIC_TEASPOON_ML, _TEASPOON, "metric", SPOON_DOUBT),
    Unit("us_tsp", "US tsp", "volume", US_TEASPOON_ML, _TEASPOON, "us", SPOON_DOUBT),
    Unit("imperial_tsp", "imperial tsp", "volume", IMPERIAL_GILL_ML / 24, _TEASPOON, "imperial", SPOON_DOUBT),
    Unit("metric_tbsp", "metric tbsp", "volume", METRIC_TABLESPOON_ML, _TABLESPOON, "metric", SPOON_DOUBT),
    Unit("us_tbsp", "US tbsp", "volume", US_FL_OZ_ML / 2, _TABLESPOON, "us", SPOON_DOUBT),
    Unit("imperial_tbsp", "imperial tbsp", "volume", IMPERIAL_GILL_ML / 8, _TABLESPOON, "imperial", SPOON_DOUBT),
    Unit(
        "pinch",
        "pinches",
        "volume",
        PINCH_ML,
        ("pinch", "pinches", "soup\N{LATIN SMALL LETTER C WITH CEDILLA}on"),
        doubt=VAGUE_DOUBT,
    ),
    Unit("dash", "dashes", "volume", DASH_ML, ("dash", "dashes"), doubt=VAGUE_DOUBT),
    Unit("capful", "capfuls", "volume", CAPFUL_ML, ("capful", "capfuls", "cap", "caps"), doubt=VAGUE_DOUBT),
    Unit("splash", "splashes", "volume", SPLASH_ML, ("splash", "splashes"), doubt=VAGUE_DOUBT),
    Unit(
        "dessertspoon",
        "dessertspoons",
        "volume",
        METRIC_DESSERTSPOON_ML,
        ("dessertspoon", "dessertspoons", "dsp"),
        doubt=SPOON_DOUBT,
    ),
    Unit("g", "g", "mass", 1.0, ("g", "gr", "gm", "gms", "gram", "grams", "gramme", "grammes")),
    Unit("mg", "mg", "mass", 0.001, ("mg", "milligram", "milligrams")),
    Unit("kg", "kg", "mass", 1000.0, ("kg", "kilo", "kilos", "kilogram", "kilograms")),
    Unit("oz", "oz", "mass", OUNCE_G, ("oz", "oz.", "ounce", "ounces")),
    Unit("grain", "grains", "mass", GRAIN_G, ("grain", "grains")),
    Unit("lb", "lb", "mass", POUND_G, ("lb", "lbs", "pound", "pounds")),
    Unit(
        "c",
        "C",
        "temperature",
        1.0,
        ("c", "\N{DEGREE SIGN}c", "\N{DEGREE SIGN} c", "deg c", "degrees c", "celsius", "degrees celsius"),
    ),
    Unit(
        "f",
        "F",
        "temperature",
        FAHRENHEIT_K,
        ("f", "\N{DEGREE SIGN}f", "\N{DEGREE SIGN} f", "deg f", "degrees f", "fahrenheit", "degrees fahrenheit"),
        zero=FAHRENHEIT_ZERO_C,
    ),
    Unit("mm", "mm", "length", 1.0, ("mm", "millimetre", "millimetres", "millimeter", "millimeters")),
    Unit("cm", "cm", "length", 10.0, ("cm", "centimetre", "centimetres", "centimeter", "centimeters")),
    Unit("m", "m", "length", 1000.0, ("m", "metre", "metres", "meter", "meters")),
    Unit("in", "in", "length", INCH_MM, ("in", "in.", "inch", "inches", '"', "\N{DOUBLE PRIME}")),
    Unit("ft", "ft", "length", FOOT_MM, ("ft", "ft.", "foot", "feet", "'", "\N{PRIME}")),
    Unit(
        "m3",
        "m\N{SUPERSCRIPT THREE}",
        "room",
        1.0,
        ("m3", "m\N{SUPERSCRIPT THREE}", "cubic metre", "cubic metres", "cubic meter", "cubic meters"),
    ),
    Unit(
        "cu_ft",
        "cu ft",
        "room",
        CUBIC_FOOT_M3,
        ("cu ft", "cu. ft", "cu. ft.", "ft3", "ft\N{SUPERSCRIPT THREE}", "cubic foot", "cubic feet"),
    ),
    Unit("part", "parts", "parts", 1.0, ("part", "parts")),
)

_SYSTEM_WORDS: dict[str, System] = {
    "us": "us",
    "u.s.": "us",
    "american": "us",
    "imperial": "imperial",
    "imp": "imperial",
    "imp.": "imperial",
    "uk": "imperial",
    "british": "imperial",
    "metric": "metric",
}


@cache
def _by_word() -> dict[str, tuple[Unit, ...]]:
    found: dict[str, tuple[Unit, ...]] = {}
    for unit in UNITS:
        for word in (*unit.spoken, unit.sign.lower()):
            if unit not in found.get(word, ()):
                found[word] = (*found.get(word, ()), unit)
    return found


@cache
def _opening() -> re.Pattern[str]:
    words = "|".join(re.escape(word) for word in sorted(_by_word(), key=len, reverse=True))
    systems = "|".join(re.escape(word) for word in sorted(_SYSTEM_WORDS, key=len, reverse=True))
    # A unit ends where its word does: "m" is no beginning of "mask".
    return re.compile(
        rf"\s*(?:(?P<before>{systems})\s+)?(?P<word>{words})(?:\s+(?P<after>{systems})(?![a-z.])|\s*\((?P<aside>{systems})\))?(?![a-z\d])",
        re.I,
    )


def unit_named(key: str) -> Unit:
    """The unit of that key.

    Parameters
    ----------
    key : str
        As documents name it, such as ``"us_fl_oz"``.

    Raises
    ------
    InputError
        If there is none.
    """
    for unit in UNITS:
        if unit.key == key:
            return unit
    raise InputError(f"there is no unit {key!r}", where="unit", remedy="use one of " + ", ".join(u.key for u in UNITS))


def take_unit(text: str, *, usual: System = "metric") -> tuple[tuple[Unit, ...], str] | None:
    """Take a unit off the beginning of a text.

    Parameters
    ----------
    text : str
        Such as ``" fl oz of developer"``.
    usual : str
        System of a fluid or kitchen measure that names none.

    Returns
    -------
    tuple of (units, rest) or None
        The unit meant, and after it the others that the same word may mean; what stood behind it. None where the text
        begins with no unit.
    """
    match = _opening().match(text)
    if match is None:
        return None
    said = match["before"] or match["after"] or match["aside"]
    meant = _by_word()[match["word"].lower()]
    if said:
        named = tuple(unit for unit in meant if unit.system == _SYSTEM_WORDS[said.lower()])
        # "US" before a unit that is the same everywhere says nothing; a measure its system does not have is no unit.
        meant = named or tuple(unit for unit in meant if not unit.system)
        if not meant:
            return None
    order = [usual, *(system for system in SYSTEMS if system != usual)]
    return tuple(sorted(meant, key=lambda unit: order.index(unit.system) if unit.system in order else 0)), text[
        match.end() :
    ]
