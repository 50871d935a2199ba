"""Amounts and mixes as people say them: "1+14", "three parts and one", "a level tablespoon in 350 mL".

What was typed is the truth and comes back as it was typed; the figures are read from it. A spoonful, a range or a
"between" keeps its doubt, and nothing here knows a bottle: which product a part means is said by the part's `product`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, Self, TypedDict, cast

from pydantic import Field, model_validator

from obverse.foundation import (
    ML_PER_L,
    Document,
    InputError,
    Interval,
    Quantity,
    System,
    Unit,
    parse_number,
    read_document,
    regex,
    take_number,
    take_unit,
    unit_named,
)
from obverse.process.product import KEY, LONGEST_NAME
from obverse.process.said_otherwise import restated, two_baths
from obverse.reference import number, record

# A sentence, not a page; the same as a formula's line.
MOST_TEXT = 200
# As many as a product may declare.
MOST_PARTS = 12
# How well a mark on a household vessel is met counts at the bench; here figures agree within rounding.
SAME = 1e-6

_SPOONS = ("tsp", "tbsp", "dessertspoon", "cup", "pinch", "dash", "capful")
_FILLING = regex(r"\s*(?P<fill>level(?:led)?|heap(?:ed|ing)|rounded|scant)(?![a-z])", re.I)
_FILLINGS = {"level": "level", "leveled": "level", "levelled": "level", "heaped": "heaped", "heaping": "heaped",
             "rounded": "rounded", "scant": "level"}  # fmt: skip


class _AmountFields(TypedDict, total=False):
    """Fields of a `SaidAmount` as they are read from its text."""

    text: str
    quantity: str
    unit: str
    low: float
    best: float
    high: float
    filling: str
    weighs_g: float | None


class _PartFields(TypedDict, total=False):
    """Fields of a `SaidPart`."""

    what: str
    amount: _AmountFields
    per_ml: float | None
    product: str


class _MixFields(TypedDict, total=False):
    """Fields of a `SaidMix`."""

    text: str
    way: str
    parts: list[_PartFields]
    volume: _AmountFields | None
    reading: str


class SaidAmount(Document):
    """One amount as a person said it.

    Only `text` need be given; the rest is read from it. `unit` may be given with it where the word alone may mean
    several ("fl oz"). `low`, `best`, `high` are in mL, g, C, mm or parts. A spoon is a volume; `grams` says what it
    weighs when it holds a powder.
    """

    text: str = Field(min_length=1, max_length=MOST_TEXT, description="as it was typed")
    quantity: Literal["volume", "mass", "temperature", "length", "parts"] = Field(description="what it counts")
    unit: str = Field(pattern=KEY, description="key of the unit it was said in, such as us_fl_oz")
    low: float = Field(description="least: mL, g, C, mm or parts")
    best: float = Field(description="likeliest: mL, g, C, mm or parts")
    high: float = Field(description="most: mL, g, C, mm or parts")
    filling: Literal["", "level", "heaped", "rounded"] = Field(default="", description="how a spoon is filled")
    weighs_g: float | None = Field(
        default=None, gt=0, description="what the whole of it weighed, where the person weighed it"
    )

    @model_validator(mode="before")
    @classmethod
    def _read(cls, given: Any) -> Any:
        if isinstance(given, str):
            given = {"text": given}
        if not isinstance(given, Mapping) or not isinstance(given.get("text"), str):
            return given
        try:
            read = _amount_fields(given["text"], unit=str(given.get("unit", "")), where="amount")
        except InputError as error:
            raise ValueError(error.sentence.rstrip(".")) from error
        for end in ("low", "best", "high"):
            said = given.get(end)
            if (
                isinstance(said, (int, float))
                and not read["filling"]
                and abs(said - read[end]) > SAME * (1 + abs(said))
            ):
                raise ValueError(f"{given['text']!r} is {read[end]:g}, and {end} says {said:g}")
        return {**read, **{name: value for name, value in given.items() if name not in read}}

    @property
    def is_spoon(self) -> bool:
        """True of a kitchen measure, which takes a liquid by volume and a powder by its bulk."""
        return any(word in self.unit for word in _SPOONS)

    @property
    def interval(self) -> Interval:
        """The bounds; not for a temperature, which may lie below zero."""
        return Interval(self.low, self.best, self.high)

    def grams(self) -> Interval:
        """What it weighs as a dry powder, g.

        A mass is itself. A spoon is its volume times the bulk density of a dry powder, of which little is known
        (records ``spoon.bulk_density`` and ``spoon.heaped``), unless the person weighed it.

        Raises
        ------
        InputError
            If it is neither: mL of a powder say too little, and parts need a whole.
        """
        if self.weighs_g is not None:
            return Interval.exact(self.weighs_g)
        if self.quantity == "mass":
            return self.interval
        if self.quantity != "volume":
            raise InputError(f"{self.text!r} is no weight", where="amount", remedy="give grams or a spoon")
        bulk = Interval.within(number("spoon.bulk_density"), number("spoon.powder_half_range"))
        heap = _heap(self.filling)
        return self.interval.times(bulk).times(heap)

    def tell(self) -> str:
        """What the person typed."""
        return self.text


def _heap(filling: str) -> Interval:
    """How much more than its level measure a spoon holds."""
    if filling not in ("heaped", "rounded"):
        return Interval.exact(1.0)
    heaped = record(f"spoon.{filling}")
    return Interval(heaped.value["low"], heaped.value["typical"], heaped.value["high"])


def parse_amount(text: str, *, usual: System = "metric", unit: str = "", where: str = "amount") -> SaidAmount:
    """Read an amount as people say it.

    Parameters
    ----------
    text : str
        Such as ``"40 mL"``, ``"7,5 g"``, ``"a level tablespoon"``, ``"5 fl oz"``, ``"68 F"``, ``"about 5 mL"``.
    usual : str
        System of a kitchen or fluid measure that names none: metric, us or imperial.
    unit : str
        Key of the unit of a bare number; empty: a bare number counts parts.
    where : str
        The field, for the error.

    Raises
    ------
    InputError
        If it holds no number or no unit we know, with how it could be written.
    """
    return SaidAmount.model_validate(_amount_fields(text, usual=usual, unit=unit, where=where))


def _amount_fields(text: str, *, usual: System = "metric", unit: str = "", where: str) -> _AmountFields:
    fields, rest = _take_amount(text, usual=usual, unit=unit, where=where)
    if rest.strip(" .,"):
        raise InputError(
            f"{rest.strip()!r} in {text.strip()!r} is no part of an amount", where=where, remedy=_WRITE_AMOUNT
        )
    return {**fields, "text": text.strip() or text}


_WRITE_AMOUNT = "write it like 40 mL, 7,5 g, 2 fl oz, 68 F, about 5 mL, or a level tablespoon"
_WEIGHED = regex(
    r"\s*[(=]\s*(?:weighed\s+(?:at\s+)?|=\s*|is\s+|about\s+|ca\.?\s*)?(?P<value>\d+(?:[.,]\d+)?)\s*(?P<unit>g|grams?|ml|cc|c\.c\.)(?![a-z])[^)]*\)?",
    re.I,
)

# "200 grains (or 13 g)", "25 g (about 2 tablespoons)": the same in another unit.
_ONCE_MORE = regex(r"^\s*\((?:or\s+|=\s*|about\s+|approx\w*\.?\s+|ca\.?\s*)*[\d/]+(?:[.,]\d+)?\s*[A-Za-z. ]+\)", re.I)


def _take_amount(text: str, *, usual: System, unit: str, where: str) -> tuple[_AmountFields, str]:
    """The fields of an amount at the beginning of a text, and what stands behind it."""
    taken = take_number(text, where=where)
    filling, rest = "", text
    if taken is None:
        before = _FILLING.match(text)
        if before is None:
            what = f"{text.strip()!r} has no amount" if text.strip() else "no amount was written"
            raise InputError(what, where=where, remedy=_WRITE_AMOUNT)
        amount = Interval.exact(1.0)
    else:
        amount, rest = taken[0].interval, taken[1]
    if fill := _FILLING.match(rest):
        filling, rest = _FILLINGS[fill["fill"].lower()], rest[fill.end() :]
    if amount.high == float("inf"):
        raise InputError(
            f"{text.strip()!r} has no upper end", where=where, remedy="say how much it is at most, such as 5-10 mL"
        )
    found = take_unit(rest, usual=usual)
    if found is not None and found[0][0].quantity == "room":
        raise InputError(f"{text.strip()!r} is as much as a room", where=where, remedy=_WRITE_AMOUNT)
    if found is None:
        key = unit or "part"
        meant: tuple[Unit, ...] = (unit_named(key),)
    else:
        meant, rest = found
        meant = tuple(sorted(meant, key=lambda u: u.key != unit))
    chosen = meant[0]
    ends = _in_house(amount, chosen)
    # The same word in another system: its size counts as doubt.
    for other in meant[1:]:
        low, _, high = _in_house(amount, other)
        ends = (min(ends[0], low), ends[1], max(ends[2], high))
    fields: _AmountFields = {
        "quantity": chosen.quantity,
        "unit": chosen.key,
        "low": ends[0],
        "best": ends[1],
        "high": ends[2],
        "filling": filling,
        "weighs_g": None,
    }
    if chosen.quantity == "mass":
        rest = _ONCE_MORE.sub("", rest, count=1)
    if chosen.quantity == "volume" and (weighed := _WEIGHED.match(rest)):
        value = parse_number(weighed["value"], where=where)
        if weighed["unit"].lower()[:1] in "mc":
            # "two soup spoons (30 ml)": the person says what the spoons hold.
            fields |= {"low": value, "best": value, "high": value}
        else:
            fields["weighs_g"] = value
        rest = rest[weighed.end() :]
    return fields, rest


def _in_house(amount: Interval, unit: Unit) -> tuple[float, float, float]:
    if unit.quantity == "temperature":
        return unit.to_house(amount.low), unit.to_house(amount.best), unit.to_house(amount.high)
    sized = amount.times(Interval.within(unit.size, unit.doubt))
    return sized.low, sized.best, sized.high


def told_amount(house_value: float, unit: str = "", *, kind: str = "volume") -> str:
    """An amount in the unit it was said in, with mL or g beside it where that is another.

    Parameters
    ----------
    house_value : float
        mL, or g.
    unit : str
        Key of the unit that was used; empty: mL or g.
    kind : str
        ``"volume"`` or ``"mass"``.

    Returns
    -------
    str
        Such as ``"473 mL"`` or ``"16 US fl oz (473 mL)"``.
    """
    house = unit_named("ml" if kind == "volume" else "g")
    plain = house.tell(house_value)
    if not unit or unit == house.key:
        return plain
    said = unit_named(unit)
    return plain if said.quantity != kind else f"{said.tell(house_value)} ({plain})"


WATER_WORDS = regex(
    r"^(?:(?:some|cold|warm|hot|tap|plain|distilled|dist\.?|demineralised|demineralized|deionised|deionized|purified|"
    r"boiled|soft|hose|running|well|rain|clear|clean|fresh|bucket)\s+)*(?:water|hose|tap)$",
    re.I,
)


class SaidPart(Document):
    """One thing that goes into a mix, and how much of it."""

    what: str = Field(default="", max_length=LONGEST_NAME, description="as the person calls it; empty where unsaid")
    amount: SaidAmount
    per_ml: float | None = Field(
        default=None, gt=0, description="finished bath for which the amount is meant (1000 for mL/L); none: the mix"
    )
    product: str = Field(
        default="", pattern=rf"^$|{KEY}", description="key of the product on the shelf, where it is known"
    )

    @property
    def is_water(self) -> bool:
        """True of water of any kind."""
        return bool(WATER_WORDS.match(self.what.strip()))


@dataclass(frozen=True, slots=True)
class SaidPortion:
    """So much of one part in a bath of a given volume.

    Parameters
    ----------
    amount : Interval
        mL, or g where the part was said by weight. Of a spoon: mL; `grams` what it weighs as a powder.
    quantity : str
        ``"volume"`` or ``"mass"``.
    grams : Interval or None
        For a spoon or a mass.
    """

    part: SaidPart
    amount: Interval
    quantity: Quantity
    grams: Interval | None


class SaidMix(Document):
    """A bath as people say it.

    Only `text` need be given. Where `parts` are given too, they stand, and the text is how the person puts it.

    `way` says what becomes of the water: filled up to the mark at `volume`; added to that much of it (`volume`); in
    parts, one of which may be water; none at all; or that the text is kept as words of which nothing is computed.
    """

    text: str = Field(min_length=1, max_length=MOST_TEXT, description="as it was typed")
    way: Literal["to_the_mark", "in_water", "parts", "as_it_is", "words"] = Field(
        description="what becomes of the water"
    )
    parts: tuple[SaidPart, ...] = Field(default=(), max_length=MOST_PARTS)
    volume: SaidAmount | None = Field(
        default=None, description="finished bath, or the water it is stirred into; none: the tank's"
    )
    reading: str = Field(default="", max_length=MOST_TEXT * 2, description="how a doubtful notation was read")

    @model_validator(mode="before")
    @classmethod
    def _read(cls, given: Any) -> Any:
        if isinstance(given, str):
            given = {"text": given}
        if not isinstance(given, Mapping) or not isinstance(given.get("text"), str):
            return given
        if given.get("parts") or given.get("way") == "words":
            return given
        try:
            read = _mix_fields(given["text"], usual="metric", where="mix")
        except InputError as error:
            raise ValueError(error.sentence.rstrip(".")) from error
        return {
            **read,
            **{name: value for name, value in given.items() if name not in read},
        }

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.way == "words":
            if self.parts or self.volume:
                raise ValueError("a mix kept as words has no parts and no volume")
            return self
        if not self._as_the_text_says():
            raise ValueError(f"{self.text!r} says other amounts than its parts")
        if not self.parts:
            raise ValueError(f"{self.text!r} names nothing that goes in")
        kinds = {part.amount.quantity == "parts" for part in self.parts}
        if kinds == {True} and self.way in ("to_the_mark", "in_water"):
            raise ValueError(f"{self.text!r} says no amounts; write mL, g or spoons of what goes into the volume")
        if kinds == {True, False}:
            raise ValueError(f"{self.text!r} mixes parts with measured amounts; write all in parts or all in mL and g")
        if self.volume is not None and self.volume.quantity != "volume":
            raise ValueError(f"{self.volume.text!r} is no volume; write it like 600 mL")
        if self.volume is not None and not self.volume.best > 0:
            raise ValueError(f"{self.volume.text!r} holds nothing; give a volume above zero")
        for part in self.parts:
            if not part.amount.best > 0:
                raise ValueError(f"{part.amount.text!r} adds nothing; leave it out or give an amount above zero")
        if any(p.amount.quantity in ("temperature", "length") for p in self.parts):
            raise ValueError(f"{self.text!r} holds a temperature or a length; write amounts in mL, g, parts or spoons")
        return self

    def _as_the_text_says(self) -> bool:
        """False where the text can be read as so many parts and an amount lies wholly beside what it says there."""
        try:
            said = _mix_fields(self.text, usual="metric", where="mix")["parts"]
        except InputError:
            return True
        pairs = list(zip(said, self.parts, strict=False))
        return len(said) != len(self.parts) or all(
            one["amount"]["low"] <= other.amount.high and other.amount.low <= one["amount"]["high"]
            for one, other in pairs
        )

    def tell(self) -> str:
        """What the person typed."""
        return self.text

    @property
    def without_water(self) -> tuple[SaidPart, ...]:
        """The parts that are not water."""
        return tuple(part for part in self.parts if not part.is_water)

    def volume_ml(self) -> Interval | None:
        """Volume of the finished bath as it was said, mL; None where only proportions were said."""
        if self.way == "to_the_mark":
            return None if self.volume is None else self.volume.interval
        if self.way == "in_water" and self.volume is not None:
            # "5 mL in 500 mL" may mean either: into 500 mL of water, or to the 500 mL mark.
            liquid = sum(p.amount.high for p in self.parts if p.amount.quantity == "volume" and not p.amount.is_spoon)
            return Interval(self.volume.low, self.volume.best, self.volume.high + liquid)
        if self.volume is not None:
            return self.volume.interval
        poured = [p.amount for p in self.parts if p.amount.quantity == "volume" and not p.amount.is_spoon]
        if not poured or any(p.amount.quantity == "parts" for p in self.parts):
            return None
        total = Interval.exact(0.0)
        for amount in poured:
            total = total.plus(amount.interval)
        return total

    def portions(self, volume_ml: float | None = None) -> tuple[SaidPortion, ...]:
        """What goes into a bath of so many mL, water left out.

        Parameters
        ----------
        volume_ml : float, optional
            Of the bath; where absent, as much as was said.

        Raises
        ------
        InputError
            If a volume is needed and neither said nor given, or the mix is kept as words.
        """
        if self.way == "words":
            raise InputError(
                f"{self.text!r} is kept as words", where="mix", remedy="say it in amounts to have it reckoned"
            )
        said = self.volume_ml()
        wanted = volume_ml if volume_ml is not None else (said.best if said else None)
        needs_volume = self.way in ("parts", "as_it_is") or any(p.per_ml for p in self.parts)
        if wanted is None and needs_volume and not all(p.amount.quantity != "parts" for p in self.parts):
            raise InputError(f"{self.text!r} says no volume", where="volume", remedy="give the volume to be mixed")
        every = Interval.exact(0.0)
        for part in self.parts:
            every = every.plus(part.amount.interval) if part.amount.quantity == "parts" else every
        return tuple(_portion(part, every, said, wanted) for part in self.without_water)

    def water_ml(self, volume_ml: float | None = None) -> Interval:
        """Water that the bath takes, mL: what its liquids leave of the volume; never below zero."""
        said = self.volume_ml()
        whole = volume_ml if volume_ml is not None else (said.best if said else None)
        if whole is None:
            raise InputError(f"{self.text!r} says no volume", where="volume", remedy="give the volume to be mixed")
        used = Interval.exact(0.0)
        for portion in self.portions(volume_ml):
            if portion.quantity == "volume" and not portion.part.amount.is_spoon:
                used = used.plus(portion.amount)
        return Interval(max(0.0, whole - used.high), max(0.0, whole - used.best), max(0.0, whole - used.low))


def _portion(part: SaidPart, every: Interval, said: Interval | None, wanted: float | None) -> SaidPortion:
    amount = part.amount
    if amount.quantity == "parts":
        assert wanted is not None  # portions() has asked for it
        others = Interval.around(every.low - amount.low, max(0.0, every.best - amount.best), every.high - amount.high)
        low = amount.low / (amount.low + others.high) if amount.low else 0.0
        share = Interval.around(low, amount.best / every.best, amount.high / (amount.high + others.low))
        return SaidPortion(part, share.times(wanted), "volume", None)
    scale = 1.0
    if part.per_ml is not None and wanted is not None:
        scale = wanted / part.per_ml
    elif part.per_ml is None and said is not None and wanted is not None:
        scale = wanted / said.best
    measured = amount.interval.times(scale)
    if amount.quantity == "mass":
        return SaidPortion(part, measured, "mass", measured)
    return SaidPortion(part, measured, "volume", amount.grams().times(scale) if amount.is_spoon else None)


def parse_mix(text: str, *, usual: System = "metric", where: str = "mix") -> SaidMix:
    """Read a mix as people say it.

    Parameters
    ----------
    text : str
        Such as ``"40 mL developer + 1.5 mL fixer + 5 mL ammonia, water to 600"``, ``"1+14"``, ``"1:1"``,
        ``"ammonia and water, three parts and one"``, ``"25 g in 1 L"``, ``"a level tablespoon in 350 mL"``,
        ``"2 mL/L fixer"``, ``"undiluted"``.
    usual : str
        System of a kitchen or fluid measure that names none.
    where : str
        The field, for the error.

    Raises
    ------
    InputError
        With what could not be read and how to write it.
    """
    return SaidMix.model_validate(_checked_mix(_mix_fields(text, usual=usual, where=where), where))


def mix_in_words(text: str) -> SaidMix:
    """A mix that is kept as the person put it and of which nothing is computed.

    Parameters
    ----------
    text : str
        As the person put it.

    Returns
    -------
    SaidMix
        Its `way` is ``"words"``.
    """
    return SaidMix(text=text, way="words")


def _checked_mix(fields: _MixFields, where: str) -> _MixFields:
    """The same, or our sentence where the document would refuse it."""
    read_document(SaidMix, fields, where=where)
    return fields


_WRITE_MIX = "write it like 40 mL developer + 5 mL ammonia, water to 600 mL, or 1+14, or 25 g in 1 L, or three parts ammonia and one water"
_NEAT = regex(
    r"^(?:(?P<name>.*?)[\s,]+)?(?:neat|undiluted|as\s+(?:it\s+is|bought|supplied)|(?:used\s+)?straight(?:\s+from\s+the\s+bottle)?|from\s+(?:the|its)\s+bottle|full\s+strength)$",
    re.I,
)
_WATER = r"(?:(?:distilled|tap|demineralised|demineralized|deionised|deionized|cold|warm|hot|plain)\s+)*water"
_TO_MARK = regex(
    rf"""(?P<head>(?:[\s,;+/]|\band\b|\bthen\b)*
    (?:{_WATER}\s*,?\s*(?:to\s+make(?:\s+up(?:\s+to)?)?|(?:to|ad|up\s+to)(?:\s+the\s+mark)?(?:\s+(?:at|of))?)
      |(?:to\s+make(?:\s+up)?|(?:made|make|making|fill(?:ed)?|top(?:ped)?)\s+(?:it\s+)?(?:up\s+)?(?:with\s+water\s+)?to(?:\s+the\s+mark)?(?:\s+(?:at|of))?)
      |(?<=[a-z,;.)])\s*(?:up\s+)?to(?=\s*(?:\d|(?:one|two|three|half|a|an)\s))))
    (?:\s+(?P<volume>[^\s].*?))?
    (?:\s+(?:with|of|in)\s+{_WATER}|\s+(?:in\s+all|in\s+total|altogether))?[\s.]*$""",
    re.I | re.X,
)
_IN = regex(
    rf"[\s,;]+(?P<word>in|into|to\s+each|to\s+every|to\s+the|to\s+a|for\s+each|for\s+every|for|per|a(?=\s+lit(?:re|er)))\s+(?P<volume>[^+,;]+?)(?:\s+(?:of\s+)?(?P<water>{_WATER}|bath|solution))?[\s.]*$",
    re.I,
)
_IN_AMID = regex(
    rf"^(?P<before>.*?\d.*?)(?P<volume>\s+in\s+(?:a|an|one|half a|\d+(?:[.,]\d+)?)\s*(?:l|lit(?:re|er)s?|ml|gallon|quart)\b(?:\s+(?:of\s+)?{_WATER})?)\s*(?P<behind>(?:\+|;|,|\band\b|\bplus\b)\s*.*\d.*)$",
    re.I,
)
_SLASH_L = regex(
    r"\s*(?:/|\bper\b)\s*(?P<count>\d+(?:[.,]\d+)?)?\s*(?P<unit>ml|l|lit(?:re|er)s?|lt|quarts?|qt|pints?|pt|gallons?|gal)(?![a-z])\.?",
    re.I,
)
_RATIO = regex(
    r"^(?P<before>(?:[^\d+:].*?\s)??)(?P<ratio>\d+(?:[.,]\d+)?(?:\s*[+:]\s*\d+(?:[.,]\d+)?)+|\d+(?:[.,]\d+)?\s+(?:to|in)\s+\d+(?:[.,]\d+)?)(?P<after>(?:\s+.*)?)$",
    re.I,
)
_RATIO_AND_VOLUME = regex(
    r"^(?P<ratio>.*?\d\s*[+:]\s*\d+(?:[.,]\d+)?)\s*[,;]\s*(?P<volume>(?:\d|one|two|half|a)[^,;+]*)$", re.I
)
_EQUAL = regex(
    r"^(?:(?:in\s+)?equal\s+parts(?:\s+of)?|half\s+and\s+half)[\s,:]*(?P<names>.+)?$|^(?P<first>.+?)[\s,:]+(?:in\s+equal\s+parts|half\s+and\s+half|equal\s+parts)$",
    re.I,
)
_TAIL_RATIO = regex(r"^(?P<names>[^\d]+?\s+and\s+[^\d]+?)\s*[,:]\s*(?P<ratio>.+)$", re.I)
_SEPARATORS = regex(
    r"\s*\+\s*|\s*;\s*|\s*&\s*|\s*,\s+(?:and\s+)?|(?<=[a-z.)]),(?=\d)|\s+(?:and|with|plus|to)\s+(?=(?:\d|[\N{VULGAR FRACTION ONE HALF}]|(?:a|an|one|two|three|four|five|six|seven|eight|nine|ten|half)\s|(?:one|two|three|four|five|six|seven|eight|nine|ten)$|(?:(?:distilled|tap)\s+)?water))",
    re.I,
)


def _mix_fields(text: str, *, usual: System, where: str) -> _MixFields:
    """The fields of a mix, read from its text."""
    shown = " ".join(text.split())
    if not shown:
        raise InputError("it says nothing", where=where, remedy=_WRITE_MIX)
    if len(shown) > MOST_TEXT:
        raise InputError(f"it is longer than {MOST_TEXT} signs", where=where, remedy="say it shorter, or as a formula")
    if both := two_baths(shown):
        return {**_halves(both, usual, where), "text": text.strip()}
    shown, supposed = restated(shown)
    if supposed:
        return {**_mix_fields(shown, usual=usual, where=where), "text": text.strip(), "reading": supposed}
    if match := _NEAT.match(shown):
        part: _PartFields = {"what": (match["name"] or "").strip(" ,"), "amount": _amount_fields("1 part", where=where)}
        return {"text": text.strip(), "way": "as_it_is", "parts": [part]}
    shown = re.sub(r"(?<=\d)\s+plus\s+(?=\d)", " + ", shown, flags=re.I)
    if (amid := _IN_AMID.match(shown)) and not _TO_MARK.search(shown) and not _IN.search(amid["behind"]):
        # "60 g in a litre + 5 mL acid": what comes behind goes into the same litre.
        shown = f"{amid['before']} {amid['behind']}{amid['volume']}"
    body, volume, way, watered = _volume_of(shown, usual, where)
    fields: _MixFields = {"text": text.strip(), "volume": volume, "reading": ""}
    # "40 + 1.5 + 5, water to 600" and "100 + 100 in 800 water" are amounts: their water is named beside them.
    ratio = None if watered else _ratio(body, usual, where) or _tail_ratio(body, where)
    proportions = _equal(body, where) or ratio
    if proportions is not None:
        parts, reading = proportions
        # Proportions with a volume make that volume, whether "in" or "to" was said.
        return {**fields, "way": "parts", "parts": parts, "reading": reading, "volume": volume}
    bare = volume["unit"] if volume else ""
    parts = [_part(piece, usual, bare, where) for piece in _pieces(body) if piece.strip()]
    if not parts:
        raise InputError(f"{shown!r} names nothing that goes in", where=where, remedy=_WRITE_MIX)
    if all(p["amount"]["quantity"] == "parts" for p in parts):
        if len(parts) == 1:
            raise InputError(f"{shown!r} says no amount of anything", where=where, remedy=_WRITE_MIX)
        return {**fields, "way": "parts", "parts": parts}
    if way == "":
        measured = [
            p for p in parts if p["amount"]["quantity"] == "volume" and p["per_ml"] is None and not _is_small(p)
        ]
        if any(WATER_WORDS.match(p["what"]) for p in parts):
            way = "parts"
        elif len(measured) == len(parts):
            reading = "no water was named, so none is added; say 'water to 600 mL' where there is some"
            return {**fields, "way": "as_it_is", "parts": parts, "reading": reading}
        else:
            way = "to_the_mark"
    poured = any(p["amount"]["quantity"] == "volume" and p["per_ml"] is None and not _is_small(p) for p in parts)
    if way == "in_water" and watered and volume is not None and poured:
        # "40 mL in 560 mL of water": the water is measured, and the bath is both together.
        water: _PartFields = {"what": "water", "amount": volume, "per_ml": None}
        return {**fields, "volume": None, "way": "parts", "parts": [*parts, water]}
    return {**fields, "way": way, "parts": parts}


def _halves(both: tuple[str, str], usual: System, where: str) -> _MixFields:
    """Two baths poured together in equal parts: of each, its amounts in twice its volume."""
    parts: list[_PartFields] = []
    for half in both:
        mix = SaidMix.model_validate(_mix_fields(half, usual=usual, where=where))
        volume = mix.volume_ml()
        if volume is None or mix.way == "words" or any(part.amount.quantity == "parts" for part in mix.parts):
            raise InputError(f"{half!r} says no volume", where=where, remedy="say it like 60 g in 1 L")
        parts += [
            {
                "what": part.what,
                "amount": cast(_AmountFields, part.amount.model_dump()),
                "per_ml": 2 * volume.best,
                "product": "",
            }
            for part in mix.without_water
        ]
    return {"volume": None, "way": "to_the_mark", "parts": parts, "reading": "equal parts of both, poured together"}


def _is_small(part: _PartFields) -> bool:
    """True of a spoon, a pinch, a drop: what is added to a bath, and no bath."""
    unit = str(part["amount"]["unit"])
    return unit == "drop" or any(word in unit for word in _SPOONS)


def _pieces(body: str) -> list[str]:
    """The things that go in, one by one; what stands in brackets stays together."""
    hidden: list[str] = []

    def hide(match: re.Match[str]) -> str:
        hidden.append(match[0])
        return f"(#{len(hidden) - 1}#)"

    covered = re.sub(r"\([^()]*\)", hide, body)
    return [re.sub(r"\(#(\d+)#\)", lambda m: hidden[int(m[1])], piece) for piece in _SEPARATORS.split(covered)]


def _volume_of(shown: str, usual: System, where: str) -> tuple[str, _AmountFields | None, str, bool]:
    """What stands before "water to 600 mL" or "in 1 L", the volume, which of the two was said, and whether water was."""
    if match := _TO_MARK.search(shown):
        said, head = match["volume"], match["head"]
        watered = bool(re.search(r"water|fill|mark", head, re.I))
        if said is None:
            return shown[: match.start()], None, "to_the_mark", watered
        taken = take_number(said, where=where)
        # "three parts of ammonia to one of water" says no volume.
        named = taken is not None and (said[:1].isdigit() or take_unit(taken[1], usual=usual) is not None)
        if named or re.search(r"water|mak|made|mark|fill", head, re.I):
            try:
                return shown[: match.start()], _as_volume(said, usual, where), "to_the_mark", watered
            except InputError:
                if re.search(r"water|mak|made|mark|fill", head, re.I):
                    raise
    if match := _IN.search(shown):
        said = match["volume"]
        taken = take_number(said, where=where)
        if taken is not None or take_unit(said, usual=usual) is not None:
            try:
                volume = _as_volume(said if taken else f"1 {said}", usual, where)
            except InputError:
                return shown, None, "", False
            stirred_in = taken is not None and match["word"].lower() in ("in", "into")
            watered = match["water"] is not None and bool(re.search("water", match["water"], re.I))
            return shown[: match.start()], volume, "in_water" if stirred_in else "to_the_mark", watered
    if match := _RATIO_AND_VOLUME.match(shown):
        try:
            volume = _as_volume(match["volume"], usual, where)
        except InputError:
            return shown, None, "", False
        return match["ratio"], volume, "to_the_mark", False
    return shown, None, "", False


def _as_volume(said: str, usual: System, where: str) -> _AmountFields:
    """A volume; a bare number is mL, and ounces of a bath are fluid ounces."""
    fields = _amount_fields(
        re.sub(r"(?<![a-z.])(?<!fl )(oz|ounces?)\b\.?", "fl oz", said, flags=re.I), usual=usual, unit="ml", where=where
    )
    if fields["quantity"] != "volume":
        raise InputError(f"{said!r} is no volume", where=where, remedy="write it like 600 mL")
    return {**fields, "text": said.strip()} if "fl" in said or not re.search(r"oz|ounce", said, re.I) else fields


def _equal(body: str, where: str) -> tuple[list[_PartFields], str] | None:
    match = _EQUAL.match(body.strip(" ,"))
    if match is None:
        return None
    names = [
        n.strip(" ,")
        for n in re.split(r"\s+and\s+|\s*\+\s*|\s*,\s*|\s*&\s*", match["names"] or match["first"] or "")
        if n.strip(" ,")
    ]
    if len(names) < 2:
        names = [*names, "water"] if names else ["", "water"]
    return [_parts_of(1.0, name, where) for name in names], ""


def _ratio(body: str, usual: System, where: str) -> tuple[list[_PartFields], str] | None:
    match = _RATIO.match(body.strip(" ,"))
    if match is None or (match["after"].strip() and take_unit(match["after"], usual=usual) is not None):
        return None
    before, after = match["before"].strip(" ,"), re.sub(r"^\s*(?:of|with)\s+", " ", match["after"]).strip(" ,")
    # "developer 1:9 with 2 ml/l fixer" is more than a ratio.
    if re.search(r"\d", before) or re.search(r"\d", after) or (before and after and not WATER_WORDS.match(after)):
        return None
    ratio = match["ratio"]
    numbers = re.split(r"\s*[+:]\s*|\s+(?:to|in)\s+", ratio)
    name = before or ("" if WATER_WORDS.match(after) else after)
    reading = "" if "+" in ratio else f"{ratio} is read as {'+'.join(numbers)}: {_spelled(numbers)}"
    names = [name, *("" for _ in numbers[2:]), "water"]
    # A range ("1 to 14 mL") has its unit behind it and was no ratio; "1+1+10" names none of its first.
    return [_parts_of(parse_number(n, where=where), w, where) for n, w in zip(numbers, names, strict=True)], reading


def _spelled(numbers: list[str]) -> str:
    first, *rest = numbers
    return (
        " and ".join(
            [
                f"{'one part' if first == '1' else first + ' parts'}",
                *(f"{n} {'part' if n == '1' else 'parts'}" for n in rest),
            ]
        )
        + " of water"
    )


def _tail_ratio(body: str, where: str) -> tuple[list[_PartFields], str] | None:
    """ "ammonia and water, three parts and one" and "three parts and one"."""
    match = _TAIL_RATIO.match(body)
    names = re.split(r"\s+and\s+", match["names"].strip(), flags=re.I) if match else []
    counts = re.split(r"\s+(?:and|to)\s+|\s*[+:]\s*", (match["ratio"] if match else body).strip(" ."), flags=re.I)
    read = []
    for count in counts:
        try:
            taken = take_number(count, where=where)
        except InputError:
            return None
        if taken is None or not re.fullmatch(r"\s*(?:parts?)?\s*", taken[1], re.I):
            return None
        read.append(taken[0].interval.best)
    if len(read) < 2 or (names and len(names) != len(read)):
        return None
    names = names or [*("" for _ in read[1:]), "water"]
    return [_parts_of(n, name.strip(" ,"), where) for n, name in zip(read, names, strict=True)], ""


def _parts_of(count: float, name: str, where: str) -> _PartFields:
    if not count > 0:
        raise InputError("no parts of something cannot be mixed", where=where, remedy="give at least a part of each")
    return {
        "what": name,
        "amount": _amount_fields(f"{count:g} {'part' if count == 1 else 'parts'}", where=where),
        "per_ml": None,
    }


def _part(piece: str, usual: System, bare_unit: str, where: str) -> _PartFields:
    """One thing with its amount, whichever of the two comes first."""
    piece = piece.strip(" ,.")
    try:
        return _amount_first(piece, usual, bare_unit, where)
    except InputError as error:
        # "water 10", "fixer 1.5 mL", "KMnO4 2 g": the amount comes last; a figure right behind a letter is the name's.
        match = re.match(
            r"^(?P<what>(?:[^\d~<>]|(?<=[A-Za-z)])\d)*?(?:[^\d\s~<>]|(?<=[A-Za-z)])\d))[\s,:=]+(?P<amount>(?:about|ca\.?|~|<)?\s*[\d.,].*)$",
            piece,
            re.I,
        )
        if match is None:
            raise error
        amount, per_ml = _amount_and_per(match["amount"], usual=usual, unit=bare_unit, where=where)
        return {"what": match["what"].strip(" ,"), "amount": amount, "per_ml": per_ml}


# Things that are counted and not measured: a number of them has no unit of its own.
_COUNTED = regex(
    r"^\s*(?:[\d.,/]+|[a-z]+)\s+(?:sachets?|tablets?|packets?|packs?|bags?|bottles?|capsules?|tins?|cans?|pieces?|ampoules?|scoops?|crystals?)\b",
    re.I,
)


def _amount_first(piece: str, usual: System, bare_unit: str, where: str) -> _PartFields:
    if _COUNTED.match(piece):
        raise InputError(f"{piece!r} says no amount", where=where, remedy="say what it holds, such as 20 g")
    bare_unit = bare_unit if re.match(r"\s*(?:about|ca\.?|~)?\s*[\d.,]", piece) else ""
    fields, rest = _take_amount(piece, usual=usual, unit=bare_unit, where=where)
    head = piece[: len(piece) - len(rest)]
    rest, per_ml = _take_per(rest)
    what = re.sub(r"^\s*(?:of\s+)?(?:the\s+)?", "", rest, flags=re.I).strip(" ,")
    if per_ml is None and (each := re.search(r"\s+per\s+[a-z]+$", what, re.I)):
        behind, per_ml = _take_per(what[each.start() :])
        what = what[: each.start()] if per_ml is not None and not behind.strip() else what
    # "400 mL 3 % peroxide", "4 mL of 10N lye" carry a strength; any other number was an amount that was not read.
    if re.match(r"^[\d.,<>%]", what) and not re.match(r"^\d+(?:[.,]\d+)?\s?(?:%|N\b|M\b|vol)", what):
        raise InputError(f"{what!r} in {piece!r} cannot be read", where=where, remedy=_WRITE_MIX)
    if fields["quantity"] == "mass" and WATER_WORDS.match(what):
        # Water is weighed where it is poured: an ounce of it is a fluid ounce, a gram a mL.
        ounces = re.fullmatch(r"(?P<count>.*?)\s*(?:oz|ounces?)\.?", head.strip(), re.I)
        said = f"{ounces['count']} fl oz" if ounces else f"{fields['best']:g} mL"
        return {"what": what, "amount": _amount_fields(said, usual=usual, unit="ml", where=where), "per_ml": per_ml}
    return {"what": what, "amount": {**fields, "text": head.strip()}, "per_ml": per_ml}


def _amount_and_per(text: str, *, usual: System, unit: str = "", where: str) -> tuple[_AmountFields, float | None]:
    fields, rest = _take_amount(text, usual=usual, unit=unit, where=where)
    head = text[: len(text) - len(rest)]
    rest, per_ml = _take_per(rest)
    if rest.strip(" .,"):
        raise InputError(
            f"{rest.strip()!r} in {text.strip()!r} is no part of an amount", where=where, remedy=_WRITE_AMOUNT
        )
    return {**fields, "text": head.strip()}, per_ml


def _take_per(rest: str) -> tuple[str, float | None]:
    match = _SLASH_L.match(rest)
    if match is None:
        return rest, None
    unit = match["unit"].lower()
    found = take_unit(unit, usual="us") if unit[0] in "qpg" else None
    size = 1.0 if unit == "ml" else ML_PER_L if found is None else found[0][0].size
    return rest[match.end() :], size * (parse_number(match["count"], where="mix") if match["count"] else 1.0)
