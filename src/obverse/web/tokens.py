"""Personal tokens: what a script shows instead of the token of a page.

A token is told once, when it is made; kept is only its SHA-256. It has 256 bits, so a slow hash would add nothing.
It opens the interface under ``/api/`` and neither a page nor the list of who is let in, so no token makes another.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import AwareDatetime, Field

from obverse.foundation import DeniedError, Document, InputError
from obverse.web.kept_file import KeptFile
from obverse.web.pages import page

Scope = Literal["read", "write"]

# Words before the random part, so that a token that lies about somewhere is known for one.
BEGINNING = "obverse_"
MOST_TOKENS = 50
MOST_CHARACTERS_OF_A_NAME = 60
_OPENED = "/api/"
_NEVER_OPENED = ("/api/share/", "/api/pair")


class UnknownTokenError(DeniedError):
    """The token is none of those that were made here, or it was revoked."""

    code = "unknown_token"
    http_status = 401


class PersonalToken(Document):
    """One token that was made, without the token itself."""

    name: str = Field(min_length=1, max_length=MOST_CHARACTERS_OF_A_NAME)
    scope: Scope
    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    made_at: AwareDatetime

    @property
    def id(self) -> str:
        """What the page names it by: the beginning of its hash."""
        return self.sha256[:16]


class _KeptTokens(Document):
    tokens: Annotated[tuple[PersonalToken, ...], Field(max_length=MOST_TOKENS)] = ()


class Tokens:
    """The personal tokens of a home.

    Parameters
    ----------
    file : Path, optional
        Where their hashes are kept; absent: they last as long as the program.
    now : callable
        Gives the present instant.
    """

    def __init__(self, file: Path | None, now: Callable[[], datetime]):
        self._file = KeptFile(
            file,
            _KeptTokens,
            what="the list of the personal tokens",
            without="delete it; make new tokens for your scripts",
        )
        self._now = now
        self._lock = threading.Lock()

    def all(self) -> tuple[PersonalToken, ...]:
        """Those that open something now, the newest first."""
        return self._file.read().tokens[::-1]

    def make(self, name: str, scope: Scope, token: str) -> PersonalToken:
        """Put `token` on the list; the same one sent twice stands there once.

        Raises
        ------
        InputError
            If it has no name, the name of another, or if there are too many.
        """
        wanted = "".join(sign for sign in name if sign.isprintable()).strip()[:MOST_CHARACTERS_OF_A_NAME]
        if not wanted:
            raise InputError("a token needs a name", where="name", remedy="say which script it is for")
        made = PersonalToken(name=wanted, scope=scope, sha256=_hash(token), made_at=self._now())
        with self._lock:
            tokens = self._file.read().tokens
            for other in tokens:
                if other.sha256 == made.sha256:
                    return other
                if other.name == wanted:
                    raise InputError(
                        f"a token is called {wanted!r} already",
                        where="name",
                        remedy="choose another name, or revoke it",
                    )
            if len(tokens) >= MOST_TOKENS:
                raise InputError(
                    f"there are {MOST_TOKENS} tokens already", where="tokens", remedy="revoke one that is not used"
                )
            self._file.write(_KeptTokens(tokens=(*tokens, made)))
        return made

    def revoke(self, id: str) -> None:
        """Take a token off the list; from now on it opens nothing."""
        with self._lock:
            self._file.write(_KeptTokens(tokens=tuple(t for t in self._file.read().tokens if t.id != id)))

    def shown(self, authorization: str) -> PersonalToken | None:
        """The token that an ``Authorization`` header shows; None where it shows none of ours at all.

        Raises
        ------
        UnknownTokenError
            If it shows one that is not on the list.
        """
        kind, _, token = authorization.partition(" ")
        if kind.casefold() != "bearer":
            return None
        seen = _hash(token.strip())
        for made in self._file.read().tokens:
            if hmac.compare_digest(made.sha256, seen):
                return made
        raise UnknownTokenError(
            "this personal token was not made here, or it was revoked", remedy="make one on the page /tokens"
        )


def opens(token: PersonalToken, path: str, *, changes: bool) -> bool:
    """Whether `token` lets a request in.

    Raises
    ------
    DeniedError
        If it is shown where no token counts, or if it may only read.
    """
    if not path.startswith(_OPENED) or path.startswith(_NEVER_OPENED):
        raise DeniedError(
            f"a personal token opens nothing at {path}", remedy="use the addresses under /api/, or the page itself"
        )
    if changes and token.scope != "write":
        raise DeniedError(
            f"the token {token.name!r} may only read", remedy="make one that may write, on the page /tokens"
        )
    return True


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _fresh(key: str, request_id: str) -> str:
    """The token of one press: pressed twice, it is the same, and nothing of it has to be kept."""
    seal = hmac.new(key.encode(), b"token\0" + request_id.encode(), hashlib.sha256).digest()
    return BEGINNING + base64.urlsafe_b64encode(seal).decode().rstrip("=")


router = APIRouter()


def _own_tokens(request: Request) -> Tokens:
    if not request.scope.get("obverse_owner"):
        raise DeniedError("only the computer itself makes tokens", remedy="open this page there")
    tokens: Tokens = request.app.state.tokens
    return tokens


@router.get("/tokens", response_class=HTMLResponse, include_in_schema=False)
def tokens_page(request: Request) -> HTMLResponse:
    """The tokens that were made; only on the computer itself."""
    return page(request, "house/tokens.html", tokens=_own_tokens(request).all(), made=None, token_text="")


@router.post("/tokens", response_class=HTMLResponse, include_in_schema=False)
def make_token(
    request: Request, name: Annotated[str, Form()], scope: Annotated[Scope, Form()], request_id: Annotated[str, Form()]
) -> HTMLResponse:
    """Make a token, and tell it this once."""
    tokens = _own_tokens(request)
    text = _fresh(request.app.state.token, request_id)
    made = tokens.make(name, scope, text)
    return page(request, "house/tokens.html", tokens=tokens.all(), made=made, token_text=text)


@router.post("/tokens/{id}/revoke", include_in_schema=False)
def revoke_token(request: Request, id: str) -> RedirectResponse:
    """Revoke a token."""
    _own_tokens(request).revoke(id)
    return RedirectResponse("/tokens", status_code=303)
