"""The house itself: floors, modules that stand alone, pure thinking, data that is packaged."""

import ast
import fnmatch
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "obverse"
PYTHON = sorted(SOURCE.rglob("*.py"))
BELOW_THE_DOORS = (
    "inference",
    "diagnosis",
    "run",
    "pool",
    "model",
    "densitometry",
    "mixing",
    "safety",
    "process",
    "chemistry",
    "sensitometry",
    "imaging",
    "light",
    "reference",
    "foundation",
)


def name_of(path: Path) -> str:
    parts = path.relative_to(SOURCE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def test_imports_go_down_only():
    lint = Path(sys.executable).parent / "lint-imports"
    told = subprocess.run([lint, "--no-cache"], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert told.returncode == 0, told.stdout


# Alembic runs env.py inside its own environment only.
ALONE = [name_of(path) for path in PYTHON if name_of(path) != "obverse.store.migrations.env"]

CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
FLOORS = [
    layer.replace(" ", "").split("|")
    for layer in next(contract["layers"] for contract in CONTRACTS if contract["type"] == "layers")
]


def test_every_room_is_entered_by_its_face_or_by_doors_that_somebody_uses():
    entered = {
        contract["protected_modules"][0]: contract.get("ignore_imports", [])
        for contract in CONTRACTS
        if contract["type"] == "protected"
    }
    assert set(entered) == {f"obverse.{path.parent.name}.*" for path in SOURCE.glob("*/__init__.py")}
    source = {path: path.read_text(encoding="utf-8") for path in PYTHON}
    for doors in entered.values():
        for door in (ignored.removeprefix("obverse.** -> ") for ignored in doors):
            _, room, module = door.split(".")
            ways = re.compile(rf"from obverse\.{room}(?:\.{module} import|\s+import [^#\n]*\b{module}\b)")
            assert any(ways.search(text) for path, text in source.items() if SOURCE / room not in path.parents), door


ALONE_PROGRAM = """
import gc, importlib, json, sys, traceback

# What is put away is many small things that stay to the end: nobody need look through them.
gc.disable()
# The libraries are imported once; then one of our modules at a time, with nothing else of its floor. The floors below it
# are there: they do not import upwards (the test above), so they can hide nothing that this floor lacks.
import alembic.command, cryptography.x509, fastapi.templating, imagecodecs, markdown_it, numpy, psycopg, pydantic, rich, segno
import scipy.fft, scipy.ndimage, scipy.optimize, scipy.spatial, scipy.special, sqlalchemy.dialects.postgresql, tifffile, typer
assert not [name for name in sys.modules if name.split(".")[0] == "obverse"]

def apart(name, then=lambda: None):
    before = set(sys.modules)
    try:
        importlib.import_module(name)
        failed = then() or 0
    except BaseException:
        traceback.print_exc()
        print("cannot stand alone:", name, file=sys.stderr)
        failed = 1
    # Nothing of it is left for the next, neither by its name nor as a name in its package.
    for one in [one for one in sys.modules if one not in before and one.split(".")[0] == "obverse"]:
        del sys.modules[one]
        head, _, tail = one.rpartition(".")
        if head in sys.modules:
            vars(sys.modules[head]).pop(tail, None)
    return failed

# Python imports the package before any module of it. What the package has loaded by itself is therefore proved with it; the
# others are imported each where the package is and nothing more, as in a fresh Python.
def package(name, inside):
    def others():
        heads = {one[len(name) + 1 :].split(".")[0]: [] for one in inside}
        for one in inside:
            heads[one[len(name) + 1 :].split(".")[0]].append(one)
        failed = 0
        for head, names in heads.items():
            below = [one for one in names if one != f"{name}.{head}"]
            if below or f"{name}.{head}" not in sys.modules:
                failed += package(f"{name}.{head}", below) if below else apart(f"{name}.{head}")
        return min(failed, 9)
    return apart(name, others)

for floor in json.loads(sys.argv[1]):
    rooms = sorted({".".join(name.split(".")[:2]) for name in floor})
    if any([package(room, [name for name in floor if name.startswith(room + ".")]) for room in rooms]):
        sys.exit(1)
    for name in floor:
        importlib.import_module(name)
"""


def test_every_module_stands_alone():
    rooms = [["obverse"], *([f"obverse.{room}" for room in floor] for floor in reversed(FLOORS))]
    floors = [[name for name in ALONE if ".".join(name.split(".")[:2]) in floor] for floor in rooms]
    assert sorted(name for floor in floors for name in floor) == sorted(ALONE)
    told = subprocess.run(
        [sys.executable, "-W", "error", "-c", ALONE_PROGRAM, json.dumps(floors)],
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert told.returncode == 0, told.stderr


FORBIDDEN_CALLS = {
    "open": "opens a file",
    "input": "asks the person",
    "print": "prints",
    "datetime.now": "reads a clock",
    "datetime.utcnow": "reads a clock",
    "datetime.today": "reads a clock",
    "date.today": "reads a clock",
    "time.time": "reads a clock",
    "time.monotonic": "reads a clock",
    "time.perf_counter": "reads a clock",
    "os.getenv": "reads the environment",
    "secrets.token_hex": "draws a random number",
    "uuid.uuid4": "draws a random number",
    "Path.home": "reads the environment",
}


def dotted(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def impurities(tree: ast.AST) -> list[str]:
    found = []
    hidden = any(
        isinstance(node, ast.Import) and any(name.name == "random" for name in node.names) for node in ast.walk(tree)
    )
    for node in ast.walk(tree):
        if isinstance(node, ast.Global):
            found.append(f"line {node.lineno}: keeps a global {', '.join(node.names)}")
        if isinstance(node, ast.Attribute) and dotted(node) == "os.environ":
            found.append(f"line {node.lineno}: reads the environment")
        if not isinstance(node, ast.Call):
            continue
        name = dotted(node.func)
        if name in FORBIDDEN_CALLS:
            found.append(f"line {node.lineno}: {FORBIDDEN_CALLS[name]} ({name})")
        if name.endswith("default_rng") and not node.args and not node.keywords:
            found.append(f"line {node.lineno}: draws without a seed")
        if re.match(r"(np|numpy)\.random\.(?!default_rng|Generator|SeedSequence|PCG64|Philox)", name) or (
            hidden and name.startswith("random.")
        ):
            found.append(f"line {node.lineno}: draws from a hidden state ({name})")
    return found


@pytest.mark.parametrize("floor", BELOW_THE_DOORS)
def test_below_the_doors_nothing_looks_outside(floor):
    found = [
        f"{name_of(path)} {what}"
        for path in sorted((SOURCE / floor).rglob("*.py"))
        for what in impurities(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert found == []


def test_the_search_for_impurities_finds_them():
    spoilt = "import os, time, random\ndef f():\n    global a\n    open('x'); time.time(); np.random.default_rng(); np.random.normal(); os.environ['x']; random.random()\n"
    assert len(impurities(ast.parse(spoilt))) == 7


# Where a member could be read that nothing promises, or a body of the store instead of the noun in it.
UNTYPED = re.compile(r"\b(?:dict|Mapping)\[str, Any\]|\.body(?:\[|\.get\()")
# The store alone reads bodies; what is read of pictures and of our own data files is anything until it is looked at.
TYPED = (
    *("run", "safety", "inference", "workbench", "sheets", "cli", "web"),
    *("process", "pool", "mixing", "model", "densitometry", "chemistry", "sensitometry", "light"),
)
# Files that may, with the reason: none.
UNTYPED_STILL: dict[str, int] = {}


def test_nothing_travels_untyped():
    files = [path for room in TYPED for path in sorted((SOURCE / room).rglob("*.py"))]
    found = {str(path.relative_to(SOURCE)): len(UNTYPED.findall(path.read_text())) for path in files}
    assert {name: count for name, count in found.items() if count} == UNTYPED_STILL, (
        "what goes out is a JsonObject, what is read is a noun or a frozen dataclass"
    )


def test_everything_that_is_not_python_is_packaged():
    patterns = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["package-data"]["obverse"]
    for path in SOURCE.rglob("*"):
        if path.is_file() and path.suffix not in (".py", ".pyc"):
            relative = path.relative_to(SOURCE).as_posix()
            assert any(
                fnmatch.fnmatch(relative, pattern) or fnmatch.fnmatch(relative, pattern.removeprefix("**/"))
                for pattern in patterns
            ), relative


def test_every_package_has_its_init():
    for folder in {path.parent for path in PYTHON}:
        assert (folder / "__init__.py").exists(), folder


def test_every_module_says_what_it_is():
    for path in PYTHON:
        assert path.read_text(encoding="utf-8").startswith('"""'), f"{name_of(path)} has no docstring"


OUTSIDE = re.compile(r"""(?:https?:)?//(?!127\.0\.0\.1|localhost|www\.w3\.org)[a-z0-9-]+\.[a-z]{2,}""", re.IGNORECASE)


def test_pages_load_nothing_from_outside():
    for path in SOURCE.rglob("*"):
        if path.suffix in (".html", ".js", ".css", ".svg"):
            assert OUTSIDE.findall(path.read_text(encoding="utf-8")) == [], path


def test_pages_hold_no_script_of_their_own():
    """The guard forbids scripts in the page; here we see it before a browser does."""
    for path in SOURCE.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert re.findall(r"<script(?![^>]*\bsrc=)(?![^>]*application/json)[^>]*>", text) == [], path
        assert re.findall(r"\son[a-z]+\s*=\s*[\"']", text) == [], path
