"""The one place where the web face turns errors into words: one JSON shape, one page.

The JSON shape is that of problem details (RFC 9457), with members of our own for who wants the parts of the sentence.
"""

from __future__ import annotations

import logging
import os
from http import HTTPStatus
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException

from obverse.foundation import (
    ConflictError,
    DeniedError,
    InputError,
    NotFoundError,
    ObverseError,
    TooLargeError,
    UnlikelyError,
    plain_complaint,
)
from obverse.web.entries import TwiceError
from obverse.web.form_again import OF_ONE_SENDING, form_again, stood_on
from obverse.web.pages import page, workbench_of

_log = logging.getLogger("obverse.web")

# What heads the answer, by HTTP status (RFC 9110, section 15).
TITLES = {
    401: "Not let in",
    403: "Not let in",
    404: "Nothing here",
    405: "Not that way",
    409: "Somebody was there first",
    413: "Too large",
    422: "That cannot be used",
    429: "Too often",
    503: "The notebook cannot be reached",
}


PROBLEM_MEDIA_TYPE = "application/problem+json"


class Problem(BaseModel):
    """Why a request was not answered: problem details (RFC 9457, section 3), extended (section 3.2)."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    type: str = Field(
        description="What kind of problem, as a reference to the page of this house that explains it.",
        examples=["/help/interfaces#conflict"],
    )
    title: str = Field(
        description="The kind in a few words; the same each time.", examples=["Somebody was there first"]
    )
    status: int = Field(description="The HTTP status of this answer.", examples=[409])
    detail: str = Field(
        description="This problem in one sentence: where, what, and what to do.",
        examples=["revision: the film was changed meanwhile; load it again and repeat."],
    )
    instance: str = Field(
        description="The path that was asked for, percent-encoded.", examples=["/api/notebook/films/4b1d/plan"]
    )
    code: str = Field(description="The kind as one word for programs.", examples=["conflict"])
    what: str = Field(description="What is wrong, without the rest.", examples=["the film was changed meanwhile"])
    where: str = Field(description="The field, file or step it concerns; may be empty.", examples=["revision"])
    remedy: str = Field(description="What to do about it; may be empty.", examples=["load it again and repeat"])
    revision: int | None = Field(
        default=None, description="With a conflict: the revision that stands there now.", examples=[3]
    )

    def told(self) -> str:
        """The problem as JSON; members that say nothing here are left out."""
        return self.model_dump_json(exclude_none=True)


def problem_of(request: Request, error: ObverseError) -> Problem:
    """What is told of `error`, met by `request`."""
    return Problem(
        type=f"/help/interfaces#{error.code}",
        title=_title(error),
        status=error.http_status,
        detail=error.sentence,
        instance=quote(request.scope["path"]),
        code=error.code,
        what=error.what,
        where=error.where,
        remedy=error.remedy,
        revision=error.revision or None if isinstance(error, ConflictError) else None,
    )


def _title(error: ObverseError) -> str:
    if error.code == "unsafe":
        return "Refused: it could hurt someone"
    return TITLES.get(error.http_status, "That did not work")


# Where a refusal says that the thing is another person's: whoever asked may send the same again and have it written down.
ANOTHERS = "people"


def wants_json(request: Request) -> bool:
    """True for the JSON interface and for scripts; False for a person's page."""
    return request.url.path.startswith("/api/") or "text/html" not in request.headers.get("accept", "")


def failure(request: Request, error: ObverseError) -> Response:
    """The answer that tells of `error`."""
    status = error.http_status
    if wants_json(request):
        problem = problem_of(request, error)
        # A 401 says which way in there is (RFC 9110, section 15.5.2).
        headers = {"WWW-Authenticate": "Bearer"} if status == HTTPStatus.UNAUTHORIZED else None
        return Response(problem.told(), status, headers, media_type=PROBLEM_MEDIA_TYPE)
    others, twice = _is_anothers(error), isinstance(error, TwiceError)
    template = "house/error.html" if request.scope.get("obverse_let_in") else "house/refused.html"
    return page(
        request,
        template,
        status_code=status,
        title=_title(error),
        error=error,
        typed=_typed(request, error),
        stood_on=stood_on(request),
        told=_told,
        ask_first=_sent(request) if others and request.method == "POST" else None,
        both=_sent(request) if twice else None,
    )


def _typed(request: Request, error: ObverseError) -> list[tuple[str, str]]:
    """What a form held that came too late, with the revision that stands there now; empty where there is no such form."""
    if not isinstance(error, ConflictError) or not error.revision:
        return []
    return [(name, str(error.revision) if name == "revision" else value) for name, value in _sent(request)]


def _told(request: Request, typed: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """The same as a person typed it: slides by roll and frame, nothing of what a button or the page itself sends."""
    slides = workbench_of(request).projector.slides
    shown = ((name, slides.called(value) if name == "slide" else value) for name, value in typed if value)
    return [(name.replace("_", " "), value) for name, value in shown if name not in ("revision", "press")]


def _sent(request: Request) -> list[tuple[str, str]]:
    """What a form held, without what belongs to one sending of it."""
    typed: list[tuple[str, str]] = request.scope.get("obverse_typed", [])
    return [(name, value) for name, value in typed if name not in OF_ONE_SENDING]


def answer_failures(app: FastAPI) -> None:
    """Teach `app` to answer every failure in our shape."""

    @app.exception_handler(ObverseError)
    async def _ours(request: Request, error: ObverseError) -> Response:
        return await _answer(request, error)

    @app.exception_handler(RequestValidationError)
    async def _validation(request: Request, error: RequestValidationError) -> Response:
        return await _answer(request, _from_validation(error))

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> Response:
        return failure(request, _from_http(request, error))


async def _answer(request: Request, error: ObverseError) -> Response:
    """The form that was refused, as it was typed; where there is none, the answer that tells of `error`."""
    # A name that is taken is told at its field; what was written over meanwhile has a page of its own.
    elsewhere = (isinstance(error, ConflictError) and error.revision > 0) or _is_anothers(error)
    elsewhere = elsewhere or isinstance(error, TwiceError)
    if isinstance(error, InputError) and not elsewhere and not wants_json(request):
        again = await form_again(request, error)
        if again is not None:
            return again
    return failure(request, error)


def _is_anothers(error: ObverseError) -> bool:
    return isinstance(error, UnlikelyError) and error.where == ANOTHERS


def mistake(request: Request, error: Exception) -> Response:
    """The answer to something we did not foresee; the log has one line, or all of it with OBVERSE_TRACE."""
    words = " ".join(f"{type(error).__name__}: {error}".split())
    trace = error if os.environ.get("OBVERSE_TRACE") else None
    _log.error(
        "a mistake of ours at %s %s (%s); OBVERSE_TRACE=1 shows where",
        request.method,
        request.url.path,
        words,
        exc_info=trace,
    )
    return failure(
        request,
        _Mistake("this is a mistake of ours, not of yours", remedy="what was stored before is whole; please report it"),
    )


class _Mistake(ObverseError):
    """Something we did not foresee."""

    code = "mistake"
    http_status = 500


class _NotThatWay(InputError):
    code = "not_that_way"
    http_status = 405


def _from_validation(error: RequestValidationError) -> InputError:
    first = error.errors()[0]
    kind, *place = [str(part) for part in first["loc"]]
    return InputError(plain_complaint(first), where=".".join(place) or kind, remedy="correct it and try again")


def _from_http(request: Request, error: HTTPException) -> ObverseError:
    if error.status_code == HTTPStatus.NOT_FOUND:
        return NotFoundError(f"there is no page {request.url.path}", remedy="go back to the start")
    if error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        return _NotThatWay(
            f"{request.method} is not understood at {request.url.path}",
            remedy="go to the page whose button leads there",
        )
    if error.status_code == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:
        return TooLargeError(str(error.detail))
    if error.status_code in (HTTPStatus.UNAUTHORIZED, HTTPStatus.FORBIDDEN):
        return DeniedError(str(error.detail))
    return InputError(str(error.detail).rstrip("."))
