"""A program that makes sinks and cuts their power; the fault tests talk to it line by line.

Each request is one line of JSON. For each, a child process is forked that opens the notebook anew,
does one thing and answers; where told to, it ends with `os._exit(9)` at a named point, as a power
cut would end it. What stands under `first` is done, and answered, before it by the same child; what stands under `then`
is done in order after it.
"""

import gc
import json
import os
import resource
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

import obverse.workbench.booking
import obverse.workbench.care
import obverse.workbench.notebook  # noqa: F401
from obverse.clock import SystemClock
from obverse.foundation import ObverseError
from obverse.workbench.bootstrap import open_workbench


class SetBack(SystemClock):
    """A computer whose date somebody has set back."""

    def __init__(self, seconds: float, boot: str):
        self._seconds, self._boot = seconds, boot

    def now(self):
        return super().now() - timedelta(seconds=self._seconds)

    def boot(self) -> str:
        return self._boot or super().boot()


def opened(request: dict):
    return open_workbench(Path(request["home"]), clock=SetBack(request.get("set_back_s", 0), request.get("boot", "")))


def told_of(bench, request: dict) -> dict:
    try:
        return {"answer": work(bench, request)}
    except ObverseError as error:
        return {"error": {"code": error.code, "sentence": error.sentence}}


def work(bench, request: dict) -> dict:
    sink = bench.sink

    def at_point(name: str) -> None:
        if name == request.get("die_at") or (
            request.get("die_at", "").endswith(":*") and name.startswith(request["die_at"][:-1])
        ):
            os._exit(9)
        if name.startswith("before_write") and request.get("full"):
            # No file may grow from here on: what a full disk does to a writer.
            resource.setrlimit(resource.RLIMIT_FSIZE, (4096, resource.RLIM_INFINITY))

    sink.at_point = at_point
    # Room was made on the disk, where it was full before.
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    if request["do"] == "begin":
        return {"run": sink.begin(request["plan"])}
    if request["do"] == "record":
        if request.get("wait_for"):
            while not Path(request["wait_for"]).exists():
                time.sleep(0.001)
        return sink.record(request["run"], request["event_id"], request["event"]).document()
    if request["do"] == "look":
        return sink.look(request["run"]).document()
    if request["do"] == "settle":
        return {"refused": sink.settle(request["run"])}
    raise ValueError(request["do"])


def warm_up() -> None:
    """Do once what every child would do for the first time: what is loaded only when it is used is loaded here."""
    with tempfile.TemporaryDirectory() as home:
        bench = open_workbench(Path(home), clock=SetBack(0, ""))
        run = bench.sink.begin({"route": "permanganate_light", "without": ["wash_aid"]})
        bench.sink.record(run, "first", {"kind": "started"})
        bench.sink.look(run)
        bench.close()


def main() -> None:
    warm_up()
    # A child that looks through all objects for what is not used any more makes a copy of every page of memory first:
    # four fifths of its time.
    gc.collect()
    gc.freeze()
    gc.disable()
    for line in sys.stdin:
        requests = json.loads(line)
        children = []
        for request in requests:
            read, write = os.pipe()
            child = os.fork()
            if child == 0:
                os.close(read)
                bench = opened(request)
                if request.get("first"):
                    first = {"home": request["home"], **request["first"]}
                    os.write(write, json.dumps({"first": told_of(bench, first)}).encode() + b"\n")
                told = told_of(bench, request)
                further = [told_of(bench, {"home": request["home"], **one}) for one in request.get("then", ())]
                os.write(write, json.dumps(told | ({"then": further} if further else {})).encode())
                os._exit(0)
            os.close(write)
            children.append((child, read))
        answers = []
        for child, read in children:
            told = b""
            while part := os.read(read, 65536):
                told += part
            os.close(read)
            code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
            answers.append({"code": code})
            for line in told.splitlines():
                answers[-1] |= json.loads(line)
        print(json.dumps(answers), flush=True)


if __name__ == "__main__":
    main()
