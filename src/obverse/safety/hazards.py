"""Hazards in codes and words: what each substance at its strength may do, what to wear, how to air.

The codes are the rows of the reference (`obverse.reference.hazard_rows`) with their standing. Where a
row gives limits by strength, the band of the strength counts; where it does not, a thin bath is shown
with the codes of the pure substance, because nothing recorded says from where on it is milder.
The bottle's own label and safety data sheet come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from pydantic import BaseModel

from obverse.foundation import Document, InputError, JsonObject, regex
from obverse.process import Formula, Process, Product, Step
from obverse.process.catalog import substances
from obverse.reference import HazardRow, hazard_rows
from obverse.safety.matter import Ingredient, Matter, as_matter

_CODE = regex(r"\b(EUH\d{3}|H\d{3}[A-Za-z]{0,2})\b")

# Water-like: grams per litre are a tenth of a percent by weight. Strong solutions are denser, so this errs high.
_G_PER_L_PER_PERCENT = 10.0

# Labels round their strengths, so a little more counts.
_LABEL_ROUNDING = 1.05

# A part thinner than this is not shown as a hazard of the bath of its own; what it may meet is the checker's work.
# A strength that nobody says counts as this little below the upper end of the strongest band.
_BELOW_THE_BAND = 0.2
_TRACE_PERCENT = 0.1

_WEAR = (
    ("goggles", {"H314", "H318", "H319", "H271", "H330"}, "goggles"),
    ("gloves", {"H314", "H315", "H317", "H312", "H310", "H340", "H350", "H318"}, "nitrile gloves without a hole"),
    ("apron", {"H314", "H290", "H272", "H271"}, "an apron over old clothes"),
)
_AIR = {"H330", "H331", "H332", "H334", "H335", "EUH031", "EUH032"}
# These give off a gas at any strength, whatever the label of a thin bath leaves out.
_VOLATILE = {"ammonia", "sulfite", "dithionite", "hypochlorite", "ketone"}
_GRAVE = {"H340", "H350", "H360FD"}
_DUST = {"H330", "H334", "H335", "H251", "H252", "H317", "H314", "H318", "H340", "H350"}


@dataclass(frozen=True, slots=True)
class Code:
    """One statement: its code, our words for it, the pictogram family, and how it is known."""

    code: str
    words: str
    pictogram: str
    because: str
    standing: str
    strength_counted: bool

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True)
class HazardSheet:
    """Hazards of a bottle or bath.

    Parameters
    ----------
    codes : tuple of Code
        Gravest first, each code once.
    unknown : tuple of str
        Parts of which no codes are recorded: ask their safety data sheet.
    wear : tuple of str
    air : str
        How to ventilate, in words.
    gives_off_gas : bool
        A part of it leaves as a gas at any strength.
    """

    name: str
    codes: tuple[Code, ...]
    unknown: tuple[str, ...]
    wear: tuple[str, ...]
    air: str
    gives_off_gas: bool = False

    @property
    def pictograms(self) -> tuple[str, ...]:
        """Families of the UN pictograms that belong to the codes, each once."""
        return tuple(dict.fromkeys(code.pictogram for code in self.codes if code.pictogram))

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "name": self.name,
            "codes": [code.document() for code in self.codes],
            "pictograms": list(self.pictograms),
            "unknown": list(self.unknown),
            "wear": list(self.wear),
            "air": self.air,
            "defer": "the label and the safety data sheet of the bottle in hand come first",
        }


class _CodeWords(Document):
    words: str
    pictogram: str


class _Band(Document):
    row: str
    at_least_percent: float
    below_percent: float
    codes: tuple[str, ...]


class _HazardData(BaseModel):
    words: dict[str, _CodeWords]
    bands: tuple[_Band, ...]
    one_of_a_shared_row: dict[str, tuple[str, ...]]


@cache
def _data() -> _HazardData:
    return _HazardData.model_validate_json(files("obverse.safety").joinpath("data/hazards.json").read_bytes())


def code_words(code: str) -> tuple[str, str]:
    """Our words for a code and its pictogram family (KeyError for a code we do not hold)."""
    row = _data().words[code]
    return row.words, row.pictogram


def _words_on_a_label(code: str) -> tuple[str, str]:
    """The same for any statement of a label; where we have no words for it, the label has."""
    try:
        return code_words(code)
    except KeyError:
        general = code.rstrip("ABCDFabcdfi") if not code.startswith("EUH") else code
        return code_words(general) if general in _data().words else ("as its label says", "")


@cache
def _rows() -> dict[str, HazardRow]:
    return {row.substance: row for row in hazard_rows()}


def _banded() -> dict[str, list[_Band]]:
    found: dict[str, list[_Band]] = {}
    for band in _data().bands:
        found.setdefault(_family(band.row), []).append(band)
    return found


def _family(row: str) -> str:
    """Rows of one substance at several strengths belong together."""
    return "ammonia" if row.startswith("ammonia ") else row


def codes_of(row: str, percent: float | None) -> tuple[tuple[str, ...], HazardRow, bool]:
    """Codes of a recorded row at a strength in % w/w (None: pure or unknown, the gravest band).

    Returns
    -------
    codes, row, strength_counted
        `strength_counted` is False where the record gives no limits by strength.
    """
    bands = _banded().get(_family(row))
    if bands is None:
        return tuple(dict.fromkeys(_CODE.findall(_rows()[row].codes))), _rows()[row], False
    if percent is None:
        percent = max(band.below_percent for band in bands) - _BELOW_THE_BAND
    for band in bands:
        if band.at_least_percent <= percent < band.below_percent:
            return band.codes, _rows()[band.row], True
    return (), _rows()[row], True


def hazards_of(given: Matter | Formula | Product | str) -> HazardSheet:
    """The hazards of a bottle, bath or substance.

    Raises
    ------
    InputError
        If nothing is known by that name.
    """
    matter = as_matter(given)
    found: dict[str, Code] = {}
    unknown: list[str] = []
    for part in matter.ingredients:
        for code in part.statements:
            words, pictogram = _words_on_a_label(code)
            found.setdefault(code, Code(code, words, pictogram, part.name, "its own label", strength_counted=True))
        if part.kind == "other":
            unknown.append(part.name)
        if part.kind != "substance":
            continue
        percent = None if part.g_per_l is None else min(100.0, _LABEL_ROUNDING * part.g_per_l / _G_PER_L_PER_PERCENT)
        if percent is not None and percent < _TRACE_PERCENT:
            continue
        row = substances()[part.key].hazard_row
        if not row:
            if part.key != "water":
                unknown.append(part.name)
            continue
        codes, source, counted = codes_of(row, percent)
        codes = _data().one_of_a_shared_row.get(part.key, codes)
        for code in codes:
            words, pictogram = code_words(code)
            found.setdefault(code, Code(code, words, pictogram, part.name, source.source.words, counted))
    ordered = tuple(sorted(found.values(), key=_gravity))
    gas = any(name in _VOLATILE for part in matter.ingredients for name in part.classes)
    wear = _wear(ordered, matter.ingredients)
    return HazardSheet(matter.name, ordered, tuple(dict.fromkeys(unknown)), wear, _air(ordered, gas), gas)


def hazards_of_step(step: Step, formulas: Mapping[str, Formula]) -> HazardSheet | None:
    """The hazards of the bath of a step; None for a step without a bath.

    Raises
    ------
    InputError
        If the formula is not given.
    """
    if step.formula is None:
        return None
    if step.formula not in formulas:
        raise InputError(
            f"its formula {step.formula!r} is not at hand", where=step.name, remedy="give the formula with the route"
        )
    return hazards_of(formulas[step.formula])


def hazards_of_route(route: Process, formulas: Mapping[str, Formula]) -> tuple[tuple[Step, HazardSheet], ...]:
    """Every step that has a bath, with its hazards."""
    return tuple(
        (step, sheet) for step in route.steps if (sheet := hazards_of_step(step, route.baths(formulas))) is not None
    )


def _gravity(code: Code) -> tuple[int, str]:
    order = [
        "H350",
        "H340",
        "H360FD",
        "H330",
        "H310",
        "H301",
        "H271",
        "H251",
        "H252",
        "H314",
        "H334",
        "H372",
        "H361d",
        "H318",
        "EUH032",
        "EUH031",
    ]
    return (order.index(code.code) if code.code in order else len(order), code.code)


def _wear(codes: tuple[Code, ...], parts: tuple[Ingredient, ...]) -> tuple[str, ...]:
    have = {code.code for code in codes}
    worn = [words for _, because, words in _WEAR if have & because]
    # Whatever the codes say, gloves and goggles belong to every bath of this process.
    for words in ("goggles", "nitrile gloves without a hole"):
        if words not in worn:
            worn.append(words)
    # A liquid of which nobody says the strength makes no dust.
    dry = (part for part in parts if part.kind == "substance" and part.state != "liquid")
    if have & _DUST and any(part.state == "solid" or part.g_per_l is None for part in dry):
        worn.append("no dust: spoon slowly, a fitting dust mask where the sheet asks for one")
    return tuple(worn)


def _air(codes: tuple[Code, ...], gives_off_gas: bool) -> str:
    have = {code.code for code in codes}
    if have & _GRAVE:
        return "Fan and open window, no spray, nobody else in the room; rather another route."
    if have & _AIR or gives_off_gas:
        return "Open window or fan for as long as the bath is open; face away from the tank."
    return "An aired room."
