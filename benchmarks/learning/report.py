"""The page and the figure of the race."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from benchmarks.learning.opponents import OPPONENTS
from benchmarks.learning.race import MOST, OPPONENT_MOST

Results = dict[str, list[dict]]
# A learner that never got there counts as one strip beyond what it was allowed.
UNFINISHED = {"notebook": MOST + 1}
INK, PAPER, ACCENT = "#2b2620", "#fbf8f2", "#a4432b"
GREYS = ("#4a443c", "#6f675c", "#4f6470", "#7a6440", "#566b4e")
DASHES = ("", "7 4", "2 4", "9 3 2 3", "1 3")


def strips(runs: list[dict], name: str, field: str = "first") -> np.ndarray:
    """Strips needed, unfinished ones as one more than allowed."""
    return np.array(
        [r[field] if r[field] is not None else UNFINISHED.get(name, OPPONENT_MOST + 1) for r in runs], dtype=float
    )


def write_report(results: Results, *, films: int, first_seed: int, aim: str, out: Path) -> None:
    """Write benchmark-learning.md and learning.svg into `out`."""
    out.mkdir(parents=True, exist_ok=True)
    (out / "learning.svg").write_text(figure(results), encoding="utf-8")
    (out / "benchmark-learning.md").write_text(page(results, films, first_seed, aim), encoding="utf-8")
    print(page(results, films, first_seed, aim))


def page(results: Results, films: int, first_seed: int, aim: str) -> str:
    """The page as Markdown; every number in it is computed from the results."""
    own = results["notebook"]
    first, ready = strips(own, "notebook"), strips(own, "notebook", "ready")
    lines = [
        "# How many strips a recipe takes",
        "",
        f"Written by `python -m benchmarks.learning --films {films}` (first seed {first_seed}). Do not edit.",
        "",
        "The truth is invented and of another physics than the model that learns: grains one by one, with a",
        "distribution of sizes, quantum thresholds, induction, solvent that etches surfaces, a developer that tires",
        "(`benchmarks/grain_truth.py`). Films are drawn at random; kept are those for which some recipe within the",
        "limits meets the aim. Every strip is made and read with errors. The aim is "
        f"`{aim}`; films whose seed divided by three leaves two vary five controls, the others three.",
        "",
        "Strips until one truly lies in the aim (its own true curve, not its readings):",
        "",
        "| learner | median | 90th percentile | worst | unfinished |",
        "|---|---|---|---|---|",
    ]
    for name, runs in results.items():
        n, missing = strips(runs, name), sum(r["first"] is None for r in runs)
        allowed = MOST if name == "notebook" else OPPONENT_MOST
        worst = f"{n.max():.0f}" if not missing else f"over {allowed}"
        high = np.percentile(n, 90)
        lines.append(
            f"| {name} | {np.median(n):g} | {high:.1f}{'' if high <= allowed else ' or more'} | {worst} | {missing} of {len(runs)} |"
        )
    left_out = [name for name in OPPONENTS if name not in results]
    if left_out:
        lines += ["", f"Left out of this run (not installed or not asked for): {', '.join(left_out)}."]
    rivals = {name: np.percentile(strips(runs, name), 90) for name, runs in results.items() if name != "notebook"}
    if rivals:
        best = min(rivals, key=rivals.get)
        lines += [
            "",
            f"At the 90th percentile the notebook needs {np.percentile(first, 90) / rivals[best]:.2f} of the strips of the best opponent, {best}.",
        ]
    lines += [
        "",
        "![Share of films with a strip in the aim, by number of strips; dotted: until the notebook says ready and is right](learning.svg)",
        "",
        "## Knowing when to stop",
        "",
        f"The notebook said ready on {sum(r['ready'] is not None for r in own)} of {films} films, after a median of {np.median(ready):g} strips "
        f"(90th percentile {np.percentile(ready, 90):.1f}); the strip it meant truly lay in the aim in {_share([r['right'] for r in own if r['right'] is not None])}.",
        "",
        "## Saying how sure",
        "",
        "90 % intervals of strips not yet made, against what they truly became:",
        "",
        "| strips known | dmax | highlight | gradient | mid-tone | all |",
        "|---|---|---|---|---|---|",
    ]
    rows = [c for r in own for c in r["coverage"]]
    names = ("dmax", "highlight_density", "gradient", "midtone_log_exposure")
    for label, some in (
        ("0", lambda n: n == 0),
        ("1", lambda n: n == 1),
        ("2", lambda n: n == 2),
        ("3 or more", lambda n: n >= 3),
        ("any", lambda n: True),
    ):
        chosen = [c for c in rows if some(c["after"])]
        if chosen:
            cells = [_share([c["inside"] for c in chosen if c["of"] == name]) for name in names]
            lines.append(f"| {label} | " + " | ".join(cells) + f" | {_share([c['inside'] for c in chosen])} |")
    lines += [
        "",
        "The chance it gave a strip of lying in the aim, against how many did:",
        "",
        "| given | mean given | did | strips |",
        "|---|---|---|---|",
    ]
    pairs = np.array([p for r in own for p in r["calibration"]], dtype=float).reshape(-1, 2)
    for low in (0.0, 0.2, 0.4, 0.6, 0.8):
        some = pairs[(pairs[:, 0] >= low) & (pairs[:, 0] < low + (0.2 if low < 0.8 else 0.21))]
        if len(some):
            lines.append(
                f"| {low:.1f} to {low + 0.2:.1f} | {some[:, 0].mean():.2f} | {some[:, 1].mean():.2f} | {len(some)} |"
            )
    seconds = np.array([s for r in own for s in r["seconds"]])
    lines += [
        "",
        f"One answer took a median of {np.median(seconds):.2f} s of processor time (90th percentile {np.percentile(seconds, 90):.2f} s).",
        "",
    ]
    return "\n".join(lines)


def _share(values: list) -> str:
    return f"{np.mean(values):.0%}" if values else "-"


def figure(results: Results) -> str:
    """Share of films with a strip in the aim against the number of strips, as SVG of our own."""
    width, height, left, bottom, top, right = 760, 420, 64, 52, 24, 190
    wide, tall = width - left - right, height - bottom - top
    most = MOST

    def at(n: float, share: float) -> str:
        return f"{left + wide * n / most:.1f},{top + tall * (1 - share):.1f}"

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="Georgia, serif" font-size="14" role="img" '
        'aria-label="Share of films with a strip in the aim, by number of strips">',
        f'<rect width="{width}" height="{height}" fill="{PAPER}"/>',
    ]
    for share in (0, 0.25, 0.5, 0.75, 1):
        y = top + tall * (1 - share)
        parts.append(f'<line x1="{left}" x2="{left + wide}" y1="{y:.1f}" y2="{y:.1f}" stroke="#e4ddd0"/>')
        parts.append(f'<text x="{left - 10}" y="{y + 5:.1f}" text-anchor="end" fill="{INK}">{share:.0%}</text>')
    for n in range(0, most + 1, 5):
        parts.append(
            f'<text x="{left + wide * n / most:.1f}" y="{height - bottom + 22}" text-anchor="middle" fill="{INK}">{n}</text>'
        )
    parts.append(f'<text x="{left + wide / 2}" y="{height - 8}" text-anchor="middle" fill="{INK}">strips made</text>')
    labels = []
    lines = [(name, strips(runs, name)) for name, runs in results.items()]
    ready = [r["ready"] if r["right"] else None for r in results["notebook"]]
    lines.insert(1, ("notebook, ready and right", np.array([n if n is not None else MOST + 1 for n in ready])))
    for i, (name, n) in enumerate(lines):
        points = [(0, 0.0)]
        for k in range(1, most + 1):
            share = float((n <= k).mean())
            points += [(k, points[-1][1]), (k, share)]
        own = i < 2
        stroke = ACCENT if own else GREYS[(i - 2) % len(GREYS)]
        dash = (
            ""
            if i in (0, 2)
            else ' stroke-dasharray="1 4" stroke-linecap="round"'
            if i == 1
            else f' stroke-dasharray="{DASHES[(i - 2) % len(DASHES)]}"'
        )
        parts.append(
            f'<polyline fill="none" stroke="{stroke}" stroke-width="{3 if own else 2}"{dash} points="{" ".join(at(*p) for p in points)}"/>'
        )
        labels.append([top + tall * (1 - points[-1][1]) + 5, name, stroke if own else INK])
    labels.sort(key=lambda label: label[0])
    for i, label in enumerate(labels):
        if i and label[0] < labels[i - 1][0] + 18:
            label[0] = labels[i - 1][0] + 18
        parts.append(f'<text x="{left + wide + 12}" y="{label[0]:.1f}" fill="{label[2]}">{label[1]}</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"
