"""A command loads what it uses: libraries that take longer to load than it takes to answer stay away.

Modules are counted, not time: a busy machine cannot fail this. `benchmarks/bench_start.py` measures.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Of each only what is slow to load.
HEAVY = (
    "alembic",
    "cryptography",
    "fastapi",
    "imagecodecs",
    "rawpy",
    "scipy.interpolate",
    "scipy.ndimage",
    "scipy.optimize",
    "scipy.stats",
    "tifffile",
    "typst",
    "uvicorn",
)
# What every command may load; of versions of the command library some bring `click`, others have it within.
ALWAYS = frozenset(
    [
        "annotated_doc",
        "annotated_types",
        "click",
        "colorama",
        "obverse",
        "platformdirs",
        "pydantic",
        "pydantic_core",
        "shellingham",
        "sitecustomize",
        "typer",
        "typing_extensions",
        "typing_inspection",
    ]
)
# What a command may load besides.
STORE = frozenset({"sqlalchemy", "greenlet"})
BUDGETS = {"mix": STORE | {"numpy"}, "check": STORE, "routes": frozenset(), "where": frozenset()}
LOOK = """
import contextlib, io, sys
from obverse.cli.main import run
arguments = sys.argv[1:]
with contextlib.redirect_stdout(io.StringIO()):
    code = run(arguments)
print(code, *sorted(sys.modules))
"""


def _modules(home: Path, *arguments: str) -> tuple[int, set[str]]:
    environment = {**os.environ, "OBVERSE_HOME": str(home)}
    environment.pop("OBVERSE_DATABASE", None)
    told = subprocess.run(
        [sys.executable, "-c", LOOK, *arguments], cwd=ROOT, capture_output=True, text=True, env=environment
    )
    assert told.returncode == 0, told.stderr[-2000:]
    code, *modules = told.stdout.split()
    return int(code), set(modules)


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    """A folder with an empty notebook of today's shape, so that nothing has to be made or moved."""
    folder = tmp_path_factory.mktemp("home")
    assert _modules(folder, "recipe", "list")[0] == 0
    return folder


@pytest.mark.parametrize(
    ("arguments", "code", "also"),
    [
        (("--help",), 0, ("numpy", "scipy", "sqlalchemy", "rich")),
        (("mix", "first_developer", "--volume-ml", "500"), 0, ("scipy",)),
        (("routes",), 0, ("scipy", "sqlalchemy", "numpy")),
        (("where",), 0, ("scipy", "sqlalchemy")),
        (("check", "sodium_sulfide", "vinegar_5"), 3, ("scipy", "numpy")),
        (("recipe", "list"), 0, ("scipy", "numpy")),
        (("next", "docs/teaching-film-a.json"), 0, ("sqlalchemy", "scipy")),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) and value else str(value),
)
def test_a_command_loads_only_what_it_uses(home, arguments, code, also):
    left, modules = _modules(home, *arguments)
    assert left == code
    assert sorted(modules & {*HEAVY, *also}) == []
    # The search finds what is loaded: only reckoning loads it.
    assert ("numpy.linalg" in modules) == (arguments[0] in ("next", "mix"))
    if arguments[0] in BUDGETS:
        tops = {name.split(".")[0] for name in modules} - sys.stdlib_module_names
        # Private helpers of compiled libraries, and of the way a tree is installed, are nobody's choice.
        tops = {name for name in tops if not name.startswith("_")} - {"cython_runtime"}
        assert sorted(tops - ALWAYS - BUDGETS[arguments[0]]) == [], "say why it is worth its time, here"


def test_mixing_from_generic_products_opens_no_database(tmp_path):
    code, modules = _modules(tmp_path, "mix", "first_developer", "--volume-ml", "500")
    assert code == 0 and "sqlalchemy" not in modules
    assert list(tmp_path.iterdir()) == []
