"""How well faults are told from pictures: writes the confusion table of docs/faults.md.

Every fault of the renderer at three strengths, and sound strips. The uneven agitation, light leak and
coarse grain thresholds were moved after runs over these seeds: change FIRST_SEED for a fair test. Run: python benchmarks/camera_faults.py [pictures of each kind, default 20]
"""

from __future__ import annotations

import sys
from pathlib import Path

from obverse.densitometry import read_strip
from obverse.diagnosis import diagnose_picture
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.imaging.render import expose
from obverse.imaging.render_faults import FAULTS, STRENGTHS, render_fault

FIRST_SEED = 50_000
HEAD = """# Faults told from a picture

Written by `benchmarks/camera_faults.py`; do not edit by hand. {count} simulated strips of each kind (invented
film, perspective, fall-off, glare, noise, grain, dust, scratches; one 16-bit linear picture of 1100 by 600 pixels
each). Some thresholds were moved after earlier runs over these same strips, so the table flatters them; it wants
repeating on fresh seeds. A cell is the share of strips on which the fault of its column was told
(probability above one half). Several faults may be told of one strip. Strength: faint 0.2 is hardly visible,
visible 0.5 shows to a careful eye, plain 1.0 to anybody. What a simulation leaves out, these numbers leave out too.

With {count} strips of a kind the smallest share that can show is 1/{count}; few strips prove no rate under 0.05.

"""


def told(fault: str, strength: float, seed: int) -> set[str]:
    """The faults told of one strip."""
    light, rng = render_fault(fault, strength, seed)
    picture = Picture(expose(light, 1.0, rng))
    try:
        reading = read_strip([picture], len(light.strip.densities))
    except InputError as error:  # counts as nothing told
        print("  not read:", error.sentence)
        return set()
    return {found.fault for found in diagnose_picture([picture], reading)}


def main(count: int) -> None:
    """Write the table and print the two promises."""
    columns = list(FAULTS)
    kinds = [("none", "", 0.0)] + [(f"{name}, {word}", name, value) for name in FAULTS for word, value in STRENGTHS.items()]
    lines = ["| on the strip | " + " | ".join(c.replace("_", " ") for c in columns) + " |", "|---" * (len(columns) + 1) + "|"]
    shares: dict[tuple[str, float], dict[str, float]] = {}
    for k, (label, fault, strength) in enumerate(kinds):
        found = [told(fault, strength, FIRST_SEED + 1000 * k + n) for n in range(count)]
        shares[fault, strength] = {c: sum(c in f for f in found) / count for c in columns}
        cells = [f"**{v:.2f}**" if c == fault else (f"{v:.2f}" if v else "") for c, v in shares[fault, strength].items()]
        lines.append(f"| {label.replace('_', ' ')} | " + " | ".join(cells) + " |")
        print(lines[-1], flush=True)
    sensitivity = min(shares[name, STRENGTHS["visible"]][name] for name in FAULTS)
    alarms = max(shares["", 0.0].values())
    tail = f"\nLeast sensitivity at the visible strength: {sensitivity:.2f} (aim: over 0.9). Most false alarms of a fault on sound strips: {alarms:.2f} (aim: under 0.05).\n"
    (Path(__file__).parents[1] / "docs" / "faults.md").write_text(HEAD.format(count=count) + "\n".join(lines) + "\n" + tail)
    print(tail)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
