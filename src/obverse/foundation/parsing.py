"""Numbers as people write them."""

from __future__ import annotations

import math

from obverse.foundation.errors import InputError


def with_point(text: str) -> str:
    """Digits with a decimal comma, or with any minus sign, as `float` reads them.

    Parameters
    ----------
    text : str
        One number; commas between thousands are not looked for.

    Returns
    -------
    str
    """
    return text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")


def parse_number(text: str, *, where: str, example: str = "12.5") -> float:
    """A number written with a decimal point or a decimal comma, with any minus sign.

    Parameters
    ----------
    text : str
    where : str
        The field or option, for the error.
    example : str
        How it could be written.

    Returns
    -------
    float
        Finite.

    Raises
    ------
    InputError
        If it is no number, or not a finite one.
    """
    try:
        value = float(with_point(text))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(f"{text.strip()!r} is not a number", where=where, remedy=f"write it like {example}")
    return value
