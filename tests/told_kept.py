"""What was told when somebody last read it, one line for each case; see tests/unit/test_told_everything.py."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from tests.unit.test_told_everything import FOLDER, WRITE, differences, plain


def told_as_kept(name: str, cases: dict[str, Any]) -> list[str]:
    """Where these cases differ from the file of that name; they are written anew in it where OBVERSE_WRITE_TOLD is set."""
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
    return list(differences({case: kept.get(case) for case in now}, now))[:20]


def _without_arrays(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, dict):
        return {key: _without_arrays(one) for key, one in value.items()}
    return [_without_arrays(one) for one in value] if isinstance(value, list) else value
