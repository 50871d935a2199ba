"""Learns the constants that weigh the faults of a picture against each other, from simulated strips.

Sound strips, strips with one fault, with two, and with marks that are no known fault, at strengths drawn
evenly from faint (0.2) to plain (1.0); most pictures 1100 pixels wide as in the table of docs/faults.md,
some larger or smaller. Half an hour or so. The strips of the table have other seeds. Writes src/obverse/diagnosis/data/picture_weights.json.

Run: python -m benchmarks.learn_camera_faults [file to keep the measures in]
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from itertools import combinations
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from benchmarks.render_faults import render_faults
from benchmarks.render_strange import LEARNED
from obverse.densitometry import read_strip
from obverse.diagnosis.measures import measure
from obverse.diagnosis.sheet import lay_flat
from obverse.diagnosis.weighing import ELSE, EXPLANATIONS, FAULTS, TERMS, Scale, membership
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.imaging.render import expose

# First seed, and how many strips are sound, of each fault, of each pair of faults, of each other mark.
USUAL = (1_000_000, 360, 56, 12, 34)
OTHER_SIZES = (1_500_000, 100, 12, 1, 6)
WIDTHS = (650, 1700)
OPEN = ("stain", "stain_everywhere")
PENALTY = 0.3  # on squared log-odds per standard deviation; chosen by leaving out a fifth of the strips at a time
OUT = Path(__file__).parents[1] / "src" / "obverse" / "diagnosis" / "data" / "picture_weights.json"


def plan(first_seed: int, sound: int, one: int, two: int, strange: int) -> list[tuple[str, ...]]:
    """What is on each strip, in the order of their seeds."""
    made: list[tuple[str, ...]] = [()] * sound
    made += [(name,) for name in FAULTS for _ in range(one)]
    made += [pair for pair in combinations(FAULTS, 2) for _ in range(two)]
    made += [(name,) for name in LEARNED for _ in range(strange)]
    return [made[k] for k in np.random.default_rng(first_seed).permutation(len(made))]


def measures(faults: Mapping[str, float], seed: int, width: int) -> dict[str, float]:
    """What is measured on one simulated strip."""
    light, rng = render_faults(faults, seed, others=LEARNED, width=width)
    picture = Picture(expose(light, 1.0, rng))
    reading = read_strip([picture], len(light.strip.densities))
    return measure(lay_flat([picture], reading), reading).numbers


def strips() -> tuple[list[tuple[str, ...]], list[dict[str, float]]]:
    """What is on each strip that could be read, and its measures."""
    kinds, rows = [], []
    for group in (USUAL, OTHER_SIZES):
        for n, names in enumerate(plan(*group)):
            seed = group[0] + n
            rng = np.random.default_rng(seed + 500_000_000)
            faults = {name: float(rng.uniform(0.2, 1.0)) for name in names}
            try:
                rows.append(measures(faults, seed, int(rng.uniform(*WIDTHS)) if group is OTHER_SIZES else 1100))
            except InputError as error:
                print(f"strip {seed} was not read: {error.sentence}")
                continue
            kinds.append(names)
            if n % 100 == 0:
                print(n, flush=True)
    return kinds, rows


def which(names: tuple[str, ...]) -> int:
    """Index of the explanation that is true of a strip."""
    known = tuple(fault for fault in FAULTS if fault in names)
    return EXPLANATIONS.index(known if len(known) == len(names) else (ELSE,))


def scale_of(rows: list[dict[str, float]], truth: np.ndarray) -> Scale:
    """The common scale, from the strips learned from."""
    names = tuple(sorted({name for row in rows for name in row}))
    values = np.array([[row.get(name, np.nan) for name in names] for row in rows])
    sound = truth == EXPLANATIONS.index(())
    unit = 0.5 * np.nanmedian(np.abs(values[sound]), axis=0) + 1e-9
    bent = np.arcsinh(values / unit)
    low, high = np.nanpercentile(bent, [0.5, 99.5], axis=0)
    clipped = np.clip(bent, low, high)
    # A stain is what it is by its amount, and may be thrice as strong as those learned from.
    further = np.where([name in OPEN for name in names], np.log(3.0), 0.0)
    return Scale(
        names,
        unit,
        low,
        high + further,
        np.nanmean(clipped, axis=0),
        np.nanstd(clipped, axis=0),
        np.nanmedian(bent[sound], axis=0),
    )


def fit(common: np.ndarray, truth: np.ndarray, penalty: float) -> tuple[np.ndarray, float]:
    """Log-odds of the terms, (9, M + 1), and of a pair, by penalised likelihood; `common` is (N, M)."""
    made = membership()
    ones = np.column_stack([np.ones(len(common)), common])

    def cost(flat: np.ndarray) -> tuple[float, np.ndarray]:
        terms = flat[:-1].reshape(len(TERMS), -1)
        log = np.column_stack([ones @ terms.T, np.full(len(ones), flat[-1])]) @ made.T
        log -= log.max(axis=1, keepdims=True)
        log -= np.log(np.exp(log).sum(axis=1, keepdims=True))
        wrong = np.exp(log)
        wrong[np.arange(truth.size), truth] -= 1
        slope = wrong @ made
        held = penalty * terms
        held[:, 0] = 0
        value = -log[np.arange(truth.size), truth].sum() + 0.5 * (held * terms).sum() + 0.005 * flat[-1] ** 2
        return value, np.concatenate([(slope[:, :-1].T @ ones + held).ravel(), [slope[:, -1].sum() + 0.01 * flat[-1]]])

    found = minimize(
        cost, np.zeros(len(TERMS) * ones.shape[1] + 1), jac=True, method="L-BFGS-B", options={"maxiter": 3000}
    )
    return found.x[:-1].reshape(len(TERMS), -1), float(found.x[-1])


def document(kinds: list[tuple[str, ...]], rows: list[dict[str, float]]) -> dict:
    """What is learned from these strips, as JSON."""
    truth = np.array([which(names) for names in kinds])
    scale = scale_of(rows, truth)
    terms, pair = fit(np.array([scale.common(scale.bend(row)) for row in rows]), truth, PENALTY)
    sound, one, two, strange = np.sum([USUAL, OTHER_SIZES], axis=0)[1:].tolist()
    return {
        "from": f"benchmarks/learn_camera_faults.py: {len(rows)} simulated strips, seeds from {USUAL[0]} and {OTHER_SIZES[0]}; no real strip",
        "strips": dict(zip(("sound", "one", "two", "else"), (sound, one, two, strange * len(LEARNED)), strict=True)),
        "constants": {term: short(terms[k, 0]) for k, term in enumerate(TERMS)},
        "pair": short(pair),
        "measures": [
            {"name": name}
            | {key: short(getattr(scale, key)[m]) for key in ("unit", "low", "high", "middle", "spread", "sound")}
            | {"log_odds": {term: short(terms[k, m + 1]) for k, term in enumerate(TERMS)}}
            for m, name in enumerate(scale.names)
        ],
    }


def short(value: float) -> float:
    """Six figures."""
    return float(f"{value:.6g}")


def main(kept: Path | None) -> None:
    """Measure the strips (or take what was kept), learn, and write."""
    if kept and kept.exists():
        found = json.loads(kept.read_text())
        kinds, rows = [tuple(names) for names in found["kinds"]], found["rows"]
    else:
        kinds, rows = strips()
        if kept:
            kept.write_text(json.dumps({"kinds": kinds, "rows": rows}))
    OUT.write_text(json.dumps(document(kinds, rows), indent=1) + "\n", encoding="utf-8")
    print(f"{len(rows)} strips, {OUT.name} written")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
