"""Entries: what a person sends to be kept. Sent again under one id, because an answer was lost, it is kept once.

A form carries its id in the field ``request_id``, a script in the header ``Idempotency-Key``. What was answered
first is kept with the entry, in the same transaction, and is answered again. The id counts together with what was
sent: a form that was gone back to, changed and sent again is another entry.
"""

from __future__ import annotations

import functools
import hashlib
import inspect
import secrets
import threading
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import nullcontext
from io import BytesIO
from typing import Annotated, Any, TypeVar, cast

from fastapi import Depends, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.encoders import jsonable_encoder
from fastapi.routing import APIRoute
from pydantic import BaseModel
from starlette.datastructures import FormData, UploadFile

from obverse.foundation import ConflictError, JsonObject, regex, whole_number
from obverse.web.devices import ID_BYTES
from obverse.web.form_again import OF_ONE_SENDING
from obverse.workbench.bootstrap import Workbench

HEADER = "idempotency-key"
FIELD = "request_id"
_READING = frozenset({"GET", "HEAD", "OPTIONS"})
_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")
_MARK, _ADDS = "_obverse_entry", "_obverse_adds"
_OPENED = regex(r"(\d{1,12}\.\d{3})-[0-9a-f]+")
# Longer after it whoever adds the same has another one in hand.
ASKED_WITHIN_S, S_A_MIN = 1800.0, 60
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


def adds_one(endpoint: E) -> E:
    """Mark a form that puts one more of something there: the same from two pages may be one thing that two people wrote down."""
    setattr(endpoint, _ADDS, True)
    return endpoint


def entry_id(now_s: float) -> str:
    """An id for a form: when its page was opened, and a random part."""
    return f"{now_s:.3f}-{secrets.token_hex(ID_BYTES)}"


def opened_s(given: str) -> float | None:
    """When the page was opened whose form has this id; None where the id is another's."""
    found = _OPENED.fullmatch(given)
    return float(found[1]) if found else None


class Added:
    """What forms have added lately, by what was sent: so that the same, sent from a page that could not show it yet, is asked about."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self._at_s: dict[str, float] = {}

    def ask(self, sent: str, page_opened_s: float | None, now_s: float) -> None:
        """Refuse what was added after that page was opened.

        Raises
        ------
        TwiceError
            Where whoever sends it has not seen that it stands there.
        """
        self._at_s = {one: at_s for one, at_s in self._at_s.items() if now_s - at_s <= ASKED_WITHIN_S}
        at_s = self._at_s.get(sent)
        if at_s is not None and page_opened_s is not None and page_opened_s < at_s:
            minutes = round((now_s - at_s) / S_A_MIN)
            when = f"{minutes} min ago" if minutes else "less than a minute ago"
            raise TwiceError(
                f"the same was entered on another page {when}, and is kept", remedy="keep both only if there are two"
            )

    def note(self, sent: str, now_s: float) -> None:
        """It is added."""
        self._at_s[sent] = now_s


class TwiceError(ConflictError):
    """The same came from two pages; asked once more."""

    code = "sent_twice"


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
    for part in (request.method, request.url.path, request.url.query):
        sent.update(part.encode() + b"\0")
    if form is None:
        sent.update(await request.body())
    else:
        await run_in_threadpool(_weigh, form, sent)
    # What a file held cannot be asked about again.
    files = form is not None and any(isinstance(value, UploadFile) and value.filename for value in form.values())
    request.state.sent, request.state.opened_s = sent.hexdigest(), None if files else opened_s(given)
    request.state.entry = hashlib.sha256(f"{given}\0{request.state.sent}".encode()).hexdigest()


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
    adds = getattr(endpoint, _ADDS, False)
    if inspect.iscoroutinefunction(endpoint):
        raise TypeError(f"{endpoint.__name__} must be a plain function: an entry is one transaction of one thread")

    @functools.wraps(endpoint)
    def entered(*places: Any, **values: Any) -> Any:
        request: Request = values["request"]
        entry = request.state.entry
        if not entry:
            return endpoint(*places, **values)
        workbench: Workbench = request.app.state.workbench
        added: Added = request.app.state.added
        now_s = workbench.clock.now().timestamp()
        made: list[Any] = []

        def work() -> JsonObject:
            if adds:
                added.ask(request.state.sent, request.state.opened_s, now_s)
            made.append(endpoint(*places, **values))
            return _kept_answer(made[0])

        # Of two that come at once the second waits, and is asked.
        with added.lock if adds else nullcontext():
            answer = workbench.once(entry, work)
            if made and adds:
                added.note(request.state.sent, now_s)
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
