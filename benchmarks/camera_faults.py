"""How well faults are told from pictures: writes the tables of docs/faults.md.

Every fault of the renderer at three strengths, sound strips, strips with two faults, and strips with marks
that are no known fault. The seeds are not those of `benchmarks/learn_camera_faults.py`; a change made
after looking at the tables asks for a new FIRST_SEED. Run: python -m benchmarks.camera_faults
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import combinations
from pathlib import Path

from scipy.stats import beta

from benchmarks.render_faults import FAULTS, STRENGTHS, render_faults
from benchmarks.render_strange import HELD_BACK, LEARNED
from obverse.densitometry import read_strip
from obverse.diagnosis import diagnose_picture
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.imaging.render import expose

FIRST_SEED = 10_000_000
ONE, SOUND, EACH_PAIR, STRANGE = 5, 24, 1, 4  # strips of each kind
UNCLEAR, UNREAD = "cannot_tell", "not read"
Found = dict[str, float]

HEAD = """# Faults told from a picture

Written by `benchmarks/camera_faults.py`; do not edit by hand. Simulated strips: invented film, perspective,
fall-off, glare, noise, grain, dust, scratches; one 16-bit linear picture of 1100 by 600 pixels each. Strength:
faint 0.2 is hardly visible, visible 0.5 shows to a careful eye, plain 1.0 to anybody. What a simulation leaves
out, these numbers leave out too; no real strip has been tried.

One comparison weighs everything a picture may show: nothing, one fault, two faults, or something else. Its
constants were learned by `benchmarks/learn_camera_faults.py` from other strips (seeds from 1 000 000); the strips
here (seeds from {first}) were not looked at before this run. A cell is the share of strips on which the fault of
its column was told (probability above 0.8); several may be told of one strip. "Cannot tell": something is there, and
no fault is likely. What sound strips of other hands reach is taken off first, unless a look goes beyond what any of
them showed (a stain of 0.1 between channels, drag of a tenth of the step, on perforated film a leak that takes a twelfth in the picture and more in
the rebate, edges of perforated film that wander by 0.7 mm): docs/camera-pictures.md says how often sound strips of other hands are told of anything.
"""


def told(faults: Mapping[str, float], seed: int) -> Found:
    """The probabilities of what is told of one strip."""
    light, rng = render_faults(faults, seed, others={**LEARNED, **HELD_BACK})
    picture = Picture(expose(light, 1.0, rng))
    try:
        reading = read_strip([picture], len(light.strip.densities))
    except InputError as error:  # counts as nothing told
        print(f"  {seed} not read: {error.sentence}")
        return {UNREAD: 1.0}
    return {found.fault: found.probability for found in diagnose_picture([picture], reading)}


def row(label: str, found: Sequence[Found], own: Sequence[str] = ()) -> str:
    """One line of a table; a fault that is on the strip is bold."""
    cells = []
    for column in (*FAULTS, UNCLEAR):
        share = sum(column in one for one in found) / len(found)
        cells.append(f"**{share:.2f}**" if column in own else f"{share:.2f}" if share else "")
    line = f"| {label.replace('_', ' ')} | {len(found)} | " + " | ".join(cells) + " |"
    print(line, flush=True)
    return line


def main() -> None:
    """Write the tables and print the two promises."""
    seed = FIRST_SEED
    columns = [*(name.replace("_", " ") for name in FAULTS), "cannot tell"]
    head = ["| on the strip | strips | " + " | ".join(columns) + " |", "|---" * (len(columns) + 2) + "|"]
    everything: list[tuple[tuple[str, ...], Found]] = []

    def strips(faults: Mapping[str, float], count: int) -> list[Found]:
        nonlocal seed
        found = [told(faults, seed + n) for n in range(count)]
        seed += count
        everything.extend((tuple(name for name in faults if name in FAULTS), one) for one in found)
        return found

    sound = strips({}, SOUND)
    lines = [HEAD.format(first=f"{FIRST_SEED:,}".replace(",", " ")), *head, row("nothing", sound)]
    shares = {}
    for name in FAULTS:
        for word, strength in STRENGTHS.items():
            found = strips({name: strength}, ONE)
            shares[name, word] = sum(name in one for one in found) / ONE
            lines.append(row(f"{name}, {word}", found, (name,)))
    lines += [
        "",
        "Two faults, both visible; every pair. The bold cell is the share of strips with that fault on which it was told.",
        "",
        *head,
    ]
    two: list[tuple[tuple[str, str], Found]] = []
    for pair in combinations(FAULTS, 2):
        two += [(pair, one) for one in strips(dict.fromkeys(pair, STRENGTHS["visible"]), EACH_PAIR)]
    for name in FAULTS:
        lines.append(row(f"{name} and another", [one for pair, one in two if name in pair], (name,)))
    lines.append("\n(Other columns hold the second fault of the pair: one strip in seven each.)\n")
    both = sum(set(pair) <= set(one) for pair, one in two) / len(two)
    more = sum(bool(set(one) - {*pair, UNCLEAR, UNREAD}) for pair, one in two) / len(two)
    lines.append(
        f"Both faults were told on {both:.2f} of the {len(two)} strips; a fault that was not there on {more:.2f}.\n"
    )
    lines += [
        "Marks that are no known fault. The first two kinds were held back: the comparison never saw their like.",
        "",
        *head,
    ]
    kinds = [(name, word) for name in HELD_BACK for word in ("visible", "plain")] + [
        (name, "visible") for name in LEARNED
    ]
    lines += [row(f"{name}, {word}", strips({name: STRENGTHS[word]}, STRANGE), (UNCLEAR,)) for name, word in kinds]
    lines += ["", *reliability(everything)]
    least, weakest = min((shares[name, "visible"], name) for name in FAULTS)
    alarms = Counter(fault for one in sound for fault in one if fault != UNREAD)
    most = max(alarms.values(), default=0)
    any_alarm = sum(bool(set(one) - {UNREAD}) for one in sound)
    tail = promises(least, weakest, any_alarm, most)
    unread = sum(UNREAD in one for _, one in everything)
    lines += [tail, "", f"Strips that could not be read, counted as nothing told: {unread} of {len(everything)}."]
    (Path(__file__).parents[1] / "docs" / "faults.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(tail)


def promises(least: float, weakest: str, any_alarm: int, most: int) -> str:
    """The two promises, and what so few strips leave open (95 %, exact)."""
    told = round(least * ONE)
    lowest = beta.ppf(0.05, told, ONE - told + 1) if told else 0.0
    highest = beta.ppf(0.95, any_alarm + 1, SOUND - any_alarm)
    return (
        f"Least sensitivity at the visible strength: {least:.2f}, {weakest.replace('_', ' ')} (aim: over 0.9); {ONE} strips of a kind "
        f'leave as little as {lowest:.2f} open. Sound strips of which anything was told, "cannot tell" included: {any_alarm} of {SOUND}, '
        f"{any_alarm / SOUND:.3f}; this leaves up to {highest:.3f} open. Most for one column: {most / SOUND:.3f} (aim: under 0.05)."
    )


def reliability(everything: Sequence[tuple[tuple[str, ...], Found]]) -> list[str]:
    """Whether what is told with a probability is there as often."""
    lines = ["How often a fault that is told with some probability is there (all strips above):", ""]
    lines += ["| probability told | faults told | there |", "|---|---|---|"]
    given = [(p, fault in names) for names, found in everything for fault, p in found.items() if fault in FAULTS]
    for low, high in ((0.5, 0.7), (0.7, 0.9), (0.9, 0.99), (0.99, 1.001)):
        there = [right for p, right in given if low <= p < high]
        if there:
            lines.append(f"| {low:.2f} to {min(high, 1):.2f} | {len(there)} | {sum(there) / len(there):.2f} |")
    return [*lines, ""]


if __name__ == "__main__":
    sys.exit(main())
