"""A house that is closed while it still makes a page complains of nothing."""

import logging
import socket
import threading
import time
import urllib.error
import urllib.request

import pytest
import uvicorn
from fastapi import FastAPI

from obverse.web.server import _Server


class Said(logging.Handler):
    """What a logger lets through to its handlers."""

    def __init__(self):
        super().__init__()
        self.lines = []

    def emit(self, record):
        self.lines.append(f"{record.getMessage()} {record.exc_info}")


def test_closing_while_a_page_is_being_made_says_nothing():
    said, log = Said(), logging.getLogger("uvicorn.error")
    app, asked, done = FastAPI(), threading.Event(), threading.Event()

    @app.get("/slow")
    def slow():
        asked.set()
        done.wait(60)

    @app.get("/wrong")
    def wrong():
        raise ZeroDivisionError

    listening = socket.create_server(("127.0.0.1", 0))
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    server = _Server(uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=0), app)
    log.addHandler(said)
    running = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    running.start()
    with pytest.raises(urllib.error.HTTPError):
        urllib.request.urlopen(f"{address}/wrong", timeout=60)

    def ask():
        with pytest.raises(OSError):
            urllib.request.urlopen(f"{address}/slow", timeout=60)

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    assert asked.wait(60)
    server.should_exit = True
    time.sleep(0.5)
    done.set()
    running.join(60)
    asking.join(60)
    assert not running.is_alive() and not asking.is_alive()
    log.removeHandler(said)
    log.filters.clear()
    # What is no cutting off is complained of as ever.
    assert len(said.lines) == 1 and "ZeroDivisionError" in said.lines[0]
