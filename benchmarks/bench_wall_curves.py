"""Curves, lists and control charts of another hand: how often intervals hold, what wrong lists are told, false alarms.

    python -m benchmarks.bench_wall_curves intervals FOLDER [COUNT]
    python -m benchmarks.bench_wall_curves lists FOLDER
    python -m benchmarks.bench_wall_curves charts FOLDER [COUNT]

FOLDER holds what another hand wrote without sight of the product: `curves.py` with `score(fit, seeds, mixes=)` and `MIXES`,
`wrong_inputs.json`, `charts.py` with `series(seed, kind, n=, drift=, at=)`, `KINDS` and `MEASURES`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from obverse.foundation import InputError
from obverse.sensitometry import fit_curve, level_changes, read_list, recognise, strips_apart

# As `obverse.workbench.story` counts readings of strips: none repeats better.
LEAST_SD = 0.005
STRIPS = 20


def fit(readings: Mapping[str, Any], base: float) -> dict[str, tuple[float, float]]:
    """Nine-in-ten intervals of one list, errors as they were declared."""
    curve = fit_curve(
        readings["log_h"],
        readings["density"],
        [readings["density_sd"]] * len(readings["log_h"]),
        base_density=base,
        log_exposure_sd=readings["x_sd_per_frame"],
        common_log_exposure_sd=readings["x_sd_common"],
    )
    found = {
        "dmin": (curve.dmin.low90, curve.dmin.high90),
        "dmax": (curve.dmax_with_base.low90, curve.dmax_with_base.high90),
    }
    if curve.gradient:
        found["gradient"] = (curve.gradient.low90, curve.gradient.high90)
    if curve.midtone_log_exposure:
        found["midtone_log_h"] = (curve.midtone_log_exposure.low90, curve.midtone_log_exposure.high90)
    return found


def intervals(count: int) -> None:
    """One line a mix of errors: share of intervals that held."""
    import curves

    rows = curves.score(fit, range(count), mixes=curves.MIXES)
    print("| density sd | per frame | common | " + " | ".join(("dmin", "dmax", "gradient", "mid-tone")) + " |")
    for mix in curves.MIXES:
        rates = {row["quantity"]: row["rate"] for row in rows if row["mix"] == mix}
        print(
            f"| {mix[0]:g} | {mix[1]:g} | {mix[2]:g} | "
            + " | ".join(f"{100 * rates[q]:.0f} %" for q in ("dmin", "dmax", "gradient", "midtone_log_h"))
            + " |"
        )


def lists(folder: Path) -> None:
    """One line a list: what it is in truth, and what was told of it."""
    for one in json.loads((folder / "wrong_inputs.json").read_text()):
        known = one.get("known")
        try:
            said = recognise(read_list(one["csv"]), base_density=known.get("base") if isinstance(known, dict) else None)
            told = ", ".join(f"{doubt.code} ({doubt.verdict})" for doubt in said) or "nothing"
        except InputError as error:
            told = error.sentence
        print(f"| {one['id']} | {one['verdict']} | {told} |")


def charts_of(count: int) -> None:
    """One line a kind of process: false alarms per chart over 20 strips, shifts found."""
    import charts

    print("| strips | false alarms per chart over 20 | shifts of 1.5 sd at the 11th found by the 40th |")
    for kind in charts.KINDS:
        alarms, found = [], []
        for seed in range(count):
            stable = charts.series(seed, kind, n=STRIPS)
            alarms += [alarm(stable[measure]) for measure in charts.MEASURES]
            moved = charts.series(seed, kind, n=2 * STRIPS, drift="shift", at=11)
            found.append(bool(level_changes(moved[moved["truth"]["moved"][0]], least_sd=LEAST_SD)))
        print(f"| {kind} | {100 * np.mean(alarms):.1f} % | {100 * np.mean(found):.0f} % |")


def alarm(readings: list[float]) -> bool:
    """Whether the page would tell anything of this chart."""
    return bool(level_changes(readings, least_sd=LEAST_SD)) or bool(strips_apart(readings, least_sd=LEAST_SD))


def main() -> None:
    """Run the table that is asked for."""
    what, folder = sys.argv[1], Path(sys.argv[2])
    count = int(sys.argv[3]) if len(sys.argv) > len(("program", "what", "folder")) else 100
    sys.path.insert(0, str(folder))
    {"intervals": lambda: intervals(count), "lists": lambda: lists(folder), "charts": lambda: charts_of(count)}[what]()


if __name__ == "__main__":
    main()
