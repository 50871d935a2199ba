"""Entries: what a person sends to be kept. Sent again under one id, because an answer was lost, it is kept once.

A form carries its id in the field ``request_id``, a script in the header ``Idempotency-Key``. What was answered
first is kept with the entry, in the same transaction, and is answered again. The id counts together with what was
sent: a form that was gone back to, changed and sent again is another entry.
"""

from __future__ import annotations

import functools
import hashlib
import inspect
from collections.abc import AsyncIterator, Callable, Sequence
from io import BytesIO
from typing import Annotated, Any, TypeVar, cast

from fastapi import Depends, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.encoders import jsonable_encoder
from fastapi.routing import APIRoute
from pydantic import BaseModel
from starlette.datastructures import FormData, UploadFile

from obverse.foundation import JsonObject, whole_number
from obverse.web.form_again import OF_ONE_SENDING
from obverse.workbench.bootstrap import Workbench

HEADER = "idempotency-key"
FIELD = "request_id"
_READING = frozenset({"GET", "HEAD", "OPTIONS"})
_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")
_MARK = "_obverse_entry"
E = TypeVar("E", bound=Callable[..., Any])


async def _form(request: Request) -> AsyncIterator[FormData]:
    async with request.form() as form:
        yield form


Form = Annotated[FormData, Depends(_form)]


def revision_seen(form: FormData) -> int | None:
    """The revision that a form showed; None where nothing stood there yet."""
    return whole_number(str(form.get("revision", "")))


class EntryRoute(APIRoute):
    """A route whose changes are entries. Its endpoints run in threads of their own, as a transaction needs."""

    def __init__(self, path: str, endpoint: Callable[..., Any], *, methods: Sequence[str] | None = None, **more: Any):
        if not set(methods or ("GET",)) <= _READING:
            endpoint = _once(endpoint)
        super().__init__(path, endpoint, methods=None if methods is None else set(methods), **more)


def named_by_itself(endpoint: E) -> E:
    """Mark an endpoint whose entries carry ids of their own, such as the events of a run."""
    setattr(endpoint, _MARK, True)
    return endpoint


async def name_entry(request: Request) -> None:
    """Dependency of the whole application: find the id of an entry, and tie it to what was sent."""
    request.state.entry = ""
    if request.method in _READING:
        return
    form = await request.form() if request.headers.get("content-type", "").startswith(_FORMS) else None
    if form is not None:
        # For the page that says why it was refused: what was typed is not lost.
        request.scope["obverse_typed"] = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]
    given = request.headers.get(HEADER, "") or (str(form.get(FIELD, "")) if form is not None else "")
    if not given:
        return
    sent = hashlib.sha256()
    for part in (given, request.method, request.url.path, request.url.query):
        sent.update(part.encode() + b"\0")
    if form is None:
        sent.update(await request.body())
    else:
        await run_in_threadpool(_weigh, form, sent)
    request.state.entry = sent.hexdigest()


def _weigh(form: FormData, sent: Any) -> None:
    for name, value in form.multi_items():
        if name in OF_ONE_SENDING:
            continue
        sent.update(name.encode() + b"\0")
        if isinstance(value, UploadFile):
            value.file.seek(0)
            sent.update(hashlib.file_digest(cast(BytesIO, value.file), "sha256").digest())
            value.file.seek(0)
        else:
            sent.update(value.encode() + b"\0")


def _once(endpoint: Callable[..., Any]) -> Callable[..., Any]:
    if getattr(endpoint, _MARK, False):
        return endpoint
    if inspect.iscoroutinefunction(endpoint):
        raise TypeError(f"{endpoint.__name__} must be a plain function: an entry is one transaction of one thread")

    @functools.wraps(endpoint)
    def entered(*places: Any, **values: Any) -> Any:
        request: Request = values["request"]
        entry = request.state.entry
        if not entry:
            return endpoint(*places, **values)
        workbench: Workbench = request.app.state.workbench
        made: list[Any] = []

        def work() -> JsonObject:
            made.append(endpoint(*places, **values))
            return _kept_answer(made[0])

        answer = workbench.once(entry, work)
        return made[0] if made else _answered_again(answer)

    # Read where its names are known; older versions of the framework would look for them here.
    entered.__signature__ = inspect.signature(endpoint, eval_str=True)  # type: ignore[attr-defined]
    return named_by_itself(entered)


def _kept_answer(made: Any) -> JsonObject:
    if not isinstance(made, Response):
        return {"json": jsonable_encoder(made)}
    headers = {name: made.headers[name] for name in ("location", "content-type") if name in made.headers}
    return {"status": made.status_code, "headers": headers, "text": bytes(made.body).decode(errors="replace")}


class _SentAnswer(BaseModel):
    """An answer that was no JSON, as it was kept."""

    status: int
    headers: dict[str, str]
    text: str


def _answered_again(answer: JsonObject) -> object:
    if "json" in answer:
        return answer["json"]
    sent = _SentAnswer.model_validate(answer)
    return Response(sent.text, status_code=sent.status, headers=sent.headers)
