"""How long, and how much memory, reading 21 patches from a 24-megapixel 16-bit TIFF takes.

Compared in the same run with the least anybody could do: tifffile loads the file and numpy averages
the 21 patches. Run: python benchmarks/camera_read.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import tifffile

from obverse.capture import load_picture, save_tiff
from obverse.densitometry import read_strip
from obverse.imaging.render import RenderedScene, RenderedStrip, expose, render

PATCHES, WIDTH, HEIGHT = 21, 6000, 4000
CORNERS = np.array([[700.0, 1600], [5300, 1650], [5290, 2420], [690, 2370]])


def make(path: Path) -> None:
    """A small rendering, enlarged: the content does not matter for the time."""
    scale = 4
    strip = RenderedStrip(tuple(np.linspace(0.08, 2.4, PATCHES)), pitch_mm=210 / PATCHES)
    rng = np.random.default_rng(1)
    scene = RenderedScene(
        WIDTH // scale,
        HEIGHT // scale,
        CORNERS / scale,
        mask=True,
        grain=0.03,
        falloff=(0.03, 0.02, 0.05, 0.0),
        glare=0.002,
    )
    small = expose(render(strip, scene, rng), 1.0, rng)
    path.write_bytes(save_tiff(small.repeat(scale, axis=0).repeat(scale, axis=1)))


def plain(path: Path) -> list[float]:
    """Load, then average each patch of an upright box."""
    picture = tifffile.imread(path)
    x = np.linspace(CORNERS[0, 0], CORNERS[1, 0], PATCHES + 1)
    pitch = x[1] - x[0]
    means = []
    for left in x[:-1]:
        means.append(picture[1800:2200, int(left + 0.25 * pitch) : int(left + 0.75 * pitch)].mean())
    return means


def ours(path: Path) -> list[float]:
    """What the command does."""
    return list(read_strip([load_picture(path)], PATCHES).density)


def peak_mb(path: Path, which: str) -> float:
    """Growth of the resident memory of a process of its own that does one of the two, above its imports."""
    code = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r}); import camera_read; from pathlib import Path\n"
        "peak = lambda: int(next(l for l in open('/proc/self/status') if l.startswith('VmHWM')).split()[1])\n"
        "before = peak()\n"
        f"camera_read.{which}(Path({str(path)!r}))\n"
        "print((peak() - before) / 1024)"
    )
    return float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)


def forget(path: Path) -> None:
    """Ask the system to drop the file from its memory, as if it came fresh from a card."""
    with path.open("rb") as file:
        os.fsync(file.fileno())
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def best_of(action, path: Path, *, cold: bool, clock=time.perf_counter, times: int = 7) -> float:
    """Shortest of several runs, seconds."""
    found = []
    for _ in range(times):
        if cold:
            forget(path)
        start = clock()
        action(path)
        found.append(clock() - start)
    return min(found)


def main() -> None:
    """Print the ratios; fail where the promise is broken."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "strip.tif"
        make(path)
        size = path.stat().st_size / 1e6
        promise = True
        print(f"file {size:.0f} MB, {PATCHES} patches")
        for words, cold, clock in (
            ("file not in memory, wall clock", True, time.perf_counter),
            ("file in memory, wall clock", False, time.perf_counter),
            ("file in memory, processor time", False, time.process_time),
        ):
            reference, own = (best_of(action, path, cold=cold, clock=clock) for action in (plain, ours))
            print(
                f"{words}: tifffile + numpy {reference:.3f} s; obverse {own:.3f} s; ratio {own / reference:.2f} (promise: at most 2)"
            )
            promise &= own <= 2 * reference
        memory = peak_mb(path, "ours")
        least = peak_mb(path, "plain")
        print(
            f"memory above the imports: tifffile + numpy {least:.0f} MB; obverse {memory:.0f} MB, {memory / size:.2f} of the file (promise: 1.1)"
        )
        sys.exit(0 if promise and memory <= 1.1 * size else 1)


if __name__ == "__main__":
    main()
