"""Programs of the house that start at once: forked from a process that has imported it, one such process for all workers of a run.

What is started so is a process like any other (own memory, own files, killed by its number); only the second or two of
importing are spared, some eighty times a run of all tests. `python -m obverse` itself is started by other tests.
"""

from __future__ import annotations

import array
import json
import os
import select
import socket
import subprocess
import sys
import time

# Imports all, then for each request forks a keeper, which forks the program, tells its number and how it ended.
# It ends by itself when no worker of the run is left, and with it what was to last as long.
NEST = """
import array, gc, importlib, json, os, pkgutil, select, signal, socket, sys
listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
try:
    listener.bind("\\0" + sys.argv[1])
except OSError:
    sys.exit()  # another worker's is there already
listener.listen(64)
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
    from obverse.model.simulate import demo_film, simulate_series
    from obverse.web.app import create_app
    from obverse.workbench.bootstrap import open_workbench
    with tempfile.TemporaryDirectory() as home:
        bench = open_workbench(Path(home))
        with TestClient(create_app(bench), base_url="http://127.0.0.1") as web:
            for page in ("/", "/shelf", "/bench", "/bench/processes", "/sink", "/notebook", "/light-table", "/projector", "/help"):
                web.get(page)
        bench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
        strip = {"first_developer_time_min": 9, "solvent_ml_per_l": 6, "alkali_ml_per_l": 5}
        film = bench.notebook.import_series(simulate_series(demo_film(), [strip], seed=1).model_dump(mode="json")).id
        bench.notebook.story(film)
        bench.close()

def become(arguments, environment, program, output):
    os.environ.clear()
    os.environ.update(environment)
    os.dup2(output, 1)
    os.dup2(output, 2)
    sys.stdout = open(1, "w", encoding="utf-8", buffering=1, closefd=False)
    sys.stderr = open(2, "w", encoding="utf-8", buffering=1, closefd=False)
    sys.argv = ["obverse", *arguments]
    try:
        exec(program, {"__name__": "__main__"}) if program else main()
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

def answer(door):
    size = array.array("i")
    try:
        data, extra, _, _ = door.recvmsg(1 << 20, socket.CMSG_LEN(2 * size.itemsize))
    except OSError:
        data = b""
    if not data:
        doors.remove(door)
        door.close()
        return
    request = json.loads(data)
    if isinstance(request, int):
        lasting.append(request)
        return
    descriptors = array.array("i")
    for _, _, given in extra:
        descriptors.frombytes(given)
    output, told = descriptors
    middle = os.fork()
    if middle == 0:
        # Forked twice, so that nobody need wait for the keeper.
        if os.fork() == 0:
            for each in (listener, *doors):
                each.close()
            keep(request, output, told)
        os._exit(0)
    os.waitpid(middle, 0)
    os.close(output)
    os.close(told)

warm_up()
# What all have in common is not looked through, and so not copied, by each of them.
gc.collect()
gc.freeze()
lasting, doors = [], [listener.accept()[0]]
# A worker that comes as the last one goes is still served.
while (ready := select.select([listener, *doors], [], [], None if doors else 2)[0]) or doors:
    for door in ready:
        if door is listener:
            doors.append(listener.accept()[0])
        else:
            answer(door)
for pid in lasting:
    try:
        os.kill(pid, signal.SIGINT)
    except ProcessLookupError:
        pass
os._exit(0)
"""
_door: list[socket.socket] = []
# Not waited for: it ends after this.
_started: list[subprocess.Popen[bytes]] = []
# What they print must still have somewhere to go.
_lasting: list[Forked] = []


def _nest() -> socket.socket:
    if not _door:
        # Workers of one run share it; a run without workers has its own.
        run = f"obverse-nest-{os.environ.get('PYTEST_XDIST_TESTRUNUID') or os.getpid()}"
        door = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        nest = None
        while True:
            try:
                door.connect("\0" + run)
                break
            except ConnectionRefusedError:
                if nest is None or nest.poll() is not None:
                    # One thread: a library's own threads would not outlive a fork.
                    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
                    nest = subprocess.Popen([sys.executable, "-c", NEST, run], env=environment)
                    _started.append(nest)
                time.sleep(0.02)
        _door.append(door)
    return _door[0]


class Forked:
    """A running `obverse`; what it prints is read from `stdout`.

    Parameters
    ----------
    arguments : list of str
        What stands after `obverse`.
    environment : dict of str
        All of its environment.
    program : str, optional
        Python text that is run instead of the house's own command.
    """

    def __init__(self, arguments: list[str], environment: dict[str, str], program: str = ""):
        reads, output = os.pipe()
        self._told, told = os.pipe()
        request = json.dumps([arguments, environment, program]).encode()
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


def last_as_long_as_the_run(program: Forked) -> None:
    """End that program, as Ctrl+C would, when the last worker of the run is gone."""
    _nest().send(json.dumps(program.pid).encode())
    _lasting.append(program)


def run_to_its_end(arguments: list[str], environment: dict[str, str]) -> tuple[int, str]:
    """Run it; the code it ended with, and all that it printed."""
    program = Forked(arguments, environment)
    with program.stdout as printed:
        words = printed.read()
    return program.wait(), words
