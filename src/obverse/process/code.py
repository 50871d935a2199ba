"""A recipe as one line of text for a QR code: ``OBVERSE1:`` and base45 of the zlib-compressed JSON.

base45 (RFC 9285) uses only the 45 characters that a QR code stores most densely. Whoever has no copy of
this program takes off the first nine characters, decodes base45, inflates with zlib, and reads JSON.
"""

from __future__ import annotations

import json
import zlib
from typing import Any

from obverse.foundation import InputError, parse_json
from obverse.process.recipe import Recipe

CODE_HEAD = "OBVERSE1:"
# The most a QR code of any size holds of the characters of base45 (version 40, level L; ISO/IEC 18004, from memory).
MOST_CHARACTERS = 4296
MOST_BYTES_INFLATED = 1_000_000
# RFC 9285: 45 characters, three of them for two bytes.
BASE, GROUP = 45, 3
_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
_VALUE = {letter: value for value, letter in enumerate(_ALPHABET)}
# Prose that a person can do without; every number of the work stays.
_PROSE = {"why", "cautions", "warnings", "note", "summary", "source", "standing", "robustness"}


def recipe_code(recipe: Recipe, most_characters: int = MOST_CHARACTERS) -> tuple[str, bool]:
    """The recipe as a line of text, whole where it fits, else without its prose and its maker's products.

    Parameters
    ----------
    most_characters : int, optional
        Longest line that is wanted.

    Returns
    -------
    (text, whole)
        The text is empty where even the short form is longer than `most_characters`.
    """
    document = recipe.model_dump(mode="json", exclude_defaults=True)
    # A reader must know what it holds, so the two marks are written although they are defaults.
    document = {"format": recipe.format, "version": recipe.version, **document}
    text = _packed(document)
    if len(text) <= most_characters:
        return text, True
    document.pop("products", None)
    text = _packed(_without_prose(document))
    return (text, False) if len(text) <= most_characters else ("", False)


def read_code(text: str, *, where: str = "QR code") -> Any:
    """The JSON document in such a line.

    Parameters
    ----------
    text : str
        As scanned.
    where : str, optional
        Names the input in an error.

    Returns
    -------
    object
        As `parse_json` gives it.

    Raises
    ------
    InputError
        If it is no such line, or would inflate beyond a megabyte.
    """
    text = text.strip()
    if not text.startswith(CODE_HEAD):
        raise InputError("it is no recipe code", where=where, remedy=f"a recipe code begins with {CODE_HEAD}")
    inflater = zlib.decompressobj()
    try:
        data = inflater.decompress(from_base45(text[len(CODE_HEAD) :]), MOST_BYTES_INFLATED)
    except (ValueError, zlib.error) as error:
        raise InputError("the recipe code is damaged", where=where, remedy="scan it again") from error
    if inflater.unconsumed_tail or not inflater.eof:
        raise InputError("the recipe code is cut off or far too long", where=where, remedy="scan it again")
    return parse_json(data, where=where)


def to_base45(data: bytes) -> str:
    """base45 of RFC 9285: two bytes become three characters, a last single byte two."""
    out = []
    for at in range(0, len(data) - 1, 2):
        value = data[at] * 256 + data[at + 1]
        out += [value % BASE, value // BASE % BASE, value // BASE**2]
    if len(data) % 2:
        out += [data[-1] % BASE, data[-1] // BASE]
    return "".join(_ALPHABET[value] for value in out)


def from_base45(text: str) -> bytes:
    """Undo `to_base45`.

    Raises
    ------
    ValueError
        For a character outside base45, a length or a group that cannot be.
    """
    if len(text) % GROUP == 1:
        raise ValueError("a length that base45 cannot have")
    out = bytearray()
    for at in range(0, len(text), GROUP):
        group = text[at : at + GROUP]
        if any(letter not in _VALUE for letter in group):
            raise ValueError("a character outside base45")
        value = sum(_VALUE[letter] * BASE**power for power, letter in enumerate(group))
        width = len(group) - 1
        if value >= 256**width:
            raise ValueError("a group that stands for no bytes")
        out += value.to_bytes(width, "big")
    return bytes(out)


def _packed(document: Any) -> str:
    raw = json.dumps(document, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()
    return CODE_HEAD + to_base45(zlib.compress(raw, zlib.Z_BEST_COMPRESSION))


def _without_prose(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _without_prose(inner) for name, inner in value.items() if name not in _PROSE}
    if isinstance(value, list):
        return [_without_prose(inner) for inner in value]
    return value
