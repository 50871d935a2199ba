"""Break the house on purpose and see whether a test notices.

Each mutant changes one comparison, number, sign, condition, word or statement of a module that decides or tells, and runs
the quick tests of that module. What survives is listed in docs/mutation.md with the reason, where one was found.

    python scripts/mutate.py                      150 mutants, the same ones each time
    python scripts/mutate.py --sample 40 --only workbench/start.py
    python scripts/mutate.py --again              only those that survived the last time
"""

from __future__ import annotations

import argparse
import ast
import importlib
import importlib.abc
import importlib.machinery
import inspect
import json
import os
import random
import re
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from types import CodeType, FunctionType

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "obverse"
PAGE = ROOT / "docs" / "mutation.md"
LAST = ROOT / "docs" / "mutation.json"
SEED = 12
MOST_SECONDS = 240

# Modules, and the quick tests that answer for them, nearest first; a name after :: is one telling of test_told_everything.
# Tests in a browser and of whole programs are left out: they would notice more, and take too long for it. The modules of
# diagnosis that look at pictures (measures, rings, sheet) are judged by pictures that are rendered, which takes too long too.
TOLD = "unit/test_told_everything.py::test_what_is_told_is_what_was_read"
TESTS: dict[str, tuple[str, ...]] = {
    "workbench/bench.py": (f"{TOLD}[sheets]", "unit/test_bench_mix.py", "unit/test_bench_reach.py", "unit/test_bench_labels.py"),
    "workbench/booking.py": (f"{TOLD}[darkroom]", "unit/test_told_baths.py", "unit/test_sink_workbench.py"),
    "workbench/care/*.py": (
        f"{TOLD}[darkroom]", "unit/test_told_baths.py", "unit/test_safety_care.py", "unit/test_safety_pages.py",
    ),
    "workbench/duties.py": (f"{TOLD}[darkroom]", "unit/test_sink_workbench.py"),
    "workbench/evening_words.py": ("unit/test_sink_words.py", "unit/test_process_sheet.py", "unit/test_sink_command.py"),
    "workbench/exposure_card.py": ("unit/test_wall_slides.py", "unit/test_wall_preview.py"),
    "workbench/light_table.py": ("unit/test_table_pages.py", "unit/test_table_commands.py"),
    "workbench/notebook.py": ("unit/test_told_strips.py", "unit/test_notebook_worn_baths.py", "unit/test_recipes.py"),
    "workbench/projector.py": ("unit/test_wall_slides.py", "unit/test_wall_preview.py"),
    "workbench/recipes.py": (f"{TOLD}[steps_in_words]", "unit/test_recipes.py", "unit/test_recipes_web.py"),
    "workbench/shelf.py": (f"{TOLD}[darkroom]", "unit/test_bench_shelf.py", "unit/test_bench_labels.py"),
    "workbench/sink.py": (f"{TOLD}[darkroom]", "unit/test_sink_workbench.py", "unit/test_sink_corrections.py"),
    "workbench/slides.py": ("unit/test_wall_slides.py",),
    "workbench/start.py": (f"{TOLD}[darkroom]", "unit/test_house_demo.py"),
    "workbench/story.py": ("unit/test_told_strips.py", "unit/test_table_charts.py"),
    "workbench/wear.py": ("unit/test_told_baths.py", "unit/test_notebook_worn_baths.py"),
    "workbench/words.py": ("unit/test_told_strips.py",),
    "safety/airborne.py": (f"{TOLD}[air]", "published/test_safety_room_model.py", "published/test_safety_air_limits.py"),
    "safety/bath_life.py": ("unit/test_told_baths.py", f"{TOLD}[baths]", "unit/test_safety_bath_life.py"),
    "safety/destroy.py": ("unit/test_told_baths.py", f"{TOLD}[baths]", f"{TOLD}[air]"),
    "safety/hazards.py": (f"{TOLD}[bottles]", f"{TOLD}[baths]", "unit/test_safety_hazards.py", "published/test_safety_clp_limits.py"),
    "safety/waste.py": (f"{TOLD}[jugs]", "unit/test_safety_waste.py", "published/test_safety_waste_limits.py"),
    "safety/*.py": (
        f"{TOLD}[meetings]", f"{TOLD}[reckoned]", f"{TOLD}[routes_checked]", f"{TOLD}[carried]", f"{TOLD}[baths]", "unit/test_safety_pairs.py",
        "recovery/test_safety_situations.py",
    ),
    "run/planner.py": (f"{TOLD}[plans]", "unit/test_sink_plan.py"),
    "run/proof.py": (f"{TOLD}[plans]", "unit/test_sink_plan.py"),
    "run/temperature.py": ("unit/test_told_strips.py", f"{TOLD}[temperatures]", "published/test_sink_temperature.py"),
    "run/*.py": (f"{TOLD}[evenings]", "unit/test_sink_run.py", "unit/test_sink_corrections.py"),
    "inference/words*.py": ("unit/test_told_strips.py", "unit/test_notebook_next.py"),
    "diagnosis/c*.py": (f"{TOLD}[curve_faults]", "unit/test_table_stain_colour.py"),
    "diagnosis/finding.py": (f"{TOLD}[faults_said]", f"{TOLD}[curve_faults]"),
    "diagnosis/picture_words.py": (f"{TOLD}[faults_said]",),
    "diagnosis/weighing.py": ("unit/test_camera_faults_weighed.py",),
}  # fmt: skip

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
        for node in ast.walk(tree):
            if id(node) in quiet or not hasattr(node, "lineno"):
                continue
            yield from self._of(node)

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
        elif isinstance(node, (ast.If, ast.IfExp, ast.While)):
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
    """What is no behaviour: docstrings, types, slots of a declaration."""
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


def files() -> dict[str, tuple[str, ...]]:
    """Every module that is mutated, with its tests in order; the first pattern that names it counts."""
    found: dict[str, tuple[str, ...]] = {}
    for pattern, tests in TESTS.items():
        for path in sorted(SOURCE.glob(pattern)):
            if path.name != "__init__.py":
                found.setdefault(path.relative_to(SOURCE).as_posix(), tuple(f"tests/{test}" for test in tests))
    return found


def sample(count: int, only: str = "") -> list[Mutant]:
    """The mutants of a run: the same ones for the same source, files in proportion to what can be changed in them."""
    every = [mutant for file in files() if only in file for mutant in _Source(file).mutants()]
    draw = random.Random(SEED)
    return sorted(draw.sample(every, min(count, len(every))), key=lambda mutant: (mutant.file, mutant.begin))


class _Loader(importlib.abc.MetaPathFinder, importlib.machinery.SourceFileLoader):
    """Gives one module with its change; all others as they are."""

    def __init__(self, module: str, path: Path, text: str) -> None:
        self.changed = text
        importlib.machinery.SourceFileLoader.__init__(self, module, str(path))

    def find_spec(self, name: str, path: object = None, target: object = None) -> importlib.machinery.ModuleSpec | None:
        """The changed module's place; None for every other."""
        return importlib.machinery.ModuleSpec(name, self, origin=self.path) if name == self.name else None

    def get_code(self, name: str) -> object:  # type: ignore[override]
        """The changed text, compiled."""
        return compile(self.changed, self.path, "exec", dont_inherit=True)


def _codes(code: CodeType, prefix: str = "") -> dict[str, CodeType]:
    """Code of every function of a module, by qualified name."""
    found = {}
    for one in code.co_consts:
        if isinstance(one, CodeType):
            name = f"{prefix}{one.co_name}"
            found[name] = one
            found |= _codes(one, f"{name}.")
    return found


def put_in(mutant: Mutant) -> None:
    """Give this process the changed module.

    A change within a function of a module that is loaded already is put into that function; a change of anything else makes
    everything of ours be imported anew, with the changed module among it.
    """
    path = SOURCE / mutant.file
    text = path.read_text(encoding="utf-8")
    changed = text[: mutant.begin] + mutant.new + text[mutant.end :]
    module = "obverse." + mutant.file.removesuffix(".py").replace("/", ".")
    old, new = (_codes(compile(one, str(path), "exec", dont_inherit=True)) for one in (text, changed))
    differing = [
        name
        for name in old
        if name in new
        and old[name].co_code + repr(old[name].co_consts).encode()
        != new[name].co_code + repr(new[name].co_consts).encode()
    ]
    outer = [
        name for name in differing if not any(name != other and name.startswith(f"{other}.") for other in differing)
    ]
    holder: object = sys.modules.get(module)
    if len(outer) == 1 and holder is not None and old.keys() == new.keys():
        for part in outer[0].split("."):
            holder = inspect.getattr_static(holder, part, None)
            holder = (
                getattr(holder, "fget", None)
                or getattr(holder, "func", None)
                or getattr(holder, "__wrapped__", None)
                or getattr(holder, "__func__", None)
                or holder
            )
        if isinstance(holder, FunctionType) and holder.__code__.co_freevars == new[outer[0]].co_freevars:
            holder.__code__ = new[outer[0]]
            return
    for name in [name for name in sys.modules if name.split(".")[0] in ("obverse", "tests")]:
        del sys.modules[name]
    sys.meta_path.insert(0, _Loader(module, path, changed))


def attempt(mutant: Mutant) -> str:
    """What the tests say of one mutant: killed, survived, or timed out; in a process of its own."""
    tests = files()[mutant.file]
    child = os.fork()
    if child == 0:
        os.setsid()
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        try:
            import pytest

            put_in(mutant)
            quiet_run = ["-x", "-q", "-W", "ignore", "-p", "no:cacheprovider", "-p", "no:xdist"]
            code = pytest.main([*quiet_run, *tests])
        except BaseException:
            code = 1
        os._exit(0 if code == 0 else 1)
    until = time.monotonic() + MOST_SECONDS
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return "survived" if status == 0 else "killed"
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "timed out"


def page(results: list[dict[str, str | int]], reasons: dict[str, str]) -> str:
    """docs/mutation.md."""
    rooms: dict[str, Counter[str]] = {}
    for one in results:
        room = "/".join(str(one["file"]).split("/")[:1])
        rooms.setdefault(room, Counter())[str(one["outcome"])] += 1
    total = sum((count for count in rooms.values()), Counter[str]())
    caught = total["killed"] + total["timed out"]
    lines = [
        "# What the tests notice",
        "",
        f"{len(results)} changes, one at a time, in the modules that decide and tell: comparisons, numbers, signs, conditions, sums,",
        f"words that turn a sentence round, statements left out. **{100 * caught / max(1, len(results)):.0f} % were noticed** by the quick",
        "tests of each module (no browser, no whole programs). Written by `make mutate`; the same source gives the same changes.",
        "",
        "| room | changes | noticed | not noticed |",
        "|---|---:|---:|---:|",
    ]
    for room, count in sorted(rooms.items()):
        lines.append(f"| `{room}` | {count.total()} | {count['killed'] + count['timed out']} | {count['survived']} |")
    lines += ["", "## Not noticed, and why", "", "| where | what stood there | change | reason |", "|---|---|---|---|"]
    for one in results:
        if one["outcome"] == "survived":
            key = f"{one['file']}: {one['text']} [{one['old']} -> {one['new']}]"
            reason = reasons.get(key, "not looked into yet")
            old, new, text = (str(one[name]).replace("|", "\\|").replace("\n", " ") for name in ("old", "new", "text"))
            lines.append(f"| `{one['file']}:{one['line']}` | `{text[:90]}` | `{old[:40]}` to `{new[:40]}` | {reason} |")
    return "\n".join(lines) + "\n"


def _modules() -> list[str]:
    return ["obverse." + file.removesuffix(".py").replace("/", ".") for file in files()]


def main() -> None:
    """Run the sample, keep what came of it, write the page."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--sample", type=int, default=150)
    options.add_argument("--only", default="", help="modules whose path holds this")
    options.add_argument("--again", action="store_true", help="only what survived the last time")
    given = options.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    # Loaded once; every child starts from here.
    for name in ("pytest", "hypothesis", "obverse.web.app", "obverse.cli.main", *_modules()):
        importlib.import_module(name)

    kept = json.loads(LAST.read_text(encoding="utf-8")) if LAST.exists() else {"results": [], "reasons": {}}
    mutants = sample(given.sample, given.only)
    if given.again:
        open_still = {
            (one["file"], one["begin"], one["new"]) for one in kept["results"] if one["outcome"] == "survived"
        }
        mutants = [mutant for mutant in mutants if (mutant.file, mutant.begin, mutant.new) in open_still]
    for tests in sorted({files()[mutant.file] for mutant in mutants}):
        file = next(mutant.file for mutant in mutants if files()[mutant.file] == tests)
        if attempt(Mutant(file, 1, 0, 0, "", "", "nothing")) != "survived":
            raise SystemExit(f"red without any change, so they prove nothing: {', '.join(tests)}")
    results = []
    for place, mutant in enumerate(mutants, start=1):
        text = (SOURCE / mutant.file).read_text(encoding="utf-8").splitlines()[mutant.line - 1].strip()
        outcome = attempt(mutant)
        results.append({**asdict(mutant), "text": text, "outcome": outcome})
        print(f"{place:>4}/{len(mutants)} {outcome:<9} {mutant.name}", flush=True)
    if given.again:
        fresh = {(one["file"], one["begin"], one["new"]): one for one in results}
        results = [fresh.get((one["file"], one["begin"], one["new"]), one) for one in kept["results"]]
    if not given.only:
        LAST.write_text(
            json.dumps({"results": results, "reasons": kept["reasons"]}, indent=1, ensure_ascii=False) + "\n",
            encoding="utf-8",
        )
        PAGE.write_text(page(results, kept["reasons"]), encoding="utf-8")
    survived = sum(one["outcome"] == "survived" for one in results)
    print(f"{len(results)} changes, {survived} not noticed")


if __name__ == "__main__":
    main()
