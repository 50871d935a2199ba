"""The one error tree. Each face turns these into words in one place.

ObverseError
+-- InputError          what was given cannot be used        exit 2, http 422
|   +-- NotFoundError   nothing is kept under that name      exit 2, http 404
|   +-- ConflictError   somebody else was there first        exit 2, http 409
|   +-- TooLargeError   more than we are willing to read     exit 2, http 413
|   +-- UnlikelyError   it can hardly be; asked once more    exit 2, http 422
+-- UnsafeError         it could hurt someone: refused       exit 3, http 422
+-- DeniedError         the asker is not let in              exit 2, http 403
+-- StoreError          the notebook file cannot be written  exit 2, http 503
"""

from __future__ import annotations

from collections.abc import Sequence


def on_one_line(text: str) -> str:
    """The text on one line, with a mark in place of every sign that cannot be printed."""
    return (
        text
        if text.isprintable()
        else "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    )


class ObverseError(Exception):
    """Base of all errors a person may see, as one sentence: where, what, what to do.

    Parameters
    ----------
    what : str
        What is wrong, without a full stop.
    where : str
        The file, field or step it concerns; may be empty.
    remedy : str
        What to do about it, without a full stop; may be empty.
    """

    code = "error"
    exit_code = 2
    http_status = 400

    def __init__(self, what: str, *, where: str = "", remedy: str = ""):
        # What is told may hold what somebody sent; a terminal must not take it for an order.
        self.what = on_one_line(what)
        self.where = on_one_line(where)
        self.remedy = on_one_line(remedy)
        super().__init__(self.sentence)

    @property
    def sentence(self) -> str:
        """The whole error in one sentence."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head}; {self.remedy}." if self.remedy else f"{head}."

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.what, self.where, self.remedy))


def _rebuild(kind: type[ObverseError], what: str, where: str, remedy: str) -> ObverseError:
    return kind(what, where=where, remedy=remedy)


class InputError(ObverseError, ValueError):
    """What was given cannot be used."""

    code = "bad_input"
    http_status = 422
    # What else is wrong in the same form or document, so that a page tells all of it at once.
    others: tuple[InputError, ...] = ()


def together(errors: Sequence[InputError]) -> InputError:
    """Several complaints as one: the first, which knows the others.

    Parameters
    ----------
    errors : sequence of InputError
        At least one.
    """
    first, *others = errors
    first.others = (*first.others, *others)
    return first


class NotFoundError(InputError):
    """Nothing is kept under that name."""

    code = "not_found"
    http_status = 404


class ConflictError(InputError):
    """Somebody else changed the same thing first.

    Parameters
    ----------
    revision : int
        The revision that stands there now, where it is one that was written over meanwhile; else 0.
    """

    code = "conflict"
    http_status = 409

    def __init__(self, what: str, *, where: str = "", remedy: str = "", revision: int = 0):
        super().__init__(what, where=where, remedy=remedy)
        self.revision = revision


class TooLargeError(InputError):
    """More than we are willing to read."""

    code = "too_large"
    http_status = 413


class UnlikelyError(InputError):
    """It can hardly be meant so; whoever is sure says so, and it is taken."""

    code = "unlikely"


class UnsafeError(ObverseError):
    """It could hurt someone and is refused; no default waves it through."""

    code = "unsafe"
    exit_code = 3
    http_status = 422


class DeniedError(ObverseError):
    """The asker is not let in."""

    code = "denied"
    http_status = 403


class StoreError(ObverseError):
    """The notebook file cannot be read or written (locked, full, damaged)."""

    code = "store"
    http_status = 503
