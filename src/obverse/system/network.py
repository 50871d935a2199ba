"""A port that is one's own."""

from __future__ import annotations

import errno
import socket
from typing import Any

from obverse.system.kind import THIS, Kind

# Calls that may wait while the house is busy.
WAITING = 128


def listening_socket(host: str, port: int, kind: Kind = THIS, sockets: Any = socket) -> socket.socket:
    """A socket that takes calls before anything is promised.

    On POSIX systems SO_REUSEADDR only passes over what a closed server left waiting. On Windows the same option would let
    a second server take the port of the first; SO_EXCLUSIVEADDRUSE forbids that (looked up: "Using SO_REUSEADDR and
    SO_EXCLUSIVEADDRUSE", Windows Sockets 2).

    Parameters
    ----------
    host : str
        An IPv4 address of this computer.
    port : int
        0 takes any free one.
    kind : {"linux", "macos", "windows", "other"}
        The system.
    sockets
        `socket`, or what a test puts in its place.

    Returns
    -------
    socket.socket
        It listens.

    Raises
    ------
    OSError
        If the port is taken.
    """
    sock: socket.socket = sockets.socket(sockets.AF_INET, sockets.SOCK_STREAM)
    try:
        option = sockets.SO_EXCLUSIVEADDRUSE if kind == "windows" else sockets.SO_REUSEADDR
        sock.setsockopt(sockets.SOL_SOCKET, option, 1)
        sock.bind((host, port))
        sock.listen(WAITING)
    except OSError as error:
        sock.close()
        if kind == "windows" and isinstance(error, PermissionError):
            # What Windows says of a port that another server holds for itself alone.
            raise OSError(errno.EADDRINUSE, "the port is taken") from error
        raise
    return sock
