"""Density, corners and intervals over 100 random simulated pictures of each kind.

Run: python benchmarks/camera_accuracy.py [pictures of each kind, default 100]
"""

from __future__ import annotations

import sys

import numpy as np

from obverse.capture import load_picture, save_jpeg, save_tiff
from obverse.densitometry import read_strip
from obverse.foundation import Z90, InputError
from obverse.imaging.render import Draw, develop, expose, random_scene, random_strip, render

KINDS = ("merged", "merged, nothing opaque", "jpeg")


def pictures(kind: str, seed: int):
    """The light with its truth, and the pictures as loaded from their files."""
    rng = np.random.default_rng(seed)
    draw = Draw(most_density=2.2 if kind == "jpeg" else 3.0, masked="nothing" not in kind)
    strip = random_strip(rng, draw)
    light = render(strip, random_scene(strip, rng, draw), rng)
    if kind == "jpeg":
        return light, [load_picture(save_jpeg(develop(expose(light, 1.0, rng)), quality=int(rng.integers(85, 97))))]
    times = ((1 / 128, 1 / 125), (1 / 32, 1 / 30), (1 / 8, 1 / 8), (1 / 2, 1 / 2))
    return light, [
        load_picture(save_tiff(expose(light, true * 128 * rng.uniform(0.98, 1.02), rng), exposure_s=named)) for true, named in times
    ]


def main(count: int) -> None:
    """Print one line for each kind."""
    for kind in KINDS:
        rows, near, failed = [], 0, 0
        for seed in range(count):
            light, taken = pictures(kind, 90_000 + seed)
            try:
                reading = read_strip(taken, len(light.strip.densities))
            except InputError as error:
                failed += 1
                print("  not read:", error.sentence)
                continue
            near += np.linalg.norm(np.array(reading.corners) - light.scene.corners, axis=1).max() < 4
            rows += [
                (true, p.density.value - true, p.density.sd)
                for true, p in zip(light.densities, reading.patches, strict=True)
                if not p.clipped
            ]
        true, error, sd = np.array(rows).T
        parts = []
        for low, high in ((0, 1.8), (1.8, 2.0), (2.0, 3.1)):
            inside = (true > low) & (true <= high)
            if inside.any():
                parts.append(f"D {low}-{high}: RMS {np.sqrt(np.mean(error[inside] ** 2)):.4f} ({inside.sum()})")
        covered = np.mean(np.abs(error) <= Z90 * sd)
        print(f"{kind}: corners {near}/{count}, not read {failed}; {'; '.join(parts)}; 90 % intervals cover {100 * covered:.0f} %", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
