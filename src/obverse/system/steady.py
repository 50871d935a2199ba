"""Counters of seconds that nobody can set: one that goes on while the computer sleeps, and one that stands then.

Looked up: clock_gettime(2) of Linux (CLOCK_BOOTTIME counts suspension, CLOCK_MONOTONIC does not); clock_gettime(3) of
macOS (CLOCK_MONOTONIC goes on in sleep, and so does CLOCK_MONOTONIC_RAW, which in addition is "unaffected by frequency
or time adjustments"; CLOCK_UPTIME_RAW stands in sleep); the Windows pages of GetTickCount64 (includes sleep and
hibernation, resolution 10 ms to 16 ms) and QueryUnbiasedInterruptTime (leaves both out, units of 100 ns). Python's own
`time.monotonic` is none of them by promise: on macOS it stands in sleep, on Windows it changed with Python 3.13.
"""

from __future__ import annotations

import ctypes
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

from obverse.system.kind import THIS, Kind

MS_PER_S = 1e3
# QueryUnbiasedInterruptTime counts in 100 ns.
TICKS_PER_S = 1e7
# A UUID in text with its closing zero is 37 bytes long.
BOOT_NAME_BYTES = 64


@dataclass(frozen=True, slots=True)
class Counter:
    """A counter of seconds.

    Parameters
    ----------
    name : str
        What its system calls it.
    counts_sleep : bool
        Whether its documentation promises that it goes on while the computer sleeps.
    read_s : callable
        Seconds since some fixed moment.
    """

    name: str
    counts_sleep: bool
    read_s: Callable[[], float]


def counters(
    kind: Kind = THIS, clocks: ModuleType | Any = time, libraries: ModuleType | Any = ctypes
) -> tuple[Counter, Counter]:
    """The counter that goes on in sleep, and the one that stands then; twice the same where a system has only one.

    Parameters
    ----------
    clocks, libraries
        `time` and `ctypes`, or what a test puts in their place.

    Returns
    -------
    tuple of Counter
        The going one first.
    """
    if kind == "windows":
        found = _of_windows(libraries)
        if found is not None:
            return found
    names = {
        "linux": (("CLOCK_BOOTTIME",), ("CLOCK_MONOTONIC",)),
        # RAW first: the other follows the date's adjustments.
        "macos": (("CLOCK_MONOTONIC_RAW", "CLOCK_MONOTONIC"), ("CLOCK_UPTIME_RAW",)),
    }
    plain = Counter("monotonic", False, clocks.monotonic)
    going, standing = names.get(kind, ((), ()))
    return (
        next((_of_posix(clocks, name, True) for name in going if hasattr(clocks, name)), plain),
        next((_of_posix(clocks, name, False) for name in standing if hasattr(clocks, name)), plain),
    )


def _of_posix(clocks: Any, name: str, counts_sleep: bool) -> Counter:
    number = getattr(clocks, name)
    return Counter(name, counts_sleep, lambda: float(clocks.clock_gettime(number)))


def _of_windows(libraries: Any) -> tuple[Counter, Counter] | None:
    try:
        kernel = libraries.WinDLL("kernel32")
        ticks, unbiased = kernel.GetTickCount64, kernel.QueryUnbiasedInterruptTime
    except (AttributeError, OSError):
        return None
    # Without this the answer would be cut to 32 bits and start anew after 49.7 days.
    ticks.restype = libraries.c_ulonglong
    ticks.argtypes = ()
    unbiased.restype = libraries.c_int

    def awake_s() -> float:
        count = libraries.c_ulonglong(0)
        unbiased(libraries.byref(count))
        return float(count.value) / TICKS_PER_S

    return (
        Counter("GetTickCount64", True, lambda: float(ticks()) / MS_PER_S),
        Counter("QueryUnbiasedInterruptTime", False, awake_s),
    )


def boot_name(
    kind: Kind = THIS,
    *,
    file: Path = Path("/proc/sys/kernel/random/boot_id"),
    libraries: ModuleType | Any = ctypes,
) -> str:
    """A name that changes when the computer is started anew; empty where the system tells none.

    Linux tells it in a file, macOS by sysctl (kern.bootsessionuuid). Windows has none that is documented.

    Parameters
    ----------
    kind : {"linux", "macos", "windows", "other"}
        The system.
    file : Path
        Where Linux tells it.
    libraries
        `ctypes`, or what a test puts in its place.

    Returns
    -------
    str
        The name, or nothing.
    """
    if kind == "linux":
        try:
            return file.read_text(encoding="ascii").strip()
        except (OSError, UnicodeDecodeError):
            return ""
    if kind == "macos":
        try:
            ask = libraries.CDLL(None).sysctlbyname
            room = libraries.create_string_buffer(BOOT_NAME_BYTES)
            size = libraries.c_size_t(BOOT_NAME_BYTES)
            failed = ask(b"kern.bootsessionuuid", room, libraries.byref(size), None, libraries.c_size_t(0))
        except (AttributeError, OSError, TypeError):
            return ""
        return "" if failed else bytes(room.value).decode("ascii", errors="replace")
    return ""
