"""Let a phone in: one-time pairing, sessions, and who counts as the owner.

The house binds to the local network only when asked to. Then everyone who does not sit at this
computer needs a session; a session is had by showing a secret that only the screen of this computer
(terminal or page) tells, once, within a quarter of an hour.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO
from typing import Annotated

import segno
from fastapi import APIRouter, Body, Request, Response
from fastapi.responses import HTMLResponse

from obverse.foundation import DeniedError, NotFoundError
from obverse.web.pages import page

COOKIE = "obverse_session"
SECRET_LIFE = timedelta(minutes=15)
SESSION_LIFE = timedelta(days=30)
# Wrong guesses that are listened to within a minute, and in the life of one secret. The secret has
# 100 bits: these limits are not what keeps it, they keep the house quiet.
MOST_WRONG_A_MINUTE = 5
MOST_WRONG_A_SECRET = 20


class TooOftenError(DeniedError):
    """Too many wrong guesses."""

    code = "too_often"
    http_status = 429


class Sharing:
    """Pairing and sessions of one running house.

    Parameters
    ----------
    hosts : tuple of str
        Names and addresses the house is reached by on the local network, without port.
    address : str
        The address a phone opens, such as ``"http://192.168.7.5:8137"``.
    key : str
        The secret of the home; sessions are signed with it, so that they outlive a restart.
    now : callable
        Gives the present instant.
    """

    def __init__(self, *, hosts: tuple[str, ...], address: str, key: str, now: Callable[[], datetime]):
        self.hosts = hosts
        self.address = address
        self._key = hmac.new(key.encode(), b"sessions", hashlib.sha256).digest()
        self._now = now
        self._lock = threading.Lock()
        self._wrong: list[datetime] = []
        self._secret: str | None = None
        self._made_at = now()
        self._wrong_for_secret = 0
        self.new_secret()

    @property
    def secret(self) -> str | None:
        """The secret that would be accepted now; None where a new one must be asked for."""
        if self._secret is not None and abs(self._now() - self._made_at) > SECRET_LIFE:
            self._secret = None
        return self._secret

    @property
    def link(self) -> str | None:
        """What the QR code says. The secret stands behind the '#': no server and no log sees it."""
        secret = self.secret
        return None if secret is None else f"{self.address}/pair#{secret}"

    def new_secret(self) -> None:
        """Make a fresh secret; the one before is worth nothing from now on."""
        with self._lock:
            self._secret = base64.b32encode(secrets.token_bytes(13)).decode().rstrip("=").lower()
            self._made_at = self._now()
            self._wrong_for_secret = 0

    def pair(self, shown: str) -> str:
        """Exchange the secret for a session; the secret is used up.

        Raises
        ------
        DeniedError
            If it is not the secret, or it was used, or it is too old.
        TooOftenError
            If too many wrong ones were shown lately; then even the right one is not looked at.
        """
        with self._lock:
            now = self._now()
            self._wrong = [instant for instant in self._wrong if abs(now - instant) < timedelta(minutes=1)]
            if len(self._wrong) >= MOST_WRONG_A_MINUTE:
                raise TooOftenError("too many wrong pairing codes", remedy="wait a minute and scan the code again")
            secret = self.secret
            if secret is None or not hmac.compare_digest(secret.encode(), shown.strip().lower().encode()):
                self._wrong.append(now)
                self._wrong_for_secret += 1
                if self._wrong_for_secret >= MOST_WRONG_A_SECRET:
                    self._secret = None
                raise DeniedError(
                    "this pairing code is not valid (each works once, for a quarter of an hour)",
                    remedy="show a new code on the computer and scan it",
                )
            self._secret = None
        return self._sign(secrets.token_hex(12), now)

    def let_in(self, session: str | None) -> bool:
        """True for a session of ours that is not too old."""
        parts = (session or "").split(".")
        if len(parts) != 3 or not parts[1].isdigit():
            return False
        name, issued, _ = parts
        if not hmac.compare_digest(session.encode(), self._signed(name, issued).encode()):
            return False
        return timedelta(days=-1) < self._now() - datetime.fromtimestamp(int(issued), self._now().tzinfo) < SESSION_LIFE

    def _sign(self, name: str, now: datetime) -> str:
        return self._signed(name, str(int(now.timestamp())))

    def _signed(self, name: str, issued: str) -> str:
        seal = hmac.new(self._key, f"{name}.{issued}".encode(), hashlib.sha256).hexdigest()
        return f"{name}.{issued}.{seal}"


def qr_svg(text: str) -> str:
    """The QR code of `text` as an SVG element."""
    out = BytesIO()
    segno.make(text, error="m").save(
        out, kind="svg", xmldecl=False, svgns=True, scale=8, border=3, dark="#000", light="#fff"
    )
    return out.getvalue().decode()


router = APIRouter()


def _sharing(request: Request) -> Sharing:
    sharing = request.app.state.sharing
    if sharing is None:
        raise NotFoundError("this house is not shared", remedy="start it with `obverse serve --share`")
    return sharing


def _owners_sharing(request: Request) -> Sharing:
    if not request.scope.get("obverse_owner"):
        raise DeniedError("only the computer itself lets others in", remedy="open this page there")
    return _sharing(request)


@router.get("/share", response_class=HTMLResponse, include_in_schema=False)
def share(request: Request) -> HTMLResponse:
    """The code to scan; only on the computer itself."""
    if request.app.state.sharing is None:
        return page(request, "house/share.html", link=None, qr=None, shared=False)
    link = _owners_sharing(request).link
    return page(request, "house/share.html", link=link, qr=None if link is None else qr_svg(link), shared=True)


@router.post("/api/share/code", status_code=204)
def new_code(request: Request) -> Response:
    """Make a new pairing code; the one before is void."""
    _owners_sharing(request).new_secret()
    return Response(status_code=204)


@router.get("/pair", response_class=HTMLResponse, include_in_schema=False)
def pair_page(request: Request) -> HTMLResponse:
    """What the phone opens: one button. It tells nothing of the house."""
    _sharing(request)
    return page(request, "house/pair.html")


@router.post("/api/pair", status_code=204)
def pair(request: Request, secret: Annotated[str, Body(embed=True, max_length=100)]) -> Response:
    """Exchange the one-time secret for a session cookie."""
    session = _sharing(request).pair(secret)
    answer = Response(status_code=204)
    answer.set_cookie(
        COOKIE,
        session,
        max_age=int(SESSION_LIFE.total_seconds()),
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
        path="/",
    )
    return answer
