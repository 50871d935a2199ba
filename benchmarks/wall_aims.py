"""Aims of five walls: a table, and one scene on each wall by the named aim and by the wall's own.

python -m benchmarks.wall_aims [PICTURE.png]
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from obverse.process import Aim, named_aim
from obverse.workbench.preview import Screen, Viewing, look, white_of
from obverse.workbench.sample_scene import sample_scene
from obverse.workbench.slide_curve import LOG_EXPOSURE, SlideCurve
from obverse.workbench.wall_aim import Surround, slide_density, wall_aim

BASE = 0.1
SIZE = (450, 300)
GAP, HEAD = 14, 22


@dataclass(frozen=True, slots=True)
class Wall:
    """A wall by its name."""

    name: str
    screen: Screen
    surround: Surround


WALLS = (
    Wall("a bright club room", Screen(flux_lm=700, width_m=1.5, stray=0.004, room_lux=10, callier=1.3), "dim"),
    Wall("a dark cellar", Screen(flux_lm=700, width_m=1.5, stray=0.0005, callier=1.3), "dark"),
    Wall("a weak lamp", Screen(flux_lm=150, width_m=2, stray=0.0025, callier=1.2), "dark"),
    Wall("a strong lamp", Screen(flux_lm=2500, width_m=1.5, stray=0.0025, callier=1.4), "dark"),
    Wall("a light table", Screen(flux_lm=300, width_m=0.3, stray=0.01, callier=1.0), "average"),
)


def slide(aim: Aim) -> SlideCurve:
    """An average slide in the middle of an aim's windows, its mid-tone on the metered tone."""
    gradient = ((aim.gradient_min or 1.0) + (aim.gradient_max or 1.0)) / 2
    density = BASE + slide_density(
        LOG_EXPOSURE, dmax=aim.dmax_min or 2.0, gradient=gradient, midtone_density=aim.midtone_density
    )
    return SlideCurve(
        "aim",
        aim.name,
        "example",
        "",
        100.0,
        BASE,
        "clear",
        aim.midtone_density,
        LOG_EXPOSURE,
        density,
        density,
        density,
        None,
    )


def shown(wall: Wall, aim: Aim) -> np.ndarray:
    """The invented still life through that slide on that wall, as a lit monitor shows it."""
    scene = sample_scene(*SIZE)
    curve = slide(aim)
    viewing = Viewing(shown_in="average")
    white = white_of([curve], wall.screen, viewing)
    table = look(curve, 0.0, scene.average_code, wall.screen, viewing, white).grey
    return table[scene.codes]


def main() -> None:
    """Print the table, and draw the picture where one is named."""
    named = named_aim("projection")
    print(
        "| wall | open gate | mid-tone | gradient | blacks | highlights | steps of the wall | an average scene, own aim | by the named aim |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    across, down = SIZE
    sheet = Image.new("L", (2 * across + 3 * GAP, len(WALLS) * (down + HEAD + GAP) + GAP), 245)
    draw = ImageDraw.Draw(sheet)
    for row, wall in enumerate(WALLS):
        found = wall_aim(wall.screen, surround=wall.surround, base_density=BASE)
        aim = found.aim
        print(
            f"| {wall.name} | {found.gate_cd_m2:.0f} cd/m2 | {aim.midtone_density:.2f} | {aim.gradient_min:.2f} to {aim.gradient_max:.2f} "
            f"| {aim.dmax_min:.2f} | {aim.highlight_density_max:.2f} | {found.steps_of_wall:.0f} | {found.steps_of_scene:.0f} | {found.steps_of_scene_against:.0f} |"
        )
        top = GAP + row * (down + HEAD + GAP)
        for column, (one, words) in enumerate(
            ((named, "by the named aim"), (aim, f"by its own: mid-tone {aim.midtone_density:.2f}"))
        ):
            left = GAP + column * (across + GAP)
            draw.text((left, top + 4), f"{wall.name}, {words}", fill=20)
            sheet.paste(Image.fromarray(shown(wall, one)), (left, top + HEAD))
    if len(sys.argv) > 1:
        sheet.save(sys.argv[1], optimize=True)


if __name__ == "__main__":
    main()
