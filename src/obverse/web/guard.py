"""The guard at the door of the web face.

A page anywhere on the internet can make a browser send requests to a program on the same computer.
So the house answers only to its own names (Host), takes changes only from its own pages (Origin,
Sec-Fetch-Site, token) or from scripts that show a personal token, and reads no more than it is willing to keep.
"""

from __future__ import annotations

import asyncio
import hmac
import posixpath
from http import HTTPStatus
from typing import Any

from fastapi import HTTPException, Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from obverse.foundation import DeniedError, InputError, ObverseError, TooLargeError, parse_json
from obverse.web.failures import failure, mistake
from obverse.web.sharing import COOKIE, Sharing
from obverse.web.tokens import Tokens, opens

# Bytes of what people call a megabyte; and RFC 6455, 7.4.1: why a socket is closed.
BYTES_A_MB, POLICY_VIOLATION = 1024 * 1024, 1008
LOOPBACK_HOSTS = ("127.0.0.1", "localhost", "::1")
LOOPBACK_PEERS = ("127.0.0.1", "::1")

# What a phone needs before it is paired; none of it tells anything of the darkroom.
OPEN_PATHS = ("/pair", "/api/pair")
OPEN_FOLDER = "/static/house/"

# A 16-bit scan of one frame is below the first; no page of ours sends JSON above the second.
MOST_UPLOAD_BYTES = 160 * 1024 * 1024
MOST_OTHER_BYTES = 16 * 1024 * 1024
# A body we refuse is read away (never kept) up to here, so that the sender hears the refusal.
MOST_DRAINED_BYTES = 1024 * 1024 * 1024

# A series of a hundred strips of three hundred patches is below this; checking that many takes about a second.
MOST_OBJECTS = 40_000

SAFE_METHODS = ("GET", "HEAD", "OPTIONS")

HEADERS = {
    # Styles may stand in elements because the plotting library sets them there; scripts may not.
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
        "font-src 'self'; connect-src 'self'; media-src 'self' blob:; worker-src 'self' blob:; manifest-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), microphone=(), geolocation=(), payment=(), usb=()",
}


class Guard:
    """Pure ASGI, so that streams (server-sent events) pass through untouched."""

    def __init__(self, app: ASGIApp, *, hosts: tuple[str, ...], sharing: Sharing | None = None):
        self._app = app
        self._hosts = frozenset(host.lower() for host in (*hosts, *(sharing.hosts if sharing else ())))
        self._sharing = sharing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": POLICY_VIOLATION})
                return
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        try:
            self._check_host(request)
            _check_personal_token(request)
            self._check_session(request)
            _check_origin(request)
            limit = _limit(request)
            _check_length(request, limit)
        except ObverseError as error:
            await _drain(request, receive)
            await _answer(request, error, scope, receive, _with_headers(scope, send))
            return
        heard = self._while_let_in(request, _until_closing(receive, scope["app"].state.closing))
        passing: Receive = _Counted(heard, limit)
        if request.method not in SAFE_METHODS and "json" in request.headers.get("content-type", ""):
            try:
                passing = await _bounded(passing)
            except ObverseError as error:
                await _answer(request, error, scope, receive, _with_headers(scope, send))
                return
        await self._through(request, passing, _with_headers(scope, send))

    async def _through(self, request: Request, receive: Receive, send: Send) -> None:
        """Pass the request on; whatever comes back, no traceback leaves the house and every answer ends."""
        started = complete = False

        async def watched(message: Message) -> None:
            nonlocal started, complete
            started = True
            complete = message["type"] == "http.response.body" and not message.get("more_body")
            await send(message)

        try:
            await self._app(request.scope, receive, watched)
        except Exception as error:
            answer = mistake(request, error)
            if not started:
                await answer(request.scope, receive, send)
                return
        if started and not complete:
            # A stream that broke off, or that the house ended because it closes.
            await send({"type": "http.response.body", "body": b"", "more_body": False})

    def _while_let_in(self, request: Request, receive: Receive) -> Receive:
        """A stream of a device that is put out meanwhile hears that nobody listens any more."""
        sharing, session = self._sharing, request.cookies.get(COOKIE)
        if sharing is None or request.scope["obverse_owner"]:
            return receive

        async def receiver() -> Message:
            if request.scope["obverse_let_in"] and not (sharing.let_in(session) or _token_stands(request)):
                return {"type": "http.disconnect"}
            return await receive()

        return receiver

    def _check_host(self, request: Request) -> None:
        host = host_name(request.headers.get("host", ""))
        if host not in self._hosts:
            raise DeniedError(
                f"this house does not answer to the name {host[:80]!r}",
                remedy="use the address it printed when it started",
            )

    def _check_session(self, request: Request) -> None:
        """Whoever sits at this computer is the owner; everyone else needs a paired session."""
        host = host_name(request.headers.get("host", ""))
        peer = request.client.host if request.client else ""
        owner = self._sharing is None or (host in LOOPBACK_HOSTS and peer in LOOPBACK_PEERS)
        request.scope["obverse_owner"] = owner
        script = request.scope["obverse_script"]
        let_in = owner or script or (self._sharing is not None and self._sharing.let_in(request.cookies.get(COOKIE)))
        # Pages of the house carry its token; whoever is not let in gets a bare one instead.
        request.scope["obverse_let_in"] = let_in
        if let_in:
            return
        # The folder that a path leads to counts, not how it begins.
        path = posixpath.normpath(request.scope["path"])
        if path in OPEN_PATHS or path.startswith(OPEN_FOLDER):
            return
        raise DeniedError(
            "this phone is not paired with the house", remedy="scan the code that the computer shows under /share"
        )


def _check_personal_token(request: Request) -> None:
    """A script shows a personal token of this house, or none; a wrong one is told, and not passed over."""
    tokens: Tokens = request.app.state.tokens
    shown = tokens.shown(request.headers.get("authorization", ""))
    path = posixpath.normpath(request.scope["path"])
    request.scope["obverse_script"] = shown is not None and opens(
        shown, path, changes=request.method not in SAFE_METHODS
    )


def _token_stands(request: Request) -> bool:
    """Whether the request of a script goes on after its token was looked at once: a revoked one ends its streams."""
    tokens: Tokens = request.app.state.tokens
    try:
        return tokens.shown(request.headers.get("authorization", "")) is not None
    except DeniedError:
        return False


def host_name(header: str) -> str:
    """The host of a Host header, without port and brackets, in lower case."""
    header = header.strip().lower()
    if header.startswith("["):
        return header[1:].split("]")[0]
    return header.rsplit(":", 1)[0] if header.count(":") == 1 else header


def _check_origin(request: Request) -> None:
    """Changes only from our own pages; other sites may link to us, and no more."""
    site = request.headers.get("sec-fetch-site", "")
    origin = request.headers.get("origin")
    if request.method in SAFE_METHODS:
        navigation = (
            request.headers.get("sec-fetch-mode") == "navigate" and request.headers.get("sec-fetch-dest") == "document"
        )
        if site in ("cross-site", "same-site") and not navigation:
            raise DeniedError("another site asked for this", remedy="open the page itself")
        return
    own = f"{request.url.scheme}://{request.headers.get('host', '').lower()}"
    if (origin is not None and origin.lower() != own) or site not in ("", "same-origin", "none"):
        raise DeniedError("another site tried to change something here", remedy="do it on the page itself")


async def check_token(request: Request) -> None:
    """Dependency of the whole application: a change needs the token of our own pages, or a personal one.

    Pairing has no page of ours yet; there the one-time secret itself is what must be shown.
    """
    if request.method in SAFE_METHODS or request.url.path == "/api/pair" or request.scope["obverse_script"]:
        return
    shown = request.headers.get("x-obverse-token")
    if shown is None and request.headers.get("content-type", "").startswith(
        ("application/x-www-form-urlencoded", "multipart/form-data")
    ):
        field = (await request.form()).get("token")
        shown = field if isinstance(field, str) else None
    if shown is None or not hmac.compare_digest(shown.encode(), request.app.state.token.encode()):
        raise DeniedError("the request does not carry the token of this page", remedy="reload the page and try again")


def _limit(request: Request) -> int:
    kind = request.headers.get("content-type", "")
    upload = kind.startswith(("multipart/form-data", "image/", "application/octet-stream"))
    return MOST_UPLOAD_BYTES if upload else MOST_OTHER_BYTES


def _too_large(limit: int) -> TooLargeError:
    return TooLargeError(
        f"more than {limit // BYTES_A_MB} MB is not read", remedy="give a smaller file; nothing was changed"
    )


def _check_length(request: Request, limit: int) -> None:
    length = request.headers.get("content-length", "")
    if length.isdigit() and int(length) > limit:
        raise _too_large(limit)


class _Counted:
    """Passes the body on until it grows beyond the limit (for senders that do not say how much)."""

    def __init__(self, receive: Receive, limit: int):
        self._receive = receive
        self._left = limit
        self._limit = limit

    async def __call__(self) -> Message:
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            # The framework passes this one on as it is, from wherever the body is being read.
            raise HTTPException(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, _too_large(self._limit).sentence.rstrip("."))
        return message


async def _bounded(receive: Receive) -> Receive:
    """Look at a JSON body before anything is built of it; what is no JSON at all is told by the framework.

    Raises
    ------
    TooLargeError
        If it is too long, or holds more than any page of ours sends.
    """
    parts, more = [], True
    while more:
        try:
            message = await receive()
        except HTTPException as error:
            raise TooLargeError(str(error.detail)) from None
        if message["type"] != "http.request":
            break
        parts.append(message.get("body", b""))
        more = message.get("more_body", False)
    body = b"".join(parts)
    try:
        # Off the loop: large ones take a while.
        await asyncio.to_thread(parse_json, body, where="request", most_objects=MOST_OBJECTS)
    except TooLargeError:
        raise
    except InputError:
        pass
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receiver() -> Message:
        return waiting.pop() if waiting else await receive()

    return receiver


def _until_closing(receive: Receive, closing: asyncio.Event | None) -> Receive:
    """Tell streams that nobody listens any more once the house closes, so that they end at once."""
    if closing is None:
        return receive

    async def receiver() -> Message:
        message: asyncio.Future[Message] = asyncio.ensure_future(receive())
        waiting: tuple[asyncio.Future[Any], ...] = (message, asyncio.ensure_future(closing.wait()))
        try:
            await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
            return message.result() if message.done() else {"type": "http.disconnect"}
        finally:
            for task in waiting:
                task.cancel()

    return receiver


async def _drain(request: Request, receive: Receive) -> None:
    length = request.headers.get("content-length", "0")
    if request.method in SAFE_METHODS or not length.isdigit() or not 0 < int(length) <= MOST_DRAINED_BYTES:
        return
    while True:
        message = await receive()
        if message["type"] != "http.request" or not message.get("more_body"):
            return


async def _answer(request: Request, error: ObverseError, scope: Scope, receive: Receive, send: Send) -> None:
    await failure(request, error)(scope, receive, send)


def _with_headers(scope: Scope, send: Send) -> Send:
    static = scope["path"].startswith("/static/")

    async def sender(message: Message) -> None:
        if message["type"] == "http.response.start":
            names = {name for name, _ in message["headers"]}
            extra = dict(HEADERS)
            extra["cache-control"] = "no-cache" if static else "no-store"
            message["headers"] = [
                *message["headers"],
                *((name.encode(), value.encode()) for name, value in extra.items() if name.encode() not in names),
            ]
        await send(message)

    return sender
