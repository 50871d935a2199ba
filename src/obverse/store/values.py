"""What may pass the door: plain JSON, finite numbers, text keys. The rest is refused with its place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from obverse.foundation import InputError

# Deeper than anything we keep; a guard against bodies that only exist to exhaust the stack.
MOST_LEVELS = 60


def plain(value: Any, place: str = "body", level: int = 0) -> Any:
    """A copy of `value` in plain JSON types (tuples become lists).

    Raises
    ------
    InputError
        For NaN or infinity, a key that is not text, a value JSON has no word for, or nesting
        without end; the sentence names the place.
    """
    if level > MOST_LEVELS:
        raise InputError(f"more than {MOST_LEVELS} levels deep", where=place[:80])
    if value is None or isinstance(value, (bool, str)):
        return _text(value, place) if isinstance(value, str) else value
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise InputError(
                f"{value} is not a number that can be kept", where=place, remedy="leave the entry out or give a number"
            )
        return float(value)
    if isinstance(value, Mapping):
        for key in value:
            if not isinstance(key, str):
                raise InputError(f"the key {key!r} is not text", where=place)
        return {_text(key, place): plain(item, f"{place}.{key}", level + 1) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item, f"{place}[{index}]", level + 1) for index, item in enumerate(value)]
    raise InputError(f"a {type(value).__name__} cannot be kept", where=place)


def _text(value: str, place: str) -> str:
    """Text that every database can keep: no NUL, no half of a surrogate pair."""
    try:
        value.encode()
    except UnicodeEncodeError as error:
        raise InputError("the text is not valid Unicode", where=place) from error
    if "\0" in value:
        raise InputError("the text holds a NUL character", where=place)
    return str(value)
