"""Words for what the documents name. One place, so that all pages speak alike."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Container, Iterable

from obverse.process import Grade

OBSERVABLES: dict[str, tuple[str, str]] = {
    "dmax": ("Blacks", "density of the unexposed border, above base"),
    "highlight_density": ("Highlights", "density 0.80 above the mid-tone exposure, above base"),
    "gradient": ("Gradient", "mean slope from 0.25 below to 0.25 above the mid-tone"),
    "midtone_log_exposure": ("Mid-tone", "log exposure of the mid-tone density, against the metered one"),
}

# So many hexadecimal digits that two names of one house do not meet in them by chance.
_MARK = 8


def id_from(name: str, *, most: int, joint: str = "-", otherwise: str = "") -> str:
    """The letters and figures of a name as an id of at most `most` characters; `otherwise` where it has none.

    Accents are left out. What an id cannot hold (letters of other writings, pictures, what is too long) is stood for
    by a mark made of the whole name, so that two such names are two ids.
    """
    plain = "".join(sign for sign in unicodedata.normalize("NFKD", name).casefold() if not unicodedata.combining(sign))
    id = re.sub(r"[^a-z0-9]+", joint, plain).strip(joint)
    if len(id) <= most and not any(map(_beyond_an_id, plain)):
        return id or otherwise
    told = "".join(sign for sign in plain if sign.isalnum() or _beyond_an_id(sign))
    mark = hashlib.sha256(told.encode()).hexdigest()[: min(_MARK, most)]
    return f"{id[: max(0, most - len(mark) - len(joint))].rstrip(joint)}{joint}{mark}".strip(joint)


def _beyond_an_id(sign: str) -> bool:
    return not sign.isascii() and (sign.isalnum() or unicodedata.category(sign) == "So")


def free_id(stem: str, taken: Container[str], *, joint: str = "-") -> str:
    """The stem, or with the first number from 2 on that is not taken."""
    id, number = stem, 2
    while id in taken:
        id, number = f"{stem}{joint}{number}", number + 1
    return id


def grades_text(grades: Iterable[Grade]) -> list[str]:
    """What the eye said, such as "highlights slightly murky", "no tint"."""
    return [
        "no tint" if (grade.of, grade.grade) == ("tint", "none") else f"{grade.of} {grade.grade.replace('_', ' ')}"
        for grade in grades
    ]
