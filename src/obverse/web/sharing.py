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
from collections import OrderedDict
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Annotated

import segno
from fastapi import APIRouter, Body, Request, Response
from fastapi.responses import HTMLResponse
from starlette.background import BackgroundTask

from obverse.foundation import DeniedError, NotFoundError
from obverse.web.devices import SESSION_LIFE, Devices
from obverse.web.pages import page, workbench_of

COOKIE = "obverse_session"
# A code is typed at once or not at all; so many bytes of it are typed in a minute and guessed in no lifetime.
SECRET_LIFE, CODE_BYTES = timedelta(minutes=15), 13
# Pixels of a square of the code that a camera reads, and the quiet rim that it needs (ISO/IEC 18004 asks for four; three are read).
SQUARE_PIXELS, RIM_SQUARES = 8, 3
# One code for an evening at school: for a class and its teachers, and no longer than an evening and its cleaning up.
EVENING_LIFE, MOST_BY_ONE_CODE = timedelta(hours=6), 40
SECONDS_AN_HOUR = 3600
# Wrong guesses of one device that are listened to within a minute, and in the life of one secret. The secret
# has 100 bits: these limits are not what keeps it, they keep the house quiet. Nobody is shut out for another's.
MOST_WRONG_A_MINUTE = 5
MOST_WRONG_A_SECRET = 20
# Devices whose guesses are remembered; a network of a house has fewer.
_MOST_GUESSERS = 1000


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
    kept : Path, optional
        Where the list of the devices that are let in is kept.
    """

    def __init__(
        self, *, hosts: tuple[str, ...], address: str, key: str, now: Callable[[], datetime], kept: Path | None = None
    ):
        self.devices = Devices(kept, now)
        self.hosts = hosts
        self.address = address
        self._key = hmac.new(key.encode(), b"sessions", hashlib.sha256).digest()
        self._now = now
        self._lock = threading.Lock()
        self._wrong: OrderedDict[str, list[datetime]] = OrderedDict()
        self._secret: str | None = None
        self._many, self._left = False, 0
        self._made_at = now()
        self.new_secret()

    @property
    def secret(self) -> str | None:
        """The secret that would be accepted now; None where a new one must be asked for."""
        if self._secret is not None and abs(self._now() - self._made_at) > self.until - self._made_at:
            self._secret = None
        return self._secret

    @property
    def for_many(self) -> bool:
        """Whether the secret lets in more than one device."""
        return self._many

    @property
    def places_left(self) -> int:
        """How many devices the secret still lets in."""
        return self._left if self.secret is not None else 0

    @property
    def until(self) -> datetime:
        """When the secret lets nobody in any more, if nobody closes it before."""
        return self._made_at + (EVENING_LIFE if self.for_many else SECRET_LIFE)

    def close(self) -> None:
        """The secret lets nobody in any more; who is in stays."""
        with self._lock:
            self._secret = None

    @property
    def link(self) -> str | None:
        """What the QR code says. The secret stands behind the '#': no server and no log sees it."""
        secret = self.secret
        return None if secret is None else f"{self.address}/pair#{secret}"

    def new_secret(self, *, for_many: bool = False) -> None:
        """Make a fresh secret; the one before is worth nothing from now on.

        Parameters
        ----------
        for_many : bool
            True makes the one code of an evening: it lets in `MOST_BY_ONE_CODE` devices until it is closed, and at most
            for `EVENING_LIFE`.
        """
        with self._lock:
            self._many, self._left = for_many, MOST_BY_ONE_CODE if for_many else 1
            self._secret = base64.b32encode(secrets.token_bytes(CODE_BYTES)).decode().rstrip("=").lower()
            self._made_at = self._now()
            self._wrong.clear()

    def pair(self, shown: str, *, peer: str = "", name: str = "") -> str:
        """Exchange the secret for a session; the secret is used up.

        Parameters
        ----------
        peer : str
            Address of the device that asks; its wrong guesses are counted by it.
        name : str
            What the device shall be called in the list.

        Raises
        ------
        DeniedError
            If it is not the secret, or it was used, or it is too old.
        TooOftenError
            If too many wrong ones were shown lately; then even the right one is not looked at.
        """
        with self._lock:
            now = self._now()
            wrong = self._wrong.setdefault(peer, [])
            self._wrong.move_to_end(peer)
            while len(self._wrong) > _MOST_GUESSERS:
                self._wrong.popitem(last=False)
            if len(wrong) >= MOST_WRONG_A_SECRET:
                raise TooOftenError(
                    "too many wrong pairing codes came from this device", remedy="show a new code on the computer"
                )
            if sum(abs(now - instant) < timedelta(minutes=1) for instant in wrong) >= MOST_WRONG_A_MINUTE:
                raise TooOftenError("too many wrong pairing codes", remedy="wait a minute and scan the code again")
            secret = self.secret
            if secret is None or not hmac.compare_digest(secret.encode(), shown.strip().lower().encode()):
                wrong.append(now)
                raise DeniedError(
                    "this pairing code is not valid (it was used, closed, or is too old)",
                    remedy="show a new code on the computer and scan it",
                )
            self._left -= 1
            if self._left == 0:
                self._secret = None
        device = self.devices.let_in(name)
        return self._signed(device.id, str(int(device.let_in_at.timestamp())))

    def let_in(self, session: str | None) -> bool:
        """True for a session of ours that is not too old."""
        device = self._device(session)
        return device is not None and self.devices.knows(device)

    def person_of(self, session: str | None) -> str:
        """Whose the device of a session is; empty where nobody said, or it is none of ours."""
        device = self._device(session)
        return "" if device is None else self.devices.person_of(device)

    def belongs(self, session: str | None, person: str) -> None:
        """Say whose the device of a session is."""
        device = self._device(session)
        if device is not None:
            self.devices.belongs(device, person)

    def _device(self, session: str | None) -> str | None:
        """The id that a session of ours names; None for what we never signed."""
        session = session or ""
        parts = session.split(".")
        if len(parts) != 3 or not parts[1].isdigit():
            return None
        name, issued, _ = parts
        return name if hmac.compare_digest(session.encode(), self._signed(name, issued).encode()) else None

    def _signed(self, name: str, issued: str) -> str:
        seal = hmac.new(self._key, f"{name}.{issued}".encode(), hashlib.sha256).hexdigest()
        return f"{name}.{issued}.{seal}"


def qr_svg(text: str) -> str:
    """The QR code of `text` as an SVG element."""
    out = BytesIO()
    segno.make(text, error="m").save(
        out, kind="svg", xmldecl=False, svgns=True, scale=SQUARE_PIXELS, border=RIM_SQUARES, dark="#000", light="#fff"
    )
    return out.getvalue().decode()


def phone_link(request: Request, path: str) -> str:
    """The address of a page for phones; empty where no phone is let in.

    What is printed at this computer must not lead a phone to itself.
    """
    sharing: Sharing | None = request.app.state.sharing
    return "" if sharing is None else sharing.address + path


router = APIRouter()


def _sharing(request: Request) -> Sharing:
    sharing: Sharing | None = request.app.state.sharing
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
    sharing = _owners_sharing(request)
    link = sharing.link
    return page(
        request,
        "house/share.html",
        link=link,
        qr=None if link is None else qr_svg(link),
        shared=True,
        devices=sharing.devices.all(),
        days=SESSION_LIFE.days,
        for_many=sharing.for_many,
        places_left=sharing.places_left,
        hours=EVENING_LIFE.total_seconds() / SECONDS_AN_HOUR,
    )


@router.get("/share/sheet.pdf", include_in_schema=False)
def wall_sheet(request: Request, paper: str = "") -> Response:
    """The code of the evening as one sheet for the wall; only on the computer itself."""
    from obverse.sheets.wall_sheet import wall_sheet_pdf
    from obverse.web.units import paper_of

    sharing = _owners_sharing(request)
    if sharing.link is None or not sharing.for_many:
        raise NotFoundError("there is no code for the evening", where="share", remedy="make one on the page /share")
    data = wall_sheet_pdf(
        sharing.link, until=sharing.until.astimezone(), places=sharing.places_left, paper=paper_of(request, paper)
    )
    headers = {"Content-Disposition": 'inline; filename="wall-sheet.pdf"', "Cache-Control": "no-store"}
    return Response(data, media_type="application/pdf", headers=headers)


@router.post("/api/share/evening", status_code=204)
def evening_code(request: Request) -> Response:
    """Make the one code of an evening, for many devices; the code before is void."""
    _owners_sharing(request).new_secret(for_many=True)
    return Response(status_code=204, background=BackgroundTask(workbench_of(request).reckon_ahead))


@router.post("/api/share/close", status_code=204)
def close_code(request: Request) -> Response:
    """The code lets nobody in any more; who is in stays."""
    _owners_sharing(request).close()
    return Response(status_code=204)


@router.post("/api/share/code", status_code=204)
def new_code(request: Request) -> Response:
    """Make a new pairing code; the one before is void."""
    _owners_sharing(request).new_secret()
    return Response(status_code=204)


@router.post("/api/share/devices/{id}/out", status_code=204)
def put_out(request: Request, id: str) -> Response:
    """Put a device out; it must be paired anew."""
    _owners_sharing(request).devices.put_out(id)
    return Response(status_code=204)


@router.post("/api/share/out", status_code=204)
def put_all_out(request: Request) -> Response:
    """Put all devices out."""
    _owners_sharing(request).devices.put_out_all()
    return Response(status_code=204)


@router.get("/pair", response_class=HTMLResponse, include_in_schema=False)
def pair_page(request: Request) -> HTMLResponse:
    """What the phone opens: one button. It tells nothing of the house."""
    _sharing(request)
    return page(request, "house/pair.html", days=SESSION_LIFE.days)


@router.post("/api/pair", status_code=204)
def pair(
    request: Request,
    secret: Annotated[str, Body(max_length=100)],
    name: Annotated[str, Body(max_length=200)] = "",
) -> Response:
    """Exchange the one-time secret for a session cookie."""
    session = _sharing(request).pair(secret, peer=request.client.host if request.client else "", name=name)
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
