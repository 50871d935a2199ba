"""Strengths as labels print them.

Forms read: ``60 % w/w``, ``60 % w/v``, ``9 g/L``, ``3 mL/L``, ``0.5 mol/L`` (also ``M``), ``42 Be``,
``1+15`` and ``1:15`` (the same: one part and fifteen; the reading is shown), ``pure``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from obverse.foundation import InputError

UNITS = ("% w/w", "% w/v", "% v/v", "g/L", "mL/L", "mol/L", "Be", "1+n", "pure")
# % w/v may pass 100 (dense concentrates), but no solution at hand weighs over 4 g/mL; the Baume scale ends at 72.
MOST_OF_A_UNIT = {"% w/w": 100.0, "% v/v": 100.0, "% w/v": 400.0, "mL/L": 1000.0, "g/L": 4000.0, "Be": 72.0}


@dataclass(frozen=True, slots=True)
class Strength:
    """A number and the unit the label prints. For ``1+n`` the number is n; for ``pure`` it is 1."""

    value: float
    unit: str
    reading: str = ""

    @property
    def text(self) -> str:
        """As we print it."""
        if self.unit == "1+n":
            return f"1+{self.value:g}"
        if self.unit == "pure":
            return "pure"
        return f"{self.value:g} {self.unit}"


_NUMBER = r"(\d+(?:[.,]\d+)?)"
_PATTERNS = (
    (re.compile(rf"^{_NUMBER}\s*%\s*(?:w/w|m/m|ww|by weight)$", re.I), "% w/w"),
    (re.compile(rf"^{_NUMBER}\s*%\s*(?:w/v|m/v|wv)$", re.I), "% w/v"),
    (re.compile(rf"^{_NUMBER}\s*%\s*(?:v/v|vol\.?)$", re.I), "% v/v"),
    (re.compile(rf"^{_NUMBER}\s*g\s*/\s*l$", re.I), "g/L"),
    (re.compile(rf"^{_NUMBER}\s*ml\s*/\s*l$", re.I), "mL/L"),
    (re.compile(rf"^{_NUMBER}\s*(?:[Mm]ol\s*/\s*[Ll]|M)$"), "mol/L"),
    (re.compile(rf"^{_NUMBER}\s*(?:°|deg(?:rees)?\.?)?\s*(?:b[eé]|baum[eé])$", re.I), "Be"),
)
_PARTS = re.compile(rf"^1\s*([+:])\s*{_NUMBER}$")


def parse_strength(text: str, *, where: str = "strength") -> Strength:
    """Read a strength from a label.

    Parameters
    ----------
    text : str
        Such as ``"60 % w/v"``.

    Returns
    -------
    Strength
        Its `reading` says how an ambiguous notation was read.

    Raises
    ------
    InputError
        If the text is no strength, is negative, above 100 %, or a bare ``%`` (ambiguous between
        w/w and w/v; for a 60 % thiosulfate the two differ by a third).
    """
    given = text.strip()
    if given.lower() == "pure":
        return Strength(1.0, "pure")
    if match := _PARTS.match(given):
        sign, parts = match.groups()
        n = float(parts.replace(",", "."))
        reading = f"{given} is read as 1+{n:g}: one part and {n:g} parts of water" if sign == ":" else ""
        return Strength(n, "1+n", reading)
    if re.match(rf"^{_NUMBER}\s*%$", given):
        raise InputError(
            f"{given!r} does not say per weight or per volume",
            where=where,
            remedy=f"write {given} w/w or {given} w/v as the label or safety data sheet means it",
        )
    for pattern, unit in _PATTERNS:
        if match := pattern.match(given):
            value = float(match.group(1).replace(",", "."))
            check_strength(value, unit, where=where)
            return Strength(value, unit)
    raise InputError(
        f"{given!r} is not a strength",
        where=where,
        remedy="write it like 60 % w/w, 60 % w/v, 9 g/L, 0.5 mol/L, 42 Be or 1+15",
    )


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
