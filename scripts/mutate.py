"""Break the house on purpose and see whether a test notices.

Each mutant changes one comparison, number, sign, condition, word or statement of a module that decides or tells. All tests are
collected once; which test runs which line, and for how long, is measured once for each test file and kept in build/mutation. Then
each mutant is put into a process forked from there, which runs the tests that run its line, quickest first, and stops at the first red
one. Tests that noticed something are run again without any change at the end, and must be green.

    python scripts/mutate.py                      150 mutants, the same ones each time
    python scripts/mutate.py --seed 7 --sample 60 --only workbench/start.py --aside
    python scripts/mutate.py --again              only those that survived the last time
"""

from __future__ import annotations

import argparse
import ast
import functools
import gc
import hashlib
import importlib.abc
import importlib.machinery
import inspect
import json
import math
import os
import random
import re
import resource
import shutil
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import coverage
import pytest
from scipy.stats import binomtest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "obverse"
PAGE = ROOT / "docs" / "mutation.md"
LAST = ROOT / "docs" / "mutation.json"
MAP = ROOT / "build" / "mutation"
SEED = 12
# What decides and tells.
ROOMS = ("workbench/**/*.py", "safety/*.py", "run/*.py", "diagnosis/*.py", "inference/words*.py")
# The tests that answer, those that notice most first. Tests in a browser, of other programs, of pictures and of most rules of the house are
# left out: they would notice more, and take too long for it.
ANSWER = (
    "unit/test_told_*.py", "unit/test_safety_*.py", "published/test_safety_*.py", "published/test_sink_*.py",
    "unit/test_process_opinions.py", "unit/test_*.py", "properties/test_*.py", "published/test_[tw]*.py", "faults/test_house_[!dgs]*.py",
    "faults/test_two_computers.py", "faults/test_clocks.py", "faults/test_sent_again.py", "house/test_house_root.py",
    "house/test_house_control.py",
    "recovery/test_safety_*.py", "recovery/test_notebook_words.py",
)  # fmt: skip
# Processor seconds after which no further test of a mutant is begun; the tellings come early, because they notice most.
MOST_TESTS_S = 6.0
TELLING_AS_S = 0.3
# Names of so few letters are in every test.
SHORT = 4
# A mutant that makes a test go on for ever has as many times its due, and then is noticed.
PATIENCE, PATIENCE_S = 4, 30
# Where the house is loaded anew, loading it counts in the time; test files that were not measured, at most so many of them.
LOADING, MOST_BY_NAME = 3, 8
# Test files that name a class, so many of them, answer for what stands in its body.
MOST_THAT_NAME = 3
TOLD = "tests/unit/test_told_everything.py"
# What a reader of the house once changed, and no test noticed; each was made again and seen red by test_told_baths or test_told_strips.
ONCE = (
    "a destruction clock that nobody started counted as fresh", "the caution of a weak bath at 0.3 instead of 0.1",
    "a volume of 100 mL booked for 500 mL", "the greatest gradient of an aim 2.2 instead of 1.9", '"two minutes more" off by a sixth',
    '"at worst" telling the better side', "the temperature caution at 6 to 46 instead of 16 to 26 degrees",
    "a film kept in mind after its page had changed", "the floor of a control chart removed",
)  # fmt: skip

# Words that turn a sentence round.
WORDS = (
    ("at least", "at most"), ("more", "less"), ("above", "below"), ("longer", "shorter"), ("before", "after"),
    ("best", "worst"), ("first", "last"), ("never", "always"), ("thin", "dense"), ("clear", "murky"), ("low", "high"),
    ("warmer", "cooler"), ("too little", "too much"), ("likely", "unlikely"), ("cannot", "can"), ("not ", ""),
)  # fmt: skip
COMPARED = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.In: "not in",
    ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
}  # fmt: skip
SUMS = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Mutant:
    """One change: the place in the file, what stood there, what stands there now."""

    file: str
    line: int
    begin: int
    end: int
    old: str
    new: str
    kind: str

    @property
    def name(self) -> str:
        """File, line and change, for the list."""
        return f"{self.file}:{self.line} {self.old!r} -> {self.new!r}"


class _Source:
    """A file with the places of its nodes as offsets of characters."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.text = (SOURCE / file).read_text(encoding="utf-8")
        self.starts = [0]
        for line in self.text.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(line))
        self.lines = self.text.splitlines()

    def offset(self, line: int, column: int) -> int:
        """Offset of a line and a column in bytes, as `ast` counts them."""
        return self.starts[line - 1] + len(self.lines[line - 1].encode()[:column].decode())

    def span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        """Where a node begins and ends."""
        return self.offset(node.lineno, node.col_offset), self.offset(node.end_lineno or 0, node.end_col_offset or 0)

    def mutants(self) -> Iterator[Mutant]:
        """Every change of this file."""
        tree = ast.parse(self.text)
        quiet = {id(part) for node in ast.walk(tree) for part in _untold(node)}
        told = (node for node in ast.walk(tree) if id(node) not in quiet and hasattr(node, "lineno"))
        # All parts of a sentence with numbers in it have the place of the whole: what is found in each is one change.
        yield from dict.fromkeys(mutant for node in told for mutant in self._of(node))

    def _made(self, node: ast.expr | ast.stmt, begin: int, end: int, new: str, kind: str) -> Mutant:
        return Mutant(self.file, node.lineno, begin, end, self.text[begin:end], new, kind)

    def _between(self, left: ast.expr, right: ast.expr, token: str) -> tuple[int, int] | None:
        begin, end = self.span(left)[1], self.span(right)[0]
        at = self.text.find(token, begin, end)
        return None if at < 0 else (at, at + len(token))

    def _of(self, node: ast.AST) -> Iterator[Mutant]:
        if isinstance(node, ast.Compare):
            sides = [node.left, *node.comparators]
            for left, op, right in zip(sides, node.ops, sides[1:], strict=False):
                token = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="}.get(
                    type(op), {ast.In: "in", ast.NotIn: "not in", ast.Is: "is", ast.IsNot: "is not"}.get(type(op), "")
                )
                if place := self._between(left, right, token):
                    yield self._made(node, *place, COMPARED[type(op)], "comparison")
        elif isinstance(node, ast.BoolOp):
            old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            if place := self._between(node.values[0], node.values[1], old):
                yield self._made(node, *place, new, "condition")
        elif isinstance(node, ast.BinOp) and type(node.op) in SUMS:
            token = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}[type(node.op)]
            if place := self._between(node.left, node.right, token):
                yield self._made(node, *place, SUMS[type(node.op)], "arithmetic")
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not)):
            begin, end = self.span(node)
            inner = self.text[slice(*self.span(node.operand))]
            yield self._made(node, begin, end, inner, "sign" if isinstance(node.op, ast.USub) else "condition")
        elif isinstance(node, (ast.If, ast.IfExp, ast.While)) and not _of_types(node.test):
            begin, end = self.span(node.test)
            yield self._made(node.test, begin, end, f"(not ({self.text[begin:end]}))", "condition")
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in SWAPPED:
            yield self._made(node, *self.span(node.func), SWAPPED[node.func.id], "condition")
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
            yield self._made(node, *self.span(node), "pass", "statement")
        elif isinstance(node, ast.Constant):
            yield from self._of_constant(node)

    def _of_constant(self, node: ast.Constant) -> Iterator[Mutant]:
        begin, end = self.span(node)
        value = node.value
        if isinstance(value, bool):
            yield self._made(node, begin, end, str(not value), "condition")
        elif isinstance(value, (int, float)):
            yield self._made(node, begin, end, repr(value + 1 if value in (0, 1) else value * 3), "number")
        elif isinstance(value, str) and (" " in value or value.isalpha()):
            for one, other in WORDS:
                for old, new in ((one, other), (other, one)):
                    found = re.search(rf"\b{re.escape(old)}", self.text[begin:end]) if old else None
                    if found:
                        at = begin + found.start()
                        yield self._made(node, at, at + len(old), new, "word")


def _untold(node: ast.AST) -> Iterator[ast.AST]:
    """What is no behaviour: docstrings, types, slots of a declaration, what a `zip` does where a mistake of ours made its parts uneven."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "zip":
        yield from (keyword.value for keyword in node.keywords if keyword.arg == "strict")
    if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)):
        first = node.body[0]
        if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
            yield from ast.walk(first)
    if isinstance(node, (ast.AnnAssign, ast.arg)) and node.annotation is not None:
        yield from ast.walk(node.annotation)
    if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
        for part in (*node.decorator_list, *([node.returns] if node.returns else [])):
            yield from ast.walk(part)
    if isinstance(node, ast.ClassDef):
        for part in node.decorator_list:
            yield from ast.walk(part)


def _of_types(test: ast.expr) -> bool:
    """Whether what stands behind a condition is there for types alone."""
    return isinstance(test, ast.Name) and test.id == "TYPE_CHECKING"


def files() -> list[str]:
    """Every module that is mutated."""
    paths = {path for pattern in ROOMS for path in SOURCE.glob(pattern) if path.name != "__init__.py"}
    return sorted(path.relative_to(SOURCE).as_posix() for path in paths)


def sample(count: int, only: str = "", seed: int = SEED) -> list[Mutant]:
    """The mutants of a run, in an order that is drawn, too: the same for the same source and seed, and a run that is stopped is a smaller one."""
    every = [mutant for file in files() if only in file for mutant in _Source(file).mutants()]
    draw = random.Random(seed)
    return draw.sample(every, min(count, len(every)))


# Which test runs which line


@dataclass(frozen=True)
class Ran:
    """What one test took, and the lines of our modules that it ran; those of what its file makes once are every test's."""

    call_s: float
    setup_s: float
    lines: Mapping[str, frozenset[int]]


class _Mapper:
    """Measures the tests of one file, one after the other."""

    def __init__(self) -> None:
        self.coverage = coverage.Coverage(data_file=None, include=[f"{SOURCE}/*"], config_file=False, messages=False)
        self.seconds: defaultdict[str, dict[str, float]] = defaultdict(dict)
        self.red: set[str] = set()
        self.now = ""

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        """What is made once for a file is counted to all of its tests."""
        if fixturedef.scope != "function":
            self.coverage.switch_context("*")
        try:
            return (yield)
        finally:
            self.coverage.switch_context(self.now)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> Iterator[None]:
        """Seconds of what a test needs."""
        self.now = item.nodeid
        self.coverage.switch_context(self.now)
        begun = time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid]["setup"] = time.process_time() - begun

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Iterator[None]:
        """Seconds of the test itself."""
        begun = time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid]["call"] = time.process_time() - begun

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that is red without any change proves nothing."""
        if report.failed:
            self.red.add(report.nodeid)

    def measure(self, items: Sequence[pytest.Item]) -> dict[str, Any]:
        """Run them; seconds and lines of each."""
        items[0].config.pluginmanager.register(self, "mapper")
        self.coverage.start()
        _run(items)
        self.coverage.stop()
        data = self.coverage.get_data()
        lines: defaultdict[str, defaultdict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
        for path in data.measured_files():
            for line, contexts in data.contexts_by_lineno(path).items():
                for context in contexts:
                    lines[context][Path(path).relative_to(SOURCE).as_posix()].append(line)
        return {
            "shared": lines.pop("*", {}),
            "tests": {
                item.nodeid: {**self.seconds[item.nodeid], "lines": lines.get(item.nodeid, {})}
                for item in items
                if item.nodeid not in self.red and "call" in self.seconds[item.nodeid]
            },
            "red": sorted(self.red),
        }


def _run(items: Sequence[pytest.Item], until_red: bool = False, most_s: float = math.inf) -> str:
    """Run tests in their order, as many as there is time for; the name of the first red one where that ends it."""
    seen = _Seen()
    items[0].config.pluginmanager.register(seen, "seen")
    for item, after in zip(items, [*items[1:], None], strict=True):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
        if (until_red and seen.red) or time.process_time() > most_s:
            break
    return seen.red


class _Seen:
    """Keeps the name of the first red test."""

    def __init__(self) -> None:
        self.red = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Called for each phase of each test."""
        if report.failed:
            self.red = self.red or report.nodeid


class _Map:
    """Lines, tests and seconds of all test files, as measured; a file is measured anew when it has changed."""

    def __init__(self, items: Sequence[pytest.Item]) -> None:
        self.items: defaultdict[str, dict[str, pytest.Item]] = defaultdict(dict)
        for item in items:
            self.items[item.nodeid.partition("::")[0]][item.nodeid] = item
        self.ran: dict[str, dict[str, Ran]] = {}
        self.shared_s: dict[str, float] = {}
        self.red: list[str] = []

    def measure(self, only_known: bool) -> None:
        """Read what is kept, and run what is not unless only what is known counts."""
        MAP.mkdir(parents=True, exist_ok=True)
        for place, (file, items) in enumerate(self.items.items(), start=1):
            stamp = hashlib.sha256((ROOT / file).read_bytes()).hexdigest()[:16]
            kept = MAP / f"{file.replace('/', '.')}.{stamp}.json"
            if not kept.exists() and not only_known:
                print(f"measured {place}/{len(self.items)} {file}", flush=True)
                _forked(
                    lambda items=items, kept=kept: kept.write_text(json.dumps(_Mapper().measure([*items.values()])))
                )
            if kept.exists():
                self._read(file, json.loads(kept.read_text(encoding="utf-8")))

    def _read(self, file: str, told: Mapping[str, Any]) -> None:
        self.red += told["red"]
        setups = [one["setup"] for one in told["tests"].values()]
        self.shared_s[file] = max(setups, default=0.0)
        usual_s = sorted(setups)[len(setups) // 2] if setups else 0.0
        self.ran[file] = {}
        for test, one in told["tests"].items():
            lines = {
                path: frozenset(one["lines"].get(path, ())) | frozenset(told["shared"].get(path, ()))
                for path in {*one["lines"], *told["shared"]}
            }
            self.ran[file][test] = Ran(one["call"], min(one["setup"], usual_s), lines)

    def tests_of(self, mutant: Mutant) -> list[pytest.Item]:
        """The tests that run what the mutant changes, quickest file first."""
        places = _places(mutant)
        chosen: list[tuple[float, str, list[tuple[float, str]]]] = []
        for file, ran in self.ran.items():
            due = sorted(
                (one.call_s + one.setup_s, test)
                for test, one in ran.items()
                if any(lines & one.lines.get(path, frozenset()) for path, lines in places.items())
            )
            if due:
                first_s = due[0][0] + self.shared_s[file]
                chosen.append((min(first_s, TELLING_AS_S) if file == TOLD else first_s, file, due))
        found = [
            self.items[file][test] for _, file, due in sorted(chosen) for _, test in due if test in self.items[file]
        ]
        if made := _class_around(mutant):
            # Made where the module is loaded, no line that a test runs shows it: asked first are the quickest files that name the class.
            naming = sorted(
                (sum(one.call_s + one.setup_s for one in ran.values()), file)
                for file, ran in self.ran.items()
                if made in _words(file)
            )
            found = [item for _, file in naming[:MOST_THAT_NAME] for item in self.items[file].values()] + found
        by_name = sorted((-_mentions(file, mutant.file), file) for file in self.items if file not in self.ran)
        return found + [
            item for mentions, file in by_name[:MOST_BY_NAME] if mentions for item in self.items[file].values()
        ]


@functools.cache
def _mentions(test: str, file: str) -> int:
    """How many names of a module a test file has that was not measured; none where it is not about it."""
    names = {one.name for one in ast.walk(_tree(file)) if isinstance(one, (ast.FunctionDef, ast.ClassDef))}
    return len({Path(file).stem, *(name for name in names if len(name) > SHORT)} & _words(test))


@functools.cache
def _words(test: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", (ROOT / test).read_text(encoding="utf-8")))


def _class_around(mutant: Mutant) -> str:
    """The class whose body a mutant stands in, outside of its functions; empty where there is none."""
    name, body = "", _tree(mutant.file).body
    while here := next((one for one in body if _first_line(one) <= mutant.line <= (one.end_lineno or 0)), None):
        if not isinstance(here, ast.ClassDef):
            return "" if isinstance(here, (ast.FunctionDef, ast.AsyncFunctionDef)) else name
        name, body = here.name, here.body
    return name


@functools.cache
def _tree(file: str) -> ast.Module:
    return ast.parse((SOURCE / file).read_text(encoding="utf-8"))


def _places(mutant: Mutant) -> dict[str, frozenset[int]]:
    """Lines that run what a mutant changes: those of its statement, or where the name that it gives a value to is read."""
    statement, inside = _statement(_tree(mutant.file), mutant.line)
    if inside:
        end = statement.body[0].lineno - 1 if hasattr(statement, "body") else statement.end_lineno or statement.lineno
        return {mutant.file: frozenset(range(statement.lineno, max(end, mutant.line) + 1))}
    names = {node.id for node in ast.walk(statement) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
    names |= {statement.name} if isinstance(statement, (ast.FunctionDef, ast.ClassDef)) else set()
    places = {file: lines for file in _rooms() if (lines := _reads(file, names))}
    own = frozenset(range(1, len((SOURCE / mutant.file).read_text(encoding="utf-8").splitlines()) + 1))
    return places or {mutant.file: own}


@functools.cache
def _rooms() -> tuple[str, ...]:
    return tuple(path.relative_to(SOURCE).as_posix() for path in sorted(SOURCE.rglob("*.py")))


@functools.cache
def _names(file: str) -> dict[str, frozenset[int]]:
    found: defaultdict[str, set[int]] = defaultdict(set)
    for node in ast.walk(_tree(file)):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            found[node.id].add(node.lineno)
        elif isinstance(node, ast.Attribute):
            found[node.attr].add(node.lineno)
    return {name: frozenset(lines) for name, lines in found.items()}


def _reads(file: str, names: Iterable[str]) -> frozenset[int]:
    """Lines of a file in which one of the names is read."""
    return frozenset().union(*(_names(file).get(name, frozenset()) for name in names))


def _statement(tree: ast.Module, line: int) -> tuple[ast.stmt, bool]:
    """The innermost statement at a line, and whether it stands in the body of a function."""
    found, inside = tree.body[0], False
    body: list[ast.stmt] = tree.body
    while body:
        here = next((one for one in body if _first_line(one) <= line <= (one.end_lineno or 0)), None)
        if here is None:
            break
        found = here
        inner = [part for name in ("body", "orelse", "finalbody") for part in getattr(here, name, [])]
        inner += [part for handler in getattr(here, "handlers", []) for part in handler.body]
        inner += [part for case in getattr(here, "cases", []) for part in case.body]
        if isinstance(here, (ast.FunctionDef, ast.AsyncFunctionDef)) and line >= here.body[0].lineno:
            inside = True
        body = inner
    return found, inside


def _first_line(one: ast.stmt) -> int:
    return min([one.lineno, *(part.lineno for part in getattr(one, "decorator_list", []))])


# Putting a change in


class _Loader(importlib.abc.MetaPathFinder, importlib.machinery.SourceFileLoader):
    """Gives one module with its change; all others as they are."""

    def __init__(self, module: str, path: Path, text: str) -> None:
        self.changed = text
        importlib.machinery.SourceFileLoader.__init__(self, module, str(path))

    def find_spec(self, name: str, path: object = None, target: object = None) -> importlib.machinery.ModuleSpec | None:
        """The changed module's place; None for every other."""
        return importlib.machinery.ModuleSpec(name, self, origin=self.path) if name == self.name else None

    def get_code(self, name: str) -> CodeType:
        """The changed text, compiled."""
        return compile(self.changed, self.path, "exec", dont_inherit=True)


def _function_around(mutant: Mutant) -> list[ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef]:
    """The classes and the function whose body holds a mutant, outermost first; empty where none does."""
    way: list[ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef] = []
    body: list[ast.stmt] = _tree(mutant.file).body
    while True:
        here = next((one for one in body if _first_line(one) <= mutant.line <= (one.end_lineno or 0)), None)
        if isinstance(here, (ast.FunctionDef, ast.AsyncFunctionDef)):
            return [*way, here] if mutant.line >= here.body[0].lineno else []
        if not isinstance(here, ast.ClassDef):
            return []
        way.append(here)
        body = here.body


def _code_of(code: CodeType, way: Sequence[ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef]) -> CodeType | None:
    for one in way:
        inner = [part for part in code.co_consts if isinstance(part, CodeType) and part.co_name == one.name]
        found = next((part for part in inner if part.co_firstlineno == _first_line(one)), None)
        if found is None:
            return None
        code = found
    return code


def _put_into_function(mutant: Mutant, changed: str) -> bool:
    """Give the function that holds the mutant its changed code, where that can be; whether it could."""
    module = "obverse." + mutant.file.removesuffix(".py").replace("/", ".")
    way, path = _function_around(mutant), str(SOURCE / mutant.file)
    holder: object = sys.modules.get(module)
    if not way or holder is None:
        return False
    new = _code_of(compile(changed, path, "exec", dont_inherit=True), way)
    for one in way:
        holder = inspect.getattr_static(holder, one.name, None)
        for name in ("fget", "func", "__func__", "__wrapped__"):
            holder = getattr(holder, name, None) or holder
    if not isinstance(holder, FunctionType) or new is None or holder.__code__.co_freevars != new.co_freevars:
        return False
    if (holder.__code__.co_filename, holder.__code__.co_firstlineno) != (path, new.co_firstlineno):
        return False
    holder.__code__ = new
    return True


@functools.cache
def _caches() -> list[functools._lru_cache_wrapper[Any]]:
    """All caches of our modules; looked for once, because looking touches all that was collected."""
    return [
        one
        for one in gc.get_objects()
        if isinstance(one, functools._lru_cache_wrapper) and str(getattr(one, "__module__", "")).startswith("obverse.")
    ]


class _Filter:
    """Keeps of what is collected the tests that are wanted, in their order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.order = {test: place for place, test in enumerate(tests)}

    def pytest_runtest_setup(self) -> None:
        """The time a mutant is given ends here, too."""
        if time.process_time() > LOADING * MOST_TESTS_S:
            pytest.exit("no more time", returncode=0)

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Called once all is collected."""
        items[:] = sorted((one for one in items if one.nodeid in self.order), key=lambda one: self.order[one.nodeid])


def _try(mutant: Mutant, items: Sequence[pytest.Item]) -> str:
    """In a process of its own: the name of the test that noticed the mutant; empty where none did."""
    path = SOURCE / mutant.file
    text = path.read_text(encoding="utf-8")
    changed = text[: mutant.begin] + mutant.new + text[mutant.end :]
    if _put_into_function(mutant, changed):
        # They may hold what was computed without the change.
        for cache in _caches():
            cache.cache_clear()
        return _run(items, until_red=True, most_s=time.process_time() + MOST_TESTS_S)
    module = "obverse." + mutant.file.removesuffix(".py").replace("/", ".")
    for name in [name for name in sys.modules if name.split(".")[0] in ("obverse", "tests", "benchmarks")]:
        del sys.modules[name]
    sys.meta_path.insert(0, _Loader(module, path, changed))
    seen, tests = _Seen(), [item.nodeid for item in items]
    whole = list(dict.fromkeys(test.partition("::")[0] for test in tests))
    code = pytest.main([*QUIET, "-x", *whole], plugins=[seen, _Filter(tests)])
    return seen.red or ("" if code == 0 else "the house could not be loaded")


QUIET = ("-q", "-s", "-W", "ignore", "-p", "no:cacheprovider", "-p", "no:xdist")


def _forked(work: Any, most_s: float = 0.0) -> str:
    """Do some work in a process forked from here; its answer, or "timed out" where it took too much of the processor."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        if most_s:
            resource.setrlimit(resource.RLIMIT_CPU, (int(most_s), int(most_s)))
        try:
            answer = str(work())
        except BaseException as error:
            answer = f"the tests could not be run: {type(error).__name__}"
        os.write(write, answer.encode()[:4000])
        os._exit(0)
    os.close(write)
    with os.fdopen(read, encoding="utf-8") as told:
        answer = told.read()
    _, status = os.waitpid(child, 0)
    return answer if os.WIFEXITED(status) else "timed out"


class Chore:
    """Works in place of pytest's own loop: everything is collected, nothing has run."""

    def __init__(self, given: argparse.Namespace) -> None:
        self.given = given
        self.results: list[dict[str, Any]] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """The whole chore."""
        _caches()
        known = _Map(session.items)
        known.measure(self.given.known)
        if self.given.map:
            return True
        if known.red:
            print(f"red without any change, and left out: {', '.join(known.red)}")
        last = MAP / "aside.json" if self.given.aside else LAST
        kept = json.loads(last.read_text(encoding="utf-8")) if last.exists() else {"results": [], "reasons": {}}
        mutants = sample(self.given.sample, self.given.only, self.given.seed)
        if self.given.again:
            mutants = [Mutant(**{name: one[name] for name in Mutant.__annotations__}) for one in _open(kept["results"])]
        before = kept["results"] if self.given.again else []
        for place, mutant in enumerate(mutants, start=1):
            self.results.append(self._one(mutant, known))
            one = self.results[-1]
            print(
                f"{place:>4}/{len(mutants)} {one['outcome']:<9} {one['seconds']:5.1f} s {mutant.name}  {one['by']}",
                flush=True,
            )
            self._keep(last, before, kept["reasons"])
        self._check_noticers(known)
        results = self._keep(last, before, kept["reasons"])
        print(f"{len(results)} changes, {len(_open(results))} not noticed")
        return True

    def _keep(
        self, last: Path, before: Sequence[Mapping[str, Any]], reasons: Mapping[str, str]
    ) -> list[Mapping[str, Any]]:
        """Write what came of it so far, in place of what stood before; whoever is stopped has that much."""
        fresh = {(one["file"], one["begin"], one["new"]): one for one in self.results}
        older = [one for one in before if (one["file"], one["begin"], one["new"]) not in fresh]
        results = sorted([*older, *self.results], key=lambda one: (one["file"], one["begin"]))
        told = {"results": results, "reasons": reasons}
        last.write_text(json.dumps(told, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        if not self.given.aside:
            PAGE.write_text(page(results, reasons, self.given.seed), encoding="utf-8")
        return results

    def _one(self, mutant: Mutant, known: _Map) -> dict[str, Any]:
        text = (SOURCE / mutant.file).read_text(encoding="utf-8").splitlines()[mutant.line - 1].strip()
        items, begun = known.tests_of(mutant), _spent_s()
        by = _forked(lambda: _try(mutant, items), PATIENCE * MOST_TESTS_S + PATIENCE_S) if items else ""
        outcome = "survived" if not by else "timed out" if by == "timed out" else "killed"
        seconds = round(_spent_s() - begun, 1)
        return {**asdict(mutant), "text": text, "outcome": outcome, "by": by, "tests": len(items), "seconds": seconds}

    def _check_noticers(self, known: _Map) -> None:
        """Run every test that noticed something without any change; what a red one noticed does not count."""
        noticed = {str(one["by"]) for one in self.results if one["outcome"] == "killed"}
        for file in sorted({test.partition("::")[0] for test in noticed if "::" in test}):
            items = [item for test, item in known.items[file].items() if test in noticed]
            if red := _forked(lambda items=items: _run(items, until_red=True)):
                print(f"red without any change: {red}")
                for one in self.results:
                    if one["by"] == red:
                        one["outcome"], one["by"] = "survived", ""


def _spent_s() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def _open(results: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return [one for one in results if one["outcome"] == "survived"]


def page(results: Sequence[Mapping[str, Any]], reasons: Mapping[str, str], seed: int) -> str:
    """docs/mutation.md."""
    rooms: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for one in results:
        rooms[str(one["file"]).split("/")[0]][str(one["outcome"])] += 1
    caught = len(results) - len(_open(results))
    within = binomtest(caught, max(1, len(results))).proportion_ci(0.9, "wilson")
    every = sum(1 for file in files() for _ in _Source(file).mutants())
    lines = [
        "# What the tests notice",
        "",
        f"{len(results)} changes of the {every:,} that can be made, one at a time, in the modules that decide and tell (`workbench`, `safety`, `run`,",
        "`diagnosis`, `inference/words`): comparisons, numbers, signs, conditions, sums, words that turn a sentence round, statements left",
        f"out. **{100 * caught / max(1, len(results)):.0f} in 100 were noticed** (of all that can be made {100 * within.low:.0f} to",
        f"{100 * within.high:.0f}, 90 % interval) by tests that were green without the change and need no browser. A change is given the tests that run",
        f"its line (or, not measured yet, that have its module's names), quickest first, for about {MOST_TESTS_S:g} seconds of the processor. Written by `make mutate`; the same source and seed (here",
        f"{seed}) give the same changes.",
        "",
        "| room | changes | noticed | not noticed | in 100 |",
        "|---|---:|---:|---:|---:|",
    ]
    for room, count in sorted(rooms.items()):
        seen = count.total() - count["survived"]
        lines.append(
            f"| `{room}` | {count.total()} | {seen} | {count['survived']} | {100 * seen / count.total():.0f} |"
        )
    lines += ["", "## Not noticed, and why", "", "| where | what stood there | change | reason |", "|---|---|---|---|"]
    for one in _open(results):
        reason = reasons.get(f"{one['file']}: {one['text']} [{one['old']} -> {one['new']}]", "not looked into yet")
        old, new, text = (str(one[name]).replace("|", "\\|").replace("\n", " ") for name in ("old", "new", "text"))
        lines.append(f"| `{one['file']}:{one['line']}` | `{text[:90]}` | `{old[:40]}` to `{new[:40]}` | {reason} |")
    lines += ["", "## Nine changes that once went by unnoticed", ""]
    lines += [
        "Each was made again and seen red by `tests/unit/test_told_baths.py` or `tests/unit/test_told_strips.py`:",
        "",
    ]
    return "\n".join([*lines, *(f"- {one}" for one in ONCE)]) + "\n"


def main() -> None:
    """Run the sample, keep what came of it, write the page."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--sample", type=int, default=150)
    options.add_argument("--seed", type=int, default=SEED)
    options.add_argument("--only", default="", help="modules whose path holds this")
    options.add_argument("--again", action="store_true", help="only what survived the last time")
    options.add_argument("--aside", action="store_true", help="write no page")
    options.add_argument("--known", action="store_true", help="only with tests that are measured already")
    options.add_argument("--map", action="store_true", help="only measure which test runs which line")
    given = options.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    # No smaller example is sought of what is noticed; the examples are the same each time.
    os.environ["OBVERSE_EXPLORE"] = "1"
    from hypothesis import Phase, settings

    settings.register_profile(
        "mutate", derandomize=True, deadline=None, database=None, phases=(Phase.explicit, Phase.generate)
    )
    settings.load_profile("mutate")
    aside = tempfile.mkdtemp()
    try:
        found = [str(path.relative_to(ROOT)) for one in ANSWER for path in sorted((ROOT / "tests").glob(one))]
        raise SystemExit(
            pytest.main([*QUIET, f"--basetemp={aside}/tests", *dict.fromkeys(found)], plugins=[Chore(given)])
        )
    finally:
        shutil.rmtree(aside, ignore_errors=True)


if __name__ == "__main__":
    main()
