"""The table of the race."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np

from benchmarks.worlds.race import MOST


def table(runs: list[dict[str, Any]]) -> str:
    """Rows for each family, hardness, way, trouble and learner; then each family and way; then calibration."""
    lines = [HEAD, "|" + "---|" * (HEAD.count("|") - 1)]
    for keys in (("family", "hardness", "way", "trouble"), ("family", "way", "trouble"), ("way", "trouble")):
        groups = defaultdict(list)
        for r in runs:
            groups[(*(r[k] for k in keys), r["learner"])].append(r)
        lines += [row(" ".join(map(str, key)), some) for key, some in sorted(groups.items())]
    own = [r for r in runs if r["learner"] == "notebook"]
    return "\n".join([*lines, *calibration(own)])


HEAD = "| films and learner | films | median | p90 | none in 12 | ready right | wrong | late or never | 90 % hold after 1 | after more | s |"


def row(name: str, runs: list[dict[str, Any]]) -> str:
    """One row."""
    first = np.array([r["first"] or MOST + 1 for r in runs], dtype=float)
    ready = [r for r in runs if r.get("ready") is not None]
    late = [r for r in runs if "ready" in r and r["first"] and (r["ready"] is None or r["ready"] > r["first"] + 2)]
    cover = [(c[0], c[1]) for r in runs for c in r.get("cover", [])]
    one = [v for vs, k in cover if k == 1 for v in vs]
    more = [v for vs, k in cover if k > 1 for v in vs]
    seconds = [s for r in runs for s in r["seconds"]]
    own = "ready" in runs[0]
    return (
        f"| {name} | {len(runs)} | {np.median(first):g} | {np.percentile(first, 90):.1f} | {np.mean(first > MOST):.0%} | "
        + (
            f"{sum(r['right'] for r in ready)} | {sum(not r['right'] for r in ready)} | {len(late)} | {_share(one)} | {_share(more)}"
            if own
            else "- | - | - | - | -"
        )
        + f" | {np.median(seconds):.2f} |"
    )


def calibration(runs: list[dict[str, Any]]) -> list[str]:
    """What the notebook's chances came to, in tenths."""
    pairs = np.array([p for r in runs for p in r["chance"]], dtype=float).reshape(-1, 2)
    lines = ["", "| chance given | mean given | came true | strips |", "|---|---|---|---|"]
    for low in np.arange(0.0, 1.0, 0.1):
        some = pairs[(pairs[:, 0] >= low) & (pairs[:, 0] < low + 0.1 + 1e-9 * (low > 0.85))]
        if len(some):
            lines.append(f"| {low:.1f} | {some[:, 0].mean():.2f} | {some[:, 1].mean():.2f} | {len(some)} |")
    return lines


def _share(values: list[bool]) -> str:
    return f"{np.mean(values):.0%}" if values else "-"
