"""A class name means one thing in the whole house."""

import re
from collections import defaultdict
from pathlib import Path

SOURCE = Path(__file__).parents[2] / "src" / "obverse"
CLASS = re.compile(r"^ *class (\w+)\b.*[:(]", re.MULTILINE)


def homes() -> dict[str, list[str]]:
    """Where each class name is defined."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted(SOURCE.rglob("*.py")):
        for name in CLASS.findall(path.read_text(encoding="utf-8")):
            found[name].append(path.relative_to(SOURCE).as_posix())
    return found


def test_a_class_name_has_one_home():
    found = homes()
    assert found["FilmFit"] == ["inference/fit.py"]
    twice = {name: places for name, places in found.items() if len(places) > 1}
    assert twice == {}
