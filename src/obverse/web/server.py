"""Run the web face as a server process: for this computer, or on request for the local network."""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import hmac
import ipaddress
import logging
import secrets
import socket
import sys
from collections.abc import Sequence
from pathlib import Path

import segno
import uvicorn
from fastapi import FastAPI

from obverse.foundation import InputError, StoreError
from obverse.system import can_say, listening_socket, may_open_browser, new_private_file, open_browser
from obverse.web.app import create_app
from obverse.web.certificate import own_certificate
from obverse.web.devices import SECRET_BYTES
from obverse.web.guard import LOOPBACK_HOSTS
from obverse.web.sharing import Sharing
from obverse.workbench.bootstrap import Workbench

LOOPBACK = "127.0.0.1"
# The port that throws all away (RFC 863).
DISCARD_PORT = 9
# So long one thread may hold the interpreter while others wait for it. A page asks the store many times and waits anew each
# time; what is reckoned beside it hardly feels that it lets go more often.
TURN_S = 0.0005
# What a code of half blocks is made of; a terminal that cannot show them gets the link alone.
HALF_BLOCKS = "\N{UPPER HALF BLOCK}\N{LOWER HALF BLOCK}\N{FULL BLOCK}"


def house_secret(home: Path) -> str:
    """The secret of this home, made once and kept for its owner alone.

    It outlives the server, so that a page that was open before goes on after a restart.
    """
    file = home / "secret"
    try:
        with contextlib.suppress(FileExistsError), new_private_file(file) as out:
            out.write(secrets.token_urlsafe(SECRET_BYTES).encode())
        text = file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise StoreError(
            f"the file cannot be used ({error})", where=str(file), remedy="check the folder and its permissions"
        ) from error
    if len(text) < SECRET_BYTES:
        raise StoreError("the file is damaged", where=str(file), remedy="delete it; a new one is made")
    return text


def page_token(secret: str) -> str:
    """What state-changing requests must show; derived, so that it says nothing about the secret."""
    return hmac.new(secret.encode(), b"pages", hashlib.sha256).hexdigest()


def lan_address() -> str:
    """The address of this computer on the local network. Nothing is sent to find it.

    Raises
    ------
    InputError
        If there is none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # A documentation address (RFC 5737); connecting a datagram socket only picks the route.
            probe.connect(("192.0.2.1", DISCARD_PORT))
            found = probe.getsockname()[0]
        except OSError:
            found = LOOPBACK
    if ipaddress.ip_address(found).is_loopback:
        raise InputError(
            "this computer is on no network a phone could reach",
            where="--share",
            remedy="join one, or name the address with --address",
        )
    return str(found)


def checked_address(text: str) -> str:
    """An IPv4 address of this computer as given by the person."""
    try:
        address = ipaddress.IPv4Address(text)
    except ValueError as error:
        raise InputError(
            f"{text!r} is not an IPv4 address", where="--address", remedy="give it as 192.168.1.20"
        ) from error
    if address.is_unspecified or address.is_multicast:
        raise InputError(
            f"{text} is not the address of one computer", where="--address", remedy="give it as 192.168.1.20"
        )
    return str(address)


def serve_workbench(
    workbench: Workbench,
    *,
    port: int,
    start_path: str = "/",
    invented: bool = False,
    share_at: str | None = None,
    tls: bool = False,
    browser: bool = False,
    to_say: Sequence[str] = (),
) -> None:
    """Serve until interrupted.

    Parameters
    ----------
    port : int
        0 takes any free one.
    share_at : str, optional
        Address on the local network to bind to as well; absent: this computer only.
    tls : bool
        Seal the connection with a certificate that is made here.
    browser : bool
        Open the start path in the browser of the desktop, where there is a desktop.
    to_say : sequence of str
        Lines for the terminal, said once the port is one's own.
    """
    try:
        with contextlib.ExitStack() as open_sockets:
            first = open_sockets.enter_context(listening_socket(LOOPBACK, port))
            port = first.getsockname()[1]
            sockets = [first]
            if share_at is not None and share_at != LOOPBACK:
                sockets.append(open_sockets.enter_context(listening_socket(share_at, port)))
            if browser and sys.stdout.isatty() and may_open_browser():
                # The socket takes calls already; the browser waits until the house answers.
                open_browser(f"{'https' if tls else 'http'}://{LOOPBACK}:{port}{start_path}")
            for line in to_say:
                print(line)
            # Ctrl+C is how a house is closed; it is no failure.
            with contextlib.suppress(KeyboardInterrupt):
                _serve(workbench, sockets, port, start_path, invented, share_at, tls)
    finally:
        workbench.close()


def _serve(
    workbench: Workbench,
    sockets: list[socket.socket],
    port: int,
    start_path: str,
    invented: bool,
    share_at: str | None,
    tls: bool,
) -> None:
    sys.setswitchinterval(TURN_S)
    secret = house_secret(workbench.home)
    scheme = "https" if tls else "http"
    sharing = None
    if share_at is not None:
        sharing = Sharing(
            hosts=(share_at,),
            address=f"{scheme}://{share_at}:{port}",
            key=secret,
            now=workbench.clock.now,
            kept=workbench.home / "devices.json",
        )
    app = create_app(workbench, token=page_token(secret), invented=invented, sharing=sharing)
    certificate: Path | None = None
    key: Path | None = None
    if tls:
        hosts = (*LOOPBACK_HOSTS, *(sharing.hosts if sharing else ()))
        certificate, key, fingerprint = own_certificate(workbench.home / "tls", hosts, workbench.clock.now())
        print(f"The certificate was made on this computer; its SHA-256 fingerprint is\n{fingerprint}")
    if sharing is not None:
        _tell_share(sharing, tls)
    print(f"obverse is open at {scheme}://{LOOPBACK}:{port}{start_path}  (Ctrl+C closes it)", flush=True)
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        timeout_graceful_shutdown=2,
        ssl_certfile=certificate,
        ssl_keyfile=key,
    )
    _Server(config, app).run(sockets=sockets)


class _Server(uvicorn.Server):
    """Ends the streams before it closes, so that closing takes no time and complains of nothing."""

    def __init__(self, config: uvicorn.Config, app: FastAPI):
        super().__init__(config)
        self._closing = app.state.closing = asyncio.Event()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._closing.set()
        logging.getLogger("uvicorn.error").addFilter(_complains)
        await super().shutdown(sockets)


def _complains(record: logging.LogRecord) -> bool:
    """Whether a line said while closing is a complaint: that pages were cut off which were still being made is none."""
    cut_off = record.exc_info is not None and isinstance(record.exc_info[1], asyncio.CancelledError)
    return not cut_off and not str(record.msg).startswith("Cancel ")


def _tell_share(sharing: Sharing, tls: bool) -> None:
    link = sharing.link or sharing.address
    shown = can_say(HALF_BLOCKS, sys.stdout)
    how = "Scan this" if shown else "Open this link there"
    print(f"Phones on this network may join at {sharing.address}. {how} once, within a quarter of an hour:\n")
    if shown:
        segno.make(link, error="m").terminal(out=sys.stdout, border=2, compact=True)
    print(f"\n{link}\n")
    if not tls:
        print(
            "The connection is not sealed: whoever shares this network could read along. Where strangers do, add --tls."
        )
