"""Strips pictured by renderers of other hands: what is found, refused, read and told, by kind of strip and of file.

Run: python benchmarks/strange_pictures.py RENDERER_FOLDER [--n 220] [--first-seed 0] [--card] [--keep FOLDER] [--json FILE]
Run: python benchmarks/strange_pictures.py FOLDER_OF_PICTURES [--json FILE]

A renderer is a folder with a `render.py` that offers `STRIP_KINDS`, `FILE_KINDS` and
`make_picture(seed, strip_kind, file_kind, out_folder)`, which writes a picture or a bracket and gives its truth: `files`, `patches`,
`densities`, `patch_polygons`; with `card=True` it lays an opaque piece beside the strip. A folder of pictures holds a folder for each
picture or bracket, with its `truth.json`: `files`, `patches`, `densities`, `kind_of_film`, `kind_of_file`, and `patch_polygons` or the
`centres` of the patches with one `halfsize` (along, across). The program is told the right number of patches and nothing else.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import sys
import tempfile
import traceback
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from obverse.capture.bracket import load_bracket
from obverse.densitometry import read_strip
from obverse.diagnosis import diagnose_picture
from obverse.foundation import InputError

_TO_USE, _TO_D = 1.8, 2.0
_ROUNDED = 5e-4  # of a density that was written down
_ELSEWHERE = (
    "patches.count",
    "patches.faint",
    "patches.border",
    "patches.even",
    "patches.elsewhere",
    "strip.several",
)  # cautions that the row may lie elsewhere
_OUTER = 0.9  # of the patch's own size: how far the middle that is read may lie off


@dataclass(frozen=True)
class Outcome:
    """What became of one picture or bracket."""

    seed: int
    strip: str
    file: str
    refused: str = ""
    broken: str = ""
    found: bool = False
    true: list[float] = field(default_factory=list)
    apparent: list[float] = field(default_factory=list)
    read: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    bound: list[bool] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    panel_clipped: bool = False
    card: bool = False


def renderer(folder: Path) -> ModuleType:
    """The `render.py` of a folder, as a module of its own."""
    spec = importlib.util.spec_from_file_location(f"renderer_{folder.name}", folder / "render.py")
    if spec is None or spec.loader is None:
        raise SystemExit(f"{folder} holds no render.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    sys.path.insert(0, str(folder))
    spec.loader.exec_module(module)
    return module


def cases(module: ModuleType, count: int, first: int) -> Iterable[tuple[int, str, str]]:
    """Seeds with their kinds, every pair of kinds about as often."""
    strips, files = list(module.STRIP_KINDS), list(module.FILE_KINDS)
    for seed in range(first, first + count):
        yield seed, strips[seed % len(strips)], files[seed // len(strips) % len(files)]


def picture(
    module: ModuleType, seed: int, strip: str, file: str, folder: Path, *, card: bool = False
) -> tuple[list[Path], dict[str, Any]]:
    """The files of a case and their truth, made unless they are there."""
    own = folder / f"{seed}-{strip}-{file}{'-card' if card else ''}"
    told = own / "truth-of-the-bench.json"
    if not told.is_file():
        own.mkdir(parents=True, exist_ok=True)
        truth = module.make_picture(seed, strip, file, str(own), **({"card": True} if card else {}))
        told.write_text(json.dumps(truth, default=lambda v: v.tolist() if hasattr(v, "tolist") else str(v)))
    truth = json.loads(told.read_text())
    return [own / Path(name).name for name in truth["files"]], truth


def rendered(asked: argparse.Namespace, folder: Path) -> Iterator[tuple[int, str, str, list[Path], dict[str, Any]]]:
    """Each case of a renderer, of the kinds asked for."""
    module = renderer(asked.renderer.resolve())
    for seed, strip, file in cases(module, asked.n, asked.first_seed):
        if asked.strip in ("", strip) and asked.file in ("", file):
            paths, truth = picture(module, seed, strip, file, folder, card=asked.card)
            yield seed, strip, file, paths, truth
            if not asked.keep:
                for path in paths:
                    path.unlink()


def laid_by(asked: argparse.Namespace) -> Iterator[tuple[int, str, str, list[Path], dict[str, Any]]]:
    """Each case of a folder of pictures, of the kinds asked for."""
    for told in sorted(asked.renderer.glob("*/truth.json"), key=lambda path: int(path.parent.name)):
        truth = json.loads(told.read_text())
        strip, file = truth["kind_of_film"], truth["kind_of_file"]
        if asked.strip in ("", strip) and asked.file in ("", file):
            truth.setdefault("patch_polygons", boxes(truth).tolist() if "centres" in truth else [])
            yield int(told.parent.name), strip, file, [told.parent / name for name in truth["files"]], truth


def boxes(truth: dict[str, Any]) -> np.ndarray:
    """Corners (patches, 4, 2) of patches of which centres and half sizes are told."""
    centres, (along, across) = np.array(truth["centres"], dtype=float), truth["halfsize"]
    way = np.gradient(centres, axis=0)
    way /= np.hypot(*way.T)[:, None]
    side = np.stack([-way[:, 1], way[:, 0]], 1)
    corners = [a * along * way + b * across * side for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    return centres[:, None] + np.stack(corners, 1)


def judge(seed: int, strip: str, file: str, paths: list[Path], truth: dict[str, Any]) -> Outcome:
    """Read one case and compare."""
    start = {"seed": seed, "strip": strip, "file": file}
    try:
        pictures = load_bracket(paths)
        reading = read_strip(pictures, int(truth["patches"]))
        faults = [f"{fault.name} {fault.probability:.2f}" for fault in diagnose_picture(pictures, reading)]
    except InputError as error:
        return Outcome(**start, refused=error.sentence)
    except Exception:
        return Outcome(**start, broken=traceback.format_exc(limit=-3))
    polygons = [np.array(p, dtype=float) for p in truth["patch_polygons"]]
    middles = np.array([np.mean(p.corners, axis=0) for p in reading.patches])
    order = _order(middles, polygons)
    found = all(_inside(m, polygons[k]) for m, k in zip(middles, order, strict=True))
    true = [truth["densities"][k] for k in order]
    apparent = truth.get("apparent_densities") or truth["densities"]
    return Outcome(
        **start,
        found=found,
        true=true,
        apparent=[apparent[k] for k in order],
        read=[p.density.value for p in reading.patches],
        low=[p.density.low90 for p in reading.patches],
        high=[p.density.high90 for p in reading.patches],
        bound=[bool(p.clipped) for p in reading.patches],
        faults=faults,
        cautions=[c.code for c in reading.cautions],
        panel_clipped=reading.reference.clipped,
        card=reading.reference.glare.measured,
    )


def _order(middles: np.ndarray, polygons: list[np.ndarray]) -> list[int]:
    """Which end is first is nobody's business but the person's: the truth in the order in which it was read."""
    centres = np.array([p.mean(0) for p in polygons])
    forwards = float(np.hypot(*(middles - centres).T).sum())
    backwards = float(np.hypot(*(middles - centres[::-1]).T).sum())
    count = len(polygons)
    return list(range(count)) if forwards <= backwards else list(range(count - 1, -1, -1))


def _inside(point: np.ndarray, polygon: np.ndarray) -> bool:
    """Whether a point lies in a convex polygon, a little drawn in."""
    corners = polygon.mean(0) + _OUTER * (polygon - polygon.mean(0))
    side = np.roll(corners, -1, axis=0) - corners
    away = point - corners
    turn = side[:, 0] * away[:, 1] - side[:, 1] * away[:, 0]
    return bool(np.all(turn >= 0) or np.all(turn <= 0))


def table(outcomes: list[Outcome], by: str) -> str:
    """One row for each kind."""
    kinds: dict[str, list[Outcome]] = defaultdict(list)
    for one in outcomes:
        kinds[str(getattr(one, by))].append(one)
    lines = [
        f"{by:15s} | n | found | told | refused | broken | RMS to D {_TO_USE:g} | to D {_TO_D:g} | 90 % hold | above | hold | light to D {_TO_D:g} | "
        "false faults |",
        "|---|---|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in (*sorted(kinds), "all"):
        some = outcomes if kind == "all" else kinds[kind]
        good = [o for o in some if o.found]
        lost = [o for o in some if not (o.found or o.refused or o.broken)]
        true, apparent, read, low, high, bound = (
            np.concatenate([np.array(getattr(o, name), dtype=float) for o in good] or [np.zeros(0)])
            for name in ("true", "apparent", "read", "low", "high", "bound")
        )
        free = bound == 0
        use, light, dark = free & (true <= _TO_USE), free & (true <= _TO_D), free & (true > _TO_D)
        held = (low - _ROUNDED <= true) & (true <= high + _ROUNDED)
        error = read - true
        lines.append(
            f"{kind:15s} | {len(some)} | {len(good)} | {sum(any(c in _ELSEWHERE for c in o.cautions) for o in lost)} | {sum(bool(o.refused) for o in some)} | "
            f"{sum(bool(o.broken) for o in some)} | {_rms(error[use])} | {_rms(error[light])} | {_share(held[light])} | "
            f"{_rms(error[dark])} | {_share(held[dark])} | {_rms((read - apparent)[light])} | {sum(bool(o.faults) for o in good)} |"
        )
    return "\n".join(lines)


def _rms(error: np.ndarray) -> str:
    return f"{np.sqrt(np.mean(error**2)):.4f} ({error.size})" if error.size else "-"


def _share(flags: np.ndarray) -> str:
    return f"{100 * np.mean(flags):.0f} %" if flags.size else "-"


def main() -> None:
    """Read the pictures of one renderer and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("renderer", type=Path)
    parser.add_argument("--n", type=int, default=220)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--strip", default="", help="only this kind of strip")
    parser.add_argument("--file", default="", help="only this kind of file")
    parser.add_argument("--card", action="store_true", help="an opaque piece lies beside each strip")
    parser.add_argument("--keep", type=Path, help="keep the pictures in this folder and take them from there")
    parser.add_argument("--json", type=Path, help="also write every outcome here")
    parser.add_argument("--quiet", action="store_true", help="the tables only")
    asked = parser.parse_args()
    outcomes = []
    with tempfile.TemporaryDirectory() as scratch:
        drawn = (asked.renderer / "render.py").is_file()
        for case in rendered(asked, asked.keep or Path(scratch)) if drawn else laid_by(asked):
            one = judge(*case)
            outcomes.append(one)
            if asked.json:  # what was read so far is kept, should the run be broken off
                asked.json.write_text(json.dumps([asdict(o) for o in outcomes]))
            if not asked.quiet and (one.refused or one.broken or not one.found or one.faults):
                what = one.refused or one.broken or ("" if one.found else "NOT FOUND") + " " + ", ".join(one.faults)
                print(f"{one.seed} {one.strip} {one.file}: {what}", flush=True)
    for by in ("strip", "file", "card"):
        print("\n" + table(outcomes, by))


if __name__ == "__main__":
    main()
