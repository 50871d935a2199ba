"""Density, corners, intervals, clipping and the count of patches over 100 random simulated pictures of each kind.

Run: python -m benchmarks.camera_accuracy [pictures of each kind, default 100] [first seed]
"""

from __future__ import annotations

import sys

import numpy as np

from benchmarks.render_random import Draw, random_scene, random_strip
from benchmarks.simulated_files import save_jpeg
from obverse.capture import load_picture, save_tiff
from obverse.densitometry import read_strip
from obverse.foundation import Z90, InputError
from obverse.imaging.geometry import UNIT_SQUARE, homography, project
from obverse.imaging.render import Light, develop, expose, render

FIRST_SEED = 710_000  # nothing was tuned on these
OFFS = (-2, -1, 0, 1, 2)
KINDS = ("merged", "merged, nothing opaque", "jpeg", "overexposed")


def pictures(kind: str, seed: int):
    """The light with its truth, the pictures as loaded from their files, and the shortest exposure."""
    rng = np.random.default_rng(seed)
    draw = Draw(most_density=2.2 if kind == "jpeg" else 3.0, masked="nothing" not in kind)
    strip = random_strip(rng, draw)
    light = render(strip, random_scene(strip, rng, draw), rng)
    if kind == "jpeg":
        return (
            light,
            [load_picture(save_jpeg(develop(expose(light, 1.0, rng)), quality=int(rng.integers(85, 97))))],
            1.0,
        )
    if kind == "overexposed":
        exposure = float(rng.uniform(1.5, 8.0))
        return light, [load_picture(save_tiff(expose(light, exposure, rng)))], exposure
    times = ((1 / 128, 1 / 125), (1 / 32, 1 / 30), (1 / 8, 1 / 8), (1 / 2, 1 / 2))
    true = [time * 128 * rng.uniform(0.98, 1.02) for time, _ in times]
    return (
        light,
        [
            load_picture(save_tiff(expose(light, t, rng), exposure_s=named))
            for t, (_, named) in zip(true, times, strict=True)
        ],
        true[0],
    )


def too_bright(light: Light, exposure: float) -> np.ndarray:
    """Which patches truly lie above full scale in that exposure, by the noiseless light in their middles."""
    strip = light.strip
    along = (strip.lead_mm[0] + (np.arange(len(strip.densities)) + 0.5) * strip.pitch_mm) / strip.length_mm
    middle = np.rint(
        project(homography(UNIT_SQUARE, light.scene.corners), np.stack([along, np.full_like(along, 0.5)], 1))
    ).astype(int)
    level = [np.median(light.light[y - 2 : y + 3, x - 2 : x + 3, 1]) for x, y in middle]
    return exposure * np.array(level) > 1.02


def counts_noticed(light: Light, taken) -> np.ndarray:
    """For each of `OFFS` patches too many: refused, and refused or cautioned, in the picture that shows the panel."""
    found = []
    for off in OFFS:
        try:
            reading = read_strip(taken[:1], len(light.densities) + off)
            found.append((False, any(c.where == "patches" for c in reading.cautions)))
        except InputError as error:
            found.append(("asked for" in error.sentence,) * 2)
    return np.array(found)


def main(count: int, first: int = FIRST_SEED, kinds: tuple[str, ...] = KINDS) -> None:
    """Print what was found for each kind."""
    for kind in kinds:
        rows, near, failed, clipped, unmarked, noticed = [], 0, 0, 0, 0, []
        for seed in range(first, first + count):
            light, taken, shortest = pictures(kind, seed)
            over = kind == "overexposed"
            try:
                # Where the panel itself is clipped the program does not look for the strip in its light.
                reading = read_strip(taken, len(light.densities), light.scene.corners if over else None)
            except InputError as error:
                failed += 1
                print("  not read:", seed, error.sentence)
                continue
            bright = too_bright(light, shortest)
            clipped += bright.sum()
            unmarked += (bright & ~reading.clipped).sum()
            near += np.linalg.norm(np.array(reading.corners) - light.scene.corners, axis=1).max() < 4
            rows += [
                (true, p.density.value - true, p.density.sd)
                for true, p in zip(light.densities, reading.patches, strict=True)
                if not p.clipped
            ]
            if kind in ("merged", "jpeg"):
                noticed.append(counts_noticed(light, taken))
        print(f"{kind}: not read {failed} of {count}; {clipped} patches truly clipped, {unmarked} of them not marked")
        if over:  # densities against a clipped panel are worth nothing, and are said to be
            continue
        true, error, sd = np.array(rows).T
        parts = []
        for low, high in ((0, 1.8), (1.8, 2.0), (2.0, 3.1)):
            inside = (true > low) & (true <= high)
            if inside.any():
                parts.append(f"D {low}-{high}: RMS {np.sqrt(np.mean(error[inside] ** 2)):.4f} ({inside.sum()})")
        covered = np.mean(np.abs(error) <= Z90 * sd)
        print(f"  corners {near}/{count}; {'; '.join(parts)}; 90 % intervals cover {100 * covered:.0f} %")
        if noticed:
            share = 100 * np.mean(noticed, axis=0)
            print(
                "  count of patches off by: "
                + "; ".join(
                    f"{off:+d} refused {r:.0f} %, with cautions {c:.0f} %"
                    for off, (r, c) in zip(OFFS, share, strict=True)
                ),
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100, int(sys.argv[2]) if len(sys.argv) > 2 else FIRST_SEED)
