"""One film in many darkrooms: how many strips a darkroom needs alone, and where others lent theirs.

Truths are films of foreign physics (`benchmarks/truths`). Each darkroom has a developer, an ammonia, a thermometer and a
meter of its own; a film is made in one after the notebook's word, six strips or until it says ready, and these are lent.

    alone      nobody lends
    one        six strips of one honest darkroom
    three      three honest darkrooms
    liar       two honest darkrooms and one whose strips are of another film under this film's name
    bottle     two honest darkrooms and one whose ammonia is five times as strong as its label says
    unlike     six strips of another film are known, as another film

Paired: the same film, the same errors. All kinds are reported.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.worlds.films import Bench, Case, Picker
from obverse.inference import OtherDarkroom, next_strips
from obverse.process import Trial, read_series

MOST = 10
LENT = 6
KINDS = ("alone", "one", "three", "liar", "bottle", "unlike")


@dataclass(frozen=True)
class TrueDarkroom:
    """What is off in a darkroom, and unknown to everybody in it."""

    activity: float = 1.0
    ammonia: float = 1.0
    warmer_c: float = 0.0
    meter: float = 0.0

    @classmethod
    def drawn(cls, rng: np.random.Generator) -> TrueDarkroom:
        return cls(
            float(np.exp(0.12 * rng.standard_normal())),
            float(rng.uniform(0.7, 1.2)),
            float(0.7 * rng.standard_normal()),
            float(0.08 * rng.standard_normal()),
        )


@dataclass
class DarkroomBench(Bench):
    """A film on the bench of one darkroom."""

    darkroom: TrueDarkroom = field(default_factory=TrueDarkroom)

    def make(self, controls: dict[str, float]) -> bool:
        d, k = self.darkroom, len(self.strips)
        made = {
            **controls,
            "alkali_ml_per_l": controls["alkali_ml_per_l"] * d.ammonia,
            "temperature_c": 20.0 + d.warmer_c,
            # A developer so much more active counts as one with less water (power 0.8; both are only near the truths' laws).
            "developer_parts_water": 16.0 / d.activity**1.25 - 1.0,
        }
        extra = {"person": self.person} if self.person is not None else {}
        seen = self.common.see(
            self.film, made, self.rng, self.case.way, "none", strip_index=k, aim=self.case.aim, **extra
        )
        self.labels.append(controls)
        self.made.append(seen["true_controls"])
        read = self._read(seen["reading"])
        for step in read.get("steps", ()):
            step["log_exposure"] += d.meter
        self.strips.append({"id": f"strip {k + 1}", "controls": controls} | read)
        return self.truly(k)


def bench_of(case: Case, film: Any, darkroom: TrueDarkroom, seed: int) -> DarkroomBench:
    bench = DarkroomBench.of(case, film)
    bench.darkroom, bench.rng = darkroom, np.random.default_rng([case.rng_seed, seed])
    return bench


def lent_by(case: Case, film: Any, darkroom: TrueDarkroom, seed: int, name: str) -> OtherDarkroom:
    """What another darkroom's notebook asked for, as read there: six strips."""
    bench = bench_of(case, film, darkroom, seed)
    while len(bench.strips) < LENT:
        bench.make(next_strips(read_series(bench.series())).suggestions[0].controls)
    series = read_series(bench.series())
    return OtherDarkroom(name, series.trials, series.film.base_density, name)


def strips_needed(bench: DarkroomBench, lent: tuple[OtherDarkroom, ...], others: tuple[Any, ...]) -> int:
    """Strips until one truly lies in the aim; one more than the most where none does."""
    for number in range(MOST):
        answer = next_strips(read_series(bench.series()), elsewhere=lent, others=others)
        if bench.make(answer.suggestions[0].controls):
            return number + 1
    return MOST + 1


def run(letter: str, index: int, hardness: str, kinds: list[str], picker: Picker) -> dict[str, int] | None:
    case = Case(letter, hardness, index, "projection", "wide", "patches21", "none")
    film = picker.pick(case)
    other = picker.pick(replace(case, index=index + 50))
    if film is None or other is None:
        return None
    rng = np.random.default_rng([case.rng_seed, 20])
    # One's own meter is what the aim's exposures count by.
    own = replace(TrueDarkroom.drawn(rng), meter=0.0)
    rooms = [TrueDarkroom.drawn(rng) for _ in range(3)]
    wanted = set(kinds)
    lent = [lent_by(case, film, rooms[0], 1, "first")]
    if wanted & {"three", "liar", "bottle"}:
        lent.append(lent_by(case, film, rooms[1], 2, "second"))
    found = {}
    for kind in kinds:
        abroad: tuple[OtherDarkroom, ...] = ()
        others: tuple[Any, ...] = ()
        if kind == "one":
            abroad = (lent[0],)
        elif kind == "three":
            abroad = (*lent, lent_by(case, film, rooms[2], 3, "third"))
        elif kind == "liar":
            abroad = (*lent, lent_by(case, other, rooms[2], 4, "liar"))
        elif kind == "bottle":
            strong = replace(rooms[2], ammonia=5.0)
            abroad = (*lent, lent_by(case, film, strong, 5, "bottle"))
        elif kind == "unlike":
            told = lent_by(case, other, rooms[2], 4, "unlike")
            document = bench_of(case, other, rooms[2], 4).series()
            trials = [Trial.model_validate(t).model_dump(mode="json") for t in told.trials]
            others = (read_series(document | {"trials": trials}),)
        found[kind] = strips_needed(bench_of(case, film, own, 0), abroad, others)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--families", default="a,c,b")
    parser.add_argument("--films", type=int, default=4, help="of each family")
    parser.add_argument("--first", type=int, default=100, help="index of the first film")
    parser.add_argument("--hardness", default="medium")
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--seeds", type=Path, required=True, help="file that remembers which films were picked")
    args = parser.parse_args()
    kinds = args.kinds.split(",")
    picker = Picker(args.seeds)
    every: dict[str, list[dict[str, int]]] = {}
    for i in range(args.films):
        for letter in args.families.split(","):
            found = run(letter, args.first + i, args.hardness, kinds, picker)
            if found is not None:
                every.setdefault(letter, []).append(found)
                print(letter, args.first + i, found, flush=True)
    every["all"] = [row for rows in every.values() for row in rows]
    for letter, rows in every.items():
        for kind in kinds:
            n = np.array([row[kind] for row in rows])
            print(
                f"{letter:4} {kind:7} {len(n):3} films: median {np.median(n):g}, mean {n.mean():.2f}, "
                f"p90 {np.percentile(n, 90):.1f}, first strip right {np.mean(n == 1):.0%}"
            )


if __name__ == "__main__":
    main()
