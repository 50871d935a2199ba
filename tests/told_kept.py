"""What was told when somebody last read it, one line for each case; see tests/unit/test_told_everything.py."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from obverse.clock import FixedClock
from obverse.workbench.bootstrap import Workbench, open_workbench
from tests.unit.test_told_everything import FOLDER, WRITE, differences, plain

EVENING = datetime(2031, 11, 5, 19, 0, tzinfo=UTC)


@contextmanager
def darkroom(home: Path) -> Iterator[tuple[Workbench, FixedClock]]:
    """An empty darkroom on an evening in November, and its clock."""
    clock = FixedClock(EVENING)
    bench = open_workbench(home, url="sqlite://", clock=clock)
    try:
        yield bench, clock
    finally:
        bench.close()


def told_as_kept(name: str, cases: dict[str, Any], *, nearly: float = 0.0) -> list[str]:
    """Where these cases differ from the file of that name; they are written anew in it where OBVERSE_WRITE_TOLD is set.

    `nearly` is the share by which numbers may differ, in sentences too: what is drawn at random is not the same to the digit on every processor.
    """
    now = json.loads(json.dumps(plain(_without_arrays(cases)), ensure_ascii=False))
    file = FOLDER / f"{name}.json"
    if WRITE:
        every = {**(json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}), **now}
        lines = (
            f"{json.dumps(case, ensure_ascii=False)}: {json.dumps(said, ensure_ascii=False)}"
            for case, said in every.items()
        )
        file.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    kept = json.loads(file.read_text(encoding="utf-8"))
    found = differences({case: kept.get(case) for case in now}, now)
    return [one for one in found if not (nearly and _near(one, nearly))][:20]


def _near(difference: str, share: float) -> bool:
    """Whether a difference is one of numbers alone, and a small one."""
    kept, _, now = difference.partition(": ")[2].partition(" became ")
    words, numbers = zip(
        *((re.sub(NUMBER, "#", one), [float(n) for n in re.findall(NUMBER, one)]) for one in (kept, now)), strict=True
    )
    # A whole number in a sentence, such as so many in a hundred, may be the next one.
    least = 1.0 if "'" in kept else share / 5
    near = (math.isclose(a, b, rel_tol=share, abs_tol=least) for a, b in zip(*numbers, strict=False))
    return words[0] == words[1] and len(numbers[0]) == len(numbers[1]) and all(near)


NUMBER = r"-?\d+(?:\.\d+)?(?:e-?\d+)?"


def _without_arrays(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, dict):
        return {key: _without_arrays(one) for key, one in value.items()}
    return [_without_arrays(one) for one in value] if isinstance(value, list) else value
