"""Programs of the house that start at once: forked from a process that has imported it, one such process a test session.

What is started so is a process like any other (own memory, own files, killed by its number); only the second or two of
importing are spared, some eighty times a run of all tests. `python -m obverse` itself is started by other tests.
"""

from __future__ import annotations

import array
import atexit
import json
import os
import select
import socket
import subprocess
import sys

# Imports all, then for each request forks a keeper, which forks the program, tells its number and how it ended.
NEST = """
import array, importlib, json, os, pkgutil, socket, sys
import obverse
for found in pkgutil.walk_packages(obverse.__path__, "obverse."):
    if "migrations" not in found.name and "__main__" not in found.name:
        importlib.import_module(found.name)
from obverse.cli import main

def warm_up():
    # What is loaded, compiled and reckoned once in a process is so before it is forked; no thread is left of it.
    import tempfile
    from pathlib import Path
    from fastapi.testclient import TestClient
    from obverse.web.app import create_app
    from obverse.workbench.bootstrap import open_workbench
    with tempfile.TemporaryDirectory() as home:
        bench = open_workbench(Path(home))
        with TestClient(create_app(bench), base_url="http://127.0.0.1") as web:
            for page in ("/", "/shelf", "/bench", "/bench/processes", "/sink", "/notebook", "/light-table", "/projector", "/help"):
                web.get(page)
        bench.close()

def become(arguments, environment, output):
    os.environ.clear()
    os.environ.update(environment)
    os.dup2(output, 1)
    os.dup2(output, 2)
    sys.stdout = open(1, "w", encoding="utf-8", buffering=1, closefd=False)
    sys.stderr = open(2, "w", encoding="utf-8", buffering=1, closefd=False)
    sys.argv = ["obverse", *arguments]
    try:
        main()
        code = 0
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else 1 if ended.code else 0
    except BaseException:
        import traceback
        traceback.print_exc()
        code = 1
    sys.stdout.flush()
    os._exit(code)

def keep(request, output, told):
    child = os.fork()
    if child == 0:
        os.close(told)
        become(*request, output)
    os.close(output)
    os.write(told, f"{child} ".encode())
    _, status = os.waitpid(child, 0)
    os.write(told, f"{os.waitstatus_to_exitcode(status)} ".encode())
    os._exit(0)

warm_up()
door = socket.socket(fileno=int(sys.argv[1]))
while True:
    size = array.array("i")
    data, extra, _, _ = door.recvmsg(1 << 20, socket.CMSG_LEN(2 * size.itemsize))
    if not data:
        os._exit(0)
    descriptors = array.array("i")
    for _, _, given in extra:
        descriptors.frombytes(given)
    output, told = descriptors
    middle = os.fork()
    if middle == 0:
        # Forked twice, so that nobody need wait for the keeper.
        if os.fork() == 0:
            door.close()
            keep(json.loads(data), output, told)
        os._exit(0)
    os.waitpid(middle, 0)
    os.close(output)
    os.close(told)
"""
_door: list[socket.socket] = []


def _nest() -> socket.socket:
    if not _door:
        here, there = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        # One thread: a library's own threads would not outlive a fork.
        environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        nest = subprocess.Popen(
            [sys.executable, "-c", NEST, str(there.fileno())], pass_fds=[there.fileno()], env=environment
        )
        there.close()
        _door.append(here)
        atexit.register(lambda: (here.close(), nest.wait()))
    return _door[0]


class Forked:
    """A running `obverse`; what it prints is read from `stdout`.

    Parameters
    ----------
    arguments : list of str
        What stands after `obverse`.
    environment : dict of str
        All of its environment.
    """

    def __init__(self, arguments: list[str], environment: dict[str, str]):
        reads, output = os.pipe()
        self._told, told = os.pipe()
        request = json.dumps([arguments, environment]).encode()
        descriptors = array.array("i", [output, told])
        _nest().sendmsg([request], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, descriptors)])
        os.close(output)
        os.close(told)
        self.stdout = os.fdopen(reads, encoding="utf-8")
        self.pid = self._number()
        self.returncode: int | None = None

    def _number(self) -> int:
        digits = b""
        while not digits.endswith(b" "):
            one = os.read(self._told, 1)
            if not one:
                raise RuntimeError("the program ended without a word")
            digits += one
        return int(digits)

    def send_signal(self, how: int) -> None:
        """Send it a signal, if it still runs."""
        if self.returncode is None:
            os.kill(self.pid, how)

    def wait(self, timeout: float | None = None) -> int:
        """Wait until it has ended; the code it ended with.

        Raises
        ------
        subprocess.TimeoutExpired
            If it still runs after `timeout` seconds.
        """
        if self.returncode is None:
            if not select.select([self._told], [], [], timeout)[0]:
                raise subprocess.TimeoutExpired("obverse", timeout or 0)
            self.returncode = self._number()
            os.close(self._told)
        return self.returncode
