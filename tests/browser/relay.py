"""A relay between a page and a house that can lose the way: for tests of the watch."""

from __future__ import annotations

import contextlib
import socket
import threading


class Relay:
    """Passes bytes on, both ways, until it is told to lose them.

    Attributes
    ----------
    mode : str
        ``"open"``; ``"dropped"``: nothing is passed any more and nothing is closed, new calls hang;
        ``"half_open"``: the end at the house is closed, the page is never told.
    """

    def __init__(self, port: int):
        self._to = port
        self.mode = "open"
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        self._houses: list[socket.socket] = []
        self._pages: list[socket.socket] = []
        threading.Thread(target=self._take, daemon=True).start()

    def half_open(self) -> None:
        """Close every connection at the house's end only."""
        self.mode = "half_open"
        for end in self._houses:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """No more calls; what is open is closed."""
        self.mode = "closed"
        for end in (self._server, *self._pages, *self._houses):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def _take(self) -> None:
        while True:
            try:
                page, _ = self._server.accept()
            except OSError:
                return
            self._pages.append(page)
            threading.Thread(target=self._serve, args=(page,), daemon=True).start()

    def _serve(self, page: socket.socket) -> None:
        if self.mode != "open":
            # Taken, never answered.
            while self.mode not in ("open", "closed"):
                threading.Event().wait(0.1)
            page.close()
            return
        house = socket.create_connection(("127.0.0.1", self._to))
        self._houses.append(house)
        threading.Thread(target=self._pass, args=(page, house, False), daemon=True).start()
        self._pass(house, page, True)

    def _pass(self, source: socket.socket, sink: socket.socket, to_page: bool) -> None:
        born = self.mode
        while True:
            try:
                data = source.recv(65536)
            except OSError:
                data = b""
            if not data:
                break
            if self.mode == "open" and born == "open":
                with contextlib.suppress(OSError):
                    sink.sendall(data)
        if self.mode == "open":
            with contextlib.suppress(OSError):
                sink.shutdown(socket.SHUT_WR)
