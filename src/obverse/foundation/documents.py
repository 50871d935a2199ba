"""Documents: frozen, checked values that travel as JSON.

pydantic does the checking; this module decides the rules of the house (frozen, no unknown
field, no NaN) and turns its first complaint into our one sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError

from obverse.foundation.errors import InputError, together


class Document(BaseModel):
    """A frozen value with a JSON shape. Unknown fields and NaN are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


D = TypeVar("D", bound=Document)


def read_document(kind: type[D], data: Any, *, where: str = "") -> D:
    """Check `data` (a mapping) and build a `kind`.

    Parameters
    ----------
    kind : type[D]
        Class of the noun.
    data : Any
        As read from JSON.
    where : str, optional
        Names the input in an error.

    Returns
    -------
    D
        The checked noun.

    Raises
    ------
    InputError
        With the place and the reason of the first thing that is wrong, and of all `others`; or if it is of a later version.
    """
    _refuse_another_kind(kind, data, where)
    version, newest = data.get("version") if isinstance(data, dict) else None, newest_version(kind)
    if isinstance(version, int) and newest is not None and version > newest:
        raise InputError(
            f"it is of version {version}, and this program reads up to version {newest}",
            where=where,
            remedy="bring the program up to date",
        )
    try:
        return kind.model_validate(data)
    except ValidationError as error:
        raise together([_complaint(found, where) for found in error.errors()]) from error


# What a document is, by its format, and where one such is taken in.
_KINDS_OF_DOCUMENT = {
    "obverse-recipe": ("a recipe", "take it in among the recipes, or with `obverse recipe import`"),
    "obverse-series": ("a film with its strips", "take it in on the page of the notebook"),
    "obverse-process": (
        "a process",
        "take it in among the processes of the bench, or with `obverse process new --file`",
    ),
    "obverse-formula": ("a formula", "mix it with `obverse mix`"),
    "obverse-bath": ("a bath of another bench", "make it from your own bottles with `obverse adapt`"),
    "obverse-shelf": ("a shelf", "give it to `obverse mix --shelf`"),
    "obverse-notebook": ("a whole notebook", "take it in with `obverse import`"),
    "obverse-pool": ("a document of lent strips", "take it in on the page of the pool, or with `obverse pool add`"),
    "obverse-prior": ("what a pool taught", "take it in on the page of the pool, or with `obverse pool adopt`"),
}


def _refuse_another_kind(kind: type[Document], data: Any, where: str) -> None:
    """A document of ours that came in by another's door: what it is, and which door is its own."""
    field = kind.model_fields.get("format")
    given = data.get("format") if isinstance(data, dict) and field is not None else None
    known = _KINDS_OF_DOCUMENT.get(given) if isinstance(given, str) else None
    wanted = get_args(field.annotation) if field is not None else ()
    if known is None or not wanted or given in wanted:
        return
    what, door = known
    here = " or ".join(_KINDS_OF_DOCUMENT[one][0] if one in _KINDS_OF_DOCUMENT else one for one in wanted)
    raise InputError(f"it holds {what}, and {here} is wanted here", where=where, remedy=door)


def _complaint(found: Mapping[str, Any], where: str) -> InputError:
    place = _place(found["loc"])
    shown = "" if found["type"] in ("missing", "extra_forbidden") else _shown(found["input"])
    return InputError(
        f"{place + ': ' if place else ''}{plain_complaint(found)}{shown}",
        where=where,
        remedy="fill it in and try again" if found["input"] == "" else "correct it and try again",
    )


def newest_version(kind: type[Document]) -> int | None:
    """The newest version of a format that is read here.

    Parameters
    ----------
    kind : type[Document]
        Class of the noun.

    Returns
    -------
    int or None
        None for what carries no version because it only travels inside something else.
    """
    field = kind.model_fields.get("version")
    return None if field is None else max(get_args(field.annotation), default=None)


# What pydantic finds wrong, by its type of error, in our words; {names} are members of its context.
_COMPLAINTS = {
    "missing": "it is missing",
    "extra_forbidden": "no such field is known",
    "string_type": "it must be text",
    "string_too_short": "it is empty or too short: at least {min_length} signs",
    "string_too_long": "it is too long: at most {max_length} signs",
    "literal_error": "it must be {expected}",
    "enum": "it must be {expected}",
    "greater_than": "it must be more than {gt}",
    "greater_than_equal": "it must be {ge} or more",
    "less_than": "it must be less than {lt}",
    "less_than_equal": "it must be {le} or less",
    "multiple_of": "it must be a multiple of {multiple_of}",
    "finite_number": "it must be a finite number",
    "too_short": "it needs at least {min_length}",
    "too_long": "it takes at most {max_length}",
    "json_invalid": "it is not JSON",
    "timezone_aware": "it needs its time zone, as in 2026-03-14T20:15:00+01:00",
    "value_error": "{error}",
    "assertion_error": "{error}",
}
# How it must be written, by what its pattern holds; no person reads a pattern.
_WRITTEN = (
    ("[a-z0-9][a-z0-9_.-]", "it must be small letters and digits, with _ . or - between them"),
    ("[^,;", "it may hold no comma, no semicolon and no new line"),
    ("[0-9a-f]", "it must be the digits 0 to 9 and letters a to f, all of them"),
    ("", "it is not written as it must be"),
)
# The same by how the type of error begins.
_KINDS = (
    (("float_", "int_", "decimal_"), "it must be a number"),
    (("bool_",), "it must be true or false"),
    (("date_", "datetime_", "time_"), "it must be a date, as in 2026-03-14"),
    (("list_", "tuple_", "set_", "frozen_set_", "iterable_"), "it must be a list"),
    (("dict_", "model_", "mapping_", "dataclass_"), "it must be an object with named fields"),
    (("union_", "none_"), "it cannot be used as it is"),
)


def plain_complaint(found: Mapping[str, Any]) -> str:
    """One error of pydantic in our words.

    Parameters
    ----------
    found : mapping
        As `ValidationError.errors()` lists it.

    Returns
    -------
    str
        Without its place and without a full stop.
    """
    context = {key: f"{v:.10g}" if isinstance(v, float) else v for key, v in dict(found.get("ctx", {})).items()}
    kind = str(found["type"])
    if kind in ("string_pattern_mismatch", "string_too_short") and found.get("input") == "":
        return "it is empty"
    if kind == "string_pattern_mismatch":
        return next(words for part, words in _WRITTEN if part in context["pattern"])
    if kind in _COMPLAINTS:
        return _COMPLAINTS[kind].format_map(context).rstrip(".")
    return next((words for starts, words in _KINDS if kind.startswith(starts)), "it cannot be used as it is")


def _place(loc: tuple[int | str, ...]) -> str:
    """Turn ('trials', 0, 'steps') into 'trials[0].steps'."""
    text = ""
    for part in loc:
        text += f"[{part}]" if isinstance(part, int) else (f".{part}" if text else str(part))
    return text


def _shown(value: Any) -> str:
    """The offending value, where it is short enough to help."""
    if isinstance(value, (dict, list)) or value == "":
        return ""
    text = f"{value:.10g}" if isinstance(value, float) else repr(value)
    return f" (found {text})" if len(text) <= 40 else ""
