"""No number of the source is anonymous: each is a record, or has a name and a reason."""

from pathlib import Path

import pytest

from tests.house.numbers_in_code import offenders

SOURCE = Path(__file__).parents[2] / "src" / "obverse"

# Made-up scenes: every number in them is invented, and the module says so.
INVENTED: set[str] = {
    "workbench/demo.py",
    "workbench/sample_scene.py",
    "workbench/simulated_strip.py",
    "imaging/render.py",
}


def found(room: str) -> list[str]:
    places = sorted((SOURCE / room).rglob("*.py")) if (SOURCE / room).is_dir() else [SOURCE / room]
    return [
        f"{path.relative_to(SOURCE)}:{one.line}: {one.text}"
        for path in places
        if path.relative_to(SOURCE).as_posix() not in INVENTED
        for one in offenders(path.read_text(encoding="utf-8"))
    ]


ROOMS = sorted(path.name for path in SOURCE.iterdir() if path.is_dir() and path.name != "__pycache__")


@pytest.mark.parametrize("room", ROOMS)
def test_no_number_is_anonymous(room):
    here = found(room)
    assert not here, "\n".join(["name it in capitals with a comment that says why, or make it a record:", *here])


def test_what_is_called_invented_is_there():
    assert {name for name in INVENTED if not (SOURCE / name).is_file()} == set()


SPOILT = '''
"""A module."""
import math
# Why it is so.
NAMED, OTHER = 3.7, 5

BARE = 42

def f(x, known_ml=250.0, unknown=12.5):
    """Known_ml is explained: `known_ml` is the usual vessel."""
    if x > 9000:
        raise ValueError("at most 9000")
    if len(x) == 7 and x[5] > 10 ** 13 and round(x, 6) * 60 / math.pi * math.sqrt(12) == x.reshape(3, 4):
        return 0.37 * x
    return Field(default=30, ge=17, description="why")
'''


def test_the_search_finds_what_is_anonymous_and_spares_what_is_named():
    assert [(one.line, one.text.split()[0]) for one in offenders(SPOILT)] == [(7, "BARE"), (9, "def"), (14, "return")]
