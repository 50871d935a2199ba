"""The units a person reads and writes in. Documents and sums stay in mL, g, C and mm; only what is shown and typed changes."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import Any, Literal

from pydantic import Field

from obverse.foundation import (
    ML_PER_L,
    MM_PER_M,
    Document,
    InputError,
    System,
    Unit,
    figures,
    parse_number,
    regex,
    take_unit,
    unit_named,
)

Paper = Literal["a4", "us-letter"]
# Below half a fluid ounce people take a spoon.
LEAST_FLUID_OUNCES = 0.5
# As finely as anything at a bench is measured; what lies before the point is never cut.
FIGURES = 4
# A room is told in feet, a frame in inches.
LEAST_FEET = 1.0

_NUMBER = "[-\N{MINUS SIGN}]?\\d+(?:\\.\\d+)?"
# A figure or two of them ("18 to 24") before a unit, and no part of a longer number, word or uncertainty.
_NOT_BEFORE = "(?<![\\w.\N{PLUS-MINUS SIGN}])(?<!\N{PLUS-MINUS SIGN} )"
_FIGURES = rf"{_NOT_BEFORE}({_NUMBER})(?:( to | and | or |[-\N{{EN DASH}}])({_NUMBER}))?"
_SIGN = "(?: C|[ \N{NO-BREAK SPACE}]?\N{DEGREE SIGN}C)(?![\\w/])"
_DEGREES = regex(rf"{_FIGURES}{_SIGN}(?! (?:warmer|colder|cooler|apart)\b)")
_APART = regex(rf"({_NUMBER}){_SIGN} (warmer|colder|cooler|apart)\b")
# What stands alone in brackets stands beside another unit already, and so does what has another in brackets behind it.
_OTHER_BEHIND = r" \([\d.]+ (?:US |imperial |metric |oz\b)"
_VOLUMES = regex(rf"\({_NUMBER} mL\)|{_FIGURES} mL(?![\w/])(?!{_OTHER_BEHIND}| in my tank)")
_MASSES = regex(rf"\({_NUMBER} g\)|{_FIGURES} g(?![\w/])(?!{_OTHER_BEHIND})")
_ROOMS = regex(rf"{_FIGURES} m(?:3|\N{{SUPERSCRIPT THREE}})(?![\w/])")
_PER_LITRE = regex(rf"{_FIGURES} mL/L(?! \(|, [\d.]+ mL in my tank)")
_IN_BRACKETS = regex(r"\(([^()]*) \(([^()]* in my tank)\)\)")
# What a sentence without any of these needs no retelling for.
_ANY_UNIT = regex(r"\d[ \N{NO-BREAK SPACE}]?(?:\N{DEGREE SIGN}?C|mL|g|m3|m\N{SUPERSCRIPT THREE})(?!\w)")
_TYPED = regex("\\s*([-\N{MINUS SIGN}]?[\\d.,]+)\\s*(.*?)\\s*")


# What may be said for one call in place of the setting: a system whole, or a part of it.
OTHER_UNITS: dict[str, dict[str, str]] = {
    "metric": {"temperature": "c", "fluids": "metric", "spoons": "metric", "lengths": "metric", "masses": "g"},
    "us": {"temperature": "f", "fluids": "us", "spoons": "us", "lengths": "imperial", "masses": "oz"},
    "imperial": {
        "temperature": "f",
        "fluids": "imperial",
        "spoons": "imperial",
        "lengths": "imperial",
        "masses": "oz",
    },
    "c": {"temperature": "c"},
    "f": {"temperature": "f"},
    "ml": {"fluids": "metric"},
    "m": {"lengths": "metric"},
    "ft": {"lengths": "imperial"},
    "g": {"masses": "g"},
    "oz": {"masses": "oz"},
}


class UnitsShown(Document):
    """How volumes, temperatures, lengths, masses and paper are shown to one person.

    What tools are marked in stays beside a fluid ounce, a spoon or an ounce, so nothing has to be reckoned back at the bench.
    """

    temperature: Literal["c", "f"] = Field(default="c", description="degrees Celsius or Fahrenheit")
    fluids: System = Field(default="metric", description="mL, or fluid ounces of the US or imperial ones")
    spoons: System = Field(default="metric", description="whose teaspoon and tablespoon is meant where none is named")
    lengths: Literal["metric", "imperial"] = Field(default="metric", description="m and mm, or feet and inches")
    masses: Literal["g", "oz"] = Field(default="g", description="grams, or ounces beside them")
    tank_ml: float | None = Field(
        default=None, gt=0, le=20_000, description="amounts per litre are also told for a tank of so many mL"
    )
    paper: Paper = Field(default="a4", description="paper that sheets are printed on")

    @property
    def usual(self) -> System:
        """System of a fluid or kitchen measure that names none."""
        return self.fluids if self.fluids != "metric" else self.spoons

    def with_others(self, said: str, *, where: str = "units") -> UnitsShown:
        """These units with others for one call: ``"us"``, ``"metric"``, ``"us,c"``; later words go over earlier ones.

        Parameters
        ----------
        said : str
            Words of `OTHER_UNITS` with commas between them; empty changes nothing.
        where : str
            The field, for the error.

        Raises
        ------
        InputError
            If a word is none of them.
        """
        others: dict[str, str] = {}
        for word in filter(None, (part.strip().lower() for part in said.split(","))):
            if word not in OTHER_UNITS:
                raise InputError(
                    f"there are no units {word!r}", where=where, remedy=f"say {', '.join(OTHER_UNITS)}, or some of them"
                )
            others |= OTHER_UNITS[word]
        return self.model_copy(update=others)

    def _fluid_unit(self, volume_ml: float) -> Unit:
        if self.fluids == "metric":
            return unit_named("ml")
        ounce = unit_named(f"{self.fluids}_fl_oz")
        return ounce if volume_ml >= LEAST_FLUID_OUNCES * ounce.size else unit_named(f"{self.spoons}_tsp")

    def volume(self, volume_ml: float) -> str:
        """A volume: ``"500 mL"``, or ``"16.9 US fl oz (500 mL)"``."""
        plain = unit_named("ml").tell(volume_ml, figures_kept=FIGURES)
        return plain if self.fluids == "metric" else f"{self._fluid_unit(volume_ml).tell(volume_ml)} ({plain})"

    def mass(self, mass_g: float) -> str:
        """A mass: ``"12.5 g"``, or ``"0.441 oz (12.5 g)"``."""
        plain = unit_named("g").tell(mass_g, figures_kept=FIGURES)
        return plain if self.masses == "g" else f"{unit_named('oz').tell(mass_g)} ({plain})"

    def measured(self, amount: float, unit: str) -> str:
        """What a tool shows, in the tool's own unit first: ``"4.5 mL (0.913 US tsp)"``.

        Parameters
        ----------
        unit : str
            mL or g; anything else is shown as it is.
        """
        plain = f"{amount:g} {unit}"
        if unit == "mL" and self.fluids != "metric":
            return f"{plain} ({self._fluid_unit(amount).tell(amount)})"
        if unit == "g" and self.masses == "oz":
            return f"{plain} ({unit_named('oz').tell(amount)})"
        return plain

    def degrees_of(self, temperature_c: float) -> float:
        """A temperature as a number in these units."""
        return unit_named(self.temperature).from_house(temperature_c)

    def degrees_apart(self, difference_c: float) -> float:
        """A difference or an uncertainty of temperatures as a number in these units."""
        return difference_c / unit_named(self.temperature).size

    def temperature_of(self, temperature_c: float) -> str:
        """A temperature: ``"20 °C"`` or ``"68 °F"``."""
        return f"{_plain(self.degrees_of(temperature_c), 1)} \N{DEGREE SIGN}{self.temperature.upper()}"

    def said_temperature(self, text: str, *, where: str, bare: str = "c") -> float:
        """A temperature as it is typed: ``"68 F"``, ``"20,5"``.

        Parameters
        ----------
        where : str
            The field, for the error.
        bare : str
            What a number without a unit is in: c or f.

        Returns
        -------
        float
            In C.

        Raises
        ------
        InputError
            If it is none.
        """
        usual = unit_named("f" if bare == "f" else "c")
        return _typed(text, usual, where=where, examples=("20.5", "20.5 C or 69 F"))

    def said_length(self, text: str, *, where: str, bare: str = "m") -> float:
        """A length as it is typed: ``"2.5"``, ``"8 ft"``, ``"35 mm"``.

        Parameters
        ----------
        where : str
            The field, for the error.
        bare : str
            Key of the unit of a number without one.

        Returns
        -------
        float
            In m.

        Raises
        ------
        InputError
            If it is none.
        """
        return _typed(text, unit_named(bare), where=where, examples=("2.5", "2.5 m or 8 ft")) / MM_PER_M

    def room(self, volume_m3: float) -> str:
        """How large a room is: ``"12 m3"``, or ``"424 cu ft"``."""
        return self._room_unit.tell(volume_m3)

    def room_of(self, volume_m3: float) -> str:
        """The size of a room as a field of a form shows it: ``"12"`` m3 or ``"423.8"`` cu ft."""
        return figures(self._room_unit.from_house(volume_m3), FIGURES)

    @property
    def room_words(self) -> str:
        """In what a room is told and may be typed: ``"m3"`` or ``"cu ft"``."""
        return self._room_unit.sign

    @property
    def _room_unit(self) -> Unit:
        return unit_named("m3" if self.lengths == "metric" else "cu_ft")

    def said_room(self, text: str, *, where: str, bare: str = "m3") -> float:
        """The size of a room as it is typed: ``"12"``, ``"420 cu ft"``.

        Parameters
        ----------
        where : str
            The field, for the error.
        bare : str
            Key of the unit of a number without one.

        Returns
        -------
        float
            In m3.

        Raises
        ------
        InputError
            If it is none.
        """
        usual = unit_named("cu_ft" if bare == "cu_ft" else "m3")
        return _typed(text, usual, where=where, examples=("12", "12 m3 or 420 cu ft"))

    @property
    def volume_words(self) -> str:
        """In what a volume may be typed: ``"mL"``, or ``"mL or US fl oz"``."""
        return "mL" if self.fluids == "metric" else f"mL or {unit_named(f'{self.fluids}_fl_oz').sign}"

    @property
    def volume_keys(self) -> str:
        """Keys of a phone on which a volume can be typed: ``"decimal"``, or ``"text"`` where a unit may stand behind it."""
        return "decimal" if self.fluids == "metric" else "text"

    @property
    def degrees(self) -> str:
        """The sign of a degree: ``"°C"`` or ``"°F"``."""
        return f"\N{DEGREE SIGN}{self.temperature.upper()}"

    def retold(self, text: str) -> str:
        """A sentence of the house with its figures in these units: ``"Water of 68 °F."`` for ``"Water of 20 C."``.

        Parameters
        ----------
        text : str
            In mL, g, C, a room in m3.

        Returns
        -------
        str
            Told twice it is the same. What is metric stays as it is.
        """
        if self == METRIC or not has_house_units(text):
            return text
        if self.tank_ml is not None:
            text = _PER_LITRE.sub(lambda found: self._each(found, self.per_litre, ""), text)
            # In brackets already: a comma does.
            text = _IN_BRACKETS.sub(r"(\1, \2)", text)
        if self.temperature == "f":
            text = _APART.sub(
                lambda found: f"{_plain(self.degrees_apart(_value(found[1])), 1)} {self.degrees} {found[2]}", text
            )
            text = _DEGREES.sub(lambda found: self._each(found, self.temperature_of, self.degrees), text)
        if self.fluids != "metric":
            text = _VOLUMES.sub(lambda found: self._each(found, self.volume, ""), text)
        if self.lengths != "metric":
            text = _ROOMS.sub(lambda found: self._each(found, self.room, self.room_words), text)
        if self.masses == "oz":
            text = _MASSES.sub(lambda found: self._each(found, self.mass, ""), text)
        return text

    def _each(self, found: re.Match[str], tell: Callable[[float], str], unit: str) -> str:
        """One figure told, or both; between both the unit stands once where it is the same."""
        if found[1] is None:
            return found[0]
        first = tell(_value(found[1]))
        if found[3] is None:
            return first
        return f"{first.removesuffix(f' {unit}') if unit else first}{found[2]}{tell(_value(found[3]))}"

    def temperatures(self, low_c: float, high_c: float) -> str:
        """A window of temperatures: ``"18 to 24 °C"`` or ``"64.4 to 75.2 °F"``."""
        return f"{self.temperature_of(low_c).rsplit(' ', 1)[0]} to {self.temperature_of(high_c)}"

    def length(self, length_m: float) -> str:
        """A length: ``"1.2 m"``, or ``"3.94 ft"``; under a foot in inches."""
        length_mm = length_m * MM_PER_M
        if self.lengths == "metric":
            return unit_named("m" if length_m >= 1 else "mm").tell(length_mm)
        foot = unit_named("ft")
        return (foot if length_mm >= LEAST_FEET * foot.size else unit_named("in")).tell(length_mm)

    def per_litre(self, ml_per_l: float) -> str:
        """An amount per litre: ``"8 mL/L"``, or ``"8 mL/L (4 mL in my tank)"``."""
        plain = f"{ml_per_l:.4g} mL/L"
        return plain if self.tank_ml is None else f"{plain} ({ml_per_l * self.tank_ml / ML_PER_L:.3g} mL in my tank)"


METRIC = UnitsShown()
# 68 F is 20 C, and not 20.000000000000004.
TYPED_DIGITS = 6


def has_house_units(text: str) -> bool:
    """Whether a sentence holds a figure in C, mL, g or m3, which another setting would tell otherwise."""
    return bool(_ANY_UNIT.search(text))


def retold_in(units: UnitsShown, told: Any, *, only: Collection[str] = ()) -> Any:
    """What is told to a person, with its sentences in their units; numbers stay as they are.

    Parameters
    ----------
    told : Any
        A JSON document or a part of it.
    only : collection of str
        Members that are sentences of the house; absent: all text is.

    Returns
    -------
    Any
        The same document; the very same where the units are metric.
    """
    return told if units == METRIC else _retold(units, told, only, not only)


def _retold(units: UnitsShown, told: Any, only: Collection[str], ours: bool) -> Any:
    if isinstance(told, str):
        return units.retold(told) if ours else told
    if isinstance(told, dict):
        return {name: _retold(units, part, only, ours or name in only) for name, part in told.items()}
    return [_retold(units, part, only, ours) for part in told] if isinstance(told, (list, tuple)) else told


def _typed(text: str, usual: Unit, *, where: str, examples: tuple[str, str]) -> float:
    """What was typed in the unit of the house, from a number in `usual` or with a unit of its kind behind it."""
    match = _TYPED.fullmatch(text)
    if match is None:
        return parse_number(text, where=where, example=examples[0])
    unit = usual
    if match[2]:
        taken = take_unit(match[2])
        if taken is None or taken[1].strip() or taken[0][0].quantity != usual.quantity:
            raise InputError(f"{match[2]!r} is no unit of it", where=where, remedy=f"write it like {examples[1]}")
        unit = taken[0][0]
    return round(unit.to_house(parse_number(match[1], where=where, example=examples[0])), TYPED_DIGITS)


def _value(text: str) -> float:
    return float(text.replace("\N{MINUS SIGN}", "-"))


def _plain(value: float, digits: int) -> str:
    """A number with at most so many digits behind the point, a true minus sign and no empty zeros."""
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text.replace("-", "\N{MINUS SIGN}")
