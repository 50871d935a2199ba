"""Faults told from the curve: confusion tables at three strengths, and the misses of the aim.

Run: python -m benchmarks.bench_faults_from_curve
Strips are drawn by `benchmarks.faulty_strips`. A known film was learned from three sound strips before.
The seeds were never looked at while the diagnosis was made. Prints the tables of docs/faults-from-the-curve.md.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from benchmarks.faulty_strips import (
    MISSES,
    READING_SD,
    FaultyStrip,
    X,
    chances_of,
    faulty_strip,
    film_seeds,
    known_film,
    strip_in_aim,
    strip_off_aim,
    verdict,
)
from obverse.diagnosis.causes import KnownFilm
from obverse.diagnosis.curve import diagnose_curve
from obverse.process import AIMS
from obverse.sensitometry import fit_curve

FIRST_SEED = 40_000
FILMS = 100
STRENGTHS = {
    "": (0.0,),
    "ghost_negative": (0.05, 0.10, 0.15),
    "incomplete_second_development": (0.8, 0.7, 0.6),
    "stain": (0.15, 0.25, 0.35),
    "underexposed": (-0.3, -0.45, -0.6),
    "overexposed": (0.3, 0.45, 0.6),
}
COLUMNS = (*STRENGTHS, "cannot tell")
SHORT = {"": "sound", "ghost_negative": "ghost", "incomplete_second_development": "incomplete"}
MISSED_BY = {
    "murky_highlights": (0.05, 0.10, 0.20),
    "thin_blacks": (0.10, 0.20, 0.40),
    "low_contrast": (0.10, 0.20, 0.30),
}


def confusion(
    title: str, film_of: Callable[[int], KnownFilm | None], faults: tuple[str, ...], *, with_colour: bool = False
) -> None:
    """Print one confusion table."""
    print(f"\n## {title}\n")
    print("| fault | strength | " + " | ".join(SHORT.get(c, c) for c in COLUMNS) + " |")
    print("| --- | --- |" + " --- |" * len(COLUMNS))
    for fault in faults:
        for strength in STRENGTHS[fault]:
            told: Counter[str] = Counter()
            for seed in film_seeds(FIRST_SEED, FILMS):
                film = film_of(seed)
                told[verdict(chances_of(faulty_strip(seed, fault, strength), film, with_colour=with_colour), film)] += 1
            print(
                f"| {SHORT.get(fault, fault)} | {strength:g} | " + " | ".join(str(told[c]) for c in COLUMNS) + " |",
                flush=True,
            )


def found_in(strip: FaultyStrip, film: KnownFilm | None) -> set[str]:
    """All that the diagnosis says of a strip."""
    base = strip.film.base_density
    curve = fit_curve(X, strip.density, np.full(X.size, READING_SD), base_density=base)
    return {
        one.fault
        for one in diagnose_curve(curve, aim=AIMS["projection"], base_density=base, controls=strip.controls, film=film)
    }


def misses(film_of: Callable[[int], KnownFilm | None]) -> None:
    """Print how often a miss of the aim is said where it is so, and where it is not."""
    print("\n## What the aim misses\n")
    print("| miss | by | strips | said |\n| --- | --- | --- | --- |")
    for miss in MISSES:
        for by in MISSED_BY[miss]:
            seeds = iter(range(FIRST_SEED, FIRST_SEED + 1000))
            strips = []
            while len(strips) < FILMS and (seed := next(seeds, None)) is not None:
                if (strip := strip_off_aim(seed, miss, by)) is not None:
                    strips.append((seed, strip))
            said = sum(miss in found_in(strip, film_of(seed)) for seed, strip in strips)
            print(f"| {miss.replace('_', ' ')} | {by:g} | {len(strips)} | {said} |", flush=True)
    for clear, where in ((True, "clear of every bound"), (False, "within a step of a bound")):
        told: Counter[str] = Counter()
        count = 0
        for seed in range(FIRST_SEED, FIRST_SEED + 3000):
            if count == FILMS:
                break
            if (strip := strip_in_aim(seed, clear=clear)) is not None:
                count += 1
                told.update(found_in(strip, film_of(seed)) or {"nothing"})
        print(
            f"\nSaid of {count} strips in the aim, {where}: "
            + ", ".join(f"{what.replace('_', ' ')} {n}" for what, n in told.most_common()),
            flush=True,
        )


def main() -> None:
    """Measure and print."""
    films: dict[int, KnownFilm] = {}

    def known(seed: int) -> KnownFilm:
        if seed not in films:
            films[seed] = known_film(seed)
        return films[seed]

    confusion("A film known from three other strips, the curve alone", known, tuple(STRENGTHS))
    confusion("The same, read by colour picture", known, ("", "ghost_negative", "stain"), with_colour=True)
    confusion("A film never seen before", lambda seed: None, tuple(STRENGTHS))
    misses(known)


if __name__ == "__main__":
    main()
