"""Film formats: how much film there is, whatever it is cut into.

Baths wear out by area, silver is counted by area, and a reel takes one length. Every size rests on a record: a
standard's figure where one is known, else from memory with its doubt.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, Self

from pydantic import Field, model_validator

from obverse.foundation import Document, InputError, Standing, read_document, regex, whole_number
from obverse.reference import number, record

# What each unit comes to in metres; inch and foot as the international yard of 1959 has them.
METRES: dict[str, float] = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
# A longer piece is no film of one evening: a camera roll of 16 mm is 30.5 or 61 m.
MOST_LENGTH_M = 130.0
MOST_PIECES = 60


@dataclass(frozen=True, slots=True)
class FilmFormat:
    """One format.

    Parameters
    ----------
    key : str
        Its name on every page.
    kind : str
        ``"roll"`` and ``"sheet"`` have an area of their own; ``"length"`` is told by its length.
    size_key : str
        Record of the area in m2, or of the width in m where it goes by length.
    """

    key: str
    kind: Literal["roll", "sheet", "length"]
    size_key: str

    @property
    def width(self) -> Literal["narrow", "wide", "sheet"]:
        """Which kind of reel it goes onto."""
        if self.kind == "sheet":
            return "sheet"
        return "wide" if self.key.split()[0] in ("120", "220", "127") else "narrow"

    @property
    def standing(self) -> Standing:
        """How its size is known."""
        return record(self.size_key).source.standing

    @property
    def words(self) -> str:
        """Its name, with how it is counted."""
        return f"{self.key}, by length" if self.kind == "length" else self.key


FORMATS: dict[str, FilmFormat] = {
    one.key: one
    for one in (
        FilmFormat("135-36", "roll", "area.135-36"),
        FilmFormat("135-24", "roll", "area.135-24"),
        FilmFormat("135-12", "roll", "format.135-12"),
        FilmFormat("135", "length", "format.width_135_m"),
        FilmFormat("120", "roll", "area.120"),
        FilmFormat("220", "roll", "format.220"),
        FilmFormat("127", "roll", "format.127"),
        FilmFormat("120 cut strip", "length", "format.width_120_m"),
        FilmFormat("127 cut strip", "length", "format.width_127_m"),
        FilmFormat("4x5 sheet", "sheet", "area.4x5_sheet"),
        FilmFormat("5x7 sheet", "sheet", "format.5x7_sheet"),
        FilmFormat("8x10 sheet", "sheet", "format.8x10_sheet"),
        FilmFormat("9x12 sheet", "sheet", "format.9x12_sheet"),
        FilmFormat("13x18 sheet", "sheet", "format.13x18_sheet"),
        FilmFormat("16 mm", "length", "format.width_16_mm_m"),
        FilmFormat("double-8", "length", "format.width_16_mm_m"),
        FilmFormat("super 8", "length", "format.width_super_8_m"),
        FilmFormat("super 8 cartridge", "roll", "area.super_8_cartridge"),
    )
}


class FilmPiece(Document):
    """Film of one kind: so many rolls or sheets, or so many lengths."""

    format: str = Field(max_length=40)
    count: int = Field(default=1, ge=1, le=MOST_PIECES)
    length_m: float | None = Field(default=None, gt=0, le=MOST_LENGTH_M, description="of each, where it goes by length")

    @model_validator(mode="after")
    def _measured(self) -> Self:
        kind = FORMATS.get(self.format)
        if kind is None:
            raise ValueError(f"no film size is called {self.format!r}; choose one of {', '.join(FORMATS)}")
        if kind.kind == "length" and self.length_m is None:
            raise ValueError(f"{self.format} goes by its length; give it, such as {self.format} 1.2 m")
        if kind.kind != "length" and self.length_m is not None:
            raise ValueError(f"{self.format} has a length of its own; leave the length out")
        return self

    @property
    def area_m2(self) -> float:
        """Film area of all of them together, m2."""
        return self.count * number(FORMATS[self.format].size_key) * (self.length_m or 1.0)

    @property
    def reels(self) -> int:
        """How many reels it takes: one for each roll or length; sheets hang in a holder."""
        return 0 if FORMATS[self.format].kind == "sheet" else self.count

    @property
    def words(self) -> str:
        """As a person would say it."""
        length = "" if self.length_m is None else f", {length_words(self.length_m)}"
        return f"{self.count} x {self.format}{length}" if self.count > 1 else f"{self.format}{length}"


# What is meant where nobody says what film it is.
ONE_FILM = FilmPiece(format="135-36")


def length_words(length_m: float) -> str:
    """A length with the unit it is measured in: a strip in cm, a roll in m."""
    return f"{length_m:.4g} m" if length_m >= 1 else f"{100 * length_m:.3g} cm"


def pieces_words(pieces: Iterable[FilmPiece]) -> str:
    """Several kinds of film in one line.

    Returns
    -------
    str
        Such as ``"2 x 120 + 135, 40 cm"``.
    """
    return " + ".join(piece.words for piece in pieces)


def area_of_pieces_m2(pieces: Sequence[FilmPiece]) -> float:
    """Film area of all of them, m2; of one 135-36 where none is named.

    Returns
    -------
    float
        m2.
    """
    return sum(piece.area_m2 for piece in pieces or (ONE_FILM,))


def reels_of(pieces: Sequence[FilmPiece]) -> int:
    """Reels that all of them take; one where none is named.

    Returns
    -------
    int
        Sheets take none.
    """
    return sum(piece.reels for piece in pieces or (ONE_FILM,))


# How people call the formats; the longer names first.
_CALLED: tuple[tuple[str, str], ...] = (
    (r"super[ -]?8(?: mm)? cartridges?", "super 8 cartridge"),
    (r"super[ -]?8(?: mm)?", "super 8"),
    (r"(?:double|regular|standard|normal)[ -]?8(?: ?mm)?|2 ?x ?8 ?mm", "double-8"),
    (r"16 ?mm", "16 mm"),
    (r"1?35(?: ?mm)?-36|1?35(?: ?mm)?,? 36 ?exp(?:osures?)?|36 exp(?:osures?)?(?: of)? 1?35(?: ?mm)?", "135-36"),
    (r"1?35(?: ?mm)?-24|1?35(?: ?mm)?,? 24 ?exp(?:osures?)?|24 exp(?:osures?)?(?: of)? 1?35(?: ?mm)?", "135-24"),
    (r"1?35(?: ?mm)?-12|1?35(?: ?mm)?,? 12 ?exp(?:osures?)?|12 exp(?:osures?)?(?: of)? 1?35(?: ?mm)?", "135-12"),
    (r"1?35 ?mm|135", "135"),
    (r"120 cut strips?", "120 cut strip"),
    (r"127 cut strips?", "127 cut strip"),
    (r"120", "120"),
    (r"220", "220"),
    (r"127", "127"),
    (r"4 ?x ?5(?: ?in(?:ch(?:es)?)?)?(?: sheets?)?", "4x5 sheet"),
    (r"5 ?x ?7(?: ?in(?:ch(?:es)?)?)?(?: sheets?)?", "5x7 sheet"),
    (r"8 ?x ?10(?: ?in(?:ch(?:es)?)?)?(?: sheets?)?", "8x10 sheet"),
    (r"9 ?x ?12(?: ?cm)?(?: sheets?)?", "9x12 sheet"),
    (r"13 ?x ?18(?: ?cm)?(?: sheets?)?", "13x18 sheet"),
)
_NAMED = tuple((regex(rf"(?<![\w.])(?:{words})(?![\w.]*\d)(?!\w)"), key) for words, key in _CALLED)
_LENGTH = regex(r"(\d+(?:\.\d+)?) ?(mm|cm|m|metres?|meters?|in|inch|inches|ft|foot|feet)(?!\w)")
_UNITS = {"metre": "m", "metres": "m", "meter": "m", "meters": "m", "inch": "in", "inches": "in", "foot": "ft"}
_UNITS |= {"feet": "ft"}
_SMALL = {word: count for count, word in enumerate(("one", "two", "three", "four", "five", "six"), start=1)}
_FILLING = regex(r"\b(?:x|times|of|a|rolls?|reels?|sheets?|films?|strips?|lengths?|pieces?|each|at|by|long)\b|[,]")


def film_said(text: str, *, where: str = "film") -> tuple[FilmPiece, ...]:
    """What a person says of their film: "2 x 120", "16 mm 3.2 m", "six 4x5 in", "135-36 + 135 40 cm".

    Parameters
    ----------
    where : str
        The field, for the error.

    Returns
    -------
    tuple of FilmPiece
        In the order said; empty for an empty text.

    Raises
    ------
    InputError
        Where a format, a length or a count cannot be told from it.
    """
    plain = re.sub(r"(?<=\d),(?=\d)", ".", text.strip().lower().replace("\N{MULTIPLICATION SIGN}", "x"))
    parts = [part.strip() for part in re.split(r"\+|;|\band\b", plain) if part.strip()]
    return tuple(_one_said(part, text, where) for part in parts)


def _one_said(part: str, text: str, where: str) -> FilmPiece:
    example = "write it such as 135-36, 2 x 120, 16 mm 3.2 m or 6 x 4x5 in"
    named = next(((found, key) for pattern, key in _NAMED if (found := pattern.search(part))), None)
    if named is None:
        raise InputError(f"{text!r} names no film size", where=where, remedy=example)
    found, key = named
    rest = part[: found.start()] + " " + part[found.end() :]
    length_m = None
    measured = _LENGTH.search(rest)
    if measured is not None:
        unit = _UNITS.get(measured[2], measured[2])
        length_m = float(measured[1]) * METRES[unit]
        rest = rest[: measured.start()] + " " + rest[measured.end() :]
    words = _FILLING.sub(" ", rest).split()
    told = (_SMALL[word] if word in _SMALL else whole_number(word) for word in words)
    counts = [count for count in told if count is not None]
    if len(counts) != len(words) or len(counts) > 1:
        raise InputError(f"{text!r} cannot be read as film", where=where, remedy=example)
    if length_m is not None and key in ("120", "127"):
        key = f"{key} cut strip"
    return read_document(
        FilmPiece,
        {"format": key, "count": counts[0] if counts else 1, "length_m": length_m},
        where=f"{where} {text!r}",
    )
