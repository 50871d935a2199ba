"""The loop closed on rendered walls: what a photograph of a grey scale says, against the truth of another hand.

    python -m benchmarks.bench_wall_seen [FIRST LAST]

Prints one line a wall and a summary: how often the nine-in-ten intervals held, and the median departure.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
import tifffile

sys.path.insert(0, str(Path(__file__).parent / "renderers" / "wall"))
import render

from obverse.imaging.geometry import homography, project
from obverse.workbench.preview import Screen
from obverse.workbench.wall_seen import Closed, ScaleAsked, close_loop, opened

# Coarser than the renderer's own, and many times quicker.
PPM, WIDTH, HEIGHT = 14, 720, 480


def wall(seed: int, **forced: float) -> tuple[bytes, ScaleAsked, Screen, dict]:
    """A photograph of a wall, what a person would say of it, the projector as they entered it, and the truth."""
    render.PPM, render.W, render.HH = PPM, WIDTH, HEIGHT
    image, truth = render.make_wall(seed, **forced)
    file = io.BytesIO()
    tifffile.imwrite(file, np.rint(np.clip(image, 0, 1) * 65535).astype(np.uint16), photometric="rgb")
    boxes = [patch["box_mm"] for patch in truth["patches"]]
    low = np.array(boxes[0][:2])
    high = np.array(boxes[-1][:2]) + boxes[-1][2:]
    across, down = truth["opening_mm"]
    to_picture = homography(
        np.array([[0.0, 0.0], [across, 0.0], [across, down], [0.0, down]]), np.array(truth["opening_px"])
    )
    field = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    said = truth["inputs"]
    asked = ScaleAsked(
        corners=tuple(tuple(point) for point in project(to_picture, field).round(1).tolist()),
        densities="\n".join(str(d) for d in said["diffuse_densities"]),
        base_density=round(truth["values"]["base"], 2),
        spot_patch=said["spot_meter"]["patch"] + 1,
        spot_cd_m2=said["spot_meter"]["cd_m2"],
    )
    screen = Screen(
        flux_lm=said["lamp_lumens_as_labelled"],
        width_m=said["picture_width_m"],
        aspect=across / down,
        gain=said["screen_gain_as_labelled"],
        room_lux=said["room_lux_measured"],
    )
    return file.getvalue(), asked, screen, truth


def truths(truth: dict) -> dict[str, float]:
    """What the findings should say: Callier factor between base and one density more, black share, open gate."""
    values = truth["values"]

    def specular(density: float) -> float:
        return float(render.callier(density, values)) * density

    gates = [
        patch["parts_cd_m2"]["picture"] / 10 ** -patch["specular_density"] / patch["fall_off"]
        for patch in truth["patches"]
    ]
    gate = float(np.mean(gates))
    veil = float(np.mean([patch["parts_cd_m2"]["veil"] for patch in truth["patches"]]))
    room = float(np.mean([patch["parts_cd_m2"]["room"] for patch in truth["patches"]]))
    return {
        "callier": specular(values["base"] + 1) - specular(values["base"]),
        "black": (veil + room) / gate,
        # A base is taken to scatter nothing; the renderer's does, and dims its open gate so much.
        "gate": gate * 10 ** (values["base"] - specular(values["base"])),
    }


def off(found: Closed) -> float:
    """Root mean square of predicted against seen, in stops."""
    return float(np.sqrt(np.mean([one.off_stops**2 for one in found.patches])))


def main() -> None:
    """Print the table."""
    numbers = [int(a) for a in sys.argv[1:] if a.isdigit()]
    first, last = (*numbers, 0, 20)[:2] if len(numbers) != 2 else numbers
    held = {"callier": 0, "black": 0}
    print("wall  callier seen (90 %)       true   black, % (90 %)             true   stops off: as entered, taken over")
    for seed in range(first, last):
        data, asked, screen, truth = wall(seed)
        pictures = opened([(data, f"wall {seed}.tif")])
        found = close_loop(pictures, asked, screen)
        again = close_loop(pictures, asked, found.screen)
        true = truths(truth)
        by = {one.key: one.seen for one in found.findings}
        black = by["black"]
        held["callier"] += by["callier"].low90 <= true["callier"] <= by["callier"].high90
        held["black"] += black.low90 <= true["black"] <= black.high90
        print(
            f"{seed:4d}  {by['callier'].value:.2f} ({by['callier'].low90:.2f} to {by['callier'].high90:.2f})      {true['callier']:.2f}"
            f"   {100 * black.value:.3f} ({100 * black.low90:.3f} to {100 * black.high90:.3f})   {100 * true['black']:.3f}"
            f"   {off(found):.2f}  {off(again):.2f}   misfit {found.misfit:.2f}"
        )
    count = last - first
    print(f"held: Callier {held['callier']} of {count}, black {held['black']} of {count}")


if __name__ == "__main__":
    main()
