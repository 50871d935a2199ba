"""JSON as text and as plain values, before anything is known of what it means."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from obverse.foundation.errors import InputError, TooLargeError

# A JSON object on its way out of the house, or come in and not looked at yet. Nobody above reads members back out of it:
# what is read is a noun, and `read_document` makes one of it.
JsonObject = Mapping[str, object]


def printable(text: str) -> str:
    """A name as it may be kept and shown: no sign that hides or turns what stands beside it, none that a database cuts off.

    Returns
    -------
    str
        The same.

    Raises
    ------
    ValueError
        If it holds such a sign, or blanks at its ends.
    """
    if not text.isprintable() or text != text.strip():
        raise ValueError("it holds signs that cannot be printed, or blanks at its ends")
    return text


# Marks that turn the way of reading, or isolate a part of it (Unicode Standard Annex 9): nobody sees them, and a name with
# them stands there reversed.
TURNING = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
_TURNING = dict.fromkeys(map(ord, TURNING))


def without_turns(text: str) -> str:
    """A text without marks that turn the way of reading; letters of any script turn it by themselves.

    Returns
    -------
    str
        The same where it has none.
    """
    return text if text.isascii() else text.translate(_TURNING)


# No honest number is written with more signs, and no document of ours has as many entries side by side.
MOST_DIGITS = 100
MOST_KEYS = 5_000
_BEGINS = "{["  # what any document of ours begins with


def parse_json(text: str | bytes, *, where: str = "", most_objects: int | None = None, of_words: str = "") -> Any:
    """Read JSON text; NaN, Infinity, numbers without end and objects without end are refused.

    Parameters
    ----------
    most_objects : int, optional
        How many objects it may hold in all; absent: any number.
    of_words : str
        What to do with a text that is written in words and begins no document; empty: to correct it.

    Returns
    -------
    object
        Mappings, lists, text, numbers, true, false, None.

    Raises
    ------
    TooLargeError
        If a number has more than `MOST_DIGITS` digits, an object more than `MOST_KEYS` entries, or there
        are more than `most_objects` objects.
    InputError
        If it is not JSON, with the line.
    """
    count = 0

    def refuse(word: str) -> None:
        raise InputError(
            f"it holds {word}, which is not a number", where=where, remedy="leave the entry out or give a number"
        )

    def whole(digits: str) -> int:
        if len(digits) > MOST_DIGITS:
            raise TooLargeError(
                f"it holds a number of {len(digits)} digits", where=where, remedy=f"give at most {MOST_DIGITS}"
            )
        return int(digits)

    def entries(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        nonlocal count
        count += 1
        if len(pairs) > MOST_KEYS:
            raise TooLargeError(
                f"it holds {len(pairs)} entries side by side", where=where, remedy=f"give at most {MOST_KEYS}"
            )
        if most_objects is not None and count > most_objects:
            raise TooLargeError(
                f"it holds more than {most_objects} objects", where=where, remedy="send it in several parts"
            )
        return dict(pairs)

    try:
        return json.loads(text, parse_constant=refuse, parse_int=whole, object_pairs_hook=entries)
    except json.JSONDecodeError as error:
        read = error.doc.lstrip("\ufeff").rstrip()
        if not read:
            raise InputError("it is empty", where=where, remedy="choose another, or get it once more") from error
        # A text that is cut short is read to its end, or to the quotation mark that nothing closes.
        if error.pos >= len(error.doc.rstrip()) or error.msg.startswith("Unterminated"):
            raise InputError(
                "it breaks off before its end", where=where, remedy="get the whole of it once more"
            ) from error
        raise InputError(
            f"not JSON at line {error.lineno}, column {error.colno}",
            where=where,
            remedy="correct the file and try again" if not of_words or read.lstrip()[0] in _BEGINS else of_words,
        ) from error
    except (UnicodeDecodeError, RecursionError) as error:
        raise InputError("not readable as JSON text", where=where, remedy="give a UTF-8 JSON file") from error
