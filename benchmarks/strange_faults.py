"""Faults told from strips that renderers of other hands pictured: false alarms by kind of file, and what is found, fault by fault.

Run: python -m benchmarks.strange_faults RENDERER_FOLDER ... [--sound 40] [--each 3] [--first-seed 0] [--learn]

A renderer is as in `strange_pictures.py`. Its strips are sound; faults of `benchmarks.render_faults` are laid over their light,
in the strip's own millimetres by the renderer's own corners. Faults are looked for only where stray light was measured, so that an
opaque piece is laid on the widest open place of each picture, as bright as the stray light that the darkest patch shows over its
true density. Files are 16-bit: of others no fault is told, ever.

With --learn the sound strips of all renderers teach by how much such strips look faulty: written to data/picture_doubt.json.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy import ndimage

from benchmarks.render_faults import FAULTS, STRENGTHS
from benchmarks.strange_pictures import picture, renderer
from obverse.capture import load_picture
from obverse.densitometry import read_strip
from obverse.diagnosis import not_looked_for
from obverse.diagnosis.measures import Measures, measure
from obverse.diagnosis.picture import weigh
from obverse.diagnosis.sheet import lay_flat
from obverse.diagnosis.weighing import EXPLANATIONS, TERMS, learned, prior
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.imaging.geometry import homography, project
from obverse.imaging.render import Places, RenderedStrip

OUT = Path(__file__).parents[1] / "src" / "obverse" / "diagnosis" / "data" / "picture_doubt.json"
ALARMS = 0.02  # of sound strips, for each fault
FILES = ("linear_tiff16", "tiff16_icc", "png16")
FILM_MM, IMAGE_MM = 35.0, 24.0
OPEN, CARD, NOISE = 0.75, 0.035, 1e-4  # of the brightest light; half the side of the card, of the picture's longer side


def with_card(light: np.ndarray, truth: dict[str, Any], rng: np.random.Generator) -> np.ndarray | None:
    """The light with an opaque piece on the widest open place; None where nothing is open."""
    height, width = light.shape[:2]
    green = light[..., light.shape[2] // 2]
    level = float(np.percentile(green, 98))
    free = ndimage.minimum_filter(green, 5) > OPEN * level
    for polygon in truth["patch_polygons"]:
        left, top = np.floor(np.min(polygon, axis=0)).astype(int)
        right, bottom = np.ceil(np.max(polygon, axis=0)).astype(int)
        free[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)] = False
    depth = ndimage.distance_transform_cdt(np.pad(free, 1), metric="chessboard")[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(depth)), depth.shape)
    half = int(min(0.6 * depth[row, column], CARD * max(height, width)))
    if half < 6:
        return None
    darkest = int(np.argmax(truth["densities"]))
    x, y = np.mean(truth["patch_polygons"][darkest], axis=0).round().astype(int)
    shown = np.median(light[max(y - 3, 0) : y + 4, max(x - 3, 0) : x + 4], axis=(0, 1))
    panel = np.percentile(light, 98, axis=(0, 1))
    veil = np.maximum(shown - panel * 10.0 ** -truth["densities"][darkest], 2e-4 * panel)
    result = light.copy()
    box = result[row - half : row + half, column - half : column + half]
    box[...] = veil + rng.normal(0, NOISE, box.shape)
    return result


def with_fault(
    light: np.ndarray, truth: dict[str, Any], name: str, strength: float, rng: np.random.Generator
) -> np.ndarray:
    """The light of a strip of 35 mm film on which a fault is laid."""
    corners = np.array(truth["corners"], dtype=float)
    across_px = np.hypot(*(corners[3] - corners[0])), np.hypot(*(corners[2] - corners[1]))
    along_px = np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[2] - corners[3]))
    length = IMAGE_MM * float(np.mean(along_px) / np.mean(across_px))
    strip = RenderedStrip(
        tuple(truth["densities"]),
        pitch_mm=length / len(truth["densities"]),
        lead_mm=(0.0, 0.0),
        rebate_density=float(truth.get("border_density") or max(truth["densities"])),
        perforated=True,
    )
    rim = (FILM_MM - IMAGE_MM) / 2
    flat = np.array([[0, rim], [length, rim], [length, rim + IMAGE_MM], [0, rim + IMAGE_MM]], dtype=float)
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    where = project(homography(corners, flat), np.stack([x, y], -1).astype(float))
    along, across = where[..., 0], where[..., 1]
    on = (along >= 0) & (along < length) & (across >= 0) & (across < FILM_MM)
    index = np.clip((along / strip.pitch_mm).astype(int), 0, len(truth["densities"]) - 1)
    inside = on & (across > rim) & (across < rim + IMAGE_MM)
    density = np.where(inside, np.array(truth["densities"])[index], strip.rebate_density)
    change = FAULTS[name](strip, strength, rng)
    places = Places(along_mm=np.clip(along, 0, length), across_mm=np.clip(across, 0, FILM_MM), on_strip=on)
    after = np.asarray(change(places, np.where(on, density, 0.0)))
    away = np.where(on[..., None], (after if after.ndim == 3 else after[..., None]) - density[..., None], 0.0)
    return light * 10.0**-away if light.shape[2] == 3 else light * 10.0 ** -away[..., away.shape[2] // 2][..., None]


def encoded(like: Picture, light: np.ndarray) -> Picture:
    """A picture of that light, in the codes of another."""
    if like.table is not None:
        codes = np.interp(light, like.table, np.arange(like.table.size))
    else:
        black = np.array(like.black)
        codes = black + light * (like.saturation - black)
    return replace(like, codes=np.rint(np.clip(codes, 0, like.saturation)).astype(like.codes.dtype))


@dataclass(frozen=True)
class Case:
    """One strip, what lay on it, and what was measured; nothing where no faults are looked for (`why`)."""

    strip: str
    file: str
    fault: str
    strength: str
    why: str
    measured: Measures

    def told(self) -> set[str]:
        """What is told of it."""
        return set() if self.why else {found.fault for found in weigh(self.measured, learned())}


def look(made: Picture, patches: int) -> tuple[str, Measures]:
    """Why nothing was looked for, or what was measured."""
    try:
        reading = read_strip([made], patches)
    except InputError as error:
        return f"refused: {error.sentence}", Measures()
    why = not_looked_for([made], reading)
    return why, Measures() if why else measure(lay_flat([made], reading), reading)


def cases(folder: Path, asked: argparse.Namespace, where: Path) -> Iterator[Case]:
    """Sound strips of every kind, then the same few strips of 35 mm film with every fault."""
    module = renderer(where.resolve())
    kinds = [kind for kind in module.STRIP_KINDS if kind != "two_strips"]
    files = [file for file in FILES if file in module.FILE_KINDS]
    jobs = [(n, kinds[n % len(kinds)], "", "") for n in range(asked.sound)]
    jobs += [
        (asked.sound + n, "35mm", name, word)
        for n in range(asked.each)
        for word in ("visible", "plain")
        for name in FAULTS
    ]
    for n, strip, name, word in jobs:
        file, seed = files[n % len(files)], asked.first_seed + n
        paths, truth = picture(module, seed, strip, file, folder / where.name)
        rng = np.random.default_rng(seed)
        like = load_picture(paths[0])
        light = with_card(like.linear(like.codes).astype(float), truth, rng)
        if light is None:
            yield Case(strip, file, name, word, "no room for a card", Measures())
            continue
        if name:
            light = with_fault(light, truth, name, STRENGTHS[word], rng)
        yield Case(strip, file, name, word, *look(encoded(like, light), int(truth["patches"])))


def doubt(sound: list[Case]) -> dict[str, Any]:
    """What sound strips reach: so much that one in fifty of them is as likely as not to be told of."""
    plain = learned(doubted=False)
    reached = [
        plain.terms @ np.concatenate([[1.0], plain.scale.common(plain.scale.bend(case.measured.numbers))])
        for case in sound
        if not case.why
    ]
    # Log-odds of each term at which it is as likely, on its own, as a sound strip.
    log = np.log(prior()) - plain.log_share
    even = log[0] - log[[EXPLANATIONS.index((term,)) for term in TERMS]]
    most = np.maximum(np.quantile(reached, 1 - ALARMS, axis=0) - even, 0.0)
    source = f"benchmarks/strange_faults.py --learn: {len(reached)} sound strips of renderers of other hands"
    # Sizes that none of those strips reached are set by hand, from what they measured.
    by_hand = json.loads(OUT.read_text(encoding="utf-8"))
    log_odds = {term: round(float(v), 2) for term, v in zip(TERMS, most, strict=True)}
    return {"from": source, "log_odds": log_odds, "beyond": by_hand["beyond"], "plain": by_hand["plain"]}


def tables(found: list[Case]) -> str:
    """Alarms of sound strips by kind of file, and what is told of each fault."""
    lines = ["| sound strips | n | looked at | something told | what |", "|---|---|---|---|---|"]
    for file in FILES:
        some = [case for case in found if not case.fault and case.file == file]
        looked = [case.told() for case in some if not case.why]
        what = Counter(name for names in looked for name in names)
        lines.append(
            f"| {file} | {len(some)} | {len(looked)} | {sum(map(bool, looked))} | {', '.join(f'{name} {n}' for name, n in what.items())} |"
        )
    lines += ["", "| on the strip | n | looked at | told | cannot tell | another told |", "|---|---|---|---|---|---|"]
    for name in FAULTS:
        for word in ("visible", "plain"):
            some = [case for case in found if (case.fault, case.strength) == (name, word)]
            looked = [case.told() for case in some if not case.why]
            other = sum(bool(names - {name, "cannot_tell"}) for names in looked)
            unsure = sum("cannot_tell" in names for names in looked)
            told = sum(name in names for names in looked)
            lines.append(
                f"| {name.replace('_', ' ')}, {word} | {len(some)} | {len(looked)} | {told} | {unsure} | {other} |"
            )
    return "\n".join(lines)


def main() -> None:
    """Print the tables of each renderer, or learn from their sound strips."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("renderers", type=Path, nargs="+")
    parser.add_argument("--sound", type=int, default=40)
    parser.add_argument("--each", type=int, default=3)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--learn", action="store_true", help="write data/picture_doubt.json from the sound strips")
    asked = parser.parse_args()
    everything: list[Case] = []
    with tempfile.TemporaryDirectory() as scratch:
        for where in asked.renderers:
            found = list(cases(Path(scratch), asked, where))
            everything += found
            if not asked.learn:
                print(f"\n{where.name}\n\n{tables(found)}")
    if asked.learn:
        OUT.write_text(
            json.dumps(doubt([case for case in everything if not case.fault]), indent=1) + "\n", encoding="utf-8"
        )


if __name__ == "__main__":
    main()
