"""Run the web face as a server process."""

from __future__ import annotations

import contextlib
import os
import secrets
import socket
from pathlib import Path

import uvicorn

from obverse.foundation import StoreError
from obverse.web.app import create_app
from obverse.workbench.bootstrap import Workbench

LOOPBACK = "127.0.0.1"


def house_secret(home: Path) -> str:
    """The secret of this home, made once and kept for its owner alone.

    It outlives the server, so that a page that was open before goes on after a restart.
    """
    file = home / "secret"
    try:
        with contextlib.suppress(FileExistsError):
            handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w") as out:
                out.write(secrets.token_urlsafe(32))
        text = file.read_text().strip()
    except OSError as error:
        raise StoreError(f"the file cannot be written ({error.strerror})", where=str(file), remedy="check the folder and its permissions") from error
    if len(text) < 32:
        raise StoreError("the file is damaged", where=str(file), remedy="delete it; a new one is made")
    return text


def listening_socket(host: str, port: int) -> socket.socket:
    """A socket bound before anything is promised; an OSError tells that the port is taken."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    sock = socket.socket(family, socket.SOCK_STREAM)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((host, port))
    except OSError:
        sock.close()
        raise
    return sock


def serve_workbench(workbench: Workbench, *, port: int, start_path: str = "/", invented: bool = False) -> None:
    """Serve until interrupted; binds to this computer only."""
    app = create_app(workbench, token=house_secret(workbench.home), invented=invented)
    with listening_socket(LOOPBACK, port) as sock:
        print(f"obverse is open at http://{LOOPBACK}:{sock.getsockname()[1]}{start_path}  (Ctrl+C closes it)", flush=True)
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False, timeout_graceful_shutdown=2))
        try:
            server.run(sockets=[sock])
        finally:
            workbench.close()
