"""Numbers as people write them, and the patterns by which words are read."""

from __future__ import annotations

import math
import re
from typing import Any, cast

from obverse.foundation.errors import InputError


def with_point(text: str) -> str:
    """Digits with a decimal comma, or with any minus sign, as `float` reads them.

    Parameters
    ----------
    text : str
        One number; commas between thousands are not looked for.
    """
    return text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")


# More than anything has of frames, revisions or bytes; longer ones are a slip or an attack, and Python refuses them.
_WHOLE = re.compile(r"[0-9]{1,12}")


def whole_number(text: str) -> int | None:
    """A whole number in plain figures, at most twelve of them; None for whatever else is written.

    Returns
    -------
    int or None
        Raised figures and those of other scripts, which `str.isdigit` takes for digits, are none.
    """
    return int(text) if _WHOLE.fullmatch(text) else None


def parse_number(text: str, *, where: str, example: str = "12.5") -> float:
    """A number written with a decimal point or a decimal comma, with any minus sign.

    Parameters
    ----------
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


class _Regex:
    """Stands for a compiled pattern and becomes one when it is first asked to do something."""

    def __init__(self, pattern: str, flags: int) -> None:
        self.pattern = pattern
        self.flags = flags

    def __getattr__(self, name: str) -> Any:
        # The methods are kept with the instance, so that this is asked once for each.
        self.__dict__[name] = getattr(re.compile(self.pattern, self.flags), name)
        return self.__dict__[name]


def regex(pattern: str, flags: int = 0) -> re.Pattern[str]:
    """A regular expression that is compiled when it is first used.

    Four hundred of them are named at the head of the rooms that read what people write; a command uses a few, and
    compiling all was a fifth of its time.

    Parameters
    ----------
    flags : int
        As `re.compile` takes them.

    Returns
    -------
    re.Pattern
        Or what has its methods: it is asked (``it.search(text)``), not handed to a function of `re`.
    """
    return cast("re.Pattern[str]", _Regex(pattern, flags))
